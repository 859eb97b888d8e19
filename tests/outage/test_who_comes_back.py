"""Who comes back after what: the behaviour installers know.

Source: common practice, no source, except where a time is named (EN 301 893 and 47 CFR 15.407(h) for radar).
"""

from __future__ import annotations

from math import inf

import pytest

from advisor.outage.ends import simulate
from advisor.outage.records import LONGEST, SHORTEST, Case, Happening, Key, Net, Outcome
from tests.outage.nets import air, box, net, place, wire

BOTH: tuple[Key, ...] = (("home", "2.4"), ("home", "5"))


def off(what: Net, *names: str, changed: tuple[Key, ...] = (), minutes: float = 10.0) -> Outcome:
    return simulate(what, Happening("trial", "", off=names, changed=changed, minutes=minutes))


def house(*, pushed: bool = False, own: bool = False, bands: tuple[str, ...] = ("5", "2.4")) -> Net:
    """A gateway and one relay that may log in on both bands."""
    ways = air("relay", "gate", *bands, networks=() if own else ("home",))
    uses = [place("hall", "gate.r5"), place("attic", "relay.r5", calls=1)]
    return net(box("gate", boot_s=(120.0, 192.0, 72.0)), box("relay", *ways, pushed=pushed), uses=uses)


@pytest.mark.parametrize("names", [("relay",), ("gate",), ("gate", "relay")])
def test_boxes_that_lose_power_come_back_by_themselves(names: tuple[str, ...]) -> None:
    found = off(house(), *names)
    for name in {*names, "relay"}:
        assert found.boxes[name].state == "by itself"
    assert found.boxes["gate"].state == ("by itself" if "gate" in names else "unharmed")
    assert found.places["attic"].back_s < inf
    assert not found.places["attic"].meanwhile


def test_times_add_up_along_the_chain() -> None:
    """A relay off alone: start 90 s, then 10 s to join. With the gateway off as well it joins 10 s after its start of
    120 s, and places behind it have the internet when the line is back after 150 s and the device after 8 s."""
    assert off(house(), "relay").boxes["relay"].back_s == pytest.approx(100.0)
    both = off(house(), "gate", "relay")
    assert both.boxes["relay"].back_s == pytest.approx(130.0)
    assert both.places["attic"].back_s == pytest.approx(158.0)
    assert both.line_out_s == pytest.approx(600.0 + 150.0)
    assert both.places["attic"].out_s == pytest.approx(600.0 + 150.0 + 8.0)


@pytest.mark.parametrize("changed", BOTH)
def test_one_band_changed_while_off_and_settings_pushed(changed: Key) -> None:
    """It returns over the unchanged band and takes over the new settings."""
    found = off(house(pushed=True), "relay", changed=(changed,))
    end = found.boxes["relay"]
    assert end.state == "by itself"
    assert end.way is not None and end.way.band != changed[1]
    assert any(step.box == "relay" and step.what == "takes over the new settings" for step in found.steps)


@pytest.mark.parametrize("changed", BOTH)
def test_one_band_changed_while_off_and_settings_by_hand(changed: Key) -> None:
    """It returns over the unchanged band and keeps the old settings."""
    found = off(house(), "relay", changed=(changed,))
    end = found.boxes["relay"]
    assert end.state == "after a hand"
    assert end.way is not None and end.way.band != changed[1]
    assert changed[1] in end.why
    assert not any(step.box == "relay" and "settings" in step.what for step in found.steps)


@pytest.mark.parametrize("pushed", [False, True])
def test_both_bands_changed_while_off_strand_a_box_that_borrows_the_password(pushed: bool) -> None:
    found = off(house(pushed=pushed), "relay", changed=BOTH)
    assert found.boxes["relay"].state == "stranded"
    assert found.boxes["relay"].back_s == inf
    assert found.places["attic"].back_s == inf


@pytest.mark.parametrize(("pushed", "state"), [(True, "by itself"), (False, "after a hand")])
def test_both_bands_changed_while_off_and_a_credential_of_its_own(pushed: bool, state: str) -> None:
    found = off(house(pushed=pushed, own=True), "relay", changed=BOTH)
    assert found.boxes["relay"].state == state
    assert found.boxes["relay"].login == "a credential of its own"
    assert (found.places["attic"].back_s < inf) == pushed


def test_a_password_changed_while_everything_runs_harms_nobody_for_long() -> None:
    found = off(house(), changed=BOTH)
    assert found.worst == "by itself"
    assert found.boxes["relay"].out_s == pytest.approx(10.0)
    assert [step.box for step in found.steps if step.what == "is given the new settings"] == ["gate", "relay"]


def test_an_island_with_the_old_password() -> None:
    """Two relays set by hand, both off: the far one logs in at the near one with the old password of both; the near one
    has a credential of its own. Devices with the new password are served by neither."""
    near = box("near", *air("near", "gate", "5", networks=()))
    far = box("far", *air("far", "near", "5"))
    found = off(net(box("gate"), near, far, uses=[place("end", "far.r5")]), "near", "far", changed=BOTH)
    assert {name: end.state for name, end in found.boxes.items()} == {
        "gate": "unharmed",
        "near": "after a hand",
        "far": "after a hand",
    }
    assert found.places["end"].back_s == inf


def test_an_old_password_in_the_file_keeps_a_box_out_from_the_start() -> None:
    relay = box("relay", *air("relay", "gate"), uplink_held=dict.fromkeys(BOTH, 0))
    found = off(net(box("gate"), relay, uses=[place("attic", "relay.r5")]))
    assert found.boxes["relay"].back_s == inf
    assert "password" in found.boxes["relay"].why
    assert found.places["attic"].left_without


# power


def test_a_box_fed_over_its_cable_falls_and_rises_with_its_feeder() -> None:
    fed = box("fed", *wire("switch"), feed="poe", fed_by="switch")
    found = off(net(box("gate"), box("switch", *wire("gate")), fed), "switch")
    assert found.boxes["fed"].state == "by itself"
    # power 5 s after the feeder's, start 90 s, then 10 s to join what started at 90 s and joined at 100 s
    assert found.boxes["fed"].back_s == pytest.approx(110.0)


def test_boxes_that_feed_each_other_never_start() -> None:
    ring = [box("a", *wire("gate"), feed="poe", fed_by="b"), box("b", *wire("gate"), feed="poe", fed_by="a")]
    found = off(net(box("gate"), *ring), "a")
    assert found.boxes["a"].state == found.boxes["b"].state == "stranded"
    assert "waits for power from b" in found.boxes["a"].why


@pytest.mark.parametrize(("minutes", "state"), [(5.0, "unharmed"), (30.0, "by itself")])
def test_a_battery_bridges_a_short_cut_only(minutes: float, state: str) -> None:
    gate = box("gate", feed="ups", battery_s=900.0)
    found = off(net(gate, uses=[place("hall", "gate.r5")]), "gate", minutes=minutes)
    assert found.boxes["gate"].state == state
    assert (found.places["hall"].out_s == 0.0) == (state == "unharmed")
    if state == "by itself":
        assert found.boxes["gate"].out_s == pytest.approx(1800.0 - 900.0 + 90.0)


# the air


def radar_house() -> Net:
    listens = {"gate.r5": (60.0, 60.0, 60.0)}
    gate = box("gate", listens_s=listens)
    return net(gate, box("relay", *air("relay", "gate", "5")), uses=[place("attic", "relay.r5")], radar=["gate.r5"])


def test_a_radio_on_a_radar_channel_listens_a_minute_after_its_start() -> None:
    """60 s of channel availability check: EN 301 893, 47 CFR 15.407(h)."""
    found = off(radar_house(), "gate")
    assert found.boxes["relay"].back_s == pytest.approx(90.0 + 60.0 + 10.0)


@pytest.mark.parametrize(("case", "out_s"), [(0, 30.0), (SHORTEST, 0.0), (LONGEST, 180.0)])
def test_radar_silences_a_hop(case: Case, out_s: float) -> None:
    """10 s to leave the channel (EN 301 893), less than the child takes to notice and to log in again (20 and 10 s); a
    change announced within 2 s is followed; at the longest the next channel is listened to for 60 s while the child
    takes 120 s to notice, and 60 s to find it."""
    found = simulate(radar_house(), Happening("radar", "", radar=("gate.r5",)), case)
    assert found.boxes["relay"].out_s == pytest.approx(out_s)


def test_a_drowned_band_is_left_for_the_other() -> None:
    found = simulate(house(), Happening("drowned", "", jammed=(("relay", "5"),)))
    end = found.boxes["relay"]
    assert end.state == "by itself"
    assert end.out_s == pytest.approx(30.0)
    assert end.way is not None and end.way.band == "2.4"
    alone = simulate(house(bands=("5",)), Happening("drowned", "", jammed=(("relay", "5"),)))
    assert alone.boxes["relay"].out_s == pytest.approx(610.0)


# boxes lost


def chain_of_two(*, second_parent: bool) -> Net:
    ways = air("far", "near", "5") + (air("far", "gate", "2.4") if second_parent else ())
    return net(
        box("gate"), box("near", *air("near", "gate", "5")), box("far", *ways), uses=[place("end", "far.r5", calls=1)]
    )


def test_a_stolen_box_takes_those_along_that_have_no_other_parent() -> None:
    gone = Happening("stolen", "", gone=("near",))
    found = simulate(chain_of_two(second_parent=False), gone)
    assert (found.boxes["near"].state, found.boxes["far"].state) == ("off", "cut off")
    assert "near" in found.boxes["far"].why
    assert found.places["end"].back_s == inf
    other = simulate(chain_of_two(second_parent=True), gone)
    assert other.boxes["far"].state == "by itself"
    assert other.places["end"].meanwhile


@pytest.mark.parametrize(("own", "state"), [(False, "by itself"), (True, "after a hand")])
def test_a_new_gateway_with_the_old_names_and_passwords(own: bool, state: str) -> None:
    found = simulate(house(own=own), Happening("new box", "", replaced=("gate",), minutes=60.0))
    assert found.boxes["gate"].state == "after a hand"
    assert found.boxes["relay"].state == state


# places


def test_what_stays_inside_works_without_the_line() -> None:
    relay = box("relay", *air("relay", "gate", "5"))
    uses = [place("till", "relay.r5", to="relay"), place("desk", "relay.r5")]
    found = off(net(box("gate"), relay, uses=uses), "gate")
    assert found.places["till"].out_s == 0.0
    assert found.places["desk"].out_s > 600.0


def test_another_node_stands_in() -> None:
    relay = box("relay", *air("relay", "gate", "5"))
    found = off(net(box("gate"), relay, uses=[place("desk", "relay.r5", "gate.r5")]), "relay")
    assert found.places["desk"].meanwhile
    assert found.places["desk"].out_s == pytest.approx(2 * 8.0)  # it moves there, and back
