"""How numbers and names are told to people: digits, bands, units, and texts from outside made harmless."""

from __future__ import annotations

import unicodedata
from math import floor, log10

from advisor.values import Known, Options, Scalar, Unknown, Value


def number(value: Scalar, digits: int | None) -> str:
    """A number with its digits (None: as many as it has), yes or no, or a text as it is."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value
    if isinstance(value, tuple):
        return ", ".join(number(entry, digits) for entry in value)
    if digits is None:
        return f"{value:.10g}"
    return f"{round(float(value), digits) + 0.0:.{max(digits, 0)}f}"


def known_text(value: Known, unit: str, digits: int | None, *, band: bool) -> str:
    """`12.3 Mb/s`, or with its band `12 (8–15) Mb/s`, `-67 (-70 to -61) dBm`. From 20 Mb/s on no decimals are told."""
    digits = told_digits(value, unit, digits)
    centre, low, high = (number(end, digits) for end in (value.centre, *told_ends(value)))
    text = centre
    if band and (low != centre or high != centre):
        dash = " to " if low.startswith("-") or isinstance(value.centre, str) else "–"
        text = f"{centre} ({low}{dash}{high})"
    return f"{text} {unit}" if unit else text


def told_ends(value: Known) -> tuple[Scalar, Scalar]:
    """The ends of a band as they may be told: where draws give them, with two digits of the band's width, since more
    would change with the draws."""
    if not value.joint or isinstance(value.low, (str, bool)) or isinstance(value.high, (str, bool)):
        return value.low, value.high
    width = float(value.high) - float(value.low)
    if width <= 0.0:
        return value.low, value.high
    digits = 1 - floor(log10(width))
    low, high = round(float(value.low), digits), round(float(value.high), digits)
    return min(low, float(value.centre)), max(high, float(value.centre))


def told_digits(value: Known, unit: str, digits: int | None) -> int | None:
    """The declared digits; speeds of 20 Mb/s and more are told without decimals."""
    if unit == "Mb/s" and digits and isinstance(value.centre, (int, float)) and float(value.centre) >= 20.0:
        return 0
    return digits


def cell_text(value: Known, unit: str, digits: int | None) -> str:
    """A value for a table whose head names the unit: `142 (102–201)`, `-62 (-65…-59)`."""
    digits = told_digits(value, unit, digits)
    centre, low, high = (number(end, digits) for end in (value.centre, *told_ends(value)))
    if low == high == centre:
        return centre
    return f"{centre} ({low}{'…' if low.startswith('-') or isinstance(value.centre, str) else '–'}{high})"


def value_text(value: Value, unit: str, digits: int | None) -> str:
    """Any value for people: with its band, each option's answer, or what is missing."""
    if isinstance(value, Known):
        return known_text(value, unit, digits, band=True)
    if isinstance(value, Unknown):
        return "not known: " + ("; ".join(value.missing) or "something")
    return "; ".join(f"{name}: {value_text(answer, unit, digits)}" for name, answer in value.answers.items())


def inert(text: str) -> str:
    """A text from outside with control, direction and other invisible characters written out, so that it cannot act.

    >>> inert("cafe\\x1b[31m")
    'cafe\\\\x1b[31m'
    """
    return "".join(
        char if char == " " or unicodedata.category(char)[0] not in "CZ" else char.encode("unicode_escape").decode()
        for char in text
    )


__all__ = ["Options", "cell_text", "inert", "known_text", "number", "told_digits", "value_text"]
