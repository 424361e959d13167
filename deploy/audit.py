"""Known vulnerabilities of the locked packages, by an archive of advisories; needs no network.

``python -m deploy.audit ARCHIVE [LOCK ...]``: ARCHIVE is a zip of OSV records (https://ossf.github.io/osv-schema/)
of the ecosystem PyPI, such as ``PyPI/all.zip`` of the public OSV data.  No package carries current ones (safety-db
ends in 2021): without an archive nothing is audited, and the command says so.

Exit status 0: none known; 1: some; 2: not audited.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from packaging.utils import canonicalize_name
from packaging.version import InvalidVersion, Version

_LOCKED = re.compile(r"^([A-Za-z0-9._-]+)(?:\[[^]]*\])?==([^\s;\\]+)", re.MULTILINE)
_FOLDER = Path(__file__).parent


class Known(NamedTuple):
    """A vulnerability of a locked package."""

    package: str
    version: str
    id: str
    fixed: str
    summary: str


def locked(locks: Iterable[Path]) -> dict[str, set[str]]:
    """Versions by package."""
    found: dict[str, set[str]] = {}
    for lock in locks:
        for name, version in _LOCKED.findall(lock.read_text("utf-8")):
            found.setdefault(canonicalize_name(name), set()).add(version)
    return found


def audit(records: Iterable[Mapping[str, Any]], packages: Mapping[str, set[str]]) -> list[Known]:
    """The vulnerabilities that concern these versions; records withdrawn are left out."""
    found = []
    for record in records:
        if "withdrawn" in record:
            continue
        for affected in record.get("affected", ()):
            about = affected.get("package", {})
            name = canonicalize_name(about.get("name", ""))
            if about.get("ecosystem") != "PyPI" or name not in packages:
                continue
            for version in sorted(packages[name]):
                if _concerns(affected, version):
                    found.append(Known(name, version, record["id"], _fixed(affected), record.get("summary", "")))
    return sorted(set(found))


def _concerns(affected: Mapping[str, Any], version: str) -> bool:
    if version in affected.get("versions", ()):
        return True
    own = _version(version)
    return own is not None and any(
        _within(rows["events"], own) for rows in affected.get("ranges", ()) if rows.get("type") == "ECOSYSTEM"
    )


def _within(events: Sequence[Mapping[str, str]], version: Version) -> bool:
    """Whether a version lies in a range, by the rules of the format: events in order of their versions."""
    inside = False
    ordered = [(kind, place) for event in events for kind, text in event.items() if (place := _place(text)) is not None]
    for kind, place in sorted(ordered, key=lambda one: (one[1], one[0])):
        if kind == "introduced" and version >= place:
            inside = True
        elif (kind == "fixed" and version >= place) or (kind == "last_affected" and version > place):
            inside = False
    return inside


def _place(text: str) -> Version | None:
    return Version("0.dev0") if text == "0" else _version(text)


def _version(text: str) -> Version | None:
    try:
        return Version(text)
    except InvalidVersion:
        return None


def _fixed(affected: Mapping[str, Any]) -> str:
    places = (event.get("fixed") for rows in affected.get("ranges", ()) for event in rows["events"])
    return ", ".join(dict.fromkeys(filter(None, places)))


def records_in(archive: Path) -> Iterator[dict[str, Any]]:
    """The records of an archive."""
    with zipfile.ZipFile(archive) as opened:
        for name in opened.namelist():
            if name.endswith(".json"):
                yield json.loads(opened.read(name))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line."""
    parser = argparse.ArgumentParser(prog="python -m deploy.audit", description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("archive", nargs="?", type=Path)
    parser.add_argument("locks", nargs="*", type=Path, default=sorted(_FOLDER.glob("requirements*.lock")))
    given = parser.parse_args(arguments)
    if given.archive is None or not given.archive.exists():
        sys.stdout.write("NOT AUDITED: there is no archive of advisories; known vulnerabilities were not looked for.\n")
        return 2
    packages = locked(given.locks)
    read = 0

    def counted() -> Iterator[dict[str, Any]]:
        nonlocal read
        for record in records_in(given.archive):
            read += 1
            yield record

    found = audit(counted(), packages)
    if not read:
        sys.stdout.write(f"NOT AUDITED: {given.archive} holds no record.\n")
        return 2
    for row in found:
        sys.stdout.write(
            f"{row.package} {row.version}: {row.id} {row.summary} (fixed in {row.fixed or 'no version'})\n"
        )
    sys.stdout.write(f"{len(found)} known vulnerabilities of {len(packages)} packages, by {read} advisories.\n")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
