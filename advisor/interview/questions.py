"""What is asked in which order, and what an answer does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from advisor.data import catalogue
from advisor.interview import about_air, about_boxes, about_site, about_use
from advisor.interview.answers import says_no
from advisor.interview.state import State, finished, floors_of, passed_over
from advisor.interview.step import Choices, Step, Taken


class Group(NamedTuple):
    """Steps asked one after the other for each subject."""

    subjects: Callable[[State], list[str]]
    steps: tuple[Step, ...]


def _once(state: State) -> list[str]:
    return [""]


GROUPS = (
    Group(_once, about_site.SITE_STEPS),
    Group(about_site.upper_floors, about_site.SLAB_STEPS),
    Group(floors_of, about_site.ROOM_LIST_STEPS),
    Group(about_site.all_rooms, about_site.ROOM_STEPS),
    Group(about_boxes.the_gateway, about_boxes.GATEWAY_STEPS),
    Group(_once, about_boxes.BOX_LIST_STEPS),
    Group(about_boxes.boxes_beside_the_gateway, (*about_use.BOX_AWAY_STEPS, *about_boxes.BOX_STEPS)),
    Group(_once, about_use.NAME_LIST_STEPS),
    Group(about_use.networks, about_use.NAME_STEPS),
    Group(about_site.all_rooms, about_use.USED_STEPS),
    Group(_once, about_use.SPOT_LIST_STEPS),
    Group(about_use.places, about_use.PLACE_STEPS),
    Group(_once, about_use.EMERGENCY_STEPS),
    Group(_once, about_air.WALK_STEPS),
    Group(_once, about_air.NEIGHBOUR_STEPS),
)


@dataclass(frozen=True)
class Question:
    """One question as it is put to the person."""

    key: str
    topic: str
    ask: str
    why: str
    hint: str
    """An example of an answer, where the question has none."""
    more: str
    choices: Choices
    step: Step
    subject: str


def next_question(state: State) -> Question | None:
    """The first question whose answer is missing; None where nothing is left to ask."""
    for group in GROUPS:
        for subject in group.subjects(state):
            for step in group.steps:
                if not state.asked(step.key(subject)) and step.wanted(state, subject):
                    return _question(state, step, subject)
    return None


def _wording(step: Step) -> Mapping[str, Any]:
    told: Mapping[str, Any] = catalogue("interview")["questions"]
    entry = told[step.id]
    return {**told[entry["like"]], **entry} if "like" in entry else entry


def _question(state: State, step: Step, subject: str) -> Question:
    wording = _wording(step)
    fill = {"subject": subject, **step.fill(state, subject)}
    another = step.many and step.some(state, subject)
    return Question(
        key=step.key(subject),
        topic=catalogue("interview")["topics"][wording["topic"]],
        ask=wording["next" if another else "ask"].format(**fill),
        why="" if another else wording["why"].format(**fill),
        hint="" if another else wording.get("hint", "").format(**fill),
        more=wording["more"].format(**fill),
        choices=step.choices(state, subject),
        step=step,
        subject=subject,
    )


def take(state: State, question: Question, text: str) -> Taken:
    """The state with an answer; an empty one leaves the field out or ends a list. Raises Complaint."""
    step, subject = question.step, question.subject
    if text.strip() and not (step.no_is_empty and says_no(text)):
        return step.take(state, subject, text.strip())
    ends = step.many and (step.empty_is_none or step.some(state, subject))
    return (finished if ends else passed_over)(state, question.key), ""


def step_of(key: str) -> tuple[Step, str] | None:
    """The step and the subject of a key, None where there is no such step."""
    name, _, subject = key.partition(".")
    found = [step for group in GROUPS for step in group.steps if step.id == name]
    return (found[0], subject) if found else None


def topic_of(key: str) -> str:
    """The topic of a question, as the wording calls it."""
    found = step_of(key)
    return str(_wording(found[0])["topic"]) if found else "site"


def left_open(state: State, key: str) -> str:
    """What a question left open was about, and how to add it later; empty where it has no place any more."""
    found = step_of(key)
    if found is None:
        return ""
    step, subject = found
    try:
        fill = {"subject": subject, **step.fill(state, subject)}
    except KeyError:
        return ""
    told = _wording(step)["open"]
    return f"{told['what']}; to add it: {told['add']}".format(**fill)
