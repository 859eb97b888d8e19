"""The site file as a whole. A Site is what the user declared, nothing else; it knows no physics."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import StringConstraints

from advisor.site.building import Floor, Room
from advisor.site.equipment import Band, Node, Width
from advisor.site.fields import Entry, Id, RadioRef, Text, default, needed, required
from advisor.site.networks import Network
from advisor.site.people import CallLimits, ClientKind, Need, Place, Walk
from advisor.site.surroundings import Interference, Internet, Measured, Neighbour


class About(Entry):
    """What the site is."""

    name: Text = required("Its name, for people.")
    country: Annotated[str, StringConstraints(pattern=r"^[A-Z]{2}$")] | None = needed(
        "Country, ISO 3166-1 alpha-2, in capitals: rules on channels and power depend on it."
    )
    environment: Literal["house", "apartment", "office", "commercial"] = default(
        "house", "Kind of building, for the loss of what is not drawn.", source="ITU-R P.1238 environments"
    )
    ceiling_m: float = default(3.0, "Height from floor to floor, where floors do not say.", unit="m", gt=1, le=20)
    invented: bool = default(False, "True for examples: everything in the file is made up.")
    note: Text = default("", "Anything worth remembering.")


class Prices(Entry):
    """Optional prices, in the user's own currency."""

    cable_per_m: float | None = needed("A metre of cable, laid.", ge=0)
    node: float | None = needed("A node.", ge=0)
    hour: float | None = needed("An hour of work.", ge=0)


class CableChoice(Entry):
    """A cable that could be laid."""

    node: Id = required("The node whose uplink it would carry.")
    to: Id = required("The node at the other end.")
    length_m: float | None = needed("Its length.", unit="m", gt=0)
    speed_mbps: float = default(1000.0, "What it would carry.", unit="Mb/s", gt=0)


class Choices(Entry):
    """What may vary when layouts are compared; what is left out may vary within what the gear lets a person set."""

    parents: dict[Id, tuple[Id, ...]] = default({}, "Possible parents per node.")
    bands: dict[Id, tuple[Band, ...]] = default({}, "Possible uplink bands per node.")
    channels: dict[Band, tuple[int, ...]] = default({}, "Channels that may be used, per band.")
    widths_mhz: dict[Band, tuple[Width, ...]] = default({}, "Widths that may be used, per band.", unit="MHz")
    cables: dict[Id, CableChoice] = default({}, "Cables that could be laid.")
    positions: dict[Id, dict[Id, tuple[float, float, Id]]] = default(
        {}, "Other positions a node could have, each with an id: {stair: {landing: [4, 6, upper]}}.", unit="m"
    )
    anywhere: tuple[Id, ...] = default(
        (), "Nodes that may stand in any room, or with a drawn plan on either side of any door."
    )
    names: tuple[Literal["one", "per-band"], ...] = default((), "Name schemes to compare.")
    powers_dbm: dict[RadioRef, tuple[float, ...]] = default({}, "Powers to compare.", unit="dBm")
    prices: Prices = default(Prices(), "Prices.")


class OutageScenario(Entry):
    """An outage to look at, beside the usual ones."""

    off: tuple[Id, ...] = default((), "Nodes or circuits without power.")
    changed: dict[Id, int] = default({}, "Networks whose credential changes meanwhile, with the new generation.")
    bands: tuple[Band, ...] = default((), "Bands on which they change; empty: all they are on.", unit="GHz")
    gone: tuple[Id, ...] = default((), "Nodes that never come back: stolen, or dead.")
    replaced: tuple[Id, ...] = default((), "Nodes a new box stands for, given the same names and passwords.")
    radar_on: tuple[RadioRef, ...] = default((), "Radios that meet radar.")
    minutes: float = default(10.0, "How long.", unit="min", gt=0)


class Ignored(Entry):
    """A finding the user has decided to live with."""

    rule: Id = required("Rule id.")
    subject: Text = default("", "Subject as the report names it; empty: all.")
    reason: Text = required("Why.", min_length=3)
    until: Annotated[str, StringConstraints(pattern=r"^\d{4}-\d{2}-\d{2}$")] | None = default(
        None, "Last day, YYYY-MM-DD."
    )


class Site(Entry):
    """One written description of a site."""

    site: About = required("What the site is.")
    internet: Internet = default(Internet(), "The internet line.")
    nodes: dict[Id, Node] = required("The nodes, by id.", min_length=1)
    networks: dict[Id, Network] = default({}, "Network names, by id.")
    clients: dict[Id, ClientKind] = default({}, "Client kinds, by id; usual ones are in the catalogue.")
    places: dict[Id, Place] = default({}, "Places where clients are used, by id.")
    walks: dict[Id, Walk] = default({}, "Walks, by id.")
    calls: CallLimits = default(CallLimits(), "From when on a call counts as disturbed.")
    floors: dict[Id, Floor] = default({}, "Floors with their drawn walls, by id.")
    rooms: dict[Id, Room] = default({}, "Rooms and what lies between them, by id.")
    neighbours: dict[Id, Neighbour] = default({}, "Other people's networks, by id.")
    interference: dict[Id, Interference] = default({}, "Sources that are not Wi-Fi, by id.")
    needs: dict[Id, Need] = default({}, "What the site must deliver, beyond what the places ask for.")
    choices: Choices = default(Choices(), "What may vary when layouts are compared.")
    measured: dict[Id, Measured] = default({}, "Measurements, by id.")
    outages: dict[Id, OutageScenario] = default({}, "Outages to look at, by id.")
    ignored: dict[Id, Ignored] = default({}, "Findings to leave out, with a reason.")


def json_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of the site file, with descriptions and units."""
    schema = Site.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Site file"} | schema
