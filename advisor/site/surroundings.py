"""What comes from outside: the internet line, other people's networks, interference, and what was measured."""

from __future__ import annotations

from typing import Literal

from pydantic import model_validator

from advisor.site.equipment import Band, Width
from advisor.site.fields import Entry, Id, RadioRef, Text, default, needed, ranged, required


class Internet(Entry):
    """The internet line."""

    down_mbps: float | None = needed("What the line delivers towards the site.", unit="Mb/s", gt=0)
    up_mbps: float | None = needed("What the line takes from the site.", unit="Mb/s", gt=0)
    delay_ms: float = default(
        15.0, "Round trip to the next host outside, unloaded.", unit="ms", ge=0, source="common practice, no source"
    )
    queue: Literal["fifo", "fair"] | None = ranged("Queue on the line: plain or fair.", catalogue="gear")
    loaded_delay_ms: float | None = needed("Round trip under full load, if measured.", unit="ms", ge=0)
    at: Id | None = default(None, "Node at the line. Default: the gateway.")
    modem_boot_s: float | None = ranged("Seconds until the line is back after power.", catalogue="gear", unit="s", ge=0)


class Neighbour(Entry):
    """Somebody else's network."""

    band: Band = required("Band in GHz.", unit="GHz")
    channel: int = required("Its primary channel.", ge=1, le=233)
    width_mhz: Width = default(20, "Its width.", unit="MHz")
    secondary: Literal["above", "below"] | None = default(None, "Side of the second half of 40 MHz in 2.4 GHz.")
    heard_dbm: dict[Id, float] = default({}, "Level as heard at nodes or places: {stair: -71}.", unit="dBm")
    busy_share: float | None = ranged("Share of time it keeps the channel busy.", catalogue="neighbours", ge=0, le=1)
    rate_mbps: float | None = ranged(
        "Rate of its data frames on the air, from a capture; with it one knows how long its frames are.",
        catalogue="neighbours",
        unit="Mb/s",
        gt=0,
    )


class Interference(Entry):
    """A source that is not Wi-Fi: an oven, a camera link, a baby monitor."""

    band: Band = required("Band in GHz.", unit="GHz")
    channels: tuple[int, ...] = default((), "Channels it hits; empty: the whole band.")
    duty_share: float | None = ranged("Share of time it is on.", catalogue="neighbours", ge=0, le=1)
    near: tuple[Id, ...] = default((), "Nodes or places that suffer; empty: all.")
    note: Text = default("", "What it is.")


class Measured(Entry):
    """A measurement of one pair; it replaces the model for that pair and shrinks its spread."""

    radio: RadioRef = required("The radio heard or used, as node.radio.")
    at: Id = required("Where it was measured: a place, or the node at the other end of a hop.")
    level_dbm: float | None = needed("Level received there.", unit="dBm", ge=-110, le=10)
    level_at_node_dbm: float | None = needed("Level the radio received from there.", unit="dBm", ge=-110, le=10)
    down_mbps: float | None = needed("TCP goodput from the radio to there, nobody else active.", unit="Mb/s", gt=0)
    up_mbps: float | None = needed("TCP goodput from there to the radio, nobody else active.", unit="Mb/s", gt=0)
    round_trip_ms: float | None = needed("Round trip to the gateway.", unit="ms", gt=0)
    when: Text = default("", "When and how.")

    @model_validator(mode="after")
    def _something_measured(self) -> Measured:
        fields = (self.level_dbm, self.level_at_node_dbm, self.down_mbps, self.up_mbps, self.round_trip_ms)
        if all(value is None for value in fields):
            raise ValueError(
                "give at least one measured value: level_dbm, level_at_node_dbm, down_mbps, up_mbps or round_trip_ms"
            )
        return self
