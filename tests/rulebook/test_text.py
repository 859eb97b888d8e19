"""The texts of rules: units, bands, and names from the air that stay data."""

from __future__ import annotations

import pytest

from advisor.rulebook.examples import run_examples
from advisor.rulebook.expression import reference
from advisor.rulebook.text import ParamsView, check_text, render
from advisor.values import Known, Options, Unknown, constant


def text(engine, source, **values):
    def find(path):
        ref = reference(path, "hop", engine.lookup)
        return ref, values[ref.quantity.text]

    params = engine.rule_from(engine.sample).body.params
    return render(source, {"params": ParamsView(params)}, find)


RATE = {"goodput_mbps.down.tcp": Known(12.4, 8.0, 15.0), "goodput_mbps.up.tcp": constant(7.0)}
CASES = [
    ("{{ goodput_mbps | mbps }}", RATE, "12 Mb/s"),
    ("{{ goodput_mbps | band }}", RATE, "12 (8–15) Mb/s"),
    ("{{ goodput_mbps.up | band }}", RATE, "7 Mb/s"),
    ("{{ goodput_mbps.up }} up", RATE, "7 up"),
    ("{{ level_dbm | dbm }}", {"level_dbm": constant(-67.25)}, "-67.2 dBm"),
    ("{{ level_dbm | band }}", {"level_dbm": Known(-67.0, -70.0, -61.5)}, "-67.0 (-70.0 to -61.5) dBm"),
    ("{{ margin_db | band }}", {"margin_db": Known(2.0, -1.0, 5.0)}, "2.0 (-1.0 to 5.0) dB"),
    ("{{ margin_db | db }}", {"margin_db": constant(-0.01)}, "0.0 dB"),
    ("{{ delay_ms | ms }}", {"delay_ms": constant(3.14)}, "3.1 ms"),
    ("{{ delay_ms | ms }}", {"delay_ms": Unknown(("a delay",))}, "unknown"),
    ("{{ delay_ms | band }}", {"delay_ms": Unknown(("a delay",))}, "unknown"),
    ("{{ delay_ms }}", {"delay_ms": Unknown(("a delay",))}, "unknown"),
    (
        "{% if delay_ms.known %}{{ delay_ms }}{% else %}not measured{% endif %}",
        {"delay_ms": Unknown(("a delay",))},
        "not measured",
    ),
    (
        "{{ delay_ms | ms }}",
        {"delay_ms": Options({"a": constant(1.0), "b": Unknown(())})},
        "1.0 or unknown ms (as the uplink runs)",
    ),
    ("{{ delay_ms | ms }}", {"delay_ms": Options({"a": constant(1.0), "b": constant(1.0)})}, "1.0 ms"),
    ("{{ depth | share }}", {"depth": Known(1.11, 0.8, 1.5)}, "111 (80–150) %"),
    (
        "{{ delay_ms | options }}",
        {"delay_ms": Options({"a": Known(2.0, 1.0, 3.0), "b": Unknown(("a delay",))})},
        "a: 2.0 (1.0–3.0) ms; b: not known: a delay",
    ),
    ("{{ fixed }} {{ medium }}", {"fixed": constant(True), "medium": constant("air")}, "yes air"),
    ("{{ medium | band }}", {"medium": Known("air", "air", "coax")}, "air (air to coax)"),
    ("{% if medium.value == 'air' %}by air{% endif %}", {"medium": constant("air")}, "by air"),
    ("{{ params.least_db | db }}", {}, "10 dB"),
    ("{{ 12.3 | mbps }} {{ 80 | percent }}", {}, "12.3 Mb/s 80 %"),
]


@pytest.mark.parametrize(("source", "values", "expected"), CASES)
def test_text(engine, source, values, expected):
    assert text(engine, source, **values) == expected


@pytest.mark.parametrize(
    "name",
    [
        "{{7*7}}<script>",
        "{% for x in () %}",
        "{# gone #}",
        "{{ params.__class__ }}",
        "\"'&<>",
        "{{",
        "%s %(x)s {0}",
    ],
)
def test_a_name_from_the_air_prints_as_it_is_written(engine, name):
    assert text(engine, "on {{ network_name }}", network_name=constant(name)) == f"on {name}"
    assert text(engine, "on {{ network_name | band }}", network_name=constant(name)) == f"on {name}"


CHECKS = [
    ("{{ margin_db | db }} {{ subject.name }} {{ verdict }} {{ chance | percent }}", None),
    ("{% for name in failing_options %}{{ name }}{% endfor %}", None),
    ("{% if margin_db.known %}{{ goodput_mbps.up.udp.value }}{% endif %}", None),
    ("{% if margin_db.known %}{{ marjin_db }}{% endif %}", "unknown fact marjin_db about hop"),
    ("{{ goodput_mbps.sideways }}", "unknown variant sideways of goodput_mbps"),
    ("{{ params.leest_db }}", "unknown parameter params.leest_db. Nearest: least_db"),
    ("{{ params }}", "unknown parameter params"),
    ("{{ margin_db | nofilter }}", "No filter named 'nofilter'"),
    ("{{ margin_db", "line 1: "),
    ("{{ range(9) }}", "unknown fact range"),
]


@pytest.mark.parametrize(("source", "expected"), CHECKS)
def test_check_text(engine, source, expected):
    found = check_text(source, "hop", engine.lookup, engine.rule_from(engine.sample).body.params)
    if expected is None:
        assert found == []
    else:
        assert len(found) == 1
        assert expected in found[0]


# the examples of a rule


def test_the_examples_of_the_sample_hold(engine):
    assert run_examples(engine.rule_from(engine.sample), engine.lookup) == []


MISMATCHES = [
    ("margin_db: 4}", "margin_db: 40}", "example 'weak': expected fail, got pass"),
    ("margin 4.0 dB,", "margin 5 dB,", "example 'weak': expected the message 'example-hop: margin 5 dB, wanted 10 dB'"),
    ("margin_db: 10}", "margin_db: 11}", "example 'at the limit': is marked as the limit, but no comparison has equal"),
    ("facts: {medium: ethernet}", "facts: {}", "example 'on a wire': expected not-applicable, got unknown"),
    ("why: A weak", "why: '{{ nothing }}' # A weak", "why: unknown fact nothing about hop"),
    ("| band }}", "| mbps }}", "a value in dB cannot be printed in Mb/s"),
]


@pytest.mark.parametrize(("old", "new", "expected"), MISMATCHES)
def test_an_example_that_does_not_hold_is_reported(engine, old, new, expected):
    found = run_examples(engine.rule_from(engine.sample.replace(old, new, 1)), engine.lookup)
    assert any(expected in line for line in found), found


def test_the_limit_of_a_need_is_its_wanted_value(engine):
    need = engine.sample.replace(
        "when: margin_db < params.least_db", "need: {value: margin_db, at_least: params.least_db}"
    )
    assert run_examples(engine.rule_from(need), engine.lookup) == []
    off = engine.rule_from(need.replace("margin_db: 10}", "margin_db: 10.5}"))
    assert [line for line in run_examples(off, engine.lookup) if "limit" in line]
