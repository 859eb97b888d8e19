"""The most a shared channel can carry if every transmission were timed perfectly.

Cells are the vertices of a conflict graph (Jain, Padhye, Padmanabhan, Qiu: Impact of interference on multi-hop wireless
network performance, MobiCom 2003). A set of cells may transmit together when no two conflict. The exact answer shares
time among all such maximal independent sets; it is found by a linear program. Where there are too many of them the
bound from cliques is used, which can be too high: by a quarter on a ring of five.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import networkx as nx


MOST_SETS = 2000
"""Independent sets the exact program takes; beyond, the clique bound is used."""


@dataclass(frozen=True, slots=True)
class BestShare:
    """The largest factor by which all loads can be multiplied, what binds it, and whether it is exact."""

    factor: float
    binding: tuple[str, ...]
    exact: bool


def best_factor(graph: nx.Graph[str], load: Mapping[str, float]) -> BestShare:
    """The largest t for which every cell can be on the air for t times its load (share of time, no unit).

    Cells without load need no time. With no load at all the factor is infinite.
    """
    import networkx as nx

    best = BestShare(float("inf"), (), True)
    busy = graph.subgraph([cell for cell in graph if load.get(cell, 0.0) > 0.0])
    for component in sorted(nx.connected_components(busy), key=min):
        part = busy.subgraph(component)
        share = _component(part, load)
        if share.factor < best.factor:
            best = BestShare(share.factor, share.binding, best.exact and share.exact)
        elif not share.exact:
            best = BestShare(best.factor, best.binding, False)
    return best


def clique_bound(graph: nx.Graph[str], load: Mapping[str, float]) -> BestShare:
    """The upper bound from cliques: the cells of a clique must take turns."""
    import networkx as nx

    worst = max(
        (sorted(clique) for clique in nx.find_cliques(graph)),
        key=lambda clique: (sum(load[cell] for cell in clique), clique),
    )
    return BestShare(1.0 / sum(load[cell] for cell in worst), tuple(worst), False)


@contextmanager
def silent_stdout() -> Iterator[None]:
    """Keep what a library prints past Python out of the results: some builds of the solver greet on stdout."""
    try:
        kept = os.dup(1)
    except OSError:  # no stdout at all
        yield
        return
    _flush()
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 1)
    try:
        yield
    finally:
        _flush()
        os.dup2(kept, 1)
        os.close(kept)
        os.close(null)


def _flush() -> None:
    """Empty Python's and the C library's buffers of stdout."""
    sys.stdout.flush()
    with suppress(OSError, AttributeError, TypeError):
        ctypes.CDLL(None).fflush(None)


def _component(graph: nx.Graph[str], load: Mapping[str, float]) -> BestShare:
    import networkx as nx

    bound = clique_bound(graph, load)
    if len(bound.binding) == len(graph):
        return BestShare(bound.factor, bound.binding, True)
    sets = [frozenset(group) for group in islice(nx.find_cliques(nx.complement(graph)), MOST_SETS + 1)]
    if len(sets) > MOST_SETS:
        return bound
    factor = _time_sharing(sorted(graph), sorted(sets, key=sorted), load)
    return BestShare(factor, bound.binding if factor >= bound.factor * (1 - 1e-9) else tuple(sorted(graph)), True)


def _time_sharing(cells: list[str], sets: list[frozenset[str]], load: Mapping[str, float]) -> float:
    """Maximise t with time shares of the independent sets that sum to one and give every cell t times its load."""
    import highspy
    import numpy as np

    with silent_stdout():
        solver: Any = highspy.Highs()  # type: ignore[no-untyped-call]
        solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    infinite = highspy.kHighsInf
    t = len(sets)
    solver.addVars(t + 1, np.zeros(t + 1), np.full(t + 1, infinite))
    solver.changeColCost(t, -1.0)
    solver.addRow(-infinite, 1.0, t, np.arange(t, dtype=np.int32), np.ones(t))
    for cell in cells:
        serving = [index for index, group in enumerate(sets) if cell in group]
        columns = np.array([*serving, t], dtype=np.int32)
        values = np.array([1.0] * len(serving) + [-load[cell]])
        solver.addRow(0.0, infinite, len(columns), columns, values)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        raise ArithmeticError("the time-sharing program has no optimum")
    return float(solver.getSolution().col_value[t])
