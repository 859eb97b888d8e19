"""What the receiver of a link makes of a level: what both ends can do, how far the level lies above the slowest rate's
need, and whether the link holds."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import equipment, links
from advisor.facts.book import Book
from advisor.facts.links import Link
from advisor.network.joining import AGE, common_standard
from advisor.physics.phy_rates import MOST_STREAMS
from advisor.physics.receiver import Receiver, assumptions, level_need_dbm
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, derive, formula
from advisor.values import FIRST_DRAW, POOR, constant, from_cases

WIDEST_MHZ = {"n": 40, "ac": 160, "ax": 160, "be": 320}
"""Widest channel of each amendment; 40 MHz is the most in 2.4 GHz (IEEE 802.11-2020 cl. 19, 21; 802.11ax; 802.11be)."""
LEGACY = AGE[: AGE.index("n")]
"""Amendments whose rates are not modelled yet."""


def receiver_terms(book: Book, link: Link, direction: str) -> dict[str, Fact]:
    """The properties of the receiving end, one fact for each; they are drawn once for each receiver.

    At the two ends of the level they stay typical: a weak level and a poor receiver at once would be rarer than 10 %.
    """
    end = link.upper if direction == "up" else f"{link.lower_kind}={link.lower}"
    return book.lasting(("receiver", end), lambda: {name: _term(book, name, end) for name in assumptions()})


def _term(book: Book, name: str, end: str) -> Fact:
    row = assumptions()[name]
    by = Assumed(row.meaning, row.source)
    key = f"{name}[receiver={end}]"
    if name == "fading_spread_db":
        return Fact(key, "dB", constant(row.typical), by)
    cases = book.draws.between(row.low, row.typical, row.high, "receiver", name, end, more_is_better=False)
    cases[POOR:FIRST_DRAW] = row.typical
    return Fact(key, "dB", from_cases(cases, joint=True), by)


@formula(
    id="receiving.margin_db",
    unit="dB",
    expr="level - (noise + SNR of MCS 0 at 10 % packet errors + implementation loss + fading margin)",
    source="thermal noise and link simulation of packet errors; receiver terms from memory or common practice",
)
def margin_of(*, level_dbm: Any, standard: str, width_mhz: Any, **terms: Any) -> Any:
    """How far a level lies above what the slowest rate needs in nine fades of ten."""
    amendment = "n" if standard in LEGACY else standard
    return level_dbm - level_need_dbm(standard=amendment, width_mhz=width_mhz, mcs=0, receiver=Receiver(**terms))


def abilities(book: Book, link: Link) -> tuple[Fact, Fact, Fact]:
    """Standard, channel width and streams both ends have in common."""
    upper = Subject("radio", (link.upper,))
    facts: list[Fact] = []
    upper_of_band = links.upper_of(book, link).band
    for name, unit in (("standard", ""), ("width_mhz", "MHz"), ("streams", "")):
        mine = book.get(name, upper)
        if link.lower_kind == "place":
            other = equipment.client_setting(book, link.lower, name, unit)
        else:
            other = book.get(name, Subject("radio", (link.lower,)))
        if name == "standard":
            common: Any = common_standard(str(mine.raw), str(other.raw), upper_of_band)
        else:
            common = min(mine.raw, other.raw, _most(name, str(facts[0].raw), upper_of_band))
        origin = other.by if common == other.raw else mine.by
        facts.append(Fact(f"common_{name}[{link.key}]", unit, constant(common), origin, ()))
    return facts[0], facts[1], facts[2]


def _most(name: str, standard: str, band: str) -> int:
    """The most streams or the widest channel the common amendment knows in this band."""
    amendment = "n" if standard in LEGACY else standard
    if name == "streams":
        return MOST_STREAMS[amendment]
    return min(WIDEST_MHZ[amendment], 40) if band == "2.4" else WIDEST_MHZ[amendment]


def margin_db(book: Book, link: Link, direction: str) -> Fact:
    """How far the level lies above what the slowest rate needs."""

    def compute() -> Fact:
        standard, width, _ = abilities(book, link)
        return derive(
            f"margin_db[{link.key}, dir={direction}]",
            margin_of,
            level_dbm=links.level_dbm(book, link, direction),
            standard=standard,
            width_mhz=width,
            **receiver_terms(book, link, direction),
        )

    return book.lasting(("margin", link, direction), compute)


def holds(book: Book, link: Link) -> Any:
    """Whether both ends can answer at the slowest rate, in every case; None where a level is not known. A measured
    goodput of the pair proves that they can."""
    if any(entry.down_mbps or entry.up_mbps for _, entry, _ in links.measurements(book, link)):
        return True
    margins = [margin_db(book, link, direction) for direction in ("down", "up")]
    if not all(margin.known for margin in margins):
        return None
    return np.minimum(margins[0].raw, margins[1].raw) >= 0.0
