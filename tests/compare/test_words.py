"""Every field of the schema, changed, is told in a plain sentence with both values."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from advisor.compare import labels, words
from advisor.compare.structure import TOLD_AS_ONE, structural
from advisor.compare.wishes import wishes
from advisor.site import shape
from advisor.site.edit import Edit, applied, edited
from advisor.site.load import load_site
from tests.compare.random_edits import loaded_from

FULL = load_site(str(Path(__file__).parent / "full_site.yaml"))
CODE = re.compile(r"None|True|False|\{|\}|(?<!\w)'|'(?!\w)|<|Edit\(|\w_\w")
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
    monkeypatch.setattr(words, "EMPTY", {})
    if pattern.endswith(".*") or pattern == "networks.*.generation":
        return  # an entry of its own without words, and a sentence of its own
    old, new = two_values(schema)
    told = sentence(pattern, path, old, new)
    meaning = str((shape.field_at(path) or ("", {}))[1]["description"])
    assert meaning[1:].split(". ")[0].rstrip(".") in told
    assert all(word in told for word in (*shown(old, ""), *shown(new, ""))), told
    assert not re.search(r"None|True|False|(?<!\w)'", told), told


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


BLOCKS = [
    (("nodes", "beam", "uplink", "to"), "porch", ("to ledge", "to porch")),
    (("nodes", "ledge", "uplink", "band"), 2.4, ("5 GHz", "2.4 GHz")),
    (("nodes", "ledge", "uplink", "over"), "powerline", ("the air", "powerline")),
    (("nodes", "ledge", "uplink", "radio"), "low24", ("mid5", "low24")),
    (("nodes", "ledge", "uplink", "choice"), "node", ("on 5 GHz", "left to the node")),
    (("nodes", "beam", "uplink", "speed_mbps"), 2500, ("1000", "2500")),
    (("nodes", "beam", "uplink", "length_m"), 12.5, ("9", "12.5")),
    (("nodes", "beam", "uplink", "outdoor"), True, ("no", "yes")),
    (("nodes", "ledge", "paths", "porch", "distance_m"), 9, ("8 m", "9 m")),
    (("nodes", "ledge", "paths", "porch", "through"), ["concrete"], ("brick, plasterboard", "concrete")),
    (("nodes", "ledge", "paths", "porch", "complete"), True, ("8 m through", "nothing else")),
    (("places", "booth", "paths", "ledge", "distance_m"), 7, ("6 m", "7 m")),
    (("floors", "lower", "walls", "spine", "openings", "gap1", "from_m"), 1.5, ("1 to 2", "1.5 to 2 m")),
    (("floors", "lower", "walls", "spine", "openings", "gap1", "to_m"), 3, ("1 to 2", "1 to 3 m")),
    (("floors", "lower", "walls", "spine", "openings", "gap1", "of"), "door-timber", ("open from", "door-timber")),
    (("choices", "cables", "duct", "node"), "beam", ("ledge to porch", "beam to porch")),
    (("choices", "cables", "duct", "to"), "beam", ("ledge to porch", "ledge to beam")),
    (("choices", "cables", "duct", "length_m"), 30, ("12 m", "30 m")),
    (("choices", "cables", "duct", "speed_mbps"), 100, ("1000 Mb/s", "100 Mb/s")),
]
"""Fields told together with others of their block: what is set, and the words both values are told with."""


def test_every_field_of_a_block_told_as_one_is_looked_at() -> None:
    looked_at = {(path[0], *path[-1:]) for path, _, _ in BLOCKS if "uplink" in path or path[0] in ("floors", "choices")}
    fields = {
        (pattern.split(".")[0], pattern.split(".")[-1])
        for pattern, _, _ in LEAVES
        if any(pattern.startswith(f"{block}.") for block in TOLD_AS_ONE) and ".paths." not in pattern
    }
    assert looked_at == fields


@pytest.mark.parametrize(("path", "value", "told"), BLOCKS, ids=[".".join(map(str, block[0])) for block in BLOCKS])
def test_a_field_of_a_block_told_as_one(path: tuple[str, ...], value: Any, told: tuple[str, str]) -> None:
    changed = loaded_from(applied(FULL.document.value, [Edit(path, value)]))
    for one, other in ((FULL, changed), (changed, FULL)):
        (found,) = structural(one, other).differences
        assert all(word in found.told for word in told), found.told
        assert not CODE.search(found.told), found.told


TOLD = {
    "nodes.ledge.uplink={to: porch, over: ethernet, length_m: 12}": "ledge: its uplink now goes to porch over a cable "
    "(before: over the air on 5 GHz); radio mid5 → not told, cable length 12 m",
    "nodes.beam.uplink.to=porch": "beam: its uplink now goes to porch over a cable (before: to ledge over a cable)",
    "nodes.porch.radios.fast.channel=100": "porch.fast: channel 36 → 100",
    "nodes.porch.radios.fast.eirp_dbm=14": "porch.fast: power 20 → 14 dBm",
    "networks.staff.generation=2": "network staff: new password (generation 1 → 2)",
    "networks.staff.security=wpa2-wpa3-personal": "network staff: security WPA2 → WPA2/WPA3 mixed",
    "networks.staff.nodes=": "network staff: nodes ledge, porch → all nodes",
    "networks.visitors.bands-=5": "network visitors: bands 2.4, 5 → 2.4 GHz",
    "places.stage.count=20": "place stage: 3 → 20 devices",
    "places.stage.active=": "place stage: 2 → all of them active",
    "places.attic.down_mbps=": "place attic: wants towards each device 8 Mb/s → not told",
    "neighbours.new={band: 2.4, channel: 6}": "neighbour new is new: channel 6 in 2.4 GHz",
    "neighbours.mill=": "neighbour mill is gone (it was: channel 6 in 2.4 GHz)",
    "neighbours.mill.heard_dbm.ledge=-60": "neighbour mill: level at ledge not told → -60 dBm",
    "nodes.porch.at=[2, 1]": "porch: position (1, 1) → (2, 1) m",
    "nodes.shed={role: relay, uplink: {to: porch, band: 5}}": "node shed is new: relay, uplink to porch over the "
    "air on 5 GHz",
    "nodes.porch.ports.other={speed_mbps: 100}": "porch, port other is new: speed 100 Mb/s",
    "site.country=DE": "the site: country GB → DE",
    "internet.queue=fair": "the internet line: queue plain → fair",
    "walks.round.points[2]=attic": "walk round: way stage, (6, 2) on lower, booth → stage, attic, booth",
    "floors.lower.walls.flank.line=[[0, 5], [8, 5]]": "wall flank on floor lower: corners (0, 5), (9, 5) → (0, 5), "
    "(8, 5) m",
    "choices.prices.hour=45": "what may vary: price of an hour of work 40 → 45",
}


@pytest.mark.parametrize("wish", TOLD)
def test_differences_in_the_words_of_the_trade(wish: str) -> None:
    (found,) = structural(FULL, edited(FULL, wishes(FULL, [wish]))).differences
    assert found.told == TOLD[wish]


def test_long_texts_and_long_lists_are_told_by_what_differs() -> None:
    text = "a long note that goes on for many words before it says what matters, "
    first = edited(FULL, [Edit(("site", "note"), text + "old")])
    second = edited(FULL, [Edit(("site", "note"), text + "new")])
    (found,) = structural(first, second).differences
    assert found.told == "the site: note …ers, old → …ers, new"
    line = [[n, 0] for n in range(20)]
    first = edited(FULL, [Edit(("floors", "lower", "walls", "flank", "line"), line)])
    second = edited(FULL, [Edit(("floors", "lower", "walls", "flank", "line"), [*line[:-1], [19, 5]])])
    (found,) = structural(first, second).differences
    assert found.told.endswith("corners 20 of them with (19, 0) → 20 of them with (19, 5) m")
