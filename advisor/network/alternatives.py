"""Alternatives as combinations: which uplinks make a whole, which radios share a channel, what shape that has."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Literal

from advisor.network.graph import Hop

if TYPE_CHECKING:
    import networkx as nx

Shape = Literal["alone", "star", "chain", "tree"]


def uplink_graph(hops: Mapping[str, Hop]) -> nx.DiGraph[str]:
    """An edge from every parent to the node whose uplink ends there."""
    import networkx as nx

    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_edges_from((hop.parent, node) for node, hop in sorted(hops.items()))
    return graph


def loops(hops: Mapping[str, Hop]) -> bool:
    """True where some uplinks run in a circle and never reach a node without one."""
    import networkx as nx

    return bool(hops) and not nx.is_directed_acyclic_graph(uplink_graph(hops))


def count_forests(ways: Mapping[str, Sequence[Hop]], held: Mapping[str, Hop], roots: Collection[str]) -> int:
    """In how many ways the uplinks can be chosen so that every node reaches a root: spanning arborescences of the graph
    of ways, several ways between two nodes counted apart, with all roots as one (the matrix-tree theorem)."""
    import numpy as np

    choices: dict[str, Sequence[Hop]] = {**{node: (hop,) for node, hop in held.items()}, **ways}
    free = sorted((set(choices) | {hop.parent for hops in choices.values() for hop in hops}) - set(roots))
    number = {node: index for index, node in enumerate(free)}
    laplacian = np.zeros((len(free), len(free)))
    for node in free:
        for hop in choices.get(node, ()):
            laplacian[number[node], number[node]] += 1.0
            if hop.parent in number:
                laplacian[number[hop.parent], number[node]] -= 1.0
    return round(float(np.linalg.det(laplacian))) if free else 1


def on_one_channel(radios: Collection[str], hops: Mapping[str, Hop]) -> dict[str, tuple[str, ...]]:
    """Radios that share a channel because uplinks join them, by the one nearest to the line: it sets the channel, the
    others follow. A radio nobody joins and that makes no uplink stands alone."""
    import networkx as nx

    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(radios)
    below = set()
    for hop in hops.values():
        if hop.air and hop.radio is not None and hop.parent_radio is not None:
            graph.add_edge(hop.radio, hop.parent_radio)
            below.add(hop.radio)
    found = {}
    for group in nx.connected_components(graph):
        tops = sorted(group - below)
        if tops:
            found[tops[0]] = tuple(sorted(group))
    return dict(sorted(found.items()))


def shape(hops: Mapping[str, Hop]) -> Shape:
    """`star` where every uplink ends at a node without one, `chain` where they make one line, else `tree`."""
    if not hops:
        return "alone"
    if all(hop.parent not in hops for hop in hops.values()):
        return "star"
    graph = uplink_graph(hops)
    return "chain" if all(graph.out_degree(node) <= 1 for node in graph) else "tree"


def cliques(conflicts: Mapping[str, Collection[str]]) -> list[tuple[str, ...]]:
    """Largest sets of cells of which every two are never on the air together."""
    import networkx as nx

    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(conflicts)
    graph.add_edges_from((cell, other) for cell, others in conflicts.items() for other in others)
    return sorted(tuple(sorted(clique)) for clique in nx.find_cliques(graph))
