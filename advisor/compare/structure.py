"""What two site files declare differently, by ids: added, removed, changed, renamed; and what is only said otherwise.

Compared is what the schema reads from the files, so that `2.4` and `"2.4"`, the order of entries and comments do not
count, and a default written out counts as restated.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from advisor.compare import words
from advisor.compare.meaning import below, meaning
from advisor.compare.records import Difference, Kind, Renamed, Restated, Structure
from advisor.compare.renames import following, held, renames_of, site_of, written
from advisor.site.edit import Rename, applied
from advisor.site.fields import Entry
from advisor.site.load import LoadedSite
from advisor.site.schema import Site
from advisor.site.yaml_reader import Path

TOLD_AS_ONE = frozenset(
    {"nodes.*.uplink", "nodes.*.paths.*", "places.*.paths.*", "floors.*.walls.*.openings.*", "choices.cables.*"}
)
"""Blocks whose fields are told together."""

POSITION = ("at", "floor", "height_m", "room")
TOGETHER: dict[str, tuple[tuple[str, ...], ...]] = {
    "nodes.*": (POSITION,),
    "places.*": (POSITION, ("count", "active")),
    "nodes.*.radios.*": (("eirp_dbm", "conducted_dbm"),),
    "networks.*": (("name", "name_hex"),),
    "needs.*": (("place", "walk"),),
}
"""Fields of a block that are told together where several of them differ."""


def structural(a: LoadedSite, b: LoadedSite) -> Structure:
    """All that differs from the first file to the second; the other way round everything is mirrored."""
    found, plain = renames_of(a.site, b.site)
    comparison = _Comparison(a, b, found)
    aligned = site_of(plain) if found else a.site
    differences = tuple(comparison.model(aligned, b.site, (), ""))
    restated = tuple(_restated(aligned, b.site, (), ""))
    return Structure(a, b, differences, comparison.renames, restated, tuple(comparison.moved))


class _Comparison:
    def __init__(self, a: LoadedSite, b: LoadedSite, found: list[Renamed]) -> None:
        self.a, self.b = a, b
        self.plain = {"a": meaning(a.site), "b": meaning(b.site)}
        self.written = {"a": written(a.site), "b": written(b.site)}
        self.moved = _moves(a.site, b.site, found)
        self.renames = tuple(
            Renamed(self.origin(step.collection), step.old, step.new, step.alike, step.ignored) for step in found
        )
        self.new_ids = {(*step.collection, step.new): step for step in found}

    def origin(self, path: Path) -> Path:
        """A path in the ids of the first file."""
        return origin(path, self.moved)

    def called_otherwise(self, path: Path) -> bool:
        """Whether an id below a path has another name now."""
        return any(found[: len(path)] == path and len(found) > len(path) for found in self.new_ids)

    # walking down

    def model(self, a: Entry, b: Entry, path: Path, pattern: str) -> Iterator[Difference]:
        done: set[str] = set()
        groups = {name: group for group in TOGETHER.get(pattern, ()) for name in group}
        for name in type(b).model_fields:
            group = groups.get(name, (name,))
            if name in done:
                continue
            done |= set(group)
            differ = [
                part
                for part in group
                if meaning(getattr(a, part), below(pattern, part)) != meaning(getattr(b, part), below(pattern, part))
                or self.called_otherwise((*path, part))
            ]
            if len(group) == 1 and differ:
                yield from self.value(getattr(a, name), getattr(b, name), (*path, name), below(pattern, name))
            elif differ:
                parts = tuple((*path, part) for part in differ)
                whole = [{part: meaning(getattr(x, part), below(pattern, part)) for part in group} for x in (a, b)]
                yield self._of_fields(parts, below(pattern, differ[0]), whole[0], whole[1])

    def value(self, a: Any, b: Any, path: Path, pattern: str) -> Iterator[Difference]:
        both = isinstance(a, Entry) and isinstance(b, Entry)
        if both and pattern in TOLD_AS_ONE:
            yield self._block(a, b, path, pattern)
        elif both:
            yield from self.model(a, b, path, pattern)
        elif isinstance(a, Mapping) and isinstance(b, Mapping):
            yield from self.mapping(a, b, path, below(pattern, "*"))
        else:
            yield self._leaf(a, b, path, pattern)

    def mapping(self, a: Mapping[Any, Any], b: Mapping[Any, Any], path: Path, pattern: str) -> Iterator[Difference]:
        for key in sorted(a.keys() | b.keys()):
            here = (*path, str(key))
            if here in self.new_ids:
                yield self._renamed(here, pattern)
            if key not in b or key not in a:
                yield self._whole(a.get(key), b.get(key), here, pattern)
            elif meaning(a[key], pattern) != meaning(b[key], pattern) or self.called_otherwise(here):
                yield from self.value(a[key], b[key], here, pattern)

    # what is told

    def _leaf(self, a: Any, b: Any, path: Path, pattern: str) -> Difference:
        old, new = meaning(a, pattern), meaning(b, pattern)
        before, after = held(self.plain["a"], self.origin(path)), held(self.plain["b"], path)
        return self._made(_kind(old, new), path, pattern, (before, after), (old, new), (path,))

    def _whole(self, a: Any, b: Any, path: Path, pattern: str) -> Difference:
        """Something only one of the files has."""
        before = held(self.written["a"], self.origin(path)) if b is None else None
        after = held(self.written["b"], path) if a is None else None
        values = (meaning(a, pattern), meaning(b, pattern))
        return self._made("removed" if b is None else "added", path, pattern, (before, after), values, (path,))

    def _block(self, a: Entry, b: Entry, path: Path, pattern: str) -> Difference:
        old, new = meaning(a, pattern), meaning(b, pattern)
        parts = tuple((*path, name) for name in old if old[name] != new[name])
        return self._made("changed", path, pattern, self._sides(parts), (old, new), parts)

    def _of_fields(self, parts: tuple[Path, ...], pattern: str, old: Any, new: Any) -> Difference:
        before, after = self._sides(parts)
        kind = _kind(_any(before), _any(after))
        record = (before, after)
        if len(parts) == 1:
            name = str(parts[0][-1])
            record = (before[name], after[name])
        return self._made(kind, parts[0], pattern, record, (old, new), parts)

    def _sides(self, parts: tuple[Path, ...]) -> tuple[dict[str, Any], dict[str, Any]]:
        """The values at some paths in the first file and in the second, by the name of the field."""
        return (
            {str(part[-1]): held(self.plain["a"], self.origin(part)) for part in parts},
            {str(part[-1]): held(self.plain["b"], part) for part in parts},
        )

    def _renamed(self, path: Path, pattern: str) -> Difference:
        step = self.new_ids[path]
        values = (step.old, step.new)
        return self._made("renamed", path, pattern, values, values, ())

    def _made(
        self,
        kind: Kind,
        path: Path,
        pattern: str,
        record: tuple[Any, Any],
        values: tuple[Any, Any],
        parts: tuple[Path, ...],
    ) -> Difference:
        told = words.told(kind, path, pattern, values[0], values[1], parts)
        where_before = _where(self.a, [self.origin(part) for part in parts or (path,)])
        where_after = _where(self.b, list(parts or (path,)))
        return Difference(path, kind, record[0], record[1], told, where_before, where_after, pattern, parts)


def _kind(old: Any, new: Any) -> Kind:
    if old is None:
        return "added"
    return "removed" if new is None else "changed"


def _any(fields: Mapping[str, Any]) -> Any:
    """One of the values that are given, None where none is."""
    return next((value for value in fields.values() if value is not None), None)


def _where(loaded: LoadedSite, paths: list[Path]) -> str:
    given = [path for path in paths if loaded.gave(path)]
    return loaded.where(given[0]) if given else ""


def _moves(a: Site, b: Site, found: list[Renamed]) -> list[tuple[Path, Path]]:
    """Every word before a colon that is called otherwise, old and new path, in order: ids, and what follows them in
    either file."""
    here, there = written(a), written(b)
    mine: list[list[tuple[Path, Path]]] = []
    theirs: list[list[tuple[Path, Path]]] = []
    for step in found:
        edits = following(here, step)
        mine.append([(it.path, (*it.path[:-1], it.new)) for it in edits if isinstance(it, Rename)])
        here = applied(here, edits)
    for step in reversed(found):
        edits = following(there, Renamed(step.collection, step.new, step.old, step.alike, step.ignored))
        theirs.append([((*it.path[:-1], it.new), it.path) for it in edits if isinstance(it, Rename)])
        there = applied(there, edits)
    steps = zip(mine, reversed(theirs), strict=True)
    return [move for first, second in steps for move in dict.fromkeys([*first, *second])]


def origin(path: Path, moved: Sequence[tuple[Path, Path]]) -> Path:
    """A path before all keys moved."""
    for old, new in reversed(moved):
        if path[: len(new)] == new:
            path = (*old, *path[len(new) :])
    return path


def _restated(a: Entry, b: Entry, path: Path, pattern: str) -> Iterator[Restated]:
    """What is written differently and means the same, in blocks that both have."""
    for name in type(b).model_fields:
        here, mine, theirs = (*path, name), getattr(a, name), getattr(b, name)
        given = (name in a.model_fields_set, name in b.model_fields_set)
        yield from _restated_value(mine, theirs, given, here, below(pattern, name))


def _restated_value(a: Any, b: Any, given: tuple[bool, bool], path: Path, pattern: str) -> Iterator[Restated]:
    if isinstance(a, Entry) and isinstance(b, Entry):
        inside = list(_restated(a, b, path, pattern))
        yield from inside
        if inside:
            return
    elif isinstance(a, Mapping) and isinstance(b, Mapping):
        for key in sorted(a.keys() & b.keys()):
            yield from _restated_value(a[key], b[key], (True, True), (*path, str(key)), below(pattern, "*"))
        if a or b:
            return
    if meaning(a, pattern) != meaning(b, pattern):
        return
    if given[0] != given[1]:
        yield Restated(path, "written out" if given[1] else "left out")
    elif isinstance(a, tuple) and a != b:
        yield Restated(path, "another order")
