"""From what the schema refuses to plain language: where it stands, what is wrong, what is allowed, what to do."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, Literal, NamedTuple, TypeAlias

from advisor.errors import Position, Problem
from advisor.site import shape
from advisor.site.wording import MOST_PROBLEMS, and_more, choice_of, dotted, nearest, one_of, shown
from advisor.site.yaml_reader import Document, Path

Refusal: TypeAlias = Any
"""One entry of pydantic's list of errors."""

Kind: TypeAlias = Literal["unknown word", "missing", "key", "rule", "value"]


class Fault(NamedTuple):
    """One refused place: the path of the value (or of the missing or refused key) and what kind of fault it is."""

    position: Position
    path: Path
    kind: Kind
    words: str = ""


def problems(refusals: Sequence[Refusal], document: Document) -> list[Problem]:
    """One problem for each refused place, in the order of the file."""
    faults = sorted({fault_of(refusal, document) for refusal in refusals}, key=lambda it: (it.position, str(it)))
    told = without_echoes(faults)
    found = [_worded(fault, document) for fault in told[:MOST_PROBLEMS]]
    if len(told) > MOST_PROBLEMS:
        found.append(and_more(told[MOST_PROBLEMS].position, len(told) - MOST_PROBLEMS))
    return found


def fault_of(refusal: Refusal, document: Document) -> Fault:
    """The place and the kind of one refusal; the schema's own names for alternatives are left out of the path."""
    path: list[str | int] = []
    here: Any = document.value
    parts: tuple[str | int, ...] = refusal["loc"]
    kind: Kind = "rule" if refusal["type"] == "value_error" else "value"
    for index, part in enumerate(parts):
        last = index == len(parts) - 1
        if last and refusal["type"] == "missing" and isinstance(here, dict):
            path.append(part)
            kind = "missing"
        elif last and part == "[key]" and refusal["type"] not in ("extra_forbidden", "missing"):
            kind = "key"
        elif isinstance(here, dict) and str(part) in here:
            path.append(str(part))
            here = here[str(part)]
            if last and refusal["type"] == "extra_forbidden":
                kind = "unknown word"
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            path.append(part)
            here = here[part]
        else:
            break
    place = tuple(path)
    words = str(refusal.get("ctx", {}).get("error", "")) if kind == "rule" else ""
    return Fault(_position(place, kind, words, document), place, kind, words)


def without_echoes(faults: Sequence[Fault]) -> list[Fault]:
    """Leave out what only follows from another fault: a list said to be too short because its items are wrong, an
    item of a list whose form is wrong, a word said to be missing that is there but misspelt."""
    values = {fault.path for fault in faults if fault.kind in ("value", "key", "rule")}
    above = {path[:length] for path in values for length in range(len(path))}
    misspelt = set()
    for fault in faults[:MOST_PROBLEMS]:
        if fault.kind == "unknown word":
            meant = nearest(str(fault.path[-1]), shape.words_allowed(fault.path[:-1]))
            misspelt.add((*fault.path[:-1], meant or ""))
    return [
        fault
        for fault in faults
        if not (fault.kind == "value" and fault.path in above)
        and not (fault.kind == "missing" and fault.path in misspelt)
    ]


def _position(path: Path, kind: Kind, words: str, document: Document) -> Position:
    if kind in ("unknown word", "key") and path in document.keys:
        return document.keys[path].position
    if kind == "rule":
        given = document.value
        for part in path:
            given = given[part]
        if isinstance(given, dict):
            for word in re.findall(r"\w+", words):
                if word in given:
                    return document.keys[(*path, word)].position
    if kind in ("missing", "rule"):
        owner = path[:-1] if kind == "missing" else path
        while owner and owner not in document.keys and owner not in document.spots:
            owner = owner[:-1]
        return document.keys[owner].position if owner in document.keys else document.spots[owner].position
    return document.spots[path].position


def _worded(fault: Fault, document: Document) -> Problem:
    if fault.kind == "unknown word":
        return Problem(fault.position, *_unknown_word(fault.path))
    if fault.kind == "missing":
        return Problem(fault.position, *_missing(fault.path))
    if fault.kind == "key":
        return Problem(
            fault.position,
            f"{shown(str(fault.path[-1]))} cannot stand under {_under(fault.path[:-1])}; "
            f"expected: {shape.key_expected(fault.path[:-1])}",
            "Choose another word before the colon.",
        )
    if fault.kind == "rule":
        return Problem(fault.position, f"{dotted(fault.path)}: {fault.words}", _rule_help(fault.words))
    return Problem(fault.position, *_wrong_value(fault.path, document))


def _under(path: Path) -> str:
    return dotted(path) if path else "the top of the file"


def _unknown_word(path: Path) -> tuple[str, str]:
    word, home = str(path[-1]), path[:-1]
    allowed = shape.words_allowed(home)
    what = f"unknown word {shown(word)} {'under ' + dotted(home) if home else 'at the top of the file'}"
    if re.search(r"(?i)pass(word|phrase|wd)?$|^psk$|secret", word):
        return what, "No password is needed and none is ever asked for: delete this line."
    if word in ("level", "level_dbm", "rssi") and home[:1] == ("neighbours",):
        return what, "Write where it is heard: `heard_dbm: {gateway: -70}`, one level for each node."
    if ":" in word:
        return what, "A colon needs a space behind it: `word: value`."
    if word.isdecimal():
        return what, "A comma begins a new entry inside { }; write decimals with a point, and a word before each colon."
    meant = nearest(word, allowed)
    elsewhere = shape.homes_of(word)
    if meant:
        guess = f"Did you mean {shown(meant)}? "
    elif elsewhere:
        places = [f"under {place}" if place else "at the top of the file" for place in elsewhere[:3]]
        guess = f"{word} belongs {one_of(places)}. "
    else:
        guess = ""
    return what, f"{guess}Allowed here: {choice_of(allowed, most=40)}."


def _missing(path: Path) -> tuple[str, str]:
    name, home = str(path[-1]), path[:-1]
    schema = shape.at(path) or {}
    where = f"{dotted(home)} has no {name}" if home else f"the file has no {name}"
    inside = schema.get("required", [])
    help = f"Add `{name}:`. {_meaning(path)}" + (f" It needs: {', '.join(inside)}." if inside else "")
    return f"{where}; expected: {_allowed(schema)}", help.rstrip()


def _wrong_value(path: Path, document: Document) -> tuple[str, str]:
    schema = shape.at(path) or {}
    allowed = _allowed(schema, path)
    spot = document.spots[path]
    value = document.value
    for part in path:
        value = value[part]
    if value is None:
        help = "Write a value behind the colon, or take the line out."
        if any(option.get("type") == "object" for option in shape.alternatives(schema)):
            help = "Write its entries on indented lines below, `{}` for none, or take the line out."
        return f"{dotted(path)} is empty; expected: {allowed}", help
    told = spot.raw if spot.plain and not isinstance(value, str) and spot.raw else shown(value)
    meaning = _meaning(path)
    help = f"{_hint(value, spot.plain, schema)} {f'Meaning: {meaning}' if meaning else ''}".strip()
    return f"{dotted(path)} is {told}; expected: {allowed}", help


_NUMBER_AND_UNIT = re.compile(r"([-+]?[0-9]+(?:\.[0-9]+)?)\s*([A-Za-zµ/%²-]+(?:/s)?)")


def _hint(value: Any, plain: bool, schema: shape.Schema) -> str:
    """What a person most likely meant."""
    options = shape.alternatives(schema)
    kinds = {option.get("type") for option in options}
    words = [str(word) for option in options for word in (*option.get("enum", ()), option.get("const", ""))]
    if kinds == {"array"} and not isinstance(value, (list, dict)):
        return "Put it in square brackets."
    if isinstance(value, list) and "array" not in kinds:
        if "object" in kinds:
            return "Write each entry with a colon, on indented lines or in { }."
        return "Give one value, without square brackets."
    if not isinstance(value, str):
        return ""
    if "boolean" in kinds and value.lower() in ("yes", "no", "on", "off", "true", "false", "y", "n"):
        return f"Write {'true' if value.lower() in ('yes', 'on', 'true', 'y') else 'false'}, without quotes."
    if kinds & {"number", "integer"}:
        if not plain and re.fullmatch(r"[-+]?[0-9.]+", value):
            return "Write the number without quotes."
        if re.fullmatch(r"[-+]?[0-9]+,[0-9]+", value):
            return f"Write a point, not a comma: {value.replace(',', '.')}."
        if re.fullmatch(r"0x[0-9a-fA-F]+|0o[0-7]+|[-+]?[0-9][0-9_]+", value):
            return "Write a plain decimal number."
        with_unit = _NUMBER_AND_UNIT.fullmatch(value)
        if with_unit and value.rstrip().endswith("%"):
            return f"Write a share between 0 and 1: {float(with_unit[1]) / 100:g}."
        if with_unit:
            return f"Write the number alone, without a unit: {with_unit[1]}."
    if any(re.fullmatch(option.get("pattern", "$."), value.upper()) for option in options):
        return f"Write {value.upper()}."
    meant = nearest(value, [word for word in words if word])
    return f"Did you mean {shown(meant)}?" if meant else ""


def _allowed(schema: shape.Schema, path: Path = ()) -> str:
    """What is allowed, with the unit of the field."""
    field = shape.field_at(path)
    unit = schema.get("unit") or (field[1].get("unit") if field else None)
    blocks = any(option.get("type") == "object" for option in shape.alternatives(schema))
    return shape.expected(schema) + (f", in {unit}" if unit and not blocks else "")


def _meaning(path: Path) -> str:
    """What the field means."""
    field = shape.field_at(path)
    return str(field[1].get("description", "")) if field else ""


def _rule_help(words: str) -> str:
    if "octets (IEEE" in words:
        return "Shorten it; a letter outside ASCII takes two to four octets."
    if words.startswith("give either"):
        return "Take one of the two out."
    return "Add what is asked for on a line of its own under it."
