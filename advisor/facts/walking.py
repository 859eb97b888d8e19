"""Facts about walks: which node the device joins at each place of the way, and whether one name covers the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.facts import joins, links, rates, reach, receiving
from advisor.facts.book import Book, key_of_name
from advisor.facts.catalogue import fact
from advisor.facts.names import odd_one_out
from advisor.network.joining import joining
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, unknown
from advisor.values import CENTRE, constant


@dataclass(frozen=True)
class Stop:
    """One place of a walk: the radio the walker's device joins there at the centre, and the names it can use on it."""

    place: str
    radio: str | None
    """None where no radio that holds can be joined."""
    names: frozenset[bytes]
    covered: bool
    """True when some radio holds there, joined or not."""
    missing: tuple[str, ...]


def places_of(book: Book, walk: str) -> list[str]:
    """The places of a walk in order, each once; points given as coordinates are left out."""
    return list(dict.fromkeys(point for point in book.site.walks[walk].points if isinstance(point, str)))


def names_for(book: Book, kind: str, radio: str) -> frozenset[bytes]:
    """Names for the site's own devices under which a client kind can join a radio."""
    answer = joining(book.site, book.inventory.clients[kind], book.inventory.radios[radio])
    nets = (book.site.networks[key] for key in answer.networks)
    return frozenset(net.octets for net in nets if net.purpose == "clients")


def stop(book: Book, kind: str, place: str) -> Stop:
    """Where a device of this kind is at a place. The levels are those of the device described there; which radio wins
    is decided as for a device that stays (the fastest of the strong ones)."""
    return book.lasting(("stop", kind, place), lambda: _stop(book, kind, place))


def _stop(book: Book, kind: str, place: str) -> Stop:
    found: list[tuple[float, float, str, frozenset[bytes]]] = []
    missing: list[str] = []
    covered = False
    for name in reach.reachable(book, place):
        link = links.to_place(place, name)
        level, rate, holds = links.level_dbm(book, link, "down"), rates.phy_rate_mbps(book, link, "down"), None
        if level.known and rate.known:
            holds = receiving.holds(book, link)
        if holds is None:
            gaps = level.value.missing if not level.known else rate.value.missing  # type: ignore[union-attr]
            missing += [reason for reason in gaps if reason not in missing]
            continue
        if not bool(np.ravel(holds)[CENTRE]):
            continue
        covered = True
        names = names_for(book, kind, name)
        if names:
            noise = joins.NOISE_DBM[book.inventory.radios[name].band]
            snr = float(np.ravel(level.raw)[CENTRE]) - noise
            found.append((snr, float(np.ravel(rate.raw)[CENTRE]), name, names))
    if not found:
        return Stop(place, None, frozenset(), covered, tuple(missing))
    best = min(max(snr for snr, _, _, _ in found), joins.GREAT_SNR_DB)
    alike = [entry for entry in found if min(entry[0], joins.GREAT_SNR_DB) >= best - joins.SIMILAR_DB]
    _, _, radio, names = max(alike, key=lambda entry: (round(entry[1], 1), round(entry[0], 1), entry[2]))
    return Stop(place, radio, names, True, ())


def stops(book: Book, walk: str) -> list[Stop]:
    return [stop(book, book.site.walks[walk].client, place) for place in places_of(book, walk)]


@fact("places_on_walk", about="walk", unit="", digits=0, meaning="places it leads past; bare coordinates do not count")
def places_on_walk(book: Book, subject: Subject) -> Fact:
    walk = subject.ids[0]
    by = Given(book.source.where(f"walks.{walk}.points"))
    return Fact(f"places_on_walk[{subject.key}]", "", constant(float(len(places_of(book, walk)))), by)


@fact(
    "one_name_all_along",
    about="walk",
    unit="",
    type="boolean",
    meaning="true when one name its device can use is offered by the nodes it joins at all places of the way",
)
def one_name_all_along(book: Book, subject: Subject) -> Fact:
    walk = subject.ids[0]
    key = f"one_name_all_along[{subject.key}]"
    if not book.site.networks:
        return unknown(key, "", "the networks of the site (networks)")
    way = stops(book, walk)
    gaps = [reason for stop in way for reason in stop.missing]
    if gaps:
        return unknown(key, "", *dict.fromkeys(gaps))
    covered = [stop for stop in way if stop.covered]
    shared = bool(frozenset.intersection(*(stop.names for stop in covered))) if covered else True
    return Fact(key, "", constant(shared), Looked(_in_words(book, way)))


@fact("names_along", about="walk", unit="", type="class", meaning="place by place, the node joined and its names")
def names_along(book: Book, subject: Subject) -> Fact:
    words = _in_words(book, stops(book, subject.ids[0]))
    return Fact(f"names_along[{subject.key}]", "", constant(words), Looked("levels and names at its places"))


def _in_words(book: Book, way: list[Stop]) -> str:
    told = []
    for stop in way:
        if stop.radio is None:
            told.append(f"{stop.place}: " + ("none it can join" if stop.covered else "no node holds"))
        else:
            names = ", ".join(sorted(key_of_name(name) for name in stop.names))
            told.append(f"{stop.place}: {book.inventory.radios[stop.radio].node} ({names})")
    return "; ".join(told)


@fact(
    "name_breaks_at",
    about="walk",
    unit="",
    type="class",
    meaning="key of the one node of the way that lacks the name the others share, if there is one",
)
def name_breaks_at(book: Book, subject: Subject) -> Fact:
    """Of two nodes it is the one that shares no name with any neighbouring node."""
    key = f"name_breaks_at[{subject.key}]"
    names: dict[str, frozenset[bytes]] = {}
    for stop in stops(book, subject.ids[0]):
        if stop.radio is not None:
            node = book.inventory.radios[stop.radio].node
            names[node] = names.get(node, stop.names) & stop.names
    if len(names) == 2:
        told: Fact = odd_one_out(book, Subject("node-pair", (min(names), max(names))))
        return told._replace(key=key)
    odd = [
        node
        for node in sorted(names)
        if len(names) > 2 and frozenset.intersection(*(own for other, own in names.items() if other != node))
    ]
    answer = f"node={odd[0]}" if len(odd) == 1 else ""
    return Fact(key, "", constant(answer), Looked("the names along the way"))
