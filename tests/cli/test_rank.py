"""`advisor rank` as a person uses it: formats, the file it writes, exit codes, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

ROOT = Path(__file__).parent.parent.parent
HILLSIDE = ROOT / "profiles" / "hillside-house.yaml"
RELAY = """\
# A flat with one relay; every figure invented.
site: {name: Flat, country: GB, environment: house, invented: true}
internet: {down_mbps: 300, up_mbps: 60}
nodes:
  gateway: {role: gateway, gear: open-node, radios: {r24: {band: 2.4, channel: 6}, r5: {band: 5, channel: 36}}}
  hall:                                # on the shelf
    role: relay
    gear: open-node
    radios: {r24: {band: 2.4, channel: 6}, r5: {band: 5, channel: 36}}
    uplink: {to: gateway, band: 2.4}   # since last winter
    paths: {gateway: {distance_m: 9, through: [brick], complete: true}}
networks: {home: {name: fernhill, security: wpa2-personal}}
places:
  bed: {client: phone, down_mbps: 60, up_mbps: 8, paths: {hall: {distance_m: 3, complete: true}, gateway: {distance_m: 13, through: [brick, brick], complete: true}}}
"""  # noqa: E501


def rank(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "advisor", "rank", *arguments],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "random"},
        check=False,
    )


@pytest.fixture
def site(tmp_path: Path) -> Path:
    copy = tmp_path / "flat.yaml"
    copy.write_text(RELAY, encoding="utf-8")
    return copy


def test_talk_is_on_stderr_and_nothing_of_it_without_a_terminal(site: Path) -> None:
    shown = rank("flat.yaml", cwd=site.parent)
    assert shown.stderr == ""
    assert shown.returncode == 0
    assert shown.stdout.startswith("Flat (an invented example)\n")


def test_json_is_as_its_schema_says() -> None:
    shown = rank(str(HILLSIDE), "--format", "json")
    schema = subprocess.run(
        [sys.executable, "-m", "advisor", "schema", "rank"], cwd=ROOT, capture_output=True, check=True
    )
    jsonschema.validate(json.loads(shown.stdout), json.loads(schema.stdout))


def test_csv_has_one_row_a_layout() -> None:
    rows = list(csv.DictReader(io.StringIO(rank(str(HILLSIDE), "--format", "csv", "--top", "3").stdout)))
    told = json.loads(rank(str(HILLSIDE), "--format", "json", "--top", "3").stdout)
    assert [row["id"] for row in rows] == [layout["id"] for layout in told["layouts"]]
    assert [row["recommended"] for row in rows].count("yes") == 1


def test_the_layout_to_take_is_written_and_the_rest_of_the_file_stays(site: Path) -> None:
    text = RELAY.replace("down_mbps: 60", "down_mbps: 150")
    site.write_text(text, encoding="utf-8")
    shown = rank("flat.yaml", "--write", "best.yaml", cwd=site.parent)
    assert shown.stderr == "wrote best.yaml: layout 1; `advisor check best.yaml` looks at it in full\n"
    before = text.splitlines()
    after = (site.parent / "best.yaml").read_text(encoding="utf-8").splitlines()
    assert before[0] == after[0]
    assert "  hall:                                # on the shelf" in after
    assert "    uplink: {to: gateway, band: 5}   # since last winter" in after
    assert len([line for line in before if line not in after]) == 1
    again = json.loads(rank("best.yaml", "--format", "json", cwd=site.parent).stdout)
    told = json.loads(rank("flat.yaml", "--format", "json", cwd=site.parent).stdout)
    as_it_is = next(layout for layout in again["layouts"] if not layout["changes"])
    best = next(layout for layout in told["layouts"] if layout["id"] == told["recommended"])
    for figure in ("needs_met", "worst_share", "all_met_chance"):
        assert as_it_is[figure] == best[figure]


def test_another_layout_of_the_table_is_written(site: Path) -> None:
    shown = rank("flat.yaml", "--write", "first.yaml", "--take", "1", cwd=site.parent)
    assert shown.stderr.startswith("wrote first.yaml: layout 1;")
    assert "band: 5" in (site.parent / "first.yaml").read_text(encoding="utf-8").split("uplink:")[1].split("}")[0]
    shown = rank("flat.yaml", "--write", "none.yaml", "--take", "77", cwd=site.parent)
    assert shown.returncode == 2
    assert "there is no layout 77 in the table" in shown.stderr
    assert not (site.parent / "none.yaml").exists()


def test_a_file_that_is_there_stays_as_it_is(site: Path) -> None:
    for there in ("flat.yaml", "notes.txt"):
        (site.parent / "notes.txt").write_text("mine", encoding="utf-8")
        before = (site.parent / there).read_bytes()
        shown = rank("flat.yaml", "--write", there, cwd=site.parent)
        assert shown.returncode == 2
        assert "there is a file of this name already; it was left as it is" in shown.stderr
        assert shown.stdout == ""
        assert (site.parent / there).read_bytes() == before


def test_a_folder_that_is_not_there(site: Path) -> None:
    shown = rank("flat.yaml", "--write", "nowhere/best.yaml", cwd=site.parent)
    assert shown.returncode == 2
    assert "the folder to write to does not exist" in shown.stderr


def test_needs_out_of_reach_end_with_one(site: Path) -> None:
    site.write_text(RELAY.replace("down_mbps: 60", "down_mbps: 900"), encoding="utf-8")
    shown = rank("flat.yaml", cwd=site.parent)
    assert shown.returncode == 1
    assert "It typically meets 1 of 2 needs" in shown.stdout


@pytest.mark.parametrize("wrong", [["--top", "0"], ["--budget", "0"], ["--format", "xml"]])
def test_wrong_arguments(wrong: list[str], site: Path) -> None:
    assert rank("flat.yaml", *wrong, cwd=site.parent).returncode == 2


def test_a_site_without_places(site: Path) -> None:
    site.write_text(RELAY.split("places:")[0], encoding="utf-8")
    shown = rank("flat.yaml", cwd=site.parent)
    assert shown.returncode == 2
    assert "there is no place to judge a layout by" in shown.stderr


def test_line_ends_stay_as_they_are(site: Path) -> None:
    site.write_bytes(RELAY.replace("\n", "\r\n").encode())
    rank("flat.yaml", "--write", "best.yaml", cwd=site.parent)
    written = (site.parent / "best.yaml").read_bytes()
    assert written.count(b"\r\n") == written.count(b"\n") > 5
