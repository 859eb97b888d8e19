"""The numbers told in `docs/model.md`, taken from the page and computed anew."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from advisor.advice import flips, rank, score, search, setups, trials
from advisor.data import catalogue
from advisor.facts import everyone, reach, routes
from advisor.facts.book import MOST_OPTIONS, Book
from advisor.facts.checks import open_book
from advisor.facts.obstacles import WORTH_A_DETOUR_DB
from advisor.facts.reach import HEARING_DBM, JOINING_DBM
from advisor.network.air import Air
from advisor.network.detour import HEAVIEST
from advisor.physics import materials, propagation
from advisor.physics.airtime import beacon_share, goodput_cases_mbps, small_frame_us
from advisor.physics.diffraction import detour_excess_db, knife_edge_excess_db
from advisor.physics.exposure import REFLECTION_FACTOR, separation_distance_m
from advisor.physics.mac import GEAR_SETS, MacSettings, mac_settings
from advisor.physics.receiver import LOST_PER, assumptions, best_choice, level_need_dbm
from advisor.physics.regulation import ROUNDING_DB, database_version
from advisor.physics.shared_air import Senders, Timing, fullness
from advisor.physics.spectrum import overlap_2g4
from advisor.site.load import load_text
from advisor.subjects import Subject
from advisor.values import CENTRE
from tests.physics.test_voice_wait import LOADED, predicted

PAGE = " ".join((Path(__file__).parent.parent.parent / "docs" / "model.md").read_text(encoding="utf-8").split())
GEAR = mac_settings("usual-gear")


def told(pattern: str) -> tuple[str, ...]:
    """What the page says at the one place that fits the pattern (spaces stand for any white space)."""
    found = re.findall(pattern, PAGE)
    assert len(found) == 1, (pattern, found)
    return found[0] if isinstance(found[0], tuple) else (found[0],)


def numbers(text: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", text)]


@pytest.mark.parametrize(
    ("name", "row"),
    [
        ("noise_figure_db", r"\| noise figure \| ([\d./ ]+) dB"),
        ("implementation_loss_db", r"\| implementation loss \| ([\d./ ]+) dB"),
        ("fading_margin_db", r"\| fading margin: [^|]+ \| ([\d./ ]+) dB"),
        ("fading_spread_db", r"\| fading spread \| ([\d./ ]+) dB"),
        ("stream_separation_db", r"\| telling streams apart, each doubling \| ([\d./ ]+) dB"),
    ],
)
def test_receiver_terms(name: str, row: str) -> None:
    entry = assumptions()[name]
    assert numbers(told(row)[0]) == [entry.low, entry.typical, entry.high]


def test_what_the_slowest_rate_needs() -> None:
    legacy, later, wide = numbers(
        " ".join(told(r"(-[\d.]+) dBm at 20 MHz for n and ac, (-[\d.]+) for ax and be, (-[\d.]+) at 80 MHz"))
    )
    for standard in ("n", "ac", "ax", "be"):
        narrow = legacy if standard in ("n", "ac") else later
        assert float(level_need_dbm(standard=standard, width_mhz=20, mcs=0)) == pytest.approx(narrow, abs=0.05)
        if standard != "n":
            assert float(level_need_dbm(standard=standard, width_mhz=80, mcs=0)) == pytest.approx(wide, abs=0.05)


def test_rates_at_a_usual_level() -> None:
    level, *rates = numbers(" ".join(told(r"on 80 MHz at (-\d+) dBm: (\d+) Mb/s \(ac\), (\d+) Mb/s \(ax\)")))
    for standard, rate in zip(("ac", "ax"), rates, strict=True):
        choice = best_choice(level_dbm=level, standard=standard, band="5", width_mhz=80, max_streams=2)
        assert round(float(choice.phy_rate_mbps)) == rate
    assert float(told(r"still loses (\d+) % of its packets")[0]) == 100 * LOST_PER


def goodput_mbps(
    standard: str, band: str, width_mhz: int, guard_ns: int, mcs: int, transport: str, mac: MacSettings = GEAR
) -> int:
    found = goodput_cases_mbps(
        standard=standard,
        band=band,
        width_mhz=width_mhz,
        guard_ns=guard_ns,
        mcs=np.array([mcs]),
        streams=np.array([2]),
        transport="udp" if transport == "udp" else "tcp",
        mac=mac,
    )
    return round(float(found[0]))


def test_goodput_of_usual_gear() -> None:
    found = numbers(" ".join(told(r"MCS 11: (\d+) Mb/s UDP, (\d+) Mb/s TCP; 802.11n .+? MCS 7: (\d+) and (\d+) Mb/s")))
    fast = [goodput_mbps("ax", "5", 80, 800, 11, transport) for transport in ("udp", "tcp")]
    slow = [goodput_mbps("n", "2.4", 20, 400, 7, transport) for transport in ("udp", "tcp")]
    assert found == [*fast, *slow]
    by_set = numbers(" ".join(told(r"of the former by set: small (\d+), usual (\d+), large (\d+) Mb/s")))
    assert by_set == [goodput_mbps("ax", "5", 80, 800, 11, "tcp", mac_settings(name)) for name in GEAR_SETS]


def test_spread_of_gear_not_declared() -> None:
    share = float(catalogue("ranges")["link"]["exchange_habits_share"]["value"])
    assert float(told(r"On top of it lie (\d+) % \(10 and 90 % points\) for what else gear does")[0]) == 100 * share


def test_what_the_sets_of_real_gear_have_in_common() -> None:
    encryption = float(told(r"and (\d+) B of encryption on every data frame")[0])
    assert {mac_settings(name).encryption_bytes for name in GEAR_SETS} == {encryption}
    frames, octets = numbers(" ".join(told(r"`small-aggregates` at most (\d+) MPDUs and (\d+) B")))
    small = [limits for _, limits in mac_settings("small-aggregates").aggregations]
    assert {(limits.ampdu_frames, limits.ampdu_bytes) for limits in small} == {(frames, octets)}
    short, long = numbers(" ".join(told(r"windows of (\d+) MPDUs for n and ac, (\d+) for ax and be")))
    assert [GEAR.aggregation(name).ampdu_frames for name in ("n", "ac", "ax", "be")] == [short, short, long, long]


def test_air_of_beacons_and_calls() -> None:
    beacons = [round(100 * float(beacon_share(band=band, mac=GEAR)), 1) for band in ("2.4", "5", "6")]
    assert numbers(" ".join(told(r"else: ([\d.]+), ([\d.]+) and ([\d.]+) % of the air a name"))) == beacons
    slowest, usual = numbers(
        " ".join(told(r"takes ([\d.]+) % of the air a call at MCS 0 and ([\d.]+) % from MCS 4 on"))
    )
    for mcs in (0, *range(4, 12)):
        one_us = small_frame_us(
            standard="ax",
            band="5",
            width_mhz=80,
            mcs=mcs,
            streams=2,
            guard_ns=800,
            mac=GEAR,
            category="best_effort",
        )
        both_ways_percent = 2 * 50 * float(one_us) / 1e6 * 100
        assert round(both_ways_percent, 1) == (usual if mcs else slowest)


def test_indoor_loss() -> None:
    environments = catalogue("propagation")["environments"]
    for name, values in environments.items():
        coefficients, first, further, spread = told(rf"\| {name} \| ([^|]+) \| ([^|]+) \| ([^|]+) \| ([^|]+) \|")
        assert numbers(coefficients) == [values[band]["power_coefficient"]["value"] for band in ("2.4", "5", "6")]
        for text, field in ((first, "first_floor_db"), (further, "further_floor_db"), (spread, "spread_db")):
            listed = numbers(re.sub(r"\(.*?\)", "", first if text == "the same" else text))
            expected = [values[band][field]["value"] for band in ("2.4", "5", "6")]
            assert (listed * 3 if len(listed) == 1 else listed) == expected, (name, field)
    home, office = numbers(" ".join(told(r"house at 10 m ([\d.]+) dB, office at 5\.21 GHz and 10 m ([\d.]+) dB")))
    for frequency, coefficient, expected in ((5250.0, 28.0, home), (5210.0, 31.0, office)):
        excess = propagation.p1238_excess_db(
            distance_m=10.0, frequency_mhz=frequency, power_coefficient=coefficient, floor_loss_db=0.0
        )
        assert float(excess) == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("words", "material", "thickness_m"),
    [
        ("concrete 20 cm", "concrete", 0.2),
        ("glass 6 mm", "glass", 0.006),
        ("brick 10 cm", "brick", 0.1),
        ("plasterboard 12.5 mm", "plasterboard", 0.0125),
    ],
)
def test_single_slabs(words: str, material: str, thickness_m: float) -> None:
    found = numbers(" ".join(told(rf"{re.escape(words)} ([\d.]+) / ([\d.]+) / ([\d.]+)")))
    for frequency, expected in zip((2437.0, 5250.0, 6000.0), found, strict=True):
        loss = materials.p2040_slab_loss_db(
            thickness_m=thickness_m, frequency_mhz=frequency, material=materials.P2040_MATERIALS[material]
        )
        assert float(loss) == pytest.approx(expected, abs=0.05)


def test_constructions_are_counted() -> None:
    assert told(r"constructions\.yaml`\) (\w+), each with low") == ("Twenty",)
    assert len(materials.construction_ids()) == 20


def test_spreads() -> None:
    rows = catalogue("ranges")["link"]
    assert float(told(r"\| measured level \| (\d+) \|")[0]) == rows["measured_level_sigma_db"]["value"]
    assert float(told(r"\| told, with obstacles \| (\d+) \|")[0]) == rows["described_path_sigma_db"]["value"]
    assert float(told(r"\| complete \(drawn or told\) \| (\d+) \|")[0]) == propagation.drawn_spread_db()


def test_ways_round() -> None:
    assert float(told(r"typically cost more than (\d+) dB")[0]) == WORTH_A_DETOUR_DB
    assert float(told(r"no way round counts less than (\d+) dB")[0]) == WORTH_A_DETOUR_DB
    assert float(told(r"at most (\d+) dB where the floor has any opening")[0]) == WORTH_A_DETOUR_DB
    assert told(r"the (\w+) costliest are tried") == ("four",)
    assert HEAVIEST == 4
    corner = [(5.0, 0.0), (0.0, 0.0), (0.0, 5.0)]
    bent, knife = numbers(" ".join(told(r"legs of 5 m at 5\.25 GHz (\d+) dB against (\d+) dB")))
    assert round(detour_excess_db(corner, 5250.0)) == bent
    assert round(knife_edge_excess_db(corner, 5250.0)) == knife


def test_hearing_and_joining_cut_off() -> None:
    assert float(told(r"stays under (-\d+) dBm never hear each other")[0]) == HEARING_DBM
    assert numbers(
        " ".join(told(r"the (\d+) nodes nearest .+? under (-\d+) dBm so computed, and keeps the (\d+)"))
    ) == [
        reach.MOST_NODES,
        JOINING_DBM,
        reach.MOST_RADIOS,
    ]
    assert told(r"each of the (\w+) strongest ways") == ("four",)
    assert MOST_OPTIONS == 4


def test_shares_of_other_people_and_of_one_box() -> None:
    neighbours, box = catalogue("ranges")["neighbours"], catalogue("ranges")["co_located"]
    ends = ("low", "typical", "high")
    busy = numbers(told(r"Busy share not given: ([\d/ ]+) %")[0])
    duty = numbers(told(r"duty share of other sources ([\d/ ]+) %")[0])
    assert busy == [100 * neighbours["busy_share"][end] for end in ends]
    assert duty == [100 * neighbours["duty_share"][end] for end in ends]
    near, far, apart = told(r"share of ([\d./ ]+) of that time, or ([\d./ ]+) where they lie (\d+) MHz")
    assert numbers(near) == [box["near_share"][end] for end in ends]
    assert numbers(far) == [box["far_share"][end] for end in ends]
    assert float(apart) == box["far_mhz"]


def test_what_contention_leaves() -> None:
    found = numbers(" ".join(told(r"two keep together ([\d.]+) % [^.]*?, three (\d+) %, six (\d+) %, eleven (\d+) %")))
    one = np.ones((1, 1))
    full = [
        float(fullness(Senders(one, 1e9 * one, 4e-3 * one, 88.0, count * one, one, one), Timing()).share[0])
        for count in (1, 2, 3, 6, 11)
    ]
    kept = [100 * count * full[0] / each for count, each in zip((2, 3, 6, 11), full[1:], strict=True)]
    assert found == [round(kept[0], 1), *(round(share) for share in kept[1:])]


def test_what_is_taken_of_neighbours_and_contention() -> None:
    rows = catalogue("ranges")
    rates = rows["neighbours"]["rate_mbps"]
    assert numbers(" ".join(told(r"else (\d+) to (\d+) Mb/s, typically (\d+)\)"))) == [
        rates["low"], rates["high"], rates["typical"],
    ]  # fmt: skip
    air, turns = numbers(" ".join(told(r"taken as known within (\d+) %, a sender's turns within (\d+) %")))
    for name, share in (("air", air), ("turns", turns)):
        row = rows["contention"][name]
        assert [round(100 * (row[end] - 1)) for end in ("low", "typical", "high")] == [-share, 0, share]


def test_masks() -> None:
    found = numbers(told(r"1 to 5 channels apart: ([-\d., ]+) dB")[0])
    assert found == np.round(10 * np.log10(overlap_2g4()[0, 1:6]), 1).tolist()


def test_exposure_and_database() -> None:
    for power_dbm, distance_cm in zip((23, 30), told(r"(\d+) cm at 23 dBm, (\d+) cm at 30 dBm"), strict=True):
        distance_m = separation_distance_m(eirp_dbm=power_dbm, reflection_factor=REFLECTION_FACTOR["usual"])
        assert round(100 * float(distance_m)) == int(distance_cm)
    assert told(r"wireless-regdb ([\d.]+\d) \(`advisor/data/regdb\.csv`\)") == (database_version(),)
    assert float(told(r"with ([\d.]+) dB for rounding")[0]) == ROUNDING_DB


def small_book(text: str) -> Book:
    return open_book(load_text(text, "site.yaml"))


def test_leftovers_follow_what_is_asked() -> None:
    down, up, word = told(r"a lone client that asks for (\d+) down and (\d+) up gets (\w+) times as much down as up")
    book = small_book(
        f"""
site: {{name: A}}
internet: {{down_mbps: 5000, up_mbps: 5000}}
nodes: {{box: {{role: gateway, radios: {{r5: {{band: 5, channel: 36, eirp_dbm: 23}}}}}}}}
networks: {{main: {{name: main, security: wpa2-personal}}}}
places: {{seat: {{client: laptop, down_mbps: {down}, up_mbps: {up}, paths: {{box: {{distance_m: 3}}}}}}}}
"""
    )
    rates = [
        float(np.ravel(book.get("goodput_everyone_mbps", Subject("place", ("seat",)), dir=dir, timing="likely").raw)[0])
        for dir in ("down", "up")
    ]
    assert word == "three"
    assert rates[0] > float(down)
    assert rates[0] / rates[1] == pytest.approx(3.0, rel=1e-6)


NEAR, FAR = "{distance_m: 2, complete: true}", "{distance_m: 1500, through: [metal, metal], complete: true}"


def chain_of(legs: int) -> str:
    """A gateway, relays in a row on one channel and a client at the last; nodes one or two hops apart hear each other
    well, the others not at all."""
    names = [f"n{number:02d}" for number in range(legs)]
    radio = "radios: {r: {band: 5, channel: 36, width_mhz: 20, standard: n, streams: 1, eirp_dbm: 20}}"
    lines = ["site: {name: A}", "internet: {down_mbps: 1000, up_mbps: 1000}", "nodes:"]
    for number, name in enumerate(names):
        paths = [f"{other}: {NEAR if number - at <= 2 else FAR}" for at, other in enumerate(names[:number])]
        joined = f"uplink: {{to: {names[number - 1]}, band: 5}}, paths: {{{', '.join(paths)}}}"
        lines.append(
            f"  {name}: {{role: {'relay' if number else 'gateway'}, {radio}, {joined if number else 'at: [0, 0]'}}}"
        )
    ways = ", ".join(f"{name}: {NEAR if name == names[-1] else FAR}" for name in names)
    lines += ["networks: {main: {name: main, security: wpa2-personal}}", "places:"]
    lines += [f"  seat: {{client: laptop, down_mbps: 1, up_mbps: 1, paths: {{{ways}}}}}", ""]
    return "\n".join(lines)


def carried(legs: int) -> tuple[float, float]:
    """What a chain carries at the centre: alone downwards, and at best both ways together."""
    book = small_book(chain_of(legs))
    alone = book.get("goodput_mbps", Subject("place", ("seat",)), dir="down", transport="tcp").raw
    # both directions ask for 1 Mb/s
    return float(np.ravel(alone)[CENTRE]), 2.0 * float(everyone.at_best(book).factor[CENTRE])


def test_chain_of_like_hops(monkeypatch: pytest.MonkeyPatch) -> None:
    """The table leaves collisions and beacons out, so they are taken out here."""
    monkeypatch.setattr(Air, "taken", lambda air, uses, rates_mbps: uses.time_per_mbps)
    monkeypatch.setattr(routes, "disturbed_at", lambda book, cell: 0.0)
    (legs_row,) = re.findall(r"\| legs \| ([\d| ]+?) \| \|---", PAGE)
    legs = [int(number) for number in numbers(legs_row)]
    rows = [told(rf"\| {name} \| ([\d/| ]+?) \| (?=\||Li)")[0] for name in ("alone", "at best")]
    alone, best = ([float(Fraction(part.strip())) for part in row.split("|")] for row in rows)
    one = carried(1)
    for number, share_alone, share_best in zip(legs, alone, best, strict=True):
        found = carried(number)
        assert found[0] / one[0] == pytest.approx(share_alone, rel=1e-3), number
        assert found[1] / one[1] == pytest.approx(share_best, rel=1e-3), number


def test_the_figures_of_walks() -> None:
    part = PAGE.split("## 9. Walks and calls")[1].split("## 10.")[0]
    data = catalogue("walking")
    assert (data["shadow"]["correlation_m"]["value"], data["shadow"]["common"]["value"]) == (6, 0.8)
    assert "correlated over 6 m of way walked" in part
    assert data["steps"]["leg_m"]["value"] == 8
    assert "over 8 m (assumed)" in part
    keys = {name: (row["low"], row["high"]) for name, row in data["handover"]["keys_ms"].items()}
    assert keys == {"personal": (10, 40), "wpa3": (30, 100), "enterprise": (150, 800), "none": (0, 0)}
    assert "four-way handshake 10 to 40 ms, WPA3 30 to 100, full 802.1X 150 to 800" in part
    assert (data["calls"]["long_ms"]["value"], data["calls"]["dropped_s"]["value"]) == (300, 5)
    assert "a gap of 300 ms, a worst window under MOS 3.6, or a gap of 5 s" in part
    assert data["calls"]["mos"]["value"] == 3.6
    assert data["levels"]["lost_below_db"]["value"] == -3
    assert "margin of -3 dB nothing passes; after 0.9 to 1.6 s" in part


def test_how_packets_of_a_call_wait() -> None:
    rows = {name: float(entry["value"]) for name, entry in catalogue("walking")["waiting"].items()}
    air = {name: entry["value"] for name, entry in catalogue("mac")["contention"].items()}
    fill, short = numbers(told(r"`fair-short` ([\d.]+ of \d+) packets, `fair-deep`")[0])
    deep = float(told(r"`fair-deep` 0.7 of (\d+), at most")[0])
    assert (fill, short, deep) == (air["tcp_fill"], rows["short_packets"], air["mac_queue_packets"])
    assert float(told(r"at most (\d+) ms \(half their lifetime\)")[0]) == air["packet_lifetime_ms"] / 2
    plain = told(r"`plain` that and ([\d.]+) of (\d+) packets more")
    assert tuple(map(float, plain)) == (air["fifo_fill"], air["fifo_queue_packets"])
    line = told(r"a plain line (\d+) ms or what the file measured, in the direction that is full, a fair one (\d+) ms")
    assert tuple(map(float, line)) == (rows["line_full_ms"], rows["fair_line_ms"])
    assert float(told(r"one sender more with turns of (\d+) ms")[0]) == rows["neighbour_turn_ms"]
    assert float(told(r"loses (\d+) % of the packets \(the simulator")[0]) == 100 * rows["plain_lost"]
    factors, losses = [], []
    for scenario in LOADED.values():
        for row, delay, loss in predicted(scenario):
            found = float(row["d_mean_ms"])
            factors.append(max(delay / found, found / delay))
            losses.append(abs(loss - float(row["loss"])))
    count, typical, worst, points = told(
        r"all (\d+) simulated calls under load, .*? ([\d.]+) times too long or too short at the median, "
        r"([\d.]+) times at worst; loss within ([\d.]+) points"
    )
    assert len(factors) == int(count)
    assert np.median(factors) == pytest.approx(float(typical), abs=0.005)
    assert max(factors) == pytest.approx(float(worst), abs=0.05)
    assert 100 * max(losses) == pytest.approx(float(points), abs=0.05)


def test_the_figures_of_the_search_for_a_layout() -> None:
    part = PAGE.split("## 8. Which layout is best")[1].split("## 9.")[0]
    assert score.ENOUGH == 2.0
    assert "beyond twice its need" in part
    assert f"at most {setups.MOST_SETUPS} combinations" in part
    assert f"first ({search.MOST_FIRST}, shared out" in part
    assert f"be better by {search.SLACK:g}" in part
    assert trials.POINTS == 9
    assert "over nine points" in part
    assert flips.MOST_READ == 3
    assert "on the first three only" in part
    assert rank.NEAR == 0.1
    assert "in at most one case of ten less than the best" in part
    assert rank.MOST_COMPARED == 8
    assert "eight or more, are written" in part
