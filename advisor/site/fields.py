"""How a field of the site file is declared: required, default, range, or needed by a fact.

Every field says which of the four it is, what it means and its unit, so that `advisor schema`, the documentation and
the list of assumptions all read the same declaration.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, StringConstraints


class Entry(BaseModel):
    """Base of everything in the site file: frozen, unknown keys refused, numbers finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, strict=False)


Id = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,39}$")]
"""An id: letters, digits, hyphen and underscore, at most 40 characters."""

RadioRef = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+$")]
"""A radio named in full: `node.radio`."""

Text = Annotated[str, StringConstraints(max_length=500)]
Coordinate = Annotated[float, Field(ge=-10000, le=10000)]
Point = tuple[Coordinate, Coordinate]
"""x (to the right) and y (up) in metres."""


def required(meaning: str, *, unit: str | None = None, **limits: Any) -> Any:
    """A field the file must give."""
    return Field(description=meaning, json_schema_extra=_extra("required", unit), **limits)


def default(value: Any, meaning: str, *, unit: str | None = None, source: str = "", **limits: Any) -> Any:
    """A field with a low-risk default; where the default decides something it is listed as an assumption."""
    extra = _extra("default", unit)
    if source:
        extra["source"] = source
    if isinstance(value, (dict, list)):
        return Field(default_factory=type(value), description=meaning, json_schema_extra=extra, **limits)
    return Field(default=value, description=meaning, json_schema_extra=extra, **limits)


RANGES = ("power", "neighbours")
"""Catalogues that hold ranges; the others hold what is usual."""


def ranged(meaning: str, *, catalogue: str, unit: str | None = None, **limits: Any) -> Any:
    """A field that is often not known: a catalogue stands in for it, with a range of which both ends are computed, or
    with what is usual for the gear class or client kind (then it is a default)."""
    kind = "range" if catalogue in RANGES else "default"
    extra = _extra(kind, unit) | {"range" if kind == "range" else "from": catalogue}
    return Field(default=None, description=meaning, json_schema_extra=extra, **limits)


def needed(meaning: str, *, unit: str | None = None, **limits: Any) -> Any:
    """A field some fact needs: that fact stays unknown until the field is given."""
    return Field(default=None, description=meaning, json_schema_extra=_extra("needed by a fact", unit), **limits)


def _extra(kind: str, unit: str | None) -> dict[str, Any]:
    return {"given": kind} | ({"unit": unit} if unit else {})
