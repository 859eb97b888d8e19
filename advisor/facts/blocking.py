"""What blocks air beside hearing each other on one channel: radios of one box that deafen each other, and channels not
told, which may be one or two."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from advisor.data import catalogue
from advisor.facts import ends
from advisor.facts.book import Book
from advisor.network.contention import channel_overlap
from advisor.network.inventory import RadioUnit
from advisor.trace import Assumed, Fact
from advisor.values import Cases, from_cases


def untold(book: Book, first: str, second: str) -> bool:
    """True where it is not known whether two cells of different nodes share a channel: one of their channels is not
    told, and no uplink puts them on one."""
    mine, other = book.radios[first], book.radios[second]
    if mine.node == other.node or (mine.channel is not None and other.channel is not None):
        return False
    return _setter(book, first) != _setter(book, second)


def _setter(book: Book, radio: str) -> str:
    """The radio that sets its channel: itself, or, where it makes an uplink, that of the radio it joins."""
    joins = book.once("joins", lambda: {hop.radio: str(hop.parent_radio) for hop in book.hops.values() if hop.air})
    for _ in joins:
        radio = joins.get(radio, radio)
    return radio


LEAST_SHARE = 0.001
"""Apart: so little that it changes no figure, and yet a share that shares can be divided by."""


def untold_share(book: Book, first: str, second: str) -> Cases:
    """Whether two cells whose channels are not both told share their air: anything from apart to all of it."""
    names = sorted((first, second))
    cases = book.draws.between(0.0, 0.5, 1.0, "untold channels", *names, more_is_better=False)
    return np.asarray(np.clip(cases, LEAST_SHARE, 1.0))


def untold_fact(book: Book, first: str, second: str) -> Fact | None:
    """The same as a fact, where it matters; else None."""
    if first not in book.cells or second not in book.cells or first == second or not untold(book, first, second):
        return None
    names = ", ".join(sorted((first, second)))
    by = Assumed(f"{names}: not told which channels; they may share one or be apart", "common practice, no source")
    return Fact(f"untold_share[{names}]", "", from_cases(untold_share(book, first, second)), by)


def in_one_box(book: Book) -> dict[tuple[str, str], tuple[RadioUnit, RadioUnit]]:
    """Pairs of cells with a radio each in one box on one band, on channels that do not overlap, and those two radios:
    both serve, or one serves and one is the uplink."""

    def compute() -> dict[tuple[str, str], tuple[RadioUnit, RadioUnit]]:
        there: dict[tuple[str, str], list[tuple[str, RadioUnit]]] = {}
        for name, cell in sorted(book.cells.items()):
            for radio in (book.radios[member] for member in cell.members):
                there.setdefault((radio.node, radio.band), []).append((name, radio))
        return {
            (first, second): (mine, near)
            for cells in there.values()
            for (first, mine), (second, near) in combinations(cells, 2)
            if first != second and not channel_overlap(mine, near)
        }

    return book.once("in_one_box", compute)


def collide(book: Book, first: str, second: str) -> bool:
    """Whether senders of two cells that block each other may collide: not where they only deafen each other."""
    return first == second or (min(first, second), max(first, second)) not in in_one_box(book)


def deafened_share(book: Book, mine: RadioUnit, near: RadioUnit) -> Cases:
    """Share of one radio's sending time in which a second radio of the same box and band, on another channel, cannot
    hear: its own sender is some 60 dB louder than what it listens for, and filters take only part of that away.

    Common practice, no source; little is published about boxes, so the range is wide. Far apart in the band (other
    filters) it is small.
    """
    ranges = catalogue("ranges")["co_located"]
    apart = abs(ends.frequency_mhz(mine) - ends.frequency_mhz(near))
    row = ranges["far_share" if apart >= ranges["far_mhz"] else "near_share"]
    names = sorted((mine.name, near.name))
    return book.draws.between(row["low"], row["typical"], row["high"], "co-located", *names, more_is_better=False)


def deafened_fact(book: Book, first: str, second: str) -> Fact | None:
    """The share between two cells as a fact, where radios of theirs stand in one box; else None."""
    box = in_one_box(book).get((min(first, second), max(first, second)))
    if box is None:
        return None
    mine, near = box
    names = ", ".join(sorted((mine.name, near.name)))
    by = Assumed(
        f"{names} of one box and band deafen each other for part of the time they send",
        str(catalogue("ranges")["co_located"]["source"]),
    )
    return Fact(f"deafened_share[{names}]", "", from_cases(deafened_share(book, mine, near)), by)
