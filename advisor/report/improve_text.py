"""The way to a good site as text: the steps with what each brings, other ways, what is left; and the settings card."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from advisor.advice.card import Card, CardStep
from advisor.advice.goal import Distance
from advisor.advice.improve import Improvement, Step
from advisor.report.text import heading, level_word, plain_table
from advisor.rulebook.judge import Finding
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType

MOST_NAMED = 4
MOST_REFUSED = 5


def improvement(found: Improvement, card: Card) -> Iterator[RenderableType]:
    """The parts of the answer, in order."""
    yield heading(found.loaded)
    yield Text()
    yield from _verdict(found)
    for number, step in enumerate(found.steps, 1):
        yield from _step(number, step)
    yield from _ways(found)
    yield from _left(found)
    yield from _searched(found)
    if card.steps:
        yield Text()
        yield from _card(card)


def _verdict(found: Improvement) -> Iterator[RenderableType]:
    if not found.steps:
        if found.before.reached:
            yield Text("No error and no possible error: nothing has to be done to meet what is asked.", style="bold")
        else:
            yield Text(f"{_distance(found.before)}. No change that could be computed makes it less.", style="bold")
        return
    after = found.steps[-1].after
    yield Text(
        f"Now: {_distance(found.before)}. After {_count(len(found.steps), 'step')}: {_distance(after)}.", style="bold"
    )
    cost = [step.change.cost for step in found.steps]
    priced = f", {sum(entry for entry in cost if entry is not None):g} in money" if None not in cost else ""
    yield Text(f"Work: about {_minutes(found.effort_min)}{priced} (common practice, no source).")
    if found.stopped:
        yield Text("The search was broken off: this is the best so far.")


def _distance(found: Distance) -> str:
    if found.reached:
        return "no error left"
    parts = [_count(found.errors, "error")] if found.errors else ["no error"]
    parts += [f"{found.possible} possible"] if found.possible else []
    return ", ".join(parts)


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _minutes(minutes: float) -> str:
    return f"{minutes / 60:.1f} h" if minutes >= 120 else f"{minutes:g} min"


def _step(number: int, step: Step) -> Iterator[RenderableType]:
    yield Text()
    title = Text(f"{number}. ", style="bold")
    yield title.append(inert(step.change.told), style="bold")
    lines = [f"{_distance(step.before)} → {_distance(step.after)}; about {_minutes(step.change.effort_min)}."]
    if step.gone:
        lines.append(f"Gone: {_named(step.gone)}.")
    if step.come:
        lines.append(f"New: {_named(step.come)}.")
    for line in lines:
        yield Padding(Text(inert(line)), (0, 0, 0, 3))


def _named(findings: tuple[Finding, ...]) -> str:
    """`parts-till (cannot join any radio)`: subjects by what is the matter with them."""
    by_title: dict[str, list[str]] = {}
    for finding in findings:
        by_title.setdefault(finding.title, []).append(finding.subject.name)
    parts = [f"“{title}” ({', '.join(names)})" for title, names in list(by_title.items())[:MOST_NAMED]]
    rest = len(by_title) - MOST_NAMED
    return "; ".join(parts) + (f"; and {rest} more kinds" if rest > 0 else "")


def _ways(found: Improvement) -> Iterator[RenderableType]:
    if len(found.frontier) < 2:
        return
    yield Text()
    yield Text("How much work brings how much", style="bold")
    table = plain_table(title="")
    for column in ("", "work", "then left", "changes"):
        table.add_column(column)
    for number, way in enumerate(found.frontier):
        told = " ".join(change.told for change in way.changes) or "as it is"
        cost = f", {way.cost:g}" if way.cost else ""
        table.add_row(f"{number}", _minutes(way.effort_min) + cost, _distance(way.distance), Text(inert(told)))
    yield table
    yield Text("--take N takes way N of this list; none of them does as much with less work.", style="dim")


def _left(found: Improvement) -> Iterator[RenderableType]:
    if not found.left:
        return
    yield Text()
    yield Text("What no change computed takes away", style="bold")
    for finding in found.left:
        chance = f" (met in {10 * finding.probability:.1f} of 10 cases)" if finding.probability is not None else ""
        yield Padding(Text(inert(f"· {level_word(finding)}  {finding.message}{chance}")), (0, 0, 0, 2))


def _searched(found: Improvement) -> Iterator[RenderableType]:
    yield Text()
    if found.steps and found.took is None:
        if found.proven:
            told = "every set with less work, of the changes that do something, was computed: none reaches as much"
        else:
            told = f"no set of them with less than {_minutes(found.bound_min)} of work reaches as much"
        yield Text(f"{found.computed} sets of changes computed; {told}.")
    lines = [f"{change.told} {change.refused}." for change in found.refused[:MOST_REFUSED]]
    lines += [f"{operator}: {why}." for operator, why in found.untried]
    if lines:
        yield Text("Not tried", style="italic")
        grid = Table.grid(padding=(0, 1))
        for line in lines:
            grid.add_row("–", Text(inert(line)))
        yield Padding(grid, (0, 0, 0, 2))


def _card(card: Card) -> Iterator[RenderableType]:
    yield Text("Settings card", style="bold")
    yield from (Text(inert(line)) for line in _rules(card))
    for step in card.steps:
        yield Text()
        yield Text(inert(f"Step {step.number}: {step.change.told}"), style="bold")
        table = plain_table(title="")
        for column in ("", "node", "setting", "enter", "was", "reached"):
            table.add_column(column)
        for number, entry in enumerate(step.entries, 1):
            how = "over the network" if entry.reached else "stand beside it"
            cells = (entry.node, entry.setting, entry.value, entry.before)
            table.add_row(f"{step.number}.{number}", *(Text(inert(cell)) for cell in cells), how)
        yield table
        yield from (Text(inert(line)) for line in _after(step))


def _rules(card: Card) -> list[str]:
    lines = [
        "Do the steps in order, within a step from the top. Wait after each step until all nodes are back (about five "
        "minutes), then look whether every place still works.",
    ]
    if any(step.change.operator == "wire-hop" for step in card.steps):
        lines.append(
            "Network cables are kept apart from mains wiring; work on mains wiring is for a licensed electrician. Do "
            "not work from a ladder alone."
        )
    if card.untested:
        lines.append(
            "The file does not tell every uplink, so whether a node is stranded meanwhile could not be played."
        )
    return lines


def _after(step: CardStep) -> list[str]:
    lines = []
    if step.waits:
        lines.append(f"Out of reach until the step is done: {', '.join(step.waits)}.")
    if step.lost:
        lines.append(f"Careful: after this step {', '.join(step.lost)} would not be reached any more.")
    lines.append("Way back: enter what stands under “was”, the nearest node first, and wait again.")
    return lines


def card_markdown(found: Improvement, card: Card) -> str:
    """The card as Markdown."""
    about = found.loaded.site.site
    lines = [f"# Settings card: {markdown(about.name)}", ""]
    if about.invented:
        lines += ["An invented example.", ""]
    lines += [line for rule in _rules(card) for line in (rule, "")]
    for step in card.steps:
        lines += [f"## Step {step.number}: {markdown(step.change.told)}", ""]
        lines += ["| | node | setting | enter | was | reached |", "|---|---|---|---|---|---|"]
        for number, entry in enumerate(step.entries, 1):
            how = "over the network" if entry.reached else "stand beside it"
            cells = (entry.node, entry.setting, entry.value, entry.before, how)
            lines.append(f"| {step.number}.{number} | {' | '.join(markdown(cell) for cell in cells)} |")
        lines += ["", *(line for told in _after(step) for line in (markdown(told), ""))]
    if not card.steps:
        lines += ["Nothing has to be set.", ""]
    return "\n".join(lines).rstrip()


def markdown(text: str) -> str:
    """Text that stays plain text in a table of Markdown."""
    plain = inert(text).replace("\\", "\\\\")
    for mark in "|`*_<>[]#":
        plain = plain.replace(mark, f"\\{mark}")
    return plain
