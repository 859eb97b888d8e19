"""Changes of an uplink: another band, another parent, fixing it, a cable, its credential."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

from advisor.advice.effort import change
from advisor.advice.layouts import Plan
from advisor.advice.remedies_air import plan_of, space_of_book
from advisor.advice.setups import cable_edits, cable_parts
from advisor.facts import links
from advisor.facts.backhaul import credential, lent_by
from advisor.facts.book import Book
from advisor.facts.uplinks import open_uplink
from advisor.network.graph import Hop
from advisor.site.change import Change, edits_of
from advisor.site.edit import Edit
from advisor.values import Known

CABLE_SHARE = 1.5
"""Cable needed over the straight distance, and some metres at its ends (common practice, no source)."""
CABLE_ENDS_M = 5.0
USUAL_CABLE_M = 20.0
"""Where the distance is not known (common practice, no source)."""


def _to(book: Book, node: str, hop: Hop) -> list[Change]:
    """The uplink of a node over another way, with the channels that must follow, as one change."""
    space = space_of_book(book)
    held = {name: entry for name, entry in {**book.hops, **space.held}.items() if name != node}
    own = replace(space, ways={node: (hop,)}, held=held)
    plan: Plan = replace(plan_of(book, {}, own), hops={**book.hops, node: hop})
    uplinks = [entry for entry in plan.uplink_changes() if entry.subject == f"hop={node}"]
    if not uplinks:
        return []
    parts = [*uplinks, *plan.channel_changes()]
    told = " ".join(part.told for part in parts)
    return [replace(uplinks[0], told=told, edits=edits_of(parts), effort_min=sum(part.effort_min for part in parts))]


def _ways(book: Book, node: str) -> tuple[Hop, ...]:
    return space_of_book(book).ways.get(node, ())


def other_band(book: Book, node: str) -> list[Change]:
    """The same parent on another band."""
    hop = book.hops.get(node)
    if hop is None or not hop.air:
        return []
    ways = [way for way in _ways(book, node) if way.parent == hop.parent and way.band != hop.band]
    return [found for way in ways for found in _to(book, node, way)]


def other_parent(book: Book, node: str) -> list[Change]:
    """Every other parent on every band that holds."""
    hop = book.hops.get(node)
    ways = [way for way in _ways(book, node) if hop is None or way.parent != hop.parent]
    return [found for way in ways for found in _to(book, node, way)]


def pin(book: Book, node: str) -> list[Change]:
    """An open uplink fixed to each of its ways."""
    if not open_uplink(book, node):
        return []
    return [found for way in _ways(book, node) for found in _to(book, node, way)]


def wire(book: Book, node: str) -> list[Change]:
    """A cable the file lists, else one to the present parent, as long as the distance lets one guess."""
    listed = [part.changes[0] for part in cable_parts(book).get(node, []) if part.changes]
    hop = book.hops.get(node)
    if listed or hop is None or not hop.air:
        return listed
    length_m, known = _cable_m(book, hop)
    edits = cable_edits(book, node, {"to": hop.parent, "over": "ethernet", "speed_mbps": 1000})
    about = f"about {length_m:.0f} m" if known else f"taken as {length_m:.0f} m, its length is not known"
    told = f"Lay a cable from {node} to {hop.parent} ({about}) and set {node} up as an access point."
    return [change("wire-hop", f"hop={node}", told, edits, cable_m=length_m)]


def _cable_m(book: Book, hop: Hop) -> tuple[float, bool]:
    distance = links.distance_m(book, links.to_radio(str(hop.radio), str(hop.parent_radio))).value
    if not isinstance(distance, Known):
        return USUAL_CABLE_M, False
    return float(ceil(float(distance.centre) * CABLE_SHARE + CABLE_ENDS_M)), True


def own_credential(book: Book, node: str) -> list[Change]:
    """A credential of the uplink's own, where it has a client network's."""
    hop = book.hops.get(node)
    if (hop is not None and not hop.air) or credential(book, node).value == "own":
        return []
    told = f"Give the uplink of {node} a credential of its own, the same at its parent."
    edits = [Edit(("nodes", node, "backhaul"), {"credential": "own"})]
    return [change("own-backhaul-credential", f"node={node}", told, edits)]


def renew_credential(book: Book, node: str) -> list[Change]:
    """The present password of the network its uplink uses."""
    generations = {network.generation for _, network in lent_by(book, node)}
    if len(generations) != 1 or "generation" not in book.site.nodes[node].backhaul.model_fields_set:
        return []
    told = f"Enter the present password at {node} for its uplink."
    edits = [Edit(("nodes", node, "backhaul", "generation"), generations.pop())]
    return [change("renew-credential", f"hop={node}", told, edits)]
