"""How long a thousand draws of a walk of a minute past three nodes take, and the causes of the demo: shown, never
tested."""

from __future__ import annotations

import time
from pathlib import Path

from advisor.advice.causes import diagnose_walk
from advisor.facts.checks import open_book
from advisor.facts.draws import Draws
from advisor.facts.trails import behaviour, trail_of_walk
from advisor.site.load import load_site, load_text
from advisor.walk.chance import Chance
from advisor.walk.client import follow
from advisor.walk.speech import speech

ROOT = Path(__file__).parent.parent
SITE = """
site: {name: Bench, country: GB, environment: office, invented: true}
internet: {down_mbps: 200, up_mbps: 50, queue: fair}
floors: {ground: {level: 0, plan: complete, walls: {a: {line: [[24, -9], [24, 9]], of: brick}, b: {line: [[48, -9], [48, 9]], of: brick}}}}
nodes:
  west: {role: gateway, gear: open-node, at: [0, 0], floor: ground, radios: {r24: {band: 2.4, channel: 1}, r5: {band: 5, channel: 36}}}
  mid: {role: relay, gear: open-node, at: [36, 0], floor: ground, uplink: {to: west, band: 5}, radios: {r24: {band: 2.4, channel: 6}, r5: {band: 5, channel: 36}}}
  east: {role: relay, gear: open-node, at: [72, 0], floor: ground, uplink: {to: mid, band: 5}, radios: {r24: {band: 2.4, channel: 11}, r5: {band: 5, channel: 36}}}
networks: {all: {name: bench, security: wpa2-personal}}
places: {a: {client: phone, at: [0, 1], floor: ground}, b: {client: phone, at: [72, 1], floor: ground}}
walks: {along: {points: [a, b], client: phone, traffic: voice}}
"""  # noqa: E501


def main() -> None:
    book = open_book(load_text(SITE, "bench.yaml"), Draws(1, 0))
    start = time.perf_counter()
    trail = trail_of_walk(book, "along")
    levels_s = time.perf_counter() - start
    start = time.perf_counter()
    track = follow(trail, behaviour(book, "phone", None), Chance(1, 1000))
    found = speech(track, trail.step_s)
    seconds = time.perf_counter() - start
    print(
        f"a walk of {len(trail.times_s) * trail.step_s:.0f} s past 3 nodes: levels {levels_s:.2f} s, 1,000 draws "
        f"{seconds:.2f} s; {found.dropped.mean():.1%} dropped"
    )
    loaded = load_site(str(ROOT / "profiles" / "kestrel-yard.yaml"))
    for walk in sorted(loaded.site.walks):
        start = time.perf_counter()
        diagnosis = diagnose_walk(loaded, open_book(loaded, Draws(1, 0)), walk)
        print(f"causes of {walk}: {diagnosis.tried} taken away, {time.perf_counter() - start:.2f} s")


if __name__ == "__main__":
    main()
