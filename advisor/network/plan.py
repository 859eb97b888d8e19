"""The site as a sketch: what was declared of floors, rooms, walls, nodes, uplinks, places and walks, and nothing else.

A floor's drawn plan and the rooms told on it are two panels. What has no position is put in words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import groupby
from typing import Literal, NamedTuple, TypeAlias

from advisor.network.geometry import Building
from advisor.network.plan_checks import odd
from advisor.network.plan_records import Mark, Panel, Plan, Point, Stub, Trail, UplinkLine, Words
from advisor.network.plan_rooms import room_panels, seats
from advisor.network.plan_tree import tree
from advisor.network.plan_walls import stretches
from advisor.network.plan_words import (
    carrier,
    neighbours,
    no_position,
    node_lines,
    place_lines,
    some,
    style_of,
)
from advisor.network.plan_words import metres as told
from advisor.site.building import Floor, Located
from advisor.site.people import Walk
from advisor.site.schema import Site
from advisor.units import inert

Section: TypeAlias = Literal["nodes", "places"]
Key: TypeAlias = tuple[Section, str]

WALLS_TOLD = {"none": "no walls drawn", "partial": "some walls drawn, not all", "complete": "all walls drawn"}
NO_FLOOR = "floor not told"


class Spot(NamedTuple):
    """Where something is on the sketch: the panel's key and the point in it."""

    panel: str
    at: Point
    room: str = ""


def plan_of(site: Site) -> Plan:
    """The sketch of a site."""
    sketch = _Sketch(site)
    return Plan(
        inert(site.site.name.strip()) or "A site without a name",
        site.site.invented,
        tuple(sketch.panels()),
        tree(site, sketch.unplaced("places")) if sketch.tree_told else (),
        tuple(part for part in sketch.words() if part.lines),
        odd(site),
    )


class _Sketch:
    def __init__(self, site: Site) -> None:
        self.site = site
        self.entries: dict[Section, Mapping[str, Located]] = {"nodes": site.nodes, "places": site.places}
        self.floors: list[tuple[str | None, Floor | None]] = [
            *sorted(site.floors.items(), key=lambda entry: (-entry[1].level, entry[0])),
            (None, None),
        ]
        self.rooms = room_panels(site, [floor for floor, _ in self.floors])
        self.spots = dict(self._spots())
        self.walks = {name: self._walk_spots(walk) for name, walk in sorted(site.walks.items())}
        self.tree_told = not any(section == "nodes" for section, _ in self.spots)
        self.children: dict[str, list[str]] = {name: [] for name in site.nodes}
        for name, node in sorted(site.nodes.items()):
            if node.uplink and node.uplink.to:
                self.children[node.uplink.to].append(name)

    def unplaced(self, section: Section) -> list[str]:
        return [name for name in sorted(self.entries[section]) if (section, name) not in self.spots]

    def floor_of(self, end: Located) -> str | None:
        """The floor told for something, or for its room."""
        if end.floor is not None:
            return end.floor
        return self.site.rooms[end.room].floor if end.room else None

    def _spots(self) -> Iterator[tuple[Key, Spot]]:
        seated: dict[str, list[Key]] = {}
        for section, entries in self.entries.items():
            for name, entry in sorted(entries.items()):
                if entry.at is not None:
                    yield (section, name), Spot(_key("floor", self.floor_of(entry)), entry.at)
                elif entry.room is not None:
                    seated.setdefault(entry.room, []).append((section, name))
        for panel in self.rooms:
            for box in panel.boxes:
                here = seated.get(box.id, [])
                for key, at in zip(here, seats(box, len(here)), strict=True):
                    yield key, Spot(panel.key, at, box.id)

    def _walk_spots(self, walk: Walk) -> list[Spot | None]:
        return [
            self.spots.get(("places", point))
            if isinstance(point, str)
            else Spot(_key("floor", point[2]), (point[0], point[1]))
            for point in walk.points
        ]

    # panels

    def panels(self) -> Iterator[Panel]:
        """Top storey first; the rooms of a floor behind its drawn plan."""
        told_rooms = {panel.key: panel for panel in self.rooms}
        for floor_id, floor in self.floors:
            drawn = self._drawn(floor_id, floor)
            if drawn is not None:
                yield drawn
            rooms = told_rooms.get(_key("rooms", floor_id))
            if rooms is not None:
                yield self._filled(rooms)

    def _drawn(self, floor_id: str | None, floor: Floor | None) -> Panel | None:
        key = _key("floor", floor_id)
        walls = sorted(floor.walls.items()) if floor else []
        used = any(spot.panel == key for spot in self.spots.values()) or any(
            spot is not None and spot.panel == key for spots in self.walks.values() for spot in spots
        )
        if not walls and not used:
            return None
        if floor is None:
            title, caption = NO_FLOOR, WALLS_TOLD["none"]
        else:
            title = f"{floor_id}, level {floor.level}"
            caption = WALLS_TOLD[Building.plan_of(floor)]
            caption += f"; underfoot: {floor.slab}" if floor.slab else ""
        pieces = tuple(piece for wall_id, wall in walls for piece in stretches(wall_id, wall))
        return self._filled(Panel(key, "drawn", title, caption, pieces))

    def _filled(self, panel: Panel) -> Panel:
        """The panel with everything that stands or runs in it."""
        here = [key for key, spot in sorted(self.spots.items()) if spot.panel == panel.key]
        marks = tuple(self._node(name) if section == "nodes" else self._place(name) for section, name in here)
        nodes = [name for section, name in here if section == "nodes"]
        uplinks = tuple(line for name in nodes for line in self._uplink(name))
        trails = tuple(part for name in self.walks for part in self._trails(name, panel.key))
        return replace(panel, marks=marks, uplinks=uplinks, trails=trails)

    def _place(self, name: str) -> Mark:
        spot = self.spots["places", name]
        return Mark("places", name, "place", spot.at, place_lines(self.site.places[name]), room=spot.room)

    def _node(self, name: str) -> Mark:
        node, spot = self.site.nodes[name], self.spots["nodes", name]
        links: list[str] = []
        stubs: list[Stub] = []
        parent = node.uplink.to if node.uplink else None
        if parent is not None:
            if not self._together(name, parent):
                links += [f"to {parent}{self._whereabouts(parent)},", carrier(node)]
                stubs.append(Stub(style_of(node), self._way(name, parent), True))
        elif node.role != "gateway":
            links.append(carrier(node))
            stubs.append(Stub("open", "none", True))
        away = [child for child in self.children[name] if not self._together(child, name)]
        for where, group in groupby(sorted(away, key=lambda it: (self._whereabouts(it), it)), self._whereabouts):
            members = list(group)
            links.append(f"from {some(members, 4)}{where}")
            styles = sorted({style_of(self.site.nodes[it]) for it in members})
            stubs += [Stub(style, self._way(name, members[0]), False) for style in styles]
        lines = node_lines(node)
        return Mark("nodes", name, node.role, spot.at, lines, tuple(links), tuple(dict.fromkeys(stubs)), spot.room)

    def _together(self, one: str, other: str) -> bool:
        """True when both nodes stand in one panel."""
        first, second = self.spots.get(("nodes", one)), self.spots.get(("nodes", other))
        return first is not None and second is not None and first.panel == second.panel

    def _whereabouts(self, node: str) -> str:
        """` (upper)`, for a node in another panel."""
        spot = self.spots.get(("nodes", node))
        if spot is None:
            return " (not on the sketch)"
        return f" ({spot.panel.partition(':')[2] or NO_FLOOR})"

    def _way(self, start: str, end: str) -> Literal["up", "down", "across"]:
        """Where a node lies from another one."""
        levels = [self._level(name) for name in (start, end)]
        if levels[0] is None or levels[1] is None or levels[0] == levels[1]:
            return "across"
        return "up" if levels[1] > levels[0] else "down"

    def _level(self, node: str) -> int | None:
        spot = self.spots.get(("nodes", node))
        floor = self.site.floors.get(spot.panel.partition(":")[2]) if spot else None
        return floor.level if floor else None

    def _uplink(self, name: str) -> Iterator[UplinkLine]:
        node = self.site.nodes[name]
        parent = node.uplink.to if node.uplink else None
        if parent is not None and self._together(name, parent):
            start, end = self.spots["nodes", name].at, self.spots["nodes", parent].at
            yield UplinkLine(name, parent, style_of(node), start, end, carrier(node))

    def _trails(self, walk: str, panel: str) -> Iterator[Trail]:
        """The stretches of a walk in one panel; where it leaves, the label says where it goes on."""
        runs = [list(run) for _, run in groupby(self.walks[walk], lambda spot: spot.panel if spot else None)]
        for number, run in enumerate(runs):
            points = [spot.at for spot in run if spot is not None and spot.panel == panel]
            if len(points) < 2:
                continue
            after = next((spot for spot in runs[number + 1] if spot), None) if number + 1 < len(runs) else None
            goes_on = f", goes on: {after.panel.partition(':')[2] or NO_FLOOR}" if after else ""
            yield Trail(walk, number, tuple(points), f"walk {walk}{goes_on}")

    # words

    def words(self) -> Iterator[Words]:
        yield Words("Not on the sketch", tuple(self._missing()))
        yield Words("Uplinks to another floor or picture", tuple(self._between_panels()))
        yield Words("Walks", tuple(self._walk_words()))
        yield Words("Rooms", tuple(self._room_words()))
        yield Words("Other people's networks and other sources; where they stand is not told", neighbours(self.site))

    def _missing(self) -> Iterator[str]:
        if not self.tree_told:
            for name in self.unplaced("nodes"):
                node = self.site.nodes[name]
                yield f"{name} ({node.role.replace('-', ' ')}): {no_position(node)}"
        for name in self.unplaced("places"):
            place = self.site.places[name]
            if not (self.tree_told and place.paths):
                yield f"{name} ({place_lines(place)[0]}): {no_position(place)}"
        shown = {panel.key.partition(":")[2] for panel in self.panels()}
        for floor_id, floor in self.floors:
            if floor is not None and floor_id not in shown:
                yield f"floor {floor_id} (level {floor.level}): nothing on it has a position"

    def _between_panels(self) -> Iterator[str]:
        """Uplinks that leave their panel, one line for all that are alike."""
        alike: dict[tuple[str, str, str], list[str]] = {}
        for name, node in sorted(self.site.nodes.items()):
            parent = node.uplink.to if node.uplink else None
            if parent is not None and not self.tree_told and not self._together(name, parent):
                alike.setdefault((parent, carrier(node), self._whereabouts(name)), []).append(name)
        for (parent, by, where), names in sorted(alike.items()):
            yield f"{', '.join(names)}{where} to {parent}{self._whereabouts(parent)}: {by}"

    def _walk_words(self) -> Iterator[str]:
        for name, walk in sorted(self.site.walks.items()):
            points = [
                point if isinstance(point, str) else f"[{told(point[0])}, {told(point[1])}] on {point[2]}"
                for point in walk.points
            ]
            lost = [
                point
                for point, spot in zip(points, self.walks[name], strict=True)
                if spot is None
            ]  # fmt: skip
            without = f"; not on the sketch: {some(list(dict.fromkeys(lost)))}" if lost else ""
            yield f"{name}: {' → '.join(points)}; {walk.client}, {walk.traffic}{without}"

    def _room_words(self) -> Iterator[str]:
        """Neighbours on two floors."""
        for name, room in sorted(self.site.rooms.items()):
            for other, between in sorted(room.next_to.items()):
                far = self.site.rooms[other].floor != room.floor
                twice = name in self.site.rooms[other].next_to and other < name
                if far and not twice:
                    where = _floor(self.site.rooms[other].floor)
                    yield f"{name}{_floor(room.floor)} is next to {other}{where}: {inert(between.strip())}"


def _floor(floor: str | None) -> str:
    return f" ({floor})" if floor else f" ({NO_FLOOR})"


def _key(kind: str, floor: str | None) -> str:
    return f"{kind}:{floor or ''}"
