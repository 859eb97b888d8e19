"""What a link has left of its goodput beside neighbours' networks and interference, nobody else of the site active."""

from __future__ import annotations

import numpy as np

from advisor.facts import hearing, strangers
from advisor.facts.book import Book
from advisor.facts.frames import LEAST_MBPS
from advisor.facts.gathering import AirLeg, Gathering
from advisor.facts.links import Link
from advisor.network.air import NOBODY
from advisor.network.capacity import grow_together
from advisor.values import Cases

ROUNDS = 4
"""Steps in which the goodput of a silent channel is found; a thousandth is left of the error then."""


def beside_neighbours(book: Book, link: Link, direction: str, goodput: Cases) -> Cases:
    """TCP goodput of a link that sends all it can while its neighbours do what they do."""
    together, size = Gathering(book, frozenset({link.upper})), book.draws.size
    lower = f"place={link.lower}" if link.lower_kind == "place" else link.lower
    sender, receiver = (link.upper, lower) if direction == "down" else (lower, link.upper)
    left = goodput * (strangers.quiet_share(book, link.upper, link.lower) if link.lower_kind == "place" else 1.0)
    leg = AirLeg(link, link.upper, direction, "tcp", sender, receiver, left, {link.upper: 1.0})
    always = np.ones(size, dtype=bool)
    together.add_leg(0, leg, 1, always, before=NOBODY)
    taken = hearing.interference_at(book, link.upper)
    _, problem = together.problem([np.ones(size)], [~always], lambda name: taken)
    found: Cases = grow_together(problem).min(axis=0)
    return found


def in_silence(book: Book, link: Link, direction: str, measured: Cases) -> Cases:
    """The goodput of the silent channel that gives what was measured beside the neighbours."""
    wanted = np.maximum(np.broadcast_to(np.asarray(measured, dtype=float), (book.draws.size,)), LEAST_MBPS)
    silent = wanted
    for _ in range(ROUNDS):
        silent = silent * wanted / np.maximum(beside_neighbours(book, link, direction, silent), LEAST_MBPS / 10.0)
    return np.where(np.asarray(measured) > 0, silent, 0.0)
