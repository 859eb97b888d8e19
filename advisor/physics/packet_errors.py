"""Packet errors over the signal-to-noise ratio, per MCS, from link simulation.

The table (`data/receiver.yaml`) is link simulation in white noise: 802.11 frames of 1500 bytes, ideal synchronisation
and channel knowledge, points 0.5 dB apart, scaled to the length of the packet. Between points of the convolutional code
run straight lines, as the simulator that published them reads its own points; points of LDPC, which the simulator has
closer together, are joined in the logarithm. A single logistic curve per MCS misses the published 10 % points by up to
0.19 dB at 4096 bytes and is not used. What a real receiver loses against the table is the business of `receiver`.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from advisor.data import catalogue
from advisor.physics.arrays import Number, plain
from advisor.trace import formula

Coding = Literal["ldpc", "bcc"]

HIGHEST_BCC_MCS = 9
"""MCS 10 and above are LDPC only (802.11ax-2021 27.3.12.5)."""

_LOWEST_SNR_DB, _HIGHEST_SNR_DB = -20.0, 60.0
_STEP_DB = 0.05
"""Step of the grid all curves are brought to: a tenth of the steepest curve's fall from 90 to 10 %."""
_SMALLEST_PER = 1e-6
"""Stands for the table's zeros where the logarithm is needed."""


def usual_coding(*, standard: str, width_mhz: int) -> Coding:
    """LDPC for 802.11ax and be and for 802.11ac above 20 MHz, the convolutional code for the rest.

    Common practice, no source; the standard demands LDPC of ax and be above 20 MHz and for MCS 10 and above.
    """
    return "ldpc" if standard in ("ax", "be") or (standard == "ac" and width_mhz > 20) else "bcc"


@formula(
    id="packet_errors.per",
    unit="",
    expr="1 - (1 - PER_ref(SNR)) ^ (L / 1458 B)",
    source="link simulation of the ns-3.44 table model; length rule IEEE 802.11-14/0803r1; MCS 12, 13 extrapolated",
)
def per(*, mcs: Number, snr_db: Number, bytes: Number = 1500, coding: Coding = "ldpc") -> Any:
    """Packet error rate of one MPDU of `bytes` at a signal-to-noise ratio over the channel width, white noise.

    `mcs` 0 to 13 with LDPC, 0 to 9 with BCC. Valid from 400 bytes up (shorter BCC packets have a reference of their
    own). MCS 12 and 13 are MCS 11 moved by the steps of the standard's minimum sensitivity, +/- 1 dB.
    """
    _refuse_bcc(coding, mcs)
    rows = _reference_rows(coding)
    place = (np.asarray(snr_db, dtype=float) - _LOWEST_SNR_DB) / _STEP_DB
    return plain(_at_length(_between(rows, np.asarray(mcs), place), bytes))


@formula(
    id="packet_errors.snr_at_per_db",
    unit="dB",
    expr="SNR at which PER(SNR, L) falls to the given rate",
    source="packet_errors.per solved for the ratio",
)
def snr_at_per_db(*, mcs: Number, per: float = 0.1, bytes: float = 1500, coding: Coding = "ldpc") -> Any:
    """The ratio in white noise at which a packet error rate between 0 and 1 (exclusive) is met."""
    _refuse_bcc(coding, mcs)
    reference = 1.0 - (1.0 - per) ** (_reference_bytes() / bytes)
    return plain(_snr_by_mcs_db(coding, reference)[np.asarray(mcs)])


def mean_success(*, mcs: Number, snr_db: Number, spread_db: float, bytes: int = 1500, coding: Coding = "ldpc") -> Any:
    """Share of packets that arrive, averaged over fading that is normal in dB with standard deviation `spread_db`.

    `snr_db` is the median over the fading. The average is a fixed sum over steps of 0.05 dB out to four standard
    deviations, kept as a table: rising in the ratio and continuous.
    """
    _refuse_bcc(coding, mcs)
    place = (np.asarray(snr_db, dtype=float) - _LOWEST_SNR_DB) / _STEP_DB
    return plain(_between(_mean_success_rows(coding, bytes, spread_db), np.asarray(mcs), place))


def _refuse_bcc(coding: str, mcs: Number) -> None:
    if coding == "bcc" and np.any(np.asarray(mcs) > HIGHEST_BCC_MCS):
        raise ValueError(f"MCS above {HIGHEST_BCC_MCS} need LDPC")


def _between(rows: NDArray[Any], mcs: NDArray[Any], place: NDArray[Any]) -> NDArray[Any]:
    """The row of each MCS at a place along its even grid, straight lines between points, level beyond the ends."""
    last = rows.shape[-1] - 1
    clipped = np.clip(place, 0.0, last)
    below = np.minimum(clipped.astype(np.intp), last - 1)
    left = rows[mcs, below]
    mixed: NDArray[Any] = left + (clipped - below) * (rows[mcs, below + 1] - left)
    return mixed


def _at_length(reference_per: NDArray[Any], bytes: Number) -> NDArray[Any]:
    """From packets of the reference length to packets of `bytes`."""
    survives = np.maximum(1.0 - reference_per, 1e-300)
    scaled: NDArray[Any] = -np.expm1(np.log(survives) * np.asarray(bytes) / _reference_bytes())
    return scaled


def _reference_bytes() -> float:
    return float(catalogue("receiver")["packet_errors"]["reference_bytes"])


def _grid_db() -> NDArray[Any]:
    return _LOWEST_SNR_DB + _STEP_DB * np.arange(round((_HIGHEST_SNR_DB - _LOWEST_SNR_DB) / _STEP_DB) + 1)


@cache
def _reference_rows(coding: str) -> NDArray[Any]:
    """PER of packets of the reference length on the grid: one row per MCS."""
    table = catalogue("receiver")["packet_errors"]
    published: dict[int, tuple[float, list[float]]] = {
        mcs: (float(row["first_snr_db"]), row["per"]) for mcs, row in table[coding].items()
    }
    if coding == "ldpc":
        for mcs, rule in table["extrapolated"].items():
            first, values = published[rule["as_mcs"]]
            published[mcs] = (first + float(rule["later_by_db"]), values)
    return np.array([_reference_row(coding, *published[mcs]) for mcs in sorted(published)])


def _reference_row(coding: str, first_db: float, published: list[float]) -> NDArray[Any]:
    table = catalogue("receiver")["packet_errors"]
    points_db = first_db + float(table["step_db"]) * np.arange(len(published))
    points = 1.0 - (1.0 - np.asarray(published)) ** (_reference_bytes() / float(table["bytes"]))
    if coding == "bcc":
        straight: NDArray[Any] = np.interp(_grid_db(), points_db, points)
        return straight
    joined = np.exp(np.interp(_grid_db(), points_db, np.log(np.maximum(points, _SMALLEST_PER))))
    row: NDArray[Any] = np.where(_grid_db() >= points_db[-1], 0.0, joined)
    return row


@lru_cache(maxsize=64)
def _snr_by_mcs_db(coding: str, reference_per: float) -> NDArray[Any]:
    return np.array([np.interp(-reference_per, -row, _grid_db()) for row in _reference_rows(coding)])


@lru_cache(maxsize=32)
def _mean_success_rows(coding: str, bytes: int, spread_db: float) -> NDArray[Any]:
    """Success of each MCS averaged over the fading, on the fine grid."""
    reach = int(np.ceil(4.0 * spread_db / _STEP_DB))
    offsets_db = _STEP_DB * np.arange(-reach, reach + 1)
    weights = np.exp(-0.5 * (offsets_db / spread_db) ** 2) if reach else np.ones(1)
    weights = weights / weights.sum()
    success = 1.0 - _at_length(_reference_rows(coding), bytes)
    beyond = np.pad(success, ((0, 0), (reach, reach)), mode="edge")
    return np.array([np.convolve(row, weights, mode="valid") for row in beyond])
