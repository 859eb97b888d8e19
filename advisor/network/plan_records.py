"""What a sketch of the site consists of: plain records in metres, x to the right and y up, ready to be drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

Point: TypeAlias = tuple[float, float]
Look: TypeAlias = Literal["heavy", "light", "glass", "metal", "open"]
Shape: TypeAlias = Literal["gateway", "relay", "access-point", "place"]
Style: TypeAlias = Literal["air", "wire", "open"]
"""How an uplink is drawn: over the air, over a wire, or left to the equipment."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a drawn wall made of one thing: the wall itself, or what stands in an opening of it."""

    wall: str
    of: str
    look: Look
    opening: str
    """Id of the opening; empty for the wall itself."""
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Stub:
    """The beginning of an uplink whose other end is not in this panel, or that ends nowhere."""

    style: Style
    way: Literal["up", "down", "across", "none"]
    towards: bool
    """True at the node itself, false at its parent."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A node or a place."""

    section: Literal["nodes", "places"]
    id: str
    shape: Shape
    at: Point
    lines: tuple[str, ...]
    """What stands under its id."""
    links: tuple[str, ...] = ()
    """Uplinks to and from other panels, in words."""
    stubs: tuple[Stub, ...] = ()
    room: str = ""
    """The room it is drawn in, where only the room is told."""


@dataclass(frozen=True, slots=True)
class UplinkLine:
    """An uplink with both ends in one panel, from the node to its parent."""

    node: str
    parent: str
    style: Style
    start: Point
    end: Point
    label: str


@dataclass(frozen=True, slots=True)
class Trail:
    """The part of a walk that stays in one panel."""

    walk: str
    part: int
    points: tuple[Point, ...]
    label: str


@dataclass(frozen=True, slots=True)
class RoomBox:
    """A room told by its size and its neighbours, where the sketch puts it."""

    id: str
    corner: Point
    """Its lower left corner."""
    width_m: float
    depth_m: float
    size: str


@dataclass(frozen=True, slots=True)
class RoomJoin:
    """Two rooms told to be neighbours and what lies between: a shared wall, or a line where they do not touch."""

    rooms: tuple[str, str]
    between: str
    touching: bool
    points: tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class Panel:
    """One floor as drawn, or the rooms of one floor as told."""

    key: str
    kind: Literal["drawn", "rooms"]
    title: str
    caption: str
    stretches: tuple[Stretch, ...] = ()
    marks: tuple[Mark, ...] = ()
    uplinks: tuple[UplinkLine, ...] = ()
    trails: tuple[Trail, ...] = ()
    boxes: tuple[RoomBox, ...] = ()
    joins: tuple[RoomJoin, ...] = ()


@dataclass(frozen=True, slots=True)
class TreeRow:
    """A node under its parent, or a place under a node, where only distances are told."""

    section: Literal["nodes", "places"]
    id: str
    shape: Shape
    depth: int
    """Hops from the internet line; of a place, those of its node and one more."""
    under: int | None
    """Number of the row it hangs on."""
    link: Style | Literal["way", "none"]
    """How it hangs there; `way` is a told distance that is no uplink."""
    about: str
    detail: str


@dataclass(frozen=True, slots=True)
class Words:
    """A list under the drawing."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole sketch."""

    name: str
    invented: bool
    panels: tuple[Panel, ...]
    tree: tuple[TreeRow, ...]
    words: tuple[Words, ...]
    odd: tuple[str, ...]
