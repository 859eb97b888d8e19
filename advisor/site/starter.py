"""The site file a person starts from."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from advisor.errors import InputError, Position, Problem


def text() -> str:
    """A commented site file, an invented example, that loads as it is."""
    return files("advisor.data").joinpath("starter.yaml").read_text(encoding="utf-8")


def write(path: str | Path) -> None:
    """Write the starter to a new file; raises `InputError` where something is there already or cannot be written."""
    try:
        with Path(path).open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text())
    except FileExistsError:
        raise _refused(
            path,
            "there is a file of this name already; it was left as it is",
            "Give another name, or move the file away first.",
        ) from None
    except (FileNotFoundError, NotADirectoryError):
        raise _refused(
            path, "the folder to write to does not exist", "Make the folder first, or check its name."
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refused(path, f"the file cannot be written: {reason}", "Give another name or folder.") from None


def _refused(path: str | Path, what: str, help: str) -> InputError:
    return InputError(str(path), [Problem(Position(0, 0), what, help)])
