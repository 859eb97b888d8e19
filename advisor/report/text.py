"""The check as text for people: causes first, then what could not be checked, then what works where."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.console import Group as Stack
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from advisor.assess import USES, Assessment, Use
from advisor.report import say
from advisor.rulebook.judge import Finding
from advisor.site.load import LoadedSite
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType

STYLES = {"error": "bold red", "warning": "bold", "note": "dim"}
MOST_UNKNOWNS = 5
MOST_CONSEQUENCES = 8
MOST_ASSUMPTIONS = 5


def check(assessment: Assessment) -> Iterator[RenderableType]:
    """The parts of the report, in order."""
    yield heading(assessment.loaded)
    for number, group in enumerate(assessment.groups, 1):
        yield Text()
        yield _head(number, group.head)
        if group.consequences:
            yield Padding(Text("Leads to"), (0, 0, 0, 4))
            for finding in group.consequences[:MOST_CONSEQUENCES]:
                yield _consequence(finding)
            more = len(group.consequences) - MOST_CONSEQUENCES
            if more > 0:
                yield Padding(Text(f"and {more} more of the same cause; --format json lists them"), (0, 0, 0, 8))
    if not assessment.groups:
        yield Text()
        waiting = assessment.judgement.unknowns
        yield Text("No rule found anything to mend" + (" among what could be checked." if waiting else "."))
    yield from _not_checked(assessment)
    yield from _rests_on(assessment)
    if assessment.places:
        yield Text()
        yield where_it_works(assessment)
        yield from _table_notes(assessment)
    yield Text()
    yield Text(summary(assessment), style="bold")


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


def _head(number: int, finding: Finding) -> Stack:
    title = Text(f"{number}. ", style="bold").append_text(_title(finding))
    parts: list[RenderableType] = [title]
    body: list[RenderableType] = [
        Text(inert(finding.position), style="dim"),
        Text(inert(finding.message)),
        _labelled("Why", inert(finding.why)),
        *(
            _labelled("Do" if index == 0 else "", f"{index + 1}. {inert(step)}")
            for index, step in enumerate(finding.do)
        ),
    ]
    sure = how_sure(finding)
    if sure:
        body.append(_labelled("Sure", sure))
    parts.append(Padding(Stack(*body), (0, 0, 0, 4)))
    return Stack(*parts)


def _labelled(label: str, text: str) -> Table:
    grid = Table.grid(padding=(0, 1))
    grid.add_column(width=4)
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


def _not_checked(assessment: Assessment) -> Iterator[RenderableType]:
    gaps = missing_inputs(assessment)
    if not gaps and not assessment.not_computed:
        return
    yield Text()
    yield Text("Could not be checked, because", style="bold")
    for reason, findings in gaps[:MOST_UNKNOWNS]:
        names = sorted({f"{inert(entry.title)} ({inert(entry.subject.name)})" for entry in findings})
        told = "; ".join(names[:3]) + (f"; and {len(names) - 3} more" if len(names) > 3 else "")
        yield _bullet(f"not known: {inert(reason)}", told)
    if len(gaps) > MOST_UNKNOWNS:
        yield _bullet(f"and {_count(len(gaps) - MOST_UNKNOWNS, 'more input')} not known", "--format json lists them")
    for name, reason in assessment.not_computed:
        yield _bullet(f"{name}: {reason}", "")


def missing_inputs(assessment: Assessment) -> list[tuple[str, list[Finding]]]:
    """Each missing input with the checks that wait for it: those that hold up needs first, then the most wanted."""
    waiting: dict[str, list[Finding]] = {}
    channels: dict[str, None] = {}
    for entry in assessment.judgement.unknowns:
        for reason in entry.missing:
            if reason.startswith(CHANNEL_OF):
                channels.setdefault(reason.removeprefix(CHANNEL_OF).split(" ")[0].rstrip(":"))
                reason = CHANNEL_OF
            entries = waiting.setdefault(reason, [])
            if entry not in entries:
                entries.append(entry)
    needs = {entry.identity for entry in assessment.unknown_needs()}

    def weight(item: tuple[str, list[Finding]]) -> tuple[int, int, str]:
        reason, entries = item
        return (-sum(entry.identity in needs for entry in entries), -len(entries), reason)

    told = [(reason, entries) for reason, entries in sorted(waiting.items(), key=weight)]
    names = ", ".join(sorted(channels))
    return [(f"the channels of {names}" if reason == CHANNEL_OF else reason, entries) for reason, entries in told]


CHANNEL_OF = "the channel of "


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
    asking = [word for word in assessment.asked.values() if word != "nothing asked"]
    if asking:
        met, places = asking.count("works"), _count(len(asking), "place")
        parts.append(f"{met} of {places} surely {'gets' if met == 1 else 'get'} what was asked")
    unknown = len(assessment.judgement.unknowns)
    if unknown:
        parts.append(f"{_count(unknown, 'check')} not possible")
    return " · ".join(parts)


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")


__all__ = ["check", "missing_inputs", "plain_table", "summary", "where_it_works"]
