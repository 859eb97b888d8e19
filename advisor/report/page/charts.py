"""Pictures of numbers for the page: bars beside what is needed, a walk on a call, outages, and layouts in rank.

They are seen on a screen, on a phone (`narrow`) and on paper without colour: whatever colour tells is also told by a
hatch, a shape or a word. The same input gives the same bytes. Each is one SVG element, to be shown as an image.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import cos, hypot, pi, sin

from advisor.report.page.charts_canvas import (
    ACCENT,
    GREY,
    GRID,
    INK,
    LEADING,
    NARROW,
    SIZE,
    SMALL,
    WIDE,
    Box,
    Dot,
    Scale,
    Sheet,
    Sign,
    checked,
    draw_key,
    key_height,
    lines_of,
    nothing,
    round_ticks,
    sheet,
    tick_text,
)
from advisor.report.page.charts_rows import Bar, Span, bars, spans
from advisor.report.page.charts_walk import Course, timeline
from advisor.report.svg import width_of

__all__ = ["Bar", "Course", "Point", "Span", "bars", "scatter", "spans", "timeline"]

RADIUS = 9.0
"""Of a numbered mark, px."""
PLOT = 230.0
"""Height of the room for marks, px."""
RINGS = 9
"""How far a mark may be set aside, in steps of its own size."""


@dataclass(frozen=True, slots=True)
class Point:
    """One numbered mark of `scatter`, such as a layout by its minutes of work and the needs it meets."""

    number: int
    x: float
    y: float
    taken: bool
    """Whether it is the one to take."""


@dataclass(frozen=True, slots=True)
class _Mark:
    """A mark where it is drawn, and where it belongs, px."""

    point: Point
    spot: Dot
    home: Dot

    @property
    def aside(self) -> bool:
        return self.spot != self.home


def scatter(points: Sequence[Point], *, x: str, y: str, narrow: bool) -> str:
    """Numbered marks by two numbers; the one to take is filled, marks in one place are set side by side.

    `x` and `y` are the words of the axes with their units. Without points the picture says so; numbers that are
    not finite or beyond 1e15 are a ValueError.
    """
    if not points:
        return nothing(narrow)
    checked(value for point in points for value in (point.x, point.y))
    width = NARROW if narrow else WIDE
    head, foot = lines_of(y, SIZE, width), lines_of(x, SIZE, width)
    ups = _ticks([point.y for point in points], 5)
    across = _ticks([point.x for point in points], 4 if narrow else 8)
    top = LEADING * len(head) + 6.0
    left = max(width_of(tick_text(tick), SMALL) for tick in ups) + 6.0
    inner = RADIUS + 5.0
    columns = Scale(across[0], across[-1], left + inner, width - inner)
    lines = Scale(ups[0], ups[-1], top + PLOT - inner, top + inner)
    end = top + PLOT + 16.0 + LEADING * len(foot)
    key: list[tuple[str, Sign]] = [("the one to take", _taken_sign)] if any(point.taken for point in points) else []
    with sheet(width, end + 4.0 + key_height(key, width)) as page:
        _frame(page, (left, top, width - left, PLOT), (columns, across), (lines, ups))
        for number, line in enumerate(head):
            page.words(0.0, 11.0 + LEADING * number, line)
        for number, line in enumerate(foot):
            page.words(width, top + PLOT + 27.0 + LEADING * number, line, anchor="end")
        room = (left + RADIUS, top + RADIUS, width - RADIUS, top + PLOT - RADIUS)
        _draw_marks(page, _set_aside([(point, (columns(point.x), lines(point.y))) for point in points], room))
        draw_key(page, key, end)
        return page.svg()


def _ticks(values: Sequence[float], most: int) -> list[float]:
    """Round values around these: from zero where that is not far below them."""
    low, high = min(values), max(values)
    if 0.0 <= low <= high / 2:
        low = 0.0
    if low == high:
        low, high = low - max(abs(low) / 10, 1.0), high + max(abs(high) / 10, 1.0)
    return round_ticks(low, high, most, whole=all(float(value).is_integer() for value in values))


def _frame(page: Sheet, room: Box, across: tuple[Scale, Sequence[float]], up: tuple[Scale, Sequence[float]]) -> None:
    """A light grid, the values of both axes, and a line to the left and below."""
    left, top, wide, high = room
    (columns, xs), (lines, ys) = across, up
    grid = [[(columns(tick), top), (columns(tick), top + high)] for tick in xs]
    grid += [[(left, lines(tick)), (left + wide, lines(tick))] for tick in ys]
    page.lines("grid", grid, colour=GRID, width=0.8)
    page.lines("axes", [[(left, top), (left, top + high), (left + wide, top + high)]], colour=INK, width=0.9)
    for tick in xs:
        page.words(columns(tick), top + high + 13.0, tick_text(tick), size=SMALL, anchor="middle", fill=GREY)
    for tick in ys:
        page.words(left - 5.0, lines(tick) + 3.5, tick_text(tick), size=SMALL, anchor="end", fill=GREY)


def _set_aside(wanted: Sequence[tuple[Point, Dot]], room: Box) -> list[_Mark]:
    """Every mark where it belongs, or beside the ones that stand there; the one to take goes first.

    `room` holds the least and the greatest place of a mark: left, top, right, bottom.
    """
    found: list[_Mark] = []
    crowded: list[tuple[Point, Dot]] = []
    for point, home in sorted(wanted, key=lambda entry: (not entry[0].taken, entry[0].number)):
        if all(_apart(home, mark.spot) for mark in found):
            found.append(_Mark(point, home, home))
        else:
            crowded.append((point, home))
    for point, home in crowded:
        free = (spot for spot in _around(home) if _inside(spot, room))
        spot = next((spot for spot in free if all(_apart(spot, mark.spot) for mark in found)), home)
        found.append(_Mark(point, spot, home))
    return found


def _around(home: Dot) -> Iterator[Dot]:
    """Places around one, the near ones first, to the right before all."""
    for ring in range(1, RINGS):
        far, count = ring * (2.0 * RADIUS + 3.0), 6 * ring
        for step in sorted(range(count), key=lambda step: min(step, count - step)):
            turn = 2.0 * pi * step / count
            yield home[0] + far * cos(turn), home[1] - far * sin(turn)


def _inside(spot: Dot, room: Box) -> bool:
    left, top, right, bottom = room
    return left <= spot[0] <= right and top <= spot[1] <= bottom


def _apart(one: Dot, other: Dot) -> bool:
    return hypot(one[0] - other[0], one[1] - other[1]) >= 2.0 * RADIUS + 2.0


def _draw_marks(page: Sheet, marks: Sequence[_Mark]) -> None:
    aside = [mark for mark in marks if mark.aside]
    page.lines("leaders", [[mark.home, mark.spot] for mark in aside], colour=GREY, width=0.9)
    page.dots("homes", list(dict.fromkeys(mark.home for mark in aside)), 2.0, fill=GREY)
    for name, taken in (("marks", False), ("taken", True)):
        spots = [mark.spot for mark in marks if mark.point.taken is taken]
        page.dots(name, spots, RADIUS, fill=ACCENT if taken else "#ffffff", edge=INK)
    for mark in marks:
        told, (x, y) = str(mark.point.number), mark.spot
        fill = "#ffffff" if mark.point.taken else None
        page.words(x, y + 3.7, told, size=SMALL, anchor="middle", bold=mark.point.taken, fill=fill)


def _taken_sign(page: Sheet, x: float, y: float) -> None:
    page.dots("sign", [(x + 12.0, y)], 6.0, fill=ACCENT, edge=INK)
