"""Findings with one shared cause told together: the cause first, its consequences under it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from advisor.rulebook.judge import LEVELS, Finding


@dataclass(frozen=True, slots=True)
class Group:
    """A finding to deal with first, and the findings that come from it."""

    head: Finding
    consequences: tuple[Finding, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        return (self.head, *self.consequences)


def group_findings(findings: Iterable[Finding]) -> tuple[Group, ...]:
    """Group findings by the subject at the root of their chain of causes.

    A finding whose cause names a subject joins the findings about that subject whose rule may head a group; if the most
    fundamental of those names a cause itself, the chain goes on (place ← hop ← the hop above). A subject that causes
    nothing groups nothing: two findings about it stand alone, and so does one whose rule heads none and names no cause.
    The head is the finding about the root with the smallest (cause rank, level, rule); where there is none, the worst
    consequence. Groups come by worst effective level, cause rank and subject key.
    """
    entries = sorted(findings, key=_fundamental)
    about: dict[str, list[Finding]] = {}
    for finding in entries:
        if finding.heads:
            about.setdefault(finding.subject.key, []).append(finding)
    roots = {finding.identity: _root(finding, about) for finding in entries}
    shared = {root for finding in entries if finding.cause is not None for root in [roots[finding.identity]]}
    members: dict[tuple[str, str], list[Finding]] = {}
    for finding in entries:
        root = roots[finding.identity]
        members.setdefault((root, "" if root in shared else finding.rule), []).append(finding)
    groups = [_group(root, gathered) for (root, _), gathered in members.items()]
    return tuple(sorted(groups, key=_place))


def _root(finding: Finding, about: dict[str, list[Finding]]) -> str:
    """The subject at the end of the chain of causes; of a circle, its first key in order."""
    if finding.cause is None and not finding.heads:
        return finding.identity
    chain = [finding.subject.key]
    cause = finding.cause
    while cause is not None and cause != chain[-1]:
        if cause in chain:
            return min(chain[chain.index(cause) :])
        chain.append(cause)
        above = about.get(cause)
        cause = above[0].cause if above else None
    return chain[-1]


def _group(root: str, members: list[Finding]) -> Group:
    own = [finding for finding in members if finding.subject.key == root and finding.heads]
    head = min(own, key=_fundamental) if own else min(members, key=_worst)
    worst_of: dict[str, int] = {}
    for finding in members:
        key = finding.subject.key
        worst_of[key] = min(worst_of.get(key, len(LEVELS)), _level(finding))
    rest = sorted(
        (finding for finding in members if finding is not head),
        key=lambda finding: (worst_of[finding.subject.key], finding.subject.key, *_worst(finding)),
    )
    return Group(head, tuple(rest))


def _level(finding: Finding) -> int:
    return LEVELS.index(finding.effective_level)


def _fundamental(finding: Finding) -> tuple[bool, int, int, str, str]:
    """What is certain goes before what is at risk, then the more fundamental, then the worse."""
    return finding.verdict != "fail", finding.cause_rank, _level(finding), finding.rule, finding.subject.key


def _worst(finding: Finding) -> tuple[int, int, str, str]:
    return _level(finding), finding.cause_rank, finding.subject.key, finding.rule


def _place(group: Group) -> tuple[int, int, str, str]:
    worst = min(_level(finding) for finding in group.findings)
    return worst, group.head.cause_rank, group.head.subject.key, group.head.rule
