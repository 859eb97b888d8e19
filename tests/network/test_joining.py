"""Which radios a client kind can join, and the reasons why not."""

from __future__ import annotations

import pytest

from advisor.network.inventory import Inventory
from advisor.network.joining import common_standard, joining
from advisor.site.load import load_text

SITE = """
site: {name: A}
nodes:
  box:
    role: gateway
    radios:
      r24: {band: 2.4, channel: 13, standard: n}
      r5: {band: 5, channel: 36, standard: ax}
      r6: {band: 6, channel: 5, standard: ax, width_mhz: 160}
      old24: {band: 2.4, channel: 1, standard: n, basic_rates_mbps: [6, 12]}
      back: {band: 5, channel: 100, standard: ax, serves_clients: false}
networks:
  main: {name: main, security: wpa3-personal, bands: [5, 6]}
  old: {name: old, security: wpa2-personal, bands: [2.4]}
  hidden: {name: link, security: wpa2-personal, purpose: backhaul}
  plain: {name: plain, security: wpa2-personal, bands: [6]}
  mixed: {name: mixed, security: wpa2-wpa3-personal, bands: [2.4, 6]}
  free: {name: free, security: open, bands: [6]}
clients:
  scanner: {like: till}
  handset: {like: phone, bands: [2.4, 5, 6], channels: {2.4: [1, 6, 11]}}
  ancient: {like: phone, bands: [2.4, 5, 6], standard: ac}
  narrow: {like: phone, bands: [5, 6], width_mhz: 20, streams: 1}
  wpa2-only: {like: phone, bands: [2.4, 6], security: [wpa2-personal]}
  wpa3-only: {like: phone, bands: [2.4, 6], security: [wpa3-personal]}
  b-scale: {like: sensor, bands: [2.4, 5], standard: b}
  a-camera: {like: sensor, bands: [2.4, 5], standard: a, security: [wpa3-personal]}
places:
  one: {client: scanner}
  two: {client: handset}
  three: {client: ancient}
  four: {client: narrow}
  five: {client: wpa2-only}
  six: {client: wpa3-only}
  seven: {client: b-scale}
  eight: {client: a-camera}
"""


@pytest.mark.parametrize(
    ("client", "radio", "only", "networks", "reason"),
    [
        ("scanner", "box.r24", None, ("mixed", "old"), ""),
        ("scanner", "box.r5", None, (), "scanner cannot do wpa3-personal, which network main asks for"),
        ("scanner", "box.r6", None, (), "scanner has no 6 GHz"),
        ("handset", "box.r24", None, (), "handset does not know channel 13"),
        ("handset", "box.r5", None, ("main",), ""),
        ("handset", "box.r6", None, ("main", "mixed"), ""),
        ("handset", "box.r6", "plain", (), "6 GHz needs WPA3 or enhanced open, network plain has wpa2-personal"),
        ("handset", "box.r6", "free", (), "6 GHz needs WPA3 or enhanced open, network free has open"),
        (
            "wpa2-only",
            "box.r6",
            "mixed",
            (),
            "wpa2-only cannot do wpa3-personal, which network mixed asks for in 6 GHz",
        ),
        ("wpa3-only", "box.r6", "mixed", ("mixed",), ""),
        ("wpa2-only", "box.r24", "mixed", ("mixed",), ""),
        ("wpa3-only", "box.r24", "mixed", ("mixed",), ""),
        ("wpa3-only", "box.r24", "old", (), "wpa3-only cannot do wpa2-personal, which network old asks for"),
        ("narrow", "box.r5", None, ("main",), ""),
        ("narrow", "box.r6", "main", ("main",), ""),
        ("b-scale", "box.r24", None, ("mixed", "old"), ""),
        ("b-scale", "box.old24", None, (), "b-scale has 802.11b and does not know 6 Mb/s, a basic rate of the radio"),
        ("b-scale", "box.r5", None, (), "b-scale has 802.11b, which does not exist in 5 GHz"),
        ("a-camera", "box.r24", None, (), "a-camera has 802.11a, which does not exist in 2.4 GHz"),
        ("a-camera", "box.r5", None, ("main",), ""),
        ("ancient", "box.r6", None, (), "6 GHz needs 802.11ax, ancient has 802.11ac"),
        ("handset", "box.back", None, (), "the radio carries only the traffic between nodes"),
        ("handset", "box.r5", "old", (), "the radio carries no network this place uses"),
        ("handset", "box.r5", "hidden", (), "network hidden is for the traffic between nodes"),
    ],
)
def test_joining(client: str, radio: str, only: str | None, networks: tuple[str, ...], reason: str) -> None:
    loaded = load_text(SITE, "site.yaml")
    inventory = Inventory(loaded)
    answer = joining(loaded.site, inventory.clients[client], inventory.radios[radio], only)
    assert answer.networks == networks
    assert len(answer.causes) == len(answer.reasons)
    if reason:
        assert reason in answer.reasons


@pytest.mark.parametrize(
    ("first", "second", "band", "common"),
    [
        ("ax", "n", "5", "n"),
        ("ac", "ax", "5", "ac"),
        ("ac", "ax", "2.4", "n"),
        ("be", "be", "6", "be"),
        ("b", "ax", "2.4", "b"),
    ],
)
def test_common_standard(first: str, second: str, band: str, common: str) -> None:
    assert common_standard(first, second, band) == common
    assert common_standard(second, first, band) == common
