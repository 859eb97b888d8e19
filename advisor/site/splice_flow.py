"""Entries that go out of braces or brackets, and some that come in, on one line or several."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from advisor.site.splice_text import Entry, Splice, Text
from advisor.site.yaml_reader import Path


def in_brackets(
    text: Text, path: Path, entries: Sequence[Entry], kept: Sequence[bool], added: Mapping[int, Sequence[str]]
) -> Iterator[Splice]:
    """What is not kept goes, with its comma and its own comment; `added` comes behind the entry of its number (-1: at
    the head)."""
    opening, close = text.body(path) + 1, text.spot(path).end - 1
    if not entries:
        told = ", ".join(new for news in added.values() for new in news)
        yield Splice(opening, opening, told + " " * (text.text[opening] == "#"))
        return
    if not any(kept):
        told = ", ".join(new for news in added.values() for new in news)
        if told:  # the first entry gives way to what comes
            yield Splice(entries[0].start, entries[0].end, told)
            kept, added = [True, *kept[1:]], {}
        elif not any("#" in gap for gap in _gaps(text, entries, opening, close)):
            yield Splice(opening, close, "")
            return
    last = max((number for number, stays in enumerate(kept) if stays), default=-1)
    comma_needed = False
    for behind, news in added.items():
        if not news:
            continue
        if behind < 0:
            yield Splice(entries[0].start, entries[0].start, "".join(f"{new}, " for new in news))
        elif _on_lines_of_its_own(text, entries[behind]):
            comma_needed = comma_needed or behind == last
            yield from _lines(text, entries, behind, last, news)
        else:
            yield Splice(entries[behind].end, entries[behind].end, "".join(f", {new}" for new in news))
    yield from _gone(text, entries, kept, last, comma_needed)


def _gaps(text: Text, entries: Sequence[Entry], opening: int, close: int) -> Iterator[str]:
    """What stands between entries."""
    starts = [*(entry.start for entry in entries), close]
    ends = [opening, *(entry.end for entry in entries)]
    return (text.text[end:start] for end, start in zip(ends, starts, strict=True))


def _on_lines_of_its_own(text: Text, entry: Entry) -> bool:
    behind = entry.end if entry.comma is None else entry.comma + 1
    if text.broken(entry.end, behind) or not text.first_on_line(entry.start):
        return False
    rest = text.text[behind : text.line_end(behind)].strip()
    return not rest or rest.startswith("#")


def _lines(text: Text, entries: Sequence[Entry], behind: int, last: int, news: Sequence[str]) -> Iterator[Splice]:
    """New entries on lines of their own, indented as their neighbour."""
    entry = entries[behind]
    indent = text.text[text.begin(entry.start) : entry.start]
    if entry.comma is None:
        yield Splice(entry.end, entry.end, ",")
    no_comma_last = behind == last and entries[-1].comma is None
    told = [f"{indent}{new}," for new in news]
    if no_comma_last:
        told[-1] = told[-1][:-1]
    at = text.after(entry.end if entry.comma is None else entry.comma)
    newline = text.newline(entry.end)
    yield Splice(at, at, newline.join(told) + newline)


def _gone(
    text: Text, entries: Sequence[Entry], kept: Sequence[bool], last: int, comma_needed: bool
) -> Iterator[Splice]:
    """What goes, put together where only spaces are between."""
    cuts: list[tuple[int, int, bool]] = []
    for number, entry in enumerate(entries):
        if kept[number]:
            continue
        if entry.comma is None:
            cuts.append((entry.start, entry.end, True))
        elif text.text[entry.end : entry.comma].strip(" \t"):
            cuts += [(entry.start, entry.end, True), (entry.comma, entry.comma + 1, False)]
        else:
            cuts.append((entry.start, entry.comma + 1, True))
    tail = entries[last + 1 :]
    if last >= 0 and tail and tail[-1].comma is None and not comma_needed:
        comma = entries[last].comma
        between = [] if comma is None else list(_gaps(text, tail, comma, tail[-1].end))[:-1]
        if comma is not None and not any("#" in gap for gap in between):
            cuts = [one for one in cuts if one[0] < comma]
            yield _tail(text, comma, tail[-1].end)
    joined: list[tuple[int, int, bool]] = []
    for start, end, whole in cuts:
        if joined and not text.text[joined[-1][1] : start].strip(" \t"):
            start, _, before = joined.pop()
            whole = whole or before
        joined.append((start, end, whole))
    for start, end, whole in joined:
        yield _line_or_part(text, start, end, whole)


def _tail(text: Text, comma: int, end: int) -> Splice:
    """From the comma before the last entries to their end, with their comment if the line is theirs alone."""
    rest = text.text[end : text.line_end(end)]
    if text.first_on_line(comma) and (not rest.strip() or rest.strip().startswith("#")):
        return Splice(text.begin(comma), text.after(end), "")
    if text.broken(comma, end) and (not rest.strip() or rest.strip().startswith("#")):
        return Splice(comma, text.line_end(end), "")
    return Splice(comma, end, "")


def _line_or_part(text: Text, start: int, end: int, whole: bool) -> Splice:
    """The line where nothing else stands on it; else the part and the spaces beside it."""
    line_end = text.line_end(end)
    rest = text.text[end:line_end]
    bare = not rest.strip()
    if text.first_on_line(start) and (bare or (whole and rest.strip().startswith("#"))):
        return Splice(text.begin(start), text.after(end), "")
    if bare:
        before = text.text[text.begin(start) : start]
        return Splice(start - (len(before) - len(before.rstrip(" \t"))), line_end, "")
    if rest.strip().startswith("#"):
        return Splice(start, end, "")
    return Splice(start, end + len(rest) - len(rest.lstrip(" \t")), "")
