"""What lies between two ends: the path as the user told it, drawn walls and floors crossed, or the rooms passed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import dist
from typing import Any

from advisor.data import catalogue
from advisor.network.detour import Edge, edges_of
from advisor.network.rooms import Rooms, RoomWay
from advisor.site.building import Floor, Located, Wall
from advisor.site.schema import Site

USUAL_BAND = "5"
"""Band whose losses choose the way through rooms where no band is asked for."""


@dataclass(frozen=True, slots=True)
class Position:
    """A point in the building, z above floor level 0."""

    x_m: float
    y_m: float
    z_m: float
    level: int
    floor: str | None = None


@dataclass(frozen=True, slots=True)
class Between:
    """What lies between two ends."""

    distance_m: float
    through: tuple[tuple[str, int], ...]
    """Constructions crossed and how often, by id."""
    floors: int
    complete: bool
    """True when nothing else lies between."""
    told: str
    """`drawn`, `described`, `distance` or `rooms`: where this comes from."""
    path: str
    """Path of the declaration in the site file."""
    floor: str | None = None
    """The floor a drawn path stays on; None where it changes floors or is not drawn."""
    ends: tuple[Position, Position] | None = None
    """Both ends of a drawn path."""
    rooms: RoomWay | None = None
    """The way from room to room, where only rooms are told."""


class Building:
    """The drawn plan, the rooms and the described paths of a site."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self._edges: dict[str, tuple[Edge, ...]] = {}

    def nearest_nodes(self, place: str, most: int) -> list[str]:
        """The nodes nearest to a place in a straight line, those whose distance nobody knows first."""
        own = self.site.places[place]
        start = self.position(own, "places")

        def distance_m(node: str) -> float:
            if node in own.paths:
                return own.paths[node].distance_m
            end = self.position(self.site.nodes[node], "nodes")
            if place in self.site.nodes[node].paths:
                return 0.0
            if start is None or end is None:
                way = self._through_rooms(("places", place), ("nodes", node))
                return way.distance_m if way else 0.0
            return dist((start.x_m, start.y_m, start.z_m), (end.x_m, end.y_m, end.z_m))

        return sorted(self.site.nodes, key=lambda node: (distance_m(node), node))[:most]

    def between_ends(
        self, first_kind: str, first: str, second_kind: str, second: str, band: str = USUAL_BAND
    ) -> Between | None:
        """What lies between two ends, each given by its section (`nodes` or `places`) and id; None where the file does
        not say. A path goes before a drawn plan, and that before rooms, whose way depends on the band."""
        ends: dict[str, Mapping[str, Located]] = {"nodes": self.site.nodes, "places": self.site.places}
        one, other = ends[first_kind][first], ends[second_kind][second]
        if second_kind == "nodes" and second in one.paths:
            return self._described(one, second, f"{first_kind}.{first}.paths.{second}")
        if first_kind == "nodes" and first in other.paths:
            return self._described(other, first, f"{second_kind}.{second}.paths.{first}")
        start, end = self.position(one, first_kind), self.position(other, second_kind)
        if start is None or end is None:
            return self._through_rooms((first_kind, first), (second_kind, second), band)
        return self._drawn(start, end, f"{first_kind}.{first}")

    @cached_property
    def rooms(self) -> Rooms:
        return Rooms(self.site, lambda room: self.base_m(self._floor_of_room(room)))

    def _floor_of_room(self, room: str) -> Floor | None:
        return self.site.floors.get(self.site.rooms[room].floor or "")

    def _through_rooms(self, first: tuple[str, str], second: tuple[str, str], band: str = USUAL_BAND) -> Between | None:
        """The way from room to room; None where an end is in none, or nothing joins the two."""
        ends: list[tuple[str, float]] = []
        for kind, name in (first, second):
            end = (self.site.nodes if kind == "nodes" else self.site.places)[name]
            if end.room is None:
                return None
            ends.append((end.room, self.base_m(self._floor_of_room(end.room)) + self.height_m(end, kind)))
        (start, low), (finish, high) = ends
        way = self.rooms.way(start, finish, high - low, band)
        if way is None:
            return None
        path = ".".join((*first, "room"))
        return Between(way.distance_m, way.through, way.floors, True, "rooms", path, rooms=way)

    def _described(self, end: Located, node: str, path: str) -> Between:
        told = end.paths[node]
        floors = sum(1 for name in told.through if name.startswith("floor-"))
        kind = "described" if told.through or told.complete else "distance"
        through = tuple(sorted(Counter(told.through).items()))
        return Between(told.distance_m, through, floors, told.complete, kind, path)

    def position(self, end: Located, kind: str) -> Position | None:
        """The point where something is, or None where the file does not say."""
        if end.at is None:
            return None
        room = self.site.rooms.get(end.room) if end.room is not None else None
        floor_id = end.floor or (room.floor if room else None)
        floor = self.site.floors.get(floor_id) if floor_id is not None else None
        level = floor.level if floor else 0
        return Position(end.at[0], end.at[1], self.base_m(floor) + self.height_m(end, kind), level, floor_id)

    @staticmethod
    def height_m(end: Located, kind: str) -> float:
        """Height above the floor it is on, the usual one where the file does not say."""
        heights = catalogue("ranges")["heights"]
        usual = heights["node_m" if kind == "nodes" else "person_m"]
        return float(end.height_m if end.height_m is not None else usual)

    def base_m(self, floor: Floor | None) -> float:
        if floor is None:
            return 0.0
        return floor.base_m if floor.base_m is not None else floor.level * self.site.site.ceiling_m

    def _drawn(self, start: Position, end: Position, path: str) -> Between:
        from shapely import LineString

        distance = ((start.x_m - end.x_m) ** 2 + (start.y_m - end.y_m) ** 2 + (start.z_m - end.z_m) ** 2) ** 0.5
        low, high = sorted((start, end), key=lambda point: point.z_m)
        crossed: Counter[str] = Counter()
        complete = bool(self._floors)
        bases = sorted({self.base_m(floor) for _, floor in self._floors})
        for floor_id, floor in self._floors:
            base = self.base_m(floor)
            top = next((other for other in bases if other > base), float("inf"))
            bottom = base if base > bases[0] else float("-inf")
            piece = _within(low, high, bottom, top)
            if piece is None:
                continue
            complete = complete and self.plan_of(floor) == "complete"
            if piece[0] != piece[1]:
                crossed.update(self._walls(floor_id, LineString(piece)))
        slabs = self._slabs(*sorted((start, end), key=lambda point: point.level))
        crossed.update(floor.slab for floor in slabs if floor.slab is not None)
        complete = complete and all(floor.slab is not None for floor in slabs)
        stays_on = start.floor if start.floor == end.floor else None
        through = tuple(sorted(crossed.items()))
        return Between(distance, through, len(slabs), complete, "drawn", path, stays_on, (start, end))

    def _slabs(self, lower: Position, upper: Position) -> list[Floor]:
        """The floors whose slab lies between two ends, one a level: of several on one level the upper end's own."""
        at_level: dict[int, Floor] = {}
        for floor_id, floor in self._floors:
            if lower.level < floor.level <= upper.level and (floor.level not in at_level or floor_id == upper.floor):
                at_level[floor.level] = floor
        return list(at_level.values())

    @staticmethod
    def plan_of(floor: Floor) -> str:
        return floor.plan or ("partial" if floor.walls else "none")

    def edges(self, floor_id: str) -> tuple[Edge, ...]:
        """A floor's walls with their openings, for ways round."""
        if floor_id not in self._edges:
            self._edges[floor_id] = edges_of(self.site.floors[floor_id].walls)
        return self._edges[floor_id]

    @cached_property
    def _floors(self) -> list[tuple[str, Floor]]:
        return sorted(self.site.floors.items(), key=lambda entry: (entry[1].level, entry[0]))

    @cached_property
    def _pieces(self) -> dict[str, list[Piece]]:
        """Every floor's walls cut into straight pieces."""
        return {
            floor_id: [piece for wall_id, wall in sorted(floor.walls.items()) for piece in _cut(wall_id, wall)]
            for floor_id, floor in self._floors
        }

    @cached_property
    def _trees(self) -> dict[str, Any]:
        from shapely import STRtree

        return {floor_id: STRtree([piece.line for piece in pieces]) for floor_id, pieces in self._pieces.items()}

    def _walls(self, floor_id: str, line: Any) -> list[str]:
        """Constructions of the walls a plan line crosses; what stands in an opening counts instead of the wall.

        Where two pieces of one wall meet exactly on the line, the wall is crossed once.
        """
        import shapely

        pieces = self._pieces[floor_id]
        if not pieces:
            return []
        hits = sorted(self._trees[floor_id].query(line, predicate="intersects"))
        met = shapely.centroid(shapely.intersection([pieces[index].line for index in hits], line))
        crossed: dict[tuple[str, float, float], str] = {}
        for index, x, y in zip(hits, shapely.get_x(met), shapely.get_y(met), strict=True):
            crossed.setdefault((pieces[index].wall, round(float(x), 3), round(float(y), 3)), pieces[index].of)
        return list(crossed.values())


@dataclass(frozen=True, slots=True)
class Piece:
    """A straight piece of a wall: a shapely line, the wall it belongs to and what it is made of."""

    line: Any
    wall: str
    of: str


def _within(low: Position, high: Position, bottom: float, top: float) -> list[tuple[float, float]] | None:
    """The plan line of the part of a path between two heights, or None where it does not pass there."""
    if high.z_m < bottom or low.z_m >= top:
        return None
    rise = high.z_m - low.z_m
    if rise == 0:
        return [(low.x_m, low.y_m), (high.x_m, high.y_m)]
    first = max(0.0, (bottom - low.z_m) / rise)
    last = min(1.0, (top - low.z_m) / rise)

    def point(share: float) -> tuple[float, float]:
        return low.x_m + share * (high.x_m - low.x_m), low.y_m + share * (high.y_m - low.y_m)

    return [point(first), point(last)]


def _cut(wall_id: str, wall: Wall) -> list[Piece]:
    """The wall in straight pieces with their construction: what stands in openings replaces the wall there."""
    from shapely import LineString
    from shapely.ops import substring

    line = LineString(wall.line)
    stretches: list[tuple[float, float, str]] = []
    done = 0.0
    for opening in sorted(wall.openings.values(), key=lambda opening: (opening.from_m, opening.to_m)):
        if opening.from_m > done:
            stretches.append((done, opening.from_m, wall.of))
        if opening.to_m > done:
            stretches.append((max(done, opening.from_m), opening.to_m, opening.of))
        done = max(done, opening.to_m)
    if done < line.length:
        stretches.append((done, line.length, wall.of))
    pieces: list[Piece] = []
    for start, end, of in stretches:
        corners = list(substring(line, start, end).coords)
        pieces += [Piece(LineString(ends), wall_id, of) for ends in pairwise(corners) if ends[0] != ends[1]]
    return pieces
