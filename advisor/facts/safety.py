"""Facts that cautions rest on: batteries on the way of an emergency call, ladders, cables and nodes outdoors."""

from __future__ import annotations

from advisor.facts import joins
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.hops import no_uplink
from advisor.facts.places import over_options
from advisor.facts.routes import line_node
from advisor.network.graph import between
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, unknown
from advisor.values import Scalar, Unknown, constant


def _way(book: Book, place: str) -> list[str] | Unknown:
    """The nodes a call from a place passes on its way to the internet line."""
    joined = joins.joined_subject(book, place)
    if joined is None:
        return Unknown(joins.association(book, place).missing or ("a radio that holds there",))
    node, line = book.inventory.radios[joined.ids[1]].node, line_node(book)
    way = between(node, line, book.hops) if line is not None else None
    if way is None:
        return Unknown((f"how {node} reaches the internet line (nodes.{node}.uplink)",))
    up, down = way
    nodes = [node, *(hop.parent for hop in up), *(hop.node for hop in down)]
    return list(dict.fromkeys(nodes))


def power_source(book: Book, node_id: str) -> Fact:
    """Where a node's electricity comes from, as given or, where nothing is said, a socket."""
    node = book.site.nodes[node_id]
    key = f"power_source[node={node_id}]"
    if "power" in node.model_fields_set and "source" in node.power.model_fields_set:
        return Fact(key, "", constant(node.power.source), Given(book.source.where(f"nodes.{node_id}.power.source")))
    by = Assumed(f"{node_id} hangs on a mains socket", "common practice, no source")
    return Fact(key, "", constant(node.power.source), by)


def on_battery(book: Book, node_id: str) -> Fact:
    """Whether a battery keeps a node alive: its own supply, or that of the node that feeds it over its cable."""
    seen: list[str] = []
    inputs: list[Fact] = []
    key = f"on_battery[node={node_id}]"
    while node_id not in seen:
        seen.append(node_id)
        power = book.site.nodes[node_id].power
        inputs.append(power_source(book, node_id))
        if power.source != "poe":
            return Fact(key, "", constant(power.source == "ups"), Looked("power of the nodes"), tuple(inputs))
        if power.poe_from is None:
            return unknown(key, "", f"what feeds {node_id} over its cable (nodes.{node_id}.power.poe_from)")
        node_id = power.poe_from
    return unknown(key, "", f"what feeds {seen[0]} in the end: the nodes named in poe_from feed each other")


def _without_battery(book: Book, subject: Subject, name: str, *, words: bool) -> Fact:
    key = f"{name}[{subject.key}]"
    way = _way(book, subject.ids[0])
    if isinstance(way, Unknown):
        return unknown(key, "", *way.missing)
    backed = {node: on_battery(book, node) for node in way}
    lacking = [node for node, entry in backed.items() if entry.known and not entry.raw]
    open_ends = [
        reason for entry in backed.values() if isinstance(entry.value, Unknown) for reason in entry.value.missing
    ]
    if open_ends and not lacking:
        return unknown(key, "", *open_ends)
    told = ", ".join(lacking) or "none"
    answer: Scalar = told if words else float(len(lacking))
    how = Looked(f"on the way: {', '.join(way)}; without a battery: {told}")
    return Fact(key, "", constant(answer), how, tuple(backed.values()))


@fact(
    "nodes_without_battery",
    about="place",
    unit="",
    digits=0,
    meaning="nodes between the place and the internet line that no battery keeps alive",
)
def nodes_without_battery(book: Book, subject: Subject) -> Fact:
    name = "nodes_without_battery"
    return over_options(
        book, name, subject, {}, lambda: _without_battery(book, subject, name, words=False), shared=False
    )


@fact(
    "without_battery_told",
    about="place",
    unit="",
    type="class",
    meaning="the nodes between the place and the internet line that no battery keeps alive, in words",
)
def without_battery_told(book: Book, subject: Subject) -> Fact:
    name = "without_battery_told"
    return over_options(
        book, name, subject, {}, lambda: _without_battery(book, subject, name, words=True), shared=False
    )


@fact(
    "mount_told",
    about="node",
    unit="",
    type="boolean",
    meaning="true when the file says how high the node hangs (mount_height_m or height_m)",
)
def mount_told(book: Book, subject: Subject) -> Fact:
    node = book.site.nodes[subject.ids[0]]
    told = node.mount_height_m is not None or node.height_m is not None
    return Fact(f"mount_told[{subject.key}]", "", constant(told), Looked("mount_height_m and height_m of the node"))


@fact(
    "mount_is_exact",
    about="node",
    unit="",
    type="boolean",
    meaning="true when the height above where one stands is given, false where that above the floor stands for it",
)
def mount_is_exact(book: Book, subject: Subject) -> Fact:
    exact = book.site.nodes[subject.ids[0]].mount_height_m is not None
    return Fact(f"mount_is_exact[{subject.key}]", "", constant(exact), Looked("mount_height_m of the node"))


@fact(
    "mount_height_m",
    about="node",
    unit="m",
    digits=2,
    meaning="height of the mounting point above where one stands, or above the floor where only that is given",
)
def mount_height(book: Book, subject: Subject) -> Fact:
    name = subject.ids[0]
    node = book.site.nodes[name]
    key = f"mount_height_m[{subject.key}]"
    for field in ("mount_height_m", "height_m"):
        height = getattr(node, field)
        if height is not None:
            return Fact(key, "m", constant(max(float(height), 0.0)), Given(book.source.where(f"nodes.{name}.{field}")))
    return unknown(key, "m", f"how high {name} hangs (nodes.{name}.mount_height_m)")


@fact("outdoors", about="node", unit="", type="boolean", meaning="true when the node hangs outside")
def outdoors(book: Book, subject: Subject) -> Fact:
    name = subject.ids[0]
    node = book.site.nodes[name]
    key = f"outdoors[{subject.key}]"
    if "outdoor" in node.model_fields_set:
        return Fact(key, "", constant(node.outdoor), Given(book.source.where(f"nodes.{name}.outdoor")))
    return Fact(key, "", constant(False), Assumed(f"{name} stands indoors", "default of the site file"))


@fact("on_mains", about="node", unit="", type="boolean", meaning="true when the node hangs on a mains socket")
def on_mains(book: Book, subject: Subject) -> Fact:
    name = subject.ids[0]
    key = f"on_mains[{subject.key}]"
    source, uplink = power_source(book, name), book.site.nodes[name].uplink
    silent = book.site.nodes[name].power.circuit is None and isinstance(source.by, Assumed)
    if silent and uplink is not None and uplink.over == "ethernet":
        return unknown(key, "", f"whether {name} is fed by a socket or its cable (nodes.{name}.power.source)")
    return Fact(key, "", constant(source.raw == "mains"), source.by)


@fact(
    "cable_outdoors",
    about="hop",
    unit="",
    type="boolean",
    meaning="true when the cable of a wired hop runs outside: as the file says, or because one end hangs outside",
)
def cable_outdoors(book: Book, subject: Subject) -> Fact:
    name = subject.ids[0]
    uplink = book.site.nodes[name].uplink
    key = f"cable_outdoors[{subject.key}]"
    if uplink is None:
        return no_uplink(book, name, key, "")
    outside = [end for end in (name, uplink.to) if end is not None and book.site.nodes[end].outdoor]
    if uplink.outdoor or outside:
        told = f"nodes.{name}.uplink.outdoor" if uplink.outdoor else f"nodes.{outside[0]}.outdoor"
        return Fact(key, "", constant(True), Given(book.source.where(told)))
    if "outdoor" in uplink.model_fields_set:
        return Fact(key, "", constant(False), Given(book.source.where(f"nodes.{name}.uplink.outdoor")))
    return Fact(key, "", constant(False), Assumed(f"the cable of {name} runs indoors", "default of the site file"))
