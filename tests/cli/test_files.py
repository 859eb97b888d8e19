"""Files written whole or not at all: a copy first, nothing over what somebody else put there, whatever stops it."""

import errno
import os
import random
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from advisor.cli import files
from advisor.errors import InputError

OLD, NEW = "old: 1\r\n", "\ufeffnew: é\n"


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def refused(write: Callable[[], object], what: str) -> None:
    with pytest.raises(InputError, match=what):
        write()


def broken(monkeypatch: pytest.MonkeyPatch, name: str, error: int = errno.ENOSPC) -> None:
    """Let one call to the system fail."""

    def fail(*_: object, **__: object) -> None:
        raise OSError(error, os.strerror(error))

    monkeypatch.setattr(os, name, fail)


def test_a_file_is_replaced_and_a_copy_stands_beside_it(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    file.write_bytes(OLD.encode())
    file.chmod(0o640)
    assert files.replace_own(str(file), NEW) == str(tmp_path / "site.yaml.before")
    assert file.read_bytes() == NEW.encode() and (tmp_path / "site.yaml.before").read_bytes() == OLD.encode()
    assert files.replace_own(str(file), "third: 3\n") == str(tmp_path / "site.yaml.before-2")
    assert files.replace_own(str(file), "fourth: 4\n") == str(tmp_path / "site.yaml.before-3")
    texts = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert texts == {
        "site.yaml": b"fourth: 4\n",
        "site.yaml.before": OLD.encode(),
        "site.yaml.before-2": NEW.encode(),
        "site.yaml.before-3": b"third: 3\n",
    }
    assert {stat.S_IMODE(path.stat().st_mode) for path in tmp_path.iterdir()} == {0o640}


def test_the_copy_is_named_as_the_file_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("site.yaml").write_text(OLD)
    Path("site.yaml.before").symlink_to("nowhere")
    assert files.replace_own("site.yaml", NEW) == "site.yaml.before-2"
    assert not Path("nowhere").exists()


def test_a_link_is_followed(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    file, link = tmp_path / "there" / "site.yaml", tmp_path / "link.yaml"
    file.write_text(OLD, newline="")
    link.symlink_to(file)
    assert files.replace_own(str(link), NEW) == str(tmp_path / "there" / "site.yaml.before")
    assert link.is_symlink() and file.read_bytes() == NEW.encode()
    assert names(tmp_path) == ["link.yaml", "there"] and names(tmp_path / "there") == ["site.yaml", "site.yaml.before"]


@pytest.mark.parametrize("call", ["replace", "link", "fsync"])
def test_an_error_leaves_the_file_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    file = tmp_path / "site.yaml"
    file.write_text(OLD, newline="")
    broken(monkeypatch, call)
    if call == "link":  # no hard links and then no room
        broken(monkeypatch, "fsync")
    refused(lambda: files.replace_own(str(file), NEW), r"site\.yaml: the file cannot be written: No space left")
    assert names(tmp_path) == ["site.yaml"] and file.read_bytes() == OLD.encode()


def test_what_cannot_be_replaced_is_told(tmp_path: Path) -> None:
    refused(lambda: files.replace_own(str(tmp_path / "none.yaml"), NEW), "there is no such file")
    refused(lambda: files.replace_own(str(tmp_path / "none" / "site.yaml"), NEW), "there is no such file")
    refused(lambda: files.replace_own(str(tmp_path), NEW), "this is no ordinary file")
    (tmp_path / "round.yaml").symlink_to("round.yaml")
    refused(lambda: files.replace_own(str(tmp_path / "round.yaml"), NEW), "the file cannot be written")
    file = tmp_path / "site.yaml"
    file.write_text(OLD, newline="")
    refused(lambda: files.replace_own(str(file), "\ud800"), "the file cannot be written")
    assert names(tmp_path) == ["round.yaml", "site.yaml"] and file.read_bytes() == OLD.encode()


def test_a_file_that_may_not_be_written_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "site.yaml"
    file.write_text(OLD, newline="")
    monkeypatch.setattr(os, "access", lambda *_: False)
    refused(lambda: files.replace_own(str(file), NEW), "the file cannot be written: Permission denied")
    assert names(tmp_path) == ["site.yaml"] and file.read_bytes() == OLD.encode()


def test_a_file_that_another_program_changes_meanwhile_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file, link = tmp_path / "site.yaml", os.link
    file.write_text(OLD, newline="")

    def meanwhile(*names: Path) -> None:
        link(*names)
        file.write_text("other: 1\n")

    monkeypatch.setattr(os, "link", meanwhile)
    refused(lambda: files.replace_own(str(file), NEW), "another program changed this file meanwhile")
    assert names(tmp_path) == ["site.yaml"] and file.read_text() == "other: 1\n"


def test_a_copy_stays_where_a_stop_comes_just_after_the_file_was_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file, replace = tmp_path / "site.yaml", os.replace
    file.write_text(OLD, newline="")

    def stopped(*names: Path) -> None:
        replace(*names)
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        files.replace_own(str(file), NEW)
    assert names(tmp_path) == ["site.yaml", "site.yaml.before"]
    assert file.read_bytes() == NEW.encode() and (tmp_path / "site.yaml.before").read_bytes() == OLD.encode()


@pytest.mark.parametrize("links", [True, False])
def test_a_new_file_is_never_over_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool) -> None:
    if not links:
        broken(monkeypatch, "link", errno.EPERM)
    file = tmp_path / "new.yaml"
    usual = tmp_path / "usual"
    usual.touch()
    files.write_new(str(file), NEW)
    assert file.read_bytes() == NEW.encode() and names(tmp_path) == ["new.yaml", "usual"]
    assert stat.S_IMODE(file.stat().st_mode) == stat.S_IMODE(usual.stat().st_mode)
    refused(lambda: files.write_new(str(file), OLD), "there is a file of this name already")
    (tmp_path / "link.yaml").symlink_to("nowhere")
    refused(lambda: files.write_new(str(tmp_path / "link.yaml"), OLD), "there is a file of this name already")
    refused(lambda: files.write_new(str(tmp_path / "none" / "x.yaml"), OLD), "the folder to write to does not exist")
    assert file.read_bytes() == NEW.encode() and names(tmp_path) == ["link.yaml", "new.yaml", "usual"]


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_comes_at_the_last_moment_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    if not links:
        broken(monkeypatch, "link", errno.EPERM)
    file = tmp_path / "new.yaml"
    file.write_text("theirs")
    monkeypatch.setattr(os.path, "lexists", lambda _: False)
    refused(lambda: files.write_new(str(file), NEW), "there is a file of this name already")
    assert names(tmp_path) == ["new.yaml"] and file.read_text() == "theirs"


def test_a_new_file_that_finds_no_room_is_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken(monkeypatch, "fsync")
    refused(lambda: files.write_new(str(tmp_path / "new.yaml"), NEW), "No space left")
    assert names(tmp_path) == []


BIG = {letter: f"{letter * 79}\n" * 5000 for letter in "ab"}

REPLACING = """
import sys
from advisor.cli import files
file, big = sys.argv[1], {letter: f"{letter * 79}\\n" * 5000 for letter in "ab"}
print("ready", flush=True)
for number in range(900):
    files.replace_own(file, big["ba"[number % 2]])
    print(number, flush=True)
"""

ANEW = """
import sys
from advisor.cli import files
file, big = sys.argv[1], "a" * 79 + "\\n"
print("ready", flush=True)
for number in range(900):
    files.write_new(f"{file}{number}", big * 5000)
    print(number, flush=True)
"""


def killed(program: str, file: Path, rng: random.Random) -> None:
    """Start writing again and again, and end it at once at some moment of some writing."""
    with subprocess.Popen([sys.executable, "-c", program, str(file)], stdout=subprocess.PIPE) as running:
        assert running.stdout is not None and running.stdout.readline() == b"ready\n"
        for _ in range(rng.randint(0, 5)):
            assert running.stdout.readline()
        time.sleep(rng.uniform(0, 0.006))
        running.kill()
    assert running.returncode == -signal.SIGKILL


def test_a_file_is_whole_whenever_its_writing_is_killed(tmp_path: Path) -> None:
    rng = random.Random(1)
    seen = set()
    for number in range(15):
        folder = tmp_path / str(number)
        folder.mkdir()
        file = folder / "site.yaml"
        file.write_text(BIG["a"])
        killed(REPLACING, file, rng)
        assert file.read_text() in BIG.values()
        copies = list(folder.glob("site.yaml.before*"))
        assert all(copy.read_text() in BIG.values() for copy in copies)
        seen.add(len(copies))
    assert len(seen) > 1  # not always at the same moment


def test_a_new_file_is_whole_or_not_there_whenever_its_writing_is_killed(tmp_path: Path) -> None:
    rng = random.Random(2)
    seen = set()
    for number in range(15):
        folder = tmp_path / str(number)
        folder.mkdir()
        killed(ANEW, folder / "new", rng)
        made = list(folder.glob("new*"))
        assert all(file.read_text() == BIG["a"] for file in made)
        seen.add(len(made))
    assert len(seen) > 1


EVERY_LINE = """
import os, signal, sys
from pathlib import Path
from advisor.cli import files
call, folder, old, new = sys.argv[1], Path(sys.argv[2]), "a" * 20000, "b" * 20000
os.fsync = lambda _: None  # the system goes on when a program is killed: nothing is lost, and it takes time

TOUCHING = "write_bytes", "write_text", "replace", "rename", "unlink", "chmod"

def attempt(file, most):
    lines = 0
    def trace(frame, event, arg):
        nonlocal lines
        code = frame.f_code
        if not code.co_filename.endswith("cli/files.py") and code.co_name not in TOUCHING:
            return None
        lines += event == "line"
        if lines > most:
            os.kill(os.getpid(), signal.SIGKILL)
        return trace
    sys.settrace(trace)
    getattr(files, call)(str(file), new)
    os._exit(0)

for number in range(5000):
    file = folder / str(number) / "site.yaml"
    file.parent.mkdir()
    if call == "replace_own":
        file.write_text(old)
    child = os.fork()
    if not child:
        attempt(file, number)
    if os.waitpid(child, 0)[1] == 0:
        break
"""


@pytest.mark.parametrize("call", ["replace_own", "write_new"])
def test_a_file_is_whole_whatever_line_its_writing_is_killed_at(tmp_path: Path, call: str) -> None:
    subprocess.run([sys.executable, "-c", EVERY_LINE, call, str(tmp_path)], check=True)
    old, new = "a" * 20000, "b" * 20000
    rounds = sorted(tmp_path.iterdir(), key=lambda folder: int(folder.name))
    found = []
    for folder in rounds:
        file, copy = folder / "site.yaml", folder / "site.yaml.before"
        found.append(file.read_text() if file.exists() else None)
        assert not copy.exists() or copy.read_text() == old
        assert found[-1] != new or copy.exists() or call == "write_new"
    before = old if call == "replace_own" else None
    changed = found.index(new)
    assert len(rounds) > 20 and found == [before] * changed + [new] * (len(found) - changed)
    left = set(names(rounds[-1]))
    assert left == ({"site.yaml", "site.yaml.before"} if call == "replace_own" else {"site.yaml"})
