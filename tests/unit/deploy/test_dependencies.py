"""The locks hold what pyproject.toml asks for, hashed, under licences that are allowed."""

from __future__ import annotations

from importlib import metadata
from itertools import chain

import pytest
from packaging.utils import canonicalize_name
from packaging.version import Version

from tests.dependencies import ALLOWED, LISTING, LOCKS, asked, licences, listing, locked, needed


@pytest.mark.parametrize("lock", LOCKS)
def test_every_line_is_one_version_with_hashes(lock: str) -> None:
    """No range, no address, no package that could be another tomorrow."""
    rows = locked(lock)
    assert len(rows) > 20
    for row in rows:
        assert row.requirement.url is None, row.name
        assert Version(row.version)
        assert row.hashes, row.name
    names = [row.name for row in rows if row.here]
    assert len(names) == len(set(names)), "two versions for one platform"


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_holds_what_is_asked_for(lock: str) -> None:
    """Everything of pyproject.toml, and everything that this in turn needs here, in versions that do."""
    versions = {row.name: row.version for row in locked(lock) if row.here}
    wanted = needed(asked(LOCKS[lock]))
    assert set(wanted) <= set(versions), "run `bash deploy/lock`"
    for name, requirements in wanted.items():
        for requirement in requirements:
            assert requirement.specifier.contains(versions[name], prereleases=True), requirement
    asked_for = {canonicalize_name(one.name) for one in asked(LOCKS[lock])}
    assert asked_for <= {row.name for row in locked(lock)}


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_holds_nothing_else(lock: str) -> None:
    """A package that nothing needs here any more is left over."""
    assert {row.name for row in locked(lock) if row.here} <= set(needed(asked(LOCKS[lock])))


def test_what_is_tested_is_what_runs() -> None:
    """The same versions in every lock."""
    runs = {(row.name, row.version, str(row.requirement.marker)) for row in locked("requirements.lock")}
    for lock in LOCKS:
        also = {(row.name, row.version) for row in locked(lock)}
        assert {row[:2] for row in runs} <= also, lock


def test_licences_are_allowed() -> None:
    """Of all that runs with the service, and of what the batch job adds."""
    rows = chain(locked("requirements.lock"), locked("requirements-fleet.lock"))
    for name in sorted({row.name for row in rows if row.here}):
        assert licences(name) <= ALLOWED, (name, licences(name))


def test_the_list_of_licences_is_true() -> None:
    """``python -m tests.dependencies`` writes it."""
    assert listing() == LISTING.read_text("utf-8")


def test_a_licence_that_is_not_allowed_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where it stands beside others, or none is named."""
    for fields in ({"License-Expression": "MIT AND GPL-3.0-only"}, {"License": "Proprietary"}, {}):
        monkeypatch.setattr(metadata, "metadata", lambda _, told=fields: _Fields(told))
        assert not licences("any") <= ALLOWED


class _Fields(dict[str, str]):
    def get_all(self, name: str) -> list[str]:
        return [self[name]] if name in self else []
