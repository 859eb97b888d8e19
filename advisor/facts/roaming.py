"""Roaming aids (802.11k, v, r) of every name and node, and the walks that need them."""

from __future__ import annotations

from advisor.data import catalogue
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import setting
from advisor.facts.name_use import CALL_TRAFFIC
from advisor.facts.names import entries_of
from advisor.network.inventory import Setting
from advisor.network.joining import joining, networks_on
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, unknown
from advisor.values import constant

AIDS = ("k", "v", "r")
EACH_AID = {"aid": AIDS}
ENTERPRISE = ("wpa2-enterprise", "wpa3-enterprise")


def carriers(book: Book, name: str) -> list[tuple[str, str]]:
    """(node, network entry) for every node that offers the name to devices, in order."""

    def compute() -> list[tuple[str, str]]:
        wanted = {key for key, net in entries_of(book, name) if net.purpose != "backhaul"}
        return sorted(
            {
                (radio.node, key)
                for radio in book.inventory.radios.values()
                if radio.serves_clients
                for key, _ in networks_on(book.site, radio)
                if key in wanted
            }
        )

    return book.lasting(("carriers", name), compute)


def aid_setting(book: Book, node: str, network: str, aid: str) -> Setting:
    """Whether a node runs an aid for a network: as the network says, else as usual for the node's gear class."""
    declared = getattr(book.site.networks[network].aids, aid)
    if declared is not None:
        return Setting(declared, Given(book.source.where(f"networks.{network}.aids.{aid}")))
    usual = bool(book.inventory.gear(node)["aids"][aid])
    told = f"{node} is usual gear of class {book.inventory.gear_id(node)}: 802.11{aid} {'on' if usual else 'off'}"
    return Setting(usual, Assumed(told, catalogue("gear")["source"]))


def aid_on(book: Book, node: str, network: str, aid: str) -> Fact:
    """The same as a fact."""
    return setting(f"aid_on[network={network},node={node}, aid={aid}]", "", aid_setting(book, node, network, aid))


def _by_node(book: Book, name: str, aid: str) -> tuple[dict[str, set[bool]], tuple[Fact, ...]]:
    """What each node says to an aid under a name (both where its entries differ), and the facts behind it."""
    facts = {entry: aid_on(book, *entry, aid) for entry in carriers(book, name)}
    nodes: dict[str, set[bool]] = {}
    for (node, _), told in facts.items():
        nodes.setdefault(node, set()).add(bool(told.raw))
    return nodes, tuple(facts.values())


@fact("carrying_nodes", about="name", unit="", digits=0, meaning="nodes that offer this name to devices")
def carrying_nodes(book: Book, subject: Subject) -> Fact:
    nodes = sorted({node for node, _ in carriers(book, subject.ids[0])})
    how = Looked(", ".join(nodes) or "none")
    return Fact(f"carrying_nodes[{subject.key}]", "", constant(float(len(nodes))), how)


@fact(
    "aid_nodes",
    about="name",
    unit="",
    digits=0,
    variants=EACH_AID,
    meaning="nodes that run the roaming aid (802.11k, v or r) under this name",
)
def aid_nodes(book: Book, subject: Subject, aid: str) -> Fact:
    nodes, inputs = _by_node(book, subject.ids[0], aid)
    on = sorted(node for node, answers in nodes.items() if answers == {True})
    how = Looked(f"802.11{aid} on at " + (", ".join(on) or "no node"))
    return Fact(f"aid_nodes[{subject.key}, aid={aid}]", "", constant(float(len(on))), how, inputs)


def _differences(book: Book, name: str) -> tuple[list[str], tuple[Fact, ...]]:
    """For every aid that is on here and off there, where; and the facts behind it."""
    words: list[str] = []
    inputs: list[Fact] = []
    for aid in AIDS:
        nodes, facts = _by_node(book, name, aid)
        inputs += facts
        if len(set().union(*nodes.values())) > 1 if nodes else False:
            on = [node for node, answers in sorted(nodes.items()) if True in answers]
            off = [node for node, answers in sorted(nodes.items()) if False in answers]
            words.append(f"802.11{aid} on at {', '.join(on)}, off at {', '.join(off)}")
    return words, tuple(inputs)


@fact(
    "aids_differ",
    about="name",
    unit="",
    type="boolean",
    meaning="true when nodes that carry this name differ in a roaming aid",
)
def aids_differ(book: Book, subject: Subject) -> Fact:
    words, inputs = _differences(book, subject.ids[0])
    how = Looked("; ".join(words) or "all nodes alike")
    return Fact(f"aids_differ[{subject.key}]", "", constant(bool(words)), how, inputs)


@fact("aid_differences", about="name", unit="", type="class", meaning="which roaming aids differ and where, in words")
def aid_differences(book: Book, subject: Subject) -> Fact:
    words, inputs = _differences(book, subject.ids[0])
    return Fact(f"aid_differences[{subject.key}]", "", constant("; ".join(words)), Looked("the aids"), inputs)


@fact(
    "aids_given",
    about="name",
    unit="",
    type="boolean",
    meaning="true when the site file gives a roaming aid for this name",
)
def aids_given(book: Book, subject: Subject) -> Fact:
    given = [key for key, net in entries_of(book, subject.ids[0]) if net.aids.model_fields_set]
    how = Looked("networks with aids: " + (", ".join(given) or "none"))
    return Fact(f"aids_given[{subject.key}]", "", constant(bool(given)), how)


def walks_under(book: Book, name: str) -> list[str]:
    """Walks whose device can join a node under this name, as one of the site's own devices."""
    wanted = {key for key, net in entries_of(book, name) if net.purpose == "clients"}
    nodes = {node for node, key in carriers(book, name) if key in wanted}
    radios = [radio for radio in book.inventory.radios.values() if radio.node in nodes]
    return [
        walk
        for walk, entry in sorted(book.site.walks.items())
        if any(
            wanted & set(joining(book.site, book.inventory.clients[entry.client], radio).networks) for radio in radios
        )
    ]


@fact("walks_under_it", about="name", unit="", digits=0, meaning="walks whose device can use this name")
def walks_under_it(book: Book, subject: Subject) -> Fact:
    walks = walks_under(book, subject.ids[0])
    return Fact(
        f"walks_under_it[{subject.key}]", "", constant(float(len(walks))), Looked(", ".join(walks) or "no walk")
    )


@fact(
    "walks_with_calls",
    about="name",
    unit="",
    digits=0,
    meaning="walks with a voice or video call whose device can use this name",
)
def walks_with_calls(book: Book, subject: Subject) -> Fact:
    walks = [walk for walk in walks_under(book, subject.ids[0]) if book.site.walks[walk].traffic in CALL_TRAFFIC]
    return Fact(
        f"walks_with_calls[{subject.key}]", "", constant(float(len(walks))), Looked(", ".join(walks) or "no walk")
    )


@fact(
    "enterprise_security",
    about="name",
    unit="",
    type="boolean",
    meaning="true when devices log in under this name at a server of the workplace (enterprise security)",
)
def enterprise_security(book: Book, subject: Subject) -> Fact:
    key = f"enterprise_security[{subject.key}]"
    nets = entries_of(book, subject.ids[0])
    if any(net.security in ENTERPRISE for _, net in nets):
        return Fact(key, "", constant(True), Looked("the security of its entries"))
    gaps = [f"the security of network {name} (networks.{name}.security)" for name, net in nets if net.security is None]
    if gaps:
        return unknown(key, "", *gaps)
    return Fact(key, "", constant(False), Looked("the security of its entries"))
