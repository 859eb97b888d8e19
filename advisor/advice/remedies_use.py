"""Changes of names, aids, queues, classes, modes, power and spots."""

from __future__ import annotations

from advisor.advice.effort import change
from advisor.advice.names import MIXED, schemes
from advisor.advice.positions import moves
from advisor.facts.addresses import hands_out, routes_itself
from advisor.facts.book import Book
from advisor.facts.safety import power_source
from advisor.facts.ways import at_line
from advisor.site.change import Change, edits_of
from advisor.site.edit import REMOVE, Edit


def join_names(book: Book) -> list[Change]:
    return [scheme.changes[0] for scheme in schemes(book, {}) if scheme.id == "one-name"]


def split_names(book: Book) -> list[Change]:
    """A name per band, with the one each place is told to use."""
    found = []
    for scheme in schemes(book, {}):
        if scheme.id.startswith("names-per-band"):
            told = " ".join(entry.told for entry in scheme.changes)
            minutes = sum(entry.effort_min for entry in scheme.changes)
            first = scheme.changes[0]
            found.append(Change(first.operator, first.subject, told, edits_of(scheme.changes), minutes))
    return found


def fair_queue(book: Book) -> list[Change]:
    if book.site.internet.queue == "fair":
        return []
    told = "Switch on a fair queue (fq_codel, cake) on the internet line."
    return [change("fair-queue", "site", told, [Edit(("internet", "queue"), "fair")])]


def set_aids(book: Book, network: str) -> list[Change]:
    """802.11k and v, and then r too, under every entry of the same name."""
    octets = book.site.networks[network].octets
    keys = [key for key, net in sorted(book.site.networks.items()) if net.octets == octets]
    found = []
    for aids in (("k", "v"), ("k", "v", "r")):
        edits = [Edit(("networks", key, "aids", aid), True) for key in keys for aid in aids]
        words = f"802.11{', '.join(aids[:-1])} and {aids[-1]}"
        told = f"Switch {words} on for the network {', '.join(keys)}, on every node that carries it."
        found.append(change("set-aids", f"network={network}", told, edits))
    return found


def set_security(book: Book, network: str) -> list[Change]:
    """WPA2/WPA3 mixed, or WPA3 alone."""
    present = book.site.networks[network].security
    if present is not None and present.endswith("enterprise"):
        return []
    words = {MIXED: "WPA2/WPA3 mixed (older devices join too; weaker than WPA3 alone)", "wpa3-personal": "WPA3"}
    return [
        change(
            "set-security",
            f"network={network}",
            f"Set the security of the network {network} to {told}.",
            [Edit(("networks", network, "security"), security)],
        )
        for security, told in words.items()
        if security != present
    ]


def show_name(book: Book, network: str) -> list[Change]:
    if not book.site.networks[network].hidden:
        return []
    told = f"Let the network {network} show its name."
    return [change("show-name", f"network={network}", told, [Edit(("networks", network, "hidden"), REMOVE)])]


def voice_class(book: Book, place: str) -> list[Change]:
    if book.site.places[place].traffic_class == "voice":
        return []
    told = f"Let the calling program at {place} mark its packets as voice (DSCP EF), voice priority on in every node."
    return [change("voice-class", f"place={place}", told, [Edit(("places", place, "traffic_class"), "voice")])]


def move(book: Book, node: str) -> list[Change]:
    return [moved for _, _, moved in moves(book, node, {})]


def bridge(book: Book, node: str) -> list[Change]:
    if at_line(book, node) or not routes_itself(book, node).raw:
        return []
    told = f"Set {node} to bridge (access point) mode; it then hands out no addresses."
    edits = [Edit(("nodes", node, "mode"), "bridge")]
    if book.site.nodes[node].address_server:
        edits.append(Edit(("nodes", node, "address_server"), False))
    return [change("bridge-mode", f"node={node}", told, edits)]


def no_address_server(book: Book, node: str) -> list[Change]:
    if at_line(book, node) or not hands_out(book, node).value.high:  # type: ignore[union-attr]
        return []
    told = f"Switch off the handing out of addresses (DHCP server) at {node}."
    edits = [Edit(("nodes", node, "address_server"), False)]
    return [change("single-address-server", f"node={node}", told, edits)]


def battery(book: Book, node: str) -> list[Change]:
    if power_source(book, node).raw != "mains":
        return []
    told = f"Put {node} on a battery supply made for its load."
    return [change("back-up-power", f"node={node}", told, [Edit(("nodes", node, "power", "source"), "ups")])]
