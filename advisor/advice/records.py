"""What a ranking of layouts consists of: plain records that views read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from typing import Literal

from advisor.facts.book import Book
from advisor.network.graph import Hop
from advisor.site.change import Change
from advisor.site.load import LoadedSite
from advisor.values import Known


@dataclass(frozen=True, slots=True)
class Ask:
    """One speed the site file asks for at a place, in one direction, for each active client."""

    place: str
    direction: Literal["down", "up"]
    mbps: float
    when: Literal["everyone", "alone"] = "everyone"
    assumed: bool = False
    """True where the file asks for nothing anywhere and browsing stands in."""


@dataclass(frozen=True, slots=True)
class Score:
    """How a layout does at typical figures: what is asked and met, and the worst place's share of its need (of places
    anything can serve)."""

    met: int
    asked: int
    worst: float
    """Smallest of (what a place gets / what it asks for), rounded to three digits; 1 or more: it gets what it asks."""
    worst_at: str
    """Place and direction of it: `desk-front down`; empty where nothing is asked or nothing known."""
    unknown: tuple[str, ...] = ()
    """What is missing for asks that could not be followed; they count as not met."""

    @property
    def key(self) -> tuple[int, float]:
        """Needs met first, then the worst share."""
        return self.met, self.worst


@dataclass(frozen=True, slots=True)
class Layout:
    """One way to set the site up: its name, what it changes against the file, and of what kind it is."""

    id: str
    """Stable name built of what it consists of: the same layout has the same id in every run."""
    parts: tuple[str, ...]
    """The layout in words: every uplink, name scheme, move and channel that makes it."""
    kinds: tuple[str, ...]
    """Of what kind: as it is, same-band, cross-band, wired, star, chain, one name, name per band, moved node …"""
    changes: tuple[Change, ...]
    """What has to be done; empty for the site as it is."""

    @property
    def told(self) -> str:
        """The layout in one line."""
        return ", ".join(self.parts) or "one node"

    @property
    def effort_min(self) -> float:
        return sum(change.effort_min for change in self.changes)

    @property
    def cost(self) -> float | None:
        """What the changes cost; None where a price is not given."""
        costs = [change.cost for change in self.changes]
        return None if any(cost is None for cost in costs) else sum(cost for cost in costs if cost is not None)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A layout written into a copy of the site and computed anew with all draws."""

    layout: Layout
    loaded: LoadedSite
    book: Book
    fixed: Mapping[str, Hop]
    """How uplinks run that the file leaves to the equipment: the worst of the ways they may take."""


@dataclass(frozen=True, slots=True)
class HopLine:
    """One hop of a layout, in figures; None where not known."""

    node: str
    parent: str
    over: str
    """`5 GHz, channel 36, 80 MHz`, `ethernet`, `not fixed` …"""
    level_dbm: Known | None
    rate_mbps: Known | None
    alone_mbps: Known | None
    """TCP towards the node with nobody else active, neighbours' share taken off."""
    air_share: float | None
    """Share of time of the air (or wire) it takes when everyone gets what they ask, typical."""
    binds: bool
    """True where it, or the air it runs in, is what stops the worst place."""


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """What each active client at a place gets in a layout, everyone active."""

    place: str
    clients: int
    joined: str
    """The radio typically joined; empty where none."""
    down_mbps: Known | None
    up_mbps: Known | None
    need_down_mbps: float | None
    need_up_mbps: float | None
    chance: float | None
    """Share of the draws in which it gets what it asks for, in both directions; None where nothing is asked."""


@dataclass(frozen=True, slots=True)
class Axes:
    """What else counts beside the speeds."""

    best_factor: float | None
    """All demands times this at perfect timing (an upper bound), typical."""
    air_hops: int
    """Most hops over the air between a place and the internet line."""
    node_loss: tuple[str, int]
    """The node other than the gateway whose loss cuts off most places, and how many."""
    calls: tuple[int, int] | None
    """Places where the calls made there hold typically, and places with calls; None where there are none."""
    returns: tuple[int, int] | None
    """Outages after which every node comes back by itself, of those weighed (`facts.outages.returning`); None where
    the file does not tell enough."""
    effort_min: float
    cost: float | None
    walks: tuple[int, int] | None = None
    """Walks on which a call suffers in at most one case of ten, and walks with calls; None where there are none, or
    they were not followed for this layout."""


@dataclass(frozen=True, slots=True)
class Versus:
    """Draw by draw against another layout: draws in which the worst share is larger, alike (within 1 %), smaller."""

    wins: int
    alike: int
    losses: int

    @property
    def tie(self) -> bool:
        """True where chance alone may explain who wins more often (sign test, 5 %)."""
        return abs(self.wins - self.losses) <= 1.96 * sqrt(self.wins + self.losses)


@dataclass(frozen=True, slots=True)
class Regret:
    """Largest loss against the best layout of the same evening, over the neighbours' quiet, usual and busy evenings."""

    needs: int
    share: float
    """Of the worst place's share of its need."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A layout in its place of the ranking."""

    rank: int
    candidate: Candidate
    score: Score
    chance: float
    """Share of the draws in which everything asked is met and calls hold, at places anything compared can serve."""
    regret: Regret
    versus_first: Versus | None
    """Against the first of the ranking; None for itself."""
    axes: Axes
    places: tuple[PlaceLine, ...]
    hops: tuple[HopLine, ...]
    leads: tuple[str, ...]
    """Axes on which no other layout of the table is better; empty for a layout that another equals or beats on all."""

    @property
    def layout(self) -> Layout:
        return self.candidate.layout


@dataclass(frozen=True, slots=True)
class Flip:
    """An assumption tried at both its ends."""

    id: str
    """`neighbours`, `construction`, `power`, `doors`, `clients`."""
    what: str
    low: str
    """The layout that comes first at its low end, by id; and at its high end."""
    high: str
    ends: tuple[str, str]
    """Its two ends in words."""
    at: str
    """Where the first place changes hands, in words; empty where it does not."""


@dataclass(frozen=True, slots=True)
class Promise:
    """What can be promised for one place under the recommended layout."""

    place: str
    sentence: str
    holds: bool
    """True where what is asked there holds in at least 9 of 10 draws."""
    void: tuple[str, ...]
    """Assumptions that would void it, in words."""


@dataclass(frozen=True, slots=True)
class Search:
    """How the alternatives were searched."""

    layouts: float
    """How many layouts there are to choose from."""
    computed: int
    """How many of them were computed in full."""
    budget: int
    exact: bool
    """True where no layout left out can have a better score at typical figures."""
    bound: tuple[int, float]
    """Most needs met and largest worst share any layout left out could have; the best score where exact."""
    bound_by: str
    """How that is known, in words."""
    stopped: bool = False
    """True where the person stopped the search."""


@dataclass(frozen=True, slots=True)
class Ranking:
    """The answer of `rank`."""

    loaded: LoadedSite
    asks: tuple[Ask, ...]
    entries: tuple[Entry, ...]
    """Best first; the site as it is and the best of every kind always are among them."""
    recommended: str
    """Id of the layout to take: the first, or one that does as well with less work."""
    because: tuple[str, ...]
    """Why the first beats the second, one sentence for each difference."""
    recommended_because: str
    """Why another than the first is recommended; empty where it is the first."""
    hopeless: tuple[str, ...]
    """Places where something is asked for and nothing compared can be joined."""
    missing: tuple[str, ...]
    """What the file would have to give before everything asked for can be judged; until then it counts as not met."""
    flips: tuple[Flip, ...]
    promises: tuple[Promise, ...]
    search: Search
    varied: tuple[str, ...]
    """What was varied, one sentence each."""
    fixed: tuple[str, ...]
    """What was left as it is and why, one sentence each."""

    def entry(self, id: str) -> Entry:
        return next(entry for entry in self.entries if entry.layout.id == id)
