"""How long a frame is on the air.

Sources: IEEE 802.11-2020 clauses 15 to 21 and 802.11ax-2021 clause 27 (TXTIME equations); durations in microseconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from advisor.physics.arrays import Number, plain
from advisor.physics.phy_rates import data_bits_per_symbol, phy_rate_mbps, symbol_us
from advisor.trace import formula

SIGNAL_EXTENSION_US = {"2.4": 6.0, "5": 0.0, "6": 0.0}
"""Silence that ends every OFDM frame in 2.4 GHz (IEEE 802.11-2020 18.3.2.4)."""

OFDM_RATES_MBPS = (6.0, 9.0, 12.0, 18.0, 24.0, 36.0, 48.0, 54.0)
DSSS_RATES_MBPS = (1.0, 2.0, 5.5, 11.0)
LEGACY_RATES_MBPS = {
    "2.4": tuple(sorted(DSSS_RATES_MBPS + OFDM_RATES_MBPS)),
    "5": OFDM_RATES_MBPS,
    "6": OFDM_RATES_MBPS,
}
"""Rates that beacons and control frames may have, by band (IEEE 802.11-2020 cl. 15, 16, 17, 18)."""

LEGACY_PREAMBLE_US = 20.0
DSSS_LONG_PREAMBLE_US = 192.0
DSSS_SHORT_PREAMBLE_US = 96.0

_LONG_TRAINING_FIELDS = {
    "n": np.array([0, 1, 2, 4, 4]),
    "ac": np.array([0, 1, 2, 4, 4, 6, 6, 8, 8]),
    "ax": np.array([0, 1, 2, 4, 4, 6, 6, 8, 8]),
    "be": np.array([0, 1, 2, 4, 4, 6, 6, 8, 8]),
}
_FIXED_PREAMBLE_US = {
    "n": LEGACY_PREAMBLE_US + 8.0 + 4.0,  # HT-SIG, HT-STF
    "ac": LEGACY_PREAMBLE_US + 8.0 + 4.0,  # VHT-SIG-A, VHT-STF; VHT-SIG-B follows the training fields
    "ax": LEGACY_PREAMBLE_US + 4.0 + 8.0 + 4.0,  # RL-SIG, HE-SIG-A, HE-STF
    "be": LEGACY_PREAMBLE_US + 4.0 + 8.0 + 8.0 + 4.0,  # RL-SIG, U-SIG, EHT-SIG of two symbols (from memory), EHT-STF
}
TRAINING_FIELD_US: dict[int, float] = {800: 7.2, 1600: 8.0, 3200: 16.0}
"""One HE or EHT long training field with its guard interval: 2x LTF with 0.8 and 1.6 us, 4x with 3.2 us."""


@dataclass(frozen=True, slots=True)
class FrameHabits:
    """Where equipment or a simulator may depart from the standard's frame durations; the defaults are the standard."""

    training_field_us: float | None = None
    """Duration of every HE or EHT training field; None: by guard interval."""
    round_short_guard: bool = True
    """HT and VHT frames with the short guard end on a 4 us boundary."""
    vht_signal_b_us: float = 4.0


AS_STANDARD = FrameHabits()


@formula(
    id="frames.preamble_us",
    unit="us",
    expr="legacy preamble + signal fields + short and long training fields",
    source="IEEE 802.11-2020 cl. 19.3.2 and 21.3.2, 802.11ax-2021 cl. 27.3.4; EHT from memory",
)
def preamble_us(*, standard: str, streams: Number, guard_ns: int, habits: FrameHabits = AS_STANDARD) -> Any:
    """Everything before the data field. HT and VHT training fields last 4 us each."""
    fixed = _FIXED_PREAMBLE_US[standard] + (habits.vht_signal_b_us if standard == "ac" else 0.0)
    if standard in ("n", "ac"):
        each = 4.0
    else:
        each = TRAINING_FIELD_US[guard_ns] if habits.training_field_us is None else habits.training_field_us
    return plain(fixed + each * _LONG_TRAINING_FIELDS[standard][np.asarray(streams)])


def _encoders(standard: str, width_mhz: int, mcs: Number, streams: Number, guard_ns: int) -> Any:
    """Number of convolutional encoders, each adding six tail bits: one per 300 Mb/s (HT) or 540 (VHT; 600 with the
    short guard). HE and EHT count as one."""
    if standard not in ("n", "ac"):
        return np.ones_like(np.asarray(mcs) * np.asarray(streams))
    rate = phy_rate_mbps(standard=standard, width_mhz=width_mhz, mcs=mcs, streams=streams, guard_ns=guard_ns)
    if standard == "n":
        return np.ceil(rate / 300.0)
    return np.ceil(rate / (540.0 if guard_ns == 800 else 600.0))


@formula(
    id="frames.ppdu_us",
    unit="us",
    expr="preamble + ceil((16 + 8 L + 6 N_ES) / N_DBPS) * T_SYM + signal extension",
    source="IEEE 802.11-2020 eqs 19-90 and 21-109, 802.11ax-2021 cl. 27.4.3 (equation numbers from memory)",
)
def ppdu_us(
    *,
    standard: str,
    band: str,
    width_mhz: int,
    mcs: Number,
    streams: Number,
    psdu_bytes: Number,
    guard_ns: int,
    habits: FrameHabits = AS_STANDARD,
) -> Any:
    """A whole data frame of one user."""
    per_symbol = data_bits_per_symbol(standard, width_mhz, mcs, streams)
    bits = 16.0 + 8.0 * np.asarray(psdu_bytes) + 6.0 * _encoders(standard, width_mhz, mcs, streams, guard_ns)
    data = np.ceil(bits / per_symbol) * symbol_us(standard, guard_ns)
    if standard in ("n", "ac") and habits.round_short_guard:
        data = np.ceil(np.round(data / 4.0, 6)) * 4.0
    before = preamble_us(standard=standard, streams=streams, guard_ns=guard_ns, habits=habits)
    return plain(before + data + SIGNAL_EXTENSION_US[band])


@formula(
    id="frames.largest_psdu_bytes",
    unit="B",
    expr="floor((floor((T - preamble) / T_SYM) * N_DBPS - 16 - 6 N_ES) / 8)",
    source="ppdu_us solved for the length",
)
def largest_psdu_bytes(
    *,
    standard: str,
    band: str,
    width_mhz: int,
    mcs: Number,
    streams: Number,
    guard_ns: int,
    longest_us: Number,
    habits: FrameHabits = AS_STANDARD,
) -> Any:
    """The most bytes a frame may carry and still last no longer than `longest_us`."""
    before = preamble_us(standard=standard, streams=streams, guard_ns=guard_ns, habits=habits)
    room = np.asarray(longest_us) - before - SIGNAL_EXTENSION_US[band]
    symbols = np.floor(np.round(room / symbol_us(standard, guard_ns), 6))
    bits = symbols * data_bits_per_symbol(standard, width_mhz, mcs, streams)
    return plain(np.floor((bits - 16.0 - 6.0 * _encoders(standard, width_mhz, mcs, streams, guard_ns)) / 8.0))


@formula(
    id="frames.ofdm_frame_us",
    unit="us",
    expr="20 + 4 ceil((16 + 8 L + 6) / (4 R)) + signal extension",
    source="IEEE 802.11-2020 eq. 17-29 and 18.5.3.2",
)
def ofdm_frame_us(*, frame_bytes: Number, rate_mbps: Number, band: str = "5") -> Any:
    """A clause 17 frame (control, management, old gear) at 6 to 54 Mb/s; in 2.4 GHz it carries the signal extension."""
    symbols = np.ceil((22.0 + 8.0 * np.asarray(frame_bytes)) / (4.0 * np.asarray(rate_mbps)))
    return plain(LEGACY_PREAMBLE_US + 4.0 * symbols + SIGNAL_EXTENSION_US[band])


def dsss_payload_us(*, frame_bytes: Number, rate_mbps: Number) -> Any:
    """The data part of a DSSS or CCK frame, rounded up to a whole microsecond (IEEE 802.11-2020 cl. 15.4, 16.3)."""
    return plain(np.ceil(np.round(8.0 * np.asarray(frame_bytes) / np.asarray(rate_mbps), 6)))


@formula(
    id="frames.dsss_frame_us",
    unit="us",
    expr="preamble + ceil(8 L / R)",
    source="IEEE 802.11-2020 cl. 15 and 16",
)
def dsss_frame_us(*, frame_bytes: Number, rate_mbps: Number, short_preamble: bool = False) -> Any:
    """A 1, 2, 5.5 or 11 Mb/s frame with the long (192 us) or short (96 us) preamble."""
    before = DSSS_SHORT_PREAMBLE_US if short_preamble else DSSS_LONG_PREAMBLE_US
    return before + dsss_payload_us(frame_bytes=frame_bytes, rate_mbps=rate_mbps)
