"""Figures of single links and cells on every channel they may have, the best of them, for bounds on whole layouts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from advisor.advice.choices import Space, centre, follow, present_tuning
from advisor.advice.records import Ask
from advisor.data import catalogue
from advisor.facts import everyone, hearing, joins, links, rates, receiving, routes
from advisor.facts.book import Book, Tuning
from advisor.facts.reach import reachable
from advisor.network.graph import Hop
from advisor.values import Known

INFINITE = float("inf")


@dataclass(frozen=True)
class Flow:
    """All active clients of a place in one direction, and what is asked for each of them."""

    place: str
    direction: str
    clients: int
    mbps: float
    together: bool
    """False where it is asked for with nobody else active."""


class Figures:
    """What single links carry and cells leave free, at typical figures, for the channels they may have."""

    def __init__(self, book: Book, space: Space, asks: tuple[Ask, ...]) -> None:
        self.book, self.space = book, space
        self.flows = _flows(book, asks)
        self.tunings = {name: self._possible(name) for name in book.inventory.radios}
        self.tuned = lru_cache(maxsize=None)(self._tuned)
        self.hop_mbps = lru_cache(maxsize=None)(self._hop_mbps)
        self.last_mbps = lru_cache(maxsize=None)(self._last_mbps)
        self.free = lru_cache(maxsize=None)(self._free)
        self.surely_hears = lru_cache(maxsize=None)(self._surely_hears)
        self.best_hop_mbps = lru_cache(maxsize=None)(self._best_hop_mbps)
        self.best_last_mbps = lru_cache(maxsize=None)(self._best_last_mbps)
        self.best_free = lru_cache(maxsize=None)(self._best_free)
        self.joins = {place: self._may_join(place) for place in sorted({flow.place for flow in self.flows})}
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

    def _hop_mbps(self, hop: Hop, direction: str, upper: Tuning | None) -> float:
        """Goodput of a hop on a silent channel, its parent's radio set so; infinite where it is not known."""
        if not hop.air:
            return _known(routes.hop_goodput(self.book, hop, direction, "tcp").value)
        assert upper is not None and hop.radio is not None and hop.parent_radio is not None
        lower = follow(self.book.inventory.radios[hop.radio], upper)
        book = self.tuned((hop.parent_radio, upper), (hop.radio, lower))
        link = links.to_radio(hop.radio, hop.parent_radio)
        return self._goodput(book, link, direction, hop.parent_radio)

    def _last_mbps(self, place: str, radio: str, direction: str, tuning: Tuning) -> float:
        return self._goodput(self.tuned((radio, tuning)), links.to_place(place, radio), direction, radio)

    def _goodput(self, book: Book, link: links.Link, direction: str, radio: str) -> float:
        measured = rates.measured_goodput(book, link, direction)
        if measured is not None:
            every = frozenset({*book.site.nodes, *book.site.places})
            busy = hearing.busy_share(book, book.inventory.radios[radio], every, "most")
            return centre(measured.raw) / max(1.0 - centre(busy.raw), 1e-3)
        return _known(rates.goodput_mbps(book, link, direction, "tcp").value)

    def _free(self, radio: str, tuning: Tuning) -> float:
        """Share of a cell's time other people leave, where its own node stands; more ends only take more."""
        unit = self.tuned((radio, tuning)).inventory.radios[radio]
        return 1.0 - centre(hearing.busy_share(self.book, unit, frozenset({unit.node}), f"busy[{radio}]").raw)

    def _surely_hears(self, first: str, second: str) -> bool:
        """Whether two radios hear each other on every channel they may share."""
        mine, other = (self.book.inventory.radios[name] for name in (first, second))
        if mine.node == other.node:
            return True
        pairs = [
            ((first, one), (second, two))
            for one in self.tunings[first]
            for two in self.tunings[second]
            if one.channel == two.channel or None in (one.channel, two.channel)
        ]
        return bool(pairs) and all(bool(centre(hearing.hears(self.tuned(*pair), first, second))) for pair in pairs)

    def _best_hop_mbps(self, hop: Hop, direction: str) -> float:
        if not hop.air:
            return self.hop_mbps(hop, direction, None)
        return max(self.hop_mbps(hop, direction, tuning) for tuning in self.tunings[str(hop.parent_radio)])

    def _best_last_mbps(self, place: str, radio: str, direction: str) -> float:
        return max(self.last_mbps(place, radio, direction, tuning) for tuning in self.tunings[radio])

    def _best_free(self, radio: str) -> float:
        return max(self.free(radio, tuning) for tuning in self.tunings[radio])

    def _line(self, direction: str) -> float:
        return _known(routes.line_mbps(self.book, direction).value)

    def calls_on_line(self, direction: str) -> float:
        """Share of the internet line the calls take that are surely made over it."""
        each = float(catalogue("ranges")["uses"]["calls"][f"{direction}_mbps"])
        calls = sum(
            entry.calls
            for name, entry in self.book.site.places.items()
            if entry.to == "internet" and self.joins.get(name)
        )
        return min(calls * each / self.line[direction], 1.0)

    def _may_join(self, place: str) -> tuple[str, ...]:
        """Radios the place's client joins on some choice of channels (association weighs level and rate): at least
        these, maybe more; empty where none holds."""
        scores: dict[str, list[tuple[float, float]]] = {}
        for name in reachable(self.book, place):
            for tuning in self.tunings[name]:
                book = self.tuned((name, tuning))
                if not joins.joining_of(book, place, name).networks:
                    continue
                link = links.to_place(place, name)
                holds = receiving.holds(book, link)
                level, rate = links.level_dbm(book, link, "down"), rates.phy_rate_mbps(book, link, "down")
                if holds is None or not level.known or not rate.known or not bool(centre(holds)):
                    scores.setdefault(name, []).append((-INFINITE, -INFINITE))
                    continue
                signal = centre(level.raw) - joins.NOISE_DBM[book.inventory.radios[name].band]
                scores.setdefault(name, []).append((min(signal, joins.GREAT_SNR_DB), centre(rate.raw)))
        live = {name: found for name, found in scores.items() if any(signal > -INFINITE for signal, _ in found)}
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
