"""Ways made of levels alone, for a client between two nodes: invented, without shadowing, every figure given."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from advisor.walk.records import Array, Behaviour, OnWay, Trail

NAME, OTHER = frozenset({b"kite"}), frozenset({b"heron"})
PHONE = Behaviour(-70, 8, "none", "eager", k=True, v=True, r=True)
STEP_S = 0.1


def node(number: int, security: str = "wpa2-personal", **about: object) -> OnWay:
    made = OnWay(f"n{number}.r5", f"n{number}", "5", 36 + 4 * (number - 1), NAME, security)
    return replace(made, **about)  # type: ignore[arg-type]


def way(levels_dbm: list[Array], radios: tuple[OnWay, ...], lost_at_dbm: float = -95.0) -> Trail:
    """Level and margin move together; nothing is drawn into them."""
    level = np.stack(levels_dbm)
    times = STEP_S * np.arange(level.shape[1])
    told = ("a to b",) * len(times)
    none = (None,) * len(times)
    return Trail(
        "along", STEP_S, times, times, told, none, radios, level, level - lost_at_dbm, level, np.zeros(len(radios))
    )


def planned(old: OnWay, new: OnWay) -> Trail:
    """The old node gets weak at 3 s, but never so that a packet is lost; the new one is strong throughout."""
    steps = np.arange(300)
    return way([np.where(steps < 30, -50.0, -74.0), np.full(300, -55.0)], (old, new))


def cut(old: OnWay, new: OnWay) -> Trail:
    """The old node is gone from one moment to the next, at 3 s; the new one is strong throughout."""
    steps = np.arange(300)
    return way([np.where(steps < 30, -50.0, -150.0), np.full(300, -55.0)], (old, new))
