"""Words on a sketch: what is told of a thing, in as few words as a drawing bears."""

from __future__ import annotations

from collections import Counter

from advisor.network.plan_records import Style
from advisor.site.building import Located, Path
from advisor.site.equipment import Node
from advisor.site.people import Place
from advisor.site.schema import Site
from advisor.units import inert

WIRES = {"ethernet": "network cable", "powerline": "mains wiring", "coax": "coaxial cable"}


def metres(value: float) -> str:
    """A length as told, at most to the centimetre.

    >>> metres(2.5), metres(3.0), metres(0.125)
    ('2.5', '3', '0.12')
    """
    return f"{round(value, 2) + 0.0:.10g}"


def style_of(node: Node) -> Style:
    """How the node's uplink is drawn."""
    uplink = node.uplink
    if uplink is None or uplink.choice == "node":
        return "open"
    return "air" if uplink.over == "radio" else "wire"


def carrier(node: Node) -> str:
    """What carries the node's uplink: `5 GHz`, `network cable`, or what is left open."""
    uplink = node.uplink
    if uplink is None:
        return "uplink not told"
    if uplink.over != "radio":
        words = WIRES[uplink.over]
    else:
        words = f"{uplink.band} GHz" if uplink.band else "over the air"
    if uplink.choice == "node":
        return f"{words}, left to the node" if uplink.to else "uplink left open"
    return words if uplink.to else f"{words}, other end not told"


def node_lines(node: Node) -> tuple[str, ...]:
    """What stands under a node's id: how high it hangs."""
    height = f"{metres(node.height_m)} m up" if node.height_m is not None else "height not told"
    return (height + (", outdoors" if node.outdoor else ""),)


def place_lines(place: Place) -> tuple[str, ...]:
    return (f"{place.client} × {place.count}",)


def way(node: str, path: Path) -> str:
    """`9 m to gateway through brick, floor-timber`."""
    counted = Counter(path.through)
    through = ", ".join(name + (f" × {count}" if count > 1 else "") for name, count in counted.items())
    ending = f" through {through}" if through else ", nothing between" if path.complete else ""
    return f"{metres(path.distance_m)} m to {node}{ending}"


def ways(end: Located) -> list[tuple[str, str]]:
    """Each node a way is told to, with the way in words, the nearest first."""
    return [
        (node, way(node, path)) for node, path in sorted(end.paths.items(), key=lambda it: (it[1].distance_m, it[0]))
    ]


def no_position(end: Located) -> str:
    """Why something has no place on the sketch, with what is told instead."""
    told = "; ".join(words for _, words in ways(end))
    floor = f"on floor {end.floor}, " if end.floor is not None else ""
    if told:
        return f"{floor}told by distances only: {told}"
    return f"{floor}nothing more is told of where it is" if floor else "nothing is told of where it is"


def neighbours(site: Site) -> tuple[str, ...]:
    """Other people's networks and other sources, with who hears them; nobody knows where they stand."""
    lines = [
        f"{name}: {it.band} GHz, channel {it.channel}" + _heard(sorted(it.heard_dbm), "heard at")
        for name, it in sorted(site.neighbours.items())
    ]
    lines += [
        f"{name}: not Wi-Fi, {it.band} GHz"
        + _heard(sorted(it.near), "near")
        + (f" ({short(it.note)})" if it.note else "")
        for name, it in sorted(site.interference.items())
    ]
    return tuple(lines)


def _heard(where: list[str], word: str) -> str:
    return f", {word} {some(where)}" if where else ""


MOST_NAMED = 12


def some(names: list[str], most: int = MOST_NAMED) -> str:
    """`a, b and 3 more`."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")


def short(text: str, most: int = 60) -> str:
    """A text from outside, made harmless and cut."""
    plain = inert(text.strip())
    return plain if len(plain) <= most else plain[: most - 1].rstrip() + "…"
