"""The internet line: what is asked of it, its queue, the class of calls, and how many clients share a radio."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.facts.book import Book
from advisor.subjects import SITE, Subject
from advisor.trace import Assumed, Given, assumptions
from advisor.values import Known, Unknown

Make = Callable[[str], Book]

SITE_FILE = """
site: {name: A}
internet: {down_mbps: 100, up_mbps: 20}
nodes:
  box: {role: gateway, radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}}
networks: {main: {name: casa, security: wpa2-personal}}
places:
  desks: {client: laptop, count: 6, active: 4, down_mbps: 10, up_mbps: 2, calls: 2, paths: {box: {distance_m: 4}}}
  sofa: {client: phone, paths: {box: {distance_m: 5}}}
  store: {client: laptop, down_mbps: 50, up_mbps: 50, to: box, paths: {box: {distance_m: 3}}}
"""


def centre(book: Book, name: str, subject: Subject = SITE, **variant: str) -> Any:
    value = book.get(name, subject, **variant).value
    assert isinstance(value, Known), value
    return value.centre


def place(name: str) -> Subject:
    return Subject("place", (name,))


def test_what_is_asked_of_the_line(book_of: Make) -> None:
    """4 × 10, a browsing phone 3, two calls 0.1 each; the store's traffic ends at the box."""
    book = book_of(SITE_FILE)
    assert centre(book, "line_demand_mbps") == pytest.approx(43.2)
    assert centre(book, "line_demand_mbps", dir="up") == pytest.approx(4 * 2 + 0.5 + 0.2)
    assert centre(book, "line_wanted_share") == pytest.approx(0.432)
    assert centre(book, "line_wanted_share", dir="up") == pytest.approx(8.7 / 20)
    assert any(
        "browsing" in entry.by.entry
        for entry in assumptions(book.get("line_wanted_share", SITE))
        if isinstance(entry.by, Assumed)
    )


def test_a_line_that_is_not_told(book_of: Make) -> None:
    book = book_of(SITE_FILE.replace("down_mbps: 100, up_mbps: 20", "up_mbps: 20"))
    value = book.get("line_wanted_share", SITE).value
    assert value == Unknown(("what the internet line delivers (internet.down_mbps)",))
    assert not centre(book, "line_told")
    assert centre(book, "line_told", dir="up")
    assert centre(book, "asks_of_line")
    assert not centre(book_of(SITE_FILE.replace("active: 4, down_mbps: 10", "active: 4")), "asks_of_line")


def test_calls_are_made_at_places_on_walks_or_by_need(book_of: Make) -> None:
    assert centre(book_of(SITE_FILE), "calls_made")
    still = SITE_FILE.replace("calls: 2, ", "")
    assert not centre(book_of(still), "calls_made")
    assert centre(book_of(still + "walks: {round: {points: [desks, sofa]}}\n"), "calls_made")
    assert not centre(book_of(still + "walks: {round: {points: [desks, sofa], traffic: file}}\n"), "calls_made")
    assert centre(book_of(still + "needs: {talk: {place: sofa, calls: true}}\n"), "calls_made")


@pytest.mark.parametrize(
    ("sound", "words", "fair", "by"),
    [
        ("up_mbps: 20}", "up_mbps: 20, queue: fair}", True, Given),
        ("up_mbps: 20}", "up_mbps: 20, queue: fifo}", False, Given),
        ("role: gateway,", "role: gateway, gear: open-node,", True, Assumed),
        ("role: gateway,", "role: gateway, gear: home-router,", False, Assumed),
    ],
)
def test_the_queue_is_given_or_that_of_the_gear(book_of: Make, sound: str, words: str, fair: bool, by: type) -> None:
    found = book_of(SITE_FILE.replace(sound, words)).get("fair_queue", SITE)
    assert isinstance(found.value, Known)
    assert found.value.centre is fair
    assert isinstance(found.by, by)


def test_how_much_longer_a_round_trip_takes_under_load(book_of: Make) -> None:
    book = book_of(SITE_FILE.replace("up_mbps: 20}", "up_mbps: 20, delay_ms: 12, loaded_delay_ms: 212}"))
    assert centre(book, "delay_rise_ms") == pytest.approx(200.0)
    assert centre(book, "loaded_delay_told")
    assert assumptions(book.get("delay_rise_ms", SITE)) == []
    usual = book_of(SITE_FILE.replace("up_mbps: 20}", "up_mbps: 20, loaded_delay_ms: 215}"))
    assert centre(usual, "delay_rise_ms") == pytest.approx(200.0)
    assert len(assumptions(usual.get("delay_rise_ms", SITE))) == 1
    assert isinstance(book_of(SITE_FILE).get("delay_rise_ms", SITE).value, Unknown)


def test_the_class_of_calls(book_of: Make) -> None:
    book = book_of(SITE_FILE)
    assert not centre(book, "voice_class", place("desks"))
    assert isinstance(book.get("voice_class", place("desks")).by, Assumed)
    marked = book_of(SITE_FILE.replace("calls: 2,", "calls: 2, traffic_class: voice,"))
    assert centre(marked, "voice_class", place("desks"))
    assert isinstance(marked.get("voice_class", place("desks")).by, Given)


def test_the_air_alone_leaves_out_the_line(book_of: Make) -> None:
    book = book_of(SITE_FILE.replace("down_mbps: 100", "down_mbps: 10"))
    route, air = (centre(book, name, place("desks")) for name in ("route_load_share", "air_load_share"))
    assert route == pytest.approx((40 + 3) / 10 + 0.02, abs=0.01)
    assert air < 1.0


def test_clients_on_one_radio(book_of: Make) -> None:
    book = book_of(SITE_FILE)
    assert centre(book, "clients_joined", Subject("radio", ("box.r5",))) == 4 + 1 + 1
    lost = book_of(
        SITE_FILE.replace("count: 6, active: 4, ", "count: 6, ").replace(
            "calls: 2, paths: {box: {distance_m: 4}}", "calls: 2"
        )
    )
    value = lost.get("clients_joined", Subject("radio", ("box.r5",))).value
    assert isinstance(value, Known)
    assert (value.centre, value.high) == (2, 2 + 6)
