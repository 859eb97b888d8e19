"""Writing files a person asked for: never over something the program did not write itself."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from advisor.errors import InputError, Position, Problem


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


def refuse_taken(path: str) -> None:
    """Refuse a name that is taken before anything is computed. Raises InputError."""
    if Path(path).exists():
        what = "there is a file of this name already; it was left as it is"
        raise _refused(path, what, "Give another name, or move the file away first.")


def write_new(path: str, text: str) -> None:
    """Write one file that is not there yet, its line ends as they are. Raises InputError."""
    try:
        with Path(path).open("x", encoding="utf-8", newline="") as stream:
            stream.write(text)
    except FileExistsError:
        refuse_taken(path)
    except (FileNotFoundError, NotADirectoryError):
        raise _refused(path, "the folder to write to does not exist", "Make the folder first, or check it.") from None
    except (OSError, ValueError) as error:
        raise _refused(path, f"the file cannot be written: {_reason(error)}", "Give another name or folder.") from None


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
