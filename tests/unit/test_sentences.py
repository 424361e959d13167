"""No field name, code or path stands in a sentence that people read."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient

from schemas.examples import (
    comparison_examples,
    diagnosis_examples,
    examples,
    plan_examples,
    trend_examples,
)
from schemas.readings import READINGS
from service.reference.cautions import CAUTIONS
from service.reference.faults import FAULTS
from service.reference.limits import LIMITS
from service.reference.sources import SOURCES, source
from service.words.phrases import spoken
from tests.nightly import AT_NIGHT

Body = dict[str, Any]

BODIES: dict[str, tuple[tuple[str, ...], Body]] = {
    **{n: (("/v1/assessments", "/v1/diagnoses"), dict(b)) for n, b in examples().items()},
    **{n: (("/v1/diagnoses",), dict(b)) for n, b in diagnosis_examples().items()},
    **{n: (("/v1/comparisons",), dict(b)) for n, b in comparison_examples().items()},
    **{n: (("/v1/plans",), dict(b)) for n, b in plan_examples().items()},
    **{n: (("/v1/trends",), dict(b)) for n, b in trend_examples().items()},
}


def runs_of(body: Body) -> list[Body]:
    """All runs of a body, whatever it asks for."""
    several = body.get("runs") or []
    found = list(several.values()) if isinstance(several, dict) else list(several)
    return found + [body[name] for name in ("run", "baseline") if body.get(name)]


def heating(body: Body) -> None:
    body["unit"]["mode"] = "heating"


def without_refrigerant(body: Body) -> None:
    body["unit"].pop("refrigerant", None)


def without_device(body: Body) -> None:
    body["unit"].pop("metering_device", None)


def without_usage(body: Body) -> None:
    body.pop("usage", None)
    body["unit"].pop("rated", None)


def variable_speed(body: Body) -> None:
    body["unit"]["capacity_control"] = "variable_speed"


def two_minutes(body: Body) -> None:
    for run in runs_of(body):
        run["minutes_running"] = 2


def swapped_gauges(body: Body) -> None:
    for run in runs_of(body):
        readings = run["readings"]
        if {"suction_pressure", "liquid_pressure"} <= readings.keys():
            low, high = readings["suction_pressure"], readings["liquid_pressure"]
            readings["suction_pressure"], readings["liquid_pressure"] = high, low


def one_reading(body: Body) -> None:
    for run in runs_of(body):
        name = next(n for n in ("suction_pressure", *run["readings"]) if n in run["readings"])
        run["readings"] = {name: run["readings"][name]}


def whole(_: Body) -> None:
    pass


CUTS: tuple[Callable[[Body], None], ...] = (
    whole,
    heating,
    without_refrigerant,
    without_device,
    without_usage,
    variable_speed,
    two_minutes,
    swapped_gauges,
    one_reading,
)


def sentences(value: Any, where: str = "") -> Iterator[tuple[str, str]]:  # noqa: ANN401
    """All texts of several words, with where they stand."""
    if isinstance(value, dict):
        for name, part in value.items():
            yield from sentences(part, f"{where}/{name}")
    elif isinstance(value, list):
        for part in value:
            yield from sentences(part, where)
    elif isinstance(value, str) and " " in value:
        yield where, value


@pytest.mark.parametrize(
    ("name", "cut"),
    [
        (name, cut)
        for place, name in enumerate(BODIES)
        for number, cut in enumerate(CUTS)
        if AT_NIGHT or (place + number) % 3 == 0  # in CI a third, every body and every cut among them
    ],
)
def test_no_sentence_holds_a_code_word(client: TestClient, name: str, cut: Callable[[Body], None]) -> None:
    """Neither an underscore nor a backtick, in any sentence of any answer."""
    addresses, body = BODIES[name]
    body = copy.deepcopy(body)
    cut(body)
    for address in addresses:
        answer = client.post(address, json=body)
        if answer.status_code != 200:
            # A refusal names the fields that are refused.
            assert answer.status_code == 422
            continue
        found = list(sentences(answer.json()))
        assert found
        for where, text in found:
            assert "_" not in text, (where, text)
            assert "`" not in text, (where, text)


def test_no_text_of_the_tables_holds_a_code_word() -> None:
    """Those too that no example brings up."""
    for row in FAULTS.values():
        texts = [row.text, row.level_text, row.separate, row.harm, *(s.text for s in row.steps)]
        assert not any(mark in text for text in texts for mark in "_`")
    for limit in LIMITS.values():
        assert not any(mark in text for text in (limit.below, limit.above) for mark in "_`" if text)
    assert not any("_" in source(name) for name in SOURCES)
    assert not any("_" in caution.text + caution.deferral for caution in CAUTIONS.values())


def test_every_reading_is_spoken_of_in_words() -> None:
    """And the parts of a group by their own names."""
    for name in READINGS:
        assert not {"_", "."} & set(spoken(f"run.readings.{name}"))
    assert spoken("run.readings.line_voltages.l1_l2") == "line voltages L1 to L2"
    assert spoken("unit.nameplate.subcooling") == "the nameplate's subcooling"
    assert spoken("unit.rated.cooling_capacity") == "the rated cooling capacity"
