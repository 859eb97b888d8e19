"""The file of an interview: read, and written whole or not at all; never over what somebody else put there."""

from __future__ import annotations

import os
import shutil
from contextlib import suppress
from pathlib import Path

from advisor.errors import InputError, Position, Problem
from advisor.interview.render import read, render
from advisor.interview.splice import Unsafe, splice
from advisor.interview.state import State
from advisor.site.yaml_reader import MOST_BYTES

MOST_COPIES = 100


class Kept:
    """One file during a sitting."""

    def __init__(self, name: str) -> None:
        """Read the file, if there is one. Raises InputError where it is no site file or cannot be written here."""
        self.name = name
        try:
            self.path = Path(name).resolve()
            self.there = _bytes(self.path)
            self._try_folder()
        except (OSError, ValueError) as error:
            raise self._refused(*_plainly(error)) from None
        self.state = read(self.there or b"", name)
        self.text = (self.there or b"").decode("utf-8-sig", "replace")
        self.marked = (self.there or b"").startswith(b"\xef\xbb\xbf")
        self.copied = ""
        self.written = False

    @property
    def by_hand(self) -> bool:
        """True for a file the interview did not write."""
        return bool(self.state.base)

    def text_of(self, state: State) -> str:
        """What the file would hold. Raises InputError where answers cannot be added to it."""
        if not self.by_hand:
            return render(state)
        try:
            return splice(self.text, self.state, state)
        except Unsafe as unsafe:
            raise self._refused(
                "this answer cannot be added without touching what stands there; the file was left as it is",
                "Add it by hand: " + "; ".join(unsafe.lines),
            ) from None

    def save(self, state: State) -> bool:
        """Write the file if anything is new; a copy of what somebody else wrote is kept. Raises InputError."""
        if state.site == self.state.site and self.there is None and not state.left_open and not state.done:
            return False
        text = self.text_of(state)
        data = (b"\xef\xbb\xbf" if self.marked else b"") + text.encode()
        if data == self.there:
            return False
        try:
            if _bytes(self.path) != self.there:
                beside = self._beside(".answers")
                _write(beside, data)
                raise self._refused(
                    "another program changed this file meanwhile; it was left as it is",
                    f"Your answers are in {beside.name}, in the same folder.",
                )
            if self.by_hand and not self.copied and self.there is not None:
                copy = self._beside(".bak", self.there)
                _write(copy, self.there)
                self.copied = copy.name
            _write(self.path, data)
        except (OSError, ValueError) as error:
            raise self._refused(*_plainly(error)) from None
        self.there, self.written = data, True
        return True

    def _try_folder(self) -> None:
        """Find out before anything is asked whether the file can be written."""
        trial = _part(self.path)
        trial.write_bytes(b"")
        trial.unlink()
        if self.there is not None and not os.access(self.path, os.W_OK):
            raise PermissionError(13, "the file may not be changed")

    def _beside(self, ending: str, same: bytes | None = None) -> Path:
        """A name for a copy that is not taken, or taken by the same bytes."""
        for number in range(1, MOST_COPIES):
            path = self.path.with_name(self.path.name + ending + (f"-{number}" if number > 1 else ""))
            if not path.exists() or (same is not None and _bytes(path) == same):
                return path
        raise OSError(17, f"there are {MOST_COPIES} copies beside it already")

    def _refused(self, what: str, help: str) -> InputError:
        return InputError(self.name, [Problem(Position(0, 0), what, help)])


def _bytes(path: Path) -> bytes | None:
    try:
        with path.open("rb") as stream:
            return stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        return None


def _part(path: Path) -> Path:
    """Where a file is written before it is put in place."""
    return path.with_name(f".{path.name[:100]}.{os.getpid()}.part")


def _write(path: Path, data: bytes) -> None:
    """Write beside it first, then put it in place in one step."""
    part = _part(path)
    try:
        with part.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        if path.exists():
            shutil.copymode(path, part)
        part.replace(path)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _plainly(error: Exception) -> tuple[str, str]:
    """What is wrong with a file or folder, and what to do."""
    if isinstance(error, (FileNotFoundError, NotADirectoryError)):
        return "the folder to write to does not exist", "Make the folder first, or check its name."
    if isinstance(error, IsADirectoryError):
        return "this is a folder, not a file", "Give the name of a file, such as site.yaml."
    if isinstance(error, PermissionError):
        return "the file may not be written here", "Choose a folder of your own, or change its permissions."
    reason = getattr(error, "strerror", None) or str(error)
    return f"the file cannot be written: {reason}", "Give another name or folder."
