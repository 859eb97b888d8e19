"""Facts about a call made while walking: gaps, call quality, changes, and where one node gives way to the next.

They follow the client step by step, which takes a fraction of a second a walk: rules about them are judged on request.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.name_use import CALL_TRAFFIC
from advisor.facts.walks import DRAWS, Course, Crossing, course_of_walk, crossings
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, Simulated, unknown
from advisor.values import FIRST_DRAW, Known, constant, from_cases

FAR_DB = 10.0
"""A radio this much weaker than another that would do is a far one."""


def course(book: Book, walk: str) -> Course:
    return course_of_walk(book, walk)


def missing_for(book: Book, walk: str) -> tuple[str, ...]:
    """What the file would have to give before the walk can be followed."""
    way = course(book, walk).trail
    if way.missing:
        return way.missing
    if way.radios and not np.isfinite(way.level_dbm).any(axis=0).all():
        return (f"where the points of {walk} are, or how far from a node (walks.{walk}.points, places)",)
    return ()


def _known(book: Book, subject: Subject, name: str, unit: str, typical: float, drawn: Any) -> Fact:
    """A figure of the walk: typical, and one for each draw."""
    key = f"{name}[{subject.key}]"
    cases = np.concatenate((np.full(FIRST_DRAW, typical), np.asarray(drawn, dtype=float)))
    if len(cases) > FIRST_DRAW:
        cases[1], cases[2] = np.quantile(cases[FIRST_DRAW:], (0.1, 0.9), method="hazen")
    return Fact(key, unit, from_cases(cases, joint=True), Simulated(DRAWS, book.draws.seed))


def _of_course(book: Book, subject: Subject, name: str, unit: str, pick: Any) -> Fact:
    walk = subject.ids[0]
    missing = missing_for(book, walk)
    if missing:
        return unknown(f"{name}[{subject.key}]", unit, *missing)
    own = course(book, walk)
    return _known(book, subject, name, unit, *pick(own))


@fact("spoken", about="walk", unit="", type="boolean", meaning="true when somebody is on a call while walking there")
def spoken(book: Book, subject: Subject) -> Fact:
    by = Given(book.source.where(f"walks.{subject.ids[0]}.traffic"))
    held = book.site.walks[subject.ids[0]].traffic in CALL_TRAFFIC
    return Fact(f"spoken[{subject.key}]", "", constant(held), by)


@fact("longest_gap_ms", about="walk", unit="ms", digits=0, meaning="longest time on the walk in which nothing passes")
def longest_gap(book: Book, subject: Subject) -> Fact:
    return _of_course(
        book, subject, "longest_gap_ms", "ms",
        lambda own: (float(own.call.longest_s[0]) * 1e3, own.calls.longest_s * 1e3),
    )  # fmt: skip


@fact("worst_mos", about="walk", unit="", digits=1, meaning="call quality (MOS) in the worst eight seconds of the walk")
def worst_mos(book: Book, subject: Subject) -> Fact:
    return _of_course(
        book, subject, "worst_mos", "", lambda own: (float(own.call.worst_mos[0]), own.calls.worst_mos)
    )  # fmt: skip


@fact(
    "call_kept",
    about="walk",
    unit="",
    digits=0,
    meaning="1 where a call on the walk has no gap of 300 ms and no poor eight seconds, else 0; judged by its chance",
)
def call_kept(book: Book, subject: Subject) -> Fact:
    def kept(own: Course) -> tuple[float, Any]:
        typical, drawn = (
            (call.longest_s * 1e3 < own.limits.long_ms) & (call.worst_mos >= own.limits.mos) & ~call.dropped
            for call in (own.call, own.calls)
        )
        return float(typical[0]), drawn

    return _of_course(book, subject, "call_kept", "", kept)


@fact("node_changes", about="walk", unit="", digits=1, meaning="changes of node on the walk, on average")
def node_changes(book: Book, subject: Subject) -> Fact:
    return _plain(book, subject, "node_changes", "", lambda own: own.node_changes)


@fact("band_changes", about="walk", unit="", digits=1, meaning="changes of band on one and the same node, on average")
def band_changes(book: Book, subject: Subject) -> Fact:
    return _plain(book, subject, "band_changes", "", lambda own: own.band_changes)


@fact(
    "far_share",
    about="walk",
    unit="",
    digits=2,
    meaning="share of the walk on a radio 10 dB weaker than that of another node under the same name",
)
def far_share(book: Book, subject: Subject) -> Fact:
    return _plain(book, subject, "far_share", "", _far_share)


def _far_share(own: Course) -> float:
    trail, serving = own.trail, own.tracks.serving
    share = 0
    for number, radio in enumerate(trail.radios):
        others = [
            index
            for index, other in enumerate(trail.radios)
            if other.node != radio.node and other.names & radio.names and other.band != "2.4"
        ]
        if others:
            better = trail.level_dbm[others].max(axis=0) >= trail.level_dbm[number] + FAR_DB
            share += int(np.count_nonzero((serving == number) & better))
    return share / serving.size if serving.size else 0.0


def _plain(book: Book, subject: Subject, name: str, unit: str, pick: Any) -> Fact:
    """A figure over all draws at once."""
    walk = subject.ids[0]
    missing = missing_for(book, walk)
    if missing:
        return unknown(f"{name}[{subject.key}]", unit, *missing)
    value = round(float(pick(course(book, walk))), 4)
    return Fact(f"{name}[{subject.key}]", unit, constant(value), Simulated(DRAWS, book.draws.seed))


def _shared(book: Book, walk: str) -> list[Crossing]:
    """Crossings of nodes that share a name: those at which the client should change."""
    own = course(book, walk)
    names = {radio.name: radio.names for radio in own.trail.radios}
    return [entry for entry in crossings(own) if names[entry.from_radio] & names[entry.to_radio]]


@fact("crossings", about="walk", unit="", digits=0, meaning="places where a node gives way to another of the same name")
def crossing_count(book: Book, subject: Subject) -> Fact:
    return _plain(book, subject, "crossings", "", lambda own: len(_shared(book, subject.ids[0])))


def _of_crossings(book: Book, subject: Subject, name: str, unit: str, pick: Any) -> Fact:
    """A figure of the worst crossing; unknown where there is none."""
    walk = subject.ids[0]
    key = f"{name}[{subject.key}]"
    missing = missing_for(book, walk)
    found = [] if missing else [value for entry in _shared(book, walk) if (value := pick(entry)) is not None]
    if missing or not found:
        return unknown(key, unit, *(missing or ("a crossing of two nodes of one name on this way",)))
    return Fact(key, unit, constant(round(float(max(found)), 2)), Looked("the levels along the way, without shadowing"))


@fact(
    "changes_node",
    about="walk",
    unit="",
    type="boolean",
    meaning="true where the client typically changes node at a crossing of two nodes of one name",
)
def changes_node(book: Book, subject: Subject) -> Fact:
    key = f"changes_node[{subject.key}]"
    missing = missing_for(book, subject.ids[0])
    if missing:
        return unknown(key, "", *missing)
    done = any(entry.left_at_s is not None for entry in _shared(book, subject.ids[0]))
    return Fact(key, "", constant(done), Looked("the typical course of the walk"))


@fact("crossing_below_db", about="walk", unit="dB", digits=0, meaning="how far the weakest crossing is under -70 dBm")
def crossing_below(book: Book, subject: Subject) -> Fact:
    floor = float(catalogue("ranges")["uses"]["call_level_dbm"]["value"])
    return _of_crossings(book, subject, "crossing_below_db", "dB", lambda entry: floor - entry.level_dbm)


@fact(
    "overlap_lacks_s",
    about="walk",
    unit="s",
    digits=1,
    meaning="seconds by which the time two nodes are both strong falls short of what the client needs to change",
)
def overlap_lacks(book: Book, subject: Subject) -> Fact:
    return _of_crossings(
        book, subject, "overlap_lacks_s", "s", lambda entry: entry.needed_s - entry.overlap_s / 2.0
    )  # fmt: skip


@fact("late_by_s", about="walk", unit="s", digits=1, meaning="seconds after a crossing at which the client changes")
def late_by(book: Book, subject: Subject) -> Fact:
    return _of_crossings(
        book,
        subject,
        "late_by_s",
        "s",
        lambda entry: None if entry.left_at_s is None else entry.left_at_s - entry.at_s,
    )


@fact(
    "gaps_begin",
    about="walk",
    unit="",
    type="class",
    meaning="the stretch of the walk on which audible gaps begin most often; empty where there are none",
)
def gaps_begin(book: Book, subject: Subject) -> Fact:
    walk = subject.ids[0]
    key = f"gaps_begin[{subject.key}]"
    missing = missing_for(book, walk)
    if missing:
        return unknown(key, "", *missing)
    where = course(book, walk).where_gaps
    told = where[0][0] if where else ""
    return Fact(key, "", constant(told), Simulated(DRAWS, book.draws.seed))


@fact(
    "gap_spare_ms",
    about="need",
    unit="ms",
    digits=0,
    meaning="what the longest gap on the walk leaves of the interruption allowed; below 0 it is longer",
)
def gap_spare(book: Book, subject: Subject) -> Fact:
    need = book.site.needs[subject.ids[0]]
    key = f"gap_spare_ms[{subject.key}]"
    if need.walk is None or need.interruption_ms is None:
        return unknown(key, "ms", "a walk and an interruption (needs.….walk, interruption_ms)")
    gap: Fact = longest_gap(book, Subject("walk", (need.walk,)))
    if not isinstance(gap.value, Known):
        return gap._replace(key=key)
    return Fact(key, "ms", from_cases(need.interruption_ms - np.asarray(gap.raw), joint=True), gap.by, (gap,))


@fact("walk_mos", about="need", unit="", digits=1, meaning="call quality in the worst eight seconds of the need's walk")
def walk_mos(book: Book, subject: Subject) -> Fact:
    need = book.site.needs[subject.ids[0]]
    key = f"walk_mos[{subject.key}]"
    if need.walk is None:
        return unknown(key, "", "a walk (needs.….walk)")
    told: Fact = worst_mos(book, Subject("walk", (need.walk,)))
    return told._replace(key=key)


@fact("asks_for_gap", about="need", unit="", type="boolean", meaning="true when it limits gaps of a call on a walk")
def asks_for_gap(book: Book, subject: Subject) -> Fact:
    need = book.site.needs[subject.ids[0]]
    asked = need.walk is not None and need.interruption_ms is not None
    return Fact(f"asks_for_gap[{subject.key}]", "", constant(asked), Looked("the site file"))


@fact("asks_for_mos", about="need", unit="", type="boolean", meaning="true when it asks for a call quality on a walk")
def asks_for_mos(book: Book, subject: Subject) -> Fact:
    need = book.site.needs[subject.ids[0]]
    asked = need.walk is not None and need.mos is not None
    return Fact(f"asks_for_mos[{subject.key}]", "", constant(asked), Looked("the site file"))


@fact("mos_asked", about="need", unit="", digits=1, meaning="the call quality it asks for")
def mos_asked(book: Book, subject: Subject) -> Fact:
    value = book.site.needs[subject.ids[0]].mos
    key = f"mos_asked[{subject.key}]"
    path = f"needs.{subject.ids[0]}.mos"
    if value is None:
        return unknown(key, "", f"the call quality it asks for ({path})")
    return Fact(key, "", constant(value), Given(book.source.where(path)))
