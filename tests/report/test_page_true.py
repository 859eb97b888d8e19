"""Every number of the report stands in its JSON: read from the page, and compared there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import html5lib
import pytest

from advisor.report.page.records import ReportOut
from tests.browser.sites import Reports, shared

DEMO = "kestrel-yard"
XHTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
SCALE = {"share": 100.0, "of ten": 10.0}


@pytest.fixture(scope="module")
def reports(tmp_path_factory: pytest.TempPathFactory) -> Reports:
    return shared(tmp_path_factory)


@pytest.fixture(scope="module")
def demo_page(reports: Reports) -> str:
    return reports.html(DEMO)


@pytest.fixture(scope="module")
def demo_data(reports: Reports) -> dict[str, Any]:
    return reports.data(DEMO)


@pytest.fixture(scope="module")
def told(demo_page: str) -> list[Any]:
    """Everything the page marks with where it stands in the JSON."""
    root = html5lib.parse(demo_page, namespaceHTMLElements=True)
    return [element for element in root.iter(f"{XHTML}bdi") if "data-from" in element.attrib]


def found_at(data: Any, pointer: str) -> Any:
    """RFC 6901, by hand; `#` at the end counts."""
    for part in pointer.split("/")[1:]:
        key = part.replace("~1", "/").replace("~0", "~")
        data = len(data) if key == "#" else data[int(key)] if isinstance(data, list) else data[key]
    return data


def text_of(element: Any) -> str:
    return "".join(element.itertext())


def shows(shown: str, value: float) -> bool:
    """Whether a number as printed is a value rounded to the digits printed."""
    digits = len(shown.partition(".")[2])
    return abs(float(shown) - value) <= 0.5 * 10.0**-digits + 1e-9


def agrees(text: str, form: str, value: Any) -> bool:
    """Whether a text tells a value of the JSON; written apart from the functions that print it."""
    if form == "asked":
        return text == {"works": "met", "may fail": "may not be met", "fails": "not met"}.get(value, value)
    if form == "line":
        return text == f"line {value.rsplit(':', 2)[1]}"
    if value is None:
        return text == ("not by itself" if form == "seconds" else "?")
    if form == "assumed":
        return value == f"assumed; {text}"
    if isinstance(value, str):
        return text == (value.replace("`", "") if form == "typed" else value)
    if isinstance(value, dict):
        return _quantity(text, value)
    shown = NUMBER.findall(text)
    if form == "share":
        return value < 0.01 if text == "under 1 %" else shows(shown[0], 100 * value)
    if form == "of ten":
        return shows(shown[0], value * (100 if text.endswith("of 100") else 10))
    if form == "minutes":
        return shows(shown[0], value / (60 if text.endswith("h") else 1))
    if form == "seconds":
        return shows(shown[0], value / {"s": 1, "min": 60, "h": 3600}[text.split()[-1]])
    return len(shown) == 1 and shows(shown[0], float(value))


def _quantity(text: str, value: dict[str, Any]) -> bool:
    if value["state"] == "unknown":
        return text == "?"
    if value["state"] == "options":
        centres = [answer["centre"] for answer in value["options"].values()]
        parts = text.split(" / ")
        parts = parts * len(centres) if len(parts) == 1 else parts
        return all(_same(part, centre) for part, centre in zip(parts, centres, strict=True))
    ends = [value["centre"], value["low"], value["high"]]
    if isinstance(value["centre"], str):
        return text.startswith(value["centre"])
    shown = [float(number) for number in NUMBER.findall(text)]
    shown = shown * 3 if len(shown) == 1 else shown
    return all(_near(number, end, text) for number, end in zip(shown, ends, strict=True))


def _near(number: float, value: float, text: str) -> bool:
    digits = max(len(part.partition(".")[2]) for part in NUMBER.findall(text))
    return abs(number - value) <= 0.5 * 10.0**-digits + 1e-9


def _same(shown: str, value: Any) -> bool:
    return shown == value if isinstance(value, str) else shows(shown, float(value))


def test_every_marked_figure_is_the_one_of_the_json(told: list[Any], demo_data: dict[str, Any]) -> None:
    wrong = []
    for element in told:
        pointer, form = element.attrib["data-from"], element.attrib["data-form"]
        if not agrees(text_of(element), form, found_at(demo_data, pointer)):
            wrong.append((pointer, form, text_of(element), found_at(demo_data, pointer)))
    assert not wrong, wrong[:10]
    assert len(told) > 700


STATIC = (
    r"802\.11\w*",
    r"\(?MOS, 1 to 4\.5; from 3\.6 on few complain\)?",
    r"10 and 90 %",
    r"2\.4",
    r"5 GHz",
    r"ITU-T G\.107",
    r"ITU-R P\.1238",
    r"Bianchi 2000",
    r"Python 3\.\d+\.\d+",
    r"100 draws",
    r"seed 1",
    r"\d+ rules of the rule book",
    r"Step \d+: ?",
    r"Settings card, step \d+",
    r"^\d+\.\d+$",
    r"^ ?\d+\. $",
    r"as under \d+",
    r"one of 4 ways",
    r"10–90 %",
    r"^\w+, level \d+",
    r"from the 10 to the 90 % point",
    r"Why 1 comes before 2",
    r"with it goe?s? \d+ more",
    r"And \d+ more, told",
    r"\(-?\d+, -?\d+\)",
    r"and \d+ more",
    r" and \d+ more",
    r"\(\w+\.r\d+\)",
)
"""Numbers of the report's own words: names of standards, what bands mean, numbering."""


def unmarked(page: str) -> Iterator[str]:
    """Every text with a digit that is not marked, outside pictures, style and head."""
    root = html5lib.parse(page, namespaceHTMLElements=True)

    def walk(element: Any, inside: bool) -> Iterator[str]:
        if element.tag in (f"{XHTML}style", f"{XHTML}head") or str(element.tag).startswith(SVG):
            return
        marked = inside or "data-from" in element.attrib
        if not marked and element.text and re.search(r"\d", element.text):
            yield element.text
        for child in element:
            yield from walk(child, marked)
            if not inside and "data-from" not in element.attrib and child.tail and re.search(r"\d", child.tail):
                yield child.tail

    yield from walk(next(root.iter(f"{XHTML}main")), False)


def test_every_other_number_is_counted_from_the_json_too(demo_page: str, demo_data: dict[str, Any]) -> None:
    """The few sums the report makes by itself, made anew here from the JSON."""
    data = demo_data
    asked = data["check"]["asked"]
    words = list(asked.values())
    judged = [word for word in words if word not in ("nothing asked", "not judged")]
    groups = data["check"]["groups"]
    outages = data["outages"]["outages"]
    hands = sum(bool(entry["needs_somebody"]) for entry in outages)
    by_rule = {
        (group["cause"]["rule"], group["cause"]["verdict"]) if not group["leads_to"] else number
        for number, group in enumerate(groups)
        if group["cause"]["level"] != "note"
    }
    notes = sum(group["cause"]["level"] == "note" for group in groups)
    passwords = [entry for entry in outages if entry["section"] == "names and passwords" and not entry["adds_nothing"]]
    summed = (
        f"{words.count('works')} of {len(judged)} places surely",
        f"{words.count('fails')} of {len(words)} place",
        f"{words.count('may fail')} of {len(words)} place",
        f"After {len(outages) - hands} of ",
        f"After {hands} of ",
        f"{len(outages) - hands} end with every node back by itself, {hands} need",
        f"{len(by_rule)} causes, {notes} notes",
        f"{sum(not entry['needs_somebody'] for entry in passwords)} other changes of names",
    )
    left = []
    for text in unmarked(demo_page):
        rest = text
        for pattern in (*map(re.escape, summed), *STATIC):
            rest = re.sub(pattern, "", rest)
        if re.search(r"\d", rest):
            left.append(text)
    assert not left


def test_how_many_more_go_is_what_the_json_lists(demo_page: str, demo_data: dict[str, Any]) -> None:
    root = html5lib.parse(demo_page, namespaceHTMLElements=True)
    seen = 0
    for entry in root.iter(f"{XHTML}dd"):
        found = re.search(r"with it goe?s? (\d+) more", text_of(entry))
        if found is None:
            continue
        pointer = next(
            e.attrib["data-from"] for e in entry.iter(f"{XHTML}bdi") if e.attrib["data-from"].endswith("/change")
        )
        tried = found_at(demo_data, pointer.removesuffix("/change"))
        assert int(found[1]) == len(tried["removes"]) - bool(tried["gone"])
        seen += 1
    assert seen > 3


def test_the_json_is_what_its_schema_says(demo_data: dict[str, Any]) -> None:
    ReportOut.model_validate(demo_data)


def test_the_maps_say_of_a_place_what_the_check_says(demo_data: dict[str, Any]) -> None:
    data = demo_data
    places = {entry["place"]: entry for entry in data["check"]["places"]}
    kind = data["maps"]["client"]
    seen = set()
    for floor in data["maps"]["floors"]:
        for cell in floor["cells"]:
            if len(cell["places"]) == 1:
                uses = places[cell["places"][0]]["uses"]
                assert {name: (use["word"], use["chance"]) for name, use in cell["uses"].items()} == {
                    name: (use["word"], use["chance"]) for name, use in uses.items()
                }
                seen.add(cell["places"][0])
    assert seen == {name for name, entry in places.items() if entry["client"] == kind}


def test_the_figures_on_the_plans_are_those_of_the_json(demo_page: str, demo_data: dict[str, Any]) -> None:
    """Hops with what they carry; on the maps, in how many of ten cases what may work does so."""
    root = html5lib.parse(demo_page, namespaceHTMLElements=True)
    labels = [text_of(it) for it in root.iter(f"{SVG}text")]
    hops = [label for label in labels if label.endswith("Mb/s")]
    serving = [hop["while_serving_mbps"] for hop in demo_data["capacity"]["hops"]]
    for label in hops:
        assert any(_quantity(label.partition(": ")[2].removesuffix(" Mb/s"), value) for value in serving), label
    chances = [re.fullmatch(r"(call|stream|browsing) (?:(\d+) to )?(\d+) of 10", label) for label in labels]
    told = {found.groups() for found in chances if found is not None}
    expected = set()
    for floor in demo_data["maps"]["floors"]:
        regions: dict[tuple[str, str], list[float]] = {}
        for cell in floor["cells"]:
            words = {use: cell["uses"][use]["word"] for use in ("calls", "video", "browsing")}
            sure = next((use for use, word in words.items() if word == "works"), "nothing")
            perhaps = next((use for use, word in words.items() if word in ("may fail", "works")), sure)
            if sure == "calls" and words["video"] == "may fail":
                perhaps = "video"
            if perhaps != sure:
                regions.setdefault((sure, perhaps), []).append(cell["uses"][perhaps]["chance"])
        for (_, perhaps), found in regions.items():
            low, high = (round(10 * end) for end in (min(found), max(found)))
            name = {"calls": "call", "video": "stream", "browsing": "browsing"}[perhaps]
            if len(found) >= 6:
                expected.add((name, None if low == high else str(low), str(high)))
    assert hops and told == expected


def test_markdown_has_the_same_content(demo_page: str, reports: Reports) -> None:
    """Every figure and sentence of the page stands in the Markdown too, in the same order."""
    plain = re.sub(r"\\(.)", r"\1", reports.markdown(DEMO)).replace("`", "")
    root = html5lib.parse(demo_page, namespaceHTMLElements=True)
    at = 0
    for element in root.iter(f"{XHTML}bdi"):
        text = text_of(element)
        found = plain.find(text, at)
        assert found >= 0, (text, plain[at : at + 80])
        at = found
    headings = [text_of(it) for it in root.iter() if it.tag in (f"{XHTML}h2",)]
    assert headings and all(f"## {heading}" in plain for heading in headings)
