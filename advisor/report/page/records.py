"""The JSON of `report`, version 1: the JSON of the commands it puts together, side by side."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from advisor.facts.book import Book
from advisor.network.joining import networks_on
from advisor.report.diff_json import DiffOut
from advisor.report.improve_json import ImproveOut
from advisor.report.json_v1 import CapacityOutput, CheckOutput, Quantity, quantity_of
from advisor.report.outage_json import OutagesOut
from advisor.report.page.floor_maps import Maps
from advisor.report.rank_json import RankOut
from advisor.report.walk_json import WalksOut
from advisor.subjects import Subject


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class RadioOut(_Part):
    """One radio as it runs."""

    radio: str
    node: str
    band: str
    standard: str
    channel: int | None
    """None while it is automatic."""
    width_mhz: int
    eirp_dbm: Quantity
    networks: list[str]


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


def radios_of(book: Book) -> list[RadioOut]:
    """Every radio, by node and id; one that follows its parent has the parent's channel."""
    return [
        RadioOut(
            radio=name,
            node=radio.node,
            band=radio.band,
            standard=radio.standard,
            channel=radio.channel,
            width_mhz=radio.width_mhz,
            eirp_dbm=quantity_of(book.get("eirp_dbm", Subject("radio", (name,)))),
            networks=[key for key, _ in networks_on(book.site, radio)] if radio.serves_clients else [],
        )
        for name, radio in book.radios.items()
    ]
