"""The whole way up to the internet line, and the best other way of a fixed air uplink."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from advisor.facts.book import Book
from advisor.facts.ways import chain_mbps, gain_of, turns_mbps
from advisor.subjects import Subject
from advisor.values import Known, Options, Unknown

Make = Callable[[str], Book]


def hop(name: str) -> Subject:
    return Subject("hop", (name,))


def centre(book: Book, name: str, subject: Subject, **variant: str) -> Any:
    value = book.get(name, subject, **variant).value
    assert isinstance(value, Known), value
    return value.centre


@pytest.mark.parametrize(
    ("hops", "expected"),
    [
        ((100.0,), 100.0),  # alone
        ((100.0, 100.0), 50.0),  # 0.01 + 0.01 s for a megabit
        ((100.0, 100.0, 100.0), 100.0 / 3.0),  # Li et al. 2001: 1/3 for three hops in one another's hearing
        ((300.0, 100.0), 75.0),  # 1/300 + 1/100 = 4/300
        ((200.0, 0.0), 0.0),  # one that does not hold
    ],
)
def test_hops_on_one_channel_add_their_times(hops: tuple[float, ...], expected: float) -> None:
    assert turns_mbps(**{f"hop_{number}": mbps for number, mbps in enumerate(hops)}) == pytest.approx(expected)


def test_the_slowest_stage_bounds() -> None:
    """Two hops of 120 Mb/s that take turns (60), one of 90 on a channel of its own, a wire of 94."""
    assert chain_mbps(both=turns_mbps(one=120.0, two=120.0), other=90.0, wire=94.0) == pytest.approx(60.0)
    assert chain_mbps(other=90.0, wire=94.0) == pytest.approx(90.0)


def test_chains_work_on_rows_as_on_numbers() -> None:
    row = np.array([100.0, 0.0, 300.0])
    assert turns_mbps(one=row, two=100.0) == pytest.approx(np.array([50.0, 0.0, 75.0]))
    assert chain_mbps(one=row, two=80.0) == pytest.approx(np.array([80.0, 0.0, 80.0]))


def test_gain() -> None:
    assert gain_of(other_mbps=150.0, present_mbps=60.0) == pytest.approx(2.5)
    assert gain_of(other_mbps=10.0, present_mbps=0.0) == 99.0


# On 5 GHz a chain shed, stair, box; the way from the shed straight to the box is clear as well.
CHAIN = """
site: {name: A, country: GB}
internet: {down_mbps: 500, up_mbps: 100}
nodes:
  box:
    role: gateway
    radios: {r24: {band: 2.4, channel: 1, eirp_dbm: 19}, r5: {band: 5, channel: 36, eirp_dbm: 20}}
  stair:
    role: relay
    radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}
    uplink: {to: box, band: 5}
    paths: {box: {distance_m: 5, complete: true}}
  shed:
    role: relay
    radios: {r24: {band: 2.4, channel: 11, eirp_dbm: 19}, r5: {band: 5, channel: 36, eirp_dbm: 20}}
    uplink: {to: stair, band: 5}
    paths: {stair: {distance_m: 5, complete: true}, box: {distance_m: 7, complete: true}}
networks: {main: {name: casa, security: wpa2-personal}}
places: {bench: {client: laptop, paths: {shed: {distance_m: 3}}}}
"""


def test_a_chain_on_one_channel_takes_turns(book_of: Make) -> None:
    book = book_of(CHAIN)
    first, second = (centre(book, "goodput_mbps", hop(name)) for name in ("stair", "shed"))
    assert centre(book, "chain_mbps", hop("stair")) == pytest.approx(first)
    assert centre(book, "chain_mbps", hop("shed")) == pytest.approx(1.0 / (1.0 / first + 1.0 / second))


def test_a_wire_on_the_way_is_a_stage_of_its_own(book_of: Make) -> None:
    text = CHAIN.replace("uplink: {to: box, band: 5}", "uplink: {to: box, over: ethernet, speed_mbps: 100}")
    book = book_of(text)
    assert centre(book, "chain_mbps", hop("shed")) == pytest.approx(100 * 1448 / 1538)


def test_another_channel_for_the_second_hop_needs_no_turns(book_of: Make) -> None:
    """The shed hangs on a second radio of the stair, on a channel of its own."""
    text = (
        CHAIN.replace(
            "  stair:\n    role: relay\n    radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}",
            "  stair:\n    role: relay\n    radios:\n      r5: {band: 5, channel: 36, eirp_dbm: 20}\n"
            "      r5b: {band: 5, channel: 149, eirp_dbm: 20}",
        )
        .replace("{to: box, band: 5}", "{to: box, band: 5, radio: r5}")
        .replace("channel: 11, eirp_dbm: 19}, r5: {band: 5, channel: 36", "channel: 11}, r5: {band: 5, channel: 149")
    )
    book = book_of(text)
    slower = min(centre(book, "goodput_mbps", hop(name)) for name in ("stair", "shed"))
    assert centre(book, "chain_mbps", hop("shed")) == pytest.approx(slower)


def test_the_gateway_itself_is_the_better_parent(book_of: Make) -> None:
    book = book_of(CHAIN)
    assert centre(book, "best_other_way", hop("shed")) == "to box on 5 GHz"
    gain = centre(book, "best_other_mbps", hop("shed")) / centre(book, "chain_mbps", hop("shed"))
    assert gain > 1.5
    assert centre(book, "way_gain", hop("shed")) == pytest.approx(gain)
    assert centre(book, "unseen_way_gain", hop("shed")) == 1.0
    moved = book_of(CHAIN.replace("{to: stair, band: 5}", "{to: box, band: 5}"))
    assert centre(moved, "chain_mbps", hop("shed")) == pytest.approx(centre(book, "best_other_mbps", hop("shed")))
    assert centre(moved, "best_other_way", hop("shed")) == "none"
    assert centre(moved, "way_gain", hop("shed")) == 1.0


def test_a_node_below_is_no_parent(book_of: Make) -> None:
    """The shed, which hangs on the stair, is left out although it would be near."""
    book = book_of(CHAIN)
    assert centre(book, "best_other_way", hop("stair")) == "none"
    assert centre(book, "nodes_behind", hop("stair")) == 2


def test_a_faster_node_of_unknown_distance_leaves_it_open(book_of: Make) -> None:
    book = book_of(CHAIN.replace(", box: {distance_m: 7, complete: true}", ""))
    assert centre(book, "way_gain", hop("shed")) == 1.0
    value = book.get("unseen_way_gain", hop("shed")).value
    assert isinstance(value, Unknown)
    assert "where shed is as seen from box" in value.missing[0]


def test_a_node_too_far_away_is_not_tried(book_of: Make) -> None:
    book = book_of(CHAIN.replace("box: {distance_m: 7, complete: true}", "box: {distance_m: 900, complete: true}"))
    assert centre(book, "best_other_way", hop("shed")) == "none"
    assert centre(book, "best_other_mbps", hop("shed")) == 0.0
    assert centre(book, "unseen_way_gain", hop("shed")) == 1.0


def test_another_band_of_the_same_parent_counts(book_of: Make) -> None:
    text = CHAIN.replace("{to: stair, band: 5}", "{to: box, band: 2.4}").replace("channel: 11", "channel: 1")
    assert centre(book_of(text), "best_other_way", hop("shed")) == "to box on 5 GHz"


def test_an_open_uplink_further_up_gives_an_answer_for_each_way(book_of: Make) -> None:
    text = CHAIN.replace(
        "radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}\n    uplink: {to: box, band: 5}",
        "radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36, eirp_dbm: 20}}\n    uplink: {to: box}",
    )
    value = book_of(text).get("chain_mbps", hop("shed")).value
    assert isinstance(value, Options)
    assert set(value.answers) == {"stair to box on 5 GHz", "stair to box on 2.4 GHz"}


@pytest.mark.parametrize(("channel", "watched"), [(36, False), (100, True)])
def test_an_uplink_where_radar_is_watched_for(book_of: Make, channel: int, watched: bool) -> None:
    book = book_of(CHAIN.replace("channel: 36", f"channel: {channel}"))
    assert centre(book, "on_radar_channel", hop("stair")) is watched


def test_radar_needs_the_country(book_of: Make) -> None:
    assert isinstance(book_of(CHAIN.replace(", country: GB", "")).get("on_radar_channel", hop("stair")).value, Unknown)


def test_what_the_file_says_of_a_wire(book_of: Make) -> None:
    text = CHAIN.replace("uplink: {to: box, band: 5}", "uplink: {to: box, over: powerline, speed_mbps: 1200}").replace(
        "uplink: {to: stair, band: 5}", "uplink: {to: box, over: ethernet, length_m: 120}"
    )
    book = book_of(text)
    assert centre(book, "over_powerline", hop("stair"))
    assert not centre(book, "over_coax", hop("stair"))
    assert centre(book, "told_speed_mbps", hop("stair")) == 1200
    assert not centre(book, "cable_length_told", hop("stair"))
    assert centre(book, "over_ethernet", hop("shed"))
    assert centre(book, "cable_m", hop("shed")) == 120
    assert isinstance(book.get("told_speed_mbps", hop("shed")).value, Unknown)
    assert isinstance(book.get("cable_m", hop("stair")).value, Unknown)
