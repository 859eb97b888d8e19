"""Free space, ITU-R P.1238 in both forms and P.2040 slabs against published and computed values (see SOURCES.md)."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from advisor.data import catalogue
from advisor.physics.materials import P2040_1_MATERIALS, P2040_MATERIALS, p2040_slab_loss_db
from advisor.physics.propagation import (
    abg_coefficients,
    floor_loss_db,
    free_space_loss_db,
    p1238_abg_loss_db,
    p1238_loss_db,
    surroundings,
)

CHECKS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "data" / "checks.yaml").read_text())


def named(pattern: str) -> list[Any]:
    return [pytest.param(check, id=check["name"]) for check in CHECKS if re.match(pattern, check["name"])]


@pytest.mark.parametrize("check", named("fspl_"))
def test_free_space(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    loss = free_space_loss_db(distance_m=inputs["d_m"], frequency_mhz=inputs["f_mhz"])
    assert loss == pytest.approx(check["expected"], abs=check["tolerance"])


@pytest.mark.parametrize("check", [c for c in named("p1238_") if "Lf" in c.values[0]["inputs"]])
def test_p1238_power_law(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    loss = p1238_loss_db(
        distance_m=inputs["d_m"],
        frequency_mhz=inputs["f_mhz"],
        power_coefficient=inputs["N"],
        floor_loss_db=inputs["Lf"],
    )
    assert loss == pytest.approx(check["expected"], abs=check["tolerance"])


@pytest.mark.parametrize("check", named("p1238_11_coef_"))
def test_p1238_11_coefficients(check: dict[str, Any]) -> None:
    row = abg_coefficients(check["name"].removeprefix("p1238_11_coef_"))
    expected = check["expected"]
    assert row == {
        "alpha": expected["alpha"],
        "beta_db": expected["beta"],
        "gamma": expected["gamma"],
        "spread_db": expected["sigma"],
    }


@pytest.mark.parametrize("check", named("p1238_abg_"))
def test_p1238_11_loss(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    row = abg_coefficients(inputs["env"])
    row.pop("spread_db")
    loss = p1238_abg_loss_db(distance_m=inputs["d_m"], frequency_mhz=1000.0 * inputs["f_ghz"], **row)
    assert loss == pytest.approx(check["expected"], abs=check["tolerance"])


ENVIRONMENTS = {
    "residential": ("house", "apartment"),
    "residential_house": ("house",),
    "residential_apartment": ("apartment",),
    "office": ("office",),
}


@pytest.mark.parametrize("check", named(r"p1238_N_(2\.4|5\.2)_"))
def test_power_coefficients_of_the_catalogue(check: dict[str, Any]) -> None:
    band = "2.4" if check["inputs"]["f_ghz"] < 3 else "5"
    for environment in ENVIRONMENTS[check["inputs"]["env"]]:
        assert surroundings(environment, band).power_coefficient == check["expected"]


@pytest.mark.parametrize("check", named(r"p1238_Lf_(2\.4|5\.2)_"))
def test_floor_losses_of_the_catalogue(check: dict[str, Any]) -> None:
    _, _, ghz, kind = check["name"].split("_", 3)
    (environment,) = ENVIRONMENTS[kind.removesuffix("_1f")]
    values = surroundings(environment, "2.4" if ghz == "2.4" else "5")
    one = floor_loss_db(floors=1, first_floor_db=values.first_floor_db, further_floor_db=values.further_floor_db)
    assert one == check["expected"]


def test_floor_loss_of_commercial_rooms_is_the_published_series() -> None:
    """P.1238-7 to -10 Table 3, 1.8-2 GHz: 6 + 3 (n - 1) dB (found)."""
    values = surroundings("commercial", "2.4")
    series = [
        floor_loss_db(floors=n, first_floor_db=values.first_floor_db, further_floor_db=values.further_floor_db)
        for n in range(4)
    ]
    assert series == [0.0, 6.0, 9.0, 12.0]


@pytest.mark.parametrize("check", named(r"p1238_sigma_(1\.9|5\.2)_"))
def test_spreads_of_the_catalogue(check: dict[str, Any]) -> None:
    _, _, ghz, kind = check["name"].split("_", 3)
    for environment in {"residential": ("house", "apartment")}.get(kind, (kind,)):
        assert surroundings(environment, "2.4" if ghz == "1.9" else "5").spread_db == check["expected"]


def test_every_propagation_value_names_its_source_and_status() -> None:
    for environment in catalogue("propagation")["environments"].values():
        assert set(environment) == {"2.4", "5", "6"}
        for row in environment.values():
            for value in row.values():
                assert value["status"] in ("found", "memory", "assumed")
                assert value["source"]


@pytest.mark.parametrize("check", named("p2040_coef_"))
def test_p2040_coefficients(check: dict[str, Any]) -> None:
    material = check["name"].removeprefix("p2040_coef_")
    if material in ("metal", "floorboard"):
        assert material not in P2040_MATERIALS  # opaque; valid above 50 GHz only
    else:
        assert P2040_MATERIALS[material]._asdict() == check["expected"]


@pytest.mark.parametrize("check", named("p2040_slab_"))
def test_p2040_slab(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    loss = p2040_slab_loss_db(
        thickness_m=inputs["d_m"],
        frequency_mhz=1000.0 * inputs["f_ghz"],
        material=P2040_MATERIALS[inputs["material"]],
        incidence_deg=inputs["theta_deg"],
    )
    assert loss == pytest.approx(check["expected"], abs=check["tolerance"]["abs"])


@pytest.mark.parametrize("check", named("p2040_concrete200_"))
def test_p2040_oblique(check: dict[str, Any]) -> None:
    inputs = check["inputs"]
    loss = p2040_slab_loss_db(
        thickness_m=inputs["d_m"],
        frequency_mhz=1000.0 * inputs["f_ghz"],
        material=P2040_MATERIALS["concrete"],
        incidence_deg=inputs["theta_deg"],
        polarisation=inputs["pol"],
    )
    assert loss == pytest.approx(check["expected"], abs=check["tolerance"]["abs"])


@pytest.mark.parametrize(
    ("material", "thickness_m", "mhz", "expected_db"),
    [
        ("concrete", 0.2, 2437, 11.138),
        ("concrete", 0.2, 5250, 19.174),
        ("concrete", 0.2, 6000, 21.222),
        ("brick", 0.1, 5250, 4.044),
        ("glass", 0.006, 2437, 1.925),
        ("plasterboard", 0.0125, 5250, 1.043),
    ],
)  # computed with the coefficients of P.2040-1, which are from memory
def test_p2040_first_edition(material: str, thickness_m: float, mhz: float, expected_db: float) -> None:
    loss = p2040_slab_loss_db(thickness_m=thickness_m, frequency_mhz=mhz, material=P2040_1_MATERIALS[material])
    assert loss == pytest.approx(expected_db, abs=0.02)
