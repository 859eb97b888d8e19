"""The site as power and passwords see it: boxes, ways, credentials, places, with what had to be assumed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from advisor.data import catalogue
from advisor.facts import backhaul, joins, links, rates, safety
from advisor.facts.book import Book
from advisor.facts.reach import HEARING_DBM, best_case_dbm
from advisor.facts.uplinks import air_pairs, declared_hops, open_uplink
from advisor.facts.ways import at_line
from advisor.network.graph import Hop
from advisor.network.inventory import RadioUnit
from advisor.network.joining import networks_on
from advisor.outage.records import Box, Key, Net, Span, Times, Use, Way
from advisor.physics.bands import is_dfs, occupied_range_mhz
from advisor.physics.regulation import radar_regions
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given
from advisor.values import Known, constant


@dataclass(frozen=True)
class Supplied:
    """The net of a site; what was assumed for it, by box ("" for all), and what is missing for a box to be judged."""

    net: Net
    assumed: Mapping[str, tuple[Fact, ...]]
    missing: Mapping[str, tuple[str, ...]]

    def logins_of(self, box: str) -> tuple[Fact, ...]:
        """What was assumed about the credential of a box and how settings reach it."""
        return tuple(entry for entry in self.assumed.get(box, ()) if entry.key.startswith(("credential", "settings")))


def supplied(book: Book) -> Supplied:
    return book.once("outage net", lambda: _build(book))


def span(name: str) -> Span:
    """A time of the catalogue by case: typical, longest, shortest."""
    row = catalogue("outage")[name]
    if "value" in row:
        return float(row["value"]), float(row["value"]), float(row["value"])
    return float(row["typical"]), float(row["high"]), float(row["low"])


def _build(book: Book) -> Supplied:
    assumed: dict[str, list[Fact]] = {"": [_taken(name) for name in ("modem_s", "join_s", "notice_s", "client_s")]}
    missing: dict[str, list[str]] = {}
    fixed = declared_hops(book)
    boxes = {
        name: _box(book, name, fixed, assumed.setdefault(name, []), missing.setdefault(name, []))
        for name in sorted(book.site.nodes)
    }
    carried = {key for box in boxes.values() for key in (*box.carries, *box.logs_in_by)}
    net = Net(
        boxes=boxes,
        band_of={unit.name: unit.band for unit in book.inventory.radios.values()},
        radar=frozenset(name for name in book.radios if _watches(book, name)[1]),
        generation={key: book.site.networks[key[0]].generation for key in sorted(carried)},
        uses=tuple(_use(book, place) for place in sorted(book.site.places)),
        times=_times(book, assumed[""]),
    )
    return Supplied(
        net,
        {name: tuple(entries) for name, entries in assumed.items() if entries},
        {name: tuple(dict.fromkeys(entries)) for name, entries in missing.items() if entries},
    )


def _taken(name: str) -> Fact:
    typical, longest, shortest = span(name)
    told = {
        "modem_s": "the internet line is back",
        "join_s": "a box has found and joined a parent",
        "notice_s": "a box notices that its parent is gone",
        "client_s": "a device is back after its node",
    }[name]
    entry = f"{told} within {shortest:g} to {longest:g} s"
    value = Known(typical, shortest, longest)
    return Fact(f"outage.{name}", "s", value, Assumed(entry, catalogue("outage")[name]["source"]))


def _times(book: Book, assumed: list[Fact]) -> Times:
    given = book.site.internet.modem_boot_s
    modem = span("modem_s")
    if given is not None:
        modem = (given, given, given)
        assumed[:] = [entry for entry in assumed if entry.key != "outage.modem_s"]
    return Times(
        modem=modem,
        join=span("join_s"),
        notice=span("notice_s"),
        push=span("push_s"),
        poe=span("poe_s"),
        client=span("client_s"),
        leave=span("leave_s"),
    )


def _box(book: Book, name: str, fixed: Mapping[str, Hop], assumed: list[Fact], missing: list[str]) -> Box:
    node = book.site.nodes[name]
    power = node.power
    if not at_line(book, name) and node.uplink is None:
        missing.append(f"how {name} reaches the rest of the site (nodes.{name}.uplink)")
    if power.source == "poe" and power.poe_from is None:
        missing.append(f"what feeds {name} over its cable (nodes.{name}.power.poe_from)")
    source = safety.power_source(book, name)
    if isinstance(source.by, Assumed):
        assumed.append(source)
    settings = book.inventory.gear_setting(name, node.settings, f"nodes.{name}.settings", "settings")
    credential = backhaul.credential(book, name)
    for key, entry in (("settings", settings), ("credential", credential)):
        if isinstance(entry.by, Assumed) and not (key == "credential" and at_line(book, name)):
            assumed.append(Fact(f"{key}[node={name}]", "", constant(entry.value), entry.by))
    own = credential.value == "own" and node.backhaul.network is None
    lenders = [key for key, _ in backhaul.lent_by(book, name)] if not (own or at_line(book, name)) else []
    if len(lenders) > 1:
        told = f"{name} gets in with the password of any of: {', '.join(lenders)} (backhaul.network is not given)"
        assumed.append(Fact(f"credential_of[node={name}]", "", constant(""), Assumed(told, "choice of the program")))
    radios = [unit for unit in book.radios.values() if unit.node == name]
    return Box(
        id=name,
        at_line=at_line(book, name),
        feed=power.source,
        circuit=power.circuit or "",
        fed_by=power.poe_from or "",
        battery_s=_battery_s(power.ups_minutes, name, power.source, assumed),
        boot_s=_boot_s(book, name, assumed),
        pushed=settings.value == "pushed",
        ways=() if at_line(book, name) else _ways(book, name, fixed, own),
        listens_s={unit.name: _listens_s(book, unit) for unit in radios},
        carries=tuple(sorted({(key, unit.band) for unit in radios for key, _ in networks_on(book.site, unit)})),
        uplink_held=_uplink_held(book, name),
    )


def _battery_s(minutes: float | None, name: str, source: str, assumed: list[Fact]) -> float:
    if source != "ups" or minutes is not None:
        return (minutes or 0.0) * 60.0
    row = catalogue("outage")["battery_min"]
    entry = f"the battery of {name} lasts {row['typical']} minutes ({row['low']} to {row['high']})"
    assumed.append(Fact(f"battery_min[node={name}]", "min", constant(row["typical"]), Assumed(entry, row["source"])))
    return float(row["typical"]) * 60.0


def _boot_s(book: Book, name: str, assumed: list[Fact]) -> Span:
    setting = book.inventory.gear_setting(name, book.site.nodes[name].boot_s, f"nodes.{name}.boot_s", "boot_s")
    usual = float(setting.value)
    if isinstance(setting.by, Given):
        return usual, usual, usual
    row = catalogue("outage")["boot_share"]
    low, high = usual * row["low"], usual * row["high"]
    entry = f"{name} needs {low:g} to {high:g} s to start, as usual gear of class {book.inventory.gear_id(name)}"
    assumed.append(Fact(f"boot_s[node={name}]", "s", Known(usual, low, high), Assumed(entry, row["source"])))
    return usual, high, low


def _ways(book: Book, name: str, fixed: Mapping[str, Hop], own: bool) -> tuple[Way, ...]:
    """The one way that is fixed, or every way the equipment may take: the one it has now first, then the strongest."""
    if name in fixed and not open_uplink(book, name):
        return (_way(book, fixed[name], own),)
    uplink = book.site.nodes[name].uplink
    if uplink is None:
        return ()
    parents = [uplink.to] if uplink.to else [other for other in sorted(book.site.nodes) if other != name]
    ranked = []
    for parent in parents:
        for lower, upper in air_pairs(book, name, parent):
            link = links.to_radio(lower.name, upper.name)
            if best_case_dbm(book, link) < HEARING_DBM:
                continue
            margin, level = rates.answer_margin_db(book, link), links.level_dbm(book, link, "down")
            usable = isinstance(margin.value, Known) and float(margin.value.centre) >= 0
            if usable and isinstance(level.value, Known):
                hop = Hop(name, parent, "radio", lower.name, upper.name, lower.band)
                ranked.append((-round(float(level.value.centre), 1), hop.option, hop))
    now = book.hops.get(name)
    ordered = sorted(ranked, key=lambda entry: (entry[2] != now, *entry[:2]))
    return tuple(_way(book, hop, own) for _, _, hop in ordered)


def _way(book: Book, hop: Hop, own: bool) -> Way:
    if not hop.air:
        return Way(hop.parent, hop.over)
    networks: tuple[str, ...] = ()
    if not own:
        carried = networks_on(book.site, book.inventory.radios[str(hop.parent_radio)])
        given = book.site.nodes[hop.node].backhaul.network
        lent = [key for key, _ in carried if key == given]
        networks = tuple(lent or [key for key, network in carried if network.purpose == "clients"])
    return Way(hop.parent, "radio", str(hop.band), str(hop.radio), str(hop.parent_radio), networks)


def _uplink_held(book: Book, name: str) -> dict[Key, int]:
    node = book.site.nodes[name]
    if "generation" not in node.backhaul.model_fields_set:
        return {}
    bands = {unit.band for unit in book.inventory.radios_of(name)}
    return {(key, band): node.backhaul.generation for key, _ in backhaul.lent_by(book, name) for band in bands}


def _watches(book: Book, radio: str) -> tuple[bool, bool]:
    """Whether a radio surely watches for radar, and whether it may."""
    unit = book.radios[radio]
    if unit.band != "5":
        return False, False
    told = book.get("watches_for_radar", Subject("radio", (radio,))).value
    if isinstance(told, Known):
        return bool(told.centre), bool(told.centre)
    if unit.channel is None:
        return False, True
    return False, bool(is_dfs("5", unit.channel, unit.width_mhz))


def _listens_s(book: Book, unit: RadioUnit) -> Span:
    """Before a radio sends: listening for radar, and looking for a channel where it is automatic."""
    sure, may = _watches(book, unit.name)
    row: dict[str, Any] = catalogue("outage")
    automatic = book.inventory.radios[unit.name].channel is None and unit.channel is None
    look = float(row["channel_choice_s"][unit.band]["value"]) if automatic else 0.0
    if not may:
        return look, look, 0.0 if automatic else look
    listen = float(row["listen_s"]["value"])
    if unit.channel is not None and _near_weather(book, unit):
        listen = float(row["listen_weather_s"]["value"])
    return look + (listen if sure or unit.channel is not None else 0.0), look + listen, listen if sure else 0.0


def _near_weather(book: Book, unit: RadioUnit) -> bool:
    """Whether a channel touches the frequencies of weather radar where ETSI rules hold, or may hold."""
    country = book.site.site.country
    if country is not None and radar_regions().get(country, "ETSI") != "ETSI":
        return False
    low, high = occupied_range_mhz("5", int(unit.channel or 0), unit.width_mhz)
    row = catalogue("outage")["weather_mhz"]
    return bool(low < row["high"] and high > row["low"])


def _use(book: Book, place: str) -> Use:
    """A place with the radios that hold there, the one it joins first, then by level."""
    entry = book.site.places[place]
    answer = joins.association(book, place)
    joined = int(answer.joined[0]) if len(answer.joined) else -1

    def order(name: str) -> tuple[bool, float, str]:
        level = links.level_dbm(book, links.to_place(place, name), "down").value
        dbm = float(level.centre) if isinstance(level, Known) else 0.0
        return joined < 0 or name != answer.radios[joined], -round(dbm, 1), name

    held = sorted((name for name in answer.radios if joins.holds_typically(book, place, name)), key=order)
    radios = tuple((name, joins.joining_of(book, place, name).networks) for name in held)
    return Use(place, radios, entry.to, entry.calls, entry.count)


def for_each_login(book: Book, name: str) -> list[Net]:
    """The net, once for each network whose password the uplink of a box may use; one net where that is told."""
    net = supplied(book).net
    box = net.boxes[name]
    names = sorted({network for way in box.ways for network in way.networks})
    if len(names) < 2 or book.site.nodes[name].backhaul.network is not None:
        return [net]
    found = []
    for network in names:
        ways = tuple(replace(way, networks=(network,) if network in way.networks else way.networks) for way in box.ways)
        found.append(replace(net, boxes={**net.boxes, name: replace(box, ways=ways)}))
    return found
