"""People who walk about while on a call, and other people's networks."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import pairwise

from advisor.data import catalogue
from advisor.interview import answers
from advisor.interview.answers import Complaint
from advisor.interview.state import State, finished, put
from advisor.interview.step import Step, Taken, listed


def _walks_wanted(state: State, subject: str) -> bool:
    """One box is never left for another, and a call nobody makes cannot break."""
    entries = state.entries("places")
    rooms = {place.get("room") or name for name, place in entries.items()}
    calls = any(
        place.get("calls") != 0 for place in entries.values() if place["client"] in catalogue("interview")["calls_with"]
    )
    return not state.foreign.get("walks") and len(state.entries("nodes")) > 1 and len(rooms) > 1 and calls


def _some_walks(state: State, subject: str) -> bool:
    return bool(state.entries("walks"))


def _stops(state: State) -> dict[str, str]:
    """What may be written for a place: its own name, or its room; of several in a room, the one of phones."""
    entries = state.entries("places")
    stops = {place["room"]: name for name, place in entries.items() if place.get("room")}
    stops |= {
        place["room"]: name for name, place in entries.items() if place.get("room") and place["client"] == "phone"
    }
    return stops | {name: name for name in entries}


def _walks_fill(state: State, subject: str) -> Mapping[str, str]:
    stops = _stops(state)
    rooms = [word for word in stops if word not in state.entries("places")] or list(stops)
    known = listed(rooms)
    return known | {"example": f"{known['first']} {known['second']}"}


def _walk(state: State, subject: str, text: str) -> Taken:
    if answers.says_no(text) and not _some_walks(state, subject):
        return finished(state, "walks"), ""
    stops = _stops(state)
    if answers.says_yes(text):
        raise Complaint(f"From where to where? Write the places in order, such as {' '.join(list(stops)[:2])}.")
    rest = re.sub(r"\b(?:from|to|and|then|via)\b|[,;>→]|->", " ", text)
    points: list[str] = []
    while rest.strip():
        word, rest = answers.first_known(rest, list(stops), "place where the network is used")
        points.append(stops[word])
    if len(points) < 2:
        raise Complaint("A walk goes from one place to another: write two or more.")
    if any(first == second for first, second in pairwise(points)):
        raise Complaint("The same place stands there twice in a row.")
    name = f"walk-{len(state.entries('walks')) + 1}"
    return put(state, ("walks", name), {"points": points}), " → ".join(points)


def _neighbours_wanted(state: State, subject: str) -> bool:
    return not state.foreign.get("neighbours")


def _some_neighbours(state: State, subject: str) -> bool:
    return bool(state.entries("neighbours"))


def _neighbour(state: State, subject: str, text: str) -> Taken:
    if answers.says_no(text) and not _some_neighbours(state, subject):
        return finished(state, "neighbours"), ""
    if answers.says_yes(text):
        raise Complaint(
            "On which channels? One network a line, such as 6. Leave it open if nothing shows the channels."
        )
    found = re.findall(r"[0-9]+(?:[.,][0-9]+)?", re.sub(r"(?i)ghz|channel|band", " ", text))
    if not 1 <= len(found) <= 2 or re.search(r"[A-Za-z]{4,}", re.sub(r"(?i)channel|band", "", text)):
        raise Complaint("Write one network a line: its channel, such as 6; or the band first: 5 36.")
    band = found[0].replace(",", ".") if len(found) == 2 else ""
    number = found[-1]
    if not number.isdigit() or len(number) > 3:
        raise Complaint(f"{number} is no channel. Channels are whole numbers, such as 1, 6, 11 or 36.")
    channel = int(number)
    if band and band not in answers.channels():
        raise Complaint(f"{band} is no band. Bands are 2.4, 5 and 6.")
    fits = [name for name, known in answers.channels().items() if channel in known and band in ("", name)]
    if not fits:
        where = f" in {band} GHz" if band else ""
        raise Complaint(f"There is no channel {channel}{where}. 2.4 GHz has 1 to 14; 5 GHz has 36, 40, 44 and so on.")
    chosen = fits[0]
    name = f"neighbour-{len(state.entries('neighbours')) + 1}"
    entry = {"band": answers.tidy(float(chosen)), "channel": channel}
    return put(state, ("neighbours", name), entry), f"channel {channel} in {chosen} GHz"


WALK_STEPS = (Step("walks", _walk, _walks_wanted, fill=_walks_fill, many=True, some=_some_walks),)
NEIGHBOUR_STEPS = (Step("neighbours", _neighbour, _neighbours_wanted, many=True, some=_some_neighbours),)
