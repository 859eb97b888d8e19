"""Which outages are looked at: boxes and circuits without power, alone and together, in every order of return that
matters; passwords changed, also while boxes are off; a box stolen or replaced; radar on a hop; a hop's band drowned.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from advisor.outage.ends import simulate
from advisor.outage.records import WORST, Happening, Key, Net, Outcome

APART_S = 900.0
"""How long after the others the last socket gets its power back, where the order is tried."""
EVERYTHING = "everything-off"


def circuits(net: Net) -> dict[str, tuple[str, ...]]:
    """Boxes by the mains circuit their socket hangs on; those fed over a cable fall with their feeder."""
    found: dict[str, list[str]] = {}
    for name, box in sorted(net.boxes.items()):
        if box.circuit and box.feed != "poe":
            found.setdefault(box.circuit, []).append(name)
    return {circuit: tuple(names) for circuit, names in sorted(found.items())}


def without_power(net: Net, most: int) -> list[Happening]:
    """Every box alone, up to `most` together, every circuit, and everything at once."""
    names = sorted(net.boxes)
    found = [
        Happening(f"without-{'-and-'.join(group)}", f"{_listed(group)} {_verb(group)} without power.", off=group)
        for size in range(1, min(most, len(names)) + 1)
        for group in combinations(names, size)
    ]
    for circuit, group in circuits(net).items():
        told = f"The circuit {circuit} is without power ({_listed(group)})."
        found.append(Happening(f"circuit-{circuit}", told, off=group))
    return [*found, everything_off(net)]


def everything_off(net: Net) -> Happening:
    """Every socket without power."""
    sockets = tuple(name for name, box in sorted(net.boxes.items()) if box.feed != "poe") or tuple(sorted(net.boxes))
    return Happening(EVERYTHING, "Power fails everywhere.", off=sockets)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _verb(names: Sequence[str]) -> str:
    return "is" if len(names) == 1 else "are"


def passwords(net: Net) -> dict[str, tuple[Key, ...]]:
    """What may be changed: each network on one band and on all its bands, by a name for it."""
    by_network: dict[str, list[Key]] = {}
    for key in sorted(net.generation):
        by_network.setdefault(key[0], []).append(key)
    found: dict[str, tuple[Key, ...]] = {}
    for network, keys in by_network.items():
        found[network] = tuple(keys)
        if len(keys) > 1:
            found |= {f"{network}-on-{key[1]}-ghz": (key,) for key in keys}
    return found


def new_passwords(net: Net, groups: Iterable[Sequence[str]]) -> list[Happening]:
    """Passwords changed while nobody is off, and while each group of boxes is. A box at the line is always there: the
    change is made at it."""
    found = []
    for name, keys in passwords(net).items():
        bands = [key[1] for key in keys]
        where = f"on {bands[0]} GHz alone" if "-on-" in name else f"on {' and '.join(bands)} GHz"
        told = f"The network {keys[0][0]} gets a new name or password {where}"
        found.append(Happening(f"new-{name}", f"{told}.", changed=keys))
        for group in groups:
            if all(concerned(net, box, keys) for box in group):
                id = f"new-{name}-without-{'-and-'.join(group)}"
                found.append(
                    Happening(id, f"{told} while {_listed(group)} {_verb(group)} off.", off=tuple(group), changed=keys)
                )
    return found


def concerned(net: Net, box: str, keys: Iterable[Key]) -> bool:
    """Whether a box away from the line serves or logs in by one of these passwords."""
    return not net.boxes[box].at_line and bool({*net.boxes[box].carries, *net.boxes[box].logs_in_by} & set(keys))


def everything_new(net: Net, groups: Iterable[Sequence[str]]) -> list[Happening]:
    """All networks changed on all bands at once, while each group of boxes is off."""
    keys = tuple(sorted(net.generation))
    told = "All names or passwords change"
    return [
        Happening(
            f"all-new-without-{'-and-'.join(group)}",
            f"{told} while {_listed(group)} {_verb(group)} off.",
            off=tuple(group),
            changed=keys,
        )
        for group in groups
        if all(concerned(net, box, keys) for box in group)
    ]


def troubled_air(net: Net) -> list[Happening]:
    """Radar on the channel of each hop that has the duty, and each air hop's band drowned."""
    found = []
    seen: set[str] = set()
    for name, box in sorted(net.boxes.items()):
        way = next((way for way in box.ways if way.air), None)
        if way is None or box.at_line:
            continue
        if way.parent_radio in net.radar and way.parent_radio not in seen:
            seen.add(way.parent_radio)
            told = f"Radar is seen on the channel of {way.parent_radio}."
            found.append(Happening(f"radar-at-{way.parent_radio.replace('.', '-')}", told, radar=(way.parent_radio,)))
        told = f"Something drowns {way.band} GHz at {name} for ten minutes."
        found.append(Happening(f"drowned-{name}", told, jammed=((name, way.band),)))
    return found


def lost_boxes(net: Net) -> list[Happening]:
    """Each box but those at the line stolen; each box at the line replaced by a new one."""
    found = []
    for name, box in sorted(net.boxes.items()):
        if box.at_line:
            told = f"{name} is replaced by a new box, given the same names and passwords."
            found.append(Happening(f"new-box-for-{name}", told, replaced=(name,), minutes=60.0))
        else:
            found.append(Happening(f"stolen-{name}", f"{name} is stolen, or dead for good.", gone=(name,)))
    return found


def usual(net: Net, most: int = 2) -> list[Happening]:
    """All that is looked at for a site."""
    others = [name for name, box in sorted(net.boxes.items()) if not box.at_line]
    groups = [group for size in range(1, min(most, len(others)) + 1) for group in combinations(others, size)]
    if len(others) > most:
        groups.append(tuple(others))
    return [
        *without_power(net, most),
        *new_passwords(net, groups),
        *everything_new(net, groups),
        *troubled_air(net),
        *lost_boxes(net),
    ]


def orders(net: Net, happening: Happening) -> Iterator[Happening]:
    """In which order power returns, as far as it matters: all at once, and each socket as the last one, long after the
    others. What happens after the last return hangs on who that is: by then all others have come to rest."""
    yield happening
    if len(happening.off) > 1:
        for last in happening.off:
            yield replace(happening, back_s=((last, happening.long_s + APART_S),))


def worst_order(net: Net, happening: Happening) -> Outcome:
    """The outcome of the order that ends worst, then takes longest; the first of equals."""
    outcomes = [simulate(net, order) for order in orders(net, happening)]
    return max(outcomes, key=lambda found: (WORST.index(found.worst), round(found.longest_s, 3)))
