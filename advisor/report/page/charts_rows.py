"""Pictures in rows: bars beside what is needed, and how long it takes until all is back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.report.page.charts_canvas import (
    ACCENT,
    GREY,
    GRID,
    INK,
    LEADING,
    NARROW,
    PALE,
    SIZE,
    SMALL,
    TINT,
    WIDE,
    Box,
    Dot,
    Scale,
    Sheet,
    Sign,
    checked,
    draw_key,
    key_height,
    lines_of,
    nothing,
    sheet,
    shortened,
    tick_text,
)
from advisor.report.svg import width_of
from advisor.units import cell_text
from advisor.values import Known

BAR = 11.0
"""Thickness of a bar, px."""
GAP = 9.0
"""Between a label, its bar and its value, px."""
LEAST = 1e-6
"""Where nothing is longer than this, an axis tells no values."""
BOLD = 1.15
"""How much wider bold words are than others."""
ROOM_ABOVE = 5.0
"""Above the first row, px."""
TALL = 420.0
"""From this height on the values of the axis stand above the rows too, px."""

SHORT = "short"
"""Said of what stays under its need."""
NEVER = "needs somebody"
"""Said of what does not come back by itself."""

MOST_OPTIONS = 4
"""Values told one by one where the equipment decides; of more only the ends."""

Whisker = tuple[float, float, float]
"""A band: from, to, at which height, px."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One row of `bars`; all numbers in the unit of the picture, none below zero."""

    label: str
    centre: float | None
    """The likely value; None: not known."""
    low: float | None
    """10 % point."""
    high: float | None
    """90 % point."""
    need: float | None
    """What is asked for; None: nothing."""
    options: tuple[float, ...] = ()
    """Likely values, one for each way in which the equipment may decide."""

    @property
    def short(self) -> bool:
        """Whether it stays under its need: the likely value or, where that is not known, every possible one."""
        likely = self.options if self.centre is None else (self.centre,)
        return self.need is not None and bool(likely) and max(likely) < self.need

    @property
    def numbers(self) -> tuple[float | None, ...]:
        return (self.centre, self.low, self.high, self.need, *self.options)


@dataclass(frozen=True, slots=True)
class Span:
    """One row of `spans`: seconds until all that comes back by itself is back."""

    label: str
    typical_s: float | None
    """None: it does not come back by itself."""
    low_s: float | None
    """The shortest time; None: not told."""
    high_s: float | None
    """The longest time; None: not told."""

    @property
    def back(self) -> bool:
        """Whether it comes back by itself."""
        return self.typical_s is not None

    @property
    def times(self) -> tuple[float | None, ...]:
        return (self.typical_s, self.low_s, self.high_s)


@dataclass(frozen=True, slots=True)
class _Rows:
    """Where rows stand, in px: labels left of the bars, or above them where it is narrow."""

    narrow: bool
    width: float
    left: float
    right: float
    """Ends of the bars' room."""
    labels: tuple[tuple[str, ...], ...]
    starts: tuple[float, ...]
    """Top of every row, and the end of the last."""

    @property
    def top(self) -> float:
        return self.starts[0]

    @property
    def end(self) -> float:
        return self.starts[-1]

    def middle(self, row: int) -> float:
        """Height of a bar's middle."""
        if self.narrow:
            return self.starts[row] + LEADING * len(self.labels[row]) + 4.0 + BAR / 2
        return (self.starts[row] + self.starts[row + 1]) / 2

    def label_base(self, row: int) -> float:
        """Base of a label's first line."""
        if self.narrow:
            return self.starts[row] + 10.0
        return self.middle(row) + 4.0 - LEADING * (len(self.labels[row]) - 1) / 2


def _rows(told: Sequence[str], values: Sequence[str], flag: str, narrow: bool) -> _Rows:
    """Room for labels, for values at the right and, right of these, for a word some rows carry."""
    width = NARROW if narrow else WIDE
    widths = [width_of(value, SIZE) * (BOLD if value == NEVER else 1.0) for value in values]
    ends = max(widths) + GAP + (width_of(flag, SIZE) * BOLD + GAP if flag else 0.0)
    room = width if narrow else 0.31 * width
    labels = tuple(tuple(lines_of(label, SIZE, room)) for label in told)
    left = 4.0 if narrow else min(max(width_of(line, SIZE) for lines in labels for line in lines), room) + GAP
    heights = [
        LEADING * len(lines) + BAR + 17.0 if narrow else max(LEADING * len(lines), BAR) + 12.0 for lines in labels
    ]
    starts = [ROOM_ABOVE + (18.0 if sum(heights) > TALL else 0.0)]
    for height in heights:
        starts.append(starts[-1] + height)
    return _Rows(narrow, width, left, width - max(ends, 44.0), labels, tuple(starts))


def bars(rows: Sequence[Bar], *, unit: str, narrow: bool) -> str:
    """Horizontal bars from zero, one a row: likely value, 10–90 % band, need, and what falls short of it.

    Without rows the picture says so; numbers below zero or above 1e15 are a ValueError.
    """
    if not rows:
        return nothing(narrow)
    checked((value for row in rows for value in row.numbers), least=0.0)
    flag = SHORT if any(row.short for row in rows) else ""
    place = _rows([row.label for row in rows], [_value(row) for row in rows], flag, narrow)
    most = max((value for row in rows for value in row.numbers if value is not None), default=0.0)
    scale = Scale(0.0, most * 1.02 if most > LEAST else 1.0, place.left, place.right)
    key = _bar_key(rows)
    with sheet(place.width, place.end + 20.0 + key_height(key, place.width)) as page:
        _axis(page, place, scale, unit, 1.0 if most > LEAST else None)
        _draw_bars(page, rows, place, scale)
        for number, row in enumerate(rows):
            base = place.middle(number) + 4.0
            if row.centre is None and not row.options:
                page.words(_beside(row.need, place, scale), base, "not known", fill=GREY)
            page.words(place.right + GAP, base, _value(row))
            if row.short:
                page.words(place.width, base, SHORT, anchor="end", bold=True)
        draw_key(page, key, place.end + 20.0)
        return page.svg()


def _beside(need: float | None, place: _Rows, scale: Scale) -> float:
    """Where words in place of a bar begin, px: beside the mark of the need if that stands there."""
    if need is not None and scale(need) < place.left + 5.0 + width_of("not known", SIZE):
        return scale(need) + 8.0
    return place.left + 5.0


def _value(row: Bar) -> str:
    """`62 (28–62)`; where the equipment decides alone `8 / 41`."""
    if not row.options and row.centre is not None:
        return _number(row.centre, row.low, row.high)
    told = list(dict.fromkeys(_number(value) for value in row.options))
    return " / ".join(told) if len(told) <= MOST_OPTIONS else f"{_number(min(row.options))}–{_number(max(row.options))}"


def _number(centre: float, low: float | None = None, high: float | None = None) -> str:
    """A number with its band; without decimals from 20 on and where all are whole."""
    if low is None or high is None:
        low = high = centre
    if max(centre, high) >= 1e8:
        return f"{centre:.3g}" if low == high else f"{centre:.3g} ({low:.3g}–{high:.3g})"
    whole = all(float(value).is_integer() for value in (centre, low, high))
    digits = 0 if whole or centre >= 20.0 else 1 if centre >= 0.1 or not centre else 2
    return cell_text(Known(centre, low, high), "", digits)


def _draw_bars(page: Sheet, rows: Sequence[Bar], place: _Rows, scale: Scale) -> None:
    zero = scale(0.0)
    enough: list[Box] = []
    short: list[Box] = []
    whiskers: list[Whisker] = []
    options: list[Dot] = []
    needs: list[Dot] = []
    for number, row in enumerate(rows):
        y = place.middle(number)
        if row.centre is not None:
            box = (zero, y - BAR / 2, scale(row.centre) - zero, BAR)
            (short if row.short else enough).append(box)
            if row.low is not None and row.high is not None:
                whiskers.append((scale(row.low), scale(row.high), y))
        options += [(scale(value), y) for value in row.options]
        if row.need is not None:
            needs.append((scale(row.need), y))
    _plain(page, "enough", enough)
    _hatched(page, "short", short)
    _options(page, "options", options)
    _whiskers(page, "bands", whiskers)
    _needs(page, "needs", needs)


def _whiskers(page: Sheet, name: str, whiskers: Sequence[Whisker]) -> None:
    """Thin bands with caps at their ends."""
    lines = [[(low, y), (high, y)] for low, high, y in whiskers]
    lines += [[(x, y - 3.0), (x, y + 3.0)] for low, high, y in whiskers for x in (low, high)]
    page.lines(name, lines, colour=INK, width=1.1)


def _needs(page: Sheet, name: str, needs: Sequence[Dot], high: float = BAR / 2 + 2.5) -> None:
    """Bold marks across a bar, with a triangle on top."""
    page.lines(name, [[(x, y - high), (x, y + high)] for x, y in needs], colour=INK, width=2.0)
    heads = [[(x - 3.8, y - high - 1.0), (x + 3.8, y - high - 1.0), (x, y - high + 5.0)] for x, y in needs]
    page.shapes(name, heads, fill=INK)


def _options(page: Sheet, name: str, options: Sequence[Dot]) -> None:
    """Thin ticks, higher than a bar."""
    high = BAR / 2 + 2.5
    page.lines(name, [[(x, y - high), (x, y + high)] for x, y in options], colour=ACCENT, width=1.1)


def _never(page: Sheet, name: str, lines: Sequence[Whisker]) -> None:
    """Dashed lines that end in no time, with a cross where they stop."""
    page.lines(name, [[(x, y), (end - 5.0, y)] for x, end, y in lines], colour=INK, width=1.2, dash=(4.0, 3.0))
    strokes = [[(end - 4.0, y - 4.0 * way), (end + 4.0, y + 4.0 * way)] for _, end, y in lines for way in (1.0, -1.0)]
    page.lines(name, strokes, colour=INK, width=2.0)


def _plain(page: Sheet, name: str, boxes: Sequence[Box]) -> None:
    page.boxes(name, boxes, fill=TINT, edge=ACCENT)


def _hatched(page: Sheet, name: str, boxes: Sequence[Box]) -> None:
    page.boxes(name, boxes, fill="#ffffff", edge=ACCENT, hatch="////")


def _bar_key(rows: Sequence[Bar]) -> list[tuple[str, Sign]]:
    """What the signs mean, as far as they are in the picture."""
    known = [row for row in rows if row.centre is not None]
    key: list[tuple[str, Sign, bool]] = [
        ("likely", _plain_sign, any(not row.short for row in known)),
        ("likely, short of the need", _short_sign, any(row.short for row in known)),
        ("10–90 % of cases", _band_sign, any(row.low is not None and row.high is not None for row in known)),
        ("needed", _need_sign, any(row.need is not None for row in rows)),
        ("possible, the equipment decides", _option_sign, any(row.options for row in rows)),
    ]
    return [(told, sign) for told, sign, used in key if used]


def _plain_sign(page: Sheet, x: float, y: float) -> None:
    _plain(page, "sign", [(x, y - 4.0, 20.0, 8.0)])


def _short_sign(page: Sheet, x: float, y: float) -> None:
    _hatched(page, "sign", [(x, y - 4.0, 20.0, 8.0)])


def _band_sign(page: Sheet, x: float, y: float) -> None:
    _whiskers(page, "sign", [(x, x + 20.0, y)])


def _need_sign(page: Sheet, x: float, y: float) -> None:
    _needs(page, "sign", [(x + 10.0, y)], high=6.0)


def _option_sign(page: Sheet, x: float, y: float) -> None:
    _options(page, "sign", [(x + 10.0, y)])


def _never_sign(page: Sheet, x: float, y: float) -> None:
    _never(page, "sign", [(x, x + 16.0, y)])


def _axis(page: Sheet, place: _Rows, scale: Scale, unit: str, step: float | None) -> None:
    """Labels, a light grid and the zero line; the values of the grid in units of `step`, None without values."""
    for number, lines in enumerate(place.labels):
        for index, line in enumerate(lines):
            page.words(0.0, place.label_base(number) + LEADING * index, line)
    page.lines("zero", _zero(place, scale(0.0)), colour=PALE if place.narrow else INK, width=0.9)
    if step is None:
        return
    shown = Scale(0.0, scale.high / step, scale.start, scale.end)
    ticks = shown.fitting()
    grid = [[(shown(tick), place.top), (shown(tick), place.end)] for tick in ticks[1:]]
    page.lines("grid", grid, colour=GRID, width=0.8)
    for base in (place.top - 5.0, place.end + 13.0) if place.top > ROOM_ABOVE else (place.end + 13.0,):
        for tick in ticks:
            last = shown(tick) + width_of(tick_text(tick), SMALL) / 2 > place.right + GAP / 2
            x = place.right + GAP / 2 if last else shown(tick)
            page.words(x, base, tick_text(tick), size=SMALL, anchor="end" if last else "middle", fill=GREY)
        told = shortened(unit, SMALL, place.width - place.right - GAP)
        page.words(place.right + GAP, base, told, size=SMALL, fill=GREY)


def _zero(place: _Rows, x: float) -> list[list[Dot]]:
    """Where bars begin: one line, or one for each bar where labels stand between them."""
    if not place.narrow:
        return [[(x, place.top), (x, place.end)]]
    middles = [place.middle(row) for row in range(len(place.labels))]
    return [[(x, middle - BAR / 2 - 2.0), (x, middle + BAR / 2 + 2.0)] for middle in middles]


def spans(rows: Sequence[Span], *, narrow: bool) -> str:
    """How long until all is back, one outage a row; what does not come back by itself says so.

    Without rows the picture says so; times below zero or above 1e15 are a ValueError.
    """
    if not rows:
        return nothing(narrow)
    checked((value for row in rows for value in row.times), least=0.0)
    place = _rows([row.label for row in rows], [_duration(row) for row in rows], "", narrow)
    most = max((value for row in rows if row.back for value in row.times if value is not None), default=0.0)
    scale = Scale(0.0, most * 1.02 if most > LEAST else 1.0, place.left, place.right)
    unit, step = _unit(most)
    key = _span_key(rows)
    with sheet(place.width, place.end + 20.0 + key_height(key, place.width)) as page:
        _axis(page, place, scale, unit, step if most > LEAST else None)
        _draw_spans(page, rows, place, scale)
        for number, row in enumerate(rows):
            page.words(place.right + GAP, place.middle(number) + 4.0, _duration(row), bold=not row.back)
        draw_key(page, key, place.end + 20.0)
        return page.svg()


def _draw_spans(page: Sheet, rows: Sequence[Span], place: _Rows, scale: Scale) -> None:
    zero = scale(0.0)
    heights = [(place.middle(number), row) for number, row in enumerate(rows)]
    known = [(y, row, row.typical_s) for y, row in heights if row.typical_s is not None]
    _plain(page, "back", [(zero, y - BAR / 2, scale(typical) - zero, BAR) for y, _, typical in known])
    ends = [(row.low_s, row.high_s, y) for y, row, _ in known]
    bands = [(scale(low), scale(high), y) for low, high, y in ends if low is not None and high is not None]
    _whiskers(page, "bands", bands)
    _never(page, "never", [(zero, place.right - 6.0, y) for y, row in heights if not row.back])


def _span_key(rows: Sequence[Span]) -> list[tuple[str, Sign]]:
    known = [row for row in rows if row.back]
    key: list[tuple[str, Sign, bool]] = [
        ("typically back after", _plain_sign, bool(known)),
        ("shortest to longest", _band_sign, any(row.low_s is not None and row.high_s is not None for row in known)),
        ("not all comes back by itself", _never_sign, len(known) < len(rows)),
    ]
    return [(told, sign) for told, sign, used in key if used]


def _unit(seconds: float) -> tuple[str, float]:
    """The unit in which a time is told, and its seconds."""
    if seconds < 100.0:
        return "s", 1.0
    return ("min", 60.0) if seconds < 6000.0 else ("h", 3600.0)


def _duration(row: Span) -> str:
    """`45 s (30–80)`, `2.6 min (1.3–5.7)`, or that it does not come back by itself."""
    if row.typical_s is None:
        return NEVER
    unit, step = _unit(row.typical_s)
    digits = 0 if unit == "s" or row.typical_s >= 20.0 * step else 1
    low, high = (row.typical_s,) * 2 if row.low_s is None or row.high_s is None else (row.low_s, row.high_s)
    typical, shortest, longest = (f"{seconds / step:.{digits}f}" for seconds in (row.typical_s, low, high))
    return f"{typical} {unit}" if shortest == longest else f"{typical} {unit} ({shortest}–{longest})"
