"""Writes the report of the demo and pictures of it into `docs/report/`: at a desk, on a phone and on paper.

    python -m docs.make_screenshots

It needs what the browser tests need, and pdftoppm and pdftotext for the pictures of paper.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from PIL import Image

from advisor.report.page import render
from advisor.report.page.gather import Wanted, gather
from advisor.site.load import load_text
from tests.browser import chromium

FOLDER = Path(__file__).parent / "report"
SITE = "profiles/kestrel-yard.yaml"
PAGE = FOLDER / "kestrel-yard.html"
DAY = date(2027, 1, 4)
"""The day the report is made for, so that it stays the same."""
MOST_BYTES = 1_500_000
COLOURS = 64
MARGIN_PX = 16
PAPER_DOTS_PER_INCH = 80
CARD = "Settings card"
"""Stands on the second sheet of paper shown."""


@dataclass(frozen=True, slots=True)
class Shot:
    """A picture: its file, the part of the page it shows (a CSS selector) and how many px of it at most."""

    name: str
    part: str
    most_high: int


DESK = (
    Shot("desktop-1", "body", 1000),
    Shot("desktop-2", "#plan", 1100),
    Shot("desktop-3", "#outcomes", 1100),
    Shot("desktop-4", "#walks", 1000),
    Shot("desktop-5", "#findings", 1000),
    Shot("desktop-6", "#steps", 1000),
)
PHONE = (
    Shot("phone-1", "body", 844),
    Shot("phone-2", "#plan", 844),
    Shot("phone-3", "#findings", 844),
)
PHONE_SCALE = 2.0


def report() -> str:
    """The report of the demo as a page."""
    text = (Path(__file__).parent.parent / SITE).read_text(encoding="utf-8")
    return render.html(gather(load_text(text, SITE), Wanted(today=DAY)))


def shots(browser: chromium.Browser) -> Iterator[tuple[str, bytes]]:
    """Every picture of a window with its name."""
    for size, scale, wanted in ((chromium.DESK, 1.0, DESK), (chromium.PHONE, PHONE_SCALE, PHONE)):
        browser.open(PAGE, size)
        for shot in wanted:
            yield shot.name, browser.picture(box_of(browser, shot, size[0]), scale)


def box_of(browser: chromium.Browser, shot: Shot, window_px: int) -> dict[str, float]:
    """Where a part stands on the page, with a little around it."""
    left, top, wide, high = browser.run(
        "const box = document.querySelector(given[0]).getBoundingClientRect();"
        "return [box.left + scrollX, box.top + scrollY, box.width, box.height]",
        shot.part,
    )
    x, y = max(left - MARGIN_PX, 0), max(top - MARGIN_PX, 0)
    return {
        "x": x,
        "y": y,
        "width": min(wide + 2 * MARGIN_PX, window_px - x),
        "height": min(high + 2 * MARGIN_PX, shot.most_high),
    }


def papers(pdf: bytes) -> Iterator[tuple[str, bytes]]:
    """The first sheet, and the one with the first settings card."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "report.pdf"
        path.write_bytes(pdf)
        sheets = told("pdftotext", path, "-").decode().split("\f")
        card = next(number for number, sheet in enumerate(sheets, 1) if CARD in sheet)
        for name, number in (("paper-1", 1), ("paper-2", card)):
            found = told("pdftoppm", "-png", "-r", PAPER_DOTS_PER_INCH, "-f", number, "-l", number, path)
            yield name, found


def told(*command: object) -> bytes:
    return subprocess.run([str(word) for word in command], check=True, capture_output=True).stdout


def small(picture: bytes) -> bytes:
    """The same picture with few colours."""
    out = io.BytesIO()
    image = Image.open(io.BytesIO(picture)).convert("RGB")
    image.quantize(COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def main() -> None:
    why = chromium.missing()
    if why is None and not (shutil.which("pdftoppm") and shutil.which("pdftotext")):
        why = "pictures of paper need pdftoppm and pdftotext (Debian's poppler-utils): not found"
    if why is not None:
        raise SystemExit(why)
    FOLDER.mkdir(exist_ok=True)
    PAGE.write_text(report(), encoding="utf-8")
    with chromium.started() as browser:
        made = {name: small(picture) for name, picture in shots(browser)}
        browser.open(PAGE)
        made |= {name: small(picture) for name, picture in papers(browser.pdf("A4"))}
    size = sum(map(len, made.values()))
    if size > MOST_BYTES:
        raise SystemExit(f"the pictures have {size} bytes together, more than {MOST_BYTES}")
    for old in FOLDER.glob("*.png"):
        old.unlink()
    for name, picture in made.items():
        (FOLDER / f"{name}.png").write_bytes(picture)


if __name__ == "__main__":
    main()
