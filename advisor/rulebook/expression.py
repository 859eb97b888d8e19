"""The conditions of rules: a small whitelisted language, read with Python's `ast` and checked before it runs.

Allowed are facts and their variants (`goodput_mbps.up.udp`), parameters (`params.floor_dbm`), numbers, texts,
True and False, comparison (also chained), + - * /, and/or/not, in (a list of literals), min, max and abs.
Nothing else is: no other calls, no subscripts, no names that begin with an underscore. Every name, type, variant and
unit is checked against the fact catalogue, so a condition that loads cannot fail on one of them later.
"""

from __future__ import annotations

import ast
import math
import warnings
from collections.abc import Callable, Iterable, Mapping
from typing import Literal as Choice
from typing import NamedTuple, Protocol, TypeAlias

from advisor.errors import AdvisorError
from advisor.facts.catalogue import FactSpec, Type
from advisor.rulebook import units
from advisor.rulebook.tree import (
    Arithmetic,
    Compare,
    Expression,
    Listed,
    Literal,
    Logic,
    Node,
    Not,
    Quantity,
    Reference,
)
from advisor.subjects import KINDS
from advisor.values import Scalar

MAX_LENGTH = 600
MAX_DEPTH = 16
FUNCTIONS = ("min", "max", "abs")

Lookup: TypeAlias = Callable[[str, str], FactSpec | None]
"""(subject kind, fact name) → catalogue entry."""
Entries: TypeAlias = Callable[[str], Iterable[FactSpec]]
"""Subject kind → its catalogue entries; asked only to suggest the nearest name."""


class Parameter(Protocol):
    """What the checker needs of a rule's parameter."""

    @property
    def value(self) -> Scalar | tuple[Scalar, ...]: ...

    @property
    def unit(self) -> str: ...


class ExpressionError(AdvisorError):
    """A condition is not allowed: column (1-based), what is wrong, and what would be allowed."""

    def __init__(self, column: int, what: str, help: str = "") -> None:
        self.column, self.what, self.help = column, what, help
        super().__init__(f"column {column}: {what}" + (f". {help}" if help else ""))


class _Checked(NamedTuple):
    node: Node
    type: Type
    unit: str | None
    literal: bool = False
    """Made of number literals only; `unit` is None for the literal 0, which fits any unit."""


def compile_expression(
    text: str, about: str, lookup: Lookup, params: Mapping[str, Parameter], entries: Entries | None = None
) -> Expression:
    """Read and check one condition about one subject kind. Raises ExpressionError."""
    flat = text.replace("\n", " ").strip()
    return _Reader(flat, about, lookup, params, entries).read()


def reference(path: str, about: str, lookup: Lookup, entries: Entries | None = None) -> Reference:
    """The fact that a dotted text such as `goodput_mbps.up` names. Raises ExpressionError."""
    name, *choices = path.split(".")
    return _Reader(path, about, lookup, {}, entries).fact(name, choices, 1)


def nearest(word: str, allowed: Iterable[str]) -> str:
    """A sentence with the nearest allowed word, or with all of them where none is near and they are few."""
    from difflib import get_close_matches

    names = sorted(allowed)
    close = get_close_matches(word, names, 1, 0.6)
    if close:
        return f"Nearest: {close[0]}"
    return f"Allowed: {', '.join(names)}" if 0 < len(names) <= 12 else ""


_ORDER = {ast.Lt: ("<", False), ast.LtE: ("<=", False), ast.Gt: ("<", True), ast.GtE: ("<=", True)}
_SIGNS: dict[type[ast.operator], Choice["+", "-", "*", "/"]] = {
    ast.Add: "+",
    ast.Sub: "-",
    ast.Mult: "*",
    ast.Div: "/",
}


class _Reader:
    """Turns Python's tree into ours, checking names, types and units on the way."""

    def __init__(
        self, text: str, about: str, lookup: Lookup, params: Mapping[str, Parameter], entries: Entries | None
    ) -> None:
        self.text, self.about, self.lookup, self.params, self.entries = text, about, lookup, params, entries
        self.references: dict[Quantity, Reference] = {}
        self.depth = 0

    def read(self) -> Expression:
        if not self.text:
            raise ExpressionError(1, "the condition is empty")
        if len(self.text) > MAX_LENGTH:
            raise ExpressionError(MAX_LENGTH, f"the condition is longer than {MAX_LENGTH} characters", "Split the rule")
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                tree = ast.parse(self.text, mode="eval").body
        except SyntaxError as error:
            raise ExpressionError(error.offset or len(self.text) + 1, f"cannot be read: {error.msg}") from None
        except (ValueError, RecursionError, MemoryError) as error:
            raise ExpressionError(1, f"cannot be read: {error}") from None
        result = self.check(tree)
        if isinstance(result.node, Listed):
            raise self.error(tree, "a list alone is not a condition", "Write: fact in (…)")
        return Expression(self.text, result.node, result.type, result.unit, tuple(self.references.values()))

    def error(self, node: ast.expr, what: str, help: str = "") -> ExpressionError:
        """An error at a node; Python counts columns in bytes, people in characters."""
        before = self.text.encode()[: node.col_offset].decode(errors="ignore")
        return ExpressionError(len(before) + 1, what, help)

    def check(self, node: ast.expr) -> _Checked:
        self.depth += 1
        if self.depth > MAX_DEPTH:
            raise self.error(node, f"nested deeper than {MAX_DEPTH} levels", "Split the rule")
        try:
            return self._check(node)
        finally:
            self.depth -= 1

    def _check(self, node: ast.expr) -> _Checked:
        match node:
            case ast.Constant():
                return self.constant(node)
            case ast.Name() | ast.Attribute():
                return self.named(node)
            case ast.BoolOp(op=op, values=values):
                parts = tuple(self.boolean(value) for value in values)
                return _Checked(Logic("and" if isinstance(op, ast.And) else "or", parts), "boolean", "")
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                return _Checked(Not(self.boolean(operand)), "boolean", "")
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                part = self.number(operand)
                if isinstance(part.node, Literal):
                    return part._replace(node=Literal(-float(part.node.value)))
                return part._replace(node=Arithmetic("-", (Literal(0.0), part.node)))
            case ast.BinOp(op=op) if type(op) in _SIGNS:
                return self.arithmetic(node, _SIGNS[type(op)])
            case ast.Compare():
                return self.comparison(node)
            case ast.Call():
                return self.call(node)
            case ast.Tuple(elts=elements) | ast.List(elts=elements):
                return self.listed(node, elements)
        raise self.error(
            node,
            f"{_WORDS.get(type(node), 'this')} is not allowed here",
            "Allowed: facts, params, numbers, texts, comparison, + - * /, and/or/not, in, min, max, abs",
        )

    def constant(self, node: ast.Constant) -> _Checked:
        value = node.value
        if isinstance(value, bool):
            return _Checked(Literal(value), "boolean", "")
        if isinstance(value, str):
            return _Checked(Literal(value), "class", "")
        if isinstance(value, int | float):
            try:
                number = float(value)
            except OverflowError:
                number = math.inf
            if math.isfinite(number):
                return _Checked(Literal(number), "number", None if number == 0 else "", literal=True)
        raise self.error(node, "only finite numbers, texts, True and False may be written")

    def named(self, node: ast.Name | ast.Attribute) -> _Checked:
        names: list[str] = []
        inner: ast.expr = node
        while isinstance(inner, ast.Attribute):
            names.append(inner.attr)
            inner = inner.value
        if not isinstance(inner, ast.Name):
            raise self.error(node, "only facts and params have variants or parts after a dot")
        names.append(inner.id)
        head, *rest = reversed(names)
        hidden = next((name for name in names if name.startswith("_")), None)
        if hidden:
            raise self.error(node, f"names that begin with an underscore are not allowed: {hidden}")
        column = self.error(node, "").column
        if head == "params":
            return self.param(rest, column)
        found = self.fact(head, rest, column)
        return _Checked(found, found.type, found.unit)

    def param(self, rest: list[str], column: int) -> _Checked:
        if len(rest) != 1:
            raise ExpressionError(column, "a parameter is written params.name", nearest("", self.params))
        param = self.params.get(rest[0])
        if param is None:
            raise ExpressionError(column, f"unknown parameter {rest[0]}", nearest(rest[0], self.params))
        unit = units.normal(param.unit)
        if isinstance(param.value, tuple):
            return _Checked(Listed(param.value), _type_of(param.value[0]), unit)
        return _Checked(Literal(param.value), _type_of(param.value), unit)

    def fact(self, name: str, choices: list[str], column: int) -> Reference:
        """The catalogue entry with its variants chosen; a hyphen in a choice is written as an underscore."""
        spec = self.lookup(self.about, name)
        if spec is None:
            raise ExpressionError(column, f"unknown fact {name} about {self.about}", self._where_else(name))
        chosen = {axis: allowed[0] for axis, allowed in spec.variants.items()}
        written: set[str] = set()
        for choice in choices:
            fits = [
                (axis, value)
                for axis, allowed in spec.variants.items()
                for value in allowed
                if choice in (value, value.replace("-", "_"))
            ]
            if not fits:
                allowed = [value for values in spec.variants.values() for value in values]
                help = nearest(choice, allowed) if allowed else f"{name} has no variants"
                raise ExpressionError(column, f"unknown variant {choice} of {name}", help)
            if len(fits) > 1:
                raise ExpressionError(column, f"variant {choice} of {name} could mean {fits[0][0]} or {fits[1][0]}")
            axis, value = fits[0]
            if axis in written:
                raise ExpressionError(column, f"{axis} of {name} is chosen twice")
            written.add(axis)
            chosen[axis] = value
        quantity = Quantity(name, tuple(chosen.items()))
        unit = units.normal(spec.unit) if spec.type == "number" else ""
        return self.references.setdefault(quantity, Reference(quantity, spec.type, unit, spec.digits))

    def _where_else(self, name: str) -> str:
        others = [kind for kind in KINDS if kind != self.about and self.lookup(kind, name)]
        if others:
            return f"It is a fact about {', '.join(others)}"
        return nearest(name, [spec.name for spec in self.entries(self.about)] if self.entries else [])

    def boolean(self, node: ast.expr) -> Node:
        part = self.check(node)
        if part.type != "boolean" or isinstance(part.node, Listed):
            what = f"and/or/not need yes-or-no parts; this is a {part.type}"
            raise self.error(node, what, "Compare it with something")
        return part.node

    def number(self, node: ast.expr) -> _Checked:
        part = self.check(node)
        if part.type != "number" or isinstance(part.node, Listed):
            what = "list" if isinstance(part.node, Listed) else part.type
            raise self.error(node, f"a number is needed here; this is a {what}")
        return part

    def arithmetic(self, node: ast.BinOp, op: Choice["+", "-", "*", "/"]) -> _Checked:
        left, right = self.number(node.left), self.number(node.right)
        try:
            unit = (units.of_sum if op in "+-" else units.of_product)(op, left.unit, right.unit)
        except ValueError as error:
            literal = left.literal or right.literal
            raise self.error(node, str(error), _AS_PARAM if literal and op in "+-" else "") from None
        if op == "/" and isinstance(right.node, Literal) and right.node.value == 0:
            raise self.error(node, "division by zero")
        divisor = (ast.get_source_segment(self.text, node.right) or "") if op == "/" else ""
        literal = left.literal and right.literal
        return _Checked(Arithmetic(op, (left.node, right.node), divisor), "number", unit, literal)

    def call(self, node: ast.Call) -> _Checked:
        if not isinstance(node.func, ast.Name) or node.func.id not in FUNCTIONS:
            raise self.error(node, "calls are not allowed, except min, max and abs")
        name = node.func.id
        if node.keywords or any(isinstance(part, ast.Starred) for part in node.args):
            raise self.error(node, f"{name} takes plain numbers only")
        wrong = len(node.args) != 1 if name == "abs" else len(node.args) < 2
        if wrong:
            raise self.error(node, f"{name} takes {'one number' if name == 'abs' else 'two or more numbers'}")
        parts = [self.number(part) for part in node.args]
        unit = parts[0].unit
        for part, written in zip(parts[1:], node.args[1:], strict=True):
            if not units.comparable(unit, part.unit):
                raise self.error(written, f"{name} of {units.shown(unit)} and {units.shown(part.unit)}")
            unit = part.unit if unit is None else unit
        trees = tuple(part.node for part in parts)
        return _Checked(Arithmetic(_function(name), trees), "number", unit, all(part.literal for part in parts))

    def listed(self, node: ast.expr, elements: list[ast.expr]) -> _Checked:
        parts = [self.check(element) for element in elements]
        values = tuple(part.node.value for part in parts if isinstance(part.node, Literal))
        if not values or len(values) != len(parts):
            raise self.error(node, "a list holds literals only, at least one")
        if len({part.type for part in parts}) > 1:
            raise self.error(node, "a list holds values of one type")
        kinds = {part.unit for part in parts} - {None}
        if len(kinds) > 1:
            raise self.error(node, "a list holds values of one unit")
        return _Checked(Listed(values), parts[0].type, kinds.pop() if kinds else None, all(p.literal for p in parts))

    def comparison(self, node: ast.Compare) -> _Checked:
        written = [node.left, *node.comparators]
        parts = [self.check(part) for part in written]
        tests = tuple(
            self.compare(op, parts[i], parts[i + 1], written[i], written[i + 1]) for i, op in enumerate(node.ops)
        )
        return _Checked(tests[0] if len(tests) == 1 else Logic("and", tests), "boolean", "")

    def compare(self, op: ast.cmpop, left: _Checked, right: _Checked, at_left: ast.expr, at_right: ast.expr) -> Node:
        inside = isinstance(op, ast.In | ast.NotIn)
        if isinstance(op, ast.Is | ast.IsNot):
            raise self.error(at_left, "'is' is not allowed", "Write ==")
        if isinstance(left.node, Listed) or isinstance(right.node, Listed) != inside:
            what = "'in' needs a list of literals" if inside else "a list stands only after 'in'"
            raise self.error(at_right, what)
        if left.type != right.type:
            raise self.error(at_right, f"a {left.type} cannot be compared with a {right.type}")
        if not units.comparable(left.unit, right.unit):
            if left.literal or right.literal:
                other = units.shown(right.unit if left.literal else left.unit)
                at = at_left if left.literal else at_right
                raise self.error(at, f"a bare number compared with {other}", _AS_PARAM)
            raise self.error(at_right, f"{units.shown(left.unit)} compared with {units.shown(right.unit)}")
        if type(op) in _ORDER:
            if left.type != "number":
                raise self.error(at_right, f"only numbers have an order; this is a {left.type}")
            sign, swapped = _ORDER[type(op)]
            first, second = (right, left) if swapped else (left, right)
            return Compare("<" if sign == "<" else "<=", first.node, second.node)
        test = Compare("in" if inside else "==", left.node, right.node)
        return Not(test) if isinstance(op, ast.NotIn | ast.NotEq) else test


_AS_PARAM = "Make it a parameter with unit and source"
_WORDS: dict[type[ast.expr], str] = {
    ast.Lambda: "a lambda",
    ast.Subscript: "a subscript",
    ast.IfExp: "if … else",
    ast.JoinedStr: "a formatted text",
    ast.NamedExpr: "an assignment",
    ast.BinOp: "this operator",
    ast.UnaryOp: "this sign",
    ast.Dict: "a mapping",
    ast.Set: "a set",
    ast.ListComp: "a loop",
    ast.GeneratorExp: "a loop",
    ast.SetComp: "a loop",
    ast.DictComp: "a loop",
    ast.Starred: "a star",
    ast.Await: "await",
    ast.Yield: "yield",
}


def _function(name: str) -> Choice["min", "max", "abs"]:
    return "min" if name == "min" else "max" if name == "max" else "abs"


def _type_of(value: Scalar) -> Type:
    if isinstance(value, bool):
        return "boolean"
    return "class" if isinstance(value, str) else "number"
