"""How long all outages of eight nodes take, every subset without power in every order that matters: shown, never
tested."""

from __future__ import annotations

import time
from pathlib import Path

from advisor.advice.outages import outages
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.site.load import load_site, load_text

ROOT = Path(__file__).parent.parent


RADIOS = "radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}"
HEAD = """\
site: {name: Bench, country: GB, environment: office, invented: true}
internet: {down_mbps: 200}
floors: {ground: {level: 0, plan: complete}}
networks: {all: {name: bench, security: wpa2-personal}}
"""


def site_of(nodes: int) -> str:
    """A gateway and relays in a row of rooms, every uplink left to the equipment."""
    boxes = [f"  gate: {{role: gateway, gear: open-node, at: [0, 0], floor: ground, {RADIOS}}}"]
    for number in range(1, nodes):
        place = f"at: [{9 * number}, {3 * (number % 2)}], floor: ground"
        about = f"role: relay, gear: home-relay, {place}, uplink: {{choice: node}}, {RADIOS}"
        boxes.append(f"  n{number}: {{{about}}}")
    uses = [f"  p{n}: {{client: phone, at: [{9 * n + 2}, 2], floor: ground, calls: 1}}" for n in range(nodes)]
    return HEAD + "\n".join(["nodes:", *boxes, "places:", *uses]) + "\n"


def timed(told: str, text: str, together: int) -> None:
    book = open_book(load_text(text, "bench.yaml"), Draws(1, 0))
    start = time.perf_counter()
    found = outages(book, None, together)
    print(f"{told}: {len(found.told)} outages, {time.perf_counter() - start:.2f} s")


def main() -> None:
    timed("8 nodes, every subset", site_of(8), 8)
    timed("8 nodes, up to two off at once", site_of(8), 2)
    timed("30 nodes, one at a time", site_of(30), 1)
    book = open_book(load_site(str(ROOT / "profiles" / "kestrel-yard.yaml")), Draws(1, 0))
    start = time.perf_counter()
    found = outages(book)
    print(f"the demo: {len(found.told)} outages, {time.perf_counter() - start:.2f} s")


if __name__ == "__main__":
    main()
