"""One panel of the sketch: a floor as drawn, or the rooms of a floor as told, at a given scale."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil, floor, log10

from advisor.network.plan_records import Mark, Panel, RoomBox, RoomJoin, Stub, Style
from advisor.network.plan_words import metres
from advisor.report import plan_marks as marks
from advisor.report.plan_labels import Box, Placer, Point, around, beside
from advisor.report.svg import element, line, number, text, text_of, width_of, wrapped

MARGIN = 42.0
"""Between what is drawn and the frame: room for labels."""
AXIS = 34.0
"""Left of the frame and below it: ticks with their metres."""
HEAD = 26.0
"""Above the frame, for the title; the lines of the caption come on top."""
LINE = 10.0
CROWDED, PACKED = 40, 120
"""From so many marks on labels are smaller and shorter."""
BOLD = 1.14
"""How much wider bold words are than others."""
SMALLEST_M = 3.0
"""A panel shows at least so much."""


@dataclass(frozen=True, slots=True)
class Window:
    """The part of a floor a panel shows, in metres."""

    left: float
    low: float
    right: float
    high: float


def window(panel: Panel) -> Window:
    """Everything in the panel."""
    points = [point for piece in panel.stretches for point in piece.points]
    points += [mark.at for mark in panel.marks] + [point for trail in panel.trails for point in trail.points]
    for box in panel.boxes:
        points += [box.corner, (box.corner[0] + box.width_m, box.corner[1] + box.depth_m)]
    if not points:
        return Window(0.0, 0.0, SMALLEST_M, SMALLEST_M)
    (left, right), (low, high) = ((min(ends), max(ends)) for ends in zip(*points, strict=True))
    wide, deep = (max(0.0, SMALLEST_M - span) / 2 for span in (right - left, high - low))
    return Window(left - wide, low - deep, right + wide, high + deep)


@dataclass
class Sheet:
    """A panel being drawn."""

    panel: Panel
    window: Window
    units_per_m: float
    left: float
    top: float
    """Upper left corner, first of title and frame, then of the frame."""
    caption_width: float
    used: marks.Used
    keys: list[str] = field(default_factory=list)
    """Long texts that stand below the panel, by their number."""
    named_walks: bool = True
    prefix: str = ""
    """Before every id, so that several pictures can stand in one page."""

    def __post_init__(self) -> None:
        self.caption = list(wrapped(self.panel.caption, 8.5, self.caption_width))
        self.top += HEAD + LINE * len(self.caption)
        span = self.window
        self.right = self.left + 2 * MARGIN + (span.right - span.left) * self.units_per_m
        self.bottom = self.top + 2 * MARGIN + (span.high - span.low) * self.units_per_m
        self.placer = Placer(Box(self.left + 2, self.top + 2, self.right - 2, self.bottom - 2))
        count = len(self.panel.marks)
        self.size, self.shrink = (9.5, 1.0) if count < CROWDED else (7.5, 0.8) if count < PACKED else (6.0, 0.6)
        self.radius = marks.RADIUS * self.shrink
        self.full = count < CROWDED

    def id_of(self, name: str) -> str:
        return self.prefix + name

    def point(self, at: Point) -> Point:
        """Metres to the page."""
        x = self.left + MARGIN + (at[0] - self.window.left) * self.units_per_m
        return x, self.top + MARGIN + (self.window.high - at[1]) * self.units_per_m

    def svg(self) -> str:
        panel = self.panel
        drawn = [self._frame(), *(self._room(box) for box in panel.boxes), *self._walls()]
        stubs = {mark.id: self._stubs(mark) for mark in panel.marks}
        for mark in panel.marks:
            x, y = self.point(mark.at)
            half = self.radius + 1
            self.placer.take(Box(x - half, y - half, x + half, y + half))
        for one, other, price in _lines(panel):
            self.placer.cross(self.point(one), self.point(other), price)
        self._keep_heads_free()
        drawn += [self._walk(trail.walk, trail.part, trail.points) for trail in panel.trails]
        drawn += [self._uplink(it.node, it.parent, it.style, it.start, it.end) for it in panel.uplinks]
        joins = [self._join(join) for join in panel.joins]
        labels = [self._label(mark) for mark in panel.marks]
        drawn += joins
        crowd = "packed" if self.shrink < 0.7 else None
        drawn += [self._mark(mark, stubs[mark.id], label) for mark, label in zip(panel.marks, labels, strict=True)]
        return element("g", *drawn, *self._line_labels(), id=self.id_of(panel.key.replace(":", ".")), class_=crowd)

    def _keep_heads_free(self) -> None:
        """No label covers the head of an uplink."""
        for it in self.panel.uplinks if self.full else ():
            start, end = self.point(it.start), self.point(it.end)
            away = max(((start[0] - end[0]) ** 2 + (start[1] - end[1]) ** 2) ** 0.5, 1e-9)
            share = (self.radius + 5) / away
            x, y = end[0] + share * (start[0] - end[0]), end[1] + share * (start[1] - end[1])
            self.placer.take(Box(x - 4, y - 4, x + 4, y + 4))

    # frame, ticks, scale

    def _frame(self) -> str:
        width, height = self.right - self.left, self.bottom - self.top
        frame = element("rect", x=self.left, y=self.top, width=width, height=height, class_="frame")
        above = self.top - 7 - LINE * len(self.caption)
        title = text(self.left, above - 1, self.panel.title, "h2")
        caption = "".join(
            text(self.left, above + LINE * count, content, "s") for count, content in enumerate(self.caption, 1)
        )
        ticks = "".join(self._ticks()) if self.panel.kind == "drawn" else ""
        return frame + title + caption + ticks + self._scale_bar()

    def _ticks(self) -> Iterator[str]:
        span = self.window
        step = nice(38 / self.units_per_m)
        reach = MARGIN / self.units_per_m
        for x_m in steps(span.left - reach, span.right + reach, step):
            x = self.point((x_m, 0))[0]
            yield line([(x, self.top), (x, self.bottom)], "grid") + line(
                [(x, self.bottom), (x, self.bottom + 4)], "axis"
            )
            yield text(x, self.bottom + 12, metres(x_m), "tick", text_anchor="middle")
        for y_m in steps(span.low - reach, span.high + reach, step):
            y = self.point((0, y_m))[1]
            yield line([(self.left, y), (self.right, y)], "grid") + line([(self.left - 4, y), (self.left, y)], "axis")
            yield text(self.left - 6, y + 2.8, metres(y_m), "tick", text_anchor="end")
        yield text(self.left, self.bottom + 23, "x in metres →", "tick")
        middle = number(self.bottom)
        yield text(
            self.left - 24, self.bottom, "y in metres →", "tick",
            transform=f"rotate(-90 {number(self.left - 24)} {middle})",
        )  # fmt: skip

    def _scale_bar(self) -> str:
        length_m = nice(50 / self.units_per_m)
        end, y = self.right, self.bottom + (21 if self.panel.kind == "drawn" else 14)
        start = end - length_m * self.units_per_m
        bar = line([(start, y - 4), (start, y), (end, y), (end, y - 4)], "axis")
        told = f"{metres(length_m)} m · 1:{round(4000 / self.units_per_m)} in print at full size"
        return bar + text(start - 5, y, told, "tick", text_anchor="end")

    # walls and rooms

    def _walls(self) -> Iterator[str]:
        named: dict[str, list[str]] = {}
        words: dict[str, list[str]] = {}
        pieces = self.panel.stretches
        for number_, piece in enumerate(pieces):
            self.used.stretch(piece)
            points = [self.point(point) for point in piece.points]
            first = number_ == 0 or pieces[number_ - 1].wall != piece.wall
            last = number_ == len(pieces) - 1 or pieces[number_ + 1].wall != piece.wall
            drawn = marks.wall(piece.look, points, bool(piece.opening), (first, last))
            named.setdefault(piece.wall, []).append(drawn)
            what = f"opening {piece.opening}: {piece.of}" if piece.opening else piece.of
            if what not in words.setdefault(piece.wall, []):
                words[piece.wall].append(what)
        for wall, parts in named.items():
            title = element("title", text_of(f"wall {wall}: {', '.join(words[wall])}"))
            yield element("g", title, *parts, id=self.id_of(f"floors.{self.panel.key.partition(':')[2]}.walls.{wall}"))

    def _room(self, box: RoomBox) -> str:
        left, top = self.point((box.corner[0], box.corner[1] + box.depth_m))
        width, height = box.width_m * self.units_per_m, box.depth_m * self.units_per_m
        inset = min(2.0, width / 8, height / 8)
        rect = element(
            "rect", x=left + inset, y=top + inset,
            width=width - 2 * inset, height=height - 2 * inset, class_="room",
        )  # fmt: skip
        size = self._fitting([box.id, box.size], width - 12)
        for number_, content in enumerate((box.id, box.size)):
            below = top + 6 + size * 1.2 * number_
            self.placer.take(Box(left + 6, below, left + 6 + width_of(content, size), below + size * 1.2))
        label = text(left + 6, top + 6 + size, box.id, "halo id", font_size=size)
        label += text(left + 6, top + 6 + size * 2.2, box.size, "halo", font_size=size * 0.9)
        return element(
            "g", element("title", text_of(f"room {box.id}: {box.size}")), rect, label, id=self.id_of(f"rooms.{box.id}")
        )

    def _fitting(self, lines: list[str], width: float) -> float:
        """The text size at which lines fit a width, within what can still be read."""
        widest = max(width_of(content, 1.0) for content in lines)
        return max(6.5, min(9.5, width / max(widest, 1e-9)))

    def _join(self, join: RoomJoin) -> str:
        """The wall between two rooms with what is told of it, or a line where they lie apart."""
        self.used.others.add("join" if join.touching else "apart")
        start, end = (self.point(point) for point in join.points)
        if join.touching:
            start, end = _shorter(start, end, 4.0)
        upright = join.touching and abs(start[0] - end[0]) < abs(start[1] - end[1])
        length = abs(start[1] - end[1]) if upright else abs(start[0] - end[0])
        size, content = 8.0, join.between
        if join.touching and width_of(content, size) > length - 4:
            size = 7.0
        if (join.touching and width_of(content, size) > length - 4) or len(content) > 46:
            self.keys.append(f"{join.rooms[0]} and {join.rooms[1]}: {content}")
            content = f"({len(self.keys)})"
        width, height = width_of(content, size) + 4, size * 1.25
        if upright:
            width, height = height, width
        x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
        own = Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
        box = self.placer.place([(own, 0.0), *([] if join.touching else beside(start, end, width, height))])
        x, y = (box.left + box.right) / 2, (box.top + box.bottom) / 2
        ground = element("rect", x=box.left, y=box.top, width=width, height=height, class_="ground")
        turned = f"rotate(-90 {number(x)} {number(y)})" if upright else None
        sink = 0 if upright else size * 0.35
        dy = size * 0.35 if upright else None
        label = text(x, y + sink, content, None, dy=dy, text_anchor="middle", font_size=size, transform=turned)
        title = element("title", text_of(f"between {join.rooms[0]} and {join.rooms[1]}: {join.between}"))
        passage = "through" if join.between == "open" else "join"
        bar = line([start, end], passage if join.touching else "apart")
        return element("g", title, bar, ground, label, id=self.id_of(f"between.{join.rooms[0]}.{join.rooms[1]}"))

    # what stands and runs in the panel

    def _uplink(self, node: str, parent: str, style: Style, start: Point, end: Point) -> str:
        self.used.styles.add(style)
        title = element("title", text_of(f"uplink of {node} to {parent}"))
        return element(
            "g", title, marks.uplink(style, self.point(start), self.point(end)), id=self.id_of(f"uplinks.{node}")
        )

    def _walk(self, walk: str, part: int, points: tuple[Point, ...]) -> str:
        self.used.others.add("walk")
        title = element("title", text_of(f"walk {walk}"))
        return element(
            "g", title, marks.walk([self.point(point) for point in points]), id=self.id_of(f"walks.{walk}.{part + 1}")
        )

    def _stubs(self, mark: Mark) -> str:
        """Uplinks that leave the panel, fanned out above or below the mark."""
        at = self.point(mark.at)
        drawn: list[str] = []
        for number_, it in enumerate(mark.stubs):
            self.used.styles.add(it.style)
            end = _stub_end(at, it, number_, self.shrink)
            self.placer.take(Box(*(min(pair) - 2 for pair in zip(at, end, strict=True)),
                                 *(max(pair) + 2 for pair in zip(at, end, strict=True))))  # fmt: skip
            drawn.append(marks.stub(it.style, at, end, it.towards))
        return "".join(drawn)

    def _below(self, mark: Mark) -> tuple[str, ...]:
        if self.full:
            return (*mark.lines, *mark.links)
        return mark.links if self.size > 7 else ()

    def _narrow(self, mark: Mark) -> float:
        """How wide a label may be: in a room as wide as what is left of it to the right, within reason."""
        box = next((box for box in self.panel.boxes if box.id == mark.room), None)
        if box is None:
            return 200.0
        left = (box.corner[0] + box.width_m - mark.at[0]) * self.units_per_m
        return max(52.0, left - self.radius - 8)

    def _label(self, mark: Mark) -> str:
        """The id with what stands under it, where there is room; far from the mark with a thin line to it."""
        small = self.size * 0.88
        lines = [part for content in self._below(mark) for part in wrapped(content, small, self._narrow(mark))]
        width = max([width_of(mark.id, self.size) * BOLD, *(width_of(content, small) for content in lines)])
        height = self.size * 1.15 + len(lines) * small * 1.15
        at = self.point(mark.at)
        box = self.placer.place(around(at, self.radius, width, height))
        left = box.right <= at[0]
        anchor, x = ("end", box.right) if left else ("start", box.left)
        shared = {"text_anchor": anchor if left else None}
        drawn = _leader(at, box, self.radius)
        y = box.top + self.size * 0.9
        drawn += text(x, y, mark.id, "halo id", font_size=self.size, **shared)
        told = len([part for content in mark.lines for part in wrapped(content, small, self._narrow(mark))])
        told = told if self.full else 0
        for number_, content in enumerate(lines):
            y += small * 1.15
            class_ = "halo blue" if number_ >= told else "halo"
            drawn += text(x, y, content, class_, font_size=small, **shared)
        return drawn

    def _mark(self, mark: Mark, stubs: str, label: str) -> str:
        self.used.shapes.add(mark.shape)
        role = mark.shape.replace("-", " ")
        told = "; ".join([f"{role} {mark.id}", *mark.lines, *mark.links, *([f"in {mark.room}"] if mark.room else [])])
        at = self.point(mark.at)
        title, name = element("title", text_of(told)), f"{mark.section}.{mark.id}"
        return element("g", title, stubs, marks.symbol(mark.shape, at, self.shrink), label, id=self.id_of(name))

    def _line_labels(self) -> Iterator[str]:
        """What carries each uplink and the names of walks, beside their lines."""
        if not self.full:
            return
        size = 8.0
        for it in self.panel.uplinks:
            yield self._line_label([(it.start, it.end)], it.label, size, "halo blue")
        for trail in self.panel.trails if self.named_walks else ():
            yield self._line_label(list(pairwise(trail.points)), trail.label, size, "halo")

    def _line_label(self, lines: list[tuple[Point, Point]], content: str, size: float, class_: str) -> str:
        width, height = width_of(content, size), size * 1.15
        spots = [
            box for one, other in lines for box in beside(self.point(one), self.point(other), width, height)
        ]  # fmt: skip
        box = self.placer.place(spots)
        return text(box.left, box.top + size * 0.9, content, class_, font_size=size)


def _stub_end(at: Point, stub: Stub, number_: int, shrink: float) -> Point:
    """Up and down as the other floor lies, to the right where nobody knows; several side by side."""
    aside, reach = 7.0 * number_, 24.0 * shrink
    if stub.way == "up":
        return at[0] + aside, at[1] - reach
    if stub.way == "down":
        return at[0] + aside, at[1] + reach
    return at[0] + reach, at[1] - reach / 3 - aside


def _shorter(start: Point, end: Point, by: float) -> tuple[Point, Point]:
    """A line without a little at both ends."""
    length = max(((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2) ** 0.5, 1e-9)
    share = min(by / length, 0.25)
    x, y = share * (end[0] - start[0]), share * (end[1] - start[1])
    return (start[0] + x, start[1] + y), (end[0] - x, end[1] - y)


def _leader(at: Point, box: Box, radius: float) -> str:
    """A thin line to a label that stands away from its mark."""
    x, y = min(max(at[0], box.left), box.right), min(max(at[1], box.top), box.bottom)
    if ((x - at[0]) ** 2 + (y - at[1]) ** 2) ** 0.5 < radius + 7:
        return ""
    return line([at, (x, y)], "leader")


def _lines(panel: Panel) -> Iterator[tuple[Point, Point, float]]:
    """Every straight line of a panel that a label better avoids, and how much that matters."""
    for piece in panel.stretches:
        for one, other in pairwise(piece.points):
            yield one, other, 3.0
    for uplink in panel.uplinks:
        yield uplink.start, uplink.end, 1.0
    for trail in panel.trails:
        for one, other in pairwise(trail.points):
            yield one, other, 1.0
    for box in panel.boxes:
        left, low = box.corner
        right, high = left + box.width_m, low + box.depth_m
        for one, other in pairwise([(left, low), (right, low), (right, high), (left, high), (left, low)]):
            yield one, other, 1.0


def nice(least: float) -> float:
    """The next of 1, 2, 5, 10, 20 … from a length on, and tenths of these.

    >>> nice(3.2), nice(0.06), nice(10)
    (5.0, 0.1, 10.0)
    """
    power = 10.0 ** floor(log10(least))
    return next(float(f"{power * lead:.10g}") for lead in (1, 2, 5, 10, 20) if power * lead >= least * (1 - 1e-9))


def steps(low: float, high: float, step: float) -> Iterator[float]:
    """The multiples of a step between two ends."""
    for count in range(ceil(low / step), floor(high / step) + 1):
        yield count * step
