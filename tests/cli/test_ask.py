"""`advisor ask` as a person or a pipe uses it: whole transcripts, interruptions, files that are there already.

Beside `ask/cottage.in` (the lines typed) stand the whole talk (`.err`) and the file written (`.yaml`); the lines are
those of the people in tests/interview/people.yaml. To accept new wording after reading it:
`ACCEPT_GOLDEN=1 pytest tests/cli`.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import yaml

from advisor.interview.session import begin, step
from advisor.interview.state import beginning
from advisor.site.load import load_site

ROOT = Path(__file__).parent.parent.parent
TALKS = Path(__file__).parent / "ask"
NAMES = sorted(path.stem for path in TALKS.glob("*.in"))
DEMO = (ROOT / "profiles" / "two-nodes.yaml").read_text(encoding="utf-8").replace(", gear: home-relay", "")


def ask(folder: Path, typed: str | bytes, file: str = "site.yaml") -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "advisor", "ask", file],
        cwd=folder,
        input=typed.encode() if isinstance(typed, str) else typed,
        capture_output=True,
        check=False,
        env=os.environ | {"PYTHONIOENCODING": "utf-8", "PYTHONPATH": str(ROOT)},
        timeout=60,
    )


def told(result: subprocess.CompletedProcess[bytes]) -> str:
    """What was said; never a traceback, never anything on stdout."""
    talk = result.stderr.decode("utf-8")
    assert "Traceback" not in talk
    assert result.stdout == b""
    return talk


def agrees(golden: Path, text: str) -> None:
    if os.environ.get("ACCEPT_GOLDEN") == "1":
        golden.write_text(text, encoding="utf-8")
    assert text == golden.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", NAMES)
def test_a_whole_talk(name: str, tmp_path: Path) -> None:
    result = ask(tmp_path, (TALKS / f"{name}.in").read_bytes())
    assert result.returncode == 0
    agrees(TALKS / f"{name}.err", told(result))
    agrees(TALKS / f"{name}.yaml", (tmp_path / "site.yaml").read_text(encoding="utf-8"))
    assert [path.name for path in tmp_path.iterdir()] == ["site.yaml"]


@pytest.mark.parametrize("name", NAMES)
def test_the_lines_typed_are_those_of_the_people(name: str) -> None:
    table = yaml.safe_load((ROOT / "tests" / "interview" / "people.yaml").read_text(encoding="utf-8"))[name]
    given: dict[str, int] = {}
    lines: list[str] = []
    sitting = begin(beginning())
    while question := sitting.question:
        answers = table.get(question.key, "")
        number = given.get(question.key, 0)
        given[question.key] = number + 1
        lines.append(answers if isinstance(answers, str) else answers[number] if number < len(answers) else "")
        sitting, _ = step(sitting, lines[-1])
    assert "".join(f"{line}\n" for line in lines) == (TALKS / f"{name}.in").read_text(encoding="utf-8")


@pytest.mark.parametrize("at", [0, 1, 5, 11, 19, 27, 40, 55])
def test_input_that_ends_is_taken_up_where_it_ended(at: int, tmp_path: Path) -> None:
    lines = (TALKS / "cottage.in").read_text(encoding="utf-8").splitlines(keepends=True)
    first = ask(tmp_path, "".join(lines[:at]))
    assert first.returncode == 0
    assert "Stopped here." in told(first)
    assert (tmp_path / "site.yaml").exists() == (at > 0)
    if at:
        load_site(tmp_path / "site.yaml")
        assert "run `advisor ask site.yaml` again to go on" in told(first)
    second = ask(tmp_path, "".join(lines[at:]))
    assert second.returncode == 0
    assert (tmp_path / "site.yaml").read_text(encoding="utf-8") == (TALKS / "cottage.yaml").read_text(encoding="utf-8")
    assert ("is there already" in told(second)) == (at > 0)


def test_a_full_stop_stops_and_saves(tmp_path: Path) -> None:
    result = ask(tmp_path, "Otter Lodge\nGB\n.\nthis is not read\n")
    assert result.returncode == 0
    assert "this is not read" not in told(result)
    assert load_site(tmp_path / "site.yaml").site.site.country == "GB"


def test_a_last_line_without_an_end_counts(tmp_path: Path) -> None:
    ask(tmp_path, "Otter Lodge\nGB")
    assert load_site(tmp_path / "site.yaml").site.site.country == "GB"


def test_nothing_answered_writes_nothing(tmp_path: Path) -> None:
    result = ask(tmp_path, "")
    assert result.returncode == 0
    assert "so site.yaml was not written" in told(result)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="signals of another kind")
def test_breaking_off_keeps_what_was_answered(tmp_path: Path) -> None:
    """The interrupt key, while the third question waits for its answer."""
    process = subprocess.Popen(
        [sys.executable, "-m", "advisor", "ask", "site.yaml"],
        cwd=tmp_path,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    assert process.stdin is not None
    process.stdin.write(b"Otter Lodge\nGB\n")
    process.stdin.flush()
    file = tmp_path / "site.yaml"
    until = time.monotonic() + 30
    while time.monotonic() < until and not (file.exists() and "GB" in file.read_text(encoding="utf-8")):
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=30)
    assert process.returncode == 0
    assert out == b""
    assert b"Traceback" not in err
    assert b"Stopped here." in err
    assert load_site(file).site.site.country == "GB"


def test_names_in_any_script(tmp_path: Path) -> None:
    typed = "Café „Zum Möwennest“ 🐦\n" + "\n" * 4 + "1\nKüche 3x3\n台所\n\n\n\n\n\nсеть 🐦\n\n"
    result = ask(tmp_path, typed)
    assert '"台所" has no letter a to z' in told(result)
    site = load_site(tmp_path / "site.yaml").site
    assert site.site.name == "Café „Zum Möwennest“ 🐦"
    assert list(site.rooms) == ["kuche"]
    assert [network.name for network in site.networks.values()] == ["сеть 🐦"]


def test_bytes_that_are_no_text_are_asked_again(tmp_path: Path) -> None:
    result = ask(tmp_path, b"\xff\xfe\x00abc\nx\x1b[A\nOtter Lodge\n" + b"y" * 50_000 + b"\n")
    talk = told(result)
    assert "cannot be read as text" in talk
    assert "control character" in talk
    assert load_site(tmp_path / "site.yaml").site.site.name == "Otter Lodge"


def test_a_file_by_hand_is_added_to_and_a_copy_kept(tmp_path: Path) -> None:
    (tmp_path / "site.yaml").write_text(DEMO, encoding="utf-8")
    result = ask(tmp_path, "home-relay\n\n\n\n6\n")
    assert result.returncode == 0
    talk = told(result)
    assert "“Two nodes” is there already" in talk
    assert "kept in site.yaml.bak" in talk
    text = (tmp_path / "site.yaml").read_text(encoding="utf-8")
    assert text.replace(", gear: home-relay", "") == DEMO + "\nneighbours:\n  neighbour-1: {band: 2.4, channel: 6}\n"
    assert (tmp_path / "site.yaml.bak").read_text(encoding="utf-8") == DEMO


def test_a_file_by_hand_without_new_answers_stays_as_it_was(tmp_path: Path) -> None:
    (tmp_path / "site.yaml").write_text(DEMO, encoding="utf-8")
    result = ask(tmp_path, "\n" * 20)
    assert "the file is as it was" in told(result)
    assert (tmp_path / "site.yaml").read_text(encoding="utf-8") == DEMO
    assert [path.name for path in tmp_path.iterdir()] == ["site.yaml"]


def test_a_file_that_is_complete_is_not_asked_about(tmp_path: Path) -> None:
    (tmp_path / "site.yaml").write_bytes((TALKS / "cottage.yaml").read_bytes())
    result = ask(tmp_path, "")
    assert result.returncode == 0
    assert "nothing is left to ask" in told(result)
    assert "advisor check site.yaml" in told(result)


def test_what_was_left_open_is_asked_at_the_next_run(tmp_path: Path) -> None:
    (tmp_path / "site.yaml").write_bytes((TALKS / "haste.yaml").read_bytes())
    result = ask(tmp_path, "GB\n")
    assert "In which country is it?" in told(result)
    assert load_site(tmp_path / "site.yaml").site.site.country == "GB"


@pytest.mark.parametrize(
    ("file", "content", "message"),
    [
        ("site.yaml", "site: {nam: x}\n", 'Did you mean "name"?'),
        ("site.yaml", "nonsense", "site.yaml:1:1: "),
        ("site.yaml", "\0\0", "this is a binary file"),
        ("missing/site.yaml", None, "missing/site.yaml: the folder to write to does not exist\n    Make the folder"),
        (".", None, ".: this is a folder, not a file\n    Give the name of a file"),
        ("x" * 300 + ".yaml", None, "\n    Give another name or folder."),
    ],
)
def test_what_cannot_be_is_refused_before_anything_is_asked(
    file: str, content: str | None, message: str, tmp_path: Path
) -> None:
    if content is not None:
        (tmp_path / file).write_text(content, encoding="utf-8")
    result = ask(tmp_path, "Otter Lodge\n", file)
    assert result.returncode == 2
    assert message in told(result)
    assert "What is the site called?" not in told(result)
    if content is not None:
        assert (tmp_path / file).read_text(encoding="utf-8") == content


def test_answers_that_cannot_be_added_end_with_the_words_to_add(tmp_path: Path) -> None:
    text = "site: {name: x, country: }\nnodes: {gateway: {role: gateway}}\n"
    (tmp_path / "site.yaml").write_text(text, encoding="utf-8")
    result = ask(tmp_path, "GB\n100 50\n1\n")
    assert result.returncode == 2
    assert "Add it by hand: site.country: GB" in told(result)
    assert (tmp_path / "site.yaml").read_text(encoding="utf-8") == text


def test_without_a_file_name_the_usage_is_told() -> None:
    result = subprocess.run([sys.executable, "-m", "advisor", "ask"], cwd=ROOT, capture_output=True, check=False)
    assert result.returncode == 2
    assert b"FILE" in result.stderr
