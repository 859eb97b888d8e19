"""The ranking of layouts as text: what to take, the table, why, what it hangs on, and what can be promised."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from advisor.advice.records import Entry, Flip, HopLine, Ranking
from advisor.report.text import heading, plain_table
from advisor.site.change import Change
from advisor.units import cell_text, inert
from advisor.values import Known

if TYPE_CHECKING:
    from rich.console import RenderableType


MOST_MISSING = 4


def rank(ranking: Ranking) -> Iterator[RenderableType]:
    """The parts of the answer, in order."""
    yield heading(ranking.loaded)
    yield Text()
    yield from _recommended(ranking)
    yield from _layouts(ranking)
    yield from _because(ranking)
    yield from _leads(ranking)
    yield from _hops(ranking)
    yield from _places(ranking)
    yield from _flips(ranking)
    yield from _promises(ranking)
    yield from _searched(ranking)


def _head(text: str) -> Iterator[RenderableType]:
    yield Text()
    yield Text(text, style="bold")


def _lines(lines: Sequence[str], *, numbered: bool = False) -> Iterator[RenderableType]:
    """Each line hangs behind its number or stroke."""
    table = Table.grid(padding=(0, 1))
    for number, line in enumerate(lines, 1):
        table.add_row(f"{number}." if numbered else "–", Text(inert(line)))
    yield Padding(table, (0, 0, 0, 2))


def _recommended(ranking: Ranking) -> Iterator[RenderableType]:
    entry = ranking.entry(ranking.recommended)
    title = Text("Take layout ", style="bold").append(f"{entry.rank}: ").append(inert(entry.layout.told))
    yield title
    asked = "browsing at every place, as the file asks for nothing" if ranking.asks[0].assumed else "what the file asks"
    yield Text(
        f"It typically meets {entry.score.met} of {entry.score.asked} needs ({asked}), and all that any layout can "
        f"meet in {entry.chance:.0%} of the cases computed."
    )
    if ranking.hopeless:
        places = ", ".join(ranking.hopeless)
        yield Text(inert(f"No layout serves {places}: nothing there can be joined; `advisor check` says why."))
    if ranking.missing:
        yield Text(
            inert(f"Not known, so what hangs on it counts as not met: {'; '.join(ranking.missing[:MOST_MISSING])}.")
        )
    if not entry.layout.changes:
        short = entry.score.met < entry.score.asked
        yield Text("Nothing that can be varied makes it better." if short else "Nothing has to be changed.")
        return
    yield from _worse_walks(ranking, entry)
    yield Text("What to do:")
    yield from _lines([_step(change) for change in entry.layout.changes], numbered=True)


def _worse_walks(ranking: Ranking, entry: Entry) -> Iterator[RenderableType]:
    """Walks that hold now and would not under the layout to take: speeds alone decide, so that is said first."""
    now = next((other.axes.walks for other in ranking.entries if not other.layout.changes), None)
    then = entry.axes.walks
    if now is not None and then is not None and then[0] < now[0]:
        yield Text(
            f"But calls hold on {then[0]} of {then[1]} walks with it, and on {now[0]} as it is: write it with --write "
            "and look at it with `advisor walk` before you decide.",
            style="bold",
        )


def _step(change: Change) -> str:
    price = f", {change.cost:g}" if change.cost else ""
    return f"{change.told} ({change.effort_min:g} min{price})"


def _layouts(ranking: Ranking) -> Iterator[RenderableType]:
    yield from _head("Layouts compared, best first")
    grid = Table.grid(padding=(0, 1))
    for entry in ranking.entries:
        told = Text(inert(entry.layout.told))
        kinds = f"  ({', '.join(entry.layout.kinds)})" if entry.layout.kinds else ""
        grid.add_row(_number(entry, ranking), told.append(kinds, style="dim"))
    yield grid
    yield Text()
    table = plain_table(title="")
    for column in ("", "needs", "worst place", "all met", "evenings", "against 1", "work"):
        table.add_column(column, no_wrap=True)
    for entry in ranking.entries:
        table.add_row(
            _number(entry, ranking),
            f"{entry.score.met} of {entry.score.asked}",
            Text(inert(f"{entry.score.worst:.2f} {entry.score.worst_at}")) if not entry.score.unknown else "?",
            f"{entry.chance:.0%}",
            _evenings(entry),
            _against(entry),
            _work(entry),
        )
    yield table
    yield Text(LEGEND, style="dim")


def _number(entry: Entry, ranking: Ranking) -> str:
    return f"{entry.rank}" + ("*" if entry.layout.id == ranking.recommended else "")


LEGEND = (
    "*: the one to take. Needs: typically met, with everyone active. Worst place: what it gets over what it asks. "
    "All met: share of the cases computed in which every place that any layout can serve gets what it asks and its "
    "calls hold. Evenings: most that is lost against the best layout of the same evening, neighbours quiet, usual and "
    "busy: needs, and of the worst place's figure. Against 1: share of the cases in which its worst place is better "
    "and worse off than that of the first. Work: time, and cost where prices are given."
)


def _evenings(entry: Entry) -> str:
    regret = entry.regret
    parts = [f"-{regret.needs} need{'s' if regret.needs > 1 else ''}"] if regret.needs else []
    return " ".join([*parts, f"-{regret.share:.2f}"] if regret.share >= 0.005 or not parts else parts).replace(
        "-0.00", "0"
    )


def _against(entry: Entry) -> str:
    versus = entry.versus_first
    if versus is None:
        return "–"
    total = versus.wins + versus.alike + versus.losses
    if total == 0:
        return "?"
    told = f"+{versus.wins / total:.0%} -{versus.losses / total:.0%}"
    return f"{told}, a tie" if versus.tie else told


def _work(entry: Entry) -> str:
    minutes = entry.layout.effort_min
    hours = f"{minutes / 60:.1f} h" if minutes >= 120 else f"{minutes:g} min"
    return f"{hours}, {entry.layout.cost:g}" if entry.layout.cost else hours


def _because(ranking: Ranking) -> Iterator[RenderableType]:
    if ranking.because:
        yield from _head("Why 1 comes before 2")
        yield from _lines(ranking.because)
    if ranking.recommended_because:
        yield from _head(f"Why take {ranking.entry(ranking.recommended).rank}")
        yield from _lines([ranking.recommended_because])


def _leads(ranking: Ranking) -> Iterator[RenderableType]:
    """Who is ahead on what else counts, where that is not the first on everything."""
    yield from _head("What else counts")
    table = plain_table(title="")
    for column in (
        "",
        "all demands times",
        "air hops",
        "worst node to lose",
        "calls hold",
        "walks hold",
        "back by itself",
        "ahead on",
    ):
        table.add_column(column)
    for entry in ranking.entries:
        axes = entry.axes
        table.add_row(
            f"{entry.rank}",
            f"{axes.best_factor:.2f}" if axes.best_factor is not None else "–",
            f"{axes.air_hops}",
            Text(inert(f"{axes.node_loss[0]}: {axes.node_loss[1]} place{'s' if axes.node_loss[1] > 1 else ''}"))
            if axes.node_loss[1]
            else "–",
            f"{axes.calls[0]} of {axes.calls[1]}" if axes.calls else "–",
            f"{axes.walks[0]} of {axes.walks[1]}" if axes.walks else "–",
            f"{axes.returns[0]} of {axes.returns[1]}" if axes.returns else "–",
            ", ".join(entry.leads) or "–",
        )
    yield table
    yield Text(
        "All demands times: growth that perfect timing could carry at most. Walks: those on which a call suffers in at "
        "most one case of ten (–: not followed for this layout). Back by itself: outages (power, changed passwords) "
        "after which every node comes back by itself. Ahead on: no other layout here is better "
        "there (–: another is as good on everything and better on something); which comes first depends on how much "
        "these count for you.",
        style="dim",
    )


def _hops(ranking: Ranking) -> Iterator[RenderableType]:
    """Hop by hop, of the first and the second."""
    told = [entry for entry in ranking.entries[:2] if entry.hops]
    if not told:
        return
    yield from _head("Hop by hop" + (", 1 and 2" if len(told) > 1 else ""))
    table = plain_table(title="")
    for column in ("", "hop", "over", "level dBm", "rate Mb/s", "alone Mb/s", "time taken", ""):
        table.add_column(column)
    for entry in told:
        for line in entry.hops:
            if entry is not told[0] and line in told[0].hops:
                table.add_row(f"{entry.rank}", Text(inert(f"{line.node} to {line.parent}")), f"as in {told[0].rank}")
                continue
            table.add_row(
                f"{entry.rank}",
                Text(inert(f"{line.node} to {line.parent}")),
                Text(line.over),
                _cell(line.level_dbm, "dBm", 0),
                _cell(line.rate_mbps, "Mb/s", 0),
                _cell(line.alone_mbps, "Mb/s", 0),
                _takes(line),
                "stops the worst place" if line.binds else "",
            )
    yield table


def _takes(line: HopLine) -> str:
    return "?" if line.air_share is None else f"{line.air_share:.0%}"


def _cell(value: Known | None, unit: str, digits: int) -> str:
    return "–" if value is None else cell_text(value, unit, digits)


def _places(ranking: Ranking) -> Iterator[RenderableType]:
    """What each place gets under the layout to take."""
    entry = ranking.entry(ranking.recommended)
    yield from _head(f"What each client gets under layout {entry.rank}, everyone active")
    table = plain_table(title="")
    for column in ("place", "joins", "down Mb/s", "asked", "up Mb/s", "asked", "met in"):
        table.add_column(column)
    for line in entry.places:
        table.add_row(
            Text(inert(line.place)),
            Text(inert(line.joined or "nothing")),
            _cell(line.down_mbps, "Mb/s", 1),
            f"{line.need_down_mbps:g}" if line.need_down_mbps else "–",
            _cell(line.up_mbps, "Mb/s", 1),
            f"{line.need_up_mbps:g}" if line.need_up_mbps else "–",
            f"{line.chance:.0%}" if line.chance is not None else "–",
        )
    yield table


def _flips(ranking: Ranking) -> Iterator[RenderableType]:
    if not ranking.flips:
        return
    yield from _head("What would change the first place")
    ranks = {entry.layout.id: str(entry.rank) for entry in ranking.entries}
    table = plain_table(title="")
    for column in ("assumption", "at its low end", "first", "at its high end", "first", "changes"):
        table.add_column(column)
    for flip in ranking.flips:
        table.add_row(flip.what, flip.ends[0], ranks[flip.low], flip.ends[1], ranks[flip.high], changes(flip))
    yield table


def changes(flip: Flip) -> str:
    """Where the first place changes hands, in words."""
    return flip.at or "nowhere"


def _promises(ranking: Ranking) -> Iterator[RenderableType]:
    if not ranking.promises:
        return
    yield from _head("For the quotation: what holds in 9 of 10 cases, once it is set up so")
    for promise in ranking.promises:
        yield from _lines([promise.sentence + (f" Not if {'; or '.join(promise.void)}." if promise.void else "")])
    yield Padding(Text(VOID, style="dim"), (0, 0, 0, 2))


VOID = (
    "Void where nodes stand elsewhere than told, the equipment is of another class, the internet line gives less than "
    "told, or more people are active. Calls to emergency services need power at every node of the way and at the line; "
    "tell the customer, and keep another way to call."
)


def _searched(ranking: Ranking) -> Iterator[RenderableType]:
    search = ranking.search
    yield from _head("How this was searched")
    lines = [*ranking.varied, *ranking.fixed]
    ways = f"{search.layouts:.0f}" if search.layouts < 1e6 else f"{search.layouts:.1e}"
    found = f"{search.computed} layouts were computed in full; names and uplinks alone can be run in {ways} ways."
    if search.exact:
        found += f" No layout left out can be better at typical figures ({search.bound_by})."
    else:
        met, worst = search.bound
        found += (
            f" More might be possible: at most {met} needs and {worst:.2f} for the worst place ({search.bound_by}). "
            "A larger --budget looks further."
        )
    if search.stopped:
        found += " You stopped the search; this is the best up to then."
    yield from _lines([*lines, found])
