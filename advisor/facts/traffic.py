"""The ways of traffic as links that share air, wires and the internet line."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import links, routes
from advisor.facts.book import Book
from advisor.facts.frames import LEAST_MBPS
from advisor.facts.gathering import AirLeg, Gathering
from advisor.network.air import NOBODY


def add_way(
    together: Gathering, flow: int, way: routes.Route, direction: str, transport: str, clients: int, here: Any
) -> None:
    """The legs of one way of a flow, in the cases `here`, in the order its data takes them."""
    book, size = together.book, together.size
    before = NOBODY
    for leg in way.legs if direction == "up" else tuple(reversed(way.legs)):
        goodput = np.maximum(np.broadcast_to(np.asarray(leg.goodput.raw, dtype=float), (size,)), LEAST_MBPS)
        if leg.cell is None:
            together.take(f"{leg.what.key},dir={leg.direction}", flow, np.where(here, clients / goodput, 0.0))
            before = NOBODY
            continue
        if leg is way.legs[0]:
            goodput = goodput * routes.quiet_share(book, leg.cell, leg.what.ids[0])
        sender, receiver = routes.ends_of(book, leg)
        heard = routes.column_shares(book, leg.cell)
        told = AirLeg(link_of(book, leg), leg.cell, leg.direction, transport, sender, receiver, goodput, heard)
        before = together.add_leg(flow, told, clients, here, before=before)
    if way.line is not None:
        together.take(f"line,dir={direction}", flow, np.where(here, clients / float(way.line.raw), 0.0))


def disturbed(book: Book, resource: str) -> Any:
    """Share of a resource that is not for its senders: of a cell's air, interference and beacons of other cells."""
    return routes.disturbed_at(book, resource.removeprefix("domain=")) if resource.startswith("domain=") else 0.0


def link_of(book: Book, leg: routes.Leg) -> links.Link:
    """The link a leg runs over."""
    if leg.what.kind == "hop":
        hop = book.hops[leg.what.ids[0]]
        return links.to_radio(str(hop.radio), str(hop.parent_radio))
    return links.to_place(*leg.what.ids)
