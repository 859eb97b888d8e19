"""What the sections about the site as it is show: in short, what places and hops get, what works where."""

from __future__ import annotations

from collections.abc import Iterator

from advisor.report.page.charts import Bar
from advisor.report.page.pictures import HopSign
from advisor.report.page.tree import Line, Table, Told, Tree, listed

USE_WORDS = {"calls": "calls", "video": "streams", "browsing": "browsing"}
ASKED = {
    "works": "met",
    "may fail": "may not be met",
    "fails": "not met",
    "not known": "not known",
    "nothing asked": "nothing asked",
    "not judged": "not judged",
}
MOST_TOLD = 4
SHARES_AIR = 0.9
"""A hop that lets less than this part of what it carries alone through is held back by the air it shares."""


def summary(data: Tree) -> dict[str, list[Line]]:
    """What works, what does not, what to do first and what that brings, for the owner."""
    return {
        "works": list(_works(data)),
        "fails": list(_fails(data)),
        "first": list(_first(data)),
        "brings": list(brings(data)),
    }


def _works(data: Tree) -> Iterator[Line]:
    asked = data.check.asked
    judged = _judged(asked)
    met = [name for name, word in asked.pairs() if word == "works"]
    if met:
        get = "gets what it asks" if len(met) == 1 else "get what they ask"
        yield [f"{len(met)} of {len(judged)} places surely {get} for: ", listed(met), "."]
    calls = _places_where(data, "calls", "works")
    if calls:
        yield ["Calls surely hold at ", listed(calls), " while everybody uses the network."]
    browsing = _places_where(data, "browsing", "works")
    if browsing:
        yield ["Browsing surely works at ", listed(browsing), "."]
    if data.data["walks"]:
        good = [walk.walk for walk in data.walks.walks if walk.trouble.any <= 0.1]
        if good:
            yield ["A call survives the walk ", listed(good), " in at least nine cases of ten."]
    if data.data["outages"]:
        told = data.outages.outages
        back = [entry for entry in told if not entry.needs_somebody]
        if back:
            yield [
                f"After {len(back)} of ", data.outages.count("outages"),
                " power cuts and other outages played out, everything comes back by itself.",
            ]  # fmt: skip


def _judged(asked: Tree) -> list[str]:
    """Places that ask for something and were judged."""
    return [name for name, word in asked.pairs() if word not in ("nothing asked", "not judged")]


def _places_where(data: Tree, use: str, word: str) -> list[str]:
    return [place.place for place in data.check.places if place.uses[use].word == word]


def _fails(data: Tree) -> Iterator[Line]:
    grave = [group.cause for group in data.check.groups if group.cause.counts_as == "error"]
    told = {finding.rule: finding for finding in reversed(grave)}
    shown = [finding for finding in grave if told[finding.rule] is finding][:MOST_TOLD]
    for finding in shown:
        yield finding.of("message")
    if len(grave) > len(shown):
        yield [f"And {len(grave) - len(shown)} more, told under “What was found”."]
    asked = data.check.asked
    judged = _judged(asked)
    for word, one, many in (
        ("fails", "does not get what it asks for", "do not get what they ask for"),
        ("may fail", "may not get what it asks for", "may not get what they ask for"),
    ):
        names = [name for name, entry in asked.pairs() if entry == word]
        if names:
            what = one if len(names) == 1 else many
            yield [f"{len(names)} of {len(judged)} places {what}: ", listed(names), "."]
    if data.data["walks"]:
        for walk in data.walks.walks:
            if walk.trouble.any > 0.1:
                yield [
                    "A call suffers on the walk ",
                    walk.of("walk"),
                    " in ",
                    walk.trouble.of("any", "of ten"),
                    " cases.",
                ]
    if data.data["outages"]:
        somebody = [entry for entry in data.outages.outages if entry.needs_somebody]
        nodes = sorted({name for entry in somebody for name in entry.needs_somebody})
        if somebody:
            yield [
                f"After {len(somebody)} of ",
                data.outages.count("outages"),
                " outages somebody has to go to ",
                listed(nodes),
                ".",
            ]
    unknown = [name for name, entry in asked.pairs() if entry == "not known"]
    if unknown:
        yield ["Not known, as the description does not say enough: ", listed(unknown), "."]


def _first(data: Tree) -> Iterator[Line]:
    if not data.data["improve"]:
        return
    for step in data.improve.steps:
        yield [step.change.of("do"), " About ", step.change.of("effort_min", "minutes"), " of work."]


def brings(data: Tree) -> Iterator[Line]:
    """What the steps to take bring, and their work."""
    found = data.data["improve"]
    if not found:
        return
    improve = data.improve
    if not found["steps"]:
        reached = not found["before"]["errors"] and not found["before"]["possible"]
        yield (
            "Nothing has to be done to meet what is asked."
            if reached
            else "No change that could be computed brings more; see “What was found” for what else helps."
        )
        return
    after = improve.steps[len(improve.steps) - 1].after
    yield [
        "Now: ", improve.before.of("errors"), " things are wrong and ", improve.before.of("possible"),
        " more may be. After these steps: ", after.of("errors"), " wrong, ", after.of("possible"), " that may be.",
    ]  # fmt: skip
    yield ["Work in all: about ", improve.of("effort_min", "minutes"), " (common practice, no source)."]


# speeds


def hop_signs(data: Tree) -> list[HopSign]:
    """Every hop as it most likely runs: what it carries and what limits it."""
    signs: dict[str, HopSign] = {}
    ways: dict[str, int] = {}
    for hop in data.capacity.hops:
        ways[hop.node] = ways.get(hop.node, 0) + 1
    for hop in data.capacity.hops:
        if hop.node in signs:
            continue
        style = "open" if hop.open else "air" if hop.over.endswith("GHz") else "wire"
        told = hop.while_serving_mbps.data
        carries = told["centre"] if told["state"] == "known" else None
        over = hop.over if style != "wire" else "cable"
        first = f"{over}: {hop.of('while_serving_mbps').text} Mb/s" if carries is not None else f"{over}: not known"
        second = [limit_of(hop), f"one of {ways[hop.node]} ways it may choose" if ways[hop.node] > 1 else ""]
        label = "\n".join(part for part in (first, *second) if part)
        signs[hop.node] = HopSign(hop.node, hop.parent, style, carries, label)  # type: ignore[arg-type]
    return list(signs.values())


def limit_of(hop: Tree) -> str:
    """What keeps a hop from carrying more, in words."""
    alone, serving = (hop.data[name] for name in ("alone_mbps", "while_serving_mbps"))
    if alone["state"] != "known" or serving["state"] != "known":
        return ""
    if not hop.over.endswith("GHz"):
        return "limited by its cable and ports"
    if serving["centre"] < SHARES_AIR * alone["centre"]:
        return "limited by the air it shares"
    return "limited by its signal"


def channels(data: Tree) -> dict[str, list[str]]:
    """Per node, its radios with their channels, as the site file or the equipment has them."""
    found: dict[str, list[str]] = {}
    for radio in data.radios:
        channel = f"channel {radio.channel}" if radio.channel is not None else "any channel"
        found.setdefault(radio.node, []).append(f"{radio.band} GHz: {channel}")
    return found


def radio_table(data: Tree) -> Table:
    rows = tuple(
        (
            radio.of("radio"),
            radio.of("band"),
            radio.of("channel") if radio.channel is not None else "chosen by itself",
            radio.of("width_mhz"),
            radio.of("eirp_dbm"),
            listed(radio.networks.all_of()) if radio.networks else "none",
        )
        for radio in data.radios
    )
    head = ("radio", "band GHz", "channel", "width MHz", "radiates dBm", "networks")
    return Table("Radios, channels and powers as they are", head, rows, (1, 2, 3, 4))


def hop_table(data: Tree) -> Table:
    rows = tuple(
        (
            hop.of("node"),
            hop.of("parent"),
            hop.of("over"),
            hop.of("level_dbm"),
            hop.of("alone_mbps"),
            hop.of("while_serving_mbps"),
            hop.of("asked_mbps"),
            limit_of(hop).removeprefix("limited by ") or "–",
        )
        for hop in data.capacity.hops
    )
    head = (
        "node",
        "hangs on",
        "over",
        "level dBm",
        "alone Mb/s",
        "to places behind it Mb/s",
        "asked Mb/s",
        "limited by",
    )
    return Table("Hops: what they carry, towards the node", head, rows, (3, 4, 5, 6), OPEN_NOTE if _open(data) else "")


OPEN_NOTE = "A node with several rows chooses its way by itself; each row is one of its ways."


def _open(data: Tree) -> bool:
    return any(hop.open for hop in data.capacity.hops)


def hop_bars(data: Tree) -> list[Bar]:
    """Hops as bars: what they let through, and what is asked."""
    bars = []
    for hop in data.capacity.hops:
        label = f"{hop.node} to {hop.parent}, {hop.over}"
        bars.append(_bar(label, hop.data["while_serving_mbps"], _centre(hop.data["asked_mbps"])))
    return bars


def place_bars(data: Tree) -> list[Bar]:
    return [_bar(place.place, place.data["everyone_mbps"], place.data["need_down_mbps"]) for place in data.check.places]


def _centre(quantity: dict[str, object]) -> float | None:
    value = quantity.get("centre")
    return float(value) if isinstance(value, (int, float)) and value else None


def _bar(label: str, quantity: dict[str, object], need: float | None) -> Bar:
    if quantity["state"] == "options":
        answers = quantity["options"]
        assert isinstance(answers, dict)
        centres = tuple(answer["centre"] for answer in answers.values() if answer["state"] == "known")
        return Bar(label, min(centres, default=None), None, None, need, centres)
    if quantity["state"] != "known":
        return Bar(label, None, None, None, need)
    centre, low, high = (quantity[end] for end in ("centre", "low", "high"))
    assert isinstance(centre, float) and isinstance(low, float) and isinstance(high, float)
    return Bar(label, centre, low, high, need)


def place_table(data: Tree) -> Table:
    rows = tuple(
        (
            place.of("place"),
            _joined(place),
            place.of("alone_mbps"),
            place.of("everyone_mbps"),
            place.of("need_down_mbps") if place.need_down_mbps is not None else "–",
            place.of("everyone_up_mbps"),
            place.of("need_up_mbps") if place.need_up_mbps is not None else "–",
            Told(ASKED[data.check.asked[place.place]], data.check.asked.at(place.place), "asked"),
        )
        for place in data.check.places
    )
    head = ("place", "joins", "alone", "everyone active", "asked", "sends", "asked", "what was asked")
    return Table("What each device gets at each place, Mb/s", head, rows, (2, 3, 4, 5, 6))


def _joined(place: Tree) -> Line:
    """The radio joined typically."""
    return place.joins.of("centre") if place.joins.state == "known" else place.of("joins")


def use_table(data: Tree) -> Table:
    """Place by place, whether calls, streams and browsing work."""
    rows = tuple(
        (place.of("place"), place.of("client"), *(use_word(place.uses[use]) for use in USE_WORDS))
        for place in data.check.places
    )
    depends = any(place.uses[use].data.get("depends_on") for place in data.check.places for use in USE_WORDS)
    note = "* depends on how an uplink left to the equipment runs." if depends else ""
    caption = "What works at each place, with everyone active"
    return Table(caption, ("place", "device", *USE_WORDS.values()), rows, note=note)


def use_word(use: Tree) -> Line:
    """`works`, `7 of 10`, `fails`, `not known`."""
    if use.word == "may fail" and use.chance is not None:
        depends = " *" if use.data.get("depends_on") else ""
        return [use.of("chance", "of ten"), depends]
    return use.of("word")


def map_table(floor: Tree, meaning: dict[str, str]) -> Table:
    """How much of a floor has what."""
    rows = tuple((meaning[name], floor.shares.of(name, "share")) for name, _ in floor.shares.pairs())
    whole = "floor" if floor.kind == "drawn" else "rooms"
    return Table(f"How much of the {whole}", ("what works", f"share of the {whole}"), rows, (1,))
