"""Facts about one node and its uplink when power, passwords or channels fail: whether it comes back, and whom it takes
along."""

from __future__ import annotations

from advisor.facts.book import Book
from advisor.facts.catalogue import fact
from advisor.facts.outage_net import for_each_login, supplied
from advisor.facts.outages import missing_for
from advisor.outage import graph
from advisor.outage.ends import simulate
from advisor.outage.records import Happening, Key, Net, State
from advisor.subjects import Subject
from advisor.trace import Fact, Looked, Simulated, unknown
from advisor.values import Known, constant


def _login_keys(net: Net, name: str) -> tuple[Key, ...]:
    return tuple(sorted(net.boxes[name].logs_in_by & set(net.generation)))


def _alone_off(book: Book, subject: Subject, name: str, by: str, keys_of: str) -> Fact:
    """Whether a node is in a state after passwords changed while it alone was off; not known where that hangs on which
    password its uplink uses."""
    box = subject.ids[0]
    key = f"{name}[{subject.key}]"
    missing = missing_for(book, [box])
    if missing:
        return unknown(key, "", *missing)
    answers = [_changed(net, box, by, keys_of) for net in for_each_login(book, box)]
    if len(set(answers)) > 1:
        return unknown(key, "", f"the network whose password {box} uses (nodes.{box}.backhaul.network)")
    inputs = supplied(book).logins_of(box)
    return Fact(key, "", constant(answers[0]), Simulated(1, 0, (f"{box} off, passwords changed meanwhile",)), inputs)


def _changed(net: Net, box: str, by: str, keys_of: str) -> bool:
    """`by` is the state looked for; `keys_of`: `uplink` all its uplink may use at once, `band` each band alone (true
    where none brings the state), `served` all it serves."""
    login = _login_keys(net, box)
    if keys_of == "band":
        bands = sorted({band for _, band in login})
        alone = [_end(net, box, tuple(key for key in login if key[1] == band)) for band in bands]
        return len(bands) > 1 and all(state != by for state in alone)
    keys = login if keys_of == "uplink" else tuple(sorted({*login, *net.boxes[box].carries}))
    return bool(keys) and _end(net, box, keys) == by


def _end(net: Net, box: str, keys: tuple[Key, ...]) -> State:
    return simulate(net, Happening("trial", "", off=(box,), changed=keys)).boxes[box].state


@fact(
    "stranded_by_new_password",
    about="hop",
    unit="",
    type="boolean",
    meaning="true when the node does not come back by itself where the passwords its uplink may use change while it is "
    "off",
)
def stranded_by_new_password(book: Book, subject: Subject) -> Fact:
    return _alone_off(book, subject, "stranded_by_new_password", "stranded", "uplink")


@fact(
    "safe_band_by_band",
    about="hop",
    unit="",
    type="boolean",
    meaning="true when the node comes back by itself where these passwords change on one band only",
)
def safe_band_by_band(book: Book, subject: Subject) -> Fact:
    return _alone_off(book, subject, "safe_band_by_band", "stranded", "band")


@fact(
    "keeps_old_settings",
    about="hop",
    unit="",
    type="boolean",
    meaning="true when the node comes back and still serves the old names and passwords where all changed while it was "
    "off",
)
def keeps_old_settings(book: Book, subject: Subject) -> Fact:
    return _alone_off(book, subject, "keeps_old_settings", "after a hand", "served")


@fact(
    "only_parent",
    about="hop",
    unit="",
    type="class",
    meaning="the parent all of the node's way up hangs on, over one hop; none where it has another way",
)
def only_parent(book: Book, subject: Subject) -> Fact:
    box = subject.ids[0]
    key = f"only_parent[{subject.key}]"
    missing = missing_for(book, [box])
    if missing:
        return unknown(key, "", *missing)
    found = book.once("only ways", lambda: graph.only_ways(supplied(book).net))
    return Fact(key, "", constant(found.get(box, "none")), Looked("the ways each uplink may take"))


@fact(
    "calls_hang_on_it",
    about="hop",
    unit="",
    digits=0,
    meaning="calls asked for at places that have no service when the node is off, and no other node stands in",
)
def calls_hang_on_it(book: Book, subject: Subject) -> Fact:
    box = subject.ids[0]
    key = f"calls_hang_on_it[{subject.key}]"
    missing = missing_for(book, [box])
    if missing:
        return unknown(key, "", *missing)
    found = simulate(supplied(book).net, Happening("trial", "", off=(box,)))
    how = Looked("places without service: " + (", ".join(found.dark) or "none"))
    calls = sum(found.places[name].calls for name in found.dark)
    return Fact(key, "", constant(float(calls)), how)


@fact(
    "radar_takes_it",
    about="hop",
    unit="",
    type="boolean",
    meaning="true when the node's only way up is over the air on a channel on which radar must be watched for",
)
def radar_takes_it(book: Book, subject: Subject) -> Fact:
    key = f"radar_takes_it[{subject.key}]"
    only = book.get("only_parent", subject)
    if not isinstance(only.value, Known):
        return only._replace(key=key)
    watched: Fact = book.get("on_radar_channel", subject)
    if only.value.centre == "none":
        return Fact(key, "", constant(False), Looked("it has another way up"), (only,))
    return watched._replace(key=key)


@fact(
    "takes_along",
    about="node",
    unit="",
    digits=0,
    meaning="other nodes that have no way up left when this one is off",
)
def takes_along(book: Book, subject: Subject) -> Fact:
    others = _along(book, subject.ids[0])
    how = Looked("nodes: " + (", ".join(others) or "none"))
    return Fact(f"takes_along[{subject.key}]", "", constant(float(len(others))), how)


@fact("taken_along_told", about="node", unit="", type="class", meaning="these nodes by name")
def taken_along_told(book: Book, subject: Subject) -> Fact:
    others = _along(book, subject.ids[0])
    told = constant(", ".join(others) or "none")
    return Fact(f"taken_along_told[{subject.key}]", "", told, Looked("the ways each uplink may take"))


def _along(book: Book, node: str) -> tuple[str, ...]:
    return book.once("takes along", lambda: graph.takes_along(supplied(book).net)).get(node, ())


@fact(
    "feeds_in_circle",
    about="node",
    unit="",
    type="boolean",
    meaning="true when nodes feed each other over their cables in a circle this one is part of",
)
def feeds_in_circle(book: Book, subject: Subject) -> Fact:
    box = subject.ids[0]
    circles = book.once("power circles", lambda: graph.power_circles(supplied(book).net))
    mine = next((circle for circle in circles if box in circle), ())
    how = Looked("in a circle: " + (", ".join(mine) or "none"))
    return Fact(f"feeds_in_circle[{subject.key}]", "", constant(bool(mine)), how)
