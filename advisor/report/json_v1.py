"""The JSON of `check` and `capacity`, version 1: its own types, so that it does not move with the program's inside."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal

from pydantic import BaseModel, ConfigDict

from advisor import __version__
from advisor.assess import Assessment
from advisor.facts.book import Book
from advisor.questions import Question
from advisor.report import say
from advisor.rulebook.judge import Finding
from advisor.site.load import LoadedSite
from advisor.tables import HopRow, PlaceRow, Use, hop_rows, place_rows
from advisor.trace import Fact
from advisor.units import told_ends
from advisor.values import Known, Options, Scalar, Unknown, Value

if TYPE_CHECKING:
    from advisor.advice.tries import Fix


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Quantity(_Part):
    """A value: known with its 10 and 90 % points, one answer per option, or what is missing."""

    state: Literal["known", "options", "unknown"]
    unit: str
    centre: float | bool | str | None = None
    low: float | bool | str | None = None
    high: float | bool | str | None = None
    options: dict[str, Quantity] | None = None
    missing: list[str] | None = None


class FactOut(_Part):
    key: str
    value: Quantity
    origin: str


class TriedOut(_Part):
    """One change computed: what it does to its finding and to all others."""

    change: str
    operator: str
    effort_min: float
    advised: bool
    gone: bool
    probability_met: float | None
    """Of the finding's need afterwards, where it stays."""
    counts_as: str | None
    removes: list[str]
    adds: list[str]
    worsens: list[str]


class FindingOut(_Part):
    id: str
    rule: str
    subject: str
    title: str
    verdict: Literal["fail", "at-risk", "unknown"]
    level: Literal["error", "warning", "note"]
    counts_as: Literal["error", "warning", "note"]
    """The level after at-risk is counted one lower."""
    probability_met: float | None
    confidence: Literal["high", "medium", "low"]
    where: str
    message: str
    why: str
    do: list[str]
    missing: list[str]
    options: list[str]
    cause: str | None
    not_possible: list[str]
    """What the equipment does not let a person set."""
    tried: list[TriedOut]
    """With --deep, for the finding that heads a group: changes computed, the best one first."""
    facts: list[FactOut]


class GroupOut(_Part):
    cause: FindingOut
    leads_to: list[FindingOut]


class UseOut(_Part):
    word: Literal["works", "may fail", "fails", "not known"]
    chance: float | None
    depends_on: str


class PlaceOut(_Part):
    place: str
    client: str
    uses: dict[str, UseOut]
    joins: Quantity
    alone_mbps: Quantity
    """What one client there gets with nobody else active, over the transport its place names."""
    alone_up_mbps: Quantity
    everyone_mbps: Quantity
    everyone_up_mbps: Quantity
    need_down_mbps: float | None
    """What each active client must get, as the site file says."""
    need_up_mbps: float | None
    limited_by: Quantity


class HopOut(_Part):
    node: str
    parent: str
    over: str
    open: bool
    level_dbm: Quantity
    rate_down_mbps: Quantity
    rate_up_mbps: Quantity
    alone_mbps: Quantity
    alone_up_mbps: Quantity
    while_serving_mbps: Quantity
    asked_mbps: Quantity


class SiteOut(_Part):
    name: str
    file: str
    invented: bool


class NotComputed(_Part):
    part: str
    reason: str


class Assumption(_Part):
    entry: str
    key: str
    findings: int


class HangsOut(_Part):
    id: str
    level: Literal["error", "warning", "note"]
    at_poor_end: Literal["fail", "at-risk", "unknown", "pass", "not-applicable"]
    at_good_end: Literal["fail", "at-risk", "unknown", "pass", "not-applicable"]


class QuestionOut(_Part):
    """What to find out on site, the weightiest first."""

    what: str
    poor_end: str | None
    good_end: str | None
    hangs: list[HangsOut]
    how: str
    write: str


class IgnoredOut(_Part):
    finding: FindingOut
    entry: str
    reason: str
    until: str | None


class CheckOutput(_Part):
    """What `advisor check --format json` prints."""

    format: Literal["advisor check"] = "advisor check"
    version: Literal[1] = 1
    program: str
    site: SiteOut
    groups: list[GroupOut]
    unknown: list[FindingOut]
    not_computed: list[NotComputed]
    assumptions: list[Assumption]
    questions: list[QuestionOut]
    ignored: list[IgnoredOut]
    ignored_in_vain: dict[str, str]
    """Entries of `ignored` that have ended or match nothing."""
    places: list[PlaceOut]
    asked: dict[str, Literal["works", "may fail", "fails", "not known", "nothing asked", "not judged"]]
    """Per place, whether it gets what the site file asks for it."""
    verdicts: dict[str, int]


class CapacityOutput(_Part):
    """What `advisor capacity --format json` prints."""

    format: Literal["advisor capacity"] = "advisor capacity"
    version: Literal[1] = 1
    program: str
    site: SiteOut
    hops: list[HopOut]
    places: list[PlaceOut]


def output_schema(of: str) -> dict[str, Any]:
    """The JSON Schema of an output: `check` or `capacity`."""
    model = CheckOutput if of == "check" else CapacityOutput
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | model.model_json_schema()


def check_json(assessment: Assessment, fixes: Mapping[str, Fix] | None = None) -> str:
    told, tried = assessment.not_possible, fixes or {}
    output = CheckOutput(
        program=__version__,
        site=_site(assessment.loaded),
        groups=[
            GroupOut(
                cause=_finding(group.head, told[group.head.identity], tried.get(group.head.identity)),
                leads_to=[_finding(entry, told[entry.identity]) for entry in group.consequences],
            )
            for group in assessment.groups
        ],
        unknown=[_finding(entry) for entry in assessment.judgement.unknowns],
        not_computed=[NotComputed(part=part, reason=reason) for part, reason in assessment.not_computed],
        assumptions=[
            Assumption(entry=say.origin(fact.by), key=fact.key, findings=count) for fact, count in assessment.assumed()
        ],
        questions=[_question(entry) for entry in assessment.questions],
        ignored=[
            IgnoredOut(finding=_finding(entry.finding), entry=entry.entry, reason=entry.reason, until=entry.until)
            for entry in assessment.ignored
        ],
        ignored_in_vain=dict(assessment.odd),
        places=[_place(row) for row in assessment.places],
        asked=dict(assessment.asked),
        verdicts={str(verdict): count for verdict, count in sorted(assessment.judgement.counts.items())},
    )
    return _text(output)


def capacity_json(book: Book, loaded: LoadedSite) -> str:
    output = CapacityOutput(
        program=__version__,
        site=_site(loaded),
        hops=[_hop(row) for row in hop_rows(book)],
        places=[_place(row) for row in place_rows(book)],
    )
    return _text(output)


def _text(output: BaseModel) -> str:
    """The JSON text, with invisible and direction characters from outside escaped."""
    return inert_json(output.model_dump_json(indent=2))


def inert_json(text: str) -> str:
    """JSON text with invisible and direction characters escaped."""
    return "".join(
        f"\\u{ord(char):04x}" if char != "\n" and unicodedata.category(char) in ("Cf", "Zl", "Zp", "Cc") else char
        for char in text
    )


def _site(loaded: LoadedSite) -> SiteOut:
    about = loaded.site.site
    return SiteOut(name=about.name, file=loaded.file, invented=about.invented)


def quantity_of(fact: Fact) -> Quantity:
    """A fact's value as it goes into JSON."""
    return _of(fact.value, fact.unit, say.digits_of(fact))


def _of(value: Value, unit: str, digits: int) -> Quantity:
    if isinstance(value, Unknown):
        return Quantity(state="unknown", unit=unit, missing=list(value.missing))
    if isinstance(value, Options):
        answers = {name: _of(answer, unit, digits) for name, answer in value.answers.items()}
        return Quantity(state="options", unit=unit, options=answers)
    assert isinstance(value, Known)
    centre, low, high = (_rounded(end, digits) for end in (value.centre, *told_ends(value)))
    return Quantity(state="known", unit=unit, centre=centre, low=low, high=high)


def _rounded(value: Scalar, digits: int) -> Scalar:
    if isinstance(value, (bool, str)):
        return value
    return round(float(value), digits) + 0.0 if isinstance(value, (int, float)) else str(value)


def _question(entry: Question) -> QuestionOut:
    poor, good = entry.ends or (None, None)
    hangs = [
        HangsOut(id=f"{flip.rule}[{flip.subject.key}]", level=flip.level, at_poor_end=flip.poor, at_good_end=flip.good)
        for flip in entry.flips
    ]
    return QuestionOut(what=entry.what, poor_end=poor, good_end=good, hangs=hangs, how=entry.how, write=entry.write)


def _tried(fix: Fix | None) -> list[TriedOut]:
    if fix is None:
        return []
    return [
        TriedOut(
            change=tried.change.told,
            operator=tried.change.operator,
            effort_min=tried.change.effort_min,
            advised=tried is fix.best,
            gone=tried.gone,
            probability_met=tried.after.probability if tried.after is not None else None,
            counts_as=tried.after.effective_level if tried.after is not None else None,
            removes=[found.identity for found in tried.removed],
            adds=[found.identity for found in tried.added],
            worsens=[found.identity for _, found in tried.worsened],
        )
        for tried in (*([fix.best] if fix.best is not None else []), *fix.others)
    ]


def _finding(entry: Finding, not_possible: tuple[str, ...] = (), fix: Fix | None = None) -> FindingOut:
    return FindingOut(
        id=entry.identity,
        rule=entry.rule,
        subject=entry.subject.key,
        title=entry.title,
        verdict=entry.verdict,
        level=entry.level,
        counts_as=entry.effective_level,
        probability_met=entry.probability,
        confidence=entry.confidence,
        where=entry.position,
        message=entry.message,
        why=entry.why,
        do=list(entry.do),
        missing=list(entry.missing),
        options=list(entry.options),
        cause=entry.cause,
        not_possible=list(not_possible),
        tried=_tried(fix),
        facts=[FactOut(key=fact.key, value=quantity_of(fact), origin=say.origin(fact.by)) for fact in entry.facts],
    )


def _use(use: Use) -> UseOut:
    return UseOut(word=use.word, chance=use.chance, depends_on=use.depends_on)


def _place(row: PlaceRow) -> PlaceOut:
    return PlaceOut(
        place=row.place,
        client=row.client,
        uses={name: _use(use) for name, use in row.uses.items()},
        joins=quantity_of(row.joined),
        alone_mbps=quantity_of(row.alone),
        alone_up_mbps=quantity_of(row.alone_up),
        everyone_mbps=quantity_of(row.everyone),
        everyone_up_mbps=quantity_of(row.everyone_up),
        need_down_mbps=row.need_mbps[0],
        need_up_mbps=row.need_mbps[1],
        limited_by=quantity_of(row.binds),
    )


def _hop(row: HopRow) -> HopOut:
    return HopOut(
        node=row.node,
        parent=row.parent,
        over=row.over,
        open=row.open,
        level_dbm=quantity_of(row.level),
        rate_down_mbps=quantity_of(row.rate_down),
        rate_up_mbps=quantity_of(row.rate_up),
        alone_mbps=quantity_of(row.alone),
        alone_up_mbps=quantity_of(row.alone_up),
        while_serving_mbps=quantity_of(row.serving),
        asked_mbps=quantity_of(row.demand),
    )
