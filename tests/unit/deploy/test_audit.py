"""The audit of the locks finds what an archive of advisories says, and never passes for one that was not made."""

from __future__ import annotations

import datetime
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest

from deploy.audit import allowed, audit, locked, main, records_in

ROOT = Path(__file__).parents[3]


def record(name: str, *, events: list[dict[str, str]], versions: tuple[str, ...] = (), **more: Any) -> dict[str, Any]:  # noqa: ANN401
    """An invented advisory in the published format (OSV 1.7)."""
    affected = {
        "package": {"ecosystem": "PyPI", "name": name},
        "ranges": [{"type": "ECOSYSTEM", "events": events}],
        "versions": list(versions),
    }
    return {"id": "TEST-1", "summary": "Invented.", "affected": [affected], **more}


@pytest.mark.parametrize(
    ("events", "version", "known"),
    [
        # The format's rules of evaluation: introduced included, fixed excluded, last_affected included.
        ([{"introduced": "0"}, {"fixed": "2.0"}], "1.9", True),
        ([{"introduced": "0"}, {"fixed": "2.0"}], "2.0", False),
        ([{"introduced": "1.5"}, {"fixed": "2.0"}], "1.4", False),
        ([{"introduced": "0"}, {"last_affected": "2.0"}], "2.0", True),
        ([{"introduced": "0"}, {"last_affected": "2.0"}], "2.0.1", False),
        ([{"introduced": "1.0"}, {"fixed": "1.1"}, {"introduced": "2.0"}, {"fixed": "2.1"}], "1.5", False),
        ([{"introduced": "1.0"}, {"fixed": "1.1"}, {"introduced": "2.0"}, {"fixed": "2.1"}], "2.0.9", True),
        ([{"introduced": "0"}], "10.0", True),
    ],
)
def test_ranges(events: list[dict[str, str]], version: str, known: bool) -> None:
    assert bool(audit([record("Some_Package", events=events)], {"some-package": {version}})) is known


def test_versions_by_name_and_what_is_withdrawn() -> None:
    never = [{"introduced": "99"}]
    assert audit([record("one", events=never, versions=("1.0.post1",))], {"one": {"1.0.post1"}})
    assert not audit([record("one", events=[{"introduced": "0"}], withdrawn="2026-01-01")], {"one": {"1.0"}})
    elsewhere = record("one", events=[{"introduced": "0"}])
    elsewhere["affected"][0]["package"]["ecosystem"] = "npm"
    assert not audit([elsewhere], {"one": {"1.0"}})


@pytest.mark.parametrize(
    ("text", "version", "known"),
    [
        # Forms of a range in the GitHub advisories: https://docs.github.com/en/code-security (value from memory).
        ("<3.9.15", "3.9.14", True),
        ("<3.9.15", "3.9.15", False),
        (">=2.0,<2.4.0", "1.9", False),
        (">=2.0, <2.4.0", "2.0", True),
        ("<=1.16.0", "1.16.0", True),
        ("==1.82.7", "1.82.7", True),
        ("==1.82.7", "1.82.8", False),
        (">=3.0", "9.0", True),
    ],
)
def test_ranges_of_the_packaged_copy(tmp_path: Path, text: str, version: str, known: bool) -> None:
    row = {"id": "TEST-1", "advisory": "Invented.", "v": text}
    assert bool(audit(records_in(packed(tmp_path, {"one": [row]})), {"one": {version}})) is known


def test_a_range_that_is_not_understood_is_no_silent_none_known(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="not a range"):
        list(records_in(packed(tmp_path, {"one": [{"id": "TEST-1", "advisory": "Invented.", "v": "~=1.0"}]})))


def packed(folder: Path, packages: dict[str, Any]) -> Path:
    """A packaged copy of advisories, as the one of the lock is laid out."""
    archive = folder / "copy.whl"
    with zipfile.ZipFile(archive, "w") as opened:
        opened.writestr("copy/db.json", json.dumps(packages))
    return archive


@pytest.mark.parametrize(("until", "status"), [("2099-01-01", 0), ("2020-01-01", 1)])
def test_what_is_accepted_is_accepted_for_a_time(tmp_path: Path, until: str, status: int) -> None:
    archive = packed(tmp_path, {"numpy": [{"id": "TEST-1", "advisory": "Invented.", "v": "<99"}]})
    listed, lock = tmp_path / "allowed.toml", ROOT / "deploy" / "requirements.lock"
    listed.write_text(f'[[allowed]]\npackage = "NumPy"\nid = "TEST-1"\nreason = "Unused."\nuntil = {until}\n', "utf-8")
    assert main([str(archive), str(lock), "--allowed", str(listed)]) == status


def test_where_pip_gets_no_copy(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing passes for an audit that was not made, and the list of what is accepted can be read."""
    monkeypatch.setattr("deploy.audit.fetched", lambda _: None)
    assert main([]) == 2
    assert capsys.readouterr().out.startswith("NOT AUDITED")
    assert not allowed(ROOT / "deploy" / "allowed_vulnerabilities.toml", datetime.date(2100, 1, 1))


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0 none, 1 some, 2 not audited; every package of the service's lock is looked up."""
    archive, lock = tmp_path / "all.zip", ROOT / "deploy" / "requirements.lock"
    packages = locked([lock])
    assert {"numpy", "pydantic", "fastapi", "uvicorn"} <= packages.keys()
    for records, status in (
        ((), 2),
        ((record("numpy", events=[{"introduced": "0"}]),), 1),
        ((record("x", events=[]),), 0),
    ):
        with zipfile.ZipFile(archive, "w") as opened:
            for number, one in enumerate(records):
                opened.writestr(f"{number}.json", json.dumps(one))
        assert main([str(archive), str(lock)]) == status
    said = capsys.readouterr().out
    assert "NOT AUDITED" in said
    assert "numpy " in said
    assert main([str(tmp_path / "none.zip")]) == 2
