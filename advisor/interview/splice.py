"""Answers added to a file the interview did not write: new words beside what stands there, nothing else changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from advisor.errors import InputError
from advisor.interview.render import MEMORY, is_memory, memory_lines, not_known
from advisor.interview.state import State
from advisor.site import yaml_out
from advisor.site.edit import CannotEdit, Edit, with_edits
from advisor.site.load import load_text
from advisor.site.yaml_reader import Path, read


class Unsafe(Exception):
    """The answers cannot be added without touching what stands there; carries them as lines to add by hand."""

    def __init__(self, lines: list[str]) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


def splice(text: str, before: State, after: State) -> str:
    """The text with what `after` knows more than `before`; raises Unsafe where that cannot be done and proved."""
    added = list(additions(before.site, after.site))
    document = read(text.encode(), "")
    try:
        if any(path in document.spots for path, _ in added):
            raise KeyError("something there would be changed")
        made = _comments(with_edits(document, [Edit(path, value) for path, value in added]), before, after)
        sound = load_text(made, "").document.value == after.site
    except (InputError, KeyError, CannotEdit):
        sound = False
    if not sound:
        raise Unsafe([f"{'.'.join(map(str, path))}: {yaml_out.flow(value)}" for path, value in added])
    return made


def additions(before: Any, after: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """What is new, each as the largest block that is new."""
    for key, value in after.items():
        here = (*path, key)
        if key not in before:
            yield here, value
        elif isinstance(value, Mapping) and isinstance(before[key], Mapping):
            yield from additions(before[key], value, here)
        elif value != before[key]:
            yield here, value


def _comments(text: str, before: State, after: State) -> str:
    """In a file that was the interview's own before somebody changed it: its remarks as they are now true."""
    if MEMORY not in text.splitlines():
        return text
    now = {line for lines in not_known(after).values() for line in lines}
    stale = {line for lines in not_known(before).values() for line in lines} - now
    kept = [line for line in text.split("\n") if line.strip() not in stale and not is_memory(line.rstrip("\r"))]
    while kept and not kept[-1].strip():
        kept.pop()
    return "\n".join([*kept, "", *memory_lines(after)]) + "\n"
