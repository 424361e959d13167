"""The invented fleet behind the batch benchmarks: the same for the same seed, accepted, varied."""

from __future__ import annotations

from itertools import islice
from typing import Any

import orjson

from service.batches.answers import answer_lines
from service.physics.refrigerant import saturation_curves
from tests.benchmarks.fleet_visits import SHAPES, comparisons, lines, visits


def test_the_same_seed_gives_the_same_visits_and_a_longer_stream_begins_like_a_shorter() -> None:
    many = list(visits(300, seed=4))
    assert list(visits(300, seed=4)) == many
    assert list(visits(20, seed=4)) == many[:20]
    assert list(visits(20, seed=5)) != many[:20]
    assert list(comparisons(5, seed=4)) == list(islice(comparisons(9, seed=4), 5))


def test_every_visit_is_accepted() -> None:
    answers = [orjson.loads(line) for line in answer_lines(list(lines(150, seed=2)))]
    assert [answer.get("problem") for answer in answers] == [None] * len(answers)
    # Most visits are without a notice worth a reservation, as most people read with care.
    grades = [answer["assessment"]["usability"]["grade"] for answer in answers]
    assert grades.count("usable") > 0.7 * len(grades)
    judged = {finding["grade"] for answer in answers for finding in answer["assessment"]["findings"]}
    assert judged == {"conforming", "nonconforming", "inconclusive", "not_assessed"}


def test_comparisons_are_accepted_and_come_in_the_share_asked_for() -> None:
    mixed = [orjson.loads(line) for line in lines(40, seed=2, compared=0.1)]
    pairs = [line for line in mixed if "comparison" in line]
    assert len(mixed) == 40
    assert len(pairs) == 4
    answers = [orjson.loads(line) for line in answer_lines([orjson.dumps(line) for line in pairs])]
    assert all("comparison" in answer for answer in answers)


def test_visits_are_of_many_shapes_in_the_shares_stated() -> None:
    fleet = list(visits(2000, seed=3))
    assert sum(shape.share for shape in SHAPES) == 1.0

    def kind(body: dict[str, Any]) -> tuple[str, ...]:
        return tuple(sorted(body["run"]["readings"]))

    counts: dict[tuple[str, ...], int] = {}
    for body in fleet:
        counts[kind(body)] = counts.get(kind(body), 0) + 1
    for names in {tuple(sorted(shape.readings)) for shape in SHAPES}:
        share = sum(shape.share for shape in SHAPES if tuple(sorted(shape.readings)) == names)
        expected = share * len(fleet)
        assert abs(counts[names] - expected) < 4.5 * expected**0.5
    assert {body["units"] for body in fleet} == {"imperial", "metric"}
    assert len({body["unit"]["refrigerant"] for body in fleet}) >= 5
    # Some forget a reading, so the sets of readings are more than the shapes.
    assert len(counts) > 2 * len(SHAPES)


def test_pressures_and_temperatures_of_a_visit_belong_together() -> None:
    """Superheat and subcooling of nearly all visits are what a running unit has."""
    plausible = []
    for body in visits(600, seed=6):
        readings = {
            name: read["value"] if isinstance(read, dict) and "value" in read else read
            for name, read in body["run"]["readings"].items()
        }
        if body["units"] == "metric" or not {"suction_pressure", "suction_line_temperature"} <= set(readings):
            continue
        if isinstance(readings["suction_pressure"], dict | list):
            continue
        altitude = body["site"]["altitude"] * 0.3048
        atmosphere = 101325.0 * (1.0 - 2.25577e-5 * altitude) ** 5.2559
        curves = saturation_curves(body["unit"]["refrigerant"])
        dew = curves.dew_temperature(readings["suction_pressure"] * 6894.757 + atmosphere)
        superheat = readings["suction_line_temperature"] - ((float(dew) - 273.15) * 1.8 + 32.0)
        plausible.append(0.0 < superheat < 45.0)
    assert len(plausible) > 200
    assert sum(plausible) > 0.97 * len(plausible)
