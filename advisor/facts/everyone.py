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
from advisor.facts.blocking import collide
from advisor.facts.book import Book
from advisor.facts.clashes import clash_share, equal_senders
from advisor.network.capacity import Shared, Sharing, domain_share, load_of
from advisor.network.contention import conflict_graph
from advisor.network.schedule import BestShare, best_factor
from advisor.trace import Assumed, Fact, Given
from advisor.values import CENTRE, Cases, constant

DEAD_MBPS = 0.05
"""A route with a leg under this does not hold: its clients get nothing and take no air."""


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
    problem: Sharing
    shared: Shared
    busy: Cases
    """Share of each resource other people take (resources × cases)."""
    left_out: dict[tuple[str, str], tuple[str, ...]]
    """Places whose traffic could not be followed, with what is missing."""

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
        load: Cases = load_of(self.problem, self.problem.demand_mbps) + self.busy + self.calls
        return load

    @cached_property
    def waited_for(self) -> dict[str, NDArray[np.bool_]]:
        """Per place, the resources its flows wait for in every case (resources × cases)."""
        found: dict[str, NDArray[np.bool_]] = {}
        problem = self.problem
        for use, (resource, flow) in enumerate(zip(problem.resource.tolist(), problem.flow.tolist(), strict=True)):
            place = self.flows[flow].place
            waits = found.setdefault(place, np.zeros(self.busy.shape, dtype=bool))
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

    @property
    def calls(self) -> Cases:
        return 1.0 - self.busy - self.problem.free


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


class _Uses:
    """Gathers what every flow takes of every resource, per client and Mb/s, and what calls take in all."""

    def __init__(self, size: int) -> None:
        self.size = size
        self.time: dict[tuple[str, int], Cases] = {}
        self.dead: list[Cases] = []
        self.own: dict[tuple[str, int], Cases] = {}
        self.calls: dict[str, Cases] = defaultdict(lambda: np.zeros(size))
        self.spoken: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))

    def add(self, resource: str, flow: int, time: Any, *, own: bool = True) -> None:
        """`own` where the flow waits for the resource when it is full: in the cases in which it takes this way."""
        key = (resource, flow)
        self.time[key] = self.time.get(key, np.zeros(self.size)) + time
        waits = np.broadcast_to(np.asarray(own and time > 0), (self.size,))
        self.own[key] = self.own.get(key, np.zeros(self.size, dtype=bool)) | waits

    def speak(self, resource: str, sender: str, share: float) -> None:
        """Note how much of a resource a sender takes at the centre when its flows get what they ask for."""
        self.spoken[resource][sender] += share


def _crowd(book: Book) -> Crowd:
    flows: list[Flow] = []
    left_out: dict[tuple[str, str], tuple[str, ...]] = {}
    uses = _Uses(book.draws.size)
    for place in sorted(book.site.places):
        for direction in ("down", "up"):
            missing = missing_inputs(book, place, direction)
            if missing:
                left_out[place, direction] = missing
                continue
            _add_calls(book, place, direction, uses)
            if active(book, place):
                _add_flow(book, uses, len(flows), place, direction)
                flows.append(Flow(place, direction, active(book, place), demand(book, place, direction)))
    return _solve(book, tuple(flows), uses, left_out)


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


def _add_flow(book: Book, uses: _Uses, flow: int, place: str, direction: str) -> None:
    """What one Mb/s to or from every active client of the place takes of each resource, in every case."""
    answer = joins.association(book, place)
    clients = active(book, place)
    holds = np.zeros(uses.size, dtype=bool)
    for index in sorted(set(answer.joined.tolist()) - {-1}):
        way = routes.route(book, place, answer.radios[index], direction)
        here = (answer.joined == index) & (slowest_leg(way, uses.size) >= DEAD_MBPS)
        holds |= here
        for leg in way.legs:
            goodput = np.broadcast_to(np.asarray(leg.goodput.raw, dtype=float), (uses.size,))
            time = np.where(here, clients / np.maximum(goodput, DEAD_MBPS), 0.0)
            if leg is way.legs[0] and leg.cell is not None:
                time = time / routes.quiet_share(book, leg.cell, place)
            if leg.cell is None:
                uses.add(f"{leg.what.key},dir={leg.direction}", flow, time)
            else:
                (speaker,) = routes.senders_of(book, [leg])
                wanted = float(time[CENTRE]) * float(demand(book, place, direction).raw)
                for cell, share in routes.column_shares(book, leg.cell).items():
                    uses.add(f"domain={cell}", flow, time * share, own=cell == leg.cell)
                    if collide(book, leg.cell, cell):
                        uses.speak(f"domain={cell}", speaker, wanted * float(np.ravel(share)[CENTRE]))
        if way.line is not None:
            uses.add(f"line,dir={direction}", flow, np.where(here, clients / float(way.line.raw), 0.0))
    uses.dead.append(~holds)


def slowest_leg(way: routes.Route, size: int) -> Cases:
    """Goodput of the slowest leg of a route, in every case."""
    legs = [np.broadcast_to(np.asarray(leg.goodput.raw, dtype=float), (size,)) for leg in way.legs]
    slowest: Cases = np.min(legs, axis=0)
    return slowest


def _add_calls(book: Book, place: str, direction: str, uses: _Uses) -> None:
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
                goodput = np.maximum(np.asarray(leg.goodput.raw, dtype=float), DEAD_MBPS)
                uses.calls[f"{leg.what.key},dir={leg.direction}"] += np.where(here, rate / goodput, 0.0)
                continue
            if leg.what.kind == "hop":
                hop = book.hops[leg.what.ids[0]]
                link = links.to_radio(str(hop.radio), str(hop.parent_radio))
            else:
                link = links.to_place(place, leg.cell)
            share = np.where(here, calls * rates.call_share(book, link, leg.direction), 0.0)
            for cell, weight in routes.column_shares(book, leg.cell).items():
                uses.calls[f"domain={cell}"] = uses.calls[f"domain={cell}"] + share * weight
        if way.line is not None:
            uses.calls[f"line,dir={direction}"] += np.where(here, rate / float(way.line.raw), 0.0)


def _solve(book: Book, flows: tuple[Flow, ...], uses: _Uses, left_out: dict[tuple[str, str], tuple[str, ...]]) -> Crowd:
    size = uses.size
    resources = tuple(sorted({resource for resource, _ in uses.time} | set(uses.calls)))
    number = {name: index for index, name in enumerate(resources)}
    entries = sorted((number[resource], flow) for resource, flow in uses.time)
    busy = np.zeros((len(resources), size))
    for name, index in number.items():
        if name.startswith("domain="):
            busy[index] = routes.busy_at(book, name.removeprefix("domain="))
    calls = np.array([uses.calls[name] for name in resources]).reshape(len(resources), size)
    flow_of = np.array([flow for _, flow in entries], dtype=np.int64)
    resource_of = np.array([resource for resource, _ in entries], dtype=np.int64)
    time = np.array([uses.time[resources[resource], flow] for resource, flow in entries]).reshape(len(entries), size)
    time = _with_clashes(book, resources, resource_of, time, uses)
    problem = Sharing(
        flow=flow_of,
        resource=resource_of,
        time_per_mbps=time,
        own=np.array([uses.own[resources[resource], flow] for resource, flow in entries], dtype=bool).reshape(
            time.shape
        ),
        free=np.maximum(1.0 - busy - calls, 1e-9),
        demand_mbps=np.array([np.full(size, float(flow.demand.raw)) for flow in flows]).reshape(len(flows), size),
        pace=np.ones((len(flows), size)),
        dead=np.array(uses.dead, dtype=bool).reshape(len(flows), size),
    )
    problem = replace(problem, pace=_pace(book, flows, resources, problem))
    return Crowd(flows, resources, problem, domain_share(problem), busy, left_out)


def _with_clashes(book: Book, resources: tuple[str, ...], resource_of: Any, time: Cases, uses: _Uses) -> Cases:
    """Air that several senders share loses some of its time to collisions, the more of them the more."""
    kept = [1.0 - np.asarray(clash_share(book, equal_senders(uses.spoken[name].values()))) for name in resources]
    rows = [row / kept[resource] for resource, row in zip(resource_of, time, strict=True)]
    return np.asarray(rows).reshape(time.shape)


def _pace(book: Book, flows: tuple[Flow, ...], resources: tuple[str, ...], problem: Sharing) -> Cases:
    """1 for equal chances. Where a node shares its air by time and that air is full, each of its clients gets a pace in
    proportion to the rate of its last link, the node's airtime staying what it is."""
    pace = problem.pace.copy()
    full = load_of(problem, problem.demand_mbps) > problem.free
    by_radio: dict[str, list[tuple[int, Cases]]] = defaultdict(list)
    for number, flow in enumerate(flows):
        answer = joins.association(book, flow.place)
        for index in sorted(set(answer.joined.tolist()) - {-1}) if flow.direction == "down" else ():
            name = answer.radios[index]
            if scheduling(book, name) == "airtime-fair" and f"domain={name}" in resources:
                goodput = rates.goodput_mbps(book, links.to_place(flow.place, name), "down", "tcp")
                here = (answer.joined == index) & full[resources.index(f"domain={name}")] & ~problem.dead[number]
                each = np.where(here, np.maximum(np.broadcast_to(goodput.raw, here.shape), DEAD_MBPS), np.nan)
                by_radio[name].append((number, each))
    for served in by_radio.values():
        per_mbps = 1.0 / np.array([each for _, each in served])
        present = np.isfinite(per_mbps)
        mean = np.where(present, per_mbps, 0.0).sum(axis=0) / np.maximum(present.sum(axis=0), 1)
        for (number, each), there in zip(served, present, strict=True):
            pace[number] = np.where(there, np.nan_to_num(each) * mean, pace[number])
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
