"""A walk on a call, computed: the typical course, and what chance does to it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from advisor.data import catalogue
from advisor.facts.book import Book
from advisor.facts.trails import behaviour, trail_of_place, trail_of_walk
from advisor.walk.chance import Chance
from advisor.walk.client import follow
from advisor.walk.handover import TERMS, gap_parts_s, look_around
from advisor.walk.records import NONE, Array, Behaviour, Change, Ints, Limits, Track, Trail
from advisor.walk.speech import Speech, speech, usual_limits

DRAWS = 200
"""Draws of a walk; each takes the levels and the client's timing anew."""


LEAST_S = 2.0
"""A node that is the best one for less than this is passed over."""
EARLY_S = 5.0
"""A change this much before a crossing still belongs to it."""


@dataclass(frozen=True)
class Course:
    """A walk (or a call at a desk) with its typical course and its draws."""

    trail: Trail
    client: Behaviour
    track: Track
    """The typical course: one row, medians alone."""
    call: Speech
    tracks: Track
    """The draws."""
    calls: Speech
    limits: Limits

    @property
    def changes(self) -> tuple[Change, ...]:
        return self.track.changes[0]

    @property
    def drop_chance(self) -> float:
        return float(np.mean(self.calls.dropped))

    def gap_chance(self, ms: float) -> float:
        """Chance of at least one gap of this length."""
        return float(np.mean(self.calls.longest_s * 1e3 >= ms - 1e-6))

    @property
    def worst_mos(self) -> tuple[float, float, float]:
        """The worst window's MOS: 10, 50 and 90 % points."""
        low, mid, high = np.quantile(self.calls.worst_mos, (0.1, 0.5, 0.9), method="hazen").tolist()
        return low, mid, high

    @property
    def longest_ms(self) -> tuple[float, float, float]:
        """The longest gap: 10, 50 and 90 % points."""
        low, mid, high = (np.quantile(self.calls.longest_s, (0.1, 0.5, 0.9), method="hazen") * 1e3).tolist()
        return low, mid, high

    @property
    def node_changes(self) -> float:
        """Changes of node on a walk, on average; changes of band on one node count apart."""
        return float(np.mean([sum(self._other_node(change) for change in row) for row in self.tracks.changes]))

    @property
    def band_changes(self) -> float:
        return float(np.mean([sum(not self._other_node(change) for change in row) for row in self.tracks.changes]))

    def _other_node(self, change: Change) -> bool:
        if NONE in (change.from_radio, change.to_radio):
            return True
        return self.trail.radios[change.from_radio].node != self.trail.radios[change.to_radio].node

    @property
    def time_on(self) -> dict[str, float]:
        """Share of the time on each radio, over all draws; `nothing` for the rest."""
        counts = Counter(self.tracks.serving.ravel().tolist())
        total = self.tracks.serving.size
        names = {number: radio.name for number, radio in enumerate(self.trail.radios)} | {NONE: "nothing"}
        found = {names[number]: round(count / total, 4) for number, count in counts.items()}
        return dict(sorted(found.items(), key=lambda entry: (-entry[1], entry[0])))

    @property
    def where_gaps(self) -> tuple[tuple[str, float], ...]:
        """Stretches of the way with the share of draws in which an audible gap begins there, the worst first."""
        audible = self.limits.audible_ms / 1e3
        counts: Counter[str] = Counter()
        for row in self.calls.gaps:
            for told in {self._stretch(gap.at_s) for gap in row if gap.seconds >= audible}:
                counts[told] += 1
        found = [(told, round(count / len(self.calls.gaps), 3)) for told, count in counts.items()]
        return tuple(sorted(found, key=lambda entry: (-entry[1], entry[0])))

    def _stretch(self, at_s: float) -> str:
        return self.trail.points[min(round(at_s / self.trail.step_s), len(self.trail.points) - 1)]

    def stretch_at(self, at_s: float) -> str:
        return self._stretch(max(at_s, 0.0))


def course_of_walk(book: Book, walk: str, draws: int = DRAWS) -> Course:
    """The course of a walk, computed once for a book."""
    entry = book.site.walks[walk]

    def compute() -> Course:
        return _course(trail_of_walk(book, walk), behaviour(book, entry.client, entry.traffic_class), book, draws)

    return book.once(("course", walk, draws), compute)


def course_of_place(book: Book, place: str, draws: int = DRAWS) -> Course:
    """The course of a call made at a place without walking, for a minute."""
    entry = book.site.places[place]

    def compute() -> Course:
        return _course(trail_of_place(book, place), behaviour(book, entry.client, entry.traffic_class), book, draws)

    return book.once(("course at", place, draws), compute)


def _course(trail: Trail, client: Behaviour, book: Book, draws: int) -> Course:
    typical = Chance(book.draws.seed, 1, typical=True)
    track = follow(trail, client, typical)
    tracks = follow(trail, client, Chance(book.draws.seed, draws))
    limits = limits_of(book)
    told = (speech(each, trail.step_s, limits) for each in (track, tracks))
    return Course(trail, client, track, next(told), tracks, next(told), limits)


def limits_of(book: Book) -> Limits:
    """From when on a call counts as disturbed: as the file says, else as usual."""
    given = book.site.calls.model_dump(exclude_none=True)
    return replace(usual_limits(), **given)


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where on the way the best radio of one node gives way to that of another."""

    at_s: float
    where: str
    from_radio: str
    to_radio: str
    level_dbm: float
    """Level of both where they cross."""
    overlap_s: float
    """How long both are strong enough for calls, around the crossing."""
    needed_s: float
    """How long the client takes from falling below its level to having changed, typically."""
    left_at_s: float | None
    """When the client typically changes between the two nodes; None where it never does."""


def crossings(course: Course) -> tuple[Crossing, ...]:
    """Every crossing of the two best nodes on the way, by the strongest radio of each, without shadowing."""
    trail = course.trail
    nodes = sorted({radio.node for radio in trail.radios})
    if len(nodes) < 2:
        return ()
    best = {node: _strongest(trail, node) for node in nodes}
    table = np.stack([trail.level_dbm[best[node], np.arange(len(trail.times_s))] for node in nodes])
    first = _settled(table.argmax(axis=0), max(round(LEAST_S / trail.step_s), 1))
    steps = np.flatnonzero(np.diff(first)).tolist()
    found = []
    for step, after in zip(steps, [*steps, len(first) - 1][1:], strict=True):
        old, new = nodes[first[step]], nodes[first[step + 1]]
        left, right = int(best[old][step]), int(best[new][step + 1])
        until_s = float(trail.times_s[after])
        found.append(_crossing(course, step + 1, left, right, table[first[step]], table[first[step + 1]], until_s))
    return tuple(found)


def _settled(best: Ints, least: int) -> Ints:
    """Which node is best at every step; one that is so for a moment only is passed over."""
    settled = best.copy()
    edges = [0, *(np.flatnonzero(np.diff(best)) + 1).tolist(), len(best)]
    for start, end in pairwise(edges):
        if end - start < least and start > 0:
            settled[start:end] = settled[start - 1]
    return settled


def _strongest(trail: Trail, node: str) -> Array:
    """Number of the strongest radio of a node at every step."""
    own = [number for number, radio in enumerate(trail.radios) if radio.node == node]
    strongest: Array = np.array(own)[trail.level_dbm[own].argmax(axis=0)]
    return strongest


def _crossing(course: Course, step: int, left: int, right: int, old: Array, new: Array, until_s: float) -> Crossing:
    trail, client = course.trail, course.client
    floor = float(call_level_dbm())
    both = (old >= floor) & (new >= floor)
    overlap = 0.0
    if both[step]:
        start = step
        while start > 0 and both[start - 1]:
            start -= 1
        end = step
        while end + 1 < len(both) and both[end + 1]:
            end += 1
        overlap = (end - start + 1) * trail.step_s
    here, there = trail.radios[left], trail.radios[right]
    half = np.full(1, 0.5)
    terms = dict.fromkeys(TERMS, half)
    known = here if here.names & there.names else None
    margin = np.array([max(trail.margin_db[right, step], 0.0)])
    gap = sum(float(part[0]) for part in gap_parts_s(client, known, there, margin, terms).values())
    after = float(catalogue("walking")["look"][client.stickiness]["after_s"])
    needed = after + float(look_around(client, here, trail.radios, half).seconds[0]) + gap
    left_at = next(
        (
            change.at_s
            for change in course.changes
            if NONE not in (change.from_radio, change.to_radio)
            and trail.times_s[step] - EARLY_S <= change.at_s <= until_s
            and trail.radios[change.from_radio].node == here.node
            and trail.radios[change.to_radio].node == there.node
        ),
        None,
    )
    return Crossing(
        float(trail.times_s[step]), trail.points[step], here.name, there.name, round(float(old[step]), 1),
        round(overlap, 1), round(needed, 2), left_at,
    )  # fmt: skip


def call_level_dbm() -> float:
    """Level calls want at a client."""
    return float(catalogue("ranges")["uses"]["call_level_dbm"]["value"])
