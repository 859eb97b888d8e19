"""Outages as text: what happens, who is without service, who comes back by itself and when, who needs somebody."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from advisor.advice.outages import SECTIONS, Outages, Told
from advisor.outage.records import Step
from advisor.report.text import heading, plain_table
from advisor.site.load import LoadedSite
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType

MOST_NAMES = 4
STEPS = {
    "loses power": "has no power any more",
    "runs on its battery": "runs on its battery",
    "battery empty": "has an empty battery and goes off",
    "has power": "has power again and starts",
    "has started": "has started",
    "listens": "listens before it may send",
    "sends again": "sends",
    "joins": "joins",
    "loses its way": "loses its way",
    "behind a lost parent": "hangs on a parent that has no way itself",
    "takes over the new settings": "takes over the new names and passwords by itself",
    "is given the new settings": "is given the new names and passwords by a person",
    "sees radar": "sees radar and leaves its channel for 30 minutes",
    "is replaced": "is replaced by a new box",
    "line back": "the internet line is back",
}


def overview(loaded: LoadedSite, found: Outages) -> Iterator[RenderableType]:
    """Everything looked at, in order."""
    yield heading(loaded)
    yield Text()
    yield from _summary(found)
    for section in SECTIONS:
        rows = [entry for entry in found.told if entry.section == section]
        if rows:
            yield from _passwords(rows) if section == "names and passwords" else _table(section, rows)
    yield Text()
    yield Text("`advisor outage SITE NAME` plays one of them step by step.")
    yield from _cautions()
    yield from _assumed(found)


def _summary(found: Outages) -> Iterator[RenderableType]:
    well = [entry for entry in found.told if not entry.somebody]
    yield Text("When the power goes, a password changes, or the air fails", style="bold")
    yield from (Text(inert(f"Not known until the file tells {reason}.")) for reason in found.missing)
    for name, why in found.before:
        yield Text(inert(f"Before anything happens: {name}: {why}."))
    yield Text(
        f"Of {len(found.told)} outages played out, {len(well)} end with every node back by itself, "
        f"{len(found.told) - len(well)} need somebody."
    )
    longest = found.longest
    if longest is not None and longest.back_s[0]:
        yield Text(inert(f"Longest wait: {_within(longest)} after it is over: {longest.happening.id}."))
    for name, others in found.takes_along.items():
        yield Text(
            inert(f"Single point of failure: {name}; {_names(others)} {'hangs' if len(others) == 1 else 'hang'} on it.")
        )
    for circle in found.circles:
        yield Text(inert(f"Never start after a power cut, as they feed each other: {_names(circle)}."))
    hands: dict[str, None] = dict.fromkeys(name for entry in found.told for name in entry.somebody)
    if hands:
        yield Text(inert(f"Need somebody in one of them at least: {_names(tuple(hands))}."))
    if found.by_hand:
        yield Text(inert(f"A new name or password is entered by hand at: {_names(found.by_hand)}."))


def _table(section: str, rows: list[Told]) -> Iterator[RenderableType]:
    yield Text()
    table = plain_table(title=section.capitalize())
    for column, ratio in (
        ("outage", 5),
        ("without service meanwhile", 5),
        ("back by itself", 4),
        ("needs somebody", 7),
    ):
        table.add_column(column, ratio=ratio)
    shown = [entry for entry in rows if not entry.plain]
    for entry in shown:
        name = Text(inert(entry.happening.id))
        if len(entry.happening.off) > 1 and section == "power":
            name.append(inert(f" ({_names(entry.happening.off)})"), style="dim")
        table.add_row(name, Text(inert(_dark(entry))), _within(entry), Text(inert(_somebody(entry))))
    yield table
    left = len(rows) - len(shown)
    if left:
        yield Text(f"{left} more looked at (several off at once) bring no more than their parts alone.", style="dim")


def _dark(entry: Told) -> str:
    dark = entry.dark
    if not dark:
        return "nobody"
    calls = sum(entry.typical.places[name].calls for name in dark)
    told = f"all {len(dark)} places" if len(dark) == _served(entry) and len(dark) > 2 else _names(dark)
    return told + (f" ({calls} call{'s' if calls > 1 else ''})" if calls else "")


def _served(entry: Told) -> int:
    return sum(not end.left_without for end in entry.typical.places.values())


def _somebody(entry: Told) -> str:
    named = [*entry.somebody, *(name for name in entry.happening.replaced if name in entry.typical.boxes)]
    parts = [f"{name}: {entry.typical.boxes[name].why}" for name in named]
    if entry.lost:
        parts.append(f"until then without service: {_names(entry.lost)}")
    last = entry.typical.happening.back_s
    if last and entry.somebody:
        parts.append(f"worst if {last[0][0]} gets its power last")
    return "; ".join(parts) or "no"


def _passwords(rows: list[Told]) -> Iterator[RenderableType]:
    """What becomes of each node that is off while a name or password changes, by what changes."""
    yield Text()
    yield Text("Names and passwords", style="bold")
    yield Text("What becomes of a node that is off while they change:")
    table = plain_table(title="")
    by_name = {entry.happening.id: entry for entry in rows}
    one = len({network for entry in rows for network, _ in entry.happening.changed}) == 1
    columns = sorted({_bands(entry) for entry in rows if len(entry.happening.off) == 1})
    for column in ("network", "node off", *columns):
        table.add_column(column)
    found: dict[tuple[str, str], dict[str, str]] = {}
    for entry in by_name.values():
        if len(entry.happening.off) == 1:
            (box,) = entry.happening.off
            state = entry.typical.boxes[box].state
            found.setdefault((_changes(entry), box), {})[_bands(entry)] = PASSWORD_WORDS.get(state, state)
    for (network, box), cells in found.items():
        if network == ALL and one:
            continue
        table.add_row(Text(inert(network)), Text(inert(box)), *(cells.get(column, "") for column in columns))
    yield table
    yield Text(
        "back: by itself, with the new settings. keeps the old: back, with old names and passwords until somebody "
        "enters the new ones at it. stranded: its uplink is refused for ever; somebody must go there. To see one: "
        "new-NETWORK-without-NODE, new-NETWORK-on-5-ghz-without-NODE, all-new-without-NODE.",
        style="dim",
    )
    others = [entry for entry in rows if len(entry.happening.off) > 1]
    more = [entry for entry in others if not entry.plain]
    if others and not more:
        yield Text("Several off at once end as each alone.", style="dim")
    for entry in more:
        yield Text(inert(f"{entry.happening.id}: {_somebody(entry)}"))
    at_once = [entry for entry in rows if not entry.happening.off]
    told = [f"{entry.happening.id} {_within(entry)}" for entry in at_once if entry.back_s[0]]
    if at_once:
        back = f"until all is back: {', '.join(told)}" if told else "nobody is without service for long"
        yield Text(inert(f"While every node is on: {back}."))


ALL = "all"
PASSWORD_WORDS = {"unharmed": "back", "by itself": "back", "after a hand": "keeps the old"}


def _bands(entry: Told) -> str:
    bands = sorted({band for _, band in entry.happening.changed})
    return f"{bands[0]} GHz alone" if "-on-" in entry.happening.id else "all bands"


def _changes(entry: Told) -> str:
    networks = sorted({network for network, _ in entry.happening.changed})
    return networks[0] if not entry.happening.id.startswith("all-new") else ALL


def _within(entry: Told) -> str:
    typical, shortest, longest = entry.back_s
    if not typical:
        return ""
    return _spread((typical, shortest, longest))


def _spread(times: tuple[float, float, float]) -> str:
    """`2.6 min (1.3 to 5.7)`."""
    typical, shortest, longest = times
    if typical < 100:
        return f"{typical:.0f} s ({shortest:.0f} to {longest:.0f})"
    return f"{typical / 60:.1f} min ({shortest / 60:.1f} to {longest / 60:.1f})"


def _long(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.1f} min"


def _names(names: tuple[str, ...]) -> str:
    if len(names) > MOST_NAMES:
        return f"{', '.join(names[: MOST_NAMES - 1])} and {len(names) - MOST_NAMES + 1} more"
    return ", ".join(names)


def _cautions() -> Iterator[RenderableType]:
    yield Text(
        "Calls to emergency services over this network end with the power of any node on their way, and with that of "
        "the line. Keep a second way of calling that needs no mains. Never call the emergency number to try.",
        style="bold",
    )


def _assumed(found: Outages) -> Iterator[RenderableType]:
    if not found.assumed:
        return
    yield Text()
    yield Text("Taken for it", style="italic")
    grid = Table.grid(padding=(0, 1))
    for line in found.assumed:
        grid.add_row("–", Text(inert(line)))
    yield Padding(grid, (0, 0, 0, 2))


def one(loaded: LoadedSite, found: Outages) -> Iterator[RenderableType]:
    """One outage step by step."""
    (entry,) = found.told
    yield heading(loaded)
    yield Text()
    yield Text(inert(entry.happening.id), style="bold")
    yield Text(inert(entry.happening.told))
    last = entry.typical.happening.back_s
    if last:
        yield Text(inert(f"Shown as it ends worst: {last[0][0]} gets its power long after the others."))
    yield from (Text(inert(f"Not known until the file tells {reason}.")) for reason in found.missing)
    yield from _course(entry)
    yield from _ends(entry)
    yield from _places(entry)
    yield Text()
    yield from _cautions()
    yield from _assumed(found)


def _course(entry: Told) -> Iterator[RenderableType]:
    yield Text()
    table = plain_table(title="Step by step, at typical times (minutes and seconds from the start)")
    for column in ("when", "node", "what happens"):
        table.add_column(column)
    before = None
    for step in entry.typical.steps:
        when = f"{int(step.at_s // 60)}:{int(step.at_s % 60):02d}"
        table.add_row("" if when == before else when, Text(inert(step.box)), Text(inert(_step(step))))
        before = when
    yield table


def _step(step: Step) -> str:
    words = STEPS[step.what]
    if step.what == "joins":
        return f"{words} {step.detail}"
    return f"{words}: {step.detail}" if step.detail else words


def _ends(entry: Told) -> Iterator[RenderableType]:
    yield Text()
    table = plain_table(title="What becomes of the nodes")
    for column in ("node", "comes back", "after the cause is over", "how, or why not"):
        table.add_column(column)
    for name, end in entry.typical.boxes.items():
        band = "" if end.back_s in (0.0, inf) else _times(entry, name)
        told = f"{end.way.told}, with {end.login}" if end.way is not None and end.state != "unharmed" else ""
        table.add_row(
            Text(inert(name)), end.state, band, Text(inert("; ".join(part for part in (told, end.why) if part)))
        )
    yield table


def _times(entry: Told, name: str) -> str:
    typical, shortest, longest = (found.boxes[name].back_s for found in (entry.typical, entry.shortest, entry.longest))
    return _spread((typical, shortest, longest))


def _places(entry: Told) -> Iterator[RenderableType]:
    rows = [end for end in entry.typical.places.values() if not end.left_without and (end.out_s or not end.meanwhile)]
    yield Text()
    if not rows:
        yield Text("No place is without service.")
        return
    table = plain_table(title="Places that notice")
    for column in ("place", "calls", "meanwhile", "without service for"):
        table.add_column(column)
    for end in rows:
        out = "until somebody helps" if end.out_s == inf else _long(end.out_s)
        table.add_row(Text(inert(end.place)), str(end.calls or ""), "served" if end.meanwhile else "nothing", out)
    yield table
