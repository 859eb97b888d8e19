"""The choice of a channel: what the regulatory extract clears, who chose it, and the best other channel for a radio."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from advisor.facts import hearing
from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.clientele import uplinks_over
from advisor.network.contention import channel_overlap, span_mhz
from advisor.network.inventory import RadioUnit
from advisor.physics.bands import NON_OVERLAPPING_2G4_CHANNELS
from advisor.physics.channel_plan import Block, blocks
from advisor.physics.regulation import ROUNDING_DB, Clearance, Verdict, clear, database_version
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, derive, formula, unknown
from advisor.values import CENTRE, Known, Options, Unknown, constant


def clearance(book: Book, radio: RadioUnit) -> Clearance | None:
    """What the extract says of a radio's channel, its power left aside; None while the channel is not known."""
    span = span_mhz(radio)
    if span is None:
        return None
    country, outdoor = book.site.site.country, book.site.nodes[radio.node].outdoor
    return book.lasting(("clearance", span, outdoor), lambda: clear(country, *span, outdoor=outdoor))


def not_told(book: Book, subject: Subject, found: Clearance | None) -> tuple[str, ...]:
    """What is missing to look a radio's channel up; empty where nothing is."""
    if book.site.site.country is None:
        return ("the country (site.country)",)
    channel = book.get("channel", subject)
    if isinstance(channel.value, Unknown):
        return channel.value.missing
    if found is None or found.verdict is Verdict.UNKNOWN_COUNTRY:
        return (f"rules for {book.site.site.country}: the regulatory extract does not hold that country",)
    return ()


def looked_up() -> Looked:
    return Looked(f"wireless-regdb {database_version()}, what open kernels enforce; not the law")


@fact(
    "channel_cleared",
    about="radio",
    unit="",
    type="boolean",
    meaning="true when the regulatory extract clears its channel, width and use outdoors, whatever its power",
)
def channel_cleared(book: Book, subject: Subject) -> Fact:
    found = clearance(book, book.radios[subject.ids[0]])
    key = f"channel_cleared[{subject.key}]"
    missing = not_told(book, subject, found)
    if missing or found is None:
        return unknown(key, "", *missing)
    return Fact(key, "", constant(found.verdict is Verdict.CLEARED), looked_up(), (book.get("channel", subject),))


@fact(
    "only_starting_is_barred",
    about="radio",
    unit="",
    type="boolean",
    meaning="true when all the extract has against its channel is that a radio may not start a network there by itself",
)
def only_starting_is_barred(book: Book, subject: Subject) -> Fact:
    found = clearance(book, book.radios[subject.ids[0]])
    key = f"only_starting_is_barred[{subject.key}]"
    missing = not_told(book, subject, found)
    if missing or found is None or found.rules is None:
        return unknown(key, "", *missing)
    alone = found.rules.covered and found.rules.no_ir and len(found.reasons) == 1
    return Fact(key, "", constant(alone), looked_up())


@fact(
    "channel_doubts",
    about="radio",
    unit="",
    type="class",
    meaning="what stands against its channel in the regulatory extract, in words",
)
def channel_doubts(book: Book, subject: Subject) -> Fact:
    found = clearance(book, book.radios[subject.ids[0]])
    key = f"channel_doubts[{subject.key}]"
    missing = not_told(book, subject, found)
    if missing or found is None:
        return unknown(key, "", *missing)
    return Fact(key, "", constant("; ".join(found.reasons) or "nothing"), looked_up())


@fact(
    "makes_uplink",
    about="radio",
    unit="",
    type="boolean",
    meaning="true when it makes the uplink of its node, so that its channel follows from the parent",
)
def makes_uplink(book: Book, subject: Subject) -> Fact:
    radio = book.inventory.radios[subject.ids[0]]
    key = f"makes_uplink[{subject.key}]"
    ways = book.options.get(radio.node, []) if radio.node not in book.fixed else []
    if len(ways) > 1:
        answers: dict[str, Known | Unknown] = {way.option: constant(way.radio == radio.name) for way in ways}
        if len({answer.centre for answer in answers.values() if isinstance(answer, Known)}) > 1:
            return Fact(key, "", Options(answers), Looked(f"the uplink of {radio.node} is left to the equipment"))
    hop = book.hops.get(radio.node)
    makes = hop is not None and hop.radio == radio.name
    return Fact(key, "", constant(makes), Looked("the hops of the site"))


@fact(
    "channel_automatic",
    about="radio",
    unit="",
    type="boolean",
    meaning="true when the file leaves its channel to the equipment (channel: auto)",
)
def channel_automatic(book: Book, subject: Subject) -> Fact:
    radio = book.inventory.radios[subject.ids[0]]
    key = f"channel_automatic[{subject.key}]"
    declared = book.site.nodes[radio.node].radios.get(radio.id)
    if declared is None or declared.channel is None:
        return unknown(key, "", f"the channel of {radio.name} ({radio.path}.channel)")
    by = Given(book.source.where(f"{radio.path}.channel"))
    return Fact(key, "", constant(declared.channel == "auto"), by)


@fact(
    "fixed_channels_beside",
    about="radio",
    unit="",
    digits=0,
    meaning="radios of other own nodes that serve clients in its band on a fixed channel",
)
def fixed_channels_beside(book: Book, subject: Subject) -> Fact:
    radio = book.inventory.radios[subject.ids[0]]
    fixed = [
        other.name
        for other in book.inventory.radios.values()
        if other.node != radio.node and other.band == radio.band and other.serves_clients and other.channel is not None
    ]
    how = "on a fixed channel: " + (", ".join(fixed) or "none")
    return Fact(f"fixed_channels_beside[{subject.key}]", "", constant(float(len(fixed))), Looked(how))


class Choice(NamedTuple):
    """Another channel for a radio: its primary, and how busy it is there."""

    channel: int
    busy: Fact


def other_channels(radio: RadioUnit) -> Iterator[RadioUnit]:
    """The same radio on every other channel of its band and width: 1, 6 and 11 in 2.4 GHz, else one primary of each
    block (in 6 GHz the one where clients look first, 5 + 16 n)."""
    own = span_mhz(radio)
    if radio.band == "2.4":
        primaries = list(NON_OVERLAPPING_2G4_CHANNELS)
    else:
        usual = [block for block in blocks(radio.band, radio.width_mhz) if (radio.band, block.centre) != ("6", 2)]
        primaries = [_primary(block) for block in usual]
    for primary in primaries:
        trial = replace(radio, channel=primary, secondary=None)
        if span_mhz(trial) != own:
            yield trial


def _primary(block: Block) -> int:
    """A primary for a block: in 6 GHz its preferred scanning channel (IEEE 802.11ax-2021 27.3.23.2, from memory)."""
    preferred = [channel for channel in block.channels if block.band == "6" and channel % 16 == 5]
    return preferred[0] if preferred else block.channels[0]


def _busy_here(book: Book, subject: Subject) -> Fact:
    return book.get("busy_share", subject)


def _best_other(book: Book, subject: Subject) -> Choice | None:
    """The least busy channel the extract clears without a radar duty, at the power the radio has, and on which no other
    own radio is heard; None where there is none. Ties go to the lowest."""

    def compute() -> Choice | None:
        radio = book.radios[subject.ids[0]]
        ends = book.cells[radio.name].nodes
        power = power_to_keep(book, subject)
        found = []
        for trial in other_channels(radio):
            what = clearance(book, trial)
            if what is None or what.verdict is not Verdict.CLEARED or what.rules is None or what.rules.dfs:
                continue
            if what.rules.max_eirp_dbm + ROUNDING_DB < power:
                continue
            key = f"busy_share[radio={radio.name}, channel={trial.channel}]"
            busy = hearing.busy_share(book, trial, ends, key)
            found.append((round(_centre(busy), 3), trial.channel or 0, trial, busy))
        for _, channel, trial, busy in sorted(found, key=lambda entry: entry[:2]):
            if not _taken(book, radio, trial) and not _promised(book, radio, trial):
                return Choice(channel, busy)
        return None

    return book.once(("best_other", subject), compute)


def power_to_keep(book: Book, subject: Subject) -> float:
    """The radio's power, or what its own channel clears where that is less: another channel must allow as much."""
    power = _centre(book.get("eirp_dbm", subject))
    own = clearance(book, book.radios[subject.ids[0]])
    return min(power, own.rules.max_eirp_dbm) if own and own.rules and own.rules.covered else power


def _centre(fact: Fact) -> float:
    return float(np.ravel(fact.raw)[CENTRE])


def _taken(book: Book, radio: RadioUnit, trial: RadioUnit) -> bool:
    """Whether another own radio in use is heard on that channel; those joined to this one move with it."""
    joined = {other.name for other in uplinks_over(book, radio)} | {radio.name}
    return any(
        bool(np.ravel(hearing.hears(book, radio.name, other.name))[CENTRE])
        for other in book.radios.values()
        if other.band == radio.band
        and other.name not in joined
        and other.channel is not None
        and channel_overlap(trial, other) > 0
        and hearing.in_use(book, other.name)
    )


WORTH_MOVING = 0.15
"""Share of time a move must gain to be advised (the threshold of `neighbour-busy-clearer-channel-free`)."""


def _promised(book: Book, radio: RadioUnit, trial: RadioUnit) -> bool:
    """Whether a radio that comes before this one by name is advised to move onto that channel and would be heard there:
    two nodes are never sent to one channel."""
    joined = {other.name for other in uplinks_over(book, radio)} | {radio.name}
    for other in book.radios.values():
        if other.name >= radio.name or other.band != radio.band or other.name in joined or other.channel is None:
            continue
        subject = Subject("radio", (other.name,))
        choice = _best_other(book, subject)
        if choice is None or float(np.max(_busy_here(book, subject).raw)) - _centre(choice.busy) <= WORTH_MOVING:
            continue
        moved = replace(other, channel=choice.channel, secondary=None)
        heard = bool(np.ravel(hearing.hears(book, radio.name, other.name))[CENTRE])
        if heard and channel_overlap(trial, moved) > 0:
            return True
    return False


def _something_declared(book: Book, radio: RadioUnit) -> bool:
    return any(
        entry.band == radio.band
        for section in (book.site.neighbours, book.site.interference)
        for entry in section.values()
    )


@formula(
    id="channel_choice.gain_share",
    unit="",
    expr="busy share of its channel - busy share of the other channel",
    source="difference of two shares of time",
)
def gain_of(*, here: Any, there: Any) -> Any:
    return here - there


@fact(
    "channel_gain_share",
    about="radio",
    unit="",
    digits=2,
    meaning="share of time by which the best other channel (cleared, without a radar duty, not taken by own nodes) is "
    "less busy than its own; 0 where there is none",
)
def channel_gain(book: Book, subject: Subject) -> Fact:
    radio = book.radios[subject.ids[0]]
    key = f"channel_gain_share[{subject.key}]"
    if not _something_declared(book, radio):
        return Fact(key, "", constant(0.0), Looked("nothing is declared in its band that could keep it busy"))
    channel = book.get("channel", subject)
    if isinstance(channel.value, Unknown):
        return unknown(key, "", *channel.value.missing)
    here = _busy_here(book, subject)
    if not np.any(np.asarray(here.raw) > 0):
        return Fact(key, "", constant(0.0), Looked("its own channel is free"), (here,))
    missing = not_told(book, subject, clearance(book, radio))
    if missing:
        return unknown(key, "", *missing)
    best = _best_other(book, subject)
    if best is None or _centre(best.busy) > _centre(here):
        return Fact(key, "", constant(0.0), Looked("no other channel that is cleared and free is less busy"), (here,))
    return derive(key, gain_of, here=here, there=best.busy)


@fact(
    "best_other_channel",
    about="radio",
    unit="",
    digits=0,
    meaning="the least busy other channel of its band and width that is cleared, without a radar duty, and not taken "
    "by own nodes heard there",
)
def best_other_channel(book: Book, subject: Subject) -> Fact:
    key = f"best_other_channel[{subject.key}]"
    found = _known_best(book, subject)
    if isinstance(found, Choice):
        how = Looked(f"wireless-regdb {database_version()}, the neighbours and own nodes of the site")
        return Fact(key, "", constant(float(found.channel)), how, (found.busy,))
    return unknown(key, "", *found)


@fact(
    "best_other_busy_share",
    about="radio",
    unit="",
    digits=2,
    meaning="share of time neighbours and interference keep the best other channel busy where it stands",
)
def best_other_busy(book: Book, subject: Subject) -> Fact:
    key = f"best_other_busy_share[{subject.key}]"
    found = _known_best(book, subject)
    return found.busy._replace(key=key) if isinstance(found, Choice) else unknown(key, "", *found)


def _known_best(book: Book, subject: Subject) -> Choice | tuple[str, ...]:
    """The best other channel, or what is missing."""
    missing = not_told(book, subject, clearance(book, book.radios[subject.ids[0]]))
    if missing:
        return missing
    return _best_other(book, subject) or ("another channel that is cleared and that no own node uses",)
