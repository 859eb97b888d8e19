"""A walk on a call as a picture: which radio serves, how strong it is and how the call sounds, by time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from advisor.report.page.charts_canvas import (
    ACCENT,
    GREY,
    GRID,
    INK,
    LEADING,
    NARROW,
    PALE,
    SMALL,
    WIDE,
    Dot,
    Scale,
    Sheet,
    checked,
    listed,
    nothing,
    round_ticks,
    sheet,
    shortened,
    tick_text,
)
from advisor.report.svg import width_of

WINDOW_S = 8.0
"""Length of a window of call quality."""
BEST_MOS, WORST_MOS = 4.5, 1.0
STRIP, LEVELS, QUALITY = 24.0, 92.0, 72.0
"""Heights of the three strips, px."""
TITLE = 17.0
"""Height of a strip's title, px."""
ROW = 12.0
"""Height of a row of labels, px."""
LEAST = 2.0
"""Width of the shortest gap, px."""
LOOKS: tuple[tuple[str, str | None], ...] = (
    ("#e3e7e9", None),
    ("#ffffff", "///"),
    ("#c6cdd0", None),
    ("#ffffff", "|||"),
    ("#f4f5f6", "\\\\\\"),
    ("#ffffff", "---"),
)
"""Fill and hatch of radios, in the order in which they serve."""


@dataclass(frozen=True, slots=True)
class Course:
    """One walk on a call, as it typically goes. Times in seconds from its beginning."""

    step_s: float
    """Length of a step."""
    serving: tuple[str, ...]
    """Per step: name of the radio joined, empty for none."""
    level_dbm: tuple[float | None, ...]
    """Per step: its level at the client, None where there is none."""
    gaps: tuple[tuple[float, float], ...]
    """When nothing passes: beginning, and how long."""
    changes: tuple[tuple[float, str], ...]
    """Changes of node or band, in a few words."""
    mos_at_s: tuple[float, ...]
    """Beginnings of the windows of eight seconds."""
    mos: tuple[float, ...]
    """Call quality in each window, 1 to 4.5."""
    call_level_dbm: float
    """Level calls want."""
    good_mos: float
    """From here on a call counts as undisturbed."""
    places: tuple[tuple[float, str], ...]
    """When a named place is passed."""

    @property
    def long_s(self) -> float:
        return self.step_s * len(self.serving)


@dataclass(frozen=True, slots=True)
class _Label:
    """Words at a time: where it is and the middle of the text (both px), and its row as counted from the strip."""

    at: float
    told: str
    middle: float
    row: int


@dataclass(frozen=True, slots=True)
class _Labels:
    """Labels in rows, and what found no room there."""

    shown: tuple[_Label, ...]
    left_out: tuple[tuple[float, str], ...]

    @property
    def high(self) -> float:
        """Height of all rows, px."""
        return ROW * (1 + max((label.row for label in self.shown), default=-1))


def _labels(wanted: Sequence[tuple[float, str]], scale: Scale, *, rows: int, widest: float) -> _Labels:
    """Words at their times in at most so many rows; what stands first in `wanted` is placed first."""
    shown: list[_Label] = []
    left_out: list[tuple[float, str]] = []
    taken: list[list[tuple[float, float]]] = [[] for _ in range(rows)]
    for at_s, words in wanted:
        told = shortened(words, SMALL, widest)
        half = width_of(told, SMALL) / 2
        at = _held(scale(at_s), scale)
        middle = min(max(at, scale.start + half), scale.end - half)
        start, end = middle - half - 3.0, middle + half + 3.0
        row = next((row for row in range(rows) if all(end <= left or right <= start for left, right in taken[row])), -1)
        if row < 0:
            left_out.append((at_s, words))
            continue
        taken[row].append((start, end))
        shown.append(_Label(at, told, middle, row))
    return _Labels(tuple(shown), tuple(left_out))


@dataclass(frozen=True, slots=True)
class _Block:
    """Steps on one radio: where, and the middle and width of the room for its name; px."""

    name: str
    left: float
    width: float
    middle: float
    room: float

    def fits(self, words: str) -> bool:
        return width_of(words, SMALL) + 6.0 <= self.room


def _held(x: float, scale: Scale) -> float:
    """A place in px, kept inside the strips."""
    return min(max(x, scale.start), scale.end)


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where everything stands, px from the top."""

    time: Scale
    places: _Labels
    changes: _Labels
    gaps: _Labels
    notes: tuple[str, ...]

    @property
    def strip(self) -> float:
        """Top of the radios; places and changes stand between it and its title."""
        return TITLE + self.places.high + self.changes.high + 9.0

    @property
    def level(self) -> float:
        """Top of the levels; how long gaps last stands between them and the radios."""
        return self.strip + STRIP + 5.0 + self.gaps.high + TITLE + 8.0

    @property
    def quality(self) -> float:
        return self.level + LEVELS + TITLE + 10.0

    @property
    def end(self) -> float:
        return self.quality + QUALITY


def timeline(course: Course, *, narrow: bool) -> str:
    """Three strips above one axis of time: radios with gaps, level, and call quality.

    Without steps the picture says that there is nothing to show. Steps and levels of different number, and numbers that
    are not finite or beyond 1e15, are a ValueError.
    """
    if not course.serving:
        return nothing(narrow)
    _check(course)
    width = NARROW if narrow else WIDE
    time = Scale(0.0, course.long_s, 28.0, width - 4.0)
    names = {name: number for number, name in enumerate(dict.fromkeys(filter(None, course.serving)), 1)}
    blocks = list(_blocks(course, time))
    layout = _layout(course, time, _small(blocks, names), 96.0 if narrow else 130.0)
    with sheet(width, layout.end + 21.0 + LEADING * len(layout.notes) + (4.0 if layout.notes else 0.0)) as page:
        _across(page, course, layout)
        _radios(page, blocks, names, layout)
        _gaps(page, course, layout)
        _level(page, course, layout)
        _quality(page, course, layout)
        for number, line in enumerate(layout.notes):
            page.words(0.0, layout.end + 32.0 + LEADING * number, line, size=SMALL, fill=GREY)
        return page.svg()


def _check(course: Course) -> None:
    if len(course.serving) != len(course.level_dbm) or len(course.mos) != len(course.mos_at_s):
        raise ValueError("a walk has one radio and one level for each step, and one beginning for each window")
    checked([course.step_s], least=1e-6)
    checked([*course.level_dbm, *course.mos_at_s, *course.mos, course.call_level_dbm, course.good_mos])
    checked([*(end for gap in course.gaps for end in gap), *(at for at, _ in (*course.changes, *course.places))])


def _layout(course: Course, time: Scale, small: Sequence[str], widest: float) -> _Layout:
    lengths = sorted(course.gaps, key=lambda gap: (-gap[1], gap[0]))
    gaps = _labels([(at + seconds / 2, _long(seconds)) for at, seconds in lengths], time, rows=2, widest=widest)
    changes = _labels(course.changes, time, rows=3, widest=widest)
    places = _labels(course.places, time, rows=3, widest=widest)
    notes = [
        *listed("Radios:", small, SMALL, time.end, most=6),
        *listed("Also passed:", [f"{at:.0f} s {name}" for at, name in places.left_out], SMALL, time.end, most=4),
        *listed("Also changed:", [f"{at:.0f} s {words}" for at, words in changes.left_out], SMALL, time.end, most=4),
    ]
    return _Layout(time, places, changes, gaps, tuple(notes))


def _long(seconds: float) -> str:
    """How long a gap lasts."""
    if round(seconds * 1e3) < 1000:
        return f"{seconds * 1e3:.0f} ms"
    return f"{seconds:.1f} s" if seconds < 9.95 else f"{seconds:.0f} s"


def _blocks(course: Course, time: Scale) -> Iterator[_Block]:
    """Steps on one radio, with the longest part in which there is no gap."""
    silent = sorted(_silent(course, time))
    step = 0
    for name, steps in groupby(course.serving):
        start, step = step, step + len(list(steps))
        left, right = time(start * course.step_s), time(step * course.step_s)
        begin, free = left, [(left, left)]
        for gap, wide in silent:
            if gap + wide > left and gap < right:
                free.append((begin, gap))
                begin = gap + wide
        room = max([*free, (begin, right)], key=lambda part: part[1] - part[0])
        yield _Block(name, left, right - left, (room[0] + room[1]) / 2, room[1] - room[0])


def _small(blocks: Sequence[_Block], names: dict[str, int]) -> list[str]:
    """Radios whose name does not fit into each of their blocks, with their numbers."""
    small = {block.name for block in blocks if not block.fits(block.name)}
    return [f"{number} {name}" for name, number in names.items() if name in small]


def _across(page: Sheet, course: Course, layout: _Layout) -> None:
    """What runs through all strips: the grid of time, places, changes and gaps."""
    time, end = layout.time, layout.end
    strips = ((layout.level, LEVELS), (layout.quality, QUALITY))
    shades = [(left, top, wide, high) for left, wide in _silent(course, time) for top, high in strips]
    page.boxes("silent", shades, fill="#e3e7e9")
    ticks = time.fitting(" s")
    page.lines(
        "grid",
        [[(time(tick), top), (time(tick), top + high)] for tick in ticks for top, high in strips],
        colour=GRID,
        width=0.8,
    )
    for tick in ticks:
        told = f"{tick_text(tick)} s"
        half = width_of(told, SMALL) / 2
        page.words(min(time(tick), page.width - half), end + 14.0, told, size=SMALL, anchor="middle", fill=GREY)
    base = layout.strip - 9.0 - layout.changes.high
    passed = [_held(time(at), time) for at, _ in course.places]
    page.lines("places", [[(x, base), (x, end)] for x in passed], colour=PALE, width=0.9, dash=(1.5, 2.5))
    for label in layout.places.shown:
        page.words(
            label.middle, base - 3.0 - ROW * label.row, label.told, size=SMALL, anchor="middle", fill=GREY, halo=True
        )
    changed = [_held(time(at), time) for at, _ in course.changes]
    page.lines("changes", [[(x, layout.strip), (x, end)] for x in changed], colour=PALE, width=0.6)
    page.shapes(
        "arrows",
        [[(x - 3.5, layout.strip - 7.0), (x + 3.5, layout.strip - 7.0), (x, layout.strip - 1.0)] for x in changed],
        fill=INK,
    )
    for label in layout.changes.shown:
        page.words(
            label.middle, layout.strip - 10.0 - ROW * label.row, label.told, size=SMALL, anchor="middle", halo=True
        )


def _silent(course: Course, time: Scale) -> Iterator[tuple[float, float]]:
    """Left end and width of every gap, wide enough to be seen."""
    for at, seconds in course.gaps:
        left, right = _held(time(at), time), _held(time(at + seconds), time)
        wide = max(right - left, LEAST)
        yield min(left, time.end - wide), wide


def _radios(page: Sheet, blocks: Sequence[_Block], names: dict[str, int], layout: _Layout) -> None:
    """The radios as blocks, with their names or, where these do not fit, with their numbers."""
    page.words(0.0, 11.0, "Radio joined", bold=True)
    top, time = layout.strip, layout.time
    for look, (fill, hatch) in enumerate(LOOKS):
        mine = [block for block in blocks if block.name and (names[block.name] - 1) % len(LOOKS) == look]
        boxes = [(block.left, top, block.width, STRIP) for block in mine]
        page.boxes(f"radios-{look}", boxes, fill=fill, edge=PALE, hatch=hatch)
    page.boxes("frame", [(time.start, top, time.end - time.start, STRIP)], fill="none", edge=GREY)
    for block in blocks:
        said = (block.name, str(names[block.name])) if block.name else ("none",)
        told = next((words for words in said if block.fits(words)), "")
        if told:
            ink = INK if block.name else GREY
            page.words(block.middle, top + 16.0, told, size=SMALL, anchor="middle", halo=True, fill=ink)


def _gaps(page: Sheet, course: Course, layout: _Layout) -> None:
    """Black blocks across the radios, how long they last below, and the longest in words."""
    silent = list(_silent(course, layout.time))
    page.boxes("gaps", [(x, layout.strip - 1.0, wide, STRIP + 5.0) for x, wide in silent], fill=INK)
    for label in layout.gaps.shown:
        page.words(
            label.middle,
            layout.strip + STRIP + 14.0 + ROW * label.row,
            label.told,
            size=SMALL,
            anchor="middle",
            bold=True,
            halo=True,
        )
    count, longest = len(course.gaps), max((seconds for _, seconds in course.gaps), default=0.0)
    told = f"{count} gap{'s' if count > 1 else ''}, the longest {_long(longest)}" if count else "no gap"
    x = page.width - width_of(told, SMALL)
    page.boxes("sign", [(x - 8.0, 3.0, 4.0, 10.0)] if count else [], fill=INK)
    page.words(x, 11.0, told, size=SMALL, fill=GREY)


def _level(page: Sheet, course: Course, layout: _Layout) -> None:
    heard = [level for level in course.level_dbm if level is not None]
    values = [*heard, course.call_level_dbm]
    ticks = round_ticks(min(values) - 3.0, max(values) + 3.0, 4, whole=True)
    scale = Scale(ticks[0], ticks[-1], layout.level + LEVELS, layout.level)
    told = f"calls want {tick_text(course.call_level_dbm)} dBm or more"
    _strip(page, layout, ("Level, dBm", told), (scale, ticks), course.call_level_dbm)
    page.lines("level", list(_curves(course, layout.time, scale)), colour=ACCENT, width=1.5)
    if not heard:
        page.words(layout.time.start + 8.0, layout.level + 16.0, "nothing heard", fill=GREY, halo=True)


def _quality(page: Sheet, course: Course, layout: _Layout) -> None:
    scale = Scale(WORST_MOS, BEST_MOS, layout.quality + QUALITY, layout.quality)
    told = f"undisturbed from {tick_text(round(course.good_mos, 2))} on"
    _strip(page, layout, ("Call quality, MOS", told), (scale, [1.0, 2.0, 3.0, 4.0]), course.good_mos)
    if not course.mos:
        page.words(layout.time.start + 8.0, layout.quality + QUALITY / 2, "not known", fill=GREY, halo=True)
        return
    windows = [(at, min(at + WINDOW_S, course.long_s)) for at in course.mos_at_s]
    heights = [scale(min(max(mos, WORST_MOS), BEST_MOS)) for mos in course.mos]
    line = [(layout.time((start + end) / 2), y) for (start, end), y in zip(windows, heights, strict=True)]
    ends = [(layout.time(windows[0][0]), heights[0]), *line, (layout.time(windows[-1][1]), heights[-1])]
    page.lines("quality", [ends], colour=ACCENT, width=1.5)


def _strip(
    page: Sheet, layout: _Layout, titles: tuple[str, str], axis: tuple[Scale, Sequence[float]], limit: float
) -> None:
    """What two strips share: title, values at the left, and a dashed limit whose words stand at the right end."""
    (title, told), (scale, ticks), time = titles, axis, layout.time
    top, bottom = scale.end, scale.start
    page.lines(
        "values", [[(time.start, scale(tick)), (time.end, scale(tick))] for tick in ticks], colour=GRID, width=0.8
    )
    page.lines("axes", [[(time.start, top), (time.start, bottom), (time.end, bottom)]], colour=INK, width=0.9)
    page.words(0.0, top - 8.0, title, bold=True, halo=True)
    for tick in ticks:
        page.words(time.start - 4.0, scale(tick) + 3.5, tick_text(tick), size=SMALL, anchor="end", fill=GREY)
    x = page.width - width_of(told, SMALL)
    ends = [[(time.start, scale(limit)), (time.end, scale(limit))], [(x - 22.0, top - 11.5), (x - 4.0, top - 11.5)]]
    page.lines("limit", ends, colour=INK, width=1.1, dash=(5.0, 3.0))
    page.words(x, top - 8.0, told, size=SMALL, fill=GREY, halo=True)


def _curves(course: Course, time: Scale, scale: Scale) -> Iterator[list[Dot]]:
    """The level as lines, one for each stretch on which there is one."""
    step = 0
    for known, values in groupby(course.level_dbm, key=lambda level: level is not None):
        stretch = list(values)
        count = len(stretch)
        if known:
            levels = [level for level in stretch if level is not None]
            middles = [
                (time((step + number + 0.5) * course.step_s), scale(level)) for number, level in enumerate(levels)
            ]
            start, end = time(step * course.step_s), time((step + count) * course.step_s)
            yield [(start, middles[0][1]), *middles, (max(end, start + 1.0), middles[-1][1])]
        step += count
