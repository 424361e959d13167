"""What intended readings could show: the smallest change, what limits it, what would help.

The unit model gives the expected readings; the instruments give their errors; the rest is the algebra of the
comparison, without any reading.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import expm1, log1p, sqrt
from statistics import NormalDist
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from schemas.assessments import Options, Run
from schemas.plans import Findable, Improvement, Plan, PlannedCauseName, PlanRequest, QuantityPlan, WayName
from schemas.readings import READINGS
from service.assess.examination import derive_visit, with_statistics
from service.assess.pipeline import model_of
from service.compare.comparison import visit_request
from service.compare.fusion import Fusion, UsualUnit, assembled
from service.compare.quantities import difference_kind, judgeable, percent_of, rounded, share
from service.compare.tests_of_change import (
    Showing,
    absolute,
    detectable_by_any_cause,
    detectable_by_itself,
    informed,
    limits_of_detection,
    showing,
)
from service.derive.derivations import QUANTITIES
from service.derive.examined import Derived, Examined
from service.intake.paths import PHASES, READING
from service.intake.refusals import Refusal, RefusedError, pointer
from service.reference.changes import DETECTABLE, INFORMED, JUDGED
from service.reference.conditions import RUNNING_MINUTES
from service.reference.model_outputs import OUTDOOR_DEPRESSION, SUPPLY_DEPRESSION, USUAL_VOLTAGE, outputs_of
from service.reference.performance_maps import (
    RATING_DRY_BULB,
    RATING_WET_BULB,
)
from service.reference.settling import SETTLING
from service.reference.units import conversion, system_unit
from service.reference.versions import SERVICE_VERSION
from service.unit.evidence import Evidence, evidence, joint, owners
from service.unit.layout import LAYOUTS, RUNS, Health
from service.unit.rating import model_of_unit, size_of_unit
from service.words import plan as words
from service.words.plan import Way

FloatArray = NDArray[np.float64]

_REPEATS = (2, 4, 16)
#: Minutes of running where the plan states none: long enough for all to settle.
_MINUTES = 20.0
#: How many ways to improve a plan are taken together.
_TOGETHER = 4


def _addable(mode: str) -> tuple[str, ...]:
    """Readings that could be added: those that the model predicts, and those that only make others of use."""
    helping = ("supply_air_wet_bulb", "line_voltage") if mode == "cooling" else ("line_voltage",)
    return (*(row.reading.name for row in outputs_of(mode) if row.reading is not None), *helping)


@dataclass(frozen=True, slots=True)
class _Weather:
    """Expected conditions of both runs, by parameter name [K]."""

    conditions: Mapping[str, float]

    def alike(self) -> _Weather:
        """Both runs in the weather of the first."""
        return _Weather({name: self.conditions[name.replace("_after", "_before")] for name in self.conditions})


def plan(request: PlanRequest) -> Plan:
    """What the intended readings could show.

    Raises
    ------
    service.intake.refusals.RefusedError
        If a reading, an instrument or a condition is impossible.
    """
    names = _known(request)
    weather = _weather(request)
    repeats = {name: row.repeats for name, row in request.readings.items()}
    instruments = {name: row.instrument for name, row in request.readings.items()}
    base = with_statistics(_derived(request, [], {}, {}, {}))
    intended = _Intended(request, tuple(names), instruments, repeats, weather, base, _usual_unit(base, weather))
    before, after = (with_statistics(side) for side in intended.runs())
    worth = (request.change_worth_finding.efficiency_percent or 5.0) / 100.0
    cause = request.change_worth_finding.cause
    fusion = intended.fusion_of(before, after)
    causes = LAYOUTS[base.unit.mode].causes
    known = fusion is not None and informed(fusion, fusion.model.layout.efficiency) >= INFORMED
    shown = showing(fusion) if known and fusion is not None else {}
    sizes = {name: one.efficiency for name, one in shown.items()}
    smallest = _smallest(sizes, cause)
    better, halving = (
        _improvements(intended, fusion, smallest, cause)
        if fusion is not None and smallest is not None
        else (_unlocking(intended, cause), "")
    )
    hidden = [causes[name].text for name, one in shown.items() if not one.seen and cause in (None, name)]
    can_be_found = None if smallest is None else expm1(smallest) <= worth
    return {
        "units": request.units,
        "can_be_found": can_be_found,
        "sentence": words.plan_sentence(
            None if smallest is None else percent_of(smallest),
            100.0 * worth,
            None if cause is None else causes[cause].text,
            hidden,
            base.unit.unsettled,
            can_be_found=bool(can_be_found),
        ),
        "change_worth_finding_percent": rounded(100.0 * worth),
        "smallest_detectable_percent": (None if smallest is None or hidden else percent_of(smallest)),
        "by_cause": [
            _by_cause(name, one, worth, base)
            for name, one in sorted(shown.items(), key=lambda item: -item[1].efficiency)
        ],
        "limited_by": _limited_by(fusion, sizes, cause),
        "improvements": better,
        "to_halve_it": halving or (words.FIRST_IMPROVE if better else words.NOTHING_TO_HALVE),
        "quantities": _quantities(before, after, fusion),
        "provenance": {
            "service": SERVICE_VERSION,
            "refrigerant_model": model_of(before.visit.refrigerant),
            "draws": before.visit.sample.draws,
            "method": words.METHOD,
        },
    }


def _known(request: PlanRequest) -> list[str]:
    refusals = []
    for name in request.readings:
        if name not in READINGS:
            near = difflib.get_close_matches(name, READINGS, 3)
            refusals.append(Refusal(pointer("readings", name), name, *words.not_a_reading(near)))
    cause = request.change_worth_finding.cause
    possible = [name for name in LAYOUTS[request.unit.mode].causes if name not in ("nothing", "several")]
    if cause is not None and cause not in possible:
        where = pointer("change_worth_finding", "cause")
        refusals.append(Refusal(where, cause, *words.other_cause(request.unit.mode, possible)))
    if refusals:
        raise RefusedError(refusals)
    return list(request.readings)


#: Outdoor air [K] that a plan may be made for, by mode: 55 to 120 °F, and -20 to 70 °F.
_OUTDOORS = {"cooling": (286.0, 322.0), "heating": (244.0, 294.5)}


def _weather(request: PlanRequest) -> _Weather:
    given, mode = request.conditions, request.unit.mode
    usual = LAYOUTS[mode].ratings["rating"]
    outdoor = _kelvin(request, given.outdoor_air_dry_bulb, "temperature", usual["outdoor"])
    apart = _kelvin(request, given.outdoor_difference, "temperature_difference", 0.0)
    wetter = _kelvin(request, given.wet_bulb_difference, "temperature_difference", 0.0)
    coldest, hottest = _OUTDOORS[mode]
    for name, value, low, high in (
        ("outdoor_air_dry_bulb", outdoor, coldest, hottest),
        ("outdoor_difference", outdoor + apart, coldest, hottest),
        ("wet_bulb_difference", RATING_WET_BULB + wetter, 283.0, RATING_DRY_BULB),
    ):
        if not low <= value <= high:
            symbol = system_unit("temperature", request.units)
            unit = conversion("temperature", symbol)
            raise RefusedError(
                [
                    Refusal(
                        pointer("conditions", name),
                        getattr(getattr(given, name), "value", getattr(given, name)),
                        *words.other_weather(unit.from_si(value), unit.from_si(low), unit.from_si(high), symbol, mode),
                    )
                ]
            )
    moved = {"outdoor": (outdoor, apart)}
    if mode == "cooling":
        moved["wet_bulb"] = (RATING_WET_BULB, wetter)
    first = {name: moved.get(name, (value, 0.0)) for name, value in usual.items()}
    return _Weather(
        {f"{name}_before": value for name, (value, _) in first.items()}
        | {f"{name}_after": value + step for name, (value, step) in first.items()}
    )


def _kelvin(request: PlanRequest, given: Any, kind: str, default: float) -> float:  # noqa: ANN401
    if given is None:
        return default
    symbol = getattr(given, "unit", None) or system_unit(kind, request.units)
    return conversion(kind, symbol).to_si(float(getattr(given, "value", given)))


def _usual_unit(base: Derived, weather: _Weather) -> UsualUnit | None:
    """The unit as it is expected in that weather; None where no model holds for it."""
    leaves = base.visit.leaves
    if PHASES not in leaves or not base.unit.capacity_is_known:
        return None
    rated = size_of_unit(leaves, base.unit)
    return UsualUnit.of(model_of_unit(leaves, base.unit, rated), weather.conditions, rated=rated is not None)


def _derived(
    request: PlanRequest,
    names: Sequence[str],
    instruments: Mapping[str, str | None],
    repeats: Mapping[str, int],
    values: Mapping[str, float],
) -> Derived:
    """One run with the readings that are expected."""
    readings: dict[str, Any] = {}
    for name in names:
        given: dict[str, Any] = {"value": values.get(name, READINGS[name].example)}
        unit = "imperial" if name not in values else "si"
        given["unit"] = _symbol(name, unit)
        if READINGS[name].kind == "fraction" and name in values:
            given["value"] *= 100.0  # the contract takes shares in percent only
        if READINGS[name].kind == "pressure" and name in values:
            given["reference"] = "absolute"
        if instruments.get(name) is not None:
            given["instrument"] = instruments[name]
        group, _, part = name.partition(".")
        if part:
            readings.setdefault(group, {})[part] = given
        else:
            readings[name] = given
    running = request.model_dump(include={"stage", "speed_percent", "test_mode"})
    minutes = _MINUTES if request.minutes_running is None else request.minutes_running
    run = Run.model_validate({"minutes_running": minutes, "readings": readings} | running)
    whole = visit_request(request, run, options=Options(draws=256))
    try:
        return derive_visit(whole, compared=True, planned=repeats)
    except RefusedError as error:
        raise RefusedError(
            [
                replace(refusal, pointer=refusal.pointer.replace("/run/readings", "/readings").replace("/run/", "/"))
                for refusal in error.refusals
            ]
        ) from error


def _symbol(name: str, system: str) -> str:
    """Unit of an expected reading: SI's from the model, imperial's from the example."""
    kind = READINGS[name].kind
    if system == "si":
        return {
            "temperature": "K",
            "pressure": "Pa",
            "airflow": "m3/s",
            "power": "W",
            "voltage": "V",
            "current": "A",
            "fraction": "%",
        }[kind]
    return system_unit(kind, "imperial")


def _expected(unit: UsualUnit, run: Health, base: Derived) -> dict[str, float]:
    """Readings [SI, absolute] that a usual unit would show."""
    value = {name: float(row[0]) for name, row in unit.outputs[run, run].items()}
    volts = float(base.visit.leaves.get("unit.nameplate.voltage", USUAL_VOLTAGE))
    phases = 3.0**0.5 if base.visit.phases == 3 else 1.0
    suction, liquid = (
        value["suction_saturation_temperature"],
        value["liquid_saturation_temperature"],
    )
    return {
        "suction_pressure": value["suction_pressure_absolute"],
        "suction_saturation_temperature": suction,
        "liquid_pressure": value["high_side_pressure_absolute"],
        "liquid_saturation_temperature": liquid,
        "suction_line_temperature": suction + value["superheat"],
        "liquid_line_temperature": liquid - value["subcooling"],
        "discharge_line_temperature": value["discharge_temperature"],
        "outdoor_air_dry_bulb": value["outdoor_air_dry_bulb"],
        "return_air_dry_bulb": value["return_air_dry_bulb"],
        "airflow": value["airflow"],
        "outdoor_unit_power": value["outdoor_unit_power"],
        "indoor_unit_power": value["indoor_unit_power"],
        "line_voltage": volts,
        "compressor_common_current": value["compressor_apparent_power"] / volts / phases,
        **(_expected_cooling(value) if unit.model.mode == "cooling" else _expected_heating(value)),
    }


def _expected_cooling(value: Mapping[str, float]) -> dict[str, float]:
    supply = value["return_air_dry_bulb"] - value["temperature_split"]
    return {
        "return_air_wet_bulb": value["return_air_wet_bulb"],
        "supply_air_dry_bulb": supply,
        "supply_air_wet_bulb": supply - SUPPLY_DEPRESSION,
    }


def _expected_heating(value: Mapping[str, float]) -> dict[str, float]:
    suction_line = value["suction_saturation_temperature"] + value["superheat"]
    return {
        "supply_air_dry_bulb": value["return_air_dry_bulb"] + value["heating_air_temperature_rise"],
        "outdoor_air_relative_humidity": value["outdoor_air_relative_humidity"],
        "outdoor_air_wet_bulb": value["outdoor_air_dry_bulb"] - OUTDOOR_DEPRESSION,
        "vapour_line_temperature": value["vapour_line_temperature"],
        "evaporator_outlet_temperature": suction_line - value["reversing_valve_temperature_rise"],
        "outdoor_coil_leaving_air_dry_bulb": value["outdoor_air_dry_bulb"] - value["outdoor_coil_air_temperature_drop"],
    }


def _by_cause(name: str, one: Showing, worth: float, base: Examined) -> Findable:
    """How large a change by one cause must be to show."""
    layout, system = LAYOUTS[base.unit.mode], base.visit.system
    step = dict(zip(layout.changes, one.change.tolist(), strict=True))
    named = [
        (row, step[row])
        for row in _NAMED
        if row in step and abs(step[row]) > (_WORTH_NAMING if row in words.IN_KELVIN else _WORTH_NAMING_RELATIVE)
    ]
    return {
        "cause": cast(PlannedCauseName, name),
        "text": layout.causes[name].text,
        "smallest_detectable_percent": percent_of(one.efficiency) if one.seen else None,
        "probability_of_finding": share(_power(log1p(worth), one.efficiency)),
        "sentence": words.cause_sentence(named[:2], percent_of(one.efficiency), system, seen=one.seen),
    }


#: Changes that are named, the main one of a cause first.
_NAMED = (
    "condenser_change",
    "outdoor_coil_change",
    "outdoor_airflow_change",
    "airflow_change",
    "evaporator_change",
    "indoor_coil_change",
    "flow_change",
    "efficiency_change",
    "leak_change",
    "superheat_change",
    "subcooling_change",
)
#: Steps [K], and of logarithms, that are worth naming next to the main one.
_WORTH_NAMING = 0.5
_WORTH_NAMING_RELATIVE = 0.005


def _smallest(sizes: Mapping[str, float], cause: str | None) -> float | None:
    if not sizes:
        return None
    return sizes[cause] if cause is not None else max(sizes.values())


def _power(change: float, smallest: float) -> float:
    """Probability that a two-sided test at 95 % shows a change."""
    normal = NormalDist()
    ratio = DETECTABLE * change / smallest
    return normal.cdf(ratio - 1.959964) + normal.cdf(-ratio - 1.959964)


def _limited_by(fusion: Fusion | None, sizes: Mapping[str, float], cause: str | None) -> dict[str, float]:
    if fusion is None or not sizes:
        return {}
    return limits_of_detection(fusion, cause or max(sizes, key=lambda name: sizes[name]))


@dataclass(frozen=True, slots=True)
class _Intended:
    """The readings intended, and what may be improved about them."""

    request: PlanRequest
    names: tuple[str, ...]
    instruments: Mapping[str, str | None]
    repeats: Mapping[str, int]
    weather: _Weather
    base: Examined
    unit: UsualUnit | None
    halved: tuple[str, ...] = ()

    def with_(self, way: WayName, what: str) -> _Intended:
        """The same, improved in one way."""
        if way == "repeats":
            count = int(what)
            again = {name: max(count, self.repeats.get(name, 1)) for name in self.names}
            return replace(self, repeats=again)
        if way == "better_instrument":
            return replace(self, halved=(*self.halved, what))
        if way == "longer_run":
            return replace(self, request=self.request.model_copy(update={"minutes_running": float(what)}))
        if way == "like_weather":
            alike = self.weather.alike()
            return replace(self, weather=alike, unit=_usual_unit(self.base, alike))
        return replace(self, names=(*self.names, what))

    def runs(self) -> list[Derived]:
        """Both runs with the readings that are expected."""
        return [
            _derived(
                self.request,
                self.names,
                self.instruments,
                self.repeats,
                {} if self.unit is None else _expected(self.unit, run, self.base),
            )
            for run in RUNS
        ]

    def fusion(self) -> Fusion | None:
        """The model of the readings as they will be."""
        return self.fusion_of(*self.runs()) if self.unit is not None else None

    def fusion_of(self, before: Derived, after: Derived) -> Fusion | None:
        """The model of both runs; None where no reading bears on it."""
        parts = evidence(before), evidence(after)
        if self.unit is None or not all(part.features for part in parts):
            return None
        found = assembled(self.unit, parts)
        for owner in self.halved:
            found = _halved(found, owner)
        return found


def _size(fusion: Fusion | None, cause: str | None) -> float | None:
    """The smallest change that would show; None where none would."""
    if fusion is None:
        return None
    return _smallest({name: one.efficiency for name, one in showing(fusion).items()}, cause)


def _worth_doing(intended: _Intended, fusion: Fusion, smallest: float, cause: str | None) -> list[tuple[float, Way]]:
    """Ways to see smaller changes with the smallest that each would show, best first."""
    most = max(intended.repeats.values())
    ways = [Way("repeats", str(count)) for count in _REPEATS if count > most]
    if intended.weather.alike() != intended.weather:
        ways.append(Way("like_weather", ""))
    planned = intended.request.minutes_running
    if planned is not None and planned < RUNNING_MINUTES:
        ways.append(Way("longer_run", f"{RUNNING_MINUTES:.0f}"))
    ways += [Way("added_reading", name) for name in _addable(intended.base.unit.mode) if name not in intended.names]
    rows = [(_size(intended.with_(*way).fusion(), cause), way) for way in ways]
    for owner in dict.fromkeys(owners([part.variables for part in fusion.evidence])):
        if not owner.startswith(("assumption", "placement", "site", "refrigerant", SETTLING)):
            rows.append((_size(_halved(fusion, owner), cause), Way("better_instrument", owner)))
    return sorted((found, way) for found, way in rows if found is not None and found < 0.97 * smallest)


def _together(
    intended: _Intended, worth: list[tuple[float, Way]], smallest: float, cause: str | None
) -> tuple[list[Way], float]:
    """One way after another, best first, until the smallest is halved; and what is reached."""
    taken: list[Way] = []
    reached = smallest
    for found, way in worth:
        repeated = way.way == "repeats" and any(one.way == "repeats" for one in taken)
        if len(taken) == _TOGETHER or repeated:
            continue
        taken.append(way)
        improved = intended
        for step in taken:
            improved = improved.with_(*step)
        reached = _size(improved.fusion(), cause) or found
        if reached <= 0.5 * smallest:
            break
    return taken, reached


def _improvements(
    intended: _Intended, fusion: Fusion, smallest: float, cause: str | None
) -> tuple[list[Improvement], str]:
    """Ways to see smaller changes, best first; and in a sentence what halves the smallest."""
    worth = _worth_doing(intended, fusion, smallest, cause)
    answer: list[Improvement] = [
        {
            "way": way.way,
            "what": words.way_words(way),
            "smallest_detectable_percent": percent_of(found),
            "ratio": rounded(found / smallest),
        }
        for found, way in worth
    ]
    enough = [way for found, way in worth if found <= 0.5 * smallest]
    if enough:
        return answer, words.halved_by(enough[:3])
    if not worth:
        return answer, words.NOTHING_HELPS
    taken, reached = _together(intended, worth, smallest, cause)
    if reached <= 0.5 * smallest:
        return answer, words.halved_together(taken)
    return answer, words.not_halved(taken, percent_of(reached))


def _unlocking(intended: _Intended, cause: str | None) -> list[Improvement]:
    """Readings that would give a change of efficiency where the intended ones do not."""
    rows: list[Improvement] = []
    wet = ("return_air_wet_bulb",) if intended.base.unit.mode == "cooling" else ()
    for added in (
        (
            "suction_pressure",
            "liquid_pressure",
            "suction_line_temperature",
            "liquid_line_temperature",
            "outdoor_air_dry_bulb",
            *wet,
            "return_air_dry_bulb",
        ),
        ("outdoor_unit_power", "discharge_line_temperature"),
    ):
        more = (*intended.names, *(name for name in added if name not in intended.names))
        intended = replace(intended, names=more)
        fusion = intended.fusion()
        if fusion is None or informed(fusion, fusion.model.layout.efficiency) < INFORMED:
            continue
        shown = showing(fusion)
        found = _smallest({name: one.efficiency for name, one in shown.items()}, cause)
        lacking = [READING + name for name in more if name not in intended.request.readings]
        if found is not None and lacking:
            rows = [
                {
                    "way": "added_reading",
                    "what": words.adding(lacking),
                    "smallest_detectable_percent": percent_of(found),
                    "ratio": None,
                }
            ]
        if all(one.seen for one in shown.values()):
            break
    return rows


def _halved(fusion: Fusion, owner: str) -> Fusion:
    """The same with an instrument of half the error."""
    parts = [
        Evidence(
            part.features,
            part.values,
            part.slopes * np.array([0.5 if v.owner == owner else 1.0 for v in part.variables]),
            part.own,
            part.variables,
        )
        for part in fusion.evidence
    ]
    return fusion.with_evidence((parts[0], parts[1]))


def _quantities(before: Examined, after: Examined, fusion: Fusion | None) -> dict[str, QuantityPlan]:
    """Smallest change of each derived value, and the instrument that limits it."""
    names = [
        name for name in before.kept if name in after.kept and name in JUDGED and judgeable(JUDGED[name], before.unit)
    ]
    if not names:
        return {}
    places = [[side.kept[name] for name in names] for side in (before, after)]
    slopes = [side.summary.slopes[place] for side, place in zip((before, after), places, strict=True)]
    variables = [side.visit.variables for side in (before, after)]
    whole, variances = joint(slopes, variables)
    apart = (whole[len(names) :] - whole[: len(names)]) ** 2 * variances
    brought = owners(variables)
    sizes: dict[str, float] = {}
    if fusion is not None:
        rows = [JUDGED[name] for name in names if JUDGED[name].model is not None]
        outputs = list(dict.fromkeys(str(row.model) for row in rows))
        relative = {str(row.model): row.relative for row in rows}
        found = detectable_by_itself(fusion, outputs, [relative[name] for name in outputs])
        sizes = dict(zip(outputs, found.tolist(), strict=True))
        # As in a comparison: efficiency and capacity show whichever one cause they changed by.
        whole_unit = [name for name in fusion.model.layout.of_the_system if name in sizes]
        if whole_unit:
            any_cause = detectable_by_any_cause(fusion, whole_unit)
            sizes |= dict(zip(whole_unit, any_cause.tolist(), strict=True))
    answer: dict[str, QuantityPlan] = {}
    for place, name in enumerate(names):
        row = JUDGED[name]
        start = abs(float(before.summary.value[before.kept[name]]))
        if row.model is None:
            size = DETECTABLE * sqrt(float(apart[place].sum()))
        elif row.model in sizes:
            found_from = absolute(sizes[row.model], start) if row.relative else sizes[row.model]
            if found_from is None:
                continue
            size = found_from
        else:
            continue
        kind = difference_kind(QUANTITIES[name].kind)
        by_owner: dict[str, float] = {}
        for owner, part in zip(brought, apart[place].tolist(), strict=True):
            by_owner[owner] = by_owner.get(owner, 0.0) + part
        total = sum(by_owner.values())
        worst = max(by_owner, key=lambda owner: by_owner[owner]) if total > 0.0 else None
        answer[name] = {
            "unit": system_unit(kind, before.visit.system),
            "smallest_detectable": rounded(size / conversion(kind, system_unit(kind, before.visit.system)).scale),
            "limited_by": worst,
            "share": share(by_owner[worst] / total) if worst is not None else 0.0,
        }
    return answer
