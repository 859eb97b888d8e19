"""A call beside somebody's greedy transfer, from a site file to the JSON, against the packet simulator's calls."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import Any

import pytest

from advisor.data import catalogue
from advisor.physics.call_quality import codec, mos, r_factor
from tests.cli.running import ROOT, advisor
from truth.rows import Row, read

ROWS = read(ROOT / "tests" / "reference" / "data")
QUEUES = {"def": "fair-deep", "mac64": "fair-short", "pfifo": "plain"}
NEAR_DBM = -38
"""Strong enough for the highest rate of 802.11n with two streams, 130 Mb/s, as most rows have it; where a row has MCS 2
the node gives up its power above that."""
RADIO = (
    "{band: 2.4, standard: n, streams: 2, channel: 6, width_mhz: 20, guard_ns: 800, eirp_dbm: 20, antenna_dbi: 0, "
    "air_queue: QUEUE, power_drop_db: {DROP}}"
)
FAST = (
    "{band: 5, standard: ac, streams: 2, channel: 36, width_mhz: 80, guard_ns: 800, eirp_dbm: 20, antenna_dbi: 0, "
    "air_queue: QUEUE}"
)
ONE_NODE = f"""
site: {{name: A}}
internet: {{down_mbps: 2500, up_mbps: 2500, delay_ms: 0}}
nodes:
  box: {{role: gateway, radios: {{r24: {RADIO}}}}}
clients:
  same: {{like: laptop, standard: n, streams: 2, width_mhz: 20, conducted_dbm: 20, antenna_dbi: 0, bands: [2.4]}}
networks: {{main: {{name: main, security: wpa2-personal, nodes: [box]}}}}
places:
  talker: {{client: same, calls: 1, active: 0, traffic_class: CLASS}}
  loader: {{client: same, down_mbps: DOWN, up_mbps: UP}}
measured:
  a: {{radio: box.r24, at: talker, level_dbm: {NEAR_DBM}, level_at_node_dbm: {NEAR_DBM}}}
  b: {{radio: box.r24, at: loader, level_dbm: {NEAR_DBM}, level_at_node_dbm: {NEAR_DBM}}}
"""
RELAY = f"""
site: {{name: A}}
internet: {{down_mbps: 2500, up_mbps: 2500, delay_ms: 0}}
nodes:
  box: {{role: gateway, radios: {{r24: {RADIO}}}}}
  mid:
    role: relay
    radios: {{r24: {RADIO}, r5: {FAST}}}
    uplink: {{to: box, over: radio, band: 2.4}}
clients:
  same: {{like: laptop, standard: STANDARD, streams: 2, conducted_dbm: 20, antenna_dbi: 0, bands: [BAND]}}
  near: {{like: laptop, standard: n, streams: 2, width_mhz: 20, conducted_dbm: 20, antenna_dbi: 0, bands: [2.4]}}
networks:
  root: {{name: root, security: wpa2-personal, nodes: [box]}}
  far: {{name: far, security: wpa2-personal, nodes: [mid]}}
places:
  talker: {{client: same, network: far, calls: 1, active: 0, traffic_class: CLASS}}
  loader: {{client: WHO, network: WHERE, down_mbps: DOWN, up_mbps: UP}}
measured:
  hop: {{radio: box.r24, at: mid, level_dbm: {NEAR_DBM}, level_at_node_dbm: {NEAR_DBM}}}
  a: {{radio: mid.LAST, at: talker, level_dbm: {NEAR_DBM}, level_at_node_dbm: {NEAR_DBM}}}
  b: {{radio: NODE, at: loader, level_dbm: {NEAR_DBM}, level_at_node_dbm: {NEAR_DBM}}}
"""


def text_of(scenario: str, asked_mbps: float = 2000.0) -> str:
    """The site of a simulated row."""
    name = scenario.split("_")
    queue = next(QUEUES[word] for word in name if word in QUEUES)
    up = "tcpul" in name
    row = {
        "QUEUE": queue,
        "CLASS": "voice" if "VO" in name else "best-effort",
        "DOWN": "0.01" if up else f"{asked_mbps:g}",
        "UP": f"{asked_mbps:g}" if up else "0.01",
        "DROP": "3: 60" if "n20n2m2" in name else "",
    }
    if "relay" in name:
        bands = "xband" in name
        row |= {"STANDARD": "ac", "BAND": "5", "LAST": "r5"} if bands else {}
        row |= {} if bands else {"STANDARD": "n", "BAND": "2.4", "LAST": "r24"}
        root = "tcproot" in name
        row |= {"WHO": "near" if root else "same", "WHERE": "root" if root else "far"}
        row |= {"NODE": "box.r24" if root else f"mid.{row['LAST']}"}
    text = RELAY if "relay" in name else ONE_NODE
    for word, value in row.items():
        text = text.replace(word, value)
    return text


def told(tmp_path: Path, text: str) -> tuple[dict[str, Any], float]:
    """The waits at the radio the call uses and its typical worst quality, as `advisor calls` prints them."""
    path = tmp_path / "site.yaml"
    path.write_text(text, encoding="utf-8")
    shown = advisor("calls", str(path), "--place", "talker", "--format", "json")
    assert shown.stderr == ""
    (call,) = json.loads(shown.stdout)["calls"]
    (waits,) = [entry for entry in call["waits"] if entry["radio"] == next(iter(call["time_on"]))]
    return waits, call["worst_mos"][1]


def mos_of(delay_ms: float, loss: float) -> float:
    """MOS of a simulated flow with the buffer and codec of the program."""
    row = catalogue("walking")["calls"]
    spoken = codec(str(row["codec"]["value"]))
    late_ms = spoken.packet_ms + float(row["jitter_buffer_ms"]["value"])
    rating = r_factor(delay_ms=delay_ms + late_ms, loss_pct=100.0 * loss, ie=spoken.ie, bpl=spoken.bpl or 4.3)
    return float(mos(r=rating))


MATCHED = (
    "G_link_n20n2m7_BE_tcpdl_fq_mac64",
    "G_link_n20n2m7_BE_tcpdl_pfifo",
    "G_link_n20n2m2_BE_tcpdl_def",
    "G_link_n20n2m2_BE_tcpdl_fq_mac64",
    "G_link_n20n2m2_BE_tcpdl_pfifo",
    "G_link_n20n2m2_VO_tcpdl_pfifo",
    "G_link_n20n2m7_BE_tcpul_def",
    "G_link_n20n2m7_VO_tcpdl_pfifo",
    "G_link_n20n2m7_VO_tcpul_def",
    "G_relay_n20n2m7_BE_tcp2hop_fq_mac64",
    "G_relay_n20n2m7_BE_tcproot_def",
    "G_relay_xband_n20n2m7-ac80n2m7_BE_tcp2hop_def",
    "G_relay_xband_n20n2m7-ac80n2m7_BE_tcp2hop_fq_mac64",
    "G_relay_xband_n20n2m7-ac80n2m7_BE_tcp2hop_pfifo",
    "G_relay_xband_n20n2m7-ac80n2m7_VO_tcp2hop_def",
)


def flows(scenario: str) -> dict[str, Row]:
    return {"down" if row["flow_src"] == "A" else "up": row for row in ROWS[scenario] if row["transport"] == "voip"}


def test_calls_beside_a_greedy_transfer_are_as_the_simulator_has_them(tmp_path: Path) -> None:
    """Mean delay of each direction within a factor of 3, at the median within 1.5; loss within two points of a hundred;
    quality of the worse direction within 0.4."""
    factors: list[float] = []
    for scenario in MATCHED:
        waits, quality = told(tmp_path, text_of(scenario))
        rows = flows(scenario)
        worst = min(mos_of(float(row["d_mean_ms"]), float(row["loss"])) for row in rows.values())
        assert quality == pytest.approx(worst, abs=0.4), scenario
        for direction, row in rows.items():
            found, delay = float(row["d_mean_ms"]), waits[f"delay_{direction}_ms"]
            factors.append(max(delay / found, found / delay))
            assert factors[-1] < 3.0, (scenario, direction, found, delay)
            assert abs(waits[f"loss_{direction}"] - float(row["loss"])) < 0.02, (scenario, direction)
    assert median(factors) < 1.5


@pytest.mark.parametrize(
    "scenario", ["G_link_n20n2m7_BE_tcpdl_def", "G_link_n20n2m7_BE_tcpdl_pfifo", "G_relay_n20n2m7_BE_tcp2hop_fq_mac64"]
)
def test_asking_for_more_in_vain_does_no_more_harm(tmp_path: Path, scenario: str) -> None:
    """From 50 to 2000 Mb/s asked of air that carries 100 (or 45 over the relay): no cliff, and no change once it is
    full."""
    quality = [told(tmp_path, text_of(scenario, asked))[1] for asked in (50, 90, 100, 110, 150, 240, 500, 2000)]
    assert all(before - after <= 0.3 for before, after in pairwise(quality))
    full = quality[3:]
    assert max(full) - min(full) <= 0.05


def test_a_walk_tells_the_same_waits_as_a_call_at_its_end(tmp_path: Path) -> None:
    text = text_of("G_link_n20n2m7_BE_tcpdl_def") + (
        "walks: {across: {points: [talker, loader], client: same, traffic: voice, traffic_class: best-effort}}\n"
    )
    waits, _ = told(tmp_path, text)
    shown = advisor("walk", str(tmp_path / "site.yaml"), "--format", "json")
    (walk,) = json.loads(shown.stdout)["walks"]
    assert walk["waits"] == [waits]
    assert waits["delay_down_ms"] > 3 * waits["delay_up_ms"]
    assert waits["worse"] == "down"
    assert waits["delay_ms"] == pytest.approx((waits["delay_down_ms"] + waits["delay_up_ms"]) / 2, abs=0.01)


def test_a_queue_nobody_told_of_is_named_with_the_assumptions(tmp_path: Path) -> None:
    """Gear that shares its air by time keeps few packets in the radio, plain gear many."""
    waits = {}
    for gear, queue in (("open-node", "fair-short"), ("home-router", "fair-deep")):
        text = text_of("G_link_n20n2m7_BE_tcpdl_def").replace(", air_queue: fair-deep", "")
        text = text.replace("role: gateway", f"role: gateway, gear: {gear}")
        waits[gear] = told(tmp_path, text)[0]["delay_down_ms"]
        walk = "walks: {across: {points: [talker, loader], client: same, traffic: voice}}\n"
        (tmp_path / "site.yaml").write_text(text + walk, encoding="utf-8")
        shown = advisor("walk", str(tmp_path / "site.yaml"), "--format", "json")
        (assumed,) = [line for line in json.loads(shown.stdout)["walks"][0]["assumed"] if "air_queue" in line]
        assert assumed == f"packets in front of the air of box.r24 wait as usual for its gear: {queue} (air_queue)"
    assert waits["home-router"] > 3 * waits["open-node"]
