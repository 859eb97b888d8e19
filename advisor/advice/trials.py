"""What would be if an assumption were wrong: layouts computed again with each assumption moved between its ends.

Terms the site file leaves open move together by what they are about (how busy other people keep the air, what
constructions cost, what the equipment radiates), over evenly spaced points from the 10 to the 90 % point, all else
typical. Doors and the class of the clients are other readings of the site.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.advice.records import Ask, Candidate
from advisor.advice.score import MET, gets
from advisor.data import catalogue
from advisor.facts.book import Book
from advisor.facts.draws import Z90, Array, Draws
from advisor.site.load import LoadedSite
from advisor.site.people import ClientKind
from advisor.site.schema import Site
from advisor.values import CENTRE, FIRST_DRAW, Unknown

POINTS = 9
"""Points between the ends of an assumption, both ends among them."""
GRID = np.linspace(-Z90, Z90, POINTS)

Key = tuple[str, ...]
Value = tuple[int, float]
"""Needs met, and the worst place's share of its need."""


@dataclass(frozen=True)
class Assumption:
    """Open terms that move together, with their low and high end in words."""

    id: str
    what: str
    ends: tuple[str, str]
    moves: Callable[[Key], bool]
    at: Callable[[float], str]
    """A point of the grid in words."""


def _busy_words(z: float) -> str:
    row = catalogue("ranges")["neighbours"]["busy_share"]
    reach = row["high"] - row["typical"] if z > 0 else row["typical"] - row["low"]
    return f"{row['typical'] + reach * z / Z90:.0%} of the time"


def _way_to(low: str, high: str) -> Callable[[float], str]:
    """A point as part of the way from typical to an end."""
    return lambda z: f"{abs(z) / Z90:.0%} of the way to {high if z > 0 else low}"


ASSUMPTIONS = (
    Assumption(
        "neighbours",
        "how busy other people keep the air",
        (f"quiet ({_busy_words(-Z90)})", f"busy ({_busy_words(Z90)})"),
        lambda key: key[0].startswith(("neighbours.", "interference.")),
        _busy_words,
    ),
    Assumption(
        "construction",
        "what walls and floors cost",
        ("light construction", "heavy construction"),
        lambda key: key[0] == "construction",
        _way_to("light construction", "heavy construction"),
    ),
    Assumption(
        "power",
        "what the equipment radiates where the file gives no power",
        ("the least usual", "the most usual"),
        lambda key: key[0] == "power",
        _way_to("the least usual", "the most usual"),
    ),
)
NEIGHBOURS = 0


class Ends(Draws):
    """Instead of draws, a grid: each assumption in turn from its low to its high end, all others typical."""

    def __init__(self) -> None:
        super().__init__(count=POINTS * len(ASSUMPTIONS))

    def _drawn(self, key: Key) -> Array:
        columns = np.zeros(self.count)
        for number, assumption in enumerate(ASSUMPTIONS):
            if assumption.moves(key):
                columns[number * POINTS : (number + 1) * POINTS] = GRID
        return columns


@dataclass(frozen=True)
class Trial:
    """One layout over the grid: what each ask gets of what it asks (asks × columns), and the terms that are open."""

    shares: Array
    keys: frozenset[Key]

    def column(self, assumption: int, point: int) -> Array:
        shares: Array = self.shares[:, assumption * POINTS + point]
        return shares

    def open(self, assumption: Assumption) -> bool:
        return any(assumption.moves(key) for key in self.keys)


def trial(candidate: Candidate, asks: tuple[Ask, ...]) -> Trial:
    """A layout computed at every point of the grid."""
    draws = Ends()
    book = Book(candidate.loaded, draws=draws, fixed=candidate.fixed, ground=candidate.book)
    return Trial(shares_of(book, asks)[:, FIRST_DRAW:], frozenset(draws.keys))


def shares_of(book: Book, asks: tuple[Ask, ...]) -> Array:
    """What each ask gets of what it asks for (asks × cases); 0 where it is not known."""
    rows = []
    for ask in asks:
        value = gets(book, ask)
        share = 0.0 if isinstance(value, Unknown) else np.asarray(value.raw, dtype=float) / ask.mbps
        rows.append(np.broadcast_to(share, (book.draws.size,)))
    return np.array(rows).reshape(len(asks), book.draws.size)


def value_of(column: Array, enough: float) -> Value:
    """Needs met and the worst share in one column; what is beyond `enough` counts no more."""
    worst = float(column.min()) if len(column) else enough
    return int(np.count_nonzero(column >= MET)), round(min(worst, enough), 3)


@dataclass(frozen=True)
class Reading:
    """The site read otherwise: doors open, clients of another class."""

    id: str
    what: str
    ends: tuple[str, str]
    low: Callable[[Site], Site]
    high: Callable[[Site], Site]


def read_so(candidate: Candidate, change: Callable[[Site], Site], asks: tuple[Ask, ...]) -> Array | None:
    """What each ask gets typically where the site is read so; None where that changes nothing."""
    site = change(candidate.loaded.site)
    if site is candidate.loaded.site:
        return None
    read: LoadedSite = replace(candidate.loaded, site=site)
    column: Array = shares_of(Book(read, draws=Draws(1, 0), fixed=candidate.fixed), asks)[:, CENTRE]
    return column


def as_told(site: Site) -> Site:
    return site


def doors_open(site: Site) -> Site:
    """Every door of the file stands open."""
    floors, changed = {}, False
    for key, floor in site.floors.items():
        walls = {}
        for name, wall in floor.walls.items():
            openings = {
                id: opening.model_copy(update={"of": "open"}) if opening.of.startswith("door") else opening
                for id, opening in wall.openings.items()
            }
            changed |= openings != wall.openings
            walls[name] = wall.model_copy(update={"openings": openings})
        floors[key] = floor.model_copy(update={"walls": walls})
    rooms = {}
    for key, room in site.rooms.items():
        told = {other: re.sub(r"\bdoor(-\w+)?\b", "opening", text) for other, text in room.next_to.items()}
        changed |= told != room.next_to
        rooms[key] = room.model_copy(update={"next_to": told})
    return site.model_copy(update={"floors": floors, "rooms": rooms}) if changed else site


def with_streams(streams: int) -> Callable[[Site], Site]:
    """Clients whose streams the file does not give have this many."""

    def change(site: Site) -> Site:
        kinds, places = dict(site.clients), {}
        usual = catalogue("client-kinds")["kinds"]
        for name, place in site.places.items():
            told = site.clients.get(place.client)
            like = (told.like or "laptop") if told is not None else place.client
            if (told is not None and told.streams is not None) or usual[like]["streams"] == streams:
                places[name] = place
                continue
            own = f"{place.client}-{streams}-streams"
            base = told or ClientKind(like=place.client)
            kinds[own] = base.model_copy(update={"streams": streams})
            places[name] = place.model_copy(update={"client": own})
        changed = any(places[name].client != place.client for name, place in site.places.items())
        return site.model_copy(update={"clients": kinds, "places": places}) if changed else site

    return change


READINGS: Sequence[Reading] = (
    Reading("doors", "doors", ("shut, as told", "open"), as_told, doors_open),
    Reading(
        "clients",
        "the class of clients whose streams the file does not give",
        ("one stream", "two streams"),
        with_streams(1),
        with_streams(2),
    ),
)
