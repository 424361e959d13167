"""House rules that a linter cannot know."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import schemas
import service
from schemas.readings import READING_GROUPS, READINGS
from service.assess.cautions import CIRCUMSTANTIAL, MEASURED
from service.derive.derivations import DERIVATIONS, QUANTITIES
from service.derive.resolver import ORDER
from service.edge.settings import Settings
from service.reference import likelihood
from service.reference.assumptions import ASSUMPTIONS
from service.reference.balances import COMMON_MISTAKES, FAMILIES
from service.reference.capacity_control import LOW_STAGE_RATIO, PART_SPEED_RATIO, PARTLY_SETTLED, UNSETTLED
from service.reference.cautions import CAUTIONS
from service.reference.changes import JUDGED
from service.reference.check_limits import CHECK_LIMITS
from service.reference.check_notices import CHECK_NOTICES
from service.reference.credible import BOUNDS
from service.reference.faults import SYMPTOMS
from service.reference.faults_by_mode import IN_MODE
from service.reference.instruments import ASSUMED_TYPE, INSTRUMENT_TYPES
from service.reference.leak_rates import POTENTIALS, THRESHOLDS
from service.reference.limits import LIMITS
from service.reference.line_contents import FLAMMABILITY_LIMITS, ROOM_FORMULAS
from service.reference.notices import NOTICES, ORDERS
from service.reference.physical_bounds import PHYSICAL_BOUNDS
from service.reference.placements import PLACEMENTS, SPOTS
from service.reference.prepared import ENVIRONMENT_VARIABLE
from service.reference.ratings import EFFICIENCY_RATINGS
from service.reference.settling import GROUPS, STEPS
from service.reference.sources import SOURCES
from service.reference.steadiness import STEADY
from service.reference.units import KINDS
from service.render.palette import COLOURS
from service.uncertainty.error_terms import (
    ASSUMPTION_SLOTS,
    GROUP_SLOTS,
    READING_SLOTS,
    SENSORS_PER_INSTRUMENT,
    SPOT_SLOTS,
)
from service.unit.layout import LAYOUTS

ROOT = Path(__file__).parents[2]
SCIENCE = ("service.physics", "service.uncertainty")


def modules(package: str) -> Iterator[str]:
    for found in pkgutil.walk_packages(importlib.import_module(package).__path__, f"{package}."):
        yield found.name


def test_every_folder_is_a_package() -> None:
    """A missing marker would silently shrink what the import rules check."""
    for package in (service, schemas):
        top = Path(next(iter(package.__path__)))
        for folder in {path.parent for path in top.rglob("*.py")}:
            assert (folder / "__init__.py").exists(), folder


@pytest.mark.parametrize("name", [n for package in SCIENCE for n in modules(package)])
def test_public_functions_state_units_and_sources(name: str) -> None:
    """Each public function of the science rooms has a docstring; its module says where from."""
    module = importlib.import_module(name)
    assert module.__doc__
    for label, function in inspect.getmembers(module, inspect.isfunction):
        if function.__module__ == name and not label.startswith("_"):
            assert function.__doc__, f"{name}.{label}"


def test_no_invariant_sets_its_own_number_of_cases() -> None:
    """It would hold at night too; ``cases.py`` alone knows both."""
    for path in (ROOT / "tests" / "properties").glob("test_*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call | ast.Attribute):
                name = node.func if isinstance(node, ast.Call) else node.value
                assert getattr(name, "id", "") != "settings", path.name


def test_every_source_exists_and_none_is_idle() -> None:
    """Each row names a source of the table; each source is named by a row."""
    used = {row.source for row in LIMITS.values()}
    used |= {row.source for row in CAUTIONS.values()}
    used |= {row.source for row in DERIVATIONS}
    used |= {row.source for row in ASSUMPTIONS.values()}
    used |= {row.source for row in SPOTS.values()}
    used |= {row.source for row in EFFICIENCY_RATINGS.values()}
    used |= {row.source for one in LAYOUTS.values() for rows in (one.parameters, one.causes) for row in rows.values()}
    used |= {row.source for row in JUDGED.values()}
    used.add(likelihood.SOURCE)
    used |= {row.source for row in (*UNSETTLED.values(), *PARTLY_SETTLED.values())} | {row.source for row in ORDERS}
    used |= {row.source for row in NOTICES.values()}
    used |= {row.source for row in PHYSICAL_BOUNDS.values()} | {row.source for rows in BOUNDS.values() for row in rows}
    used |= {row.source for row in CHECK_NOTICES.values()} | {row.source for row in CHECK_LIMITS.values()}
    used |= {row.source for row in POTENTIALS} | {row.source for row in THRESHOLDS}
    used |= {row.source for row in ROOM_FORMULAS} | {row.source for row in FLAMMABILITY_LIMITS.values()}
    used |= {row.source for of_mode in IN_MODE.values() for row in of_mode.faults.values()}
    used |= {row.source for row in SYMPTOMS}
    used |= {row.source for row in STEPS.values()} | {part.source for row in GROUPS.values() for part in row.parts}
    used |= {row.source for row in STEADY.values()}
    # Named in comments beside constants that carry no source of their own.
    used |= {"heating_of_cooling", "usual_running_time", "hunting_valve", "short_cycle"}
    for type_ in INSTRUMENT_TYPES.values():
        used |= {a.source for a in (*type_.accuracies.values(), *type_.overrides.values())}
    # Named where an answer is put together.
    used |= {
        node.value
        for name in ("service.compare.comparison", *modules("service.checks"))
        for node in ast.walk(ast.parse(inspect.getsource(importlib.import_module(name))))
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value in SOURCES
    }
    assert used <= set(SOURCES)
    idle = set(SOURCES) - used
    assert idle <= {"weather_pressure", "jcgm_106", "ashrae_34", "osha_1910_147"}


def test_limits_are_limits_on_what_is_derived() -> None:
    """With a bound, an advice for each side, and devices and conditions that exist."""
    for row in LIMITS.values():
        assert row.quantity in QUANTITIES
        assert row.lower is not None or row.upper is not None
        assert row.lower is None or row.below
        assert row.upper is None or row.above


def test_cautions_are_raised_by_conditions_that_exist() -> None:
    """And every condition raises one."""
    assert {row.raised_by for row in CAUTIONS.values()} == {*CIRCUMSTANTIAL, *MEASURED}
    words = [row.signal_word for row in CAUTIONS.values()]
    assert words == sorted(words, key=["danger", "warning", "caution", "notice"].index)


def test_derivations_need_what_exists() -> None:
    """A need is a reading, a quantity, or a leaf that the intake prepares."""
    prepared = re.compile(
        r"unit\.(refrigerant|nameplate\..*|rated\..*|blower_table|(coil|filter)_pressure_drop_rating"
        r"|(coil|filter)_is_external|compressor_map|performance_map|heating_map|furnace_efficiency"
        r"|performance_table\..*|design_load\..*)"
        r"|site\.pressure|refrigerant\.(model|single_phase)|usage\..*"
        r"|run\.(airflow_measured_at_supply|heat_test_at_cooling_speed|auxiliary_heat_off)"
    )
    for row in DERIVATIONS:
        assert row.quantity in QUANTITIES
        for need in row.needs:
            assert (
                need in QUANTITIES
                or need.removeprefix("run.readings.") in READINGS
                or prepared.fullmatch(need)
                or need.removeprefix("assumed.") in ASSUMPTIONS
            ), need
    assert set(ORDER) == set(QUANTITIES)
    assert all(quantity.kind in KINDS for quantity in QUANTITIES.values())


def test_error_dimensions_suffice() -> None:
    """A slot for each reading, each assumed instrument, each sensor of an instrument."""
    assert len(READINGS) + 1 <= READING_SLOTS
    assert len(READING_GROUPS) <= GROUP_SLOTS
    assert all(len(t.accuracies) <= SENSORS_PER_INSTRUMENT for t in INSTRUMENT_TYPES.values())
    for measured, type_ in ASSUMED_TYPE.items():
        assert measured in INSTRUMENT_TYPES[type_].accuracies
    assert {spec.measured_as for spec in READINGS.values()} <= set(ASSUMED_TYPE)


def test_top_level_holds_only_what_it_may() -> None:
    """README, DEVELOPERS, pyproject, four folders, dotfiles."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, check=True, capture_output=True, text=True).stdout.split()
    top = {name.split("/")[0] for name in listed if not name.startswith(".")}
    assert top <= {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "service",
        "schemas",
        "tests",
        "deploy",
    }
    assert not [name for name in listed if Path(name).name in ("utils.py", "helpers.py")]


def test_settings_are_documented() -> None:
    """Each environment variable is in the table, with its default and what it is for."""
    text = (ROOT / "deploy" / "README.md").read_text("utf-8")
    row = r"^\| `(SERVICE_[A-Z_]+)` \| (.*?) \| (.*?) \| (.*?) \|$"
    documented = re.findall(row, text, re.MULTILINE)
    expected = []
    for name, field in Settings.model_fields.items():
        usual = {None: "", "": "empty"}.get(field.default, f"`{field.default}`")
        bounds = {type(one).__name__: vars_of(one)[0] for one in field.metadata if vars_of(one)}
        words = {"Ge": "at least {:g}", "Gt": "over {:g}", "Le": "at most {:g}"}
        within = ", ".join(words[kind].format(bounds[kind]) for kind in words if kind in bounds)
        meaning = (field.description or "").rstrip(".")
        expected.append((f"SERVICE_{name.upper()}", usual.replace(".0`", "`"), within, meaning))
    assert [one for one in documented if one[0] != ENVIRONMENT_VARIABLE] == expected


def vars_of(bound: object) -> list[float]:
    """What a bound of a field says."""
    return [value for name in ("ge", "gt", "le") if (value := getattr(bound, name, None)) is not None]


def test_a_prepared_start_imports_no_slow_library() -> None:
    """CoolProp, SciPy and Pint are for the first start only."""
    code = (
        "import sys; from service.app import create_app; create_app();"
        "print([m for m in ('CoolProp', 'scipy', 'pint') if m in sys.modules])"
    )
    for _ in range(2):
        done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "[]"


def test_balances_are_between_what_is_derived() -> None:
    """Each way is a derived quantity; each mistake belongs to a reading that exists."""
    for family, members in FAMILIES.items():
        assert family in QUANTITIES
        assert len(members) > 1
        assert set(members) <= set(QUANTITIES)
        kinds = {QUANTITIES[name].kind for name in (family, *members)}
        assert len(kinds) == 1
    assert set(COMMON_MISTAKES) <= set(READINGS)


def test_assumptions_are_used_and_spread() -> None:
    """Each is a need of some derivation or check, has a spread, and room in the sample."""
    needs = {need for row in DERIVATIONS for need in row.needs}
    checks = "".join(inspect.getsource(importlib.import_module(name)) for name in modules("service.checks"))
    for name, row in ASSUMPTIONS.items():
        assert (
            f"assumed.{name}" in needs
            or name in {*LOW_STAGE_RATIO.values(), *PART_SPEED_RATIO.values()}
            or f'"{name}"' in checks
        )
        assert row.name == name
        assert row.spread > 0.0
    assert len(ASSUMPTIONS) <= ASSUMPTION_SLOTS


def test_spots_belong_to_readings_and_spread() -> None:
    """Each is used, has a share under all, and room in the sample; readings exist and differ."""
    assert {row.spot for row in PLACEMENTS} == set(SPOTS)
    assert {row.reading for row in PLACEMENTS} | {row.around for row in PLACEMENTS} <= set(READINGS)
    assert len({row.reading for row in PLACEMENTS}) == len(PLACEMENTS)
    assert all(0.0 < row.share < 1.0 for row in SPOTS.values())
    assert len(SPOTS) <= SPOT_SLOTS


def test_pages_have_the_colours_of_the_pictures() -> None:
    """Each colour of a style sheet is the palette's of that name, light then dark."""
    for path in sorted((ROOT / "service" / "routes" / "page").glob("*.css")):
        style = path.read_text("utf-8")
        named = re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", style)
        names = list(dict.fromkeys(name for name, _ in named))
        assert len(names) > 5
        for theme in (0, 1):
            ground = named[theme * len(names) : (theme + 1) * len(names)]
            assert ground == [(name, COLOURS[name.replace("-", "_")][theme]) for name in names]
        assert len(re.findall("#[0-9a-f]{6}", style)) == len(named) == 2 * len(names)
