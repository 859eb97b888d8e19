"""What varies beside uplinks and channels: names, cables, positions, powers. Each combination is a copy of the site in
which uplinks and channels then vary."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import Any

from advisor.advice.effort import change, plain_band
from advisor.advice.kinds import MOVED, WIRED
from advisor.advice.names import schemes
from advisor.advice.positions import MOVE, moves
from advisor.errors import InputError
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.site.change import Change, edits_of
from advisor.site.edit import REMOVE, CannotEdit, Edit, edited
from advisor.site.load import LoadedSite

MOST_SETUPS = 64
"""Combinations of names, cables, positions and powers that are looked at; those with the fewest changes first."""

POWER = "set-power"


@dataclass(frozen=True)
class Setup:
    """A copy of the site with other names, cables, positions or powers."""

    id: str
    told: tuple[str, ...]
    kinds: tuple[str, ...]
    changes: tuple[Change, ...]
    loaded: LoadedSite
    book: Book
    """Typical figures only."""


@dataclass(frozen=True, slots=True)
class Part:
    """One thing that may be done, or left (no id)."""

    id: str = ""
    told: str = ""
    kinds: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()


def setups(loaded: LoadedSite, base: Book, said: dict[str, None]) -> tuple[list[Setup], int]:
    """The combinations in order of how much they change, and how many there are in all."""
    names = [Part(scheme.id, scheme.told, scheme.kinds, scheme.changes) for scheme in schemes(base, said)]
    axes = [names, *cable_parts(base).values(), *_positions(base, said), *_powers(base)]
    every = prod(len(axis) for axis in axes)
    combinations = sorted(product(*axes), key=lambda parts: (sum(bool(part.id) for part in parts), _id(parts)))
    found = []
    for parts in combinations[:MOST_SETUPS]:
        changes = tuple(entry for part in parts for entry in part.changes)
        try:
            copy = edited(loaded, edits_of(changes)) if changes else loaded
        except CannotEdit as error:
            said.setdefault(f"Left out, as it cannot be written into this file: {_id(parts)} ({error.told}).")
            continue
        except InputError as error:
            said.setdefault(f"Left out, as the file would not be valid: {_id(parts)} ({error.problems[0].what}).")
            continue
        found.append(
            Setup(
                _id(parts),
                tuple(part.told for part in parts if part.told),
                tuple(dict.fromkeys(kind for part in parts for kind in part.kinds)),
                changes,
                copy,
                _book(copy, base, parts),
            )
        )
    return found, every


def _book(copy: LoadedSite, base: Book, parts: Iterable[Part]) -> Book:
    """Typical figures of a copy; what names and cables do not change is shared with the site as it is."""
    moved = any(change.operator in (MOVE, POWER) for part in parts for change in part.changes)
    return open_book(copy, Draws(base.draws.seed, 0), ground=None if moved else base, same_radios=not moved)


def _id(parts: Iterable[Part]) -> str:
    return "+".join(part.id for part in parts if part.id)


def cable_parts(book: Book) -> dict[str, list[Part]]:
    """For every node with cables that could be laid: none, or one of them."""
    by_node: dict[str, list[Part]] = {}
    for key, cable in sorted(book.site.choices.cables.items()):
        length = f"{cable.length_m:g} m " if cable.length_m else ""
        uplink = {"to": cable.to, "over": "ethernet", "speed_mbps": _short(cable.speed_mbps)}
        if cable.length_m:
            uplink["length_m"] = _short(cable.length_m)
        edits = cable_edits(book, cable.node, uplink)
        told = f"Lay {length}of cable from {cable.node} to {cable.to} and set {cable.node} up as an access point."
        laid = change("wire-hop", f"hop={cable.node}", told, edits, cable_m=cable.length_m or 0.0)
        by_node.setdefault(cable.node, [Part()]).append(
            Part(f"cable-{key}", f"{cable.node} by cable to {cable.to}", (WIRED,), (laid,))
        )
    return by_node


def cable_edits(book: Book, node: str, uplink: dict[str, Any]) -> list[Edit]:
    """What becomes of the file where a node gets its traffic over a cable."""
    entry = book.site.nodes[node]
    edits = [Edit(("nodes", node, "uplink"), uplink)]
    if entry.role == "relay":
        edits.append(Edit(("nodes", node, "role"), "access-point"))
    if "backhaul" in entry.model_fields_set:
        edits.append(Edit(("nodes", node, "backhaul"), REMOVE))
    return edits


def _short(value: float) -> int | float:
    """1000, not 1000.0."""
    return int(value) if value == int(value) else value


def _positions(book: Book, said: dict[str, None]) -> list[list[Part]]:
    """For every node with other positions: where it is, or one of them."""
    found = []
    for node in sorted(book.site.nodes):
        parts = [
            Part(f"{node}-{id}", f"{node} {told}", (MOVED,), (moved,)) for id, told, moved in moves(book, node, said)
        ]
        if parts:
            found.append([Part(), *parts])
    return found


def _powers(book: Book) -> list[list[Part]]:
    """For every radio with powers to compare: as it is, or one of them."""
    found = []
    for name, powers in sorted(book.site.choices.powers_dbm.items()):
        radio = book.inventory.radios[name]
        axis = [Part()]
        for power in powers:
            if power == radio.eirp_dbm:
                continue
            edits = power_edits(book, name, power)
            told = f"Set {name} to {power:g} dBm radiated power."
            axis.append(
                Part(
                    f"{name}-{power:g}dBm",
                    f"{name} at {power:g} dBm",
                    (),
                    (change(POWER, f"radio={name}", told, edits),),
                )
            )
        found.append(axis)
    return found


def power_edits(book: Book, radio: str, power_dbm: float) -> list[Edit]:
    """What becomes of the file where a radio radiates another power."""
    unit = book.inventory.radios[radio]
    declared = book.site.nodes[unit.node].radios.get(unit.id)
    path = ("nodes", unit.node, "radios", unit.id)
    edits = [Edit((*path, "eirp_dbm"), power_dbm)]
    if declared is None:
        edits.extend(undeclared(book, unit.node))
    elif declared.conducted_dbm is not None:
        edits.append(Edit((*path, "conducted_dbm"), REMOVE))
    return edits


def undeclared(book: Book, node: str) -> list[Edit]:
    """What has to stand in the file before a radio of a node without declared radios can be set: all of them."""
    if book.site.nodes[node].radios:
        return []
    return [
        Edit(("nodes", node, "radios", radio.id, "band"), plain_band(radio.band))
        for radio in book.inventory.radios_of(node)
    ]
