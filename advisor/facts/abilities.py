"""What the equipment lets a person set, and what the file asks of it that it cannot do."""

from __future__ import annotations

from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import setting
from advisor.facts.names import client_names
from advisor.facts.reach import HEARING_DBM
from advisor.facts.routes import domain_of
from advisor.network.inventory import Setting
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, unknown
from advisor.values import Known, Unknown, constant

SOURCE = "common practice, no source"


def settable(book: Book, node: str, name: str) -> Setting:
    """What a node lets a person set: as the file says, else as usual for its gear class."""
    declared = getattr(book.site.nodes[node].settable, name)
    return book.inventory.gear_setting(node, declared, f"nodes.{node}.settable.{name}", f"settable.{name}")


def _node(book: Book, radio: str) -> str:
    return book.inventory.radios[radio].node


@fact("gear_given", about="node", unit="", type="boolean", meaning="true when the file says what kind of box it is")
def gear_given(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    given = book.site.nodes[node].gear is not None
    return Fact(f"gear_given[{subject.key}]", "", constant(given), Given(book.source.where(f"nodes.{node}")))


@fact("gear_class", about="node", unit="", type="class", meaning="the gear class it is taken to be of")
def gear_class(book: Book, subject: Subject) -> Fact:
    node = subject.ids[0]
    value = book.inventory.gear_id(node)
    given = book.site.nodes[node].gear is not None
    by = Given(book.source.where(f"nodes.{node}.gear")) if given else Assumed(f"{node} is usual gear", SOURCE)
    return Fact(f"gear_class[{subject.key}]", "", constant(value), by)


@fact(
    "filled_up",
    about="node",
    unit="",
    type="class",
    meaning="settings of its radios taken from the usual gear class, in words; empty where the file gives them all",
)
def filled_up(book: Book, subject: Subject) -> Fact:
    words = {
        "standard": "802.11 standard",
        "streams": "streams",
        "width_mhz": "channel width",
        "antenna_dbi": "antenna",
    }
    missing = {
        told
        for radio in book.inventory.radios_of(subject.ids[0])
        for name, told in words.items()
        if isinstance(radio.settings[name].by, Assumed)
    }
    how = Looked("what the file gives of its radios")
    return Fact(f"filled_up[{subject.key}]", "", constant(", ".join(sorted(missing))), how)


@fact("channel_settable", about="radio", unit="", type="class", meaning="how its channel can be set: per-node, all, no")
def channel_settable(book: Book, subject: Subject) -> Fact:
    return setting(f"channel_settable[{subject.key}]", "", settable(book, _node(book, subject.ids[0]), "channel"))


@fact(
    "own_radios_in_the_way",
    about="radio",
    unit="",
    digits=0,
    meaning="radios of other own nodes in use on an overlapping channel that are heard, uplinks left out",
)
def own_radios_in_the_way(book: Book, subject: Subject) -> Fact:
    key = f"own_radios_in_the_way[{subject.key}]"
    pairs = [pair for pair in book.subjects("radio-pair") if subject.ids[0] in pair.ids]
    heard: list[str] = []
    missing: list[str] = []
    perhaps = 0
    for pair in pairs:
        if book.get("joined_by_hop", pair).raw or not book.get("both_in_use", pair).raw:
            continue
        overlap, level = book.get("channel_overlap", pair), book.get("heard_dbm", pair)
        gaps = [gap for told in (overlap, level) if isinstance(told.value, Unknown) for gap in told.value.missing]
        if gaps:
            perhaps += 1
            missing += gaps
        elif isinstance(level.value, Known) and overlap.raw > 0 and float(level.value.centre) > HEARING_DBM:
            heard.append(next(name for name in pair.ids if name != subject.ids[0]))
    if missing and not heard:
        return unknown(key, "", *dict.fromkeys(missing))
    count = float(len(heard))
    return Fact(key, "", Known(count, count, count + perhaps), Looked("heard on it: " + (", ".join(heard) or "none")))


@fact(
    "channels_of_its_gear",
    about="radio",
    unit="",
    digits=0,
    meaning="different fixed channels the file gives this band on nodes of the same gear class",
)
def channels_of_its_gear(book: Book, subject: Subject) -> Fact:
    mine = book.inventory.radios[subject.ids[0]]
    gear = book.inventory.gear_id(mine.node)
    found = {
        radio.name: radio.channel
        for radio in book.inventory.radios.values()
        if radio.band == mine.band and radio.channel is not None and book.inventory.gear_id(radio.node) == gear
    }
    how = ", ".join(f"{name}: {channel}" for name, channel in sorted(found.items())) or "none given"
    return Fact(f"channels_of_its_gear[{subject.key}]", "", constant(float(len(set(found.values())))), Looked(how))


@fact(
    "uplink_settable", about="hop", unit="", type="boolean", meaning="true when parent or band of the uplink can be set"
)
def uplink_settable(book: Book, subject: Subject) -> Fact:
    key = f"uplink_settable[{subject.key}]"
    parts = tuple(
        setting(f"{name}[{subject.key}]", "", settable(book, subject.ids[0], name))
        for name in ("uplink_band", "uplink_parent")
    )
    return Fact(key, "", constant(any(bool(part.raw) for part in parts)), Looked("what the gear lets one set"), parts)


@fact("itself", about="hop", unit="", type="class", meaning="its own key, for findings about it that belong together")
def itself(book: Book, subject: Subject) -> Fact:
    return Fact(f"itself[{subject.key}]", "", constant(subject.key), Looked("the hop"))


@fact("its_domain", about="radio", unit="", type="class", meaning="key of the shared air it belongs to")
def its_domain(book: Book, subject: Subject) -> Fact:
    key = f"domain={domain_of(book, subject.ids[0])}"
    return Fact(f"its_domain[{subject.key}]", "", constant(key), Looked("channels and hearing"))


@fact("power_settable", about="radio", unit="", type="class", meaning="how its power can be set: db, steps, no")
def power_settable(book: Book, subject: Subject) -> Fact:
    return setting(f"power_settable[{subject.key}]", "", settable(book, _node(book, subject.ids[0]), "power"))


@fact(
    "power_apart_db",
    about="radio",
    unit="dB",
    digits=0,
    meaning="largest difference in radiated power to another own radio of its band and name",
)
def power_apart_db(book: Book, subject: Subject) -> Fact:
    key = f"power_apart_db[{subject.key}]"
    pairs = [
        pair
        for pair in book.subjects("radio-pair")
        if subject.ids[0] in pair.ids and book.get("same_name", pair).raw and book.get("both_in_use", pair).raw
    ]
    differences = [book.get("power_difference_db", pair) for pair in pairs]
    known = [told for told in differences if isinstance(told.value, Known)]
    missing = [reason for told in differences if isinstance(told.value, Unknown) for reason in told.value.missing]
    if missing and not known:
        return unknown(key, "dB", *dict.fromkeys(missing))
    if not known:
        return Fact(key, "dB", constant(0.0), Looked("no other radio of its band and name near"))
    return max(known, key=lambda told: (float(told.value.centre), told.key))._replace(key=key)  # type: ignore[union-attr]


@fact(
    "names_per_band_settable",
    about="node",
    unit="",
    type="boolean",
    meaning="true when the node can carry different names on its bands",
)
def names_per_band_settable(book: Book, subject: Subject) -> Fact:
    told = settable(book, subject.ids[0], "names_per_band")
    return setting(f"names_per_band_settable[{subject.key}]", "", told)


@fact(
    "names_differ_by_band",
    about="node",
    unit="",
    type="boolean",
    meaning="true when the file gives the node's bands different names for clients",
)
def names_differ_by_band(book: Book, subject: Subject) -> Fact:
    names: dict[str, set[bytes]] = {}
    for radio in book.inventory.radios_of(subject.ids[0]):
        if radio.serves_clients:
            names.setdefault(radio.band, set()).update(client_names(book, radio))
    offered = [carried for carried in names.values() if carried]
    differ = any(carried != offered[0] for carried in offered)
    return Fact(f"names_differ_by_band[{subject.key}]", "", constant(differ), Looked("the names of each band"))


@fact(
    "ports_short",
    about="hop",
    unit="",
    digits=0,
    meaning="wired uplinks beyond the ports that are declared, at the end that lacks most",
)
def ports_short(book: Book, subject: Subject) -> Fact:
    key = f"ports_short[{subject.key}]"
    hop = book.hops.get(subject.ids[0])
    if hop is None or hop.air:
        return Fact(key, "", constant(0.0), Looked("its uplink is no wire"))
    lacking, how = 0, []
    for node in (hop.node, hop.parent):
        ports = len(book.site.nodes[node].ports)
        cables = sum(1 for other in book.hops.values() if not other.air and node in (other.node, other.parent))
        if ports:
            lacking = max(lacking, cables - ports)
            how.append(f"{node}: {cables} cables, {ports} ports")
    return Fact(key, "", constant(float(lacking)), Looked("; ".join(how) or "no ports are declared"))
