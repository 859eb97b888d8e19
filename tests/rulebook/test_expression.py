"""What a condition may say: syntax, names, types and units. One line each."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.rulebook.expression import ExpressionError

ALLOWED = [
    ("margin_db < params.least_db", "boolean", ""),
    ("margin_db < 0", "boolean", ""),
    ("0 <= margin_db < params.least_db", "boolean", ""),
    ("level_dbm - floor_dbm", "number", "dB"),
    ("level_dbm + margin_db", "number", "dBm"),
    ("margin_db + level_dbm", "number", "dBm"),
    ("level_dbm + antenna_dbi - margin_db", "number", "dBm"),
    ("-margin_db", "number", "dB"),
    ("2 * goodput_mbps", "number", "Mb/s"),
    ("goodput_mbps / 2", "number", "Mb/s"),
    ("offered_mbps / goodput_mbps", "number", ""),
    ("offered_mbps / goodput_mbps > 0.8", "boolean", ""),
    ("offered_mbps / goodput_mbps > params.ratio", "boolean", ""),
    ("goodput_mbps.up.udp + 0", "number", "Mb/s"),
    ("goodput_mbps.udp.up > params.least_mbps", "boolean", ""),
    ("queue_ms.best_effort > params.late_ms", "boolean", ""),
    ("mixed.x.z > 1", "boolean", ""),
    ("min(goodput_mbps.up, goodput_mbps.down, params.least_mbps)", "number", "Mb/s"),
    ("max(0, margin_db)", "number", "dB"),
    ("abs(level_dbm - params.low_dbm) < params.least_db", "boolean", ""),
    ("fixed and not shared or depth > 2", "boolean", ""),
    ("fixed == shared", "boolean", ""),
    ("fixed != True", "boolean", ""),
    ("medium == 'air'", "boolean", ""),
    ("medium in ('air', 'powerline')", "boolean", ""),
    ("medium not in ['air']", "boolean", ""),
    ("medium in params.media", "boolean", ""),
    ("medium == params.medium", "boolean", ""),
    ("depth in (1, 2, 3)", "boolean", ""),
    ("margin_db <\n  params.least_db", "boolean", ""),
]


@pytest.mark.parametrize(("text", "type", "unit"), ALLOWED)
def test_allowed(engine, text, type, unit):
    found = engine.compiled(text)
    assert (found.type, found.unit) == (type, unit)


REFUSED = [
    # syntax
    ("", 1, "empty"),
    ("margin_db <", 12, "cannot be read"),
    ("margin_db < 0; fixed", 14, "cannot be read"),
    ("1and fixed", 1, "cannot be read"),
    ("fixed if shared else fixed", 1, "if … else is not allowed"),
    ("lambda: fixed", 1, "a lambda is not allowed"),
    ("medium[0] == 'a'", 1, "a subscript is not allowed"),
    ("[x for x in (1, 2)]", 1, "a loop is not allowed"),
    ("(x := fixed)", 2, "an assignment is not allowed"),
    ("f'{medium}' == 'air'", 1, "a formatted text is not allowed"),
    ("{'a': 1} == 1", 1, "a mapping is not allowed"),
    ("depth ** 2 > 1", 1, "this operator is not allowed"),
    ("depth % 2 > 1", 1, "this operator is not allowed"),
    ("depth // 2 > 1", 1, "this operator is not allowed"),
    ("~depth > 1", 1, "this sign is not allowed"),
    ("fixed is True", 1, "'is' is not allowed"),
    ("depth == None", 10, "only finite numbers"),
    ("depth == 1j", 10, "only finite numbers"),
    ("depth < 1e999", 9, "only finite numbers"),
    ("medium == b'air'", 11, "only finite numbers"),
    ("depth < " + "9" * 400, 9, "only finite numbers"),
    # calls and hidden names
    ("open('x') == 'y'", 1, "calls are not allowed"),
    ("margin_db.min() > 0", 1, "calls are not allowed"),
    ("__import__('os')", 1, "calls are not allowed"),
    ("margin_db.__class__ == 'a'", 1, "begin with an underscore"),
    ("_hidden > 1", 1, "begin with an underscore"),
    ("params.__dict__ == 'a'", 1, "begin with an underscore"),
    ("'a'.upper == 'A'", 1, "only facts and params"),
    ("abs(depth, depth) > 1", 1, "abs takes one number"),
    ("min(depth) > 1", 1, "min takes two or more"),
    ("max(depth, key=depth) > 1", 1, "max takes plain numbers only"),
    ("min(*params.media, 1) > 1", 1, "min takes plain numbers only"),
    # length and depth
    ("fixed or " * 100 + "fixed", 600, "longer than 600"),
    ("not " * 20 + "fixed", 65, "nested deeper than 16"),
    ("(" * 250 + "fixed" + ")" * 250, 201, "cannot be read"),
    # names and variants
    ("marjin_db < 0", 1, "unknown fact marjin_db about hop. Nearest: margin_db"),
    ("fixed and goodput_mbs > 0", 11, "unknown fact goodput_mbs about hop. Nearest: goodput_mbps"),
    ("country == 'XX'", 1, "unknown fact country about hop. It is a fact about site"),
    ("goodput_mbps.upp > 0", 1, "unknown variant upp of goodput_mbps. Nearest: up"),
    ("margin_db.up > 0", 1, "unknown variant up of margin_db. margin_db has no variants"),
    ("goodput_mbps.up.down > 0", 1, "dir of goodput_mbps is chosen twice"),
    ("mixed.y > 0", 1, "variant y of mixed could mean a or b"),
    ("margin_db < params.last_db", 13, "unknown parameter last_db. Nearest: least_db"),
    ("margin_db < params", 13, "a parameter is written params.name"),
    ("margin_db < params.least_db.x", 13, "a parameter is written params.name"),
    # types
    ("margin_db and fixed", 1, "this is a number"),
    ("not medium", 5, "this is a class"),
    ("medium + 'x' == 'airx'", 1, "a number is needed here; this is a class"),
    ("fixed + 1 > 1", 1, "a number is needed here; this is a boolean"),
    ("medium == 1", 11, "a class cannot be compared with a number"),
    ("fixed == 1", 10, "a boolean cannot be compared with a number"),
    ("medium < 'air'", 10, "only numbers have an order"),
    ("fixed < shared", 9, "only numbers have an order"),
    ("medium in 'air'", 11, "'in' needs a list of literals"),
    ("medium in (medium, 'air')", 11, "a list holds literals only"),
    ("medium in ()", 11, "a list holds literals only"),
    ("medium in ('air', 1)", 11, "a list holds values of one type"),
    ("medium == ('air', 'coax')", 11, "a list stands only after 'in'"),
    ("('air', 'coax')", 1, "a list alone"),
    ("depth in params.media", 10, "a number cannot be compared with a class"),
    # units
    ("margin_db < 10", 13, "a bare number compared with dB. Make it a parameter"),
    ("10 < margin_db", 1, "a bare number compared with dB"),
    ("level_dbm < -70", 13, "a bare number compared with dBm"),
    ("level_dbm < 2 * -35", 13, "a bare number compared with dBm"),
    ("margin_db in (1, 2)", 14, "a bare number compared with dB"),
    ("margin_db + 3 > 0", 1, "dB + a plain number do not fit together. Make it a parameter"),
    ("level_dbm + floor_dbm > 0", 1, "two levels in dBm cannot be added"),
    ("margin_db - level_dbm > 0", 1, "dB - dBm do not fit together"),
    ("2 * level_dbm > 0", 1, "a level in dBm cannot be multiplied"),
    ("level_dbm < margin_db", 13, "dBm compared with dB"),
    ("margin_db < antenna_dbi", 13, "dB compared with dBi"),
    ("goodput_mbps + delay_ms > 0", 1, "Mb/s + ms do not fit together"),
    ("goodput_mbps * delay_ms > 0", 1, "Mb/s * ms has no unit that a rule may use"),
    ("1 / delay_ms > 0", 1, "a plain number / ms has no unit"),
    ("min(goodput_mbps, delay_ms) > 0", 19, "min of Mb/s and ms"),
    ("min(goodput_mbps, 3) > 0", 19, "min of Mb/s and a plain number"),
    ("goodput_mbps / 0 > 0", 1, "division by zero"),
    # columns count characters, not bytes
    ("medium == 'ünïcödé' and marjin_db < 0", 25, "unknown fact marjin_db"),
]


@pytest.mark.parametrize(("text", "column", "what"), REFUSED)
def test_refused(engine, text, column, what):
    with pytest.raises(ExpressionError) as caught:
        engine.compiled(text)
    assert what in str(caught.value)
    assert caught.value.column == column


def test_defaults_of_variants_are_filled_in(engine):
    found = engine.compiled("goodput_mbps.udp > 0 and goodput_mbps.down.udp > 0 and margin_db > 0")
    assert [ref.quantity.text for ref in found.references] == ["goodput_mbps.down.udp", "margin_db"]


words = st.sampled_from(
    [
        "margin_db",
        "level_dbm",
        "goodput_mbps",
        ".up",
        ".udp",
        "medium",
        "fixed",
        "params.least_db",
        "params",
        "'air'",
        "1",
        "0",
        "0.5",
        "(",
        ")",
        ",",
        "<",
        "<=",
        "==",
        "!=",
        "in",
        "not",
        "and",
        "or",
        "+",
        "-",
        "*",
        "/",
        "min",
        "max",
        "abs",
        "[",
        "]",
        "if",
        "else",
        "lambda",
        ":",
        "True",
        "None",
        "_x",
        "**",
        "=",
        "{",
        "}",
        "\\",
        "\n",
        "é",
        "\x00",
        "#",
        "f''",
    ]
)


@given(st.lists(words, max_size=14).map(" ".join) | st.text(max_size=30))
def test_no_text_crashes_the_reader(engine, text):
    with contextlib.suppress(ExpressionError):
        assert engine.compiled(text).type in ("number", "boolean", "class")
