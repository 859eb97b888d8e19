"""The comparison as text and as JSON."""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path

import numpy as np
from rich.console import Console

from advisor.evidence.blame import blame
from advisor.evidence.pings import PingRun, read
from advisor.evidence.records import Report, moment
from advisor.report.pings_json import PingsOut, pings_json
from advisor.report.pings_text import pings


def run(target: str, lost: range, name: str = "run.txt") -> PingRun:
    replies = np.full(60, 5.0)
    replies[list(lost)] = np.nan
    return PingRun(name, target, 1.0, None, replies, np.arange(60.0))


def report() -> Report:
    return blame(
        run("192.0.2.2", range(0)),
        run("192.0.2.1", range(30, 36), "odd\x1b[31m.txt"),
        run("outside.example", range(30, 36)),
    )


def text(of: Report) -> str:
    console = Console(file=StringIO(), width=120, color_system=None)
    for part in pings(of):
        console.print(part)
    stream = console.file
    assert isinstance(stream, StringIO)
    return stream.getvalue()


def test_the_text_tells_verdict_numbers_and_moments() -> None:
    told = text(report())
    assert told.startswith("Mostly a hop between the node and the gateway\n6 of 60 moments were bad; 6 of them (100 %)")
    assert "Look first at the uplinks between the node and the gateway" in told
    rows = [line.split() for line in told.splitlines()]
    assert ["gateway", "192.0.2.1", "60", "10.0", "0", "5.0", "5.0", "85.0", "6.0"] in rows
    assert any(row[:4] == ["0:30", "for", "6.0", "s:"] for row in rows)


def test_the_text_is_inert() -> None:
    spoilt = blame(None, run("odd\x1b[31m", range(0)), None)
    assert "\x1b" not in text(spoilt)
    assert "odd\\x1b[31m" in text(spoilt)


def test_too_short_is_the_title() -> None:
    short = read(str(Path(__file__).parent / "samples" / "busybox.txt"))
    told = text(blame(short, short, short))
    assert told.startswith("Too short to tell\nToo short to tell: the run to own node has 4 pings;")


def test_the_json_holds_the_same() -> None:
    out = json.loads(pings_json(report()))
    assert PingsOut.model_validate(out).schema_version == 1
    assert out["verdict"] == "hop"
    assert out["runs"][1] == {
        "role": "gateway",
        "file": "odd\x1b[31m.txt",
        "target": "192.0.2.1",
        "interval_s": 1.0,
        "pings": 60,
        "lost": 6,
        "loss_percent": 10.0,
        "slow": 0,
        "median_ms": 5.0,
        "p95_ms": 5.0,
        "slow_above_ms": 85.0,
        "longest_gap_s": 6.0,
    }
    assert [(entry["cause"], entry["start_s"], entry["end_s"]) for entry in out["episodes"]] == [("hop", 30.0, 36.0)]
    assert out["shares"][0]["percent"] == 100.0


def test_what_is_not_known_is_null() -> None:
    out = json.loads(pings_json(blame(None, None, run("outside.example", range(60)))))
    assert out["runs"][0]["median_ms"] is None
    assert out["start_clock_s"] is None


def test_moments_are_minutes_and_seconds() -> None:
    assert [moment(at) for at in (0.0, 59.9, 65.0, 3661.0)] == ["0:00", "0:59", "1:05", "1:01:01"]
