"""Grades made without texts are those of the whole answer, letter for letter."""

from __future__ import annotations

import copy
from typing import Any

import orjson
import pytest
from hypothesis import assume, given, reject
from hypothesis import strategies as st
from pydantic import ValidationError

from schemas.assessments import AssessmentRequest
from schemas.examples import diagnosis_examples, examples
from service.assess.examination import examine
from service.assess.grades import grades_of
from service.assess.pipeline import grades, report
from service.intake.refusals import RefusedError

BODIES: dict[str, dict[str, Any]] = {
    name: {part: value for part, value in body.items() if part != "baseline"}
    for name, body in (*examples().items(), *diagnosis_examples().items())
}

#: Parts of a request besides its readings, each of which decides which checks and limits apply.
PARTS = st.fixed_dictionaries(
    {},
    optional={
        "mode": st.sampled_from(["cooling", "heating"]),
        "ducted": st.booleans(),
        "capacity_control": st.sampled_from(["single_speed", "two_stage", "variable_speed"]),
        "refrigerant": st.sampled_from([None, "R-22", "R-410A", "R-454B", "R-290"]),
        "metering_device": st.sampled_from([None, "fixed_orifice", "electronic_expansion_valve"]),
        "nameplate": st.none(),
    },
)
SITES = st.fixed_dictionaries(
    {},
    optional={"altitude": st.sampled_from([0, 400, 1500]), "outdoor_unit_on_roof": st.just(True)},
)
WORK = st.lists(st.sampled_from(["coil_cleaning", "charge_adjustment", "capacitor_replacement"]), unique=True)


def told_alike(request: AssessmentRequest) -> bool:
    """Whether both ways give the same bytes."""
    examined = examine(request)
    whole = orjson.dumps(grades_of(report(examined)))
    return orjson.dumps(grades(examined)) == whole


@pytest.mark.parametrize("name", BODIES)
def test_examples(name: str) -> None:
    """Every example of one visit."""
    assert told_alike(AssessmentRequest.model_validate(BODIES[name]))


def moved(reading: Any, factor: float) -> Any:  # noqa: ANN401
    """A reading as given, with its numbers multiplied."""
    if isinstance(reading, dict):
        return {
            name: moved(part, factor) if name not in ("unit", "instrument", "reference") else part
            for name, part in reading.items()
        }
    if isinstance(reading, list):
        return [moved(part, factor) for part in reading]
    return round(reading * factor, 2)


def without_instruments(part: Any) -> Any:  # noqa: ANN401
    """A part of a request with no instrument named."""
    if isinstance(part, dict):
        return {name: without_instruments(value) for name, value in part.items() if name != "instrument"}
    return [without_instruments(value) for value in part] if isinstance(part, list) else part


#: An example, with any of its readings, each as it is or far off.
CHOSEN = st.sampled_from(sorted(BODIES)).flatmap(
    lambda name: st.tuples(
        st.just(name),
        st.fixed_dictionaries(
            {},
            optional={
                reading: st.one_of(st.just(1.0), st.floats(0.6, 1.5)) for reading in BODIES[name]["run"]["readings"]
            },
        ),
    )
)


@st.composite
def requests(draw: st.DrawFn) -> AssessmentRequest:
    """Any readings of an example, as they are or far off, of another unit, with or without its kit."""
    name, factors = draw(CHOSEN)
    body = copy.deepcopy(BODIES[name])
    readings = body["run"]["readings"]
    body["run"] |= {
        "readings": {one: moved(readings[one], factor) for one, factor in factors.items()},
        "minutes_running": draw(st.sampled_from([None, 5, 20])),
        "work": draw(WORK),
    }
    body["unit"] |= draw(PARTS)
    body["site"] = body.get("site", {}) | draw(SITES)
    if not draw(st.booleans()):
        body["run"] = without_instruments(body["run"])
        body.pop("kit", None)
    try:
        return AssessmentRequest.model_validate(body)
    except ValidationError:
        reject()


@given(requests())
def test_any_readings(request: AssessmentRequest) -> None:
    """Whatever is given."""
    try:
        alike = told_alike(request)
    except RefusedError:
        assume(False)
    assert alike
