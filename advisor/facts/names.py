"""Facts about network names: who carries which, and whether a client can move between nodes under one name."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np

from advisor.facts import joins, links, reach, receiving
from advisor.facts.book import Book, key_of_name
from advisor.facts.catalogue import fact, part
from advisor.network.inventory import RadioUnit
from advisor.network.joining import networks_on
from advisor.site.networks import Network
from advisor.subjects import Subject
from advisor.trace import Fact, Looked, derive, formula, unknown
from advisor.values import CENTRE, constant


def client_names(book: Book, radio: RadioUnit) -> set[bytes]:
    """Names a radio offers to clients."""
    if not radio.serves_clients:
        return set()
    return {net.octets for _, net in networks_on(book.site, radio) if net.purpose == "clients"}


def _node_names(book: Book, node: str) -> set[bytes]:
    found: set[bytes] = set()
    for radio in book.inventory.radios_of(node):
        found |= client_names(book, radio)
    return found


@fact("both_serve", about="node-pair", unit="", type="boolean", meaning="true when both nodes offer a name to clients")
def both_serve(book: Book, subject: Subject) -> Fact:
    names = [_node_names(book, node) for node in subject.ids]
    return Fact(f"both_serve[{subject.key}]", "", constant(all(names)), Looked("the names the nodes carry"))


@fact(
    "name_in_common",
    about="node-pair",
    unit="",
    type="boolean",
    meaning="true when both nodes offer one same name to clients",
)
def name_in_common(book: Book, subject: Subject) -> Fact:
    key = f"name_in_common[{subject.key}]"
    if not book.site.networks:
        return unknown(key, "", "the networks of the site (networks)")
    first, second = (_node_names(book, node) for node in subject.ids)
    how = "; ".join(
        f"{node}: " + (", ".join(sorted(key_of_name(name) for name in names)) or "none")
        for node, names in zip(subject.ids, (first, second), strict=True)
    )
    return Fact(key, "", constant(bool(first & second)), Looked(how))


@fact(
    "odd_one_out",
    about="node-pair",
    unit="",
    type="class",
    meaning="key of the one node of the pair that shares no name with any neighbouring node, if there is one",
)
def odd_one_out(book: Book, subject: Subject) -> Fact:
    odd = []
    for node in subject.ids:
        pairs = [
            pair
            for pair in book.subjects("node-pair")
            if node in pair.ids and both_serve(book, pair).raw and neighbouring(book, pair).raw
        ]
        if pairs and not any(name_in_common(book, pair).raw for pair in pairs):
            odd.append(f"node={node}")
    return Fact(
        f"odd_one_out[{subject.key}]",
        "",
        constant(odd[0] if len(odd) == 1 else ""),
        Looked("the names the nodes carry"),
    )


@fact(
    "neighbouring",
    about="node-pair",
    unit="",
    type="boolean",
    meaning="true when some place is within reach of both nodes, so that people may move between them",
)
def neighbouring(book: Book, subject: Subject) -> Fact:
    key = f"neighbouring[{subject.key}]"
    shared = [place for place in sorted(book.site.places) if set(subject.ids) <= usable_nodes(book, place)]
    how = "places within reach of both: " + (", ".join(shared) or "none")
    return Fact(key, "", constant(bool(shared)), Looked(how))


@part("subjects node-pair")
def met_nodes(book: Book) -> list[Subject]:
    """Pairs of nodes that some place could use both."""
    met = {pair for place in book.site.places for pair in combinations(sorted(usable_nodes(book, place)), 2)}
    return [Subject("node-pair", pair) for pair in sorted(met)]


def usable_nodes(book: Book, place: str) -> set[str]:
    """Nodes a client at the place could hold a link to at the centre."""

    def compute() -> set[str]:
        return {
            book.inventory.radios[name].node
            for name in reach.reachable(book, place)
            if (holds := receiving.holds(book, links.to_place(place, name))) is not None
            and bool(np.ravel(holds)[CENTRE])
        }

    return book.lasting(("usable_nodes", place), compute)


def entries_of(book: Book, name: str) -> list[tuple[str, Network]]:
    return [(key, net) for key, net in sorted(book.site.networks.items()) if key_of_name(net.octets) == name]


@fact("securities", about="name", unit="", digits=0, meaning="different securities under this one name")
def securities(book: Book, subject: Subject) -> Fact:
    nets = entries_of(book, subject.ids[0])
    key = f"securities[{subject.key}]"
    gaps = [f"the security of network {name} (networks.{name}.security)" for name, net in nets if net.security is None]
    if gaps and len(nets) > 1:
        return unknown(key, "", *gaps)
    how = "; ".join(f"{name}: {net.security or 'not given'}" for name, net in nets)
    found = {net.security for _, net in nets}
    only_6_ghz = {net.security for _, net in nets if net.bands == ("6",)}
    if "wpa2-wpa3-personal" in found and only_6_ghz == {"wpa3-personal"}:
        found -= only_6_ghz  # 6 GHz runs a mixed network as WPA3: the two are one
        found |= {net.security for _, net in nets if net.bands != ("6",)}
    return Fact(key, "", constant(float(len(found))), Looked(how))


@fact("generations", about="name", unit="", digits=0, meaning="different credential generations under this one name")
def generations(book: Book, subject: Subject) -> Fact:
    nets = entries_of(book, subject.ids[0])
    how = "; ".join(f"{name}: generation {net.generation}" for name, net in nets)
    key = f"generations[{subject.key}]"
    return Fact(key, "", constant(float(len({net.generation for _, net in nets}))), Looked(how))


@fact("entries", about="name", unit="", digits=0, meaning="entries of the site file that carry this name")
def entries(book: Book, subject: Subject) -> Fact:
    nets = entries_of(book, subject.ids[0])
    how = ", ".join(name for name, _ in nets)
    return Fact(f"entries[{subject.key}]", "", constant(float(len(nets))), Looked(how))


@fact(
    "same_name",
    about="radio-pair",
    unit="",
    type="boolean",
    meaning="true when both radios offer one same name to clients",
)
def same_name(book: Book, subject: Subject) -> Fact:
    first, second = (client_names(book, book.inventory.radios[name]) for name in subject.ids)
    return Fact(f"same_name[{subject.key}]", "", constant(bool(first & second)), Looked("the names the radios carry"))


@formula(id="names.power_difference_db", unit="dB", expr="|EIRP - EIRP|", source="difference of two radiated powers")
def apart(*, first_dbm: Any, second_dbm: Any) -> Any:
    return np.abs(first_dbm - second_dbm)


@fact("power_difference_db", about="radio-pair", unit="dB", digits=0, meaning="difference of the two radiated powers")
def power_difference(book: Book, subject: Subject) -> Fact:
    first, second = (book.get("eirp_dbm", Subject("radio", (name,))) for name in subject.ids)
    return derive(f"power_difference_db[{subject.key}]", apart, first_dbm=first, second_dbm=second)


@formula(
    id="names.ahead_db",
    unit="dB",
    expr="level of the joined radio - level of the best other node on its band",
    source="difference of two levels",
)
def ahead(*, joined_dbm: Any, other_dbm: Any) -> Any:
    return joined_dbm - other_dbm


@fact(
    "ahead_of_next_node_db",
    about="place",
    unit="dB",
    digits=0,
    meaning="how much stronger the joined radio is than the best radio of another node on the same band",
)
def ahead_of_next(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    key = f"ahead_of_next_node_db[{subject.key}]"
    joined = joins.joined_subject(book, place)
    if joined is None:
        return unknown(key, "dB", "a radio that holds there")
    mine = book.inventory.radios[joined.ids[1]]
    others = [
        links.level_dbm(book, links.to_place(place, name), "down")
        for name in reach.reachable(book, place)
        if (radio := book.inventory.radios[name]).node != mine.node and radio.band == mine.band
    ]
    known = [level for level in others if level.known]
    if not known:
        return unknown(key, "dB", "a second node on that band within reach")
    best = max(known, key=lambda level: float(level.value.centre))  # type: ignore[union-attr]
    return derive(key, ahead, joined_dbm=links.level_dbm(book, links.to_place(*joined.ids), "down"), other_dbm=best)
