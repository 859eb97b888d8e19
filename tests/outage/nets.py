"""Small nets for outages: a handful of boxes with ways, passwords and places; invented, every figure given."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from typing import Any

from advisor.outage.records import Box, Net, Span, Times, Use, Way

TIMES = Times(
    modem=(150.0, 300.0, 60.0),
    join=(10.0, 60.0, 3.0),
    notice=(20.0, 120.0, 2.0),
    push=(30.0, 180.0, 2.0),
    poe=(5.0, 120.0, 1.0),
    client=(8.0, 40.0, 1.0),
    leave=(10.0, 60.0, 1.0),
)
BANDS = ("2.4", "5")
BOOT: Span = (90.0, 144.0, 54.0)


def air(child: str, parent: str, *bands: str, networks: Sequence[str] = ("home",)) -> tuple[Way, ...]:
    return tuple(
        Way(
            parent,
            "radio",
            band,
            f"{child}.r{band.replace('.', '')}",
            f"{parent}.r{band.replace('.', '')}",
            tuple(networks),
        )
        for band in bands or BANDS
    )


def wire(parent: str) -> tuple[Way, ...]:
    return (Way(parent, "ethernet"),)


def box(name: str, *ways: Way, **about: Any) -> Box:
    given: dict[str, Any] = {
        "id": name,
        "at_line": not ways,
        "feed": "mains",
        "circuit": "",
        "fed_by": "",
        "battery_s": 0.0,
        "boot_s": BOOT,
        "pushed": False,
        "ways": ways,
        "listens_s": {},
        "carries": tuple(("home", band) for band in BANDS),
        "uplink_held": {},
    }
    return Box(**{**given, **about})


def net(*boxes: Box, uses: Sequence[Use] = (), radar: Sequence[str] = (), networks: Sequence[str] = ("home",)) -> Net:
    radios: Mapping[str, str] = {f"{entry.id}.r{band.replace('.', '')}": band for entry in boxes for band in BANDS}
    keys = {(network, band): 1 for network in networks for band in BANDS}
    return Net({entry.id: entry for entry in boxes}, radios, frozenset(radar), keys, tuple(uses), TIMES)


def place(name: str, *radios: str, to: str = "internet", calls: int = 0) -> Use:
    return Use(name, tuple((radio, ("home",)) for radio in radios), to, calls, 1)


def random_net(number: int, most: int = 5, *, pushed: bool | None = None, lent: bool | None = None) -> Net:
    """A gateway and up to `most` further boxes, each with one to three ways to any others; the same number gives the
    same net. `pushed` and `lent` fix how settings come, and whether uplinks use a client network's password."""
    chance = random.Random(number)
    names = ["gate", *(f"n{index}" for index in range(1, chance.randint(1, most) + 1))]
    boxes = [box("gate", boot_s=(chance.uniform(30, 200),) * 3)]
    for name in names[1:]:
        ways: list[Way] = []
        for _ in range(chance.randint(1, 3)):
            parent = chance.choice([other for other in names if other != name])
            if chance.random() < 0.2:
                ways += wire(parent)
            else:
                lends = chance.random() < 0.7 if lent is None else lent
                networks = chance.sample(["home", "yard"], chance.randint(1, 2)) if lends else []
                ways += air(name, parent, chance.choice(BANDS), networks=networks)
        boxes.append(
            box(
                name,
                *dict.fromkeys(ways),
                boot_s=(chance.uniform(30, 200),) * 3,
                pushed=chance.random() < 0.5 if pushed is None else pushed,
                circuit=chance.choice(["", "a", "b"]),
            )
        )
    radios = [f"{name}.{chance.choice(('r24', 'r5'))}" for name in names]
    return net(*boxes, uses=[place("desk", *radios)], networks=["home", "yard"])
