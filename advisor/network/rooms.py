"""What lies between two ends of which only the rooms are told: the way from room to room.

Where a room lies is not known, only its size and what stands between it and its neighbours. So the straight distance
is taken along the shortest way from the middle of one room to the middle of the other, and what stands in between along
the way that costs least; a way longer than the shortest is bent, and pays for its bend. Lengths rest on sizes alone:
another wall makes no way shorter and none cheaper. Why so, and how far off it may be: docs/decisions/0010-rooms.md.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from heapq import heappop, heappush
from itertools import pairwise
from math import acos, cos, degrees, hypot, radians, sin
from typing import NamedTuple, TypeAlias

from advisor.data import catalogue
from advisor.network.detour import WORTH_A_DETOUR_DB
from advisor.physics.bands import TYPICAL_FREQUENCY_MHZ
from advisor.physics.diffraction import detour_excess_db, knife_edge_excess_db
from advisor.physics.materials import construction_ids, construction_loss
from advisor.physics.propagation import NEAREST_M
from advisor.site import partitions
from advisor.site.partitions import Layer, Partition
from advisor.site.schema import Site

MOST_WAYS = 50
"""Ways kept to each room, the cheapest first: bounds the work where hundreds of rooms are told."""


class Loss(NamedTuple):
    """10 %, typical and 90 % loss in dB."""

    low: float
    typical: float
    high: float


@dataclass(frozen=True, slots=True)
class RoomWay:
    """The way between two ends told by rooms. Losses are beyond free space over the straight distance."""

    rooms: tuple[str, ...]
    """Passed from end to end, along the way that costs least."""
    straight: tuple[str, ...]
    """Passed on the shortest way, which gives the distance."""
    middles_m: float
    """Horizontal distance with the ends anywhere in their rooms: middle to middle, and where in the rooms they are."""
    rise_m: float
    share: Loss
    """The straight distance as a share of that, in horizontal direction."""
    loss: Loss
    told: tuple[str, ...]
    """What is crossed, in words, in order; the bend last."""
    through: tuple[tuple[str, int], ...]
    floors: int

    @property
    def distance_m(self) -> float:
        return straight_m(self.middles_m * self.share.typical, self.rise_m)

    @property
    def least_m(self) -> float:
        return straight_m(self.middles_m * self.share.low, self.rise_m)


def straight_m(level_m: float, rise_m: float) -> float:
    return max(hypot(level_m, rise_m), NEAREST_M)


class _Step(NamedTuple):
    """From one room to the next: middle to middle, the height climbed, and what stands between."""

    along_m: float
    climb_m: float
    partition: Partition
    legs_m: tuple[float, float]


Way: TypeAlias = tuple[float, float, float, int, tuple[str, ...], float, tuple[str, ...]]
"""Loss, length along, height climbed, rooms, what is crossed (sorted), how much worse it may be (squares summed), and
the ids of the rooms: in this order the better one comes first, so that ids decide only between ways alike in all."""


class Rooms:
    """The rooms of a site and what lies between them. `base_m` gives the height of a room's floor."""

    def __init__(self, site: Site, base_m: Callable[[str], float]) -> None:
        self.site = site
        self.steps: dict[str, dict[str, _Step]] = {room: {} for room in site.rooms}
        for boundary in partitions.boundaries(site):
            one, other = boundary.rooms
            vertical = partitions.storeys_apart(site, one, other) > 0
            along = self._offset_m(one, other) if vertical else (self.side_m(one) + self.side_m(other)) / 2.0
            climb = abs(base_m(one) - base_m(other)) if vertical else 0.0
            legs = (self.side_m(one) / 2.0, self.side_m(other) / 2.0)
            self.steps[one][other] = _Step(along, climb, boundary.partition, legs)
            self.steps[other][one] = _Step(along, climb, boundary.partition, legs)
        self.base_m = base_m
        self._found: dict[tuple[str, str, bool], dict[str, list[Way]]] = {}

    def size_m(self, room: str) -> tuple[float, float]:
        """Width and depth, the usual ones where the file does not say."""
        return self.site.rooms[room].size_m or usual_size_m()

    def side_m(self, room: str) -> float:
        """What it takes to pass a room: the side of a square of its area."""
        width, depth = self.size_m(room)
        return float((width * depth) ** 0.5)

    def _offset_m(self, one: str, other: str) -> float:
        """How far the middles of two rooms above one another may lie apart: what the one is longer, halved."""
        return abs(max(self.size_m(one)) - max(self.size_m(other))) / 2.0

    def way(self, start: str, end: str, rise_m: float, band: str) -> RoomWay | None:
        """The way between ends in two rooms, `rise_m` one above the other; None where the rooms are not joined."""
        inside = sum(side**2 for room in (start, end) for side in self.size_m(room)) / 12.0
        storeys_m = abs(self.base_m(start) - self.base_m(end))

        def climb_m(way: Way) -> float:
            """The ends' own difference in height, unless the way goes up and down again."""
            return way[2] if way[2] > storeys_m + 1e-6 else abs(rise_m)

        def length_m(way: Way) -> float:
            return float((way[1] ** 2 + inside + climb_m(way) ** 2) ** 0.5)

        direct = self._ways(start, band, straight=True).get(end)
        if direct is None:
            return None
        shortest = min(direct, key=lambda way: (round(length_m(way), 6), *way[3:]))
        straight = length_m(shortest)
        candidates = {way[6]: way for way in (*self._ways(start, band)[end], shortest)}
        losses = {chain: self._loss(chain, length_m(way), straight, band) for chain, way in candidates.items()}
        chosen = min(losses, key=lambda chain: (round(losses[chain].typical, 6), *candidates[chain][3:]))
        loss, at_most = losses[chosen], losses[shortest[6]].high
        crossed = self._crossed(chosen)
        words = [self._words(one, other) for one, other in pairwise(chosen)]
        if length_m(candidates[chosen]) > straight + 1e-6:
            words.append("a bend")
        walls = sum(1 for one, other in pairwise(shortest[6]) if self.steps[one][other].climb_m == 0.0)
        return RoomWay(
            rooms=chosen,
            straight=shortest[6],
            middles_m=float((shortest[1] ** 2 + inside) ** 0.5),
            rise_m=climb_m(shortest),
            share=distance_share(walls),
            loss=Loss(loss.low, loss.typical, max(loss.typical, min(loss.high, at_most))),
            told=tuple(words),
            through=tuple(sorted(Counter(layer.of for layer in crossed if layer.of != "open").items())),
            floors=sum(layer.of.startswith(partitions.FLOOR) for layer in crossed),
        )

    def _ways(self, start: str, band: str, *, straight: bool = False) -> dict[str, list[Way]]:
        """Every way from a room that no other beats in loss, length and climb at once, by its last room; `straight`:
        in length and climb alone."""
        if (start, band, straight) in self._found:
            return self._found[start, band, straight]
        kept: dict[str, list[Way]] = {}
        queue: list[Way] = [(0.0, 0.0, 0.0, 1, (), 0.0, (start,))]
        while queue:
            way = heappop(queue)
            here = kept.setdefault(way[6][-1], [])
            if len(here) >= MOST_WAYS or any(_beats(it, way) for it in here):
                continue
            here.append(way)
            for room, step in self.steps[way[6][-1]].items():
                if room not in way[6]:
                    further = self._further(way, room, step, band)
                    heappush(queue, (0.0, *further[1:]) if straight else further)
        self._found[start, band, straight] = kept
        return kept

    @staticmethod
    def _further(way: Way, room: str, step: _Step, band: str) -> Way:
        crossed = [layer_loss(layer, step.legs_m, band) for layer in _passed(step)]
        loss = way[0] + sum(entry.typical for entry in crossed)
        worse = way[5] + sum((entry.high - entry.typical) ** 2 for entry in crossed)
        names = tuple(sorted((*way[4], *(f"{layer.of} {layer.opening or ''}" for layer in step.partition))))
        along, climb = round(way[1] + step.along_m, 6), round(way[2] + step.climb_m, 6)
        return (round(loss, 6), along, climb, way[3] + 1, names, round(worse, 6), (*way[6], room))

    def _crossed(self, chain: tuple[str, ...]) -> list[Layer]:
        """Every layer on a way. From one end of an open stairwell to the other nothing lies between."""
        steps = [self.steps[one][other] for one, other in pairwise(chain)]
        if len(steps) == 1:
            return list(steps[0].partition)
        return [layer for step in steps for layer in _passed(step)]

    def _loss(self, chain: tuple[str, ...], length_m: float, straight_m: float, band: str) -> Loss:
        """What a way costs: the sum of what is crossed, and the bend of a way longer than the shortest."""
        terms = [_bend(length_m, straight_m, TYPICAL_FREQUENCY_MHZ[band])]
        steps = [self.steps[one][other] for one, other in pairwise(chain)]
        for step in steps:
            layers = step.partition if len(steps) == 1 else _passed(step)
            terms += [layer_loss(layer, step.legs_m, band) for layer in layers]
        typical = sum(term.typical for term in terms)
        below = sum((term.typical - term.low) ** 2 for term in terms) ** 0.5
        above = sum((term.high - term.typical) ** 2 for term in terms) ** 0.5
        return Loss(typical - below, typical, typical + above)

    def _words(self, one: str, other: str) -> str:
        layers = self.steps[one][other].partition
        told = " and ".join(layer.of + (f" with {layer.opening}" if layer.opening else "") for layer in layers)
        return f"{told} ({one} to {other})"


def _beats(one: Way, other: Way) -> bool:
    """No more loss, no longer, no higher."""
    return one[0] <= other[0] and one[1] <= other[1] and one[2] <= other[2]


def _passed(step: _Step) -> Partition:
    """What a way that goes on crosses: beside an open stairwell lies a floor, and the lightest one stands for it."""
    return (Layer(_lightest_floor()),) if step.climb_m > 0.0 and partitions.is_open(step.partition) else step.partition


@cache
def _lightest_floor() -> str:
    floors = [name for name in construction_ids() if name.startswith(partitions.FLOOR)]
    return min(floors, key=lambda name: (construction_loss(name, "5").typical_db, name))


def layer_loss(layer: Layer, legs_m: tuple[float, float], band: str) -> Loss:
    """One wall or floor: its own loss, or that of the opening in it with the bend, where that is less.

    As on a drawn plan a light wall is passed straight, and no way round counts less than a bend costs. With luck the
    line passes the opening itself: that is the low end.
    """
    wall = Loss(*_ends(layer.of, band))
    if layer.opening is None:
        return wall
    door = Loss(*_ends(layer.opening, band))
    angles = catalogue("ranges")["rooms"]["door_bend_deg"]
    frequency = TYPICAL_FREQUENCY_MHZ[band]
    typical = wall.typical
    if typical > WORTH_A_DETOUR_DB:
        bent = door.typical + _turn(legs_m, float(angles["typical"]), frequency)[0]
        typical = min(typical, max(bent, WORTH_A_DETOUR_DB))
    worst = door.high + _turn(legs_m, float(angles["high"]), frequency)[1]
    return Loss(min(wall.low, door.low), typical, max(typical, min(wall.high, worst)))


@cache
def _ends(construction: str, band: str) -> tuple[float, float, float]:
    loss = construction_loss(construction, band)
    return loss.low_db, loss.typical_db, loss.high_db


@cache
def _turn(legs_m: tuple[float, float], angle_deg: float, frequency_mhz: float) -> tuple[float, float]:
    """What a bend costs beyond the straight line, by the corner model and by a knife edge."""
    first, second = (max(leg, NEAREST_M) for leg in legs_m)
    angle = radians(angle_deg)
    points = [(-first, 0.0), (0.0, 0.0), (second * cos(angle), second * sin(angle))]
    return detour_excess_db(points, frequency_mhz), knife_edge_excess_db(points, frequency_mhz)


def _bend(length_m: float, straight_m: float, frequency_mhz: float) -> Loss:
    """One bend halfway that makes the straight line as long as the way. With luck the way is straight after all."""
    if length_m <= straight_m + 1e-6:
        return Loss(0.0, 0.0, 0.0)
    angle = 2.0 * degrees(acos(straight_m / length_m))
    corner, knife = _turn((length_m / 2.0, length_m / 2.0), angle, frequency_mhz)
    return Loss(0.0, corner, max(corner, knife))


def usual_size_m() -> tuple[float, float]:
    width, depth = catalogue("ranges")["rooms"]["usual_size_m"]["value"]
    return float(width), float(depth)


SHARES = ("same", "next", "two", "more")


def distance_share(walls: int) -> Loss:
    """The straight distance as a share of the way from middle to middle, by the number of walls between."""
    row = catalogue("ranges")["rooms"]["distance_share"][SHARES[min(walls, len(SHARES) - 1)]]
    return Loss(float(row["low"]), float(row["typical"]), float(row["high"]))
