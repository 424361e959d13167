"""What a log shows to have happened, and what of it cannot be trusted.

The logs are invented; each has one thing in it that is known.  Times are known to the steps of the logger and the lag
of the sensor.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from service.uncertainty.series.channels import Channel, Role
from service.uncertainty.series.segments import Course, LogEvent, Segment, course, faults_of_log, segments
from service.uncertainty.series.windows import since_stated, usable, used_part
from tests.logged import lagging, readings_over, shown

FloatArray = NDArray[Any]
Logged = tuple[FloatArray, dict[str, FloatArray]]

#: Role, smallest jump and lag of each channel, as common practice has them.
CHANNELS: dict[str, tuple[Role, float, float, str | None]] = {
    "suction_pressure": ("low", 2.9e4, 1.0, None),
    "liquid_pressure": ("high", 7.5e4, 1.0, None),
    "suction_line_temperature": ("line", 1.7, 20.0, "outdoor_air_dry_bulb"),
    "liquid_line_temperature": ("line", 1.7, 20.0, "outdoor_air_dry_bulb"),
    "return_air_dry_bulb": ("room", 1.1, 60.0, None),
    "supply_air_dry_bulb": ("air", 1.7, 60.0, "return_air_dry_bulb"),
    "outdoor_air_dry_bulb": ("air", 2.2, 60.0, None),
    "outdoor_unit_power": ("electrical", 156.0, 2.0, None),
}


def channels(values: dict[str, FloatArray]) -> list[Channel]:
    found = []
    for name, one in shown(values).items():
        role, jump, lag, around = CHANNELS[name]
        quantity = name.rpartition("_")[2]
        moves = name not in ("return_air_dry_bulb", "outdoor_air_dry_bulb")
        found.append(Channel(name, one, role, jump, lag, 0.05, moves, around, quantity))
    return found


def seen(log: Logged, *, heating: bool = False) -> Course:
    return course(log[0], channels(log[1]), heating=heating)


def happened(found: Course) -> list[tuple[str, float]]:
    return [(one.kind, one.at) for one in found.events]


def flaws(found: Course) -> list[tuple[str, tuple[str, ...]]]:
    return [(one.kind, one.readings) for one in found.flaws]


def stopped(minutes: float = 25.0) -> Logged:
    """A stop at 600 s and a start at 900 s."""
    times, values = readings_over(minutes)
    off, again = (times >= 600.0) & (times < 900.0), times >= 900.0
    for name, rest in (("suction_pressure", 14.0e5), ("liquid_pressure", 14.5e5)):
        ran = values[name].copy()
        values[name][off] = rest + (ran[119] - rest) * np.exp(-(times[off] - 600.0) / 30.0)
        values[name][again] = ran[again] + (rest - ran[-1]) * np.exp(-(times[again] - 900.0) / 40.0)
    values["outdoor_unit_power"][off] = 8.0
    return times, values


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("hunting", [0.0, 4.0])
def test_nothing_happens_in_a_plain_run(seed: int, hunting: float) -> None:
    log = readings_over(20.0, seed=seed, hunting=hunting)
    found = seen(log)
    assert (found.events, found.flaws) == ((), ())
    assert [(one.begin, one.end, one.state) for one in found.segments] == [(0.0, 1200.0, "running")]


def test_a_stop_and_a_start() -> None:
    found = seen(stopped())
    assert happened(found) == [("compressor_stop", 600.0), ("compressor_start", 900.0)]
    assert [one.state for one in found.segments] == ["running", "off", "running"]
    assert found.flaws == ()


def test_pressures_alone_show_a_stop() -> None:
    times, values = stopped()
    del values["outdoor_unit_power"]
    found = [one for one in seen((times, values)).events if one.at > 60.0]
    assert [one.kind for one in found] == ["compressor_stop", "compressor_start"]
    assert [one.at for one in found] == pytest.approx([600.0, 900.0], abs=20.0)


def test_pressures_that_meet_while_the_compressor_runs_are_a_defrost_in_heating_only() -> None:
    times, values = stopped()
    values["outdoor_unit_power"][:] = 2300.0 + 10.0 * np.random.default_rng(1).normal(size=len(times))
    found = seen((times, values), heating=True)
    assert [one.kind for one in found.events] == ["defrost"]
    assert found.events[0].at == pytest.approx(600.0, abs=20.0)
    assert found.events[0].until == pytest.approx(900.0, abs=40.0)
    assert [one.state for one in found.segments] == ["running", "defrost", "running"]
    assert "defrost" not in [one.kind for one in seen((times, values)).events]


@pytest.mark.parametrize("powered", [True, False])
def test_a_step_of_the_stage(powered: bool) -> None:
    times, values = readings_over(25.0)
    later = 1.0 - np.exp(-np.maximum(times - 700.0, 0.0) / 40.0)
    values["suction_pressure"] += 1.6e5 * later
    values["liquid_pressure"] -= 3.2e5 * later
    values["suction_line_temperature"] += 3.0 * later
    values["outdoor_unit_power"] -= 700.0 * (times >= 700.0)
    if not powered:
        del values["outdoor_unit_power"]
    found = [one for one in seen((times, values)).events if one.at > 60.0]
    assert [one.kind for one in found] == ["stage_change"]
    assert found[0].at == pytest.approx(700.0, abs=15.0)
    assert {"suction_pressure", "liquid_pressure"} <= {*found[0].readings}


def test_a_door_that_opens() -> None:
    times, values = readings_over(25.0)
    values["return_air_dry_bulb"] += lagging(times, 3.0 * (times >= 700.0), 45.0)
    values["supply_air_dry_bulb"] += lagging(times, 2.0 * (times >= 700.0), 90.0)
    found = seen((times, values))
    assert [one.kind for one in found.events] == ["door_opened"]
    assert found.events[0].at == pytest.approx(700.0, abs=60.0)
    assert found.segments[-1].began == "door_opened"


@pytest.mark.parametrize(("begin", "end", "kind"), [(0.0, 300.0, "probe_placed"), (900.0, 1e9, "probe_knocked_off")])
@pytest.mark.parametrize("name", ["suction_line_temperature", "liquid_line_temperature"])
def test_a_clamp_that_shows_the_air(begin: float, end: float, kind: str, name: str) -> None:
    times, values = readings_over(20.0)
    loose = (times >= begin) & (times < end)
    values[name] = lagging(times, np.where(loose, values["outdoor_air_dry_bulb"], values[name]), 15.0)
    found = seen((times, values))
    assert [(one.kind, one.readings) for one in found.events] == [(kind, (name,))]
    at = end if begin == 0.0 else begin
    assert found.events[0].at == pytest.approx(at, abs=25.0)
    # It cuts nothing for the others, and only its own numbers are left out.
    assert len(found.segments) == 1
    kept = usable(times, next(one for one in channels(values) if one.name == name), found)
    assert np.isnan(kept.values[loose]).all()
    assert [one.reason for one in kept.left_out] == ["probe_not_in_place"]
    assert np.isfinite(kept.values[(times > 450.0) & (times < 850.0)]).all()


def test_a_hose_that_is_connected_late() -> None:
    times, values = readings_over(20.0)
    values["suction_pressure"][times < 300.0] = 0.0
    found = seen((times, values))
    assert happened(found) == [("probe_placed", 300.0)]


def test_a_jump_that_fits_nothing_is_called_one_and_its_reading_is_not_used() -> None:
    times, values = readings_over(20.0)
    values["supply_air_dry_bulb"][times >= 600.0] += 4.0
    found = seen((times, values))
    assert [one.kind for one in found.events] == ["jump"]
    supply = next(one for one in channels(values) if one.name == "supply_air_dry_bulb")
    assert np.isnan(usable(times, supply, found).values).all()


def _stuck(times: FloatArray, values: dict[str, FloatArray]) -> None:
    values["suction_line_temperature"][times >= 500.0] = values["suction_line_temperature"][100]


def _stuck_throughout(times: FloatArray, values: dict[str, FloatArray]) -> None:
    values["suction_line_temperature"][:] = 286.0


def _dropout(times: FloatArray, values: dict[str, FloatArray]) -> None:
    values["suction_line_temperature"][(times > 500.0) & (times < 640.0)] = np.nan


def _psi_to_bar(times: FloatArray, values: dict[str, FloatArray]) -> None:
    values["liquid_pressure"][times >= 600.0] /= 14.5038


def _fahrenheit_to_celsius(times: FloatArray, values: dict[str, FloatArray]) -> None:
    line = values["suction_line_temperature"]
    line[times >= 600.0] = (line[times >= 600.0] - 273.15 - 32.0) / 1.8 + 273.15


def _celsius_to_fahrenheit(times: FloatArray, values: dict[str, FloatArray]) -> None:
    line = values["suction_line_temperature"]
    line[times >= 600.0] = (line[times >= 600.0] - 273.15) * 1.8 + 32.0 + 273.15


def _kilowatts(times: FloatArray, values: dict[str, FloatArray]) -> None:
    values["outdoor_unit_power"][times >= 900.0] *= 1000.0


def _swapped(times: FloatArray, values: dict[str, FloatArray]) -> None:
    suction, liquid = (values[f"{line}_line_temperature"] for line in ("suction", "liquid"))
    later = times >= 600.0
    suction[later], liquid[later] = liquid[later].copy(), suction[later].copy()


@pytest.mark.parametrize(
    ("spoil", "kind", "readings", "begin"),
    [
        (_stuck, "stuck", ("suction_line_temperature",), 500.0),
        (_stuck_throughout, "stuck", ("suction_line_temperature",), 0.0),
        (_dropout, "dropout", ("suction_line_temperature",), 500.0),
        (_psi_to_bar, "unit_jump", ("liquid_pressure",), 600.0),
        (_fahrenheit_to_celsius, "unit_jump", ("suction_line_temperature",), 600.0),
        (_celsius_to_fahrenheit, "unit_jump", ("suction_line_temperature",), 600.0),
        (_kilowatts, "unit_jump", ("outdoor_unit_power",), 900.0),
        (_swapped, "readings_swapped", ("suction_line_temperature", "liquid_line_temperature"), 600.0),
    ],
)
def test_what_cannot_be_trusted_is_named(spoil, kind: str, readings: tuple[str, ...], begin: float) -> None:  # type: ignore[no-untyped-def]  # noqa: ANN001
    times, values = readings_over(20.0)
    spoil(times, values)
    found = faults_of_log(times, channels(values))
    assert [(one.kind, one.readings) for one in found] == [(kind, readings)]
    assert found[0].begin == pytest.approx(begin, abs=10.0)


def test_a_display_with_coarse_steps_is_not_stuck() -> None:
    """A dial read to the whole degree Fahrenheit shows one number for minutes on end once it has settled."""
    times, values = readings_over(20.0)
    coarse = 5.0 / 9.0
    values["suction_line_temperature"] = np.round(values["suction_line_temperature"] / coarse) * coarse
    assert not faults_of_log(times, channels(values))


def test_a_clock_that_jumps_cuts_the_log() -> None:
    times, values = readings_over(20.0)
    times = np.where(times >= 600.0, times + 3600.0, times)
    found = course(times, channels(values))
    assert [one.kind for one in found.flaws] == ["clock_jump"]
    assert [(one.begin, one.end) for one in segments(times, channels(values))] == [(0.0, 595.0), (4200.0, 4800.0)]
    part = used_part(found, 0.0)
    # How long the unit had run in the later part is not known.
    assert part is not None
    assert (part.begin, part.since_start) == (4200.0, None)


def test_the_longest_run_that_serves_is_used() -> None:
    found = seen(stopped())
    part = used_part(found, 0.0)
    assert part is not None
    # Both runs last ten minutes: the later one.
    assert (part.begin, part.end, part.start, part.since_start) == (960.0, 1500.0, 900.0, 900.0)
    assert [one.reason for one in part.left_out] == ["outside_window", "compressor_off", "settling"]


def test_what_was_logged_before_the_start_is_left_out() -> None:
    """Clamps alone do not show that the unit stood still; the stated start does."""
    times, values = readings_over(12.0)
    lines = {name: one for name, one in values.items() if name.endswith("line_temperature")}
    part = used_part(seen((times - 100.0, lines)), 0.0)
    assert part is not None
    assert (part.begin, part.start, part.since_start) == (60.0, 0.0, 0.0)
    assert [(one.begin, one.end, one.reason) for one in part.left_out] == [
        (-100.0, 0.0, "compressor_off"),
        (0.0, 60.0, "settling"),
    ]


def test_of_a_long_run_the_last_half_hour_is_used() -> None:
    times, values = readings_over(60.0, spacing=10.0)
    part = used_part(seen((times, values)), 0.0)
    assert part is not None
    assert (part.begin, part.end, part.start, part.since_start) == (1800.0, 3600.0, 0.0, 0.0)


def test_a_unit_that_never_ran_has_no_part() -> None:
    times, values = readings_over(10.0)
    values["outdoor_unit_power"][:] = 0.0
    assert used_part(seen((times, values)), None) is None


def test_a_stated_start_is_no_second_start() -> None:
    """Pressures part some seconds after a start; a compressor whose start is stated ran from then (definition)."""
    began = Segment(0.0, 10.0, "off", None), Segment(10.0, 900.0, "running", "compressor_start")
    found = Course((LogEvent("compressor_start", 10.0, ("suction_pressure",)),), (), began)
    same = since_stated(found, 0.0)
    assert (same.events, same.segments) == ((), (Segment(0.0, 900.0, "running", None),))
    assert since_stated(found, None) is found
    late = Segment(0.0, 300.0, "off", None), Segment(300.0, 900.0, "running", "compressor_start")
    assert since_stated(Course((), (), late), 0.0).segments == late
