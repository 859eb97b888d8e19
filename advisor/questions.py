"""Which unknown matters: what to find out on site first, because a verdict hangs on it.

Every term the site file leaves open within a range is tried at both its ends, all others typical, in one evaluation of
the site; a term matters where a verdict differs between its ends. Inputs that are missing altogether matter by the
checks that wait for them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from advisor.data import catalogue
from advisor.facts.book import Book
from advisor.facts.draws import Z90, Array, Draws
from advisor.facts.narrowing import Rested, speed_tells_more
from advisor.network.graph import Hop
from advisor.rulebook.judge import LEVELS, VERDICTS, Finding, Get, Judgement, Verdict, verdict_of
from advisor.rulebook.load import Rule
from advisor.rulebook.schema import Level
from advisor.rulebook.tree import Quantity
from advisor.site.load import LoadedSite
from advisor.subjects import Subject
from advisor.trace import Fact
from advisor.units import number
from advisor.values import FIRST_DRAW, Known, Options, Unknown, Value, constant

MOST_TRIED = 12
"""Open terms tried at both ends: those that go most with the findings at risk."""
MOST_NAMED = 6
"""Fields written out for one question."""
WEIGHT = {"error": 4, "warning": 2, "note": 1}
"""What a verdict that hangs on an unknown weighs, by the level of its rule."""

Key = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Flip:
    """A verdict that hangs on the answer."""

    rule: str
    title: str
    subject: Subject
    level: Level
    poor: Verdict
    good: Verdict


@dataclass(frozen=True, slots=True)
class Question:
    """Something to find out on site: what, what hangs on it, how, and where to write the answer."""

    what: str
    ends: tuple[str, str] | None
    """The answer at its poor and at its good end; None where nothing is known of it."""
    flips: tuple[Flip, ...]
    how: str
    write: str
    reasons: tuple[str, ...] = ()
    """What findings that could not be judged name as missing, where this answers it."""

    @property
    def weight(self) -> int:
        return sum(WEIGHT[flip.level] for flip in self.flips)


class Pinned(Draws):
    """Instead of draws, two columns for each open term: it at its poor end, then at its good end, all others typical.

    `poor` says for each term which of its keys move, and in which direction the poor end lies (-1 or +1).
    """

    def __init__(self, poor: Sequence[Mapping[Key, int]]) -> None:
        super().__init__(count=2 * len(poor))
        self.poor = poor

    def _drawn(self, key: Key) -> Array:
        signs = np.array([float(term.get(key, 0)) for term in self.poor])
        return Z90 * np.column_stack((signs, -signs)).ravel()

    def shadow(self, first: str, second: str, band: str, common: float) -> Array:
        """All bands of the pair move together."""
        return self.normal("shadow", min(first, second), max(first, second))


Shown = tuple[str, Subject, dict[str, str]]
"""A fact by name, subject and variant."""


@dataclass(frozen=True)
class _Term:
    """An open term: the keys that move with it, and the words of the question."""

    kind: str
    words: dict[str, str]
    keys: dict[Key, int]
    shown: Shown | None
    """The fact that shows its ends."""
    hop: Hop | None = None
    """The hop it is about; of several ways its uplink may run, the one shown."""


def _whole_radios(loaded: LoadedSite, book: Book, question: Question) -> Question:
    """Where the file gives a node no radios, one of them written alone would take the others away: all are named."""
    nodes = sorted({path[1] for path in map(_PATH.match, question.write.split(", ")) if path})
    bare = [node for node in nodes if node in loaded.site.nodes and not loaded.site.nodes[node].radios]
    if not bare:
        return question
    words = []
    for node in bare:
        radios = (f"{radio.id}: {{band: {radio.band}, channel: …}}" for radio in book.inventory.radios_of(node))
        words.append(f"nodes.{node}.radios: {{{', '.join(radios)}}}")
    return replace(question, write="; ".join(words[:2]) + ("; and so on" if len(words) > 2 else ""))


_PATH = re.compile(r"nodes\.([^.]+)\.radios\.[^.]+\.channel$")


def questions(loaded: LoadedSite, book: Book, rules: tuple[Rule, ...], judgement: Judgement) -> tuple[Question, ...]:
    """What to find out first, the heaviest first; empty where no verdict hangs on anything open."""
    by_id = {rule.id: rule for rule in rules}
    risky = [finding for finding in judgement.findings if finding.verdict == "at-risk"]
    found = _tried(loaded, book, by_id, risky) + _of_options(book, by_id, risky) + _of_missing(judgement)
    asked = [_whole_radios(loaded, book, entry) for entry in found if entry.flips]
    return tuple(sorted(asked, key=lambda entry: (-entry.weight, entry.what)))


def _tried(loaded: LoadedSite, book: Book, rules: Mapping[str, Rule], risky: list[Finding]) -> list[Question]:
    terms = _likely(book, _terms(book), risky)
    if not terms:
        return []
    tried = Book(loaded, draws=Pinned([term.keys for term in terms]))
    flips: list[list[Flip]] = [[] for _ in terms]
    for finding in risky:
        rule = rules[finding.rule]
        read = _read(tried, rule, finding.subject)
        for index in range(len(terms)):
            columns = (FIRST_DRAW + 2 * index, FIRST_DRAW + 2 * index + 1)
            if any(_moves(fact.value, *columns) for fact in read.values()):
                poor, good = (verdict_of(rule, finding.subject, _column(read, column)) for column in columns)
                if poor != good:
                    flips[index].append(Flip(finding.rule, finding.title, finding.subject, finding.level, poor, good))
    found = []
    for index, term in enumerate(terms):
        asked = _speed_or_level(book, term, rules, flips[index])
        ends = _ends(tried, asked, FIRST_DRAW + 2 * index)
        found.append(_question(asked.kind, asked.words, tuple(flips[index]), ends))
    return found


def _speed_or_level(book: Book, term: _Term, rules: Mapping[str, Rule], flips: list[Flip]) -> _Term:
    """Of a hop the level is asked for, or its speed where a speed test leaves less of what hangs on it open."""
    rested = [
        Rested(
            flip.subject,
            tuple((quantity.name, dict(quantity.variant)) for quantity in _read(book, rules[flip.rule], flip.subject)),
            WEIGHT[flip.level],
        )
        for flip in flips
    ]
    if term.hop is None or not rested or not speed_tells_more(book, term.hop, rested):
        return term
    return replace(term, kind="hop-speed", shown=("goodput_mbps", Subject("hop", (term.hop.node,)), {"dir": "down"}))


def _read(book: Book, rule: Rule, subject: Subject) -> dict[Quantity, Fact]:
    """Every fact a rule reads about a subject."""
    parts = (rule.where, rule.when, rule.value, rule.at_least)
    wanted = {ref.quantity: None for part in parts if part is not None for ref in part.references}
    return {quantity: book.get(quantity.name, subject, **dict(quantity.variant)) for quantity in wanted}


def _moves(value: Value, first: int, second: int) -> bool:
    """Whether a value differs between two columns."""
    if isinstance(value, Options):
        return any(_moves(answer, first, second) for answer in value.answers.values())
    return isinstance(value, Known) and value.cases is not None and bool(value.cases[first] != value.cases[second])


def _column(read: Mapping[Quantity, Fact], column: int) -> Get:
    """The facts as they are in one column."""
    found = {quantity: fact._replace(value=_at(fact.value, column)) for quantity, fact in read.items()}
    return lambda name, **variant: found[Quantity(name, tuple(variant.items()))]


def _at(value: Value, column: int) -> Value:
    if isinstance(value, Options):
        answers = {name: _at(answer, column) for name, answer in value.answers.items()}
        return Options(answers)  # type: ignore[arg-type]
    if isinstance(value, Unknown) or value.cases is None:
        return value
    return constant(value.cases[column].item() if isinstance(value.cases[column], np.generic) else value.cases[column])


def _terms(book: Book) -> list[_Term]:
    """The open terms a person could find out: levels of a pair, powers, how busy others keep the air."""
    terms: dict[Key, _Term] = {}
    read = {(entry.radio, entry.at) for entry in book.site.measured.values() if entry.level_dbm is not None}
    for key in book.draws.keys:
        if key[0] in ("shadow", "construction", "distance") and len(key) >= 3:
            ends = (key[1], key[2])
            term = terms.setdefault(("level", *ends), _level_term(book, *ends))
            term.keys[key] = -1 if key[0] == "shadow" else 1
        elif key[0] == "power":
            words = {"radio": key[1], "path": book.inventory.radios[key[1]].path}
            terms[key] = _Term("power", words, {key: -1}, ("eirp_dbm", Subject("radio", (key[1],)), {}))
        elif key[0].startswith(("neighbours.", "interference.")):
            section, name, _ = key[0].split(".")
            kind = "busy" if section == "neighbours" else "duty"
            terms[key] = _Term(kind, {"neighbour": name}, {key: 1}, None)
    return [term for term in terms.values() if (term.words.get("radio"), term.words.get("end")) not in read]


def _level_term(book: Book, first: str, second: str) -> _Term:
    """The level of a pair of ends, each written `section.id`."""
    (section, end), (_, node) = sorted((first.split("."), second.split(".")), key=lambda entry: entry[0] != "places")
    if section == "places":
        pairs = [pair for pair in book.subjects("place-radio") if pair.ids[0] == end]
        radios = [pair.ids[1] for pair in pairs if book.inventory.radios[pair.ids[1]].node == node]
        radio = max(radios, key=lambda name: (_centre(book, end, name), name), default=None)
        shown: Shown | None = ("level_dbm", Subject("place-radio", (end, radio)), {}) if radio else None
        return _Term("level", {"node": node, "end": end, "radio": radio or f"{node}.…"}, {}, shown)
    ways = [hop for hop in _ways(book) if {hop.node, hop.parent} == {node, end} and hop.air]
    if not ways:
        return _Term("hop-level", {"node": node, "end": end, "radio": _radios_of(book, node)}, {}, None)
    weakest = min(ways, key=lambda hop: (_level_of(book, hop), hop.option))
    words = {"node": weakest.parent, "end": weakest.node, "radio": str(weakest.parent_radio)}
    return _Term("hop-level", words, {}, ("level_dbm", Subject("hop", (weakest.node,)), {}), weakest)


def _ways(book: Book) -> list[Hop]:
    """Every uplink as it runs, or as it may run where it is left to the equipment."""
    open_ways = [hop for hops in book.options.values() for hop in hops]
    return [*open_ways, *(hop for hop in book.hops.values() if len(book.options.get(hop.node, ())) < 2)]


def _level_of(book: Book, hop: Hop) -> float:
    value = book.get("level_dbm", Subject("hop", (hop.node,))).value
    if isinstance(value, Options):
        value = value.answers.get(hop.option, Unknown(()))
    return float(value.centre) if isinstance(value, Known) else -999.0


def _radios_of(book: Book, node: str) -> str:
    return " or ".join(radio.name for radio in book.inventory.radios_of(node))


def _centre(book: Book, place: str, radio: str) -> float:
    value = book.get("level_dbm", Subject("place-radio", (place, radio))).value
    return float(value.centre) if isinstance(value, Known) else -999.0


def _likely(book: Book, terms: list[_Term], risky: list[Finding]) -> list[_Term]:
    """The terms that go most with what the findings at risk rest on: squared correlation over the draws, summed."""
    rows = [row for finding in risky for row in _rows(finding)]
    if not rows or not terms:
        return []
    results = np.array([(row - row.mean()) / row.std() for row in rows])
    count = book.draws.count
    weights = []
    for term in terms:
        best = 0.0
        for key in term.keys:
            drawn = book.draws.normal(*key)[FIRST_DRAW:]
            best = max(best, float((((results @ drawn) / (count * drawn.std())) ** 2).sum()))
        weights.append(round(best, 6))
    order = sorted(range(len(terms)), key=lambda index: (-weights[index], sorted(terms[index].keys)))
    return [terms[index] for index in order[:MOST_TRIED]]


def _rows(finding: Finding) -> list[Array]:
    """The varying results a finding rests on, over the draws."""
    found = []
    for fact in finding.facts:
        answers = fact.value.answers.values() if isinstance(fact.value, Options) else (fact.value,)
        for value in answers:
            if isinstance(value, Known) and value.cases is not None and len(value.cases) > FIRST_DRAW:
                drawn = value.cases[FIRST_DRAW:]
                row = np.asarray(drawn == value.centre if drawn.dtype.kind in "OUS" else drawn, dtype=float)
                if float(row.std()) > 0.0:
                    found.append(row)
    return found


def _ends(book: Book, term: _Term, column: int) -> tuple[str, str] | None:
    if term.shown is not None:
        name, subject, variant = term.shown
        fact = book.get(name, subject, **variant)
        value = fact.value
        if isinstance(value, Options):
            value = value.answers.get(term.hop.option if term.hop else "", Unknown(()))
        if isinstance(value, Known) and value.cases is not None:
            poor, good = (number(float(value.cases[column + end]), 0) for end in (0, 1))
            return f"{poor} {fact.unit}", f"{good} {fact.unit}"
    if term.kind in ("busy", "duty"):
        row = catalogue("ranges")["neighbours"]["busy_share" if term.kind == "busy" else "duty_share"]
        return f"{row['high']:.0%}", f"{row['low']:.0%}"
    return None


def _of_options(book: Book, rules: Mapping[str, Rule], risky: list[Finding]) -> list[Question]:
    """Uplinks left to the equipment on whose choice a verdict hangs: judged for each way, worst and best told."""
    found = []
    for node, hops in sorted(book.options.items()):
        if len(hops) < 2:
            continue
        flips = []
        for finding in risky:
            if not finding.options:
                continue
            read = _read(book, rules[finding.rule], finding.subject)
            verdicts = {verdict_of(rules[finding.rule], finding.subject, _chosen(read, node, hop)) for hop in hops}
            if len(verdicts) > 1:
                worst, best = (edge(verdicts, key=VERDICTS.index) for edge in (min, max))
                flips.append(Flip(finding.rule, finding.title, finding.subject, finding.level, worst, best))
        found.append(_question("option", {"node": node}, tuple(flips), None))
    return found


def _chosen(read: Mapping[Quantity, Fact], node: str, hop: Hop) -> Get:
    """The facts as they are where the node's uplink runs one way."""
    names = (hop.option, f"{node} {hop.option}")
    found = {}
    for quantity, fact in read.items():
        value = fact.value
        if isinstance(value, Options):
            value = next((value.answers[name] for name in names if name in value.answers), value)
        found[quantity] = fact._replace(value=value)
    return lambda name, **variant: found[Quantity(name, tuple(variant.items()))]


def _of_missing(judgement: Judgement) -> list[Question]:
    """Inputs that are missing altogether, with the checks that wait for them; alike ones are asked for together."""
    asked: dict[tuple[str, str], dict[str, Finding]] = {}
    told: dict[tuple[str, str], dict[str, _Asked]] = {}
    for finding in judgement.unknowns:
        for reason in finding.missing:
            entry = _asking_for(reason)
            if entry is not None:
                key = (entry.what, entry.how)
                asked.setdefault(key, {})[finding.identity] = finding
                told.setdefault(key, {}).setdefault(reason, entry)
    found = []
    for key, entries in sorted(asked.items()):
        alike = list(told[key].values())
        names = ", ".join(sorted({entry.name for entry in alike if entry.name}))
        writes = sorted({entry.write for entry in alike})
        more = f" and {len(writes) - MOST_NAMED} more" if len(writes) > MOST_NAMED else ""
        found.append(
            Question(
                key[0].replace("{all}", names),
                None,
                tuple(map(_waits, _gravest_first(entries))),
                key[1],
                ", ".join(writes[:MOST_NAMED]) + more,
                tuple(told[key]),
            )
        )
    return found


def _gravest_first(findings: Mapping[str, Finding]) -> list[Finding]:
    return sorted(findings.values(), key=lambda entry: (LEVELS.index(entry.level), entry.identity))


def _waits(finding: Finding) -> Flip:
    return Flip(finding.rule, finding.title, finding.subject, finding.level, "unknown", "unknown")


class _Asked(NamedTuple):
    """What to ask for a missing input, how to find it out, where to write it; `{all}` in `what` stands for the names of
    all that are asked for together."""

    what: str
    how: str
    write: str
    name: str


def _asking_for(reason: str) -> _Asked | None:
    """None where nobody can find it out on site."""
    for texts in catalogue("questions")["missing"]:
        found = re.match(texts["begins"], reason)
        if found and texts.get("ask") is False:
            return None
        if found:
            words = {"reason": reason, "path": _path_in(reason), "all": "{all}"} | found.groupdict()
            what, write = (str(texts[part]).format(**words) for part in ("what", "write"))
            return _Asked(what, str(texts["how"]), write, str(found.groupdict().get("radio", "")))
    raise ValueError("the last entry of the catalogue fits every reason")


def _path_in(reason: str) -> str:
    """The path a reason names in brackets, or the words for where to look."""
    inside = reason.rpartition("(")[2].removesuffix(")") if reason.endswith(")") else ""
    return inside.partition(":")[0] or "the field these words name"


def _question(kind: str, words: dict[str, str], flips: tuple[Flip, ...], ends: tuple[str, str] | None) -> Question:
    texts = catalogue("questions")[kind]
    what, how, write = (str(texts[part]).format(**words) for part in ("what", "how", "write"))
    return Question(what, ends, flips, how, write)
