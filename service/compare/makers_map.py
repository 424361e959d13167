"""How a unit follows the weather by its maker's table, where both runs lie within its rows."""

from __future__ import annotations

import numpy as np

from service.reference.healthy_units import AS_FOUND_OF_THE_TABLE
from service.uncertainty.asking import Asking
from service.uncertainty.least_squares import Prior, fit
from service.unit.evidence import Evidence, joint
from service.unit.layout import RUNS
from service.unit.makers_table import own_errors
from service.unit.model import UnitModel
from service.unit.predictor import Predictor, Row


def with_makers_map(model: UnitModel, prior: Prior, both: tuple[Evidence, Evidence]) -> Asking[Prior]:
    """What is known of a unit as found and of how it follows the weather, by the table too; ``prior`` without one.

    The unit as found may be far from its table, but it changes from one run's weather to the other's as the table
    does.  What is known of the conditions and of changes stays as it was.
    """
    tables = [part.table for part in both]
    columns = [one for one in tables[0].columns if one in tables[1].columns]
    if not columns:
        return prior
    tables = [table.only(columns) for table in tables]
    rows = [Row(one.output, one.logarithmic, (run, "before"), one.column) for run in RUNS for one in columns]
    slopes, variances = joint([table.slopes for table in tables], [part.variables for part in both])
    errors = (slopes * variances) @ slopes.T + own_errors(tables, AS_FOUND_OF_THE_TABLE)
    layout, spread = model.layout, np.sqrt(np.diagonal(prior.covariance))
    kept = [layout.index[f"{name}_{run}"] for run in RUNS for name in layout.conditions] + layout.places
    pinned = prior.covariance.copy()
    pinned[kept, :] = 0.0
    pinned[:, kept] = 0.0
    pinned[kept, kept] = (_PINNED * np.minimum(spread[kept], 1.0)) ** 2
    found = yield from fit(
        Predictor(model, rows, spread),
        np.concatenate([table.values for table in tables]),
        errors,
        Prior(prior.mean, pinned),
    )
    if found is None:
        return prior
    mean, covariance = found.parameters.copy(), found.covariance.copy()
    mean[kept] = prior.mean[kept]
    covariance[kept, :] = prior.covariance[kept, :]
    covariance[:, kept] = prior.covariance[:, kept]
    return Prior(mean, covariance)


#: Share of its spread that a condition or a change keeps while the table is taken in.
_PINNED = 1e-3
