"""Pictures and pages of readings at random: drawn whole, or refused with a reason."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from contextlib import suppress
from typing import Any
from xml.etree import ElementTree

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from schemas.examples import comparison_examples, diagnosis_examples, examples, trend_examples
from schemas.pictures import AnyBody, kind_of
from service.intake.refusals import RefusedError
from service.render.pictures import PICTURES, picture
from service.render.report import page
from tests.conftest import visit
from tests.properties.cases import slow_cases
from tests.properties.test_visit_properties import REFRIGERANT, SOME_READINGS

BODIES = {
    **examples(),
    **diagnosis_examples(),
    **comparison_examples(),
    **trend_examples(),
}
READINGS = sorted(examples()["r410a_capacity"]["run"]["readings"])
ADAPTER: TypeAdapter[AnyBody] = TypeAdapter(AnyBody)
#: A number that is none, as SVG or a sentence would show it.
NO_NUMBER = re.compile(r"(?<![\w-])(nan|inf)(?![\w-])", re.IGNORECASE)


def changed_body(
    name: str,
    dropped: set[str],
    scales: dict[str, float],
    refrigerant: str | None,
    units: str,
    mode: str,
) -> dict[str, Any]:
    """An example with readings left out and scaled, of another refrigerant, in other units."""
    body = copy.deepcopy(dict(BODIES[name]))
    body["units"] = units
    body["unit"] |= {"mode": mode}
    body["unit"].pop("refrigerant", None)
    if refrigerant is not None:
        body["unit"]["refrigerant"] = refrigerant
    runs = body.get("runs") or [body["run"]]
    for place, run in enumerate(runs.values() if isinstance(runs, dict) else runs):
        kept = {k: v for k, v in run["readings"].items() if k not in dropped}
        for reading, scale in scales.items():
            if isinstance(kept.get(reading), int | float) and place:
                kept[reading] *= scale
        run["readings"] = kept
    return body


def pictures_of(request: AnyBody) -> Iterator[tuple[str, str]]:
    """Every picture that fits the body and is not refused; what a refusal names is tested in
    ``tests/unit/render/test_pictures.py``."""
    kind = kind_of(request)
    for plot, row in PICTURES.items():
        if kind in row.kinds:
            with suppress(RefusedError):
                yield plot, picture(plot, request).svg()


@pytest.mark.slow
@slow_cases(in_ci=12)
@given(
    name=st.sampled_from(sorted(BODIES)),
    dropped=st.sets(st.sampled_from(READINGS), max_size=14),
    scales=st.dictionaries(st.sampled_from(READINGS), st.floats(0.3, 1.8), max_size=4),
    refrigerant=st.sampled_from((None, "R-410A", "R-22", "R-290", "R-454C")),
    units=st.sampled_from(("imperial", "metric")),
    mode=st.sampled_from(("cooling", "cooling", "heating")),
)
def test_any_readings_are_drawn_or_refused_with_a_reason(
    name: str,
    dropped: set[str],
    scales: dict[str, float],
    refrigerant: str | None,
    units: str,
    mode: str,
) -> None:
    """Every picture that fits the body, and both pages: well formed, every number a number."""
    body = changed_body(name, dropped, scales, refrigerant, units, mode)
    try:
        request = ADAPTER.validate_python(body)
    except ValidationError:
        return  # out of the range of any unit
    for plot, drawn in pictures_of(request):
        ElementTree.fromstring(drawn)
        assert NO_NUMBER.search(drawn) is None, plot
    try:
        pages = [page(request, "technician"), page(request, "customer")]
    except RefusedError:
        return
    for text in pages:
        assert NO_NUMBER.search(text) is None
        assert text.count("<li>") >= 3


@pytest.mark.slow
@slow_cases(in_ci=15)
@given(
    refrigerant=st.one_of(st.none(), REFRIGERANT),
    readings=SOME_READINGS,
    mode=st.sampled_from(["cooling", "cooling", "heating"]),
    altitude=st.floats(-1000, 15000),
)
def test_visits_at_the_ends_of_what_is_possible_are_drawn_or_refused(
    client: TestClient,
    refrigerant: str | None,
    readings: dict[str, float | list[float]],
    mode: str,
    altitude: float,
) -> None:
    """Never a 500, and no number that is none."""
    body = visit(
        unit={"refrigerant": refrigerant, "mode": mode},
        site={"altitude": altitude},
        readings=readings,
    )
    for address in (
        *(f"/v1/plots/{plot}" for plot, row in PICTURES.items() if "visit" in row.kinds),
        "/v1/reports",
    ):
        answer = client.post(address, json=body)
        assert answer.status_code in (200, 422), address
        if answer.status_code == 200:
            assert NO_NUMBER.search(answer.text) is None, address
