"""What the program prints about a site: the commands are called as a person calls them, their output is read."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from pathlib import Path
from statistics import mean
from typing import Any

from typer.testing import CliRunner

from advisor.cli.app import app


class Refused(Exception):
    """The program took the site for wrong, or used it otherwise than it was meant."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A printed figure with its 10 and 90 % ends; both None where the output has no band."""

    centre: float
    low: float | None
    high: float | None

    def up_to(self, offered: float) -> Figure:
        """What a client that offers this much gets; the good end stays what is printed."""
        return Figure(min(self.centre, offered), None if self.low is None else min(self.low, offered), self.high)

    def times(self, count: int) -> Figure:
        low, high = (None if end is None else count * end for end in (self.low, self.high))
        return Figure(count * self.centre, low, high)


def run(site: Path, *arguments: str) -> str:
    """The output of a command about a site. Raises Refused with what the program says where it ends in an error."""
    command, *options = arguments
    result = CliRunner().invoke(app, [command, str(site), *options])
    if result.exit_code not in (0, 1) or (result.exception and not isinstance(result.exception, SystemExit)):
        raise Refused(result.stderr.strip().replace(str(site), site.name) or repr(result.exception))
    return result.stdout


def capacity(site: Path) -> dict[str, dict[str, Any]]:
    """What `advisor capacity` prints about each place."""
    output = json.loads(run(site, "capacity", "--format", "json"))
    return {place["place"]: place for place in output["places"]}


def joined(place: dict[str, Any]) -> str:
    """The radio a place joins in every case."""
    joins = place["joins"]
    if joins["state"] != "known" or not joins["low"] == joins["centre"] == joins["high"]:
        raise Refused(f"{place['place']} joins now this radio, now that")
    return str(joins["centre"])


def figure(place: dict[str, Any], name: str) -> Figure:
    """One figure of a place."""
    quantity = place[name]
    if quantity["state"] != "known":
        raise Refused(f"{name} of {place['place']} is not known: {quantity['missing']}")
    return Figure(float(quantity["centre"]), float(quantity["low"]), float(quantity["high"]))


@dataclass(frozen=True, slots=True)
class Call:
    """What is printed about a call: delay one way in each direction, and its quality."""

    down_ms: Figure
    up_ms: Figure
    mos: Figure


def call(site: Path, walk: str) -> Call:
    """What `advisor walk` prints about a call held while standing still."""
    entry = json.loads(run(site, "walk", walk, "--format", "json", "--draws", "10"))["walks"][0]
    low, centre, high = entry["worst_mos"]
    mos = Figure(centre, low, high)
    down, up = (_found(entry, f"delay_{direction}_ms") for direction in ("down", "up"))
    if down is None or up is None:  # one delay for both directions, in the course alone
        rows = list(csv.DictReader(io.StringIO(run(site, "walk", walk, "--format", "csv", "--draws", "10"))))
        down = up = Figure(mean(float(row["delay_ms"]) for row in rows), None, None)
    return Call(down, up, mos)


def _found(entry: Any, name: str) -> Figure | None:
    """A figure of this name at any depth: a number, a low, centre and high, or a quantity as JSON has it."""
    if isinstance(entry, list):
        return next((found for part in entry if (found := _found(part, name)) is not None), None)
    if not isinstance(entry, dict):
        return None
    if name not in entry:
        return _found(list(entry.values()), name)
    value = entry[name]
    if isinstance(value, dict):
        return Figure(float(value["centre"]), float(value["low"]), float(value["high"]))
    if isinstance(value, list):
        low, centre, high = value
        return Figure(float(centre), float(low), float(high))
    return None if value is None else Figure(float(value), None, None)
