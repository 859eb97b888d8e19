"""Which channels there are: operating classes, the blocks of wide channels, and what lies beside a primary.

A block is named by the channel number of its middle, as the standard does: 80 MHz block 42 holds channels 36 to 48.
At 320 MHz there are two overlapping sets of blocks (middles 31, 95, 159 and 63, 127, 191), so most primaries have two.
What a country allows is another question.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from advisor.data import catalogue
from advisor.physics.bands import Secondary, channel_centre_mhz


@dataclass(frozen=True, slots=True)
class Block:
    """A channel of 20 to 320 MHz."""

    band: str
    width_mhz: int
    centre: int
    """Channel number of the middle; of 20 MHz the channel itself."""
    centre_mhz: float
    channels: tuple[int, ...]
    """The 20 MHz channels it is made of, from below."""

    @property
    def range_mhz(self) -> tuple[float, float]:
        return self.centre_mhz - self.width_mhz / 2.0, self.centre_mhz + self.width_mhz / 2.0


@dataclass(frozen=True, slots=True)
class OperatingClass:
    """One row of the standard's table of global operating classes."""

    number: int
    band: str
    width_mhz: int
    """Width of one segment; classes 130 and 135 use two of them apart."""
    blocks: tuple[Block, ...]
    primaries: tuple[int, ...]
    """The 20 MHz channels a network of this class may have as its primary."""
    secondary: Secondary | None
    """Side of the second half, where the class fixes it."""
    two_segments: bool


@cache
def operating_classes() -> dict[int, OperatingClass]:
    """All global operating classes 81 to 84 and 115 to 137, by number (IEEE 802.11-2020 Table E-4 and amendments)."""
    return {int(number): _class(int(number), row) for number, row in catalogue("channels")["classes"].items()}


def _class(number: int, row: dict[str, Any]) -> OperatingClass:
    band, width, side = str(row["band"]), int(row["width_mhz"]), row.get("secondary")
    if side is None:
        blocks = tuple(_block(band, centre, width) for centre in _numbers(row["centres"]))
        primaries = tuple(channel for block in blocks for channel in block.channels)
    else:
        primaries = _numbers(row["primaries"])
        shift = 2 if side == "above" else -2
        blocks = tuple(_block(band, primary + shift, width) for primary in primaries)
    return OperatingClass(number, band, width, blocks, _distinct(primaries), side, bool(row.get("two_segments")))


def _numbers(told: Any) -> tuple[int, ...]:
    if isinstance(told, dict):
        return tuple(range(told["from"], told["to"] + 1, told["step"]))
    return tuple(told)


def _distinct(numbers: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(numbers))


def _block(band: str, centre: int, width_mhz: int) -> Block:
    """20 MHz channels lie 4 numbers apart, so the outermost lie 2 numbers inside the edges."""
    half = width_mhz // 10
    channels = (centre,) if width_mhz == 20 else tuple(range(centre - half + 2, centre + half, 4))
    return Block(band, width_mhz, centre, float(channel_centre_mhz(band, centre)), channels)


@cache
def blocks(band: str, width_mhz: int) -> tuple[Block, ...]:
    """Every block of one width in a band, from below; at 320 MHz both sets. None where no class has any."""
    found = {
        block.centre: block
        for row in operating_classes().values()
        if row.band == band and row.width_mhz == width_mhz
        for block in row.blocks
    }
    return tuple(found[centre] for centre in sorted(found))


def blocks_of(band: str, primary: int, width_mhz: int) -> tuple[Block, ...]:
    """The blocks of this width that hold a primary: none, one, or two where sets overlap (320 MHz; 40 MHz in 2.4 GHz,
    where the primary is the block's first or last channel)."""
    return tuple(block for block in blocks(band, width_mhz) if primary in block.channels)


def secondaries(block: Block, primary: int) -> dict[int, tuple[int, ...]]:
    """The secondary channels of a block by width: {20: (40,), 40: (44, 48)} for primary 36 of block 42.

    Each is the other half of the next wider part that holds the primary (IEEE 802.11-2020 11.15, 21.3.14). Empty for a
    20 MHz block. A ValueError says when the primary lies outside.
    """
    if primary not in block.channels:
        raise ValueError(f"channel {primary} is no part of block {block.centre} at {block.width_mhz} MHz")
    found: dict[int, tuple[int, ...]] = {}
    part, width = block.channels, block.width_mhz
    while len(part) > 1:
        width //= 2
        below, above = part[: len(part) // 2], part[len(part) // 2 :]
        part, other = (below, above) if primary in below else (above, below)
        found[width] = other
    return dict(sorted(found.items()))


def non_overlapping(band: str, width_mhz: int, low_mhz: float, high_mhz: float) -> tuple[Block, ...]:
    """The most blocks of one width that fit into a range without overlapping, taken from below."""
    taken: list[Block] = []
    for block in blocks(band, width_mhz):
        low, high = block.range_mhz
        standard = block.centre != 2 or band != "6"
        if standard and low >= low_mhz and high <= high_mhz and (not taken or low >= taken[-1].range_mhz[1]):
            taken.append(block)
    return tuple(taken)
