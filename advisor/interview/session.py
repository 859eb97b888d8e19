"""A sitting: line by line from one state to the next. Pure; the command line reads, prints and saves."""

from __future__ import annotations

from dataclasses import dataclass, replace

from advisor.errors import InputError
from advisor.interview.answers import Complaint, slug
from advisor.interview.questions import Question, next_question, take
from advisor.interview.render import render
from advisor.interview.state import UNNAMED, State
from advisor.site.load import load_text

MORE, BACK, STOP = "?", "-", "."
LONGEST_LINE = 2000
NOT_KNOWN = ("don-t-know", "dont-know", "do-not-know", "not-known", "unknown", "no-idea", "not-sure")


@dataclass(frozen=True)
class Sitting:
    """The states of a sitting from its beginning to now."""

    states: tuple[State, ...]
    stopped: bool = False

    @property
    def state(self) -> State:
        return self.states[-1]

    @property
    def question(self) -> Question | None:
        return None if self.stopped else next_question(self.state)


def begin(state: State) -> Sitting:
    """A sitting that goes on where the last one stopped; when nothing else is left, with what was left open."""
    if next_question(state) is None and state.left_open:
        state = replace(state, left_open=())
    return Sitting((state,))


def step(sitting: Sitting, line: str) -> tuple[Sitting, str]:
    """The sitting after one typed line, and what to say to it."""
    question = sitting.question
    if question is None:
        return sitting, ""
    text = line.strip()
    if text == STOP:
        return replace(sitting, stopped=True), ""
    if text == BACK:
        if len(sitting.states) == 1:
            return sitting, "Nothing was answered in this sitting yet; change earlier answers in the file itself."
        return replace(sitting, states=sitting.states[:-1]), "Taken back."
    if text == MORE:
        return sitting, question.more
    try:
        state, note = take(sitting.state, question, _clean(text, question))
        _prove(state)
    except Complaint as complaint:
        return sitting, complaint.text
    return replace(sitting, states=(*sitting.states, state)), f"Noted: {note}." if note else ""


def _clean(text: str, question: Question) -> str:
    """The line as an answer; "don't know" is an empty one, except where a name is asked for."""
    if len(text) > LONGEST_LINE:
        raise Complaint(f"That line has {len(text)} characters; a line has at most {LONGEST_LINE}.")
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise Complaint("This line cannot be read as text. Set the terminal to UTF-8, or write it in plain letters.")
    text = text.replace("\t", " ")
    if not text.isprintable():
        raise Complaint("There is a control character in this line, perhaps from an arrow key. Write it again.")
    if question.step.id not in ("name", "names") and slug(text) in NOT_KNOWN:
        return ""
    return text


def _prove(state: State) -> None:
    """A file made from the state must load; where it does not, the answer is not taken."""
    if state.base:
        return
    try:
        load_text(render(state), "")
    except InputError as error:
        raise Complaint(f"That does not fit what was told before: {error.problems[0].what}.") from None


def opening(state: State) -> str:
    """What is said first: what is there already."""
    if state.site["site"].get("name") == UNNAMED and not state.left_open and not state.done:
        return ""
    counted = {word: len(state.entries(word)) for word in ("rooms", "nodes", "networks", "places")}
    told = ", ".join(f"{word}: {count}" for word, count in counted.items() if count)
    return f"“{state.site['site']['name']}” is there already ({told}); only what is missing is asked."
