"""Every fact of the catalogue, on every example profile, for every subject and variant."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest

from advisor.facts import catalogue
from advisor.facts.book import Book
from advisor.facts.catalogue import FactSpec
from advisor.facts.explain import movers
from advisor.site.load import load_site
from advisor.subjects import KINDS, Subject
from advisor.trace import Fact, Formula, formulas, walk
from advisor.values import Known, Options, Unknown, Value

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.yaml"))
SUFFIXES = {
    "dbm": "dBm",
    "db": "dB",
    "dbi": "dBi",
    "mhz": "MHz",
    "m": "m",
    "mbps": "Mb/s",
    "ms": "ms",
    "us": "us",
    "s": "s",
    "percent": "%",
    "share": "",
    "ratio": "",
    "m2": "W/m2",
    "min": "min",
}
"""What the last part of a name says about the unit."""
TYPES = {"number": (int, float), "boolean": (bool,), "class": (str,)}


def every_fact(book: Book) -> Iterator[tuple[FactSpec, Subject, dict[str, str], Fact]]:
    for kind in KINDS:
        for subject in book.subjects(kind):
            for spec in catalogue.entries(kind):
                for choice in product(*spec.variants.values()):
                    variant = dict(zip(spec.variants, choice, strict=True))
                    yield spec, subject, variant, book.get(spec.name, subject, **variant)


def answers(value: Value) -> list[Known | Unknown]:
    return list(value.answers.values()) if isinstance(value, Options) else [value]


@pytest.fixture(scope="module", params=PROFILES, ids=lambda path: path.stem)
def book(request: pytest.FixtureRequest) -> Book:
    return Book(load_site(request.param))


def test_profiles_are_there() -> None:
    assert len(PROFILES) >= 3


def test_every_fact_computes_with_its_unit_key_and_type(book: Book) -> None:
    count = 0
    for spec, subject, variant, fact in every_fact(book):
        key = spec.key(subject, **variant)
        assert fact.key == key
        assert fact.unit == spec.unit, key
        for answer in answers(fact.value):
            if isinstance(answer, Unknown):
                assert answer.missing, key
                assert all(answer.missing), key
                continue
            for end in (answer.centre, answer.low, answer.high):
                assert isinstance(end, TYPES[spec.type]), key
                if spec.type == "number":
                    assert math.isfinite(float(end)), key
            if spec.type == "number":
                assert answer.low <= answer.centre <= answer.high, key
        count += 1
    assert count > 150


def test_shares_and_speeds_lie_where_they_can(book: Book) -> None:
    for spec, subject, variant, fact in every_fact(book):
        for answer in answers(fact.value):
            if isinstance(answer, Known) and spec.unit in ("Mb/s", "MHz", "m"):
                assert float(answer.low) >= 0.0, spec.key(subject, **variant)
            if isinstance(answer, Known) and spec.name in ("busy_share", "channel_overlap"):
                assert 0.0 <= float(answer.low) <= float(answer.high) <= 1.0, spec.key(subject, **variant)


def test_the_tree_of_every_fact_can_be_walked(book: Book) -> None:
    for spec, subject, variant, fact in every_fact(book):
        for depth, entry in walk(fact):
            assert depth < 30, spec.key(subject, **variant)
            assert entry.key
        assert all(0.0 < mover.share <= 1.0 + 1e-9 for mover in movers(fact))


def test_formulas_give_the_unit_they_declare(book: Book) -> None:
    for _, _, _, fact in every_fact(book):
        for _, entry in walk(fact):
            if isinstance(entry.by, Formula) and entry.inputs:
                assert entry.unit == entry.by.unit, entry.key


@pytest.mark.parametrize("spec", catalogue.entries(), ids=lambda spec: f"{spec.about}-{spec.name}")
def test_a_name_ends_in_its_unit(spec: FactSpec) -> None:
    suffix = spec.name.rpartition("_")[2]
    if spec.type != "number":
        assert suffix not in set(SUFFIXES) - {"m", "s"} or spec.unit == ""
    elif suffix in SUFFIXES:
        assert spec.unit == SUFFIXES[suffix]
    else:
        assert spec.unit == ""
    assert spec.meaning
    assert not spec.meaning.endswith(".")


def test_every_formula_has_a_source_an_expression_and_the_unit_of_its_name() -> None:
    for entry in formulas():
        assert entry.source, entry.id
        assert entry.expr, entry.id
        suffix = entry.id.rpartition("_")[2]
        if suffix in SUFFIXES:
            assert entry.unit == SUFFIXES[suffix], entry.id
