"""The most a shared channel can carry, against Li et al. 2001, Jain et al. 2003 and another solver (see SOURCES.md)."""

from __future__ import annotations

from itertools import combinations, product
from pathlib import Path
from typing import Any

import networkx as nx
import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from advisor.network import schedule
from advisor.network.schedule import best_factor, clique_bound

CHECKS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "data" / "checks.yaml").read_text())


def named(prefix: str) -> list[Any]:
    return [pytest.param(check, id=check["name"]) for check in CHECKS if check["name"].startswith(prefix)]


def numbered(count: int) -> list[str]:
    return [f"cell{index:02d}" for index in range(count)]


def ring(count: int) -> tuple[nx.Graph[str], dict[str, float]]:
    names = numbered(count)
    graph: nx.Graph[str] = nx.Graph()
    graph.add_edges_from((names[index], names[(index + 1) % count]) for index in range(count))
    return graph, dict.fromkeys(names, 1.0)


@pytest.mark.parametrize("check", named("chain_"))
def test_chain_of_hops(check: dict[str, Any]) -> None:
    """One flow over a chain: hop i and hop j cannot be on the air together within the reach the row names."""
    hops, reach = check["inputs"]["hops"], int(check["inputs"]["interference"].partition("<=")[2])
    names = numbered(hops)
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(names)
    graph.add_edges_from((names[i], names[j]) for i, j in combinations(range(hops), 2) if j - i <= reach)
    share = best_factor(graph, dict.fromkeys(names, 1.0))
    assert share.exact
    assert share.factor == pytest.approx(check["expected"], abs=check["tolerance"]["abs"])


@pytest.mark.parametrize("check", named("conflict_graph_"))
def test_rings(check: dict[str, Any]) -> None:
    """Odd rings: cliques promise half of the time to each, time sharing gives less."""
    count = int(check["inputs"]["graph"].removeprefix("C"))
    expected, tolerance = check["expected"], check["tolerance"]["abs"]
    graph, load = ring(count)
    exact, bound = best_factor(graph, load), clique_bound(graph, load)
    assert exact.exact
    assert not bound.exact
    assert exact.factor == pytest.approx(expected["share_each"], abs=tolerance)
    assert count * exact.factor == pytest.approx(expected["independent_sets"], abs=count * tolerance)
    assert count * bound.factor == pytest.approx(expected["cliques"], abs=count * tolerance)


def test_the_clique_bound_is_a_quarter_too_high_on_a_pentagon() -> None:
    graph, load = ring(5)
    assert clique_bound(graph, load).factor / best_factor(graph, load).factor == pytest.approx(1.25, abs=1e-9)


def brute_force(graph: nx.Graph[str], load: dict[str, float]) -> float:
    """The same by another way: every independent set (not only the largest), another solver."""
    cells = sorted(cell for cell in graph if load[cell] > 0)
    sets = [
        group
        for size in range(1, len(cells) + 1)
        for group in combinations(cells, size)
        if not any(graph.has_edge(one, other) for one, other in combinations(group, 2))
    ]
    serves = np.array([[-1.0 if cell in group else 0.0 for group in sets] + [load[cell]] for cell in cells])
    time = np.array([[1.0] * len(sets) + [0.0]])
    answer = linprog(
        c=[0.0] * len(sets) + [-1.0], A_ub=np.vstack([serves, time]), b_ub=[0.0] * len(cells) + [1.0], method="highs-ds"
    )
    assert answer.status == 0
    return float(answer.x[-1])


@st.composite
def small_problems(draw: st.DrawFn) -> tuple[nx.Graph[str], dict[str, float]]:
    names = numbered(draw(st.integers(1, 7)))
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(names)
    pairs = list(combinations(names, 2))
    graph.add_edges_from(pair for pair in pairs if draw(st.booleans()))
    load = {name: draw(st.sampled_from([0.0, 0.05, 0.2, 0.5, 1.0, 3.0])) for name in names}
    load[names[0]] = 0.4
    return graph, load


@given(small_problems())
@settings(max_examples=80, deadline=None)
def test_equals_brute_force(problem: tuple[nx.Graph[str], dict[str, float]]) -> None:
    graph, load = problem
    share = best_factor(graph, load)
    assert share.exact
    assert share.factor == pytest.approx(brute_force(graph, load), rel=1e-6)
    busy = graph.subgraph([cell for cell in graph if load[cell] > 0])
    assert clique_bound(busy, load).factor >= share.factor * (1 - 1e-6)


@given(small_problems(), st.data())
@settings(max_examples=40, deadline=None)
def test_a_conflict_more_never_helps(problem: tuple[nx.Graph[str], dict[str, float]], data: st.DataObject) -> None:
    graph, load = problem
    before = best_factor(graph, load).factor
    missing = sorted(nx.complement(graph).edges)
    if missing:
        graph.add_edge(*data.draw(st.sampled_from(missing)))
    assert best_factor(graph, load).factor <= before * (1 + 1e-6)


def test_nobody_on_the_air() -> None:
    graph, load = ring(4)
    assert best_factor(graph, dict.fromkeys(load, 0.0)).factor == float("inf")
    assert best_factor(nx.Graph(), {}).factor == float("inf")


def test_separate_parts_do_not_wait_for_each_other() -> None:
    graph: nx.Graph[str] = nx.Graph([("a", "b"), ("c", "d")])
    share = best_factor(graph, {"a": 0.5, "b": 0.5, "c": 0.1, "d": 0.1})
    assert share.factor == pytest.approx(1.0)
    assert share.binding == ("a", "b")


def test_too_many_sets_fall_back_to_the_clique_bound_and_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(schedule, "MOST_SETS", 4)
    graph, load = ring(5)
    share = best_factor(graph, load)
    assert not share.exact
    assert share.factor == pytest.approx(0.5)
    graph.add_edges_from([("a", "b"), ("x", "y")])
    for first, last in product((0.1, 5.0), repeat=2):  # whether the part with the bound decides or another one
        assert not best_factor(graph, load | {"a": first, "b": first, "x": last, "y": last}).exact
