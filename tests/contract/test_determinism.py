"""The same request has the same bytes in any process: nothing hangs on the order of a set, a clock or chance."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

#: Computes some answers of each kind in a fresh process and prints their digests.
_ANSWERS = """
import hashlib, json
from fastapi.testclient import TestClient
from schemas import examples as given
from service.app import create_app
from service.edge.settings import Settings

def first(bodies, count=1):
    return list(bodies.items())[:count]

visits, runs = first(given.examples(), 2), first(given.comparison_examples())
series = first(given.trend_examples())
asked = [("POST", "/v1/assessments", body) for _, body in visits]
asked += [("POST", "/v1/assessments?format=csv", visits[1][1])]
asked += [("POST", "/v1/diagnoses", body) for _, body in first(given.diagnosis_examples())]
asked += [("POST", "/v1/comparisons", body) for _, body in runs]
asked += [("POST", "/v1/plans", body) for _, body in first(given.plan_examples())]
asked += [("POST", "/v1/trends", body) for _, body in series]
asked += [("POST", "/v1/plots/limits", visits[0][1]), ("POST", "/v1/plots/refrigerant_cycle", visits[1][1]),
          ("POST", "/v1/plots/limits?format=png", visits[0][1]), ("POST", "/v1/plots/changes", runs[0][1])]
asked += [("POST", "/v1/reports", body) for _, body in (visits[1], runs[0], *first(given.diagnosis_examples()))]
asked += [("POST", "/v1/assessments", {"units": "imperial", "run": {"readings": {"no": 1, "such": 2}}})]
asked += [("GET", "/v1/" + name, None) for name in
          ("refrigerants?units=metric", "limits", "instruments", "cautions", "faults", "plots")]
with TestClient(create_app(Settings(batch_processes=0))) as client:
    for method, path, body in asked:
        answer = client.request(method, path, json=body)
        shown = answer.content
        if answer.headers["content-type"].startswith("application/problem"):
            told = json.loads(shown)
            told.pop("instance")  # the request's own number
            shown = json.dumps(told).encode()
        print(method, path, answer.status_code, len(shown), hashlib.sha256(shown).hexdigest())
    text = "".join(given.batch_examples().values())
    answer = client.post("/v1/batches", content=text, headers={"content-type": "application/x-ndjson"})
    lines = [line for line in answer.content.splitlines() if b'"instance"' not in line]
    print("batch", answer.status_code, len(lines), hashlib.sha256(b"".join(lines[:-1])).hexdigest())
"""


@pytest.mark.slow
def test_answers_are_the_same_in_processes_whose_hashes_differ() -> None:
    """Sets and tables of text stand in another order in each."""
    root = Path(__file__).parents[2]
    running = [
        subprocess.Popen(
            [sys.executable, "-c", _ANSWERS],
            cwd=root,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(root), "TZ": zone},
        )
        for seed, zone in (("0", "UTC"), ("31337", "America/Chicago"))
    ]
    told = [process.communicate()[0].splitlines() for process in running]
    assert all(process.returncode == 0 for process in running)
    assert len(told[0]) >= 20
    assert " 200 " in told[0][0]
    assert told[0] == told[1]
