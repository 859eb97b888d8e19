"""A layout hop by hop and place by place, and what sets two layouts apart, in figures and plain sentences."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from advisor.advice.records import Ask, Candidate, Entry, HopLine, PlaceLine
from advisor.advice.score import DIRECTIONS, MET, gets, typically
from advisor.facts import everyone, hearing, joins, links, places, rates, routes
from advisor.facts.book import Book
from advisor.facts.hops import less_busy, places_served
from advisor.network.graph import Hop
from advisor.subjects import place as place_subject
from advisor.trace import derive
from advisor.values import FIRST_DRAW, Known, Unknown

MOST_SENTENCES = 9
NOTABLE = 1.1
"""Figures that differ by less than a tenth are not told apart."""


def hop_lines(candidate: Candidate, asks: tuple[Ask, ...]) -> tuple[HopLine, ...]:
    """Every hop with level, rate, what it carries alone, the time it takes, and whether it stops the worst place."""
    book = candidate.book
    binding = _binding(book, asks)
    return tuple(_hop_line(book, hop, binding) for _, hop in sorted(book.hops.items()))


def _hop_line(book: Book, hop: Hop, binding: str) -> HopLine:
    level = rate = None
    alone = _alone(book, hop)
    if hop.air and hop.radio is not None and hop.parent_radio is not None:
        link = links.to_radio(hop.radio, hop.parent_radio)
        level, rate = (
            _known(links.level_dbm(book, link, "down").value),
            _known(rates.phy_rate_mbps(book, link, "down").value),
        )
        cells = [f"domain={routes.domain_of(book, hop.parent_radio)}", f"hop={hop.node}"]
    else:
        cells = [f"hop={hop.node}"]
    return HopLine(hop.node, hop.parent, _over(book, hop), level, rate, alone, _air_share(book, hop), binding in cells)


def _over(book: Book, hop: Hop) -> str:
    if not hop.air or hop.parent_radio is None:
        return hop.over
    radio = book.radios[hop.parent_radio]
    channel = f"channel {radio.channel}" if radio.channel is not None else "channel not told"
    return f"{hop.band} GHz, {channel}, {radio.width_mhz} MHz"


def _alone(book: Book, hop: Hop) -> Known | None:
    """TCP towards the node with nobody else active, neighbours' share taken off."""
    goodput = routes.hop_goodput(book, hop, "down", "tcp")
    if hop.air and goodput.known:
        busy = hearing.busy_fact(book, str(hop.parent_radio))
        goodput = derive(f"alone[{hop.node}]", less_busy, goodput_mbps=goodput, busy_share=busy)
    return _known(goodput.value)


def _air_share(book: Book, hop: Hop) -> float | None:
    """Share of time the hop takes when everyone behind it gets what they ask for, typically."""
    total = 0.0
    for direction in DIRECTIONS:
        speed = _known(routes.hop_goodput(book, hop, direction, "tcp").value)
        if speed is None:
            return None
        wanted = sum(
            everyone.active(book, place) * float(everyone.demand(book, place, direction).raw)
            for place in places_served(book, hop.node)
        )
        total += wanted / typically(speed) if typically(speed) > 0 else (0.0 if wanted == 0 else 1.0)
    return round(total, 3)


def _binding(book: Book, asks: tuple[Ask, ...]) -> str:
    """What stops the worst place: a subject's key."""
    worst = min(asks, key=lambda ask: (_share(book, ask), ask.place, ask.direction), default=None)
    if worst is None:
        return ""
    value = places.binds_everyone(book, place_subject(worst.place)).value
    return str(value.centre) if isinstance(value, Known) else ""


def _share(book: Book, ask: Ask) -> float:
    return round(typically(gets(book, ask)) / ask.mbps, 4)


def place_lines(candidate: Candidate, asks: tuple[Ask, ...]) -> tuple[PlaceLine, ...]:
    """What each active client gets at every place, with everyone active, and in how many draws it is what is asked."""
    return tuple(_place_line(candidate.book, name, asks) for name in sorted(candidate.book.site.places))


def _place_line(book: Book, name: str, asks: tuple[Ask, ...]) -> PlaceLine:
    own = [ask for ask in asks if ask.place == name]
    joined = joins.joined_subject(book, name)
    got = {
        direction: _known(places.with_everyone(book, place_subject(name), direction, "likely").value)
        for direction in DIRECTIONS
    }
    need = {ask.direction: ask.mbps for ask in own if ask.when == "everyone"} | {
        ask.direction: ask.mbps for ask in own if ask.when == "alone"
    }
    return PlaceLine(
        name,
        everyone.active(book, name),
        joined.ids[1] if joined is not None else "",
        got["down"],
        got["up"],
        need.get("down"),
        need.get("up"),
        _chance(book, own),
    )


def _chance(book: Book, asks: list[Ask]) -> float | None:
    """Share of the draws in which all of these get what they ask for."""
    if not asks:
        return None
    met = np.ones(book.draws.size, dtype=bool)
    for ask in asks:
        value = gets(book, ask)
        met &= False if isinstance(value, Unknown) else np.asarray(value.raw, dtype=float) >= ask.mbps * MET
    return round(float(np.mean(met[FIRST_DRAW:])), 3)


def _known(value: object) -> Known | None:
    return value if isinstance(value, Known) else None


def differences(first: Entry, second: Entry) -> tuple[str, ...]:
    """Why the first comes before the second: one sentence a difference, the weightiest first."""
    return tuple(list(_sentences(first, second))[:MOST_SENTENCES])


def _sentences(first: Entry, second: Entry) -> Iterator[str]:
    one, two = first.score, second.score
    own = [part for part in first.layout.parts if part not in second.layout.parts]
    other = [part for part in second.layout.parts if part not in first.layout.parts]
    yield f"Only the first has: {', '.join(own) or 'nothing'}. Only the second: {', '.join(other) or 'nothing'}."
    if one.met != two.met:
        yield f"It meets {one.met} of {one.asked} needs, the second {two.met}."
    if abs(one.worst - two.worst) >= 0.01:
        yield (
            f"Its worst place ({one.worst_at}) typically gets {_times(one.worst)} what it asks for, "
            f"that of the second ({two.worst_at}) {_times(two.worst)}."
        )
    if abs(first.chance - second.chance) >= 0.05:
        cases = _tenths(first.chance), _tenths(second.chance)
        yield f"Everything asked for is met in {cases[0]} cases, with the second in {cases[1]}."
    if (first.regret.needs, round(first.regret.share, 2)) != (second.regret.needs, round(second.regret.share, 2)):
        yield (
            f"Over the neighbours' quiet, usual and busy evenings it falls {_loss(first)} the best layout, the second "
            f"{_loss(second)}."
        )
    yield from _of_hops(first, second)
    yield from _of_places(first, second)
    if first.axes.node_loss[1] != second.axes.node_loss[1]:
        yield f"{_loss_of_node(first, 'It')}; {_loss_of_node(second, 'the second')}."
    minutes = first.layout.effort_min - second.layout.effort_min
    if minutes:
        yield f"It takes {abs(minutes):g} minutes {'more' if minutes > 0 else 'less'} work than the second."


def _of_hops(first: Entry, second: Entry) -> Iterator[str]:
    """Uplinks that run differently, or carry notably more or less."""
    others = {line.node: line for line in second.hops}
    for line in first.hops:
        other = others.get(line.node)
        if other is None or line.alone_mbps is None or other.alone_mbps is None:
            continue
        same = (line.parent, line.over) == (other.parent, other.over)
        if same and _alike(typically(line.alone_mbps), typically(other.alone_mbps)):
            continue
        yield (
            f"The uplink of {line.node} runs to {line.parent} over {line.over} and carries "
            f"{typically(line.alone_mbps):.0f} Mb/s alone{_taking(line)}; in the second to {other.parent} over "
            f"{other.over} with {typically(other.alone_mbps):.0f} Mb/s{_taking(other)}."
        )


def _taking(line: HopLine) -> str:
    return f", taking {line.air_share:.0%} of its time" if line.air_share else ""


def _of_places(first: Entry, second: Entry) -> Iterator[str]:
    """Places that get notably more or less, the largest difference first."""
    others = {line.place: line for line in second.places}
    found = []
    for line in first.places:
        other = others[line.place]
        for direction in DIRECTIONS:
            mine, theirs = getattr(line, f"{direction}_mbps"), getattr(other, f"{direction}_mbps")
            if mine is None or theirs is None or _alike(typically(mine), typically(theirs)):
                continue
            ratio = abs(np.log(max(typically(mine), 0.05) / max(typically(theirs), 0.05)))
            where = f" (joined to {line.joined} instead of {other.joined})" if line.joined != other.joined else ""
            told = f"{typically(mine):.1f} Mb/s {direction} instead of {typically(theirs):.1f}{where}"
            found.append((-round(float(ratio), 3), line.place, direction, told))
    for _, place, _, told in sorted(found)[:3]:
        yield f"Each client at {place} gets {told}."


def _alike(one: float, other: float) -> bool:
    return max(one, other) <= min(one, other) * NOTABLE + 0.05


def _times(share: float) -> str:
    return f"{share:.0%} of" if share < 1 else f"{share:.2f} times"


def _tenths(chance: float) -> str:
    return "all" if chance == 1 else "no" if chance == 0 else f"{chance * 10:.1f} of 10".replace(".0 of", " of")


def _loss(entry: Entry) -> str:
    regret = entry.regret
    if not regret.needs and regret.share < 0.005:
        return "nowhere behind"
    needs = [f"{regret.needs} need{'s' if regret.needs > 1 else ''}"] if regret.needs else []
    share = [f"{regret.share:.2f} of the worst place's need"] if regret.share >= 0.005 else []
    return f"at most {' and '.join(needs + share)} behind"


def _loss_of_node(entry: Entry, who: str) -> str:
    node, count = entry.axes.node_loss
    return f"{who} leaves {count} places without anything to join when {node} fails" if count else f"{who} leaves none"
