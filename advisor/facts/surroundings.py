"""What a radio meets where it stands: other people's networks by how their channels lie to its own, interference, and
the air that beacons take."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from advisor.facts import hearing, rates
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.network.contention import channel_overlap, channels_within
from advisor.network.inventory import RadioUnit
from advisor.physics.airtime import beacon_share
from advisor.physics.mac import mac_settings
from advisor.site.surroundings import Neighbour
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, derive, formula, unknown
from advisor.values import CENTRE, Scalar, Unknown, constant

Chosen = Callable[[RadioUnit, Neighbour], bool]
SPOILING_DBM = -75.0
"""A neighbour that half overlaps is left out under this level: its noise then hardly matters beside a usual signal of
-65 dBm, which keeps some 10 dB and more above it after the overlap (common practice, no source)."""


def neighbours_met(book: Book, radio: RadioUnit) -> list[tuple[str, Neighbour]]:
    """Neighbour networks of the radio's band that its node hears, on whatever channel."""
    return [
        (key, entry)
        for key, entry in sorted(book.site.neighbours.items())
        if entry.band == radio.band and hearing.heard_at(book, entry, radio.node)
    ]


def _overlapping(radio: RadioUnit, neighbour: Neighbour) -> bool:
    """The channels have frequencies in common but not the primary channel, and it is loud enough to matter."""
    loud = neighbour.heard_dbm.get(radio.node, SPOILING_DBM) >= SPOILING_DBM
    return loud and neighbour.channel != radio.channel and hearing.neighbour_share(radio, neighbour) > 0


def _on_secondary(radio: RadioUnit, neighbour: Neighbour) -> bool:
    return neighbour.channel in channels_within(radio) - {radio.channel}


def _on_primary(radio: RadioUnit, neighbour: Neighbour) -> bool:
    return neighbour.channel == radio.channel


def _counted(book: Book, subject: Subject, name: str, chosen: Chosen, *, words: bool = False) -> Fact:
    """How many of the neighbours met lie so, or which ones, in words; unknown where the radio's channel decides and is
    not known."""
    radio = book.radios[subject.ids[0]]
    key = f"{name}[{subject.key}]"
    met = neighbours_met(book, radio)
    channel = book.get("channel", subject)
    if met and isinstance(channel.value, Unknown):
        return unknown(key, "", *channel.value.missing)
    found = [f"{name} on channel {entry.channel}" for name, entry in met if chosen(radio, entry)]
    told = ", ".join(found) or "none"
    answer: Scalar = told if words else float(len(found))
    return Fact(
        key, "", constant(answer), Looked(f"neighbours heard at {radio.node}: {told}"), (channel,) if met else ()
    )


@fact(
    "half_overlapping_neighbours",
    about="radio",
    unit="",
    digits=0,
    meaning="neighbour networks heard there whose channel overlaps its own without having the same primary channel",
)
def half_overlapping(book: Book, subject: Subject) -> Fact:
    return _counted(book, subject, "half_overlapping_neighbours", _overlapping)


@fact(
    "half_overlapping_told",
    about="radio",
    unit="",
    type="class",
    meaning="the neighbour networks that overlap with another primary channel, in words",
)
def half_overlapping_told(book: Book, subject: Subject) -> Fact:
    return _counted(book, subject, "half_overlapping_told", _overlapping, words=True)


@fact(
    "neighbours_on_secondary",
    about="radio",
    unit="",
    digits=0,
    meaning="neighbour networks heard there whose primary channel lies in its channel beside its own primary",
)
def on_secondary(book: Book, subject: Subject) -> Fact:
    return _counted(book, subject, "neighbours_on_secondary", _on_secondary)


@fact(
    "on_secondary_told",
    about="radio",
    unit="",
    type="class",
    meaning="the neighbour networks whose primary channel lies in its secondary part, in words",
)
def on_secondary_told(book: Book, subject: Subject) -> Fact:
    return _counted(book, subject, "on_secondary_told", _on_secondary, words=True)


@fact(
    "neighbours_on_primary",
    about="radio",
    unit="",
    digits=0,
    meaning="neighbour networks heard there that have its own primary channel",
)
def on_primary(book: Book, subject: Subject) -> Fact:
    return _counted(book, subject, "neighbours_on_primary", _on_primary)


def _sources(book: Book, radio: RadioUnit) -> list[str]:
    here = frozenset({radio.node})
    return [name for name, source in sorted(book.site.interference.items()) if hearing.hits(source, radio, here)]


@fact(
    "interference_share",
    about="radio",
    unit="",
    digits=2,
    meaning="share of time declared interference is on its channel where it stands",
)
def interference_share(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    key = f"interference_share[{subject.key}]"
    names = _sources(book, radio)
    channel = book.get("channel", subject)
    if isinstance(channel.value, Unknown) and any(book.site.interference[name].channels for name in names):
        return unknown(key, "", *channel.value.missing)
    if not names:
        return Fact(key, "", constant(0.0), Looked("no interference is declared on this channel there"))
    parts = {
        f"n_{index}": hearing.declared_share(
            book, f"interference.{name}.duty_share", book.site.interference[name].duty_share, "duty_share", 1.0
        )
        for index, name in enumerate(names)
    }
    return derive(key, hearing.busy_of, **parts)


@fact(
    "interference_told",
    about="radio",
    unit="",
    type="class",
    meaning="the declared interference on its channel where it stands, in words",
)
def interference_told(book: Book, subject: Subject) -> Fact:
    names = _sources(book, book.radios[subject.ids[0]])
    notes = {name: book.site.interference[name].note for name in names}
    told = ", ".join(f"{name} ({note})" if note else name for name, note in notes.items()) or "none"
    return Fact(f"interference_told[{subject.key}]", "", constant(told), Looked("interference of the site file"))


@fact(
    "beacon_rate_mbps",
    about="radio",
    unit="Mb/s",
    digits=1,
    meaning="rate of its beacons: the lowest basic rate, as given or as usual in its band",
)
def beacon_rate(book: Book, subject: Subject) -> Fact:
    return rates.beacon_rate_mbps(book, book.inventory.radios[subject.ids[0]])


@fact(
    "names_announced",
    about="radio",
    unit="",
    digits=0,
    meaning="network names it sends beacons for; none where it carries only the traffic between nodes as an uplink",
)
def names_announced(book: Book, subject: Subject) -> Fact:
    return _announced(book, book.radios[subject.ids[0]])._replace(key=f"names_announced[{subject.key}]")


def _announced(book: Book, radio: RadioUnit) -> Fact:
    """Names a radio sends beacons for; a parent of other nodes announces at least one, declared or not."""
    children = len(book.cells[radio.name].members) > 1
    key = f"names_announced[radio={radio.name}]"
    if not radio.serves_clients and not children:
        return Fact(key, "", constant(0.0), Looked("it serves nobody"))
    names = rates.names_announced(book, radio)
    if not book.site.networks and not children:
        return unknown(key, "", "the networks of the site (networks)")
    least = 1.0 if children else 0.0
    return Fact(key, "", constant(max(float(names.raw), least)), Looked("network entries it carries"), (names,))


@formula(
    id="surroundings.beacon_share",
    unit="",
    expr="names * (beacon + SIFS + slot) / interval",
    source="IEEE 802.11-2020 11.1.3; length of a beacon of usual gear: common practice, no source",
)
def beacon_share_of(*, names: Any, band: str, beacon_mbps: float) -> Any:
    return beacon_share(band=band, mac=mac_settings("usual-gear").with_beacons_at(beacon_mbps), names=names)


@fact(
    "beacon_share",
    about="radio",
    unit="",
    digits=3,
    meaning="share of its air that the beacons of all its names take",
)
def beacon_share_fact(book: Book, subject: Subject) -> Fact:
    return derive(
        f"beacon_share[{subject.key}]",
        beacon_share_of,
        names=book.get("names_announced", subject),
        band=book.get("band", subject),
        beacon_mbps=book.get("beacon_rate_mbps", subject),
    )


@fact(
    "networks_in_band",
    about="radio",
    unit="",
    digits=0,
    meaning="most networks there can be on its channel: names of all own radios of the band, neighbours heard there",
)
def networks_in_band(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    key = f"networks_in_band[{subject.key}]"
    own = [_announced(book, other) for other in book.radios.values() if other.band == radio.band]
    missing = [reason for entry in own if isinstance(entry.value, Unknown) for reason in entry.value.missing]
    if missing:
        return unknown(key, "", *dict.fromkeys(missing))
    strangers = [name for name, _ in neighbours_met(book, radio)]
    count = sum(float(entry.raw) for entry in own) + len(strangers)
    how = f"own names on all radios of the band, and neighbours: {', '.join(strangers) or 'none'}"
    return Fact(key, "", constant(count), Looked(how), tuple(own))


@fact(
    "networks_beaconing",
    about="radio",
    unit="",
    digits=0,
    meaning="networks that send beacons on its channel where it stands: its own names, those of own radios heard "
    "there, and neighbours",
)
def networks_beaconing(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    key = f"networks_beaconing[{subject.key}]"
    mine = book.get("names_announced", subject)
    others = [
        other
        for other in book.radios.values()
        if other.name != radio.name
        and other.band == radio.band
        and channel_overlap(radio, other) > 0
        and bool(np.ravel(hearing.hears(book, radio.name, other.name))[CENTRE])
    ]
    own = [_announced(book, other) for other in others]
    met = bool(others) or bool(neighbours_met(book, radio))
    decide = [radio.name, *(other.name for other in others)] if met else []
    channels = [book.get("channel", Subject("radio", (name,))) for name in decide]
    missing = [entry for entry in (mine, *own, *channels) if isinstance(entry.value, Unknown)]
    if missing:
        return unknown(key, "", *dict.fromkeys(reason for entry in missing for reason in entry.value.missing))  # type: ignore[union-attr]
    strangers = hearing.heard_neighbours(book, radio, frozenset({radio.node}))
    how = f"own names here: {mine.raw:.0f}; of own radios heard on the channel: {sum(float(e.raw) for e in own):.0f}"
    how += "; neighbours: " + (", ".join(strangers) or "none")
    count = float(mine.raw) + sum(float(entry.raw) for entry in own) + len(strangers)
    return Fact(key, "", constant(count), Looked(how), (mine, *own))


@fact(
    "serves_clients",
    about="radio",
    unit="",
    type="boolean",
    meaning="true when clients may use it, false when it carries only the traffic between nodes",
)
def serves_clients(book: Book, subject: Subject) -> Fact:
    radio = book.inventory.radios[subject.ids[0]]
    by = Given(book.source.where(f"{radio.path}.serves_clients"))
    return Fact(f"serves_clients[{subject.key}]", "", constant(radio.serves_clients), by)
