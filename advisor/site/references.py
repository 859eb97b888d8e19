"""Every id that points somewhere must point at something that is there; and the structure must hold together.

`POINTERS` is the whole list: where an id stands and what it may name. In a pattern `*` is any id, `#` any item of a
list, `@` the word before the colon itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from math import dist
from typing import Any, TypeAlias

from advisor.data import catalogue
from advisor.errors import Position, Problem
from advisor.site import partitions
from advisor.site.schema import Site
from advisor.site.wording import MOST_PROBLEMS, and_more, choice_of, dotted, nearest, shown
from advisor.site.yaml_reader import Document, Path

MOST_COMPARED = 500
"""Among more ids than this no nearest one is looked for."""

Ids: TypeAlias = dict[str, None]
"""Ids in the order of the file, quick to look up."""

POINTERS: dict[str, str] = {
    "internet.at": "node",
    "nodes.*.floor": "floor",
    "nodes.*.room": "room",
    "nodes.*.paths.@": "node",
    "nodes.*.paths.*.through.#": "construction",
    "nodes.*.gear": "gear class",
    "nodes.*.uplink.to": "node",
    "nodes.*.uplink.radio": "radio of this node",
    "nodes.*.power.poe_from": "node",
    "nodes.*.backhaul.network": "network",
    "networks.*.nodes.#": "node",
    "clients.*.like": "catalogue client kind",
    "places.*.floor": "floor",
    "places.*.room": "room",
    "places.*.paths.@": "node",
    "places.*.paths.*.through.#": "construction",
    "places.*.client": "client kind",
    "places.*.to": "internet or node",
    "places.*.network": "network",
    "walks.*.points.#": "place",
    "walks.*.points.#.2": "floor",
    "walks.*.pauses_s.@": "place",
    "walks.*.client": "client kind",
    "floors.*.slab": "construction",
    "floors.*.walls.*.of": "construction",
    "floors.*.walls.*.openings.*.of": "construction",
    "rooms.*.floor": "floor",
    "rooms.*.next_to.@": "room",
    "neighbours.*.heard_dbm.@": "node or place",
    "interference.*.near.#": "node or place",
    "needs.*.place": "place",
    "needs.*.walk": "walk",
    "measured.*.radio": "radio",
    "measured.*.at": "node or place",
    "choices.parents.@": "node",
    "choices.parents.*.#": "node",
    "choices.bands.@": "node",
    "choices.cables.*.node": "node",
    "choices.cables.*.to": "node",
    "choices.positions.@": "node",
    "choices.anywhere.#": "node",
    "choices.positions.*.*.2": "floor",
    "choices.powers_dbm.@": "radio",
    "outages.*.off.#": "node or circuit",
    "outages.*.changed.@": "network",
    "outages.*.gone.#": "node",
    "outages.*.replaced.#": "node",
    "outages.*.radar_on.#": "radio",
}

NAMES_ITSELF = {"nodes.*.power.circuit", "ignored.*.rule"}
"""Ids that point at nothing in the file: a circuit is made by naming it, rules are looked up where rules are read."""


def check(site: Site | None, document: Document) -> list[Problem]:
    """Problems with what the file refers to; with a valid `site`, problems of structure too.

    References are read from the document, so that they are checked even where the schema refuses something else.
    """
    known = _Known(document)
    wrong = [
        (position, path, word, kind)
        for pattern, kind in POINTERS.items()
        for path, word, position in _pointers(document, pattern)
        if not known.holds(kind, path, word)
    ]
    wrong.sort(key=lambda it: (it[0], str(it[1])))
    problems = [
        Problem(position, *known.problem(kind, path, word)) for position, path, word, kind in wrong[:MOST_PROBLEMS]
    ]
    if len(wrong) > MOST_PROBLEMS:
        return [*problems, and_more(wrong[MOST_PROBLEMS][0], len(wrong) - MOST_PROBLEMS)]
    problems += partitions.word_problems(_pointers(document, "rooms.*.next_to.*"), document)
    return problems + (_structure(site, document) if site else [])


def _pointers(document: Document, pattern: str) -> Iterator[tuple[Path, str, Position]]:
    """Each place the pattern fits: its path, the id as written, and its position."""

    def walk(value: Any, parts: list[str], path: Path) -> Iterator[tuple[Path, str, Position]]:
        if not parts:
            spot = document.spots[path]
            if value is not None and not isinstance(value, (list, dict)):
                yield path, spot.raw if spot.raw is not None else str(value), spot.position
            return
        part, rest = parts[0], parts[1:]
        if part == "@" and isinstance(value, dict):
            for key in value:
                yield (*path, key), key, document.keys[(*path, key)].position
        elif part == "*" and isinstance(value, dict):
            for key, below in value.items():
                yield from walk(below, rest, (*path, key))
        elif part == "#" and isinstance(value, list):
            for index, below in enumerate(value):
                yield from walk(below, rest, (*path, index))
        elif part.isdigit() and isinstance(value, list) and int(part) < len(value):
            yield from walk(value[int(part)], rest, (*path, int(part)))
        elif isinstance(value, dict) and part in value:
            yield from walk(value[part], rest, (*path, part))

    return walk(document.value, pattern.split("."), ())


@cache
def _catalogue_ids(name: str, section: str) -> Ids:
    return dict.fromkeys(catalogue(name)[section])


class _Known:
    """What the file and the catalogues know, by kind."""

    def __init__(self, document: Document) -> None:
        self.value = document.value
        nodes, places, kinds = self._ids("nodes"), self._ids("places"), _catalogue_ids("client-kinds", "kinds")
        circuits = {word: None for _, word, _ in _pointers(document, "nodes.*.power.circuit")}
        self.by_kind: dict[str, Ids] = {
            "node": nodes,
            "network": self._ids("networks"),
            "place": places,
            "walk": self._ids("walks"),
            "floor": self._ids("floors"),
            "room": self._ids("rooms"),
            "construction": _catalogue_ids("constructions", "constructions"),
            "gear class": _catalogue_ids("gear", "gear"),
            "catalogue client kind": kinds,
            "client kind": self._ids("clients") | kinds,
            "node or place": nodes | places,
            "node or circuit": nodes | circuits,
            "internet or node": {"internet": None} | nodes,
            "radio": {f"{node}.{radio}": None for node in nodes for radio in self._radios(node)},
        }
        self.ambiguous = {
            "node or place": nodes.keys() & places.keys(),
            "node or circuit": nodes.keys() & circuits.keys(),
        }

    def holds(self, kind: str, path: Path, word: str) -> bool:
        """True when `word` names one `kind`, and only one."""
        return word in self._known(kind, path) and word not in self.ambiguous.get(kind, ())

    def problem(self, kind: str, path: Path, word: str) -> tuple[str, str]:
        """What is wrong with `word` standing for a `kind`, and what to do."""
        allowed = self._known(kind, path)
        if word in allowed:
            return (
                f"{shown(word)} is both a {kind.replace(' or ', ' and a ')} here; {dotted(path)} could mean either",
                "Give one of the two another id.",
            )
        meant = nearest(word, allowed) if len(allowed) <= MOST_COMPARED else None
        where = f" on node {dotted(path[1:2])}" if kind == "radio of this node" else ""
        name = {"radio of this node": "radio", "internet or node": "node"}.get(kind, kind)
        what = f"there is no {name} {shown(word)}{where}"
        guess = f"Did you mean {shown(meant)}? " if meant else ""
        return what, guess + self._allowed(kind, allowed)

    def _known(self, kind: str, path: Path) -> Ids:
        return self._radios(str(path[1])) if kind == "radio of this node" else self.by_kind[kind]

    def _allowed(self, kind: str, allowed: Ids) -> str:
        if kind in ("floor", "room", "network", "place", "walk") and not allowed:
            return f"None is declared; add it under `{kind}s`."
        if not allowed:
            return "None is declared."
        return f"Known here: {choice_of(list(allowed))}."

    def _ids(self, section: str) -> Ids:
        entries = self.value.get(section)
        return dict.fromkeys(entries) if isinstance(entries, dict) else {}

    def _radios(self, node_id: str) -> Ids:
        """The radios of a node: its own, or those its gear class usually has."""
        node = self.value["nodes"].get(node_id)
        if not isinstance(node, dict):
            return {}
        own = node.get("radios")
        if own:
            return dict.fromkeys(own) if isinstance(own, dict) else {}
        gear = catalogue("gear")
        usual = gear["usual"].get(node.get("role")) if isinstance(node.get("role"), str) else None
        entry = gear["gear"].get(node["gear"] if isinstance(node.get("gear"), str) else usual, {})
        return dict.fromkeys(entry.get("radios", ()))


def _structure(site: Site, document: Document) -> list[Problem]:
    return [
        *_gateways(site, document),
        *_uplinks(site, document),
        *_loops(site, document),
        *_country(site, document),
        *_floors_missing(site, document),
        *_openings(site, document),
        *_powers(site, document),
        *_counts(site, document),
        *_pauses(site, document),
        *partitions.structure_problems(site, document),
    ]


def _key(document: Document, *path: str | int) -> Position:
    return document.keys[path].position


def _gateways(site: Site, document: Document) -> Iterator[Problem]:
    """One node is at the internet line."""
    gateways = [name for name, node in site.nodes.items() if node.role == "gateway"]
    if not gateways:
        yield Problem(
            _key(document, "nodes"),
            "no node is the gateway; one must be at the internet line",
            "Give the node at the line `role: gateway`.",
        )
    elif len(gateways) > 1 and site.internet.at is None:
        yield Problem(
            _key(document, "nodes", gateways[1], "role"),
            f"more than one gateway ({choice_of(gateways)}), and nothing says which is at the internet line",
            f"Add `at: {gateways[0]}` under `internet`, or make the others `role: access-point`.",
        )
    if "internet" in site.nodes:
        yield Problem(
            _key(document, "nodes", "internet"),
            'a node cannot be called "internet": places use that word for the line',
            "Give the node another id.",
        )


def _uplinks(site: Site, document: Document) -> Iterator[Problem]:
    for name, node in site.nodes.items():
        if node.uplink is None:
            continue
        if node.role == "gateway":
            yield Problem(
                _key(document, "nodes", name, "uplink"),
                f"{name} is a gateway and has an uplink; a gateway is at the internet line itself",
                "Take the uplink out, or give it another role.",
            )
        elif node.uplink.to == name:
            yield Problem(
                document.spots[("nodes", name, "uplink", "to")].position,
                f"the uplink of {name} leads to itself",
                "Name the node at the other end.",
            )


def _loops(site: Site, document: Document) -> Iterator[Problem]:
    """Uplinks that lead in a circle; each circle is told once, at its first node in the file."""
    parents = {
        name: node.uplink.to
        for name, node in site.nodes.items()
        if node.uplink and node.uplink.to and node.uplink.to != name
    }
    seen: set[str] = set()
    for start in parents:
        way = [start]
        while way[-1] in parents and way[-1] not in seen:
            seen.add(way[-1])
            way.append(parents[way[-1]])
        if way[-1] in way[:-1]:
            circle = way[way.index(way[-1]) :]
            yield Problem(
                document.spots[("nodes", circle[0], "uplink", "to")].position,
                f"these uplinks lead in a circle: {' → '.join(circle)}",
                "Let one of them lead to the gateway or to a node nearer to it.",
            )


def _floors_missing(site: Site, document: Document) -> Iterator[Problem]:
    if not site.floors:
        return
    for section, entries in (("nodes", site.nodes), ("places", site.places)):
        for name, entry in entries.items():
            in_room = site.rooms.get(entry.room) if entry.room else None
            if entry.at is not None and entry.floor is None and not (in_room and in_room.floor):
                yield Problem(
                    _key(document, section, name, "at"),
                    f"{section}.{name} says `at` but not on which floor",
                    f"Add `floor:`. Floors here: {choice_of(list(site.floors))}.",
                )


RESERVED = {"UK": "GB", "EN": "GB", "EU": "the country itself, such as DE or FR"}
"""Two letters people write that are no country of ISO 3166-1."""


def _country(site: Site, document: Document) -> Iterator[Problem]:
    if site.site.country in RESERVED:
        yield Problem(
            document.spots[("site", "country")].position,
            f"site.country: {site.site.country} is no country of ISO 3166-1",
            f"Write {RESERVED[site.site.country]}.",
        )


def _openings(site: Site, document: Document) -> Iterator[Problem]:
    for floor_id, floor in site.floors.items():
        for wall_id, wall in floor.walls.items():
            length_m = sum(dist(start, end) for start, end in pairwise(wall.line))
            for name, opening in wall.openings.items():
                path = ("floors", floor_id, "walls", wall_id, "openings", name)
                if opening.from_m >= opening.to_m:
                    yield Problem(
                        _key(document, *path),
                        f"{dotted(path)} begins at {opening.from_m:g} m and ends at {opening.to_m:g} m",
                        "from_m must be smaller than to_m.",
                    )
                elif opening.to_m > length_m + 0.005:
                    yield Problem(
                        document.spots[(*path, "to_m")].position,
                        f"{dotted(path)} ends at {opening.to_m:g} m, but the wall is {length_m:.2f} m long",
                        "Measure along the wall from its first corner point.",
                    )


def _powers(site: Site, document: Document) -> Iterator[Problem]:
    for node_id, node in site.nodes.items():
        for radio_id, radio in node.radios.items():
            if radio.eirp_dbm is not None and radio.conducted_dbm is not None:
                yield Problem(
                    _key(document, "nodes", node_id, "radios", radio_id, "conducted_dbm"),
                    f"nodes.{node_id}.radios.{radio_id} gives its power twice: eirp_dbm and conducted_dbm",
                    "Give eirp_dbm, or conducted_dbm with antenna_dbi.",
                )


def _counts(site: Site, document: Document) -> Iterator[Problem]:
    for name, place in site.places.items():
        if place.active is not None and place.active > place.count:
            yield Problem(
                _key(document, "places", name, "active"),
                f"places.{name}: {place.active} are active, but only {place.count} there",
                "Raise `count`, or lower `active`.",
            )


def _pauses(site: Site, document: Document) -> Iterator[Problem]:
    for name, walk in site.walks.items():
        for place in walk.pauses_s:
            if place in site.places and place not in walk.points:
                yield Problem(
                    _key(document, "walks", name, "pauses_s", place),
                    f"walks.{name} pauses at {place}, but does not pass it",
                    "Add the place to `points`, or take the pause out.",
                )
