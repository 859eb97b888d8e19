"""The floors of a report as SVG: the plan with its hops, what works where, and the way of a walk.

Signs are those of the sketch of the site; patterns of the outcome map differ by
their lines, not by colour, and read in grey.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import hypot, log10
from typing import Any

from markupsafe import Markup

from advisor.network.floor_grid import Grid
from advisor.network.plan_records import Mark, Panel, Plan, Style, UplinkLine
from advisor.network.plan_words import metres
from advisor.report import plan_marks as marks
from advisor.report.page import patterns
from advisor.report.page.floor_maps import CLASSES, Cell, FloorMap, class_of
from advisor.report.page.tree import share
from advisor.report.plan_labels import Box, Point, beside
from advisor.report.plan_panel import MARGIN, Sheet, Window, nice, window
from advisor.report.svg import element, line, number, text, text_of, width_of

WIDTH = 650.0
MOST_HIGH = 420.0
LARGEST = 50.0
"""Units a metre at most: a small room is not blown up."""
PIXELS = 1.25
"""Pixels a unit at full size, so that labels are as large as small print."""


@dataclass(frozen=True, slots=True)
class HopSign:
    """How a hop is drawn: what it carries, and in words what limits it."""

    node: str
    parent: str
    style: Style
    carries_mbps: float | None
    label: str


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture: what is drawn in which box, what it shows for those who do not see it, and its legend (sample,
    meaning)."""

    key: str
    title: str
    prefix: str
    box: str
    width: float
    body: Markup
    said: str
    legend: tuple[tuple[Markup, str], ...]
    keys: tuple[str, ...] = ()
    """Long words that stand under the picture, by their number."""


@dataclass
class FloorSheet(Sheet):
    """A floor in the report: no coordinates, hops as thick as what they carry, patterns under the walls."""

    hops: Mapping[str, HopSign] = field(default_factory=dict)
    under: str = ""
    over: str = ""

    def __post_init__(self) -> None:
        self.panel = replace(self.panel, caption="")
        super().__post_init__()
        self.top -= 26.0
        self.bottom -= 26.0
        self.placer.frame = Box(self.left + 2, self.top + 2, self.right - 2, self.bottom - 2)

    def _frame(self) -> str:
        return (
            element(
                "rect",
                x=self.left,
                y=self.top,
                width=self.right - self.left,
                height=self.bottom - self.top,
                class_="sheet-ground",
            )
            + self.under
            + self._scale_bar()
        )

    def _scale_bar(self) -> str:
        length_m = nice(60 / self.units_per_m)
        end, y = self.right - 8, self.bottom - 8
        start = end - length_m * self.units_per_m
        bar = line([(start, y - 4), (start, y), (end, y), (end, y - 4)], "axis")
        self.placer.take(Box(start - 40, y - 10, end, y + 4))
        return bar + text(start - 5, y, f"{metres(length_m)} m", "tick", text_anchor="end")

    def _line_label(self, lines: list[tuple[Point, Point]], content: str, size: float, class_: str) -> str:
        """A label beside a hop, in as many lines as it has."""
        parts = content.split("\n")
        width, high = max(width_of(part, size) for part in parts), size * 1.15
        spots = [
            spot
            for one, other in lines
            for spot in beside(self.point(one), self.point(other), width, high * len(parts))
        ]
        box = self.placer.place(spots)
        return "".join(
            text(box.left, box.top + size * 0.9 + high * number_, part, class_, font_size=size)
            for number_, part in enumerate(parts)
        )

    def _uplink(self, node: str, parent: str, style: Style, start: Point, end: Point) -> str:
        sign = self.hops.get(node)
        wide = thickness(sign.carries_mbps if sign else None)
        self.used.styles.add(style)
        one, other = self.point(start), self.point(end)
        drawn = marks.uplink(style, one, other).replace(
            "<polyline ", f'<polyline style="stroke-width:{number(wide)}px" ', 1
        )
        title = element("title", text_of(f"uplink of {node} to {parent}: {_flat(sign.label) if sign else 'not known'}"))
        return element("g", title, drawn, id=self.id_of(f"uplinks.{node}"))


def thickness(mbps: float | None) -> float:
    """How thick a hop is drawn, by what it carries: thin where that is not known.

    >>> thickness(10), thickness(100), thickness(1000)
    (1.6, 2.9, 4.2)
    """
    return 1.0 if mbps is None or mbps <= 0 else round(min(max(1.6 + 1.3 * (log10(mbps) - 1.0), 1.0), 5.0), 2)


def plans(plan: Plan, signs: Sequence[HopSign], channels: Mapping[str, Sequence[str]]) -> Iterator[Picture]:
    """Every floor with its rooms, walls, nodes, places and hops."""
    by_node = {sign.node: sign for sign in signs}
    scale = scale_of(map(_bare, plan.panels), MOST_HIGH)
    for panel in lowest_first(plan):
        uplinks = tuple(_signed(panel, by_node))
        drawn = {it.node for it in uplinks}
        told = replace(
            panel,
            trails=(),
            marks=tuple(_node_sign(mark, channels, drawn) for mark in panel.marks),
            uplinks=uplinks,
        )
        yield _picture(told, f"plan-{_plain(panel.key)}-", _said_plan(told, by_node), hops=by_node, scale=scale)


def _signed(panel: Panel, signs: Mapping[str, HopSign]) -> Iterator[UplinkLine]:
    """The hops with both ends on a floor; one left to the equipment runs as it most likely does."""
    at = {mark.id: mark.at for mark in panel.marks if mark.section == "nodes"}
    for node in at:
        sign = signs.get(node)
        if sign is not None and sign.parent in at:
            yield UplinkLine(node, sign.parent, sign.style, at[node], at[sign.parent], sign.label)


def _node_sign(mark: Mark, channels: Mapping[str, Sequence[str]], drawn: set[str]) -> Mark:
    """A node with its channels under its name; an uplink that is drawn needs no words and no beginning."""
    if mark.section != "nodes":
        return mark
    stubs = tuple(it for it in mark.stubs if not (mark.id in drawn and it.way == "none"))
    return replace(
        mark, lines=tuple(channels.get(mark.id, ())), links=() if mark.id in drawn else mark.links, stubs=stubs
    )


def maps(plan: Plan, found: Iterable[FloorMap], grids: Sequence[Grid], client: str) -> Iterator[Picture]:
    """What works where on every floor, for one kind of client."""
    by_floor = {entry.floor: entry for entry in found}
    bare = {panel.key: _bare(panel) for panel in plan.panels}
    scale = scale_of(bare.values(), MOST_HIGH)
    for panel in lowest_first(plan):
        kind, _, floor = panel.key.partition(":")
        told = by_floor.get(floor)
        if told is None or told.kind != ("drawn" if kind == "floor" else "rooms"):
            continue
        grid = next((grid for grid in grids if grid.floor == floor), None)
        yield _map(bare[panel.key], told, grid, client, scale)


def _bare(panel: Panel) -> Panel:
    """A floor with its walls, nodes and places, and nothing that runs between them."""
    marks_ = tuple(replace(mark, lines=(), links=(), stubs=()) for mark in panel.marks)
    return replace(panel, trails=(), uplinks=(), joins=(), marks=marks_)


def _map(panel: Panel, told: FloorMap, grid: Grid | None, client: str, scale: float) -> Picture:
    prefix = f"map-{_plain(panel.key)}-"
    used = [name for name in CLASSES if name in told.shares]
    regions: list[tuple[str, Sequence[Cell], list[list[list[Point]]]]] = []
    for name in used:
        cells = [cell for cell in told.cells if class_of(cell.uses) == name]
        regions.append((name, cells, _shapes(panel, cells, grid)))

    def draw(sheet: FloorSheet) -> None:
        drawn = [patterns.definitions(used, prefix)]
        for name, _, shapes in regions:
            title = element("title", text_of(patterns.MEANING[name]))
            path = "".join(_ring(sheet, ring) for shape in shapes for ring in shape)
            drawn.append(patterns.region(name, path, title, prefix))
        sheet.under = "".join(drawn)

    legend = tuple((patterns.sample(name, prefix), patterns.MEANING[name]) for name in used)
    whole = "floor" if told.kind == "drawn" else "rooms"
    shares = "; ".join(f"{patterns.MEANING[name]}: {share(told.shares[name])} of the {whole}" for name in used)
    said = f"What works on floor {told.floor or 'as told'} for a {client}, with everyone active. {shares}."
    return _picture(
        panel,
        prefix,
        said,
        draw=draw,
        legend=legend,
        labels=[(name, cells) for name, cells, _ in regions],
        grid=grid,
        scale=scale,
        title=f"{panel.title}: what works for a {client}",
    )


def _shapes(panel: Panel, cells: Sequence[Cell], grid: Grid | None) -> list[list[list[Point]]]:
    if grid is not None:
        chosen = {(cell.column, cell.row) for cell in cells}
        return grid.shape_of(it for it in grid.cells if (it.column, it.row) in chosen)
    named = {cell.room for cell in cells}
    shapes = []
    for box in panel.boxes:
        if box.id in named:
            (left, low), wide, deep = box.corner, box.width_m, box.depth_m
            shapes.append([[(left, low), (left + wide, low), (left + wide, low + deep), (left, low + deep)]])
    return shapes


def _ring(sheet: FloorSheet, ring: Sequence[Point]) -> str:
    points = [sheet.point(point) for point in ring]
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points) + "Z"


@dataclass(frozen=True, slots=True)
class Stop:
    """Something that happens on a walk, with its number in the list under the picture."""

    number: int
    at: tuple[float, float, str]
    gap: bool


def way(plan: Plan, walk: str, stops: Sequence[Stop]) -> Iterator[Picture]:
    """The floors a walk passes, with its path and what happens on it."""
    for panel in lowest_first(plan):
        trails = tuple(trail for trail in panel.trails if trail.walk == walk)
        if panel.kind != "drawn" or not trails:
            continue
        floor = panel.key.partition(":")[2]
        here = [stop for stop in stops if stop.at[2] == floor]
        bare = tuple(replace(mark, lines=(), links=(), stubs=()) for mark in panel.marks)
        told = replace(panel, uplinks=(), marks=bare, trails=trails)
        prefix = f"way-{_plain(walk)}-{_plain(panel.key)}-"

        def draw(sheet: FloorSheet, here: Sequence[Stop] = here) -> None:
            sheet.over = "".join(_stop(sheet, stop) for stop in here)

        what = f"with {len(here)} numbered points where the device changes" if here else "without a change of node"
        said = f"The walk {walk} on {panel.title}, {what}."
        scale = scale_of([told], 300.0)
        yield _picture(told, prefix, said, draw=draw, scale=scale, title=f"{panel.title}: the walk {walk}")


def _stop(sheet: FloorSheet, stop: Stop) -> str:
    x, y = sheet.point(stop.at[:2])
    sheet.placer.take(Box(x - 8, y - 8, x + 8, y + 8))
    sign = element("circle", cx=x, cy=y, r=7.5, class_="stop gap" if stop.gap else "stop")
    return sign + text(
        x, y + 3.4, str(stop.number), "stop-number light" if stop.gap else "stop-number", text_anchor="middle"
    )


def _picture(
    panel: Panel,
    prefix: str,
    said: str,
    *,
    hops: Mapping[str, HopSign] | None = None,
    draw: Any = None,
    legend: tuple[tuple[str, str], ...] = (),
    labels: Sequence[tuple[str, Sequence[Cell]]] = (),
    grid: Grid | None = None,
    scale: float,
    title: str = "",
) -> Picture:
    shown = window(panel)
    used = marks.Used()
    sheet = FloorSheet(panel, shown, scale, 0.0, 0.0, WIDTH, used, prefix=prefix, named_walks=False, hops=hops or {})
    if draw is not None:
        draw(sheet)
    body = sheet.svg()
    body += "".join(_region_label(sheet, name, cells, grid) for name, cells in labels)
    box = f"0 {number(sheet.top)} {number(sheet.right)} {number(sheet.bottom - sheet.top)}"
    width = round(sheet.right * PIXELS)
    drawn = Markup(body + sheet.over)
    signs = tuple((Markup(sample), meaning) for sample, meaning in legend or _signs(used))
    return Picture(panel.key, title or panel.title, prefix, box, width, drawn, said, signs, tuple(sheet.keys))


def _signs(used: marks.Used) -> list[tuple[str, str]]:
    """The legend of the signs drawn, each sample a picture of its own."""
    return [
        (
            element("svg", sample, viewBox="0 0 30 14", width=30, height=14, class_="sample floor", aria_hidden="true"),
            meaning,
        )
        for sample, meaning in marks.legend(used)
    ]


def _region_label(sheet: FloorSheet, name: str, cells: Sequence[Cell], grid: Grid | None) -> str:
    """In how many of ten cases what may work does so, written into the region where there is room."""
    told = patterns.chances(name, cells)
    if grid is None or not told or len(cells) < 6:
        return ""
    middles = {(it.column, it.row): it.middle for it in grid.cells}
    points = [middles[cell.column, cell.row] for cell in cells if cell.column is not None and cell.row is not None]
    x, y = (sum(axis) / len(points) for axis in zip(*points, strict=True))
    size = 9.0
    width, height = width_of(told, size) + 6, size * 1.5
    spots = []
    for point in sorted(points, key=lambda point: (round(hypot(point[0] - x, point[1] - y), 6), point))[:80]:
        at = sheet.point(point)
        spots.append((Box(at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2), 0.0))
    box = sheet.placer.place(spots)
    ground = element("rect", x=box.left, y=box.top, width=width, height=height, rx=3, class_="tag")
    return ground + text(
        box.left + width / 2, box.top + size * 1.08, told, "tag-text", text_anchor="middle", font_size=size
    )


def lowest_first(plan: Plan) -> list[Panel]:
    """The floors as one climbs them."""
    return list(reversed(plan.panels))


def scale_of(panels: Iterable[Panel], most_high: float) -> float:
    """Units a metre at which every floor fits, so that they can be compared."""
    return min((_scale(window(panel), most_high) for panel in panels), default=LARGEST)


def _scale(shown: Window, most_high: float) -> float:
    wide, high = shown.right - shown.left, shown.high - shown.low
    return min((WIDTH - 2 * MARGIN) / wide, (most_high - 2 * MARGIN) / high, LARGEST)


def _flat(label: str) -> str:
    return label.replace("\n", ", ")


def _plain(name: str) -> str:
    """A name as a part of an id: whatever is no letter or digit is written as its number."""
    return "".join(char if char.isascii() and char.isalnum() else f"_{ord(char):x}" for char in name)


def _said_plan(panel: Panel, signs: Mapping[str, HopSign]) -> str:
    parts = [f"{panel.title}."]
    for mark in panel.marks:
        where = f"in {mark.room}" if mark.room else f"at x {metres(mark.at[0])}, y {metres(mark.at[1])} m"
        parts.append(
            f"{mark.shape.replace('-', ' ')} {mark.id} {where}{': ' + '; '.join(mark.lines) if mark.lines else ''}."
        )
    parts += [f"Hop from {it.node} to {it.parent}: {_flat(it.label)}." for it in panel.uplinks]
    return " ".join(parts)


__all__ = ["HopSign", "Picture", "Stop", "maps", "plans", "way"]
