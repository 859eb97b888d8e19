"""What the regulatory extract clears, the best other channel, power over what is cleared, and steps of power."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.facts.book import Book
from advisor.subjects import Subject
from advisor.values import Known, Unknown

Make = Callable[[str], Book]

SITE = """
site: {name: A, country: COUNTRY}
nodes:
  box:
    role: gateway
    outdoor: OUTDOOR
    radios:
      r24: {band: 2.4, channel: 6, width_mhz: 20, eirp_dbm: 18}
      r5: {band: 5, channel: 36, width_mhz: 80, eirp_dbm: 20}
networks: {main: {name: casa, security: wpa2-personal}}
neighbours:
  one: {band: 2.4, channel: 1, heard_dbm: {box: -70}, busy_share: 0.1}
  six: {band: 2.4, channel: 6, heard_dbm: {box: -70}, busy_share: 0.5}
  eleven: {band: 2.4, channel: 11, heard_dbm: {box: -70}, busy_share: 0.2}
  five: {band: 5, channel: 36, width_mhz: 80, heard_dbm: {box: -70}, busy_share: 0.4}
"""
LOFT = """
  loft:
    role: access-point
    uplink: {to: box, over: ethernet}
    radios: {r24: {band: 2.4, channel: 1, width_mhz: 20}}
    paths: {box: {distance_m: METRES}}
networks:"""
R24, R5 = Subject("radio", ("box.r24",)), Subject("radio", ("box.r5",))


def site(country: str = "GB", outdoor: str = "false") -> str:
    return SITE.replace("COUNTRY", country).replace("OUTDOOR", outdoor)


def known(book: Book, name: str, subject: Subject) -> Any:
    value = book.get(name, subject).value
    assert isinstance(value, Known), value
    return value.centre


def missing(book: Book, name: str, subject: Subject) -> str:
    value = book.get(name, subject).value
    assert isinstance(value, Unknown), value
    return "; ".join(value.missing)


def test_what_the_extract_clears(book_of: Make) -> None:
    """wireless-regdb: GB 5150 to 5250 MHz has NO-OUTDOOR; 5850 MHz is the end of its 5 GHz ranges."""
    assert known(book_of(site()), "channel_cleared", R5)
    outside = book_of(site(outdoor="true"))
    assert not known(outside, "channel_cleared", R5)
    assert "outdoors" in known(outside, "channel_doubts", R5)
    beyond = book_of(site().replace("channel: 36, width_mhz: 80, eirp", "channel: 173, width_mhz: 20, eirp"))
    assert not known(beyond, "channel_cleared", R5)
    assert not known(beyond, "channel_covered", R5)
    assert "no range" in missing(beyond, "cleared_eirp_dbm", R5)


def test_too_much_power_is_no_matter_of_the_channel(book_of: Make) -> None:
    loud = book_of(site().replace("eirp_dbm: 20", "eirp_dbm: 40"))
    assert known(loud, "channel_cleared", R5)
    assert not known(loud, "cleared", R5)


def test_without_a_country_or_in_one_not_held_nothing_is_said(book_of: Make) -> None:
    assert "site.country" in missing(book_of(site().replace(", country: GB", "")), "channel_cleared", R5)
    assert "BR" in missing(book_of(site("BR")), "channel_cleared", R5)


def test_the_clearest_other_channel(book_of: Make) -> None:
    """On 6: 0.5; on 1: 0.1; on 11: 0.2. The gain is 0.5 - 0.1."""
    book = book_of(site())
    assert known(book, "best_other_channel", R24) == 1
    assert known(book, "best_other_busy_share", R24) == pytest.approx(0.1)
    assert known(book, "channel_gain_share", R24) == pytest.approx(0.4)


@pytest.mark.parametrize(("metres", "best", "gain"), [("8", 11, 0.3), ("900", 1, 0.4)])
def test_a_channel_of_an_own_node_in_hearing_is_taken(book_of: Make, metres: str, best: int, gain: float) -> None:
    book = book_of(site().replace("\nnetworks:", LOFT.replace("METRES", metres)))
    assert known(book, "best_other_channel", R24) == best
    assert known(book, "channel_gain_share", R24) == pytest.approx(gain)


def test_no_channel_with_a_radar_duty_or_for_less_power_is_offered(book_of: Make) -> None:
    """wireless-regdb: beside 36 to 48 only 149 to 161 has no DFS flag; GB clears 23 dBm there, DE 13.97 (25 mW)."""
    assert known(book_of(site("GB")), "best_other_channel", R5) == 149
    german = book_of(site("DE"))
    assert known(german, "channel_gain_share", R5) == 0
    assert "cleared" in missing(german, "best_other_channel", R5)
    quiet = book_of(site("DE").replace("eirp_dbm: 20", "eirp_dbm: 14"))
    assert known(quiet, "best_other_channel", R5) == 149


def test_in_six_ghz_the_primary_is_one_where_clients_look_first(book_of: Make) -> None:
    """Preferred scanning channels 5, 21, 37 … (802.11ax-2021, from memory); the second 80 MHz block is 17 to 29."""
    book = book_of(site().replace("band: 5, channel: 36", "band: 6, channel: 5"))
    assert known(book, "best_other_channel", R5) == 21


def test_nothing_heard_needs_no_country(book_of: Make) -> None:
    book = book_of(site().replace(", country: GB", "").partition("neighbours:")[0])
    assert known(book, "channel_gain_share", R24) == 0
    assert "country" in missing(book_of(site().replace(", country: GB", "")), "channel_gain_share", R24)


@pytest.mark.parametrize(
    ("country", "eirp", "cleared", "over"),
    [("GB", "23", 20.0, 3.0), ("AU", "36", 36.02, -0.02), ("US", "36", 30.0, 6.0)],
)
def test_power_over_what_is_cleared(book_of: Make, country: str, eirp: str, cleared: float, over: float) -> None:
    """wireless-regdb, 2.4 GHz: GB 20 dBm (100 mW), AU 36.02 (4 W), US 30."""
    book = book_of(site(country).replace("eirp_dbm: 18", f"eirp_dbm: {eirp}"))
    assert known(book, "cleared_eirp_dbm", R24) == pytest.approx(cleared)
    assert known(book, "over_cleared_db", R24) == pytest.approx(over)


def test_a_second_source_says_how_well_it_is_known(book_of: Make) -> None:
    """47 CFR 15.407(a)(1) was seen in print; ETSI EN 300 328 is told from memory."""
    told = known(book_of(site("US")), "second_source", R5)
    assert "36 dBm" in told
    assert "15.407(a)(1)" in told
    assert "as published" in told
    assert "from memory" in known(book_of(site("DE")), "second_source", R24)
    assert "no second source" in known(book_of(site("GB")), "second_source", R24)


def test_a_power_between_two_steps(book_of: Make) -> None:
    steps = "    settable: {power: steps, power_steps_dbm: [11, 14, 17, 20]}\n    radios:"
    book = book_of(site().replace("    radios:", steps, 1))
    assert known(book, "power_in_steps", R24)
    assert known(book, "nearest_step_dbm", R24) == 17
    assert known(book, "off_step_db", R24) == pytest.approx(1)
    assert known(book, "off_step_db", R5) == 0
    assert not known(book_of(site()), "power_in_steps", R24)


def test_automatic_beside_fixed(book_of: Make) -> None:
    text = site().replace("\nnetworks:", LOFT.replace("METRES", "8"))
    book = book_of(text.replace("channel: 6, width_mhz: 20, eirp", "channel: auto, width_mhz: 20, eirp"))
    assert known(book, "channel_automatic", R24)
    assert known(book, "fixed_channels_beside", R24) == 1
    assert known(book, "fixed_channels_beside", R5) == 0
    silent = book_of(text.replace("channel: 6, width_mhz: 20, eirp", "width_mhz: 20, eirp"))
    assert "the channel of box.r24" in missing(silent, "channel_automatic", R24)


@pytest.mark.parametrize(("eirp", "metres"), [("20", 0.0451), ("30", 0.1427), ("36", 0.2848)])
def test_distance_to_a_strong_antenna(book_of: Make, eirp: str, metres: float) -> None:
    """OET Bulletin 65: sqrt(EIRP / (4 pi 10 W/m2)) times 1.6 for reflections."""
    book = book_of(site().replace("eirp_dbm: 18", f"eirp_dbm: {eirp}"))
    assert known(book, "separation_m", R24) == pytest.approx(metres, abs=1e-4)


TWO = """
site: {name: Two nodes, country: GB, environment: house, invented: true}
internet: {down_mbps: 100, up_mbps: 30}
nodes:
  a: {role: gateway, gear: open-node, radios: {r5: {band: 5, channel: 36, width_mhz: 80, eirp_dbm: 20}}}
  b:
    role: access-point
    gear: open-node
    uplink: {to: a, over: ethernet, speed_mbps: 1000}
    radios: {r5: {band: 5, channel: 36, width_mhz: 80, eirp_dbm: 20}}
    paths: {a: {distance_m: 6}}
networks: {home: {name: home, security: wpa2-personal}}
neighbours: {loud: {band: 5, channel: 36, width_mhz: 80, busy_share: 0.6}}
"""


def test_two_nodes_are_never_sent_to_one_channel(book_of: Make) -> None:
    """GB clears one block of 80 MHz beside that of the neighbour without a radar duty: it goes to one of the two."""
    book = book_of(TWO)
    first, second = (book.get("best_other_channel", Subject("radio", (f"{node}.r5",))).value for node in "ab")
    assert isinstance(first, Known)
    assert first.centre == 149
    assert not isinstance(second, Known)
