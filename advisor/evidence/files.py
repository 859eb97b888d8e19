"""Files saved by other programs: their bytes, and the text in whatever encoding a system wrote it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from advisor.errors import InputError, Position, Problem
from advisor.units import inert

MOST_BYTES = 20_000_000
"""A day of one run at one line a second is about 7 MB."""
WHOLE = Position(0, 0)
EPOCH_S = 1e8
"""Seconds from here on are seconds since 1970; fewer are seconds of a day or of a run."""
DAY_S = 86_400.0


def refused(file: str, what: str, help: str, line: int = 0) -> InputError:
    """One problem of a file, at a line (0: the file as a whole)."""
    return InputError(file, [Problem(Position(line, 1 if line else 0), what, help)])


def cut(text: str, most: int = 60) -> str:
    """A piece of a foreign text, harmless and short enough for a message."""
    text = text.strip()
    return inert(text if len(text) <= most else text[: most - 1] + "…")


def bytes_of(path: str, help: str) -> bytes:
    """The file's bytes; `help` says how to make such a file."""
    try:
        with Path(path).open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        raise refused(path, "there is no such file", help) from None
    except IsADirectoryError:
        raise refused(path, "this is a folder, not a file", "Give the file inside it.") from None
    except PermissionError:
        raise refused(path, "the file may not be read", "Change its permissions, or copy it.") from None
    except (OSError, ValueError) as error:
        reason = cut(getattr(error, "strerror", None) or str(error))
        raise refused(cut(path), f"the file cannot be read: {reason}", "Check its name and where it lies.") from None
    if len(data) > MOST_BYTES:
        raise refused(path, f"the file has more than {MOST_BYTES:,} bytes", "Give one run of at most a day.")
    return data


def text_of(path: str, help: str) -> str:
    """The file's text with line ends as `\\n`; raises `InputError` for what is empty or no text."""
    text = decoded(bytes_of(path, help)).replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise refused(path, "the file is empty", help)
    if text.count("\0") > 0:
        raise refused(path, "this is not a text file", help)
    return text


def decoded(data: bytes) -> str:
    """UTF-8, UTF-16 (with its mark, or by every other byte being zero), else a western page of one byte a character.

    Which of the two western pages is told by the bytes 0x80–0x9F: letters in the older (cp850), signs that ping does
    not print, but for the apostrophe 0x92, in the newer (cp1252).
    """
    for mark, encoding in ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if data.startswith(mark):
            return data[len(mark) :].decode(encoding, "replace")
    head = data[:2000]
    if len(head) >= 4 and head[1::2].count(0) > len(head) * 0.4:
        return data.decode("utf-16-le", "replace")
    if len(head) >= 4 and head[0::2].count(0) > len(head) * 0.4:
        return data.decode("utf-16-be", "replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.reason == "unexpected end of data":
            return data[: error.start].decode("utf-8")
    older = any(0x80 <= byte <= 0x9F and byte != 0x92 for byte in data)
    return data.decode("cp850" if older else "cp1252", "replace")


def clock_of(text: str) -> float | None:
    """Seconds since 1970 of an ISO 8601 time (without a zone: as if UTC), seconds of the day of `hh:mm:ss`, or the
    number that stands there; None for anything else."""
    text = text.strip().replace(",", ".")
    try:
        value = float(text)
        return value if abs(value) < 1e12 else None
    except ValueError:
        pass
    parts = text.split(":")
    if len(parts) == 3 and parts[0].isdecimal():
        try:
            hours, minutes, seconds = int(parts[0]), int(parts[1]), float(parts[2])
        except ValueError:
            return None
        return 3600.0 * hours + 60.0 * minutes + seconds if hours < 24 and minutes < 60 and seconds < 61 else None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()
