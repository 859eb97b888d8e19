"""Writes `docs/constructions.md` from the catalogue of constructions.

    python docs/make_constructions.py

A test runs the same function and compares.
"""

from __future__ import annotations

from pathlib import Path

from advisor.data import catalogue
from advisor.physics.materials import (
    AIR,
    P2040_MATERIALS,
    construction_ids,
    construction_loss,
    layers_of,
    p2040_range_db,
)

PAGE = Path(__file__).parent / "constructions.md"
BANDS = (("2.4", 2437.0), ("5", 5250.0), ("6", 6000.0))
NAMES = {material: name.replace("_", " ") for name, material in P2040_MATERIALS.items()} | {AIR: "air"}

HEAD = """\
# Constructions

Written by `docs/make_constructions.py` from `advisor/data/constructions.yaml`; do not edit by hand.

*Trade* is what one crossing costs in dB: typical, and in brackets what is usually met. Common practice, no source; a
measured loss overrides. *P.2040* is the least and most loss of the flat layers named, by ITU-R P.2040-4 (coefficients
of its Table 3, all reflections between the layers, 0 to 60 degrees from the normal, both polarisations) at 2437, 5250
and 6000 MHz. It is a check of the order of size, not a rating: it knows no studs, ties, foil, reinforcement, moisture
or edges. **Bold**: the trade's typical value lies outside what the layers give.

Levels are computed with the trade's ranges. The range of one band is not narrowed by the formula.
"""


def page() -> str:
    """The whole page: a table with one row a construction, then why the two differ."""
    lines = [
        HEAD,
        "| id | what | layers compared | 2.4 GHz trade | P.2040 | 5 GHz trade | P.2040 | 6 GHz trade | P.2040 |",
    ]
    lines.append("|---|---|---|---|---|---|---|---|---|")
    names = [name for name in construction_ids() if name != "open"]
    lines += [_row(name) for name in names]
    lines += ["", "## Where they differ, and why", ""]
    rows = catalogue("constructions")["constructions"]
    lines += [f"- **{name}**: {_apart(name)}{rows[name]['p2040']}." for name in names]
    return "\n".join(lines) + "\n"


def _row(name: str) -> str:
    row = catalogue("constructions")["constructions"][name]
    layers = layers_of(name)
    told = ", ".join(f"{NAMES[layer.material]} {layer.thickness_m * 1000:g} mm" for layer in layers) or "none"
    cells = []
    for band, mhz in BANDS:
        loss = construction_loss(name, band)
        mark = "**" if layers and not _inside(name, band, mhz) else ""
        cells.append(f"{mark}{loss.typical_db:g}{mark} ({loss.low_db:g}–{loss.high_db:g})")
        cells.append("–".join(f"{end:.1f}" for end in p2040_range_db(layers, mhz)) if layers else "·")
    return f"| `{name}` | {row['title']} | {told} | {' | '.join(cells)} |"


def _inside(name: str, band: str, mhz: float) -> bool:
    low, high = p2040_range_db(layers_of(name), mhz)
    return low <= construction_loss(name, band).typical_db <= high


def _apart(name: str) -> str:
    """How far the typical value lies from what the layers give, in words."""
    if not layers_of(name):
        return "not comparable; "
    parts = []
    for band, mhz in BANDS:
        low, high = p2040_range_db(layers_of(name), mhz)
        typical = construction_loss(name, band).typical_db
        if typical > high:
            parts.append(f"{typical - high:.1f} dB above at {band} GHz")
        elif typical < low:
            parts.append(f"{low - typical:.1f} dB below at {band} GHz")
    return f"typical value {', '.join(parts)}; " if parts else "typical value inside at every band; "


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
