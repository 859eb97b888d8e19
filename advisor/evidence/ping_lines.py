"""One line of what `ping` prints: an answer, a lost one, the head of a run, its summary, or something else.

Lines are told by their structure (an address, a sequence number, a number before `ms`); only lines that say in words
that nothing came need a table of words. Formats as printed by iputils, BusyBox, BSD and Windows, from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from advisor.evidence.files import clock_of

BELOW_ONE_MS = 0.5
"""What `time<1ms` is taken for, in ms; common practice, no source."""

ADDRESS = (
    r"(?:\d{1,3}(?:\.\d{1,3}){3}|[0-9A-Fa-f:.]*::[0-9A-Fa-f:.]*[0-9A-Fa-f](?:%\w+)?"
    r"|(?:[0-9A-Fa-f]{1,4}:){7}[0-9A-Fa-f]{1,4})"
)
_STAMP = re.compile(
    r"^\s*\[?(?P<time>\d{9,10}(?:[.,]\d+)?"
    r"|\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:[.,]\d+)?(?:Z|[+-]\d\d:?\d\d)?"
    r"|\d{1,2}:\d\d:\d\d(?:[.,]\d+)?)\]?[:|,]?\s+(?:[-|]\s+)?"
)
_SEQUENCE = re.compile(r"\b(?:icmp6?_)?(?:seq|req)\s*=?\s*(\d+)", re.IGNORECASE)
_TIME = re.compile(r"(?P<sign>[=<])\s*(?P<number>\d+(?:[.,]\d+)?)\s*(?:ms|msec|мс)\b", re.IGNORECASE)
_LIFE = re.compile(r"\b(?:ttl|hlim)\s*=", re.IGNORECASE)
_ADDRESS = re.compile(rf"(?<![\w.:]){ADDRESS}")
_ANSWER_FROM = re.compile(rf"(?<![\w.:]){ADDRESS}[^=<]*?:\s")
_TOLD_BY = re.compile(rf"(?<![\w.:]){ADDRESS}\s*:\s+[^\d=<]*[.。!]$")
_HEAD_UNIX = re.compile(r"^\s*PING6?(?:\s+[\w.]|\()")
_HEAD_NAME = re.compile(r"^\s*PING\s+(?P<name>[^\s(]+)\s*\((?P<address>[^\s()]+)(?:\s*\((?P<inner>[^()\s]+)\))?\)")
_HEAD_WINDOWS = re.compile(rf"(?:(?P<name>\S+)\s+\[)?(?P<address>{ADDRESS})\]?\s\D*\b\d+\b[^:=]*:\s*$")
_SUMMARY = re.compile(r"^\s*(?P<sent>\d+)\s[^\d=]+,\s*(?P<received>\d+)[^\d=][^=]*?\d+(?:[.,]\d+)?\s*%")
_SUMMARY_TIME = re.compile(r",[^,%]*?(\d+)\s*ms\s*$")

NO_ANSWER = (
    "timed out",
    "timeout",
    "time-out",
    "zeit.{1,2}berschreitung",
    "d.{1,2}lai d.{1,3}attente",
    "tiempo de espera",
    "richiesta scaduta",
    "esgotado",
    "excedeu o tempo",
    "limit czasu",
    "aikakatkais",
    "vypr.{1,2}el",
    "tidsavbrudd",
    "tidsgr.{1,2}nsen",
    "интервал ожидания",
)
"""Words of lines that say no answer came in time; `.{1,2}` stands for a letter that encodings spoil. From memory."""
UNREACHABLE = (
    "unreachable",
    "nicht erreichbar",
    "impossible de joindre",
    "inaccesible",
    "inaccessible",
    "inacess",
    "non raggiungibile",
    "niet bereikbaar",
    "nieosi",
    "onbereikbaar",
    "expired in transit",
    "недоступен",
)
"""Words of lines that say the way was closed. From memory."""
FAILED = (
    "general failure",
    "allgemeiner fehler",
    "d.{1,2}faillance g",
    "chec g.{1,2}n.{1,2}ral",
    "error general",
    "errore gener",
    "algemene fout",
    "falha geral",
    "b.{1,2}.{1,2}d og.{1,2}lny",
    "og.{1,2}lny b",
    "общий сбой",
)
"""Words of lines that say nothing could be sent. From memory."""
_NO_ANSWER = re.compile("|".join(NO_ANSWER))
_UNREACHABLE = re.compile("|".join(UNREACHABLE))
_FAILED = re.compile("|".join(FAILED))
_SENTENCE = re.compile(r"^\s*[^\d<>=\[\]|:/\\]{6,100}[.。!]\s*$")

Kind = Literal["answer", "untimed", "lost", "unreachable", "failed", "head", "summary", "sentence", "empty", "other"]


@dataclass(frozen=True, slots=True)
class Line:
    """One line: what it is, its 1-based number, and what it tells.

    `sequence` is None where the system prints none; `round_trip_ms` in ms; `stamp` seconds since 1970 or of the day;
    `sent`, `received` and `lasted_ms` of a summary; `target` of a head; `first` the number sequences begin with.
    """

    kind: Kind
    number: int
    text: str
    stamp: float | None = None
    sequence: int | None = None
    round_trip_ms: float | None = None
    sent: int = 0
    received: int = 0
    lasted_ms: float | None = None
    target: str = ""
    first: int | None = None


def read_line(text: str, number: int) -> Line:
    """What one line says."""
    if not text.strip():
        return Line("empty", number, text)
    stamp = None
    found = _STAMP.match(text)
    if found:
        stamp = clock_of(found["time"])
        text = text[found.end() :]
    sequence = _SEQUENCE.search(text)
    times = list(_TIME.finditer(text))
    if sequence:
        order = int(sequence[1])
        if times:
            return Line("answer", number, text, stamp, order, _round_trip(times[-1]), target=_first_address(text))
        if _LIFE.search(text) or re.match(r"\s*\d+\s", text):
            return Line("untimed", number, text, stamp, order)
        return Line("lost", number, text, stamp, order)
    summary = _SUMMARY.match(text)
    if summary:
        lasted = _SUMMARY_TIME.search(text)
        sent, received = int(summary["sent"]), int(summary["received"])
        return Line("summary", number, text, stamp, sent=sent, received=received, lasted_ms=_float(lasted))
    head = _head(text, number)
    if head:
        return head
    if times and _ANSWER_FROM.search(text):
        return Line("answer", number, text, stamp, None, _round_trip(times[-1]), target=_first_address(text))
    return _in_words(text, number, stamp)


def _in_words(text: str, number: int, stamp: float | None) -> Line:
    """Lines that tell in words, without a number, that an answer did not come."""
    low = text.strip().lower()
    if len(low) <= 120 and not text.lstrip().startswith("ping:"):
        if _TOLD_BY.search(text.rstrip()) and "bytes from" not in low:
            return Line("unreachable", number, text, stamp)
        if not re.search(r"\d", _ADDRESS.sub("", low)) and not re.search(r"[>$#]", low):
            if _NO_ANSWER.search(low):
                return Line("lost", number, text, stamp)
            if _FAILED.search(low):
                return Line("failed", number, text, stamp)
            if _UNREACHABLE.search(low) and "bytes from" not in low:
                return Line("unreachable", number, text, stamp)
    return Line("sentence" if _SENTENCE.match(text) else "other", number, text, stamp)


def _head(text: str, number: int) -> Line | None:
    """The first line of a run, with its target and the number its sequence begins with, where it shows."""
    if _HEAD_UNIX.match(text):
        found = _HEAD_NAME.match(text)
        name, address = "", _first_address(text.rpartition("-->")[2])
        if found:
            name, address = found["name"], found["inner"] or found["address"]
        first: int | None = 1
        if not re.search(r"\d\(\d+\)", text):
            first = 0 if "." in address and ":" not in address else None
        return Line("head", number, text, target=_target(name, address), first=first)
    found = _HEAD_WINDOWS.search(text)
    if found:
        return Line("head", number, text, target=_target(found["name"] or "", found["address"]))
    return None


def _target(name: str, address: str) -> str:
    return f"{name} ({address})" if name and name != address and address else name or address


def _first_address(text: str) -> str:
    found = _ADDRESS.search(text)
    return found[0] if found else ""


def _round_trip(found: re.Match[str]) -> float:
    if found["sign"] == "<":
        return BELOW_ONE_MS
    return float(found["number"].replace(",", "."))


def _float(found: re.Match[str] | None) -> float | None:
    return float(found[1]) if found else None
