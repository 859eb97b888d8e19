"""One thing that can be done at a site, and what it changes in the file."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from advisor.site.edit import REMOVE, Edit
from advisor.site.yaml_reader import Path


@dataclass(frozen=True, slots=True)
class Change:
    """Something a person can do: an operator of `data/operators.yaml` on a subject."""

    operator: str
    subject: str
    """Key of what is changed: `hop=stair`, `radio=gateway.r5`, `network=yard`."""
    told: str
    """What to do, one plain sentence."""
    edits: tuple[Edit, ...]
    """What becomes of the file."""
    effort_min: float = 0.0
    """Minutes of work."""
    cost: float | None = None
    """In the site's own currency; None where a price is not given."""
    refused: str = ""
    """Why the equipment does not offer it; empty where it does."""

    @property
    def key(self) -> tuple[tuple[Path, str], ...]:
        """The same for changes that do the same to the file."""
        return tuple(sorted(((edit.path, repr(edit.value)) for edit in self.edits), key=str))


def edits_of(changes: Iterable[Change]) -> tuple[Edit, ...]:
    """The edits of changes made one after the other: the last one at a path wins, and what is removed as a whole takes
    the edits before it inside along."""
    kept: dict[tuple[str | int, ...], Edit] = {}
    for change in changes:
        for edit in change.edits:
            if edit.value is REMOVE:
                kept = {path: other for path, other in kept.items() if path[: len(edit.path)] != edit.path}
            kept.pop(edit.path, None)
            kept[edit.path] = edit
    return tuple(kept.values())
