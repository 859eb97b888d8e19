"""Raising flows together until something they use is full: progressive filling over resources.

Every flow uses some *resources* (the air around a cell, a wire, the internet line), each for so much time per Mb/s.
All rise at their paces until each has what it asks for or a resource it waits for is full.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from advisor.values import CENTRE

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Uses:
    """Who uses what: sparse, sorted by resource; the last axis of every array is the case."""

    flow: NDArray[np.int64]
    """Flow of each use."""
    resource: NDArray[np.int64]
    """Resource of each use, ascending."""
    time_per_mbps: Array
    """Share of the resource one Mb/s of the flow takes (uses × cases)."""
    own: Bools
    """Whether the flow waits for this resource when it is full, or only takes from it (uses × cases)."""
    free: Array
    """Share of the resource there is to give (resources × cases)."""

    def load(self, rates_mbps: Array) -> Array:
        """Share of time each resource is in use at the given rates (resources × cases)."""
        return self.per_resource(self.time_per_mbps * rates_mbps[self.flow])

    def per_resource(self, uses: Array) -> Array:
        """Sum over the uses of each resource."""
        total = np.zeros_like(self.free)
        if len(uses):
            present, first = np.unique(self.resource, return_index=True)
            total[present] = np.add.reduceat(uses, first, axis=0)
        return total


@dataclass
class Filling:
    """How far all flows have risen; `rise` goes on from there."""

    uses: Uses
    rates: Array
    left: Array
    """Share of each resource left over (resources × cases)."""
    blocked: Bools
    """Flows that cannot rise any more (flows × cases)."""
    stopped: NDArray[np.int64]
    """For the centre, the first resource that stopped each flow; -1: none."""
    held: Bools = field(init=False)
    """Uses at which a flow was stopped (uses × cases)."""

    def __post_init__(self) -> None:
        self.held = np.zeros(self.uses.own.shape, dtype=bool)

    @classmethod
    def empty(cls, uses: Uses, dead: Bools) -> Filling:
        """Nothing given out yet; `dead` flows never get anything."""
        return cls(uses, np.zeros(dead.shape), uses.free.copy(), dead.copy(), np.full(len(dead), -1))

    def rise(self, limit: Array, pace: Callable[[Bools], Array]) -> None:
        """Raise all flows that are neither blocked nor at their limit; `pace` says how fast those still rising do."""
        uses, rates = self.uses, self.rates
        used = np.zeros(len(rates), dtype=bool)
        used[uses.flow] = True
        waits = uses.own & (uses.time_per_mbps > 0)
        full_below = 1e-9 * np.maximum(uses.free, 1e-12)
        active = ~self.blocked & (rates < limit) & used[:, None]
        while active.any():
            speed = np.where(active, pace(active), 0.0)
            use = uses.per_resource(uses.time_per_mbps * speed[uses.flow])
            with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
                waited = uses.per_resource((waits & active[uses.flow]).astype(float)) > 0
                room = np.where(waited, np.maximum(self.left, 0.0) / use, np.inf)
                wish = np.where(active, (limit - rates) / speed, np.inf)
            step = np.minimum(room.min(axis=0), wish.min(axis=0))
            unlimited = ~np.isfinite(step)
            step = np.where(unlimited, 0.0, step)
            rates += speed * step
            self.left -= use * step
            full = waited & ((self.left <= full_below) | (room <= step * (1 + 1e-12)))
            self._block(full, waits, active)
            there = active & (wish <= step * (1 + 1e-12))
            rates[there] = limit[there]
            active &= ~self.blocked & ~(there | unlimited[None, :])

    def _block(self, full: Bools, waits: Bools, active: Bools) -> None:
        """Flows that wait for what is full rise no more; at the centre, note what stopped them first."""
        here = full[self.uses.resource] & waits & active[self.uses.flow]
        self.held |= here
        for use in np.flatnonzero(here[:, CENTRE]):
            flow = self.uses.flow[use]
            if self.stopped[flow] < 0:
                self.stopped[flow] = self.uses.resource[use]
        hit = np.zeros(self.rates.shape, dtype=bool)
        np.logical_or.at(hit, self.uses.flow, here)
        self.blocked |= hit
