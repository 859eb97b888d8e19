"""The ranking of layouts: the site as it is and the best of every kind, written into copies of the site, computed anew
with all draws, put in order, and compared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from advisor.advice.axes import axes, leads, versus, walked
from advisor.advice.flips import flips
from advisor.advice.kinds import AS_IT_IS
from advisor.advice.layouts import Plan, kinds_of
from advisor.advice.positions import MOVE
from advisor.advice.promise import promises
from advisor.advice.records import Ask, Candidate, Entry, Layout, Ranking, Search
from advisor.advice.regret import regrets
from advisor.advice.score import ENOUGH, MET, asks_of, hopeful, score, worst_shares
from advisor.advice.search import Computed, Found, search
from advisor.advice.setups import Setup, setups
from advisor.advice.story import differences, hop_lines, place_lines
from advisor.advice.trials import Trial, trial
from advisor.errors import InputError, Position, Problem
from advisor.facts import joins, uses
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.network.alternatives import count_forests
from advisor.network.graph import Hop
from advisor.site.change import edits_of
from advisor.site.edit import CannotEdit, edited
from advisor.site.load import LoadedSite
from advisor.subjects import place as place_subject
from advisor.values import FIRST_DRAW, Cases, Known

BUDGET = 400
"""Layouts computed in full, unless the person asks for more or fewer."""
NEAR = 0.1
"""A layout that meets everything in at most this share of the cases less than the best is as good for who pays for it
(common practice, no source)."""
MOST_COMPARED = 8
"""Layouts computed with all draws."""


def rank(
    loaded: LoadedSite,
    *,
    top: int = 6,
    budget: int = BUDGET,
    seed: int = 1,
    draws: int = 100,
    progress: Callable[[int, int], None] | None = None,
) -> Ranking:
    """Compare the ways a site may be set up.

    The first `top` are listed, and always the recommended one, the site as it is and the best of every kind; `budget`
    bounds how many are computed. `progress(done, of)` is called after each. Raises InputError where there is
    nothing to compare.
    """
    original = open_book(loaded, Draws(seed, 0))
    asks = asks_of(loaded.site)
    if not asks:
        help = "Say where people use it: places with a client, and down_mbps and up_mbps for what they must get."
        raise InputError(loaded.file, [Problem(Position(1, 1), "there is no place to judge a layout by", help)])
    said: dict[str, None] = {}
    tried, every = setups(loaded, original, said)
    found = search(tried, asks, budget=budget, progress=progress)
    counted = hopeful(asks, found.hopeless)
    chosen = _chosen(found, original)
    candidates = [_as_it_is(loaded, original, asks, found, seed, draws)]
    for layout in chosen:
        if layout.changes:
            try:
                candidates.append(_written(loaded, layout, original, seed, draws))
            except CannotEdit as error:
                said.setdefault(f"Left out, as it cannot be written into this file: {layout.told} ({error.told}).")
            except InputError as error:
                said.setdefault(f"Left out, as the file would not be valid: {layout.told} ({error.problems[0].what}).")
    trials = {entry.layout.id: trial(entry, counted) for entry in candidates}
    entries = _in_order(candidates, trials, asks, found)
    recommended = _recommended(entries)
    listed = _followed(_listed(entries, recommended, top), recommended)
    unserved = {place: joins.association(original, place).missing for place in sorted(found.hopeless)}
    known = recommended.score
    return Ranking(
        loaded=loaded,
        asks=asks,
        entries=listed,
        recommended=recommended.layout.id,
        because=differences(entries[0], entries[1]) if len(entries) > 1 else (),
        recommended_because=_recommended_because(entries, recommended),
        hopeless=tuple(place for place, gaps in unserved.items() if not gaps),
        missing=tuple(dict.fromkeys([gap for gaps in unserved.values() for gap in gaps] + list(known.unknown))),
        flips=flips([entry.candidate for entry in listed], trials, counted, ENOUGH),
        promises=promises(recommended.candidate, asks, counted, trials[recommended.layout.id]),
        search=_told(found, tried, every, budget),
        varied=_varied(found, said),
        fixed=tuple(dict.fromkeys([*said, *(found.spaces[0][1].fixed if found.spaces else ())])),
    )


def _as_it_is(
    loaded: LoadedSite, original: Book, asks: tuple[Ask, ...], found: Found, seed: int, draws: int
) -> Candidate:
    """The site as the file tells it; where an uplink is left to the equipment, as the worst of the ways it may take."""
    ways = [{}, *(dict(way.fixed) for node in original.options for way in original.variants(node).values())]
    books = [Book(loaded, draws=original.draws, like=original, fixed=fixed) for fixed in ways]
    scores = [score(book, asks, found.hopeless).key for book in books]
    worst = min(range(len(ways)), key=lambda index: (scores[index], index))
    fixed = ways[worst] or {node: original.hops[node] for node in original.options if node in original.hops}
    hops = [_in_words(hop, original) for _, hop in sorted(books[worst].hops.items())]
    kinds = (AS_IT_IS, *kinds_of(books[worst]), *found.spaces[0][0].kinds)
    layout = Layout(AS_IT_IS, ("as it is", *hops), kinds, ())
    return Candidate(layout, loaded, Book(loaded, draws=Draws(seed, draws), fixed=fixed, ground=original), fixed)


def _in_words(hop: Hop, original: Book) -> str:
    told = f"{hop.node} to {hop.parent} " + (f"on {hop.band} GHz" if hop.air else f"by {hop.over}")
    return f"{told} (if it so chooses)" if len(original.options.get(hop.node, ())) > 1 else told


def _written(loaded: LoadedSite, layout: Layout, original: Book, seed: int, draws: int) -> Candidate:
    """A layout in a copy of the file's text, read again: what is told of it is what the written file gives."""
    copy = edited(loaded, edits_of(layout.changes))
    moved = any(change.operator == MOVE for change in layout.changes)
    return Candidate(layout, copy, open_book(copy, Draws(seed, draws), ground=None if moved else original), {})


def _value(entry: Computed) -> tuple[int, float, float]:
    return entry.score.met, min(entry.score.worst, ENOUGH), min(entry.poor, ENOUGH)


def _chosen(found: Found, original: Book) -> list[Layout]:
    """The best of every way to run uplinks and names, in order of what they give; of each kind the best at least."""
    best: dict[str, tuple[tuple[float, ...], str, Plan, Layout]] = {}
    for id, entry in found.plans.items():
        layout = entry.plan.layout(original)
        met, worst, poor = _value(entry)
        key = (-met, -round(worst, 2), -round(poor, 1), layout.effort_min)
        family = entry.plan.family()
        if family not in best or (key, id) < best[family][:2]:
            best[family] = (key, id, entry.plan, layout)
    ordered = [layout for _, _, _, layout in sorted(best.values(), key=lambda entry: entry[:2])]
    taken: dict[str, Layout] = {}
    seen: set[str] = set()
    for layout in ordered:
        if not set(layout.kinds) <= seen:
            taken[layout.id] = layout
            seen |= set(layout.kinds)
    for layout in ordered:
        if len(taken) >= MOST_COMPARED:
            break
        taken.setdefault(layout.id, layout)
    return list(taken.values())


def _in_order(
    candidates: list[Candidate], trials: dict[str, Trial], asks: tuple[Ask, ...], found: Found
) -> list[Entry]:
    """By what could be lost against the best layout of the same evening, needs before shares; then by how often
    everything is met; then by effort."""
    counted = hopeful(asks, found.hopeless)
    shares = {entry.layout.id: worst_shares(entry.book, counted) for entry in candidates}
    scores = {entry.layout.id: score(entry.book, asks, found.hopeless) for entry in candidates}
    chances = {entry.layout.id: _chance(entry.book, shares[entry.layout.id], found.hopeless) for entry in candidates}
    lost = regrets(trials, ENOUGH)

    def order(candidate: Candidate) -> tuple[float | str, ...]:
        id = candidate.layout.id
        steps = (_steps(lost[id].share, 0.05), -_steps(chances[id], 0.05), -_steps(min(scores[id].worst, ENOUGH), 0.05))
        return (lost[id].needs, *steps, candidate.layout.effort_min, id)

    ordered = sorted(candidates, key=order)
    everything = [axes(entry) for entry in ordered]
    ahead = leads([(scores[entry.layout.id], axis) for entry, axis in zip(ordered, everything, strict=True)])
    first = shares[ordered[0].layout.id]
    return [
        Entry(
            rank=number,
            candidate=candidate,
            score=scores[candidate.layout.id],
            chance=chances[candidate.layout.id],
            regret=lost[candidate.layout.id],
            versus_first=versus(first, shares[candidate.layout.id]) if number > 1 else None,
            axes=axis,
            places=place_lines(candidate, asks),
            hops=hop_lines(candidate, counted),
            leads=lead,
        )
        for number, (candidate, axis, lead) in enumerate(zip(ordered, everything, ahead, strict=True), start=1)
    ]


def _chance(book: Book, worst: Cases, hopeless: frozenset[str]) -> float:
    """Share of the draws in which every speed asked for is met and every call holds."""
    met = worst >= MET
    for place, entry in sorted(book.site.places.items()):
        if entry.calls and place not in hopeless:
            value = uses.holds_call(book, place_subject(place)).value
            met = met & (np.asarray(value.raw, dtype=bool) if isinstance(value, Known) else False)
    return round(float(np.mean(met[FIRST_DRAW:])), 3)


def _steps(value: float, step: float) -> int:
    return round(value / step)


def _recommended(entries: list[Entry]) -> Entry:
    """The least work among those that lose no need on any evening, and meet everything nearly as often as the best."""
    robust = [entry for entry in entries if entry.regret.needs == entries[0].regret.needs]
    most = max(entry.chance for entry in robust)
    near = [entry for entry in robust if entry.chance >= most - NEAR - 1e-9]
    return min(near, key=lambda entry: (entry.layout.effort_min, entry.rank))


def _listed(entries: list[Entry], recommended: Entry, top: int) -> tuple[Entry, ...]:
    """The first `top`; and always the recommended one, the site as it is, and the best of every kind."""
    kept = [entry for entry in entries if entry.rank <= max(top, 1) or entry is recommended]
    for kind in dict.fromkeys(kind for entry in entries for kind in entry.layout.kinds):
        if not any(kind in entry.layout.kinds for entry in kept):
            kept.append(next(entry for entry in entries if kind in entry.layout.kinds))
    return tuple(sorted(kept, key=lambda entry: entry.rank))


def _followed(listed: tuple[Entry, ...], recommended: Entry) -> tuple[Entry, ...]:
    """The layout to take and the site as it is with their walks; to follow all would take seconds."""

    def follow(entry: Entry) -> Entry:
        if entry.layout.id != recommended.layout.id and entry.layout.changes:
            return entry
        return replace(entry, axes=replace(entry.axes, walks=walked(entry.candidate.book)))

    return tuple(follow(entry) for entry in listed)


def _recommended_because(entries: list[Entry], recommended: Entry) -> str:
    first = entries[0]
    if recommended is first:
        return ""
    most = max(entry.chance for entry in entries)
    minutes = first.layout.effort_min - recommended.layout.effort_min
    return (
        f"It meets everything that any layout can meet in {recommended.chance:.0%} of the cases computed (with any "
        f"other in at most {most:.0%}), loses no need on a quiet, usual or busy evening, and takes {minutes:g} minutes "
        "less work than the first."
    )


def _told(found: Found, tried: list[Setup], every: int, budget: int) -> Search:
    uplinks = sum(count_forests(space.ways, space.held, space.roots) for _, space in found.spaces)
    whole = found.bound is None and not found.stopped and len(tried) == every
    met, worst = found.best if found.bound is None else found.bound
    how = (
        "cells that hear each other take turns, wires and the internet line carry what they carry: no layout left out "
        "can do better than that"
    )
    if len(tried) < every:
        how = f"{every - len(tried)} combinations of names, cables, positions and powers were not looked at"
    return Search(uplinks, len(found.plans), budget, whole, (met, worst), how, found.stopped)


def _varied(found: Found, said: dict[str, None]) -> tuple[str, ...]:
    lines: dict[str, None] = {}
    for setup, space in found.spaces:
        lines.update(dict.fromkeys(f"Tried: {told}." for told in setup.told))
        lines.update(dict.fromkeys(space.varied))
    return tuple(lines)
