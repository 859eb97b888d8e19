"""Keyed random terms: each has its own key, its distribution is exact, and pairs are what the catalogue declares."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.data import catalogue
from advisor.facts.draws import Z90, Draws
from advisor.values import CENTRE, FIRST_DRAW, GOOD, POOR

keys = st.lists(st.text(min_size=1, max_size=8), min_size=1, max_size=3)
COMMON = float(catalogue("ranges")["link"]["shadow_share_common"]["value"])


@given(keys, st.integers(1, 5))
def test_a_term_depends_on_its_key_and_the_seed_alone(key: list[str], seed: int) -> None:
    first, second = Draws(seed), Draws(seed)
    second.normal("another", "term")
    second.shadow("x", "y", "5", COMMON)
    assert np.array_equal(first.normal(*key), second.normal(*key))
    assert not np.array_equal(first.normal(*key), Draws(seed + 1).normal(*key))


@given(keys)
def test_every_term_is_the_standard_normal_distribution(key: list[str]) -> None:
    term = Draws(count=50).normal(*key)
    draws = term[FIRST_DRAW:]
    assert (term[CENTRE], term[POOR], term[GOOD]) == (0.0, -Z90, Z90)
    assert draws.mean() == pytest.approx(0.0, abs=1e-9)
    assert draws.std() == pytest.approx(1.0, abs=0.02)
    low, high = np.quantile(draws, (0.1, 0.9), method="hazen")
    assert (low, high) == (pytest.approx(-Z90, abs=0.003), pytest.approx(Z90, abs=0.003))


def test_ids_that_join_to_one_text_are_still_two_keys() -> None:
    assert not np.array_equal(Draws().normal("ab", "c"), Draws().normal("a", "bc"))


@given(st.text(max_size=8), st.text(max_size=8), st.sampled_from(["2.4", "5", "6"]))
def test_shadowing_belongs_to_the_unordered_pair(first: str, second: str, band: str) -> None:
    draws = Draws()
    assert np.array_equal(draws.shadow(first, second, band, COMMON), draws.shadow(second, first, band, COMMON))


PAIRS = [(f"places.p{one}", f"nodes.n{other}") for one, other in combinations(range(12), 2)]


def correlation(first: list[np.ndarray], second: list[np.ndarray]) -> float:
    return float(np.corrcoef(np.concatenate(first), np.concatenate(second))[0, 1])


def test_bands_of_one_pair_are_correlated_as_declared() -> None:
    draws = Draws(count=200)
    bands = [[draws.shadow(*ends, band, COMMON)[FIRST_DRAW:] for ends in PAIRS] for band in ("2.4", "5")]
    assert correlation(*bands) == pytest.approx(COMMON, abs=0.03)
    assert np.concatenate(bands[0]).std() == pytest.approx(1.0, abs=0.03)
    assert np.concatenate(bands[0]).mean() == pytest.approx(0.0, abs=1e-9)


def test_different_pairs_are_all_but_independent() -> None:
    draws = Draws(count=200)
    terms = [draws.shadow(*ends, "5", COMMON)[FIRST_DRAW:] for ends in PAIRS]
    assert correlation(terms[:-1], terms[1:]) == pytest.approx(0.0, abs=0.03)


def test_the_ends_of_shadowing_are_its_10_and_90_percent_points() -> None:
    term = Draws().shadow("a", "b", "5", COMMON)
    assert (term[CENTRE], term[POOR], term[GOOD]) == (0.0, -Z90, Z90)


def test_between_meets_its_three_points() -> None:
    more = Draws(count=50).between(16, 19, 20, "power", "box.r24", more_is_better=True)
    assert (more[CENTRE], more[POOR], more[GOOD]) == pytest.approx((19, 16, 20))
    low, high = np.quantile(more[FIRST_DRAW:], (0.1, 0.9), method="hazen")
    assert (low, high) == (pytest.approx(16, abs=0.01), pytest.approx(20, abs=0.01))
    assert np.median(more[FIRST_DRAW:]) == pytest.approx(19, abs=0.05)


def test_where_less_is_better_the_poor_end_is_the_high_one() -> None:
    less = Draws().between(0.02, 0.1, 0.35, "busy", more_is_better=False)
    assert (less[CENTRE], less[POOR], less[GOOD]) == pytest.approx((0.1, 0.35, 0.02))
