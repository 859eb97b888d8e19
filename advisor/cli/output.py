"""Printing: results to stdout, talk to stderr; colour only on a terminal, the same bytes into a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import RenderableType

PIPE_WIDTH = 100
WIDEST = 120


def show(parts: Iterable[RenderableType]) -> None:
    """Print the parts of a report to stdout."""
    from rich.console import Console

    terminal = sys.stdout.isatty()
    console = Console(
        highlight=False,
        markup=False,
        emoji=False,
        legacy_windows=False,
        width=None if terminal else PIPE_WIDTH,
        no_color=None if terminal else True,
        force_terminal=None,
    )
    if terminal and console.width > WIDEST:
        console.width = WIDEST
    with console.capture() as captured:
        for part in parts:
            console.print(part)
    for line in captured.get().split("\n")[:-1]:
        sys.stdout.write(line.rstrip() + "\n")


def show_json(text: str) -> None:
    sys.stdout.write(text + "\n")


def tell(text: str) -> None:
    """A message to the person, on stderr."""
    sys.stderr.write(text + "\n")


@contextmanager
def progress(told: str) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on stderr while something long is computed, on a terminal only; what it gives is called with how much is
    done, of how much."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    columns = (TextColumn(told), BarColumn(), TextColumn("{task.completed} of at most {task.total}"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(told, total=None)
        yield lambda done, of: bar.update(task, completed=done, total=of)
