"""What may vary of uplinks and channels: as `choices` says, else whatever the equipment lets a person set and the
regulatory extract clears."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from advisor.facts import links, rates
from advisor.facts.abilities import settable
from advisor.facts.book import Book, Tuning
from advisor.facts.channel_choice import clearance, other_channels, power_to_keep
from advisor.network.contention import side, span_mhz
from advisor.network.graph import Hop
from advisor.network.inventory import RadioUnit
from advisor.physics.bands import is_valid_channel
from advisor.physics.regulation import ROUNDING_DB, Verdict
from advisor.subjects import Subject
from advisor.values import CENTRE, Known

NARROWER = {80: 40, 160: 80, 320: 160, 40: 20}
"""The next narrower channel, which may stand in where a person can set the width."""


@dataclass(frozen=True)
class Space:
    """What may vary at a site whose names, cables, positions and powers are set."""

    ways: dict[str, tuple[Hop, ...]]
    """Nodes whose uplink may vary, with every way it may run over the air."""
    held: dict[str, Hop]
    """Uplinks that stay as they are."""
    tunings: dict[str, tuple[Tuning, ...]]
    """Channels each radio may set, the present one first."""
    alike: frozenset[str]
    """Radios whose equipment takes one channel for all nodes of its kind."""
    varied: tuple[str, ...]
    fixed: tuple[str, ...]
    """What varies and what does not, one sentence each."""

    @property
    def roots(self) -> frozenset[str]:
        """Nodes without an uplink."""
        parents = {hop.parent for hop in self.held.values()} | {
            hop.parent for ways in self.ways.values() for hop in ways
        }
        return frozenset(parents - set(self.held) - set(self.ways))


def space_of(book: Book) -> Space:
    """What may vary at a site as this book reads it."""
    said: dict[str, None] = {}
    held: dict[str, Hop] = {}
    ways: dict[str, tuple[Hop, ...]] = {}
    for node in sorted(book.site.nodes):
        present = book.hops.get(node)
        found = _ways(book, node, said)
        if len(found) > 1 or (found and found[0] != present):
            ways[node] = found
        elif present is not None:
            held[node] = present
    varied = [f"The uplink of {node}: {len(found)} ways over the air." for node, found in ways.items()]
    tunings = {name: _tunings(book, radio, said) for name, radio in sorted(book.radios.items())}
    several = [name for name, choices in tunings.items() if len(choices) > 1]
    if several:
        varied.append(f"Channels and widths of {', '.join(several)}: {sum(len(tunings[n]) for n in several)} in all.")
    alike = frozenset(
        name for name in tunings if settable(book, book.inventory.radios[name].node, "channel").value == "all"
    )
    return Space(ways, held, tunings, alike, tuple(varied), tuple(said))


def _ways(book: Book, node: str, said: dict[str, None]) -> tuple[Hop, ...]:
    """Every way the uplink of a node may run over the air; empty where it has none to vary."""
    entry = book.site.nodes[node]
    uplink = entry.uplink
    if entry.role == "gateway" or uplink is None:
        return ()
    if uplink.over != "radio":
        said.setdefault(f"The {uplink.over} uplink of {node} stays.")
        return ()
    chosen = book.site.choices
    any_parent = node in chosen.parents or bool(settable(book, node, "uplink_parent").value)
    any_band = node in chosen.bands or bool(settable(book, node, "uplink_band").value)
    present = book.hops.get(node)
    if not (any_parent or any_band):
        said.setdefault(f"The uplink of {node} stays as it is: its equipment lets neither parent nor band be set.")
        return (present,) if present is not None else ()
    if not any_parent:
        said.setdefault(f"The parent of {node} stays: its equipment does not let it be set.")
    if not any_band:
        said.setdefault(f"The band of the uplink of {node} stays: its equipment does not let it be set.")
    everyone = [other for other in sorted(book.site.nodes) if other != node]
    parents = chosen.parents.get(node) or (everyone if any_parent else [present.parent] if present else everyone)
    bands = chosen.bands.get(node) or ((present.band,) if present and not any_band else ("2.4", "5", "6"))
    found = [hop for parent in parents for hop in _over_air(book, node, parent) if hop.band in bands]
    reached = [hop for hop in found if hop == present or _holds(book, hop)]
    return tuple(sorted(reached, key=lambda hop: (hop != present, hop.parent, str(hop.band), str(hop.radio))))


def _over_air(book: Book, node: str, parent: str) -> Iterable[Hop]:
    uplink = book.site.nodes[node].uplink
    for lower in book.inventory.radios_of(node):
        if uplink is None or uplink.radio in (None, lower.id):
            for upper in book.inventory.radios_of(parent, lower.band):
                yield Hop(node, parent, "radio", lower.name, upper.name, lower.band)


def _holds(book: Book, hop: Hop) -> bool:
    """Whether both ends typically answer; what is not known does not hold."""
    margin = rates.answer_margin_db(book, links.to_radio(str(hop.radio), str(hop.parent_radio))).value
    return isinstance(margin, Known) and float(margin.centre) >= 0


def present_tuning(radio: RadioUnit) -> Tuning:
    return Tuning(radio.channel, radio.width_mhz, radio.secondary)


def follow(radio: RadioUnit, root: Tuning) -> Tuning:
    """The channel of a radio that must be where another one is: that one's, no wider than both can. One whose channel
    is automatic, or not told, finds it by itself."""
    width = min(radio.width_mhz, root.width_mhz)
    if radio.channel is None:
        return Tuning(None, width, radio.secondary)
    return Tuning(root.channel, width, root.secondary)


def _tunings(book: Book, radio: RadioUnit, said: dict[str, None]) -> tuple[Tuning, ...]:
    present = present_tuning(radio)
    told = settable(book, radio.node, "channel").value
    choices = book.site.choices
    channels = {str(band): each for band, each in choices.channels.items()}.get(radio.band, ())
    asked_mhz = {str(band): each for band, each in choices.widths_mhz.items()}.get(radio.band, ())
    if told in (None, "no") and not channels and not asked_mhz:
        said.setdefault(f"The channels of {radio.node} stay: its equipment does not let them be set.")
        return (present,)
    if book.site.site.country is None:
        said.setdefault("Channels stay: which are allowed is not known while the country is not given (site.country).")
        return (present,)
    widths = asked_mhz or _widths(book, radio)
    found = [present]
    for width in widths:
        for trial in _trials(replace(radio, width_mhz=width), channels):
            same = span_mhz(trial) == span_mhz(radio) and trial.channel == radio.channel
            if not same and _allowed(book, radio, trial, by_name=bool(channels)):
                found.append(present_tuning(trial))
    return tuple(dict.fromkeys(found))


def _widths(book: Book, radio: RadioUnit) -> tuple[int, ...]:
    narrower = NARROWER.get(radio.width_mhz)
    if narrower is None or settable(book, radio.node, "width").value is not True:
        return (radio.width_mhz,)
    return (radio.width_mhz, narrower)


def _trials(radio: RadioUnit, channels: tuple[int, ...]) -> list[RadioUnit]:
    if not channels:
        return list(other_channels(replace(radio, channel=None)))
    return [
        replace(radio, channel=channel, secondary=None)
        for channel in channels
        if is_valid_channel(radio.band, channel, radio.width_mhz, side(None, channel))
    ]


def _allowed(book: Book, radio: RadioUnit, trial: RadioUnit, *, by_name: bool) -> bool:
    """Whether the extract clears a channel at the power the radio has; with radar duty only where the file names it."""
    found = clearance(book, trial)
    if found is None or found.verdict is not Verdict.CLEARED or found.rules is None:
        return False
    if found.rules.dfs and not by_name:
        return False
    return found.rules.max_eirp_dbm + ROUNDING_DB >= power_to_keep(book, Subject("radio", (radio.name,)))


def centre(raw: object) -> float:
    import numpy as np

    return float(np.ravel(np.asarray(raw, dtype=float))[CENTRE])
