"""What else counts beside the speeds: growth, hops, the loss of a node, outages, calls, effort, cost; who leads."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.advice.causes import trouble_of
from advisor.advice.records import Axes, Candidate, Score, Versus
from advisor.advice.score import ENOUGH
from advisor.facts import everyone, joins, uses
from advisor.facts.book import Book
from advisor.facts.name_use import CALL_TRAFFIC
from advisor.facts.outages import returning
from advisor.facts.walks import course_of_walk
from advisor.network.graph import chain
from advisor.subjects import place as place_subject
from advisor.values import CENTRE, FIRST_DRAW, Cases, Known

WALK_DRAWS = 50
SUFFERS = 0.1
"""Share of the cases in which a call may suffer on a walk that is said to hold."""
ALIKE = 0.01
"""Worst shares that differ by less are alike."""


def axes(candidate: Candidate) -> Axes:
    """How a layout does on everything that is weighed beside the speeds."""
    book, layout = candidate.book, candidate.layout
    factor = everyone.at_best(book).factor[CENTRE] if everyone.crowd(book).flows else np.inf
    hops = [_air_hops(book, node) for node in _nodes_joined(book).values() if node]
    return Axes(
        best_factor=round(float(factor), 2) if np.isfinite(factor) else None,
        air_hops=max(hops, default=0),
        node_loss=_node_loss(book),
        calls=_calls(book),
        returns=returning(book),
        effort_min=layout.effort_min,
        cost=layout.cost,
    )


def _nodes_joined(book: Book) -> dict[str, str]:
    """By place, the node typically joined; empty where none."""
    found = {}
    for place in sorted(book.site.places):
        answer = joins.association(book, place)
        index = int(answer.joined[CENTRE])
        found[place] = book.inventory.radios[answer.radios[index]].node if index >= 0 else ""
    return found


def _air_hops(book: Book, node: str) -> int:
    return sum(hop.air for hop in chain(node, book.hops))


def _node_loss(book: Book) -> tuple[str, int]:
    """The node other than a gateway without which most places have nothing left to join, and how many."""
    alive: dict[str, list[set[str]]] = {}
    for place in sorted(book.site.places):
        answer = joins.association(book, place)
        if answer.joined[CENTRE] < 0:
            continue
        held = [book.inventory.radios[name].node for name in answer.radios if joins.holds_typically(book, place, name)]
        alive[place] = [{node, *(hop.parent for hop in chain(node, book.hops))} for node in held]
    worst = ("", 0)
    for node in sorted(book.site.nodes):
        if book.site.nodes[node].role != "gateway":
            lost = sum(all(node in way for way in ways) for ways in alive.values())
            if lost > worst[1]:
                worst = (node, lost)
    return worst


def _calls(book: Book) -> tuple[int, int] | None:
    places = [name for name, entry in sorted(book.site.places.items()) if entry.calls]
    if not places:
        return None
    return sum(call_holds(book, name) is True for name in places), len(places)


def call_holds(book: Book, place: str) -> bool | None:
    """Whether a call at a place typically holds; None where it is not known."""
    value = uses.holds_call(book, place_subject(place)).value
    return bool(np.ravel(value.raw)[CENTRE]) if isinstance(value, Known) else None


def walked(book: Book) -> tuple[int, int] | None:
    """Walks on which a call suffers in at most one case of ten, of those with calls."""
    names = [name for name, walk in sorted(book.site.walks.items()) if walk.traffic in CALL_TRAFFIC]
    if not names:
        return None
    return sum(trouble_of(course_of_walk(book, name, WALK_DRAWS)).any <= SUFFERS for name in names), len(names)


def leads(entries: Sequence[tuple[Score, Axes]]) -> list[tuple[str, ...]]:
    """For each layout the axes on which no other is better; none for one that another equals or beats on all (Pareto),
    and none named on which all are alike."""
    tables = [_figures(score, axis) for score, axis in entries]
    words = list(tables[0]) if tables else []
    best = {word: max(table[word] for table in tables) for word in words}
    telling = [word for word in words if any(table[word] < best[word] for table in tables)]
    return [
        () if any(_beats(other, table) for other in tables) else tuple(w for w in telling if table[w] == best[w])
        for table in tables
    ]


def _figures(score: Score, axis: Axes) -> dict[str, float]:
    """Every axis as a figure of which more is better."""
    found = {
        "needs met": float(score.met),
        "worst place": round(min(score.worst, ENOUGH), 2),
        "room to grow": axis.best_factor if axis.best_factor is not None else ENOUGH,
        "fewest hops": -float(axis.air_hops),
        "loss of a node": -float(axis.node_loss[1]),
        "calls": float(axis.calls[0]) if axis.calls else 0.0,
        "comes back by itself": float(axis.returns[0] - axis.returns[1]) if axis.returns else -np.inf,
        "least work": -axis.effort_min,
    }
    return found | ({"least cost": -axis.cost} if axis.cost is not None else {"least cost": -np.inf})


def _beats(other: dict[str, float], own: dict[str, float]) -> bool:
    return all(other[word] >= own[word] for word in own) and any(other[word] > own[word] for word in own)


def versus(first: Cases, other: Cases) -> Versus:
    """Draw by draw, how the second layout's worst share compares with the first's."""
    mine = np.minimum(other[FIRST_DRAW:], ENOUGH)
    theirs = np.minimum(first[FIRST_DRAW:], ENOUGH)
    wins = int(np.count_nonzero(mine > theirs + ALIKE))
    losses = int(np.count_nonzero(mine < theirs - ALIKE))
    return Versus(wins, len(mine) - wins - losses, losses)
