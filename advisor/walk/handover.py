"""How long a handover takes, term by term, for one client between two radios."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.walk.chance import share_lost
from advisor.walk.records import Array, Behaviour, OnWay

ENTERPRISE = ("wpa2-enterprise", "wpa3-enterprise")
WPA3 = ("wpa3-personal",)
OPEN = ("open", "enhanced-open")


def keys_of(client: Behaviour, old: OnWay | None, new: OnWay) -> str:
    """Which exchange makes the keys: none with 802.11r at both nodes and the client."""
    if new.security in OPEN or (old is not None and client.r and old.r and new.r):
        return "none"
    if new.security in ENTERPRISE:
        return "enterprise"
    return "wpa3" if new.security in WPA3 else "personal"


def gap_parts_s(
    client: Behaviour, old: OnWay | None, new: OnWay, margin_db: Array, chance: dict[str, Array]
) -> dict[str, Array]:
    """Seconds of each term of the gap, one for each draw, in the order they happen; retries where the new link is weak.

    `old` is None where the client comes from nothing or from another name. `chance` holds uniform draws by term.
    """
    times = catalogue("walking")["handover"]
    fading = float(catalogue("walking")["fading_sigma_db"]["value"])
    keys = keys_of(client, old, new)
    parts = {
        "authentication and association": _between(times["join_ms"], chance["join"]) / 1e3,
        "keys": _between(times["keys_ms"][keys], chance["keys"]) / 1e3,
        "bridge": np.full_like(
            margin_db, (times["bridge_ms"]["value"] + new.air_hops * times["per_hop_ms"]["value"]) / 1e3
        ),
    }
    frames = times["frames"]["value"] * (1 if keys == "none" else 2)
    lost = 1.0 - (1.0 - np.minimum(share_lost(margin_db, fading), 0.95)) ** frames
    tries = np.floor(np.log(np.maximum(1.0 - chance["retry"], 1e-12)) / np.log(np.maximum(lost, 1e-12)))
    parts["retries"] = np.clip(tries, 0, 8) * times["retry_ms"]["value"] / 1e3
    if old is None:
        parts["new name and address"] = _between(times["new_address_s"], chance["address"])
    elif new.hidden or old.hidden:
        parts["address behind a relay that hides it"] = _between(times["hidden_s"], chance["hidden"])
    return {name: part for name, part in parts.items() if np.any(part > 0.0)}


def scan_s(client: Behaviour, here: OnWay, radios: tuple[OnWay, ...], chance: Array) -> Array:
    """How long the client looks around, associated: a short list with 802.11k, else every channel."""
    scan = catalogue("walking")["scan"]
    if not (client.k and here.k):
        return _between(scan["full_s"], chance)
    channels = {(radio.band, radio.channel) for radio in radios if radio.names & here.names}
    count = min(len(channels), int(scan["most_known"]["value"]))
    dwell = _between(scan["known_channel_s"], chance) * count
    pauses = max((count - 1) // 2, 0) * float(scan["pause_s"]["value"])
    result: Array = dwell + pauses
    return result


def _between(row: dict[str, Any], chance: Array) -> Array:
    low, high = float(row["low"]), float(row["high"])
    result: Array = low + (high - low) * chance
    return result
