"""Rates, absent rows and sensitivities of 802.11n/ac/ax/be against the published tables (see SOURCES.md)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from advisor.physics.phy_rates import (
    OFDM_SENSITIVITY_DBM,
    is_combination_allowed,
    min_sensitivity_dbm,
    phy_rate_mbps,
    refusal,
)

CHECKS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "data" / "checks.yaml").read_text())
STANDARD = {"ht": "n", "vht": "ac", "he": "ax", "eht": "be"}


def named(prefix: str) -> list[Any]:
    return [pytest.param(check, id=check["name"]) for check in CHECKS if check["name"].startswith(prefix)]


@pytest.mark.parametrize("check", named("phy_rate_"))
def test_rate_to_the_printed_digit(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    rate = phy_rate_mbps(
        standard=STANDARD[inputs["std"]],
        width_mhz=inputs["width_mhz"],
        mcs=inputs["mcs"],
        streams=inputs["nss"],
        guard_ns=round(1000 * inputs["gi_us"]),
    )
    assert rate == pytest.approx(check["expected"], abs=check["tolerance"]["abs"])
    assert rate == pytest.approx(check["expected"], abs=0.0051)


@pytest.mark.parametrize("check", named("vht_invalid_"))
def test_absent_vht_rows_are_refused(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    width, mcs, streams = inputs["width_mhz"], inputs["mcs"], inputs["nss"]
    assert not is_combination_allowed(standard="ac", width_mhz=width, mcs=mcs, streams=streams)
    reason = refusal(standard="ac", width_mhz=width, mcs=mcs, streams=streams)
    assert reason == f"802.11ac leaves out MCS {mcs} with {streams} streams at {width} MHz"


@pytest.mark.parametrize("check", [c for c in named("rx_sens_") if "mcs" in c.values[0]["inputs"]])
def test_sensitivity_table(check: dict[str, Any]) -> None:
    assert min_sensitivity_dbm(**check["inputs"]) == check["expected"]


@pytest.mark.parametrize("check", named("rx_sens_ofdm_"))
def test_clause_17_sensitivity(check: dict[str, Any]) -> None:
    assert OFDM_SENSITIVITY_DBM[check["inputs"]["mbps"]] == check["expected"]


@pytest.mark.parametrize("check", named("implied_snr_"))
def test_sensitivity_implies_the_published_ratio(check: dict[str, Any]) -> None:
    noise_dbm = -174.0 + 73.01 + 10.0
    ratio_db = min_sensitivity_dbm(width_mhz=20, mcs=check["inputs"]["mcs"]) - noise_dbm - 5.0
    assert ratio_db == pytest.approx(check["expected"], abs=check["tolerance"])
