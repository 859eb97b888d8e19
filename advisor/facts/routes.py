"""The way of a place's traffic: the last link, the hops, the wires, the internet line, and the resources they take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from advisor.facts import blocking, hearing, joins, links, mac_use, rates, strangers
from advisor.facts.book import Book
from advisor.facts.catalogue import part
from advisor.network.contention import channel_overlap
from advisor.network.graph import Hop, between
from advisor.network.inventory import RadioUnit
from advisor.physics.airtime import beacon_share
from advisor.subjects import Subject
from advisor.trace import Fact, derive, given, unknown
from advisor.values import CENTRE, Cases


@dataclass(frozen=True)
class Leg:
    """One link of a route: what carries it, in which direction of that link, and its goodput alone."""

    what: Subject
    """The hop, or the (place, radio) of the last link."""
    cell: str | None
    """Name of the cell whose air it takes; None for a wire."""
    direction: str
    goodput: Fact


@dataclass(frozen=True)
class Route:
    """All legs between a place and where its traffic goes, with the internet line where it goes there."""

    legs: tuple[Leg, ...]
    line: Fact | None
    missing: tuple[str, ...] = ()


def hop_goodput(book: Book, hop: Hop, direction: str, transport: str) -> Fact:
    """Goodput of a hop alone on a silent channel, or of its wire."""
    if hop.air and hop.radio is not None and hop.parent_radio is not None:
        return rates.goodput_mbps(book, links.to_radio(hop.radio, hop.parent_radio), direction, transport)
    return derive(
        f"wire_goodput_mbps[hop={hop.node}]",
        rates.wire_goodput,
        speed_mbps=rates.wire_speed(book, hop.node, hop.parent),
    )


def line_node(book: Book) -> str | None:
    """The node at the internet line."""
    if book.site.internet.at is not None:
        return book.site.internet.at
    gateways = [name for name, node in sorted(book.site.nodes.items()) if node.role == "gateway"]
    return gateways[0] if gateways else None


def line_mbps(book: Book, direction: str) -> Fact:
    """What the internet line gives in one direction."""
    value = book.site.internet.down_mbps if direction == "down" else book.site.internet.up_mbps
    path = f"internet.{direction}_mbps"
    if value is None:
        return unknown(path, "Mb/s", f"what the internet line delivers ({path})")
    return given(path, "Mb/s", value, book.source.where(path))


def route(book: Book, place: str, radio: str, direction: str, transport: str = "tcp") -> Route:
    """The route of a place joined to a radio, for traffic in one direction (down: towards the client)."""
    return book.once(
        ("route", place, radio, direction, transport), lambda: _route(book, place, radio, direction, transport)
    )


def _route(book: Book, place: str, radio: str, direction: str, transport: str) -> Route:
    entry = book.site.places[place]
    last = Leg(
        Subject("place-radio", (place, radio)),
        radio,
        direction,
        rates.goodput_mbps(book, links.to_place(place, radio), direction, transport),
    )
    node = book.radios[radio].node
    target = line_node(book) if entry.to == "internet" else entry.to
    way = between(node, target, book.hops) if target is not None else None
    if way is None:
        stranded = node
        while stranded in book.hops:
            stranded = book.hops[stranded].parent
        return Route((last,), None, (f"how {stranded} reaches the rest of the site (nodes.{stranded}.uplink)",))
    up, down = way
    other = "up" if direction == "down" else "down"
    legs = [last]
    for hop, sense in [(hop, direction) for hop in up] + [(hop, other) for hop in reversed(down)]:
        legs.append(
            Leg(
                Subject("hop", (hop.node,)),
                hop.parent_radio if hop.air else None,
                sense,
                hop_goodput(book, hop, sense, transport),
            )
        )
    line = line_mbps(book, direction) if entry.to == "internet" else None
    missing = [reason for leg in legs if not leg.goodput.known for reason in leg.goodput.value.missing]  # type: ignore[union-attr]
    if line is not None and not line.known:
        missing += line.value.missing  # type: ignore[union-attr]
    return Route(tuple(legs), line, tuple(dict.fromkeys(missing)))


def slowest_leg(way: Route, size: int) -> Cases:
    """Goodput of the slowest leg of a route, in every case."""
    legs = [np.broadcast_to(np.asarray(leg.goodput.raw, dtype=float), (size,)) for leg in way.legs]
    slowest: Cases = np.min(legs, axis=0)
    return slowest


def row_shares(book: Book, cell: str) -> dict[str, Any]:
    """Share of every cell's busy time that blocks this cell: itself wholly, others as they are heard."""
    return _shares(book)[0][cell]


def column_shares(book: Book, cell: str) -> dict[str, Any]:
    """Cells whose air this cell's transmissions take, with the share that counts there."""
    return _shares(book)[1][cell]


def _shares(book: Book) -> tuple[dict[str, dict[str, Any]], dict[str, dict[str, Any]]]:
    """Rows and columns of who blocks whom."""

    def compute() -> tuple[dict[str, dict[str, Any]], dict[str, dict[str, Any]]]:
        rows: dict[str, dict[str, Any]] = {cell: {cell: 1.0} for cell in book.cells}
        columns: dict[str, dict[str, Any]] = {cell: {cell: 1.0} for cell in book.cells}
        for (mine, other), share in hearing.contending(book).items():
            rows[mine][other] = share
            columns[other][mine] = share
        return rows, columns

    return book.once("shares", compute)


@part("subjects domain")
def domains(book: Book) -> list[Subject]:
    """One subject for each contention domain."""
    return [Subject("domain", (name,)) for name in sorted({domain_of(book, cell) for cell in book.cells})]


def domain_of(book: Book, cell: str) -> str:
    """Name of the contention domain a cell belongs to: cells blocked by the very same cells are one domain, named
    after the first of them."""

    def compute() -> dict[str, str]:
        first: dict[frozenset[str], str] = {}
        return {name: first.setdefault(frozenset(row_shares(book, name)), name) for name in sorted(book.cells)}

    return book.once("domains", compute)[cell]


def quiet_share(book: Book, cell: str, place: str) -> Cases:
    """Of the air its cell leaves, the share a place leaves too."""
    return book.once(("quiet", cell, place), lambda: strangers.quiet_share(book, cell, place))


def busy_at(book: Book, cell: str, place: str | None = None) -> Any:
    return hearing.busy_fact(book, cell, place).raw


def disturbed_at(book: Book, cell: str) -> Any:
    """Share of a cell's air that is not for its senders: interference, and the beacons of other own cells it hears."""

    def compute() -> Any:
        free: Any = 1.0 - np.asarray(hearing.interference_at(book, cell))
        for other, share in row_shares(book, cell).items():
            if other != cell and blocking.collide(book, cell, other):
                radio = book.radios[other]
                if other not in speaking(book):
                    continue
                names = max(int(rates.names_announced(book, radio).raw), 1)
                free = free - np.asarray(share) * beacon_share(
                    band=radio.band, mac=mac_use.usual_mac(radio), names=names
                )
        return 1.0 - free

    return book.once(("disturbed", cell), compute)


def speaking(book: Book) -> frozenset[str]:
    """Serving radios that clients or nodes typically use; what others announce on their own is left out."""

    def compute() -> frozenset[str]:
        answers = [joins.association(book, place) for place in sorted(book.site.places)]
        joined = {answer.radios[answer.joined[CENTRE]] for answer in answers if answer.joined[CENTRE] >= 0}
        return frozenset(joined | {name for name, cell in book.cells.items() if len(cell.members) > 1})

    return book.once("speaking", compute)


def ends_of(book: Book, leg: Leg) -> tuple[str, str]:
    """Who transmits on a leg over the air and who receives: radios, or the clients at a place."""
    hop = book.hops.get(leg.what.ids[0]) if leg.what.kind == "hop" else None
    if hop is not None:
        upper, lower = str(hop.parent_radio), str(hop.radio)
    else:
        upper, lower = leg.what.ids[1], f"place={leg.what.ids[0]}"
    return (upper, lower) if leg.direction == "down" else (lower, upper)


def channel_known_apart(mine: RadioUnit, other: RadioUnit) -> bool | None:
    """True where two radios' channels do not overlap, False where they do, None where a channel is not known."""
    if mine.name == other.name:
        return False
    if mine.channel is None or other.channel is None:
        return None
    return channel_overlap(mine, other) == 0.0
