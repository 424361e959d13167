"""A limit whose procedure asks for more minutes says so on the page, to the customer and in the table."""

from __future__ import annotations

import copy
import csv
import io

from schemas.assessments import Assessment, AssessmentRequest
from schemas.examples import examples
from service.assess.pipeline import assess
from service.render import passages
from service.render.spreadsheet import of_assessment

AGAIN = "The unit had not run long enough for this check"


def answered(minutes: float) -> Assessment:
    """The first example with a warm liquid line, so that subcooling is under its target."""
    body = copy.deepcopy(dict(next(iter(examples().values()))))
    body["run"]["minutes_running"] = minutes
    body["run"]["readings"]["liquid_line_temperature"] = {"value": 106.0, "instrument": "clamps"}
    return assess(AssessmentRequest.model_validate(body))


def test_what_a_procedure_asks_for_is_said_to_everybody() -> None:
    """RA3-2008 asks for 15 minutes of running."""
    early, settled = answered(12.0), answered(20.0)
    for answer, said in ((early, True), (settled, False)):
        found = passages.outside(answer, "customer") + passages.undecided(answer, "customer")
        assert any(AGAIN in text for text in found) is said
        told = passages.outside(answer, "technician")
        assert any("asks for 15 minutes of running" in text for text in told) is said
        rows = list(csv.DictReader(io.StringIO(of_assessment(answer))))
        assert any(row["condition_not_met"] for row in rows) is said
