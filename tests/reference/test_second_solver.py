"""The most a shared channel can carry, by a linear program written anew and solved by GLPK (see SOURCES.md).

The whole graph goes into one program: no split into parts, no cell left out for want of load, no short cut for cliques.
The graph library, which lists the independent sets, is the same; test_conflict_graphs.py lists them without it.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from itertools import combinations

import networkx as nx
import pytest
import swiglpk as glpk

from advisor.network.schedule import best_factor, clique_bound

SIZES = range(2, 10)
GRAPHS_PER_SIZE = 40

RELATIVE = 1e-7
"""Both solvers take a row or a reduced cost as met within 1e-7. With shares that sum to one and loads near one that may
move the factor about as much. Both end at a vertex, where the factor solves a system of at most ten rows, so what is
seen is rounding alone (below 1e-15); a factor further off than 1e-7 is another answer."""


@contextmanager
def time_sharing(graph: nx.Graph[str], load: Mapping[str, float]) -> Iterator[tuple[glpk.glp_prob, int]]:
    """Shares of time of all maximal independent sets, and the factor t in the last column: maximise t."""
    sets = list(nx.find_cliques(nx.complement(graph)))
    cells = list(graph)
    problem = glpk.glp_create_prob()
    try:
        glpk.glp_set_obj_dir(problem, glpk.GLP_MAX)
        t = glpk.glp_add_cols(problem, len(sets) + 1) + len(sets)
        for column in range(1, t + 1):
            glpk.glp_set_col_bnds(problem, column, glpk.GLP_LO, 0.0, 0.0)
        glpk.glp_set_obj_coef(problem, t, 1.0)
        whole = glpk.glp_add_rows(problem, 1 + len(cells))
        glpk.glp_set_row_bnds(problem, whole, glpk.GLP_UP, 0.0, 1.0)
        fill_row(problem, whole, dict.fromkeys(range(1, t), 1.0))
        for row, cell in enumerate(cells, whole + 1):
            glpk.glp_set_row_bnds(problem, row, glpk.GLP_LO, 0.0, 0.0)
            serving = {column: 1.0 for column, group in enumerate(sets, 1) if cell in group}
            fill_row(problem, row, serving | {t: -load[cell]})
        yield problem, t
    finally:
        glpk.glp_delete_prob(problem)


def fill_row(problem: glpk.glp_prob, row: int, entries: Mapping[int, float]) -> None:
    """GLPK counts from one and leaves the first place of its arrays unused."""
    columns, values = glpk.intArray(len(entries) + 1), glpk.doubleArray(len(entries) + 1)
    for place, (column, value) in enumerate(entries.items(), 1):
        columns[place], values[place] = column, value
    glpk.glp_set_mat_row(problem, row, len(entries), columns, values)


def solve(problem: glpk.glp_prob, method: Callable[[glpk.glp_prob, glpk.glp_smcp], int]) -> int:
    """Run one of GLPK's simplex methods without a word on the terminal; what it says about the outcome."""
    parameters = glpk.glp_smcp()
    glpk.glp_init_smcp(parameters)
    parameters.msg_lev = glpk.GLP_MSG_OFF
    assert method(problem, parameters) == 0
    return int(glpk.glp_get_status(problem))


def second_factor(graph: nx.Graph[str], load: Mapping[str, float], exactly: bool = False) -> float:
    """The largest t, in floating point or in fractions of whole numbers.

    For the latter GLPK first puts a fraction within 1e-10 in place of each number that is not whole; loads that are
    multiples of 1/1024 stay what they are.
    """
    with time_sharing(graph, load) as (problem, t):
        assert solve(problem, glpk.glp_exact if exactly else glpk.glp_simplex) == glpk.GLP_OPT
        return float(glpk.glp_get_col_prim(problem, t))


def random_problem(cells: int, number: int) -> tuple[nx.Graph[str], dict[str, float]]:
    """One of the graphs: density anywhere between none and nearly all, a quarter of the loads zero, never all of them.

    In such small graphs turns within cliques are nearly always the whole answer. So from five cells on every second
    graph holds an odd ring without chords (the smallest case where they are not), its cells about equally busy.
    """
    draw = random.Random(f"second solver {cells} {number}")
    names = [f"cell{index}" for index in range(cells)]
    density = draw.uniform(0.05, 0.95)
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(names)
    graph.add_edges_from(pair for pair in combinations(names, 2) if draw.random() < density)
    load = {name: draw.choice([0.0, 1.0, 1.0, draw.randrange(10, 2049) / 1024]) for name in names}
    load[draw.choice(names)] = draw.randrange(100, 1025) / 1024
    if cells >= 5 and number % 2:
        ring = draw.sample(names, draw.randrange(5, cells + 1, 2))
        graph.remove_edges_from(combinations(ring, 2))
        graph.add_edges_from(zip(ring, [*ring[1:], ring[0]], strict=True))
        load |= {name: draw.randrange(900, 1150) / 1024 for name in ring}
    return graph, load


PROBLEMS = {(cells, number): random_problem(cells, number) for cells in SIZES for number in range(GRAPHS_PER_SIZE)}


@pytest.mark.parametrize("cells", SIZES)
@pytest.mark.parametrize("exactly", [False, True], ids=["floating point", "fractions"])
def test_both_solvers_find_the_same_factor(cells: int, exactly: bool) -> None:
    for number in range(GRAPHS_PER_SIZE):
        graph, load = PROBLEMS[cells, number]
        share = best_factor(graph, load)
        assert share.exact
        second = second_factor(graph, load, exactly)
        assert share.factor == pytest.approx(second, rel=RELATIVE, abs=0.0), (cells, number)


def test_the_problems_are_of_all_kinds() -> None:
    """Enough graphs in parts, with idle cells, thin and dense, and where turns within cliques are not the answer."""
    problems = list(PROBLEMS.values())
    assert len(problems) >= 200
    assert sum(not nx.is_connected(graph) for graph, _ in problems) >= 50
    assert sum(0.0 in load.values() for _, load in problems) >= 50
    assert sum(nx.density(graph) < 0.3 for graph, _ in problems) >= 50
    assert sum(nx.density(graph) > 0.7 for graph, _ in problems) >= 50
    harder = sum(second_factor(*problem) < clique_bound(*problem).factor * (1 - 1e-3) for problem in problems)
    assert harder >= 50


@pytest.mark.parametrize("k", [2, 3, 4])
def test_odd_cycles_have_their_fractional_chromatic_number(k: int) -> None:
    """A ring of 2k + 1 cells with a load of one each: the shortest time that serves all of them is 2 + 1/k."""
    graph: nx.Graph[str] = nx.relabel_nodes(nx.cycle_graph(2 * k + 1), str)
    load = dict.fromkeys(graph, 1.0)
    second, fractions = second_factor(graph, load), second_factor(graph, load, exactly=True)
    for factor in (second, fractions, best_factor(graph, load).factor):
        assert 1.0 / factor == pytest.approx(2 + 1 / k, rel=RELATIVE, abs=0.0)


def test_without_load_neither_finds_an_end() -> None:
    graph: nx.Graph[str] = nx.Graph([("a", "b"), ("b", "c")])
    load = dict.fromkeys(graph, 0.0)
    with time_sharing(graph, load) as (problem, _):
        assert solve(problem, glpk.glp_simplex) == glpk.GLP_UNBND
    assert best_factor(graph, load).factor == float("inf")


def test_nothing_reaches_the_terminal(capfd: pytest.CaptureFixture[str]) -> None:
    graph, load = PROBLEMS[9, 0]
    for exactly in (False, True):
        second_factor(graph, load, exactly)
    assert capfd.readouterr() == ("", "")
