"""One assessment of a site: its facts judged by the rules, grouped by cause, with the tables people read first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal

import numpy as np
from pydantic import BaseModel

from advisor.errors import InputError, Position, Problem
from advisor.facts import catalogue
from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.facts.explain import movers
from advisor.rulebook.group import Group, group_findings
from advisor.rulebook.judge import LEVELS, Finding, Judgement, judge_all
from advisor.rulebook.load import Rule, load_rules
from advisor.rulebook.schema import Level
from advisor.site.load import LoadedSite
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, assumptions
from advisor.values import FIRST_DRAW, Options, Unknown, Value

USES = ("calls", "video", "browsing")
Word = Literal["works", "may fail", "fails", "not known"]
Asked = Literal["works", "may fail", "fails", "not known", "nothing asked"]


@dataclass(frozen=True, slots=True)
class Use:
    """Whether one use works at one place; `chance` is the probability that it does."""

    word: Word
    chance: float | None
    depends_on: str = ""
    """The option that decides, where the equipment may choose."""


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """One place in the table of what works where."""

    place: str
    client: str
    joined: Fact
    alone: Fact
    everyone: Fact
    everyone_up: Fact
    binds: Fact
    uses: dict[str, Use]


@dataclass(frozen=True, slots=True)
class HopRow:
    """One hop in the table of what the hops carry."""

    node: str
    parent: str
    over: str
    open: bool
    """True for one of several ways an uplink left to the equipment may run."""
    level: Fact
    rate_down: Fact
    rate_up: Fact
    alone: Fact
    alone_up: Fact
    serving: Fact
    demand: Fact


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


def assess(
    loaded: LoadedSite, *, only: Iterable[str] = (), skip: Iterable[str] = (), seed: int = 1, draws: int = 50
) -> Assessment:
    """Compute and judge a loaded site.

    `only` and `skip` name rules or topics. `seed` and `draws` set the keyed random terms.
    Raises InputError for an unknown rule name, RuleError where a rule cannot be loaded or fails.
    """
    rules = select(shipped_rules(), only, skip)
    book = open_book(loaded, Draws(seed, draws))
    judgement = judge_all(
        rules,
        book.subjects,
        lambda subject, name, variant: book.get(name, subject, **variant),
        lambda subject, _rule: loaded.where(path_of(book, subject)),
    )
    asked = {subject.ids[0]: _asked(book, subject.ids[0], judgement) for subject in book.subjects("place")}
    groups = group_findings(judgement.findings)
    return Assessment(loaded, book, rules, judgement, groups, place_rows(book), asked, _not_computed(loaded))


def shipped_rules() -> tuple[Rule, ...]:
    """Every rule that comes with the program."""
    return load_rules(catalogue.lookup, catalogue.entries)


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
    return "site"


def hop_rows(book: Book) -> tuple[HopRow, ...]:
    """The table of what the hops carry; an uplink left to the equipment has a row for each way it may run."""
    rows = []
    for subject in book.subjects("hop"):
        variants = book.variants(subject.ids[0])
        books = list(variants.values()) if len(variants) > 1 else [book]
        rows += [_hop_row(entry, subject, open=len(books) > 1) for entry in books]
    return tuple(rows)


def place_rows(book: Book) -> tuple[PlaceRow, ...]:
    """The table of what works where."""
    return tuple(_place_row(book, subject) for subject in book.subjects("place"))


def _place_row(book: Book, subject: Subject) -> PlaceRow:
    place = subject.ids[0]
    return PlaceRow(
        place=place,
        client=book.site.places[place].client,
        joined=book.get("joined_radio", subject),
        alone=book.get("goodput_mbps", subject),
        everyone=book.get("goodput_everyone_mbps", subject),
        everyone_up=book.get("goodput_everyone_mbps", subject, dir="up"),
        binds=book.get("binds_everyone", subject),
        uses={use: use_of(book.get("use_holds", subject, use=use).value) for use in USES},
    )


def use_of(value: Value) -> Use:
    """A yes-or-no value in words: works from 90 % on, fails under 50 %."""
    if isinstance(value, Unknown):
        return Use("not known", None)
    if isinstance(value, Options):
        answers = {name: use_of(answer) for name, answer in value.answers.items()}
        worst = min(answers.items(), key=lambda entry: (_ORDER[entry[1].word], entry[0]))
        alike = len({answer.word for answer in answers.values()}) == 1
        if alike or worst[1].word == "not known":
            return worst[1]
        return Use("may fail", worst[1].chance, worst[0])
    if value.cases is None or len(value.cases) <= FIRST_DRAW:
        return Use("works" if value.centre else "fails", 1.0 if value.centre else 0.0)
    chance = round(float(np.mean(value.cases[FIRST_DRAW:])), 3)
    return Use("works" if chance >= 0.9 else "fails" if chance < 0.5 else "may fail", chance)


_ORDER: dict[Word, int] = {"fails": 0, "not known": 1, "may fail": 2, "works": 3}
_STATE: dict[str, Word] = {"fail": "fails", "at-risk": "may fail", "unknown": "not known"}


def _asked(book: Book, place: str, judgement: Judgement) -> Asked:
    """The worst verdict of the rules that say whether a place, and the needs about it, get what was asked."""
    entry = book.site.places[place]
    about = {f"place={place}"} | {f"need={name}" for name, need in book.site.needs.items() if need.place == place}
    words: list[Word] = [
        _STATE[finding.verdict]
        for finding in (*judgement.findings, *judgement.unknowns)
        if finding.subject.key in about and finding.level == "error"
    ]
    if not words and not (entry.down_mbps or entry.up_mbps or entry.calls or len(about) > 1):
        return "nothing asked"
    worst: Word = min(words, key=_ORDER.__getitem__) if words else "works"
    return worst


def _hop_row(book: Book, subject: Subject, *, open: bool) -> HopRow:
    node = subject.ids[0]
    hop = book.hops.get(node)
    uplink = book.site.nodes[node].uplink
    over = hop.over if hop else (uplink.over if uplink else "not given")
    if hop and hop.air and hop.radio is not None:
        over = f"{book.inventory.radios[hop.radio].band} GHz"
    return HopRow(
        node=node,
        parent=hop.parent if hop else "not known",
        over=over,
        open=open,
        level=book.get("level_dbm", subject),
        rate_down=book.get("phy_rate_mbps", subject),
        rate_up=book.get("phy_rate_mbps", subject, dir="up"),
        alone=book.get("goodput_mbps", subject),
        alone_up=book.get("goodput_mbps", subject, dir="up"),
        serving=book.get("serving_mbps", subject),
        demand=book.get("demand_mbps", subject),
    )


NOT_USED = frozenset(
    {
        "settable", "relaying", "mode", "queue", "loaded_delay_ms", "aids", "band_choice", "boot_s",
        "modem_boot_s", "basic_rates_mbps", "round_trip_ms", "delay_ms", "behaviour", "hidden", "backhaul", "settings",
    }
)  # fmt: skip
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


def _not_computed(loaded: LoadedSite) -> tuple[tuple[str, str], ...]:
    site = loaded.site
    later = "this version reads it and does not compute it yet"
    found = []
    for name, content in (("walks", site.walks), ("outages", site.outages), ("ignored", site.ignored)):
        if content:
            found.append((name, later))
    if site.choices.model_fields_set:
        found.append(("choices", later))
    unread = sorted(_given_fields(site) & NOT_USED)
    if unread:
        found.append((", ".join(unread), "given, and not used by this version yet"))
    if site.rooms:
        found.append(("rooms", "positions told by rooms are read and not used yet; give `at` or `paths`"))
    for need_id, need in sorted(site.needs.items()):
        if need.walk is not None or need.mos is not None or need.interruption_ms is not None:
            found.append((f"needs.{need_id}", "needs about walks, interruptions and call quality are not computed yet"))
    return tuple(found)


__all__ = [
    "Assessment",
    "HopRow",
    "PlaceRow",
    "Use",
    "assess",
    "hop_rows",
    "path_of",
    "place_rows",
    "select",
    "shipped_rules",
    "use_of",
]
