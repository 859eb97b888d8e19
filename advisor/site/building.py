"""Where things are: distances and what lies between, rooms, or a drawn plan. The three mix."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from advisor.site.fields import Entry, Id, Point, Text, default, needed, required

Side = Annotated[float, Field(gt=0, le=500)]
"""Width or depth of a room."""


class Path(Entry):
    """The way from one thing to a node, told by distance and what lies between."""

    distance_m: float = required("Straight distance.", unit="m", gt=0, le=2000)
    through: tuple[Id, ...] = default(
        (), "Constructions on the straight line, each as often as it is crossed, e.g. [brick, floor-timber]."
    )
    complete: bool = default(False, "True when nothing else lies between (line of sight, or every obstacle is listed).")


class Located(Entry):
    """Anything with a position. Give `at` and `floor`, or `room`, or `paths`: a pair is computed by its path where one
    is told, else by `at` on both sides, else by `room` on both sides."""

    at: Point | None = needed("Position on the floor's plan: [x, y].", unit="m")
    floor: Id | None = needed("The floor it is on.")
    height_m: float | None = default(
        None, "Height above that floor. Default: nodes 2.0, people 1.2.", unit="m", ge=-5, le=60
    )
    room: Id | None = needed("The room it is in; used for pairs of which both ends name a room and one has no `at`.")
    paths: dict[Id, Path] = default(
        {}, "Distance and what lies between, to one or more nodes; goes before the drawn plan for that pair."
    )


class Opening(Entry):
    """A door, window or gap in a drawn wall."""

    from_m: float = required("Where it begins, measured along the wall's line.", unit="m", ge=0)
    to_m: float = required("Where it ends, measured along the wall's line.", unit="m", gt=0)
    of: Id = default("open", "Construction in the opening: door-timber, glass-double, open …")


class Wall(Entry):
    """A drawn wall: a polyline."""

    line: tuple[Point, ...] = required("Corner points [x, y], two or more.", unit="m", min_length=2, max_length=200)
    of: Id = required("Construction: brick, plasterboard, concrete …")
    openings: dict[Id, Opening] = default({}, "Doors, windows and gaps in it.")


class Floor(Entry):
    """One storey and its drawn walls."""

    level: int = required("Order of the storeys: 0 ground, 1 first …", ge=-9, le=99)
    base_m: float | None = default(
        None, "Height of this floor above floor level 0. Default: level times ceiling_m.", unit="m"
    )
    slab: Id | None = needed("Construction of the floor under one's feet: floor-timber, floor-concrete …")
    plan: Literal["none", "partial", "complete"] | None = default(
        None,
        "How much of the walls is drawn. Default: none without walls, else partial. Only `complete` lets a path be "
        "as good as its drawn walls allow.",
    )
    walls: dict[Id, Wall] = default({}, "The drawn walls.")


class Room(Entry):
    """A room told by its size and its neighbours; where it lies need not be drawn."""

    floor: Id | None = needed("The floor it is on; every room needs one where floors are declared.")
    size_m: tuple[Side, Side] | None = default(None, "Width and depth. Default: 4 by 4, a usual room.", unit="m")
    next_to: dict[Id, Text] = default(
        {},
        "Neighbouring rooms, also those above and below, and what is between: a construction, `with` an opening (door, "
        "window, opening, or a construction such as door-steel), several layers joined by `and`, e.g. "
        "{hall: brick with door, attic: floor-timber}. Once for each pair is enough.",
    )
