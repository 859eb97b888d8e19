"""Two senders that answer each other on one channel: how often each speaks, and how often they collide.

A TCP download is such a pair: the sender of data always has more to send, the receiver has acknowledgements to send
only after data arrived. Both count down backoffs from the same rules. The chain of their counters is followed, one
transmission at a time, until it settles; durations of frames play no part in it. Built from the DCF rules of IEEE
802.11-2020 10.3.4 and 10.23.2: a winner draws afresh from the smallest window, a loser keeps what is left of its
count, equal counts collide and double both windows, and after a collision each asks for the lost block
acknowledgement (10.25.6).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from advisor.physics.arrays import Number

DEEPEST = 2
"""Windows are followed through this many doublings; a third collision in a row happens a few times in 100 000 turns."""


@dataclass(frozen=True, slots=True)
class TurnShares:
    """What happens on average for each data frame that gets through."""

    ack_frames: Number
    data_requests: Number
    ack_requests: Number
    data_ack_collisions: Number
    data_request_collisions: Number
    request_ack_collisions: Number
    request_request_collisions: Number
    idle_slots: Number

    @property
    def collisions(self) -> Any:
        return (
            self.data_ack_collisions
            + self.data_request_collisions
            + self.request_ack_collisions
            + self.request_request_collisions
        )

    @property
    def turns(self) -> Any:
        """Busy periods, each followed by one AIFS."""
        return 1.0 + self.ack_frames + self.data_requests + self.ack_requests + self.collisions


class _State(NamedTuple):
    """Who has what to send before a turn: windows as number of doublings, and who must ask for a lost answer."""

    backlogged: bool
    data_stage: int
    ack_stage: int
    data_request: bool
    ack_request: bool


def _states() -> list[_State]:
    flags = (False, True)
    stages = range(DEEPEST + 1)
    return [_State(b, i, j, u, v) for b in flags for i in stages for j in stages for u in flags for v in flags]


def _window(cw_min: int, cw_max: int, stage: int, size: int) -> NDArray[np.float64]:
    """Probability of each count for a draw at one stage."""
    top = min((cw_min + 1) * 2**stage - 1, cw_max)
    chance = np.zeros(size)
    chance[: top + 1] = 1.0 / (top + 1)
    return chance


@lru_cache(maxsize=64)
def turn_shares(
    *, cw_min: int, cw_max: int, acks_per_data: float = 1.0, timeout_slots: int = 5, turns: int = 60
) -> TurnShares:
    """Follow the chain for `turns` transmissions and average over the second half.

    `acks_per_data` is how many acknowledgements one data frame causes: below one the receiver has something to send
    only after that share of data frames. `timeout_slots` is how long the sender of the longer frame of a collision
    waits in vain for its answer while the other one already counts.
    """
    top = min((cw_min + 1) * 2**DEEPEST - 1, cw_max)
    size = top + 1 + timeout_slots
    chain = _Chain(size, cw_min, cw_max, min(acks_per_data, 1.0), timeout_slots)
    start = _State(True, 0, 0, False, False)
    mass = {start: np.outer(chain.fresh[0], chain.fresh[0])}
    for turn in range(turns):
        if turn == turns // 2:
            chain.counts.clear()
        mass = chain.step(mass)
    data = chain.counts["data"]
    return TurnShares(**{name: chain.counts.get(name, 0.0) / data for name in TurnShares.__dataclass_fields__})


class _Chain:
    """Moves the probability of (data count, ack count) in every state by one transmission."""

    def __init__(self, size: int, cw_min: int, cw_max: int, wakes: float, timeout_slots: int) -> None:
        self.size, self.wakes = size, wakes
        self.fresh = [_window(cw_min, cw_max, stage, size) for stage in range(DEEPEST + 1)]
        self.delayed = [np.roll(chance, timeout_slots) for chance in self.fresh]
        self.counts: dict[str, float] = {}
        self.steps = np.arange(size)
        self.lag = self.steps[:, np.newaxis] - self.steps[np.newaxis, :]

    def count(self, name: str, amount: Any) -> None:
        self.counts[name] = self.counts.get(name, 0.0) + float(amount)

    def step(self, mass: dict[_State, NDArray[np.float64]]) -> dict[_State, NDArray[np.float64]]:
        after: dict[_State, NDArray[np.float64]] = {}
        for state, joint in mass.items():
            for following, moved in self._turn(state, joint):
                if following in after:
                    after[following] += moved
                else:
                    after[following] = moved
        return after

    def _turn(self, state: _State, joint: NDArray[np.float64]) -> Iterator[tuple[_State, NDArray[np.float64]]]:
        if not state.backlogged:
            yield from self._data_alone(state, joint)
            return
        yield from self._data_wins(state, joint)
        yield from self._ack_wins(state, joint)
        yield from self._collide(state, joint)

    def _left_over(self, joint: NDArray[np.float64], by: int) -> NDArray[np.float64]:
        """Distribution of the loser's count less the winner's, where positive. `by` is the winner's axis."""
        ordered = joint if by == 0 else joint.T
        left = np.zeros(self.size)
        ahead = -self.lag[ordered > 0]
        weights = ordered[ordered > 0]
        np.add.at(left, ahead[ahead > 0], weights[ahead > 0])
        return left

    def _data_alone(self, state: _State, joint: NDArray[np.float64]) -> Iterator[tuple[_State, NDArray[np.float64]]]:
        """Only data is waiting. The receiver's own count runs on; where it ran out, arriving acknowledgements find the
        channel busy and draw afresh."""
        self.count("idle_slots", joint.sum(axis=1) @ self.steps)
        self.count("data_requests" if state.data_request else "data", joint.sum())
        left = self._left_over(joint, by=0)
        ran_out = joint.sum() - left.sum()
        wakes = 0.0 if state.data_request else self.wakes
        awake = np.outer(self.fresh[0], left + ran_out * self.fresh[0])
        asleep = np.zeros(self.size)
        asleep[0] = ran_out
        if wakes > 0:
            yield _State(True, 0, 0, False, False), wakes * awake
        if wakes < 1:
            yield _State(False, 0, 0, False, False), (1 - wakes) * np.outer(self.fresh[0], left + asleep)

    def _data_wins(self, state: _State, joint: NDArray[np.float64]) -> Iterator[tuple[_State, NDArray[np.float64]]]:
        wins = np.where(self.lag < 0, joint, 0.0)
        self.count("idle_slots", wins.sum(axis=1) @ self.steps)
        self.count("data_requests" if state.data_request else "data", wins.sum())
        following = state._replace(data_stage=0, data_request=False)
        yield following, np.outer(self.fresh[0], self._left_over(wins, by=0))

    def _ack_wins(self, state: _State, joint: NDArray[np.float64]) -> Iterator[tuple[_State, NDArray[np.float64]]]:
        wins = np.where(self.lag > 0, joint, 0.0)
        self.count("idle_slots", wins.sum(axis=0) @ self.steps)
        self.count("ack_requests" if state.ack_request else "ack_frames", wins.sum())
        following = state._replace(ack_stage=0, ack_request=False, backlogged=state.ack_request)
        yield following, np.outer(self._left_over(wins, by=1), self.fresh[0])

    def _collide(self, state: _State, joint: NDArray[np.float64]) -> Iterator[tuple[_State, NDArray[np.float64]]]:
        meets = np.diagonal(joint)
        chance = meets.sum()
        self.count("idle_slots", meets @ self.steps)
        names = {
            (False, False): "data_ack_collisions",
            (False, True): "data_request_collisions",
            (True, False): "request_ack_collisions",
            (True, True): "request_request_collisions",
        }
        self.count(names[state.data_request, state.ack_request], chance)
        i, j = min(state.data_stage + 1, DEEPEST), min(state.ack_stage + 1, DEEPEST)
        data_waits = not state.data_request
        data_count = self.delayed[i] if data_waits else self.fresh[i]
        ack_count = self.fresh[j] if data_waits or state.ack_request else self.delayed[j]
        yield _State(True, i, j, True, True), chance * np.outer(data_count, ack_count)
