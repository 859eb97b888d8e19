"""Uplink and clients of a relay on one band or on two: common practice, no source, for what it brings."""

from __future__ import annotations

from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.facts.places import alone
from advisor.site.load import load_text
from advisor.subjects import place
from advisor.values import Known

RELAY = """
site: {name: Invented relay, country: GB, environment: house, invented: true}
internet: {down_mbps: 1000, up_mbps: 1000}
nodes:
  gateway:
    role: gateway
    gear: open-node
    radios:
      r24: {band: 2.4, standard: n, streams: 2, channel: 6, width_mhz: 20}
      r5: {band: 5, standard: ax, streams: 4, channel: 36, width_mhz: 80}
  relay:
    role: relay
    gear: open-node
    radios:
      r24: {band: 2.4, standard: n, streams: 2, channel: 6, width_mhz: 20}
      r5: {band: 5, standard: ac, streams: 1, channel: 149, width_mhz: 80}
    uplink: {to: gateway, band: 2.4}
    paths: {gateway: {distance_m: 8, through: [brick], complete: true}}
networks:
  slow: {name: invented-24, bands: [2.4], security: wpa2-personal}
  fast: {name: invented, bands: [5], security: wpa2-personal}
places:
  desk: {client: laptop, network: NAME, down_mbps: 10, paths: {relay: {distance_m: 4, complete: true}}}
"""


def desk_mbps(network: str) -> float:
    book = open_book(load_text(RELAY.replace("NAME", network), "relay.yaml"), Draws(1, 0))
    value = alone(book, place("desk"), "down", "tcp").value
    assert isinstance(value, Known)
    return float(value.centre)


def test_clients_on_the_other_band_about_double_what_one_band_gives() -> None:
    """A relay with a two-stream 2.4 GHz and a single-stream 5 GHz radio behind a better gateway: uplink on 2.4 GHz and
    clients on 5 GHz about double what both on 2.4 GHz give (common practice, no source)."""
    assert 1.7 <= desk_mbps("fast") / desk_mbps("slow") <= 2.3
