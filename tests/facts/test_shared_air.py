"""Who takes what from the air, the wires and the line: small sites where the answer can be told by hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from advisor.errors import InputError
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.site.load import load_text
from advisor.subjects import Subject, hop, place
from advisor.values import Known, Unknown

Make = Callable[[str], Book]

ONE_CELL = """
site: {name: A}
internet: {down_mbps: 500, up_mbps: 100}
nodes:
  box: {role: gateway, at: [0, 0], radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}}
networks: {main: {name: main, security: wpa2-personal}}
places:
  a: {client: laptop, at: [2, 0], down_mbps: 60}
  b: {client: laptop, at: [2, 1], down_mbps: 60}
"""


def centre(book: Book, name: str, subject: Subject, **variant: str) -> float:
    value = book.get(name, subject, **variant).value
    assert isinstance(value, Known), value
    return float(value.centre)


@pytest.mark.parametrize("heard", ["{a: -50, b: -50}", "{box: -50}", "{}"])
def test_a_busy_neighbour_counts_wherever_it_is_heard(book_of: Make, heard: str) -> None:
    """A neighbour that keeps the channel busy for nine tenths of the time takes its turns and no more: beside one at
    117 Mb/s and half of its capacity a saturated cell of the packet simulator kept 0.38 of its goodput, at 0.7 of it
    0.20 (tests/reference/data/ns3-partial-load.csv); with more packets in each of its own frames a cell keeps more."""
    busy = f"neighbours: {{n: {{band: 5, channel: 36, width_mhz: 80, heard_dbm: {heard}, busy_share: 0.9}}}}\n"
    wide = ONE_CELL.replace("down_mbps: 500", "down_mbps: 5000").replace("down_mbps: 60", "down_mbps: 400")
    quiet, loud = book_of(wide), book_of(wide + busy)
    for name in ("a", "b"):
        assert 0.3 < centre(loud, "goodput_mbps", place(name)) / centre(quiet, "goodput_mbps", place(name)) < 0.6
        assert centre(loud, "goodput_everyone_mbps", place(name)) < 400
        assert centre(loud, "route_load_share", place(name)) > 1.0


def test_a_neighbour_heard_at_another_node_only_does_not_count(book_of: Make) -> None:
    far = "neighbours: {n: {band: 5, channel: 36, heard_dbm: {other: -50}, busy_share: 0.9}}\n"
    other = ONE_CELL.replace(
        "networks:", "  other: {role: access-point, at: [9, 9], uplink: {to: box, over: ethernet}}\nnetworks:"
    )
    assert centre(book_of(other + far), "busy_share", Subject("radio", ("box.r5",))) == 0.0


def test_calls_fill_a_thin_line(book_of: Make) -> None:
    """Thirty calls of 0.1 Mb/s each way do not fit into 1 Mb/s."""
    thin = ONE_CELL.replace("up_mbps: 100", "up_mbps: 1").replace(
        "down_mbps: 60}", "down_mbps: 0.1, up_mbps: 0.01, calls: 15}"
    )
    book = book_of(thin)
    assert centre(book, "route_load_share", place("a")) > 1.0
    assert book.get("call_holds", place("a")).value.centre is False  # type: ignore[union-attr]


def test_a_measured_speed_is_not_charged_for_its_neighbours_again(book_of: Make) -> None:
    text = (
        ONE_CELL
        + "neighbours: {n: {band: 5, channel: 36, busy_share: 0.5}}\n"
        + "measured: {test: {radio: box.r5, at: a, down_mbps: 120}}\n"
    )
    assert centre(book_of(text), "goodput_mbps", place("a")) == pytest.approx(120.0)


def test_one_direction_is_known_without_the_other(book_of: Make) -> None:
    book = book_of(ONE_CELL.replace("down_mbps: 500, up_mbps: 100", "down_mbps: 500"))
    assert centre(book, "goodput_everyone_mbps", place("a")) > 60
    assert isinstance(book.get("goodput_everyone_mbps", place("a"), dir="up").value, Unknown)


CHAIN = """
site: {name: A}
internet: {down_mbps: 100, up_mbps: 20}
nodes:
  box: {role: gateway, at: [0, 0], radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}}
  LAST: {role: relay, at: [16, 0], uplink: {to: MIDDLE, band: 5}}
  MIDDLE: {role: relay, at: [8, 0], uplink: {to: box, band: 5}}
networks: {main: {name: main, security: wpa2-personal}}
places: {a: {client: laptop, at: [3, 1], down_mbps: 10, up_mbps: 2}}
"""


@pytest.mark.parametrize(("middle", "last"), [("near", "far"), ("z-near", "a-far")])
def test_an_automatic_channel_follows_the_parent_whatever_the_names(book_of: Make, middle: str, last: str) -> None:
    book = book_of(CHAIN.replace("MIDDLE", middle).replace("LAST", last))
    assert centre(book, "channel", Subject("radio", (f"{last}.r5",))) == 36


@pytest.mark.parametrize(
    ("uplink", "meets"), [("{to: box, band: 5}", True), ("{to: box, band: 6}", False), ("{to: box, band: 2.4}", False)]
)
def test_an_uplink_on_a_band_only_one_end_has(book_of: Make, uplink: str, meets: bool) -> None:
    radios = "{r5: {band: 5}, r24: {band: 2.4}}"
    node = f"  up: {{role: relay, at: [6, 0], uplink: {uplink}, radios: {radios}}}\nnetworks:"
    book = book_of(ONE_CELL.replace("networks:", node))
    assert bool(centre(book, "ends_can_meet", hop("up"))) is meets


@pytest.mark.parametrize(
    ("radio", "said"),
    [
        ("{band: 2.4, channel: 15}", "there is no channel 15 in 2.4 GHz"),
        ("{band: 2.4, channel: 12, width_mhz: 40, secondary: above}", "channel 12 cannot be 40 MHz wide"),
        ("{band: 5, width_mhz: 320}", "there are no channels of 320 MHz in 5 GHz"),
        ("{band: 5, standard: n, width_mhz: 80}", "802.11n has no channels of 80 MHz"),
        ("{band: 2.4, standard: ac}", "802.11ac does not exist in 2.4 GHz"),
        ("{band: 5, standard: n, streams: 8}", "802.11n has no 8 streams"),
        ("{band: 5, standard: ax, guard_ns: 400}", "802.11ax has no guard interval of 400 ns"),
    ],
)
def test_what_the_standard_does_not_have_is_refused(radio: str, said: str) -> None:
    text = ONE_CELL.replace("{band: 5, channel: 36, eirp_dbm: 20}", radio)
    with pytest.raises(InputError, match=said) as caught:
        open_book(load_text(text, "site.yaml"))
    assert caught.value.problems[0].position.line == 5


def test_an_old_client_narrows_the_channel(book_of: Make) -> None:
    old = ONE_CELL.replace("places:", "clients: {old: {like: laptop, standard: n}}\nplaces:").replace(
        "client: laptop", "client: old"
    )
    book = book_of(old)
    assert 0 < centre(book, "phy_rate_mbps", Subject("place-radio", ("a", "box.r5"))) <= 300


BEHIND = """
site: {name: A}
internet: {down_mbps: 1000, up_mbps: 1000}
nodes:
  box: {role: gateway, radios: {r5: {band: 5, channel: 36, width_mhz: 80}}}
  ap:
    role: access-point
    uplink: {to: box, over: ethernet, speed_mbps: 1000}
    ports: {a: {speed_mbps: 1000}}
    radios: {r5: {band: 5, channel: 149, width_mhz: 80, aggregation: usual}}
networks: {main: {name: main, security: wpa2-personal}}
places:
  hall:
    {client: laptop, count: MANY, up_mbps: 50, down_mbps: 1, paths: {ap: {distance_m: 4, complete: true}}}
"""


def test_uploads_behind_a_hop_collide_however_few_places_they_come_from(book_of: Make) -> None:
    """Ten that always upload keep 356 of 463 Mb/s together in the packet simulator (E2_ac80n2m9_N10_tcp)."""
    one, many = (
        centre(book_of(BEHIND.replace("MANY", str(count))), "serving_mbps", hop("ap"), dir="up") for count in (1, 10)
    )
    assert many / one == pytest.approx(356 / 463, rel=0.10)
