"""How long a packet of a call waits at a stretch of its way, by how full that stretch is."""

from __future__ import annotations

from advisor.data import catalogue


def waiting_ms(used: float, *, voice_class: bool) -> tuple[float, float]:
    """Mean wait in milliseconds and share of packets lost at a stretch wanted for this share of the time.

    The wait grows as used / (1 - used) turns (a queue with random arrivals, M/M/1) up to a limit; beyond full, what
    does not fit is lost. Packets in the voice access class go before. Common practice, no source, for turn and limit.
    """
    row = catalogue("walking")["waiting"]
    turn, most = float(row["turn_ms"]["value"]), float(row["most_ms"]["value"])
    wait = min(turn * used / (1.0 - used), most) if used < 1.0 else most
    lost = max(1.0 - 1.0 / used, 0.0) if used > 1.0 else 0.0
    if voice_class:
        return wait * float(row["voice_share"]["value"]), 0.0
    return wait, lost
