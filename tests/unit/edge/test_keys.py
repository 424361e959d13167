"""Keys in a file: rotated without a restart, and never open by mistake."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from service.edge import keys
from service.edge.keys import KnownKeys, caller, hashed
from service.edge.settings import Settings


@pytest.fixture(autouse=True)
def _look_each_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keys, "_LOOK_SECONDS", 0.0)


def write(path: Path, *lines: str, at: int) -> None:
    """Replace the file as a cluster does: another file under the same name."""
    new = path.with_suffix(".new")
    new.write_text("\n".join(lines), "utf-8")
    os.utime(new, (at, at))
    new.replace(path)


def test_keys_rotate_without_a_restart(tmp_path: Path) -> None:
    """The old and the new one together for a while, then the new one alone; those listed stay."""
    path, old, new, listed = tmp_path / "keys", hashed(b"old"), hashed(b"new"), hashed(b"listed")
    write(path, "# of the office", old, at=1)
    known = KnownKeys(listed, path)
    assert known.hashes() == [listed.encode(), old.encode()]
    write(path, old, "", f"{new.upper()}  # from May on", at=2)
    assert known.hashes() == [one.encode() for one in (listed, old, new)]
    write(path, new, at=3)
    assert known.hashes() == [listed.encode(), new.encode()]
    write(path, at=4)
    assert known.hashes() == [listed.encode()]


def test_a_file_that_cannot_be_read_changes_nothing(tmp_path: Path) -> None:
    """Nor does one with the key itself in it."""
    path, old = tmp_path / "keys", hashed(b"old")
    write(path, old, at=1)
    known = KnownKeys("", path)
    assert known.hashes() == [old.encode()]
    write(path, "open-sesame", at=2)
    assert known.hashes() == [old.encode()]
    path.unlink()
    assert known.hashes() == [old.encode()]


def test_a_service_does_not_start_with_a_file_that_it_cannot_use(tmp_path: Path) -> None:
    """Without its keys it would be open, or closed, to all; an empty file admits nobody."""
    path = tmp_path / "keys"
    with pytest.raises(ValidationError, match="cannot be read"):
        Settings(api_key_file=path)
    path.write_text("open-sesame")
    with pytest.raises(ValidationError) as refused:
        Settings(api_key_file=path)
    assert "open-sesame" not in str(refused.value.errors(include_input=False))
    path.write_text("")
    settings = Settings(api_key_file=path)
    assert settings.requires_key
    assert KnownKeys(settings.api_key_hashes, settings.api_key_file).hashes() == []


def test_a_caller_is_known_by_its_key_or_its_address() -> None:
    scope: Any = {"type": "http", "client": ("192.0.2.7", 4000)}
    assert caller(scope) == "192.0.2.7"
    assert caller({**scope, keys.CALLER: "abc"}) == "abc"
    assert caller({"type": "http", "client": None}) == ""
