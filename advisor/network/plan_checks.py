"""What looks odd in the positions a site file tells: plain hints for a second look, no findings."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import dist, floor, hypot, inf
from typing import Any, NamedTuple

from advisor.network.geometry import Building, Position
from advisor.network.plan_words import metres
from advisor.site.schema import Site

CLOSE_M = 0.1
"""Nearer than this two things are hardly meant to be; common practice, no source."""
FAR_M = 60.0
"""A thing further than this from everything else is rarely meant to be; common practice, no source."""
GAP_M = 0.3
"""Walls that nearly meet count as closed; common practice, no source."""
OUTSIDE_M = 0.3
"""A thing on a wall, or as far outside as a wall is thick, is not outside; common practice, no source."""


class Thing(NamedTuple):
    section: str
    id: str
    at: Position


def odd(site: Site) -> tuple[str, ...]:
    """Hints in plain words, in a fixed order."""
    things = _things(site)
    return (
        *_zero_walls(site),
        *_outside(site, things),
        *_too_close(site, things),
        *_too_far(things),
    )


def _things(site: Site) -> list[Thing]:
    """Everything with a position of its own."""
    building = Building(site)
    found: list[Thing] = []
    for section, entries in (("nodes", site.nodes), ("places", site.places)):
        for name, entry in sorted(entries.items()):
            position = building.position(entry, section)
            if position is not None:
                found.append(Thing(section, name, position))
    return found


def _zero_walls(site: Site) -> Iterator[str]:
    for floor_id, floor_ in sorted(site.floors.items()):
        for wall_id, wall in sorted(floor_.walls.items()):
            if all(one == other for one, other in pairwise(wall.line)):
                yield f"wall {wall_id} on {floor_id} has no length: all its points are the same"


def _outside(site: Site, things: list[Thing]) -> Iterator[str]:
    """Things beyond the outer walls of a floor whose plan is complete; nothing is said where no walls close."""
    for floor_id, floor_ in sorted(site.floors.items()):
        here = [it for it in things if it.at.floor == floor_id and not _outdoors(site, it)]
        if not here or Building.plan_of(floor_) != "complete" or not floor_.walls:
            continue
        outline = _outline([wall.line for _, wall in sorted(floor_.walls.items())])
        if outline is None:
            continue
        from shapely import Point

        for it in here:
            if outline.distance(Point(it.at.x_m, it.at.y_m)) > OUTSIDE_M:
                yield f"{it.id} at {_point(it)} lies outside the walls of {floor_id}, whose plan is complete"


def _outdoors(site: Site, thing: Thing) -> bool:
    return thing.section == "nodes" and site.nodes[thing.id].outdoor


def _outline(lines: list[tuple[tuple[float, float], ...]]) -> Any:
    """What closed walls surround, or None where none close."""
    from shapely import LineString, Polygon, unary_union

    bands = unary_union([LineString(line).buffer(GAP_M / 2) for line in lines if len(set(line)) > 1])
    parts = [part for part in getattr(bands, "geoms", [bands]) if not part.is_empty]
    if not any(part.interiors for part in parts):
        return None
    return unary_union([Polygon(part.exterior) for part in parts])


def _too_close(site: Site, things: list[Thing]) -> Iterator[str]:
    """Pairs nearer than a hand; places for different client kinds may share a spot."""
    cells: dict[tuple[int, int, int], list[Thing]] = {}
    for it in things:
        cell = (floor(it.at.x_m / CLOSE_M), floor(it.at.y_m / CLOSE_M), it.at.level)
        for x in (-1, 0, 1):
            for y in (-1, 0, 1):
                for other in cells.get((cell[0] + x, cell[1] + y, cell[2]), ()):
                    near = dist(_xyz(it), _xyz(other)) <= CLOSE_M + 1e-9 and it.at.floor == other.at.floor
                    if near and not _two_kinds(site, it, other):
                        yield f"{other.id} and {it.id} are in the same spot, at {_point(it)}{_on(it)}"
        cells.setdefault(cell, []).append(it)


def _two_kinds(site: Site, one: Thing, other: Thing) -> bool:
    if one.section != "places" or other.section != "places":
        return False
    return site.places[one.id].client != site.places[other.id].client


def _too_far(things: list[Thing]) -> Iterator[str]:
    if len(things) < 2:
        return
    for it in things:
        nearest = inf
        for other in things:
            if other is not it:
                away = hypot(it.at.x_m - other.at.x_m, it.at.y_m - other.at.y_m)
                nearest = min(nearest, away)
                if nearest <= FAR_M:
                    break
        if nearest > FAR_M:
            yield f"{it.id} at {_point(it)}{_on(it)} is {nearest:.0f} m from everything else"


def _xyz(thing: Thing) -> tuple[float, float, float]:
    return thing.at.x_m, thing.at.y_m, thing.at.z_m


def _point(thing: Thing) -> str:
    return f"[{metres(thing.at.x_m)}, {metres(thing.at.y_m)}]"


def _on(thing: Thing) -> str:
    return f" on {thing.at.floor}" if thing.at.floor else ""
