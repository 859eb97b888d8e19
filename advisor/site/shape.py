"""What the schema allows at a place of the site file, in words: read from the JSON Schema, so it is said only once."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any, TypeAlias

from advisor.site.wording import one_of

Schema: TypeAlias = dict[str, Any]
Path: TypeAlias = tuple[str | int, ...]

PATTERNS = {
    r"^[A-Za-z0-9][A-Za-z0-9_-]{0,39}$": "an id (letters, digits, hyphen and underscore, at most 40, no spaces)",
    r"^[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+$": "a radio written as node.radio",
    r"^[A-Z]{2}$": "two capital letters (ISO 3166-1), e.g. DE",
    r"^([0-9a-fA-F]{2}){1,32}$": "pairs of hexadecimal digits, 1 to 32 of them, e.g. 63616665",
    r"^\d{4}-\d{2}-\d{2}$": "a day as YYYY-MM-DD",
}
"""Every pattern of the schema in words."""


@cache
def root() -> Schema:
    """The JSON Schema of the site file."""
    from advisor.site.schema import json_schema

    return json_schema()


def at(path: Path) -> Schema | None:
    """The schema of the value at a path, or None where nothing is allowed."""
    here: Schema | None = root()
    for part in path:
        here = _below(here, part) if here else None
    return resolved(here) if here else None


def field_at(path: Path) -> tuple[str, Schema] | None:
    """The named field a path lies in (a list item or an entry's id belongs to its field): name and schema."""
    for length in range(len(path), 0, -1):
        owner = at(path[: length - 1])
        name = path[length - 1]
        for option in alternatives(owner) if owner else ():
            if isinstance(name, str) and name in option.get("properties", {}):
                return name, resolved(option["properties"][name])
    return None


def resolved(schema: Schema) -> Schema:
    """The schema itself, where it is given by reference; words beside the reference go first."""
    while "$ref" in schema:
        target = root()["$defs"][schema["$ref"].rsplit("/", 1)[1]]
        schema = target | {key: value for key, value in schema.items() if key != "$ref"}
    return schema


def alternatives(schema: Schema) -> list[Schema]:
    """What a value may be, `nothing` left out."""
    schema = resolved(schema)
    found = [resolved(option) for option in schema.get("anyOf", [schema])]
    return [option for option in found if option.get("type") != "null"]


def _below(schema: Schema, part: str | int) -> Schema | None:
    for option in alternatives(schema):
        if isinstance(part, int):
            fixed = option.get("prefixItems")
            if fixed and part < len(fixed):
                return resolved(fixed[part])
            if "items" in option:
                return resolved(option["items"])
        elif part in option.get("properties", {}):
            return resolved(option["properties"][part])
        elif "patternProperties" in option:
            return resolved(next(iter(option["patternProperties"].values())))
        elif isinstance(option.get("additionalProperties"), dict):
            return resolved(option["additionalProperties"])
    return None


def words_allowed(path: Path) -> list[str]:
    """The words (keys) the schema knows directly under a path."""
    here = at(path)
    return [name for option in alternatives(here) for name in option.get("properties", {})] if here else []


def key_expected(path: Path) -> str:
    """What a key directly under a path must be."""
    for option in alternatives(at(path) or {}):
        if "patternProperties" in option:
            return PATTERNS.get(next(iter(option["patternProperties"])), "another word")
        if "enum" in option.get("propertyNames", {}):
            return one_of(option["propertyNames"]["enum"])
    return "a whole number"


def expected(schema: Schema) -> str:
    """What is allowed, in words: `a whole number from 1 to 16`, `gateway, relay or access-point`."""
    return " or ".join(dict.fromkeys(_in_words(option) for option in alternatives(schema)))


def _short(schema: Schema) -> str:
    """The same, without explanations in brackets."""
    return expected(schema).split(" (")[0]


def _in_words(option: Schema) -> str:
    if "const" in option:
        return str(option["const"])
    if "enum" in option:
        return one_of([str(word) for word in option["enum"]])
    kind = option.get("type")
    if kind == "integer":
        return "a whole number" + _limits(option)
    if kind == "number":
        return "a number" + _limits(option)
    if kind == "boolean":
        return "true or false"
    if kind == "array":
        return _list_in_words(option)
    if kind == "object":
        return _block_in_words(option)
    return _text_in_words(option)


def _limits(option: Schema) -> str:
    low, high = option.get("minimum"), option.get("maximum")
    above = option.get("exclusiveMinimum")
    words = ""
    if above is not None:
        words = f" above {above:g}" + (f", at most {high:g}" if high is not None else "")
    elif low is not None and high is not None:
        words = f" from {low:g} to {high:g}"
    elif low is not None:
        words = f", {low:g} or more"
    elif high is not None:
        words = f", {high:g} or less"
    return words


def _text_in_words(option: Schema) -> str:
    if "pattern" in option:
        return PATTERNS.get(option["pattern"], "text of another form")
    least, most = option.get("minLength"), option.get("maxLength")
    if least and most:
        return f"text of {least} to {most} characters"
    if least or most:
        return f"text of at {'least' if least else 'most'} {least or most} characters"
    return "text"


def _list_in_words(option: Schema) -> str:
    fixed = option.get("prefixItems")
    if fixed:
        return f"[{', '.join(_short(item) for item in fixed)}]"
    least = option.get("minItems")
    inside = " or ".join(_short(each) for each in alternatives(option.get("items", {})))
    return "a list in square brackets" + (f" with at least {least} entries" if least else "") + f", each {inside}"


def _block_in_words(option: Schema) -> str:
    if "properties" in option:
        return "a block of indented lines `word: value`"
    least = " with at least one entry" if option.get("minProperties") else ""
    return f"a block of entries `id: …`{least}"


def homes_of(word: str) -> list[str]:
    """Where the schema knows a word: `nodes.ID.radios.ID` for `channel`."""
    return sorted(home for home, words in _all_blocks() if word in words)


@cache
def _all_blocks() -> tuple[tuple[str, list[str]], ...]:
    return tuple(_blocks(root(), ""))


def _blocks(schema: Schema, home: str) -> Iterator[tuple[str, list[str]]]:
    for option in alternatives(schema):
        properties = option.get("properties", {})
        if properties:
            yield home, list(properties)
        for name, inner in properties.items():
            yield from _blocks(inner, f"{home}.{name}" if home else name)
        for inner in option.get("patternProperties", {}).values():
            yield from _blocks(inner, f"{home}.ID")
