"""What varies beside uplinks and channels: name schemes, cables, positions, powers, each as edits of the file."""

from __future__ import annotations

import pytest

from advisor.advice.setups import MOST_SETUPS, Setup, setups
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.site.load import LoadedSite, load_text

SITE = """
site: {name: Setups, country: GB, environment: house, invented: true}
internet: {down_mbps: 100, up_mbps: 20}
floors: {ground: {level: 0, plan: complete}}
nodes:
  gateway:                       # by the door
    role: gateway
    gear: open-node
    at: [0, 0]
    floor: ground
    radios: {r24: {band: 2.4, channel: 1, eirp_dbm: 20}, r5: {band: 5, channel: 36, eirp_dbm: 23}}
  back:
    role: relay
    gear: open-node
    at: [9, 0]
    floor: ground
    radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}
    uplink: {to: gateway, band: 5}
    backhaul: {credential: client-network, network: home}
networks:
  home: {name: fernhill, security: wpa2-personal}
places:
  sofa: {client: phone, at: [3, 2], floor: ground, down_mbps: 5, up_mbps: 1}
"""


def found_in(choices: str) -> tuple[list[Setup], dict[str, None]]:
    loaded = load_text(SITE + choices, "setups.yaml")
    said: dict[str, None] = {}
    return setups(loaded, open_book(loaded, Draws(1, 0)), said)[0], said


def by_id(choices: str) -> dict[str, LoadedSite]:
    return {setup.id: setup.loaded for setup in found_in(choices)[0]}


def test_the_site_as_it_is_comes_first_and_is_untouched() -> None:
    first = found_in("")[0][0]
    assert (first.id, first.changes) == ("", ())
    assert first.loaded.document.text == SITE


def test_a_name_per_band_keeps_the_password_and_tells_each_place_which_to_use() -> None:
    sites = by_id("")
    fast, slow = sites["names-per-band-fast"].site, sites["names-per-band-slow"].site
    for site in (fast, slow):
        assert (site.networks["home"].name, site.networks["home"].bands) == ("fernhill", ("5",))
        assert (site.networks["home-24"].name, site.networks["home-24"].bands) == ("fernhill-24", ("2.4",))
        assert site.networks["home-24"].security == "wpa2-personal"
    assert fast.places["sofa"].network == "home"
    assert slow.places["sofa"].network == "home-24"


def test_one_name_joins_what_was_apart() -> None:
    apart = (
        SITE.replace(
            "  home: {name: fernhill, security: wpa2-personal}",
            "  home: {name: fernhill, security: wpa2-personal, nodes: [gateway]}\n"
            "  rear: {name: fernhill-rear, security: wpa2-personal, nodes: [back]}",
        )
        .replace("network: home}", "network: rear}")
        .replace("up_mbps: 1}", "up_mbps: 1, network: rear}")
    )
    loaded = load_text(apart, "apart.yaml")
    found = {setup.id: setup for setup in setups(loaded, open_book(loaded, Draws(1, 0)), {})[0]}
    site = found["one-name"].loaded.site
    assert set(site.networks) == {"home"}
    assert site.networks["home"].nodes == ()
    assert site.places["sofa"].network is None
    assert site.nodes["back"].backhaul.network == "home"


def test_names_that_are_not_to_be_compared() -> None:
    setups_found, said = found_in("choices: {names: [one]}\n")
    assert [setup.id for setup in setups_found] == [""]
    assert not said
    _, said = found_in("choices: {names: [per-band]}\n")
    assert list(said) == ["One name for all is not compared: choices.names does not list it."]


def test_a_cable_makes_an_access_point_of_the_relay() -> None:
    sites = by_id("choices: {names: [one], cables: {rear: {node: back, to: gateway, length_m: 12}}}\n")
    node = sites["cable-rear"].site.nodes["back"]
    assert node.role == "access-point"
    assert node.uplink is not None
    assert (node.uplink.to, node.uplink.over, node.uplink.length_m) == ("gateway", "ethernet", 12)
    assert not node.backhaul.model_fields_set
    assert "# by the door" in sites["cable-rear"].document.text


def test_other_positions_and_powers() -> None:
    choices = "choices: {names: [one], positions: {back: {hall: [5, 1, ground]}}, powers_dbm: {gateway.r5: [14, 23]}}\n"
    sites = by_id(choices)
    assert set(sites) == {"", "back-hall", "gateway.r5-14dBm", "back-hall+gateway.r5-14dBm"}
    assert sites["back-hall"].site.nodes["back"].at == (5, 1)
    assert sites["gateway.r5-14dBm"].site.nodes["gateway"].radios["r5"].eirp_dbm == 14


def test_a_node_that_may_stand_anywhere_tries_both_sides_of_every_door() -> None:
    text = SITE.replace(
        "floors: {ground: {level: 0, plan: complete}}",
        "floors: {ground: {level: 0, plan: complete, walls: {mid: {line: [[6, -3], [6, 3]], of: brick, "
        "openings: {way: {from_m: 2.5, to_m: 3.5, of: door-timber}, pane: {from_m: 4, to_m: 5, of: glass}}}}}}",
    )
    loaded = load_text(text + "choices: {names: [one], anywhere: [back]}\n", "doors.yaml")
    found = {
        setup.id: setup.loaded.site.nodes["back"].at for setup in setups(loaded, open_book(loaded, Draws(1, 0)), {})[0]
    }
    assert found == {"": (9, 0), "back-by-way-5.4-0": (5.4, 0), "back-by-way-6.6-0": (6.6, 0)}


def test_a_node_told_by_its_room_tries_the_others() -> None:
    text = """
site: {name: Rooms, country: GB, environment: house}
rooms: {hall: {next_to: {den: brick with door, loft: plasterboard}}, den: {}, loft: {}}
nodes:
  gateway: {role: gateway, gear: open-node, room: hall}
  back: {role: relay, gear: open-node, room: den, uplink: {to: gateway, band: 5}}
networks: {home: {name: fernhill, security: wpa2-personal}}
places: {sofa: {client: phone, room: loft, down_mbps: 5}}
measured:
  kept: {radio: gateway.r5, at: sofa, level_dbm: -60}
  old: {radio: gateway.r5, at: back, level_dbm: -60}
choices: {names: [one], anywhere: [back]}
"""
    loaded = load_text(text, "rooms.yaml")
    found = {setup.id: setup.loaded.site for setup in setups(loaded, open_book(loaded, Draws(1, 0)), {})[0]}
    assert {id: site.nodes["back"].room for id, site in found.items()} == {
        "": "den",
        "back-in-hall": "hall",
        "back-in-loft": "loft",
    }
    assert set(found["back-in-loft"].measured) == {"kept"}


def test_a_node_told_by_distances_is_not_moved() -> None:
    choices = "choices: {names: [one], positions: {back: {hall: [5, 1, ground]}}}\n"
    text = SITE.replace("up_mbps: 1}", "up_mbps: 1, paths: {back: {distance_m: 4}}}") + choices
    loaded = load_text(text, "paths.yaml")
    said: dict[str, None] = {}
    assert [setup.id for setup in setups(loaded, open_book(loaded, Draws(1, 0)), said)[0]] == [""]
    assert list(said) == ["back is not moved: distances to it are told by `paths`, which a move would make wrong."]


def test_shared_results_do_not_change_a_figure() -> None:
    """Setups share what names and cables do not change; a book of its own gives the same levels and rates."""
    choices = "choices: {cables: {rear: {node: back, to: gateway, length_m: 12}}, powers_dbm: {gateway.r5: [14]}}\n"
    loaded = load_text(SITE + choices, "setups.yaml")
    base = open_book(loaded, Draws(1, 0))
    for pair in base.subjects("place-radio"):
        base.get("level_dbm", pair)
    for setup in setups(loaded, base, {})[0]:
        alone = open_book(setup.loaded, Draws(1, 0))
        for pair in alone.subjects("place-radio"):
            for name in ("level_dbm", "phy_rate_mbps"):
                assert setup.book.get(name, pair).value == alone.get(name, pair).value


@pytest.mark.parametrize("count", [1, 40])
def test_at_most_so_many_combinations_the_simplest_first(count: int) -> None:
    powers = ", ".join(str(1 + power / 4) for power in range(count))
    choices = f"choices: {{names: [one], powers_dbm: {{gateway.r5: [{powers}], gateway.r24: [{powers}]}}}}\n"
    loaded = load_text(SITE + choices, "setups.yaml")
    found, every = setups(loaded, open_book(loaded, Draws(1, 0)), {})
    assert every == (count + 1) ** 2
    assert len(found) == min(every, MOST_SETUPS)
    sizes = [len(setup.changes) for setup in found]
    assert sizes == sorted(sizes)
