"""The ranking of layouts: the site as it is and the best of every kind, written into copies of the site, computed anew
with all draws, put in order, and compared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from advisor.advice.axes import axes, leads, versus
from advisor.advice.flips import flips
from advisor.advice.kinds import AS_IT_IS
from advisor.advice.layouts import Plan
from advisor.advice.promise import promises
from advisor.advice.records import Ask, Candidate, Entry, Layout, Ranking, Search
from advisor.advice.regret import regrets
from advisor.advice.score import MET, asks_of, hopeful, score, worst_shares
from advisor.advice.search import ENOUGH, Computed, Found, search
from advisor.advice.setups import Setup, setups
from advisor.advice.story import differences, hop_lines, place_lines
from advisor.errors import InputError, Position, Problem
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.network.alternatives import count_forests
from advisor.site.change import edits_of
from advisor.site.edit import edited
from advisor.site.load import LoadedSite
from advisor.values import FIRST_DRAW

BUDGET = 400
"""Layouts computed in full, unless the person asks for more or fewer."""
MOST_COMPARED = 12
"""Layouts computed with all draws."""


def rank(
    loaded: LoadedSite,
    *,
    top: int = 6,
    budget: int = BUDGET,
    seed: int = 1,
    draws: int = 50,
    progress: Callable[[int, int], None] | None = None,
) -> Ranking:
    """Compare the ways a site may be set up.

    `top` layouts are listed, the site as it is and the recommended one always among them; `budget` bounds how many are
    computed. `progress(done, of)` is called after each. Raises InputError where there is nothing to compare.
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
    candidates = [_as_it_is(loaded, original, seed, draws)]
    candidates += [_written(loaded, layout, seed, draws) for layout in chosen if layout.changes]
    entries = _in_order(candidates, asks, counted, found)
    recommended = _recommended(entries)
    listed = _listed(entries, recommended, top)
    return Ranking(
        loaded=loaded,
        asks=asks,
        entries=listed,
        recommended=recommended.layout.id,
        because=_because(listed, recommended),
        flips=flips([entry.candidate for entry in listed], counted),
        promises=promises(recommended.candidate, counted),
        search=_told(found, tried, every, budget),
        varied=_varied(found, said),
        fixed=tuple(dict.fromkeys([*said, *(line for _, space in found.spaces for line in space.fixed)])),
    )


def _as_it_is(loaded: LoadedSite, original: Book, seed: int, draws: int) -> Candidate:
    hops = [
        f"{hop.node} to {hop.parent} " + (f"on {hop.band} GHz" if hop.air else f"by {hop.over}")
        for _, hop in sorted(original.hops.items())
    ]
    layout = Layout(AS_IT_IS, f"as it is: {', '.join(hops) or 'one node'}", (AS_IT_IS,), ())
    return Candidate(layout, loaded, open_book(loaded, Draws(seed, draws)))


def _written(loaded: LoadedSite, layout: Layout, seed: int, draws: int) -> Candidate:
    """A layout in a copy of the file's text, read again: what is told of it is what the written file gives."""
    copy = edited(loaded, edits_of(layout.changes))
    return Candidate(layout, copy, open_book(copy, Draws(seed, draws)))


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
    candidates: list[Candidate], asks: tuple[Ask, ...], counted: tuple[Ask, ...], found: Found
) -> list[Entry]:
    shares = {entry.layout.id: worst_shares(entry.book, counted) for entry in candidates}
    scores = {entry.layout.id: score(entry.book, asks, found.hopeless) for entry in candidates}
    chances = {id: round(float(np.mean(share[FIRST_DRAW:] >= MET)), 3) for id, share in shares.items()}
    lost = regrets(candidates, counted)

    def order(candidate: Candidate) -> tuple[float | str, ...]:
        id = candidate.layout.id
        worst = min(scores[id].worst, ENOUGH)
        steps = (-_steps(chances[id], 0.05), -_steps(worst, 0.05), _steps(lost[id], 0.05))
        return (-scores[id].met, *steps, candidate.layout.effort_min, id)

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


def _steps(value: float, step: float) -> int:
    return round(value / step)


def _recommended(entries: list[Entry]) -> Entry:
    """The first, or of those that meet as much and tie with it draw by draw the one that takes least work."""
    first = entries[0]
    alike = [
        entry
        for entry in entries[1:]
        if entry.score.met >= first.score.met
        and entry.versus_first is not None
        and (entry.versus_first.tie or entry.versus_first.wins > entry.versus_first.losses)
    ]
    return min([first, *alike], key=lambda entry: (entry.layout.effort_min, entry.rank))


def _listed(entries: list[Entry], recommended: Entry, top: int) -> tuple[Entry, ...]:
    """The first `top`, and always the recommended one and the site as it is."""
    always = [entry for entry in entries if entry is recommended or not entry.layout.changes]
    kept = [entry for entry in entries if entry.rank <= max(top - sum(e.rank > top for e in always), 1)]
    listed = sorted({id(entry): entry for entry in [*kept, *always]}.values(), key=lambda entry: entry.rank)
    return tuple(replace(entry, rank=number) for number, entry in enumerate(listed, start=1))


def _because(listed: tuple[Entry, ...], recommended: Entry) -> tuple[str, ...]:
    told = list(differences(listed[0], listed[1])) if len(listed) > 1 else []
    if recommended.layout.id != listed[0].layout.id:
        minutes = listed[0].layout.effort_min - recommended.layout.effort_min
        told.append(
            f"Recommended is {recommended.layout.told}: draw by draw it does as well as the first, and takes "
            f"{minutes:g} minutes less work."
        )
    return tuple(told)


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
