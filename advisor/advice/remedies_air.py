"""Changes of a radio: its channel and width with those that must follow, its power, its basic rates."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.advice.choices import Space, present_tuning, space_of
from advisor.advice.effort import change
from advisor.advice.layouts import Plan
from advisor.advice.setups import Setup, power_edits, undeclared
from advisor.facts.book import Book, Tuning
from advisor.network.alternatives import on_one_channel
from advisor.physics.bands import NON_OVERLAPPING_2G4_CHANNELS
from advisor.site.change import Change
from advisor.site.edit import Edit

MOST_CHANNELS = 4
MOST_POWERS = 4
STEP_DB = 3.0
LEAST_DBM = 5.0
BASIC_RATES_MBPS = [6.0, 12.0, 24.0]
"""Basic rates without those of 802.11b (IEEE 802.11-2020 clause 18: mandatory OFDM rates, from memory)."""


def plan_of(book: Book, tuned: Mapping[str, Tuning], space: Space | None = None) -> Plan:
    """The site as it runs, with some radios on another channel."""
    setup = Setup("", (), (), (), book.source, book)  # type: ignore[arg-type]
    return Plan(setup, space or space_of_book(book), book.hops, tuned)


def space_of_book(book: Book) -> Space:
    return book.once("remedies space", lambda: space_of(book))


def _root(book: Book, radio: str) -> str:
    """The radio that sets the channel of this one: the one nearest to the line of those joined to it."""
    groups = on_one_channel(book.inventory.radios, book.hops)
    return next((root for root, group in groups.items() if radio in group), radio)


def _tuned(book: Book, radio: str, tunings: list[Tuning]) -> list[Change]:
    root = _root(book, radio)
    return [found for tuning in tunings for found in plan_of(book, {root: tuning}).channel_changes()]


def retune(book: Book, radio: str) -> list[Change]:
    """Other channels of the same width; in 2.4 GHz the three that do not overlap."""
    root = _root(book, radio)
    present = present_tuning(book.radios[root])
    wanted = [
        tuning
        for tuning in space_of_book(book).tunings.get(root, ())
        if tuning.channel != book.inventory.radios[root].channel and tuning.width_mhz == present.width_mhz
    ]
    if book.radios[root].band == "2.4":
        wanted = [tuning for tuning in wanted if tuning.channel in NON_OVERLAPPING_2G4_CHANNELS] or wanted
    return _tuned(book, radio, _spread(wanted))


def _spread(tunings: list[Tuning]) -> list[Tuning]:
    """A few channels spread over those there are."""
    if len(tunings) <= MOST_CHANNELS:
        return tunings
    step = (len(tunings) - 1) / (MOST_CHANNELS - 1)
    return [tunings[round(index * step)] for index in range(MOST_CHANNELS)]


def set_width(book: Book, radio: str) -> list[Change]:
    """Narrower channels around the same primary."""
    root = _root(book, radio)
    present = present_tuning(book.radios[root])
    narrower = [
        tuning
        for tuning in space_of_book(book).tunings.get(root, ())
        if tuning.channel == present.channel and tuning.width_mhz < present.width_mhz
    ]
    return _tuned(book, radio, narrower)


def set_power(book: Book, radio: str) -> list[Change]:
    """Other powers: those the file lists to compare, the steps of the equipment, else some 3 dB apart, downwards."""
    unit = book.inventory.radios[radio]
    if unit.eirp_dbm is None:
        return []
    listed = list(book.site.choices.powers_dbm.get(radio, ()))
    steps = list(book.site.nodes[unit.node].settable.power_steps_dbm)
    now = float(unit.eirp_dbm)
    wanted = listed or steps or [now - STEP_DB * number for number in range(1, MOST_POWERS + 1)]
    near = sorted(
        {power for power in wanted if power != now and power >= LEAST_DBM}, key=lambda power: abs(power - now)
    )
    found = []
    for power in near[:MOST_POWERS]:
        value = int(power) if power == int(power) else power
        told = f"Set {radio} from {now:g} to {power:g} dBm radiated power."
        found.append(change("set-power", f"radio={radio}", told, power_edits(book, radio, value)))
    return found


def set_basic_rates(book: Book, radio: str) -> list[Change]:
    unit = book.inventory.radios[radio]
    edits = [
        *undeclared(book, unit.node),
        Edit(("nodes", unit.node, "radios", unit.id, "basic_rates_mbps"), BASIC_RATES_MBPS),
    ]
    told = f"Set the basic rates of {radio} to 6, 12 and 24 Mb/s; devices with 802.11b alone can no longer join."
    return [change("set-basic-rates", f"radio={radio}", told, edits)]
