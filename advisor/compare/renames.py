"""Ids that are probably called otherwise now, and what else in a file follows an id that changes.

An id that is gone and an id that is new in one section are taken for the same thing where their content is alike.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from advisor.compare.records import Renamed
from advisor.data import catalogue
from advisor.site.edit import Edit, Rename, applied
from advisor.site.fields import Entry
from advisor.site.references import POINTERS
from advisor.site.schema import Site
from advisor.site.yaml_reader import Path

ALIKE = 0.6
"""From this share of common settings on, two entries are taken for one thing (common practice, no source)."""
MOST_PAIRS = 20_000
"""With more pairs of gone and new ids than this, only entries with the same content are matched."""

COLLECTIONS = (
    "floors",
    "floors.*.walls",
    "floors.*.walls.*.openings",
    "rooms",
    "networks",
    "clients",
    "nodes",
    "nodes.*.radios",
    "nodes.*.ports",
    "places",
    "walks",
    "neighbours",
    "interference",
    "needs",
    "choices.cables",
    "choices.positions.*",
    "measured",
    "outages",
    "ignored",
)
"""Where ids are made, in an order in which what others refer to goes first."""

REFERRING = {
    "floors": {"floor"},
    "rooms": {"room"},
    "networks": {"network"},
    "clients": {"client kind"},
    "nodes": {"node", "node or place", "node or circuit", "internet or node", "radio"},
    "nodes.*.radios": {"radio", "radio of this node"},
    "places": {"place", "node or place"},
    "walks": {"walk"},
}
"""By which kinds of reference (`references.POINTERS`) the ids of a collection are named elsewhere."""


def written(site: Site) -> dict[str, Any]:
    """What a user wrote as plain data, read through the schema: a band is text, a list a list."""
    return site.model_dump(mode="json", exclude_unset=True)


def site_of(plain: Mapping[str, Any]) -> Site:
    """The site of such data."""
    return Site.model_validate_json(json.dumps(plain), strict=True)


def held(value: Any, path: Path) -> Any:
    """What stands at a path of plain data, None where nothing does."""
    for step in path:
        if isinstance(value, Mapping):
            value = value.get(step)
        elif isinstance(value, list) and isinstance(step, int) and step < len(value):
            value = value[step]
        else:
            return None
    return value


# what follows an id


def following(plain: Mapping[str, Any], renamed: Renamed) -> list[Edit | Rename]:
    """What has to change so that an id is called otherwise in the whole of some plain data, in order."""
    edits: list[Edit | Rename] = []
    keys: list[Rename] = []
    kinds = REFERRING.get(_pattern(renamed.collection), set())
    for pattern, kind in POINTERS.items():
        if kind not in kinds:
            continue
        for path, word, is_key in _words(plain, pattern.split("."), ()):
            new = _followed(word, kind, path, renamed)
            if new is not None and is_key:
                keys.append(Rename(path, new))
            elif new is not None:
                edits.append(Edit(path, new))
    for name in renamed.ignored:
        path = ("ignored", name, "subject")
        mine = held(plain, path)
        if isinstance(mine, str):
            edits.append(Edit(path, _subject(mine, renamed)))
    return [*edits, *keys, Rename((*renamed.collection, renamed.old), renamed.new)]


def _pattern(collection: Path) -> str:
    return next(pattern for pattern in COLLECTIONS if _fits(pattern.split("."), collection))


def _fits(parts: Sequence[str], path: Path) -> bool:
    return len(parts) == len(path) and all(part in ("*", step) for part, step in zip(parts, path, strict=True))


def _words(value: Any, parts: Sequence[str], path: Path) -> Iterator[tuple[Path, str, bool]]:
    """Each word the pattern of a reference fits, with its path and whether it stands before a colon."""
    if not parts:
        if isinstance(value, str):
            yield path, value, False
        return
    part, rest = parts[0], parts[1:]
    if part == "@" and isinstance(value, Mapping):
        yield from (((*path, key), key, True) for key in value)
    elif part == "*" and isinstance(value, Mapping):
        for key, below in value.items():
            yield from _words(below, rest, (*path, key))
    elif part == "#" and isinstance(value, list):
        for index, below in enumerate(value):
            yield from _words(below, rest, (*path, index))
    elif part.isdigit() and isinstance(value, list) and int(part) < len(value):
        yield from _words(value[int(part)], rest, (*path, int(part)))
    elif isinstance(value, Mapping) and part in value:
        yield from _words(value[part], rest, (*path, part))


def _followed(word: str, kind: str, path: Path, renamed: Renamed) -> str | None:
    """The word of a reference after the change of an id, None where it does not mean that id."""
    if len(renamed.collection) == 3:  # a radio of a node
        node = str(renamed.collection[1])
        if kind == "radio of this node":
            return renamed.new if (path[1], word) == (node, renamed.old) else None
        return f"{node}.{renamed.new}" if word == f"{node}.{renamed.old}" else None
    if kind == "radio":
        node, dot, radio = word.partition(".")
        return f"{renamed.new}.{radio}" if dot and node == renamed.old else None
    return renamed.new if word == renamed.old else None


def _subject(text: str, renamed: Renamed) -> str:
    """The subject of an ignored finding, `stair` or `desk / stair.r5`, after the change of an id."""
    return " / ".join(_token(word, renamed) for word in text.split(" / "))


def _token(word: str, renamed: Renamed) -> str:
    pattern = _pattern(renamed.collection)
    if "." in word:
        found = _followed(word, "radio", (), renamed) if pattern in ("nodes", "nodes.*.radios") else None
    else:
        found = _followed(word, "", (), renamed) if pattern in ("nodes", "places", "networks", "walks") else None
    return word if found is None else found


# which ids are taken for the same


def renames_of(before: Site, after: Site) -> tuple[list[Renamed], dict[str, Any]]:
    """The likely renames, in the order in which they are found, with `collection` in the ids the file has after those
    before it; and the first site's data with all of them made."""
    plain, target = written(before), written(after)
    taken = _other_meanings(before, after)
    found: list[Renamed] = []
    site = before
    for pattern in COLLECTIONS:
        known = len(found)
        for path, mine, theirs in _both(site, after, pattern.split("."), ()):
            for old, new, alike in _matched(mine, theirs, taken.get(pattern, set())):
                step = Renamed(path, old, new, alike)
                step = Renamed(path, old, new, alike, tuple(_ignored(plain, target, step)))
                plain = applied(plain, following(plain, step))
                found.append(step)
        site = site_of(plain) if len(found) > known else site
    return found, plain


def _both(mine: Any, theirs: Any, parts: Sequence[str], path: Path) -> Iterator[tuple[Path, Any, Any]]:
    """The mappings of ids that both sites have at a pattern."""
    if not parts:
        yield path, mine, theirs
    elif parts[0] == "*":
        for key in sorted(mine.keys() & theirs.keys()):
            yield from _both(mine[key], theirs[key], parts[1:], (*path, key))
    else:
        yield from _both(getattr(mine, parts[0]), getattr(theirs, parts[0]), parts[1:], (*path, parts[0]))


def _matched(mine: Mapping[str, Any], theirs: Mapping[str, Any], taken: set[str]) -> Iterator[tuple[str, str, float]]:
    """Pairs of a gone and a new id whose content is alike: one to one, the best first, ties by ids."""
    gone = {key: settings(mine[key]) for key in mine.keys() - theirs.keys() - taken}
    new = {key: settings(theirs[key]) for key in theirs.keys() - mine.keys() - taken}
    only_same = len(gone) * len(new) > MOST_PAIRS
    scored = []
    for old, content in gone.items():
        for name, other in new.items():
            alike = float(content == other) if only_same else likeness(content, other)
            if content and other and alike >= ALIKE:
                scored.append((-alike, min(old, name), max(old, name), old, name))
    for negative, _, _, old, name in sorted(scored):
        if old in gone and name in new:
            del gone[old], new[name]
            yield old, name, -negative


def likeness(mine: Counter[tuple[str, str]], theirs: Counter[tuple[str, str]]) -> float:
    """Twice the settings in common over the settings of both: 1 where all are the same."""
    total = mine.total() + theirs.total()
    return 2 * (mine & theirs).total() / total if total else 1.0


def settings(entry: Any) -> Counter[tuple[str, str]]:
    """The settings of an entry that are not the default, as pairs of path and value."""
    plain = entry.model_dump(mode="json", exclude_defaults=True) if isinstance(entry, Entry) else entry
    return Counter(_pairs(plain, ""))


def _pairs(value: Any, path: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for key, below in value.items():
            yield from _pairs(below, f"{path}.{key}")
    elif isinstance(value, (list, tuple)) and all(isinstance(item, str) for item in value):
        yield from ((path, item) for item in value)
    else:
        yield path, json.dumps(value)


def _other_meanings(before: Site, after: Site) -> dict[str, set[str]]:
    """Ids that mean something else in one of the two files, where a reference could be to either: never renamed."""
    nodes, places = before.nodes.keys() | after.nodes.keys(), before.places.keys() | after.places.keys()
    circuits = {str(node.power.circuit) for site in (before, after) for node in site.nodes.values()}
    return {"nodes": places | circuits, "places": set(nodes), "clients": set(catalogue("client-kinds")["kinds"])}


def _ignored(plain: Mapping[str, Any], target: Mapping[str, Any], renamed: Renamed) -> Iterator[str]:
    """Entries of `ignored` whose subject both files name alike but for the id."""
    for name, entry in plain.get("ignored", {}).items():
        theirs = held(target, ("ignored", name, "subject"))
        mine = entry.get("subject", "")
        if theirs and mine != theirs and _subject(mine, renamed) != mine:
            words = zip(mine.split(" / "), theirs.split(" / "), strict=False)
            if all(_token(a, renamed) in (a, b) for a, b in words):
                yield name
