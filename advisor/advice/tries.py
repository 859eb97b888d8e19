"""Fixes tried out: each change in a copy of the file, everything computed and judged again, and what became of the
finding, which others went, which came."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from advisor.advice.remedies import Offer, offers
from advisor.assess import Assessment, shipped_rules
from advisor.errors import InputError
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.rulebook.judge import LEVELS, Finding, Judgement, judge_all
from advisor.rulebook.load import Rule
from advisor.site.change import Change, edits_of
from advisor.site.edit import CannotEdit, Edit, edited
from advisor.site.load import LoadedSite

MOST_FOR_ONE = 6
"""Changes tried for one finding, those with the least work first."""
MOST_TRIED = 60
"""Changes tried in all."""
WEIGHT = {"error": 10, "warning": 3, "note": 0}
"""What a finding counts where findings that go are weighed against findings that come (choice of the program)."""
NOTABLE = 0.05
"""Chances that differ by less are alike."""
ABOUT_PLACES = frozenset({"at", "floor", "room", "height_m", "paths", "floors", "rooms"})
ABOUT_RADIOS = frozenset({"radios", "role", "gear", "clients", "client", "measured", "power_drop_db", "outdoor"})


@dataclass(frozen=True)
class Standing:
    """A site as it is, or would be: its file, its book, and what the rules say."""

    loaded: LoadedSite
    book: Book
    judgement: Judgement

    def by_identity(self) -> dict[str, Finding]:
        return {finding.identity: finding for finding in self.judgement.findings}


Kept: TypeAlias = dict[frozenset[tuple[object, ...]], Standing]
"""Sites computed with changes made, by the keys of the changes."""


@dataclass(frozen=True)
class Tried:
    """One change tried for one finding."""

    change: Change
    after: Finding | None
    """The same finding afterwards; None where it is gone."""
    removed: tuple[Finding, ...]
    """Findings that go with it, this one included."""
    added: tuple[Finding, ...]
    """Findings that come with it."""
    eased: tuple[tuple[Finding, Finding], ...]
    """Findings that stay and become likelier to be met or less bad: before and after."""
    worsened: tuple[tuple[Finding, Finding], ...]

    @property
    def gone(self) -> bool:
        return self.after is None

    @property
    def harms(self) -> bool:
        """Whether it brings an error, or as much elsewhere as it takes away."""
        if any(found.effective_level == "error" for found in (*self.added, *(new for _, new in self.worsened))):
            return True
        lost = sum(WEIGHT[found.effective_level] for found in self.added)
        lost += sum(max(WEIGHT[new.effective_level] - WEIGHT[old.effective_level], 0) for old, new in self.worsened)
        won = sum(WEIGHT[found.effective_level] for found in self.removed)
        won += sum(max(WEIGHT[old.effective_level] - WEIGHT[new.effective_level], 0) for old, new in self.eased)
        return lost > 0 and lost >= won


@dataclass(frozen=True)
class Fix:
    """What was tried for a finding."""

    finding: Finding
    best: Tried | None
    """The change to make; None where none tried helps without harm."""
    others: tuple[Tried, ...]
    """What else was tried, in order."""
    refused: tuple[Change, ...]
    """What the equipment does not let one do; not tried."""
    untried: tuple[tuple[str, str], ...]
    """Operators nothing is computed for, with the reason."""
    left: int
    """Changes not tried because there were too many."""


def stand(
    base: Standing | None, loaded: LoadedSite, rules: Sequence[Rule], edits: Iterable[Edit] | None = None
) -> Standing:
    """A site computed and judged; with `base`, what its edits leave as it was is taken from there."""
    draws = base.book.draws if base is not None else Draws()
    ground, same = None, False
    if base is not None and edits is not None:
        words = {str(word) for edit in edits for word in _words(edit)}
        ground = None if words & ABOUT_PLACES else base.book
        same = ground is not None and not words & ABOUT_RADIOS
    book = open_book(loaded, Draws(draws.seed, draws.count), ground=ground, same_radios=same)
    return Standing(loaded, book, judged(book, rules))


def _words(edit: Edit) -> Iterable[str]:
    """Sections and fields an edit touches, with those of a mapping it writes."""
    yield from (str(step) for step in edit.path)
    if isinstance(edit.value, dict):
        yield from (str(key) for key in edit.value)


def judged(book: Book, rules: Sequence[Rule]) -> Judgement:
    return judge_all(
        rules,
        book.subjects,
        lambda subject, name, variant: book.get(name, subject, **variant),
        lambda _subject, _rule: "",
    )


def with_changes(base: Standing, changes: Sequence[Change], rules: Sequence[Rule]) -> Standing:
    """The site with changes written into a copy of its file, read again. Raises CannotEdit, InputError."""
    edits = edits_of(changes)
    return stand(base, edited(base.loaded, edits), rules, edits)


def compared(finding: Finding | None, change: Change, before: Standing, after: Standing) -> Tried:
    """What a change brings: findings that go, come, ease and get worse."""
    old, new = before.by_identity(), after.by_identity()
    both = [(old[name], new[name]) for name in old if name in new]
    return Tried(
        change=change,
        after=new.get(finding.identity) if finding is not None else None,
        removed=tuple(found for name, found in old.items() if name not in new),
        added=tuple(found for name, found in new.items() if name not in old),
        eased=tuple(pair for pair in both if worse(pair[1], pair[0])),
        worsened=tuple(pair for pair in both if worse(*pair)),
    )


def worse(before: Finding, after: Finding) -> bool:
    """Whether a finding got worse by a level, or notably less likely to be met."""
    old, new = (LEVELS.index(found.effective_level) for found in (before, after))
    drop = (before.probability or 0.0) - (after.probability or 0.0)
    return new < old or (new == old and drop >= NOTABLE)


def badness(finding: Finding) -> tuple[int, float]:
    """How bad a finding is: by effective level, then by how unlikely its need is met."""
    return -LEVELS.index(finding.effective_level), -round(finding.probability or 0.0, 2)


def fixes(
    assessment: Assessment,
    *,
    most: int = MOST_TRIED,
    notes: bool = True,
    kept: Kept | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Fix, ...]:
    """Every finding that heads a group with the fix that helps most, proven by computing again.

    `most` changes are tried in all, worst findings first, for mere notes too unless `notes` is off; judged are all
    rules but those that follow walks, whose fixes `causes` tries. What was computed is put into `kept`.
    """
    rules = tuple(rule for rule in shipped_rules(examples=False) if rule.topic != "walks")
    by_id = {rule.id: rule for rule in rules}
    base = Standing(assessment.loaded, assessment.book, judged(assessment.book, rules))
    heads = [group.head for group in assessment.groups if group.head.rule in by_id]
    heads = [head for head in heads if notes or head.level != "note"]
    offered = [(head, offers(assessment.book, by_id[head.rule], head)) for head in heads]
    plan = _plan(offered, most)
    wanted = {change.key: change for changes in plan for change in changes}
    done: dict[tuple[object, ...], Standing | None] = {}
    for number, (key, change) in enumerate(wanted.items(), 1):
        done[key] = after = _tried(base, change, rules)
        if kept is not None and after is not None:
            kept[frozenset({key})] = after
        if progress is not None:
            progress(number, len(wanted))
    return tuple(_fix(base, head, offer, changes, done) for (head, offer), changes in zip(offered, plan, strict=True))


def _plan(offered: Sequence[tuple[Finding, Offer]], most: int) -> list[list[Change]]:
    """Which changes are tried for each finding: the first of everyone, then the second, as far as they reach."""
    possible = [
        sorted((change for change in offer.changes if not change.refused), key=lambda change: change.effort_min)
        for _, offer in offered
    ]
    taken: list[list[Change]] = [[] for _ in offered]
    keys: set[tuple[object, ...]] = set()
    for turn in range(MOST_FOR_ONE):
        for number, changes in enumerate(possible):
            if turn < len(changes) and (len(keys) < most or changes[turn].key in keys):
                keys.add(changes[turn].key)
                taken[number].append(changes[turn])
    return taken


def _tried(base: Standing, change: Change, rules: Sequence[Rule]) -> Standing | None:
    try:
        return with_changes(base, [change], rules)
    except (CannotEdit, InputError):  # what cannot be written into this file is not advised
        return None


def _fix(
    base: Standing,
    finding: Finding,
    offer: Offer,
    changes: Sequence[Change],
    done: dict[tuple[object, ...], Standing | None],
) -> Fix:
    found = []
    for change in changes:
        after = done[change.key]
        if after is not None:
            found.append(compared(finding, change, base, after))
    ordered = sorted(found, key=lambda tried: _order(finding, tried))
    best = next((tried for tried in ordered if helps(finding, tried) and not tried.harms), None)
    refused = tuple(change for change in offer.changes if change.refused)
    return Fix(
        finding,
        best,
        tuple(tried for tried in ordered if tried is not best),
        refused,
        offer.untried,
        len(offer.changes) - len(refused) - len(changes),
    )


def helps(finding: Finding, tried: Tried) -> bool:
    return tried.after is None or badness(tried.after) < badness(finding)


def _order(finding: Finding, tried: Tried) -> tuple[object, ...]:
    after = badness(tried.after) if tried.after is not None else (-len(LEVELS), -1.0)
    removed = sum(1 for found in tried.removed if found.effective_level != "note")
    work = tried.change.effort_min
    return tried.harms, not tried.gone, after, work, -removed, len(tried.added), tried.change.told
