"""The Python client: generated, checked with mypy, and called with every example."""

from __future__ import annotations

import importlib
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from schemas.examples import (
    TITLES,
    batch_examples,
    comparison_examples,
    diagnosis_examples,
    examples,
    plan_examples,
    trend_examples,
)
from tests.clients.conftest import Generate, Program
from tests.serving.running import ROOT

#: How the calls are named, and the bodies that each takes.
CALLS: Mapping[str, Callable[[], Mapping[str, Any]]] = {
    "assess": examples,
    "diagnose": diagnosis_examples,
    "compare": comparison_examples,
    "plan": plan_examples,
    "follow": trend_examples,
}
REFERENCES = (
    "live",
    "ready",
    "refrigerants",
    "refrigerant",
    "saturation",
    "instruments",
    "limits",
    "cautions",
    "faults",
    "plots",
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the client is written."""
    return tmp_path_factory.mktemp("clients")


@pytest.fixture(scope="module")
def said(generate: Generate, folder: Path) -> str:
    """What the generator said; the client is there afterwards."""
    return generate("python", folder)


@pytest.fixture(scope="module")
def calls(said: str, folder: Path) -> Iterator[ModuleType]:
    """The calls, which import the client."""
    assert said
    before = set(sys.modules)
    sys.path.insert(0, str(folder / "python"))
    yield importlib.import_module("tests.clients.calls")
    sys.path.remove(str(folder / "python"))
    for name in set(sys.modules) - before:
        if name.startswith(("split_system_readings_client", "tests.clients.calls")):
            del sys.modules[name]


@pytest.fixture(scope="module")
def client(calls: ModuleType, base: str) -> Iterator[Any]:
    """A client of the running service."""
    with calls.connected(base) as connection:
        yield connection


def test_generator_leaves_out_batches_and_nothing_else(said: str) -> None:
    """It knows no lines of JSON; their models are there all the same.  Of a visit it knows JSON, not CSV."""
    warnings = re.findall(r"WARNING parsing (.*)", said)
    left_out = [one for one in warnings if "will not be generated" in one]
    assert left_out == ["POST /v1/batches within batches. Endpoint will not be generated."]
    assert said.count("Unsupported content type text/csv") == len(warnings) - 1


def test_client_and_calls_are_typed(said: str, folder: Path) -> None:
    """Strictly; the checker refuses what is misspelt, missing or of another kind (`calls.py`, last part)."""
    assert said
    command = [
        sys.executable,
        "-m",
        "mypy",
        "--strict",
        "--config-file=",
        "--python-version=3.11",
        f"--cache-dir={os.devnull}",
        "-p",
        "split_system_readings_client",
        "-m",
        "tests.clients.calls",
    ]
    environment = {**os.environ, "MYPYPATH": str(folder / "python")}
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_part_of_the_contract_is_untyped(calls: ModuleType, folder: Path) -> None:
    """Nor has a made-up name; what a refused field held may be anything."""
    models = folder / "python" / calls.Client.__module__.partition(".")[0] / "models"
    texts = {path.stem: path.read_text("utf-8") for path in models.glob("*.py")}
    untyped = {
        (stem, field)
        for stem, text in texts.items()
        for field in re.findall(r"^    (\w+): .*\bAny\b", text, re.MULTILINE)
        if field != "additional_properties"  # what a later release may add to an answer
    }
    assert untyped == {("field_problem", "value")}
    assert [stem for stem in texts if re.search(r"_type_\d+$", stem)] == []


@pytest.mark.parametrize(("call", "name"), [(call, name) for call, bodies in CALLS.items() for name in bodies()])
def test_every_example_goes_and_comes_whole(
    calls: ModuleType,
    client: Any,  # noqa: ANN401
    call: str,
    name: str,
) -> None:
    """The typed request is the example, and the typed answer all that the service said."""
    body = CALLS[call]()[name]
    found = getattr(calls, call)(client, body)
    assert found.status == 200
    assert found.sent == body
    assert found.typed == found.raw
    assert found.raw["units"] == body["units"]


@pytest.mark.parametrize("name", REFERENCES)
def test_reference_lists_come_whole(calls: ModuleType, client: Any, name: str) -> None:  # noqa: ANN401
    """Each list, and the state of the service."""
    assert set(calls.REFERENCES) == set(REFERENCES)
    found = calls.REFERENCES[name](client)
    assert found.status == 200
    assert found.typed == found.raw


def test_request_by_hand_is_answered(calls: ModuleType, client: Any) -> None:  # noqa: ANN401
    """Made of models, read by name."""
    read = calls.by_hand(client)
    assert read.low < read.superheat < read.high
    assert read.grades


def test_program_of_the_readme_runs(said: str, folder: Path, program: Program) -> None:
    """As it stands there."""
    assert said
    environment = {**os.environ, "PYTHONPATH": str(folder / "python"), "NO_PROXY": "127.0.0.1"}
    done = subprocess.run(
        [sys.executable, "-c", program("python")],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert re.match(r"\d+\.\d+ \['", done.stdout), done.stdout + done.stderr


def test_pictures_and_pages_come_as_they_are(calls: ModuleType, client: Any) -> None:  # noqa: ANN401
    """SVG, PNG, HTML and CSV."""
    body = examples()[next(iter(TITLES))]
    assert calls.draw(client, body, "svg").startswith(b"<svg ")
    assert calls.draw(client, body, "png").startswith(b"\x89PNG\r\n")
    assert calls.report(client, body).lower().startswith("<!doctype html>")
    assert calls.table(client).startswith("temperature [degC],")


@pytest.mark.parametrize("detail", ["full", "grades"])
def test_batches_go_and_come_line_by_line(calls: ModuleType, client: Any, detail: str) -> None:  # noqa: ANN401
    """The example batch, less its line that no model of the client holds."""
    lines, held = [], []
    for text in batch_examples()["mixed"].splitlines():
        raw = json.loads(text)
        one = calls.line(raw)
        if one.to_dict() == raw:
            lines.append(one)
            held.append(raw["id"])
    answers = calls.batch(client, lines, detail)
    assert [raw["id"] for _, raw in answers[:-1]] == held
    assert len(held) == len(batch_examples()["mixed"].splitlines()) - 1
    assert all(typed.to_dict() == raw for typed, raw in answers)
    assert answers[-1][1]["summary"]["complete"]


def test_refusals_are_typed_problems(calls: ModuleType, client: Any) -> None:  # noqa: ANN401
    """Down to the field that was refused."""
    problem, raw = calls.refused(client)
    assert problem.to_dict() == raw
    assert problem.status == 422
    assert problem.errors[0].pointer == "/run/readings/suction_pressure"
    assert problem.errors[0].value == 9999
    assert calls.unknown(client).status == 404
