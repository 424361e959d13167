"""Names that stand in the contract and in the service are the same names: one table of all such sets.

No outside source: the contract is the list, and each other place must agree.  A failure says which name is
where, and where it is not.
"""

from __future__ import annotations

import ast
import inspect
from collections.abc import Callable, Iterable
from typing import Any, get_args

import pytest

from schemas import assessments, comparisons, diagnoses, logs, pictures, plans, quantities, trends
from schemas.catalogues import FaultAnswer
from schemas.readings import READINGS
from service.assess import agreement, findings, usability
from service.compare.quantities import Judgement
from service.derive.derivations import DERIVATIONS, QUANTITIES
from service.faults import expectation, verdict
from service.reference import faults, notices
from service.reference.capacity_control import UNSETTLED
from service.reference.cautions import SignalWord
from service.reference.changes import JUDGED, ONE_FACT, OUTSIDE, WATCHED
from service.reference.faults_by_mode import IN_MODE
from service.reference.instruments import INSTRUMENT_TYPES
from service.reference.limits import LIMITS, Basis
from service.reference.metering_devices import EXPANSION_VALVES, FIXED_DEVICES
from service.reference.model_outputs import OUTPUTS
from service.reference.units import KINDS
from service.render.palette import Theme
from service.render.pictures import PICTURES
from service.telemetry.counts import COUNTED
from service.unit.layout import LAYOUTS
from tests.answers import annotation

Names = frozenset[str]


def of(annotation: Any) -> Names:  # noqa: ANN401
    """The words of a ``Literal``, through aliases and descriptions."""
    while (value := getattr(annotation, "__value__", None)) is not None:
        annotation = value
    words: set[str] = set()
    for one in get_args(annotation):
        if isinstance(one, str):
            words.add(one)
        elif get_args(one) or getattr(one, "__value__", None) is not None:
            words |= of(one)
    return frozenset(words)


def field(model: Any, name: str) -> Names:  # noqa: ANN401
    """The words that a field of the contract may have."""
    return of(annotation(model, name))


def said(function: Callable[..., Any]) -> Names:
    """The words that a function returns, by itself or as the first argument of what it returns."""
    tree = ast.parse(inspect.cleandoc("\n" + inspect.getsource(function)))
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Return) and node.value is not None:
            called = isinstance(node.value, ast.Call) and node.value.args
            value = node.value.args[0] if called else node.value  # type: ignore[attr-defined]
            parts = [value.body, value.orelse] if isinstance(value, ast.IfExp) else [value]
            for part in parts:
                if isinstance(part, ast.Constant) and isinstance(part.value, str):
                    found.add(part.value)
    return frozenset(found)


def counted(name: str, label: str) -> Names:
    return frozenset(COUNTED[name].labels[label])


#: Sets that are one set, by what they name; the contract's first.
EQUAL: dict[str, dict[str, Iterable[str]]] = {
    "faults": {
        "FaultName of schemas/diagnoses.py": of(diagnoses.FaultName),
        "FAULTS of service/reference/faults.py": faults.FAULTS,
    },
    "how a fault shows": {
        "FaultAnswer.shown of schemas/catalogues.py": field(FaultAnswer, "shown"),
        "Shown of service/reference/faults.py": of(faults.Shown),
        "the rows of FAULTS": {row.shown for row in faults.FAULTS.values()},
    },
    "stages of work": {
        "NextStep.stage of schemas/diagnoses.py": field(diagnoses.NextStep, "stage"),
        "Stage of service/reference/faults.py": of(faults.Stage),
        "STAGES of service/reference/faults.py": faults.STAGES,
    },
    "verdicts of a diagnosis": {
        "Diagnosis.verdict of schemas/diagnoses.py": field(diagnoses.Diagnosis, "verdict"),
        "DIAGNOSES of service/telemetry/counts.py": counted("diagnoses", "verdict"),
    },
    "what a healthy unit is known from": {
        "HealthyStateSource of schemas/diagnoses.py": of(diagnoses.HealthyStateSource),
        "Basis of service/faults/expectation.py": of(expectation.Basis),
        "EVIDENCE_POWER of service/reference/faults.py": faults.EVIDENCE_POWER,
    },
    "causes of a change": {
        "CauseName of schemas/comparisons.py": of(comparisons.CauseName),
        # A part outside the unit model; what it does shows in its own reading.
        "CAUSES of the unit models, and electrical": {
            *(n for one in LAYOUTS.values() for n in one.causes),
            "electrical",
        },
    },
    "causes that a plan may be made for": {
        "PlannedCauseName of schemas/plans.py": of(plans.PlannedCauseName),
        "CAUSES of the unit models that are one cause": {n for one in LAYOUTS.values() for n in one.causes}
        - {"nothing", "several"},
    },
    "verdicts of a comparison": {
        "Verdict of schemas/comparisons.py": of(comparisons.Verdict),
        "COMPARISONS of service/telemetry/counts.py": counted("comparisons", "verdict"),
    },
    "verdicts of a quantity": {
        "QuantityVerdict of schemas/comparisons.py": of(comparisons.QuantityVerdict),
        "Judgement.verdict of service/compare/quantities.py": said(Judgement.verdict),
    },
    "grades": {
        "Grade of schemas/assessments.py": of(assessments.Grade),
        "Judgement of service/assess/findings.py": of(findings.Judgement),
        "FINDINGS of service/telemetry/counts.py": counted("findings", "grade"),
    },
    "priorities": {
        "Priority of schemas/assessments.py": of(assessments.Priority),
        "Priority of service/assess/findings.py": of(findings.Priority),
    },
    "usability": {
        "UsabilityGrade of schemas/assessments.py": of(assessments.UsabilityGrade),
        "TrendRun.usability of schemas/trends.py": field(trends.TrendRun, "usability"),
        "grade_of of service/assess/usability.py": said(usability.grade_of),
        "RUNS of service/telemetry/counts.py": counted("runs_assessed", "usability"),
    },
    "weights of a notice": {
        "Notice.weight of schemas/assessments.py": field(assessments.Notice, "weight"),
        "Weight of service/reference/notices.py": of(notices.Weight),
    },
    "agreement": {
        "Reconciliation.verdict of schemas/assessments.py": field(assessments.Reconciliation, "verdict"),
        "Verdict of service/assess/agreement.py": of(agreement.Verdict),
    },
    "signal words": {
        "Caution.signal_word of schemas/assessments.py": field(assessments.Caution, "signal_word"),
        "SignalWord of service/reference/cautions.py": of(SignalWord),
    },
    "kinds of limit": {
        "LimitBasis of schemas/assessments.py": of(assessments.LimitBasis),
        "Basis of service/reference/limits.py": of(Basis),
    },
    "instruments": {
        "InstrumentTypeName of schemas/assessments.py": of(assessments.InstrumentTypeName),
        "INSTRUMENT_TYPES of service/reference/instruments.py": INSTRUMENT_TYPES,
    },
    "metering devices": {
        "MeteringDevice of schemas/assessments.py": of(assessments.MeteringDevice),
        "service/reference/metering_devices.py": {*EXPANSION_VALVES, *FIXED_DEVICES},
    },
    "capacity control": {
        "Unit.capacity_control of schemas/assessments.py": field(assessments.Unit, "capacity_control"),
        "service/reference/capacity_control.py": {"single_speed", *UNSETTLED},
    },
    "units of a log": {
        "LogUnit of schemas/logs.py": of(logs.LogUnit),
        "KINDS of service/reference/units.py, of the kinds of readings": {
            unit for spec in READINGS.values() for unit in KINDS[spec.kind].units
        },
    },
    "pictures": {
        "PlotName of schemas/pictures.py": of(pictures.PlotName),
        "PICTURES of service/render/pictures.py": PICTURES,
    },
    "themes": {
        "PictureTheme of schemas/pictures.py": of(pictures.PictureTheme),
        "Theme of service/render/palette.py": of(Theme),
    },
    **{
        f"changes of the unit model in {mode}": {"its parameters": one.changes, "its DRIFT": one.drift}
        for mode, one in LAYOUTS.items()
    },
    **{
        f"units of {kind}": {
            f"{alias} of schemas/quantities.py": of(getattr(quantities, alias)),
            f"KINDS of service/reference/units.py, {kind}": KINDS[kind].units,
        }
        for alias, kind in (
            ("TemperatureUnit", "temperature"),
            ("TemperatureDifferenceUnit", "temperature_difference"),
            ("StaticPressureUnit", "static_pressure"),
            ("PowerUnit", "power"),
            ("AirflowUnit", "airflow"),
            ("MassFlowUnit", "mass_flow"),
            ("HeatFlowUnit", "heat_flow"),
            ("AltitudeUnit", "altitude"),
            ("LengthUnit", "length"),
        )
    },
}

_DERIVED = ("service/derive/derivations", frozenset(QUANTITIES))
_SOURCES = (
    "service/derive/derivations",
    frozenset(QUANTITIES) | {row.quantity for row in DERIVATIONS},
)
_FAULTS = ("FAULTS of service/reference/faults.py", frozenset(faults.FAULTS))
_CHANGES = ("the changes of the unit models", frozenset(n for one in LAYOUTS.values() for n in one.changes))
_READINGS = ("schemas/readings.py", frozenset(READINGS))
_OUTPUTS = ("OUTPUTS of service/reference/model_outputs.py", frozenset(OUTPUTS))

#: Names that refer to a set: where they are, which they are, and the set that must hold them.
WITHIN: dict[str, tuple[Iterable[str], tuple[str, Names]]] = {
    **{
        f"pairs of IN_MODE of service/reference/faults_by_mode.py, {mode}": (
            {n for pair in of_mode.pairs for n in pair},
            ("its faults", frozenset(of_mode.faults)),
        )
        for mode, of_mode in IN_MODE.items()
    },
    **{
        f"levels of IN_MODE of service/reference/faults_by_mode.py, {mode}": (
            {
                name
                for row in of_mode.faults.values()
                for form in row.forms
                for level in form.levels
                for name in (*level.valve, *level.fixed, *form.spread)
            }
            | of_mode.beside.keys()
            | of_mode.drift.keys()
            | of_mode.fixed_drift.keys(),
            ("the changes of its mode", frozenset(LAYOUTS[mode].changes)),
        )
        for mode, of_mode in IN_MODE.items()
    },
    "faults of IN_MODE of service/reference/faults_by_mode.py": (
        {name for of_mode in IN_MODE.values() for name in of_mode.faults},
        _FAULTS,
    ),
    "LOOK_ALIKE of service/reference/faults.py": (
        {n for group in faults.LOOK_ALIKE for n in group},
        _FAULTS,
    ),
    "SYMPTOMS of service/reference/faults.py": (
        {n for row in faults.SYMPTOMS for n in row.under},
        _FAULTS,
    ),
    "SETTLED_FIRST of service/reference/faults.py": (
        {*faults.SETTLED_FIRST, *(n for _, waits in faults.SETTLED_FIRST.values() for n in waits)},
        _FAULTS,
    ),
    "EXPLAINS_ALL of service/reference/faults.py": (faults.EXPLAINS_ALL, _FAULTS),
    "TAKES_EFFICIENCY of service/reference/faults.py": (faults.TAKES_EFFICIENCY, _FAULTS),
    "levels of FAULTS of service/reference/faults.py": (
        {
            name
            for row in faults.FAULTS.values()
            for form in row.forms
            for level in form.levels
            for name in (*level.valve, *level.fixed, *form.spread)
        },
        _CHANGES,
    ),
    **{
        f"causes of the unit model in {mode}": (
            {n for row in one.causes.values() for n in (*row.changes, *row.valve, *row.fixed)},
            ("the changes of its mode", frozenset(one.changes)),
        )
        for mode, one in LAYOUTS.items()
    },
    **{
        f"ratings of the unit model in {mode}": (
            {n for conditions in one.ratings.values() for n in conditions},
            ("the conditions of its mode", frozenset(one.conditions)),
        )
        for mode, one in LAYOUTS.items()
    },
    "next_readings of service/reference/faults.py": (
        {row.name for mode in LAYOUTS for row in faults.next_readings(mode)},
        _READINGS,
    ),
    "readings of SYMPTOMS of service/reference/faults.py": (
        {row.reading.name for row in faults.SYMPTOMS},
        _READINGS,
    ),
    "as_read of service/reference/model_outputs.py": (
        {row.as_read for row in OUTPUTS.values() if row.as_read},
        _READINGS,
    ),
    "ways of service/reference/model_outputs.py": (
        {way for row in OUTPUTS.values() for way in row.ways},
        _SOURCES,
    ),
    "instead_of of service/reference/model_outputs.py": (
        {row.instead_of for row in OUTPUTS.values() if row.instead_of},
        _OUTPUTS,
    ),
    "conditions of service/reference/model_outputs.py": (
        {row.condition for row in OUTPUTS.values() if row.condition},
        ("the conditions of the unit models", frozenset(n for one in LAYOUTS.values() for n in one.conditions)),
    ),
    "GROSS of service/reference/faults.py": (
        faults.GROSS,
        ("kinds in schemas/readings.py", frozenset(row.kind for row in READINGS.values())),
    ),
    "UNLIKE_KELVINS of service/reference/faults.py": (faults.UNLIKE_KELVINS, _OUTPUTS),
    "verdict of service/faults/verdict.py": (
        said(verdict.verdict),
        ("Diagnosis.verdict of schemas/diagnoses.py", field(diagnoses.Diagnosis, "verdict")),
    ),
    "JUDGED of service/reference/changes.py": (JUDGED, _DERIVED),
    "WATCHED of service/reference/changes.py": (WATCHED, _DERIVED),
    "OUTSIDE of service/reference/changes.py": (OUTSIDE, _DERIVED),
    "ONE_FACT of service/reference/changes.py": (
        ONE_FACT,
        ("JUDGED of service/reference/changes.py", frozenset(JUDGED)),
    ),
    "limits of JUDGED of service/reference/changes.py": (
        {name for row in JUDGED.values() for name in row.limits},
        ("service/reference/limits.py", frozenset(LIMITS)),
    ),
    "limits of FAULTS of service/reference/faults.py": (
        {name for row in faults.FAULTS.values() for name in row.limits},
        ("service/reference/limits.py", frozenset(LIMITS)),
    ),
}


def culprits(places: dict[str, Iterable[str]]) -> list[str]:
    """Each name that one place has and another has not."""
    sets = {place: frozenset(names) for place, names in places.items()}
    return [
        f"{name!r} is in {place} and not in {other}"
        for place, names in sets.items()
        for other, others in sets.items()
        for name in sorted(names - others)
    ]


@pytest.mark.parametrize("what", EQUAL)
def test_a_set_of_names_is_the_same_everywhere(what: str) -> None:
    """Removed in one place, a name is missed in the other, by name."""
    assert all(EQUAL[what].values()), f"a set of {what} is empty"
    found = culprits(EQUAL[what])
    assert not found, "; ".join(found)


@pytest.mark.parametrize("place", WITHIN)
def test_names_that_refer_to_a_set_are_in_it(place: str) -> None:
    """A name that nothing defines is named, with the place that uses it."""
    names, (where, known) = WITHIN[place]
    assert names, f"{place} is empty"
    lost = sorted(set(names) - known)
    assert not lost, f"{place} names {', '.join(map(repr, lost))}, which {where} does not have"


def test_a_missing_name_is_the_culprit() -> None:
    """The check itself can fail, and says what is missing where."""
    assert culprits({"here": {"a", "b"}, "there": {"a"}}) == ["'b' is in here and not in there"]
    for one in LAYOUTS.values():
        assert len(one.names) == len(set(one.names))
