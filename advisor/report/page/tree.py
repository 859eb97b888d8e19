"""The figures of a report as they stand in its JSON: each knows its path there, and is printed with it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, TypeAlias

from advisor.units import cell_text
from advisor.values import Known

MISSING = "?"
COUNT = "#"
"""At the end of a path: how many there are."""


@dataclass(frozen=True, slots=True)
class Told:
    """Something as printed, and where it stands in the JSON."""

    text: str
    path: str
    form: str = "told"

    def __str__(self) -> str:
        return self.text


Line: TypeAlias = "str | Told | list[Line]"
"""A piece of text: words of the report itself, something of the JSON, or several of these."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table: what it shows, its columns, its rows, the first cell of each heading it; then the columns of numbers."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[Line, ...], ...]
    numbers: tuple[int, ...] = ()
    note: str = ""
    plain: bool = False
    """Whether the first cells are sentences rather than names."""


class Tree:
    """A part of the JSON with its path. Keys are read as attributes; lists and objects are Trees again."""

    def __init__(self, data: Any, path: str) -> None:
        self.data, self.path = data, path

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)
        return self[name]

    def __getitem__(self, key: str | int) -> Any:
        value = self.data[key]
        return Tree(value, self.at(key)) if isinstance(value, (dict, list)) else value

    def __iter__(self) -> Iterator[Any]:
        keys = range(len(self.data)) if isinstance(self.data, list) else list(self.data)
        return (self[key] for key in keys) if isinstance(self.data, list) else iter(keys)

    def pairs(self) -> Iterator[tuple[str, Any]]:
        """Keys and values of an object, in its order."""
        return ((key, self[key]) for key in self.data)

    def __len__(self) -> int:
        return len(self.data)

    def __bool__(self) -> bool:
        return bool(self.data)

    def of(self, key: str | int, form: str = "told", digits: int | None = None) -> Told:
        """A value as the report prints it."""
        print_it = FORMS[form]
        text = print_it(self.data[key], digits) if form == "told" else print_it(self.data[key])
        return Told(text, self.at(key), form)

    def count(self, key: str | int) -> Told:
        """How many entries a list or an object has."""
        return Told(str(len(self.data[key])), f"{self.at(key)}/{COUNT}")

    def all(self, key: str | int, form: str = "told") -> list[Told]:
        """Every entry of a list of words."""
        return [Told(told(value), f"{self.at(key)}/{number}", form) for number, value in enumerate(self.data[key])]

    def all_of(self) -> list[Told]:
        """Every entry of this list of words."""
        return [Told(told(value), self.at(number)) for number, value in enumerate(self.data)]

    def at(self, key: str | int) -> str:
        return f"{self.path}/{_escaped(key)}"


def listed(names: Iterable[Line], most: int = 12) -> Line:
    """`a, b and c`; of many the first ones and how many more."""
    found = list(names)
    more = len(found) - most
    if more > 1:
        return [*_with_commas(found[:most]), f" and {more} more"]
    return [*_with_commas(found[:-1]), " and ", found[-1]] if len(found) > 1 else found


def _with_commas(names: list[Line]) -> list[Line]:
    return [part for number, name in enumerate(names) for part in ((", ", name) if number else (name,))]


def _escaped(key: str | int) -> str:
    """A key as a part of a JSON Pointer (RFC 6901)."""
    return str(key).replace("~", "~0").replace("/", "~1")


def told(value: Any, digits: int | None = None) -> str:
    """A number, a quantity with its band, a row of low, middle and high, or a word, as the report prints it."""
    if value is None:
        return MISSING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if isinstance(value, (int, float)):
        return _number(value, digits)
    if isinstance(value, list):
        return cell_text(Known(value[0], value[1], value[2]), "", digits)
    return _quantity(value, digits)


def share(value: float | None) -> str:
    """A share as a percentage."""
    if value is None:
        return MISSING
    return "under 1 %" if 0 < value < 0.01 else f"{round(100 * value)} %"


def of_ten(value: float | None) -> str:
    """A chance as cases of ten, or of a hundred where it is small."""
    if value is None:
        return MISSING
    if 0 < value < 0.1:
        return f"{_number(round(100 * value, 1))} of 100"
    return f"{_number(round(10 * value, 1))} of 10"


def minutes(value: float) -> str:
    """A length of work: `15 min`, `2.5 h`."""
    return f"{_number(round(value))} min" if value < 90 else f"{_number(round(value / 60, 1))} h"


def seconds(value: float | None) -> str:
    """A length of time: `0.4 s`, `18 s`, `2.6 min`, `1.5 h`."""
    if value is None:
        return "not by itself"
    if value < 90:
        return f"{_number(round(value, 1 if value < 10 else 0))} s"
    return f"{_number(round(value / 60, 1))} min" if value < 5400 else f"{_number(round(value / 3600, 1))} h"


FORMS: dict[str, Callable[..., str]] = {
    "told": told,
    "typed": told,
    "assumed": lambda value: value.removeprefix("assumed; "),
    "share": share,
    "of ten": of_ten,
    "minutes": minutes,
    "seconds": seconds,
}


def _number(value: float, digits: int | None = None) -> str:
    return f"{value:.10g}" if digits is None else f"{round(value, digits) + 0.0:.{max(digits, 0)}f}"


def _quantity(value: dict[str, Any], digits: int | None) -> str:
    """A quantity of the JSON: known with its band, one answer per option, or unknown."""
    if "state" not in value:
        return cell_text(Known(value["centre"], value["low"], value["high"]), value.get("unit", ""), digits)
    if value["state"] == "unknown":
        return MISSING
    if value["state"] == "options":
        answers = [told(answer["centre"], _digits(answer, digits)) for answer in value["options"].values()]
        return answers[0] if len(set(answers)) == 1 else " / ".join(answers)
    band = Known(value["centre"], value["low"], value["high"])
    return cell_text(band, value["unit"], _digits(value, digits))


def _digits(value: dict[str, Any], digits: int | None) -> int | None:
    """Speeds of 20 Mb/s and more are told without decimals, below that with one."""
    centre = value.get("centre")
    if value.get("unit") == "Mb/s" and isinstance(centre, (int, float)):
        return 0 if centre >= 20 else 1
    return digits
