"""What a radio meets where it stands: how neighbours' channels lie to its own, interference, beacons; who may join."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.errors import InputError
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.site.load import load_text
from advisor.subjects import Subject
from advisor.values import Known, Options, Unknown

Make = Callable[[str], Book]

SITE = """
site: {name: A, country: GB}
nodes:
  box:
    role: gateway
    radios:
      r24: {band: 2.4, channel: 1, width_mhz: 20}
      r5: {band: 5, channel: 36, width_mhz: 80}
networks:
  main: {name: casa, security: wpa2-personal}
  guests: {name: casa-guests, security: wpa2-personal, purpose: guests}
  things: {name: casa-things, security: wpa2-personal, purpose: things}
places: {sofa: {client: laptop, paths: {box: {distance_m: 4}}}}
neighbours:
  on-four: {band: 2.4, channel: 4, heard_dbm: {box: -70}, busy_share: 0.1}
  on-five: {band: 2.4, channel: 5, heard_dbm: {box: -70}, busy_share: 0.1}
  on-one: {band: 2.4, channel: 1, heard_dbm: {box: -70}, busy_share: 0.1}
  too-weak: {band: 2.4, channel: 3, heard_dbm: {box: -83}, busy_share: 0.1}
  inside: {band: 5, channel: 44, width_mhz: 40, heard_dbm: {box: -70}, busy_share: 0.1}
  beside: {band: 5, channel: 52, width_mhz: 80, heard_dbm: {box: -70}, busy_share: 0.1}
"""
R24, R5 = Subject("radio", ("box.r24",)), Subject("radio", ("box.r5",))


def centre(book: Book, name: str, subject: Subject) -> Any:
    value = book.get(name, subject).value
    assert isinstance(value, Known), value
    return value.centre


def test_channels_that_overlap_in_part(book_of: Make) -> None:
    """Nominal widths: channel 1 is 2402 to 2422 MHz, 4 is 2417 to 2437, 5 begins at 2422, where 1 ends."""
    book = book_of(SITE)
    assert centre(book, "half_overlapping_told", R24) == "on-four on channel 4"
    assert centre(book, "half_overlapping_neighbours", R24) == 1
    assert (
        centre(book_of(SITE.replace("channel: 1, width", "channel: 4, width")), "half_overlapping_neighbours", R24) == 2
    )


def test_a_wide_channel_covers_the_primary_of_others(book_of: Make) -> None:
    """The 80 MHz block of 36 is made of 36, 40, 44 and 48 (IEEE 802.11-2020 Annex E)."""
    book = book_of(SITE)
    assert centre(book, "on_secondary_told", R5) == "inside on channel 44"
    assert centre(book, "neighbours_on_secondary", R5) == 1
    assert centre(book, "neighbours_on_primary", R5) == 0
    moved = book_of(SITE.replace("channel: 36, width", "channel: 44, width"))
    assert centre(moved, "neighbours_on_secondary", R5) == 0
    assert centre(moved, "neighbours_on_primary", R5) == 1


def test_a_channel_left_to_the_node_is_asked_for_where_somebody_is_heard(book_of: Make) -> None:
    text = SITE.replace("channel: 1, width", "channel: auto, width")
    value = book_of(text).get("half_overlapping_neighbours", R24).value
    assert isinstance(value, Unknown)
    assert "nodes.box.radios.r24.channel" in value.missing[0]
    alone = book_of(text.partition("neighbours:")[0])
    assert centre(alone, "half_overlapping_neighbours", R24) == 0


def test_interference_on_any_part_of_a_channel(book_of: Make) -> None:
    """Independent sources: 1 - (1 - 0.3)(1 - 0.2) = 0.44."""
    sources = "interference: {a: {band: 5, channels: [44], duty_share: 0.3}, b: {band: 5, duty_share: 0.2}}\n"
    book = book_of(SITE + sources)
    assert centre(book, "interference_share", R5) == pytest.approx(0.44)
    assert centre(book, "interference_told", R5) == "a, b"
    assert centre(book, "interference_share", R24) == 0
    assert centre(book, "busy_share", R5) == pytest.approx(1 - 0.56 * 0.9)
    assert centre(book_of(SITE + sources.replace("[44]", "[52]")), "interference_share", R5) == pytest.approx(0.2)


def test_air_of_beacons_by_their_rate(book_of: Make) -> None:
    """By hand for 250 bytes: at 1 Mb/s 192 + 2000 + SIFS 10 + slot 9 = 2211 us each 102.4 ms; at 6 Mb/s
    20 + 4 ceil(2022 / 24) + 6 + 10 + 9 = 385 us (IEEE 802.11-2020 cl. 15, 17, 18)."""
    book = book_of(SITE)
    assert centre(book, "names_announced", R24) == 3
    assert centre(book, "beacon_share", R24) == pytest.approx(3 * 2211 / 102400, rel=1e-6)
    faster = book_of(SITE.replace("channel: 1, width_mhz: 20", "channel: 1, width_mhz: 20, basic_rates_mbps: [12, 6]"))
    assert centre(faster, "beacon_rate_mbps", R24) == 6
    assert centre(faster, "beacon_share", R24) == pytest.approx(3 * 385 / 102400, rel=1e-6)


def test_faster_beacons_leave_more_goodput(book_of: Make) -> None:
    link = Subject("place-radio", ("sofa", "box.r24"))
    faster = book_of(SITE.replace("channel: 1, width_mhz: 20", "channel: 1, width_mhz: 20, basic_rates_mbps: [6, 12]"))
    gained = centre(faster, "goodput_mbps", link) / centre(book_of(SITE), "goodput_mbps", link)
    assert gained == pytest.approx((1 - 3 * 385 / 102400) / (1 - 3 * 2211 / 102400), rel=1e-6)


@pytest.mark.parametrize(("band", "rate"), [("2.4", "7"), ("5", "1")])
def test_a_basic_rate_that_does_not_exist_is_refused(band: str, rate: str) -> None:
    radio = "channel: 1, width_mhz: 20" if band == "2.4" else "channel: 36, width_mhz: 80"
    text = SITE.replace(radio, f"{radio}, basic_rates_mbps: [{rate}, 12]")
    with pytest.raises(InputError, match=f"no basic rate of {rate} Mb/s in {band} GHz"):
        open_book(load_text(text, "site.yaml"))


def test_networks_that_announce_themselves_on_a_channel(book_of: Make) -> None:
    """Three names of its own, on-one on its channel, on-four over part of it; on-five lies beside it."""
    book = book_of(SITE)
    assert centre(book, "networks_beaconing", R24) == 5
    assert centre(book, "networks_in_band", R24) == 6


def test_who_may_join_and_how_wide(book_of: Make) -> None:
    book = book_of(SITE)
    assert centre(book, "users_to_join", R24) == 1
    assert centre(book, "widest_user_mhz", R24) == 40  # a laptop of 80 MHz: 802.11 has no more than 40 in 2.4 GHz
    assert centre(book, "widest_user_mhz", R5) == 80
    narrow = book_of(SITE.replace("client: laptop", "client: till"))
    assert centre(narrow, "widest_user_mhz", R5) == 20
    nobody = book_of(SITE.replace("client: laptop", "client: sensor"))
    assert centre(nobody, "users_to_join", R5) == 0


def test_calls_at_places_and_on_walks_reach_a_radio(book_of: Make) -> None:
    assert not centre(book_of(SITE), "serves_calls", R5)
    assert centre(book_of(SITE.replace("client: laptop,", "client: laptop, calls: 1,")), "serves_calls", R5)
    walk = "walks: {round: {points: [sofa, sofa], client: phone, traffic: TRAFFIC}}\n"
    assert centre(book_of(SITE + walk.replace("TRAFFIC", "video-call")), "serves_calls", R5)
    assert not centre(book_of(SITE + walk.replace("TRAFFIC", "file")), "serves_calls", R5)
    far = SITE.replace("client: laptop, paths: {box: {distance_m: 4}}", "client: laptop, calls: 1")
    assert isinstance(book_of(far).get("serves_calls", R5).value, Unknown)


RELAY = """
site: {name: A, country: GB}
nodes:
  box: {role: gateway, radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36, width_mhz: 80}}}
  mid:
    role: relay
    uplink: {to: box UPLINK}
    radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36, width_mhz: 80}}
    paths: {box: {distance_m: 5}}
networks: {main: {name: casa, security: wpa2-personal}}
places: {till: {client: till, paths: {mid: {distance_m: 3}}}}
"""


def test_an_uplink_counts_among_the_users_of_a_radio_at_both_ends(book_of: Make) -> None:
    book = book_of(RELAY.replace(" UPLINK", ", band: 5"))
    for name in ("box.r5", "mid.r5"):
        assert centre(book, "widest_user_mhz", Subject("radio", (name,))) == 80
    assert centre(book, "makes_uplink", Subject("radio", ("mid.r5",)))
    assert not centre(book, "makes_uplink", Subject("radio", ("mid.r24",)))
    assert not centre(book, "makes_uplink", Subject("radio", ("box.r5",)))
    left_open = book_of(RELAY.replace(" UPLINK", ""))
    assert isinstance(left_open.get("makes_uplink", Subject("radio", ("mid.r5",))).value, Options)
