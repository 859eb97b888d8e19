"""One run of the operating system's `ping`, read from the text it printed."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from advisor.errors import Position, Problem
from advisor.evidence.files import DAY_S, EPOCH_S, cut, refused, text_of
from advisor.evidence.ping_lines import Line, read_line

Floats = NDArray[np.float64]

USUAL_INTERVAL_S = 1.0
"""Time between two pings where nothing tells it; the default of all systems, from memory."""
TIMED_OUT_S = 5.0
"""What a lost ping takes where no sequence number is printed: 4 s of waiting and 1 s to the next; from memory."""
CLOSED_S = 4.0
"""What an unreachable one takes there: about 3 s of asking for the address and 1 s to the next; from memory."""
FAILED_S = 1.0
"""What one that could not be sent takes there; from memory."""
SUMMARY_FROM = 10
"""The summary's duration gives the interval from this many pings on; common practice, no source."""
SEQUENCES = 65_536
"""The sequence number has 16 bits and begins again; RFC 792."""
_SAMPLE = ("answer", "untimed", "lost", "unreachable", "failed", "head")
HOW = "Save what `ping` prints: `ping -D -O ADDRESS > near.txt`, or on Windows `ping -t ADDRESS > near.txt`."


@dataclass(frozen=True, eq=False)
class PingRun:
    """The pings of one run, in the order they were sent.

    `replies` are round trips in ms, nan where no answer came; `times_s` when each was sent, in seconds from the first;
    `start_s` when the first was sent, in seconds since 1970 or of the day, None where no clock is printed.
    """

    name: str
    target: str
    interval_s: float
    start_s: float | None
    replies: Floats
    times_s: Floats
    problems: tuple[Problem, ...] = ()

    @property
    def address(self) -> str:
        """The address, or the name where only that is known."""
        return self.target.rpartition("(")[2].rstrip(")")


def read(path: str, interval_s: float | None = None) -> PingRun:
    """Read the saved text of one run; `interval_s` where the text does not tell it. Raises `InputError`."""
    return read_text(text_of(str(path), HOW), str(path), interval_s)


def read_text(text: str, file: str, interval_s: float | None = None) -> PingRun:
    """Read the text of one run; `file` is the name used in messages."""
    if interval_s is not None and not 0.001 <= interval_s <= 3600:
        raise refused(file, f"an interval of {interval_s:g} s", "Allowed are 0.001 to 3600 s.")
    if not text.strip():
        raise refused(file, "the file is empty", HOW)
    lines = [read_line(line, number) for number, line in enumerate(text.split("\n"), 1)]
    run = _one_run(lines, file)
    problems: list[Problem] = []
    if not text.endswith("\n") and run[-1].kind in ("other", "untimed") and (run[-2:-1] or run)[0].kind in _SAMPLE:
        problems.append(_note(run[-1].number, f"the text stops inside a line: {cut(run[-1].text)}", "It is left out."))
        run = run[:-1]
    head = next((line for line in run if line.kind == "head"), None)
    target = head.target if head else next((line.target for line in run if line.target), "")
    if any(line.sequence is not None for line in run) or any(line.kind == "summary" for line in run):
        built = _numbered(run, head, file, interval_s, problems)
    else:
        built = _unnumbered(run, file, interval_s, problems)
    times, replies, interval, start = built
    return PingRun(file, target or "not told", interval, start, replies, times, tuple(problems))


def _note(line: int, what: str, help: str) -> Problem:
    return Problem(Position(line, 1 if line else 0), what, help)


def _one_run(lines: list[Line], file: str) -> list[Line]:
    """The lines of the one run of the file, from its head on."""
    heads = [place for place, line in enumerate(lines) if line.kind == "head"]
    starts = [0, *heads] if heads else [0]
    parts = [lines[start:end] for start, end in zip(starts, [*starts[1:], len(lines)], strict=True)]
    told = [part for part in parts if any(line.kind in ("answer", "summary") for line in part)]
    if not told:
        told = [part for part in parts if any(line.kind in _TAKES_S for line in part)][-1:]
    if not told:
        untimed = next((line for line in lines if line.kind == "untimed"), None)
        if untimed:
            raise refused(file, "the answers tell no time", "Send at least 16 bytes each, or leave the size as it is.")
        said = next((line for line in lines if line.text.strip().lower().startswith("ping")), None)
        if said and not heads:
            raise refused(
                file, f"no answer stands here, only: {cut(said.text)}", f"Ping an address. {HOW}", said.number
            )
        if heads:
            help = "Let it run longer; on Linux `-O` also tells answers that do not come."
            raise refused(file, "a run begins here but has no answer and no lost one", help, lines[heads[-1]].number)
        raise refused(file, f"nothing here is what `ping` prints: {cut(_first(lines).text)}", HOW, _first(lines).number)
    if len(told) > 1:
        help = "One file holds one run: save each run in a file of its own."
        raise refused(file, "a second run begins here", help, told[1][0].number)
    return _trimmed(told[0])


def _first(lines: list[Line]) -> Line:
    return next(line for line in lines if line.kind != "empty")


def _trimmed(run: list[Line]) -> list[Line]:
    while run and run[-1].kind == "empty":
        run = run[:-1]
    return run


def _numbered(
    run: list[Line], head: Line | None, file: str, interval_s: float | None, problems: list[Problem]
) -> tuple[Floats, Floats, float, float | None]:
    """Runs that print a sequence number: a missing number is a lost ping; a late answer still counts."""
    answers: dict[int, Line] = {}
    said_lost: dict[int, Line] = {}
    untimed: set[int] = set()
    high: int | None = None
    twice = 0
    for line in run:
        if line.sequence is None:
            continue
        order = line.sequence
        if high is not None:
            order += SEQUENCES * round((high - order) / SEQUENCES)
        if line.kind == "answer" and order not in answers:
            answers[order] = line
        elif line.kind == "answer":
            twice += 1
        else:
            (untimed.add if line.kind == "untimed" else lambda at, line=line: said_lost.setdefault(at, line))(order)
        high = order if high is None else max(high, order)
    summary = next((line for line in reversed(run) if line.kind == "summary"), None)
    told = [*answers, *said_lost, *untimed]
    first = min(told, default=1)
    if head is not None and head.first is not None:
        first = min(first, head.first)
    elif head is not None and first > 1:
        first = 1
    last = max(told, default=first - 1)
    silent: set[int] = set()
    if summary:
        end = first + summary.sent - 1
        if end - last > 1 or (not told and summary.sent):
            last = max(last, end)
        if summary.received > len(answers) + len(untimed):
            silent = set(range(first, last + 1)) - set(told)
            missing = summary.received - len(answers) - len(untimed)
            what = f"the summary counts {summary.received} answers, {missing} more than stand in the text"
            if not answers:
                raise refused(
                    file,
                    "only the summary stands here",
                    "Run it without `-q`, so that it prints each answer.",
                    summary.number,
                )
            problems.append(_note(summary.number, what, "Pings of which nothing stands here count as not known."))
    elif not said_lost:
        what = "there is no summary: what was lost after the last answer is not told"
        problems.append(_note(0, what, "Stop `ping` with Ctrl-C, so that it writes its summary, or run it with `-O`."))
    if twice:
        problems.append(_note(0, f"answers that came twice: {twice}", "The first of each counts."))
    order_s = np.array([at for at in range(first, last + 1) if at not in untimed | silent], dtype=np.int64)
    if not len(order_s):
        raise refused(file, "the answers tell no time", "Send at least 16 bytes each, or leave the size as it is.")
    replies = np.array([_ms(answers.get(at)) for at in order_s.tolist()], dtype=np.float64)
    clock = _clock(answers, said_lost, problems)
    if len(clock) >= 2:
        places = np.array(list(clock), dtype=np.float64)
        sent = np.array(list(clock.values()))
        interval = float(np.median(np.diff(sent) / np.diff(places)))
        interval = interval if interval > 0 else USUAL_INTERVAL_S
        when = np.interp(order_s, places, sent)
        when = np.where(order_s < places[0], sent[0] - (places[0] - order_s) * interval, when)
        when = np.where(order_s > places[-1], sent[-1] + (order_s - places[-1]) * interval, when)
        when = np.maximum.accumulate(when)
        return when - when[0], replies, interval, float(when[0])
    interval = interval_s or _from_summary(summary) or USUAL_INTERVAL_S
    start = None
    if clock:
        ((place, sent_s),) = clock.items()
        start = sent_s - (place - float(order_s[0])) * interval
    return (order_s - order_s[0]) * interval, replies, interval, start


def _ms(line: Line | None) -> float:
    return float("nan") if line is None or line.round_trip_ms is None else line.round_trip_ms


def _from_summary(summary: Line | None) -> float | None:
    """Seconds between two pings from the summary's duration (iputils: from the first sent to the last)."""
    if summary is None or not summary.lasted_ms or summary.sent < SUMMARY_FROM:
        return None
    return summary.lasted_ms / 1000.0 / (summary.sent - 1)


def _clock(answers: dict[int, Line], said_lost: dict[int, Line], problems: list[Problem]) -> dict[int, float]:
    """When pings were sent, in seconds: the stamp of an answer less its round trip; of lost ones the stamp alone,
    where no answer is stamped."""
    lines = sorted(answers.items()) or sorted(said_lost.items())
    found: dict[int, float] = {}
    turned, before = 0.0, None
    for order, line in lines:
        if line.stamp is None:
            continue
        at = line.stamp + turned
        if before is not None and line.stamp < EPOCH_S and at < before - DAY_S / 2:
            turned += DAY_S
            at += DAY_S
        before = at
        found[order] = at - (line.round_trip_ms or 0.0) / 1000.0
    values = list(found.values())
    for (order, one), other in zip(list(found.items())[1:], values, strict=False):
        if one < other - 1.0:
            number = (answers.get(order) or said_lost[order]).number
            what = "the clock was set back here"
            problems.append(_note(number, what, "The moments are counted by sequence numbers instead."))
            return {}
    return found


def _unnumbered(
    run: list[Line], file: str, interval_s: float | None, problems: list[Problem]
) -> tuple[Floats, Floats, float, float | None]:
    """Runs that print one line for each ping and no sequence number (Windows)."""
    samples = _samples(run, problems)
    if not samples:
        raise refused(file, "a run begins here but has no answer and no lost one", HOW, run[0].number)
    stamped = all(line.stamp is not None for line in samples) and len(samples) >= 2
    interval = interval_s or USUAL_INTERVAL_S
    if stamped:
        steps = [_stamp(b) - _stamp(a) for a, b in pairwise(samples) if a.kind == b.kind == "answer"]
        interval = float(np.median([step for step in steps if step > 0] or [interval]))
    when: list[float] = []
    at, turned = 0.0, 0.0
    for place, line in enumerate(samples):
        if stamped:
            if place and _stamp(line) < _stamp(samples[place - 1]) - DAY_S / 2:
                turned += DAY_S
            stamp = _stamp(line) + turned - (line.round_trip_ms or 0.0) / 1000.0
            at = stamp if line.kind == "answer" or not when else min(stamp, when[-1] + interval)
            at = max(at, when[-1]) if when else at
            when.append(at)
            continue
        when.append(at)
        if line.kind == "answer":
            at += max(interval, (line.round_trip_ms or 0.0) / 1000.0)
        else:
            at += interval - USUAL_INTERVAL_S + _TAKES_S[line.kind]
    lost = next((line for line in samples if line.kind != "answer"), None)
    if lost and not stamped:
        what = f"no clock is printed: from here on moments are reckoned, {TIMED_OUT_S:g} s for each answer timed out"
        problems.append(_note(lost.number, what, "They may be some seconds off after several lost answers."))
    times = np.array(when, dtype=np.float64)
    replies = np.array([_ms(line) for line in samples], dtype=np.float64)
    return times - times[0], replies, interval, float(times[0]) if stamped else None


_TAKES_S = {"lost": TIMED_OUT_S, "unreachable": CLOSED_S, "failed": FAILED_S}


def _stamp(line: Line) -> float:
    return line.stamp if line.stamp is not None else 0.0


def _samples(run: list[Line], problems: list[Problem]) -> list[Line]:
    """The lines that stand for one ping each. In the block below the head also sentences of unknown words are: a
    system prints nothing there but one line for each ping."""
    found: list[Line] = []
    block = run[0].kind == "head"
    for line in run:
        if line.kind in ("answer", *_TAKES_S):
            found.append(line)
        elif line.kind == "empty" and found:
            block = False
        elif line.kind == "sentence" and block:
            found.append(Line("lost", line.number, line.text, line.stamp))
            what = f"taken for an answer that did not come: {cut(line.text)}"
            problems.append(_note(line.number, what, "The words are not known."))
    return found
