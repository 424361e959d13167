"""The verdict on the system: one test, one direction, one equivalence test; and what it points to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field
from math import exp, log, sqrt
from typing import Literal, cast

import numpy as np
from numpy.typing import NDArray

from schemas.comparisons import (
    AnyChange,
    AtRating,
    CauseName,
    PercentChange,
    PossibleCause,
    QuantityChange,
    System,
    SystemProbabilities,
    Verdict,
)
from service.compare.fusion import Fusion
from service.compare.quantities import (
    ENDS,
    AsRead,
    judgeable,
    logarithms,
    percent_change,
    percent_of,
    percent_of_change,
    percents,
    rounded,
    share,
)
from service.compare.tests_of_change import (
    Showing,
    any_change,
    detectable_by_any_cause,
    equivalent,
    informed,
    limits,
    showing,
    wanted,
)
from service.derive.derivations import QUANTITIES, UnitKind
from service.derive.examined import Examined
from service.intake.paths import PHASES
from service.reference.changes import (
    CAPACITOR_EVIDENCE,
    DIRECTION,
    HARDLY_KNOWN,
    INFORMED,
    JUDGED,
    TEST_LEVEL,
    WATCHED,
)
from service.reference.model_outputs import outputs_of
from service.reference.settling import SETTLING
from service.reference.sources import source
from service.reference.unit_model import ELECTRICAL_FAULTS, Cause
from service.uncertainty.low_discrepancy import normal_scores
from service.uncertainty.mixture import Normals, find_quantiles
from service.uncertainty.omnibus import Directions, probability
from service.unit.layout import LAYOUTS, Health
from service.unit.model import FOUND, FOUND_AT_RATING, LEFT, LEFT_AT_RATING
from service.words import comparison as words

FloatArray = NDArray[np.float64]

_LOGARITHMS = (True, True, True)
#: The parameter that is the size of the change itself, by cause.
_SIZES: Mapping[str, str] = {
    "condenser_heat_transfer": "condenser_change",
    "evaporator_airflow": "airflow_change",
    "evaporator_heat_transfer": "evaporator_change",
    "compressor": "flow_change",
    "outdoor_coil": "outdoor_coil_change",
    "indoor_airflow": "airflow_change",
    "indoor_coil": "indoor_coil_change",
}
#: Prior probability that a part outside the unit model changed.
_ELECTRICAL = 0.05
_WORTH_A_WORD = 0.1
#: Share of the variance by what a start had left from which the minutes of running are asked for.
_WORTH_STATING = 0.05
#: How the names of quantities end that show a capacitor.
_CAPACITOR = "_run_capacitance"


@dataclass(frozen=True, slots=True)
class Found:
    """What was found about the system: changes of logarithms, under the first run's conditions and at rating;
    None where the readings do not give them.

    ``outputs`` are efficiency and capacity as the model names them.  ``probability`` is that of such readings
    without any change, ``probability_of_unit`` the same without what the capacitors show.
    ``smallest`` are the changes of logarithms that would show whichever one cause they had, by output.
    """

    efficiency: Normals | None
    capacity: Normals | None
    power: Normals | None
    rated_efficiency: Normals | None
    rated_capacity: Normals | None
    probability: float | None
    probability_of_unit: float | None
    directions: int
    watched: Mapping[str, float]
    outputs: tuple[str, str]
    smallest: Mapping[str, float] = field(default_factory=dict)

    @property
    def of_the_system(self) -> dict[str, tuple[Normals, float] | None]:
        """The two changes that the verdict is about, each with the smallest that would show."""
        return {
            name: None if change is None else (change, self.smallest[name])
            for name, change in zip(self.outputs, (self.efficiency, self.capacity), strict=True)
        }

    @property
    def changed(self) -> bool:
        """Whether it is shown that anything changed."""
        return self.probability is not None and self.probability < TEST_LEVEL

    @property
    def unit_changed(self) -> bool:
        """Whether more than a capacitor is shown to have changed, so that a direction may be claimed."""
        chance = self.probability_of_unit
        return self.changed and chance is not None and chance < TEST_LEVEL


def find(fusion: Fusion | None, read: AsRead, unit: UnitKind) -> Found:
    """Test and changes of the whole system."""
    system = LAYOUTS[unit.mode].of_the_system
    parts: tuple[list[tuple[float, float]], ...] = ([], [])
    watched = {}
    for name, size in WATCHED.items():
        if name not in read.names or not judgeable(JUDGED[name], unit):
            continue
        place = read.names.index(name)
        deviation = float(read.deviations[place])
        if deviation <= 0.0:
            continue
        expected = size * abs(float(read.before[place])) if size < 1.0 else size
        score = float(read.after[place] - read.before[place]) / deviation
        watched[name] = score
        parts[name.endswith(_CAPACITOR)].append((score, (expected / deviation) ** 2))
    own, capacitors = (_alone(part) for part in parts)
    if fusion is not None:
        own = any_change(fusion).beside(own)
    whole = own.beside(capacitors) if len(capacitors.scores) else own
    chance = probability(whole, normal_scores()) if len(whole.scores) else None
    # A capacitor that was exchanged shows that something changed, not what the unit delivers.
    of_unit = chance if whole is own else probability(own, normal_scores())
    if fusion is None:
        return Found(None, None, None, None, None, chance, of_unit, len(whole.scores), watched, system)
    efficiency, capacity = system
    outputs = (efficiency, capacity, "total_power")
    here = fusion.difference(FOUND, LEFT, outputs, _LOGARITHMS)
    rated = fusion.difference(FOUND_AT_RATING, LEFT_AT_RATING, outputs, _LOGARITHMS)
    known = {
        name: name in here and informed(fusion, name) >= INFORMED and here[name].deviation <= HARDLY_KNOWN
        for name in outputs
    }

    find_quantiles([*here.values(), *rated.values()], ENDS)

    def kept(values: dict[str, Normals], name: str) -> Normals | None:
        return values.get(name) if known[name] else None

    return Found(
        kept(here, efficiency),
        kept(here, capacity),
        kept(here, "total_power"),
        kept(rated, efficiency),
        kept(rated, capacity),
        chance,
        of_unit,
        len(whole.scores),
        watched,
        system,
        dict(zip(outputs, detectable_by_any_cause(fusion, outputs).tolist(), strict=True)),
    )


def _alone(watched: Sequence[tuple[float, float]]) -> Directions:
    """Quantities that each may change by itself: their scores, and the variance over that of their errors."""
    added = []
    for place, (_, ratio) in enumerate(watched):
        matrix = np.zeros((len(watched), len(watched)))
        matrix[place, place] = ratio
        added.append((_ELECTRICAL, matrix))
    return Directions(np.array([score for score, _ in watched]), tuple(added))


def verdict(found: Found, matters: Mapping[str, float]) -> Verdict:
    """The verdict; the contract states its rules.

    That nothing material changed must be what the readings show, not what was thought beforehand: the
    estimate of each cause alone must be sharp enough for the test of equivalence, of both changes.
    """
    parts = {name: part for name, part in found.of_the_system.items() if part is not None}
    if not parts:
        return "inconclusive"
    if len(parts) == len(found.of_the_system) and all(
        equivalent(change, logarithms(matters[name]), smallest) for name, (change, smallest) in parts.items()
    ):
        return "no_material_change"
    if not found.unit_changed:
        return "inconclusive"
    up = [1.0 - change.under(0.0) >= DIRECTION for change, _ in parts.values()]
    down = [change.under(0.0) >= DIRECTION for change, _ in parts.values()]
    if any(up) and any(down):
        return "inconclusive"
    if any(up):
        return "improved"
    return "worsened" if any(down) else "inconclusive"


@dataclass(frozen=True, slots=True)
class Judged:
    """What the readings of two runs show about the system.

    ``fusion`` is the unit model fitted to both runs; ``obstacle`` is why they cannot be fitted, and ``withheld``
    whether it forbids a verdict; ``in_step`` is whether power and capacity moved as between two stages, and ``frost``
    whether frost on the outdoor coil was not ruled out in both.  ``minutes`` are those that the unit had run, None
    where they are not stated.
    """

    found: Found
    fusion: Fusion | None
    obstacle: words.Obstacle | None
    withheld: bool
    in_step: bool
    frost: bool
    minutes: Mapping[Health, float | None]


def system_answer(
    judged: Judged,
    before: Examined,
    given: Mapping[Health, Set[str]],
    matters: Mapping[str, float],
    shown: Mapping[str, QuantityChange],
) -> System:
    """The ``system`` part of the answer.

    ``given`` names the readings of each run; ``shown`` are the changes of the single values.
    """
    found, fusion, withheld = judged.found, judged.fusion, judged.withheld
    sizes = showing(fusion) if found.efficiency is not None and fusion is not None else {}
    hardest, causes = _hardest(sizes), LAYOUTS[before.unit.mode].causes
    efficiency = found.efficiency
    smallest = matters[found.outputs[0]]
    word: Verdict = "inconclusive" if withheld else verdict(found, matters)
    sources = limits(fusion)[0] if efficiency is not None and fusion is not None else {}
    missing = _missing(fusion, before, given)
    if sources.get(SETTLING, 0.0) >= _WORTH_STATING:
        missing += [f"runs.{run}.minutes_running" for run, minutes in judged.minutes.items() if minutes is None]
    facts = words.SystemFacts(
        verdict=word,
        changed=found.changed,
        obstacle=judged.obstacle,
        withheld=withheld,
        efficiency=None if efficiency is None else percents(efficiency),
        capacity=None if found.capacity is None else percents(found.capacity),
        moved=_moved(found),
        probability=found.probability,
        matters=100.0 * smallest,
        hidden=_hidden(sizes, causes),
        missing=missing,
        better=_labels(shown, "improved"),
        worse=_labels(shown, "worsened"),
        in_step=judged.in_step,
        frost=judged.frost,
        minutes=judged.minutes,
    )
    return {
        "verdict": word,
        "sentence": words.system_sentence(facts),
        "any_change": _any_change(judged),
        "probabilities": None if efficiency is None else _probabilities(efficiency, smallest),
        "efficiency_change_percent": percent_change(efficiency),
        "capacity_change_percent": percent_change(found.capacity),
        "power_change_percent": percent_change(found.power),
        "at_rating_conditions": _at_rating(found),
        "smallest_detectable_percent": (
            percent_of(hardest[1].efficiency) if hardest is not None and hardest[1].seen else None
        ),
        "smallest_that_matters_percent": rounded(100.0 * smallest),
        "uncertainty_from": sources,
        "points_to": [] if withheld else _points_to(found, fusion, sizes, causes),
        "missing": missing,
    }


def _any_change(judged: Judged) -> AnyChange:
    chance = judged.found.probability
    return {
        "changed": None if chance is None else judged.found.changed and not judged.withheld,
        "probability": None if chance is None else share(chance),
        "directions": judged.found.directions,
    }


def _probabilities(change: Normals, matters: float) -> SystemProbabilities:
    above, below = 1.0 - change.under(log(1 + matters)), change.under(log(1 - matters))
    return {
        "improved": share(1.0 - change.under(0.0)),
        "worsened": share(change.under(0.0)),
        "within_what_matters": share(1.0 - above - below),
    }


def _at_rating(found: Found) -> AtRating | None:
    if found.rated_efficiency is None or found.rated_capacity is None:
        return None
    return {
        "efficiency_percent": percent_of_change(found.rated_efficiency),
        "capacity_percent": percent_of_change(found.rated_capacity),
    }


def _missing(fusion: Fusion | None, before: Examined, given: Mapping[Health, Set[str]]) -> list[str]:
    """Paths of what would give, or sharpen, the efficiency change; what prevents it comes first."""
    if fusion is not None:
        return wanted(fusion, given)
    if not before.unit.capacity_is_known:
        return []
    found = [] if PHASES in before.visit.leaves else ["unit.refrigerant"]
    essential = [
        (row.reading.name, row.name)
        for row in outputs_of(before.unit.mode)
        if row.reading is not None and row.reading.essential
    ]
    return found + [
        f"runs.{run}.readings.{name}"
        for name, output in essential
        for run, names in given.items()
        if name not in names and output not in names
    ]


def _hardest(sizes: Mapping[str, Showing]) -> tuple[str, Showing] | None:
    """The cause that the readings show worst, and how large it must be to show."""
    return max(sizes.items(), key=lambda item: item[1].efficiency) if sizes else None


def _hidden(sizes: Mapping[str, Showing], causes: Mapping[str, Cause]) -> words.Hidden | None:
    hardest = _hardest(sizes)
    if hardest is None:
        return None
    name, one = hardest
    return words.Hidden(causes[name].text, percent_of(one.efficiency) if one.seen else None)


def _points_to(
    found: Found, fusion: Fusion | None, sizes: Mapping[str, Showing], causes: Mapping[str, Cause]
) -> list[PossibleCause]:
    chances = dict(fusion.probabilities) if fusion is not None else {}
    total = sum(chances.values())
    weight = 0.0
    for name, score in found.watched.items():
        if name.endswith(_CAPACITOR):
            ratio = CAPACITOR_EVIDENCE
            gain = 0.5 * (score**2 * ratio / (1.0 + ratio)) - 0.5 * log(1.0 + ratio)
            weight = max(weight, _ELECTRICAL * exp(min(gain, 200.0)))
    if weight > _WORTH_A_WORD:
        # A capacitor changes independently of everything in the unit model.
        chances["electrical"] = total * weight / (1.0 + weight) if total else weight / (1.0 + weight)
        total = total or 1.0
    rows: list[PossibleCause] = []
    for name, own in sorted(chances.items(), key=lambda item: -item[1]):
        if own / total < 0.005:
            continue
        rows.append(
            {
                "cause": cast(CauseName, name),
                "probability": share(own / total),
                "text": causes[name].text if name in causes else words.CAPACITOR,
                "faults": list(causes[name].faults if name in causes else ELECTRICAL_FAULTS),
                "source": source(causes[name].source if name in causes else "practice"),
                "change_percent": _size(fusion, name),
                "smallest_detectable_percent": (
                    percent_of(sizes[name].efficiency) if name in sizes and sizes[name].seen else None
                ),
            }
        )
    return rows


def _size(fusion: Fusion | None, cause: str) -> PercentChange | None:
    if fusion is None or cause not in _SIZES:
        return None
    for one in fusion.explanations:
        if one.cause == cause:
            place = fusion.model.layout.index[_SIZES[cause]]
            deviation = sqrt(max(float(one.found.covariance[place, place]), 0.0))
            return percent_change(Normals(np.ones(1), one.found.parameters[place : place + 1], np.array([deviation])))
    return None


def _moved(found: Found) -> list[tuple[str, Literal["rose", "fell"]]]:
    """Which of the two changes are shown to have a direction, and which."""
    changes = (("efficiency", found.efficiency), ("capacity", found.capacity))
    falls = {name: change.under(0.0) for name, change in changes if change is not None}
    return [
        (name, "fell" if fell > 0.5 else "rose") for name, fell in falls.items() if max(fell, 1.0 - fell) >= DIRECTION
    ]


def _labels(shown: Mapping[str, QuantityChange], verdict: str) -> list[str]:
    return [QUANTITIES[name].label for name, row in shown.items() if row["verdict"] == verdict]
