"""Walks: the nodes joined along the way, the names there, and a device that holds on to a far node."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.assess import assess, path_of
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.site.load import load_text
from advisor.subjects import Subject, place
from advisor.values import Known, Unknown

Make = Callable[[str], Book]
ROUND = Subject("walk", ("round",))


def centre(book: Book, name: str, subject: Subject, **variant: str) -> Any:
    value = book.get(name, subject, **variant).value
    assert isinstance(value, Known), value
    return value.centre


def found(site: str, *rules: str) -> dict[str, str]:
    judgement = assess(load_text(site, "site.yaml"), only=rules).judgement
    return {finding.identity: finding.verdict for finding in judgement.findings}


# Levels are measured, so that everything follows from the file: at the bench `box`, at the bar `hall`.
SITE = """
site: {name: A, country: GB}
internet: {down_mbps: 1000, up_mbps: 60}
floors: {ground: {level: 0}}
nodes:
  box: {role: gateway, gear: home-router, radios: {r5: {band: 5, channel: 36, eirp_dbm: 20, aggregation: usual}}}
  hall:
    role: access-point
    gear: home-router
    uplink: {to: box, over: ethernet, speed_mbps: 1000}
    radios: {r5: {band: 5, channel: 149, eirp_dbm: 20, aggregation: usual}}
networks:
  one: {name: home, nodes: [box], security: wpa2-personal}
  two: {name: NAME, nodes: [hall], security: SECURITY}
clients: {badge: {like: phone, security: [wpa2-personal]}}
places: {bench: {client: phone}, bar: {client: phone}}
walks: {round: {points: [bench, [3, 3, ground], bar], client: badge, traffic: voice}}
measured:
  a: {radio: box.r5, at: bench, level_dbm: -50, level_at_node_dbm: -52}
  b: {radio: box.r5, at: bar, level_dbm: FAR, level_at_node_dbm: FAR}
  c: {radio: hall.r5, at: bar, level_dbm: -40, level_at_node_dbm: -42}
  d: {radio: hall.r5, at: bench, level_dbm: -75, level_at_node_dbm: -77}
"""


def text(*, name: str = "home", security: str = "wpa2-personal", far: str = "-72") -> str:
    return SITE.replace("NAME", name).replace("SECURITY", security).replace("FAR", far)


def test_one_name_all_along(book_of: Make) -> None:
    book = book_of(text())
    assert centre(book, "places_on_walk", ROUND) == 2
    assert centre(book, "one_name_all_along", ROUND)
    assert centre(book, "names_along", ROUND) == "bench: box (home); bar: hall (home)"


def test_the_name_ends_on_the_way(book_of: Make) -> None:
    book = book_of(text(name="bar"))
    assert not centre(book, "one_name_all_along", ROUND)
    assert centre(book, "names_along", ROUND) == "bench: box (home); bar: hall (bar)"
    assert found(text(name="bar"), "name-missing-on-walk") == {"name-missing-on-walk[walk=round]": "fail"}


def test_a_name_the_walking_device_cannot_join_does_not_count(book_of: Make) -> None:
    """The phones of the places can do WPA3, the badge that walks cannot: it stays on the far node."""
    book = book_of(text(security="wpa3-personal"))
    assert centre(book, "names_along", ROUND) == "bench: box (home); bar: box (home)"
    lost = text(security="wpa3-personal").replace("nodes: [box], security: wpa2-", "nodes: [box], security: wpa3-")
    assert not centre(book_of(lost), "one_name_all_along", ROUND)
    assert centre(book_of(lost), "names_along", ROUND) == "bench: none it can join; bar: none it can join"


def test_a_walk_whose_places_nobody_knows_is_not_known(book_of: Make) -> None:
    value = book_of(text().partition("measured:")[0]).get("one_name_all_along", ROUND).value
    assert isinstance(value, Unknown)
    assert "places.bench" in value.missing[0]


def test_bare_coordinates_are_left_out() -> None:
    site = text(name="bar").replace("points: [bench, [3, 3, ground], bar]", "points: [bench, [3, 3, ground]]")
    assert found(site, "name-missing-on-walk") == {}


def test_a_finding_about_a_walk_points_at_the_walk() -> None:
    loaded = load_text(text(), "site.yaml")
    assert path_of(open_book(loaded), ROUND) == "walks.round"
    told = assess(load_text(text(name="bar"), "site.yaml"), only=["name-missing-on-walk"]).judgement.findings
    line = 1 + text(name="bar").splitlines().index(next(row for row in text().splitlines() if row.startswith("walks")))
    assert [finding.position.split(":")[:2] for finding in told] == [["site.yaml", str(line)]]


def test_a_device_may_hold_on_to_the_far_node(book_of: Make) -> None:
    book = book_of(text(far="-66"))
    bar = place("bar")
    assert centre(book, "far_node", bar) == "box"
    assert centre(book, "near_node", bar) == "hall"
    assert centre(book, "far_level_dbm", bar) == pytest.approx(-66.0)
    assert centre(book, "far_behind_db", bar) == pytest.approx(26.0)
    assert centre(book, "walker_look_below_dbm", bar) == -70.0  # the kind `badge` resembles a phone
    assert centre(book, "walker_margin_db", bar) == 8.0
    near, far = (
        centre(book, "goodput_mbps", Subject("place-radio", ("bar", radio))) for radio in ("hall.r5", "box.r5")
    )
    cable = centre(book, "goodput_mbps", Subject("hop", ("hall",)))  # the way over `hall` goes through its cable
    assert centre(book, "far_goodput_share", bar) == pytest.approx(far / min(near, cable))


def test_the_walkers_own_antenna_and_body_count(book_of: Make) -> None:
    site = text(far="-66").replace("badge: {like: phone,", "badge: {like: phone, antenna_dbi: -6, body_loss_db: 8,")
    # the place's phone: -2 dBi and 3 dB of body; the badge is 4 dB + 5 dB worse
    assert centre(book_of(site), "far_level_dbm", place("bar")) == pytest.approx(-75.0)


@pytest.mark.parametrize(
    ("site", "verdict"),
    [
        (text(far="-66"), "fail"),
        (text(far="-80"), None),
        (text(far="-66").replace("like: phone,", "like: phone, behaviour: {look_below_dbm: -60},"), None),
        (text(far="-66").replace("like: phone,", "like: phone, behaviour: {margin_db: 40},"), None),
        (text(far="-66").replace("like: phone,", "like: phone, behaviour: {stickiness: eager},"), None),
        (text(far="-66", name="bar"), None),
        (text(far="-48"), None),
        (text(far="-66").partition("walks:")[0] + "measured:" + text(far="-66").partition("measured:")[2], None),
    ],
    ids=["holds on", "far enough", "looks around early", "wide margin", "eager", "two names", "fast enough", "no walk"],
)
def test_when_a_device_may_stick(site: str, verdict: str | None) -> None:
    assert found(site, "may-stick-to-far-node").get("may-stick-to-far-node[place=bar]") == verdict
