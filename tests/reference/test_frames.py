"""Frame durations against published ones, exactly (see SOURCES.md)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from advisor.physics.frames import (
    DSSS_LONG_PREAMBLE_US,
    DSSS_SHORT_PREAMBLE_US,
    LEGACY_PREAMBLE_US,
    SIGNAL_EXTENSION_US,
    FrameHabits,
    dsss_frame_us,
    dsss_payload_us,
    ofdm_frame_us,
    ppdu_us,
    preamble_us,
)
from advisor.physics.mac import mac_settings

CHECKS: dict[str, dict[str, Any]] = {
    check["name"]: check for check in yaml.safe_load((Path(__file__).parent / "data" / "checks.yaml").read_text())
}
SIMULATOR = mac_settings("simulator").frame_habits


def data_us(standard: str, width_mhz: int, mcs: int, guard_ns: int, habits: FrameHabits) -> float:
    return float(
        ppdu_us(
            standard=standard,
            band="5",
            width_mhz=width_mhz,
            mcs=mcs,
            streams=1,
            psdu_bytes=1536,
            guard_ns=guard_ns,
            habits=habits,
        )
    )


STANDARD = FrameHabits()
DATA_FRAMES = {
    "airtime_ht20_mcs7_lgi_1536_us": ("n", 20, 7, 800, STANDARD),
    "airtime_ht40_mcs7_lgi_1536_us": ("n", 40, 7, 800, STANDARD),
    "airtime_ht20_mcs0_sgi_1536_us": ("n", 20, 0, 400, SIMULATOR),
    "airtime_ht20_mcs0_sgi_1536_standard_us": ("n", 20, 0, 400, STANDARD),
    "airtime_he20_mcs0_gi08_1536_us": ("ax", 20, 0, 800, SIMULATOR),
    "airtime_he80_mcs0_gi08_1536_us": ("ax", 80, 0, 800, SIMULATOR),
    "airtime_he20_mcs11_gi08_1536_us": ("ax", 20, 11, 800, SIMULATOR),
    "airtime_he80_mcs11_gi08_1536_us": ("ax", 80, 11, 800, SIMULATOR),
    "airtime_he160_mcs0_gi08_1536_us": ("ax", 160, 0, 800, SIMULATOR),
    "airtime_he20_mcs0_gi32_1536_us": ("ax", 20, 0, 3200, SIMULATOR),
    "airtime_vht20_mcs8_lgi_1536_us": ("ac", 20, 8, 800, STANDARD),
    "airtime_vht80_mcs9_lgi_1536_us": ("ac", 80, 9, 800, STANDARD),
    "airtime_vht80_mcs0_lgi_1536_us": ("ac", 80, 0, 800, STANDARD),
}
OFDM_FRAMES = {
    "airtime_ofdm54_1536_us": (1536, 54, "5"),
    "airtime_ofdm54_76_us": (76, 54, "5"),
    "airtime_ofdm54_14_us": (14, 54, "5"),
    "airtime_erp54_1536_us": (1536, 54, "2.4"),
    "airtime_ack_6_us": (14, 6, "5"),
    "airtime_ack_12_us": (14, 12, "5"),
    "airtime_ack_24_us": (14, 24, "5"),
    "airtime_ba_24_us": (32, 24, "5"),
    "airtime_rts_24_us": (20, 24, "5"),
}
DSSS_FRAMES = {"airtime_dsss1_ack14_long_us": (14, 1), "airtime_cck11_1536_long_us": (1536, 11)}
CCK_PAYLOADS = [f"airtime_cck11_{size}_payload_us" for size in (1023, 1024, 1025, 1026)]


@pytest.mark.parametrize("name", DATA_FRAMES)
def test_data_frame(name: str) -> None:
    assert data_us(*DATA_FRAMES[name]) == pytest.approx(CHECKS[name]["expected"], abs=1e-6)


@pytest.mark.parametrize("name", OFDM_FRAMES)
def test_ofdm_frame(name: str) -> None:
    size, rate, band = OFDM_FRAMES[name]
    assert ofdm_frame_us(frame_bytes=size, rate_mbps=rate, band=band) == CHECKS[name]["expected"]


@pytest.mark.parametrize("name", DSSS_FRAMES)
def test_dsss_frame(name: str) -> None:
    size, rate = DSSS_FRAMES[name]
    assert dsss_frame_us(frame_bytes=size, rate_mbps=rate) == CHECKS[name]["expected"]


@pytest.mark.parametrize("name", CCK_PAYLOADS)
def test_cck_payload(name: str) -> None:
    inputs = CHECKS[name]["inputs"]
    assert dsss_payload_us(frame_bytes=inputs["bytes"], rate_mbps=inputs["rate"]) == CHECKS[name]["expected"]


def test_no_published_duration_is_left_out() -> None:
    used = {*DATA_FRAMES, *OFDM_FRAMES, *DSSS_FRAMES, *CCK_PAYLOADS}
    assert used == {name for name in CHECKS if name.startswith("airtime_")}


def test_preambles() -> None:
    expected = {name: CHECKS[name]["expected"] for name in CHECKS}
    assert expected["legacy_ofdm_preamble_us"] == LEGACY_PREAMBLE_US
    assert expected["dsss_long_us"] == DSSS_LONG_PREAMBLE_US
    assert expected["dsss_short_us"] == DSSS_SHORT_PREAMBLE_US
    assert expected["erp_signal_extension_us"] == SIGNAL_EXTENSION_US["2.4"]
    assert expected["ht_mixed_1ss_us"] == preamble_us(standard="n", streams=1, guard_ns=800)
    assert expected["vht_su_1ss_us"] == preamble_us(standard="ac", streams=1, guard_ns=800)
    assert expected["he_su_1ss_2xltf_gi08_us"] == pytest.approx(preamble_us(standard="ax", streams=1, guard_ns=800))


def test_medium_access_timing_of_usual_gear() -> None:
    expected = {name: CHECKS[name]["expected"] for name in CHECKS}
    mac = mac_settings("usual-gear")
    assert mac.slot_us == expected["slot_5ghz_ofdm_us"] == expected["slot_2g4_erp_short_us"]
    assert mac.sifs_us("5") == expected["sifs_5ghz_ofdm_us"]
    assert mac.sifs_us("2.4") == expected["sifs_2g4_erp_short_us"]
    assert mac.longest_ppdu_us == expected["ppdu_max_time_us"]
    assert mac.aggregation("n").ampdu_bytes == expected["ampdu_max_ht_bytes"]
    assert mac.aggregation("ac").ampdu_bytes == expected["ampdu_max_vht_bytes"]
    assert mac.aggregation("ac").ampdu_frames == expected["ba_window"]["ht_vht"]
    assert mac.aggregation("ax").ampdu_frames == expected["ba_window"]["he"]
    assert mac.aggregation("be").ampdu_frames <= expected["ba_window"]["eht"]
    best_effort, voice = expected["edca_BE"], expected["edca_VO"]
    assert mac.aifs_us("5") == best_effort["aifs_5ghz_us"]
    assert mac.aifs_us("5", "voice") == voice["aifs_5ghz_us"]
    for access, row in ((mac.best_effort, best_effort), (mac.voice, voice)):
        assert (access.aifsn, access.cw_min, access.cw_max) == (row["aifsn"], row["cwmin"], row["cwmax"])
