"""How every node's uplink runs: as declared, or the ways an uplink left to the equipment may run."""

from __future__ import annotations

from advisor.facts import links, rates
from advisor.facts.book import MOST_OPTIONS, Book
from advisor.facts.catalogue import part
from advisor.network.graph import Hop
from advisor.network.inventory import RadioUnit
from advisor.values import Known


def open_uplink(book: Book, node_id: str) -> bool:
    """True where parent or band of an air uplink is left to the equipment, or not told: then any way may be it."""
    node = book.site.nodes[node_id]
    if node.role == "gateway" or node.uplink is None or node.uplink.over != "radio":
        return False
    if node.uplink.choice == "node" or node.uplink.to is None:
        return True
    return len(air_pairs(book, node_id, node.uplink.to)) > 1


@part("declared hops")
def declared_hops(book: Book) -> dict[str, Hop]:
    """The uplinks that are fixed."""
    hops = {}
    for node_id, node in sorted(book.site.nodes.items()):
        uplink = node.uplink
        if node.role == "gateway" or uplink is None or uplink.to is None or open_uplink(book, node_id):
            continue
        if uplink.over != "radio":
            hops[node_id] = Hop(node_id, uplink.to, uplink.over)
            continue
        pairs = air_pairs(book, node_id, uplink.to)
        if pairs:
            lower, upper = pairs[0]
            hops[node_id] = Hop(node_id, uplink.to, "radio", lower.name, upper.name, lower.band)
    return hops


@part("options")
def options(book: Book) -> dict[str, list[Hop]]:
    """For every open uplink, its possible hops, the strongest first; those without a usable level are left out."""
    found: dict[str, list[Hop]] = {}
    for node_id, node in sorted(book.site.nodes.items()):
        if not open_uplink(book, node_id) or node.uplink is None:
            continue
        parents = (
            [node.uplink.to] if node.uplink.to else [other for other in sorted(book.site.nodes) if other != node_id]
        )
        ranked = []
        for parent in parents:
            if parent != node_id and not _is_below(book, parent, node_id):
                for lower, upper in air_pairs(book, node_id, parent):
                    link = links.to_radio(lower.name, upper.name)
                    margin, level = rates.answer_margin_db(book, link), links.level_dbm(book, link, "down")
                    usable = isinstance(margin.value, Known) and float(margin.value.centre) >= 0
                    if usable and isinstance(level.value, Known):
                        hop = Hop(node_id, parent, "radio", lower.name, upper.name, lower.band)
                        ranked.append((-round(float(level.value.centre), 1), hop.option, hop))
        found[node_id] = [hop for _, _, hop in sorted(ranked)[:MOST_OPTIONS]]
    return found


def _is_below(book: Book, candidate: str, node_id: str) -> bool:
    """True where the candidate's own declared uplinks lead through the node, or end in another open uplink."""
    seen = set()
    while candidate not in seen:
        seen.add(candidate)
        node = book.site.nodes[candidate]
        if node.role == "gateway":
            return False
        if node.uplink is None or node.uplink.to is None:
            return True
        candidate = node.uplink.to
        if candidate == node_id:
            return True
    return True


def air_pairs(book: Book, node_id: str, parent: str) -> list[tuple[RadioUnit, RadioUnit]]:
    """Radio pairs that could carry the uplink to this parent, one for each band unless band or radio is fixed."""
    node = book.site.nodes[node_id]
    uplink = node.uplink
    pairs = []
    for lower in book.inventory.radios_of(node_id):
        if uplink and uplink.band is not None and lower.band != uplink.band:
            continue
        if uplink and uplink.radio is not None and lower.id != uplink.radio:
            continue
        for upper in book.inventory.radios_of(parent, lower.band):
            if lower.channel is None or upper.channel is None or lower.channel == upper.channel:
                pairs.append((lower, upper))
    return pairs
