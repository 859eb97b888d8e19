"""What the physics computes with: a plain number, or an array with one element per case."""

from __future__ import annotations

from typing import Any, TypeAlias

from numpy.typing import NDArray

Number: TypeAlias = float | NDArray[Any]
"""A float, or an array of them; every function gives elementwise what it gives for a single number."""


def plain(value: Any) -> Any:
    """An array as it is; an array without axes, as numpy's `where` and `clip` leave it, as the number it holds."""
    return value[()] if getattr(value, "ndim", None) == 0 else value
