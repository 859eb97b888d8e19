"""`advisor outage` as a person uses it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import jsonschema
import pytest

from tests.cli.running import ROOT, advisor

DEMO = "profiles/kestrel-yard.yaml"


def test_a_name_there_is_not_names_the_nearest() -> None:
    result = advisor("outage", DEMO, "without-star")
    assert result.returncode == 2
    assert result.stdout == ""
    assert 'there is no outage "without-star" for this site' in result.stderr
    assert 'Did you mean "without-stair"?' in result.stderr


def test_one_outage_is_told_step_by_step() -> None:
    result = advisor("outage", DEMO, "without-gateway")
    assert result.returncode == 0, result.stderr
    assert "the internet line is back" in result.stdout
    assert "Calls to emergency services" in result.stdout


def test_json_keeps_to_its_schema_and_says_what_the_text_says() -> None:
    result = advisor("outage", DEMO, "--format", "json")
    assert result.returncode == 1, result.stderr
    found = json.loads(result.stdout)
    schema = json.loads(advisor("schema", "outage").stdout)
    jsonschema.validate(found, schema)
    needing = [entry["outage"] for entry in found["outages"] if entry["needs_somebody"]]
    text = advisor("outage", DEMO).stdout
    assert f"Of {len(found['outages'])} outages played out" in text
    assert f"{len(needing)} need somebody" in text
    assert found["single_points"] == {"gateway": ["cafe", "stair"]}


def test_csv_has_a_row_for_every_node_and_place() -> None:
    result = advisor("outage", DEMO, "without-gateway", "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert [row["id"] for row in rows if row["kind"] == "node"] == ["cafe", "gateway", "stair"]
    assert {row["state"] for row in rows if row["kind"] == "node"} == {"by itself"}
    assert len(rows) == 3 + 7


def test_more_at_once_looks_at_more() -> None:
    two = json.loads(advisor("outage", DEMO, "--format", "json", "--together", "1").stdout)["outages"]
    three = json.loads(advisor("outage", DEMO, "--format", "json", "--together", "3").stdout)["outages"]
    assert len(two) < len(three)
    assert "without-cafe-and-gateway-and-stair" in [entry["outage"] for entry in three]


@pytest.mark.parametrize("name", ["two-nodes", "wired-annex", "hillside-house"])
def test_every_profile_can_be_played(name: str) -> None:
    result = advisor("outage", f"profiles/{name}.yaml")
    assert result.returncode in (0, 1), result.stderr
    assert result.stderr == ""
    assert result.stdout == advisor("outage", f"profiles/{name}.yaml").stdout


def test_outages_of_the_file_are_judged_on_request(tmp_path: Path) -> None:
    text = (ROOT / DEMO).read_text(encoding="utf-8")
    site = tmp_path / "yard.yaml"
    site.write_text(text + "outages: {market-day: {off: [stair], changed: {yard: 2}, minutes: 45}}\n", encoding="utf-8")
    deep = advisor("check", str(site), "--deep", "--only", "outages")
    assert deep.returncode == 1
    assert "market-day: stair (the password it holds for yard" in deep.stdout
    plain = advisor("check", str(site))
    assert "judged with --deep" in plain.stdout
    told = advisor("outage", str(site), "market-day")
    assert "22:30" in told.stdout  # changed half way through the 45 minutes
