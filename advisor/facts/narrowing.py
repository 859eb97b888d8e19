"""Which reading of a hop over the air tells more: its level or its speed.

Each is tried at its typical value, as if it stood in the file: what verdicts rest on is computed again and its width
compared with the one now. A level leaves open what the receivers make of it, a speed leaves open what rests on levels.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from advisor.facts.book import Book
from advisor.facts.draws import Draws
from advisor.network.graph import Hop
from advisor.network.inventory import Altered
from advisor.site.surroundings import Measured
from advisor.subjects import Subject
from advisor.trace import Fact
from advisor.values import Known, Options, Unknown, Value

READING = "~reading"
"""Key of the reading tried; no key a person writes, and sorted behind all of them."""
ENOUGH = 25
"""Draws that tell which of two readings leaves less open; both are tried with the same."""
LOWEST_DBM, HIGHEST_DBM = -110.0, 10.0
"""Levels the file takes."""


class Rested(NamedTuple):
    """What a verdict rests on: facts about its subject, by name and variant; and what it weighs."""

    subject: Subject
    facts: tuple[tuple[str, dict[str, str]], ...]
    weight: int


def speed_tells_more(book: Book, hop: Hop, rested: Sequence[Rested]) -> bool:
    """Whether a speed test of the hop leaves less open than a reading of its level."""
    subject = Subject("hop", (hop.node,))
    level = _typical(book.get("level_dbm", subject), hop)
    down, up = (_typical(book.get("goodput_mbps", subject, dir=away), hop) for away in ("down", "up"))
    if level is None or not down or not up:
        return False
    by_level = _with(book, hop, level_dbm=min(max(level, LOWEST_DBM), HIGHEST_DBM))
    by_speed = _with(book, hop, down_mbps=down, up_mbps=up)
    return left_open(book, by_speed, hop, rested) < left_open(book, by_level, hop, rested)


def left_open(before: Book, after: Book, hop: Hop, rested: Sequence[Rested]) -> float:
    """How much of the width now is left of what a verdict rests on: the mean over its facts that vary, then over the
    verdicts by their weight; 1 where nothing varies."""
    total = weights = 0.0
    for subject, facts, weight in rested:
        shares = []
        for name, variant in facts:
            now, then = (_width(book.get(name, subject, **variant), hop) for book in (before, after))
            if now and then is not None:
                shares.append(then / now)
        if shares:
            total += weight * sum(shares) / len(shares)
            weights += weight
    return round(total / weights, 6) if weights else 1.0


def _with(book: Book, hop: Hop, **reading: float) -> Book:
    """The site with one more reading of the hop's pair."""
    entry = Measured(radio=str(hop.parent_radio), at=hop.node, **reading)
    site = book.site.model_copy(update={"measured": {**book.site.measured, READING: entry}})
    draws = Draws(book.draws.seed, min(book.draws.count, ENOUGH))
    return Book(Altered(site, book.source), draws=draws, fixed={**book.fixed, hop.node: hop}, ground=book)


def _width(fact: Fact, hop: Hop) -> float | None:
    """Width of the band relative to its centre; None where it is no number, or the centre is nothing."""
    known, centre = _chosen(fact.value, hop), _typical(fact, hop)
    if known is None or not centre:
        return None
    return abs((float(known.high) - float(known.low)) / centre)


def _typical(fact: Fact, hop: Hop) -> float | None:
    """The centre of a number; None for anything else."""
    known = _chosen(fact.value, hop)
    return None if known is None or isinstance(known.centre, bool | str) else float(known.centre)


def _chosen(value: Value, hop: Hop) -> Known | None:
    """The value where the uplink runs this way."""
    if isinstance(value, Options):
        value = next(
            (answer for name, answer in value.answers.items() if name in (hop.option, f"{hop.node} {hop.option}")),
            Unknown(()),
        )
    return value if isinstance(value, Known) else None
