"""Roaming aids per name and node, walks that need them, and what a device says to fast transition."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.assess import assess
from advisor.facts.book import Book
from advisor.site.load import load_text
from advisor.subjects import Subject
from advisor.trace import assumptions
from advisor.values import Known, Unknown

Make = Callable[[str], Book]
HOME = Subject("name", ("home",))

SITE = """
site: {name: A, country: GB}
internet: {down_mbps: 100, up_mbps: 30}
nodes:
  box: {role: gateway, gear: home-router}
  hall: {role: access-point, gear: office-node, uplink: {to: box, over: ethernet}, paths: {box: {distance_m: 12}}}
networks: {main: {name: home, security: SECURITY AIDS}}
places:
  desk: {client: laptop, paths: {box: {distance_m: 3, complete: true}, hall: {distance_m: 14, through: [concrete]}}}
  bar: {client: till, paths: {hall: {distance_m: 3, complete: true}, box: {distance_m: 14, through: [concrete]}}}
walks: {round: {points: [desk, bar], client: phone, traffic: TRAFFIC}}
"""


def text(*, security: str = "wpa2-personal", aids: str = "", traffic: str = "voice") -> str:
    given = f", aids: {{{aids}}}" if aids else ""
    return SITE.replace("SECURITY", security).replace(" AIDS", given).replace("TRAFFIC", traffic)


def centre(book: Book, name: str, subject: Subject, **variant: str) -> Any:
    value = book.get(name, subject, **variant).value
    assert isinstance(value, Known), value
    return value.centre


def test_aids_come_from_the_gear_class_where_the_file_gives_none(book_of: Make) -> None:
    book = book_of(text())
    assert centre(book, "carrying_nodes", HOME) == 2
    assert [centre(book, "aid_nodes", HOME, aid=aid) for aid in "kvr"] == [1, 1, 1]  # the office node alone
    assert centre(book, "aids_differ", HOME)
    assert "802.11r on at hall, off at box" in centre(book, "aid_differences", HOME)
    told = {entry.by.entry for entry in assumptions(book.get("aid_nodes", HOME, aid="k"))}  # type: ignore[union-attr]
    assert told == {
        "box is usual gear of class home-router: 802.11k off",
        "hall is usual gear of class office-node: 802.11k on",
    }


def test_aids_given_for_the_network_go_before_the_gear_class(book_of: Make) -> None:
    book = book_of(text(aids="k: true, v: false, r: false"))
    assert [centre(book, "aid_nodes", HOME, aid=aid) for aid in "kvr"] == [2, 0, 0]
    assert not centre(book, "aids_differ", HOME)
    assert centre(book, "aids_given", HOME)
    assert assumptions(book.get("aids_differ", HOME)) == []


def test_two_entries_of_one_name_differ(book_of: Make) -> None:
    other = "  rear: {name: home, nodes: [hall], security: wpa2-personal, aids: {k: false, v: true, r: false}}\n"
    one = "  front: {name: home, nodes: [box], security: wpa2-personal, aids: {k: true, v: true, r: false}}\n"
    book = book_of(
        text().replace("networks: {main: {name: home, security: wpa2-personal}}", f"networks:\n{one}{other}")
    )
    assert centre(book, "aid_differences", HOME) == "802.11k on at box, off at hall"


@pytest.mark.parametrize(("traffic", "calls"), [("voice", 1), ("video-call", 1), ("file", 0), ("stream", 0)])
def test_only_calls_count_as_walks_with_calls(book_of: Make, traffic: str, calls: int) -> None:
    book = book_of(text(traffic=traffic))
    assert centre(book, "walks_under_it", HOME) == 1
    assert centre(book, "walks_with_calls", HOME) == calls


def test_a_walk_of_a_device_the_name_refuses_does_not_count(book_of: Make) -> None:
    book = book_of(text(security="wpa3-personal").replace("client: phone", "client: till"))
    assert centre(book, "walks_under_it", HOME) == 0


@pytest.mark.parametrize(("security", "enterprise"), [("wpa2-enterprise", True), ("wpa2-personal", False)])
def test_enterprise_security(book_of: Make, security: str, enterprise: bool) -> None:
    assert centre(book_of(text(security=security)), "enterprise_security", HOME) is enterprise


def test_enterprise_security_is_not_known_without_a_security(book_of: Make) -> None:
    value = book_of(text().replace("security: wpa2-personal", "hidden: false")).get("enterprise_security", HOME).value
    assert isinstance(value, Unknown)
    assert "networks.main.security" in value.missing[0]


def found(site: str) -> set[str]:
    return {finding.identity for finding in assess(load_text(site, "site.yaml"), only=["roaming"]).judgement.findings}


def test_rules_follow_what_is_set() -> None:
    assert "no-aids-where-people-walk[name=home]" in found(text(aids="k: false, v: false, r: false"))
    assert found(text(aids="k: true, v: true, r: false")) == set()
    assert found(text(aids="k: true, v: true, r: true")) == {"client-may-refuse-fast-transition[place=bar]"}
    login = found(text(security="wpa2-enterprise", aids="k: true, v: true, r: false"))
    assert login == {"full-login-at-every-node[name=home]"}


def test_fast_transition_the_file_does_not_give_says_nothing() -> None:
    assert "client-may-refuse-fast-transition[place=bar]" not in found(text())
    assert "client-may-refuse-fast-transition[place=bar]" in found(text(aids="k: true, v: true, r: true"))
