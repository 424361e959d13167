"""The order in which a kit names its instruments means nothing."""

from __future__ import annotations

from typing import Any

import numpy as np
import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from schemas.assessments import AssessmentRequest
from schemas.comparisons import ComparisonRequest
from schemas.examples import comparison_examples, examples
from service.assess.pipeline import assess
from service.compare.comparison import compare
from service.intake.refusals import RefusedError
from tests.benchmarks.fleet_visits import visits

#: A second instrument of a type that most kits hold, an idle one, and a gauge that was not zeroed.
MORE: dict[str, Any] = {
    "a spare meter": {"type": "clamp_meter"},
    "a thermometer": {"type": "digital_thermometer"},
    "an idle hood": {"type": "airflow_hood"},
    "the other gauges": {"type": "analog_gauge", "open_to_air_reading": {"value": 20, "unit": "psi"}},
    "Gauges": {"type": "analog_gauge", "open_to_air_reading": {"value": -20, "unit": "psi"}},
}


def answered(body: dict[str, Any], names: list[str]) -> bytes:
    """The bytes of an assessment with its kit in this order, or of its refusals."""
    kit = {name: body["kit"][name] for name in names}
    try:
        return orjson.dumps(assess(AssessmentRequest.model_validate({**body, "kit": kit})))
    except RefusedError as error:
        return repr(error.refusals).encode()


@pytest.mark.parametrize("name", sorted(examples()))
@given(data=st.data())
def test_the_order_of_the_kit_changes_no_byte(name: str, data: st.DataObject) -> None:
    more = data.draw(st.sets(st.sampled_from(sorted(MORE))))
    body = {**examples()[name], "kit": examples()[name]["kit"] | {key: MORE[key] for key in more}}
    names = list(body["kit"])
    assert answered(body, data.draw(st.permutations(names))) == answered(body, names)


def test_of_a_fleet() -> None:
    generator = np.random.default_rng(5)
    for body in visits(60, 13):
        names = list(body["kit"])
        assert answered(body, list(generator.permutation(names))) == answered(body, names)


def test_of_a_comparison() -> None:
    """Several orders of the kit, of two runs that share its errors."""
    body = comparison_examples()["coil_cleaned"]
    names = list(body["kit"])
    orders = [names, names[::-1], names[3:] + names[:3]]
    found = {
        orjson.dumps(
            compare(ComparisonRequest.model_validate({**body, "kit": {name: body["kit"][name] for name in order}}))
        )
        for order in orders
    }
    assert len(found) == 1
