"""Findings set aside by the site file: counted, listed, and back when their day has passed."""

from __future__ import annotations

from datetime import date

import pytest

from advisor.assess import Assessment, assess
from advisor.errors import InputError
from advisor.site.load import load_text

SITE = """
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 20, up_mbps: 10}
nodes: {gateway: {role: gateway, gear: open-node, radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}}}
networks: {home: {name: kestrel, security: wpa2-personal}}
places: {desk: {client: laptop, down_mbps: 50, up_mbps: 1, paths: {gateway: {distance_m: 3, complete: true}}}}
"""
RULE = "place-below-need"


def checked(ignored: str, today: date | None = None) -> Assessment:
    return assess(load_text(SITE + ignored, "site.yaml"), today=today)


def rules(answer: Assessment) -> set[str]:
    return {entry.rule for entry in answer.judgement.findings}


@pytest.mark.parametrize(
    "subject", ["", ", subject: desk", ", subject: place=desk", f", subject: '{RULE}[place=desk]'"]
)
def test_an_ignored_finding_is_listed_and_counts_no_more(subject: str) -> None:
    assert RULE in rules(checked(""))
    answer = checked(f"ignored: {{known: {{rule: {RULE}{subject}, reason: a new line comes in spring}}}}\n")
    assert RULE not in rules(answer)
    assert [(entry.finding.identity, entry.reason) for entry in answer.ignored] == [
        (f"{RULE}[place=desk]", "a new line comes in spring")
    ]
    assert all(RULE not in (entry.rule for entry in group.findings) for group in answer.groups)


def test_a_place_that_lacks_something_does_not_get_it_by_ignoring() -> None:
    answer = checked(f"ignored: {{known: {{rule: {RULE}, reason: a new line comes in spring}}}}\n")
    assert answer.asked["desk"] == "fails"


def test_another_subject_is_not_ignored() -> None:
    answer = checked(f"ignored: {{known: {{rule: {RULE}, subject: sofa, reason: not in use}}}}\n")
    assert RULE in rules(answer)
    assert answer.odd == (("ignored.known", "matches no finding now: it can be taken out"),)


def test_it_counts_again_after_its_last_day() -> None:
    entry = f"ignored: {{known: {{rule: {RULE}, reason: until the line comes, until: '2026-03-31'}}}}\n"
    assert RULE not in rules(checked(entry, date(2026, 3, 31)))
    late = checked(entry, date(2026, 4, 1))
    assert RULE in rules(late)
    assert late.odd == (("ignored.known", "ended on 2026-03-31: counted again"),)


def test_a_rule_that_is_none_and_a_day_that_is_none_are_told_with_their_places() -> None:
    with pytest.raises(InputError) as told:
        checked(
            "ignored:\n"
            "  a: {rule: place-below-needs, reason: not now}\n"
            "  b: {rule: nothing-holds, reason: not now, until: '2026-02-30'}\n"
        )
    assert str(told.value).splitlines() == [
        'site.yaml:8:13: ignored.a.rule: there is no rule "place-below-needs"',
        '    Did you mean "place-below-need"? `advisor rules list` shows them all.',
        "site.yaml:9:52: ignored.b.until: 2026-02-30 is no day of the calendar",
        "    Write the last day as YYYY-MM-DD, or leave it out.",
    ]
