"""`advisor calls SITE`: why calls suffer, and which single change mends it; also from three saved pings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.check import Format, FormatOption
from advisor.cli.walk import named

if TYPE_CHECKING:
    from advisor.advice.causes import Cause, Diagnosis
    from advisor.site.load import LoadedSite


def command(
    site: Annotated[str | None, typer.Argument(metavar="SITE", help="The site file; not needed with --pings.")] = None,
    walk: Annotated[str | None, typer.Option("--walk", metavar="WALK", help="Only this walk.")] = None,
    place: Annotated[
        str | None, typer.Option("--place", metavar="PLACE", help="A call at this place, standing.")
    ] = None,
    pings: Annotated[
        tuple[str, str, str] | None,
        typer.Option("--pings", metavar="NEAR GATEWAY OUTSIDE", help="Three saved outputs of `ping`, run together."),
    ] = None,
    log: Annotated[
        str | None,
        typer.Option("--log", metavar="FILE", help="CSV of which node the device was joined to, with --pings."),
    ] = None,
    write: Annotated[
        str | None, typer.Option("--write", metavar="FILE", help="Write the site file with the change that helps most.")
    ] = None,
    format: FormatOption = Format.text,
) -> None:
    """Find why calls suffer: each possible cause is taken away alone and the walk computed again.

    With --pings no site file is needed: three pings run at the same time (to the own node, the gateway, an outside
    host) tell whether the access, a hop or the line is to blame. Ends with 1 where calls suffer.
    """
    if pings is not None:
        _pings(pings, log, format)
        return
    if site is None:
        raise typer.BadParameter("give the site file, or three saved pings with --pings NEAR GATEWAY OUTSIDE")
    from advisor.advice.causes import diagnose_place, diagnose_walk
    from advisor.cli import files, output
    from advisor.facts.checks import open_book
    from advisor.facts.draws import Draws
    from advisor.report import calls_text, walk_json
    from advisor.site.load import load_site

    loaded = load_site(site)
    if write is not None:
        files.refuse_taken(write)
    book = open_book(loaded, Draws(1, 0))
    with output.progress("taking causes away") as progress:
        if place is not None:
            named(loaded.site.places, place, "place")
            found = [diagnose_place(loaded, book, place, progress)]
        else:
            found = [diagnose_walk(loaded, book, name, progress) for name in named(loaded.site.walks, walk, "walk")]
    found.sort(key=lambda entry: (-entry.now.any, entry.where))
    if format is Format.json:
        output.show_json(walk_json.calls_json(loaded, found))
    else:
        output.show(calls_text.calls(loaded, found))
    if write is not None:
        _write(loaded, found, write)
    if any(entry.now.any > 0.1 or entry.course.trail.missing for entry in found):
        raise typer.Exit(1)


def _offered(cause: Cause) -> bool:
    return cause.change is not None and not cause.change.refused and not cause.harm


def _write(loaded: LoadedSite, found: list[Diagnosis], path: str) -> None:
    """The file with the change that explains most, of all walks looked at."""
    from advisor.cli import files, output
    from advisor.site.change import edits_of
    from advisor.site.edit import edited

    causes = [cause for entry in found for cause in entry.causes if _offered(cause)]
    if not causes:
        output.tell(f"{path} was not written: no single change at the site was found that helps.")
        return
    best = max(causes, key=lambda cause: cause.share)
    assert best.change is not None
    files.write_new(path, edited(loaded, edits_of([best.change])).document.written)
    output.tell(f"wrote {path}: {best.change.told} Look at all of it with `advisor check --deep {path}`.")


def _pings(files: tuple[str, str, str], log: str | None, format: Format) -> None:
    from advisor.cli import output
    from advisor.evidence.associations import read_associations
    from advisor.evidence.blame import blame
    from advisor.evidence.pings import read
    from advisor.report import pings_json, pings_text

    near, gateway, outside = (read(path) for path in files)
    report = blame(near, gateway, outside, read_associations(log) if log else None)
    if format is Format.json:
        output.show_json(pings_json.pings_json(report))
    else:
        output.show(pings_text.pings(report))
    if report.verdict != "nothing bad seen":
        raise typer.Exit(1)
