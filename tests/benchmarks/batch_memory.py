"""Memory of the service and its processes while one batch of many lines streams through (Linux).

``python -m tests.benchmarks.batch_memory [lines] [--visits SHARE]``

Lines are made while they are sent: of ``--visits`` a share is one reading of an invented visit, another for
each line; the rest are refused for one reason or another, which costs little, so that a million lines end.
The answer (``detail=grades``) is read while the input is sent, and thrown away.  Resident memory is read
from ``/proc`` every few seconds: of the service, and of all its processes together.
"""

from __future__ import annotations

import argparse
import http.client
import json
import threading
import time
from collections.abc import Iterator

import numpy as np

from tests.benchmarks.speed.servers import descendants, resident, started

EVERY_SECONDS = 5.0


def lines_of(count: int, share: float) -> Iterator[bytes]:
    """Lines of a batch, no two visits alike."""
    refused = (
        b'{"id": %d, "assessment": {"units": "imperial", "run": {"readings": {"suction_presure": 118}}}}\n',
        b'{"id": %d, "assessment": {"run": {"readings": {"suction_pressure": 118}}}}\n',
        b'{"id": %d, "assessment": \n',
        b'{"id": %d, "assesment": {}}\n',
    )
    owed = 0.0
    for number in range(count):
        owed += share
        if owed >= 1.0:
            owed -= 1.0
            yield (
                b'{"id": %d, "assessment": {"units": "imperial", "unit": {"refrigerant": "R-410A"}, '
                b'"run": {"readings": {"suction_pressure": %.2f}}}}\n' % (number, 100.0 + number % 4000 / 100.0)
            )
        else:
            yield refused[number % len(refused)] % number


def stream(port: int, count: int, share: float, seen: list[int]) -> dict[str, object]:
    """Send and read at once; ``seen[0]`` counts lines of answer.  The summary is returned."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.putrequest("POST", "/v1/batches?detail=grades")
    connection.putheader("Content-Type", "application/x-ndjson")
    connection.putheader("Transfer-Encoding", "chunked")
    connection.endheaders()

    def send() -> None:
        held = bytearray()
        for line in lines_of(count, share):
            held += line
            if len(held) > 16_384:
                connection.send(b"%x\r\n%b\r\n" % (len(held), bytes(held)))
                held.clear()
        if held:
            connection.send(b"%x\r\n%b\r\n" % (len(held), bytes(held)))
        connection.send(b"0\r\n\r\n")

    sender = threading.Thread(target=send)
    sender.start()
    last = b""
    for line in connection.getresponse():
        last = line
        seen[0] += 1
    sender.join()
    return dict(json.loads(last)["summary"])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("lines", nargs="?", type=int, default=1_000_000)
    parser.add_argument("--visits", type=float, default=0.02, metavar="SHARE")
    arguments = parser.parse_args()
    seen, samples = [0], []
    with started("service") as (server, _):
        start = time.perf_counter()
        summary: dict[str, object] = {}
        work = threading.Thread(
            target=lambda: summary.update(stream(server.port, arguments.lines, arguments.visits, seen))
        )
        work.start()
        print("seconds     lines   service MB   processes MB   together MB", flush=True)
        while work.is_alive():
            own, others = (
                resident(server.process.pid),
                float(np.nansum([resident(one) for one in descendants(server.process.pid)])),
            )
            samples.append((seen[0], own + others))
            print(
                f"{time.perf_counter() - start:7.0f} {seen[0]:9d} {own:12.1f} {others:14.1f} {own + others:13.1f}",
                flush=True,
            )
            work.join(EVERY_SECONDS)
        seconds = time.perf_counter() - start
    print(json.dumps(summary))
    print(f"{arguments.lines / seconds:.0f} lines/s")
    lines, memory = np.array(samples[len(samples) // 4 :], dtype=float).T
    slope = np.polyfit(lines, memory, 1)[0]
    print(
        f"slope over the last three quarters: {slope * 1e5:+.2f} MB in 100,000 lines; "
        f"least {memory.min():.1f}, most {memory.max():.1f} MB"
    )


if __name__ == "__main__":
    main()
