"""What a radio radiates beside its signal: whether the database clears it, and how near people should come."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.channel_choice import clearance, looked_up, not_told
from advisor.network.contention import span_mhz
from advisor.physics.exposure import CAUTION, power_density_w_m2, separation_distance_m
from advisor.physics.regulation import Clearance, Verdict, clear, database_version, wording
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Looked, derive, formula, given, unknown
from advisor.values import Known, constant

USUAL_CLEARANCE_M = 0.2


def _clearance(book: Book, subject: Subject) -> Clearance | None:
    """What the database says of a radio's channel and highest power; None while its channel is not known."""
    radio = book.radios[subject.ids[0]]
    span = span_mhz(radio)
    if span is None:
        return None
    eirp = book.get("eirp_dbm", subject).value
    highest = float(eirp.high) if isinstance(eirp, Known) and eirp.cases is None else None
    return clear(book.site.site.country, *span, eirp_dbm=highest, outdoor=book.site.nodes[radio.node].outdoor)


def _missing(book: Book, subject: Subject) -> tuple[str, ...]:
    if book.site.site.country is None:
        return ("the country (site.country)",)
    channel = book.get("channel", subject)
    return () if channel.known else channel.value.missing  # type: ignore[union-attr]


@fact(
    "regulation",
    about="radio",
    unit="",
    type="class",
    meaning="whether a database of what open kernels enforce clears channel and power, in words; it is not the law",
)
def regulation(book: Book, subject: Subject) -> Fact:
    key = f"regulation[{subject.key}]"
    clearance = _clearance(book, subject)
    if clearance is None or clearance.verdict is Verdict.UNKNOWN_COUNTRY:
        return unknown(key, "", *(_missing(book, subject) or (f"a country of the database ({database_version()})",)))
    eirp = book.get("eirp_dbm", subject)
    told = wording(clearance, float(eirp.value.high) if isinstance(eirp.value, Known) else None)
    return Fact(
        key, "", constant(told), Looked(f"wireless-regdb {database_version()}, conservative, not the law"), (eirp,)
    )


@fact(
    "cleared", about="radio", unit="", type="boolean", meaning="true when the database clears channel and given power"
)
def cleared(book: Book, subject: Subject) -> Fact:
    key = f"cleared[{subject.key}]"
    clearance = _clearance(book, subject)
    if clearance is None or clearance.verdict is Verdict.UNKNOWN_COUNTRY:
        return unknown(key, "", *(_missing(book, subject) or (f"a country of the database ({database_version()})",)))
    how = Looked("; ".join(clearance.reasons) or "within the database's range")
    return Fact(key, "", constant(clearance.verdict is Verdict.CLEARED), how)


@fact(
    "watches_for_radar",
    about="radio",
    unit="",
    type="boolean",
    meaning="true where the channel lies where radar must be watched for",
)
def watches_for_radar(book: Book, subject: Subject) -> Fact:
    key = f"watches_for_radar[{subject.key}]"
    clearance = _clearance(book, subject)
    if clearance is None or clearance.rules is None:
        return unknown(key, "", *(_missing(book, subject) or ("a country of the database",)))
    return Fact(key, "", constant(clearance.rules.dfs), Looked(f"DFS flag of wireless-regdb {database_version()}"))


def _reflection() -> Fact:
    by = Assumed("the ground reflects as usual (field × 1.6)", "OET Bulletin 65, EPA factor 2.56 in power")
    return Fact("reflection_factor", "", constant(2.56), by)


@fact(
    "separation_m",
    about="radio",
    unit="m",
    digits=2,
    meaning="distance to keep for the general public at full power: " + CAUTION.rstrip("."),
)
def separation_m(book: Book, subject: Subject) -> Fact:
    eirp = book.get("eirp_dbm", subject)
    key = f"separation_m[{subject.key}]"
    return derive(key, separation_distance_m, eirp_dbm=eirp, reflection_factor=_reflection())


@fact(
    "power_density_w_m2",
    about="radio",
    unit="W/m2",
    digits=2,
    meaning="power density at 20 cm at full power: " + CAUTION.rstrip("."),
)
def power_density(book: Book, subject: Subject) -> Fact:
    distance = Fact("distance_m", "m", constant(USUAL_CLEARANCE_M), Looked("usual clearance"))
    return derive(
        f"power_density_w_m2[{subject.key}]",
        power_density_w_m2,
        eirp_dbm=book.get("eirp_dbm", subject),
        distance_m=distance,
        reflection_factor=_reflection(),
    )


def _channel_rules(book: Book, subject: Subject) -> tuple[Clearance | None, tuple[str, ...]]:
    """What the extract says of the channel, and what is missing to say it."""
    found = clearance(book, book.radios[subject.ids[0]])
    return found, not_told(book, subject, found)


@fact(
    "channel_covered",
    about="radio",
    unit="",
    type="boolean",
    meaning="true when the regulatory extract has ranges for all of its channel, so that it names a power",
)
def channel_covered(book: Book, subject: Subject) -> Fact:
    key = f"channel_covered[{subject.key}]"
    found, missing = _channel_rules(book, subject)
    if missing or found is None or found.rules is None:
        return unknown(key, "", *missing)
    return Fact(key, "", constant(found.rules.covered), looked_up())


@fact(
    "cleared_eirp_dbm",
    about="radio",
    unit="dBm",
    digits=0,
    meaning="highest radiated power the regulatory extract clears on its channel (what open kernels enforce)",
)
def cleared_eirp_dbm(book: Book, subject: Subject) -> Fact:
    key = f"cleared_eirp_dbm[{subject.key}]"
    found, missing = _channel_rules(book, subject)
    if missing or found is None or found.rules is None:
        return unknown(key, "dBm", *missing)
    if not found.rules.covered:
        return unknown(
            key, "dBm", f"a power: the regulatory extract has no range for all of the channel of {subject.name}"
        )
    return Fact(key, "dBm", constant(found.rules.max_eirp_dbm), looked_up())


@formula(
    id="radiation.over_cleared_db",
    unit="dB",
    expr="EIRP - cleared EIRP",
    source="difference of two powers; tenths of a dB are rounding of milliwatts in the database (25 mW: 13.97 dBm)",
)
def over_cleared(*, eirp_dbm: Any, cleared_dbm: Any) -> Any:
    return eirp_dbm - cleared_dbm


@fact(
    "over_cleared_db",
    about="radio",
    unit="dB",
    digits=1,
    meaning="how far its radiated power lies above what the regulatory extract clears on its channel; negative below",
)
def over_cleared_db(book: Book, subject: Subject) -> Fact:
    return derive(
        f"over_cleared_db[{subject.key}]",
        over_cleared,
        eirp_dbm=book.get("eirp_dbm", subject),
        cleared_dbm=book.get("cleared_eirp_dbm", subject),
    )


@fact(
    "second_source",
    about="radio",
    unit="",
    type="class",
    meaning="what a second source says of the radiated power on its channel, in words; where from memory it says so",
)
def second_source(book: Book, subject: Subject) -> Fact:
    key = f"second_source[{subject.key}]"
    found, missing = _channel_rules(book, subject)
    if missing or found is None:
        return unknown(key, "", *missing)
    limit = found.second
    if limit is None:
        return Fact(
            key, "", constant("no second source is carried for this range"), Looked("limits of a second source")
        )
    seen = "as published" if limit.status == "found" else "from memory, to be verified"
    told = f"a second source has {limit.max_eirp_dbm:g} dBm ({limit.source}; {seen})"
    return Fact(key, "", constant(told), Looked("limits of a second source"))


@fact(
    "second_covers",
    about="radio",
    unit="",
    type="boolean",
    meaning="true when a second source has a limit for its channel",
)
def second_covers(book: Book, subject: Subject) -> Fact:
    key = f"second_covers[{subject.key}]"
    found, missing = _channel_rules(book, subject)
    if missing or found is None:
        return unknown(key, "", *missing)
    return Fact(key, "", constant(found.second is not None), Looked("limits of a second source"))


@fact(
    "over_second_db",
    about="radio",
    unit="dB",
    digits=1,
    meaning="how far its radiated power lies above the limit of a second source on its channel; negative below",
)
def over_second_db(book: Book, subject: Subject) -> Fact:
    key = f"over_second_db[{subject.key}]"
    found, missing = _channel_rules(book, subject)
    if missing or found is None or found.second is None:
        return unknown(key, "dB", *(missing or ("a second source for this range",)))
    by = Looked(f"{found.second.source}; {found.second.status}")
    limit = Fact(f"second_dbm[{subject.key}]", "dBm", constant(found.second.max_eirp_dbm), by)
    return derive(key, over_cleared, eirp_dbm=book.get("eirp_dbm", subject), cleared_dbm=limit)


def _steps(book: Book, subject: Subject) -> tuple[float, ...]:
    """The power steps listed for the radio's node, unless its power is set in another way."""
    settable = book.site.nodes[book.inventory.radios[subject.ids[0]].node].settable
    return settable.power_steps_dbm if settable.power in (None, "steps") else ()


@fact(
    "power_in_steps",
    about="radio",
    unit="",
    type="boolean",
    meaning="true when the file lists the steps its power can be set in and gives its power",
)
def power_in_steps(book: Book, subject: Subject) -> Fact:
    radio = book.inventory.radios[subject.ids[0]]
    told = radio.eirp_dbm is not None or radio.conducted_dbm is not None
    how = Looked("power_steps_dbm of the node and the power of the radio")
    return Fact(f"power_in_steps[{subject.key}]", "", constant(bool(_steps(book, subject)) and told), how)


@fact("nearest_step_dbm", about="radio", unit="dBm", digits=1, meaning="the power step nearest to its radiated power")
def nearest_step_dbm(book: Book, subject: Subject) -> Fact:
    radio = book.inventory.radios[subject.ids[0]]
    key = f"nearest_step_dbm[{subject.key}]"
    steps = _steps(book, subject)
    path = f"nodes.{radio.node}.settable.power_steps_dbm"
    if not steps:
        return unknown(key, "dBm", f"the power steps of {radio.node} ({path})")
    eirp = float(book.get("eirp_dbm", subject).value.centre)  # type: ignore[union-attr]
    nearest = min(steps, key=lambda step: (abs(step - eirp), step))
    return given(key, "dBm", nearest, book.source.where(path))


@formula(
    id="radiation.off_step_db", unit="dB", expr="|EIRP - nearest step|", source="difference of two radiated powers"
)
def off_step(*, eirp_dbm: Any, step_dbm: Any) -> Any:
    return np.abs(eirp_dbm - step_dbm)


@fact("off_step_db", about="radio", unit="dB", digits=1, meaning="how far its power lies from the nearest step")
def off_step_db(book: Book, subject: Subject) -> Fact:
    return derive(
        f"off_step_db[{subject.key}]",
        off_step,
        eirp_dbm=book.get("eirp_dbm", subject),
        step_dbm=book.get("nearest_step_dbm", subject),
    )
