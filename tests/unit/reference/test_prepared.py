"""Tables that are computed once and read back."""

from __future__ import annotations

import logging
import stat
from pathlib import Path

import numpy as np
import pytest

from service.reference import prepared
from service.reference.prepared import prepared_arrays


class Builder:
    """Builds a small table and counts how often."""

    def __init__(self, value: float = 1.5) -> None:
        self.calls = 0
        self.value = value

    def __call__(self) -> dict[str, np.ndarray]:
        self.calls += 1
        return {"a/b": np.array([self.value, np.nan]), "count": np.arange(3)}


@pytest.fixture
def directory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A directory for prepared tables that does not exist yet."""
    place = tmp_path / "not" / "yet"
    monkeypatch.setenv(prepared.ENVIRONMENT_VARIABLE, str(place))
    return place


def test_second_call_reads_what_the_first_built(directory: Path) -> None:
    """Same arrays, same types, one build."""
    build = Builder()
    first = prepared_arrays("table", "f1", build)
    second = prepared_arrays("table", "f1", build)
    assert build.calls == 1
    assert set(first) == set(second) == {"a/b", "count"}
    for key, array in first.items():
        np.testing.assert_array_equal(second[key], array)
        assert second[key].dtype == array.dtype
    assert [path.name for path in directory.iterdir()] == ["table-f1.npz"]


def test_another_fingerprint_builds_anew(directory: Path) -> None:
    """A new library version or parameter never meets the old table."""
    prepared_arrays("table", "f1", Builder(1.0))
    assert prepared_arrays("table", "f2", Builder(2.0))["a/b"][0] == 2.0
    assert prepared_arrays("table", "f1", Builder(3.0))["a/b"][0] == 1.0
    assert len(list(directory.iterdir())) == 2


@pytest.mark.parametrize("damage", ["empty", "text", "cut", "flipped", "array", "pickle"])
def test_damaged_file_is_rebuilt(directory: Path, damage: str, caplog: pytest.LogCaptureFixture) -> None:
    """Whatever happened to the file, the answer is right and the file is whole afterwards."""
    prepared_arrays("table", "f1", Builder())
    path = directory / "table-f1.npz"
    whole = path.read_bytes()
    if damage == "array":
        with path.open("wb") as file:
            np.save(file, np.arange(3))
    elif damage == "pickle":
        with path.open("wb") as file:
            np.savez(file, allow_pickle=True, **{"a/b": np.array([{}], dtype=object)})
    else:
        middle = whole.index(b"NUMPY") + 130
        path.write_bytes(
            {
                "empty": b"",
                "text": b"not an archive",
                "cut": whole[: len(whole) // 2],
                "flipped": whole[:middle] + bytes([whole[middle] ^ 255]) + whole[middle + 1 :],
            }[damage]
        )
    build = Builder()
    with caplog.at_level(logging.WARNING):
        again = prepared_arrays("table", "f1", build)
    assert build.calls == 1
    assert again["a/b"][0] == 1.5
    assert "rebuilding table-f1.npz" in caplog.text
    assert prepared_arrays("table", "f1", build)["count"].tolist() == [0, 1, 2]
    assert build.calls == 1


def test_unwritable_directory_builds_every_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A file stands where the directory should be, which stops even a privileged user."""
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    monkeypatch.setenv(prepared.ENVIRONMENT_VARIABLE, str(blocked / "below"))
    build = Builder()
    with caplog.at_level(logging.INFO):
        for _ in range(2):
            assert prepared_arrays("table", "f1", build)["a/b"][0] == 1.5
    assert build.calls == 2
    assert {record.levelname for record in caplog.records} == {"INFO"}
    assert blocked.read_text() == "in the way"


def test_failed_write_leaves_nothing_behind(directory: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk costs the table, not the start, and leaves no half-written file."""

    def full(*_: object, **__: object) -> None:
        raise OSError("no space left on device")

    monkeypatch.setattr(np, "savez", full)
    assert prepared_arrays("table", "f1", Builder())["a/b"][0] == 1.5
    assert list(directory.iterdir()) == []


def test_failing_build_is_not_hidden(directory: Path) -> None:
    """An error while building reaches the caller; nothing is kept."""

    def build() -> dict[str, np.ndarray]:
        raise ArithmeticError("no such table")

    with pytest.raises(ArithmeticError, match="no such table"):
        prepared_arrays("table", "f1", build)
    assert not directory.exists()


def test_another_user_can_read_the_table(directory: Path) -> None:
    """An image is built by one user and run by another."""
    prepared_arrays("table", "f1", Builder())
    assert stat.S_IMODE((directory / "table-f1.npz").stat().st_mode) == 0o644


def test_directory_is_beside_the_interpreter_unless_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The environment variable wins; an empty one counts as none."""
    monkeypatch.setenv(prepared.ENVIRONMENT_VARIABLE, str(tmp_path))
    assert prepared.prepared_directory() == tmp_path
    monkeypatch.setenv(prepared.ENVIRONMENT_VARIABLE, "")
    monkeypatch.setattr("sys.prefix", str(tmp_path / "environment"))
    assert prepared.prepared_directory() == (tmp_path / "environment" / "var" / "split-system-readings")


def test_a_table_beside_the_interpreter_serves_where_the_named_directory_lacks_it(
    directory: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """As in an image, which cannot build one; the directory's own goes before it."""
    monkeypatch.setattr("sys.prefix", str(tmp_path / "environment"))
    monkeypatch.delenv(prepared.ENVIRONMENT_VARIABLE)
    prepared_arrays("table", "f1", Builder(1.0))
    monkeypatch.setenv(prepared.ENVIRONMENT_VARIABLE, str(directory))
    assert prepared_arrays("table", "f1", pytest.fail)["a/b"][0] == 1.0
    assert not directory.exists()
    directory.mkdir(parents=True)
    prepared._keep(directory / "table-f1.npz", {"a/b": np.array([2.0])})
    assert prepared_arrays("table", "f1", pytest.fail)["a/b"][0] == 2.0
