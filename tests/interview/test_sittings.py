"""Whole sittings: what is asked, what is not, and that every state makes a file that loads and says the same."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.interview.questions import GROUPS, next_question
from advisor.interview.render import read, render
from advisor.interview.session import Sitting, begin, step
from advisor.interview.state import State, beginning
from advisor.site.load import load_text

NAMES = ("cottage", "haste", "distances", "mistakes")


def asked(states: list[State]) -> list[str]:
    """The keys of the questions put in a sitting, in order, each once."""
    keys = [question.key for state in states if (question := next_question(state))]
    return list(dict.fromkeys(keys))


def walk(lines: list[str], state: State | None = None) -> Sitting:
    sitting = begin(state or beginning())
    for line in lines:
        sitting, _ = step(sitting, line)
    return sitting


def said(*lines: str) -> str:
    """What is replied to the last of these lines."""
    return step(walk(list(lines[:-1])), lines[-1])[1]


@pytest.mark.parametrize("name", NAMES)
def test_every_state_makes_a_file_that_loads_and_reads_back(name: str, people: Any, sit: Callable[..., Any]) -> None:
    _, _, states = sit(people[name])
    for state in states:
        text = render(state)
        load_text(text, "site.yaml")
        assert read(text.encode(), "site.yaml") == state


@pytest.mark.parametrize("name", NAMES)
def test_stopped_anywhere_and_taken_up_again_it_ends_the_same(name: str, people: Any, sit: Callable[..., Any]) -> None:
    """The lines before and after a stop, in two sittings, make the file of one sitting."""
    whole, lines, states = sit(people[name])
    stops = [at for at, line in enumerate(lines) if line != "-"]
    for at in random.Random(name).sample(stops, min(8, len(stops))):
        if "-" in lines[at:]:
            continue  # a step back reaches no further than the sitting
        kept = render(states[at]) if states[at] != beginning() else ""
        rest = walk(lines[at:], read(kept.encode(), "site.yaml"))
        assert render(rest.state) == render(whole.state), at


def test_a_house_is_asked_in_the_order_of_its_chapters(people: Any, sit: Callable[..., Any]) -> None:
    _, _, states = sit(people["cottage"])
    keys = asked(states)
    assert keys[:8] == [
        "name", "country", "environment", "down", "storeys", "slab.upper", "rooms.ground", "rooms.upper",
    ]  # fmt: skip
    first = [key.partition(".")[0] for key in keys]
    order = [
        "walls",
        "above",
        "gateway-room",
        "boxes",
        "joined",
        "names",
        "used",
        "calls",
        "emergency",
        "walks",
        "neighbours",
    ]
    assert [key for key in dict.fromkeys(first) if key in order] == order
    assert states[-1].left_open == ()


def test_the_cottage_in_full(people: Any, sit: Callable[..., Any]) -> None:
    site = sit(people["cottage"])[0].state.site
    assert site["rooms"]["kitchen"] == {
        "floor": "ground",
        "size_m": [4, 3],
        "next_to": {"hall": "brick with door", "living-room": "brick", "bed": "floor-timber"},
    }
    assert site["rooms"]["hall"]["next_to"] == {"living-room": "brick with door", "landing": "open"}
    assert site["nodes"] == {
        "gateway": {
            "role": "gateway",
            "room": "hall",
            "gear": "home-router",
            "radios": {"r24": {"band": 2.4, "channel": 6}, "r5": {"band": 5, "channel": 36}},
        },
        "landing-box": {
            "role": "relay",
            "room": "landing",
            "uplink": {"to": "gateway", "over": "radio", "band": 5},
            "gear": "home-relay",
            "radios": {"r24": {"band": 2.4, "channel": 11}, "r5": {"band": 5}},
        },
        "desk-box": {
            "role": "access-point",
            "room": "study",
            "uplink": {"to": "gateway", "over": "ethernet"},
            "gear": "open-node",
            "radios": {"r24": {"band": 2.4, "channel": 1}, "r5": {"band": 5, "channel": 149}},
        },
    }
    assert site["networks"]["fernhill-guests"] == {
        "name": "Fernhill guests",
        "security": "wpa2-personal",
        "nodes": ["gateway", "landing-box"],
    }
    assert site["places"]["kitchen-phone"]["emergency_calls"] is True
    assert site["places"]["study-laptop"]["emergency_calls"] is False
    assert site["walks"]["walk-1"] == {"points": ["kitchen-phone", "living-room-phone"]}
    assert site["neighbours"]["neighbour-3"] == {"band": 5, "channel": 36}


def test_what_would_change_nothing_is_not_asked(people: Any, sit: Callable[..., Any]) -> None:
    _, _, states = sit(people["haste"])
    steps = {key.partition(".")[0] for key in asked(states)}
    assert not steps & {"slab", "above", "joined", "to", "band", "carried", "emergency", "walks", "calls", "spots"}
    _, _, states = sit(people["distances"])
    assert not {key for key in asked(states) if key.startswith(("band.", "to.", "used.", "walls.", "gateway-room."))}
    _, _, states = sit(people["cottage"])
    keys = asked(states)
    assert "band.desk-box" not in keys  # on a cable
    assert "speed.desk-box" not in keys
    assert "walls.living-room" not in keys  # told from the other side
    assert "walls.study" not in keys
    assert "calls.living-room-screen" not in keys


def test_with_one_box_nobody_is_asked_to_walk() -> None:
    table = ["x", "", "", "", "", "1", "a 3x3; b 3x3", "", "b brick", "a", "", "", "", "net", "", "2", "phone", "phone"]
    sitting = walk([*table, "1", "", "1", "", "no"])
    assert sitting.question is not None
    assert sitting.question.key == "neighbours"


def test_everything_left_open_ends_and_is_asked_again_next_time(sit: Callable[..., Any]) -> None:
    sitting, lines, _ = sit({})
    assert set(lines) == {""}
    assert render(sitting.state).count("# not known:") >= 8
    again = begin(read(render(sitting.state).encode(), "site.yaml"))
    assert again.question is not None
    assert again.question.key == "name"
    named, _ = step(again, "Now it has a name")
    assert "Now it has a name" in render(named.state)


def test_a_step_back_takes_back_one_answer_at_a_time(people: Any, sit: Callable[..., Any]) -> None:
    sitting, _, _ = sit(people["cottage"])
    sitting = Sitting(sitting.states[:-1])
    while len(sitting.states) > 1:
        before = sitting.states[-2]
        sitting, reply = step(sitting, "-")
        assert reply == "Taken back."
        assert sitting.state == before
    assert sitting.state == beginning()
    assert "Nothing was answered in this sitting yet" in step(sitting, "-")[1]


def test_a_stop_keeps_what_is_there() -> None:
    sitting = walk(["Otter Lodge", "GB", "."])
    assert sitting.stopped
    assert sitting.question is None
    assert sitting.state.site["site"] == {"name": "Otter Lodge", "country": "GB"}


@pytest.mark.parametrize("words", ["don't know", "Unknown", "no idea", "not sure", "  ", "\t"])
def test_not_knowing_may_be_said_in_words(words: str) -> None:
    assert walk(["x", words]).state.left_open == ("country",)


def test_a_name_may_be_any_words() -> None:
    assert walk(["Unknown"]).state.site["site"]["name"] == "Unknown"


@pytest.mark.parametrize(
    ("line", "reply"),
    [
        ("a\x1b[Ab", "control character"),
        ("a\udcff", "cannot be read as text"),
        ("x" * 3000, "at most 2000"),
        ("x" * 300, "up to 200"),
    ],
)
def test_lines_that_are_no_text_are_asked_again(line: str, reply: str) -> None:
    assert reply in said(line)


def test_a_room_without_a_size_is_taken_and_its_size_asked_next_time() -> None:
    sitting = walk(["x", "", "", "", "", "1", "hall", ""])
    assert "size.hall" in sitting.state.left_open
    assert "# not known: how large hall is" in render(sitting.state)


def test_storeys_asked_too_late_for_the_rooms_are_not_asked() -> None:
    sitting = walk(["x", "", "", "", "", "", "hall 2x2", ""])
    assert "floors" not in sitting.state.site
    assert sitting.state.site["rooms"] == {"hall": {"size_m": [2, 2]}}


def test_storeys_may_be_named_and_the_lowest_may_lie_below_ground() -> None:
    assert walk(["x", "", "", "", "", "cellar ground upper"]).state.site["floors"] == {
        "cellar": {"level": -1},
        "ground": {"level": 0},
        "upper": {"level": 1},
    }
    assert list(walk(["x", "", "", "", "", "three"]).state.site["floors"]) == ["ground", "first", "second"]


def test_a_box_that_hangs_on_another_is_not_offered_as_its_parent(sit: Callable[..., Any]) -> None:
    table = {"boxes": ["one", "two", "three", ""], "joined.one": "air", "to.one": "two", "joined.two": "air"}
    _, _, states = sit(table)
    offered = {
        question.key: [word for word, _ in question.choices]
        for state in states
        if (question := next_question(state)) and question.step.id == "to"
    }
    assert offered == {"to.one": ["gateway", "two", "three", "decides"], "to.two": ["gateway", "three", "decides"]}


POOL = (
    "", "", "", "", "no", "none", "yes", "all", "-", "?", "1", "2", "3", "air", "cable", "powerline", "hall 2x5",
    "kitchen 4x3", "Küche 3 x 3,5", "loft", "hall brick with door", "kitchen plasterboard", "hall open", "loft open",
    "hall", "kitchen", "kuche", "gateway", "decides", "5", "2.4", "home", "name 名前", '"no"', "2 phone, laptop", "tv",
    "browsing", "20 5", "hall kitchen", "6", "36", "other shed", "shed laptop", "8 brick", "kitchen 3", "wpa2-personal",
    "GB", "house", "100 40", "concrete", "floor-timber", "cellar ground", "a: b", "{x}", "# no", "'", '"', "\\", "%",
    "null", "~", "0", "on", "12:30", "- x", "*a", "&a", "!t", "@", "`", "|", ">", "hall: brick",
)  # fmt: skip


@given(st.lists(st.one_of(st.sampled_from(POOL), st.text(max_size=12)), min_size=5, max_size=70))
@settings(max_examples=40, deadline=None)
def test_whatever_is_typed_the_file_loads_and_reads_back(lines: list[str]) -> None:
    sitting = begin(beginning())
    for line in lines:
        sitting, reply = step(sitting, line)
        assert isinstance(reply, str)
    text = render(sitting.state)
    load_text(text, "site.yaml")
    assert read(text.encode(), "site.yaml") == sitting.state
    assert render(read(text.encode(), "site.yaml")) == text


@given(st.integers(min_value=0, max_value=10**6))
@settings(max_examples=25, deadline=None)
def test_a_wandering_person_reaches_the_end(seed: int) -> None:
    """Fitting answers at random; every state on the way loads (an answer that did not fit would be refused)."""
    chance = random.Random(seed)
    sitting = begin(beginning())
    for _ in range(400):
        question = sitting.question
        if question is None:
            break
        words = [word for word, _ in question.choices] or list(POOL)
        sitting, _ = step(sitting, chance.choice([chance.choice(words), chance.choice(words), ""]))
    assert read(render(sitting.state).encode(), "site.yaml") == sitting.state


def test_every_step_has_its_words(people: Any, sit: Callable[..., Any]) -> None:
    from advisor.data import catalogue

    told: Mapping[str, Any] = catalogue("interview")
    steps = {step.id for group in GROUPS for step in group.steps}
    assert steps == set(told["questions"])
    for name, entry in told["questions"].items():
        entry = told["questions"][entry.get("like", name)] | entry
        assert {"topic", "ask", "why", "more", "open"} <= set(entry), name
        assert entry["topic"] in told["topics"], name
        assert len(entry["why"]) < 120, name


@pytest.mark.parametrize("text", ["1080p", "video 4k", "4k"])
def test_a_number_inside_a_word_is_no_speed(text: str) -> None:
    from advisor.interview.about_use import _need
    from advisor.interview.answers import Complaint

    with pytest.raises(Complaint, match="A number alone is taken as Mb/s"):
        _need(State({}), "desk", text)
