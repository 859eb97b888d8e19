"""Entries of a block that go, and lines that come in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from advisor.site.splice_text import BREAKS, Entry, Splice, Text, Unclear
from advisor.site.yaml_reader import Path


def gone(text: Text, entries: Sequence[Entry], kept: Sequence[bool]) -> Iterator[Splice]:
    """The lines of what is not kept; the first may stand behind a dash."""
    skipped = 0
    if entries and not kept[0] and not text.first_on_line(entries[0].start):
        follower = next((number for number, stays in enumerate(kept) if stays), None)
        if follower is None:
            raise Unclear("something stands before it on its line")
        start = entries[0].start
        lines = [text.line_end(entry.end) for entry in entries[:follower]]
        begins = [text.begin(entry.start) for entry in entries[1 : follower + 1]]
        if not any("#" in text.text[end:begin] for end, begin in zip(lines, begins, strict=True)):
            yield Splice(start, entries[follower].start, "")
            skipped = follower
        else:
            before = text.text[text.begin(start) : start]
            yield Splice(start - (len(before) - len(before.rstrip(" \t"))), text.line_end(entries[0].end), "")
            skipped = 1
    for number in range(skipped, len(entries)):
        if not kept[number]:
            yield lines_of(text, entries[number])


def lines_of(text: Text, entry: Entry) -> Splice:
    """The lines of one entry, with the comment at their end."""
    if not text.first_on_line(entry.start):
        raise Unclear("something stands before it on its line")
    start, end = text.begin(entry.start), text.after(entry.end)
    if _owns_blank_lines(text, start):
        while end < len(text.text) and not text.text[end : text.after(end)].strip():
            end = text.after(end)
    return Splice(start, end, "")


def _owns_blank_lines(text: Text, at: int) -> bool:
    """Whether a text that keeps the blank lines below it ends there."""
    return any(
        spot.end == at and not spot.shared and "+" in text.lines_of_text(path)
        for path, spot in text.document.spots.items()
        if spot.raw is not None and not spot.plain
    )


def under(text: Text, at: int, near: int, lines: Sequence[str], last_stays: bool = True) -> Splice:
    """Lines of their own at a place where a line begins, or at the end of the text, whose last line may go."""
    newline = text.newline(near)
    opening = newline if at and text.text[at - 1] not in BREAKS and last_stays else ""
    return Splice(at, at, opening + newline.join(lines) + newline)


def onto_word(text: Text, path: Path, told: str) -> Iterator[Splice]:
    """A block gives way to a value behind its word or dash; comments on lines of their own stay."""
    entries = text.entries(path)
    at = text.after_word(path)
    if not text.broken(at, entries[0].start):
        yield Splice(at, text.line_end(entries[0].end), f" {told}")
        entries = entries[1:]
    else:
        yield Splice(at, at, f" {told}")
    for entry in entries:
        yield lines_of(text, entry)


def text_of_lines(text: Text, path: Path, told: str) -> Iterator[Splice]:
    """A text over several lines gives way to a value; a comment behind its header stays."""
    body = text.body(path)
    yield Splice(body, body + len(text.lines_of_text(path)), told)
    header_end = text.line_end(body)
    if text.end(path) > header_end:
        yield Splice(header_end, text.end(path), "")


def no_line_break_at_end(text: Text, found: Sequence[Splice]) -> Iterator[Splice]:
    """Where the file ends in a text without a line break and something comes below, the text is told to have none."""
    whole = text.text
    last = text.last(())
    header = text.lines_of_text(last)
    if not header or not whole or whole[-1] in BREAKS or "-" in header or text.end(last) < len(whole.rstrip(" \t")):
        return
    start, at = text.spot(last).start, len(whole)
    if any(splice.start < at and splice.end > start for splice in found):
        return
    if any(splice.start == at for splice in found):
        body = text.body(last)
        yield Splice(body, body + len(header), header.replace("+", "") + "-")
