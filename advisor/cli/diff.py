"""`advisor diff A B`: what differs between two sites, what that does, which change does what."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from advisor.compare.because import Comparison


class Format(StrEnum):
    text = "text"
    json = "json"
    md = "md"


FormatOption = Annotated[Format, typer.Option("--format", help="text for people, json for programs, md: Markdown.")]
Apart = Annotated[bool, typer.Option("--apart/--whole", help="Tell which change does what (takes longer), or not.")]
GIT_ARGUMENTS = 7
"""What git hands to an external diff: path, old file, its hash and mode, new file, its hash and mode."""


def command(
    files: Annotated[
        list[str], typer.Argument(metavar="A B", help="The two site files; or the seven arguments git hands over.")
    ],
    format: FormatOption = Format.text,
    apart: Apart = True,
) -> None:
    """Compare two site files: what differs in the trade's words, what it does on the same draws, what causes it.

    Ends with 1 where the second is worse on some axis and better on none of it. Called by git as its external diff it
    ends with 0.
    """
    from advisor.cli import output
    from advisor.compare.because import compare
    from advisor.site.load import load_site

    first, second = _two(files)
    with output.progress("changes") as progress:
        found = compare(load_site(first), load_site(second), apart=apart, progress=progress)
    tell(found, format)
    if found.effects.worse and len(files) != GIT_ARGUMENTS:
        raise typer.Exit(1)


def tell(found: Comparison, format: Format) -> None:
    """A comparison in the form asked for."""
    from advisor.cli import output
    from advisor.report import diff_json, diff_text

    if format is Format.json:
        output.show_json(diff_json.diff_json(found))
    elif format is Format.md:
        output.show_json(diff_text.comparison_markdown(found))
    else:
        output.show(diff_text.comparison(found))


def _two(files: list[str]) -> tuple[str, str]:
    from advisor.errors import InputError, Position, Problem

    if len(files) == GIT_ARGUMENTS:
        files = [files[1], files[4]]
    if len(files) != 2 or "/dev/null" in files:
        what = f"two site files are compared, {len(files)} given" if len(files) != 2 else "one of the two is not there"
        raise InputError("diff", [Problem(Position(0, 0), what, "Write `advisor diff BEFORE.yaml AFTER.yaml`.")])
    return files[0], files[1]
