"""Edits in texts of any hand: what is wanted is read again, every other line and every comment stays."""

import pathlib
import random
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from advisor.site.edit import REMOVE, CannotEdit, Edit, Rename, applied, with_edits
from advisor.site.yaml_reader import Document, Path, read

PROFILES = sorted((pathlib.Path(__file__).parents[2] / "profiles").glob("*.yaml"))
COMMENT = re.compile(r"#c\d+")

SCALARS = ["1", "2.50", "true", "~", "word", "two words", "'it''s #1'", '"a: {b}, #2"', '"x\\n"', "a#b", "1.0", "x:y"]
WORDS = ["a", "bee", "'c c'", '"2.4"', "5", "dee-dee", "on", '"#k"', "x", "y", "zed"]


class Hand:
    """Writes a document as a person might, every comment with a number of its own."""

    def __init__(self, rng: random.Random) -> None:
        self.rng, self.parts, self.comments, self.anchors, self.count = rng, list[str](), 0, list[str](), 0
        self.many = rng.random() < 0.5
        """Whether there are many comments."""

    def out(self, text: str) -> None:
        self.parts.append(text)

    def chance(self, share: float) -> bool:
        return self.rng.random() < share

    def comment(self) -> str:
        self.comments += 1
        return f"#c{self.comments}" + self.rng.choice(["", " here", ": {a, b", " - 'x", ', "', " }]"])

    def end(self) -> None:
        """The end of a line, with a comment or without."""
        if self.chance(0.5 if self.many else 0.1):
            self.out(self.rng.choice([" ", "   "]) + self.comment())
        elif self.chance(0.1):
            self.out("  ")
        self.out("\n")

    def between(self, indent: int) -> None:
        while self.chance(0.3 if self.many else 0.1):
            self.out("\n" if self.chance(0.4) else " " * indent + self.comment() + "\n")

    def text(self, indent: int) -> None:
        self.out(self.rng.choice(["|", ">", "|-", ">-", "|+", ">+"]))
        self.end()
        for _ in range(self.rng.randint(1, 3)):
            self.out(" " * indent + self.rng.choice(["words", "more: # of it", "- x"]) + "\n")
            self.out("\n" * self.chance(0.2))

    def anchor(self) -> None:
        if self.chance(0.1):
            self.count += 1
            self.anchors.append(f"n{self.count}")
            self.out(f" &{self.anchors[-1]}")

    @contextmanager
    def not_inside_itself(self) -> Iterator[None]:
        """What carries the last anchor does not repeat it."""
        held, self.anchors = self.anchors, self.anchors[:-1]
        yield
        self.anchors = held + [one for one in self.anchors if one not in held]

    def value(self, indent: int, depth: int) -> None:
        """What stands behind a colon or a dash."""
        kind = self.rng.random()
        if self.anchors and kind < 0.1:
            self.out(f" *{self.rng.choice(self.anchors)}")
            self.end()
        elif kind < 0.4 or depth > 3:
            self.anchor()
            self.out(" " * self.rng.randint(1, 3) + self.rng.choice(SCALARS))
            self.end()
        elif kind < 0.45:
            self.out(f" one\n{' ' * (indent + 3)}two")
            self.end()
        elif kind < 0.5:
            self.end()
        elif kind < 0.75:
            self.anchor()
            self.out(" ")
            with self.not_inside_itself():
                self.flow(indent, depth + 1, self.chance(0.5))
            self.end()
        elif kind < 0.82:
            self.anchor()
            self.out(" ")
            self.text(indent + 2)
        elif kind < 0.93:
            self.anchor()
            self.end()
            with self.not_inside_itself():
                self.mapping(indent + self.rng.randint(1, 3), depth + 1)
        else:
            self.end()
            self.items(indent + self.rng.choice([0, 2]), depth + 1)

    def mapping(self, indent: int, depth: int, behind_dash: bool = False) -> None:
        for number, word in enumerate(self.rng.sample(WORDS, self.rng.randint(1 if indent else 2, 4))):
            if not (behind_dash and number == 0):
                self.between(indent)
                self.out(" " * indent)
            if not (behind_dash and number == 0) and self.chance(0.03):
                self.out("? ")  # the long way to write a key
                word += "\n" + " " * indent
            self.out(word + self.rng.choice([":", ":", " :"] if "\n" not in word else [":"]))
            self.value(indent, depth)

    def items(self, indent: int, depth: int, behind_dash: bool = False) -> None:
        for number in range(self.rng.randint(1, 4)):
            if not (behind_dash and number == 0):
                self.between(indent)
                self.out(" " * indent)
            self.out("-")
            kind = self.rng.random()
            if depth < 4 and kind < 0.3:
                self.out(" ")
                self.mapping(indent + 2, depth + 1, behind_dash=True)
            elif depth < 4 and kind < 0.4:
                self.out(" ")
                self.items(indent + 2, depth + 1, behind_dash=True)
            else:
                self.value(indent + 1, depth)

    def flow(self, indent: int, depth: int, lines: bool) -> None:
        """Braces or brackets on one line or several."""
        braces = self.chance(0.5)
        words = self.rng.sample(WORDS, self.rng.randint(0, 4))
        self.out("{" if braces else "[")
        self.flow_entries(words, indent, depth, braces, lines)
        self.out("}" if braces else "]")

    def flow_entries(self, words: list[str], indent: int, depth: int, braces: bool, lines: bool) -> None:
        for number, word in enumerate(words):
            self.space(indent + 2, lines)
            if braces:
                self.out(word)
                if self.chance(0.1):
                    word = ""
                else:
                    self.out(":" if '"' in word and self.chance(0.3) else ": ")
            if word:
                if depth < 4 and self.chance(0.25):
                    self.flow(indent + 2, depth + 1, lines and self.chance(0.5))
                elif self.anchors and self.chance(0.1):
                    self.out(f"*{self.rng.choice(self.anchors)} ")
                else:
                    self.out(self.rng.choice(SCALARS if braces or self.chance(0.9) else ["k: 1"]))
            if lines and self.chance(0.1):
                self.space(indent + 2, lines)
            if number < len(words) - 1 or self.chance(0.2):
                self.out(",")
        self.space(indent, lines)

    def space(self, indent: int, lines: bool) -> None:
        if lines and self.chance(0.6):
            self.end()
            self.between(indent)
            self.out(" " * indent)
        else:
            self.out(" " * self.chance(0.7))


def document(rng: random.Random) -> Document:
    """A document, with line ends of one kind or mixed, and with or without a byte order mark and a last line break."""
    hand = Hand(rng)
    hand.between(0)
    if rng.random() < 0.05:
        hand.out("{ one: 1 , ")
        hand.flow_entries(["two", "three", "'4'"], 0, 0, braces=True, lines=True)
        hand.out("}")
        hand.end()
    else:
        hand.mapping(0, 0)
    hand.between(0)
    text = "".join(hand.parts)
    ends = rng.choice([["\n"], ["\n"], ["\r\n"], ["\n", "\r\n"]])
    text = re.sub("\n", lambda _: rng.choice(ends), text)
    if rng.random() < 0.3:
        text = text.rstrip("\r\n")
    return read((("\ufeff" if rng.random() < 0.1 else "") + text).encode(), "made.yaml")


NEW: list[Any] = [7, 7.0, True, None, {}, [], "no", "it's: #1", [1, True, None], {"k": {"l": []}}, "a\nb", 1, "word"]


def holders(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every value with its path."""
    yield path, value
    below = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in below:
        yield from holders(item, (*path, key))


def an_edit(rng: random.Random, value: Any) -> Edit | Rename:
    path, here = rng.choice(list(holders(value)))
    kind = rng.random()
    if isinstance(here, dict) and (kind < 0.4 or not path):
        return Edit((*path, "new"), rng.choice(NEW))
    if isinstance(here, list) and kind < 0.4:
        return Edit((*path, len(here)), rng.choice(NEW))
    if isinstance(here, list) and kind < 0.5:
        at = rng.randint(0, len(here))
        return Edit(path, [*here[:at], "put in", *here[at:]])
    if kind < 0.75:
        return Edit(path, REMOVE)
    if kind < 0.85 and isinstance(path[-1], str):
        return Rename(path, rng.choice(["called", "no", "so: it"]))
    return Edit(path, rng.choice(NEW))


class Before:
    """Where things stand in the text before an edit, told by the places of the reader alone."""

    def __init__(self, document: Document, edit: Edit | Rename) -> None:
        self.document, self.text, self.edit = document, document.text, edit
        self.lines = self.text.splitlines(keepends=True)
        repeated = (edit.path[:size] for size in range(len(edit.path) + 1))
        alias = next((path for path in repeated if path in document.spots and document.spots[path].shared), None)
        self.path = alias or edit.path
        """An edit inside what is repeated is made where it is repeated."""
        self.goes = edit.path == self.path and isinstance(edit, Edit) and edit.value is REMOVE
        self.put_in = isinstance(edit, Edit) and isinstance(edit.value, list) and "put in" in edit.value and not alias
        self.there = self.path in document.spots
        self.parent = self.path[:-1]

    def line(self, at: int) -> int:
        return len(self.text[:at].splitlines()) - 1 + (at == 0 or self.text[at - 1] in "\r\n")

    def start(self, path: Path) -> int:
        if path in self.document.keys or not path:
            return self.document.keys.get(path, self.document.spots[path]).start
        before = re.sub(
            r"#[^\r\n]*", lambda found: " " * len(found.group()), self.text[: self.document.spots[path].start]
        )
        dash = before.rstrip()
        return len(dash) - 1 if dash.endswith("-") else self.document.spots[path].start

    def end(self, path: Path) -> int:
        """The last character of a value, or of its word and the colon."""
        ends = [self.own_end(other) for other in self.document.spots if other[: len(path)] == path]
        return max(end for end in ends if end is not None)

    def own_end(self, path: Path) -> int | None:
        spot, key = self.document.spots[path], self.document.keys.get(path)
        if path and self.document.spots[path[:-1]].shared:
            return None  # it stands elsewhere
        if spot.start == spot.end:
            colon = re.compile(r"\s*:").match(self.text, key.end) if key else None
            return colon.end() if colon else key.end if key else spot.end
        if spot.raw is None and not spot.shared and not self.bracketed(path):
            return None  # what it holds tells where it ends
        return len(self.text[: spot.end].rstrip())

    def bracketed(self, path: Path) -> bool:
        return bool(re.match(r"(?:&\w+(?:\s|#[^\r\n]*)*)?[{\[]", self.text[self.document.spots[path].start :]))

    def span(self, start: int, end: int) -> set[int]:
        return set(range(self.line(start), self.line(end) + 1))

    def told_elsewhere(self) -> set[int]:
        """Lines that change because of what stands in others."""
        found = set()
        for number, line in enumerate(self.lines):
            repeats = re.search(r"[*&]n\d", line)  # what is repeated is written out where it would change
            header = re.search(r"[|>][+-]?\s*(#|$)", line)  # a text is told that it ends without a line break
            blank = not line.strip() and re.search(r"[|>][+]", self.text)  # or would take the blank lines to itself
            if repeats or blank or (header and not self.text.endswith("\n")):
                found.add(number)
        return found

    def may_change(self) -> set[int]:
        """The lines that hold an edited value, or the comma or the brackets beside it."""
        path, found = self.path, self.told_elsewhere()
        if isinstance(self.edit, Rename):
            return found | self.span(self.start(path), self.start(path))
        inside = self.bracketed(path if self.put_in else self.parent)
        if self.put_in and not inside:  # a first item comes in at the dash of the one that was
            return found | self.span(self.start((*path, 0)), self.start((*path, 0)))
        if self.there:
            found |= self.span(self.start(path), self.end(path))
        if self.there and not self.goes:
            return found
        holder = self.document.spots[self.parent]
        siblings = [other for other in self.document.spots if other and other[:-1] == self.parent and other != path]
        before = [self.end(other) for other in siblings if not self.there or self.start(other) < self.start(path)]
        behind = [self.start(other) for other in siblings if self.there and self.start(other) > self.start(path)]
        if not inside and self.parent and self.bracketed(self.parent[:-1]):  # a pair in brackets gets braces
            return found | self.span(self.start(self.parent), self.end(self.parent))
        if not siblings:  # `{}` stands at the word, a first entry in its brackets
            found |= self.span(self.start(self.parent), holder.start)
        if inside and self.there:
            found |= self.span(max(before, default=holder.start), min(behind, default=holder.end))
        elif inside and before:
            found |= self.span(max(before), max(before))
        elif inside:
            found |= self.span(holder.start, holder.end)
        elif behind and not before:  # the next entry moves up behind a dash
            found |= self.span(self.start(path), min(behind))
        return found

    def may_go(self) -> set[str]:
        """The comments inside what goes or gives way, and behind it where nothing else stands on its lines."""
        path = self.path
        if isinstance(self.edit, Rename) or self.put_in or not self.there:
            return set()
        if not self.goes and self.document.spots[path].raw is not None:
            return set()
        start, end = self.start(path), self.end(path)
        found = set(COMMENT.findall(self.text[start:end]))
        before = self.text[:start].rpartition("\n")[2].strip(" \t-?,")
        if not before or not self.goes or "\n" in self.text[start:end] or isinstance(path[-1], str):
            found |= set(re.findall(r"^[ \t,:]*(#c\d+)", self.text[end:]))
        if self.goes:  # behind a comma on a line of its own
            found |= set(re.findall(r"^(?:\s|#[^\r\n]*)*,[ \t]*(#c\d+)", self.text[end:]))
        return found


def told(before: Document, edit: Edit | Rename, after: str) -> str:
    return f"{edit}\n--- before\n{before.text}\n--- after\n{after}"


def looked_at(before: Document, edit: Edit | Rename) -> Document | None:
    """The document after one edit, everything about it checked; None where the edit is refused."""
    wanted = applied(before.value, [edit])
    try:
        text = with_edits(before, [edit])
    except CannotEdit as error:
        assert error.lines
        return None
    after = read(text.encode(), "made.yaml")
    note = told(before, edit, after.text)
    assert repr(after.value) == repr(in_order(wanted, after.value)), note
    assert after.marked == before.marked
    place = Before(before, edit)
    free = place.may_change()
    stay = [line for number, line in enumerate(place.lines) if number not in free]
    if len(place.lines) - 1 not in free and not before.text.endswith("\n"):
        alike = [line for line in after.text.splitlines(keepends=True) if line.rstrip("\r\n") == stay[-1]]
        stay[-1] = alike[-1] if alike else stay[-1]
    lines = iter(after.text.splitlines(keepends=True))
    for line in stay:
        assert line in lines, f"gone: {line!r}\n{note}"
    comments, there = COMMENT.findall(before.text), COMMENT.findall(after.text)
    goes = place.may_go()
    assert [one for one in comments if one in there] == there, note
    assert set(comments) - set(there) <= goes, f"{set(comments) - set(there) - goes}\n{note}"
    return after


def in_order(value: Any, like: Any) -> Any:
    """A value with its keys in the order of another one: the order is no part of what is wanted."""
    if isinstance(value, dict) and isinstance(like, dict):
        keys = [key for key in like if key in value] + [key for key in value if key not in like]
        return {key: in_order(value[key], like.get(key)) for key in keys}
    if isinstance(value, list) and isinstance(like, list) and len(value) == len(like):
        return [in_order(a, b) for a, b in zip(value, like, strict=True)]
    return value


def run(rng: random.Random, first: Document, edits: int) -> tuple[int, int]:
    """Edits one after the other, and all at once: how many were made, how many refused."""
    here, made, refused = first, list[Edit | Rename](), 0
    for _ in range(edits):
        edit = an_edit(rng, here.value)
        try:
            applied(here.value, [edit])
        except CannotEdit:  # a name that is taken
            continue
        if edit.path[1:] == () and isinstance(edit, Edit) and edit.value is REMOVE and len(here.value) == 1:
            continue  # nothing would be left of the file
        after = looked_at(here, edit)
        if after is None:
            refused += 1
        else:
            here = after
            made.append(edit)
    try:
        at_once = read(with_edits(first, made).encode(), "made.yaml")
        assert at_once.value == here.value
    except CannotEdit:
        refused += 1
    return len(made), refused


@pytest.mark.parametrize("seed", range(20))
def test_any_edit_in_a_text_of_any_hand(seed: int) -> None:
    rng = random.Random(seed)
    made = refused = 0
    for _ in range(40):
        done, not_done = run(rng, document(rng), 4)
        made, refused = made + done, refused + not_done
    assert made > 120 and refused <= 1, (made, refused)


@pytest.mark.parametrize("file", PROFILES, ids=lambda file: file.stem)
def test_any_edit_in_an_example_site(file: pathlib.Path) -> None:
    rng = random.Random(file.stem)
    made = refused = 0
    for line_end in ("\n", "\r\n") * 4:
        text = file.read_text(encoding="utf-8").replace("\n", line_end)
        first, *rest = text.split("#")
        text = first + "".join(f"#c{number}{part}" for number, part in enumerate(rest, 1))
        done, not_done = run(rng, read(text.encode(), file.name), 4)
        made, refused = made + done, refused + not_done
    assert made > 20 and refused == 0, (made, refused)
