"""Three runs of `ping` compared, as text: the verdict, the runs in numbers, who is to blame, and when."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from rich.text import Text

from advisor.evidence.records import CAUSES, ROLES, Report, Verdict, moment
from advisor.report.text import plain_table
from advisor.units import inert, number

if TYPE_CHECKING:
    from rich.console import RenderableType

MOST_EPISODES = 20
MOST_PROBLEMS = 8

LEGEND = (
    "Slow: an answer above the threshold, which comes from the run's own median. Moments count minutes and seconds "
    "from the start of the comparison."
)


def pings(report: Report) -> Iterator[RenderableType]:
    """The parts of the report, in order."""
    yield Text(_title(report.verdict), style="bold")
    for sentence in report.sentences:
        yield Text(inert(sentence))
    yield Text()
    yield _runs(report)
    if report.shares:
        yield Text()
        table = plain_table(title="What the bad moments are laid to")
        for column in ("to", "moments", "%"):
            table.add_column(column)
        for share in report.shares:
            table.add_row(Text(share.name), Text(str(share.moments)), Text(number(share.percent, 0)))
        yield table
    yield from _episodes(report)
    if report.problems:
        yield Text()
        yield Text("What limits this", style="bold")
        for problem in report.problems[:MOST_PROBLEMS]:
            yield Text("· " + inert(" ".join(problem.split())))
        if len(report.problems) > MOST_PROBLEMS:
            yield Text(f"· and {len(report.problems) - MOST_PROBLEMS} more; --format json lists them")
    yield Text()
    yield Text(LEGEND, style="dim")


def _title(verdict: Verdict) -> str:
    if verdict == "too short to tell" or verdict == "nothing bad seen" or verdict == "cannot be told apart":
        text: str = verdict
    else:
        text = f"Mostly {CAUSES[verdict]}"
    return text[0].upper() + text[1:]


def _runs(report: Report) -> RenderableType:
    table = plain_table(title="The runs")
    for column in ("to", "target", "pings", "lost %", "slow", "median ms", "95 % ms", "slow above ms", "longest gap s"):
        table.add_column(column)
    for run in report.runs:
        table.add_row(
            Text(ROLES[run.role]),
            Text(inert(run.target)),
            Text(str(run.samples)),
            Text(number(run.loss_percent, 1)),
            Text(str(run.slow)),
            _ms(run.median_ms),
            _ms(run.p95_ms),
            _ms(run.threshold_ms),
            Text(number(run.longest_gap_s, 1)),
        )
    return table


def _ms(value: float | None) -> Text:
    return Text("?" if value is None else number(value, 1))


def _episodes(report: Report) -> Iterator[RenderableType]:
    """The longest episodes, in the order of time."""
    if not report.episodes:
        return
    longest = sorted(report.episodes, key=lambda episode: (episode.start_s - episode.end_s, episode.start_s))
    told = sorted(longest[:MOST_EPISODES], key=lambda episode: episode.start_s)
    yield Text()
    table = plain_table(title="When")
    for column in ("at", "what", "seen"):
        table.add_column(column)
    for episode in told:
        table.add_row(Text(moment(episode.start_s)), Text(inert(episode.says)), Text(", ".join(episode.bad)))
    yield table
    if len(report.episodes) > len(told):
        yield Text(f"and {len(report.episodes) - len(told)} shorter ones; --format json lists them")


__all__ = ["pings"]
