"""The catalogue of facts: every fact with its name, subject kind, unit, digits, type and meaning.

A fact is registered beside the function that computes it. Rules are checked against this catalogue when they are
loaded, so a rule cannot name a fact, a variant or a unit that does not exist.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from typing import Any, Literal, TypeAlias, TypeVar

from advisor.subjects import KINDS, Subject
from advisor.trace import Fact

Type = Literal["number", "boolean", "class"]
Compute = Callable[..., Fact]
"""Takes the book (a `facts.book.Book`, which this module need not know), the subject, and the variants as keywords."""
Part: TypeAlias = Callable[[Any], Any]
"""Takes the book."""
P = TypeVar("P", bound=Part)


@dataclass(frozen=True, slots=True)
class FactSpec:
    """One entry. `variants` names what may vary and its choices, the default first: {"dir": ("down", "up")}."""

    name: str
    about: str
    unit: str
    digits: int
    type: Type
    meaning: str
    variants: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    compute: Compute | None = field(default=None, compare=False, repr=False)

    def key(self, subject: Subject, **variant: str) -> str:
        """`goodput_mbps[hop=stair, dir=down, transport=tcp]`."""
        chosen = {name: variant.get(name, choices[0]) for name, choices in self.variants.items()}
        parts = [part for part in (subject.key if subject.ids else "",) if part]
        parts += [f"{name}={value}" for name, value in chosen.items()]
        return f"{self.name}[{', '.join(parts)}]" if parts else self.name


_CATALOGUE: dict[tuple[str, str], FactSpec] = {}


def fact(
    name: str,
    *,
    about: str,
    unit: str,
    meaning: str,
    digits: int = 1,
    type: Type = "number",
    variants: Mapping[str, tuple[str, ...]] | None = None,
) -> Callable[[Compute], Any]:
    """Register a fact: the decorated function computes it."""
    if about not in KINDS:
        raise ValueError(f"unknown subject kind {about}")

    def register(function: Compute) -> Compute:
        if (about, name) in _CATALOGUE:
            raise ValueError(f"fact {name} about {about} registered twice")
        _CATALOGUE[about, name] = FactSpec(name, about, unit, digits, type, meaning, variants or {}, function)
        return function

    return register


_PARTS: dict[str, Part] = {}


def part(name: str) -> Callable[[P], P]:
    """Register what a book is built of and only the facts can tell: how its uplinks run, and its subjects of a kind
    (`subjects domain`). So the book need not know the modules that know the book."""

    def register(function: P) -> P:
        if name in _PARTS:
            raise ValueError(f"part {name} registered twice")
        _PARTS[name] = function
        return function

    return register


def build(name: str, book: Any) -> Any:
    """A part of a book; None where no module registers it."""
    load_all()
    return _PARTS[name](book) if name in _PARTS else None


@cache
def load_all() -> None:
    """Import every module that registers facts."""
    import_module("advisor.facts.modules")


def lookup(about: str, name: str) -> FactSpec | None:
    load_all()
    return _CATALOGUE.get((about, name))


def entries(about: str | None = None) -> list[FactSpec]:
    """All entries, or those about one subject kind, in order of kind and name."""
    load_all()
    return [spec for (kind, _), spec in sorted(_CATALOGUE.items()) if about in (None, kind)]
