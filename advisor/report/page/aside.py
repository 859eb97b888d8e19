"""Work done beside the main line, in a second process where the system offers that cheaply."""

from __future__ import annotations

import os
import signal
import sys
import warnings
from collections.abc import Callable
from contextlib import suppress

NICE = 10
"""Copies give way to the main line, which does most of the work."""


class Aside:
    """Something that ends in a text, begun at once if it is wanted `soon`, and waited for when it is asked for.

    On Linux a copy of the process does it while the main line goes on; elsewhere, and where the copy fails, it is done
    when it is asked for. The text is the same either way.
    """

    def __init__(self, work: Callable[[], str], *, soon: bool = True) -> None:
        self._work = work
        self._copy: tuple[int, int] | None = None
        """The process and where its text comes out."""
        if soon and sys.platform == "linux" and (os.cpu_count() or 1) > 1:
            with suppress(OSError):  # no room for another process
                self._copy = _begun(work)

    def result(self) -> str:
        """The text."""
        if self._copy is None:
            return self._work()
        child, end = self._copy
        self._copy = None
        with os.fdopen(end, encoding="utf-8") as pipe:
            text = pipe.read()
        try:
            _, status = os.waitpid(child, 0)
        except ChildProcessError:  # somebody else has waited for it: how it ended is not known
            return self._work()
        return text if os.waitstatus_to_exitcode(status) == 0 else self._work()

    def drop(self) -> None:
        """Nobody will ask: the copy ends."""
        if self._copy is None:
            return
        child, end = self._copy
        self._copy = None
        os.close(end)
        with suppress(ProcessLookupError, ChildProcessError):
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)


def _begun(work: Callable[[], str]) -> tuple[int, int]:
    """A copy of the process at work. Raises OSError where there can be none."""
    ends = os.pipe()
    sys.stdout.flush()
    sys.stderr.flush()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # the copy runs this one function and ends
            child = os.fork()
    except OSError:
        os.close(ends[0])
        os.close(ends[1])
        raise
    if child == 0:
        _live(work, ends)
    os.close(ends[1])
    return child, ends[0]


def _live(work: Callable[[], str], ends: tuple[int, int]) -> None:
    """The life of the copy: never returns."""
    code = 1
    try:
        os.close(ends[0])
        os.nice(NICE)
        with os.fdopen(ends[1], "w", encoding="utf-8") as pipe:
            pipe.write(work())
        code = 0
    finally:
        os._exit(code)
