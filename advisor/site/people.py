"""Who uses the network: client kinds, places, walks, and what the site must deliver."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from advisor.site.building import Located
from advisor.site.equipment import Band, Standard, Width
from advisor.site.fields import Entry, Id, Point, Text, default, needed, ranged, required
from advisor.site.networks import Security


class Behaviour(Entry):
    """When a client looks for another radio and how it decides."""

    look_below_dbm: float | None = ranged("Level under which it looks around.", catalogue="client-kinds", unit="dBm")
    margin_db: float | None = ranged("How much better the other must be.", catalogue="client-kinds", unit="dB")
    band_preference: Literal["none", "5-up", "2.4"] | None = ranged("Preferred band.", catalogue="client-kinds")
    stickiness: Literal["eager", "typical", "sticky"] | None = ranged("How long it holds on.", catalogue="client-kinds")


class ClientKind(Entry):
    """A kind of client. What is left out comes from the catalogue kind named in `like`."""

    like: Id | None = default(None, "Catalogue kind it resembles (advisor's data/client-kinds.yaml). Default: laptop.")
    bands: tuple[Band, ...] | None = ranged("Bands it has.", catalogue="client-kinds", unit="GHz")
    standard: Standard | None = ranged("Best 802.11 amendment it knows.", catalogue="client-kinds")
    streams: int | None = ranged("Spatial streams.", catalogue="client-kinds", ge=1, le=8)
    width_mhz: Width | None = ranged("Widest channel it uses.", catalogue="client-kinds", unit="MHz")
    channels: dict[Band, tuple[int, ...]] = default({}, "Channels it knows, per band; empty: all.")
    security: tuple[Security, ...] | None = ranged("Security it can do.", catalogue="client-kinds")
    k: bool | None = ranged("802.11k.", catalogue="client-kinds")
    v: bool | None = ranged("802.11v.", catalogue="client-kinds")
    r: bool | None = ranged("802.11r.", catalogue="client-kinds")
    conducted_dbm: float | None = ranged("Its transmit power.", catalogue="client-kinds", unit="dBm", ge=-20, le=30)
    antenna_dbi: float | None = ranged("Its antenna gain.", catalogue="client-kinds", unit="dBi", ge=-15, le=15)
    body_loss_db: float | None = ranged(
        "Loss by hand, head and body in use.", catalogue="client-kinds", unit="dB", ge=0
    )
    behaviour: Behaviour = default(Behaviour(), "How it moves between radios.")


class Place(Located):
    """Where clients are used."""

    client: Id = required("Client kind: one of `clients`, or a catalogue kind (laptop, phone, …).")
    count: int = default(1, "How many such clients are here.", ge=1, le=10000)
    active: int | None = default(None, "How many of them use the network at the same time. Default: all.", ge=0)
    down_mbps: float | None = needed("What each active client must get, towards it.", unit="Mb/s", gt=0)
    up_mbps: float | None = needed("What each active client must get, from it.", unit="Mb/s", gt=0)
    to: Id = default("internet", "Where the traffic goes: internet, or a node (a server beside it).")
    transport: Literal["tcp", "udp"] = default(
        "tcp", "What its traffic runs over: tcp for nearly everything, udp for cameras and the like."
    )
    calls: int = default(0, "Voice calls here at the same time.", ge=0)
    traffic_class: Literal["best-effort", "voice"] | None = ranged(
        "Access class the packets of its calls ride in.", catalogue="client-kinds"
    )
    network: Id | None = default(None, "The network they use. Default: any they can join.")
    emergency_calls: bool = default(
        False, "True when calls to emergency services are made from here over this network."
    )


class Walk(Entry):
    """A way people take while using the network."""

    points: tuple[Id | tuple[float, float, Id], ...] = required("Places, or [x, y, floor], in order.", min_length=2)
    speed_m_s: float = default(1.2, "Walking speed.", unit="m/s", gt=0, le=5, source="common practice, no source")
    pauses_s: dict[Id, Annotated[float, Field(ge=0, le=86_400)]] = default({}, "Pauses at places.", unit="s")
    client: Id = default("phone", "Client kind.")
    traffic: Literal["voice", "video-call", "stream", "file"] = default("voice", "What runs meanwhile.")
    traffic_class: Literal["best-effort", "voice"] | None = ranged(
        "Access class its packets ride in.", catalogue="client-kinds"
    )


Codec = Literal["G.711", "G.711+PLC", "G.729A+VAD", "G.723.1-6.3+VAD", "GSM-EFR", "AMR-12.2"]
"""Codecs whose robustness against loss is published."""


class CallLimits(Entry):
    """From when on a call counts as disturbed, where it is not the usual."""

    audible_ms: float | None = ranged("A gap from this length on is heard.", catalogue="walking", unit="ms", gt=0)
    long_ms: float | None = ranged(
        "A gap from this length on makes a call suffer.", catalogue="walking", unit="ms", gt=0
    )
    dropped_s: float | None = ranged("A gap from this length on ends the call.", catalogue="walking", unit="s", gt=0)
    mos: float | None = ranged("Call quality below which it suffers.", catalogue="walking", ge=1, le=4.5)
    codec: Codec | None = ranged("Speech codec (ITU-T G.113 Appendix I).", catalogue="walking")


class Need(Entry):
    """Something the site must deliver, beyond what the places already ask for."""

    place: Id | None = needed("The place it is about.")
    walk: Id | None = needed("The walk it is about.")
    when: Literal["everyone", "alone"] = default("everyone", "With everyone active, or alone.")
    down_mbps: float | None = needed("Speed towards the client.", unit="Mb/s", gt=0)
    up_mbps: float | None = needed("Speed from the client.", unit="Mb/s", gt=0)
    calls: bool = default(False, "True when calls must hold there.")
    interruption_ms: float | None = needed("Longest interruption of a call on the walk.", unit="ms", gt=0)
    mos: float | None = needed("Call quality (MOS) to hold.", ge=1, le=4.5)
    note: Text = default("", "In the user's words.")

    @model_validator(mode="after")
    def _about_one_thing(self) -> Need:
        if (self.place is None) == (self.walk is None):
            raise ValueError("give `place` or `walk`, one of the two")
        if not (self.down_mbps or self.up_mbps or self.calls or self.interruption_ms or self.mos):
            raise ValueError("say what must be delivered: down_mbps, up_mbps, calls, interruption_ms or mos")
        return self


__all__ = ["Behaviour", "CallLimits", "ClientKind", "Need", "Place", "Point", "Walk"]
