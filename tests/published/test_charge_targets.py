"""Charge and split targets against the tables they were fitted to (values from memory)."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from service.physics import charge_targets

DATA = Path(__file__).parent / "data"


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8 + 273.15


def table(name: str) -> list[tuple[float, float, float | None]]:
    """Row temperature, column wet bulb, cell (None for a dash); °F."""
    text = (DATA / f"{name}.csv").read_text().splitlines()
    rows = list(csv.DictReader(line for line in text if not line.startswith("#")))
    return [
        (float(row["DB_F"]), float(key[3:]), float(cell) if cell else None)
        for row in rows
        for key, cell in row.items()
        if key.startswith("WB_")
    ]


def test_every_cell_of_the_superheat_table() -> None:
    """California Energy Commission RA3 (2008), Table RA3.2-2, recalled: 0.1 °F, dashes kept."""
    cells = table("target_superheat")
    assert sum(cell is not None for *_, cell in cells) == 1054
    for outdoor, bulb, cell in cells:
        own = charge_targets.target_superheat(kelvin(outdoor), kelvin(bulb)) * 1.8
        tabulated = charge_targets.target_superheat_is_tabulated(kelvin(outdoor), kelvin(bulb))
        if cell is not None:
            assert own == pytest.approx(cell, abs=0.1)
        # The fit is good to 0.1 °F, so only cells that close to 5 °F may fall either way.
        if cell is None:
            assert not tabulated or own < 5.1
        else:
            assert tabulated or cell < 5.1


def test_every_cell_of_the_split_table() -> None:
    """California Energy Commission RA3 (2008), Table RA3.2-3, recalled: 0.07 °F, dashes kept."""
    cells = table("target_temperature_split")
    assert sum(cell is not None for *_, cell in cells) == 357
    for dry, bulb, cell in cells:
        tabulated = charge_targets.target_split_is_tabulated(kelvin(dry), kelvin(bulb))
        assert bool(tabulated) == (cell is not None)
        if cell is not None:
            own = charge_targets.target_temperature_split(kelvin(dry), kelvin(bulb)) * 1.8
            assert own == pytest.approx(cell, abs=0.07)


# Cells often quoted (values from memory): outdoor / return wet bulb, °F.
@pytest.mark.parametrize(
    ("outdoor", "bulb", "target"),
    [(95, 67, 12.0), (95, 65, 8.1), (95, 64, 5.6), (85, 67, 17.3), (75, 63, 16.7), (115, 76, 22.9)],
)
def test_quoted_cells(outdoor: float, bulb: float, target: float) -> None:
    """Superheat."""
    own = charge_targets.target_superheat(kelvin(outdoor), kelvin(bulb)) * 1.8
    assert own == pytest.approx(target, abs=0.1)


def test_no_jump_between_the_two_cubics() -> None:
    """The table steps between wet bulbs of 64 and 65 °F; between them it is interpolated."""
    bulbs = np.array([kelvin(b) for b in np.linspace(63.5, 65.5, 201)])
    target = charge_targets.target_superheat(np.full_like(bulbs, kelvin(95)), bulbs)
    assert np.abs(np.diff(target)).max() * 1.8 < 0.04
