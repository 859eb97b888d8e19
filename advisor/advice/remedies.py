"""The remedies of a finding as changes that can be carried out: each operator on each subject, with the values worth
trying. What no change of the file stands for is told, never guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from advisor.advice import remedies_air, remedies_uplink, remedies_use
from advisor.advice.effort import priced
from advisor.advice.offered import offered
from advisor.facts import joins
from advisor.facts.book import Book
from advisor.facts.roaming import carriers
from advisor.rulebook.judge import Finding
from advisor.rulebook.load import Rule
from advisor.site.change import Change
from advisor.subjects import KINDS

PER_RADIO: dict[str, Callable[[Book, str], list[Change]]] = {
    "retune": remedies_air.retune,
    "fix-channel": remedies_air.retune,
    "set-width": remedies_air.set_width,
    "set-power": remedies_air.set_power,
    "set-basic-rates": remedies_air.set_basic_rates,
}
PER_HOP: dict[str, Callable[[Book, str], list[Change]]] = {
    "change-uplink-band": remedies_uplink.other_band,
    "change-parent": remedies_uplink.other_parent,
    "pin-uplink": remedies_uplink.pin,
    "wire-hop": remedies_uplink.wire,
    "own-backhaul-credential": remedies_uplink.own_credential,
    "renew-credential": remedies_uplink.renew_credential,
}
PER_NODE: dict[str, Callable[[Book, str], list[Change]]] = {
    "move-node": remedies_use.move,
    "bridge-mode": remedies_use.bridge,
    "single-address-server": remedies_use.no_address_server,
    "back-up-power": remedies_use.battery,
}
PER_NETWORK: dict[str, Callable[[Book, str], list[Change]]] = {
    "set-aids": remedies_use.set_aids,
    "set-security": remedies_use.set_security,
    "show-name": remedies_use.show_name,
}
PER_SITE: dict[str, Callable[[Book], list[Change]]] = {
    "join-names": remedies_use.join_names,
    "split-names": remedies_use.split_names,
    "fair-queue": remedies_use.fair_queue,
}
NOT_COMPUTED = {
    "tell": "the file is to be completed first",
    "add-node": "where a further node would stand is not known; write it into a copy and compare",
    "faster-line": "what the provider offers is not known; write it into a copy and compare",
    "second-radio": "other equipment is not in the file; write it into a copy and compare",
    "replace-client": "other devices are not in the file; write them into a copy and compare",
    "reroute-cable": "the way of a cable is not computed",
    "feed-by-cable": "what feeds a node is not computed but in outages",
    "enter-settings": "entering what others have already changes nothing in the file",
    "rename": "any other name does; nothing is computed from its letters",
}


@dataclass(frozen=True, slots=True)
class Offer:
    """What could be done about a finding."""

    changes: tuple[Change, ...]
    untried: tuple[tuple[str, str], ...]
    """Operators nothing is computed for, with the reason."""


def offers(book: Book, rule: Rule, finding: Finding) -> Offer:
    """Every change the remedies of a rule come to at the subject of a finding, each once."""
    found: dict[tuple[object, ...], Change] = {}
    untried: dict[str, str] = {}
    for remedy in rule.body.remedies:
        if remedy.operator in NOT_COMPUTED:
            untried[remedy.operator] = NOT_COMPUTED[remedy.operator]
            continue
        for change in _changes(book, remedy.operator, finding):
            found.setdefault(change.key, _priced(book, offered(book, change)))
        if remedy.operator == "move-node" and not found:
            untried["move-node"] = "no other spot is given (choices.positions, choices.anywhere)"
    return Offer(tuple(found.values()), tuple(untried.items()))


def _priced(book: Book, change: Change) -> Change:
    """With its cost where the file gives the prices it takes; a cable the file does not list has none."""
    lengths = {f"hop={cable.node}": cable.length_m for cable in book.site.choices.cables.values() if cable.length_m}
    if change.operator == "wire-hop" and change.subject not in lengths:
        return change
    return priced([change], book.site.choices.prices, lengths)[0]


def _changes(book: Book, operator: str, finding: Finding) -> Iterator[Change]:
    if operator in PER_SITE:
        yield from PER_SITE[operator](book)
    elif operator in PER_RADIO:
        for radio in radios_of(book, finding):
            yield from PER_RADIO[operator](book, radio)
    elif operator in PER_HOP:
        for node in hops_of(book, finding):
            yield from PER_HOP[operator](book, node)
    elif operator in PER_NODE:
        for node in nodes_of(book, finding):
            yield from PER_NODE[operator](book, node)
    elif operator in PER_NETWORK:
        for network in networks_of(book, finding):
            yield from PER_NETWORK[operator](book, network)
    elif operator == "voice-class":
        for place in _roles(finding, "place"):
            yield from remedies_use.voice_class(book, place)


def _roles(finding: Finding, role: str) -> list[str]:
    return [name for kind, name in zip(KINDS[finding.subject.kind], finding.subject.ids, strict=True) if kind == role]


def radios_of(book: Book, finding: Finding) -> list[str]:
    """Radios a finding is about: those it names, the parent's of a hop, the one a place joins."""
    found = [*_roles(finding, "radio"), *_roles(finding, "domain")]
    for node in _roles(finding, "hop"):
        hop = book.hops.get(node)
        if hop is not None and hop.parent_radio is not None:
            found.append(hop.parent_radio)
    if not found:
        for place in _places(book, finding):
            joined = joins.joined_subject(book, place)
            found += [joined.ids[1]] if joined is not None else []
    if not found:
        found = [unit.name for node in _roles(finding, "node") for unit in book.inventory.radios_of(node)]
    return list(dict.fromkeys(found))


def _places(book: Book, finding: Finding) -> list[str]:
    needs = [book.site.needs[name].place for name in _roles(finding, "need")]
    return [*_roles(finding, "place"), *(place for place in needs if place is not None)]


def nodes_of(book: Book, finding: Finding) -> list[str]:
    found = [*_roles(finding, "node"), *_roles(finding, "hop")]
    found += [radio.partition(".")[0] for radio in _roles(finding, "radio")]
    if not found:
        found = [radio.partition(".")[0] for radio in radios_of(book, finding)]
    return list(dict.fromkeys(found or sorted(book.site.nodes) if finding.subject.kind == "site" else found))


def hops_of(book: Book, finding: Finding) -> list[str]:
    """Nodes whose uplink a finding is about, itself or as the node of a place or radio."""
    return [node for node in nodes_of(book, finding) if book.site.nodes[node].role != "gateway"]


def networks_of(book: Book, finding: Finding) -> list[str]:
    """Networks a finding is about: named, carried under its name, used at its place; else those clients use."""
    found = _roles(finding, "network")
    for name in _roles(finding, "name"):
        nodes = {node for node, _ in carriers(book, name)}
        found += [key for key, net in sorted(book.site.networks.items()) if not net.nodes or nodes & set(net.nodes)]
    for place in _places(book, finding):
        network = book.site.places[place].network
        found += [network] if network is not None else []
    return list(
        dict.fromkeys(found or [k for k, net in sorted(book.site.networks.items()) if net.purpose == "clients"])
    )
