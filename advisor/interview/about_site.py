"""The site, its line, its storeys and its rooms."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from advisor.interview import answers
from advisor.interview.answers import Complaint
from advisor.interview.state import (
    GROUND,
    UNNAMED,
    State,
    finished,
    floors_of,
    joined_rooms,
    passed_over,
    put,
    rooms_on,
)
from advisor.interview.step import Choices, Step, Taken, choices_told, listed, meanings
from advisor.site.wording import choice_of, shown

LONGEST_NAME = 200
MOST_STOREYS = 12
FASTEST_MBPS = 100_000.0
"""These three only catch slips of the finger; common practice, no source."""


def _unnamed(state: State, subject: str) -> bool:
    return bool(state.site["site"]["name"] == UNNAMED)


def _name(state: State, subject: str, text: str) -> Taken:
    if len(text) > LONGEST_NAME:
        raise Complaint(f"That is {len(text)} characters long; a name of up to {LONGEST_NAME} fits on a report.")
    return put(state, ("site", "name"), text), ""


@cache
def _countries() -> tuple[str, ...]:
    """Countries whose channels and powers are on file."""
    lines = files("advisor.data").joinpath("regdb.csv").read_text(encoding="utf-8").splitlines()
    codes = {line.split(",")[0] for line in lines if not line.startswith("#")}
    return tuple(sorted(code for code in codes if re.fullmatch("[A-Z]{2}", code)))


def _country(state: State, subject: str, text: str) -> Taken:
    asked = " ".join(text.upper().replace(".", "").split())
    code = str(answers.words("countries").get(asked, asked))
    if not re.fullmatch("[A-Z]{2}", code):
        raise Complaint(f"{shown(text)} is not two letters. Write the code of the country: GB, IE, DE, FR …")
    note = (
        ""
        if code in _countries()
        else f"{code}, of which no table of channels is here: channels and powers stay unchecked"
    )
    return put(state, ("site", "country"), code), note or (f"{code}" if code != text.strip() else "")


def _environment(state: State, subject: str, text: str) -> Taken:
    options = [name for name, _ in choices_told("environment")]
    word = answers.one_word(text, options, answers.words("buildings"))
    return put(state, ("site", "environment"), word), ""


def _line_open(direction: str) -> Step:
    def wanted(state: State, subject: str) -> bool:
        return not (state.site.get("internet") or {}).get(f"{direction}_mbps")

    def take(state: State, subject: str, text: str) -> Taken:
        both = direction == "down" and not (state.site.get("internet") or {}).get("up_mbps")
        what = "the speed of the line"
        found = answers.numbers(
            text, 2 if both else 1, low=0.05, high=FASTEST_MBPS, what=what, unit="megabits a second"
        )
        for way, value in zip((direction, "up"), found, strict=False):
            state = put(state, ("internet", f"{way}_mbps"), value)
        return state, f"{found[0]:g} towards you, {found[1]:g} from you" if len(found) > 1 else ""

    return Step(direction, take, wanted)


def _storeys(state: State, subject: str, text: str) -> Taken:
    names = _storey_names(text)
    low = next((index for index, name in enumerate(names) if name.startswith(GROUND)), None)
    if low is None:
        low = 1 if len(names) > 1 and names[0] in answers.words("below") else 0
    for index, name in enumerate(names):
        state = put(state, ("floors", name), {"level": index - low})
    for room in state.entries("rooms") if len(names) == 1 else ():
        state = put(state, ("rooms", room, "floor"), names[0])
    return state, f"from the lowest up: {', '.join(names)}" if len(names) > 1 else ""


def _storey_names(text: str) -> list[str]:
    for number, word in enumerate(answers.COUNTED, 1):
        text = str(number) if text.strip().lower() == word else text
    alone = re.fullmatch(r"(-?[0-9]{1,9})(?:\s*(?:storeys?|floors?|levels?))?", text.strip(), re.IGNORECASE)
    if alone:
        count = int(alone[1])
        if not 1 <= count <= MOST_STOREYS:
            raise Complaint(f"From 1 to {MOST_STOREYS} storeys can be told here.")
        return [GROUND, "upper"] if count == 2 else [GROUND, *_ORDER[: count - 1]]
    names: list[str] = []
    for piece in answers.parts(text) if re.search("[,;]", text) else text.split():
        names.append(answers.new_id(piece, names, "storey"))
    if len(names) > MOST_STOREYS:
        raise Complaint(f"At most {MOST_STOREYS} storeys can be told here.")
    if len(names) == 1 and names[0] not in (GROUND, *answers.words("below")):
        raise Complaint("Write how many storeys, such as 2; or their names from the lowest up: cellar ground upper.")
    return names


_ORDER = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
)  # fmt: skip


def _no_storeys(state: State, subject: str) -> bool:
    return not state.entries("floors") and not state.entries("rooms") and not _whereabouts_by_hand(state)


def _whereabouts_by_hand(state: State) -> bool:
    """True where the file told places or nodes without rooms before: by distance, or on a drawn plan."""
    entries = [entry for section in ("nodes", "places") for entry in (state.foreign.get(section) or {}).values()]
    return any(entry.get("at") or entry.get("paths") for entry in entries)


def upper_floors(state: State) -> list[str]:
    return floors_of(state)[1:]


def _no_slab(state: State, floor: str) -> bool:
    return not state.entries("floors")[floor].get("slab")


def _slabs(state: State, floor: str) -> Choices:
    return tuple(answers.constructions("floor").items())


def _slab(state: State, floor: str, text: str) -> Taken:
    known = list(answers.constructions("floor"))
    bare = text.strip()
    of = answers.one_word(bare, known) if bare.isdigit() else answers.construction(bare, "floor")
    return put(state, ("floors", floor, "slab"), of), of if of != bare else ""


def _rooms_to_tell(state: State, floor: str) -> bool:
    return not state.foreign.get("rooms") and not _whereabouts_by_hand(state)


def _some_rooms(state: State, floor: str) -> bool:
    return bool(rooms_on(state, floor))


def _on(state: State, floor: str) -> Mapping[str, str]:
    return {"on": f"on the storey “{floor}”" if len(floors_of(state)) > 1 else "there"}


def _rooms(state: State, floor: str, text: str) -> Taken:
    told: list[str] = []
    for piece in re.split(r";|,\s+(?=[^0-9\s])", text):
        if not piece.strip(" ,"):
            continue
        name, size = answers.named_size(piece)
        room = answers.new_id(name, state.entries("rooms"), "room")
        entry = ({"floor": floor} if floor else {}) | ({"size_m": size} if size else {})
        state = put(state, ("rooms", room), entry)
        if not size:
            state = passed_over(state, f"size.{room}")
        told.append(f"{room}, {size[0]:g} x {size[1]:g} m" if size else f"{room}, size not known")
    if not told:
        raise Complaint("Write the name of a room, such as kitchen 4x3.")
    return state, "; ".join(told)


def all_rooms(state: State) -> list[str]:
    """Rooms from the lowest storey up, in the order told."""
    found = [room for floor in floors_of(state) for room in rooms_on(state, floor)]
    return found + [room for room in state.entries("rooms") if room not in found]


def _no_size(state: State, room: str) -> bool:
    return not state.entries("rooms")[room].get("size_m")


def _size(state: State, room: str, text: str) -> Taken:
    return put(state, ("rooms", room, "size_m"), answers.size(text)), ""


def floor_of(state: State, room: str) -> str:
    return str(state.entries("rooms")[room].get("floor") or "")


def _beside(state: State, room: str) -> list[str]:
    """Rooms on its storey told after it, and not yet told to be next to it; the earlier ones were asked about it."""
    on_floor = rooms_on(state, floor_of(state, room))
    later = on_floor[on_floor.index(room) + 1 :] if room in on_floor else []
    told = joined_rooms(state, room)
    return [other for other in later if other not in told]


def _told_by_hand(state: State, room: str) -> bool:
    """True where the neighbours of a room stood in the file before."""
    return bool(((state.foreign.get("rooms") or {}).get(room) or {}).get("next_to"))


def _walls_wanted(state: State, room: str) -> bool:
    return bool(_beside(state, room)) and not _told_by_hand(state, room)


def _walls_fill(state: State, room: str) -> Mapping[str, str]:
    others = _beside(state, room)
    walls = ("brick with door", "plasterboard")
    example = ", ".join(f"{other} {wall}" for other, wall in zip(others, walls, strict=False))
    return listed(others) | {"example": example, "walls": meanings(answers.constructions("wall"))}


def _walls(state: State, room: str, text: str) -> Taken:
    key = f"walls.{room}"
    if answers.says_no(text):
        return finished(state, key), ""
    known = [other for other in rooms_on(state, floor_of(state, room)) if other != room]
    found: dict[str, str] = {}
    for piece in answers.parts(text):
        other, rest = _room_and_rest(state, piece, known, f"beside {room}; what is above it is asked next")
        if other in found:
            raise Complaint(
                f"{other} stands there twice. Of several walls name the one with the door; layers go with `and`."
            )
        if other in joined_rooms(state, room):
            raise Complaint(f"What is between {room} and {other} is told already; leave {other} out here.")
        found[other] = answers.between(rest)
    if not found:
        raise Complaint(f"Write a room and the wall, such as {known[0]} brick with door; or none.")
    for other, wall in found.items():
        state = put(state, ("rooms", room, "next_to", other), wall)
    return finished(state, key), "; ".join(f"{other}: {wall}" for other, wall in found.items())


def _room_and_rest(state: State, text: str, known: list[str], asked: str) -> tuple[str, str]:
    """The room a piece begins with, one of `known`, and what stands behind it."""
    try:
        return answers.first_known(text, known, "room")
    except Complaint as complaint:
        try:
            other, _ = answers.first_known(text, all_rooms(state), "room")
        except Complaint:
            raise complaint from None
        where = "the room itself" if not floor_of(state, other) else f"on “{floor_of(state, other)}”"
        raise Complaint(f"{other} is {where}, and asked is what is {asked}.") from None


def _over(state: State, room: str) -> tuple[str, list[str]]:
    """The storey above a room, and its rooms."""
    floors = floors_of(state)
    here = floor_of(state, room)
    above = floors[floors.index(here) + 1 :] if here in floors else []
    levels = state.entries("floors")
    if not above or levels[above[0]].get("level", 0) == levels[here].get("level", 0):
        return "", []
    told = joined_rooms(state, room)
    return above[0], [other for other in rooms_on(state, above[0]) if other not in told]


def _above_wanted(state: State, room: str) -> bool:
    return bool(_over(state, room)[1]) and not _told_by_hand(state, room)


def _above_fill(state: State, room: str) -> Mapping[str, str]:
    floor, others = _over(state, room)
    slab = (state.entries("floors").get(floor) or {}).get("slab") or ""
    return listed(others) | {"floor": floor, "slab": f", {slab}" if slab else ""}


def _above(state: State, room: str, text: str) -> Taken:
    key = f"above.{room}"
    if answers.says_no(text):
        return finished(state, key), ""
    floor, known = _over(state, room)
    slab = state.entries("floors")[floor].get("slab")
    found: dict[str, str] = {}
    for piece in answers.parts(re.sub(r"\band\b", ",", text)):
        other, rest = _room_and_rest(state, piece, known, f"above {room} (on “{floor}”: {', '.join(known)})")
        of = "open" if rest.strip().lower() == "open" else answers.construction(rest, "floor") if rest.strip() else slab
        if not of:
            known_floors = choice_of(list(answers.constructions("floor")))
            raise Complaint(
                f"Say what the floor between them is made of, too: {other} floor-timber. Known: {known_floors}, open."
            )
        found[other] = str(of)
    if not found:
        raise Complaint(f"Write the rooms above, such as {known[0]}; or none.")
    for other, of in found.items():
        state = put(state, ("rooms", room, "next_to", other), of)
    return finished(state, key), "; ".join(f"{other}: {of}" for other, of in found.items())


def _country_open(state: State, subject: str) -> bool:
    return not state.site["site"].get("country")


def _environment_open(state: State, subject: str) -> bool:
    return not state.foreign and not state.site["site"].get("environment")


SITE_STEPS = (
    Step("name", _name, _unnamed),
    Step("country", _country, _country_open, fill=lambda state, subject: {"countries": ", ".join(_countries())}),
    Step("environment", _environment, _environment_open, lambda state, subject: choices_told("environment")),
    _line_open("down"),
    _line_open("up"),
    Step("storeys", _storeys, _no_storeys),
)
SLAB_STEPS = (Step("slab", _slab, _no_slab, _slabs),)
ROOM_LIST_STEPS = (Step("rooms", _rooms, _rooms_to_tell, fill=_on, many=True, some=_some_rooms, no_is_empty=True),)
ROOM_STEPS = (
    Step("size", _size, _no_size),
    Step("walls", _walls, _walls_wanted, fill=_walls_fill),
    Step("above", _above, _above_wanted, fill=_above_fill),
)
