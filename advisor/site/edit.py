"""Edits to the text of a site file, spliced in at the positions of the parser that read it: comments, order and style
of everything else stay as they are. What was spliced is read again and must be what was wanted."""

from __future__ import annotations

import copy
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, NamedTuple, TypeAlias

from advisor.errors import InputError
from advisor.site import matching, yaml_out
from advisor.site.load import LoadedSite, load_text
from advisor.site.matching import Block, Row, same
from advisor.site.splice_text import Unclear
from advisor.site.splices import cut, section, splices
from advisor.site.yaml_reader import Document, Path, read


class _Remove:
    def __repr__(self) -> str:
        return "REMOVE"

    def __reduce__(self) -> str:
        """There is one of it, also when it comes from another process."""
        return "REMOVE"


REMOVE: Final = _Remove()
"""Stands for a value that is to go."""


class Edit(NamedTuple):
    """A value at a path of the file, as plain YAML data, or REMOVE."""

    path: Path
    value: Any


class Rename(NamedTuple):
    """The word at a path is to be called otherwise; its entry stays where it is. What refers to it is not looked at."""

    path: Path
    new: str


Change: TypeAlias = Edit | Rename


class CannotEdit(Exception):
    """The text cannot be edited in a way that is proven; carries the lines to write by hand."""

    def __init__(self, lines: list[str]) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines
        self.told = "; ".join(lines)
        """The lines in one, for a sentence."""


def applied(value: Any, edits: Iterable[Change]) -> Any:
    """Plain data with edits applied in order; mappings on the way are made, the input stays as it is.

    Raises CannotEdit where a path leads through a single value or past the end of a list, or a new name is taken.
    """
    return matching.plain(_followed(value, edits))


def _followed(value: Any, edits: Iterable[Change]) -> Any:
    result = matching.followed(value)
    for edit in edits:
        if not edit.path:
            raise CannotEdit(["the file as a whole is not changed by an edit; name an entry in it"])
        here = result
        for depth, step in enumerate(edit.path[:-1]):
            if isinstance(here, dict) and here.get(step) is None:
                if isinstance(edit, Rename) or edit.value is REMOVE:
                    break
                here[str(step)] = {}
            if not _has(here, step):
                raise _nothing_there(edit.path, depth, here)
            here = here[step]
        else:
            if isinstance(edit, Rename):
                _rename(here, edit)
            else:
                _set(here, edit)
            continue
        if isinstance(edit, Rename):
            raise CannotEdit([f"{_dotted(edit.path)} is not in the file, so it cannot be renamed"])
    return result


def _has(here: Any, step: str | int) -> bool:
    if isinstance(here, list):
        return isinstance(step, int) and 0 <= step < len(here)
    return isinstance(here, dict) and step in here


def _nothing_there(path: Path, depth: int, here: Any) -> CannotEdit:
    """A plain sentence about a path that cannot be followed at one of its steps."""
    holder, step = _dotted(path[:depth]) or "the file", path[depth]
    if isinstance(here, list):
        what = f"{holder} is a list of {len(here)}"
        wrong = f"it has no item {step}" if isinstance(step, int) else f"`{step}` cannot stand in it"
    else:
        if isinstance(here, dict):
            return CannotEdit([f"{_dotted(path)} cannot be changed: {holder} is a block of entries, not a list"])
        what, wrong = f"{holder} is {yaml_out.flow(here)}, a single value", f"`{step}` cannot stand in it"
    return CannotEdit([f"{_dotted(path)} cannot be changed: {what}, so {wrong}"])


def _set(here: Any, edit: Edit) -> None:
    last, value = edit.path[-1], copy.deepcopy(edit.value)
    if isinstance(here, dict) and isinstance(last, str):
        if edit.value is REMOVE:
            here.pop(last, None)
            if isinstance(here, Block):
                here.renames.pop(last, None)
        else:
            here[last] = value
    elif _has(here, last):
        if edit.value is not REMOVE:
            here[last] = value
            return
        del here[last]
        if isinstance(here, Row):
            del here.origins[int(last)]
    elif isinstance(here, list) and last == len(here) and edit.value is not REMOVE:
        here.append(value)
        if isinstance(here, Row):
            here.origins.append(None)
    else:
        raise _nothing_there(edit.path, len(edit.path) - 1, here)


def _rename(here: Any, edit: Rename) -> None:
    old, new = edit.path[-1], edit.new
    if not isinstance(here, dict) or old not in here:
        raise CannotEdit([f"{_dotted(edit.path)} is not in the file, so it cannot be renamed"])
    if new == old:
        return
    if new in here:
        taken = _dotted((*edit.path[:-1], new))
        raise CannotEdit([f"{_dotted(edit.path)} cannot be renamed: there is {taken} already"])
    entries = [(new if key == old else key, item) for key, item in here.items()]
    here.clear()
    here.update(entries)
    if isinstance(here, Block):
        here.renames[new] = here.renames.pop(str(old), str(old))


def _dotted(path: Path) -> str:
    return ".".join(map(str, path))


def with_edits(document: Document, edits: Iterable[Change]) -> str:
    """The text with edits spliced in; raises CannotEdit where that cannot be proven to give what is wanted."""
    return spliced(document, _followed(document.value, edits))


def renamed(document: Document, path: Path, new: str) -> str:
    """The text with one word called otherwise; raises CannotEdit as `with_edits` does."""
    return with_edits(document, [Rename(path, new)])


def edited(loaded: LoadedSite, edits: Iterable[Change]) -> LoadedSite:
    """The site with edits spliced into its text and read again.

    Raises CannotEdit where the text cannot be edited, InputError where the edited site is not valid.
    """
    return load_text(with_edits(loaded.document, edits), loaded.file)


def spliced(document: Document, wanted: Any) -> str:
    """The text changed where its value differs from what is wanted; a byte order mark at its start stays."""
    by_hand = list(_by_hand(document.value, wanted))
    try:
        text = cut(document.text, splices(document, wanted))
        sound = same(read(text.encode(), document.file).value, wanted)
    except (InputError, KeyError, ValueError, Unclear):
        sound = False
    if not sound:
        raise CannotEdit(by_hand)
    return ("\ufeff" if document.marked else "") + text


def _by_hand(before: Any, after: Any, path: Path = ()) -> Iterator[str]:
    """What differs, as lines a person can write."""
    if not (isinstance(before, Mapping) and isinstance(after, Mapping)):
        if not same(before, after):
            yield f"{_dotted(path)}: {yaml_out.flow(after)}"
        return
    stay = matching.keys(before, after)
    for key in before:
        if key not in stay:
            yield f"{_dotted((*path, key))}: to be removed"
    was = {called: key for key, called in stay.items()}
    for called, value in after.items():
        if called not in was:
            yield f"{_dotted((*path, called))}: {yaml_out.flow(value)}"
            continue
        if was[called] != called:
            yield f"{_dotted((*path, was[called]))}: to be called {called}"
        yield from _by_hand(before[was[called]], value, (*path, called))


__all__ = [
    "REMOVE",
    "CannotEdit",
    "Change",
    "Edit",
    "Rename",
    "applied",
    "edited",
    "renamed",
    "section",
    "spliced",
    "with_edits",
]
