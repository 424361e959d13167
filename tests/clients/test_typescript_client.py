"""The TypeScript client: generated, compiled with every example and answer, and run by node."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from schemas.batches import BatchLine
from schemas.examples import (
    batch_examples,
    comparison_examples,
    diagnosis_examples,
    examples,
    plan_examples,
    trend_examples,
)
from tests.clients.conftest import Generate, Program
from tests.serving.running import ROOT

SOURCES = Path(__file__).parent / "typescript"
#: What is sent where, and the types that the contract gives to it and to its answer.
BODIES: Mapping[str, tuple[str, str, Mapping[str, Any]]] = {
    "assessments": ("AssessmentRequest", "Assessment", examples()),
    "diagnoses": ("DiagnosisRequest", "Diagnosis", diagnosis_examples()),
    "comparisons": ("ComparisonRequest", "Comparison", comparison_examples()),
    "plans": ("PlanRequest", "Plan", plan_examples()),
    "trends": ("TrendRequest", "Trend", trend_examples()),
}
LISTS = {
    "/health/live": "Health",
    "/health/ready": "Health",
    "/v1/instruments": "InstrumentList",
    "/v1/limits": "LimitList",
    "/v1/cautions": "CautionList",
    "/v1/faults": "FaultList",
    "/v1/plots": "PlotList",
}
TABLES = {
    "refrigerants": ("/v1/refrigerants?units=metric", "RefrigerantList"),
    "refrigerant": ("/v1/refrigerants/R-454B?units=metric", "RefrigerantAnswer"),
    "saturation": (
        "/v1/refrigerants/R-454B/saturation?units=metric&from=0&to=40&step=20",
        "SaturationTable",
    ),
}


def answer(address: str, body: object = None) -> Any:  # noqa: ANN401
    """What the service says, without any client."""
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(address, data, {"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=60) as response:
        return json.load(response)


def answers_of_batch(base: str, detail: str) -> list[Any]:
    """The lines of answer to the example batch."""
    request = urllib.request.Request(
        f"{base}/v1/batches?detail={detail}",
        batch_examples()["mixed"].encode(),
        {"Content-Type": "application/x-ndjson"},
    )
    with urllib.request.urlopen(request, timeout=60) as response:
        return [json.loads(line) for line in response]


def refused(line: str) -> bool:
    """Whether the service takes it for no line of a batch."""
    try:
        BatchLine.model_validate_json(line)
    except ValidationError:
        return True
    return False


def lines(texts: Sequence[str]) -> Iterator[str]:
    """The lines of the example batch: the compiler must refuse those that the service refuses."""
    for text in texts:
        if refused(text):
            yield "    // @ts-expect-error: no line of a batch."
        yield f"    {text},"


def constants(base: str) -> str:
    """Every example and its answer as typed constants: they compile if the types are true."""
    types = {
        "BatchAnswerLine",
        "BatchLine",
        *LISTS.values(),
        *(kind for _, kind in TABLES.values()),
    }
    written = []
    for address, (body, kind, bodies) in BODIES.items():
        types |= {body, kind}
        pairs = {name: [one, answer(f"{base}/v1/{address}", one)] for name, one in bodies.items()}
        written.append(f"export const {address}: Record<string, [{body}, {kind}]> = {json.dumps(pairs)};")
    written.append("export const lists = {")
    written += [
        f"  {json.dumps(address)}: {json.dumps(answer(base + address))} satisfies {kind},"
        for address, kind in LISTS.items()
    ]
    written.append("};\nexport const tables = {")
    written += [
        f"  {name}: {json.dumps(answer(base + address))} satisfies {kind}," for name, (address, kind) in TABLES.items()
    ]
    sent = batch_examples()["mixed"].splitlines()
    assert [refused(line) for line in sent].count(True) == 1
    answered = {detail: answers_of_batch(base, detail) for detail in ("full", "grades")}
    written += [
        "};\nexport const lines: { sent: BatchLine[]; answers: Record<string, BatchAnswerLine[]> } = {",
        "  sent: [",
        *lines(sent),
        f"  ],\n  answers: {json.dumps(answered)},\n}};",
    ]
    return "\n".join([f'import type {{ {", ".join(sorted(types))} }} from "./service.js";', *written, ""])


def run(folder: Path, *command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """A command of the project in that folder."""
    return subprocess.run(
        command,
        cwd=folder,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory, generate: Generate, base: str, program: Program) -> Path:
    """The project with its locked packages, the generated client, the examples and the README's program."""
    if shutil.which("npx") is None:
        if os.environ.get("CI") == "true":
            pytest.fail("npx is not installed; CI must not pass over the TypeScript client")
        pytest.skip("npx is not installed: the TypeScript client is not checked (CI installs it)")
    parent = tmp_path_factory.mktemp("clients")
    folder = parent / "typescript"
    shutil.copytree(SOURCES, folder, ignore=shutil.ignore_patterns("node_modules", "built"))
    installed = run(folder, "npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund")
    assert installed.returncode == 0, installed.stdout + installed.stderr
    said = generate("typescript", parent)
    assert "warning" not in said.lower(), said
    (folder / "examples.ts").write_text(constants(base), "utf-8")
    (folder / "readme.ts").write_text(program("ts"), "utf-8")
    return folder


@pytest.fixture(scope="module")
def compiled(project: Path) -> subprocess.CompletedProcess[str]:
    """What the compiler said; it writes what node runs in any case."""
    return run(project, "node", "node_modules/typescript/bin/tsc", "--project", ".")


def test_examples_answers_and_calls_are_typed(compiled: subprocess.CompletedProcess[str]) -> None:
    """Strictly; the compiler refuses what is misspelt, missing or of another kind (`calls.ts`, last part)."""
    assert compiled.returncode == 0, compiled.stdout[:5000]


def test_no_part_of_the_contract_is_untyped(project: Path) -> None:
    """Headers apart; what a refused field held may be anything."""
    written = (project / "service.ts").read_text("utf-8").splitlines()
    fields = [line.strip() for line in written if not line.lstrip().startswith(("*", "/*"))]
    untyped = {line for line in fields if re.search(r"(?<!\")\b(unknown|any)\b(?!\")", line)}
    assert untyped == {"[name: string]: unknown;", "value: unknown;"}


def test_every_call_is_answered(project: Path, compiled: subprocess.CompletedProcess[str], base: str) -> None:
    """By node, each answer the same as without a client."""
    assert compiled.args
    done = run(project, "node", "--test", "built/calls.js", SERVICE_ADDRESS=base)
    assert done.returncode == 0, done.stdout + done.stderr
    # A file without a test would pass as well.
    assert re.search(r"^# pass (\d{2,})$", done.stdout, re.MULTILINE), done.stdout


def test_program_of_the_readme_runs(project: Path, compiled: subprocess.CompletedProcess[str]) -> None:
    """As it stands there."""
    assert compiled.args
    done = run(project, "node", "built/readme.js")
    assert re.match(r"\d+\.\d+ \[", done.stdout), done.stdout + done.stderr


def test_versions_of_the_generator_agree() -> None:
    """The command takes the locked package; the lock names no host that packages come from."""
    package = json.loads((SOURCES / "package.json").read_text("utf-8"))
    version = package["devDependencies"]["openapi-typescript"]
    assert f"openapi-typescript@{version} " in (ROOT / "deploy" / "clients").read_text("utf-8")
    locked = json.loads((SOURCES / "package-lock.json").read_text("utf-8"))["packages"]
    assert locked[""]["devDependencies"] == package["devDependencies"]
    assert locked[""]["dependencies"] == package["dependencies"]
    assert [name for name, row in locked.items() if name and "integrity" not in row] == []
    assert "://" not in json.dumps(locked)
