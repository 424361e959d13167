"""Take out of an image what nothing reads while it runs; called by ``deploy/Containerfile``.

    python deploy/trim.py environment PYPROJECT BILL_OF_MATERIALS
    python deploy/trim.py base

The first takes it out of the environment that runs it, whose tables are prepared: the libraries that make
them (and what only these need), tests, headers and stubs.  Their metadata and licences stay, as the tables
are found by the versions that made them; the bill of materials lists them as excluded.  The second takes
the installers out of the base image's Python, then imports what runs, from where it stands.
"""

from __future__ import annotations

import importlib
import json
import re
import shutil
import sys
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from importlib.metadata import Distribution, distributions
from pathlib import Path

#: What the first start alone imports (a test holds that a prepared one does not).
FIRST_START = frozenset({"coolprop", "pint", "scipy"})

#: Folders and endings that are for those who build on a library, or test it.
FOLDERS = frozenset({"tests", "include"})
ENDINGS = frozenset({".a", ".c", ".cpp", ".h", ".hpp", ".pxd", ".pyi", ".pyx"})

#: The installers of a base image, below its Python's prefix.
INSTALLERS = (
    "bin/pip*",
    "lib/python3*/ensurepip",
    "lib/python3*/*-packages/pip",
    "lib/python3*/*-packages/pip-*",
    "lib/python3*/*-packages/setuptools*",
    "lib/python3*/*-packages/wheel*",
    "share/python-wheels",
)


def normalised(name: str) -> str:
    """A package's name as names are compared."""
    return re.sub(r"[-_.]+", "-", name).lower()


def asked_for(requirement: str) -> tuple[str, frozenset[str]]:
    """The package that a requirement names, normalised, and the extras of it."""
    found = re.match(r"\s*([\w.-]+)\s*(?:\[([^\]]*)\])?", requirement)
    if found is None:
        raise ValueError(f"not a requirement: {requirement!r}")
    extras = filter(None, (found[2] or "").replace(" ", "").split(","))
    return normalised(found[1]), frozenset(map(normalised, extras))


def reached(requirements: Mapping[str, Iterable[str]], roots: Iterable[str]) -> set[str]:
    """What is installed of some requirements and of all that follow from them, by normalised name.

    Parameters
    ----------
    requirements : mapping
        For each installed package by its normalised name, its requirements as its metadata has them.
        Of markers the extra alone is looked at, which keeps too much at most.
    roots : iterable of str
        Requirements.
    """
    found: set[tuple[str, frozenset[str]]] = set()
    waiting = [asked_for(root) for root in roots]
    while waiting:
        name, extras = asked = waiting.pop()
        if asked in found or name not in requirements:
            continue
        found.add(asked)
        for row in requirements[name]:
            extra = re.search(r"\bextra\s*==\s*['\"]([^'\"]+)", row)
            if extra is None or normalised(extra[1]) in extras:
                waiting.append(asked_for(row))
    return {name for name, _ in found}


def wanted(pyproject: Path) -> list[str]:
    """What the project asks for while it runs, in the service and in the batch job."""
    project = tomllib.loads(pyproject.read_text("utf-8"))
    rows = [*project["project"]["dependencies"], *project["dependency-groups"]["fleet"]]
    return [row for row in rows if asked_for(row)[0] not in FIRST_START]


def without_code(installed: Iterable[Distribution], kept: set[str]) -> list[str]:
    """Remove the files of all packages but those kept, and leave their metadata; the names removed."""
    removed = []
    for package in installed:
        name = normalised(package.metadata["Name"])
        if name in kept:
            continue
        removed.append(name)
        for file in package.files or ():
            if not file.parts[0].endswith(".dist-info"):
                Path(str(package.locate_file(file))).unlink(missing_ok=True)
    return removed


def without_extras(packages: Path) -> None:
    """Remove tests, headers, stubs and folders that are empty then."""
    for path in sorted(packages.rglob("*"), reverse=True):  # what is within a folder before it
        if path.is_dir():
            if path.name in FOLDERS:
                shutil.rmtree(path)
            elif not any(path.iterdir()):
                path.rmdir()
        elif path.suffix in ENDINGS:
            path.unlink()


def mark_excluded(bill: Path, names: Iterable[str]) -> None:
    """Say in a bill of materials whose code is not there (CycloneDX: scope ``excluded``)."""
    content = json.loads(bill.read_text("utf-8"))
    excluded = set(names)
    for component in content["components"]:
        if normalised(component["name"]) in excluded:
            component["scope"] = "excluded"
    bill.write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n", "utf-8")


def trim_environment(pyproject: Path, bill: Path) -> None:
    """Trim the environment of the interpreter that runs this."""
    installed = list(distributions())
    requirements = {
        normalised(package.metadata["Name"]): package.requires or [] for package in installed
    }
    removed = without_code(installed, reached(requirements, wanted(pyproject)))
    without_extras(Path(sys.prefix) / "lib")
    for script in (Path(sys.prefix) / "bin").iterdir():
        if not script.name.startswith("python"):
            script.unlink()
    mark_excluded(bill, removed)


def trim_base() -> None:
    """Remove the installers, then import what runs: it must, and its bytecode is kept."""
    for pattern in INSTALLERS:
        for path in Path(sys.base_prefix).glob(pattern):
            shutil.rmtree(path) if path.is_dir() else path.unlink()
    sys.path.insert(0, str(Path.cwd()))
    sys.dont_write_bytecode = False
    importlib.import_module("service.__main__")
    if Path("deploy").is_dir():
        importlib.import_module("deploy.fleet")


def main(arguments: Sequence[str]) -> int:
    """Run the command line."""
    match arguments:
        case ["environment", pyproject, bill]:
            trim_environment(Path(pyproject), Path(bill))
        case ["base"]:
            trim_base()
        case _:
            sys.stderr.write(f"{__doc__}\n")
            return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
