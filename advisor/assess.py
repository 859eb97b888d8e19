"""One assessment of a site: its facts judged by the rules, grouped by cause, with the tables people read first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from difflib import get_close_matches
from typing import Literal

from pydantic import BaseModel

from advisor.errors import InputError, Position, Problem
from advisor.facts import catalogue
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.facts.explain import movers
from advisor.ignoring import SetAside, set_aside
from advisor.possible import not_possible
from advisor.questions import Question, questions
from advisor.rulebook.group import Group, group_findings
from advisor.rulebook.judge import LEVELS, Finding, Judgement, judge_all
from advisor.rulebook.load import Rule, load_rules
from advisor.rulebook.schema import Level
from advisor.site.load import LoadedSite
from advisor.subjects import Subject
from advisor.tables import ORDER, PlaceRow, Word, place_rows
from advisor.trace import Assumed, Fact, assumptions

Asked = Literal["works", "may fail", "fails", "not known", "nothing asked", "not judged"]


@dataclass(frozen=True)
class Assessment:
    """Everything one check of a site gives."""

    loaded: LoadedSite
    book: Book
    rules: tuple[Rule, ...]
    judgement: Judgement
    groups: tuple[Group, ...]
    places: tuple[PlaceRow, ...]
    asked: dict[str, Asked]
    """Per place, whether it gets what the site file asks for it: the worst verdict of the rules about it."""
    ignored: tuple[SetAside, ...]
    """Findings the site file says to ignore; they count nowhere else."""
    odd: tuple[tuple[str, str], ...]
    """Entries of `ignored` that have ended or match nothing."""
    questions: tuple[Question, ...]
    """What to find out on site first, because a verdict hangs on it."""
    not_possible: dict[str, tuple[str, ...]]
    """Per finding, what the equipment does not let a person set."""
    not_computed: tuple[tuple[str, str], ...]
    """Parts of the site file this version reads and does not judge, with the reason."""

    def assumed(self) -> list[tuple[Fact, int]]:
        """Assumptions the findings rest on with the number of findings that do, those that move them most first."""
        found: dict[str, list[Fact]] = {}
        weight: dict[str, float] = {}
        for finding in self.judgement.findings:
            each = {by.entry: entry for fact in finding.facts for entry, by in _assumed(fact)}
            for name, entry in each.items():
                found.setdefault(name, []).append(entry)
            if finding.verdict == "at-risk":
                for mover in (mover for fact in finding.facts for mover in movers(fact)):
                    if isinstance(mover.fact.by, Assumed):
                        weight[mover.fact.by.entry] = weight.get(mover.fact.by.entry, 0.0) + mover.share
        order = sorted(found, key=lambda name: (-round(weight.get(name, 0.0), 3), -len(found[name]), name))
        return [(found[name][0], len(found[name])) for name in order]

    def unknown_needs(self) -> list[Finding]:
        """Needs that could not be judged; they count like findings."""
        by_id = {rule.id: rule for rule in self.rules}
        return [
            entry
            for entry in self.judgement.unknowns
            if by_id[entry.rule].body.need is not None or by_id[entry.rule].topic in ("calls", "capacity")
        ]

    def fails(self, level: Level) -> bool:
        """Whether anything counts at this level or above: a finding, or a need that could not be judged."""
        bound = LEVELS.index(level)
        counted = [entry.effective_level for entry in self.judgement.findings]
        counted += [entry.level for entry in self.unknown_needs()]
        unread = any(part.startswith("needs.") for part, _ in self.not_computed)
        return unread or any(LEVELS.index(entry) <= bound for entry in counted)


def _assumed(fact: Fact) -> list[tuple[Fact, Assumed]]:
    return [(entry, entry.by) for entry in assumptions(fact) if isinstance(entry.by, Assumed)]


DEEP = ("walks", "outages")
"""Topics judged on request only: their facts follow people step by step, and outages event by event."""


def assess(
    loaded: LoadedSite,
    *,
    deep: bool = False,
    only: Iterable[str] = (),
    skip: Iterable[str] = (),
    today: date | None = None,
    seed: int = 1,
    draws: int = 100,
) -> Assessment:
    """Compute and judge a loaded site.

    `deep` judges walks and outages too. `only` and `skip` name rules or topics. `today` decides whether ignored
    findings with an end date are still ignored (None: they are). `seed` and `draws` set the keyed random terms.
    Raises InputError for an unknown rule name, RuleError where a rule cannot be loaded or fails.
    """
    every = shipped_rules(examples=False)
    rules = tuple(rule for rule in select(every, only, skip) if deep or rule.topic not in DEEP)
    book = open_book(loaded, Draws(seed, draws))
    full = judge_all(
        rules,
        book.subjects,
        lambda subject, name, variant: book.get(name, subject, **variant),
        lambda subject, _rule: loaded.where(path_of(book, subject)),
    )
    sorted_out = set_aside(loaded, full, (rule.id for rule in every), (rule.id for rule in rules), today)
    judgement = sorted_out.judgement
    by_id = {rule.id: rule for rule in rules}
    whole = all(rule in rules for rule in every if _says_what_was_asked(rule) and rule.topic not in DEEP)
    return Assessment(
        loaded=loaded,
        book=book,
        rules=rules,
        judgement=judgement,
        groups=group_findings(judgement.findings),
        places=place_rows(book),
        asked={subject.ids[0]: _asked(book, subject.ids[0], full, whole) for subject in book.subjects("place")},
        ignored=sorted_out.ignored,
        odd=sorted_out.odd,
        questions=questions(loaded, book, rules, _shallow(judgement, by_id)),
        not_possible={
            finding.identity: not_possible(book, by_id[finding.rule], finding) for finding in judgement.findings
        },
        not_computed=_not_computed(loaded, deep),
    )


def _shallow(judgement: Judgement, rules: dict[str, Rule]) -> Judgement:
    """Without what rests on a simulation: its draws cannot be moved one term at a time."""
    kept = tuple(entry for entry in judgement.findings if rules[entry.rule].topic not in DEEP)
    return replace(judgement, findings=kept)


def _says_what_was_asked(rule: Rule) -> bool:
    return rule.body.level == "error" and rule.about in ("place", "need")


def shipped_rules(*, examples: bool = True) -> tuple[Rule, ...]:
    """Every rule that comes with the program; without `examples` for judging alone."""
    return load_rules(catalogue.lookup, catalogue.entries, examples=examples)


def select(rules: tuple[Rule, ...], only: Iterable[str], skip: Iterable[str]) -> tuple[Rule, ...]:
    """The rules asked for by id or topic."""
    only, skip = set(only), set(skip)
    known = {rule.id for rule in rules} | {rule.topic for rule in rules}
    wrong = sorted((only | skip) - known)
    if wrong:
        near = get_close_matches(wrong[0], sorted(known), 1)
        hint = f'Did you mean "{near[0]}"? ' if near else ""
        what = f'there is no rule or topic "{wrong[0]}"'
        raise InputError("rules", [Problem(Position(0, 0), what, f"{hint}`advisor rules list` shows them all.")])
    return tuple(
        rule for rule in rules if (not only or {rule.id, rule.topic} & only) and not {rule.id, rule.topic} & skip
    )


def path_of(book: Book, subject: Subject) -> str:
    """Path in the site file of what a subject is declared by."""
    kind, ids = subject
    if kind in ("node", "node-pair"):
        return f"nodes.{ids[-1]}"
    if kind == "hop":
        return f"nodes.{ids[0]}.uplink"
    if kind in ("radio", "radio-pair", "domain"):
        return book.inventory.radios[ids[-1]].path
    if kind in ("place", "place-radio"):
        return f"places.{ids[0]}"
    if kind == "network":
        return f"networks.{ids[0]}"
    if kind == "name":
        from advisor.facts.names import entries_of

        return f"networks.{entries_of(book, ids[0])[-1][0]}.name"
    if kind == "need":
        return f"needs.{ids[0]}"
    if kind == "outage":
        return f"outages.{ids[0]}"
    if kind == "walk":
        return f"walks.{ids[0]}"
    if kind == "measured":
        return f"measured.{ids[0]}"
    if kind == "path":
        end, node = ids
        place = book.site.places.get(end)
        return f"{'places' if place is not None and node in place.paths else 'nodes'}.{end}.paths.{node}"
    return "site"


_STATE: dict[str, Word] = {"fail": "fails", "at-risk": "may fail", "unknown": "not known"}


def _asked(book: Book, place: str, judgement: Judgement, whole: bool) -> Asked:
    """The worst verdict of the rules that say whether a place, and the needs about it, get what was asked; without all
    of these rules (`whole`) nothing is said."""
    if not whole:
        return "not judged"
    entry = book.site.places[place]
    about = {f"place={place}"} | {f"need={name}" for name, need in book.site.needs.items() if need.place == place}
    words: list[Word] = [
        _STATE[finding.verdict]
        for finding in (*judgement.findings, *judgement.unknowns)
        if finding.subject.key in about and finding.level == "error"
    ]
    if not words and not (entry.down_mbps or entry.up_mbps or entry.calls or len(about) > 1):
        return "nothing asked"
    worst: Word = min(words, key=ORDER.__getitem__) if words else "works"
    return worst


NOT_USED = frozenset({"relaying", "round_trip_ms"})
"""Fields that later versions compute with; a site that gives them is told."""


def _given_fields(entry: BaseModel) -> set[str]:
    """Names of all fields the user gave, at any depth."""
    found = set(entry.model_fields_set)
    for name in entry.model_fields_set:
        content = getattr(entry, name)
        parts = content.values() if isinstance(content, dict) else (content,)
        for part in parts:
            if isinstance(part, BaseModel):
                found |= _given_fields(part)
    return found


def _not_computed(loaded: LoadedSite, deep: bool) -> tuple[tuple[str, str], ...]:
    site = loaded.site
    found = []
    if site.walks and not deep:
        told = "names, roaming aids and far nodes on the way are judged; the walk itself with --deep and `advisor walk`"
        found.append(("walks", told))
    if site.outages and not deep:
        found.append(("outages", "judged with --deep, told in full by `advisor outage`"))
    if site.choices.prices.node is not None:
        found.append(("choices.prices.node", "given, and not used by this version yet: it proposes no further nodes"))
    unread = sorted(_given_fields(site) & NOT_USED)
    if unread:
        found.append((", ".join(unread), "given, and not used by this version yet"))
    for need_id, need in sorted(site.needs.items()):
        if need.walk is None and (need.mos is not None or need.interruption_ms is not None):
            found.append((f"needs.{need_id}", "call quality and interruptions are computed for walks, not for places"))
        elif need.walk is not None and not deep:
            found.append((f"needs.{need_id}", "needs about walks are judged with --deep"))
    return tuple(found)


__all__ = ["Assessment", "assess", "path_of", "select", "shipped_rules"]
