"""Writing files a person asked for: whole or not at all, and never over something the program did not write itself
without a copy of it."""

from __future__ import annotations

import errno
import os
import stat
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from advisor.errors import InputError, Position, Problem

MOST_COPIES = 1000


def write_all(folder: str, made: Mapping[str, str], *, mark: str) -> None:
    """Write pages into a folder, which is made if missing; all are checked before the first is written.

    Files there already are replaced only if they contain `mark`. Raises InputError.
    """
    for name in sorted(made):
        _refuse_foreign(Path(folder) / name, mark)
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise _refused(folder, f"the folder cannot be made: {_reason(error)}", "Give another folder.") from None
    for name, text in sorted(made.items()):
        write_own(str(Path(folder) / name), text, mark=mark)


def write_own(path: str, text: str, *, mark: str) -> None:
    """Write one file; one that is there already is replaced only if it contains `mark`. Raises InputError."""
    _refuse_foreign(Path(path), mark)
    try:
        Path(path).write_text(text, encoding="utf-8", newline="\n")
    except (FileNotFoundError, NotADirectoryError):
        raise _refused(path, "the folder to write to does not exist", "Make the folder first, or check it.") from None
    except (OSError, ValueError) as error:
        raise _refused(path, f"the file cannot be written: {_reason(error)}", "Give another name or folder.") from None


def refuse_foreign(path: str, *, mark: str) -> None:
    """Refuse, before anything is computed, a name of a file without `mark`, or in no folder. Raises InputError."""
    if not Path(path).parent.is_dir():
        raise _refused(path, "the folder to write to does not exist", "Make the folder first, or check it.")
    _refuse_foreign(Path(path), mark)


def keep_the_site(site: str, out: str) -> None:
    """Refuse the site file as the place for a picture or a page, whatever stands in it. Raises InputError."""
    try:
        same = Path(out).samefile(site)
    except (OSError, ValueError):
        return
    if same:
        what = "this is the site file itself; it was left as it is"
        raise _refused(out, what, "Give the picture another name, such as plan.svg.")


def refuse_taken(path: str) -> None:
    """Refuse a name that is taken before anything is computed. Raises InputError."""
    if os.path.lexists(path):
        raise _taken(path)


def _taken(path: str) -> InputError:
    what = "there is a file of this name already; it was left as it is"
    return _refused(path, what, "Give another name, or move the file away first.")


def write_new(path: str, text: str) -> None:
    """Write one file that is not there yet, its line ends as they are; it is there whole or not at all.

    Raises InputError.
    """
    try:
        data, file = text.encode(), Path(path)
        if os.path.lexists(file):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
        with _part(file, data) as part:
            _put_new(part, file)
        _settle(file.parent)
    except FileExistsError:
        raise _taken(path) from None
    except (FileNotFoundError, NotADirectoryError):
        raise _refused(path, "the folder to write to does not exist", "Make the folder first, or check it.") from None
    except (OSError, ValueError) as error:
        raise _refused(path, f"the file cannot be written: {_reason(error)}", "Give another name or folder.") from None


def replace_own(path: str, text: str) -> str:
    """Replace a file a person wrote, once a copy of it stands beside it; returns the name of the copy.

    The copy is `NAME.yaml.before`, then `.before-2` and so on, never over one that is there. A link is followed: what
    it points to is replaced. Raises InputError; the file is then as it was.
    """
    try:
        data = text.encode()
        file = Path(path).resolve(strict=True)
        if not file.is_file():
            raise _refused(path, "this is no ordinary file; nothing was written", "Give the name of a file.")
        there = file.read_bytes()
        if not os.access(file, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        mode = stat.S_IMODE(file.stat().st_mode)
        with _part(file, data, mode) as part:
            copy = _copy(file, there, mode)
            try:
                if file.read_bytes() != there:
                    what = "another program changed this file meanwhile; it was left as it is"
                    raise _refused(path, what, "Look at it, then start again.")
                part.replace(file)
            except BaseException:
                if part.exists():  # it has not taken the file's name: the copy is not needed
                    copy.unlink(missing_ok=True)
                raise
    except FileNotFoundError:
        raise _refused(path, "there is no such file; nothing was written", "Check its name.") from None
    except (OSError, ValueError, RuntimeError) as error:
        raise _refused(path, f"the file cannot be written: {_reason(error)}", "Give another name or folder.") from None
    _settle(file.parent)
    return str(Path(path).with_name(copy.name)) if file.parent == Path(path).parent.resolve() else str(copy)


def _copy(file: Path, there: bytes, mode: int) -> Path:
    """A copy beside a file, under a name that was free."""
    with _part(file, there, mode) as part:
        for number in range(1, MOST_COPIES + 1):
            copy = file.with_name(f"{file.name}.before" + (f"-{number}" if number > 1 else ""))
            with suppress(FileExistsError):
                _put_new(part, copy)
                return copy
    raise OSError(errno.EEXIST, f"there are {MOST_COPIES} copies beside it already; move some away")


@contextmanager
def _part(file: Path, data: bytes, mode: int | None = None) -> Iterator[Path]:
    """The whole text under a passing name in the same folder, on the disk; nothing of it stays behind."""
    handle, name = tempfile.mkstemp(prefix=f".{file.name[:60]}.", suffix=".part", dir=file.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        part.chmod(_usual_mode() if mode is None else mode)
        yield part
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _put_new(part: Path, file: Path) -> None:
    """Give a whole file its name, never over another one. Raises FileExistsError."""
    try:
        os.link(part, file)
    except FileExistsError:
        raise
    except (OSError, NotImplementedError):  # a disk without hard links
        made = False
        try:
            with file.open("xb") as stream:
                made = True
                stream.write(part.read_bytes())
                stream.flush()
                os.fsync(stream.fileno())
        except BaseException:
            if made:
                file.unlink(missing_ok=True)
            raise


def _usual_mode() -> int:
    """The permissions a new file has here."""
    mask = os.umask(0o077)
    os.umask(mask)
    return 0o666 & ~mask


def _settle(folder: Path) -> None:
    """Ask the disk to keep the new name; where a folder cannot be opened it does so by itself."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _refuse_foreign(path: Path, mark: str) -> None:
    if path.exists() and not path.is_file() and not path.is_dir():
        raise _refused(str(path), "this is no ordinary file; nothing was written", "Give the name of a file.")
    try:
        there = path.read_text(encoding="utf-8", errors="replace")
    except (OSError, ValueError):
        return
    if mark not in there:
        what = "there is a file of this name already that this command did not write; it was left as it is"
        raise _refused(str(path), what, "Give another name, or move the file away first.")


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)


def _refused(path: str, what: str, help: str) -> InputError:
    return InputError(path, [Problem(Position(0, 0), what, help)])
