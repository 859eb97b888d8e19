"""Association: which radio the client at a place joins, and which it cannot join and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.facts import links, rates, receiving
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import client_of
from advisor.facts.reach import reachable
from advisor.network.joining import NOT_CARRIED, Joining, joining
from advisor.subjects import Subject, place_radio
from advisor.trace import Fact, Looked, derive, formula, unknown
from advisor.values import Known, constant, from_cases

GREAT_SNR_DB = 25.0
"""Above this a client sees no difference in level (an open-source supplicant's sorting of scan results)."""
SIMILAR_DB = 7.0
"""Levels this close count as alike, and the estimated throughput decides (the same source)."""
NOISE_DBM = {"2.4": -89.0, "5": -92.0, "6": -92.0}
"""Noise a client assumes where its driver gives none (the same source)."""


@dataclass(frozen=True)
class Association:
    """The radios a place can use and, in every case, the index of the one joined (-1: none)."""

    radios: tuple[str, ...]
    joined: NDArray[np.int64]
    missing: tuple[str, ...]


def joining_of(book: Book, place: str, radio: str) -> Joining:
    """Networks over which the place's client can join the radio, or the reasons why not."""
    return book.lasting(
        ("joining", place, radio),
        lambda: joining(
            book.site, client_of(book, place), book.inventory.radios[radio], book.site.places[place].network
        ),
    )


def association(book: Book, place: str) -> Association:
    """Which radio the place's client joins, in every case.

    Among radios it can join and that hold, those within 7 dB of the best signal (counted up to 25 dB SNR) are alike
    and the fastest wins; ties go to the stronger, then to the name.
    """
    return book.lasting(("association", place), lambda: _associate(book, place))


def _associate(book: Book, place: str) -> Association:
    names, snrs, speeds = [], [], []
    missing = [] if book.site.networks else ["the networks of the site (networks)"]
    size = book.draws.size
    for name in reachable(book, place):
        if not joining_of(book, place, name).networks:
            continue
        link = links.to_place(place, name)
        level, rate = links.level_dbm(book, link, "down"), rates.phy_rate_mbps(book, link, "down")
        holds = receiving.holds(book, link)
        if not level.known or not rate.known or holds is None:
            gaps = level.value.missing if not level.known else rate.value.missing  # type: ignore[union-attr]
            missing += [reason for reason in gaps if reason not in missing]
            continue
        band = book.inventory.radios[name].band
        snr = np.broadcast_to(np.asarray(level.raw, dtype=float), (size,)) - NOISE_DBM[band]
        usable = np.broadcast_to(holds, (size,))
        names.append(name)
        snrs.append(np.where(usable, snr, -np.inf))
        speeds.append(np.broadcast_to(np.asarray(rate.raw, dtype=float), (size,)))
    if not names:
        return Association((), np.full(size, -1), tuple(missing))
    signal = np.array(snrs)
    capped = np.minimum(signal, GREAT_SNR_DB)
    alike = capped >= capped.max(axis=0) - SIMILAR_DB
    score = np.where(alike & np.isfinite(signal), np.round(np.array(speeds), 1) * 1e3 + np.round(signal, 1), -np.inf)
    joined = np.where(np.isfinite(score.max(axis=0)), score.argmax(axis=0), -1)
    return Association(tuple(names), joined.astype(np.int64), tuple(missing) if not np.any(joined >= 0) else ())


def holds_typically(book: Book, place: str, radio: str) -> bool:
    """Whether the link between a place and a radio holds at the centre of what is known."""
    holds = receiving.holds(book, links.to_place(place, radio))
    return holds is not None and bool(np.ravel(np.asarray(holds))[0])


@fact("joined_radio", about="place", unit="", type="class", meaning="the radio its client joins")
def joined_radio(book: Book, subject: Subject) -> Fact:
    key = f"joined_radio[{subject.key}]"
    answer = association(book, subject.ids[0])
    if answer.missing:
        return unknown(key, "", *answer.missing)
    names = np.array([*answer.radios, "none"], dtype=object)
    inputs = tuple(rates.phy_rate_mbps(book, links.to_place(subject.ids[0], name), "down") for name in answer.radios)
    how = Looked("the fastest among the radios within 7 dB of the best signal (counted up to 25 dB SNR)")
    return Fact(key, "", from_cases(names[answer.joined], joint=True), how, inputs)


@fact(
    "can_join", about="place-radio", unit="", type="boolean", meaning="true when the client can join this radio at all"
)
def can_join(book: Book, subject: Subject) -> Fact:
    answer = joining_of(book, *subject.ids)
    how = Looked("; ".join(answer.reasons) or "band, channel, security and names fit")
    return Fact(f"can_join[{subject.key}]", "", constant(bool(answer.networks)), how)


@fact("radios_to_join", about="place", unit="", digits=0, meaning="radios near enough that its client can join")
def radios_to_join(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    joins = {name: joining_of(book, place, name) for name in reachable(book, place)}
    count = sum(1 for answer in joins.values() if answer.networks)
    reasons = sorted({reason for answer in joins.values() if not answer.networks for reason in answer.reasons})
    telling = [reason for reason in reasons if reason != NOT_CARRIED]
    reasons = telling or reasons
    key = f"radios_to_join[{subject.key}]"
    if not book.site.networks:
        return unknown(key, "", "the networks of the site (networks)")
    how = "; ".join(reasons) if joins else "every radio is too far away"
    return Fact(key, "", constant(float(count)), Looked(how or "all fit"))


@fact(
    "refused_because",
    about="place",
    unit="",
    type="class",
    meaning="why its client cannot join, where it cannot join any radio",
)
def refused_because(book: Book, subject: Subject) -> Fact:
    count = radios_to_join(book, subject)
    return Fact(
        f"refused_because[{subject.key}]", "", constant(getattr(count.by, "how", "")), Looked("capabilities"), (count,)
    )


@fact(
    "joined_now",
    about="place-radio",
    unit="",
    type="boolean",
    meaning="true when the client at the place joins this radio",
)
def joined_now(book: Book, subject: Subject) -> Fact:
    place, radio = subject.ids
    answer = association(book, place)
    key = f"joined_now[{subject.key}]"
    if answer.missing:
        return unknown(key, "", *answer.missing)
    if radio not in answer.radios:
        return Fact(key, "", constant(False), Looked("not among the radios it can use"))
    return Fact(key, "", from_cases(answer.joined == answer.radios.index(radio), joint=True), Looked("association"))


LINK_VARIANTS = {"dir": ("down", "up")}


@fact(
    "level_dbm",
    about="place-radio",
    unit="dBm",
    digits=0,
    variants=LINK_VARIANTS,
    meaning="level received: at the place for down, at the radio for up",
)
def level_dbm(book: Book, subject: Subject, dir: str) -> Fact:
    return links.level_dbm(book, links.to_place(*subject.ids), dir)


@fact(
    "path_loss_db", about="place-radio", unit="dB", digits=0, meaning="loss from antenna to antenna without shadowing"
)
def path_loss_db(book: Book, subject: Subject) -> Fact:
    return links.path_loss_db(book, links.to_place(*subject.ids))


@fact("distance_m", about="place-radio", unit="m", meaning="straight distance")
def distance_m(book: Book, subject: Subject) -> Fact:
    return links.distance_m(book, links.to_place(*subject.ids))


@fact(
    "margin_db",
    about="place-radio",
    unit="dB",
    digits=0,
    variants=LINK_VARIANTS,
    meaning="how far the level lies above what the slowest rate needs",
)
def margin_db(book: Book, subject: Subject, dir: str) -> Fact:
    return receiving.margin_db(book, links.to_place(*subject.ids), dir)


@fact("phy_rate_mbps", about="place-radio", unit="Mb/s", digits=0, variants=LINK_VARIANTS, meaning="rate on the air")
def phy_rate_mbps(book: Book, subject: Subject, dir: str) -> Fact:
    return rates.phy_rate_mbps(book, links.to_place(*subject.ids), dir)


@fact(
    "goodput_mbps",
    about="place-radio",
    unit="Mb/s",
    digits=1,
    variants={"dir": ("down", "up"), "transport": ("tcp", "udp")},
    meaning="goodput of the last link alone on a silent channel",
)
def goodput_mbps(book: Book, subject: Subject, dir: str, transport: str) -> Fact:
    return rates.goodput_mbps(book, links.to_place(*subject.ids), dir, transport)


@formula(
    id="joins.unheard_db",
    unit="dB",
    expr="margin towards the client - margin towards the node",
    source="difference of two link budgets",
)
def lopsided(*, down: Any, up: Any) -> Any:
    return down - up


@fact(
    "lopsided_db",
    about="place-radio",
    unit="dB",
    digits=0,
    meaning="how much better the client hears the node than the node hears the client",
)
def lopsided_db(book: Book, subject: Subject) -> Fact:
    link = links.to_place(*subject.ids)
    return derive(
        f"lopsided_db[{subject.key}]",
        lopsided,
        down=receiving.margin_db(book, link, "down"),
        up=receiving.margin_db(book, link, "up"),
    )


def joined_subject(book: Book, place: str) -> Subject | None:
    """The (place, radio) of the radio joined at the centre."""
    answer = association(book, place)
    if not answer.radios or answer.joined[0] < 0:
        return None
    return place_radio(place, answer.radios[answer.joined[0]])


@fact(
    "joined_level_dbm", about="place", unit="dBm", digits=0, meaning="level at the place of the radio its client joins"
)
def joined_level_dbm(book: Book, subject: Subject) -> Fact:
    key = f"joined_level_dbm[{subject.key}]"
    joined = joined_subject(book, subject.ids[0])
    if joined is None:
        return unknown(key, "dBm", *(association(book, subject.ids[0]).missing or ("a radio that holds there",)))
    return book.get("level_dbm", joined, dir="down")._replace(key=key)


@fact(
    "typically_lopsided_db",
    about="place-radio",
    unit="dB",
    digits=0,
    meaning="how much better the client typically hears the node than the node hears the client, without the band",
)
def typically_lopsided_db(book: Book, subject: Subject) -> Fact:
    told: Fact = lopsided_db(book, subject)
    key = f"typically_lopsided_db[{subject.key}]"
    if not isinstance(told.value, Known):
        return told._replace(key=key)
    return Fact(key, "dB", constant(told.value.centre), Looked("the centre of the band"), (told,))


@fact(
    "joined_typically",
    about="place-radio",
    unit="",
    type="boolean",
    meaning="true when the client at the place joins this radio at the centre of what is known",
)
def joined_typically(book: Book, subject: Subject) -> Fact:
    told: Fact = joined_now(book, subject)
    key = f"joined_typically[{subject.key}]"
    if not isinstance(told.value, Known):
        return told._replace(key=key)
    return Fact(key, "", constant(told.value.centre), Looked("association at the centre"), (told,))
