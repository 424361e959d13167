"""Simulated before/after visits to split air conditioners whose true change is known.

A steady-state model of a whole unit, written from textbook relations on CoolProp refrigerant
properties and the ASHRAE moist-air formulas (those PsychroLib uses).  It shares nothing with the
service: it is the other side of the bench.

Unknowns of a state: evaporating and condensing temperature, superheat, subcooling, mass flow.
Equations: compressor flow, evaporator balance, condenser area, metering device flow, charge.
Every unit has its own random conductances, exponents, efficiency curve, losses, fans and lines.

SI units inside (Pa, K differences, degC, W, kg/s, J/kg); readings come out in imperial units.
Airflow is the volume flow of the air as it enters the coil; sea level throughout.
Refrigerants: R-410A, R-22 and R-32 (property tables of pure and pseudo-pure fluids).

How close it comes to published behaviour (R-410A, rating conditions; 10th, 50th and 90th
percentile of some 300 units; EV expansion valve, FO fixed orifice):

    capacity per K outdoors           EV -1.1 -1.0 -0.9 %     FO -1.0 -0.8 -0.6 %    (-0.8..-1)
    power per K outdoors              EV +1.6 +1.8 +2.2 %     FO +1.6 +1.8 +2.2 %    (+1.4..+2)
    capacity per K wet bulb           EV +2.7 +2.9 +3.1 %     FO +1.7 +2.0 +2.4 %    (+2.5..+3.5)
    condenser conductance -20 %, EER  EV -6.8 -5.4 -4.0 %     FO -6.6 -5.0 -3.6 %    (-4..-6)
    indoor airflow -20 %, EER         EV -5.7 -3.0 -0.5 %     FO -5.1 -2.4 +0.2 %    (-3..-4)
    charge -20 %, EER                 EV -6.4 -4.5 -2.4 %     FO -11.4 -8.9 -5.9 %   (EV -6..-9)
    charge -10 %, superheat           EV +0.1 +0.2 +0.4 K     FO +4.0 +5.5 +7.3 K    (FO +4)
    charge -10 %, subcooling          EV -5.8 -4.7 -3.8 K     FO -4.6 -3.8 -3.1 K    (FO -4)

Faults of the liquid's path and foreign gas, likewise (some 100 units; pairs have none of them,
the visits of ``simulated_visits`` do).  Resistance +20 % is a flow coefficient of 1.2^-1/2:

    device resistance +20 %, superheat    EV  0.0 +0.1 +0.5 K    FO +5.1 +5.9 +6.9 K    (FO +4.4)
    device resistance +20 %, subcooling   EV  0.0  0.0 +0.1 K    FO +0.5 +0.9 +1.2 K    (FO +0.7)
    device resistance +20 %, evaporating  EV -0.1  0.0  0.0 K    FO -1.3 -1.1 -0.9 K    (FO -1.6)
    liquid line drop x5, superheat        EV +0.1 +0.1 +0.3 K    FO +1.8 +3.3 +5.3 K    (EV 0, FO +)
    liquid line drop x20, superheat       EV +0.5 +6.1 +13 K     FO +7.3 +12 +17 K      (+)
    liquid line drop x20, subcooling      EV +0.1 +0.7 +2.1 K    FO +0.7 +1.6 +2.7 K    (+)
    liquid line drop x20, condensing      EV -0.8 -0.2  0.0 K    FO -1.4 -0.7 -0.3 K    (-)
    liquid line drop x20, discharge       EV +0.5 +7.4 +16 K     FO +8.6 +15 +23 K      (+)
    device flow x1.1, superheat           EV -1.9 -1.9 -1.8 K    FO -7.9 -6.6 -5.3 K    (-)
    device flow x1.1, subcooling          EV -0.4 -0.3 -0.2 K    FO -1.3 -1.1 -0.7 K    (-)
    device flow x1.1, evaporating         EV +0.2 +0.3 +0.4 K    FO +0.5 +0.7 +1.0 K    (+)
    device flow x0.6, superheat           EV +13 +17 +20 K       FO +21 +22 +24 K       (+)
    foreign gas 40 kPa, condensing read   EV +0.6 +0.6 +0.6 K    FO +0.6 +0.6 +0.7 K    (+0.55)
    foreign gas 40 kPa, subcooling read   EV +0.6 +0.6 +0.6 K    FO +0.4 +0.4 +0.5 K    (+0.55)
    foreign gas 40 kPa, power             EV +0.9 +1.1 +1.4 %    FO +1.0 +1.2 +1.4 %    (+1.3)
    foreign gas 40 kPa, capacity          EV -0.1 -0.1 -0.1 %    FO  0.0 +0.2 +0.4 %    (0)

A fixed orifice behind a condenser with foreign gas feeds more, as it would with any higher
pressure: superheat falls by about 1.2 K for 40 kPa.  Leakage in the compressor leaves the discharge
temperature about as it was behind a valve, and lowers it with a fixed orifice, where the rules of
Breuker and Braun (1998) have it rise: the leak's heat is counted only as part of the work.

So undercharge behind an expansion valve costs somewhat less than published (the valve keeps the
superheat until some 15-20 % are missing), a fixed orifice feels the wet bulb somewhat less, and
indoor airflow is spread by the blowers (some draw more, some less, when the flow falls).
Left out as not found: liquid carried back beyond some 12 % of the flow (fixed orifices).
Not modelled: cycling, drift within a visit, ducts, reheat, moisture held by the coil, glide.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import lru_cache
from typing import Any, ClassVar, Self

import CoolProp
import numpy as np
from CoolProp.CoolProp import AbstractState
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, RectBivariateSpline

F = NDArray[np.float64]

ATMOSPHERE = 101325.0
ZERO = 273.15
PSI = 6894.757293168361
CFM = 0.3048**3 / 60.0
TON = 3516.8528
BTU_PER_HOUR = 1055.05585262 / 3600.0

# --------------------------------------------------------------------------- instruments


@dataclass(frozen=True)
class Source:
    """One source of error: standard uncertainties, relative (1) or in degF, psi, cfm, W, V, A.

    ``calibration`` is drawn once for a pair and shared by both visits and by all ``readings`` of
    the source; ``repeatability`` is drawn for each reading of each visit.
    """

    readings: tuple[str, ...]
    calibration: float
    repeatability: float
    relative: bool = False


@dataclass(frozen=True)
class Kit:
    """Error sources, display resolutions (imperial) and what the kit measures power with.

    ``current_share`` is the share of pairs in which the kit has a clamp meter for the compressor
    current and no power meter; in the others it has the power meter, and the current only where
    ``current_beside_power``.
    """

    sources: tuple[Source, ...]
    resolution: Mapping[str, float]
    current_share: float = 0.0
    current_beside_power: bool = True


REFRIGERANT_PRESSURES = ("suction_pressure", "liquid_pressure")
PIPES = ("suction_line_temperature", "liquid_line_temperature", "discharge_line_temperature")
DRY_BULBS = ("return_air_dry_bulb", "supply_air_dry_bulb", "outdoor_air_dry_bulb")
WET_BULBS = ("return_air_wet_bulb", "supply_air_wet_bulb")
SUPPLY = ("supply_air_dry_bulb", "supply_air_wet_bulb")
POWERS = ("outdoor_unit_power", "indoor_unit_power")
CURRENT = "compressor_common_current"
READINGS = (
    *REFRIGERANT_PRESSURES,
    *PIPES,
    "outdoor_air_dry_bulb",
    "return_air_dry_bulb",
    "return_air_wet_bulb",
    "supply_air_dry_bulb",
    "supply_air_wet_bulb",
    "airflow",
    *POWERS,
    "line_voltage",
    CURRENT,
)

# Standard uncertainties, calibration (shared by the visits) and repeatability (each visit).
# Temperatures in K here; relative quantities in per cent of reading.
KIT_TABLE: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "good": {
        "pressure": (0.5, 0.25),
        "pipe": (0.5, 0.2),
        "air": (0.25, 0.15),
        "wet_bulb": (0.35, 0.25),
        "mixing": (0.4, 0.2),
        "outdoor": (0.3, 0.3),
        "airflow": (3.0, 1.5),
        "power": (0.5, 0.3),
        "voltage": (0.4, 0.1),
        "current": (1.0, 0.4),
    },
    "ordinary": {
        "pressure": (1.0, 0.5),
        "pipe": (1.0, 0.4),
        "air": (0.5, 0.3),
        "wet_bulb": (0.7, 0.5),
        "mixing": (0.8, 0.4),
        "outdoor": (0.6, 0.6),
        "airflow": (6.0, 2.5),
        "power": (1.0, 0.6),
        "voltage": (0.8, 0.2),
        "current": (2.0, 0.8),
    },
    "poor": {
        "pressure": (2.0, 1.0),
        "pipe": (2.0, 0.8),
        "air": (1.0, 0.6),
        "wet_bulb": (1.4, 1.0),
        "mixing": (1.6, 0.8),
        "outdoor": (1.2, 1.2),
        "airflow": (12.0, 4.0),
        "power": (2.0, 1.2),
        "voltage": (1.5, 0.4),
        "current": (3.0, 1.5),
    },
}
# Display resolutions: pressure psi, temperature degF, airflow cfm, power W, voltage V, current A.
RESOLUTION_TABLE: Mapping[str, tuple[float, float, float, float, float, float]] = {
    "good": (0.1, 0.1, 1.0, 1.0, 0.1, 0.01),
    "ordinary": (0.5, 0.1, 5.0, 10.0, 1.0, 0.1),
    "poor": (2.0, 0.5, 10.0, 20.0, 1.0, 0.1),
}


def _resolutions(steps: tuple[float, float, float, float, float, float]) -> dict[str, float]:
    """The display step of every reading (imperial)."""
    psi, degree, cfm, watt, volt, ampere = steps
    found = dict.fromkeys(REFRIGERANT_PRESSURES, psi)
    found |= dict.fromkeys((*PIPES, *DRY_BULBS, *WET_BULBS), degree)
    found |= dict.fromkeys(POWERS, watt)
    return found | {"airflow": cfm, "line_voltage": volt, CURRENT: ampere}


def make_kit(
    table: Mapping[str, tuple[float, float]],
    resolution: Mapping[str, float],
    *,
    current_share: float = 0.0,
    current_beside_power: bool = True,
) -> Kit:
    """A kit from a table like those of ``KIT_TABLE``: every sensor its own calibration draw."""

    def kelvins(name: str, *readings: str) -> Source:
        return Source(readings, 1.8 * table[name][0], 1.8 * table[name][1])

    def percent(name: str, *readings: str) -> Source:
        return Source(readings, table[name][0] / 100.0, table[name][1] / 100.0, relative=True)

    sources = [percent("pressure", r) for r in REFRIGERANT_PRESSURES]
    sources += [kelvins("pipe", r) for r in PIPES]
    sources += [kelvins("air", r) for r in DRY_BULBS[:2]]
    sources += [kelvins("wet_bulb", r) for r in WET_BULBS]
    sources += [kelvins("mixing", *SUPPLY), kelvins("outdoor", "outdoor_air_dry_bulb")]
    sources += [percent("airflow", "airflow"), percent("power", *POWERS)]
    sources += [percent("voltage", "line_voltage"), percent("current", CURRENT)]
    return Kit(tuple(sources), resolution, current_share, current_beside_power)


KITS: Mapping[str, Kit] = {
    name: make_kit(
        table,
        _resolutions(RESOLUTION_TABLE[name]),
        current_share=0.5 if name == "poor" else 0.0,
        current_beside_power=name != "poor",
    )
    for name, table in KIT_TABLE.items()
}


def kit_of(kit: str | Kit) -> Kit:
    """The kit of this name, or the kit itself."""
    return KITS[kit] if isinstance(kit, str) else kit


def provided(kit: str | Kit, *, by_current: bool = False) -> tuple[str, ...]:
    """Names of the readings the kit gives, with the power meter or (``by_current``) without it."""
    if by_current:
        return tuple(r for r in READINGS if r not in POWERS)
    if kit_of(kit).current_beside_power:
        return READINGS
    return tuple(r for r in READINGS if r != CURRENT)


def _calibrations(kit: Kit, rng: np.random.Generator) -> list[float]:
    """One draw of each source's calibration error, in standard deviations."""
    return [float(rng.standard_normal()) for _ in kit.sources]


def measured(
    true: Mapping[str, float],
    kit: Kit,
    calibrations: list[float],
    rng: np.random.Generator,
    names: Iterable[str],
) -> dict[str, float]:
    """What the instruments show (imperial): truth, errors of every source, display step."""
    shown = {name: true[name] for name in READINGS}
    for source, shared in zip(kit.sources, calibrations, strict=True):
        for name in source.readings:
            error = source.calibration * shared + source.repeatability * rng.standard_normal()
            shown[name] += error * (true[name] if source.relative else 1.0)
    _keep_wet_under_dry(shown)
    return {name: _displayed(shown[name], kit.resolution.get(name, 0.0)) for name in names}


def _keep_wet_under_dry(shown: dict[str, float]) -> None:
    """No operator writes down a wet bulb over the dry bulb: it is taken as equal to it."""
    for place in ("return", "supply"):
        dry, wet = f"{place}_air_dry_bulb", f"{place}_air_wet_bulb"
        shown[wet] = min(shown[wet], shown[dry])


def _displayed(value: float, step: float) -> float:
    """The value rounded to the display's step."""
    return round(round(value / step) * step, 6) if step > 0 else float(value)


# --------------------------------------------------------------------------- refrigerant

FLUIDS = {"R-410A": "R410A", "R-22": "R22", "R-32": "R32"}


@dataclass(frozen=True)
class Saturation:
    """Bubble and dew line on a grid of ln p: degC, J/kg, J/(kg K), kg/m3."""

    lnp: F
    dew: F
    bubble: F
    hg: F
    hl: F
    sg: F
    rg: F
    rl: F
    cpl: F
    cpg: F

    def at(self, what: F, p: F) -> F:
        """A column at pressure p (Pa)."""
        return np.interp(np.log(p), self.lnp, what)

    def dew_pressure(self, t: F) -> F:
        """Pressure (Pa) whose dew point is t (degC)."""
        return np.exp(np.interp(t, self.dew, self.lnp))


class Fluid:
    """A refrigerant's properties as tables: saturation lines and superheated vapour."""

    #: Superheats of the vapour's tables (K).
    HEAT: ClassVar[F] = np.concatenate([np.linspace(0.0, 20.0, 9), np.linspace(25.0, 145.0, 25)])

    def __init__(self, name: str) -> None:
        self.state = AbstractState("HEOS", FLUIDS[name])
        top = 0.93 * self._critical_pressure(FLUIDS[name])
        self.state.update(CoolProp.QT_INPUTS, 1.0, ZERO - 30.0)
        lnp = np.linspace(np.log(self.state.p()), np.log(top), 46)
        self.sat = self._saturation(lnp)
        self._vapour(lnp)

    @staticmethod
    def _critical_pressure(name: str) -> float:
        """Pa."""
        return float(CoolProp.CoolProp.PropsSI("PCRIT", name))

    def _saturation(self, lnp: F) -> Saturation:
        """Saturation columns at the grid, refined by cubic splines to 1500 points."""
        rows = np.array([self._saturated(float(np.exp(v))) for v in lnp])
        fine = np.linspace(lnp[0], lnp[-1], 1500)
        return Saturation(fine, *(CubicSpline(lnp, rows[:, k])(fine) for k in range(9)))

    def _saturated(self, p: float) -> tuple[float, ...]:
        """dew, bubble, hg, hl, sg, rg, rl, cpl, cpg at p (Pa)."""
        s = self.state
        s.update(CoolProp.PQ_INPUTS, p, 0.0)
        bubble, hl, rl = s.T() - ZERO, s.hmass(), s.rhomass()
        cpl = self._liquid_heat(bubble, hl)
        s.update(CoolProp.PQ_INPUTS, p, 1.0)
        dew, hg, sg, rg = s.T() - ZERO, s.hmass(), s.smass(), s.rhomass()
        h, _, _ = self._gas(p, dew + 6.0)
        return dew, bubble, hg, hl, sg, rg, rl, cpl, (h - hg) / 6.0

    def _liquid_heat(self, bubble: float, hl: float) -> float:
        """Mean specific heat along the bubble line just below (J/(kg K))."""
        self.state.update(CoolProp.QT_INPUTS, 0.0, bubble + ZERO - 4.0)
        return float(hl - self.state.hmass()) / 4.0

    def _gas(self, p: float, t: float) -> tuple[float, float, float]:
        """h, s, density of the vapour at p (Pa), t (degC)."""
        self.state.specify_phase(CoolProp.iphase_gas)
        self.state.update(CoolProp.PT_INPUTS, p, t + ZERO)
        found = self.state.hmass(), self.state.smass(), self.state.rhomass()
        self.state.unspecify_phase()
        return found

    def _vapour(self, lnp: F) -> None:
        """Tables of the vapour over (ln p, superheat), (ln p, h - hg) and (ln p, s - sg)."""
        heat = self.HEAT
        rows = [self._vapour_row(float(v), heat) for v in lnp]
        dh, ds = (np.array([r[k] for r in rows]) for k in (0, 1))
        rho = np.array([r[2] for r in rows])
        high = np.linspace(0.0, float(dh[:, -1].min()), 60)
        entropy = np.linspace(0.0, float(ds[:, -1].min()), 60)

        def turned(x: F, y: F, grid: F) -> RectBivariateSpline:
            table = [CubicSpline(a, b)(grid) for a, b in zip(x, y, strict=True)]
            return RectBivariateSpline(lnp, grid, np.array(table))

        warm = np.tile(heat, (len(lnp), 1))
        self._h_of_superheat = RectBivariateSpline(lnp, heat, dh)
        self._superheat_of_h = turned(dh, warm, high)
        self._rho_of_h = turned(dh, rho, high)
        self._s_of_h = turned(dh, ds, high)
        self._h_of_s = turned(ds, dh, entropy)

    def _vapour_row(self, lnp: float, heat: F) -> tuple[F, F, F]:
        """h - hg, s - sg and density along one isobar."""
        p = float(np.exp(lnp))
        dew, _, hg, _, sg, rg, *_ = self._saturated(p)
        points = [self._gas(p, dew + float(k)) for k in heat[1:]]
        gas = np.array([(hg, sg, rg), *points])
        return gas[:, 0] - hg, gas[:, 1] - sg, gas[:, 2]

    def superheated_h(self, p: F, superheat: F) -> F:
        """Enthalpy (J/kg); a negative superheat stands for wet vapour, cp per K."""
        dry = self._h_of_superheat.ev(np.log(p), np.maximum(superheat, 0.0))
        wet = self.sat.at(self.sat.cpg, p) * np.minimum(superheat, 0.0)
        found: F = self.sat.at(self.sat.hg, p) + dry + wet
        return found

    def vapour(self, p: F, h: F) -> tuple[F, F, F]:
        """Temperature (degC), density, entropy at (p, h), also for wet vapour."""
        s, lnp = self.sat, np.log(p)
        hg, dew = s.at(s.hg, p), s.at(s.dew, p)
        over, under = np.maximum(h - hg, 0.0), np.minimum(h - hg, 0.0)
        t: F = dew + self._superheat_of_h.ev(lnp, over)
        liquid = -under / (hg - s.at(s.hl, p))
        rho = self._rho_of_h.ev(lnp, over)
        rho = 1.0 / ((1.0 - liquid) / rho + liquid / s.at(s.rl, p))
        entropy: F = s.at(s.sg, p) + self._s_of_h.ev(lnp, over) + under / (dew + ZERO)
        return t, rho, entropy

    def isentropic_h(self, p: F, entropy: F) -> F:
        """Enthalpy at (p, s), the end of an isentropic compression."""
        more = np.maximum(entropy - self.sat.at(self.sat.sg, p), 0.0)
        found: F = self.sat.at(self.sat.hg, p) + self._h_of_s.ev(np.log(p), more)
        return found

    def liquid_h(self, t: F) -> F:
        """Enthalpy of liquid at t (degC), on the bubble line (compression neglected)."""
        return np.interp(t, self.sat.bubble, self.sat.hl)


@lru_cache(maxsize=4)
def fluid_of(name: str) -> Fluid:
    """The tables of a refrigerant, built once."""
    return Fluid(name)


# --------------------------------------------------------------------------- moist air


def saturation_pressure(t: F) -> F:
    """Vapour pressure over water (Pa) at t (degC): ASHRAE Fundamentals ch. 1 (Hyland-Wexler)."""
    k = t + ZERO
    return np.exp(
        -5.8002206e3 / k
        + 1.3914993
        - 4.8640239e-2 * k
        + 4.1764768e-5 * k**2
        - 1.4452093e-8 * k**3
        + 6.5459673 * np.log(k)
    )


def saturated_ratio(t: F) -> F:
    """Humidity ratio of saturated air (kg/kg)."""
    p = saturation_pressure(t)
    return 0.621945 * p / (ATMOSPHERE - p)


def air_enthalpy(t: F, w: F) -> F:
    """J/kg dry air: ASHRAE Fundamentals ch. 1."""
    return 1006.0 * t + w * (2.501e6 + 1860.0 * t)


def ratio_from_wet_bulb(t: F, wet: F) -> F:
    """Humidity ratio from dry and wet bulb (degC): ASHRAE psychrometer equation."""
    top = (2501.0 - 2.326 * wet) * saturated_ratio(wet) - 1.006 * (t - wet)
    return top / (2501.0 + 1.86 * t - 4.186 * wet)


def ratio_from_humidity(t: F, humidity: F) -> F:
    """Humidity ratio from dry bulb (degC) and relative humidity (0..1)."""
    p = humidity * saturation_pressure(t)
    return 0.621945 * p / (ATMOSPHERE - p)


def wet_bulb(t: F, w: F) -> F:
    """Wet bulb (degC), by bisection of the psychrometer equation."""
    low, high = t - 40.0, np.array(t)
    for _ in range(40):
        middle = 0.5 * (low + high)
        over = ratio_from_wet_bulb(t, middle) > w
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return 0.5 * (low + high)


def air_density(t: F, w: F) -> F:
    """kg dry air per m3 of moist air."""
    return ATMOSPHERE / (287.042 * (t + ZERO) * (1.0 + 1.607858 * w))


# --------------------------------------------------------------------------- columns


class Columns:
    """A dataclass of equal-length columns, one element for each unit."""

    def take(self, which: Any) -> Self:  # noqa: ANN401
        """These elements."""
        return type(self)(**{f.name: getattr(self, f.name)[which] for f in fields(self)})  # type: ignore[arg-type]


@dataclass(frozen=True)
class Health(Columns):
    """Factors on the parts of a unit: 1 is as designed.

    ``liquid_line_drop`` is on the pressure drop of the liquid line (over 1 a blocked drier, taken
    to sit after the liquid port and close to the metering device, so that the line before it holds
    liquid).  ``device_flow`` is on the flow coefficient of a fixed orifice; for an expansion valve
    see ``valve_opening``.  ``non_condensable`` is 1 + partial pressure of a gas that does not
    condense over the refrigerant's pressure, both in the condenser.
    """

    condenser_conductance: F
    condenser_airflow: F
    evaporator_airflow: F
    charge: F
    compressor_volumetric: F
    compressor_isentropic: F
    evaporator_conductance: F
    liquid_line_drop: F
    device_flow: F
    non_condensable: F

    @classmethod
    def sound(cls, count: int) -> Self:
        """Units as designed."""
        return cls(**{f.name: np.ones(count) for f in fields(cls)})


@dataclass(frozen=True)
class Weather(Columns):
    """What a visit finds: outdoor and return air (degC), voltage over nominal."""

    outdoor: F
    dry: F
    wet: F
    voltage: F

    @classmethod
    def rating(cls, count: int) -> Self:
        """35 degC outdoors, 26.7 / 19.4 degC indoors, nominal voltage."""
        return cls(*(np.full(count, v) for v in (35.0, 26.7, 19.4, 1.0)))


@dataclass(frozen=True)
class Unit(Columns):
    """Units: design point (rating conditions) and parameters, drawn at random."""

    tons: F
    orifice: F  # 1 fixed orifice, 0 expansion valve
    te: F  # design evaporating dew point at the coil's outlet, degC
    tc: F  # design condensing temperature, degC
    superheat: F
    subcooling: F
    efficiency: F  # design isentropic over electrical input
    best_ratio: F  # pressure ratio of the best efficiency over the design ratio
    efficiency_bend: F
    leak_work: F  # share of a flow loss whose work is still spent
    clearance: F  # fall of volumetric efficiency for a unit of pressure ratio
    slip: F
    motor_voltage: F
    power_factor: F
    power_factor_slope: F
    shell: F  # W/K
    fan: F  # W
    fan_flow_exponent: F
    fan_voltage_exponent: F
    blower: F  # W
    blower_flow_exponent: F
    cfm_per_ton: F
    air_rise: F  # design air rise of the condenser over its temperature difference
    cond_air_exponent: F
    cond_ref_ratio: F  # refrigerant-side over air-side resistance, condensing
    cond_vapour_ratio: F
    cond_liquid_ratio: F
    cond_ref_exponent: F
    evap_air_exponent: F
    evap_ref_ratio: F
    evap_vapour_ratio: F
    evap_ref_exponent: F
    drop_evaporator: F  # Pa at design
    drop_suction: F
    drop_condenser: F
    drop_discharge: F
    drop_liquid: F
    suction_gain: F  # W/K
    valve_range: F  # K from closed to wide open
    valve_opening: F  # at design
    orifice_subcooling: F  # flow per K subcooling
    flash_slip: F
    cond_volume: F  # m3
    evap_volume: F
    liquid_volume: F
    vapour_volume: F
    # found from the design point:
    flow: F  # kg/s
    displacement: F  # m3/s
    pressure_ratio: F
    work: F  # W, compressor
    suction_density: F
    cond_air: F  # W/K, heat capacity flow
    cond_conductance: F  # W/K, air side
    evap_conductance: F
    valve: F
    charge: F  # kg


def draws(rng: np.random.Generator | None, count: int) -> Callable[[float, float], F]:
    """Uniform draws, or the middle of the range without a generator."""

    def draw(low: float, high: float) -> F:
        if rng is None:
            return np.full(count, 0.5 * (low + high))
        return rng.uniform(low, high, count)

    return draw


def free_parameters(draw: Callable[[float, float], F]) -> dict[str, F]:
    """Every parameter that does not depend on another."""
    ranges = {
        "tons": (2.0, 5.0),
        "te": (5.0, 9.0),
        "tc": (44.0, 51.0),
        "superheat": (4.0, 8.0),
        "subcooling": (4.0, 8.0),
        "efficiency": (0.62, 0.75),
        "best_ratio": (0.75, 1.0),
        "efficiency_bend": (0.25, 0.9),
        "leak_work": (0.3, 1.1),
        "clearance": (0.01, 0.05),
        "slip": (0.01, 0.04),
        "motor_voltage": (-0.3, 0.2),
        "power_factor": (0.88, 0.98),
        "power_factor_slope": (0.02, 0.15),
        "shell": (2.0, 6.0),
        "fan_flow_exponent": (-0.3, 0.8),
        "fan_voltage_exponent": (0.0, 2.0),
        "blower_flow_exponent": (-0.8, 1.2),
        "cfm_per_ton": (350.0, 450.0),
        "air_rise": (0.5, 0.72),
        "cond_air_exponent": (0.4, 0.75),
        "cond_ref_ratio": (0.15, 0.5),
        "cond_vapour_ratio": (0.6, 1.8),
        "cond_liquid_ratio": (0.6, 1.8),
        "cond_ref_exponent": (0.2, 0.8),
        "evap_air_exponent": (0.45, 0.85),
        "evap_ref_ratio": (0.15, 0.45),
        "evap_vapour_ratio": (1.5, 3.5),
        "evap_ref_exponent": (0.2, 0.8),
        "suction_gain": (1.0, 5.0),
        "valve_range": (3.0, 7.0),
        "valve_opening": (0.72, 0.95),
        "orifice_subcooling": (0.006, 0.018),
        "flash_slip": (0.7, 1.1),
        "liquid_volume": (0.4e-3, 0.95e-3),
        "vapour_volume": (1.0e-3, 4.0e-3),
    }
    return {name: draw(*span) for name, span in ranges.items()}


def scaled_parameters(draw: Callable[[float, float], F], free: dict[str, F], f: Fluid) -> None:
    """Parameters that go with the size of the unit or the pressures of the refrigerant."""
    tons, te, tc = free["tons"], free["te"], free["tc"]
    low, high = f.sat.dew_pressure(te) / 1e6, f.sat.dew_pressure(tc) / 2.9e6
    spans = {
        "fan": (35.0, 75.0, tons),
        "blower": (0.2, 0.5, free["cfm_per_ton"] * tons),
        "cond_volume": (0.9e-3, 1.4e-3, tons),
        "evap_volume": (0.8e-3, 1.2e-3, tons),
        "drop_evaporator": (15e3, 50e3, low),
        "drop_suction": (8e3, 35e3, low),
        "drop_condenser": (20e3, 70e3, high),
        "drop_discharge": (8e3, 30e3, high),
        "drop_liquid": (15e3, 60e3, high),
    }
    for name, (bottom, top, scale) in spans.items():
        free[name] = draw(bottom, top) * scale


def draw_units(
    f: Fluid, count: int, rng: np.random.Generator | None, metering: str | None
) -> tuple[Unit, NDArray[np.bool_]]:
    """Units and which of them are plausible; without a generator the middle unit."""
    draw = draws(rng, count)
    free = free_parameters(draw)
    scaled_parameters(draw, free, f)
    share = {"expansion_valve": 0.0, "fixed_orifice": 1.0, None: 0.4}[metering]
    free["orifice"] = (draw(0.0, 1.0) < share).astype(np.float64)
    found = {x.name: np.ones(count) for x in fields(Unit) if x.name not in free}
    return designed(f, Unit(**free, **found))


def _bisected(function: Callable[[F], F], count: int) -> tuple[F, NDArray[np.bool_]]:
    """The conductance (W/K) at which the falling function is zero, and whether there is one."""
    low, high = np.full(count, np.log(50.0)), np.full(count, np.log(3e4))
    ok = (function(np.exp(low)) > 0) & (function(np.exp(high)) < 0)
    for _ in range(45):
        middle = 0.5 * (low + high)
        over = function(np.exp(middle)) > 0
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    return np.exp(low), ok


def designed(f: Fluid, u: Unit) -> tuple[Unit, NDArray[np.bool_]]:
    """The unit whose flow, displacement, conductances, valve and charge meet its design point."""
    count = len(u.tons)
    sound, rating = Health.sound(count), Weather.rating(count)
    p_e, p_c = f.sat.dew_pressure(u.te), f.sat.dew_pressure(u.tc)
    h1 = f.superheated_h(p_e, u.superheat)
    p_l = p_c - 0.5 * u.drop_condenser
    bubble = f.sat.at(f.sat.bubble, p_l)
    h3 = f.liquid_h(bubble - u.subcooling)
    u = replace(u, flow=(u.tons * TON + u.blower) / (h1 - h3))
    y = -(bubble - 35.0) * np.log1p(-u.subcooling / (bubble - 35.0))
    x = np.stack([u.te, u.tc, u.superheat, y, np.zeros(count)], axis=1)
    u = replace(u, suction_density=f.vapour(p_e, h1)[1])
    low = _low_side(f, u, rating, x)
    p_d = p_c + 0.5 * u.drop_condenser + u.drop_discharge
    u = replace(u, pressure_ratio=p_d / low.p_suction)
    swept = u.flow / (low.rho_suction * (1.0 - u.clearance * u.pressure_ratio))
    ideal = f.isentropic_h(p_d, low.s_suction) - low.h_suction
    u = replace(u, displacement=swept, work=u.flow * ideal / u.efficiency)
    comp = compressor(f, u, sound, rating, low, p_d)
    rejected = u.flow * (comp.h_discharge - h3)
    u = replace(u, cond_air=rejected / (u.air_rise * (u.tc - 35.0)))
    return _sized(f, u, x, low, comp)


def _sized(f: Fluid, u: Unit, x: F, low: LowSide, comp: Compressor) -> tuple[Unit, Any]:
    """The unit with its two coils, valve and charge sized at the design state x."""
    count = len(u.tons)
    sound, rating = Health.sound(count), Weather.rating(count)

    def evaporator_lack(conductance: F) -> F:
        coil = _evaporator(f, replace(u, evap_conductance=conductance), sound, rating, low, x)
        h4 = _high_side(f, u, sound, x, rating.outdoor).h_liquid
        return u.flow * (coil.h_boiled - h4) - coil.boiling

    def condenser_lack(conductance: F) -> F:
        v = replace(u, cond_conductance=conductance)
        return sum(_condenser(f, v, sound, rating, comp, x).zones) - 1.0  # type: ignore[return-value]

    evap, evap_ok = _bisected(evaporator_lack, count)
    cond, cond_ok = _bisected(condenser_lack, count)
    u = replace(u, evap_conductance=evap, cond_conductance=cond)
    c = cycle(f, u, sound, rating, x)
    u = replace(u, valve=u.flow / c.valve_flow, charge=c.inventory)
    return u, evap_ok & cond_ok


# --------------------------------------------------------------------------- parts


@dataclass(frozen=True)
class LowSide:
    """Evaporator outlet and suction line: Pa, degC, J/kg, kg/m3."""

    p_evaporator: F
    p_mean: F
    h_outlet: F
    rho_outlet: F
    p_suction: F
    h_suction: F
    t_suction: F
    rho_suction: F
    s_suction: F


def _low_side(f: Fluid, u: Unit, weather: Weather, x: F) -> LowSide:
    """Pressure drops ~ m^1.8 / density (turbulent pipe flow); the line gains heat outdoors."""
    te, superheat, m = x[:, 0], x[:, 2], u.flow * np.exp(x[:, 4])
    p = f.sat.dew_pressure(te)
    h = f.superheated_h(p, superheat)
    t, rho, _ = f.vapour(p, h)
    push = (m / u.flow) ** 1.8 * u.suction_density / rho
    p_suction = np.maximum(p - u.drop_suction * push, 0.3 * p)
    gained = h + u.suction_gain * (weather.outdoor - t) / m
    warm, rho_s, entropy = f.vapour(p_suction, gained)
    p_mean = p + 0.5 * u.drop_evaporator * push
    return LowSide(p, p_mean, h, rho, p_suction, gained, warm, rho_s, entropy)


@dataclass(frozen=True)
class Compressor:
    """Flow (kg/s), electrical input (W), discharge pressure, enthalpy and temperature."""

    flow: F
    power: F
    p_discharge: F
    h_discharge: F
    t_discharge: F


def compressor(f: Fluid, u: Unit, health: Health, weather: Weather, low: LowSide, p_d: F) -> Compressor:
    """Volumetric efficiency falling with the pressure ratio, isentropic efficiency with a peak.

    Slip ~ torque / voltage^2 (induction motor); shell loss ~ shell to outdoor air.
    """
    ratio = p_d / low.p_suction
    s = low.s_suction
    ideal_h = f.isentropic_h(p_d, s)
    ideal = np.maximum(ideal_h - low.h_suction, 100.0)
    torque = low.rho_suction * ideal * u.displacement / np.maximum(u.work * u.efficiency, 1.0)
    speed = 1.0 - u.slip * (torque / weather.voltage**2 - 1.0)
    volumetric = np.maximum(1.0 - u.clearance * ratio, 0.2) * health.compressor_volumetric
    flow = u.displacement * speed * low.rho_suction * volumetric
    efficiency = _efficiency(u, ratio) * health.compressor_isentropic
    efficiency = efficiency * health.compressor_volumetric**u.leak_work
    change = weather.voltage - 1.0
    power = flow * ideal / efficiency * (1.0 + u.motor_voltage * change + 2.0 * change**2)
    shell_t = f.vapour(p_d, ideal_h)[0] + 8.0
    loss = u.shell * (shell_t - weather.outdoor)
    h: F = low.h_suction + (power - loss) / flow
    return Compressor(flow, power, p_d, h, f.vapour(p_d, h)[0])


def _efficiency(u: Unit, ratio: F) -> F:
    """Isentropic over electrical input: a parabola in ln(pressure ratio) about its peak."""
    off = np.log(ratio / (u.pressure_ratio * u.best_ratio))
    design = 1.0 - u.efficiency_bend * np.log(u.best_ratio) ** 2
    found: F = u.efficiency * np.maximum(1.0 - u.efficiency_bend * off**2, 0.3) / design
    return found


@dataclass(frozen=True)
class HighSide:
    """Condenser and liquid line: Pa, degC, J/kg; quality at the condenser's outlet.

    Pressures of the refrigerant alone are ``p_mean`` and ``t_bubble`` (of the outlet); ``p_inlet``,
    ``p_liquid`` (what a gauge shows) and ``p_valve`` are total pressures.  ``lost_subcooling`` is
    what a liquid line's drop beyond its design takes from the subcooling at the device (K).
    """

    p_mean: F
    p_inlet: F
    p_liquid: F
    t_bubble: F
    t_liquid: F
    h_bubble: F
    h_liquid: F
    quality: F
    p_valve: F
    lost_subcooling: F


def _bent(value: F, least: F | float) -> F:
    """The value, bent to stay positive below ``least``: smooth, so that Newton steps find back."""
    low = least * np.exp(np.minimum(value / least, 1.0) - 1.0)
    return np.where(value > least, value, low)


def _high_side(f: Fluid, u: Unit, health: Health, x: F, outdoor: F) -> HighSide:
    """Pressures along the condenser and the liquid's state.

    Refrigerant condenses at its own partial pressure; gas that does not condense adds its pressure
    (Dalton), the same along the condenser, to what compressor, gauge and device see.

    The fourth unknown y is the subcooling as if the air did not limit it: over a difference d
    to the air, subcooling = d (1 - exp(-y/d)).  A negative one means flash, cp per K.
    """
    tc, y, m = x[:, 1], x[:, 3], x[:, 4]
    push = np.exp(1.8 * m)
    p = f.sat.dew_pressure(tc)
    drop = u.drop_condenser * push
    p_liquid = p - 0.5 * drop
    gas = (health.non_condensable - 1.0) * p
    sat = f.sat
    bubble, hl = sat.at(sat.bubble, p_liquid), sat.at(sat.hl, p_liquid)
    most = np.maximum(bubble - outdoor, 0.5)
    t = bubble + most * np.expm1(-np.maximum(y, 0.0) / most)
    excess = sat.at(sat.cpl, p_liquid) * np.maximum(-y, 0.0)
    h = f.liquid_h(t) + excess
    quality = excess / (sat.at(sat.hg, p_liquid) - hl)
    shown = p_liquid + gas
    line = u.drop_liquid * push * (1.0 + 4.0 * quality)
    p_valve = _bent(shown - line * health.liquid_line_drop, 0.1 * p_liquid)
    lost = sat.at(sat.bubble, _bent(shown - line, 0.1 * p_liquid)) - sat.at(sat.bubble, p_valve)
    return HighSide(p, p + 0.5 * drop + gas, shown, bubble, t, hl, h, quality, p_valve, lost)


def _log_mean(a: F, b: F) -> F:
    """Logarithmic mean of two temperature differences (K), kept positive."""
    a, b = np.maximum(a, 0.05), np.maximum(b, 0.05)
    close = np.abs(a - b) < 1e-6
    ratio = np.where(close, 2.0, a / b)
    return np.where(close, 0.5 * (a + b), (a - b) / np.log(ratio))


@dataclass(frozen=True)
class Condenser:
    """Shares of the area: desuperheating, condensing, subcooling; the high side's state."""

    zones: tuple[F, F, F]
    high: HighSide


def _condenser(f: Fluid, u: Unit, health: Health, weather: Weather, comp: Compressor, x: F) -> Condenser:
    """Zones that share area and air alike (cross flow).

    Condensing zone: effectiveness 1 - exp(-NTU) (Incropera).  Single-phase zones: conductance
    times the log mean over the mean air temperature of the zone.
    """
    high = _high_side(f, u, health, x, weather.outdoor)
    sat, m, ta = f.sat, u.flow * np.exp(x[:, 4]), weather.outdoor
    air = u.cond_air * health.condenser_airflow * (308.15 / (ta + ZERO))
    outer = (air / u.cond_air) ** -u.cond_air_exponent
    scale = u.cond_conductance * health.condenser_conductance
    inner = np.exp(-u.cond_ref_exponent * x[:, 4])
    condensing, vapour, liquid = (
        scale / (outer + ratio * inner) for ratio in (u.cond_ref_ratio, u.cond_vapour_ratio, u.cond_liquid_ratio)
    )
    hot = 0.5 * (sat.at(sat.dew, high.p_mean) + sat.at(sat.bubble, high.p_mean))
    hg = sat.at(sat.hg, high.p_mean)
    first = m * (comp.h_discharge - hg) * (1.0 / vapour + 0.5 / air)
    first = first / _log_mean(comp.t_discharge - ta, hot - ta)
    latent = m * (hg - np.maximum(high.h_liquid, high.h_bubble))
    second = latent / (air * -np.expm1(-condensing / air) * np.maximum(hot - ta, 0.05))
    cooled = m * np.maximum(high.h_bubble - high.h_liquid, 0.0)
    third = cooled * (1.0 / liquid + 0.5 / air)
    third = third / _log_mean(high.t_bubble - ta, high.t_liquid - ta)
    return Condenser((first, second, third), high)


@dataclass(frozen=True)
class Evaporator:
    """Heat to the boiling zone (W), enthalpy where boiling ends, superheating share, air out."""

    boiling: F
    h_boiled: F
    superheating: F
    air: F
    supply_dry: F
    supply_ratio: F
    sensible: F


def _evaporator(f: Fluid, u: Unit, health: Health, weather: Weather, low: LowSide, x: F) -> Evaporator:
    """Wet or dry coil, whichever takes more heat (Braun, Klein and Mitchell 1989)."""
    sat, m = f.sat, u.flow * np.exp(x[:, 4])
    w = ratio_from_wet_bulb(weather.dry, weather.wet)
    volume = u.cfm_per_ton * u.tons * CFM * health.evaporator_airflow
    air = volume * air_density(weather.dry, w)
    outer = health.evaporator_airflow**u.evap_air_exponent
    scale = u.evap_conductance * health.evaporator_conductance
    inner = np.exp(-u.evap_ref_exponent * x[:, 4])
    vapour = scale / (1.0 / outer + u.evap_vapour_ratio * inner)
    cold = 0.6 * sat.at(sat.dew, low.p_mean) + 0.4 * sat.at(sat.bubble, low.p_mean)
    heat, dry, ratio = coil_air(weather.dry, w, cold, air, scale * outer, scale / (u.evap_ref_ratio * inner))
    superheat = np.maximum(x[:, 2], 0.0)
    approach = np.minimum(superheat / np.maximum(weather.dry - x[:, 0], 0.1), 0.995)
    warm = m * np.maximum(low.h_outlet - sat.at(sat.hg, low.p_evaporator), 0.0)
    share = -np.log1p(-approach) * warm / np.maximum(superheat, 1e-9) / vapour
    share = np.where(superheat > 0, np.minimum(share, 0.97), 0.0)
    cp = 1006.0 + 1860.0 * w
    after = (1.0 - share) * dry + share * weather.dry - warm / (air * cp)
    moisture = (1.0 - share) * ratio + share * w
    boiled = np.minimum(low.h_outlet, sat.at(sat.hg, low.p_evaporator))
    return Evaporator(heat * (1.0 - share), boiled, share, air, after, moisture, air * cp * (weather.dry - after))


def coil_air(t: F, w: F, cold: F, air: F, outer: F, inner: F) -> tuple[F, F, F]:
    """Heat (W), leaving dry bulb and humidity ratio of a coil at one refrigerant temperature.

    Dry: effectiveness on temperature.  Wet: effectiveness on enthalpy, the leaving dry bulb from
    the effective surface (Braun; ASHRAE toolkit for coils).  W/K, degC, kg/s.
    """
    cp = 1006.0 + 1860.0 * w
    dry_out = t - -np.expm1(-1.0 / (1.0 / outer + 1.0 / inner) / (air * cp)) * (t - cold)
    h, h_cold = air_enthalpy(t, w), air_enthalpy(cold, saturated_ratio(cold))
    surface = cold + 6.0
    slope = (air_enthalpy(surface, saturated_ratio(surface)) - h_cold) / 6.0
    wet = -np.expm1(-1.0 / (cp / outer + slope / inner) / air)
    h_out = h - wet * (h - h_cold)
    pass_by = np.exp(-outer / (air * cp))
    h_surface = h - (h - h_out) / (1.0 - pass_by)
    t_surface = _saturated_temperature(h_surface)
    wet_out = t_surface + (t - t_surface) * pass_by
    ratio = (h_out - 1006.0 * wet_out) / (2.501e6 + 1860.0 * wet_out)
    is_wet = (h - h_out) > cp * (t - dry_out)
    heat = air * np.maximum(h - h_out, cp * (t - dry_out))
    return heat, np.where(is_wet, wet_out, dry_out), np.where(is_wet, np.minimum(ratio, w), w)


_FILM_T = np.linspace(-45.0, 60.0, 1500)
_FILM_H = air_enthalpy(_FILM_T, saturated_ratio(_FILM_T))


def _saturated_temperature(h: F) -> F:
    """Temperature (degC) of saturated air of enthalpy h."""
    return np.interp(h, _FILM_H, _FILM_T)


# How far a sensing bulb is misled for each unit of ``device_flow`` over 1 (K of superheat).
BULB_SHIFT = 20.0


def valve_opening(u: Unit, health: Health, superheat: F) -> F:
    """Opening of an expansion valve (1 wide open) at a superheat (K), corners rounded.

    Proportional to superheat between closed and wide open.  Underfeeding (``device_flow`` under
    1): it opens no further than that share.  Overfeeding: the sensing bulb is loose or badly
    insulated and takes the pipe for warmer than it is, so that the valve holds a superheat lower by
    ``BULB_SHIFT`` times the excess, until it is wide open and holds none.
    """
    widest = np.minimum(health.device_flow, 1.0)
    misled = BULB_SHIFT * np.maximum(health.device_flow - 1.0, 0.0)
    line = u.valve_opening + (superheat + misled - u.superheat) / u.valve_range
    opening = widest - np.logaddexp(0.0, 12.0 * (widest - line)) / 12.0
    rounded: F = np.logaddexp(0.0, 30.0 * opening) / 30.0
    return rounded


def _valve_flow(f: Fluid, u: Unit, health: Health, high: HighSide, low: LowSide, x: F) -> F:
    """Flow of the metering device (kg/s): C sqrt(density x pressure difference).

    Expansion valve: opening by ``valve_opening``.  Fixed orifice: the flow also rises with the
    subcooling before it, as in choked short tubes (after Kim and O'Neal 1994).  Flash at the inlet
    lowers the density, less than homogeneous flow would (slip).
    """
    sat = f.sat
    rl, rg = sat.at(sat.rl, high.p_valve), sat.at(sat.rg, high.p_valve)
    hl, hg = sat.at(sat.hl, high.p_valve), sat.at(sat.hg, high.p_valve)
    quality = np.maximum((high.h_liquid - hl) / (hg - hl), 0.0)
    rho = rl / (1.0 + u.flash_slip * quality * (rl / rg - 1.0))
    drop = _bent(high.p_valve - low.p_evaporator, 2e4)
    # The bubble point here is that of the pressure at the port, gas included.
    subcooling = sat.at(sat.bubble, high.p_liquid) - high.t_liquid - high.lost_subcooling
    tube = (1.0 + u.orifice_subcooling * np.maximum(subcooling, 0.0)) * health.device_flow
    opening = valve_opening(u, health, x[:, 2])
    return u.valve * np.sqrt(rho * drop) * np.where(u.orifice > 0.5, tube, opening)


def mean_void(rg: F, rl: F, start: F, stop: F) -> F:
    """Mean void fraction over a linear run of quality, slip after Zivi (1964)."""
    c = (rg / rl) ** (2.0 / 3.0)
    span = np.maximum(stop - start, 1e-6)
    log = np.log((c + (1.0 - c) * (start + span)) / (c + (1.0 - c) * start))
    return 1.0 / (1.0 - c) - c / (1.0 - c) ** 2 * log / span


def _inventory(f: Fluid, u: Unit, cond: Condenser, evap: Evaporator, low: LowSide, x: F) -> F:
    """Refrigerant in the unit (kg): zone volumes times mean densities (after Rice 1987)."""
    sat, high = f.sat, cond.high
    rg, rl = sat.at(sat.rg, high.p_mean), sat.at(sat.rl, high.p_mean)
    void = mean_void(rg, rl, high.quality, np.ones_like(rg))
    first, second, third = cond.zones
    vapour = 0.85 * rg
    held = first * vapour + second * (void * rg + (1.0 - void) * rl) + third * rl * 1.02
    flash = 1.0 / (1.0 + high.quality * (rl / rg - 1.0) * 0.6)
    eg, el = sat.at(sat.rg, low.p_mean), sat.at(sat.rl, low.p_mean)
    heat = sat.at(sat.hg, low.p_mean) - sat.at(sat.hl, low.p_mean)
    inlet = np.clip((high.h_liquid - sat.at(sat.hl, low.p_mean)) / heat, 0.01, 0.9)
    wet = np.clip((evap.h_boiled - sat.at(sat.hl, low.p_mean)) / heat, 0.3, 1.0)
    space = mean_void(eg, el, inlet, wet)
    boiling = space * eg + (1.0 - space) * el
    cold = (1.0 - evap.superheating) * boiling + evap.superheating * low.rho_outlet
    return (
        u.cond_volume * held + u.liquid_volume * rl * flash + u.evap_volume * cold + u.vapour_volume * low.rho_suction
    )


# --------------------------------------------------------------------------- the whole unit


@dataclass(frozen=True)
class Cycle:
    """A state: its parts, what the equations lack, and the raw valve flow and charge."""

    low: LowSide
    compressor: Compressor
    condenser: Condenser
    evaporator: Evaporator
    valve_flow: F
    inventory: F
    lack: F = field(repr=False)


def cycle(f: Fluid, u: Unit, health: Health, weather: Weather, x: F) -> Cycle:
    """All parts at the unknowns x and the five residuals (relative)."""
    m = u.flow * np.exp(x[:, 4])
    low = _low_side(f, u, weather, x)
    high = _high_side(f, u, health, x, weather.outdoor)
    p_d = high.p_inlet + u.drop_discharge * (m / u.flow) ** 1.8
    comp = compressor(f, u, health, weather, low, p_d)
    cond = _condenser(f, u, health, weather, comp, x)
    evap = _evaporator(f, u, health, weather, low, x)
    valve = _valve_flow(f, u, health, high, low, x)
    held = _inventory(f, u, cond, evap, low, x)
    first, second, third = cond.zones
    lack = np.stack(
        [
            comp.flow / m - 1.0,
            valve / m - 1.0,
            (m * (evap.h_boiled - high.h_liquid) - evap.boiling) / (u.tons * TON),
            first + second + third - 1.0,
            held / (u.charge * health.charge) - 1.0,
        ],
        axis=1,
    )
    return Cycle(low, comp, cond, evap, valve, held, lack)


_STEP = np.array([1e-3, 1e-3, 1e-3, 1e-3, 1e-5])
_LIMIT = np.array([2.5, 3.0, 2.5, 2.5, 0.12])


def _start(u: Unit, weather: Weather) -> F:
    """A first guess from the design point."""
    te = u.te + 0.5 * (weather.wet - 19.4)
    tc = u.tc + 0.95 * (weather.outdoor - 35.0)
    return np.stack([te, tc, u.superheat, u.subcooling, np.zeros_like(te)], axis=1)


@dataclass(frozen=True)
class Bounds:
    """Where the unknowns are looked for: degC, K, least ln of the flow over the design flow."""

    te: float = -24.0
    te_under_air: float = 4.0
    tc_over_air: float = 1.5
    superheat: float = -25.0
    approach: float = 0.985
    subcooling: float = -40.0
    flow: float = -1.6


USUAL = Bounds()


def _bounded(f: Fluid, x: F, weather: Weather, bounds: Bounds) -> F:
    """The unknowns kept where the parts have a meaning."""
    te = np.clip(x[:, 0], bounds.te, weather.dry - bounds.te_under_air)
    tc = np.clip(x[:, 1], weather.outdoor + bounds.tc_over_air, f.sat.dew[-1] - 0.5)
    superheat = np.clip(x[:, 2], bounds.superheat, bounds.approach * (weather.dry - te))
    subcooling = np.clip(x[:, 3], bounds.subcooling, 120.0)
    return np.stack([te, tc, superheat, subcooling, np.clip(x[:, 4], bounds.flow, 0.7)], axis=1)


def _newton_step(f: Fluid, u: Unit, health: Health, weather: Weather, x: F, lack: F) -> F:
    """The limited Newton step, by finite differences."""
    jacobian = np.empty((len(x), 5, 5))
    for k, step in enumerate(_STEP):
        moved = x.copy()
        moved[:, k] += step
        jacobian[:, :, k] = (cycle(f, u, health, weather, moved).lack - lack) / step
    jacobian += 1e-9 * np.eye(5)
    step_found = np.linalg.solve(jacobian, -lack[:, :, None])[:, :, 0]
    scale = np.max(np.abs(step_found) / _LIMIT, axis=1, keepdims=True)
    found: F = step_found / np.maximum(scale, 1.0)
    return found


def solved(
    f: Fluid,
    u: Unit,
    health: Health,
    weather: Weather,
    steps: int = 40,
    start: F | None = None,
    bounds: Bounds = USUAL,
) -> tuple[F, NDArray[np.bool_]]:
    """The unknowns of each unit's steady state and whether they were found (residual < 1e-7).

    ``start``: where to look first; left out, the design point moved with the weather.
    """
    x = _bounded(f, _start(u, weather) if start is None else start, weather, bounds)
    size = np.full(len(x), np.inf)
    live = np.arange(len(x))
    for _ in range(steps):
        parts = u.take(live), health.take(live), weather.take(live)
        x[live], size[live] = _improved(f, *parts, x[live], bounds)
        live = np.flatnonzero(~(size < 1e-8))
        if not len(live):
            break
    return x, size < 1e-7


def _improved(f: Fluid, u: Unit, health: Health, weather: Weather, x: F, bounds: Bounds) -> tuple[F, F]:
    """One Newton step, shortened for the units whose residual would grow much."""
    with np.errstate(all="ignore"):
        lack = cycle(f, u, health, weather, x).lack
        step = _newton_step(f, u, health, weather, x, lack)
        before = np.abs(lack).max(axis=1)
        best, least = x, np.full(len(x), np.inf)
        for share in (1.0, 0.4, 0.1):
            tried = _bounded(f, x + share * step, weather, bounds)
            size = np.abs(cycle(f, u, health, weather, tried).lack).max(axis=1)
            better = (size < least) & (least > 0.9 * before)
            best, least = np.where(better[:, None], tried, best), np.where(better, size, least)
            if (least < 0.9 * before).all():
                break
    return best, least


@dataclass(frozen=True)
class Result(Columns):
    """What a state amounts to: SI, then the true readings in ``readings``.

    ``tc`` and ``subcooling`` are as gauge and clamp give them: with gas that does not condense both
    are over the refrigerant's own.
    """

    te: F
    tc: F
    superheat: F
    subcooling: F
    discharge: F
    flow: F
    gross: F
    capacity: F
    sensible: F
    power: F
    eer: F
    outdoor_power: F
    blower: F
    current: F
    supply_dry: F
    supply_wet: F
    p_suction: F
    p_liquid: F
    t_suction: F
    t_liquid: F
    airflow: F
    volts: F


def result(f: Fluid, u: Unit, health: Health, weather: Weather, x: F) -> Result:
    """What the state x amounts to: capacity (net of the blower's heat), powers, current and air leaving the unit."""
    c = cycle(f, u, health, weather, x)
    m, comp, evap, high = u.flow * np.exp(x[:, 4]), c.compressor, c.evaporator, c.condenser.high
    fan = u.fan * health.condenser_airflow**u.fan_flow_exponent
    fan = fan * weather.voltage**u.fan_voltage_exponent
    blower = u.blower * health.evaporator_airflow**u.blower_flow_exponent
    blower = blower * weather.voltage**u.fan_voltage_exponent
    gross = m * (c.low.h_outlet - high.h_liquid)
    net = gross - blower
    w = ratio_from_wet_bulb(weather.dry, weather.wet)
    supply = evap.supply_dry + blower / (evap.air * (1006.0 + 1860.0 * w))
    factor = u.power_factor + u.power_factor_slope * (comp.power / u.work - 1.0)
    factor = np.clip(factor - 0.6 * (weather.voltage - 1.0), 0.6, 0.995)
    volts = 230.0 * weather.voltage
    total = comp.power + fan + blower
    sat, low = f.sat, c.low
    return Result(
        te=sat.at(sat.dew, low.p_suction),
        tc=sat.at(sat.bubble, high.p_liquid),
        superheat=low.t_suction - sat.at(sat.dew, low.p_suction),
        subcooling=sat.at(sat.bubble, high.p_liquid) - high.t_liquid,
        discharge=comp.t_discharge,
        flow=m,
        gross=gross,
        capacity=net,
        sensible=(evap.sensible - blower) / net,
        power=total,
        eer=net / total / BTU_PER_HOUR,
        outdoor_power=comp.power + fan,
        blower=blower,
        current=comp.power / (volts * factor),
        supply_dry=supply,
        supply_wet=wet_bulb(supply, evap.supply_ratio),
        p_suction=low.p_suction,
        p_liquid=high.p_liquid,
        t_suction=low.t_suction,
        t_liquid=high.t_liquid,
        airflow=u.cfm_per_ton * u.tons * health.evaporator_airflow,
        volts=volts,
    )


def states(f: Fluid, u: Unit, health: Health, weather: Weather) -> tuple[Result, NDArray[np.bool_]]:
    """The steady states and which of them are found and sensible."""
    x, ok = solved(f, u, health, weather)
    with np.errstate(all="ignore"):
        r = result(f, u, health, weather, x)
        ok &= (r.gross > 0) & (r.te > -20.0) & (r.discharge < 140.0) & np.isfinite(r.eer)
    return r, ok


def _fahrenheit(t: F) -> F:
    return t * 1.8 + 32.0


def true_readings(r: Result, weather: Weather) -> dict[str, F]:
    """The readings of the states without any error (imperial units, columns)."""
    return {
        "suction_pressure": (r.p_suction - ATMOSPHERE) / PSI,
        "liquid_pressure": (r.p_liquid - ATMOSPHERE) / PSI,
        "suction_line_temperature": _fahrenheit(r.t_suction),
        "liquid_line_temperature": _fahrenheit(r.t_liquid),
        "discharge_line_temperature": _fahrenheit(r.discharge),
        "outdoor_air_dry_bulb": _fahrenheit(weather.outdoor),
        "return_air_dry_bulb": _fahrenheit(weather.dry),
        "return_air_wet_bulb": _fahrenheit(weather.wet),
        "supply_air_dry_bulb": _fahrenheit(r.supply_dry),
        "supply_air_wet_bulb": _fahrenheit(r.supply_wet),
        "airflow": r.airflow,
        "outdoor_unit_power": r.outdoor_power,
        "indoor_unit_power": r.blower,
        "line_voltage": r.volts,
        "compressor_common_current": r.current,
    }


# --------------------------------------------------------------------------- pairs

NULL = "null"
CHANGES = (
    "condenser_conductance",
    "evaporator_airflow",
    "charge",
    "compressor_volumetric",
    "compressor_isentropic",
)
MORE_CHANGES = ("condenser_airflow", "evaporator_conductance")
KINDS = (NULL, *CHANGES, *MORE_CHANGES)
# Columns of Health that change in ``simulated_visits`` only.
VISIT_COLUMNS = ("liquid_line_drop", "device_flow", "non_condensable")


@dataclass(frozen=True)
class Pair:
    """Two visits: the truth, the readings as shown (imperial) and the same without errors.

    ``changed_true`` are the readings, without errors, of the unit after its change in the weather of the
    visit before.
    """

    truth: dict[str, float | str]
    unit: dict[str, float | str]
    before: dict[str, float]
    after: dict[str, float]
    before_true: dict[str, float]
    after_true: dict[str, float]
    changed_true: dict[str, float]


class Pairs(list[Pair]):
    """Pairs, and how many draws were left out because a state was not found or not sensible."""

    skipped: int = 0
    unfit: int = 0


def draw_weather(rng: np.random.Generator, count: int, gap: float) -> tuple[Weather, Weather]:
    """Weather of the visit before and of the one after (outdoors within +- gap K)."""
    outdoor, dry = rng.uniform(24.0, 42.0, count), rng.uniform(22.0, 28.0, count)
    humidity = rng.uniform(0.40, 0.65, count)
    wet = wet_bulb(dry, ratio_from_humidity(dry, humidity))
    before = Weather(outdoor, dry, wet, rng.uniform(0.98, 1.02, count))
    later = np.clip(outdoor + rng.uniform(-gap, gap, count), 20.0, 46.0)
    dry_later = dry + rng.uniform(-2.0, 2.0, count)
    driest, wettest = (wet_bulb(dry_later, ratio_from_humidity(dry_later, np.full(count, h))) for h in (0.3, 0.8))
    wet_later = np.clip(wet + rng.uniform(-2.0, 2.0, count), driest, wettest)
    return before, Weather(later, dry_later, wet_later, rng.uniform(0.98, 1.02, count))


def plausible(design: Result) -> NDArray[np.bool_]:
    """Which units make sense as designed: EER in Btu/(W h) and sensible share at rating."""
    found: NDArray[np.bool_] = (design.eer > 9.0) & (design.eer < 13.0)
    return found & (design.sensible > 0.62) & (design.sensible < 0.88)


def _background(rng: np.random.Generator, count: int) -> Health:
    """Units of some age: each part about sound, in a fifth of the cases clearly faulty.

    Lines and metering device are sound and the refrigerant is pure (``VISIT_COLUMNS``): recorded
    figures rest on the draws of the others.
    """
    found = {}
    for column in fields(Health):
        if column.name in VISIT_COLUMNS:
            continue
        low, high = (0.78, 1.12) if column.name == "charge" else (0.75, 1.0)
        faulty = rng.uniform(low, high, count)
        slight = rng.uniform(0.96, 1.02, count)
        found[column.name] = np.where(rng.random(count) < 0.2, faulty, slight)
    return replace(Health.sound(count), **found)


def _changed(rng: np.random.Generator, base: Health, kind: str, size: tuple[float, float]) -> tuple[Health, Health, F]:
    """Health before and after and after's factor over before's, half of them improvements."""
    count = len(base.charge)
    if kind == NULL:
        return base, base, np.ones(count)
    better = rng.uniform(0.97, 1.03, count)
    change = rng.uniform(*size, count)
    worse = better * (1.0 - change)
    if kind == "charge":
        over = (rng.random(count) < 0.35) & (change < 0.25)
        worse = np.where(over, better * (1.0 + change), worse)
        worse = np.clip(worse, 0.7, 1.25)
    improved = rng.random(count) < 0.5
    first, second = np.where(improved, worse, better), np.where(improved, better, worse)
    return replace(base, **{kind: first}), replace(base, **{kind: second}), second / first


@dataclass(frozen=True)
class _Chunk:
    """The states of a chunk of draws: before, after, after's health in before's weather, rating."""

    unit: Unit
    factor: F
    healths: tuple[Health, Health]
    weathers: tuple[Weather, Weather]
    before: Result
    after: Result
    moved: Result
    rated: tuple[Result, Result, Result]
    fit: NDArray[np.bool_]
    ok: NDArray[np.bool_]


@dataclass(frozen=True)
class Population:
    """What pairs are drawn from: refrigerant, metering device ("expansion_valve", "fixed_orifice" or None for
    either), K outdoors between the visits, range of the change of the factor, units drawn at once."""

    refrigerant: str = "R-410A"
    metering: str | None = None
    weather_gap: float = 5.0
    size: tuple[float, float] = (0.01, 0.40)
    chunk: int = 128


USUAL_POPULATION = Population()


def _chunk(rng: np.random.Generator, f: Fluid, kind: str, population: Population) -> _Chunk:
    """Draw units, healths and weathers and solve all states of them."""
    count = population.chunk
    unit, fit = draw_units(f, count, rng, population.metering)
    first, second, factor = _changed(rng, _background(rng, count), kind, population.size)
    before, after = draw_weather(rng, count, population.weather_gap)
    rating, sound = Weather.rating(count), Health.sound(count)
    asked = (
        (first, before),
        (second, after),
        (second, before),
        (first, rating),
        (second, rating),
        (sound, rating),
    )
    found = [states(f, unit, health, weather) for health, weather in asked]
    design = found[-1][0]
    fit = fit & found[-1][1] & plausible(design)
    ok = np.logical_and.reduce([o for _, o in found])
    return _Chunk(
        unit,
        factor,
        (first, second),
        (before, after),
        found[0][0],
        found[1][0],
        found[2][0],
        (found[3][0], found[4][0], design),
        fit,
        ok,
    )


def _ratios(first: Result, second: Result, k: int, end: str) -> dict[str, float | str]:
    """ln ratios second/first of EER, net capacity and total power."""
    return {
        f"ln_{name}{end}": float(np.log(getattr(second, name)[k] / getattr(first, name)[k]))
        for name in ("eer", "capacity", "power")
    }


def _truth(c: _Chunk, k: int, kind: str) -> dict[str, float | str]:
    """The truth of pair k."""
    found: dict[str, float | str] = {"kind": kind, "factor": float(c.factor[k])}
    found |= _ratios(c.before, c.moved, k, "")
    found |= _ratios(c.rated[0], c.rated[1], k, "_rating")
    for when, health, weather, r in zip(("before", "after"), c.healths, c.weathers, (c.before, c.after), strict=True):
        for x in fields(Weather):
            found[f"{x.name}_{when}"] = float(getattr(weather, x.name)[k])
        for x in fields(Health):
            found[f"{x.name}_{when}"] = float(getattr(health, x.name)[k])
        for name in ("te", "tc", "superheat", "subcooling", "capacity", "power", "eer", "sensible"):
            found[f"state_{name}_{when}"] = float(getattr(r, name)[k])
    return found


def described(unit: Unit, design: Result, k: int, refrigerant: str) -> dict[str, float | str]:
    """What a nameplate would tell of unit k: refrigerant, metering device, rated capacity and EER.

    ``design`` are the states as designed at rating conditions.
    """
    valve = "fixed_orifice" if unit.orifice[k] > 0.5 else "thermostatic_expansion_valve"
    return {
        "refrigerant": refrigerant,
        "metering_device": valve,
        "rated_capacity": float(round(design.capacity[k] / BTU_PER_HOUR / 500.0) * 500.0),
        "rated_eer": round(float(design.eer[k]), 1),
        "design_superheat": float(1.8 * design.superheat[k]),
        "design_subcooling": float(1.8 * design.subcooling[k]),
        "voltage": 230.0,
    }


def read_visits(true: Iterable[Mapping[str, float]], kit: Kit, rng: np.random.Generator) -> list[dict[str, float]]:
    """What one kit shows at several visits (imperial): calibration errors shared, the rest new."""
    names = provided(kit, by_current=bool(rng.random() < kit.current_share))
    shared = _calibrations(kit, rng)
    return [measured(t, kit, shared, rng, names) for t in true]


def _pair(c: _Chunk, k: int, kind: str, refrigerant: str, kit: Kit | None, rng: np.random.Generator) -> Pair:
    """Pair k of the chunk, as read with the kit (None: without errors)."""
    one = slice(k, k + 1)
    results = (c.before.take(one), c.after.take(one))
    true = [
        {name: float(v[0]) for name, v in true_readings(r, w.take(one)).items()}
        for r, w in zip(results, c.weathers, strict=True)
    ]
    truth, unit = _truth(c, k, kind), described(c.unit, c.rated[2], k, refrigerant)
    changed = {name: float(v[0]) for name, v in true_readings(c.moved.take(one), c.weathers[0].take(one)).items()}
    if kit is None:
        return Pair(truth, unit, dict(true[0]), dict(true[1]), true[0], true[1], changed)
    shown = read_visits(true, kit, rng)
    return Pair(truth, unit, shown[0], shown[1], true[0], true[1], changed)


def pairs(
    count: int,
    seed: int = 0,
    kind: str = NULL,
    kit: str | Kit | None = "ordinary",
    population: Population = USUAL_POPULATION,
) -> Pairs:
    """Pairs of visits to units drawn at random.

    ``kind`` one of KINDS; ``kit`` a name of KITS, a Kit, or None for readings without errors.  The same
    seed, kind and population give the same units, weather and truth whatever the kit.
    """
    refrigerant = population.refrigerant
    f, instruments, found = fluid_of(refrigerant), None if kit is None else kit_of(kit), Pairs()
    number = 0
    while len(found) < count:
        key = [seed, KINDS.index(kind), number]
        c = _chunk(np.random.default_rng(key), f, kind, population)
        noise = np.random.default_rng([*key, 1])
        for k in np.flatnonzero(c.fit & c.ok):
            if len(found) < count:
                found.append(_pair(c, int(k), kind, refrigerant, instruments, noise))
        found.unfit += int((~c.fit).sum())
        found.skipped += int((c.fit & ~c.ok).sum())
        number += 1
    return found


_INSTRUMENTS = {
    "gauges": {"type": "pressure_transducer"},
    "clamps": {"type": "thermistor_pipe_clamp"},
    "air": {"type": "psychrometer"},
    "clamp meter": {"type": "clamp_meter"},
    "power meter": {"type": "power_meter"},
    "hood": {"type": "airflow_hood"},
}


def request(pair: Pair, visit: str = "before") -> dict[str, Any]:
    """The request for one visit ("before" or "after") of a pair."""
    readings: dict[str, Any] = dict(pair.before if visit == "before" else pair.after)
    for name in (*DRY_BULBS, *WET_BULBS):
        readings[name] = {"value": readings[name], "instrument": "air"}
    for name in ("line_voltage", CURRENT):
        if name in readings:
            readings[name] = {"value": readings[name], "instrument": "clamp meter"}
    rated = {"cooling_capacity": pair.unit["rated_capacity"], "eer": pair.unit["rated_eer"]}
    return {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": {
            "refrigerant": pair.unit["refrigerant"],
            "metering_device": pair.unit["metering_device"],
            "rated": rated,
            "nameplate": {"voltage": 230, "frequency": 60},
        },
        "kit": _INSTRUMENTS,
        "run": {"minutes_running": 20, "readings": readings},
    }


# --------------------------------------------------------------------------- sanity table


def _row(name: str, r: Result, base: Result) -> str:
    """One line of the table: differences of temperatures (K), per cent of flows."""
    kelvins = [float(getattr(r, n)[0] - getattr(base, n)[0]) for n in _TABLE[:5]]
    percents = [100.0 * float(getattr(r, n)[0] / getattr(base, n)[0] - 1.0) for n in _TABLE[5:]]
    return f"{name:34s}" + "".join(f"{v:9.2f}" for v in (*kelvins, *percents))


_TABLE = ("te", "tc", "superheat", "subcooling", "discharge", "capacity", "power", "eer")


_TABLE_SIZES: Mapping[str, tuple[float, ...]] = {
    "charge": (-0.1, -0.2, -0.3, 0.1, 0.2),
    "liquid_line_drop": (1.0, 4.0, 9.0, 14.0, 19.0, 29.0),
    "device_flow": (-0.0871, -0.2, -0.3, -0.4, 0.1, 0.2, 0.3, 0.4),
    "non_condensable": (0.014, 0.05, 0.1, 0.2),
}


def _table_of(f: Fluid, metering: str) -> None:
    """Print the faults and slopes of the middle unit with this metering device."""
    unit, _ = draw_units(f, 1, None, metering)
    sound, rating = Health.sound(1), Weather.rating(1)
    base, _ = states(f, unit, sound, rating)
    values = "".join(f"{float(getattr(base, n)[0]):9.2f}" for n in _TABLE)
    print(f"\n{metering}: changes in K and per cent\n{'':34s}" + "".join(f"{n:>9s}" for n in _TABLE))
    print(f"{'as designed (degC, K, W)':34s}{values}  SHR {base.sensible[0]:.3f}")
    for x in fields(Health):
        for change in _TABLE_SIZES.get(x.name, (-0.1, -0.2, -0.3)):
            health = replace(sound, **{x.name: np.array([1.0 + change])})
            r, ok = states(f, unit, health, rating)
            mark = "" if ok[0] else "  NOT FOUND"
            print(_row(f"{x.name} {change:+.0%}", r, base) + mark)
    for name, step in (("outdoor", 1.0), ("wet", 1.0), ("dry", 1.0), ("voltage", 0.02)):
        moved = replace(rating, **{name: getattr(rating, name) + step})
        print(_row(f"weather: {name} {step:+.2f}", states(f, unit, sound, moved)[0], base))


def _speed(seed: int) -> None:
    """Print how many pairs a second and how many draws were left out, for each kind."""
    for kind in KINDS:
        start = time.perf_counter()
        made = pairs(100, seed, kind)
        rate = len(made) / (time.perf_counter() - start)
        eer = np.array([float(p.truth["ln_eer"]) for p in made])
        print(
            f"{kind:24s}{rate:7.1f} pairs/s, unfit {made.unfit}, skipped {made.skipped}, "
            f"ln EER {eer.min():+.3f}..{eer.max():+.3f}"
        )


def main(refrigerant: str = "R-410A") -> None:
    """Print the sanity tables."""
    f = fluid_of(refrigerant)
    for metering in ("expansion_valve", "fixed_orifice"):
        _table_of(f, metering)
    print()
    _speed(0)


if __name__ == "__main__":
    main(*sys.argv[1:2])
