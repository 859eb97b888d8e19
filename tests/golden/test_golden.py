"""Whole runs against stored output: any change of what people or programs read is seen.

`ACCEPT_GOLDEN=1` (or `make accept`) stores the outputs as they are; read the difference before committing it.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parent.parent

RUNS = {
    "kestrel-yard-check.txt": (["check", "profiles/kestrel-yard.yaml"], 1),
    "kestrel-yard-check.json": (["check", "profiles/kestrel-yard.yaml", "--format", "json"], 1),
    "kestrel-yard-capacity.txt": (["capacity", "profiles/kestrel-yard.yaml"], 0),
    "kestrel-yard-capacity.json": (["capacity", "profiles/kestrel-yard.yaml", "--format", "json"], 0),
    "kestrel-yard-rank.txt": (["rank", "profiles/kestrel-yard.yaml"], 0),
    "kestrel-yard-rank.csv": (["rank", "profiles/kestrel-yard.yaml", "--format", "csv"], 0),
    "kestrel-yard-walk.txt": (["walk", "profiles/kestrel-yard.yaml", "try-out"], 1),
    "kestrel-yard-calls.txt": (["calls", "profiles/kestrel-yard.yaml"], 1),
    "kestrel-yard-check-deep.txt": (["check", "profiles/kestrel-yard.yaml", "--deep", "--only", "walks"], 0),
    "kestrel-yard-improve.txt": (["improve", "profiles/kestrel-yard.yaml"], 0),
    "kestrel-yard-card.md": (["improve", "profiles/kestrel-yard.yaml", "--take", "2", "--format", "card"], 1),
    "kestrel-yard-what-if.txt": (
        [
            "what-if",
            "profiles/kestrel-yard.yaml",
            "nodes.cafe.uplink.to=gateway",
            "nodes.cafe.uplink.band=2.4",
            "nodes.cafe.uplink.choice=",
        ],
        0,
    ),
    "kestrel-yard-outage.txt": (["outage", "profiles/kestrel-yard.yaml"], 1),
    "kestrel-yard-outage-one.txt": (["outage", "profiles/kestrel-yard.yaml", "new-yard-without-stair"], 1),
    "hillside-house-rank.json": (["rank", "profiles/hillside-house.yaml", "--format", "json"], 0),
    "hillside-house-report.md": (["report", "profiles/hillside-house.yaml", "--format", "md"], 0),
    "kestrel-yard-why-hop.txt": (["why", "profiles/kestrel-yard.yaml", "stair", "goodput"], 0),
    "kestrel-yard-why-place.txt": (["why", "profiles/kestrel-yard.yaml", "desk-front", "goodput_everyone"], 0),
    "two-nodes-check.txt": (["check", "profiles/two-nodes.yaml"], 1),
    "wired-annex-check.txt": (["check", "profiles/wired-annex.yaml"], 0),
    "rules-list.txt": (["rules", "list"], 0),
    "rules-show.txt": (["rules", "show", "relay-repeats-on-its-channel"], 0),
}


def run(arguments: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "advisor", *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )


@pytest.mark.parametrize("name", RUNS)
def test_golden(name: str) -> None:
    arguments, code = RUNS[name]
    result = run(arguments)
    assert result.returncode == code, result.stderr
    assert result.stderr == ""
    stored = HERE / name
    if os.environ.get("ACCEPT_GOLDEN") == "1":
        stored.write_text(result.stdout, encoding="utf-8")
    assert result.stdout == stored.read_text(encoding="utf-8")


def test_nothing_stored_is_left_over() -> None:
    assert {path.name for path in HERE.iterdir() if path.suffix in (".txt", ".json", ".csv", ".md")} == set(RUNS)
