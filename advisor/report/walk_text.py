"""A walk on a call as text: what happens on the way, how it sounds, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from advisor.advice.causes import Trouble
from advisor.facts.walks import Course, Crossing
from advisor.report.text import heading, plain_table
from advisor.site.load import LoadedSite
from advisor.units import inert
from advisor.walk.records import NONE, Change

if TYPE_CHECKING:
    from rich.console import RenderableType


TOLD = 0.1
"""Terms of a gap told in words: those of at least this share; the JSON has all."""
WHY = {
    "looked": "found better",
    "lost": "after losing its link",
    "asked": "asked to move",
    "thrown off": "after being thrown off",
}
"""Why a client changed, in words."""


def walk(
    loaded: LoadedSite, course: Course, trouble: Trouble, crossings: tuple[Crossing, ...]
) -> Iterator[RenderableType]:
    """The parts of the answer, in order."""
    yield heading(loaded)
    yield Text()
    yield from summary(course, trouble)
    yield from _timeline(course)
    yield from _crossings(crossings)
    yield from _time_on(course)
    yield from _assumed(course)


def summary(course: Course, trouble: Trouble) -> Iterator[RenderableType]:
    """How the call fares, in a few sentences."""
    seconds = len(course.trail.times_s) * course.trail.step_s
    title = Text(inert(course.trail.walk), style="bold").append(f"  {seconds:.0f} s", style="not bold")
    yield title.append(f", {course.trail.walked_m[-1]:.0f} m" if course.trail.walked_m[-1] else "", style="not bold")
    if not course.trail.radios:
        yield Text("The device can join no radio of the site, so nothing passes; `advisor check` says why.")
        return
    standing = not course.trail.walked_m[-1]
    if course.trail.missing:
        yield Text(inert(f"Not known whether a call holds {_place(standing)}: {'; '.join(course.trail.missing)}."))
        yield Text("As far as can be followed without it:")
    else:
        yield Text(_verdict(trouble, standing))
    yield from (Text(inert(f"Note: {line}.")) for line in course.trail.assumed if line.startswith("only the first"))
    low, mid, high = course.worst_mos
    yield Text(
        f"Worst {course.calls.window_s:g} s: MOS {mid:.1f} ({low:.1f}–{high:.1f}); from {course.limits.mos:g} on few "
        "complain."
    )
    low, mid, high = course.longest_ms
    spread = f" ({_ms(low)}–{_ms(high)})" if high >= 0.5 else ""
    yield Text(
        f"Longest gap: {_ms(mid)}{spread}. Audible gaps in {_tenths(trouble.audible_gap)}, long ones "
        f"({course.limits.long_ms:g} ms) in {_tenths(trouble.long_gap)}, a dropped call in {_tenths(trouble.dropped)}."
    )
    nothing = course.time_on.get("nothing", 0.0)
    if nothing >= 0.1:
        yield Text(f"For {nothing:.0%} of the time no radio is joined at all: the signal is too weak.")
    if course.where_gaps and course.where_gaps[0][1] >= 0.01:
        told = "; ".join(f"{where} ({share:.0%})" for where, share in course.where_gaps[:3] if share >= 0.01)
        yield Text(inert(f"Gaps begin most on: {told}."))


def _place(standing: bool) -> str:
    return "here" if standing else "on this way"


def _verdict(trouble: Trouble, standing: bool) -> str:
    where = _place(standing)
    if trouble.any <= 0.1:
        return f"A call holds {where}."
    return f"A call {'may suffer' if trouble.any < 0.5 else 'suffers'} {where}: in {_tenths(trouble.any)}."


def _tenths(share: float) -> str:
    if share in (0, 1):
        return "every case" if share else "no case"
    if share < 0.1:
        return f"{max(round(share * 100), 1)} of 100 cases"
    return f"{share * 10:.1f} of 10 cases".replace(".0 of", " of")


def _ms(value: float) -> str:
    return "none" if value < 0.5 else f"{value:.0f} ms" if value < 1000 else f"{value / 1000:.1f} s"


def _timeline(course: Course) -> Iterator[RenderableType]:
    """The typical course: who serves where, what changes, what is heard of it."""
    yield Text()
    table = plain_table(title="The typical course")
    for column in ("from", "where", "joined", "level dBm", "what happens"):
        table.add_column(column)
    for start, end, radio in _runs(course):
        name = course.trail.radios[radio].name if radio != NONE else "–"
        levels = course.track.level_dbm[0, start:end]
        told = f"{levels[0]:.0f} to {levels[-1]:.0f}" if radio != NONE else ""
        happens = [] if radio != NONE else [_silence(course, start, end)]
        happens += [_change(course, change) for change in course.changes if _in(course, change, start, end)]
        table.add_row(
            f"{start * course.trail.step_s:.1f} s",
            Text(inert(_where(course, start, end))),
            Text(inert(name)),
            told,
            Text(inert("; ".join(happens))),
        )
    yield table


def _runs(course: Course) -> Iterator[tuple[int, int, int]]:
    """Stretches of steps with one radio: first step, step after the last, radio."""
    row = course.track.serving[0].tolist()
    start = 0
    for step in range(1, len(row) + 1):
        if step == len(row) or row[step] != row[start]:
            yield start, step, row[start]
            start = step


def _where(course: Course, start: int, end: int) -> str:
    first, last = course.trail.points[start], course.trail.points[end - 1]
    return first if first == last else f"{first} … {last}"


def _in(course: Course, change: Change, start: int, end: int) -> bool:
    """Told with the radio joined by it, from the first step after it on."""
    done = ceil(round((change.at_s + change.gap_s) / course.trail.step_s, 6))
    return start <= done < end


def _silence(course: Course, start: int, end: int) -> str:
    silent = float(course.track.gap_s[0, start:end].sum())
    return f"nothing passes for {_ms(silent * 1e3)}"


def _change(course: Course, change: Change) -> str:
    told = {name: ms for name, ms in change.parts_ms.items() if ms >= TOLD * change.gap_s * 1e3}
    parts = ", ".join(f"{name} {ms:.0f} ms" for name, ms in told.items())
    return f"joined {WHY[change.why]}, gap {_ms(change.gap_s * 1e3)} ({parts})"


def _crossings(crossings: tuple[Crossing, ...]) -> Iterator[RenderableType]:
    if not crossings:
        return
    yield Text()
    table = plain_table(title="Where one node gives way to the next")
    for column in ("where", "from", "to", "level dBm", "both strong for", "client needs", "it changes"):
        table.add_column(column)
    for crossing in crossings:
        left = "never" if crossing.left_at_s is None else f"{crossing.left_at_s - crossing.at_s:+.1f} s"
        table.add_row(
            Text(inert(f"{crossing.where}, {crossing.at_s:.1f} s")),
            Text(inert(crossing.from_radio)),
            Text(inert(crossing.to_radio)),
            f"{crossing.level_dbm:.0f}",
            f"{crossing.overlap_s:.1f} s",
            f"{crossing.needed_s:.1f} s",
            left,
        )
    yield table
    yield Text(
        "Both strong: time around the crossing in which both nodes are at -70 dBm or better, as calls want. Client "
        "needs: from falling below its own level to having changed. It changes: seconds after the crossing.",
        style="dim",
    )


def _time_on(course: Course) -> Iterator[RenderableType]:
    yield Text()
    told = ", ".join(f"{name} {share:.0%}" for name, share in course.time_on.items() if share >= 0.01)
    yield Text(inert(f"Time on each radio, all cases: {told}."))
    yield Text(
        f"Changes of node {course.node_changes:.1f}, of band on one node {course.band_changes:.1f}, on average of "
        f"{len(course.tracks.changes)} cases."
    )


def _assumed(course: Course) -> Iterator[RenderableType]:
    client = course.client
    aids = ", ".join("yes" if on else "no" for on in (client.k, client.v, client.r))
    lines = [
        f"The client looks around below {client.look_below_dbm:g} dBm and changes for {client.margin_db:g} dB more "
        f"({client.stickiness}); the device itself knows 802.11k, v, r: {aids}.",
        *course.trail.assumed,
    ]
    yield Text()
    yield Text("Taken for it", style="italic")
    grid = Table.grid(padding=(0, 1))
    for line in lines:
        grid.add_row("–", Text(inert(line)))
    yield Padding(grid, (0, 0, 0, 2))
