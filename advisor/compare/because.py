"""Which change causes which effect: every change of a difference made alone, and all of them one after the other."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from advisor.compare.changes import apply_all, changes_of, together
from advisor.compare.effects import Effects, Weighed, effects
from advisor.compare.records import Structure
from advisor.compare.structure import structural
from advisor.errors import InputError
from advisor.site.change import Change
from advisor.site.edit import CannotEdit
from advisor.site.load import LoadedSite

MOST_CHANGES = 12
"""Changes told apart; of more, all are told together."""


@dataclass(frozen=True)
class Because:
    """One change, or several that cannot be made apart, with what it does."""

    changes: tuple[Change, ...]
    alone: Effects
    """Against the first site."""
    then: Effects
    """Against the first site with all changes before it."""


@dataclass(frozen=True)
class Comparison:
    """Two sites side by side."""

    structure: Structure
    effects: Effects
    because: tuple[Because, ...]
    left: str
    """Why the changes are not told apart; empty where they are."""

    @property
    def empty(self) -> bool:
        return self.structure.same


def compare(
    first: LoadedSite, second: LoadedSite, *, apart: bool = True, progress: Callable[[int, int], None] | None = None
) -> Comparison:
    """Compare two sites: what differs, what that does, and with `apart` which change does what."""
    structure = structural(first, second)
    if structure.same:
        return Comparison(structure, Effects(()), (), "")
    names = {rename.old: rename.new for rename in structure.renames}
    before, after = Weighed(first), Weighed(second)
    found = effects(before, after, names)
    groups = together(first, changes_of(structure)) if apart else ()
    if len(groups) < 2:
        return Comparison(structure, found, (), "")
    if len(groups) > MOST_CHANGES:
        left = f"{len(groups)} changes are more than the {MOST_CHANGES} that are told apart"
        return Comparison(structure, found, (), left)
    because, left = _apart(before, groups, names, progress)
    return Comparison(structure, found, because, left)


def _apart(
    before: Weighed,
    groups: tuple[tuple[Change, ...], ...],
    names: Mapping[str, str],
    progress: Callable[[int, int], None] | None,
) -> tuple[tuple[Because, ...], str]:
    found = []
    here, done = before, []
    for number, group in enumerate(groups, 1):
        done += list(group)
        try:
            alone = Weighed(apply_all(before.loaded, group), walks=False)
            with_it = Weighed(apply_all(before.loaded, done), walks=False)
        except (CannotEdit, InputError):
            return (), "the changes cannot be made one at a time"
        found.append(Because(group, effects(before, alone, names), effects(here, with_it, names)))
        here = with_it
        if progress is not None:
            progress(number, len(groups))
    return tuple(found), ""
