"""What was read on site, or told of a way, against what the rest of the site file says."""

from __future__ import annotations

from math import dist, hypot
from typing import Any

from advisor.facts import links
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.draws import Z90
from advisor.facts.links import Link
from advisor.site.building import Located
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, derive, formula, given, unknown
from advisor.values import Known, Unknown, constant


def _reading(book: Book, subject: Subject) -> tuple[Link | None, str, str, float | None]:
    """The pair a measurement is about, the direction of the level told, its field, and the level."""
    entry = book.site.measured[subject.ids[0]]
    field = "level_dbm" if entry.level_dbm is not None else "level_at_node_dbm"
    level = entry.level_dbm if entry.level_dbm is not None else entry.level_at_node_dbm
    away = "down" if field == "level_dbm" else "up"
    if entry.at in book.site.places:
        return links.to_place(entry.at, entry.radio), away, field, level
    band = book.inventory.radios[entry.radio].band
    hop = book.hops.get(entry.at)
    own = [radio.name for radio in book.inventory.radios_of(entry.at, band)]
    if not own:
        return None, away, field, level
    lower = hop.radio if hop is not None and hop.radio in own else own[0]
    return links.to_radio(str(lower), entry.radio), away, field, level


@fact("tells_level", about="measured", unit="", type="boolean", meaning="true when the measurement gives a level")
def tells_level(book: Book, subject: Subject) -> Fact:
    where = Given(book.source.where(f"measured.{subject.ids[0]}"))
    return Fact(f"tells_level[{subject.key}]", "", constant(_reading(book, subject)[3] is not None), where)


@fact("measured_dbm", about="measured", unit="dBm", digits=0, meaning="the level that was measured")
def measured_dbm(book: Book, subject: Subject) -> Fact:
    _, _, field, level = _reading(book, subject)
    key = f"measured_dbm[{subject.key}]"
    if level is None:
        return unknown(key, "dBm", f"a level (measured.{subject.ids[0]}.level_dbm)")
    return given(key, "dBm", level, book.source.where(f"measured.{subject.ids[0]}.{field}"), measured=True)


@formula(
    id="readings.level_dbm",
    unit="dBm",
    expr="EIRP + antenna gain - body loss - path loss of the described way",
    source="link budget, definition",
)
def described_level(*, eirp_dbm: Any, antenna_dbi: Any, body_loss_db: Any, path_loss_db: Any) -> Any:
    return eirp_dbm + antenna_dbi - body_loss_db - path_loss_db


@fact(
    "described_dbm",
    about="measured",
    unit="dBm",
    digits=0,
    meaning="the level that would be computed from the description of the way, without the reading",
)
def described_dbm(book: Book, subject: Subject) -> Fact:
    link, direction, _, _ = _reading(book, subject)
    key = f"described_dbm[{subject.key}]"
    if link is None:
        at = book.site.measured[subject.ids[0]].at
        return unknown(key, "dBm", f"a radio of {at} on that band (nodes.{at}.radios)")
    eirp, antenna, body = links.budget(book, link, direction)
    loss = links.described_loss_db(book, link)
    return derive(key, described_level, eirp_dbm=eirp, antenna_dbi=antenna, body_loss_db=body, path_loss_db=loss)


@formula(
    id="readings.off_in_spreads",
    unit="",
    expr="|measured level - described level| / root of (spread of levels² + spread of what lies between²)",
    source="standard score of one reading; independent variances add",
)
def off_in_spreads_of(
    *, measured_dbm: float, described_dbm: float, spread_db: float, described_spread_db: float
) -> float:
    return float(abs(measured_dbm - described_dbm) / hypot(spread_db, described_spread_db))


@fact(
    "off_in_spreads",
    about="measured",
    unit="",
    digits=1,
    meaning="how far the reading lies from the described level, in standard deviations of such a computed level",
)
def off_in_spreads(book: Book, subject: Subject) -> Fact:
    link = _reading(book, subject)[0]
    key = f"off_in_spreads[{subject.key}]"
    measured, described = measured_dbm(book, subject), described_dbm(book, subject)
    if link is None or not isinstance(described.value, Known):
        missing = described.value.missing if isinstance(described.value, Unknown) else ("what lies between",)
        return unknown(key, "", *missing)
    spread, source = links.described_spread_db(book, link)
    half_db = (float(described.value.high) - float(described.value.low)) / (2.0 * Z90)
    return derive(
        key,
        off_in_spreads_of,
        measured_dbm=measured,
        described_dbm=Fact("described_dbm[typical]", "dBm", constant(described.value.centre), described.by),
        spread_db=Fact(
            f"spread_db[{link.key}]", "dB", constant(spread), Assumed(f"levels differ by {spread:g} dB", source)
        ),
        described_spread_db=Fact(
            f"described_spread_db[{link.key}]", "dB", constant(half_db), Looked("half the band of the described level")
        ),
    )


def _ends(book: Book, subject: Subject) -> tuple[str, Located]:
    """Section and entry of the end that tells the path."""
    end, node = subject.ids
    place = book.site.places.get(end)
    if place is not None and node in place.paths:
        return "places", place
    return "nodes", book.site.nodes[end]


@fact("told_m", about="path", unit="m", meaning="the distance as the path tells it")
def told_m(book: Book, subject: Subject) -> Fact:
    section, entry = _ends(book, subject)
    end, node = subject.ids
    where = book.source.where(f"{section}.{end}.paths.{node}.distance_m")
    return given(f"told_m[{subject.key}]", "m", entry.paths[node].distance_m, where)


@fact("both_drawn", about="path", unit="", type="boolean", meaning="true when both ends have a position as well")
def both_drawn(book: Book, subject: Subject) -> Fact:
    section, entry = _ends(book, subject)
    drawn = entry.at is not None and book.site.nodes[subject.ids[1]].at is not None
    where = Given(book.source.where(f"{section}.{subject.ids[0]}"))
    return Fact(f"both_drawn[{subject.key}]", "", constant(drawn), where)


@fact("drawn_m", about="path", unit="m", meaning="the straight distance between the two positions")
def drawn_m(book: Book, subject: Subject) -> Fact:
    section, entry = _ends(book, subject)
    end, node = subject.ids
    key = f"drawn_m[{subject.key}]"
    first = book.building.position(entry, section)
    second = book.building.position(book.site.nodes[node], "nodes")
    if first is None or second is None:
        return unknown(key, "m", f"the positions of {end} and {node} ({section}.{end}.at, nodes.{node}.at)")
    metres = dist((first.x_m, first.y_m, first.z_m), (second.x_m, second.y_m, second.z_m))
    return given(key, "m", metres, book.source.where(f"{section}.{end}.at"))
