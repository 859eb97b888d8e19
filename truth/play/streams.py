"""From links to the streams of `turns`: durations by number of packets, and where the devices stand."""

from __future__ import annotations

from functools import lru_cache
from math import cos, pi, sin
from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.physics.airtime import (
    ACK_BYTES,
    BLOCK_ACK_REQUEST_BYTES,
    DELIMITER_BYTES,
    LLC_BYTES,
    RTS_BYTES,
    SUBFRAME_HEADER_BYTES,
    Link,
    beacon_share,
    filling,
    packet_bytes,
    payload_bits,
    reservation_us,
    round_up,
)
from advisor.physics.frames import LEGACY_PREAMBLE_US, ofdm_frame_us
from advisor.physics.mac import MacSettings
from truth.play.turns import Air, Stream

Place = tuple[float, float]


def setting(name: str) -> Any:
    """One figure of the catalogue's block `contention`, where each has its source."""
    return catalogue("mac")["contention"][name]["value"]


def air_of(mac: MacSettings, band: str) -> Air:
    """What all senders of a channel have in common."""
    access = mac.best_effort
    lowest = float(ofdm_frame_us(frame_bytes=ACK_BYTES, rate_mbps=min(mac.basic_rates_mbps), band=band))
    return Air(
        slot_us=mac.slot_us,
        sifs_us=mac.sifs_us(band),
        aifs_us=mac.aifs_us(band),
        cw_min=access.cw_min,
        cw_max=access.cw_max,
        timeout_us=mac.sifs_us(band) + mac.slot_us + LEGACY_PREAMBLE_US,
        spoilt_us=mac.sifs_us(band) + lowest,
        preamble_db=float(setting("preamble_db")),
        path_exponent=float(setting("path_exponent")),
    )


def packets_per_s(offered_mbps: float, mac: MacSettings) -> float:
    """Full UDP packets a second that carry an offered load of application data."""
    return 1e6 * offered_mbps / payload_bits("udp", mac)


@lru_cache(maxsize=1024)
def frames_us(link: Link, size_bytes: int) -> tuple[float, ...]:
    """Duration of a frame of 0, 1, 2, ... packets of one size, up to the fullest; A-MSDUs filled in turn."""
    limits = link.mac.aggregation(link.standard)
    most = int(filling(link, size_bytes).packets)
    counts = np.arange(1, most + 1)
    packed = round_up(SUBFRAME_HEADER_BYTES + LLC_BYTES + size_bytes)
    together = max(limits.amsdu_bytes // packed, 1)
    alone = DELIMITER_BYTES + link.mac_bytes + LLC_BYTES + size_bytes
    if together == 1:
        psdu = (counts - 1) * float(round_up(alone)) + alone
    else:
        header = DELIMITER_BYTES + link.mac_bytes
        psdu = np.ceil(counts / together) * header + counts * float(packed)
    if link.standard == "n":
        psdu[0] = alone - DELIMITER_BYTES
    return (0.0, *np.asarray(link.data_frame_us(psdu)).tolist())


def stream(link: Link, sender: int, receiver: int, size_bytes: int, **more: Any) -> Stream:
    """Packets of one size from a device to another over a link."""
    sifs = link.mac.sifs_us(link.band)
    half_loss = setting("half_loss_db")
    mcs = int(np.asarray(link.mcs))
    reserve = float(reservation_us(link))
    return Stream(
        sender=sender,
        receiver=receiver,
        frame_us=frames_us(link, size_bytes),
        answer_us=(sifs + float(link.answer_us(1)), sifs + float(link.answer_us(2))),
        request_us=float(link.control_frame_us(BLOCK_ACK_REQUEST_BYTES)),
        need_db=float(half_loss[min(mcs, len(half_loss) - 1)]),
        window=link.mac.aggregation(link.standard).ampdu_frames,
        reserve_us=reserve,
        reserve_lost_us=float(link.control_frame_us(RTS_BYTES)) if reserve else 0.0,
        **more,
    )


def tcp_streams(link: Link, sender: int, receiver: int, first: int, **more: Any) -> list[Stream]:
    """Data and the acknowledgements it causes, as streams `first` and `first` + 1."""
    mac = link.mac
    data = stream(link, sender, receiver, packet_bytes("tcp", mac), feeds=first + 1, adds=1.0 / mac.delayed_ack, **more)
    return [data, stream(link, receiver, sender, mac.tcp_header_bytes)]


def left_by_beacons(links: list[Link]) -> float:
    """Share of a channel's time that the beacons of these cells leave."""
    return 1.0 - sum(float(beacon_share(band=link.band, mac=link.mac)) for link in links)


def circle(count: int, radius_m: float) -> list[Place]:
    """Evenly spaced places on a circle."""
    return [(radius_m * cos(2 * pi * k / count), radius_m * sin(2 * pi * k / count)) for k in range(count)]
