"""A small catalogue of facts, invented for these tests, and one sample rule."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace

import pytest

from advisor.facts.catalogue import FactSpec
from advisor.rulebook.expression import Expression, compile_expression
from advisor.rulebook.load import Rule, read_rule
from advisor.rulebook.schema import Param

_DIRECTIONS = {"dir": ("down", "up"), "transport": ("tcp", "udp")}

SPECS = [
    FactSpec("margin_db", "hop", "dB", 1, "number", "margin over the receiver's minimum"),
    FactSpec("level_dbm", "hop", "dBm", 1, "number", "level at the lower node"),
    FactSpec("floor_dbm", "hop", "dBm", 1, "number", "noise floor"),
    FactSpec("antenna_dbi", "hop", "dBi", 1, "number", "antenna gain"),
    FactSpec("goodput_mbps", "hop", "Mb/s", 0, "number", "goodput alone", _DIRECTIONS),
    FactSpec("offered_mbps", "hop", "Mb/s", 0, "number", "offered load", _DIRECTIONS),
    FactSpec("delay_ms", "hop", "ms", 1, "number", "delay"),
    FactSpec("depth", "hop", "1", 0, "number", "hops up to the gateway"),
    FactSpec("fixed", "hop", "", 0, "boolean", "the uplink is fixed"),
    FactSpec("shared", "hop", "", 0, "boolean", "the channel is shared with the hop above"),
    FactSpec("medium", "hop", "", 0, "class", "air, ethernet, powerline or coax"),
    FactSpec("network_name", "hop", "", 0, "class", "name of the network that carries the hop"),
    FactSpec("cause", "hop", "", 0, "class", "key of the subject that limits this hop"),
    FactSpec("country", "site", "", 0, "class", "country"),
    FactSpec("mixed", "hop", "1", 0, "number", "two axes share a choice", {"a": ("x", "y"), "b": ("y", "z")}),
    FactSpec("queue_ms", "hop", "ms", 0, "number", "by access class", {"class": ("best-effort", "voice")}),
]
_BY_NAME = {(spec.about, spec.name): spec for spec in SPECS}

SAMPLE = """\
id: weak-hop
title: The uplink is weak
status: trial
level: warning
confidence: high
about: hop
where: medium == "air"
when: margin_db < params.least_db
params:
  least_db: {value: 10, unit: dB, source: "common practice, no source"}
message: "{{ subject.name }}: margin {{ margin_db | band }}, wanted {{ params.least_db | db }}"
why: A weak uplink takes more airtime for the same data.
do:
  - "Move {{ subject.name }} nearer to its parent."
  - Or give it a wire.
sources: ["common practice, no source"]
remedies:
  - {operator: move, subject: node}
cause: cause
limits: [what moves in the room]
examples:
  - name: weak
    facts: {medium: air, margin_db: 4}
    expect: fail
    message: "example-hop: margin 4.0 dB, wanted 10 dB"
  - name: strong
    facts: {medium: air, margin_db: [15, 20, 25]}
    expect: pass
  - name: near the limit
    facts: {medium: air, margin_db: [8, 12, 16]}
    expect: at-risk
  - name: at the limit
    facts: {medium: air, margin_db: 10}
    expect: pass
    limit: true
  - name: no level
    facts: {medium: air, margin_db: {unknown: a distance or a level}}
    expect: unknown
  - name: on a wire
    facts: {medium: ethernet}
    expect: not-applicable
"""

PARAMS = {
    name: Param(value=value, unit=unit, source="invented for the tests")
    for name, value, unit in (
        ("least_db", 10.0, "dB"),
        ("low_dbm", -70.0, "dBm"),
        ("least_mbps", 20.0, "Mb/s"),
        ("late_ms", 5.0, "ms"),
        ("ratio", 0.5, "1"),
        ("media", ("air", "powerline"), "1"),
        ("medium", "air", "1"),
    )
}


def lookup(about: str, name: str) -> FactSpec | None:
    return _BY_NAME.get((about, name))


def entries(about: str) -> list[FactSpec]:
    return [spec for spec in SPECS if spec.about == about]


def compiled(text: str, about: str = "hop") -> Expression:
    return compile_expression(text, about, lookup, PARAMS, entries)


def rule_from(text: str, name: str = "weak-hop") -> Rule:
    rule, problems = read_rule(text, f"rules/air/{name}.yaml", lookup, entries)
    assert not problems, problems
    assert rule is not None
    return rule


@pytest.fixture(scope="session")
def engine() -> Iterator[SimpleNamespace]:
    """The helpers of this folder as one object."""
    yield SimpleNamespace(lookup=lookup, entries=entries, compiled=compiled, rule_from=rule_from, sample=SAMPLE)
