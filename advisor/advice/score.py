"""How well a layout serves what the site file asks for, read off a fact book."""

from __future__ import annotations

import numpy as np

from advisor.advice.records import Ask, Score
from advisor.facts import everyone, places
from advisor.facts.book import Book
from advisor.site.schema import Site
from advisor.subjects import place as place_subject
from advisor.values import CENTRE, Cases, Known, Unknown

MET = 1.0 - 1e-6
"""A place that gets this share of what it asks for gets it: sharing stops at the demand itself."""
ENOUGH = 2.0
"""Where everybody gets twice what is asked, more is no better (common practice, no source)."""
DIRECTIONS = ("down", "up")


def asks_of(site: Site) -> tuple[Ask, ...]:
    """Every speed the file asks for: of places with somebody active, and of `needs` about places; of several at one
    place the most. Where it asks for none at all, browsing at every place stands in."""
    found: list[Ask] = []
    for name, entry in sorted(site.places.items()):
        clients = entry.count if entry.active is None else min(entry.active, entry.count)
        for direction in DIRECTIONS:
            mbps = getattr(entry, f"{direction}_mbps")
            if mbps is not None and clients:
                found.append(Ask(name, direction, mbps))  # type: ignore[arg-type]
    for _, need in sorted(site.needs.items()):
        for direction in DIRECTIONS:
            mbps = getattr(need, f"{direction}_mbps")
            if need.place is not None and mbps is not None:
                found.append(Ask(need.place, direction, mbps, need.when))  # type: ignore[arg-type]
    if found:
        most: dict[tuple[str, str, str], Ask] = {}
        for ask in found:
            key = (ask.place, ask.direction, ask.when)
            if key not in most or most[key].mbps < ask.mbps:
                most[key] = ask
        return tuple(most.values())
    return tuple(
        Ask(name, direction, everyone.browsing_mbps(direction), assumed=True)  # type: ignore[arg-type]
        for name, entry in sorted(site.places.items())
        if entry.active != 0
        for direction in DIRECTIONS
    )


def gets(book: Book, ask: Ask) -> Known | Unknown:
    """What each active client gets of what is asked."""
    subject = place_subject(ask.place)
    if ask.when == "alone":
        value = places.alone(book, subject, ask.direction, "tcp").value
    else:
        value = places.likely(book, ask.place, ask.direction)
    assert isinstance(value, (Known, Unknown))
    return value


def score(book: Book, asks: tuple[Ask, ...], hopeless: frozenset[str] = frozenset()) -> Score:
    """Needs met and the worst share, at typical figures. Places nothing compared can serve (`hopeless`) count as not
    met; they say nothing about which layout is better, so the worst share is that of the others."""
    met, worst, worst_at = 0, float("inf"), ""
    missing: dict[str, None] = {}
    for ask in asks:
        if ask.place in hopeless:
            continue
        value = gets(book, ask)
        if isinstance(value, Unknown):
            missing.update(dict.fromkeys(value.missing))
            continue
        share = float(value.centre) / ask.mbps
        met += share >= MET
        if round(share, 3) < worst:
            worst, worst_at = round(share, 3), f"{ask.place} {ask.direction}"
    return Score(met, len(asks), worst if np.isfinite(worst) and not missing else 0.0, worst_at, tuple(missing))


def worst_shares(book: Book, asks: tuple[Ask, ...]) -> Cases:
    """The worst place's share of its need in every case; 0 where something is not known. Asks of hopeless places are
    to be left out by the caller (`hopeful`)."""
    worst = np.full(book.draws.size, np.inf)
    for ask in asks:
        value = gets(book, ask)
        share = 0.0 if isinstance(value, Unknown) else np.asarray(value.raw, dtype=float) / ask.mbps
        worst = np.minimum(worst, share)
    return np.where(np.isfinite(worst), worst, 0.0)


def hopeful(asks: tuple[Ask, ...], hopeless: frozenset[str]) -> tuple[Ask, ...]:
    return tuple(ask for ask in asks if ask.place not in hopeless)


def typically(value: Known | Unknown) -> float:
    return float(np.ravel(value.raw)[CENTRE]) if isinstance(value, Known) else 0.0
