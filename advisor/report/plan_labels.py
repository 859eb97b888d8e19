"""Where labels go on a sketch: of several spots around a mark the first that covers nothing, else the least bad."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple, TypeAlias

Point: TypeAlias = tuple[float, float]

CELL = 40.0
"""Side of the squares in which neighbours are looked for."""
CLEAR = 3.0
"""Labels keep so far from lines: walls are drawn thick."""
ON_TEXT = 100.0
"""Price of lying on other text or a mark, against 1 for lying on a line."""
OUT_OF_FRAME = 200.0


class Box(NamedTuple):
    """A rectangle on the page, y downwards."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )  # fmt: skip

    def shared(self, other: Box) -> float:
        """The area both cover."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(wide, 0.0) * max(high, 0.0)


Candidate: TypeAlias = tuple[Box, float]
"""A spot for a label, and what it costs to stand there rather than nearer."""


class Placer:
    """Keeps what is taken on a panel and finds room for the next label; the same order gives the same places."""

    def __init__(self, frame: Box) -> None:
        self.frame = frame
        self._boxes: dict[tuple[int, int], list[Box]] = {}
        self._lines: dict[tuple[int, int], list[tuple[Point, Point, float]]] = {}

    def take(self, box: Box) -> None:
        """Something that no label should cover."""
        for cell in _cells(box):
            self._boxes.setdefault(cell, []).append(box)

    def cross(self, start: Point, end: Point, price: float = 1.0) -> None:
        """A line that labels better avoid, and how much it matters."""
        steps = int(max(abs(end[0] - start[0]), abs(end[1] - start[1])) // CELL) + 1
        seen: set[tuple[int, int]] = set()
        for step in range(steps):
            one, other = _along(start, end, step / steps), _along(start, end, (step + 1) / steps)
            seen |= set(_cells(_around(one, other)))
        for cell in sorted(seen):
            self._lines.setdefault(cell, []).append((start, end, price))

    def place(self, candidates: Iterable[Candidate]) -> Box:
        """The first candidate that covers nothing at no price of its own, else the cheapest; taken from now on."""
        best: tuple[float, Box] | None = None
        for box, price in candidates:
            if best is not None and price >= best[0]:
                continue
            cost = price + self._cost(box)
            if best is None or cost < best[0]:
                best = (cost, box)
            if cost == 0:
                break
        assert best is not None, "a label needs at least one candidate"
        self.take(best[1])
        return best[1]

    def _cost(self, box: Box) -> float:
        cost = 0.0
        inside = box.shared(self.frame)
        area = (box.right - box.left) * (box.bottom - box.top)
        if inside < area:
            cost += OUT_OF_FRAME * (2 - inside / area)
        cells = list(_cells(box))
        wide = Box(box.left - CLEAR, box.top - CLEAR, box.right + CLEAR, box.bottom + CLEAR)
        for other in dict.fromkeys(it for cell in cells for it in self._boxes.get(cell, ())):
            if box.meets(other):
                cost += ON_TEXT * (0.2 + box.shared(other) / area)
        crossed = dict.fromkeys(it for cell in cells for it in self._lines.get(cell, ()))
        return cost + sum(price for start, end, price in crossed if passes(start, end, wide))


def around(at: Point, radius: float, width: float, height: float) -> Iterator[Candidate]:
    """Spots around a point, then the same further away: right, left, above, below, shifted, and the corners."""
    for gap, price in ((3.0, 0.0), (12.0, 1.2), (24.0, 2.5), (40.0, 4.0), (64.0, 8.0)):
        reach = radius + gap
        slant = radius * 0.7 + gap
        for x, y in (
            (at[0] + reach, at[1] - height / 2),
            (at[0] - reach - width, at[1] - height / 2),
            (at[0] - width / 2, at[1] - reach - height),
            (at[0] - width / 2, at[1] + reach),
            (at[0] + reach, at[1] - height + radius / 2),
            (at[0] + reach, at[1] - radius / 2),
            (at[0] - reach - width, at[1] - height + radius / 2),
            (at[0] - reach - width, at[1] - radius / 2),
            (at[0] + slant, at[1] - slant - height),
            (at[0] + slant, at[1] + slant),
            (at[0] - slant - width, at[1] - slant - height),
            (at[0] - slant - width, at[1] + slant),
        ):
            yield Box(x, y, x + width, y + height), price


def beside(start: Point, end: Point, width: float, height: float) -> Iterator[Candidate]:
    """Spots for a text along a line: near its middle first, on one side, on the other, and on the line itself."""
    span_x, span_y = end[0] - start[0], end[1] - start[1]
    length = max((span_x**2 + span_y**2) ** 0.5, 1e-9)
    across = (-span_y / length, span_x / length)
    away = abs(across[0]) * width / 2 + abs(across[1]) * height / 2 + 2.0
    for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8):
        x, y = _along(start, end, share)
        for side, further, price in ((-1, 0.0, 0.0), (1, 0.0, 0.0), (0, 0.0, 2.0), (-1, 10.0, 3.0), (1, 10.0, 3.0)):
            reach = side * (away + further)
            middle = x + reach * across[0], y + reach * across[1]
            left, top = middle[0] - width / 2, middle[1] - height / 2
            yield Box(left, top, left + width, top + height), price


def passes(start: Point, end: Point, box: Box) -> bool:
    """True when a line runs through a box."""
    first, last = 0.0, 1.0
    for low, high, begin, span in (
        (box.left, box.right, start[0], end[0] - start[0]),
        (box.top, box.bottom, start[1], end[1] - start[1]),
    ):
        if span == 0:
            if not low < begin < high:
                return False
            continue
        enters, leaves = sorted(((low - begin) / span, (high - begin) / span))
        first, last = max(first, enters), min(last, leaves)
    return first < last


def _along(start: Point, end: Point, share: float) -> Point:
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def _around(one: Point, other: Point) -> Box:
    return Box(min(one[0], other[0]), min(one[1], other[1]), max(one[0], other[0]), max(one[1], other[1]))


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    for column in range(int(box.left // CELL), int(box.right // CELL) + 1):
        for row in range(int(box.top // CELL), int(box.bottom // CELL) + 1):
            yield column, row
