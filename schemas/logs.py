"""`run.log`: readings as they came, over time, and what an answer says about each of them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from typing_extensions import TypeAliasType

from schemas.answers import Answer, fact
from schemas.growth import MayGrow
from schemas.quantities import InstrumentName, Model, Number, PressureReference, StrictText

#: Most times of one log: four hours at one second, both ends counted.
MOST_TIMES = 14_401
#: The span of times [s]: a log may begin before the compressor starts, and long after.
EARLIEST, LATEST = -86_400.0, 604_800.0
#: The span of numbers of any reading in any of its units; each reading has narrower ends of its own.
LEAST, MOST = -110_000.0, 7.0e6
#: Most characters of a log as CSV; the limit of the body is usually reached first.
MOST_CHARACTERS = 4_000_000

# ---------------------------------------------------------------- request

LogStart = TypeAliasType(
    "LogStart",
    Annotated[
        Literal["compressor_on", "unknown"],
        Field(description="What happened at second zero of a log: the compressor started, or that is not known."),
    ],
)


LogUnit = TypeAliasType(
    "LogUnit",
    Annotated[
        Literal[
            "degF",
            "degC",
            "K",
            "psi",
            "psig",
            "psia",
            "kPa",
            "bar",
            "MPa",
            "inHg",
            "Pa",
            "inH2O",
            "A",
            "V",
            "W",
            "kW",
            "1",
            "%",
            "cfm",
            "m3/h",
            "m3/s",
            "L/s",
            "lb/h",
            "kg/h",
            "kg/s",
            "Btu/h",
        ],
        Field(description="Unit of a reading over time; one that the single reading may have."),
    ],
)


class LoggedColumn(Model):
    """One reading over time by one instrument: as a single reading, with a list of numbers in place of one."""

    values: list[Annotated[Number, Field(ge=LEAST, le=MOST)] | None] = Field(
        min_length=1,
        max_length=MOST_TIMES,
        description="The numbers shown, one for each of `seconds`; null where none was logged.",
        examples=[[131.0, None, 128.4]],
        json_schema_extra={"x-unit": "unit"},
    )
    unit: LogUnit | None = Field(
        default=None,
        description="The unit. Default: that of a bare number of this reading in the declared unit system.",
        examples=["psi"],
    )
    reference: PressureReference | None = Field(
        default=None,
        description="For a pressure: what zero means. Default: gauge (`psia` is always absolute).",
        examples=["gauge"],
    )
    instrument: InstrumentName | None = Field(
        default=None,
        description="The instrument of the kit that logged it. Default: as for a single reading.",
        examples=["gauges"],
    )


LoggedColumns = TypeAliasType(
    "LoggedColumns",
    Annotated[
        dict[Annotated[StrictText, Field(max_length=80)], LoggedColumn],
        Field(
            min_length=1,
            max_length=60,
            description="Readings over time, by the names of single readings (`suction_pressure`, "
            "`capacitor_voltage.compressor`). Do not give the same reading under `run.readings` too.",
        ),
    ],
)


class Log(Model):
    """Readings as a logger took them. Give `seconds` with `readings`, or `csv`.

    The service finds the settled part, or extrapolates to it, and gives each value the uncertainty that remains.
    """

    start: LogStart = Field(
        default="unknown",
        description="What happened at second zero. With `compressor_on` the log says how long the unit had run.",
        examples=["compressor_on"],
    )
    seconds: list[Annotated[Number, Field(ge=EARLIEST, le=LATEST)]] | None = Field(
        default=None,
        min_length=2,
        max_length=MOST_TIMES,
        description="Times in seconds, rising, the same for all readings; need not be evenly spaced. At most "
        "four hours at one second.",
        examples=[[0, 5, 10]],
        json_schema_extra={"x-unit": "s"},
    )
    readings: LoggedColumns | None = Field(
        default=None,
        description="The readings over time, each as long as `seconds`.",
        examples=[{"suction_pressure": {"values": [131.0, 128.4, None], "unit": "psi"}}],
    )
    csv: Annotated[StrictText, Field(min_length=1, max_length=MOST_CHARACTERS)] | None = Field(
        default=None,
        description="The log as CSV text in place of `seconds` and `readings`: a header row of `seconds` and the "
        "names of readings, each with its unit in brackets, then one row for each time. An empty cell is a gap. With "
        "semicolons between cells, a comma is the decimal mark.",
        examples=["seconds,suction_pressure [psi]\n0,131.0\n5,128.4\n"],
    )


# ---------------------------------------------------------------- answer

Steadiness = TypeAliasType(
    "Steadiness",
    Annotated[
        Literal["steady", "not_steady", "cannot_tell"],
        Field(
            description="Whether a reading drifted, by the size of its drift. `steady` and `not_steady` are shown by "
            "the readings; `cannot_tell`: they show neither."
        ),
    ],
)

LeftOutReason = TypeAliasType(
    "LeftOutReason",
    Annotated[
        Literal[
            "settling",
            "compressor_off",
            "defrost",
            "before_stage_change",
            "door_opened",
            "probe_not_in_place",
            "stuck",
            "dropout",
            "unit_jump",
            "clock_jump",
            "readings_swapped",
            "jump",
            "outside_window",
        ],
        Field(description="Why a part of a log was left out."),
    ],
)

LogEventName = TypeAliasType(
    "LogEventName",
    Annotated[
        Literal[
            "compressor_start",
            "compressor_stop",
            "stage_change",
            "defrost",
            "door_opened",
            "probe_placed",
            "probe_knocked_off",
            "jump",
        ],
        Field(description="What happened during a log."),
    ],
)


class Window(Answer):
    """A part of a log."""

    from_second: Annotated[float, fact("Its first time.", 620.0, "s")]
    to_second: Annotated[float, fact("Its last time.", 1200.0, "s")]


class LeftOut(Window):
    """A part of a log that was not used."""

    reason: Annotated[Annotated[LeftOutReason, MayGrow()], fact("Why.", "settling")]
    sentence: Annotated[str, fact("The same in plain words.", "0 to 620 s: the unit was still settling.")]


class LogEvent(Answer):
    """Something that the log shows to have happened."""

    event: Annotated[Annotated[LogEventName, MayGrow()], fact("What it was.", "stage_change")]
    at_second: Annotated[float, fact("When.", 415.0, "s")]
    until_second: Annotated[float | None, fact("When it was over, for a defrost.", None, "s")]
    readings: Annotated[list[str], fact("The readings that show it.", ["suction_pressure", "liquid_pressure"])]
    sentence: Annotated[str, fact("The same in plain words.", "The stage changed after about 7 minutes.")]


class Drift(Answer):
    """The trend of a reading within its window."""

    grade: Annotated[Steadiness, fact("Whether it was steady, judged by the size of the drift.", "steady")]
    change: Annotated[float, fact("Change in five minutes.", -0.2, "as unit")]
    standard_uncertainty: Annotated[
        float, fact("Standard uncertainty of that change; readings close in time are not independent.", 0.1, "as unit")
    ]
    limit: Annotated[float | None, fact("Largest change in five minutes that counts as steady.", 1.0, "as unit")]
    unit: Annotated[str, fact("Unit of the change; a difference for temperatures.", "delta_degF")]


_DRIFT = {"grade": "steady", "change": -0.2, "standard_uncertainty": 0.1, "limit": 2.0, "unit": "delta_degF"}


class Hunting(Answer):
    """A regular swing, as from a hunting expansion valve."""

    amplitude: Annotated[float, fact("Half the distance from low to high.", 3.2, "as unit", ge=0)]
    period_seconds: Annotated[float, fact("Time from high to high.", 140.0, "s", gt=0)]
    unit: Annotated[str, fact("Unit of the amplitude; a difference for temperatures.", "delta_degF")]


class Extrapolation(Answer):
    """What was added because the run had not settled."""

    added: Annotated[float, fact("Settled value less the last level of the log.", -1.4, "as unit")]
    standard_uncertainty: Annotated[float, fact("Standard uncertainty of what was added.", 0.6, "as unit", ge=0)]
    unit: Annotated[str, fact("Unit of both; a difference for temperatures.", "delta_degF")]


class LoggedReading(Answer):
    """What a log says about one reading: the value used, and where it comes from."""

    value: Annotated[
        float | None, fact("The settled value, used as the reading; null where none could be found.", 118.2, "as unit")
    ]
    unit: Annotated[str, fact("Unit of the value.", "psi")]
    standard_uncertainty: Annotated[
        float | None,
        fact(
            "Standard uncertainty from scatter, drift, hunting and extrapolation. The instrument's calibration comes "
            "on top, once; `instruments` has the sum.",
            0.3,
            "as unit",
            ge=0,
        ),
    ]
    window: Annotated[Window | None, fact("The part of the log used.", {"from_second": 620.0, "to_second": 1200.0})]
    settled_from_second: Annotated[
        float | None,
        fact("From this time on little is left of the start; null where it had not settled by the end.", 620.0, "s"),
    ]
    readings: Annotated[
        int, fact("Readings from then on, or within the window where it had not settled.", 117, "1", ge=0)
    ]
    effective_number: Annotated[
        float, fact("How many independent readings they count as; readings close in time are alike.", 14.2, "1", ge=0)
    ]
    drift: Annotated[Drift | None, fact("Its trend at the end of that part; null where it was not used.", None)]
    hunting: Annotated[Hunting | None, fact("A regular swing; null where none is shown.", None)]
    extrapolation: Annotated[Extrapolation | None, fact("What was added to reach the settled value.", None)]
    time_constant_seconds: Annotated[
        float | None, fact("Time constant of its settling; null where it does not show.", 95.0, "s", ge=0)
    ]
    left_out: Annotated[list[LeftOut], fact("Parts of the log that were not used, and why.", [])]
    sentence: Annotated[str, fact("The same in plain words.", "Suction pressure was steady ...")]


class FollowedValue(Answer):
    """A derived value that was followed over the log. `derived` has the value itself, with its whole band."""

    drift: Annotated[Drift, fact("Its trend at the end of what was used.", _DRIFT)]
    hunting: Annotated[Hunting | None, fact("A regular swing; null where none is shown.", None)]
    sentence: Annotated[str, fact("The same in plain words.", "Superheat was steady ...")]


class LogAnswer(Answer):
    """What the log of a run says."""

    start: Annotated[LogStart, fact("What happened at second zero.", "compressor_on")]
    from_second: Annotated[float, fact("First time of the log.", 0.0, "s")]
    to_second: Annotated[float, fact("Last time of the log.", 1200.0, "s")]
    rows: Annotated[int, fact("Number of times.", 241, "1", ge=0)]
    at_second: Annotated[
        float | None,
        fact("All values are for the conditions at this moment: drifting air is not averaged away.", 1050.0, "s"),
    ]
    events: Annotated[list[LogEvent], fact("What happened during the log, in order.", [])]
    readings: Annotated[dict[str, LoggedReading], fact("Each reading of the log.", {})]
    derived: Annotated[
        dict[str, FollowedValue], fact("Superheat and subcooling over time, where they can be derived.", {})
    ]
    sentence: Annotated[str, fact("The log in plain words.", "The unit was settled after 11 minutes ...")]


__all__ = [
    "Drift",
    "Extrapolation",
    "FollowedValue",
    "Hunting",
    "LeftOut",
    "LeftOutReason",
    "Log",
    "LogAnswer",
    "LogEvent",
    "LogEventName",
    "LogStart",
    "LogUnit",
    "LoggedColumn",
    "LoggedReading",
    "Steadiness",
    "Window",
]
