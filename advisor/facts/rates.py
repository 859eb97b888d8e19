"""Rates and goodput of one link on its own, per direction."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import beside, hearing, links, mac_use, receiving
from advisor.facts.book import Book
from advisor.facts.draws import Z90
from advisor.facts.equipment import assumption, guard_ns, setting
from advisor.facts.links import Link
from advisor.network.inventory import RadioUnit
from advisor.network.joining import networks_on
from advisor.physics.airtime import beacon_share, small_frame_us
from advisor.physics.mac import Aggregating, MacSettings, between_sets, mac_settings, sets_of, usual_of
from advisor.physics.receiver import Choice, Receiver, best_choice, best_choices
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, derive, formula, formula_of, given, unknown
from advisor.values import constant, from_cases

WIRE_PAYLOAD_SHARE = 1448 / 1538
"""TCP payload per octet on Ethernet: 1448 of 1538 with headers, timestamps, preamble and gap (IEEE 802.3, RFC 6349)."""

CALL_PACKETS_PER_S = 50
"""Packets a second and direction of a call with 20 ms packets (ITU-T G.711 over RTP)."""


def backoff(book: Book, link: Link, direction: str) -> tuple[float, ...] | None:
    """Power the sender takes back at each MCS: the drop declared for the highest MCS not above it."""
    sender = link.upper if direction == "down" else link.lower
    radio = book.inventory.radios.get(sender) if direction == "down" or link.lower_kind == "radio" else None
    if radio is None or not radio.power_drop_db:
        return None
    return tuple(
        next((drop for start, drop in reversed(radio.power_drop_db) if start <= mcs), 0.0) for mcs in range(14)
    )


def phy_rate_mbps(book: Book, link: Link, direction: str) -> Fact:
    """The rate the sender of this direction can use; 0 where nothing holds."""
    return book.lasting(("phy", link, direction), lambda: _phy_rate(book, link, direction))


def _rate_inputs(book: Book, link: Link, direction: str) -> dict[str, Fact]:
    standard, width, streams = receiving.abilities(book, link)
    radio = links.upper_of(book, link)
    guard = setting(f"guard_ns[radio={radio.name}]", "ns", radio.settings["guard_ns"])
    guard = guard._replace(value=constant(guard_ns(str(standard.raw), radio)))
    if radio.guard_ns is None:
        guard = guard._replace(
            by=Assumed(f"usual guard interval of 802.11{standard.raw}", "common practice, no source")
        )
    inputs = {
        "level_dbm": links.level_dbm(book, link, direction),
        "standard": standard,
        "width_mhz": width,
        "max_streams": streams,
        "guard_ns": guard,
        **receiving.receiver_terms(book, link, direction),
    }
    fastest = highest_mcs(book, link)
    if fastest is not None:
        inputs["highest_mcs"] = fastest
    drop = backoff(book, link, direction)
    if drop is not None:
        by = Given(book.source.where(f"{radio.path}.power_drop_db"))
        inputs["backoff_by_mcs_db"] = Fact(f"power_drop_db[{link.key}]", "dB", constant(drop), by)  # type: ignore[arg-type]
    return inputs


def highest_mcs(book: Book, link: Link) -> Fact | None:
    """The fastest modulation both ends can use, where a radio has one declared."""
    radios = [links.upper_of(book, link)]
    radios += [book.inventory.radios[link.lower]] if link.lower_kind == "radio" else []
    limits = [(radio.highest_mcs, radio) for radio in radios if radio.highest_mcs is not None]
    if not limits:
        return None
    _, radio = min(limits, key=lambda limit: limit[0])
    return setting(f"highest_mcs[radio={radio.name}]", "", radio.settings["highest_mcs"])


def _phy_rate(book: Book, link: Link, direction: str) -> Fact:
    standard = receiving.abilities(book, link)[0]
    key = f"phy_rate_mbps[{link.key}, dir={direction}]"
    if standard.raw in receiving.LEGACY:
        return unknown(key, "Mb/s", f"rates of 802.11{standard.raw}: that amendment is not modelled yet")
    mac = mac_use.usual_set(links.upper_of(book, link))
    return derive(key, chosen_rate_mbps, mac=mac, band=_band(book, link), **_rate_inputs(book, link, direction))


def choose(*, mac: MacSettings, **inputs: Any) -> Choice:
    """The rate that delivers most at a level, from the inputs of `_rate_inputs` and the band."""
    terms = {name: inputs.pop(name) for name in Receiver._fields}
    return best_choice(receiver=Receiver(**terms), mac=mac, **inputs)


@formula(
    id="rates.chosen_rate_mbps",
    unit="Mb/s",
    expr="rate of the (MCS, streams) that delivers most at this level",
    source="physics.receiver: link simulation of packet errors, receiver terms from memory or common practice",
)
def chosen_rate_mbps(*, mac: str, **inputs: Any) -> Any:
    return choose(mac=mac_settings(mac), **inputs).phy_rate_mbps


@formula(
    id="rates.link_goodput_mbps",
    unit="Mb/s",
    expr="best over (MCS, streams) of goodput of one exchange × packets that arrive, between the sets of MAC settings "
    "where aggregation is not known; 0 where an end cannot answer",
    source="IEEE 802.11-2020 cl. 10.23 term by term (physics.airtime), packet errors from link simulation",
)
def link_goodput_mbps(
    *,
    answer_margin_db: Any,
    names: int,
    aggregating: Aggregating,
    habits: Any = 1.0,
    beacon_mbps: float | None = None,
    **inputs: Any,
) -> Any:
    """Goodput of a link alone on its channel.

    `answer_margin_db` is the weaker end's margin at the slowest rate, `names` how many network names the serving radio
    announces (one at the usual rate is in the goodput already), `beacon_mbps` the rate of its beacons where given,
    `aggregating` how much its gear puts into one frame, `habits` what gear that is not known delivers of that.
    """
    mac = usual_of(aggregating)  # the sets of real gear have their beacons in common
    own = mac if beacon_mbps is None else mac.with_beacons_at(beacon_mbps)
    one = beacon_share(band=inputs["band"], mac=mac)
    all_names = beacon_share(band=inputs["band"], mac=own, names=max(names, 1))
    terms = {name: inputs.pop(name) for name in Receiver._fields}
    choices = best_choices(receiver=Receiver(**terms), macs=sets_of(aggregating), **inputs)
    delivered = between_sets(aggregating, [choice.goodput_mbps for choice in choices])
    goodput = habits * delivered * (1.0 - all_names) / (1.0 - one)
    return np.where(np.asarray(answer_margin_db) >= 0.0, goodput, 0.0)[()]


@formula(id="rates.smaller", unit="dB", expr="min(margin down, margin up)", source="both ends must answer")
def smaller(*, down: Any, up: Any) -> Any:
    return np.minimum(down, up)


def answer_margin_db(book: Book, link: Link) -> Fact:
    """Margin of the weaker direction: below 0 the link does not hold."""
    return book.lasting(
        ("answer", link),
        lambda: derive(
            f"answer_margin_db[{link.key}]",
            smaller,
            down=receiving.margin_db(book, link, "down"),
            up=receiving.margin_db(book, link, "up"),
        ),
    )


def goodput_mbps(book: Book, link: Link, direction: str, transport: str) -> Fact:
    """Goodput of the link on a silent channel; from a measurement of the pair where there is one.

    A measured speed had the neighbours' share taken off already, so that share is put back here.
    """
    measured = measured_goodput(book, link, direction)
    if measured is None:
        return book.lasting(("goodput", link, direction, transport), lambda: _goodput(book, link, direction, transport))
    key = f"goodput_mbps[{link.key}, dir={direction}, transport={transport}]"
    return book.once(("measured_goodput", link, direction), lambda: _in_silence(book, link, direction, key, measured))


def _in_silence(book: Book, link: Link, direction: str, key: str, measured: Fact) -> Fact:
    """A measured speed as the silent channel would have it; the same where no neighbour is heard."""
    place = link.lower if link.lower_kind == "place" else None
    busy = hearing.busy_fact(book, link.upper, place)
    if not np.any(np.asarray(busy.raw) > 0):
        return measured._replace(key=key)
    silent = beside.in_silence(book, link, direction, measured.raw)
    return Fact(key, "Mb/s", from_cases(silent), formula_of(in_silence_mbps), (measured, busy))


@formula(
    id="rates.in_silence_mbps",
    unit="Mb/s",
    expr="the goodput that leaves what was measured when neighbours take their turns",
    source="a speed test runs beside the neighbours; physics.shared_air solved for the goodput",
)
def in_silence_mbps(*, measured_mbps: Any, busy_share: Any) -> Any:
    """Never more is left than this says: a neighbour takes its busy share at most."""
    return measured_mbps / (1.0 - busy_share)


def _goodput(book: Book, link: Link, direction: str, transport: str) -> Fact:
    key = f"goodput_mbps[{link.key}, dir={direction}, transport={transport}]"
    standard = receiving.abilities(book, link)[0]
    if standard.raw in receiving.LEGACY:
        return unknown(key, "Mb/s", f"rates of 802.11{standard.raw}: that amendment is not modelled yet")
    inputs = _rate_inputs(book, link, direction)
    radio = links.upper_of(book, link)
    told = {"beacon_mbps": beacon_rate_mbps(book, radio)} if basic_rates_mbps(book, radio) else {}
    habits = mac_use.habits(book, radio)
    if habits is not None:
        told["habits"] = habits
    found = derive(
        key,
        link_goodput_mbps,
        band=_band(book, link),
        transport=Fact("transport", "", constant(transport), Looked("as asked for")),
        answer_margin_db=answer_margin_db(book, link),
        names=names_announced(book, radio),
        aggregating=mac_use.aggregating(book, radio),
        **told,
        **inputs,
    )
    return _explained(book, link, transport, found, inputs) if book.explain and found.known else found


def basic_rates_mbps(book: Book, radio: RadioUnit) -> tuple[float, ...]:
    """The basic rates given for a radio; empty where the file leaves them to the standard."""
    declared = book.site.nodes[radio.node].radios.get(radio.id)
    return declared.basic_rates_mbps if declared else ()


def beacon_rate_mbps(book: Book, radio: RadioUnit) -> Fact:
    """Rate of a radio's beacons: the lowest basic rate given, else the usual one of its band."""
    key = f"beacon_rate_mbps[radio={radio.name}]"
    rates = basic_rates_mbps(book, radio)
    if rates:
        return given(key, "Mb/s", min(rates), book.source.where(f"{radio.path}.basic_rates_mbps"))
    usual = mac_use.usual_mac(radio).beacon(radio.band).rate_mbps
    told = f"beacons in {radio.band} GHz go out at {usual:g} Mb/s, the lowest rate"
    return Fact(key, "Mb/s", constant(usual), Assumed(told, "IEEE 802.11 lowest rate; usual gear, common practice"))


def names_announced(book: Book, radio: RadioUnit) -> Fact:
    """Network names the serving radio sends beacons for."""
    count = len({net.octets for _, net in networks_on(book.site, radio)})
    return Fact(f"names[radio={radio.name}]", "", constant(count), Looked("network entries this radio carries"))


def _explained(book: Book, link: Link, transport: str, found: Fact, inputs: dict[str, Fact]) -> Fact:
    """The goodput with its exchange, term by term, as the first input."""
    from advisor.facts.exchange import exchange

    raw = {name: fact.raw for name, fact in inputs.items()}
    radio = links.upper_of(book, link)
    mac = mac_use.usual_mac(radio)
    choice = choose(mac=mac, band=radio.band, transport=transport, **raw)
    own = mac.with_beacons_at(float(beacon_rate_mbps(book, radio).raw))
    told = exchange(link.key, radio.band, transport, raw, choice, own)
    return found if told is None else found._replace(inputs=(told, *found.inputs))


def _band(book: Book, link: Link) -> Fact:
    radio = links.upper_of(book, link)
    return given(f"band[radio={radio.name}]", "", radio.band, book.source.where(radio.path))


def measured_goodput(book: Book, link: Link, direction: str) -> Fact | None:
    """A measured goodput of this pair; a band of repeated tests goes with it."""
    for entry_id, entry, away in links.measurements(book, link):
        written = "down" if direction == away else "up"
        value = entry.down_mbps if written == "down" else entry.up_mbps
        if value is not None:
            share = float(assumption("link", "measured_goodput_share", "").raw)
            z = book.draws.normal("measured", entry_id, written)
            cases = np.maximum(value * (1.0 + share * z / Z90), 0.0)
            field = f"measured.{entry_id}.{written}_mbps"
            return Fact(field, "Mb/s", from_cases(cases), Given(book.source.where(field), measured=True))
    return None


def call_share(book: Book, link: Link, direction: str) -> Any:
    """Share of airtime one call takes on a link in one direction; 0 where nothing holds."""
    return book.lasting(("call", link, direction), lambda: _call_share(book, link, direction))


def _call_share(book: Book, link: Link, direction: str) -> Any:
    inputs = _rate_inputs(book, link, direction)
    if not all(fact.known for fact in inputs.values()) or inputs["standard"].raw in receiving.LEGACY:
        return 0.0
    raw = {name: fact.raw for name, fact in inputs.items()}
    radio = links.upper_of(book, link)
    band, mac = radio.band, mac_use.usual_mac(radio)
    choice = choose(mac=mac, band=band, **raw)
    one = small_frame_us(
        standard=raw["standard"],
        band=band,
        width_mhz=raw["width_mhz"],
        mcs=np.maximum(choice.mcs, 0),
        streams=np.maximum(choice.streams, 1),
        guard_ns=raw["guard_ns"],
        mac=mac,
        category="best_effort",
    )
    arrives = np.maximum(1.0 - np.asarray(choice.per), 0.01)
    return np.where(np.asarray(choice.mcs) >= 0, CALL_PACKETS_PER_S * one / 1e6 / arrives, 0.0)


@formula(
    id="rates.wire_goodput_mbps",
    unit="Mb/s",
    expr="speed × 1448 / 1538",
    source="IEEE 802.3 framing with TCP timestamps (RFC 6349 efficiency)",
)
def wire_goodput(*, speed_mbps: Any) -> Any:
    return speed_mbps * WIRE_PAYLOAD_SHARE


def wire_speed(book: Book, node: str, parent: str) -> Fact:
    """Link speed of a wired hop: what the uplink says it carries, no more than the slower port."""
    uplink = book.site.nodes[node].uplink
    key = f"wire_speed_mbps[hop={node}]"
    declared = uplink.speed_mbps if uplink else None
    if declared is None and uplink and uplink.over != "ethernet":
        return unknown(
            key, "Mb/s", f"what the {uplink.over} hop of {node} really carries (nodes.{node}.uplink.speed_mbps)"
        )
    ports = [port_speed(book, end) for end in (node, parent)]
    slowest = min(ports, key=lambda fact: float(fact.raw))
    if declared is None:
        return slowest._replace(key=key)
    if declared <= float(slowest.raw):
        return given(key, "Mb/s", declared, book.source.where(f"nodes.{node}.uplink.speed_mbps"))
    return slowest._replace(key=key)


def port_speed(book: Book, node: str) -> Fact:
    """The fastest declared port of a node, or the gear class's usual one."""
    ports = book.site.nodes[node].ports
    key = f"port_mbps[node={node}]"
    if ports:
        name, port = max(sorted(ports.items()), key=lambda entry: entry[1].speed_mbps)
        return given(key, "Mb/s", float(port.speed_mbps), book.source.where(f"nodes.{node}.ports.{name}.speed_mbps"))
    return setting(key, "Mb/s", book.inventory.gear_setting(node, None, f"nodes.{node}", "ports_mbps"))


def radio_subject(name: str) -> Subject:
    return Subject("radio", (name,))
