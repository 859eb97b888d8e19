"""`advisor report` as a person runs it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest

from advisor.report.page.gather import ALWAYS, SECTIONS
from tests.cli.running import ROOT, advisor

QUICK = ("--without", "layouts", "--without", "steps", "--without", "summary", "--without", "findings")
SITE = "profiles/wired-annex.yaml"


def test_it_writes_one_page_and_says_so(tmp_path: Path) -> None:
    page = tmp_path / "report.html"
    done = advisor("report", SITE, "-o", str(page), *QUICK)
    assert (done.returncode, done.stdout) == (0, "")
    assert done.stderr == f"wrote {page}: open it in a browser; print it from there\n"
    text = page.read_text(encoding="utf-8")
    assert text.startswith("<!DOCTYPE html>") and "<script" not in text
    sections = re.findall(r'<section id="(\w+)"', text)
    assert sections == ["plan", "outcomes", "speeds", "walks", "outages", "assumptions", "cautions", "about"]


def test_its_json_keeps_its_schema_and_is_that_of_the_commands() -> None:
    schema = json.loads(advisor("schema", "report").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    site = "tests/sites/08-flat-six-ghz.yaml"
    data = json.loads(advisor("report", site, "--format", "json", "--on", "2026-01-15").stdout)
    jsonschema.validate(data, schema)
    assert data["improve"]["steps"]
    for part, command in (
        ("check", ("check", site, "--deep", "--on", "2026-01-15")),
        ("capacity", ("capacity", site)),
        ("outages", ("outage", site)),
        ("rank", ("rank", site)),
        ("improve", ("improve", site)),
    ):
        alone = json.loads(advisor(*command, "--format", "json").stdout)
        assert _without_notes(data[part]) == _without_notes(alone), part


def test_its_walks_are_those_of_the_walk_command() -> None:
    demo = "profiles/kestrel-yard.yaml"
    data = json.loads(advisor("report", demo, "--format", "json", *QUICK, "--walk", "try-out").stdout)
    assert data["walks"] == json.loads(advisor("walk", demo, "try-out", "--format", "json").stdout)


def _without_notes(data: object) -> object:
    """Fixes of mere notes are tried by `check --deep` alone."""
    if isinstance(data, dict) and "groups" in data:
        groups = [
            {**group, "cause": {**group["cause"], "tried": []}} if group["cause"]["level"] == "note" else group
            for group in data["groups"]
        ]
        return {**data, "groups": groups}
    return data


def test_the_difference_to_another_file_is_told() -> None:
    done = advisor("report", SITE, "--against", "profiles/two-nodes.yaml", "--format", "md", *QUICK)
    assert done.returncode == 0
    assert "## The difference to the other description" in done.stdout
    assert "profiles/two-nodes.yaml beside profiles/wired-annex.yaml" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--without", "cautions"), "--without: 'cautions' always stays in a report"),
        (("--without", "nonsense"), "--without: a report has no part 'nonsense'"),
        (("--device", "toaster"), "--device: there is no kind of client 'toaster'"),
        (("--walk", "nowhere"), "--walk: there is no walk 'nowhere' in the file"),
        (("--on", "tomorrow"), "--on: 'tomorrow' is no day"),
        (("--against", "missing.yaml"), "missing.yaml"),
    ],
)
def test_what_cannot_be_is_told_with_what_can(arguments: tuple[str, ...], told: str) -> None:
    done = advisor("report", SITE, *arguments)
    assert done.returncode == 2 and done.stdout == ""
    assert told in done.stderr and len(done.stderr.splitlines()) >= 2


def test_a_file_it_did_not_write_stays(tmp_path: Path) -> None:
    other = tmp_path / "letter.html"
    other.write_text("<p>dear owner</p>", encoding="utf-8")
    done = advisor("report", SITE, "-o", str(other), *QUICK)
    assert done.returncode == 2 and "did not write" in done.stderr
    assert other.read_text(encoding="utf-8") == "<p>dear owner</p>"
    site = tmp_path / "site.yaml"
    site.write_text((ROOT / SITE).read_text(encoding="utf-8"), encoding="utf-8")
    done = advisor("report", str(site), "-o", str(site), *QUICK)
    assert done.returncode == 2 and "this is the site file itself" in done.stderr


def test_a_folder_that_is_not_there_is_told_before_anything_is_computed(tmp_path: Path) -> None:
    done = advisor("report", SITE, "-o", str(tmp_path / "nowhere" / "report.html"))
    assert done.returncode == 2 and "the folder to write to does not exist" in done.stderr


def test_the_help_names_every_part_that_can_be_left_out() -> None:
    told = advisor("report", "--help").stdout
    assert all(name in told for name in (*SECTIONS, "charts") if name not in ALWAYS)


def test_without_matplotlib_it_says_what_to_do(tmp_path: Path) -> None:
    """A folder of that name that cannot be imported stands in for a machine without it."""
    (tmp_path / "matplotlib").mkdir()
    (tmp_path / "matplotlib" / "__init__.py").write_text("raise ModuleNotFoundError('matplotlib')", encoding="utf-8")
    done = advisor("report", str(ROOT / SITE), *QUICK, cwd=tmp_path)
    assert done.returncode == 2 and "--without charts" in done.stderr
    assert advisor("report", str(ROOT / SITE), *QUICK, "--without", "charts", cwd=tmp_path).returncode == 0


def test_a_site_without_places_or_floors_has_a_report(tmp_path: Path) -> None:
    site = tmp_path / "bare.yaml"
    site.write_text("site: {name: Bare}\nnodes: {gateway: {role: gateway}}\n", encoding="utf-8")
    done = advisor("report", str(site), "--format", "md")
    assert done.returncode == 0, done.stderr
    assert "No layouts are compared: there is no place to judge a layout by." in done.stdout
