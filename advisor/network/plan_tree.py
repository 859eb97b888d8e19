"""Sites told by distances alone: nodes by hops from the internet line, places under the node they are told nearest to.

No geography: the rows hang together as the uplinks do, with the distance and what lies between in words.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from advisor.network.plan_records import TreeRow
from advisor.network.plan_words import carrier, place_lines, style_of, way, ways
from advisor.site.building import Path
from advisor.site.schema import Site

Row = tuple[str, str, int, int | None]


def tree(site: Site, places: Collection[str]) -> tuple[TreeRow, ...]:
    """A row for every node, and for each of these places that tells a distance."""
    below = {node: [name for name in sorted(site.nodes) if _parent(site, name) == node] for node in site.nodes}
    near: dict[str, list[str]] = {node: [] for node in site.nodes}
    for place in sorted(places):
        told = ways(site.places[place])
        if told:
            near[told[0][0]].append(place)
    rows: list[TreeRow] = []
    line = site.internet.at
    roots = [name for name in site.nodes if _parent(site, name) is None]
    order = sorted(roots, key=lambda name: (name != line, site.nodes[name].role != "gateway", name))
    waiting: list[tuple[str, int, int | None]] = [
        (name, 0 if site.nodes[name].role == "gateway" or name == line else 1, None) for name in reversed(order)
    ]
    while waiting:
        node, depth, under = waiting.pop()
        own = len(rows)
        rows.append(_node_row(site, node, depth, under))
        rows += _place_rows(site, near[node], depth + 1, own)
        waiting += [(child, depth + 1, own) for child in reversed(below[node])]
    return tuple(rows)


def _parent(site: Site, node: str) -> str | None:
    uplink = site.nodes[node].uplink
    return uplink.to if uplink else None


def _told_way(site: Site, node: str, parent: str) -> Path | None:
    return site.nodes[node].paths.get(parent) or site.nodes[parent].paths.get(node)


def _node_row(site: Site, node: str, depth: int, under: int | None) -> TreeRow:
    own = site.nodes[node]
    parent = _parent(site, node)
    parts: list[str] = []
    if parent is not None:
        told = _told_way(site, node, parent)
        parts.append((way(parent, told) if told else f"to {parent}, distance not told") + f"; {carrier(own)}")
    elif own.role != "gateway":
        parts.append(carrier(own))
    others = [words for other, words in ways(own) if other != parent]
    if others:
        parts.append(("also " if parent is not None else "") + ", ".join(others))
    link = style_of(own) if own.role != "gateway" else "none"
    return TreeRow("nodes", node, own.role, depth, under, link, own.role.replace("-", " "), "; ".join(parts))


def _place_rows(site: Site, places: list[str], depth: int, under: int) -> Iterator[TreeRow]:
    for place in places:
        own = site.places[place]
        (_, words), *others = ways(own)
        detail = words + "".join(f"; also {further}" for _, further in others)
        yield TreeRow("places", place, "place", depth, under, "way", place_lines(own)[0], detail)
