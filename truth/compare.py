"""The tables: what a site prints and what the models say to every simulated figure.

    python -m truth.compare [--rows FOLDER] [--out FILE]

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
from truth.site_rows import SITE, compare_sites

ROOT = Path(__file__).parent.parent
OWN_ROWS = ROOT / "tests" / "reference" / "data"
SOURCE = "ns-3.44"

Targets = dict[str, tuple[float, float]]

SITE_TARGETS: Targets = {
    "single link TCP": (2.0, 6.0),
    "single link UDP": (1.0, 3.0),
    "relay on one channel, TCP": (3.0, 8.0),
    "relay on one channel, UDP": (3.0, 8.0),
    "three hops on one channel, TCP": (4.0, 8.0),
    "three hops on one channel, UDP": (4.0, 8.0),
    "relay on two channels": (3.0, 8.0),
    "cells sharing: each flow": (5.0, 20.0),
    "cells sharing: sum": (3.0, 8.0),
    "many clients down: sum": (4.0, 10.0),
    "many clients up: sum": (4.0, 10.0),
    "many clients down: sum, a place each": (4.0, 10.0),
    "many clients up: sum, a place each": (4.0, 10.0),
    "victim of an own cell": (5.0, 12.0),
    "victim of a busy neighbour": (5.0, 12.0),
    "voice delay under load": (50.0, 200.0),
    "call quality": (0.4, 0.4),
}
"""Median and worst error of what a site prints. Delays count by the factor they are off, either way (50 % is a factor
of 1.5); call quality by its difference in MOS, all of it."""

IN_BAND_PERCENT = (75.0, 90.0)
"""Share of rows that should lie inside the printed band of 10 to 90 %."""
BAND_JUDGED = (
    "single link TCP, gear not known",
    "single link UDP, gear not known",
    *SITE_TARGETS,
)
"""Classes whose bands are judged."""

TARGETS_PERCENT: Targets = {
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
"""The same for the models as functions."""


def plain(kind: str) -> bool:
    """Whether a class is a function on its own; the others are played turn by turn."""
    return kind.startswith(("single link", "closed form"))


def by_class(rows: list[Prediction], targets: Targets) -> dict[str, list[Prediction]]:
    """Predictions by class, those with a target first."""
    by_kind: dict[str, list[Prediction]] = {}
    for one in rows:
        by_kind.setdefault(one.kind, []).append(one)
    order = [kind for kind in targets if kind in by_kind]
    return {kind: by_kind[kind] for kind in order + sorted(set(by_kind) - set(order))}


def classes(found: Compared) -> dict[str, list[Prediction]]:
    """The models' predictions by class."""
    return by_class(found.predictions, TARGETS_PERCENT)


def errors_percent(rows: list[Prediction]) -> tuple[float, float]:
    """Median and worst error; of call quality in MOS."""
    errors = [row.error if row.unit == "MOS" else 100.0 * row.error for row in rows]
    return median(errors), max(errors)


def in_band_percent(rows: list[Prediction]) -> float | None:
    """Share of rows inside the printed band; None where nothing with a band is printed."""
    banded = [row.inside for row in rows if row.inside is not None]
    return 100.0 * sum(banded) / len(banded) if banded else None


def missed(rows: list[Prediction], target: tuple[float, float] | None) -> bool:
    middle, worst = errors_percent(rows)
    return target is not None and (middle > target[0] or worst > target[1])


def summary(sites: Compared, found: Compared) -> dict[str, dict[str, float | None]]:
    """The tables as data: class → n, median_percent, worst_percent (call quality: MOS); what a site prints with the
    share inside its band, and `site: ` before the class."""
    table: dict[str, dict[str, float | None]] = {}
    for kind, rows in by_class(sites.predictions, SITE_TARGETS).items():
        told = in_band_percent(rows)
        band = {"in_band_percent": None if told is None else round(told, 1)}
        table[SITE + kind] = _errors(rows) | band
    for kind, rows in classes(found).items():
        table[kind] = _errors(rows)
    return table


def _errors(rows: list[Prediction]) -> dict[str, float | None]:
    middle, worst = errors_percent(rows)
    unit = "mos" if rows[0].unit == "MOS" else "percent"
    return {"n": len(rows), f"median_{unit}": round(middle, 3), f"worst_{unit}": round(worst, 3)}


def simulator_s(rows: list[Prediction]) -> float:
    """The simulator's own time for one run of each scenario."""
    return sum({row.scenario: row.simulator_s for row in rows}.values())


HEAD = """\
# How true the numbers are

Simulated runs (ns-3.44; conditions in tests/reference/SOURCES.md) beside the program. Errors are relative; a delay
counts by the factor it is off, less one; call quality by its difference in MOS. `make truth` writes this page, prints
times beside the simulator's and puts every prediction into truth-rows.csv.

## What a site prints

Each run is written as a site file (`truth/site_rows.py`) of boxes of the class `simulated-runs`, at levels that are
measured, and read like a user's; the figures are those `advisor capacity` and `advisor walk` print. "In band" is the
share of runs inside the printed 10 to 90 %, ends as they are printed; sums over several places are not printed, so
they have no band. "Gear not known" is the same link with boxes whose aggregation nobody declares, and runs with other
limits of an aggregate besides. The victim of a busy neighbour has the neighbour under `neighbours`, with the share of
air its load takes while it is alone. Relays on two channels of one band are two boxes joined by a cable: radios of
one box would be taken to deafen each other, those of the runs did not.
"""
FUNCTIONS = """\
## The functions on their own

The same rows put to the function of single links and to the closed form of shared air, each row by itself. Constants
that rest on the rows are listed with their reason in advisor/data/mac.yaml under `contention`.
"""
INSTRUMENT = """\
## An instrument: the play turn by turn

Shared channels played out turn by turn (`truth/play/turns.py` and its users). A site is not computed so; it
shows what the protocol does where the closed form leaves something out.
"""


def markdown(sites: Compared, found: Compared) -> str:
    """The page docs/truth.md, without times."""
    lines = [HEAD, *site_table(sites.predictions)]
    models = classes(found)
    lines += ["", FUNCTIONS, *_table({kind: rows for kind, rows in models.items() if plain(kind)})]
    played = {kind: rows for kind, rows in models.items() if not plain(kind)}
    if played:
        lines += ["", INSTRUMENT, *_table(played)]
    if sites.skipped or found.skipped:
        lines += ["", "## Rows left out", ""]
        lines += _left_out("no site", sites.skipped) + _left_out("no model", found.skipped)
    return "\n".join(lines) + "\n"


def _left_out(what: str, skipped: list[tuple[str, str]]) -> list[str]:
    """One line for each reason with its rows."""
    by_reason: dict[str, list[str]] = {}
    for scenario, why in skipped:
        by_reason.setdefault(why, []).append(scenario)
    return [f"- {what}: {why}: {', '.join(scenarios)}" for why, scenarios in sorted(by_reason.items())]


def site_table(rows: list[Prediction]) -> list[str]:
    """The table of what a site prints."""
    lines = [
        "| quantity | n | median % | worst % | target | in band % | target | worst row |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for kind, own in by_class(rows, SITE_TARGETS).items():
        target, band = SITE_TARGETS.get(kind), in_band_percent(own)
        told_band = "none printed" if band is None else f"{band:.0f}"
        wanted_band = _band_target(band) if kind in BAND_JUDGED and band is not None else "none"
        lines.append(f"| {kind} {_figures(own, target)} | {told_band} | {wanted_band} | {_worst_row(own)} |")
    return lines


def _band_target(band: float) -> str:
    low, high = IN_BAND_PERCENT
    return f"{low:g} to {high:g}" + ("" if low <= band <= high else ", **missed**")


def _figures(rows: list[Prediction], target: tuple[float, float] | None) -> str:
    """Number, errors and target as cells of a table."""
    middle, worst = errors_percent(rows)
    unit = " MOS" if rows[0].unit == "MOS" else ""
    wanted = "none" if target is None else f"{target[0]:g} / {target[1]:g}{unit}"
    if missed(rows, target):
        wanted += ", **missed**"
    return f"| {len(rows)} | {middle:.2f}{unit} | {worst:.{2 if unit else 1}f}{unit} | {wanted}"


def _worst_row(rows: list[Prediction]) -> str:
    far = max(rows, key=lambda row: row.error)
    return f"{far.scenario}, flow {far.flow}: {far.predicted:.4g} for {far.found:.4g} {far.unit}"


def _table(by_kind: dict[str, list[Prediction]]) -> list[str]:
    """A table of the models."""
    lines = ["| quantity | n | median % | worst % | target | worst row |", "|---|---|---|---|---|---|"]
    lines += [
        f"| {kind} {_figures(rows, TARGETS_PERCENT.get(kind))} | {_worst_row(rows)} |" for kind, rows in by_kind.items()
    ]
    return lines


CSV_HEAD = "class,scenario_id,flow,unit,simulated,predicted,low,high,in_band,error_percent"


def rows_csv(sites: Compared, found: Compared) -> str:
    """Every prediction on a line, with its band where one is printed; the error of call quality in MOS."""
    lines = [CSV_HEAD]
    lines += [csv_line(one, SITE + one.kind) for one in sites.predictions]
    lines += [csv_line(one, one.kind) for one in found.predictions]
    return "\n".join(lines) + "\n"


def csv_line(one: Prediction, kind: str) -> str:
    error = one.error if one.unit == "MOS" else 100.0 * one.error
    low, high = ("" if end is None else f"{end:.6g}" for end in (one.low, one.high))
    inside = "" if one.inside is None else str(one.inside).lower()
    return (
        f'"{kind}",{one.scenario},{one.flow},{one.unit},{one.found:.10g},{one.predicted:.6g},{low},{high},{inside},'
        f"{error:.2f}"
    )


def printed(sites: Compared, found: Compared) -> str:
    """The tables with times, for people."""
    head = (
        f"{'quantity':44s} {'source':8s} {'n':>4s} {'median %':>9s} {'worst %':>8s} {'in band %':>9s} {'ours s':>8s} "
        f"{'simulator s':>12s}"
    )
    lines = ["what a site prints", head, "-" * len(head)]
    for kind, rows in by_class(sites.predictions, SITE_TARGETS).items():
        lines.append(_printed_line(kind, rows, sites))
    lines += ["", "the models", head, "-" * len(head)]
    for kind, rows in classes(found).items():
        lines.append(_printed_line(kind, rows, found))
    lines += [f"no site: {scenario}: {why}" for scenario, why in sites.skipped]
    lines += [f"no model: {scenario}: {why}" for scenario, why in found.skipped]
    return "\n".join(lines) + "\n"


def _printed_line(kind: str, rows: list[Prediction], found: Compared) -> str:
    middle, worst = errors_percent(rows)
    band = in_band_percent(rows)
    told = "" if band is None else f"{band:.0f}"
    return (
        f"{kind:44s} {SOURCE:8s} {len(rows):4d} {middle:9.2f} {worst:8.2f} {told:>9s} "
        f"{found.seconds.get(kind, 0.0):8.2f} {simulator_s(rows):12.0f}"
    )


def main(arguments: list[str] | None = None) -> int:
    """Compare, print, write."""
    parser = argparse.ArgumentParser(prog="truth", description="Compare the program with simulated rows.")
    parser.add_argument("--rows", type=Path, default=None, help="folder of CSV files (default: tests/reference/data)")
    parser.add_argument("--out", type=Path, default=None, help="write the table as JSON to this file")
    given = parser.parse_args(arguments)
    if given.rows is not None and not given.rows.is_dir():
        parser.error(f"{given.rows} is not a folder; give one with CSV files, for example tests/reference/data")
    folder = given.rows or OWN_ROWS
    sites, found = compare_sites(folder), compare(folder)
    sys.stdout.write(printed(sites, found))
    if given.rows is None:
        beside = ROOT / "docs"
    else:
        beside = given.out.parent if given.out else ROOT / "build" / "truth"
    beside.mkdir(parents=True, exist_ok=True)
    (beside / "truth.md").write_text(markdown(sites, found), encoding="utf-8")
    (beside / "truth-rows.csv").write_text(rows_csv(sites, found), encoding="utf-8")
    if given.out is not None:
        given.out.parent.mkdir(parents=True, exist_ok=True)
        given.out.write_text(json.dumps(summary(sites, found), indent=2) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
