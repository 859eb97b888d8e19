"""Saturated contention for one channel: how often senders collide, and what that leaves.

Bianchi, "Performance analysis of the IEEE 802.11 distributed coordination function", IEEE JSAC 18(3), 2000: every
sender always has a frame waiting, all hear each other, and no frame is lost but by collision.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from advisor.physics.arrays import Number, plain
from advisor.trace import formula

_HALVINGS = 60
"""Enough to find the fixed point to the last digit of a double."""


class Saturation(NamedTuple):
    """tau: chance that a sender starts in a slot; p: chance that its frame then collides."""

    tau: Any
    p: Any


def _tau(p: Any, window: Number, stages: int) -> Any:
    """Bianchi eq. (7), with its sum written out so that p = 1/2 is no exception."""
    doubled = sum(((2.0 * p) ** k for k in range(stages)), np.zeros_like(p))
    return 2.0 / (1.0 + window + p * window * doubled)


def bianchi(*, contenders: Number, window: Number = 16, stages: int = 6) -> Saturation:
    """Solve Bianchi's eqs (7) and (9) for `contenders` senders (1 or more, fractions allowed).

    `window` is W = CWmin + 1 slots, `stages` how often it doubles (CWmax + 1 = W 2^stages).
    """
    others = np.asarray(contenders, dtype=float) - 1.0
    low, high = np.zeros_like(others), np.ones_like(others)
    for _ in range(_HALVINGS):
        p = (low + high) / 2.0
        too_low = 1.0 - (1.0 - _tau(p, window, stages)) ** others > p
        low, high = np.where(too_low, p, low), np.where(too_low, high, p)
    p = (low + high) / 2.0
    return Saturation(plain(_tau(p, window, stages)), plain(np.where(others > 0, p, 0.0)))


class Slots(NamedTuple):
    """Shares of slots: idle, one sender alone, several at once."""

    idle: Any
    success: Any
    collision: Any


def slot_shares(*, tau: Number, contenders: Number) -> Slots:
    """How slots divide when each of the contenders starts with chance tau."""
    count, chance = np.asarray(contenders, dtype=float), np.asarray(tau)
    idle = (1.0 - chance) ** count
    success = count * chance * (1.0 - chance) ** (count - 1.0)
    return Slots(plain(idle), plain(success), plain(np.maximum(1.0 - idle - success, 0.0)))


@formula(
    id="sharing.saturation_share",
    unit="",
    expr="P_s payload / (P_idle slot + P_s T_s + P_c T_c)",
    source="Bianchi 2000, IEEE JSAC 18(3), eq. (13)",
)
def saturation_share(
    *,
    contenders: Number,
    payload_us: Number,
    success_us: Number,
    collision_us: Number,
    slot_us: Number,
    window: Number = 16,
    stages: int = 6,
) -> Any:
    """Share of time spent on payload when every contender always has a frame waiting (normalised throughput S)."""
    tau, _ = bianchi(contenders=contenders, window=window, stages=stages)
    idle, success, collision = slot_shares(tau=tau, contenders=contenders)
    return success * payload_us / (idle * slot_us + success * success_us + collision * collision_us)


@formula(
    id="sharing.collision_efficiency",
    unit="",
    expr="S(n) / S(1)",
    source="Bianchi 2000, IEEE JSAC 18(3); ratio of eq. (13) for n senders and for one",
)
def collision_efficiency(
    *,
    contenders: Number,
    success_us: Number = 4000.0,
    collision_us: Number = 4000.0,
    slot_us: Number = 9.0,
    window: Number = 16,
    stages: int = 6,
) -> Any:
    """What collisions and shorter waits leave of one sender's throughput when `contenders` send at once.

    Just above 1 is possible: with short frames several senders waste fewer idle slots than one.
    """
    settings = {
        "payload_us": success_us,
        "success_us": success_us,
        "collision_us": collision_us,
        "slot_us": slot_us,
        "window": window,
        "stages": stages,
    }
    many = saturation_share(contenders=np.maximum(contenders, 1.0), **settings)  # type: ignore[arg-type]
    return plain(many / saturation_share(contenders=1.0, **settings))  # type: ignore[arg-type]


@formula(
    id="sharing.best_tau",
    unit="",
    expr="1 / (n sqrt(T_c / (2 slot)))",
    source="Bianchi 2000, IEEE JSAC 18(3), eq. (28)",
)
def best_tau(*, contenders: Number, collision_us: Number, slot_us: Number) -> Any:
    """The chance of starting that would waste the least time."""
    return 1.0 / (np.asarray(contenders) * np.sqrt(np.asarray(collision_us) / (2.0 * np.asarray(slot_us))))


class Anomaly(NamedTuple):
    """Collision chance and per-host throughput where one host is slower than the others."""

    collision_chance: Any
    fast_exchange_us: Any
    slow_exchange_us: Any
    each_mbps: Any


def rate_anomaly(
    *,
    hosts: Number,
    fast_mbps: Number,
    slow_mbps: Number,
    frame_bytes: Number = 1534,
    payload_bits: Number = 12000,
    preamble_us: Number = 192.0,
    sifs_us: Number = 10.0,
    difs_us: Number = 50.0,
    slot_us: Number = 20.0,
    window: Number = 31,
    ack_bytes: Number = 14,
) -> Anomaly:
    """One slow host among `hosts` equal senders of single frames: all get the same throughput.

    Heusse et al., INFOCOM 2003; its contention and collision terms from memory. The acknowledgement goes at the data
    rate. `window` is CWmin.
    """
    count = np.asarray(hosts, dtype=float)
    collide = 1.0 - (1.0 - 1.0 / np.asarray(window)) ** (count - 1.0)
    contention = slot_us * (1.0 + collide) / (2.0 * count) * np.asarray(window) / 2.0

    def exchange(rate_mbps: Number) -> Any:
        frame = preamble_us + 8.0 * np.asarray(frame_bytes) / np.asarray(rate_mbps)
        answer = preamble_us + 8.0 * np.asarray(ack_bytes) / np.asarray(rate_mbps)
        return difs_us + frame + sifs_us + answer + contention

    fast, slow = exchange(fast_mbps), exchange(slow_mbps)
    jam = (2.0 / count) * slow + (1.0 - 2.0 / count) * fast
    each = payload_bits / ((count - 1.0) * fast + slow + collide * jam * count)
    return Anomaly(plain(collide), plain(fast), plain(slow), plain(each))
