"""What collisions take of air that several senders share."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from advisor.facts.book import Book
from advisor.trace import Assumed, Fact
from advisor.values import from_cases

SPREAD = 0.5
"""The share lost is taken as known within this part of itself at 10 and 90 %: loads come and go, and senders differ."""


KEPT = (
    1.0000, 0.9336, 0.8804, 0.8388, 0.8056, 0.7785, 0.7557, 0.7362, 0.7192, 0.7040, 0.6904, 0.6781, 0.6668, 0.6564,
    0.6467, 0.6377, 0.6293, 0.6213, 0.6138, 0.6067, 0.5999, 0.5934, 0.5873, 0.5814, 0.5757, 0.5703, 0.5650, 0.5600,
    0.5551, 0.5504, 0.5458, 0.5414, 0.5371, 0.5330, 0.5290, 0.5250, 0.5212, 0.5175, 0.5139, 0.5103,
)  # fmt: skip
"""Share of perfect turns that contention leaves to 1, 2, 3 … senders that always have something to send.

For frames much longer than a slot it hangs on their number alone; a full frame of usual gear stands for them. Computed
by `advisor.physics.saturation.efficiency` (Bianchi 2000 extended), written down because a check must start fast; a test
computes it anew.
"""


def kept_share(senders: int) -> float:
    """Share of perfect turns left to so many senders; beyond the table its last entry."""
    return KEPT[min(max(senders, 1), len(KEPT)) - 1]


def equal_senders(shares: Iterable[float]) -> float:
    """How many equal senders these shares of time amount to: the square of their sum over the sum of their squares."""
    values = list(shares)
    squares = sum(value * value for value in values)
    return sum(values) ** 2 / squares if squares > 0 else 0.0


def clash_share(book: Book, senders: float) -> Any:
    """Share of airtime lost to collisions among so many senders, in every case; 0 for a single one."""
    if senders <= 1.0:
        return 0.0
    below = int(senders)
    part = senders - below
    lost = 1.0 - (kept_share(below) * (1.0 - part) + kept_share(below + 1) * part)
    if lost <= 0.0:
        return 0.0
    return book.lasting(
        ("clash", round(senders, 3)),
        lambda: book.draws.between(
            lost * (1 - SPREAD), lost, min(lost * (1 + SPREAD), 0.9), "clash", more_is_better=False
        ),
    )


def clash_fact(book: Book, cell: str, senders: int) -> Fact:
    """The share lost in the air of a cell, for whoever asks how a number came about; `senders` is 2 or more."""
    share = clash_share(book, float(senders))
    by = Assumed(
        "collisions take what saturated senders lose, known within half of itself",
        "Bianchi 2000 extended (physics.saturation); its spread: common practice, no source",
    )
    return Fact(f"clash_share[radio={cell}, senders={senders}]", "", from_cases(share, joint=True), by)
