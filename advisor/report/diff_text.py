"""The difference between two sites as text and as Markdown: what differs, what it does, which change does what."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.text import Text

from advisor.compare.because import Because, Comparison
from advisor.compare.effects import AXES, Effects, Moved
from advisor.report.improve_text import markdown
from advisor.report.text import plain_table
from advisor.site.load import LoadedSite
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType

VERDICTS = {
    "better": "better",
    "worse": "worse",
    "mixed": "some better, some worse",
    "other": "other",
    "same": "as before",
}
MOST_MOVED = 12
MOST_NAMED = 4


def comparison(found: Comparison) -> Iterator[RenderableType]:
    """The parts of the answer, in order; nothing but one line where nothing differs."""
    yield Text(inert(_named(found.structure.before)), style="dim")
    yield Text(inert(_named(found.structure.after)), style="dim")
    yield Text()
    if found.empty:
        yield Text("Nothing differs in what the files say.")
        yield from (Text(line) for line in _restated(found))
        return
    yield Text("What differs", style="bold")
    for line in _differences(found):
        yield Padding(Text(inert(f"· {line}")), (0, 0, 0, 2))
    yield from (Text(line, style="dim") for line in _restated(found))
    yield Text()
    yield from _effects(found.effects)
    yield from _because(found)


def _named(loaded: LoadedSite) -> str:
    return f"{loaded.site.site.name}: {loaded.file}"


def _differences(found: Comparison) -> list[str]:
    return [f"{entry.told}{_where(entry.where_before, entry.where_after)}" for entry in found.structure.differences]


def _where(before: str, after: str) -> str:
    lines = [place.rsplit(":", 2)[1] for place in (before, after) if place.count(":") >= 2]
    return f"  (line {' → '.join(dict.fromkeys(lines))})" if lines else ""


def _restated(found: Comparison) -> list[str]:
    count = len(found.structure.restated)
    if not count:
        return []
    return [
        f"{count} value{'s are' if count > 1 else ' is'} written otherwise and mean{'' if count > 1 else 's'} the same."
    ]


def _effects(found: Effects) -> Iterator[RenderableType]:
    yield Text("What it does, on the same draws", style="bold")
    if not found.moved:
        yield Text("Nothing that is computed moves.")
        return
    yield Text("; ".join(f"{axis}: {VERDICTS[found.verdict(axis)]}" for axis in AXES) + ".")
    for axis in AXES:
        moved = found.of(axis)
        if axis == "findings":
            yield from _findings(moved)
        elif moved:
            table = plain_table(title=axis.capitalize())
            for column in ("", "before", "after", "", "cases better / alike / worse"):
                table.add_column(column)
            for entry in moved[:MOST_MOVED]:
                cells = (Text(inert(cell)) for cell in (entry.about, entry.before or "–", entry.after))
                table.add_row(*cells, entry.verdict, _cases(entry))
            yield table
            if len(moved) > MOST_MOVED:
                yield Text(f"and {len(moved) - MOST_MOVED} more; --format json lists them", style="dim")


def _findings(moved: tuple[Moved, ...]) -> Iterator[RenderableType]:
    for label, lines in _by_kind(moved).items():
        if lines:
            yield Text(label, style="italic")
            for line in lines:
                yield Padding(Text(inert(f"· {line}")), (0, 0, 0, 2))


def _by_kind(moved: tuple[Moved, ...]) -> dict[str, list[str]]:
    """Findings that went, came, got better or worse, those of one kind in a line."""
    kinds: dict[str, dict[str, list[str]]] = {name: {} for name in ("Findings gone", "New findings", "Better", "Worse")}
    for entry in moved:
        if entry.after == "gone":
            kinds["Findings gone"].setdefault(entry.about, []).append(entry.before)
        elif not entry.before:
            kinds["New findings"].setdefault(entry.about, []).append(entry.after)
        else:
            told = f"{entry.before} → {entry.after}"
            kinds["Better" if entry.verdict == "better" else "Worse"].setdefault(entry.about, []).append(told)
    return {label: [f"{title}: {'; '.join(told)}" for title, told in found.items()] for label, found in kinds.items()}


def _cases(entry: Moved) -> str:
    if entry.cases is None:
        return ""
    told = f"{entry.cases.wins} / {entry.cases.alike} / {entry.cases.losses}"
    return f"{told}, a tie" if entry.cases.tie else told


def _because(found: Comparison) -> Iterator[RenderableType]:
    if found.left:
        yield Text()
        yield Text(f"Which change does what is not told: {found.left}.", style="dim")
    if not found.because:
        return
    yield Text()
    yield Text("Which change does what", style="bold")
    table = plain_table(title="")
    for column in ("change", "alone", "after those above"):
        table.add_column(column)
    for entry in found.because:
        table.add_row(Text(inert(_changes(entry))), Text(inert(_short(entry.alone))), Text(inert(_short(entry.then))))
    yield table
    yield Text("Walks are not followed for single changes.", style="dim")


def _changes(entry: Because) -> str:
    return " ".join(change.told for change in entry.changes)


def _short(found: Effects) -> str:
    parts = []
    for word in ("better", "worse"):
        moved = [entry for entry in found.moved if entry.verdict == word and entry.axis not in ("hops", "findings")]
        names = list(dict.fromkeys(entry.about for entry in moved))
        if names:
            rest = len(names) - MOST_NAMED
            parts.append(f"{word}: {', '.join(names[:MOST_NAMED])}" + (f" and {rest} more" if rest > 0 else ""))
    return "; ".join(parts) or "nothing"


def comparison_markdown(found: Comparison) -> str:
    """The same as Markdown, for a ticket or a review."""
    lines = [f"# {markdown(_named(found.structure.before))} → {markdown(_named(found.structure.after))}", ""]
    if found.empty:
        return "\n".join([*lines, "Nothing differs in what the files say.", *_restated(found)])
    lines += ["## What differs", "", *(f"- {markdown(line)}" for line in _differences(found)), ""]
    lines += [*_restated(found), "", "## What it does, on the same draws", ""]
    if not found.effects.moved:
        lines += ["Nothing that is computed moves.", ""]
    for axis in AXES:
        moved = found.effects.of(axis)
        if moved:
            lines += [f"### {axis.capitalize()}: {VERDICTS[found.effects.verdict(axis)]}", ""]
        if axis == "findings":
            for label, told in _by_kind(moved).items():
                lines += [f"**{label}**", "", *(f"- {markdown(line)}" for line in told), ""] if told else []
        elif moved:
            lines += ["| | before | after | | better / alike / worse |", "|---|---|---|---|---|"]
            lines += [
                _row(entry.about, entry.before or "–", entry.after, entry.verdict, _cases(entry)) for entry in moved
            ]
            lines.append("")
    if found.because:
        lines += ["## Which change does what", "", "| change | alone | after those above |", "|---|---|---|"]
        lines += [_row(_changes(entry), _short(entry.alone), _short(entry.then)) for entry in found.because]
    return "\n".join(lines).rstrip()


def _row(*cells: str) -> str:
    return f"| {' | '.join(markdown(cell) for cell in cells)} |"
