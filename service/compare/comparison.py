"""The comparison of two runs, as one readable page.

two runs -> each examined on its own -> far apart? -> one likelihood -> test -> verdicts -> worth -> answer
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Set
from dataclasses import replace

from schemas.assessments import AssessmentRequest, Options, Run, UnitRequest, Usage
from schemas.comparisons import (
    Assessments,
    Comparability,
    Comparison,
    ComparisonRequest,
    Condition,
    Conditions,
    InstrumentInBoth,
)
from service.assess import usability
from service.assess.cautions import of_runs
from service.assess.examination import Assessed, examined_together
from service.assess.notices import case_of
from service.assess.pipeline import report
from service.compare import quantities, system
from service.compare.capacity import stage_changed, unit_of, unsettled_between
from service.compare.fusion import Fusion, fuse
from service.compare.quantities import AsRead, as_read, difference_kind, judge, rounded
from service.compare.tests_of_change import deviation_if_alike, limits
from service.compare.worth import worth
from service.derive.examined import Derived, Examined
from service.intake.paths import PHASES, READING
from service.intake.refusals import Refusal, RefusedError
from service.intake.visit import Visit
from service.reference.capacity_control import STAGE_IN_DOUBT, Unsettled
from service.reference.changes import HELD_BY_THE_MODEL, LARGEST_DIFFERENCE, NO_CONDITION, PLAIN_DIFFERENCE
from service.reference.conditions import FROST_WEATHER
from service.reference.sources import source
from service.reference.units import conversion, system_unit
from service.uncertainty.asking import Asking, done
from service.unit.evidence import Evidence, evidence
from service.unit.layout import LAYOUTS, RUNS, Health
from service.unit.model import UnitModel
from service.unit.rating import model_of_unit, size_of_unit
from service.words import comparison as words
from service.words.comparison import Obstacle

#: Groups of limits: where one is not usable, the unit model is not applied.
_NEEDED = ("performance", "refrigerant")


def compare(request: ComparisonRequest) -> Comparison:
    """Two runs in, what changed out.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the request holds something impossible.
    """
    return done(comparing(request))


def comparing(request: ComparisonRequest) -> Asking[Comparison]:
    """The same as work that asks, so that many can be done side by side."""
    runs = {"before": request.runs.before, "after": request.runs.after}
    before, after = yield from examining(request, runs)
    return (yield from _compared(request, before, after))


def compared(request: ComparisonRequest, before: Assessed, after: Assessed) -> Comparison:
    """What changed between two runs that have been examined."""
    return done(_compared(request, before, after))


def _compared(request: ComparisonRequest, before: Assessed, after: Assessed) -> Asking[Comparison]:
    alike, others = other_instruments(before.visit, after.visit)
    read = as_read(before, after, alike)
    apart, comparable = conditions(before, after)
    withheld = _withheld(before, after, comparable)
    unsettled = unsettled_between(before, after)
    in_step = stage_changed(before.unit, read)
    if unsettled is None and in_step:
        unsettled, in_step = STAGE_IN_DOUBT, False
    unit = unit_of(before, unsettled)
    parts = withheld or prepared(before, evidence(before), evidence(after), unsettled)
    obstacle = parts if isinstance(parts, Obstacle) else None
    fusion = None if isinstance(parts, Obstacle) else (yield from fuse(*parts))
    if fusion is None and obstacle is None:
        obstacle = Obstacle("no_state_fits")
    smallest = request.smallest_change_that_matters
    efficiency, capacity = LAYOUTS[before.unit.mode].of_the_system
    matters = {
        efficiency: (smallest.efficiency_percent or 5.0) / 100.0,
        capacity: (smallest.capacity_percent or 5.0) / 100.0,
    }
    found = system.find(fusion, read, unit)
    judged = system.Judged(
        found,
        fusion,
        obstacle,
        withheld is not None,
        in_step,
        _frost_possible(before, after),
        {name: side.visit.minutes_running for name, side in zip(RUNS, (before, after), strict=True)},
    )
    judgements = judge(read, before, unit, fusion, matters, found.of_the_system)
    work = frozenset((*request.service.work, *request.runs.after.work))
    given: dict[Health, Set[str]] = {
        "before": before.visit.readings.keys(),
        "after": after.visit.readings.keys(),
    }
    shown = quantities.changes_answer(
        read,
        judgements,
        before,
        changed=found.changed and withheld is None,
        unit_changed=found.unit_changed and withheld is None,
        work=work,
        obstacle=obstacle,
    )
    reports: Assessments = {"before": report(before), "after": report(after)}
    return {
        "units": request.units,
        "system": system.system_answer(judged, before, given, matters, shown),
        "worth": worth(before, found.rated_efficiency, request.service.price),
        "cautions": of_runs((reports["before"]["cautions"], reports["after"]["cautions"])),
        "conditions": apart,
        "changes": shown,
        "instruments": _instruments(others, alike, fusion, read),
        "assessments": reports,
        "provenance": reports["before"]["provenance"] | {"method": words.METHOD},
    }


def visit_request(
    about: UnitRequest, run: Run, usage: Usage | None = None, options: Options | None = None
) -> AssessmentRequest:
    """The request that would assess one run alone."""
    return AssessmentRequest.model_construct(
        units=about.units,
        unit=about.unit,
        site=about.site,
        kit=about.kit,
        labels=about.labels,
        run=run,
        usage=usage or Usage(),
        options=options or Options(),
    )


def examined_runs(request: ComparisonRequest, runs: Mapping[str, Run]) -> tuple[Assessed, Assessed]:
    """Both runs examined; refusals name the run they are about."""
    return done(examining(request, runs))


def examining(request: ComparisonRequest, runs: Mapping[str, Run]) -> Asking[tuple[Assessed, Assessed]]:
    """The same as work that asks."""
    # What was done between the runs counts for the cautions of both.
    alone = [
        visit_request(
            request,
            run.model_copy(update={"work": list(dict.fromkeys((*run.work, *request.service.work)))}),
            request.usage,
            request.options,
        )
        for run in runs.values()
    ]
    refusals: list[Refusal] = []
    found = []
    for name, one in zip(runs, (yield from examined_together(alone)), strict=True):
        if isinstance(one, RefusedError):
            refusals += [in_run(refusal, f"/runs/{name}") for refusal in one.refusals]
        else:
            found.append(one)
    for name, side in zip(runs, found, strict=False):
        if len(found) == len(runs) and not side.visit.readings:
            refusals.append(Refusal(f"/runs/{name}/readings", {}, *words.NO_READING))
    first, second = runs.values()
    if (
        first.taken_at is not None
        and second.taken_at is not None
        and (first.taken_at.tzinfo is None) == (second.taken_at.tzinfo is None)
        and second.taken_at < first.taken_at
    ):
        refusals.append(
            Refusal(
                "/runs/after/taken_at",
                second.taken_at.isoformat(),
                *words.earlier(first.taken_at.isoformat()),
            )
        )
    if refusals:
        unique = {(r.pointer, r.detail): r for r in refusals}
        raise RefusedError(list(unique.values()))
    return found[0], found[1]


def in_run(refusal: Refusal, where: str) -> Refusal:
    """A refusal about a run, with its pointer into the comparison."""
    if not refusal.pointer.startswith("/run/"):
        return refusal
    return replace(refusal, pointer=where + refusal.pointer.removeprefix("/run"))


def prepared(
    before: Examined, first: Evidence, second: Evidence, unsettled: Unsettled | None = None
) -> tuple[UnitModel, Evidence, Evidence, bool] | Obstacle:
    """The unit model, the evidence of both runs and whether the capacity is rated; or why the model does not
    apply, or has no reading to go by.  A reading that one run lacks only widens the bands of the others."""
    leaves = before.visit.leaves
    if PHASES not in leaves:
        return Obstacle("no_refrigerant")
    if unsettled is not None:
        return Obstacle("capacity_not_known", unsettled=unsettled)
    if not first.tells_of_the_unit:
        return Obstacle("nothing_of_the_unit", "before")
    if not second.tells_of_the_unit:
        return Obstacle("nothing_of_the_unit", "after")
    rated = size_of_unit(leaves, before.unit)
    return model_of_unit(leaves, before.unit, rated), first, second, rated is not None


def conditions(before: Examined, after: Examined) -> tuple[Conditions, Comparability]:
    """How far apart the runs were, and whether they compare."""
    rows: list[Condition] = []
    worst: Comparability = "yes"
    visit_system = before.visit.system
    for name, plain in PLAIN_DIFFERENCE.items():
        if name in NO_CONDITION.get(before.unit.mode, ()):
            continue
        values = [_condition(side, name) for side in (before, after)]
        unit = conversion("temperature", system_unit("temperature", visit_system))
        apart = difference_kind("temperature")
        step = conversion(apart, system_unit(apart, visit_system)).scale
        first, second = values
        difference = None if first is None or second is None else second - first
        if difference is not None and abs(difference) > LARGEST_DIFFERENCE[name]:
            worst = "no"
        elif difference is not None and abs(difference) > plain and worst == "yes":
            worst = "with_reservations"
        rows.append(
            {
                "name": name,
                "before": None if first is None else rounded(unit.from_si(first)),
                "after": None if second is None else rounded(unit.from_si(second)),
                "unit": system_unit("temperature", visit_system),
                "difference": None if difference is None else rounded(difference / step),
                "difference_unit": system_unit(apart, visit_system),
                "plain": difference is not None and abs(difference) <= plain,
            }
        )
    unknown = [row["name"] for row in rows if row["difference"] is None]
    if unknown and worst == "yes":
        worst = "with_reservations"
    return {
        "comparable": worst,
        "differences": rows,
        "sentence": words.conditions_sentence(
            worst,
            [
                words.Apart(row["name"], row["difference"], row["difference_unit"])
                for row in rows
                if row["difference"] is not None and not row["plain"]
            ],
            unknown,
            _swapped(before, after),
        ),
        "source": source("gap_of_conditions"),
    }, worst


def _frost_possible(*runs: Examined) -> bool:
    """Whether frost on the outdoor coil may tell runs apart: in heating, in its weather, and not ruled out in all."""
    outdoor = [run.visit.nominal("outdoor_air_dry_bulb") for run in runs]
    return (
        runs[0].unit.mode == "heating"
        and any(air is not None and air < FROST_WEATHER for air in outdoor)
        and any(run.request.run.frost_on_outdoor_coil is not False for run in runs)
    )


def _condition(side: Examined, name: str) -> float | None:
    if {name, READING + name} & side.doubted:
        return None
    reading = side.visit.readings.get(name)
    if reading is not None:
        return reading
    row = side.kept.get(name)
    return None if row is None else float(side.summary.value[row])


def _swapped(before: Examined, after: Examined) -> list[str]:
    """Runs in which the air probes seem to be swapped."""
    probes = {READING + f"{air}_air_dry_bulb" for air in ("return", "supply")}
    return [name for name, side in (("before", before), ("after", after)) if probes <= side.doubted]


def _withheld(before: Examined, after: Examined, comparable: str) -> Obstacle | None:
    # First what is wrong with the readings: it may be why the runs differ.
    notices = unusable(before), unusable(after)
    if notices[0] is not None:
        return Obstacle("readings_unusable", "before", notice=notices[0])
    if notices[1] is not None:
        return Obstacle("readings_unusable", "after", notice=notices[1])
    return Obstacle("weather_too_different") if comparable == "no" else None


def unusable(side: Derived, explained: Container[str] = ()) -> str | None:
    """Why a run's readings cannot be compared with the unit model; None where they can.

    ``explained`` are codes of notices that whoever asks has an explanation for.
    """
    notices = usability.check(case_of(side))
    return next(
        (
            notice.sentence
            for notice in notices
            if notice.code not in explained
            and notice.code not in HELD_BY_THE_MODEL
            and usability.stopping([notice]).keys() & set(_NEEDED)
        ),
        None,
    )


def other_instruments(before: Visit, after: Visit) -> tuple[dict[int, int], list[tuple[str, str, str]]]:
    """Readings of both runs that another instrument made in the second.

    Returns the sensors of the second run with those of the first that they stand in for, and for each
    reading its two instruments.
    """
    alike: dict[int, int] = {}
    rows = []
    for name, used in before.instruments.items():
        other = after.instruments.get(name)
        if other is None:
            continue
        assumed = used.name.startswith("assumed:") or other.name.startswith("assumed:")
        if used.name == other.name and not assumed:
            continue
        rows.append((name, used.name, other.name))
        first, second = (
            [
                side.variables[place].key
                for place in side.leaf_variables.get(READING + name, ())
                if side.variables[place].key is not None
            ]
            for side in (before, after)
        )
        for mine, theirs in zip(first, second, strict=False):
            if mine is not None and theirs is not None and mine != theirs:
                alike[theirs] = mine
    return alike, rows


def _instruments(
    others: list[tuple[str, str, str]],
    alike: Mapping[int, int],
    fusion: Fusion | None,
    read: AsRead,
) -> list[InstrumentInBoth]:
    half_bands = None
    if fusion is not None and alike:
        now, then = limits(fusion)[1], deviation_if_alike(fusion, alike)
        half_bands = 196.0 * now, 196.0 * min(then, now)
    answer: list[InstrumentInBoth] = []
    for name, first, second in others:
        times = None
        if name in read.names:
            place = read.names.index(name)
            times = read.deviations[place] / max(read.deviations_if_alike[place], 1e-12)
        text = words.other_instrument_sentence(
            assumed=first.startswith("assumed:") or second.startswith("assumed:"),
            half_bands=half_bands,
            times_uncertainty=times,
        )
        answer.append({"reading": name, "before": first, "after": second, "sentence": text})
    return answer
