"""Judging: verdicts, levels, needs, options, errors that name the rule and the subject."""

from __future__ import annotations

import numpy as np
import pytest

from advisor.errors import FactError, RuleError
from advisor.rulebook.judge import Finding, judge, judge_all
from advisor.subjects import hop
from advisor.trace import Assumed, Fact, Given
from advisor.values import Known, Options, Unknown, constant, from_cases

STAIR = hop("stair")


def getter(**values):
    """A `get` over plain values; a fact not given is unknown; an exception is raised."""

    def get(name, **variant):
        raw = values.get(name, Unknown((f"{name} of the hop",)))
        if isinstance(raw, Exception):
            raise raw
        if isinstance(raw, Fact):
            return raw
        if isinstance(raw, dict):
            raw = Options(
                {key: value if isinstance(value, Known | Unknown) else constant(value) for key, value in raw.items()}
            )
        value = raw if isinstance(raw, Known | Options | Unknown) else constant(raw)
        return Fact(name, "", value, Given("site.yaml:3:5"))

    return get


def found(rule, **values):
    return judge(rule, STAIR, getter(**values))


def verdict(result):
    return result.verdict if isinstance(result, Finding) else result


AIR, MAYBE_AIR, MAYBE_WIRE = "air", Known("air", "coax", "air"), Known("coax", "coax", "air")
WEAK, STRONG, NEAR = 4.0, 20.0, Known(12.0, 8.0, 16.0)
NONE = Unknown(("a distance",))

VERDICTS = [
    (AIR, WEAK, "fail"),
    (AIR, STRONG, "pass"),
    (AIR, NEAR, "at-risk"),
    (AIR, NONE, "unknown"),
    ("coax", WEAK, "not-applicable"),
    ("coax", NONE, "not-applicable"),
    (MAYBE_AIR, WEAK, "at-risk"),
    (MAYBE_AIR, STRONG, "pass"),
    (MAYBE_AIR, NEAR, "at-risk"),
    (MAYBE_AIR, NONE, "unknown"),
    (MAYBE_WIRE, WEAK, "at-risk"),
    (MAYBE_WIRE, STRONG, "pass"),
    (NONE, WEAK, "unknown"),
    (NONE, STRONG, "pass"),
    (NONE, NEAR, "unknown"),
    (NONE, NONE, "unknown"),
    # left to the equipment
    (AIR, {"a": WEAK, "b": 5.0}, "fail"),
    (AIR, {"a": WEAK, "b": STRONG}, "at-risk"),
    (AIR, {"a": STRONG, "b": NEAR}, "at-risk"),
    (AIR, {"a": STRONG, "b": NONE}, "unknown"),
    (AIR, {"a": WEAK, "b": NONE}, "at-risk"),
    (AIR, {"a": STRONG, "b": 30.0}, "pass"),
    ({"a": "air", "b": "coax"}, STRONG, "pass"),
    ({"a": "air", "b": "coax"}, WEAK, "at-risk"),
    ({"a": "air", "b": "coax"}, {"a": STRONG, "b": WEAK}, "pass"),
]


@pytest.mark.parametrize(("medium", "margin", "expected"), VERDICTS)
def test_verdict(engine, medium, margin, expected):
    assert verdict(found(engine.rule_from(engine.sample), medium=medium, margin_db=margin)) == expected


def test_a_finding_says_it_all(engine):
    result = found(engine.rule_from(engine.sample), medium=AIR, margin_db=WEAK, cause="hop=hall")
    assert (result.identity, result.level, result.effective_level) == ("weak-hop[hop=stair]", "warning", "warning")
    assert result.message == "stair: margin 4.0 dB, wanted 10 dB"
    assert result.do == ("Move stair nearer to its parent.", "Or give it a wire.")
    assert (result.cause, result.cause_rank, result.confidence) == ("hop=hall", 50, "high")
    assert [fact.key for fact in result.facts] == ["medium", "margin_db", "cause"]


def test_at_risk_counts_one_level_lower_and_shows_the_band(engine):
    result = found(engine.rule_from(engine.sample), medium=AIR, margin_db=NEAR)
    assert (result.level, result.effective_level) == ("warning", "note")
    assert result.message == "stair: margin 12.0 (8.0–16.0) dB, wanted 10 dB"
    worst = engine.rule_from(engine.sample.replace("level: warning", "level: error"))
    assert found(worst, medium=AIR, margin_db=NEAR).effective_level == "warning"
    least = engine.rule_from(engine.sample.replace("level: warning", "level: note"))
    assert found(least, medium=AIR, margin_db=NEAR).effective_level == "note"


def test_unknown_names_what_is_missing(engine):
    result = found(engine.rule_from(engine.sample), medium=AIR, margin_db=NONE)
    assert (result.missing, result.message, result.do) == (("a distance",), "The uplink is weak", ())
    assert found(engine.rule_from(engine.sample), medium=NONE).missing == ("a distance", "margin_db of the hop")


def test_options_that_fail_are_named(engine):
    result = found(engine.rule_from(engine.sample), medium=AIR, margin_db={"36": WEAK, "52": STRONG, "100": NEAR})
    assert result.options == ("36", "100")
    assert result.message == "stair: margin 4.0, 20.0 or 12.0 dB (as the uplink runs), wanted 10 dB"


def test_confidence_drops_when_a_deciding_fact_is_assumed(engine):
    assumed = Fact("power", "dBm", constant(20.0), Assumed("power", "common practice, no source"))
    margin = Fact("margin_db", "dB", constant(WEAK), Given("x"), (assumed,))
    rule = engine.rule_from(engine.sample)
    assert found(rule, medium=AIR, margin_db=margin).confidence == "medium"
    low = engine.rule_from(engine.sample.replace("confidence: high", "confidence: low"))
    assert found(low, medium=AIR, margin_db=margin).confidence == "low"


def test_where_it_does_not_apply_no_further_fact_is_read(engine):
    assert found(engine.rule_from(engine.sample), medium="coax", margin_db=ValueError("read")) == "not-applicable"


def test_numbers_are_rounded_before_they_are_compared(engine):
    rule = engine.rule_from(engine.sample)
    assert found(rule, medium=AIR, margin_db=9.96) == "pass"
    assert found(rule, medium=AIR, margin_db=Known(12.0, 9.96, 14.0)) == "pass"


# needs


def need_rule(engine, value="margin_db", at_least="params.least_db"):
    text = engine.sample.replace("when: margin_db < params.least_db", f"need: {{value: {value}, at_least: {at_least}}}")
    return engine.rule_from(text.replace("wanted {{ params.least_db | db }}", "met with {{ chance | percent }}"))


def draws(share_met):
    """A row of cases whose draws reach 10 dB in this share."""
    met = round(100 * share_met)
    return from_cases(np.array([11.0, 8.0, 14.0] + [12.0] * met + [7.0] * (100 - met)), joint=True)


NEEDS = [
    (20.0, "pass", None),
    (10.0, "pass", None),
    (9.0, "fail", 0.0),
    (Known(12.0, 10.0, 14.0), "pass", None),  # the 10 % point stands at the limit: met in 90 %
    (Known(12.0, 9.9, 14.0), "at-risk", 0.881),  # 0.5 + 0.4 * 2 / 2.1
    (Known(10.0, 8.0, 12.0), "at-risk", 0.5),
    (Known(9.9, 8.0, 12.0), "fail", 0.481),  # 0.5 - 0.4 * 0.1 / 2.1
    (draws(0.9), "pass", None),
    (draws(0.89), "at-risk", 0.89),
    (draws(0.5), "at-risk", 0.5),
    (draws(0.49), "fail", 0.49),
    (NONE, "unknown", None),
    ({"a": 20.0, "b": draws(0.7)}, "at-risk", 0.7),
    ({"a": 1.0, "b": 2.0}, "fail", 0.0),
]


@pytest.mark.parametrize(("margin", "expected", "probability"), NEEDS)
def test_need(engine, margin, expected, probability):
    result = found(need_rule(engine), medium=AIR, margin_db=margin)
    assert verdict(result) == expected
    if isinstance(result, Finding):
        assert result.probability == probability


def test_need_prints_its_chance(engine):
    result = found(need_rule(engine), medium=AIR, margin_db=draws(0.7))
    assert result.message.endswith("met with 70 %")


def test_need_between_two_uncertain_numbers_compares_draw_by_draw(engine):
    levels = np.array([-70.0, -75.0, -65.0, *np.linspace(-80, -60, 200)])
    rule = need_rule(engine, "level_dbm - floor_dbm", "margin_db")
    same = {"level_dbm": from_cases(levels), "floor_dbm": from_cases(levels - 12), "margin_db": 12.0}
    assert found(rule, medium=AIR, **same) == "pass"  # the same draw on both sides: always exactly 12 dB
    result = found(rule, medium=AIR, **(same | {"floor_dbm": -82.0}))
    assert result.verdict == "at-risk"
    assert result.probability == 0.5


# errors are never swallowed


@pytest.mark.parametrize("raised", [ZeroDivisionError("x"), FactError("margin_db", "no such link"), KeyError("r5")])
def test_a_fact_that_raises_names_rule_and_subject(engine, raised):
    with pytest.raises(RuleError, match=r"rule weak-hop on hop=stair: fact margin_db: ") as caught:
        found(engine.rule_from(engine.sample), medium=AIR, margin_db=raised)
    assert (caught.value.rule, caught.value.subject) == ("weak-hop", "hop=stair")


@pytest.mark.parametrize(
    ("message", "what"),
    [
        ("{{ nowhere }}", "message: ExpressionError: column 1: unknown fact nowhere"),
        ("{{ margin_db | mbps }}", "message: TypeError: a value in dB cannot be printed in Mb/s"),
        ("{{ margin_db.up }}", "unknown variant up"),
        ("{{ params.least }}", "UndefinedError"),
        ("{{ margin_db.__class__ }}", "SecurityError"),
        ("{{ subject.__class__.__mro__ }}", "SecurityError"),
        ("{{ ''.__class__ }}", "SecurityError"),
        ("{{ range(9) }}", "SecurityError: .* is not safely callable"),
        ("{{ margin_db | nofilter }}", "TemplateAssertionError"),
        ("{% for %}", "TemplateSyntaxError"),
    ],
)
def test_a_text_that_fails_names_rule_and_subject(engine, message, what):
    text = "\n".join(
        f"message: '{message.replace(chr(39), chr(39) * 2)}'" if line.startswith("message:") else line
        for line in engine.sample.splitlines()
    )
    with pytest.raises(RuleError, match=f"rule weak-hop on hop=stair: .*({what})"):
        found(engine.rule_from(text), medium=AIR, margin_db=WEAK)


def test_a_cause_that_is_no_subject_is_an_error(engine):
    with pytest.raises(RuleError, match="'the hall' is not the key of a subject"):
        found(engine.rule_from(engine.sample), medium=AIR, margin_db=WEAK, cause="the hall")


def test_a_value_that_breaks_its_declaration_names_rule_and_subject(engine):
    with pytest.raises(RuleError, match="on hop=stair: ValueError: margin_db is declared a number"):
        found(engine.rule_from(engine.sample), medium=AIR, margin_db=float("nan"))


# all rules over all subjects


def test_judge_all(engine):
    first = engine.rule_from(engine.sample)
    text = engine.sample.replace("id: weak-hop", "id: a-hop").replace("level: warning", "level: error")
    second = engine.rule_from(text, "a-hop")
    margins = {"stair": WEAK, "desk": NEAR, "hall": STRONG, "yard": NONE, "wire": WEAK}

    def get(subject, name, variant):
        medium = "coax" if subject.ids == ("wire",) else "air"
        return getter(medium=medium, margin_db=margins[subject.ids[0]])(name, **variant)

    def where(subject, rule):
        return f"site.yaml:{len(subject.ids[0])}:1"

    def run(rules, names):
        return judge_all(rules, lambda kind: [hop(name) for name in names] if kind == "hop" else [], get, where)

    result = run([first, second], margins)
    assert [(f.effective_level, f.identity) for f in result.findings] == [
        ("error", "a-hop[hop=stair]"),
        ("warning", "a-hop[hop=desk]"),
        ("warning", "weak-hop[hop=stair]"),
        ("note", "weak-hop[hop=desk]"),
    ]
    assert [f.identity for f in result.unknowns] == ["a-hop[hop=yard]", "weak-hop[hop=yard]"]
    assert result.counts == {"fail": 2, "at-risk": 2, "unknown": 2, "pass": 2, "not-applicable": 2}
    assert result.findings[0].position == "site.yaml:5:1"
    assert run([second, first], list(reversed(margins))) == result


def test_a_position_that_fails_is_an_error(engine):
    with pytest.raises(RuleError, match="position: KeyError"):
        judge_all(
            [engine.rule_from(engine.sample)],
            lambda kind: [STAIR],
            lambda subject, name, variant: getter(medium=AIR, margin_db=WEAK)(name, **variant),
            lambda subject, rule: {}["x"],
        )
