"""From the text of a site file to a `Site`, with the place of every value; all problems at once."""

from __future__ import annotations

import copy
import json
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from advisor.errors import InputError, Position, Problem
from advisor.site import references, yaml_reader
from advisor.site.schema import Site
from advisor.site.wording import MOST_PROBLEMS, capped, nearest, plainly
from advisor.site.yaml_reader import Document, Path, Spot


@dataclass(frozen=True)
class LoadedSite:
    """A site as declared, the file's name as the user gave it, and the document with the place of every value."""

    site: Site
    file: str
    document: Document

    def spot(self, path: str | Path) -> Spot | None:
        """The spot of the value at a path (`nodes.stair.radios.r5.channel`), None where the user wrote none."""
        steps, whole = self._steps(path)
        return self.document.spots.get(steps) if whole else None

    def gave(self, path: str | Path) -> bool:
        """True when the user wrote a value there."""
        spot = self.spot(path)
        return spot is not None and not (spot.plain and spot.raw in ("", "~", "null", "Null", "NULL"))

    def where(self, path: str | Path) -> str:
        """`file:line:column` of the value at a path, or of the word above a block or list; where the user wrote
        nothing there, of the nearest block that would hold it."""
        position = self.position(path)
        return f"{self.file}:{position.line}:{position.column}"

    def line(self, path: str | Path) -> str:
        """`file:line`, as `where`."""
        return f"{self.file}:{self.position(path).line}"

    def position(self, path: str | Path) -> Position:
        """The position `where` tells."""
        steps, _ = self._steps(path)
        spot = self.document.spots[steps]
        if spot.raw is None and steps in self.document.keys:
            return self.document.keys[steps].position
        return spot.position

    def _steps(self, path: str | Path) -> tuple[Path, bool]:
        """The path as far as the document goes, and whether that is all of it. Keys may contain dots (`"2.4"`)."""
        if not isinstance(path, str):
            while path not in self.document.spots:
                path = path[:-1]
                if path in self.document.spots:
                    return path, False
            return path, True
        words = path.split(".") if path else []
        here: Any = self.document.value
        steps: list[str | int] = []
        while words:
            for length in range(len(words), 0, -1):
                step = _step(here, ".".join(words[:length]))
                if step is not None:
                    steps.append(step)
                    here = here[step]
                    words = words[length:]
                    break
            else:
                break
        return tuple(steps), not words


def _step(here: Any, word: str) -> str | int | None:
    if isinstance(here, dict):
        return word if word in here else None
    if isinstance(here, list) and word.isdecimal() and len(word) < 7 and int(word) < len(here):
        return int(word)
    return None


def load_site(path: str | FilePath) -> LoadedSite:
    """Load a site file; raises `InputError` with every problem found, sorted by line."""
    return load_text(_bytes(path), str(path))


def load_text(text: str | bytes, file: str) -> LoadedSite:
    """Load the text of a site file; `file` is the name used in messages."""
    data = text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass")
    document = yaml_reader.read(data, file)
    site, refusals = _validated(document)
    found: list[Problem] = []
    if site is None:
        from advisor.site import messages

        found = messages.problems(refusals, document)
    if len(found) <= MOST_PROBLEMS:
        taken = {problem.position for problem in found}
        found += [problem for problem in references.check(site, document) if problem.position not in taken]
    if found:
        raise InputError(file, capped(found))
    assert site is not None
    return LoadedSite(site, file, document)


def _validated(document: Document) -> tuple[Site | None, list[Any]]:
    """The site, or what the schema refuses.

    The schema is applied strictly: text is no number, true is not 1. Where text is asked for and a plain number or
    true/false is written (a band `5`, a name `12345`), it is read as written and the schema applied again.
    """
    value = document.value
    refusals: list[Any] = []
    for _ in range(4):
        try:
            return Site.model_validate_json(json.dumps(value), strict=True), []
        except ValidationError as error:
            refusals = error.errors(include_url=False, include_input=False)
        readings = _as_written(refusals, value, document)
        if not readings:
            break
        value = copy.deepcopy(value)
        for path, reading in readings.items():
            owner = value
            for part in path[:-1]:
                owner = owner[part]
            owner[path[-1]] = reading
    return None, refusals


def _as_written(refusals: list[Any], value: Any, document: Document) -> dict[Path, str | int]:
    """Other readings of refused plain scalars: the text as written, or 80.0 as the whole number it is."""
    readings: dict[Path, str | int] = {}
    for refusal in refusals:
        if refusal["type"] not in ("string_type", "literal_error", "int_type"):
            continue
        path, read = _scalar_at(refusal["loc"], value)
        if not path or read is None or isinstance(read, (str, list, dict)):
            continue
        spot = document.spots[path]
        if isinstance(read, float) and refusal["type"] == "int_type" and read.is_integer():
            readings[path] = int(read)
        elif refusal["type"] != "int_type" and spot.plain and spot.raw is not None:
            readings.setdefault(path, spot.raw)
    return readings


def _scalar_at(parts: tuple[str | int, ...], value: Any) -> tuple[Path, Any]:
    path: list[str | int] = []
    for part in parts:
        if isinstance(value, dict) and str(part) in value:
            path.append(str(part))
            value = value[str(part)]
        elif isinstance(value, list) and isinstance(part, int) and part < len(value):
            path.append(part)
            value = value[part]
    return tuple(path), value


def _bytes(path: str | FilePath) -> bytes:
    whole = Position(0, 0)
    file = FilePath(path)
    try:
        with file.open("rb") as stream:
            return stream.read(yaml_reader.MOST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        help = f"{_like(file)}`advisor ask FILE` makes one from your answers, `advisor new FILE` writes one to fill in."
        raise InputError(str(path), [Problem(whole, "there is no such file", help)]) from None
    except IsADirectoryError:
        raise InputError(
            str(path), [Problem(whole, "this is a folder, not a file", "Give the site file inside it.")]
        ) from None
    except PermissionError:
        raise InputError(
            str(path), [Problem(whole, "the file may not be read", "Change its permissions, or copy it.")]
        ) from None
    except (OSError, ValueError) as error:
        reason = plainly(getattr(error, "strerror", None) or str(error))
        raise InputError(
            plainly(str(path)),
            [Problem(whole, f"the file cannot be read: {reason}", "Check its name and where it lies.")],
        ) from None


def _like(file: FilePath) -> str:
    """`Did you mean …?` with the most similar YAML file beside the missing one."""
    try:
        beside = [entry.name for entry in file.parent.iterdir() if entry.suffix in (".yaml", ".yml")]
    except OSError:
        return ""
    found = nearest(file.name, beside)
    return f"Did you mean {file.parent / found}? " if found else ""
