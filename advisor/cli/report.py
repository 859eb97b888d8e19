"""`advisor report SITE -o FILE`: one file to hand over, for the owner to read and the installer to keep."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.cli.check import On, Site

if TYPE_CHECKING:
    from advisor.site.load import LoadedSite


class Format(StrEnum):
    html = "html"
    md = "md"
    json = "json"


def command(
    site: Site,
    out: Annotated[
        str | None, typer.Option("-o", "--out", metavar="FILE", help="Write the report there (default: to stdout).")
    ] = None,
    format: Annotated[
        Format, typer.Option("--format", help="html: one page; md: Markdown; json: everything it shows.")
    ] = Format.html,
    walk: Annotated[
        list[str] | None, typer.Option("--walk", metavar="WALK", help="Only this walk; may be given again.")
    ] = None,
    against: Annotated[
        str | None, typer.Option("--against", metavar="OTHER", help="Tell the difference to this site file too.")
    ] = None,
    device: Annotated[
        str | None, typer.Option("--device", metavar="KIND", help="The kind of client the outcome map is for.")
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option(
            "--without",
            metavar="PART",
            help="Leave a part out: summary, plan, outcomes, speeds, walks, outages, steps, layouts, findings, "
            "difference, assumptions, about, or charts; may be given again.",
        ),
    ] = None,
    on: On = None,
) -> None:
    """Put everything about a site into one file: summary, plans, what works where, walks, outages, findings with their
    fixes, steps with a settings card, layouts, promises, assumptions and cautions."""
    from advisor.cli import output
    from advisor.cli.check import day
    from advisor.report.page.gather import Wanted, gather
    from advisor.site.load import load_site

    loaded = load_site(site)
    wanted = Wanted(
        without=_parts(without or [], format),
        walks=tuple(_walks(loaded, walk)) if walk else None,
        client=_kind(loaded, device),
        against=load_site(against) if against is not None else None,
        today=day(on) if on is not None else date.today(),
        dated=on is not None,
    )
    if out is not None:
        _refuse_taken(site, out)
    with output.progress("parts computed") as progress:
        content = gather(loaded, wanted, progress)
    if format is Format.json:
        import json

        from advisor.report.json_v1 import inert_json

        text = inert_json(json.dumps(content.data, indent=2, ensure_ascii=False)) + "\n"
    else:
        from advisor.report.page import render

        text = render.html(content) if format is Format.html else render.markdown(content)
    _tell(text, out, format)


def _refuse_taken(site: str, out: str) -> None:
    """Before anything is computed: the site file itself, and files this command did not write, are kept."""
    from advisor.cli import files
    from advisor.report.page.gather import MARK

    files.keep_the_site(site, out)
    files.refuse_foreign(out, mark=MARK)


def _tell(text: str, out: str | None, format: Format) -> None:
    from advisor.cli import files, output
    from advisor.report.page.gather import MARK

    if out is None:
        output.show_json(text.removesuffix("\n"))
        return
    files.write_own(out, text, mark=MARK)
    what = "open it in a browser; print it from there" if format is Format.html else f"{len(text.encode()) // 1000} kB"
    output.tell(f"wrote {out}: {what}")


def _parts(names: list[str], format: Format) -> frozenset[str]:
    """The parts to leave out. Raises InputError for one that does not exist or always stays."""
    from advisor.errors import InputError, Position, Problem
    from advisor.report.page.gather import ALWAYS, SECTIONS

    known = [name for name in (*SECTIONS, "charts") if name not in ALWAYS]
    for name in names:
        if name not in known:
            what = f"{name!r} always stays in a report" if name in ALWAYS else f"a report has no part {name!r}"
            raise InputError("--without", [Problem(Position(0, 0), what, f"Left out may be: {', '.join(known)}.")])
    return frozenset(names) | ({"charts"} if format is not Format.html else set())


def _walks(loaded: LoadedSite, names: list[str]) -> list[str]:
    from advisor.cli.walk import named

    return [found for name in dict.fromkeys(names) for found in named(loaded.site.walks, name, "walk")]


def _kind(loaded: LoadedSite, kind: str | None) -> str | None:
    """The kind of client asked for. Raises InputError for one nobody knows."""
    from advisor.errors import InputError, Position, Problem
    from advisor.report.page.floor_maps import kinds

    if kind is not None and kind not in kinds(loaded.site):
        help = f"Known: {', '.join(kinds(loaded.site))}."
        raise InputError("--device", [Problem(Position(0, 0), f"there is no kind of client {kind!r}", help)])
    return kind
