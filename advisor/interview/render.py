"""From a state to the text of a site file, and back."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable
from dataclasses import replace

from advisor.data import catalogue
from advisor.interview import questions
from advisor.interview.state import State, beginning
from advisor.site import yaml_out
from advisor.site.load import load_text

HEAD = """\
# Site file, written by `advisor ask`. Change it as you like: `advisor ask` then adds what is missing, no more.
# What you left open is marked “not known”: it is computed as a range or listed as unknown, never counted as good.
# Never write a password here; none is ever needed."""
CAUTION = "# Caution: calls to emergency services must not depend on Wi-Fi alone; keep another way to call for help."
MEMORY = "# What `advisor ask` remembers; leave these lines as they are."
SECTIONS = {
    "site": "site",
    "line": "internet",
    "storeys": "floors",
    "rooms": "rooms",
    "boxes": "nodes",
    "names": "networks",
    "use": "places",
    "moving": "walks",
    "outside": "neighbours",
}
"""Topics of the interview and the sections of the file they fill, in the order of the file."""
ON_ONE_LINE = ("site", "internet")
NOT_KNOWN = "# not known: "


def render(state: State) -> str:
    """The whole text of a file the interview writes itself."""
    comments = not_known(state)
    blocks = [HEAD]
    for section in SECTIONS.values():
        block = _section(state, section, comments.get(section, []))
        if block:
            blocks.append("\n".join(block))
    memory = memory_lines(state)
    if memory:
        blocks.append("\n".join(memory))
    return "\n\n".join(blocks) + "\n"


def _section(state: State, section: str, comments: list[str]) -> list[str]:
    entries = state.entries(section)
    if section in ON_ONE_LINE or not entries:
        return (yaml_out.entry(section, entries, 0) if entries else []) + comments
    meaning = catalogue("interview")["sections"][section]
    lines = [f"{section}:".ljust(14) + f"# {meaning}"]
    for name, value in entries.items():
        lines += yaml_out.entry(name, value, 2)
    if any(isinstance(value, dict) and value.get("emergency_calls") for value in entries.values()):
        lines.append(f"  {CAUTION}")
    return lines + [f"  {comment}" for comment in comments]


def not_known(state: State) -> dict[str, list[str]]:
    """The comments on what was left open, by section."""
    found: dict[str, list[str]] = {}
    for key in state.left_open:
        told = questions.left_open(state, key)
        lines = found.setdefault(section_of(key), []) if told else []
        if NOT_KNOWN + told not in lines:
            lines.append(NOT_KNOWN + told)
    return found


def section_of(key: str) -> str:
    """The section of the file a question fills."""
    return SECTIONS[questions.topic_of(key)]


def memory_lines(state: State) -> list[str]:
    """The last lines of a file, by which a later sitting knows what was asked."""
    lines = [*_wrapped("done", state.done), *_wrapped("left open", state.left_open)]
    return [MEMORY, *lines] if lines else []


def _wrapped(word: str, keys: Iterable[str]) -> list[str]:
    lines = textwrap.wrap(", ".join(keys), 96, break_long_words=False, break_on_hyphens=False)
    return [f"#   {word}: {line.rstrip(',')}" for line in lines]


_MEMORY_LINE = re.compile(r"^#   (done|left open): (.+)$", re.MULTILINE)


def is_memory(line: str) -> bool:
    return line == MEMORY or _MEMORY_LINE.fullmatch(line) is not None


def read(data: bytes, file: str) -> State:
    """The state a file tells. Raises InputError where it is no valid site file.

    A file that is exactly what would be written from its state is the interview's own; any other keeps its text.
    """
    if not data.strip():
        return beginning()
    document = load_text(data, file).document
    remembered: dict[str, tuple[str, ...]] = {"done": (), "left open": ()}
    for word, keys in _MEMORY_LINE.findall(document.text):
        told = tuple(key.strip() for key in keys.split(",") if questions.step_of(key.strip()))
        remembered[word] = tuple(dict.fromkeys((*remembered[word], *told)))
    state = State(document.value, remembered["left open"], remembered["done"])
    return (
        state
        if render(state).encode() == data
        else replace(state, base=document.value, remembers=MEMORY in document.text.splitlines())
    )
