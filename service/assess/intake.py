"""From the request to SI: readings become draws with structured instrument errors.

This is the one door at which units, gauge or absolute pressure, and instruments are settled.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Accuracy, AssessmentRequest, Instrument
from schemas.quantities import Model
from schemas.readings import READING_GROUPS, READINGS, ReadingSpec
from service.assess.paths import (
    ASSUMED,
    CURVES,
    MODEL,
    MOTORS,
    NAMEPLATE,
    PHASES,
    RATED,
    READING,
    SITE_PRESSURE,
    USAGE,
)
from service.assess.refusals import Refusal, RefusedError, pointer
from service.physics.compressor import ten_coefficients
from service.physics.moist_air import standard_atmosphere_pressure
from service.physics.refrigerant import SaturationCurves, saturation_curves
from service.physics.refrigerant_enthalpy import single_phase
from service.reference.assumptions import ASSUMPTIONS
from service.reference.conditions import (
    CAPACITOR_TOLERANCE,
    RATED_AIRFLOW_RANGE,
    RATED_CAPACITY_RANGE,
    ZERO_ALLOWANCE,
)
from service.reference.instruments import (
    ASSUMED_TYPE,
    INSTRUMENT_TYPES,
    DefaultAccuracy,
    InstrumentType,
)
from service.reference.performance_maps import PERFORMANCE_MAPS
from service.reference.refrigerants import (
    REFRIGERANTS,
    Refrigerant,
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
    DIMENSIONS,
    KIT_SLOTS,
    SENSORS_PER_INSTRUMENT,
    Distribution,
    ErrorTerm,
    SensorErrors,
    assumption_dimension,
    reading_terms,
    refrigerant_dimension,
    site_pressure_dimension,
    standard_uncertainty,
)
from service.uncertainty.low_discrepancy import Sample, sample
from service.uncertainty.propagation import Inputs, Variable, basis, gathered, variable
from service.uncertainty.repeats import Repeats, averaged, is_unsteady, repeats_of

FloatArray = NDArray[np.float64]

WEATHER = "site: air pressure"
PROPERTIES = "refrigerant: property model"

_ASSUMED = {name: slot for slot, name in enumerate(ASSUMPTIONS)}

_SLOTS = {name: slot for slot, name in enumerate((*READINGS, "barometric_pressure"))}

#: Numbers of the nameplate that decide what is derived at all: visits that differ in them are of two kinds.
KIND_OF_UNIT = frozenset({NAMEPLATE + "phases"})

#: Kinds whose accuracy is stated as a difference.
ERROR_KIND = {"temperature": "temperature_difference"}


@dataclass(frozen=True, slots=True)
class UsedInstrument:
    """The instrument behind one reading and the reading's uncertainty, in SI."""

    name: str
    type: str
    kind: str
    standard_uncertainty: float
    source: str


@dataclass(frozen=True, slots=True)
class Scatter:
    """Repeats of a reading that scatter beyond what their instrument explains, in SI."""

    name: str
    kind: str
    count: int
    deviation: float
    repeatability: float


@dataclass(frozen=True, slots=True)
class Shown:
    """One number that an instrument showed: in SI, as given, and its JSON Pointer."""

    value: float
    given: float
    where: str


@dataclass(frozen=True, slots=True)
class Taken:
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
class Uncertain:
    """A leaf with errors: its nominal value, and by how much each variable's standard deviation moves it.

    ``then`` is what turns what was drawn into the leaf: a gauge reading takes the site's air pressure, a
    saturation temperature was drawn as a pressure.
    """

    value: float
    positions: tuple[int, ...]
    coefficients: tuple[float, ...]
    then: Callable[[FloatArray], FloatArray] | str | None = None
    shown: float | None = None


@dataclass(frozen=True, slots=True)
class _OffGauge:
    """From gauge pressures [Pa] at sea level to the saturation temperatures [K] printed beside them."""

    curves: SaturationCurves
    dew: bool

    def __call__(self, pressure: FloatArray) -> FloatArray:
        to_temperature = self.curves.dew_temperature if self.dew else self.curves.bubble_temperature
        return to_temperature(pressure + STANDARD_PRESSURE)


@dataclass(slots=True)
class Visit:
    """One run of readings in SI, with draws.

    ``leaves`` maps the paths of the request to draws (shape (N + 1,), nominal first), to plain
    numbers for nameplate values, and to the saturation curves; those with errors, the ``uncertain``, are
    there once they were drawn (:func:`draw`).  ``depends`` names, for each leaf, the names that an answer's
    ``from`` shows.  ``variables`` are the independent random variables in use, ``leaf_variables`` their
    positions by leaf, ``sensors`` those of shared calibration errors.
    """

    system: str
    sample: Sample
    leaves: dict[str, Any] = field(default_factory=dict)
    uncertain: dict[str, Uncertain] = field(default_factory=dict)
    depends: dict[str, tuple[str, ...]] = field(default_factory=dict)
    readings: dict[str, float] = field(default_factory=dict)
    instruments: dict[str, UsedInstrument] = field(default_factory=dict)
    variables: list[Variable] = field(default_factory=list)
    sensors: dict[int, int] = field(default_factory=dict)
    leaf_variables: dict[str, tuple[int, ...]] = field(default_factory=dict)
    refrigerant: Refrigerant | None = None
    phases: int = 1
    assumed_sea_level: bool = False
    stated_altitude_pressure: float | None = None
    unzeroed: list[str] = field(default_factory=list)
    #: Whether the visit is to be set against another: calibrations then stand apart from what is new
    #: at each visit.
    compared: bool = False
    #: Of readings not made yet: how often each is to be repeated.
    planned: Mapping[str, int] = field(default_factory=dict)
    unsteady: list[Scatter] = field(default_factory=list)
    _inputs: Inputs | None = None

    @property
    def inputs(self) -> Inputs:
        """The variables as arrays; gathered anew only where more of them have been drawn."""
        if self._inputs is None or self._inputs.basis.count != len(self.variables):
            self._inputs = gathered(self.variables, self.sample.draws)
        return self._inputs

    @property
    def given(self) -> frozenset[str]:
        """The paths of all leaves, drawn or yet to be."""
        return frozenset((*self.leaves, *self.uncertain))

    @property
    def kind(self) -> tuple[object, ...]:
        """What visits must share to be computed together: all but the numbers."""
        return (
            self.sample.draws,
            tuple([(v.mix, v.owner, v.key) for v in self.variables]),
            tuple([(name, u.positions, u.then) for name, u in self.uncertain.items()]),
            tuple(
                [
                    (name, None if isinstance(value, float) and name not in KIND_OF_UNIT else value)
                    for name, value in self.leaves.items()
                    if name not in self.uncertain
                ]
            ),
        )

    def nominal(self, name: str) -> float | None:
        """A reading's nominal SI value, None where it was not given."""
        return self.readings.get(name)

    def register(
        self, leaf: str, value: float, terms: tuple[ErrorTerm, ...], owner: str,
        shown: tuple[str, ...], *, lasting: int | None = None,
    ) -> None:  # fmt: skip
        """Draws of a leaf: its value, the shared error of its sensor, and what is its own.

        ``lasting`` tells whose the shared error is: the same for one error that acts at another visit
        too; None for one that does not.
        """
        positions, coefficients = [], []
        own = [term for term in terms if not term.shared]
        if own:
            positions.append(len(self.variables))
            self.variables.append(variable(own, owner))
            coefficients.append(self.variables[-1].scale)
        for term in terms:
            if not term.shared:
                continue
            sensor = term.dimension
            if sensor not in self.sensors:
                self.sensors[sensor] = len(self.variables)
                key = None if lasting is None else sensor + lasting
                self.variables.append(variable([term.unit()], owner, key))
            positions.append(self.sensors[sensor])
            coefficients.append(term.scale * self.variables[positions[-1]].scale)
        self.leaf_variables[leaf] = tuple(positions)
        self.uncertain[leaf] = Uncertain(value, tuple(positions), tuple(coefficients))
        self.depends[leaf] = shown


def take_in(
    request: AssessmentRequest,
    *,
    compared: bool = False,
    planned: Mapping[str, int] | None = None,
) -> Visit:
    """Settle units, instruments and errors of a request.

    Of a visit that is ``compared`` with another, what instruments of the kit carry from visit to visit
    is kept apart from what is new at each.  ``planned`` are numbers of repeats of readings that are yet to
    be made.

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
                    yield READINGS[f"{name}.{part}"], inner, pointer("run", "readings", name, part)
        else:
            yield READINGS[name], value, pointer("run", "readings", name)


def assume(visit: Visit, names: Iterable[str]) -> None:
    """Draw the assumptions named, each as a leaf of the visit."""
    for name in names:
        row = ASSUMPTIONS[name.removeprefix(ASSUMED)]
        label = f"assumption: {row.name.replace('_', ' ')}"
        term = ErrorTerm(
            assumption_dimension(_ASSUMED[row.name]), row.distribution, row.spread, row.lasting
        )
        visit.register(
            name, row.value, (term,), label, (label,), lasting=0 if row.lasting else None
        )


def draw(visits: Sequence[Visit]) -> dict[str, FloatArray]:
    """Draw the uncertain leaves that are not drawn yet, of visits of one kind.

    Each visit gets its rows; the whole is returned by leaf, shape (visits, N + 1).
    """
    first = visits[0]
    names = [name for name in first.uncertain if name not in first.leaves]
    if not names:
        return {}
    parts = [first.uncertain[name] for name in names]
    rows = [row for row, part in enumerate(parts) for _ in part.positions]
    columns = [position for part in parts for position in part.positions]
    every = [[visit.uncertain[name] for name in names] for visit in visits]
    coefficients = np.zeros((len(visits), len(names), len(first.variables)))
    coefficients[:, rows, columns] = [
        [value for part in own for value in part.coefficients] for own in every
    ]
    values = np.array([[part.value for part in own] for own in every])
    base = basis(tuple([one.mix for one in first.variables]), first.sample.draws)
    drawn = (coefficients @ base.draws + values[:, :, None]).transpose(1, 0, 2)
    found: dict[str, FloatArray] = dict(zip(names, drawn, strict=True))
    for row, (name, part) in enumerate(zip(names, parts, strict=True)):
        if isinstance(part.then, str):
            air = found[part.then] if part.then in found else _stacked(visits, part.then)
            found[name] = found[name] + air
        elif part.then is not None:
            found[name] = part.then(found[name])
            # The nominal is what the caller read, not its round trip through the curves.
            found[name][:, 0] = [own[row].shown for own in every]
    for name, stack in found.items():
        for visit, own_draws in zip(visits, stack, strict=True):
            visit.leaves[name] = own_draws
    return found


def _stacked(visits: Sequence[Visit], leaf: str) -> FloatArray:
    return np.stack([visit.leaves[leaf] for visit in visits])


class _Intake:
    def __init__(self, request: AssessmentRequest, visit: Visit) -> None:
        self.request = request
        self.visit = visit
        self.refusals: list[Refusal] = []
        self.kit = {name: (slot, row) for slot, (name, row) in enumerate(request.kit.items())}

    def run(self) -> None:
        self._known_classes()
        self._unit()
        self._site()
        given = sorted(given_readings(self.request), key=lambda item: _SLOTS[item[0].name])
        for spec, value, where in given:
            self._reading(spec, value, where)
        for name, (_, instrument) in self.kit.items():
            self._open_to_air(name, instrument)

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
                        f"is not carried: {known}" if known else "is not in the catalogue",
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
        for name, share in (("lowest_voltage", 0.9), ("highest_voltage", 1.1)):
            value = getattr(plate, name)
            if value is None and plate.voltage is not None:
                value = share * plate.voltage
            if value is not None:
                self._constant(f"{NAMEPLATE}{name}", value, f"{NAMEPLATE}voltage")
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

    def _ratings(self) -> None:
        """Rated performance, maps and tables of the unit, and what the run says beside readings."""
        unit, run, usage = self.request.unit, self.request.run, self.request.usage
        if unit.rated is not None:
            for name, kind, limits in (
                ("cooling_capacity", "heat_flow", RATED_CAPACITY_RANGE),
                ("airflow", "airflow", RATED_AIRFLOW_RANGE),
            ):
                self._rating(name, getattr(unit.rated, name), kind, limits)
            if unit.rated.eer is not None:
                scale = conversion("efficiency", "Btu/(W h)").scale
                self._constant(RATED + "eer", unit.rated.eer * scale)
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
                pointer(*path.split(".")), None, "over zero", "is zero or negative",
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
                    pointer("unit", "blower_table"), None, "rows of ascending static pressure",
                    "is not in the order of its static pressures",
                    "Sort the rows, and give each pressure once.",
                )
            )  # fmt: skip
        elif self._all_positive(tuple(airflows), "unit.blower_table"):
            self._constant("unit.blower_table", (tuple(pressures), tuple(airflows)))

    def _compressor_map(self) -> None:
        given = self.request.unit.compressor_map
        if given is None:
            return
        if (given.suction_superheat is None) == (given.suction_temperature is None):
            self.refusals.append(
                Refusal(
                    pointer("unit", "compressor_map"), None,
                    "one of suction_superheat and suction_temperature",
                    "must say at which suction gas the map holds, in one way",
                    "Give the one that stands in the compressor's data.",
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
                    pointer("unit", "nameplate", "phases"), 1, "3, or left out",
                    f"contradicts {groups[0]}, which a three-phase unit has",
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
        if site.barometric_pressure is not None:
            where = pointer("site", "barometric_pressure")
            value = self._to_si(site.barometric_pressure, "absolute_pressure")
            if site.altitude is not None:
                metres = self._to_si(site.altitude, "altitude")
                visit.stated_altitude_pressure = float(standard_atmosphere_pressure(metres))
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
        if site.altitude is not None:
            altitude = self._to_si(site.altitude, "altitude")
            if not self._inside(
                altitude, ALTITUDE_RANGE, "altitude", pointer("site", "altitude"), site.altitude
            ):
                return
            pressure = float(standard_atmosphere_pressure(altitude))
        else:
            visit.assumed_sea_level = True
            shown = "assumed: sea level"
        term = ErrorTerm(site_pressure_dimension(), "normal", WEATHER_PRESSURE_DEVIATION)
        self.visit.register(SITE_PRESSURE, pressure, (term,), WEATHER, (shown,))

    # ------------------------------------------------------------ readings

    def _reading(self, spec: ReadingSpec, given: Any, where: str) -> None:  # noqa: ANN401
        taken = self._taken(given, spec.kind, where)
        low, high = (
            conversion(spec.kind, KINDS[spec.kind].imperial).to_si(end) for end in spec.imperial
        )
        absolute = self._is_absolute(spec, given, where)
        if absolute is None:
            return
        shift = STANDARD_PRESSURE if absolute else 0.0
        limits = (low + shift, high + shift)
        # A list, so that every repeat out of range is named and not the first alone.
        inside = [
            self._inside(one.value, limits, spec.kind, one.where, given, one.given)
            for one in taken.shown
        ]
        if not all(inside):
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
                    "Give the unit psi with a reference, or psig / psia without one.",
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
            visit.uncertain[leaf] = replace(visit.uncertain[leaf], then=SITE_PRESSURE)
            visit.leaf_variables[leaf] += visit.leaf_variables[SITE_PRESSURE]
            visit.depends[leaf] += visit.depends[SITE_PRESSURE]
        for one in taken.shown:
            if one.value + air <= 0.0:
                self.refusals.append(
                    Refusal(
                        one.where, one.given, "a pressure above absolute zero at this site",
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
        instrument = self.kit.get(named or "", (0, None))[1]
        if (
            instrument is not None
            and "line_temperature" in INSTRUMENT_TYPES[instrument.type].accuracies
        ):
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
                    "lies outside the saturation curve of the refrigerant",
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
            visit.uncertain[leaf] = replace(
                visit.uncertain[leaf], then=_OffGauge(curves, dew=dew), shown=taken.value
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
        """Whether a value is possible; ``number`` is the one meant where several were given."""
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
                f"is {'above' if value > high else 'below'} what it can be",
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
        chosen = self._instrument(measured_as, named, where)
        if chosen is None:
            return
        label, slot, type_, instrument = chosen
        if measured_as not in type_.accuracies:
            self.refusals.append(
                Refusal(
                    f"{where}/instrument", named,
                    "an instrument whose type measures " + measured_as.replace("_", " "),
                    f"is a {type_.name.replace('_', ' ')}, which measures "
                    + ", ".join(c.replace("_", " ") for c in type_.accuracies),
                    "Name another instrument of the kit, or correct its type.",
                )
            )  # fmt: skip
            return
        default = type_.accuracy(measured_as, name)
        errors, source = self._errors(default, instrument, measured_as, kind, value, label)
        if errors is None:
            return
        if repeats is not None:
            if is_unsteady(errors, repeats):
                self.visit.unsteady.append(
                    Scatter(
                        name, ERROR_KIND.get(kind, kind), repeats.count, repeats.deviation,
                        errors.repeatability,
                    )
                )  # fmt: skip
            errors = averaged(errors, repeats)
        elif self.visit.planned.get(name, 1) > 1:
            # Repeats that will scatter as the instrument's repeatability says.
            expected = Repeats(self.visit.planned[name], value, errors.repeatability)
            errors = averaged(errors, expected)
        shares = type_.shares_calibration
        if instrument is not None and instrument.shares_calibration is not None:
            shares = instrument.shares_calibration
        sensor = None
        group = name.partition(".")[0]
        if slot is None and group in READING_GROUPS:
            slot = KIT_SLOTS + READING_GROUPS.index(group)
        if shares and slot is not None:
            sensor = SENSORS_PER_INSTRUMENT * slot + _element(type_, measured_as)
        terms = reading_terms(
            errors, _SLOTS[name], sensor, apart=self.visit.compared and instrument is not None
        )
        self.visit.instruments[name] = UsedInstrument(
            label, type_.name, ERROR_KIND.get(kind, kind), standard_uncertainty(terms), source
        )
        self.visit.register(
            leaf or READING + name, value, terms, label, (shown or name,),
            lasting=_lasting(slot, shared=sensor is not None) if instrument is not None else None,
        )  # fmt: skip

    def _instrument(
        self, measured_as: str, named: str | None, where: str
    ) -> tuple[str, int | None, InstrumentType, Instrument | None] | None:
        if named is not None:
            if named not in self.kit:
                self.refusals.append(
                    Refusal(
                        f"{where}/instrument", named,
                        "one of " + ", ".join(self.kit) if self.kit else "a name of the kit",
                        "is not in the kit",
                        "Add it to `kit`, or leave `instrument` out.",
                    )
                )  # fmt: skip
                return None
            slot, row = self.kit[named]
            return named, slot, INSTRUMENT_TYPES[row.type], row
        able = [
            (name, slot, INSTRUMENT_TYPES[row.type], row)
            for name, (slot, row) in self.kit.items()
            if measured_as in INSTRUMENT_TYPES[row.type].accuracies
        ]
        if len(able) == 1:
            return able[0]
        if able:
            self.refusals.append(
                Refusal(
                    where, None, "an instrument named with the reading",
                    "could have been made by " + " or ".join(name for name, *_ in able),
                    'Give the reading as {"value": ..., "instrument": "' + able[0][0] + '"}.',
                )
            )  # fmt: skip
            return None
        # What is assumed earns no shared calibration: each reading has a sensor of its own.
        assumed = ASSUMED_TYPE[measured_as]
        return f"assumed:{assumed}", None, INSTRUMENT_TYPES[assumed], None

    def _errors(
        self, default: DefaultAccuracy, instrument: Instrument | None, measured_as: str, kind: str,
        value: float, label: str,
    ) -> tuple[SensorErrors | None, str]:  # fmt: skip
        stated = self._stated(instrument, measured_as)
        units = KINDS[ERROR_KIND.get(kind, kind)].units
        if stated is not None and stated.unit is not None and stated.unit not in units:
            self.refusals.append(
                Refusal(
                    self._stated_at(instrument, label, measured_as) + "/unit", stated.unit,
                    "one of " + ", ".join(units),
                    f"is no unit for the error of a {measured_as.replace('_', ' ')}",
                    "Use one of these, or leave the unit out for the declared unit system.",
                )
            )  # fmt: skip
            return None, ""
        repeatability = default.repeatability
        main = next(iter(INSTRUMENT_TYPES[instrument.type].accuracies)) if instrument else ""
        if (
            instrument is not None
            and instrument.repeatability is not None
            and (stated is not None or measured_as == main)
        ):
            chosen = stated.unit if stated is not None else None
            repeatability = instrument.repeatability * self._scale(kind, chosen)
        # A manometer's gain error is negative below zero, where a difference of temperatures or of
        # gauge pressures has no such point.
        sign = -1.0 if kind == "static_pressure" and value < 0.0 else 1.0
        if stated is None:
            offset = (
                default.fixed
                + default.percent_of_span / 100 * default.span
                + default.counts * default.resolution
            )
            gain = default.percent_of_reading / 100 * abs(_shown(kind, value, "imperial"))
            if kind == "temperature":
                gain *= conversion("temperature_difference", "delta_degF").scale
            return (
                SensorErrors(
                    offset,
                    gain,
                    "rectangular",
                    default.placement,
                    repeatability,
                    default.resolution,
                    sign,
                ),
                default.source,
            )
        unit = self._scale(kind, stated.unit)
        where = self._stated_at(instrument, label, measured_as)
        if (stated.percent_of_span is None) != (stated.span is None):
            self.refusals.append(
                Refusal(
                    where, None, "percent_of_span together with span",
                    "has one of percent_of_span and span without the other",
                    "Give both, or neither.",
                )
            )  # fmt: skip
            return None, ""
        resolution = default.resolution if stated.resolution is None else stated.resolution * unit
        offset = (
            (stated.fixed or 0.0) * unit
            + (stated.percent_of_span or 0.0) / 100 * (stated.span or 0.0) * unit
            + (stated.counts or 0.0) * resolution
        )
        system = {"delta_degF": "imperial", "delta_degC": "metric", "K": "metric"}.get(
            stated.unit or "", self.visit.system
        )
        gain = (stated.percent_of_reading or 0.0) / 100 * abs(_shown(kind, value, system))
        if kind == "temperature":
            gain *= conversion(
                "temperature_difference", system_unit("temperature_difference", system)
            ).scale
        divisor, distribution = _COVERAGE[stated.coverage]
        return (
            SensorErrors(
                offset / divisor, gain / divisor, distribution, default.placement, repeatability, resolution, sign,
            ),
            "stated in the request",
        )  # fmt: skip

    def _known_classes(self) -> None:
        """Own accuracies must name what the type measures."""
        for name, (_, instrument) in self.kit.items():
            measured = INSTRUMENT_TYPES[instrument.type].accuracies
            for given in instrument.accuracies or {}:
                if given not in measured:
                    self.refusals.append(
                        Refusal(
                            pointer("kit", name, "accuracies", given), given,
                            "one of " + ", ".join(measured),
                            f"is nothing that a {instrument.type.replace('_', ' ')} measures",
                            "Use one of these names.",
                        )
                    )  # fmt: skip

    def _stated_at(self, instrument: Instrument | None, label: str, measured_as: str) -> str:
        if instrument is not None and measured_as in (instrument.accuracies or {}):
            return pointer("kit", label, "accuracies", measured_as)
        return pointer("kit", label, "accuracy")

    def _stated(self, instrument: Instrument | None, measured_as: str) -> Accuracy | None:
        if instrument is None:
            return None
        own = (instrument.accuracies or {}).get(measured_as)
        if own is not None:
            return own
        main = next(iter(INSTRUMENT_TYPES[instrument.type].accuracies))
        siblings = {"air_temperature", "line_temperature"}
        fits = measured_as == main or {measured_as, main} <= siblings
        return instrument.accuracy if fits else None

    def _scale(self, kind: str, symbol: str | None) -> float:
        """Scale of a unit of accuracy, the declared system's where none is stated."""
        error_kind = ERROR_KIND.get(kind, kind)
        return conversion(error_kind, symbol or system_unit(error_kind, self.visit.system)).scale

    def _open_to_air(self, name: str, instrument: Instrument) -> None:
        if instrument.open_to_air_reading is None:
            return
        type_ = INSTRUMENT_TYPES[instrument.type]
        if "pressure" not in type_.accuracies:
            self.refusals.append(
                Refusal(
                    pointer("kit", name, "open_to_air_reading"), None, "a pressure instrument",
                    f"belongs to a {type_.name.replace('_', ' ')}", "Leave it out.",
                )
            )  # fmt: skip
            return
        errors, _ = self._errors(
            type_.accuracies["pressure"], instrument, "pressure", "pressure", 0.0, name
        )
        if errors is None:
            return
        given = instrument.open_to_air_reading
        shown = self._to_si(given, "pressure")
        if getattr(given, "unit", None) == "psia" or getattr(given, "reference", "") == "absolute":
            air = self.visit.uncertain.get(SITE_PRESSURE)
            shown -= STANDARD_PRESSURE if air is None else air.value
        # Its own zero error is what the check is for: only the display and its scatter excuse it.
        allowance = max(ZERO_ALLOWANCE, errors.resolution) + 2.0 * errors.repeatability
        if abs(shown) > allowance:
            self.visit.unzeroed.append(name)


def _lasting(slot: int | None, *, shared: bool) -> int:
    """Whose calibration error a reading carries from visit to visit.

    A shared sensor's dimension names it; a sensor of one reading alone is named by its instrument too.
    """
    return 0 if shared or slot is None else DIMENSIONS * (1 + slot)


_COVERAGE: Mapping[str, tuple[float, Distribution]] = {
    "limits": (1.0, "rectangular"),
    "two_standard_deviations": (2.0, "normal"),
    "one_standard_deviation": (1.0, "normal"),
}


def _repeats_given(given: Any, where: str) -> tuple[list[float] | None, str]:  # noqa: ANN401
    """The list of repeats of a reading and its JSON Pointer; None where it was taken once."""
    if isinstance(given, list):
        return given, where
    if isinstance(given, Model):
        # Not getattr: a model answers slowly for what it does not have, as most readings do not.
        return vars(given).get("values"), f"{where}/values"
    return None, where


def _element(type_: InstrumentType, measured_as: str) -> int:
    """Which sensor of the instrument makes the reading; one thermometer serves air and lines."""
    elements = [name for name in type_.accuracies if name != "line_temperature"] or [
        "line_temperature"
    ]
    wanted = "air_temperature" if measured_as == "line_temperature" else measured_as
    return elements.index(wanted) if wanted in elements else 0


def _end(value: float) -> str:
    """An end of a range in four digits, without an exponent."""
    return f"{value:.0f}" if abs(value) >= 1e4 else f"{value:.4g}"


def _shown(kind: str, value: float, system: str) -> float:
    """The number on the display for ``percent_of_reading``, in the SI scale except temperatures."""
    if kind == "temperature":
        return conversion(kind, system_unit(kind, system)).from_si(value)
    return value
