"""Summing up cases: centre, ends, draws, and the chance that a value reaches a limit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.values import Known, chance_at_least, constant, from_cases

DRAWS = [float(number) for number in range(1, 11)]


def test_one_level_decides_the_ends_are_the_band() -> None:
    known = from_cases(np.array([5.0, 2.0, 9.0, *DRAWS]))
    assert (known.centre, known.low, known.high, known.joint) == (5.0, 2.0, 9.0, False)


def test_the_ends_may_stand_either_way_round() -> None:
    known = from_cases(np.array([5.0, 9.0, 2.0]))
    assert (known.low, known.high) == (2.0, 9.0)


def test_several_levels_decide_the_draws_are_the_band() -> None:
    """Of ten evenly spread draws the 10 % point lies midway between the first and the second."""
    known = from_cases(np.array([5.0, -50.0, 90.0, *DRAWS]), joint=True)
    assert (known.low, known.high) == (pytest.approx(1.5), pytest.approx(9.5))


def test_joint_without_draws_takes_the_ends() -> None:
    known = from_cases(np.array([5.0, 2.0, 9.0]), joint=True)
    assert (known.low, known.high) == (2.0, 9.0)


@given(st.lists(st.floats(-1e6, 1e6), min_size=3, max_size=30), st.booleans())
def test_the_centre_always_lies_within_the_band(values: list[float], joint: bool) -> None:
    known = from_cases(np.array(values), joint=joint)
    assert known.low <= known.centre <= known.high


def test_scalars_are_constants() -> None:
    for value in (3.5, True, "ax", np.float64(3.5), np.array(3.5), np.bool_(True)):
        known = from_cases(value)
        assert known.certain
        assert known.cases is None
        assert known.raw == value
    assert from_cases(np.bool_(True)).centre is True


def test_yes_or_no_at_centre_and_ends() -> None:
    known = from_cases(np.array([True, False, True, True, True]))
    assert (known.centre, known.low, known.high) == (True, False, True)
    assert not known.certain


@pytest.mark.parametrize(
    ("centre", "yes", "low", "high"),
    [
        (True, 10, True, True),
        (True, 9, True, True),
        (True, 8, False, True),
        (False, 1, False, False),
        (False, 2, False, True),
    ],
)
def test_yes_or_no_from_draws(centre: bool, yes: int, low: bool, high: bool) -> None:
    """Certain when at least nine draws in ten agree with the centre."""
    known = from_cases(np.array([centre, False, True] + [True] * yes + [False] * (10 - yes)), joint=True)
    assert (known.low, known.high) == (low, high)


def test_names_at_centre_and_ends() -> None:
    known = from_cases(np.array(["a", "b", "a", "a"], dtype=object))
    assert (known.centre, known.low, known.high) == ("a", "b", "a")


def test_chance_is_counted_over_the_draws() -> None:
    known = from_cases(np.array([5.0, 2.0, 9.0, *DRAWS]))
    assert chance_at_least(known, 1.0) == 1.0
    assert chance_at_least(known, 8.0) == pytest.approx(0.3)
    assert chance_at_least(known, 10.5) == 0.0


@pytest.mark.parametrize(("threshold", "chance"), [(10.0, 0.9), (20.0, 0.5), (40.0, 0.1)])
def test_chance_at_the_three_points(threshold: float, chance: float) -> None:
    assert chance_at_least(Known(20.0, 10.0, 40.0), threshold) == pytest.approx(chance)


def test_chance_of_a_constant() -> None:
    assert chance_at_least(constant(20.0), 20.0) == 1.0
    assert chance_at_least(constant(20.0), 20.1) == 0.0


@given(st.floats(0, 50), st.floats(0, 50))
def test_chance_falls_with_the_threshold(first: float, second: float) -> None:
    known = Known(20.0, 10.0, 40.0)
    low, high = sorted((first, second))
    assert chance_at_least(known, low) >= chance_at_least(known, high)


@pytest.mark.parametrize(("threshold", "chance"), [(15.0, 0.7), (30.0, 0.3), (9.0, 0.9), (41.0, 0.1)])
def test_chance_between_the_points_runs_straight_and_beyond_them_stays(threshold: float, chance: float) -> None:
    assert chance_at_least(Known(20.0, 10.0, 40.0), threshold) == pytest.approx(chance)
