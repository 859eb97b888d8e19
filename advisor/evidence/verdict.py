"""The verdict on the whole comparison, in plain words: what is to blame most, and what to look at first."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.evidence.records import ROLES, Cause, Episode, Role, RunFigures, Share, Verdict, moment

LEAST_SAMPLES = 30
"""Pings of a run, and moments the runs share, below which nothing is told; common practice, no source."""
FEW_PERCENT = 1.0
"""Fewer bad moments than this, in percent, are usual over the air; common practice, no source."""
SECOND_PERCENT = 25.0
"""A second cause is named from this share of the bad moments on; common practice, no source."""
STEADY_MS = 30.0
"""A median round trip to the own node above this is slow all the time; common practice, no source."""
STEADY_HOP_MS = 30.0
"""… and so is a median to the gateway this much above that to the own node; common practice, no source."""
STEADY_LINE_MS = 150.0
"""… and one to the outside host this much above that to the gateway; common practice, no source."""

ADVICE: dict[Cause, str] = {
    "access": "Look first at the last radio link: the level where the device was at those moments, how busy the "
    "channel is, and whether the device holds on to a far node.",
    "handover": "Look first at roaming: the same network name and security on all nodes, levels that overlap where "
    "people walk, and whether the device holds on to the old node too long.",
    "hop": "Look first at the uplinks between the node and the gateway: their level, a channel shared with the "
    "clients, and cables and plugs where they are wired.",
    "line": "Look first at the internet line: repeat the pings from a device on a cable at the gateway while nobody "
    "else uses the line; if it stays, it is for the operator.",
    "own answers": "The box answers pings late itself; what goes through it is fine, so this alone asks for no repair.",
    "cannot be told apart": "Repeat it with all three runs at the same time: to the own node, to the gateway and to an "
    "outside host.",
}
SHORT: dict[Cause, str] = {
    "access": "the access",
    "handover": "handovers",
    "hop": "a hop between node and gateway",
    "line": "the internet line",
    "own answers": "the own answers of a box",
    "cannot be told apart": "causes that cannot be told apart",
}


def verdict(
    runs: Sequence[RunFigures],
    moments: int,
    bad: int,
    shares: Sequence[Share],
    episodes: Sequence[Episode],
    heard: set[Role],
) -> tuple[Verdict, tuple[str, ...]]:
    """The verdict's word and its sentences. Too little is never good."""
    short = [run for run in runs if run.samples < LEAST_SAMPLES]
    if short or moments < LEAST_SAMPLES:
        if short:
            what = "; ".join(f"the run to {ROLES[run.role]} has {run.samples} pings" for run in short)
        else:
            what = f"the runs share {moments} moments"
        again = "Let all three run for some minutes at the same time."
        return "too short to tell", (f"Too short to tell: {what}; at least {LEAST_SAMPLES} are needed. {again}",)
    steady = _steady(runs, heard)
    lacking = _lacking(heard)
    if bad == 0:
        first = f"No moment of {moments} was bad. This tells of these minutes only."
        return "nothing bad seen", (first, *steady, *lacking)
    main = shares[0]
    if main.cause == "own answers" and len(shares) > 1:
        main = shares[1]
    said = [_first(main, moments, bad), ADVICE[main.cause]]
    second = [share for share in shares if share is not main and share.percent >= SECOND_PERCENT]
    said += [f"Then: {SHORT[share.cause]} ({share.percent:.0f} %). {ADVICE[share.cause]}" for share in second]
    if 100.0 * bad < FEW_PERCENT * moments:
        said.append("Fewer than 1 in 100 moments were bad, which is usual over the air; a longer run is surer.")
    said += _worst(main, episodes)
    said += _silent(runs)
    return main.cause, (*said, *steady, *lacking)


def _first(main: Share, moments: int, bad: int) -> str:
    lead = f"{bad} of {moments} moments were bad; "
    if main.cause == "cannot be told apart":
        return lead + f"for {main.moments} of them ({main.percent:.0f} %) the cause cannot be told apart."
    return lead + f"{main.moments} of them ({main.percent:.0f} %) are laid to {SHORT[main.cause]}."


def _worst(main: Share, episodes: Sequence[Episode]) -> list[str]:
    """The longest episode of the main cause."""
    mine = [episode for episode in episodes if episode.cause == main.cause]
    if not mine:
        return []
    longest = max(mine, key=lambda episode: (episode.end_s - episode.start_s, -episode.start_s))
    if len(mine) == 1 or longest.moments == 1:
        return []
    lasts = longest.end_s - longest.start_s
    return [f"The longest of {len(mine)} episodes began at {moment(longest.start_s)} and took {lasts:.0f} s."]


def _silent(runs: Sequence[RunFigures]) -> list[str]:
    """A host outside that never answers may not answer pings at all."""
    silent = [run for run in runs if run.median_ms is None and run.role == "outside"]
    what = "The outside host never answered: the line is down, or the host answers no pings. Try another host."
    return [what] if silent else []


def _steady(runs: Sequence[RunFigures], heard: set[Role]) -> list[str]:
    """Slow all the time, which no threshold from the run's own median can show."""
    median = {run.role: run.median_ms for run in runs if run.role in heard and run.median_ms is not None}
    said = []
    near, gateway, outside = median.get("near"), median.get("gateway"), median.get("outside")
    if near is not None and near > STEADY_MS:
        said.append(f"The own node is slow all the time (median {near:.0f} ms): look at the access as well.")
    if near is not None and gateway is not None and gateway - near > STEADY_HOP_MS:
        said.append(
            f"The gateway is {gateway - near:.0f} ms behind the own node all the time: look at the hops as well."
        )
    if gateway is not None and outside is not None and outside - gateway > STEADY_LINE_MS:
        behind = f"{outside - gateway:.0f} ms behind the gateway"
        said.append(f"The outside host is {behind} all the time: a busy line or a far host.")
    return said


def _lacking(heard: set[Role]) -> list[str]:
    """What a missing run leaves open."""
    said = []
    if "near" not in heard:
        said.append("Without the run to the own node, access and hops cannot be told apart.")
    if "gateway" not in heard:
        said.append("Without the run to the gateway, hops and the internet line cannot be told apart.")
    if "outside" not in heard:
        said.append("Without the run to an outside host, nothing is known of the internet line.")
    return said
