"""Everyone at once: how flows share air, wires and the internet line as contention shares them.

Every flow uses some *resources* (the air around a cell, a wire, the internet line), each for so much time per Mb/s.
All flows rise together, in Mb/s, until each has what it asks for or a resource it waits for is full. One pace for all
is what equal chances to transmit frames of equal length give (per-packet fairness: the slow pull down the fast, Heusse
et al., INFOCOM 2003); a node that shares its air by time gives its clients a pace in proportion to their rate. What is
then left is given in proportion to what each asks for, so that a mix of traffic stays the mix it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.values import CENTRE

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sharing:
    """The problem: sparse uses sorted by resource; the last axis of every array is the case."""

    flow: NDArray[np.int64]
    """Flow of each use."""
    resource: NDArray[np.int64]
    """Resource of each use, ascending."""
    time_per_mbps: Array
    """Share of the resource one Mb/s of the flow takes (uses × cases)."""
    own: NDArray[np.bool_]
    """Whether the flow waits for this resource when it is full, or only takes from it: a sender takes air from cells
    that hear it, but waits only for what its own cell hears, and only in the cases in which it takes that way
    (uses × cases)."""
    free: Array
    """Share of the resource there is to give (resources × cases)."""
    demand_mbps: Array
    """What each flow asks for (flows × cases)."""
    pace: Array
    """How fast each flow rises towards what it asks for, 1 for equal chances to transmit (flows × cases)."""
    dead: NDArray[np.bool_]
    """Cases in which a flow's route does not hold: it gets nothing and takes nothing (flows × cases)."""


@dataclass(frozen=True)
class Shared:
    """The answer: rates (flows × cases), and for the centre the resource that stopped each flow (-1: none)."""

    rates_mbps: Array
    stopped_by: NDArray[np.int64]
    left: Array
    """Share of each resource left over (resources × cases)."""


def load_of(problem: Sharing, rates_mbps: Array) -> Array:
    """Share of time each resource is in use at the given rates (resources × cases)."""
    alive = np.where(problem.dead, 0.0, rates_mbps)
    return _per_resource(problem, problem.time_per_mbps * alive[problem.flow])


def _per_resource(problem: Sharing, uses: Array) -> Array:
    """Sum over the uses of each resource; uses are sorted by resource."""
    total = np.zeros_like(problem.free)
    if len(uses):
        present, first = np.unique(problem.resource, return_index=True)
        total[present] = np.add.reduceat(uses, first, axis=0)
    return total


def domain_share(problem: Sharing) -> Shared:
    """Share the resources among the flows as described above."""
    rates = np.zeros_like(problem.demand_mbps)
    left = problem.free.copy()
    stopped = np.full(len(rates), -1)
    blocked = problem.dead.copy()
    _rise(problem, rates, left, blocked, problem.demand_mbps, problem.pace, stopped)
    _rise(problem, rates, left, blocked, np.full_like(rates, np.inf), problem.demand_mbps, stopped)
    return Shared(rates, stopped, left)


def _rise(
    problem: Sharing,
    rates: Array,
    left: Array,
    blocked: NDArray[np.bool_],
    limit: Array,
    pace: Array,
    stopped: NDArray[np.int64],
) -> None:
    """Raise all flows that are neither blocked nor at their limit, each at its pace; changes its arguments."""
    used = np.zeros(len(rates), dtype=bool)
    used[problem.flow] = True
    waits = problem.own & (problem.time_per_mbps > 0)
    full_below = 1e-9 * np.maximum(problem.free, 1e-12)
    active = ~blocked & (rates < limit) & used[:, None]
    while active.any():
        speed = np.where(active, pace, 0.0)
        use = _per_resource(problem, problem.time_per_mbps * speed[problem.flow])
        with np.errstate(divide="ignore", invalid="ignore"):
            waited = _per_resource(problem, (waits & active[problem.flow]).astype(float)) > 0
            room = np.where(waited, np.maximum(left, 0.0) / use, np.inf)
            wish = np.where(active, (limit - rates) / pace, np.inf)
        step = np.minimum(room.min(axis=0), wish.min(axis=0))
        unlimited = ~np.isfinite(step)
        step = np.where(unlimited, 0.0, step)
        rates += speed * step
        left -= use * step
        full = waited & ((left <= full_below) | (room <= step * (1 + 1e-12)))
        hit = np.zeros(rates.shape, dtype=bool)
        np.logical_or.at(hit, problem.flow, full[problem.resource] & waits)
        _note_stops(problem, stopped, full[:, CENTRE], hit[:, CENTRE] & active[:, CENTRE])
        blocked |= hit & active
        done = (wish <= step * (1 + 1e-12)) | unlimited[None, :]
        active &= ~blocked & ~done


def _note_stops(
    problem: Sharing, stopped: NDArray[np.int64], full: NDArray[np.bool_], newly: NDArray[np.bool_]
) -> None:
    """Remember, for the centre, the first resource that stopped each flow."""
    for use in np.flatnonzero(full[problem.resource]):
        flow = problem.flow[use]
        if newly[flow] and stopped[flow] < 0 and problem.own[use, CENTRE] and problem.time_per_mbps[use, CENTRE] > 0:
            stopped[flow] = problem.resource[use]
