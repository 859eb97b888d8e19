"""Why calls fail: one possible cause at a time is taken away and the walk computed again.

A cause counts by how much rarer trouble becomes without it: a drop, an audible gap, or a worst window under the MOS
wanted. Each cause that can be mended names the change that does it. What no single cause explains is looked for in
pairs.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from advisor.advice.effort import change
from advisor.advice.offered import offered
from advisor.advice.remedies_use import fair_queue
from advisor.advice.score import MET, asks_of, gets, typically
from advisor.advice.setups import power_edits
from advisor.errors import InputError
from advisor.facts import uses
from advisor.facts.book import Book
from advisor.facts.draws import Draws
from advisor.facts.walks import DRAWS, Course, course_of_place, course_of_walk, crossings
from advisor.site.change import Change, edits_of
from advisor.site.edit import REMOVE, CannotEdit, Edit, edited
from advisor.site.load import LoadedSite
from advisor.site.schema import Site
from advisor.subjects import place as place_subject
from advisor.values import FIRST_DRAW, Known

NOTABLE = 0.05
"""A cause is told where taking it away makes trouble rarer by this share of the draws."""
LEAST_DBM = 5.0
"""No radio is lowered under this."""
MOST_POWERS = 4
"""Powers tried for one radio."""
MOST_PAIRS = 10
"""Pairs tried, of the causes that do something."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """How often a walk goes wrong, as shares of the draws."""

    dropped: float
    long_gap: float
    audible_gap: float
    poor: float
    """Worst window under the MOS wanted."""
    any: float
    """A long gap, a drop or a poor window: the call suffers."""


@dataclass(frozen=True, slots=True)
class Cause:
    """Something that may be to blame, how much, and what mends it."""

    id: str
    what: str
    without: Trouble
    share: float
    """By how much trouble gets rarer without it, as a share of the trouble there is."""
    evidence: str
    change: Change | None
    """What takes it away; None where nothing at the site does."""
    harm: str = ""
    """What gets worse elsewhere with it: needs met before that are not met then."""


@dataclass(frozen=True)
class Diagnosis:
    """Why calls suffer on one walk or at one place."""

    where: str
    course: Course
    now: Trouble
    causes: tuple[Cause, ...]
    """Ranked by their share; those that change nothing are left out."""
    pairs: tuple[Cause, ...]
    """Two causes at a time, where single ones leave most of it."""
    tried: int
    by_thumb: float | None = None
    """For a place, the chance that a call holds there by the limits `check` uses; None for walks, and where unknown."""


@dataclass(frozen=True)
class _Trial:
    """A cause to take away: how the site reads then, and the change that does it for good."""

    id: str
    what: str
    evidence: str = ""
    edits: tuple[Edit, ...] = ()
    """What is written into a copy of the file."""
    site: Callable[[Site], Site] | None = None
    """Or how the site is read otherwise, where nobody can set it so."""
    change: Change | None = None


def trouble_of(course: Course) -> Trouble:
    """How often the draws of a course go wrong."""
    longest_ms = course.calls.longest_s * 1e3
    long = longest_ms >= course.limits.long_ms
    audible = longest_ms >= course.limits.audible_ms
    poor = course.calls.worst_mos < course.limits.mos
    dropped = course.calls.dropped
    shares = [round(float(np.mean(flags)), 3) for flags in (dropped, long, audible, poor, dropped | long | poor)]
    return Trouble(*shares)


def diagnose_walk(
    loaded: LoadedSite,
    book: Book,
    walk: str,
    progress: Callable[[int, int], None] | None = None,
    draws: int = DRAWS,
) -> Diagnosis:
    """Ranked causes of trouble on a walk."""
    return _diagnose(loaded, book, walk, lambda own: course_of_walk(own, walk, draws), progress)


def diagnose_place(
    loaded: LoadedSite,
    book: Book,
    place: str,
    progress: Callable[[int, int], None] | None = None,
    draws: int = DRAWS,
) -> Diagnosis:
    """Ranked causes of trouble with calls made at a place."""
    found = _diagnose(loaded, book, f"at {place}", lambda own: course_of_place(own, place, draws), progress)
    judged = uses.holds_call(Book(loaded, draws=Draws(book.draws.seed)), place_subject(place)).value
    if not isinstance(judged, Known):
        return found
    held = np.ravel(np.asarray(judged.raw, dtype=float))
    return replace(found, by_thumb=round(float(np.mean(held[FIRST_DRAW:] if len(held) > FIRST_DRAW else held)), 3))


def _diagnose(
    loaded: LoadedSite,
    book: Book,
    where: str,
    course_in: Callable[[Book], Course],
    progress: Callable[[int, int], None] | None,
) -> Diagnosis:
    course = course_in(book)
    now = trouble_of(course)
    if now.any < NOTABLE and now.audible_gap < NOTABLE:
        return Diagnosis(where, course, now, (), (), 0)
    trials = _trials(book, course)
    found: list[Cause] = []
    for number, trial in enumerate(trials, 1):
        with suppress(CannotEdit, InputError):  # nothing is told that could not be written into this file
            found.append(_without(loaded, book, (trial,), course_in, now))
        if progress is not None:
            progress(number, len(trials))
    found = _best_of_each(found)
    causes = sorted((cause for cause in found if _gain(now, cause.without) >= NOTABLE), key=_order)
    pairs: list[Cause] = []
    best = max((_gain(now, cause.without) for cause in causes), default=0.0)
    if best < _weight(now) / 2:
        telling = {cause.id for cause in sorted(found, key=_order)[: MOST_PAIRS // 2]}
        for pair in list(combinations([trial for trial in trials if trial.id in telling], 2))[:MOST_PAIRS]:
            try:
                cause = _without(loaded, book, pair, course_in, now)
            except (InputError, CannotEdit):  # one takes away what the other changes
                continue
            if _gain(now, cause.without) >= best + NOTABLE:
                pairs.append(cause)
    return Diagnosis(where, course, now, tuple(causes), tuple(sorted(pairs, key=_order)[:3]), len(trials))


def _best_of_each(found: Sequence[Cause]) -> list[Cause]:
    """Of several powers of one radio, or bands of one uplink, the one that helps most without harm."""
    best: dict[str, Cause] = {}
    for cause in found:
        before = best.get(cause.what)
        if before is None or (bool(cause.harm), *_order(cause)) < (bool(before.harm), *_order(before)):
            best[cause.what] = cause
    return list(best.values())


def _order(cause: Cause) -> tuple[float, float, str]:
    return -cause.share, cause.change.effort_min if cause.change else 1e9, cause.id


def _weight(now: Trouble) -> float:
    """Trouble as one figure: that calls suffer, else that gaps are heard."""
    return now.any if now.any >= NOTABLE else now.audible_gap


def _gain(now: Trouble, without: Trouble) -> float:
    return now.any - without.any if now.any >= NOTABLE else now.audible_gap - without.audible_gap


def _without(
    loaded: LoadedSite,
    book: Book,
    trials: Sequence[_Trial],
    course_in: Callable[[Book], Course],
    now: Trouble,
) -> Cause:
    edits = edits_of(Change("", "", "", trial.edits) for trial in trials)
    read = edited(loaded, edits) if edits else loaded
    for trial in trials:
        if trial.site is not None:
            read = replace(read, site=trial.site(read.site))
    own = Book(read, draws=Draws(book.draws.seed, 0))
    after = trouble_of(course_in(own))
    share = round(_gain(now, after) / _weight(now), 3) if _weight(now) else 0.0
    harm = _harm(book, own) if edits else ""
    changes = [trial.change for trial in trials if trial.change is not None]
    merged = changes[0] if len(changes) == 1 else _merged(changes) if len(changes) == len(trials) else None
    return Cause(
        "+".join(trial.id for trial in trials),
        " and ".join(trial.what for trial in trials),
        after,
        share,
        " ".join(dict.fromkeys(trial.evidence for trial in trials if trial.evidence)),
        merged,
        harm,
    )


def _harm(before: Book, after: Book) -> str:
    """Places that typically get what they ask for now, and would not then."""
    asks = asks_of(before.site)
    lost = [
        f"{ask.place} ({ask.direction})"
        for ask in asks
        if typically(gets(before, ask)) >= ask.mbps * MET and typically(gets(after, ask)) < ask.mbps * MET
    ]
    return f"Then {', '.join(lost)} no longer gets what is asked for there." if lost else ""


def _merged(changes: Sequence[Change]) -> Change:
    told = " ".join(change.told for change in changes)
    minutes = sum(change.effort_min for change in changes)
    return Change(changes[0].operator, changes[0].subject, told, edits_of(changes), minutes)


def _trials(book: Book, course: Course) -> list[_Trial]:
    """Everything that may be to blame at this site on this way."""
    found = [_neighbours(), *_powers(book, course), *_names(book, course), *_aids(book, course)]
    found += [*_uplinks(book, course), *_queue(book, course), *_voice(book, course), *_routers(book, course)]
    found += [*_hidden(book, course), *_everyone(book)]
    return [replace(trial, change=offered(book, trial.change) if trial.change else None) for trial in found]


def _neighbours() -> _Trial:
    def silent(site: Site) -> Site:
        return site.model_copy(update={"neighbours": {}, "interference": {}})

    return _Trial("neighbours", "other people's networks and other sources", site=silent)


def _everyone(book: Book) -> list[_Trial]:
    def idle(site: Site) -> Site:
        places = {name: place.model_copy(update={"active": 0}) for name, place in site.places.items()}
        return site.model_copy(update={"places": places})

    return [_Trial("load", "everybody else being active at the same time", site=idle)]


def _powers(book: Book, course: Course) -> list[_Trial]:
    """The louder radio of every crossing lowered step by step: which of its powers puts the crossing right is found by
    walking with each."""
    found: dict[str, _Trial] = {}
    for crossing in crossings(course):
        pair = (crossing.from_radio, crossing.to_radio)
        powers = {name: book.inventory.radios[name].eirp_dbm for name in pair}
        known = {name: float(power) for name, power in powers.items() if power is not None}
        if len(known) < 2:
            continue
        loud = max(known, key=lambda name: (known[name], name))
        for power in _lower(book, loud, known[loud], min(known.values())):
            trial = _at_power(book, loud, known[loud], power, crossing.where)
            if trial is not None:
                found.setdefault(trial.id, trial)
    return list(found.values())


def _lower(book: Book, radio: str, now_dbm: float, other_dbm: float) -> list[float]:
    """Powers to try under the present one: the steps the equipment has, else 3 dB apart, and that of the other node."""
    node = book.inventory.radios[radio].node
    steps = [step for step in book.site.nodes[node].settable.power_steps_dbm if step < now_dbm]
    wanted = sorted(steps, reverse=True) or [now_dbm - drop for drop in (3.0, 6.0, 9.0, 12.0)]
    if other_dbm <= now_dbm - 3.0 and not steps:
        wanted = [other_dbm, *wanted]
    return [power for power in dict.fromkeys(wanted) if power >= LEAST_DBM][:MOST_POWERS]


def _at_power(book: Book, name: str, now_dbm: float, power_dbm: float, where: str) -> _Trial | None:
    node, radio = name.split(".", 1)
    if radio not in book.site.nodes[node].radios:
        return None
    edits = power_edits(book, name, power_dbm)
    told = f"Lower {name} from {now_dbm:g} to {power_dbm:g} dBm radiated power."
    evidence = f"It is the louder one of two nodes that meet {where}."
    mend = change("set-power", f"radio={name}", told, edits)
    return _Trial(f"power {name} {power_dbm:g}", f"the power of {name}", evidence, tuple(edits), change=mend)


def _names(book: Book, course: Course) -> list[_Trial]:
    """One name where it breaks; a name of its own per band where clients change band instead of node."""
    from advisor.advice.names import schemes

    found = []
    for scheme in schemes(book, {}):
        if scheme.id == "one-name":
            names = {name for radio in course.trail.radios for name in radio.names}
            if len(names) > 1:
                edits = edits_of(scheme.changes)
                found.append(_Trial("names", "different names on the way", "", edits, change=scheme.changes[0]))
        elif scheme.id == "names-per-band-fast" and course.band_changes >= NOTABLE:
            edits = edits_of(scheme.changes[:1])
            evidence = f"The client changes band {course.band_changes:.1f} times on average."
            found.append(_Trial("bands", "one name over both bands", evidence, edits, change=scheme.changes[0]))
    return found


def _aids(book: Book, course: Course) -> list[_Trial]:
    found = []
    used = sorted({radio.node for radio in course.trail.radios})
    for aid, what in (("k", "no list of neighbours (802.11k)"), ("r", "no fast transition (802.11r)")):
        if not getattr(course.client, aid) or all(getattr(radio, aid) for radio in course.trail.radios):
            continue
        keys = [key for key, net in sorted(book.site.networks.items()) if net.purpose == "clients"]
        edits = [Edit(("networks", key, "aids", aid), True) for key in keys]
        told = f"Switch 802.11{aid} on for the network names clients use, at {', '.join(used)}."
        mend = change("set-aids", f"network={keys[0]}", told, edits) if keys else None
        found.append(_Trial(f"802.11{aid}", what, "", tuple(edits), change=mend))
    return found


def _uplinks(book: Book, course: Course) -> list[_Trial]:
    """Each relay on the way: its uplink on another band than its clients."""
    found = []
    for node in sorted({radio.node for radio in course.trail.radios}):
        hop = book.hops.get(node)
        if hop is None or not hop.air:
            continue
        others = [
            radio.band
            for radio in book.inventory.radios_of(node)
            if radio.band != hop.band and book.inventory.radios_of(hop.parent, radio.band)
        ]
        for band in sorted(set(others)):
            value: float | int = float(band) if "." in band else int(band)
            path = ("nodes", node, "uplink")
            edits = [Edit((*path, "to"), hop.parent), Edit((*path, "band"), value)]
            uplink = book.site.nodes[node].uplink
            if uplink is not None and uplink.choice == "node":
                edits.append(Edit((*path, "choice"), REMOVE))
            if uplink is not None and uplink.radio is not None:
                edits.append(Edit((*path, "radio"), REMOVE))
            told = f"Let the uplink of {node} run to {hop.parent} on {band} GHz."
            mend = change("change-uplink-band", f"hop={node}", told, edits)
            what = f"the uplink of {node} on {hop.band} GHz"
            found.append(_Trial(f"uplink {node} {band}", what, "", tuple(edits), change=mend))
    return found


def _queue(book: Book, course: Course) -> list[_Trial]:
    if book.site.internet.queue == "fair":
        return []
    (mend,) = fair_queue(book)
    full = [radio.delay_why for radio in course.trail.radios if "internet line" in radio.delay_why]
    return [_Trial("queue", "the plain queue on the internet line", (full or [""])[0], mend.edits, change=mend)]


def _voice(book: Book, course: Course) -> list[_Trial]:
    if course.client.voice_class or course.trail.walk not in book.site.walks:
        return []
    edits = [Edit(("walks", course.trail.walk, "traffic_class"), "voice")]
    told = "Let the calling program mark its packets as voice (DSCP EF), and leave voice priority on in every node."
    mend = change("voice-class", "walk=" + course.trail.walk, told, edits)
    return [_Trial("voice", "calls taking their turn with data", "", tuple(edits), change=mend)]


def _routers(book: Book, course: Course) -> list[_Trial]:
    found = []
    for node in sorted({radio.node for radio in course.trail.radios if radio.router}):
        edits = [Edit(("nodes", node, "mode"), "bridge")]
        mend = change("bridge-mode", f"node={node}", f"Set {node} to bridge (access point) mode.", edits)
        evidence = f"{node} hands out addresses of its own: a call that changes to it cannot go on."
        found.append(_Trial(f"router {node}", f"{node} in router mode", evidence, tuple(edits), change=mend))
    return found


def _hidden(book: Book, course: Course) -> list[_Trial]:
    found = []
    for node in sorted({radio.node for radio in course.trail.radios if radio.hidden}):
        edits = [Edit(("nodes", node, "addresses"), "passed")]
        evidence = f"{node} passes its clients on under its own address, so others must first learn where a client is."
        found.append(_Trial(f"hidden {node}", f"{node} hiding its clients' addresses", evidence, tuple(edits)))
    return found
