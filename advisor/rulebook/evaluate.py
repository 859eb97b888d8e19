"""Evaluating a checked condition: three-valued, and aware of the band of every number.

Every known number is (low, centre, high); arithmetic is interval arithmetic (Moore, *Interval Analysis*, 1966). A
comparison gives the answer at the centre and whether it can be otherwise within the band. Facts are taken as
independent of one another, so a result is never narrower than the truth, and may be wider. and/or/not are Kleene's
strong three-valued logic: an unknown part is ignored when another part already decides with certainty.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any, TypeAlias

import numpy as np

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
from advisor.values import Known, Options, Unknown, Value, constant

NOISE_DIGITS = 9
"""Results of arithmetic are rounded to this many digits, so that 0.1 + 0.2 equals 0.3 in a comparison."""
MAX_SCENARIOS = 64

Single: TypeAlias = Known | Unknown


@dataclass(frozen=True, slots=True)
class Judged:
    """The answer to a yes-or-no condition."""

    truth: bool | None
    """The answer at the centre; None is unknown."""
    certain: bool
    """No other answer is possible within the band, nor with another option."""
    missing: tuple[str, ...] = ()
    options: tuple[str, ...] = ()
    """Where the options differ: those with which the condition holds or may hold."""


def evaluate(expression: Expression, values: Mapping[Quantity, Value]) -> Judged:
    """Evaluate a condition, once for each way the equipment may choose.

    Where the options differ the answer is True and not certain, and `options` names those with which it may hold;
    an unknown option makes the answer unknown, unless another one already shows that the condition may hold.
    """
    answers = [(name, truth(resolve(expression.tree, chosen))) for name, chosen in scenarios(values)]
    if len(answers) == 1:
        return answers[0][1]
    missing = tuple(dict.fromkeys(reason for _, answer in answers for reason in answer.missing))
    holds = tuple(name for name, answer in answers if answer.truth or (answer.truth is False and not answer.certain))
    found = {answer.truth for _, answer in answers}
    if found == {True} or found == {False}:
        certain = all(answer.certain for _, answer in answers)
        return Judged(found.pop(), certain, missing, () if certain or len(holds) == len(answers) else holds)
    if holds:
        return Judged(True, False, missing, holds)
    return Judged(None, False, missing)


def truth(value: Single) -> Judged:
    """What a resolved yes-or-no value says."""
    if isinstance(value, Unknown):
        return Judged(None, False, value.missing)
    return Judged(bool(value.centre), value.certain)


def scenarios(values: Mapping[Quantity, Value]) -> list[tuple[str, dict[Quantity, Single]]]:
    """Every way the equipment may choose, with its name; one nameless scenario where there is nothing to choose.

    Facts whose options share a name are decided by one choice and move together; unrelated choices are combined.
    """
    axes: list[dict[str, None]] = []
    for value in values.values():
        if isinstance(value, Options):
            joined = dict.fromkeys(value.answers)
            apart = []
            for axis in axes:
                if axis.keys() & joined.keys():
                    joined = axis | joined
                else:
                    apart.append(axis)
            axes = [*apart, joined]
    if not axes:
        return [("", {name: value for name, value in values.items() if not isinstance(value, Options)})]
    if math.prod(len(axis) for axis in axes) > MAX_SCENARIOS:
        reason = Unknown((f"more than {MAX_SCENARIOS} combinations of what the equipment may choose",))
        return [("", {name: reason if isinstance(value, Options) else value for name, value in values.items()})]
    result = []
    for choice in product(*axes):
        chosen = {name: _under(value, choice) for name, value in values.items()}
        result.append((" + ".join(choice), chosen))
    return result


def _under(value: Value, choice: tuple[str, ...]) -> Single:
    if not isinstance(value, Options):
        return value
    picked = next((name for name in choice if name in value.answers), None)
    return value.answers[picked] if picked is not None else Unknown((f"no answer for option {' + '.join(choice)}",))


def resolve(node: Node, values: Mapping[Quantity, Single], *, with_cases: bool = False) -> Single:
    """The value of a tree. `with_cases` carries the draws along, for a probability."""
    match node:
        case Literal(value=value):
            return constant(value)
        case Reference():
            return _fact(node, values[node.quantity], with_cases)
        case Not(part=part):
            return _not(resolve(part, values))
        case Logic(op=op, parts=parts):
            return _logic(op, [resolve(part, values) for part in parts])
        case Compare(left=left, right=Listed(values=listed)):
            return _inside(resolve(left, values), listed)
        case Compare(op=op, left=left, right=right):
            return _compare(op, resolve(left, values), resolve(right, values))
        case Arithmetic(op=op, parts=parts, divisor=divisor):
            return arithmetic(op, [resolve(part, values, with_cases=with_cases) for part in parts], divisor)
    raise TypeError(f"cannot evaluate {node!r}")


def _fact(fact: Reference, value: Single, with_cases: bool) -> Single:
    """A fact rounded to its declared digits, its ends in order."""
    if isinstance(value, Unknown):
        return value
    ends = (value.low, value.centre, value.high)
    if fact.type == "number":
        if any(isinstance(end, str) for end in ends) or any(math.isnan(end) for end in map(float, ends)):
            raise ValueError(f"{fact.quantity.text} is declared a number but its value is {value.centre!r}")
        rounded = [round(float(end), fact.digits) + 0.0 for end in ends]
        cases = None
        if with_cases and value.cases is not None:
            cases = np.round(np.asarray(value.cases, dtype=float), fact.digits)
        return Known(rounded[1], min(rounded), max(rounded), cases)
    if any(isinstance(end, str) != (fact.type == "class") for end in ends):
        raise ValueError(f"{fact.quantity.text} is declared a {fact.type} but its value is {value.centre!r}")
    if fact.type == "boolean":
        return Known(bool(value.centre), all(ends), any(ends))
    return value


def _not(value: Single) -> Single:
    return value if isinstance(value, Unknown) else Known(not value.centre, not value.high, not value.low)


def _logic(op: str, parts: list[Single]) -> Single:
    """Kleene's and/or: a part that decides with certainty wins, else any unknown part makes the whole unknown."""
    known = [part for part in parts if isinstance(part, Known)]
    deciding = op == "or"
    if any(part.certain and bool(part.centre) is deciding for part in known):
        return constant(deciding)
    missing = [reason for part in parts if isinstance(part, Unknown) for reason in part.missing]
    if len(known) < len(parts):
        return Unknown(tuple(dict.fromkeys(missing)))
    fold = any if op == "or" else all
    centre, low, high = (fold(bool(getattr(part, end)) for part in known) for end in ("centre", "low", "high"))
    return Known(centre, low, high)


def _both(left: Single, right: Single) -> Unknown | None:
    missing = [reason for part in (left, right) if isinstance(part, Unknown) for reason in part.missing]
    if isinstance(left, Known) and isinstance(right, Known):
        return None
    return Unknown(tuple(dict.fromkeys(missing)))


def _compare(op: str, left: Single, right: Single) -> Single:
    """centre: the answer at the centre; low: it holds in every corner; high: it holds in at least one."""
    unknown = _both(left, right)
    if unknown or isinstance(left, Unknown) or isinstance(right, Unknown):
        return unknown or Unknown(())
    if op == "==":
        same = left.centre == right.centre
        if isinstance(left.centre, bool | str):
            first, second = {left.low, left.centre, left.high}, {right.low, right.centre, right.high}
            return Known(same, same and len(first | second) == 1, bool(first & second))
        overlap = float(left.low) <= float(right.high) and float(right.low) <= float(left.high)
        return Known(same, same and left.certain and right.certain, overlap)
    a_low, a, a_high = float(left.low), float(left.centre), float(left.high)
    b_low, b, b_high = float(right.low), float(right.centre), float(right.high)
    if op == "<":
        return Known(a < b, a_high < b_low, a_low < b_high)
    return Known(a <= b, a_high <= b_low, a_low <= b_high)


def _inside(value: Single, listed: tuple[Any, ...]) -> Single:
    if isinstance(value, Unknown):
        return value
    here = value.centre in listed
    if isinstance(value.centre, bool | str):
        ends = [end in listed for end in (value.low, value.centre, value.high)]
        return Known(here, all(ends), any(ends))
    possible = any(float(value.low) <= float(item) <= float(value.high) for item in listed)
    return Known(here, here and value.certain, possible)


_ARRAYS: dict[str, Any] = {
    "+": np.add,
    "-": np.subtract,
    "*": np.multiply,
    "/": np.divide,
    "min": np.minimum,
    "max": np.maximum,
}


def arithmetic(op: str, parts: list[Single], divisor: str = "") -> Single:
    """Interval arithmetic over numbers; the draws, where carried along, are computed one by one."""
    unknown = [reason for part in parts if isinstance(part, Unknown) for reason in part.missing]
    known = [part for part in parts if isinstance(part, Known)]
    if len(known) < len(parts):
        return Unknown(tuple(dict.fromkeys(unknown)))
    if op == "abs":
        return _abs(known[0])
    result = known[0]
    for part in known[1:]:
        low, high = float(part.low), float(part.high)
        if op == "/" and low <= 0 <= high:
            return Unknown((f"a value of {divisor or 'the divisor'} that cannot be zero",))
        ends = [_number(op, float(a), b) for a in (result.low, result.high) for b in (low, high)]
        centre = _number(op, float(result.centre), float(part.centre))
        if any(math.isnan(end) for end in (*ends, centre)):
            return Unknown(("finite values; a calculation with infinite ones has no answer",))
        cases = None
        if result.cases is not None or part.cases is not None:
            with np.errstate(divide="ignore", invalid="ignore"):
                cases = np.round(_ARRAYS[op](result.raw, part.raw), NOISE_DIGITS)
        result = Known(centre, min(*ends, centre), max(*ends, centre), cases)
    return result


def _number(op: str, a: float, b: float) -> float:
    match op:
        case "+":
            value = a + b
        case "-":
            value = a - b
        case "*":
            value = a * b
        case "/":
            value = a / b
        case "min":
            value = min(a, b)
        case _:
            value = max(a, b)
    return round(value, NOISE_DIGITS) + 0.0 if math.isfinite(value) else value


def _abs(value: Known) -> Known:
    low, high = float(value.low), float(value.high)
    least = 0.0 if low <= 0 <= high else min(abs(low), abs(high))
    cases = None if value.cases is None else np.abs(value.cases)
    return Known(abs(float(value.centre)), least, max(abs(low), abs(high)), cases)
