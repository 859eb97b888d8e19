"""A corridor with a node at either end, for walks: invented, every figure given."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.facts.book import Book
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.site.load import LoadedSite, load_text


def corridor(
    apart_m: float = 40,
    *,
    west_dbm: float = 14,
    east_dbm: float = 14,
    one_name: bool = False,
    client: str = "laptop",
    walls: Sequence[str] = ("brick",),
    east: str = "role: access-point, uplink: {to: west, over: ethernet}",
    networks: str = "",
    more: str = "",
) -> LoadedSite:
    """Two nodes of 5 and 2.4 GHz, a walk from one to the other, walls evenly between."""
    drawn = []
    for number, of in enumerate(walls, 1):
        x_m = apart_m * number / (len(walls) + 1)
        drawn.append(f"w{number}: {{line: [[{x_m}, -9], [{x_m}, 9]], of: {of}}}")
    per_band = (
        "slow: {name: kite-24, bands: [2.4], security: wpa2-personal}\n"
        "  fast: {name: kite, bands: [5], security: wpa2-personal}"
    )
    names = networks or ("all: {name: kite, security: wpa2-personal}" if one_name else per_band)
    text = f"""
site: {{name: Corridor, country: GB, environment: office, invented: true}}
internet: {{down_mbps: 200, up_mbps: 50, queue: fair}}
floors: {{ground: {{level: 0, plan: complete, walls: {{{", ".join(drawn)}}}}}}}
nodes:
  west:
    role: gateway
    gear: open-node
    at: [0, 0]
    floor: ground
    radios:
      r24: {{band: 2.4, channel: 1, eirp_dbm: {west_dbm - 3}}}
      r5: {{band: 5, channel: 36, eirp_dbm: {west_dbm}}}
  east:
    {east.replace(", ", chr(10) + "    ", 1)}
    gear: open-node
    at: [{apart_m}, 0]
    floor: ground
    radios:
      r24: {{band: 2.4, channel: 6, eirp_dbm: {east_dbm - 3}}}
      r5: {{band: 5, channel: 44, eirp_dbm: {east_dbm}}}
networks:
  {names}
places:
  a: {{client: {client}, at: [2, 1], floor: ground}}
  b: {{client: {client}, at: [{apart_m - 2}, 1], floor: ground}}
walks:
  along: {{points: [a, b], client: {client}, traffic: voice}}
{more}
"""
    return load_text(text, "corridor.yaml")


def book_of(loaded: LoadedSite) -> Book:
    return open_book(loaded, Draws(1, 0))
