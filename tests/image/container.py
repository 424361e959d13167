"""A container of the image by an OCI runtime (crun), as strictly as a cluster would run it.

Root file system read-only, own processes (the service is the first), no capability, no new privileges, and
``/tmp`` alone to write to.  Shells are masked: nothing of what runs may need one.  It shares the network of
this process, which ``deploy/image`` has cut off from every other.
"""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(os.environ.get("IMAGE_ROOT", "/nowhere"))

_ID = "split-system-readings-check"
_SHELLS = ("bash", "dash", "sh")
_MOUNTS: tuple[tuple[str, str, list[str]], ...] = (
    ("/proc", "proc", []),
    ("/dev", "tmpfs", ["nosuid", "strictatime", "mode=755", "size=64k"]),
    ("/dev/shm", "tmpfs", ["nosuid", "noexec", "nodev", "mode=1777", "size=64m"]),
    ("/tmp", "tmpfs", ["nosuid", "nodev", "mode=1777", "size=256m"]),
)


def inspected() -> dict[str, Any]:
    """What the image says of itself: its configuration and history, in Docker's form."""
    said = json.loads(Path(os.environ["IMAGE_CONFIGURATION"]).read_text("utf-8"))
    return dict(said["Docker"])


def bundle(folder: Path, **environment: str) -> None:
    """Write what the runtime is asked for into a folder.

    ``environment`` is added to that of the image.
    """
    image = inspected()["config"]
    user, _, group = image["User"].partition(":")
    configuration = {
        "ociVersion": "1.0.2",
        "root": {"path": str(ROOT), "readonly": True},
        "process": {
            "terminal": False,
            "user": {"uid": int(user), "gid": int(group)},
            "args": image["Entrypoint"] + image["Cmd"],
            "env": image["Env"] + [f"{name}={value}" for name, value in environment.items()],
            "cwd": image["WorkingDir"],
            "capabilities": {},
            "noNewPrivileges": True,
        },
        "mounts": [
            {"destination": place, "type": kind, "source": kind, "options": options} for place, kind, options in _MOUNTS
        ],
        "linux": {
            "namespaces": [{"type": kind} for kind in ("pid", "ipc", "uts", "mount")],
            "maskedPaths": [
                f"{folder}/{name}"
                for folder in ("/bin", "/usr/bin")
                for name in _SHELLS
                if (ROOT / folder[1:] / name).is_file()
            ],
        },
    }
    (folder / "config.json").write_text(json.dumps(configuration, indent=1), "utf-8")


@dataclass
class Container:
    """One that runs."""

    process: subprocess.Popen[str]
    runtime: list[str]

    def run(self, *command: str) -> subprocess.CompletedProcess[str]:
        """Another command in it, as the same user."""
        return subprocess.run(
            [*self.runtime, "exec", "--cwd", inspected()["config"]["WorkingDir"], _ID, *command],
            capture_output=True,
            text=True,
            check=False,
        )

    def python(self, code: str) -> str:
        """What a piece of Python prints in it; it must end well."""
        done = self.run("python", "-c", code)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def first_process(self) -> int:
        """Number of its first process as this machine counts."""
        said = subprocess.run([*self.runtime, "state", _ID], capture_output=True, text=True, check=True)
        return int(json.loads(said.stdout)["pid"])

    def stop(self) -> int:
        """Ask it to end as an engine does; the exit code of its first process."""
        subprocess.run([*self.runtime, "kill", _ID, "TERM"], check=True)
        return self.process.wait()


@contextmanager
def started(folder: Path, **environment: str) -> Iterator[Container]:
    """The image's own command, until it is stopped or left.

    The runtime's own records are kept in ``folder``; it is told to leave control groups alone, as these
    are not for everybody to set, so nothing limits the container's memory.
    """
    bundle(folder, **environment)
    runtime = ["crun", "--root", str(folder / "state"), "--cgroup-manager=disabled"]
    with subprocess.Popen(
        [*runtime, "run", "--bundle", str(folder), _ID],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as process:
        try:
            yield Container(process, runtime)
        finally:
            if process.poll() is None:
                subprocess.run([*runtime, "kill", _ID, "KILL"], check=False)
                process.wait()
