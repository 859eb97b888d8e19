"""Which part of the way is to blame at each moment, from what the runs said."""

from __future__ import annotations

from itertools import groupby
from math import sqrt
from typing import Literal

import numpy as np

from advisor.evidence.moments import GOOD, HELD, LOST, NONE, SLOW, States
from advisor.evidence.records import Cause, Role

TOGETHER_CLOCK_S = 1.0
"""Bad moments of two runs this close belong together where both print a clock; common practice, no source."""
TOGETHER_S = 2.0
"""… and where they do not; common practice, no source."""
SINGLE = 2
"""Up to this many moments in a row of one run alone are single answers, which chance may hit in any of the runs;
common practice, no source."""
SIGMAS = 2.0
"""Two counts of single answers differ when they are this many standard deviations apart (Poisson counts)."""
ENOUGH_SINGLES = 5
"""From this many single bad answers of the own node on, as many of the other runs are laid to the access too;
common practice, no source."""

Mark = Cause | Literal["near alone", "gateway alone", "outside alone"] | None
"""What a moment looks like: a cause, one run bad by itself, or nothing bad."""
_RANK = {"access": 0, "near alone": 0, "hop": 1, "gateway alone": 1, "line": 2, "outside alone": 2}
ALONE: dict[Mark, Role] = {"near alone": "near", "gateway alone": "gateway", "outside alone": "outside"}


def causes(states: dict[Role, States], step_s: float, clocked: bool, hop_possible: bool) -> list[Cause | None]:
    """The cause of each bad moment, None for the others.

    A moment alone decides where runs agree. Single bad answers of one run are weighed against those of the others: the
    access loses single answers of all three runs alike, each at other moments.
    """
    count = max((len(row) for row in states.values()), default=0)
    marks = [_mark({role: int(row[at]) for role, row in states.items()}, hop_possible) for at in range(count)]
    reach = max(1, round((TOGETHER_CLOCK_S if clocked else TOGETHER_S) / step_s))
    marks = _absorbed(marks, reach)
    return _weighed(marks, states)


def _mark(now: dict[Role, int], hop_possible: bool) -> Mark:
    """What one moment looks like."""
    near, gateway, outside = (now.get(role, NONE) for role in ("near", "gateway", "outside"))
    if near == HELD and max(gateway, outside) >= SLOW:
        return "access"
    if near == GOOD and gateway == HELD and outside >= SLOW:
        return "hop"
    if near >= SLOW:
        others = [state for state in (gateway, outside) if state not in (NONE, HELD)]
        return "near alone" if others and all(state == GOOD for state in others) else "access"
    if gateway >= SLOW:
        if near == GOOD:
            return "hop" if outside >= SLOW else "gateway alone"
        return "gateway alone" if outside == GOOD else "cannot be told apart"
    if outside >= SLOW:
        if gateway == GOOD or (near == GOOD and not hop_possible):
            return "outside alone"
        return "cannot be told apart"
    return None


def _stretches(marks: list[Mark]) -> list[tuple[Mark, int, int]]:
    """Runs of equal marks: the mark, its first moment, the moment after its last."""
    found: list[tuple[Mark, int, int]] = []
    at = 0
    for mark, members in groupby(marks):
        length = len(list(members))
        found.append((mark, at, at + length))
        at += length
    return found


def _absorbed(marks: list[Mark], reach: int) -> list[Mark]:
    """Short stretches at the edge of moments that runs agree on, or of a longer stretch of one run, belong to the part
    nearer to the device: pings of the three runs are not sent at the very same instant. Not so where the nearer part
    has fewer of the bad moments in a row: then it is the one that chance brought in."""
    result = list(marks)
    stretches = _stretches(marks)
    for mark, low, high in stretches:
        if mark is None or mark == "cannot be told apart" or high - low > reach:
            continue
        group = _group(marks, low, high)
        beside = marks[max(0, low - reach) : low] + marks[high : high + reach]
        nearer: list[Cause] = [
            other
            for other in ("access", "hop")
            if other in beside
            and _ranked(group, _RANK[other]) >= _ranked(group, _RANK[mark])
            and (_RANK[other] < _RANK[mark] or (mark in ALONE and _RANK[other] == _RANK[mark]))
        ]
        if nearer:
            result[low:high] = [nearer[0]] * (high - low)
    return result


def _group(marks: list[Mark], low: int, high: int) -> list[Mark]:
    """The bad moments in a row around a stretch."""
    while low > 0 and marks[low - 1] is not None:
        low -= 1
    while high < len(marks) and marks[high] is not None:
        high += 1
    return marks[low:high]


def _ranked(group: list[Mark], rank: int) -> int:
    return sum(mark is not None and _RANK.get(mark) == rank for mark in group)


def _weighed(marks: list[Mark], states: dict[Role, States]) -> list[Cause | None]:
    """Stretches of one run alone: long ones by themselves, single ones by their number against the other runs'."""
    result: list[Cause | None] = [None if mark in ALONE else mark for mark in marks]  # type: ignore[misc]
    singles: dict[int, dict[Role, list[tuple[int, int]]]] = {kind: {} for kind in (SLOW, LOST)}
    for mark, low, high in _stretches(marks):
        if mark not in ALONE:
            continue
        role = ALONE[mark]
        if high - low <= SINGLE and role != "near" and _streak(states[role], low, high) > SINGLE:
            result[low:high] = ["line" if role == "outside" else "hop"] * (high - low)
        elif high - low <= SINGLE:
            kind = int(np.max(states[role][low:high]))
            singles[kind].setdefault(role, []).append((low, high))
        else:
            result[low:high] = [_long(role, states, low, high)] * (high - low)
    for found in singles.values():
        counts: dict[Role, int] = {role: len(found.get(role, ())) for role in states}
        for role, places in found.items():
            cause = _single(role, counts)
            for low, high in places:
                result[low:high] = [cause] * (high - low)
    return result


def _streak(row: States, low: int, high: int) -> int:
    """How many moments in a row a run is bad around [low, high), alone or with others."""
    while low > 0 and row[low - 1] >= SLOW:
        low -= 1
    while high < len(row) and row[high] >= SLOW:
        high += 1
    return high - low


def _long(role: Role, states: dict[Role, States], low: int, high: int) -> Cause:
    """A longer stretch of one run alone: a box nearer than one that answers well just answers late itself."""
    if role == "outside":
        return "line"
    farther: tuple[Role, ...] = ("gateway", "outside") if role == "near" else ("outside",)
    if any(other in states and bool((states[other][low:high] == GOOD).any()) for other in farther):
        return "own answers"
    return "hop"


def _single(role: Role, counts: dict[Role, int]) -> Cause:
    """Who is to blame for the single bad answers of one run, from how many each run has."""
    mine = counts[role]
    near = counts.get("near")
    farther = [counts[other] for other in _behind(role) if other in counts]
    if role == "near":
        return "own answers" if farther and _more(mine, max(farther)) else "access"
    if role == "gateway" and farther and _more(mine, max(farther)) and (near is None or _more(mine, near)):
        return "own answers"
    own: Cause = "line" if role == "outside" else "hop"
    if role == "gateway" and near is None:
        return "cannot be told apart"
    nearer = [counts[other] for other in _before(role) if other in counts]
    if not nearer or max(nearer) == 0 or _more(mine, max(nearer)):
        return own
    if near is not None and near >= ENOUGH_SINGLES and not _more(max(mine, *nearer), near):
        return "access"
    if role == "outside" and counts.get("gateway", 0) >= ENOUGH_SINGLES:
        return _single("gateway", counts)
    return "cannot be told apart"


def _before(role: Role) -> tuple[Role, ...]:
    return {"near": (), "gateway": ("near",), "outside": ("near", "gateway")}[role]  # type: ignore[return-value]


def _behind(role: Role) -> tuple[Role, ...]:
    return {"near": ("gateway", "outside"), "gateway": ("outside",), "outside": ()}[role]  # type: ignore[return-value]


def _more(one: int, other: int) -> bool:
    """True when a count is clearly more than another: their difference against its own standard deviation."""
    return one - other > SIGMAS * sqrt(one + other)
