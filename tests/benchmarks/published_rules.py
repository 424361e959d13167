"""Two published ways to diagnose a visit, to compare with.

``python -m tests.benchmarks.published_rules`` scores both on the published cases.

(i) The refrigerant charge and airflow verification of the California Energy Commission (2008 Residential
Appendices, RA3): targets for temperature split, superheat and subcooling, with tolerances.
(ii) The statistical rule-based classifier (Rossi and Braun 1997, improved by Li and Braun): signs of
seven residuals, with normal probabilities.
Both take plain SI values, temperatures in K, and answer a fault id, ``no_fault``, ``no_diagnosis`` (a
fault, but not which) or ``no_response`` (the rule cannot be applied).
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from math import erf, log, sqrt
from pathlib import Path

from scipy.special import chdtri

from tests.benchmarks.diagnosis_scores import (
    NO_DIAGNOSIS,
    NO_FAULT,
    NO_RESPONSE,
    Scored,
    confusion_matrix,
    is_faulty,
    print_side_by_side,
)
from tests.benchmarks.published_cases import FEATURES, ORIFICE, VALVE, Case, cases, table

#: The two target tables; recalled from memory, as each says at its head.
TARGETS = Path(__file__).parents[1] / "published" / "data"


def fahrenheit(kelvin: float) -> float:
    """The temperature in °F."""
    return (kelvin - 273.15) * 1.8 + 32.0


def difference_kelvin(fahrenheit_degrees: float) -> float:
    """A difference given in °F, in K."""
    return fahrenheit_degrees / 1.8


# ---------------------------------------------------------------- (i) the field protocol

#: Tolerances of the installer [K]: split ±3 °F, superheat ±5 °F, subcooling ±3 °F of target; superheat of
#: a valve 4 to 25 °F.  RA3 (2008); the split's, the superheat's, the valve's range and the lower side of
#: the subcooling's were seen, its upper side is from memory.
SPLIT_TOLERANCE = difference_kelvin(3.0)
SUPERHEAT_TOLERANCE = difference_kelvin(5.0)
SUBCOOLING_TOLERANCE = difference_kelvin(3.0)
VALVE_SUPERHEAT = (difference_kelvin(4.0), difference_kelvin(25.0))
#: Lowest outdoor dry bulb [°F]: 55 °F, RA3 (2008).
LOWEST_OUTDOOR = 55.0


@cache
def _targets(name: str) -> Mapping[tuple[int, int], float]:
    """Cells of a target table [°F] by row and column [whole °F]; dashes left out."""
    lines = (TARGETS / f"{name}.csv").read_text().splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {
        (int(row["DB_F"]), int(key.removeprefix("WB_"))): float(cell)
        for row in rows
        for key, cell in row.items()
        if key.startswith("WB_") and cell
    }


def target_superheat(outdoor: float, return_wet_bulb: float) -> float | None:
    """Target superheat of a fixed orifice [K] by RA3 Table RA3.2-2 (values from memory); None for a dash.

    The row and column are the nearest whole degrees Fahrenheit, as one reads the table.
    """
    return _target("target_superheat", outdoor, return_wet_bulb)


def target_temperature_split(return_dry_bulb: float, return_wet_bulb: float) -> float | None:
    """Target return minus supply dry bulb [K] by RA3 Table RA3.2-3 (values from memory); None for a dash."""
    return _target("target_temperature_split", return_dry_bulb, return_wet_bulb)


def _target(name: str, row: float, column: float) -> float | None:
    cell = _targets(name).get((round(fahrenheit(row)), round(fahrenheit(column))))
    return None if cell is None else difference_kelvin(cell)


def field_protocol(
    metering_device: str,
    *,
    outdoor: float | None,
    return_dry_bulb: float | None,
    return_wet_bulb: float | None,
    supply_dry_bulb: float | None,
    superheat: float | None,
    subcooling: float | None,
    target_subcooling: float | None,
) -> str:
    """Charge and airflow verification by RA3 (2008); temperatures and differences in K.

    Airflow first: a split over its target by more than 3 °F is too little airflow.  Then the charge: of an
    orifice by superheat (over its target by 5 °F: low charge, under: overcharge), of a valve by
    subcooling (under its target by 3 °F: low charge, over: overcharge).  A valve's superheat outside 4 to
    25 °F, or a split under target with the charge in order, is no fault that the protocol names.  Without
    a target in the tables, or a reading, it cannot be applied.
    """
    if outdoor is None or return_dry_bulb is None or return_wet_bulb is None:
        return NO_RESPONSE
    split = target_temperature_split(return_dry_bulb, return_wet_bulb)
    if split is None or supply_dry_bulb is None or fahrenheit(outdoor) < LOWEST_OUTDOOR:
        return NO_RESPONSE
    over_split = return_dry_bulb - supply_dry_bulb - split
    if over_split > SPLIT_TOLERANCE:
        return "evaporator_airflow"
    if metering_device == VALVE:
        charge = _charge_by_subcooling(subcooling, target_subcooling, superheat)
    else:
        charge = _charge_by_superheat(superheat, target_superheat(outdoor, return_wet_bulb))
    if charge == NO_FAULT and over_split < -SPLIT_TOLERANCE:
        return NO_DIAGNOSIS
    return charge


def _charge_by_superheat(superheat: float | None, target: float | None) -> str:
    if superheat is None or target is None:
        return NO_RESPONSE
    if superheat > target + SUPERHEAT_TOLERANCE:
        return "low_charge"
    return "overcharge" if superheat < target - SUPERHEAT_TOLERANCE else NO_FAULT


def _charge_by_subcooling(subcooling: float | None, target: float | None, superheat: float | None) -> str:
    if subcooling is None or target is None or superheat is None:
        return NO_RESPONSE
    if subcooling < target - SUBCOOLING_TOLERANCE:
        return "low_charge"
    if subcooling > target + SUBCOOLING_TOLERANCE:
        return "overcharge"
    low, high = VALVE_SUPERHEAT
    return NO_FAULT if low <= superheat <= high else NO_DIAGNOSIS


# ---------------------------------------------------------------- (ii) the statistical classifier

#: Share of normal visits inside the normal operating region: 99 %, the example given with the method.
CONFIDENCE = 0.99
#: How much likelier than the second the best class must be: common practice, no source.
RATIO = 2.0
#: Recommended deviations under this [K] count as zero; stated with them.
NEGLIGIBLE = 0.2
#: The one recommended deviation of a valve whose sign is stated as uncertain: it counts as none.
UNCERTAIN = ("condenser_heat_transfer", "subcooling")
#: Mass given to a feature that a class says nothing of: the same for either sign.
INDIFFERENT = 0.5
#: Least mass, so that logarithms exist.
LEAST_MASS = 1e-300

#: Standard deviations of residuals [K] against the unit's own baseline: two runs of good field
#: instruments; common practice, no source.
OWN_DEVIATIONS: Mapping[str, float] = {
    "evaporating": 0.4,
    "superheat": 0.8,
    "condensing": 0.5,
    "subcooling": 0.8,
    "discharge": 1.5,
    "condenser_air_rise": 0.7,
    "evaporator_air_drop": 0.7,
}
#: The same against what is usual for any unit: spread from unit to unit; common practice, no source.
GENERIC_DEVIATIONS: Mapping[str, float] = {
    "evaporating": 1.8,
    "superheat": 2.0,
    "condensing": 2.5,
    "subcooling": 1.5,
    "discharge": 6.0,
    "condenser_air_rise": 1.5,
    "evaporator_air_drop": 1.2,
}


@cache
def chart(metering_device: str) -> Mapping[str, Mapping[str, int]]:
    """Sign of each residual by class: +1, -1, or 0 where the class says nothing of it.

    Fixed orifice: the published chart, five faults, every sign (H. Li, table after Rossi and Braun 1997).
    It has no overcharge and no non-condensable gas.
    Valve: no published chart was at hand, so the signs are those of the recommended deviations of one
    stated level where they reach 0.2 K.  A restricted liquid line shows nothing there until the valve is
    wide open and then the pattern of an orifice, whose signs it takes, as the recommendation says.
    """
    if metering_device == ORIFICE:
        return {
            row["fault"]: {name: 1 if row[name] == "+" else -1 for name in FEATURES}
            for row in table("signs_fixed_orifice")
        }
    signs: dict[str, Mapping[str, int]] = {}
    for row in table("recommended_deviations"):
        fault = row["fault"]
        if row["metering_device"] == VALVE and row["multiple"] == "1" and fault not in signs:
            signs[fault] = {name: 0 if (fault, name) == UNCERTAIN else _sign(float(row[name])) for name in FEATURES}
    return {**signs, "liquid_line_restriction": chart(ORIFICE)["liquid_line_restriction"]}


def _sign(value: float) -> int:
    """The sign of a deviation [K], 0 where negligible."""
    if abs(value) < NEGLIGIBLE:
        return 0
    return 1 if value > 0.0 else -1


def statistical_rules(
    metering_device: str,
    features: Mapping[str, float],
    expected: Mapping[str, float],
    standard_deviations: Mapping[str, float],
    *,
    confidence: float = CONFIDENCE,
    ratio: float = RATIO,
) -> str:
    """The statistical rule-based classifier; features, expectations, standard deviations in K.

    Residuals are normal and independent.  A fault is detected where the residuals lie outside the
    ``confidence`` region of normal operation, an ellipsoid (chi-square of the sum of squares).  The
    probability of a class is the mass of the residual's distribution in the quadrant of its signs, a
    product of normal probabilities; the best is the diagnosis if it beats the second by ``ratio``
    (Rossi and Braun 1997).  Features that are missing on either side are left out.
    """
    standardised = {
        name: (features[name] - expected[name]) / standard_deviations[name]
        for name in FEATURES
        if name in features and name in expected
    }
    if not standardised:
        return NO_RESPONSE
    limit = float(chdtri(len(standardised), 1.0 - confidence))
    if sum(value**2 for value in standardised.values()) <= limit:
        return NO_FAULT
    masses = {fault: log_mass(standardised, signs) for fault, signs in chart(metering_device).items()}
    best, second = sorted(masses, key=lambda fault: masses[fault], reverse=True)[:2]
    return best if masses[best] - masses[second] >= log(ratio) else NO_DIAGNOSIS


def log_mass(standardised: Mapping[str, float], signs: Mapping[str, int]) -> float:
    """Logarithm of the normal mass in the quadrant of the signs, dimensions independent."""
    return sum(
        log(max(normal_probability(signs[name] * value), LEAST_MASS)) if signs[name] else log(INDIFFERENT)
        for name, value in standardised.items()
    )


def normal_probability(deviations: float) -> float:
    """Probability that a standard normal variable is under ``deviations``."""
    return 0.5 * (1.0 + erf(deviations / sqrt(2.0)))


# ---------------------------------------------------------------- a visit


def features_of(readings: Mapping[str, float]) -> dict[str, float]:
    """The seven features [K] from readings by their names in the request [K]; what is missing is left out."""
    ways = {
        "evaporating": ("suction_saturation_temperature", None),
        "superheat": ("suction_line_temperature", "suction_saturation_temperature"),
        "condensing": ("liquid_saturation_temperature", None),
        "subcooling": ("liquid_saturation_temperature", "liquid_line_temperature"),
        "discharge": ("discharge_line_temperature", None),
        "condenser_air_rise": ("condenser_leaving_air_dry_bulb", "outdoor_air_dry_bulb"),
        "evaporator_air_drop": ("return_air_dry_bulb", "supply_air_dry_bulb"),
    }
    return {
        name: readings[first] - (readings[second] if second else 0.0)
        for name, (first, second) in ways.items()
        if first in readings and (second is None or second in readings)
    }


def usual_state(
    metering_device: str,
    *,
    outdoor: float | None,
    return_dry_bulb: float | None,
    return_wet_bulb: float | None,
    target_subcooling: float | None,
) -> dict[str, float]:
    """What any healthy unit may be expected to show [K], where its own baseline is not known.

    Targets of RA3 for superheat of an orifice and for the split (values from memory), the nameplate's
    subcooling; else the middle of what is usual: evaporating 7 °C, condensing 13 K over outdoors,
    subcooling 6 K, superheat of a valve 6 K, discharge 22 K over condensing, air rise of 9 K (common
    practice, no source).
    """
    expected = {
        "evaporating": 7.0 + 273.15,
        "superheat": 6.0,
        "subcooling": 6.0 if target_subcooling is None else target_subcooling,
        "condenser_air_rise": 9.0,
    }
    if outdoor is not None:
        expected |= {"condensing": outdoor + 13.0, "discharge": outdoor + 13.0 + 22.0}
    if metering_device == ORIFICE:
        target = None
        if outdoor is not None and return_wet_bulb is not None:
            target = target_superheat(outdoor, return_wet_bulb)
        if target is None:
            del expected["superheat"]
        else:
            expected["superheat"] = target
    if return_dry_bulb is not None and return_wet_bulb is not None:
        split = target_temperature_split(return_dry_bulb, return_wet_bulb)
        if split is not None:
            expected["evaporator_air_drop"] = split
    return expected


def protocol_answer(case: Case) -> str:
    """The field protocol's answer to a case; it uses no baseline."""
    features = features_of(case.readings)
    return field_protocol(
        case.metering_device,
        outdoor=case.readings.get("outdoor_air_dry_bulb"),
        return_dry_bulb=case.readings.get("return_air_dry_bulb"),
        return_wet_bulb=case.readings.get("return_air_wet_bulb"),
        supply_dry_bulb=case.readings.get("supply_air_dry_bulb"),
        superheat=features.get("superheat"),
        subcooling=features.get("subcooling"),
        target_subcooling=case.target_subcooling,
    )


def classifier_answer(case: Case, *, with_baseline: bool, condenser_air: bool = False) -> str:
    """The classifier's answer to a case, against its own baseline or against what is usual.

    Air leaving the condenser is left out unless ``condenser_air``, as in the request.
    """
    features = features_of(case.readings)
    if not condenser_air:
        features.pop("condenser_air_rise", None)
    if with_baseline:
        if case.baseline is None:
            return NO_RESPONSE
        expected = features_of(case.baseline)
        return statistical_rules(case.metering_device, features, expected, OWN_DEVIATIONS)
    usual = usual_state(
        case.metering_device,
        outdoor=case.readings.get("outdoor_air_dry_bulb"),
        return_dry_bulb=case.readings.get("return_air_dry_bulb"),
        return_wet_bulb=case.readings.get("return_air_wet_bulb"),
        target_subcooling=case.target_subcooling,
    )
    return statistical_rules(case.metering_device, features, usual, GENERIC_DEVIATIONS)


def scored(case: Case, answer: str) -> Scored:
    """The case with its answer."""
    return Scored(case.truth, answer, is_faulty(case.truth, case.capacity_ratio, case.efficiency_ratio))


def answers() -> dict[str, list[Scored]]:
    """Every case answered by each rule.

    The classifier with six residuals (no air leaving the condenser, as in the request) and with all
    seven, against what is usual for any unit and against the unit's own baseline.
    """
    found = cases()
    results = {"protocol": [scored(case, protocol_answer(case)) for case in found]}
    for name, air, own in (
        ("six, usual", False, False),
        ("seven, usual", True, False),
        ("six, own", False, True),
        ("seven, own", True, True),
    ):
        results[name] = [scored(case, classifier_answer(case, with_baseline=own, condenser_air=air)) for case in found]
    return results


def main() -> None:
    """Print the rates side by side, by metering device, and the confusion of each rule."""
    devices = [case.metering_device for case in cases()]
    results = answers()
    for device in (None, VALVE, ORIFICE):
        print(device or "all cases")
        print_side_by_side(
            {
                name: [one for one, own in zip(rows, devices, strict=True) if device in (None, own)]
                for name, rows in results.items()
            }
        )
        print()
    for name, rows in results.items():
        print(f"{name}: answers by truth")
        for truth, counts in confusion_matrix([(row.truth, row.answer) for row in rows]).items():
            print(f"  {truth}: " + ", ".join(f"{key} {n}" for key, n in counts.items() if n))
        print()


if __name__ == "__main__":
    main()
