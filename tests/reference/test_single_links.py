"""Goodput of one link alone against a packet simulator, same settings (see SOURCES.md).

No figure of the model is fitted to these rows.
"""

from __future__ import annotations

import csv
import dataclasses
from pathlib import Path
from statistics import median

import pytest

from advisor.physics.airtime import goodput_mbps
from advisor.physics.mac import MacSettings, mac_settings

DATA = Path(__file__).parent / "data"
SIMULATOR = mac_settings("simulator")


def rows(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def error(row: dict[str, str], mac: MacSettings) -> float:
    model = goodput_mbps(
        standard=row["standard"],
        band="2.4" if row["band"] == "2.4" else "5",
        width_mhz=int(row["width_mhz"]),
        mcs=int(row["mcs"]),
        streams=int(row["nss"]),
        guard_ns=int(row["gi_ns"]),
        transport="udp" if row["transport"] == "udp" else "tcp",
        mac=mac,
    )
    return float(model) / float(row["goodput_mbps"]) - 1.0


def errors(transport: str) -> list[float]:
    return [abs(error(row, SIMULATOR)) for row in rows("ns3-single-link.csv") if row["transport"] == transport]


def test_the_table_is_whole() -> None:
    assert (len(errors("udp")), len(errors("tcp"))) == (75, 74)


def test_udp_links() -> None:
    found = errors("udp")
    assert median(found) < 0.005
    assert max(found) < 0.01


def test_tcp_links() -> None:
    found = errors("tcp")
    assert median(found) < 0.02
    assert max(found) < 0.06


def with_variant(row: dict[str, str]) -> MacSettings:
    """The simulator's settings with what the row's name changes: limits on aggregates, how often TCP acknowledges."""
    words, standard = row["scenario_id"].split("_"), row["standard"]
    limits = SIMULATOR.aggregation(standard)
    delayed_ack = SIMULATOR.delayed_ack
    for word in words:
        if word.startswith("ampdu"):
            limits = dataclasses.replace(limits, ampdu_bytes=1024 * int(word[5:-1]) - 1)
        elif word.startswith("aggmax"):
            limits = dataclasses.replace(limits, ampdu_bytes=6_500_631 if standard == "ax" else 1_048_575)
            if word == "aggmax64":
                limits = dataclasses.replace(limits, ampdu_frames=64, block_ack_bytes=32)
        elif word == "amsdu7935":
            limits = dataclasses.replace(limits, amsdu_bytes=7935)
        elif word == "noagg":
            limits = dataclasses.replace(limits, ampdu_frames=1)
        elif word == "delack1":
            delayed_ack = 1
    return dataclasses.replace(SIMULATOR, aggregations=((standard, limits),), delayed_ack=delayed_ack)


VARIANTS = [
    pytest.param(row, id=row["scenario_id"])
    for row in rows("ns3-single-link-variants.csv")
    if "rts" not in row["scenario_id"].split("_")  # RTS/CTS is not part of the model
]


@pytest.mark.parametrize("row", VARIANTS)
def test_other_settings(row: dict[str, str]) -> None:
    assert abs(error(row, with_variant(row))) < (0.005 if row["transport"] == "udp" else 0.05)
