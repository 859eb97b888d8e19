"""Fixes that are proven: what is promised is what the written file gives; nothing cheaper does as much."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest

from advisor.advice.card import card_of
from advisor.advice.goal import distance, goal_rules
from advisor.advice.improve import improve, taken
from advisor.advice.tries import Standing, fixes, stand, with_changes
from advisor.assess import assess, shipped_rules
from advisor.errors import InputError
from advisor.site.change import Change
from advisor.site.edit import CannotEdit, edited
from advisor.site.load import load_site, load_text

ROOT = Path(__file__).parents[2]
DEMO = str(ROOT / "profiles" / "kestrel-yard.yaml")
SITES = ROOT / "tests" / "sites"


@pytest.fixture(scope="module")
def demo():  # type: ignore[no-untyped-def]
    return improve(load_site(DEMO))


def test_the_demo_has_no_error_left(demo) -> None:  # type: ignore[no-untyped-def]
    """Read again from its own text and judged by every rule: no error; and exactly the distance promised."""
    assert demo.before.errors > 0
    written = load_text(demo.after.loaded.document.text, "written.yaml")
    again = stand(None, written, goal_rules(shipped_rules(examples=False)))
    assert distance(again) == demo.steps[-1].after
    assert again.by_identity().keys() == demo.after.by_identity().keys()
    full = assess(written)
    assert not [finding for finding in full.judgement.findings if finding.effective_level == "error"]


def test_every_step_gives_what_it_promises(demo) -> None:  # type: ignore[no-untyped-def]
    here = load_site(DEMO)
    rules = goal_rules(shipped_rules(examples=False))
    for step in demo.steps:
        assert distance(stand(None, here, rules)) == step.before
        here = load_text(edited(here, step.change.edits).document.text, "step.yaml")
        after = stand(None, here, rules)
        assert distance(after) == step.after
        assert not {found.identity for found in step.gone} & after.by_identity().keys()
        assert {found.identity for found in step.come} <= after.by_identity().keys()


def test_only_lines_that_must_change_do(demo) -> None:  # type: ignore[no-untyped-def]
    before = load_site(DEMO).document.text.splitlines()
    after = demo.after.loaded.document.text.splitlines()
    assert len([line for line in before if line not in after]) <= sum(len(step.change.edits) for step in demo.steps)
    assert all(line in after for line in before if line.lstrip().startswith("#"))


def changes_of(site: str) -> tuple[Standing, list[Change]]:
    """Everything that may be tried at a small site, as the search does."""
    from advisor.advice.improve import _candidates

    rules = goal_rules(shipped_rules(examples=False))
    base = stand(None, load_site(site), rules)
    return base, list(_candidates(base, rules, {}, {}))


@pytest.mark.parametrize("name", ["08-flat-six-ghz", "09-farm-shop", "20-annex-second-server"])
def test_no_set_of_changes_with_less_work_does_as_much(name: str) -> None:
    """Every subset of up to three changes, computed here one by one."""
    site = str(SITES / f"{name}.yaml")
    found = improve(load_site(site))
    assert found.proven
    assert found.steps[-1].after.reached
    base, changes = changes_of(site)
    rules = goal_rules(shipped_rules(examples=False))
    for size in range(1, 4):
        for chosen in combinations(changes, size):
            if sum(change.effort_min for change in chosen) >= found.effort_min:
                continue
            try:
                after = distance(with_changes(base, chosen, rules))
            except (CannotEdit, InputError):
                continue
            assert not after.reached


def test_a_small_budget_tells_its_bound(demo) -> None:  # type: ignore[no-untyped-def]
    found = improve(load_site(DEMO), budget=6)
    assert found.computed <= 6
    assert not found.proven
    assert found.bound_min <= demo.effort_min


def test_broken_off_it_gives_the_best_so_far() -> None:
    def interrupt(done: int, of: int) -> None:
        if done == 4:
            raise KeyboardInterrupt

    found = improve(load_site(DEMO), progress=interrupt)
    assert found.stopped
    assert found.steps[-1].after < found.before


def test_the_same_site_gives_the_same_steps(demo) -> None:  # type: ignore[no-untyped-def]
    again = improve(load_site(DEMO))
    assert [step.change for step in again.steps] == [step.change for step in demo.steps]


def test_more_work_brings_more_along_the_frontier(demo) -> None:  # type: ignore[no-untyped-def]
    efforts = [way.effort_min for way in demo.frontier]
    assert efforts == sorted(efforts)
    assert all(
        second.distance < first.distance for first, second in zip(demo.frontier, demo.frontier[1:], strict=False)
    )
    half = taken(demo, 1)
    assert half.effort_min == demo.frontier[1].effort_min
    assert half.steps[-1].after == demo.frontier[1].distance
    with pytest.raises(InputError, match="there is no way 9"):
        taken(demo, 9)


def test_the_card_strands_nobody(demo) -> None:  # type: ignore[no-untyped-def]
    card = card_of(demo)
    assert [step.change for step in card.steps] == [step.change for step in demo.steps]
    for step in card.steps:
        assert step.entries
        assert step.lost == ()
        assert all(entry.reached for entry in step.entries)


def test_far_nodes_come_first_where_the_password_their_uplink_uses_is_touched() -> None:
    """Two relays in a chain that borrow the network's password: the far one is set first and waits for the near one."""
    text = """
site: {name: Knot, country: GB, invented: true}
internet: {down_mbps: 100, up_mbps: 20}
nodes:
  gateway: {role: gateway, gear: open-node, radios: {r5: {band: 5, channel: 36}}}
  near: {role: relay, gear: open-node, radios: {r5: {band: 5, channel: 36}}, uplink: {to: gateway, band: 5}, backhaul: {network: home}, paths: {gateway: {distance_m: 8}}}
  far: {role: relay, gear: open-node, radios: {r5: {band: 5, channel: 36}}, uplink: {to: near, band: 5}, backhaul: {network: home}, paths: {near: {distance_m: 8}, gateway: {distance_m: 60, through: [concrete, concrete, concrete]}}}
networks: {home: {name: knot, security: wpa3-personal}}
clients: {scanner: {like: phone, security: [wpa2-personal]}}
places: {end: {client: scanner, down_mbps: 1, up_mbps: 0.2, paths: {far: {distance_m: 3}, near: {distance_m: 30}, gateway: {distance_m: 60}}}}
"""  # noqa: E501
    found = improve(load_text(text, "knot.yaml"))
    step = next(step for step in card_of(found).steps if step.change.operator == "set-security")
    assert [entry.node for entry in step.entries] == ["far", "near", "gateway"]
    assert all(entry.reached for entry in step.entries)
    assert set(step.waits) == {"far", "near"}
    assert step.lost == ()


def test_a_fix_is_told_with_what_it_takes_away_and_what_it_brings() -> None:
    assessment = assess(load_site(DEMO))
    found = {fix.finding.identity: fix for fix in fixes(assessment)}
    till = found["cannot-join[place=parts-till]"]
    assert till.best is not None
    assert till.best.gone
    written = load_text(edited(assessment.loaded, till.best.change.edits).document.text, "written.yaml")
    after = {finding.identity for finding in assess(written).judgement.findings}
    before = {finding.identity for finding in assessment.judgement.findings}
    shallow = {entry.identity for entry in till.best.removed if not entry.rule.startswith(("outage", "stranded"))}
    assert {name for name in shallow if name in before} == before - after
    assert {entry.identity for entry in till.best.added} >= after - before


def test_what_the_equipment_refuses_is_told_and_not_tried() -> None:
    found = {fix.finding.identity: fix for fix in fixes(assess(load_site(DEMO)))}
    queue = found["line-without-fair-queue[site]"]
    assert queue.best is None
    assert [change.operator for change in queue.refused] == ["fair-queue"]
    assert "does not let" in queue.refused[0].refused
    assert "faster-line" in dict(queue.untried)
