"""How often are diagnoses right?  A study on simulated visits whose fault is known.

    python -m tests.benchmarks.diagnosis_study [visits of each kind] [--seed N] [--kits good ordinary poor]

The visits come from ``simulated_visits``, a model of a whole unit on CoolProp that shares no line with the
service: units with their own coils, compressors and lines, single and double faults of every size, and
sound units with one grossly wrong reading.  Each is diagnosed with the unit's own baseline (another day,
the same kit) and without.  The service is told what a nameplate tells and the instruments' accuracies.

Rates as the literature on protocols defines them: a unit is faulty where its capacity or efficiency is
under 95 % of what it would be sound.  False alarm: a fault named or claimed on a unit with none.
Detection: a fault named or claimed on a faulty unit.  Misdiagnosis: of the detected, a fault is named and
none of those named is there.  No diagnosis: detected, but none is named.
"""

from __future__ import annotations

import argparse
import pickle
from collections import Counter
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from math import log
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from schemas.diagnoses import DiagnosisRequest
from service.faults.diagnosis import diagnose
from service.intake.refusals import RefusedError
from service.reference.faults import FAULTS
from tests.answers import untyped
from tests.benchmarks import simulated_visits as simulated
from tests.benchmarks.before_and_after import instruments, taken

FloatArray = NDArray[np.float64]

_COSTLY = log(0.95)
#: Probability beforehand of two faults at once, about what the service's pairs sum to.
_DOUBLES = 0.06
_CLAIMS = ("fault_found", "fault_not_told_apart")


_REFUSED: dict[str, Any] = {
    "efficiency_percent": None,
    "verdict": "readings_doubted",
    "found": [],
    "hypotheses": [{"fault": simulated.MISTAKE, "probability": 1.0}],
    "probability_costly": 0.0,
}


@dataclass(frozen=True)
class Outcome:
    """What the service said of one visit, and the truth."""

    kit: str
    baseline: bool
    metering: str
    truth: tuple[str, ...]
    kind: str
    cost: float
    verdict: str
    found: tuple[str, ...]
    chances: dict[str, float]
    costly: float
    efficiency: tuple[float, float, float]
    ln_eer: float

    @property
    def faulty(self) -> bool:
        """Whether more than 5 % of capacity or efficiency is lost."""
        return self.cost < _COSTLY

    @property
    def claimed(self) -> bool:
        """Whether the service says that something is wrong with the unit."""
        return self.verdict in _CLAIMS

    @property
    def wrong(self) -> bool:
        """Whether a fault is named and none that is there."""
        return bool(self.found) and not set(self.found) & set(self.truth)

    @property
    def right(self) -> bool:
        """Whether a fault that is there is named, alone or with those that look alike."""
        return bool(set(self.found) & set(self.truth))


def request(visit: simulated.Visit, *, with_baseline: bool) -> dict[str, Any]:
    """The diagnosis of a visit."""
    unit = visit.unit
    valve = unit["metering_device"] != "fixed_orifice"
    nameplate: dict[str, Any] = {"voltage": 230, "frequency": 60}
    if valve:
        nameplate["subcooling"] = round(float(unit["design_subcooling"]))
    body: dict[str, Any] = {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": {
            "refrigerant": unit["refrigerant"],
            "metering_device": unit["metering_device"],
            "rated": {"cooling_capacity": unit["rated_capacity"], "eer": unit["rated_eer"]},
            "nameplate": nameplate,
        },
        "kit": instruments(str(visit.kit), visit.readings),
        "run": taken(visit.readings),
    }
    if with_baseline:
        body["baseline"] = taken(visit.baseline)
    return body


def _judged(job: tuple[int, int, str, str, str]) -> list[Outcome]:
    count, seed, kind, kit, metering = job
    outcomes = []
    for visit in simulated.visits(count, seed, kind, kit, metering):
        for with_baseline in (True, False):
            body = request(visit, with_baseline=with_baseline)
            try:
                answer = untyped(diagnose(DiagnosisRequest.model_validate(body)))
            except RefusedError:
                # A grossly wrong reading may be impossible; then it is named, and nothing is diagnosed.
                answer = _REFUSED
            change = answer["efficiency_percent"]
            percents = (
                (0.0, 0.0, 0.0) if change is None else (change["band"]["low"], change["value"], change["band"]["high"])
            )
            outcomes.append(
                Outcome(
                    kit,
                    with_baseline,
                    metering,
                    visit.kind,
                    kind,
                    min(visit.ln_eer, visit.ln_capacity),
                    answer["verdict"],
                    tuple(answer["found"]),
                    {row["fault"]: row["probability"] for row in answer["hypotheses"]},
                    answer["probability_costly"] or 0.0,
                    percents,
                    visit.ln_eer,
                )
            )
    return outcomes


def study(each: int, seed: int, kits: Sequence[str]) -> list[Outcome]:
    """Outcomes of so many visits of each kind, metering device and kit, on both cores."""
    jobs = [
        (each * (4 if kind == simulated.NO_FAULT else 1), seed, kind, kit, metering)
        for kind in simulated.KINDS
        for kit in kits
        for metering in ("expansion_valve", "fixed_orifice")
    ]
    with ProcessPoolExecutor(2) as pool:
        return [outcome for part in pool.map(_judged, jobs) for outcome in part]


def _share(values: Iterable[bool]) -> str:
    found = list(values)
    return f"{100.0 * sum(found) / len(found):.1f} %" if found else "-"


def report(outcomes: list[Outcome]) -> None:
    """Rates by kit and by kind, with a baseline and without; then how far probabilities can be trusted."""
    for with_baseline in (True, False):
        part = [o for o in outcomes if o.baseline == with_baseline]
        print(f"\n{'with' if with_baseline else 'without'} the unit's own baseline")
        heads = (
            "visits",
            "faulty",
            "false alarm",
            "detected",
            "named right",
            "misdiagnosed",
            "no diagnosis",
            "'healthy'",
        )
        print(f"{'':36s}" + " ".join(f"{head:>13s}" for head in heads))
        for kit in dict.fromkeys(o.kit for o in part):
            _line(kit, [o for o in part if o.kit == kit])
        _line("all", part)
        for kind in dict.fromkeys(o.kind for o in part):
            for metering in ("expansion_valve", "fixed_orifice"):
                _line(
                    f"{kind}, {metering.split('_')[1]}",
                    [o for o in part if o.kind == kind and o.metering == metering],
                )
        _trusted(part)


def _line(name: str, rows: list[Outcome]) -> None:
    sound = [o for o in rows if not o.truth]
    faulty = [o for o in rows if o.faulty and o.truth and o.kind != simulated.MISTAKE]
    detected = [o for o in faulty if o.claimed]
    cells = (
        f"{len(rows)}",
        f"{len(faulty)}",
        _share(o.claimed for o in sound),
        _share(o.claimed for o in faulty),
        _share(o.right for o in detected),
        _share(o.wrong for o in detected),
        _share(not o.found for o in detected),
        _share(o.verdict == "healthy" for o in rows),
    )
    print(f"{name:36s}" + " ".join(f"{cell:>13s}" for cell in cells))


def _weights(rows: list[Outcome]) -> FloatArray:
    """Weights that make the kinds as frequent as the service takes them to be beforehand: it is asked
    whether its probabilities are right where its prior is."""
    priors = {row.id: row.prior for row in FAULTS.values()} | {simulated.DOUBLE: _DOUBLES}
    counts = Counter(o.kind for o in rows)
    return np.array([priors[o.kind] / counts[o.kind] for o in rows])


def _trusted(rows: list[Outcome]) -> None:
    """Reliability: of the hypotheses given so much, how many are there; Brier score; bands of the cost."""
    names = (*simulated.FAULTS, "no_fault", simulated.MISTAKE)
    weight = np.repeat(_weights(rows), len(names))
    stated = np.array([o.chances.get(name, 0.0) for o in rows for name in names])
    there = np.array([float(name in (o.truth or ("no_fault",))) for o in rows for name in names])
    print("  stated probability: share that is there (number); kinds as frequent as the prior has them")
    for low, high in pairwise((0.0, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.95, 1.0001)):
        inside = (stated >= low) & (stated < high)
        if inside.any():
            mean, share = (np.average(v[inside], weights=weight[inside]) for v in (stated, there))
            print(f"    {low:4.2f} to {min(high, 1.0):4.2f} (mean {mean:.3f}): {share:.3f} ({int(inside.sum())})")
    print(f"  Brier score of a hypothesis: {np.average((stated - there) ** 2, weights=weight):.4f}")
    known = [o for o in rows if o.kind != simulated.MISTAKE and o.efficiency != (0.0, 0.0, 0.0)]
    inside_band = [o.efficiency[0] <= 100.0 * (np.exp(o.ln_eer) - 1.0) <= o.efficiency[2] for o in known]
    print(f"  95 % band of the loss of efficiency holds the truth: {_share(inside_band)}")
    own = _weights(known)
    cost = np.array([o.costly for o in known])
    lost = np.array([o.ln_eer < _COSTLY for o in known], dtype=float)
    score = np.average((cost - lost) ** 2, weights=own)
    plain = np.average((np.average(lost, weights=own) - lost) ** 2, weights=own)
    print(f"  Brier score of 'more than 5 % of efficiency lost': {score:.4f} (always the mean: {plain:.4f})")


def main() -> None:
    """Run the study and print it."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0] if __doc__ else "")
    parser.add_argument("each", nargs="?", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kits", nargs="+", default=["good", "ordinary"])
    parser.add_argument("--keep", help="file to keep the outcomes in (pickle)")
    chosen = parser.parse_args()
    outcomes = study(chosen.each, chosen.seed, chosen.kits)
    if chosen.keep:
        Path(chosen.keep).write_bytes(pickle.dumps(outcomes))
    report(outcomes)


if __name__ == "__main__":
    main()
