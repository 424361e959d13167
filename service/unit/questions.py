"""Questions to the unit model, answered many at once.

The model costs calls, not size: the causes of one comparison, the explanations of one visit and all cases of a
batch that are at work at the same time are states of one array.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.reference.metering_devices import FIXED_DEVICES
from service.unit.model import Outputs, Pairing, UnitModel, linear

FloatArray = NDArray[np.float64]


class Question(NamedTuple):
    """What readings can show of a unit in some states, and how that follows its parameters: see
    :meth:`service.unit.model.UnitModel.linear`."""

    model: UnitModel
    parameters: FloatArray
    spread: FloatArray
    states: Sequence[Pairing]
    starts: Sequence[FloatArray | None]

    @classmethod
    def answers(cls, questions: Sequence[Question]) -> Sequence[Answer]:
        """The answers to questions about any units, each with the same bits as alone."""
        return _answers(questions)


class Answer(NamedTuple):
    """Outputs of each state, and the saturation temperatures (S, 2) [K] of the solutions."""

    outputs: list[Outputs]
    saturation: FloatArray


#: States in one array: enough to share what calls cost, few enough that their arrays stay in the cache.
_STATES = 48


def _answers(questions: Sequence[Question]) -> list[Answer]:
    alike: dict[object, list[tuple[int, int]]] = {}
    for place, asked in enumerate(questions):
        model = asked.model
        kind = (model.phases, model.mode, model.device in FIXED_DEVICES)
        alike.setdefault(kind, []).extend((place, state) for state in range(len(asked.states)))
    outputs: list[list[Outputs]] = [[] for _ in questions]
    saturation = [np.empty((len(asked.states), 2)) for asked in questions]
    for states in alike.values():
        for first in range(0, len(states), _STATES):
            some = states[first : first + _STATES]
            shown, solved = _of_states([(questions[place], state) for place, state in some])
            for (place, state), one, own in zip(some, shown, solved, strict=True):
                outputs[place].append(one)
                saturation[place][state] = own
    return [Answer(*both) for both in zip(outputs, saturation, strict=True)]


def _of_states(some: Sequence[tuple[Question, int]]) -> tuple[list[Outputs], FloatArray]:
    return linear(
        [asked.model for asked, _ in some],
        np.stack([asked.parameters if asked.parameters.ndim == 1 else asked.parameters[k] for asked, k in some]),
        np.stack([asked.spread for asked, _ in some]),
        [asked.states[k] for asked, k in some],
        [asked.starts[k] for asked, k in some],
    )
