"""One-way delay of a voice packet over a chain of hops while somebody moves data.

Three waits add up on every hop: for the turns of others (half a turn for voice-class packets, one or two for best
effort), in the queue in front of the hop where a greedy transfer fills it, and the packet's own time on the air. They
are means; the spread around them is as large as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from advisor.physics.airtime import Link, goodput_mbps, payload_bits, udp_exchange
from advisor.physics.frames import dsss_frame_us, ofdm_frame_us
from advisor.physics.mac import Category
from truth.play.relays import relay_one_channel, relay_two_channels
from truth.play.streams import frames_us, setting

Queue = Literal["fair", "fifo", "fair-short"]
VOICE_PACKET_BYTES = 200
"""G.711 of 20 ms: 160 B, RTP 12, UDP 8, IP 20."""
SHORT_QUEUE_PACKETS = 64


@dataclass(frozen=True, slots=True)
class Load:
    """A greedy TCP transfer: from the root to a client (down) or back, over the first `hops` hops."""

    direction: Literal["down", "up"]
    hops: int


def voice_delay_ms(
    links: Sequence[Link],
    *,
    category: Category,
    direction: Literal["down", "up"],
    load: Load | None = None,
    queue: Queue = "fair",
    one_channel: bool = True,
) -> float:
    """Mean one-way delay of a voice packet over the hops, milliseconds, application to application.

    `queue`: what stands above the queue of 500 packets in the radio: a fair one that lets voice pass (`fair`), a plain
    one for all (`fifo`), or a fair one above a radio with a queue of 64 (`fair-short`).
    """
    order = range(len(links)) if direction == "down" else reversed(range(len(links)))
    used = [] if load is None else list(links[: load.hops])
    rate_mbps = _transfer_mbps(used, one_channel) if used else 0.0
    total_ms = 0.0
    for position, hop in enumerate(order):
        link = links[hop]
        total_ms += frames_us(link, VOICE_PACKET_BYTES)[1] / 1000.0
        if load is not None and (one_channel or hop < load.hops):
            sharing = used if one_channel else [link]
            turn_ms = max(float(udp_exchange(one).total_us) for one in sharing) / 1000.0
            busy = 1.0 if one_channel else min(rate_mbps / _alone_mbps(link), 1.0)
            total_ms += busy * _turns(category, direction, load, hop, 2 * len(sharing)) * turn_ms
        elif position and one_channel:
            total_ms += _after_previous_ms(link, category)
    if load is not None and load.direction == direction == "down":
        total_ms += _queue_ms(used, rate_mbps, category, queue, one_channel)
    return total_ms


def _turns(category: Category, direction: str, load: Load, hop: int, senders: int) -> float:
    """Turns of others a packet waits for at the head of its queue; `senders` of the transfer share the channel."""
    rest = float(setting("voice_rest_turns"))
    if category == "voice":
        return rest + float(setting("voice_turns_priority"))
    if load.direction == direction == "down" and hop < load.hops:
        return rest  # the wait in the queue counts the turns of others already
    behind = direction == "down" and load.direction == "up" and hop == load.hops - 1
    turns = rest + senders * float(setting("voice_turns_per_sender"))
    return turns + float(setting("voice_turns_behind")) if behind else turns


def _after_previous_ms(link: Link, category: Category) -> float:
    """A second hop on a quiet channel waits for the end of the first hop's exchange, then its own access."""
    mac, band = link.mac, link.band
    wait = mac.sifs_us(band) + float(link.answer_us(1)) + mac.aifs_us(band, category)
    wait += mac.access(category).mean_backoff_slots * mac.slot_us
    if category == "voice":
        size = int(setting("cf_end_bytes"))
        end = (
            dsss_frame_us(frame_bytes=size, rate_mbps=1.0)
            if band == "2.4"
            else ofdm_frame_us(frame_bytes=size, rate_mbps=6.0)
        )
        wait += mac.sifs_us(band) + float(end)
    return wait / 1000.0


def _transfer_mbps(used: list[Link], one_channel: bool) -> float:
    if len(used) == 1:
        return _alone_mbps(used[0])
    return relay_one_channel(used, "tcp").total_mbps if one_channel else relay_two_channels(used, "tcp")


def _queue_ms(used: list[Link], rate_mbps: float, category: Category, queue: Queue, one_channel: bool) -> float:
    """Time in the queues that the transfer keeps filled in front of its slowest hop."""
    packet_ms = payload_bits("tcp", used[0].mac) / (1000.0 * rate_mbps)
    fill, lifetime_ms = float(setting("tcp_fill")), float(setting("packet_lifetime_ms"))
    if queue == "fair-short":
        queues = len(used) if one_channel else 1
        return 0.0 if category == "voice" else queues * fill * SHORT_QUEUE_PACKETS * packet_ms
    radio_ms = float(setting("mac_queue_packets")) * packet_ms
    waits = 0.0 if category == "voice" else min(fill * radio_ms, lifetime_ms / 2.0)
    if queue == "fifo" and radio_ms < lifetime_ms:  # else packets expire in the radio and the queue above stays empty
        waits += float(setting("fifo_fill")) * float(setting("fifo_queue_packets")) * packet_ms
    return waits


def _alone_mbps(link: Link) -> float:
    return float(
        goodput_mbps(
            standard=link.standard,
            band=link.band,
            width_mhz=link.width_mhz,
            mcs=link.mcs,
            streams=link.streams,
            guard_ns=link.guard_ns,
            transport="tcp",
            mac=link.mac,
        )
    )
