"""Who shares the air: cells that overlap in channel and hear each other.

A cell is a radio that serves, with the uplink radios that join it. Two cells contend where a member of one hears a
member of the other above carrier sense, in proportion to how much of the other's signal falls into its own channel.
Clients are taken to hear what their node hears; hidden clients are not modelled yet.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from advisor.network.graph import Hop
from advisor.network.inventory import RadioUnit
from advisor.physics.bands import Secondary, channels_of, occupied_range_mhz, overlap_share
from advisor.values import Cases

if TYPE_CHECKING:
    import networkx as nx


@dataclass(frozen=True, slots=True)
class Cell:
    """A serving radio and the uplink radios that join it; named after the serving radio."""

    name: str
    members: tuple[str, ...]
    nodes: frozenset[str]


def cells(radios: Mapping[str, RadioUnit], hops: Mapping[str, Hop]) -> dict[str, Cell]:
    """Every cell by the name of its serving radio."""
    joined: dict[str, list[str]] = {name: [] for name in radios}
    for _, hop in sorted(hops.items()):
        if hop.air and hop.parent_radio in joined and hop.radio is not None:
            joined[hop.parent_radio].append(hop.radio)
    return {
        name: Cell(name, (name, *children), frozenset(radios[member].node for member in (name, *children)))
        for name, children in sorted(joined.items())
    }


def span_mhz(radio: RadioUnit) -> tuple[float, float] | None:
    """Lowest and highest frequency the radio's channel occupies, or None while its channel is not known."""
    if radio.channel is None:
        return None
    return occupied_mhz(radio.band, radio.channel, radio.width_mhz, side(radio.secondary, radio.channel))


def channels_within(radio: RadioUnit) -> frozenset[int]:
    """Numbers of the 20 MHz channels that lie wholly in the radio's channel; of a 20 MHz one its own. Empty while the
    channel is not known."""
    if radio.channel is None:
        return frozenset()
    return _within(radio.band, radio.channel, radio.width_mhz, side(radio.secondary, radio.channel))


@lru_cache(maxsize=512)
def _within(band: str, channel: int, width_mhz: int, secondary: Secondary) -> frozenset[int]:
    low, high = occupied_mhz(band, channel, width_mhz, secondary)
    spans = ((number, occupied_mhz(band, number, 20, "above")) for number in channels_of(band))
    return frozenset(number for number, (start, end) in spans if start >= low and end <= high)


@lru_cache(maxsize=512)
def occupied_mhz(band: str, channel: int, width_mhz: int, secondary: Secondary) -> tuple[float, float]:
    """Lower and upper edge of a channel, kept: a site has few channels and asks for them often."""
    low, high = occupied_range_mhz(band, channel, width_mhz, secondary)
    return float(low), float(high)


def side(declared: Secondary | None, channel: int) -> Secondary:
    """Side of the second half of a 40 MHz channel in 2.4 GHz: as declared, else above for channels 1 to 7."""
    return declared or ("above" if channel <= 7 else "below")


def channel_overlap(mine: RadioUnit, other: RadioUnit) -> float:
    """How far two channels are one, 0 to 1: what they have in common over the narrower of the two, since a radio defers
    to any frame that covers its own channel. On one band with a channel unknown: 1 (the worst)."""
    if mine.band != other.band:
        return 0.0
    span, others = span_mhz(mine), span_mhz(other)
    if span is None or others is None:
        return 1.0
    return in_common(span, others)


def in_common(first_mhz: tuple[float, float], second_mhz: tuple[float, float]) -> float:
    """Common part of two channels over the narrower one, 0 to 1; energy outside the nominal widths is not counted."""
    return float(max(overlap_share(first_mhz, second_mhz), overlap_share(second_mhz, first_mhz)))


def contention(
    cells: Mapping[str, Cell],
    radios: Mapping[str, RadioUnit],
    hears: Callable[[str, str], Any],
) -> dict[tuple[str, str], Cases | float]:
    """For every ordered pair of cells that contend: the share of the other's busy time that blocks mine.

    `hears(radio, radio)` gives, in every case, whether the two radios hear each other (True for one node's own).
    """
    result: dict[tuple[str, str], Cases | float] = {}
    names = list(cells)
    by_band: dict[str, list[str]] = {}
    for name in names:
        by_band.setdefault(radios[name].band, []).append(name)
    for group in by_band.values():
        for index, first in enumerate(group):
            for second in group[index + 1 :]:
                share = channel_overlap(radios[first], radios[second])
                if share == 0.0:
                    continue
                heard: Any = False
                for member in cells[first].members:
                    for other in cells[second].members:
                        heard = np.logical_or(heard, hears(member, other))
                if np.any(heard):
                    result[first, second] = result[second, first] = heard * share
    return result


def conflict_graph(names: list[str], contending: Mapping[tuple[str, str], Cases | float]) -> nx.Graph[str]:
    """The cells as vertices, an edge between two that contend at the centre of the band."""
    import networkx as nx

    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(names)
    for (first, second), share in contending.items():
        if np.ravel(share)[0] > 0:
            graph.add_edge(first, second)
    return graph
