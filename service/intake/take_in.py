"""From the request to SI: readings become draws with structured instrument errors.

Units, gauge or absolute pressure, and instruments are settled here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest, Nameplate
from schemas.quantities import Model
from schemas.readings import READING_GROUPS, READINGS, ReadingSpec
from service.intake.kit import SLOTS, kit_of
from service.intake.paths import (
    CURVES,
    DUCTLESS,
    EFFICIENCIES,
    LINE_SET,
    MODEL,
    MOTORS,
    NAMEPLATE,
    PHASES,
    RATED,
    READING,
    SITE_PRESSURE,
    USAGE,
)
from service.intake.refusals import Refusal, RefusedError, pointer
from service.intake.visit import BlowerTable, PresumedPlate, Scatter, UsedInstrument, Visit
from service.physics.compressor import ten_coefficients
from service.physics.moist_air import standard_atmosphere_pressure
from service.physics.refrigerant import SaturationCurves, saturation_curves
from service.physics.refrigerant_enthalpy import single_phase
from service.reference.conditions import (
    CAPACITOR_TOLERANCE,
    DUAL_VOLTAGES,
    RATED_AIRFLOW_RANGE,
    RATED_CAPACITY_RANGE,
    ZERO_ALLOWANCE,
)
from service.reference.performance_maps import PERFORMANCE_MAPS
from service.reference.placements import PLACEMENTS
from service.reference.refrigerants import (
    REFRIGERANTS,
    designation_of,
    near_designations,
    reason_not_carried,
)
from service.reference.site import (
    ALTITUDE_RANGE,
    BAROMETRIC_RANGE,
    STANDARD_PRESSURE,
    WEATHER_PRESSURE_DEVIATION,
)
from service.reference.units import KINDS, conversion, system_unit
from service.uncertainty.error_terms import (
    ErrorTerm,
    refrigerant_dimension,
    site_pressure_dimension,
)
from service.uncertainty.low_discrepancy import sample
from service.uncertainty.repeats import Repeats, averaged, is_unsteady, repeats_of

FloatArray = NDArray[np.float64]

WEATHER = "site: air pressure"
PROPERTIES = "refrigerant: property model"


class Shown(NamedTuple):
    """One number that an instrument showed: in SI, as given, and its JSON Pointer."""

    value: float
    given: float
    where: str


class Taken(NamedTuple):
    """A reading taken once or several times: its value (the mean) in SI and all that was shown."""

    value: float
    shown: tuple[Shown, ...]
    repeats: Repeats | None = None


@dataclass(frozen=True, slots=True)
class CompressorTable:
    """A compressor's map, asked in SI."""

    coefficients: tuple[float, ...]
    scale: float
    temperature_unit: str
    superheat: float | None
    temperature: float | None

    def mass_flow(self, evaporating: FloatArray, condensing: FloatArray) -> FloatArray:
        """Mass flow [kg/s] at suction and discharge dew temperatures [K]."""
        unit = conversion("temperature", self.temperature_unit)
        suction, discharge = (
            (value - unit.offset) / unit.scale for value in (evaporating, condensing)
        )
        return self.scale * ten_coefficients(self.coefficients, suction, discharge)

    def suction_temperature(self, evaporating: FloatArray) -> FloatArray:
        """Temperature [K] of the suction gas for which the map holds."""
        if self.superheat is not None:
            return evaporating + self.superheat
        return np.full_like(evaporating, self.temperature)


@dataclass(frozen=True, slots=True)
class _OffGauge:
    """From gauge pressures [Pa] at sea level to the saturation temperatures [K] printed next to them."""

    curves: SaturationCurves
    dew: bool

    def __call__(self, pressure: FloatArray) -> FloatArray:
        to_temperature = self.curves.dew_temperature if self.dew else self.curves.bubble_temperature
        return to_temperature(pressure + STANDARD_PRESSURE)


def take_in(
    request: AssessmentRequest,
    *,
    compared: bool = False,
    planned: Mapping[str, int] | None = None,
) -> Visit:
    """Settle units, instruments and errors of a request.

    For a visit that is ``compared`` with another, errors that instruments of the kit carry from visit to
    visit are kept apart from those that are new each time.  ``planned`` are numbers of repeats of readings
    that are not made yet.

    Raises
    ------
    RefusedError
        If a reading is impossible, an instrument unknown or ambiguous, or a unit does not fit.
    """
    visit = Visit(request.units, sample(request.options.draws), compared=compared)
    visit.planned = planned or {}
    intake = _Intake(request, visit)
    intake.run()
    if intake.refusals:
        raise RefusedError(intake.refusals)
    return visit


def given_readings(request: AssessmentRequest) -> Iterator[tuple[ReadingSpec, Any, str]]:
    """The readings that were given: their row, the value as given, their JSON Pointer."""
    readings = request.run.readings
    for name in readings.model_fields_set:
        value = getattr(readings, name)
        if value is None:
            continue
        if name in READING_GROUPS:
            for part in value.model_fields_set:
                inner = getattr(value, part)
                if inner is not None:
                    yield READINGS[f"{name}.{part}"], inner, _where(name, part)
        else:
            yield READINGS[name], value, _where(name)


class _Intake:
    def __init__(self, request: AssessmentRequest, visit: Visit) -> None:
        self.request = request
        self.visit = visit
        self.refusals: list[Refusal] = []
        self.kit = kit_of(request.kit, visit.system, compared=visit.compared)

    def run(self) -> None:
        self.refusals += self.kit.refusals()
        self._unit()
        self._site()
        given = sorted(given_readings(self.request), key=lambda item: SLOTS[item[0].name])
        for spec, value, where in given:
            self._reading(spec, value, where)
        self._placements()
        for name in self.kit.instruments:
            shown = self.request.kit[name].open_to_air_reading
            if shown is not None:
                self._open_to_air(name, shown)

    # ------------------------------------------------------------ unit and site

    def _unit(self) -> None:
        unit, visit = self.request.unit, self.visit
        if unit.refrigerant is not None:
            designation = designation_of(unit.refrigerant)
            if designation is None:
                near = ", ".join(near_designations(unit.refrigerant))
                known = reason_not_carried(unit.refrigerant)
                self.refusals.append(
                    Refusal(
                        pointer("unit", "refrigerant"),
                        unit.refrigerant,
                        "one of " + ", ".join(REFRIGERANTS),
                        f"is not supported: {known}" if known else "is not in the catalogue",
                        f"Did you mean {near}? GET /v1/refrigerants lists them all."
                        if near
                        else "GET /v1/refrigerants lists them all.",
                    )
                )
            else:
                visit.refrigerant = REFRIGERANTS[designation]
                self._constant(CURVES, saturation_curves(designation), "unit.refrigerant")
                self._constant(PHASES, single_phase(designation), "unit.refrigerant")
                term = ErrorTerm(
                    refrigerant_dimension(), "normal", visit.refrigerant.model_uncertainty, True
                )
                self.visit.register(
                    MODEL, 0.0, (term,), PROPERTIES, ("unit.refrigerant",), lasting=0
                )
        self._ratings()
        plate = unit.nameplate
        visit.phases = self._phases()
        self._constant("unit.nameplate.phases", float(visit.phases))
        if plate is None:
            return
        for name in (
            "voltage",
            "frequency",
            "compressor_rated_load_amps",
            "outdoor_fan_full_load_amps",
            "indoor_blower_full_load_amps",
        ):
            value = getattr(plate, name)
            if value is not None:
                self._constant(f"unit.nameplate.{name}", float(value))
        self._plain("unit.nameplate.subcooling", plate.subcooling, "temperature_difference")
        self._plain(
            "unit.nameplate.maximum_external_static_pressure",
            plate.maximum_external_static_pressure,
            "static_pressure",
        )
        self._allowed_voltage(plate)
        if plate.nominal_supply_voltage is not None and plate.frequency != 50:
            self._constant("unit.nameplate.nominal_supply_voltage", plate.nominal_supply_voltage)
        if plate.capacitors is not None:
            for motor in MOTORS:
                part = getattr(plate.capacitors, motor)
                if part is None:
                    continue
                path = f"unit.nameplate.capacitors.{motor}"
                tolerance = (
                    CAPACITOR_TOLERANCE
                    if part.tolerance_percent is None
                    else part.tolerance_percent
                )
                rated = part.microfarads * 1e-6
                self._constant(f"{path}.microfarads", rated)
                self._constant(f"{path}.lowest", rated * (1 - tolerance / 100), path)
                self._constant(f"{path}.highest", rated * (1 + tolerance / 100), path)

    def _allowed_voltage(self, plate: Nameplate) -> None:
        """The voltages that the nameplate allows: as stated, else from its rated voltage."""
        lowest, highest = plate.lowest_voltage, plate.highest_voltage
        if plate.voltage is not None:
            lowest = self._lowest_of_dual(plate) if lowest is None else lowest
            lowest = 0.9 * plate.voltage if lowest is None else lowest
            highest = 1.1 * plate.voltage if highest is None else highest
        for name, value in (("lowest_voltage", lowest), ("highest_voltage", highest)):
            if value is not None:
                self._constant(f"{NAMEPLATE}{name}", value, f"{NAMEPLATE}voltage")

    def _lowest_of_dual(self, plate: Nameplate) -> float | None:
        """Lower end of a dual-voltage plate, where the supply shows that only the higher voltage was entered."""
        assert plate.voltage is not None
        dual = next((row for row in DUAL_VOLTAGES if row.higher == plate.voltage), None)
        if dual is None or plate.frequency not in (None, dual.frequency):
            return None
        nominal, (low, high) = plate.nominal_supply_voltage, dual.supply
        if nominal is not None and low <= nominal <= high:
            self.visit.presumed_plate = PresumedPlate(dual, "unit.nameplate.nominal_supply_voltage")
        elif (lines := list(self._line_voltages())) and all(low <= v <= high for v in lines):
            self.visit.presumed_plate = PresumedPlate(dual, READING + "line_voltage")
        else:
            return None
        return dual.lowest

    def _line_voltages(self) -> Iterator[float]:
        """Line voltages as given [V], before any of them is taken in."""
        readings = vars(self.request.run.readings)
        lines = readings["line_voltages"]
        for given in (readings["line_voltage"], *(() if lines is None else vars(lines).values())):
            if given is not None:
                yield self._taken(given, "voltage", "").value

    def _ratings(self) -> None:
        """Rated performance, maps and tables of the unit, and what the run states besides readings."""
        unit, run, usage = self.request.unit, self.request.run, self.request.usage
        if unit.rated is not None:
            for name, kind, limits in (
                ("cooling_capacity", "heat_flow", RATED_CAPACITY_RANGE),
                ("airflow", "airflow", RATED_AIRFLOW_RANGE),
            ):
                self._rating(name, getattr(unit.rated, name), kind, limits)
            scale = conversion("efficiency", "Btu/(W h)").scale
            for name in EFFICIENCIES:
                given = getattr(unit.rated, name)
                if given is not None:
                    self._constant(RATED + name, given * scale)
        if not unit.ducted:
            self._constant(DUCTLESS, True, "unit.ducted")
        if unit.line_set is not None:
            self._plain(LINE_SET + "length", unit.line_set.length, "length")
            if unit.line_set.insulated is not None:
                self._constant(LINE_SET + "insulated", unit.line_set.insulated)
        if unit.capacity_control in PERFORMANCE_MAPS:
            self._constant("unit.performance_map", PERFORMANCE_MAPS[unit.capacity_control],
                           "unit.capacity_control")  # fmt: skip
        for part in ("coil", "filter"):
            point = getattr(unit, f"{part}_pressure_drop_rating")
            path = f"unit.{part}_pressure_drop_rating"
            if point is not None:
                pair = (
                    self._to_si(point.pressure_drop, "static_pressure"),
                    self._to_si(point.airflow, "airflow"),
                )
                if self._all_positive(pair, path):
                    self._constant(path, pair)
        if unit.indoor_unit == "furnace_with_coil":
            self._constant("unit.coil_is_external", True, "unit.indoor_unit")
        if unit.indoor_unit is not None:
            self._constant("unit.filter_is_external", True, "unit.indoor_unit")
        if unit.furnace_efficiency is not None:
            self._constant("unit.furnace_efficiency", unit.furnace_efficiency)
        self._blower_table()
        self._compressor_map()
        if run.airflow_measured_at == "supply":
            self._constant("run.airflow_measured_at_supply", True, "run.airflow_measured_at")
        if run.heat_test_at_cooling_speed:
            self._constant("run.heat_test_at_cooling_speed", True)
        if usage.cooling_hours is not None:
            self._constant(USAGE + "cooling_hours", usage.cooling_hours * 3600.0)
        if usage.energy_price is not None:
            self._constant(USAGE + "energy_price", usage.energy_price / 3.6e6)

    def _rating(self, name: str, given: Any, kind: str, limits: tuple[float, float]) -> None:  # noqa: ANN401
        if given is None:
            return
        value = self._to_si(given, kind)
        if self._inside(value, limits, kind, pointer("unit", "rated", name), given):
            self._constant(RATED + name, value)

    def _all_positive(self, values: tuple[float, ...], path: str) -> bool:
        if all(value > 0.0 for value in values):
            return True
        self.refusals.append(
            Refusal(
                pointer(*path.split(".")), None, "above zero", "is zero or negative",
                "Correct it, or leave it out.",
            )
        )  # fmt: skip
        return False

    def _blower_table(self) -> None:
        rows = self.request.unit.blower_table
        if rows is None:
            return
        pressures = [self._to_si(row.external_static_pressure, "static_pressure") for row in rows]
        airflows = [self._to_si(row.airflow, "airflow") for row in rows]
        if any(after <= before for before, after in pairwise(pressures)):
            self.refusals.append(
                Refusal(
                    pointer("unit", "blower_table"), None, "rows in ascending order of static pressure",
                    "is not in ascending order of static pressure",
                    "Sort the rows, and give each pressure once.",
                )
            )  # fmt: skip
        elif self._all_positive(tuple(airflows), "unit.blower_table"):
            self._constant("unit.blower_table", BlowerTable(tuple(pressures), tuple(airflows)))

    def _compressor_map(self) -> None:
        given = self.request.unit.compressor_map
        if given is None:
            return
        if (given.suction_superheat is None) == (given.suction_temperature is None):
            self.refusals.append(
                Refusal(
                    pointer("unit", "compressor_map"), None,
                    "one of suction_superheat and suction_temperature",
                    "must state the suction gas of the map in exactly one way",
                    "Give the one that the compressor's data sheet states.",
                )
            )  # fmt: skip
            return
        superheat, temperature = (
            None if value is None else self._to_si(value, kind)
            for value, kind in (
                (given.suction_superheat, "temperature_difference"),
                (given.suction_temperature, "temperature"),
            )
        )
        self._constant(
            "unit.compressor_map",
            CompressorTable(
                tuple(given.mass_flow),
                conversion("mass_flow", given.mass_flow_unit).scale,
                given.temperature_unit,
                superheat,
                temperature,
            ),
        )

    def _phases(self) -> int:
        """As stated, else as the readings show."""
        plate, readings = self.request.unit.nameplate, self.request.run.readings
        stated = plate.phases if plate is not None else None
        groups = [
            name
            for name in ("line_voltages", "compressor_line_currents")
            if getattr(readings, name) is not None
        ]
        if stated == 1 and groups:
            self.refusals.append(
                Refusal(
                    pointer("unit", "nameplate", "phases"), 1, "3, or no value",
                    f"contradicts {groups[0]}, which belongs to a three-phase unit",
                    "Correct the number of phases, or give line_voltage and "
                    "compressor_common_current instead.",
                )
            )  # fmt: skip
        return stated or (3 if groups else 1)

    def _constant(self, path: str, value: object, shown: str | None = None) -> None:
        self.visit.leaves[path] = value
        self.visit.depends[path] = (shown or path,)

    def _plain(self, path: str, given: Any, kind: str) -> None:  # noqa: ANN401
        if given is not None:
            self._constant(path, self._to_si(given, kind))

    def _to_si(self, given: Any, kind: str) -> float:  # noqa: ANN401
        if isinstance(given, Model):
            symbol = given.unit or system_unit(kind, self.visit.system)  # type: ignore[attr-defined]
            return conversion(kind, symbol).to_si(given.value)  # type: ignore[attr-defined]
        return conversion(kind, system_unit(kind, self.visit.system)).to_si(given)

    def _site(self) -> None:
        site, visit = self.request.site, self.visit
        stated = None
        if site.altitude is not None:
            altitude = self._to_si(site.altitude, "altitude")
            if not self._inside(
                altitude, ALTITUDE_RANGE, "altitude", pointer("site", "altitude"), site.altitude
            ):
                return
            stated = float(standard_atmosphere_pressure(altitude))
        if site.barometric_pressure is not None:
            where = pointer("site", "barometric_pressure")
            value = self._to_si(site.barometric_pressure, "absolute_pressure")
            visit.stated_altitude_pressure = stated
            if self._inside(
                value, BAROMETRIC_RANGE, "absolute_pressure", where, site.barometric_pressure
            ):
                named = getattr(site.barometric_pressure, "instrument", None)
                self._draw(
                    "barometric_pressure",
                    "absolute_pressure",
                    "absolute_pressure",
                    value,
                    named,
                    where,
                    leaf=SITE_PRESSURE,
                    shown="site.barometric_pressure",
                )
            return
        pressure, shown = STANDARD_PRESSURE, "site.altitude"
        if stated is not None:
            pressure = stated
        else:
            visit.assumed_sea_level = True
            shown = "assumed: sea level"
        term = ErrorTerm(site_pressure_dimension(), "normal", WEATHER_PRESSURE_DEVIATION)
        self.visit.register(SITE_PRESSURE, pressure, (term,), WEATHER, (shown,))

    # ------------------------------------------------------------ readings

    def _reading(self, spec: ReadingSpec, given: Any, where: str) -> None:  # noqa: ANN401
        taken = self._taken(given, spec.kind, where)
        low, high = _possible(spec)
        absolute = self._is_absolute(spec, given, where)
        if absolute is None:
            return
        if absolute:
            low, high = low + STANDARD_PRESSURE, high + STANDARD_PRESSURE
        # Every repeat out of range is named, not only the first.
        refused = [
            one
            for one in taken.shown
            if not (
                low <= one.value <= high
                or self._inside(one.value, (low, high), spec.kind, one.where, given, one.given)
            )
        ]
        if refused:
            return
        named = getattr(given, "instrument", None)
        self.visit.readings[spec.name] = taken.value
        if spec.kind == "pressure":
            self._pressure(spec, taken, named, where, absolute=absolute)
        elif spec.measured_as == "pressure":
            self._saturation_temperature(spec, taken, named, where)
        else:
            self._draw(
                spec.name, spec.kind, spec.measured_as, taken.value, named, where,
                repeats=taken.repeats,
            )  # fmt: skip

    def _taken(self, given: Any, kind: str, where: str) -> Taken:  # noqa: ANN401
        if isinstance(given, float):
            symbol = system_unit(kind, self.visit.system)
            value = conversion(kind, symbol).to_si(given)
            return Taken(value, (Shown(value, given, where),))
        symbol = getattr(given, "unit", None) or system_unit(kind, self.visit.system)
        to_si = conversion(kind, symbol).to_si
        numbers, at = _repeats_given(given, where)
        if numbers is None:
            number = self._display(given)
            value = to_si(number)
            return Taken(value, (Shown(value, number, where),))
        shown = tuple(
            Shown(to_si(number), number, f"{at}/{index}") for index, number in enumerate(numbers)
        )
        repeats = repeats_of([one.value for one in shown])
        return Taken(repeats.mean, shown, repeats)

    def _is_absolute(self, spec: ReadingSpec, given: Any, where: str) -> bool | None:  # noqa: ANN401
        """Whether a pressure is absolute; None where unit and reference contradict each other."""
        if spec.kind != "pressure" or not isinstance(given, Model):
            return False
        symbol, reference = given.unit, given.reference  # type: ignore[attr-defined]
        said = {"psia": "absolute", "psig": "gauge"}.get(symbol or "")
        if said is not None and reference not in (None, said):
            self.refusals.append(
                Refusal(
                    f"{where}/reference", reference, said,
                    f"contradicts the unit {symbol}, which is {said}",
                    "Give the unit psi with a reference, or psig or psia without one.",
                )
            )  # fmt: skip
            return None
        return (reference or said) == "absolute"

    def _pressure(
        self, spec: ReadingSpec, taken: Taken, named: str | None, where: str, *, absolute: bool
    ) -> None:
        """Gauge readings are kept as the gauge shows them, then air pressure is added."""
        visit = self.visit
        self._draw(
            spec.name, "pressure", "pressure", taken.value, named, where, repeats=taken.repeats
        )
        leaf = READING + spec.name
        if leaf not in visit.uncertain or SITE_PRESSURE not in visit.uncertain:
            return
        air = 0.0
        if not absolute:
            air = visit.uncertain[SITE_PRESSURE].value
            visit.uncertain[leaf] = visit.uncertain[leaf]._replace(then=SITE_PRESSURE)
            visit.leaf_variables[leaf] += visit.leaf_variables[SITE_PRESSURE]
            visit.depends[leaf] += visit.depends[SITE_PRESSURE]
        for one in taken.shown:
            if one.value + air <= 0.0:
                self.refusals.append(
                    Refusal(
                        one.where, one.given, "a pressure above a perfect vacuum at this site",
                        "is below a perfect vacuum at the site's air pressure",
                        "Check the reading, its unit, and the altitude.",
                    )
                )  # fmt: skip
            else:
                self._within_curves(one.value + air, one.where, one.given)

    def _within_curves(self, nominal: float, where: str, display: float) -> None:
        curves: SaturationCurves | None = self.visit.leaves.get(CURVES)
        if curves is None:
            return
        low, high = curves.pressure_range
        if low <= nominal <= high:
            return
        symbol = system_unit("absolute_pressure", self.visit.system)
        unit = conversion("absolute_pressure", symbol)
        assert self.visit.refrigerant is not None
        self.refusals.append(
            Refusal(
                where, display,
                f"{unit.from_si(low):.4g} to {unit.from_si(high):.4g} {symbol} absolute",
                f"is {unit.from_si(nominal):.4g} {symbol} absolute, where "
                f"{self.visit.refrigerant.designation} has no saturation temperature",
                "Check the refrigerant, the unit and whether the reading is gauge or absolute.",
            )
        )  # fmt: skip

    def _saturation_temperature(
        self, spec: ReadingSpec, taken: Taken, named: str | None, where: str
    ) -> None:
        """A saturation temperature read off a gauge carries the gauge's error in pressure."""
        visit = self.visit
        curves: SaturationCurves | None = visit.leaves.get(CURVES)
        type_ = self.kit.type_of(named)
        if type_ is not None and "line_temperature" in type_.accuracies:
            self._draw(
                spec.name, "temperature", "line_temperature", taken.value, named, where,
                repeats=taken.repeats,
            )  # fmt: skip
            return
        if curves is None:
            return
        dew = spec.name.startswith("suction")
        to_pressure = curves.dew_pressure if dew else curves.bubble_pressure
        pressures = to_pressure(np.array([taken.value, *(one.value for one in taken.shown)]))
        beyond = [
            one
            for one, known in zip(taken.shown, np.isfinite(pressures[1:]), strict=True)
            if not known
        ]
        if beyond:
            low, high = curves.temperature_range
            symbol = system_unit("temperature", visit.system)
            unit = conversion("temperature", symbol)
            self.refusals.extend(
                Refusal(
                    one.where, one.given,
                    f"{unit.from_si(low):.4g} to {unit.from_si(high):.4g} {symbol}",
                    "is outside the saturation curve of the refrigerant",
                    "Check the refrigerant and the unit.",
                )
                for one in beyond
            )  # fmt: skip
            return
        # The gauge's needle scatters in pressure, whatever scale is read.
        repeats = None if taken.repeats is None else repeats_of(pressures[1:].tolist())
        self._draw(
            spec.name, "pressure", "pressure", float(pressures[0]) - STANDARD_PRESSURE, named, where,
            repeats=repeats,
        )  # fmt: skip
        leaf = READING + spec.name
        if leaf in visit.uncertain:
            visit.uncertain[leaf] = visit.uncertain[leaf]._replace(
                then=_OffGauge(curves, dew=dew), shown=taken.value
            )

    def _display(self, given: Any) -> float:  # noqa: ANN401
        return float(getattr(given, "value", given))

    def _inside(
        self,
        value: float,
        limits: tuple[float, float],
        kind: str,
        where: str,
        given: Any,  # noqa: ANN401
        number: float | None = None,
    ) -> bool:
        """Whether a value is possible; ``number`` is the one in question where several were given."""
        low, high = limits
        if low - 1e-9 * abs(low) <= value <= high + 1e-9 * abs(high):
            return True
        symbol = given.unit if isinstance(given, Model) else None  # type: ignore[attr-defined]
        symbol = symbol or system_unit(kind, self.visit.system)
        unit = conversion(kind, symbol)
        self.refusals.append(
            Refusal(
                where,
                self._display(given) if number is None else number,
                f"{_end(unit.from_si(low))} to {_end(unit.from_si(high))} {symbol}",
                f"is {'above' if value > high else 'below'} its possible range",
                f"Check the number and its unit (taken as {symbol}).",
            )
        )
        return False

    # ------------------------------------------------------------ instruments and errors

    def _draw(
        self,
        name: str,
        kind: str,
        measured_as: str,
        value: float,
        named: str | None,
        where: str,
        *,
        leaf: str | None = None,
        shown: str | None = None,
        repeats: Repeats | None = None,
    ) -> None:
        visit = self.visit
        sensor = self.kit.sensor(name, kind, measured_as, named, where)
        if isinstance(sensor, Refusal):
            self.refusals.append(sensor)
            return
        leaf, depends = leaf or READING + name, (shown or name,)
        planned = visit.planned.get(name, 1)
        if repeats is None and planned == 1:
            uncertainty = visit.reads(leaf, value, sensor, depends)
        else:
            errors = sensor.errors_at(value)
            if repeats is None:
                # Repeats that are to scatter by the instrument's repeatability.
                repeats = Repeats(planned, value, errors.repeatability)
            elif is_unsteady(errors, repeats):
                visit.unsteady.append(
                    Scatter(
                        name, sensor.kind, repeats.count, repeats.deviation, errors.repeatability
                    )
                )
            uncertainty = visit.register(
                leaf, value, sensor.terms(averaged(errors, repeats)), sensor.label, depends,
                lasting=sensor.lasting,
            )  # fmt: skip
        visit.instruments[name] = UsedInstrument(
            sensor.label, sensor.type, sensor.kind, uncertainty, sensor.source
        )

    def _placements(self) -> None:
        """Errors of readings from where their probes are placed; last, as they depend on other readings."""
        visit = self.visit
        for row in PLACEMENTS:
            if READING + row.reading in visit.uncertain:
                around = visit.readings.get(row.around)
                difference = row.usual if around is None else around - visit.readings[row.reading]
                visit.sits(row.reading, row.spot, difference)

    def _open_to_air(self, name: str, given: Any) -> None:  # noqa: ANN401
        errors = self.kit.open_to_air(name)
        if isinstance(errors, Refusal):
            self.refusals.append(errors)
            return
        shown = self._to_si(given, "pressure")
        if getattr(given, "unit", None) == "psia" or getattr(given, "reference", "") == "absolute":
            air = self.visit.uncertain.get(SITE_PRESSURE)
            shown -= STANDARD_PRESSURE if air is None else air.value
        # The check is for the gauge's own zero error, so only the display and its scatter excuse it.
        allowance = max(ZERO_ALLOWANCE, errors.resolution) + 2.0 * errors.repeatability
        if abs(shown) > allowance:
            self.visit.unzeroed.append(name)


@cache
def _possible(spec: ReadingSpec) -> tuple[float, float]:
    """The range of a reading, in SI."""
    unit = conversion(spec.kind, KINDS[spec.kind].imperial)
    low, high = spec.imperial
    return unit.to_si(low), unit.to_si(high)


@cache
def _where(*parts: str) -> str:
    """JSON Pointer of a reading."""
    return pointer("run", "readings", *parts)


def _repeats_given(given: Any, where: str) -> tuple[list[float] | None, str]:  # noqa: ANN401
    """The list of repeats of a reading and its JSON Pointer; None where it was taken once."""
    if isinstance(given, list):
        return given, where
    if isinstance(given, Model):
        # Not getattr: a model is slow to answer for an attribute that it lacks, as most readings do.
        return vars(given).get("values"), f"{where}/values"
    return None, where


def _end(value: float) -> str:
    """An end of a range in four digits, without an exponent."""
    return f"{value:.0f}" if abs(value) >= 1e4 else f"{value:.4g}"
