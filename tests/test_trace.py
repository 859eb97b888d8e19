"""Facts that know how they came about: unknown inputs, options, bands, assumptions."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from advisor.trace import (
    Assumed,
    Fact,
    Given,
    Looked,
    assumed,
    assumptions,
    derive,
    formula,
    formula_of,
    formulas,
    given,
    unknown,
    walk,
)
from advisor.values import Known, Options, Unknown, constant, from_cases


@formula(id="test.drop_v", unit="V", expr="I R", source="Ohm's law")
def drop_v(*, current_a: Any, resistance_ohm: Any) -> Any:
    return current_a * resistance_ohm


CURRENT = given("current_a", "A", 2.0, "site.yaml:3:5")
RESISTANCE = assumed("resistance_ohm", "ohm", 10.0, "wire: copper", "IEC 60028")
DRAWS = np.linspace(1.0, 3.0, 20)


def varying(key: str, cases: list[float] | Any, *, joint: bool = False) -> Fact:
    return Fact(key, "A", from_cases(np.array(cases), joint=joint), Looked("drawn"))


def test_derive_calls_the_formula_and_remembers_it() -> None:
    fact = derive("drop_v[run=a]", drop_v, current_a=CURRENT, resistance_ohm=RESISTANCE)
    assert fact.value == constant(20.0)
    assert (fact.key, fact.unit, fact.by) == ("drop_v[run=a]", "V", formula_of(drop_v))
    assert fact.inputs == (CURRENT, RESISTANCE)
    assert formula_of(drop_v).source == "Ohm's law"
    assert formula_of(drop_v) in formulas()


def test_a_formula_stays_a_plain_function() -> None:
    assert drop_v(current_a=2.0, resistance_ohm=3.0) == 6.0


def test_an_unknown_input_makes_an_unknown_output_that_names_it() -> None:
    gap = unknown("current_a", "A", "the current of run a")
    other = unknown("resistance_ohm", "ohm", "the wire of run a", "the current of run a")
    fact = derive("drop_v", drop_v, current_a=gap, resistance_ohm=other)
    assert fact.value == Unknown(("the current of run a", "the wire of run a"))
    assert not fact.known
    assert fact.unit == "V"
    with pytest.raises(TypeError, match="drop_v is not known"):
        _ = fact.raw


def test_one_input_that_varies_gives_the_band_of_its_ends() -> None:
    fact = derive("drop_v", drop_v, current_a=varying("i", [2.0, 1.2, 2.8, *DRAWS]), resistance_ohm=RESISTANCE)
    assert isinstance(fact.value, Known)
    assert (fact.value.low, fact.value.high, fact.value.joint) == (pytest.approx(12.0), pytest.approx(28.0), False)


def test_two_inputs_that_vary_give_the_band_of_the_draws() -> None:
    """Both ends at once would be 1.44 and 7.84; of ten draws 1 to 10 times 1 the 10 and 90 % points are 1.5 and 9.5."""
    first, second = varying("i", [2.0, 1.2, 2.8, *range(1, 11)]), varying("r", [2.0, 1.2, 2.8, *[1.0] * 10])
    fact = derive("drop_v", drop_v, current_a=first, resistance_ohm=second)
    assert isinstance(fact.value, Known)
    assert fact.value.joint
    assert (fact.value.centre, fact.value.low, fact.value.high) == (4.0, pytest.approx(1.5), pytest.approx(9.5))


def test_joint_is_handed_on() -> None:
    joint = varying("i", [2.0, 1.2, 2.8, *DRAWS], joint=True)
    fact = derive("drop_v", drop_v, current_a=joint, resistance_ohm=RESISTANCE)
    assert isinstance(fact.value, Known)
    assert fact.value.joint


def options(key: str, **answers: Any) -> Fact:
    return Fact(key, "A", Options(answers), Looked("left open"))


def test_an_input_with_options_gives_an_answer_for_each() -> None:
    open_ = options("i", thick=constant(1.0), thin=constant(2.0))
    fact = derive("drop_v", drop_v, current_a=open_, resistance_ohm=RESISTANCE)
    assert fact.value == Options({"thick": constant(10.0), "thin": constant(20.0)})


def test_options_of_one_name_move_together() -> None:
    first, second = options("i", a=constant(1.0), b=constant(2.0)), options("r", a=constant(10.0), b=constant(20.0))
    fact = derive("drop_v", drop_v, current_a=first, resistance_ohm=second)
    assert fact.value == Options({"a": constant(10.0), "b": constant(40.0)})


def test_an_option_without_an_answer_is_unknown_and_says_why() -> None:
    first, second = options("i", a=constant(1.0), b=Unknown(("the band",))), options("r", a=constant(10.0))
    value = derive("drop_v", drop_v, current_a=first, resistance_ohm=second).value
    assert isinstance(value, Options)
    assert value.answers["a"] == constant(10.0)
    gap = value.answers["b"]
    assert isinstance(gap, Unknown)
    assert "the band" in gap.missing


def test_an_unknown_input_goes_before_options() -> None:
    gap = unknown("r", "ohm", "the wire")
    fact = derive("drop_v", drop_v, current_a=options("i", a=constant(1.0)), resistance_ohm=gap)
    assert fact.value == Unknown(("the wire",))


def test_walk_gives_parents_before_inputs_and_opens_each_once() -> None:
    drop = derive("drop_v", drop_v, current_a=CURRENT, resistance_ohm=RESISTANCE)
    whole = Fact("share", "", constant(1.0), Looked("sum"), (drop, drop, CURRENT))
    assert [(depth, fact.key) for depth, fact in walk(whole)] == [
        (0, "share"),
        (1, "drop_v"),
        (2, "current_a"),
        (2, "resistance_ohm"),
        (1, "drop_v"),
        (1, "current_a"),
    ]


def test_assumptions_are_the_assumed_inputs_each_once() -> None:
    drop = derive("drop_v", drop_v, current_a=CURRENT, resistance_ohm=RESISTANCE)
    again = derive("drop_2_v", drop_v, current_a=assumed("i", "A", 1.0, "usual load", "x"), resistance_ohm=RESISTANCE)
    whole = Fact("share", "", constant(1.0), Looked("sum"), (drop, again))
    assert [fact.key for fact in assumptions(whole)] == ["resistance_ohm", "i"]
    assert assumptions(CURRENT) == []


def test_given_and_assumed_remember_where_from() -> None:
    assert CURRENT.by == Given("site.yaml:3:5")
    assert given("level_dbm", "dBm", -60.0, "site.yaml:9", measured=True).by == Given("site.yaml:9", measured=True)
    assert RESISTANCE.by == Assumed("wire: copper", "IEC 60028")
