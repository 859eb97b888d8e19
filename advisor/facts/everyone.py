"""Everyone at once: all places ask for what they need, and share air, wires and the internet line.

*Likely* is contention as it happens; *at best* is what perfect timing could give.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.data import catalogue
from advisor.facts import joins, links, rates, routes
from advisor.facts.book import Book
from advisor.facts.frames import LEAST_MBPS
from advisor.facts.gathering import Gathering
from advisor.facts.traffic import add_way, disturbed, link_of
from advisor.network.capacity import Shared, Sharing, domain_share, load_of
from advisor.network.contention import conflict_graph
from advisor.network.schedule import BestShare, best_factor
from advisor.trace import Assumed, Fact, Given
from advisor.values import CENTRE, Cases, constant


@dataclass(frozen=True)
class Flow:
    """All active clients of one place in one direction."""

    place: str
    direction: str
    clients: int
    demand: Fact
    """What one client asks for."""


@dataclass(frozen=True)
class Crowd:
    """The sharing problem of the whole site and its likely answer."""

    flows: tuple[Flow, ...]
    resources: tuple[str, ...]
    shared: Shared
    disturbed: Cases
    """Share of each resource that interference and the beacons of other cells take (resources × cases)."""
    left_out: dict[tuple[str, str], tuple[str, ...]]
    """Places whose traffic could not be followed, with what is missing."""

    @property
    def problem(self) -> Sharing:
        """The problem with the time traffic really takes; neighbours' networks are flows behind the site's own."""
        return self.shared.problem

    def rate(self, place: str, direction: str) -> Cases | None:
        """What each active client of the place gets, in every case."""
        number = self._number.get((place, direction))
        if number is None:
            return None
        rate: Cases = self.shared.rates_mbps[number]
        return rate

    def dead(self, place: str, direction: str) -> Cases:
        """Cases in which the route of the place does not hold."""
        dead: Cases = self.problem.dead[self._number[place, direction]]
        return dead

    def stopped_by(self, place: str, direction: str) -> str | None:
        """The resource that stops the place's flow at the centre."""
        number = self._number.get((place, direction))
        stop = -1 if number is None else int(self.shared.stopped_by[number])
        return self.resources[stop] if stop >= 0 else None

    @cached_property
    def load(self) -> Cases:
        """Share of each resource in use when every flow has what it asks for, other people's share included."""
        load: Cases = load_of(self.problem, self.problem.demand_mbps) + 1.0 - self.problem.free
        return load

    @cached_property
    def others(self) -> Cases:
        """Share of each resource that other people want: neighbours' networks, interference, beacons."""
        own = np.arange(len(self.problem.demand_mbps))[:, None] < len(self.flows)
        wanted: Cases = load_of(self.problem, np.where(own, 0.0, self.problem.demand_mbps)) + self.disturbed
        return wanted

    @property
    def calls(self) -> Cases:
        """Share of each resource that calls take."""
        calls: Cases = np.maximum(1.0 - self.disturbed - self.problem.free, 0.0)
        return calls

    @cached_property
    def waited_for(self) -> dict[str, NDArray[np.bool_]]:
        """Per place, the resources its flows wait for in every case (resources × cases)."""
        found: dict[str, NDArray[np.bool_]] = {}
        problem = self.problem
        for use, (resource, flow) in enumerate(zip(problem.resource.tolist(), problem.flow.tolist(), strict=True)):
            if flow >= len(self.flows):
                continue
            place = self.flows[flow].place
            waits = found.setdefault(place, np.zeros(self.disturbed.shape, dtype=np.bool_))
            waits[resource] |= problem.own[use]
        return found

    @cached_property
    def _number(self) -> dict[tuple[str, str], int]:
        return {(flow.place, flow.direction): index for index, flow in enumerate(self.flows)}

    @cached_property
    def slack(self) -> tuple[tuple[str, float], ...]:
        """The fullest resources at the centre with the share left of each."""
        left = self.shared.left[:, CENTRE] if self.resources else np.zeros(0)
        tightest = sorted(
            zip(self.resources, left, strict=True), key=lambda entry: (round(float(entry[1]), 3), entry[0])
        )
        return tuple((name, round(float(share), 3)) for name, share in tightest[:5])


def demand(book: Book, place: str, direction: str) -> Fact:
    """What an active client of the place asks for: as given, else browsing."""
    entry = book.site.places[place]
    value = entry.down_mbps if direction == "down" else entry.up_mbps
    key = f"demand_mbps[place={place}, dir={direction}]"
    if value is not None:
        return Fact(key, "Mb/s", constant(value), Given(book.source.where(f"places.{place}.{direction}_mbps")))
    row = catalogue("ranges")["demand"][f"{direction}_mbps"]
    return Fact(
        key,
        "Mb/s",
        constant(float(row["value"])),
        Assumed(f"a client at {place} asks for {row['value']:g} Mb/s {direction}: browsing", row["source"]),
    )


def browsing_mbps(direction: str) -> float:
    """What a client asks for where the file does not say."""
    return float(catalogue("ranges")["demand"][f"{direction}_mbps"]["value"])


def active(book: Book, place: str) -> int:
    entry = book.site.places[place]
    return entry.count if entry.active is None else min(entry.active, entry.count)


def crowd(book: Book) -> Crowd:
    return book.once("crowd", lambda: _crowd(book))


def _crowd(book: Book) -> Crowd:
    flows: list[Flow] = []
    dead: list[Cases] = []
    left_out: dict[tuple[str, str], tuple[str, ...]] = {}
    together = Gathering(book)
    for place in sorted(book.site.places):
        for direction in ("down", "up"):
            missing = missing_inputs(book, place, direction)
            if missing:
                left_out[place, direction] = missing
                continue
            _add_calls(book, place, direction, together.calls)
            if active(book, place):
                dead.append(_add_flow(book, together, len(flows), place, direction))
                flows.append(Flow(place, direction, active(book, place), demand(book, place, direction)))
    asked = [np.full(book.draws.size, float(flow.demand.raw)) for flow in flows]
    resources, problem = together.problem(asked, dead, lambda name: disturbed(book, name))
    problem = replace(problem, pace=_pace(book, flows, resources, problem))
    lost = np.array([np.broadcast_to(disturbed(book, name), (book.draws.size,)) for name in resources])
    return Crowd(tuple(flows), resources, domain_share(problem), lost.reshape(problem.free.shape), left_out)


def missing_inputs(book: Book, place: str, direction: str) -> tuple[str, ...]:
    """What the site file would have to give before the traffic of a place can be followed in one direction."""
    answer = joins.association(book, place)
    if answer.missing:
        return answer.missing
    gaps = [
        gap
        for index in sorted(set(answer.joined.tolist()) - {-1})
        for gap in routes.route(book, place, answer.radios[index], direction).missing
    ]
    return tuple(dict.fromkeys(gaps))


def _add_flow(book: Book, together: Gathering, flow: int, place: str, direction: str) -> Cases:
    """Gather the ways a place's traffic takes; returns the cases in which none of them holds."""
    answer = joins.association(book, place)
    transport = book.site.places[place].transport
    dead = np.ones(book.draws.size, dtype=bool)
    for index in sorted(set(answer.joined.tolist()) - {-1}):
        way = routes.route(book, place, answer.radios[index], direction, transport)
        here = (answer.joined == index) & (routes.slowest_leg(way, book.draws.size) >= LEAST_MBPS)
        dead &= ~here
        add_way(together, flow, way, direction, transport, active(book, place), here)
    return dead


def _add_calls(book: Book, place: str, direction: str, taken: dict[str, Cases]) -> None:
    """What the calls made at a place take in one direction of every leg of its route, and of the internet line."""
    calls = book.site.places[place].calls
    if not calls:
        return
    rate = calls * float(catalogue("ranges")["uses"]["calls"][f"{direction}_mbps"])
    answer = joins.association(book, place)
    for index in sorted(set(answer.joined.tolist()) - {-1}):
        here = answer.joined == index
        way = routes.route(book, place, answer.radios[index], direction)
        for leg in way.legs:
            if leg.cell is None:
                goodput = np.maximum(np.asarray(leg.goodput.raw, dtype=float), LEAST_MBPS)
                taken[f"{leg.what.key},dir={leg.direction}"] += np.where(here, rate / goodput, 0.0)
                continue
            share = np.where(here, calls * rates.call_share(book, link_of(book, leg), leg.direction), 0.0)
            for cell, weight in routes.column_shares(book, leg.cell).items():
                taken[f"domain={cell}"] = taken[f"domain={cell}"] + share * weight
        if way.line is not None:
            taken[f"line,dir={direction}"] += np.where(here, rate / float(way.line.raw), 0.0)


def _pace(book: Book, flows: list[Flow], resources: tuple[str, ...], problem: Sharing) -> Cases:
    """1 for equal Mb/s among the clients of a node. Where it shares its air by time and that air is full, each of them
    gets a pace in proportion to the rate of its last link."""
    pace = problem.pace.copy()
    full = load_of(problem, problem.demand_mbps) > problem.free
    for number, flow in enumerate(flows):
        answer = joins.association(book, flow.place)
        for index in sorted(set(answer.joined.tolist()) - {-1}) if flow.direction == "down" else ():
            name = answer.radios[index]
            if scheduling(book, name) == "airtime-fair" and f"domain={name}" in resources:
                goodput = rates.goodput_mbps(book, links.to_place(flow.place, name), "down", "tcp")
                here = (answer.joined == index) & full[resources.index(f"domain={name}")] & ~problem.dead[number]
                each = np.maximum(np.broadcast_to(np.asarray(goodput.raw, dtype=float), here.shape), LEAST_MBPS)
                pace[number] = np.where(here, each, pace[number])
    return pace


def scheduling(book: Book, radio: str) -> str:
    """How a radio's node shares air among its clients: as declared, else as usual for its gear class."""
    unit = book.inventory.radios[radio]
    declared = book.site.nodes[unit.node].radios.get(unit.id)
    return str((declared.scheduling if declared else None) or book.inventory.gear(unit.node)["scheduling"])


@dataclass(frozen=True)
class AtBest:
    """The largest factor by which all demands could grow under perfect timing, in every case, and what binds it."""

    factor: Cases
    centre: BestShare


def at_best(book: Book) -> AtBest:
    """Perfect timing: time shares of sets of cells that may transmit together; wires and line as they are."""

    def compute() -> AtBest:
        shares = [_best_at(book, crowd(book), case) for case in range(book.draws.size)]
        return AtBest(np.array([min(share.factor, 1e6) for share in shares]), shares[CENTRE])

    return book.once("at_best", compute)


def _best_at(book: Book, everyone: Crowd, case: int) -> BestShare:
    from advisor.facts.hearing import contending

    def at(cases: Any) -> float:
        return float(np.broadcast_to(np.asarray(cases, dtype=float), (book.draws.size,))[case])

    own: dict[str, float] = defaultdict(float)
    wires: dict[str, float] = defaultdict(float)
    for number, flow in enumerate(everyone.flows):
        if everyone.problem.dead[number, case]:
            continue
        answer = joins.association(book, flow.place)
        way = routes.route(book, flow.place, answer.radios[int(answer.joined[case])], flow.direction)
        wanted = flow.clients * float(flow.demand.raw)
        for leg in way.legs:
            time = wanted / at(leg.goodput.raw)
            if leg.cell is None:
                wires[f"{leg.what.key},dir={leg.direction}"] += time
            else:
                own[leg.cell] += time
        if way.line is not None:
            wires[f"line,dir={flow.direction}"] += wanted / float(way.line.raw)
    load = {cell: time / max(1.0 - at(routes.busy_at(book, cell)), 1e-9) for cell, time in own.items()}
    near = {pair: at(share) for pair, share in contending(book).items() if set(pair) <= set(own)}
    best = best_factor(conflict_graph(sorted(own), near), load)
    for name, time in sorted(wires.items()):
        if time > 0 and 1.0 / time < best.factor:
            best = BestShare(1.0 / time, (name,), best.exact)
    return best
