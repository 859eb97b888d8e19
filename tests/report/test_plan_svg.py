"""The sketch as SVG: well formed, inert, readable aloud, and nothing moves but what was moved.

`advisor plan profiles/kestrel-yard.yaml -o tests/report/kestrel-yard.svg` writes the golden picture anew; look at it.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest

from advisor.network.plan import plan_of
from advisor.network.plan_records import Plan, Words
from advisor.report.plan_labels import Box, Placer, around, passes
from advisor.report.plan_panel import nice
from advisor.report.plan_svg import HEADER, plan_svg, said
from advisor.report.svg import width_of, wrapped
from advisor.site.load import load_site, load_text

ROOT = Path(__file__).parent.parent.parent
SVG = "{http://www.w3.org/2000/svg}"
ODD_SITES = dict(
    part.split("\n", 1)
    for part in (ROOT / "tests" / "odd_sites" / "sites.txt").read_text(encoding="utf-8").split("##### ")
    if part.strip()
)
PLANS = {path.stem: plan_of(load_site(path).site) for path in sorted((ROOT / "profiles").glob("*.yaml"))}
PLANS |= {name: plan_of(load_text(text, f"{name}.yaml").site) for name, text in ODD_SITES.items()}


def picture(of: Plan) -> Xml.Element:
    return Xml.fromstring(plan_svg(of))


def texts(root: Xml.Element) -> list[str]:
    return ["".join(element.itertext()) for element in root.iter(f"{SVG}text")]


def groups(root: Xml.Element) -> dict[str, str]:
    """The drawing of each group with a name, without its labels."""
    found = {}
    for group in root.iter(f"{SVG}g"):
        if "id" in group.attrib:
            shapes = [child for child in group if child.tag not in (f"{SVG}text", f"{SVG}title", f"{SVG}g")]
            found[group.attrib["id"]] = "".join(Xml.tostring(child, encoding="unicode") for child in shapes)
    return found


def test_the_demo_looks_as_it_did() -> None:
    golden = Path(__file__).with_name("kestrel-yard.svg").read_text(encoding="utf-8")
    assert plan_svg(PLANS["kestrel-yard"]) == golden


@pytest.mark.parametrize("name", PLANS)
def test_every_site_makes_a_well_formed_picture(name: str) -> None:
    root = picture(PLANS[name])
    names = Counter(element.attrib["id"] for element in root.iter() if "id" in element.attrib)
    assert max(names.values()) == 1, names.most_common(1)
    for it in (it for panel in PLANS[name].panels for it in panel.marks):
        assert names[f"{it.section}.{it.id}"] == 1
    for row in PLANS[name].tree:
        assert names[f"{row.section}.{row.id}"] == 1
    written = plan_svg(PLANS[name])
    assert not re.search(r"\b(nan|inf)\b", written.partition("</desc>")[2])


@pytest.mark.parametrize("name", PLANS)
def test_labels_stay_on_the_page(name: str) -> None:
    """By the widths the view reckons with, which are on the wide side."""
    root = picture(PLANS[name])
    width = float(root.attrib["viewBox"].split()[2])
    for element in root.iter(f"{SVG}text"):
        if "transform" in element.attrib or element.attrib.get("text-anchor") == "middle":
            continue
        size = float(
            element.attrib.get(
                "font-size", {"h1": 17, "h2": 12.5, "p": 9.5, "s": 8.5}.get(element.attrib.get("class", ""), 8)
            )
        )
        x, wide = float(element.attrib["x"]), width_of("".join(element.itertext()), size)
        left = x - wide if element.attrib.get("text-anchor") == "end" else x
        assert left >= 0, "".join(element.itertext())
        assert left + wide <= width, "".join(element.itertext())


def test_it_can_be_read_aloud() -> None:
    root = picture(PLANS["kestrel-yard"])
    assert root.attrib["role"] == "img"
    labels = {element.attrib["id"]: element.text for element in root if element.tag in (f"{SVG}title", f"{SVG}desc")}
    assert root.attrib["aria-labelledby"].split() == list(labels)
    assert labels["title"] == "Kestrel Yard: a sketch of the site"
    aloud = labels["desc"] or ""
    assert "relay stair at x 11, y 2: 2.6 m up." in aloud
    assert "place tables at x 16, y 3: phone × 12." in aloud
    assert "Uplink from stair to gateway, 5 GHz." in aloud
    assert "relay cafe at x 18, y 7: height not told; uplink left open." in aloud


def test_what_is_read_aloud_of_a_large_site_stays_short() -> None:
    places = ", ".join(f"p{number}: {{client: phone, at: [{number % 20}, {number // 20}]}}" for number in range(400))
    head = "site: {name: A}\nnetworks: {m: {name: m}}\nnodes: {g: {role: gateway, at: [0, 30]}}\n"
    text = f"{head}places: {{{places}}}\n"
    aloud = said(plan_of(load_text(text, "a.yaml").site))
    assert len(aloud) < 4000
    assert "And 361 more." in aloud


HOSTILE = "<script>alert(1)</script>&\"']]> -->"


def hostile_site() -> str:
    return (
        f"site: {{name: '{HOSTILE.replace(chr(39), chr(39) * 2)} \u202e evil'}}\n"
        'nodes: {g: {role: gateway, at: [0, 0], note: "\\e[31m"}}\n'
        'interference: {oven: {band: 2.4, note: "x\\u202Ey\\e[31m<b>\\uFEFF"}}\n'
        "networks: {m: {name: m}}\n"
    )


def test_names_cannot_act() -> None:
    written = plan_svg(plan_of(load_text(hostile_site().replace("\u202e", ""), "a.yaml").site))
    root = Xml.fromstring(written)
    assert "<script" not in written
    assert "<b>" not in written
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f\u200b-\u200f\u202a-\u202e\u2066-\u2069\ufeff]", written)
    assert HOSTILE in " ".join(texts(root))
    assert any("x\\u202ey\\x1b[31m<b>\\ufeff" in content for content in texts(root))
    kinds = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert kinds <= {"svg", "title", "desc", "style", "g", "rect", "circle", "polygon", "polyline", "text"}
    attributes = {name for element in root.iter() for name in element.attrib}
    assert not any(name.startswith("on") or name.endswith("href") for name in attributes)


def test_every_text_of_the_records_is_made_inert() -> None:
    """Whatever a record carries, not only what the site file lets through."""
    evil = "\u202e\x00\x1b<&"
    made = Plan(evil, False, (), (), (Words(evil, (evil,)),), (evil,))
    root = picture(made)
    assert sum("\\u202e\\x00\\x1b<&" in content for content in texts(root)) == 4


BASE = (
    "site: {name: A site}\nfloors: {upper: {level: 1}, ground: {level: 0, walls: {outer: {line: [[0, 0], [12, 0], "
    "[12, 9], [0, 9], [0, 0]], of: brick}}}}\n"
    "nodes: {gateway: {role: gateway, at: [1, 2], floor: ground}, stair: {role: relay, at: [5, 3], floor: ground, "
    "uplink: {to: gateway, band: 5}}, loft: {role: access-point, at: [4, 4], floor: upper, uplink: {to: gateway, "
    "over: ethernet}}}\n"
    "places: {desk: {client: laptop, at: [8, 8], floor: ground}, bed: {client: phone, at: [9, 2], floor: upper}}\n"
    "networks: {m: {name: m}}\n"
)


def test_swapping_x_and_y_of_a_node_moves_exactly_its_shape() -> None:
    before = groups(picture(plan_of(load_text(BASE, "a.yaml").site)))
    after = groups(picture(plan_of(load_text(BASE.replace("at: [5, 3]", "at: [3, 5]"), "a.yaml").site)))
    moved = {name for name in before if before[name] != after[name]}
    assert before.keys() == after.keys()
    assert moved == {"nodes.stair", "uplinks.stair"}


def test_the_scale_is_true() -> None:
    """Two places 8 m apart in x and 6 m in y lie as far apart on the page, in the scale that is printed."""
    root = picture(plan_of(load_text(BASE, "a.yaml").site))
    told = next(re.search(r"1:(\d+) in print", content) for content in texts(root) if "in print" in content)
    assert told is not None
    units_per_m = 4 * 1000 / int(told[1])
    (wall,) = [group for group in root.iter(f"{SVG}g") if group.attrib.get("id") == "floors.ground.walls.outer"]
    line = next(element for element in wall if element.tag == f"{SVG}polyline").attrib["points"]
    corners = [tuple(float(part) for part in point.split(",")) for point in line.split()]
    assert corners[2][0] - corners[3][0] == pytest.approx(12 * units_per_m, abs=0.2)
    assert corners[1][1] - corners[2][1] == pytest.approx(9 * units_per_m, abs=0.2)
    assert root.attrib["width"] == "190mm"
    assert float(root.attrib["viewBox"].split()[2]) == 760


def test_y_runs_up() -> None:
    ys = {}
    for name, at in (("low", "[4, 1]"), ("high", "[4, 8]")):
        root = picture(plan_of(load_text(BASE.replace("at: [5, 3]", f"at: {at}"), "a.yaml").site))
        (mark,) = [group for group in root.iter(f"{SVG}g") if group.attrib.get("id") == "nodes.stair"]
        triangle = next(element for element in mark if element.tag == f"{SVG}polygon")
        ys[name] = float(triangle.attrib["points"].split(",")[1].split()[0])
    assert ys["high"] < ys["low"]


def test_the_legend_explains_what_is_shown_and_no_more() -> None:
    shown = texts(picture(PLANS["kestrel-yard"]))
    assert {"gateway", "relay", "walk", "opening: door-steel", "heavy wall: brick, brick-cavity"} <= set(shown)
    assert "access point" not in shown
    assert "uplink over a wire, towards its parent" not in shown


def test_black_white_and_one_colour() -> None:
    colours = set(re.findall(r"#[0-9a-f]{3,6}\b", plan_svg(PLANS["kestrel-yard"])))
    greys = {colour for colour in colours if len(set(colour[1:])) == 1}
    assert colours - greys == {"#0b3f8a"}


def test_every_picture_begins_with_the_mark_of_the_command() -> None:
    assert plan_svg(PLANS["two-nodes"]).startswith(HEADER)


def test_no_level_no_speed_no_channel_of_a_node() -> None:
    written = plan_svg(PLANS["kestrel-yard"])
    assert not any(word in written for word in ("dBm", "Mb/s", "MHz", "kestrel-cafe"))


def test_a_label_takes_the_first_free_spot() -> None:
    placer = Placer(Box(0, 0, 200, 200))
    first = placer.place(around((100, 100), 6, 40, 10))
    assert first == Box(109, 95, 149, 105)
    second = placer.place(around((100, 100), 6, 40, 10))
    assert second == Box(51, 95, 91, 105)
    assert not first.meets(second)


def test_a_label_avoids_lines_and_the_edge() -> None:
    placer = Placer(Box(0, 0, 200, 200))
    placer.cross((120, 0), (120, 200), 3.0)
    assert placer.place(around((100, 100), 6, 40, 10)).right < 100
    at_the_edge = placer.place(around((195, 20), 3, 40, 10))
    assert at_the_edge.right <= 200


@pytest.mark.parametrize(
    ("start", "end", "meets"),
    [((0, 0), (10, 10), True), ((0, 5), (10, 5), True), ((5, 0), (5, 3), False), ((0, 9), (3, 10), False)],
)
def test_lines_through_a_box(start: tuple[float, float], end: tuple[float, float], meets: bool) -> None:
    assert passes(start, end, Box(4, 4, 6, 6)) is meets


@pytest.mark.parametrize(
    ("least", "found"), [(0.9, 1.0), (1.0, 1.0), (1.1, 2.0), (3.0, 5.0), (70.0, 100.0), (0.03, 0.05)]
)
def test_steps_of_scales(least: float, found: float) -> None:
    assert nice(least) == pytest.approx(found)


def test_text_is_wrapped_without_losing_a_letter() -> None:
    content = "one two three " + "x" * 200 + " four"
    lines = list(wrapped(content, 9.5, 120))
    assert "".join(lines).replace(" ", "") == content.replace(" ", "")
    assert all(width_of(line, 9.5) <= 120 for line in lines)
