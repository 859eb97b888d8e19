"""What the YAML parser complains about, in plain language, with what to do."""

from __future__ import annotations

import re
from typing import Any, TypeAlias

import yaml

from advisor.errors import Position
from advisor.site.wording import plainly

CONTROL = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")
"""Characters that YAML text may not contain (YAML 1.2 section 5.1, and no byte order mark inside the text)."""

Complaint: TypeAlias = tuple[Position, str, str]

_BREAKS = re.compile("\r\n|[\r\n\x85\u2028\u2029]")
_INDENT = "Indent with spaces; most editors can turn tabs into spaces."
_QUOTES = "Put the whole text in double quotes."


def lines_of(text: str) -> list[str]:
    """The lines of a text as the YAML parser counts them."""
    return _BREAKS.split(text)


def position_at(text: str, index: int) -> Position:
    """The position of the character number `index` (from 0)."""
    before = lines_of(text[:index])
    return Position(len(before), len(before[-1]) + 1)


def wrong_top(text: str, is_list: bool) -> tuple[str, str]:
    """What is wrong with a file whose top is a list or a plain text."""
    if is_list:
        return (
            "the file is a list; a site file has words with a colon at the left: `site:`, `nodes:` …",
            "Take out the dashes at the left, or start from `advisor new FILE` or `advisor ask FILE`.",
        )
    if re.search(r":\S", text):
        return (
            "the file reads as one plain text: a colon needs a space or a new line behind it",
            "Write `word: value`, with a space after the colon.",
        )
    return (
        "the file is one plain text; a site file has words with a colon at the left: `site:`, `nodes:` …",
        "`advisor ask FILE` makes one from your answers, `advisor new FILE` writes one to fill in.",
    )


def grammar_problem(error: yaml.MarkedYAMLError, text: str) -> Complaint:
    """One complaint of the parser: where, what is wrong, what to do."""
    lines = lines_of(text)
    problem = error.problem or ""
    mark = error.problem_mark or error.context_mark
    where = _position(mark) if mark else Position(0, 0)
    began = _position(error.context_mark) if error.context_mark else where
    line = _line(lines, where)
    if "\t" in line[: where.column] and not line[: where.column - 1].strip():
        return where, "a tab character where only spaces may stand", _INDENT
    if "mapping values are not allowed" in problem:
        return _unexpected_colon(lines, where)
    if "could not find expected ':'" in problem:
        return began, f"`{plainly(_line(lines, began).strip())}` has no colon", "Write `word: value` or `word:`."
    if "did not find expected key" in problem or "expected '-' indicator" in problem:
        return _unexpected_word(lines, where, "'-'" in problem)
    if "expected ',' or" in problem:
        bracket = problem[-2]
        return (
            where,
            f"`{'[' if bracket == ']' else '{'}` of line {began.line}, column {began.column} is not closed, "
            "or a comma is missing before this",
            f"Put a comma between the entries and `{bracket}` at the end.",
        )
    for words, what, help in _PLAIN:
        if words in problem:
            at_start = words == "unexpected end of stream" or "block scalar" in (error.context or "")
            return began if at_start else where, what.format(c=plainly(line[where.column - 1 : where.column])), help
    return (
        where,
        f"this cannot be read as YAML ({problem or 'no reason given'})",
        "Check the indentation, the colons and the quotes on this line and the one above.",
    )


_PLAIN = (
    ("maximum nesting", "far too many brackets or blocks inside one another", "Check that this is the right file."),
    ("unexpected end of stream", "the text in quotes that begins here is never closed", "Put the closing quote."),
    ("character that cannot start any token", "`{c}` cannot begin a word", _QUOTES),
    (
        "did not find expected node content",
        "`{c}` stands where a value is expected",
        "Write a value, or put the whole text in double quotes.",
    ),
    (
        "block sequence entries are not allowed",
        "a list with dashes cannot begin on this line",
        "Begin the list on the next line, or write it as [a, b].",
    ),
    ("unknown escape character", "an unknown escape after a backslash", r"In double quotes write \\ for a backslash."),
    ("hexdecimal", "an escape with too few digits after a backslash", r"In double quotes write \\ for a backslash."),
    (
        "invalid Unicode character escape",
        "an escape that is no character",
        r"In double quotes write \\ for a backslash.",
    ),
    ("expected alphabetic or numeric character", "`&` and `*` have a meaning of their own in YAML", _QUOTES),
    (
        "expected comment or line break",
        "text behind `|` or `>`",
        "Begin the text on the next line, or put the whole text in double quotes.",
    ),
    ("expected <document start>", "text after the end of the document", "Take out the line `...` above."),
    ("directive", "a line that begins with % is not read here", "Take it out, or put the text in quotes."),
    ("tab character", "a tab character where only spaces may stand", _INDENT),
    ("tag", "tags (`!word`) are not read here", "Take it out, or put the text in quotes."),
    ("URI", "tags (`!word`) are not read here", "Take it out, or put the text in quotes."),
    ("document indicator", "`---` or `...` inside a text in quotes", "Close the quotes before it."),
)


def _unexpected_colon(lines: list[str], where: Position) -> Complaint:
    """A colon that makes no pair: a second one on the line, a line above without one, or an odd indentation."""
    line = _line(lines, where)
    before = line[: where.column - 1]
    if re.search(r":\s", before.lstrip()):
        return where, "a second colon on this line", 'If it belongs to the value, put it in quotes: word: "a: b".'
    above_number = where.line - 1
    while above_number > 0 and not _bare(lines[above_number - 1]).strip():
        above_number -= 1
    if above_number < 1:
        return where, "a colon that does not belong to a word", "Write `word: value`."
    above = _bare(lines[above_number - 1])
    column = len(above) - len(above.lstrip()) + 1
    if not re.search(r":(\s|$)", above):
        return (
            Position(above_number, column),
            f"`{plainly(above.strip())}` has no colon",
            "Write `word: value` or `word:`.",
        )
    return (
        Position(where.line, len(line) - len(line.lstrip()) + 1),
        f"this line is indented deeper than line {above_number}, which already has its value",
        "Begin both in the same column, or take the value out of the line above.",
    )


def _unexpected_word(lines: list[str], where: Position, in_list: bool) -> Complaint:
    line = _line(lines, where)
    before = line[: where.column - 1].strip()
    if before.endswith(("'", '"')):
        return (
            where,
            "text behind a closing quote",
            "Put the whole text in one pair of double quotes; a ' inside '…' is written ''.",
        )
    if before:
        return (
            where,
            f"`{plainly(line[where.column - 1 :].strip())}` does not belong here",
            "Take it out, or put the whole text in double quotes.",
        )
    if in_list:
        return (
            where,
            "a list with dashes goes on here without a dash",
            "Begin the line with `- `, or indent it as before the list.",
        )
    if line.strip().startswith("- "):
        return (
            where,
            "a dash among words with a colon",
            "A list stands under a word of its own: `word:` on the line above.",
        )
    return (
        where,
        "this line is indented like no line above it",
        "Begin it in the same column as the lines it belongs with.",
    )


def _bare(line: str) -> str:
    """A line without its comment, by eye: good enough for a message."""
    return "" if line.lstrip().startswith("#") else line.split(" #")[0].rstrip()


def _line(lines: list[str], where: Position) -> str:
    return lines[where.line - 1] if 0 < where.line <= len(lines) else ""


def _position(mark: Any) -> Position:
    return Position(mark.line + 1, mark.column + 1)
