"""How well clients fit the radios around them, and which band they may pick."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from advisor.assess import assess
from advisor.facts.book import Book
from advisor.site.load import load_text
from advisor.subjects import Subject, place, place_radio
from advisor.values import Known, Unknown

Make = Callable[[str], Book]


def centre(book: Book, name: str, subject: Subject, **variant: str) -> Any:
    value = book.get(name, subject, **variant).value
    assert isinstance(value, Known), value
    return value.centre


def found(site: str, *rules: str) -> dict[str, str]:
    judgement = assess(load_text(site, "site.yaml"), only=rules).judgement
    return {finding.identity: finding.verdict for finding in judgement.findings}


# The stand hears `near` 20 dB better than `far` (measured), but cannot do what `near` asks for.
TWO = """
site: {name: A, country: GB}
internet: {down_mbps: 100, up_mbps: 30}
nodes:
  far: {role: gateway, radios: {r24: {band: 2.4, channel: 1, eirp_dbm: 17}, r5: {band: 5, channel: 36, eirp_dbm: 17}}}
  near:
    role: access-point
    uplink: {to: far, over: ethernet}
    radios: {r24: {band: 2.4, channel: 13, eirp_dbm: 17}}
networks:
  main: {name: home, nodes: [far], security: wpa2-personal}
  fine: {name: home-fine, nodes: [near], security: wpa3-personal}
clients: {scanner: {like: till, channels: {"2.4": [1, 6, 11]}}}
places: {stand: {client: CLIENT}}
measured:
  one: {radio: near.r24, at: stand, level_dbm: -45, level_at_node_dbm: -47}
  two: {radio: far.r24, at: stand, level_dbm: -65, level_at_node_dbm: -67}
  three: {radio: far.r5, at: stand, level_dbm: -70, level_at_node_dbm: -72}
"""


def two(client: str) -> str:
    return TWO.replace("CLIENT", client)


def test_the_strongest_node_refuses(book_of: Make) -> None:
    """In one band with what refuses: 2.4 GHz is compared with 2.4 GHz of the joined node, whichever it joins."""
    book = book_of(two("till"))
    assert centre(book, "refused_stronger_db", place("stand")) == pytest.approx(20.0)
    assert centre(book, "refusing_radio", place("stand")) == "near.r24"
    because = centre(book, "refusing_because", place("stand"))
    assert because == "till cannot do wpa3-personal, which network fine asks for"
    assert found(two("till"), "best-radio-refuses") == {"best-radio-refuses[place=stand]": "fail"}


def test_nothing_is_said_where_nothing_refuses_or_the_network_is_for_others(book_of: Make) -> None:
    assert centre(book_of(two("phone")), "refused_stronger_db", place("stand")) == 0.0
    chosen = two("till").replace("stand: {client: till}", "stand: {client: till, network: main}")
    assert centre(book_of(chosen), "refused_stronger_db", place("stand")) == 0.0
    lacking = two("till").replace("CLIENT", "x").replace("{band: 2.4, channel: 13", "{band: 6, channel: 5")
    assert centre(book_of(lacking), "refused_stronger_db", place("stand")) == 0.0  # no 6 GHz: as it should be


def test_a_channel_the_client_does_not_know(book_of: Make) -> None:
    book = book_of(two("scanner"))
    assert not centre(book, "channel_known", place_radio("stand", "near.r24"))
    assert centre(book, "channel_known", place_radio("stand", "far.r24"))
    assert centre(book, "channel_known", place_radio("stand", "far.r5"))  # none listed for 5 GHz: it knows all
    identity = "channel-unknown-to-client[place=stand,radio=near.r24]"
    assert found(two("scanner"), "channel-unknown-to-client") == {identity: "fail"}
    unset = book_of(two("scanner").replace("channel: 13", "channel: auto"))
    value = unset.get("channel_known", place_radio("stand", "near.r24")).value
    assert isinstance(value, Unknown)
    assert "nodes.near.radios.r24.channel" in value.missing[0]


@pytest.mark.parametrize(
    ("client", "radio", "old"),
    [
        ("{standard: n, bands: [5]}", "{band: 5, standard: ax}", True),
        ("{standard: a, bands: [5]}", "{band: 5, standard: ac}", True),
        ("{standard: ac, bands: [5]}", "{band: 5, standard: ax}", False),
        ("{standard: n, bands: [5]}", "{band: 5, standard: n}", False),
        ("{standard: n}", "{band: 2.4, standard: ax}", False),
        ("{standard: g, bands: [2.4]}", "{band: 2.4, standard: n}", True),
        ("{standard: g, bands: [2.4]}", "{band: 2.4, standard: g}", False),
    ],
)
def test_old_clients_on_newer_radios(book_of: Make, client: str, radio: str, old: bool) -> None:
    text = f"""
site: {{name: A}}
nodes: {{box: {{role: gateway, radios: {{one: {radio}}}}}}}
networks: {{main: {{name: home, security: wpa2-personal}}}}
clients: {{thing: {client}}}
places: {{stand: {{client: thing, paths: {{box: {{distance_m: 3}}}}}}}}
"""
    assert centre(book_of(text), "old_for_its_radio", place("stand")) is old


SHARED = """
site: {name: A, country: GB}
internet: {down_mbps: 100, up_mbps: 30}
nodes: {box: {role: gateway, radios: {r5: {band: 5, channel: 36, width_mhz: 80, standard: ax, eirp_dbm: 20}}}}
networks: {main: {name: home, security: wpa2-personal}}
places:
  desk: {client: laptop, down_mbps: 5, up_mbps: 1, paths: {box: {distance_m: 3, complete: true}}}
  gate: {client: laptop, down_mbps: 16, up_mbps: 4}
measured:
  gate: {radio: box.r5, at: gate, level_dbm: -79, level_at_node_dbm: -78}
"""


def test_a_slow_client_and_the_air_it_wants(book_of: Make) -> None:
    book = book_of(SHARED)
    rates = [centre(book, "phy_rate_mbps", place_radio(name, "box.r5")) for name in ("gate", "desk")]
    assert centre(book, "rate_share_of_fastest", place("gate")) == pytest.approx(rates[0] / rates[1])
    assert rates[0] / rates[1] < 0.2
    goodput = [centre(book, "goodput_mbps", place_radio("gate", "box.r5"), dir=way) for way in ("down", "up")]
    wanted = 16 / goodput[0] + 4 / goodput[1]  # shared air is shared time
    assert centre(book, "air_wanted_share", place("gate")) == pytest.approx(wanted)
    assert found(SHARED, "slow-client-holds-air") == {"slow-client-holds-air[place=gate]": "fail"}


def test_a_slow_client_that_is_silent_or_alone_harms_nobody(book_of: Make) -> None:
    silent = SHARED.replace("down_mbps: 16, up_mbps: 4", "active: 0")
    assert centre(book_of(silent), "air_wanted_share", place("gate")) == 0.0
    assert found(silent, "slow-client-holds-air") == {}
    dead = SHARED.replace("level_dbm: -79, level_at_node_dbm: -78", "level_dbm: -95, level_at_node_dbm: -95")
    assert centre(book_of(dead), "air_wanted_share", place("gate")) == 0.0
    alone = SHARED.replace("down_mbps: 5, up_mbps: 1", "active: 0")
    assert centre(book_of(alone), "rate_share_of_fastest", place("gate")) == 1.0


# One name in both bands; the device takes whichever it likes. Clear sight at 2 m: both bands at their best.
BANDS = """
site: {name: A, country: GB}
internet: {down_mbps: 500, up_mbps: 100}
nodes:
  box:
    role: gateway
    gear: GEAR
    radios:
      r24: {band: 2.4, channel: 1, width_mhz: 20, standard: n, streams: 1, eirp_dbm: 17}
      r5: {band: 5, channel: 36, width_mhz: 80, standard: ac, streams: 2, eirp_dbm: 20}
networks: {main: {name: home, security: wpa2-personal CHOICE}}
clients: {set: {like: screen, behaviour: {band_preference: PREFERS}}}
places: {sofa: {client: set, down_mbps: 100, paths: {box: {distance_m: 2, complete: true}}}}
"""


def bands(*, gear: str = "home-router", choice: str = "", prefers: str = "none") -> str:
    given = f", band_choice: {choice}" if choice else ""
    return BANDS.replace("GEAR", gear).replace(" CHOICE", given).replace("PREFERS", prefers)


def test_the_slow_band_is_not_enough(book_of: Make) -> None:
    book = book_of(bands())
    assert centre(book, "bands_under_one_name", place("sofa")) == 2
    assert centre(book, "slow_band", place("sofa")) == "2.4"
    assert centre(book, "slow_band_mbps", place("sofa")) < 100 <= centre(book, "fast_band_mbps", place("sofa"))
    alone = centre(book, "goodput_mbps", place("sofa"))  # the model itself has it on the fast band
    assert centre(book, "fast_band_mbps", place("sofa")) == pytest.approx(alone)
    assert found(bands(), "slow-band-under-one-name") == {"slow-band-under-one-name[place=sofa]": "fail"}


@pytest.mark.parametrize(
    ("site", "may"),
    [
        (bands(), True),
        (bands(prefers='"2.4"'), True),
        (bands(prefers="5-up"), False),
        (bands(choice="node"), False),
        (bands(gear="node-set"), False),
        (bands(gear="node-set", choice="client"), True),
    ],
    ids=["client picks", "prefers 2.4", "prefers 5", "node picks", "gear picks", "given before gear"],
)
def test_who_picks_the_band(book_of: Make, site: str, may: bool) -> None:
    assert centre(book_of(site), "may_pick_slow_band", place("sofa")) is may
    assert bool(found(site, "slow-band-under-one-name")) is may


def test_a_need_the_slow_band_meets_is_no_finding() -> None:
    assert found(bands().replace("down_mbps: 100, paths", "down_mbps: 5, paths"), "slow-band-under-one-name") == {}
    split = bands().replace("networks: {", "networks: {low: {name: home-low, bands: [2.4], security: wpa2-personal}, ")
    split = split.replace("main: {name: home", "main: {name: home, bands: [5]")
    assert found(split, "slow-band-under-one-name") == {}
