"""Masks, what they leak into other channels, and the channel plans, against published values (see SOURCES.md)."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from scipy.integrate import quad

from advisor.physics.bands import (
    WIDTHS_MHZ,
    block_centre_mhz,
    channels_of,
    is_valid_channel,
)
from advisor.physics.channel_plan import blocks, blocks_of, non_overlapping, operating_classes, secondaries
from advisor.physics.phy_rates import min_sensitivity_dbm
from advisor.physics.spectrum import (
    Mask,
    emitted_mhz,
    mask_level_dbr,
    mask_of,
    masks,
    overlap_2g4,
    power_through_filter_share,
)

CHECKS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "data" / "spectrum.yaml").read_text())
BY_NAME = {check["name"]: check for check in CHECKS}
OFDM_MASKS = [mask for name, mask in masks().items() if name != "dsss"]


def named(prefix: str) -> list[Any]:
    return [pytest.param(check, id=check["name"]) for check in CHECKS if check["name"].startswith(prefix)]


MASK_IDS = {
    "mask_ofdm20_5ghz": "ofdm20",
    "mask_ht20_2g4": "ht20-2g4",
    "mask_ht40_2g4": "ht40-2g4",
    "mask_ht40_5ghz": "ht40",
    "mask_vht80": "vht80",
    "mask_vht160": "vht160",
    "mask_he20": "he20",
    "mask_he40": "he40",
    "mask_he80": "he80",
    "mask_he160": "he160",
    "mask_eht320": "eht320",
}


@pytest.mark.parametrize("check", [check for check in named("mask_") if check.id != "mask_dsss"])
def test_mask_points(check: dict[str, Any]) -> None:
    mask = masks()[MASK_IDS[check["name"]]]
    assert [list(point) for point in zip(mask.offsets_mhz, mask.levels_dbr, strict=True)] == check["expected"]
    for offset, level in check["expected"]:
        assert mask_level_dbr(mask, offset) == pytest.approx(level, abs=1e-12)
        assert mask_level_dbr(mask, -offset) == pytest.approx(level, abs=1e-12)


def test_the_dsss_mask_is_made_of_steps() -> None:
    """-30 dBr from 11 to 22 MHz, -50 dBr beyond: the row's own note."""
    mask = masks()["dsss"]
    (flat, top), (start, low), (end, floor) = BY_NAME["mask_dsss"]["expected"]
    assert (mask_level_dbr(mask, 0.0), flat) == (top, start)
    assert [mask_level_dbr(mask, offset) for offset in (11.001, 16.0, 22.0)] == pytest.approx([low, low, low])
    assert mask_level_dbr(mask, end + 0.001) == pytest.approx(floor)


NS3_SLOPES = {
    "ofdm20": (0.3125, 96, {0: -40.0, 31: -28.375, 32: -28.0, 60: -20.276}),
    "ht20-2g4": (0.3125, 96, {0: -45.0, 31: -28.531, 32: -28.0, 60: -20.276}),
    "ht40-2g4": (0.3125, 192, {0: -45.0, 63: -28.266, 64: -28.0, 124: -20.131}),
    "ht40": (0.3125, 192, {0: -40.0, 63: -28.188, 64: -28.0, 124: -20.131}),
    "vht80": (0.3125, 384, {0: -40.0, 127: -28.094, 128: -28.0, 252: -20.064}),
    "vht160": (0.3125, 768, {0: -40.0, 255: -28.047, 256: -28.0, 508: -20.032}),
    "he20-2g4": (0.078125, 384, {0: -45.0, 127: -28.133, 128: -28.0, 252: -20.064}),
    "he20": (0.078125, 384, {0: -40.0, 127: -28.094, 128: -28.0, 252: -20.064}),
    "he40-2g4": (0.078125, 768, {0: -45.0, 255: -28.066, 256: -28.0, 505: -20.032}),
    "he40": (0.078125, 768, {0: -40.0, 255: -28.047, 256: -28.0, 505: -20.032}),
    "he80": (0.078125, 1536, {0: -40.0, 511: -28.023, 512: -28.0, 1017: -20.016}),
    "he160": (0.078125, 3072, {0: -40.0, 1023: -28.012, 1024: -28.0, 2041: -20.008}),
}
"""Subcarrier spacing in MHz, index of the centre, and level by index in the slopes outside the channel, from the
transmit mask tests published with ns-3 (wifi-transmit-mask-test.cc). Their own tolerance is 0.1 dB."""


@pytest.mark.parametrize("name", NS3_SLOPES)
def test_masks_agree_with_published_mask_tests(name: str) -> None:
    spacing, centre, levels = NS3_SLOPES[name]
    for index, level in levels.items():
        assert mask_level_dbr(masks()[name], (index - centre) * spacing) == pytest.approx(level, abs=0.1)


@pytest.mark.parametrize("mask", masks().values(), ids=lambda mask: mask.id)
def test_the_closed_form_is_the_integral_of_the_mask(mask: Mask) -> None:
    """Against adaptive quadrature of the mask itself, piece by piece and beyond its last point."""
    for end in (3.0, mask.offsets_mhz[0], *np.linspace(1.0, 1.4 * mask.reach_mhz, 9)):
        points = [offset for offset in mask.offsets_mhz if offset < end]
        numeric, _ = quad(
            lambda x: 10.0 ** (mask_level_dbr(mask, x) / 10.0), 0.0, end, points=points or None, limit=400
        )
        assert emitted_mhz(mask, end) == pytest.approx(numeric, rel=1e-9)
        assert emitted_mhz(mask, -end) == pytest.approx(-numeric, rel=1e-9)


@pytest.mark.parametrize(("name", "width"), [("he20-2g4", 20.0), ("ofdm20", 20.0), ("vht80", 80.0), ("dsss", 22.0)])
@pytest.mark.parametrize("offset", [0.0, 5.0, 11.3, 20.0, 25.0, 41.0])
def test_the_mirrored_filter_is_the_integral_of_the_product(name: str, width: float, offset: float) -> None:
    mask = masks()[name]
    ends = sorted({side * x + at for x in mask.offsets_mhz for side in (-1, 1) for at in (0.0, offset)})

    def product(x: float) -> float:
        return float(10.0 ** ((mask_level_dbr(mask, x) + mask_level_dbr(mask, x - offset)) / 10.0))

    passed = sum(quad(product, a, b, limit=200)[0] for a, b in pairwise(ends))
    share = power_through_filter_share(mask=mask, offset_mhz=offset, width_mhz=width, receiver="mirrored")
    assert share == pytest.approx(passed / (2.0 * emitted_mhz(mask, mask.reach_mhz)), rel=1e-6)


@pytest.mark.parametrize("receiver", ["rectangle", "mirrored"])
def test_shares_of_arrays_are_those_of_their_numbers(receiver: Any) -> None:
    offsets = np.linspace(-70.0, 70.0, 29)
    together = power_through_filter_share(mask=masks()["he20"], offset_mhz=offsets, width_mhz=20.0, receiver=receiver)
    for offset, share in zip(offsets, together, strict=True):
        alone = power_through_filter_share(
            mask=masks()["he20"], offset_mhz=float(offset), width_mhz=20.0, receiver=receiver
        )
        assert np.ndim(alone) == 0
        assert alone == pytest.approx(share, rel=1e-12)


def implied_snr_db(mcs: int) -> float:
    """What the minimum sensitivity of 20 MHz leaves over thermal noise, 10 dB noise figure and 5 dB implementation
    loss, the standard's own assumptions (802.11-2020 19.3.19.2)."""
    return float(min_sensitivity_dbm(width_mhz=20, mcs=mcs)) - (-174.0 + 10.0 * np.log10(20e6) + 15.0)


@pytest.mark.parametrize("mcs", range(12))
@pytest.mark.parametrize("mask", OFDM_MASKS, ids=lambda mask: mask.id)
def test_masks_leave_room_for_the_rejection_the_standard_asks_for(mask: Mask, mcs: int) -> None:
    """With the wanted signal 3 dB over sensitivity, a neighbour stronger by the rejection of the table must not more
    than double the noise: its share through the receiver's channel is at most -(rejection + 3 dB + needed ratio).

    A receiver with a perfect (rectangular) filter meets this for every mask, adjacent and next but one, with
    0.4 to 6 dB to spare: the standard's tables fit each other.
    """
    for spacing, kind in ((1.0, "adjacent"), (2.0, "nonadjacent")):
        rejection = BY_NAME[f"acr_{kind}_mcs{mcs}"]["expected"]
        share = power_through_filter_share(mask=mask, offset_mhz=spacing * mask.width_mhz, width_mhz=mask.width_mhz)
        assert 10.0 * np.log10(share) <= -(rejection + 3.0 + implied_snr_db(mcs))


def test_a_filter_as_poor_as_the_mask_would_just_miss_the_rejection() -> None:
    """Which is why the rectangle is what overlap is reckoned with."""
    share = power_through_filter_share(mask=masks()["he20"], offset_mhz=20.0, width_mhz=20.0, receiver="mirrored")
    assert -23.0 < 10.0 * np.log10(share) < -21.0


def test_the_overlap_of_2g4_channels() -> None:
    table = overlap_2g4()
    assert table.shape == (13, 13)
    assert np.array_equal(table, table.T)
    assert np.all(np.diff(table[0]) <= 1e-15)
    by_spacing = 10.0 * np.log10(table[0])
    # The flat top alone would give 0, -1.2, -3, -6 dB: 20, 15, 10 and 5 of 20 MHz in common.
    assert by_spacing[:4] == pytest.approx([0.0, -1.25, -3.01, -6.04], abs=0.05)
    assert by_spacing[4] < -20.0
    # Channels 1, 6, 11 lie 25 MHz apart and leave 5 MHz between them.
    assert by_spacing[5] == pytest.approx(-30.6, abs=0.1)


@pytest.mark.parametrize(
    ("standard", "width", "band", "name"),
    [
        ("n", 20, "2.4", "ht20-2g4"),
        ("n", 40, "2.4", "ht40-2g4"),
        ("n", 20, "5", "ofdm20"),
        ("ac", 40, "5", "ht40"),
        ("ac", 160, "5", "vht160"),
        ("ax", 20, "2.4", "he20-2g4"),
        ("ax", 80, "6", "he80"),
        ("be", 160, "6", "he160"),
        ("be", 320, "6", "eht320"),
    ],
)
def test_which_mask_a_network_keeps(standard: str, width: int, band: str, name: str) -> None:
    assert mask_of(standard, width, band).id == name
    assert mask_of(standard, width, band).width_mhz == width


def numbers(text: str) -> list[int]:
    """`36-48`, `1-233 step 4`, `centres 42,58` or `2`."""
    text = text.removeprefix("centres ").removesuffix("(+)").removesuffix("(-)").strip()
    if "," in text:
        return [int(word) for word in text.split(",")]
    ends, _, step = text.partition(" step ")
    if "-" not in ends:
        return [int(ends)]
    low, high = (int(word) for word in ends.split("-"))
    return list(range(low, high + 1, int(step) if step else (1 if high < 14 else 4)))


@pytest.mark.parametrize("check", named("opclass_"))
def test_operating_class(check: dict[str, Any]) -> None:
    row = operating_classes()[check["inputs"]["op_class"]]
    told = check["expected"]["channels"]
    assert row.width_mhz == check["expected"]["width_mhz"]
    if told.startswith("6 GHz"):
        assert (row.band, row.width_mhz) == ("6", int(told.split()[-1]))
    elif told.startswith("centres"):
        assert [block.centre for block in row.blocks] == numbers(told)
    else:
        assert list(row.primaries) == numbers(told)


def test_classes_are_complete_and_agree_with_the_blocks_by_rule() -> None:
    """Every block of every class against the other way of numbering, by alignment from a group's first channel."""
    assert set(operating_classes()) == {81, 82, 83, 84, *range(115, 138)}
    for row in operating_classes().values():
        for block in row.blocks:
            assert len(block.channels) == block.width_mhz // 20
            if block.width_mhz == 320:
                continue
            for primary in block.channels:
                side = row.secondary or "above"
                if row.band == "2.4" and row.width_mhz == 40 and primary not in row.primaries:
                    continue
                if row.band == "2.4" and row.width_mhz == 40:
                    primary = block.channels[0 if side == "above" else 1]
                assert is_valid_channel(block.band, primary, block.width_mhz, side)
                assert block_centre_mhz(block.band, primary, block.width_mhz, side) == block.centre_mhz


@pytest.mark.parametrize("band", ["5", "6"])
def test_every_valid_channel_of_the_bands_is_in_a_class(band: str) -> None:
    for width in WIDTHS_MHZ[band]:
        for primary in channels_of(band):
            assert bool(blocks_of(band, primary, width)) == bool(is_valid_channel(band, primary, width))


def test_40_mhz_in_5_ghz_has_its_sides_in_two_classes() -> None:
    for above, below in ((116, 117), (119, 120), (122, 123), (126, 127)):
        upper, lower = operating_classes()[above], operating_classes()[below]
        assert [block.centre for block in upper.blocks] == [block.centre for block in lower.blocks]
        assert all(block.channels[0] == primary for block, primary in zip(upper.blocks, upper.primaries, strict=True))
        assert all(block.channels[1] == primary for block, primary in zip(lower.blocks, lower.primaries, strict=True))


@pytest.mark.parametrize("check", [*named("us_6ghz_"), *named("eu_6ghz_")])
def test_320_mhz_counts(check: dict[str, Any]) -> None:
    low, high = (5925.0, 7125.0) if check["name"].startswith("us") else (5945.0, 6425.0)
    assert len(non_overlapping("6", 320, low, high)) == check["expected"]


@pytest.mark.parametrize(("width", "us", "eu"), [(20, 59, 24), (40, 29, 12), (80, 14, 6), (160, 7, 3), (320, 3, 1)])
def test_6_ghz_counts_by_class(width: int, us: int, eu: int) -> None:
    """The counts of the channel rows in checks.yaml, here from the class table."""
    assert len(non_overlapping("6", width, 5925.0, 7125.0)) == us
    assert len(non_overlapping("6", width, 5945.0, 6425.0)) == eu


def test_both_sets_of_320_mhz() -> None:
    """Centres every 160 MHz from 6105 MHz, as Linux accepts them (net/wireless/chan.c)."""
    assert [block.centre for block in blocks("6", 320)] == [31, 63, 95, 127, 159, 191]
    assert [block.centre_mhz for block in blocks("6", 320)] == [6105.0 + 160.0 * n for n in range(6)]
    assert [block.centre for block in blocks_of("6", 37, 320)] == [31, 63]
    assert [block.centre for block in blocks_of("6", 1, 320)] == [31]


def test_secondary_channels() -> None:
    (block,) = blocks_of("5", 36, 160)
    assert secondaries(block, 36) == {20: (40,), 40: (44, 48), 80: (52, 56, 60, 64)}
    assert secondaries(block, 56) == {20: (52,), 40: (60, 64), 80: (36, 40, 44, 48)}
    (single,) = (block for block in blocks("5", 20) if block.centre == 36)
    assert secondaries(single, 36) == {}
    with pytest.raises(ValueError, match="no part of block"):
        secondaries(block, 100)
