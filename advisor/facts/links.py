"""The link budget of every hop and of every (place, radio), both directions: down is from the upper to the lower end.

Whoever asks for a level names the two ends; they are offered here too.
"""

from __future__ import annotations

from typing import Any

from advisor.data import catalogue
from advisor.facts import equipment, obstacles
from advisor.facts.book import Book
from advisor.facts.ends import (
    Link,
    between,
    ends_of,
    frequency_fact,
    frequency_mhz,
    lower_end,
    to_place,
    to_radio,
    upper_of,
)
from advisor.facts.obstacles import distance_m
from advisor.physics import propagation
from advisor.site.surroundings import Measured
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, derive, formula, given, unknown
from advisor.values import constant, from_cases


@formula(
    id="links.loss_from_level_db",
    unit="dB",
    expr="EIRP + antenna gain - body loss - measured level",
    source="link budget solved for the loss",
)
def loss_from_level(*, eirp_dbm: Any, antenna_dbi: Any, body_loss_db: Any, level_dbm: Any) -> Any:
    return eirp_dbm + antenna_dbi - body_loss_db - level_dbm


def path_loss_db(book: Book, link: Link) -> Fact:
    """Loss from antenna to antenna without shadowing; from a measured level where there is one."""
    return book.lasting(("path_loss", link), lambda: _path_loss(book, link))


def _path_loss(book: Book, link: Link) -> Fact:
    key = f"path_loss_db[{link.key}]"
    measured = measured_level(book, link)
    if measured is not None:
        direction, level = measured
        eirp, antenna, body = budget(book, link, direction)
        return derive(key, loss_from_level, eirp_dbm=eirp, antenna_dbi=antenna, body_loss_db=body, level_dbm=level)
    return described_loss_db(book, link)


def described_loss_db(book: Book, link: Link) -> Fact:
    """Loss from antenna to antenna as the description of the way gives it, whether or not it was measured."""
    key = f"path_loss_db[{link.key}]"
    way = between(book, link)
    if way is None:
        return unknown(key, "dB", *distance_m(book, link).value.missing)  # type: ignore[union-attr]
    radio = upper_of(book, link)
    free = derive(
        f"free_space_db[{link.key}]",
        propagation.free_space_loss_db,
        distance_m=distance_m(book, link),
        frequency_mhz=frequency_fact(book, radio),
    )
    complete = Fact(f"complete[{link.key}]", "", constant(way.complete), Given(book.source.where(way.path)))
    return derive(
        key,
        propagation.path_loss_db,
        free_db=free,
        known_obstacles_db=obstacles.obstacles_db(book, link, way),
        undrawn_excess_db=obstacles.undrawn_db(book, link, way),
        complete=complete,
    )


def measurements(book: Book, link: Link) -> list[tuple[str, Measured, str]]:
    """What was measured of this pair: id, entry, and the direction of the link that leads away from the radio named.

    Two nodes may be measured from either side.
    """
    _, name = lower_end(book, link)
    found = []
    for entry_id, entry in sorted(book.site.measured.items()):
        if entry.radio == link.upper and entry.at == name:
            found.append((entry_id, entry, "down"))
        elif link.lower_kind == "radio" and entry.radio == link.lower and entry.at == upper_of(book, link).node:
            found.append((entry_id, entry, "up"))
    return found


def measured_level(book: Book, link: Link) -> tuple[str, Fact] | None:
    """A measured level of this pair with its direction, the one towards the lower end first."""
    for entry_id, entry, away in measurements(book, link):
        back = "up" if away == "down" else "down"
        for direction, value, field in (
            (away, entry.level_dbm, "level_dbm"),
            (back, entry.level_at_node_dbm, "level_at_node_dbm"),
        ):
            if value is not None:
                where = book.source.where(f"measured.{entry_id}.{field}")
                return direction, given(f"measured.{entry_id}.{field}", "dBm", value, where, measured=True)
    return None


def shadow_db(book: Book, link: Link) -> Fact:
    """What the model does not see: a random term shared by both directions and, mostly, by all bands of the pair."""
    return book.lasting(("shadow", link), lambda: _shadow(book, link))


def _shadow(book: Book, link: Link) -> Fact:
    sigma, source = spread_db(book, link)
    radio = upper_of(book, link)
    common = float(catalogue("ranges")["link"]["shadow_share_common"]["value"])
    cases = sigma * book.draws.shadow(*ends_of(book, link), radio.band, common)
    return Fact(
        f"shadow_db[{link.key}]",
        "dB",
        from_cases(cases),
        Assumed(f"levels differ from what is computed by {sigma:g} dB", source),
    )


def spread_db(book: Book, link: Link) -> tuple[float, str]:
    """Standard deviation of the pair's level and where it comes from: measured, drawn, described or undrawn."""
    if measured_level(book, link) is not None:
        row = catalogue("ranges")["link"]["measured_level_sigma_db"]
        return float(row["value"]), str(row["source"])
    return described_spread_db(book, link)


def described_spread_db(book: Book, link: Link) -> tuple[float, str]:
    """Standard deviation of a level computed from the description of the way, and its source."""
    link_ranges = catalogue("ranges")["link"]
    way = between(book, link)
    if way is not None and way.rooms is not None:
        row = catalogue("ranges")["rooms"]["path_sigma_db"]
        return float(row["value"]), str(row["source"])
    if way is not None and way.complete:
        return propagation.drawn_spread_db(), str(catalogue("propagation")["drawn_spread_db"]["source"])
    if way is not None and way.told == "described":
        row = link_ranges["described_path_sigma_db"]
        return float(row["value"]), str(row["source"])
    environment = book.site.site.environment
    spread = propagation.surroundings(environment, upper_of(book, link).band).spread_db
    return spread, f"ITU-R P.1238-10, {environment}"


@formula(
    id="links.level_dbm",
    unit="dBm",
    expr="EIRP + antenna gain - body loss - path loss + shadowing",
    source="link budget, definition",
)
def level_of(*, eirp_dbm: Any, antenna_dbi: Any, body_loss_db: Any, path_loss_db: Any, shadow_db: Any) -> Any:
    return eirp_dbm + antenna_dbi - body_loss_db - path_loss_db + shadow_db


def budget(book: Book, link: Link, direction: str) -> tuple[Fact, Fact, Fact]:
    """Radiated power of the sender, antenna gain of the receiver, and body loss at the client."""
    upper = Subject("radio", (link.upper,))
    if link.lower_kind == "place":
        lower_eirp = equipment.client_eirp(book, link.lower)
        lower_antenna = equipment.client_setting(book, link.lower, "antenna_dbi", "dBi")
        body = equipment.client_setting(book, link.lower, "body_loss_db", "dB")
    else:
        lower = Subject("radio", (link.lower,))
        lower_eirp, lower_antenna = book.get("eirp_dbm", lower), book.get("antenna_dbi", lower)
        body = Fact(
            "body_loss_db[nodes]", "dB", constant(0.0), Assumed("nodes stand free", "common practice, no source")
        )
    if direction == "down":
        return book.get("eirp_dbm", upper), lower_antenna, body
    return lower_eirp, book.get("antenna_dbi", upper), body


def level_dbm(book: Book, link: Link, direction: str) -> Fact:
    """Level at the receiver: of the lower end for down, of the upper end for up."""
    return book.lasting(("level", link, direction), lambda: _level(book, link, direction))


def _level(book: Book, link: Link, direction: str) -> Fact:
    eirp, antenna, body = budget(book, link, direction)
    return derive(
        f"level_dbm[{link.key}, dir={direction}]",
        level_of,
        eirp_dbm=eirp,
        antenna_dbi=antenna,
        body_loss_db=body,
        path_loss_db=path_loss_db(book, link),
        shadow_db=shadow_db(book, link),
    )


__all__ = [
    "Link",
    "between",
    "budget",
    "described_loss_db",
    "described_spread_db",
    "distance_m",
    "ends_of",
    "frequency_fact",
    "frequency_mhz",
    "level_dbm",
    "lower_end",
    "measured_level",
    "measurements",
    "path_loss_db",
    "shadow_db",
    "spread_db",
    "to_place",
    "to_radio",
    "upper_of",
]
