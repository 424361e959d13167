"""Keeps the contract of a release: ``python -m tests.contract.release [--again]``.

Writes ``schemas/released/openapi-VERSION.json``, with which later contracts are compared.  A contract that
breaks the last release is not kept, nor is one kept twice under one version, unless ``--again`` says that the
version was not handed out yet.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from tests.contract.compatibility import broken

SCHEMAS = Path(__file__).parents[2] / "schemas"
RELEASED = SCHEMAS / "released"


def current() -> Any:  # noqa: ANN401
    """The contract as it is committed."""
    return json.loads((SCHEMAS / "openapi.json").read_text("utf-8"))


def _version(path: Path) -> tuple[int, ...]:
    return tuple(int(part) for part in path.stem.removeprefix("openapi-").split("."))


def last(but: Path | None = None) -> Path | None:
    """The contract of the last release, other than ``but``."""
    found = [path for path in RELEASED.glob("openapi-*.json") if path != but]
    return max(found, key=_version, default=None)


def main() -> int:
    """Keep it; 1 where it may not be."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--again", action="store_true", help="write over the file of this version")
    asked = parser.parse_args()
    contract = current()
    path = RELEASED / f"openapi-{contract['info']['version']}.json"
    if path.exists() and not asked.again:
        print(f"{path.name} is kept already: raise the version, or say --again if nobody has it yet")
        return 1
    before = last(but=path)
    if before is not None:
        faults = broken(json.loads(before.read_text("utf-8")), contract)
        if faults:
            print(f"breaks {before.name}:", *faults, sep="\n  ")
            return 1
    RELEASED.mkdir(exist_ok=True)
    # One line: nobody reads it, and it is 5 times smaller.
    path.write_text(json.dumps(contract, separators=(",", ":"), ensure_ascii=False) + "\n", "utf-8")
    print(f"kept {path.relative_to(SCHEMAS.parent)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
