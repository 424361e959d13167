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


# Cells for tests (values from memory): outdoor dry bulb, return wet bulb, target; °F.
@pytest.mark.parametrize(
    ("outdoor", "bulb", "target"),
    [
        (95, 67, 12.0),
        (95, 65, 8.1),
        (95, 64, 5.6),
        (85, 67, 17.3),
        (75, 63, 16.7),
        (90, 63, 6.8),
        (55, 50, 8.8),
        (115, 76, 22.9),
        (100, 65, 5.3),
    ],
)
def test_quoted_cells_of_the_superheat_table(outdoor: float, bulb: float, target: float) -> None:
    """Within 0.1 °F, and tabulated."""
    own = charge_targets.target_superheat(kelvin(outdoor), kelvin(bulb)) * 1.8
    assert own == pytest.approx(target, abs=0.1)
    assert charge_targets.target_superheat_is_tabulated(kelvin(outdoor), kelvin(bulb))


# Dashes for tests (values from memory), and conditions off the table's edges; °F.
@pytest.mark.parametrize(("outdoor", "bulb"), [(95, 63), (101, 65), (54.9, 60), (115.1, 76), (80, 76.1), (60, 49.9)])
def test_dashes_of_the_superheat_table(outdoor: float, bulb: float) -> None:
    """Not tabulated, yet a number: the closed form is not clamped."""
    assert not charge_targets.target_superheat_is_tabulated(kelvin(outdoor), kelvin(bulb))
    assert np.isfinite(charge_targets.target_superheat(kelvin(outdoor), kelvin(bulb)))


# Cells for tests (values from memory): return dry bulb, return wet bulb, split; °F.
@pytest.mark.parametrize(
    ("dry", "bulb", "split"),
    [
        (80, 67, 18.3),
        (75, 63, 18.6),
        (75, 62, 19.3),
        (70, 50, 20.9),
        (84, 76, 10.8),
        (78, 60, 22.1),
    ],
)
def test_quoted_cells_of_the_split_table(dry: float, bulb: float, split: float) -> None:
    """Within 0.07 °F, and tabulated."""
    own = charge_targets.target_temperature_split(kelvin(dry), kelvin(bulb)) * 1.8
    assert own == pytest.approx(split, abs=0.07)
    assert charge_targets.target_split_is_tabulated(kelvin(dry), kelvin(bulb))


# One dash (value from memory), and conditions off the table's edges; °F.
@pytest.mark.parametrize(("dry", "bulb"), [(80, 55), (69.9, 60), (84.1, 65), (75, 49.9), (80, 76.1)])
def test_dashes_of_the_split_table(dry: float, bulb: float) -> None:
    """Not tabulated, yet a number: the closed form is not clamped."""
    assert not charge_targets.target_split_is_tabulated(kelvin(dry), kelvin(bulb))
    assert np.isfinite(charge_targets.target_temperature_split(kelvin(dry), kelvin(bulb)))


def test_seam_is_linear_interpolation_of_the_table() -> None:
    """Halfway between the cells at 95 °F outdoors, 64 °F (5.6) and 65 °F (8.1): 6.85 ± 0.1 °F."""
    own = charge_targets.target_superheat(kelvin(95), kelvin(64.5)) * 1.8
    assert own == pytest.approx((5.6 + 8.1) / 2, abs=0.1)


def test_draws_on_both_sides_of_the_seam_get_what_each_alone_would() -> None:
    """The shorter way for draws on one side gives the same numbers."""
    bulbs = np.array([kelvin(bulb) for bulb in (60.0, 64.3, 70.0)])
    together = charge_targets.target_superheat(kelvin(85), bulbs)
    alone = [float(charge_targets.target_superheat(kelvin(85), bulb)) for bulb in bulbs]
    assert together == pytest.approx(alone, rel=1e-12)


def test_no_jump_between_the_two_cubics() -> None:
    """The table steps between wet bulbs of 64 and 65 °F; between them it is interpolated."""
    bulbs = np.array([kelvin(b) for b in np.linspace(63.5, 65.5, 201)])
    target = charge_targets.target_superheat(np.full_like(bulbs, kelvin(95)), bulbs)
    assert np.abs(np.diff(target)).max() * 1.8 < 0.04
