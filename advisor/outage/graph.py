"""What the shape of the ways says: whom one box or one hop takes along, and who waits for power in a circle."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.outage.records import Net

if TYPE_CHECKING:
    import networkx as nx

LINE = "\0line"


def ways_up(net: Net) -> nx.DiGraph[str]:
    """An edge from every box to each parent it may have, and from the boxes at the line to its end."""
    import networkx as nx

    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(net.boxes)
    for name, box in sorted(net.boxes.items()):
        if box.at_line:
            graph.add_edge(name, LINE)
        else:
            graph.add_edges_from((name, way.parent) for way in box.ways)
    return graph


def takes_along(net: Net) -> dict[str, tuple[str, ...]]:
    """Per box, the others that have no way left without it: those it dominates on the ways from the line."""
    import networkx as nx

    graph = ways_up(net)
    if LINE not in graph:
        return {}
    above = nx.immediate_dominators(graph.reverse(copy=False), LINE)
    found: dict[str, list[str]] = {name: [] for name in sorted(net.boxes)}
    for name in sorted(net.boxes):
        here = name
        while here in above and above[here] not in (here, LINE, None):
            here = above[here]
            found[here].append(name)
    return {name: tuple(others) for name, others in found.items()}


def only_ways(net: Net) -> dict[str, str]:
    """Boxes whose way up hangs on one hop of their own, with the parent it goes to."""
    import networkx as nx

    graph = ways_up(net)
    found = {}
    for name, box in sorted(net.boxes.items()):
        if box.at_line or LINE not in graph or not nx.has_path(graph, name, LINE):
            continue
        rest = graph.subgraph(set(graph) - {name})
        others = [way for way in box.ways if nx.has_path(rest, way.parent, LINE)]
        if len(others) == 1:
            found[name] = others[0].parent
    return found


def power_circles(net: Net) -> list[tuple[str, ...]]:
    """Boxes that feed each other over their cables in a circle: after a power cut none of them starts."""
    import networkx as nx

    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_edges_from((box.fed_by, name) for name, box in sorted(net.boxes.items()) if box.feed == "poe")
    circles = [sorted(part) for part in nx.strongly_connected_components(graph) if len(part) > 1]
    circles += [[name] for name in graph if graph.has_edge(name, name)]
    return sorted(tuple(part) for part in circles)
