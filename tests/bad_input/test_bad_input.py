"""Bad input: each file of this folder pins the whole message a person gets.

Beside `tabs.yaml` stands `tabs.txt` with the message. To accept new wording after reading it:
`ACCEPT_GOLDEN=1 pytest tests/bad_input`, then look at the difference before keeping it.
"""

import os
from pathlib import Path

import pytest

from advisor.errors import InputError, Position
from advisor.site.load import load_site
from advisor.site.yaml_reader import MOST_BYTES, MOST_VALUES

HERE = Path(__file__).parent
FILES = sorted(file.name for file in HERE.glob("*.yaml"))


def message(file: str) -> str:
    with pytest.raises(InputError) as caught:
        load_site(file)
    assert caught.value.file == file
    assert caught.value.problems == sorted(caught.value.problems)
    return str(caught.value) + "\n"


def agrees(golden: Path, told: str) -> None:
    if os.environ.get("ACCEPT_GOLDEN") == "1":
        golden.write_text(told, encoding="utf-8")
    assert told == golden.read_text(encoding="utf-8")


@pytest.mark.parametrize("file", FILES)
def test_the_message(file: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(HERE)
    agrees(HERE / file.replace(".yaml", ".txt"), message(file))


@pytest.mark.parametrize("golden", sorted(file.name for file in HERE.glob("*.txt") if "made_" not in file.name))
def test_no_message_without_a_file(golden: str) -> None:
    assert golden.replace(".txt", ".yaml") in FILES


def made(kind: str, folder: Path) -> str:
    """Inputs that cannot be kept as files: their name, made in an empty folder."""
    name = f"{kind}.yaml"
    if kind == "too_big":
        (folder / name).write_bytes(b"# " + b"x" * MOST_BYTES)
    elif kind == "too_many_values":
        (folder / name).write_text("a: [" + "1, " * MOST_VALUES + "1]")
    elif kind == "folder":
        (folder / name).mkdir()
    elif kind == "not_found":
        (folder / "kestrel-yard.yaml").write_text("site: {}")
        name = "kestrel-yrad.yaml"
    elif kind == "long_name":
        name = "x" * 300 + ".yaml"
    elif kind == "nul_in_name":
        name = "a\0b.yaml"
    return name


@pytest.mark.parametrize("kind", ["too_big", "too_many_values", "folder", "not_found", "no_folder"])
def test_the_message_of_what_is_made_here(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    name = "nowhere/site.yaml" if kind == "no_folder" else made(kind, tmp_path)
    agrees(HERE / f"made_{kind}.txt", message(name))


def test_only_the_first_hundred_problems_are_told(tmp_path: Path) -> None:
    file = tmp_path / "many.yaml"
    file.write_text("site: {name: a}\nnodes:\n  g: {role: gateway}\n" + "".join(f"w{i}: 1\n" for i in range(500)))
    with pytest.raises(InputError) as caught:
        load_site(file)
    assert len(caught.value.problems) == 101
    assert caught.value.problems[99].what == 'unknown word "w99" at the top of the file'
    assert caught.value.problems[100].position == Position(104, 1)
    assert caught.value.problems[100].what == "and 400 more problems from here on"


@pytest.mark.parametrize("kind", ["long_name", "nul_in_name"])
def test_a_name_that_cannot_be_opened(kind: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the file cannot be read: ") as caught:
        load_site(made(kind, tmp_path))
    assert [problem.position for problem in caught.value.problems] == [Position(0, 0)]


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the super-user may read everything")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text("site: {}")
    file.chmod(0)
    with pytest.raises(InputError, match="may not be read"):
        load_site(file)
