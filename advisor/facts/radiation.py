"""What a radio radiates beside its signal: whether the database clears it, and how near people should come."""

from __future__ import annotations

from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.network.contention import span_mhz
from advisor.physics.exposure import CAUTION, power_density_w_m2, separation_distance_m
from advisor.physics.regulation import Clearance, Verdict, clear, database_version, wording
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Looked, derive, unknown
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
