"""Ranking by regret: what a layout loses against the best one when the neighbours' evening is not the one scanned."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.advice.records import Regret
from advisor.advice.trials import NEIGHBOURS, POINTS, Trial, value_of

EVENINGS = (0, POINTS // 2, POINTS - 1)
"""Points of the grid: quiet, usual and busy."""


def regrets(trials: Mapping[str, Trial], enough: float) -> dict[str, Regret]:
    """By layout, the most needs and the largest worst share lost against the best layout of the same evening, over a
    quiet, a usual and a busy one."""
    lost = {id: Regret(0, 0.0) for id in trials}
    for point in EVENINGS:
        values = {id: value_of(trial.column(NEIGHBOURS, point), enough) for id, trial in trials.items()}
        most, worst = max(values.values())
        for id, (met, share) in values.items():
            before = lost[id]
            lost[id] = Regret(max(before.needs, most - met), round(max(before.share, worst - share), 3))
    return lost
