"""What `check` asks to find out about a hop: its level or its speed, whichever narrows more; tried by writing both into
the file."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.running import advisor

SITE = """
site: {name: Two nodes, country: GB, environment: house, invented: true}
internet: {down_mbps: LINE, up_mbps: 30, queue: fair}
nodes:
  gateway: {role: gateway, gear: open-node, radios: {r5: {band: 5, channel: 36, width_mhz: 20, eirp_dbm: 20}}}
  landing:
    role: relay
    gear: open-node
    uplink: {to: gateway, band: 5}
    radios: {r5: {band: 5, channel: 36, width_mhz: 20, eirp_dbm: 20}}
    paths: {gateway: WAY}
networks: {home: {name: fernhill, security: wpa2-personal}}
places:
  study: {client: laptop, down_mbps: NEED, up_mbps: 1, paths: {landing: {distance_m: 3, complete: true}}}
"""
HALFWAY = "{distance_m: 11, through: [brick, floor-timber]}"
NEAR = "{distance_m: 8, through: [plasterboard]}"
FAR = "{distance_m: 16, through: [brick, brick, floor-concrete]}"


def written(path: Path, way: str, need: int, line: int = 200, reading: str = "") -> Path:
    text = SITE.replace("WAY", way).replace("NEED", str(need)).replace("LINE", str(line))
    more = f"measured: {{hop: {{radio: gateway.r5, at: landing, {reading}}}}}\n" if reading else ""
    path.write_text(text + more, encoding="utf-8")
    return path


def asked(path: Path) -> list[dict[str, Any]]:
    """What `check` asks about the hop."""
    questions = json.loads(advisor("check", str(path), "--format", "json").stdout)["questions"]
    return [entry for entry in questions if "between gateway and landing" in entry["what"]]


def hop_of(path: Path) -> dict[str, Any]:
    (hop,) = json.loads(advisor("capacity", str(path), "--format", "json").stdout)["hops"]
    found: dict[str, Any] = hop
    return found


def width(path: Path) -> float:
    """The band of what the hop carries alone, relative to its typical value."""
    alone = hop_of(path)["alone_mbps"]
    return float((alone["high"] - alone["low"]) / alone["centre"])


def left_by_each(path: Path, way: str, need: int, line: int = 200) -> tuple[float, float]:
    """Width left with the level, and with the speed, written into the file as they typically are."""
    hop = hop_of(written(path, way, need, line))
    level = f"level_dbm: {hop['level_dbm']['centre']:.1f}"
    speed = f"down_mbps: {hop['alone_mbps']['centre']:.1f}, up_mbps: {hop['alone_up_mbps']['centre']:.1f}"
    return width(written(path, way, need, line, level)), width(written(path, way, need, line, speed))


def test_a_speed_is_asked_for_where_it_narrows_more(tmp_path: Path) -> None:
    """At a middling level the 2 dB of a reading are a step of the rate or more; a speed test repeats within a tenth."""
    path = written(tmp_path / "site.yaml", HALFWAY, 30)
    (question,) = asked(path)
    assert question["what"] == "the speed between gateway and landing"
    assert "Run a speed test between two computers" in question["how"]
    assert "{radio: gateway.r5, at: landing, down_mbps: " in question["write"]
    poor, good = (float(question[end].removesuffix(" Mb/s")) for end in ("poor_end", "good_end"))
    assert poor < hop_of(path)["alone_mbps"]["centre"] < good
    now = width(path)
    by_level, by_speed = left_by_each(path, HALFWAY, 30)
    assert by_speed < by_level < now
    assert by_speed == pytest.approx(0.2, abs=0.01)


def test_a_level_is_asked_for_where_the_rate_is_at_its_top(tmp_path: Path) -> None:
    """Near the highest rate a level leaves nothing open, and a speed test repeats within a tenth only."""
    path = written(tmp_path / "site.yaml", NEAR, 5, 220)
    (question,) = asked(path)
    assert question["what"] == "the level between gateway and landing"
    by_level, by_speed = left_by_each(path, NEAR, 5, 220)
    assert by_level < by_speed


def test_a_level_is_asked_for_where_typically_nothing_gets_through(tmp_path: Path) -> None:
    """There is no speed to measure on a hop that does not hold."""
    path = written(tmp_path / "site.yaml", FAR, 5)
    assert hop_of(path)["alone_mbps"]["centre"] == 0.0
    (question,) = asked(path)
    assert question["what"] == "the level between gateway and landing"


def test_a_speed_in_the_file_is_not_asked_for_again(tmp_path: Path) -> None:
    path = written(tmp_path / "site.yaml", HALFWAY, 30, reading="down_mbps: 60, up_mbps: 60")
    assert not [entry for entry in asked(path) if entry["what"].startswith("the speed")]
