"""What the locks hold, read without a network: versions, hashes, licences.

``python -m tests.dependencies`` rewrites ``deploy/licences.md``.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import metadata
from pathlib import Path
from types import MappingProxyType

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]

#: Each lock and the groups of pyproject.toml it holds beside the service's own dependencies.
LOCKS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "requirements.lock": (),
        "requirements-fleet.lock": ("fleet",),
        "requirements-dev.lock": ("dev", "fleet"),
    }
)

#: Licences under which the service may be run, changed and handed on; OFL is of a font, MPL asks for the
#: source of changes to its own files alone.
ALLOWED = frozenset(
    {
        "0BSD",
        "Apache-2.0",
        "BSD-2-Clause",
        "BSD-3-Clause",
        "BSD",
        "CC0-1.0",
        "ISC",
        "MIT",
        "MPL-2.0",
        "OFL-1.1",
        "PSF-2.0",
        "Zlib",
    }
)

#: Licences that no field of the metadata names, by what their licence file says.
TOLD_BY_FILE: Mapping[str, str] = MappingProxyType({"resvg-py": "MIT"})

_CLASSIFIERS = {
    "MIT License": "MIT",
    "BSD License": "BSD",
    "Apache Software License": "Apache-2.0",
    "ISC License (ISCL)": "ISC",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "Python Software Foundation License": "PSF-2.0",
    "SIL Open Font License 1.1 (OFL-1.1)": "OFL-1.1",
}


@dataclass(frozen=True, slots=True)
class Locked:
    """One line of a lock."""

    requirement: Requirement
    hashes: int

    @property
    def name(self) -> str:
        """As the index writes it."""
        return canonicalize_name(self.requirement.name)

    @property
    def version(self) -> str:
        """The one version."""
        (only,) = self.requirement.specifier
        assert only.operator == "=="
        return only.version

    @property
    def here(self) -> bool:
        """Whether it is for this platform and interpreter."""
        return self.requirement.marker is None or self.requirement.marker.evaluate()


@cache
def locked(lock: str) -> tuple[Locked, ...]:
    """The lines of a lock."""
    text = (ROOT / "deploy" / lock).read_text("utf-8").replace("\\\n", " ")
    rows = []
    for line in text.splitlines():
        if line and not line.lstrip().startswith("#"):
            requirement, *hashes = line.split("--hash=")
            assert all(re.fullmatch(r"sha256:[0-9a-f]{64}\s*", one) for one in hashes), line
            rows.append(Locked(Requirement(requirement.strip()), len(hashes)))
    return tuple(rows)


def asked(groups: tuple[str, ...]) -> Iterator[Requirement]:
    """What pyproject.toml asks for."""
    document = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    texts = list(document["project"]["dependencies"])
    for group in groups:
        texts += [row for row in document["dependency-groups"][group] if isinstance(row, str)]
    yield from map(Requirement, texts)


def needed(names: Iterator[Requirement]) -> dict[str, list[Requirement]]:
    """Everything that is needed here, by name, as the installed packages say; with who asks what of it."""
    found: dict[str, list[Requirement]] = {}
    waiting = [(one, frozenset(one.extras)) for one in names]
    seen: set[tuple[str, frozenset[str]]] = set()
    while waiting:
        requirement, extras = waiting.pop()
        name = canonicalize_name(requirement.name)
        if requirement.marker is not None and not requirement.marker.evaluate():
            continue
        found.setdefault(name, []).append(requirement)
        if (name, extras) in seen:
            continue
        seen.add((name, extras))
        for text in metadata.requires(name) or ():
            further = Requirement(text)
            marker = further.marker
            if marker is None or any(marker.evaluate({"extra": extra}) for extra in ("", *extras)):
                bare = Requirement(text.partition(";")[0])
                waiting.append((bare, frozenset(bare.extras)))
    return found


def licences(name: str) -> frozenset[str]:
    """Licences that an installed package names, all that it is under or may be under."""
    if name in TOLD_BY_FILE:
        return frozenset({TOLD_BY_FILE[name]})
    told = metadata.metadata(name)
    for expression in told.get_all("License-Expression") or ():
        return frozenset(re.findall(r"[A-Za-z0-9.-]+", re.sub(r"\b(AND|OR|WITH)\b", " ", expression)))
    rows = [row.split(" :: ")[-1] for row in told.get_all("Classifier") or () if row.startswith("License :: ")]
    if rows:
        return frozenset(_CLASSIFIERS.get(row, row) for row in rows)
    return frozenset(told.get_all("License") or ("none named",))


def listing() -> str:
    """Licences of all that a running service needs, as Markdown."""
    rows = sorted({(row.name, row.here) for row in locked("requirements.lock")})
    names = sorted({name for name, here in rows if here})
    elsewhere = sorted({name for name, _ in rows} - set(names))
    lines = [
        "# Licences of what the service runs with",
        "",
        "As the packages of `deploy/requirements.lock` name them, made by `python -m tests.dependencies`. Where",
        "there are several, parts of the package are under each, or the user may choose either.",
        "",
        "| package | licences |",
        "| --- | --- |",
        *(f"| {name} | {', '.join(sorted(licences(name)))} |" for name in names),
    ]
    if elsewhere:
        lines += ["", f"Not looked at, as only other platforms need them: {', '.join(elsewhere)}."]
    return "\n".join(lines) + "\n"


LISTING = ROOT / "deploy" / "licences.md"

if __name__ == "__main__":
    LISTING.write_text(listing(), "utf-8")
