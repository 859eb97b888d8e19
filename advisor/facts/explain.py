"""What moves a result: the terms it rests on that vary, by their share of its spread."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from advisor.trace import Fact, walk
from advisor.values import FIRST_DRAW, Known


class Mover(NamedTuple):
    """A varying term and its share of the result's spread (squared correlation over the draws)."""

    fact: Fact
    share: float


def movers(fact: Fact, most: int = 5) -> list[Mover]:
    """The terms without inputs that vary, the strongest first; those under 2 % of the spread are left out."""
    if not isinstance(fact.value, Known) or fact.value.cases is None:
        return []
    drawn = fact.value.cases[FIRST_DRAW:]
    if drawn.dtype.kind in "OUS":  # of a name, what counts is whether it stays the one of the centre
        drawn = drawn == fact.value.centre
    result = np.asarray(drawn, dtype=float)
    if result.size < 3 or float(result.std()) == 0.0:
        return []
    found: dict[str, Mover] = {}
    for _, entry in walk(fact):
        value = entry.value
        if entry.inputs or not isinstance(value, Known) or value.cases is None or value.cases.dtype.kind not in "fiu":
            continue
        draws = np.asarray(value.cases[FIRST_DRAW:], dtype=float)
        if float(draws.std()) > 0.0:
            share = float(np.corrcoef(result, draws)[0, 1]) ** 2
            if share >= 0.02:
                found[entry.key] = Mover(entry, share)
    return sorted(found.values(), key=lambda mover: (-round(mover.share, 3), mover.fact.key))[:most]
