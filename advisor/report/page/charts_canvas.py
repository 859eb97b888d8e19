"""A sheet to draw on, in px from the top left: shapes by matplotlib, words as plain SVG text, one small SVG of both.

Words do not go through matplotlib: it would look for fonts, read `$` as mathematics and complain about letters its own
font lacks. Here every text passes `inert` and stands in the picture as it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO
from itertools import chain
from math import pi
from xml.etree import ElementTree as Xml

from advisor.errors import InputError, Position, Problem
from advisor.report.svg import element, number, text, width_of, wrapped
from advisor.units import inert

INK, GREY, PALE, GRID, ACCENT, TINT = "#1c2326", "#59646a", "#9aa4a9", "#dde2e4", "#0b3f8a", "#c3d1e6"
FONTS = "Arial, Helvetica, 'Liberation Sans', 'DejaVu Sans', sans-serif"
SIZE, SMALL = 11.0, 10.0
"""Sizes of text in px."""
LEADING = 13.0
"""From line to line, px."""
WIDE, NARROW = 680.0, 340.0
"""Widths of a picture in px."""

MOST = 1e15
"""The greatest number that can be drawn."""

Dot = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, top, width, height in px."""

_SVG = "{http://www.w3.org/2000/svg}"
_DECIMALS = re.compile(r"-?\d+\.\d+(?:e-?\d+)?")
_REFERENCE = re.compile(r"#([^)\"]+)[)\"]")
_LINK = "{http://www.w3.org/1999/xlink}href"
_DROPPED = ("metadata", "style")


@contextmanager
def sheet(width: float, height: float) -> Iterator[Sheet]:
    """An empty sheet of this size in px. Meanwhile matplotlib has its own settings, afterwards those it had before."""
    try:
        import matplotlib
    except ImportError:
        what = "pictures of numbers need matplotlib, which is not installed"
        help = "Install the program with its extra `report`, or leave the pictures out with `--without charts`."
        raise InputError("charts", [Problem(Position(0, 0), what, help)]) from None
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams["svg.hashsalt"] = "advisor"
        matplotlib.rcParams["hatch.linewidth"] = 0.9
        matplotlib.rcParams["path.simplify_threshold"] = 0.4  # px by which a long line may be off
        yield Sheet(width, height)


class Sheet:
    """What is drawn, in px from the top left. Later shapes lie on earlier ones, words on all shapes."""

    def __init__(self, width: float, height: float) -> None:
        from matplotlib.figure import Figure

        self.width, self.height = width, height
        self._figure = Figure(figsize=(width / 72, height / 72), dpi=72, frameon=False)
        self._axes = self._figure.add_axes((0, 0, 1, 1), xlim=(0, width), ylim=(height, 0))
        self._axes.set_axis_off()
        self._words: list[str] = []

    def shapes(
        self,
        name: str,
        polygons: Sequence[Sequence[Dot]],
        *,
        fill: str,
        edge: str = "none",
        line: float = 0.8,
        hatch: str | None = None,
    ) -> None:
        """Closed shapes of one look; `name` is the class of their group, a hatch has the colour of the edge."""
        from matplotlib.collections import PolyCollection

        if polygons:
            self._axes.add_collection(
                PolyCollection(
                    polygons, facecolors=fill, edgecolors=edge, linewidths=line, hatch=hatch, gid=name, clip_on=False,
                    zorder=self._next(),
                ),
                autolim=False,
            )  # fmt: skip

    def boxes(
        self,
        name: str,
        boxes: Sequence[Box],
        *,
        fill: str,
        edge: str = "none",
        line: float = 0.8,
        hatch: str | None = None,
    ) -> None:
        """Rectangles of one look."""
        corners = [((x, y), (x + wide, y), (x + wide, y + high), (x, y + high)) for x, y, wide, high in boxes]
        self.shapes(name, corners, fill=fill, edge=edge, line=line, hatch=hatch)

    def lines(
        self, name: str, lines: Sequence[Sequence[Dot]], *, colour: str, width: float, dash: tuple[float, ...] = ()
    ) -> None:
        """Open lines of one look; `dash` in px on and off."""
        from matplotlib.collections import LineCollection

        if lines:
            style = (0, tuple(part / width for part in dash)) if dash else "solid"
            self._axes.add_collection(
                LineCollection(
                    lines, colors=colour, linewidths=width, linestyles=[style], gid=name, clip_on=False,
                    zorder=self._next(),
                ),
                autolim=False,
            )  # fmt: skip

    def dots(self, name: str, spots: Sequence[Dot], radius: float, *, fill: str, edge: str = "none") -> None:
        """Circles of one look."""
        from matplotlib.collections import CircleCollection

        if spots:
            area = pi * radius**2
            self._axes.add_collection(
                CircleCollection(
                    [area], offsets=spots, offset_transform=self._axes.transData, facecolors=fill, edgecolors=edge,
                    linewidths=1.0, gid=name, clip_on=False, zorder=self._next(),
                ),
                autolim=False,
            )  # fmt: skip

    def words(
        self,
        x: float,
        y: float,
        content: str,
        *,
        size: float = SIZE,
        anchor: str | None = None,
        bold: bool = False,
        fill: str | None = None,
        halo: bool = False,
    ) -> None:
        """A line of text on a base line; `anchor` start (None), middle or end; `halo` clears what lies behind it."""
        told = text(
            x, y, content, text_anchor=anchor, font_size=None if size == SIZE else size,
            font_weight="bold" if bold else None, fill=fill, stroke="#fff" if halo else None,
            stroke_width=3.0 if halo else None, paint_order="stroke" if halo else None,
        )  # fmt: skip
        self._words.append(told)

    def _next(self) -> int:
        return len(self._axes.collections)

    def svg(self) -> str:
        """The picture: one element, without anything that is not seen."""
        raw = StringIO()
        self._figure.savefig(raw, format="svg", metadata={"Date": None})
        names = {str(drawn.get_gid()) for drawn in self._axes.collections}
        shapes = "".join(Xml.tostring(part, encoding="unicode") for part in _tidy(raw.getvalue(), names))
        words = element("g", *self._words, font_family=FONTS, font_size=SIZE, fill=INK) if self._words else ""
        size = f'width="{number(self.width)}" height="{number(self.height)}"'
        box = f'viewBox="0 0 {number(self.width)} {number(self.height)}"'
        return f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box}>{shapes}{words}</svg>'


def _tidy(raw: str, names: set[str]) -> list[Xml.Element]:
    """What stands inside the SVG: two decimals, `names` as classes, no other ids than those referred to."""
    root = Xml.fromstring(raw)
    used = set(_REFERENCE.findall(raw))
    return list(chain.from_iterable(_tidied(child, names, used) for child in root))


def _tidied(part: Xml.Element, names: set[str], used: set[str]) -> list[Xml.Element]:
    """One element as it stays: itself, nothing, or what is inside a group that says nothing."""
    tag = part.tag.removeprefix(_SVG)
    if tag in _DROPPED:
        return []
    kept = Xml.Element(tag)
    for key, value in part.attrib.items():
        if key == "id" and value in names:
            kept.set("class", value)
        elif key != "id" or value in used:
            kept.set(
                "href" if key == _LINK else key,
                _DECIMALS.sub(_rounded, " ".join(value.split()).replace(": ", ":").replace("; ", ";")),
            )
    kept.extend(chain.from_iterable(_tidied(child, names, used) for child in part))
    if tag in ("g", "defs") and not len(kept):
        return []
    if tag == "g":
        styles = {child.get("style") for child in kept}
        if len(styles) == 1 and (style := styles.pop()):
            kept.set("style", style)
            for child in kept:
                del child.attrib["style"]
    return [kept] if tag != "g" or kept.attrib else list(kept)


def _rounded(found: re.Match[str]) -> str:
    return f"{round(float(found[0]), 2) + 0.0:.10g}"


@dataclass(frozen=True, slots=True)
class Scale:
    """Values to px: `low` lies at `start`, `high` at `end`."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def ticks(self, most: int) -> list[float]:
        """Round values between the ends, at most about `most` of them."""
        slack = (self.high - self.low) * 1e-9
        found = round_ticks(self.low, self.high, most)
        return [value for value in found if self.low - slack <= value <= self.high + slack]

    def fitting(self, unit: str = "") -> list[float]:
        """As many round values as have room for their texts side by side."""
        room = abs(self.end - self.start)
        for most in range(int(room / 44.0), 1, -1):
            ticks = self.ticks(most)
            widest = max((width_of(tick_text(tick) + unit, SMALL) for tick in ticks), default=0.0)
            if len(ticks) > 1 and (widest + 10.0) * (len(ticks) - 1) <= abs(self(ticks[-1]) - self(ticks[0])):
                return ticks
        return self.ticks(1)


def round_ticks(low: float, high: float, most: int, *, whole: bool = False) -> list[float]:
    """Round values from below `low` to above `high` in about `most` steps; `whole`: no fractions."""
    from matplotlib.ticker import MaxNLocator

    found = MaxNLocator(nbins=max(most, 1), steps=[1, 2, 5, 10], integer=whole, min_n_ticks=1).tick_values(low, high)
    return [float(value) + 0.0 for value in found]


def tick_text(value: float) -> str:
    """A value of an axis: plain up to eight digits."""
    return f"{round(value, 9) + 0.0:.{8 if abs(value) < 1e8 else 3}g}"


def shortened(content: str, size: float, width: float) -> str:
    """A text made harmless and cut with … so that it is no wider than `width` px."""
    content = inert(content)
    if width_of(content, size) <= width:
        return content
    left = width - width_of("…", size)
    kept = ""
    for char in content:
        left -= width_of(char, size)
        if left < 0:
            break
        kept += char
    return f"{kept.rstrip()}…"


def lines_of(content: str, size: float, width: float, most: int = 2) -> list[str]:
    """A text in at most so many lines no wider than `width` px; what is left over is cut with …."""
    content = inert(content).strip()
    enough = shortened(content, size, width * (most + 1))
    found = list(wrapped(enough, size, width))
    if len(found) <= most:
        return found
    return [*found[: most - 1], shortened(" ".join(found[most - 1 :]), size, width)]


def listed(head: str, entries: Sequence[str], size: float, width: float, most: int) -> list[str]:
    """Entries behind a word, in at most so many lines broken between entries; how many more there are at the end."""
    found: list[str] = []
    now = head
    for index, entry in enumerate(entries):
        told = shortened(entry, size, 0.9 * width) + ("," if index < len(entries) - 1 else "")
        more = f" and {len(entries) - index} more"
        last = len(found) == most - 1 and index < len(entries) - 1
        if width_of(f"{now} {told}{more if last else ''}", size) <= width:
            now = f"{now} {told}"
        elif len(found) == most - 1:
            return [*found, now.rstrip(",") + more]
        else:
            found.append(now)
            now = told
    return [*found, now] if entries else []


Sign = Callable[[Sheet, float, float], None]
"""Draws a sample 20 px wide: left end and middle height."""
Key = Sequence[tuple[str, Sign]]
"""What the signs of a picture mean."""
_SAMPLE = 26.0
_KEY_LINE = 15.0


def _key_spots(key: Key, width: float) -> list[Dot]:
    """Left end and line of every entry, side by side as far as they fit."""
    x, line, found = 0.0, 0, []
    for told, _ in key:
        wide = _SAMPLE + width_of(told, SMALL)
        if x and x + wide > width:
            x, line = 0.0, line + 1
        found.append((x, float(line)))
        x += wide + 14.0
    return found


def key_height(key: Key, width: float) -> float:
    """Height of a key in px."""
    return _KEY_LINE * (_key_spots(key, width)[-1][1] + 1) + 4.0 if key else 0.0


def draw_key(page: Sheet, key: Key, top: float) -> None:
    """Samples with their words, from `top` on."""
    for (told, sign), (x, line) in zip(key, _key_spots(key, page.width), strict=True):
        y = top + _KEY_LINE * line + 11.0
        sign(page, x + 1.0, y - 3.5)
        page.words(x + _SAMPLE, y, told, size=SMALL, fill=GREY)


def nothing(narrow: bool) -> str:
    """A picture that says that there is nothing to show."""
    with sheet(NARROW if narrow else WIDE, 24.0) as page:
        page.words(0.0, 16.0, "nothing to show", fill=GREY)
        return page.svg()


def checked(values: Iterable[float | None], least: float = -MOST) -> None:
    """Refuse numbers that have no place in a picture."""
    for value in values:
        if value is not None and not least <= value <= MOST:
            raise ValueError(f"{value} cannot be drawn: it is not from {least:g} to {MOST:g}")
