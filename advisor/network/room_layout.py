"""An arrangement of rooms of which only sizes and neighbours are told, for a sketch: it is one of many.

The room with the most neighbours comes first; each next one is put against as many of its placed neighbours as
possible. Neighbours that cannot touch are left apart; whoever draws joins them by a line.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import hypot
from typing import TypeAlias

SHARED_M = 0.9
"""Rooms touch where they share this much wall, the width of a door; common practice, no source."""
APART_M = 1.5
"""Left between rooms that have nothing to do with each other."""
BROAD = (1.4, 1.0)
"""How much more height weighs than width, since pages are read broad; what lets most neighbours touch is kept."""
EXHAUSTIVE = 12
"""Up to this many joined rooms every one is tried as the first."""

Sizes: TypeAlias = Mapping[str, tuple[float, float]]
Neighbours: TypeAlias = Mapping[str, set[str]]


@dataclass(frozen=True, slots=True)
class Rect:
    """A room on the sketch: its lower left and upper right corner, in metres."""

    left: float
    low: float
    right: float
    high: float

    def moved(self, right: float, up: float) -> Rect:
        return Rect(self.left + right, self.low + up, self.right + right, self.high + up)


def arrange(sizes: Sizes, pairs: Iterable[tuple[str, str]]) -> dict[str, Rect]:
    """A rectangle for every room, none over another; `pairs` are neighbours, in any order."""
    beside: dict[str, set[str]] = {room: set() for room in sizes}
    for one, other in pairs:
        if one != other and one in beside and other in beside:
            beside[one].add(other)
            beside[other].add(one)
    groups = [_best_group(group, sizes, beside) for group in _groups(beside)]
    return _packed(groups)


def shared_wall(one: Rect, other: Rect) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """The piece of wall two rooms share, None where they do not touch along at least a door's width."""
    low, high = max(one.low, other.low), min(one.high, other.high)
    left, right = max(one.left, other.left), min(one.right, other.right)
    for x, met in ((one.right, other.left), (one.left, other.right)):
        if abs(x - met) < _SAME and high - low >= _needed(one.high - one.low, other.high - other.low):
            return (x, low), (x, high)
    for y, met in ((one.high, other.low), (one.low, other.high)):
        if abs(y - met) < _SAME and right - left >= _needed(one.right - one.left, other.right - other.left):
            return (left, y), (right, y)
    return None


def nearest_points(one: Rect, other: Rect) -> tuple[tuple[float, float], tuple[float, float]]:
    """The ends of the shortest line between two rooms that do not lie over each other."""

    def along(low: float, high: float, other_low: float, other_high: float) -> tuple[float, float]:
        if high <= other_low:
            return high, other_low
        if other_high <= low:
            return low, other_high
        middle = (max(low, other_low) + min(high, other_high)) / 2
        return middle, middle

    x = along(one.left, one.right, other.left, other.right)
    y = along(one.low, one.high, other.low, other.high)
    return (x[0], y[0]), (x[1], y[1])


_SAME = 1e-6


def _needed(one: float, other: float) -> float:
    """How much wall two rooms must share to count as touching: a door, or half of a shorter side."""
    return min(SHARED_M, min(one, other) / 2) - _SAME


def _groups(beside: Neighbours) -> list[list[str]]:
    """Rooms joined by neighbours, the largest group first."""
    groups: list[list[str]] = []
    left = set(beside)
    for start in sorted(beside):
        if start not in left:
            continue
        group, waiting = [], [start]
        left.discard(start)
        while waiting:
            room = waiting.pop()
            group.append(room)
            for next_room in sorted(beside[room] & left):
                left.discard(next_room)
                waiting.append(next_room)
        groups.append(sorted(group, key=lambda room: (-len(beside[room]), room)))
    return sorted(groups, key=lambda group: (-len(group), group))


def _best_group(group: list[str], sizes: Sizes, beside: Neighbours) -> dict[str, Rect]:
    """The group begun with its best-connected room, or, among few, with the one that lets most neighbours touch."""
    starts = group if len(group) <= EXHAUSTIVE else group[:1]
    arranged = [_group(group, start, sizes, beside, broad) for broad in BROAD for start in starts]
    return max(arranged, key=lambda rects: _touching(rects, beside))


def _touching(rects: Mapping[str, Rect], beside: Neighbours) -> int:
    return sum(
        1
        for room in rects
        for other in beside[room]
        if room < other and shared_wall(rects[room], rects[other]) is not None
    )


def _group(group: list[str], start: str, sizes: Sizes, beside: Neighbours, broad: float) -> dict[str, Rect]:
    width, depth = sizes[start]
    placed = {start: Rect(0.0, 0.0, width, depth)}
    waiting = [room for room in group if room != start]
    while waiting:
        room = max(waiting, key=lambda name: (len(beside[name] & placed.keys()), len(beside[name])))
        waiting.remove(room)
        placed[room] = _put(room, sizes[room], placed, beside, broad)
    return placed


def _put(room: str, size: tuple[float, float], placed: Mapping[str, Rect], beside: Neighbours, broad: float) -> Rect:
    """Where a room touches most of its placed neighbours and keeps the whole compact; else beside everything."""
    near = [placed[other] for other in sorted(beside[room] & placed.keys())]
    taken = list(placed.values())
    best: tuple[tuple[float, ...], Rect] | None = None
    for rect in _candidates(size, near, taken):
        if any(_over(rect, other) for other in taken):
            continue
        touched = sum(1 for other in near if shared_wall(rect, other) is not None)
        cost = (-touched, *_spread(rect, taken, broad), rect.low, rect.left)
        if best is None or cost < best[0]:
            best = (cost, rect)
    if best is not None:
        return best[1]
    right = max(other.right for other in taken) + APART_M
    return Rect(right, 0.0, right + size[0], size[1])


def _candidates(size: tuple[float, float], near: list[Rect], taken: list[Rect]) -> Iterator[Rect]:
    """Against each side of each neighbour: flush with its ends, in its middle, and against what stands there."""
    width, depth = size
    for other in near:
        middle = (other.left + other.right - width) / 2
        lefts = {other.left, other.right - width, middle}
        lefts |= {edge for rect in taken for edge in (rect.right, rect.left - width)}
        for left in sorted(lefts):
            if min(left + width, other.right) - max(left, other.left) < _needed(width, other.right - other.left):
                continue
            yield Rect(left, other.high, left + width, other.high + depth)
            yield Rect(left, other.low - depth, left + width, other.low)
        middle = (other.low + other.high - depth) / 2
        lows = {other.low, other.high - depth, middle}
        lows |= {edge for rect in taken for edge in (rect.high, rect.low - depth)}
        for low in sorted(lows):
            if min(low + depth, other.high) - max(low, other.low) < _needed(depth, other.high - other.low):
                continue
            yield Rect(other.right, low, other.right + width, low + depth)
            yield Rect(other.left - width, low, other.left, low + depth)


def _over(one: Rect, other: Rect) -> bool:
    return (
        one.left < other.right - _SAME
        and other.left < one.right - _SAME
        and one.low < other.high - _SAME
        and other.low < one.high - _SAME
    )


def _spread(rect: Rect, taken: list[Rect], broad: float) -> tuple[float, float]:
    """How far everything together reaches, and how far the room lies from its middle."""
    left, low = min(rect.left, *(it.left for it in taken)), min(rect.low, *(it.low for it in taken))
    right, high = max(rect.right, *(it.right for it in taken)), max(rect.high, *(it.high for it in taken))
    middle_x, middle_y = (left + right) / 2, (low + high) / 2
    away = abs((rect.left + rect.right) / 2 - middle_x) + abs((rect.low + rect.high) / 2 - middle_y)
    return round(hypot(right - left, broad * (high - low)), 6), round(away, 6)


def _packed(groups: list[dict[str, Rect]]) -> dict[str, Rect]:
    """The groups side by side in rows, each row about as wide as the whole is high."""
    spans = [
        (max(it.right for it in group.values()) - min(it.left for it in group.values()),
         max(it.high for it in group.values()) - min(it.low for it in group.values()))
        for group in groups
    ]  # fmt: skip
    area = sum((width + APART_M) * (depth + APART_M) for width, depth in spans)
    widest = max([1.6 * area**0.5, *(width for width, _ in spans)])
    result: dict[str, Rect] = {}
    x = top = row_depth = 0.0
    for group, (width, depth) in zip(groups, spans, strict=True):
        if x > 0 and x + width > widest + _SAME:
            x, top, row_depth = 0.0, top - row_depth - APART_M, 0.0
        left, high = min(it.left for it in group.values()), max(it.high for it in group.values())
        result |= {room: rect.moved(x - left, top - high) for room, rect in group.items()}
        x += width + APART_M
        row_depth = max(row_depth, depth)
    return result
