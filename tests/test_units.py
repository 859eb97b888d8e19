"""How numbers, bands and names are told."""

from __future__ import annotations

import pytest

from advisor.units import cell_text, inert, known_text, number, value_text
from advisor.values import Known, Options, Unknown, constant


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (12.34, 1, "12.3"),
        (-0.04, 1, "0.0"),
        (7.0, 0, "7"),
        (1234.0, -2, "1200"),
        (0.1, None, "0.1"),
        (True, 1, "yes"),
        (False, None, "no"),
        ("ax", 1, "ax"),
        (2.5, 0, "2"),
        (3.5, 0, "4"),
    ],
)
def test_number(value: float | bool | str, digits: int | None, text: str) -> None:
    assert number(value, digits) == text


def test_known_text() -> None:
    assert known_text(Known(12.3, 8.1, 15.2), "Mb/s", 1, band=True) == "12.3 (8.1–15.2) Mb/s"
    assert known_text(Known(12.3, 8.1, 15.2), "Mb/s", 1, band=False) == "12.3 Mb/s"
    assert known_text(Known(-67.2, -70.4, -61.0), "dBm", 0, band=True) == "-67 (-70 to -61) dBm"
    assert known_text(Known("a", "b", "a"), "", 0, band=True) == "a (b to a)"


def test_a_band_that_rounds_to_the_centre_is_not_told() -> None:
    assert known_text(Known(12.31, 12.29, 12.33), "Mb/s", 1, band=True) == "12.3 Mb/s"


def test_from_20_mbps_on_no_decimals() -> None:
    assert known_text(Known(20.4, 8.16, 31.7), "Mb/s", 1, band=True) == "20 (8–32) Mb/s"
    assert known_text(constant(19.94), "Mb/s", 1, band=True) == "19.9 Mb/s"


def test_cell_text_leaves_the_unit_to_the_head_of_the_table() -> None:
    assert cell_text(Known(142.0, 102.0, 201.0), "Mb/s", 1) == "142 (102–201)"
    assert cell_text(Known(-62.0, -65.0, -59.0), "dBm", 0) == "-62 (-65…-59)"
    assert cell_text(constant(True), "", 0) == "yes"


def test_value_text() -> None:
    assert value_text(Unknown(("the channel", "the width")), "", 1) == "not known: the channel; the width"
    assert value_text(Options({"by day": constant(1.0), "by night": Unknown(("when",))}), "Mb/s", 1) == (
        "by day: 1.0 Mb/s; by night: not known: when"
    )


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("plain café", "plain café"),
        ("a\x1b[31mb", "a\\x1b[31mb"),
        ("two\nlines", "two\\nlines"),
        ("turned\u202eround", "turned\\u202eround"),
        ("zero\u200bwidth", "zero\\u200bwidth"),
        ("line\u2028end", "line\\u2028end"),
        ("hard\xa0space", "hard\\xa0space"),
        ("\U000e0041", "\\U000e0041"),
    ],
)
def test_inert(text: str, told: str) -> None:
    assert inert(text) == told
