"""Edits spliced into the text of a site file: the wanted value, and not a character more than that changed."""

import difflib
import pathlib
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import InputError
from advisor.site.edit import REMOVE, CannotEdit, Edit, applied, edited, section, with_edits
from advisor.site.load import load_site, load_text
from advisor.site.yaml_reader import Path, read

PROFILES = sorted((pathlib.Path(__file__).parents[2] / "profiles").glob("*.yaml"))

STYLED = """\
# Fernhill: written by hand.

site:   {name: Fernhill,country: GB} # house
internet:
    down_mbps:   100      # by contract
    up_mbps: 20
    # measured in spring

nodes:
  gateway:                # in the hall
    role: gateway
    radios: {
      r24: {channel: 1},    # slow
      r5:  {channel: 36}    # fast
    }
  stair: {role: relay, uplink: {to: gateway}}

# who is where
places:
  'sofa':  {note:  by the window }
  desk:
    client: laptop
    wants:
      - calm
      - light   # from the left
"""

SMALL = """\
site: {name: Kestrel Yard, country: GB, environment: house, invented: true}
internet: {down_mbps: 20, up_mbps: 10}   # by contract
nodes:
  gateway:
    role: gateway
    gear: open-node
    radios: {r5: {band: 5, channel: 36, eirp_dbm: 20}}
networks: {home: {name: kestrel, security: wpa2-personal}}
places: {desk: {client: laptop, down_mbps: 50, up_mbps: 1, paths: {gateway: {distance_m: 3}}}}
"""


def at(words: str) -> Path:
    """`s/a/[1]` as a path."""
    return tuple(int(word[1:-1]) if word.startswith("[") else word for word in words.split("/"))


def change(text: str, edits: Mapping[str, Any]) -> str:
    return with_edits(read(text.encode(), "made.yaml"), [Edit(at(words), value) for words, value in edits.items()])


def refused(text: str, edits: Mapping[str, Any]) -> list[str]:
    """The lines told to the user where the text cannot be edited."""
    with pytest.raises(CannotEdit) as caught:
        change(text, edits)
    assert str(caught.value) == "\n".join(caught.value.lines)
    return caught.value.lines


def differing(before: str, after: str) -> list[str]:
    """The lines that went (`-`) and came (`+`)."""
    lines = difflib.unified_diff(before.splitlines(keepends=True), after.splitlines(keepends=True), n=0)
    return [line.rstrip("\n") for line in lines if not line.startswith(("---", "+++", "@@"))]


def leaves(value: Any, path: Path = ()) -> dict[Path, Any]:
    """Every value that holds no other, by path, with its type."""
    if isinstance(value, dict) and value:
        return {under: leaf for key, item in value.items() for under, leaf in leaves(item, (*path, key)).items()}
    if isinstance(value, list) and value:
        return {under: leaf for index, item in enumerate(value) for under, leaf in leaves(item, (*path, index)).items()}
    return {path: (type(value), value)}


STYLED_LEAVES = leaves(read(STYLED.encode(), "styled").value)

# Exact texts: (text, edits, text afterwards).
EXACT: dict[str, tuple[str, dict[str, Any], str]] = {
    "a scalar in a block": ("s:\n  a: 1\n  b: 2\n", {"s/a": 5}, "s:\n  a: 5\n  b: 2\n"),
    "a scalar in braces": ("s: {a: 1, b: 2}\n", {"s/b": 5}, "s: {a: 1, b: 5}\n"),
    "a scalar in braces without spaces": ('s: {"a":1,"b":2}\n', {"s/b": 5}, 's: {"a":1,"b": 5}\n'),
    "braces at the top": ("{a: 1, b: 2}\n", {"b": 5, "c": 3}, "{a: 1, b: 5, c: 3}\n"),
    "a value on the next line": ("s:\n  a:\n    one\n  b: 2\n", {"s/a": "two"}, "s:\n  a:\n    two\n  b: 2\n"),
    "a value over two lines": ("s:\n  a: one\n    two\n  b: 2\n", {"s/a": 1}, "s:\n  a: 1\n  b: 2\n"),
    "an empty value": ("s:\n  a:   # none yet\n  b: 2\n", {"s/a": 1}, "s:\n  a: 1   # none yet\n  b: 2\n"),
    "a null": ("a: ~   # none\nb: 2\n", {"a": 1}, "a: 1   # none\nb: 2\n"),
    "a number to text": ("a: 1\n", {"a": "1"}, 'a: "1"\n'),
    "a number to true": ("a: 1\n", {"a": True}, "a: true\n"),
    "wide characters before it": ("a: ☕ # é\nb: 😀\n", {"a": 1, "b": 2}, "a: 1 # é\nb: 2\n"),
    "an item of a list": ("s: {l: [1, 2, 3]}\n", {"s/l/[1]": 9}, "s: {l: [1, 9, 3]}\n"),
    "an item out of a list": ("l: [1, 2, 3]\n", {"l/[1]": REMOVE}, "l: [1, 3]\n"),
    "a mapping inside a list": ("l: [1, {f: 2}]\n", {"l/[1]/g": 3}, "l: [1, {f: 2, g: 3}]\n"),
    "a block to a number": ("s:\n  a: 1\nb: 2\n", {"s": 5}, "s: 5\nb: 2\n"),
    "a block to another block": ("s:\n  a: 1\nb: 2\n", {"s": {"c": 3}}, "s:\n  c: 3\nb: 2\n"),
    "a key into a block": ("s:\n  a: 1\nb: 2\n", {"s/c": 3}, "s:\n  a: 1\n  c: 3\nb: 2\n"),
    "a key above blank lines": ("s:\n  a: 1\n\n# b\nb: 2\n", {"s/c": 3}, "s:\n  a: 1\n  c: 3\n\n# b\nb: 2\n"),
    "a key below two lines": ("s:\n  l: [1,\n    2]\nb: 2\n", {"s/c": 3}, "s:\n  l: [1,\n    2]\n  c: 3\nb: 2\n"),
    "a key below a list": ("s:\n  l:\n  - 1\nb: 2\n", {"s/c": 3}, "s:\n  l:\n  - 1\n  c: 3\nb: 2\n"),
    "a key below a text": ("s:\n  t: |\n    x\nb: 2\n", {"s/c": 3}, "s:\n  t: |\n    x\n  c: 3\nb: 2\n"),
    "a key into braces": ("s: {a: 1} # c\n", {"s/c": 3}, "s: {a: 1, c: 3} # c\n"),
    "a key behind a last comma": ("s: {a: 1,}\n", {"s/c": 3}, "s: {a: 1, c: 3,}\n"),
    "a key into empty braces": ("s: {}\n", {"s/c": 3}, "s: {c: 3}\n"),
    "a key under an empty word": ("s: # c\nb: 2\n", {"s/c": 3}, "s: {c: 3} # c\nb: 2\n"),
    "levels into a block": ("s:\n  a: 1\n", {"s/c/d/e": 5}, "s:\n  a: 1\n  c: {d: {e: 5}}\n"),
    "blocks that end together": ("s:\n t:\n  a: 1\n", {"s/c": 3, "s/t/b": 2}, "s:\n t:\n  a: 1\n  b: 2\n c: 3\n"),
    "a block and the text end together": ("s:\n  a: 1\n", {"z": 4, "s/c": 3}, "s:\n  a: 1\n  c: 3\n\nz: 4\n"),
    "new keys in the order given": ("s: {}\n", {"s/z": 1, "s/a": 2}, "s: {z: 1, a: 2}\n"),
    "a key out of a block": ("s:\n  a: 1 # one\n  b: 2\n", {"s/a": REMOVE}, "s:\n  b: 2\n"),
    "the last key out of a block": ("s:\n  a: 1\n  b: 2\nc: 3\n", {"s/b": REMOVE}, "s:\n  a: 1\nc: 3\n"),
    "the first key out of braces": ("s: {a: 1, b: 2}\n", {"s/a": REMOVE}, "s: {b: 2}\n"),
    "the last key out of braces": ("s: {a: 1, b: 2}\n", {"s/b": REMOVE}, "s: {a: 1}\n"),
    "the only key out of braces": ("s: {a: 1}\n", {"s/a": REMOVE}, "s: {}\n"),
    "a block of blocks": ("s:\n  a:\n    b:\n      c: 1\n    d: 2\nt: 3\n", {"s": REMOVE}, "t: 3\n"),
    "a text over several lines": ("s:\n  a: |\n    x\n    y\n  b: 2\n", {"s/a": REMOVE}, "s:\n  b: 2\n"),
    "what is not there": ("s: {a: 1}\n", {"s/b": REMOVE, "t/u": REMOVE}, "s: {a: 1}\n"),
    "one word for another": ("s:\n  a: 1\n", {"s/a": REMOVE, "s/c": 3}, "s:\n  c: 3\n"),
    "one in, two out": ("s: {a: 1, b: 2, c: 3}\n", {"s/d": 4, "s/a": REMOVE, "s/c": REMOVE}, "s: {b: 2, d: 4}\n"),
    "no newline at the end, a change": ("s:\n  a: 1", {"s/a": 2}, "s:\n  a: 2"),
    "no newline at the end, a key": ("s:\n  a: 1", {"s/c": 3}, "s:\n  a: 1\n  c: 3\n"),
    "no newline at the end, a word": ("s:\n  a: 1\n# end", {"c": 3}, "s:\n  a: 1\n# end\n\nc: 3\n"),
    "no newline at the end, one out": ("a: 1\nb: 2", {"b": REMOVE}, "a: 1\n"),
    "CRLF, levels": ("a: 1\r\n", {"z/k": {"a": 1}}, "a: 1\r\n\r\nz:\r\n  k: {a: 1}\r\n"),
    "CRLF, one out": ("s:\r\n  a: 1\r\n  c: 3\r\n", {"s/a": REMOVE}, "s:\r\n  c: 3\r\n"),
    "CRLF, no newline at the end": ("a: 1\r\nb: 2", {"c": 3}, "a: 1\r\nb: 2\r\n\r\nc: 3\r\n"),
    "quoted keys in braces": ('c: {"2.4": 1, 5: 36}\n', {"c/2.4": 6, "c/6": 5}, 'c: {"2.4": 6, 5: 36, "6": 5}\n'),
    "quoted keys in a block": ("c:\n  '2.4': 1 # x\n", {"c/2.4": 6, "c/on": 7}, "c:\n  '2.4': 6 # x\n  \"on\": 7\n"),
    "a wide value": (
        "s:\n  a: 1\n",
        {"s/q": {"one": {"name": "x" * 60}, "two": {"name": "y" * 50, "k": 1}}},
        f"s:\n  a: 1\n  q:\n    one: {{name: {'x' * 60}}}\n    two: {{name: {'y' * 50}, k: 1}}\n",
    ),
    "the only key out of a block": ("s: # s\n  a: 1 # one\nb: 2\n", {"s/a": REMOVE}, "s: {} # s\nb: 2\n"),
    "nothing": ("s: {a: 1}\n", {"s/a": None, "s/b": {}, "s/c": []}, "s: {a: null, b: {}, c: []}\n"),
    "a block to nothing": ("s:\n  a: 1\nb: 2\n", {"s": {}}, "s: {}\nb: 2\n"),
    "a text to a word, a comment below": ("t: |\n  x\n  y\n# c\nb: 2\n", {"t": "z"}, "t: z\n# c\nb: 2\n"),
    "a folded text to a number": (
        "s:\n  t: >-\n    x\n\n    y\n\n  # c\n  b: 2\n",
        {"s/t": 1},
        "s:\n  t: 1\n\n  # c\n  b: 2\n",
    ),
    "an item of lines": ("l:\n- 1  # one\n- 2\nb: 2\n", {"l/[0]": "no"}, 'l:\n- "no"  # one\n- 2\nb: 2\n'),
    "an item out of lines": ("l:\n  - 1\n  - 2  # two\n  - 3\n", {"l/[1]": REMOVE}, "l:\n  - 1\n  - 3\n"),
    "an item more in lines": ("l:\n  - 1\n  - 2\nb: 2\n", {"l/[2]": 3}, "l:\n  - 1\n  - 2\n  - 3\nb: 2\n"),
    "an item more in brackets": ("l: [1, 2]  # c\n", {"l": [1, 2, 3]}, "l: [1, 2, 3]  # c\n"),
    "an item at the head": ("l: [\n  1,  # one\n  2\n]\n", {"l": [0, 1, 2]}, "l: [\n  0, 1,  # one\n  2\n]\n"),
    "one is not true": ("l: [1, 1, 1]\n", {"l": [1, True, 1.0]}, "l: [1, true, 1.0]\n"),
    "a key of an item": ("l:\n  - a: 1  # c\n    b: 2\n", {"l/[0]/a": REMOVE}, "l:\n  - b: 2\n"),
    "out of braces over lines, comments stay": (
        "s: {\n  a: 1,  # one\n  b: 2,  # two\n  c: 3   # three\n}\n",
        {"s/b": REMOVE},
        "s: {\n  a: 1,  # one\n  c: 3   # three\n}\n",
    ),
    "the last out of braces over lines": (
        "s: {\n  a: 1,  # one\n  b: 2   # two\n}\n",
        {"s/b": REMOVE},
        "s: {\n  a: 1,  # one\n}\n",
    ),
    "the first out of braces over lines": (
        "s: {a: 1,  # one\n    b: 2,\n    c: 3}\n",
        {"s/a": REMOVE},
        "s: {  # one\n    b: 2,\n    c: 3}\n",
    ),
    "a byte order mark": ("\ufeffa: 1\n", {"a": 2}, "\ufeffa: 2\n"),
    "mixed line ends": ("a: 1\r\ns:\n  b: 1\n", {"s/c": 2}, "a: 1\r\ns:\n  b: 1\n  c: 2\n"),
    "an alias elsewhere": ("a: &x {k: 1}\nb: *x\nc: 1\n", {"c": 2}, "a: &x {k: 1}\nb: *x\nc: 2\n"),
    "an alias out of braces": ("a: &x 1\nb: {c: *x, e: 1}\n", {"b/c": REMOVE}, "a: &x 1\nb: {e: 1}\n"),
}


@pytest.mark.parametrize("case", EXACT)
def test_the_text_becomes(case: str) -> None:
    text, edits, expected = EXACT[case]
    assert change(text, edits) == expected


def test_the_last_edit_at_a_path_counts() -> None:
    document = read(b"a: 1\nb: 2\n", "made.yaml")
    assert with_edits(document, [Edit(("a",), 2), Edit(("a",), 3)]) == "a: 3\nb: 2\n"
    assert with_edits(document, [Edit(("a",), REMOVE), Edit(("a",), 3)]) == "a: 3\nb: 2\n"
    assert with_edits(document, [Edit(("a",), 3), Edit(("a",), REMOVE)]) == "b: 2\n"


# In the hand styled text: path: (value, the lines that go and come).
STYLED_EDITS: dict[str, tuple[Any, str]] = {
    "internet/down_mbps": (80, "-    down_mbps:   100      # by contract\n+    down_mbps:   80      # by contract"),
    "internet/queue": ("fair", "+    queue: fair"),
    "site/name": ("Yard", "-site:   {name: Fernhill,country: GB} # house\n+site:   {name: Yard,country: GB} # house"),
    "nodes/gateway/gear": ("home-router", "+    gear: home-router"),
    "nodes/gateway/radios/r24/channel": (6, "-      r24: {channel: 1},    # slow\n+      r24: {channel: 6},    # slow"),
    "nodes/gateway/radios/r5/b": (5, "-      r5:  {channel: 36}    # fast\n+      r5:  {channel: 36, b: 5}    # fast"),
    "nodes/stair": (REMOVE, "-  stair: {role: relay, uplink: {to: gateway}}"),
    "nodes/shed/role": ("relay", "+  shed: {role: relay}"),
    "places/sofa/note": ("my: own", "-  'sofa':  {note:  by the window }\n+  'sofa':  {note:  \"my: own\" }"),
    "places/desk/wants": (REMOVE, "-    wants:\n-      - calm\n-      - light   # from the left"),
    "places/desk/count": (2, "+    count: 2"),
    "networks/home": ({"name": "fernhill"}, "+\n+networks:\n+  home: {name: fernhill}"),
}


@pytest.mark.parametrize("path", STYLED_EDITS)
def test_only_these_lines_differ(path: str) -> None:
    value, lines = STYLED_EDITS[path]
    after = change(STYLED, {path: value})
    assert differing(STYLED, after) == lines.split("\n")
    assert change(STYLED.replace("\n", "\r\n"), {path: value}) == after.replace("\n", "\r\n")


def test_a_whole_block_goes_and_the_comments_around_it_stay() -> None:
    gone = "-internet:\n-    down_mbps:   100      # by contract\n-    up_mbps: 20"
    assert differing(STYLED, change(STYLED, {"internet": REMOVE})) == gone.split("\n")


NEED_QUOTES = [
    *("yes", "No", "on", "null", "~", "", "true", "1e3", "007", "0x1f", ".inf", "12:30", "2030-01-01", "a: b", "a #b"),
    *("#a", "- a", " a", "a ", "{a", "a,b", "*a", "&a", "!a", "%a", "@a", "`a", "?", "|", ">", "<<", "it's", "☕"),
]


@pytest.mark.parametrize(
    ("value", "written"),
    [
        *((word, f'"{word}"') for word in NEED_QUOTES),
        ('say "hi"', r'"say \"hi\""'),
        ("one\ntwo\t", r'"one\ntwo\t"'),
        ("back\\slash", r'"back\\slash"'),
        ("Küche am Hof", "Küche am Hof"),
        ([1, ["no", -2.5], [], {}], '[1, ["no", -2.5], [], {}]'),
        ({"2.4": [1, 6], "on": {"k": True}}, '{"2.4": [1, 6], "on": {k: true}}'),
        (1e22, "1e+22"),
    ],
)
def test_values_are_written_so_that_every_reader_agrees(value: Any, written: str) -> None:
    assert change("a: 1 # c\n", {"a": value}) == f"a: {written} # c\n"
    assert change("s: {a: 1, b: 2}\n", {"s/a": value}) == f"s: {{a: {written}, b: 2}}\n"
    assert change("s:\n  b: 2\n", {"s/a": value}) == f"s:\n  b: 2\n  a: {written}\n"


@pytest.mark.parametrize(
    ("text", "path", "value", "lines"),
    [
        ("a: 1\n", "a", REMOVE, ["a: to be removed"]),
        ("a: 1\n", "b", float("inf"), ["b: inf"]),
        ("t: |\n  x\nb: 2\n    # deep\n", "b", REMOVE, ["b: to be removed"]),  # the text would take in the comment
    ],
)
def test_what_is_not_proven_is_refused_with_the_lines_to_write(text: str, path: str, value: Any, lines: Any) -> None:
    assert refused(text, {path: value}) == lines


def test_every_line_to_write_is_told_where_one_edit_cannot_be_made() -> None:
    text = "c: 1\nt: |\n  x\nb: {k: 1}\n   # deep\n"
    assert refused(text, {"c": 2, "b": REMOVE, "d/e": "no"}) == ["b: to be removed", "c: 2", 'd: {e: "no"}']


def test_a_text_with_merge_keys_is_refused_when_read() -> None:
    with pytest.raises(InputError, match="merging one block into another"):
        change("a: &x {k: 1}\nb:\n  <<: *x\n", {"a/k": 2})


def test_applied_leaves_its_input_and_the_edits_as_they_are() -> None:
    before, value = {"s": {"n": None, "l": [1, 2]}}, {"k": [1]}
    out = [Edit(("s", "l", 0), REMOVE), Edit(("q", "r"), REMOVE)]
    after = applied(before, [Edit(("s", "n", "x"), value), Edit(("t", "u"), 2), *out])
    assert after == {"s": {"n": {"x": {"k": [1]}}, "l": [2]}, "t": {"u": 2}}
    after["s"]["n"]["x"]["k"].append(2)
    assert (before, value) == ({"s": {"n": None, "l": [1, 2]}}, {"k": [1]})


def test_a_section_has_a_line_for_each_entry_that_is_a_mapping() -> None:
    assert section("nodes", {"a": {"k": 1}, "2": {}}) == ["nodes:", "  a: {k: 1}", '  "2": {}']
    assert section("site", {"name": "x", "k": 1}) == ["site: {name: x, k: 1}"]


@given(st.permutations(list(STYLED_EDITS)))
@settings(max_examples=25, deadline=None)
def test_edits_at_different_places_give_the_same_text_in_any_order(order: list[str]) -> None:
    values = {path: value for path, (value, _) in STYLED_EDITS.items()}
    assert change(STYLED, {path: values[path] for path in order}) == change(STYLED, values)


@pytest.mark.parametrize("path", STYLED_LEAVES)
def test_the_value_it_already_has_leaves_the_text(path: Path) -> None:
    assert with_edits(read(STYLED.encode(), "styled"), [Edit(path, STYLED_LEAVES[path][1])]) == STYLED


@pytest.mark.parametrize("file", PROFILES, ids=lambda file: file.stem)
def test_there_and_back_is_the_same_site_and_text(file: pathlib.Path) -> None:
    loaded = load_site(file)
    down = loaded.document.value["internet"]["down_mbps"]
    other = edited(loaded, [Edit(("internet", "down_mbps"), down + 1)])
    assert other.site.internet.down_mbps == down + 1 and other.site != loaded.site
    assert len(differing(loaded.document.text, other.document.text)) == 2
    back = edited(other, [Edit(("internet", "down_mbps"), down)])
    assert (back.site, back.file, back.document.text) == (loaded.site, str(file), loaded.document.text)


@pytest.mark.parametrize("file", PROFILES, ids=lambda file: file.stem)
def test_every_number_there_and_back_is_the_same_site(file: pathlib.Path) -> None:
    loaded = load_site(file)
    before = leaves(loaded.document.value)
    numbers = {path: value for path, (kind, value) in before.items() if kind in (int, float)}
    there = with_edits(loaded.document, [Edit(path, -value - 1) for path, value in numbers.items()])
    assert leaves(read(there.encode(), "there").value) == before | {
        path: (type(value), -value - 1) for path, value in numbers.items()
    }
    back = with_edits(read(there.encode(), "there"), [Edit(path, value) for path, value in numbers.items()])
    assert load_text(back, str(file)).site == loaded.site


TEXT = st.text(max_size=12) | st.sampled_from(["no", "1e3", "a: b", "x #y", "2.4", "010", "~", "Küche"])
VALUES = st.recursive(
    st.booleans() | st.integers(-(10**9), 10**9) | st.floats(allow_nan=False, allow_infinity=False) | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=6,
)
OLD = st.sampled_from([path for path in STYLED_LEAVES if isinstance(path[-1], str)])
HOLDERS = st.sampled_from([at(words) for words in ("site", "internet", "nodes/gateway", "nodes/shed", "places/desk")])
NEW = st.builds(
    lambda top, steps: (*top, *(f"+{step}" for step in steps)), HOLDERS, st.lists(TEXT, min_size=1, max_size=4)
)


@given(OLD | NEW, VALUES, st.sampled_from(["\n", "\r\n"]))
@settings(max_examples=200, deadline=None)
def test_the_value_is_there_and_everything_else_as_before(path: Path, value: Any, newline: str) -> None:
    text = STYLED.replace("\n", newline)
    after = with_edits(read(text.encode(), "before"), [Edit(path, value)])
    others = {other: leaf for other, leaf in STYLED_LEAVES.items() if other != path}
    assert leaves(read(after.encode(), "after").value) == others | leaves(value, path)
    assert len([line for line in differing(text, after) if line.startswith("-")]) <= 1
    assert after.count("\n") == after.count(newline) and after.count("\r") == (newline == "\r\n") * after.count("\n")


@given(st.integers(1, 5000), st.sampled_from([36, 40, 44, 48]), st.sampled_from(["no", "Küche", "it's: #1", "007"]))
@settings(max_examples=25, deadline=None)
def test_the_edited_site_has_the_values_and_no_other_difference(down: int, channel: int, name: str) -> None:
    loaded = load_text(SMALL, "small.yaml")
    values = {"internet/down_mbps": down, "nodes/gateway/radios/r5/channel": channel, "networks/home/name": name}
    after = edited(loaded, [Edit(at(words), value) for words, value in values.items()])
    before = {path: value for path, (_, value) in leaves(loaded.site.model_dump()).items()}
    wanted = before | {at(words): value for words, value in values.items()}
    assert {path: value for path, (_, value) in leaves(after.site.model_dump()).items()} == wanted


def test_an_edited_site_is_another_site_of_the_same_file() -> None:
    loaded = load_text(SMALL, "small.yaml")
    after = edited(loaded, [Edit(at("places/desk/count"), 2), Edit(at("nodes/gateway/radios"), REMOVE)])
    assert after.site.places["desk"].count == 2 and not after.gave("nodes.gateway.radios")
    assert (after.file, after.line("places.desk.count")) == ("small.yaml", "small.yaml:8")
    assert loaded.document.text == SMALL and not loaded.gave("places.desk.count")


def test_a_site_that_would_not_be_valid_is_told_with_its_place() -> None:
    loaded = load_text(SMALL, "small.yaml")
    with pytest.raises(InputError, match=r"small\.yaml:5:11"):
        edited(loaded, [Edit(at("nodes/gateway/role"), "wizard")])
    with pytest.raises(InputError, match="nodes is a block with nothing in it"):
        edited(loaded, [Edit(at("nodes/gateway"), REMOVE)])
