"""How the image is described and run on one machine; ``deploy/image check`` builds and runs it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from importlib.metadata import distributions
from pathlib import Path
from typing import Any

import pytest
import yaml
from compose_spec import PyCompose

from deploy import trim
from deploy.trim import FIRST_START, normalised, reached, required
from service.reference.versions import SERVICE_VERSION

ROOT = Path(__file__).parents[3]
CONTAINERFILE = (ROOT / "deploy" / "Containerfile").read_text("utf-8")
COMPOSE = (ROOT / "deploy" / "compose.yaml").read_text("utf-8")


def instruction(name: str) -> list[str]:
    """What follows each instruction of that name, its lines joined."""
    joined = CONTAINERFILE.replace("\\\n", " ")
    return [" ".join(row.split()) for row in re.findall(rf"^{name} (.*)$", joined, re.MULTILINE)]


def composed() -> dict[str, Any]:
    """The one service of the compose file."""
    (only,) = yaml.safe_load(COMPOSE)["services"].values()
    return dict(only)


def locked(file: str) -> set[str]:
    """Names of the packages in a lock."""
    text = (ROOT / "deploy" / file).read_text("utf-8")
    return {normalised(name) for name in re.findall(r"^([\w.-]+)==", text, re.MULTILINE)}


# --- the Containerfile ------------------------------------------------------------------------


def test_the_linter_has_nothing_to_say() -> None:
    """Also of the shell within."""
    hadolint = Path(sys.executable).parent / "hadolint"
    done = subprocess.run(
        [hadolint, "--no-color", "-"],
        input=CONTAINERFILE,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (0, "")
    broken = CONTAINERFILE.replace("WORKDIR /app", "WORKDIR app")
    done = subprocess.run([hadolint, "-"], input=broken, capture_output=True, text=True, check=False)
    assert "DL3000" in done.stdout


def test_it_names_the_version_that_is_built() -> None:
    """In its label, and in the tags of those who use it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["version"] == SERVICE_VERSION
    assert f'org.opencontainers.image.version="{SERVICE_VERSION}"' in CONTAINERFILE
    assert composed()["image"] == f"{project['name']}:{SERVICE_VERSION}"


def test_whatever_is_built_on_is_an_argument() -> None:
    """So that a digest, or another base, may be given; nothing else is."""
    bases = {row.split()[0] for row in instruction("FROM")}
    assert bases == {"${BASE}", "scratch", "fetch"}
    arguments = {row.partition("=")[0] for row in instruction("ARG")}
    assert arguments == {"BASE", "KIND", "OFFLINE", "REVISION", "CREATED"}
    assert instruction("USER")[-1] == "10001:10001"
    installing = [
        clause
        for row in instruction("RUN")
        for clause in re.split(r"&&|;", row)
        if re.search(r"/pip .*\b(install|download)\b", clause)
    ]
    assert len(installing) == 3
    assert all(" -r " in clause for clause in installing)
    environment = " ".join(instruction("ENV"))
    assert "PIP_REQUIRE_HASHES=1" in environment
    assert "PIP_ONLY_BINARY=:all:" in environment


def test_documents_stay_out_of_the_image() -> None:
    """The last pattern that matches decides, so this one comes after the rooms that hold some."""
    patterns = (ROOT / ".dockerignore").read_text("utf-8").splitlines()
    assert max(map(patterns.index, ("!service", "!schemas"))) < patterns.index("**/*.md")
    assert [*(ROOT / "service").rglob("*.md")]


# --- on one machine ---------------------------------------------------------------------------


def test_the_compose_file_follows_the_specification() -> None:
    """And a misspelt one does not."""
    PyCompose.from_yaml(COMPOSE).validate()
    with pytest.raises(ValueError, match="read_onli"):
        PyCompose.from_yaml(COMPOSE.replace("read_only", "read_onli"))


def test_the_compose_file_gives_no_more_than_is_needed() -> None:
    """No root, no capability, nothing to write but temporary files, bounded, for this machine alone."""
    service = composed()
    assert service["user"] == instruction("USER")[-1]
    assert service["read_only"] is True
    assert [row.partition(":")[0] for row in service["tmpfs"]] == ["/tmp"]
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert re.fullmatch(r"\d+m", service["mem_limit"])
    assert service["restart"] == "unless-stopped"
    assert not {"privileged", "cap_add", "network_mode", "pid", "volumes", "devices"} & set(service)
    (port,) = service["ports"]
    assert re.fullmatch(r"127\.0\.0\.1:\d+:(\d+)", port)
    (environment,) = [row for row in instruction("ENV") if "SERVICE_PORT" in row]
    assert f"SERVICE_PORT={port.rpartition(':')[2]}" in environment
    assert (ROOT / "deploy" / service["build"]["context"]).resolve() == ROOT
    assert service["build"]["dockerfile"] == "deploy/Containerfile"


def test_health_is_asked_alike_by_every_engine() -> None:
    """By the same command at the same pace."""
    (said,) = instruction("HEALTHCHECK")
    options = dict(re.findall(r"--([a-z-]+)=(\S+)", said))
    checked = composed()["healthcheck"]
    assert ["CMD", *json.loads(said.partition("CMD ")[2])] == checked.pop("test")
    assert {key.replace("-", "_"): value for key, value in options.items()} == {
        key: str(value) for key, value in checked.items()
    }


# --- what is taken out ------------------------------------------------------------------------


def test_what_is_required_is_followed_step_by_step() -> None:
    """Extras are not asked for; what is not installed asks for nothing; circles end."""
    requirements = {
        "a": ["B.b>=1 ; python_version < '4'", "c[more]>2", "e ; extra == 'all'", "gone"],
        "b-b": ["a"],
        "c": ['d ; extra == "other"', 'f ; python_version > "3" and extra == "More"'],
        "d": ["c"],
        "e": [],
        "f": [],
    }
    assert reached(requirements, ["A>=1", "unknown"]) == {"a", "b-b", "c", "f"}
    assert reached(requirements, ["d"]) == {"c", "d"}
    assert reached(requirements, ["c", "c[more, other]"]) == {"c", "d", "f"}
    assert required("typing_extensions[a.b, c]>=1") == (
        "typing-extensions",
        frozenset({"a-b", "c"}),
    )


def test_nothing_that_a_prepared_process_imports_is_taken_out() -> None:
    """Neither of the service nor of the batch job."""
    code = (
        "import sys, service.__main__, deploy.fleet; from service.app import create_app\n"
        "create_app()\n"
        "print(*filter(None, (getattr(m, '__file__', None) for m in sys.modules.values())), sep='\\n')"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True)
    imported = set(done.stdout.splitlines())
    installed = {normalised(d.metadata["Name"]): d for d in distributions()}
    kept = reached(
        {name: found.requires or [] for name, found in installed.items()},
        trim.wanted(ROOT / "pyproject.toml"),
    )
    assert not kept & FIRST_START
    assert set(installed) >= FIRST_START
    needed = {
        name
        for name, found in installed.items()
        if any(str(found.locate_file(file)) in imported for file in found.files or ())
    }
    assert {"numpy", "fastapi", "orjson", "distributed", "pyarrow"} <= needed
    # What else this environment has, a library may try and do without.
    assert needed & locked("requirements-fleet.lock") <= kept


def test_code_goes_and_metadata_stays(tmp_path: Path) -> None:
    """Of what is not kept; of what is kept, tests, headers and stubs go."""
    for name in ("Kept", "Goes"):
        for file in (f"{name}/__init__.py", f"{name}/py.typed", f"{name}.libs/lib.so"):
            (tmp_path / file).parent.mkdir(exist_ok=True)
            (tmp_path / file).touch()
        (tmp_path / name / "tests").mkdir()
        (tmp_path / name / "tests" / "test_it.py").touch()
        (tmp_path / name / "api.pyi").touch()
        metadata = tmp_path / f"{name}-1.0.dist-info"
        metadata.mkdir()
        (metadata / "METADATA").write_text(f"Name: {name}\nVersion: 1.0\n")
        files = [p.relative_to(tmp_path) for p in tmp_path.rglob("*") if p.is_file()]
        own = [file.as_posix() for file in files if file.parts[0].startswith(name)]
        (metadata / "RECORD").write_text("".join(f"{file},,\n" for file in own))
    removed = trim.without_code(distributions(path=[str(tmp_path)]), {"kept"})
    trim.without_extras(tmp_path)
    assert removed == ["goes"]
    left = sorted(p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*"))
    assert left == [
        "Goes-1.0.dist-info",
        "Goes-1.0.dist-info/METADATA",
        "Goes-1.0.dist-info/RECORD",
        "Kept",
        "Kept-1.0.dist-info",
        "Kept-1.0.dist-info/METADATA",
        "Kept-1.0.dist-info/RECORD",
        "Kept.libs",
        "Kept.libs/lib.so",
        "Kept/__init__.py",
        "Kept/py.typed",
    ]


def test_the_bill_says_whose_code_is_not_there(tmp_path: Path) -> None:
    """By the scope that its standard has for it."""
    bill = tmp_path / "bill.json"
    bill.write_text(json.dumps({"components": [{"name": "Goes_There"}, {"name": "kept"}]}))
    trim.mark_excluded(bill, ["goes-there"])
    assert json.loads(bill.read_text("utf-8"))["components"] == [
        {"name": "Goes_There", "scope": "excluded"},
        {"name": "kept"},
    ]
