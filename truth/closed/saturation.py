"""Contention in closed form: what each sender of a channel gets, and what collisions take.

Bianchi (IEEE JSAC 18(3), 2000) extended to senders that differ: each has its own exchange, its own length in a
collision (the longest frame decides what it costs) and its own share of slots in which it has anything to send. Who
lost a frame of many packets asks for the lost answer before it repeats (IEEE 802.11-2020 10.25.6): with collision
chance p, the fraction p of its good turns are such requests. A sender whose load stays below its fair share sends when
something arrived and then waits for its turn, while more arrives; its frames grow until the load gets through.

All arrays have senders first; every further axis is a case. Mean-field: senders are taken to be independent from slot
to slot. `turns` follows their counters one by one and is the check.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from advisor.physics.arrays import Number

Array = NDArray[np.float64]
_STEPS = 60
_KEEP = 0.5
"""Steps of the fixed point, and how much of the old value each keeps."""


class Sender(NamedTuple):
    """Durations of senders in microseconds: arrays with senders first, or single numbers."""

    fixed_us: Any
    """Exchange without its packets and without AIFS: preamble, SIFS, answer."""
    packet_us: Any
    """Each packet of a frame."""
    most_packets: Any
    answer_us: Any = 0.0
    """The part of `fixed_us` that a lost frame spares: SIFS and answer."""
    request_us: Any = 0.0
    """Exchange that asks for a lost answer; 0 for senders that repeat at once."""


class Share(NamedTuple):
    """Outcome by sender (first axis) and case."""

    frames_per_s: Array
    """Frames that get through."""
    packets_per_frame: Array
    lost: Array
    """Share of time that collisions and requests for lost answers take (by case)."""
    saturated: NDArray[np.bool_]
    """Whether the sender always has something to send, because its load exceeds what it gets."""

    @property
    def packets_per_s(self) -> Array:
        return self.frames_per_s * self.packets_per_frame


class _Terms(NamedTuple):
    """All inputs, broadcast to one shape."""

    fixed_us: Array
    packet_us: Array
    most: Array
    answer_us: Array
    request_us: Array
    load_per_us: Array
    batch: Array
    silence_us: float
    slot_us: float
    window: int
    stages: int


class _State(NamedTuple):
    """What the fixed point moves: attempts in a slot, share of slots with something to send, packets in a frame."""

    tau: Array
    active: Array
    packets: Array


def contend(
    sender: Sender,
    *,
    load_per_s: Number,
    batch_packets: Number = 1.0,
    silence_us: float = 43.0,
    slot_us: float = 9.0,
    window: int = 16,
    stages: int = 6,
) -> Share:
    """Share one channel among senders (first axis), in every case (further axes).

    `load_per_s`: packets offered per second; infinite for a sender that always has more, 0 for none. `batch_packets`:
    how many arrive together, as acknowledgements do and what a hop before delivers. `silence_us`: AIFS.
    """
    inputs = (*sender, np.asarray(load_per_s, dtype=float) / 1e6, batch_packets)
    fixed, each, most, answer, request, load, batch = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in inputs))
    terms = _Terms(fixed, each, most, answer, request, load, batch, silence_us, slot_us, window, stages)
    endless = np.isinf(load)
    state = _State(
        tau=np.full(fixed.shape, 2.0 / (window + 1.0)),
        active=np.where(endless, 1.0, np.where(load > 0, 0.5, 0.0)),
        packets=np.where(endless, most, 1.0),
    )
    for _ in range(_STEPS):
        state, rate, lost, full = _step(terms, state)
    packets = np.where(full, most, np.where(rate > 0, np.where(endless, most, load) / np.maximum(rate, 1e-15), 0.0))
    return Share(1e6 * rate, packets, lost, full)


def _step(terms: _Terms, state: _State) -> tuple[_State, Array, Array, NDArray[np.bool_]]:
    """One step towards the fixed point; with it frames per microsecond, share of time lost, and who is saturated."""
    speaks = state.active * state.tau
    quiet = 1.0 - speaks
    silent = np.prod(quiet, axis=0)
    others_quiet = silent / quiet
    meets = 1.0 - others_quiet
    asks = np.where(terms.request_us > 0, meets, 0.0)
    good_us = terms.silence_us + terms.fixed_us + terms.packet_us * state.packets
    request_us = terms.silence_us + terms.request_us
    collided_us = _collisions_us(
        np.concatenate([speaks * (1.0 - asks), speaks * asks]),
        np.concatenate([good_us - terms.answer_us, request_us - terms.answer_us]),
    )
    alone = speaks * others_quiet
    lost_us = collided_us + (alone * asks * request_us).sum(axis=0)
    slot_us = silent * terms.slot_us + (alone * (1.0 - asks) * good_us).sum(axis=0) + lost_us
    rate_full = state.tau * others_quiet * (1.0 - asks) / slot_us
    # A sender with something to send needs this long for one frame; then it waits for the next packets to arrive.
    turn_us = 1.0 / rate_full
    endless = np.isinf(terms.load_per_us)
    load = np.where(endless, 1.0, terms.load_per_us)
    arrivals = np.maximum(load / terms.batch, 1e-12)
    idle_us = np.exp(-np.minimum(arrivals * good_us, 700.0)) / arrivals
    rate = np.where(load > 0, 1.0 / (turn_us + idle_us), 0.0)
    rate = np.clip(rate, load / terms.most, load)  # no frame without a packet, none with more than the most
    full = endless | (rate >= rate_full)
    rate = np.where(full, rate_full, rate)
    needed = np.where(load > 0, load / np.maximum(rate, 1e-15), 0.0)
    doubled = sum(((2.0 * meets) ** k for k in range(terms.stages)), np.zeros_like(meets))
    tau = 2.0 / (1.0 + terms.window + meets * terms.window * doubled)
    active = np.where(full, 1.0, np.minimum(rate * turn_us, 1.0))
    packets = np.where(full, terms.most, needed)
    mixed = _State(*(_KEEP * old + (1.0 - _KEEP) * new for old, new in zip(state, (tau, active, packets), strict=True)))
    return mixed, rate, lost_us / slot_us, full


def _collisions_us(speaks: Array, length_us: Array) -> Array:
    """Mean time a slot spends in collisions: the longest frame of each decides how long it lasts."""
    order = np.argsort(length_us, axis=0, kind="stable")
    chance = np.take_along_axis(speaks, order, axis=0)
    length = np.take_along_axis(length_us, order, axis=0)
    quiet = 1.0 - chance
    below, above = np.cumprod(quiet, axis=0), np.cumprod(quiet[::-1], axis=0)[::-1]
    shorter = np.concatenate([np.ones_like(below[:1]), below[:-1]])
    longer = np.concatenate([above[1:], np.ones_like(above[:1])])
    result: Array = (chance * longer * (1.0 - shorter) * length).sum(axis=0)
    return result


def efficiency(sender: Sender, *, silence_us: float = 43.0, slot_us: float = 9.0, window: int = 16) -> Any:
    """What contention leaves of perfect turns when all senders (first axis) always have something to send.

    Perfect turns: the same frames one after the other, each with the wait a sender alone has. A share of time by case;
    just above 1 is possible with short frames, where several senders waste fewer idle slots than one.
    """
    share = contend(sender, load_per_s=np.inf, silence_us=silence_us, slot_us=slot_us, window=window)
    waits_us = silence_us + (window - 1) / 2.0 * slot_us
    alone_us = waits_us + np.asarray(sender.fixed_us) + np.asarray(sender.packet_us) * sender.most_packets
    return (share.frames_per_s * alone_us / 1e6).sum(axis=0)
