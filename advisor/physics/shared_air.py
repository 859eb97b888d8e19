"""How full a channel is: what a set of senders asks of it, turn by turn, in closed form.

Senders that always have something waiting take turns alike: each gets the same number of frames a second, the *level*
of the channel (Bianchi, IEEE JSAC 18(3), 2000), whatever the length of its frames. A frame ends by its duration or its
bytes, so a slow sender does not hold a fast one at its own pace, but takes more time. A sender whose packets come
slower than turns sends what has come when its turn comes: `arrivals` a second become 1 / (1/level + 1/arrivals) frames,
each with its overhead, until frames are full. Acknowledgements of TCP are such a sender: they come when data has come.

Frames that start in one slot are lost, and the longest of them decides how long that lasts; who lost a frame of many
packets asks for the lost answer before it repeats (IEEE 802.11-2020 10.25.6).

Everything scales: twice the traffic makes the channel twice as full. So how full it is also says by how much all may
grow. Arrays have senders first; every further axis is a case.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

WINDOW, DOUBLINGS, SLOT_US = 16, 6, 9.0
"""CWmin + 1 and how often it doubles for best effort; slot time (IEEE 802.11-2020 Table 9-155 and 17-21)."""
TURN_ROUNDS, CHANCE_ROUNDS = 8, 10
"""Steps of the two fixed points; what is left of the error then is below 0.1 %."""
NOTHING = 1e-100
"""Frames a second that are none."""
ALTERNATE = 0.54
"""How much of a turn an answer waits for where a flow has the channel to itself: data and answers alternate more
regularly there than by chance, since a loser keeps what is left of its count. From the chain of two counters
(`physics.contention.turn_shares`: 0.6 to 0.65 answering frames for each data frame). By chance it would be 1."""
ACK_PART = 0.032
"""Payload of TCP acknowledgements as a part of the data's: one of 96 bytes for two packets of 1500."""


class Answers(NamedTuple):
    """Who has to answer whom: one entry for each flow that calls for acknowledgements, or passes them on."""

    who: Any
    """The sender that answers, by number."""
    of: Any
    """The sender whose frames it answers or passes on, by number."""
    part: Any
    """Which part of that one's frames they are, entries × cases."""


class Senders(NamedTuple):
    """Who sends on a channel: senders first, then cases."""

    full_per_s: Any
    """Frames a second that its data fills wholly, of each member."""
    arrivals_per_s: Any
    """Batches of data that reach it a second: packets of a source, frames of the hop before."""
    payload: Any
    """Share of time its payload takes on the air, of each member."""
    overhead_us: Any
    """What every frame costs beside its payload: preamble, SIFS, answer."""
    members: Any
    """How many send alike: the clients at a place."""
    weight: Any
    """How much of what it sends is heard here, 0 to 1."""
    waits: Any
    """1 for those that wait for this channel and so set its level, 0 for those heard here: the less of them is heard,
    the less their turns count for it."""
    answers: Answers | None = None


class Timing(NamedTuple):
    """Durations all senders of a channel have in common, in microseconds."""

    silence_us: float = 43.0
    answer_us: float = 48.0
    request_us: float = 76.0
    """Exchange that asks for a lost answer."""


class Fullness(NamedTuple):
    """How full a channel is, and what it looks like."""

    share: Array
    """1: just full; by case."""
    activity: Array
    """Part of the time each sender has something waiting, were the channel full, senders × cases."""
    turn_us: Array
    """Mean length of a frame with its answer, senders × cases."""
    frames_per_s: Array
    """Of each member, senders × cases."""


def fullness(senders: Senders, timing: Timing) -> Fullness:
    """How full a channel is when these senders send what they send."""
    full, members, weight = (np.asarray(x, dtype=float) for x in (senders.full_per_s, senders.members, senders.weight))
    counts = full * np.where(np.asarray(senders.waits) > 0, weight > 0, weight)
    level, busiest = np.maximum(counts.max(axis=0), NOTHING), counts.argmax(axis=0)[np.newaxis]
    frames = _frames(senders, full, level, members * weight)
    heard = weight * frames / level
    return _filled(senders, timing, level, frames, heard, _chances(heard, members), members, busiest)


def _frames(senders: Senders, full: Array, level: Array, heard: Array) -> Array:
    """Frames a second of every sender: what fills frames wholly, or one whenever something has come and its turn is
    there."""
    arrivals = np.asarray(senders.arrivals_per_s, dtype=float)
    frames: Array = np.clip(_waited(arrivals, level, 1.0), full, np.maximum(level, full))
    if senders.answers is None:
        return frames
    who, of, part = senders.answers
    members = np.asarray(senders.members, dtype=float)
    gather = (np.arange(len(full))[:, None] == np.asarray(who)[None, :]).astype(float)
    share = np.asarray(part) * members[of] / members[who]
    for _ in range(TURN_ROUNDS):
        answers = gather @ (share * frames[of])
        own = np.minimum(members * (answers + frames) / np.maximum((heard * frames).sum(axis=0), NOTHING), 1.0)
        of_answers = answers / np.maximum(answers + arrivals, NOTHING)
        turns = 1.0 - (1.0 - ALTERNATE) * of_answers * own**2
        wanted = _waited(arrivals + answers, level, turns)
        frames = (frames + np.clip(wanted, full, np.maximum(level, full))) / 2.0
    return frames


def _waited(arrivals: Array, level: Array, turns: Any) -> Array:
    """Frames a second of a sender that waits `turns` turns from an arrival on, then for the next arrival."""
    busy = arrivals > NOTHING
    return np.where(busy, 1.0 / (turns / level + 1.0 / np.where(busy, arrivals, 1.0)), 0.0)


def _chances(heard: Array, members: Array) -> Array:
    """Chance of every sender to start in a slot when it has something waiting: Bianchi eq. (7), with senders that are
    silent part of the time."""
    tau = np.full(heard.shape, 2.0 / (WINDOW + 1.0))
    for _ in range(CHANCE_ROUNDS):
        quiet = 1.0 - heard * tau
        twice = 2.0 * (1.0 - _silent(quiet, members) / quiet)
        doubled = 1.0 + twice * (1.0 + twice * (1.0 + twice * (1.0 + twice * (1.0 + twice))))
        tau = (tau + 2.0 / (1.0 + WINDOW + twice / 2.0 * WINDOW * doubled)) / 2.0
    return tau


def _silent(quiet: Array, members: Array) -> Array:
    """Chance that a slot stays idle."""
    silent: Array = np.prod(quiet if np.all(members == 1.0) else quiet**members, axis=0)
    return silent


def _filled(
    senders: Senders,
    timing: Timing,
    level: Array,
    frames: Array,
    heard: Array,
    tau: Array,
    members: Array,
    busiest: NDArray[np.int64],
) -> Fullness:
    """The mean slot, what gets through in it, and so how many of the frames wanted fit."""
    payload = np.asarray(senders.payload, dtype=float)
    turn_us = np.asarray(senders.overhead_us) + np.where(frames > 0, 1e6 * payload / np.maximum(frames, NOTHING), 0.0)
    speaks = heard * tau
    quiet = 1.0 - speaks
    others = _silent(quiet, members) / quiet
    asks = 1.0 - others if timing.request_us > 0 else np.zeros_like(others)
    alone = members * speaks * others
    good_us, request_us = timing.silence_us + turn_us, timing.silence_us + timing.request_us
    collided_us = _collisions_us(
        np.concatenate([speaks * (1.0 - asks), speaks * asks]),
        np.concatenate([good_us - timing.answer_us, np.full_like(good_us, request_us - timing.answer_us)]),
        np.concatenate([np.broadcast_to(members, speaks.shape)] * 2),
    )
    idle_us = _silent(quiet, members) * SLOT_US
    slot_us = idle_us + (alone * ((1.0 - asks) * good_us + asks * request_us)).sum(axis=0) + collided_us
    through = np.take_along_axis(tau * others * (1.0 - asks), busiest, axis=0)[0]
    share = np.where(level > NOTHING, np.take_along_axis(frames, busiest, axis=0)[0] * slot_us / (1e6 * through), 0.0)
    return Fullness(share, frames / level, turn_us, frames)


def _collisions_us(speaks: Array, length_us: Array, members: Array) -> Array:
    """Mean time a slot spends in collisions: the longest frame of each decides how long it lasts."""
    order = np.argsort(length_us, axis=0, kind="stable")
    chance, length, count = (np.take_along_axis(x, order, axis=0) for x in (speaks, length_us, members))
    quiet = (1.0 - chance) ** count
    below, above = np.cumprod(quiet, axis=0), np.cumprod(quiet[::-1], axis=0)[::-1]
    shorter = np.concatenate([np.ones_like(below[:1]), below[:-1]])
    longer = np.concatenate([above[1:], np.ones_like(above[:1])])
    single = count * chance * (1.0 - chance) ** (count - 1.0) * shorter * longer
    result: Array = ((longer * (1.0 - quiet) - single) * length).sum(axis=0)
    return result


@lru_cache(maxsize=256)
def alone_terms(*, tcp: bool, overhead_us: float, timing: Timing) -> tuple[float, float]:
    """Time in microseconds that one full data frame of a flow alone takes: (fixed, times its payload time)."""

    def time_us(payload_us: float) -> float:
        count = 2 if tcp else 1
        data, one = np.array([[1.0], [0.0]])[:count], np.ones((count, 1))
        payload = np.array([[payload_us], [ACK_PART * payload_us]])[:count] / 1e6
        answers = Answers(np.array([1]), np.array([0]), np.ones((1, 1))) if tcp else None
        alone = Senders(data, 1e9 * data, payload, overhead_us, one, one, one, answers)
        return float(fullness(alone, timing).share[0]) * 1e6

    fixed, long = time_us(0.0), time_us(2000.0)
    return fixed, (long - fixed) / 2000.0
