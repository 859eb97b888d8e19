"""Playing one happening, and what became of every box and place."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from math import inf

from advisor.outage.records import Box, BoxEnd, Case, Happening, Key, Moment, Net, Outcome, PlaceEnd, State, Use, Way
from advisor.outage.run import Run


def simulate(net: Net, happening: Happening, case: Case = 0) -> Outcome:
    """What one happening brings about, with one case of the times."""
    run = Run(net, happening, case)
    run.play()
    return outcome(run)


def outcome(run: Run) -> Outcome:
    """The ends of a run that has come to rest."""
    ends = {name: _box(run, name) for name in run.order}
    return Outcome(
        happening=run.happening,
        boxes=ends,
        places={use.place: _place(run, use) for use in run.net.uses},
        line_out_s=_out_s([(moment.at_s, moment.line) for moment in run.moments]),
        steps=tuple(run.steps),
    )


def _out_s(course: list[tuple[float, bool]]) -> float:
    """Seconds in which something did not work, over all its moments; inf where it does not at the end."""
    total = 0.0
    for (start, works), (end, _) in pairwise(course):
        total += 0.0 if works else end - start
    return total if course[-1][1] else inf


def _back_s(course: list[tuple[float, bool]], ends_s: float) -> float:
    """When it works again for good, after the cause is over; 0 where it did all the time."""
    if not course[-1][1]:
        return inf
    last = 0.0
    for (_, before), (when, works) in pairwise(course):
        if works and not before:
            last = when
    return max(last - ends_s, 0.0)


def _box(run: Run, name: str) -> BoxEnd:
    box = run.boxes[name]
    course = [(moment.at_s, name in moment.reached) for moment in run.moments]
    way, key = run.joined.get(name, (None, None))
    works = course[-1][1]
    state, why = _carries(run, box, course) if works else _does_not(run, box)
    if not any(works for _, works in course):
        state = "unharmed"
    return BoxEnd(
        box=name,
        state=state,
        back_s=_back_s(course, run.happening.ends_s),
        out_s=_out_s(course),
        way=way if works else None,
        login=_login(way, key) if works and way else "",
        why=why,
    )


def _login(way: Way, key: Key | None) -> str:
    if not way.air:
        return "its cable"
    return f"the password of {key[0]}" if key else "a credential of its own"


def _carries(run: Run, box: Box, course: list[tuple[float, bool]]) -> tuple[State, str]:
    stale = {key for key in box.carries if run.held[box.id][key] != run.newest[key]}
    stale |= {key for key in box.logs_in_by & set(run.newest) if run.logins[box.id][key] != run.newest[key]}
    if box.id in run.happening.replaced:
        return "after a hand", "the new box is given the names and passwords of the old one by hand"
    if stale:
        return (
            "after a hand",
            f"it still has the old name and password of {keys_told(sorted(stale))}; enter the new ones at it",
        )
    return ("by itself", "") if any(not works for _, works in course) else ("unharmed", "")


def keys_told(keys: list[Key]) -> str:
    """`yard (5 GHz), cafe (2.4 and 5 GHz)`."""
    by_network: dict[str, list[str]] = {}
    for network, band in keys:
        by_network.setdefault(network, []).append(band)
    return ", ".join(f"{network} ({' and '.join(bands)} GHz)" for network, bands in sorted(by_network.items()))


def _does_not(run: Run, box: Box) -> tuple[State, str]:
    """Why a box carries nothing at the end."""
    if box.id in run.happening.gone:
        return "off", "it is gone"
    if not run.powered[box.id]:
        return "stranded", f"it waits for power from {box.fed_by}, which does not come back without it"
    reached = run.moments[-1].reached
    heard = [way for way in box.ways if way.parent in reached and run.open_way(box.id, way)]
    strangers = sorted({way.parent for way in heard if way.air and not way.networks})
    if strangers:
        return "after a hand", f"it does not know the new {strangers[0]} yet; make the two known to each other by hand"
    if heard:
        networks = sorted({(network, way.band) for way in heard for network in way.networks})
        return "stranded", f"the password it holds for {keys_told(networks)} is not the one its parent has"
    gone = sorted({way.parent for way in box.ways})
    told = " and ".join(gone) or "a parent it does not have"
    return "cut off", f"it has no way but over {told}"


def _place(run: Run, use: Use) -> PlaceEnd:
    course = [(moment.at_s, serving(run, use, moment)) for moment in run.moments]
    served = [(when, radio is not None) for when, radio in course]
    ends_s = run.happening.ends_s
    client = run.net.times.client[run.case]
    before = [works for when, works in served if when < ends_s] if ends_s else [served[-1][1]]
    if not served[0][1]:
        return PlaceEnd(use.place, use.calls, inf, inf, False, True)
    moves = sum(1 for (_, old), (_, new) in pairwise(course) if new is not None and old is not None and new != old)
    returns = sum(1 for (_, old), (_, new) in pairwise(served) if new and not old)
    out_s = _out_s(served)
    back_s = _back_s(served, ends_s)
    return PlaceEnd(
        place=use.place,
        calls=use.calls,
        out_s=out_s + client * (moves + returns) if out_s < inf else inf,
        back_s=back_s + client if 0.0 < back_s < inf else back_s,
        meanwhile=before[-1],
        left_without=False,
    )


def serving(run: Run, use: Use, moment: Moment) -> str | None:
    """The first radio of a place that works at a moment, for where its traffic goes; devices hold the newest
    passwords."""
    for radio, networks in use.radios:
        node, band = run.net.node_of(radio), run.net.band_of[radio]
        held = moment.held[node]
        if radio not in moment.sends or not any(held.get((k, band)) == moment.newest.get((k, band)) for k in networks):
            continue
        if use.to == "internet":
            works = moment.line and node in moment.reached
        else:
            works = use.to in moment.started and _meet(node, use.to, moment.parents)
        if works:
            return radio
    return None


def _meet(first: str, other: str, parents: Mapping[str, str]) -> bool:
    """Whether two boxes hang together, with or without the line."""

    def way(name: str) -> set[str]:
        found = {name}
        while name in parents and parents[name] not in found:
            name = parents[name]
            found.add(name)
        return found

    return bool(way(first) & way(other))
