"""Links, cells and relay chains in the closed form of `saturation`.

On one channel the hops of a chain contend, with the acknowledgements of TCP as senders of their own. TCP settles where
the slowest of them is just not saturated. An endless UDP load does better for the first hop than for the flow: the
first hop takes every turn it gets, and the rest carry on with what is left. Frames that survive a collision because
their sender is nearer are not part of the closed form (`turns` has them): endless UDP over a slow last hop comes out
too low.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from advisor.physics.airtime import Link, Transport, packet_bytes, payload_bits
from truth.closed.saturation import Sender, Share, contend
from truth.play.streams import left_by_beacons, stream

_HALVINGS = 24
_ROUNDS = 16
"""Rounds in which data and the acknowledgements they cause settle."""


def sender_of(link: Link, size_bytes: int) -> Sender:
    """Terms of a sender of packets of one size over a link, straight line through its frame durations."""
    one = stream(link, 0, 1, size_bytes)
    most = len(one.frame_us) - 1
    each = (one.frame_us[most] - one.frame_us[1]) / max(most - 1, 1)
    answer = one.answer_us[most > 1]
    fixed = one.reserve_us + one.frame_us[most] - each * most + answer
    request = one.request_us + answer if most > 1 else 0.0
    return Sender(fixed, each, float(most), answer, request)


def together(senders: Sequence[Sender]) -> Sender:
    """Several senders as one set of arrays, senders first."""
    return Sender(*(np.array([one[index] for one in senders], dtype=float) for index in range(len(senders[0]))))


def chain_mbps(links: Sequence[Link], transport: Transport, *, offered_mbps: float | None = None) -> float:
    """Goodput of a flow over hops on one channel, every device a sender of its own; one hop is the single link.

    `offered_mbps` (UDP): the load; None: as much as the first hop takes (UDP) or as TCP settles at.
    """
    mac = links[0].mac
    left = left_by_beacons(list(links))
    scale = left * payload_bits(transport, mac) / 1e6
    senders = [sender_of(link, packet_bytes(transport, mac)) for link in links]
    ratios = [1.0] * len(links)
    if transport == "tcp":
        senders += [sender_of(link, mac.tcp_header_bytes) for link in reversed(links)]
        ratios += [1.0 / mac.delayed_ack] * len(links)
    all_senders, ratio = together(senders), np.array(ratios)
    silence_us = mac.aifs_us(links[0].band)

    def share(load_per_s: float, endless: bool = False) -> Share:
        loads = load_per_s * ratio
        frame = float(senders[0].most_packets)
        batch = np.array([1.0, *np.maximum(frame * ratio[1:], 1.0)])
        if endless:
            loads[0] = np.inf
        return contend(all_senders, load_per_s=loads, batch_packets=batch, silence_us=silence_us)

    endless = transport == "tcp" and len(links) == 1
    low, high = 0.0, _most_per_s(senders[0])
    wanted = np.inf if offered_mbps is None else offered_mbps / scale
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        found = share(middle, endless or (transport == "udp" and np.isinf(wanted)))
        if transport == "udp" and np.isinf(wanted):
            carried = _first_to_last(found, middle)
        elif endless:
            carried = bool(found.packets_per_s[0] > middle)
        else:
            carried = not bool(found.saturated.any())
        low, high = (middle, high) if carried else (low, middle)
    return scale * min(low, float(wanted))


def cells_mbps(
    links: Sequence[Link], transport: Transport = "udp", *, offered_mbps: Sequence[float | None] | None = None
) -> tuple[float, ...]:
    """Goodput of one sender in each of several cells on one channel; None: it takes what it can get.

    With TCP the receivers contend with their acknowledgements, as many as the data that came through causes.
    """
    mac = links[0].mac
    left, count = left_by_beacons(list(links)), len(links)
    scale = left * payload_bits(transport, mac) / 1e6
    offers = offered_mbps if offered_mbps is not None else [None] * count
    loads = np.array([np.inf if offer is None else offer / scale for offer in offers])
    senders = [sender_of(link, packet_bytes(transport, mac)) for link in links]
    silence_us, slot_us = mac.aifs_us(links[0].band), mac.slot_us
    if transport == "udp":
        found = contend(together(senders), load_per_s=loads, silence_us=silence_us, slot_us=slot_us)
        return tuple(float(rate) * scale for rate in found.packets_per_s)
    everyone = together([*senders, *(sender_of(link, mac.tcp_header_bytes) for link in links)])
    data_per_s, batch = np.zeros(count), np.ones(count)
    for _ in range(_ROUNDS):
        acks = np.maximum(data_per_s, 1.0) / mac.delayed_ack
        together_acks = np.concatenate([np.ones(count), np.maximum(batch / mac.delayed_ack, 1.0)])
        found = contend(
            everyone,
            load_per_s=np.concatenate([loads, acks]),
            batch_packets=together_acks,
            silence_us=silence_us,
            slot_us=slot_us,
        )
        data_per_s = (data_per_s + found.packets_per_s[:count]) / 2.0
        batch = np.maximum(found.packets_per_frame[:count], 1.0)
    return tuple(float(rate) * scale for rate in found.packets_per_s[:count])


def uplinks_mbps(link: Link, clients: int) -> float:
    """UDP goodput of all clients of one cell together, each of which always has more to send."""
    scale = left_by_beacons([link]) * payload_bits("udp", link.mac) / 1e6
    senders = together([sender_of(link, packet_bytes("udp", link.mac))] * clients)
    found = contend(senders, load_per_s=np.inf, silence_us=link.mac.aifs_us(link.band), slot_us=link.mac.slot_us)
    return float(found.packets_per_s.sum()) * scale


def _most_per_s(sender: Sender) -> float:
    """More packets a second than frames one on the other would carry."""
    return float(1e6 * sender.most_packets / (sender.fixed_us + sender.packet_us * sender.most_packets))


def _first_to_last(found: Share, load_per_s: float) -> bool:
    """Whether an endless first hop delivers this load and the hops after it carry it on."""
    carried: NDArray[np.bool_] = found.packets_per_s >= load_per_s * (1.0 - 1e-9)
    return bool(carried.all())
