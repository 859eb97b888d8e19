"""What the sections about changes show: findings with their fixes, steps to take, layouts compared, a difference."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.report.page.charts import Point
from advisor.report.page.tree import Line, Table, Told, Tree, listed

LEVELS = ("error", "warning", "note")
MOST_LED_TO = 6
MOST_ALIKE = 6
MOST_QUESTIONS = 3
MOST_FIGURES = 6


@dataclass(frozen=True, slots=True)
class Block:
    """One cause with everything told of it."""

    number: int
    level: str
    possible: bool
    title: Line
    where: Line
    message: Line
    why: Line
    do: tuple[Line, ...]
    not_possible: tuple[Line, ...]
    tried: tuple[Line, ...]
    sure: Line
    leads_to: tuple[Line, ...]
    also: tuple[Line, ...]
    told_at: int
    """Number of the block that tells why and what to do; its own, or that of an earlier one of the same rule."""


def blocks(check: Tree) -> list[Block]:
    """Errors and warnings, each cause with what it leads to; alike ones are told together."""
    found: dict[str, list[Tree]] = {}
    for number, group in enumerate(check.groups):
        if group.cause.level == "note":
            continue
        alike = f"{group.cause.rule} {group.cause.verdict}" if not group.leads_to else str(number)
        found.setdefault(alike, []).append(group)
    told: dict[str, int] = {}
    made = []
    for number, groups in enumerate(found.values(), 1):
        made.append(_block(number, groups, told.setdefault(groups[0].cause.rule, number)))
    return made


def _block(number: int, groups: list[Tree], told_at: int) -> Block:
    cause, others = groups[0].cause, [group.cause for group in groups[1:]]
    first = told_at == number
    leads = [_in_short(entry) for entry in groups[0].leads_to]
    return Block(
        number=number,
        level=cause.level,
        possible=cause.verdict == "at-risk",
        title=cause.of("title"),
        where=_line_of(cause),
        message=cause.of("message"),
        why=cause.of("why", "typed") if first else "",
        do=tuple(cause.all("do", "typed")) if first else (),
        not_possible=tuple(cause.all("not_possible")),
        tried=tuple(_tried(cause)),
        sure=_sure(cause),
        leads_to=_first_of(leads, MOST_LED_TO),
        also=_first_of([_in_short(entry) for entry in others], MOST_ALIKE),
        told_at=told_at,
    )


def _first_of(lines: list[Line], most: int) -> tuple[Line, ...]:
    more = len(lines) - most
    return (*lines[:most], *([f"and {more} more of the same kind"] if more > 0 else []))


def _in_short(finding: Tree) -> Line:
    """A finding in one line: how grave, what it says, how likely it is met."""
    level = f"{'possible ' if finding.verdict == 'at-risk' else ''}{finding.level}: "
    chance = finding.probability_met
    met: list[Line] = (
        [" (met in ", finding.of("probability_met", "of ten"), " cases)"]
        if chance is not None and finding.verdict == "at-risk"
        else []
    )
    return [level, finding.of("message"), *met]


def _line_of(finding: Tree) -> Line:
    """Where in the file: the line alone, since the file is named once."""
    parts = finding.where.rsplit(":", 2)
    return Told(f"line {parts[1]}", finding.at("where"), "line") if len(parts) == 3 else finding.of("where")


def _sure(finding: Tree) -> Line:
    parts: list[Line] = []
    if finding.probability_met is not None and finding.verdict == "at-risk":
        parts.append(["met in ", finding.of("probability_met", "of ten"), " cases the inputs allow"])
    if finding.options:
        parts.append(["depends on the equipment’s choice: ", listed(finding.all("options"))])
    if finding.confidence != "high":
        parts.append([finding.of("confidence"), " confidence"])
    return [piece for number, part in enumerate(parts) for piece in (("; ", part) if number else (part,))]


def _tried(finding: Tree) -> list[Line]:
    """The fix tried, or that none helps."""
    if not finding.tried:
        return []
    tried = finding.tried[0]
    if not tried.advised:
        return [["Of the changes computed none helps without harm; nearest: ", tried.of("change")]]
    result: list[Line] = [tried.of("change"), " → ", "this finding goes" if tried.gone else _what_stays(finding, tried)]
    more = len(tried.removes) - (1 if tried.gone else 0)
    if more > 0:
        result.append("; with it goes 1 more" if more == 1 else f"; with it go {more} more")
    if tried.adds:
        result += ["; it brings ", tried.count("adds"), " other" if len(tried.adds) == 1 else " others"]
    if tried.worsens:
        result += ["; ", tried.count("worsens"), " gets worse" if len(tried.worsens) == 1 else " get worse"]
    return [[*result, ". About ", tried.of("effort_min", "minutes"), " of work."]]


def _what_stays(finding: Tree, tried: Tree) -> Line:
    before, after = finding.probability_met, tried.probability_met
    if before is not None and after is not None and before != after:
        return [
            "met in ",
            tried.of("probability_met", "of ten"),
            " instead of ",
            finding.of("probability_met", "of ten"),
            " cases",
        ]
    return ["it counts as ", tried.of("counts_as"), " then"]


def note_table(check: Tree) -> Table | None:
    rows = tuple(
        (group.cause.of("title"), group.cause.of("message"), group.cause.do.of(0, "typed"))
        for group in check.groups
        if group.cause.level == "note"
    )
    return Table("Notes: good to know, nothing to mend at once", ("what", "here", "what to do"), rows) if rows else None


def question_table(check: Tree) -> Table | None:
    """What to find out on site first: what, how, where to write it."""
    rows: list[tuple[Line, ...]] = []
    for entry in list(check.questions)[:MOST_QUESTIONS]:
        ends: Line = [": ", entry.of("poor_end"), " or ", entry.of("good_end")] if entry.poor_end else ""
        rows.append(([entry.of("what"), ends], entry.of("how"), entry.of("write")))
    caption = "Find out on site first, because verdicts hang on it"
    head = ("what is not known", "how to find out", "write it into the description")
    return Table(caption, head, tuple(rows)) if rows else None


# steps


def way_table(improve: Tree) -> Table | None:
    rows = tuple(
        (
            way.of("effort_min", "minutes"),
            [way.left.of("errors"), " wrong, ", way.left.of("possible"), " that may be"],
            [
                piece
                for number, change in enumerate(way.all("changes"))
                for piece in ((" ", change) if number else (change,))
            ]
            or "as it is",
        )
        for way in improve.ways
    )
    return Table("How much work brings how much", ("work", "then left", "changes"), rows) if len(rows) > 1 else None


def card_table(step: Tree, number: int) -> Table:
    rows = tuple(
        (
            f"{number}.{count}",
            entry.of("node"),
            entry.of("setting"),
            entry.of("enter"),
            entry.of("was"),
            "over the network" if entry.reached else "at the box itself",
            "☐",
        )
        for count, entry in enumerate(step.card, 1)
    )
    head = ("no.", "node", "setting", "enter", "was", "reached", "done")
    return Table(f"Settings card, step {number}", head, rows)


# layouts


def layout_table(rank: Tree) -> Table:
    rows = tuple(
        (
            [entry.of("rank"), " ★" if entry.id == rank.recommended else ""],
            entry.of("layout"),
            [entry.of("needs_met"), " of ", entry.of("needs_asked")],
            [entry.of("worst_share", digits=2), " at ", entry.of("worst_at")]
            if entry.worst_share is not None
            else "not known",
            entry.of("all_met_chance", "share"),
            [entry.of("effort_min", "minutes"), [", cost ", entry.of("cost", digits=0)] if entry.cost else ""],
        )
        for entry in rank.layouts
    )
    head = ("no.", "layout", "needs met", "worst place gets of what it asks", "all met in", "work and cost")
    note = "★ the one to take. Needs met: typically, with everyone active. All met: share of the cases computed."
    return Table("Layouts compared, best first", head, rows, (2, 3, 4, 5), note)


def layout_points(rank: Tree) -> list[Point]:
    return [
        Point(entry.rank, entry.effort_min, float(entry.needs_met), entry.id == rank.recommended)
        for entry in rank.layouts
    ]


def taken(rank: Tree) -> Tree | None:
    return next((entry for entry in rank.layouts if entry.id == rank.recommended), None)


def flip_table(rank: Tree) -> Table | None:
    rows = tuple(
        (
            entry.of("what"),
            entry.of("low"),
            _number_of(rank, entry, "first_at_low"),
            entry.of("high"),
            _number_of(rank, entry, "first_at_high"),
            entry.of("changes"),
        )
        for entry in rank.flips
    )
    head = ("assumption", "at its low end", "first then", "at its high end", "first then", "changes")
    return Table("What would change the first place", head, rows) if rows else None


def _number_of(rank: Tree, flip: Tree, key: str) -> Line:
    """The number in the table of the layout that is first then."""
    named = {entry.id: entry for entry in rank.layouts}
    return named[flip[key]].of("rank") if flip[key] in named else flip.of(key)


# difference


def difference_table(diff: Tree) -> Table:
    rows = tuple((entry.of("told"), entry.of("kind"), entry.of("path")) for entry in diff.differences)
    return Table("What differs", ("in words", "kind", "in the file"), rows)


def moved_tables(diff: Tree) -> list[Table]:
    """What the difference does: figures first, then the findings that go, come and change."""
    tables = []
    for caption, findings in (("What that does", False), ("Findings that go, come or change", True)):
        rows = tuple(
            (entry.of("about"), entry.of("axis"), _side(entry, "before"), _side(entry, "after"), entry.of("verdict"))
            for entry in diff.moved
            if (entry.axis == "findings") is findings
        )
        if rows:
            tables.append(Table(caption, ("about", "what", "before", "after", "verdict"), rows))
    return tables


def _side(moved: Tree, key: str) -> Line:
    return moved.of(key) if moved[key] else "–"


def because_table(diff: Tree) -> Table | None:
    rows = tuple((listed(entry.all("changes")), _does(entry)) for entry in diff.because)
    return Table("Which change does what, alone", ("change", "what it does"), rows) if rows else None


def _does(entry: Tree) -> Line:
    """What a change alone moves: the first figures, and how many findings."""
    figures = [moved for moved in entry.alone if moved.axis != "findings"]
    findings = [moved for moved in entry.alone if moved.axis == "findings"]
    told: list[Line] = [
        [moved.of("about"), ": ", _side(moved, "before"), " → ", _side(moved, "after"), ". "]
        for moved in figures[:MOST_FIGURES]
    ]
    if len(figures) > MOST_FIGURES:
        told.append(f"And {len(figures) - MOST_FIGURES} more figures. ")
    if findings:
        better = sum(moved.verdict == "better" for moved in findings)
        told.append(f"Findings: {better} go or ease, {len(findings) - better} come or get worse.")
    return told or "nothing by itself"


# what it rests on


def assumption_table(check: Tree) -> Table | None:
    rows = tuple((entry.of("entry", "assumed"), entry.of("findings")) for entry in check.assumptions)
    head = ("assumption and its source", "findings that rest on it")
    caption = "Assumptions and defaults, those that move the findings most first"
    return Table(caption, head, rows, (1,), plain=True) if rows else None


def missing_table(check: Tree) -> Table | None:
    waiting: dict[str, list[Tree]] = {}
    for entry in check.unknown:
        for reason in dict.fromkeys(entry.data["missing"]):
            waiting.setdefault(reason, []).append(entry)
    rows: list[tuple[Line, ...]] = []
    for reason, entries in sorted(waiting.items(), key=lambda item: (-len(item[1]), item[0])):
        titles = {entry.title: entry for entry in entries}
        waits: list[Line] = [["“", entry.of("title"), "”"] for entry in titles.values()]
        rows.append((_reason(entries[0], reason), listed(waits, 3)))
    head = ("not known", "waits for it")
    return Table("Could not be checked, because it is not known", head, tuple(rows)) if rows else None


def _reason(finding: Tree, reason: str) -> Told:
    told: Told = finding.missing.of(finding.data["missing"].index(reason))
    return told
