"""Differences as changes: each can be carried out alone on the first file where that gives a valid site; all of them
give a file that means the same as the second one.

Settings are changed under the ids of the first file, and ids are renamed last: so a changed channel can be tried
without the new name of its node, and a new name without the channel.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from advisor.compare.operators import operator_of
from advisor.compare.records import Renamed, Structure
from advisor.compare.renames import following, held, written
from advisor.compare.structure import origin
from advisor.errors import InputError
from advisor.site.change import Change
from advisor.site.edit import REMOVE, CannotEdit, Edit, Rename, applied, edited, section
from advisor.site.load import LoadedSite, load_text
from advisor.site.yaml_reader import Path

NO_RENAME = Renamed((), "", "", 0.0)


@dataclass(frozen=True, slots=True)
class Renaming(Change):
    """An id called otherwise in the whole file. `edits` is right after the changes before it; `apply_one` finds out
    anew what follows the id, so that it can also be carried out alone."""

    renamed: Renamed = NO_RENAME


def changes_of(structure: Structure) -> tuple[Change, ...]:
    """Each difference as one change, in order: settings, entries that come and go, and then the new ids."""
    target = _back(structure)
    moved = structure.moved
    now = structure.before.document.value
    found: list[Change] = []
    for difference in structure.differences:
        if difference.kind == "renamed":
            continue
        edits = tuple(_edit(origin(part, moved), target) for part in difference.parts)
        operator, subject = operator_of(difference, origin(difference.path, moved))
        found.append(Change(operator, subject, f"{difference.told}.", edits))
        now = applied(now, edits)
    return (*found, *_renamings(structure, now))


def _edit(path: Path, target: Any) -> Edit:
    """What the second file has at a path, as it is written there."""
    owner = held(target, path[:-1])
    return Edit(path, owner[path[-1]] if isinstance(owner, dict) and path[-1] in owner else REMOVE)


def _back(structure: Structure) -> Any:
    """The second file's value as it is written, in the ids of the first file."""
    raw, plain = structure.after.document.value, written(structure.after.site)
    for step in in_order(structure.renames, back=True):
        edits = following(plain, Renamed(step.collection, step.new, step.old, step.alike, step.ignored))
        raw, plain = applied(raw, edits), applied(plain, edits)
    return raw


def in_order(renames: Iterable[Renamed], *, back: bool = False) -> list[Renamed]:
    """Renames in an order in which the ids of the first file hold: what lies deepest first; back the other way."""
    ordered = sorted(renames, key=lambda step: (-len(step.collection), step.collection == ("ignored",)))
    return ordered[::-1] if back else ordered


def _renamings(structure: Structure, now: Any) -> list[Change]:
    told = {origin(it.path, structure.moved): it.told for it in structure.differences if it.kind == "renamed"}
    plain = written(_loaded(structure.before, now).site) if structure.renames else {}
    found: list[Change] = []
    for step in in_order(structure.renames):
        steps = following(plain, step)
        edits: list[Edit] = []
        for one in steps:
            edits += _as_edits(now, one)
            now = applied(now, [one])
        plain = applied(plain, steps)
        sentence = f"{told[(*step.collection, step.old)]}."
        found.append(Renaming("tell", "site", sentence, tuple(edits), renamed=step))
    return found


def _as_edits(value: Any, one: Edit | Rename) -> list[Edit]:
    if isinstance(one, Edit):
        return [one]
    return [Edit(one.path, REMOVE), Edit((*one.path[:-1], one.new), held(value, one.path))]


# carrying out


def apply_one(loaded: LoadedSite, change: Change) -> LoadedSite:
    """The site with one change made.

    Raises InputError where the change alone gives no valid site, CannotEdit where the text cannot be edited.
    """
    return edited(loaded, _edits(change, written(loaded.site)))


def apply_all(loaded: LoadedSite, changes: Iterable[Change]) -> LoadedSite:
    """The site with several changes made; new ids come last, whatever the order. Raises as `apply_one`."""
    chosen = list(changes)
    edits = [edit for change in chosen if not isinstance(change, Renaming) for edit in change.edits]
    now = edited(loaded, edits) if edits else loaded
    renames = in_order(change.renamed for change in chosen if isinstance(change, Renaming))
    for step in renames:
        now = edited(now, following(written(now.site), step))
    return now


def _edits(change: Change, plain: dict[str, Any]) -> Sequence[Edit | Rename]:
    return following(plain, change.renamed) if isinstance(change, Renaming) else change.edits


def _loaded(like: LoadedSite, value: Any) -> LoadedSite:
    """A site file of such data, plainly written. Raises InputError where it is not valid."""
    lines = [line for name, content in value.items() for line in section(name, content)]
    return load_text("\n".join(lines) + "\n", like.file)


def _valid(loaded: LoadedSite, changes: Sequence[Change]) -> bool:
    """Whether some changes together give a valid site; by its data, however the text may be edited."""
    edits = [edit for change in changes if not isinstance(change, Renaming) for edit in change.edits]
    try:
        now = _loaded(loaded, applied(loaded.document.value, edits)) if edits else loaded
        for step in in_order(change.renamed for change in changes if isinstance(change, Renaming)):
            now = _loaded(now, applied(now.document.value, following(written(now.site), step)))
    except (InputError, CannotEdit):
        return False
    return True


def together(loaded: LoadedSite, changes: Sequence[Change]) -> tuple[tuple[Change, ...], ...]:
    """The changes in groups of which each gives a valid site when it is carried out alone (`apply_all`), as small as
    they are found: a place stands with the node it refers to where only another change adds that node."""
    groups = [[number] for number in range(len(changes))]

    def valid(numbers: Iterable[int]) -> bool:
        return _valid(loaded, [changes[number] for number in sorted(numbers)])

    number = 0
    while number < len(groups):
        if len(groups) == 1 or valid(groups[number]):
            number += 1
            continue
        others = [group for group in groups if group is not groups[number]]
        needed = _fewest(groups[number], others, valid)
        merged = sorted([*groups[number], *(one for group in needed for one in group)])
        groups = sorted([group for group in others if group not in needed] + [merged])
        number = 0
    return tuple(tuple(changes[one] for one in group) for group in groups)


def _fewest(group: list[int], others: list[list[int]], valid: Any) -> list[list[int]]:
    """Other groups without which a group is not valid: none of them can be left out alone."""
    kept = list(others)
    size = len(kept)
    while size:
        at = 0
        while at < len(kept):
            fewer = kept[:at] + kept[at + size :]
            if fewer and valid([*group, *(one for other in fewer for one in other)]):
                kept = fewer
            else:
                at += size
        size //= 2
    return kept


__all__ = ["Renaming", "apply_all", "apply_one", "changes_of", "together"]
