"""Readings and their units, taken in as those of a visit.

The first byte says which reading and which unit system; the rest is its value as JSON.
"""

from __future__ import annotations

import json
import math
from functools import cache
from statistics import fmean
from typing import Any

import pint
from pydantic import ValidationError

from schemas.assessments import AssessmentRequest
from schemas.problems import Problem
from schemas.readings import READINGS
from service.edge.problems import ProblemError, cannot_be_assessed
from service.edge.refused_fields import invalid_request
from service.edge.strict_json import parse
from service.intake.refusals import RefusedError
from service.intake.take_in import take_in
from service.reference.units import KINDS
from tests.answers import conforms
from tests.fuzz import bodies

CODE = (
    "schemas.quantities",
    "schemas.readings",
    "service.intake.entry",
    "service.intake.readings",
    "service.reference.units",
    "service.uncertainty.repeats",
    "service.edge.problems",
    "service.edge.refused_fields",
)

SYSTEMS = ("imperial", "metric")
NAMES = sorted(READINGS)

_VALUES = (
    "118.5",
    "-3",
    "0",
    "[70.1, 70.3, 70.2]",
    '{"value": 21.5}',
    '{"value": 1e-308, "unit": null}',
    '{"values": [5, 5.1], "unit": "degC"}',
    '{"value": 1, "values": [1, 2]}',
    "[]",
    "null",
    '"12"',
    "true",
    '{"value": 200, "unit": "psia"}',
    '{"value": 4, "unit": "bar", "reference": "absolute"}',
    '{"value": 120, "unit": "psig", "reference": "absolute"}',
    '{"value": 300, "unit": "K"}',
    '{"value": 0.4, "unit": "inH2O"}',
    '{"value": 1.2, "unit": "kW", "instrument": "meter"}',
)
SEEDS = [
    bytes([(place * 7 + turn) % 256]) + value.encode()
    for place in range(len(NAMES))
    for turn, value in enumerate(_VALUES[place % 3 :: 3])
] + [
    bytes([place * 2]) + json.dumps({"value": spec.example, "unit": unit}).encode()
    for place, spec in enumerate(READINGS[name] for name in NAMES)
    for unit in KINDS[spec.kind].units
    if place * 2 < 256
]


@cache
def _registry() -> Any:  # noqa: ANN401
    return pint.UnitRegistry()


#: Of each kind of reading: what it is in SI, for the units library.
_SI = {
    "temperature": "kelvin",
    "pressure": "pascal",
    "static_pressure": "pascal",
    "current": "ampere",
    "voltage": "volt",
    "power": "watt",
    "ratio": "dimensionless",
    "fraction": "dimensionless",
    "airflow": "meter**3/second",
    "condensate_rate": "kilogram/second",
    "heat_flow": "watt",
}


def check(data: bytes) -> None:
    """A value is refused in words, or is in SI what the units library says it is."""
    head = data[0] if data else 0
    system, name = SYSTEMS[head % 2], NAMES[head // 2 % len(NAMES)]
    try:
        value = parse(data[1:])
    except ProblemError:
        return  # that is the target "bodies"
    group, _, member = name.rpartition(".")
    readings = {group: {member: value}} if group else {name: value}
    body = {"units": system, "run": {"readings": readings}}
    try:
        request = AssessmentRequest.model_validate(body)
    except ValidationError as error:
        rows = [{**row, "loc": ("body", *row["loc"])} for row in error.errors()]
        conforms(Problem, invalid_request(rows))
        assert all(len(row["pointer"]) <= 303 for row in invalid_request(rows)["errors"])
        return
    try:
        visit = take_in(request)
    except RefusedError as refused:
        conforms(Problem, cannot_be_assessed(refused))
        assert refused.refusals
        return
    if value is None:
        assert name not in visit.readings
        return
    # One that cannot be right is left out, with its value.
    left_out = {one.readings[0]: one.value for one in visit.left_out if len(one.readings) == 1}
    taken = {**visit.readings, **left_out}[name]
    assert math.isfinite(taken)
    expected = _in_si(name, system, value)
    scale = max(abs(expected), 1e-12)
    assert math.isclose(taken, expected, rel_tol=1e-9, abs_tol=1e-9 * scale), (taken, expected)


def _in_si(name: str, system: str, value: Any) -> float:  # noqa: ANN401
    kind = KINDS[READINGS[name].kind]
    unit = kind.imperial if system == "imperial" else kind.metric
    numbers = value
    if isinstance(value, dict):
        unit = value.get("unit") or unit
        numbers = value["values"] if "values" in value else value["value"]
    registry = _registry()
    given = fmean(map(float, numbers)) if isinstance(numbers, list) else float(numbers)
    # psig and psia are psi with a word on where zero is.
    symbol = {"psig": "psi", "psia": "psi", "1": "dimensionless", "%": "percent"}.get(unit, unit)
    symbol = symbol.replace("m3/", "meter**3/").replace("Btu/h", "Btu_it/hour").replace("lb/h", "pound/hour")
    symbol = symbol.replace("kg/h", "kilogram/hour").replace("/h", "/hour").replace("hourour", "hour")
    quantity = registry.Quantity(given, symbol.replace("cfm", "foot**3/minute"))
    return float(quantity.to(_SI[READINGS[name].kind]).magnitude)


mutated = bodies.mutated
