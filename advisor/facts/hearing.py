"""Which own radios hear each other, and how busy other people keep the channel."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.facts import links
from advisor.facts.blocking import deafened_share, in_one_box, untold, untold_share
from advisor.facts.book import Book
from advisor.facts.catalogue import fact, part
from advisor.facts.equipment import assumption
from advisor.facts.reach import HEARING_DBM, may_reach, reachable
from advisor.network.contention import (
    channel_overlap,
    channels_within,
    contention,
    in_common,
    occupied_mhz,
    side,
    span_mhz,
)
from advisor.network.inventory import RadioUnit
from advisor.site.surroundings import Interference, Neighbour
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, Provenance, derive, formula, unknown
from advisor.values import GOOD, POOR, Cases, Known, Scalar, Unknown, constant, from_cases


@part("subjects radio-pair")
def pairs(book: Book) -> list[Subject]:
    """Pairs of radios of different nodes on one band that have to do with each other: they may hear each other, and
    their channels overlap (or are not known) or one place is within reach of both."""

    def compute() -> list[Subject]:
        meet = {pair for place in book.site.places for pair in combinations(reachable(book, place), 2)}
        by_band: dict[str, list[RadioUnit]] = {}
        for radio in book.inventory.radios.values():
            by_band.setdefault(radio.band, []).append(radio)
        return sorted(
            Subject("radio-pair", (min(mine.name, other.name), max(mine.name, other.name)))
            for radios in by_band.values()
            for index, mine in enumerate(radios)
            for other in radios[index + 1 :]
            if mine.node != other.node
            and ((mine.name, other.name) in meet or channel_overlap(mine, other) > 0)
            and in_reach(book, mine, other)
        )

    return book.lasting("radio-pairs", compute)


def in_reach(book: Book, mine: RadioUnit, other: RadioUnit) -> bool:
    """Whether two own radios may hear each other at all (the hearing cut-off)."""
    first, second = min(mine.name, other.name), max(mine.name, other.name)
    return book.lasting(
        ("in_reach", first, second), lambda: may_reach(book, links.to_radio(first, second), HEARING_DBM)
    )


@formula(
    id="hearing.louder_dbm",
    unit="dBm",
    expr="max(level one way, level the other way)",
    source="two radios share the air when either hears the other",
)
def louder(*, one: Any, other: Any) -> Any:
    return np.maximum(one, other)


@fact("heard_dbm", about="radio-pair", unit="dBm", digits=0, meaning="level at which two own radios hear each other")
def heard_dbm(book: Book, subject: Subject) -> Fact:
    first, second = subject.ids
    link = links.to_radio(first, second)
    return derive(
        f"heard_dbm[{subject.key}]",
        louder,
        one=links.level_dbm(book, link, "down"),
        other=links.level_dbm(book, link, "up"),
    )


@fact(
    "typically_heard_dbm",
    about="radio-pair",
    unit="dBm",
    digits=0,
    meaning="the typical level at which two own radios hear each other, without its band",
)
def typically_heard_dbm(book: Book, subject: Subject) -> Fact:
    told: Fact = heard_dbm(book, subject)
    key = f"typically_heard_dbm[{subject.key}]"
    if not isinstance(told.value, Known):
        return told._replace(key=key)
    return Fact(key, "dBm", constant(told.value.centre), Looked("the centre of the band"), (told,))


def unwanted(cases: Cases) -> Cases:
    """The same cases seen from whoever suffers: the strong end is the poor one."""
    turned = cases.copy()
    turned[[POOR, GOOD]] = turned[[GOOD, POOR]]
    return turned


def hears(book: Book, first: str, second: str) -> Any:
    """Whether two radios hear each other, in every case; taken as yes where nobody knows how far apart they are."""
    mine, other = book.inventory.radios[first], book.inventory.radios[second]
    if mine.node == other.node:
        return True
    if not in_reach(book, mine, other):
        return False
    level = book.get("heard_dbm", Subject("radio-pair", (min(first, second), max(first, second))))
    if not level.known:
        return True
    raw = level.raw
    strength = unwanted(raw) if isinstance(raw, np.ndarray) else raw
    return strength >= float(assumption("link", "carrier_sense_dbm", "dBm").raw)


def contending(book: Book) -> dict[tuple[str, str], Any]:
    """Pairs of cells that contend, with the share of the other's time that blocks mine; only cells in use count."""

    def compute() -> dict[tuple[str, str], Any]:
        used = {name: cell for name, cell in book.cells.items() if in_use(book, name)}
        found: dict[tuple[str, str], Any] = dict(
            contention(used, book.radios, lambda one, other: hears(book, one, other))
        )
        for one, other in list(found):
            if untold(book, one, other):
                found[one, other] = found[one, other] * untold_share(book, one, other)
        for (one, other), box in in_one_box(book).items():
            if one in used and other in used and (one, other) not in found:
                found[one, other] = found[other, one] = deafened_share(book, *box)
        return found

    return book.once("contending", compute)


def in_use(book: Book, radio: str) -> bool:
    return bool(book.get("in_use", Subject("radio", (radio,))).raw)


@fact(
    "channel_overlap",
    about="radio-pair",
    unit="",
    digits=2,
    meaning="what two channels have in common over the narrower of the two, 0 to 1",
)
def overlap(book: Book, subject: Subject) -> Fact:
    mine, other = (book.radios[name] for name in subject.ids)
    return _of_channels(
        book,
        f"channel_overlap[{subject.key}]",
        subject,
        lambda: channel_overlap(mine, other),
    )


@fact(
    "same_channel", about="radio-pair", unit="", type="boolean", meaning="true when both have the same primary channel"
)
def same_channel(book: Book, subject: Subject) -> Fact:
    mine, other = (book.radios[name] for name in subject.ids)
    return _of_channels(book, f"same_channel[{subject.key}]", subject, lambda: mine.channel == other.channel)


def _of_channels(book: Book, key: str, subject: Subject, compute: Callable[[], Scalar]) -> Fact:
    """Something two channels decide; unknown while one of them is."""
    channels = tuple(book.get("channel", Subject("radio", (name,))) for name in subject.ids)
    missing = [reason for entry in channels if isinstance(entry.value, Unknown) for reason in entry.value.missing]
    if missing:
        return unknown(key, "", *missing)
    return Fact(key, "", constant(compute()), Looked("channels and widths"), channels)


@fact(
    "joined_by_hop",
    about="radio-pair",
    unit="",
    type="boolean",
    meaning="true when a hop runs over the pair, or may run, which must then share a channel",
)
def joined_by_hop(book: Book, subject: Subject) -> Fact:
    ends = set(subject.ids)
    ways = [*book.hops.values(), *(way for options in book.options.values() for way in options)]
    joined = any({hop.radio, hop.parent_radio} == ends for hop in ways if hop.air)
    return Fact(f"joined_by_hop[{subject.key}]", "", constant(joined), Looked("the hops of the site"))


@fact("both_in_use", about="radio-pair", unit="", type="boolean", meaning="true when both radios are in use")
def both_in_use(book: Book, subject: Subject) -> Fact:
    used = all(book.get("in_use", Subject("radio", (name,))).raw for name in subject.ids)
    return Fact(f"both_in_use[{subject.key}]", "", constant(bool(used)), Looked("clients and hops"))


@fact("pair_band", about="radio-pair", unit="", type="class", meaning="band of the two radios in GHz")
def pair_band(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    return Fact(f"pair_band[{subject.key}]", "", constant(radio.band), Given(book.source.where(radio.path)))


def neighbour_share(radio: RadioUnit, neighbour: Neighbour) -> float:
    """Share of the neighbour's signal that falls into the radio's channel; 1 on the band while ours is not known."""
    if radio.band != neighbour.band:
        return 0.0
    span = span_mhz(radio)
    if span is None:
        return 1.0
    secondary = side(neighbour.secondary, neighbour.channel)
    theirs = occupied_mhz(neighbour.band, neighbour.channel, neighbour.width_mhz, secondary)
    return in_common(span, theirs)


def heard_neighbours(book: Book, radio: RadioUnit, ends: frozenset[str]) -> list[str]:
    """Neighbour networks that block this radio at any of these nodes or places: on its channel, above carrier sense."""
    return [
        key
        for key, neighbour in sorted(book.site.neighbours.items())
        if neighbour_share(radio, neighbour) > 0 and any(heard_at(book, neighbour, end) for end in ends)
    ]


def heard_at(book: Book, neighbour: Neighbour, end: str) -> bool:
    """Whether a node or place hears a neighbour above carrier sense.

    Without any level it is heard everywhere. Where levels are given for nodes, a node without one does not hear it;
    where they are given for places alone, the nodes hear it if any of those places does.
    """
    floor = float(assumption("link", "carrier_sense_dbm", "dBm").raw)
    if not neighbour.heard_dbm or end in neighbour.heard_dbm:
        return neighbour.heard_dbm.get(end, floor) >= floor
    if end in book.site.nodes and not any(name in book.site.nodes for name in neighbour.heard_dbm):
        return max(neighbour.heard_dbm.values()) >= floor
    return False


@formula(
    id="hearing.busy_share",
    unit="",
    expr="1 - product of (1 - busy share × channel overlap)",
    source="independent neighbours; common practice, no source",
)
def busy_of(**shares: Any) -> Any:
    free: Any = 1.0
    for share in shares.values():
        free = free * (1.0 - share)
    return 1.0 - free


def busy_share(book: Book, radio: RadioUnit, ends: frozenset[str], key: str) -> Fact:
    """Share of time neighbours and interference keep this radio's channel busy at these ends."""
    parts: dict[str, Fact] = {}
    for name in heard_neighbours(book, radio, ends):
        neighbour = book.site.neighbours[name]
        share = neighbour_share(radio, neighbour)
        parts[f"n_{len(parts)}"] = declared_share(
            book, f"neighbours.{name}.busy_share", neighbour.busy_share, "busy_share", share
        )
    for name, source in sorted(book.site.interference.items()):
        if hits(source, radio, ends):
            parts[f"n_{len(parts)}"] = declared_share(
                book, f"interference.{name}.duty_share", source.duty_share, "duty_share", 1.0
            )
    if not parts:
        return Fact(
            key,
            "",
            constant(0.0),
            Looked("nothing declared on this channel is heard here"),
        )
    return derive(key, busy_of, **parts)


def interference_at(book: Book, cell: str, place: str | None = None) -> Any:
    """Share of a cell's air that interference takes at any of its nodes, or at a place, in every case."""
    ends = book.cells[cell].nodes | ({place} if place else set())
    free: Any = 1.0
    for name, source in sorted(book.site.interference.items()):
        if hits(source, book.radios[cell], ends):
            path = f"interference.{name}.duty_share"
            free = free * (1.0 - np.asarray(declared_share(book, path, source.duty_share, "duty_share", 1.0).raw))
    return 1.0 - free


def hits(source: Interference, radio: RadioUnit, ends: frozenset[str]) -> bool:
    """Whether interference falls on any part of the radio's channel at any of these nodes or places."""
    near = not source.near or bool(ends & set(source.near))
    hit = not source.channels or radio.channel is None or bool(channels_within(radio) & set(source.channels))
    return source.band == radio.band and near and hit


def declared_share(book: Book, path: str, declared: float | None, kind: str, weight: float) -> Fact:
    """A share of time as declared, else the usual range of its kind, times how far it counts here."""
    if declared is not None:
        return Fact(path, "", constant(declared * weight), Given(book.source.where(path)))
    ranges = catalogue("ranges")["neighbours"]
    row = ranges[kind]
    cases = book.draws.between(row["low"], row["typical"], row["high"], path, more_is_better=False)
    name = path.split(".")[1]
    told = f"{name} keeps its channel busy for {row['low']:.0%} to {row['high']:.0%} of the time"
    by: Provenance = Assumed(told, ranges["source"])
    return Fact(path, "", from_cases(np.clip(cases, 0.0, 0.95) * weight), by)


@fact(
    "busy_share",
    about="radio",
    unit="",
    digits=2,
    meaning="share of time neighbours and interference keep its channel busy where it stands",
)
def radio_busy(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    cell = book.cells[radio.name]
    return busy_share(book, radio, cell.nodes, f"busy_share[{subject.key}]")


@fact(
    "neighbours_heard",
    about="radio",
    unit="",
    digits=0,
    meaning="neighbour networks on its channel above carrier sense",
)
def neighbours_heard(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    heard = heard_neighbours(book, radio, frozenset({radio.node}))
    how = "heard: " + (", ".join(heard) or "none")
    return Fact(f"neighbours_heard[{subject.key}]", "", constant(float(len(heard))), Looked(how))


@fact(
    "neighbours_in_band",
    about="radio",
    unit="",
    digits=0,
    meaning="neighbour networks anywhere in its band above carrier sense",
)
def neighbours_in_band(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    heard = [
        key
        for key, entry in sorted(book.site.neighbours.items())
        if entry.band == radio.band and heard_at(book, entry, radio.node)
    ]
    how = "heard: " + (", ".join(heard) or "none")
    return Fact(f"neighbours_in_band[{subject.key}]", "", constant(float(len(heard))), Looked(how))


def busy_fact(book: Book, cell: str, place: str | None = None) -> Fact:
    """Busy share of a cell, with what the place hears where one is named."""
    ends = book.cells[cell].nodes | (frozenset({place}) if place else frozenset())
    return book.once(
        ("busy", cell, ends), lambda: busy_share(book, book.radios[cell], ends, f"busy_share[domain={cell}]")
    )
