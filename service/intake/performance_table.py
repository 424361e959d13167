"""The maker's performance table: one function of the conditions for each column."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import PerformanceRow
from service.intake.entry import Entry
from service.intake.paths import RATED, TABLE
from service.intake.refusals import Refusal, pointer
from service.intake.visit import Disputed
from service.reference.assumptions import TABLE_AGAINST_RATING
from service.reference.capacity_control import TARGET_RUNNING
from service.reference.conditions import RATED_CAPACITY_RANGE, RUNNING_POWER_RANGE
from service.reference.performance_maps import (
    RATING_A_OUTDOOR,
    RATING_DRY_BULB,
    RATING_HEATING_OUTDOOR,
    RATING_HEATING_RETURN,
    RATING_WET_BULB,
)
from service.reference.site import STANDARD_PRESSURE

FloatArray = NDArray[np.float64]

#: Conditions of a row, in the order in which a table is entered, with their kinds.
AXES = {
    "outdoor_air_dry_bulb": "temperature",
    "return_air_dry_bulb": "temperature",
    "return_air_wet_bulb": "temperature",
    "airflow": "airflow",
}
#: What a row says of the unit, with the kinds.
COLUMNS = {
    "capacity": "heat_flow",
    "power": "power",
    "suction_pressure": "absolute_pressure",
    "liquid_pressure": "absolute_pressure",
    "subcooling": "temperature_difference",
    "discharge_line_temperature": "temperature",
}
#: How far outside a table its conditions may be: kelvin, and a share of airflow.
_BEYOND = {"temperature": 1.7, "airflow": 0.05}


class _Point(NamedTuple):
    """One printed value [SI] and the conditions that it is printed for, those of :data:`AXES` in use."""

    at: tuple[float, ...]
    value: float


@dataclass(frozen=True, slots=True)
class TableColumn:
    """One column of a table, asked in SI.

    ``axes`` are the conditions that it depends on, outdoor air first; ``points`` its values.
    """

    axes: tuple[str, ...]
    points: tuple[_Point, ...]

    def value(self, conditions: Mapping[str, FloatArray]) -> FloatArray:
        """Its value at conditions by name [SI], draws along the last axis: linear between rows, axis by axis.

        Not-a-number where the nominal conditions are not between rows, or not close to one.
        """
        return _between(self.axes, _tree(self.points), [conditions[axis] for axis in self.axes])

    def values_of(self, axis: str) -> tuple[float, ...]:
        """The values printed of an axis, ascending [SI]."""
        return tuple(sorted({point.at[self.axes.index(axis)] for point in self.points}))


class _Node(NamedTuple):
    """The values of the last axis, and what the table says at each: a node of the axes before, else a number."""

    grid: FloatArray
    below: tuple[_Node | float, ...]


@lru_cache(maxsize=256)
def _tree(points: tuple[_Point, ...]) -> _Node:
    rows: dict[float, list[_Point]] = {}
    for point in sorted(points, key=lambda one: one.at[-1]):
        rows.setdefault(point.at[-1], []).append(_Point(point.at[:-1], point.value))
    below = tuple(_tree(tuple(own)) if own[0].at else own[0].value for own in rows.values())
    return _Node(np.array(list(rows)), below)


def _between(axes: tuple[str, ...], node: _Node, conditions: list[FloatArray]) -> FloatArray:
    grid, x = node.grid, np.asarray(conditions[-1], dtype=np.float64)
    columns = [
        _between(axes[:-1], below, conditions[:-1]) if isinstance(below, _Node) else np.asarray(below)
        for below in node.below
    ]
    beyond = _beyond(axes[-1], float(grid[-1]))
    inside = (x[..., :1] >= grid[0] - beyond) & (x[..., :1] <= grid[-1] + beyond)
    if len(grid) == 1:
        return np.where(inside, columns[0], np.nan)
    if not inside.any():
        return np.full(x.shape, np.nan)
    place = np.clip(np.searchsorted(grid, x) - 1, 0, len(grid) - 2)
    part = (x - grid[place]) / (grid[place + 1] - grid[place])
    found = np.full(np.broadcast_shapes(x.shape, *(column.shape for column in columns)), np.nan)
    for first in np.unique(place).tolist():
        low, high = columns[first], columns[first + 1]
        found = np.where(place == first, low + part * (high - low), found)
    return np.where(inside, found, np.nan)


def _beyond(axis: str, highest: float) -> float:
    """How far outside the rows of an axis a condition may be [SI]."""
    return _BEYOND["temperature"] if AXES[axis] == "temperature" else _BEYOND["airflow"] * highest


def take_performance_table(entry: Entry) -> None:
    """Each column that holds at the conditions of the run, as a leaf, and what keeps the table from being used."""
    rows = entry.request.unit.performance_table
    if rows is None:
        return
    _refuse_rows(entry, rows)
    mine = [row for row in rows if _applies(entry, row)]
    columns = {name: column for name in COLUMNS if (column := _column(entry, mine, name)) is not None}
    if entry.refusals:
        return
    entry.table_disputed = tuple(_disputed(entry, columns))
    if entry.table_disputed:
        return
    gaps = {name: gap for name, column in columns.items() if (gap := _gap(entry, column)) is not None}
    for name, column in columns.items():
        if name not in gaps:
            entry.constant(TABLE + name, column, "unit.performance_table")
    if gaps or not columns:
        entry.table_gap = next(iter(gaps.values()), "none of its rows is for the mode and the stage that ran")


def _refuse_rows(entry: Entry, rows: list[PerformanceRow]) -> None:
    """Refuse rows that say nothing of the unit, or what no unit has."""
    for place, row in enumerate(rows):
        if all(getattr(row, name) is None for name in COLUMNS):
            entry.refusals.append(
                Refusal(
                    pointer("unit", "performance_table", str(place)),
                    None,
                    "at least one of " + ", ".join(COLUMNS),
                    "says nothing about the unit",
                    "Add a value of the table, or leave the row out.",
                )
            )
        for name, limits in (("capacity", RATED_CAPACITY_RANGE), ("power", RUNNING_POWER_RANGE)):
            given = getattr(row, name)
            if given is not None:
                where = pointer("unit", "performance_table", str(place), name)
                entry.inside(entry.to_si(given, COLUMNS[name]), limits, COLUMNS[name], where, given)


def _applies(entry: Entry, row: PerformanceRow) -> bool:
    """Whether a row is for the mode and the stage of the run."""
    unit = entry.request.unit
    if (row.mode or unit.mode) != unit.mode:
        return False
    if entry.running not in TARGET_RUNNING:
        return False
    return row.stage is None or row.stage == {"full": "high", "low": "low"}.get(entry.running)


def _column(entry: Entry, rows: list[PerformanceRow], name: str) -> TableColumn | None:
    """One column of the rows that have it; conditions that not all of them state are left out."""
    given = [row for row in rows if getattr(row, name) is not None]
    if not given:
        return None
    at = {
        axis: [entry.to_si(getattr(row, axis), kind) for row in given]
        for axis, kind in AXES.items()
        if all(getattr(row, axis) is not None for row in given)
    }
    axes = tuple(axis for axis, values in at.items() if axis == "outdoor_air_dry_bulb" or len(set(values)) > 1)
    points = tuple(
        _Point(tuple(at[axis][place] for axis in axes), _printed(entry, getattr(row, name), COLUMNS[name]))
        for place, row in enumerate(given)
    )
    if len({point.at for point in points}) < len(points):
        entry.refusals.append(
            Refusal(
                pointer("unit", "performance_table"),
                None,
                "one row for each set of conditions",
                f"has two values of {name} for the same conditions",
                "State what distinguishes the rows (airflow, return air, mode or stage), or leave one out.",
            )
        )
        return None
    return TableColumn(axes, points)


def _printed(entry: Entry, given: object, kind: str) -> float:
    """A value of the table in SI; pressures are gauge at sea level unless they say otherwise."""
    if kind != "absolute_pressure":
        return entry.to_si(given, kind)
    value = entry.to_si(given, "pressure")
    absolute = getattr(given, "unit", None) == "psia" or getattr(given, "reference", None) == "absolute"
    return value if absolute else value + STANDARD_PRESSURE


#: Readings that show an axis, each set enough.
_SHOWN_BY = {
    "outdoor_air_dry_bulb": (("outdoor_air_dry_bulb",),),
    "return_air_dry_bulb": (("return_air_dry_bulb",),),
    "return_air_wet_bulb": (("return_air_wet_bulb",), ("return_air_dry_bulb", "return_air_relative_humidity")),
    "airflow": (("airflow",),),
}


def _gap(entry: Entry, column: TableColumn) -> str | None:
    """Why a column cannot be used at the conditions of the run; None where it can."""
    # What a plan intends has no value yet; what a log shows is not among the readings taken once.
    given = entry.request.run.readings.model_fields_set | entry.readings.keys()
    for axis in column.axes:
        words = axis.replace("_", " ")
        if not any(given.issuperset(names) for names in _SHOWN_BY[axis]):
            return f"it depends on the {words}, which is not given"
        value = entry.readings.get(axis)
        values = column.values_of(axis)
        low, high = values[0], values[-1]
        beyond = _beyond(axis, high)
        if value is not None and not low - beyond <= value <= high + beyond:
            return f"the {words} is outside the table's range"
    return None


#: Conditions of the ratings, by mode [K].
_RATED_AT: Mapping[str, Mapping[str, float]] = {
    "cooling": {
        "outdoor_air_dry_bulb": RATING_A_OUTDOOR,
        "return_air_dry_bulb": RATING_DRY_BULB,
        "return_air_wet_bulb": RATING_WET_BULB,
    },
    "heating": {"outdoor_air_dry_bulb": RATING_HEATING_OUTDOOR, "return_air_dry_bulb": RATING_HEATING_RETURN},
}


def _disputed(entry: Entry, columns: Mapping[str, TableColumn]) -> Iterator[Disputed]:
    """Columns that are far from the rating at its conditions."""
    for name, rated in _rated(entry).items():
        printed = _at_rating(entry, columns[name]) if name in columns else float("nan")
        if abs(printed / rated - 1.0) > TABLE_AGAINST_RATING[name]:  # never of not-a-number
            yield Disputed(name, printed, rated)


def _rated(entry: Entry) -> dict[str, float]:
    """What the rating says of columns of the table [SI]."""
    cooling = entry.request.unit.mode == "cooling"
    own = entry.constants
    capacity = RATED + ("cooling_capacity" if cooling else "heating_capacity")
    efficiency = RATED + ("eer" if cooling else "heating_cop")
    if capacity not in own:
        return {}
    rated = float(own[capacity])
    return {"capacity": rated} | ({"power": rated / float(own[efficiency])} if efficiency in own else {})


def _at_rating(entry: Entry, column: TableColumn) -> float:
    """What a column says at the conditions of the rating [SI]; not-a-number where it does not reach them."""
    at = {name: np.array([value]) for name, value in _RATED_AT[entry.request.unit.mode].items()}
    if "airflow" in column.axes:
        rows = column.values_of("airflow")
        at["airflow"] = np.array([float(entry.constants.get(RATED + "airflow", rows[len(rows) // 2]))])
    if not set(column.axes) <= at.keys():
        return float("nan")
    return float(column.value(at)[0])
