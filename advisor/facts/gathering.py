"""Links gathered into one problem of sharing: what each takes of air, wires and the internet line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.facts import hearing
from advisor.facts.blocking import collide
from advisor.facts.book import Book
from advisor.facts.frames import frames
from advisor.facts.links import Link
from advisor.facts.strangers import stranger
from advisor.network.air import NOBODY, Air, Heard
from advisor.network.capacity import Sharing
from advisor.physics.shared_air import Timing
from advisor.trace import Assumed, Fact
from advisor.values import Cases, from_cases

MOST_MBPS = 1e6
"""More than this nobody can be given, whatever he asks for."""


@dataclass
class _Legs:
    """Rows of `Air`, one for each leg."""

    flow: list[int] = field(default_factory=list)
    sender: list[str] = field(default_factory=list)
    answerer: list[str] = field(default_factory=list)
    before: list[int] = field(default_factory=list)
    cell: list[dict[str, Cases]] = field(default_factory=list)
    """Cells it is heard in so that it can collide there, with its weight."""
    times: list[Cases] = field(default_factory=list)
    mbit: list[Cases] = field(default_factory=list)
    payload_us: list[Cases] = field(default_factory=list)
    packet: list[Cases] = field(default_factory=list)
    overhead_us: list[float] = field(default_factory=list)
    light: list[bool] = field(default_factory=list)
    home: list[str] = field(default_factory=list)
    """The cell it belongs to; none for a neighbour."""


@dataclass(frozen=True, slots=True)
class AirLeg:
    """A link over the air, as flows use it: whose air, who sends to whom, and where it is heard."""

    link: Link
    cell: str
    direction: str
    transport: str
    sender: str
    receiver: str
    goodput: Cases
    """Alone, in Mb/s, above 0."""
    heard: Mapping[str, Any]
    """Cells that hear it, with the share that counts there."""


class Gathering:
    """Collects ways, then makes the problem of them; `cells`: the only cells whose air is looked at, None for all."""

    def __init__(self, book: Book, cells: frozenset[str] | None = None) -> None:
        self.book, self.size, self.cells = book, book.draws.size, cells
        self.time: dict[tuple[str, int], Cases] = {}
        self.deafening: dict[tuple[str, int], Cases] = {}
        self.own: dict[tuple[str, int], Any] = {}
        self.calls: dict[str, Cases] = defaultdict(lambda: np.zeros(self.size))
        self.members: dict[str, int] = {}
        self.timing: dict[str, Timing] = {}
        self.legs = _Legs()

    def take(self, resource: str, flow: int, time: Any, *, own: bool = True, collides: bool = True) -> None:
        """`own` where the flow waits for the resource when it is full: in the cases in which it takes this way."""
        key = (resource, flow)
        self.time[key] = self.time.get(key, 0.0) + time
        self.own[key] = self.own.get(key, False) | np.broadcast_to(np.asarray(own and time > 0), (self.size,))
        if not collides:
            self.deafening[key] = self.deafening.get(key, 0.0) + time

    def add_leg(self, flow: int, leg: AirLeg, clients: int, here: Any, *, before: int, weight: float = 1.0) -> int:
        """One link over the air, in the cases `here`; returns its number. `before` is the leg it is fed by, `weight` 0
        for a client who takes nothing."""
        legs = self.legs
        members = clients if leg.sender.startswith("place=") else 1
        self.members.setdefault(leg.receiver, clients if leg.receiver.startswith("place=") else 1)
        self.members[leg.sender] = members
        full = frames(self.book, leg.link, leg.direction, leg.transport, leg.goodput)
        heard = {}
        for cell, share in leg.heard.items():
            if self.cells is not None and cell not in self.cells:
                continue
            collides = collide(self.book, leg.cell, cell)
            time = np.where(here, clients / leg.goodput, 0.0) * share * weight
            self.take(f"domain={cell}", flow, time, own=cell == leg.cell, collides=collides)
            self.timing.setdefault(cell, full.timing)
            if collides:
                heard[cell] = np.broadcast_to(np.asarray(share, dtype=float), (self.size,)) * (weight > 0)
        legs.flow.append(flow)
        legs.sender.append(leg.sender)
        legs.answerer.append(leg.receiver if leg.transport == "tcp" else "")
        legs.before.append(before)
        legs.cell.append(heard)
        legs.times.append(np.where(here, clients / members, 0.0))
        legs.mbit.append(full.mbit)
        legs.payload_us.append(full.payload_us)
        legs.packet.append(np.full(self.size, full.packet_mbit))
        legs.overhead_us.append(full.overhead_us)
        legs.light.append(weight == 0)
        legs.home.append(leg.cell)
        return len(legs.flow) - 1

    def add_strangers(self, first: int) -> list[str]:
        """Neighbours' networks heard in the cells gathered so far, as flows from number `first` on; their names."""
        book, legs = self.book, self.legs
        heard: dict[str, dict[str, float]] = {}
        for cell in sorted(self.timing):
            radio = book.radios[cell]
            for name in hearing.heard_neighbours(book, radio, book.cells[cell].nodes):
                heard.setdefault(name, {})[cell] = hearing.neighbour_share(radio, book.site.neighbours[name])
        for flow, (name, cells) in enumerate(sorted(heard.items()), first):
            one = stranger(book, name)
            for cell, share in cells.items():
                self.take(f"domain={cell}", flow, share * one.time)
            legs.flow.append(flow)
            legs.sender.append(f"neighbour={name}")
            legs.answerer.append("")
            legs.before.append(NOBODY)
            legs.cell.append({cell: np.full(self.size, share) for cell, share in cells.items()})
            legs.times.append(np.ones(self.size))
            legs.mbit.append(one.frame)
            legs.payload_us.append(one.payload_us)
            legs.packet.append(np.ones(self.size))
            legs.overhead_us.append(max(legs.overhead_us, default=0.0))
            legs.light.append(False)
            legs.home.append("")
            self.members[f"neighbour={name}"] = 1
        return sorted(heard)

    def problem(
        self, demand: list[Any], dead: list[Any], disturbed: Callable[[str], Any]
    ) -> tuple[tuple[str, ...], Sharing]:
        """The resources and the problem; `demand` and `dead` are the site's flows', neighbours are added behind.
        `disturbed` says which share of a resource is not for its senders."""
        own = len(demand)
        names = self.add_strangers(own)
        demand = demand + [stranger(self.book, name).packets_per_s for name in names]
        dead = dead + [np.zeros(self.size, dtype=bool) for _ in names]
        resources = tuple(sorted({resource for resource, _ in self.time} | set(self.calls)))
        number = {name: index for index, name in enumerate(resources)}
        keys = sorted(self.time, key=lambda key: (number[key[0]], key[1]))
        count = len(demand)

        def table(rows: Any, length: int, dtype: Any = float) -> Any:
            made = [np.broadcast_to(np.asarray(row, dtype=dtype), (self.size,)) for row in rows]
            return np.array(made, dtype=dtype).reshape(length, self.size)

        taken = table((1.0 - disturbed(name) - self.calls[name] for name in resources), len(resources))
        flows = np.array([flow for _, flow in keys], dtype=np.int64)
        problem = Sharing(
            flow=flows,
            resource=np.array([number[resource] for resource, _ in keys], dtype=np.int64),
            time_per_mbps=table((self.time[key] for key in keys), len(keys)),
            own=table((self.own[key] for key in keys), len(keys), bool),
            free=np.maximum(taken, 1e-9),
            demand_mbps=np.minimum(table(demand, count), MOST_MBPS),
            pace=np.ones((count, self.size)),
            dead=table(dead, count, bool),
            air=self._air(resources, table((self.deafening.get(key, 0.0) for key in keys), len(keys)), count, own),
        )
        return resources, problem

    def _air(self, resources: tuple[str, ...], deafening: Cases, flows: int, own: int) -> Air | None:
        legs = self.legs
        if not legs.flow:
            return None
        order = np.argsort(np.array(legs.flow), kind="stable")
        back = np.empty_like(order)
        back[order] = np.arange(len(order))
        senders = sorted({*legs.sender, *(name for name in legs.answerer if name)})
        number = {name: index for index, name in enumerate(senders)} | {"": NOBODY}
        heard = []
        for index, name in enumerate(resources):
            cell = name.removeprefix("domain=")
            there = [leg for leg in order.tolist() if cell in legs.cell[leg]] if name.startswith("domain=") else []
            if there:
                weights = np.array([legs.cell[leg][cell] for leg in there])
                mine = np.array([legs.home[leg] == cell for leg in there])
                heard.append(Heard(index, back[there], weights, mine, self.timing[cell]))
        before = np.array(legs.before)[order]
        return Air(
            flow=np.array(legs.flow)[order],
            sender=np.array([number[name] for name in legs.sender])[order],
            answerer=np.array([number[name] for name in legs.answerer])[order],
            before=np.where(before == NOBODY, NOBODY, back[before]),
            times=np.array(legs.times)[order],
            frame_mbit=np.array(legs.mbit)[order],
            payload_us=np.array(legs.payload_us)[order],
            packet_mbit=np.array(legs.packet)[order],
            overhead_us=np.array(legs.overhead_us)[order],
            members=np.array([float(self.members[name]) for name in senders]),
            heard=tuple(heard),
            deafening=deafening,
            is_air=np.array([name.startswith("domain=") for name in resources]),
            own_flows=np.arange(flows) < own,
            names=tuple(senders),
            doubt=self._doubt(resources),
            luck=np.array([self._luck(name) for name in senders]),
            light=np.array(legs.light)[order],
        )

    def _doubt(self, resources: tuple[str, ...]) -> Cases:
        """By how much air that several senders of data share may take longer or shorter than computed."""
        legs, rows = self.legs, []
        for name in resources:
            cell = name.removeprefix("domain=")
            who = {sender for sender, cells in zip(legs.sender, legs.cell, strict=True) if cell in cells}
            homes = [home for home, cells in zip(legs.home, legs.cell, strict=True) if cell in cells and home]
            doubt = np.asarray(doubt_fact(self.book, min(homes)).raw) if len(who) > 1 else np.ones(self.size)
            rows.append(doubt)
        return np.array(rows)

    def _luck(self, sender: str) -> Cases:
        """Turns of a sender against an equal share: chance, and what the model leaves out."""
        row = catalogue("ranges")["contention"]["turns"]
        return self.book.draws.between(row["low"], row["typical"], row["high"], "turns", sender, more_is_better=True)


def doubt_fact(book: Book, cell: str) -> Fact:
    """By how much shared air may take longer or shorter than computed; named after the first of the cells that share
    it, since all of them are wrong together."""
    row = catalogue("ranges")["contention"]["air"]
    drawn = book.draws.between(row["low"], row["typical"], row["high"], "contention", cell, more_is_better=False)
    by = Assumed(str(row["meaning"]), str(row["source"]))
    return Fact(f"air_doubt[radio={cell}]", "", from_cases(drawn, joint=True), by)
