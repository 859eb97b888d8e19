"""`advisor outage SITE [NAME]`: power cuts, changed passwords, radar, and who comes back."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from advisor.cli.check import Site


class Format(StrEnum):
    text = "text"
    json = "json"
    csv = "csv"


def command(
    site: Site,
    name: Annotated[
        str | None, typer.Argument(metavar="NAME", help="One outage, step by step (default: a table of all).")
    ] = None,
    together: Annotated[
        int | None,
        typer.Option(
            "--together", metavar="N", min=1, max=8, help="Up to N nodes off at once (default: 2; 1 over 12 nodes)."
        ),
    ] = None,
    format: Annotated[
        Format, typer.Option("--format", help="text for people; json; csv: what becomes of every node and place.")
    ] = Format.text,
) -> None:
    """Play out what happens when the power goes, a password changes, radar comes or a box is lost: who comes back by
    itself, when, over which way, and who needs somebody.

    Ends with 1 where a node needs somebody.
    """
    from advisor.advice.outages import outages
    from advisor.cli import output
    from advisor.facts.checks import open_book
    from advisor.facts.draws import Draws
    from advisor.report import outage_json, outage_text
    from advisor.site.load import load_site

    loaded = load_site(site)
    book = open_book(loaded, Draws(1, 0))
    with output.progress("outages") as progress:
        found = outages(book, name, together, progress)
    if format is Format.json:
        output.show_json(outage_json.outage_json(loaded, found))
    elif format is Format.csv:
        output.show_json(outage_json.outage_csv(found))
    else:
        output.show(outage_text.one(loaded, found) if name else outage_text.overview(loaded, found))
    if any(entry.somebody for entry in found.told) or found.missing:
        raise typer.Exit(1)
