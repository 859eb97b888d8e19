"""Reading YAML as it is written: plain words and numbers by the YAML 1.2 core schema, and the place of everything."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import InputError, Position
from advisor.site.yaml_reader import MOST_VALUES, plain_value, read

# YAML 1.2 section 10.3.2 (from memory) for what is null, boolean, integer, float; everything else is text.
CORE = {
    "null": None,
    "~": None,
    "": None,
    "Null": None,
    "true": True,
    "False": False,
    "TRUE": True,
    "no": "no",
    "yes": "yes",
    "on": "on",
    "off": "off",
    "NO": "NO",
    "y": "y",
    "12": 12,
    "-7": -7,
    "+5": 5,
    "0": 0,
    "-0": 0,
    "2.4": 2.4,
    ".5": 0.5,
    "3.": 3.0,
    "-1.5e-2": -0.015,
    "1e3": 1000,
    "0.5": 0.5,
    "12:30": "12:30",
    "2025-01-01": "2025-01-01",
    "0x1F": "0x1F",
    "0o17": "0o17",
    "1_000": "1_000",
    "1,5": "1,5",
    "0b1": "0b1",
    "=": "=",
    "tRUE": "tRUE",
    "e3": "e3",
    ".": ".",
}


@pytest.mark.parametrize(("written", "value"), CORE.items())
def test_plain_words_are_read_by_the_core_schema(written: str, value: object) -> None:
    got = plain_value(written)
    assert got == value
    assert type(got) is type(value)


def test_whole_numbers_with_an_exponent_stay_whole() -> None:
    assert isinstance(plain_value("1e3"), int)
    assert isinstance(plain_value("2.0"), float)


@pytest.mark.parametrize("written", ["010", "00", "-01", "00.5", ".inf", "-.Inf", ".nan", "1e999", "9" * 41])
def test_numbers_that_mean_two_things_or_nothing_are_refused(written: str) -> None:
    with pytest.raises(ValueError):
        plain_value(written)


def test_every_key_and_value_has_its_place() -> None:
    text = "# top\nnodes:\n  stair:\n    band: 5\n    list: [a, 'b c']\n    empty:\nlast: x\n"
    document = read(text.encode(), "f")
    assert document.value == {"nodes": {"stair": {"band": 5, "list": ["a", "b c"], "empty": None}}, "last": "x"}
    assert document.positions[("nodes", "stair", "band")] == Position(4, 11)
    assert document.key_positions[("nodes", "stair", "band")] == Position(4, 5)
    assert document.positions[("nodes", "stair", "list", 1)] == Position(5, 15)
    assert document.positions[("nodes", "stair", "empty")] == Position(6, 11)
    assert document.positions[("nodes", "stair")] == Position(4, 5)
    assert document.positions[()] == Position(2, 1)
    assert set(document.key_positions) == {path for path in document.positions if path and isinstance(path[-1], str)}
    block = document.spots[("nodes", "stair")]
    assert text[block.start : block.end] == "band: 5\n    list: [a, 'b c']\n    empty:"


@pytest.mark.parametrize("breaks", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_places_hold_with_any_line_break_and_a_byte_order_mark(breaks: str, mark: str) -> None:
    document = read((mark + breaks.join(["a: 1", "é: ü", "c: {d: xyz}"])).encode(), "f")
    assert document.positions[("c", "d")] == Position(3, 8)
    spot = document.spots[("c", "d")]
    assert document.text[spot.start : spot.end] == "xyz"
    assert document.positions[("é",)] == Position(2, 4)


def test_keys_are_text_as_written() -> None:
    assert read(b"{010: a, true: b, 2.40: c, '': d, no: e}", "f").value == {
        "010": "a",
        "true": "b",
        "2.40": "c",
        "": "d",
        "no": "e",
    }


def test_quoted_words_are_text() -> None:
    assert read(b"{a: '5', b: \"true\", c: 'null', d: ''}", "f").value == {"a": "5", "b": "true", "c": "null", "d": ""}


def test_an_alias_repeats_a_value_and_is_marked_as_shared() -> None:
    document = read(b"a: &x {b: 1}\nc: *x\n", "f")
    assert document.value == {"a": {"b": 1}, "c": {"b": 1}}
    assert document.positions[("c",)] == Position(2, 4)
    assert document.positions[("c", "b")] == Position(1, 11)
    assert document.spots[("c", "b")].shared
    assert not document.spots[("a", "b")].shared


def test_aliases_within_the_limit_are_read_and_beyond_it_are_refused() -> None:
    inner = ", ".join("1" for _ in range(100))
    few, many = (f"a: &a [{inner}]\nb: [{', '.join(['*a'] * times)}]".encode() for times in (100, MOST_VALUES // 100))
    assert len(read(few, "f").value["b"]) == 100
    with pytest.raises(InputError, match=r"written out"):
        read(many, "f")


TEXTS = st.text(st.characters(exclude_categories=("Cc", "Cs"), exclude_characters="\ufeff\ufffe\uffff\u2028\u2029"))
"""Characters that YAML text may hold as they are (YAML 1.2 section 5.1, from memory)."""


@settings(deadline=None)
@given(
    st.recursive(
        st.none()
        | st.booleans()
        | st.integers(-(10**9), 10**9)
        | st.floats(allow_nan=False, allow_infinity=False)
        | TEXTS,
        lambda inside: st.lists(inside, max_size=4) | st.dictionaries(TEXTS, inside, max_size=4),
        max_leaves=20,
    ).map(lambda value: {"top": value})
)
def test_json_is_read_as_json(value: object) -> None:
    """JSON is YAML 1.2 (YAML 1.2 section 1.3, from memory): Python's own reader is the reference."""
    import json

    text = json.dumps(value, ensure_ascii=False)
    assert read(text.encode(), "f").value == json.loads(text)
