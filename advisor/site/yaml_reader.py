"""Read YAML as it is written, with the place of every key and value.

Plain words and numbers are read by the core schema of YAML 1.2 (section 10.3.2, from memory), not by the older one:
`no`, `on` and `12:30` stay text. What a person may have meant in two ways (`010`) is refused, never guessed. The
parser of libyaml gives the events, with their places; the values are built here, within limits on size, depth and
number, so that no file can use up memory or run code.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeAlias

import yaml

from advisor.errors import InputError, Position, Problem
from advisor.site.wording import capped, plainly, shown
from advisor.site.yaml_words import CONTROL, grammar_problem, position_at, wrong_top

MOST_BYTES = 1_000_000
MOST_LEVELS = 30
MOST_VALUES = 100_000
MOST_DIGITS = 40
BOM = b"\xef\xbb\xbf"

Path: TypeAlias = tuple[str | int, ...]
Value: TypeAlias = Any


class Spot(NamedTuple):
    """Where a key or a value stands and how it is written.

    `start` and `end` count characters in `Document.text`. `raw` is the scalar as written (None for blocks and lists);
    `plain` is true when it carries no quotes; `shared` when it came in through an alias, so that changing the text
    there would change other places too.
    """

    position: Position
    start: int
    end: int
    raw: str | None = None
    plain: bool = False
    shared: bool = False


@dataclass(frozen=True)
class Document:
    """One YAML document: its text, its value in plain Python types, and the spot of every value and every key.

    Paths are tuples of mapping keys (always text) and list indexes; `()` is the document itself.
    """

    file: str
    text: str
    value: Value
    spots: Mapping[Path, Spot]
    keys: Mapping[Path, Spot]
    marked: bool = False
    """True where the file begins with a byte order mark; the text is without it."""

    @property
    def written(self) -> str:
        """The text as it stands in the file, with its byte order mark."""
        return ("\ufeff" if self.marked else "") + self.text

    @property
    def positions(self) -> dict[Path, Position]:
        """The position of every value."""
        return {path: spot.position for path, spot in self.spots.items()}

    @property
    def key_positions(self) -> dict[Path, Position]:
        """The position of every mapping key."""
        return {path: spot.position for path, spot in self.keys.items()}


class _Scalar(NamedTuple):
    spot: Spot
    value: Value


class _List(NamedTuple):
    spot: Spot
    items: list[_Node]


class _Mapping(NamedTuple):
    spot: Spot
    items: dict[str, tuple[Spot, _Node]]


_Node: TypeAlias = _Scalar | _List | _Mapping


class _Refused(Exception):
    """Reading cannot go on; carries the one problem that stopped it."""

    def __init__(self, position: Position, what: str, help: str = "") -> None:
        self.problem = Problem(position, what, help)


def read(data: bytes, file: str) -> Document:
    """Read one YAML document whose top is a mapping; raises `InputError` with everything found wrong.

    A mistake in the grammar stops the reading where it stands; repeated keys, tags and ambiguous numbers are collected.
    """
    try:
        text = _text(data)
        builder = _Builder(text)
        root = builder.document()
        if builder.problems:
            raise InputError(file, capped(builder.problems))
        spots: dict[Path, Spot] = {}
        keys: dict[Path, Spot] = {}
        value = _expand(root, (), False, spots, keys)
    except _Refused as refused:
        raise InputError(file, [refused.problem]) from None
    return Document(file, text, value, spots, keys, data.startswith(BOM))


def _text(data: bytes) -> str:
    """The bytes as text: UTF-8, a byte order mark at the start left out, no control characters."""
    whole = Position(0, 0)
    if len(data) > MOST_BYTES:
        raise _Refused(
            whole,
            f"the file has {len(data):,} bytes; a site file has at most {MOST_BYTES:,}",
            "Check that this is the right file.",
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _Refused(whole, "the file is UTF-16 text", "Save it as UTF-8 in your editor.")
    if b"\0" in data:
        raise _Refused(whole, "this is a binary file, not text", "Give a site file: YAML text in UTF-8.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        good = error.object[: error.start].decode("utf-8")
        raise _Refused(
            position_at(good, len(good)),
            f"byte 0x{error.object[error.start]:02x} is not UTF-8 text",
            "Save the file as UTF-8 in your editor, or check that it is a text file.",
        ) from None
    odd = CONTROL.search(text)
    if odd:
        raise _Refused(
            position_at(text, odd.start()),
            f"control character U+{ord(odd.group()):04X} in the text",
            "Take it out; inside double quotes it can be written as an escape.",
        )
    return text


class _Builder:
    """Builds nodes from the parser's events."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.problems: list[Problem] = []
        self.anchors: dict[str, _Node | None] = {}
        self.count = 0
        self.parser = yaml.CSafeLoader(text)

    def document(self) -> _Mapping:
        try:
            self._next()  # start of the stream
            start = self._next()
            if isinstance(start, yaml.StreamEndEvent):
                raise _Refused(Position(0, 0), *self._nothing())
            root = self._node(self._next(), 1)
            self._next()  # end of the document
            after = self._next()
            if not isinstance(after, yaml.StreamEndEvent):
                raise _Refused(
                    _position(after.start_mark),
                    "a second document begins here; a site file is one document",
                    "Take out the line `---`, or put the second site in a file of its own.",
                )
        finally:
            self.parser.dispose()
        if not isinstance(root, _Mapping):
            if isinstance(root, _Scalar) and root.value is None:
                raise _Refused(Position(0, 0), *self._nothing())
            raise _Refused(root.spot.position, *wrong_top(self.text, isinstance(root, _List)))
        return root

    def _nothing(self) -> tuple[str, str]:
        what = "the file holds only comments" if self.text.strip() else "the file is empty"
        return what, "`advisor ask FILE` makes one from your answers, `advisor new FILE` writes one to fill in."

    def _next(self) -> Any:
        try:
            return self.parser.get_event()
        except yaml.MarkedYAMLError as error:
            raise _Refused(*grammar_problem(error, self.text)) from None
        except yaml.YAMLError:
            raise _Refused(Position(0, 0), "this cannot be read as YAML text", "Save the file as UTF-8.") from None

    def _node(self, event: Any, level: int) -> _Node:
        if level > MOST_LEVELS:
            raise _Refused(
                _position(event.start_mark),
                f"more than {MOST_LEVELS} levels inside one another",
                "A site file needs about six; look for a bracket or an indentation too many.",
            )
        self.count += 1
        if self.count > MOST_VALUES:
            raise _Refused(
                _position(event.start_mark),
                f"more than {MOST_VALUES:,} values in one file",
                "Check that this is the right file.",
            )
        if isinstance(event, yaml.AliasEvent):
            return self._alias(event)
        if event.tag is not None:
            self._problem(
                event.start_mark,
                f"the tag {shown(event.tag)} is not read here",
                "Take it out; text that looks like a number goes in quotes.",
            )
        if event.anchor is not None:
            self.anchors[event.anchor] = None
        if isinstance(event, yaml.ScalarEvent):
            node: _Node = self._scalar(event)
        elif isinstance(event, yaml.SequenceStartEvent):
            node = self._list(event, level)
        else:
            node = self._mapping(event, level)
        if event.anchor is not None:
            self.anchors[event.anchor] = node
        return node

    def _alias(self, event: Any) -> _Node:
        name = plainly(event.anchor)
        if event.anchor not in self.anchors:
            raise _Refused(
                _position(event.start_mark),
                f"`*{name}` refers to an anchor that is not above it",
                f"Put `&{name}` before the value it should repeat, or quotes around the text.",
            )
        node = self.anchors[event.anchor]
        if node is None:
            raise _Refused(
                _position(event.start_mark),
                f"`*{name}` stands inside the very value it repeats",
                "A value cannot contain itself; write it out.",
            )
        here = node.spot._replace(
            position=_position(event.start_mark), start=event.start_mark.index, end=event.end_mark.index, shared=True
        )
        return node._replace(spot=here)

    def _scalar(self, event: Any) -> _Scalar:
        plain = event.style not in _QUOTED
        spot = Spot(_position(event.start_mark), event.start_mark.index, event.end_mark.index, event.value, plain)
        if not plain:
            return _Scalar(spot, event.value)
        try:
            return _Scalar(spot, plain_value(event.value))
        except ValueError as error:
            what, help = error.args
            self._problem(event.start_mark, what, help)
            return _Scalar(spot, None)

    def _list(self, event: Any, level: int) -> _List:
        items: list[_Node] = []
        while not isinstance(inner := self._next(), yaml.SequenceEndEvent):
            items.append(self._node(inner, level + 1))
        return _List(_spot(event, inner, items), items)

    def _mapping(self, event: Any, level: int) -> _Mapping:
        items: dict[str, tuple[Spot, _Node]] = {}
        while not isinstance(inner := self._next(), yaml.MappingEndEvent):
            key = self._key(inner)
            name = key.raw or ""
            value = _after_colon(inner, self._node(self._next(), level + 1))
            if name in items:
                first = items[name][0].position
                self.problems.append(
                    Problem(
                        key.position,
                        f"{shown(name)} is here a second time; it was given on line {first.line}, "
                        f"column {first.column}",
                        "Keep one of the two.",
                    )
                )
            else:
                items[name] = (key, value)
        return _Mapping(_spot(event, inner, [node for _, node in items.values()]), items)

    def _key(self, event: Any) -> Spot:
        start, end = event.start_mark, event.end_mark
        if not isinstance(event, yaml.ScalarEvent):
            raise _Refused(
                _position(start), "a word is expected before the colon, not a list or a block", "Write `word: value`."
            )
        plain = event.style not in _QUOTED
        if event.tag is not None or event.anchor is not None:
            self._problem(event.start_mark, "tags and anchors are not read before a colon", "Take it out.")
        if plain and event.value == "<<":
            self._problem(
                event.start_mark,
                "`<<` (merging one block into another) is not read here",
                "Write the entries out; a whole value can be repeated with `&name` and `*name`.",
            )
        return Spot(_position(start), start.index, end.index, event.value, plain)

    def _problem(self, mark: Any, what: str, help: str) -> None:
        self.problems.append(Problem(_position(mark), what, help))


_QUOTED = ("'", '"', "|", ">")
_INTEGER = re.compile(r"[-+]?[0-9]+")
_NUMBER = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
_LEADING_ZERO = re.compile(r"[-+]?0[0-9]")
_NOT_A_NUMBER = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")
_WORDS: dict[str, bool | None] = {
    "": None,
    "~": None,
    "null": None,
    "Null": None,
    "NULL": None,
    "true": True,
    "True": True,
    "TRUE": True,
    "false": False,
    "False": False,
    "FALSE": False,
}


def plain_value(text: str) -> str | int | float | bool | None:
    """A scalar without quotes, read by the core schema of YAML 1.2.

    Raises ValueError(what, help) for numbers that could be meant in two ways or have no value.
    Whole numbers stay whole however they are written: `1e3` is 1000.

    >>> plain_value("no"), plain_value("12:30"), plain_value("0x1F"), plain_value("1e3"), plain_value("2.4")
    ('no', '12:30', '0x1F', 1000, 2.4)
    """
    if text in _WORDS:
        return _WORDS[text]
    if _NOT_A_NUMBER.fullmatch(text):
        raise ValueError(
            f"{text} is not a number one can compute with", f'Give a number, or "{text}" in quotes if it is text.'
        )
    if not _NUMBER.fullmatch(text):
        return text
    if len(text) > MOST_DIGITS:
        raise ValueError(f"a number of {len(text)} characters", "Give a shorter number, or put quotes around text.")
    if _LEADING_ZERO.match(text):
        without = re.sub(r"^([-+]?)0+(?=[0-9])", r"\1", text)
        raise ValueError(f"{text} can be read in two ways", f'Write {without} for the number, "{text}" for text.')
    if _INTEGER.fullmatch(text):
        return int(text)
    number = float(text)
    if number in (float("inf"), float("-inf")):
        raise ValueError(f"{text} is too large a number", f'Give a smaller number, or "{text}" in quotes.')
    if "." not in text and number.is_integer() and abs(number) < 2**53:
        return int(number)
    return number


def _expand(node: _Node, path: Path, shared: bool, spots: dict[Path, Spot], keys: dict[Path, Spot]) -> Value:
    """The plain value of a node, aliases written out; fills in the spots of everything below `path`."""
    if len(spots) >= MOST_VALUES:
        raise _Refused(
            node.spot.position,
            f"more than {MOST_VALUES:,} values once every `*alias` is written out",
            "Write out what is meant; repeat only single values by alias.",
        )
    if len(path) >= MOST_LEVELS:
        raise _Refused(
            node.spot.position,
            f"more than {MOST_LEVELS} levels once every `*alias` is written out",
            "A site file needs about six.",
        )
    shared = shared or node.spot.shared
    spots[path] = node.spot._replace(shared=True) if shared else node.spot
    if isinstance(node, _Scalar):
        return node.value
    if isinstance(node, _List):
        return [_expand(item, (*path, index), shared, spots, keys) for index, item in enumerate(node.items)]
    value = {}
    for name, (key, item) in node.items.items():
        below = (*path, name)
        keys[below] = key._replace(shared=True) if shared else key
        value[name] = _expand(item, below, shared, spots, keys)
    return value


def _position(mark: Any) -> Position:
    return Position(mark.line + 1, mark.column + 1)


def _spot(start: Any, end: Any, inside: list[_Node]) -> Spot:
    """The spot of a list or a mapping; one without brackets ends where its last value ends, not at the next word."""
    last: int = inside[-1].spot.end if inside and not start.flow_style else end.end_mark.index
    return Spot(_position(start.start_mark), start.start_mark.index, last)


def _after_colon(key: Any, node: _Node) -> _Node:
    """A value that is not there is placed behind the colon of its key, not at the next word of the file."""
    if not (isinstance(node, _Scalar) and node.spot.raw == "" and node.spot.plain and node.spot.start == node.spot.end):
        return node  # an anchor or an alias stands in the text, though its value is empty
    here = key.end_mark.index + 1
    position = Position(key.end_mark.line + 1, key.end_mark.column + 2)
    return node._replace(spot=node.spot._replace(position=position, start=here, end=here))
