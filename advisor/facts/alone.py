"""What gets through with nobody else of the site active: one client of a place, or all behind a hop together."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import blocking, routes, strangers
from advisor.facts.book import Book
from advisor.facts.gathering import Gathering, doubt_fact
from advisor.facts.traffic import add_way, disturbed
from advisor.network.capacity import Sharing, grow_together
from advisor.subjects import SITE, Subject
from advisor.trace import Fact, formula
from advisor.values import CENTRE, Cases


@formula(
    id="alone.alone_mbps",
    unit="Mb/s",
    expr="min over the legs of what its air gives, legs that share air taking turns and neighbours theirs; wires and "
    "the internet line at their speed",
    source="legs that share air take turns: harmonic sum (Li et al., MobiCom 2001); turns and collisions: Bianchi "
    "2000 extended (physics.shared_air)",
)
def alone_mbps(*, rates_mbps: Any) -> Any:
    """The smallest of the limits handed in."""
    return np.min(rates_mbps, axis=0)


def limits_alone(book: Book, place: str, radio: str, direction: str, transport: str) -> list[tuple[Subject, Cases]]:
    """For every resource on the way, what it lets through when nobody else is active, with whom to name for it."""
    way = routes.route(book, place, radio, direction, transport)
    together = Gathering(book, cells_of(way))
    add_way(together, 0, way, direction, transport, 1, np.ones(book.draws.size, dtype=bool))
    resources, problem = together.problem(
        [np.ones(book.draws.size)], [np.zeros(book.draws.size, dtype=bool)], lambda name: disturbed(book, name)
    )
    alive = routes.slowest_leg(way, book.draws.size) > 0
    limits = _grown(book, problem)
    return [
        (_named(book, way, name), np.where(alive, limit, 0.0))
        for name, limit in zip(resources, limits, strict=True)
        if np.any(np.isfinite(limit))
    ]


def cells_of(way: routes.Route) -> frozenset[str]:
    """The cells whose air a way takes."""
    return frozenset(leg.cell for leg in way.legs if leg.cell is not None)


def _grown(book: Book, problem: Sharing) -> Cases:
    """What flows may grow to; the same problem, as ways that an open uplink does not touch pose it, is solved once."""
    return book.lasting(("grown", problem.digest()), lambda: grow_together(problem))


def _named(book: Book, way: routes.Route, resource: str) -> Subject:
    """Whom to name for a resource: the line, the wire, or of the legs that share a cell's air the slowest."""
    if resource.startswith("line"):
        return SITE
    if not resource.startswith("domain="):
        return next(leg.what for leg in way.legs if f"{leg.what.key},dir={leg.direction}" == resource)
    row = routes.row_shares(book, resource.removeprefix("domain="))
    times = {
        leg.what: float(np.ravel(row[leg.cell])[CENTRE]) / max(float(np.ravel(leg.goodput.raw)[CENTRE]), 1e-9)
        for leg in way.legs
        if leg.cell in row
    }
    return max(times, key=lambda what: (times[what], what.key))


def shared_air(book: Book, way: routes.Route) -> list[Fact]:
    """What is assumed of the air the legs of a route share: neighbours' frames, radios of one box that deafen each
    other, channels not told."""
    found: dict[str, Fact] = {}
    for leg in way.legs:
        if leg.cell is None:
            continue
        row = routes.row_shares(book, leg.cell)
        terms = [blocking.untold_fact(book, leg.cell, other) for other in row]
        terms += [
            blocking.deafened_fact(book, leg.cell, str(other.cell)) for other in way.legs if str(other.cell) in row
        ]
        heard = [
            other for other in way.legs if str(other.cell) in row and blocking.collide(book, leg.cell, str(other.cell))
        ]
        if len(heard) > 1 or strangers.heard_in(book, leg.cell):
            terms.append(doubt_fact(book, min(str(other.cell) for other in heard)))
        terms += [strangers.rate_fact(book, name) for name in strangers.heard_in(book, leg.cell)]
        found.update({term.key: term for term in terms if term is not None})
    return list(found.values())


def limits_together(book: Book, ways: list[tuple[routes.Route, str, int, float]]) -> tuple[tuple[str, ...], Cases]:
    """Several ways at once, each (route, direction, clients, Mb/s of each client), scaled together: for every resource
    the sum of their Mb/s it lets through (resources × cases)."""
    together = Gathering(book, frozenset().union(*(cells_of(way) for way, *_ in ways)))
    everywhere = np.ones(book.draws.size, dtype=bool)
    for number, (way, direction, clients, _) in enumerate(ways):
        add_way(together, number, way, direction, "tcp", clients, everywhere)
    resources, problem = together.problem(
        [mbps for *_, mbps in ways], [~everywhere for _ in ways], lambda name: disturbed(book, name)
    )
    total = sum(clients * mbps for _, _, clients, mbps in ways)
    return resources, total * _grown(book, problem)
