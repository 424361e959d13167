"""Charge by weight against a maker's printed table, CoolProp, and makers' tables of room sizes."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from service.physics import line_charge, room_charge
from service.physics.refrigerant import saturation_curves
from service.physics.refrigerant_enthalpy import single_phase
from service.reference.line_contents import (
    EVAPORATING_TEMPERATURE,
    LIQUID_DENSITIES,
    SUPERHEAT,
    TUBES,
    liquid_density,
)
from service.reference.refrigerants import REFRIGERANTS

OUNCE = 0.45359237 / 16
FOOT = 0.3048


def content(designation: str, liquid: str, vapour: str | None = None) -> float:
    """Of a foot of line set [oz]."""
    density, _ = liquid_density(designation)
    total = line_charge.content_per_length(TUBES[liquid].inside, density)
    if vapour is not None:
        pressure = saturation_curves(designation).dew_pressure(EVAPORATING_TEMPERATURE)
        gas = single_phase(designation).vapour(pressure, EVAPORATING_TEMPERATURE + SUPERHEAT).density
        total = total + line_charge.content_per_length(TUBES[vapour].inside, gas)
    return float(total) * FOOT / OUNCE


@pytest.mark.parametrize(("liquid", "printed"), [("1/4", 0.27), ("5/16", 0.40), ("3/8", 0.60)])
def test_computed_content_meets_a_makers_allowances(liquid: str, printed: float) -> None:
    """A maker's R-410A split-system manual prints these in oz/ft; vapour lines of 5/8 and 3/4 in. bracket them."""
    small, large = content("R-410A", liquid, "5/8"), content("R-410A", liquid, "3/4")
    assert small == pytest.approx(printed, abs=0.02)
    assert small <= printed <= large


@pytest.mark.parametrize(
    ("designation", "by_size"),
    [
        # Liquid alone at 100 °F, oz/ft, by CoolProp 8 and the cylinder of the inside diameter.
        ("R-410A", (0.195, 0.333, 0.521, 1.024)),
        ("R-32", (0.178, 0.304, 0.476, 0.936)),
        ("R-134a", (0.227, 0.389, 0.609, 1.197)),
        ("R-290", (0.093, 0.159, 0.248, 0.488)),
    ],
)
def test_liquid_in_a_liquid_line(designation: str, by_size: tuple[float, ...]) -> None:
    """Four sizes of line."""
    own = [content(designation, size) for size in ("1/4", "5/16", "3/8", "1/2")]
    assert own == pytest.approx(by_size, abs=0.001)


@pytest.mark.parametrize(
    ("designation", "fluid"), [(name, row.fluid) for name, row in REFRIGERANTS.items() if row.fluid is not None]
)
def test_liquid_densities_are_the_librarys(designation: str, fluid: str) -> None:
    """Saturated liquid at 85 and at 100 °F, asked of CoolProp; mixtures were sampled through its phase envelope."""
    for fahrenheit, own in zip((85.0, 100.0), LIQUID_DENSITIES[designation], strict=True):
        kelvin = (fahrenheit - 32) / 1.8 + 273.15
        assert own == pytest.approx(PropsSI("D", "T", kelvin, "Q", 0, fluid), rel=1e-5)


def test_every_refrigerant_has_a_liquid_density() -> None:
    """And a blend's is near that of its parts added by volume (ideal mixing, within a tenth)."""
    assert set(LIQUID_DENSITIES) == set(REFRIGERANTS)
    for name, row in REFRIGERANTS.items():
        kelvin = (85.0 - 32) / 1.8 + 273.15
        volume = sum(share / PropsSI("D", "T", kelvin, "Q", 0, fluid) for _, fluid, share in row.components)
        assert LIQUID_DENSITIES[name][0] == pytest.approx(1 / volume, rel=0.10), name


def adjusted(per_foot: float, feet: float, allowance: float, accessories: float = 0.0) -> float:
    """[oz]"""
    found = line_charge.adjustment(per_foot * OUNCE / FOOT, feet * FOOT, allowance * OUNCE, accessories * OUNCE)
    return float(found) / OUNCE


def test_a_makers_two_worked_examples() -> None:
    """Its manual: 25 ft of 1/4 in. is -6.75 oz; 45 ft of 5/16 in. is +4.5 oz (its result line)."""
    assert adjusted(0.27, 25, 13.5) == pytest.approx(-6.75)
    assert adjusted(0.40, 45, 13.5) == pytest.approx(4.5)


@pytest.mark.parametrize(
    ("per_foot", "feet", "accessories", "total"),
    [(0.60, 40, 0, 119.0), (0.60, 10, 0, 101.0), (0.27, 40, 0, 105.8), (0.60, 30, 6, 119.0)],
)
def test_total_charge(per_foot: float, feet: float, accessories: float, total: float) -> None:
    """Worked by hand from the printed allowances: 104 oz on the nameplate, 9 oz of them for lines."""
    assert 104.0 + adjusted(per_foot, feet, 9.0, accessories) == pytest.approx(total)


def test_vapour_left_by_recovery() -> None:
    """0.35 ft3 at 0 psig and 75 °F hold about 1.1 oz of R-410A; CoolProp's real vapour is up to 3 % denser."""
    left = line_charge.vapour_left(101_325.0, 297.04, 0.35 * FOOT**3, saturation_curves("R-410A").molar_mass)
    real = PropsSI("D", "T", 297.04, "P", 101_325.0, "R410A") * 0.35 * FOOT**3
    assert float(left) / OUNCE == pytest.approx(1.1, abs=0.1)
    assert float(left) == pytest.approx(real, rel=0.03)


AREAS = (4, 7, 10, 15, 20, 30, 50)


@pytest.mark.parametrize(
    ("height", "printed"),
    [
        (0.6, (0.68, 0.90, 1.08, 1.32, 1.53, 1.87, 2.41)),
        (1.0, (1.14, 1.51, 1.80, 2.20, 2.54, 3.12, 4.02)),
        (1.8, (2.05, 2.71, 3.24, 3.97, 4.58, 5.61, 7.24)),
        (2.2, (2.50, 3.31, 3.96, 4.85, 5.60, 6.86, 8.85)),
    ],
)
def test_largest_charge_of_a_room(height: float, printed: tuple[float, ...]) -> None:
    """R-32, as a maker's installation manual prints it (limit 0.306 kg/m3)."""
    own = room_charge.largest_charge(0.306, height, np.array(AREAS))
    assert own == pytest.approx(printed, abs=0.0101)


@pytest.mark.parametrize(
    ("height", "printed"),
    [
        (0.6, (0.05, 0.07, 0.08, 0.10, 0.11, 0.14, 0.18)),
        (2.2, (0.18, 0.24, 0.29, 0.36, 0.41, 0.51, 0.65)),
    ],
)
def test_largest_charge_of_propane(height: float, printed: tuple[float, ...]) -> None:
    """The same manual for R-290 (limit 0.038 kg/m3)."""
    own = room_charge.largest_charge(0.038, height, np.array(AREAS))
    assert own == pytest.approx(printed, abs=0.0101)


@pytest.mark.parametrize(
    ("limit", "height", "charges", "printed"),
    [
        (0.306, 0.6, (1.836, 2.448, 3.672, 4.896, 6.12, 7.956), (29, 51, 116, 206, 321, 543)),
        (0.306, 1.0, (1.836, 2.448, 3.672, 4.896, 6.12, 7.956), (10, 19, 42, 74, 116, 196)),
        (0.306, 1.8, (1.836, 2.448, 3.672, 4.896, 6.12, 7.956), (3, 6, 13, 23, 36, 60)),
        (0.306, 2.2, (1.836, 2.448, 3.672, 4.896, 6.12, 7.956), (2, 4, 9, 15, 24, 40)),
        (0.038, 0.6, (0.228, 0.304, 0.456, 0.608, 0.76, 0.988), (82, 146, 328, 584, 912, 1541)),
        (0.038, 1.0, (0.228, 0.304, 0.456, 0.608, 0.76, 0.988), (30, 53, 118, 210, 328, 555)),
        (0.038, 1.8, (0.228, 0.304, 0.456, 0.608, 0.76, 0.988), (9, 16, 36, 65, 101, 171)),
        (0.038, 2.2, (0.228, 0.304, 0.456, 0.608, 0.76, 0.988), (6, 11, 24, 43, 68, 115)),
    ],
)
def test_smallest_area(limit: float, height: float, charges: tuple[float, ...], printed: tuple[int, ...]) -> None:
    """The same manual prints whole square metres, some rounded up, some to the nearest."""
    own = room_charge.smallest_area(limit, height, np.array(charges))
    assert own == pytest.approx(printed, abs=1.0)


def test_the_edition_of_2018() -> None:
    """A maker's R-32 indoor manual (IEC 60335-2-40:2018, GG.2; limit 0.307, release at 0.6 m)."""
    charges = room_charge.largest_charge_2018(0.307, 0.6, np.array([1, 2, 6, 7, 10, 20, 45]))
    assert charges == pytest.approx([0.138, 0.276, 0.829, 0.907, 1.084, 1.533, 2.299], abs=5e-4)
    areas = room_charge.smallest_area_2018(0.307, 0.6, np.array([1.84, 2.00, 2.30]))
    assert areas == pytest.approx([28.81, 34.04, 45.02], abs=0.01)


def test_area_and_charge_are_inverse() -> None:
    """In both editions: the smallest room of a charge allows that charge and no more."""
    charge = np.linspace(0.05, 5.0, 40)
    for largest, smallest in (
        (room_charge.largest_charge, room_charge.smallest_area),
        (room_charge.largest_charge_2018, room_charge.smallest_area_2018),
    ):
        assert largest(0.306, 1.8, smallest(0.306, 1.8, charge)) == pytest.approx(charge)
