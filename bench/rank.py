"""How long the search for the best layout takes with one to eight relays on three bands, and how much could be missed
where it does not end: `python bench/rank.py [RELAYS …]`. Shown, never tested."""

from __future__ import annotations

import resource
import sys
import time

from advisor.advice.score import asks_of
from advisor.advice.search import search
from advisor.advice.setups import setups
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.network.alternatives import count_forests
from advisor.site.load import load_text

BUDGET = 400
RADIOS = (
    "{r24: {band: 2.4, standard: n, streams: 2, channel: 1, width_mhz: 20, eirp_dbm: 20}, "
    "r5: {band: 5, standard: ax, streams: 2, channel: 36, width_mhz: 80, eirp_dbm: 23}, "
    "r6: {band: 6, standard: ax, streams: 2, channel: 5, width_mhz: 80, eirp_dbm: 20}}"
)


def site_with(relays: int) -> str:
    """An invented building of three units a row, brick between them, a node in each; people beside every node."""
    lines = [
        "site: {name: Bench, country: GB, environment: office, invented: true}",
        "internet: {down_mbps: 1000, up_mbps: 1000}",
        "networks: {all: {name: bench, security: wpa3-personal}}",
        "choices: {channels: {2.4: [1, 6, 11], 5: [36, 149], 6: [5, 37]}, names: [one]}",
    ]
    rows, across = relays // 3 + 1, 3
    walls = [f"x{i}: {{line: [[{i * 12}, 0], [{i * 12}, {rows * 12}]], of: brick}}" for i in range(across + 1)]
    walls += [f"y{i}: {{line: [[0, {i * 12}], [{across * 12}, {i * 12}]], of: brick}}" for i in range(rows + 1)]
    lines.append(f"floors: {{ground: {{level: 0, plan: complete, walls: {{{', '.join(walls)}}}}}}}")
    nodes, places = ["nodes:"], ["places:"]
    for index in range(relays + 1):
        x, y = index % 3 * 12 + 6, index // 3 * 12 + 6
        role = "relay" if index else "gateway"
        uplink = ", uplink: {to: n0, band: 5}" if index else ""
        nodes.append(
            f"  n{index}: {{role: {role}, gear: open-node, at: [{x}, {y}], floor: ground, radios: {RADIOS}{uplink}}}"
        )
        asks = "down_mbps: 25, up_mbps: 5"
        places.append(f"  p{index}: {{client: laptop, count: 3, at: [{x + 3}, {y + 2}], floor: ground, {asks}}}")
    return "\n".join([*lines, *nodes, *places]) + "\n"


def main() -> None:
    for relays in [int(word) for word in sys.argv[1:]] or range(1, 9):
        loaded = load_text(site_with(relays), f"bench-{relays}.yaml")
        start = time.perf_counter()
        base = open_book(loaded, Draws(1, 0))
        tried, _ = setups(loaded, base, {})
        found = search(tried, asks_of(loaded.site), budget=BUDGET)
        seconds = time.perf_counter() - start
        forests = sum(count_forests(space.ways, space.held, space.roots) for _, space in found.spaces)
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        met, worst = found.best
        gap = "nothing better is left" if found.bound is None else f"at most {found.bound[0]} met, {found.bound[1]:.2f}"
        print(
            f"{relays} relays: {forests:9d} ways for the uplinks, {len(found.plans):4d} computed, {seconds:6.1f} s, "
            f"{memory:4.0f} MiB; best {met} met, worst share {worst:.2f}; {gap}"
        )


if __name__ == "__main__":
    main()
