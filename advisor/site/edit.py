"""Edits to the text of a site file, spliced in at the positions of the parser that read it: comments, order and style
of everything else stay as they are. What was spliced is read again and must be what was wanted."""

from __future__ import annotations

import copy
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, NamedTuple

from advisor.errors import InputError
from advisor.site import yaml_out
from advisor.site.load import LoadedSite, load_text
from advisor.site.yaml_reader import Document, Path, Spot, read


class _Remove:
    def __repr__(self) -> str:
        return "REMOVE"


REMOVE: Final = _Remove()
"""Stands for a value that is to go."""


class Edit(NamedTuple):
    """A value at a path of the file, as plain YAML data, or REMOVE."""

    path: Path
    value: Any


class CannotEdit(Exception):
    """The text cannot be edited in a way that is proven; carries the lines to write by hand."""

    def __init__(self, lines: list[str]) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines
        self.told = "; ".join(lines)
        """The lines in one, for a sentence."""


class _Splice(NamedTuple):
    """Characters from start to end give way to a text."""

    start: int
    end: int
    text: str


def applied(value: Any, edits: Iterable[Edit]) -> Any:
    """Plain data with edits applied in order; mappings on the way are made, the input stays as it is."""
    result = copy.deepcopy(value)
    for edit in edits:
        here = result
        for step in edit.path[:-1]:
            if isinstance(here, dict) and here.get(step) is None:
                if edit.value is REMOVE:
                    break
                here[step] = {}
            here = here[step]
        else:
            if edit.value is not REMOVE:
                here[edit.path[-1]] = copy.deepcopy(edit.value)
            elif isinstance(here, dict):
                here.pop(edit.path[-1], None)
            else:
                del here[edit.path[-1]]
    return result


def with_edits(document: Document, edits: Iterable[Edit]) -> str:
    """The text with edits spliced in; raises CannotEdit where that cannot be proven to give what is wanted."""
    return spliced(document, applied(document.value, edits))


def edited(loaded: LoadedSite, edits: Iterable[Edit]) -> LoadedSite:
    """The site with edits spliced into its text and read again.

    Raises CannotEdit where the text cannot be edited, InputError where the edited site is not valid.
    """
    return load_text(with_edits(loaded.document, edits), loaded.file)


def spliced(document: Document, wanted: Any) -> str:
    """The text changed where its value differs from what is wanted."""
    by_hand = [f"{'.'.join(map(str, path))}: {_told(value)}" for path, value in _differences(document.value, wanted)]
    try:
        splices = sorted(_mapping(document, (), document.value, wanted), key=lambda splice: splice[:2])
        text = _cut(document.text, splices)
        sound = read(text.encode(), document.file).value == wanted
    except (InputError, KeyError, ValueError):
        sound = False
    if not sound:
        raise CannotEdit(by_hand)
    return text


def _told(value: Any) -> str:
    return "to be removed" if value is REMOVE else yaml_out.flow(value)


def _differences(before: Any, after: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    if isinstance(before, Mapping) and isinstance(after, Mapping):
        for key in before:
            if key not in after:
                yield (*path, key), REMOVE
        for key, value in after.items():
            if key not in before:
                yield (*path, key), value
            else:
                yield from _differences(before[key], value, (*path, key))
    elif before != after or type(before) is not type(after):
        yield path, after


def _cut(text: str, splices: list[_Splice]) -> str:
    parts, done = [], 0
    for splice in splices:
        if splice.start < done:
            raise ValueError("two edits at one place")
        parts += [text[done : splice.start], splice.text]
        done = splice.end
    return "".join([*parts, text[done:]])


def _mapping(document: Document, path: Path, before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[_Splice]:
    """What changes inside a mapping that stays one."""
    gone = [key for key in before if key not in after]
    new = {key: value for key, value in after.items() if key not in before}
    for key, value in before.items():
        if key in after:
            yield from _value(document, (*path, key), value, after[key])
    if gone or new:
        spot = document.spots[path]
        if spot.shared:
            raise KeyError(path)
        if document.text[spot.start : spot.start + 1] == "{":
            yield from _in_braces(document, path, list(before), gone, new)
        else:
            yield from _in_lines(document, path, list(before), gone, new)


def _value(document: Document, path: Path, before: Any, after: Any) -> Iterator[_Splice]:
    if isinstance(before, Mapping) and isinstance(after, Mapping) and before:
        yield from _mapping(document, path, before, after)
    elif before != after or type(before) is not type(after):
        spot = document.spots[path]
        if spot.shared:
            raise KeyError(path)
        end = max(_end(document, path), spot.start)
        space = " " if document.text[spot.start - 1 : spot.start] == ":" else ""
        yield _Splice(spot.start, end, space + yaml_out.flow(after))


def _end(document: Document, path: Path) -> int:
    """Where a value ends in the text; of a block, where its last value does, without what stands below it."""
    spot = document.spots[path]
    if spot.raw is not None or document.text[spot.start : spot.start + 1] in ("{", "["):
        return spot.end
    inside = [_end(document, other) for other in document.spots if len(other) == len(path) + 1 and other[:-1] == path]
    return max(inside, default=spot.end)


def _in_braces(
    document: Document, path: Path, keys: list[str], gone: list[str], new: Mapping[str, Any]
) -> Iterator[_Splice]:
    starts = [document.keys[(*path, key)].start for key in keys]
    ends = [_end(document, (*path, key)) for key in keys]
    kept = [number for number, key in enumerate(keys) if key not in gone]
    added = ", ".join(f"{yaml_out.scalar(key)}: {yaml_out.flow(value)}" for key, value in new.items())
    last = kept[-1] if kept else -1
    for number, key in enumerate(keys):
        if key in gone and number < last:
            yield _Splice(starts[number], starts[number + 1], "")
    if kept:
        yield _Splice(ends[last], ends[-1], f", {added}" if added else "")
    elif keys:
        yield _Splice(starts[0], ends[-1], added)
    else:
        opening = document.spots[path].start + 1
        yield _Splice(opening, opening, added)


def _in_lines(
    document: Document, path: Path, keys: list[str], gone: list[str], new: Mapping[str, Any]
) -> Iterator[_Splice]:
    text = document.text
    newline = "\r\n" if "\r\n" in text else "\n"
    spots = [document.keys[(*path, key)] for key in keys]
    for key, spot in zip(keys, spots, strict=True):
        if key in gone:
            start = _line_start(text, spot)
            yield _Splice(start, _line_end(text, _end(document, (*path, key))), "")
    if not new:
        if len(gone) == len(keys):
            raise KeyError(path)
        return
    if not path:
        lines = [line for key, value in new.items() for line in ("", *section(key, value))]
        opening = "" if text.endswith("\n") or not text else newline
        yield _Splice(len(text), len(text), opening + newline.join(lines) + newline)
        return
    indent = spots[0].position.column - 1
    lines = [line for key, value in new.items() for line in yaml_out.entry(key, value, indent)]
    at = _line_end(text, _end(document, (*path, keys[-1])))
    opening = "" if text[at - 1 : at] == "\n" else newline
    yield _Splice(at, at, opening + newline.join(lines) + newline)


def section(name: str, value: Any) -> list[str]:
    """A section of the file as lines: a line for each of its entries where they are mappings."""
    if not isinstance(value, Mapping) or not all(isinstance(item, Mapping) for item in value.values()):
        return yaml_out.entry(name, value, 0)
    return [f"{name}:", *(line for key, item in value.items() for line in yaml_out.entry(str(key), item, 2))]


def _line_start(text: str, spot: Spot) -> int:
    start = text.rfind("\n", 0, spot.start) + 1
    if text[start : spot.start].strip():
        raise KeyError("something stands before it on its line")
    return start


def _line_end(text: str, at: int) -> int:
    if text[at - 1 : at] == "\n":  # what is written over several lines ends where the next line begins
        return at
    end = text.find("\n", at)
    return len(text) if end < 0 else end + 1
