"""Time of every picture and report, warm, beside the JSON answer of the same body, in one run.

    python -m tests.benchmarks.pictures [repeats]

Each line: median and largest time of the whole request in process (parsing, computing, drawing), and its
ratio to that of the answer it is drawn from.  Requests alternate, so that a busy machine slows both.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from statistics import median
from time import perf_counter
from typing import Any

from fastapi.testclient import TestClient

from schemas.examples import comparison_examples, diagnosis_examples, examples, trend_examples
from service.app import create_app


def cases() -> Iterator[tuple[str, str, str, Any]]:
    """What it is called, its address, the address of the answer behind it, the body."""
    visit = examples()["r410a_capacity"]
    compared = comparison_examples()["coil_cleaned"]
    diagnosed = diagnosis_examples()["fouled_with_baseline"]
    series = trend_examples()["five_summers"]
    for plot, answer, body in (
        ("limits", "assessments", visit),
        ("refrigerant_cycle", "assessments", visit),
        ("air_process", "assessments", visit),
        ("fault_probabilities", "diagnoses", diagnosed),
        ("refrigerant_cycle", "comparisons", compared),
        ("changes", "comparisons", compared),
        ("trend", "trends", series),
    ):
        for form in ("svg", "png"):
            yield (
                f"{plot} of {answer}, {form}",
                f"/v1/plots/{plot}?format={form}",
                f"/v1/{answer}",
                body,
            )
    for answer, body in (("diagnoses", diagnosed), ("comparisons", compared), ("trends", series)):
        yield f"report of {answer}", "/v1/reports", f"/v1/{answer}", body


def main() -> None:
    """Measure and print."""
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    with TestClient(create_app()) as client:

        def timed(address: str, body: Any) -> float:  # noqa: ANN401
            start = perf_counter()
            answer = client.post(address, json=body)
            took = perf_counter() - start
            answer.raise_for_status()
            return 1e3 * took

        print(f"{'':44}{'median':>10}{'largest':>10}{'over its answer':>18}")
        for name, address, behind, body in cases():
            timed(address, body)
            timed(behind, body)
            pairs = [(timed(address, body), timed(behind, body)) for _ in range(repeats)]
            times, answers = zip(*pairs, strict=True)
            ratio = median(times) / median(answers)
            print(f"{name:44}{median(times):7.0f} ms{max(times):7.0f} ms{ratio:18.2f}")


if __name__ == "__main__":
    main()
