"""Facts about the credential of an uplink over the air: its own, or that of a network clients use."""

from __future__ import annotations

from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import setting
from advisor.network.inventory import Setting
from advisor.network.joining import networks_on
from advisor.site.networks import Network
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, unknown
from advisor.values import constant


def credential(book: Book, node: str) -> Setting:
    """Which credential the node's uplink uses: `own` or `client-network`; a network named means the latter."""
    backhaul = book.site.nodes[node].backhaul
    if backhaul.credential is None and backhaul.network is not None:
        return Setting("client-network", Given(book.source.where(f"nodes.{node}.backhaul.network")))
    return book.inventory.gear_setting(node, backhaul.credential, f"nodes.{node}.backhaul.credential", "backhaul")


def lent_by(book: Book, node: str) -> list[tuple[str, Network]]:
    """The client networks whose credential the uplink may use: the one given, else those its parent carries."""
    given = book.site.nodes[node].backhaul.network
    if given is not None:
        return [(given, book.site.networks[given])]
    uplink = book.site.nodes[node].uplink
    hop = book.hops.get(node)
    parent = hop.parent if hop is not None else uplink.to if uplink is not None else None
    radios = book.inventory.radios.values() if parent is None else book.inventory.radios_of(parent)
    found = {name: net for radio in radios for name, net in networks_on(book.site, radio) if net.purpose == "clients"}
    return sorted(found.items())


@fact(
    "uses_client_credential",
    about="hop",
    unit="",
    type="boolean",
    meaning="true when the uplink logs in with the password of a network clients use",
)
def uses_client_credential(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    found = setting(f"credential[{subject.key}]", "", credential(book, node))
    answer = constant(found.raw == "client-network")
    return Fact(f"uses_client_credential[{subject.key}]", "", answer, Looked("its credential"), (found,))


@fact(
    "lending_network",
    about="hop",
    unit="",
    type="class",
    meaning="the client network whose password the uplink uses, or may use",
)
def lending_network(book: Book, subject: Subject) -> Fact:
    key = f"lending_network[{subject.key}]"
    names = [name for name, _ in lent_by(book, subject.ids[0])]
    if not names:
        return unknown(key, "", "the networks of the site (networks)")
    return Fact(key, "", constant(" or ".join(names)), Looked("given, else what its parent carries"))


@fact(
    "holds_newest_password",
    about="hop",
    unit="",
    type="boolean",
    meaning="true when the uplink holds the generation of the password its client network now has",
)
def holds_newest_password(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    key = f"holds_newest_password[{subject.key}]"
    backhaul = book.site.nodes[node].backhaul
    now = {net.generation for _, net in lent_by(book, node)}
    if not now:
        return unknown(key, "", "the networks of the site (networks)")
    if len(now) > 1:
        return unknown(key, "", f"the network whose password {node} uses (nodes.{node}.backhaul.network)")
    (newest,) = now
    path = f"nodes.{node}.backhaul.generation"
    if "generation" in backhaul.model_fields_set:
        own = Fact(path, "", constant(float(backhaul.generation)), Given(book.source.where(path)))
    elif newest == 1:
        own = Fact(path, "", constant(1.0), Assumed(f"{node} holds the first password", "default of the site file"))
    else:
        return unknown(key, "", f"which generation of that password {node} holds ({path})")
    how = f"{node} holds generation {own.raw:g}, the network has generation {newest}"
    return Fact(key, "", constant(bool(own.raw == newest)), Looked(how), (own,))


@fact(
    "password_generation",
    about="hop",
    unit="",
    digits=0,
    meaning="generation of the client network's password the node holds",
)
def password_generation(book: Book, subject: Subject) -> Fact:
    path = f"nodes.{subject.ids[0]}.backhaul.generation"
    value = float(book.site.nodes[subject.ids[0]].backhaul.generation)
    return Fact(f"password_generation[{subject.key}]", "", constant(value), Given(book.source.where(path)))


@fact(
    "network_generation",
    about="hop",
    unit="",
    digits=0,
    meaning="generation the password of that client network has now",
)
def network_generation(book: Book, subject: Subject) -> Fact:
    key = f"network_generation[{subject.key}]"
    lenders = lent_by(book, subject.ids[0])
    if len({net.generation for _, net in lenders}) != 1:
        return unknown(key, "", f"the network whose password it uses (nodes.{subject.ids[0]}.backhaul.network)")
    name, net = lenders[0]
    return Fact(key, "", constant(float(net.generation)), Given(book.source.where(f"networks.{name}.generation")))


@fact(
    "settings_by_hand",
    about="hop",
    unit="",
    type="boolean",
    meaning="true when new settings reach the node by hand alone, false when they are pushed to it",
)
def settings_by_hand(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    found = book.inventory.gear_setting(node, book.site.nodes[node].settings, f"nodes.{node}.settings", "settings")
    told = setting(f"settings[{subject.key}]", "", found)
    return Fact(
        f"settings_by_hand[{subject.key}]", "", constant(told.raw == "by-hand"), Looked("its settings"), (told,)
    )
