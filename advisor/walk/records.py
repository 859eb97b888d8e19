"""What a walk consists of: levels on the way, how the client behaves, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NONE = -1
"""No radio."""


@dataclass(frozen=True, slots=True)
class OnWay:
    """A radio the client may use on its way, under the names its device knows there."""

    name: str
    node: str
    band: str
    channel: int | None
    names: frozenset[bytes]
    security: str
    k: bool = False
    v: bool = False
    r: bool = False
    """Whether the aids are on there."""
    router: bool = False
    """Behind it or at it, addresses are handed out of its own: a call begun elsewhere cannot go on."""
    hidden: bool = False
    """It passes its clients on under its own address."""
    air_hops: int = 0
    drops_below_dbm: float | None = None
    """Level at the node under which it throws a client off; None: never."""
    delay_down_ms: float = 0.0
    """From the internet host to the client, with everyone active."""
    delay_up_ms: float = 0.0
    loss_down: float = 0.0
    """Share of packets lost in queues, with everyone active."""
    loss_up: float = 0.0
    worse: str = "down"
    """The direction a call suffers from more: what is heard of it is judged there."""
    delay_why: str = ""

    @property
    def delay_ms(self) -> float:
        """Mean of both directions: half of the way there and back."""
        return (self.delay_down_ms + self.delay_up_ms) / 2.0

    @property
    def worse_delay_ms(self) -> float:
        return self.delay_up_ms if self.worse == "up" else self.delay_down_ms

    @property
    def worse_loss(self) -> float:
        return self.loss_up if self.worse == "up" else self.loss_down


@dataclass(frozen=True)
class Trail:
    """The way in steps of time, with the level and margin of every radio at every step, without shadowing."""

    walk: str
    step_s: float
    times_s: Array
    walked_m: Array
    points: tuple[str, ...]
    """Per step: `bench to parts-till`, or `at bench`."""
    at: tuple[tuple[float, float, str] | None, ...]
    """Per step: x, y, floor where the file tells positions."""
    radios: tuple[OnWay, ...]
    level_dbm: Array
    """Level at the client, radios × steps; minus infinity where nothing is heard."""
    margin_db: Array
    """Margin of the weaker direction, radios × steps."""
    up_dbm: Array
    """Level at the node, radios × steps."""
    sigma_db: Array
    """Spread of each radio's level, by radio."""
    assumed: tuple[str, ...] = ()
    """What was assumed about the way, in words."""
    missing: tuple[str, ...] = ()
    """What the file would have to give before it is known how a call fares."""


@dataclass(frozen=True, slots=True)
class Behaviour:
    """When the client looks for another radio and how it decides."""

    look_below_dbm: float
    margin_db: float
    preference: str
    """`5-up`, `2.4` or `none`."""
    stickiness: str
    k: bool
    v: bool
    r: bool
    voice_class: bool = False
    """Whether the packets of its calls ride in the voice access class."""


@dataclass(frozen=True, slots=True)
class Limits:
    """From when on a call counts as disturbed."""

    audible_ms: float
    long_ms: float
    dropped_s: float
    mos: float
    codec: str


@dataclass(frozen=True)
class Track:
    """What came of it, draws × steps."""

    serving: Ints
    """Radio joined, by number; NONE while none is."""
    gap_s: Array
    """Seconds of the step in which nothing passes at all."""
    loss: Array
    """Share of the packets lost otherwise."""
    delay_ms: Array
    """One-way delay of the direction that fares worse."""
    level_dbm: Array
    """Level of the radio joined, as heard."""
    changes: tuple[tuple[Change, ...], ...]
    """Per draw, every change of radio."""
    dead: Bools
    """Per draw: the call cannot go on (new addresses behind a router)."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change of radio."""

    at_s: float
    """When the client left."""
    gap_s: float
    from_radio: int
    to_radio: int
    why: str
    """`looked`, `lost`, `asked` (802.11v), `thrown off`."""
    level_before_dbm: float
    level_after_dbm: float
    parts_ms: dict[str, float] = field(default_factory=dict)
    """Where the gap comes from, term by term."""
