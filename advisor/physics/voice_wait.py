"""How long a packet of a call waits at one sender of its way, and how many are lost there, from the load carried.

Four waits add up: for the rest of the turn on the air when the packet comes, for turns of others before its own, in
the queue that a transfer keeps standing in front of the air, and the packet's own time. What is asked for in vain is
not on the air and makes nobody wait. A closed form: `voice_delay` plays the same thing turn by turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

import numpy as np

from advisor.data import catalogue
from advisor.physics.arrays import Number, plain

AirQueue = Literal["fair-short", "fair-deep", "plain"]
SHORT, DEEP, PLAIN = "fair-short", "fair-deep", "plain"


class Transfer(NamedTuple):
    """Data that one sender has on a stretch of air; whoever receives it answers with turns of its own (TCP)."""

    sender: str
    answerer: str
    share: Number
    """Share of the time it takes of this air, as carried."""
    turn_ms: Number
    """Mean length of its turns."""
    senders: int = 1
    """Like devices that send, each its part of the share."""
    answerers: int = 1


def setting(name: str) -> float:
    """One figure of the catalogue's block `waiting`, where each has its source."""
    return float(catalogue("walking")["waiting"][name]["value"])


def contention(name: str) -> float:
    """One figure of what is known of turns and queues on shared air; each has its source."""
    return float(catalogue("mac")["contention"][name]["value"])


def activities(transfers: Sequence[Transfer], other: Number = 0.0) -> tuple[Any, ...]:
    """How much of the time each transfer has something waiting for the air, 0 to its number of senders.

    1 for a sender that takes as much as any while the air is full; less for one that takes less, or where air is left.
    `other` is the share of the time taken by what is not among the transfers.
    """
    shares = [np.asarray(each.share, dtype=float) for each in transfers]
    if not shares:
        return ()
    of_one: dict[str, Any] = {}
    for each, share in zip(transfers, shares, strict=True):
        of_one[each.sender] = of_one.get(each.sender, 0.0) + share / each.senders
    most = np.max(np.broadcast_arrays(*of_one.values()), axis=0)
    free = np.maximum(1.0 - sum(shares) - np.asarray(other), 0.0)
    return tuple(share / np.maximum(most + free, 1e-9) for share in shares)


def access_ms(
    transfers: Sequence[Transfer],
    own: str,
    *,
    voice_class: bool,
    standing: Any = False,
    other: Number = 0.0,
) -> Any:
    """Wait of a packet first in its queue at a sender, milliseconds.

    The rest of the turn on the air: its share of the time times half of it. Then, in best effort, half a turn for every
    sender or answerer that has something waiting and a whole one for what the own queue holds for others; `standing`
    where that queue is counted by `standing_ms` already. The voice class goes before nearly all of it.
    """
    rest_turns = contention("voice_rest_turns") + (contention("voice_turns_priority") if voice_class else 0.0)
    whole = np.maximum(sum(np.asarray(each.share) for each in transfers) + np.asarray(other), 1.0)
    wait: Any = sum(rest_turns * np.asarray(each.share) / whole * np.asarray(each.turn_ms) for each in transfers)
    if voice_class:
        return plain(np.asarray(wait, dtype=float))
    waiting: dict[str, list[tuple[Any, Any, int]]] = {}
    for each, active in zip(transfers, activities(transfers, other), strict=True):
        waiting.setdefault(each.sender, []).append((active, each.turn_ms, each.senders))
        waiting.setdefault(each.answerer, []).append((active, each.turn_ms, each.answerers))
    more: Any = 0.0
    for name, entries in sorted(waiting.items()):
        turns = contention("voice_turns_behind" if name == own else "voice_turns_per_sender")
        at_most = max(devices for _, _, devices in entries) / np.maximum(sum(active for active, _, _ in entries), 1e-9)
        more = more + turns * np.minimum(at_most, 1.0) * sum(active * np.asarray(turn) for active, turn, _ in entries)
    return plain(np.asarray(wait + np.where(standing, 0.0, more), dtype=float))


def standing_ms(rate_mbps: Number, queue: AirQueue, *, packet_bytes: float, voice_class: bool) -> Any:
    """Mean wait in the queue that a greedy transfer keeps filled in front of a sender which carries `rate_mbps`.

    `fair-short`: a fair queue above a radio that holds few packets; `fair-deep`: above one that holds hundreds, until
    they are too old; `plain`: one queue for all above that. Calls in the voice class pass the radio's queue of data,
    not the plain one.
    """
    packet_ms = 8.0 * packet_bytes / (1000.0 * np.maximum(np.asarray(rate_mbps, dtype=float), 1e-3))
    lifetime, fill = contention("packet_lifetime_ms"), contention("tcp_fill")
    radio_ms = packet_ms * (setting("short_packets") if queue == SHORT else contention("mac_queue_packets"))
    wait = np.zeros_like(radio_ms) if voice_class else np.minimum(fill * radio_ms, lifetime / 2.0)
    if queue == PLAIN:
        wait = wait + plain_fill(rate_mbps, packet_bytes) * contention("fifo_queue_packets") * packet_ms
    return plain(wait)


def plain_fill(rate_mbps: Number, packet_bytes: float) -> Any:
    """How full a transfer keeps a plain queue above the radio's own: half on average, and the less the sooner packets
    grow too old in the radio, where they expire before the queue above could fill."""
    packet_ms = 8.0 * packet_bytes / (1000.0 * np.maximum(np.asarray(rate_mbps, dtype=float), 1e-3))
    in_time = contention("packet_lifetime_ms") / (packet_ms * contention("mac_queue_packets"))
    return plain(contention("fifo_fill") * np.clip(in_time - 1.0, 0.0, 1.0))


def standing_loss(rate_mbps: Number, queue: AirQueue, *, packet_bytes: float) -> Any:
    """Share of a call's packets that a standing queue drops: those that find a plain queue full."""
    if queue != PLAIN:
        return plain(np.zeros_like(np.asarray(rate_mbps, dtype=float)))
    part = np.asarray(plain_fill(rate_mbps, packet_bytes)) / contention("fifo_fill")
    return plain(setting("plain_lost") * part)


def passing_ms(used: Number, packet_ms: Number, full_ms: Number) -> Any:
    """Mean wait behind a wire or line in use for this share of the time: used / (1 - used) / 2 packets, never more than
    what it keeps waiting when it is full (packets of one length that come at random: M/D/1)."""
    packet, full = np.asarray(packet_ms, dtype=float), np.asarray(full_ms, dtype=float)
    share = np.minimum(np.maximum(np.asarray(used, dtype=float), 0.0), 2.0 * full / (packet + 2.0 * full))
    left = np.maximum(1.0 - share, packet / (packet + 2.0 * full))
    return plain(packet * share / (2.0 * left))
