"""How long a handover takes, term by term, for one client between two radios."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from advisor.data import catalogue
from advisor.walk.chance import share_lost
from advisor.walk.records import Array, Behaviour, OnWay

ENTERPRISE = ("wpa2-enterprise", "wpa3-enterprise")
WPA3 = ("wpa3-personal",)
RADAR_CHANNELS = range(52, 145)
"""Of 5 GHz: a client may not ask there before it has heard a node."""
EXCHANGES = {
    "none": ("authentication", "association"),
    "personal": ("authentication", "association", "keys", "keys"),
    "wpa3": ("sae", "sae", "association", "keys", "keys"),
    "enterprise": ("authentication", "association", "keys", "keys"),
}
"""Exchanges of two frames that may be lost, by what makes the keys."""
TERMS = (
    "channel", "join", "keys", "turn", "install", "bridge", "first packet", "address", "hidden",
    *(f"try {number}" for number in range(1, 6)),
)  # fmt: skip
"""Terms of a change that are drawn."""


def keys_of(client: Behaviour, old: OnWay | None, new: OnWay) -> str:
    """Which exchange makes the keys: none with 802.11r at both nodes and the client. Enhanced open makes
    its keys in a four-way handshake as well (RFC 8110)."""
    if new.security == "open" or (old is not None and client.r and old.r and new.r):
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
    keys = keys_of(client, old, new)

    def drawn_s(row: str, term: str) -> Array:
        return _between(times[row], chance[term]) / 1e3

    parts = {
        "channel change": drawn_s("channel_ms", "channel"),
        "authentication and association": drawn_s("join_ms", "join"),
        "keys": _between(times["keys_ms"][keys], chance["keys"]) / 1e3,
        "waiting for its turn": times["frames"][keys] * drawn_s("turn_ms", "turn"),
        "retries": _retries_s(keys, margin_db, chance),
        "installing keys": drawn_s("install_ms", "install") * (new.security != "open"),
        "bridge": drawn_s("bridge_ms", "bridge") + new.air_hops * drawn_s("per_hop_ms", "bridge"),
        "first packet": drawn_s("first_packet_ms", "first packet"),
    }
    if old is None:
        parts["new name and address"] = _between(times["new_address_s"], chance["address"])
    elif new.hidden or old.hidden:
        parts["address behind a relay that hides it"] = _between(times["hidden_s"], chance["hidden"])
    return {name: part for name, part in parts.items() if np.any(part > 0.0)}


def _retries_s(keys: str, margin_db: Array, chance: dict[str, Array]) -> Array:
    """Seconds lost because exchanges are begun again: each is two frames, and takes a timer of its own to be missed."""
    rows = catalogue("walking")["handover"]["tries"]
    fading = float(catalogue("walking")["fading_sigma_db"]["value"])
    lost = 1.0 - (1.0 - share_lost(margin_db, fading)) ** 2
    terms = (lost_tries_s(rows[row], lost, chance[f"try {n}"]) for n, row in enumerate(EXCHANGES[keys], 1))
    total: Array = sum(terms, np.zeros_like(margin_db))
    return total


def lost_tries_s(row: dict[str, Any], lost: Array, chance: Array) -> Array:
    """Seconds the lost tries of one exchange cost: as many as chance has it, each lost with the same share."""
    tries = np.floor(np.log(np.maximum(1.0 - chance, 1e-12)) / np.log(np.clip(lost, 1e-12, 0.95)))
    further = np.clip(tries, 0, row["most"]) - 1
    return np.where(tries > 0, row["first_ms"] + further * row["further_ms"], 0.0) / 1e3


@dataclass(frozen=True, slots=True)
class Look:
    """A client looks around while joined; one entry for each draw."""

    seconds: Array
    late: Array
    """Share of a call's packets that come later than its jitter buffer waits, and so are lost to it."""
    delay_ms: Array
    """Mean delay of the others, more than usual."""


def look_around(client: Behaviour, here: OnWay, radios: tuple[OnWay, ...], chance: Array) -> Look:
    """How long the client looks around on a call: a short list with 802.11k, else every channel; back after each."""
    scan = catalogue("walking")["scan"]
    pause_s, passive_s = float(scan["pause_s"]["value"]), np.full_like(chance, scan["passive_channel_s"]["value"])
    if not (client.k and here.k):
        active, passive = float(scan["full_active"]["value"]), float(scan["full_passive"]["value"])
        every = [(np.full_like(chance, scan["full_channel_s"]["value"]), active), (passive_s, passive)]
        whole_s = sum(number * length for length, number in every) + (active + passive) * pause_s
        seconds = _between(scan["full_s"], chance)
        return _look(seconds, [(length, number * seconds / whole_s) for length, number in every])
    channels = sorted({(radio.band, radio.channel or 0) for radio in radios if radio.names & here.names})
    listed = channels[: int(scan["most_known"]["value"])]
    quiet = sum(band == "5" and number in RADAR_CHANNELS for band, number in listed)
    active_s = _between(scan["known_channel_s"], chance)
    seconds = (len(listed) - quiet) * active_s + quiet * passive_s + (len(listed) - 1) * pause_s
    return _look(seconds, [(active_s, len(listed) - quiet), (passive_s, quiet)])


def _look(seconds: Array, pieces: list[tuple[Array, Any]]) -> Look:
    """From pieces (length, how many): a packet that comes t after a piece of length A began waits A - t for its end.
    Those of the first A - B are later than a buffer of B; the others of the piece wait min(A, B) / 2 on average."""
    buffer_s = float(catalogue("walking")["calls"]["jitter_buffer_ms"]["value"]) / 1e3
    late_s = sum(number * np.maximum(length - buffer_s, 0.0) for length, number in pieces)
    waited_s2 = sum(number * np.minimum(length, buffer_s) ** 2 / 2.0 for length, number in pieces)
    return Look(seconds, late_s / seconds, 1e3 * waited_s2 / (seconds - late_s))


def _between(row: dict[str, Any], chance: Array) -> Array:
    low, high = float(row["low"]), float(row["high"])
    result: Array = low + (high - low) * chance
    return result
