"""Simulated conditions written as a site file: text that the program reads like a user's.

Boxes of the class `simulated-runs` on a line, levels measured at -38 dBm so that the pinned modulation loses nothing,
an internet line that never binds. What the file cannot say (aggregation limits other than a set's, habits of TCP,
lengths of queues) is left to the caller to skip.
"""

from __future__ import annotations

from typing import Any

import yaml

from advisor.physics.airtime import Link
from advisor.site.equipment import Radio

Block = dict[str, Any]

LEVEL_DBM = -38
LINE_MBPS = 100_000
ENDLESS_MBPS = 20_000
"""What a transfer without end asks for."""
NOTHING_MBPS = 0.001
"""What a place asks for in the direction in which the runs had no traffic; the file takes no 0."""
STEP_M = 5
CHANNELS = {"2.4": (1, 11), "5": (36, 149), "6": (1, 97)}
"""The channel of a run, and one far from it."""

AIR_QUEUES = {"def": "fair-deep", "pfifo": "plain", "mac64": "fair-short"}
"""The queue a run had in front of its radios, as the site file would name it."""


def knows_air_queues() -> bool:
    """Whether the site file can say which queue a radio has."""
    return "air_queue" in Radio.model_fields


class SiteFile:
    """A site being written down."""

    def __init__(self, name: str, gear: str = "simulated-runs") -> None:
        self.name, self.gear = name, gear
        self.queue: str | None = None
        self.nodes: dict[str, Block] = {}
        self.networks: dict[str, Block] = {}
        self.clients: dict[str, Block] = {}
        self.places: dict[str, Block] = {}
        self.measured: dict[str, Block] = {}
        self.neighbours: dict[str, Block] = {}
        self.walks: dict[str, Block] = {}
        self.at_m: dict[str, float] = {}

    def radio(self, link: Link, *, far: bool = False, serves: bool = True) -> Block:
        """A radio that can do what one end of a link did, and nothing faster."""
        block: Block = {
            "band": float(link.band) if link.band == "2.4" else int(link.band),
            "channel": CHANNELS[link.band][far],
            "width_mhz": link.width_mhz,
            "standard": link.standard,
            "streams": int(link.streams),
            "highest_mcs": int(link.mcs),
            "guard_ns": link.guard_ns,
            "eirp_dbm": 16,
        }
        if not serves:
            block["serves_clients"] = False
        if self.queue is not None and knows_air_queues():
            block["air_queue"] = self.queue
        return block

    def node(self, name: str, radios: dict[str, Block], at_m: float, uplink: Block | None = None) -> None:
        """A box on the line; the first one is the gateway."""
        role = "gateway" if uplink is None else "relay" if uplink["over"] == "radio" else "access-point"
        block: Block = {"role": role, "gear": self.gear, "radios": radios}
        if uplink is not None:
            block["uplink"] = uplink
            block["paths"] = self.paths(at_m)
        self.nodes[name], self.at_m[name] = block, at_m

    def network(self, name: str, nodes: list[str], security: str = "open") -> None:
        self.networks[name] = {"name": name, "security": security, "nodes": nodes}

    def place(
        self,
        name: str,
        link: Link,
        radio: str,
        network: str,
        at_m: float,
        *,
        down_mbps: float = NOTHING_MBPS,
        up_mbps: float = NOTHING_MBPS,
        **more: Any,
    ) -> None:
        """A place whose client can do what the link did; it is measured at the radio it is meant to join."""
        security = self.networks[network]["security"]
        self.clients[f"kind-{name}"] = {
            "like": "laptop",
            "bands": [float(link.band) if link.band == "2.4" else int(link.band)],
            "standard": link.standard,
            "streams": int(link.streams),
            "width_mhz": link.width_mhz,
            "security": [security],
        }
        self.places[name] = {
            "client": f"kind-{name}",
            "network": network,
            "down_mbps": down_mbps,
            "up_mbps": up_mbps,
            "paths": self.paths(at_m),
            **more,
        }
        self.measure(radio, name)

    def measure(self, radio: str, at: str) -> None:
        levels = {"level_dbm": LEVEL_DBM, "level_at_node_dbm": LEVEL_DBM}
        self.measured[f"m{len(self.measured)}"] = {"radio": radio, "at": at, **levels}

    def paths(self, at_m: float) -> dict[str, Block]:
        """In clear sight of every box written down so far."""
        return {
            name: {"distance_m": max(abs(at_m - there_m), 1.0), "complete": True} for name, there_m in self.at_m.items()
        }

    def text(self) -> str:
        content: Block = {
            "site": {"name": self.name, "invented": True},
            "internet": {"down_mbps": LINE_MBPS, "up_mbps": LINE_MBPS, "delay_ms": 0, "queue": "fair"},
        }
        for section in ("nodes", "networks", "clients", "places", "walks", "neighbours", "measured"):
            if getattr(self, section):
                content[section] = getattr(self, section)
        return yaml.dump(content, Dumper=_Plain, sort_keys=False, width=120)


class _Plain(yaml.SafeDumper):
    """Writes every block out, without references to an earlier one."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


def single(name: str, link: Link, *, gear: str = "simulated-runs", **place: Any) -> SiteFile:
    """One box and one place."""
    file = SiteFile(name, gear)
    file.node("a0", {"r": file.radio(link)}, 0)
    file.network("home", ["a0"])
    file.place("c0", link, "a0.r", "home", STEP_M, **place)
    return file


def cells(name: str, links: list[Link], places: list[Block]) -> SiteFile:
    """A box for each link, joined by cable, and one place at each; all on one channel and within earshot."""
    file = SiteFile(name)
    for number, link in enumerate(links):
        cable = {"to": "a0", "over": "ethernet", "length_m": STEP_M}
        file.node(f"a{number}", {"r": file.radio(link)}, STEP_M * number, cable if number else None)
        file.network(f"n{number}", [f"a{number}"])
    for number, (link, place) in enumerate(zip(links, places, strict=True)):
        file.place(f"c{number}", link, f"a{number}.r", f"n{number}", STEP_M * number + 2, **place)
    return file


def chain(name: str, links: list[Link], *, queue: str | None = None) -> tuple[SiteFile, str]:
    """Boxes in a line, the hops over the air: a relay receives with one radio and serves with another. Gives the file
    and the radio of the last box. Only the last box carries a network, so that nobody joins an earlier one.

    Where two hops lie on different channels of one band, the relay is written as two boxes joined by a cable: the runs
    had radios that do not deafen each other, and one box with both would be taken to have.
    """
    file = SiteFile(name)
    file.queue = queue
    far = [False] * len(links)
    for number in range(1, len(links)):
        far[number] = _other_channel(name) and links[number].band == links[number - 1].band and not far[number - 1]
    serving, radio = "a0", "r"
    file.node("a0", {"r": file.radio(links[0])}, 0)
    for number in range(1, len(links)):
        relay, at_m = f"a{number}", STEP_M * number
        before, after = links[number - 1], links[number]
        uplink = {"to": serving, "over": "radio", "band": _band(before), "radio": "up"}
        up, serve = (
            file.radio(before, far=far[number - 1], serves=False),
            file.radio(after, far=far[number]),
        )
        if before.band == after.band and far[number] != far[number - 1]:
            file.node(relay, {"up": up}, at_m, uplink)
            cable = {"to": relay, "over": "ethernet", "length_m": 1}
            file.node(f"{relay}-serving", {"r": serve}, at_m + 1, cable)
            file.measure(f"{serving}.{radio}", relay)
            serving = f"{relay}-serving"
        else:
            file.node(relay, {"up": up, "r": serve}, at_m, uplink)
            file.measure(f"{serving}.{radio}", relay)
            serving = relay
    file.network("home", [serving])
    return file, f"{serving}.{radio}"


def _other_channel(name: str) -> bool:
    """Runs on channels 42 and 155 say so in their name."""
    return "ch42-155" in name


def _band(link: Link) -> float | int:
    return float(link.band) if link.band == "2.4" else int(link.band)
