"""Relays: the hops of a chain on one channel, or on channels of their own.

On one channel every hop is a sender of its own with its own backoff, also the two radios of one relay, and what one hop
delivers is what the next has to send. A saturated first hop takes turns the second would need; a queue in front of the
slower hop absorbs the rest. TCP keeps about one queue of packets under way over the whole chain (its acknowledgements
contend on every hop), so it slows the first hop down to what the last one carries.
"""

from __future__ import annotations

from collections.abc import Sequence

from advisor.physics.airtime import Link, Transport, goodput_mbps, packet_bytes, payload_bits
from truth.play.cells import Goodputs
from truth.play.streams import Place, air_of, left_by_beacons, packets_per_s, setting, stream
from truth.play.turns import SATURATED, Stream, play

HOP_M = 5.0


def relay_one_channel(
    links: Sequence[Link],
    transport: Transport,
    *,
    offered_mbps: float | None = None,
    turns: int = 12_000,
    seed: int = 1,
) -> Goodputs:
    """A flow over hops in one line on one channel, every device in hearing of all; relays have two devices each.

    `offered_mbps` (UDP) is evenly spaced load; None: as much as the first hop takes.
    """
    hops = len(links)
    senders = [0, *(2 * hop for hop in range(1, hops))]
    receivers = [2 * hop + 1 for hop in range(hops)]
    places: list[Place] = [(0.0, 0.0)]
    for hop in range(1, hops):
        places += [(HOP_M * hop, 0.0)] * 2
    places.append((HOP_M * hops, 0.0))
    left = left_by_beacons(list(links))
    if transport == "tcp":
        streams = _tcp_chain(links, senders, receivers)
    else:
        streams = _udp_chain(links, senders, receivers, offered_mbps, left)
    mac, band = links[0].mac, links[0].band
    outcome = play(air_of(mac, band), places, streams, turns=turns, warm_turns=turns // 8, seed=seed)
    rate = outcome.per_s(hops - 1) * left * payload_bits(transport, mac) / 1e6
    return Goodputs((rate,), outcome)


def _udp_chain(
    links: Sequence[Link], senders: list[int], receivers: list[int], offered_mbps: float | None, left: float
) -> list[Stream]:
    last = len(links) - 1
    limit = float(setting("mac_queue_packets") + setting("node_queue_packets"))
    streams = []
    for hop, link in enumerate(links):
        more = {"feeds": hop + 1 if hop < last else -1, "limit": limit}
        if hop == 0 and offered_mbps is not None:
            more["per_s"] = packets_per_s(offered_mbps, link.mac) / left
        elif hop == 0:
            more.update(waiting=SATURATED, limit=2.0 * SATURATED)
        elif offered_mbps is None:
            more["waiting"] = float(setting("mac_queue_packets"))
        streams.append(stream(link, senders[hop], receivers[hop], packet_bytes("udp", link.mac), **more))
    return streams


def _tcp_chain(links: Sequence[Link], senders: list[int], receivers: list[int]) -> list[Stream]:
    """Data hop by hop, acknowledgements back hop by hop; each that arrives lets as many new segments go."""
    hops, mac = len(links), links[0].mac
    per_ack = float(mac.delayed_ack)
    streams = []
    for hop, link in enumerate(links):
        adds = 1.0 if hop < hops - 1 else 1.0 / per_ack
        streams.append(stream(link, senders[hop], receivers[hop], packet_bytes("tcp", mac), feeds=hop + 1, adds=adds))
    for hop in reversed(range(hops)):
        feeds, adds = (len(streams) + 1, 1.0) if hop else (0, per_ack)
        streams.append(stream(links[hop], receivers[hop], senders[hop], mac.tcp_header_bytes, feeds=feeds, adds=adds))
    streams[0].waiting = float(setting("mac_queue_packets"))
    return streams


def relay_two_channels(links: Sequence[Link], transport: Transport, *, offered_mbps: float | None = None) -> float:
    """Hops that do not disturb each other: the slowest decides, and the load where it is less (Mb/s)."""
    alone = [
        float(
            goodput_mbps(
                standard=link.standard,
                band=link.band,
                width_mhz=link.width_mhz,
                mcs=link.mcs,
                streams=link.streams,
                guard_ns=link.guard_ns,
                transport=transport,
                mac=link.mac,
            )
        )
        for link in links
    ]
    slowest = min(alone)
    return slowest if offered_mbps is None else min(slowest, offered_mbps)
