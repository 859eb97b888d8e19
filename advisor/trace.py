"""How a number came about.

What is true of every result of a formula is stored once, on the formula; a fact keeps key, value, pointer and inputs.
`derive` calls the plain function and builds the fact: an unknown input makes an unknown output that names it, an input
with options gives an answer for each option.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeAlias, TypeVar

from advisor.values import Known, Options, Scalar, Unknown, Value, constant, from_cases


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula: its unit, its expression for people, and the published source or 'common practice, no source'."""

    id: str
    unit: str
    expr: str
    source: str
    function: Callable[..., Any]


@dataclass(frozen=True, slots=True)
class Given:
    """The user wrote it; `place` is `file:line:column`."""

    place: str
    measured: bool = False


@dataclass(frozen=True, slots=True)
class Assumed:
    """Not written by the user: a default or a catalogue entry, with its source."""

    entry: str
    source: str


@dataclass(frozen=True, slots=True)
class Solved:
    """The answer of a sharing or optimisation problem: what binds it, and how much is left elsewhere."""

    method: str
    binding: tuple[str, ...]
    slack: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Simulated:
    """The answer of a simulation."""

    draws: int
    seed: int
    events: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Looked:
    """Read off the structure of the site (who carries which network, how many hops); `how` says it in words."""

    how: str


Provenance: TypeAlias = Formula | Given | Assumed | Solved | Simulated | Looked


class Fact(NamedTuple):
    """One computed or declared quantity about one subject."""

    key: str
    """`goodput_mbps[hop=stair, dir=down, transport=tcp]`"""
    unit: str
    value: Value
    by: Provenance
    inputs: tuple[Fact, ...] = ()

    @property
    def raw(self) -> Any:
        """What a formula computes with; only for known facts."""
        if not isinstance(self.value, Known):
            raise TypeError(f"{self.key} is not known")
        return self.value.raw

    @property
    def known(self) -> bool:
        return isinstance(self.value, Known)


F = TypeVar("F", bound=Callable[..., Any])
_FORMULAS: dict[Callable[..., Any], Formula] = {}


def formula(*, id: str, unit: str, expr: str, source: str) -> Callable[[F], F]:
    """Register a plain function as a formula; the function itself is returned unchanged."""

    def register(function: F) -> F:
        _FORMULAS[function] = Formula(id, unit, expr, source, function)
        return function

    return register


def formula_of(function: Callable[..., Any]) -> Formula:
    return _FORMULAS[function]


def formulas() -> list[Formula]:
    """Every registered formula, by id."""
    return sorted(_FORMULAS.values(), key=lambda entry: entry.id)


def given(key: str, unit: str, value: Scalar, place: str, *, measured: bool = False) -> Fact:
    return Fact(key, unit, constant(value), Given(place, measured))


def assumed(key: str, unit: str, value: Scalar, entry: str, source: str) -> Fact:
    return Fact(key, unit, constant(value), Assumed(entry, source))


def unknown(key: str, unit: str, *missing: str) -> Fact:
    """An unknown fact; `missing` says in plain words what the site file would have to give."""
    return Fact(key, unit, Unknown(missing), Looked("not given"))


def derive(key: str, function: Callable[..., Any], **facts: Fact) -> Fact:
    """Call a registered formula on the values of `facts` and return the fact it gives.

    Where two or more inputs vary, the band comes from the draws; where one level decides, from its two ends.
    """
    by = _FORMULAS[function]
    inputs = tuple(facts.values())
    missing = [reason for fact in inputs if isinstance(fact.value, Unknown) for reason in fact.value.missing]
    if missing:
        return Fact(key, by.unit, Unknown(tuple(dict.fromkeys(missing))), by, inputs)
    if any(isinstance(fact.value, Options) for fact in inputs):
        return Fact(key, by.unit, _per_option(function, facts), by, inputs)
    return Fact(key, by.unit, _apply(function, {name: fact.value for name, fact in facts.items()}), by, inputs)


def _apply(function: Callable[..., Any], values: dict[str, Any]) -> Known:
    varying = [value for value in values.values() if value.cases is not None]
    joint = len(varying) > 1 or any(value.joint for value in varying)
    return from_cases(function(**{name: value.raw for name, value in values.items()}), joint=joint)


def _per_option(function: Callable[..., Any], facts: dict[str, Fact]) -> Options:
    """One answer for each option; inputs that share an option name move together."""
    names: list[str] = []
    for fact in facts.values():
        if isinstance(fact.value, Options):
            names += [name for name in fact.value.answers if name not in names]
    answers: dict[str, Known | Unknown] = {}
    for name in names:
        chosen = {key: _answer(fact.value, name) for key, fact in facts.items()}
        missing = tuple(m for value in chosen.values() if isinstance(value, Unknown) for m in value.missing)
        answers[name] = Unknown(missing) if missing else _apply(function, chosen)
    return Options(answers)


def _answer(value: Value, name: str) -> Known | Unknown:
    if isinstance(value, Options):
        return value.answers.get(name, Unknown((f"no answer for option {name}",)))
    return value


def walk(fact: Fact) -> Iterator[tuple[int, Fact]]:
    """Every fact of the tree with its depth, parents before inputs; a fact met again is not opened again."""
    seen: set[int] = set()
    stack = [(0, fact)]
    while stack:
        depth, current = stack.pop()
        yield depth, current
        if id(current) in seen:
            continue
        seen.add(id(current))
        stack.extend((depth + 1, entry) for entry in reversed(current.inputs))


def assumptions(fact: Fact) -> list[Fact]:
    """The assumed inputs a fact rests on, each once, in the order of the tree."""
    found: dict[str, Fact] = {}
    for _, entry in walk(fact):
        if isinstance(entry.by, Assumed):
            found.setdefault(entry.key, entry)
    return list(found.values())


__all__ = [
    "Assumed",
    "Fact",
    "Formula",
    "Given",
    "Looked",
    "Provenance",
    "Simulated",
    "Solved",
    "assumed",
    "assumptions",
    "derive",
    "formula",
    "formula_of",
    "formulas",
    "given",
    "unknown",
    "walk",
]
