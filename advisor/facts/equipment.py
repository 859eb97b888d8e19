"""Facts read off the equipment: radios and clients with their powers and abilities."""

from __future__ import annotations

from advisor.data import catalogue
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.network.inventory import ClientUnit, RadioUnit, Setting
from advisor.physics.phy_rates import DEFAULT_GUARD_NS
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, derive, formula, given, unknown
from advisor.values import constant, from_cases


def setting(key: str, unit: str, entry: Setting) -> Fact:
    """A setting as a fact with its origin."""
    return Fact(key, unit, constant(entry.value), entry.by)


def range_entry(key: str, unit: str, value: float, source: str, entry: str) -> Fact:
    """A single assumed number of the ranges catalogue."""
    return Fact(key, unit, constant(value), Assumed(entry, source))


def assumption(section: str, name: str, unit: str) -> Fact:
    """An entry of the ranges catalogue that holds one value."""
    row = catalogue("ranges")[section][name]
    return range_entry(f"{section}.{name}", unit, float(row["value"]), row["source"], row["meaning"])


@formula(id="equipment.eirp_dbm", unit="dBm", expr="conducted + antenna gain", source="definition of EIRP, ITU-R V.573")
def eirp_of(*, conducted_dbm: float, antenna_dbi: float) -> float:
    return conducted_dbm + antenna_dbi


def unit_of(book: Book, subject: Subject) -> RadioUnit:
    return book.inventory.radios[subject.ids[0]]


@fact("eirp_dbm", about="radio", unit="dBm", digits=0, meaning="radiated power with antenna gain")
def eirp_dbm(book: Book, subject: Subject) -> Fact:
    radio = unit_of(book, subject)
    key = f"eirp_dbm[{subject.key}]"
    if radio.eirp_dbm is not None:
        return setting(key, "dBm", radio.settings["eirp_dbm"])
    if radio.conducted_dbm is not None:
        conducted = setting(f"conducted_dbm[{subject.key}]", "dBm", radio.settings["conducted_dbm"])
        return derive(key, eirp_of, conducted_dbm=conducted, antenna_dbi=antenna_dbi(book, subject))
    row = catalogue("ranges")["power"]["eirp_dbm"][radio.band]
    cases = book.draws.between(row["low"], row["typical"], row["high"], "power", radio.name, more_is_better=True)
    entry = f"{radio.name} radiates between {row['low']} and {row['high']} dBm, as usual on {radio.band} GHz"
    return Fact(key, "dBm", from_cases(cases), Assumed(entry, catalogue("ranges")["power"]["source"]))


@fact("antenna_dbi", about="radio", unit="dBi", digits=0, meaning="antenna gain")
def antenna_dbi(book: Book, subject: Subject) -> Fact:
    return setting(f"antenna_dbi[{subject.key}]", "dBi", unit_of(book, subject).settings["antenna_dbi"])


@fact("standard", about="radio", unit="", type="class", meaning="802.11 amendment")
def standard(book: Book, subject: Subject) -> Fact:
    return setting(f"standard[{subject.key}]", "", unit_of(book, subject).settings["standard"])


@fact("band", about="radio", unit="", type="class", meaning="band in GHz")
def band(book: Book, subject: Subject) -> Fact:
    radio = unit_of(book, subject)
    return given(f"band[{subject.key}]", "", radio.band, book.source.where(radio.path))


@fact("streams", about="radio", unit="", digits=0, meaning="spatial streams")
def streams(book: Book, subject: Subject) -> Fact:
    return setting(f"streams[{subject.key}]", "", unit_of(book, subject).settings["streams"])


@fact("width_mhz", about="radio", unit="MHz", digits=0, meaning="channel width")
def width_mhz(book: Book, subject: Subject) -> Fact:
    return setting(f"width_mhz[{subject.key}]", "MHz", unit_of(book, subject).settings["width_mhz"])


@fact("channel", about="radio", unit="", digits=0, meaning="primary channel")
def channel(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    key = f"channel[{subject.key}]"
    if radio.channel is None:
        return unknown(key, "", f"the channel of {radio.name} ({radio.path}.channel)")
    if radio.channel != book.inventory.radios[radio.name].channel:
        if radio.node not in book.fixed and len(book.options.get(radio.node, ())) > 1:
            return unknown(
                key,
                "",
                f"the channel of {radio.name}: it follows the uplink, left to the equipment ({radio.path}.channel)",
            )
        return Fact(key, "", constant(radio.channel), Looked("the channel of the parent it joins"))
    return setting(key, "", radio.settings["channel"])


@fact(
    "in_use", about="radio", unit="", type="boolean", meaning="true when it serves clients, child nodes or the uplink"
)
def in_use(book: Book, subject: Subject) -> Fact:
    radio = unit_of(book, subject)
    joined = len(book.cells[radio.name].members) > 1 or any(hop.radio == radio.name for hop in book.hops.values())
    used = radio.serves_clients or joined
    return Fact(f"in_use[{subject.key}]", "", constant(used), Given(book.source.where(radio.path)))


def client_of(book: Book, place: str) -> ClientUnit:
    return book.inventory.clients[book.site.places[place].client]


def client_setting(book: Book, place: str, name: str, unit: str) -> Fact:
    """A capability of the client kind at a place."""
    client = client_of(book, place)
    return setting(f"{name}[client={client.id}]", unit, client.settings[name])


def client_eirp(book: Book, place: str) -> Fact:
    return derive(
        f"eirp_dbm[client={client_of(book, place).id}]",
        eirp_of,
        conducted_dbm=client_setting(book, place, "conducted_dbm", "dBm"),
        antenna_dbi=client_setting(book, place, "antenna_dbi", "dBi"),
    )


def guard_ns(standard: str, radio: RadioUnit) -> int:
    """The radio's guard interval, or the standard's usual one."""
    chosen: int | None = radio.guard_ns
    return DEFAULT_GUARD_NS[standard] if chosen is None or (standard in ("n", "ac") and chosen > 800) else chosen
