"""What the file leaves open stays open: channels not told, an uplink without a parent, and uses nobody asked for."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.assess import Assessment, assess
from advisor.facts.checks import open_book
from advisor.facts.everyone import crowd
from advisor.facts.hearing import contending
from advisor.facts.joins import association
from advisor.facts.uses import to_be_had
from advisor.site.load import load_text
from advisor.trace import Assumed, assumptions
from advisor.values import Options

TWO = """
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 900, up_mbps: 900}
nodes:
  gateway: {role: gateway, gear: open-node, radios: {r5: {band: 5, channel: ONE, width_mhz: 20, eirp_dbm: 20}}}
  office:
    role: access-point
    gear: open-node
    uplink: {to: gateway, over: ethernet, speed_mbps: 1000}
    radios: {r5: {band: 5, channel: OTHER, width_mhz: 20, eirp_dbm: 20}}
    paths: {gateway: {distance_m: 6}}
networks: {home: {name: kestrel, security: wpa2-personal}}
places:
  desk: {client: laptop, down_mbps: 130, up_mbps: 1, paths: {gateway: {distance_m: 3, complete: true}}}
  loft: {client: laptop, down_mbps: 130, up_mbps: 1, paths: {office: {distance_m: 3, complete: true}}}
"""


def checked(text: str) -> Assessment:
    return assess(load_text(text, "site.yaml"))


def two(one: str, other: str) -> Assessment:
    return checked(TWO.replace("channel: ONE, ", one).replace("channel: OTHER, ", other))


def full_air(answer: Assessment) -> set[str]:
    return {entry.verdict for entry in answer.judgement.findings if entry.rule == "air-is-full"}


def test_channels_not_told_may_be_one_or_two() -> None:
    """On one channel the air is surely full, on two it surely is not; not told, it may be."""
    assert full_air(two("channel: 36, ", "channel: 36, ")) == {"fail"}
    assert full_air(two("channel: 36, ", "channel: 149, ")) == set()
    untold = two("", "")
    assert full_air(untold) == {"at-risk"}
    assert {entry.verdict for entry in untold.judgement.findings if entry.rule == "place-below-need"} <= {"at-risk"}


RELAY = """
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 100, up_mbps: 30}
nodes:
  gateway: {role: gateway, gear: open-node, radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}}
  landing:
    role: relay
    gear: open-node
    uplink: {over: radio}
    radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}
    paths: {gateway: {distance_m: 7, through: [brick]}}
networks: {home: {name: kestrel, security: wpa2-personal}}
places:
  desk: {client: laptop, down_mbps: 10, up_mbps: 1, paths: {landing: {distance_m: 3, complete: true}}}
"""


def test_an_uplink_without_a_parent_may_run_any_way() -> None:
    answer = checked(RELAY)
    assert {hop.option for hop in answer.book.options["landing"]} == {"to gateway on 5 GHz", "to gateway on 2.4 GHz"}
    left_to_it = checked(RELAY.replace("{over: radio}", "{choice: node}"))
    for one, other in zip(answer.places, left_to_it.places, strict=True):
        assert (one.place, one.everyone.value) == (other.place, other.everyone.value)
        assert isinstance(one.alone.value, Options) or one.alone.known


@pytest.mark.parametrize(
    ("everyone", "asked", "load", "alone", "had"),
    [
        (2.0, 1.0, 0.2, 100.0, 81.0),  # a fifth of the time is wanted: four fifths of 100 are left, and what it asks
        (2.0, 1.0, 1.0, 100.0, 2.0),  # nothing is left
        (2.0, 1.0, 1.4, 100.0, 2.0),  # not even enough
        (90.0, 1.0, 0.2, 100.0, 90.0),  # it gets more already
        (2.0, 1.0, 0.0, 50.0, 50.0),  # never more than alone
    ],
)
def test_what_is_to_be_had(everyone: float, asked: float, load: float, alone: float, had: float) -> None:
    found = to_be_had(everyone_mbps=everyone, asked_mbps=asked, load_share=load, alone_mbps=alone)
    assert float(np.asarray(found)) == pytest.approx(had)


def test_a_place_that_asks_for_calls_alone_is_not_said_to_fail_at_video() -> None:
    text = RELAY.replace("down_mbps: 10, up_mbps: 1", "down_mbps: 0.1, up_mbps: 0.1, calls: 1")
    (row,) = checked(text.replace("{over: radio}", "{to: gateway, band: 5}")).places
    assert {name: use.word for name, use in row.uses.items()} == dict.fromkeys(("calls", "video", "browsing"), "works")


def test_channels_not_told_are_listed_as_an_assumption() -> None:
    answer = two("", "")
    told = {
        fact.by.entry
        for row in answer.places
        for fact in assumptions(row.everyone) + assumptions(row.alone)
        if isinstance(fact.by, Assumed)
    }
    entries = {fact.by.entry for fact, _ in answer.assumed() if isinstance(fact.by, Assumed)}
    assert any("not told which channels" in entry for entry in told | entries)


def test_an_uplink_puts_both_ends_on_one_channel_even_where_it_is_not_told() -> None:
    text = TWO.replace("channel: ONE, ", "").replace("channel: OTHER, ", "")
    air = text.replace("role: access-point", "role: relay").replace(
        "{to: gateway, over: ethernet, speed_mbps: 1000}", "{to: gateway, band: 5}"
    )
    book = open_book(load_text(air, "site.yaml"))
    assert np.all(contending(book)["gateway.r5", "office.r5"] == 1.0)
    apart = open_book(load_text(text, "site.yaml"))
    assert not np.all(contending(apart)["gateway.r5", "office.r5"] == 1.0)


def test_a_place_waits_only_for_the_air_of_the_radio_it_joins_in_that_case() -> None:
    """The desk may join either radio; wherever it joins the one, the other's air is nothing to it."""
    text = TWO.replace("channel: ONE", "channel: 36").replace("channel: OTHER", "channel: 36")
    text = text.replace(
        "paths: {gateway: {distance_m: 3, complete: true}}",
        "paths: {gateway: {distance_m: 30}, office: {distance_m: 31}}",
    )
    book = open_book(load_text(text, "site.yaml"))
    answer = association(book, "desk")
    joined = np.array([*answer.radios, "none"])[answer.joined]
    assert set(joined) >= {"gateway.r5", "office.r5"}
    everybody = crowd(book)
    waits = everybody.waited_for["desk"]
    alive = ~everybody.dead("desk", "down")
    for radio in ("gateway.r5", "office.r5"):
        assert not np.any(waits[everybody.resources.index(f"domain={radio}")] & (joined != radio))
        assert np.all(waits[everybody.resources.index(f"domain={radio}")][(joined == radio) & alive])
