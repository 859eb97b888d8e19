"""How much the radios of a node put into one frame: as declared, or not known and somewhere between small and large.

Nobody reads that off a box, and it decides what short frames cost. Where neither the radio nor its gear class says it,
every figure that hangs on it is computed under each of the three sets of real gear and mixed: small aggregates at the
10 % point, usual ones at the centre, large ones at the 90 % point, one draw for all radios of a node. Where frames are
short by their rate the three hardly differ; what else gear does its own way (habits) is a small spread of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from advisor.facts.book import Book
from advisor.facts.draws import Z90
from advisor.facts.equipment import assumption, setting
from advisor.network.inventory import RadioUnit
from advisor.physics.mac import MacSettings, between_sets, mac_settings, sets_of
from advisor.trace import Assumed, Fact, Looked
from advisor.values import FIRST_DRAW, POOR, Cases, constant, from_cases


def aggregating(book: Book, radio: RadioUnit) -> Fact:
    """How much a radio puts into one frame: the name of its set, or in each case how far it is from usual gear, -1 at
    small aggregates, +1 at large ones. What formulas take as `Aggregating`, and what tells it among their inputs."""
    key = f"aggregation[node={radio.node}]"
    if radio.mac is not None:
        return setting(f"aggregation[radio={radio.name}]", "", radio.settings["mac"])
    by = Assumed(
        f"{radio.node} packs its frames as small, usual or large aggregates do: its aggregation is not given",
        "common practice, no source",
    )
    return Fact(key, "", from_cases(aggregation_mix(book, radio)), by)


def mac_of(book: Book, radio: RadioUnit) -> MacSettings | None:
    """The set a radio runs with, as declared; None where its aggregation is not known."""
    return None if radio.mac is None else mac_settings(radio.mac)


def usual_mac(radio: RadioUnit) -> MacSettings:
    """The declared set, the usual one where none is: for what hangs on beacons, rates or single packets alone."""
    return mac_settings() if radio.mac is None else mac_settings(radio.mac)


def usual_set(radio: RadioUnit) -> Fact:
    """The name of `usual_mac`, for formulas that do not vary with aggregation."""
    if radio.mac is not None:
        return setting(f"mac[radio={radio.name}]", "", radio.settings["mac"])
    how = Looked("rates are chosen as gear of usual aggregation does; other gear hardly differs in that")
    return Fact(f"mac[radio={radio.name}]", "", constant(mac_settings().name), how)


def aggregation_mix(book: Book, radio: RadioUnit) -> Cases:
    """In each case how far a radio is from usual gear: -1 small aggregates, +1 large ones; 0 where its set is declared,
    since there is but the one."""
    if radio.mac is not None:
        return np.zeros(book.draws.size)
    return book.lasting(
        ("aggregation", radio.node),
        lambda: np.clip(book.draws.between(-1.0, 0.0, 1.0, "aggregation", radio.node, more_is_better=True), -1.0, 1.0),
    )


def habits(book: Book, radio: RadioUnit) -> Fact:
    """What gear delivers of what its set would, in each case; at the ends of aggregation it stays 1. Where its set is
    declared, what the terms of the exchange themselves leave open."""
    entry = assumption("link", "exchange_share" if radio.mac is not None else "exchange_habits_share", "")
    cases = 1.0 + float(entry.raw) * book.draws.normal("exchange habits", radio.node) / Z90
    if radio.mac is None:
        cases[POOR:FIRST_DRAW] = 1.0
    return Fact(f"exchange_habits[node={radio.node}]", "", from_cases(cases, joint=radio.mac is None), entry.by)


def over_sets(book: Book, radio: RadioUnit, evaluate: Callable[[MacSettings], Any]) -> Any:
    """Any figure under the sets a radio may run with, mixed case by case; once where its set is declared."""
    how = aggregating(book, radio).raw
    return between_sets(how, [evaluate(mac) for mac in sets_of(how)])
