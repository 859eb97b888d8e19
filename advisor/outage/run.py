"""The event simulation: boxes lose and get power, start, look for a parent, log in, take over settings.

Rules of the game (common practice, no source): a box that has started looks for a parent for as long as it takes; it
joins the first of its ways whose parent carries traffic and whose password it holds; a parent that restarts or gets a
new password throws its children off; settings are pushed to a box when it has joined, or a person enters them at every
box that runs at that time.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from advisor.outage.records import Case, Happening, Key, Moment, Net, Step, Way, What

MOST_EVENTS = 20_000
FOLLOWED_S = 2.0
"""A change of channel that takes no longer is announced, and the children follow."""


class Run:
    """One happening played on one net, with one case of the times."""

    def __init__(self, net: Net, happening: Happening, case: Case) -> None:
        self.net, self.happening, self.case = net, happening, case
        self.now = 0.0
        self.boxes = net.boxes
        self.order = sorted(net.boxes)
        self.powered = dict.fromkeys(self.order, True)
        self.started = dict.fromkeys(self.order, True)
        self.epoch = dict.fromkeys(self.order, 0)
        self.sends = set(net.band_of)
        self.moving: dict[str, float] = {}
        self.newest = dict(net.generation)
        self.held = {name: dict(net.generation) for name in net.boxes}
        self.logins = {name: {**net.generation, **box.uplink_held} for name, box in net.boxes.items()}
        self.joined: dict[str, tuple[Way, Key | None]] = {}
        self.pending: set[str] = set()
        self.waiting: set[str] = set()
        self.quiet: dict[str, float] = {}
        self.cut: set[str] = set()
        self.jammed: set[tuple[str, str]] = set()
        self.strangers: set[str] = set()
        self.line = True
        self.steps: list[Step] = []
        self.moments: list[Moment] = []
        self._heap: list[tuple[float, int, Callable[..., None], tuple[Any, ...]]] = []
        self._count = 0
        self._join_before()

    def play(self) -> None:
        """From the start of what happens until nothing happens any more."""
        self._note()
        self._plan()
        while self._heap:
            self.now, _, event, details = heapq.heappop(self._heap)
            event(*details)
            if not self._heap or self._heap[0][0] > self.now:
                self._settle()
            if self._count > MOST_EVENTS:
                raise RuntimeError(f"{self.happening.id}: it never comes to rest")

    def at(self, when: float, event: Callable[..., None], *details: Any) -> None:
        self._count += 1
        heapq.heappush(self._heap, (when, self._count, event, details))

    def say(self, box: str, what: What, detail: str = "") -> None:
        self.steps.append(Step(self.now, box, what, detail))

    def _plan(self) -> None:
        what = self.happening
        later = dict(what.back_s)
        for box in sorted({*what.off, *what.gone, *what.replaced}):
            self.at(0.0, self._cut, box)
            if box not in what.gone:
                self.at(later.get(box, what.long_s), self._restore, box)
        for box, band in what.jammed:
            self.at(0.0, self.jammed.add, (box, band))
            self.at(what.long_s, self.jammed.discard, (box, band))
        if what.changed:
            self.at(what.long_s / 2.0 if what.off or what.jammed else 0.0, self._change, what.changed)
        for radio in what.radar:
            self.at(0.0, self._radar, radio)

    # power

    def _cut(self, name: str) -> None:
        box = self.boxes[name]
        self.cut.add(name)
        if box.feed == "ups" and name not in (*self.happening.gone, *self.happening.replaced):
            self.say(name, "runs on its battery")
            self.at(self.now + box.battery_s, self._empty, name)
        else:
            self._fall(name, "loses power")

    def _empty(self, name: str) -> None:
        if name in self.cut:
            self._fall(name, "battery empty")

    def _fall(self, name: str, what: What) -> None:
        """A box without power; those it feeds fall with it."""
        if not self.powered[name]:
            return
        self.powered[name] = self.started[name] = False
        self.epoch[name] += 1
        self.joined.pop(name, None)
        self.pending.discard(name)
        self.sends -= {radio for radio in self.net.band_of if self.net.node_of(radio) == name}
        self.say(name, what)
        for other in self.order:
            if self.boxes[other].feed == "poe" and self.boxes[other].fed_by == name:
                self._fall(other, "loses power")
        if self.boxes[name].at_line and not any(self.powered[other] for other in self._roots()):
            self.line = False

    def _restore(self, name: str) -> None:
        self.cut.discard(name)
        if name in self.happening.replaced:
            self.say(name, "is replaced")
            self.strangers.add(name)
            self.held[name], self.logins[name] = dict(self.newest), dict(self.newest)
        self._power(name)

    def _power(self, name: str) -> None:
        """Power reaches a box: from its socket, or from a feeder that has power itself."""
        box = self.boxes[name]
        if self.powered[name] or name in self.cut or name in self.happening.gone:
            return
        if box.feed == "poe" and not self.powered.get(box.fed_by, False):
            return
        self.powered[name] = True
        self.say(name, "has power")
        self.at(self.now + box.boot_s[self.case], self._start, name, self.epoch[name])
        for other in self.order:
            if self.boxes[other].feed == "poe" and self.boxes[other].fed_by == name:
                self.at(self.now + self.net.times.poe[self.case], self._power, other)
        if box.at_line and not self.line:
            self.at(self.now + self.net.times.modem[self.case], self._line_back, name, self.epoch[name])

    def _line_back(self, name: str, epoch: int) -> None:
        if self.epoch[name] == epoch and not self.line:
            self.line = True
            self.say(name, "line back")

    def _start(self, name: str, epoch: int) -> None:
        if self.epoch[name] != epoch:
            return
        self.started[name] = True
        self.say(name, "has started")
        for radio in sorted(self.net.band_of):
            if self.net.node_of(radio) == name:
                wait = self.boxes[name].listens_s.get(radio, (0.0, 0.0, 0.0))[self.case]
                if wait:
                    self.say(name, "listens", radio)
                    self.at(self.now + wait, self._send, radio, epoch)
                else:
                    self.sends.add(radio)

    def _send(self, radio: str, epoch: int) -> None:
        name = self.net.node_of(radio)
        if self.epoch[name] == epoch and self.started[name]:
            self.moving.pop(radio, None)
            self.sends.add(radio)
            self.say(name, "sends again", radio)

    # passwords and channels

    def _change(self, keys: tuple[Key, ...]) -> None:
        """New passwords: at once on boxes that can be reached, by hand on others that run."""
        reached = self._reaching()
        for key in keys:
            self.newest[key] += 1
        for name in self.order:
            box = self.boxes[name]
            runs = self.started[name] and (name in reached or not box.pushed)
            if not (runs or box.at_line):
                continue
            for key in keys:
                self.held[name][key] = self.logins[name][key] = self.newest[key]
            carries = [key for key in keys if key in box.carries]
            if not box.pushed and (carries or set(keys) & box.logs_in_by):
                self.say(name, "is given the new settings")
            elif carries:
                self.say(name, "takes over the new settings")
            if name in self.joined and self.joined[name][1] in keys:
                self._lose(name, "the password changed", 0.0)

    def _push(self, name: str, epoch: int) -> None:
        if self.epoch[name] == epoch and name in self._reaching() and self._stale(name):
            self.held[name], self.logins[name] = dict(self.newest), dict(self.newest)
            self.say(name, "takes over the new settings")

    def _stale(self, name: str) -> bool:
        box = self.boxes[name]
        served = any(self.held[name][key] != self.newest[key] for key in box.carries)
        return served or any(self.logins[name][key] != self.newest[key] for key in box.logs_in_by)

    def _radar(self, radio: str) -> None:
        name = self.net.node_of(radio)
        wait = self.net.times.leave[self.case]
        self.say(name, "sees radar", radio)
        self.sends.discard(radio)
        self.moving[radio] = wait
        self.at(self.now + wait, self._send, radio, self.epoch[name])

    # uplinks

    def _roots(self) -> list[str]:
        return [name for name in self.order if self.boxes[name].at_line]

    def _reaching(self) -> set[str]:
        """Boxes whose way leads up to the line's end, all of it running."""
        found = {name for name in self._roots() if self.started[name]}
        grown = True
        while grown:
            more = {
                name
                for name, (way, _) in self.joined.items()
                if name not in found and way.parent in found and self.started[name]
            }
            found |= more
            grown = bool(more)
        return found

    def login(self, name: str, way: Way) -> tuple[bool, Key | None]:
        """Whether a box gets in at a parent, and with which password."""
        if not way.air:
            return True, None
        if not way.networks:
            return way.parent not in self.strangers, None
        for network in way.networks:
            key = (network, way.band)
            if key in self.newest and self.logins[name][key] == self.held[way.parent][key]:
                return True, key
        return False, None

    def open_way(self, name: str, way: Way) -> bool:
        """Whether the parent can be heard at all."""
        if not self.started[way.parent]:
            return False
        return not way.air or (way.parent_radio in self.sends and (name, way.band) not in self.jammed)

    def _still(self, name: str, way: Way, key: Key | None) -> bool:
        """Whether an uplink that was made still holds."""
        followed = self.moving.get(way.parent_radio, FOLLOWED_S + 1) <= FOLLOWED_S and self.started[way.parent]
        if not (self.open_way(name, way) or followed):
            return False
        return key is None or self.logins[name][key] == self.held[way.parent][key]

    def _lose(self, name: str, why: str, quiet_s: float) -> None:
        self.joined.pop(name, None)
        self.say(name, "loses its way", why)
        self.quiet[name] = self.now + quiet_s
        self.at(self.quiet[name], self._nothing)

    def _nothing(self) -> None:
        """A moment at which it is looked again."""

    def _settle(self) -> None:
        lost = True
        while lost:
            lost = False
            for name, (way, key) in list(self.joined.items()):
                if not self._still(name, way, key):
                    self._lose(name, way.told, self.net.times.notice[self.case] if self.started[name] else 0.0)
                    lost = True
        reached = self._reaching()
        for name in self.order:
            if not self.started[name] or name in reached or self.boxes[name].at_line:
                self.waiting.discard(name)
                continue
            if name in self.joined and name not in self.waiting:
                self.waiting.add(name)
                self.say(name, "behind a lost parent", self.joined[name][0].parent)
                self.quiet[name] = self.now + self.net.times.notice[self.case]
                self.at(self.quiet[name], self._nothing)
            if self.now >= self.quiet.get(name, 0.0) and name not in self.pending and self._find(name, reached):
                self.pending.add(name)
                self.at(self.now + self.net.times.join[self.case], self._join, name, self.epoch[name])
        self._note()

    def _find(self, name: str, reached: set[str]) -> tuple[Way, Key | None] | None:
        for way in self.boxes[name].ways:
            if way.parent in reached and self.open_way(name, way):
                allowed, key = self.login(name, way)
                if allowed:
                    return way, key
        return None

    def _join(self, name: str, epoch: int) -> None:
        self.pending.discard(name)
        if self.epoch[name] != epoch or not self.started[name]:
            return
        reached = self._reaching()
        found = None if name in reached else self._find(name, reached)
        if found is None:
            return
        self.joined[name] = found
        self.say(name, "joins", found[0].told)
        if self.boxes[name].pushed:
            self.at(self.now + self.net.times.push[self.case], self._push, name, epoch)

    def _join_before(self) -> None:
        """How everything runs before anything happens: on the first way of each, as far as these make a whole."""
        for name in self.order:
            for way in self.boxes[name].ways[:1]:
                allowed, key = self.login(name, way)
                if allowed:
                    self.joined[name] = way, key
        reached = self._reaching()
        self.joined = {name: found for name, found in self.joined.items() if name in reached}
        grown = True
        while grown:
            grown = False
            reached = self._reaching()
            for name in self.order:
                found = None if name in reached else self._find(name, reached)
                if found is not None:
                    self.joined[name] = found
                    grown = True

    def _note(self) -> None:
        changes = bool(self.happening.changed or self.happening.replaced)
        moment = Moment(
            at_s=self.now,
            started=frozenset(name for name in self.order if self.started[name]),
            reached=frozenset(self._reaching()),
            sends=frozenset(self.sends | {radio for radio, wait in self.moving.items() if wait <= FOLLOWED_S}),
            line=self.line,
            parents={name: way.parent for name, (way, _) in sorted(self.joined.items())},
            held={name: dict(keys) for name, keys in self.held.items()} if changes else self.held,
            newest=dict(self.newest) if changes else self.newest,
        )
        if self.moments and self.moments[-1].at_s == self.now > 0.0:
            self.moments.pop()
        if not self.moments or replace(self.moments[-1], at_s=self.now) != moment:
            self.moments.append(moment)
