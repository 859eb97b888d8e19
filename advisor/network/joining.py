"""Which radios a client can join at all, and why not the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from advisor.network.inventory import ClientUnit, RadioUnit
from advisor.site.networks import Network
from advisor.site.schema import Site

AGE = ("b", "g", "a", "n", "ac", "ax", "be")
"""802.11 amendments from old to new."""

BANDS_OF_STANDARD = {"b": ("2.4",), "g": ("2.4",), "a": ("5",)}
"""Bands of the amendments that know one band only (IEEE 802.11-2020 clauses 16 to 18, numbers from memory). 802.11n and
newer run in 2.4 and 5 GHz (an 802.11ac device falls back to 802.11n in 2.4 GHz); 6 GHz begins with 802.11ax."""

RATES_OF_B_MBPS = (1.0, 2.0, 5.5, 11.0)
"""All rates an 802.11b device knows (IEEE 802.11-2020 clause 16, number from memory)."""

ALLOWED_IN_6_GHZ = ("enhanced-open", "wpa2-wpa3-personal", "wpa3-personal", "wpa3-enterprise")
"""Securities a network may be given that 6 GHz can run: there a mixed one runs as WPA3 alone. IEEE 802.11ax-2021 asks
for protected management frames and leaves open and WPA2 networks out, but for enhanced open (clause from memory)."""

NOT_CARRIED = "the radio carries no network this place uses"

Cause = Literal["no clients", "band", "standard", "channel", "rates", "name", "backhaul", "security", "6 GHz"]


@dataclass(frozen=True, slots=True)
class Joining:
    """The networks over which a client can join a radio; empty with the reasons where it cannot."""

    networks: tuple[str, ...]
    reasons: tuple[str, ...]
    causes: tuple[Cause, ...] = ()
    """What each reason is about, in the same order."""


def networks_on(site: Site, radio: RadioUnit) -> list[tuple[str, Network]]:
    """The network entries a radio carries, by id."""
    return [
        (key, network)
        for key, network in sorted(site.networks.items())
        if (not network.nodes or radio.node in network.nodes) and (not network.bands or radio.band in network.bands)
    ]


def joining(site: Site, client: ClientUnit, radio: RadioUnit, only: str | None = None) -> Joining:
    """Over which networks this client kind can join this radio; `only` names the one the place uses.

    A channel wider than the client's widest, more streams or a newer standard at the radio refuse nobody: the two then
    talk with what both know.
    """
    refusal = _refused_by_radio(site, client, radio)
    if refusal is not None:
        return Joining((), (refusal[1],), (refusal[0],))
    carried = [(key, network) for key, network in networks_on(site, radio) if only in (None, key)]
    if not carried:
        return Joining((), (NOT_CARRIED,), ("name",))
    refused: list[tuple[Cause, str]] = []
    open_to: list[str] = []
    for key, network in carried:
        reason = _refused_by_network(client, radio, key, network)
        if reason is None:
            open_to.append(key)
        else:
            refused.append(reason)
    return Joining(tuple(open_to), tuple(text for _, text in refused), tuple(cause for cause, _ in refused))


def _refused_by_radio(site: Site, client: ClientUnit, radio: RadioUnit) -> tuple[Cause, str] | None:
    """Why the client can join this radio under no name at all, or None."""
    if not radio.serves_clients:
        return "no clients", "the radio carries only the traffic between nodes"
    if radio.band not in client.bands:
        return "band", f"{client.id} has no {radio.band} GHz"
    if radio.band == "6" and AGE.index(client.standard) < AGE.index("ax"):
        return "standard", f"6 GHz needs 802.11ax, {client.id} has 802.11{client.standard}"
    if radio.band not in BANDS_OF_STANDARD.get(client.standard, (radio.band,)):
        return "standard", f"{client.id} has 802.11{client.standard}, which does not exist in {radio.band} GHz"
    known = client.channels.get(radio.band, ())
    if known and radio.channel is not None and radio.channel not in known:
        return "channel", f"{client.id} does not know channel {radio.channel}"
    declared = site.nodes[radio.node].radios.get(radio.id)
    asked = declared.basic_rates_mbps if declared else ()
    beyond = sorted(set(asked) - set(RATES_OF_B_MBPS)) if client.standard == "b" else []
    if beyond:
        return "rates", f"{client.id} has 802.11b and does not know {beyond[0]:g} Mb/s, a basic rate of the radio"
    return None


def _refused_by_network(client: ClientUnit, radio: RadioUnit, key: str, network: Network) -> tuple[Cause, str] | None:
    """Why the client cannot join this network on this radio, or None."""
    if network.purpose == "backhaul":
        return "backhaul", f"network {key} is for the traffic between nodes"
    if network.security is None:
        return None
    if radio.band == "6" and network.security not in ALLOWED_IN_6_GHZ:
        return "6 GHz", f"6 GHz needs WPA3 or enhanced open, network {key} has {network.security}"
    if radio.band == "6" and network.security == "wpa2-wpa3-personal" and "wpa3-personal" not in client.security:
        return "6 GHz", f"{client.id} cannot do wpa3-personal, which network {key} asks for in 6 GHz"
    if not can_do(client, network.security):
        return "security", f"{client.id} cannot do {network.security}, which network {key} asks for"
    return None


def can_do(client: ClientUnit, security: str) -> bool:
    """Whether the client can do a network's security; a mixed network takes whoever can do either half."""
    if security == "wpa2-wpa3-personal" and {"wpa2-personal", "wpa3-personal"} & set(client.security):
        return True
    return security in client.security


def common_standard(first: str, second: str, band: str) -> str:
    """The newest amendment both ends know and the band allows (802.11ac is for 5 GHz only)."""
    standard = min(first, second, key=AGE.index)
    if band == "2.4" and standard == "ac":
        return "n"
    return standard
