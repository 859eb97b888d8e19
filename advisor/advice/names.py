"""The name schemes to compare: one name over all nodes and bands, or a name of its own for each band."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from advisor.advice.effort import change, plain_band
from advisor.advice.kinds import NAME_PER_BAND, ONE_NAME
from advisor.facts import links, rates
from advisor.facts.abilities import settable
from advisor.facts.book import Book
from advisor.network.inventory import RadioUnit
from advisor.network.joining import networks_on
from advisor.site.change import Change
from advisor.site.edit import REMOVE, Edit
from advisor.site.networks import Network
from advisor.values import Known

SLOW_BAND = "2.4"
MIXED = "wpa2-wpa3-personal"
"""What joins networks of either security."""


@dataclass(frozen=True, slots=True)
class Scheme:
    """A way to name the networks, with what it takes."""

    id: str
    told: str
    kinds: tuple[str, ...]
    changes: tuple[Change, ...] = ()


def schemes(book: Book, said: dict[str, None]) -> list[Scheme]:
    """The names as they are first, then those the file or the equipment allows to compare."""
    serving = {key: net for key, net in sorted(book.site.networks.items()) if net.purpose == "clients"}
    present = Scheme("", "", _present_kind(book, serving))
    wanted = book.site.choices.names
    found = [present]
    if not serving:
        return found
    if wanted and "one" not in wanted:
        said.setdefault("One name for all is not compared: choices.names does not list it.")
    elif ONE_NAME not in present.kinds:
        found += _one_name(book, serving)
    refusing = [node for node in sorted(book.site.nodes) if _two_bands(book, node) and not _per_band(book, node)]
    if "per-band" in wanted or (not wanted and not refusing):
        if NAME_PER_BAND not in present.kinds:
            found += _per_band_names(book, serving)
    elif refusing and not wanted:
        said.setdefault(f"A name per band is not compared: {refusing[0]} carries one name on all its bands.")
    return found


def _per_band(book: Book, node: str) -> bool:
    return bool(settable(book, node, "names_per_band").value)


def _two_bands(book: Book, node: str) -> bool:
    return len({radio.band for radio in book.inventory.radios_of(node) if radio.serves_clients}) > 1


def _present_kind(book: Book, serving: dict[str, Network]) -> tuple[str, ...]:
    offered = [
        (radio.band, frozenset(net.octets for key, net in networks_on(book.site, radio) if key in serving))
        for radio in book.inventory.radios.values()
        if radio.serves_clients
    ]
    names = {carried for _, carried in offered if carried}
    by_band = {band: {carried for own, carried in offered if own == band and carried} for band, _ in offered}
    if len(names) == 1 and len(next(iter(names))) == 1:
        return (ONE_NAME,)
    apart = [frozenset().union(*carried) for carried in by_band.values() if carried]
    if len(apart) > 1 and not frozenset.intersection(*apart):
        return (NAME_PER_BAND,)
    return ()


def _one_name(book: Book, serving: dict[str, Network]) -> Iterable[Scheme]:
    """All client networks become the one the gateway carries, on every node and band."""
    gateways = {name for name, node in book.site.nodes.items() if node.role == "gateway"}
    kept = min(serving, key=lambda key: (bool(serving[key].nodes) and not gateways & set(serving[key].nodes), key))
    gone = [key for key in serving if key != kept]
    if any(set(gone) & set(scenario.changed) for scenario in book.site.outages.values()):
        return
    edits = [Edit(("networks", key), REMOVE) for key in gone]
    edits += [
        Edit(("networks", kept, field), REMOVE)
        for field in ("nodes", "bands")
        if field in serving[kept].model_fields_set
    ]
    edits += [
        Edit(("places", name, "network"), REMOVE)
        for name, entry in sorted(book.site.places.items())
        if entry.network in serving
    ]
    edits += [
        Edit(("nodes", name, "backhaul", "network"), kept)
        for name, node in sorted(book.site.nodes.items())
        if node.backhaul.network in gone
    ]
    name = serving[kept].name or kept
    securities = {str(net.security) for net in serving.values() if net.security is not None}
    mixed = {"wpa2-personal", "wpa3-personal"} <= securities
    if mixed:
        edits.append(Edit(("networks", kept, "security"), MIXED))
    how = "WPA2/WPA3 mixed (older devices join too; weaker than WPA3 alone)" if mixed else "its security"
    told = f"Give every node the network name {name} with its password and {how}, on every band."
    yield Scheme("one-name", "one name", (ONE_NAME,), (change("join-names", f"network={kept}", told, edits),))


def _per_band_names(book: Book, serving: dict[str, Network]) -> Iterable[Scheme]:
    """Each client network keeps its name on the faster bands and gets another one on 2.4 GHz; places use the faster
    bands wherever they hold there, or the slower one."""
    edits: list[Edit] = []
    slow: dict[str, str] = {}
    for key, net in serving.items():
        bands = sorted({radio.band for radio in _carrying(book, key)})
        fast = [band for band in bands if band != SLOW_BAND]
        own, name = f"{key}-24", f"{net.name}-24"
        if SLOW_BAND not in bands or not fast or net.name is None:
            continue
        if own in book.site.networks or len(name.encode()) > 32 or len(own) > 40:
            continue
        like = net.model_dump(exclude_unset=True, exclude={"name", "bands"})
        edits += [
            Edit(("networks", key, "bands"), [plain_band(band) for band in fast]),
            Edit(("networks", own), {"name": name, "bands": [plain_band(SLOW_BAND)], **_plain(like)}),
        ]
        slow[key] = own
    if not slow:
        return
    names = ", ".join(f"{serving[key].name}-24" for key in slow)
    told = f"Give 2.4 GHz a name of its own on every node: {names}, with the same password."
    named = change("split-names", f"network={next(iter(slow))}", told, edits)
    for id, words, faster in (
        ("names-per-band-fast", "a name per band, clients told 5 GHz where it holds", True),
        ("names-per-band-slow", "a name per band, clients told 2.4 GHz", False),
    ):
        moved, uses = _told_band(book, serving, slow, faster)
        tell = change("split-names", "network=places", uses, moved) if moved else None
        yield Scheme(id, words, (NAME_PER_BAND,), (named, tell) if tell else (named,))


def _told_band(book: Book, serving: dict[str, Network], slow: dict[str, str], faster: bool) -> tuple[list[Edit], str]:
    """Which network each place is told to use, as edits and in words."""
    only = next(iter(slow)) if len(serving) == 1 else None
    edits, on_slow = [], []
    for name, entry in sorted(book.site.places.items()):
        network = entry.network or only
        if network not in slow:
            continue
        use = network if faster and _holds_fast(book, name, network) else slow[network]
        if not faster and not _has_band(book, name, SLOW_BAND):
            use = network
        if use != network:
            on_slow.append(name)
        if use != entry.network:
            edits.append(Edit(("places", name, "network"), use))
    where = f"at {', '.join(on_slow)} the 2.4 GHz name" if on_slow else "nowhere the 2.4 GHz name"
    rest = "everywhere else the other one"
    return edits, f"Save one of the two names only on every device: {where}, {rest}."


def _carrying(book: Book, key: str) -> list[RadioUnit]:
    return [
        radio
        for radio in book.inventory.radios.values()
        if radio.serves_clients and any(key == other for other, _ in networks_on(book.site, radio))
    ]


def _has_band(book: Book, place: str, band: str) -> bool:
    return band in book.inventory.clients[book.site.places[place].client].bands


def _holds_fast(book: Book, place: str, network: str) -> bool:
    """Whether the place's client typically holds a radio of this network on a faster band."""
    for radio in _carrying(book, network):
        if radio.band != SLOW_BAND and _has_band(book, place, radio.band):
            margin = rates.answer_margin_db(book, links.to_place(place, radio.name)).value
            if isinstance(margin, Known) and float(margin.centre) >= 0:
                return True
    return False


def _plain(value: Any) -> Any:
    """Model content as plain YAML data."""
    if isinstance(value, dict):
        return {key: _plain(part) for key, part in value.items()}
    return list(value) if isinstance(value, tuple) else value
