"""Facts about a device that picks its band itself under one name that covers several."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.facts import joins, links
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import client_of, setting
from advisor.facts.holding_on import alone_mbps
from advisor.facts.places import over_options
from advisor.network.inventory import Setting
from advisor.site.networks import Network
from advisor.subjects import Subject
from advisor.trace import Assumed, Fact, Given, Looked, derive, formula, unknown
from advisor.values import CENTRE, constant, from_cases

PURPOSES = ("clients", "things", "guests")
"""Which network a device uses where several would take it: its own first."""


def network_used(book: Book, place: str) -> tuple[str, Network] | None:
    """The network entry over which the place's client joins its radio at the centre; None where it joins none."""
    joined = joins.joined_subject(book, place)
    if joined is None:
        return None
    nets = [(key, book.site.networks[key]) for key in joins.joining_of(book, *joined.ids).networks]
    return min(nets, key=lambda entry: (PURPOSES.index(entry[1].purpose), entry[0])) if nets else None


def bands_held(book: Book, place: str) -> dict[str, str]:
    """Per band, the strongest radio on which the place's client could hold a link under the name it uses."""

    def compute() -> dict[str, str]:
        used = network_used(book, place)
        answer = joins.association(book, place)
        found: dict[str, tuple[float, str]] = {}
        for name in answer.radios if used is not None else ():
            nets = joins.joining_of(book, place, name).networks
            holds = np.ravel(_holds(book, place, name))[CENTRE]
            if used is None or not holds or used[1].octets not in {book.site.networks[key].octets for key in nets}:
                continue
            level = links.level_dbm(book, links.to_place(place, name), "down")
            entry = (float(np.ravel(level.raw)[CENTRE]), name)
            band = book.inventory.radios[name].band
            found[band] = max(found.get(band, entry), entry)
        return {band: name for band, (_, name) in sorted(found.items())}

    return book.lasting(("bands_held", place), compute)


def _holds(book: Book, place: str, radio: str) -> Any:
    from advisor.facts.receiving import holds

    return holds(book, links.to_place(place, radio))


@fact(
    "bands_under_one_name",
    about="place",
    unit="",
    digits=0,
    meaning="bands in which its client could hold a link under the one name it uses",
)
def bands_under_one_name(book: Book, subject: Subject) -> Fact:
    key = f"bands_under_one_name[{subject.key}]"
    missing = joins.association(book, subject.ids[0]).missing
    if missing:
        return unknown(key, "", *missing)
    held = bands_held(book, subject.ids[0])
    how = Looked(", ".join(held.values()) or "none")
    return Fact(key, "", constant(float(len(held))), how)


def _choice(book: Book, node: str, entry: tuple[str, Network]) -> Fact:
    """Who picks the band: as the network says, else as usual for the node's gear class."""
    name, net = entry
    key, path = f"band_choice[network={name},node={node}]", f"networks.{name}.band_choice"
    if net.band_choice is not None:
        return Fact(key, "", constant(net.band_choice), Given(book.source.where(path)))
    usual = str(book.inventory.gear(node)["band_choice"])
    told = f"{node} is usual gear of class {book.inventory.gear_id(node)}: the {usual} picks the band"
    return setting(key, "", Setting(usual, Assumed(told, catalogue("gear")["source"])))


@fact(
    "may_pick_slow_band",
    about="place",
    unit="",
    type="boolean",
    meaning="true when its client picks the band itself and is not of a kind that prefers 5 GHz and up",
)
def may_pick_slow_band(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    key = f"may_pick_slow_band[{subject.key}]"
    client = client_of(book, place)
    prefers = setting(f"band_preference[client={client.id}]", "", client.settings["band_preference"])
    if prefers.raw == "5-up":
        return Fact(key, "", constant(False), Looked("its client prefers 5 GHz and up"), (prefers,))
    missing = joins.association(book, place).missing
    if missing:
        return unknown(key, "", *missing)
    used, joined = network_used(book, place), joins.joined_subject(book, place)
    if used is None or joined is None:
        return Fact(key, "", constant(False), Looked("it joins no radio"))
    chooser = _choice(book, book.inventory.radios[joined.ids[1]].node, used)
    answer = chooser.raw == "client"
    return Fact(key, "", constant(answer), Looked(f"the {chooser.raw} picks the band"), (chooser, prefers))


def _alone_by_band(book: Book, place: str) -> dict[str, Fact]:
    """Goodput alone, end to end, in each band its client could hold."""
    return {band: alone_mbps(book, place, radio) for band, radio in bands_held(book, place).items()}


def _slow_or_fast(book: Book, place: str, *, fast: bool) -> tuple[str, Fact] | None:
    found = _alone_by_band(book, place)
    known = {band: told for band, told in found.items() if told.known}
    if len(known) < len(found) or len(found) < 2:
        return None
    order = sorted(known, key=lambda band: (float(np.ravel(known[band].raw)[CENTRE]), band))
    band = order[-1 if fast else 0]
    return band, known[band]


BAND_MEANING = "goodput alone, end to end, in the {} of the bands its client could hold under its name"


SLOW_AND_FAST = ("slow_band_mbps", "fast_band_mbps")


def _mbps_here(book: Book, subject: Subject, name: str, *, fast: bool) -> Fact:
    """Goodput alone in the slowest or fastest band, for this one way of running the uplinks."""
    found = _slow_or_fast(book, subject.ids[0], fast=fast)
    key = f"{name}[{subject.key}]"
    if found is None:
        gaps = [
            reason
            for told in _alone_by_band(book, subject.ids[0]).values()
            if not told.known
            for reason in told.value.missing  # type: ignore[union-attr]
        ]
        return unknown(key, "Mb/s", *(dict.fromkeys(gaps) or ("a second band its client could hold",)))
    return found[1]._replace(key=key)


def _mbps(book: Book, subject: Subject, name: str, *, fast: bool) -> Fact:
    return over_options(book, name, subject, {}, lambda: _mbps_here(book, subject, name, fast=fast), shared=False)


@fact("slow_band_mbps", about="place", unit="Mb/s", meaning=BAND_MEANING.format("slowest"))
def slow_band_mbps(book: Book, subject: Subject) -> Fact:
    return _mbps(book, subject, "slow_band_mbps", fast=False)


@fact("fast_band_mbps", about="place", unit="Mb/s", meaning=BAND_MEANING.format("fastest"))
def fast_band_mbps(book: Book, subject: Subject) -> Fact:
    return _mbps(book, subject, "fast_band_mbps", fast=True)


@formula(
    id="band_choice.falls_short",
    unit="",
    expr="the slow band holds, goodput alone in it < wanted, goodput alone in the fast band >= wanted",
    source="definition",
)
def falls_short(*, slow_mbps: Any, fast_mbps: Any, wanted_mbps: Any, holds: Any) -> Any:
    return holds & (slow_mbps < wanted_mbps) & (fast_mbps >= wanted_mbps)


@fact(
    "slow_band_falls_short",
    about="place",
    unit="",
    type="boolean",
    meaning="true when its client could hold a band that gives less than is wanted, while a faster one gives enough",
)
def slow_band_falls_short(book: Book, subject: Subject) -> Fact:
    def compute() -> Fact:
        place = subject.ids[0]
        key = f"slow_band_falls_short[{subject.key}]"
        slow, fast = (_mbps_here(book, subject, name, fast=name == "fast_band_mbps") for name in SLOW_AND_FAST)
        band = _slow_or_fast(book, place, fast=False)
        if band is None:
            return next(part for part in (slow, fast) if not part.known)._replace(key=key, unit="")
        holds = _holds(book, place, bands_held(book, place)[band[0]])
        by = Looked("both ends can answer at the slowest rate")
        held = Fact(f"holds[place={place}, band={band[0]}]", "", from_cases(np.asarray(holds), joint=True), by)
        wanted = wanted_alone_mbps(book, subject)
        return derive(key, falls_short, slow_mbps=slow, fast_mbps=fast, wanted_mbps=wanted, holds=held)

    return over_options(book, "slow_band_falls_short", subject, {}, compute, shared=False)


@fact("slow_band", about="place", unit="", type="class", meaning="the slowest of the bands its client could hold, GHz")
def slow_band(book: Book, subject: Subject) -> Fact:
    return _band(book, subject, "slow_band", fast=False)


@fact("fast_band", about="place", unit="", type="class", meaning="the fastest of the bands its client could hold, GHz")
def fast_band(book: Book, subject: Subject) -> Fact:
    return _band(book, subject, "fast_band", fast=True)


def _band(book: Book, subject: Subject, name: str, *, fast: bool) -> Fact:
    key = f"{name}[{subject.key}]"
    found = _slow_or_fast(book, subject.ids[0], fast=fast)
    if found is None:
        return unknown(key, "", "a second band its client could hold")
    return Fact(key, "", constant(found[0]), Looked("goodput alone in each band"), (found[1],))


@formula(
    id="band_choice.wanted_mbps",
    unit="Mb/s",
    expr="the larger of the speed asked for and that of one call",
    source="definition",
)
def larger(*, speed_mbps: Any, call_mbps: Any) -> Any:
    return np.maximum(speed_mbps, call_mbps)


@fact(
    "wanted_alone_mbps",
    about="place",
    unit="Mb/s",
    meaning="what one client there must get at least: the speed asked for, or that of a call; 0 where nothing is asked",
)
def wanted_alone_mbps(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    entry = book.site.places[place]
    path = f"places.{place}.down_mbps"
    speed = Fact(path, "Mb/s", constant(entry.down_mbps or 0.0), Given(book.source.where(path)))
    uses = catalogue("ranges")["uses"]["calls"]
    rate = float(uses["down_mbps"]) if entry.calls else 0.0
    call = Fact("uses.calls.down_mbps", "Mb/s", constant(rate), Assumed(f"a call needs {rate:g} Mb/s", uses["source"]))
    if not entry.calls:
        return speed._replace(key=f"wanted_alone_mbps[{subject.key}]")
    return derive(f"wanted_alone_mbps[{subject.key}]", larger, speed_mbps=speed, call_mbps=call)
