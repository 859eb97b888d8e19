"""The settings card: what to enter at which node, in an order that strands none, and the way back after each step.

Every step is one change; within it nodes are set from the farthest to the nearest, so that each is still reached when
its turn comes. Whether that is so is played through: a hop holds while both its ends have the old settings, or both the
new ones, where the change touches it. After each step all of the site must be reached again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from advisor.advice.improve import Improvement
from advisor.advice.offered import nodes_of
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.facts.outage_net import supplied
from advisor.network.graph import chain
from advisor.outage.ends import simulate
from advisor.outage.records import Happening
from advisor.site.change import Change
from advisor.site.edit import REMOVE, Edit, edited
from advisor.site.load import LoadedSite


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing to enter, or to do, at one node."""

    node: str
    setting: str
    value: str
    before: str
    reached: bool
    """Whether the node is reached over the network when its turn comes; else somebody stands beside it."""


@dataclass(frozen=True)
class CardStep:
    """One change as entries in order, with how to go back."""

    number: int
    change: Change
    entries: tuple[Entry, ...]
    waits: tuple[str, ...]
    """Nodes that are out of reach between their own entry and the end of the step."""
    lost: tuple[str, ...]
    """Nodes that are not reached after the step though they were before it; empty on a card to follow."""


@dataclass(frozen=True)
class Card:
    """The settings of all steps."""

    steps: tuple[CardStep, ...]
    untested: bool
    """True where the file does not tell enough to play the steps through."""


def card_of(improvement: Improvement) -> Card:
    """The card for the steps of an improvement."""
    here = improvement.loaded
    steps, untested = [], False
    for number, step in enumerate(improvement.steps, 1):
        book = open_book(here, Draws(1, 0))
        after = edited(here, step.change.edits)
        later = open_book(after, Draws(1, 0))
        untested = untested or bool(supplied(book).missing or supplied(later).missing)
        steps.append(_step(number, step.change, book, later))
        here = after
    return Card(tuple(steps), untested)


def reached(book: Book) -> set[str]:
    """Nodes whose way up works as the file stands."""
    found = simulate(supplied(book).net, Happening("as it is", ""))
    return {name for name, end in found.boxes.items() if end.out_s == 0.0}


def _step(number: int, change: Change, book: Book, later: Book) -> CardStep:
    order = farthest_first(book, nodes_of(book, change) or sorted(book.site.nodes)[:1])
    before, after = reached(book), reached(later)
    done: set[str] = set()
    entries: list[Entry] = []
    waits: list[str] = []
    touched = _touched(change, book, later)
    for node in order:
        still = _still_reached(book, before, done, touched)
        for setting, value, old in _settings(book, change, node, order):
            entries.append(Entry(node, setting, value, old, node in still))
        done.add(node)
        out = before - _still_reached(book, before, done, touched) - set(waits)
        waits += sorted(out) if node != order[-1] else []
    return CardStep(number, change, tuple(entries), tuple(waits), tuple(sorted(before - after)))


def farthest_first(book: Book, nodes: Iterable[str]) -> list[str]:
    """Nodes by how many hops they are from the line, the farthest first."""
    return sorted(nodes, key=lambda node: (-len(chain(node, book.hops)), node))


def _touched(change: Change, book: Book, later: Book) -> set[str]:
    """Nodes whose uplink hangs on what changes at either end: its channel, its credential, its parent or band."""
    found = set()
    old, new = supplied(book).net.boxes, supplied(later).net.boxes
    for node, hop in book.hops.items():
        ends = [name for name in (hop.radio, hop.parent_radio) if name is not None]
        tuned = any(
            book.radios[name].channel != later.radios[name].channel
            or book.radios[name].width_mhz != later.radios[name].width_mhz
            for name in ends
            if name in later.radios
        )
        lent = {network for way in old[node].ways if way.air for network in way.networks}
        named = any(edit.path[0] == "networks" and str(edit.path[1]) in lent for edit in change.edits)
        if tuned or named or old[node].ways[:1] != new[node].ways[:1]:
            found.add(node)
    return found


def _still_reached(book: Book, before: set[str], done: set[str], touched: set[str]) -> set[str]:
    """Nodes reached while some have the new settings and others the old ones."""

    def works(node: str) -> bool:
        for hop in chain(node, book.hops):
            if hop.node in touched and (hop.node in done) != (hop.parent in done):
                return False
        return True

    return {node for node in before if works(node)}


def _settings(book: Book, change: Change, node: str, order: list[str]) -> Iterable[tuple[str, str, str]]:
    """What to enter at one node: setting, new value, old value, in words."""
    source: LoadedSite = book.source  # type: ignore[assignment]
    shown: dict[str, None] = {}
    for edit in change.edits:
        path = edit.path
        if path[0] == "nodes" and str(path[1]) == node:
            yield _entry(source, edit, path[2:])
        elif path[0] == "networks" and node in nodes_of(book, Change("", "", "", (edit,))):
            yield _entry(source, edit, ("network", *path[1:]))
        elif path[0] == "internet" and node == order[-1]:
            yield _entry(source, edit, ("internet line", *path[1:]))
        elif path[0] in ("places", "walks") and node == order[-1] and str(path[1]) not in shown:
            shown[str(path[1])] = None
            yield _entry(source, edit, (f"devices at {path[1]}", *path[2:]))


WORDS = {
    "channel": "channel", "width_mhz": "channel width", "eirp_dbm": "radiated power", "uplink": "uplink",
    "to": "parent", "band": "band", "over": "carried over", "speed_mbps": "speed", "security": "security",
    "credential": "credential", "backhaul": "uplink credential", "mode": "mode", "address_server": "DHCP server",
    "role": "role", "queue": "queue", "aids": "802.11", "choice": "chosen by", "traffic_class": "traffic class",
    "source": "supply", "nodes": "carried by", "bands": "bands", "hidden": "hidden", "secondary": "second half",
    "basic_rates_mbps": "basic rates", "generation": "password number", "length_m": "length",
}  # fmt: skip
UNITS = {
    "length_m": " m", "width_mhz": " MHz", "eirp_dbm": " dBm", "speed_mbps": " Mb/s", "basic_rates_mbps": " Mb/s",
    "band": " GHz",
}  # fmt: skip


def _entry(source: LoadedSite, edit: Edit, path: tuple[Any, ...]) -> tuple[str, str, str]:
    told = " ".join(WORDS.get(str(step), str(step)) for step in path if step != "radios")
    name, before = str(edit.path[-1]), _present(source, edit.path)
    return told, _value(edit.value, name), "not in the file" if before is REMOVE else _value(before, name)


def _present(source: LoadedSite, path: tuple[str | int, ...]) -> Any:
    here: Any = source.document.value
    for step in path:
        inside = isinstance(here, Mapping) and step in here
        if not inside and not (isinstance(here, list) and isinstance(step, int) and step < len(here)):
            return REMOVE
        here = here[step]
    return here


def _value(value: Any, name: str) -> str:
    if value is REMOVE:
        return "not set (as usual for the equipment)"
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, Mapping):
        return ", ".join(f"{WORDS.get(str(key), str(key))} {_value(item, str(key))}" for key, item in value.items())
    if isinstance(value, (list, tuple)):
        return ", ".join(_value(item, "") for item in value) + UNITS.get(name, "")
    return f"{value}{UNITS.get(name, '')}"
