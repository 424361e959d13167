"""An image as a folder (``buildah push IMAGE dir:FOLDER``): the same sources give the same bytes; for ``deploy/image``.

    python deploy/image_folder.py settle FOLDER
    python deploy/image_folder.py compare FIRST SECOND

The first takes out of the configuration what buildah draws at random for each build: the names of the container
that built the image.  The second prints what differs between two images, and ends with status 1 if anything does.
"""

from __future__ import annotations

import hashlib
import json
import sys
import tarfile
from collections.abc import Iterator, Sequence
from itertools import zip_longest
from pathlib import Path
from typing import Any

#: Fields of Docker's format that name the container in which the image was built; the format lets both be empty.
_OF_THE_BUILD = ("container", "container_config")


def _manifest(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "manifest.json").read_text("utf-8"))
    return found


def _blob(folder: Path, described: dict[str, Any]) -> Path:
    return folder / str(described["digest"]).partition(":")[2]


def settle(folder: Path) -> None:
    """Take the names of the build's container out of the configuration."""
    manifest = _manifest(folder)
    blob = _blob(folder, manifest["config"])
    content = json.loads(blob.read_bytes())
    for name in _OF_THE_BUILD:
        content.pop(name, None)
    content["config"].pop("Hostname", None)
    settled = json.dumps(content, separators=(",", ":")).encode()
    blob.unlink()
    manifest["config"] |= {"digest": f"sha256:{hashlib.sha256(settled).hexdigest()}", "size": len(settled)}
    _blob(folder, manifest["config"]).write_bytes(settled)
    (folder / "manifest.json").write_text(json.dumps(manifest), "utf-8")


def layers(folder: Path) -> list[Path]:
    """The archives of an image's layers, the lowest first."""
    return [_blob(folder, layer) for layer in _manifest(folder)["layers"]]


def entries(archive: Path) -> list[dict[str, Any]]:
    """What a layer says about each of its files, in its order."""
    found = []
    with tarfile.open(archive) as opened:
        for member in opened:
            content = opened.extractfile(member)
            found.append(
                {
                    "name": member.name,
                    "kind": member.type,
                    "mode": oct(member.mode),
                    "owner": (member.uid, member.gid, member.uname, member.gname),
                    "time": member.mtime,
                    "link": member.linkname,
                    "further": member.pax_headers,
                    "content": hashlib.sha256(content.read()).hexdigest() if content else "",
                }
            )
    return found


def differences(first: Sequence[dict[str, Any]], second: Sequence[dict[str, Any]]) -> Iterator[str]:
    """A line for each entry that differs between two layers; one line if only the order does."""
    ours, theirs = ({entry["name"]: entry for entry in one} for one in (first, second))
    alike = True
    for name in sorted(ours.keys() | theirs.keys()):
        one, other = ours.get(name), theirs.get(name)
        if one is None or other is None:
            yield f"{name}: only in the {'second' if one is None else 'first'}"
            alike = False
        elif one != other:
            yield f"{name}: " + "; ".join(f"{key} {one[key]} / {other[key]}" for key in one if one[key] != other[key])
            alike = False
    if alike and list(ours) != list(theirs):
        yield "the order of the entries"


def compared(first: Path, second: Path) -> Iterator[str]:
    """A line for each difference between two images."""
    ours, theirs = (_blob(folder, _manifest(folder)["config"]).read_bytes() for folder in (first, second))
    if ours != theirs:
        yield f"configuration: {ours.decode()} / {theirs.decode()}"
    for number, (one, other) in enumerate(zip_longest(layers(first), layers(second))):
        if one is None or other is None:
            yield f"layer {number}: only in the {'second' if one is None else 'first'}"
        elif one.name != other.name:
            lines = list(differences(entries(one), entries(other))) or ["the bytes of the archive only"]
            yield from (f"layer {number}: {line}" for line in lines)


def main(arguments: Sequence[str]) -> int:
    """Run the command line."""
    match arguments:
        case ["settle", folder]:
            settle(Path(folder))
            return 0
        case ["compare", first, second]:
            lines = list(compared(Path(first), Path(second)))
            sys.stdout.writelines(f"{line}\n" for line in lines)
            return int(bool(lines))
        case _:
            sys.stderr.write(f"{__doc__}\n")
            return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
