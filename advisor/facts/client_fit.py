"""Facts about how well a client fits the radios around it: what refuses it, what it cannot do, what it costs others."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.facts import joins, links, rates, reach, receiving
from advisor.facts.band_choice import network_used
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.equipment import client_of, setting
from advisor.facts.everyone import active, demand
from advisor.facts.frames import LEAST_MBPS
from advisor.facts.receiving import LEGACY
from advisor.facts.roaming import AIDS, aid_on
from advisor.network.joining import AGE, networks_on
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, derive, formula, unknown
from advisor.values import CENTRE, Unknown, constant

TELLING = ("channel", "rates", "security", "standard", "6 GHz")
"""Refusals that a setting could mend. A band the client lacks, or a network meant for others, is as it should be."""


def _centre(told: Fact) -> float:
    return float(np.ravel(told.raw)[CENTRE])


def best_refusing(book: Book, place: str) -> tuple[str, str] | None:
    """The strongest radio of a node other than the joined one that refuses the client for a reason a setting could
    mend, and the reason; None where there is none or the client joins nothing."""

    def compute() -> tuple[str, str] | None:
        joined = joins.joined_subject(book, place)
        if joined is None:
            return None
        mine = book.inventory.radios[joined.ids[1]].node
        found = []
        for name in reach.reachable(book, place):
            answer = joins.joining_of(book, place, name)
            reasons = [text for cause, text in zip(answer.causes, answer.reasons, strict=True) if cause in TELLING]
            level = links.level_dbm(book, links.to_place(place, name), "down")
            if not answer.networks and reasons and level.known and book.inventory.radios[name].node != mine:
                found.append((round(_centre(level), 3), name, reasons[0]))
        return max(found)[1:] if found else None

    return book.lasting(("best_refusing", place), compute)


def unheard_refusing(book: Book, place: str) -> list[str]:
    """What is missing to know how well the client hears radios that refuse it for a reason a setting could mend."""
    found: dict[str, None] = {}
    for name in reach.reachable(book, place):
        answer = joins.joining_of(book, place, name)
        level = links.level_dbm(book, links.to_place(place, name), "down")
        if not answer.networks and set(answer.causes) & set(TELLING) and isinstance(level.value, Unknown):
            found |= dict.fromkeys(level.value.missing)
    return list(found)


@formula(
    id="client_fit.stronger_db",
    unit="dB",
    expr="level of the refusing radio - level of the joined node, in the same band where it has it",
    source="difference of two levels",
)
def stronger(*, refusing_dbm: Any, joined_dbm: Any) -> Any:
    return refusing_dbm - joined_dbm


@fact(
    "refused_stronger_db",
    about="place",
    unit="dB",
    digits=0,
    meaning="how much stronger than the joined node a node is heard that refuses the client; 0 where none refuses",
)
def refused_stronger_db(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    key = f"refused_stronger_db[{subject.key}]"
    missing = joins.association(book, place).missing
    if missing:
        return unknown(key, "dB", *missing)
    refusing, joined = best_refusing(book, place), joins.joined_subject(book, place)
    open_ends = [] if joined is None else unheard_refusing(book, place)
    if open_ends:
        return unknown(key, "dB", *open_ends)
    if refusing is None or joined is None:
        return Fact(key, "dB", constant(0.0), Looked("no other node refuses it for a reason that could be mended"))
    mine = book.inventory.radios[joined.ids[1]]
    same = book.inventory.radios_of(mine.node, book.inventory.radios[refusing[0]].band)
    compared = mine.name if mine in same or not same else same[0].name
    return derive(
        key,
        stronger,
        refusing_dbm=links.level_dbm(book, links.to_place(place, refusing[0]), "down"),
        joined_dbm=links.level_dbm(book, links.to_place(place, compared), "down"),
    )


@fact("refusing_radio", about="place", unit="", type="class", meaning="the strongest other radio that refuses it")
def refusing_radio(book: Book, subject: Subject) -> Fact:
    found = best_refusing(book, subject.ids[0])
    return Fact(
        f"refusing_radio[{subject.key}]", "", constant(found[0] if found else "none"), Looked("capabilities and levels")
    )


@fact("refusing_because", about="place", unit="", type="class", meaning="why that radio refuses it, in words")
def refusing_because(book: Book, subject: Subject) -> Fact:
    found = best_refusing(book, subject.ids[0])
    return Fact(f"refusing_because[{subject.key}]", "", constant(found[1] if found else ""), Looked("capabilities"))


@fact(
    "offered_here",
    about="place-radio",
    unit="",
    type="boolean",
    meaning="true when the radio serves devices, in a band the client has, with a network the place may use",
)
def offered_here(book: Book, subject: Subject) -> Fact:
    place, name = subject.ids
    radio, client = book.inventory.radios[name], client_of(book, place)
    only = book.site.places[place].network
    nets = [key for key, net in networks_on(book.site, radio) if only in (None, key) and net.purpose != "backhaul"]
    offered = radio.serves_clients and radio.band in client.bands and bool(nets)
    how = Looked("networks it may use there: " + (", ".join(nets) or "none"))
    return Fact(f"offered_here[{subject.key}]", "", constant(offered), how)


@fact(
    "channel_known",
    about="place-radio",
    unit="",
    type="boolean",
    meaning="true when the radio's channel is one the client knows",
)
def channel_known(book: Book, subject: Subject) -> Fact:
    place, name = subject.ids
    key = f"channel_known[{subject.key}]"
    radio, client = book.radios[name], client_of(book, place)
    known = client.channels.get(radio.band, ())
    if not known:
        return Fact(key, "", constant(True), Looked("no channels are listed for the client: it knows all"))
    if radio.channel is None:
        return unknown(key, "", f"the channel of {name} ({radio.path}.channel)")
    by = Given(book.source.where(f"clients.{client.id}.channels"))
    return Fact(key, "", constant(radio.channel in known), by)


@fact("channel", about="place-radio", unit="", digits=0, meaning="primary channel of the radio")
def channel(book: Book, subject: Subject) -> Fact:
    told: Fact = book.get("channel", Subject("radio", (subject.ids[1],)))
    return told._replace(key=f"channel[{subject.key}]")


@fact("client_kind", about="place", unit="", type="class", meaning="client kind used there")
def client_kind(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    by = Given(book.source.where(f"places.{place}.client"))
    return Fact(f"client_kind[{subject.key}]", "", constant(book.site.places[place].client), by)


@fact("client_kind", about="place-radio", unit="", type="class", meaning="client kind used at the place")
def client_kind_of_pair(book: Book, subject: Subject) -> Fact:
    told: Fact = book.get("client_kind", Subject("place", (subject.ids[0],)))
    return told._replace(key=f"client_kind[{subject.key}]")


@fact(
    "client_can",
    about="place",
    unit="",
    type="boolean",
    variants={"aid": AIDS},
    meaning="true when its client can use the roaming aid (802.11k, v or r)",
)
def client_can(book: Book, subject: Subject, aid: str) -> Fact:
    client = client_of(book, subject.ids[0])
    return setting(f"client_can[{subject.key}, aid={aid}]", "", client.settings[aid])


def _fast_transition(book: Book, subject: Subject, key: str) -> tuple[str, Fact] | Fact:
    """The network used and whether the joined node runs 802.11r for it; or an answer at once."""
    place = subject.ids[0]
    missing = joins.association(book, place).missing
    if missing:
        return unknown(key, "", *missing)
    used, joined = network_used(book, place), joins.joined_subject(book, place)
    if used is None or joined is None:
        return Fact(key, "", constant(False), Looked("it joins no radio"))
    return used[0], aid_on(book, book.inventory.radios[joined.ids[1]].node, used[0], "r")


@fact(
    "fast_transition_on",
    about="place",
    unit="",
    type="boolean",
    meaning="true when the network its client uses runs 802.11r at the node it joins",
)
def fast_transition_on(book: Book, subject: Subject) -> Fact:
    key = f"fast_transition_on[{subject.key}]"
    found = _fast_transition(book, subject, key)
    if isinstance(found, Fact):
        return found
    return Fact(key, "", constant(bool(found[1].raw)), Looked(f"network {found[0]}"), (found[1],))


@fact(
    "fast_transition_told",
    about="place",
    unit="",
    type="boolean",
    meaning="true when the file gives 802.11r for that network",
)
def fast_transition_told(book: Book, subject: Subject) -> Fact:
    key = f"fast_transition_told[{subject.key}]"
    found = _fast_transition(book, subject, key)
    if isinstance(found, Fact):
        return found
    return Fact(key, "", constant(isinstance(found[1].by, Given)), Looked("the site file"))


@fact("network_used", about="place", unit="", type="class", meaning="the network its client uses")
def network_used_fact(book: Book, subject: Subject) -> Fact:
    found = network_used(book, subject.ids[0])
    key = f"network_used[{subject.key}]"
    if found is None:
        missing = joins.association(book, subject.ids[0]).missing
        return unknown(key, "", *(missing or ("a radio that holds there",)))
    return Fact(key, "", constant(found[0]), Looked("the network of the place, else the first its client can join"))


@formula(
    id="client_fit.rate_share",
    unit="",
    expr="rate on the air / rate of the fastest place on the same radio",
    source="definition",
)
def rate_share(*, rate_mbps: Any, fastest_mbps: Any) -> Any:
    return np.asarray(rate_mbps) / np.maximum(fastest_mbps, 1e-6)


def fastest_beside(book: Book, place: str) -> tuple[str, str] | None:
    """The joined radio and the fastest other place with active clients on it; None where there is none."""
    joined = joins.joined_subject(book, place)
    if joined is None:
        return None
    radio = joined.ids[1]
    others = []
    for other in sorted(book.site.places):
        mate = joins.joined_subject(book, other) if other != place and active(book, other) else None
        if mate is not None and mate.ids[1] == radio:
            rate = rates.phy_rate_mbps(book, links.to_place(other, radio), "down")
            others.append((round(_centre(rate), 1) if rate.known else 0.0, other))
    return (radio, max(others)[1]) if others else None


@fact(
    "rate_share_of_fastest",
    about="place",
    unit="",
    digits=2,
    meaning="its rate on the air as a share of that of the fastest other place on its radio (centres); 1 if alone",
)
def rate_share_of_fastest(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    key = f"rate_share_of_fastest[{subject.key}]"
    missing = joins.association(book, place).missing
    if missing:
        return unknown(key, "", *missing)
    found = fastest_beside(book, place)
    if found is None:
        return Fact(key, "", constant(1.0), Looked("no other place on its radio"))
    radio, other = found
    told = derive(
        key,
        rate_share,
        rate_mbps=rates.phy_rate_mbps(book, links.to_place(place, radio), "down"),
        fastest_mbps=rates.phy_rate_mbps(book, links.to_place(other, radio), "down"),
    )
    return told._replace(value=constant(_centre(told))) if told.known else told


@fact("fastest_beside", about="place", unit="", type="class", meaning="the fastest other place on its radio")
def fastest_beside_fact(book: Book, subject: Subject) -> Fact:
    found = fastest_beside(book, subject.ids[0])
    return Fact(
        f"fastest_beside[{subject.key}]", "", constant(found[1] if found else "none"), Looked("rates on the air")
    )


@formula(
    id="client_fit.air_wanted",
    unit="",
    expr="active clients * (wanted down / goodput down + wanted up / goodput up), at most 99; 0 where the link is dead",
    source="shared air is shared time; a link under 0.05 Mb/s does not hold and takes no air",
)
def air_wanted(*, clients: Any, down_mbps: Any, up_mbps: Any, goodput_down_mbps: Any, goodput_up_mbps: Any) -> Any:
    alive = np.minimum(goodput_down_mbps, goodput_up_mbps) >= LEAST_MBPS
    each = down_mbps / np.maximum(goodput_down_mbps, LEAST_MBPS) + up_mbps / np.maximum(goodput_up_mbps, LEAST_MBPS)
    return np.where(alive, np.minimum(clients * each, 99.0), 0.0)[()]


@fact(
    "air_wanted_share",
    about="place",
    unit="",
    digits=2,
    meaning="share of its radio's time its clients want when all get what they ask for, on the last link",
)
def air_wanted_share(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    key = f"air_wanted_share[{subject.key}]"
    missing = joins.association(book, place).missing
    if missing:
        return unknown(key, "", *missing)
    joined = joins.joined_subject(book, place)
    if joined is None:
        return Fact(key, "", constant(0.0), Looked("it joins no radio"))
    link = links.to_place(place, joined.ids[1])
    by = Given(book.source.where(f"places.{place}"))
    return derive(
        key,
        air_wanted,
        clients=Fact(f"active[place={place}]", "", constant(float(active(book, place))), by),
        down_mbps=demand(book, place, "down"),
        up_mbps=demand(book, place, "up"),
        goodput_down_mbps=rates.goodput_mbps(book, link, "down", "tcp"),
        goodput_up_mbps=rates.goodput_mbps(book, link, "up", "tcp"),
    )


def radio_of_client(book: Book, place: str) -> tuple[str | None, tuple[str, ...]]:
    """The radio the client joins, or what is missing. The rates of 802.11b, g and a are not modelled: such a client is
    taken at the strongest radio that it can join and that holds."""
    joined, missing = joins.joined_subject(book, place), joins.association(book, place).missing
    if joined is not None:
        return joined.ids[1], ()
    if client_of(book, place).standard not in LEGACY:
        return None, missing
    found: list[tuple[float, str]] = []
    gaps: list[str] = []
    for name in reach.reachable(book, place):
        if not joins.joining_of(book, place, name).networks:
            continue
        link = links.to_place(place, name)
        level, holds = links.level_dbm(book, link, "down"), receiving.holds(book, link)
        if not level.known or holds is None:
            gaps += level.value.missing if not level.known else ()  # type: ignore[union-attr]
        elif bool(np.ravel(holds)[CENTRE]):
            found.append((round(_centre(level), 3), name))
    if found:
        return max(found)[1], ()
    return None, tuple(dict.fromkeys(gaps)) if book.site.networks else missing


@fact(
    "old_for_its_radio",
    about="place",
    unit="",
    type="boolean",
    meaning="true when an 802.11n or older client joins a newer 5 GHz radio, or an 802.11b or g client any newer radio",
)
def old_for_its_radio(book: Book, subject: Subject) -> Fact:
    place = subject.ids[0]
    key = f"old_for_its_radio[{subject.key}]"
    name, missing = radio_of_client(book, place)
    if missing:
        return unknown(key, "", *missing)
    if name is None:
        return Fact(key, "", constant(False), Looked("it joins no radio"))
    client, radio = client_of(book, place), book.inventory.radios[name]
    oldest_modern = "n" if radio.band == "2.4" else "ac"
    mine, theirs, line = (AGE.index(entry) for entry in (client.standard, radio.standard, oldest_modern))
    told = setting(f"standard[client={client.id}]", "", client.settings["standard"])
    how = Looked(f"802.11{client.standard} joins {radio.name} with 802.11{radio.standard}")
    inputs = (told, book.get("standard", Subject("radio", (radio.name,))))
    return Fact(key, "", constant(mine < line <= theirs), how, inputs)


@fact("client_standard", about="place", unit="", type="class", meaning="best 802.11 amendment its client knows")
def client_standard(book: Book, subject: Subject) -> Fact:
    client = client_of(book, subject.ids[0])
    return setting(f"client_standard[{subject.key}]", "", client.settings["standard"])


@fact("its_radio", about="place", unit="", type="class", meaning="the radio its client joins at the centre")
def its_radio(book: Book, subject: Subject) -> Fact:
    key = f"its_radio[{subject.key}]"
    name, missing = radio_of_client(book, subject.ids[0])
    if name is None:
        return unknown(key, "", *(missing or ("a radio that holds there",)))
    return Fact(key, "", constant(name), Looked("association at the centre"))


@fact("joined_standard", about="place", unit="", type="class", meaning="802.11 amendment of the radio it joins")
def joined_standard(book: Book, subject: Subject) -> Fact:
    key = f"joined_standard[{subject.key}]"
    name, missing = radio_of_client(book, subject.ids[0])
    if name is None:
        return unknown(key, "", *(missing or ("a radio that holds there",)))
    told: Fact = book.get("standard", Subject("radio", (name,)))
    return told._replace(key=key)
