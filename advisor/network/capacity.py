"""Everyone at once: how flows share air, wires and the internet line as contention shares them.

A wire and the internet line give all flows the same Mb/s, as far as each asks for it. Air gives every *sender* the same
number of frames a second (`physics.shared_air`); what a sender has it gives all its flows alike, or by time where its
node shares air by time. Neighbour networks are senders too: they take their turns, and get theirs. What is then left is
given in proportion to what each asks for, so that a mix of traffic stays the mix it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from hashlib import blake2b

import numpy as np
from numpy.typing import NDArray

from advisor.network.air import Air
from advisor.network.filling import Array, Bools, Filling, Uses
from advisor.values import CENTRE

ROUNDS = 3
"""How often what collisions and small frames take is computed anew from what everybody gets."""
GROWING = 4
"""The same, at most, where neighbours' turns hang on how far flows have grown."""
SETTLED = 5e-3
"""Nothing that moved by less is computed anew; the next step would move it by a tenth of that."""


@dataclass(frozen=True)
class Sharing(Uses):
    """The problem: uses sorted by resource; the last axis of every array is the case. A sender takes air from cells
    that hear it, but waits only for what its own cell hears, and only in the cases in which it takes that way."""

    demand_mbps: Array
    """What each flow asks for (flows × cases)."""
    pace: Array
    """How fast a flow rises beside others of the same sender, 1 for all alike (flows × cases)."""
    dead: Bools
    """Cases in which a flow's route does not hold: it gets nothing and takes nothing (flows × cases)."""
    air: Air | None = None
    """Who sends; None: every flow is a sender of its own, and nothing is lost."""

    def digest(self) -> bytes:
        """The same for problems that are the same."""
        made = blake2b(digest_size=16)
        for part in (*vars(self).values(), *(vars(self.air).values() if self.air else ())):
            if isinstance(part, np.ndarray):
                made.update(repr((part.dtype.str, part.shape)).encode() + part.tobytes())
        for heard in self.air.heard if self.air else ():
            made.update(
                repr((heard.resource, heard.timing)).encode()
                + heard.legs.tobytes()
                + heard.weight.tobytes()
                + heard.own.tobytes()
            )
        return made.digest()


@dataclass(frozen=True)
class Shared:
    """The answer: rates (flows × cases), and for the centre the resource that stopped each flow (-1: none)."""

    rates_mbps: Array
    stopped_by: NDArray[np.int64]
    left: Array
    """Share of each resource left over (resources × cases)."""
    problem: Sharing
    """The problem with the time that traffic takes at these rates, collisions and small frames included."""


def load_of(problem: Sharing, rates_mbps: Array) -> Array:
    """Share of time each resource is in use at the given rates (resources × cases)."""
    return problem.load(np.where(problem.dead, 0.0, rates_mbps))


def domain_share(problem: Sharing) -> Shared:
    """Share the resources among the flows as described above."""
    if problem.air is None:
        filled = _fill(problem, problem.demand_mbps, lambda active: problem.pace)
        return Shared(filled.rates, filled.stopped, filled.left, problem)
    now = problem
    for _ in range(ROUNDS):
        rates = _in_turns(now).rates
        now = replace(problem, time_per_mbps=problem.air.taken(problem, rates))
    filled = _in_turns(now)
    return Shared(filled.rates, filled.stopped, filled.left, now)


def grow_together(problem: Sharing) -> Array:
    """By how much what all flows ask for may grow together before a resource they wait for is full, by resource and
    case; infinite where none waits. Neighbours take their turns beside it."""
    mix = np.where(problem.dead, 0.0, problem.demand_mbps)
    air, waits = problem.air, problem.own & (problem.time_per_mbps > 0)
    own = np.ones(len(mix), dtype=bool) if air is None else air.own_flows
    waited = problem.per_resource((waits & own[problem.flow][:, None]).astype(float)) > 0
    mine, others = mix * own[:, None], mix * ~own[:, None]
    asked = problem.load(mine)
    growth = np.where(waited & (asked > 0), problem.free / np.where(asked > 0, asked, 1.0), np.inf).min(axis=0)
    growth = np.where(np.isfinite(growth), growth, 1.0)
    limits = np.full(problem.free.shape, np.inf)
    for _ in range(1 if own.all() else GROWING):
        most = others if air is None else air.most_beside(mine * growth)
        full = others > most
        time = problem.time_per_mbps if air is None else air.taken(problem, mine * growth + np.minimum(others, most))
        # a neighbour that takes every turn it gets grows with the flows, the others take what they take
        asked = problem.per_resource(time * (mine + np.where(full, most / growth, 0.0))[problem.flow])
        taken = problem.per_resource(time * np.where(full, 0.0, others)[problem.flow])
        left = np.maximum(problem.free - taken, 1e-9)
        limits = np.where(waited & (asked > 0), left / np.where(asked > 0, asked, 1.0), np.inf)
        smallest = limits.min(axis=0)
        before, growth = growth, np.where(np.isfinite(smallest), smallest, growth)
        if np.all(np.abs(growth - before) <= SETTLED * growth):
            break
    return limits


def _in_turns(problem: Sharing) -> Filling:
    """Senders rise frame by frame; flows that a wire or the line holds share that evenly."""
    assert problem.air is not None
    by_frames = problem.air.pace(problem.pace)
    filled = _fill(problem, problem.demand_mbps, by_frames)
    wired = _held_by_wire(problem, filled)
    if not wired.any():
        return filled
    evenly = _fill(problem, problem.demand_mbps, lambda active: np.ones_like(problem.pace))
    settled = wired & _held_by_wire(problem, evenly)
    limit = np.where(settled, evenly.rates, problem.demand_mbps)
    wire = ~problem.air.is_air[problem.resource][:, None]
    filled = _fill(replace(problem, own=problem.own & ~(wire & settled[problem.flow])), limit, by_frames, settled)
    filled.stopped[settled[:, CENTRE]] = evenly.stopped[settled[:, CENTRE]]
    return filled


def _held_by_wire(problem: Sharing, filled: Filling) -> Bools:
    """Flows that a wire or the line stopped before they had what they ask for (flows × cases)."""
    assert problem.air is not None
    wire = filled.held & ~problem.air.is_air[problem.resource][:, None]
    held = np.zeros(filled.rates.shape, dtype=bool)
    np.logical_or.at(held, problem.flow, wire)
    return held & (filled.rates < problem.demand_mbps * (1 - 1e-9))


def _fill(problem: Sharing, limit: Array, pace: Callable[[Bools], Array], settled: Bools | bool = False) -> Filling:
    """First what is asked for, then what is left in proportion to it. Neighbours, and flows whose share of a wire is
    settled, take no more than their limit."""
    filled = Filling.empty(problem, problem.dead)
    filled.rise(limit, pace)
    filled.blocked |= settled
    own = problem.air.own_flows if problem.air is not None else np.ones(len(limit), dtype=bool)
    filled.rise(np.where(own[:, None], np.inf, limit), lambda active: problem.demand_mbps)
    return filled
