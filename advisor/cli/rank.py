"""`advisor rank SITE`: which layout is best, why, and what it hangs on."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.check import Site

if TYPE_CHECKING:
    from advisor.advice.records import Entry, Ranking


class Format(StrEnum):
    text = "text"
    json = "json"
    csv = "csv"


def command(
    site: Site,
    top: Annotated[int, typer.Option("--top", metavar="N", min=1, max=50, help="List the N best.")] = 5,
    format: Annotated[
        Format, typer.Option("--format", help="text for people, json for programs, csv for spreadsheets.")
    ] = Format.text,
    write: Annotated[
        str | None,
        typer.Option("--write", metavar="FILE", help="Write the site file of the layout to take there; comments stay."),
    ] = None,
    take: Annotated[
        int | None,
        typer.Option("--take", metavar="N", min=1, help="Write layout N of the table instead.", show_default=False),
    ] = None,
    budget: Annotated[
        int, typer.Option("--budget", metavar="N", min=1, max=100_000, help="Compute at most N layouts in full.")
    ] = 400,
) -> None:
    """Compare the ways the site could be set up, and say which to take.

    Ends with 1 where the layout to take does not typically meet everything that is asked for.
    """
    from advisor.advice.rank import rank
    from advisor.cli import files, output
    from advisor.site.load import load_site

    loaded = load_site(site)
    if write is not None:
        files.refuse_taken(write)
    with output.progress("computing layouts") as progress:
        ranking = rank(loaded, top=top, budget=budget, progress=progress)
    if format is Format.json:
        from advisor.report.rank_json import rank_json

        output.show_json(rank_json(ranking))
    elif format is Format.csv:
        from advisor.report.rank_csv import rank_csv

        output.show_json(rank_csv(ranking))
    else:
        from advisor.report import rank_text

        output.show(rank_text.rank(ranking))
    recommended = ranking.entry(ranking.recommended)
    if write is not None:
        taken = recommended if take is None else _numbered(ranking, take)
        files.write_new(write, taken.candidate.loaded.document.written)
        what = f"layout {taken.rank}" if taken.layout.changes else f"layout {taken.rank}, the file as it is"
        output.tell(f"wrote {write}: {what}; `advisor check {write}` looks at it in full")
    if recommended.score.met < recommended.score.asked:
        raise typer.Exit(1)


def _numbered(ranking: Ranking, number: int) -> Entry:
    """The layout with a number of the table."""
    from advisor.errors import InputError, Position, Problem

    for entry in ranking.entries:
        if entry.rank == number:
            return entry
    numbers = ", ".join(str(entry.rank) for entry in ranking.entries)
    help = f"The table lists {numbers}; a larger --top lists more. Nothing was written."
    raise InputError("--take", [Problem(Position(0, 0), f"there is no layout {number} in the table", help)])
