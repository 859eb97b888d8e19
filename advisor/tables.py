"""The tables people read first: what works where, and what the hops carry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from advisor.facts.book import Book
from advisor.subjects import Subject
from advisor.trace import Fact
from advisor.values import FIRST_DRAW, Options, Unknown, Value

USES = ("calls", "video", "browsing")
Word = Literal["works", "may fail", "fails", "not known"]


@dataclass(frozen=True, slots=True)
class Use:
    """Whether one use works at one place; `chance` is the probability that it does."""

    word: Word
    chance: float | None
    depends_on: str = ""
    """The option that decides, where the equipment may choose."""


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """One place in the table of what works where."""

    place: str
    client: str
    joined: Fact
    alone: Fact
    alone_up: Fact
    everyone: Fact
    everyone_up: Fact
    binds: Fact
    uses: dict[str, Use]
    need_mbps: tuple[float | None, float | None]
    """What each active client must get, towards it and from it; None where the file does not say."""


@dataclass(frozen=True, slots=True)
class HopRow:
    """One hop in the table of what the hops carry."""

    node: str
    parent: str
    over: str
    open: bool
    """True for one of several ways an uplink left to the equipment may run."""
    level: Fact
    rate_down: Fact
    rate_up: Fact
    alone: Fact
    alone_up: Fact
    serving: Fact
    demand: Fact


def hop_rows(book: Book) -> tuple[HopRow, ...]:
    """The table of what the hops carry; an uplink left to the equipment has a row for each way it may run."""
    rows = []
    for subject in book.subjects("hop"):
        variants = book.variants(subject.ids[0])
        books = list(variants.values()) if len(variants) > 1 else [book]
        rows += [_hop_row(entry, subject, open=len(books) > 1) for entry in books]
    return tuple(rows)


def place_rows(book: Book) -> tuple[PlaceRow, ...]:
    """The table of what works where."""
    return tuple(_place_row(book, subject) for subject in book.subjects("place"))


def _place_row(book: Book, subject: Subject) -> PlaceRow:
    place = subject.ids[0]
    entry = book.site.places[place]
    return PlaceRow(
        place=place,
        client=entry.client,
        joined=book.get("joined_radio", subject),
        alone=book.get("goodput_mbps", subject, transport=entry.transport),
        alone_up=book.get("goodput_mbps", subject, dir="up", transport=entry.transport),
        everyone=book.get("goodput_everyone_mbps", subject),
        everyone_up=book.get("goodput_everyone_mbps", subject, dir="up"),
        binds=book.get("binds_everyone", subject),
        uses={use: use_of(book.get("use_holds", subject, use=use).value) for use in USES},
        need_mbps=(entry.down_mbps, entry.up_mbps),
    )


def use_of(value: Value) -> Use:
    """A yes-or-no value in words: works from 90 % on, fails under 50 %."""
    if isinstance(value, Unknown):
        return Use("not known", None)
    if isinstance(value, Options):
        answers = {name: use_of(answer) for name, answer in value.answers.items()}
        worst = min(answers.items(), key=lambda entry: (ORDER[entry[1].word], entry[0]))
        alike = len({answer.word for answer in answers.values()}) == 1
        if alike or worst[1].word == "not known":
            return worst[1]
        return Use("may fail", worst[1].chance, worst[0])
    if value.cases is None or len(value.cases) <= FIRST_DRAW:
        return Use("works" if value.centre else "fails", 1.0 if value.centre else 0.0)
    chance = round(float(np.mean(value.cases[FIRST_DRAW:])), 3)
    return Use("works" if chance >= 0.9 else "fails" if chance < 0.5 else "may fail", chance)


ORDER: dict[Word, int] = {"fails": 0, "not known": 1, "may fail": 2, "works": 3}


def _hop_row(book: Book, subject: Subject, *, open: bool) -> HopRow:
    node = subject.ids[0]
    hop = book.hops.get(node)
    uplink = book.site.nodes[node].uplink
    over = hop.over if hop else (uplink.over if uplink else "not given")
    if hop and hop.air and hop.radio is not None:
        over = f"{book.inventory.radios[hop.radio].band} GHz"
    return HopRow(
        node=node,
        parent=hop.parent if hop else "not known",
        over=over,
        open=open,
        level=book.get("level_dbm", subject),
        rate_down=book.get("phy_rate_mbps", subject),
        rate_up=book.get("phy_rate_mbps", subject, dir="up"),
        alone=book.get("goodput_mbps", subject),
        alone_up=book.get("goodput_mbps", subject, dir="up"),
        serving=book.get("serving_mbps", subject),
        demand=book.get("demand_mbps", subject),
    )
