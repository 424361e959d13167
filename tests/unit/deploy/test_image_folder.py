"""Two builds of the same sources are the same image, and where they are not, the difference is named."""

from __future__ import annotations

import hashlib
import io
import json
import tarfile
from pathlib import Path
from typing import Any

from deploy.image_folder import compared, settle


def image(folder: Path, files: dict[str, bytes], configuration: dict[str, Any], time: int = 0) -> Path:
    """An image of one layer, in the layout of the container libraries' ``dir:`` transport."""
    folder.mkdir()
    archive = io.BytesIO()
    with tarfile.open(fileobj=archive, mode="w") as opened:
        for name, content in files.items():
            member = tarfile.TarInfo(name)
            member.size, member.mtime = len(content), time
            opened.addfile(member, io.BytesIO(content))

    def blob(content: bytes) -> dict[str, Any]:
        digest = hashlib.sha256(content).hexdigest()
        (folder / digest).write_bytes(content)
        return {"digest": f"sha256:{digest}", "size": len(content)}

    manifest = {"config": blob(json.dumps(configuration).encode()), "layers": [blob(archive.getvalue())]}
    (folder / "manifest.json").write_text(json.dumps(manifest), "utf-8")
    return folder


def test_names_that_a_build_draws_at_random_are_taken_out(tmp_path: Path) -> None:
    """Fields of Docker's image format: https://github.com/moby/docker-image-spec (v1)."""
    found = []
    for drawn in ("53fabf9a8b6d", "5f499b9b4038"):
        built = {"container": drawn, "container_config": {"Hostname": drawn}, "architecture": "amd64"}
        folder = image(tmp_path / drawn, {"a": b"1"}, {**built, "config": {"Hostname": drawn, "User": "10001"}})
        settle(folder)
        manifest = json.loads((folder / "manifest.json").read_bytes())
        digest = manifest["config"]["digest"].removeprefix("sha256:")
        content = (folder / digest).read_bytes()
        assert hashlib.sha256(content).hexdigest() == digest
        assert len(content) == manifest["config"]["size"]
        assert json.loads(content) == {"architecture": "amd64", "config": {"User": "10001"}}
        found.append(folder)
    assert not list(compared(*found))


def test_what_differs_is_named(tmp_path: Path) -> None:
    """A file, its time, the order, the configuration."""
    one = image(tmp_path / "one", {"a": b"1", "b": b"2"}, {})
    assert "a: content" in "".join(compared(one, image(tmp_path / "two", {"a": b"3", "b": b"2"}, {})))
    assert "b: time 0 / 7" in "".join(compared(one, image(tmp_path / "three", {"a": b"1", "b": b"2"}, {}, time=7)))
    assert "c: only in the second" in "".join(compared(one, image(tmp_path / "four", {"a": b"1", "c": b"2"}, {})))
    assert "order" in "".join(compared(one, image(tmp_path / "five", {"b": b"2", "a": b"1"}, {})))
    assert "configuration" in "".join(compared(one, image(tmp_path / "six", {"a": b"1", "b": b"2"}, {"os": "linux"})))
