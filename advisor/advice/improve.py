"""The shortest way to a good site: the changes with the least work after which no error is left, found by trying sets
of changes and computing each again.

First every change alone; then the layout `rank` finds best, without what it does not need; then the changes that bring
most one after the other; then, from the least work up, every set of the changes that do something, until the budget
ends. What was tried from below is the bound: no set with less work than that reaches as much.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from advisor.advice.goal import Distance, distance, goal_rules, open_needs
from advisor.advice.offered import offered
from advisor.advice.remedies import offers
from advisor.advice.score import asks_of
from advisor.advice.search import search
from advisor.advice.setups import setups
from advisor.advice.tries import Kept, Standing, judged, stand, with_changes
from advisor.assess import shipped_rules
from advisor.errors import InputError, Position, Problem
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.rulebook.judge import Finding
from advisor.rulebook.load import Rule
from advisor.site.change import Change
from advisor.site.edit import CannotEdit
from advisor.site.load import LoadedSite

BUDGET = 120
"""Sets of changes computed, unless the person asks for more or fewer."""
LAYOUTS = 150
"""Layouts computed to find the best one."""
NEAR = 0.05
"""Shortfalls that differ by less are alike."""
Chosen = frozenset[int]


@dataclass(frozen=True)
class Step:
    """One change of the way, with what it brings after those before it."""

    change: Change
    before: Distance
    after: Distance
    gone: tuple[Finding, ...]
    """Errors and possible errors that go with it."""
    come: tuple[Finding, ...]


@dataclass(frozen=True)
class Way:
    """A set of changes with its work and what it reaches."""

    changes: tuple[Change, ...]
    effort_min: float
    cost: float | None
    distance: Distance


@dataclass(frozen=True)
class Improvement:
    """What to do, in order, and how sure it is that there is nothing cheaper."""

    loaded: LoadedSite
    before: Distance
    steps: tuple[Step, ...]
    after: Standing
    left: tuple[Finding, ...]
    """Errors and possible errors no set of changes tried takes away together with the rest."""
    frontier: tuple[Way, ...]
    """Ways of which none does as much with less work."""
    proven: bool
    """True where every set of these changes with less work was computed."""
    bound_min: float
    """No set of these changes with less work than this reaches as much."""
    refused: tuple[Change, ...]
    """Changes the equipment does not let one make; not tried."""
    untried: tuple[tuple[str, str], ...]
    """Operators nothing is computed for, with the reason."""
    computed: int
    stopped: bool
    """True where a person broke it off: the best until then."""
    took: int | None = None
    """The way of the frontier a person asked for; None: the one that reaches most."""

    @property
    def effort_min(self) -> float:
        return sum(step.change.effort_min for step in self.steps)


class _Bench:
    """Everything computed so far."""

    def __init__(
        self,
        base: Standing,
        rules: Sequence[Rule],
        budget: int,
        progress: Callable[[int, int], None] | None,
        kept: Kept | None = None,
    ):
        self.base, self.rules, self.budget, self.progress = base, rules, budget, progress
        self.kept: Kept = kept or {}
        self.changes: list[Change] = []
        self.found: dict[Chosen, Distance | None] = {frozenset(): distance(base)}
        self.computed = 0

    def add(self, change: Change) -> int:
        """The number of a change; one that does the same to the file has the number it got first."""
        for number, other in enumerate(self.changes):
            if other.key == change.key:
                return number
        self.changes.append(change)
        return len(self.changes) - 1

    def of(self, chosen: Chosen) -> tuple[Change, ...]:
        return tuple(self.changes[number] for number in sorted(chosen))

    def minutes(self, chosen: Chosen) -> float:
        return sum(self.changes[number].effort_min for number in chosen)

    def clash(self, chosen: Chosen) -> bool:
        """Whether two changes want different things of one setting."""
        seen: dict[tuple[str | int, ...], str] = {}
        for number in chosen:
            for edit in self.changes[number].edits:
                told = repr(edit.value)
                if seen.setdefault(edit.path, told) != told:
                    return True
        paths = list(seen)
        return any(a != b and b[: len(a)] == a for a in paths for b in paths)

    def tried(self, chosen: Chosen) -> Distance | None:
        """How far the site is with a set of changes; None where they cannot be written together, or the budget is
        spent."""
        if chosen not in self.found:
            if self.clash(chosen):
                self.found[chosen] = None
            elif self.computed >= self.budget:
                return None
            else:
                self.computed += 1
                self.found[chosen] = self._compute(chosen)
                if self.progress is not None:
                    self.progress(self.computed, self.budget)
        return self.found[chosen]

    def _compute(self, chosen: Chosen) -> Distance | None:
        known = self.kept.get(frozenset(change.key for change in self.of(chosen)))
        try:
            if known is not None:
                return distance(replace(known, judgement=judged(known.book, self.rules)))
            return distance(with_changes(self.base, self.of(chosen), self.rules))
        except (CannotEdit, InputError):
            return None

    @property
    def spent(self) -> bool:
        return self.computed >= self.budget

    def best(self) -> Chosen:
        """The set that reaches most; of those that reach as much, the one with the least work."""
        known = [(chosen, found) for chosen, found in self.found.items() if found is not None]
        return min(known, key=lambda entry: (*_rank(entry[1]), self.minutes(entry[0]), sorted(entry[0])))[0]


def _rank(found: Distance) -> tuple[int, int, float]:
    return found.errors, found.possible, round(found.shortfall / NEAR) * NEAR


def improve(
    loaded: LoadedSite,
    *,
    budget: int = BUDGET,
    progress: Callable[[int, int], None] | None = None,
    book: Book | None = None,
    kept: Kept | None = None,
    layout: Callable[[], tuple[Change, ...]] | None = None,
) -> Improvement:
    """The least work after which no error is left, or as few as can be.

    `book` is that of the site, `kept` what was computed with changes made, and `layout` gives what `best_layout` does,
    where there is any of these already.
    `progress(done, of)` is called after each set computed; KeyboardInterrupt ends the search with the best so far.
    """
    rules = goal_rules(shipped_rules(examples=False))
    base = stand(None, loaded, rules) if book is None else Standing(loaded, book, judged(book, rules))
    bench = _Bench(base, rules, budget, progress, kept)
    refused: dict[tuple[object, ...], Change] = {}
    untried: dict[str, str] = {}
    for change in _candidates(base, rules, refused, untried):
        bench.add(change)
    stopped, proven, bound_min = False, False, 0.0
    if not bench.found[frozenset()].reached:  # type: ignore[union-attr]
        try:
            proven, bound_min = _search(bench, base.book, layout or (lambda: best_layout(loaded, base.book)))
        except KeyboardInterrupt:
            stopped = True
    else:
        proven = True
    return _told(bench, base, refused, untried, proven, bound_min, stopped)


def _candidates(
    base: Standing, rules: Sequence[Rule], refused: dict[tuple[object, ...], Change], untried: dict[str, str]
) -> Iterator[Change]:
    """What the remedies of every error and possible error come to, as far as the equipment lets one do it."""
    by_id = {rule.id: rule for rule in rules}
    for finding in open_needs(base):
        offer = offers(base.book, by_id[finding.rule], finding)
        untried.update(offer.untried)
        for change in offer.changes:
            if change.refused:
                refused.setdefault(change.key, change)
            else:
                yield change


def _search(bench: _Bench, book: Book, layout: Callable[[], tuple[Change, ...]]) -> tuple[bool, float]:
    singles = _singles(bench)
    untried = [number for number in range(len(bench.changes)) if frozenset({number}) not in bench.found]
    seed = frozenset(bench.add(offered(book, change)) for change in layout())
    if seed and bench.tried(seed) is not None:
        _without_needless(bench, seed)
    _one_after_another(bench, singles)
    _without_needless(bench, bench.best())
    proven, bound_min = _from_below(bench, singles)
    least = min((bench.changes[number].effort_min for number in untried), default=bound_min)
    return proven and not untried, min(bound_min, least)


def _singles(bench: _Bench) -> list[int]:
    """Every change alone; those that help, the most first."""
    nothing = bench.found[frozenset()]
    assert nothing is not None
    found = []
    for number in range(len(bench.changes)):
        after = bench.tried(frozenset({number}))
        if after is not None and _rank(after) < _rank(nothing):
            found.append((_rank(after), bench.changes[number].effort_min, number))
    return [number for *_, number in sorted(found)]


def best_layout(loaded: LoadedSite, book: Book) -> tuple[Change, ...]:
    """The changes of the layout that serves the speeds asked for best; none where nothing is asked for."""
    asks = asks_of(loaded.site)
    if not asks:
        return ()
    tried, _ = setups(loaded, open_book(loaded, Draws(book.draws.seed, 0)), {})
    found = search(tried, asks, budget=LAYOUTS, progress=None)
    if not found.plans:
        return ()
    best = min(found.plans.items(), key=lambda entry: (-entry[1].score.met, -round(entry[1].score.worst, 2), entry[0]))
    return best[1].plan.layout(book).changes


def _without_needless(bench: _Bench, chosen: Chosen) -> None:
    """Leave out one change after the other as long as nothing is lost, the most work first."""
    for number in sorted(chosen, key=lambda number: (-bench.changes[number].effort_min, number)):
        before, after = bench.tried(chosen), bench.tried(chosen - {number})
        if before is not None and after is not None and _rank(after) <= _rank(before):
            chosen = chosen - {number}


def _one_after_another(bench: _Bench, singles: Sequence[int]) -> None:
    """From the best single change on, always the one that brings most, the least work first."""
    chosen: Chosen = frozenset()
    while not bench.spent:
        here = bench.found[chosen]
        assert here is not None
        steps = []
        for number in singles:
            after = bench.tried(chosen | {number}) if number not in chosen else None
            if after is not None and _rank(after) < _rank(here):
                steps.append((_rank(after), bench.changes[number].effort_min, number))
        if not steps:
            return
        chosen = chosen | {min(steps)[2]}


def _from_below(bench: _Bench, singles: Sequence[int]) -> tuple[bool, float]:
    """Every set of the changes that do something, or that the best one holds, from the least work up: whether all with
    less work than the best were tried, and up to which work."""
    numbers = sorted({*singles, *bench.best()}, key=lambda number: (bench.changes[number].effort_min, number))
    heap: list[tuple[float, tuple[int, ...]]] = [(0.0, ())]
    while heap:
        minutes, picked = heapq.heappop(heap)
        best = bench.best()
        if minutes >= bench.minutes(best):
            return True, bench.minutes(best)
        if picked:
            chosen = frozenset(numbers[index] for index in picked)
            if bench.tried(chosen) is None and chosen not in bench.found:
                return False, minutes
        for index in range(picked[-1] + 1 if picked else 0, len(numbers)):
            more = bench.changes[numbers[index]].effort_min
            heapq.heappush(heap, (round(minutes + more, 3), (*picked, index)))
    return True, bench.minutes(bench.best())


def taken(found: Improvement, number: int) -> Improvement:
    """The improvement by another way of its frontier, step by step. Raises InputError for a number there is not."""
    if number >= len(found.frontier):
        help = f"The list has 0 to {len(found.frontier) - 1}. Nothing was written."
        raise InputError("--take", [Problem(Position(0, 0), f"there is no way {number} in the list", help)])
    rules = goal_rules(shipped_rules(examples=False))
    base = stand(None, found.loaded, rules)
    bench = _Bench(base, rules, 0, None)
    chosen = frozenset(map(bench.add, found.frontier[number].changes))
    steps, after = _steps(bench, base, chosen)
    return replace(found, steps=steps, after=after, left=open_needs(after), took=number)


def _told(
    bench: _Bench,
    base: Standing,
    refused: dict[tuple[object, ...], Change],
    untried: dict[str, str],
    proven: bool,
    bound_min: float,
    stopped: bool,
) -> Improvement:
    best = bench.best()
    steps, after = _steps(bench, base, best)
    left = open_needs(after)
    return Improvement(
        loaded=base.loaded,
        before=distance(base),
        steps=steps,
        after=after,
        left=left,
        frontier=_frontier(bench),
        proven=proven,
        bound_min=bound_min,
        refused=tuple(refused.values()),
        untried=tuple(untried.items()),
        computed=bench.computed,
        stopped=stopped,
    )


def _steps(bench: _Bench, base: Standing, best: Chosen) -> tuple[tuple[Step, ...], Standing]:
    """The changes of the best set in order of what they bring, each computed after those before it."""
    left, here, done = set(best), base, []
    chosen: list[int] = []
    while left:
        tried = []
        for number in sorted(left):
            try:
                after = with_changes(base, bench.of(frozenset({*chosen, number})), bench.rules)
            except (CannotEdit, InputError):
                continue
            tried.append((_rank(distance(after)), bench.changes[number].effort_min, number, after))
        if not tried:
            break
        _, _, number, after = min(tried, key=lambda entry: entry[:3])
        old, new = here.by_identity(), after.by_identity()
        done.append(
            Step(
                bench.changes[number],
                distance(here),
                distance(after),
                tuple(found for name, found in old.items() if name not in new),
                tuple(found for name, found in new.items() if name not in old),
            )
        )
        here = after
        chosen.append(number)
        left.discard(number)
    return tuple(done), here


def _frontier(bench: _Bench) -> tuple[Way, ...]:
    """Of all sets computed, those that no other one equals with less work."""
    known = sorted(
        (
            (bench.minutes(chosen), _rank(found), sorted(chosen), found)
            for chosen, found in bench.found.items()
            if found
        ),
        key=lambda entry: entry[:3],
    )
    ways: list[Way] = []
    for minutes, rank, numbers, found in known:
        if not ways or rank < _rank(ways[-1].distance):
            changes = bench.of(frozenset(numbers))
            costs = [change.cost for change in changes]
            cost = None if None in costs else sum(cost for cost in costs if cost is not None)
            ways.append(Way(changes, minutes, cost, found))
    return tuple(ways)
