"""The sites whose reports are looked at, and their reports as files: each made once, whatever the number of workers."""

from __future__ import annotations

import fcntl
import json
import os
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from advisor.report.page import render
from advisor.report.page.gather import Content, Wanted, gather
from advisor.site.load import LoadedSite, load_site, load_text
from tests.browser import hostile

PROFILES = Path(__file__).parent.parent.parent / "profiles"
SITES = ("kestrel-yard", "hillside-house", "two-nodes", "hostile")
"""Drawn on two floors, told by rooms, told by distances (beside another description), and as nasty as can be."""
DAY = date(2027, 1, 4)


def loaded(site: str) -> LoadedSite:
    if site == "hostile":
        return load_text(hostile.text(), hostile.FILE)
    return load_site(PROFILES / f"{site}.yaml")


def content(site: str) -> Content:
    """All a report shows; of the site told by distances also the difference to a changed one."""
    against = None
    if site == "two-nodes":
        text = (PROFILES / "two-nodes.yaml").read_text(encoding="utf-8").replace("channel: 36", "channel: 44")
        against = load_text(text.replace("distance_m: 9", "distance_m: 14"), "other.yaml")
    return gather(loaded(site), Wanted(today=DAY, against=against))


class Reports:
    """The reports of all sites as files of one folder, each made when it is first asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(exist_ok=True)

    def path(self, site: str) -> Path:
        """The page."""
        return self._made(site) / "report.html"

    def html(self, site: str) -> str:
        return self.path(site).read_text(encoding="utf-8")

    def markdown(self, site: str) -> str:
        return (self._made(site) / "report.md").read_text(encoding="utf-8")

    def data(self, site: str) -> dict[str, Any]:
        """The JSON the page was made from, as `--format json` prints it."""
        found: dict[str, Any] = json.loads((self._made(site) / "report.json").read_text(encoding="utf-8"))
        return found

    def _made(self, site: str) -> Path:
        """The folder of a site's reports; another worker that makes them is waited for."""
        folder = self.folder / site
        with (self.folder / f"{site}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not folder.is_dir():
                found = content(site)
                unfinished = self.folder / f"{site}.unfinished"
                unfinished.mkdir(exist_ok=True)
                (unfinished / "report.html").write_text(render.html(found), encoding="utf-8")
                (unfinished / "report.md").write_text(render.markdown(found), encoding="utf-8")
                (unfinished / "report.json").write_text(json.dumps(found.data), encoding="utf-8")
                unfinished.rename(folder)
        return folder


def shared(factory: pytest.TempPathFactory) -> Reports:
    """The reports of this run of the tests; its workers have one folder for them."""
    base = factory.getbasetemp()
    return Reports((base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "reports")


def nothing(found: list[str]) -> None:
    """Fails, with one line for each thing found."""
    if found:
        pytest.fail(f"{len(found)} found:\n" + "\n".join(found), pytrace=False)
