"""What makes the kept tables, asked directly: a start that finds them kept never runs it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from numpy.polynomial import chebyshev
from numpy.typing import NDArray
from scipy.stats import norm

from service.physics import saturation_sampling, vapour_sampling
from service.reference.refrigerants import REFRIGERANTS
from service.uncertainty import low_discrepancy
from service.uncertainty.error_terms import DIMENSIONS

FloatArray = NDArray[np.float64]
FLUID = "R134a"


def of_library(output: str, given: str, quality: int) -> Callable[[FloatArray], FloatArray]:
    """A saturation property of the library, for arrays."""
    return lambda values: np.asarray(PropsSI(output, given, values, "Q", quality, FLUID))


@pytest.fixture(scope="module")
def tables() -> dict[str, FloatArray]:
    return vapour_sampling.sample(
        REFRIGERANTS["R-134a"],
        of_library("T", "P", 1),
        of_library("P", "T", 1),
        of_library("P", "T", 0),
        PropsSI("Tcrit", FLUID),
    )


@pytest.mark.parametrize("superheat", [0.5, 7.3, 31.0, 88.0, 119.0])
@pytest.mark.parametrize("dew", [225.0, 262.0, 299.0, 341.0])
def test_vapour_of_a_pure_fluid(tables: dict[str, FloatArray], dew: float, superheat: float) -> None:
    """Between the nodes, against CoolProp's flash of the same state (other code than ours samples)."""
    pressure = PropsSI("P", "T", dew, "Q", 1, FLUID)
    (low, high), _ = tables["ranges"]
    x = (2.0 * np.log(pressure) - low - high) / (high - low)
    y = 2.0 * superheat / vapour_sampling.HIGHEST_SUPERHEAT - 1.0
    found = [chebyshev.chebval2d(x, y, table) for table in tables["vapour"][:3]]
    state = ("T", dew + superheat, "P", pressure, FLUID)
    assert found[0] == pytest.approx(PropsSI("H", *state), abs=20.0)
    assert found[1] == pytest.approx(PropsSI("S", *state), abs=0.1)
    assert np.exp(found[2]) == pytest.approx(PropsSI("D", *state), rel=1e-3)


@pytest.mark.parametrize("share", [0.02, 0.4, 0.95])
@pytest.mark.parametrize("dew", [230.0, 280.0, 335.0])
def test_enthalpy_at_an_entropy(tables: dict[str, FloatArray], dew: float, share: float) -> None:
    """The end of an ideal compression, against CoolProp's flash at pressure and entropy."""
    pressure = PropsSI("P", "T", dew, "Q", 1, FLUID)
    (low, high), _ = tables["ranges"]
    x = (2.0 * np.log(pressure) - low - high) / (high - low)
    ends = [chebyshev.chebval(x, row) for row in tables["entropies"]]
    hottest = dew + vapour_sampling.HIGHEST_SUPERHEAT
    assert ends == pytest.approx(
        [
            PropsSI("S", "P", pressure, "Q", 1, FLUID),
            PropsSI("S", "P", pressure, "T", hottest, FLUID),
        ],
        abs=0.1,
    )
    found = chebyshev.chebval2d(x, 2.0 * share - 1.0, tables["vapour"][3])
    entropy = ends[0] + share * (ends[1] - ends[0])
    assert found == pytest.approx(PropsSI("H", "P", pressure, "S", entropy, FLUID), abs=40.0)


@pytest.mark.parametrize("excess", [2e3, 3e5, 1.5e6])
@pytest.mark.parametrize("temperature", [226.0, 271.0, 318.0, 343.0])
def test_liquid_of_a_pure_fluid(tables: dict[str, FloatArray], temperature: float, excess: float) -> None:
    """Subcooled by pressure, against CoolProp."""
    _, (low, high) = tables["ranges"]
    unit = (2.0 * temperature - low - high) / (high - low)
    base, slope, curvature = (chebyshev.chebval(unit, row) for row in tables["liquid"])
    pressure = PropsSI("P", "T", temperature, "Q", 0, FLUID) + excess
    expected = PropsSI("H", "T", temperature, "P", pressure, FLUID)
    assert base + excess * (slope + excess * curvature) == pytest.approx(expected, abs=100.0)


def test_ranges_of_the_tables(tables: dict[str, FloatArray]) -> None:
    """From -50 °C to 345 K, as the critical point (374.2 K) is more than 6 K over that."""
    coldest, hottest = 223.15, 345.0
    logarithms = np.log(PropsSI("P", "T", [coldest, hottest], "Q", 1, FLUID))
    assert tables["ranges"] == pytest.approx(np.array([logarithms, [coldest, hottest]]))
    assert {name: table.shape for name, table in tables.items()} == {
        "vapour": (4, 20, 12),
        "entropies": (2, 20),
        "liquid": (3, 24),
        "ranges": (2, 2),
    }


def test_saturation_of_a_pure_fluid() -> None:
    """Constants and both curves over the whole range, against CoolProp."""
    made = saturation_sampling.sample(REFRIGERANTS["R-134a"])
    expected = [PropsSI(name, FLUID) for name in ("Tcrit", "pcrit", "M")]
    assert made["constants"] == pytest.approx(expected, rel=1e-4)
    for name, quality in (("bubble", 0), ("dew", 1)):
        (start, step), (first, degree) = made[f"{name}.grids"]
        temperatures = np.linspace(first + 0.3, 349.1, 40)
        truth = np.log(PropsSI("P", "T", temperatures, "Q", quality, FLUID))
        for at, wanted, grid, pieces, within in (
            (temperatures, truth, (first, degree), made[f"{name}.logarithm"], 3e-5),
            (truth, temperatures, (start, step), made[f"{name}.temperature"], 1e-3),
        ):
            place = np.floor((at - grid[0]) / grid[1]).astype(int)
            away = at - grid[0] - place * grid[1]
            a, b, c, d = pieces[:, place]
            assert np.abs(((a * away + b) * away + c) * away + d - wanted).max() < within
        assert made[f"{name}.gaps"].shape == (0, 2)


def test_the_sample_is_balanced_mirrored_and_always_the_same() -> None:
    """One point in each cell of every dimension (Owen 1998), each followed by its mirror image."""
    made, again = low_discrepancy._generate(64), low_discrepancy._generate(64)
    for name, table in made.items():
        assert (table == again[name]).all()
        assert table.shape == (DIMENSIONS, 65)
        assert not table[:, 0].any()
        assert (table[:, 1::2] == -table[:, 2::2]).all()
    points = (made["rectangular"][:, 1::2] + 1.0) / 2.0
    assert (np.sort(np.floor(32.0 * points), axis=1) == np.arange(32)).all()
    assert norm.cdf(made["normal"][:, 1::2]) == pytest.approx(points, abs=1e-9)
    # Scrambled: no two dimensions alike, and points stand anywhere in their cells.
    assert len(np.unique(points)) == points.size
    assert np.ptp(32.0 * points - np.floor(32.0 * points)) > 0.99
