"""Every field says which of the four it is, what it means and its unit; every id is checked or known to name itself."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic.fields import FieldInfo

from advisor.data import catalogue
from advisor.site import (
    building,
    equipment,
    fields,
    networks,
    people,
    references,
    schema,
    shape,
    surroundings,
)

MODULES = (building, equipment, networks, people, schema, surroundings)
MODELS = sorted(
    {
        thing
        for module in MODULES
        for thing in vars(module).values()
        if isinstance(thing, type) and issubclass(thing, fields.Entry) and thing is not fields.Entry
    },
    key=lambda model: model.__name__,
)
FIELDS = [
    pytest.param(name, field, id=f"{model.__name__}.{name}")
    for model in MODELS
    for name, field in model.model_fields.items()
]

UNITS = {
    "dbm": "dBm",
    "dbi": "dBi",
    "db": "dB",
    "mhz": "MHz",
    "m": "m",
    "mbps": "Mb/s",
    "ms": "ms",
    "s": "s",
    "ns": "ns",
    "minutes": "min",
}
KINDS = {"required", "default", "range", "needed by a fact"}


def extra(field: FieldInfo) -> dict[str, Any]:
    assert isinstance(field.json_schema_extra, dict)
    return field.json_schema_extra


@pytest.mark.parametrize(("name", "field"), FIELDS)
def test_a_field_says_which_of_the_four_it_is(name: str, field: FieldInfo) -> None:
    assert extra(field)["given"] in KINDS
    assert field.description
    assert (extra(field)["given"] == "required") == field.is_required()


@pytest.mark.parametrize(("name", "field"), FIELDS)
def test_the_unit_in_a_name_is_the_declared_unit(name: str, field: FieldInfo) -> None:
    suffix = re.search(r"_(dbm|dbi|db|mhz|m|mbps|ms|ns|minutes|m_s|s)$|^(minutes)$", name)
    if not suffix or name.endswith("_per_m") or name == "cable_per_m":
        return
    word = suffix[1] or suffix[2]
    assert extra(field).get("unit") == ("m/s" if word == "m_s" else UNITS[word])


@pytest.mark.parametrize(("name", "field"), FIELDS)
def test_a_range_names_a_catalogue_that_exists(name: str, field: FieldInfo) -> None:
    if extra(field)["given"] == "range":
        named = str(extra(field)["range"])
        assert named in catalogue("ranges") or catalogue(named)


def walk(node: dict[str, Any], path: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every place of the schema as a pattern of `references.POINTERS`, with its schema."""
    for option in shape.alternatives(node):
        yield path, option
        for name, below in option.get("properties", {}).items():
            yield from walk(below, f"{path}.{name}".lstrip("."))
        for pattern, below in option.get("patternProperties", {}).items():
            yield f"{path}.@", {"type": "string", "pattern": pattern, "names": path}
            yield from walk(below, f"{path}.*")
        if isinstance(option.get("additionalProperties"), dict):
            yield from walk(option["additionalProperties"], f"{path}.*")
        for index, below in enumerate(option.get("prefixItems", ())):
            yield from walk(below, f"{path}.{index}")
        if "items" in option:
            yield from walk(option["items"], f"{path}.#")


DEFINES = {
    "nodes.@",
    "nodes.*.radios.@",
    "nodes.*.ports.@",
    "networks.@",
    "clients.@",
    "places.@",
    "walks.@",
    "floors.@",
    "floors.*.walls.@",
    "floors.*.walls.*.openings.@",
    "rooms.@",
    "neighbours.@",
    "interference.@",
    "needs.@",
    "choices.cables.@",
    "choices.positions.*.@",
    "measured.@",
    "outages.@",
    "ignored.@",
}
"""Words before a colon that make an id rather than point at one."""


def test_every_id_in_the_schema_is_checked_or_names_itself() -> None:
    ids = {r"^[A-Za-z0-9][A-Za-z0-9_-]{0,39}$", r"^[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+$"}
    places = {path for path, node in walk(shape.root(), "") if node.get("pattern") in ids}
    assert places - DEFINES - references.NAMES_ITSELF == set(references.POINTERS)
    assert places >= DEFINES | references.NAMES_ITSELF


def test_every_pattern_is_told_in_words() -> None:
    patterns = {node["pattern"] for _, node in walk(shape.root(), "") if "pattern" in node}
    assert patterns == set(shape.PATTERNS)


def test_nothing_asks_for_a_secret() -> None:
    names = {name for model in MODELS for name in model.model_fields}
    assert not [name for name in names if re.search(r"pass(word|phrase)|secret|psk|(^|_)key", name)]
