"""What a usability check sees and what it returns: shared by the modules that hold checks."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import AssessmentRequest
from service.derive.derivations import UnitKind
from service.derive.draws import DrawnVisit
from service.derive.examined import Derived, unit_kind
from service.intake.paths import READING
from service.reference.conditions import SHOWN
from service.reference.notices import ITEMS, NOTICES, Weight
from service.words.phrases import listed, phrase, spoken

FloatArray = NDArray[np.float64]
Values = Mapping[str, FloatArray]


@dataclass(frozen=True, slots=True)
class Notice:
    """One thing noticed; ``stops`` are the groups of limits that it keeps from being applied, ``unmet`` those that
    are applied though a ``condition`` of their procedure is not met.

    ``words`` are its sentence, or a function that makes it where that costs more than writing numbers.  ``settle`` is
    what to do first where its readings are not what they are called, ``quantities`` what else is not judged.
    """

    code: str
    weight: Weight
    readings: tuple[str, ...]
    words: str | Callable[[], str]
    source: str
    stops: tuple[str, ...] = ()
    unmet: tuple[str, ...] = ()
    condition: str = ""
    settle: str = ""
    quantities: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """The notice in words."""
        return self.words if isinstance(self.words, str) else self.words()


def notice(
    name: str,
    readings: Iterable[str] = (),
    values: Callable[[], Mapping[str, str]] | None = None,
    /,
    *,
    stops: Iterable[str] = (),
    quantities: Iterable[str] = (),
    **said: str,
) -> Notice:
    """The notice of a row, with the values that its text names, as they are written.

    ``values`` makes them instead, once the notice is worded, where that costs more than writing numbers.  ``stops``
    are groups of limits that depend on the visit, in addition to those of the row; ``quantities`` are not judged.
    """
    row = NOTICES[name]

    def words() -> str:
        return row.text.format_map(said if values is None else values())

    return Notice(
        row.code,
        row.weight,
        tuple(readings),
        words,
        row.source,
        (*row.stops, *stops),
        row.unmet,
        row.condition.format_map(said),
        row.settle.format_map(said),
        tuple(quantities),
    )


def item(name: str, value: str = "") -> str:
    """One item of a notice that lists what it rests on."""
    return ITEMS[name].format(value=value)


def named(*readings: str) -> str:
    """Readings in a sentence."""
    return listed([spoken(READING + name) for name in readings])


@dataclass(frozen=True, slots=True)
class Case:
    """What a check looks at: the request, the visit's draws, the derived draws, and the leaves that
    each, and all, of these come from."""

    request: AssessmentRequest
    visit: DrawnVisit
    derived: Values
    depends: Mapping[str, Sequence[str]]
    used: Collection[str]

    @property
    def unit(self) -> UnitKind:
        """The kind of unit, and how it ran."""
        return unit_kind(self.request, self.visit)

    def say(self, kind: str, value: float) -> str:
        """A value in the caller's units."""
        return phrase(kind, value, self.visit.system)

    def draws(self, name: str) -> FloatArray | None:
        """Draws of a derived quantity, else of a reading, else None."""
        found = self.derived.get(name)
        return self.visit.leaves.get(READING + name) if found is None else found

    def is_below(self, upper: str, lower: str) -> bool:
        """Whether the quantity that should be higher is shown to be lower."""
        high, low = self.draws(upper), self.draws(lower)
        if high is None or low is None or not np.count_nonzero(high < low):
            return False  # as for nearly all readings
        difference = high[1:] - low[1:]
        known = difference[np.isfinite(difference)]
        return bool(known.size) and share(known < 0.0) > SHOWN


def case_of(derived: Derived) -> Case:
    """What the checks look at in a visit."""
    computed = derived.computed
    on = computed.dependence
    return Case(derived.request, derived.visit, computed.shown, on.depends, on.leaves)


def share(truths: NDArray[np.bool_]) -> float:
    """Share of draws for which something is true."""
    return int(np.count_nonzero(truths)) / truths.size


def readings_behind(case: Case, *names: str) -> tuple[str, ...]:
    """The readings of a visit that derived quantities come from, each once."""
    sides = {
        "suction_saturation_temperature": ("suction_pressure", "suction_saturation_temperature"),
        "suction_pressure_absolute": ("suction_pressure", "suction_saturation_temperature"),
        "liquid_saturation_temperature": ("liquid_pressure", "liquid_saturation_temperature"),
        "condensing_temperature": (
            "discharge_pressure",
            "liquid_pressure",
            "liquid_saturation_temperature",
        ),
        "high_side_pressure_absolute": (
            "discharge_pressure",
            "liquid_pressure",
            "liquid_saturation_temperature",
        ),
    }
    found = [r for name in names for r in sides.get(name, (name,)) if r in case.visit.readings]
    return tuple(dict.fromkeys(found))
