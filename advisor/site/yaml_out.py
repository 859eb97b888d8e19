"""Values as YAML on one line or several: the same value, the same bytes."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

WIDEST = 110
"""Entries longer than this are written over several lines."""

_PLAIN = re.compile(r"[^\W\d_](?:[\w .+/()’-]*[\w.)’])?")
_OTHER_READING = {"true", "false", "null", "yes", "no", "on", "off", "y", "n"}
"""Words that mean something else to some readers of YAML, though not to ours."""


def scalar(value: Any) -> str:
    """One value.

    >>> scalar("Küche am Hof"), scalar("no"), scalar("12"), scalar(2.4), scalar(True)
    ('Küche am Hof', '"no"', '"12"', '2.4', 'true')
    """
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    text = str(value)
    if _PLAIN.fullmatch(text) and text.lower() not in _OTHER_READING and text.isprintable() and "  " not in text:
        return text
    return quoted(text)


def quoted(text: str) -> str:
    """A text in double quotes."""
    return '"' + "".join(_quoted(c) for c in text) + '"'


def _quoted(c: str) -> str:
    if c.isprintable() and c not in '"\\':
        return c
    if ord(c) > 0xFFFF:
        return f"\\U{ord(c):08X}"
    return json.dumps(c)[1:-1]


def flow(value: Any) -> str:
    """A value on one line, blocks in braces and lists in brackets."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{scalar(key)}: {flow(item)}" for key, item in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(flow(item) for item in value) + "]"
    return scalar(value)


def entry(name: str, value: Any, indent: int) -> list[str]:
    """`name: value` on one line, or, where that is too wide, one line for each word of the block."""
    line = f"{' ' * indent}{scalar(name)}: {flow(value)}"
    if len(line) <= WIDEST or not isinstance(value, Mapping) or not value:
        return [line]
    lines = [f"{' ' * indent}{scalar(name)}:"]
    for key, item in value.items():
        lines += entry(key, item, indent + 2)
    return lines
