"""A description full of markup and code, shown in a browser: it stays text, to the letter."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest

from advisor.units import inert
from tests.browser import hostile
from tests.browser.chromium import DESK, PHONE, Browser
from tests.browser.sites import Reports

ALIVE = """
const found = [];
for (const it of document.querySelectorAll('*')) {
  if (['script', 'iframe', 'object', 'embed', 'base', 'form', 'link', 'foreignobject', 'animate', 'set', 'use', 'a']
      .includes(it.localName.toLowerCase()) && !(it.localName === 'a' && /^#[\\w-]+$/.test(it.getAttribute('href'))))
    found.push(`<${it.localName}> ${it.outerHTML.slice(0, 120)}`);
  for (const {name, value} of it.attributes) {
    if (/^on/i.test(name) || name === 'srcdoc') found.push(`${it.localName}: ${name}="${value.slice(0, 80)}"`);
    if (['src', 'srcset', 'href', 'xlink:href', 'action', 'data'].includes(name) && !/^(#|data:image\\/)/.test(value))
      found.push(`${it.localName}: ${name}="${value.slice(0, 80)}"`);
    if (/javascript:/i.test(value) && !['content', 'aria-label', 'alt', 'data-from'].includes(name))
      found.push(`${it.localName}: ${name}="${value.slice(0, 80)}"`);
  }
}
if (window.owned !== undefined) found.push('a script of the description ran');
return found;
"""
SVG = "{http://www.w3.org/2000/svg}"
HARMLESS = {
    *("svg", "title", "desc", "defs", "g", "path", "text", "tspan", "rect", "line", "polyline", "polygon", "circle"),
    *("clipPath", "pattern", "use", "style"),
}


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_nothing_of_a_description_acts(browser: Browser, reports: Reports, size: tuple[int, int]) -> None:
    browser.open(reports.path("hostile"), size)  # a dialogue would end this with an error
    assert browser.run(ALIVE) == []
    assert browser.console == []
    assert browser.run("return document.querySelectorAll('main#report').length") == 1
    assert browser.run("return document.querySelectorAll('h1').length") == 1


def test_no_key_and_no_pointer_wakes_anything(browser: Browser, reports: Reports) -> None:
    browser.open(reports.path("hostile"))
    browser.run(
        "for (const it of document.querySelectorAll('*'))"
        "  for (const kind of ['click', 'mouseover', 'focus', 'load', 'error', 'animationend', 'toggle'])"
        "    it.dispatchEvent(new Event(kind, {bubbles: true, cancelable: true}));"
        "await new Promise((done) => setTimeout(done, 50));"
    )
    assert browser.run(ALIVE) == []


def test_every_text_stands_there_to_the_letter(browser: Browser, reports: Reports) -> None:
    browser.open(reports.path("hostile"))
    title, heading, body = browser.run(
        "return [document.title, document.querySelector('h1').textContent, document.body.textContent]"
    )
    assert heading.strip() == inert(hostile.NAME)
    assert inert(hostile.NAME) in title
    told = " ".join(body.split())
    for text in (hostile.FILE, *hostile.REASONS.values(), hostile.LONG):
        assert inert(text) in told, text
    for char in "\u202e\u2067\u200d\x07\x1b\x00":
        assert char not in body
    for line in re.findall(r"[^\n]*\b49\b[^\n]*", body):
        assert "{" not in line, f"a template was worked out: {line}"


def test_every_name_of_a_network_that_is_told_is_told_to_the_letter(browser: Browser, reports: Reports) -> None:
    """Names stand on the air as octets; one that is no text is told as such."""
    browser.open(reports.path("hostile"))
    body = " ".join(browser.run("return document.body.textContent").split())
    for name in hostile.SSIDS.values():
        assert inert(name) in body, name
    assert f"0x{hostile.OCTETS.hex()}" in body


def charts(page: Path) -> Iterator[str]:
    for data in re.findall(r"data:image/svg\+xml;base64,([A-Za-z0-9+/=]+)", page.read_text(encoding="utf-8")):
        yield base64.b64decode(data).decode()


def test_nothing_in_the_charts_acts(browser: Browser, reports: Reports) -> None:
    drawn = list(charts(reports.path("hostile")))
    assert len(drawn) >= 6
    for chart in drawn:
        assert "<!ENTITY" not in chart
        for element in Xml.fromstring(chart).iter():
            assert element.tag.removeprefix(SVG) in HARMLESS, element.tag
            for name, value in element.attrib.items():
                assert not name.lower().startswith("on"), name
                assert not name.endswith("href") or value.startswith("#"), value
                assert "javascript:" not in value
                assert not re.search(r"url\((?!#)", value), value


def test_charts_shown_by_themselves_do_nothing(browser: Browser, reports: Reports, tmp_path: Path) -> None:
    """Opened on its own a picture is a document, in which scripts would run."""
    for number, chart in enumerate(charts(reports.path("hostile"))):
        path = tmp_path / f"{number}.svg"
        path.write_text(chart, encoding="utf-8")
        browser.open(path)
        assert browser.run("return [document.documentElement.localName, window.owned ?? null]") == ["svg", None]
        assert browser.console == []
        assert len(browser.requests) == 1


def test_what_is_looked_for_would_be_seen(browser: Browser, tmp_path: Path) -> None:
    """The same texts in a page that does not guard itself."""
    page = tmp_path / "page.html"
    page.write_text(f"<!DOCTYPE html><main id=report><h1>{''.join(hostile.MARKUP[:2])}</h1></main>", encoding="utf-8")
    browser.open(page)
    found = browser.run(ALIVE)
    assert "a script of the description ran" in found
    assert any(line.startswith("<script>") for line in found)
    assert any("onerror" in line for line in found)
