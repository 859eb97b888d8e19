"""The boxes that give out Wi-Fi: where they stand, what they are, how they are joined."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from advisor.data import catalogue
from advisor.interview import answers
from advisor.interview.about_site import all_rooms
from advisor.interview.answers import Complaint
from advisor.interview.state import State, gateway_of, parents_possible, placed, put
from advisor.interview.step import Choices, Step, Taken, choices_told, listed
from advisor.site.wording import choice_of

DECIDES = "decides"
OVER = {"air": "radio", "cable": "ethernet", "powerline": "powerline", "coax": "coax"}
SIX_GHZ = "6"


def boxes_beside_the_gateway(state: State) -> list[str]:
    return [name for name in state.entries("nodes") if name != gateway_of(state)]


def the_gateway(state: State) -> list[str]:
    return [gateway_of(state)]


def _roomless(state: State, node: str) -> bool:
    return bool(state.entries("rooms")) and not placed(state, "nodes", node)


def _rooms_fill(state: State, node: str) -> Mapping[str, str]:
    return listed(all_rooms(state))


def _room(state: State, node: str, text: str) -> Taken:
    room, rest = answers.first_known(text, all_rooms(state), "room")
    if rest:
        raise Complaint(f"Write the room alone: {room}.")
    return put(state, ("nodes", node, "room"), room), room if room != text.strip() else ""


def _kind_open(state: State, node: str) -> bool:
    entry = state.entries("nodes")[node]
    return not entry.get("gear") and not entry.get("radios")


def _kinds(state: State, node: str) -> Choices:
    """Kinds with their meaning; a box at the line repeats nothing over the air."""
    gear = catalogue("gear")
    unfit = gear["usual"]["relay"] if node == gateway_of(state) else ""
    real = [(name, entry) for name, entry in gear["gear"].items() if entry.get("equipment", True)]
    return tuple((name, entry["meaning"]) for name, entry in real if name != unfit)


def _kind_fill(state: State, node: str) -> Mapping[str, str]:
    usual = catalogue("gear")["usual"][state.entries("nodes")[node]["role"]]
    return listed([usual, *(name for name, _ in _kinds(state, node) if name != usual)])


def _kind(state: State, node: str, text: str) -> Taken:
    gear = answers.one_word(text, [name for name, _ in _kinds(state, node)])
    return put(state, ("nodes", node, "gear"), gear), gear if gear != text.strip() else ""


def _boxes_to_tell(state: State, subject: str) -> bool:
    """A file of somebody else that tells several boxes tells all of them."""
    return len(state.foreign.get("nodes") or {}) < 2


def _some_boxes(state: State, subject: str) -> bool:
    return bool(boxes_beside_the_gateway(state))


def _boxes_fill(state: State, subject: str) -> Mapping[str, str]:
    rooms = all_rooms(state)
    return {"how": f"the room it stands in, such as {rooms[-1]}" if rooms else "a name for it, such as landing"}


def _box(state: State, subject: str, text: str) -> Taken:
    rooms, nodes, room = all_rooms(state), state.entries("nodes"), ""
    if answers.says_yes(text):
        raise Complaint("Where? One box a line: the room it stands in." if rooms else "Give each a name, one a line.")
    name_text = text
    if rooms:
        first, _, rest = text.strip().partition(" ")
        if first.lower() == "other" and rest.strip() and "other" not in rooms:
            name_text = rest
        else:
            try:
                room, rest = answers.first_known(text, rooms, "room")
                if re.search(r"\b(?:on|by|over|with)\b", rest):
                    raise Complaint("How it is joined is asked next. One box a line: the room it stands in.")
                if rest.strip(" ,") in rooms:
                    raise Complaint(f"Two rooms? One box a line: {room} first, then {rest.strip(' ,')}.")
            except Complaint as complaint:
                raise Complaint(f"{complaint.text} For a box in none of them write other and a name.") from None
            named = re.sub(r"^[\s,]*(?:called|named)?\s*", "", rest)
            name_text = named or _free_name(f"{room}-box", nodes)
    name = answers.new_id(name_text, nodes, "box")
    if name == "internet":
        raise Complaint("That word stands for the line itself. Give the box another name.")
    state = put(state, ("nodes", name), {"role": "relay"} | ({"room": room} if room else {}))
    return state, f"{name}, in {room}" if room else name


def _free_name(name: str, taken: Mapping[str, Any]) -> str:
    number = 2
    free = name
    while free in taken:
        free, number = f"{name}-{number}", number + 1
    return free


def uplink_of(state: State, node: str) -> Mapping[str, Any]:
    return state.entries("nodes")[node].get("uplink") or {}


def _relay_by_hand(state: State, node: str) -> bool:
    """True where the file said before that it is a relay: then it is joined over the air."""
    return not state.ours("nodes", node) and state.entries("nodes")[node].get("role") == "relay"


def _joined_open(state: State, node: str) -> bool:
    return not uplink_of(state, node) and not _relay_by_hand(state, node)


def _ways(state: State, node: str) -> Choices:
    """Ways to be joined; an access point, where the file said so before, has a wire."""
    every = choices_told("joined")
    return every if state.ours("nodes", node) else tuple(choice for choice in every if choice[0] != "air")


def _joined_fill(state: State, node: str) -> Mapping[str, str]:
    return listed(parents_possible(state, node))


def _joined(state: State, node: str, text: str) -> Taken:
    way = answers.one_word(text, [name for name, _ in _ways(state, node)], answers.words("joined"))
    parents = parents_possible(state, node)
    told = {"over": OVER[way]}
    if len(parents) == 1:
        told = {"to": parents[0], **told}
    if state.ours("nodes", node):
        state = put(state, ("nodes", node, "role"), "relay" if way == "air" else "access-point")
    state = put(state, ("nodes", node, "uplink"), told)
    return state, f"{way}, to {parents[0]}" if len(parents) == 1 else ""


def over_air(state: State, node: str) -> bool:
    uplink = uplink_of(state, node)
    return (bool(uplink) or _relay_by_hand(state, node)) and uplink.get("over", "radio") == "radio"


def _left_to_it(state: State, node: str) -> bool:
    return uplink_of(state, node).get("choice") == "node"


def _parent_open(state: State, node: str) -> bool:
    uplink = uplink_of(state, node)
    asked = bool(uplink) or _relay_by_hand(state, node)
    return asked and not uplink.get("to") and not _left_to_it(state, node)


def _parents(state: State, node: str) -> Choices:
    decides = ((DECIDES, "the box decides by itself"),) if over_air(state, node) else ()
    return tuple((name, "") for name in parents_possible(state, node)) + decides


def _to_fill(state: State, node: str) -> Mapping[str, str]:
    told = "Many boxes pick the strongest by themselves: write decides. " if over_air(state, node) else ""
    return listed(parents_possible(state, node)) | {"decides": told}


def _to(state: State, node: str, text: str) -> Taken:
    chosen = answers.one_word(text, [name for name, _ in _parents(state, node)])
    if chosen == DECIDES:
        return put(state, ("nodes", node, "uplink", "choice"), "node"), "left to the box"
    uplink = {"to": chosen, **uplink_of(state, node)}
    return put(state, ("nodes", node, "uplink"), uplink), chosen if chosen != text.strip() else ""


def _band_open(state: State, node: str) -> bool:
    uplink = uplink_of(state, node)
    return over_air(state, node) and not uplink.get("band") and not uplink.get("radio") and not _left_to_it(state, node)


def _bands(state: State, node: str) -> Choices:
    return choices_told("band")


def _band_fill(state: State, node: str) -> Mapping[str, str]:
    return {"parent": uplink_of(state, node).get("to") or "the rest"}


def _band(state: State, node: str, text: str) -> Taken:
    word = text.lower().replace("ghz", "").replace(",", ".").strip()
    if word == SIX_GHZ:
        raise Complaint(
            "None of the kinds of box known here has a radio for 6 GHz. Leave this open; in the file give both boxes a "
            "radio with band: 6, then band: 6 inside uplink."
        )
    options = [name for name, _ in choices_told("band")]
    chosen = word if word in options else answers.one_word(text, options) if not word.replace(".", "").isdigit() else ""
    if not chosen:
        raise Complaint(f"{text.strip()} is no band a box is joined on. Write {choice_of(options)}.")
    if chosen == DECIDES:
        return put(state, ("nodes", node, "uplink", "choice"), "node"), "left to the box"
    return put(state, ("nodes", node, "uplink", "band"), answers.tidy(float(chosen))), f"{chosen} GHz"


def _speed_open(state: State, node: str) -> bool:
    uplink = uplink_of(state, node)
    return uplink.get("over") in ("powerline", "coax") and not uplink.get("speed_mbps")


def _speed_fill(state: State, node: str) -> Mapping[str, str]:
    return {"over": str(uplink_of(state, node).get("over") or "wired")}


def _speed(state: State, node: str, text: str) -> Taken:
    (value,) = answers.numbers(text, 1, low=0.1, high=10_000.0, what="the speed of the link", unit="megabits a second")
    return put(state, ("nodes", node, "uplink", "speed_mbps"), value), ""


def _channels_open(state: State, node: str) -> bool:
    return not state.entries("nodes")[node].get("radios")


def _channels_fill(state: State, node: str) -> Mapping[str, str]:
    """Of a box joined over the air one channel follows from its parent."""
    band = str(uplink_of(state, node).get("band") or "") if over_air(state, node) else ""
    follows = f" On {band} GHz {node} uses the channel of the box it is joined to; leave that one out." if band else ""
    return {"follows": follows, "such": {"2.4": "36", "5": "6"}.get(band, "6 36")}


def _channels(state: State, node: str, text: str) -> Taken:
    """One channel for each band, or auto for all that the kind of box has."""
    gear = state.entries("nodes")[node].get("gear") or catalogue("gear")["usual"][state.entries("nodes")[node]["role"]]
    bands = [str(radio["band"]) for radio in catalogue("gear")["gear"][gear]["radios"].values()]
    words = [word for word in re.split(r"[\s,;]+|and", text.lower().replace("ghz", " ")) if word]
    told: dict[str, Any] = {}
    for word in words:
        if word == "auto":
            told |= {band: "auto" for band in bands if band not in told}
            continue
        if not word.isdigit():
            raise Complaint(f'"{word}" is no channel. Write the numbers, such as 6 36, or auto.')
        number = int(word)
        band = next((band for band in ("2.4", "5") if number in answers.channels()[band]), "")
        if not band:
            raise Complaint(f"There is no channel {number}. 2.4 GHz has 1 to 14, 5 GHz 36 to 177.")
        if band in told:
            raise Complaint(f"One channel for each band: {told[band]} and {number} are both in {band} GHz.")
        told[band] = number
    radios = {
        f"r{band.replace('.', '')}": {
            "band": answers.tidy(float(band)),
            **({"channel": told[band]} if band in told else {}),
        }
        for band in sorted({*bands, *told}, key=float)
    }
    noted = ", ".join(f"{band} GHz {told[band]}" for band in sorted(told, key=float))
    return put(state, ("nodes", node, "radios"), radios), noted


CHANNEL_STEP = Step("channels", _channels, _channels_open, fill=_channels_fill)
GATEWAY_STEPS = (
    Step("gateway-room", _room, _roomless, fill=_rooms_fill),
    Step("kind", _kind, _kind_open, _kinds, _kind_fill),
    CHANNEL_STEP,
)
BOX_LIST_STEPS = (
    Step(
        "boxes",
        _box,
        _boxes_to_tell,
        fill=_boxes_fill,
        many=True,
        some=_some_boxes,
        empty_is_none=True,
        no_is_empty=True,
    ),
)
BOX_STEPS = (
    Step("room", _room, _roomless, fill=_rooms_fill),
    Step("joined", _joined, _joined_open, _ways, _joined_fill),
    Step("to", _to, _parent_open, _parents, _to_fill),
    Step("band", _band, _band_open, _bands, _band_fill, numbered=False),
    Step("speed", _speed, _speed_open, fill=_speed_fill),
    Step("kind", _kind, _kind_open, _kinds, _kind_fill),
    CHANNEL_STEP,
)
