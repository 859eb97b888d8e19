"""Three runs of `ping` at the same time, compared: which part of the way is to blame, at which moments."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from advisor.errors import InputError, Position, Problem
from advisor.evidence.associations import AssociationLog, Change
from advisor.evidence.causes import causes
from advisor.evidence.files import EPOCH_S
from advisor.evidence.moments import GOOD, LOST, SLOW, States, figures, grid, starts
from advisor.evidence.pings import PingRun
from advisor.evidence.records import CAUSES, ROLES, Cause, Episode, Report, Role, RunFigures, Share
from advisor.evidence.verdict import LEAST_SAMPLES, verdict

MERGE_S = 2.0
"""Episodes of one cause with at most this long between them are one; common practice, no source."""
CHANGE_S = 2.0
"""An episode this near to a change of node is a handover; common practice, no source."""
HANDOVER_MOST_S = 10.0
"""A longer episode is not one handover, though it may begin with one; common practice, no source."""
HANDOVER_LOST_S = 3.0
"""A handover that no log tells loses the own node for at most this long; common practice, no source."""
LEVEL_SAMPLES = 5
"""Answers before and after by whose medians a jump of the round trip is told; common practice, no source."""
JUMP_FACTOR = 2.0
"""A jump of the round trip: by this factor …; common practice, no source."""
JUMP_MS = 2.0
"""… and by at least this much; common practice, no source."""


def blame(
    near: PingRun | None,
    gateway: PingRun | None,
    outside: PingRun | None,
    associations: AssociationLog | None = None,
) -> Report:
    """Compare the runs to the own node, the gateway and an outside host; raises `InputError` when none is given."""
    given: dict[Role, PingRun | None] = {"near": near, "gateway": gateway, "outside": outside}
    runs: dict[Role, PingRun] = {role: run for role, run in given.items() if run is not None}
    if not runs:
        help = "Give the saved text of `ping` to the own node, to the gateway and to an outside host."
        raise InputError("ping", [Problem(Position(0, 0), "no run is given", help)])
    problems: list[str] = []
    for run in runs.values():
        problems += [problem.text(run.name) for problem in run.problems]
    hop_possible = not (near and gateway and near.address == gateway.address and near.target != "not told")
    if not hop_possible:
        problems.append("own node and gateway have the same address: there is no hop between them")
    shifts, clock = starts(runs, problems)
    states, step, start = grid(runs, shifts, clock is not None, problems)
    zero = None if clock is None else clock + start
    numbers = tuple(figures(role, run) for role, run in runs.items())
    heard = _answering(states, problems)
    told = set(heard)
    if not hop_possible:
        heard.pop("gateway", None)
    found = causes(heard, step, clock is not None, hop_possible)
    episodes = _episodes(found, heard, step)
    changes = _changes(associations, clock, start, len(found) * step, problems)
    episodes = [_handover(episode, changes, heard, runs, shifts, start) for episode in episodes]
    episodes = _joined(episodes)
    for episode in episodes:
        if episode.cause == "handover":
            low, high = round(episode.start_s / step), round(episode.end_s / step)
            found[low:high] = ["handover" if cause else None for cause in found[low:high]]
    bad = sum(cause is not None for cause in found)
    shares = _shares(found, bad)
    word, sentences = verdict(numbers, len(found), bad, shares, episodes, told)
    return Report(
        verdict=word,
        sentences=sentences,
        runs=numbers,
        start_s=zero,
        step_s=step,
        moments=len(found),
        bad_moments=bad,
        shares=shares,
        episodes=tuple(replace(episode, says=_says(episode)) for episode in episodes),
        changes=changes,
        problems=tuple(problems),
    )


def _answering(states: dict[Role, States], problems: list[str]) -> dict[Role, States]:
    """The runs whose target answers pings at all: a box that never does, while one behind it is reached, tells
    nothing."""
    kept = dict(states)
    order: list[Role] = ["near", "gateway", "outside"]
    for place, role in enumerate(order):
        answered = role in states and bool(np.isin(states[role], (GOOD, SLOW)).any())
        if role not in states or answered or len(states[role]) < LEAST_SAMPLES:
            continue
        behind = [states[other] for other in order[place + 1 :] if other in states]
        if any(int((row == GOOD).sum()) * 2 >= len(row) for row in behind):
            del kept[role]
            problems.append(f"the {ROLES[role]} never answers pings, though what lies behind it does: not counted")
    return kept


def _episodes(found: list[Cause | None], states: dict[Role, States], step: float) -> list[Episode]:
    """Bad moments of one cause in a row, with short good times between them."""
    most = int(MERGE_S / step + 1e-6)
    parts: list[tuple[Cause, list[int]]] = []
    for at, cause in enumerate(found):
        if cause is None:
            continue
        if parts and parts[-1][0] == cause and at - parts[-1][1][-1] <= most + 1:
            parts[-1][1].append(at)
        else:
            parts.append((cause, [at]))
    return [
        Episode(
            start_s=places[0] * step,
            end_s=(places[-1] + 1) * step,
            cause=cause,
            moments=len(places),
            bad=_how_bad(states, places),
            sure=len(places) > 1,
        )
        for cause, places in parts
    ]


def _how_bad(states: dict[Role, States], places: list[int]) -> tuple[str, ...]:
    """`own node lost`, `outside slow` … for the runs that are bad in these moments."""
    said: list[str] = []
    for role, row in states.items():
        here = row[np.array(places)]
        words = [word for state, word in ((LOST, "lost"), (SLOW, "slow")) if bool((here == state).any())]
        if words:
            said.append(f"{ROLES[role]} {' and '.join(words)}")
    return tuple(said)


def _changes(
    log: AssociationLog | None, clock: float | None, start: float, length: float, problems: list[str]
) -> tuple[Change, ...]:
    """The changes of node on the axis of the comparison, in s; those outside it are left out."""
    if log is None:
        return ()
    changes = log.changes()
    first = log.entries[0].time_s
    if first >= EPOCH_S and (clock is None or clock < EPOCH_S):
        problems.append(f"{log.name} tells dates, but the runs print no such clock: its changes cannot be placed")
        return ()
    if first < EPOCH_S and clock is not None and clock >= EPOCH_S:
        clock = None
        problems.append(f"{log.name} tells no dates: its times are taken as seconds from the start of the runs")
    elif first < EPOCH_S and clock is None:
        problems.append(f"the times of {log.name} are taken as seconds from the start of the runs")
    zero = start + (clock or 0.0)
    placed = tuple(replace(change, time_s=change.time_s - zero) for change in changes)
    inside = tuple(change for change in placed if -CHANGE_S <= change.time_s <= length + CHANGE_S)
    if len(inside) < len(changes):
        what = f"{len(changes) - len(inside)} of {len(changes)} changes in {log.name} lie outside the time of the runs"
        problems.append(what + ("" if inside else "; is its clock, or the zone of its times, another?"))
    if inside:
        problems.append(
            "after a change of node the run to the own node asks one the device may no longer be joined to: from then "
            "on what it loses may be of a hop as well"
        )
    return inside


def _handover(
    episode: Episode,
    changes: tuple[Change, ...],
    states: dict[Role, States],
    runs: dict[Role, PingRun],
    shifts: dict[Role, float],
    start: float,
) -> Episode:
    """A short episode beside a change of node, or one that looks like it, is a handover."""
    near = [change for change in changes if episode.start_s - CHANGE_S <= change.time_s <= episode.end_s + CHANGE_S]
    long = episode.end_s - episode.start_s > HANDOVER_MOST_S
    if near and episode.cause != "own answers":
        named = replace(episode, left=near[0].left, joined=near[-1].joined)
        return named if long else replace(named, cause="handover", sure=True)
    if episode.cause == "access" and "near" in states and "own node lost" in " ".join(episode.bad):
        run = runs["near"]
        times = run.times_s + shifts["near"] - start
        lost = np.isnan(run.replies)
        inside = (times >= episode.start_s - 1e-6) & (times < episode.end_s)
        answers = ~lost & ~inside
        before = run.replies[answers & (times < episode.start_s)][-LEVEL_SAMPLES:]
        after = run.replies[answers & (times >= episode.end_s)][:LEVEL_SAMPLES]
        gone_s = int((lost & inside).sum()) * run.interval_s
        if min(len(before), len(after)) == LEVEL_SAMPLES and gone_s <= HANDOVER_LOST_S + 1e-6:
            low, high = sorted((float(np.median(before)), float(np.median(after))))
            if high >= JUMP_FACTOR * low and high - low >= JUMP_MS:
                return replace(episode, cause="handover", sure=False)
    return episode


def _joined(episodes: list[Episode]) -> list[Episode]:
    """Neighbouring episodes of the same handover as one."""
    found: list[Episode] = []
    for episode in episodes:
        last = found[-1] if found else None
        same = last and last.cause == episode.cause == "handover" and last.joined and last.joined == episode.joined
        if last and same and last.left == episode.left and episode.end_s - last.start_s <= HANDOVER_MOST_S:
            bad = tuple(dict.fromkeys((*last.bad, *episode.bad)))
            found[-1] = replace(last, end_s=episode.end_s, moments=last.moments + episode.moments, bad=bad)
        else:
            found.append(episode)
    return found


def _shares(found: list[Cause | None], bad: int) -> tuple[Share, ...]:
    counts = {cause: found.count(cause) for cause in CAUSES}
    told = [Share(cause, CAUSES[cause], count, 100.0 * count / bad) for cause, count in counts.items() if count]
    return tuple(sorted(told, key=lambda share: -share.moments))


def _says(episode: Episode) -> str:
    """How long an episode took and what it was, in plain words."""
    lasts = episode.end_s - episode.start_s
    what = CAUSES[episode.cause]
    if episode.left or episode.joined:
        change = f"handover from {episode.left or 'no node'} to {episode.joined or 'no node'}"
        what = change if episode.cause == "handover" else f"{what}; with it a {change}"
    elif episode.cause == "handover":
        what = "probably a handover: the own node was lost shortly and came back at another round trip"
    unsure = " (a single moment)" if not episode.sure and episode.moments == 1 else ""
    return f"for {lasts:.{0 if lasts >= 10 else 1}f} s: {what}{unsure}"


__all__ = ["LEAST_SAMPLES", "RunFigures", "blame"]
