"""What one turn of a link on the air carries, and how long it lasts."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from advisor.facts import links, mac_use, receiving
from advisor.facts.book import Book
from advisor.facts.equipment import guard_ns
from advisor.facts.links import Link
from advisor.physics.airtime import Link as AirLink
from advisor.physics.airtime import Transport, filling, goodput_mbps, packet_bytes, payload_bits
from advisor.physics.mac import MacSettings
from advisor.physics.phy_rates import HIGHEST_MCS, MOST_STREAMS, is_combination_allowed
from advisor.physics.shared_air import Timing, alone_terms
from advisor.values import Cases

LEAST_MBPS = 0.05
"""A link under this does not hold: its clients get nothing and take no air."""


class Frames(NamedTuple):
    """Full frames of a link in one direction."""

    mbit: Cases
    """Application data of one, in Mbit, by case."""
    payload_us: Cases
    """How long it is on the air beside preamble and answer, so that the link alone gives its goodput."""
    packet_mbit: float
    overhead_us: float
    timing: Timing


def frames(book: Book, link: Link, direction: str, transport: str, goodput: Cases) -> Frames:
    """Full frames of a link that carries `goodput` alone, in Mb/s: as many packets as the frame takes at the rate that
    gives this goodput."""
    key = ("frames", link, direction, transport, goodput.tobytes())
    return book.lasting(key, lambda: _frames(book, link, transport, goodput))


def _frames(book: Book, link: Link, transport: str, found: Cases) -> Frames:
    radio = links.upper_of(book, link)
    standard, width, streams = (fact.raw for fact in receiving.abilities(book, link))
    guard, way = guard_ns(str(standard), radio), _transport(transport)
    full = mac_use.over_sets(
        book,
        radio,
        lambda mac: np.interp(found, *_carried(str(standard), radio.band, int(width), int(streams), guard, way, mac)),
    )
    mac = mac_use.usual_mac(radio)
    timing, overhead_us = _timing(radio.band, mac), _overhead_us(str(standard), radio.band, mac)
    fixed, stretched = alone_terms(tcp=way == "tcp", overhead_us=overhead_us, timing=timing)
    payload_us = np.maximum((1e6 * full / np.maximum(found, LEAST_MBPS) - fixed) / stretched, 1.0)
    return Frames(full, payload_us, payload_bits(way, mac) / 1e6, overhead_us, timing)


def _transport(name: str) -> Transport:
    return "udp" if name == "udp" else "tcp"


def _timing(band: str, mac: MacSettings) -> Timing:
    answer_us = _answer_us(band, mac)
    return Timing(float(mac.aifs_us(band)), answer_us, _REQUEST_US + answer_us)


_REQUEST_US = 28.0
"""A request for a block acknowledgement at 24 Mb/s (IEEE 802.11-2020 17.3)."""


@lru_cache(maxsize=64)
def _answer_us(band: str, mac: MacSettings) -> float:
    """SIFS and the block acknowledgement of a usual data rate."""
    return float(mac.sifs_us(band) + AirLink("n", band, 20, 7, 1, 800, mac).answer_us(2))


@lru_cache(maxsize=64)
def _overhead_us(standard: str, band: str, mac: MacSettings) -> float:
    """Preamble, SIFS and answer of a frame of many packets."""
    width = 20 if band == "2.4" else 80 if standard != "n" else 40
    preamble_us = float(AirLink(standard, band, width, 0, 1, 800, mac).data_frame_us(0.0))
    return preamble_us + _answer_us(band, mac)


@lru_cache(maxsize=256)
def _carried(
    standard: str, band: str, width_mhz: int, most_streams: int, guard_ns: int, transport: Transport, mac: MacSettings
) -> tuple[Any, Any]:
    """Goodput of every rate of a link, rising, and what a full frame carries at it."""
    every = np.arange(HIGHEST_MCS[standard] + 1)
    mcs, streams = (
        axis.ravel() for axis in np.meshgrid(every, np.arange(1, min(most_streams, MOST_STREAMS[standard]) + 1))
    )
    allowed = is_combination_allowed(standard=standard, width_mhz=width_mhz, mcs=mcs, streams=streams)
    mcs, streams = mcs[allowed], streams[allowed]
    link = AirLink(standard, band, width_mhz, mcs, streams, guard_ns, mac)
    packets = np.asarray(filling(link, packet_bytes(transport, mac)).packets, dtype=float)
    goodput = np.asarray(goodput_mbps(transport=transport, **link._asdict()))
    order = np.argsort(goodput, kind="stable")
    mbit = np.maximum.accumulate((packets * payload_bits(transport, mac) / 1e6)[order])
    return goodput[order], mbit
