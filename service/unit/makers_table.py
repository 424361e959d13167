"""What the maker's performance table says about a healthy unit under the conditions of a visit, for the unit model.

Each column is an output of the model.  The value is printed for the conditions that were read, so it errs with
them; beyond that by what the table leaves, and by how far healthy units depart from it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, hypot
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.derive.examined import Derived
from service.intake.paths import RATED, READING, TABLE
from service.intake.performance_table import AXES, TableColumn
from service.reference.assumptions import TABLE_SPREAD
from service.reference.healthy_units import AIRFLOW_OF_TABLE
from service.uncertainty.propagation import slopes_of
from service.unit.layout import LAYOUTS

FloatArray = NDArray[np.float64]

#: Distance outdoors [K] over which the errors of two printed values are no longer the same: the usual distance of
#: rows (10 °F).
_ROWS_APART = 5.6
#: Share of the spread that keeps two values printed for the same conditions from being one.
_NEVER_THE_SAME = 0.05


class Printed(NamedTuple):
    """One column as an output of the model."""

    column: str
    output: str
    logarithmic: bool


@dataclass(frozen=True, slots=True)
class MakersTable:
    """Values (T,) of the columns that hold for a visit, their slopes (T, K) on its variables, and their own
    standard deviations (T,); ``outdoor`` is the outdoor air [K] that they are printed for."""

    columns: tuple[Printed, ...]
    values: FloatArray
    slopes: FloatArray
    deviations: FloatArray
    outdoor: float

    def only(self, columns: Collection[Printed]) -> MakersTable:
        """What some of the columns say."""
        places = [place for place, one in enumerate(self.columns) if one in columns]
        return replace(
            self,
            columns=tuple([self.columns[place] for place in places]),
            values=self.values[places],
            slopes=self.slopes[places],
            deviations=self.deviations[places],
        )


NO_TABLE = MakersTable((), np.zeros(0), np.zeros((0, 0)), np.zeros(0), 0.0)


def _outputs(mode: str) -> tuple[Printed, ...]:
    return (
        Printed("capacity", LAYOUTS[mode].capacity, logarithmic=True),
        Printed("power", "total_power", logarithmic=True),
        Printed("suction_pressure", "suction_pressure_absolute", logarithmic=True),
        Printed("liquid_pressure", "high_side_pressure_absolute", logarithmic=True),
        Printed("subcooling", "subcooling", logarithmic=False),
        Printed("discharge_line_temperature", "discharge_temperature", logarithmic=False),
    )


_OUTPUTS = {mode: _outputs(mode) for mode in LAYOUTS}


def makers_table(of: Derived) -> MakersTable:
    """What the table says where the visit ran; no columns where there is no table for it.

    Airflow is part of the unit, not of its conditions: a table that depends on it is asked at the rated one, or in
    the middle of its rows.
    """
    read = _conditions(of)
    if read is None:
        return NO_TABLE
    conditions, mask = read
    chosen, rows, deviations = [], [], []
    for one in _OUTPUTS[of.unit.mode]:
        column = of.visit.leaves.get(TABLE + one.column)
        if not isinstance(column, TableColumn) or not set(column.axes) - {"airflow"} <= conditions.keys():
            continue
        values, of_airflow = _asked(column, conditions, of.visit.leaves.get(RATED + "airflow"), one)
        if np.isfinite(values).all():
            chosen.append(one)
            rows.append(values)
            deviations.append(hypot(TABLE_SPREAD[one.column], of_airflow))
    if not chosen:
        return NO_TABLE
    stack = np.stack(rows)
    slopes = slopes_of(stack, of.visit.inputs, np.repeat(mask[None], len(chosen), axis=0))
    outdoor = float(conditions["outdoor_air_dry_bulb"][0])
    return MakersTable(tuple(chosen), stack[:, 0], slopes, np.array(deviations), outdoor)


def _conditions(of: Derived) -> tuple[dict[str, FloatArray], NDArray[np.bool_]] | None:
    """Conditions of a table as draws, and the variables (K,) that they err with; None without outdoor air."""
    mask = np.zeros(len(of.visit.variables), dtype=bool)
    found: dict[str, FloatArray] = {}
    for axis in AXES:
        path = READING + axis
        if path in of.doubted or axis in of.doubted or axis == "airflow":
            continue
        draws = of.visit.leaves.get(path)
        if isinstance(draws, np.ndarray) and draws.ndim == 1:
            mask[list(of.visit.leaf_variables[path])] = True
        else:
            draws = of.computed.as_read.get(axis)
            if not isinstance(draws, np.ndarray) or draws.ndim != 1:
                continue
            own = of.computed.masks[axis]
            mask[: len(own)] |= own
        found[axis] = draws
    return (found, mask) if "outdoor_air_dry_bulb" in found else None


def _asked(
    column: TableColumn, conditions: Mapping[str, FloatArray], rated: object, as_output: Printed
) -> tuple[FloatArray, float]:
    """The column as the model has it, draws along the last axis; and what it leaves open where the airflow of the
    healthy unit is not known: a standard deviation."""

    def at(airflow: float) -> FloatArray:
        flow = np.full_like(conditions["outdoor_air_dry_bulb"], airflow)
        # A table of one row says the same whatever the draw.
        value = np.broadcast_to(column.value({**conditions, "airflow": flow}), flow.shape)
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(np.log(value) if as_output.logarithmic else value)

    if "airflow" not in column.axes:
        return at(0.0), 0.0
    flows = column.values_of("airflow")
    usual = float(rated) if isinstance(rated, float | int) else 0.5 * (flows[0] + flows[-1])
    low, middle, high = (
        at(float(np.clip(usual * exp(times * AIRFLOW_OF_TABLE), flows[0], flows[-1]))) for times in (-1.0, 0.0, 1.0)
    )
    return middle, 0.5 * abs(float(high[0] - low[0]))


def own_errors(tables: Sequence[MakersTable], departures: Mapping[str, float]) -> FloatArray:
    """Covariance of the errors of the tables' values that no reading shares (T in all, T in all).

    A unit departs by the same amount, of the standard deviation ``departures`` by column, wherever it runs.  What the
    rows of a table leave is the same for the same conditions, and no longer so some rows apart.
    """
    rows = [
        (one, float(own), table.outdoor)
        for table in tables
        for one, own in zip(table.columns, table.deviations, strict=True)
    ]
    found = np.zeros((len(rows), len(rows)))
    for place, (one, own, outdoor) in enumerate(rows):
        for other_place, (other, also, elsewhere) in enumerate(rows):
            if one.column == other.column:
                alike = exp(-0.5 * ((outdoor - elsewhere) / _ROWS_APART) ** 2)
                found[place, other_place] = departures[one.column] ** 2 + own * also * alike
        found[place, place] += (_NEVER_THE_SAME * own) ** 2
    return found
