"""What a condition answers: bands, three-valued logic, options."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.rulebook.evaluate import Judged, evaluate, resolve, scenarios
from advisor.values import Known, Options, Unknown, constant

U = Unknown(("a distance",))


def value(raw):
    """A short way to write values: number, (low, centre, high), {option: …} or an Unknown."""
    if isinstance(raw, dict):
        return Options({name: value(part) for name, part in raw.items()})
    if isinstance(raw, tuple):
        return Known(raw[1], raw[0], raw[2])
    return raw if isinstance(raw, Unknown) else constant(raw)


def answer(engine, text, **facts):
    found = engine.compiled(text)
    return evaluate(found, {ref.quantity: value(facts[ref.quantity.name]) for ref in found.references})


def number(engine, text, **facts):
    found = engine.compiled(text)
    return resolve(found.tree, {ref.quantity: value(facts[ref.quantity.name]) for ref in found.references})


YES, NO = Judged(True, True), Judged(False, True)
MAYBE_YES, MAYBE_NO = Judged(True, False), Judged(False, False)
OPEN = Judged(None, False, ("a distance",))

CASES = [
    # the answer at the centre, and whether the band allows another
    ("margin_db < params.least_db", {"margin_db": 5}, YES),
    ("margin_db < params.least_db", {"margin_db": 10}, NO),
    ("margin_db <= params.least_db", {"margin_db": 10}, YES),
    ("margin_db > params.least_db", {"margin_db": (9.0, 12.0, 15.0)}, MAYBE_YES),
    ("margin_db > params.least_db", {"margin_db": (5.0, 8.0, 15.0)}, MAYBE_NO),
    ("margin_db > params.least_db", {"margin_db": (10.1, 12.0, 15.0)}, YES),
    ("margin_db >= params.least_db", {"margin_db": (10.0, 12.0, 15.0)}, YES),
    ("0 < margin_db < params.least_db", {"margin_db": (-1.0, 5.0, 9.0)}, MAYBE_YES),
    ("0 < margin_db < params.least_db", {"margin_db": (1.0, 5.0, 9.0)}, YES),
    ("0 < margin_db < params.least_db", {"margin_db": 12}, NO),
    ("depth == 2", {"depth": 2}, YES),
    ("depth == 2", {"depth": (1.0, 2.0, 3.0)}, MAYBE_YES),
    ("depth == 2", {"depth": (3.0, 4.0, 5.0)}, NO),
    ("depth != 2", {"depth": (1.0, 1.0, 3.0)}, MAYBE_YES),
    ("depth in (1, 2)", {"depth": 2}, YES),
    ("depth in (1, 2)", {"depth": (2.0, 3.0, 4.0)}, MAYBE_NO),
    ("depth not in (1, 2)", {"depth": 3}, YES),
    ("medium == 'air'", {"medium": "air"}, YES),
    ("medium == 'air'", {"medium": ("coax", "air", "air")}, MAYBE_YES),
    ("medium in ('air', 'coax')", {"medium": ("coax", "air", "air")}, YES),
    ("medium in params.media", {"medium": "coax"}, NO),
    ("fixed == shared", {"fixed": True, "shared": False}, NO),
    ("fixed == shared", {"fixed": True, "shared": (False, True, True)}, MAYBE_YES),
    ("not fixed", {"fixed": (False, False, True)}, MAYBE_YES),
    # arithmetic by intervals, and free of noise
    ("level_dbm - floor_dbm < params.least_db", {"level_dbm": -80.0, "floor_dbm": (-95.0, -92.0, -89.0)}, MAYBE_NO),
    ("level_dbm + margin_db == params.low_dbm", {"level_dbm": -70.3, "margin_db": 0.3}, YES),
    ("offered_mbps / goodput_mbps > 0.8", {"offered_mbps": 30, "goodput_mbps": (30.0, 33.0, 36.0)}, YES),
    ("offered_mbps / goodput_mbps > 0.8", {"offered_mbps": 30, "goodput_mbps": (30.0, 33.0, 40.0)}, MAYBE_YES),
    # rounded to the declared digits first: 9.96 dB has one digit, 20.4 Mb/s none
    ("margin_db < params.least_db", {"margin_db": 9.96}, NO),
    ("goodput_mbps > params.least_mbps", {"goodput_mbps": 20.4}, NO),
    ("goodput_mbps > params.least_mbps", {"goodput_mbps": (19.6, 21.0, 22.0)}, MAYBE_YES),
    # Kleene: an unknown is ignored only when another part decides with certainty
    ("fixed and margin_db > 0", {"fixed": False, "margin_db": U}, NO),
    ("margin_db > 0 and fixed", {"fixed": False, "margin_db": U}, NO),
    ("fixed and margin_db > 0", {"fixed": True, "margin_db": U}, OPEN),
    ("fixed or margin_db > 0", {"fixed": True, "margin_db": U}, YES),
    ("margin_db > 0 or fixed", {"fixed": True, "margin_db": U}, YES),
    ("fixed or margin_db > 0", {"fixed": False, "margin_db": U}, OPEN),
    ("fixed and margin_db > 0", {"fixed": (False, False, True), "margin_db": U}, OPEN),
    ("not (margin_db > 0)", {"margin_db": U}, OPEN),
    ("medium in ('air', 'coax')", {"medium": U}, OPEN),
    ("max(margin_db, 0) > 0", {"margin_db": U}, OPEN),
    ("0 < margin_db < params.least_db", {"margin_db": U}, OPEN),
    # options
    ("margin_db > 0", {"margin_db": {"a": 1, "b": 2}}, YES),
    ("margin_db > 0", {"margin_db": {"a": -1, "b": -2}}, NO),
    ("margin_db > 0", {"margin_db": {"a": -1, "b": 2}}, Judged(True, False, (), ("b",))),
    ("margin_db > 0", {"margin_db": {"a": 1, "b": (-1.0, 2.0, 3.0)}}, MAYBE_YES),
    ("margin_db > 0", {"margin_db": {"a": 1, "b": U}}, Judged(True, False, ("a distance",), ("a",))),
    ("margin_db > 0", {"margin_db": {"a": -1, "b": U}}, OPEN),
    ("margin_db > 0", {"margin_db": {"a": -1, "b": (-3.0, -2.0, 1.0)}}, Judged(False, False, (), ("b",))),
    ("fixed or margin_db > 0", {"fixed": True, "margin_db": {"a": -1, "b": U}}, YES),
    # options of one choice move together, others are combined
    ("margin_db > 0 and fixed", {"margin_db": {"a": 1, "b": -1}, "fixed": {"a": False, "b": True}}, NO),
    (
        "margin_db > 0 and fixed",
        {"margin_db": {"a": 1, "b": -1}, "fixed": {"c": False, "d": True}},
        Judged(True, False, (), ("a + d",)),
    ),
]


@pytest.mark.parametrize(("text", "facts", "expected"), CASES)
def test_answer(engine, text, facts, expected):
    assert answer(engine, text, **facts) == expected


NUMBERS = [
    ("level_dbm - floor_dbm", {"level_dbm": (-72.0, -70.0, -68.0), "floor_dbm": (-96.0, -95.0, -94.0)}, (22, 25, 28)),
    ("-margin_db", {"margin_db": (1.0, 2.0, 4.0)}, (-4, -2, -1)),
    ("depth * margin_db", {"depth": (1.0, 2.0, 3.0), "margin_db": (-1.0, 1.0, 2.0)}, (-3, 2, 6)),
    ("margin_db / depth", {"depth": (1.0, 2.0, 4.0), "margin_db": (-4.0, 1.0, 8.0)}, (-4, 0.5, 8)),
    ("abs(margin_db)", {"margin_db": (-3.0, 1.0, 2.0)}, (0, 1, 3)),
    ("abs(margin_db)", {"margin_db": (-3.0, -2.0, -1.0)}, (1, 2, 3)),
    ("min(margin_db, params.least_db)", {"margin_db": (5.0, 12.0, 15.0)}, (5, 10, 10)),
    ("max(0, margin_db)", {"margin_db": (-5.0, -1.0, 2.0)}, (0, 0, 2)),
]


@pytest.mark.parametrize(("text", "facts", "expected"), NUMBERS)
def test_interval(engine, text, facts, expected):
    found = number(engine, text, **facts)
    assert (found.low, found.centre, found.high) == expected


def test_division_by_a_band_that_holds_zero_is_unknown(engine):
    found = answer(engine, "offered_mbps / goodput_mbps > 0.8", offered_mbps=1, goodput_mbps=(0.0, 5.0, 9.0))
    assert found == Judged(None, False, ("a value of goodput_mbps that cannot be zero",))


def test_infinite_values_that_cancel_are_unknown(engine):
    found = answer(engine, "level_dbm - floor_dbm > 0", level_dbm=-math.inf, floor_dbm=-math.inf)
    assert found.truth is None


@pytest.mark.parametrize(
    ("text", "facts"),
    [
        ("margin_db > 0", {"margin_db": math.nan}),
        ("margin_db > 0", {"margin_db": "strong"}),
        ("medium == 'air'", {"medium": 1.0}),
        ("fixed", {"fixed": "yes"}),
    ],
)
def test_a_value_that_breaks_its_declaration_is_an_error(engine, text, facts):
    with pytest.raises(ValueError, match="is declared a"):
        answer(engine, text, **facts)


def test_too_many_combinations_are_unknown(engine):
    text = "margin_db > 0 or depth > 0 or fixed"
    facts = {
        name: {f"{name}{i}": raw for i in range(5)} for name, raw in (("margin_db", 1), ("depth", 1), ("fixed", True))
    }
    assert answer(engine, text, **facts).truth is None


def test_an_option_without_an_answer_is_unknown(engine):
    found = engine.compiled("margin_db > 0 and depth > 0")
    first, second = (ref.quantity for ref in found.references)
    ways = scenarios({first: value({"a": 1, "b": 1}), second: value({"a": 1})})
    assert [(name, chosen[second]) for name, chosen in ways] == [
        ("a", constant(1)),
        ("b", Unknown(("no answer for option b",))),
    ]


# Laws of Kleene's strong three-valued logic (S. C. Kleene, Introduction to Metamathematics, 1952, section 64).
booleans = st.sampled_from(
    [constant(True), constant(False), Known(True, False, True), Known(False, False, True), Unknown(("a",))]
)


@given(first=booleans, second=booleans)
@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("fixed and shared", "shared and fixed"),
        ("fixed or shared", "shared or fixed"),
        ("not (fixed and shared)", "not fixed or not shared"),
        ("not (fixed or shared)", "not fixed and not shared"),
        ("not not fixed", "fixed"),
        ("fixed and fixed", "fixed"),
        ("fixed or False", "fixed"),
        ("fixed and True", "fixed"),
    ],
)
def test_kleene_laws(engine, one, other, first, second):
    facts = {"fixed": first, "shared": second}
    left, right = (
        evaluate(found, {ref.quantity: facts[ref.quantity.name] for ref in found.references})
        for found in (engine.compiled(one), engine.compiled(other))
    )
    assert left == right


intervals = st.lists(st.integers(-40, 40), min_size=3, max_size=3).map(sorted).map(lambda t: tuple(float(x) for x in t))
conditions = st.sampled_from(
    [
        "margin_db < params.least_db",
        "margin_db / 4 + 0 >= 0",
        "depth * margin_db > 0",
        "abs(margin_db) <= params.least_db",
        "margin_db / depth > 0",
        "min(margin_db, params.least_db) > 0",
        "depth == 2 or margin_db > 0",
        "not (margin_db > 0 and depth > 1)",
        "0 < margin_db < params.least_db",
        "max(margin_db, -margin_db) * depth < params.least_db",
        "depth in (1, 2, 3) and margin_db != 0",
    ]
)


@given(text=conditions, margin=intervals, depth=intervals)
def test_certain_means_that_every_corner_agrees(engine, text, margin, depth):
    whole = answer(engine, text, margin_db=margin, depth=depth)
    if not whole.certain:
        return
    for m, d in itertools.product(margin, depth):
        corner = answer(engine, text, margin_db=m, depth=d)
        assert corner == whole
