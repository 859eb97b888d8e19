"""`advisor why SITE SUBJECT FACT`: how one number came about."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.cli.check import Site


def command(
    site: Site,
    subject: Annotated[str, typer.Argument(help="What it is about: an id (stair), a pair (desk/stair.r5), or site.")],
    fact: Annotated[str, typer.Argument(help="The fact, or the beginning of its name: goodput, level.up …")],
    depth: Annotated[int, typer.Option(min=0, max=50, help="How many levels of inputs to show.")] = 3,
) -> None:
    """Show how one number came about: formula, inputs, sources, and what moves it most."""
    from advisor.cli import output
    from advisor.facts.checks import open_book
    from advisor.facts.find import find
    from advisor.report.why_text import why
    from advisor.site.load import load_site

    book = open_book(load_site(site), explain=True)
    spec, found = find(book, subject, fact)
    output.show(why(found, spec.meaning, depth))
