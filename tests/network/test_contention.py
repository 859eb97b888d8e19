"""Which cells share air: channels that overlap and members that hear each other."""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np
import pytest

from advisor.network.contention import Cell, cells, channel_overlap, conflict_graph, contention
from advisor.network.graph import Hop
from advisor.network.inventory import RadioUnit


def radio(name: str, band: str, channel: int | None, width_mhz: int = 20, secondary: str | None = None) -> RadioUnit:
    node, _, own = name.partition(".")
    return RadioUnit(
        name=name,
        node=node,
        id=own,
        path=f"nodes.{node}.radios.{own}",
        band=band,
        serves_clients=True,
        standard="n",
        streams=2,
        width_mhz=width_mhz,
        channel=channel,
        secondary=secondary,  # type: ignore[arg-type]
        guard_ns=None,
        antenna_dbi=2.0,
        eirp_dbm=20.0,
        conducted_dbm=None,
        power_drop_db=(),
        highest_mcs=None,
        mac=None,
        settings={},
    )


def pair(first: tuple[Any, ...], second: tuple[Any, ...]) -> dict[str, RadioUnit]:
    return {"a.r": radio("a.r", *first), "b.r": radio("b.r", *second)}


def shared(first: tuple[Any, ...], second: tuple[Any, ...], hears: Any = True) -> dict[tuple[str, str], Any]:
    radios = pair(first, second)
    return contention(cells(radios, {}), radios, lambda one, other: hears)


# 20 MHz channels of 2.4 GHz stand 5 MHz apart: of 20 MHz, 20 - 5 n are common (IEEE 802.11-2020 Annex E).
@pytest.mark.parametrize(("apart", "share"), [(0, 1.0), (1, 0.75), (2, 0.5), (3, 0.25), (4, 0.0), (5, 0.0)])
def test_overlap_in_24_ghz_falls_by_a_quarter_a_channel(apart: int, share: float) -> None:
    radios = pair(("2.4", 1), ("2.4", 1 + apart))
    assert channel_overlap(radios["a.r"], radios["b.r"]) == pytest.approx(share)


@pytest.mark.parametrize("width", [20, 40, 80])
@pytest.mark.parametrize("channels", list(product([36, 40, 44, 52, 60], repeat=2)))
def test_equal_widths_see_each_other_alike(channels: tuple[int, int], width: int) -> None:
    radios = pair(("5", channels[0], width), ("5", channels[1], width))
    there, back = channel_overlap(radios["a.r"], radios["b.r"]), channel_overlap(radios["b.r"], radios["a.r"])
    assert there == back
    assert there in (0.0, 1.0)


@pytest.mark.parametrize("channels", list(product([1, 3, 6, 11], repeat=2)))
def test_equal_widths_in_24_ghz_block_each_other_alike(channels: tuple[int, int]) -> None:
    found = shared(("2.4", channels[0]), ("2.4", channels[1]))
    assert found.get(("a.r", "b.r")) == found.get(("b.r", "a.r"))


def test_a_wide_channel_covers_the_narrow_one_inside_it() -> None:
    radios = pair(("5", 36, 80), ("5", 44, 20))
    assert channel_overlap(radios["a.r"], radios["b.r"]) == 1.0


def test_neighbouring_blocks_and_other_bands_do_not_meet() -> None:
    assert shared(("5", 36, 80), ("5", 52, 80)) == {}
    assert shared(("2.4", 1), ("2.4", 6)) == {}
    assert shared(("2.4", 1), ("5", 36)) == {}


@pytest.mark.parametrize("first", [("5", None, 80), ("5", 36, 80)])
def test_an_unknown_channel_counts_as_shared(first: tuple[Any, ...]) -> None:
    found = shared(first, ("5", None, 20))
    assert found == {("a.r", "b.r"): 1.0, ("b.r", "a.r"): 1.0}


def test_an_unknown_channel_shares_nothing_with_another_band() -> None:
    assert shared(("5", None), ("2.4", None)) == {}


def test_those_who_do_not_hear_each_other_do_not_share() -> None:
    assert shared(("5", 36), ("5", 36), hears=False) == {}


def test_hearing_is_kept_case_by_case() -> None:
    found = shared(("2.4", 1), ("2.4", 3), hears=np.array([True, False, True]))
    assert list(found["a.r", "b.r"]) == [0.5, 0.0, 0.5]


RADIOS = {name: radio(name, "5", 36, 80) for name in ("gw.r", "mid.r", "far.r")}
HOPS = {
    "mid": Hop("mid", "gw", "radio", "mid.r", "gw.r", "5"),
    "far": Hop("far", "mid", "radio", "far.r", "mid.r", "5"),
}


def test_a_cell_holds_the_uplink_radios_that_join_it() -> None:
    found = cells(RADIOS, HOPS)
    assert found["gw.r"] == Cell("gw.r", ("gw.r", "mid.r"), frozenset({"gw", "mid"}))
    assert found["mid.r"].members == ("mid.r", "far.r")
    assert found["far.r"].members == ("far.r",)


def test_a_wired_hop_joins_no_cell() -> None:
    assert cells(RADIOS, {"mid": Hop("mid", "gw", "ethernet")})["gw.r"].members == ("gw.r",)


def test_cells_contend_where_any_member_hears_any_member() -> None:
    """far.r is out of gw.r's hearing, but mid.r, a member of gw.r's cell, hears it."""

    def hears(one: str, other: str) -> bool:
        return {one, other} != {"gw.r", "far.r"}

    found = contention(cells(RADIOS, HOPS), RADIOS, hears)
    assert set(found) == {(one, other) for one in RADIOS for other in RADIOS if one != other}


def test_conflict_graph_takes_the_centre() -> None:
    graph = conflict_graph(["a", "b", "c"], {("a", "b"): np.array([0.0, 1.0]), ("b", "c"): np.array([0.5, 0.0])})
    assert set(graph.edges) == {("b", "c")}
    assert set(graph) == {"a", "b", "c"}
