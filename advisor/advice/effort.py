"""What a change takes: minutes of work (common practice, no source), and money where the file gives prices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from advisor.data import catalogue
from advisor.site.change import Change
from advisor.site.edit import Edit
from advisor.site.schema import Prices


def change(
    operator: str, subject: str, told: str, edits: Sequence[Edit], *, cable_m: float = 0.0, devices: int = 0
) -> Change:
    """A change with the minutes it usually takes."""
    effort = catalogue("effort")
    minutes = effort["change_min"][operator] + effort["cable_min_per_m"] * cable_m + effort["device_min"] * devices
    return Change(operator, subject, told, tuple(edits), float(minutes))


def priced(changes: Sequence[Change], prices: Prices, cable_m: dict[str, float]) -> tuple[Change, ...]:
    """The changes with their cost; None where a price that counts is not given. `cable_m` by subject."""
    metres = [cable_m.get(entry.subject, 0.0) if entry.operator == "wire-hop" else 0.0 for entry in changes]
    return tuple(replace(entry, cost=_cost(entry, prices, m)) for entry, m in zip(changes, metres, strict=True))


def plain_band(band: str) -> int | float:
    """A band as people write it in a file: 5, not "5"."""
    return float(band) if "." in band else int(band)


def _cost(entry: Change, prices: Prices, cable_m: float) -> float | None:
    if prices.hour is None or (cable_m > 0 and prices.cable_per_m is None):
        return None
    return round(prices.hour * entry.effort_min / 60 + (prices.cable_per_m or 0.0) * cable_m, 2)
