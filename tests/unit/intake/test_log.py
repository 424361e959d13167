"""From a log to one reading each: value, errors, and what is refused.

The logs are invented and settle at known values; the arithmetic of errors is that of JCGM 100:2008, 5.1.2.
"""

from __future__ import annotations

from math import hypot
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest
from service.intake.paths import READING
from service.intake.refusals import RefusedError
from service.intake.take_in import take_in
from service.intake.visit import Visit
from tests.logged import ATMOSPHERE, PSI, SETTLED, body, readings_over

FloatArray = NDArray[Any]


def taken(request: dict[str, Any], *, compared: bool = False) -> Visit:
    return take_in(AssessmentRequest.model_validate(request), compared=compared)


def log_of(minutes: float = 20.0, **more: Any) -> tuple[FloatArray, dict[str, FloatArray]]:  # noqa: ANN401
    return readings_over(minutes, **more)


def refused(request: dict[str, Any]) -> list[tuple[str, str]]:
    with pytest.raises(RefusedError) as found:
        taken(request)
    return [(one.pointer, one.detail) for one in found.value.refusals]


def test_each_reading_comes_to_its_settled_value() -> None:
    visit = taken(body(*log_of()))
    assert visit.logged is not None
    for name, value in SETTLED.items():
        settled = visit.logged.readings[name].settled
        assert settled is not None
        shown = value - ATMOSPHERE if name.endswith("pressure") else value
        assert abs(visit.readings[name] - shown) < 3.0 * settled.uncertainty, name
        assert visit.readings[name] == settled.value
    superheat = visit.logged.derived["superheat"]
    assert superheat.drift.grade == "steady"
    assert superheat.hunting is None


def test_the_calibration_is_added_once() -> None:
    """A gauge of 0.5 % of 800 psi either way, rectangular: 4 psi over the root of three, whatever the scatter."""
    visit = taken(body(*log_of()))
    assert visit.logged is not None
    settled = visit.logged.readings["liquid_pressure"].settled
    assert settled is not None
    calibration = 4.0 * PSI / 3.0**0.5
    used = visit.instruments["liquid_pressure"]
    assert used.standard_uncertainty == pytest.approx(hypot(settled.uncertainty, calibration), rel=1e-3)
    assert settled.uncertainty < 0.3 * calibration
    # Five times as many readings change nothing about it.
    dense = taken(body(*log_of(spacing=1.0)))
    assert dense.instruments["liquid_pressure"].standard_uncertainty > calibration


def test_a_longer_run_narrows() -> None:
    widths = [
        taken(body(*log_of(minutes))).instruments["suction_line_temperature"].standard_uncertainty
        for minutes in (3.0, 5.0, 8.0, 12.0, 20.0)
    ]
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > 2.0 * widths[-1]


@pytest.mark.parametrize(("of", "other"), [("suction_pressure", "liquid_pressure"), ("suction_line_temperature",) * 2])
def test_what_settles_together_shares_what_its_time_constant_leaves(of: str, other: str) -> None:
    """At a start suction pressure falls and head pressure rises (common practice), so neither tells of the other."""
    visit = taken(body(*log_of(5.0)))
    one, two = (
        {place for place in visit.uncertain[READING + name].positions if visit.variables[place].owner == "settling"}
        for name in (of, other)
    )
    assert one
    assert (one & two == one) is (of == other)
    assert (one & two == set()) is (of != other)


def test_a_start_tells_how_long_the_unit_ran() -> None:
    request = body(*log_of(12.0))
    assert taken(request).minutes_running == pytest.approx(12.0)
    request["run"]["log"]["start"] = "unknown"
    assert taken(request).minutes_running is None
    request["run"]["minutes_running"] = 30.0
    assert taken(request).minutes_running == 30.0


def test_a_reading_is_given_once() -> None:
    request = body(*log_of(), readings={"suction_pressure": 120.0, "return_air_wet_bulb": 63.0})
    assert refused(request) == [("/run/log/readings/suction_pressure", "is given under run.readings too")]
    del request["run"]["log"]["readings"]["suction_pressure"]
    visit = taken(request)
    assert {"suction_pressure", "liquid_pressure", "return_air_wet_bulb"} <= visit.readings.keys()


def test_an_instrument_of_the_kit_is_named_or_refused() -> None:
    request = body(*log_of(5.0))
    request["run"]["log"]["readings"]["outdoor_unit_power"]["instrument"] = "gauges"
    assert refused(request)[0][0] == "/run/log/readings/outdoor_unit_power/instrument"


def test_a_settled_value_out_of_range_is_refused_at_its_field() -> None:
    times, values = log_of(5.0)
    values["return_air_dry_bulb"] += 60.0
    assert refused(body(times, values)) == [("/run/log/readings/return_air_dry_bulb", "is above its possible range")]


def test_absolute_and_gauge_come_to_the_same() -> None:
    gauge = body(*log_of())
    absolute = body(*log_of())
    for name in ("suction_pressure", "liquid_pressure"):
        row = absolute["run"]["log"]["readings"][name]
        row["values"] = [value + 14.696 for value in row["values"]]
        row["reference"] = "absolute"
    one, other = taken(gauge), taken(absolute)
    assert one.readings["suction_pressure"] + ATMOSPHERE == pytest.approx(other.readings["suction_pressure"], rel=1e-4)
    assert one.logged is not None
    assert other.logged is not None
    assert one.logged.derived["superheat"].value == pytest.approx(other.logged.derived["superheat"].value, abs=0.02)


def test_a_saturation_temperature_off_the_dial_carries_the_gauge() -> None:
    times, _ = log_of()
    dial = {"suction_saturation_temperature": 279.0 + 0.05 * np.random.default_rng(1).normal(size=len(times))}
    visit = taken(body(times, dial))
    leaf = visit.uncertain[READING + "suction_saturation_temperature"]
    assert callable(leaf.then)
    assert visit.readings["suction_saturation_temperature"] == pytest.approx(279.0, abs=0.1)
    # 4 psi over the root of three, as the leaf is drawn in pressure.
    assert hypot(*leaf.coefficients) >= 4.0 * PSI / 3.0**0.5


def test_what_cannot_be_trusted_is_no_reading() -> None:
    times, values = log_of()
    values["liquid_pressure"][times >= 600.0] = (
        values["liquid_pressure"][times >= 600.0] - ATMOSPHERE
    ) / 14.5 + ATMOSPHERE
    visit = taken(body(times, values))
    assert "liquid_pressure" not in visit.readings
    assert visit.logged is not None
    row = visit.logged.readings["liquid_pressure"]
    assert row.settled is None
    assert [one.reason for one in row.left_out if one.reason != "settling"] == ["unit_jump"]
    assert "suction_pressure" in visit.readings


def test_a_swing_of_superheat_is_followed() -> None:
    visit = taken(body(*log_of(20.0, hunting=3.0)))
    assert visit.logged is not None
    found = visit.logged.derived["superheat"].hunting
    assert found is not None
    # The line swings by 3 K, and suction pressure against it by 30 kPa, about 1 K of saturation temperature.
    assert found.amplitude == pytest.approx(4.0, abs=0.5)
    assert found.period == pytest.approx(130.0, rel=0.05)


def test_three_rows_are_a_log() -> None:
    times, values = log_of(15.0, spacing=150.0)
    visit = taken(body(times, values))
    assert abs(visit.readings["suction_line_temperature"] - 286.0) < 1.5


def test_short_cycles_are_counted() -> None:
    times, values = log_of(30.0)
    for begin, end in ((240.0, 480.0), (660.0, 900.0)):
        values["outdoor_unit_power"][(times >= begin) & (times < end)] = 5.0
    visit = taken(body(times, values))
    assert visit.logged is not None
    assert visit.logged.runs == pytest.approx((180.0,), abs=10.0)
    assert visit.logged.cycles_short
    assert visit.minutes_running == pytest.approx(15.0, abs=0.2)


def test_a_log_of_a_comparison_enters_the_same_way() -> None:
    one, other = taken(body(*log_of(8.0))), taken(body(*log_of(8.0)), compared=True)
    assert one.readings == other.readings
    for name, used in one.instruments.items():
        assert other.instruments[name].standard_uncertainty == pytest.approx(used.standard_uncertainty, rel=1e-9)
