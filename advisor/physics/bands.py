"""Bands, channels, and the frequencies a channel occupies.

Channel numbering: IEEE 802.11-2020 Annex E and 802.11ax-2021 27.3.23.2 (from memory; agrees with the operating classes
published with hostapd and Linux). Bands are named "2.4", "5" and "6"; a channel is the number of the primary 20 MHz.
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from advisor.physics.arrays import Number, plain
from advisor.trace import formula

Band = Literal["2.4", "5", "6"]
Secondary = Literal["above", "below"]

BANDS: tuple[Band, ...] = ("2.4", "5", "6")
WIDTHS_MHZ: dict[str, tuple[int, ...]] = {"2.4": (20, 40), "5": (20, 40, 80, 160), "6": (20, 40, 80, 160, 320)}
TYPICAL_FREQUENCY_MHZ: dict[str, float] = {"2.4": 2437.0, "5": 5250.0, "6": 6000.0}
"""A frequency that stands for the band where no channel is known."""

NON_OVERLAPPING_2G4_CHANNELS = (1, 6, 11)
"""The usual set of 20 MHz channels in 2.4 GHz that leave 5 MHz between them; valid in every regulatory domain."""

DFS_RANGES_MHZ = ((5250.0, 5350.0), (5470.0, 5725.0))
"""Where a 5 GHz network must watch for radar (ETSI EN 301 893 and 47 CFR 15.407; DFS flags of wireless-regdb)."""

_CHANNELS: dict[str, tuple[int, ...]] = {
    "2.4": tuple(range(1, 15)),
    "5": (*range(36, 65, 4), *range(100, 145, 4), *range(149, 178, 4)),
    "6": (*range(1, 234, 4), 2),
}
_FIRST_MHZ = {"2.4": 2407.0, "5": 5000.0, "6": 5950.0}
_GROUPS_5GHZ = ((36, 64), (100, 144), (149, 177))
_GROUP_6GHZ = (1, 233)


def channels_of(band: str) -> tuple[int, ...]:
    """Every 20 MHz channel number of a band; which of them a country allows is another question."""
    return _CHANNELS[band]


def typical_centre_mhz(band: str) -> float:
    """A frequency that stands for the band where no channel is known."""
    return TYPICAL_FREQUENCY_MHZ[band]


@formula(
    id="bands.channel_centre_mhz",
    unit="MHz",
    expr="2407 + 5 n (channel 14: 2484), 5000 + 5 n, 5950 + 5 n (channel 2: 5935)",
    source="IEEE 802.11-2020 Annex E, 802.11ax-2021 27.3.23.2 (from memory)",
)
def channel_centre_mhz(band: str, channel: Number) -> Any:
    """Centre frequency of a 20 MHz channel."""
    centre = _FIRST_MHZ[band] + 5.0 * np.asarray(channel)
    if band == "2.4":
        centre = np.where(np.asarray(channel) == 14, 2484.0, centre)
    elif band == "6":
        centre = np.where(np.asarray(channel) == 2, 5935.0, centre)
    return plain(centre)


def block_centre_mhz(band: str, channel: Number, width_mhz: Number = 20, secondary: Secondary = "above") -> Any:
    """Centre frequency of the block of `width_mhz` that holds the primary `channel`.

    In 2.4 GHz a 40 MHz block lies 10 MHz above or below its primary. In 5 GHz the blocks are those of the standard
    (40, 80, 160 MHz from channels 36, 100 and 149), in 6 GHz they are aligned from channel 1. Of the two overlapping
    sets of 320 MHz blocks the first (centres 31, 95, 159) is taken, and the last block of the second set (centre 191)
    for primaries above it. The result means nothing where `is_valid_channel` says no.
    """
    if band == "2.4":
        shift = 10.0 if secondary == "above" else -10.0
        return plain(channel_centre_mhz(band, channel) + np.where(np.asarray(width_mhz) == 40, shift, 0.0))
    first, last = _block(band, channel, width_mhz)
    single = np.asarray(width_mhz) == 20
    return plain(np.where(single, channel_centre_mhz(band, channel), _FIRST_MHZ[band] + 2.5 * (first + last)))


def occupied_range_mhz(
    band: str, channel: Number, width_mhz: Number = 20, secondary: Secondary = "above"
) -> tuple[Any, Any]:
    """Lower and upper edge of the frequencies a channel occupies, taken as its nominal width."""
    centre = block_centre_mhz(band, channel, width_mhz, secondary)
    half = np.asarray(width_mhz) / 2.0
    return plain(centre - half), plain(centre + half)


def _block(band: str, channel: Number, width_mhz: Number) -> tuple[Any, Any]:
    """Numbers of the first and last 20 MHz channel of the block in 5 or 6 GHz."""
    primary, span = np.asarray(channel), np.asarray(width_mhz) // 20 * 4
    if band == "5":
        start = np.where(primary >= 149, 149, np.where(primary >= 100, 100, 36))
    else:
        start = np.where((span == 64) & (primary > 189), 161, 1)
    first = start + (primary - start) // span * span
    return first, first + span - 4


def is_valid_channel(band: str, channel: Number, width_mhz: Number = 20, secondary: Secondary = "above") -> Any:
    """Whether the standard has a channel of this width with this primary (not whether a country allows it).

    40 MHz in 2.4 GHz: primaries 1 to 9 with the secondary above, 5 to 13 with it below (operating classes 83, 84).
    """
    primary, width = np.asarray(channel), np.asarray(width_mhz)
    known = np.isin(primary, _CHANNELS[band]) & np.isin(width, WIDTHS_MHZ[band])
    if band == "2.4":
        lowest, highest = (1, 9) if secondary == "above" else (5, 13)
        fits = (primary >= lowest) & (primary <= highest)
    else:
        first, last = _block(band, channel, np.where(known, width, 20))
        groups = _GROUPS_5GHZ if band == "5" else (_GROUP_6GHZ,)
        fits = np.zeros(np.shape(first), dtype=bool)
        for low, high in groups:
            fits = fits | ((first >= low) & (last <= high))
        fits = fits & ((primary != 2) | (band == "5"))
    return plain(known & ((width == 20) | fits))


def overlap_share(first_mhz: tuple[Number, Number], second_mhz: tuple[Number, Number]) -> Any:
    """Share (0 to 1) of the second signal's occupied bandwidth that falls into the first one's range.

    A plain overlap of rectangles: energy outside the nominal width, as the spectral masks allow it, is not counted,
    so neighbouring 2.4 GHz channels disturb each other a little more than this says.
    """
    low = np.maximum(first_mhz[0], second_mhz[0])
    high = np.minimum(first_mhz[1], second_mhz[1])
    return plain(np.maximum(high - low, 0.0) / (np.asarray(second_mhz[1]) - second_mhz[0]))


def is_dfs(band: str, channel: Number, width_mhz: Number = 20) -> Any:
    """Whether any part of the channel lies where radar must be watched for (5250-5350, 5470-5725 MHz)."""
    low, high = occupied_range_mhz(band, channel, width_mhz)
    touches = np.zeros(np.shape(low), dtype=bool)
    for start, end in DFS_RANGES_MHZ:
        touches = touches | ((low < end) & (high > start))
    return plain(touches & (band == "5"))
