"""Work beside the main line gives the same text whether or not there is a copy of the process."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from advisor.report.page.aside import Aside

LINUX = pytest.mark.skipif(sys.platform != "linux" or (os.cpu_count() or 1) < 2, reason="no copy is made here")


@pytest.mark.parametrize("platform", ["linux", "elsewhere"])
def test_the_text_comes_back_whole(monkeypatch: pytest.MonkeyPatch, platform: str) -> None:
    monkeypatch.setattr(sys, "platform", platform)
    assert Aside(lambda: "née 工\n" * 100_000).result() == "née 工\n" * 100_000


@LINUX
def test_where_the_copy_fails_the_main_line_does_it() -> None:
    own = os.getpid()

    def work() -> str:
        if os.getpid() != own:
            os._exit(7)
        return "done here"

    assert Aside(work).result() == "done here"


@LINUX
def test_an_error_comes_up_in_the_main_line(capfd: pytest.CaptureFixture[str]) -> None:
    def work() -> str:
        raise ValueError("no such layout")

    with pytest.raises(ValueError, match="no such layout"):
        Aside(work).result()
    assert capfd.readouterr() == ("", "")


@LINUX
def test_where_no_copy_can_be_made_it_is_done_later(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse() -> int:
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(os, "fork", refuse)
    before = len(list(Path("/proc/self/fd").iterdir()))
    assert Aside(lambda: "done later").result() == "done later"
    assert len(list(Path("/proc/self/fd").iterdir())) == before


@LINUX
def test_what_nobody_asks_for_ends() -> None:
    aside = Aside(lambda: "x" * 10_000_000)
    assert aside._copy is not None
    child = aside._copy[0]
    aside.drop()
    with pytest.raises(ChildProcessError):
        os.waitpid(child, 0)
