"""Debian's Chromium without a window, driven through selenium. Nothing is ever downloaded for it."""

from __future__ import annotations

import base64
import json
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from selenium.webdriver import Chrome

CHROMIUM, DRIVER = Path("/usr/bin/chromium"), Path("/usr/bin/chromedriver")
FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
DESK, PHONE = (1280, 900), (390, 844)
"""Sizes of a window in px: at a desk, and on a phone."""
PAPER_IN = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
"""Sizes of paper in inches."""


def missing() -> str | None:
    """Why no browser can be started here; None where one can."""
    if not CHROMIUM.is_file() or not DRIVER.is_file():
        return "browser tests need Debian's chromium and chromium-driver: not found"
    if find_spec("selenium") is None:
        return "browser tests need the Python package selenium: not found"
    return None


class Browser:
    """One window. `open` shows a file, everything else asks about the page it shows."""

    def __init__(self, driver: Chrome) -> None:
        self.driver = driver
        self.console: list[str] = []
        """What the console of the page said while it loaded."""
        self.requests: list[str] = []
        """Every address the page asked for while it loaded."""

    def open(self, path: Path, size: tuple[int, int] = DESK) -> str:
        """Show a file in a window of this size, and give the address it stands at."""
        width, height = size
        self.cdp("Emulation.setEmulatedMedia", media="")
        self.cdp("Emulation.setScrollbarsHidden", hidden=size == PHONE)
        self.cdp("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        for kind in ("browser", "performance"):
            self.driver.get_log(kind)  # type: ignore[no-untyped-call]  # and is forgotten
        self.driver.get(path.resolve().as_uri())
        self.run("await document.fonts.ready; await Promise.allSettled([...document.images].map(it => it.decode()))")
        self.console = [entry["message"] for entry in self.driver.get_log("browser")]  # type: ignore[no-untyped-call]
        self.requests = list(self._requests())
        return str(self.run("return document.URL"))

    def _requests(self) -> Iterator[str]:
        for entry in self.driver.get_log("performance"):  # type: ignore[no-untyped-call]
            message: Mapping[str, Any] = json.loads(entry["message"])["message"]
            if message["method"] in ("Network.requestWillBeSent", "Network.webSocketCreated"):
                yield str(message["params"].get("request", message["params"])["url"])

    def run(self, script: str, *given: object) -> Any:
        """What a script of ours returns that is carried out in the page; it may wait. The page's own rule against
        scripts does not hold it back, since the browser's debugger runs it."""
        return self.driver.execute_script(f"return (async (...given) => {{ {script} }})(...arguments)", *given)

    def cdp(self, command: str, **given: object) -> dict[str, Any]:
        """What the browser answers to a command of its DevTools protocol."""
        answer: dict[str, Any] = self.driver.execute_cdp_cmd(command, given)
        return answer

    def as_on_paper(self, width_px: float) -> None:
        """Lay the page out as for printing, on a sheet whose text is so wide."""
        self.cdp("Emulation.setEmulatedMedia", media="print")
        self.cdp("Emulation.setScrollbarsHidden", hidden=True)
        self.cdp(
            "Emulation.setDeviceMetricsOverride", width=int(width_px), height=1000, deviceScaleFactor=1, mobile=False
        )

    def pdf(self, paper: str) -> bytes:
        """The page as it is printed."""
        wide, high = PAPER_IN[paper]
        return base64.b64decode(self.cdp("Page.printToPDF", paperWidth=wide, paperHeight=high)["data"])

    def picture(self, box: Mapping[str, float] | None = None, scale: float = 1.0) -> bytes:
        """A PNG of the window, or of a box (x, y, width, height) of the page."""
        clip = {"clip": {**box, "scale": scale}, "captureBeyondViewport": True} if box else {}
        return base64.b64decode(self.cdp("Page.captureScreenshot", format="png", **clip)["data"])


@contextmanager
def started() -> Iterator[Browser]:
    """A browser of our own with a profile of its own, gone afterwards."""
    from selenium.webdriver import Chrome, ChromeOptions, ChromeService

    profile = tempfile.mkdtemp(prefix="chromium-")
    options = ChromeOptions()
    options.binary_location = str(CHROMIUM)
    for flag in (*FLAGS, f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    # With the driver's path given, selenium looks for no driver; were it to, it would find no program to do so.
    before = os.environ.get("SE_MANAGER_PATH")
    os.environ["SE_MANAGER_PATH"] = str(Path(profile) / "none")
    try:
        driver = Chrome(options=options, service=ChromeService(executable_path=str(DRIVER)))
        try:
            yield Browser(driver)
        finally:
            driver.quit()
    finally:
        if before is None:
            del os.environ["SE_MANAGER_PATH"]
        else:
            os.environ["SE_MANAGER_PATH"] = before
        shutil.rmtree(profile, ignore_errors=True)
