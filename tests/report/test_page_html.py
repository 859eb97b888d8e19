"""The report as a document: valid, whole by itself, told to those who do not see it, and the same every time."""

from __future__ import annotations

import base64
import hashlib
import os
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as Xml

import html5lib  # type: ignore[import-untyped]
import pytest
from markdown_it import MarkdownIt

from advisor.report.page.gather import SECTIONS
from advisor.units import inert
from tests.browser import hostile
from tests.browser.sites import Reports, loaded, shared

ROOT = Path(__file__).parent.parent.parent
SITES = ("kestrel-yard", "hillside-house", "two-nodes", "wired-annex", "hostile")
EACH = pytest.mark.parametrize("site", SITES)
LONGEST_BYTES = 1_500_000
SLOW = ("summary", "findings", "steps", "layouts")
"""Parts that search for something better, which takes most of the time."""
QUICK = "hillside-house"
"""A site whose report is quickly made, with everything in it."""
HEADING = re.compile(r"h([1-6])")
MARKDOWN = {
    *("h1", "h2", "h3", "h4", "p", "ul", "ol", "li", "strong", "em", "code", "pre", "hr", "br", "blockquote"),
    *("table", "thead", "tbody", "tr", "th", "td"),
}
"""What a report in Markdown may turn into; no links and no pictures among it."""


@pytest.fixture(scope="module")
def reports(tmp_path_factory: pytest.TempPathFactory) -> Reports:
    return shared(tmp_path_factory)


@pytest.fixture
def page(reports: Reports, site: str) -> str:
    return reports.html(site)


@pytest.fixture
def tree(page: str) -> Xml.Element:
    return parsed(page)[0]


@cache
def parsed(page: str) -> tuple[Xml.Element, tuple[str, ...]]:
    """The page as a tree, and what the parser of HTML 5 had to say against it."""
    parser = html5lib.HTMLParser(tree=html5lib.getTreeBuilder("etree"))
    tree = parser.parse(page)
    messages = html5lib.constants.E
    errors = tuple(f"line {at[0]}, column {at[1]}: {messages[code] % given}" for at, code, given in parser.errors)
    return tree, errors


def in_markdown(text: str) -> Xml.Element:
    """What a reader of Markdown that lets HTML through makes of it."""
    made = MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"]).render(text)
    found: Xml.Element = html5lib.parseFragment(made, treebuilder="etree")
    return found


def name_of(element: Xml.Element) -> str:
    """The name of an element without its namespace; empty for a comment."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def named(tree: Xml.Element, name: str) -> list[Xml.Element]:
    return [element for element in tree.iter() if name_of(element) == name]


def words(element: Xml.Element | None) -> str:
    return "" if element is None else " ".join("".join(element.itertext()).split())


def attributes(tree: Xml.Element) -> Iterator[tuple[Xml.Element, str, str]]:
    for element in tree.iter():
        for name, value in element.attrib.items():
            yield element, name.rpartition("}")[2].lower(), value


def charts(page: str) -> list[str]:
    found = re.findall(r"data:image/svg\+xml;base64,([A-Za-z0-9+/=]+)", page)
    return [base64.b64decode(data).decode() for data in found]


@EACH
def test_the_page_is_valid(page: str) -> None:
    assert parsed(page)[1] == ()
    html5lib.HTMLParser(strict=True).parse(page)
    assert len(named(parsed(page)[0], "main")) == 1


@EACH
def test_every_part_is_there_once_and_every_reference_leads_somewhere(tree: Xml.Element, site: str) -> None:
    ids = Counter(value for _, name, value in attributes(tree) if name == "id")
    assert [name for name, times in ids.items() if times > 1 or not name or re.search(r"\s", name)] == []
    assert {*SECTIONS} - ids.keys() == ({"difference"} if site != "two-nodes" else set())
    references = [
        target
        for _, name, value in attributes(tree)
        for target in (
            value.split()
            if name in ("aria-labelledby", "aria-describedby", "aria-controls", "headers", "for")
            else [value[1:]]
            if name == "href"
            else re.findall(r"url\(#([^)]*)\)", value)
        )
    ]
    assert len(references) > len(SECTIONS)
    assert [target for target in references if target not in ids] == []


@EACH
def test_headings_go_down_one_step_at_a_time(tree: Xml.Element) -> None:
    levels = [int(found[1]) for element in tree.iter() if (found := HEADING.fullmatch(name_of(element)))]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert [pair for pair in pairwise(levels) if pair[1] > pair[0] + 1] == []
    empty = [element for element in tree.iter() if HEADING.fullmatch(name_of(element)) and not words(element)]
    assert empty == []


@EACH
def test_every_table_tells_what_it_is_and_what_its_cells_are(tree: Xml.Element) -> None:
    tables = named(tree, "table")
    assert tables
    for table in tables:
        caption = words(next(iter(named(table, "caption")), None))
        assert caption
        heads = named(table, "th")
        assert {head.get("scope") for head in heads} <= {"col", "row", "colgroup", "rowgroup"}, caption
        assert all(words(head) for head in heads), caption
        rows = [[cell for cell in row if name_of(cell) in ("th", "td")] for row in named(table, "tr")]
        assert len(rows) >= 2, f"{caption} is empty"
        assert {cell.get("scope") for cell in rows[0]} == {"col"}, caption
        assert all("row" in {cell.get("scope") for cell in row} for row in rows[1:]), caption
        assert len({sum(int(cell.get("colspan", "1")) for cell in row) for row in rows}) == 1, caption


@EACH
def test_every_picture_is_told_in_words(tree: Xml.Element, site: str) -> None:
    assert [image for image in named(tree, "img") if not (image.get("alt") or "").strip()] == []
    inside = {id(inner) for svg in named(tree, "svg") for inner in svg.iter() if inner is not svg}
    outer = [svg for svg in named(tree, "svg") if id(svg) not in inside]
    assert (site == "two-nodes") != any(svg.get("role") == "img" for svg in outer)
    for svg in outer:
        if svg.get("role") == "img":
            parts = {name_of(part): words(part) for part in svg if name_of(part) in ("title", "desc")}
            assert parts.keys() == {"title", "desc"}
            assert all(parts.values())
        else:
            assert svg.get("aria-hidden") == "true"


@EACH
def test_nothing_is_fetched_from_anywhere(page: str, tree: Xml.Element) -> None:
    told = ("alt", "aria-label", "content")
    for element, name, value in attributes(tree):
        if name in ("src", "srcset", "href", "data", "action", "poster", "background", "xlink:href"):
            assert re.match(r"#|data:image/svg\+xml;base64,", value), f"{name_of(element)} {name}={value[:80]}"
        if name not in told and not name.startswith("data-") and not value.startswith("data:"):
            assert "//" not in value, f"{name_of(element)} {name}={value[:80]}"
            assert not re.search(r"url\((?!#)", value), f"{name_of(element)} {name}={value[:80]}"
    for style in named(tree, "style"):
        assert not re.search(r"//|@import|@font-face|url\((?!#)", style.text or "")
    assert not {"script", "link", "iframe", "object", "embed", "base", "audio", "video"} & set(
        map(name_of, tree.iter())
    )
    for chart in charts(page):
        for element, name, value in attributes(Xml.fromstring(chart)):
            assert not name.startswith("on"), f"{name_of(element)} {name}"
            assert name != "href" or value.startswith("#"), value
            assert not re.search(r"//|url\((?!#)|@import", value), value


@EACH
def test_the_page_forbids_what_it_does_not_need(tree: Xml.Element) -> None:
    head = named(tree, "head")[0]
    rules = [part.get("content") or "" for part in head if part.get("http-equiv") == "Content-Security-Policy"]
    assert len(rules) == 1
    directives = dict(directive.split(None, 1) for directive in rules[0].split(";"))
    assert directives.pop("default-src") == "'none'"
    assert directives.items() <= {
        ("img-src", "data:"),
        ("style-src", "'unsafe-inline'"),
        ("base-uri", "'none'"),
        ("form-action", "'none'"),
    }
    order = [name_of(part) for part in head]
    assert order.index("style") > max(at for at, name in enumerate(order) if name == "meta")


def test_the_report_of_the_demo_can_be_sent_by_mail(reports: Reports) -> None:
    assert len(reports.html("kestrel-yard").encode()) < LONGEST_BYTES


def test_nothing_of_a_hostile_description_is_an_element_or_an_attribute(reports: Reports) -> None:
    page = reports.html("hostile")
    tree = parsed(page)[0]
    assert [name for _, name, _ in attributes(tree) if name.startswith("on") or name in ("srcdoc", "formaction")] == []
    assert not {"script", "b", "javascript:window.owned=1"} & set(map(name_of, tree.iter()))
    assert words(named(tree, "h1")[0]) == inert(hostile.NAME)
    assert words(named(tree, "title")[0]).count("</title><svg onload=window.owned=1>") == 1
    for char in "\u202e\u2067\u200d\x07\x1b\x00":
        assert char not in page
        assert not any(char in chart for chart in charts(page))


@EACH
def test_markdown_turns_into_nothing_but_text_and_tables(reports: Reports, tree: Xml.Element, site: str) -> None:
    made = in_markdown(reports.markdown(site))
    elements = [element for element in made.iter() if element is not made and name_of(element)]
    assert {name_of(element) for element in elements} <= MARKDOWN
    assert {name for element in elements for name in element.attrib} <= {"style", "start", "class"}
    assert {value for element in elements if (value := element.get("style"))} <= {"text-align:right", "text-align:left"}
    assert named(made, "table")
    name = inert(loaded(site).site.site.name)
    assert [words(heading) for heading in named(made, "h1")] == [f"Report on the Wi-Fi of {name}"]
    titles = [words(heading) for heading in named(made, "h2")]
    assert titles == [words(heading) for heading in named(tree, "h2")]


def test_every_text_of_a_hostile_description_stands_in_the_markdown_to_the_letter(reports: Reports) -> None:
    told = words(in_markdown(reports.markdown("hostile")))
    for text in (hostile.FILE, *hostile.REASONS.values()):
        assert inert(text) in told


SAME = """
import hashlib, sys
from advisor.report.page import render
from advisor.report.page.gather import Wanted, gather
from tests.browser.sites import DAY, content, loaded

demo = gather(loaded("kestrel-yard"), Wanted(today=DAY, without=frozenset(sys.argv[1:])))
for found in (content("hillside-house"), demo):
    for text in (render.html(found), render.markdown(found)):
        print(hashlib.sha256(text.encode()).hexdigest())
"""


def test_the_same_description_gives_the_same_bytes(reports: Reports) -> None:
    """Here, and in two processes that order their sets differently; of the demo what is quickly computed."""
    running = [
        subprocess.Popen(
            [sys.executable, "-c", SAME, *sorted(SLOW)],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)},
            stdout=subprocess.PIPE,
            text=True,
        )
        for seed in ("1", "2")
    ]
    here = [hashlib.sha256(text.encode()).hexdigest() for text in (reports.html(QUICK), reports.markdown(QUICK))]
    told = [process.communicate()[0].split() for process in running]
    assert [process.returncode for process in running] == [0, 0]
    assert len(told[0]) == 4
    assert told[0] == told[1]
    assert told[0][:2] == here
