"""Facts about single networks and names: security, hidden names, names per radio and per band, names hard to type."""

from __future__ import annotations

from itertools import combinations

from advisor.facts.book import Book, key_of_name
from advisor.facts.catalogue import fact
from advisor.facts.equipment import setting
from advisor.facts.names import client_names, entries_of
from advisor.network.inventory import RadioUnit
from advisor.network.joining import ALLOWED_IN_6_GHZ, networks_on
from advisor.site.networks import Network
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, unknown
from advisor.values import constant

CALL_TRAFFIC = ("voice", "video-call")
"""What runs on a walk that breaks audibly when the device changes nodes slowly."""


def carried_by(book: Book, radio: RadioUnit) -> list[tuple[str, Network]]:
    """The network entries a radio puts on the air: one that serves no clients carries those for backhaul alone."""
    return [
        (name, net) for name, net in networks_on(book.site, radio) if radio.serves_clients or net.purpose == "backhaul"
    ]


@fact("security", about="network", unit="", type="class", meaning="security it is offered with")
def security(book: Book, subject: Subject) -> Fact:
    return _security(book, subject, f"security[{subject.key}]")


def _security(book: Book, subject: Subject, key: str) -> Fact:
    name = subject.ids[0]
    value = book.site.networks[name].security
    path = f"networks.{name}.security"
    if value is None:
        return unknown(key, "", f"the security of network {name} ({path})")
    return Fact(key, "", constant(value), Given(book.source.where(path)))


@fact("on_6_ghz", about="network", unit="", type="boolean", meaning="true when a 6 GHz radio carries it")
def on_6_ghz(book: Book, subject: Subject) -> Fact:
    name = subject.ids[0]
    radios = [
        radio.name
        for radio in book.inventory.radios.values()
        if radio.band == "6" and name in (entry for entry, _ in carried_by(book, radio))
    ]
    how = "6 GHz radios that carry it: " + (", ".join(radios) or "none")
    return Fact(f"on_6_ghz[{subject.key}]", "", constant(bool(radios)), Looked(how))


@fact(
    "fit_for_6_ghz",
    about="network",
    unit="",
    type="boolean",
    meaning="true when its security is one that 6 GHz can run (WPA3; a mixed one runs as WPA3 there)",
)
def fit_for_6_ghz(book: Book, subject: Subject) -> Fact:
    key = f"fit_for_6_ghz[{subject.key}]"
    told = _security(book, subject, key)
    if not told.known:
        return told
    return Fact(key, "", constant(told.raw in ALLOWED_IN_6_GHZ), Looked("securities 6 GHz can run"), (told,))


@fact("encrypted", about="network", unit="", type="boolean", meaning="true when its security is not open")
def encrypted(book: Book, subject: Subject) -> Fact:
    key = f"encrypted[{subject.key}]"
    told = _security(book, subject, key)
    if not told.known:
        return told
    return Fact(key, "", constant(told.raw != "open"), Looked("its security"), (told,))


@fact(
    "for_own_devices",
    about="network",
    unit="",
    type="boolean",
    meaning="true when it serves the site's own clients or things, not guests",
)
def for_own_devices(book: Book, subject: Subject) -> Fact:
    name = subject.ids[0]
    by = Given(book.source.where(f"networks.{name}.purpose"))
    own = book.site.networks[name].purpose in ("clients", "things")
    return Fact(f"for_own_devices[{subject.key}]", "", constant(own), by)


@fact("hidden", about="network", unit="", type="boolean", meaning="true when its beacons leave the name out")
def hidden(book: Book, subject: Subject) -> Fact:
    name = subject.ids[0]
    by = Given(book.source.where(f"networks.{name}.hidden"))
    return Fact(f"hidden[{subject.key}]", "", constant(book.site.networks[name].hidden), by)


@fact("names_on_radio", about="radio", unit="", digits=0, meaning="network names it sends beacons for")
def names_on_radio(book: Book, subject: Subject) -> Fact:
    key = f"names_on_radio[{subject.key}]"
    if not book.site.networks:
        return unknown(key, "", "the networks of the site (networks)")
    names = {key_of_name(net.octets) for _, net in carried_by(book, book.inventory.radios[subject.ids[0]])}
    how = ", ".join(sorted(names)) or "none"
    return Fact(key, "", constant(float(len(names))), Looked(how))


def hard_to_type(octets: bytes) -> str:
    """What makes a name hard to type, in words; empty where nothing does."""
    if any(byte < 0x20 or byte == 0x7F for byte in octets):
        return "it holds characters that cannot be typed"
    if any(byte > 0x7E for byte in octets):
        return "it holds letters or signs that not every keyboard has"
    if octets.startswith(b" ") or octets.endswith(b" "):
        return "it begins or ends with a space, which nobody sees"
    return ""


@fact(
    "easy_to_type",
    about="name",
    unit="",
    type="boolean",
    meaning="true when it is plain printable ASCII without a space at either end",
)
def easy_to_type(book: Book, subject: Subject) -> Fact:
    octets = entries_of(book, subject.ids[0])[0][1].octets
    how = Looked(hard_to_type(octets) or "printable ASCII, no space at either end")
    return Fact(f"easy_to_type[{subject.key}]", "", constant(not hard_to_type(octets)), how)


@fact("hard_to_type_because", about="name", unit="", type="class", meaning="what makes it hard to type, in words")
def hard_to_type_because(book: Book, subject: Subject) -> Fact:
    words = hard_to_type(entries_of(book, subject.ids[0])[0][1].octets)
    return Fact(f"hard_to_type_because[{subject.key}]", "", constant(words), Looked("its octets"))


@fact(
    "calls_on_two_bands",
    about="site",
    unit="",
    type="boolean",
    meaning="true when calls are made on walks with devices that have more than one band",
)
def calls_on_two_bands(book: Book, subject: Subject) -> Fact:
    kinds = {walk.client for walk in book.site.walks.values() if walk.traffic in CALL_TRAFFIC}
    clients = [book.inventory.clients[kind] for kind in sorted(kinds)]
    both = [client for client in clients if len(client.bands) > 1]
    how = "devices with calls and several bands: " + (", ".join(client.id for client in both) or "none")
    inputs = tuple(setting(f"bands[client={client.id}]", "", client.settings["bands"]) for client in clients)
    return Fact("calls_on_two_bands", "", constant(bool(both)), Looked(how), inputs)


def split_bands(book: Book) -> list[str]:
    """Nodes that offer clients one name in one band and another in another, with no name in common, in words."""
    found = []
    for node in sorted(book.site.nodes):
        names: dict[str, set[bytes]] = {}
        for radio in book.inventory.radios_of(node):
            names.setdefault(radio.band, set()).update(client_names(book, radio))
        offered = {band: octets for band, octets in sorted(names.items()) if octets}
        if any(not first & second for first, second in combinations(offered.values(), 2)):
            told = (
                f"{', '.join(sorted(key_of_name(name) for name in octets))} in {band} GHz"
                for band, octets in offered.items()
            )
            found.append(f"{node}: {' and '.join(told)}")
    return found


@fact(
    "names_split_by_band",
    about="site",
    unit="",
    type="boolean",
    meaning="true when some node offers clients a name of its own in each band",
)
def names_split_by_band(book: Book, subject: Subject) -> Fact:
    if not book.site.networks:
        return unknown("names_split_by_band", "", "the networks of the site (networks)")
    split = split_bands(book)
    return Fact("names_split_by_band", "", constant(bool(split)), Looked("; ".join(split) or "no node does"))


@fact("split_in_words", about="site", unit="", type="class", meaning="the names each band has where they differ")
def split_in_words(book: Book, subject: Subject) -> Fact:
    return Fact("split_in_words", "", constant("; ".join(split_bands(book))), Looked("the names the nodes carry"))
