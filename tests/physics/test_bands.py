"""Channels and what they occupy."""

from __future__ import annotations

import pytest

from advisor.physics import bands


def test_40_mhz_in_2g4_lies_above_or_below_its_primary() -> None:
    assert bands.occupied_range_mhz("2.4", 6, 40, "above") == (2427.0, 2467.0)
    assert bands.occupied_range_mhz("2.4", 6, 40, "below") == (2407.0, 2447.0)


@pytest.mark.parametrize(
    ("band", "channel", "width_mhz", "secondary", "valid"),
    [
        ("2.4", 9, 40, "above", True),
        ("2.4", 10, 40, "above", False),
        ("2.4", 4, 40, "below", False),
        ("2.4", 5, 40, "below", True),
        ("2.4", 1, 80, "above", False),
        ("2.4", 15, 20, "above", False),
        ("5", 165, 20, "above", True),
        ("5", 132, 160, "above", False),
        ("5", 128, 160, "above", True),
        ("5", 38, 20, "above", False),
        ("5", 36, 320, "above", False),
        ("6", 2, 20, "above", True),
        ("6", 2, 40, "above", False),
        ("6", 233, 40, "above", False),
        ("6", 221, 320, "above", True),
        ("6", 225, 320, "above", False),
    ],
)
def test_which_channels_exist(band: str, channel: int, width_mhz: int, secondary: bands.Secondary, valid: bool) -> None:
    assert bands.is_valid_channel(band, channel, width_mhz, secondary) == valid


def test_every_primary_of_a_block_occupies_the_same_range() -> None:
    assert {bands.occupied_range_mhz("5", channel, 80) for channel in (36, 40, 44, 48)} == {(5170.0, 5250.0)}
    assert bands.occupied_range_mhz("6", 37, 320) == (5945.0, 6265.0)


@pytest.mark.parametrize(
    ("channel", "width_mhz", "radar"),
    [
        (36, 20, False),
        (36, 80, False),
        (36, 160, True),
        (52, 20, True),
        (64, 20, True),
        (100, 20, True),
        (144, 20, True),
        (149, 80, False),
    ],
)
def test_radar_channels(channel: int, width_mhz: int, radar: bool) -> None:
    assert bands.is_dfs("5", channel, width_mhz) == radar


def test_other_bands_have_no_radar_channels() -> None:
    assert not bands.is_dfs("2.4", 6)
    assert not bands.is_dfs("6", 37)


def test_overlap_counts_the_share_of_the_second_signal() -> None:
    assert bands.overlap_share((5170.0, 5250.0), (5170.0, 5190.0)) == 1.0
    assert bands.overlap_share((5170.0, 5190.0), (5170.0, 5250.0)) == 0.25
    assert bands.overlap_share((2402.0, 2422.0), (2427.0, 2447.0)) == 0.0


def test_the_usual_2g4_channels_do_not_overlap() -> None:
    ranges = [bands.occupied_range_mhz("2.4", channel) for channel in bands.NON_OVERLAPPING_2G4_CHANNELS]
    assert all(bands.overlap_share(a, b) == 0.0 for a in ranges for b in ranges if a != b)


@pytest.mark.parametrize("band", bands.BANDS)
def test_the_typical_frequency_lies_in_the_band(band: str) -> None:
    channels = [bands.channel_centre_mhz(band, channel) for channel in bands.channels_of(band)]
    assert min(channels) <= bands.typical_centre_mhz(band) <= max(channels)
