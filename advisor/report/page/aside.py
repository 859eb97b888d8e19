"""Work done beside the main line, in a second process where the system offers that cheaply."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Callable


def aside(work: Callable[[], str]) -> Callable[[], str]:
    """Begin something that ends in a text; calling what this returns waits for it.

    On Linux a copy of the process does it while the main line goes on; elsewhere, and where the copy fails, it is done
    when it is asked for. The text is the same either way.
    """
    if sys.platform != "linux" or (os.cpu_count() or 1) < 2:
        return work
    ends = os.pipe()
    sys.stdout.flush()
    sys.stderr.flush()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # the copy runs this one function and ends
        child = os.fork()
    if child == 0:
        _copy(work, ends)
    os.close(ends[1])

    def result() -> str:
        with os.fdopen(ends[0], encoding="utf-8") as pipe:
            text = pipe.read()
        _, status = os.waitpid(child, 0)
        return text if os.waitstatus_to_exitcode(status) == 0 else work()

    return result


def _copy(work: Callable[[], str], ends: tuple[int, int]) -> None:
    """The life of the copy: never returns."""
    code = 1
    try:
        os.close(ends[0])
        with os.fdopen(ends[1], "w", encoding="utf-8") as pipe:
            pipe.write(work())
        code = 0
    finally:
        os._exit(code)
