"""The two ends of a link, what the file says of the way between them, and the frequency they meet on.

A link has an upper end (the serving radio) and a lower end (a client at a place, or the uplink radio of a node).
"""

from __future__ import annotations

from typing import NamedTuple

from advisor.facts.book import Book
from advisor.network.contention import occupied_mhz, side
from advisor.network.geometry import Between
from advisor.network.inventory import RadioUnit
from advisor.physics.bands import TYPICAL_FREQUENCY_MHZ
from advisor.trace import Assumed, Fact, given
from advisor.values import constant


class Link(NamedTuple):
    """Two ends that may talk: a serving radio, and a place's client (`place`) or a node's radio (`radio`)."""

    upper: str
    lower_kind: str
    lower: str

    @property
    def key(self) -> str:
        return f"{self.lower_kind}={self.lower},radio={self.upper}"


def to_place(place: str, radio: str) -> Link:
    return Link(radio, "place", place)


def to_radio(lower: str, upper: str) -> Link:
    return Link(upper, "radio", lower)


def upper_of(book: Book, link: Link) -> RadioUnit:
    return book.inventory.radios[link.upper]


def lower_end(book: Book, link: Link) -> tuple[str, str]:
    """Section and id of the lower end in the site file."""
    if link.lower_kind == "place":
        return "places", link.lower
    return "nodes", book.inventory.radios[link.lower].node


def between(book: Book, link: Link) -> Between | None:
    """What lies between the two ends, or None where the file does not say."""
    kind, name = lower_end(book, link)
    radio = upper_of(book, link)
    ends = (kind, name, "nodes", radio.node)
    way = book.lasting(("between", kind, name, radio.node), lambda: book.building.between_ends(*ends))
    if way is None or way.rooms is None:
        return way
    return book.lasting(("between", *ends, radio.band), lambda: book.building.between_ends(*ends, radio.band))


def frequency_mhz(radio: RadioUnit) -> float:
    """Centre of the channel, or of the band while the channel is not known."""
    if radio.channel is None:
        return TYPICAL_FREQUENCY_MHZ[radio.band]
    low, high = occupied_mhz(radio.band, radio.channel, radio.width_mhz, side(radio.secondary, radio.channel))
    return (low + high) / 2.0


def ends_of(book: Book, link: Link) -> tuple[str, str]:
    kind, name = lower_end(book, link)
    return f"{kind}.{name}", f"nodes.{upper_of(book, link).node}"


def frequency_fact(book: Book, radio: RadioUnit) -> Fact:
    key = f"frequency_mhz[radio={radio.name}]"
    if radio.channel is None:
        return Fact(
            key, "MHz", constant(frequency_mhz(radio)), Assumed("middle of the band", "IEEE 802.11 channel plan")
        )
    return given(key, "MHz", frequency_mhz(radio), book.source.where(f"{radio.path}.channel"))
