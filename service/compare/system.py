"""The verdict on the system: one test, one direction, one equivalence test; and what it points to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field
from math import exp, log, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.assess.examination import Examined
from service.compare.fusion import FOUND, FOUND_AT_RATING, LEFT, LEFT_AT_RATING, Fusion
from service.compare.quantities import (
    AsRead,
    judgeable,
    logarithms,
    percent_change,
    percent_of,
    percents,
    rounded,
    share,
)
from service.compare.tests_of_change import (
    CANDIDATES,
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
from service.intake.paths import PHASES, READING
from service.reference.changes import (
    DIRECTION,
    HARDLY_KNOWN,
    INFORMED,
    JUDGED,
    TEST_LEVEL,
    WATCHED,
)
from service.reference.sources import source
from service.reference.unit_model import CAUSES
from service.uncertainty.low_discrepancy import normal_scores
from service.uncertainty.mixture import Normals
from service.uncertainty.omnibus import Directions, probability
from service.unit.model import INDEX, Health
from service.words.phrases import chance, spoken

FloatArray = NDArray[np.float64]

_OUTPUTS = ("eer", "cooling_capacity", "total_power")
_LOGARITHMS = (True, True, True)
#: Size of the change itself, by cause, and what it is called.
_SIZES: Mapping[str, str] = {
    "condenser_heat_transfer": "condenser_change",
    "evaporator_airflow": "airflow_change",
    "evaporator_heat_transfer": "evaporator_change",
    "compressor": "flow_change",
}
#: Probability beforehand that a part outside the unit model changed.
_ELECTRICAL = 0.05
_WORTH_A_WORD = 0.1
#: How the quantities end that tell of a capacitor.
_CAPACITOR = "_run_capacitance"
_RUNS: Mapping[str, str] = {"before": "first", "after": "second"}
#: How many of the readings that may be added are those without which efficiency is not had.
_ESSENTIAL = 4


@dataclass(frozen=True, slots=True)
class Found:
    """What is found about the system: changes of logarithms, at the first run's conditions and at rating;
    None where the readings do not give them.

    ``probability`` is that of such readings without any change, ``probability_of_unit`` the same of what the
    capacitors do not tell.  ``smallest`` are the changes of logarithms that would show whichever one cause
    they had, by output.
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
    smallest: Mapping[str, float] = field(default_factory=dict)

    @property
    def of_the_system(self) -> dict[str, tuple[Normals, float] | None]:
        """The two changes that the verdict is about, each with the smallest that would show."""
        return {
            name: None if change is None else (change, self.smallest[name])
            for name, change in (("eer", self.efficiency), ("cooling_capacity", self.capacity))
        }

    @property
    def changed(self) -> bool:
        """Whether it is shown that anything changed."""
        return self.probability is not None and self.probability < TEST_LEVEL

    @property
    def unit_changed(self) -> bool:
        """Whether it is shown of more than a capacitor, so that a direction may be claimed."""
        chance = self.probability_of_unit
        return self.changed and chance is not None and chance < TEST_LEVEL


def find(fusion: Fusion | None, read: AsRead, unit: UnitKind) -> Found:
    """Test and changes of the whole system."""
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
    told = own.beside(capacitors) if len(capacitors.scores) else own
    chance = probability(told, normal_scores()) if len(told.scores) else None
    # A capacitor that was exchanged shows that something changed, and nothing of what the unit delivers.
    of_unit = chance if told is own else probability(own, normal_scores())
    if fusion is None:
        return Found(None, None, None, None, None, chance, of_unit, len(told.scores), watched)
    here = fusion.difference(FOUND, LEFT, _OUTPUTS, _LOGARITHMS)
    rated = fusion.difference(FOUND_AT_RATING, LEFT_AT_RATING, _OUTPUTS, _LOGARITHMS)
    known = {
        name: name in here
        and informed(fusion, name) >= INFORMED
        and here[name].deviation <= HARDLY_KNOWN
        for name in _OUTPUTS
    }

    def kept(values: dict[str, Normals], name: str) -> Normals | None:
        return values.get(name) if known[name] else None

    return Found(
        kept(here, "eer"), kept(here, "cooling_capacity"), kept(here, "total_power"),
        kept(rated, "eer"), kept(rated, "cooling_capacity"), chance, of_unit, len(told.scores), watched,
        dict(zip(_OUTPUTS, detectable_by_any_cause(fusion, _OUTPUTS).tolist(), strict=True)),
    )  # fmt: skip


def _alone(watched: Sequence[tuple[float, float]]) -> Directions:
    """Quantities that each may change by itself: their scores, and the variance over that of their errors."""
    added = []
    for place, (_, ratio) in enumerate(watched):
        matrix = np.zeros((len(watched), len(watched)))
        matrix[place, place] = ratio
        added.append((_ELECTRICAL, matrix))
    return Directions(np.array([score for score, _ in watched]), tuple(added))


def verdict(found: Found, matters: Mapping[str, float]) -> str:
    """The verdict; see the contract for its rules.

    That nothing material changed must be what the readings show, not what was thought beforehand: the
    estimate of each cause alone must be sharp enough for the test of equivalence, of both changes.
    """
    parts = {name: part for name, part in found.of_the_system.items() if part is not None}
    if not parts:
        return "inconclusive"
    if len(parts) == len(found.of_the_system) and all(
        equivalent(change, logarithms(matters[name]), smallest)
        for name, (change, smallest) in parts.items()
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


def system_answer(
    found: Found,
    fusion: Fusion | None,
    before: Examined,
    given: Mapping[Health, Set[str]],
    matters: Mapping[str, float],
    withheld: str | None,
    without: str | None,
    shown: Mapping[str, Any],
) -> dict[str, Any]:
    """The ``system`` part of the answer.

    ``given`` names the readings of each run; ``withheld`` tells why no verdict may be given, ``without`` why the
    readings do not go through the unit model; ``shown`` are
    the changes of the single values.
    """
    known = found.efficiency is not None and fusion is not None
    sizes = showing(fusion) if known and fusion is not None else {}
    hardest = _hardest(sizes)
    word = "inconclusive" if withheld else verdict(found, matters)
    missing = _missing(fusion, before, given)
    tested = found.probability is not None
    answer: dict[str, Any] = {
        "verdict": word,
        "sentence": _sentence(
            word, found, matters, hardest, withheld, without, _rest(missing, shown)
        )
        + (_lacking(missing) if word == "inconclusive" and known else ""),
        "any_change": {
            "changed": found.changed and withheld is None if tested else None,
            "probability": None if found.probability is None else share(found.probability),
            "directions": found.directions,
        },
        "probabilities": None,
        "efficiency_change_percent": percent_change(found.efficiency),
        "capacity_change_percent": percent_change(found.capacity),
        "power_change_percent": percent_change(found.power),
        "at_rating_conditions": None,
        "smallest_detectable_percent": (
            percent_of(hardest[1].efficiency) if hardest is not None and hardest[1].seen else None
        ),
        "smallest_that_matters_percent": rounded(100.0 * matters["eer"]),
        "uncertainty_from": {},
        "points_to": [] if withheld else _points_to(found, fusion, sizes),
        "missing": missing,
    }
    if found.efficiency is not None:
        change = found.efficiency
        above, below = (
            1.0 - change.under(log(1 + matters["eer"])),
            change.under(log(1 - matters["eer"])),
        )
        answer["probabilities"] = {
            "improved": share(1.0 - change.under(0.0)),
            "worsened": share(change.under(0.0)),
            "within_what_matters": share(1.0 - above - below),
        }
    if found.rated_efficiency is not None and found.rated_capacity is not None:
        answer["at_rating_conditions"] = {
            "efficiency_percent": percent_change(found.rated_efficiency),
            "capacity_percent": percent_change(found.rated_capacity),
        }
    if fusion is not None and known:
        answer["uncertainty_from"] = limits(fusion)[0]
    return answer


def _missing(
    fusion: Fusion | None, before: Examined, given: Mapping[Health, Set[str]]
) -> list[str]:
    """Paths of what would give, or sharpen, the efficiency change: what stops it first."""
    if fusion is not None:
        return wanted(fusion, given)
    if before.unit.mode != "cooling" or not before.unit.capacity_is_known:
        return []
    found = [] if PHASES in before.visit.leaves else ["unit.refrigerant"]
    for name, output, *_ in CANDIDATES[:_ESSENTIAL]:
        found += [
            f"runs.{run}.readings.{name}"
            for run, names in given.items()
            if name not in names and output not in names
        ]
    return found


def _rest(missing: Sequence[str], shown: Mapping[str, Any]) -> str:
    """What would give a change of efficiency, and what is shown without one."""
    needed = f" To obtain it, add {', '.join(_wanted(missing))}." if missing else ""
    better = [
        QUANTITIES[name].label.lower()
        for name, row in shown.items()
        if row["verdict"] == "improved"
    ]
    worse = [
        QUANTITIES[name].label.lower()
        for name, row in shown.items()
        if row["verdict"] == "worsened"
    ]
    told = "; ".join(
        f"shown to be {word}: {', '.join(names)}"
        for word, names in (("better", better), ("worse", worse))
        if names
    )
    return f"{needed} Of the single values, {told or 'none is shown to be better or worse'}."


def _wanted(missing: Sequence[str]) -> list[str]:
    """What is missing in words, with the runs that lack it."""
    runs: dict[str, list[str]] = {}
    for path in missing:
        kind, _, rest = path.partition(".")
        run, _, name = rest.partition(".readings.")
        words = spoken(READING + name if kind == "runs" else path)
        runs.setdefault(words, []).extend([_RUNS[run]] if kind == "runs" else [])
    return [
        words + (f" in {'both runs' if len(of) > 1 else f'the {of[0]} run'}" if of else "")
        for words, of in runs.items()
    ]


def _lacking(missing: Sequence[str]) -> str:
    """Readings that only one run lacks, in a sentence."""
    by_name: dict[str, list[str]] = {}
    for path in missing:
        _, run, _, name = path.split(".", 3)
        by_name.setdefault(name, []).append(_RUNS[run])
    words = [
        f"{name.replace('_', ' ')} in the {runs[0]} run"
        for name, runs in by_name.items()
        if len(runs) == 1
    ]
    return f" Missing: {', '.join(words)}." if words else ""


def _hardest(sizes: Mapping[str, Showing]) -> tuple[str, Showing] | None:
    """The cause that hides best, and what of it would show."""
    return max(sizes.items(), key=lambda item: item[1].efficiency) if sizes else None


def _points_to(
    found: Found, fusion: Fusion | None, sizes: Mapping[str, Showing]
) -> list[dict[str, Any]]:
    chances = dict(fusion.probabilities) if fusion is not None else {}
    total = sum(chances.values())
    weight = 0.0
    for name, score in found.watched.items():
        if name.endswith(_CAPACITOR):
            # Evidence of a change of a tenth, in deviations of about a fiftieth.
            ratio = 25.0
            gain = 0.5 * (score**2 * ratio / (1.0 + ratio)) - 0.5 * log(1.0 + ratio)
            weight = max(weight, _ELECTRICAL * exp(min(gain, 200.0)))
    if weight > _WORTH_A_WORD:
        # A capacitor changes beside anything in the unit model.
        chances["electrical"] = (
            total * weight / (1.0 + weight) if total else weight / (1.0 + weight)
        )
        total = total or 1.0
    rows = []
    for name, own in sorted(chances.items(), key=lambda item: -item[1]):
        if own / total < 0.005:
            continue
        rows.append(
            {
                "cause": name,
                "probability": share(own / total),
                "text": CAUSES[name].text if name in CAUSES else "a run capacitor",
                "source": source(CAUSES[name].source if name in CAUSES else "practice"),
                "change_percent": _size(fusion, name),
                "smallest_detectable_percent": (
                    percent_of(sizes[name].efficiency)
                    if name in sizes and sizes[name].seen
                    else None
                ),
            }
        )
    return rows


def _size(fusion: Fusion | None, cause: str) -> dict[str, Any] | None:
    if fusion is None or cause not in _SIZES:
        return None
    for one in fusion.explanations:
        if one.cause == cause:
            place = INDEX[_SIZES[cause]]
            deviation = sqrt(max(float(one.found.covariance[place, place]), 0.0))
            return percent_change(
                Normals(np.ones(1), one.found.parameters[place : place + 1], np.array([deviation]))
            )
    return None


def _sentence(
    word: str,
    found: Found,
    matters: Mapping[str, float],
    hardest: tuple[str, Showing] | None,
    withheld: str | None,
    without: str | None,
    rest: str,
) -> str:
    if withheld:
        return f"No verdict: {withheld}"
    if found.efficiency is None:
        text = "These readings cannot show whether efficiency changed."
        if without is not None:
            text += f" {without[0].upper()}{without[1:].rstrip('.')}."
        if word in ("improved", "worsened"):
            text = (
                f"The system {word} in capacity: {_words(found.capacity)} in like weather. {text}"
            )
        elif found.probability is None:
            text += " Nothing was read in both runs that could be tested for a change."
        elif found.changed:
            text += f" Something changed (probability by chance {chance(found.probability, 3)})."
        else:
            text += (
                " An unchanged unit would often give readings like these (probability "
                f"{chance(found.probability, 2)})."
            )
        return text + rest
    text = f"Efficiency in like weather: {_words(found.efficiency)}"
    if found.capacity is not None:
        text += f"; capacity: {_words(found.capacity)}"
    seen = ""
    if hardest is not None:
        cause, one = CAUSES[hardest[0]].text, hardest[1]
        seen = (
            f" Least shown is a change of {cause}: such a one, with up to {percent_of(one.efficiency):.1f} % "
            "of efficiency, may go unnoticed; the band counts how unlikely that is."
            if one.seen
            else f" These readings would not reveal a change of {cause}."
        )
    tested = 1.0 if found.probability is None else found.probability
    if word == "no_material_change":
        return (
            f"No material change: shown to be smaller than {100 * matters['eer']:.3g} %, the smallest "
            f"change that matters. {text}."
        )
    if word == "inconclusive":
        if not found.changed:
            return (
                "These instruments cannot tell. An unchanged unit would often give readings like these "
                f"(probability {chance(tested, 2)}). {text}.{seen}"
            )
        conflict = _shown(found)
        if " and " in conflict:
            return f"No one verdict: {conflict}. {text}."
        return (
            "Something changed (probability by chance "
            f"{chance(tested, 3)}), but whether it is for better or worse is not shown. {text}."
        )
    shown = _shown(found)
    return (
        f"The system {word}: {shown}. {text}. The chance of such readings without a change is "
        f"{chance(tested, 3)}."
    )


def _shown(found: Found) -> str:
    """Which of the two is shown to have moved, and where to."""
    words = []
    for name, change in (("efficiency", found.efficiency), ("capacity", found.capacity)):
        if change is not None and max(change.under(0.0), 1.0 - change.under(0.0)) >= DIRECTION:
            words.append(f"{name} {'fell' if change.under(0.0) > 0.5 else 'rose'}")
    return " and ".join(words)


def _words(change: Normals | None) -> str:
    if change is None:
        return "not known"
    middle, low, high = percents(change)
    return f"{middle:+.1f} % (95 %: {low:+.1f} to {high:+.1f} %)"
