"""What a checked condition is made of. Names, types and units were checked when it was read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal as Choice
from typing import NamedTuple, TypeAlias

from advisor.facts.catalogue import Type
from advisor.values import Scalar


class Quantity(NamedTuple):
    """One fact with every variant chosen, in the catalogue's order."""

    name: str
    variant: tuple[tuple[str, str], ...]

    @property
    def text(self) -> str:
        return ".".join([self.name, *(choice for _, choice in self.variant)])


@dataclass(frozen=True, slots=True)
class Reference:
    """A fact as a condition uses it: rounded to the catalogue's digits before anything is compared."""

    quantity: Quantity
    type: Type
    unit: str
    digits: int


@dataclass(frozen=True, slots=True)
class Literal:
    value: Scalar


@dataclass(frozen=True, slots=True)
class Listed:
    values: tuple[Scalar, ...]


@dataclass(frozen=True, slots=True)
class Not:
    part: Node


@dataclass(frozen=True, slots=True)
class Logic:
    op: Choice["and", "or"]
    parts: tuple[Node, ...]


@dataclass(frozen=True, slots=True)
class Compare:
    op: Choice["<", "<=", "==", "in"]
    left: Node
    right: Node


@dataclass(frozen=True, slots=True)
class Arithmetic:
    op: Choice["+", "-", "*", "/", "min", "max", "abs"]
    parts: tuple[Node, ...]
    divisor: str = ""
    """How the condition writes what it divides by, for the reason given when that may be zero."""


Node: TypeAlias = Reference | Literal | Listed | Not | Logic | Compare | Arithmetic


@dataclass(frozen=True, slots=True)
class Expression:
    """A checked condition: its text, its tree, what it gives, and the facts it reads in order of appearance."""

    text: str
    tree: Node
    type: Type
    unit: str | None
    references: tuple[Reference, ...]
