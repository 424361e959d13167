"""What is promised of the image: small means, nothing to write, the same answers, an orderly end."""

from __future__ import annotations

import http.client
import json
import os
import re
import stat
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy
import pytest
from fastapi.testclient import TestClient
from packaging.requirements import Requirement

from deploy.trim import FIRST_START, normalised
from schemas.examples import comparison_examples, diagnosis_examples, examples
from service.health import health
from tests.image import container
from tests.image.container import ROOT, Container

PROJECT = Path(__file__).parents[2]
PORT = 8000
KIND = os.environ.get("IMAGE_KIND", "service")
LOCK = PROJECT / "deploy" / {"service": "requirements.lock", "batch": "requirements-fleet.lock"}[KIND]


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Container]:
    """The service in its container, once it says that it is ready."""
    with container.started(tmp_path_factory.mktemp("bundle")) as it:
        for _ in range(600):
            if it.process.poll() is not None:
                break
            if health("127.0.0.1", PORT) is None:
                yield it
                return
            time.sleep(0.2)
    assert it.process.stdout is not None
    pytest.fail(f"it was never ready: {it.process.stdout.read()}")


def sent(path: str, body: Any) -> tuple[int, bytes]:  # noqa: ANN401
    """Status and answer of the service in the container."""
    connection = http.client.HTTPConnection("127.0.0.1", PORT, timeout=60)
    connection.request("POST", path, json.dumps(body).encode(), {"Content-Type": "application/json"})
    answer = connection.getresponse()
    content = answer.read()
    connection.close()
    return answer.status, content


@pytest.mark.parametrize(
    ("path", "bodies"),
    [
        ("/v1/assessments", examples()),
        ("/v1/comparisons", comparison_examples()),
        ("/v1/diagnoses", diagnosis_examples()),
    ],
)
def test_it_answers_as_the_service_outside(
    running: Container, client: TestClient, path: str, bodies: dict[str, Any]
) -> None:
    """Every example, byte for byte; where the arithmetic is another version's, last digits differ."""
    same = running.python("import numpy; print(numpy.__version__)").strip() == numpy.__version__
    for name, body in bodies.items():
        status, content = sent(path, body)
        assert status == 200, content
        outside = client.post(path, json=body)
        assert content == outside.content or not same, name
        assert json.loads(content).keys() == outside.json().keys()


def test_it_is_ready_and_says_so_to_the_health_command(running: Container) -> None:
    """As the image has it; and a port where nobody answers is not healthy."""
    (how, *command) = container.inspected()["config"]["Healthcheck"]["Test"]
    assert how == "CMD"
    done = running.run(*command)
    assert (done.returncode, done.stdout) == (0, "ready\n")
    done = running.run(*command, "--port", "8001")
    assert done.returncode == 1
    assert "no answer on port 8001" in done.stderr


def test_it_runs_as_nobody_in_particular(running: Container) -> None:
    """All its processes, without a capability."""
    first = running.first_process()
    children = Path(f"/proc/{first}/task/{first}/children").read_text("utf-8").split()
    for process in (first, *children):
        status = Path(f"/proc/{process}/status").read_text("utf-8")
        of = dict(re.findall(r"^(\w+):\t(.*)$", status, re.MULTILINE))
        assert set(of["Uid"].split()) == set(of["Gid"].split()) == {"10001"}
        assert of["CapEff"] == of["CapPrm"] == of["CapBnd"] == "0" * 16
        assert of["NoNewPrivs"] == "1"


@pytest.mark.parametrize("place", ["/app", "/opt/environment", "/etc", "/"])
def test_nothing_can_be_written_but_temporary_files(running: Container, place: str) -> None:
    """Not by the mount's leave, nor, without it, by that of the files (below)."""
    done = running.run("python", "-c", f"open('{place}/new', 'w')")
    assert done.returncode == 1
    assert "Read-only file system" in done.stderr
    running.python("open('/tmp/new', 'w')")


def test_no_file_is_for_others_to_write() -> None:
    """So that a root that could be written would be of no use to it either."""
    loose = []
    for path in ROOT.rglob("*"):
        state = path.lstat()
        if not (stat.S_ISREG(state.st_mode) or stat.S_ISDIR(state.st_mode)):
            continue
        if state.st_mode & stat.S_ISVTX:  # a folder for everybody's own files, as /tmp is
            continue
        if state.st_mode & stat.S_IWOTH or {state.st_uid, state.st_gid} & {10001}:
            loose.append(path.relative_to(ROOT).as_posix())
    assert loose == []


def test_it_carries_no_installer_and_no_compiler(running: Container) -> None:
    """Nor a test of a library, nor what its build was told."""
    names = re.compile(r"(pip\d*|pip3[.\d]*|ensurepip|gcc.*|cc|c\+\+|g\+\+.*|make|apt-get)")
    folders = [ROOT / "usr" / "bin", ROOT / "usr" / "local" / "bin", ROOT / "opt/environment/bin"]
    folders += [*ROOT.glob("usr/**/python3*"), *ROOT.glob("usr/**/*-packages")]
    folders += [*ROOT.glob("opt/environment/lib/python3*/*-packages")]
    found = [path for folder in folders if folder.is_dir() for path in folder.iterdir() if names.fullmatch(path.name)]
    assert [path for path in found if path.name != "apt-get"] == []
    assert running.run("python", "-m", "pip").returncode == 1
    assert not [path for path in ROOT.glob("opt/**/tests") if path.is_dir()]
    assert not (ROOT / "etc" / "pip.conf").exists()
    assert not any((ROOT / "run").glob("secrets/*"))
    said = json.dumps(container.inspected())
    assert not re.search(r"PIP_|index-url|/run/secrets", said)


def test_it_carries_no_documents() -> None:
    """Those beside the code are for people who read it."""
    assert [*ROOT.glob("app/service/**/*.py")]
    assert not [*ROOT.glob("app/**/*.md")]


def test_it_starts_from_its_tables_without_what_made_them(running: Container) -> None:
    """Which is not there: the ready service above is the proof that it is not missed."""
    for name in ("CoolProp", "scipy", "pint"):
        assert normalised(name) in FIRST_START
        done = running.run("python", "-c", f"import {name}.special")
        assert f"No module named '{name}'" in done.stderr
    kept = running.python(
        "from service.reference.prepared import prepared_directory as kept\n"
        "print(*sorted(path.name.split('-')[0] for path in kept().iterdir()))"
    )
    assert {"sample", "saturation", "units", "vapour"} <= set(kept.split())


def test_nothing_is_compiled_at_its_start(running: Container) -> None:
    """A root that cannot be written would have it done again at each."""
    missing = running.python(
        "import sys, pathlib, service.__main__\n"
        "print([m.__name__ for m in sys.modules.values() if (c := getattr(m, '__cached__', None))"
        " and not pathlib.Path(c).is_file()])"
    )
    assert missing == "[]\n"


def test_its_bill_of_materials_is_what_was_locked(running: Container) -> None:
    """Every package and version of the lock, and whether its code is there."""
    bill = json.loads((ROOT / "app" / "bill-of-materials.cdx.json").read_text("utf-8"))
    assert (bill["bomFormat"], bill["metadata"]["component"]["name"]) == (
        "CycloneDX",
        "split-system-readings",
    )
    listed = {normalised(row["name"]): row["version"] for row in bill["components"]}
    within = json.loads(
        running.python(
            "import json, sys; from importlib.metadata import distributions as d\n"
            "print(json.dumps({'found': {p.metadata['Name']: p.version for p in d()},"
            " 'python_full_version': '.'.join(map(str, sys.version_info[:3]))}))"
        )
    )
    assert listed == {normalised(k): v for k, v in within.pop("found").items()}
    locked = {}
    for line in LOCK.read_text("utf-8").splitlines():
        if "==" in line:
            row = Requirement(line.rstrip("\\ "))
            if row.marker is None or row.marker.evaluate(within):
                locked[normalised(row.name)] = str(row.specifier).removeprefix("==")
    assert locked.items() <= listed.items()
    excluded = {normalised(row["name"]) for row in bill["components"] if row.get("scope") == "excluded"}
    assert excluded >= FIRST_START
    assert not excluded & {"numpy", "fastapi", "pydantic", "uvicorn", "orjson"}
    licensed = [row for row in bill["components"] if row.get("licenses")]
    assert len(licensed) > 0.9 * len(bill["components"])


def test_its_labels_tell_what_it_is() -> None:
    """Name, version and origin, as the OCI names them."""
    labels = container.inspected()["config"]["Labels"]
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text("utf-8"))["project"]
    of = {key.removeprefix("org.opencontainers.image."): value for key, value in labels.items()}
    assert of["title"] == project["name"]
    assert of["version"] == project["version"]
    assert of["licenses"] == "LicenseRef-none"
    assert re.fullmatch(r"[0-9a-f]{40}(-changed)?|unknown", of["revision"])
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", of["created"])


@pytest.mark.skipif(KIND != "batch", reason="an image of the service alone")
def test_the_batch_job_runs_in_it(running: Container) -> None:
    """The command of the manifests, with workers of its own, on the example batch."""
    done = running.run(
        "python",
        "-m",
        "deploy.fleet",
        "/app/schemas/examples/batches",
        "/tmp/out",
        "--workers",
        "1",
    )
    assert done.returncode == 0, done.stdout + done.stderr
    summary = json.loads(running.python("print(open('/tmp/out/_summary.json').read())"))
    assert (summary["visits"], summary["comparisons"]) == (2, 1)


def test_it_ends_well_when_it_is_told_to(running: Container) -> None:
    """The last test, as nothing runs after it."""
    assert running.stop() == 0
    with pytest.raises(ConnectionRefusedError):
        http.client.HTTPConnection("127.0.0.1", PORT).connect()
