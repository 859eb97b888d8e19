"""Packet errors over the signal-to-noise ratio against published link simulation and the standard (see SOURCES.md)."""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
from scipy.special import digamma, polygamma

from advisor.physics.packet_errors import Coding, per, snr_at_per_db
from advisor.physics.phy_rates import min_sensitivity_dbm
from advisor.physics.receiver import assumptions, best_choice, noise_dbm, snr_db

BYTES = (1000, 1500, 4096)

# Signal-to-noise ratio at a packet error rate of 10 %, for packets of 1000 / 1500 / 4096 bytes: computed with ns-3.44's
# TableBasedErrorRateModel (0.25 dB grid, printed to 0.1 dB). MCS 0-7 HT 20 MHz, 8 VHT 20, 9 VHT 40, 10-11 HE 20 MHz.
TEN_PERCENT_DB: dict[Coding, list[tuple[float, float, float]]] = {
    "bcc": [
        (0.8, 0.9, 1.3),
        (3.8, 3.9, 4.3),
        (6.3, 6.4, 6.8),
        (9.5, 9.7, 10.0),
        (12.6, 12.8, 13.1),
        (16.9, 17.0, 17.5),
        (18.2, 18.4, 18.8),
        (19.4, 19.6, 20.0),
        (23.5, 23.7, 24.2),
        (24.9, 25.2, 25.6),
    ],
    "ldpc": [
        (-0.7, -0.7, -0.5),
        (2.3, 2.3, 2.5),
        (4.8, 4.8, 4.9),
        (7.8, 7.9, 8.0),
        (10.8, 10.9, 11.0),
        (15.0, 15.1, 15.3),
        (16.4, 16.5, 16.6),
        (17.9, 18.0, 18.2),
        (21.6, 21.6, 21.8),
        (23.4, 23.5, 23.7),
        (26.7, 26.8, 27.0),
        (28.8, 28.9, 29.1),
    ],
}
ROWS = [
    pytest.param(coding, mcs, size, expected, id=f"{coding}-mcs{mcs}-{size}B")
    for coding, table in TEN_PERCENT_DB.items()
    for mcs, row in enumerate(table)
    for size, expected in zip(BYTES, row, strict=True)
]


def published() -> dict[tuple[str, int], list[tuple[int, float, float]]]:
    """Every row of the simulated curves: (bytes, SNR, PER) by coding and MCS."""
    path = Path(__file__).parent / "data" / "per-vs-snr.csv"
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    found: dict[tuple[str, int], list[tuple[int, float, float]]] = defaultdict(list)
    for row in csv.DictReader(lines):
        found[(row["coding"], int(row["mcs"]))].append((int(row["bytes"]), float(row["snr_db"]), float(row["per"])))
    return found


@pytest.mark.parametrize(("coding", "mcs", "size", "expected_db"), ROWS)
def test_ratio_at_ten_percent(coding: Coding, mcs: int, size: int, expected_db: float) -> None:
    assert snr_at_per_db(mcs=mcs, per=0.1, bytes=size, coding=coding) == pytest.approx(expected_db, abs=0.1)
    assert per(mcs=mcs, snr_db=expected_db - 0.1, bytes=size, coding=coding) >= 0.1
    assert per(mcs=mcs, snr_db=expected_db + 0.1, bytes=size, coding=coding) <= 0.1


@pytest.mark.parametrize(("coding", "mcs"), sorted(published()))
def test_other_lengths_follow_from_the_carried_one(coding: Coding, mcs: int) -> None:
    """The curves of 1000 and 4096 B, which the table does not carry; printed to six digits (ns-3.44 table model)."""
    rows = [row for row in published()[(coding, mcs)] if row[0] != 1500]
    assert len(rows) >= 10
    for size, ratio, expected in rows:
        assert per(mcs=mcs, snr_db=ratio, bytes=size, coding=coding) == pytest.approx(expected, abs=2e-5)


@pytest.mark.parametrize(
    ("coding", "to_ten_db", "to_one_db"), [("bcc", (1.1, 1.6), (1.8, 2.7)), ("ldpc", (0.55, 0.85), (0.8, 1.3))]
)
def test_slopes(coding: Coding, to_ten_db: tuple[float, float], to_one_db: tuple[float, float]) -> None:
    """How far the ratio rises while 1500 B packets fall from 90 to 10 and to 1 % errors: ranges over all MCS computed
    from the table model, printed to 0.05 and 0.1 dB. Every MCS lies within, to the printed digit."""
    every = np.arange(len(TEN_PERCENT_DB[coding]))
    ninety, ten, one = (snr_at_per_db(mcs=every, per=rate, coding=coding) for rate in (0.9, 0.1, 0.01))
    for measured, (least, most) in ((ten - ninety, to_ten_db), (one - ninety, to_one_db)):
        assert np.min(measured) >= least - 0.05
        assert np.max(measured) <= most + 0.05


@pytest.mark.parametrize(("coding", "spare_db"), [("bcc", (2.0, 3.4)), ("ldpc", (3.8, 5.3))])
def test_spare_against_the_minimum_sensitivity(coding: Coding, spare_db: tuple[float, float]) -> None:
    """IEEE 802.11-2020 Tables 19-23, 21-25 and 802.11ax-2021 Table 27-51: 4096 B at 10 % PER, less 10 dB noise figure
    and 5 dB implementation margin (both from memory)."""
    every = np.arange(len(TEN_PERCENT_DB[coding]))
    allowed = min_sensitivity_dbm(width_mhz=20, mcs=every) - noise_dbm(width_mhz=20, noise_figure_db=10.0) - 5.0
    spare = allowed - snr_at_per_db(mcs=every, bytes=4096, coding=coding)
    assert (np.min(spare), np.max(spare)) == pytest.approx(spare_db, abs=0.15)


@pytest.mark.parametrize(("mcs", "step_db"), [(12, 3.0), (13, 6.0)])
def test_4096_qam_follows_the_sensitivity_steps(mcs: int, step_db: float) -> None:
    """No simulation published: MCS 12 and 13 lie above MCS 11 as far as in the standard (-49, -46 against -52 dBm)."""
    assert min_sensitivity_dbm(width_mhz=20, mcs=mcs) - min_sensitivity_dbm(width_mhz=20, mcs=11) == step_db
    assert snr_at_per_db(mcs=mcs) == pytest.approx(28.9 + step_db, abs=0.1)


@pytest.mark.parametrize(("width_mhz", "expected_dbm"), [(20, -101.0), (40, -98.0), (80, -94.9), (160, -91.9)])
def test_thermal_noise(width_mhz: int, expected_dbm: float) -> None:
    """k T B at 290 K: -174 dBm/Hz, -101.0 dBm in 20 MHz (physics, Boltzmann constant)."""
    assert noise_dbm(width_mhz=width_mhz, noise_figure_db=0.0) == pytest.approx(expected_dbm, abs=0.06)


@pytest.mark.parametrize("mcs", range(10))
def test_ratio_at_the_minimum_sensitivity(mcs: int) -> None:
    """The ratios printed beside the sensitivities, over -101.0 dBm: 19, 22, 24, 27, 31, 35, 36, 37, 42, 44 dB."""
    expected = (19, 22, 24, 27, 31, 35, 36, 37, 42, 44)[mcs]
    level = min_sensitivity_dbm(width_mhz=20, mcs=mcs)
    assert snr_db(level_dbm=level, width_mhz=20, noise_figure_db=0.0) == pytest.approx(expected, abs=0.05)


def test_ranges_that_can_be_computed() -> None:
    """Rayleigh branches added in power are gamma distributed: spread 4.34 sqrt(trigamma(k)) dB for k of them (two
    branches on two to four independent fades); two branches on one stream beat one branch by digamma(2) - digamma(1)
    in mean log power (Tse & Viswanath 2005, chapter 3 and 8, from memory)."""
    decibel = 10.0 / np.log(10.0)
    spread, separation = assumptions()["fading_spread_db"], assumptions()["stream_separation_db"]
    assert spread.low == pytest.approx(decibel * float(polygamma(1, 8)) ** 0.5, abs=0.05)
    assert spread.high == pytest.approx(decibel * float(polygamma(1, 4)) ** 0.5, abs=0.05)
    assert separation.high <= decibel * float(digamma(2) - digamma(1)) == pytest.approx(4.34, abs=0.005)


@pytest.mark.parametrize("standard", ["ac", "ax"])
def test_usual_two_stream_gear_on_80_mhz(standard: str) -> None:
    """At -62 dBm real two-stream gear runs at 390 to 590 Mb/s (from memory)."""
    choice = best_choice(level_dbm=-62.0, standard=standard, band="5", width_mhz=80, max_streams=2)
    assert choice.streams == 2
    assert 390 <= choice.phy_rate_mbps <= 590
