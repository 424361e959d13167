"""Remove from an image what nothing reads at run time; called by ``deploy/Containerfile``.

    python deploy/trim.py environment PYPROJECT BILL_OF_MATERIALS
    python deploy/trim.py base

The first trims the environment that runs it, whose tables are prepared: it removes the libraries that make
the tables (and what only these need), tests, headers and stubs.  Their metadata and licences stay, because the
names of the tables contain the libraries' versions; the bill of materials lists them as excluded.  The second
removes the installers from the base image's Python, then imports the service from its final place.
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

#: What only the first start imports; a test checks that a prepared start does not.
FIRST_START = frozenset({"coolprop", "pint", "scipy"})

#: Folders and endings that serve only to build on a library or to test it.
FOLDERS = frozenset({"tests", "include"})
ENDINGS = frozenset({".a", ".c", ".cpp", ".h", ".hpp", ".pxd", ".pyi", ".pyx"})

#: The installers of a base image, below the prefix of its Python.
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
    """A package's name in the form in which names are compared."""
    return re.sub(r"[-_.]+", "-", name).lower()


def required(requirement: str) -> tuple[str, frozenset[str]]:
    """The package that a requirement names, normalised, and the extras that it asks for."""
    found = re.match(r"\s*([\w.-]+)\s*(?:\[([^\]]*)\])?", requirement)
    if found is None:
        raise ValueError(f"not a requirement: {requirement!r}")
    extras = filter(None, (found[2] or "").replace(" ", "").split(","))
    return normalised(found[1]), frozenset(map(normalised, extras))


def reached(requirements: Mapping[str, Iterable[str]], roots: Iterable[str]) -> set[str]:
    """The installed packages among some requirements and all that follow from them, by normalised name.

    Parameters
    ----------
    requirements : mapping
        The requirements of each installed package, from its metadata, by normalised name.  Of a marker only
        the extra is considered, which at worst keeps too much.
    roots : iterable of str
        Requirements.
    """
    found: set[tuple[str, frozenset[str]]] = set()
    waiting = [required(root) for root in roots]
    while waiting:
        name, extras = one = waiting.pop()
        if one in found or name not in requirements:
            continue
        found.add(one)
        for row in requirements[name]:
            extra = re.search(r"\bextra\s*==\s*['\"]([^'\"]+)", row)
            if extra is None or normalised(extra[1]) in extras:
                waiting.append(required(row))
    return {name for name, _ in found}


def wanted(pyproject: Path) -> list[str]:
    """What the service and the batch job require at run time."""
    project = tomllib.loads(pyproject.read_text("utf-8"))
    rows = [*project["project"]["dependencies"], *project["dependency-groups"]["fleet"]]
    return [row for row in rows if required(row)[0] not in FIRST_START]


def without_code(installed: Iterable[Distribution], kept: set[str]) -> list[str]:
    """Remove the files of all packages except those kept, leaving their metadata; returns the names."""
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
    """Remove tests, headers, stubs, and folders left empty."""
    for path in sorted(packages.rglob("*"), reverse=True):  # the content of a folder before the folder
        if path.is_dir():
            if path.name in FOLDERS:
                shutil.rmtree(path)
            elif not any(path.iterdir()):
                path.rmdir()
        elif path.suffix in ENDINGS:
            path.unlink()


def mark_excluded(bill: Path, names: Iterable[str]) -> None:
    """Mark packages without code in a bill of materials (CycloneDX: scope ``excluded``)."""
    content = json.loads(bill.read_text("utf-8"))
    excluded = set(names)
    for component in content["components"]:
        if normalised(component["name"]) in excluded:
            component["scope"] = "excluded"
    bill.write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n", "utf-8")


def trim_environment(pyproject: Path, bill: Path) -> None:
    """Trim the environment of the interpreter that runs this."""
    installed = list(distributions())
    requirements = {normalised(package.metadata["Name"]): package.requires or [] for package in installed}
    removed = without_code(installed, reached(requirements, wanted(pyproject)))
    without_extras(Path(sys.prefix) / "lib")
    for script in (Path(sys.prefix) / "bin").iterdir():
        if not script.name.startswith("python"):
            script.unlink()
    mark_excluded(bill, removed)


def trim_base() -> None:
    """Remove the installers, then import the service: this must work, and it keeps the bytecode."""
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
