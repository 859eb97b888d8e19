"""Facts about outages on small sites: credentials, settings, times, and what is not known."""

from __future__ import annotations

from typing import Any

import pytest

from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.facts.outage_net import supplied
from advisor.facts.outages import declared, play, usual
from advisor.site.load import load_text
from advisor.subjects import SITE, Subject, hop
from advisor.trace import Fact
from advisor.values import Known, Unknown

SITE_FILE = """
site: {name: Curlew, country: GB, invented: true}
internet: {down_mbps: 100, up_mbps: 20}
nodes:
  gateway:
    role: gateway
    gear: home-router
    power: {source: mains, circuit: kitchen}
    radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}
  attic:
    role: relay
    gear: home-relay
    power: {source: mains, circuit: kitchen}
    radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}
    uplink: {to: gateway, band: 5}
    backhaul: {credential: client-network, network: home}
    paths: {gateway: {distance_m: 8, through: [plasterboard]}}
networks:
  home: {name: curlew, security: wpa2-personal}
places:
  desk: {client: laptop, calls: 1, paths: {attic: {distance_m: 3}, gateway: {distance_m: 40, through: [concrete, concrete, concrete]}}}
outages:
  fuse: {off: [kitchen], minutes: 3}
  new-password: {off: [attic], changed: {home: 2}}
"""  # noqa: E501


def book_of(*swaps: tuple[str, str]) -> Book:
    text = SITE_FILE
    for old, new in swaps:
        assert old in text, old
        text = text.replace(old, new)
    return open_book(load_text(text, "curlew.yaml"), Draws(1, 0))


def answer(book: Book, name: str, subject: Subject = SITE) -> Any:
    fact: Fact = book.get(name, subject)
    return fact.value.centre if isinstance(fact.value, Known) else fact.value


ATTIC = hop("attic")
OWN = ("backhaul: {credential: client-network, network: home}", "backhaul: {credential: own}")
PUSHED = ("    uplink:", "    settings: pushed\n    uplink:")
OPEN = ("uplink: {to: gateway, band: 5}", "uplink: {choice: node}")


def test_a_borrowed_password_strands() -> None:
    assert answer(book_of(), "stranded_by_new_password", ATTIC) is True
    assert answer(book_of(OWN), "stranded_by_new_password", ATTIC) is False
    assert answer(book_of(), "safe_band_by_band", ATTIC) is False
    assert answer(book_of(OPEN), "safe_band_by_band", ATTIC) is True


def test_settings_by_hand_stay_old_where_the_uplink_survives() -> None:
    assert answer(book_of(OWN), "keeps_old_settings", ATTIC) is True
    assert answer(book_of(OWN, PUSHED), "keeps_old_settings", ATTIC) is False
    assert answer(book_of(), "set_by_hand") == 1
    assert answer(book_of(PUSHED), "set_by_hand") == 0


def test_which_password_it_uses_must_be_told_where_it_matters() -> None:
    """Two networks on the parent, of which one changes: stranded or not hangs on which one the uplink uses; both
    changed at once strand it in any case."""
    two = (
        "home: {name: curlew, security: wpa2-personal}",
        "home: {name: curlew, security: wpa2-personal}\n  second: {name: curlew-two, security: wpa2-personal}",
    )
    untold = ("credential: client-network, network: home", "credential: client-network")
    book = book_of(two, untold)
    assert answer(book, "stranded_by_new_password", ATTIC) is True
    value = answer(book, "nodes_stranded", Subject("outage", ("new-password",)))
    assert isinstance(value, Unknown)
    assert value.missing == ("the network whose password attic uses (nodes.attic.backhaul.network)",)
    both = ("changed: {home: 2}", "changed: {home: 2, second: 2}")
    assert answer(book_of(two, untold, both), "nodes_stranded", Subject("outage", ("new-password",))) == 1
    assert answer(book_of(two), "nodes_stranded", Subject("outage", ("new-password",))) == 1


def test_an_uplink_nobody_told_is_unknown() -> None:
    book = book_of(("    uplink: {to: gateway, band: 5}\n", ""))
    value = answer(book, "stranded_by_new_password", ATTIC)
    assert isinstance(value, Unknown)
    assert value.missing == ("how attic reaches the rest of the site (nodes.attic.uplink)",)
    assert isinstance(answer(book, "nodes_stranded", Subject("outage", ("fuse",))), Unknown)


def test_outages_of_the_file_are_played() -> None:
    book = book_of()
    own = declared(book)
    assert own["fuse"].off == ("attic", "gateway")
    assert own["fuse"].long_s == 180.0
    assert own["new-password"].changed == (("home", "2.4"), ("home", "5"))
    assert answer(book, "nodes_stranded", Subject("outage", ("new-password",))) == 1
    assert "attic" in answer(book, "stranded_told", Subject("outage", ("new-password",)))
    assert answer(book, "nodes_stranded", Subject("outage", ("fuse",))) == 0
    assert list(usual(book))[:2] == ["fuse", "new-password"]


def test_bands_narrow_what_changes() -> None:
    book = book_of(("changed: {home: 2}", "changed: {home: 2}, bands: [2.4]"))
    assert declared(book)["new-password"].changed == (("home", "2.4"),)
    assert answer(book, "nodes_stranded", Subject("outage", ("new-password",))) == 0
    assert answer(book, "nodes_waiting_for_a_hand", Subject("outage", ("new-password",))) == 1


def test_times_are_a_range_where_they_are_assumed_and_exact_where_given() -> None:
    """Gateway 120 s (72 to 192), modem 150 s (60 to 300), device 8 s (1 to 40); and the relay after its parent."""
    value = book_of().get("back_after_cut_min", SITE).value
    assert isinstance(value, Known)
    assert (value.low, value.centre, value.high) == pytest.approx((76.0 / 60, 158.0 / 60, 340.0 / 60))
    given = book_of(("up_mbps: 20", "up_mbps: 20, modem_boot_s: 400"))
    exact = given.get("back_after_cut_min", SITE).value
    assert isinstance(exact, Known)
    assert exact.centre == pytest.approx(408.0 / 60)


@pytest.mark.parametrize(
    ("channel", "width_mhz", "country", "listens_s"),
    [
        (36, 20, "GB", 0.0),  # 5170 to 5190 MHz: no duty
        (52, 20, "GB", 60.0),  # 5250 to 5270 MHz
        (100, 80, "GB", 60.0),  # 5490 to 5570 MHz
        (116, 80, "GB", 600.0),  # 5570 to 5650 MHz: touches weather radar
        (120, 20, "GB", 600.0),  # 5590 to 5610 MHz
        (120, 20, "US", 60.0),  # 47 CFR 15.407(h): 60 s everywhere
        (132, 20, "GB", 60.0),  # 5650 to 5670 MHz: just above
    ],
)
def test_listening_before_sending(channel: int, width_mhz: int, country: str, listens_s: float) -> None:
    """Channel availability check: EN 301 893 Table D.1 (60 s; 10 min for 5600 to 5650 MHz), 47 CFR 15.407(h) (60 s)."""
    here = f"channel: {channel}, width_mhz: {width_mhz}}}}}\n  attic"
    book = book_of(
        ("country: GB", f"country: {country}"),
        ("channel: 36}}\n  attic", here),
        ("channel: 36}}\n    uplink", "channel: auto}}\n    uplink"),
    )
    assert supplied(book).net.boxes["gateway"].listens_s["gateway.r5"] == (listens_s, listens_s, listens_s)


def test_one_circuit_needs_every_node_told() -> None:
    assert answer(book_of(), "nodes_on_one_circuit") is True
    battery = (
        "gear: home-router\n    power: {source: mains, circuit",
        "gear: home-router\n    power: {source: ups, circuit",
    )
    assert answer(book_of(battery), "nodes_on_one_circuit") is False
    untold = ("gear: home-relay\n    power: {source: mains, circuit: kitchen}", "gear: home-relay")
    assert isinstance(answer(book_of(untold), "nodes_on_one_circuit"), Unknown)


def test_calls_that_hang_on_one_node() -> None:
    assert answer(book_of(), "calls_hang_on_it", ATTIC) == 1
    near = ("gateway: {distance_m: 40, through: [concrete, concrete, concrete]}}", "gateway: {distance_m: 6}}")
    assert answer(book_of(near), "calls_hang_on_it", ATTIC) == 0


def test_the_same_outage_twice_is_the_same() -> None:
    first, second = (play(book, declared(book)["new-password"])[0] for book in (book_of(), book_of()))
    assert first == second
