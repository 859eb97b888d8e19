"""How the report lies in a window at a desk and on a phone, and that it is whole without anything from elsewhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.browser.chromium import DESK, PHONE, Browser
from tests.browser.sites import SITES, Reports, nothing

SIZES = pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
EACH = pytest.mark.parametrize("site", SITES)
SMALLEST_PX = 10
LEAST_SCALE = 0.95
"""A chart is drawn for two widths; shown smaller than that, its words would be hard to read."""
SLACK_PX = 1.0
"""What rounding may make of a width."""
OVERLAP = 0.2
"""Share of the smaller of two texts that may lie under the other."""

NAMED = """
const named = (it) => {
  const home = it.closest('section[id], header, nav');
  const words = (it.textContent || it.getAttribute('alt') || '').trim().replace(/\\s+/g, ' ').slice(0, 60);
  const place = home ? home.id || home.localName : '?';
  return `${place}: <${it.localName} class="${it.getAttribute('class') || ''}"> “${words}”`;
};
const shown = (it) => it.checkVisibility({visibilityProperty: true, opacityProperty: true});
"""
STICKING_OUT = (
    NAMED
    + """
const scrolls = (it) => {
  const box = it.parentElement.closest('.table, .wide');
  return box !== null && ['auto', 'scroll'].includes(getComputedStyle(box).overflowX);
};
const wide = document.documentElement.clientWidth;
return [...document.querySelectorAll('header, header *, nav, nav *, main, main *')]
  .filter((it) => shown(it) && !it.closest('svg svg, svg *') && !scrolls(it))
  .map((it) => [it, it.getBoundingClientRect()])
  .filter(([, box]) => box.width > 0 && (box.right > wide + given[0] || box.left < -given[0]))
  .map(([it, box]) => `${named(it)} from ${box.left.toFixed(1)} to ${box.right.toFixed(1)} of ${wide}`);
"""
)
SPILLED = (
    NAMED
    + """
const found = [];
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
const holds = (it) => !getComputedStyle(it).display.startsWith('inline') && getComputedStyle(it).display !== 'contents';
while (walker.nextNode()) {
  const node = walker.currentNode;
  let box = node.parentElement;
  if (!node.data.trim() || box.closest('svg, .skip') || !shown(box)) continue;
  while (!holds(box)) box = box.parentElement;
  const range = document.createRange();
  range.selectNodeContents(node);
  const [text, home] = [range.getBoundingClientRect(), box.getBoundingClientRect()];
  if (text.right > home.right + given[0] || text.left < home.left - given[0])
    found.push(`${named(box)}: text from ${text.left.toFixed(1)} to ${text.right.toFixed(1)}, ` +
      `its box from ${home.left.toFixed(1)} to ${home.right.toFixed(1)}`);
}
return found;
"""
)
SMALL = (
    NAMED
    + """
const speaks = (it) => [...it.childNodes].some((of) => of.nodeType === 3 && of.data.trim());
return [...document.querySelectorAll('body *')]
  .filter((it) => shown(it) && !it.closest('svg') && speaks(it))
  .filter((it) => parseFloat(getComputedStyle(it).fontSize) < given[0])
  .map((it) => `${named(it)}: ${getComputedStyle(it).fontSize}`);
"""
)
COLLISIONS = (
    NAMED
    + """
const found = [];
for (const svg of document.querySelectorAll('svg.floor[role=img]')) {
  const frame = svg.getBoundingClientRect();
  const key = svg.querySelector('title').textContent + ' in ' + svg.closest('section').id;
  const texts = [...svg.querySelectorAll('text')].map((it) => [it.textContent, it.getBoundingClientRect()])
    .filter(([, box]) => box.width > 0);
  for (const [words, box] of texts)
    if (box.left < frame.left - given[1] || box.right > frame.right + given[1] ||
        box.top < frame.top - given[1] || box.bottom > frame.bottom + given[1])
      found.push(`${key}: “${words}” sticks out of the picture`);
  texts.forEach(([one, a], at) => texts.slice(at + 1).forEach(([other, b]) => {
    const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    const share = wide > 0 && high > 0 ? wide * high / Math.min(a.width * a.height, b.width * b.height) : 0;
    if (share > given[0]) found.push(`${key}: “${one}” and “${other}” overlap by ${Math.round(100 * share)} %`);
  }));
}
return found;
"""
)


@SIZES
@EACH
def test_nothing_is_wider_than_the_window(browser: Browser, reports: Reports, site: str, size: tuple[int, int]) -> None:
    browser.open(reports.path(site), size)
    across, window = browser.run("return [document.scrollingElement.scrollWidth, innerWidth]")
    assert window == size[0]
    nothing(browser.run(STICKING_OUT, SLACK_PX))
    assert across <= window


@SIZES
@EACH
def test_every_text_stays_in_its_box_and_can_be_read(
    browser: Browser, reports: Reports, site: str, size: tuple[int, int]
) -> None:
    browser.open(reports.path(site), size)
    nothing(browser.run(SPILLED, SLACK_PX))
    nothing(browser.run(SMALL, SMALLEST_PX))


@SIZES
@EACH
def test_the_page_is_whole_by_itself(browser: Browser, reports: Reports, site: str, size: tuple[int, int]) -> None:
    address = browser.open(reports.path(site), size)
    assert browser.console == []
    assert address in browser.requests
    assert [it for it in browser.requests if it != address and not it.startswith("data:")] == []
    assert browser.run("return performance.getEntriesByType('resource').map(it => it.name.slice(0, 99))") == []
    images = browser.run(
        "return [...document.images].map((it) => [it.alt, it.naturalWidth, it.getBoundingClientRect().width])"
    )
    assert images
    assert [alt for alt, natural, _ in images if natural <= 0] == []
    assert [alt for alt, natural, wide in images if wide < natural * LEAST_SCALE] == [], "shown smaller than drawn"


@SIZES
@EACH
def test_words_on_plans_do_not_collide(browser: Browser, reports: Reports, site: str, size: tuple[int, int]) -> None:
    browser.open(reports.path(site), size)
    drawn = browser.run("return document.querySelectorAll('svg.floor[role=img]').length")
    assert (drawn > 0) == (site != "two-nodes")
    nothing(browser.run(COLLISIONS, OVERLAP, SLACK_PX))


def test_what_is_looked_for_would_be_seen(browser: Browser, reports: Reports) -> None:
    """The same page with one fault of each kind put in."""
    browser.open(reports.path("hillside-house"), PHONE)
    browser.run(
        "document.querySelector('main').insertAdjacentHTML('beforeend', given[0]);"
        "const text = document.querySelector('svg.floor[role=img] text');"
        "text.after(text.cloneNode(true));",
        '<section id="extra"><p style="width:500px">far out</p><p style="font-size:9px">tiny</p>'
        '<p style="width:40px;white-space:nowrap">far too long</p></section>',
    )
    assert any("far out" in line for line in browser.run(STICKING_OUT, SLACK_PX))
    assert any("far too long" in line for line in browser.run(SPILLED, SLACK_PX))
    assert any("tiny" in line for line in browser.run(SMALL, SMALLEST_PX))
    assert any("overlap by 100 %" in line for line in browser.run(COLLISIONS, OVERLAP, SLACK_PX))
    assert browser.run("return document.scrollingElement.scrollWidth > innerWidth")


def test_what_is_asked_from_elsewhere_would_be_seen(browser: Browser, tmp_path: Path) -> None:
    """A page that asks for a picture beside it and says something on the console."""
    page = tmp_path / "page.html"
    page.write_text("<!DOCTYPE html><img src='beside.png' alt=''><script>console.log('hello')</script>", "utf-8")
    browser.open(page)
    assert any("hello" in line for line in browser.console)
    assert any(it.endswith("beside.png") for it in browser.requests)
