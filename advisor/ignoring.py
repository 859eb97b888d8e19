"""Findings the user has decided to live with: set aside with their reason, counted and listed, never lost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from difflib import get_close_matches

from advisor.errors import InputError, Problem
from advisor.rulebook.judge import Finding, Judgement
from advisor.site.load import LoadedSite
from advisor.site.schema import Ignored


@dataclass(frozen=True, slots=True)
class SetAside:
    """A finding the site file says to ignore, with the entry that says so."""

    finding: Finding
    entry: str
    reason: str
    until: str | None


@dataclass(frozen=True, slots=True)
class Sorted:
    """A judgement without what is ignored, what is, and what is odd about the entries, as (entry, words)."""

    judgement: Judgement
    ignored: tuple[SetAside, ...]
    odd: tuple[tuple[str, str], ...]


def set_aside(
    loaded: LoadedSite, judgement: Judgement, known: Iterable[str], ran: Iterable[str], today: date | None
) -> Sorted:
    """Set aside what `ignored` of the site file names.

    `known` are the ids of all rules, `ran` of those that were judged; `today` decides whether an entry with `until`
    still holds (None: it does).
    Raises InputError for an entry whose rule does not exist or whose date is none, at its place in the file.
    """
    _refuse_wrong(loaded, set(known))
    judged = set(ran)
    entries = sorted(entry for entry in loaded.site.ignored.items() if entry[1].rule in judged)
    ended = {key for key, entry in entries if today and entry.until and date.fromisoformat(entry.until) < today}
    taken: dict[str, SetAside] = {}
    used: set[str] = set()
    for finding in (*judgement.findings, *judgement.unknowns):
        for key, entry in entries:
            if _matches(entry, finding):
                used.add(key)
                if key not in ended and finding.identity not in taken:
                    taken[finding.identity] = SetAside(finding, key, entry.reason, entry.until)
    odd = [(f"ignored.{key}", f"ended on {entry.until}: counted again") for key, entry in entries if key in ended]
    odd += [
        (f"ignored.{key}", "matches no finding now: it can be taken out")
        for key, _ in entries
        if key not in used and key not in ended
    ]
    kept = replace(
        judgement,
        findings=tuple(finding for finding in judgement.findings if finding.identity not in taken),
        unknowns=tuple(finding for finding in judgement.unknowns if finding.identity not in taken),
    )
    return Sorted(kept, tuple(taken.values()), tuple(sorted(odd)))


def _matches(entry: Ignored, finding: Finding) -> bool:
    subject = finding.subject
    named = {"", subject.key, subject.name, subject.name.replace(" ", ""), finding.identity}
    return entry.rule == finding.rule and entry.subject.strip() in named


def _refuse_wrong(loaded: LoadedSite, known: set[str]) -> None:
    problems = []
    for key, entry in sorted(loaded.site.ignored.items()):
        if entry.rule not in known:
            near = get_close_matches(entry.rule, sorted(known), 1)
            hint = f'Did you mean "{near[0]}"? ' if near else ""
            where = loaded.position(f"ignored.{key}.rule")
            what = f'ignored.{key}.rule: there is no rule "{entry.rule}"'
            problems.append(Problem(where, what, f"{hint}`advisor rules list` shows them all."))
        if entry.until is not None and not _is_date(entry.until):
            where = loaded.position(f"ignored.{key}.until")
            what = f"ignored.{key}.until: {entry.until} is no day of the calendar"
            problems.append(Problem(where, what, "Write the last day as YYYY-MM-DD, or leave it out."))
    if problems:
        raise InputError(loaded.file, problems)


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True
