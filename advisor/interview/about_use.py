"""Network names, and who uses them where."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from advisor.data import catalogue
from advisor.interview import answers
from advisor.interview.about_site import FASTEST_MBPS
from advisor.interview.answers import Complaint
from advisor.interview.state import State, finished, gateway_of, placed, put
from advisor.interview.step import Choices, Step, Taken, choices_told, listed, meanings
from advisor.site.wording import shown

MOST_OCTETS = 32
"""A network name has up to 32 octets (IEEE 802.11)."""


def networks(state: State) -> list[str]:
    return list(state.entries("networks"))


def _names_to_tell(state: State, subject: str) -> bool:
    return not state.foreign.get("networks")


def _some_names(state: State, subject: str) -> bool:
    return bool(state.entries("networks"))


def _network(state: State, subject: str, text: str) -> Taken:
    quoted = len(text) > 2 and text[0] == text[-1] == '"'
    if not quoted and (answers.says_no(text) or answers.says_yes(text)):
        raise Complaint(f'Is the network really called {text}? Then put it in double quotes: "{text}".')
    told = text[1:-1] if quoted else text
    octets = len(told.encode())
    if octets > MOST_OCTETS:
        raise Complaint(f"That name has {octets} bytes; a network name has at most {MOST_OCTETS}.")
    there = state.entries("networks")
    if told in [entry.get("name") for entry in there.values()]:
        raise Complaint(f"{shown(told)} is told already. One name on several boxes is one name; that is asked later.")
    name = answers.slug(told) or "network"
    number = 2
    free = name
    while free in there:
        free, number = f"{name}-{number}", number + 1
    return put(state, ("networks", free), {"name": told}), ""


def _security_open(state: State, network: str) -> bool:
    return not state.entries("networks")[network].get("security")


def _security(state: State, network: str, text: str) -> Taken:
    chosen = answers.one_word(text, [name for name, _ in choices_told("security")])
    return put(state, ("networks", network, "security"), chosen), chosen if chosen != text.strip() else ""


def _name_fill(state: State, network: str) -> Mapping[str, str]:
    entry = state.entries("networks")[network]
    return listed(list(state.entries("nodes"))) | {"name": entry.get("name") or network}


def _carried_open(state: State, network: str) -> bool:
    several = len(networks(state)) > 1 and len(state.entries("nodes")) > 1
    return (
        several
        and network not in (state.foreign.get("networks") or {})
        and not state.entries("networks")[network].get("nodes")
    )


def _carried(state: State, network: str, text: str) -> Taken:
    nodes = list(state.entries("nodes"))
    chosen = answers.some_of(text, nodes, "box")
    if len(chosen) == len(nodes):
        return finished(state, f"carried.{network}"), ""
    return put(state, ("networks", network, "nodes"), chosen), ""


# Places


def known_kinds(state: State) -> list[str]:
    return [*state.entries("clients"), *catalogue("client-kinds")["kinds"]]


@cache
def _kinds_told() -> str:
    return meanings({name: entry["meaning"] for name, entry in catalogue("client-kinds")["kinds"].items()})


def places(state: State) -> list[str]:
    return list(state.entries("places"))


def _used_wanted(state: State, room: str) -> bool:
    return not state.foreign.get("places") and all(
        place.get("room") != room for place in state.entries("places").values()
    )


def _kinds_fill(state: State, room: str) -> Mapping[str, str]:
    return {"kinds": _kinds_told()}


def _used(state: State, room: str, text: str) -> Taken:
    if answers.says_no(text):
        return finished(state, f"used.{room}"), ""
    found = answers.devices(text, known_kinds(state))
    return _with_places(state, room, found, {"room": room})


def _with_places(state: State, where: str, found: list[tuple[str, int]], entry: Mapping[str, Any]) -> Taken:
    for kind, count in found:
        name = f"{where}-{kind}"
        if name in state.entries("places"):
            raise Complaint(f"There is a place called {name} already.")
        state = put(state, ("places", name), {"client": kind, **({"count": count} if count > 1 else {}), **entry})
    return state, ", ".join(f"{count} {kind}" for kind, count in found)


def _no_rooms(state: State, subject: str) -> bool:
    return not state.entries("rooms") and not state.foreign.get("places")


def _some_places(state: State, subject: str) -> bool:
    return bool(state.entries("places"))


def _spot(state: State, subject: str, text: str) -> Taken:
    where, _, rest = text.strip().partition(" ")
    if not rest.strip():
        raise Complaint("Write the place and what is used there, such as desk laptop, or sofa 2 phone.")
    name = answers.new_id(where, (), "place")
    return _with_places(state, name, answers.devices(rest, known_kinds(state)), {})


def away_nodes(state: State) -> list[str]:
    """Boxes that nothing says the place of: without rooms, every one but the gateway."""
    return [name for name in state.entries("nodes") if name != gateway_of(state)]


def _away_wanted(section: str) -> Any:
    def wanted(state: State, name: str) -> bool:
        return not state.entries("rooms") and not placed(state, section, name)

    return wanted


def _away_from(state: State, section: str) -> list[str]:
    return [gateway_of(state)] if section == "nodes" else list(state.entries("nodes"))


def _away_fill(section: str) -> Any:
    def fill(state: State, name: str) -> Mapping[str, str]:
        ends = _away_from(state, section)
        example = ", ".join(f"{end} {how}" for end, how in zip(ends, ("8 brick", "3", "12"), strict=False))
        return listed(ends) | {"example": example}

    return fill


def _away(section: str) -> Any:
    def take(state: State, name: str, text: str) -> Taken:
        ends = _away_from(state, section)
        found: dict[str, Any] = {}
        for piece in answers.parts(text):
            alone = re.match(r"[0-9]", piece)
            end, rest = (ends[0], piece) if alone else answers.first_known(piece, ends, "box")
            if end in found:
                raise Complaint(f"{end} stands there twice.")
            found[end] = _distance(rest)
        if not found:
            raise Complaint("Write the metres, such as 8 brick.")
        for end, entry in found.items():
            state = put(state, (section, name, "paths", end), entry)
        return state, "; ".join(f"{end}: {entry['distance_m']:g} m" for end, entry in found.items())

    return take


def _distance(text: str) -> dict[str, Any]:
    found = re.match(r"([0-9]{1,4}(?:[.,][0-9]+)?)\s*(?:m\b|metres?\b)?(.*)", text.strip())
    if not found:
        raise Complaint(f"{shown(text)} does not begin with a distance. Write the metres first: 8 brick floor-timber.")
    metres = answers.tidy(float(found[1].replace(",", ".")))
    if not 0.1 <= metres <= 2000:
        raise Complaint("A distance is between 0.1 and 2000 metres.")
    walls = [piece for piece in re.split(r"[\s+]+", found[2]) if piece and piece.lower() not in ("and", "then")]
    through = [answers.construction(piece) for piece in walls if piece.lower() not in answers.words("fillers")]
    return {"distance_m": metres} | ({"through": through} if through else {})


def _may_call(state: State, place: str) -> bool:
    entry = state.entries("places")[place]
    return (
        place not in (state.foreign.get("places") or {})
        and "calls" not in entry
        and entry["client"] in catalogue("interview")["calls_with"]
    )


def _calls_fill(state: State, place: str) -> Mapping[str, str]:
    return {"count": str(state.entries("places")[place].get("count", 1))}


def _calls(state: State, place: str, text: str) -> Taken:
    count = int(state.entries("places")[place].get("count", 1))
    if answers.says_no(text):
        return put(state, ("places", place, "calls"), 0), ""
    if answers.says_yes(text) and count == 1:
        return put(state, ("places", place, "calls"), 1), "1"
    if not re.fullmatch(r"[0-9]{1,6}", text.strip()):
        raise Complaint(f"How many at the same time? A number up to {count}, or none.")
    if int(text) > count:
        raise Complaint(f"There are {count} told at {place}; write a number up to {count}, or take that back with -.")
    return put(state, ("places", place, "calls"), int(text)), ""


def _need_open(state: State, place: str) -> bool:
    entry = state.entries("places")[place]
    return not entry.get("down_mbps") and not entry.get("up_mbps")


def _uses() -> dict[str, Mapping[str, Any]]:
    interview = catalogue("interview")
    uses: Mapping[str, Any] = catalogue("ranges")["uses"]
    return {name: uses[name] if name in uses else interview[name] for name in interview["needs"]}


def _needs(state: State, place: str) -> Choices:
    meant = catalogue("interview")["needs"]
    return tuple(
        (name, f"{meant[name]}: {use['down_mbps']:g} towards it, {use['up_mbps']:g} from it, in Mb/s")
        for name, use in _uses().items()
    )


def _need(state: State, place: str, text: str) -> Taken:
    uses = _uses()
    glued = re.search(r"[0-9](?![0-9.,\s]|m|$)|[a-z]{2,} *[0-9]", text, re.IGNORECASE)
    if glued:
        raise Complaint("A number alone is taken as Mb/s. Write it alone, such as 25 or 25 5; or one of the words.")
    if re.search(r"[0-9]", text):
        found = answers.numbers(text, 2, low=0.01, high=FASTEST_MBPS, what="the speed", unit="megabits a second")
        told = dict(zip(("down_mbps", "up_mbps"), found, strict=False))
    else:
        chosen = [answers.one_word(piece, list(uses)) for piece in answers.parts(re.sub(r"\band\b", ",", text))]
        if not chosen:
            raise Complaint("Write browsing, calls, video or files; or two numbers.")
        told = {way: max(uses[name][way] for name in chosen) for way in ("down_mbps", "up_mbps")}
    for way, value in told.items():
        state = put(state, ("places", place, way), value)
    return state, ", ".join(
        f"{value:g} Mb/s {'towards it' if way[0] == 'd' else 'from it'}" for way, value in told.items()
    )


def _callers(state: State) -> list[str]:
    """Places calls are made at, and nothing is said on emergencies."""
    return [
        name for name, place in state.entries("places").items() if place.get("calls") and "emergency_calls" not in place
    ]


def _emergency_wanted(state: State, subject: str) -> bool:
    return bool(_callers(state))


def _callers_fill(state: State, subject: str) -> Mapping[str, str]:
    return listed(_callers(state))


def _emergency(state: State, subject: str, text: str) -> Taken:
    callers = _callers(state)
    if answers.says_yes(text) and len(callers) > 1:
        raise Complaint(f"From which of these places? {', '.join(callers)}; or all.")
    chosen = (
        [] if answers.says_no(text) else callers if answers.says_yes(text) else answers.some_of(text, callers, "place")
    )
    for place in callers:
        state = put(state, ("places", place, "emergency_calls"), place in chosen)
    return state, f"marked at {', '.join(chosen)}; keep another way to call for help there" if chosen else ""


NAME_LIST_STEPS = (Step("names", _network, _names_to_tell, many=True, some=_some_names),)
NAME_STEPS = (
    Step("security", _security, _security_open, lambda state, network: choices_told("security"), _name_fill),
    Step("carried", _carried, _carried_open, fill=_name_fill),
)
USED_STEPS = (Step("used", _used, _used_wanted, fill=_kinds_fill),)
SPOT_LIST_STEPS = (Step("spots", _spot, _no_rooms, fill=_kinds_fill, many=True, some=_some_places, no_is_empty=True),)
BOX_AWAY_STEPS = (Step("away", _away("nodes"), _away_wanted("nodes"), fill=_away_fill("nodes")),)
PLACE_STEPS = (
    Step("away-place", _away("places"), _away_wanted("places"), fill=_away_fill("places")),
    Step("calls", _calls, _may_call, fill=_calls_fill),
    Step("need", _need, _need_open, _needs, numbered=False),
)
EMERGENCY_STEPS = (Step("emergency", _emergency, _emergency_wanted, fill=_callers_fill),)
