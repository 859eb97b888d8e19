"""`advisor plan` as a person uses it: streams, files it may write and files it leaves alone."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
DEMO = ROOT / "profiles" / "kestrel-yard.yaml"


def plan(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "advisor", "plan", *arguments],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "random"},
        check=False,
    )


@pytest.fixture
def site(tmp_path: Path) -> Path:
    copy = tmp_path / "site.yaml"
    copy.write_text(DEMO.read_text(encoding="utf-8").replace("at: [18, 7]", "at: [18, 17]"), encoding="utf-8")
    return copy


def test_without_a_file_the_picture_goes_to_stdout(site: Path) -> None:
    shown, again = plan("site.yaml", cwd=site.parent), plan("site.yaml", cwd=site.parent)
    assert shown.returncode == 0
    assert shown.stdout.startswith("<?xml")
    assert shown.stdout == again.stdout


def test_hints_are_talk_and_stand_on_the_picture(site: Path) -> None:
    shown = plan("site.yaml", cwd=site.parent)
    hint = "cafe at [18, 17] lies outside the walls of ground, whose plan is complete"
    assert shown.stderr == f"looks odd: {hint}\n"
    assert hint in shown.stdout


def test_a_file_is_written_and_may_be_written_again(site: Path) -> None:
    first = plan("site.yaml", "-o", "plan.svg", cwd=site.parent)
    assert (first.returncode, first.stdout) == (0, "")
    assert first.stderr.startswith("wrote plan.svg")
    written = (site.parent / "plan.svg").read_bytes()
    assert written.decode() == plan("site.yaml", cwd=site.parent).stdout
    site.write_text(site.read_text(encoding="utf-8").replace("at: [11, 2]", "at: [2, 11]"), encoding="utf-8")
    assert plan("site.yaml", "-o", "plan.svg", cwd=site.parent).returncode == 0
    assert (site.parent / "plan.svg").read_bytes() != written


@pytest.mark.parametrize("content", ["my notes\n", "", "<svg xmlns='http://www.w3.org/2000/svg'/>\n"])
def test_a_file_of_somebody_else_is_left_alone(site: Path, content: str) -> None:
    other = site.parent / "plan.svg"
    other.write_text(content, encoding="utf-8")
    refused = plan("site.yaml", "-o", "plan.svg", cwd=site.parent)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "plan.svg: there is a file of this name already" in refused.stderr
    assert other.read_text(encoding="utf-8") == content


def test_the_site_file_is_never_written_over(site: Path) -> None:
    """Not even one that contains all that marks a picture of this command, nor by another name."""
    from advisor.report.plan_svg import HEADER

    text = site.read_text(encoding="utf-8") + "".join(f"# {line}\n" for line in HEADER.splitlines())
    site.write_text(text, encoding="utf-8")
    (site.parent / "other.svg").symlink_to(site)
    for name in ("site.yaml", "./site.yaml", "other.svg"):
        refused = plan("site.yaml", "-o", name, cwd=site.parent)
        assert refused.returncode == 2
        assert "this is the site file itself" in refused.stderr
        assert site.read_text(encoding="utf-8") == text


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("no-such.yaml",), "no-such.yaml: there is no such file"),
        (("site.yaml", "-o", "no-folder/plan.svg"), "no-folder/plan.svg: the folder to write to does not exist"),
        (("site.yaml", "-o", "folder"), "folder: the file cannot be written"),
        (("site.yaml", "-o", "pipe"), "pipe: this is no ordinary file"),
        ((), "Missing argument"),
    ],
)
def test_what_cannot_be_done_is_said(site: Path, arguments: tuple[str, ...], words: str) -> None:
    (site.parent / "folder").mkdir()
    os.mkfifo(site.parent / "pipe")
    refused = plan(*arguments, cwd=site.parent)
    assert (refused.returncode, refused.stdout) == (2, "")
    assert words in refused.stderr
