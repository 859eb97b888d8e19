"""Findings with one shared cause: who heads the group, who stands under it, and in which order."""

from __future__ import annotations

import itertools

import pytest

from advisor.rulebook.group import group_findings
from advisor.rulebook.judge import Finding
from advisor.subjects import SITE, hop, place


def finding(rule, subject, cause=None, level="warning", rank=50, heads=True):
    return Finding(
        rule, rule, level, level, "fail", None, "high", subject, "", "", (), (), (), cause, rank, "", (), heads
    )


def shape(findings):
    return [(group.head.rule, [entry.rule for entry in group.consequences]) for group in group_findings(findings)]


STAIR, HALL, DESK, SHED = hop("stair"), hop("hall"), place("desk"), place("shed")

CASES = {
    "nothing": ([], []),
    "no cause: each alone": (
        [finding("b", STAIR), finding("a", STAIR), finding("c", SITE)],
        [("a", []), ("b", []), ("c", [])],
    ),
    "a consequence stands under its cause": (
        [finding("slow", DESK, "hop=stair"), finding("weak", STAIR)],
        [("weak", ["slow"])],
    ),
    "several consequences, worst first": (
        [finding("a", DESK, "hop=stair", "note"), finding("b", SHED, "hop=stair", "error"), finding("weak", STAIR)],
        [("weak", ["b", "a"])],
    ),
    "the most fundamental about the cause is the head": (
        [finding("slow", DESK, "hop=stair"), finding("a", STAIR, level="error"), finding("z", STAIR, rank=10)],
        [("z", ["a", "slow"])],
    ),
    "a rule that heads none stands alone beside a group about its subject": (
        [finding("slow", DESK, "hop=stair"), finding("weak", STAIR), finding("aside", STAIR, rank=1, heads=False)],
        [("aside", []), ("weak", ["slow"])],
    ),
    "under a subject about which only such rules speak the worst consequence is the head": (
        [
            finding("a", DESK, "hop=stair"),
            finding("b", SHED, "hop=stair", "error"),
            finding("aside", STAIR, heads=False),
        ],
        [("b", ["a"]), ("aside", [])],
    ),
    "then the worse, then the rule; what is about one subject stays together": (
        [
            finding("slow", DESK, "hop=stair"),
            finding("a", STAIR, level="note"),
            finding("c", STAIR),
            finding("b", STAIR),
        ],
        [("b", ["c", "a", "slow"])],
    ),
    "a chain: place, hop, the hop above": (
        [finding("slow", DESK, "hop=stair"), finding("busy", STAIR, "hop=hall"), finding("weak", HALL)],
        [("weak", ["busy", "slow"])],
    ),
    "a cause without a finding: the worst consequence is the head": (
        [finding("a", DESK, "hop=stair"), finding("b", SHED, "hop=stair", "error")],
        [("b", ["a"])],
    ),
    "a chain through a silent subject ends there": (
        [finding("a", DESK, "hop=stair"), finding("weak", HALL)],
        [("weak", []), ("a", [])],
    ),
    "its own cause": ([finding("a", STAIR, "hop=stair"), finding("b", STAIR)], [("a", ["b"])]),
    "a circle of two": (
        [finding("a", STAIR, "hop=hall"), finding("b", HALL, "hop=stair")],
        [("b", ["a"])],
    ),
    "a consequence of a circle": (
        [finding("a", STAIR, "hop=hall"), finding("b", HALL, "hop=stair"), finding("c", DESK, "hop=stair")],
        [("b", ["a", "c"])],
    ),
    "groups by worst level, then rank, then subject": (
        [
            finding("a", HALL),
            finding("b", DESK, rank=20),
            finding("c", STAIR, level="note"),
            finding("d", SHED, "hop=stair", "error"),
        ],
        [("c", ["d"]), ("b", []), ("a", [])],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_groups(name):
    findings, expected = CASES[name]
    for order in itertools.permutations(findings):
        assert shape(order) == expected


@pytest.mark.parametrize("name", CASES)
def test_no_finding_is_lost_or_told_twice(name):
    findings, _ = CASES[name]
    told = [entry.identity for group in group_findings(findings) for entry in group.findings]
    assert sorted(told) == sorted(entry.identity for entry in findings)
