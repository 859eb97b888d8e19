"""`advisor new FILE`: a commented starter site file."""

from __future__ import annotations

from typing import Annotated

import typer


def command(
    file: Annotated[str, typer.Argument(metavar="FILE", help="The file to write; it must not exist yet.")],
) -> None:
    """Write a commented starter site file to fill in."""
    from advisor.cli import output
    from advisor.site import starter

    starter.write(file)
    output.tell(f"wrote {file}: fill it in, then run `advisor check {file}`")
