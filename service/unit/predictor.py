"""Numbers that readings give, as the unit model predicts them: values and slopes of many rows at once."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.uncertainty.asking import Asking, ask
from service.unit.layout import Weather
from service.unit.model import Outputs, Pairing, UnitModel
from service.unit.questions import Question

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Row:
    """One number that the model predicts: in which state, and whether as a logarithm."""

    output: str
    logarithmic: bool
    state: Pairing
    source: str

    @property
    def weather(self) -> Weather:
        """Whose conditions."""
        return self.state[0]


class Predictor:
    """The model's view of M rows; remembers the last solution of each state as its next start."""

    def __init__(self, model: UnitModel, rows: Sequence[Row], steps: FloatArray) -> None:
        self.model, self.steps, self.count = model, steps, len(rows)
        self.last: dict[Pairing, FloatArray] = {}
        self.places: dict[Pairing, list[int]] = {}
        for place, row in enumerate(rows):
            self.places.setdefault(row.state, []).append(place)
        self.seen = {
            state: ([rows[p].output for p in places], [rows[p].logarithmic for p in places])
            for state, places in self.places.items()
        }

    def again(self) -> Predictor:
        """Another view of the same, which begins where this one is and goes its own way."""
        other = copy(self)
        other.last = dict(self.last)
        return other

    def __call__(self, parameters: FloatArray) -> Asking[tuple[FloatArray, FloatArray]]:
        """Values (M,) and gradients (M, P)."""
        states = list(self.places)
        question = Question(self.model, parameters, self.steps, states, [self.last.get(state) for state in states])
        answer = yield from ask(question)
        outputs, saturations = answer
        values = np.empty(self.count)
        gradients = np.empty((self.count, len(parameters)))
        for state, shown, saturation in zip(states, outputs, saturations, strict=True):
            if np.isfinite(saturation).all():
                self.last[state] = saturation
            places = self.places[state]
            values[places], gradients[places] = rows_of(shown, *self.seen[state])
        return values, gradients


def rows_of(outputs: Outputs, names: Sequence[str], logarithmic: Sequence[bool]) -> tuple[FloatArray, FloatArray]:
    """Values (Q,) and gradients (Q, P), of logarithms where wanted."""
    rows = outputs.rows(names)
    values, gradients = rows[:, 0], rows[:, 1:]
    log = np.flatnonzero(logarithmic)
    with np.errstate(invalid="ignore", divide="ignore"):
        gradients[log] /= values[log, None]
        values[log] = np.log(values[log])
    return values, gradients
