"""What a line set holds, for a charge by weight: tubes, liquid, and what is assumed of both.  SI.

The content of a line set is liquid in the liquid line and vapour in the vapour line.  Computed so, R-410A with
a 5/8 to 3/4 in. vapour line comes within 0.02 oz/ft of a maker's printed allowances for 1/4, 5/16 and 3/8 in.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

INCH = 0.0254
FOOT = 0.3048
POUND = 0.45359237
OUNCE = POUND / 16.0
DEGF = 5.0 / 9.0


def _degf(value: float) -> float:
    return (value - 32.0) * DEGF + 273.15


@dataclass(frozen=True, slots=True)
class Tube:
    """A copper tube: what the trade calls it, its outside and its inside diameter [m]."""

    name: str
    outside: float
    inside: float


#: Source ``tube_sizes``.
TUBES: Mapping[str, Tube] = MappingProxyType(
    {
        name: Tube(name, outside * INCH, inside * INCH)
        for name, outside, inside in (
            ("1/4", 0.25, 0.190),
            ("5/16", 0.3125, 0.2485),
            ("3/8", 0.375, 0.311),
            ("1/2", 0.5, 0.436),
            ("5/8", 0.625, 0.545),
            ("3/4", 0.75, 0.666),
            ("7/8", 0.875, 0.785),
            ("1-1/8", 1.125, 1.025),
        )
    }
)
#: Half-width of what is not known of an inside diameter [m]: walls differ with the kind of tube.
DIAMETER_SPREAD = 0.010 * INCH

#: Temperature of liquid in the liquid line, and half-width of what is not known of it [K]; source
#: ``line_content_state``.
LIQUID_TEMPERATURE, LIQUID_SPREAD = _degf(100.0), 15.0 * DEGF
#: Vapour in the vapour line: saturation temperature, superheat [K], and half-width of its density [1].
EVAPORATING_TEMPERATURE, SUPERHEAT, VAPOUR_SPREAD = _degf(45.0), 10.0 * DEGF, 0.2
#: Inside diameter of a vapour line of unknown size: mean and half-width [m].  Three sizes from 5/8 to 7/8 in., equally
#: likely, have the spread of a rectangle that is wider than their range by the root of two.
USUAL_VAPOUR_LINE = (
    0.5 * (TUBES["5/8"].inside + TUBES["7/8"].inside),
    0.5 * (TUBES["7/8"].inside - TUBES["5/8"].inside) * 2.0**0.5,
)

#: Density of saturated liquid [kg/m3] at 85 and at 100 °F; source ``line_content``.
_WARM, _HOT = _degf(85.0), _degf(100.0)
LIQUID_DENSITIES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "R-22": (1172.98, 1138.22),
        "R-410A": (1036.02, 989.24),
        "R-32": (942.06, 903.91),
        "R-454B": (966.90, 927.92),
        "R-407C": (1117.92, 1078.80),
        "R-134a": (1189.63, 1156.07),
        "R-404A": (1022.20, 977.53),
        "R-507A": (1025.44, 979.37),
        "R-448A": (1077.53, 1037.57),
        "R-449A": (1077.39, 1037.35),
        "R-513A": (1117.29, 1083.72),
        "R-290": (485.29, 471.35),
        "R-421A": (1186.30, 1143.07),
        "R-422D": (1121.77, 1077.79),
        "R-427A": (1110.13, 1070.94),
        "R-438A": (1124.29, 1083.64),
        "R-452B": (975.02, 935.08),
        "R-454C": (1027.04, 991.18),
        "R-407A": (1124.28, 1082.50),
        "R-1234yf": (1075.24, 1042.66),
        "R-600a": (545.02, 534.16),
    }
)


def liquid_density(designation: str) -> tuple[float, float]:
    """Density of liquid at :data:`LIQUID_TEMPERATURE` [kg/m3] and its slope over temperature [kg/(m3 K)]."""
    warm, hot = LIQUID_DENSITIES[designation]
    return hot, (hot - warm) / (_HOT - _WARM)


#: Half-width of what charging hoses keep [kg] (1 oz: liquid in 5 ft of 1/4 in. hose); source ``hose_residue``.
HOSE_RESIDUE = 1.0 * OUNCE
#: Half-width of a length of line that was paced or estimated [m] (2 ft); source ``line_length``.
LENGTH_SPREAD = 2.0 * FOOT
#: Line length and lift [m] from which makers' long-line guides usually apply; source ``long_line_practice``.
LONG_LINE, HIGH_LIFT = 50.0 * FOOT, 20.0 * FOOT
#: Inside volume of a split system [m3], and its temperature after recovery [K]: mean and half-width; source
#: ``circuit_volume``.
CIRCUIT_VOLUME, RECOVERED_TEMPERATURE = (0.010, 0.006), (_degf(75.0), 10.0)
#: Share of the charge [1] by which what was recovered or weighed in may differ before it counts; source
#: ``charge_share_practice``.
CHARGE_SHARE = 0.05

#: What cannot be right without a second look (source ``charge_plausible``, common practice): a liquid line larger than
#: this outside [m]; an allowance that differs by this factor from the content of its lines; a mass weighed in or
#: recovered of more than this share of the charge, or one that another unit would bring within this share of it; a
#: charge for the rated cooling capacity [kg/W] outside 1 to 7 lb/ton, except of hydrocarbons.
LARGEST_LIQUID_LINE = 0.625 * INCH
ALLOWANCE_FACTOR = 2.0
MOST_OF_CHARGE = 2.0
FITS_WITHIN = 0.15
CHARGE_FOR_CAPACITY = (1.0 * POUND / 3516.853, 7.0 * POUND / 3516.853)


@dataclass(frozen=True, slots=True)
class RoomFormula:
    """An edition of a published formula for the charge of a room.

    ``small_rooms`` where it also limits the charge by the volume up to the height of release.
    """

    edition: str
    text: str
    small_rooms: bool
    source: str


ROOM_FORMULAS = (
    RoomFormula(
        "IEC 60335-2-40, annex GG",
        "largest charge = 2.5 LFL^(5/4) h0 A^(1/2)",
        False,
        "room_charge_formula",
    ),
    RoomFormula(
        "IEC 60335-2-40:2018, GG.2",
        "largest charge = the smaller of 0.75 LFL h0 A and 2.5 LFL^(5/4) h0 A^(1/2)",
        True,
        "room_charge_formula_2018",
    ),
)


@dataclass(frozen=True, slots=True)
class FlammabilityLimit:
    """Lower flammability limit [kg/m3] as the tables of these formulas take it."""

    value: float
    source: str


#: Where documents disagree, the smaller: it gives the larger room.
FLAMMABILITY_LIMITS: Mapping[str, FlammabilityLimit] = MappingProxyType(
    {
        "R-32": FlammabilityLimit(0.306, "flammability_limit_tables"),
        "R-290": FlammabilityLimit(0.038, "flammability_limit_tables"),
        "R-454B": FlammabilityLimit(0.296, "flammability_limit_listing"),
        "R-452B": FlammabilityLimit(0.3105, "flammability_limit_listing"),
        "R-454C": FlammabilityLimit(0.2895, "flammability_limit_listing"),
        "R-1234yf": FlammabilityLimit(0.289, "flammability_limit_listing"),
    }
)

#: Height of release [m] by how the indoor unit is installed, and the least height that counts; source
#: ``room_charge_formula``.
RELEASE_HEIGHTS: Mapping[str, float] = MappingProxyType({"floor": 0.6, "window": 1.0, "wall": 1.8, "ceiling": 2.2})
#: Room volumes [m3] whose content at the flammability limit needs no room limit (m1); source ``room_charge_free``.
FREE_VOLUMES: Mapping[str, float] = MappingProxyType({"A3": 4.0, "A2L": 6.0})
#: Room volumes [m3] whose content at the flammability limit ends the formula (m2); source ``room_charge_cap``.
CAP_VOLUMES: Mapping[str, float] = MappingProxyType({"A3": 26.0, "A2L": 52.0})
#: Charge [kg] is rounded up and area [m2] down to these steps before the formulas; what they give is rounded to the
#: same steps of the unit that is shown.
CHARGE_STEP, AREA_STEP = 0.01, 0.1
