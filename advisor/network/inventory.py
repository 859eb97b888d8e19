"""What is installed: the declared nodes, radios and client kinds, filled up from gear classes and catalogue kinds.

The site file stays as the user wrote it; here every setting gets a value and remembers whether it was given or
assumed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal, Protocol, TypeAlias

from advisor.data import catalogue
from advisor.site.equipment import Node, Radio
from advisor.site.people import ClientKind
from advisor.site.schema import Site
from advisor.trace import Assumed, Given, Provenance


class Source(Protocol):
    """A loaded site: what was declared and where it stands in the file."""

    @property
    def site(self) -> Site: ...
    def where(self, path: str) -> str: ...


@dataclass(frozen=True, slots=True)
class Altered:
    """A site with something else in it than its file says; what stands in the file is still found there."""

    site: Site
    base: Source

    def where(self, path: str) -> str:
        return self.base.where(path)


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting with its origin; None where nobody knows."""

    value: Any
    by: Provenance


@dataclass(frozen=True, slots=True)
class RadioUnit:
    """One installed radio; `settings` remembers where each value comes from."""

    name: str
    """`node.radio`"""
    node: str
    id: str
    path: str
    """Path of its declaration in the site file."""
    band: str
    serves_clients: bool
    standard: str
    streams: int
    width_mhz: int
    channel: int | None
    """None while it is automatic or not given."""
    secondary: Secondary | None
    guard_ns: int | None
    antenna_dbi: float
    eirp_dbm: float | None
    conducted_dbm: float | None
    power_drop_db: tuple[tuple[int, float], ...]
    highest_mcs: int | None
    """The fastest modulation it can use; None where the standard's limit counts."""
    mac: str | None
    """The set of MAC settings it runs with; None where its aggregation is not known."""
    settings: Mapping[str, Setting] = field(repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class ClientUnit:
    """One client kind with every capability filled in; `settings` remembers where each value comes from."""

    id: str
    bands: tuple[str, ...]
    standard: str
    streams: int
    width_mhz: int
    channels: Mapping[str, tuple[int, ...]]
    security: tuple[str, ...]
    conducted_dbm: float
    antenna_dbi: float
    settings: Mapping[str, Setting] = field(repr=False, compare=False)


Secondary: TypeAlias = Literal["above", "below"]
RADIO_FIELDS = ("standard", "streams", "width_mhz")
CLIENT_FIELDS = (
    "bands",
    "standard",
    "streams",
    "width_mhz",
    "security",
    "conducted_dbm",
    "antenna_dbi",
    "body_loss_db",
    "k",
    "v",
    "r",
)
AGGREGATION = {"small": "small-aggregates", "usual": "usual-gear", "large": "large-aggregates"}
"""Set of MAC settings by the aggregation a radio declares."""
BEHAVIOUR_FIELDS = ("look_below_dbm", "margin_db", "band_preference", "stickiness")


class Inventory:
    """Everything installed at a site."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.site = source.site

    def tuned(self, tunings: Mapping[str, tuple[int | None, int, Secondary | None]]) -> Inventory:
        """The same equipment with some radios on another channel, width and side; where the settings come from stays
        as it is."""
        found = Inventory(self.source)
        radios = dict(self.radios)
        for name, (channel, width_mhz, secondary) in tunings.items():
            unit = radios[name]
            values = {"channel": channel, "width_mhz": width_mhz, "secondary": secondary}
            settings = {key: Setting(value, unit.settings[key].by) for key, value in values.items()}
            radios[name] = replace(
                unit, channel=channel, width_mhz=width_mhz, secondary=secondary, settings={**unit.settings, **settings}
            )
        found.__dict__["radios"] = radios
        found.__dict__["clients"] = self.clients
        return found

    def gear_id(self, node_id: str) -> str:
        node = self.site.nodes[node_id]
        return node.gear or str(catalogue("gear")["usual"][node.role])

    def gear(self, node_id: str) -> dict[str, Any]:
        """The catalogue entry of the node's gear class (the usual one for its role where none is given)."""
        entry: dict[str, Any] = catalogue("gear")["gear"][self.gear_id(node_id)]
        return entry

    def gear_setting(self, node_id: str, declared: Any, path: str, entry: str) -> Setting:
        """The declared value, else the gear class's."""
        if declared is not None:
            return Setting(declared, Given(self.source.where(path)))
        value: Any = self.gear(node_id)
        for part in entry.split("."):
            value = value.get(part) if isinstance(value, dict) else None
        told = f"{node_id} is usual gear of class {self.gear_id(node_id)}: {entry} {value}"
        return Setting(value, Assumed(told, catalogue("gear")["source"]))

    @cached_property
    def radios(self) -> dict[str, RadioUnit]:
        """All radios by full name, in the order of node and radio ids."""
        units: dict[str, RadioUnit] = {}
        for node_id, node in sorted(self.site.nodes.items()):
            declared = node.radios or {
                key: Radio(band=entry["band"]) for key, entry in sorted(self.gear(node_id)["radios"].items())
            }
            for radio_id, radio in sorted(declared.items()):
                units[f"{node_id}.{radio_id}"] = self._radio(node_id, node, radio_id, radio)
        return units

    def _radio(self, node_id: str, node: Node, radio_id: str, radio: Radio) -> RadioUnit:
        path = f"nodes.{node_id}.radios.{radio_id}"
        usual = self._usual_radio(node_id, radio.band)
        settings = {}
        for name in RADIO_FIELDS:
            declared = getattr(radio, name)
            if declared is not None:
                settings[name] = Setting(declared, Given(self.source.where(f"{path}.{name}")))
            else:
                words = f"{radio.band} GHz, {_in_words(name, usual[name])}"
                entry = f"{node_id} is usual gear of class {self.gear_id(node_id)}: {words}"
                settings[name] = Setting(usual[name], Assumed(entry, catalogue("gear")["source"]))
        channel = radio.channel if isinstance(radio.channel, int) else None
        settings["channel"] = Setting(channel, Given(self.source.where(f"{path}.channel")))
        settings["secondary"] = Setting(radio.secondary, Given(self.source.where(f"{path}.secondary")))
        settings["guard_ns"] = Setting(radio.guard_ns, Given(self.source.where(f"{path}.guard_ns")))
        if radio.antenna_dbi is not None:
            settings["antenna_dbi"] = Setting(radio.antenna_dbi, Given(self.source.where(f"{path}.antenna_dbi")))
        else:
            gain = self.gear(node_id)["antenna_dbi"][radio.band]
            entry = f"{node_id} is usual gear of class {self.gear_id(node_id)}: {radio.band} GHz antenna {gain} dBi"
            settings["antenna_dbi"] = Setting(float(gain), Assumed(entry, catalogue("gear")["source"]))
        settings["eirp_dbm"] = Setting(radio.eirp_dbm, Given(self.source.where(f"{path}.eirp_dbm")))
        settings["conducted_dbm"] = Setting(radio.conducted_dbm, Given(self.source.where(f"{path}.conducted_dbm")))
        settings["highest_mcs"] = Setting(radio.highest_mcs, Given(self.source.where(f"{path}.highest_mcs")))
        declared_mac = None if radio.aggregation is None else AGGREGATION[radio.aggregation]
        settings["mac"] = self.gear_setting(node_id, declared_mac, f"{path}.aggregation", "mac")
        return RadioUnit(
            name=f"{node_id}.{radio_id}",
            node=node_id,
            id=radio_id,
            path=path,
            band=radio.band,
            serves_clients=radio.serves_clients,
            power_drop_db=tuple(sorted(radio.power_drop_db.items())),
            settings=settings,
            **{name: entry.value for name, entry in settings.items()},
        )

    def _usual_radio(self, node_id: str, band: str) -> dict[str, Any]:
        """The gear class's radio on this band; where it has none, that of a plain node."""
        for entry in self.gear(node_id)["radios"].values():
            if entry["band"] == band:
                return dict(entry)
        return {"standard": "n" if band == "2.4" else "ax", "streams": 2, "width_mhz": 20 if band == "2.4" else 80}

    def radios_of(self, node_id: str, band: str | None = None) -> list[RadioUnit]:
        return [unit for unit in self.radios.values() if unit.node == node_id and band in (None, unit.band)]

    @cached_property
    def clients(self) -> dict[str, ClientUnit]:
        """Every client kind a place or walk names."""
        wanted = {place.client for place in self.site.places.values()}
        wanted |= {walk.client for walk in self.site.walks.values()}
        return {kind: self._client(kind) for kind in sorted(wanted)}

    def _client(self, kind: str) -> ClientUnit:
        declared = self.site.clients.get(kind, ClientKind())
        kinds = catalogue("client-kinds")["kinds"]
        like = declared.like or (kind if kind in kinds else "laptop")
        usual, source = kinds[like], catalogue("client-kinds")["source"]
        settings: dict[str, Setting] = {}
        fields = [(name, getattr(declared, name), f"clients.{kind}.{name}") for name in CLIENT_FIELDS]
        fields += [
            (name, getattr(declared.behaviour, name), f"clients.{kind}.behaviour.{name}") for name in BEHAVIOUR_FIELDS
        ]
        for name, value, path in fields:
            if value is not None:
                settings[name] = Setting(value, Given(self.source.where(path)))
            else:
                usual_value = tuple(usual[name]) if isinstance(usual[name], list) else usual[name]
                settings[name] = Setting(
                    usual_value, Assumed(f"{kind} is a usual {like}: {name} {_told(usual_value)}", source)
                )
        settings["channels"] = Setting(declared.channels, Given(self.source.where(f"clients.{kind}.channels")))
        own = {name: settings[name].value for name in ClientUnit.__dataclass_fields__ if name in settings}
        return ClientUnit(id=kind, settings=settings, **own)


def _in_words(name: str, value: Any) -> str:
    words = {"standard": f"802.11{value}", "streams": f"{value} streams", "width_mhz": f"{value} MHz wide"}
    return words[name]


def _told(value: Any) -> str:
    return ", ".join(str(item) for item in value) if isinstance(value, tuple) else str(value)
