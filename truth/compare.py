"""One table: every simulated figure against its model. `python -m truth.compare [--rows FOLDER] [--out FILE]`.

Without a folder the rows of tests/reference/data are compared and docs/truth.md is written, with every prediction in
docs/truth-rows.csv. With a folder both files go beside the JSON file, or into build/truth. Times are printed only, so
the files are the same on every run.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from statistics import median

from truth.rows import Compared, Prediction, compare

ROOT = Path(__file__).parent.parent
OWN_ROWS = ROOT / "tests" / "reference" / "data"
SOURCE = "ns-3.44"

TARGETS_PERCENT: dict[str, tuple[float, float]] = {
    "single link UDP": (0.2, 1.0),
    "single link UDP, variants": (1.0, 3.0),
    "single link TCP": (2.0, 6.0),
    "relay on one channel": (3.0, 8.0),
    "three hops on one channel": (5.0, 12.0),
    "relay on two channels": (3.0, 8.0),
    "cells sharing: sum": (4.0, 10.0),
    "cells sharing: each flow": (8.0, 20.0),
    "many clients: sum": (4.0, 10.0),
    "partial load: the victim": (5.0, 12.0),
    "voice delay under load": (50.0, 200.0),
}
"""Median and worst error to hold. Delays count by the factor they are off, either way: 50 % is a factor of 1.5."""


def classes(found: Compared) -> dict[str, list[Prediction]]:
    """Predictions by class, those with a target first."""
    by_kind: dict[str, list[Prediction]] = {}
    for one in found.predictions:
        by_kind.setdefault(one.kind, []).append(one)
    order = [kind for kind in TARGETS_PERCENT if kind in by_kind]
    return {kind: by_kind[kind] for kind in order + sorted(set(by_kind) - set(order))}


def errors_percent(rows: list[Prediction]) -> tuple[float, float]:
    """Median and worst error."""
    errors = [100.0 * row.error for row in rows]
    return median(errors), max(errors)


def summary(found: Compared) -> dict[str, dict[str, float]]:
    """The table as data: class → n, median_percent, worst_percent."""
    table = {}
    for kind, rows in classes(found).items():
        middle, worst = errors_percent(rows)
        table[kind] = {"n": len(rows), "median_percent": round(middle, 3), "worst_percent": round(worst, 3)}
    return table


def simulator_s(rows: list[Prediction]) -> float:
    """The simulator's own time for one run of each scenario."""
    return sum({row.scenario: row.simulator_s for row in rows}.values())


def markdown(found: Compared) -> str:
    """The page docs/truth.md, without times."""
    lines = [
        "# How true the numbers are",
        "",
        "Models against simulated runs at the simulator's own settings (MAC set `simulator`; see",
        "tests/reference/SOURCES.md). Errors are relative; a delay counts by the factor it is off, less one. Constants",
        "that rest on the rows are listed with their reason in advisor/data/mac.yaml under `contention`. `make truth`",
        "writes this page, prints the times beside the simulator's and puts every prediction into truth-rows.csv.",
        "",
        "| quantity | source | n | median % | worst % | target | worst row |",
        "|---|---|---|---|---|---|---|",
    ]
    for kind, rows in classes(found).items():
        middle, worst = errors_percent(rows)
        target = TARGETS_PERCENT.get(kind)
        wanted = f"{target[0]:g} / {target[1]:g}" if target else "none"
        if target and (middle > target[0] or worst > target[1]):
            wanted += ", **missed**"
        far = max(rows, key=lambda row: row.error)
        lines.append(
            f"| {kind} | {SOURCE} | {len(rows)} | {middle:.2f} | {worst:.1f} | {wanted} "
            f"| {far.scenario}, flow {far.flow}: {far.predicted:.4g} for {far.found:.4g} {far.unit} |"
        )
    if found.skipped:
        lines += ["", "## Rows without a prediction", ""]
        lines += [f"- {scenario}: {why}" for scenario, why in found.skipped]
    return "\n".join(lines) + "\n"


def rows_csv(found: Compared) -> str:
    """Every prediction on a line."""
    lines = ["class,scenario_id,flow,unit,simulated,predicted,error_percent"]
    lines += [
        f'"{one.kind}",{one.scenario},{one.flow},{one.unit},{one.found:g},{one.predicted:.6g},{100 * one.error:.2f}'
        for one in found.predictions
    ]
    return "\n".join(lines) + "\n"


def printed(found: Compared) -> str:
    """The table with times, for people."""
    head = (
        f"{'quantity':40s} {'source':8s} {'n':>4s} {'median %':>9s} {'worst %':>8s} {'ours s':>8s} {'simulator s':>12s}"
    )
    lines = [head, "-" * len(head)]
    for kind, rows in classes(found).items():
        middle, worst = errors_percent(rows)
        lines.append(
            f"{kind:40s} {SOURCE:8s} {len(rows):4d} {middle:9.2f} {worst:8.2f} {found.seconds[kind]:8.2f} "
            f"{simulator_s(rows):12.0f}"
        )
    lines += [f"no prediction: {scenario}: {why}" for scenario, why in found.skipped]
    return "\n".join(lines) + "\n"


def main(arguments: list[str] | None = None) -> int:
    """Compare, print, write."""
    parser = argparse.ArgumentParser(prog="truth", description="Compare the models with simulated rows.")
    parser.add_argument("--rows", type=Path, default=None, help="folder of CSV files (default: tests/reference/data)")
    parser.add_argument("--out", type=Path, default=None, help="write the table as JSON to this file")
    given = parser.parse_args(arguments)
    if given.rows is not None and not given.rows.is_dir():
        parser.error(f"{given.rows} is not a folder; give one with CSV files, for example tests/reference/data")
    found = compare(given.rows or OWN_ROWS)
    sys.stdout.write(printed(found))
    if given.rows is None:
        beside = ROOT / "docs"
    else:
        beside = given.out.parent if given.out else ROOT / "build" / "truth"
    beside.mkdir(parents=True, exist_ok=True)
    (beside / "truth.md").write_text(markdown(found), encoding="utf-8")
    (beside / "truth-rows.csv").write_text(rows_csv(found), encoding="utf-8")
    if given.out is not None:
        given.out.parent.mkdir(parents=True, exist_ok=True)
        given.out.write_text(json.dumps(summary(found), indent=2) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
