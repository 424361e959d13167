"""Every choice of up to four readings, to everything that takes a visit: ``python -m tests.nightly.subsets``.

294,204 choices. Each goes to a report and a diagnosis, and to three other resources in turn; ``--all``
sends each to every resource. ``--part 2/7`` sends one of seven interleaved parts, for seven nights or
machines.
"""

from __future__ import annotations

import argparse
import sys
import time

from fastapi.testclient import TestClient

from service.app import create_app
from tests.contract.subsets import LARGEST, RESOURCES, UNITS, count, failures, subsets

_ALWAYS, _IN_TURN = 2, 3


def main() -> int:
    """Send, and fail where anything was not answered."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--largest", type=int, default=LARGEST, help="readings at the most")
    parser.add_argument("--part", default="1/1", help="which of how many interleaved parts")
    parser.add_argument("--all", action="store_true", help="every choice to every resource")
    asked = parser.parse_args()
    part, parts = (int(text) for text in asked.part.split("/"))
    begun, sent, failed = time.monotonic(), 0, 0
    rest = RESOURCES[_ALWAYS:]
    with TestClient(create_app(), raise_server_exceptions=False) as client:
        for place, names in enumerate(subsets(asked.largest)):
            if place % parts != part - 1:
                continue
            turn = [rest[(place * _IN_TURN + k) % len(rest)] for k in range(_IN_TURN)]
            resources = RESOURCES if asked.all else [*RESOURCES[:_ALWAYS], *turn]
            found = failures(client, names, UNITS[place % len(UNITS)], resources)
            sent, failed = sent + 1, failed + len(found)
            for text in found:
                print(text, flush=True)
            if sent % 2000 == 0:
                rate = (time.monotonic() - begun) / sent
                print(
                    f"{sent} of {count(asked.largest) // parts} choices, {rate:.3f} s each",
                    flush=True,
                )
    print(f"{sent} choices, {failed} failures, {time.monotonic() - begun:.0f} s")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
