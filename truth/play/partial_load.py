"""A busy cell beside a neighbour that is on the air only some of the time.

The neighbour's packets arrive at random (Poisson). While it waits for its turn more arrive, so under contention it
sends fuller frames and its airtime falls below what the same load takes alone: offered load and busy share are
different things. Below its fair share all of its load gets through; above, contention caps it.
"""

from __future__ import annotations

from typing import NamedTuple

from advisor.physics.airtime import Link, Transport, packet_bytes, payload_bits
from truth.play.cells import CELL_RADIUS_M, NODE_SPACING_M
from truth.play.streams import air_of, circle, left_by_beacons, packets_per_s, stream, tcp_streams
from truth.play.turns import SATURATED, play


class BesideNeighbour(NamedTuple):
    """What the busy cell and its neighbour get, Mb/s, and the packets the neighbour puts into a frame."""

    own_mbps: float
    neighbour_mbps: float
    neighbour_packets_per_frame: float


def beside_neighbour(
    own: Link,
    neighbour: Link,
    transport: Transport,
    *,
    neighbour_offered_mbps: float,
    turns: int = 16_000,
    seed: int = 1,
) -> BesideNeighbour:
    """A downlink that takes what it can get, and a neighbour's downlink of UDP datagrams at the offered load."""
    left = left_by_beacons([own, neighbour])
    if transport == "tcp":
        streams = tcp_streams(own, 0, 2, 0, waiting=SATURATED)
    else:
        streams = [stream(own, 0, 2, packet_bytes("udp", own.mac), waiting=SATURATED)]
    other = len(streams)
    if neighbour_offered_mbps > 0.0:
        per_s = packets_per_s(neighbour_offered_mbps, neighbour.mac) / left
        size = packet_bytes("udp", neighbour.mac)
        streams.append(stream(neighbour, 1, 3, size, per_s=per_s, random_arrivals=True))
    places = [*circle(2, NODE_SPACING_M), *circle(2, CELL_RADIUS_M)]
    outcome = play(air_of(own.mac, own.band), places, streams, turns=turns, warm_turns=turns // 8, seed=seed)
    own_mbps = outcome.per_s(0) * left * payload_bits(transport, own.mac) / 1e6
    if other == len(streams):
        return BesideNeighbour(own_mbps, 0.0, 0.0)
    other_mbps = outcome.per_s(other) * left * payload_bits("udp", neighbour.mac) / 1e6
    return BesideNeighbour(own_mbps, other_mbps, outcome.per_frame[other])


def neighbour_alone_mbps(neighbour: Link, *, offered_mbps: float, capacity_mbps: float) -> float:
    """What a neighbour gets through by itself: its load, or what its link carries."""
    return min(offered_mbps, capacity_mbps)
