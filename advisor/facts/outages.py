"""Facts about outages: who comes back by itself after a power cut, a changed password or radar, and how long it takes.

They play the happening out, event by event; rules about them are judged on request.
"""

from __future__ import annotations

from collections.abc import Iterable

from advisor.facts.book import Book
from advisor.facts.catalogue import fact, part
from advisor.facts.outage_net import for_each_login, supplied
from advisor.outage import scenarios
from advisor.outage.ends import simulate
from advisor.outage.records import LONGEST, SHORTEST, TYPICAL, WORST, Happening, Key, Net, Outcome, State
from advisor.subjects import Subject
from advisor.trace import Fact, Given, Looked, Simulated, unknown
from advisor.values import Known, constant

TOGETHER = 2
"""Boxes off at the same time that are looked at, on sites of usual size."""
MANY = 12
"""From more boxes on, each is looked at alone."""


def together(net: Net) -> int:
    return TOGETHER if len(net.boxes) <= MANY else 1


def declared(book: Book) -> dict[str, Happening]:
    """The outages the file declares."""
    return book.once("declared outages", lambda: _declared(book))


def _declared(book: Book) -> dict[str, Happening]:
    net = supplied(book).net
    circuits = scenarios.circuits(net)
    found = {}
    for id, entry in sorted(book.site.outages.items()):
        off: list[str] = []
        for name in entry.off:
            off += [name] if name in net.boxes else circuits.get(name, ())
        keys = [
            key
            for key in sorted(net.generation)
            if key[0] in entry.changed
            and entry.changed[key[0]] != net.generation[key]
            and (not entry.bands or key[1] in entry.bands)
        ]
        found[id] = Happening(
            id=id,
            told=_told(entry.off, entry.gone, entry.replaced, entry.radar_on, keys, entry.minutes),
            off=tuple(dict.fromkeys(off)),
            minutes=entry.minutes,
            changed=tuple(keys),
            radar=entry.radar_on,
            gone=entry.gone,
            replaced=entry.replaced,
        )
    return found


def _told(
    off: Iterable[str],
    gone: Iterable[str],
    replaced: Iterable[str],
    radar: Iterable[str],
    keys: list[Key],
    minutes: float,
) -> str:
    parts = [f"no power for {minutes:g} min: {', '.join(off)}"] if off else []
    parts += [f"gone: {', '.join(gone)}"] if gone else []
    parts += [f"replaced: {', '.join(replaced)}"] if replaced else []
    parts += [f"radar at {', '.join(radar)}"] if radar else []
    if keys:
        bands: dict[str, list[str]] = {}
        for network, band in keys:
            bands.setdefault(network, []).append(band)
        parts += [f"new name or password of {name} on {' and '.join(on)} GHz" for name, on in sorted(bands.items())]
    told = "; ".join(parts) or "nothing happens"
    return f"As the file says: {told}."


def usual(book: Book, most: int | None = None) -> dict[str, Happening]:
    """Every outage looked at, by id: those of the file first, up to `most` boxes off at once."""
    net = supplied(book).net
    found = scenarios.usual(net, together(net) if most is None else most)
    return {**declared(book), **{entry.id: entry for entry in found if entry.id not in book.site.outages}}


def play(book: Book, happening: Happening) -> tuple[Outcome, Outcome, Outcome]:
    """The outcome in the order of return that ends worst, with typical, longest and shortest times."""

    def compute() -> tuple[Outcome, Outcome, Outcome]:
        net = supplied(book).net
        typical = scenarios.worst_order(net, happening)
        order = typical.happening
        return typical, simulate(net, order, LONGEST), simulate(net, order, SHORTEST)

    return book.once(("outage", happening), compute)


@part("subjects outage")
def outage_subjects(book: Book) -> list[Subject]:
    return [Subject("outage", (name,)) for name in sorted(book.site.outages)]


def missing_for(book: Book, names: Iterable[str]) -> tuple[str, ...]:
    """What the file would have to tell before these nodes can be judged."""
    missing = supplied(book).missing
    return tuple(dict.fromkeys(reason for name in names for reason in missing.get(name, ())))


def _played(events: int, order: Happening) -> Simulated:
    later = tuple(f"{name} gets its power last" for name, _ in order.back_s)
    return Simulated(1, 0, (f"{events} events", *later))


def _counted(book: Book, subject: Subject, name: str, states: tuple[State, ...]) -> Fact:
    key = f"{name}[{subject.key}]"
    missing = missing_for(book, book.site.nodes)
    if missing:
        return unknown(key, "", *missing)
    happening = declared(book)[subject.ids[0]]
    found = play(book, happening)[0]
    count = sum(end.state in states for end in found.boxes.values())
    open_ends = [name for name in found.boxes if _hangs_on_login(book, name, happening, states, count)]
    if open_ends:
        told = (f"the network whose password {name} uses (nodes.{name}.backhaul.network)" for name in open_ends)
        return unknown(key, "", *told)
    rests = tuple(entry for box in found.boxes for entry in supplied(book).logins_of(box))
    return Fact(
        key, "", constant(float(count)), _played(len(found.steps), found.happening), tuple(dict.fromkeys(rests))
    )


def _hangs_on_login(book: Book, name: str, happening: Happening, states: tuple[State, ...], count: int) -> bool:
    """Whether the count would be another with one of the passwords the uplink of a node may use."""
    nets = for_each_login(book, name)
    if len(nets) < 2:
        return False
    trials = (scenarios.worst_order(net, happening) for net in nets)
    return any(sum(end.state in states for end in found.boxes.values()) != count for found in trials)


@fact(
    "nodes_stranded", about="outage", unit="", digits=0, meaning="nodes that do not find their way back by themselves"
)
def nodes_stranded(book: Book, subject: Subject) -> Fact:
    return _counted(book, subject, "nodes_stranded", ("stranded", "cut off"))


@fact(
    "nodes_waiting_for_a_hand",
    about="outage",
    unit="",
    digits=0,
    meaning="nodes that are reachable again and need an entry by a person",
)
def nodes_waiting(book: Book, subject: Subject) -> Fact:
    return _counted(book, subject, "nodes_waiting_for_a_hand", ("after a hand",))


@fact("stranded_told", about="outage", unit="", type="class", meaning="nodes that need somebody, with the reason")
def stranded_told(book: Book, subject: Subject) -> Fact:
    found = play(book, declared(book)[subject.ids[0]])[0]
    lines = [
        f"{name} ({end.why})"
        for name, end in found.boxes.items()
        if WORST.index(end.state) >= WORST.index("after a hand") and end.state != "off"
    ]
    told = constant("; ".join(lines) or "none")
    return Fact(f"stranded_told[{subject.key}]", "", told, _played(len(found.steps), found.happening))


@fact("happens", about="outage", unit="", type="class", meaning="what happens in the outage, in words")
def happens(book: Book, subject: Subject) -> Fact:
    told = declared(book)[subject.ids[0]].told
    by = Given(book.source.where(f"outages.{subject.ids[0]}"))
    return Fact(f"happens[{subject.key}]", "", constant(told), by)


# the whole site


@fact(
    "set_by_hand",
    about="site",
    unit="",
    digits=0,
    meaning="nodes at which a person must enter a new name or password, those at the line not counted",
)
def set_by_hand(book: Book, subject: Subject) -> Fact:
    net = supplied(book).net
    names = by_hand(net)
    how = Looked("nodes: " + (", ".join(names) or "none"))
    rests = tuple(e for name in names for e in supplied(book).logins_of(name) if e.key.startswith("settings"))
    return Fact("set_by_hand", "", constant(float(len(names))), how, rests)


def by_hand(net: Net) -> list[str]:
    """Boxes away from the line at which a person enters new settings."""
    return [name for name, box in sorted(net.boxes.items()) if not (box.pushed or box.at_line) and box.carries]


def _circuit_of(net: Net, name: str) -> str | None:
    """The mains circuit a box hangs on in the end; None where a battery holds it, empty where it is not told."""
    seen: set[str] = set()
    while name not in seen:
        seen.add(name)
        box = net.boxes[name]
        if box.feed == "ups":
            return None
        if box.feed != "poe":
            return box.circuit
        if box.fed_by not in net.boxes:
            return ""
        name = box.fed_by
    return ""


@fact(
    "nodes_on_one_circuit",
    about="site",
    unit="",
    type="boolean",
    meaning="true when two or more nodes are all there are and hang on one mains circuit, without a battery",
)
def nodes_on_one_circuit(book: Book, subject: Subject) -> Fact:
    net = supplied(book).net
    found = {name: _circuit_of(net, name) for name in net.boxes}
    told = {circuit for circuit in found.values() if circuit is not None}
    key = "nodes_on_one_circuit"
    if len(told - {""}) > 1 or None in found.values() or len(found) < 2:
        return Fact(key, "", constant(False), Looked("circuits and batteries of the nodes"))
    if "" in told:
        lacking = sorted(name for name, circuit in found.items() if circuit == "")
        return unknown(key, "", *(f"the mains circuit of {name} (nodes.{name}.power.circuit)" for name in lacking))
    return Fact(key, "", constant(True), Looked(f"circuit: {', '.join(sorted(told))}"))


@fact(
    "circuits_told", about="site", unit="", type="boolean", meaning="true when the file names a mains circuit at a node"
)
def circuits_told(book: Book, subject: Subject) -> Fact:
    told = bool(scenarios.circuits(supplied(book).net))
    return Fact("circuits_told", "", constant(told), Looked("power.circuit of the nodes"))


@fact(
    "back_after_cut_min",
    about="site",
    unit="min",
    digits=0,
    meaning="how long after a power cut everywhere until the last node and place are served again, of those that come "
    "back by themselves",
)
def back_after_cut(book: Book, subject: Subject) -> Fact:
    key = "back_after_cut_min"
    missing = missing_for(book, book.site.nodes)
    if missing:
        return unknown(key, "min", *missing)
    net = supplied(book).net
    everything = scenarios.everything_off(net)
    cases = (TYPICAL, LONGEST, SHORTEST)
    typical, longest, shortest = (simulate(net, everything, case).longest_s / 60.0 for case in cases)
    rests = tuple(entry for entries in supplied(book).assumed.values() for entry in entries if entry.unit == "s")
    return Fact(key, "min", Known(typical, shortest, longest), Simulated(1, 0, ("power fails everywhere",)), rests)


def returning(book: Book) -> tuple[int, int] | None:
    """How many of the outages of single nodes, circuits and all together, and of passwords changed while one node is
    off, end with everything back by itself; and how many there are. None where the file does not tell enough."""
    if missing_for(book, book.site.nodes):
        return None
    found = [simulate(supplied(book).net, entry) for entry in weighed(supplied(book).net)]
    return sum(outcome.worst in ("unharmed", "by itself") for outcome in found), len(found)


def weighed(net: Net) -> list[Happening]:
    """Every box, every circuit and everything without power; all passwords changed while one box is off."""
    others = [(name,) for name, box in sorted(net.boxes.items()) if not box.at_line]
    return [*scenarios.without_power(net, 1), *scenarios.everything_new(net, others)]
