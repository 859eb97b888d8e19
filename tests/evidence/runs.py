"""Synthetic runs for the tests: round trips with a little scatter, and troubles planted at known moments."""

from __future__ import annotations

import numpy as np

from advisor.evidence.pings import PingRun

LEVELS_MS = {"near": 2.0, "gateway": 5.0, "outside": 20.0}
ADDRESSES = {"near": "192.0.2.2", "gateway": "192.0.2.1", "outside": "outside.example (203.0.113.9)"}


def run(role: str, seconds: int, seed: int = 1, start_s: float | None = None, interval_s: float = 1.0) -> PingRun:
    """A run without trouble: scatter of a few tenths around the role's level."""
    random = np.random.default_rng([seed, list(LEVELS_MS).index(role)])
    count = round(seconds / interval_s)
    replies = LEVELS_MS[role] * (1.0 + 0.2 * random.random(count))
    return PingRun(f"{role}.txt", ADDRESSES[role], interval_s, start_s, replies, np.arange(count) * interval_s)


def three(seconds: int, seed: int = 1, start_s: float | None = None) -> dict[str, PingRun]:
    return {role: run(role, seconds, seed, start_s) for role in LEVELS_MS}


def spoil(of: PingRun, low_s: float, high_s: float, to: float = float("nan")) -> None:
    """Answers to pings sent in [low, high) are lost, or come after `to` ms."""
    of.replies[(of.times_s >= low_s) & (of.times_s < high_s)] = to
