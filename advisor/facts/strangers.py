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
from advisor.values import Cases, constant, from_cases

PACKET_BITS = 12_500.0
"""A packet of 1500 bytes with its headers on the air."""
MOST_PACKETS = 42
"""Packets of 1500 bytes in a frame of 65535 bytes, what any gear takes (IEEE 802.11-2020 9.4.2.55)."""
OVERHEAD_US = 88.0
"""Preamble, SIFS and answer of a frame in 5 GHz, within a tenth of it elsewhere."""


class Stranger(NamedTuple):
    """A neighbour's network as a sender; its rate is counted as the busy share it has with the air to itself."""

    busy: Cases
    frame: Cases
    """What a full frame carries, in seconds of such small frames."""
    packet: Cases
    payload_us: Cases
    time: Cases
    """Share of the air its traffic takes in full frames, for each share of busy time."""


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
    packets = np.clip(np.floor((mac.longest_ppdu_us - OVERHEAD_US) / packet_us), 1, MOST_PACKETS)
    small_us = OVERHEAD_US + packet_us
    waits_us = mac.aifs_us(entry.band) + (WINDOW - 1) / 2.0 * SLOT_US
    return Stranger(
        busy=np.broadcast_to(np.asarray(share.raw, dtype=float), (size,)),
        frame=packets * small_us / 1e6,
        packet=small_us / 1e6,
        payload_us=packets * packet_us,
        time=(waits_us + OVERHEAD_US + packets * packet_us) / (packets * small_us),
    )


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
        taken = taken + one.busy * one.time * hearing.neighbour_share(radio, book.site.neighbours[name])
    interference = 1.0 - np.asarray(hearing.interference_at(book, cell, place))
    left = np.maximum(1.0 - taken, 1.0 / (1.0 + len(here))) * interference
    return np.asarray(left / np.maximum(1.0 - np.asarray(hearing.interference_at(book, cell)), 1e-3))
