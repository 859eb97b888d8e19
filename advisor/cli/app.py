"""The command line: one module a command; only this package prints or exits.

Exit codes: 0 nothing at or above --fail-on, 1 findings, 2 bad input or arguments, 3 a rule or formula failed.
"""

from __future__ import annotations

import gc
import os
import sys
import traceback
from pathlib import Path

import typer

from advisor.cli import (
    ask,
    calls,
    capacity,
    check,
    diff,
    improve,
    new,
    outage,
    plan,
    rank,
    report,
    rules,
    schema,
    walk,
    what_if,
    why,
)
from advisor.errors import AdvisorError, InputError

app = typer.Typer(
    name="advisor",
    help="Reasons about the Wi-Fi of a home or small workplace from one written description of the site.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("check")(check.command)
app.command("capacity")(capacity.command)
app.command("rank")(rank.command)
app.command("improve")(improve.command)
app.command("walk")(walk.command)
app.command("calls")(calls.command)
app.command("outage")(outage.command)
app.command("diff")(diff.command)
app.command("what-if")(what_if.command)
app.command("why")(why.command)
app.command("new")(new.command)
app.command("ask")(ask.command)
app.command("plan")(plan.command)
app.command("report")(report.command)
app.command("schema")(schema.command)
app.add_typer(rules.app, name="rules")

GARBAGE_THRESHOLD = 100_000
"""A command makes many small objects and ends; looking for garbage circles every 700 of them took 5 % of a check."""


@app.callback(invoke_without_command=True)
def _options(version: bool = typer.Option(False, "--version", help="Print the version and end.")) -> None:
    if version:
        from advisor import __version__

        typer.echo(__version__)
        raise typer.Exit


def main() -> None:
    """Run the command line and end with the exit code."""
    gc.set_threshold(GARBAGE_THRESHOLD)
    try:
        app()
    except InputError as error:
        for problem in error.problems:
            sys.stderr.write(problem.text(error.file) + "\n")
        if len(error.problems) > 1:
            sys.stderr.write(f"{len(error.problems)} problems in {error.file}; nothing was computed.\n")
        sys.exit(2)
    except AdvisorError as error:
        sys.stderr.write(
            f"advisor: {error}\n    This is a fault of a rule or formula, not of your file; please report it.\n"
        )
        sys.exit(3)
    except Exception as error:
        if isinstance(error, BrokenPipeError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(0)
        sys.stderr.write(f"advisor: a formula failed: {type(error).__name__}: {error} ({_place_of(error)})\n")
        sys.stderr.write("    This is a fault of the program, not of your file; please report it with the site file.\n")
        sys.exit(3)


def _place_of(error: Exception) -> str:
    """The last place of ours the error passed, for the report."""
    frames = [frame for frame in traceback.extract_tb(error.__traceback__) if "advisor" in frame.filename]
    return f"{Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else "no place known"


if __name__ == "__main__":
    main()
