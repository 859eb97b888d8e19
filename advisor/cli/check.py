"""`advisor check SITE`: what is wrong with the site, why, and what to do."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Annotated

import typer


class Format(StrEnum):
    text = "text"
    json = "json"


class Level(StrEnum):
    note = "note"
    warning = "warning"
    error = "error"


Site = Annotated[str, typer.Argument(metavar="SITE", help="The site file (YAML).", show_default=False)]
FormatOption = Annotated[Format, typer.Option("--format", help="text for people, json for programs.")]
Only = Annotated[
    list[str] | None, typer.Option("--only", metavar="RULE", help="Only this rule or topic; may be given again.")
]
Skip = Annotated[
    list[str] | None, typer.Option("--skip", metavar="RULE", help="Not this rule or topic; may be given again.")
]
FailOn = Annotated[Level, typer.Option("--fail-on", help="End with exit code 1 from this level on.")]
Deep = Annotated[
    bool,
    typer.Option("--deep", help="Judge walks and outages too, and try a fix for each finding: takes some seconds."),
]
On = Annotated[
    str | None,
    typer.Option(
        "--on",
        metavar="DAY",
        help="Judge as of this day, YYYY-MM-DD (default: today); ignored findings may have an end date.",
        show_default=False,
    ),
]


def day(text: str) -> date:
    from advisor.errors import InputError, Position, Problem

    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        help = "Write it as year, month, day: --on 2026-09-30."
        raise InputError("--on", [Problem(Position(0, 0), f"{text!r} is no day", help)]) from None


def command(
    site: Site,
    format: FormatOption = Format.text,
    fail_on: FailOn = Level.warning,
    only: Only = None,
    skip: Skip = None,
    on: On = None,
    deep: Deep = False,
) -> None:
    """Check a site: findings with their causes, what could not be checked, and what works where."""
    from advisor.assess import assess
    from advisor.cli import output
    from advisor.site.load import load_site

    today = day(on) if on is not None else date.today()
    assessment = assess(load_site(site), deep=deep, only=only or (), skip=skip or (), today=today)
    fixes = {}
    if deep:
        from advisor.advice.tries import fixes as tried

        with output.progress("fixes tried") as progress:
            fixes = {fix.finding.identity: fix for fix in tried(assessment, progress=progress)}
    if format is Format.json:
        from advisor.report.json_v1 import check_json

        output.show_json(check_json(assessment, fixes))
    else:
        from advisor.report import text

        output.show(text.check(assessment, fixes))
    if assessment.fails(fail_on.value):
        raise typer.Exit(1)
