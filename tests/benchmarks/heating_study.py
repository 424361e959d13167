"""How often is the service right in winter?  A study on ``heating_visits``, whose truth is known.

    python -m tests.benchmarks.heating_study [visits] [--seed N] [--part diagnosis|comparison|all]
        [--rated plate|both|none] [--kinds KIND ...] [--processes 1|2] [--json PATH] [--keep PATH]
        [--request KIND NUMBER]

``visits`` is the number of visits, each diagnosed with the unit's own baseline and without; and of pairs of
runs: healthy in other weather, still faulty in other weather, repaired, cleaned.  Tune on seeds 1 to 99 only;
20000 and up are for reporting.

``--rated``: what the plate prints (47 degF always, 17 degF on every other unit), both, or neither.

A unit is faulty where efficiency or capacity is under 95 % of what it would be if healthy.  False alarm:
``fault_found`` or ``fault_not_told_apart`` on a unit that is not faulty.  Named rightly: of ``fault_found``, a
fault that is there is among those found.  A false claim of a comparison is ``improved`` or ``worsened`` of a
unit that did not change, or in the wrong direction.
"""

from __future__ import annotations

import argparse
import json
import math
import pickle
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from service.compare.comparison import compare
from service.faults.diagnosis import diagnose
from service.intake.refusals import RefusedError
from tests.benchmarks import heating_visits as winter
from tests.benchmarks import simulated_pairs as pairs
from tests.benchmarks.diagnosis_scores import FAULTY_BELOW
from tests.benchmarks.field_study import CLAIMS, Table, markdown, reliability, share

RATED = ("plate", "both", "none")
_COSTLY = math.log(FAULTY_BELOW)
#: Visits of each kind in a study, in parts; the rest of the kinds count one.
PARTS: Mapping[str, float] = {winter.NO_FAULT: 5.0, winter.STRIPS: 1.5}
#: Names of the service's answer that name a fault of the simulator rightly.
NAMES: Mapping[str, frozenset[str]] = {
    "outdoor_airflow": frozenset({"outdoor_coil_airflow"}),
    winter.FROST: frozenset({"outdoor_coil_frost"}),
    "indoor_airflow": frozenset({"indoor_airflow"}),
    winter.REVERSING: frozenset({"reversing_valve_leakage"}),
    winter.LEFT_ON: frozenset({"auxiliary_heat_on"}),
    # Strips that are stated to be on are on: to name them is no alarm, and counted apart.
    winter.STRIPS: frozenset({"auxiliary_heat_on"}),
    winter.NO_FAULT: frozenset({"no_fault"}),
}
#: Probability beforehand of each kind, for the calibration on a mix as it is met; common practice, no source.
MIX: Mapping[str, float] = {
    winter.NO_FAULT: 0.45,
    winter.STRIPS: 0.03,
    "low_charge": 0.10,
    "overcharge": 0.05,
    "outdoor_airflow": 0.09,
    "indoor_airflow": 0.11,
    "compressor_leakage": 0.03,
    "liquid_line_restriction": 0.02,
    "expansion_overfeeding": 0.02,
    "expansion_underfeeding": 0.02,
    winter.REVERSING: 0.02,
    winter.GAS: 0.02,
    winter.FROST: 0.03,
    winter.LEFT_ON: 0.02,
}
#: Derived value of the answer for each of the simulator's truths.
DERIVED: Mapping[str, str] = {
    "superheat": "superheat",
    "subcooling": "subcooling",
    "discharge_temperature": "discharge_temperature",
    "discharge_superheat": "discharge_superheat",
    "condensing_over_return": "condensing_temperature_over_return_air",
    "evaporating_under_outdoor": "evaporating_temperature_under_outdoor_air",
    "vapour_line_over_outdoor": "vapour_line_temperature_over_outdoor_air",
    "valve_rise": "reversing_valve_temperature_rise",
    "outdoor_air_drop": "outdoor_coil_air_temperature_drop",
    "air_rise": "heating_air_temperature_rise",
    "capacity": "delivered_heating_capacity",
    "capacity_without_blower": "heating_capacity",
    "capacity_air_side": "heating_capacity_air_side",
    "capacity_refrigerant_side": "heating_capacity_refrigerant_side",
    "cop": "heating_cop",
    "total_power": "total_power",
    "airflow": "airflow",
}

_TYPES: Mapping[str, tuple[str, str]] = {
    "pressure": ("pressure_transducer", "pressure"),
    "pipe": ("thermistor_pipe_clamp", "line_temperature"),
    "air": ("hygrometer_probe", "air_temperature"),
    "outdoor": ("hygrometer_probe", "air_temperature"),
    "wet_bulb": ("hygrometer_probe", "wet_bulb"),
    "humidity": ("hygrometer_probe", "relative_humidity"),
    "airflow": ("airflow_hood", "airflow"),
    "power": ("power_meter", "power"),
    "voltage": ("multimeter", "voltage"),
    "current": ("clamp_meter", "current"),
}
#: Row of the kit's table, and instrument, of each reading.
_SENSOR = {name: (row, names[0]) for row, names in winter.SENSORS for name in names}


def instruments(kit: str, readings: Mapping[str, float]) -> dict[str, Any]:
    """The kit as a data sheet gives it: errors of the instruments, not of their places."""
    found: dict[str, Any] = {}
    for name, value in readings.items():
        row, instrument = _SENSOR[name]
        type_, measures = _TYPES[row]
        calibration, repeatability = winter.accuracy(kit, row)
        kelvins = 1.0 if row in winter.RELATIVE or row == "humidity" else 1.8
        relative = row in winter.RELATIVE
        found[instrument] = {
            "type": type_,
            "accuracies": {
                measures: {
                    "resolution": winter.step(kit, row),
                    "coverage": "one_standard_deviation",
                    "percent_of_reading" if relative else "fixed": calibration * kelvins,
                }
            },
            "repeatability": repeatability * (abs(value) / 100.0 if relative else kelvins),
        }
    return found


def run_of(run: winter.Run) -> dict[str, Any]:
    """A run of the contract."""
    optional = {
        "minutes_since_defrost": run.since_defrost,
        "frost_on_outdoor_coil": run.frost_seen,
        "auxiliary_heat_on": run.strips_on,
    }
    return {
        "minutes_running": run.minutes,
        **{name: value for name, value in optional.items() if value is not None},
        "readings": {name: {"value": value, "instrument": _SENSOR[name][1]} for name, value in run.readings.items()},
    }


def rated(plate: Mapping[str, float | str], send: str) -> dict[str, Any]:
    """What of the nameplate is sent."""
    if send == "none":
        return {"cooling_capacity": plate["cooling"]}
    found = {
        "cooling_capacity": plate["cooling"],
        "eer": plate["eer"],
        "heating_capacity": plate["capacity"],
        "heating_cop": plate["cop"],
        "hspf": plate["hspf"],
    }
    if send == "both" or plate["prints_cold"]:
        found |= {"heating_capacity_low": plate["capacity_low"], "heating_cop_low": plate["cop_low"]}
    return found


def _unit(plate: Mapping[str, float | str], send: str) -> dict[str, Any]:
    nameplate: dict[str, Any] = {
        "voltage": 230,
        "frequency": 60,
        "compressor_rated_load_amps": plate["rated_amps"],
    }
    if plate["metering_device"] != "fixed_orifice":
        nameplate["subcooling"] = plate["subcooling"]
    return {
        "mode": "heating",
        "refrigerant": plate["refrigerant"],
        "metering_device": plate["metering_device"],
        "capacity_control": "single_speed",
        "rated": rated(plate, send),
        "nameplate": nameplate,
    }


def request(visit: winter.Visit, send: str, *, with_baseline: bool) -> dict[str, Any]:
    """The diagnosis of a visit."""
    readings = visit.baseline.readings | visit.run.readings if with_baseline else visit.run.readings
    body: dict[str, Any] = {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": _unit(visit.plate, send),
        "kit": instruments(visit.kit, readings),
        "run": run_of(visit.run),
    }
    if with_baseline:
        body["baseline"] = run_of(visit.baseline)
    return body


def comparison(pair: winter.Pair, send: str) -> dict[str, Any]:
    """The comparison of a pair of runs."""
    return {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": _unit(pair.plate, send),
        "kit": instruments(pair.kit, pair.before.readings | pair.after.readings),
        "runs": {"before": run_of(pair.before), "after": run_of(pair.after)},
    }


# --------------------------------------------------------------------------- diagnoses


@dataclass(frozen=True)
class Outcome:
    """What the service said of one visit, and the truth; percentages of efficiency."""

    label: str
    baseline: bool
    number: int
    metering: str
    refrigerant: str
    kit: str
    outdoor: float
    level: float
    mistake: str
    cost: float
    ln_cop: float
    verdict: str
    found: tuple[str, ...]
    top: str
    usable: bool
    chances: dict[str, float]
    costly: float | None
    efficiency: tuple[float, float, float] | None
    held: dict[str, tuple[bool, float]]
    alarms: tuple[str, ...]
    sentence: str

    @property
    def sound(self) -> bool:
        """No fault of the unit and none in the readings."""
        return self.label in winter.SOUND

    @property
    def faulty(self) -> bool:
        """5 % of efficiency or capacity and more is lost."""
        return self.cost < _COSTLY and not self.sound and not self.mistake

    @property
    def claimed(self) -> bool:
        """Whether the service says that something is wrong with the unit; strips stated as on may be named."""
        if self.label == winter.STRIPS and self.found and set(self.found) <= self.names:
            return False
        return self.verdict in CLAIMS

    @property
    def names(self) -> frozenset[str]:
        """Names that are right."""
        return NAMES.get(self.label, frozenset({self.label}))

    @property
    def right(self) -> bool:
        """Whether a fault that is there is named, alone or with those that look alike."""
        return bool(set(self.found) & self.names)


def _held(derived: Mapping[str, Any], truth: Mapping[str, float]) -> dict[str, tuple[bool, float]]:
    """For each derived value: whether its band holds the truth, and its error over the band's half."""
    truth = {**truth, "capacity_air_side": truth["capacity_without_blower"]}
    truth["capacity_refrigerant_side"] = truth["capacity_at_outdoor_unit"]
    found = {}
    for name, key in DERIVED.items():
        row = derived.get(key)
        if row is None or row.get("band") is None:
            continue
        low, high, true = row["band"]["low"], row["band"]["high"], truth[name]
        half = max(0.5 * (high - low), 1e-9)
        found[name] = (low <= true <= high, (row["value"] - true) / half)
    return found


def _failed(verdict: str, sentence: str) -> dict[str, Any]:
    """An answer in place of one that was not given."""
    return {
        "verdict": verdict,
        "found": [],
        "hypotheses": [],
        "expected_from": None,
        "probability_costly": None,
        "efficiency_percent": None,
        "sentence": sentence,
        "assessment": {"derived": {}, "findings": []},
    }


def diagnosis_of(body: Mapping[str, Any]) -> Any:  # noqa: ANN401
    """The answer; a refusal or an error of the service as a verdict of its own."""
    try:
        return diagnose(DiagnosisRequest.model_validate(body))
    except RefusedError as error:
        return _failed("refused", "; ".join(f"{r.pointer}: {r.detail}" for r in error.refusals))
    except Exception:
        return _failed("error", traceback.format_exc(limit=-4))


def judged(visit: winter.Visit, send: str, number: int, *, with_baseline: bool) -> Outcome:
    """What the service says of a visit."""
    answer = diagnosis_of(request(visit, send, with_baseline=with_baseline))
    change = answer["efficiency_percent"]
    hypotheses = [h for h in answer["hypotheses"] if h["fault"] != "low_load"]
    return Outcome(
        label=visit.label,
        baseline=with_baseline,
        number=number,
        metering=str(visit.plate["metering_device"]),
        refrigerant=str(visit.plate["refrigerant"]),
        kit=visit.kit,
        outdoor=visit.outdoor,
        level=visit.level,
        mistake=visit.mistake,
        cost=0.0 if visit.mistake else visit.cost,
        ln_cop=visit.ln_cop,
        verdict=answer["verdict"],
        found=tuple(answer["found"]),
        top=hypotheses[0]["fault"] if hypotheses else "",
        usable=answer["expected_from"] is not None,
        chances={h["fault"]: h["probability"] for h in answer["hypotheses"]},
        costly=answer["probability_costly"],
        efficiency=None if change is None else (change["band"]["low"], change["value"], change["band"]["high"]),
        held=_held(answer["assessment"]["derived"], visit.truth),
        alarms=tuple(
            str(row.get("limit", row.get("quantity", "")))
            for row in answer["assessment"].get("findings", [])
            if row.get("grade") in ("nonconforming", "conditional_nonconforming")
        ),
        sentence=answer["sentence"],
    )


_Job = tuple[int, int, str, str]


def _job(job: _Job) -> list[Outcome]:
    count, seed, kind, send = job
    return [
        judged(visit, send, number, with_baseline=with_baseline)
        for number, visit in enumerate(winter.visits(count, seed, kind))
        for with_baseline in (False, True)
    ]


def counts(visits: int) -> dict[str, int]:
    """Visits of each kind."""
    parts = {kind: PARTS.get(kind, 1.0) for kind in winter.KINDS}
    return {kind: max(round(visits * p / sum(parts.values())), 1) for kind, p in parts.items()}


def _mapped(function: Callable[[_Job], list[Any]], jobs: Sequence[_Job], processes: int) -> list[Any]:
    if processes == 1:
        return [outcome for job in jobs for outcome in function(job)]
    with ProcessPoolExecutor(processes) as pool:
        return [outcome for part in pool.map(function, jobs) for outcome in part]


def study(visits: int, seed: int, send: str, processes: int, kinds: Sequence[str] = winter.KINDS) -> list[Outcome]:
    """Outcomes of about so many visits, with and without a baseline; of them those of ``kinds``."""
    jobs = [(n, seed, kind, send) for kind, n in counts(visits).items() if kind in kinds]
    return _mapped(_job, jobs, processes)


# --------------------------------------------------------------------------- pairs


@dataclass(frozen=True)
class Compared:
    """What the service said of one pair of runs, and the truth; per cent."""

    label: str
    fault: str
    number: int
    kit: str
    metering: str
    outdoor: tuple[float, float]
    change: float
    capacity_change: float
    verdict: str
    changed: bool | None
    efficiency: tuple[float, float, float] | None
    capacity: tuple[float, float, float] | None
    claims: tuple[str, ...]
    sentence: str

    @property
    def claimed(self) -> bool:
        """Whether the system is said to be better or worse."""
        return self.verdict in ("improved", "worsened")

    @property
    def false(self) -> bool:
        """A claim of a unit that did not change, or the wrong way round."""
        if not self.claimed:
            return False
        return self.label not in (winter.REPAIRED, winter.CLEANED) or (self.verdict == "improved") != (
            self.change > 0.0
        )


def _band(change: Mapping[str, Any] | None) -> tuple[float, float, float] | None:
    return None if change is None else (change["band"]["low"], change["value"], change["band"]["high"])


def _compared(job: _Job) -> list[Compared]:
    count, seed, kind, send = job
    found = []
    for number, pair in enumerate(winter.changed_pairs(count, seed, kind)):
        body = comparison(pair, send)
        try:
            answer: Any = compare(ComparisonRequest.model_validate(body))
            system, changes = answer["system"], answer["changes"]
        except Exception:
            system = {"verdict": "error", "any_change": {"changed": None}, "sentence": traceback.format_exc(limit=-4)}
            changes = {}
        found.append(
            Compared(
                label=pair.label,
                fault=pair.fault,
                number=number,
                kit=pair.kit,
                metering=str(pair.plate["metering_device"]),
                outdoor=pair.outdoor,
                change=100.0 * math.expm1(pair.ln_cop),
                capacity_change=100.0 * math.expm1(pair.ln_capacity),
                verdict=system["verdict"],
                changed=system["any_change"]["changed"],
                efficiency=_band(system.get("efficiency_change_percent")),
                capacity=_band(system.get("capacity_change_percent")),
                claims=tuple(
                    sorted(name for name, row in changes.items() if row.get("verdict") in ("improved", "worsened"))
                ),
                sentence=str(system.get("sentence", "")),
            )
        )
    return found


def study_of_pairs(count: int, seed: int, send: str, processes: int) -> list[Compared]:
    """Outcomes of so many pairs of runs: half of them did not change."""
    each = max(count // len(winter.PAIR_KINDS), 1)
    return _mapped(_compared, [(each, seed, kind, send) for kind in winter.PAIR_KINDS], processes)


# --------------------------------------------------------------------------- scores


def _error(rows: Iterable[Outcome]) -> str:
    errors = [abs(o.efficiency[1] - 100.0 * math.expm1(o.ln_cop)) for o in rows if o.efficiency is not None]
    return f"{float(np.quantile(errors, 0.95)):.1f} %" if errors else "-"


def headline(rows: Sequence[Outcome]) -> dict[str, str]:
    """The figures of a study that its targets are about."""
    plain = [o for o in rows if not o.mistake]
    faulty = [o for o in plain if o.faulty]
    named = [o for o in plain if o.verdict == "fault_found" and not o.sound]
    found = [o for o in plain if o.verdict == "fault_found"]
    mistakes = [o for o in rows if o.mistake]
    sound = [o for o in plain if o.sound]
    return {
        "false alarms, of healthy units": share(o.claimed for o in sound),
        "false alarms, of not faulty (under 5 %)": share(o.claimed for o in plain if not o.faulty),
        "  of these a small fault rightly named": share(
            o.claimed and o.right and not o.sound for o in plain if not o.faulty
        ),
        "costly faults detected": share(o.claimed for o in faulty),
        "costly faults detected, where the cycle was assessed": share(o.claimed for o in faulty if o.usable),
        "costly faults named rightly, of all costly": share(o.claimed and o.right for o in faulty),
        "named rightly, of fault_found (with those on healthy units)": share(o.right for o in found),
        "named rightly, of fault_found on faulty units": share(o.right for o in named),
        "right at the top, of costly faults": share(o.top in o.names for o in faulty),
        "'healthy', of units that lost 5 % of efficiency": share(
            o.verdict == "healthy" for o in plain if o.ln_cop < _COSTLY
        ),
        "healthy units said healthy": share(o.verdict == "healthy" for o in sound),
        "healthy units: not_enough_to_tell": share(o.verdict == "not_enough_to_tell" for o in sound),
        "healthy units: readings_doubted": share(o.verdict == "readings_doubted" for o in sound),
        "strips stated as on, and called a fault": share(
            "auxiliary_heat_on" in o.found for o in sound if o.label == winter.STRIPS
        ),
        "cycle assessed": share(o.usable for o in rows),
        "refused": share(o.verdict == "refused" for o in rows),
        "errors of the service": share(o.verdict == "error" for o in rows),
        "wrong readings: a fault claimed": share(o.claimed for o in mistakes),
        "wrong readings: readings_doubted or refused": share(
            o.verdict in ("readings_doubted", "refused") for o in mistakes
        ),
        "95 % band of the loss of efficiency holds": share(
            o.efficiency[0] <= 100.0 * math.expm1(o.ln_cop) <= o.efficiency[2]
            for o in plain
            if o.efficiency is not None and o.label != winter.LEFT_ON
        ),
        "95 % error of the loss of efficiency": _error(o for o in plain if o.label != winter.LEFT_ON),
    }


_VERDICTS = ("healthy", "fault_found", "fault_not_told_apart", "not_enough_to_tell", "readings_doubted", "refused")
GROUP_HEADS = [
    "",
    "visits",
    "faulty",
    "alarm, of not faulty",
    "detected, of faulty",
    "right, of fault_found",
    "right at top, of faulty",
    *_VERDICTS,
    "cycle not assessed",
    "named most",
]


def by_group(rows: Sequence[Outcome], key: Callable[[Outcome], str]) -> list[list[str]]:
    """Rates of each group: visits, claims, names, verdicts, and what is named most."""
    found = []
    for name in sorted({key(o) for o in rows}):
        part = [o for o in rows if key(o) == name]
        faulty = [o for o in part if o.faulty]
        claims = [o for o in part if o.verdict == "fault_found"]
        tally = Counter(o.verdict for o in part)
        names = Counter("+".join(sorted(o.found)) for o in claims).most_common(3)
        found.append(
            [
                name,
                str(len(part)),
                str(len(faulty)),
                share(o.claimed for o in part if not o.faulty),
                share(o.claimed for o in faulty),
                share(o.right for o in claims),
                share(o.top in o.names for o in faulty),
                *(str(tally[v]) for v in _VERDICTS),
                str(sum(not o.usable for o in part)),
                ", ".join(f"{n} {c}" for n, c in names),
            ]
        )
    return found


def calibration(rows: Sequence[Outcome]) -> list[list[str]]:
    """Stated probability against the share that is there: raw, and on a mix of kinds as it is met."""
    rows = [o for o in rows if o.usable and not o.mistake]
    tally = Counter(o.label for o in rows)
    names = sorted({name for o in rows for name in o.chances} - {"none_of_these", "measurement_mistake"})
    if not rows or not names:
        return []
    stated = np.array([o.chances.get(n, 0.0) for o in rows for n in names])
    there = np.array([float(n in (o.names | ({"no_fault"} if o.sound else set()))) for o in rows for n in names])
    mix = np.repeat([MIX[o.label] / tally[o.label] for o in rows], len(names))
    return reliability(stated, there, mix)


def coverage(rows: Sequence[Outcome]) -> list[list[str]]:
    """Share of the 95 % bands of derived values that hold the truth, and the mean error over half a band."""
    groups: Mapping[str, Callable[[Outcome], bool]] = {
        "healthy": lambda o: o.label == winter.NO_FAULT,
        "faulty": lambda o: o.label in winter.FAULTS and o.label != winter.LEFT_ON,
        # Strips that nobody states belong to the heat pump for all that the service can know.
        "strips stated": lambda o: o.label == winter.STRIPS,
    }
    found = []
    for name in DERIVED:
        cells = [name]
        for belongs in groups.values():
            part = [o.held[name] for o in rows if belongs(o) and name in o.held]
            cells.append(share(ok for ok, _ in part))
            cells.append(f"{np.mean([e for _, e in part]):+.2f}" if part else "-")
        found.append(cells)
    return found


def _season(o: Outcome) -> str:
    return "a: to 17 degF" if o.outdoor < 17 else "b: 17 to 35" if o.outdoor < 35 else "c: 35 to 62"


def tables(outcomes: Sequence[Outcome]) -> list[Table]:
    """All tables of a study of diagnoses."""
    sides = {"no baseline": False, "baseline": True}
    parts = {n: [o for o in outcomes if o.baseline == b] for n, b in sides.items()}
    heads = {n: headline(part) for n, part in parts.items()}
    found: list[Table] = [("Totals", ["", *sides], [[k, *(heads[n][k] for n in sides)] for k in heads["baseline"]])]
    keys: Mapping[str, Callable[[Outcome], str]] = {
        "kind": lambda o: o.label,
        "device": lambda o: f"{o.refrigerant}, {o.metering}",
        "outdoor air": _season,
        "instruments": lambda o: o.kit,
    }
    for name, part in parts.items():
        plain = [o for o in part if not o.mistake]
        for by, key in keys.items():
            found.append((f"By {by}, {name}", GROUP_HEADS, by_group(part if by == "kind" else plain, key)))
        head = ["stated", "number", "mean stated", "there", "mean stated, mix as met", "there, mix as met"]
        found.append((f"Calibration, {name}", head, calibration(part)))
    head = ["value", "healthy", "bias", "faulty", "bias", "strips stated", "bias"]
    found.append(
        ("95 % bands of derived values that hold the truth (bias in half bands)", head, coverage(parts["no baseline"]))
    )
    return found


def _holds(bands: Sequence[tuple[tuple[float, float, float] | None, float]]) -> str:
    return share(b[0] <= t <= b[2] for b, t in bands if b is not None)


def _row_of_pairs(name: str, part: Sequence[Compared]) -> list[str]:
    errors = [abs(o.efficiency[1] - o.change) for o in part if o.efficiency is not None]
    halves = [0.5 * (o.efficiency[2] - o.efficiency[0]) for o in part if o.efficiency is not None]
    tally = Counter(o.verdict for o in part)
    return [
        name,
        str(len(part)),
        f"{np.mean([o.change for o in part]):+.1f} %" if part else "-",
        share(o.claimed for o in part),
        share(o.false for o in part),
        share(o.changed is True for o in part),
        _holds([(o.efficiency, o.change) for o in part]),
        _holds([(o.capacity, o.capacity_change) for o in part]),
        f"{np.quantile(errors, 0.95):.1f} %" if errors else "-",
        f"{np.median(halves):.1f} %" if halves else "-",
        ", ".join(f"{v} {c}" for v, c in tally.most_common()),
    ]


def tables_of_pairs(outcomes: Sequence[Compared]) -> list[Table]:
    """The figures of a study of comparisons, by change and by kit."""
    rows = [_row_of_pairs(kind, [o for o in outcomes if o.label == kind]) for kind in winter.PAIR_KINDS]
    rows += [_row_of_pairs(f"{kit} kit", [o for o in outcomes if o.kit == kit]) for kit in pairs.KITS]
    rows.append(_row_of_pairs("all", outcomes))
    head = [
        "change",
        "pairs",
        "mean true change of efficiency",
        "claims",
        "false claims",
        "any change shown",
        "efficiency band holds",
        "capacity band holds",
        "95 % error of efficiency",
        "median half band",
        "verdicts",
    ]
    unchanged = [o for o in outcomes if o.label in (winter.UNCHANGED, winter.STILL_FAULTY)]
    claimed = Counter(name for o in unchanged for name in o.claims)
    single = [[name, f"{n} of {len(unchanged)}"] for name, n in claimed.most_common(12)]
    return [
        ("Comparisons", head, rows),
        ("Single quantities claimed to be better or worse where nothing changed", ["quantity", "claims"], single),
    ]


def asked(kind: str, number: int, seed: int, send: str) -> dict[str, Any]:
    """The request of one visit (with its baseline) or pair, by its number in the study."""
    if kind in winter.PAIR_KINDS:
        return comparison(winter.changed_pairs(number + 1, seed, kind)[number], send)
    return request(winter.visits(number + 1, seed, kind)[number], send, with_baseline=True)


def main() -> None:
    """Run the study and print it."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0] if __doc__ else "")
    parser.add_argument("visits", nargs="?", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--part", choices=("diagnosis", "comparison", "all"), default="all")
    parser.add_argument("--rated", choices=RATED, default="plate")
    parser.add_argument("--processes", type=int, choices=(1, 2), default=2)
    parser.add_argument("--kinds", nargs="+", choices=winter.KINDS, default=winter.KINDS)
    parser.add_argument("--json", help="file for the tables")
    parser.add_argument(
        "--request", nargs=2, metavar=("KIND", "NUMBER"), help="print the request of one visit, and end"
    )
    parser.add_argument("--keep", help="file to keep the outcomes in (pickle)")
    chosen = parser.parse_args()
    if chosen.request:
        print(json.dumps(asked(chosen.request[0], int(chosen.request[1]), chosen.seed, chosen.rated)))
        return
    start = time.perf_counter()
    how = (chosen.visits, chosen.seed, chosen.rated, chosen.processes)
    outcomes = study(*how, chosen.kinds) if chosen.part != "comparison" else []
    compared = study_of_pairs(*how) if chosen.part != "diagnosis" else []
    found = (tables(outcomes) if outcomes else []) + (tables_of_pairs(compared) if compared else [])
    wall = time.perf_counter() - start
    print(
        f"{len(outcomes) // 2} winter visits, {len(compared)} pairs, seed {chosen.seed}, rated: {chosen.rated}, "
        f"wall time {wall:.0f} s"
    )
    for title, head, rows in found:
        print(f"\n**{title}**\n\n{markdown(head, rows)}")
    said = [(o.verdict, o.sentence) for o in outcomes] + [(o.verdict, o.sentence) for o in compared]
    errors = Counter(text for verdict, text in said if verdict == "error")
    for text, number in errors.most_common(3):
        print(f"\n{number} times:\n{text}")
    if chosen.json:
        made = {t: [dict(zip(h, row, strict=False)) for row in rows] for t, h, rows in found}
        Path(chosen.json).write_text(json.dumps({"arguments": vars(chosen), "tables": made}))
    if chosen.keep:
        Path(chosen.keep).write_bytes(pickle.dumps([*map(asdict, outcomes), *map(asdict, compared)]))


if __name__ == "__main__":
    main()
