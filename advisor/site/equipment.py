"""Nodes, their radios, ports and uplinks, and what the equipment lets a person set."""

from __future__ import annotations

from typing import Literal

from advisor.site.building import Located
from advisor.site.fields import Entry, Id, Text, default, needed, ranged, required

Band = Literal["2.4", "5", "6"]
Standard = Literal["b", "g", "a", "n", "ac", "ax", "be"]
Width = Literal[20, 40, 80, 160, 320]


class Radio(Entry):
    """One radio of a node. What is left out comes from the gear class and is listed as an assumption."""

    band: Band = required("Band in GHz: 2.4, 5 or 6.", unit="GHz")
    standard: Standard | None = ranged("802.11 amendment: n, ac, ax, be.", catalogue="gear")
    streams: int | None = ranged("Spatial streams.", catalogue="gear", ge=1, le=16)
    channel: int | Literal["auto"] | None = needed("Primary channel number, or auto.")
    width_mhz: Width | None = ranged("Channel width.", catalogue="gear", unit="MHz")
    secondary: Literal["above", "below"] | None = default(
        None, "Side of the second half of a 40 MHz channel in 2.4 GHz. Default: above for channels 1 to 7, else below."
    )
    eirp_dbm: float | None = ranged("Radiated power with antenna gain.", catalogue="power", unit="dBm", ge=-20, le=53)
    conducted_dbm: float | None = needed("Power into the antenna, per radio.", unit="dBm", ge=-20, le=40)
    antenna_dbi: float | None = default(None, "Antenna gain. Default: from the gear class.", unit="dBi", ge=-10, le=30)
    power_drop_db: dict[int, float] = default({}, "Power taken back at high MCS: {9: 2, 11: 4}.", unit="dB")
    guard_ns: Literal[400, 800, 1600, 3200] | None = default(
        None, "Guard interval. Default: the standard's usual one.", unit="ns"
    )
    highest_mcs: int | None = default(
        None, "The fastest modulation it can use, e.g. 7 or 9. Default: the standard's highest.", ge=0, le=13
    )
    aggregation: Literal["small", "usual", "large"] | None = ranged(
        "How much it packs into one transmission: small (older or simple gear), usual, large (recent and fast gear). "
        "Left out, all three count.",
        catalogue="gear",
    )
    serves_clients: bool = default(True, "False when this radio only carries the traffic between nodes.")
    scheduling: Literal["per-packet", "airtime-fair"] | None = ranged(
        "How the node shares air among its clients.", catalogue="gear"
    )
    air_queue: Literal["fair-short", "fair-deep", "plain"] | None = ranged(
        "How packets wait in front of the air while somebody loads much: fair-short, every flow in its turn and few "
        "packets in the radio; fair-deep, hundreds of packets in the radio; plain, one long queue for all.",
        catalogue="gear",
    )
    drops_below_dbm: float | None = default(
        None, "The node throws a client off whose level at the node falls below this. Default: never.", unit="dBm"
    )
    basic_rates_mbps: tuple[float, ...] = default((), "Mandatory rates; empty: the standard's lowest.", unit="Mb/s")


class Port(Entry):
    """A wired port."""

    speed_mbps: Literal[10, 100, 1000, 2500, 5000, 10000] = required("Link speed.", unit="Mb/s")


class Uplink(Entry):
    """How a node gets its traffic to the rest of the site. The hop has no id of its own: it is the node's uplink."""

    to: Id | None = needed("The node at the other end. Left out with choice: node, the equipment picks it.")
    over: Literal["radio", "ethernet", "powerline", "coax"] = default("radio", "What carries it.")
    band: Band | None = needed("Band of an air uplink. Left out with choice: node, the equipment picks it.", unit="GHz")
    radio: Id | None = default(None, "This node's radio that makes the uplink. Default: its radio on `band`.")
    choice: Literal["fixed", "node"] = default(
        "fixed", "Who decides parent and band: fixed by a person, or left to the node."
    )
    speed_mbps: float | None = needed(
        "What a wired uplink really carries (powerline, coax; cable: its category).", unit="Mb/s", gt=0
    )
    length_m: float | None = default(None, "Cable length.", unit="m", gt=0)
    outdoor: bool = default(False, "True when the cable or the path runs outside.")


class Power(Entry):
    """Where a node gets its electricity."""

    source: Literal["mains", "poe", "ups"] = default("mains", "Socket, power over Ethernet, or battery-backed.")
    circuit: Id | None = needed("Mains circuit it hangs on.")
    poe_from: Id | None = needed("Node that feeds it over its cable.")
    ups_minutes: float | None = needed("How long the battery lasts.", unit="min", ge=0)


class Backhaul(Entry):
    """Credentials of the traffic between nodes."""

    credential: Literal["own", "client-network"] | None = ranged(
        "Its own credential, or that of a network clients use.", catalogue="gear"
    )
    network: Id | None = needed("The client network whose credential it uses.")
    generation: int = default(1, "Generation of that credential this node holds; never the password.", ge=0)


class Settable(Entry):
    """What this equipment lets a person set; what is left out comes from the gear class."""

    channel: Literal["per-node", "all", "no"] | None = ranged("Channel: per node, one for all, not.", catalogue="gear")
    width: bool | None = ranged("Channel width.", catalogue="gear")
    power: Literal["db", "steps", "no"] | None = ranged("Power: in dB, in steps, not.", catalogue="gear")
    power_steps_dbm: tuple[float, ...] = default((), "The steps, as radiated power.", unit="dBm")
    uplink_band: bool | None = ranged("Band of the uplink.", catalogue="gear")
    uplink_parent: bool | None = ranged("Parent of the uplink.", catalogue="gear")
    names_per_band: bool | None = ranged("A network name of its own per band.", catalogue="gear")
    roaming_aids: bool | None = ranged("802.11k/v/r.", catalogue="gear")
    queue: bool | None = ranged("Fair queue on the internet line.", catalogue="gear")
    bridge_mode: bool | None = ranged("Router or bridge mode.", catalogue="gear")


class Node(Located):
    """A box with radios: gateway, relay or access point."""

    role: Literal["gateway", "relay", "access-point"] = required(
        "gateway (at the internet line), relay (uplink over the air), access-point (uplink over a wire)."
    )
    mode: Literal["bridge", "router"] | None = default(
        None, "router: own addresses behind it. Default: gateway router, others bridge."
    )
    addresses: Literal["passed", "hidden"] | None = default(
        None, "hidden: it passes its clients on under its own address. Default: passed."
    )
    gear: Id | None = default(None, "Gear class: what kind of equipment it is. Default: the usual one for the role.")
    radios: dict[Id, Radio] = default({}, "Its radios. Left out: those usual for the gear class, as assumptions.")
    ports: dict[Id, Port] = default({}, "Its wired ports for the site; the one at the internet line left out.")
    uplink: Uplink | None = needed("Its uplink; not for a gateway.")
    relaying: Literal["one-radio", "two-radio"] | None = default(
        None,
        "On one band: whether uplink and clients share one radio. Default: one-radio, unless two radios of the "
        "uplink's band are declared.",
    )
    power: Power = default(Power(), "Where its electricity comes from.")
    boot_s: float | None = ranged("Seconds from power to service.", catalogue="gear", unit="s", ge=0)
    settings: Literal["pushed", "by-hand"] | None = ranged(
        "How new settings reach it: pushed when it joins, or by hand.", catalogue="gear"
    )
    backhaul: Backhaul = default(Backhaul(), "Credentials of its uplink.")
    settable: Settable = default(Settable(), "What this equipment lets a person set.")
    address_server: bool | None = ranged("True when it hands out addresses.", catalogue="gear")
    outdoor: bool = default(False, "True when it hangs outside.")
    mount_height_m: float | None = default(None, "Height of the mounting point above where one stands.", unit="m", ge=0)
    note: Text = default("", "Anything worth remembering.")
