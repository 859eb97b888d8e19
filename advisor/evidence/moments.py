"""Three runs on one axis of time: what each run said at each moment."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.evidence.files import EPOCH_S
from advisor.evidence.pings import PingRun
from advisor.evidence.records import ROLES, Role, RunFigures

States = NDArray[np.int8]
NONE, HELD, GOOD, SLOW, LOST = 0, 1, 2, 3, 4
"""HELD: nothing was sent, since the ping before was still waited for in vain; it came back only later."""

SLOW_FACTOR = 4.0
"""An answer is slow above this multiple of the run's own median; common practice, no source."""
SLOW_ABOVE_MS = 80.0
"""… and above the median plus this, whichever is more; common practice, no source."""
HOLD_S = 6.0
"""A lost ping stands for the time to the next one up to this long (waiting 4 s and more is usual where one ping waits
for the one before); common practice, no source."""
MOST_SKEW_S = 5.0
"""Runs started by hand begin at most this far apart; common practice, no source."""
LEAST_SHARED = 3
"""Bad moments that must fall together before a difference of starts is believed; common practice, no source."""


def threshold_ms(run: PingRun) -> float:
    """The round trip in ms above which an answer is slow; nan where no answer came."""
    answers = run.replies[~np.isnan(run.replies)]
    if not len(answers):
        return float("nan")
    median = float(np.median(answers))
    return max(SLOW_FACTOR * median, median + SLOW_ABOVE_MS)


def sample_states(run: PingRun) -> States:
    """LOST, SLOW or GOOD for each ping of a run."""
    lost = np.isnan(run.replies)
    slow = ~lost & (np.nan_to_num(run.replies) > np.nan_to_num(threshold_ms(run), nan=np.inf))
    return np.where(lost, LOST, np.where(slow, SLOW, GOOD)).astype(np.int8)


def figures(role: Role, run: PingRun) -> RunFigures:
    """A run in numbers."""
    states = sample_states(run)
    answers = run.replies[states != LOST]
    told = len(answers) > 0
    lost = int((states == LOST).sum())
    return RunFigures(
        role=role,
        name=run.name,
        target=run.target,
        interval_s=run.interval_s,
        samples=len(states),
        lost=lost,
        loss_percent=100.0 * lost / len(states),
        slow=int((states == SLOW).sum()),
        median_ms=float(np.median(answers)) if told else None,
        p95_ms=float(np.percentile(answers, 95)) if told else None,
        threshold_ms=threshold_ms(run) if told else None,
        longest_gap_s=_longest_gap(run, states == LOST),
    )


def _longest_gap(run: PingRun, lost: NDArray[np.bool_]) -> float:
    """The longest time without an answer, in s: from the first lost ping to the next one answered."""
    longest, began = 0.0, None
    for at, gone in zip(run.times_s.tolist(), lost.tolist(), strict=True):
        if gone and began is None:
            began = at
        elif not gone and began is not None:
            longest, began = max(longest, at - began), None
    if began is not None:
        longest = max(longest, float(run.times_s[-1]) - began + run.interval_s)
    return longest


def starts(runs: dict[Role, PingRun], problems: list[str]) -> tuple[dict[Role, float], float | None]:
    """Seconds by which each run begins after the first, and the clock at 0 (None: no common clock)."""
    clocks = {role: run.start_s for role, run in runs.items()}
    known = [clock for clock in clocks.values() if clock is not None]
    kinds = {clock >= EPOCH_S for clock in known}
    if len(known) == len(clocks) and len(kinds) == 1:
        zero = min(known)
        return {role: clock - zero for role, clock in clocks.items() if clock is not None}, zero
    if known and len(known) < len(clocks):
        problems.append("only some of the runs print a clock; all are taken to start at the same moment")
    elif known:
        problems.append("the clocks of the runs are of different kinds; all are taken to start at the same moment")
    elif len(runs) > 1:
        problems.append("no run prints a clock; all are taken to start at the same moment (ping -D prints one)")
    return dict.fromkeys(runs, 0.0), None


def states_at(run: PingRun, shift_s: float, step_s: float, count: int) -> States:
    """What a run said at each of `count` moments of `step_s`: the worst of the pings sent in it, NONE where it sent
    none and the one before does not stand for it."""
    states = sample_states(run)
    places = np.floor((run.times_s + shift_s) / step_s + 1e-6).astype(np.int64)
    whole: States = np.zeros(count, dtype=np.int8)
    inside = (places >= 0) & (places < count)
    np.maximum.at(whole, places[inside], states[inside])
    for at in np.flatnonzero(np.diff(places) > 1).tolist():
        gap = float(run.times_s[at + 1] - run.times_s[at])
        fill = NONE
        if gap <= 2.0 * run.interval_s + 1e-6:
            fill = min(int(states[at]), int(states[at + 1]))
        elif states[at] == LOST and gap <= HOLD_S:
            fill = LOST if states[at + 1] == LOST else HELD
        if fill != NONE:
            low, high = max(int(places[at]) + 1, 0), max(int(places[at + 1]), 0)
            whole[low:high] = np.maximum(whole[low:high], fill)
    return whole


def grid(
    runs: dict[Role, PingRun], shifts: dict[Role, float], clocked: bool, problems: list[str]
) -> tuple[dict[Role, States], float, float]:
    """The states of all runs over the time they share; the step and the beginning of that time, in s."""
    step = max(run.interval_s for run in runs.values())
    if step > 1.5 * min(run.interval_s for run in runs.values()):
        problems.append("the runs have different intervals; the moments are as long as the longest of them")
    if not clocked:
        shifts = _by_hand(runs, shifts, step, problems)
    start = max(shifts.values())
    end = min(shifts[role] + float(run.times_s[-1]) + run.interval_s for role, run in runs.items())
    longest = max(float(run.times_s[-1]) + run.interval_s for run in runs.values())
    count = max(0, int((end - start) / step + 1e-6))
    if count == 0:
        problems.append("the runs were not made at the same time")
    elif end - start < 0.9 * longest:
        problems.append(f"the runs share only {end - start:.0f} s of {longest:.0f} s; the rest is not compared")
    return {role: states_at(run, shifts[role] - start, step, count) for role, run in runs.items()}, step, start


def _by_hand(
    runs: dict[Role, PingRun], shifts: dict[Role, float], step: float, problems: list[str]
) -> dict[Role, float]:
    """Starts corrected by what the runs have in common: the shift at which far more bad moments fall together."""
    roles = list(runs)
    count = max(int(run.times_s[-1] / step) + 2 for run in runs.values())
    found = dict(shifts)
    for place, role in enumerate(roles[1:], 1):
        for other in roles[:place]:
            one = states_at(runs[other], found[other], step, count) >= SLOW
            lag = _lag(one, states_at(runs[role], shifts[role], step, count) >= SLOW, round(MOST_SKEW_S / step))
            if lag:
                found[role] = lag * step
                what = f"the run to {ROLES[role]} seems to start {abs(lag * step):.0f} s"
                problems.append(f"{what} {'later' if lag > 0 else 'earlier'}; it is moved by that")
                break
    low = min(found.values())
    return {role: shift - low for role, shift in found.items()}


def _lag(one: NDArray[np.bool_], other: NDArray[np.bool_], most: int) -> int:
    """By how many moments `other` has to be moved so that its bad moments meet those of `one`; 0 unless clear."""
    together = {
        lag: int((one[max(lag, 0) : len(one) + min(lag, 0)] & other[max(-lag, 0) : len(other) - max(lag, 0)]).sum())
        for lag in range(-most, most + 1)
    }
    best = max(together, key=lambda lag: (together[lag], -abs(lag)))
    return best if together[best] >= max(LEAST_SHARED, 2 * together[0] + 2) else 0
