"""Edits at awkward places: renames, values that are repeated, lists, texts over lines, paths that lead nowhere."""

from typing import Any

import pytest

from advisor.site.edit import REMOVE, CannotEdit, Edit, Rename, applied, edited, renamed, spliced, with_edits
from advisor.site.load import load_text
from advisor.site.yaml_reader import Path, read


def change(text: str, *edits: Edit | Rename) -> str:
    return with_edits(read(text.encode(), "made.yaml"), edits)


# (text, path, value, text afterwards)
EXACT: dict[str, tuple[str, Path, Any, str]] = {
    # a value that is repeated
    "the place that repeats": ("a: &x 1\nb: *x  # c\n", ("b",), "it's", 'a: &x 1\nb: "it\'s"  # c\n'),
    "inside what is repeated": ("a: &x {k: 1}\nb: *x\n", ("b", "k"), 2, "a: &x {k: 1}\nb: {k: 2}\n"),
    "into what is repeated": ("a: &x {k: 1}\nb: *x\n", ("b", "l", "m"), 2, "a: &x {k: 1}\nb: {k: 1, l: {m: 2}}\n"),
    "out of what is repeated": ("a: &x {k: 1, l: 2}\nb: *x\n", ("b", "k"), REMOVE, "a: &x {k: 1, l: 2}\nb: {l: 2}\n"),
    "the value with the anchor": ("a: &x 1\nb: *x\nc: [*x]\n", ("a",), 2, "a: &x 2\nb: 1\nc: [1]\n"),
    "inside the anchored": ("a: &x {k: 1}\nb: *x\n", ("a", "k"), 2, "a: &x {k: 2}\nb: {k: 1}\n"),
    "the anchored goes": ("a: &x {k: 1}\nb: *x\nc: 1\n", ("a",), REMOVE, "b: {k: 1}\nc: 1\n"),
    "an anchored block": ("a: &x # c\n  k: 1\nb: *x\n", ("b", "k"), 2, "a: &x # c\n  k: 1\nb: {k: 2}\n"),
    "an anchored block is emptied": ("a: &x # c\n  k: 1\nb: 2\n", ("a", "k"), REMOVE, "a: &x {} # c\nb: 2\n"),
    "anchored inside anchored": (
        "a: &x\n  k: &y [1]\nb: *x\nc: *y\n",
        ("a", "k", 0),
        2,
        "a: &x\n  k: &y [2]\nb: {k: [1]}\nc: [1]\n",
    ),
    "the second of one name": ("a: &x 1\nb: &x 2\nc: *x\n", ("b",), REMOVE, "a: &x 1\nc: 2\n"),
    "an anchor of nothing": ("a: &x\nb: *x\n", ("b",), 1, "a: &x\nb: 1\n"),
    "nothing with an anchor": ("a: &x # c\nb: 1\n", ("a",), 1, "a: &x 1 # c\nb: 1\n"),
    # lists
    "a point of a walk": (
        "walks:\n  round:\n    - {at: [1, 2], pause_s: 3}  # start\n    - {at: [4, 5]}\n",
        ("walks", "round", 0, "at", 1),
        2.5,
        "walks:\n  round:\n    - {at: [1, 2.5], pause_s: 3}  # start\n    - {at: [4, 5]}\n",
    ),
    "a point more": (
        "walk: [\n  [1, 2],  # start\n  [3, 4]   # end\n]\n",
        ("walk", 2),
        [5, 6],
        "walk: [\n  [1, 2],  # start\n  [3, 4],   # end\n  [5, 6]\n]\n",
    ),
    "a point less": (
        "walk: [\n  [1, 2],  # start\n  [3, 4],  # way\n  [5, 6]   # end\n]\n",
        ("walk", 1),
        REMOVE,
        "walk: [\n  [1, 2],  # start\n  [5, 6]   # end\n]\n",
    ),
    "the first of three alike": ("l:\n- 1 # a\n- 1 # b\n- 1 # c\n", ("l", 0), REMOVE, "l:\n- 1 # b\n- 1 # c\n"),
    "the only item": ("l: # l\n- 1 # a\nb: 2\n", ("l", 0), REMOVE, "l: [] # l\nb: 2\n"),
    "into nothing": ("l: [] # l\n", ("l", 0), 1, "l: [1] # l\n"),
    "an item in between": ("l:\n- 1 # a\n- 3 # c\n", ("l",), [1, 2, 3], "l:\n- 1 # a\n- 2\n- 3 # c\n"),
    "a first item": ("l:\n  - 2 # b\n", ("l",), [1, 2], "l:\n  - 1\n  - 2 # b\n"),
    "one out, its neighbour changed": (
        "l:\n- {n: a, k: 1} # a\n- {n: b, k: 2} # b\n- {n: c} # c\n",
        ("l",),
        [{"n": "b", "k": 3}, {"n": "c"}],
        "l:\n- {n: b, k: 3} # b\n- {n: c} # c\n",
    ),
    "a list inside a list": ("l:\n- - 1\n  - 2\n- 3\n", ("l", 0, 0), REMOVE, "l:\n- - 2\n- 3\n"),
    "a list at the edge to a word": ("l: # l\n- 1\n- 2\nb: 2\n", ("l",), "no", 'l: "no" # l\nb: 2\n'),
    "an empty item": ("l:\n- # c\n- 2\n", ("l", 0), 1, "l:\n- 1 # c\n- 2\n"),
    "a pair in brackets": ("l: [a: 1, 2]\n", ("l", 0, "b"), 2, "l: [{a: 1, b: 2}, 2]\n"),
    # blocks
    "the first word behind a dash": (
        "l:\n- a: 1 # a\n  # about b\n  b: 2\n",
        ("l", 0, "a"),
        REMOVE,
        "l:\n-\n  # about b\n  b: 2\n",
    ),
    "the only word behind a dash": ("l:\n- a: 1 # a\n- 2\n", ("l", 0, "a"), REMOVE, "l:\n- {}\n- 2\n"),
    "a block of comments": ("s:\n  # about a\n  a: 1\nb: 2\n", ("s", "a"), REMOVE, "s: {}\n  # about a\nb: 2\n"),
    "the long way to write a key": ("? a\n: 1\nb: 2\n", ("a",), REMOVE, "b: 2\n"),
    "a word without a colon": ("s: {a, b: 1}\n", ("s", "a"), 2, "s: {a: 2, b: 1}\n"),
    "a space before the colon": ("a : # c\nb: 1\n", ("a",), 2, "a : 2 # c\nb: 1\n"),
    "a file set in from the edge": ("  a: 1\n  b: 2\n", ("c",), {"k": {}}, "  a: 1\n  b: 2\n\n  c:\n    k: {}\n"),
    "above the end of the document": ("a: 1\n...\n# c\n", ("b",), 2, "a: 1\n\nb: 2\n...\n# c\n"),
    # texts over several lines
    "a text with a comment at its head": ("t: |- # c\n  # x\n  y\n# d\nb: 2\n", ("t",), 1, "t: 1 # c\n# d\nb: 2\n"),
    "a text in a list": ("l:\n- >\n  x\n\n  y\n# c\n- 2\n", ("l", 0), [], "l:\n- []\n# c\n- 2\n"),
    "below a text that keeps blank lines": (
        "s:\n  t: |+\n    x\n\n# c\nb: 2\n",
        ("s", "u"),
        1,
        "s:\n  t: |+\n    x\n\n  u: 1\n# c\nb: 2\n",
    ),
    "below a text without a line break": ("t: | # c\n  x", ("b",), 2, "t: |- # c\n  x\n\nb: 2\n"),
    # braces over several lines
    "commas at the head": ("s: { a: 1\n   , b: 2 # b\n   , c: 3 # c\n   }\n", ("s", "c"), REMOVE, ""),
    "a comment before the comma": ("s: {\n  a: 1 # a\n  , b: 2\n}\n", ("s", "a"), REMOVE, "s: {\n  b: 2\n}\n"),
    "the last, a comment between": (
        "s: {a: 1, # a\n    # about b\n    b: 2}\n",
        ("s", "b"),
        REMOVE,
        "s: {a: 1, # a\n    # about b\n    }\n",
    ),
    "the only one, a comment above": ("s: {\n  # about a\n  a: 1\n}\n", ("s", "a"), REMOVE, "s: {\n  # about a\n}\n"),
    "a block in braces goes": (
        "s: {\n  a: {  # a\n    k: 1  # k\n  },  # end\n  b: 2  # b\n}\n",
        ("s", "a"),
        REMOVE,
        "s: {\n  b: 2  # b\n}\n",
    ),
    "line ends of both kinds": ("a: 1 # a\r\ns: {\n  b: 1,\r\n  c: 2\n}\r\n", ("s", "b"), 3, ""),
}
EXACT["commas at the head"] = (*EXACT["commas at the head"][:3], "s: { a: 1\n   , b: 2 # b\n   }\n")
EXACT["line ends of both kinds"] = (
    *EXACT["line ends of both kinds"][:3],
    "a: 1 # a\r\ns: {\n  b: 3,\r\n  c: 2\n}\r\n",
)


SEVERAL: dict[str, tuple[str, list[Edit | Rename], str]] = {
    "the last line goes, no line break": (
        "s:\n  a: 1\n  b: 2",
        [Edit(("s", "b"), REMOVE), Edit(("s", "c"), 3)],
        "s:\n  a: 1\n  c: 3\n",
    ),
    "the last word goes, no line break": ("a: 1\nb: 2", [Edit(("b",), REMOVE), Edit(("c",), 3)], "a: 1\n\nc: 3\n"),
    "below a text that keeps blank lines": (
        "t: |+\n  x\nb: 2",
        [Edit(("b",), REMOVE), Edit(("c",), 3)],
        "t: |+\n  x\nc: 3\n",
    ),
    "behind a dash": ("l:\n- a: 1\n  b: 2\n", [Edit(("l", 0), {"c": 3, "d": {}})], "l:\n- c: 3\n  d: {}\n"),
    "all items for others": (
        "l: [\n  1, # a\n  2 # b\n]\n",
        [Edit(("l", 0), REMOVE), Edit(("l", 0), REMOVE), Edit(("l", 0), 3)],
        "l: [\n  3, # a\n]\n",
    ),
}


@pytest.mark.parametrize("case", SEVERAL)
def test_the_text_becomes_by_several_edits(case: str) -> None:
    text, edits, expected = SEVERAL[case]
    assert change(text, *edits) == expected


@pytest.mark.parametrize("case", EXACT)
def test_the_text_becomes(case: str) -> None:
    text, path, value, expected = EXACT[case]
    assert change(text, Edit(path, value)) == expected


@pytest.mark.parametrize("value", [None, {}, [], [None, {}, []], {"k": None}, 1, 1.0, True, "", "null"])
@pytest.mark.parametrize(
    "text", ["s: {a: 5}\n", "s:\n  a: 5\n", "s:\n  a:\n    k: 5\n", "s:\n  a: [5]\n", "s:\n  a:\n"]
)
def test_any_value_can_be_written_with_its_type(text: str, value: Any) -> None:
    after = read(change(text, Edit(("s", "a"), value)).encode(), "made.yaml")
    assert repr(after.value) == repr({"s": {"a": value}})


def test_two_places_that_repeat_a_value_change_with_it_if_both_are_to() -> None:
    edits = [Edit((word, "k"), 2) for word in "ab"]
    assert change("a: &x {k: 1}\nb: *x\nc: *x\n", *edits) == "a: &x {k: 2}\nb: *x\nc: {k: 1}\n"


RENAMES = [
    ("s:\n  a: 1 # a\n  b: 2\n", ("s", "a"), "c", "s:\n  c: 1 # a\n  b: 2\n"),
    ("s: {a: 1, 'b' : 2}\n", ("s", "b"), "no", 's: {a: 1, "no" : 2}\n'),
    ('s: {"a":1}\n', ("s", "a"), "b", 's: {"b":1}\n'),
    ("# x\na:\n  # y\n  k: {l: 1}\nb: 2\n", ("a",), "on", '# x\n"on":\n  # y\n  k: {l: 1}\nb: 2\n'),
    ("? a\n: 1\n", ("a",), "b", "? b\n: 1\n"),
    ("l:\n- a: 1\n", ("l", 0, "a"), "b", "l:\n- b: 1\n"),
    ("a: &x {k: 1}\nb: *x\n", ("b", "k"), "l", "a: &x {k: 1}\nb: {l: 1}\n"),
    ("a: &x {k: 1}\nb: *x\n", ("a", "k"), "l", "a: &x {l: 1}\nb: {k: 1}\n"),
]


@pytest.mark.parametrize(("text", "path", "new", "expected"), RENAMES)
def test_a_word_is_called_otherwise_and_its_entry_stays(text: str, path: Path, new: str, expected: str) -> None:
    assert renamed(read(text.encode(), "made.yaml"), path, new) == expected


def test_renames_and_edits_follow_each_other() -> None:
    text = "s:\n  a: 1 # a\n  b: 2 # b\n"
    swap = [Rename(("s", "a"), "t"), Rename(("s", "b"), "a"), Rename(("s", "t"), "b")]
    assert change(text, *swap) == "s:\n  b: 1 # a\n  a: 2 # b\n"
    assert change(text, Rename(("s", "a"), "c"), Edit(("s", "c"), 3), Edit(("s", "a"), 4)) == (
        "s:\n  c: 3 # a\n  b: 2 # b\n  a: 4\n"
    )
    assert change(text, Rename(("s", "a"), "c"), Edit(("s", "c"), REMOVE)) == "s:\n  b: 2 # b\n"
    assert applied({"a": 1, "b": 2}, [Rename(("a",), "c")]) == {"c": 1, "b": 2}
    assert list(applied({"a": 1, "b": 2}, [Rename(("a",), "c")])) == ["c", "b"]


def test_a_renamed_node_of_a_site_keeps_its_place() -> None:
    text = "site: {name: X, country: GB, environment: house}\ninternet: {down_mbps: 20, up_mbps: 10}\n"
    text += "nodes:\n  # by the door\n  hall: {role: gateway, gear: open-node}  # old\nplaces: {}\n"
    loaded = load_text(text.replace("places: {}\n", ""), "made.yaml")
    after = edited(loaded, [Rename(("nodes", "hall"), "porch")])
    assert after.document.text == loaded.document.text.replace("hall:", "porch:")


NOWHERE: list[tuple[Edit | Rename, str]] = [
    (Edit((), {"b": 1}), "the file as a whole is not changed by an edit; name an entry in it"),
    (Rename((), "b"), "the file as a whole is not changed by an edit; name an entry in it"),
    (Edit(("a", "b"), 1), "a.b cannot be changed: a is 5, a single value, so `b` cannot stand in it"),
    (Edit(("a", "b", "c"), 1), "a.b.c cannot be changed: a is 5, a single value, so `b` cannot stand in it"),
    (Edit(("a", "b"), REMOVE), "a.b cannot be changed: a is 5, a single value, so `b` cannot stand in it"),
    (Edit(("l", 3), 1), "l.3 cannot be changed: l is a list of 2, so it has no item 3"),
    (Edit(("l", 2), REMOVE), "l.2 cannot be changed: l is a list of 2, so it has no item 2"),
    (Edit(("l", 2, "k"), 1), "l.2.k cannot be changed: l is a list of 2, so it has no item 2"),
    (Edit(("l", "k"), 1), "l.k cannot be changed: l is a list of 2, so `k` cannot stand in it"),
    (Edit(("l", -1), 1), "l.-1 cannot be changed: l is a list of 2, so it has no item -1"),
    (Edit(("s", 0), 1), "s.0 cannot be changed: s is a block of entries, not a list"),
    (Edit(("s", 0, "k"), 1), "s.0.k cannot be changed: s is a block of entries, not a list"),
    (Rename(("s", "b"), "c"), "s.b is not in the file, so it cannot be renamed"),
    (Rename(("t", "b"), "c"), "t.b is not in the file, so it cannot be renamed"),
    (Rename(("l", 0), "c"), "l.0 is not in the file, so it cannot be renamed"),
    (Rename(("s", "k"), "m"), "s.k cannot be renamed: there is s.m already"),
]


@pytest.mark.parametrize(("edit", "told"), NOWHERE, ids=[told for _, told in NOWHERE])
def test_a_path_that_leads_nowhere_is_told_in_a_sentence(edit: Edit | Rename, told: str) -> None:
    value = {"a": 5, "l": [1, 2], "s": {"k": 1, "m": 2}}
    with pytest.raises(CannotEdit) as caught:
        applied(value, [edit])
    assert caught.value.told == told
    with pytest.raises(CannotEdit):
        change("a: 5\nl: [1, 2]\ns: {k: 1, m: 2}\n", edit)


def test_a_byte_order_mark_and_line_ends_stay_in_an_edited_site() -> None:
    text = "\ufeffsite: {name: X, country: GB, environment: house}\r\ninternet: {down_mbps: 20, up_mbps: 10}\r\n"
    text += "nodes: {hall: {role: gateway, gear: open-node}}\r\n"
    loaded = load_text(text.encode(), "made.yaml")
    assert loaded.document.written == text
    after = edited(loaded, [Edit(("internet", "down_mbps"), 30)])
    assert after.document.written == text.replace("20", "30")
    again = edited(after, [Edit(("internet", "down_mbps"), 20)])
    assert again.document.written == text


def test_a_value_as_a_whole_may_be_wanted() -> None:
    document = read(b"l: [1, 1, 1] # l\ns:\n  a: 1\n", "made.yaml")
    assert spliced(document, {"l": [1, True, 1.0], "s": {"a": 1}}) == "l: [1, true, 1.0] # l\ns:\n  a: 1\n"
