"""The JSON of `walk` and `calls`, version 1, and the typical course of a walk as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

import numpy as np
from pydantic import BaseModel, ConfigDict

from advisor import __version__
from advisor.advice.causes import Cause, Diagnosis, Trouble, trouble_of
from advisor.facts.walks import Course, Crossing, crossings
from advisor.site.load import LoadedSite
from advisor.walk.records import NONE, Change


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class TroubleOut(_Part):
    """Shares of the cases."""

    dropped: float
    long_gap: float
    audible_gap: float
    poor: float
    any: float


class ChangeOut(_Part):
    at_s: float
    where: str
    gap_ms: float
    from_radio: str | None
    to_radio: str
    why: str
    level_before_dbm: float | None
    level_after_dbm: float
    parts_ms: dict[str, float]


class CrossingOut(_Part):
    at_s: float
    where: str
    from_radio: str
    to_radio: str
    level_dbm: float
    overlap_s: float
    needed_s: float
    left_at_s: float | None


class WaitOut(_Part):
    """How packets of a call wait at a radio and beyond, by direction, with everyone active."""

    radio: str
    delay_ms: float
    delay_down_ms: float
    delay_up_ms: float
    loss_down: float
    loss_up: float
    worse: str
    most: str


class WalkOut(_Part):
    walk: str
    seconds: float
    metres: float
    cases: int
    trouble: TroubleOut
    worst_mos: tuple[float, float, float]
    longest_gap_ms: tuple[float, float, float]
    node_changes: float
    band_changes: float
    time_on: dict[str, float]
    gaps_begin: dict[str, float]
    typical: list[ChangeOut]
    crossings: list[CrossingOut]
    assumed: list[str]
    waits: list[WaitOut]


class WalksOut(_Part):
    schema_version: int = 1
    advisor: str = __version__
    site: str
    file: str
    walks: list[WalkOut]


class CauseOut(_Part):
    id: str
    what: str
    explains: float
    without: TroubleOut
    evidence: str
    do: str | None
    effort_min: float | None
    not_possible: str
    harm: str


class DiagnosisOut(_Part):
    where: str
    trouble: TroubleOut
    tried: int
    by_check_limits: float | None
    causes: list[CauseOut]
    pairs: list[CauseOut]
    worst_mos: tuple[float, float, float]
    time_on: dict[str, float]
    waits: list[WaitOut]


class CallsOut(_Part):
    schema_version: int = 1
    advisor: str = __version__
    site: str
    file: str
    calls: list[DiagnosisOut]


def walk_json(loaded: LoadedSite, courses: Sequence[Course]) -> str:
    walks = [_walk(course) for course in courses]
    return WalksOut(site=loaded.site.site.name, file=loaded.file, walks=walks).model_dump_json(indent=2)


def calls_json(loaded: LoadedSite, found: Sequence[Diagnosis]) -> str:
    entries = [
        DiagnosisOut(
            where=entry.where,
            trouble=_trouble(entry.now),
            tried=entry.tried,
            by_check_limits=entry.by_thumb,
            causes=[_cause(cause) for cause in entry.causes],
            pairs=[_cause(cause) for cause in entry.pairs],
            worst_mos=_rounded(entry.course.worst_mos, 2),
            time_on=entry.course.time_on,
            waits=_waits(entry.course),
        )
        for entry in found
    ]
    return CallsOut(site=loaded.site.site.name, file=loaded.file, calls=entries).model_dump_json(indent=2)


def _trouble(trouble: Trouble) -> TroubleOut:
    return TroubleOut(
        dropped=trouble.dropped,
        long_gap=trouble.long_gap,
        audible_gap=trouble.audible_gap,
        poor=trouble.poor,
        any=trouble.any,
    )


def _cause(cause: Cause) -> CauseOut:
    change = cause.change
    return CauseOut(
        id=cause.id,
        what=cause.what,
        explains=cause.share,
        without=_trouble(cause.without),
        evidence=cause.evidence,
        do=change.told if change else None,
        effort_min=change.effort_min if change else None,
        not_possible=change.refused if change else "",
        harm=cause.harm,
    )


def _walk(course: Course) -> WalkOut:
    return WalkOut(
        walk=course.trail.walk,
        seconds=round(len(course.trail.times_s) * course.trail.step_s, 1),
        metres=round(float(course.trail.walked_m[-1]), 1),
        cases=len(course.tracks.changes),
        trouble=_trouble(trouble_of(course)),
        worst_mos=_rounded(course.worst_mos, 2),
        longest_gap_ms=_rounded(course.longest_ms, 0),
        node_changes=round(course.node_changes, 2),
        band_changes=round(course.band_changes, 2),
        time_on=course.time_on,
        gaps_begin=dict(course.where_gaps),
        typical=[_change(course, change) for change in course.changes],
        crossings=[_crossing(entry) for entry in crossings(course)],
        assumed=list(course.trail.assumed),
        waits=_waits(course),
    )


def _waits(course: Course) -> list[WaitOut]:
    return [
        WaitOut(
            radio=radio.name,
            delay_ms=round(radio.delay_ms, 2),
            delay_down_ms=round(radio.delay_down_ms, 2),
            delay_up_ms=round(radio.delay_up_ms, 2),
            loss_down=round(radio.loss_down, 4),
            loss_up=round(radio.loss_up, 4),
            worse=radio.worse,
            most=radio.delay_why,
        )
        for radio in course.trail.radios
    ]


def _rounded(values: tuple[float, float, float], digits: int) -> tuple[float, float, float]:
    low, mid, high = (round(value, digits) + 0.0 for value in values)
    return low, mid, high


def _change(course: Course, change: Change) -> ChangeOut:
    radios = course.trail.radios
    return ChangeOut(
        at_s=round(change.at_s, 2),
        where=course.stretch_at(change.at_s),
        gap_ms=round(change.gap_s * 1e3, 1),
        from_radio=radios[change.from_radio].name if change.from_radio != NONE else None,
        to_radio=radios[change.to_radio].name,
        why=change.why,
        level_before_dbm=round(change.level_before_dbm, 1) if np.isfinite(change.level_before_dbm) else None,
        level_after_dbm=round(change.level_after_dbm, 1),
        parts_ms=change.parts_ms,
    )


def _crossing(entry: Crossing) -> CrossingOut:
    return CrossingOut(
        at_s=round(entry.at_s, 1),
        where=entry.where,
        from_radio=entry.from_radio,
        to_radio=entry.to_radio,
        level_dbm=entry.level_dbm,
        overlap_s=entry.overlap_s,
        needed_s=entry.needed_s,
        left_at_s=round(entry.left_at_s, 1) if entry.left_at_s is not None else None,
    )


def walk_csv(courses: Sequence[Course]) -> str:
    """The typical course step by step: time, way, radio joined, its level, seconds silent, loss and delay of the
    direction that fares worse."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(("walk", "time_s", "walked_m", "where", "radio", "level_dbm", "silent_s", "loss", "delay_ms"))
    for course in courses:
        trail, track = course.trail, course.track
        for step, now in enumerate(trail.times_s.tolist()):
            radio = int(track.serving[0, step])
            level = float(track.level_dbm[0, step])
            writer.writerow(
                (
                    trail.walk,
                    f"{now:.1f}",
                    f"{trail.walked_m[step]:.2f}",
                    trail.points[step],
                    trail.radios[radio].name if radio != NONE else "",
                    f"{level:.1f}" if radio != NONE else "",
                    f"{track.gap_s[0, step]:.3f}",
                    f"{track.loss[0, step]:.4f}",
                    f"{track.delay_ms[0, step]:.1f}",
                )
            )
    return out.getvalue().removesuffix("\n")
