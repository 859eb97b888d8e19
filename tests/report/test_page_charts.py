"""The page's pictures: all is in proportion, nothing in a name acts, and the same input gives the same bytes."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from itertools import combinations
from math import dist, nan
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest

from advisor.errors import InputError
from advisor.report.page.charts import Bar, Course, Point, Span, bars, scatter, spans, timeline
from advisor.report.svg import width_of

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = (
    "<script>alert(1)</script>",
    "$x$ and \\frac{1}{0}",
    "\"quoted\" & 'so'",
    "אבג דלת",
    "倉庫 🏭",
    "bell \x07 and \u202eturned",
    "%s {0} &amp; ]]>",
)
BARS = (
    Bar("bench", 62.0, 28.0, 90.0, 20.0),
    Bar("store", 8.5, 6.0, 11.0, 25.0),
    Bar("office", None, None, None, 20.0),
    Bar("stairs", 40.0, None, None, None, (25.0, 40.0)),
    Bar("canteen", None, None, None, 50.0, (12.0, 41.0)),
    Bar("yard", 20.0, 20.0, 20.0, 20.0),
)
SPANS = (
    Span("mains", 600.0, 300.0, 1200.0),
    Span("loft", 45.0, 30.0, 80.0),
    Span("password", None, None, None),
    Span("cable", 150.0, None, None),
)
POINTS = tuple(Point(number, 15.0 * (number // 3), float(number % 4), number == 2) for number in range(1, 13))


def course(seconds: float = 60.0, **other: object) -> Course:
    """A walk from one radio to another with a gap between."""
    steps = round(seconds / 0.1)
    half = steps // 2
    given: dict[str, object] = {
        "step_s": 0.1,
        "serving": ("hall 5",) * half + ("loft 2.4",) * (steps - half),
        "level_dbm": tuple(-50.0 - 30.0 * step / half for step in range(half)) + (-60.0,) * (steps - half),
        "gaps": ((seconds / 2, 0.24),),
        "changes": ((seconds / 2, "to loft 2.4"),),
        "mos_at_s": tuple(float(at) for at in range(max(int(seconds) - 7, 1))),
        "mos": tuple(4.0 if at % 2 else 3.0 for at in range(max(int(seconds) - 7, 1))),
        "call_level_dbm": -67.0,
        "good_mos": 3.6,
        "places": ((0.0, "bench"), (seconds, "store")),
    }
    return Course(**{**given, **other})  # type: ignore[arg-type]


PICTURES: dict[str, Callable[[bool], str]] = {
    "bars": lambda narrow: bars(BARS, unit="Mb/s", narrow=narrow),
    "many bars": lambda narrow: bars([BARS[n % 6] for n in range(40)], unit="Mb/s", narrow=narrow),
    "unknown bars": lambda narrow: bars([BARS[2]] * 3, unit="$", narrow=narrow),
    "odd bars": lambda narrow: bars(
        [
            Bar("", 0.0, 0.0, 0.0, 0.0),
            Bar("W" * 200, 99999999.0, 1.0, 99999999.0, 3e7),
            Bar("long " * 40, 0.04, 0, 1, 5),
        ],
        unit="a unit that is far too long for the room it has",
        narrow=narrow,
    ),
    "huge bars": lambda narrow: bars([Bar("huge", 1.234e12, 1e11, 5e12, 3e12)], unit="Mb/s", narrow=narrow),
    "zero bars": lambda narrow: bars([Bar("zero", 0.0, 0.0, 0.0, None)], unit="%", narrow=narrow),
    "hostile bars": lambda narrow: bars([Bar(name, 9.0, 8, 10, 9.5) for name in HOSTILE], unit="$", narrow=narrow),
    "spans": lambda narrow: spans(SPANS, narrow=narrow),
    "spans without end": lambda narrow: spans([SPANS[2]], narrow=narrow),
    "points": lambda narrow: scatter(POINTS, x="work, minutes", y="needs met", narrow=narrow),
    "one point": lambda narrow: scatter([Point(1, 0.0, 0.0, True)], x="x" * 200, y="y" * 200, narrow=narrow),
    "walk": lambda narrow: timeline(course(), narrow=narrow),
    "short walk": lambda narrow: timeline(course(3.0), narrow=narrow),
    "long walk": lambda narrow: timeline(
        course(
            600.0,
            serving=tuple(f"node-{step // 200:02} 5" for step in range(6000)),
            changes=tuple((20.0 * part, f"to node-{part:02} 5") for part in range(1, 30)),
            gaps=tuple((20.0 * part, 0.02 * part) for part in range(1, 30)),
            places=tuple((30.0 * part, f"place with a long name {part}") for part in range(20)),
        ),
        narrow=narrow,
    ),
    "walk of nothing": lambda narrow: timeline(
        course(
            10.0, serving=("",) * 100, level_dbm=(None,) * 100, gaps=((0.0, 10.0),), changes=(), mos=(), mos_at_s=()
        ),
        narrow=narrow,
    ),
    "hostile walk": lambda narrow: timeline(
        course(
            7.0,
            serving=tuple(HOSTILE[step // 10] for step in range(70)),
            changes=tuple((float(at), name) for at, name in enumerate(HOSTILE)),
            places=tuple((float(at), name) for at, name in enumerate(HOSTILE)),
        ),
        narrow=narrow,
    ),
    "nothing": lambda narrow: bars([], unit="Mb/s", narrow=narrow),
}
EACH = [(name, narrow) for name in PICTURES for narrow in (False, True)]


@cache
def drawn(name: str, narrow: bool) -> str:
    return PICTURES[name](narrow)


def texts(svg: str) -> list[str]:
    return ["".join(element.itertext()) for element in Xml.fromstring(svg).iter(f"{SVG}text")]


def base_of(svg: str, told: str) -> list[float]:
    """Base lines of a text."""
    found = [element for element in Xml.fromstring(svg).iter(f"{SVG}text") if "".join(element.itertext()) == told]
    return [float(element.attrib["y"]) for element in found]


def paths(svg: str, name: str) -> list[list[tuple[float, float]]]:
    """Corners of what is drawn under a name."""
    found = []
    for group in Xml.fromstring(svg).iter(f"{SVG}g"):
        if group.get("class") == name:
            for path in group.iter(f"{SVG}path"):
                numbers = [float(number) for number in re.findall(r"-?[\d.]+", path.attrib["d"])]
                found.append(list(zip(numbers[::2], numbers[1::2], strict=True)))
    return found


def boxes(svg: str, name: str) -> list[tuple[float, float, float, float]]:
    """Left, top, right, bottom of every shape under a name."""
    corners = [list(zip(*path, strict=True)) for path in paths(svg, name)]
    return [(min(xs), min(ys), max(xs), max(ys)) for xs, ys in corners]


def spots(svg: str, name: str) -> list[tuple[float, float]]:
    """Middles of the round marks under a name: several are one shape used often, one alone is a shape of its own."""
    groups = [group for group in Xml.fromstring(svg).iter(f"{SVG}g") if group.get("class") == name]
    used = [(float(use.attrib["x"]), float(use.attrib["y"])) for group in groups for use in group.iter(f"{SVG}use")]
    return used or [((left + right) / 2, (top + bottom) / 2) for left, top, right, bottom in boxes(svg, name)]


@pytest.mark.parametrize(("name", "narrow"), EACH)
def test_every_picture_is_one_plain_element(name: str, narrow: bool) -> None:
    svg = drawn(name, narrow)
    root = Xml.fromstring(svg)
    width = 340.0 if narrow else 680.0
    assert svg.startswith("<svg ") and root.tag == f"{SVG}svg"
    assert float(root.attrib["width"]) == width
    assert root.attrib["viewBox"] == f"0 0 {root.attrib['width']} {root.attrib['height']}"
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags <= {"svg", "g", "defs", "path", "use", "pattern", "rect", "text"}
    for element in root.iter():
        assert not any(key.startswith(("on", "{")) for key in element.attrib)
        assert element.get("href", "#").startswith("#")
    assert "<!" not in svg and "<?" not in svg and "@import" not in svg
    assert set(re.findall(r"://([^\"]*)", svg)) == {"www.w3.org/2000/svg"}
    ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
    assert len(ids) == len(set(ids))
    assert all(f"#{one}" in svg for one in ids)
    assert len(svg.encode()) < (60_000 if name == "long walk" else 26_000)


@pytest.mark.parametrize(("name", "narrow"), EACH)
def test_words_stay_inside_and_are_big_enough(name: str, narrow: bool) -> None:
    root = Xml.fromstring(drawn(name, narrow))
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    for element in root.iter(f"{SVG}text"):
        size, told = float(element.get("font-size", "11")), "".join(element.itertext())
        assert 10.0 <= size <= 12.0
        part = {"start": 0.0, "middle": 0.5, "end": 1.0}[element.get("text-anchor", "start")]
        left = float(element.attrib["x"]) - part * width_of(told, size)
        assert left >= -1.0 and left + width_of(told, size) <= width + 1.0, told
        assert size - 2.0 <= float(element.attrib["y"]) <= height


@pytest.mark.parametrize("narrow", [False, True])
def test_bars_whiskers_needs_and_options_share_one_scale(narrow: bool) -> None:
    svg = bars(BARS, unit="Mb/s", narrow=narrow)
    enough, short = boxes(svg, "enough"), boxes(svg, "short")
    zero = enough[0][0]
    step = (enough[0][2] - zero) / 62.0
    assert [(box[2] - box[0]) / step for box in enough] == pytest.approx([62.0, 40.0, 20.0], abs=0.1)
    assert [(box[2] - box[0]) / step for box in short] == pytest.approx([8.5], abs=0.1)
    assert {box[0] for box in enough + short} == {zero}
    bands = [((path[0][0] - zero) / step, (path[-1][0] - zero) / step) for path in paths(svg, "bands")]
    assert bands[:3] == [pytest.approx(band, abs=0.1) for band in ((28.0, 90.0), (6.0, 11.0), (20.0, 20.0))]
    caps = [low for low, high in bands[3:]]
    assert caps == pytest.approx([28.0, 90.0, 6.0, 11.0, 20.0, 20.0], abs=0.1)
    needs = [path for path in paths(svg, "needs") if len(path) == 2]
    assert [(path[0][0] - zero) / step for path in needs] == pytest.approx([20.0, 25.0, 20.0, 50.0, 20.0], abs=0.1)
    options = [(path[0][0] - zero) / step for path in paths(svg, "options")]
    assert options == pytest.approx([25.0, 40.0, 12.0, 41.0], abs=0.1)
    ticks = [element for element in Xml.fromstring(svg).iter(f"{SVG}text") if "".join(element.itertext()) == "50"]
    assert (float(ticks[0].attrib["x"]) - zero) / step == pytest.approx(50.0, abs=0.2)
    assert {"62 (28–90)", "8.5 (6.0–11.0)", "25 / 40", "12 / 41", "20", "Mb/s"} <= set(texts(svg))


@pytest.mark.parametrize("narrow", [False, True])
def test_short_stands_exactly_on_rows_under_their_need(narrow: bool) -> None:
    svg = bars(BARS, unit="Mb/s", narrow=narrow)
    assert [row.label for row in BARS if row.short] == ["store", "canteen"]
    assert base_of(svg, "short") == [base_of(svg, "8.5 (6.0–11.0)")[0], base_of(svg, "12 / 41")[0]]
    assert re.search(r'class="short" style="fill:url\(#', svg)
    assert re.search(r'class="enough" style="fill:#', svg)
    assert "short" not in bars([BARS[0], BARS[5]], unit="Mb/s", narrow=narrow)


def test_an_option_that_reaches_the_need_is_not_short() -> None:
    assert not Bar("", None, None, None, 41.0, (12.0, 41.0)).short
    assert Bar("", None, None, None, 41.1, (12.0, 41.0)).short
    assert Bar("", 40.0, None, None, 41.0, (12.0, 50.0)).short
    assert not Bar("", None, None, None, 41.0).short


def test_what_is_not_known_has_no_bar() -> None:
    assert texts(svg := drawn("unknown bars", False)).count("not known") == 3
    assert paths(svg, "enough") == paths(svg, "short") == paths(svg, "bands") == []
    assert len([path for path in paths(svg, "needs") if len(path) == 2]) == 3


@pytest.mark.parametrize("narrow", [False, True])
def test_hostile_names_are_shown_and_cannot_act(narrow: bool) -> None:
    shown = texts(drawn("hostile bars", narrow))
    for name in HOSTILE[:5] + HOSTILE[6:]:
        assert name in shown
    assert "bell \\x07 and \\u202eturned" in shown
    walk = drawn("hostile walk", narrow)
    assert "$x$ and \\frac{1}{0}" in " ".join(texts(walk))
    assert "<script" not in walk and "\u202e" not in walk


def test_long_names_are_cut_to_two_lines() -> None:
    shown = [told for told in texts(drawn("odd bars", True)) if told.startswith("WW")]
    assert len(shown) == 2 and shown[1].endswith("…")


@pytest.mark.parametrize("narrow", [False, True])
def test_spans_share_one_scale_and_say_what_needs_somebody(narrow: bool) -> None:
    svg = spans(SPANS, narrow=narrow)
    back = boxes(svg, "back")
    step = (back[0][2] - back[0][0]) / 600.0
    assert [(box[2] - box[0]) / step for box in back] == pytest.approx([600.0, 45.0, 150.0], abs=3.0)
    band = paths(svg, "bands")[0]
    assert [(x - back[0][0]) / step for x, _ in band] == pytest.approx([300.0, 1200.0], abs=3.0)
    assert {"10.0 min (5.0–20.0)", "45 s (30–80)", "2.5 min", "min"} <= set(texts(svg))
    assert len(base_of(svg, "needs somebody")) == 1
    (line,) = [path for path in paths(svg, "never") if path[0][1] == path[1][1]]
    assert line[0][1] == pytest.approx(base_of(svg, "needs somebody")[0] - 4.0, abs=0.2)
    assert "needs somebody" not in spans(SPANS[:2], narrow=narrow)


@pytest.mark.parametrize(("seconds", "unit"), [(90.0, "s"), (600.0, "min"), (86400.0, "h")])
def test_the_axis_of_spans_takes_the_unit_that_fits(seconds: float, unit: str) -> None:
    assert unit in texts(spans([Span("", seconds, None, None)], narrow=False))


@pytest.mark.parametrize("narrow", [False, True])
def test_marks_stand_apart_and_the_one_to_take_is_filled(narrow: bool) -> None:
    svg = drawn("points", narrow)
    taken, others = spots(svg, "taken"), spots(svg, "marks")
    assert (len(taken), len(others)) == (1, 11)
    assert all(dist(one, other) >= 18.0 for one, other in combinations(taken + others, 2))
    assert set(map(str, range(1, 13))) <= set(texts(svg))
    crowd = scatter([Point(number, 1.0, 1.0, False) for number in range(6)], x="x", y="y", narrow=narrow)
    marks, (home,) = spots(crowd, "marks"), spots(crowd, "homes")
    assert min(dist(home, mark) for mark in marks) < 0.1
    assert len(paths(crowd, "leaders")) == 5
    assert all(dist(one, other) >= 18.0 for one, other in combinations(marks, 2))


def test_marks_without_neighbours_are_where_they_belong() -> None:
    points = [Point(1, 0.0, 0.0, False), Point(2, 100.0, 10.0, False), Point(3, 50.0, 2.5, False)]
    svg = scatter(points, x="x", y="y", narrow=False)
    one, two, three = spots(svg, "marks")
    assert three[0] == pytest.approx((one[0] + two[0]) / 2, abs=0.1)
    assert three[1] == pytest.approx(one[1] + 0.25 * (two[1] - one[1]), abs=0.1)
    assert paths(svg, "leaders") == []


@pytest.mark.parametrize("narrow", [False, True])
def test_the_walk_shows_radios_gaps_levels_and_places_in_time(narrow: bool) -> None:
    svg = timeline(course(gaps=((10.0, 0.02), (30.0, 6.0))), narrow=narrow)
    (frame,) = boxes(svg, "frame")
    second = (frame[2] - frame[0]) / 60.0
    first, then = boxes(svg, "radios-0")[0], boxes(svg, "radios-1")[0]
    assert [first[0], first[2], then[2]] == pytest.approx([frame[0], frame[0] + 30 * second, frame[2]], abs=0.1)
    small, big = boxes(svg, "gaps")
    assert small[2] - small[0] == pytest.approx(2.0, abs=0.01)  # seen, though it lasts less than a pixel
    assert (big[0] - frame[0], big[2] - big[0]) == pytest.approx((30 * second, 6 * second), abs=0.1)
    assert {"hall 5", "loft 2.4", "20 ms", "6.0 s", "to loft 2.4", "bench", "store"} <= set(texts(svg))
    assert "2 gaps, the longest 6.0 s" in texts(svg)
    assert "calls want -67 dBm or more" in texts(svg) and "undisturbed from 3.6 on" in texts(svg)
    limit = paths(svg, "limit")[0][0][1]
    (level,) = paths(svg, "level")
    top, bottom = min(y for _, y in level), max(y for _, y in level)
    assert (limit - top) / (bottom - top) * 29.9 == pytest.approx(-50.0 - -67.0, abs=0.2)
    assert level[0][0] == pytest.approx(frame[0], abs=0.01) and level[-1][0] == pytest.approx(frame[2], abs=0.01)


def test_levels_break_where_there_is_none() -> None:
    levels = (None,) * 100 + (-60.0,) * 200 + (None,) * 100 + (-70.0,) * 200
    svg = timeline(course(level_dbm=levels), narrow=False)
    (frame,) = boxes(svg, "frame")
    second = (frame[2] - frame[0]) / 60.0
    ends = [(path[0][0], path[-1][0]) for path in paths(svg, "level")]
    wanted = [(frame[0] + 10 * second, frame[0] + 30 * second), (frame[0] + 40 * second, frame[2])]
    assert ends == [pytest.approx(pair, abs=0.1) for pair in wanted]


def test_one_window_of_call_quality_is_a_line_across_it() -> None:
    svg = timeline(course(3.0, mos_at_s=(0.0,), mos=(4.0,)), narrow=False)
    (frame,), (line,) = boxes(svg, "frame"), paths(svg, "quality")
    assert (line[0][0], line[-1][0]) == pytest.approx((frame[0], frame[2]), abs=0.1)
    assert len({y for _, y in line}) == 1


def test_radios_without_room_for_their_names_are_numbered() -> None:
    wide, narrow = texts(drawn("long walk", False)), texts(drawn("long walk", True))
    assert {"1", "30"} <= set(wide)
    assert "Radios: 1 node-00 5, 2 node-01 5" in " ".join(wide) and "30 node-29 5" in " ".join(wide)
    assert re.search(r"and \d+ more", " ".join(narrow))


def test_nothing_heard_is_said() -> None:
    assert {"nothing heard", "not known"} <= set(texts(drawn("walk of nothing", False)))


@pytest.mark.parametrize("narrow", [False, True])
def test_without_rows_the_picture_says_so(narrow: bool) -> None:
    walk = timeline(course(serving=(), level_dbm=()), narrow=narrow)
    for svg in (
        bars([], unit="", narrow=narrow),
        spans([], narrow=narrow),
        scatter([], x="", y="", narrow=narrow),
        walk,
    ):
        assert texts(svg) == ["nothing to show"]


def test_numbers_that_cannot_be_drawn_are_refused() -> None:
    for row in (Bar("", nan, None, None, None), Bar("", -1.0, None, None, None), Bar("", 1.0, 0.0, 1e300, None)):
        with pytest.raises(ValueError, match="cannot be drawn"):
            bars([row], unit="", narrow=False)
    with pytest.raises(ValueError, match="cannot be drawn"):
        scatter([Point(1, nan, 0.0, False)], x="", y="", narrow=False)
    with pytest.raises(ValueError, match="one radio and one level for each step"):
        timeline(course(level_dbm=(-60.0,)), narrow=False)


def test_the_same_input_gives_the_same_bytes_here_and_elsewhere() -> None:
    several = ("bars", "spans", "points", "walk", "hostile walk")
    here = "\n".join(PICTURES[name](False) for name in several)
    assert here == "\n".join(drawn(name, False) for name in several)
    code = (
        "import sys, importlib.util as u, advisor.report.page.charts\n"
        "assert not any(name.startswith('matplotlib') for name in sys.modules)\n"
        "spec = u.spec_from_file_location('pictures', sys.argv[1]); module = u.module_from_spec(spec)\n"
        "sys.modules['pictures'] = module; spec.loader.exec_module(module)\n"
        "sys.stdout.buffer.write('\\n'.join(module.PICTURES[name](False) for name in sys.argv[2:]).encode())\n"
    )
    command = [sys.executable, "-W", "error", "-c", code, __file__, *several]
    root, env = Path(__file__).parent.parent.parent, {**os.environ, "PYTHONHASHSEED": "7"}
    told = subprocess.run(command, capture_output=True, check=True, cwd=root, env=env)
    assert told.stdout.decode() == here
    assert told.stderr == b""


def test_settings_of_matplotlib_neither_matter_nor_change() -> None:
    import matplotlib

    with matplotlib.rc_context({"path.simplify": False, "hatch.linewidth": 9.0, "svg.hashsalt": "other"}):
        before = dict(matplotlib.rcParams)
        assert bars(BARS, unit="Mb/s", narrow=False) == drawn("bars", False)
        assert dict(matplotlib.rcParams) == before


def test_without_matplotlib_the_reader_is_told_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(InputError) as told:
        bars(BARS, unit="Mb/s", narrow=False)
    assert "extra `report`" in str(told.value) and "--without charts" in str(told.value)
