"""Channel centres and blocks against the standard's numbering (see SOURCES.md)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from advisor.physics.bands import (
    block_centre_mhz,
    channel_centre_mhz,
    channels_of,
    is_valid_channel,
    occupied_range_mhz,
)

CHECKS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "data" / "checks.yaml").read_text())


def named(prefix: str) -> list[Any]:
    return [pytest.param(check, id=check["name"]) for check in CHECKS if check["name"].startswith(prefix)]


@pytest.mark.parametrize("check", named("chan_"))
def test_channel_centre(check: dict[str, Any]) -> None:
    band = check["inputs"]["band"].split(":")[0]
    assert channel_centre_mhz(band, check["inputs"]["ch"]) == check["expected"]


@pytest.mark.parametrize(
    ("width_mhz", "centres"),
    [
        (40, {38, 46, 54, 62, 102, 110, 118, 126, 134, 142, 151, 159, 167, 175}),
        (80, {42, 58, 106, 122, 138, 155, 171}),
        (160, {50, 114, 163}),
    ],
)  # operating classes 116 to 129 as published with hostapd and Linux
def test_5ghz_blocks(width_mhz: int, centres: set[int]) -> None:
    found = {
        (block_centre_mhz("5", channel, width_mhz) - 5000) / 5
        for channel in channels_of("5")
        if is_valid_channel("5", channel, width_mhz)
    }
    assert found == centres


@pytest.mark.parametrize("check", [*named("us_6ghz_"), *named("eu_6ghz_")])
def test_6ghz_block_counts(check: dict[str, Any]) -> None:
    where, _, width, _ = check["name"].split("_")
    low, high = (5925, 7125) if where == "us" else (5945, 6425)
    width_mhz = int(width.removesuffix("mhz"))
    blocks = {
        occupied_range_mhz("6", channel, width_mhz)
        for channel in channels_of("6")
        if channel != 2 and is_valid_channel("6", channel, width_mhz)
    }
    assert len([block for block in blocks if block[0] >= low and block[1] <= high]) == check["expected"]
