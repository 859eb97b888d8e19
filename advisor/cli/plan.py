"""`advisor plan SITE`: a plain sketch of what the site file tells, so that a swapped coordinate is seen at once."""

from __future__ import annotations

from typing import Annotated

import typer

from advisor.cli.check import Site


def command(
    site: Site,
    out: Annotated[
        str | None,
        typer.Option("-o", "--out", metavar="FILE", help="Write the picture there (default: to stdout)."),
    ] = None,
) -> None:
    """Draw floors, rooms, walls, nodes, uplinks, places and walks as an SVG picture; no levels, no speeds."""
    from advisor.cli import files, output
    from advisor.network.plan import plan_of
    from advisor.report import plan_svg
    from advisor.site.load import load_site

    plan = plan_of(load_site(site).site)
    picture = plan_svg.plan_svg(plan)
    if out is None:
        output.show_json(picture.removesuffix("\n"))
    else:
        files.keep_the_site(site, out)
        files.write_own(out, picture, mark=plan_svg.HEADER)
        output.tell(f"wrote {out}: open it in a browser and compare it with the building")
    for line in plan.odd:
        output.tell(f"looks odd: {line}")
