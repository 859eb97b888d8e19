"""The search for the best layout: best bound first, so that what is left out is proven not to be better.

A partial layout decides setup, then uplinks node by node, then channels; `bounds.upper_bound` says how good it can
still become. The most promising is always carried on first; once the best layout computed is as good as the most
promising partial one, nothing better is left. Layouts are computed in full by the fact book, never by the bound.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import count
from typing import NamedTuple

from advisor.advice.bounds import upper_bound
from advisor.advice.choices import Space, space_of
from advisor.advice.figures import Figures
from advisor.advice.layouts import Plan
from advisor.advice.records import Ask, Score
from advisor.advice.score import ENOUGH, MET, hopeful, score, worst_shares
from advisor.advice.setups import Setup
from advisor.facts.book import Tuning
from advisor.network.alternatives import loops, on_one_channel
from advisor.network.graph import Hop, chain
from advisor.values import POOR

MOST_OPEN = 50_000
"""Partial layouts kept at a time; beyond, the least promising are dropped and their bound remembered."""
MOST_FIRST = 24
"""Layouts computed first, one for each way to run the uplinks, so that every kind is among those compared."""
MOST_CLIMBS = 100
"""Layouts from which better ones nearby are looked for."""
STEPS_PER_LAYOUT = 4
"""Partial layouts carried on for each layout that may be computed."""

SLACK = 0.05
"""A layout counts as better only where its worst place gets this share of its need more: shared air is computed within
5 % (data/ranges.yaml, `contention`)."""

Bound = tuple[int, float]


class _Partial(NamedTuple):
    """A partial layout in the queue: the best bound first, then the one that is further, then the earlier."""

    met: int
    worst: float
    left: int
    number: int
    field: _Field
    hops: dict[str, Hop]
    tuned: dict[str, Tuning]


@dataclass(frozen=True, eq=False)
class _Field:
    """One setup with what may vary in it."""

    setup: Setup
    space: Space
    figures: Figures

    def __lt__(self, other: object) -> bool:  # the queue never gets this far: numbers differ
        return False


class Computed(NamedTuple):
    """A layout computed at typical figures, with its worst share where everything uncertain is at its poor end."""

    score: Score
    poor: float
    plan: Plan


@dataclass
class Found:
    """What a search has found."""

    plans: dict[str, Computed] = field(default_factory=dict)
    """Every layout computed, by id."""
    spaces: tuple[tuple[Setup, Space], ...] = ()
    hopeless: frozenset[str] = frozenset()
    """Places whose client can join nothing in any setup, wherever the channels are."""
    bound: Bound | None = None
    """The best any layout left out could be; None where none is left that could be better."""
    slack: float = SLACK
    enough: float = ENOUGH
    stopped: bool = False

    @property
    def best(self) -> Bound:
        return max((entry.score.key for entry in self.plans.values()), default=(-1, 0.0))

    def may_win(self, bound: Bound) -> bool:
        """Whether a layout as good as its bound would be better than the best one computed."""
        met, worst = self.best
        return (bound[0], min(bound[1], self.enough)) > (met, round(worst + self.slack, 3))


def search(
    setups: list[Setup],
    asks: tuple[Ask, ...],
    *,
    budget: int,
    progress: Callable[[int, int], None] | None = None,
    slack: float = SLACK,
    enough: float = ENOUGH,
) -> Found:
    """The best layout of all setups, and every other one computed on the way.

    At most `budget` layouts are computed. The best is at most `slack` under the best there is (or gives everybody
    `enough`), at typical figures, unless `bound` says otherwise. A person's interruption ends it with the best so far.
    """
    found = Found(slack=slack, enough=enough)
    queue: list[_Partial] = []
    try:
        _run(setups, asks, budget, progress, found, queue)
    except KeyboardInterrupt:
        found.stopped = True
    rest = [(-entry.met, -entry.worst) for entry in queue]
    rest += [found.bound] if found.bound is not None else []
    top = max(rest, default=None)
    found.bound = top if top is not None and found.may_win(top) else None
    return found


def _run(
    setups: list[Setup],
    asks: tuple[Ask, ...],
    budget: int,
    progress: Callable[[int, int], None] | None,
    found: Found,
    queue: list[_Partial],
) -> None:
    fields = []
    for setup in setups:
        space = space_of(setup.book)
        found.spaces = (*found.spaces, (setup, space))
        fields.append(_Field(setup, space, Figures(setup.book, space, asks)))
    served = {place for here in fields for place, radios in here.figures.joins.items() if radios}
    found.hopeless = frozenset({ask.place for ask in asks} - served)
    for here in fields:
        here.figures.without(found.hopeless)
    numbers = count()
    trial = _Trial(asks, budget, progress, found)
    for here in fields:
        _push(queue, _partial(here, dict(here.space.held), {}, numbers), found)
    _one_of_each(fields, numbers, trial, min(MOST_FIRST, budget // 2))
    _better_nearby(fields, numbers, trial, queue, budget * 3 // 4)
    steps = 0
    while queue and len(found.plans) < budget and steps < budget * STEPS_PER_LAYOUT:
        part = heapq.heappop(queue)
        if not found.may_win((-part.met, -part.worst)):
            queue.clear()
            return
        steps += 1
        more = list(_carried_on(part, numbers))
        for entry in more:
            if found.may_win((-entry.met, -entry.worst)):
                _push(queue, entry, found)
        if not more:
            trial.compute(part)


@dataclass
class _Trial:
    """Computes layouts in full, each once."""

    asks: tuple[Ask, ...]
    budget: int
    progress: Callable[[int, int], None] | None
    found: Found

    def compute(self, part: _Partial) -> Score:
        plan = Plan(part.field.setup, part.field.space, part.hops, part.tuned)
        if plan.id() not in self.found.plans:
            book = plan.book()
            poor = round(float(worst_shares(book, hopeful(self.asks, self.found.hopeless))[POOR]), 3)
            self.found.plans[plan.id()] = Computed(score(book, self.asks, self.found.hopeless), poor, plan)
            if self.progress is not None:
                self.progress(len(self.found.plans), self.budget)
        return self.found.plans[plan.id()].score


def _one_of_each(fields: list[_Field], numbers: Iterator[int], trial: _Trial, most: int) -> None:
    """One layout for each way to run the uplinks, the most promising first, and as many of every setup."""
    for number, here in enumerate(fields):
        queue = [_partial(here, dict(here.space.held), {}, numbers)]
        left = (most - len(trial.found.plans)) // (len(fields) - number)
        while queue and left > 0:
            part = heapq.heappop(queue)
            if any(node not in part.hops for node in here.space.ways):
                for entry in _carried_on(part, numbers):
                    heapq.heappush(queue, entry)
                if len(queue) > MOST_OPEN:
                    queue = sorted(queue)[: MOST_OPEN // 2]
                continue
            trial.compute(_completed(part, numbers))
            left -= 1


def _better_nearby(
    fields: list[_Field], numbers: Iterator[int], trial: _Trial, queue: list[_Partial], most: int
) -> None:
    """From the best layout on, one uplink or one channel at a time, the most promising first, as long as something is
    gained; then from the best one not yet started from, until `most` are computed."""
    found, started = trial.found, set[str]()
    here_of = {id(here.setup): here for here in fields}
    while len(found.plans) < most and any(found.may_win((-part.met, -part.worst)) for part in queue):
        left = [(entry.score.key, id) for id, entry in found.plans.items() if id not in started]
        if not left or len(started) >= MOST_CLIMBS:
            return
        start = found.plans[max(left)[1]]
        started.add(max(left)[1])
        here = here_of[id(start.plan.setup)]
        near = sorted(_one_apart(here, start.plan, numbers), key=lambda part: (_beside(part, start, here), part))
        for part in near:
            if len(found.plans) >= most:
                break
            if (-part.met, -part.worst) > start.score.key and trial.compute(part).key > start.score.key:
                break


def _beside(part: _Partial, start: Computed, here: _Field) -> bool:
    """Whether a change misses the way of the place that is worst off, where needs are still missed: such come later."""
    place = start.score.worst_at.rpartition(" ")[0]
    radios = here.figures.book.inventory.radios
    way = set()
    for radio in here.figures.joins.get(place, ()):
        way |= {radios[radio].node, *(hop.parent for hop in chain(radios[radio].node, start.plan.hops))}
    changed = {node for node, hop in part.hops.items() if start.plan.hops.get(node) != hop}
    changed |= {radios[root].node for root, tuning in part.tuned.items() if start.plan.tuned.get(root) != tuning}
    return start.score.worst < MET and not changed & way


def _one_apart(here: _Field, plan: Plan, numbers: Iterator[int]) -> Iterator[_Partial]:
    """Layouts that differ from one in one uplink or one channel, and in what has to follow."""
    for node, ways in here.space.ways.items():
        for hop in ways:
            hops = {**plan.hops, node: hop}
            if hop != plan.hops[node] and not loops(hops):
                roots = on_one_channel(here.figures.book.inventory.radios, hops)
                kept = {root: tuning for root, tuning in plan.tuned.items() if root in roots}
                yield _completed(_partial(here, hops, {**_not_choosing(here, hops), **kept}, numbers), numbers)
    for root in _choosing(here, dict(plan.hops)):
        kept = {name: tuning for name, tuning in plan.tuned.items() if name != root and not _alike(here, name, root)}
        for tuning in here.space.tunings[root]:
            if tuning != plan.tuned.get(root):
                yield _completed(_partial(here, dict(plan.hops), {**kept, root: tuning}, numbers), numbers)


def _completed(part: _Partial, numbers: Iterator[int]) -> _Partial:
    """A layout with these uplinks: its channels one after the other where the bound is best, then where other people
    leave most."""
    while more := list(_carried_on(part, numbers)):
        part = min(more, key=lambda entry: (entry.met, entry.worst, -_left_free(entry), entry.number))
    return part


def _left_free(part: _Partial) -> float:
    """What other people leave of the cell whose channel was decided last, in tenths: less is not worth a change."""
    root = next(reversed(part.tuned))
    return round(part.field.figures.free(root, part.tuned[root]), 1)


def _push(queue: list[_Partial], entry: _Partial, found: Found) -> None:
    heapq.heappush(queue, entry)
    if len(queue) > MOST_OPEN:
        queue.sort()
        for lost in queue[MOST_OPEN // 2 :]:
            found.bound = max(found.bound or (-1, 0.0), (-lost.met, -lost.worst))
        del queue[MOST_OPEN // 2 :]


def _partial(here: _Field, hops: dict[str, Hop], tuned: dict[str, Tuning], numbers: Iterator[int]) -> _Partial:
    if not tuned and all(node in hops for node in here.space.ways):
        tuned = _not_choosing(here, hops)
    met, worst = upper_bound(here.figures, hops, tuned)
    left = len(here.space.ways) - sum(node in hops for node in here.space.ways)
    left = left * 100 + len(here.space.tunings) - len(tuned)
    return _Partial(-met, -worst, left, next(numbers), here, hops, tuned)


def _carried_on(part: _Partial, numbers: Iterator[int]) -> Iterator[_Partial]:
    """Every way to decide one thing more; nothing where all is decided."""
    here, hops = part.field, part.hops
    node = next((name for name in here.space.ways if name not in hops), None)
    if node is not None:
        for hop in here.space.ways[node]:
            longer = {**hops, node: hop}
            if not loops(longer):
                yield _partial(here, longer, part.tuned, numbers)
        return
    root = next((name for name in _choosing(here, hops) if name not in part.tuned), None)
    if root is not None:
        for tuning in _open_to(here, root, part.tuned):
            yield _partial(here, hops, {**part.tuned, root: tuning}, numbers)


def _choosing(here: _Field, hops: dict[str, Hop]) -> list[str]:
    """Radios that set a channel on which anything asked for hangs, where there is a choice."""
    groups = on_one_channel(here.figures.book.inventory.radios, hops)
    used = {radio for radios in here.figures.joins.values() for radio in radios}
    used |= {str(hop.parent_radio) for hop in hops.values() if hop.air}
    return [root for root, group in groups.items() if len(here.space.tunings[root]) > 1 and used & set(group)]


def _not_choosing(here: _Field, hops: dict[str, Hop]) -> dict[str, Tuning]:
    """Radios that set a channel and stay where they are: nothing hangs on them, or they have no choice."""
    choosing = _choosing(here, hops)
    radios = here.figures.book.inventory.radios
    return {root: here.figures.present(root) for root in on_one_channel(radios, hops) if root not in choosing}


def _alike(here: _Field, one: str, other: str) -> bool:
    """Whether two radios take one channel for all of their band."""
    radios = here.figures.book.inventory.radios
    return one in here.space.alike and other in here.space.alike and radios[one].band == radios[other].band


def _open_to(here: _Field, root: str, tuned: dict[str, Tuning]) -> tuple[Tuning, ...]:
    """The channels a radio may still choose: with equipment that takes one channel for all, that of the others."""
    for other, tuning in tuned.items():
        if _alike(here, root, other):
            same = tuple(choice for choice in here.space.tunings[root] if choice.channel == tuning.channel)
            return same or (tuning,)
    return here.space.tunings[root]
