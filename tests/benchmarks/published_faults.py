"""The service on the published cases, side by side with the two published rules.

    python -m tests.benchmarks.published_faults [every]

``every`` takes only each so many-th case.  A diagnosis counts as named right where the fault that is there
is among those named (two together, or such as look alike).  ``not_enough_to_tell`` claims no fault, so it
counts as a missed detection on a faulty case and as no alarm on a sound one; its share is printed apart.
"""

from __future__ import annotations

import argparse
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from typing import Any

from schemas.diagnoses import DiagnosisRequest
from service.faults.diagnosis import diagnose
from tests.answers import untyped
from tests.benchmarks.diagnosis_scores import (
    NO_DIAGNOSIS,
    NO_FAULT,
    Scored,
    confusion_matrix,
    print_side_by_side,
    reliability_table,
)
from tests.benchmarks.published_cases import ORIFICE, VALVE, Case, cases, request
from tests.benchmarks.published_rules import classifier_answer, protocol_answer, scored


def service_answer(case: Case, *, with_baseline: bool) -> dict[str, Any]:
    """What the service says of a case."""
    return untyped(diagnose(DiagnosisRequest.model_validate(request(case, with_baseline=with_baseline))))


def as_answer(answer: dict[str, Any], truth: str) -> str:
    """A diagnosis as one of the answers that the scores know."""
    found = answer["found"]
    if found:
        return truth if truth in found else str(found[0])
    if answer["verdict"] in ("fault_not_told_apart", "readings_doubted"):
        return NO_DIAGNOSIS
    return NO_FAULT


def _both(case: Case) -> list[tuple[str, str, dict[str, float]]]:
    rows = []
    for with_baseline in (False, True):
        answer = service_answer(case, with_baseline=with_baseline and case.baseline is not None)
        chances = {row["fault"]: row["probability"] for row in answer["hypotheses"]}
        rows.append((as_answer(answer, case.truth), answer["verdict"], chances))
    return rows


def main() -> None:
    """Run the cases and print the rates, the confusion and the reliability."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0] if __doc__ else "")
    parser.add_argument("every", nargs="?", type=int, default=1)
    chosen = cases()[:: parser.parse_args().every]
    with ProcessPoolExecutor(2) as pool:
        answers = list(pool.map(_both, chosen, chunksize=8))
    results = {
        "protocol": [scored(case, protocol_answer(case)) for case in chosen],
        "chart, usual": [scored(case, classifier_answer(case, with_baseline=False)) for case in chosen],
        "service, no baseline": [scored(case, rows[0][0]) for case, rows in zip(chosen, answers, strict=True)],
        "chart, own": [scored(case, classifier_answer(case, with_baseline=True)) for case in chosen],
        "service, baseline": [scored(case, rows[1][0]) for case, rows in zip(chosen, answers, strict=True)],
    }
    for device in (None, VALVE, ORIFICE):
        print(device or "all cases")
        print_side_by_side({name: _of(rows, chosen, device) for name, rows in results.items()})
        print()
    for place, name in ((0, "service, no baseline"), (1, "service, baseline")):
        print(f"{name}: verdicts {dict(Counter(rows[place][1] for rows in answers))}")
        pairs = [(row.truth, row.answer) for row in results[name]]
        for truth, counts in confusion_matrix(pairs).items():
            print(f"  {truth}: " + ", ".join(f"{key} {n}" for key, n in counts.items() if n))
        stated = [
            (chance, fault == case.truth)
            for rows, case in zip(answers, chosen, strict=True)
            for fault, chance in rows[place][2].items()
        ]
        for one in reliability_table(stated):
            print(
                f"  stated {one.low:.1f} to {one.high:.1f} (mean {one.stated:.2f}): right {one.right:.2f} ({one.count})"
            )
        print()


def _of(rows: list[Scored], chosen: list[Case], device: str | None) -> list[Scored]:
    return [row for row, case in zip(rows, chosen, strict=True) if device in (None, case.metering_device)]


if __name__ == "__main__":
    main()
