"""What lies between two rooms, as `next_to` tells it: "brick", "brick with door", "brick and plasterboard", "open".

One construction, with what stands in it where there is an opening; several layers are joined by `and`. Rooms above one
another are joined by a floor, or by an open stairwell.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import combinations
from typing import NamedTuple, TypeAlias

from advisor.data import catalogue
from advisor.errors import Position, Problem
from advisor.site.schema import Site
from advisor.site.wording import choice_of, dotted, nearest, shown
from advisor.site.yaml_reader import Document, Path, Spot

HELP = 'Write it like "brick", "brick with door", "brick and plasterboard" or "open".'
FLOOR = "floor-"
OPENINGS = ("open", "door-", "glass")
"""How the ids of constructions begin that may stand in a wall."""


class Layer(NamedTuple):
    """One wall or floor, and what stands in its opening, None where it has none."""

    of: str
    opening: str | None = None


Partition: TypeAlias = tuple[Layer, ...]


class Fault(ValueError):
    """A word that cannot stand where it does: its place in the text, what is wrong, what to do."""

    def __init__(self, at: int, what: str, help: str) -> None:
        super().__init__(what)
        self.at, self.what, self.help = at, what, help


class Boundary(NamedTuple):
    """Two neighbouring rooms in the order of their ids, what lies between, and where the file says so."""

    rooms: tuple[str, str]
    partition: Partition
    path: str


@cache
def openings() -> dict[str, str]:
    """What may stand in a wall: plain words and ids, each with its construction."""
    known = catalogue("constructions")
    ids = [name for name in known["constructions"] if name.startswith(OPENINGS)]
    return {**known["openings"], **{name: name for name in ids}}


@cache
def read(text: str) -> Partition:
    """The layers of a text; raises `Fault` at the first word that is wrong."""
    words = [(match.start(), match[0].lower()) for match in re.finditer(r"\S+", text)]
    end = len(text.rstrip())
    layers: list[Layer] = []
    while True:
        of = _construction(*(words.pop(0) if words else (end, "")))
        opening = None
        if words and words[0][1] == "with":
            words.pop(0)
            opening = _opening(*(words.pop(0) if words else (end, "")))
        layers.append(Layer(of, opening))
        if not words:
            return tuple(layers)
        at, joint = words.pop(0)
        if joint != "and":
            raise Fault(at, _unexpected(joint, opening is None), HELP)


def _unexpected(word: str, plain: bool) -> str:
    return f"{shown(word)} cannot stand here; expected: {'`with` and an opening, ' if plain else ''}`and`, or the end"


def _construction(at: int, word: str) -> str:
    known = catalogue("constructions")["constructions"]
    if word in known:
        return word
    if not word:
        raise Fault(at, "a construction is missing", f"{HELP} Constructions: {choice_of(list(known), most=40)}.")
    if word in openings():
        what = f"{shown(word)} is what stands in a wall, not a wall"
        raise Fault(
            at, what, f'Name the wall first: "brick with {word}". Of several openings in one wall name the largest.'
        )
    meant = nearest(word, known)
    guess = f"Did you mean {shown(meant)}? " if meant else ""
    raise Fault(at, f"there is no construction {shown(word)}", f"{guess}Known: {choice_of(list(known), most=40)}.")


def _opening(at: int, word: str) -> str:
    known = openings()
    if word in known:
        return known[word]
    allowed = f"After `with` stands one of: {choice_of(list(known), most=40)}."
    if not word:
        raise Fault(at, "the opening is missing", allowed)
    if word in catalogue("constructions")["constructions"]:
        raise Fault(at, f"{shown(word)} is no opening", f"{allowed} Two layers behind one another are joined by `and`.")
    meant = nearest(word, known)
    guess = f"Did you mean {shown(meant)}? " if meant else ""
    raise Fault(at, f"there is no opening {shown(word)}", guess + allowed)


def floors_in(partition: Partition) -> int:
    """How many floors are crossed."""
    return sum(layer.of.startswith(FLOOR) for layer in partition)


def is_open(partition: Partition) -> bool:
    return all(layer.of == "open" for layer in partition)


def boundaries(site: Site) -> list[Boundary]:
    """Every pair of neighbours once, in the order of their ids; of a pair told on both sides the first room's word."""
    found: dict[tuple[str, str], Boundary] = {}
    for name, room in sorted(site.rooms.items()):
        for other, text in sorted(room.next_to.items()):
            pair = (min(name, other), max(name, other))
            if pair not in found:
                found[pair] = Boundary(pair, read(text), f"rooms.{name}.next_to.{other}")
    return sorted(found.values())


def storeys_apart(site: Site, one: str, other: str) -> int:
    """How many declared storeys one has to climb from one room to the other."""
    rooms = (site.rooms[one], site.rooms[other])
    levels = sorted(site.floors[room.floor].level if room.floor in site.floors else 0 for room in rooms)
    return len({floor.level for floor in site.floors.values() if levels[0] < floor.level <= levels[1]})


# What may be wrong


def word_problems(texts: Iterator[tuple[Path, str, Position]], document: Document) -> Iterator[Problem]:
    """Texts that cannot be read, each at its wrong word."""
    for path, text, _ in texts:
        try:
            read(text)
        except Fault as fault:
            yield Problem(_at(document.spots[path], fault.at, document), f"{dotted(path)}: {fault.what}", fault.help)


def _at(spot: Spot, offset: int, document: Document) -> Position:
    """The position of a character of a text; the text's own where its way of writing hides that."""
    start = spot.start + (0 if spot.plain else 1)
    written = document.text[spot.start : spot.end].strip("\"'")
    if spot.raw != written or "\n" in document.text[start : start + offset]:
        return spot.position
    return Position(spot.position.line, spot.position.column + start - spot.start + offset)


def structure_problems(site: Site, document: Document) -> Iterator[Problem]:
    """Rooms that do not fit together. Texts that cannot be read are told by `word_problems`."""
    yield from _floors_not_told(site, document)
    told: dict[tuple[str, str], list[tuple[str, str, Partition]]] = {}
    for name, room in site.rooms.items():
        for other, text in room.next_to.items():
            if other == name:
                yield Problem(_key(document, name, other), f"rooms.{name} is next to itself", "Name the other room.")
                continue
            if other not in site.rooms:  # told as a reference to nothing
                continue
            try:
                partition = read(text)
            except Fault:
                continue
            told.setdefault((min(name, other), max(name, other)), []).append((name, other, partition))
    for entries in told.values():
        yield from _told_twice(entries, site, document)
        problem = _storeys(*entries[0], site)
        if problem is not None:
            yield Problem(_key(document, *entries[0][:2]), *problem)
    yield from _floor_told_twice(site, document)


def _key(document: Document, name: str, other: str) -> Position:
    return document.keys["rooms", name, "next_to", other].position


def _floors_not_told(site: Site, document: Document) -> Iterator[Problem]:
    for name, room in site.rooms.items():
        if site.floors and room.floor is None:
            yield Problem(
                document.keys["rooms", name].position,
                f"rooms.{name} does not say on which floor it is",
                f"Add `floor:`. Floors here: {choice_of(list(site.floors))}.",
            )


def _told_twice(entries: Sequence[tuple[str, str, Partition]], site: Site, document: Document) -> Iterator[Problem]:
    """The same pair told from both sides, differently."""
    for first, second in combinations(entries, 2):
        if Counter(first[2]) == Counter(second[2]):
            continue
        texts = [shown(site.rooms[name].next_to[other]) for name, other, _ in (first, second)]
        spots = [document.spots["rooms", name, "next_to", other].position for name, other, _ in (first, second)]
        yield Problem(
            spots[1],
            f"between {second[0]} and {second[1]} lies {texts[1]} here, but {texts[0]} in line {spots[0].line}, "
            f"column {spots[0].column}",
            "Make both the same, or take one of them out: once is enough.",
        )


def _storeys(name: str, other: str, partition: Partition, site: Site) -> tuple[str, str] | None:
    """Whether floors lie between two rooms just where storeys do."""
    if any(room.floor is None for room in (site.rooms[name], site.rooms[other])) and site.floors:
        return None
    apart, floors, text = storeys_apart(site, name, other), floors_in(partition), site.rooms[name].next_to[other]
    if floors and not site.floors:
        return (
            f"{shown(text)} lies between {name} and {other}, but no floors are declared",
            "Declare them (`floors: {ground: {level: 0}, upper: {level: 1}}`) and give each room its `floor`.",
        )
    if floors and not apart:
        return (
            f"{shown(text)} is a floor, but {name} and {other} are on one storey",
            "Name the wall between them, or mend the `floor` of one of the two.",
        )
    if apart and floors < apart and not is_open(partition):
        if floors:
            count = "one floor" if floors == 1 else f"{floors} floors"
            return (
                f"{name} and {other} lie {apart} storeys apart, but {shown(text)} is {count} only",
                "Join each to the room between, or name every floor, joined by `and`.",
            )
        known = [of for of in catalogue("constructions")["constructions"] if of.startswith(FLOOR)]
        return (
            f"{name} and {other} are on different storeys, but {shown(text)} is no floor",
            f"Name the floor between them ({choice_of(known)}), or `open` for an open stairwell.",
        )
    return None


def _floor_told_twice(site: Site, document: Document) -> Iterator[Problem]:
    """A node or place whose own floor is not that of its room."""
    for section, entries in (("nodes", site.nodes), ("places", site.places)):
        for name, entry in entries.items():
            room = site.rooms.get(entry.room) if entry.room else None
            if room is not None and entry.floor and room.floor and entry.floor != room.floor:
                yield Problem(
                    document.spots[section, name, "floor"].position,
                    f"{section}.{name} is on floor {entry.floor}, but its room {entry.room} is on floor {room.floor}",
                    "Take `floor` out here, or name the right room.",
                )
