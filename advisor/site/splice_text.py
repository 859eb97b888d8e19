"""Where things stand in the text of a YAML document: lines, entries with their commas and dashes, ends of values."""

from __future__ import annotations

import re
from bisect import bisect_right
from typing import NamedTuple

from advisor.site.yaml_reader import Document, Path, Spot


class Splice(NamedTuple):
    """Characters from start to end give way to a text."""

    start: int
    end: int
    text: str


class Unclear(Exception):
    """The text cannot be cut there in a way that is proven."""


class Entry(NamedTuple):
    """An entry of a mapping or an item of a list: from its key, its dash or its value to the end of its value."""

    start: int
    end: int
    comma: int | None
    """Where the comma behind it stands, in braces and brackets."""


BREAKS = "\r\n\x85\u2028\u2029"
_BREAK = re.compile(f"\r\n|[{BREAKS}]")
_GAP = re.compile(f"(?:[ \t{BREAKS}]|#[^{BREAKS}]*)*")
_COLON = re.compile(rf"[ \t{BREAKS}]*:")
_ANCHOR = re.compile(r"&[\w-]+")
_ANCHOR_AHEAD = re.compile(r"[ \t]*&[\w-]+")
_HEADER = re.compile(r"[|>][-+0-9]*")


class Text:
    """One document, and where its parts stand."""

    def __init__(self, document: Document) -> None:
        self.document, self.text = document, document.text
        self.begins = [0, *(found.end() for found in _BREAK.finditer(self.text))]
        self.children: dict[Path, list[Path]] = {}
        self._ends: dict[Path, int] = {}
        for path in document.spots:
            if path:
                self.children.setdefault(path[:-1], []).append(path)

    # lines

    def begin(self, at: int) -> int:
        """Where the line begins."""
        return self.begins[bisect_right(self.begins, at) - 1]

    def after(self, at: int) -> int:
        """Where the next line begins, or the end of the text."""
        number = bisect_right(self.begins, at)
        return self.begins[number] if number < len(self.begins) else len(self.text)

    def line_end(self, at: int) -> int:
        """Where the line ends, before its line break."""
        after = self.after(at)
        return max(at, self.begin(at) + len(self.text[self.begin(at) : after].rstrip(BREAKS)))

    def column(self, at: int) -> int:
        return at - self.begin(at)

    def first_on_line(self, at: int) -> bool:
        return not self.text[self.begin(at) : at].strip(" \t")

    def broken(self, start: int, end: int) -> bool:
        """Whether a line ends between two places."""
        return self.begin(start) != self.begin(end)

    def newline(self, at: int) -> str:
        """The line break used there, else the one before, else that of most files."""
        found = _BREAK.search(self.text, at) or _BREAK.search(self.text)
        return found.group() if found else "\n"

    def gap(self, at: int) -> int:
        """The next character that is neither space nor line break nor comment."""
        found = _GAP.match(self.text, at)
        return found.end() if found else at

    # values

    def spot(self, path: Path) -> Spot:
        return self.document.spots[path]

    def anchored(self, path: Path) -> bool:
        spot = self.spot(path)
        return not spot.shared and spot.end > spot.start and self.text[spot.start] == "&"

    def body(self, path: Path) -> int:
        """Where a value begins, behind its anchor."""
        start = self.spot(path).start
        if not self.anchored(path):
            return start
        found = _ANCHOR.match(self.text, start)
        behind = found.end() if found else start
        return behind if self.empty(path) else self.gap(behind)

    def empty(self, path: Path) -> bool:
        """Whether there is no text of a value (null)."""
        spot = self.spot(path)
        return spot.raw == "" and spot.plain and not spot.shared

    def holder(self, path: Path) -> bool:
        """Whether it is a mapping or a list."""
        return self.spot(path).raw is None and not self.spot(path).shared

    def bracketed(self, path: Path) -> bool:
        return self.holder(path) and self.text[self.body(path)] in "{["

    def lines_of_text(self, path: Path) -> str:
        """The header of a text over several lines, such as `|-`; else nothing."""
        spot = self.spot(path)
        if spot.shared or spot.raw is None or spot.plain:
            return ""
        found = _HEADER.match(self.text, self.body(path))
        return found.group() if found else ""

    def after_word(self, path: Path) -> int:
        """Behind the colon of a key, or the dash of an item, and its anchor: where a value on that line would begin."""
        if self.anchored(path):
            found = _ANCHOR.match(self.text, self.spot(path).start)
        elif isinstance(path[-1], int):
            return next(entry.start for own, entry in self._entries(path[:-1]) if own == path) + 1
        else:
            found = _COLON.match(self.text, self.document.keys[path].end)
            ahead = _ANCHOR_AHEAD.match(self.text, found.end()) if found else None
            found = ahead or found
        if not found:
            raise Unclear("no colon was found")
        return found.end()

    def hole(self, path: Path) -> tuple[int, str]:
        """Where the value of an empty word would stand, and what comes before it."""
        if self.anchored(path):
            return self.body(path), " "
        if isinstance(path[-1], int):
            return self.spot(path).start, " "
        end = self.document.keys[path].end
        found = _COLON.match(self.text, end)
        return (found.end(), " ") if found else (end, ": ")

    def end(self, path: Path) -> int:
        """Where a value ends; of a block, where its last value does, without what stands below it."""
        if path not in self._ends:
            self._ends[path] = self._end(path)
        return self._ends[path]

    def _end(self, path: Path) -> int:
        spot = self.spot(path)
        if self.empty(path):
            return self.hole(path)[0]
        if self.lines_of_text(path):
            body = self.body(path)
            return max(body + len(self.text[body : spot.end].rstrip(BREAKS + " \t")), self.line_end(body))
        if spot.shared or spot.raw is not None or self.bracketed(path):
            return spot.end
        inside = [self.end(child) for child in self.children.get(path, ())]
        words = [self.document.keys[child].end for child in self.children.get(path, ()) if child in self.document.keys]
        return max([*inside, *words], default=spot.end)

    def last(self, path: Path) -> Path:
        """The value a block ends with."""
        while self.holder(path) and not self.bracketed(path) and self.children.get(path):
            path = self.children[path][-1]
        return path

    def below(self, path: Path) -> int:
        """Where a line could come in under a value: the next line, below the blank ones a text may own."""
        last = self.last(path)
        if "+" in self.lines_of_text(last):
            return self.after(self.end(path)) if self.spot(last).end <= self.end(path) else self.spot(last).end
        return self.after(self.end(path))

    # entries

    def entries(self, path: Path) -> list[Entry]:
        """The entries of a mapping or the items of a list, in order."""
        return [entry for _, entry in self._entries(path)]

    def _entries(self, path: Path) -> list[tuple[Path, Entry]]:
        found: list[tuple[Path, Entry]] = []
        inside = self.bracketed(path)
        at = self.body(path) + inside
        for child in self.children.get(path, ()):
            start = self.gap(at)
            word = self.document.keys.get(child, self.spot(child)).start
            if start > word or (start < word and not inside and self.text[start] not in "?-"):
                raise Unclear("an entry begins where nothing was expected")
            at = self.end(child)
            if child in self.document.keys:
                at = max(at, self.document.keys[child].end)
            end, comma = at, None
            if inside:
                behind = self.gap(at)
                if self.text[behind : behind + 1] == ",":
                    comma, at = behind, behind + 1
            found.append((child, Entry(start, end, comma)))
        return found
