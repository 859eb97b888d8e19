"""Writes the tables of `docs/site-file.md` from the schema of the site file, below the marker.

    python docs/make_site_file.py

What stands above the marker is written by hand and kept. A test runs the same function and compares.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from advisor.site.schema import json_schema

PAGE = Path(__file__).parent / "site-file.md"
MARKER = "<!-- From here on written by docs/make_site_file.py from the schema; do not edit by hand. -->\n"

Schema = dict[str, Any]


def page(text: str, schema: Schema) -> str:
    """The page with its hand-written head kept and everything below the marker made anew."""
    head, found, _ = text.partition(MARKER)
    if not found:
        raise ValueError(f"{PAGE.name} has lost its marker")
    return head + MARKER + "\n" + "\n".join(Tables(schema).lines()) + "\n"


class Tables:
    """One heading and table for each section of the file, each followed by the blocks that occur first in it."""

    def __init__(self, schema: Schema) -> None:
        self.schema = schema
        self.blocks: Schema = schema["$defs"]
        self.told: dict[str, str] = {}
        """Blocks that already have a table, with the heading it stands under."""

    def lines(self) -> list[str]:
        lines = ["## Sections", "", *self.overview()]
        for name, field in self.schema["properties"].items():
            lines += self.block(name, str(block_of(field)), keyed(field), level=2)
        return lines

    def overview(self) -> list[str]:
        rows = []
        for name, field in self.schema["properties"].items():
            shape = "mapping by id" if keyed(field) else "block"
            rows.append((f"[`{name}`](#{name})", self.meaning(field), shape, field["given"]))
        return table(("section", "what it holds", "shape", "given"), rows)

    def meaning(self, field: Schema) -> str:
        text = field.get("description") or self.blocks[str(block_of(field))]["description"]
        return " ".join(str(text).split())

    def block(self, path: str, name: str, by_id: bool, level: int) -> list[str]:
        self.told[name] = path
        block = self.blocks[name]
        lines = ["", f"{'#' * level} {path}", "", " ".join(str(block["description"]).split())]
        if by_id and level == 2:
            lines[-1] += f" A mapping: an id of your own, then the block (`{path}: {{my-id: {{…}}}}`)."
        required = set(block.get("required", ()))
        rows, inner = [], []
        for key, field in block["properties"].items():
            rows.append(
                (f"`{key}`", self.cell(field), allowed(field), field.get("unit", ""), given(field, key in required))
            )
            below = block_of(field)
            if below is not None and below not in self.told:
                self.told[below] = f"{path}.{key}"
                inner.append((f"{path}.{key}", below, keyed(field)))
        lines += ["", *table(("field", "meaning", "allowed", "unit", "given"), rows)]
        for below_path, below, below_keyed in inner:
            lines += self.block(below_path, below, below_keyed, level=3)
        return lines

    def cell(self, field: Schema) -> str:
        below = block_of(field)
        if below is None:
            return self.meaning(field)
        where = self.told.get(below)
        more = f" See [{where}](#{where.replace('.', '')})." if where else " Its fields: below."
        return self.meaning(field) + more


def block_of(field: Schema) -> str | None:
    """Name of the block a field holds, alone or by id."""
    for part in (field, *field.get("anyOf", ()), *field.get("patternProperties", {}).values()):
        if "$ref" in part:
            return str(part["$ref"]).rpartition("/")[2]
    return None


def keyed(field: Schema) -> bool:
    return "patternProperties" in field


def allowed(field: Schema) -> str:
    """What may be written there, in words."""
    choices = field.get("anyOf", [field])
    said = [words for words in (one_of(choice) for choice in choices) if words]
    return " or ".join(dict.fromkeys(said))


def one_of(part: Schema) -> str:
    if "$ref" in part:
        return "a block"
    if "const" in part:
        return f"`{part['const']}`"
    if "enum" in part:
        return ", ".join(f"`{choice}`" for choice in part["enum"])
    kind = part.get("type")
    if kind == "object":
        inner = next(iter(part.get("patternProperties", {}).values()), part.get("additionalProperties", {}))
        return f"mapping of {one_of(inner)}" if inner else "mapping"
    if kind == "array":
        if "prefixItems" in part:
            return "[" + ", ".join(one_of(item) for item in part["prefixItems"]) + "]"
        return "list of " + allowed(part["items"])
    if kind in ("number", "integer"):
        return " ".join(filter(None, ("number" if kind == "number" else "whole number", limits(part))))
    return {"boolean": "`true`, `false`", "string": "text"}.get(str(kind), "")


def limits(part: Schema) -> str:
    words = [
        f"{sign} {part[key]:g}"
        for key, sign in (("exclusiveMinimum", ">"), ("minimum", "≥"), ("exclusiveMaximum", "<"), ("maximum", "≤"))
        if key in part
    ]
    return ", ".join(words)


def given(field: Schema, required: bool) -> str:
    """Which of the four it is, with the default's value or the catalogue of the range."""
    kind = str(field.get("given", ""))
    if required or kind == "required":
        return "**required**"
    if kind == "range":
        return f"range (`{field['range']}`)"
    value = field.get("default")
    if kind == "default" and value not in (None, "") and "$ref" not in field and value != []:
        kind += f": `{json.dumps(value, ensure_ascii=False).strip(chr(34))}`"
    return kind + (f" ({field['source']})" if field.get("source") else "")


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> list[str]:
    """A Markdown table; strokes inside cells are escaped."""
    body = [[str(cell).replace("|", "\\|") for cell in row] for row in rows]
    return [f"| {' | '.join(row)} |" for row in (head, ["---"] * len(head), *body)]


if __name__ == "__main__":
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8"), json_schema()), encoding="utf-8")
