"""The report on paper: whole, and nothing beyond the edge of the sheet."""

from __future__ import annotations

import re
import shutil
import subprocess
import unicodedata
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest

from tests.browser.chromium import PAPER_IN, Browser
from tests.browser.sites import SITES, Reports, nothing

TOOLS = pytest.mark.skipif(
    shutil.which("pdftotext") is None or shutil.which("pdfinfo") is None,
    reason="tests of printed reports need pdftotext and pdfinfo (Debian's poppler-utils): not found",
)
EACH = pytest.mark.parametrize("site", SITES)
PAPERS = pytest.mark.parametrize("paper", PAPER_IN)
MOST_PAGES = 40
PX_PER_INCH, POINTS_PER_INCH = 96, 72
LEAST_EDGE_IN = 0.4
"""What printers leave white at the edge; nothing may stand there."""
LONGEST_WHOLE = 15
"""Letters of the longest words that are never broken."""
XHTML = "{http://www.w3.org/1999/xhtml}"


PRINTED: dict[tuple[str, str], Path] = {}


@pytest.fixture
def printed(browser: Browser, reports: Reports, site: str, paper: str, tmp_path: Path) -> Path:
    """The report as a PDF, printed once, and open in the browser."""
    browser.open(reports.path(site))
    if (site, paper) not in PRINTED:
        PRINTED[site, paper] = tmp_path / "report.pdf"
        PRINTED[site, paper].write_bytes(browser.pdf(paper))
    return PRINTED[site, paper]


def told(*command: str | Path) -> str:
    return subprocess.run(command, check=True, capture_output=True).stdout.decode(errors="replace")


def words(path: Path) -> Iterator[tuple[int, str, float, float, float]]:
    """Every word with its page, where it begins and ends, and how wide the page is, in points."""
    tree = Xml.fromstring(re.sub(r"[^\t\n\r -\ud7ff\ue000-\ufffd]", "", told("pdftotext", "-bbox-layout", path, "-")))
    for number, page in enumerate(tree.iter(f"{XHTML}page"), 1):
        for word in page.iter(f"{XHTML}word"):
            yield (
                number,
                word.text or "",
                float(word.get("xMin", 0)),
                float(word.get("xMax", 0)),
                float(page.get("width", 0)),
            )


def letters(text: str) -> str:
    """Letters and digits of a text, which neither a break of a line nor capitals take away."""
    return re.sub(r"[^a-z0-9]", "", text.lower())


@TOOLS
@PAPERS
@EACH
def test_a_sane_number_of_sheets_of_the_right_size(printed: Path, paper: str) -> None:
    info = dict(re.findall(r"^([^:]+):\s+(.*)$", told("pdfinfo", printed), re.M))
    assert 2 <= int(info["Pages"]) < MOST_PAGES
    size = [float(number) for number in re.findall(r"[\d.]+", info["Page size"])[:2]]
    assert size == pytest.approx([inches * POINTS_PER_INCH for inches in PAPER_IN[paper]], abs=2)


@TOOLS
@PAPERS
@EACH
def test_every_section_and_table_is_on_paper(browser: Browser, printed: Path) -> None:
    text = letters(told("pdftotext", printed, "-"))
    titles, pieces = browser.run(
        "const pieces = (it) => [...it.childNodes].flatMap((of) => of.nodeType === 3 ? [of.data] : pieces(of));"
        "const all = (what) => [...document.querySelectorAll(what)];"
        "return [all('main h2').map((it) => it.textContent), all('main h3, main caption').flatMap(pieces)];"
    )
    assert len(titles) >= 10
    assert [words for words in (*titles, *pieces) if letters(words) not in text] == []


@TOOLS
@PAPERS
@EACH
def test_nothing_is_printed_beyond_the_edge(printed: Path) -> None:
    edge = LEAST_EDGE_IN * POINTS_PER_INCH
    nothing(
        [
            f"page {page}: “{word}” from {left:.0f} to {right:.0f} of {wide:.0f}"
            for page, word, left, right, wide in words(printed)
            if left < edge or right > wide - edge
        ]
    )


def tokens(text: str) -> Counter[str]:
    """Words and numbers of a text, but for those so long that a line may break inside."""
    found = re.findall(r"[a-z0-9]+", unicodedata.normalize("NFKC", text).lower())
    return Counter(token for token in found if len(token) <= LONGEST_WHOLE)


@TOOLS
@PAPERS
@EACH
def test_no_word_is_lost_on_paper(browser: Browser, printed: Path) -> None:
    """What lies beyond the edge of a sheet, or under its end, is not printed."""
    shown = browser.run(
        "document.querySelectorAll('wbr').forEach((it) => it.remove());"
        "document.querySelector('main').normalize();"
        "const words = [];"
        "const walker = document.createTreeWalker(document.querySelector('main'), NodeFilter.SHOW_TEXT);"
        "while (walker.nextNode())"
        "  if (!walker.currentNode.parentElement.closest('svg')) words.push(walker.currentNode.data);"
        "return words.join(' ');"
    )
    asked = tokens(shown)
    assert asked.total() > 500
    lost = asked - tokens(" ".join(word for _, word, *_ in words(printed)))
    nothing([f"“{token}” {times} times" for token, times in sorted(lost.items())])


@PAPERS
@EACH
def test_nothing_has_to_be_shrunk_to_fit_the_sheet(browser: Browser, reports: Reports, site: str, paper: str) -> None:
    """A page wider than its sheet is printed smaller, so that all of its text is small."""
    browser.open(reports.path(site))
    margins = browser.run(
        "for (const rule of [...document.styleSheets].flatMap((sheet) => [...sheet.cssRules]))"
        "  if (rule instanceof CSSPageRule) return [rule.style.marginLeft, rule.style.marginRight];"
        "return ['1cm', '1cm'];"
    )
    inches = [float(re.sub("[a-z]", "", told_)) * {"mm": 1, "cm": 10}[told_[-2:]] / 25.4 for told_ in margins]
    width = int((PAPER_IN[paper][0] - sum(inches)) * PX_PER_INCH)
    browser.as_on_paper(width)
    across = browser.run("return document.scrollingElement.scrollWidth")
    wide = browser.run(
        "const box = (it) => it.getBoundingClientRect();"
        "const out = (it) => box(it).right > given[0] + 1 || box(it).left < -1;"
        "const words = (it) => it.textContent.trim().replace(/\\s+/g, ' ').slice(0, 50);"
        "return [...document.querySelectorAll('main *:not(svg *)')]"
        "  .filter((it) => out(it) && !out(it.parentElement))"
        "  .map((it) => `${it.closest('section').id}: <${it.localName}> “${words(it)}” from `"
        "    + `${box(it).left.toFixed(0)} to ${box(it).right.toFixed(0)} of ${given[0]} px`)",
        width,
    )
    nothing(wide)
    assert across <= width
