"""The JSON of `report`, version 1: the JSON of the commands it puts together, side by side."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from advisor.report.diff_json import DiffOut
from advisor.report.improve_json import ImproveOut
from advisor.report.json_v1 import CapacityOutput, CheckOutput
from advisor.report.outage_json import OutagesOut
from advisor.report.page.floor_maps import Maps
from advisor.report.page.radios import RadioOut
from advisor.report.rank_json import RankOut
from advisor.report.walk_json import WalksOut


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class ReportOut(_Part):
    """What `advisor report --format json` prints; a part that was left out or has nothing to tell is null."""

    format: Literal["advisor report"]
    version: Literal[1]
    program: str
    check: CheckOutput
    capacity: CapacityOutput
    radios: list[RadioOut]
    maps: Maps
    walks: WalksOut | None
    outages: OutagesOut | None
    improve: ImproveOut | None
    rank: RankOut | None
    diff: DiffOut | None
