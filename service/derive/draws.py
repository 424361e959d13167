"""Draws of visits: what they assume is added, and every leaf with errors is drawn.

The visit of the intake stays as it is; what is drawn is an object of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.intake.leaves import Leaves
from service.intake.paths import ASSUMED
from service.intake.visit import Visit
from service.uncertainty.propagation import Basis, Inputs, basis

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DrawnVisit(Visit):
    """A visit with its assumptions, drawn.

    ``leaves`` maps the paths of the request, and what is assumed, to draws (shape (N + 1,), nominal first),
    to plain numbers for nameplate values, and to the saturation curves.  ``inputs`` are its variables as
    arrays.
    """

    leaves: Mapping[str, Any]
    inputs: Inputs


class Drawn(NamedTuple):
    """Visits of one kind, drawn, and the draws by leaf: (visits, N + 1), of assumptions (1, N + 1)."""

    visits: list[DrawnVisit]
    rows: dict[str, FloatArray]


def draw(visits: Sequence[Visit], assumed: Sequence[str]) -> Drawn:
    """Draws of visits of one kind, with the assumptions named, each visit its own rows.

    What is assumed is the same for all, so what follows from it alone is drawn once.
    """
    leaves = [_with_assumptions(visit, assumed) for visit in visits]
    first, draws = leaves[0], visits[0].sample.draws
    scales = np.array([[variable.scale for variable in own.variables] for own in leaves])
    of_all = basis(tuple([variable.mix for variable in first.variables]), draws)
    common = [name for name in first.uncertain if name.startswith(ASSUMED)]
    read = [name for name in first.uncertain if not name.startswith(ASSUMED)]
    rows = _rows(leaves[:1], common, of_all) | _rows(leaves, read, of_all)
    shared = {name: rows[name][0] for name in common}
    found = []
    for place, (visit, own) in enumerate(zip(visits, leaves, strict=True)):
        values = {**visit.constants, **shared}
        for name in read:
            values[name] = rows[name][place]
        found.append(
            DrawnVisit(
                visit.system,
                visit.sample,
                visit.constants,
                MappingProxyType(own.uncertain),
                MappingProxyType(own.depends),
                visit.readings,
                visit.instruments,
                tuple(own.variables),
                MappingProxyType(own.sensors),
                MappingProxyType(own.leaf_variables),
                visit.refrigerant,
                visit.phases,
                visit.assumed_sea_level,
                visit.presumed_plate,
                visit.stated_altitude_pressure,
                visit.table_gap,
                visit.unzeroed,
                visit.unsteady,
                visit.logged,
                visit.minutes_running,
                visit.left_out,
                visit.table_disputed,
                MappingProxyType(values),
                Inputs(of_all, scales[place]),
            )
        )
    return Drawn(found, rows)


def _with_assumptions(visit: Visit, names: Iterable[str]) -> Leaves:
    """The visit's leaves, and the assumptions named, each as one more."""
    leaves = Leaves(
        dict(visit.uncertain),
        dict(visit.depends),
        list(visit.variables),
        dict(visit.sensors),
        dict(visit.leaf_variables),
    )
    for name in names:
        leaves.assume(name)
    return leaves


def _rows(every: Sequence[Leaves], names: Sequence[str], of_all: Basis) -> dict[str, FloatArray]:
    """Draws (visits, N + 1) of some leaves of several visits of one kind."""
    if not names:
        return {}
    first = every[0]
    parts = [first.uncertain[name] for name in names]
    rows = [row for row, part in enumerate(parts) for _ in part.positions]
    columns = [position for part in parts for position in part.positions]
    own = [[leaves.uncertain[name] for name in names] for leaves in every]
    coefficients = np.zeros((len(every), len(names), len(first.variables)))
    coefficients[:, rows, columns] = [[value for part in one for value in part.coefficients] for one in own]
    values = np.array([[part.value for part in one] for one in own])
    drawn = (coefficients @ of_all.draws + values[:, :, None]).transpose(1, 0, 2)
    found: dict[str, FloatArray] = dict(zip(names, drawn, strict=True))
    for row, (name, part) in enumerate(zip(names, parts, strict=True)):
        if isinstance(part.then, str):
            found[name] = found[name] + found[part.then]
        elif part.then is not None:
            found[name] = part.then(found[name])
            # The nominal is what the caller read, not its round trip through the curves.
            found[name][:, 0] = [one[row].shown for one in own]
    return found
