"""What stands in the way of a link: known constructions, the way round them through openings, and what nobody drew."""

from __future__ import annotations

from advisor.facts import ends, room_paths
from advisor.facts.book import Book
from advisor.facts.ends import Link
from advisor.network.detour import WORTH_A_DETOUR_DB, Detour, FloorPlan
from advisor.network.geometry import Between
from advisor.physics import materials, propagation
from advisor.trace import Assumed, Fact, Looked, derive, given, unknown
from advisor.values import Cases, constant, from_cases


def distance_m(book: Book, link: Link) -> Fact:
    """Straight distance of the two ends, as drawn, told, or taken from the rooms passed."""
    key = f"distance_m[{link.key}]"
    way = ends.between(book, link)
    if way is None:
        return unknown(key, "m", room_paths.missing(book, link))
    if way.rooms is not None:
        return room_paths.distance_m(book, link, way.rooms)
    return given(key, "m", way.distance_m, book.source.where(way.path))


def obstacles_db(book: Book, link: Link, way: Between) -> Fact:
    """Sum of the known constructions, or the best way round through an opening where that costs less.

    Typical, with a spread from the constructions' ranges taken as independent.
    """
    if way.rooms is not None:
        return room_paths.obstacles_db(book, link, way.rooms)
    band = ends.upper_of(book, link).band
    losses = [(materials.construction_loss(name, band), count) for name, count in way.through]
    typical = sum(loss.typical_db * count for loss, count in losses)
    low = typical - sum(count * (loss.typical_db - loss.low_db) ** 2 for loss, count in losses) ** 0.5
    high = typical + sum(count * (loss.high_db - loss.typical_db) ** 2 for loss, count in losses) ** 0.5
    key = f"obstacles_db[{link.key}]"
    if not losses:
        return Fact(key, "dB", constant(0.0), Looked("no construction is told or drawn between"))
    names = ", ".join(f"{count} × {name}" if count > 1 else name for name, count in way.through)
    told = f"usual loss of {names}"
    detour = _way_round(book, link, way, typical)
    if detour is not None and detour.obstacles_db < typical:
        round_db = max(detour.obstacles_db, WORTH_A_DETOUR_DB)
        at_worst = detour.obstacles_db - detour.excess_db + detour.knife_edge_db
        low, typical, high = min(low, round_db), round_db, max(min(high, at_worst), round_db)
        told = f"the way through {' and '.join(detour.openings)} instead of {names}"
    if low == high:
        cases: Cases | float = typical
    else:
        keys = sorted(ends.ends_of(book, link))
        cases = book.draws.between(low, typical, high, "construction", *keys, more_is_better=False)
    return Fact(key, "dB", from_cases(cases), Assumed(told, "common practice, no source"))


def _way_round(book: Book, link: Link, way: Between, straight_db: float) -> Detour | None:
    """The best way through openings of the floor's walls, where both ends are on one floor and it may pay."""
    if way.floor is None or way.ends is None or straight_db <= WORTH_A_DETOUR_DB:
        return None
    edges = book.building.edges(way.floor)
    if not any(edge.gaps for edge in edges):
        return None
    radio = ends.upper_of(book, link)
    kind, name = ends.lower_end(book, link)
    start, end = ((point.x_m, point.y_m, point.z_m) for point in way.ends)

    def compute() -> Detour | None:
        plan = FloorPlan(edges, lambda of: materials.construction_loss(of, radio.band).typical_db)
        return plan.best_detour(start, end, ends.frequency_mhz(radio))

    return book.lasting(("detour", kind, name, radio.node, radio.band, ends.frequency_mhz(radio)), compute)


def undrawn_db(book: Book, link: Link, way: Between) -> Fact:
    """Loss beyond free space that stands for walls nobody has drawn."""
    radio = ends.upper_of(book, link)
    environment = book.site.site.environment
    values = propagation.surroundings(environment, radio.band)
    floors = propagation.floor_loss_db(
        floors=way.floors, first_floor_db=values.first_floor_db, further_floor_db=values.further_floor_db
    )
    source = "ITU-R P.1238-10"
    return derive(
        f"undrawn_db[{link.key}]",
        propagation.p1238_excess_db,
        distance_m=distance_m(book, link),
        frequency_mhz=ends.frequency_fact(book, radio),
        power_coefficient=Fact(
            f"power_coefficient[{environment}, {radio.band} GHz]",
            "",
            constant(values.power_coefficient),
            Assumed(f"what is not drawn is as in a usual {environment}", source),
        ),
        floor_loss_db=Fact(
            f"floor_loss_db[{way.floors} floors]",
            "dB",
            constant(float(floors)),
            Assumed(f"what is not drawn is as in a usual {environment}", source),
        ),
    )
