"""The hearing cut-off: pairs too far apart to matter are left out before anything is computed about them.

A pair is left out where even the 90 % point of its level, with the lowest loss of its known obstacles and the highest
power either end may have, stays under what is asked for. Plain floats, since a site of n radios has n² pairs.
"""

from __future__ import annotations

from math import inf, log10

from advisor.data import catalogue
from advisor.facts import links
from advisor.facts.book import Book
from advisor.facts.catalogue import part
from advisor.facts.draws import Z90
from advisor.facts.equipment import client_of
from advisor.facts.links import Link
from advisor.network.detour import WORTH_A_DETOUR_DB
from advisor.network.geometry import Between
from advisor.network.inventory import RadioUnit
from advisor.physics import materials, propagation
from advisor.subjects import Subject, place_radio

HEARING_DBM = -82.0
"""Start of a 20 MHz frame (IEEE 802.11-2020 clause 21.3.18.5): under this two radios do not wait for each other."""
JOINING_DBM = -100.0
"""Far under what the slowest rate needs (some -88 dBm on 20 MHz): radios above it are computed, so that one which does
not hold is told as such."""


def may_reach(book: Book, link: Link, least_dbm: float) -> bool:
    """Whether either end may be heard by the other at `least_dbm`; True where the distance is not known."""
    return best_case_dbm(book, link) >= least_dbm


def best_case_dbm(book: Book, link: Link) -> float:
    """The level a link reaches with luck, as described above; infinite where nobody knows the distance."""
    spread = links.spread_db(book, link)[0]
    measured = links.measured_level(book, link)
    if measured is not None:
        return float(measured[1].raw) + Z90 * spread
    way = links.between(book, link)
    if way is None:
        return inf
    radio = links.upper_of(book, link)
    return _loudest_dbm(book, link) - _least_loss_db(book, radio, way) + Z90 * spread


def _least_loss_db(book: Book, radio: RadioUnit, way: Between) -> float:
    distance = max(way.rooms.least_m if way.rooms else way.distance_m, propagation.NEAREST_M)
    frequency = links.frequency_mhz(radio)
    free = 20.0 * log10(distance * frequency) - 27.55
    if way.rooms is not None:
        return free + way.rooms.loss.low
    known = sum(count * materials.construction_loss(name, radio.band).low_db for name, count in way.through)
    if way.floor is not None and any(edge.gaps for edge in book.building.edges(way.floor)):
        known = min(known, WORTH_A_DETOUR_DB)
    if way.complete:
        return free + known
    values = propagation.surroundings(book.site.site.environment, radio.band)
    floors = values.first_floor_db + values.further_floor_db * (way.floors - 1) if way.floors > 0 else 0.0
    undrawn = 20.0 * log10(frequency) + values.power_coefficient * log10(distance) + floors - 28.0 - free
    return free + max(known, undrawn, 0.0)


def _loudest_dbm(book: Book, link: Link) -> float:
    """The larger of both directions' power with the receiver's antenna gain."""
    radio = links.upper_of(book, link)
    if link.lower_kind == "place":
        client = client_of(book, link.lower)
        other_eirp, other_gain = client.conducted_dbm + client.antenna_dbi, client.antenna_dbi
    else:
        lower = book.inventory.radios[link.lower]
        other_eirp, other_gain = _highest_eirp_dbm(lower), lower.antenna_dbi
    return float(max(_highest_eirp_dbm(radio) + other_gain, other_eirp + radio.antenna_dbi))


def _highest_eirp_dbm(radio: RadioUnit) -> float:
    if radio.eirp_dbm is not None:
        return float(radio.eirp_dbm)
    if radio.conducted_dbm is not None:
        return float(radio.conducted_dbm + radio.antenna_dbi)
    return float(catalogue("ranges")["power"]["eirp_dbm"][radio.band]["high"])


MOST_RADIOS = 8
"""Radios of each band a place looks at: the strongest ones …"""
MOST_NODES = 24
"""… of the nodes nearest in a straight line."""


@part("subjects place-radio")
def places_and_radios(book: Book) -> list[Subject]:
    """Every place with each radio near enough to matter."""
    return [place_radio(name, radio) for name in sorted(book.site.places) for radio in reachable(book, name)]


def reachable(book: Book, place: str) -> list[str]:
    """Radios near enough to matter, or whose distance nobody knows: of each band the strongest few."""

    def compute() -> list[str]:
        ranked: dict[str, list[tuple[float, str]]] = {}
        near = set(book.building.nearest_nodes(place, MOST_NODES))
        for name, radio in book.inventory.radios.items():
            if radio.node not in near:
                continue
            level = best_case_dbm(book, links.to_place(place, name))
            if level >= JOINING_DBM:
                ranked.setdefault(radio.band, []).append((-level, name))
        return sorted(name for entries in ranked.values() for _, name in sorted(entries)[:MOST_RADIOS])

    return book.lasting(("reachable", place), compute)
