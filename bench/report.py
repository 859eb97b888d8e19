"""How long a report takes as a person waits for it: the demo, and a site of thirty nodes; and how large it is.

Run with `make bench`. Times are medians of whole runs on the machine at hand; they are shown, never tested.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from bench import DEMO, invented_site, median_s, process

RUNS = 3


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        large = Path(folder) / "thirty-nodes.yaml"
        large.write_text(invented_site(30), encoding="utf-8")
        page = Path(folder) / "report.html"
        for name, site in (("the demo", DEMO), ("thirty nodes", large)):
            taken = median_s(process("-m", "advisor", "report", str(site), "-o", str(page)), RUNS)
            print(f"report of {name}: {taken:.1f} s, {page.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
