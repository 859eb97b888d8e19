"""What the comparison of the three runs finds: the records that views read, and the words for causes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from advisor.evidence.associations import Change

Cause = Literal["access", "handover", "hop", "line", "own answers", "cannot be told apart"]
Role = Literal["near", "gateway", "outside"]

CAUSES: dict[Cause, str] = {
    "access": "the access: the last radio link, between the device and its node",
    "handover": "a handover from one node to another",
    "hop": "a hop between the node and the gateway",
    "line": "the internet line, or what lies behind it",
    "own answers": "a box that answers pings late itself, while what goes through it is fine",
    "cannot be told apart": "cannot be told apart",
}
ROLES: dict[Role, str] = {"near": "own node", "gateway": "gateway", "outside": "outside"}

Verdict = Literal["too short to tell", "nothing bad seen", Cause]


@dataclass(frozen=True, slots=True)
class RunFigures:
    """One run in numbers: times in ms or s, shares in percent; None where no answer came at all.

    `threshold_ms` is the round trip above which an answer counts as slow; `longest_gap_s` the longest time without an
    answer.
    """

    role: Role
    name: str
    target: str
    interval_s: float
    samples: int
    lost: int
    loss_percent: float
    slow: int
    median_ms: float | None
    p95_ms: float | None
    threshold_ms: float | None
    longest_gap_s: float


@dataclass(frozen=True, slots=True)
class Episode:
    """Bad moments that belong together: seconds from the start of the comparison, the cause, how many moments.

    `bad` names the runs that were bad, with how; `left` and `joined` are nodes of the association log; `sure` is False
    where all rests on a single moment.
    """

    start_s: float
    end_s: float
    cause: Cause
    moments: int
    bad: tuple[str, ...]
    left: str = ""
    joined: str = ""
    sure: bool = True
    says: str = ""


@dataclass(frozen=True, slots=True)
class Share:
    """A cause with its moments and its percent of the bad moments."""

    cause: Cause
    name: str
    moments: int
    percent: float


@dataclass(frozen=True, slots=True)
class Report:
    """The whole comparison.

    `start_s` is the clock at moment 0 (seconds since 1970 or of the day), None without clocks; `step_s` the length of a
    moment; `moments` how many were compared. `sentences` say what to look at first; `problems` what limits all this.
    """

    verdict: Verdict
    sentences: tuple[str, ...]
    runs: tuple[RunFigures, ...]
    start_s: float | None
    step_s: float
    moments: int
    bad_moments: int
    shares: tuple[Share, ...]
    episodes: tuple[Episode, ...]
    changes: tuple[Change, ...]
    problems: tuple[str, ...]


def moment(seconds: float) -> str:
    """`1:05` minutes and seconds from the start, with hours where needed.

    >>> moment(65.4)
    '1:05'
    """
    whole = int(seconds + 1e-6)
    if whole >= 3600:
        return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"
    return f"{whole // 60}:{whole % 60:02d}"
