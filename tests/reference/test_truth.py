"""Every class of simulated rows is held to its target (see SOURCES.md and docs/truth.md).

Models and constants: advisor/data/mac.yaml, `contention`. Where a class misses its target the reason is here with it.
"""

from __future__ import annotations

import csv
import fcntl
import json
import os
import pickle
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from advisor.physics.airtime import payload_bits
from truth import compare as table
from truth.play.cells import cells_sharing
from truth.play.streams import left_by_beacons
from truth.rows import Compared, compare, links_of, predict, read
from truth.site_rows import compare_sites

DATA = Path(__file__).parent / "data"

NOISY = "E_ac80n2m9-9-0_tcp"
"""Two fast cells beside one at the lowest rate, TCP: two runs of 3 s with some 100 frames a second from each node. The
model is 13 % (sum) and a third (one flow) above them; over windows of that length the model itself spreads by 9 % (sum)
and 20 % (a flow), and the test below holds the row to that spread."""

COUNTS = {
    "single link UDP": 75,
    "single link UDP, variants": 15,
    "single link TCP": 74,
    "relay on one channel": 78,
    "three hops on one channel": 25,
    "relay on two channels": 21,
    "cells sharing: sum": 28,
    "cells sharing: each flow": 63,
    "many clients: sum": 23,
    "partial load: the victim": 38,
    "voice delay under load": 74,
}

ALSO_HELD: dict[str, tuple[float, float]] = {
    "single link TCP, variants": (2.0, 6.0),
    "partial load: the neighbour": (5.0, 12.0),
    "partial load: the neighbour alone": (1.0, 2.0),
    "closed form, cells sharing: sum": (4.0, 10.0),
    "closed form, cells sharing: each flow": (8.0, 20.0),
    "closed form, partial load: the victim": (5.0, 12.0),
}
"""Classes without a target of their own, held to the one next to them."""


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Compared:
    """All rows with what the models say to them; that takes half a minute, so the workers of a run share it."""
    if "PYTEST_XDIST_WORKER" not in os.environ:
        return compare(DATA)
    kept = tmp_path_factory.getbasetemp().parent / "truth.pickle"
    with kept.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not kept.exists():
            kept.write_bytes(pickle.dumps(compare(DATA)))
    made: Compared = pickle.loads(kept.read_bytes())
    return made


def test_every_row_has_a_prediction(found: Compared) -> None:
    assert found.skipped == []
    by_kind = table.classes(found)
    assert {kind: len(by_kind[kind]) for kind in COUNTS} == COUNTS


@pytest.mark.parametrize("kind", [*table.TARGETS_PERCENT, *ALSO_HELD])
def test_classes(found: Compared, kind: str) -> None:
    middle, worst = (table.TARGETS_PERCENT | ALSO_HELD)[kind]
    rows = table.classes(found)[kind]
    assert table.errors_percent(rows)[0] <= middle
    assert table.errors_percent([row for row in rows if row.scenario != NOISY])[1] <= worst


def test_the_noisy_row_lies_within_the_spread_of_runs_of_its_length() -> None:
    """Mean of two runs of 3 s (about 1500 turns) against 24 such windows of the model: within 2.6 standard errors."""
    rows = read(DATA)[NOISY]
    links = links_of(rows[0])
    scale = left_by_beacons(links) * payload_bits("tcp", links[0].mac) / 1e6
    outcomes = [cells_sharing(links, "tcp", turns=1500, seed=seed).outcome for seed in range(24)]
    windows = np.array([[outcome.per_s(data) * scale for data in (0, 2, 4)] for outcome in outcomes])
    flows = np.array([float(row["goodput_mbps"]) for row in rows])
    for simulated, model in ((flows.sum(), windows.sum(axis=1)), *zip(flows, windows.T, strict=True)):
        spread = model.std(ddof=1) * np.sqrt(1 / 2 + 1 / 24)
        assert abs(simulated - model.mean()) < 2.6 * spread


CLOSED_FORM_RELAYS = {
    "closed form, relay on one channel": (3.0, 8.0),
    "closed form, three hops on one channel": (5, 12),
}


@pytest.mark.parametrize("kind", CLOSED_FORM_RELAYS)
def test_closed_form_of_chains(found: Compared, kind: str) -> None:
    """All but endless UDP, where frames of the last hop survive collisions by being the stronger (9 dB at 10 m against
    5 m); the closed form has no such survival and comes out up to 22 % too low there, never more than 8 % too high."""
    middle, worst = CLOSED_FORM_RELAYS[kind]
    rows = table.classes(found)[kind]
    held = [row for row in rows if "sat" not in row.scenario]
    assert table.errors_percent(held)[0] <= middle
    assert table.errors_percent(held)[1] <= worst
    endless = [row.predicted / row.found - 1 for row in rows if "sat" in row.scenario]
    assert min(endless) > -0.23
    assert max(endless) < 0.08


def test_results_are_not_read_for_predictions() -> None:
    """The same predictions with every result column changed."""
    scenarios = read(DATA)
    for name in ("E_n20n2m7-1_udp", "B_n20n2m7-n20n2m2_udp_off0.8", "F_n20n2m7_nb_n2m4_load0.3_vudp"):
        rows = scenarios[name]
        results = ("goodput_mbps", "goodput_sd", "total_goodput_mbps", "mpdu_per_ppdu", "retry_frac")
        changed = [{**row, **dict.fromkeys(results, "7.5")} for row in rows]
        assert [one.predicted for one in predict(changed)] == [one.predicted for one in predict(rows)]


def folder_with(tmp_path: Path, change: Callable[[dict[str, str]], dict[str, str]]) -> Path:
    rows = [change(row) for row in read(DATA)["E_n20n2m7-1_udp"]]
    folder = tmp_path / "rows"
    folder.mkdir()
    with (folder / "some.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return folder


def test_other_rows_and_a_table_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = folder_with(tmp_path, lambda row: row)
    out = tmp_path / "out" / "table.json"
    assert table.main(["--rows", str(folder), "--out", str(out)]) == 0
    first = {path.name: path.read_bytes() for path in out.parent.iterdir()}
    assert set(first) == {"table.json", "truth.md", "truth-rows.csv"}
    data = json.loads(first["table.json"])
    assert data["cells sharing: each flow"]["n"] == 2
    assert set(data["cells sharing: sum"]) == {"n", "median_percent", "worst_percent"}
    assert data["site: cells sharing: each flow"]["n"] == 2
    assert set(data["site: cells sharing: sum"]) == {"n", "median_percent", "worst_percent", "in_band_percent"}
    assert table.main(["--rows", str(folder), "--out", str(out)]) == 0
    assert {path.name: path.read_bytes() for path in out.parent.iterdir()} == first
    assert "cells sharing: sum" in capsys.readouterr().out


def test_rows_without_a_model_are_listed(tmp_path: Path) -> None:
    folder = folder_with(tmp_path, lambda row: {**row, "scenario_id": "Z_unheard_of"})
    sites, found = compare_sites(folder), compare(folder)
    for each in (sites, found):
        assert each.predictions == []
        assert [scenario for scenario, _ in each.skipped] == ["Z_unheard_of"]
    assert table.markdown(sites, found).count("Z_unheard_of") == 2


def test_the_page_is_up_to_date(found: Compared) -> None:
    """The part about the models; that about sites is held by test_site_truth.py."""
    page = (Path(__file__).parents[2] / "docs" / "truth.md").read_text(encoding="utf-8")
    made = table.markdown(Compared([], [], {}), found)
    _, _, models = made.partition(table.FUNCTIONS)
    assert models in page
    assert page.index("## What a site prints") < page.index(table.FUNCTIONS) < page.index(table.INSTRUMENT)
