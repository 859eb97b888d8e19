"""How clients share air, from a site file to what `capacity` prints."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import advisor

SITE = """
site: {name: Kestrel Yard, invented: true}
internet: {down_mbps: 20000, up_mbps: 20000}
nodes:
  box: {role: gateway, gear: simulated-runs, radios: {r: {band: 5, standard: ac, streams: 2, channel: 36, width_mhz: 80, highest_mcs: 9, guard_ns: 800}}}
clients: {same: {like: laptop, standard: ac, streams: 2, width_mhz: 80, bands: [5]}}
networks: {main: {name: main, security: open}}
"""  # noqa: E501
FIRM = "{radio: box.r, at: %s, level_dbm: -38, level_at_node_dbm: -38}"


def places(tmp_path: Path, entries: dict[str, str]) -> dict[str, dict[str, Any]]:
    """What the command prints about places with these settings, a metre or two from the node."""
    text = SITE + "places:\n"
    text += "".join(
        f"  {name}: {{client: same, {entry}, paths: {{box: {{distance_m: 5, complete: true}}}}}}\n"
        for name, entry in entries.items()
    )
    text += "measured:\n" + "".join(f"  m-{name}: {FIRM % name}\n" for name in entries)
    file = tmp_path / "site.yaml"
    file.write_text(text, encoding="utf-8")
    found = json.loads(advisor("capacity", str(file), "--format", "json").stdout)
    return {row["place"]: row for row in found["places"]}


def centre(row: dict[str, Any], field: str) -> float:
    return float(row[field]["centre"])


def test_a_place_of_many_clients_is_as_many_senders(tmp_path: Path) -> None:
    """Twenty senders upwards got 339 Mb/s together in the packet simulator (E2_ac80n2m9_N20_udp); one got 569."""
    asks = "transport: udp, up_mbps: 500, down_mbps: 0.01"
    crowd = places(tmp_path, {"hall": f"count: 20, {asks}"})["hall"]
    each = places(tmp_path, {f"seat-{number:02d}": asks for number in range(20)})
    together = 20 * centre(crowd, "everyone_up_mbps")
    apart = sum(centre(row, "everyone_up_mbps") for row in each.values())
    assert together == pytest.approx(apart, rel=0.02)
    assert together == pytest.approx(339.0, rel=0.10)


@pytest.mark.parametrize("more", [600.0, 2000.0, 20000.0])
def test_asking_for_more_in_vain_changes_nothing(tmp_path: Path, more: float) -> None:
    """Two that always have more to send upwards get the same, whatever one of them says it wants."""
    usual = places(tmp_path, {"a": "up_mbps: 500", "b": "up_mbps: 500"})
    greedy = places(tmp_path, {"a": f"up_mbps: {more}", "b": "up_mbps: 500"})
    for name in ("a", "b"):
        assert centre(greedy[name], "everyone_up_mbps") == pytest.approx(
            centre(usual[name], "everyone_up_mbps"), rel=0.01
        )


def test_a_small_ask_is_met_beside_a_greedy_one(tmp_path: Path) -> None:
    rows = places(tmp_path, {"call": "up_mbps: 2", "backup": "up_mbps: 5000"})
    assert centre(rows["call"], "everyone_up_mbps") >= 2.0
    assert centre(rows["backup"], "everyone_up_mbps") > 0.7 * centre(rows["backup"], "alone_up_mbps")
