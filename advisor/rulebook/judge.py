"""Judging: each rule over every subject of its kind, with verdicts that know what they do not know."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, TypeAlias

from advisor.errors import RuleError
from advisor.rulebook.evaluate import Single, arithmetic, resolve, scenarios, truth
from advisor.rulebook.expression import reference
from advisor.rulebook.load import Rule
from advisor.rulebook.schema import Confidence, Level
from advisor.rulebook.tree import Expression, Quantity, Reference
from advisor.subjects import KINDS, Subject
from advisor.trace import Fact, assumptions
from advisor.values import Known, Unknown, Value, chance_at_least

Verdict: TypeAlias = Literal["pass", "fail", "at-risk", "unknown", "not-applicable"]
VERDICTS: tuple[Verdict, ...] = ("fail", "at-risk", "unknown", "pass", "not-applicable")
LEVELS: tuple[Level, ...] = ("error", "warning", "note")
"""Worst first."""
CONFIDENCES: tuple[Confidence, ...] = ("high", "medium", "low")

MET, UNMET = 0.9, 0.5
"""A need passes when met in at least MET of the band and fails under UNMET; in between it is at risk."""
CHANCE_DIGITS = 3

Get: TypeAlias = Callable[..., Fact]
"""get(name, **variant) → fact of the subject that is judged."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What one rule says about one subject. Its identity is rule and subject, never a number."""

    rule: str
    title: str
    level: Level
    effective_level: Level
    """At-risk counts one level lower."""
    verdict: Verdict
    probability: float | None
    """For a need: how likely it is met; with several options, in the worst of them."""
    confidence: Confidence
    """One step lower than the rule's own when a fact it rests on is assumed."""
    subject: Subject
    message: str
    why: str
    do: tuple[str, ...]
    missing: tuple[str, ...]
    """What the site file would have to give; in plain words."""
    options: tuple[str, ...]
    """Where the equipment's own choice decides: the choices with which it fails or may fail."""
    cause: str | None
    """Key of the subject that causes it."""
    cause_rank: int
    position: str
    """`file:line:column`"""
    facts: tuple[Fact, ...] = field(compare=False, repr=False)
    """The facts that decided, then those its texts mention."""
    heads: bool = False
    """Whether findings that name its subject as their cause stand under it."""

    @property
    def identity(self) -> str:
        return f"{self.rule}[{self.subject.key}]"


@dataclass(frozen=True, slots=True)
class Judgement:
    """All findings (fail and at-risk), all unknowns, and how many verdicts of each kind there were."""

    findings: tuple[Finding, ...]
    unknowns: tuple[Finding, ...]
    counts: Mapping[Verdict, int]


@dataclass(frozen=True, slots=True)
class _Answer:
    verdict: Verdict
    missing: tuple[str, ...] = ()
    probability: float | None = None
    options: tuple[str, ...] = ()


class _Reading:
    """The facts one judgement reads: each once, in order; a fact that raises is reported with rule and subject."""

    def __init__(self, rule: Rule, subject: Subject, get: Get) -> None:
        self.rule, self.subject, self.get = rule, subject, get
        self.facts: dict[Quantity, Fact] = {}

    def fact(self, quantity: Quantity) -> Fact:
        if quantity not in self.facts:
            try:
                self.facts[quantity] = self.get(quantity.name, **dict(quantity.variant))
            except RuleError:
                raise
            except Exception as error:
                raise self.error(f"fact {quantity.text}: {_said(error)}") from error
        return self.facts[quantity]

    def values(self, *expressions: Expression | None) -> dict[Quantity, Value]:
        return {ref.quantity: self.fact(ref.quantity).value for part in expressions if part for ref in part.references}

    def find(self, path: str) -> tuple[Reference, Value]:
        """A fact by its dotted path, for texts."""
        ref = reference(path, self.rule.about, self.rule.lookup)
        return ref, self.fact(ref.quantity).value

    def error(self, what: str) -> RuleError:
        return RuleError(self.rule.id, what, self.subject.key)


def judge(rule: Rule, subject: Subject, get: Get, position: str = "") -> Finding | Verdict:
    """Judge one rule about one subject: a Finding for fail, at-risk and unknown, else the bare verdict."""
    reading = _Reading(rule, subject, get)
    try:
        answer = _answer(rule, reading)
        if answer.verdict in ("pass", "not-applicable"):
            return answer.verdict
        return _finding(rule, reading, answer, position)
    except RuleError:
        raise
    except Exception as error:
        raise reading.error(_said(error)) from error


def verdict_of(rule: Rule, subject: Subject, get: Get) -> Verdict:
    """The bare verdict of one rule about one subject; no texts are made."""
    reading = _Reading(rule, subject, get)
    try:
        return _answer(rule, reading).verdict
    except RuleError:
        raise
    except Exception as error:
        raise reading.error(_said(error)) from error


def judge_all(
    rules: Iterable[Rule],
    subjects_of: Callable[[str], Iterable[Subject]],
    get: Callable[[Subject, str, dict[str, str]], Fact],
    where: Callable[[Subject, Rule], str],
) -> Judgement:
    """Judge every rule about every subject of its kind.

    Findings come sorted by effective level, rule and subject. A rule or a fact that raises is a RuleError that names
    both; nothing is swallowed.
    """
    found: list[Finding] = []
    counts: dict[Verdict, int] = dict.fromkeys(VERDICTS, 0)
    for rule in rules:
        for subject in subjects_of(rule.about):
            result = judge(rule, subject, _bound(get, subject))
            if isinstance(result, Finding):
                result = _placed(result, rule, where)
                found.append(result)
                counts[result.verdict] += 1
            else:
                counts[result] += 1
    found.sort(key=order)
    return Judgement(
        tuple(finding for finding in found if finding.verdict != "unknown"),
        tuple(finding for finding in found if finding.verdict == "unknown"),
        counts,
    )


def order(finding: Finding) -> tuple[int, str, str]:
    """Worst level first, then by rule and subject."""
    return LEVELS.index(finding.effective_level), finding.rule, finding.subject.key


def _bound(get: Callable[[Subject, str, dict[str, str]], Fact], subject: Subject) -> Get:
    return lambda name, **variant: get(subject, name, variant)


def _placed(finding: Finding, rule: Rule, where: Callable[[Subject, Rule], str]) -> Finding:
    try:
        return replace(finding, position=where(finding.subject, rule))
    except Exception as error:
        raise RuleError(rule.id, f"position: {_said(error)}", finding.subject.key) from error


def _answer(rule: Rule, reading: _Reading) -> _Answer:
    """The verdict, joined over every way the equipment may choose; where a rule does not apply it reads no more."""
    if rule.where is not None:
        applies = [truth(resolve(rule.where.tree, chosen)) for _, chosen in scenarios(reading.values(rule.where))]
        if all(answer.truth is False and answer.certain for answer in applies):
            return _Answer("not-applicable")
    values = reading.values(rule.where, rule.when, rule.value, rule.at_least)
    return _joined([(name, _under(rule, chosen)) for name, chosen in scenarios(values)])


def _under(rule: Rule, values: Mapping[Quantity, Single]) -> _Answer:
    """The verdict with every choice made. Where it is open whether the rule applies, a failure is a risk."""
    answer = _when(rule.when, values) if rule.when is not None else _need(rule, values)
    if rule.where is None:
        return answer
    applies = truth(resolve(rule.where.tree, values))
    if applies.truth is False and applies.certain:
        return _Answer("not-applicable")
    if applies.truth is None:
        if answer.verdict == "pass":
            return answer
        return _Answer("unknown", tuple(dict.fromkeys((*applies.missing, *answer.missing))))
    if not applies.certain and answer.verdict == "fail":
        return _Answer("at-risk", answer.missing, answer.probability)
    return answer


def _when(condition: Expression, values: Mapping[Quantity, Single]) -> _Answer:
    wrong = truth(resolve(condition.tree, values))
    if wrong.truth is None:
        return _Answer("unknown", wrong.missing)
    if not wrong.certain:
        return _Answer("at-risk")
    return _Answer("fail" if wrong.truth else "pass")


def _need(rule: Rule, values: Mapping[Quantity, Single]) -> _Answer:
    if rule.value is None or rule.at_least is None:
        raise TypeError("the rule has neither 'when' nor 'need'")
    value = resolve(rule.value.tree, values, with_cases=True)
    needed = resolve(rule.at_least.tree, values, with_cases=True)
    spare = arithmetic("-", [value, needed])
    if isinstance(value, Unknown) or isinstance(needed, Unknown) or isinstance(spare, Unknown):
        return _Answer("unknown", spare.missing if isinstance(spare, Unknown) else ())
    if needed.certain and needed.cases is None:
        chance = chance_at_least(value, float(needed.centre))
    else:
        chance = chance_at_least(spare, 0.0)
    chance = round(chance, 9)
    verdict: Verdict = "pass" if chance >= MET else "fail" if chance < UNMET else "at-risk"
    return _Answer(verdict, (), round(chance, CHANCE_DIGITS))


def _joined(answers: list[tuple[str, _Answer]]) -> _Answer:
    """One verdict from those of the options: what all say, else at-risk if any fails, else unknown if any is."""
    if len(answers) == 1:
        return answers[0][1]
    found = {answer.verdict for _, answer in answers}
    missing = tuple(dict.fromkeys(reason for _, answer in answers for reason in answer.missing))
    failing = tuple(name for name, answer in answers if answer.verdict in ("fail", "at-risk"))
    chances = [answer.probability for _, answer in answers if answer.probability is not None]
    if len(found) == 1:
        verdict = found.pop()
    elif failing:
        verdict = "at-risk"
    else:
        verdict = next(kind for kind in VERDICTS if kind in found)
    some = failing if len(failing) < len(answers) else ()
    return _Answer(verdict, missing, min(chances, default=None), some)


def _finding(rule: Rule, reading: _Reading, answer: _Answer, position: str) -> Finding:
    body = rule.body
    rests_on = list(reading.facts.values())
    level = LEVELS[min(LEVELS.index(body.level) + (answer.verdict == "at-risk"), len(LEVELS) - 1)]
    confidence = CONFIDENCES[min(CONFIDENCES.index(body.confidence) + _assumes(rests_on), len(CONFIDENCES) - 1)]
    message, why, cause = body.title, "", None
    steps: list[str] = []
    if answer.verdict != "unknown":
        message, why, *steps = _texts(rule, reading, answer)
        cause = _cause(rule, reading)
    return Finding(
        body.id,
        body.title,
        body.level,
        level,
        answer.verdict,
        answer.probability,
        confidence,
        reading.subject,
        message,
        why,
        tuple(steps),
        answer.missing,
        answer.options,
        cause,
        body.cause_rank,
        position,
        tuple(reading.facts.values()),
        body.heads,
    )


def _assumes(facts: list[Fact]) -> bool:
    return any(assumptions(fact) for fact in facts)


def _texts(rule: Rule, reading: _Reading, answer: _Answer) -> list[str]:
    """Message, why and every step of what to do, rendered."""
    from advisor.rulebook.text import ParamsView, Shown, render

    chance: Value = Unknown(("not a need",))
    if answer.probability is not None:
        percent = round(100 * answer.probability, CHANCE_DIGITS - 2)
        chance = Known(percent, percent, percent)
    context: dict[str, Any] = {
        "subject": reading.subject,
        "params": ParamsView(rule.body.params),
        "verdict": answer.verdict,
        "chance": Shown(chance, "%", None),
        "failing_options": answer.options,
    }
    texts = [("message", rule.body.message), ("why", rule.body.why), *(("do", step) for step in rule.body.do)]
    rendered = []
    for key, text in texts:
        try:
            rendered.append(render(text, context, reading.find))
        except RuleError:
            raise
        except Exception as error:
            raise reading.error(f"{key}: {_said(error)}") from error
    return rendered


def _cause(rule: Rule, reading: _Reading) -> str | None:
    """The key of the subject that causes the finding, where the fact knows it."""
    if rule.cause is None:
        return None
    value = reading.fact(rule.cause.quantity).value
    if not isinstance(value, Known) or value.centre in ("", "none"):
        return None
    key = str(value.centre)
    if key != "site" and tuple(part.partition("=")[0] for part in key.split(",")) not in KINDS.values():
        raise reading.error(f"fact {rule.cause.quantity.text}: {key!r} is not the key of a subject")
    return key


def _said(error: Exception) -> str:
    return f"{type(error).__name__}: {error}"
