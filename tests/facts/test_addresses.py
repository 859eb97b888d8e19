"""Addresses: who routes, who hands out addresses, and between which nodes a move changes them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.facts.book import Book
from advisor.subjects import SITE, Subject
from advisor.trace import Assumed, Given
from advisor.values import Known, Options, Unknown

Make = Callable[[str], Book]

# attic hangs on loft, loft and hall on the gateway; a person at the sofa is within reach of all of them.
SITE_FILE = """
site: {name: A}
internet: {down_mbps: 100, up_mbps: 40}
nodes:
  gateway: {role: gateway, gear: home-router, radios: {r5: {band: 5, channel: 36}}}
  hall:
    role: access-point
    gear: office-node
    radios: {r5: {band: 5, channel: 44}}
    uplink: {to: gateway, over: ethernet}
  loft:
    role: access-point
    gear: office-node
    radios: {r5: {band: 5, channel: 149}}
    uplink: {to: gateway, over: ethernet}
  attic:
    role: access-point
    gear: office-node
    radios: {r5: {band: 5, channel: 157}}
    uplink: {to: loft, over: ethernet}
networks: {main: {name: casa, security: wpa2-personal}}
places:
  sofa:
    client: laptop
    paths: {gateway: {distance_m: 4}, hall: {distance_m: 5}, loft: {distance_m: 6}, attic: {distance_m: 7}}
"""


def node(name: str) -> Subject:
    return Subject("node", (name,))


def pair(first: str, second: str) -> Subject:
    return Subject("node-pair", (min(first, second), max(first, second)))


def centre(book: Book, name: str, subject: Subject) -> Any:
    value = book.get(name, subject).value
    assert isinstance(value, Known), value
    return value.centre


def with_(text: str, name: str, words: str) -> str:
    """The same site with more words about one node."""
    assert f"\n  {name}:\n" in text
    return text.replace(f"\n  {name}:\n", f"\n  {name}:\n    {words}\n")


def test_a_gateway_routes_and_other_nodes_bridge_unless_given(book_of: Make) -> None:
    book = book_of(with_(SITE_FILE, "loft", "mode: router"))
    assert [centre(book, "router_mode", node(name)) for name in ("gateway", "hall", "loft")] == [True, False, True]
    assert isinstance(book.get("router_mode", node("gateway")).by, Assumed)
    assert isinstance(book.get("router_mode", node("loft")).by, Given)


def test_routers_above(book_of: Make) -> None:
    book = book_of(with_(SITE_FILE, "loft", "mode: router"))
    above = {name: centre(book, "routers_above", node(name)) for name in ("gateway", "hall", "loft", "attic")}
    assert above == {"gateway": 0, "hall": 1, "loft": 1, "attic": 2}
    assert centre(book, "next_router", node("attic")) == "loft"
    assert centre(book, "next_router", node("gateway")) == ""


def test_a_move_keeps_the_address_only_behind_one_router(book_of: Make) -> None:
    book = book_of(with_(SITE_FILE, "loft", "mode: router"))
    assert centre(book, "same_addresses", pair("gateway", "hall"))
    assert centre(book, "same_addresses", pair("loft", "attic"))
    assert not centre(book, "same_addresses", pair("hall", "loft"))
    assert not centre(book, "same_addresses", pair("hall", "attic"))
    assert centre(book, "router_between", pair("hall", "attic")) == "node=loft"
    assert centre(book, "router_between", pair("gateway", "hall")) == ""


def test_a_gateway_that_only_bridges_leaves_the_first_router_alone(book_of: Make) -> None:
    text = SITE_FILE.replace("role: gateway,", "role: gateway, mode: bridge,")
    book = book_of(with_(text, "loft", "mode: router"))
    assert centre(book, "routers_above", node("loft")) == 0
    assert not centre(book, "same_addresses", pair("gateway", "loft"))
    assert centre(book, "router_between", pair("gateway", "loft")) == "node=loft"


def test_an_uplink_not_told_leaves_the_area_open_unless_the_node_routes_itself(book_of: Make) -> None:
    text = SITE_FILE.replace("    uplink: {to: gateway, over: ethernet}\n  loft", "  loft")
    book = book_of(with_(text, "loft", "mode: router"))
    value = book.get("same_addresses", pair("gateway", "hall")).value
    assert value == Unknown(("how hall reaches the rest of the site (nodes.hall.uplink)",))
    assert isinstance(book.get("routers_above", node("hall")).value, Unknown)
    assert not centre(book, "same_addresses", pair("gateway", "loft"))


def test_who_hands_out_addresses(book_of: Make) -> None:
    book = book_of(with_(SITE_FILE, "hall", "address_server: true"))
    assert centre(book, "hands_out_addresses", node("gateway"))
    assert centre(book, "hands_out_addresses", node("hall"))
    assert not centre(book, "hands_out_addresses", node("loft"))
    assert centre(book, "other_address_servers", node("hall")) == 1
    assert centre(book, "other_servers_named", node("hall")) == "gateway"
    assert centre(book, "address_servers", SITE) == 2


def test_a_home_router_used_as_a_bridge_may_still_hand_out_addresses(book_of: Make) -> None:
    text = SITE_FILE.replace(
        "hall:\n    role: access-point\n    gear: office-node", "hall:\n    role: access-point\n    gear: home-router"
    )
    book = book_of(text)
    entry = book.get("hands_out_addresses", node("hall"))
    assert isinstance(entry.by, Assumed)
    count = book.get("address_servers", SITE).value
    assert isinstance(entry.value, Known)
    assert isinstance(count, Known)
    assert (entry.value.low, entry.value.centre) == (False, True)
    assert (count.low, count.centre, count.high) == (1, 2, 2)


def test_the_server_of_an_inner_router_serves_its_own_side(book_of: Make) -> None:
    text = with_(with_(SITE_FILE, "loft", "mode: router"), "attic", "address_server: true")
    book = book_of(text)
    assert centre(book, "other_servers_named", node("attic")) == "loft"
    assert centre(book, "other_servers_named", node("hall")) == "gateway"


@pytest.mark.parametrize(
    ("words", "count"),
    [
        ("address_server: false", 0.0),
        ("mode: bridge, gear: office-node", None),
        ("mode: bridge, address_server: true", 1.0),
    ],
)
def test_servers_of_the_site(book_of: Make, words: str, count: float | None) -> None:
    """None at all is known only when the gateway is told not to; a bridging gateway leaves it open."""
    value = (
        book_of(SITE_FILE.replace("role: gateway, gear: home-router", f"role: gateway, {words}"))
        .get("address_servers", SITE)
        .value
    )
    if count is None:
        assert value == Unknown(("whether gateway hands out addresses (nodes.gateway.address_server)",))
    else:
        assert isinstance(value, Known)
        assert value.centre == count


def test_an_uplink_left_open_may_change_the_addresses(book_of: Make) -> None:
    text = (
        with_(SITE_FILE, "loft", "mode: router")
        .replace(
            "    uplink: {to: loft, over: ethernet}",
            "    uplink: {choice: node}\n    paths: {gateway: {distance_m: 8}, loft: {distance_m: 3}}",
        )
        .replace("channel: 157", "channel: auto")
        .replace("attic:\n    role: access-point", "attic:\n    role: relay")
    )
    value = book_of(text).get("same_addresses", pair("gateway", "attic")).value
    assert isinstance(value, Options)
    assert {name: answer.centre for name, answer in value.answers.items() if isinstance(answer, Known)} == {
        "attic to gateway on 5 GHz": True,
        "attic to loft on 5 GHz": False,
    }
