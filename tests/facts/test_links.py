"""Link budgets by hand, and measurements that go before the model."""

from __future__ import annotations

from collections.abc import Callable
from math import log10

import numpy as np
import pytest

from advisor.facts import links, receiving
from advisor.facts.book import Book
from advisor.facts.draws import Z90
from advisor.subjects import Subject, place_radio
from advisor.trace import Given, walk
from advisor.values import FIRST_DRAW, Known

Make = Callable[[str], Book]

# Free space, ITU-R P.525: 32.45 + 20 log10(f in MHz) + 20 log10(d in km). Channel 36 at 80 MHz is centred on 5210 MHz.
FREE_10_M_DB = 32.45 + 20 * log10(5210) + 20 * log10(0.010)
# Indoor loss, ITU-R P.1238-10 eq. (1) at 10 m, house at 5 GHz: N = 28.
INDOOR_10_M_DB = 20 * log10(5210) + 28 * log10(10) - 28
BRICK_DB = 10.0  # typical at 5 GHz, data/constructions.yaml


def site(path: str, rest: str = "") -> str:
    return f"""
site: {{name: A}}
internet: {{down_mbps: 1000, up_mbps: 1000}}
nodes:
  box:
    role: gateway
    radios: {{r5: {{band: 5, standard: ax, streams: 2, channel: 36, width_mhz: 80, eirp_dbm: 20, antenna_dbi: 3}}}}
networks: {{main: {{name: main, security: wpa2-personal}}}}
places: {{seat: {{client: phone, down_mbps: 5, up_mbps: 1, paths: {{box: {path}}}}}}}
{rest}
"""


SEAT = place_radio("seat", "box.r5")


def known(book: Book, name: str, subject: Subject, **variant: str) -> Known:
    value = book.get(name, subject, **variant).value
    assert isinstance(value, Known), value
    return value


@pytest.mark.parametrize(
    ("path", "loss_db"),
    [
        ("{distance_m: 10, complete: true}", FREE_10_M_DB),
        ("{distance_m: 10, through: [brick], complete: true}", FREE_10_M_DB + BRICK_DB),
        ("{distance_m: 10, through: [brick, brick], complete: true}", FREE_10_M_DB + 2 * BRICK_DB),
        ("{distance_m: 10}", INDOOR_10_M_DB),
        ("{distance_m: 10, through: [brick]}", FREE_10_M_DB + BRICK_DB),
        ("{distance_m: 10, through: [glass]}", INDOOR_10_M_DB),
        ("{distance_m: 10, through: [floor-timber]}", INDOOR_10_M_DB + 7),
    ],
)
def test_link_budget_by_hand(book_of: Make, path: str, loss_db: float) -> None:
    """A phone: 15 dBm, antenna -2 dBi, 3 dB by hand and head. The node: 20 dBm radiated, antenna 3 dBi.

    Where not everything is known, the larger of the known walls and the indoor loss counts; glass (3 dB) is less than
    the 7.6 dB P.1238 adds at 10 m, and with a floor it adds the 7 dB of one floor to that.
    """
    book = book_of(site(path))
    assert known(book, "path_loss_db", SEAT).centre == pytest.approx(loss_db, abs=0.02)
    assert known(book, "level_dbm", SEAT).centre == pytest.approx(20 - 2 - 3 - loss_db, abs=0.02)
    assert known(book, "level_dbm", SEAT, dir="up").centre == pytest.approx(15 - 2 + 3 - 3 - loss_db, abs=0.02)


def test_margin_is_over_the_slowest_rate(book_of: Make) -> None:
    """Noise of 80 MHz at 290 K and a 6 dB noise figure, -88.95 dBm; MCS 0 with LDPC needs -0.7 dB for 10 % errors of
    1500 bytes (packet simulator's table model); 2.5 dB implementation loss and 4 dB fading margin on top."""
    book = book_of(site("{distance_m: 10, complete: true}"))
    level = float(known(book, "level_dbm", SEAT).centre)
    assert known(book, "margin_db", SEAT).centre == pytest.approx(level + 88.95 + 0.7 - 2.5 - 4.0, abs=0.15)


def test_power_from_conducted_power_and_antenna(book_of: Make) -> None:
    book = book_of(site("{distance_m: 10}").replace("eirp_dbm: 20", "conducted_dbm: 17"))
    assert known(book, "eirp_dbm", Subject("radio", ("box.r5",))).centre == 20


@pytest.mark.parametrize(
    ("path", "sigma_db"),
    [("{distance_m: 10}", 8.0), ("{distance_m: 10, through: [open]}", 6.0), ("{distance_m: 10, complete: true}", 4.0)],
)
def test_the_less_is_told_the_wider_the_band(book_of: Make, path: str, sigma_db: float) -> None:
    """Spread: ITU-R P.1238 house 8 dB, described 6 dB, drawn to the end 4 dB (data/ranges.yaml)."""
    level = known(book_of(site(path)), "level_dbm", SEAT)
    assert float(level.high) - float(level.centre) == pytest.approx(sigma_db * Z90, rel=1e-6)
    assert float(level.centre) - float(level.low) == pytest.approx(sigma_db * Z90, rel=1e-6)


def test_both_directions_share_one_shadowing(book_of: Make) -> None:
    book = book_of(site("{distance_m: 10, through: [brick]}"))
    difference = np.asarray(known(book, "level_dbm", SEAT).raw) - known(book, "level_dbm", SEAT, dir="up").raw
    assert np.allclose(difference, difference[0])


@pytest.mark.parametrize("power", ["eirp_dbm: 20, ", ""])
def test_a_measured_level_replaces_the_model_in_both_directions(book_of: Make, power: str) -> None:
    """-70 dBm at the phone, 20 - 5 dBm radiated and received: 85 dB; up 15 - 2 + 3 - 3 - 85 dBm. The level down is what
    was measured even where the node's power is only known as a range."""
    text = site("{distance_m: 10}", "measured: {walk: {radio: box.r5, at: seat, level_dbm: -70}}")
    book = book_of(text.replace("eirp_dbm: 20, ", power))
    down, up = known(book, "level_dbm", SEAT), known(book, "level_dbm", SEAT, dir="up")
    assert down.centre == pytest.approx(-70)
    assert (float(down.high) - float(down.low)) / 2 == pytest.approx(2.0 * Z90, rel=0.1)
    if power:
        assert up.centre == pytest.approx(15 - 2 + 3 - 3 - 85)
        assert (up.low, up.high) == (pytest.approx(-72 - 2 * Z90), pytest.approx(-72 + 2 * Z90))
    rests_on = [fact for _, fact in walk(book.get("level_dbm", SEAT)) if isinstance(fact.by, Given)]
    assert [fact.key for fact in rests_on if fact.by.measured] == ["measured.walk.level_dbm"]


def test_a_level_measured_at_the_node_counts_too(book_of: Make) -> None:
    book = book_of(site("{distance_m: 10}", "measured: {walk: {radio: box.r5, at: seat, level_at_node_dbm: -72}}"))
    assert known(book, "level_dbm", SEAT, dir="up").centre == pytest.approx(-72)
    assert known(book, "level_dbm", SEAT).centre == pytest.approx(-70)


def test_a_measured_goodput_goes_before_the_model_and_carries_its_own_spread(book_of: Make) -> None:
    text = site("{distance_m: 10}", "measured: {test: {radio: box.r5, at: seat, down_mbps: 80, up_mbps: 40}}")
    book = book_of(text)
    for direction, value in (("down", 80.0), ("up", 40.0)):
        goodput = known(book, "goodput_mbps", SEAT, dir=direction)
        assert goodput.centre == value
        assert (goodput.low, goodput.high) == (pytest.approx(0.9 * value), pytest.approx(1.1 * value))
    seat = Subject("place", ("seat",))
    assert known(book, "goodput_mbps", seat).centre == pytest.approx(80.0)


TWO_NODES = """
site: {name: A}
internet: {down_mbps: 1000, up_mbps: 1000}
nodes:
  box:
    role: gateway
    radios: {r5: {band: 5, standard: ax, streams: 2, channel: 36, width_mhz: 80, eirp_dbm: 22, antenna_dbi: 3}}
  far:
    role: relay
    radios: {r5: {band: 5, standard: ax, streams: 2, channel: 36, width_mhz: 80, eirp_dbm: 20, antenna_dbi: 2}}
    uplink: {to: box, over: radio, band: 5}
    paths: {box: {distance_m: 10}}
networks: {main: {name: main, security: wpa2-personal}}
"""


@pytest.mark.parametrize(
    "measured", ["{radio: box.r5, at: far, level_dbm: -66}", "{radio: far.r5, at: box, level_at_node_dbm: -66}"]
)
def test_two_nodes_may_be_measured_from_either_side(book_of: Make, measured: str) -> None:
    """22 dBm out, 2 dBi in, -66 dBm: 90 dB; back 20 + 3 - 90 dBm. What the radios hear of each other follows too."""
    book = book_of(TWO_NODES + f"measured: {{m: {measured}}}")
    hop = Subject("hop", ("far",))
    assert known(book, "path_loss_db", hop).centre == pytest.approx(90)
    assert known(book, "level_dbm", hop).centre == pytest.approx(-66)
    assert known(book, "level_dbm", hop, dir="up").centre == pytest.approx(-67)
    assert known(book, "heard_dbm", Subject("radio-pair", ("box.r5", "far.r5"))).centre == pytest.approx(-66)


@pytest.mark.parametrize(
    "measured",
    ["{radio: box.r5, at: far, down_mbps: 90, up_mbps: 70}", "{radio: far.r5, at: box, down_mbps: 70, up_mbps: 90}"],
)
def test_a_hop_measured_from_either_side(book_of: Make, measured: str) -> None:
    book = book_of(TWO_NODES + f"measured: {{m: {measured}}}")
    assert known(book, "goodput_mbps", Subject("hop", ("far",))).centre == pytest.approx(90)
    assert known(book, "goodput_mbps", Subject("hop", ("far",)), dir="up").centre == pytest.approx(70)


def test_one_more_place_or_another_name_elsewhere_leaves_the_draws_as_they_were(book_of: Make) -> None:
    text = site("{distance_m: 10, through: [brick]}")
    more = text.replace("places: {", "places: {attic: {client: laptop, paths: {box: {distance_m: 14}}}, ")
    for name in ("level_dbm", "goodput_mbps"):
        before, after = known(book_of(text), name, SEAT), known(book_of(more), name, SEAT)
        assert np.array_equal(np.asarray(before.raw), np.asarray(after.raw))


def test_no_position_and_no_path_is_unknown_and_says_what_to_give(book_of: Make) -> None:
    book = book_of(site("{distance_m: 10}").replace(", paths: {box: {distance_m: 10}}", ""))
    fact = book.get("level_dbm", SEAT)
    assert not fact.known
    assert "places.seat: at, or paths.box.distance_m" in str(fact.value)


def test_holds_needs_both_ends(book_of: Make) -> None:
    """At 120 m with one wall between the phone still hears the node, the node no longer hears the phone."""
    book = book_of(site("{distance_m: 120, through: [brick], complete: true}").replace("eirp_dbm: 20", "eirp_dbm: 33"))
    link = links.to_place("seat", "box.r5")
    assert float(known(book, "margin_db", SEAT).centre) > 0 > float(known(book, "margin_db", SEAT, dir="up").centre)
    assert not np.ravel(receiving.holds(book, link))[0]
    assert known(book, "goodput_mbps", SEAT).centre == 0.0
    assert known(book, "lopsided_db", SEAT).centre == pytest.approx(33 - 2 - 15 + 2 - 3)
    assert len(np.ravel(receiving.holds(book, link))) > FIRST_DRAW
