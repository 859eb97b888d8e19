"""What a receiver makes of a level: noise, what each rate needs, and the choice that delivers most.

A level meets the noise of the channel width and the receiver's noise figure. From the ratio that is left go the
receiver's implementation loss, what small-scale fading takes from the mean, and for several streams the sharing of the
sender's power and the cost of telling the streams apart. Then `packet_errors` says how many packets arrive. Levels in
dBm are means over the small-scale fading, as one receive branch has them.

Not modelled: branches beyond two, interference from other senders (raise the noise figure for it), errors of preambles
and acknowledgements, stalls of the block-ack window. The sender keeps one rate through the fading: a rate control that
followed it at once would deliver a fifth more on average, a third at weak levels (two streams on 80 MHz).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from statistics import NormalDist
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from advisor.data import catalogue
from advisor.physics.airtime import Transport, goodput_cases_mbps
from advisor.physics.arrays import Number, plain
from advisor.physics.mac import MacSettings, mac_settings
from advisor.physics.packet_errors import Coding, mean_success, snr_at_per_db, usual_coding
from advisor.physics.phy_rates import (
    DEFAULT_GUARD_NS,
    HIGHEST_MCS,
    MOST_STREAMS,
    is_combination_allowed,
    phy_rate_mbps,
)
from advisor.trace import formula

THERMAL_DBM_PER_MHZ = 10.0 * float(np.log10(1.380649e-23 * 290.0 * 1e6 * 1e3))
"""Noise power of a matched resistor at 290 K in 1 MHz: -113.98 dBm (Boltzmann constant, exact since 2019)."""
LOST_PER = 0.99
"""Where the best rate still loses this share of its packets, no rate holds."""

_Z90 = NormalDist().inv_cdf(0.9)


@dataclass(frozen=True, slots=True)
class Assumption:
    """One property of usual receivers: its 10 %, typical and 90 % values, what it means and how sure it is."""

    low: float
    typical: float
    high: float
    meaning: str
    source: str


class Receiver(NamedTuple):
    """The properties of a receiver in dB; all but the spread may be arrays on the case axis."""

    noise_figure_db: Number
    implementation_loss_db: Number
    fading_margin_db: Number
    """How far the worst tenth of the small-scale fading lies below the mean level, at least."""
    stream_separation_db: Number
    fading_spread_db: float
    """Standard deviation of the small-scale fading, normal in dB."""

    @property
    def fading_loss_db(self) -> Any:
        """How far the median of the fading lies below the mean level."""
        return self.fading_margin_db - _Z90 * self.fading_spread_db

    @property
    def loss_db(self) -> Any:
        """What is between the mean ratio and the median ratio the link simulation would need, for one stream."""
        return self.implementation_loss_db + self.fading_loss_db


class Choice(NamedTuple):
    """The rate that delivers most and what it delivers; MCS -1, no stream, PER 1 and zeros where no rate holds."""

    mcs: Any
    streams: Any
    per: Any
    """Share of packets lost, averaged over the small-scale fading."""
    phy_rate_mbps: Any
    goodput_mbps: Any


class _Candidates(NamedTuple):
    """Every allowed (MCS, streams) with its rate, its error-free goodput and what it needs beyond one full-power
    stream."""

    mcs: NDArray[Any]
    streams: NDArray[Any]
    phy_rate_mbps: NDArray[Any]
    goodput_mbps: NDArray[Any]
    extra_db: NDArray[Any]
    doublings: NDArray[Any]


@cache
def assumptions() -> dict[str, Assumption]:
    """What is assumed of usual receivers, by the names of `Receiver`'s fields."""
    rows = catalogue("receiver")["assumptions"]
    return {
        name: Assumption(
            float(row["low"]), float(row["typical"]), float(row["high"]), str(row["meaning"]), str(row["source"])
        )
        for name, row in rows.items()
    }


@cache
def usual_receiver() -> Receiver:
    """Every property at its typical value."""
    return Receiver(**{name: entry.typical for name, entry in assumptions().items()})


@formula(
    id="receiver.noise_dbm",
    unit="dBm",
    expr="10 log10(k 290 K width) + noise figure",
    source="thermal noise, ITU-R P.372 reference temperature 290 K",
)
def noise_dbm(*, width_mhz: Number, noise_figure_db: Number) -> Any:
    """Noise power over the channel width, as the receiver has it."""
    return THERMAL_DBM_PER_MHZ + 10.0 * np.log10(width_mhz) + noise_figure_db


@formula(id="receiver.snr_db", unit="dB", expr="level - noise", source="definition")
def snr_db(*, level_dbm: Number, width_mhz: Number, noise_figure_db: Number) -> Any:
    """Signal-to-noise ratio over the channel width at the antenna connector, before any implementation loss."""
    return level_dbm - noise_dbm(width_mhz=width_mhz, noise_figure_db=noise_figure_db)


@formula(
    id="receiver.snr_need_db",
    unit="dB",
    expr="SNR at PER 10 % + implementation loss + 10 log10(streams) + separation log2(streams)",
    source="packet_errors.snr_at_per_db; receiver terms from memory or common practice",
)
def snr_need_db(
    *,
    mcs: Number,
    streams: Number,
    receiver: Receiver | None = None,
    coding: Coding = "ldpc",
    per: float = 0.1,
    mpdu_bytes: int = 1500,
) -> Any:
    """Ratio, without fading, at which a receiver loses the share `per` of its packets with this many streams.

    The sender's power is shared among its streams; `stream_separation_db` comes on top for each doubling of them.
    """
    use = usual_receiver() if receiver is None else receiver
    table = snr_at_per_db(mcs=mcs, per=per, bytes=mpdu_bytes, coding=coding)
    count = np.asarray(streams)
    return plain(
        table + use.implementation_loss_db + 10.0 * np.log10(count) + use.stream_separation_db * np.log2(count)
    )


@formula(
    id="receiver.level_need_dbm",
    unit="dBm",
    expr="noise + SNR need + fading margin",
    source="receiver.noise_dbm, receiver.snr_need_db; fading margin: common practice, no source",
)
def level_need_dbm(
    *,
    standard: str,
    width_mhz: int,
    mcs: Number,
    streams: Number = 1,
    receiver: Receiver | None = None,
    coding: Coding | None = None,
) -> Any:
    """Mean level at which nine fades in ten leave at most 10 % of packets of 1500 bytes lost."""
    use = usual_receiver() if receiver is None else receiver
    code = usual_coding(standard=standard, width_mhz=width_mhz) if coding is None else coding
    noise = noise_dbm(width_mhz=width_mhz, noise_figure_db=use.noise_figure_db)
    return noise + snr_need_db(mcs=mcs, streams=streams, receiver=use, coding=code) + use.fading_margin_db


def best_choice(
    *,
    level_dbm: Number,
    standard: str,
    band: str,
    width_mhz: int,
    max_streams: int,
    guard_ns: int | None = None,
    receiver: Receiver | None = None,
    backoff_by_mcs_db: tuple[float, ...] | None = None,
    transport: Transport = "tcp",
    mac: MacSettings | None = None,
    mpdu_bytes: int = 1500,
    coding: Coding | None = None,
    highest_mcs: int | None = None,
) -> Choice:
    """The (MCS, streams) with the largest goodput at a mean level, over every one the standard allows.

    Goodput = error-free goodput of the exchange × share of packets that arrive, averaged over the small-scale fading
    the sender does not follow. A lost packet of an aggregate costs its own share only: it is sent again in a later one.
    `backoff_by_mcs_db` is how much less power the sender gives at each MCS. Levels and the receiver's terms may be
    arrays of one shape. `highest_mcs` is the fastest modulation both ends can use, where that is less than the standard
    allows. Rises with the level, is continuous, and stays below the error-free goodput.
    """
    (only,) = best_choices(
        macs=(mac_settings() if mac is None else mac,),
        level_dbm=level_dbm,
        standard=standard,
        band=band,
        width_mhz=width_mhz,
        max_streams=max_streams,
        guard_ns=guard_ns,
        receiver=receiver,
        backoff_by_mcs_db=backoff_by_mcs_db,
        transport=transport,
        mpdu_bytes=mpdu_bytes,
        coding=coding,
        highest_mcs=highest_mcs,
    )
    return only


def best_choices(
    *,
    macs: tuple[MacSettings, ...],
    level_dbm: Number,
    standard: str,
    band: str,
    width_mhz: int,
    max_streams: int,
    guard_ns: int | None = None,
    receiver: Receiver | None = None,
    backoff_by_mcs_db: tuple[float, ...] | None = None,
    transport: Transport = "tcp",
    mpdu_bytes: int = 1500,
    coding: Coding | None = None,
    highest_mcs: int | None = None,
) -> tuple[Choice, ...]:
    """`best_choice` under each of several sets of MAC settings; which packets arrive is computed once for them all."""
    guard = DEFAULT_GUARD_NS[standard] if guard_ns is None else guard_ns
    use = usual_receiver() if receiver is None else receiver
    code = usual_coding(standard=standard, width_mhz=width_mhz) if coding is None else coding
    most = min(max_streams, MOST_STREAMS[standard])
    sets = [
        _candidates(standard, band, width_mhz, most, guard, backoff_by_mcs_db, transport, mac, highest_mcs)
        for mac in macs
    ]
    rows = sets[0]
    spare_db = np.asarray(
        snr_db(level_dbm=np.asarray(level_dbm, dtype=float), width_mhz=width_mhz, noise_figure_db=use.noise_figure_db)
        - use.loss_db
    )
    separation_db = np.asarray(use.stream_separation_db)[..., np.newaxis] * rows.doublings
    arrives = mean_success(
        mcs=rows.mcs,
        snr_db=spare_db[..., np.newaxis] - rows.extra_db - separation_db,
        spread_db=use.fading_spread_db,
        bytes=mpdu_bytes,
        coding=code,
    )
    return tuple(_best(rows, arrives) for rows in sets)


def _best(rows: _Candidates, arrives: NDArray[Any]) -> Choice:
    """The candidate that delivers most, from the share of its packets that arrive."""
    best = np.argmax(rows.goodput_mbps * arrives, axis=-1)
    share = np.take_along_axis(arrives, best[..., np.newaxis], axis=-1)[..., 0]
    holds = share > 1.0 - LOST_PER
    return Choice(
        mcs=plain(np.where(holds, rows.mcs[best], -1)),
        streams=plain(np.where(holds, rows.streams[best], 0)),
        per=plain(np.where(holds, 1.0 - share, 1.0)),
        phy_rate_mbps=plain(np.where(holds, rows.phy_rate_mbps[best], 0.0)),
        goodput_mbps=plain(np.where(holds, rows.goodput_mbps[best] * share, 0.0)),
    )


@formula(
    id="receiver.mean_goodput_mbps",
    unit="Mb/s",
    expr="max over (MCS, streams) of error-free goodput × mean over fading of (1 - PER)",
    source="airtime.goodput_mbps, packet_errors.per; receiver terms from memory or common practice",
)
def mean_goodput_mbps(
    *,
    level_dbm: Number,
    standard: str,
    band: str,
    width_mhz: int,
    max_streams: int,
    guard_ns: int | None = None,
    receiver: Receiver | None = None,
    backoff_by_mcs_db: tuple[float, ...] | None = None,
    transport: Transport = "tcp",
    mac: MacSettings | None = None,
) -> Any:
    """The goodput of `best_choice` alone: a link by itself on its channel, at a mean level."""
    return best_choice(
        level_dbm=level_dbm,
        standard=standard,
        band=band,
        width_mhz=width_mhz,
        max_streams=max_streams,
        guard_ns=guard_ns,
        receiver=receiver,
        backoff_by_mcs_db=backoff_by_mcs_db,
        transport=transport,
        mac=mac,
    ).goodput_mbps


@lru_cache(maxsize=512)
def _candidates(
    standard: str,
    band: str,
    width_mhz: int,
    max_streams: int,
    guard_ns: int,
    backoff_by_mcs_db: tuple[float, ...] | None,
    transport: Transport,
    mac: MacSettings,
    highest_mcs: int | None,
) -> _Candidates:
    fastest = HIGHEST_MCS[standard] if highest_mcs is None else min(highest_mcs, HIGHEST_MCS[standard])
    every = np.arange(fastest + 1)
    mcs, streams = (axis.ravel() for axis in np.meshgrid(every, np.arange(1, max_streams + 1), indexing="ij"))
    allowed = is_combination_allowed(standard=standard, width_mhz=width_mhz, mcs=mcs, streams=streams)
    mcs, streams = mcs[allowed], streams[allowed]
    backoff = np.zeros(len(mcs)) if backoff_by_mcs_db is None else np.asarray(backoff_by_mcs_db)[mcs]
    goodput = goodput_cases_mbps(
        standard=standard,
        band=band,
        width_mhz=width_mhz,
        guard_ns=guard_ns,
        mcs=mcs,
        streams=streams,
        transport=transport,
        mac=mac,
    )
    rate = phy_rate_mbps(standard=standard, width_mhz=width_mhz, mcs=mcs, streams=streams, guard_ns=guard_ns)
    extra = 10.0 * np.log10(streams) + backoff
    return _Candidates(mcs, streams, rate, goodput, extra, np.log2(streams))
