"""`advisor schema`: the JSON Schema of the site file or of an output."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from pydantic import BaseModel


class Of(StrEnum):
    site = "site"
    check = "check"
    capacity = "capacity"
    rank = "rank"
    walk = "walk"
    calls = "calls"
    outage = "outage"
    improve = "improve"
    diff = "diff"
    report = "report"


def command(of: Annotated[Of, typer.Argument(help="The site file, or the JSON of a command.")] = Of.site) -> None:
    """Print the JSON Schema of the site file (with descriptions and units), or of a command's JSON output."""
    import json

    from advisor.cli import output

    if of is Of.site:
        from advisor.site.schema import json_schema

        schema = json_schema()
    elif of in (Of.rank, Of.walk, Of.calls, Of.outage, Of.improve, Of.diff, Of.report):
        from advisor.report.diff_json import DiffOut
        from advisor.report.improve_json import ImproveOut
        from advisor.report.outage_json import OutagesOut
        from advisor.report.page.records import ReportOut
        from advisor.report.rank_json import RankOut
        from advisor.report.walk_json import CallsOut, WalksOut

        models: dict[Of, type[BaseModel]] = {
            Of.rank: RankOut,
            Of.walk: WalksOut,
            Of.calls: CallsOut,
            Of.outage: OutagesOut,
            Of.improve: ImproveOut,
            Of.diff: DiffOut,
            Of.report: ReportOut,
        }
        schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **models[of].model_json_schema()}
    else:
        from advisor.report.json_v1 import output_schema

        schema = output_schema(str(of))
    output.show_json(json.dumps(schema, indent=2, ensure_ascii=False))
