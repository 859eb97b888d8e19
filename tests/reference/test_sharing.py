"""Saturation throughput against Bianchi 2000 and published runs, and the rate anomaly (see SOURCES.md)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from advisor.physics.frames import ofdm_frame_us
from advisor.physics.sharing import best_tau, bianchi, rate_anomaly, saturation_share

CHECKS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "data" / "checks.yaml").read_text())
BY_NAME = {check["name"]: check for check in CHECKS}
SLOT_US, PAYLOAD_US = 50.0, 8184.0


def named(prefix: str) -> list[Any]:
    return [pytest.param(check, id=check["name"]) for check in CHECKS if check["name"].startswith(prefix)]


def durations_us(mode: str) -> tuple[float, float]:
    """T_s and T_c with the paper's Table II at 1 Mb/s: headers 272 + 128 bit; ACK, RTS, CTS with a PHY header."""
    header, ack, rts, cts = 400.0, 240.0, 288.0, 240.0
    sifs, difs, delta = 28.0, 128.0, 1.0
    if mode == "basic":
        return header + PAYLOAD_US + sifs + delta + ack + difs + delta, header + PAYLOAD_US + difs + delta
    success = rts + cts + header + PAYLOAD_US + ack + 3 * sifs + 4 * delta + difs
    return success, rts + difs + delta


def test_durations_are_the_papers() -> None:
    for mode in ("basic", "rts"):
        success, collision = durations_us(mode)
        assert success == BY_NAME[f"bianchi_Ts_{mode}_us"]["expected"]
        assert collision == BY_NAME[f"bianchi_Tc_{mode}_us"]["expected"]


@pytest.mark.parametrize("check", named("bianchi_S_"))
def test_saturation_throughput(check: dict[str, Any]) -> None:
    inputs, expected = check["inputs"], check["expected"]
    success, collision = durations_us(inputs["mode"])
    found = bianchi(contenders=inputs["n"], window=inputs["W"], stages=inputs["m"])
    share = saturation_share(
        contenders=inputs["n"],
        payload_us=PAYLOAD_US,
        success_us=success,
        collision_us=collision,
        slot_us=SLOT_US,
        window=inputs["W"],
        stages=inputs["m"],
    )
    assert found.tau == pytest.approx(expected["tau"], rel=1e-4)
    assert found.p == pytest.approx(expected["p"], rel=1e-4, abs=1e-6)
    assert share == pytest.approx(expected["S"], rel=check["tolerance"]["rel"])


@pytest.mark.parametrize("mode", ["basic", "rts"])
def test_best_chance_of_starting(mode: str) -> None:
    """K = sqrt(Tc* / 2), Tc* in slots, is 1 / (n tau) at the optimum."""
    check = BY_NAME[f"bianchi_K_{mode}"]
    _, collision = durations_us(mode)
    tau = best_tau(contenders=10, collision_us=collision, slot_us=SLOT_US)
    assert 1.0 / (10 * tau) == pytest.approx(check["expected"], abs=check["tolerance"])


@pytest.mark.parametrize("check", named("bianchi_ns3_"))
def test_published_runs_with_frozen_counters(check: dict[str, Any]) -> None:
    """The reference lets a winner with a zero draw send again at once: payload and exchange grow by 1 / (1 - B)."""
    inputs = check["inputs"]
    frame = ofdm_frame_us(
        frame_bytes=inputs["payload_B"] + 8 + inputs["mac_B"], rate_mbps=inputs["rate_mbps"], band="2.4"
    )
    ack = ofdm_frame_us(frame_bytes=14, rate_mbps=inputs["ack_mbps"], band="2.4")
    success = inputs["difs"] + frame + inputs["sifs"] + ack
    again = 1.0 / (inputs["cwmin"] + 1)
    share = saturation_share(
        contenders=inputs["n"],
        payload_us=8.0 * inputs["payload_B"] / (1.0 - again),
        success_us=success / (1.0 - again) + inputs["slot"],
        collision_us=inputs["difs"] + frame,
        slot_us=inputs["slot"],
    )
    assert share == pytest.approx(check["expected"], rel=check["tolerance"]["rel"])


@pytest.mark.parametrize("check", named("heusse_"))
def test_rate_anomaly(check: dict[str, Any]) -> None:
    inputs, expected = check["inputs"], check["expected"]
    found = rate_anomaly(
        hosts=inputs["N"],
        fast_mbps=inputs["R_fast"],
        slow_mbps=inputs["r_slow"],
        frame_bytes=inputs["frame_bytes"],
        payload_bits=inputs["payload_bits"],
        preamble_us=inputs["preamble_us"],
        sifs_us=inputs["sifs"],
        difs_us=inputs["difs"],
        slot_us=inputs["slot"],
        window=inputs["cwmin"],
    )
    assert found.fast_exchange_us == pytest.approx(expected["Tf_us"], rel=1e-3)
    assert found.slow_exchange_us == pytest.approx(expected["Ts_us"], rel=1e-3)
    assert found.collision_chance == pytest.approx(expected["Pc"], abs=5e-5)
    assert found.each_mbps == pytest.approx(expected["X_per_host_mbps"], rel=1e-3)
