"""What a person types for a what-if, as edits of the site file: `nodes.stair.uplink.band=5`.

    PATH=VALUE    sets a value, read as YAML; an id that is not there yet makes a new entry
    PATH=         takes out what stands there
    PATH+=ITEM    adds an item to a list
    PATH-=ITEM    takes an item out of a list, or an id out of a section

A path is that of the messages: words with dots between, items of a list counted from 1 in brackets (`points[2]`).
Values are left to the loader, which says what is allowed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple, NoReturn

from advisor.compare.renames import held
from advisor.data import catalogue
from advisor.errors import InputError, Position, Problem
from advisor.site import shape, yaml_reader
from advisor.site.edit import REMOVE, Edit, applied
from advisor.site.fields import RadioRef
from advisor.site.load import LoadedSite
from advisor.site.wording import choice_of, dotted, nearest, shown
from advisor.site.yaml_reader import Path

FORM = "Write PATH=VALUE, PATH+=ITEM, PATH-=ITEM, or PATH= to take it out: `nodes.stair.uplink.band=5`."
RADIO = RadioRef.__metadata__[0].pattern  # type: ignore[attr-defined]
MADE_BY_NAMING = frozenset(
    {
        ("nodes", "*", "radios"),
        ("nodes", "*", "ports"),
        ("floors", "*", "walls"),
        ("floors", "*", "walls", "*", "openings"),
        ("choices", "cables"),
    }
)
"""Blocks inside a section whose words are ids of their own: one that is not there is a slip of the pen."""


class Wish(NamedTuple):
    """One wish, taken apart."""

    text: str
    path: str
    sign: str
    """`=`, `+=` or `-=`."""
    value: str


def wishes(loaded: LoadedSite, texts: Iterable[str]) -> tuple[Edit, ...]:
    """The edits for what was typed, one wish after the other; each may name what those before it made.

    Raises InputError, with the wish in the place of the file's name.
    """
    edits: list[Edit] = []
    value = loaded.document.value
    for text in texts:
        for edit in _edits(_parted(text), value):
            edits.append(edit)
            value = applied(value, [edit])
    return tuple(edits)


def _parted(text: str) -> Wish:
    found = re.fullmatch(r"\s*([^=]*?)\s*([+-]?=)\s*(.*?)\s*", text, re.DOTALL)
    if not found or not found[1]:
        _refuse(text, "this is no change of the site file", FORM)
    return Wish(text, found[1], found[2], found[3])


def _refuse(text: str, what: str, help: str) -> NoReturn:
    raise InputError(text, [Problem(Position(0, 0), what, help)])


def _edits(wish: Wish, value: Any) -> list[Edit]:
    path = _path(wish, value)
    if wish.sign == "=":
        return _set(wish, path, value)
    return _listed(wish, path, value)


# paths


def _path(wish: Wish, value: Any) -> Path:
    """The path as the schema and the file know it."""
    words = _words(wish)
    path: Path = ()
    while words:
        taken, step = _step(wish, path, words, value)
        if isinstance(step, str):
            _known(wish, path, step, value, last=len(words) == taken)
        path, words = (*path, step), words[taken:]
    return path


def _words(wish: Wish) -> list[str | int]:
    words: list[str | int] = []
    for part in wish.path.split("."):
        found = re.fullmatch(r"([^\[\]]+)((?:\[[1-9][0-9]{0,4}\])*)", part)
        if not found:
            help = "Put one dot between words; items of a list are counted from 1 in brackets: `walks.round.points[2]`."
            _refuse(wish.text, f"{shown(wish.path)} is no path", help)
        words += [found[1], *(int(number) - 1 for number in re.findall(r"[0-9]+", found[2]))]
    return words


def _step(wish: Wish, path: Path, words: list[str | int], value: Any) -> tuple[int, str | int]:
    """How many of the words make the next step, and the step: keys such as "2.4" and "gateway.r5" hold a dot."""
    first = words[0]
    if isinstance(first, int):
        items = held(value, path)
        if not isinstance(items, list):
            _refuse(
                wish.text, f"{dotted(path)} is no list with items of its own", f"Set it as a whole: {_sample(path)}."
            )
        if first >= len(items):
            grows = any("items" in option for option in shape.alternatives(shape.at(path) or {}))
            help = f"Add one at its end with `{dotted(path)}+=ITEM`." if grows else f"Write {_sample(path)}."
            _refuse(wish.text, f"{dotted(path)} holds {len(items)}, so there is no number {first + 1}", help)
        return 1, first
    options = shape.alternatives(shape.at(path) or {})
    for option in options:
        names = option.get("propertyNames", {})
        if len(words) > 1 and isinstance(words[1], str):
            joined = f"{first}.{words[1]}"
            if joined in names.get("enum", ()) or RADIO in option.get("patternProperties", {}):
                return 2, joined
        if option.get("type") == "object":
            return 1, first
    if path and any(option.get("type") == "array" for option in options):
        help = f"Set it as a whole: {_sample(path)}; or add and take out items with += and -=."
        _refuse(wish.text, f"{dotted(path)} is a list; {shown(first)} cannot stand in it", help)
    _refuse(wish.text, f"{dotted(path)} is one value; nothing stands below it", f"Write {_sample(path)}.")


def _sample(path: Path) -> str:
    expected = shape.expected(shape.at(path) or {})
    return f"`{dotted(path)}=VALUE`, expected: {expected}"


def _known(wish: Wish, path: Path, step: str, value: Any, *, last: bool) -> None:
    """Refuse words the schema does not know, and ids that are not in the file."""
    for option in shape.alternatives(shape.at(path) or {}):
        if "properties" in option:
            if step not in option["properties"]:
                _unknown_word(wish, path, step, list(option["properties"]))
            return
        names = option.get("propertyNames", {}).get("enum")
        if names and step not in names:
            help = f"Expected: {shape.key_expected(path)}."
            _refuse(wish.text, f"{shown(step)} cannot stand under {dotted(path)}", help)
        if not _has_ids(path):
            return
        there = held(value, path)
        ids = list(there) if isinstance(there, Mapping) else []
        if step in ids or (last and wish.sign == "=" and wish.value):
            return
        _unknown_id(wish, path, step, ids, value)


def _has_ids(path: Path) -> bool:
    if len(path) == 1:
        return "patternProperties" in shape.alternatives(shape.at(path) or {})[0]
    return any(
        len(each) == len(path) and all(word in ("*", step) for word, step in zip(each, path, strict=True))
        for each in MADE_BY_NAMING
    )


def _unknown_word(wish: Wish, path: Path, step: str, allowed: list[str]) -> NoReturn:
    where = f"under {dotted(path)}" if path else "at the top of the file"
    meant = nearest(step, allowed)
    elsewhere = sorted((home for home in shape.homes_of(step) if home), key=lambda it: _far(it, path))
    guess = f"Did you mean {shown(meant)}? " if meant else ""
    if not meant and elsewhere:
        guess = f"{step} belongs under {elsewhere[0]}. "
    _refuse(wish.text, f"unknown word {shown(step)} {where}", f"{guess}Allowed here: {choice_of(allowed, most=40)}.")


def _far(home: str, path: Path) -> bool:
    """Whether a home of a word lies in another section than a path."""
    return home.split(".")[0] != str(path[0] if path else "")


def _unknown_id(wish: Wish, path: Path, step: str, ids: list[str], value: Any) -> NoReturn:
    called = str(path[-1]).removesuffix("s") if path[-1] not in ("interference", "ignored", "measured") else "entry"
    where = f" under {dotted(path)}" if len(path) > 1 or called == "entry" else ""
    meant = nearest(step, ids)
    guess = f"Did you mean {shown(meant)}? " if meant else ""
    known = f"Known here: {choice_of(ids)}. " if ids else "None is declared. "
    add = f"To add it, give it whole: `{dotted((*path, step))}={{…}}`."
    usual = _usual_radios(path, value) if path[2:] == ("radios",) and not ids else []
    if usual:
        known = f"The node declares no radios, so those usual for its kind are taken: {choice_of(usual)}. "
        add = f"To set one, declare all of them first: `{dotted(path)}={{{usual[0]}: {{band: …}}, …}}`."
    _refuse(wish.text, f"there is no {called} {shown(step)}{where}", guess + known + add)


def _usual_radios(path: Path, value: Any) -> list[str]:
    node, gear = held(value, path[:2]), catalogue("gear")
    kind = node.get("gear") or gear["usual"].get(node.get("role")) if isinstance(node, Mapping) else None
    return list(gear["gear"].get(kind, {}).get("radios", ()))


# values


def _read(wish: Wish) -> Any:
    """A value as YAML reads it."""
    try:
        document = yaml_reader.read(f"value: {wish.value}\n".encode("utf-8", "surrogatepass"), wish.text)
    except InputError as error:
        first = error.problems[0]
        help = first.help or 'Put text with signs of its own in quotes: `PATH="…"`.'
        _refuse(wish.text, f"the value {shown(wish.value)} cannot be read: {first.what}", help)
    if list(document.value) != ["value"]:
        _refuse(wish.text, f"the value {shown(wish.value)} goes on after its end", "Write it in one line.")
    return document.value["value"]


def _set(wish: Wish, path: Path, value: Any) -> list[Edit]:
    if wish.value:
        return [Edit(path, _read(wish))]
    owner, last = held(value, path[:-1]), path[-1]
    there = last in owner if isinstance(owner, Mapping) else isinstance(owner, list)
    if not there:
        help = f"Leave this wish out, or give a value: {_sample(path)}."
        _refuse(wish.text, f"nothing is written at {dotted(path)}, so there is nothing to take out", help)
    return [Edit(path, REMOVE)]


def _listed(wish: Wish, path: Path, value: Any) -> list[Edit]:
    """+= and -=."""
    options = shape.alternatives(shape.at(path) or {})
    items = held(value, path)
    if not wish.value:
        _refuse(wish.text, f"there is no item behind {wish.sign}", FORM)
    if wish.sign == "-=" and any(option.get("type") == "object" for option in options):
        step = str(_read(wish))
        if not isinstance(items, Mapping) or step not in items:
            _unknown_id(wish, path, step, list(items or ()), value)
        return [Edit((*path, step), REMOVE)]
    if any(option.get("type") == "object" for option in options):
        help = f"Give an entry whole: `{dotted(path)}.ID={{…}}`."
        _refuse(wish.text, f"{dotted(path)} is a block of entries, not a list", help)
    if not any("items" in option for option in options):
        what = "holds a fixed number of values" if any("prefixItems" in each for each in options) else "is one value"
        _refuse(wish.text, f"{dotted(path)} {what}, not a list that grows", f"Write {_sample(path)}.")
    item = _read(wish)
    items = items if isinstance(items, list) else []
    at = next((index for index, each in enumerate(items) if _alike(each, item)), None)
    if wish.sign == "+=":
        return _added(wish, path, items, item, at)
    return _taken(wish, path, items, item, at, value)


def _added(wish: Wish, path: Path, items: list[Any], item: Any, at: int | None) -> list[Edit]:
    if not items and _all_nodes(path):
        help = f"To have it on some alone, give them: `{dotted(path)}=[…]`."
        _refuse(wish.text, f"{dotted(path)} is empty, which stands for all nodes", help)
    if at is not None and path[0] != "walks":
        _refuse(wish.text, f"{shown(item)} is in {dotted(path)} already", f"It holds: {_items(items)}.")
    return [Edit((*path, len(items)), item)] if items else [Edit(path, [item])]


def _taken(wish: Wish, path: Path, items: list[Any], item: Any, at: int | None, value: Any) -> list[Edit]:
    nodes = list(held(value, ("nodes",)) or ())
    if not items and _all_nodes(path) and item in nodes:
        return [Edit(path, [name for name in nodes if name != item])]
    if at is None:
        known = items or (nodes if _all_nodes(path) else [])
        meant = nearest(str(item), [str(each) for each in known])
        guess = f"Did you mean {shown(meant)}? " if meant else ""
        holds = f"It holds: {_items(known)}." if known else "It is empty."
        _refuse(wish.text, f"{shown(item)} is not in {dotted(path)}", guess + holds)
    if len(items) == 1:
        return [Edit(path, [])] if not _all_nodes(path) else _last_node(wish, path, item)
    return [Edit((*path, at), REMOVE)]


def _last_node(wish: Wish, path: Path, item: Any) -> NoReturn:
    help = f"Take the network out with `{dotted(path[:-1])}=`, or name other nodes: `{dotted(path)}=[…]`."
    _refuse(wish.text, f"{shown(item)} is the last node of {dotted(path)}; an empty list would stand for all", help)


def _all_nodes(path: Path) -> bool:
    return len(path) == 3 and path[0] == "networks" and path[2] == "nodes"


def _items(items: list[Any]) -> str:
    return choice_of([str(each) for each in items])


def _alike(mine: Any, theirs: Any) -> bool:
    """Items that are the same to the schema: 5 and "5"."""
    if isinstance(mine, (list, dict)) or isinstance(theirs, (list, dict)):
        return bool(mine == theirs)
    return mine == theirs or str(mine) == str(theirs)
