"""Uplinks as trees: counts against Cayley's formula and networkx's own enumeration, channels, shapes."""

from __future__ import annotations

import random
from itertools import product

import networkx as nx
import pytest

from advisor.network.alternatives import cliques, count_forests, loops, on_one_channel, shape
from advisor.network.graph import Hop


def air(node: str, parent: str, band: str = "5") -> Hop:
    return Hop(node, parent, "radio", f"{node}.r{band}", f"{parent}.r{band}", band)


def everyone_to_everyone(relays: int, bands: tuple[str, ...]) -> dict[str, tuple[Hop, ...]]:
    names = [f"n{index}" for index in range(relays)]
    return {
        name: tuple(air(name, parent, band) for parent in [*names, "gateway"] if parent != name for band in bands)
        for name in names
    }


@pytest.mark.parametrize("relays", [1, 2, 3, 4, 5])
@pytest.mark.parametrize("bands", [("5",), ("2.4", "5"), ("2.4", "5", "6")])
def test_count_is_cayleys_formula_times_the_bands(relays: int, bands: tuple[str, ...]) -> None:
    """(n + 1)^(n - 1) trees on n relays and a root (Cayley 1889), each hop on any band."""
    ways = everyone_to_everyone(relays, bands)
    assert count_forests(ways, {}, {"gateway"}) == (relays + 1) ** (relays - 1) * len(bands) ** relays


def test_counting_agrees_with_trying_and_with_the_iterator_of_networkx() -> None:
    ways = everyone_to_everyone(3, ("5",))
    ways["n2"] = ways["n2"][:2]
    tried = sum(not loops(dict(zip(ways, choice, strict=True))) for choice in product(*ways.values()))
    graph = nx.DiGraph((hop.parent, node, {"weight": 1.0}) for node, hops in ways.items() for hop in hops)
    listed = sum(1 for _ in nx.algorithms.tree.branchings.ArborescenceIterator(graph))
    assert count_forests(ways, {}, {"gateway"}) == tried == listed


@pytest.mark.parametrize("seed", range(20))
def test_counting_agrees_with_networkx_on_any_ways(seed: int) -> None:
    """number_of_spanning_trees, of a directed graph with the gateway as its root."""
    draw = random.Random(seed)
    names = [f"n{index}" for index in range(draw.randint(2, 6))]
    ways = {
        name: tuple(air(name, parent) for parent in [*names, "gateway"] if parent != name and draw.random() < 0.6)
        for name in names
    }
    graph = nx.DiGraph((hop.parent, node) for node, hops in ways.items() for hop in hops)
    graph.add_nodes_from([*names, "gateway"])
    assert count_forests(ways, {}, {"gateway"}) == round(nx.number_of_spanning_trees(graph, root="gateway"))


def test_two_roots_and_held_uplinks() -> None:
    ways = {"n0": (air("n0", "gateway"), air("n0", "annex"))}
    held = {"annex": Hop("annex", "gateway", "ethernet")}
    assert count_forests(ways, held, {"gateway"}) == 2
    assert count_forests(ways, {}, {"gateway", "annex"}) == 2
    assert count_forests({}, {}, {"gateway"}) == 1


def test_loops() -> None:
    assert not loops({})
    assert not loops({"a": air("a", "gateway"), "b": air("b", "a")})
    assert loops({"a": air("a", "b"), "b": air("b", "a")})


def test_uplinks_put_radios_on_one_channel_and_the_top_one_sets_it() -> None:
    radios = [f"{node}.r{band}" for node in ("gateway", "a", "b") for band in ("2.4", "5")]
    hops = {"a": air("a", "gateway", "5"), "b": air("b", "a", "5")}
    groups = on_one_channel(radios, hops)
    assert groups["gateway.r5"] == ("a.r5", "b.r5", "gateway.r5")
    assert groups["a.r2.4"] == ("a.r2.4",)
    crossed = on_one_channel(radios, {"a": air("a", "gateway", "5"), "b": air("b", "a", "2.4")})
    assert crossed["gateway.r5"] == ("a.r5", "gateway.r5")
    assert crossed["a.r2.4"] == ("a.r2.4", "b.r2.4")
    assert crossed["b.r5"] == ("b.r5",)


def test_shapes() -> None:
    assert shape({}) == "alone"
    assert shape({"a": air("a", "gateway")}) == "star"
    assert shape({"a": air("a", "gateway"), "b": air("b", "gateway")}) == "star"
    assert shape({"a": air("a", "gateway"), "b": air("b", "a")}) == "chain"
    assert shape({"a": air("a", "gateway"), "b": air("b", "a"), "c": air("c", "a")}) == "tree"


def test_cliques_of_a_ring_of_five_are_its_edges() -> None:
    ring = {str(index): [str((index + 1) % 5)] for index in range(5)}
    assert cliques(ring) == [("0", "1"), ("0", "4"), ("1", "2"), ("2", "3"), ("3", "4")]
    assert cliques({"a": ["b", "c"], "b": ["c"], "c": []}) == [("a", "b", "c")]
