"""Which units may be added, multiplied and compared in a rule's condition.

Levels in dBm are absolute and logarithmic: two of them differ by dB, and a gain or loss in dB moves one of them.
Adding two levels, or multiplying one, has no meaning and is refused.
Source: ITU-R V.574 (use of the decibel): dBm is a level, dB a ratio of two of them.
"""

from __future__ import annotations

PLAIN = ("", "1", "count")
"""How the catalogue writes 'a plain number'; inside the engine it is the first of these."""

LEVEL = "dBm"
RATIOS = ("dB", "dBi")

SUFFIXES: dict[str, tuple[str, ...]] = {
    "mbps": ("Mb/s",),
    "dbm": ("dBm",),
    "db": ("dB",),
    "dbi": ("dBi",),
    "mhz": ("MHz",),
    "m": ("m",),
    "s": ("s",),
    "ms": ("ms",),
    "us": ("µs", "us"),
    "percent": ("%", "percent"),
}
"""Name suffix (and message filter) → the unit it promises; where two spellings stand, the first is printed."""


def normal(unit: str) -> str:
    """One spelling for each unit."""
    if unit in PLAIN:
        return ""
    return next((names[0] for names in SUFFIXES.values() if unit in names), unit)


def promised(name: str) -> str | None:
    """The unit that a name's suffix promises (`floor_dbm` → dBm), or None where it promises none."""
    _, mark, suffix = name.rpartition("_")
    return SUFFIXES[suffix][0] if mark and suffix in SUFFIXES else None


def of_sum(op: str, left: str | None, right: str | None) -> str | None:
    """Unit of left + right or left − right; None stands for the literal 0, which fits any unit.

    Raises ValueError where the sum has no meaning.
    """
    if left is None or right is None:
        return right if left is None else left
    if left == right == LEVEL:
        if op == "-":
            return "dB"
        raise ValueError("two levels in dBm cannot be added; their difference is in dB")
    if left == right:
        return left
    if left == LEVEL and right in RATIOS:
        return LEVEL
    if op == "+" and right == LEVEL and left in RATIOS:
        return LEVEL
    raise ValueError(f"{shown(left)} {op} {shown(right)} do not fit together")


def of_product(op: str, left: str | None, right: str | None) -> str:
    """Unit of left * right or left / right: a plain number keeps the other unit, same / same is plain.

    Raises ValueError where the product has no meaning.
    """
    left, right = left or "", right or ""
    if LEVEL in (left, right):
        raise ValueError("a level in dBm cannot be multiplied or divided; add or subtract dB instead")
    if right == "":
        return left
    if op == "*" and left == "":
        return right
    if op == "/" and left == right:
        return ""
    raise ValueError(f"{shown(left)} {op} {shown(right)} has no unit that a rule may use")


def comparable(left: str | None, right: str | None) -> bool:
    return left is None or right is None or left == right


def shown(unit: str | None) -> str:
    """A unit as an error message writes it."""
    return unit or "a plain number"
