"""Who may join a radio: the clients of places and walks, and the nodes whose uplinks run over it."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import joins, links, reach, receiving
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import setting
from advisor.facts.receiving import LEGACY, WIDEST_MHZ
from advisor.network.graph import Hop
from advisor.network.inventory import ClientUnit, RadioUnit
from advisor.network.joining import joining
from advisor.subjects import Subject
from advisor.trace import Fact, Looked, derive, formula, unknown
from advisor.values import CENTRE, Unknown, constant

CALLS = ("voice", "video-call")
"""Traffic of a walk that is a call."""


def clients_near(book: Book, radio: RadioUnit) -> list[tuple[str, ClientUnit, bool]]:
    """Places near enough to a radio with a client that can join it: the place, the client, and whether it calls.

    Walks count at the places they pass, with their own client kind.
    """

    def compute() -> list[tuple[str, ClientUnit, bool]]:
        found: list[tuple[str, ClientUnit, bool]] = []
        if not radio.serves_clients:
            return found
        for place, entry in sorted(book.site.places.items()):
            if radio.name in reach.reachable(book, place) and joins.joining_of(book, place, radio.name).networks:
                found.append((place, book.inventory.clients[entry.client], entry.calls > 0))
        for _, walk in sorted(book.site.walks.items()):
            client = book.inventory.clients[walk.client]
            if not joining(book.site, client, radio).networks:
                continue
            passed = [point for point in walk.points if isinstance(point, str)]
            near = [point for point in dict.fromkeys(passed) if radio.name in reach.reachable(book, point)]
            found += [(place, client, walk.traffic in CALLS) for place in near]
        return found

    return book.lasting(("clients_near", radio.name), compute)


def uplinks_over(book: Book, radio: RadioUnit) -> list[RadioUnit]:
    """The radios at the other end of every hop that runs over a radio, or may run."""
    ways: list[Hop] = [*book.hops.values(), *(way for ways in book.options.values() for way in ways)]
    ends = [(hop.radio, hop.parent_radio) for hop in ways if hop.air and radio.name in (hop.radio, hop.parent_radio)]
    names = sorted({str(end) for pair in ends for end in pair if end != radio.name})
    return [book.radios[name] for name in names]


@fact(
    "serves_calls",
    about="radio",
    unit="",
    type="boolean",
    meaning="true when calls are made at places, or on walks past places, whose client may hold on to it",
)
def serves_calls(book: Book, subject: Subject) -> Fact:
    radio = book.inventory.radios[subject.ids[0]]
    key = f"serves_calls[{subject.key}]"
    calls = any(place.calls for place in book.site.places.values())
    calls = calls or any(walk.traffic in CALLS for walk in book.site.walks.values())
    if calls and radio.serves_clients and not book.site.networks:
        return unknown(key, "", "the networks of the site (networks)")
    callers = dict.fromkeys(place for place, _, calling in clients_near(book, radio) if calling)
    holding, missing = [], []
    for place in callers:
        link = links.to_place(place, radio.name)
        holds = receiving.holds(book, link)
        if holds is None:
            level = links.level_dbm(book, link, "down")
            missing += list(level.value.missing) if isinstance(level.value, Unknown) else []
        elif bool(np.ravel(holds)[CENTRE]):
            holding.append(place)
    if missing and not holding:
        return unknown(key, "", *dict.fromkeys(missing))
    told = ", ".join(holding)
    how = f"calls at places within reach: {told}" if told else "no calls within reach of it"
    return Fact(key, "", constant(bool(holding)), Looked(how))


@fact(
    "users_to_join",
    about="radio",
    unit="",
    digits=0,
    meaning="kinds of clients near enough that may join it, and radios whose uplink runs over it",
)
def users_to_join(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    key = f"users_to_join[{subject.key}]"
    others = uplinks_over(book, radio)
    if radio.serves_clients and not book.site.networks and not others:
        return unknown(key, "", "the networks of the site (networks)")
    names = sorted({client.id for _, client, _ in clients_near(book, radio)}) + [other.name for other in others]
    how = "near enough and able to join: " + (", ".join(names) or "nobody")
    return Fact(key, "", constant(float(len(names))), Looked(how))


@formula(
    id="clientele.widest_mhz",
    unit="MHz",
    expr="max over the users of min(width of the user, widest of its amendment in the band)",
    source="IEEE 802.11-2020: two ends use the wider channel only where both can",
)
def widest(**widths: Any) -> Any:
    return float(max(widths.values()))


@fact(
    "widest_user_mhz",
    about="radio",
    unit="MHz",
    digits=0,
    meaning="widest channel any client near enough, or radio with its uplink there, can use with it",
)
def widest_user(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    key = f"widest_user_mhz[{subject.key}]"
    users = {client.id: client for _, client, _ in clients_near(book, radio)}
    facts: list[Fact] = []
    for name, client in sorted(users.items()):
        width = setting(f"width_mhz[client={name}]", "MHz", client.settings["width_mhz"])
        usable = min(client.width_mhz, _most_mhz(client.standard, radio.band))
        facts.append(width._replace(value=constant(float(usable))))
    for other in uplinks_over(book, radio):
        facts.append(book.get("width_mhz", Subject("radio", (other.name,))))
    if not facts:
        return unknown(key, "MHz", "a client that may join it" if book.site.networks else "the networks of the site")
    return derive(key, widest, **{f"n_{index}": entry for index, entry in enumerate(facts)})


def _most_mhz(standard: str, band: str) -> int:
    """Widest channel of an amendment in a band; before 802.11n there was none but 20 MHz."""
    if standard in LEGACY:
        return 20
    return min(WIDEST_MHZ[standard], 40) if band == "2.4" else WIDEST_MHZ[standard]
