"""Networks and names: 6 GHz, encryption, names per radio and band, names hard to type, passwords of uplinks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.assess import assess
from advisor.facts.book import Book
from advisor.facts.name_use import hard_to_type
from advisor.site.load import load_text
from advisor.subjects import SITE as WHOLE_SITE
from advisor.subjects import Subject
from advisor.values import Known, Unknown

Make = Callable[[str], Book]

SITE = """
site: {name: A, country: GB}
internet: {down_mbps: 100, up_mbps: 30}
nodes:
  box:
    role: gateway
    radios:
      r24: {band: 2.4, channel: 1}
      r5: {band: 5, channel: 36}
      r6: {band: 6, channel: 5, standard: ax}
  hall:
    role: relay
    uplink: {to: box, band: 5}
    radios: {r24: {band: 2.4, channel: 6}, back: {band: 5, channel: 36, serves_clients: false}}
    paths: {box: {distance_m: 8}}
networks:
  main: {name: home, bands: [5, 6], security: wpa3-personal}
  old: {name: home-old, bands: [2.4], security: wpa2-personal}
  link: {name: home-link, nodes: [box, hall], bands: [5], security: wpa2-personal, purpose: backhaul}
places:
  desk: {client: laptop, calls: 1, paths: {box: {distance_m: 3}, hall: {distance_m: 9}}}
"""


def centre(book: Book, name: str, subject: Subject, **variant: str) -> Any:
    value = book.get(name, subject, **variant).value
    assert isinstance(value, Known), value
    return value.centre


def found(site: str, *topics: str) -> set[str]:
    return {finding.identity for finding in assess(load_text(site, "site.yaml"), only=topics).judgement.findings}


def network(name: str) -> Subject:
    return Subject("network", (name,))


@pytest.mark.parametrize(
    ("name", "there", "fit"), [("main", True, True), ("old", False, False), ("link", False, False)]
)
def test_networks_in_6_ghz(book_of: Make, name: str, there: bool, fit: bool) -> None:
    book = book_of(SITE)
    assert centre(book, "on_6_ghz", network(name)) is there
    assert centre(book, "fit_for_6_ghz", network(name)) is fit


@pytest.mark.parametrize(
    ("security", "fails"),
    [
        ("open", True),
        ("wpa2-personal", True),
        ("wpa2-enterprise", True),
        ("wpa2-wpa3-personal", False),
        ("wpa3-personal", False),
        ("wpa3-enterprise", False),
    ],
)
def test_which_securities_6_ghz_has(security: str, fails: bool) -> None:
    text = SITE.replace("security: wpa3-personal", f"security: {security}")
    assert ("six-ghz-without-wpa3[network=main]" in found(text, "names")) is fails


def test_a_security_not_given_is_not_known(book_of: Make) -> None:
    book = book_of(SITE.replace(", security: wpa3-personal", ""))
    for name in ("security", "fit_for_6_ghz", "encrypted"):
        value = book.get(name, network("main")).value
        assert isinstance(value, Unknown)
        assert "networks.main.security" in value.missing[0]


@pytest.mark.parametrize(
    ("radio", "names"), [("box.r24", 1), ("box.r5", 2), ("box.r6", 1), ("hall.r24", 1), ("hall.back", 1)]
)
def test_names_on_a_radio(book_of: Make, radio: str, names: int) -> None:
    """A radio that serves no clients carries only what is for the traffic between nodes."""
    assert centre(book_of(SITE), "names_on_radio", Subject("radio", (radio,))) == names


@pytest.mark.parametrize(
    ("octets", "words"),
    [
        (b"kestrel-yard 2", ""),
        (b"kestrel ", "begins or ends with a space"),
        (b" kestrel", "begins or ends with a space"),
        ("café".encode(), "not every keyboard"),
        (b"\x01kestrel", "cannot be typed"),
        (b"\xff\xfe", "not every keyboard"),
        (b"~", ""),
        (b"\x7f", "cannot be typed"),
    ],
)
def test_names_hard_to_type(octets: bytes, words: str) -> None:
    assert words in hard_to_type(octets)
    assert bool(hard_to_type(octets)) is bool(words)


def test_a_name_for_each_band(book_of: Make) -> None:
    assert centre(book_of(SITE), "names_split_by_band", WHOLE_SITE)
    assert centre(book_of(SITE), "split_in_words", WHOLE_SITE) == (
        "box: home-old in 2.4 GHz and home in 5 GHz and home in 6 GHz"
    )
    beside = SITE.replace("bands: [5, 6], security: wpa3-personal", "security: wpa3-personal")
    assert not centre(book_of(beside), "names_split_by_band", WHOLE_SITE)  # home-old beside the common name
    assert found(beside.replace("purpose: backhaul", "purpose: guests"), "names") & {"split-by-band"} == set()


def test_split_names_do_no_harm_where_nobody_walks_in_a_call() -> None:
    text = SITE.replace(", calls: 1", "")
    for still in (text, SITE):  # nor where those who call do not walk
        assert "split-by-band-while-people-walk[site]" not in found(still, "names")
    walk = "walks: {round: {points: [desk, [1, 2, ground]], traffic: voice}}\nfloors: {ground: {level: 0}}\n"
    assert "split-by-band-while-people-walk[site]" in found(text + walk, "names")


HOP = Subject("hop", ("hall",))


def test_the_gear_class_says_which_password_an_uplink_uses(book_of: Make) -> None:
    book = book_of(SITE)
    assert centre(book, "uses_client_credential", HOP)
    assert centre(book, "settings_by_hand", HOP)
    assert centre(book, "lending_network", HOP) == "main or old"
    assert centre(book, "holds_newest_password", HOP)
    other = book_of(SITE.replace("role: relay", "role: relay\n    gear: node-set"))
    assert not centre(other, "uses_client_credential", HOP)
    assert not centre(other, "settings_by_hand", HOP)


@pytest.mark.parametrize(
    ("backhaul", "verdict"),
    [
        ("network: main, generation: 2", True),
        ("network: main, generation: 1", False),
        ("network: main, generation: 3", False),
        ("network: old", True),
        ("network: main", "nodes.hall.backhaul.generation"),
        ("credential: client-network", "nodes.hall.backhaul.network"),
    ],
)
def test_the_password_an_uplink_holds(book_of: Make, backhaul: str, verdict: bool | str) -> None:
    text = SITE.replace("security: wpa3-personal", "security: wpa3-personal, generation: 2")
    text = text.replace("role: relay", f"role: relay\n    backhaul: {{{backhaul}}}")
    value = book_of(text).get("holds_newest_password", HOP).value
    if isinstance(verdict, str):
        assert isinstance(value, Unknown)
        assert verdict in value.missing[0]
    else:
        assert isinstance(value, Known)
        assert value.centre is verdict


def test_an_uplink_with_a_credential_of_its_own_has_no_findings() -> None:
    text = SITE.replace("security: wpa3-personal", "security: wpa3-personal, generation: 2")
    tied = text.replace("role: relay", "role: relay\n    backhaul: {network: main, generation: 1}")
    assert {"backhaul-holds-old-password[hop=hall]", "backhaul-tied-to-clients[hop=hall]"} <= found(tied, "names")
    own = text.replace("role: relay", "role: relay\n    backhaul: {credential: own}")
    assert not any("backhaul" in identity for identity in found(own, "names"))
