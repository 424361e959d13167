"""A stand-in for the work, so that the front can be tried with work of any length.

``python -m tests.serving.stand_in`` serves the front as the service does, with settings from the environment;
its processes do what the address says.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path
from urllib.parse import parse_qs

from service.serving.messages import Forwarded, Reply
from service.telemetry.logs import configure


def set_up() -> None:
    """Nothing to load but the log; a signal to the group is the service's."""
    configure()
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def work(request: Forwarded) -> Reply:
    """What the address says."""
    given = {key: row[0] for key, row in parse_qs(request.query.decode()).items()}
    match request.path:
        case "/v1/sleep":
            time.sleep(float(given["seconds"]))
        case "/v1/until":  # the file is there
            note = Path(given["begun"])
            note.with_suffix(".part").write_text(str(os.getpid()))
            note.with_suffix(".part").rename(note)
            while not Path(given["file"]).exists():
                time.sleep(0.005)
        case "/v1/die":
            os.kill(os.getpid(), signal.SIGKILL)
        case "/v1/die_once":
            if not Path(given["file"]).exists():
                Path(given["file"]).touch()
                os.kill(os.getpid(), signal.SIGKILL)
        case "/v1/raise":
            raise ValueError("secret-of-the-body")
    headers = [(b"content-type", b"text/plain"), (b"content-length", b"%d" % len(str(os.getpid())))]
    return Reply(200, headers, str(os.getpid()).encode(), 0.0)


def main() -> int:
    """Serve until stopped."""

    from service.edge.settings import Settings
    from service.serving.assembly import assemble
    from service.serving.pool import Processes
    from service.serving.process import configure_log

    settings = Settings()
    configure_log(settings)
    processes = Processes(settings.processes or 2, set_up, work)
    processes.start_first()

    def ready(base: str) -> None:
        sys.stdout.write(f"Ready at {base} after a moment.\n")
        sys.stdout.flush()

    assemble(settings, processes, ready).run()
    return 0


if __name__ == "__main__":
    sys.exit(main())
