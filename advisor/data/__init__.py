"""What the trade knows, as data: constructions, client kinds, gear classes, MAC settings, propagation tables."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import Any


@cache
def catalogue(name: str) -> dict[str, Any]:
    """The catalogue `name` (data/<name>.yaml); do not change what it returns."""
    import yaml

    text = files(__name__).joinpath(f"{name}.yaml").read_text(encoding="utf-8")
    content = yaml.load(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    if not isinstance(content, dict):
        raise ValueError(f"catalogue {name} is not a mapping")
    return content
