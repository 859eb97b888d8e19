"""Advice the equipment does not allow is told so, and every remedy names an operator there is."""

from __future__ import annotations

import pytest

from advisor.assess import assess, shipped_rules
from advisor.data import catalogue
from advisor.site.equipment import Settable
from advisor.site.load import load_text
from advisor.subjects import KINDS

SITE = """
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 100, up_mbps: 30}
nodes:
  gateway: {role: gateway, gear: open-node, radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}}
  office:
    role: access-point
    gear: GEAR
    uplink: {to: gateway, over: ethernet, speed_mbps: 1000}
    radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}
    paths: {gateway: {distance_m: 8}}
networks: {home: {name: kestrel, security: wpa2-personal}}
"""
IDENTITY = "own-nodes-on-one-channel[radio=gateway.r5,radio=office.r5]"


def told(gear: str) -> tuple[str, ...]:
    return assess(load_text(SITE.replace("GEAR", gear), "site.yaml")).not_possible[IDENTITY]


def test_what_gear_does_not_let_one_set_is_told_of_the_node() -> None:
    (sentence,) = told("home-relay")
    assert sentence == (
        "office (taken as usual gear of class home-relay) does not let its channel or its channel width be set."
    )


def test_gear_with_one_channel_for_all() -> None:
    assert told("node-set") == (
        "office (taken as usual gear of class node-set) takes one channel for all nodes of its kind and does not let"
        " its channel width or the band of its uplink be set.",
    )


def test_what_the_file_says_goes_before_the_gear_class() -> None:
    text = SITE.replace("GEAR", "home-relay\n    settable: {channel: per-node, width: true}")
    assert assess(load_text(text, "site.yaml")).not_possible[IDENTITY] == ()


OPERATORS = catalogue("operators")["operators"]


@pytest.mark.parametrize("rule", shipped_rules(), ids=lambda rule: rule.id)
def test_remedies_name_operators_and_subjects_there_are(rule) -> None:
    for remedy in rule.body.remedies:
        assert remedy.operator in OPERATORS
        assert remedy.subject in OPERATORS[remedy.operator]["subjects"]


def test_operators_name_settings_and_subjects_there_are() -> None:
    for name, entry in OPERATORS.items():
        assert set(entry["subjects"]) <= set(KINDS), name
        assert ("takes" in entry) == ("told" in entry), name
        assert entry.get("takes", "channel") in Settable.model_fields, name


RELAYED = """
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 8, up_mbps: 2, queue: fifo}
nodes:
  gateway: {role: gateway, gear: home-router, radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 100}}}
  loft:
    role: relay
    gear: home-relay
    uplink: {to: gateway, band: 5}
    radios: {r24: {band: 2.4, channel: 6}, r5: {band: 5, channel: 100}}
    paths: {gateway: {distance_m: 8}}
networks: {home: {name: kestrel, security: wpa2-personal}}
places:
  desk: {client: phone, down_mbps: 2, up_mbps: 1, calls: 1, paths: {loft: {distance_m: 3}, gateway: {distance_m: 9}}}
  hall: {client: phone, paths: {gateway: {distance_m: 3}, loft: {distance_m: 9}}}
walks: {round: {points: [desk, hall], client: phone, traffic: voice}}
"""


def told_of(rule: str) -> tuple[str, ...]:
    answer = assess(load_text(RELAYED, "site.yaml"))
    (identity,) = [name for name in answer.not_possible if name.startswith(f"{rule}[")]
    return answer.not_possible[identity]


def test_the_channel_of_a_hop_is_set_at_its_parent() -> None:
    """The relay lets no channel be set, its parent does, and that is where it is done."""
    assert not any("channel be set" in sentence for sentence in told_of("uplink-on-radar-channel"))


def test_what_the_site_wants_is_asked_of_the_node_at_the_line() -> None:
    assert told_of("line-without-fair-queue") == (
        "gateway (taken as usual gear of class home-router) does not let a fair queue be set.",
    )


def test_what_a_name_wants_is_asked_of_the_nodes_that_carry_it() -> None:
    assert told_of("no-aids-where-people-walk") == (
        "gateway (taken as usual gear of class home-router) does not let the roaming aids 802.11k, v and r be set.",
        "loft (taken as usual gear of class home-relay) does not let the roaming aids 802.11k, v and r be set.",
    )


def test_a_gateway_has_no_uplink_to_change() -> None:
    text = RELAYED.replace("channel: 6", "channel: 1")
    answer = assess(load_text(text, "site.yaml"))
    sentences = [sentence for told in answer.not_possible.values() for sentence in told]
    assert not any(sentence.startswith("gateway") and "uplink" in sentence for sentence in sentences)


def test_operators_have_these_keys_and_no_others() -> None:
    assert {key for entry in OPERATORS.values() for key in entry} == {"subjects", "takes", "told"}
