"""What a fact's value can be: known with its band, several options, or unknown and what is missing.

A known number is computed for a row of *cases* at once: the centre, the poor end, the good end, then keyed draws.
The poor and the good end are the 10 % and 90 % points of the one level that decides a link; a result that several
levels decide takes its band from the draws instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Scalar: TypeAlias = float | bool | str
Cases: TypeAlias = NDArray[Any]

CENTRE, POOR, GOOD, FIRST_DRAW = 0, 1, 2, 3
"""Positions on the case axis; draws follow from FIRST_DRAW on."""


@dataclass(frozen=True, slots=True)
class Known:
    """A known value: `low` and `high` are its 10 and 90 % points; of booleans and classes, both ends."""

    centre: Scalar
    low: Scalar
    high: Scalar
    cases: Cases | None = field(default=None, compare=False, repr=False)
    """The value in every case (centre, poor, good, draws …), or None where it is the same in all of them."""
    joint: bool = field(default=False, compare=False, repr=False)
    """True where several levels decide it, so that its band was read from the draws."""

    @property
    def raw(self) -> Any:
        """What a formula computes with: the row of cases, or the plain scalar."""
        return self.centre if self.cases is None else self.cases

    @property
    def certain(self) -> bool:
        """True when the centre and both ends agree."""
        return bool(self.low == self.centre == self.high)


@dataclass(frozen=True, slots=True)
class Options:
    """One answer for each way the equipment may choose; which one holds is left to the equipment."""

    answers: Mapping[str, Known | Unknown]


@dataclass(frozen=True, slots=True)
class Unknown:
    """Not known; `missing` says in plain words what input would make it known. Never counts as a pass."""

    missing: tuple[str, ...]


Value: TypeAlias = Known | Options | Unknown


def constant(value: Scalar) -> Known:
    """A value that is the same in every case."""
    return Known(value, value, value)


def from_cases(cases: Cases | Scalar, *, joint: bool = False) -> Known:
    """Summarise a row of cases.

    With `joint` the band comes from the draws (several levels decide), else from the two ends (one level decides).
    The centre always lies within the band. A scalar gives a constant.
    """
    if not isinstance(cases, np.ndarray) or cases.ndim == 0:
        return constant(cases.item() if isinstance(cases, (np.ndarray, np.generic)) else cases)
    if cases.dtype.kind == "b":
        return _summarise_bool(cases, joint)
    if cases.dtype.kind in "OUS":
        return Known(str(cases[CENTRE]), str(cases[POOR]), str(cases[GOOD]), cases, joint)
    centre = float(cases[CENTRE])
    if joint and len(cases) > FIRST_DRAW:
        low, high = _ends(cases[FIRST_DRAW:])
    else:
        low, high = sorted((float(cases[POOR]), float(cases[GOOD])))
    return Known(centre, min(low, centre), max(high, centre), cases, joint)


def _ends(draws: Cases) -> tuple[float, float]:
    """The 10 and 90 % points of the draws, each draw standing for the middle of its share (Hazen's rule)."""
    ordered = np.sort(draws)
    last = len(ordered) - 1
    points = []
    for share in (0.1, 0.9):
        place = min(max(len(ordered) * share - 0.5, 0.0), last)
        below = int(place)
        above = min(below + 1, last)
        lower, upper = float(ordered[below]), float(ordered[above])
        points.append(lower if lower == upper else lower + (upper - lower) * (place - below))
    return points[0], points[1]


def _summarise_bool(cases: Cases, joint: bool) -> Known:
    centre = bool(cases[CENTRE])
    if joint and len(cases) > FIRST_DRAW:
        share = float(np.mean(cases[FIRST_DRAW:]))
        low, high = centre and share >= 0.9, centre or share > 0.1
    else:
        low, high = bool(np.min(cases[:FIRST_DRAW])), bool(np.max(cases[:FIRST_DRAW]))
    return Known(centre, low, high, cases, joint)


def chance_at_least(value: Known, threshold: float) -> float:
    """Probability that a known number reaches `threshold`.

    Counted over the draws where there are any, else read from the 10, 50 and 90 % points with straight lines between
    them; beyond the ends nothing is resolved, and 0.9 (at least) or 0.1 (at most) is returned.
    """
    if value.cases is not None and len(value.cases) > FIRST_DRAW:
        return float(np.mean(value.cases[FIRST_DRAW:] >= threshold))
    low, centre, high = float(value.low), float(value.centre), float(value.high)
    if threshold <= low:
        return 0.9 if low < centre else 1.0
    if threshold > high:
        return 0.1 if high > centre else 0.0
    if threshold <= centre:
        return 0.5 + 0.4 * (centre - threshold) / (centre - low) if centre > low else 1.0
    return 0.5 - 0.4 * (threshold - centre) / (high - centre)
