"""`advisor improve SITE`: the least work after which no error is left."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.check import Site

if TYPE_CHECKING:
    from advisor.site.load import LoadedSite


class Format(StrEnum):
    text = "text"
    json = "json"
    card = "card"


def command(
    site: Site,
    format: Annotated[
        Format, typer.Option("--format", help="text for people, json for programs, card: the settings alone, Markdown.")
    ] = Format.text,
    write: Annotated[
        str | None, typer.Option("--write", metavar="FILE", help="Write the changed site file there; comments stay.")
    ] = None,
    in_place: Annotated[
        bool, typer.Option("--in-place", help="Write into SITE itself; a copy of it is kept beside it.")
    ] = False,
    take: Annotated[
        int | None,
        typer.Option("--take", metavar="N", min=0, help="Take way N of the list instead.", show_default=False),
    ] = None,
    budget: Annotated[
        int, typer.Option("--budget", metavar="N", min=1, max=10_000, help="Compute at most N sets of changes.")
    ] = 120,
) -> None:
    """Find the changes with the least work after which no error is left, each computed again, with a settings card.

    Ctrl-C ends the search with the best so far. Ends with 1 where an error, or a possible one, is left.
    """
    from advisor.advice.card import card_of
    from advisor.advice.improve import improve, taken
    from advisor.cli import files, output
    from advisor.report import improve_json, improve_text
    from advisor.site.load import load_site

    loaded = load_site(site)
    if write is not None:
        files.refuse_taken(write)
    with output.progress("sets of changes") as progress:
        found = improve(loaded, budget=budget, progress=progress)
    chosen = found if take is None else taken(found, take)
    card = card_of(chosen)
    if format is Format.json:
        output.show_json(improve_json.improve_json(chosen, card))
    elif format is Format.card:
        output.show_json(improve_text.card_markdown(chosen, card))
    else:
        output.show(improve_text.improvement(chosen, card))
    _write(chosen.after.loaded, site, write, in_place=in_place)
    if chosen.left:
        raise typer.Exit(1)


def _write(changed: LoadedSite, site: str, write: str | None, *, in_place: bool) -> None:
    from advisor.cli import files, output

    text = changed.document.written
    if write is not None:
        files.write_new(write, text)
        output.tell(f"wrote {write}; `advisor check {write}` looks at it in full")
    if in_place:
        kept = files.replace_own(site, text)
        output.tell(f"wrote {site}; the file as it was is kept as {kept}")
