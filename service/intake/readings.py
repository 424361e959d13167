"""Readings: each from what was shown to a leaf with the errors of its instrument."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest
from schemas.quantities import Model
from schemas.readings import READING_GROUPS, READINGS, ReadingSpec
from service.intake.entry import Entry, display
from service.intake.kit import Place, standard_uncertainty
from service.intake.paths import CURVES, READING, SITE_PRESSURE
from service.intake.refusals import Refusal, pointer
from service.intake.visit import Scatter, UsedInstrument
from service.physics.refrigerant import SaturationCurves
from service.reference.conditions import ZERO_ALLOWANCE
from service.reference.placements import PLACEMENTS
from service.reference.settling import SETTLING
from service.reference.site import STANDARD_PRESSURE
from service.reference.units import KINDS, conversion, system_unit
from service.uncertainty.repeats import Repeats, averaged, is_unsteady, repeats_of

FloatArray = NDArray[np.float64]


class Shown(NamedTuple):
    """One number that an instrument showed: in SI, as given, and its JSON Pointer."""

    value: float
    given: float
    where: str


class OfLog(NamedTuple):
    """Standard uncertainties of a settled value: by its scatter and drift, and by what the start had left."""

    scatter: float
    settling: float

    def times(self, factor: float) -> OfLog:
        """In another unit."""
        return OfLog(self.scatter * factor, self.settling * factor)


class Taken(NamedTuple):
    """A reading taken once, several times or from a log: its value (the mean, the settled value) in SI and all that
    was shown; ``logged`` is what a log leaves uncertain of it."""

    value: float
    shown: tuple[Shown, ...]
    repeats: Repeats | None = None
    logged: OfLog | None = None


class Measured(NamedTuple):
    """A value in SI as an instrument measured it.

    ``name`` and ``kind`` of the reading, ``measured_as`` what its instrument measures, ``named`` the instrument
    given with it, ``where`` its JSON Pointer; ``repeats`` where it was taken several times, ``place`` where it is not
    in the table of readings, ``logged`` what is uncertain of it where it comes from a log.
    """

    name: str
    kind: str
    measured_as: str
    value: float
    named: str | None
    where: str
    repeats: Repeats | None = None
    place: Place | None = None
    logged: OfLog | None = None


@dataclass(frozen=True, slots=True)
class _OffGauge:
    """From gauge pressures [Pa] at sea level to the saturation temperatures [K] printed beside them."""

    curves: SaturationCurves
    dew: bool

    def __call__(self, pressure: FloatArray) -> FloatArray:
        to_temperature = self.curves.dew_temperature if self.dew else self.curves.bubble_temperature
        return to_temperature(pressure + STANDARD_PRESSURE)


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


def refuse_without_readings(entry: Entry) -> None:
    """A run in which neither readings nor a log are named: `readings` was probably forgotten."""
    run = entry.request.run
    if run.log is None and "readings" not in run.model_fields_set:
        hint = 'Add it, for example "readings": {"suction_pressure": 124.0, "suction_line_temperature": 55.5}.'
        entry.refusals.append(Refusal(pointer("run", "readings"), None, "readings, or log", "is missing", hint))


def take_reading(entry: Entry, spec: ReadingSpec, given: Any, where: str) -> None:  # noqa: ANN401
    """A reading as given: refused where it is impossible, else a leaf with the errors of its instrument."""
    reading = taken(entry, given, spec.kind, where)
    absolute = is_absolute(entry, spec.kind, given, where)
    if absolute is not None:
        enter(entry, spec, reading, given, where, absolute=absolute)


def enter(entry: Entry, spec: ReadingSpec, reading: Taken, given: Any, where: str, *, absolute: bool) -> None:  # noqa: ANN401
    """A reading in SI: refused where it is impossible, else a leaf; ``given`` knows its unit and instrument."""
    low, high = _possible(spec)
    if absolute:
        low, high = low + STANDARD_PRESSURE, high + STANDARD_PRESSURE
    # Not the first alone: every repeat out of range is named.
    refused = [
        one
        for one in reading.shown
        if not (
            low <= one.value <= high or entry.inside(one.value, (low, high), spec.kind, one.where, given, one.given)
        )
    ]
    if refused:
        return
    named = getattr(given, "instrument", None)
    entry.readings[spec.name] = reading.value
    if spec.kind == "pressure":
        _pressure(entry, spec, reading, named, where, absolute=absolute)
    elif spec.measured_as == "pressure":
        _saturation_temperature(entry, spec, reading, named, where)
    else:
        with_errors(
            entry,
            Measured(
                spec.name,
                spec.kind,
                spec.measured_as,
                reading.value,
                named,
                where,
                reading.repeats,
                None,
                reading.logged,
            ),
        )


def taken(entry: Entry, given: Any, kind: str, where: str) -> Taken:  # noqa: ANN401
    """What was shown once or several times, in SI, by the unit given or that of the unit system."""
    if isinstance(given, float):
        symbol = system_unit(kind, entry.system)
        value = conversion(kind, symbol).to_si(given)
        return Taken(value, (Shown(value, given, where),))
    symbol = getattr(given, "unit", None) or system_unit(kind, entry.system)
    to_si = conversion(kind, symbol).to_si
    numbers, at = _repeats_given(given, where)
    if numbers is None:
        number = display(given)
        value = to_si(number)
        return Taken(value, (Shown(value, number, where),))
    shown = tuple(Shown(to_si(number), number, f"{at}/{index}") for index, number in enumerate(numbers))
    repeats = repeats_of([one.value for one in shown])
    return Taken(repeats.mean, shown, repeats)


def is_absolute(entry: Entry, kind: str, given: Any, where: str) -> bool | None:  # noqa: ANN401
    """Whether a pressure is absolute; None where unit and reference contradict each other."""
    if kind != "pressure" or not isinstance(given, Model):
        return False
    symbol, reference = given.unit, given.reference  # type: ignore[attr-defined]
    said = {"psia": "absolute", "psig": "gauge"}.get(symbol or "")
    if said is not None and reference not in (None, said):
        entry.refusals.append(
            Refusal(
                f"{where}/reference",
                reference,
                said,
                f"contradicts the unit {symbol}, which is {said}",
                "Give the unit psi with a reference, or psig / psia without one.",
            )
        )
        return None
    return (reference or said) == "absolute"


def _pressure(entry: Entry, spec: ReadingSpec, taken: Taken, named: str | None, where: str, *, absolute: bool) -> None:
    """Gauge readings are kept as the gauge shows them, then air pressure is added."""
    with_errors(
        entry,
        Measured(spec.name, "pressure", "pressure", taken.value, named, where, taken.repeats, None, taken.logged),
    )
    leaf = READING + spec.name
    if leaf not in entry.leaves.uncertain or SITE_PRESSURE not in entry.leaves.uncertain:
        return
    air = 0.0 if absolute else over_site_pressure(entry, leaf)
    for one in taken.shown:
        if above_zero(entry, one, air):
            _within_curves(entry, one.value + air, one.where, one.given)


def over_site_pressure(entry: Entry, leaf: str) -> float:
    """Add the site's air pressure to a leaf that a gauge showed; returns that pressure [Pa]."""
    entry.leaves.uncertain[leaf] = entry.leaves.uncertain[leaf]._replace(then=SITE_PRESSURE)
    entry.leaves.leaf_variables[leaf] += entry.leaves.leaf_variables[SITE_PRESSURE]
    entry.leaves.depends[leaf] += entry.leaves.depends[SITE_PRESSURE]
    return entry.leaves.uncertain[SITE_PRESSURE].value


def above_zero(entry: Entry, one: Shown, air: float) -> bool:
    """Whether a pressure is above a perfect vacuum; refused if not.  ``air`` is what its zero stands for [Pa]."""
    if one.value + air > 0.0:
        return True
    entry.refusals.append(
        Refusal(
            one.where,
            one.given,
            "a pressure above absolute zero at this site",
            "is below a perfect vacuum at the site's air pressure",
            "Check the reading, its unit, and the altitude.",
        )
    )
    return False


def _within_curves(entry: Entry, nominal: float, where: str, display: float) -> None:
    curves: SaturationCurves | None = entry.constants.get(CURVES)
    if curves is None:
        return
    low, high = curves.pressure_range
    if low <= nominal <= high:
        return
    symbol = system_unit("absolute_pressure", entry.system)
    unit = conversion("absolute_pressure", symbol)
    assert entry.refrigerant is not None
    entry.refusals.append(
        Refusal(
            where,
            display,
            f"{unit.from_si(low):.4g} to {unit.from_si(high):.4g} {symbol} absolute",
            f"is {unit.from_si(nominal):.4g} {symbol} absolute, where "
            f"{entry.refrigerant.designation} has no saturation temperature",
            "Check the refrigerant, the unit and whether the reading is gauge or absolute.",
        )
    )


def _saturation_temperature(entry: Entry, spec: ReadingSpec, taken: Taken, named: str | None, where: str) -> None:
    """A saturation temperature read off a gauge carries the gauge's error in pressure."""
    curves: SaturationCurves | None = entry.constants.get(CURVES)
    type_ = entry.kit.type_of(named)
    if type_ is not None and "line_temperature" in type_.accuracies:
        with_errors(
            entry,
            Measured(
                spec.name,
                "temperature",
                "line_temperature",
                taken.value,
                named,
                where,
                taken.repeats,
                None,
                taken.logged,
            ),
        )
        return
    if curves is None:
        return
    dew = spec.name.startswith("suction")
    to_pressure = curves.dew_pressure if dew else curves.bubble_pressure
    pressures = to_pressure(np.array([taken.value, *(one.value for one in taken.shown)]))
    beyond = [one for one, known in zip(taken.shown, np.isfinite(pressures[1:]), strict=True) if not known]
    if beyond:
        low, high = curves.temperature_range
        symbol = system_unit("temperature", entry.system)
        unit = conversion("temperature", symbol)
        entry.refusals.extend(
            Refusal(
                one.where,
                one.given,
                f"{unit.from_si(low):.4g} to {unit.from_si(high):.4g} {symbol}",
                "is outside the saturation curve of the refrigerant",
                "Check the refrigerant and the unit.",
            )
            for one in beyond
        )
        return
    # The gauge's needle scatters in pressure, whatever scale is read.
    repeats = None if taken.repeats is None else repeats_of(pressures[1:].tolist())
    gauge = float(pressures[0]) - STANDARD_PRESSURE
    logged = None if taken.logged is None else taken.logged.times(dial_slope(curves, spec.name, taken.value))
    with_errors(entry, Measured(spec.name, "pressure", "pressure", gauge, named, where, repeats, None, logged))
    leaf = READING + spec.name
    if leaf in entry.leaves.uncertain:
        entry.leaves.uncertain[leaf] = entry.leaves.uncertain[leaf]._replace(
            then=_OffGauge(curves, dew=dew), shown=taken.value
        )


def dial_slope(curves: SaturationCurves, reading: str, temperature: float) -> float:
    """Pressure [Pa] that belongs to a kelvin on the dial of a gauge, at a saturation temperature [K]; not-a-number
    beyond the curve."""
    to_pressure = curves.dew_pressure if reading.startswith("suction") else curves.bubble_pressure
    low, high = to_pressure(temperature + np.array([-0.5, 0.5])).tolist()
    return float(high - low)


def with_errors(entry: Entry, measured: Measured, *, leaf: str | None = None, shown: str | None = None) -> None:
    """Enter a reading as a leaf with the errors of its instrument.

    ``leaf`` and ``shown`` are its path and what it is called, where these are not those of a reading.
    """
    name, kind, measured_as, value, named, where, repeats, place, logged = measured
    sensor = entry.kit.sensor(name, kind, measured_as, named, where, place)
    if isinstance(sensor, Refusal):
        entry.refusals.append(sensor)
        return
    leaf, depends = leaf or READING + name, (shown or name,)
    planned = entry.planned.get(name, 1)
    if logged is not None:
        # What the display rounds is in it.
        errors = replace(sensor.errors_at(value), repeatability=logged.scatter, resolution=0.0)
        uncertainty = entry.leaves.register(
            leaf, value, sensor.terms(errors), sensor.label, depends, lasting=sensor.lasting
        )
        if logged.settling > 0.0:
            added = entry.leaves.also_errs(leaf, [sensor.settling_term(logged.settling)], SETTLING)
            uncertainty = standard_uncertainty(uncertainty, added)
    elif repeats is None and planned == 1:
        uncertainty = entry.leaves.reads(leaf, value, sensor, depends)
    else:
        errors = sensor.errors_at(value)
        if repeats is None:
            # Repeats that will scatter as the instrument's repeatability says.
            repeats = Repeats(planned, value, errors.repeatability)
        elif is_unsteady(errors, repeats):
            entry.unsteady.append(Scatter(name, sensor.kind, repeats.count, repeats.deviation, errors.repeatability))
        uncertainty = entry.leaves.register(
            leaf,
            value,
            sensor.terms(averaged(errors, repeats)),
            sensor.label,
            depends,
            lasting=sensor.lasting,
        )
    entry.instruments[name] = UsedInstrument(sensor.label, sensor.type, sensor.kind, uncertainty, sensor.source)


def take_placements(entry: Entry) -> None:
    """What readings err by where their probes sit; last, as it depends on what is read around."""
    heating = entry.request.unit.mode == "heating"
    for row in PLACEMENTS:
        if READING + row.reading in entry.leaves.uncertain:
            around = entry.readings.get((heating and row.in_heating) or row.around)
            difference = row.usual if around is None else around - entry.readings[row.reading]
            size = entry.leaves.sits(row.reading, row.spot, difference)
            used = entry.instruments[row.reading]
            entry.instruments[row.reading] = used._replace(
                standard_uncertainty=standard_uncertainty(used.standard_uncertainty, size)
            )


def take_open_to_air(entry: Entry) -> None:
    """Gauges that did not show zero when open to the air."""
    for name in entry.kit.instruments:
        shown = entry.request.kit[name].open_to_air_reading
        if shown is not None:
            _open_to_air(entry, name, shown)


def _open_to_air(entry: Entry, name: str, given: Any) -> None:  # noqa: ANN401
    errors = entry.kit.open_to_air(name)
    if isinstance(errors, Refusal):
        entry.refusals.append(errors)
        return
    shown = entry.to_si(given, "pressure")
    if getattr(given, "unit", None) == "psia" or getattr(given, "reference", "") == "absolute":
        air = entry.leaves.uncertain.get(SITE_PRESSURE)
        shown -= STANDARD_PRESSURE if air is None else air.value
    # Its own zero error is what the check is for: only the display and its scatter excuse it.
    allowance = max(ZERO_ALLOWANCE, errors.resolution) + 2.0 * errors.repeatability
    if abs(shown) > allowance:
        entry.unzeroed.append(name)


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
        # Not getattr: a model answers slowly for what it does not have, as most readings do not.
        return vars(given).get("values"), f"{where}/values"
    return None, where
