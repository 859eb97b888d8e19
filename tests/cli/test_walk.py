"""`advisor walk` and `advisor calls` as a person uses them."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import jsonschema
import pytest

from tests.cli.running import ROOT, advisor
from tests.walk.corridor import corridor

DEMO = "profiles/kestrel-yard.yaml"


@pytest.fixture
def far(tmp_path: Path) -> Path:
    """Two names a long way apart."""
    names = (
        "one: {name: kite, nodes: [west], security: wpa2-personal}\n"
        "  two: {name: heron, nodes: [east], security: wpa2-personal}"
    )
    path = tmp_path / "far.yaml"
    path.write_text(corridor(90, networks=names, client="phone").document.text, encoding="utf-8")
    return path


@pytest.mark.parametrize("command", ["walk", "calls"])
def test_nothing_on_stderr_and_json_as_its_schema_says(command: str) -> None:
    shown = advisor(command, DEMO, "--format", "json", *(["--walk", "try-out"] if command == "calls" else []))
    assert shown.stderr == ""
    schema = json.loads(advisor("schema", command).stdout)
    jsonschema.validate(json.loads(shown.stdout), schema)


def test_one_walk_or_all() -> None:
    all_walks = json.loads(advisor("walk", DEMO, "--format", "json").stdout)
    one = json.loads(advisor("walk", DEMO, "try-out", "--format", "json").stdout)
    assert [entry["walk"] for entry in all_walks["walks"]] == ["bench-to-tables", "try-out"]
    assert one["walks"] == all_walks["walks"][1:]


def test_the_typical_course_as_csv() -> None:
    rows = list(csv.DictReader(io.StringIO(advisor("walk", DEMO, "bench-to-tables", "--format", "csv").stdout)))
    assert rows[0]["time_s"] == "0.0"
    assert rows[1]["time_s"] == "0.1"
    assert {row["radio"] for row in rows} <= {
        "stair.r5",
        "stair.r24",
        "cafe.r5",
        "cafe.r24",
        "gateway.r5",
        "gateway.r24",
    }


def test_exit_codes() -> None:
    assert advisor("walk", DEMO, "bench-to-tables").returncode == 0
    assert advisor("walk", DEMO, "try-out").returncode == 1
    assert advisor("calls", DEMO, "--walk", "bench-to-tables").returncode == 0


def test_the_change_that_helps_is_written_and_the_walk_then_holds(tmp_path: Path) -> None:
    shown = advisor("calls", str(ROOT / DEMO), "--walk", "try-out", "--write", "mended.yaml", cwd=tmp_path)
    assert "different names on the way" in shown.stdout
    assert shown.stderr.startswith("wrote mended.yaml: Give every node the network name kestrel-yard")
    assert advisor("walk", "mended.yaml", "try-out", cwd=tmp_path).returncode == 0
    again = advisor("calls", str(ROOT / DEMO), "--write", "mended.yaml", cwd=tmp_path)
    assert again.returncode == 2
    assert "there is a file of this name already" in again.stderr


def test_a_call_at_a_desk(far: Path) -> None:
    shown = advisor("calls", str(far), "--place", "a")
    assert shown.returncode == 0
    assert "A call holds on this way." in shown.stdout or "at a" in shown.stdout


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["walk", DEMO, "nowhere"], "there is no walk 'nowhere' in the file"),
        (["calls", DEMO, "--place", "nowhere"], "there is no place 'nowhere' in the file"),
        (["walk", "profiles/two-nodes.yaml"], "the file declares no walk"),
        (["calls"], "give the site file, or three saved pings"),
        (["walk", DEMO, "--draws", "1"], "Invalid value for '--draws'"),
    ],
)
def test_what_cannot_be_used_is_told(arguments: list[str], told: str) -> None:
    shown = advisor(*arguments)
    assert shown.returncode == 2
    assert told in shown.stderr.replace("\n", " ").replace("│", "").replace("  ", " ")


def test_check_judges_walks_on_request(far: Path) -> None:
    plain, deep = advisor("check", str(far)), advisor("check", str(far), "--deep")
    assert "the walk itself with --deep" in plain.stdout
    assert "walk-call-suffers" not in plain.stdout
    assert "A call suffers on a walk" in deep.stdout
