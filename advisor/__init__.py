"""Reasons about the Wi-Fi of a home or small workplace from one written description of the site.

The public Python API is small: `load` a site file, `assess` it.

    >>> import advisor
    >>> loaded = advisor.load("profiles/two-nodes.yaml")
    >>> [finding.rule for finding in advisor.assess(loaded).judgement.findings]  # doctest: +SKIP
"""

from __future__ import annotations

from typing import Any

__version__ = "0.1.0"
__all__ = ["__version__", "assess", "load"]


def __getattr__(name: str) -> Any:
    """Import the parts when they are first used, so that `import advisor` stays cheap."""
    if name == "load":
        from advisor.site.load import load_site

        return load_site
    if name == "assess":
        from advisor.assess import assess

        return assess
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
