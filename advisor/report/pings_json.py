"""The JSON of three compared runs of `ping`, version 1: its own types, so that it does not move with the program's
inside. Times in s or ms as the names say, seconds from the start of the comparison; null is not known."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from advisor import __version__
from advisor.evidence.records import Report


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class RunOut(_Part):
    role: Literal["near", "gateway", "outside"]
    file: str
    target: str
    interval_s: float
    pings: int
    lost: int
    loss_percent: float
    slow: int
    median_ms: float | None
    p95_ms: float | None
    slow_above_ms: float | None
    longest_gap_s: float


class ShareOut(_Part):
    cause: str
    meaning: str
    moments: int
    percent: float


class EpisodeOut(_Part):
    start_s: float
    end_s: float
    cause: str
    moments: int
    bad: list[str]
    left: str | None
    joined: str | None
    sure: bool
    says: str


class ChangeOut(_Part):
    """A change of node from the association log; null is no node."""

    time_s: float
    left: str | None
    joined: str | None


class PingsOut(_Part):
    schema_version: int = 1
    advisor: str = __version__
    verdict: str
    sentences: list[str]
    start_clock_s: float | None
    step_s: float
    moments: int
    bad_moments: int
    runs: list[RunOut]
    shares: list[ShareOut]
    episodes: list[EpisodeOut]
    changes: list[ChangeOut]
    problems: list[str]


def pings_json(report: Report) -> str:
    """The whole comparison as JSON text."""
    return PingsOut(
        verdict=report.verdict,
        sentences=list(report.sentences),
        start_clock_s=report.start_s,
        step_s=_round(report.step_s),
        moments=report.moments,
        bad_moments=report.bad_moments,
        runs=[
            RunOut(
                role=run.role,
                file=run.name,
                target=run.target,
                interval_s=_round(run.interval_s),
                pings=run.samples,
                lost=run.lost,
                loss_percent=_round(run.loss_percent),
                slow=run.slow,
                median_ms=_maybe(run.median_ms),
                p95_ms=_maybe(run.p95_ms),
                slow_above_ms=_maybe(run.threshold_ms),
                longest_gap_s=_round(run.longest_gap_s),
            )
            for run in report.runs
        ],
        shares=[
            ShareOut(cause=share.cause, meaning=share.name, moments=share.moments, percent=_round(share.percent))
            for share in report.shares
        ],
        episodes=[
            EpisodeOut(
                start_s=_round(episode.start_s),
                end_s=_round(episode.end_s),
                cause=episode.cause,
                moments=episode.moments,
                bad=list(episode.bad),
                left=episode.left or None,
                joined=episode.joined or None,
                sure=episode.sure,
                says=episode.says,
            )
            for episode in report.episodes
        ],
        changes=[
            ChangeOut(time_s=_round(change.time_s), left=change.left or None, joined=change.joined or None)
            for change in report.changes
        ],
        problems=list(report.problems),
    ).model_dump_json(indent=2)


def _round(value: float) -> float:
    return round(value, 3)


def _maybe(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
