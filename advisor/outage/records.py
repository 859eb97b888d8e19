"""What an outage is about: boxes with power, ways to a parent, credentials; what happens; and what becomes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Literal

Key = tuple[str, str]
"""What a password belongs to: the id of a network and a band."""
Case = Literal[0, 1, 2]
"""Which end of the ranges of time is taken: 0 the typical one, 1 the longest, 2 the shortest."""
Span = tuple[float, float, float]
"""A time in seconds by case: typical, longest, shortest."""
TYPICAL: Case = 0
LONGEST: Case = 1
SHORTEST: Case = 2


@dataclass(frozen=True, slots=True)
class Way:
    """One way a box may reach a parent."""

    parent: str
    over: str
    """radio, ethernet, powerline, coax."""
    band: str = ""
    radio: str = ""
    """The box's own radio, full name; air only."""
    parent_radio: str = ""
    networks: tuple[str, ...] = ()
    """Networks any of whose passwords lets the box in; empty: a credential of its own, or a wire."""

    @property
    def air(self) -> bool:
        return self.over == "radio"

    @property
    def told(self) -> str:
        return f"to {self.parent} on {self.band} GHz" if self.air else f"to {self.parent} by {self.over}"


@dataclass(frozen=True, slots=True)
class Box:
    """One node as power and passwords see it."""

    id: str
    at_line: bool
    """True where the internet line ends."""
    feed: Literal["mains", "poe", "ups"]
    circuit: str
    """Mains circuit, empty where it is not told: then it stands alone."""
    fed_by: str
    """The box that feeds it over its cable (poe)."""
    battery_s: float
    boot_s: Span
    pushed: bool
    """True where new settings come by themselves when it joins, False where a person enters them."""
    ways: tuple[Way, ...]
    """In order of preference."""
    listens_s: Mapping[str, Span]
    """By radio, how long it listens or looks for a channel after the start before it sends."""
    carries: tuple[Key, ...]
    """Networks it serves clients under, by band."""
    uplink_held: Mapping[Key, int]
    """Generation of each password its uplink holds; left out: the network's present one."""

    @property
    def logs_in_by(self) -> set[Key]:
        """Passwords its ways over the air may use."""
        return {(network, way.band) for way in self.ways if way.air for network in way.networks}


@dataclass(frozen=True, slots=True)
class Use:
    """A place: which radios serve it, under which networks, the best first, and where its traffic goes."""

    place: str
    radios: tuple[tuple[str, tuple[str, ...]], ...]
    to: str
    """internet, or a box."""
    calls: int
    clients: int


@dataclass(frozen=True, slots=True)
class Times:
    """Times of the trade, by case."""

    modem: Span
    join: Span
    """Looking for a parent on all channels, and the login."""
    notice: Span
    """Until a box notices that its parent is gone."""
    push: Span
    poe: Span
    """From power at the feeder to power on its ports."""
    client: Span
    """Until a device is back after its radio is."""
    leave: Span
    """Silence while a radio leaves its channel because of radar."""


@dataclass(frozen=True, slots=True)
class Net:
    """The boxes of one site, its passwords and its places."""

    boxes: Mapping[str, Box]
    band_of: Mapping[str, str]
    """Band by radio."""
    radar: frozenset[str]
    """Radios on a channel on which radar must be watched for, or may be."""
    generation: Mapping[Key, int]
    uses: tuple[Use, ...]
    times: Times

    def node_of(self, radio: str) -> str:
        return radio.rpartition(".")[0]


@dataclass(frozen=True, slots=True)
class Happening:
    """What goes wrong. Times in seconds from the start of it."""

    id: str
    told: str
    off: tuple[str, ...] = ()
    """Boxes whose socket has no power."""
    minutes: float = 10.0
    """How long the power, or the air, is away."""
    back_s: tuple[tuple[str, float], ...] = ()
    """When power returns at a socket where that is not when the minutes are over."""
    changed: tuple[Key, ...] = ()
    """Passwords (or names) changed meanwhile, half way through."""
    radar: tuple[str, ...] = ()
    """Radios that see radar."""
    jammed: tuple[tuple[str, str], ...] = ()
    """Boxes and the band their uplink is drowned on."""
    gone: tuple[str, ...] = ()
    """Boxes that never come back."""
    replaced: tuple[str, ...] = ()
    """Boxes that a new one stands for, with the same names and passwords entered."""

    @property
    def long_s(self) -> float:
        return self.minutes * 60.0

    @property
    def ends_s(self) -> float:
        """When the last cause is over."""
        if not (self.off or self.jammed or self.replaced):
            return 0.0
        return max([self.long_s, *(at for _, at in self.back_s)])


@dataclass(frozen=True, slots=True)
class Moment:
    """How things stand from one time on."""

    at_s: float
    started: frozenset[str]
    reached: frozenset[str]
    """Boxes that carry traffic to the line's end."""
    sends: frozenset[str]
    """Radios on the air."""
    line: bool
    parents: Mapping[str, str]
    held: Mapping[str, Mapping[Key, int]]
    newest: Mapping[Key, int]
    """Generation of every password, as devices have it too."""


What = Literal[
    "loses power", "runs on its battery", "battery empty", "has power", "has started", "listens", "sends again",
    "joins", "loses its way", "behind a lost parent", "takes over the new settings",
    "is given the new settings", "sees radar", "is replaced", "line back",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that happens to a box."""

    at_s: float
    box: str
    what: What
    detail: str = ""


State = Literal["unharmed", "by itself", "after a hand", "stranded", "cut off", "off"]
WORST: tuple[State, ...] = ("unharmed", "by itself", "after a hand", "off", "cut off", "stranded")
"""From good to bad."""


@dataclass(frozen=True, slots=True)
class BoxEnd:
    """What became of a box."""

    box: str
    state: State
    back_s: float
    """After the cause is over, until it carries traffic again; inf where it does not."""
    out_s: float
    """How long it carried nothing, from the start of the cause."""
    way: Way | None
    login: str
    """With what it got in: its own credential, a network's password, a wire."""
    why: str
    """Why it needs a hand, or does not come back."""


@dataclass(frozen=True, slots=True)
class PlaceEnd:
    """What became of a place."""

    place: str
    calls: int
    out_s: float
    """Seconds without service; inf where it does not come back."""
    back_s: float
    """After the cause is over, until it is served again; 0 where it never was without."""
    meanwhile: bool
    """Served while the cause lasts, after what it takes to find another node."""
    left_without: bool
    """Not served before either."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """Everything one happening brings about, in one order of return and one case of the times."""

    happening: Happening
    boxes: Mapping[str, BoxEnd]
    places: Mapping[str, PlaceEnd]
    line_out_s: float
    steps: tuple[Step, ...]

    @property
    def worst(self) -> State:
        return max((end.state for end in self.boxes.values()), key=WORST.index, default="unharmed")

    @property
    def dark(self) -> tuple[str, ...]:
        """Places without service while the cause lasts, that had it before."""
        return tuple(name for name, end in self.places.items() if not (end.meanwhile or end.left_without))

    @property
    def longest_s(self) -> float:
        """Longest time a box or a place takes to come back, of those that do."""
        boxes = [end.back_s for end in self.boxes.values()]
        places = [end.back_s for end in self.places.values()]
        return max((back for back in (*boxes, *places) if back < inf), default=0.0)
