"""``python -m tests.fuzz [TARGET ...] [--seconds N] [--runs N]``.

Needs atheris (Linux and macOS); each target runs in a process of its own, as the fuzzer ends it.
What fails is written to the folder of findings, and fails again with ``--again FILE``.
"""

from __future__ import annotations

import argparse
import importlib
import re
import subprocess
import sys
import tempfile
from pathlib import Path

TARGETS = ("bodies", "readings", "lines", "headers")
#: Bodies are no longer than this: what is longer holds no more kinds of fault, and takes longer.
_LONGEST = 8192


def _within(target: str, folder: Path, arguments: list[str]) -> None:
    """Fuzz in this process, which ends with it."""
    import atheris

    with atheris.instrument_imports(include=_code_of(target)):
        module = importlib.import_module(f"tests.fuzz.{target}")
    known = folder / "seeds"
    known.mkdir(parents=True, exist_ok=True)
    for place, seed in enumerate(module.SEEDS):
        (known / f"{place:04d}").write_bytes(seed)

    def mutate(data: bytes, longest: int, seed: int) -> bytes:
        changed = module.mutated(data, seed) if seed % 4 else None
        if changed is None or len(changed) > longest:
            return bytes(atheris.Mutate(data, longest))
        return bytes(changed)

    atheris.Setup([sys.argv[0], *arguments, str(known)], module.check, custom_mutator=mutate)
    atheris.Fuzz()


def _code_of(target: str) -> list[str]:
    """The modules that guide the search, read without importing them."""
    text = (Path(__file__).parent / f"{target}.py").read_text("utf-8")
    found = re.search(r"^CODE = \((.*?)\)", text, re.DOTALL | re.MULTILINE)
    assert found is not None
    return re.findall(r'"([\w.]+)"', found[1])


def main() -> int:
    """Fuzz each target; 1 where one fails."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("targets", nargs="*", default=list(TARGETS), metavar="TARGET", help=", ".join(TARGETS))
    parser.add_argument("--seconds", type=int, default=600, help="of each target; 0: no bound")
    parser.add_argument("--runs", type=int, default=-1, help="of each target; -1: no bound")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--findings", type=Path, default=Path(tempfile.gettempdir()) / "fuzz-findings")
    parser.add_argument("--again", type=Path, help="run one input of one target, and nothing else")
    parser.add_argument("--within", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if not set(asked.targets) <= set(TARGETS):
        parser.error(f"targets are {', '.join(TARGETS)}")
    if asked.again is not None:
        importlib.import_module(f"tests.fuzz.{asked.targets[0]}").check(asked.again.read_bytes())
        return 0
    asked.findings.mkdir(parents=True, exist_ok=True)
    if asked.within:
        with tempfile.TemporaryDirectory() as folder:
            _within(
                asked.targets[0],
                Path(folder),
                [
                    f"-max_total_time={asked.seconds}",
                    f"-runs={asked.runs}",
                    f"-seed={asked.seed}",
                    f"-max_len={_LONGEST}",
                    "-timeout=60",
                    "-print_final_stats=1",
                    "-verbosity=1",
                    f"-artifact_prefix={asked.findings}/{asked.targets[0]}-",
                ],
            )
    failed = []
    for target in asked.targets:
        bounds = [
            "--seconds",
            str(asked.seconds),
            "--runs",
            str(asked.runs),
            "--seed",
            str(asked.seed),
        ]
        done = subprocess.run(
            [sys.executable, "-m", "tests.fuzz", target, *bounds, "--findings", str(asked.findings), "--within"],
            stderr=subprocess.STDOUT,
            stdout=subprocess.PIPE,
            text=True,
            errors="replace",
            check=False,
        )
        lines = done.stdout.splitlines()
        print(f"== {target}: {'failed' if done.returncode else 'held'}")
        told = [line for line in lines if re.match(r"#\d+\s+(INITED|DONE)|stat::", line)]
        print("\n".join(told if done.returncode == 0 else lines[-60:]), flush=True)
        failed += [target] if done.returncode else []
    return int(bool(failed))


if __name__ == "__main__":
    sys.exit(main())
