"""How packets of a call wait at a site, by direction, while everyone gets what there is: air, wires, internet line."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.facts import everyone, joins, routes
from advisor.facts.book import Book
from advisor.facts.everyone import Crowd
from advisor.facts.frames import LEAST_MBPS, frames
from advisor.facts.routes import Leg
from advisor.facts.traffic import link_of
from advisor.network.graph import Hop, chain
from advisor.network.inventory import Setting
from advisor.physics.call_quality import codec, mos, r_factor
from advisor.physics.voice_wait import (
    AirQueue,
    Transfer,
    access_ms,
    contention,
    passing_ms,
    setting,
    standing_loss,
    standing_ms,
)
from advisor.subjects import SITE
from advisor.trace import Assumed
from advisor.values import CENTRE, Cases, Known

CALLER = "caller"
"""Who sends a call's packets up: a device of its own, beside those of the site's places."""
NEIGHBOURS = "neighbours"
PACKET_BYTES = 1500.0
"""IP packet of a transfer."""
SATISFIED = 1e-6
"""A flow that lacks no more than this part of what it asks for has what it asks for."""


@dataclass(frozen=True)
class Carried:
    """What is really on the air, the wires and the line when everyone has got what there is; all in every case."""

    air: dict[str, tuple[Transfer, ...]]
    """By cell, who has data on its air: the site's flows, then the neighbours."""
    calls: dict[str, Cases]
    """By cell, the share of time that calls take."""
    sent_mbps: dict[str, Cases]
    """By sender, what it sends in all."""
    standing: dict[str, Cases]
    """By sender, whether a transfer keeps a queue standing in front of it."""
    used: dict[str, Cases]
    """By wire and line, the share of time in use."""
    full: dict[str, Cases]
    """By wire and line, whether a transfer is stopped there."""


@dataclass(frozen=True)
class OneWay:
    """What a call's packets meet on their way in one direction, in every case."""

    delay_ms: Cases
    loss: Cases
    parts: tuple[tuple[str, Cases], ...]
    """The wait at each stretch, in words."""


@dataclass(frozen=True)
class Waits:
    """Both directions of a call through a radio."""

    down: OneWay
    up: OneWay

    @cached_property
    def mos(self) -> dict[str, Cases]:
        """Call quality of each direction, standing still with a signal that loses nothing."""
        return {"down": _mos(self.down), "up": _mos(self.up)}

    @property
    def worse(self) -> str:
        """The direction that fares worse at the centre."""
        return "up" if self.mos["up"][CENTRE] < self.mos["down"][CENTRE] else "down"

    @property
    def why(self) -> str:
        """Where most of the wait in the worse direction is, at the centre; empty where there is none."""
        way = self.up if self.worse == "up" else self.down
        most_ms, what = max((float(ms[CENTRE]), what) for what, ms in way.parts)
        return f"{what} adds {most_ms:.0f} ms" if most_ms >= 1.0 else ""


def waits_of(book: Book, radio: str, voice_class: bool) -> Waits:
    """Delay and loss of a call through a radio, to and from the next host outside, while everyone is active."""
    return book.once(("call waits", radio, voice_class), lambda: _waits_of(book, radio, voice_class))


def rides_voice_class(book: Book, kind: str, declared: str | None) -> bool:
    """Whether calls of a client kind ride in the voice class: as declared, else as usual for the kind."""
    if declared is not None:
        return declared == "voice"
    own = book.site.clients.get(kind)
    like = (own.like or "laptop") if own is not None else kind
    return str(catalogue("client-kinds")["kinds"][like]["traffic_class"]) == "voice"


def air_queue(book: Book, radio: str) -> Setting:
    """How packets wait in front of a radio's air: as declared, else as usual for the gear class."""
    unit = book.inventory.radios[radio]
    declared = book.site.nodes[unit.node].radios.get(unit.id)
    told = declared.air_queue if declared else None
    return book.inventory.gear_setting(unit.node, told, f"{unit.path}.air_queue", "air_queue")


def queues_assumed(book: Book, radios: Iterable[str]) -> tuple[str, ...]:
    """What is taken as usual of the queues that somebody keeps standing on the ways through these radios, in words."""
    load = carried(book)
    ways = [hop for radio in radios for hop in chain(book.radios[radio].node, book.hops)]
    senders = {*radios, *(name for hop in ways for name in (hop.radio, hop.parent_radio) if name is not None)}
    standing = sorted(name for name in senders if name in load.standing and load.standing[name][CENTRE])
    queues = {name: air_queue(book, name) for name in standing}
    return tuple(
        f"packets in front of the air of {name} wait as usual for its gear: {queue.value} (air_queue)"
        for name, queue in queues.items()
        if isinstance(queue.by, Assumed)
    )


def _waits_of(book: Book, radio: str, voice_class: bool) -> Waits:
    size = book.draws.size
    hops = chain(book.radios[radio].node, book.hops)
    last = f"the air around {radio}"
    ways = []
    for direction in ("down", "up"):
        parts: list[tuple[str, Any, Any]] = [("the internet line", *_line(book, direction))]
        for hop in reversed(hops):
            parts.append(_hop(book, hop, direction, voice_class))
        parts.append((last, *_air(book, radio, radio if direction == "down" else CALLER, voice_class)))
        delays = tuple((what, np.broadcast_to(np.asarray(ms, dtype=float), (size,))) for what, ms, _ in parts)
        kept = np.prod([np.broadcast_to(1.0 - np.asarray(lost), (size,)) for _, _, lost in parts], axis=0)
        ways.append(OneWay(np.sum([ms for _, ms in delays], axis=0), 1.0 - kept, delays))
    return Waits(*ways)


def _hop(book: Book, hop: Hop, direction: str, voice_class: bool) -> tuple[str, Any, Any]:
    if not hop.air or hop.parent_radio is None:
        return (f"the cable of {hop.node}", *_wire(book, hop, direction))
    sender = hop.parent_radio if direction == "down" else str(hop.radio)
    return (f"the hop of {hop.node}", *_air(book, hop.parent_radio, sender, voice_class))


def _air(book: Book, cell: str, sender: str, voice_class: bool) -> tuple[Any, Any]:
    """Wait and loss at one sender that speaks in a cell."""
    load = carried(book)
    none = np.zeros(book.draws.size, dtype=bool)
    standing = load.standing.get(sender, none)
    wait = access_ms(
        load.air.get(cell, _neighbours(book, cell)),
        sender,
        voice_class=voice_class,
        standing=standing,
        other=load.calls.get(cell, 0.0),
    )
    wait = wait + setting("packet_ms")
    if not standing.any():
        return wait, 0.0
    queue: AirQueue = air_queue(book, sender).value
    sent = load.sent_mbps[sender]
    queued = standing_ms(sent, queue, packet_bytes=PACKET_BYTES, voice_class=voice_class)
    lost = standing_loss(sent, queue, packet_bytes=PACKET_BYTES)
    return wait + np.where(standing, queued, 0.0), np.where(standing, lost, 0.0)


def _wire(book: Book, hop: Hop, direction: str) -> tuple[Any, Any]:
    load, name = carried(book), f"hop={hop.node},dir={direction}"
    if name not in load.used:
        return 0.0, 0.0
    speed = np.maximum(np.asarray(routes.hop_goodput(book, hop, direction, "tcp").raw, dtype=float), 1e-3)
    packet_ms = 8.0 * PACKET_BYTES / (1000.0 * speed)
    full_ms = contention("tcp_fill") * setting("wire_packets") * packet_ms
    return _behind(load, name, packet_ms, full_ms, setting("plain_lost"))


def _line(book: Book, direction: str) -> tuple[Any, Any]:
    """Half the round trip to the next host outside, and the queue on the line."""
    load, name, internet = carried(book), f"line,dir={direction}", book.site.internet
    quiet = internet.delay_ms / 2.0
    line = routes.line_mbps(book, direction)
    if name not in load.used or not line.known:
        return quiet, 0.0
    fair = book.get("fair_queue", SITE).value
    if isinstance(fair, Known) and fair.centre is True:
        full_ms, lost = setting("fair_line_ms"), 0.0
    else:
        told = internet.loaded_delay_ms
        full_ms = setting("line_full_ms") if told is None else max(told - internet.delay_ms, 0.0)
        lost = setting("plain_lost")
    wait, lost = _behind(load, name, 8.0 * PACKET_BYTES / (1000.0 * float(line.raw)), full_ms, lost)
    return quiet + wait, lost


def _behind(load: Carried, name: str, packet_ms: Any, full_ms: Any, lost: float) -> tuple[Any, Any]:
    """Wait and loss behind a wire or line: what stands there when a transfer is stopped by it, else what passes."""
    full = load.full[name]
    return np.where(full, full_ms, passing_ms(load.used[name], packet_ms, full_ms)), np.where(full, lost, 0.0)


def carried(book: Book) -> Carried:
    """What is on the air, the wires and the line, from the way everyone shares them."""
    return book.once("carried", lambda: _carried(book, everyone.crowd(book)))


def _carried(book: Book, crowd: Crowd) -> Carried:
    """The one place that reads the answer of sharing: each flow has the least of what it gets and what it asks for, and
    whoever lacks something is stopped by what stopped it, where its first packets on the way wait for that."""
    size = book.draws.size
    problem = crowd.problem
    rates_mbps = np.where(problem.dead, 0.0, np.minimum(crowd.shared.rates_mbps, problem.demand_mbps))
    used = np.asarray(crowd.disturbed + crowd.calls)
    shares = problem.time_per_mbps * rates_mbps[problem.flow]
    np.add.at(used, problem.resource, shares)
    theirs = crowd.disturbed + problem.per_resource(shares * (problem.flow >= len(crowd.flows))[:, None])
    stopped = _stopped(crowd, rates_mbps, used)
    number = {name: index for index, name in enumerate(crowd.resources)}
    share_of = {(int(r), int(f)): row for r, f, row in zip(problem.resource, problem.flow, shares, strict=True)}
    air: dict[str, dict[tuple[str, str], list[Transfer]]] = defaultdict(lambda: defaultdict(list))
    sent: dict[str, Any] = defaultdict(lambda: np.zeros(size))
    standing: dict[str, Any] = defaultdict(lambda: np.zeros(size, dtype=bool))
    full = {name: np.zeros(size, dtype=bool) for name in crowd.resources if not name.startswith("domain=")}
    for index, flow in enumerate(crowd.flows):
        for name, row in full.items():
            row |= stopped[index] == number[name]
        legs = list(_legs(book, flow))
        raw: dict[str, Any] = defaultdict(float)
        for leg, here in legs:
            for cell, weight in routes.column_shares(book, str(leg.cell)).items():
                raw[cell] = raw[cell] + here * weight / _goodput(leg)
        waits = np.zeros(size, dtype=bool)
        for leg, here in legs:
            sender, answerer = routes.ends_of(book, leg)
            sent[sender] += np.where(here, rates_mbps[index] * flow.clients, 0.0)
            turn_ms = np.where(here, _turn_ms(book, leg), 0.0)
            stands = np.zeros(size, dtype=bool)
            for cell, weight in routes.column_shares(book, str(leg.cell)).items():
                share = share_of.get((number.get(f"domain={cell}", -1), index))
                if share is None:
                    continue
                part = here * weight / _goodput(leg) / np.maximum(raw[cell], 1e-12)
                many = (flow.clients if end.startswith("place=") else 1 for end in (sender, answerer))
                air[cell][sender, answerer].append(Transfer(sender, answerer, share * part, turn_ms, *many))
                stands |= here & ~waits & (stopped[index] == number[f"domain={cell}"])
            standing[sender] |= stands
            waits |= stands
    cells = {name.removeprefix("domain=") for name in crowd.resources if name.startswith("domain=")}
    return Carried(
        air={
            cell: (
                *(_as_one(each) for each in air[cell].values()),
                *_neighbours(book, cell, theirs[number[f"domain={cell}"]]),
            )
            for cell in sorted(cells)
        },
        calls={cell: crowd.calls[number[f"domain={cell}"]] for cell in cells},
        sent_mbps=dict(sent),
        standing={name: row for name, row in standing.items() if row.any()},
        used={name: used[number[name]] for name in full},
        full=full,
    )


def _as_one(transfers: list[Transfer]) -> Transfer:
    """All that one sender has for one receiver: the shares together, turns as long as they are on average."""
    share = np.sum([np.asarray(each.share) for each in transfers], axis=0)
    turns = np.sum([np.asarray(each.share) * each.turn_ms for each in transfers], axis=0)
    first = transfers[0]
    return first._replace(share=share, turn_ms=turns / np.maximum(share, 1e-12))


def _stopped(crowd: Crowd, rates_mbps: Cases, used: Cases) -> Any:
    """The resource that stops each flow in every case, -1 where it has what it asks for (flows × cases): the one noted
    at the centre, else the fullest of those it waits for."""
    problem = crowd.problem
    lacks = ~problem.dead & (rates_mbps < problem.demand_mbps * (1.0 - SATISFIED))
    fullest, most = np.full(lacks.shape, -1), np.full(lacks.shape, -1.0)
    for resource, flow, own in zip(problem.resource, problem.flow, problem.own, strict=True):
        more = own & (used[resource] > most[flow])
        fullest[flow] = np.where(more, resource, fullest[flow])
        most[flow] = np.where(more, used[resource], most[flow])
    noted = np.asarray(crowd.shared.stopped_by)[:, None] if len(lacks) else np.zeros((0, 1), dtype=int)
    return np.where(lacks, np.where(noted >= 0, noted, fullest), -1)


def _legs(book: Book, flow: everyone.Flow) -> Iterator[tuple[Leg, Any]]:
    """Legs over the air of a flow in the order its data travels, with the cases in which it takes them."""
    answer = joins.association(book, flow.place)
    for index in sorted(set(answer.joined.tolist()) - {-1}):
        way = routes.route(
            book, flow.place, answer.radios[index], flow.direction, book.site.places[flow.place].transport
        )
        here = (answer.joined == index) & (routes.slowest_leg(way, book.draws.size) >= LEAST_MBPS)
        for leg in reversed(way.legs) if flow.direction == "down" else way.legs:
            if leg.cell is not None and here.any():
                yield leg, here


def _goodput(leg: Leg) -> Any:
    return np.maximum(np.asarray(leg.goodput.raw, dtype=float), LEAST_MBPS)


def _neighbours(book: Book, cell: str, taken: Any = None) -> tuple[Transfer, ...]:
    """Other people's networks as one sender more; where nobody of the site is on this air, as busy as they are."""
    share = routes.busy_at(book, cell) if taken is None else taken
    return (Transfer(NEIGHBOURS, NEIGHBOURS, share, setting("neighbour_turn_ms")),)


def _turn_ms(book: Book, leg: Leg) -> Any:
    """Length of a full turn on a leg, in every case: its frame with the silence, backoff and answer around it."""

    def compute() -> Any:
        full = frames(book, link_of(book, leg), leg.direction, "tcp", _goodput(leg))
        return (full.payload_us + full.overhead_us + setting("around_turn_us")) / 1000.0

    return book.lasting(("turn", link_of(book, leg), leg.direction), compute)


def _mos(way: OneWay) -> Cases:
    row = catalogue("walking")["calls"]
    spoken = codec(str(row["codec"]["value"]))
    late_ms = spoken.packet_ms + float(row["jitter_buffer_ms"]["value"])
    rating = r_factor(delay_ms=way.delay_ms + late_ms, loss_pct=100.0 * way.loss, ie=spoken.ie, bpl=spoken.bpl or 4.3)
    return np.asarray(mos(r=np.clip(rating, 0.0, 100.0)), dtype=float)
