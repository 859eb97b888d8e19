"""Figures of single links and cells on every channel they may have, the best of them, for bounds on whole layouts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

from advisor.advice.choices import Space, centre, follow, present_tuning
from advisor.advice.records import Ask
from advisor.data import catalogue
from advisor.facts import everyone, hearing, joins, links, rates, receiving, routes, strangers
from advisor.facts.book import Book, Tuning
from advisor.facts.reach import reachable
from advisor.network.graph import Hop
from advisor.values import Known

INFINITE = float("inf")
MOST_KEPT = 100_000
"""Answers about who joins what that are kept."""
MOST_BOOKS = 1_000
"""Fact books on other channels that are kept."""


@dataclass(frozen=True)
class Flow:
    """All active clients of a place in one direction, and what is asked for each of them."""

    place: str
    direction: str
    clients: int
    mbps: float
    together: bool
    """False where it is asked for with nobody else active."""


UDP_OVER_TCP = 1.5
"""A link carries at most this much more over UDP than over TCP, whose acknowledgements take turns of their own."""


class Figures:
    """What single links carry and cells leave free, at typical figures, for the channels they may have."""

    def __init__(self, book: Book, space: Space, asks: tuple[Ask, ...]) -> None:
        self.book, self.space = book, space
        self.flows = _flows(book, asks)
        self.tunings = {name: self._possible(name) for name in book.inventory.radios}
        self.tuned = lru_cache(maxsize=MOST_BOOKS)(self._tuned)
        self.hop_mbps = lru_cache(maxsize=None)(self._hop_mbps)
        self.last_mbps = lru_cache(maxsize=None)(self._last_mbps)
        self.free = lru_cache(maxsize=None)(self._free)
        self.hears_on = lru_cache(maxsize=None)(self._hears_on)
        self.surely_hears = lru_cache(maxsize=None)(self._surely_hears)
        self.best_hop_mbps = lru_cache(maxsize=None)(self._best_hop_mbps)
        self.best_last_mbps = lru_cache(maxsize=None)(self._best_last_mbps)
        self.best_free = lru_cache(maxsize=None)(self._best_free)
        self.heard = lru_cache(maxsize=None)(self._heard)
        self.joined_with = lru_cache(maxsize=MOST_KEPT)(self._joined_with)
        self.joined_on = lru_cache(maxsize=MOST_KEPT)(self._joined_on)
        places = sorted({flow.place for flow in self.flows})
        self.near = {place: reachable(book, place) for place in places}
        """Radios near enough to each place to matter."""
        self.joins = {place: self._may_join(place, {n: self.tunings[n] for n in self.near[place]}) for place in places}
        self.line = {direction: self._line(direction) for direction in ("down", "up")}

    def without(self, hopeless: frozenset[str]) -> None:
        """Leave out what is asked at places nothing can serve."""
        self.flows = tuple(flow for flow in self.flows if flow.place not in hopeless)

    def _possible(self, name: str) -> tuple[Tuning, ...]:
        """Channels a radio may be on: its own choices, and those of any other radio of its band it may follow."""
        radio = self.book.inventory.radios[name]
        others = [
            follow(radio, tuning)
            for other, tunings in self.space.tunings.items()
            if other != name and self.book.inventory.radios[other].band == radio.band and self._may_follow(name)
            for tuning in tunings
        ]
        return tuple(dict.fromkeys([*self.space.tunings[name], *others]))

    def _may_follow(self, name: str) -> bool:
        ways = [*self.space.held.values(), *(hop for choices in self.space.ways.values() for hop in choices)]
        return any(hop.radio == name for hop in ways)

    def _tuned(self, *radios: tuple[str, Tuning]) -> Book:
        changed = {name: tuning for name, tuning in radios if tuning != self.present(name)}
        return Book(self.book.source, draws=self.book.draws, like=self.book, tuned=changed) if changed else self.book

    def present(self, name: str) -> Tuning:
        return present_tuning(self.book.inventory.radios[name])

    def _hop_mbps(self, hop: Hop, direction: str, upper: Tuning | None, transport: str = "tcp") -> float:
        """Goodput of a hop on a silent channel, its parent's radio set so; infinite where it is not known."""
        if not hop.air:
            return _known(routes.hop_goodput(self.book, hop, direction, transport).value)
        assert upper is not None and hop.radio is not None and hop.parent_radio is not None
        lower = follow(self.book.inventory.radios[hop.radio], upper)
        book = self.tuned((hop.parent_radio, upper), (hop.radio, lower))
        link = links.to_radio(hop.radio, hop.parent_radio)
        return self._goodput(book, link, direction, hop.parent_radio, transport)

    def _last_mbps(self, place: str, radio: str, direction: str, tuning: Tuning, transport: str = "tcp") -> float:
        return self._goodput(self.tuned((radio, tuning)), links.to_place(place, radio), direction, radio, transport)

    def _goodput(self, book: Book, link: links.Link, direction: str, radio: str, transport: str) -> float:
        measured = rates.measured_goodput(book, link, direction)
        if measured is not None:
            every = frozenset({*book.site.nodes, *book.site.places})
            busy = hearing.busy_share(book, book.inventory.radios[radio], every, "most")
            silent = centre(measured.raw) / max(1.0 - centre(busy.raw), 1e-3)
            return silent * (UDP_OVER_TCP if transport == "udp" else 1.0)
        return _known(rates.goodput_mbps(book, link, direction, transport).value)

    def _free(self, radio: str, tuning: Tuning) -> float:
        """Share of a cell's time other people leave at most, where its own node stands; more ends only take more."""
        book = self.tuned((radio, tuning))
        unit = book.inventory.radios[radio]
        free = 1.0 - centre(hearing.interference_at(book, radio))
        for name in hearing.heard_neighbours(book, unit, frozenset({unit.node})):
            share = hearing.neighbour_share(unit, book.site.neighbours[name])
            free -= share * strangers.least_share(book, name, self._senders)
        return max(free, 1e-3)

    @cached_property
    def _senders(self) -> int:
        """How many of the site may send on one channel at once."""
        return len(self.book.inventory.radios) + sum(everyone.active(self.book, name) for name in self.book.site.places)

    def _hears_on(self, first: str, one: Tuning, second: str, two: Tuning) -> bool:
        """Whether two radios hear each other on these channels."""
        return bool(centre(hearing.hears(self.tuned((first, one), (second, two)), first, second)))

    def _surely_hears(self, first: str, second: str) -> bool:
        """Whether two radios hear each other on every channel they may share."""
        mine, other = (self.book.inventory.radios[name] for name in (first, second))
        if mine.node == other.node:
            return True
        pairs = [
            (one, two)
            for one in self.tunings[first]
            for two in self.tunings[second]
            if one.channel == two.channel or None in (one.channel, two.channel)
        ]
        return bool(pairs) and all(self.hears_on(first, one, second, two) for one, two in pairs)

    def _best_hop_mbps(self, hop: Hop, direction: str, transport: str = "tcp") -> float:
        if not hop.air:
            return self.hop_mbps(hop, direction, None)
        tunings = self.tunings[str(hop.parent_radio)]
        return max(self.hop_mbps(hop, direction, tuning, transport) for tuning in tunings)

    def _best_last_mbps(self, place: str, radio: str, direction: str, transport: str = "tcp") -> float:
        return max(self.last_mbps(place, radio, direction, tuning, transport) for tuning in self.tunings[radio])

    def _best_free(self, radio: str) -> float:
        return max(self.free(radio, tuning) for tuning in self.tunings[radio])

    def _line(self, direction: str) -> float:
        return _known(routes.line_mbps(self.book, direction).value)

    def joined(self, place: str, root_of: Mapping[str, str], tuned: Mapping[str, Tuning]) -> tuple[str, ...]:
        """Radios the place may join with the channels decided so far: at least those, maybe more."""
        near = [name for name in self.near[place] if name in root_of]
        return self.joined_on(place, tuple((name, root_of[name], tuned.get(root_of[name])) for name in near))

    def _joined_on(self, place: str, decided: tuple[tuple[str, str, Tuning | None], ...]) -> tuple[str, ...]:
        if all(tuning is not None for _, _, tuning in decided):
            own = tuple((name, self.own(name, root, tuning)) for name, root, tuning in decided if tuning is not None)
            return tuple(name for name in [self.joined_with(place, own)] if name)
        possible = {
            name: [self.own(name, root, each) for each in ([tuning] if tuning else self.space.tunings[root])]
            for name, root, tuning in decided
        }
        return self._may_join(place, possible)

    def own(self, radio: str, root: str, tuning: Tuning) -> Tuning:
        """The channel of a radio where the one that sets it is on this."""
        return tuning if radio == root else follow(self.book.inventory.radios[radio], tuning)

    def _joined_with(self, place: str, tunings: tuple[tuple[str, Tuning], ...]) -> str:
        """The radio joined on these channels, as association picks it; empty where none holds."""
        heard = [(name, *self.heard(place, name, tuning)) for name, tuning in tunings]
        strongest = max((min(signal, joins.GREAT_SNR_DB) for _, signal, _ in heard), default=-INFINITE)
        alike = [
            (round(rate, 1) * 1e3 + round(signal, 1), name)
            for name, signal, rate in heard
            if signal > -INFINITE and min(signal, joins.GREAT_SNR_DB) >= strongest - joins.SIMILAR_DB
        ]
        return max(alike, key=lambda entry: entry[0])[1] if alike else ""

    def _heard(self, place: str, name: str, tuning: Tuning) -> tuple[float, float]:
        """Signal over noise and rate of a radio at a place; minus infinity where its client cannot join or hold it."""
        book = self.tuned((name, tuning))
        if not joins.joining_of(book, place, name).networks:
            return -INFINITE, -INFINITE
        link = links.to_place(place, name)
        holds = receiving.holds(book, link)
        level, rate = links.level_dbm(book, link, "down"), rates.phy_rate_mbps(book, link, "down")
        if holds is None or not level.known or not rate.known or not bool(centre(holds)):
            return -INFINITE, -INFINITE
        return centre(level.raw) - joins.NOISE_DBM[book.inventory.radios[name].band], centre(rate.raw)

    def calls_on_line(self, direction: str) -> float:
        """Share of the internet line the calls take that are surely made over it."""
        each = float(catalogue("ranges")["uses"]["calls"][f"{direction}_mbps"])
        calls = sum(
            entry.calls
            for name, entry in self.book.site.places.items()
            if entry.to == "internet" and self.joins.get(name)
        )
        return min(calls * each / self.line[direction], 1.0)

    def _may_join(self, place: str, possible: Mapping[str, Sequence[Tuning]]) -> tuple[str, ...]:
        """Radios the place's client joins on some choice of these channels (association weighs level and rate): at
        least these, maybe more; empty where none holds."""
        live = {}
        for name, tunings in possible.items():
            heard = [self.heard(place, name, tuning) for tuning in tunings]
            if any(signal > -INFINITE for signal, _ in heard):
                live[name] = [(min(signal, joins.GREAT_SNR_DB), rate) for signal, rate in heard]
        strongest = max((max(signal for signal, _ in found) for found in live.values()), default=0.0)
        surely = [
            min(rate for _, rate in found)
            for found in live.values()
            if min(signal for signal, _ in found) >= strongest - joins.SIMILAR_DB
        ]
        weakest_best = max((min(signal for signal, _ in found) for found in live.values()), default=-INFINITE)
        return tuple(
            sorted(
                name
                for name, found in live.items()
                if max(signal for signal, _ in found) >= weakest_best - joins.SIMILAR_DB
                and max(rate for _, rate in found) >= max(surely, default=0.0) - 0.2
            )
        )


def _known(value: object) -> float:
    return float(value.centre) if isinstance(value, Known) else INFINITE


def _flows(book: Book, asks: tuple[Ask, ...]) -> tuple[Flow, ...]:
    """What is asked for, the most at each place and direction; alone and together apart."""
    most: dict[tuple[str, str, bool], float] = {}
    for ask in asks:
        key = (ask.place, ask.direction, ask.when == "everyone")
        most[key] = max(most.get(key, 0.0), ask.mbps)
    return tuple(
        Flow(place, direction, everyone.active(book, place), mbps, together)
        for (place, direction, together), mbps in sorted(most.items())
    )


__all__ = ["INFINITE", "Figures", "Flow"]
