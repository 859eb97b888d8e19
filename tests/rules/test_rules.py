"""The rules that ship: each loads, keeps what it promises in its own examples, and says what a finding must say."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

import pytest

from advisor.facts import catalogue
from advisor.facts.book import Book
from advisor.rulebook.examples import run_examples
from advisor.rulebook.judge import Judgement, judge_all
from advisor.rulebook.load import find_rules, load_rules
from advisor.rulebook.tree import Arithmetic, Compare, Listed, Literal, Logic, Node, Not, Reference
from advisor.site.equipment import Band, Standard
from advisor.site.load import load_text

RULES = load_rules(catalogue.lookup)

ANSWERS = {
    "band": get_args(Band),
    "pair_band": get_args(Band),
    "standard": get_args(Standard),
    "channel_settable": ("per-node", "all", "no"),
    "power_settable": ("db", "steps", "no"),
    "filled_up": ("",),  # or what was filled up, in words
    "joined_radio": ("none",),  # or the name of a radio, which no rule can know
}
"""What the class facts that rules compare with a word can answer."""


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_examples_hold(rule):
    assert run_examples(rule, catalogue.lookup) == []


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_it_says_why_what_to_do_on_what_grounds_by_what_remedy_and_what_it_cannot_see(rule):
    body = rule.body
    assert body.why
    assert body.do
    assert body.sources
    assert body.limits
    assert body.remedies
    assert any(example.message for example in body.examples if example.expect == "fail")


def test_every_file_is_one_rule_named_like_its_id():
    files = {path.relative_to(find_rules()).as_posix() for path in find_rules().rglob("*") if path.is_file()}
    assert files == {f"{rule.topic}/{rule.id}.yaml" for rule in RULES}


def words(node: Node) -> Iterator[tuple[str, str]]:
    """(fact, word) for every comparison of a class fact with a word."""
    match node:
        case Not(part=part):
            yield from words(part)
        case Logic(parts=parts) | Arithmetic(parts=parts):
            for part in parts:
                yield from words(part)
        case Compare(left=left, right=right):
            for one, other in ((left, right), (right, left)):
                if isinstance(one, Reference) and one.type == "class":
                    values = other.values if isinstance(other, Listed) else ()
                    values = (other.value,) if isinstance(other, Literal) else values
                    yield from ((one.quantity.name, str(value)) for value in values)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_a_word_in_a_condition_is_one_the_fact_can_answer(rule):
    for condition in (rule.where, rule.when, rule.value, rule.at_least):
        for name, word in words(condition.tree) if condition else ():
            assert word in ANSWERS[name]


def judged(text: str) -> Judgement:
    loaded = load_text(text, "site.yaml")
    book = Book(loaded)
    return judge_all(
        RULES,
        book.subjects,
        lambda subject, name, variant: book.get(name, subject, **variant),
        lambda subject, rule: "",
    )


def identities(judgement: Judgement, *verdicts: str) -> set[str]:
    return {finding.identity for finding in judgement.findings if finding.verdict in verdicts}


SOUND = """\
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 100, up_mbps: 30}
nodes:
  gateway:
    role: gateway
    gear: open-node
    address_server: true
    radios: {r24: {band: 2.4, channel: 1, eirp_dbm: 19}, r5: {band: 5, channel: 36, eirp_dbm: 20}}
  office:
    role: access-point
    gear: open-node
    uplink: {to: gateway, over: ethernet, speed_mbps: 1000}
    radios: {r24: {band: 2.4, channel: 6, eirp_dbm: 19}, r5: {band: 5, channel: 149, eirp_dbm: 20}}
    paths: {gateway: {distance_m: 8, through: [brick, floor-timber]}}
networks: {home: {name: kestrel, security: wpa2-personal}}
neighbours: {next-door: {band: 2.4, channel: 11, heard_dbm: {gateway: -80}, busy_share: 0.02}}
places:
  workbench:
    client: laptop
    down_mbps: 10
    up_mbps: 2
    paths: {gateway: {distance_m: 4}, office: {distance_m: 9, through: [brick, floor-timber]}}
  desk:
    client: laptop
    down_mbps: 10
    up_mbps: 2
    calls: 1
    paths: {office: {distance_m: 3}, gateway: {distance_m: 9, through: [brick, floor-timber]}}
"""


def test_a_sound_site_has_no_findings():
    found = judged(SOUND)
    assert identities(found, "fail", "at-risk") == set()
    assert found.unknowns == ()


FAULTS = [
    ("channel: 149, eirp", "channel: 36, eirp", "own-nodes-on-one-channel[radio=gateway.r5,radio=office.r5]"),
    ("channel: 6, eirp", "channel: 3, eirp", "half-overlapping-channels[radio=gateway.r24,radio=office.r24]"),
    ("channel: 6, eirp_dbm: 19", "channel: 6, eirp_dbm: 11", "powers-uneven[radio=gateway.r24,radio=office.r24]"),
    ("speed_mbps: 1000", "speed_mbps: 50", "wire-slower-than-what-it-feeds[hop=office]"),
    ("speed_mbps: 1000", "speed_mbps: 5", "hop-below-demand[hop=office]"),
    ("speed_mbps: 1000", "speed_mbps: 1", "hop-below-demand-up[hop=office]"),
    ("down_mbps: 100,", "down_mbps: 6,", "place-below-need[place=desk]"),
    ("up_mbps: 30}", "up_mbps: 3}", "place-below-need-up[place=desk]"),
    ("up_mbps: 30}", "up_mbps: 3}", "calls-behind-full-hop[place=desk]"),
    ("up_mbps: 30}", "up_mbps: 3, queue: fifo, loaded_delay_ms: 900}", "call-does-not-hold[place=desk]"),
    ("calls: 1", "calls: 1\n    emergency_calls: true", "emergency-calls[place=desk]"),
    (
        "networks: {home: {name: kestrel, security: wpa2-personal}}",
        "networks: {one: {name: kestrel, security: wpa2-personal, nodes: [gateway]}, "
        "two: {name: swift, security: wpa2-personal, nodes: [office]}}",
        "names-differ-between-nodes[node=gateway,node=office]",
    ),
    (
        "networks: {home: {name: kestrel, security: wpa2-personal}}",
        "networks: {one: {name: kestrel, security: wpa2-personal, nodes: [gateway]}, "
        "two: {name: kestrel, security: wpa3-personal, nodes: [office]}}",
        "one-name-two-securities[name=kestrel]",
    ),
    (
        "networks: {home: {name: kestrel, security: wpa2-personal}}",
        "networks: {one: {name: kestrel, security: wpa2-personal, nodes: [gateway], generation: 1}, "
        "two: {name: kestrel, security: wpa2-personal, nodes: [office], generation: 2}}",
        "one-name-two-passwords[name=kestrel]",
    ),
    ("channel: 1, eirp", "channel: 1, width_mhz: 40, eirp", "wide-channel-in-crowded-band[radio=gateway.r24]"),
    ("desk:\n    client: laptop", "desk:\n    client: sensor", "cannot-join[place=desk]"),
    (
        "places:",
        "places:\n  meadow: {client: phone, paths: {gateway: {distance_m: 600, through: [brick, brick]}, "
        "office: {distance_m: 600, through: [brick, brick]}}}",
        "nothing-holds[place=meadow]",
    ),
    ("places:", "needs: {backup: {place: desk, down_mbps: 150}}\nplaces:", "need-not-met[need=backup]"),
    ("places:", "needs: {backup: {place: desk, up_mbps: 40, when: alone}}\nplaces:", "need-not-met-up[need=backup]"),
    (
        "up_mbps: 30}",
        "up_mbps: 3, queue: fifo, loaded_delay_ms: 900}\nneeds: {support: {place: desk, calls: true}}",
        "need-calls-not-met[need=support]",
    ),
]
WPA3 = ("security: wpa2-personal", "security: wpa3-personal")


@pytest.mark.parametrize(("sound", "faulty", "identity"), FAULTS, ids=[fault[2] for fault in FAULTS])
def test_one_fault_is_found(sound, faulty, identity):
    assert sound in SOUND
    text = SOUND.replace(sound, faulty)
    if identity.startswith("cannot-join"):
        text = text.replace(*WPA3)
    assert identity in identities(judged(text), "fail")


RELAYS = """\
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 100, up_mbps: 30}
nodes:
  gateway: {role: gateway, radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}}
  stair:
    role: relay
    uplink: {to: gateway, band: 5}
    radios: {r24: {band: 2.4, channel: 6}, r5: {band: 5, channel: 36}}
    paths: {gateway: {distance_m: 6}}
  loft:
    role: relay
    uplink: {to: stair, band: 5}
    radios: {r24: {band: 2.4, channel: 11}, r5: {band: 5, channel: 36}}
    paths: {stair: {distance_m: 6}, gateway: {distance_m: 10}}
  shed:
    role: relay
    uplink: {to: loft, band: 5}
    radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}
    paths: {loft: {distance_m: 6}, stair: {distance_m: 12}, gateway: {distance_m: 15}}
networks: {home: {name: kestrel, security: wpa2-personal}}
places:
  bench: {client: laptop, down_mbps: 90, up_mbps: 1, paths: {shed: {distance_m: 3}}}
"""
MEASURED = "measured: {uplink: {radio: gateway.r5, at: stair, level_dbm: LEVEL, level_at_node_dbm: LEVEL}}\n"


def test_a_chain_of_relays():
    found = identities(judged(RELAYS), "fail")
    assert {"too-many-air-hops[hop=shed]", "relay-repeats-on-its-channel[hop=shed]"} <= found
    assert "too-many-air-hops[hop=loft]" not in found
    assert not any(identity.startswith(("hop-weak", "hop-does-not-hold")) for identity in found)


@pytest.mark.parametrize(("level_dbm", "rule"), [("-80", "hop-weak"), ("-94", "hop-does-not-hold")])
def test_a_measured_uplink_level(level_dbm, rule):
    assert f"{rule}[hop=stair]" in identities(judged(RELAYS + MEASURED.replace("LEVEL", level_dbm)), "fail")


def test_hops_behind_a_dead_one_name_it_as_their_cause():
    found = judged(RELAYS + MEASURED.replace("LEVEL", "-94"))
    causes = {finding.subject.ids[0]: finding.cause for finding in found.findings if finding.rule == "hop-below-demand"}
    assert causes == {"stair": "hop=stair", "loft": "hop=stair", "shed": "hop=stair"}


OPEN = """\
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 500, up_mbps: 100}
nodes:
  gateway: {role: gateway, radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}}
  stair:
    role: relay
    uplink: {to: gateway}
    radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}
    paths: {gateway: {distance_m: 5}}
networks: {home: {name: kestrel, security: wpa2-personal}}
places:
  desk:
    client: laptop
    down_mbps: 20
    paths: {stair: {distance_m: 3}, gateway: {distance_m: 9, through: [brick, brick]}}
"""


def test_an_uplink_left_to_the_equipment():
    assert "uplink-left-open[hop=stair]" in identities(judged(OPEN), "fail")
    fixed = OPEN.replace("{to: gateway}", "{to: gateway, band: 5}")
    assert "uplink-left-open[hop=stair]" not in identities(judged(fixed), "fail", "at-risk")


def test_a_loud_node_hears_too_little_of_a_small_device():
    gate = "\n  gate: {client: phone, paths: {gateway: {distance_m: 45, through: [brick]}}}"
    text = SOUND.replace("places:", "places:" + gate)
    text = text.replace("eirp_dbm: 19}, r5: {band: 5, channel: 36", "eirp_dbm: 30}, r5: {band: 5, channel: 36")
    found = identities(judged(text), "fail", "at-risk")
    assert "client-not-heard[place=gate,radio=gateway.r24]" in found
