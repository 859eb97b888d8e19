"""What of a change the equipment does not let a person set."""

from __future__ import annotations

from dataclasses import replace

from advisor.data import catalogue
from advisor.facts.abilities import settable
from advisor.facts.book import Book
from advisor.facts.routes import line_node
from advisor.site.change import Change


def offered(book: Book, change: Change) -> Change:
    """The change with what the equipment does not let a person set, where that is in its way; `choices` overrules it,
    since whoever lists a value there can set it."""
    operator = catalogue("operators")["operators"].get(change.operator, {})
    if "takes" not in operator:
        return change
    refusing = [
        node
        for node in nodes_of(book, change)
        if settable(book, node, operator["takes"]).value in (False, "no") and not _listed(book, change, node)
    ]
    if not refusing:
        return change
    return replace(change, refused=f"{', '.join(refusing)} does not let {operator['told']} be set")


def nodes_of(book: Book, change: Change) -> list[str]:
    """The nodes whose settings a change touches: those its edits lie in, or that carry the networks they lie in; the
    box at the line for what is set there."""
    found: dict[str, None] = {}
    for edit in change.edits:
        if edit.path[0] == "nodes":
            found[str(edit.path[1])] = None
        elif edit.path[0] == "networks":
            network = book.site.networks.get(str(edit.path[1]))
            found |= dict.fromkeys(sorted((network.nodes if network else ()) or book.site.nodes))
        elif edit.path[0] == "internet":
            line = line_node(book)
            found |= {line: None} if line is not None else {}
    return list(found)


def _listed(book: Book, change: Change, node: str) -> bool:
    choices = book.site.choices
    if change.operator in ("retune", "fix-channel"):
        return any(str(book.inventory.radios[f"{node}.{id}"].band) in choices.channels for id in _radios(change, node))
    if change.operator == "set-power":
        return any(f"{node}.{id}" in choices.powers_dbm for id in _radios(change, node))
    if change.operator in ("change-parent", "pin-uplink"):
        return node in choices.parents
    if change.operator == "change-uplink-band":
        return node in choices.bands
    return change.operator == "split-names" and "per-band" in choices.names


def _radios(change: Change, node: str) -> list[str]:
    return [
        str(edit.path[3]) for edit in change.edits if edit.path[:3] == ("nodes", node, "radios") and len(edit.path) > 3
    ]
