"""What the fitted model can say about change: the one test, what would show, what limits it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from math import expm1, isfinite, log, sqrt

import numpy as np
from numpy.typing import NDArray

from service.compare.fusion import Fusion, allowed
from service.reference.changes import DETECTABLE, EQUIVALENCE_LEVEL, ONE_SIDED, UNSEEN
from service.reference.metering_devices import FIXED_DEVICES
from service.reference.model_outputs import Output, outputs_of
from service.reference.unit_model import Cause
from service.uncertainty.least_squares import covariance_left
from service.uncertainty.mixture import Normals
from service.uncertainty.omnibus import Directions, directions
from service.unit.evidence import joint, owners
from service.unit.layout import RUNS, Health, Layout
from service.unit.model import FOUND, LEFT
from service.unit.predictor import rows_of
from service.words import comparison as words

FloatArray = NDArray[np.float64]

#: Information of a direction that readings say nothing about; spread from which a change is a cause's own.
_LEAST = 1e-6
_OF_ITSELF = 0.1
#: Share of variance that is worth a word.
_WORTH_A_WORD = 0.005
#: How many readings to ask for, and the share of the variance that one must take away.
_WANTED = 3
_WORTH_READING = 0.05
#: Logarithm of a change that does not happen: a value that doubles.  A change that shows only there does not show.
_DOUBLED = log(2.0)


def _addable(mode: str) -> list[tuple[Output, str, float]]:
    """Outputs of which a reading may be added to a run, with its error that is new in each of the two."""
    return [
        (row, row.reading.name, row.reading.repeating)
        for row in outputs_of(mode)
        if row.reading is not None and row.reading.repeating is not None
    ]


def any_change(fusion: Fusion) -> Directions:
    """Directions in which the readings can show a change, scored as if nothing changed."""
    found, errors, layout = fusion.unchanged.found, fusion.errors, fusion.model.layout
    prior = _with_changes(fusion, _drift(layout))
    unchanged = found.jacobian @ prior @ found.jacobian.T + errors
    residual = fusion.readings - found.predicted + found.jacobian @ (found.parameters - fusion.prior.mean)
    changes = [
        (cause.prior, _positive(allowed(cause, fusion.model.device, layout) - _drift(layout)))
        for cause in layout.causes.values()
        if cause.changes
    ]
    return directions(residual, unchanged, found.jacobian[:, layout.places], changes)


def _positive(matrix: FloatArray) -> FloatArray:
    """The nearest covariance: what a cause adds to drift is never negative."""
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray((vectors * np.maximum(values, 0.0)) @ vectors.T)


def _drift(layout: Layout) -> FloatArray:
    return np.diag(np.array([layout.drift[name] for name in layout.changes]) ** 2)


def _with_changes(fusion: Fusion, block: FloatArray) -> FloatArray:
    """The prior covariance (P, P) with that of the changes (C, C) in its place."""
    whole, places = fusion.prior.covariance.copy(), fusion.model.layout.places
    whole[np.ix_(places, places)] = block
    return whole


def _of_efficiency(fusion: Fusion) -> tuple[tuple[str], tuple[bool]]:
    """The output that is the unit's efficiency, as a logarithm."""
    return (fusion.model.layout.efficiency,), (True,)


@dataclass(frozen=True, slots=True)
class Showing:
    """What must change, and by how much of a usual change of that cause, for the readings to show it.

    ``change`` (C,) are the changes of the unit at that point; ``usual`` is their size in standard deviations of
    what the cause usually does; ``efficiency`` the change of its logarithm that goes with them.
    """

    change: FloatArray
    usual: float
    efficiency: float

    @property
    def seen(self) -> bool:
        """Whether a change that happens would show."""
        return self.usual <= UNSEEN


def showing(fusion: Fusion) -> dict[str, Showing]:
    """For each cause, the change it makes that is hardest to see (95 % confidence, 80 % power)."""
    _, gradients = fusion.slopes(fusion.unchanged, FOUND, LEFT, *_of_efficiency(fusion))
    answer: dict[str, Showing] = {}
    for name, change, usual in _just_shown(fusion):
        one = Showing(change, usual, abs(float(gradients[0, fusion.model.layout.places] @ change)))
        if np.isfinite(one.efficiency) and (name not in answer or one.efficiency > answer[name].efficiency):
            answer[name] = one
    return answer


def _just_shown(fusion: Fusion) -> list[tuple[str, FloatArray, float]]:
    """Causes with the changes (C,) from which they show, and how many usual changes that is."""
    found, layout = fusion.unchanged.found, fusion.model.layout
    prior = _with_changes(fusion, _drift(layout))
    unchanged = found.jacobian @ prior @ found.jacobian.T + fusion.errors
    answer = []
    for name, cause in layout.causes.items():
        if not cause.changes or name == "several":
            continue
        for step in steps(cause, fusion.model.device, layout):
            seen = found.jacobian[:, layout.places] @ step
            information = max(float(seen @ np.linalg.solve(unchanged, seen)), _LEAST)
            usual = DETECTABLE / sqrt(information)
            answer.append((name, usual * step, usual))
    return answer


def detectable_by_any_cause(fusion: Fusion, outputs: Sequence[str]) -> FloatArray:
    """Smallest change (Q,) of the logarithm of each output that would show whichever one cause it had
    (95 % confidence, 80 % power): that of the cause which hides best."""
    _, gradients = fusion.slopes(fusion.unchanged, FOUND, LEFT, outputs, [True] * len(outputs))
    changes = np.stack([change for _, change, _ in _just_shown(fusion)])
    sizes = np.abs(gradients[:, fusion.model.layout.places] @ changes.T)
    return np.asarray(np.where(np.isfinite(sizes), sizes, np.inf).max(axis=1))


def absolute(detectable: float, start: float) -> float | None:
    """The smallest change of a logarithm that shows as one of the value; None where none does."""
    shows = isfinite(detectable) and detectable <= _DOUBLED
    return abs(start) * expm1(detectable) if shows else None


def equivalent(change: Normals, ends: tuple[float, float], detectable: float) -> bool:
    """Whether a change is shown to lie between two ends: two one-sided tests.

    ``detectable`` is the smallest change that would show: where the readings show little, a change is not
    shown to be small, however likely that was beforehand.
    """
    low, high = ends
    return (
        change.under(low) <= EQUIVALENCE_LEVEL
        and 1.0 - change.under(high) <= EQUIVALENCE_LEVEL
        and ONE_SIDED * detectable / DETECTABLE <= high
    )


def detectable_by_itself(fusion: Fusion, outputs: Sequence[str], logarithmic: Sequence[bool]) -> FloatArray:
    """Smallest change (Q,) of each output that would show, whatever else may have changed with it.

    95 % confidence, 80 % power; in the output's own unit or its logarithm.  It depends on what the
    readings show about the output under the wide prior, so it is never small for an output that no reading
    depends on.
    """
    _, gradients = fusion.slopes(fusion.wide, FOUND, LEFT, outputs, logarithmic)
    variance = np.einsum("qp,pr,qr->q", gradients, fusion.wide.found.covariance, gradients)
    return np.asarray(DETECTABLE * fusion.model.layout.widening * np.sqrt(np.maximum(variance, 0.0)))


def steps(cause: Cause, device: str | None, layout: Layout) -> list[FloatArray]:
    """The directions (C,) of changes that come with a cause: what moves in step, and the compressor's
    efficiency, which changes by itself."""
    found = [direction(cause, device, layout)]
    if cause.changes.get("efficiency_change", 0.0) > _OF_ITSELF:
        size = cause.changes["efficiency_change"]
        found.append(np.array([size * (name == "efficiency_change") for name in layout.changes]))
    return found


def direction(cause: Cause, device: str | None, layout: Layout) -> FloatArray:
    """The main direction (C,) of the changes that come with a cause."""
    together = cause.together(device) or cause.together(FIXED_DEVICES[0])
    return np.array([together.get(name, 0.0) for name in layout.changes])


def informed(fusion: Fusion, output: str) -> float:
    """Share of the variance of a change that the readings take away from what was not known before,
    where several things may have changed."""
    found = fusion.wide.found
    _, gradient = fusion.slopes(fusion.wide, FOUND, LEFT, (output,), (True,))
    layout = fusion.model.layout
    prior = _with_changes(fusion, allowed(layout.causes["several"], fusion.model.device, layout))
    before = float(gradient[0] @ prior @ gradient[0])
    after = float(gradient[0] @ covariance_left(found.jacobian, fusion.errors, prior) @ gradient[0])
    return 1.0 - after / before if before > 0.0 else 0.0


def wanted(fusion: Fusion, given: Mapping[Health, Set[str]]) -> list[str]:
    """Readings that would sharpen the efficiency change most, best first, as paths of each run.

    ``given`` names the readings of each run.  A reading that one run has is wanted in the other; one that
    neither has is wanted in both.
    """
    _, gradient = fusion.slopes(fusion.wide, FOUND, LEFT, *_of_efficiency(fusion))
    covariance = fusion.wide.found.covariance
    target = gradient[0]
    now = float(target @ covariance @ target)
    addable = _addable(fusion.model.mode)
    names = [row.name for row, _, _ in addable]
    logs = [row.logarithmic for row, _, _ in addable]
    slopes = {run: rows_of(fusion.outputs(fusion.wide, (run, run)), names, logs)[1] for run in RUNS}
    present = [{f.output for f in part.features} for part in fusion.evidence]
    gains = []
    for place, (row, name, error) in enumerate(addable):
        lacking = [
            run for run, known in zip(RUNS, present, strict=True) if row.name not in known and name not in given[run]
        ]
        if not lacking:
            continue
        if len(lacking) == len(RUNS):
            # Both carry one calibration error, so only their difference counts.
            added = slopes["after"][place] - slopes["before"][place]
        else:
            added = slopes[lacking[0]][place]
        noise = 2.0 * error**2 + 2.0 * row.scatter**2
        along = covariance @ added
        gain = float(target @ along) ** 2 / (float(added @ along) + noise)
        gains.append((gain / now, [f"runs.{run}.readings.{name}" for run in lacking]))
    ranked = sorted(gains, key=lambda one: -one[0])
    return [path for gain, paths in ranked[:_WANTED] if gain > _WORTH_READING for path in paths]


def limits(fusion: Fusion) -> tuple[dict[str, float], float]:
    """What contributes to the variance of the efficiency change, as shares, under the most probable
    explanation; and its standard deviation (of the logarithm)."""
    top = max(fusion.explanations, key=lambda one: one.probability)
    found = top.found
    _, gradients = fusion.slopes(top, FOUND, LEFT, *_of_efficiency(fusion))
    gain = gradients[0] @ found.covariance @ found.jacobian.T @ np.linalg.inv(fusion.errors)
    layout = fusion.model.layout
    block = allowed(layout.causes[top.cause], fusion.model.device, layout)
    return _by_origin(fusion, gain, gradients[0] - gain @ found.jacobian, block)


def limits_of_detection(fusion: Fusion, cause: str) -> dict[str, float]:
    """Shares of the variance of the best estimate of one cause, where nothing else changes."""
    found, layout = fusion.unchanged.found, fusion.model.layout
    prior = _with_changes(fusion, _drift(layout))
    unchanged = found.jacobian @ prior @ found.jacobian.T + fusion.errors
    seen = found.jacobian[:, layout.places] @ direction(layout.causes[cause], fusion.model.device, layout)
    gain = np.asarray(np.linalg.solve(unchanged, seen), dtype=np.float64)
    return _by_origin(fusion, gain, gain @ found.jacobian, _drift(layout))[0]


def _by_origin(fusion: Fusion, gain: FloatArray, rest: FloatArray, block: FloatArray) -> tuple[dict[str, float], float]:
    """Variance of an estimate that follows the readings by ``gain`` (M,), and by ``rest`` (P,) what is
    not known of the unit, its conditions and its changes."""
    slopes, variances = joint([e.slopes for e in fusion.evidence], [e.variables for e in fusion.evidence])
    parts: dict[str, float] = {}
    for owner, part in zip(
        owners([e.variables for e in fusion.evidence]),
        (gain @ slopes) ** 2 * variances,
        strict=True,
    ):
        parts[owner] = parts.get(owner, 0.0) + float(part)
    parts[words.UNSTEADINESS] = float(gain**2 @ np.concatenate([e.own for e in fusion.evidence]))
    layout = fusion.model.layout
    changes = rest[layout.places]
    parts[words.UNSEEN_CHANGES] = float(changes @ block @ changes)
    own = rest**2 * np.diagonal(fusion.prior.covariance)
    for name, group in (
        (words.FOLLOWS_THE_WEATHER, "structure"),
        (words.KIND_OF_UNIT, "unit"),
    ):
        chosen = [n in layout.parameters and layout.parameters[n].group == group for n in layout.names]
        parts[name] = float(own[chosen].sum())
    parts[words.CONDITIONS_NOT_READ] = float(own[[n not in layout.parameters for n in layout.names]].sum())
    total = sum(parts.values())
    ranked = sorted(parts.items(), key=lambda item: -item[1])
    shares = {
        name: float(f"{value / total:.3g}") for name, value in ranked if total > 0.0 and value / total >= _WORTH_A_WORD
    }
    return shares, sqrt(max(total, 0.0))


def deviation_if_alike(fusion: Fusion, alike: Mapping[int, int]) -> float:
    """Standard deviation of the efficiency change, had one instrument made those readings both times."""
    top = max(fusion.explanations, key=lambda one: one.probability)
    _, gradients = fusion.slopes(top, FOUND, LEFT, *_of_efficiency(fusion))
    slopes, variances = joint([e.slopes for e in fusion.evidence], [e.variables for e in fusion.evidence], alike)
    errors = (slopes * variances) @ slopes.T + np.diag(np.concatenate([e.own for e in fusion.evidence]))
    layout = fusion.model.layout
    prior = _with_changes(fusion, allowed(layout.causes[top.cause], fusion.model.device, layout))
    jacobian = top.found.jacobian
    spread = jacobian @ prior
    gain = np.linalg.solve(spread @ jacobian.T + errors, spread)
    left = prior - spread.T @ gain
    return sqrt(max(float(gradients[0] @ left @ gradients[0]), 0.0))
