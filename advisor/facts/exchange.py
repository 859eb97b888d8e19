"""One exchange on the air, term by term, for whoever asks why a link carries what it carries."""

from __future__ import annotations

from typing import Any

import numpy as np

from advisor.physics.airtime import Link as AirLink
from advisor.physics.airtime import beacon_share, tcp_cycle, udp_exchange
from advisor.physics.mac import MacSettings
from advisor.physics.receiver import Choice
from advisor.trace import Fact, Looked
from advisor.values import CENTRE, constant

WORDS = {
    "silence_us": "AIFS: silence before the backoff",
    "backoff_us": "mean backoff of a sender alone",
    "data_us": "the data frame with its preamble; for TCP its SIFS and block acknowledgement too",
    "sifs_us": "SIFS between data and answer",
    "answer_us": "block acknowledgement",
    "acknowledgements_us": "TCP acknowledgements sent back, with their own answers",
    "requests_us": "asking for answers lost in collisions",
    "collisions_us": "collisions of data with TCP acknowledgements",
    "waiting_us": "AIFS and backoff of both sides",
}
"""What each term is (IEEE 802.11-2020 cl. 10.23)."""


def exchange(
    key: str, band: str, transport: str, inputs: dict[str, Any], choice: Choice, mac: MacSettings
) -> Fact | None:
    """The duration of one exchange at the centre with its terms as inputs; None where nothing holds."""
    mcs, streams = (int(np.ravel(part)[CENTRE]) for part in (choice.mcs, choice.streams))
    if mcs < 0:
        return None
    link = AirLink(str(inputs["standard"]), band, int(inputs["width_mhz"]), mcs, streams, int(inputs["guard_ns"]), mac)
    cycle: Any = udp_exchange(link) if transport == "udp" else tcp_cycle(link)
    terms = tuple(
        Fact(f"{name}[{key}]", "us", constant(round(float(getattr(cycle, name)), 1)), Looked(WORDS[name]))
        for name in cycle._fields
        if name in WORDS
    )
    rate = f"802.11{link.standard}, {link.width_mhz} MHz, MCS {mcs}, {streams} streams, guard {link.guard_ns} ns"
    settings = Fact(f"rate[{key}]", "", constant(rate), Looked("the rate that delivers most at the centre"))
    delivered = Fact(
        f"delivered_bytes[{key}]",
        "bytes",
        constant(float(cycle.delivered_bytes)),
        Looked("application data an exchange carries; goodput is this over the duration"),
    )
    lost = Fact(
        f"lost_share[{key}]",
        "",
        constant(round(float(np.ravel(choice.per)[CENTRE]), 3)),
        Looked("packets lost over the fading, sent again in later frames"),
    )
    beacons = Fact(
        f"beacon_share[{key}]",
        "",
        constant(round(float(beacon_share(band=band, mac=mac)), 4)),
        Looked("air taken by the beacons of one network name"),
    )
    total = constant(round(float(cycle.total_us), 1))
    how = Looked("sum of its terms, IEEE 802.11-2020 cl. 10.23; MAC settings " + mac.name)
    return Fact(f"exchange_us[{key}]", "us", total, how, (settings, *terms, delivered, lost, beacons))
