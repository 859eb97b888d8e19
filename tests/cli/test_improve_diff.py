"""`improve`, `diff` and `what-if` as a person uses them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from tests.cli.running import ROOT, advisor

DEMO = "profiles/kestrel-yard.yaml"
TWO = "profiles/two-nodes.yaml"


def schema(of: str) -> dict[str, object]:
    found: dict[str, object] = json.loads(advisor("schema", of).stdout)
    return found


def test_improve_writes_a_file_that_checks_without_an_error(tmp_path: Path) -> None:
    written = tmp_path / "better.yaml"
    promised = json.loads(advisor("improve", DEMO, "--write", str(written), "--format", "json").stdout)
    checked = json.loads(advisor("check", str(written), "--format", "json").stdout)
    every = [finding for group in checked["groups"] for finding in (group["cause"], *group["leads_to"])]
    assert not [finding["id"] for finding in every if finding["counts_as"] == "error"]
    possible = [finding["id"] for finding in every if finding["level"] == "error"]
    assert sorted(promised["left"]) == sorted(possible)
    again = advisor("improve", DEMO, "--write", str(written))
    assert again.returncode == 2
    assert "there is a file of this name already" in again.stderr


def test_improve_keeps_to_its_schema() -> None:
    jsonschema.validate(json.loads(advisor("improve", TWO, "--format", "json").stdout), schema("improve"))


def test_in_place_keeps_a_copy(tmp_path: Path) -> None:
    site = tmp_path / "yard.yaml"
    before = (ROOT / DEMO).read_text(encoding="utf-8")
    site.write_text(before, encoding="utf-8")
    result = advisor("improve", str(site), "--in-place", "--take", "1", "--budget", "8")
    assert "is kept as" in result.stderr
    others = [path for path in tmp_path.iterdir() if path != site]
    assert [path.read_text(encoding="utf-8") for path in others] == [before]
    assert site.read_text(encoding="utf-8") != before


def test_a_site_without_errors_has_nothing_to_do() -> None:
    result = advisor("improve", "profiles/wired-annex.yaml")
    assert result.returncode == 0, result.stdout
    assert "nothing has to be done" in result.stdout


def test_diff_of_a_file_with_itself_is_empty() -> None:
    result = advisor("diff", TWO, TWO)
    assert result.returncode == 0
    assert "Nothing differs in what the files say." in result.stdout


@pytest.fixture
def slower(tmp_path: Path) -> Path:
    site = tmp_path / "slower.yaml"
    text = (ROOT / TWO).read_text(encoding="utf-8").replace("down_mbps: 200, up_mbps: 30", "down_mbps: 20, up_mbps: 3")
    site.write_text(text, encoding="utf-8")
    return site


def test_worse_ends_with_one_and_keeps_to_its_schema(slower: Path) -> None:
    result = advisor("diff", TWO, str(slower), "--format", "json")
    assert result.returncode == 1
    found = json.loads(result.stdout)
    jsonschema.validate(found, schema("diff"))
    assert found["verdicts"]["places"] == "worse"
    assert advisor("diff", str(slower), TWO).returncode == 0


def test_as_an_external_diff_of_git(tmp_path: Path) -> None:
    """git diff with GIT_EXTERNAL_DIFF: seven arguments, and an end with 0 whatever differs."""

    def git(*arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["git", "-c", "user.name=Wren", "-c", "user.email=wren@example.invalid", *arguments],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            encoding="utf-8",
            env={**os.environ, "PYTHONPATH": str(ROOT), **more},
            check=True,
        )

    site = tmp_path / "house.yaml"
    site.write_text((ROOT / TWO).read_text(encoding="utf-8"), encoding="utf-8")
    git("init", "-q")
    git("add", "house.yaml")
    git("commit", "-qm", "As found")
    site.write_text(site.read_text(encoding="utf-8").replace("count: 3", "count: 5"), encoding="utf-8")
    shown = git("diff", GIT_EXTERNAL_DIFF=f"{sys.executable} -m advisor diff")
    assert "place study: 3 → 5 devices" in shown.stdout


def test_what_if_in_the_files_own_words(tmp_path: Path) -> None:
    written = tmp_path / "tried.yaml"
    result = advisor("what-if", TWO, "internet.down_mbps=20", "places.study.count=1", "--write", str(written))
    assert "What differs" in result.stdout
    assert "down_mbps: 20" in written.read_text(encoding="utf-8")
    assert "count: 1" in written.read_text(encoding="utf-8")
    assert "Which change does what" in result.stdout


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("nodes.gatway.mode=bridge", "gateway"),
        ("internet.down_mpbs=20", "down_mbps"),
        ("internet.down_mbps=fast", "down_mbps"),
        ("nonsense", "PATH=VALUE"),
    ],
)
def test_a_wrong_change_says_what_is_allowed(change: str, told: str) -> None:
    result = advisor("what-if", TWO, change)
    assert result.returncode == 2
    assert result.stdout == ""
    assert told in result.stderr


def test_deep_shows_the_tried_fix() -> None:
    result = advisor("check", TWO, "--deep")
    assert "Tried   " in result.stdout
    assert "this finding goes" in result.stdout
    found = json.loads(advisor("check", DEMO, "--deep", "--format", "json").stdout)
    jsonschema.validate(found, schema("check"))
    heads = {group["cause"]["id"]: group["cause"]["tried"] for group in found["groups"]}
    best = [tried for tried in heads["cannot-join[place=parts-till]"] if tried["advised"]]
    assert best[0]["gone"]
    assert "cannot-join[place=parts-till]" in best[0]["removes"]
