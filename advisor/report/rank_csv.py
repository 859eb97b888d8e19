"""The ranking as a table for spreadsheets: one row a layout."""

from __future__ import annotations

import csv
import io

from advisor.advice.records import Entry, Ranking

COLUMNS = (
    "rank",
    "recommended",
    "id",
    "layout",
    "kinds",
    "needs_met",
    "needs_asked",
    "worst_share",
    "worst_at",
    "all_met_chance",
    "regret_needs",
    "regret_share",
    "better_than_first",
    "alike",
    "worse_than_first",
    "best_factor",
    "air_hops",
    "node_to_lose",
    "places_lost_with_it",
    "calls_hold",
    "calls",
    "walks_hold",
    "walks",
    "outages_come_back",
    "outages",
    "effort_min",
    "cost",
)


def rank_csv(ranking: Ranking) -> str:
    """All layouts listed, best first; what is not known is left empty."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for entry in ranking.entries:
        writer.writerow(_safe(cell) for cell in _row(entry, ranking.recommended))
    return out.getvalue().removesuffix("\n")


def _row(entry: Entry, recommended: str) -> tuple[object, ...]:
    layout, versus, axes = entry.layout, entry.versus_first, entry.axes
    return (
        entry.rank,
        "yes" if layout.id == recommended else "no",
        layout.id,
        layout.told,
        ", ".join(layout.kinds),
        entry.score.met,
        entry.score.asked,
        None if entry.score.unknown else entry.score.worst,
        entry.score.worst_at,
        entry.chance,
        entry.regret.needs,
        entry.regret.share,
        *((versus.wins, versus.alike, versus.losses) if versus else (None, None, None)),
        axes.best_factor,
        axes.air_hops,
        axes.node_loss[0],
        axes.node_loss[1],
        *(axes.calls or (None, None)),
        *(axes.walks or (None, None)),
        *(axes.returns or (None, None)),
        layout.effort_min,
        layout.cost,
    )


def _safe(cell: object) -> object:
    """A text a spreadsheet would take for a formula gets an apostrophe before it."""
    return f"'{cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t") else cell
