"""From a typed line to a value, or to a complaint in plain words."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from typing import Any

from advisor.data import catalogue
from advisor.site import partitions
from advisor.site.wording import choice_of, nearest, one_of, shown


class Complaint(Exception):
    """An answer that cannot be taken: what is wrong with it and what would do."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text


@cache
def words(kind: str) -> Mapping[str, Any]:
    """Other words people use for something."""
    found: Mapping[str, Any] = catalogue("interview")["words"][kind]
    return found


_LETTERS = str.maketrans({"ß": "ss", "ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"})


def slug(text: str) -> str:
    """A name as an id: small letters a to z, digits and hyphens; empty where nothing of it is left.

    >>> slug("Große Küche"), slug("bath 2"), slug("台所")
    ('grosse-kuche', 'bath-2', '')
    """
    plain = unicodedata.normalize("NFKD", text.lower().translate(_LETTERS))
    kept = "".join(c for c in plain if not unicodedata.combining(c))
    return re.sub(r"[^a-z0-9]+", "-", kept).strip("-")[:32].strip("-")


def new_id(text: str, taken: Iterable[str], what: str) -> str:
    """The id of a new thing; complains where no letter is left or the name is taken."""
    name = slug(text)
    if not name:
        raise Complaint(
            f"{shown(text)} has no letter a to z or digit in it, and names of {what}s are noted in those. "
            f"Write it in those letters, or {what}-1."
        )
    if name in taken:
        raise Complaint(f"There is a {what} called {name} already. Give this one another name, such as {name}-2.")
    return name


def parts(text: str) -> list[str]:
    """The pieces between commas and semicolons."""
    return [piece.strip() for piece in re.split(r"[,;]", text) if piece.strip()]


_NUMBER = re.compile(r"[0-9]{1,9}(?:[.,][0-9]{1,6})?")
_UNITS = re.compile(r"(?<=[0-9\s])(gb|gbit|gigabit|gbps)(?:it)?(?:/s)?\b", re.IGNORECASE)


def numbers(text: str, most: int, *, low: float, high: float, what: str, unit: str) -> list[float | int]:
    """One to `most` numbers in a line; words such as Mbit/s between them are passed over."""
    if re.search(r"-\s*[0-9]", text):
        raise Complaint(f"{what[0].upper()}{what[1:]} is never negative. Write a number such as 100.")
    if _UNITS.search(text):
        raise Complaint(f"Write {what} in {unit}: 1 gigabit is 1000.")
    if re.search(r"[0-9],[0-9]{3}(?![0-9])" if most == 1 else r"[0-9],[0-9]", text):
        raise Complaint(
            "What is the comma? Write 1000 without one, decimals with a point, a space between two numbers."
        )
    found = _NUMBER.findall(re.sub(r"(?i)\b(?:m(?:ega)?bits?(?:/s|ps)?|mb(?:/s|ps)?)\b", " ", text))
    if not found:
        raise Complaint(f"{shown(text)} has no number in it. Write {what} in {unit}, such as {_like(low, high)}.")
    if len(found) > most:
        raise Complaint(f"Those are {len(found)} numbers; write {'one' if most == 1 else f'at most {most}'}.")
    values = [tidy(float(number.replace(",", "."))) for number in found]
    for value in values:
        if not low <= value <= high:
            raise Complaint(f"{value:g} is outside what can be: {what} is between {low:g} and {high:g} {unit}.")
    return values


def _like(low: float, high: float) -> str:
    return "100" if low <= 100 <= high else f"{low:g}"


def tidy(number: float) -> float | int:
    """A whole number as such, others to a hundredth or, when small, as they are."""
    if number.is_integer():
        return int(number)
    return round(number, 2) if number >= 0.05 else round(number, 6)


def one_word(text: str, options: Sequence[str], aliases: Mapping[str, str] | None = None) -> str:
    """One of the options: its number in the list, the word, or a beginning only one of them has."""
    asked = slug(text)
    if text.strip() in options:
        return text.strip()
    if asked.isdigit() and 1 <= int(asked[:6]) <= len(options):
        return options[int(asked) - 1]
    by_slug = {slug(option): option for option in options}
    if asked in by_slug:
        return by_slug[asked]
    if aliases and aliases.get(asked) in options:
        return aliases[asked]
    begins = [option for key, option in by_slug.items() if len(asked) > 1 and key.startswith(asked)]
    if len(begins) == 1 and not says_no(text):
        return begins[0]
    if len(begins) > 1:
        raise Complaint(f"{shown(text)} could be {one_of(begins)}. Write more of it.")
    raise Complaint(unknown_word(text, options))


def unknown_word(text: str, options: Sequence[str], kind: str = "answer") -> str:
    meant = nearest(slug(text) or text, options)
    guess = f"Did you mean {meant}? " if meant else ""
    return f"{shown(text)} is no {kind} known here. {guess}Known: {choice_of(list(options), most=24)}."


def says_no(text: str) -> bool:
    return slug(text) in ("no", "none", "nobody", "nothing", "n", "never", "0")


def says_yes(text: str) -> bool:
    return slug(text) in ("yes", "y", "yep", "sure")


def some_of(text: str, options: Sequence[str], kind: str) -> list[str]:
    """Several of the options: all, or words with commas (or just spaces) between them."""
    if slug(text) in ("all", "all-of-them", "every", "everywhere"):
        return list(options)
    pieces = parts(re.sub(r"\band\b", ",", text))
    if len(pieces) == 1 and slug(pieces[0]) not in {slug(option) for option in options}:
        pieces = pieces[0].split()
    chosen: list[str] = []
    for piece in pieces:
        by_slug = {slug(option): option for option in options}
        if slug(piece) not in by_slug:
            raise Complaint(unknown_word(piece, options, kind))
        if by_slug[slug(piece)] not in chosen:
            chosen.append(by_slug[slug(piece)])
    if not chosen:
        raise Complaint(f"Name {one_of(list(options)[:3])}, or write none.")
    return chosen


_SIZE = re.compile(
    r"(?<![0-9x×*.,])(?P<a>[0-9]+(?:[.,][0-9]+)?)\s*(?:m|metres?)?\s*[x×*]\s*(?P<b>[0-9]+(?:[.,][0-9]+)?)\s*(?:m|metres?)?\s*$",
    re.IGNORECASE,
)
SMALLEST_M, LARGEST_M = 0.3, 200.0
"""Sides a room may have; they only catch slips of the finger; common practice, no source."""


def size(text: str) -> list[float | int]:
    """`4x3`, `4.5 x 3 m`: width and depth."""
    found = _SIZE.fullmatch(text.strip())
    if not found:
        raise Complaint(f"{shown(text)} is no size. Write width x depth in metres, such as 4x3 or 4.5x3.")
    sides = [tidy(float(found[side].replace(",", "."))) for side in ("a", "b")]
    for side in sides:
        if not SMALLEST_M <= side <= LARGEST_M:
            raise Complaint(
                f"{side:g} m is no width of a room; metres are meant, from {SMALLEST_M:g} to {LARGEST_M:g}."
            )
    return sides


def named_size(text: str) -> tuple[str, list[float | int] | None]:
    """`kitchen 4x3`: a name, and the size where one stands behind it."""
    found = _SIZE.search(text)
    if not found:
        if re.search(r"[0-9]\s*[x×*]|[x×*]\s*[0-9]", text):
            raise Complaint("Write the name, then width x depth in metres: kitchen 4x3.")
        return text.strip(), None
    name = text[: found.start()].strip(" :,")
    if not name:
        raise Complaint(f"Which room is {found[0].strip()}? Write the name before the size: kitchen 4x3.")
    return name, size(found[0])


def first_known(text: str, known: Sequence[str], kind: str) -> tuple[str, str]:
    """The known thing a line begins with, of one or more words, and the rest of the line."""
    pieces = text.replace(":", " ").split()
    by_slug = {slug(name): name for name in known}
    for length in range(len(pieces), 0, -1):
        found = by_slug.get(slug(" ".join(pieces[:length])))
        if found:
            return found, " ".join(pieces[length:])
    raise Complaint(unknown_word(pieces[0] if pieces else text, known, kind))


def devices(text: str, known: Sequence[str]) -> list[tuple[str, int]]:
    """`2 phone, laptop`, `phones x2 and a laptop`: kinds and how many of each, each kind once."""
    found: dict[str, int] = {}
    for piece in re.split(r"[,;+]|\band\b", text.lower()):
        if not piece.strip():
            continue
        many = re.search(r"[0-9]+", piece)
        count = int(many[0][:6]) if many else _counted(piece)
        word = slug(re.sub(rf"x?[0-9]+x?|\b(?:x|a|an|{'|'.join(COUNTED)})\b|[×*]", " ", piece))
        if not 1 <= count <= 1000:
            raise Complaint("How many of each: a whole number from 1 to 1000.")
        if not word:
            raise Complaint(f"{shown(piece.strip())}: of what? Write a kind behind the number, such as 2 phone.")
        kind = _kind(word, known)
        found[kind] = found.get(kind, 0) + count
    if not found:
        raise Complaint("Write how many of what, such as 2 phone, laptop; or none.")
    return list(found.items())


COUNTED = ("one", "two", "three", "four", "five", "six")


def _counted(piece: str) -> int:
    named = [number for number, word in enumerate(COUNTED, 1) if re.search(rf"\b{word}\b", piece)]
    return named[0] if named else 1


def _kind(word: str, known: Sequence[str]) -> str:
    aliases = words("clients")
    for form in (word, word.removesuffix("s"), word.removesuffix("es")):
        if form in known:
            return form
        if aliases.get(form) in known:
            return str(aliases[form])
    raise Complaint(unknown_word(word, known, "kind of device"))


def constructions(kind: str = "all") -> dict[str, str]:
    """Ids with their titles: `floor` those of floors, `wall` what may be a wall; a door stands in one."""
    entries = catalogue("constructions")["constructions"]

    def fits(name: str) -> bool:
        if kind == "floor":
            return name.startswith("floor-")
        return kind == "all" or not name.startswith(("floor-", "door-"))

    return {name: entry["title"] for name, entry in entries.items() if fits(name)}


def construction(text: str, kind: str = "all") -> str:
    """The construction a word means."""
    known = constructions(kind)
    pieces = _bare(text.replace("-", " "))
    word = "-".join(pieces)
    other = words("constructions").get(word, word)
    for name in (word, other, "-".join(reversed(pieces)), f"floor-{word}"):
        if name in known:
            return name
    raise Complaint(unknown_word(text.strip(), list(known), "kind of floor" if kind == "floor" else "kind of wall"))


def between(text: str) -> str:
    """What lies between two rooms, in the form of the site file: `brick and mirror with door`."""
    if not _bare(text):
        raise Complaint(
            "Say what the wall is made of, too: brick where it is heavy, plasterboard where it sounds hollow, open "
            "where there is none. Leave that room out if you cannot tell."
        )
    layers = []
    for layer in re.split(r"\band\b|\+", text.lower()):
        wall, _, behind = f" {layer} ".partition(" with ")
        pieces = _bare(wall)
        for length in (2, 1):  # "brick glass door", "brick door"
            fits = len(pieces) > length or (len(pieces) == length and "-".join(pieces) not in words("constructions"))
            if not behind.strip() and fits and _opening_of(pieces[-length:]):
                pieces, behind = pieces[:-length], " ".join(pieces[-length:])
        if not pieces:
            raise Complaint("Say what the wall itself is made of, before `with`: brick with door.")
        of = construction(" ".join(pieces), "wall")
        layers.append(f"{of} with {_opening(behind)}" if behind.strip() else of)
    return " and ".join(layers)


def _bare(text: str) -> list[str]:
    """The words that say something."""
    return [piece for piece in text.lower().split() if piece not in words("fillers")]


def _opening(text: str) -> str:
    asked = "-".join(_bare(text))
    found = _opening_of(_bare(text)) or (asked if asked in partitions.openings() else "")
    if not found:
        raise Complaint(unknown_word(text.strip(), list(partitions.openings()), "opening in a wall"))
    return found


def _opening_of(pieces: Sequence[str]) -> str:
    """What may stand in a wall, empty where the words mean nothing of that kind."""
    asked = "-".join(pieces).removesuffix("s")
    for name in (asked, words("openings").get(asked, "")):
        if name in partitions.openings() and name not in _WALLS_TOO:
            return str(name)
    return ""


_WALLS_TOO = ("open", "glass", "glass-double", "glass-coated", "gap")
"""Words for openings that are walls just as well: they count as an opening only behind `with`."""


@cache
def channels() -> Mapping[str, frozenset[int]]:
    """Channels of 20 MHz of each band."""
    found: dict[str, set[int]] = {}
    for row in catalogue("channels")["classes"].values():
        if row["width_mhz"] != 20:
            continue
        centres = row["centres"]
        every = centres if isinstance(centres, list) else range(centres["from"], centres["to"] + 1, centres["step"])
        found.setdefault(row["band"], set()).update(every)
    return {band: frozenset(channels) for band, channels in found.items()}
