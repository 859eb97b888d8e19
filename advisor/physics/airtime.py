"""What an exchange costs on the air, term by term, and the goodput that is left.

One exchange is: silence (AIFS), backoff, one data frame of many packets, SIFS, the block acknowledgement (IEEE
802.11-2020 cl. 10.23). Durations in microseconds, goodput in Mb/s of application data. A link is looked at alone: who
else uses the channel is the business of whoever shares it out.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np

from advisor.physics.arrays import Number, plain
from advisor.physics.contention import TurnShares, turn_shares
from advisor.physics.frames import (
    DSSS_RATES_MBPS,
    LEGACY_PREAMBLE_US,
    dsss_frame_us,
    largest_psdu_bytes,
    ofdm_frame_us,
    ppdu_us,
)
from advisor.physics.mac import Category, MacSettings, mac_settings
from advisor.physics.phy_rates import HIGHEST_MCS, MOST_STREAMS, is_combination_allowed
from advisor.trace import formula

Transport = Literal["udp", "tcp"]

UDP_PACKET_BYTES = 1500
"""IP packet of a full UDP datagram; 28 of them are IP and UDP headers."""
UDP_HEADER_BYTES = 28
MAC_BYTES = 30  # QoS data header 26, check sum 4
LLC_BYTES = 8
DELIMITER_BYTES = 4
SUBFRAME_HEADER_BYTES = 14
ACK_BYTES = 14
RTS_BYTES = 20
CTS_BYTES = 14
BLOCK_ACK_REQUEST_BYTES = 24

_REFERENCE_MBPS = np.array([6, 12, 18, 24, 36, 48, 54, 54, 54, 54, 54, 54, 54, 54])
"""Non-HT reference rate of each MCS (IEEE 802.11-2020 Table 10-10)."""


class Link(NamedTuple):
    """One direction of a link as the airtime sees it; `mcs` and `streams` may be arrays of one shape."""

    standard: str
    band: str
    width_mhz: int
    mcs: Number
    streams: Number
    guard_ns: int
    mac: MacSettings

    @property
    def mac_bytes(self) -> int:
        """Header and check sum of a data frame, with what encryption adds."""
        return MAC_BYTES + self.mac.encryption_bytes

    def data_frame_us(self, psdu_bytes: Number) -> Any:
        return ppdu_us(
            standard=self.standard,
            band=self.band,
            width_mhz=self.width_mhz,
            mcs=self.mcs,
            streams=self.streams,
            psdu_bytes=psdu_bytes,
            guard_ns=self.guard_ns,
            habits=self.mac.frame_habits,
        )

    def control_frame_us(self, frame_bytes: Number) -> Any:
        """A control frame at the highest basic rate not above the reference rate of the data (10.6.6.5)."""
        rate = control_rate_mbps(mcs=self.mcs, mac=self.mac)
        return ofdm_frame_us(frame_bytes=frame_bytes, rate_mbps=rate, band=self.band)

    def answer_us(self, frames: Number) -> Any:
        """The acknowledgement of a single frame, or the block acknowledgement of several."""
        block = self.mac.aggregation(self.standard).block_ack_bytes
        return self.control_frame_us(np.where(np.asarray(frames) > 1, block, ACK_BYTES))


class Filling(NamedTuple):
    """How many packets go into one frame, in how many MPDUs, and the bytes of it all."""

    packets: Any
    frames: Any
    psdu_bytes: Any


class Exchange(NamedTuple):
    """The terms of one exchange in microseconds, and the application bytes it delivers. `reserve_us` is RTS and CTS."""

    silence_us: Any
    backoff_us: Any
    data_us: Any
    sifs_us: Any
    answer_us: Any
    delivered_bytes: Any
    reserve_us: Any = 0.0

    @property
    def total_us(self) -> Any:
        return self.silence_us + self.backoff_us + self.reserve_us + self.data_us + self.sifs_us + self.answer_us


class TcpCycle(NamedTuple):
    """Mean airtime for each TCP data frame delivered, by what it is spent on, and the application bytes."""

    data_us: Any
    acknowledgements_us: Any
    requests_us: Any
    collisions_us: Any
    waiting_us: Any
    delivered_bytes: Any

    @property
    def total_us(self) -> Any:
        return self.data_us + self.acknowledgements_us + self.requests_us + self.collisions_us + self.waiting_us


@formula(
    id="airtime.control_rate_mbps",
    unit="Mb/s",
    expr="highest basic rate not above the reference rate of the MCS",
    source="IEEE 802.11-2020 10.6.6.5 and Table 10-10",
)
def control_rate_mbps(*, mcs: Number, mac: MacSettings) -> Any:
    """Rate of acknowledgements for data at an MCS."""
    basic = np.asarray(mac.basic_rates_mbps)
    below = basic <= _REFERENCE_MBPS[np.asarray(mcs)][..., np.newaxis]
    return plain(np.max(np.where(below, basic, basic.min()), axis=-1))


def filling(link: Link, packet_bytes: int) -> Filling:
    """Fill one frame with IP packets up to the limits on bytes and MPDUs of an A-MPDU, A-MSDU bytes and duration."""
    limits = link.mac.aggregation(link.standard)
    longest = largest_psdu_bytes(
        standard=link.standard,
        band=link.band,
        width_mhz=link.width_mhz,
        mcs=link.mcs,
        streams=link.streams,
        guard_ns=link.guard_ns,
        longest_us=link.mac.longest_ppdu_us,
        habits=link.mac.frame_habits,
    )
    room = np.minimum(longest, limits.ampdu_bytes)
    packed = round_up(SUBFRAME_HEADER_BYTES + LLC_BYTES + packet_bytes)
    per_frame = max(limits.amsdu_bytes // packed, 1)
    alone = DELIMITER_BYTES + link.mac_bytes + LLC_BYTES + packet_bytes
    full = alone if per_frame == 1 else DELIMITER_BYTES + link.mac_bytes + per_frame * packed
    step = round_up(full)
    frames = np.clip((room + step - full) // step, 1, limits.ampdu_frames)
    rest = np.maximum(room - frames * step - DELIMITER_BYTES - link.mac_bytes, 0) // packed
    rest = np.where((frames < limits.ampdu_frames) & (per_frame > 1), np.minimum(rest, per_frame - 1), 0)
    bytes_full = (frames - 1) * step + full
    bytes_rest = np.where(rest > 0, step - full + DELIMITER_BYTES + link.mac_bytes + rest * packed, 0)
    return Filling(plain(frames * per_frame + rest), plain(frames + (rest > 0)), plain(bytes_full + bytes_rest))


def reservation_us(link: Link) -> Any:
    """RTS, SIFS, CTS and SIFS before a frame where the settings ask for them, else 0 (IEEE 802.11-2020 10.3.2.9)."""
    if not link.mac.reserve:
        return 0.0
    return link.control_frame_us(RTS_BYTES) + link.control_frame_us(CTS_BYTES) + 2.0 * link.mac.sifs_us(link.band)


def round_up(size: int) -> int:
    """To a multiple of four bytes, as subframes are padded."""
    return -(-size // 4) * 4


def udp_exchange(link: Link) -> Exchange:
    """One exchange of a sender that always has full datagrams waiting and has the channel to itself."""
    fill = filling(link, UDP_PACKET_BYTES)
    return _exchange(link, fill, UDP_PACKET_BYTES - UDP_HEADER_BYTES, "best_effort")


def _exchange(link: Link, fill: Filling, payload_bytes: int, category: Category) -> Exchange:
    mac = link.mac
    return Exchange(
        silence_us=mac.aifs_us(link.band, category),
        backoff_us=mac.access(category).mean_backoff_slots * mac.slot_us,
        data_us=link.data_frame_us(fill.psdu_bytes),
        sifs_us=mac.sifs_us(link.band),
        answer_us=link.answer_us(fill.frames),
        delivered_bytes=fill.packets * payload_bytes,
        reserve_us=reservation_us(link),
    )


@formula(
    id="airtime.exchange_us",
    unit="us",
    expr="AIFS + CWmin / 2 slots + data frame + SIFS + block acknowledgement",
    source="IEEE 802.11-2020 cl. 10.23; settings of the named MAC set",
)
def exchange_us(
    *, standard: str, band: str, width_mhz: int, mcs: Number, streams: Number, guard_ns: int, mac: MacSettings
) -> Any:
    """Duration of one full UDP exchange; `udp_exchange` gives its terms."""
    return udp_exchange(Link(standard, band, width_mhz, mcs, streams, guard_ns, mac)).total_us


@formula(
    id="airtime.access_overhead_us",
    unit="us",
    expr="exchange - application bits / PHY rate",
    source="difference of the two",
)
def access_overhead_us(*, exchange_us: Number, delivered_bytes: Number, phy_rate_mbps: Number) -> Any:
    """What an exchange costs beyond its application bits at the PHY rate."""
    return exchange_us - 8.0 * np.asarray(delivered_bytes) / np.asarray(phy_rate_mbps)


def tcp_cycle(link: Link) -> TcpCycle:
    """Where the time of one delivered TCP data frame goes.

    Data and acknowledgements contend for the channel; `contention.turn_shares` says how often each speaks and how often
    they collide. A collision costs the longer of the two frames, and both sides then ask for the lost answer.
    """
    mac, per_ack = link.mac, link.mac.delayed_ack
    fill = filling(link, mac.tcp_segment_bytes + mac.tcp_header_bytes)
    acks = np.asarray(fill.packets) / per_ack
    shares = _shares(mac, np.minimum(acks, 1.0))
    limits = mac.aggregation(link.standard)
    ack_bytes = round_up(SUBFRAME_HEADER_BYTES + LLC_BYTES + mac.tcp_header_bytes)
    together = max(limits.amsdu_bytes // ack_bytes, 1)
    turns_of_acks = np.maximum(shares.ack_frames, acks / (limits.ampdu_frames * together))
    in_frame = np.maximum(acks / turns_of_acks, 1.0)
    ack_frames = np.ceil(in_frame / together)
    data = link.data_frame_us(fill.psdu_bytes)
    ack = link.data_frame_us(_acks_psdu_bytes(link, in_frame, ack_frames, together))
    request = link.control_frame_us(BLOCK_ACK_REQUEST_BYTES)
    block = link.answer_us(2)
    sifs, reserve = mac.sifs_us(link.band), reservation_us(link)
    if mac.reserve:  # a collision costs the reservation alone, and nobody asks for a lost answer
        lost = link.control_frame_us(RTS_BYTES)
        return TcpCycle(
            data_us=reserve + data + sifs + link.answer_us(fill.frames),
            acknowledgements_us=turns_of_acks * (reserve + ack + sifs + link.answer_us(ack_frames)),
            requests_us=0.0,
            collisions_us=shares.collisions * lost,
            waiting_us=(shares.turns - shares.data_requests - shares.ack_requests) * mac.aifs_us(link.band)
            + shares.idle_slots * mac.slot_us,
            delivered_bytes=fill.packets * mac.tcp_segment_bytes,
        )
    return TcpCycle(
        data_us=data + sifs + link.answer_us(fill.frames),
        acknowledgements_us=turns_of_acks * (ack + sifs + link.answer_us(ack_frames)),
        requests_us=(shares.data_requests + shares.ack_requests) * (request + sifs + block),
        collisions_us=shares.data_ack_collisions * np.maximum(data, ack)
        + shares.data_request_collisions * np.maximum(data, request)
        + shares.request_ack_collisions * np.maximum(ack, request)
        + shares.request_request_collisions * request,
        waiting_us=shares.turns * mac.aifs_us(link.band) + shares.idle_slots * mac.slot_us,
        delivered_bytes=fill.packets * mac.tcp_segment_bytes,
    )


def _acks_psdu_bytes(link: Link, acks: Any, frames: Any, together: int) -> Any:
    """Bytes of a frame of TCP acknowledgements: each in an MPDU of its own, or many together in an A-MSDU."""
    alone = round_up(DELIMITER_BYTES + link.mac_bytes + LLC_BYTES + link.mac.tcp_header_bytes)
    joined = round_up(SUBFRAME_HEADER_BYTES + LLC_BYTES + link.mac.tcp_header_bytes)
    if together == 1:
        return acks * alone
    return acks * joined + frames * round_up(DELIMITER_BYTES + link.mac_bytes)


def _shares(mac: MacSettings, acks_per_data: Any) -> TurnShares:
    """The shares of turns, each an array where `acks_per_data` is one."""
    timeout_slots = round((mac.sifs_us("5") + mac.slot_us + LEGACY_PREAMBLE_US) / mac.slot_us)
    access = mac.best_effort
    values, where = np.unique(np.asarray(acks_per_data, dtype=float), return_inverse=True)
    each = [
        turn_shares(cw_min=access.cw_min, cw_max=access.cw_max, acks_per_data=float(value), timeout_slots=timeout_slots)
        for value in values
    ]
    if len(each) == 1:
        return each[0]
    fields = TurnShares.__dataclass_fields__
    rows: dict[str, Any] = {name: np.array([getattr(one, name) for one in each])[where] for name in fields}
    return TurnShares(**rows)


@formula(
    id="airtime.beacon_share",
    unit="",
    expr="names * (beacon + SIFS + slot) / interval",
    source="IEEE 802.11-2020 11.1.3; beacon length and rate of the named MAC set",
)
def beacon_share(*, band: str, mac: MacSettings, names: Number = 1) -> Any:
    """Share of airtime that the beacons of a radio take; one beacon for every network name it carries."""
    beacon = mac.beacon(band)
    if beacon.rate_mbps in DSSS_RATES_MBPS:
        frame = dsss_frame_us(frame_bytes=beacon.frame_bytes, rate_mbps=beacon.rate_mbps)
    else:
        frame = ofdm_frame_us(frame_bytes=beacon.frame_bytes, rate_mbps=beacon.rate_mbps, band=band)
    return np.asarray(names)[()] * (frame + mac.sifs_us(band) + mac.slot_us) / (beacon.interval_ms * 1000.0)


@formula(
    id="airtime.goodput_mbps",
    unit="Mb/s",
    expr="(1 - beacon share) * application bits of a cycle / duration of a cycle",
    source="IEEE 802.11-2020 cl. 10.23, term by term; checked against a packet simulator's single links",
)
def goodput_mbps(
    *,
    standard: str,
    band: str,
    width_mhz: int,
    mcs: Number,
    streams: Number,
    guard_ns: int,
    transport: Transport,
    mac: MacSettings,
    names: Number = 1,
) -> Any:
    """Application data per second on a link alone on its channel, without errors, in either direction."""
    link = Link(standard, band, width_mhz, mcs, streams, guard_ns, mac)
    cycle: Exchange | TcpCycle = udp_exchange(link) if transport == "udp" else tcp_cycle(link)
    return (1.0 - beacon_share(band=band, mac=mac, names=names)) * 8.0 * cycle.delivered_bytes / cycle.total_us


@lru_cache(maxsize=256)
def _goodput_table(
    standard: str, band: str, width_mhz: int, guard_ns: int, transport: Transport, mac: MacSettings
) -> Any:
    """Goodput by (MCS, streams); 0 where the standard has no such row."""
    mcs, streams = np.meshgrid(
        np.arange(HIGHEST_MCS[standard] + 1), np.arange(1, MOST_STREAMS[standard] + 1), indexing="ij"
    )
    goodput = goodput_mbps(
        standard=standard,
        band=band,
        width_mhz=width_mhz,
        mcs=mcs,
        streams=streams,
        guard_ns=guard_ns,
        transport=transport,
        mac=mac,
    )
    allowed = is_combination_allowed(standard=standard, width_mhz=width_mhz, mcs=mcs, streams=streams)
    return np.where(allowed, goodput, 0.0)


@formula(
    id="airtime.goodput_cases_mbps",
    unit="Mb/s",
    expr="goodput of the chosen MCS and streams; 0 where no rate holds",
    source="goodput_mbps, looked up",
)
def goodput_cases_mbps(
    *,
    standard: str,
    band: str,
    width_mhz: int,
    guard_ns: int,
    mcs: Number,
    streams: Number,
    transport: Transport = "tcp",
    mac: MacSettings | None = None,
) -> Any:
    """`goodput_mbps` for a row of cases by look-up; MCS -1 or no stream, as `best_rate` gives them, mean 0."""
    settings = mac_settings() if mac is None else mac
    table = _goodput_table(standard, band, width_mhz, guard_ns, transport, settings)
    index, count = np.asarray(mcs), np.asarray(streams)
    holds = (index >= 0) & (count >= 1)
    return plain(np.where(holds, table[np.maximum(index, 0), np.maximum(count, 1) - 1], 0.0))


@formula(
    id="airtime.small_frame_us",
    unit="us",
    expr="AIFS + CWmin / 2 slots + frame + SIFS + acknowledgement",
    source="IEEE 802.11-2020 cl. 10.23; packet alone in its frame",
)
def small_frame_us(
    *,
    standard: str,
    band: str,
    width_mhz: int,
    mcs: Number,
    streams: Number,
    guard_ns: int,
    mac: MacSettings,
    payload_bytes: Number = 172,
    category: Category = "voice",
) -> Any:
    """Airtime of one packet that travels alone, as voice does: 172 B of UDP payload is 20 ms of G.711 with its RTP
    header. VHT and later frames carry it as an A-MPDU of one, with a delimiter."""
    link = Link(standard, band, width_mhz, mcs, streams, guard_ns, mac)
    delimiter = 0 if standard == "n" else DELIMITER_BYTES
    psdu = np.asarray(payload_bytes) + UDP_HEADER_BYTES + LLC_BYTES + link.mac_bytes + delimiter
    fill = Filling(packets=1, frames=1, psdu_bytes=psdu)
    return _exchange(link, fill, 0, category).total_us


def packet_bytes(transport: Transport, mac: MacSettings) -> int:
    """IP bytes of a full packet."""
    return UDP_PACKET_BYTES if transport == "udp" else mac.tcp_segment_bytes + mac.tcp_header_bytes


def payload_bits(transport: Transport, mac: MacSettings) -> float:
    """Application bits of a full packet."""
    return 8.0 * (UDP_PACKET_BYTES - UDP_HEADER_BYTES if transport == "udp" else mac.tcp_segment_bytes)
