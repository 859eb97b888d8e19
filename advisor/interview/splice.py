"""Answers added to a file the interview did not write: new words beside what stands there, nothing else changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from advisor.errors import InputError
from advisor.interview import yaml_out
from advisor.interview.render import MEMORY, is_memory, memory_lines, not_known
from advisor.interview.state import State
from advisor.site.load import load_text
from advisor.site.yaml_reader import Document, Path, read


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
        made = _comments(_with_additions(document, added), before, after)
        sound = load_text(made, "").document.value == after.site
    except (InputError, KeyError):
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


def _with_additions(document: Document, added: list[tuple[Path, Any]]) -> str:
    text = document.text
    newline = "\r\n" if "\r\n" in text else "\n"
    pieces: dict[int, str] = {}
    tail = ""
    for path, value in added:
        home, name = path[:-1], str(path[-1])
        spot = document.spots[home]
        if spot.shared or path in document.spots:
            raise KeyError(name)
        inside = [key for key in document.spots if len(key) == len(path) and key[:-1] == home]
        last = document.spots[inside[-1]].end if inside else spot.start + 1
        if text[spot.start : spot.start + 1] == "{":
            comma = ", " if inside or last in pieces else ""
            pieces[last] = pieces.get(last, "") + f"{comma}{yaml_out.scalar(name)}: {yaml_out.flow(value)}"
            continue
        if not home:
            tail += newline + newline.join(_section(name, value)) + newline
            continue
        indent = document.keys[inside[0]].position.column - 1
        at = last if text[last - 1] == "\n" else text.find("\n", last) + 1
        lines = newline.join(yaml_out.entry(name, value, indent)) + newline
        if at == 0:
            at, lines = len(text), newline + lines.removesuffix(newline)
        pieces[at] = pieces.get(at, "") + lines
    for at in sorted(pieces, reverse=True):
        text = text[:at] + pieces[at] + text[at:]
    return text + ("" if text.endswith("\n") or not tail else newline) + tail


def _section(name: str, value: Any) -> list[str]:
    if not isinstance(value, Mapping) or not all(isinstance(item, Mapping) for item in value.values()):
        return yaml_out.entry(name, value, 0)
    return [f"{name}:", *(line for key, item in value.items() for line in yaml_out.entry(str(key), item, 2))]


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
