"""Every field of the schema, changed, is told in a plain sentence with both values."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from advisor.compare import labels, words
from advisor.compare.structure import TOLD_AS_ONE, structural
from advisor.site import shape
from advisor.site.load import LoadedSite, load_site
from tests.compare.random_edits import called_otherwise, loaded_from

FULL = load_site(str(Path(__file__).parent / "full_site.yaml"))
CODE = re.compile(r"None|True|False|\{|\}|'|<|Edit\(|\w_\w")
"""What no sentence for people holds."""


def leaves(schema: shape.Schema, pattern: str, path: tuple[str, ...]) -> Iterator[tuple[str, tuple[str, ...], Any]]:
    """Every single value of the schema: its pattern, a path to it and its schema."""
    options = shape.alternatives(schema)
    inside = [option for option in options if option.get("type") == "object"]
    for option in inside:
        for name, below in option.get("properties", {}).items():
            yield from leaves(below, f"{pattern}.{name}".lstrip("."), (*path, name))
        entries = list(option.get("patternProperties", {}).values())
        if isinstance(option.get("additionalProperties"), dict):
            entries.append(option["additionalProperties"])
        for below in entries:
            yield from leaves(below, f"{pattern}.*", (*path, "7" if "power_drop" in pattern else "one"))
    if not inside:
        yield pattern, path, schema


LEAVES = list(leaves(shape.root(), "", ()))


def two_values(schema: shape.Schema) -> tuple[Any, Any]:
    """Two values the schema allows."""
    option = shape.alternatives(schema)[0]
    if "enum" in option:
        return option["enum"][0], option["enum"][1]
    kind = option.get("type")
    if kind == "boolean":
        return False, True
    if kind in ("integer", "number"):
        return (3, 4) if kind == "integer" else (3.25, 4.0)
    if kind == "array":
        parts = option.get("prefixItems") or [option["items"]] * 2
        pairs = [two_values(part) for part in parts]
        return [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    return "older", "newer"


def shown(value: Any, pattern: str) -> list[str]:
    """The words a value must be told with."""
    if isinstance(value, list):
        return [word for item in value for word in shown(item, pattern)]
    if isinstance(value, bool):
        return ["yes" if value else "no"]
    if isinstance(value, (int, float)):
        return [f"{value:g}"]
    return [labels.VALUES.get(pattern, {}).get(value, value)]


def sentence(pattern: str, path: tuple[str, ...], old: Any, new: Any) -> str:
    return words.told("changed", path, pattern, old, new, (path,))




@pytest.mark.parametrize(("pattern", "path", "schema"), LEAVES, ids=[leaf[0] for leaf in LEAVES])
def test_a_changed_value_is_told_with_both(pattern: str, path: tuple[str, ...], schema: Any) -> None:
    old, new = two_values(schema)
    for before, after in ((old, new), (new, old)):
        told = sentence(pattern, path, before, after)
        for word in (*shown(before, pattern), *shown(after, pattern)):
            assert word in told, told
        assert not CODE.search(told), told
        assert told.index(shown(before, pattern)[0]) < len(told) - 1


@pytest.mark.parametrize(("pattern", "path", "schema"), LEAVES, ids=[leaf[0] for leaf in LEAVES])
def test_a_value_that_comes_or_goes_is_told(pattern: str, path: tuple[str, ...], schema: Any) -> None:
    old, _ = two_values(schema)
    for before, after in ((None, old), (old, None)):
        told = sentence(pattern, path, before, after)
        assert not CODE.search(told), told
        assert "not told" in told
        assert all(word in told for word in shown(old, pattern)), told


@pytest.mark.parametrize(("pattern", "path", "schema"), LEAVES, ids=[leaf[0] for leaf in LEAVES])
def test_a_field_without_words_of_its_own_is_told_by_its_meaning(
    pattern: str, path: tuple[str, ...], schema: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(words, "LABELS", {})
    monkeypatch.setattr(words, "VALUES", {})
    if pattern.endswith(".*"):  # without words it would be taken for an entry of its own
        return
    old, new = two_values(schema)
    told = sentence(pattern, path, old, new)
    assert all(str(word) in told for value in (old, new) for word in _bare(value)), told
    assert "None" not in told
    assert "'" not in told.replace("node's", "").replace("floor's", "").replace("one's", "").replace("wall's", "")


def _bare(value: Any) -> list[str]:
    return [word for word in shown(value, "")]


def test_every_field_has_words_of_its_own() -> None:
    missing = [
        pattern
        for pattern, _, _ in LEAVES
        if pattern not in labels.LABELS and not any(pattern.startswith(f"{block}.") for block in TOLD_AS_ONE)
    ]
    assert missing == []


def test_no_words_for_fields_that_are_not_there() -> None:
    patterns = {pattern for pattern, _, _ in LEAVES}
    prefixes = {".".join(pattern.split(".")[:length]) for pattern in patterns for length in range(1, 9)}
    assert set(labels.LABELS) | set(labels.SUBJECTS) | set(labels.EMPTY) <= prefixes
    assert set(labels.VALUES) <= patterns
    for pattern, _, schema in LEAVES:
        allowed = {str(word) for option in shape.alternatives(schema) for word in _allowed(option)}
        assert set(labels.VALUES.get(pattern, {})) <= allowed, pattern


def _allowed(option: shape.Schema) -> list[Any]:
    inner = [option, *shape.alternatives(option.get("items", {}))]
    return [word for each in inner for word in (*each.get("enum", ()), *([each["const"]] if "const" in each else ()))]
