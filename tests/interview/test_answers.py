"""Typed words and what they mean."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.interview import answers
from advisor.interview.answers import Complaint
from advisor.site import partitions

KINDS = ["phone", "laptop", "tablet", "till", "sensor", "screen"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("brick", "brick"),
        ("brick with door", "brick with door"),
        ("Brick with a door", "brick with door"),
        ("brick door", "brick with door"),
        ("brick glass door", "brick with door-glass"),
        ("plaster wall", "plasterboard"),
        ("double brick doorway", "brick-double with opening"),
        ("brick and mirror with window", "brick and mirror with window"),
        ("light block and plasterboard door", "block-light and plasterboard with door"),
        ("a wall of concrete", "concrete"),
        ("window", "glass-double"),
        ("glass", "glass"),
        ("nothing", "open"),
        ("concrete with fire door", "concrete with door-steel"),
    ],
)
def test_walls(text: str, told: str) -> None:
    assert answers.between(text) == told.replace("door-steel", answers.words("openings")["fire-door"])
    partitions.read(answers.between(text))


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "Say what the wall is made of, too"),
        ("with door", "Say what the wall is made of|Say what the wall itself is made of"),
        ("door", "Say what the wall itself is made of"),
        ("brik", "Did you mean brick?"),
        ("brick with hole", "no opening in a wall known here"),
        ("floor-timber", "no kind of wall known here"),
    ],
)
def test_walls_that_cannot_be(text: str, complaint: str) -> None:
    with pytest.raises(Complaint) as caught:
        answers.between(text)
    assert any(part in caught.value.text for part in complaint.split("|"))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("kitchen 4x3", ("kitchen", [4, 3])),
        ("living room 4.5 x 3,25 m", ("living room", [4.5, 3.25])),
        ("Büro: 4×3m", ("Büro", [4, 3])),
        ("hall", ("hall", None)),
        ("room 2", ("room 2", None)),
        ("room 2 3x4", ("room 2", [3, 4])),
        ("box room", ("box room", None)),
    ],
)
def test_rooms(text: str, told: tuple[str, Any]) -> None:
    assert answers.named_size(text) == told


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2 phone, laptop", [("phone", 2), ("laptop", 1)]),
        ("phones x2 and a laptop", [("phone", 2), ("laptop", 1)]),
        ("two mobiles + tv", [("phone", 2), ("screen", 1)]),
        ("1 phone; 2 phones", [("phone", 3)]),
        ("three tills", [("till", 3)]),
    ],
)
def test_devices(text: str, told: list[tuple[str, int]]) -> None:
    assert answers.devices(text, KINDS) == told


@pytest.mark.parametrize(
    ("text", "complaint"),
    [("3 pigeons", "no kind of device"), ("2", "of what?"), ("0 phone", "from 1 to 1000"), (",", "how many of what")],
)
def test_devices_that_cannot_be(text: str, complaint: str) -> None:
    with pytest.raises(Complaint, match=complaint):
        answers.devices(text, KINDS)


def _speed(text: str, most: int = 2) -> list[float]:
    return answers.numbers(text, most, low=0.05, high=100_000, what="the speed", unit="Mb/s")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("100", [100]),
        ("100 40", [100, 40]),
        ("100/40", [100, 40]),
        ("100 Mbit/s down, 40 Mbit/s up", [100, 40]),
        ("17.5 Mb/s", [17.5]),
        ("250Mbps", [250]),
    ],
)
def test_speeds(text: str, told: list[float]) -> None:
    assert _speed(text) == told


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("fast", "no number"),
        ("-5", "never negative"),
        ("1 Gbit/s", "1 gigabit is 1000"),
        ("100,40", "What is the comma"),
        ("0", "outside what can be"),
        ("1 2 3", "at most 2"),
    ],
)
def test_speeds_that_cannot_be(text: str, complaint: str) -> None:
    with pytest.raises(Complaint, match=complaint):
        _speed(text)


def test_a_decimal_comma_is_read_where_one_number_is_asked() -> None:
    assert _speed("17,5", 1) == [17.5]
    with pytest.raises(Complaint, match="comma"):
        _speed("1,000", 1)


@pytest.mark.parametrize(
    ("text", "told"), [("house", "house"), ("Off", "office"), ("2", "apartment"), ("APARTMENT", "apartment")]
)
def test_a_choice_by_word_beginning_or_number(text: str, told: str) -> None:
    assert answers.one_word(text, ["house", "apartment", "office"]) == told


@pytest.mark.parametrize(
    ("text", "complaint"),
    [("aparment", "Did you mean apartment"), ("9", "no answer known"), ("wpa2", "could be"), ("no", "no answer known")],
)
def test_a_choice_that_cannot_be(text: str, complaint: str) -> None:
    options = ["house", "apartment", "wpa2-personal", "wpa2-enterprise", "node-set"]
    with pytest.raises(Complaint, match=complaint):
        answers.one_word(text, options)


def test_several_of_the_options() -> None:
    assert answers.some_of("all", ["a-box", "b"], "box") == ["a-box", "b"]
    assert answers.some_of("b and a box", ["a-box", "b"], "box") == ["b", "a-box"]
    assert answers.some_of("b a-box b", ["a-box", "b"], "box") == ["b", "a-box"]
    with pytest.raises(Complaint, match='"c" is no box'):
        answers.some_of("b, c", ["a-box", "b"], "box")


@pytest.mark.parametrize(
    ("text", "told"),
    [("Große Küche", "grosse-kuche"), ("Ærø", "aero"), ("Łódź 2", "lodz-2"), ("  x  ", "x"), ("台所", ""), ("!!", "")],
)
def test_names_as_ids(text: str, told: str) -> None:
    assert answers.slug(text) == told


def test_a_name_without_letters_is_asked_again() -> None:
    with pytest.raises(Complaint, match="room-1"):
        answers.new_id("台所", (), "room")


@pytest.mark.parametrize("wrong", [answers.size, answers.named_size])
def test_sizes_that_cannot_be(wrong: Callable[[str], Any]) -> None:
    for text in ("hall 0x3", "hall 4x", "hall 900x3", "4x3x2"):
        with pytest.raises(Complaint):
            wrong(text)
