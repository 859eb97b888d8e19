"""Names and who carries them, what radios hear of each other and of neighbours, and finding facts by name."""

from __future__ import annotations

from collections.abc import Callable
from math import log10
from typing import Any

import pytest

from advisor.errors import InputError
from advisor.facts.book import Book
from advisor.facts.find import find
from advisor.subjects import Subject
from advisor.values import Known, Unknown

Make = Callable[[str], Book]

SITE = """
site: {name: A}
internet: {down_mbps: 100, up_mbps: 40}
nodes:
  box:
    role: gateway
    radios: {r24: {band: 2.4, channel: 1, eirp_dbm: 20}, r5: {band: 5, channel: 36, width_mhz: 80, eirp_dbm: 23}}
  loft:
    role: access-point
    radios: {r24: {band: 2.4, channel: 3, eirp_dbm: 14}, r5: {band: 5, channel: 100, width_mhz: 80, eirp_dbm: 23}}
    uplink: {to: box, over: ethernet}
    paths: {box: {distance_m: 6}}
networks:
  main: {name: casa, security: wpa2-personal, nodes: [box]}
  upstairs: {name: casa, security: wpa3-personal, generation: 2, nodes: [loft]}
  guests: {name: casa-guests, security: wpa2-personal, purpose: guests}
  raw: {name_hex: ff00, security: open}
places: {sofa: {client: laptop, paths: {box: {distance_m: 4}, loft: {distance_m: 7}}}}
neighbours:
  same: {band: 2.4, channel: 1, busy_share: 0.2, heard_dbm: {box: -60, loft: -85}}
  apart: {band: 2.4, channel: 6, busy_share: 0.3, heard_dbm: {box: -60, loft: -60}}
  far: {band: 5, channel: 44, busy_share: 0.4, heard_dbm: {box: -83}}
interference: {oven: {band: 2.4, duty_share: 0.5, near: [loft]}}
"""


@pytest.fixture
def book(book_of: Make) -> Book:
    return book_of(SITE)


def centre(book: Book, name: str, kind: str, *ids: str) -> Any:
    value = book.get(name, Subject(kind, ids)).value
    assert isinstance(value, Known), value
    return value.centre


def test_one_name_under_two_entries(book: Book) -> None:
    assert centre(book, "entries", "name", "casa") == 2
    assert centre(book, "securities", "name", "casa") == 2
    assert centre(book, "generations", "name", "casa") == 2
    assert centre(book, "entries", "name", "casa-guests") == 1


def test_names_that_are_no_text_are_told_in_hexadecimal(book: Book) -> None:
    assert [subject.ids[0] for subject in book.subjects("name")] == ["0xff00", "casa", "casa-guests"]


def test_nodes_with_a_name_in_common(book: Book, book_of: Make) -> None:
    assert centre(book, "name_in_common", "node-pair", "box", "loft")
    text = SITE.replace("upstairs: {name: casa,", "upstairs: {name: casa-up,")
    text = text.replace("security: open}", "security: open, nodes: [loft]}")
    assert not centre(book_of(text), "name_in_common", "node-pair", "box", "loft")
    assert centre(book, "neighbouring", "node-pair", "box", "loft")


def test_an_unknown_security_is_asked_for_where_it_matters(book_of: Make) -> None:
    book = book_of(SITE.replace("name: casa, security: wpa2-personal", "name: casa"))
    value = book.get("securities", Subject("name", ("casa",))).value
    assert isinstance(value, Unknown)
    assert "networks.main.security" in value.missing[0]


def test_two_radios_hear_the_louder_way(book: Book) -> None:
    """P.1238-10 at 6 m, house, channel 3: 20 log10(2422) + 28 log10(6) - 28. From the box 20 dBm into 4 dBi (an office
    node, data/gear.yaml) is louder than the other way, 14 dBm into 2 dBi."""
    loss_db = 20 * log10(2422) + 28 * log10(6) - 28
    assert centre(book, "heard_dbm", "radio-pair", "box.r24", "loft.r24") == pytest.approx(20 + 4 - loss_db)
    assert centre(book, "power_difference_db", "radio-pair", "box.r24", "loft.r24") == 6


def test_channels_of_a_pair(book: Book) -> None:
    assert centre(book, "channel_overlap", "radio-pair", "box.r24", "loft.r24") == 0.5
    assert not centre(book, "same_channel", "radio-pair", "box.r24", "loft.r24")
    assert centre(book, "channel_overlap", "radio-pair", "box.r5", "loft.r5") == 0.0
    assert not centre(book, "joined_by_hop", "radio-pair", "box.r5", "loft.r5")


def test_neighbours_count_where_they_are_heard_and_overlap(book: Book) -> None:
    """At the box: 20 % on its own channel; channel 6 is apart from channel 1. At the loft, on channel 3: the one on
    channel 1 is below carrier sense there; of the one on channel 6 a quarter falls in (0.3 / 4), beside the oven:
    1 - (1 - 0.075) (1 - 0.5)."""
    assert centre(book, "busy_share", "radio", "box.r24") == pytest.approx(0.2)
    assert centre(book, "busy_share", "radio", "loft.r24") == pytest.approx(1 - (1 - 0.3 * 0.25) * (1 - 0.5))
    assert centre(book, "busy_share", "radio", "box.r5") == 0.0
    assert centre(book, "neighbours_heard", "radio", "box.r24") == 1
    assert centre(book, "neighbours_in_band", "radio", "box.r24") == 2


def test_a_neighbour_of_unknown_share_has_the_catalogues_range(book_of: Make) -> None:
    book = book_of(SITE.replace("channel: 1, busy_share: 0.2", "channel: 1"))
    value = book.get("busy_share", Subject("radio", ("box.r24",))).value
    assert isinstance(value, Known)
    assert (value.low, value.centre, value.high) == (pytest.approx(0.02), pytest.approx(0.10), pytest.approx(0.35))


@pytest.mark.parametrize(
    ("subject", "fact", "key"),
    [
        ("sofa", "goodput", "goodput_mbps[place=sofa, dir=down, transport=tcp]"),
        ("sofa", "goodput_mbps.up.udp", "goodput_mbps[place=sofa, dir=up, transport=udp]"),
        ("loft", "goodput", "goodput_mbps[hop=loft, dir=down, transport=tcp]"),
        ("box.r5", "eirp", "eirp_dbm[radio=box.r5]"),
        ("sofa/box.r5", "level.up", "level_dbm[place=sofa,radio=box.r5, dir=up]"),
        ("box.r5/sofa", "level", "level_dbm[place=sofa,radio=box.r5, dir=down]"),
        ("loft.r24/box.r24", "heard", "heard_dbm[radio=box.r24,radio=loft.r24]"),
        ("name:casa", "securities", "securities[name=casa]"),
        ("sofa", "joined_radio", "joined_radio[place=sofa]"),
    ],
)
def test_facts_are_found_the_way_people_ask(book: Book, subject: str, fact: str, key: str) -> None:
    assert find(book, subject, fact)[1].key == key


@pytest.mark.parametrize(
    ("subject", "fact", "told"),
    [
        ("sofaa", "goodput", 'Did you mean "sofa"?'),
        ("sofa", "goodputt_mbps", 'Did you mean "goodput_mbps"?'),
        ("sofa", "goodput.sideways", "Variants: down, up, tcp, udp."),
        ("", "goodput", "There are:"),
    ],
)
def test_what_is_not_found_names_what_there_is(book: Book, subject: str, fact: str, told: str) -> None:
    with pytest.raises(InputError) as error:
        find(book, subject, fact)
    assert told in str(error.value)
