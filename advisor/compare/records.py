"""What differs between two site files, as records that views read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from advisor.site.load import LoadedSite
from advisor.site.yaml_reader import Path

Kind = Literal["added", "removed", "changed", "renamed"]


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that two files declare differently; fields told together (an uplink, a position) are one."""

    path: Path
    """Where it stands, in the second file's ids; for what is removed the first one's last id."""
    kind: Kind
    before: Any
    """The value in the first file as plain data, in that file's own ids; None where there is none. A mapping of the
    fields that differ, where several are told together; the old id of something renamed."""
    after: Any
    told: str
    """One plain sentence."""
    where_before: str
    """`file:line:column` in the first file; empty where nothing is written there."""
    where_after: str
    pattern: str
    """The path with `*` for every id: `nodes.*.radios.*.channel`."""
    parts: tuple[Path, ...]
    """The single settings that differ, in the ids of `path`."""


@dataclass(frozen=True, slots=True)
class Renamed:
    """An id that is probably called otherwise now."""

    collection: Path
    """What holds it, in the first file's ids: `("nodes",)`, `("nodes", "stair", "radios")`."""
    old: str
    new: str
    alike: float
    """Share of the settings of both that are the same, from 0 to 1."""
    ignored: tuple[str, ...] = ()
    """Ids, in the first file, of entries of `ignored` whose subject follows."""


@dataclass(frozen=True, slots=True)
class Restated:
    """Something written differently that means the same: a default written out or left out, a list in another order."""

    path: Path
    how: Literal["written out", "left out", "another order"]
    """Seen from the first file to the second."""


@dataclass(frozen=True)
class Structure:
    """All that differs between what two files declare, nothing computed."""

    before: LoadedSite
    after: LoadedSite
    differences: tuple[Difference, ...]
    """In the order of the schema's sections, then of ids."""
    renames: tuple[Renamed, ...]
    restated: tuple[Restated, ...]
    moved: tuple[tuple[Path, Path], ...] = ()
    """Words before a colon that are called otherwise, old and new path, in order."""

    @property
    def same(self) -> bool:
        """True where both files mean the same."""
        return not self.differences
