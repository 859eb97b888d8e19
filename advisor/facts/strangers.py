"""Neighbours' networks as senders: how long they want the air, and in frames of what length.

A busy channel is busy with small frames: whoever has the channel to himself sends what has come. Under contention more
comes while he waits, frames fill, and the same traffic takes less time. How much less hangs on the rate of his frames.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from advisor.data import catalogue
from advisor.facts import hearing
from advisor.facts.book import Book
from advisor.physics.mac import mac_settings
from advisor.physics.shared_air import SLOT_US, WINDOW
from advisor.trace import Assumed, Fact, Given, Provenance
from advisor.values import CENTRE, Cases, constant, from_cases

PACKET_BITS = 12_500.0
"""A packet of 1500 bytes with its headers on the air."""
MOST_PACKETS = 42
"""Packets of 1500 bytes in a frame of 65535 bytes, what any gear takes (IEEE 802.11-2020 9.4.2.55)."""
OVERHEAD_US = 88.0
"""Preamble, SIFS and answer of a frame in 5 GHz, within a tenth of it elsewhere."""


LONGEST_TURN_US = 5700.0
"""The longest frame (5484 us) with the silence, backoff and answer around it."""
HALVINGS, FILLS = 24, 24
"""Steps in which traffic is found from the share of busy time, and packets in a frame from the traffic."""


class Stranger(NamedTuple):
    """A neighbour's network as a sender; its rate is counted in packets a second."""

    packets_per_s: Cases
    """What it has to send."""
    frame: Cases
    """Packets of a full frame."""
    payload_us: Cases
    """How long they are on the air."""
    time: Cases
    """Share of the air that one packet a second takes in full frames."""


def rate_fact(book: Book, name: str) -> Fact:
    """PHY rate of a neighbour's data frames: as given, else the usual range."""
    path = f"neighbours.{name}.rate_mbps"
    declared = book.site.neighbours[name].rate_mbps
    if declared is not None:
        return Fact(path, "Mb/s", constant(declared), Given(book.source.where(path)))
    row = catalogue("ranges")["neighbours"]["rate_mbps"]
    drawn = book.draws.between(
        np.log(row["low"]), np.log(row["typical"]), np.log(row["high"]), path, more_is_better=True
    )
    told = f"{name} sends its frames at {row['low']:g} to {row['high']:g} Mb/s"
    by: Provenance = Assumed(told, str(catalogue("ranges")["neighbours"]["source"]))
    return Fact(path, "Mb/s", from_cases(np.exp(drawn)), by)


def stranger(book: Book, name: str) -> Stranger:
    """One neighbour's network."""
    return book.lasting(("stranger", name), lambda: _stranger(book, name))


def _stranger(book: Book, name: str) -> Stranger:
    entry, size = book.site.neighbours[name], book.draws.size
    share = hearing.declared_share(book, f"neighbours.{name}.busy_share", entry.busy_share, "busy_share", 1.0)
    mac = mac_settings("usual-gear")
    packet_us = PACKET_BITS / np.broadcast_to(np.asarray(rate_fact(book, name).raw, dtype=float), (size,))
    most = np.clip(np.floor((mac.longest_ppdu_us - OVERHEAD_US) / packet_us), 1, MOST_PACKETS)
    waits_us = mac.aifs_us(entry.band) + (WINDOW - 1) / 2.0 * SLOT_US
    busy = np.broadcast_to(np.asarray(share.raw, dtype=float), (size,))
    return Stranger(
        packets_per_s=_behind(busy, packet_us, most, waits_us),
        frame=most,
        payload_us=most * packet_us,
        time=(waits_us + OVERHEAD_US + most * packet_us) / most / 1e6,
    )


def _behind(busy: Cases, packet_us: Cases, most: Cases, waits_us: float) -> Cases:
    """Packets a second, coming at random, that keep the channel busy for this share of the time when nobody else sends:
    whoever is done waits for the next packet, or sends all that have come meanwhile."""
    low, high = np.zeros_like(packet_us), most / (waits_us + OVERHEAD_US + most * packet_us)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        share = _busy_share(middle, packet_us, most, waits_us)
        low, high = np.where(share < busy, middle, low), np.where(share < busy, high, middle)
    return np.asarray(1e6 * np.where(busy > 0, (low + high) / 2.0, 0.0))


def _busy_share(per_us: Cases, packet_us: Cases, most: Cases, waits_us: float) -> Cases:
    """Share of time a lone sender is on the air that so many packets reach."""
    packets = np.ones_like(packet_us)
    for _ in range(FILLS):
        turn_us = waits_us + OVERHEAD_US + packets * packet_us
        idle_us = np.exp(-per_us * turn_us) / np.maximum(per_us, 1e-12)
        packets = (packets + np.clip(per_us * (turn_us + idle_us), 1.0, most)) / 2.0
    return np.asarray(per_us / packets * (OVERHEAD_US + packets * packet_us))


def heard_in(book: Book, cell: str) -> list[str]:
    """Neighbours' networks that contend with a cell."""
    return hearing.heard_neighbours(book, book.radios[cell], book.cells[cell].nodes)


def quiet_share(book: Book, cell: str, place: str) -> Cases:
    """Of the air its cell leaves, the share a place leaves too, where it hears neighbours and interference the cell
    does not: the neighbours' turns in full frames, but no more than one turn for each of its own."""
    radio, ends = book.radios[cell], book.cells[cell].nodes
    here = set(hearing.heard_neighbours(book, radio, ends | {place})) - set(hearing.heard_neighbours(book, radio, ends))
    taken = np.zeros(book.draws.size)
    for name in sorted(here):
        one = stranger(book, name)
        taken = taken + one.packets_per_s * one.time * hearing.neighbour_share(radio, book.site.neighbours[name])
    interference = 1.0 - np.asarray(hearing.interference_at(book, cell, place))
    left = np.maximum(1.0 - taken, 1.0 / (1.0 + len(here))) * interference
    return np.asarray(np.maximum(left, 1e-3) / np.maximum(1.0 - np.asarray(hearing.interference_at(book, cell)), 1e-3))


def least_share(book: Book, name: str, senders: int) -> float:
    """Share of the air a neighbour takes at least, typically, beside so many senders whose frames are all as long as
    frames may be: what its traffic takes in full frames, or its turns among theirs."""
    one = stranger(book, name)
    wanted, frame = float(one.packets_per_s[CENTRE]), float(one.frame[CENTRE])
    turn_us = 1e6 * float(one.time[CENTRE]) * frame
    return min(wanted * float(one.time[CENTRE]), turn_us / (turn_us + senders * LONGEST_TURN_US))
