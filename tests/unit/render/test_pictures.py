"""Pictures of limits, of the refrigerant cycle and of the air: read back through their own ticks.

What lies where is checked against the answer and CoolProp; what holds for any picture, over every plot and
every example.
"""

from __future__ import annotations

import copy
import hashlib
import os
import re
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from math import log
from typing import Any
from xml.etree import ElementTree

import CoolProp
import numpy as np
import psychrolib
import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.examples import (
    comparison_examples,
    diagnosis_examples,
    every_example,
    examples,
    trend_examples,
)
from schemas.pictures import AnyBody, PictureTheme, PlotName, kind_of
from schemas.trends import TrendRequest
from service.assess.examination import examine
from service.assess.pipeline import assess
from service.compare.comparison import compare
from service.derive.derivations import QUANTITIES
from service.derive.states import air_states, refrigerant_states, site_pressure
from service.intake.refusals import RefusedError
from service.physics.array_types import FloatArray
from service.physics.moist_air import humidity_ratio_from_relative_humidity
from service.physics.saturation_sampling import mixture_state
from service.reference.refrigerants import REFRIGERANTS
from service.render import changes_chart, limits_chart
from service.render.axes import Scale, logarithmic_ticks, step_of, tick_text, ticks
from service.render.drawing import WIDTH, Drawing, plain, text_width, wrapped
from service.render.palette import CLASSES, SIZES
from service.render.pictures import PICTURES, Asked, picture
from service.render.raster import png
from service.render.runs import Box, named
from service.render.wording import finding_label, words
from tests.answers import Loose, untyped
from tests.conftest import visit
from tests.drawn import HOSTILE, SVG, Axis, Seen, corners, inside, number

BODY: TypeAdapter[Any] = TypeAdapter(AnyBody)
PSI = 6894.757293168361
PLOTS: list[PlotName] = TypeAdapter(PlotName).json_schema()["enum"]
THEMES: list[PictureTheme] = TypeAdapter(PictureTheme).json_schema()["enum"]


def request_of(body: Mapping[str, Any]) -> Any:  # noqa: ANN401 - one of three models
    return BODY.validate_python(body)


@cache
def state(designation: str) -> Any:  # noqa: ANN401 - the library has no types
    made = mixture_state(REFRIGERANTS[designation])
    if REFRIGERANTS[designation].fluid is None:
        made.build_phase_envelope("none")
    return made


def readings(
    designation: str = "R-22",
    evaporating: float = 5.0,
    condensing: float = 45.0,
    superheat: float = 8.0,
    subcooling: float = 5.0,
    **others: float | None,
) -> Loose:
    """Readings of a visit from its temperatures [°C]; ``None`` leaves one out."""
    found: dict[str, Any] = {}
    for name, quality, celsius in (
        ("suction_pressure", 1, evaporating),
        ("liquid_pressure", 0, condensing),
    ):
        one = state(designation)
        one.update(CoolProp.QT_INPUTS, quality, celsius + 273.15)
        found[name] = {"value": one.p() / 1e3, "unit": "kPa", "reference": "absolute"}
    temperatures = {
        "suction_line_temperature": evaporating + superheat,
        "liquid_line_temperature": condensing - subcooling,
        "discharge_line_temperature": condensing + 40.0,
        "return_air_dry_bulb": 26.0,
        "return_air_wet_bulb": 19.0,
        "supply_air_dry_bulb": 14.0,
        "supply_air_wet_bulb": 13.0,
    }
    for name, value in temperatures.items():
        found[name] = {"value": value, "unit": "degC"}
    for name, other in others.items():
        if other is None:
            found.pop(name)
        else:
            found[name] = {"value": other, "unit": "degC"}
    return found


def one_visit(units: str = "metric", designation: str = "R-22", **others: Any) -> Loose:  # noqa: ANN401
    return visit(units, unit={"refrigerant": designation}, readings=readings(designation, **others))


def two_visits(before: dict[str, Any], after: dict[str, Any]) -> Loose:
    body = {key: part for key, part in before.items() if key != "run"}
    return body | {"runs": {"before": before["run"], "after": after["run"]}}


# ---------------------------------------------------------------- refrigerant cycle


class Cycle:
    """A pressure-enthalpy diagram read through its ticks, in Pa and J/kg from the axis' zero."""

    def __init__(self, body: Any, units: str) -> None:  # noqa: ANN401
        self.seen = Seen(picture("refrigerant_cycle", body))
        self.across, self.up = Axis(self.seen, "x"), Axis(self.seen, "y", logarithmic=True)
        self.pressure, self.height = (1e3, 1e3) if units == "metric" else (PSI, 2326.0)
        self.pixel = abs(self.across.slope) * self.height

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Enthalpy and pressure of a point."""
        return self.across.value(x) * self.height, self.up.value(y) * self.pressure

    def points(self, style: str) -> list[tuple[float, float]]:
        """Of the marks of a class."""
        return [self.at(number(e, "cx"), number(e, "cy")) for e in self.seen.all("circle", style)]


def in_si(derived: Mapping[str, Any]) -> float:
    """An absolute pressure of an answer [Pa]."""
    return float(derived["value"]) * {"kPa": 1e3, "psia": PSI}[derived["unit"]]


def celsius(body: Mapping[str, Any], name: str) -> float:
    """A temperature of a body, however it is written [°C]."""
    given_as = body["run"]["readings"][name]
    value = given_as["value"] if isinstance(given_as, dict) else given_as
    unit = given_as.get("unit") if isinstance(given_as, dict) else None
    fahrenheit = unit == "degF" or (unit is None and body["units"] == "imperial")
    return float((value - 32.0) / 1.8 if fahrenheit else value)


def enthalpy(designation: str, pressure: float, temperature: float, phase: int) -> float:
    """Direct call [J/kg]; pressure in Pa, temperature in °C."""
    one = mixture_state(REFRIGERANTS[designation])
    one.specify_phase(phase)
    one.update(CoolProp.PT_INPUTS, pressure, temperature + 273.15)
    return float(one.hmass())


def zero_of(designation: str, units: str) -> float:
    """The library's enthalpy where the axis has its zero: IIR in metric, ASHRAE in imperial."""
    at, there = (273.15, 200e3) if units == "metric" else (233.15, 0.0)
    one = state(designation)
    one.update(CoolProp.QT_INPUTS, 0, at)
    return float(one.hmass()) - there


def expected_points(body: dict[str, Any]) -> list[tuple[float, float]]:
    """Points 1 to 4 by the answer's pressures, the body's temperatures and CoolProp."""
    derived = assess(request_of(body))["derived"]
    designation, units = body["unit"]["refrigerant"], body["units"]
    low = in_si(derived["suction_pressure_absolute"])
    high = in_si(derived["high_side_pressure_absolute"])
    zero = zero_of(designation, units)
    gas, liquid = CoolProp.iphase_gas, CoolProp.iphase_liquid
    fluid = enthalpy(designation, high, celsius(body, "liquid_line_temperature"), liquid)
    return [
        (enthalpy(designation, low, celsius(body, "suction_line_temperature"), gas) - zero, low),
        (enthalpy(designation, high, celsius(body, "discharge_line_temperature"), gas) - zero, high),
        (fluid - zero, high),
        (fluid - zero, low),
    ]


CYCLES = [
    examples()["r410a_capacity"],
    examples()["r454b_heat_pump_cooling"],
    one_visit("metric", "R-22"),
    one_visit("imperial", "R-32"),
]


@pytest.mark.parametrize("body", CYCLES, ids=lambda b: f"{b['unit']['refrigerant']} {b['units']}")
def test_points_lie_where_the_answer_and_the_library_say(body: dict[str, Any]) -> None:
    """Enthalpy within 0.6 kJ/kg (what the tables are good for) and a tenth of a pixel, pressure 0.1 %."""
    drawn = Cycle(request_of(body), body["units"])
    found = drawn.points("mark-good")
    expected = expected_points(body)
    assert len(found) == 4
    for (height, pressure), (other, at) in zip(found, expected, strict=True):
        assert height == pytest.approx(other, abs=600.0 + 0.1 * drawn.pixel)
        assert pressure == pytest.approx(at, rel=1e-3)
    # Pieces from point to point, all around.
    pieces = [corners(e) for e in drawn.seen.all("path", "line-good")]
    one, two, three, four = ((number(e, "cx"), number(e, "cy")) for e in drawn.seen.all("circle", "mark-good"))
    assert pieces == [[one, two], [two, three], [three, four], [four, one]]


def share_inside(outline: FloatArray, points: FloatArray) -> float:
    """Share of points within a polygon, by counting what edges a ray to the right crosses."""
    x, y = points[:, :1], points[:, 1:]
    start, end = outline, np.roll(outline, -1, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = start[:, 0] + (y - start[:, 1]) / (end[:, 1] - start[:, 1]) * (end[:, 0] - start[:, 0])
    crossed = ((start[:, 1] > y) != (end[:, 1] > y)) & (x < at)
    return float((crossed.sum(axis=1) % 2).mean())


@pytest.mark.parametrize("name", ["r410a_capacity", "r454b_heat_pump_cooling"])
def test_regions_hold_95_percent_of_the_draws(name: str) -> None:
    """Both of refrigerant and of air; the polygon is read from the picture."""
    body = request_of(examples()[name])
    metric = examples()[name]["units"] == "metric"
    examined = examine(body)
    drawn = Cycle(body, examples()[name]["units"])
    regions = [e for e in drawn.seen.all("path", "spread-good") if "Z" in e.get("d", "")]
    found = refrigerant_states(examined)
    assert len(regions) == len(found) == 4
    for region, one in zip(regions, found.values(), strict=True):
        outline = np.array([drawn.at(x, y) for x, y in corners(region)])
        outline[:, 1] = np.log(outline[:, 1])
        # Each fluid has its own zero: the draws are laid about the drawn point.
        points = np.stack([one.first[1:] - one.first[0], np.log(one.second[1:])], axis=1)
        middle = 0.5 * (outline[:, 0].max() + outline[:, 0].min())
        points[:, 0] += middle
        assert share_inside(outline, points) == pytest.approx(0.95, abs=0.015)
    air = Seen(picture("air_process", body))
    across, up = Axis(air, "x"), Axis(air, "y")
    states = air_states(examined)
    regions = air.all("path", "spread-good")
    assert len(regions) == len(states) == 2
    for region, one in zip(regions, states.values(), strict=True):
        outline = np.array([(across.value(x), up.value(y)) for x, y in corners(region)])
        dry = one.first[1:] - 273.15
        # Beyond saturation there is no such air: the region ends there, and a draw beyond counts as upon it.
        humid = humidity_ratio_from_relative_humidity(one.first[1:], 1.0, site_pressure(examined))
        ratios = np.minimum(one.second[1:], 0.9999 * humid)
        points = np.stack([dry, ratios], axis=1) * ([1.0, 1e3] if metric else [1.8, 7000.0])
        points[:, 0] += 0.0 if metric else 32.0
        assert share_inside(outline, points) == pytest.approx(0.95, abs=0.015)


def test_two_runs_lie_each_at_its_readings() -> None:
    """The first open and dashed, the last full and solid; each state near in both bears one number."""
    before = one_visit(evaporating=2.0, condensing=40.0)
    after = one_visit(evaporating=8.0, condensing=48.0)
    drawn = Cycle(request_of(two_visits(before, after)), "metric")
    for style, body in (("mark-first", before), ("mark-good", after)):
        for (height, pressure), (other, at) in zip(drawn.points(style), expected_points(body), strict=True):
            assert height == pytest.approx(other, abs=600.0 + 0.1 * drawn.pixel)
            assert pressure == pytest.approx(at, rel=1e-3)
    assert "Dashed, open: before. Solid, full: after." in drawn.seen.words
    same = Cycle(request_of(two_visits(before, before)), "metric")
    assert same.points("mark-first") == same.points("mark-good")
    assert sorted(e.text or "" for e in same.seen.all("text", "tag")) == ["1", "2", "3", "4"]


def test_far_apart_each_run_bears_its_own_numbers() -> None:
    far = two_visits(
        one_visit(evaporating=-8.0, condensing=33.0, superheat=20.0, subcooling=14.0),
        one_visit(evaporating=12.0, condensing=60.0, subcooling=1.5),
    )
    seen = Seen(picture("refrigerant_cycle", request_of(far)))
    numbers = [e.text or "" for e in seen.all("text", "tag")]
    assert sorted(numbers) == ["1", "1", "2", "2", "3", "3", "4", "4"]


@pytest.mark.parametrize(
    "body",
    [*CYCLES, one_visit(liquid_line_temperature=None), one_visit(suction_line_temperature=None)],
    ids=range(len(CYCLES) + 2),
)
def test_numbers_stand_in_the_frame_and_clear_of_the_regions(body: dict[str, Any]) -> None:
    seen = Seen(picture("refrigerant_cycle", request_of(body)))
    clip = seen.root.find(".//{*}clipPath/{*}rect")
    assert clip is not None
    left, top = number(clip, "x"), number(clip, "y")
    regions = [corners(e) for e in seen.all("path", "spread-good")]
    for e in seen.all("text", "tag"):
        half = text_width(e.text or "", "tag") / 2
        x, y = number(e, "x"), number(e, "y")
        assert left <= x - half < x + half <= left + number(clip, "width")
        assert top <= y - 10 < y <= top + number(clip, "height")
        for region in regions:
            assert not any(abs(x - a) < half and y - 10 < b < y for a, b in region)


# ---------------------------------------------------------------- readings that are not there


def test_a_discharge_not_read_is_a_compression_without_losses() -> None:
    """Dotted, to CoolProp's enthalpy at the suction gas's entropy, and written out."""
    body = one_visit(discharge_line_temperature=None)
    drawn = Cycle(request_of(body), "metric")
    derived = assess(request_of(body))["derived"]
    low = in_si(derived["suction_pressure_absolute"])
    high = in_si(derived["high_side_pressure_absolute"])
    one = mixture_state(REFRIGERANTS["R-22"])
    one.update(CoolProp.PT_INPUTS, low, 13.0 + 273.15)
    entropy = one.smass()
    one.update(CoolProp.PSmass_INPUTS, high, entropy)
    guessed = [corners(e) for e in drawn.seen.all("path", "line-guess")]
    height, pressure = drawn.at(*guessed[0][1])
    assert height == pytest.approx(one.hmass() - zero_of("R-22", "metric"), abs=800.0)
    assert pressure == pytest.approx(high, rel=1e-3)
    assert guessed[0][1] == guessed[1][0]
    assert len(drawn.points("mark-good")) == 3
    assert "not read (shown for a compression without losses)" in drawn.seen.words


@pytest.mark.parametrize(
    ("others", "numbers", "lacking"),
    [
        ({"liquid_line_temperature": None}, "12", "3 liquid, 4 evaporator inlet"),
        ({"superheat": 0.0}, "234", "1 suction gas"),
        ({"subcooling": -4.0}, "12", "3 liquid, 4 evaporator inlet"),
        ({"suction_line_temperature": None}, "234", "1 suction gas"),
    ],
    ids=["no liquid line", "wet suction gas", "liquid over its bubble point", "no suction line"],
)
def test_the_cycle_narrows_to_what_is_told_and_says_so(others: dict[str, Any], numbers: str, lacking: str) -> None:
    seen = Seen(picture("refrigerant_cycle", request_of(one_visit(**others))))
    assert sorted(e.text or "" for e in seen.all("text", "tag")) == list(numbers)
    for text in (seen.words, seen.description):
        assert f"the readings do not tell it: {lacking}." in text
    inside(picture("refrigerant_cycle", request_of(one_visit(**others))))


def refusal(plot: str, body: dict[str, Any]) -> Any:  # noqa: ANN401
    with pytest.raises(RefusedError) as refused:
        picture(plot, request_of(body))
    (one,) = refused.value.refusals
    return one


def test_no_state_at_all_is_refused_with_what_to_add() -> None:
    dry: dict[str, Any] = {f"{side}_air_wet_bulb": None for side in ("return", "supply")}
    nothing = one_visit(superheat=0.0, subcooling=-4.0, discharge_line_temperature=None, **dry)
    one = refusal("refrigerant_cycle", nothing)
    assert one.pointer == "/run/readings"
    for word in ("suction_pressure", "suction_line_temperature", "liquid_line_temperature"):
        assert word in one.allowed
    one = refusal("air_process", nothing)
    assert one.pointer == "/run/readings"
    for word in ("return_air_wet_bulb", "relative humidity", "supply air"):
        assert word in one.allowed
    both = two_visits(nothing, nothing)
    for plot in ("refrigerant_cycle", "air_process"):
        assert refusal(plot, both).pointer == "/runs/after/readings"


def test_a_run_without_states_is_named() -> None:
    nothing = one_visit(
        superheat=0.0,
        subcooling=-4.0,
        discharge_line_temperature=None,
        return_air_wet_bulb=None,
        supply_air_wet_bulb=None,
    )
    for plot in ("refrigerant_cycle", "air_process"):
        seen = Seen(picture(plot, request_of(two_visits(one_visit(), nothing))))
        assert "Drawn: before. Not drawn: after, whose readings tell no state." in seen.words


def test_no_refrigerant_is_refused_and_heating_is_drawn() -> None:
    """In heating the common suction line, the discharge and the liquid line are the same corners of the cycle."""
    body = one_visit()
    body["unit"] = {}
    body["run"]["readings"] = {k: v for k, v in body["run"]["readings"].items() if "pressure" not in k}
    one = refusal("refrigerant_cycle", body)
    assert one.pointer == "/unit/refrigerant"
    assert "GET /v1/refrigerants" in one.hint
    body = one_visit()
    body["unit"]["mode"] = "heating"
    cooling = one_visit()
    assert Seen(picture("refrigerant_cycle", request_of(body))).words == (
        Seen(picture("refrigerant_cycle", request_of(cooling))).words
    )
    # The air of a heating unit is drawn.
    assert Seen(picture("air_process", request_of(body))).all("path", "line-good")


# ---------------------------------------------------------------- air


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_air_lies_at_its_dry_bulb_and_humidity_ratio(units: str) -> None:
    """Humidity ratio by PsychroLib from dry and wet bulb at sea level, within half a percent."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    seen = Seen(picture("air_process", request_of(one_visit(units))))
    across, up = Axis(seen, "x"), Axis(seen, "y")
    marks = seen.all("circle", "mark-good")
    for e, dry, wet in zip(marks, (26.0, 14.0), (19.0, 13.0), strict=True):
        ratio = psychrolib.GetHumRatioFromTWetBulb(dry, wet, 101325.0)
        shown = across.value(number(e, "cx"))
        assert shown == pytest.approx(dry if units == "metric" else 1.8 * dry + 32.0, abs=0.01)
        assert up.value(number(e, "cy")) == pytest.approx(ratio * (1e3 if units == "metric" else 7000.0), rel=5e-3)
    (line,) = seen.all("path", "line-good")
    assert corners(line) == [(number(e, "cx"), number(e, "cy")) for e in marks]


@pytest.mark.parametrize("side", ["return", "supply"])
def test_air_without_humidity_stands_as_a_line_at_its_dry_bulb(side: str) -> None:
    missing: dict[str, Any] = {f"{side}_air_wet_bulb": None}
    body = request_of(one_visit(**missing))
    seen = Seen(picture("air_process", body))
    (line,) = seen.all("line", "line-guess")
    dry = {"return": 26.0, "supply": 14.0}[side]
    assert number(line, "x1") == number(line, "x2")
    assert Axis(seen, "x").value(number(line, "x1")) == pytest.approx(dry, abs=0.02)
    assert len(seen.all("circle", "mark-good")) == 1
    assert not seen.all("path", "line-good")
    for text in (seen.words, seen.description):
        assert f"{side.capitalize()} air: {dry:.1f} °C, humidity not told" in text


def test_dry_bulbs_of_two_runs_are_told_apart() -> None:
    body = two_visits(
        one_visit(supply_air_wet_bulb=None), one_visit(supply_air_dry_bulb=15.0, supply_air_wet_bulb=None)
    )
    seen = Seen(picture("air_process", request_of(body)))
    across = Axis(seen, "x")
    for run, dry in (("before", 14.0), ("after", 15.0)):
        (name,) = [e for e in seen.texts if e.text == f"supply {run}"]
        assert 0.0 < number(name, "x") - across.place(dry) < 6.0
    heights = [number(e, "y") for e in seen.texts if (e.text or "").startswith("supply ")]
    assert abs(heights[0] - heights[1]) > SIZES["tag-small"]


def test_two_runs_of_air() -> None:
    body = two_visits(one_visit(), one_visit(return_air_dry_bulb=29.0, return_air_wet_bulb=20.0))
    seen = Seen(picture("air_process", request_of(body)))
    across = Axis(seen, "x")
    for style, dry in (("mark-first", 26.0), ("mark-good", 29.0)):
        first = seen.all("circle", style)[0]
        assert across.value(number(first, "cx")) == pytest.approx(dry, abs=0.02)
    # Supply of both is the same and bears one name.
    assert [e.text for e in seen.all("text", "tag")].count("supply") == 1


@pytest.mark.parametrize(
    "others",
    [
        {},
        {"supply_air_wet_bulb": 13.95},
        {
            "return_air_dry_bulb": 46.0,
            "return_air_wet_bulb": 30.0,
            "supply_air_dry_bulb": 8.0,
            "supply_air_wet_bulb": 7.9,
        },
        {"return_air_dry_bulb": 45.0, "return_air_wet_bulb": 20.0, "supply_air_wet_bulb": None},
        {"supply_air_dry_bulb": -3.0, "supply_air_wet_bulb": None},
    ],
)
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_names_on_the_air_chart_do_not_touch(units: str, others: dict[str, Any]) -> None:
    drawing = picture("air_process", request_of(one_visit(units, **others)))
    inside(drawing)
    seen = Seen(drawing)
    boxes = []
    for e in seen.texts:
        style = e.get("class", "")
        wide = text_width(e.text or "", style)
        x = number(e, "x") - {"middle": wide / 2, "end": wide}.get(e.get("text-anchor", ""), 0.0)
        boxes.append((x, number(e, "y") - 0.7 * SIZES[style], x + wide, number(e, "y"), e.text))
    for place, one in enumerate(boxes):
        for other in boxes[:place]:
            apart = one[0] >= other[2] or other[0] >= one[2] or one[1] >= other[3] or other[1] >= one[3]
            assert apart, (one, other)


# ---------------------------------------------------------------- limits

Assessments = Mapping[str, Loose]


@cache
def compared(name: str) -> Loose:
    return untyped(compare(ComparisonRequest.model_validate(comparison_examples()[name])))


@cache
def assessed(name: str) -> Assessments:
    """Answers of an example by run."""
    if name in comparison_examples():
        found: Assessments = compared(name)["assessments"]
        return found
    body = {**examples(), **diagnosis_examples()}[name]
    return {"": assess(DiagnosisRequest.model_validate(body))}


def rows(seen: Seen) -> list[list[ElementTree.Element]]:
    """Elements of each strip, from its background to the text under it."""
    found: list[list[ElementTree.Element]] = []
    for e in seen.root:
        if e.tag == SVG + "rect" and e.get("class") == "outside":
            found.append([])
        if found:
            found[-1].append(e)
    return found


def middle_of(mark: ElementTree.Element) -> float:
    """Across."""
    if mark.tag == SVG + "circle":
        return number(mark, "cx")
    return float(np.mean([x for x, _ in corners(mark)]))


GRADE_MARKS = {"conforming": "good", "nonconforming": "bad", "inconclusive": "open"}


def check_row(row: list[ElementTree.Element], found: list[tuple[str, Any, Any]]) -> None:
    """One strip against the findings it shows: (run, finding, derived)."""
    limit = found[0][1]["limit"]
    strip = row[0]
    start, end = number(strip, "x"), number(strip, "x") + number(strip, "width")
    (shade,) = [e for e in row if e.get("class") == "inside"]
    (under,) = [e for e in row if e.get("class") == "bracket"]
    edges = iter(number(e, "x1") for e in row if e.get("class") == "edge")
    places: list[tuple[float, float]] = []
    bounds = []
    for bound, otherwise in ((limit["lower"], start), (limit["upper"], end)):
        bounds.append(otherwise if bound is None else next(edges))
        if bound is not None:
            places.append((bound, bounds[-1]))
    # The shaded side is the permitted one, and so is what is underlined.
    assert [number(shade, "x"), number(shade, "x") + number(shade, "width")] == pytest.approx(bounds, abs=0.011)
    assert [number(under, "x1"), number(under, "x2")] == bounds
    place = measure(limit, str(found[0][1]["quantity"]), start, end)
    for bound, across in places:
        assert place(bound) == pytest.approx(across, abs=0.03)
    for _, finding, derived in found:
        style = GRADE_MARKS[finding["grade"]]
        lines = [e for e in row if e.get("class") == f"line-{style}" and e.tag == SVG + "line"]
        band, caps = lines[0], [number(e, "x1") for e in lines[1:3] if number(e, "x1") == number(e, "x2")]
        lane = number(band, "y1")
        assert number(strip, "y") < lane < number(strip, "y") + number(strip, "height")
        ends = [place(derived["band"][side]) for side in ("low", "high")]
        # What is beyond the strip ends in an arrowhead at its edge, without a cap.
        within = [one for one in ends if start <= one <= end]
        assert caps[: len(within)] == pytest.approx(within, abs=0.03)
        if len(within) == 2:
            assert [number(band, "x1"), number(band, "x2")] == pytest.approx(ends, abs=0.03)
        heads = [e for e in row if e.get("class") == f"line-{style}" and e.tag == SVG + "path"]
        assert len(heads) >= (ends[0] < start) + (ends[1] > end)
        used = [*lines[: 1 + len(within)], *heads[: (ends[0] < start) + (ends[1] > end)]]
        middle = place(derived["value"])
        if start <= middle <= end:
            mark = next(e for e in row if e.get("class") == f"mark-{style}")
            assert middle_of(mark) == pytest.approx(middle, abs=0.03)
            used.append(mark)
        for e in used:
            row.remove(e)


#: A span [K] that two thirds of a strip hold for a limit with one end on a scale without a zero.
SPAN = 20.0


def measure(limit: Mapping[str, Any], quantity: str, start: float, end: float) -> Callable[[float], float]:
    """Where a value belongs: a range takes the middle third; a limit with one end is two thirds from nothing."""
    lower, upper, third = limit["lower"], limit["upper"], (end - start) / 3
    if lower is not None and upper is not None:
        return lambda value: start + third * (1 + (value - lower) / (upper - lower))
    bound = lower if upper is None else upper
    size = abs(bound)
    if QUANTITIES[quantity].kind in ("temperature", "temperature_difference"):
        size = SPAN * (1.8 if "degF" in limit["unit"] else 1.0)
    at = start + third if upper is None else end - third
    return lambda value: at + 2 * third * (value - bound) / size


LIMIT_EXAMPLES = [*examples(), *diagnosis_examples(), "coil_cleaned", "far_apart"]


def graded_findings(answers: Assessments, last: Mapping[str, Any]) -> dict[tuple[str, str], list[tuple[str, Any, Any]]]:
    """Run, finding and derived value of each row that is drawn, by quantity and limit, the last run's first."""
    graded = [
        (run, finding, answer["derived"][finding["quantity"]])
        for run, answer in answers.items()
        for finding in answer["findings"]
        if finding["grade"] in GRADE_MARKS
    ]
    keys = [(finding["quantity"], finding["limit"]["id"]) for _, finding, _ in graded]
    of_the_last = [
        (finding["quantity"], finding["limit"]["id"]) for finding in last["findings"] if finding["grade"] in GRADE_MARKS
    ]
    rows_of_all = {
        key: [one for one, its in zip(graded, keys, strict=True) if its == key]
        for key in dict.fromkeys((*of_the_last, *keys))
    }
    return {key: row for key, row in rows_of_all.items() if tells(row, rows_of_all.values())}


def tells(row: list[tuple[str, Any, Any]], others: Iterable[list[tuple[str, Any, Any]]]) -> bool:
    """Whether a row says more than the rest: its limit is not met, or none of the same value is closer."""
    if any(finding["grade"] != "conforming" for _, finding, _ in row):
        return True
    quantity, limit = row[0][1]["quantity"], row[0][1]["limit"]
    limits = [other[0][1]["limit"] for other in others if other[0][1]["quantity"] == quantity]
    lows = [one["lower"] for one in limits if one["lower"] is not None]
    highs = [one["upper"] for one in limits if one["upper"] is not None]
    return (limit["lower"] is not None and limit["lower"] == max(lows)) or (
        limit["upper"] is not None and limit["upper"] == min(highs)
    )


@pytest.mark.parametrize("name", LIMIT_EXAMPLES)
def test_bands_marks_and_permitted_sides_follow_the_answer(name: str) -> None:
    """Each row on one straight scale through what is written: its limits, bands and values."""
    answers = assessed(name)
    seen = Seen(limits_chart.draw(answers, most=100))
    last = list(answers.values())[-1]
    expected = graded_findings(answers, last)
    drawn = rows(seen)
    assert len(drawn) == len(expected) > 5
    for row, found in zip(drawn, expected.values(), strict=True):
        check_row(row, found)
        for run, finding, _ in found:
            assert f"{run}: {words(finding['grade'])}".removeprefix(": ") in seen.words
            assert finding["sentence"] in seen.description
    for finding in last["findings"]:
        if finding["grade"] == "not_assessed":
            assert finding_label(finding) in seen.words.split("Not graded: ")[1]
    if len(answers) == 2:
        assert "Upper: before; lower: after." in seen.words


def lone(lower: float | None, upper: float | None, value: float, half: float) -> Assessments:
    """An answer with one finding."""
    finding = {
        "quantity": "superheat",
        "grade": "inconclusive",
        "probability_conforming": 0.5,
        "limit": {"id": "x", "lower": lower, "upper": upper, "unit": "delta_degF"},
        "sentence": "...",
    }
    band = {"low": value - half, "high": value + half, "coverage": 0.95}
    derived = {"superheat": {"value": value, "unit": "delta_degF", "band": band}}
    return {"": {"findings": [finding], "derived": derived}}


@pytest.mark.parametrize(
    ("lower", "upper", "texts"),
    [
        (4.0, None, ["at least 4.0"]),
        (None, 25.0, ["at most 25.0"]),
        (4.0, 25.0, ["4.0", "25.0"]),
        (10.0, 10.2, ["10.0", "10.2"]),
        (10.0, 10.0, ["10.0", "10.0"]),
    ],
)
@pytest.mark.parametrize(("value", "half"), [(10.0, 2.0), (10.0, 0.0), (-300.0, 1.0), (9.0, 400.0)])
def test_limits_of_one_side_and_of_two(
    lower: float | None, upper: float | None, texts: list[str], value: float, half: float
) -> None:
    """Ends are written and do not touch, however narrow the permitted range is in the picture."""
    answers = lone(lower, upper, value, half)
    drawing = limits_chart.draw(answers)
    inside(drawing)
    seen = Seen(drawing)
    (row,) = rows(seen)
    found = [("", answers[""]["findings"][0], answers[""]["derived"]["superheat"])]
    if lower is None or upper is None or upper > lower:
        check_row(list(row), found)
    ends = [e for e in row if e.tag == SVG + "text" and "graded" not in (e.text or "")]
    assert [e.text for e in ends] == texts
    if len(ends) == 2:
        widths = [text_width(e.text or "", "small") / 2 for e in ends]
        assert number(ends[1], "x") - number(ends[0], "x") >= sum(widths) + 2.0


def test_rows_beyond_most_are_counted_by_grade() -> None:
    answers = assessed("r410a_capacity")
    whole = [row[-1][1]["grade"] for row in graded_findings(answers, answers[""]).values()]
    seen = Seen(limits_chart.draw(answers, most=4))
    assert len(rows(seen)) == 4
    hidden = whole[4:]
    for grade in set(hidden):
        assert f"{hidden.count(grade)} {words(grade)}" in seen.words.split("Not drawn: ")[1]
    assert f"{len(hidden)} more values are not drawn." in seen.description
    body = request_of(examples()["r410a_capacity"])
    assert Seen(picture("limits", body, Asked(most=4))).text == seen.text


def test_nothing_graded_is_said() -> None:
    seen = Seen(picture("limits", request_of(visit(readings={"line_voltage": 230}))))
    assert "No value could be graded." in seen.words
    assert seen.description == "No value could be graded."


# ---------------------------------------------------------------- what fits which body


def test_a_body_of_the_wrong_kind_is_refused_with_the_plots_that_fit() -> None:
    bodies = {
        "visit": request_of(diagnosis_examples()["sound_unit"]),
        "comparison": request_of(comparison_examples()["coil_cleaned"]),
        "trend": request_of(trend_examples()["five_summers"]),
    }
    fitting = {
        "visit": {"limits", "refrigerant_cycle", "air_process", "fault_probabilities", "course"},
        "comparison": {"limits", "refrigerant_cycle", "air_process", "changes", "course"},
        "trend": {"trend"},
    }
    assert set(PICTURES) == set(PLOTS)
    for kind, body in bodies.items():
        for plot in PLOTS:
            if plot in fitting[kind]:
                continue
            with pytest.raises(RefusedError) as refused:
                picture(plot, body)
            (one,) = refused.value.refusals
            assert one.pointer == ("/run" if kind == "visit" else "/runs")
            assert plot in one.detail
            named_there = one.hint.removeprefix("Of this body the plots are ").rstrip(".")
            assert set(named_there.split(", ")) == fitting[kind]


@pytest.mark.parametrize("plot", [p for p in PLOTS if p != "trend"])
def test_a_quantity_is_refused_where_it_means_nothing(plot: str) -> None:
    example = "coil_cleaned" if plot == "changes" else "sound_unit"
    body = request_of({**comparison_examples(), **diagnosis_examples()}[example])
    with pytest.raises(RefusedError) as refused:
        picture(plot, body, Asked(quantity=HOSTILE))
    (one,) = refused.value.refusals
    assert (one.pointer, one.value) == ("query/quantity", HOSTILE)


# ---------------------------------------------------------------- every picture of every example


@cache
def every_picture() -> dict[str, Drawing]:
    """Each picture of each example; what two of them share is computed once."""
    found = {}
    for name, _, body in every_example():
        asked = request_of(body)
        for plot, row in PICTURES.items():
            if kind_of(asked) not in row.kinds or (plot == "course" and "log" not in body.get("run", {})):
                continue
            if plot == "limits":
                drawing = limits_chart.draw(assessed(name))
            elif plot == "changes":
                drawing = changes_chart.draw(compared(name))
            else:
                drawing = picture(plot, asked)
            found[f"{plot} of {name}"] = drawing
    return found


def test_every_picture_is_safe_and_says_what_it_shows() -> None:
    assert {name.split(" ")[0] for name in every_picture()} == set(PLOTS)
    for name, drawing in every_picture().items():
        for theme in THEMES:
            text = drawing.svg(theme)
            root = ElementTree.fromstring(text)
            assert root.get("role") == "img", name
            ids = {e.get("id"): e for e in root.iter() if e.get("id")}
            assert len(ids) == len([e for e in root.iter() if e.get("id")])
            title, description = (ids[i] for i in (root.get("aria-labelledby") or "").split())
            assert (title.tag, description.tag) == (SVG + "title", SVG + "desc")
            assert (title.text or "").strip()
            assert len((description.text or "").strip()) > 20
            for e in root.iter():
                assert e.tag.removeprefix(SVG) in {
                    "svg",
                    "title",
                    "desc",
                    "style",
                    "rect",
                    "line",
                    "path",
                    "circle",
                    "text",
                    "g",
                    "clipPath",
                }, e.tag
                for attribute, value in e.attrib.items():
                    assert not attribute.startswith("on")
                    assert "href" not in attribute
                    if "url(" in value:
                        assert attribute == "clip-path"
                        local = value.removeprefix("url(#").removesuffix(")")
                        assert ids[local].tag == SVG + "clipPath"
            sheet = "".join(e.text or "" for e in root.iter(SVG + "style"))
            assert "url(" not in sheet
            assert "@import" not in sheet


def test_every_picture_keeps_its_text_in_the_frame_and_large_enough() -> None:
    """12.5 in a picture of 400 is 11.2 px at 360, the width of a small screen."""
    for name, drawing in every_picture().items():
        inside(drawing)
        root = ElementTree.fromstring(drawing.svg())
        assert (root.get("viewBox") or "").split()[:3] == ["0", "0", "400"], name
    assert min(SIZES.values()) >= 12.5
    sheet = every_picture()["limits of r410a_capacity"].svg("light")
    stated = [float(size) for size in re.findall(r"font-size:([\d.]+)px", sheet)]
    assert min(stated) >= 12.5


def test_no_picture_is_endless() -> None:
    """Without being asked for fewer rows, none is taller than four times its width, and what is left out is counted."""
    for name, drawing in every_picture().items():
        assert drawing.height <= 4 * WIDTH, name
    seen = Seen(limits_chart.draw(assessed("coil_cleaned")))
    assert len(rows(seen)) == limits_chart.USUAL_ROWS
    assert "Not drawn: " in seen.words


def test_every_class_used_has_a_colour_in_both_themes() -> None:
    for theme in ("light", "dark", "auto"):
        for drawing in every_picture().values():
            root = ElementTree.fromstring(drawing.svg(theme))
            sheet = "".join(e.text or "" for e in root.iter(SVG + "style"))
            used = {e.get("class") for e in root.iter() if e.get("class")} - {"picture"}
            assert used <= CLASSES
            for one in used:
                rules = re.findall(rf"\.picture \.{one}\{{([^}}]*)\}}", sheet)
                colours = [r for r in rules if re.search(r"(fill|stroke):#[0-9a-f]{6}", r)]
                assert len(colours) == (2 if theme == "auto" else 1), (one, theme)


#: One body of each kind, drawn afresh by another process.
_AFRESH = """
import hashlib, sys
from pydantic import TypeAdapter
from schemas.examples import every_example
from schemas.pictures import AnyBody
from service.render.pictures import picture
bodies = {name: body for name, _, body in every_example()}
whole = hashlib.sha256()
for one in sys.argv[1:]:
    plot, name = one.split(" of ")
    drawing = picture(plot, TypeAdapter(AnyBody).validate_python(bodies[name]))
    for theme in ("auto", "light", "dark"):
        whole.update(drawing.svg(theme).encode())
sys.stdout.write(whole.hexdigest())
"""


def test_same_bytes_in_another_process() -> None:
    those = [
        "limits of r410a_capacity",
        "refrigerant_cycle of far_apart",
        "air_process of far_apart",
        "fault_probabilities of charge_lost",
        "changes of coil_cleaned",
        "trend of five_summers",
    ]
    whole = hashlib.sha256()
    for name in those:
        for theme in THEMES:
            whole.update(every_picture()[name].svg(theme).encode())
    done = subprocess.run(
        [sys.executable, "-c", _AFRESH, *those],
        env={**os.environ, "PYTHONHASHSEED": "4242"},
        check=True,
        capture_output=True,
        text=True,
    )
    assert done.stdout == whole.hexdigest()


@pytest.mark.parametrize("plot", ["limits", "refrigerant_cycle", "air_process"])
def test_same_bytes_twice(plot: str) -> None:
    body = request_of(examples()["r410a_capacity"])
    assert picture(plot, body).svg() == picture(plot, body).svg()


# ---------------------------------------------------------------- PNG


def decoded(content: bytes) -> tuple[int, int, tuple[int, ...]]:
    """Width, height and first pixel; the filters of PNG leave the first pixel of the first row as it is."""
    assert content.startswith(b"\x89PNG\r\n\x1a\n")
    width, height, depth, kind = struct.unpack(">IIBB", content[16:26])
    assert content[12:16] == b"IHDR"
    assert depth == 8
    packed, at = b"", 8
    while at < len(content):
        (length,) = struct.unpack(">I", content[at : at + 4])
        if content[at + 4 : at + 8] == b"IDAT":
            packed += content[at + 8 : at + 8 + length]
        at += 12 + length
    channels = {2: 3, 6: 4}[kind]
    return width, height, tuple(zlib.decompress(packed)[1 : 1 + channels])[:3]


@pytest.mark.parametrize("width", [200, 333])
def test_a_png_has_the_size_asked_and_the_paper_of_its_theme(width: int) -> None:
    drawing = every_picture()["refrigerant_cycle of r410a_capacity"]
    found = {}
    for theme in THEMES:
        content = png(drawing, theme, width)
        across, high, pixel = decoded(content)
        assert across == width
        assert high == pytest.approx(drawing.height * width / WIDTH, abs=1.0)
        found[theme] = pixel
    assert found["light"] == found["auto"] == (255, 255, 255)
    assert max(found["dark"]) < 40
    assert png(drawing, "dark", width) == content


def test_text_is_really_drawn() -> None:
    """A picture with a text differs from one without, and from one with another of the same length."""

    def drawn(*texts: str) -> bytes:
        drawing = Drawing("x", "t", "d")
        drawing.height = 40.0
        for text in texts:
            drawing.text(20.0, 20.0, text)
        return png(drawing, "light", 480)

    assert len({drawn(), drawn("°C 95 %"), drawn("°F 95 %")}) == 3


# ---------------------------------------------------------------- hostile strings


def test_hostile_strings_of_a_body_stay_text() -> None:
    """The names of instruments are free text; they are named in sentences."""
    body = copy.deepcopy(examples()["r410a_capacity"])
    bad = "<script>alert(1)</script>&\"']]>"
    body["kit"] = {f"{bad}{name}"[:60]: one for name, one in body["kit"].items()}
    for reading, value in body["run"]["readings"].items():
        if isinstance(value, dict):
            body["run"]["readings"][reading] = {**value, "instrument": f"{bad}meter"[:60]}
    asked = request_of(body)
    for plot, row in PICTURES.items():
        if "visit" in row.kinds and plot != "course":
            drawing = picture(plot, asked)
            inside(drawing)
            seen = Seen(drawing)
            assert not seen.all("script")
            assert "<script" not in seen.text
    body["unit"]["refrigerant"] = '<script>&"R-410A'
    with pytest.raises(RefusedError) as refused:
        picture("refrigerant_cycle", request_of(body))
    assert refused.value.refusals[0].pointer == "/unit/refrigerant"
    followed: TrendRequest = request_of(trend_examples()["five_summers"])
    with pytest.raises(RefusedError) as refused:
        picture("trend", followed, Asked(quantity=HOSTILE[:80]))
    assert refused.value.refusals[0].pointer == "query/quantity"


def test_hostile_strings_of_an_answer_stay_text() -> None:
    """Should one ever reach a label, a run's name or a sentence."""
    answer = copy.deepcopy(dict(assessed("r410a_capacity")[""]))
    for finding in answer["findings"]:
        finding["sentence"] = HOSTILE
    answer["derived"][HOSTILE] = answer["derived"]["superheat"]
    answer["findings"].insert(0, {**answer["findings"][0], "quantity": HOSTILE})
    drawing = limits_chart.draw({HOSTILE[:20]: answer, "after": answer})
    inside_but_for_run_names = Seen(drawing)
    assert not inside_but_for_run_names.all("script")
    assert "<script" not in inside_but_for_run_names.text
    assert "<script>" in inside_but_for_run_names.words
    assert "\N{REPLACEMENT CHARACTER}" in inside_but_for_run_names.description


# ---------------------------------------------------------------- axes

SPANS = st.floats(-6.0, 6.0).map(lambda power: 10.0**power)


@given(SPANS, st.floats(-1e3, 1e3), st.integers(5, 12))
def test_ticks_are_round_and_within_the_range(span: float, where: float, most: int) -> None:
    """Steps of 1, 2 or 5 times a power of ten, 2 to ``most`` + 1 ticks, each a whole number of steps."""
    low = where * span
    high = low + span
    found = ticks(low, high, most)
    assert 2 <= len(found) <= most + 1
    assert low - 1e-6 * span <= found[0]
    assert found[-1] <= high + 1e-6 * span
    step = step_of(high - low, most)
    digit = step / 10.0 ** np.floor(np.log10(step * (1 + 1e-9)))
    assert min(abs(digit - d) for d in (1.0, 2.0, 5.0)) < 1e-6
    for tick in found:
        assert tick / step == pytest.approx(round(tick / step), abs=1e-3)
    # As written, no two are alike.
    assert len({tick_text(tick, step) for tick in found}) == len(found)


@given(SPANS, st.floats(0.2, 1.2).map(lambda power: 10.0**power))
def test_logarithmic_ticks_are_round_and_within_the_range(low: float, factor: float) -> None:
    found = logarithmic_ticks(low * 1e3, low * factor * 1e3)
    assert 1 <= len(found) <= 9
    assert found == sorted(set(found))
    for tick in found:
        assert low * 1e3 * (1 - 1e-6) <= tick <= low * factor * 1e3 * (1 + 1e-6)
        digit = tick / 10.0 ** np.floor(np.log10(tick) + 1e-9)
        assert min(abs(digit - d) for d in (1, 1.5, 2, 3, 4, 5, 6, 7, 8, 9, 10)) < 1e-6


@given(st.floats(1e-6, 1e6), SPANS, st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.booleans())
def test_a_scale_maps_ends_to_ends_and_rises(
    low: float, span: float, first: float, second: float, logarithmic: bool
) -> None:
    """The logarithmic one by its closed form: the share of ln x between the ends' logarithms."""
    high = low * (1.0 + span)
    scale = Scale(low, high, 400.0, 40.0, logarithmic)
    assert scale(low) == pytest.approx(400.0)
    assert scale(high) == pytest.approx(40.0)
    small, large = sorted((first, second))
    a, b = (low + share * (high - low) for share in (small, large))
    assert scale(a) >= scale(b) - 1e-6
    share = (a - low) / (high - low)
    if logarithmic:
        share = log(a / low) / log(high / low)
    assert scale(a) == pytest.approx(400.0 - 360.0 * share, abs=1e-3)
    assert scale.held(low - 1.0) == pytest.approx(400.0)
    assert scale.held(2.0 * high) == pytest.approx(40.0)


#: Narrow and wide, spaces of every kind, what XML cannot hold, and what is written otherwise.
_LETTERS = "iW5 %° \t\n\u00a0\u202f\u2009\u3000\x00\ud800&<é汉\U0001f600"


@given(st.text(_LETTERS, max_size=60), st.sampled_from(sorted(SIZES)), st.floats(20.0, 448.0))
def test_wrapping_loses_no_character(text: str, style: str, width: float) -> None:
    """Nothing but the spaces at which lines break goes, and no line is too wide."""
    lines = wrapped(text, style, width)
    spaces = re.compile("[ \t\n\r\N{NO-BREAK SPACE}]")
    assert spaces.sub("", "".join(lines)) == spaces.sub("", plain(text))
    for line in lines:
        assert text_width(line, style) <= width + 1e-9 or len(line) == 1


def test_boxes_that_touch_share_a_name() -> None:
    """The picture of the same run twice names each state once, that of far runs twice."""
    near, far = Box(0, 0, 10, 10), Box(200, 0, 210, 10)
    assert named([{"a": near}, {"a": near}]) == [("a", near)]
    assert named([{"a": near}, {"a": far}]) == [("a", near), ("a", far)]
    assert named([{"a": near}, {"b": far}]) == [("a", near), ("b", far)]
    assert Box.about([(1.0, 5.0), (3.0, 2.0)]) == Box(1.0, 2.0, 3.0, 5.0)


@pytest.mark.parametrize("wet_bulb", [32.0, 48.0])
def test_air_too_dry_to_be_told_narrows_the_picture(client: TestClient, wet_bulb: float) -> None:
    """A wet bulb so low that some draws hold no water at all: no state, no broken number."""
    body = copy.deepcopy(dict(diagnosis_examples()["sound_unit"]))
    body["run"]["readings"]["return_air_wet_bulb"] = wet_bulb
    for address in ("/v1/plots/air_process", "/v1/reports"):
        answer = client.post(address, json=body)
        assert answer.status_code in (200, 422), address
        assert re.search(r"\bnan\b", answer.text) is None
