"""How much gear puts into one frame: declared or not known, and what that does to a link of firm level."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from advisor.facts import links, mac_use, rates
from advisor.facts.book import Book
from advisor.facts.draws import Draws
from advisor.physics.airtime import goodput_cases_mbps
from advisor.physics.mac import mac_settings
from advisor.site.load import load_text
from advisor.subjects import Subject
from advisor.trace import Assumed, Given, assumptions
from advisor.values import CENTRE, FIRST_DRAW, GOOD, POOR, Known

Make = Callable[[str], Book]

SITE = """
site: {name: A, country: GB}
internet: {down_mbps: 10000, up_mbps: 10000}
nodes:
  box:
    role: gateway
    GEAR
    radios: {r5: {band: 5, standard: ac, streams: 2, channel: 36, width_mhz: 80, guard_ns: 800, eirp_dbm: 20 MORE}}
networks: {home: {name: home, security: wpa2-personal, nodes: [box]}}
clients: {device: {like: laptop, standard: ac, streams: 2, width_mhz: 80}}
places: {desk: {client: device, paths: {box: {distance_m: 3, complete: true}}}}
measured: {a: {radio: box.r5, at: desk, level_dbm: -35, level_at_node_dbm: -35}}
"""
DESK = links.to_place("desk", "box.r5")


def text(more: str = "", gear: str = "gear: home-router") -> str:
    return SITE.replace("GEAR", gear).replace(" MORE", f", {more}" if more else "")


def goodput(book: Book, transport: str = "tcp") -> Known:
    value = rates.goodput_mbps(book, DESK, "down", transport).value
    assert isinstance(value, Known)
    return value


def at_once(name: str, transport: str = "tcp") -> float:
    """The error-free goodput of MCS 9, two streams, under one set: computed without a site."""
    row = {"standard": "ac", "band": "5", "width_mhz": 80, "guard_ns": 800, "transport": transport}
    return float(goodput_cases_mbps(mcs=np.array([9]), streams=np.array([2]), mac=mac_settings(name), **row)[0])


def test_gear_not_declared_lies_between_the_three_sets(book_of: Make) -> None:
    value = goodput(book_of(text()))
    row = value.raw
    small, usual, large = (at_once(name) for name in ("small-aggregates", "usual-gear", "large-aggregates"))
    assert row[CENTRE] == pytest.approx(usual, rel=1e-3)
    assert row[POOR] == pytest.approx(small, rel=1e-3)
    assert row[GOOD] == pytest.approx(large, rel=1e-3)
    assert small * 0.93 < row.min() < small  # the habits of gear lie on top, 3 % at the 10 and 90 % points
    assert large < row.max() < large * 1.07
    assert value.low == pytest.approx(small, rel=0.03)
    assert value.high == pytest.approx(large, rel=0.03)


def test_short_frames_have_a_band_too(book_of: Make) -> None:
    """At MCS 0 a frame is full by its duration: the sets differ by half a per cent, the habits of gear by 3 %."""
    value = goodput(book_of(text("highest_mcs: 0")))
    assert 0.05 < value.high / value.low - 1.0 < 0.08


@pytest.mark.parametrize(
    ("told", "name"), [("small", "small-aggregates"), ("usual", "usual-gear"), ("large", "large-aggregates")]
)
def test_declared_gear_has_the_spread_of_the_exchange_alone(book_of: Make, told: str, name: str) -> None:
    book = book_of(text(f"aggregation: {told}"))
    for transport in ("tcp", "udp"):
        value = goodput(book, transport)
        assert value.centre == pytest.approx(at_once(name, transport), rel=1e-3)
        # what is left is what the terms of an exchange leave open, 1.5 % either way; the level is 40 dB above the noise
        assert value.high / value.low == pytest.approx(1.015 / 0.985, abs=1e-3)
    fact = mac_use.aggregating(book, book.inventory.radios["box.r5"])
    assert isinstance(fact.by, Given)
    assert fact.raw == name


def test_a_gear_class_may_name_its_set_and_a_radio_goes_before_it(book_of: Make) -> None:
    runs = book_of(text(gear="gear: simulated-runs"))
    radio = runs.inventory.radios["box.r5"]
    assert mac_use.mac_of(runs, radio) == mac_settings("simulator")
    assert isinstance(mac_use.aggregating(runs, radio).by, Assumed)
    assert goodput(runs).centre == pytest.approx(at_once("simulator"), rel=1e-3)
    declared = book_of(text("aggregation: large", gear="gear: simulated-runs"))
    assert mac_use.mac_of(declared, declared.inventory.radios["box.r5"]) == mac_settings("large-aggregates")


def test_what_is_not_known_is_told_as_an_assumption(book_of: Make) -> None:
    book = book_of(text())
    assert mac_use.mac_of(book, book.inventory.radios["box.r5"]) is None
    told = [fact.key for fact in assumptions(rates.goodput_mbps(book, DESK, "down", "tcp"))]
    assert "aggregation[node=box]" in told
    declared = book_of(text("aggregation: usual"))
    keys = [fact.key for fact in assumptions(rates.goodput_mbps(declared, DESK, "down", "tcp"))]
    assert not [key for key in keys if key.startswith("aggregation")]


def test_a_measured_speed_replaces_it(book_of: Make) -> None:
    book = book_of(text().replace("level_at_node_dbm: -35", "level_at_node_dbm: -35, down_mbps: 300"))
    assert "aggregation[node=box]" not in [
        fact.key for fact in assumptions(rates.goodput_mbps(book, DESK, "down", "tcp"))
    ]
    assert goodput(book).centre == pytest.approx(300.0, rel=0.2)


def test_all_radios_of_a_node_go_together_and_nodes_apart() -> None:
    other = "other: {role: access-point, uplink: {to: box, over: ethernet}, radios: {r5: {band: 5}, r24: {band: 2.4}}}"
    book = Book(load_text(text().replace("networks:", f"  {other}\nnetworks:"), "site.yaml"))
    mixes = {name: mac_use.aggregation_mix(book, radio) for name, radio in book.inventory.radios.items()}
    assert np.array_equal(mixes["other.r5"], mixes["other.r24"])
    assert not np.array_equal(mixes["other.r5"], mixes["box.r5"])
    for mix in mixes.values():
        assert (mix[CENTRE], mix[POOR], mix[GOOD]) == (0.0, -1.0, 1.0)
        assert np.abs(mix).max() == 1.0
        assert abs(float(mix[FIRST_DRAW:].mean())) < 0.01


def test_any_figure_over_the_sets(book_of: Make) -> None:
    asked: list[str] = []

    def bytes_of(mac: object) -> float:
        asked.append(mac.name)  # type: ignore[attr-defined]
        return float(mac.aggregation("ac").ampdu_bytes)  # type: ignore[attr-defined]

    open_book = book_of(text())
    radio = open_book.inventory.radios["box.r5"]
    row = mac_use.over_sets(open_book, radio, bytes_of)
    assert asked == ["small-aggregates", "usual-gear", "large-aggregates"]
    assert (row[CENTRE], row[POOR], row[GOOD]) == (1048575.0, 65535.0, 1048575.0)
    declared = book_of(text("aggregation: small"))
    assert mac_use.over_sets(declared, declared.inventory.radios["box.r5"], bytes_of) == 65535.0
    assert asked[3:] == ["small-aggregates"]


@pytest.mark.parametrize(("most", "mbps"), [(9, 780.0), (7, 585.0), (4, 351.0), (0, 58.5)])
def test_the_fastest_modulation_of_a_radio_counts_both_ways(book_of: Make, most: int, mbps: float) -> None:
    """IEEE 802.11-2020 Table 21-62: VHT 80 MHz, two streams, 800 ns."""
    book = book_of(text(f"highest_mcs: {most}"))
    pair = Subject("place-radio", ("desk", "box.r5"))
    for direction in ("down", "up"):
        assert book.get("phy_rate_mbps", pair, dir=direction).raw[CENTRE] == pytest.approx(mbps)


def test_a_child_drawn_alike_has_the_same_mix() -> None:
    """Nothing but the keys decides: another book with the same seed has the same row."""
    one, other = (Book(load_text(text(), "site.yaml"), draws=Draws(3, 20)) for _ in range(2))
    radio = one.inventory.radios["box.r5"]
    assert np.array_equal(mac_use.aggregation_mix(one, radio), mac_use.aggregation_mix(other, radio))
