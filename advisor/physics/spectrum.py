"""How much of a sender's power falls into another channel: spectral masks and their integrals.

A mask is the most a sender may emit, not what it emits: shares from masks are an upper bound for gear that keeps the
standard, and usual gear stays several dB below it away from the channel.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any, Literal

import numpy as np

from advisor.data import catalogue
from advisor.physics.arrays import Number, plain
from advisor.trace import formula

Filter = Literal["rectangle", "mirrored"]


@dataclass(frozen=True, slots=True)
class Mask:
    """A transmit spectral mask: straight in dB between its points, level beyond the last, the same on both sides."""

    id: str
    title: str
    width_mhz: float
    offsets_mhz: tuple[float, ...]
    levels_dbr: tuple[float, ...]
    source: str
    status: str

    @property
    def reach_mhz(self) -> float:
        """Offset of the last point. What a sender emits within it counts as its power."""
        return self.offsets_mhz[-1]

    @property
    def pieces(self) -> tuple[tuple[float, float, float, float], ...]:
        """Start, end, level at the start and level at the end of each straight piece, from the centre outwards."""
        points = [(0.0, self.levels_dbr[0]), *zip(self.offsets_mhz, self.levels_dbr, strict=True)]
        return tuple((a, b, at_a, at_b) for (a, at_a), (b, at_b) in pairwise(points) if b > a)


@cache
def masks() -> dict[str, Mask]:
    """Every mask of the catalogue, by id."""
    return {
        name: Mask(
            name,
            str(row["title"]),
            float(row["width_mhz"]),
            tuple(float(offset) for offset, _ in row["points"]),
            tuple(float(level) for _, level in row["points"]),
            str(row["source"]),
            str(row["status"]),
        )
        for name, row in catalogue("spectrum")["masks"].items()
    }


@cache
def mask_of(standard: str, width_mhz: int, band: str) -> Mask:
    """The mask a network of this standard (n, ac, ax, be), width and band must keep."""
    near = "-2g4" if band == "2.4" else ""
    if standard in ("ax", "be"):
        name = "eht320" if width_mhz == 320 else f"he{width_mhz}{near}"
    elif width_mhz == 20:
        name = "ht20-2g4" if near else "ofdm20"
    else:
        name = f"ht40{near}" if width_mhz == 40 else f"vht{width_mhz}"
    return masks()[name]


def mask_level_dbr(mask: Mask, offset_mhz: Number) -> Any:
    """The mask at an offset from the centre, in dB relative to its flat top. At a step the higher level counts."""
    away = np.abs(offset_mhz)
    level = np.full(np.shape(away), mask.levels_dbr[-1])
    for start, end, at_start, at_end in reversed(mask.pieces):
        inside = at_start + (at_end - at_start) * (away - start) / (end - start)
        level = np.where(away <= end, inside, level)
    return plain(level)


def emitted_mhz(mask: Mask, offset_mhz: Number) -> Any:
    """Power between the centre and an offset, in units of (flat top density x 1 MHz); negative to the left.

    Closed form: over a piece that runs from `a` dBr with slope `s` dB/MHz the density integrates to
    10^(a/10) (e^(k x) - 1) / k, with k = s ln(10) / 10.
    """
    away = np.abs(offset_mhz)
    total = np.maximum(away - mask.reach_mhz, 0.0) * 10.0 ** (mask.levels_dbr[-1] / 10.0)
    for start, end, at_start, at_end in mask.pieces:
        total = total + _piece_mhz(np.clip(away, start, end) - start, at_start, (at_end - at_start) / (end - start))
    return plain(np.sign(offset_mhz) * total)


def _piece_mhz(run_mhz: Any, level_dbr: Any, slope_db_per_mhz: Any) -> Any:
    """Integral of a density that starts at a level and runs straight in dB."""
    growth = np.asarray(slope_db_per_mhz) * np.log(10.0) / 10.0
    steep = np.where(growth == 0.0, 1.0, growth)
    return 10.0 ** (np.asarray(level_dbr) / 10.0) * np.where(growth == 0.0, run_mhz, np.expm1(steep * run_mhz) / steep)


@formula(
    id="spectrum.power_through_filter_share",
    unit="",
    expr="integral of the mask over the receiver's channel / integral of the mask",
    source="definition; masks of IEEE 802.11-2020 17.3.9.3, 19.3.18.1, 21.3.17.1, 802.11ax-2021 27.3.19.1",
)
def power_through_filter_share(
    *, mask: Mask, offset_mhz: Number, width_mhz: Number, receiver: Filter = "rectangle"
) -> Any:
    """Share (0 to 1) of a sender's power that passes the channel filter of a receiver tuned `offset_mhz` away.

    `rectangle`: the filter passes its `width_mhz` and nothing else; what is left is the sender's own leak. `mirrored`:
    the filter is no better than the mask of its own width is for senders, so the part of the neighbour's own channel
    that the filter lets pass is counted as well. Both are closed forms over the straight pieces. The sender's power is
    what it emits within the mask's last point. Mirrored takes a single width (20, 22, 40, 80, 160 or 320).
    """
    if receiver == "mirrored":
        return _mirrored_share(mask, _receiver_mask(mask, float(np.max(width_mhz))), offset_mhz)
    half = np.asarray(width_mhz) / 2.0
    passed = emitted_mhz(mask, np.asarray(offset_mhz) + half) - emitted_mhz(mask, np.asarray(offset_mhz) - half)
    return plain(np.minimum(passed / (2.0 * emitted_mhz(mask, mask.reach_mhz)), 1.0))


def _receiver_mask(mask: Mask, width_mhz: float) -> Mask:
    """The mask a receiver's filter mirrors: the sender's own if as wide, else the narrowest OFDM one of that width."""
    if mask.width_mhz == width_mhz:
        return mask
    return next(other for other in masks().values() if other.width_mhz == width_mhz)


def _mirrored_share(mask: Mask, filter_mask: Mask, offset_mhz: Number) -> Any:
    """Integral of (mask x filter) / integral of the mask.

    The product is straight in dB between any two neighbouring points of either; its ends follow from two values inside.
    """
    offset = np.asarray(offset_mhz, dtype=float)[..., np.newaxis]
    own = np.array([*(-x for x in mask.offsets_mhz), *mask.offsets_mhz])
    other = np.array([*(-x for x in filter_mask.offsets_mhz), *filter_mask.offsets_mhz])
    points = np.sort(np.concatenate([np.broadcast_to(own, (*offset.shape[:-1], own.size)), offset + other], axis=-1))
    start, run = points[..., :-1], np.diff(points)

    def product_dbr(share: float) -> Any:
        at = start + share * run
        return mask_level_dbr(mask, at) + mask_level_dbr(filter_mask, at - offset)

    near, far = product_dbr(0.25), product_dbr(0.75)
    slope = np.where(run > 0.0, (far - near) / np.where(run > 0.0, 0.5 * run, 1.0), 0.0)
    passed = _piece_mhz(run, near - 0.25 * run * slope, slope).sum(axis=-1)
    return plain(np.minimum(passed / (2.0 * emitted_mhz(mask, mask.reach_mhz)), 1.0))


@cache
def overlap_2g4(mask_id: str = "he20-2g4", width_mhz: float = 20.0, receiver: Filter = "rectangle") -> Any:
    """For 2.4 GHz channels 1 to 13: row = receiver's channel, column = sender's, entry = share of the sender's power
    that the receiver's filter passes. Read-only."""
    channels = np.arange(1, 14)
    offset = 5.0 * (channels[np.newaxis, :] - channels[:, np.newaxis])
    table = power_through_filter_share(mask=masks()[mask_id], offset_mhz=offset, width_mhz=width_mhz, receiver=receiver)
    table.setflags(write=False)
    return table
