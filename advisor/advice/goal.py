"""What a site is to reach: no error left. How far it is, as a few figures that can be compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.advice.tries import Standing
from advisor.assess import DEEP
from advisor.rulebook.judge import Finding
from advisor.rulebook.load import Rule

UNSURE = 0.5
"""What an error that may be counts where no chance is known."""


@dataclass(frozen=True, slots=True, order=True)
class Distance:
    """How far a site is from having no error: needs not met, places without a radio, hops that do not hold."""

    errors: int
    possible: int
    """Errors that may be, and needs that cannot be judged."""
    shortfall: float
    """Sum over all of them of how unlikely it is that they are met."""

    @property
    def reached(self) -> bool:
        return self.errors == 0 and self.possible == 0


def goal_rules(rules: Sequence[Rule]) -> tuple[Rule, ...]:
    """The rules whose findings are errors, but those that follow walks or outages."""
    return tuple(rule for rule in rules if rule.body.level == "error" and rule.topic not in DEEP)


def distance(standing: Standing) -> Distance:
    found = [entry for entry in standing.judgement.findings if entry.level == "error"]
    unknown = [entry for entry in standing.judgement.unknowns if entry.level == "error"]
    errors = sum(entry.verdict == "fail" for entry in found)
    return Distance(errors, len(found) - errors + len(unknown), round(sum(map(_lacking, found)) + len(unknown), 2))


def _lacking(finding: Finding) -> float:
    if finding.probability is not None:
        return 1.0 - finding.probability
    return 1.0 if finding.verdict == "fail" else UNSURE


def open_needs(standing: Standing) -> tuple[Finding, ...]:
    """The errors and possible errors there are, worst first."""
    found = [entry for entry in standing.judgement.findings if entry.level == "error"]
    return tuple(sorted(found, key=lambda entry: (entry.verdict != "fail", -_lacking(entry), entry.identity)))
