"""What an assessment says: the tables, what counts as a failure, and which rules are asked for."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from advisor.assess import assess, path_of, select, shipped_rules
from advisor.errors import InputError
from advisor.facts.explain import movers
from advisor.site.load import load_site, load_text
from advisor.subjects import KINDS
from advisor.tables import Use, hop_rows, use_of
from advisor.trace import Assumed
from advisor.values import Known, Options, Unknown, constant, from_cases

PROFILES = Path(__file__).parents[1] / "profiles"


def draws(yes: int, *, centre: bool = True) -> Known:
    return from_cases(np.array([centre, False, True] + [True] * yes + [False] * (10 - yes)), joint=True)


@pytest.mark.parametrize(
    ("value", "use"),
    [
        (constant(True), Use("works", 1.0)),
        (constant(False), Use("fails", 0.0)),
        (draws(9), Use("works", 0.9)),
        (draws(8), Use("may fail", 0.8)),
        (draws(5), Use("may fail", 0.5)),
        (draws(4), Use("fails", 0.4)),
        (Unknown(("the line",)), Use("not known", None)),
        (Options({"a": draws(10), "b": draws(9)}), Use("works", 0.9)),
        (Options({"a": draws(10), "b": draws(2)}), Use("may fail", 0.2, "b")),
        (Options({"a": draws(1), "b": draws(2)}), Use("fails", 0.1)),
    ],
)
def test_use_of(value: Any, use: Use) -> None:
    """Works from 90 % on, fails under 50 %; where the equipment decides between the two, it may fail."""
    answer = use_of(value)
    assert (answer.word, answer.depends_on) == (use.word, use.depends_on)
    if not isinstance(value, Options):
        assert answer.chance == use.chance


@pytest.mark.parametrize("profile", sorted(PROFILES.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_subject_has_a_place_in_the_file(profile: Path) -> None:
    loaded = load_site(profile)
    book = assess(loaded).book
    for kind in KINDS:
        for subject in book.subjects(kind):
            place = loaded.where(path_of(book, subject))
            assert place.startswith(f"{profile}:")
            if kind in ("node", "place", "need", "network", "hop"):
                line = profile.read_text(encoding="utf-8").splitlines()[int(place.rsplit(":", 2)[1]) - 1]
                assert ("uplink" if kind == "hop" else subject.ids[0]) in line


def test_the_tables_have_a_row_for_each_place_and_each_way_of_a_hop() -> None:
    answer = assess(load_site(PROFILES / "kestrel-yard.yaml"))
    assert [row.place for row in answer.places] == sorted(answer.loaded.site.places)
    rows = hop_rows(answer.book)
    ways = answer.book.options["cafe"]
    assert [row.node for row in rows] == ["cafe"] * len(ways) + ["stair"]
    assert [row.open for row in rows] == [True] * len(ways) + [False]
    assert {(row.parent, row.over) for row in rows if row.open} == {(hop.parent, f"{hop.band} GHz") for hop in ways}


def test_parts_that_are_not_computed_are_named() -> None:
    answer = assess(load_site(PROFILES / "kestrel-yard.yaml"))
    assert "walks" in dict(answer.not_computed)


QUIET = """
site: {name: A}
internet: {down_mbps: 100, up_mbps: 40}
nodes: {box: {role: gateway, gear: open-node, radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}}}
networks: {main: {name: main, security: wpa2-personal}}
places: {seat: {client: laptop, down_mbps: 5, up_mbps: 1, paths: {box: {distance_m: 3, complete: true}}}}
"""


def test_a_quiet_site_does_not_fail_at_any_level() -> None:
    answer = assess(load_text(QUIET, "site.yaml"))
    assert [answer.fails(level) for level in ("error", "warning")] == [False, False]
    assert answer.asked == {"seat": "works"}


def test_a_need_that_is_not_computed_counts_as_a_failure() -> None:
    """Unknown is never a pass."""
    text = QUIET + "walks: {round: {points: [seat, seat]}}\nneeds: {calm: {walk: round, interruption_ms: 200}}\n"
    answer = assess(load_text(text, "site.yaml"))
    assert "needs.calm" in dict(answer.not_computed)
    assert answer.fails("error")


def test_a_place_whose_need_cannot_be_judged_counts_as_a_failure() -> None:
    answer = assess(load_text(QUIET.replace("down_mbps: 100, ", ""), "site.yaml"))
    assert answer.asked == {"seat": "not known"}
    assert answer.fails("error")


def test_rules_are_chosen_by_id_and_topic() -> None:
    rules = shipped_rules()
    topic = rules[0].topic
    assert select(rules, [], []) == rules
    assert {rule.topic for rule in select(rules, [topic], [])} == {topic}
    assert [rule.id for rule in select(rules, [rules[0].id], [])] == [rules[0].id]
    assert rules[0] not in select(rules, [], [rules[0].id])
    assert select(rules, [topic], [topic]) == ()
    with pytest.raises(InputError, match="there is no rule or topic"):
        select(rules, ["no-such-thing"], [])


def test_assumptions_that_move_a_finding_at_risk_come_first() -> None:
    assessment = assess(load_site(PROFILES / "two-nodes.yaml"))
    found = assessment.assumed()
    assert all(count >= 1 for _, count in found)
    moving = {
        mover.fact.by.entry
        for finding in assessment.judgement.findings
        if finding.verdict == "at-risk"
        for fact in finding.facts
        for mover in movers(fact)
        if isinstance(mover.fact.by, Assumed)
    }
    flags = [isinstance(fact.by, Assumed) and fact.by.entry in moving for fact, _ in found]
    assert flags[0]
    assert flags == sorted(flags, reverse=True)


def test_seed_and_draws_change_the_band_and_not_the_centre() -> None:
    loaded = load_site(PROFILES / "two-nodes.yaml")
    one, other = (assess(loaded, seed=seed).places for seed in (1, 2))
    for first, second in zip(one, other, strict=True):
        assert isinstance(first.alone.value, Known)
        assert isinstance(second.alone.value, Known)
        assert first.alone.value.centre == second.alone.value.centre
    assert any(first.everyone.value != second.everyone.value for first, second in zip(one, other, strict=True))
    few = assess(loaded, draws=10).places[0].alone.value
    assert isinstance(few, Known)
    assert few.cases is not None
    assert len(few.cases) == 13
