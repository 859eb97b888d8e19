"""The same odd sites through outages, fixes, the shortest way and the difference with nothing changed."""

from __future__ import annotations

import json
import math

import pytest

from advisor.advice.card import card_of
from advisor.advice.improve import improve
from advisor.advice.outages import outages
from advisor.advice.tries import fixes
from advisor.assess import assess
from advisor.compare.effects import Weighed, effects
from advisor.errors import InputError
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.report import improve_json, improve_text, outage_json, outage_text
from advisor.report.json_v1 import check_json
from advisor.report.tried_text import tried_lines
from advisor.site.load import load_text
from tests.odd_sites.test_odd_sites import SITES, numbers


@pytest.mark.parametrize("name", SITES)
def test_outages_of_an_odd_site(name: str) -> None:
    loaded = load_text(SITES[name], f"{name}.yaml")
    found = outages(open_book(loaded, Draws(1, 0)))
    assert list(outage_text.overview(loaded, found))
    content = json.loads(outage_json.outage_json(loaded, found))
    assert all(math.isfinite(number) for number in numbers(content))
    assert outage_json.outage_csv(found).count("\n") > 1


@pytest.mark.parametrize("name", SITES)
def test_fixes_and_the_shortest_way_of_an_odd_site(name: str) -> None:
    loaded = load_text(SITES[name], f"{name}.yaml")
    assessment = assess(loaded)
    tried = {fix.finding.identity: fix for fix in fixes(assessment, most=2)}
    assert json.loads(check_json(assessment, tried))
    assert all(isinstance(line, str) for fix in tried.values() for line in tried_lines(fix))
    try:
        found = improve(loaded, budget=3)
    except InputError as error:
        assert error.problems
        return
    card = card_of(found)
    assert list(improve_text.improvement(found, card))
    content = json.loads(improve_json.improve_json(found, card))
    assert all(math.isfinite(number) for number in numbers(content))
    assert improve_text.card_markdown(found, card)


@pytest.mark.parametrize("name", SITES)
def test_an_odd_site_against_itself(name: str) -> None:
    site = Weighed(load_text(SITES[name], f"{name}.yaml"))
    assert effects(site, site).moved == ()
