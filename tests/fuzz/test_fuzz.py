"""The targets of the fuzzer hold on what they begin with, can fail, and run under it."""

from __future__ import annotations

import gzip
import importlib
import importlib.util
import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from service.batches import lines
from service.edge import codings, negotiation, strict_json
from service.intake import readings as intake_readings
from service.reference import units
from tests.fuzz.__main__ import TARGETS

#: Inputs made of each seed without the fuzzer, which is not available on every platform.
_MADE = 6


def _target(name: str) -> ModuleType:
    return importlib.import_module(f"tests.fuzz.{name}")


def _struck(data: bytes, dice: random.Random) -> bytes:
    """Some bytes changed, dropped, doubled or cut off."""
    found = bytearray(data)
    for _ in range(dice.randint(1, 4)):
        at = dice.randrange(len(found) + 1)
        match dice.randrange(4):
            case 0:
                found[at : at + 1] = bytes([dice.randrange(256)])
            case 1:
                del found[at : at + dice.randint(1, 9)]
            case 2:
                found[at:at] = found[at : at + dice.randint(1, 30)]
            case _:
                del found[at:]
    return bytes(found)


@pytest.mark.parametrize("name", TARGETS)
def test_seeds_and_what_is_made_of_them_hold(name: str) -> None:
    """Each seed, and each with a value or some bytes changed."""
    target, dice = _target(name), random.Random(7)
    for seed in target.SEEDS:
        target.check(seed)
        for _ in range(_MADE if len(seed) < 2000 else 1):
            target.check(_struck(seed, dice))
            made = target.mutated(seed, dice.randrange(2**32))
            if made is not None:
                target.check(made)


def _later_key_wins(pairs: list[tuple[str, object]]) -> dict[str, object]:
    return dict(pairs)


def _kept(line: bytes) -> Callable[[lines.LineSplitter, bytes], lines.Line]:
    return lambda _, part: part if part != line else lines.BLANK


@pytest.mark.parametrize(
    ("name", "place", "fault", "data"),
    [
        ("bodies", (strict_json, "_object"), _later_key_wins, b'\x00{"a": 1, "a": 2}'),
        ("bodies", (strict_json, "_refuse_depth"), lambda *_: None, b"\x00" + b"[" * 40 + b"]" * 40),
        ("bodies", (strict_json, "_float"), lambda text: float(text) * (1 + 1e-9), b"\x00[1.5]"),
        ("bodies", (strict_json, "_integer"), lambda text: -int(text), b"\x00[-7]"),
        ("readings", (intake_readings, "system_unit"), lambda kind, _: units.system_unit(kind, "metric"), b"\x00 50"),
        ("lines", (lines.LineSplitter, "_line"), _kept(b"b"), b"\x00\x00a\nb\nc"),
        ("lines", (codings, "STEP"), 10**6, b"\x02\xff" + gzip.compress(b"x" * 50_000, mtime=0)),
        ("lines", (codings.Encoder, "encode"), lambda *_, **__: b"", b"\x00\x00a\nb"),
        ("headers", (negotiation, "isfinite"), lambda _: 1 / 0, b"text/csv;q=nan"),
    ],
    ids=[str(number) for number in range(9)],  # what functions and bytes are called differs by process
)
def test_a_target_finds_what_is_wrong(
    name: str,
    place: tuple[object, str],
    fault: object,
    data: bytes,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A planted fault does not pass."""
    _target(name).check(data)
    monkeypatch.setattr(*place, fault)
    with pytest.raises((AssertionError, ZeroDivisionError, IndexError)):
        _target(name).check(data)


@pytest.mark.slow
@pytest.mark.skipif(importlib.util.find_spec("atheris") is None, reason="atheris has no wheel here")
def test_the_fuzzer_runs(tmp_path: Path) -> None:
    """With few inputs of the quickest target; the rest is for the night."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzz", "lines", "--runs", "300", "--seconds", "0", "--findings", tmp_path],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[2],
    )
    assert done.returncode == 0, done.stdout
    assert "lines: held" in done.stdout
    assert "number_of_executed_units: 300" in done.stdout
