"""Which assumption would change the winner, and at which value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.advice.records import Ask, Candidate, Flip
from advisor.advice.trials import (
    ASSUMPTIONS,
    GRID,
    POINTS,
    READINGS,
    Assumption,
    Trial,
    read_so,
    value_of,
)
from advisor.facts.draws import Array

MOST_READ = 3
"""Layouts, the first ones, computed for doors and the class of the clients: each is another reading of the site."""
BETTER = 1.05
"""Another layout takes the first place only where its worst share is a twentieth larger."""


def flips(
    candidates: Sequence[Candidate], trials: Mapping[str, Trial], asks: tuple[Ask, ...], enough: float
) -> tuple[Flip, ...]:
    """Every assumption at both its ends, with the layout that comes first there; candidates in order of the ranking."""
    order = [entry.layout.id for entry in candidates]
    found = [
        _flip(assumption, number, order, trials, enough)
        for number, assumption in enumerate(ASSUMPTIONS)
        if any(trials[id].open(assumption) for id in order)
    ]
    for reading in READINGS:
        columns = [
            {entry.layout.id: read_so(entry, change, asks) for entry in candidates[:MOST_READ]}
            for change in (reading.low, reading.high)
        ]
        if all(column is None for ends in columns for column in ends.values()):
            continue
        told = [
            {id: column if column is not None else trials[id].column(0, POINTS // 2) for id, column in ends.items()}
            for ends in columns
        ]
        low, high = (winner(order[:MOST_READ], ends, enough) for ends in told)
        at = reading.ends[1] if low != high else ""
        found.append(Flip(reading.id, reading.what, low, high, reading.ends, at))
    return tuple(found)


def _flip(
    assumption: Assumption, number: int, order: Sequence[str], trials: Mapping[str, Trial], enough: float
) -> Flip:
    winners = [winner(order, {id: trials[id].column(number, point) for id in order}, enough) for point in range(POINTS)]
    usual = winners[POINTS // 2]
    at = []
    for step in range(1, POINTS // 2 + 1):
        point = POINTS // 2 - step
        if winners[point] != usual:
            at.append(f"below {assumption.at(float(GRID[point + 1]))}")
            break
    for step in range(1, POINTS // 2 + 1):
        point = POINTS // 2 + step
        if winners[point] != usual:
            at.append(f"above {assumption.at(float(GRID[point - 1]))}")
            break
    return Flip(assumption.id, assumption.what, winners[0], winners[-1], assumption.ends, "; ".join(at))


def winner(order: Sequence[str], columns: Mapping[str, Array], enough: float) -> str:
    """The layout that comes first in one column: a later one only where it meets more, or serves the worst notably
    better."""
    values = {id: value_of(columns[id], enough) for id in order}
    best = order[0]
    for id in order[1:]:
        (met, share), (most, worst) = values[id], values[best]
        if met > most or (met == most and share > worst * BETTER and round(share, 2) > round(worst, 2)):
            best = id
    return best
