"""Facts about addresses (layer 3): which nodes route, which hand out addresses, and between which a move changes them.

A node in router mode has addresses of its own behind it; everything that hangs on it without another router in between
is its *area*. Nodes in front of every router share the area of the line.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.routes import line_node
from advisor.facts.ways import at_line, over_ways
from advisor.network.graph import Hop, chain
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, unknown
from advisor.values import Known, Unknown, constant

USUAL = "common practice, no source"


def routes_itself(book: Book, node: str) -> Fact:
    """Whether a node is in router mode: as given, else a gateway is and others are not."""
    key = f"router_mode[node={node}]"
    entry = book.site.nodes[node]
    if entry.mode is not None:
        return Fact(key, "", constant(entry.mode == "router"), Given(book.source.where(f"nodes.{node}.mode")))
    gateway = entry.role == "gateway"
    told = f"{node} is in router mode, as gateways are" if gateway else f"{node} is in bridge mode"
    return Fact(key, "", constant(gateway), Assumed(told, USUAL))


def router_of(book: Book, node: str, hops: Mapping[str, Hop]) -> str | Unknown:
    """The node in router mode behind which a node's clients get their addresses: itself or the nearest above; empty
    in front of every router."""
    way = [node, *(hop.parent for hop in chain(node, hops))]
    for name in way:
        if routes_itself(book, name).raw:
            return name
    if at_line(book, way[-1]):
        return ""
    return Unknown((f"how {way[-1]} reaches the rest of the site (nodes.{way[-1]}.uplink)",))


def hands_out(book: Book, node: str) -> Fact:
    """Whether a node hands out addresses: as given; else routers do, and a bridge only where its gear class does, which
    may have been switched off."""
    key = f"hands_out_addresses[node={node}]"
    declared = book.site.nodes[node].address_server
    path = f"nodes.{node}.address_server"
    if declared is not None:
        return Fact(key, "", constant(declared), Given(book.source.where(path)))
    routed = routes_itself(book, node)
    if routed.raw:
        return Fact(key, "", constant(True), Assumed(f"{node} hands out addresses, as routers do", USUAL), (routed,))
    if book.site.nodes[node].mode == "bridge":
        return Fact(
            key, "", constant(False), Assumed(f"{node} hands out none, as boxes in bridge mode", USUAL), (routed,)
        )
    usual = book.inventory.gear_setting(node, None, path, "address_server")
    if not usual.value:
        return Fact(key, "", constant(False), usual.by, (routed,))
    gear = book.inventory.gear_id(node)
    told = f"{node} is gear of class {gear}, which hands out addresses unless somebody has switched that off"
    return Fact(key, "", Known(True, False, True), Assumed(told, USUAL), (routed,))


def _over_areas(book: Book, key: str, unit: str, compute: Callable[[Mapping[str, Hop]], Fact]) -> Fact:
    """Over the ways of open uplinks only where some node behind the line routes; else they change no area."""
    inner = any(routes_itself(book, node).raw and not at_line(book, node) for node in book.site.nodes)
    return over_ways(book, key, unit, compute) if inner else compute(book.hops)


@fact(
    "router_mode",
    about="node",
    unit="",
    type="boolean",
    meaning="true where the node has addresses of its own behind it",
)
def router_mode(book: Book, subject: Subject) -> Fact:
    return routes_itself(book, subject.ids[0])


@fact("at_line", about="node", unit="", type="boolean", meaning="true where the internet line ends at this node")
def at_line_fact(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    return Fact(f"at_line[{subject.key}]", "", constant(at_line(book, node)), Looked("roles, and internet.at"))


@fact(
    "routers_above",
    about="node",
    unit="",
    digits=0,
    meaning="nodes in router mode between this node and the internet line, itself not counted",
)
def routers_above(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"routers_above[{subject.key}]"

    def count(hops: Mapping[str, Hop]) -> Fact:
        names = [hop.parent for hop in chain(node, hops)]
        modes = tuple(routes_itself(book, name) for name in names)
        if not at_line(book, names[-1] if names else node):
            end = names[-1] if names else node
            return unknown(key, "", f"how {end} reaches the rest of the site (nodes.{end}.uplink)")
        routers = [name for name, mode in zip(names, modes, strict=True) if mode.raw]
        how = Looked("routers above: " + (", ".join(routers) or "none"))
        return Fact(key, "", constant(float(len(routers))), how, modes)

    return _over_areas(book, key, "", count)


@fact(
    "next_router",
    about="node",
    unit="",
    type="class",
    meaning="the nearest node in router mode above this one; empty where there is none",
)
def next_router(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"next_router[{subject.key}]"

    def name(hops: Mapping[str, Hop]) -> Fact:
        found = next((hop.parent for hop in chain(node, hops) if routes_itself(book, hop.parent).raw), "")
        return Fact(key, "", constant(found), Looked("modes of the nodes above"))

    return _over_areas(book, key, "", name)


@fact("hands_out_addresses", about="node", unit="", type="boolean", meaning="true where the node hands out addresses")
def hands_out_addresses(book: Book, subject: Subject) -> Fact:
    return hands_out(book, subject.ids[0])


def _others(book: Book, node: str, hops: Mapping[str, Hop]) -> list[str] | Unknown:
    """Other nodes that hand out addresses, or may, in the area of a node."""
    mine = router_of(book, node, hops)
    if isinstance(mine, Unknown):
        return mine
    found = []
    for other in sorted(book.site.nodes):
        server = hands_out(book, other)
        if other == node or not server.value.high:  # type: ignore[union-attr]
            continue
        theirs = router_of(book, other, hops)
        if isinstance(theirs, Unknown):
            return theirs
        if theirs == mine:
            found.append(other)
    return found


def _count(key: str, servers: list[Fact], how: str) -> Fact:
    """How many of these nodes hand out addresses; those of which it is not sure make a band."""
    ends = [sum(bool(getattr(entry.value, end)) for entry in servers) for end in ("centre", "low", "high")]
    centre, low, high = (float(end) for end in ends)
    return Fact(key, "", Known(centre, low, high), Looked(how), tuple(servers))


@fact(
    "other_address_servers",
    about="node",
    unit="",
    digits=0,
    meaning="other nodes that hand out addresses to the same part of the network",
)
def other_address_servers(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"other_address_servers[{subject.key}]"

    def count(hops: Mapping[str, Hop]) -> Fact:
        names = _others(book, node, hops)
        if isinstance(names, Unknown):
            return unknown(key, "", *names.missing)
        return _count(key, [hands_out(book, name) for name in names], "they are: " + (", ".join(names) or "none"))

    return _over_areas(book, key, "", count)


@fact(
    "other_servers_named",
    about="node",
    unit="",
    type="class",
    meaning="the other nodes that hand out addresses to the same part of the network, in words",
)
def other_servers_named(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"other_servers_named[{subject.key}]"

    def words(hops: Mapping[str, Hop]) -> Fact:
        names = _others(book, node, hops)
        if isinstance(names, Unknown):
            return unknown(key, "", *names.missing)
        return Fact(key, "", constant(" and ".join(names) or "none"), Looked("modes and address servers"))

    return _over_areas(book, key, "", words)


@fact("address_servers", about="site", unit="", digits=0, meaning="nodes that hand out addresses anywhere at the site")
def address_servers(book: Book, subject: Subject) -> Fact:
    key = "address_servers"
    servers = [hands_out(book, node) for node in sorted(book.site.nodes)]
    top = line_node(book)
    if top is not None and book.site.nodes[top].address_server is None and not any(_may(entry) for entry in servers):
        return unknown(key, "", f"whether {top} hands out addresses (nodes.{top}.address_server)")
    names = [node for node, entry in zip(sorted(book.site.nodes), servers, strict=True) if _may(entry)]
    return _count(key, servers, "they are: " + (", ".join(names) or "none"))


def _may(entry: Fact) -> bool:
    return bool(entry.value.high)  # type: ignore[union-attr]


def _of_pair(
    book: Book, subject: Subject, key: str, answer: Callable[[str, str], Any]
) -> Callable[[Mapping[str, Hop]], Fact]:
    def compute(hops: Mapping[str, Hop]) -> Fact:
        areas = [router_of(book, node, hops) for node in subject.ids]
        gaps = [gap for area in areas if isinstance(area, Unknown) for gap in area.missing]
        if gaps:
            return unknown(key, "", *dict.fromkeys(gaps))
        first, second = (str(area) for area in areas)
        modes = tuple(routes_itself(book, node) for node in dict.fromkeys((*subject.ids, first, second)) if node)
        told = [
            f"{node}: behind {area or 'no router'}" for node, area in zip(subject.ids, (first, second), strict=True)
        ]
        return Fact(key, "", constant(answer(first, second)), Looked("; ".join(told)), modes)

    return compute


@fact(
    "same_addresses",
    about="node-pair",
    unit="",
    type="boolean",
    meaning="true where a client keeps its address when it moves from one node to the other",
)
def same_addresses(book: Book, subject: Subject) -> Fact:
    key = f"same_addresses[{subject.key}]"
    return _over_areas(book, key, "", _of_pair(book, subject, key, lambda first, second: first == second))


@fact(
    "router_between",
    about="node-pair",
    unit="",
    type="class",
    meaning="key of the node in router mode that parts the addresses of the two; empty where none does",
)
def router_between(book: Book, subject: Subject) -> Fact:
    key = f"router_between[{subject.key}]"

    def named(first: str, second: str) -> str:
        inner = [name for name in sorted({first, second}) if name and not at_line(book, name)]
        parting = inner or [name for name in (first, second) if name]
        return f"node={parting[0]}" if first != second else ""

    return _over_areas(book, key, "", _of_pair(book, subject, key, named))
