"""The signs of the sketch: marks by role, walls by construction, lines of uplinks and walks, and their legend.

Black on white with one dark blue; every sign differs by shape or dash too, so that print without colour and eyes that
tell few colours lose nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from math import atan2, cos, hypot, pi, sin

from advisor.network.plan_records import Look, Shape, Stretch, Style
from advisor.report.plan_labels import Point
from advisor.report.svg import element, line, number, points_of

STYLE = """
text{font-family:Arial,Helvetica,'Liberation Sans','DejaVu Sans',sans-serif;fill:#000;unicode-bidi:isolate}
polyline,line,path{fill:none;stroke:#000}
.h1{font-size:17px;font-weight:bold}.h2{font-size:12.5px;font-weight:bold}.p{font-size:9.5px}
.s{font-size:8.5px}.tick{font-size:8px;fill:#333}
.halo{stroke:#fff;stroke-width:2.6px;stroke-linejoin:round;paint-order:stroke}
.id{font-weight:bold}.blue{fill:#0b3f8a}
.frame{fill:#fff;stroke:#777;stroke-width:.7px}.grid{stroke:#ddd;stroke-width:.6px}.axis{stroke:#333;stroke-width:.8px}
.wall{stroke-width:4.6px;stroke-linejoin:miter}
.hollow{stroke:#fff;stroke-width:2.8px;stroke-linejoin:miter}
.pane{stroke-width:.9px}.sheet{stroke:#fff;stroke-width:2.2px;stroke-dasharray:4 4}
.thin.wall{stroke-width:3.4px}
.thin.hollow{stroke-width:2px}.thin.pane{stroke-width:.6px}.thin.sheet{stroke-width:1.6px}
.jamb{stroke-width:1px}
.air,.wire,.open{stroke:#0b3f8a;stroke-width:1.5px}.air{stroke-dasharray:6 3.5}.open{stroke-dasharray:1.6 2.6}
.head{fill:#0b3f8a;stroke:#fff;stroke-width:.6px}
.walk{stroke-width:.9px}
.trunk{stroke:#777;stroke-width:.8px}
.way{stroke:#333;stroke-width:.8px;stroke-dasharray:1 2.5}.leader{stroke:#333;stroke-width:.5px}
.mark{fill:#000;stroke:#fff;stroke-width:1px}.place{fill:#fff;stroke:#000;stroke-width:1.3px}.eye{fill:#fff;stroke:none}
.room{fill:none;stroke:#000;stroke-width:.9px}
.join{stroke-width:2.6px}.through{stroke-width:1.2px;stroke-dasharray:3 3}
.apart{stroke-width:.9px;stroke-dasharray:8 2 2 2}
.ground{fill:#fff;stroke:none}
.packed .air,.packed .wire,.packed .open{stroke-width:.8px}.packed .id{font-weight:normal}
"""

ROLES: tuple[tuple[Shape, str], ...] = (
    ("gateway", "gateway"),
    ("relay", "relay"),
    ("access-point", "access point"),
    ("place", "place where clients are used"),
)
LINES: tuple[tuple[Style, str], ...] = (
    ("air", "uplink over the air, towards its parent"),
    ("wire", "uplink over a wire, towards its parent"),
    ("open", "uplink left open or not told"),
)
LOOKS: tuple[Look, ...] = ("heavy", "light", "glass", "metal")
RADIUS = 6.0
ARROW = 5.0
HALF_WALL = 2.3


@dataclass
class Used:
    """What the sketch shows, so that the legend explains that and no more."""

    shapes: set[Shape] = field(default_factory=set)
    styles: set[Style] = field(default_factory=set)
    walls: dict[Look, set[str]] = field(default_factory=dict)
    openings: dict[Look, set[str]] = field(default_factory=dict)
    others: set[str] = field(default_factory=set)
    """`walk`, `way`, `join`, `apart`."""

    def stretch(self, piece: Stretch) -> None:
        into = self.openings if piece.opening else self.walls
        into.setdefault(piece.look, set()).add(piece.of)


def symbol(shape: Shape, at: Point, shrink: float = 1.0) -> str:
    """The mark of a role, centred on a point."""
    if shrink != 1.0:
        place = f"translate({number(at[0])} {number(at[1])}) scale({number(shrink)})"
        return element("g", symbol(shape, (0.0, 0.0)), transform=place)
    x, y = at
    if shape == "gateway":
        outer = element("rect", x=x - 5.5, y=y - 5.5, width=11, height=11, class_="mark")
        return outer + element("rect", x=x - 1.8, y=y - 1.8, width=3.6, height=3.6, class_="eye")
    if shape == "relay":
        corners = ((x, y - 7), (x + 6.6, y + 5), (x - 6.6, y + 5))
        return element("polygon", points=points_of(corners), class_="mark")
    if shape == "access-point":
        return element("circle", cx=x, cy=y, r=5.8, class_="mark")
    return element(
        "polygon", points=points_of(((x, y - 5.5), (x + 5.5, y), (x, y + 5.5), (x - 5.5, y))), class_="place"
    )


def wall(look: Look, points: list[Point], opening: bool, ends: tuple[bool, bool] = (False, False)) -> str:
    """A piece of wall: heavy filled, light hollow, glass with a line in it, metal with bars; openings are thinner and
    stand between two small jambs. Where the wall itself ends it is drawn half its width longer, to close corners."""
    thin = "thin " if opening else ""
    parts: list[str] = []
    if look != "open":
        parts.append(line(_longer(points, ends), thin + "wall"))
    if look in ("light", "glass"):
        parts.append(line(points, thin + "hollow"))
    if look == "glass":
        parts.append(line(points, thin + "pane"))
    if look == "metal":
        parts.append(line(points, thin + "sheet"))
    if opening and len(points) > 1:
        parts += [_jamb(points[0], points[1]), _jamb(points[-1], points[-2])]
    return "".join(parts)


def _longer(points: list[Point], ends: tuple[bool, bool]) -> list[Point]:
    longer = list(points)
    if len(points) > 1 and ends[0]:
        longer[0] = _towards(points[0], points[1], -HALF_WALL)
    if len(points) > 1 and ends[1]:
        longer[-1] = _towards(points[-1], points[-2], -HALF_WALL)
    return longer


def _jamb(at: Point, inward: Point) -> str:
    """A short line across the wall where an opening ends."""
    length = hypot(inward[0] - at[0], inward[1] - at[1])
    if length == 0:
        return ""
    x, y = (at[1] - inward[1]) / length * 4.5, (inward[0] - at[0]) / length * 4.5
    return line([(at[0] - x, at[1] - y), (at[0] + x, at[1] + y)], "jamb")


def uplink(style: Style, start: Point, end: Point) -> str:
    """A line from a node to its parent, its head shortly before the parent."""
    gap = min(RADIUS + 2.0, hypot(end[0] - start[0], end[1] - start[1]) / 3)
    tip = _towards(end, start, gap)
    return line([_towards(start, end, gap), tip], style) + _head(start, end, tip)


def branch(style: Style, start: Point, end: Point) -> str:
    """An uplink in a tree, from its node to the line that leads to the parent."""
    return line([_towards(start, end, RADIUS + 2.0), end], style) + _head(start, end, end)


def stub(style: Style, at: Point, end: Point, towards: bool) -> str:
    """The beginning of an uplink that leaves the panel, or that nobody knows the end of."""
    drawn = line([_towards(at, end, RADIUS), end], style)
    return drawn + (_head(at, end, end) if towards else _head(end, at, _towards(at, end, RADIUS + 1)))


def _towards(start: Point, end: Point, away: float) -> Point:
    length = hypot(end[0] - start[0], end[1] - start[1])
    if length == 0:
        return start
    return start[0] + away * (end[0] - start[0]) / length, start[1] + away * (end[1] - start[1]) / length


def _head(start: Point, end: Point, tip: Point) -> str:
    angle = atan2(end[1] - start[1], end[0] - start[0])
    return element("polygon", points=points_of([tip, *_wings(tip, angle, ARROW * 1.5, pi / 8)]), class_="head")


def _wings(tip: Point, angle: float, length: float, spread: float) -> list[Point]:
    return [(tip[0] - length * cos(angle + turn), tip[1] - length * sin(angle + turn)) for turn in (-spread, spread)]


def walk(points: list[Point]) -> str:
    """A thin line with open arrows in the middle of each stretch that is long enough."""
    parts = [line(points, "walk")]
    for start, end in pairwise(points):
        if hypot(end[0] - start[0], end[1] - start[1]) < 4 * ARROW:
            continue
        angle = atan2(end[1] - start[1], end[0] - start[0])
        for share in (0.34, 0.67):
            tip = start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])
            one, other = _wings(tip, angle, ARROW, pi / 6)
            parts.append(line([one, tip, other], "walk"))
    return "".join(parts)


def legend(used: Used) -> list[tuple[str, str]]:
    """Samples, each 30 wide and 14 high from its own corner, with their meaning."""
    entries: list[tuple[str, str]] = [
        (symbol(shape, (15, 7)), meaning) for shape, meaning in ROLES if shape in used.shapes
    ]
    entries += [(uplink(style, (-4, 7), (34, 7)), meaning) for style, meaning in LINES if style in used.styles]
    if "walk" in used.others:
        entries.append((walk([(0.0, 7.0), (30.0, 7.0)]), "walk"))
    if "way" in used.others:
        entries.append((line([(0, 7), (30, 7)], "way"), "distance told, no uplink"))
    for look in LOOKS:
        if look in used.walls:
            entries.append(
                (wall(look, [(0, 7), (30, 7)], False), f"{look} wall: {', '.join(sorted(used.walls[look]))}")
            )
    for look in ("open", *LOOKS):
        if look in used.openings:
            words = ", ".join(sorted(used.openings[look]))
            entries.append((wall(look, [(4, 7), (26, 7)], True), f"opening: {words}"))
    if "join" in used.others:
        entries.append((line([(0, 7), (30, 7)], "join"), "told neighbours, with what is between"))
    if "apart" in used.others:
        entries.append((line([(0, 7), (30, 7)], "apart"), "told neighbours that could not be drawn side by side"))
    return entries
