"""Small helpers for messages about the site file: how values, paths and choices are shown to people."""

from __future__ import annotations

import difflib
import json
from collections.abc import Iterable, Sequence
from typing import Any

from advisor.errors import Position, Problem

MOST_PROBLEMS = 100
MOST_SHOWN = 8
LONGEST = 48


def shown(value: Any) -> str:
    """A value for people: text in double quotes, long text cut, control characters escaped."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{plainly(value)}"'
    if isinstance(value, list):
        rest = ", …" if len(value) > MOST_SHOWN else ""
        return _cut("[" + ", ".join(_bare(item) for item in value[:MOST_SHOWN]) + rest + "]")
    if isinstance(value, dict):
        words = ", ".join(plainly(key) for key in list(value)[:MOST_SHOWN])
        return f"a block with {_cut(words) or 'nothing in it'}"
    return str(value)


def plainly(text: str) -> str:
    """Text without quotes, cut to a readable length, with control and direction characters escaped."""
    cut = _cut(text)
    if cut.isprintable():
        return cut
    return "".join(c if c.isprintable() else json.dumps(c)[1:-1] for c in cut)


def _bare(value: Any) -> str:
    if isinstance(value, dict):
        return "{…}"
    if isinstance(value, list):
        return "[…]"
    return plainly(value) if isinstance(value, str) else shown(value)


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"


def dotted(path: Iterable[str | int]) -> str:
    """`nodes.stair.radios.r5`; list items count from 1 in square brackets: `points[2]`."""
    words = ""
    for part in path:
        if isinstance(part, int):
            words += f"[{part + 1}]"
        else:
            words += ("." if words else "") + plainly(part)
    return words


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like `word`, or None where none is like it."""
    by_lower: dict[str, str] = {}
    for name in known:
        by_lower.setdefault(_loose(name), name)
    found = difflib.get_close_matches(_loose(word), sorted(by_lower), n=1, cutoff=0.6)
    return by_lower[found[0]] if found else None


def _loose(word: str) -> str:
    return word[:80].lower().replace("-", "_").replace(" ", "_")


def choice_of(known: Sequence[str], most: int = MOST_SHOWN) -> str:
    """The known words, cut to `most`: `a, b, c and 4 more`."""
    names = [plainly(name) for name in known]
    rest = len(names) - most
    return ", ".join(names) if rest <= 0 else ", ".join(names[:most]) + f" and {rest} more"


def one_of(words: Sequence[str]) -> str:
    """`a, b or c`."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]


def capped(problems: Sequence[Problem]) -> list[Problem]:
    """The problems in the order of the file: the first hundred, and how many more there are."""
    ordered = sorted(set(problems))
    rest = len(ordered) - MOST_PROBLEMS
    if rest <= 1:
        return ordered
    return [*ordered[:MOST_PROBLEMS], and_more(ordered[MOST_PROBLEMS].position, rest)]


def and_more(position: Position, count: int) -> Problem:
    """Says that `count` more problems were found from a position on."""
    return Problem(position, f"and {count} more problems from here on", "Mend the ones above first.")
