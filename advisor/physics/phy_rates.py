"""The rates of 802.11n, ac, ax and be, the level each needs, and the best one a level carries.

Rates: IEEE 802.11-2020 clauses 19 (HT) and 21 (VHT), 802.11ax-2021 clause 27, 802.11be-2024 clause 36 (table numbers
from memory). Widths in MHz, guard intervals in ns, levels in dBm.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from advisor.physics.arrays import Number, plain
from advisor.trace import formula

Standard = Literal["n", "ac", "ax", "be"]

STANDARDS: tuple[Standard, ...] = ("n", "ac", "ax", "be")
DEFAULT_GUARD_NS: dict[str, int] = {"n": 400, "ac": 400, "ax": 800, "be": 800}
"""The shortest guard interval of each standard, which most gear uses indoors (common practice, no source)."""
GUARDS_NS: dict[str, tuple[int, ...]] = {
    "n": (400, 800),
    "ac": (400, 800),
    "ax": (800, 1600, 3200),
    "be": (800, 1600, 3200),
}
WIDTHS_MHZ: dict[str, tuple[int, ...]] = {
    "n": (20, 40),
    "ac": (20, 40, 80, 160),
    "ax": (20, 40, 80, 160),
    "be": (20, 40, 80, 160, 320),
}
HIGHEST_MCS: dict[str, int] = {"n": 7, "ac": 9, "ax": 11, "be": 13}
MOST_STREAMS: dict[str, int] = {"n": 4, "ac": 8, "ax": 8, "be": 8}
STANDARD_BANDS: dict[str, tuple[str, ...]] = {
    "n": ("2.4", "5"),
    "ac": ("5",),
    "ax": ("2.4", "5", "6"),
    "be": ("2.4", "5", "6"),
}

_DATA_SUBCARRIERS: dict[str, dict[int, int]] = {
    "n": {20: 52, 40: 108},
    "ac": {20: 52, 40: 108, 80: 234, 160: 468},
    "ax": {20: 234, 40: 468, 80: 980, 160: 1960},
    "be": {20: 234, 40: 468, 80: 980, 160: 1960, 320: 3920},
}
_SYMBOL_US = {"n": 3.2, "ac": 3.2, "ax": 12.8, "be": 12.8}
_DATA_BITS_TWELFTHS = np.array([6, 12, 18, 24, 36, 48, 54, 60, 72, 80, 90, 100, 108, 120])
"""Data bits per subcarrier and stream by MCS, in twelfths: modulation bits times code rate, exact in whole numbers."""

_SENSITIVITY_20MHZ_DBM = np.array([-82, -79, -77, -74, -70, -66, -65, -64, -59, -57, -54, -52, -49, -46], dtype=float)
OFDM_SENSITIVITY_DBM: dict[int, float] = {6: -82, 9: -81, 12: -79, 18: -77, 24: -74, 36: -70, 48: -66, 54: -65}
"""Clause 17 rates in Mb/s (what control and management frames use): IEEE 802.11-2024 Table 17-21, PSDU 1000 B."""


def data_bits_per_symbol(standard: str, width_mhz: int, mcs: Number, streams: Number) -> Any:
    """N_DBPS: data bits of one OFDM symbol, rounded down as the standards' tables print it."""
    twelfths = _DATA_BITS_TWELFTHS[np.asarray(mcs)]
    return plain(np.floor(_DATA_SUBCARRIERS[standard][width_mhz] * twelfths * np.asarray(streams) / 12.0))


def symbol_us(standard: str, guard_ns: int) -> float:
    """Duration of one OFDM symbol with its guard interval."""
    return _SYMBOL_US[standard] + guard_ns / 1000.0


@formula(
    id="phy_rates.phy_rate_mbps",
    unit="Mb/s",
    expr="N_SD * N_BPSCS * R * N_SS / (T_DFT + T_GI)",
    source="IEEE 802.11-2020 cl. 19.5 and 21.5, 802.11ax-2021 cl. 27.5, 802.11be-2024 cl. 36.5",
)
def phy_rate_mbps(*, standard: str, width_mhz: int, mcs: Number, streams: Number, guard_ns: int | None = None) -> Any:
    """Rate of the data part of a frame. `mcs` counts from 0 within one stream count, for 802.11n too (MCS 15 is MCS 7
    with two streams). The guard interval defaults to the shortest of the standard."""
    guard = DEFAULT_GUARD_NS[standard] if guard_ns is None else guard_ns
    bits = _DATA_SUBCARRIERS[standard][width_mhz] * _DATA_BITS_TWELFTHS[np.asarray(mcs)] * np.asarray(streams) / 12.0
    return plain(bits / symbol_us(standard, guard))


def is_combination_allowed(*, standard: str, width_mhz: int, mcs: Number, streams: Number) -> Any:
    """Whether the standard has this row. Absent VHT rows: 20 MHz MCS 9 except with 3 or 6 streams, 80 MHz MCS 6
    with 3 or 7 and MCS 9 with 6, 160 MHz MCS 9 with 3 (IEEE 802.11-2020 cl. 21.5; rows over 4 streams from memory)."""
    index, count = np.asarray(mcs), np.asarray(streams)
    allowed = (index >= 0) & (index <= HIGHEST_MCS[standard]) & (count >= 1) & (count <= MOST_STREAMS[standard])
    allowed = allowed & (width_mhz in WIDTHS_MHZ[standard])
    if standard == "ac":
        absent = {
            20: (index == 9) & (count != 3) & (count != 6),
            80: ((index == 6) & ((count == 3) | (count == 7))) | ((index == 9) & (count == 6)),
            160: (index == 9) & (count == 3),
        }
        allowed = allowed & ~absent.get(width_mhz, np.zeros_like(index, dtype=bool))
    return plain(allowed)


def refusal(*, standard: str, width_mhz: int, mcs: int = 0, streams: int = 1, band: str | None = None) -> str | None:
    """Why a combination does not exist, in plain words; None where it does."""
    name = f"802.11{standard}"
    if band is not None and band not in STANDARD_BANDS[standard]:
        return f"{name} does not work in {band} GHz"
    if width_mhz not in WIDTHS_MHZ[standard]:
        return f"{name} has no {width_mhz} MHz channels"
    if band == "2.4" and width_mhz > 40:
        return f"2.4 GHz has no {width_mhz} MHz channels"
    if width_mhz == 320 and band == "5":
        return "5 GHz has no 320 MHz channels"
    if not 0 <= mcs <= HIGHEST_MCS[standard]:
        return f"{name} has MCS 0 to {HIGHEST_MCS[standard]} for each stream"
    if not 1 <= streams <= MOST_STREAMS[standard]:
        return f"{name} has 1 to {MOST_STREAMS[standard]} streams"
    if not is_combination_allowed(standard=standard, width_mhz=width_mhz, mcs=mcs, streams=streams):
        return f"{name} leaves out MCS {mcs} with {streams} streams at {width_mhz} MHz"
    return None


@formula(
    id="phy_rates.min_sensitivity_dbm",
    unit="dBm",
    expr="table of 20 MHz + 10 log10(width / 20) rounded to 3 dB per doubling",
    source="IEEE 802.11-2020 Tables 19-23 and 21-25, 802.11ax-2021 Table 27-51, 802.11be for MCS 12 and 13 (+/- 1 dB)",
)
def min_sensitivity_dbm(*, width_mhz: Number, mcs: Number) -> Any:
    """Weakest level at which a receiver must read 90 % of 4096-byte frames of one stream. 320 MHz and MCS 12, 13 at 40
    and 160 MHz follow by 3 dB per doubling of the width (computed)."""
    doublings = np.log2(np.asarray(width_mhz) / 20.0)
    return plain(_SENSITIVITY_20MHZ_DBM[np.asarray(mcs)] + 3.0 * doublings)


class BestRate(NamedTuple):
    """The best rate a level carries; 0 with MCS -1 and no stream where nothing holds."""

    rate_mbps: Any
    mcs: Any
    streams: Any


class _Candidates(NamedTuple):
    """Every allowed (MCS, streams), the fastest first and among equals the one that needs least."""

    rate_mbps: NDArray[Any]
    need_dbm: NDArray[Any]
    mcs: NDArray[Any]
    streams: NDArray[Any]


@lru_cache(maxsize=512)
def _candidates(
    standard: str, width_mhz: int, max_streams: int, guard_ns: int, backoff_by_mcs_db: tuple[float, ...] | None
) -> _Candidates:
    every = np.arange(HIGHEST_MCS[standard] + 1)
    mcs, streams = (axis.ravel() for axis in np.meshgrid(every, np.arange(1, max_streams + 1), indexing="ij"))
    allowed = is_combination_allowed(standard=standard, width_mhz=width_mhz, mcs=mcs, streams=streams)
    mcs, streams = mcs[allowed], streams[allowed]
    rate = phy_rate_mbps(standard=standard, width_mhz=width_mhz, mcs=mcs, streams=streams, guard_ns=guard_ns)
    need = min_sensitivity_dbm(width_mhz=width_mhz, mcs=mcs) + 10.0 * np.log10(streams)
    if backoff_by_mcs_db is not None:
        need = need + np.asarray(backoff_by_mcs_db)[mcs]
    order = np.lexsort((streams, need, -rate))
    return _Candidates(rate[order], need[order], mcs[order], streams[order])


def best_rate(
    *,
    level_dbm: Number,
    standard: str,
    width_mhz: int,
    max_streams: int,
    guard_ns: int | None = None,
    margin_db: Number = 0.0,
    backoff_by_mcs_db: tuple[float, ...] | None = None,
) -> BestRate:
    """The highest rate whose need the level meets, over every allowed MCS and stream count.

    Need = minimum sensitivity + `margin_db` + 10 log10(streams) + backoff. The stream term shares the sender's power
    among its streams (common practice, no source); `backoff_by_mcs_db` is how much less power the sender gives at each
    MCS.
    """
    guard = DEFAULT_GUARD_NS[standard] if guard_ns is None else guard_ns
    rows = _candidates(standard, width_mhz, min(max_streams, MOST_STREAMS[standard]), guard, backoff_by_mcs_db)
    spare = np.asarray(level_dbm, dtype=float) - margin_db
    met = spare[..., np.newaxis] >= rows.need_dbm
    first = np.argmax(met, axis=-1)
    holds = np.any(met, axis=-1)
    return BestRate(
        plain(np.where(holds, rows.rate_mbps[first], 0.0)),
        plain(np.where(holds, rows.mcs[first], -1)),
        plain(np.where(holds, rows.streams[first], 0)),
    )


@formula(
    id="phy_rates.best_rate_mbps",
    unit="Mb/s",
    expr="highest rate with level >= sensitivity + margin + 10 log10(streams) + backoff",
    source="minimum sensitivity of IEEE 802.11; margin and stream term: common practice, no source",
)
def best_rate_mbps(
    *,
    level_dbm: Number,
    standard: str,
    width_mhz: int,
    max_streams: int,
    guard_ns: int | None = None,
    margin_db: Number = 0.0,
    backoff_by_mcs_db: tuple[float, ...] | None = None,
) -> Any:
    """The rate of `best_rate` alone, Mb/s."""
    return best_rate(
        level_dbm=level_dbm,
        standard=standard,
        width_mhz=width_mhz,
        max_streams=max_streams,
        guard_ns=guard_ns,
        margin_db=margin_db,
        backoff_by_mcs_db=backoff_by_mcs_db,
    ).rate_mbps
