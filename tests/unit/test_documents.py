"""The documents follow the code: what they point to exists, what they list and quote is true.

``tests/serving/test_documents.py`` runs their commands.
"""

from __future__ import annotations

import importlib.util
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from schemas.examples import comparison_examples
from schemas.readings import READING_GROUPS, READINGS
from service.edge.problems import PROBLEM_TYPES
from service.edge.settings import Settings
from service.reference.faults import CLAIMED, FOUND
from service.reference.refrigerants import REFRIGERANTS
from service.reference.units import KINDS
from service.render.pictures import PICTURES
from tests.contract.planted import BREAKING, KEPT

ROOT = Path(__file__).parents[2]
TRACKED = subprocess.run(
    ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
    cwd=ROOT,
    check=True,
    capture_output=True,
    text=True,
).stdout.split()
DOCUMENTS = [name for name in TRACKED if Path(name).name in ("README.md", "DEVELOPERS.md")]
#: What the documents name and no clone holds: the commands that they give make it.
MADE = (
    "deploy/wheels",
    "mutants/",
    "examples.ts",
    "service.ts",
    "bill-of-materials",
    "in/",
    "out/",
    "part-000000",
    "_summary.json",
    "_plan.json",
    "_tallies/",
)
#: How a person writes the symbol of a unit.
WRITTEN = {
    "degF": "°F",
    "degC": "°C",
    "delta_degF": "°F",
    "delta_degC": "°C",
    "inH2O": "in. w.c.",
    "m3/h": "m³/h",
}

document = pytest.mark.parametrize("name", DOCUMENTS)


def text_of(name: str) -> str:
    return (ROOT / name).read_text("utf-8")


def prose_of(name: str) -> str:
    """Without what stands in fences."""
    return re.sub(r"^ *```.*?^ *```$", "", text_of(name), flags=re.DOTALL | re.MULTILINE)


def codes_of(name: str) -> list[str]:
    """What is set as code within the prose."""
    return re.findall(r"`([^`\n]+)`", prose_of(name))


def part_of(name: str, heading: str) -> str:
    """What stands under a heading of the second level."""
    found = text_of(name).partition(f"\n## {heading}\n")[2].partition("\n## ")[0]
    assert found, heading
    return found


def rows_of(part: str) -> list[list[str]]:
    """The cells of each row of the first table, its head left out."""
    (first, *_) = re.findall(r"(?:^ *\|.*\n)+", part, re.MULTILINE)
    rows = [[cell.strip() for cell in line.strip().strip("|").split(" | ")] for line in first.split("\n")]
    return [row for row in rows[2:] if row != [""]]


def anchors_of(name: str) -> set[str]:
    """Names of a document's headings, as they are linked to."""
    headings = re.findall(r"^#+ (.+)$", prose_of(name), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}


def test_the_first_two_stay_short() -> None:
    """Short enough to be read."""
    assert len(text_of("README.md").splitlines()) <= 160
    assert len(text_of("DEVELOPERS.md").splitlines()) <= 300
    first = text_of("README.md").split("\n\n")[1]
    assert len(re.findall(r"\.(?:\s|$)", first)) <= 4


@document
def test_links_lead_somewhere(name: str) -> None:
    """To a file that is kept, and to a heading that it has."""
    for link in re.findall(r"\]\(([^)\s]+)\)", prose_of(name)):
        path, _, anchor = link.partition("#")
        target = (ROOT / name).parent.joinpath(path).resolve() if path else ROOT / name
        listed = target.relative_to(ROOT).as_posix()
        assert listed in TRACKED, link
        assert not anchor or anchor in anchors_of(listed), link


#: A folder; a file by its ending; anything below a folder of the top.
NAMED = re.compile(
    r"^[\w./-]+/$"
    r"|(?<![\w./:-])\w[\w./-]*\.(?:py|md|html|css|js|ts|yaml|json|ndjson|lock)\b"
    r"|(?<![\w./-])(?:service|schemas|tests|deploy)/[\w./-]*\w"
)


@document
def test_files_that_are_named_exist(name: str) -> None:
    """From the root, or by the end of their path."""
    folders = {parent.as_posix() for path in TRACKED for parent in Path(path).parents}
    known = [f"/{path}" for path in (*TRACKED, *folders)]
    for code in codes_of(name):
        for path in NAMED.findall(code):
            if not path.startswith(MADE):
                assert any(one.endswith(f"/{path.rstrip('/')}") for one in known), path


@document
def test_commands_that_are_named_exist(name: str) -> None:
    """Modules of the project that are run, and tests that are pointed to."""
    for module in re.findall(r"python -m ((?:service|tests|deploy)[\w.]*)", text_of(name)):
        assert importlib.util.find_spec(module), module
    sources = "".join(text_of(path) for path in TRACKED if re.match(r"tests/.*\.py$", path))
    for test in re.findall(r"(?<![\w/])test_\w+\b(?!\.py)", " ".join(codes_of(name))):
        assert f"def {test}(" in sources, test


@document
def test_addresses_that_are_named_exist(name: str, client: TestClient) -> None:
    """Each is a path of the contract, or an example that is served."""
    paths = [re.sub(r"\\\{\w+\\\}", "[^/]+", re.escape(path)) for path in client.get("/openapi.json").json()["paths"]]
    for address in re.findall(r"(?<![\w.])/v1/[\w/{}.-]*[\w}]", text_of(name)):
        assert any(re.fullmatch(path, address) for path in paths), address
    for address in re.findall(r"/examples/[\w/]+\.\w+", text_of(name).replace("schemas/examples/", "")):
        assert client.get(address).status_code == 200, address


def test_every_reading_is_listed_with_its_units() -> None:
    """Once, none that is not taken; a row has the units of all its readings."""
    listed: list[str] = []
    for names, _, *units in rows_of(part_of("README.md", "Readings")):
        for reading in re.findall(r"`(\w+)`", names):
            listed.append(reading)
            specs = [spec for spec in READINGS.values() if spec.name.split(".")[0] == reading]
            assert specs, reading
            for spec in specs:
                kind = KINDS[spec.kind]
                assert units == [WRITTEN.get(unit, unit) for unit in (kind.imperial, kind.metric)]
    assert sorted(listed) == sorted({name.split(".")[0] for name in READINGS})
    parts = [name.partition(".")[2] for name in READINGS if name.split(".")[0] in READING_GROUPS]
    words = part_of("README.md", "Readings")
    assert all(f"`{part}`" in words for part in parts)


def test_the_unit_systems_are_as_listed() -> None:
    """By kind of quantity."""
    kinds = (
        "temperature",
        "temperature_difference",
        "pressure",
        "absolute_pressure",
        "static_pressure",
        "airflow",
        "heat_flow",
        "altitude",
    )
    rows = rows_of(part_of("schemas/README.md", "Requests"))
    assert [row[0] for row in rows] == ["`imperial`", "`metric`"]
    for system, *units in rows:
        of = [getattr(KINDS[kind], system.strip("`")) for kind in kinds]
        assert [unit.replace("**", "").split(" (")[0] for unit in units] == [WRITTEN.get(unit, unit) for unit in of]


def test_every_problem_is_listed_with_its_status() -> None:
    """Once."""
    listed = {
        problem: {int(status) for status in re.findall(r"\d+", statuses)}
        for statuses, problems, _ in rows_of(part_of("README.md", "Errors"))
        for problem in re.findall(r"`([\w-]+)`", problems)
    }
    assert set(listed) == set(PROBLEM_TYPES)
    assert all(type_.status in listed[name] for name, type_ in PROBLEM_TYPES.items())


@pytest.mark.parametrize("name", comparison_examples())
def test_quoted_verdicts_are_those_of_the_examples(client: TestClient, name: str) -> None:
    """Letter for letter."""
    rows = rows_of(part_of("README.md", "Compare before and after"))
    ((_, verdict, sentence),) = [row for row in rows if row[0].startswith(f"`{name}`")]
    found: Any = client.post("/v1/comparisons", json=comparison_examples()[name]).json()["system"]
    assert [verdict.strip("`"), sentence] == [found["verdict"], found["sentence"]]


def test_pictures_are_listed() -> None:
    """Every one, and none that is not drawn."""
    rows = rows_of(text_of("service/render/README.md"))
    assert [row[0].strip("`") for row in rows] == list(PICTURES)


def test_figures_are_those_of_the_code() -> None:
    """Limits, thresholds and counts."""
    usual, readme = Settings(_env_file=None), text_of("README.md")
    kilobytes = f"{usual.maximum_line_bytes // 1024} KB"
    assert usual.maximum_body_bytes == usual.maximum_line_bytes
    for said in (
        f"no deeper than {usual.maximum_depth} levels",
        f"the head within {usual.head_seconds:g} s and the body within {usual.body_seconds:g} s",
        f"at most {kilobytes} of body or of one batch line, and {usual.maximum_head_bytes // 1024} KB",
        f"it took longer than {usual.request_seconds:g} s",
        f"`fault_found` (probability {FOUND:g} or more)",
        f"something is wrong at {CLAIMED:g} or more",
    ):
        assert said in readme, said
    assert f"Each line may have {kilobytes} ({usual.maximum_line_bytes:,} bytes)" in text_of(
        "service/batches/README.md"
    )
    contract = text_of("schemas/README.md")
    assert f"{len(REFRIGERANTS)} refrigerants" in contract
    assert f"{len(BREAKING) + len(KEPT)} planted changes" in contract
    assert f"{len(BREAKING)} planted breaking changes" in contract
