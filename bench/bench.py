"""How long things take: a cold check beside the bare imports, a warm assessment, and how cost grows with the site.

Run with `make bench`. Times are medians of whole runs on the machine at hand; they are shown, never tested.
"""

from __future__ import annotations

import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "profiles" / "kestrel-yard.yaml"
LIBRARIES = "import pydantic, yaml, networkx, jinja2.sandbox, numpy, shapely, typer, rich.console"
SPACING_M = 14.0


def median_s(action: Callable[[], object], runs: int) -> float:
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def process(*arguments: str) -> Callable[[], object]:
    """A command with its modules compiled already, as an installation has them: the first run compiles."""
    folder = Path(tempfile.gettempdir()) / "advisor-bench-compiled"
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    env["PYTHONPYCACHEPREFIX"] = str(folder)

    def run() -> object:
        return subprocess.run([sys.executable, *arguments], cwd=ROOT, env=env, capture_output=True, check=False)

    run()
    return run


def invented_site(nodes: int) -> str:
    """A wide building of one floor with brick walls between its units: a node in each unit, every third one a relay
    over the air, and one place beside each node."""
    side = math.ceil(math.sqrt(nodes))
    width = side * SPACING_M
    walls = []
    for line in range(side + 1):
        at = line * SPACING_M - SPACING_M / 2
        walls.append(f"x{line}: {{line: [[{at}, {-SPACING_M / 2}], [{at}, {width}]], of: brick}}")
        walls.append(f"y{line}: {{line: [[{-SPACING_M / 2}, {at}], [{width}, {at}]], of: brick}}")
    lines = [
        "site: {name: Bench, country: GB, environment: office, invented: true}",
        "internet: {down_mbps: 1000, up_mbps: 1000}",
        "networks: {all: {name: bench, security: wpa3-personal}}",
        f"floors: {{ground: {{level: 0, plan: complete, walls: {{{', '.join(walls)}}}}}}}",
        "nodes:",
    ]
    for index in range(nodes):
        x, y = (index % side) * SPACING_M, (index // side) * SPACING_M
        role, uplink = "gateway", ""
        if index and index % 3 == 2:
            role, uplink = "relay", f", uplink: {{to: n{index - 1}, band: 5}}"
        elif index:
            role, uplink = "access-point", ", uplink: {to: n0, over: ethernet}"
        channel = 36 if index % 3 else 149
        if index % 3 == 2:
            channel = 36
        low, high = f"band: 2.4, channel: {(1, 6, 11)[index % 3]}", f"band: 5, channel: {channel}, width_mhz: 20"
        radios = f"{{r24: {{{low}}}, r5: {{{high}}}}}"
        lines.append(f"  n{index}: {{role: {role}, at: [{x}, {y}], floor: ground, radios: {radios}{uplink}}}")
    lines.append("places:")
    for index in range(nodes):
        x, y = (index % side) * SPACING_M + 3.0, (index // side) * SPACING_M + 2.0
        lines.append(f"  p{index}: {{client: laptop, at: [{x}, {y}], floor: ground, down_mbps: 2, up_mbps: 0.5}}")
    return "\n".join(lines) + "\n"


def main() -> None:
    from advisor.assess import assess
    from advisor.site.load import load_site, load_text

    cold = median_s(process("-m", "advisor", "check", str(DEMO.relative_to(ROOT))), 5)
    bare = median_s(process("-c", LIBRARIES), 5)
    loaded = load_site(str(DEMO))
    assess(loaded)
    warm = median_s(lambda: assess(loaded), 5)
    print(f"cold check of the demo     {cold * 1000:7.0f} ms")
    print(f"the bare imports           {bare * 1000:7.0f} ms")
    print(f"warm assessment            {warm * 1000:7.0f} ms")
    sizes = tuple(int(n) for n in sys.argv[1:]) or (3, 30, 300)
    times = []
    for nodes in sizes:
        site = load_text(invented_site(nodes), f"bench-{nodes}.yaml")
        times.append(median_s(lambda site=site: assess(site), 3 if nodes < 100 else 1))  # type: ignore[misc]
        print(f"{nodes:4d} nodes, {nodes} places     {times[-1] * 1000:7.0f} ms")
    for (small, fast), (large, slow) in pairwise(zip(sizes, times, strict=True)):
        exponent = math.log(slow / fast) / math.log(large / small)
        print(f"growth from {small} to {large} nodes: time ~ nodes^{exponent:.2f}")


if __name__ == "__main__":
    main()
