"""Batteries on the way of a call, heights, and what is outdoors."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.facts.book import Book
from advisor.subjects import Subject
from advisor.trace import Assumed
from advisor.values import Known, Unknown

Make = Callable[[str], Book]

SITE = """
site: {name: A, country: GB}
nodes:
  box: {role: gateway, radios: {r5: {band: 5, channel: 36}}, power: BOX}
  mid:
    role: access-point
    uplink: {to: box, over: ethernet}
    radios: {r5: {band: 5, channel: 149}}
    power: MID
    paths: {box: {distance_m: 30, through: [brick, brick]}}
networks: {main: {name: casa, security: wpa2-personal}}
places: {seat: {client: phone, paths: {mid: {distance_m: 3}, box: {distance_m: 30, through: [brick, brick]}}}}
"""
SEAT, MID = Subject("place", ("seat",)), Subject("node", ("mid",))
UPS, MAINS, FED = "{source: ups, ups_minutes: 60}", "{source: mains}", "{source: poe, poe_from: box}"


def powered(book_of: Make, box: str, mid: str) -> Book:
    return book_of(SITE.replace("BOX", box).replace("MID", mid))


def value(book: Book, name: str, subject: Subject) -> Any:
    found = book.get(name, subject).value
    return found.centre if isinstance(found, Known) else found


@pytest.mark.parametrize(
    ("box", "mid", "count", "told"),
    [
        (UPS, UPS, 0, "none"),
        (UPS, FED, 0, "none"),
        (MAINS, FED, 2, "mid, box"),
        (UPS, MAINS, 1, "mid"),
        (MAINS, "{source: poe}", 1, "box"),
    ],
)
def test_nodes_that_die_with_the_mains(book_of: Make, box: str, mid: str, count: int, told: str) -> None:
    book = powered(book_of, box, mid)
    assert value(book, "nodes_without_battery", SEAT) == count
    assert value(book, "without_battery_told", SEAT) == told


@pytest.mark.parametrize(
    ("box", "mid", "gap"),
    [(UPS, "{source: poe}", "nodes.mid.power.poe_from"), ("{source: poe, poe_from: mid}", FED, "feed each other")],
)
def test_what_feeds_a_node_is_asked_for(book_of: Make, box: str, mid: str, gap: str) -> None:
    found = value(powered(book_of, box, mid), "nodes_without_battery", SEAT)
    assert isinstance(found, Unknown)
    assert gap in "; ".join(found.missing)


def test_a_socket_is_assumed_where_nothing_is_said(book_of: Make) -> None:
    book = powered(book_of, UPS, "{circuit: upstairs}")
    fact = book.get("on_mains", MID)
    assert fact.raw
    assert isinstance(fact.by, Assumed)


def test_a_height_above_the_floor_stands_for_one_that_is_not_given(book_of: Make) -> None:
    book = powered(book_of, UPS, UPS)
    assert not value(book, "mount_told", MID)
    assert isinstance(value(book, "mount_height_m", MID), Unknown)
    text = SITE.replace("BOX", UPS).replace("power: MID", "height_m: 2.6")
    assert value(book_of(text), "mount_height_m", MID) == 2.6
    assert not value(book_of(text), "mount_is_exact", MID)
    exact = book_of(text.replace("height_m: 2.6", "height_m: 2.6\n    mount_height_m: 1.1"))
    assert value(exact, "mount_height_m", MID) == 1.1
    assert value(exact, "mount_is_exact", MID)


@pytest.mark.parametrize(
    ("from_text", "to_text", "outside"),
    [
        ("over: ethernet", "over: ethernet", False),
        ("over: ethernet", "over: ethernet, outdoor: true", True),
        ("power: {source: mains}\n    paths", "outdoor: true\n    paths", True),
    ],
)
def test_a_cable_outdoors(book_of: Make, from_text: str, to_text: str, outside: bool) -> None:
    text = SITE.replace("BOX", UPS).replace("MID", MAINS)
    assert from_text in text
    assert value(book_of(text.replace(from_text, to_text)), "cable_outdoors", Subject("hop", ("mid",))) is outside
