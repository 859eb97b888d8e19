"""Which radios a client can join at all, and why not the others."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.network.inventory import ClientUnit, RadioUnit
from advisor.site.networks import Network
from advisor.site.schema import Site

AGE = ("b", "g", "a", "n", "ac", "ax", "be")
"""802.11 amendments from old to new."""


NOT_CARRIED = "the radio carries no network this place uses"


@dataclass(frozen=True, slots=True)
class Joining:
    """The networks over which a client can join a radio; empty with the reasons where it cannot."""

    networks: tuple[str, ...]
    reasons: tuple[str, ...]


def networks_on(site: Site, radio: RadioUnit) -> list[tuple[str, Network]]:
    """The network entries a radio carries, by id."""
    return [
        (key, network)
        for key, network in sorted(site.networks.items())
        if (not network.nodes or radio.node in network.nodes) and (not network.bands or radio.band in network.bands)
    ]


def joining(site: Site, client: ClientUnit, radio: RadioUnit, only: str | None = None) -> Joining:
    """Over which networks this client kind can join this radio; `only` names the one the place uses."""
    refused: list[str] = []
    if not radio.serves_clients:
        return Joining((), ("the radio carries only the traffic between nodes",))
    if radio.band not in client.bands:
        return Joining((), (f"{client.id} has no {radio.band} GHz",))
    if radio.band == "6" and AGE.index(client.standard) < AGE.index("ax"):
        return Joining((), (f"6 GHz needs 802.11ax, {client.id} has 802.11{client.standard}",))
    known = client.channels.get(radio.band, ())
    if known and radio.channel is not None and radio.channel not in known:
        return Joining((), (f"{client.id} does not know channel {radio.channel}",))
    carried = [(key, network) for key, network in networks_on(site, radio) if only in (None, key)]
    if not carried:
        return Joining((), (NOT_CARRIED,))
    open_to: list[str] = []
    for key, network in carried:
        if network.purpose == "backhaul":
            refused.append(f"network {key} is for the traffic between nodes")
        elif network.security is not None and network.security not in client.security:
            refused.append(f"{client.id} cannot do {network.security}, which network {key} asks for")
        else:
            open_to.append(key)
    return Joining(tuple(open_to), tuple(refused))


def common_standard(first: str, second: str, band: str) -> str:
    """The newest amendment both ends know and the band allows (802.11ac is for 5 GHz only)."""
    standard = min(first, second, key=AGE.index)
    if band == "2.4" and standard == "ac":
        return "n"
    return standard
