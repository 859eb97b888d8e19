"""Why calls suffer, as text: ranked causes with evidence and the change that mends each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.text import Text

from advisor.advice.causes import NOTABLE, Cause, Diagnosis
from advisor.report.text import heading
from advisor.report.walk_text import summary
from advisor.site.load import LoadedSite
from advisor.units import inert

if TYPE_CHECKING:
    from rich.console import RenderableType


def calls(loaded: LoadedSite, found: Sequence[Diagnosis]) -> Iterator[RenderableType]:
    """One part for each walk or place looked at, the worst first."""
    yield heading(loaded)
    for diagnosis in found:
        yield Text()
        yield from summary(diagnosis.course, diagnosis.now)
        if diagnosis.by_thumb is not None:
            yield Text(
                "By the limits `check` uses (level at the place, waits and queues that speech bears) it holds "
                f"in {diagnosis.by_thumb:.0%} of the cases; where the two differ, believe the worse."
            )
        yield from _causes(diagnosis)
    yield Text()
    yield Text(
        "Each cause was taken away alone and the walk computed again; the rest was left as it is. Calls to emergency "
        "services: keep another way to call, whatever this says.",
        style="dim",
    )


def _causes(diagnosis: Diagnosis) -> Iterator[RenderableType]:
    if diagnosis.tried == 0 or not diagnosis.course.trail.radios:
        return
    if not diagnosis.causes and not diagnosis.pairs:
        yield Text(
            f"None of {diagnosis.tried} possible causes, taken away alone or in pairs, makes it notably better: the "
            "way itself is too weak. Bring a node nearer, or add one with a cable."
        )
        return
    yield Text("Why, the weightiest first")
    for number, cause in enumerate(diagnosis.causes, 1):
        yield from _told(f"{number}.", cause, diagnosis)
    for cause in diagnosis.pairs:
        yield from _told("Both:", cause, diagnosis)
    left = 1.0 - max((cause.share for cause in (*diagnosis.causes, *diagnosis.pairs)), default=0.0)
    if left > NOTABLE:
        yield Text(f"Not explained by the first of these: {left:.0%} of the trouble.")


def _told(mark: str, cause: Cause, diagnosis: Diagnosis) -> Iterator[RenderableType]:
    yield Padding(Text(inert(f"{mark} {cause.what}: explains {min(cause.share, 1.0):.0%}"), style="bold"), (0, 0, 0, 2))
    before, after = diagnosis.now, cause.without
    lines = [
        f"Without it: calls suffer in {after.any:.0%} of the cases instead of {before.any:.0%}, audible gaps in "
        f"{after.audible_gap:.0%} instead of {before.audible_gap:.0%}, dropped {after.dropped:.0%} instead of "
        f"{before.dropped:.0%}."
    ]
    lines += [cause.evidence] if cause.evidence else []
    change = cause.change
    lines += [f"Do: {change.told} ({change.effort_min:g} min)" if change else "Nothing at the site takes it away."]
    lines += [f"But not possible on this equipment: {change.refused}."] if change and change.refused else []
    lines += [f"But: {cause.harm}"] if cause.harm else []
    for line in lines:
        yield Padding(Text(inert(line)), (0, 0, 0, 6))
