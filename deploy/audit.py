"""Known vulnerabilities of the locked packages.

``python -m deploy.audit [ARCHIVE] [LOCK ...]``: ARCHIVE is a zip of OSV records (https://ossf.github.io/osv-schema/)
of the ecosystem PyPI, such as ``PyPI/all.zip`` of the public OSV data.  Without one, pip fetches the package that
``deploy/requirements-advisories.lock`` names: a dated copy of the reviewed GitHub advisories.  It is read as data,
never installed or run.  What was published after its date is not looked for, and the command says so.

``deploy/allowed_vulnerabilities.toml`` lists what is accepted, each with a reason and a last day.

Exit status 0: none known but those accepted; 1: some; 2: not audited.
"""

from __future__ import annotations

import argparse
import datetime
import json
import re
import subprocess
import sys
import tempfile
import tomllib
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from packaging.utils import canonicalize_name
from packaging.version import InvalidVersion, Version

_LOCKED = re.compile(r"^([A-Za-z0-9._-]+)(?:\[[^]]*\])?==([^\s;\\]+)", re.MULTILINE)
_FOLDER = Path(__file__).parent
_ADVISORIES = _FOLDER / "requirements-advisories.lock"


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
            if name.endswith("/db.json"):
                yield from _reviewed(json.loads(opened.read(name)))
            elif name.endswith(".json"):
                yield json.loads(opened.read(name))


def _reviewed(packages: Mapping[str, Sequence[Mapping[str, str]]]) -> Iterator[dict[str, Any]]:
    """The packaged copy of reviewed advisories, as OSV records."""
    for name, rows in packages.items():
        for row in rows:
            affected = {"package": {"ecosystem": "PyPI", "name": name}, **_affected(row["v"])}
            yield {"id": row["id"], "summary": row["advisory"], "affected": [affected]}


#: Comparisons of a range, as OSV events. Any other is an error: an advisory passed over is a silent "none known".
_EVENTS = {">=": "introduced", "<": "fixed", "<=": "last_affected"}


def _affected(text: str) -> dict[str, Any]:
    """The affected versions, from a range such as ``>=2.0,<2.1``."""
    parts = [re.fullmatch(r"\s*(==|>=|<=|<)\s*([^\s<>=]+)\s*", part) for part in text.split(",")]
    if not all(parts):
        raise ValueError(f"not a range of versions: {text!r}")
    pairs = [part.groups() for part in parts if part]
    events = [{_EVENTS[sign]: version} for sign, version in pairs if sign != "=="]
    if events and not any("introduced" in event for event in events):
        events.insert(0, {"introduced": "0"})
    versions = [version for sign, version in pairs if sign == "=="]
    return {"versions": versions, "ranges": [{"type": "ECOSYSTEM", "events": events}] if events else []}


def dated(archive: Path) -> datetime.date:
    """The day of an archive's newest file."""
    with zipfile.ZipFile(archive) as opened:
        return max((datetime.date(*one.date_time[:3]) for one in opened.infolist()), default=datetime.date.min)


def fetched(folder: Path) -> Path | None:
    """The packaged copy of the advisories, by pip and its hash; none where it cannot be fetched."""
    command = [sys.executable, "-m", "pip", "download", "-qq", "--disable-pip-version-check", "--no-input", "--no-deps"]
    command += ["--only-binary=:all:", "--require-hashes", "-d", str(folder), "-r", str(_ADVISORIES)]
    subprocess.run(command, check=False, capture_output=True)
    return next(folder.glob("*.whl"), None)


def allowed(listed: Path, today: datetime.date) -> set[tuple[str, str]]:
    """Package and advisory of each vulnerability accepted on this day; one without a reason is not."""
    rows = tomllib.loads(listed.read_text("utf-8")).get("allowed", ())
    return {(canonicalize_name(row["package"]), row["id"]) for row in rows if row["reason"] and row["until"] >= today}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line."""
    parser = argparse.ArgumentParser(prog="python -m deploy.audit", description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("archive", nargs="?", type=Path)
    parser.add_argument("locks", nargs="*", type=Path, default=sorted(_FOLDER.glob("requirements*.lock")))
    parser.add_argument("--allowed", type=Path, default=_FOLDER / "allowed_vulnerabilities.toml")
    given = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        archive = given.archive or fetched(Path(folder))
        if archive is None or not archive.exists():
            return _not_audited("no archive of advisories could be obtained")
        records = list(records_in(archive))
        day = dated(archive)
    if not records:
        return _not_audited(f"{archive.name} holds no record")
    packages = locked(given.locks)
    today = datetime.datetime.now(datetime.UTC).date()
    accepted = allowed(given.allowed, today)
    found = audit(records, packages)
    failed = [row for row in found if (row.package, row.id) not in accepted]
    for row in found:
        said = f"{row.package} {row.version}: {row.id} {row.summary} (fixed in {row.fixed or 'no version'})"
        sys.stdout.write(f"{'' if row in failed else 'accepted: '}{said}\n")
    sys.stdout.write(
        f"{len(failed)} known vulnerabilities of {len(packages)} packages, by {len(records)} advisories up to {day}.\n"
        f"NOT AUDITED: what was published in the {(today - day).days} days since.\n"
    )
    return int(bool(failed))


def _not_audited(why: str) -> int:
    sys.stdout.write(f"NOT AUDITED: {why}; known vulnerabilities were not looked for.\n")
    return 2


if __name__ == "__main__":
    sys.exit(main())
