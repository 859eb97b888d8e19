"""Network names and what goes with them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import StringConstraints, model_validator

from advisor.site.equipment import Band
from advisor.site.fields import Entry, Id, default, needed, ranged

Security = Literal[
    "open",
    "enhanced-open",
    "wpa2-personal",
    "wpa2-wpa3-personal",
    "wpa3-personal",
    "wpa2-enterprise",
    "wpa3-enterprise",
]


class RoamingAids(Entry):
    """IEEE 802.11 amendments that help a client to move."""

    k: bool | None = ranged("802.11k neighbour reports.", catalogue="gear")
    v: bool | None = ranged("802.11v transition requests.", catalogue="gear")
    r: bool | None = ranged("802.11r fast transition.", catalogue="gear")


class Network(Entry):
    """One network name as some nodes carry it. Two entries may carry the same name with other settings."""

    name: str | None = needed("The name (SSID) as text, at most 32 bytes in UTF-8.")
    name_hex: Annotated[str, StringConstraints(pattern=r"^([0-9a-fA-F]{2}){1,32}$")] | None = default(
        None, "The name as hexadecimal octets, where it is not text."
    )
    bands: tuple[Band, ...] = default((), "Bands it is on; empty: every band of its nodes.", unit="GHz")
    nodes: tuple[Id, ...] = default((), "Nodes that carry it; empty: all.")
    security: Security | None = needed("Security.")
    generation: int = default(
        1, "Generation of its credential: raise it when the password changes; never the password.", ge=0
    )
    aids: RoamingAids = default(RoamingAids(), "Roaming aids.")
    band_choice: Literal["client", "node"] | None = ranged("Who picks the band under one name.", catalogue="gear")
    hidden: bool = default(False, "True when beacons leave the name out.")
    purpose: Literal["clients", "guests", "things", "backhaul"] = default("clients", "Whom it serves.")

    @model_validator(mode="after")
    def _name_fits(self) -> Network:
        if self.name is None and self.name_hex is None:
            raise ValueError("give `name` (text) or `name_hex` (octets)")
        if self.name is not None and self.name_hex is not None:
            raise ValueError("give either `name` or `name_hex`, not both")
        if not 1 <= len(self.octets) <= 32:
            raise ValueError(f"a network name has 1 to 32 octets (IEEE 802.11), this one has {len(self.octets)}")
        return self

    @property
    def octets(self) -> bytes:
        """The name as it goes over the air."""
        return bytes.fromhex(self.name_hex) if self.name_hex else (self.name or "").encode()
