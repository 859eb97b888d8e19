"""A layout as a whole: how its uplinks and channels are computed, what they change in the file, and how it is told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.advice.choices import Space, follow, present_tuning
from advisor.advice.effort import change, plain_band, priced
from advisor.advice.kinds import CROSS_BAND, SAME_BAND, WIRED
from advisor.advice.records import Layout
from advisor.advice.setups import Setup, undeclared
from advisor.facts import joins
from advisor.facts.book import Book, Tuning
from advisor.network.alternatives import on_one_channel, shape
from advisor.network.graph import Hop
from advisor.site.change import Change
from advisor.site.edit import REMOVE, Edit


@dataclass(frozen=True)
class Plan:
    """One choice of everything that varies."""

    setup: Setup
    space: Space
    hops: Mapping[str, Hop]
    tuned: Mapping[str, Tuning]
    """The channel of every radio that sets one for itself and those joined to it."""

    def radios(self) -> dict[str, Tuning]:
        """The channel of every radio that differs from the file's: followers are where their parents are."""
        units = self.setup.book.inventory.radios
        found = {}
        for root, group in on_one_channel(units, self.hops).items():
            tuning = self.tuned.get(root, present_tuning(units[root]))
            for name in group:
                own = tuning if name == root else follow(units[name], tuning)
                if own != present_tuning(units[name]):
                    found[name] = own
        return found

    def book(self) -> Book:
        """The plan at typical figures."""
        base = self.setup.book
        return Book(base.source, draws=base.draws, like=base, fixed=self.hops, tuned=self.radios())

    def layout(self, original: Book) -> Layout:
        changes = (*self.setup.changes, *self.uplink_changes(), *self.channel_changes())
        lengths = {f"hop={cable.node}": cable.length_m or 0.0 for cable in original.site.choices.cables.values()}
        kinds = tuple(dict.fromkeys([*kinds_of(self.book()), *self.setup.kinds]))
        return Layout(self.id(), self._parts(), kinds, priced(changes, original.site.choices.prices, lengths))

    def id(self) -> str:
        """The same in every run: names, cables, positions; then the uplinks; then the channels that differ."""
        hops = [f"{hop.node}>{hop.parent}:{hop.band or hop.over}" for _, hop in sorted(self.hops.items())]
        channels = [
            f"{name}={_channel(tuning)}" for name, tuning in sorted(self.radios().items()) if name in self.tuned
        ]
        return "/".join(part for part in (self.setup.id, ",".join(hops), ",".join(channels)) if part)

    def family(self) -> str:
        """The same for layouts that differ in channels only."""
        hops = [f"{hop.node}>{hop.parent}:{hop.band or hop.over}" for _, hop in sorted(self.hops.items())]
        return f"{self.setup.id}/{','.join(hops)}"

    def _parts(self) -> tuple[str, ...]:
        wires = [hop for hop in self.hops.values() if not hop.air]
        air = [hop for hop in self.hops.values() if hop.air]
        parts = [f"{hop.node} to {hop.parent} by {_wire(hop.over)}" for hop in sorted(wires, key=lambda hop: hop.node)]
        parts += [f"{hop.node} to {hop.parent} on {hop.band} GHz" for hop in sorted(air, key=lambda hop: hop.node)]
        parts += [told for told in self.setup.told if " by cable to " not in told]
        radios = {name: tuning for name, tuning in self.radios().items() if name in self.tuned}
        parts += [f"{name} on {_channel(tuning)}" for name, tuning in sorted(radios.items())]
        return tuple(parts)

    def uplink_changes(self) -> list[Change]:
        """What has to be set for the uplinks that differ from the file."""
        found = []
        site, present = self.setup.book.site, self.setup.book.hops
        for node in sorted(self.space.ways):
            hop, uplink = self.hops[node], site.nodes[node].uplink
            left_open = uplink is not None and (uplink.choice == "node" or uplink.to is None or uplink.band is None)
            if hop == present.get(node) and not left_open:
                continue
            path = ("nodes", node, "uplink")
            edits = [Edit((*path, "to"), hop.parent), Edit((*path, "band"), plain_band(str(hop.band)))]
            if uplink is not None and uplink.choice == "node":
                edits.append(Edit((*path, "choice"), REMOVE))
            radio = self.setup.book.inventory.radios[str(hop.radio)]
            if len(self.setup.book.inventory.radios_of(node, radio.band)) > 1:
                edits.append(Edit((*path, "radio"), radio.id))
            was = present.get(node)
            if left_open:
                operator, verb = "pin-uplink", "Fix"
            elif was is None or was.parent != hop.parent:
                operator, verb = "change-parent", "Change"
            else:
                operator, verb = "change-uplink-band", "Change"
            told = f"{verb} the uplink of {node}: to {hop.parent} on {hop.band} GHz."
            found.append(change(operator, f"hop={node}", told, edits))
        return found

    def channel_changes(self) -> list[Change]:
        found = []
        radios = self.setup.book.inventory.radios
        groups = on_one_channel(radios, self.hops)
        changed = self.radios()
        for root, group in groups.items():
            named = [name for name in group if name in changed]
            if not named:
                continue
            edits = [edit for name in named for edit in self._tuning_edits(name, changed[name])]
            followers = [name for name in named if name != root]
            if root in changed:
                told = f"Set {root} to {_channel(changed[root])}."
                told += f" {_and(followers)} must be there too." if followers else ""
            else:
                told = f"{_and(followers)} must be on {_channel(changed[followers[0]])}, like {root}."
            width = root in changed and changed[root].width_mhz != radios[root].width_mhz
            same = root in changed and changed[root].channel == radios[root].channel
            operator = "set-width" if width and same else "retune"
            found.append(change(operator, f"radio={root}", told, edits))
        return found

    def _tuning_edits(self, name: str, tuning: Tuning) -> list[Edit]:
        unit = self.setup.book.inventory.radios[name]
        declared = self.setup.book.site.nodes[unit.node].radios.get(unit.id)
        path = ("nodes", unit.node, "radios", unit.id)
        edits = undeclared(self.setup.book, unit.node)
        follows_by_itself = declared is None or declared.channel in (None, "auto")
        if not (name not in self.tuned and follows_by_itself) and tuning.channel is not None:
            edits.append(Edit((*path, "channel"), tuning.channel))
        if tuning.width_mhz != unit.width_mhz:
            edits.append(Edit((*path, "width_mhz"), tuning.width_mhz))
        if declared is not None and declared.secondary is not None and tuning.secondary is None:
            edits.append(Edit((*path, "secondary"), REMOVE))
        return edits


def kinds_of(book: Book) -> tuple[str, ...]:
    """Of what kind the uplinks are: nodes and their clients on one band or not, wires, and the shape."""
    mixed, kinds = [], []
    for node, hop in sorted(book.hops.items()):
        if hop.air:
            used = {
                book.inventory.radios[joined.ids[1]].band
                for place in book.site.places
                if (joined := joins.joined_subject(book, place)) is not None
                and book.inventory.radios[joined.ids[1]].node == node
            }
            mixed += [hop.band in used] if used else []
    if mixed:
        kinds.append(SAME_BAND if any(mixed) else CROSS_BAND)
    kinds += [WIRED] if any(not hop.air for hop in book.hops.values()) else []
    kinds += [shape(book.hops)] if len(book.hops) > 1 else []
    return tuple(kinds)


def _channel(tuning: Tuning) -> str:
    number = f"channel {tuning.channel}" if tuning.channel is not None else "a channel not told"
    return f"{number}, {tuning.width_mhz} MHz"


def _wire(over: str) -> str:
    return "cable" if over == "ethernet" else over


def _and(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
