"""Valid changes to a site thrown at random from a number, in every section: values, entries that come and go, new ids,
defaults written out, lists in another order."""

from __future__ import annotations

import random
import re
from typing import Any

from advisor.errors import InputError
from advisor.site import shape
from advisor.site.edit import REMOVE, CannotEdit, Edit, applied, section
from advisor.site.load import LoadedSite, load_text

WORDS = ("porch", "ledge", "stage", "staff", "lower", "brick", "phone", "slate", "round", "a new word", "2031-01-02")
IDS = [
    *("lower", "higher", "spine", "flank", "gap1", "foyer", "pantry", "loft", "porch", "slow", "fast", "socket"),
    *("ledge", "low24", "mid5", "beam", "staff", "visitors", "slate", "stage", "booth", "attic", "round", "mill"),
    *("forge", "oven", "show", "talk", "duct", "sill", "rail", "reading", "storm", "reset", "height", "pair"),
]
"""Every id of `full_site.yaml`: each is a word that stands nowhere else in it."""


def loaded_from(value: Any, file: str = "other.yaml") -> LoadedSite:
    """A site file of plain data."""
    lines = [line for name, content in value.items() for line in section(name, content)]
    return load_text("\n".join(lines) + "\n", file)


def called_otherwise(loaded: LoadedSite, old: str, new: str) -> LoadedSite:
    """The text with one word written otherwise wherever it stands."""
    return load_text(re.sub(rf"\b{re.escape(old)}\b", new, loaded.document.text), "other.yaml")


def thrown(loaded: LoadedSite, number: int) -> LoadedSite:
    """The site after some valid edits; the same number gives the same site."""
    chance = random.Random(number)
    here = loaded
    for _ in range(chance.randint(0, 2)):
        old = chance.choice(IDS)
        if re.search(rf"\b{old}\b", here.document.text):
            here = called_otherwise(here, old, f"{old}-b" if chance.random() < 0.5 else f"a{old}")
    left = chance.randint(0, 6)
    for _ in range(300):
        if not left:
            break
        try:
            here = loaded_from(applied(here.document.value, [_edit(here, chance)]))
            left -= 1
        except (InputError, CannotEdit):
            continue
    return here


def _edit(loaded: LoadedSite, chance: random.Random) -> Edit:
    paths = sorted((path for path in loaded.document.spots if path), key=str)
    path = chance.choice(paths)
    here = loaded.document.value
    for step in path:
        here = here[step]
    way = chance.random()
    if way < 0.15:
        return Edit(path, REMOVE)
    if way < 0.3 and isinstance(here, list):
        return Edit(path, chance.sample(here, len(here)))
    if way < 0.5 and isinstance(here, dict):
        return Edit((*path[:-1], f"new{chance.randint(1, 9)}"), here)
    field = chance.choice(shape.words_allowed(path) or [""])
    if field and way < 0.9:
        path = (*path, field)
    return Edit(path, value_for(shape.at(path) or {}, chance))


def value_for(schema: shape.Schema, chance: random.Random) -> Any:
    """A value the schema may allow."""
    option = chance.choice(shape.alternatives(schema) or [{}])
    if "const" in option or "enum" in option:
        return chance.choice(option.get("enum") or [option["const"]])
    kind = option.get("type")
    if kind == "integer":
        return chance.choice([0, 1, 2, 3, 11, 40])
    if kind == "number":
        return chance.choice([0, 0.5, 1, 3.5, 20, -65])
    if kind == "boolean":
        return chance.random() < 0.5
    if kind == "array":
        parts = option.get("prefixItems") or [option["items"]] * chance.randint(0, 3)
        return [value_for(part, chance) for part in parts]
    if kind == "object":
        return {}
    return chance.choice(WORDS)
