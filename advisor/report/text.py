"""The check as text for people: causes first, then what could not be checked, then what works where."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from rich.console import Group as Stack
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from advisor.assess import Assessment
from advisor.questions import Question
from advisor.report import say
from advisor.report.tried_text import tried_lines
from advisor.rulebook.group import Group
from advisor.rulebook.judge import LEVELS, Finding
from advisor.site.load import LoadedSite
from advisor.tables import USES, Use
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType

    from advisor.advice.tries import Fix

STYLES = {"error": "bold red", "warning": "bold", "note": "dim"}
MOST_UNKNOWNS = 5
MOST_CONSEQUENCES = 8
MOST_ASSUMPTIONS = 5
MOST_QUESTIONS = 3
MOST_HANGING = 3


def check(assessment: Assessment, fixes: Mapping[str, Fix] | None = None) -> Iterator[RenderableType]:
    """The parts of the report, in order; `fixes` is what was tried, by the finding that heads a group."""
    yield heading(assessment.loaded)
    yield Text()
    yield Text(summary(assessment), style="bold")
    told: dict[str, int] = {}
    for number, alike in enumerate(_alike(assessment.groups), 1):
        yield Text()
        group = alike[0]
        told_at = told.setdefault(group.head.rule, number)
        fix = (fixes or {}).get(group.head.identity)
        yield _head(number, group.head, assessment.not_possible.get(group.head.identity, ()), told_at, fix)
        yield from _listed("Leads to", group.consequences, "of the same cause")
        yield from _listed("Also", [other.head for other in alike[1:]], "of the same kind")
    if not assessment.groups:
        yield Text()
        waiting = assessment.judgement.unknowns
        yield Text("No rule found anything to mend" + (" among what could be checked." if waiting else "."))
    yield from _find_out(assessment)
    yield from _not_checked(assessment)
    yield from _rests_on(assessment)
    yield from _set_aside(assessment)
    if assessment.places:
        yield Text()
        yield where_it_works(assessment)
        yield from _table_notes(assessment)
    yield Text()
    yield Text(summary(assessment), style="bold")


def _alike(groups: Sequence[Group]) -> list[list[Group]]:
    """Groups of one finding that say the same of several subjects, told together where the first of them stands."""
    found: dict[tuple[str, str], list[Group]] = {}
    for number, group in enumerate(groups):
        own = group.head.rule if not group.consequences else str(number)
        found.setdefault((own, group.head.verdict), []).append(group)
    return list(found.values())


def _listed(label: str, findings: Sequence[Finding], kind: str) -> Iterator[RenderableType]:
    if not findings:
        return
    yield Padding(Text(label), (0, 0, 0, 4))
    for finding in findings[:MOST_CONSEQUENCES]:
        yield _consequence(finding)
    more = len(findings) - MOST_CONSEQUENCES
    if more > 0:
        yield Padding(Text(f"and {more} more {kind}; --format json lists them"), (0, 0, 0, 8))


def heading(loaded: LoadedSite) -> Text:
    about = loaded.site.site
    title = Text(inert(about.name), style="bold")
    if about.invented:
        title.append(" (an invented example)", style="not bold")
    return title.append(f"\n{inert(loaded.file)}", style="dim not bold")


def level_word(finding: Finding) -> str:
    """`ERROR`, or `POSSIBLE ERROR` where it depends on what is not known exactly."""
    word = finding.level.upper()
    return f"POSSIBLE {word}" if finding.verdict == "at-risk" else word


def _title(finding: Finding) -> Text:
    text = Text(level_word(finding), style=STYLES[finding.effective_level])
    text.append("  ").append(inert(finding.title), style="bold")
    return text


def _head(number: int, finding: Finding, not_possible: tuple[str, ...], told_at: int, fix: Fix | None = None) -> Stack:
    """A finding in full; why and what to do stand only where its rule is told first (`told_at`)."""
    title = Text(f"{number}. ", style="bold").append_text(_title(finding))
    parts: list[RenderableType] = [title]
    body: list[RenderableType] = [Text(inert(finding.position), style="dim"), Text(inert(finding.message))]
    if told_at != number:
        body.append(_labelled("Do", f"as under {told_at}"))
    elif finding.level == "note":
        body.append(_labelled("Do", inert(finding.do[0])))
    else:
        body.append(_labelled("Why", inert(finding.why)))
        body += [
            _labelled("Do" if number == 1 else "", f"{number}. {inert(step)}")
            for number, step in enumerate(finding.do, 1)
        ]
    if not_possible:
        body.append(_labelled("But", "not possible on this equipment: " + inert(" ".join(not_possible))))
    body += [_labelled("Tried" if number == 1 else "", line) for number, line in enumerate(tried_lines(fix), 1)]
    sure = how_sure(finding)
    if sure:
        body.append(_labelled("Sure", sure))
    parts.append(Padding(Stack(*body), (0, 0, 0, 4)))
    return Stack(*parts)


def _labelled(label: str, text: str) -> Table:
    grid = Table.grid(padding=(0, 1))
    grid.add_column(width=7)
    grid.add_column()
    grid.add_row(Text(label, style="italic"), Text(text))
    return grid


def how_sure(finding: Finding) -> str:
    """The probability of a need, the option that decides, and a confidence that is not high."""
    parts = [how_likely(finding)] if how_likely(finding) else []
    if finding.confidence != "high":
        parts.append(f"{finding.confidence} confidence")
    return "; ".join(parts)


def how_likely(finding: Finding) -> str:
    """For what is at risk: in how many of ten cases it is met, and which choice of the equipment decides."""
    parts = []
    if finding.probability is not None and finding.verdict == "at-risk":
        parts.append(f"met in {round(10 * finding.probability)} of 10 cases the inputs allow")
    if finding.options:
        parts.append("depends on the equipment's choice: " + inert("; ".join(finding.options)))
    return "; ".join(parts)


def _consequence(finding: Finding) -> Padding:
    """One line of its own for a consequence: level, what it says, where, how sure."""
    text = Text(level_word(finding), style=STYLES[finding.effective_level])
    text.append(f"  {inert(finding.message)}", style="not bold")
    chance = how_likely(finding)
    text.append(f" ({chance})" if chance else "", style="not bold")
    text.append(f"  {inert(short_position(finding))}", style="dim not bold")
    grid = Table.grid(padding=(0, 1))
    grid.add_row(Text("·"), text)
    return Padding(grid, (0, 0, 0, 6))


def short_position(finding: Finding) -> str:
    """`line 84`: the file is named at the top of the report."""
    parts = finding.position.rsplit(":", 2)
    return f"line {parts[1]}" if len(parts) == 3 else finding.position


def _find_out(assessment: Assessment) -> Iterator[RenderableType]:
    """The few unknowns that matter most: what hangs on each, how to find out, where to write it."""
    if not assessment.questions:
        return
    yield Text()
    yield Text("Find out on site first, because verdicts hang on it", style="bold")
    for number, question in enumerate(assessment.questions[:MOST_QUESTIONS], 1):
        ends = f": {question.ends[0]} or {question.ends[1]}" if question.ends else ""
        body = Stack(
            Text(f"{number}. {inert(question.what)}{inert(ends)}"),
            Padding(
                Stack(
                    _labelled("Decides", what_hangs(question)),
                    _labelled("How", inert(question.how)),
                    _labelled("Put in", inert(question.write)),
                ),
                (0, 0, 0, 3),
            ),
        )
        yield Padding(body, (0, 0, 0, 2))
    more = len(assessment.questions) - MOST_QUESTIONS
    if more > 0:
        yield _bullet(f"and {more} more on which less hangs; --format json lists them", "")


def what_hangs(question: Question) -> str:
    """The verdicts that hang on an answer, the gravest first."""
    order = sorted(question.flips, key=lambda flip: (LEVELS.index(flip.level), flip.title, flip.subject.key))
    told: dict[str, list[str]] = {}
    for flip in order:
        told.setdefault(flip.title, []).append(inert(flip.subject.name))
    parts = [f"{title} ({', '.join(names)})" for title, names in told.items()]
    more = f"; and {len(parts) - MOST_HANGING} more" if len(parts) > MOST_HANGING else ""
    return "; ".join(parts[:MOST_HANGING]) + more


def _set_aside(assessment: Assessment) -> Iterator[RenderableType]:
    """Findings the site file says to ignore, with their reasons, and entries that no longer do anything."""
    if not assessment.ignored and not assessment.odd:
        return
    yield Text()
    yield Text(f"Ignored, as the site file says: {_count(len(assessment.ignored), 'finding')}", style="bold")
    for entry in assessment.ignored:
        until = f", until {entry.until}" if entry.until else ""
        finding = entry.finding
        yield _bullet(f"{inert(finding.title)} ({inert(finding.subject.name)}): {inert(entry.reason)}{until}", "")
    for name, what in assessment.odd:
        yield _bullet(f"{inert(name)} {what}", "")


def _not_checked(assessment: Assessment) -> Iterator[RenderableType]:
    asked = {reason for question in assessment.questions[:MOST_QUESTIONS] for reason in question.reasons}
    gaps = missing_inputs(assessment)
    told = [(reason, findings) for reason, findings in gaps if reason not in asked]
    waiting = {entry.identity for reason, findings in gaps if (reason, findings) not in told for entry in findings}
    if not gaps and not assessment.not_computed:
        return
    yield Text()
    yield Text("Could not be checked, because", style="bold")
    if waiting:
        yield _bullet(f"not known: what is asked for above ({_count(len(waiting), 'check')})", "")
    for reason, findings in told[:MOST_UNKNOWNS]:
        names = sorted({f"{inert(entry.title)} ({inert(entry.subject.name)})" for entry in findings})
        listed = "; ".join(names[:3]) + (f"; and {len(names) - 3} more" if len(names) > 3 else "")
        yield _bullet(f"not known: {inert(reason)}", listed)
    if len(told) > MOST_UNKNOWNS:
        yield _bullet(f"and {_count(len(told) - MOST_UNKNOWNS, 'more input')} not known", "--format json lists them")
    for name, reason in assessment.not_computed:
        yield _bullet(f"{name}: {reason}", "")


def missing_inputs(assessment: Assessment) -> list[tuple[str, list[Finding]]]:
    """Each missing input with the checks that wait for it: those that hold up needs first, then the most wanted."""
    waiting: dict[str, list[Finding]] = {}
    for entry in assessment.judgement.unknowns:
        for reason in dict.fromkeys(entry.missing):
            waiting.setdefault(reason, []).append(entry)
    needs = {entry.identity for entry in assessment.unknown_needs()}

    def weight(item: tuple[str, list[Finding]]) -> tuple[int, int, str]:
        reason, entries = item
        return (-sum(entry.identity in needs for entry in entries), -len(entries), reason)

    return sorted(waiting.items(), key=weight)


def _bullet(text: str, told: str) -> Padding:
    grid = Table.grid(padding=(0, 1))
    line = Text(text)
    if told:
        line.append(f"\nwaits: {told}", style="dim")
    grid.add_row(Text("·"), line)
    return Padding(grid, (0, 0, 0, 2))


def _rests_on(assessment: Assessment) -> Iterator[RenderableType]:
    entries = assessment.assumed()
    if not entries:
        return
    yield Text()
    yield Text("The findings rest most on these assumptions; give the real values to be surer", style="bold")
    for fact, count in entries[:MOST_ASSUMPTIONS]:
        yield _bullet(say.origin(fact.by).removeprefix("assumed; ") + f" [{_count(count, 'finding')}]", "")
    if len(entries) > MOST_ASSUMPTIONS:
        yield _bullet(f"and {len(entries) - MOST_ASSUMPTIONS} more; --format json lists them", "")


def where_it_works(assessment: Assessment) -> Table:
    """Place × (calls, video, browsing) in words, with everyone active."""
    table = plain_table(title="What works where, with everyone active")
    for column in ("place", "client", *USES, "gets Mb/s down", "what was asked"):
        table.add_column(column)
    for row in assessment.places:
        table.add_row(
            Text(inert(row.place)),
            Text(inert(row.client)),
            *(Text(use_words(row.uses[use])) for use in USES),
            Text(say.short(row.everyone)),
            Text(ASKED[assessment.asked[row.place]]),
        )
    return table


def _table_notes(assessment: Assessment) -> Iterator[RenderableType]:
    """What the short words of the table mean, where they occur."""
    uses = [use for row in assessment.places for use in row.uses.values()]
    if any(use.word == "may fail" for use in uses):
        yield Text("8 in 10: works in 8 of 10 cases the inputs allow.", style="dim")
    if any(use.depends_on for use in uses):
        yield Text("*: depends on how an uplink left to the equipment runs.", style="dim")


ASKED = {
    "works": "met",
    "may fail": "may not be met",
    "fails": "not met",
    "not known": "not known",
    "nothing asked": "nothing asked",
    "not judged": "not judged",
}


def use_words(use: Use) -> str:
    if use.word == "may fail" and use.chance is not None:
        return f"{min(max(round(use.chance * 10), 1), 9)} in 10" + (" *" if use.depends_on else "")
    return use.word


def plain_table(*, title: str) -> Table:
    """The one look of all tables: a bold title, a rule under the head, no box."""
    from rich import box

    return Table(
        title=Text(title, style="bold"),
        title_justify="left",
        box=box.SIMPLE_HEAD,
        pad_edge=False,
        header_style="",
        show_edge=False,
    )


def summary(assessment: Assessment) -> str:
    """One line: findings by level, places served, what is not known."""
    sure = [finding.level for finding in assessment.judgement.findings if finding.verdict == "fail"]
    counts = ", ".join(_count(sure.count(level), level) for level in ("error", "warning", "note"))
    possible = len(assessment.judgement.findings) - len(sure)
    if possible:
        counts += f", {possible} more possible"
    parts = [counts]
    asking = [word for word in assessment.asked.values() if word not in ("nothing asked", "not judged")]
    if asking:
        met, places = asking.count("works"), _count(len(asking), "place")
        parts.append(f"{met} of {places} surely {'gets' if met == 1 else 'get'} what was asked")
    unknown = len(assessment.judgement.unknowns)
    if unknown:
        parts.append(f"{_count(unknown, 'check')} not possible")
    if assessment.ignored:
        parts.append(f"{len(assessment.ignored)} ignored")
    return " · ".join(parts)


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")


__all__ = ["check", "missing_inputs", "plain_table", "summary", "where_it_works"]
