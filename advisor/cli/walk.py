"""`advisor walk SITE [WALK]`: a walk on a call, step by step."""

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
    walk: Annotated[str | None, typer.Argument(metavar="WALK", help="Which walk (default: all).")] = None,
    format: Annotated[
        Format, typer.Option("--format", help="text for people; json; csv: the typical course.")
    ] = Format.text,
    draws: Annotated[int, typer.Option("--draws", metavar="N", min=10, max=10_000, help="Cases computed.")] = 200,
) -> None:
    """Walk the site on a call: which node serves where, when it changes, what is heard of it, and how likely that is.

    Ends with 1 where a call suffers in more than one case of ten.
    """
    from advisor.advice.causes import trouble_of
    from advisor.cli import output
    from advisor.facts.checks import open_book
    from advisor.facts.draws import Draws
    from advisor.facts.walks import course_of_walk, crossings
    from advisor.report import walk_json, walk_text
    from advisor.site.load import load_site

    loaded = load_site(site)
    names = named(loaded.site.walks, walk, "walk")
    book = open_book(loaded, Draws(1, 0))
    courses = [course_of_walk(book, name, draws) for name in names]
    if format is Format.json:
        output.show_json(walk_json.walk_json(loaded, courses))
    elif format is Format.csv:
        output.show_json(walk_json.walk_csv(courses))
    else:
        for course in courses:
            output.show(walk_text.walk(loaded, course, trouble_of(course), crossings(course)))
    if any(trouble_of(course).any > 0.1 or course.trail.missing for course in courses):
        raise typer.Exit(1)


def named(declared: object, wanted: str | None, what: str) -> list[str]:
    """The one asked for, or all the file declares. Raises InputError where there is none."""
    from advisor.errors import InputError, Position, Problem

    names = sorted(declared)  # type: ignore[call-overload]
    if wanted is not None and wanted not in names:
        help = f"Declared: {', '.join(names) or 'none'}."
        raise InputError(f"--{what}", [Problem(Position(0, 0), f"there is no {what} {wanted!r} in the file", help)])
    if not names:
        help = "Declare one: walks: {to-the-door: {points: [desk, door], client: phone, traffic: voice}}."
        raise InputError("walks", [Problem(Position(0, 0), f"the file declares no {what}", help)])
    return names if wanted is None else [wanted]
