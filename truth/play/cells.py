"""Cells that share one channel, and many clients in one cell.

Per-packet chances: every sender with something to send has the same chance of the next turn, so a slow cell takes more
time than a fast one (Heusse et al., INFOCOM 2003), softened where frames are limited by duration rather than bytes.
Downlink to many clients is one sender with one queue of frames for each; its acknowledgements come from all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from advisor.physics.airtime import Link, Transport, packet_bytes, payload_bits
from truth.play.streams import Place, air_of, circle, left_by_beacons, packets_per_s, stream, tcp_streams
from truth.play.turns import SATURATED, Outcome, Stream, play

CELL_RADIUS_M = 5.0
NODE_SPACING_M = 0.15
"""Access points of sharing cells stand together, their clients around them: any collision of two of them is lost."""


class Goodputs(NamedTuple):
    """Mb/s of application data of each flow, and how the turns went."""

    each_mbps: tuple[float, ...]
    outcome: Outcome

    @property
    def total_mbps(self) -> float:
        return sum(self.each_mbps)


def cells_sharing(
    links: Sequence[Link],
    transport: Transport,
    *,
    offered_mbps: Sequence[float | None] | None = None,
    turns: int | None = None,
    seed: int = 1,
) -> Goodputs:
    """Downlink flows of cells on one channel, all in hearing; None for a flow that takes what it can get.

    With two or more cells, their nodes stand within 0.3 m, their clients 5 m away on a circle. Cells that are alike
    (same link, same load) have the same expectation, so each is given the mean of them. `turns` defaults to 20 000 for
    each cell: shares of a few cells wander slowly.
    """
    count = len(links)
    offers = list(offered_mbps) if offered_mbps is not None else [None] * count
    left = left_by_beacons(list(links))
    streams: list[Stream] = []
    firsts = []
    for cell, (link, offer) in enumerate(zip(links, offers, strict=True)):
        firsts.append(len(streams))
        streams += _flow(link, cell, count + cell, transport, len(streams), offer, left)
    places = [*circle(count, NODE_SPACING_M), *circle(count, CELL_RADIUS_M)]
    played = _goodputs(links[0], places, streams, firsts, transport, left, turns or 20_000 * count, seed)
    kinds = list(zip(links, offers, strict=True))
    alike = [[rate for other, rate in zip(kinds, played.each_mbps, strict=True) if other == kind] for kind in kinds]
    return Goodputs(tuple(sum(rates) / len(rates) for rates in alike), played.outcome)


def many_clients(
    link: Link,
    clients: int,
    transport: Transport,
    *,
    direction: Literal["up", "down"],
    offered_mbps: float | None = None,
    turns: int = 20_000,
    seed: int = 1,
) -> Goodputs:
    """Flows of `clients` clients on a circle around their node; `offered_mbps` is what each flow offers (UDP)."""
    left = left_by_beacons([link])
    streams: list[Stream] = []
    firsts = []
    for client in range(1, clients + 1):
        firsts.append(len(streams))
        sender, receiver = (client, 0) if direction == "up" else (0, client)
        streams += _flow(link, sender, receiver, transport, len(streams), offered_mbps, left)
    places = [(0.0, 0.0), *circle(clients, CELL_RADIUS_M)]
    return _goodputs(link, places, streams, firsts, transport, left, turns, seed)


def _flow(
    link: Link, sender: int, receiver: int, transport: Transport, first: int, offer: float | None, left: float
) -> list[Stream]:
    if transport == "tcp":
        return tcp_streams(link, sender, receiver, first, waiting=SATURATED)
    size = packet_bytes("udp", link.mac)
    if offer is None:
        return [stream(link, sender, receiver, size, waiting=SATURATED)]
    return [stream(link, sender, receiver, size, per_s=packets_per_s(offer, link.mac) / left, random_arrivals=True)]


def _goodputs(
    link: Link,
    places: list[Place],
    streams: list[Stream],
    firsts: list[int],
    transport: Transport,
    left: float,
    turns: int,
    seed: int,
) -> Goodputs:
    outcome = play(air_of(link.mac, link.band), places, streams, turns=turns, warm_turns=turns // 8, seed=seed)
    scale = left * payload_bits(transport, link.mac) / 1e6
    return Goodputs(tuple(outcome.per_s(first) * scale for first in firsts), outcome)
