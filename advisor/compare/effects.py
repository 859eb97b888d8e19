"""What a difference between two sites does: needs, places, hops, walks, outages and findings, case by case on the same
draws; only what moved is told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from advisor.advice.causes import trouble_of
from advisor.advice.records import Versus
from advisor.advice.score import MET, asks_of, gets, typically
from advisor.advice.tries import NOTABLE, Standing, badness, judged, worse
from advisor.assess import shipped_rules
from advisor.facts import joins, places
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.facts.name_use import CALL_TRAFFIC
from advisor.facts.outage_net import supplied
from advisor.facts.outages import missing_for, weighed
from advisor.facts.walks import course_of_walk
from advisor.outage.ends import simulate
from advisor.outage.records import WORST
from advisor.rulebook.judge import Finding
from advisor.site.load import LoadedSite
from advisor.subjects import hop as hop_subject
from advisor.subjects import place as place_subject
from advisor.values import FIRST_DRAW, Cases, Known, Unknown

Axis = Literal["needs", "places", "hops", "walks", "outages", "findings"]
AXES: tuple[Axis, ...] = ("needs", "places", "hops", "walks", "outages", "findings")
Verdict = Literal["better", "worse", "mixed", "other", "same"]
Direction = Literal["better", "worse", "other"]
ALIKE = 0.03
"""Figures that differ by a smaller share are alike (choice of the program)."""
WALK_DRAWS = 100


@dataclass(frozen=True, slots=True)
class Moved:
    """One thing that is not as it was."""

    axis: Axis
    about: str
    before: str
    after: str
    verdict: Direction
    cases: Versus | None = None
    """Draw by draw, where it is computed on draws: in how many the second is better, alike, worse."""


@dataclass(frozen=True)
class Effects:
    """What moved between two sites, and a verdict for each axis."""

    moved: tuple[Moved, ...]

    def of(self, axis: Axis) -> tuple[Moved, ...]:
        return tuple(entry for entry in self.moved if entry.axis == axis)

    def verdict(self, axis: Axis) -> Verdict:
        found = {entry.verdict for entry in self.of(axis)}
        if {"better", "worse"} <= found:
            return "mixed"
        words: tuple[Direction, ...] = ("better", "worse", "other")
        return next((word for word in words if word in found), "same")

    @property
    def worse(self) -> bool:
        """Whether anything got worse and nothing better on some axis."""
        return any(self.verdict(axis) == "worse" for axis in AXES)


@dataclass
class Weighed:
    """One site with everything that is compared, computed once."""

    loaded: LoadedSite
    walks: bool = True
    standing: Standing = field(init=False)

    def __post_init__(self) -> None:
        book = open_book(self.loaded, Draws())
        rules = [rule for rule in shipped_rules(examples=False) if rule.topic != "walks"]
        self.standing = Standing(self.loaded, book, judged(book, rules))

    @property
    def book(self) -> Book:
        return self.standing.book


def effects(first: Weighed, second: Weighed, names: Mapping[str, str] | None = None) -> Effects:
    """What moved from the first site to the second; `names` gives new ids of places, nodes and walks by old ones."""
    called = dict(names or {})
    moved = [
        *_needs(first, second, called),
        *_places(first, second, called),
        *_hops(first, second, called),
        *(_walks(first, second, called) if first.walks and second.walks else ()),
        *_outages(first, second, called),
        *_findings(first, second, called),
    ]
    return Effects(tuple(moved))


def _versus(before: Cases, after: Cases) -> Versus:
    old, new = before[FIRST_DRAW:], after[FIRST_DRAW:]
    wins = int(np.count_nonzero(new > old * (1 + ALIKE)))
    losses = int(np.count_nonzero(new < old * (1 - ALIKE)))
    return Versus(wins, len(old) - wins - losses, losses)


def _cases(value: Known | Unknown, size: int) -> Cases:
    if isinstance(value, Unknown):
        return np.zeros(size)
    return np.broadcast_to(np.asarray(value.raw, dtype=float), (size,))


def _needs(first: Weighed, second: Weighed, names: Mapping[str, str]) -> Iterator[Moved]:
    """Every speed both files ask for: how often it is met."""
    theirs = {(ask.place, ask.direction, ask.when): ask for ask in asks_of(second.loaded.site)}
    for ask in asks_of(first.loaded.site):
        other = theirs.get((names.get(ask.place, ask.place), ask.direction, ask.when))
        if other is None:
            continue
        old, new = gets(first.book, ask), gets(second.book, other)
        before, after = (_cases(value, first.book.draws.size) for value in (old, new))
        chances = [
            float(np.mean(cases[FIRST_DRAW:] >= wanted.mbps * MET)) for cases, wanted in ((before, ask), (after, other))
        ]
        if abs(chances[1] - chances[0]) >= NOTABLE or (ask.mbps != other.mbps):
            old_told, new_told = (_of_ten(chance) for chance in chances)
            if ask.mbps != other.mbps:
                old_told, new_told = f"{ask.mbps:g} Mb/s, {old_told}", f"{other.mbps:g} Mb/s, {new_told}"
            about = f"{other.place}, {_way(ask.direction)}"
            yield Moved("needs", about, old_told, new_told, _direction(*chances), _versus(before, after))


def _of_ten(chance: float) -> str:
    return f"met in {10 * chance:.1f} of 10 cases".replace(".0 of", " of")


def _way(direction: str) -> str:
    return "towards it" if direction == "down" else "from it"


def _places(first: Weighed, second: Weighed, names: Mapping[str, str]) -> Iterator[Moved]:
    """Which radio is joined, and what each client gets with everyone active."""
    for place in sorted(first.loaded.site.places):
        other = names.get(place, place)
        if other not in second.loaded.site.places:
            continue
        joined = [_joined(book, name) for book, name in ((first.book, place), (second.book, other))]
        if _renamed(joined[0], names) != joined[1]:
            yield Moved("places", f"{other}, joined", joined[0], joined[1], "other")
        for direction in ("down", "up"):
            values = [_speed(first.book, place, direction), _speed(second.book, other, direction)]
            typical = [typically(value) for value in values]
            if _apart(*typical):
                before, after = (_cases(value, first.book.draws.size) for value in values)
                old_told, new_told = (f"{mbps:.1f} Mb/s" for mbps in typical)
                about = f"{other}, {_way(direction)}"
                yield Moved("places", about, old_told, new_told, _direction(*typical), _versus(before, after))


def _speed(book: Book, place: str, direction: str) -> Known | Unknown:
    value = places.with_everyone(book, place_subject(place), direction, "likely").value
    return value if isinstance(value, (Known, Unknown)) else Unknown(("which way its uplink runs",))


def _joined(book: Book, place: str) -> str:
    found = joins.joined_subject(book, place)
    return found.ids[1] if found is not None else "none"


def _renamed(radio: str, names: Mapping[str, str]) -> str:
    node, dot, rest = radio.partition(".")
    return f"{names.get(node, node)}{dot}{rest}"


def _apart(before: float, after: float) -> bool:
    return abs(after - before) > ALIKE * max(abs(before), abs(after), 1e-9)


def _hops(first: Weighed, second: Weighed, names: Mapping[str, str]) -> Iterator[Moved]:
    """How each uplink runs, and what gets through all hops up to the line."""
    for node, hop in sorted(first.book.hops.items()):
        other = names.get(node, node)
        theirs = second.book.hops.get(other)
        if theirs is None:
            if other in second.loaded.site.nodes and second.loaded.site.nodes[other].role != "gateway":
                yield Moved("hops", other, hop.option, "its two ends cannot meet", "worse")
            continue
        mine = hop.option.replace(f"to {hop.parent} ", f"to {names.get(hop.parent, hop.parent)} ", 1)
        if mine != theirs.option:
            yield Moved("hops", other, hop.option, theirs.option, "other")
        values = [
            book.get("chain_mbps", hop_subject(name)).value for book, name in ((first.book, node), (second.book, other))
        ]
        known = [value for value in values if isinstance(value, Known)]
        typical = [float(value.centre) for value in known]
        if len(known) == 2 and _apart(*typical):
            before, after = (_cases(value, first.book.draws.size) for value in known)
            old_told, new_told = (f"{mbps:.0f} Mb/s" for mbps in typical)
            about = f"{other}, all hops to the line"
            yield Moved("hops", about, old_told, new_told, _direction(*typical), _versus(before, after))


def _direction(before: float, after: float) -> Direction:
    return "better" if after > before else "worse" if after < before else "other"


def _walks(first: Weighed, second: Weighed, names: Mapping[str, str]) -> Iterator[Moved]:
    for walk, entry in sorted(first.loaded.site.walks.items()):
        other = names.get(walk, walk)
        if entry.traffic not in CALL_TRAFFIC or other not in second.loaded.site.walks:
            continue
        before, after = (
            trouble_of(course_of_walk(book, name, WALK_DRAWS)).any
            for book, name in ((first.book, walk), (second.book, other))
        )
        if abs(after - before) >= NOTABLE:
            yield Moved("walks", other, _suffers(before), _suffers(after), _direction(after, before))


def _suffers(share: float) -> str:
    return f"a call suffers in {10 * share:.1f} of 10 cases".replace(".0 of", " of")


def _outages(first: Weighed, second: Weighed, names: Mapping[str, str]) -> Iterator[Moved]:
    """How each usual outage ends, by its worst node."""
    if any(missing_for(side.book, side.loaded.site.nodes) for side in (first, second)):
        return
    ends = []
    for side, called in ((first, names), (second, {})):
        net = supplied(side.book).net
        found = {}
        for happening in weighed(net):
            off = tuple(sorted(called.get(name, name) for name in happening.off))
            networks = tuple(sorted({called.get(key[0], key[0]) for key in happening.changed}))
            found[off, bool(networks)] = (happening, simulate(net, happening))
        ends.append(found)
    for key, (happening, before) in ends[0].items():
        if key not in ends[1]:
            continue
        after = ends[1][key][1]
        levels = [WORST.index(found.worst) for found in (before, after)]
        if levels[0] != levels[1] and max(levels) > WORST.index("by itself"):
            about = happening.told.rstrip(".")
            yield Moved("outages", about, _end(before.worst), _end(after.worst), _direction(levels[1], levels[0]))


def _end(state: str) -> str:
    return "all back by themselves" if state in ("unharmed", "by itself") else f"a node ends {state}"


def _findings(first: Weighed, second: Weighed, names: Mapping[str, str]) -> Iterator[Moved]:
    old = {_called(finding, names): finding for finding in first.standing.judgement.findings}
    new = second.standing.by_identity()
    for identity, finding in old.items():
        if identity not in new:
            yield Moved("findings", finding.title, _told(finding), "gone", "better")
    for identity, finding in new.items():
        if identity not in old:
            yield Moved("findings", finding.title, "", _told(finding), "worse")
        elif worse(old[identity], finding) or worse(finding, old[identity]):
            verdict: Direction = "worse" if badness(finding) > badness(old[identity]) else "better"
            yield Moved("findings", finding.title, _told(old[identity]), _told(finding), verdict)


def _called(finding: Finding, names: Mapping[str, str]) -> str:
    """The identity of a finding with the new ids."""
    ids = tuple(_renamed(name, names) for name in finding.subject.ids)
    kind = finding.subject.kind
    subject = finding.subject._replace(ids=tuple(sorted(ids)) if kind.endswith("-pair") else ids)
    return f"{finding.rule}[{subject.key}]"


def _told(finding: Finding) -> str:
    level = f"possible {finding.level}" if finding.verdict == "at-risk" else finding.level
    chance = f", met in {10 * finding.probability:.0f} of 10" if finding.probability else ""
    return f"{level} at {finding.subject.name}{chance}"
