"""The best way through doors and windows instead of straight through a heavy wall.

One or two of the walls that the straight line crosses are replaced by an opening in them, at the price of the bend and
of what stands in the opening. Everything else counts at least as on the straight line: the other walls the straight
line crosses, or those the bent way crosses, whichever costs more. That is what makes the cap safe: another wall, with
openings or without, never makes a path better. Walls that merely end are not gone round, and floors are not left:
openings in slabs (stairs) are no part of the site file, so a path between two floors has no detour.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise, product
from typing import Any

import numpy as np

from advisor.physics.diffraction import detour_excess_db, knife_edge_excess_db
from advisor.site.building import Wall

INSET_M = 0.05
"""The way passes an opening this far from its edge, or nearer where the straight line nearly hits the opening."""
TOUCH = 1e-9
WORTH_A_DETOUR_DB = 12.0
"""A bend costs about this much at 5 GHz (a right angle with legs of 5 m, physics.diffraction): lighter obstacles are
passed straight, and no way round counts less, so that a wall added never raises a level."""
HEAVIEST = 4
"""Of the walls crossed only the costliest few may be replaced; keeps crowded plans quick."""

Point2 = tuple[float, float]
Point3 = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Gap:
    """An opening in one straight edge of a wall, by distance from the edge's beginning."""

    id: str
    of: str
    from_m: float
    to_m: float


@dataclass(frozen=True, slots=True)
class Edge:
    """One straight edge of a drawn wall with the openings in it."""

    wall: str
    of: str
    start: Point2
    end: Point2
    gaps: tuple[Gap, ...]

    @property
    def length_m(self) -> float:
        return float(np.hypot(self.end[0] - self.start[0], self.end[1] - self.start[1]))

    def construction_at(self, along_m: float) -> str:
        """What stands at a point of the edge: the opening's construction where there is one."""
        return next((gap.of for gap in self.gaps if gap.from_m <= along_m <= gap.to_m), self.of)

    def point_at(self, along_m: float) -> Point2:
        share = along_m / self.length_m
        return (
            self.start[0] + share * (self.end[0] - self.start[0]),
            self.start[1] + share * (self.end[1] - self.start[1]),
        )


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a straight line meets an edge."""

    edge: int
    along_m: float
    """From the edge's beginning."""
    share: float
    """Of the line, from its start."""
    of: str


@dataclass(frozen=True, slots=True)
class Detour:
    """The best way through one or two openings."""

    openings: tuple[str, ...]
    """`wall.opening`, in the order they are passed."""
    points: tuple[Point3, ...]
    """Start, the points in the openings, end."""
    obstacles_db: float
    """All it costs beyond free space over the straight distance."""
    excess_db: float
    """The bends and the longer way in it, by the corner model."""
    knife_edge_db: float
    """The same by knife edges: how bad it may be."""


def edges_of(walls: Mapping[str, Wall]) -> tuple[Edge, ...]:
    """A floor's drawn walls as straight edges; an opening round a corner is one gap in each edge."""
    edges: list[Edge] = []
    for wall_id, wall in sorted(walls.items()):
        done = 0.0
        for start, end in pairwise(wall.line):
            length = float(np.hypot(end[0] - start[0], end[1] - start[1]))
            if length <= 0.0:
                continue
            gaps = tuple(
                Gap(f"{wall_id}.{name}", opening.of, max(opening.from_m - done, 0.0), min(opening.to_m - done, length))
                for name, opening in sorted(wall.openings.items())
                if opening.from_m < done + length and opening.to_m > done
            )
            edges.append(Edge(wall_id, wall.of, (start[0], start[1]), (end[0], end[1]), gaps))
            done += length
    return tuple(edges)


class FloorPlan:
    """The edges of one floor, ready to be crossed. `loss_db` gives what one crossing of a construction costs."""

    def __init__(self, edges: Sequence[Edge], loss_db: Callable[[str], float]) -> None:
        self.edges = tuple(edges)
        self.loss_db = loss_db

    @cached_property
    def _ends(self) -> Any:
        return np.array([(*edge.start, *edge.end) for edge in self.edges], dtype=float).reshape(-1, 4)

    def crossings(self, start: Point2, end: Point2) -> list[Crossing]:
        """The edges a straight line crosses between its ends, in order; what stands in an opening counts, not the wall.

        An edge reaches from its first point up to, not including, its last, so that a corner counts once.
        """
        if not self.edges:
            return []
        ax, ay, bx, by = self._ends.T
        px, py, dx, dy = start[0], start[1], end[0] - start[0], end[1] - start[1]
        ex, ey = bx - ax, by - ay
        turn = dx * ey - dy * ex
        steep = np.where(np.abs(turn) > TOUCH, turn, np.inf)
        line = ((ax - px) * ey - (ay - py) * ex) / steep
        edge = ((ax - px) * dy - (ay - py) * dx) / steep
        hits = (np.abs(turn) > TOUCH) & (line > TOUCH) & (line < 1.0 - TOUCH) & (edge >= 0.0) & (edge < 1.0)
        found = []
        for index in np.flatnonzero(hits):
            own = self.edges[index]
            along = float(edge[index]) * own.length_m
            found.append(Crossing(int(index), along, float(line[index]), own.construction_at(along)))
        return sorted(found, key=lambda crossing: (crossing.share, crossing.edge))

    def straight_db(self, start: Point3, end: Point3) -> float:
        """Sum of everything on the straight line."""
        return self._sum(self.crossings(start[:2], end[:2]), frozenset())

    def _sum(self, crossings: Sequence[Crossing], without: frozenset[int]) -> float:
        return sum(self.loss_db(crossing.of) for crossing in crossings if crossing.edge not in without)

    def best_detour(self, start: Point3, end: Point3, frequency_mhz: float) -> Detour | None:
        """The cheapest way through openings of one or two crossed walls, or None where no crossed wall has one."""
        straight = self.crossings(start[:2], end[:2])
        ways = self._ways(straight, start, end)
        groups: list[tuple[_Way, ...]] = [(way,) for way in ways]
        by_edge: dict[int, list[_Way]] = {}
        for way in ways:
            by_edge.setdefault(way.edge, []).append(way)
        for first, second in combinations(by_edge, 2):
            groups += list(product(by_edge[first], by_edge[second]))
        found = [self._detour(group, straight, start, end, frequency_mhz) for group in groups]
        return min(found, key=lambda detour: (detour.obstacles_db, detour.openings), default=None)

    def _ways(self, straight: Sequence[Crossing], start: Point3, end: Point3) -> list[_Way]:
        """The openings that could replace a crossed wall, each passed at its end nearest to the crossing."""
        heavy = sorted(
            (crossing for crossing in straight if self.edges[crossing.edge].gaps),
            key=lambda crossing: (-self.loss_db(crossing.of), crossing.share),
        )[:HEAVIEST]
        ways = []
        for crossing in sorted(heavy, key=lambda crossing: crossing.share):
            edge = self.edges[crossing.edge]
            for gap in edge.gaps:
                along = _near_point_m(gap, crossing.along_m)
                x, y = edge.point_at(along)
                z = start[2] + crossing.share * (end[2] - start[2])
                ways.append(_Way(crossing.edge, gap, (x, y, z), crossing.share))
        return ways

    def _detour(
        self, group: tuple[_Way, ...], straight: Sequence[Crossing], start: Point3, end: Point3, frequency_mhz: float
    ) -> Detour:
        """The cost of one or two openings. Of two, neither the bends nor the walls count less than for each alone."""
        replaced = frozenset(way.edge for way in group)
        routes = [[start, *(way.point for way in group), end]]
        if len(group) > 1:
            routes += [[start, way.point, end] for way in group]
        excess = max(detour_excess_db(route, frequency_mhz) for route in routes)
        knife = max(knife_edge_excess_db(route, frequency_mhz) for route in routes)
        walls = max(self._sum(straight, replaced), *(self._walls_on(route, group) for route in routes))
        doors = sum(self.loss_db(way.gap.of) for way in group)
        return Detour(tuple(way.gap.id for way in group), tuple(routes[0]), walls + doors + excess, excess, knife)

    def _walls_on(self, route: Sequence[Point3], group: tuple[_Way, ...]) -> float:
        """What the legs of a route cross, without the openings it passes and one crossing of each wall replaced: a leg
        that crosses such a wall again, away from its opening, pays for it."""
        legs = [crossing for first, second in pairwise(route) for crossing in self.crossings(first[:2], second[:2])]
        for way in group:
            again = [crossing for crossing in legs if crossing.edge == way.edge]
            passed = way.point in route
            free = [crossing for crossing in again if not passed or self._at(crossing, way)][:1]
            legs = [crossing for crossing in legs if crossing not in free]
        return self._sum(legs, frozenset())

    def _at(self, crossing: Crossing, way: _Way) -> bool:
        """Whether a crossing is the point in the opening itself."""
        x, y = self.edges[crossing.edge].point_at(crossing.along_m)
        return bool(np.hypot(x - way.point[0], y - way.point[1]) < INSET_M / 5.0)


@dataclass(frozen=True, slots=True)
class _Way:
    """An opening offered in place of a crossed wall, and the point it is passed at."""

    edge: int
    gap: Gap
    point: Point3
    share: float


def _near_point_m(gap: Gap, along_m: float) -> float:
    """Where a way passes an opening: just inside the edge nearest to the straight line's own crossing."""
    if along_m < gap.from_m:
        return gap.from_m + min(INSET_M, gap.from_m - along_m, (gap.to_m - gap.from_m) / 2.0)
    if along_m > gap.to_m:
        return gap.to_m - min(INSET_M, along_m - gap.to_m, (gap.to_m - gap.from_m) / 2.0)
    return along_m


def capped_obstacles_db(plan: FloorPlan, start: Point3, end: Point3, frequency_mhz: float) -> float:
    """What lies between two points of one floor, dB beyond free space: straight through, or the best detour if less."""
    straight = plan.straight_db(start, end)
    detour = plan.best_detour(start, end, frequency_mhz)
    return straight if detour is None else min(straight, detour.obstacles_db)
