"""`advisor what-if SITE CHANGE…`: what a change of the site file would do."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.cli.check import Site
from advisor.cli.diff import Apart, Format, FormatOption, tell


def command(
    site: Site,
    changes: Annotated[
        list[str],
        typer.Argument(
            metavar="CHANGE...",
            help="PATH=VALUE, PATH+=ITEM, PATH-=ITEM, or PATH= to take it out: nodes.stair.uplink.band=5",
        ),
    ],
    format: FormatOption = Format.text,
    write: Annotated[
        str | None, typer.Option("--write", metavar="FILE", help="Write the changed site file there; comments stay.")
    ] = None,
    apart: Apart = True,
) -> None:
    """Try changes in a copy of the site file and compare: what differs, what it does.

    Ends with 1 where the changed site is worse on some axis and better on none of it.
    """
    from dataclasses import replace

    from advisor.cli import files, output
    from advisor.compare.because import compare
    from advisor.compare.wishes import wishes
    from advisor.errors import InputError, Position, Problem
    from advisor.site.edit import CannotEdit, edited
    from advisor.site.load import load_site

    loaded = load_site(site)
    if write is not None:
        files.refuse_taken(write)
    edits = wishes(loaded, changes)
    try:
        changed = edited(replace(loaded, file=f"{loaded.file} with {', '.join(changes)}"), edits)
    except CannotEdit as error:
        help = "Write it into a copy of the file by hand, then `advisor diff`."
        problem = Problem(Position(0, 0), f"this file cannot be changed by splicing: {error.told}", help)
        raise InputError(loaded.file, [problem]) from None
    with output.progress("changes") as progress:
        found = compare(loaded, changed, apart=apart, progress=progress)
    tell(found, format)
    if write is not None:
        files.write_new(write, changed.document.written)
        output.tell(f"wrote {write}; `advisor check {write}` looks at it in full")
    if found.effects.worse:
        raise typer.Exit(1)
