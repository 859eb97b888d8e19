"""The radios of a site as they run, as they go into the JSON of a report."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from advisor.facts.book import Book
from advisor.network.joining import networks_on
from advisor.report.json_v1 import Quantity, quantity_of
from advisor.subjects import Subject


class RadioOut(BaseModel):
    """One radio as it runs."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    radio: str
    node: str
    band: str
    standard: str
    channel: int | None
    """None while it is automatic."""
    width_mhz: int
    eirp_dbm: Quantity
    networks: list[str]


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
