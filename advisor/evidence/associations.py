"""An association log: which node the device was joined to, and since when; read from a table of text (CSV)."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass

from advisor.errors import InputError, Position, Problem
from advisor.evidence.files import clock_of, cut, text_of

TIMES = ("time", "time_s", "timestamp", "seconds")
NODES = ("node", "name", "bssid")
CHANNELS = ("channel",)
LEVELS = ("level_dbm", "level")
MOST_PROBLEMS = 20
HOW = (
    "Give a table with the columns time,node and, if known, channel,level_dbm; "
    "the time in seconds or as 2030-05-01T12:00:00+00:00."
)


@dataclass(frozen=True, slots=True)
class Association:
    """From `time_s` on the device was joined to `node` (empty: to none); level in dBm, negative."""

    time_s: float
    node: str
    channel: int | None = None
    level_dbm: float | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """The device left one node (empty: none) and joined another at `time_s`."""

    time_s: float
    left: str
    joined: str


@dataclass(frozen=True)
class AssociationLog:
    """The entries in the order of time, in seconds as the file counts them (see `files.EPOCH_S`)."""

    name: str
    entries: tuple[Association, ...]

    def changes(self) -> tuple[Change, ...]:
        """Moments at which the node differs from the one before."""
        found: list[Change] = []
        for before, after in zip(self.entries, self.entries[1:], strict=False):
            if before.node != after.node:
                found.append(Change(after.time_s, before.node, after.node))
        return tuple(found)


def read_associations(path: str) -> AssociationLog:
    """Read the log; raises `InputError` with every line that cannot be used."""
    return associations_text(text_of(str(path), HOW), str(path))


def associations_text(text: str, file: str) -> AssociationLog:
    """Read the text of a log; `file` is the name used in messages."""
    lines = text.split("\n")
    top = next(number for number, line in enumerate(lines) if line.strip())
    mark = max(",;\t", key=lines[top].count)
    rows = list(csv.reader(lines[top:], delimiter=mark))
    head = [name.strip().lower() for name in rows[0]]
    at = {kind: _column(head, names) for kind, names in _COLUMNS.items()}
    missing = [names for kind, names in (("time", TIMES), ("node", NODES)) if at[kind] is None]
    if missing:
        what = "; ".join(f"there is no column {' or '.join(names)}" for names in missing)
        raise InputError(file, [Problem(Position(top + 1, 1), what, HOW)])
    entries: list[Association] = []
    problems: list[Problem] = []
    for number, row in enumerate(rows[1:], top + 2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(head):
            what = f"{len(row)} cells where the head names {len(head)}"
            problems.append(Problem(Position(number, 1), what, "Give one cell for each column."))
            continue
        entry = _entry({kind: row[place].strip() for kind, place in at.items() if place is not None}, number, problems)
        if entry:
            entries.append(entry)
    if not entries and not problems:
        problems.append(Problem(Position(top + 1, 1), "no line follows the head", HOW))
    if problems:
        raise InputError(file, problems[:MOST_PROBLEMS])
    return AssociationLog(file, tuple(sorted(entries, key=lambda entry: entry.time_s)))


_COLUMNS = {"time": TIMES, "node": NODES, "channel": CHANNELS, "level": LEVELS}


def _column(head: list[str], names: tuple[str, ...]) -> int | None:
    return next((head.index(name) for name in names if name in head), None)


def _entry(cells: dict[str, str], number: int, problems: list[Problem]) -> Association | None:
    here = Position(number, 1)
    before = len(problems)
    time = clock_of(cells["time"])
    if time is None or not math.isfinite(time):
        help = "Allowed are seconds (12.5), 12:00:30 or 2030-05-01T12:00:00+00:00."
        problems.append(Problem(here, f"“{cut(cells['time'])}” is no time", help))
    channel = cells.get("channel", "")
    if channel and not (channel.isdecimal() and 1 <= int(channel[:6]) <= 233):
        help = "Allowed are channel numbers from 1 to 233, or nothing."
        problems.append(Problem(here, f"“{cut(channel)}” is no channel", help))
    level = _level(cells.get("level", ""))
    if level is not None and not -120 <= level <= 0:
        help = "A level is received power in dBm, from -120 to 0 (such as -67), or nothing; no percentage."
        problems.append(Problem(here, f"“{cut(cells['level'])}” is no level", help))
    if len(problems) > before or time is None:
        return None
    return Association(time, cells["node"], int(channel) if channel else None, level)


def _level(text: str) -> float | None:
    """The level in dBm; a number out of range (1) for what is no number, so that it is refused."""
    if not text:
        return None
    try:
        value = float(text.lower().removesuffix("dbm").strip().replace(",", ".").replace("−", "-"))
    except ValueError:
        return 1.0
    return value if math.isfinite(value) else 1.0
