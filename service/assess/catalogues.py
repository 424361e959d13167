"""The reference data as answers."""

from __future__ import annotations

import numpy as np

from schemas.catalogues import (
    AccuracyRow,
    CautionList,
    InstrumentList,
    InstrumentTypeAnswer,
    LimitAnswer,
    LimitList,
    RefrigerantAnswer,
    RefrigerantList,
    SaturationRow,
    SaturationTable,
)
from schemas.quantities import UnitSystem
from service.assess.cautions import caution_answer
from service.derive.derivations import QUANTITIES
from service.intake.refusals import Refusal, RefusedError
from service.physics.moist_air import standard_atmosphere_pressure
from service.physics.refrigerant import saturation_curves
from service.reference.cautions import CAUTIONS
from service.reference.instruments import INSTRUMENT_TYPES, DefaultAccuracy
from service.reference.limits import LIMITS, Bound, OfEfficiency, OfNameplate, OfSaturation
from service.reference.refrigerants import REFRIGERANTS, Refrigerant
from service.reference.site import ALTITUDE_RANGE, STANDARD_PRESSURE
from service.reference.sources import source
from service.reference.units import KINDS, conversion, in_system, system_unit

#: The most rows of one table.
MAXIMUM_ROWS = 2500

_SI_KIND = {
    "line_temperature": "temperature_difference",
    "air_temperature": "temperature_difference",
    "wet_bulb": "temperature_difference",
    "relative_humidity": "fraction",
}


def _short(value: float) -> float:
    return float(f"{value:.6g}")


def _from_si(kind: str, value: float, system: str) -> float:
    return _short(in_system(kind, value, system))


def refrigerant_answer(row: Refrigerant, system: str) -> RefrigerantAnswer:
    """One refrigerant in the caller's units."""
    curves = saturation_curves(row.designation)
    low, high = curves.temperature_range
    boiling = np.array([STANDARD_PRESSURE])
    glide = float((curves.dew_temperature(boiling) - curves.bubble_temperature(boiling))[0])
    scale = conversion("temperature_difference", system_unit("temperature_difference", system)).scale
    return {
        "designation": row.designation,
        "composition": [{"designation": name, "mass_fraction": fraction} for name, _, fraction in row.components],
        "composition_source": row.composition_source,
        "safety_group": row.safety_group,
        "safety_group_source": row.safety_group_source,
        "temperature_unit": system_unit("temperature", system),
        "difference_unit": system_unit("temperature_difference", system),
        "critical_temperature": _from_si("temperature", curves.critical_temperature, system),
        "critical_pressure": _from_si("absolute_pressure", curves.critical_pressure, system),
        "critical_pressure_unit": system_unit("absolute_pressure", system),
        "saturation_range": {
            "low": _from_si("temperature", low, system),
            "high": _from_si("temperature", high, system),
            "unit": system_unit("temperature", system),
        },
        "glide_at_normal_boiling_point": _short(round(glide / scale, 4) + 0.0),
        "model": row.model,
        "notes": row.notes,
    }


def refrigerants(system: str) -> RefrigerantList:
    """All refrigerants."""
    rows = [refrigerant_answer(row, system) for row in REFRIGERANTS.values()]
    return {"rows": rows, "refrigerants": rows}


def saturation_table(
    designation: str,
    system: UnitSystem,
    low: float | None,
    high: float | None,
    step: float,
    altitude: float,
) -> SaturationTable:
    """A pressure-temperature table.

    Parameters
    ----------
    designation : str
        A designation of the catalogue.
    system : str
        Unit system of the arguments and of the answer.
    low, high, step : float
        Temperatures of the rows; None for the range of the curves.
    altitude : float
        Height of the site above sea level.

    Raises
    ------
    RefusedError
        If the range is empty, is outside the curves, or has too many rows; or if the altitude is impossible.
    """
    row, curves = REFRIGERANTS[designation], saturation_curves(designation)
    temperature = conversion("temperature", system_unit("temperature", system))
    pressure_unit = system_unit("pressure", system)
    pressure = conversion("pressure", pressure_unit)
    ends = [temperature.from_si(end) for end in curves.temperature_range]
    first = np.ceil(ends[0]) if low is None else low
    last = np.floor(ends[1]) if high is None else high
    text = f"{ends[0]:.4g} to {ends[1]:.4g} {system_unit('temperature', system)}"
    for name, value in (("from", first), ("to", last)):
        if not ends[0] <= value <= ends[1]:
            raise RefusedError(
                [
                    Refusal(
                        f"query/{name}",
                        value,
                        text,
                        "is outside the saturation curves",
                        "Ask for temperatures within the range.",
                    )
                ]
            )
    if last < first or (last - first) / step > MAXIMUM_ROWS:
        raise RefusedError(
            [
                Refusal(
                    "query/step",
                    step,
                    f"a step that gives 1 to {MAXIMUM_ROWS} rows, and from below to",
                    "gives too many rows, or none",
                    "Choose a larger step or a smaller range.",
                )
            ]
        )
    shown = first + step * np.arange(int((last - first) / step + 1e-9) + 1)
    kelvin = np.array([temperature.to_si(float(value)) for value in shown])
    length = conversion("altitude", system_unit("altitude", system))
    metres = length.to_si(altitude)
    if not ALTITUDE_RANGE[0] <= metres <= ALTITUDE_RANGE[1]:
        lowest, highest = (f"{length.from_si(end):.0f}" for end in ALTITUDE_RANGE)
        unit = system_unit("altitude", system)
        raise RefusedError(
            [
                Refusal(
                    "query/altitude",
                    altitude,
                    f"{lowest} to {highest} {unit}",
                    f"is {'above' if metres > ALTITUDE_RANGE[1] else 'below'} its possible range",
                    f"Check the number and its unit (taken as {unit}).",
                )
            ]
        )
    air = float(standard_atmosphere_pressure(metres))
    bubble, dew = curves.bubble_pressure(kelvin), curves.dew_pressure(kelvin)
    rows: list[SaturationRow] = [
        {
            "temperature": _short(float(t)),
            "bubble_pressure_gauge": _short(pressure.from_si(float(b) - air)),
            "dew_pressure_gauge": _short(pressure.from_si(float(d) - air)),
            "bubble_pressure_absolute": _short(pressure.from_si(float(b))),
            "dew_pressure_absolute": _short(pressure.from_si(float(d))),
            "bridged": any(start <= k <= end for start, end in curves.bridged),
        }
        for t, k, b, d in zip(shown, kelvin, bubble, dew, strict=True)
        if np.isfinite(b) and np.isfinite(d)
    ]
    return {
        "designation": designation,
        "units": system,
        "temperature_unit": system_unit("temperature", system),
        "pressure_unit": pressure_unit,
        "air_pressure": _short(pressure.from_si(air)),
        "source": row.model,
        "rows": rows,
    }


def _accuracy_answer(measures: str, unit: str, accuracy: DefaultAccuracy) -> AccuracyRow:
    return {
        "measures": measures,
        "unit": unit,
        "percent_of_reading": accuracy.percent_of_reading,
        "percent_of_span": accuracy.percent_of_span,
        "span": _short(accuracy.span),
        "fixed": _short(accuracy.fixed),
        "counts": accuracy.counts,
        "resolution": _short(accuracy.resolution),
        "placement": _short(accuracy.placement),
        "repeatability": _short(accuracy.repeatability),
        "source": source(accuracy.source),
    }


def instruments() -> InstrumentList:
    """All instrument types, SI units; a default for one reading alone is listed under its name."""
    rows: list[InstrumentTypeAnswer] = []
    for type_ in INSTRUMENT_TYPES.values():
        accuracies = [
            _accuracy_answer(name, KINDS[_SI_KIND.get(name, name)].si, accuracy)
            for name, accuracy in type_.accuracies.items()
        ]
        accuracies += [
            _accuracy_answer(reading, KINDS["pressure"].si, accuracy) for reading, accuracy in type_.overrides.items()
        ]
        rows.append(
            {
                "type": type_.name,
                "description": type_.description,
                "shares_calibration": type_.shares_calibration,
                "accuracies": accuracies,
                "made_for": list(type_.made_for),
            }
        )
    return {"rows": rows, "instruments": rows}


def limits() -> LimitList:
    """All limits, SI units."""
    rows: list[LimitAnswer] = [
        {
            "id": row.id,
            "quantity": row.quantity,
            "kind": QUANTITIES[row.quantity].kind,
            "unit": KINDS[QUANTITIES[row.quantity].kind].si,
            "lower": bound_answer(row.lower),
            "upper": bound_answer(row.upper),
            "basis": row.basis,
            "source": source(row.source),
            "modes": list(row.modes),
            "metering_devices": list(row.devices),
            "phases": list(row.phases),
            "capacity_controls": ["single_speed"] if row.running else [],
            "running": list(row.running),
        }
        for row in LIMITS.values()
    ]
    return {"rows": rows, "limits": rows}


def bound_answer(bound: Bound) -> float | str | None:
    """A bound as a list shows it: a number in SI, or the field that sets it."""
    if isinstance(bound, OfNameplate):
        return bound.path
    if isinstance(bound, OfEfficiency):
        return "unit.rated.eer"
    if isinstance(bound, OfSaturation):
        return "unit.refrigerant"
    return None if bound is None else _short(bound)


def cautions() -> CautionList:
    """All cautions, gravest first."""
    rows = [caution_answer(row) for row in CAUTIONS.values()]
    return {"rows": rows, "cautions": rows}
