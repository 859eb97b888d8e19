"""Sites nobody should draw, but somebody will: each is computed whole, with finite numbers and valid JSON."""

from __future__ import annotations

import json
import math
from itertools import product
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from advisor.advice.causes import diagnose_place, trouble_of
from advisor.advice.rank import rank
from advisor.assess import assess
from advisor.errors import InputError
from advisor.facts import catalogue
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.facts.walks import course_of_walk, crossings
from advisor.report import text, walk_text
from advisor.report.calls_text import calls
from advisor.report.capacity_text import capacity
from advisor.report.json_v1 import capacity_json, check_json, output_schema
from advisor.report.rank_csv import rank_csv
from advisor.report.rank_json import rank_json
from advisor.report.rank_text import rank as rank_text
from advisor.report.walk_json import calls_json, walk_json
from advisor.site.load import load_text
from advisor.values import Known, Options

SITES = dict(
    part.split("\n", 1)
    for part in Path(__file__).with_name("sites.txt").read_text(encoding="utf-8").split("##### ")
    if part.strip()
)


def numbers(content: Any) -> list[float]:
    if isinstance(content, dict):
        return [number for value in content.values() for number in numbers(value)]
    if isinstance(content, list):
        return [number for value in content for number in numbers(value)]
    return [content] if isinstance(content, float) else []


@pytest.mark.parametrize("name", SITES)
def test_every_output_of_an_odd_site(name: str) -> None:
    loaded = load_text(SITES[name], f"{name}.yaml")
    assessment = assess(loaded)
    for of, output in (
        ("check", check_json(assessment)),
        ("capacity", capacity_json(assessment.book, loaded)),
    ):
        content = json.loads(output)
        jsonschema.validate(content, output_schema(of))
        assert all(math.isfinite(number) for number in numbers(content))
    assert list(text.check(assessment))
    assert list(capacity(assessment.book, loaded))


@pytest.mark.parametrize("name", SITES)
def test_layouts_of_an_odd_site(name: str) -> None:
    loaded = load_text(SITES[name], f"{name}.yaml")
    try:
        ranking = rank(loaded, budget=8)
    except InputError as error:
        assert "there is no place to judge a layout by" in str(error)
        assert not any(place.active != 0 for place in loaded.site.places.values())
        return
    content = json.loads(rank_json(ranking))
    assert all(math.isfinite(number) for number in numbers(content))
    assert ranking.entry(ranking.recommended).candidate.loaded.site
    assert list(rank_text(ranking))
    assert rank_csv(ranking).count("\n") == len(ranking.entries)


@pytest.mark.parametrize("name", SITES)
def test_calls_at_an_odd_site(name: str) -> None:
    loaded = load_text(SITES[name], f"{name}.yaml")
    book = open_book(loaded, Draws(1, 0))
    for walk in loaded.site.walks:
        course = course_of_walk(book, walk, 20)
        assert list(walk_text.walk(loaded, course, trouble_of(course), crossings(course)))
        assert all(math.isfinite(number) for number in numbers(json.loads(walk_json(loaded, [course]))))
    for place in list(loaded.site.places)[:2]:
        found = diagnose_place(loaded, book, place, draws=30)
        assert list(calls(loaded, [found]))
        assert all(math.isfinite(number) for number in numbers(json.loads(calls_json(loaded, [found]))))


@pytest.mark.parametrize("name", SITES)
def test_every_fact_of_an_odd_site(name: str) -> None:
    book = assess(load_text(SITES[name], f"{name}.yaml")).book
    for spec in catalogue.entries():
        for subject, chosen in product(book.subjects(spec.about), product(*spec.variants.values())):
            value = book.get(spec.name, subject, **dict(zip(spec.variants, chosen, strict=True))).value
            answers = value.answers.values() if isinstance(value, Options) else [value]
            for answer in answers:
                if isinstance(answer, Known) and isinstance(answer.centre, float):
                    assert math.isfinite(answer.centre)
                    if spec.unit == "Mb/s":
                        assert float(answer.low) >= 0.0
                        assert answer.low <= answer.centre <= answer.high
