"""How often are diagnoses right in the field?  A study on ``field_visits``, whose truth is known.

    python -m tests.benchmarks.field_study [visits] [--seed N] [--part diagnosis|comparison|all]
        [--rated eer|seer|both|plate|plate_eer|none] [--times LOW HIGH] [--kinds KIND ...]
        [--json PATH] [--keep PATH]

About six minutes for 600 visits on two cores.  ``visits`` is the number of visits, each diagnosed with
the unit's own baseline and without, or of pairs of runs for the part ``comparison``: nothing
changed, a capacitor alone (power factor), a weak one (power too), foreign gas purged.
Tune on seeds 1 to 99 only; 20000 and up are for reporting.

``--rated`` chooses what of the nameplate is sent: the EER of every unit, SEER, both, what the plate prints
(SEER always, EER of every other one, as SEER2 and EER2 where the plate is of the later edition), of that
the EER alone, or neither.

A unit is faulty where efficiency or capacity is under 95 % of what it would be sound
(``diagnosis_scores``).  False alarm: ``fault_found`` or ``fault_not_told_apart`` on a unit that is not
faulty.  Named rightly: of ``fault_found``, a fault that is there is among those found.
"""

from __future__ import annotations

import argparse
import json
import math
import pickle
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from service.compare.comparison import compare
from service.faults.diagnosis import diagnose
from service.intake.refusals import RefusedError
from service.reference.faults import FAULTS
from tests.answers import untyped
from tests.benchmarks import field_visits as field
from tests.benchmarks import simulated_pairs as pairs
from tests.benchmarks.diagnosis_scores import FAULTY_BELOW

RATED = ("eer", "seer", "both", "plate", "plate_eer", "none")
CLAIMS = ("fault_found", "fault_not_told_apart")
FloatArray = NDArray[np.float64]
BINS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0001)
#: Changes by which a capacitor was replaced.
REPLACED = (field.CAPACITOR, field.WEAK_CAPACITOR)
_COSTLY = math.log(FAULTY_BELOW)
#: Probability beforehand of two faults at once, as in ``diagnosis_study``.
_DOUBLES = 0.06
#: Share of the visits with a fault that are severe, of those with it.
_SEVERE_SHARE = 0.1
#: Visits of each kind in a study, in parts; the rest of the kinds count one.
PARTS = {
    field.NO_FAULT: 3.0,
    field.EVERYDAY: 1.5,
    field.TWO_STAGE: 1.0,
    field.VARIABLE: 1.0,
    **dict.fromkeys(field.SEVERE, 0.8),
}
#: Names of the service's answer that name a severe fault rightly, beside the one of the contract.
ALSO_RIGHT = {
    field.SEVERE_FAN: ("outdoor_fan", "outdoor_fan_stopped"),
    field.SEVERE_CHARGE: ("circuit_nearly_empty",),
    field.SEVERE_COMPRESSOR: ("compressor_stalled", "compressor_not_pumping"),
}
#: Derived value of the answer for each of the simulator's truths.
DERIVED = {
    "suction_superheat": "superheat",
    "subcooling": "subcooling",
    "discharge_temperature": "discharge_temperature",
    "condenser_air_rise": "condenser_air_temperature_rise",
    "temperature_split": "temperature_split",
    "condensing_over_ambient": "condensing_temperature_over_ambient",
    "capacity": "cooling_capacity",
    "power": "total_power",
    "eer": "eer",
    "airflow": "airflow",
}

#: Row of ``KIT_TABLE``, instrument and class of accuracy of the readings that it does not name.
_MADE: dict[str, tuple[str, str, str]] = {
    **dict.fromkeys(pairs.REFRIGERANT_PRESSURES, ("pressure", "pressure_transducer", "pressure")),
    **dict.fromkeys(pairs.PIPES, ("pipe", "thermistor_pipe_clamp", "line_temperature")),
    **dict.fromkeys((*pairs.DRY_BULBS[:2], field.LEAVING), ("air", "hygrometer_probe", "air_temperature")),
    "outdoor_air_dry_bulb": ("outdoor", "hygrometer_probe", "air_temperature"),
    **dict.fromkeys(pairs.WET_BULBS, ("wet_bulb", "hygrometer_probe", "wet_bulb")),
    "airflow": ("airflow", "airflow_hood", "airflow"),
    **dict.fromkeys(pairs.POWERS, ("power", "power_meter", "power")),
    "line_voltage": ("voltage", "multimeter", "voltage"),
    pairs.CURRENT: ("current", "clamp_meter", "current"),
    field.FAN_CURRENT: ("current", "clamp_meter", "current"),
    field.START_CURRENT: ("current", "clamp_meter", "current"),
    field.CAPACITOR_VOLTAGE: ("voltage", "multimeter", "voltage"),
}
_RELATIVE = ("pressure", "airflow", "power", "voltage", "current")
#: Readings made with the instrument of another.
_BY = {field.START_CURRENT: pairs.CURRENT, field.CAPACITOR_VOLTAGE: "line_voltage"}


def instruments(kit: str, readings: dict[str, float]) -> dict[str, Any]:
    """The kit as a data sheet gives it: errors of the instruments, not of their places."""
    found: dict[str, Any] = {}
    steps = field.kit_of(kit).resolution
    for name, value in readings.items():
        row, type_, measures = _MADE[name]
        if name in _BY:
            continue
        calibration, repeatability = pairs.KIT_TABLE[kit][row]
        accuracy: dict[str, Any] = {
            "resolution": steps.get(name, 0.1),
            "coverage": "one_standard_deviation",
        }
        relative = row in _RELATIVE
        accuracy["percent_of_reading" if relative else "fixed"] = calibration * (1.0 if relative else 1.8)
        found["power" if row == "power" else name] = {
            "type": type_,
            "accuracies": {measures: accuracy},
            "repeatability": repeatability * (abs(value) / 100.0 if relative else 1.8),
        }
    return found


def _run(readings: dict[str, float], minutes: float) -> dict[str, Any]:
    given: dict[str, Any] = {}
    for name, value in readings.items():
        instrument = "power" if _MADE[name][0] == "power" else _BY.get(name, name)
        group, _, part = name.partition(".")
        row = {"value": value, "instrument": instrument}
        given[group] = {part: row} if part else row
    return {"minutes_running": minutes, "readings": given}


def rated(plate: dict[str, float | str], send: str) -> dict[str, Any]:
    """What of the nameplate is sent."""
    found: dict[str, Any] = {"cooling_capacity": plate["capacity"]}
    if send in ("eer", "both") or (send == "plate_eer" and plate["prints_eer"]):
        found["eer"] = plate["eer"]
    if send in ("seer", "both"):
        found["seer"] = plate["seer"]
    if send == "plate":
        edition = "2" if plate["second_edition"] else ""
        found[f"seer{edition}"] = plate[f"seer{edition}"]
        if plate["prints_eer"]:
            found[f"eer{edition}"] = plate[f"eer{edition}"]
    return found


def _unit(plate: dict[str, float | str], send: str, readings: dict[str, float]) -> dict[str, Any]:
    nameplate: dict[str, Any] = {
        "voltage": 230,
        "frequency": 60,
        "compressor_rated_load_amps": plate["rated_amps"],
    }
    if field.FAN_CURRENT in readings:
        nameplate["outdoor_fan_full_load_amps"] = plate["fan_amps"]
    if plate["metering_device"] != "fixed_orifice":
        nameplate["subcooling"] = plate["subcooling"]
    if plate.get("microfarads"):
        nameplate["capacitors"] = {"compressor": {"microfarads": plate["microfarads"]}}
    return {
        "refrigerant": plate["refrigerant"],
        "metering_device": plate["metering_device"],
        "capacity_control": plate["capacity_control"],
        "rated": rated(plate, send),
        "nameplate": nameplate,
    }


def request(visit: field.Visit, send: str, *, with_baseline: bool) -> dict[str, Any]:
    """The diagnosis of a visit."""
    body: dict[str, Any] = {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": _unit(visit.plate, send, visit.readings),
        "kit": instruments(visit.kit, visit.readings),
        "run": _run(visit.readings, visit.minutes[0]),
    }
    if with_baseline:
        body["baseline"] = _run(visit.baseline, visit.minutes[1])
    return body


def comparison(pair: field.Pair, send: str) -> dict[str, Any]:
    """The comparison of a pair of runs."""
    return {
        "units": "imperial",
        "site": {"altitude": 0},
        "unit": _unit(pair.plate, send, pair.before),
        "kit": instruments(pair.kit, pair.before),
        "runs": {
            "before": _run(pair.before, pair.minutes[0]),
            "after": _run(pair.after, pair.minutes[1]),
        },
        # Who replaces a part says so.
        "service": {"work": ["capacitor_replacement"] if pair.label in REPLACED else ["readings_only"]},
    }


@dataclass(frozen=True)
class Outcome:
    """What the service said of one visit, and the truth; percentages of efficiency."""

    label: str
    baseline: bool
    metering: str
    refrigerant: str
    kit: str
    seer: float
    faults: tuple[str, ...]
    level: dict[str, float]
    mistake: str
    cost: float
    ln_eer: float
    speed: float
    verdict: str
    found: tuple[str, ...]
    top: str
    usable: bool
    refused: bool
    chances: dict[str, float]
    costly: float | None
    efficiency: tuple[float, float, float] | None
    held: dict[str, tuple[bool, float]]
    sentence: str

    @property
    def sound(self) -> bool:
        """No fault of the unit and none in the readings."""
        return not self.faults

    @property
    def faulty(self) -> bool:
        """5 % of efficiency or capacity and more is lost."""
        return self.cost < _COSTLY and not self.sound and not self.mistake

    @property
    def claimed(self) -> bool:
        """Whether the service says that something is wrong with the unit."""
        return self.verdict in CLAIMS

    @property
    def right(self) -> bool:
        """Whether a fault that is there is named, alone or with those that look alike."""
        return bool(set(self.found) & self.names)

    @property
    def names(self) -> set[str]:
        """Names that are right."""
        return {*self.faults, *ALSO_RIGHT.get(self.label, ())}


def _held(derived: dict[str, Any], truth: dict[str, float]) -> dict[str, tuple[bool, float]]:
    """For each derived value: whether its band holds the truth, and its error over the band's half."""
    found = {}
    for name, key in DERIVED.items():
        row = derived.get(key)
        if row is None or row.get("band") is None:
            continue
        low, high, true = row["band"]["low"], row["band"]["high"], truth[name]
        half = max(0.5 * (high - low), 1e-9)
        found[name] = (low <= true <= high, (row["value"] - true) / half)
    return found


def judged(visit: field.Visit, send: str, *, with_baseline: bool) -> Outcome:
    """What the service says of a visit."""
    refused = False
    try:
        body = request(visit, send, with_baseline=with_baseline)
        answer = untyped(diagnose(DiagnosisRequest.model_validate(body)))
    except RefusedError as error:
        # An impossible reading is named, and nothing is diagnosed.
        refused = True
        answer = {
            "verdict": "refused",
            "found": [],
            "hypotheses": [],
            "expected_from": None,
            "probability_costly": None,
            "efficiency_percent": None,
            "sentence": "; ".join(f"{r.pointer}: {r.detail}" for r in error.refusals),
            "assessment": {"derived": {}},
        }
    change = answer["efficiency_percent"]
    hypotheses = [h for h in answer["hypotheses"] if h["fault"] != "low_load"]
    return Outcome(
        label=visit.label,
        baseline=with_baseline,
        metering=str(visit.plate["metering_device"]),
        refrigerant=str(visit.plate["refrigerant"]),
        kit=visit.kit,
        seer=float(visit.plate["seer"]),
        faults=visit.faults,
        level=visit.level,
        mistake=visit.mistake,
        cost=0.0 if visit.mistake else visit.cost,
        ln_eer=visit.ln_eer,
        speed=visit.speed,
        verdict=answer["verdict"],
        found=tuple(answer["found"]),
        top=hypotheses[0]["fault"] if hypotheses else "",
        usable=answer["expected_from"] is not None,
        refused=refused,
        chances={h["fault"]: h["probability"] for h in answer["hypotheses"]},
        costly=answer["probability_costly"],
        efficiency=None if change is None else (change["band"]["low"], change["value"], change["band"]["high"]),
        held=_held(answer["assessment"]["derived"], visit.truth),
        sentence=answer["sentence"],
    )


def _job(job: tuple[int, int, str, tuple[float, float], str]) -> list[Outcome]:
    count, seed, kind, times, send = job
    return [
        judged(visit, send, with_baseline=with_baseline)
        for visit in field.visits(count, seed, kind, times)
        for with_baseline in (False, True)
    ]


def counts(visits: int) -> dict[str, int]:
    """Visits of each kind."""
    parts = {kind: PARTS.get(kind, 1.0) for kind in field.KINDS}
    return {kind: max(round(visits * p / sum(parts.values())), 1) for kind, p in parts.items()}


def study(
    visits: int,
    seed: int,
    times: tuple[float, float],
    send: str,
    processes: int,
    kinds: Sequence[str] = field.KINDS,
) -> list[Outcome]:
    """Outcomes of about so many visits, with and without a baseline; of them those of ``kinds``."""
    jobs = [(n, seed, kind, times, send) for kind, n in counts(visits).items() if kind in kinds]
    # Those that take longest to simulate first.
    jobs.sort(key=lambda job: job[2] not in field.SEVERE)
    if processes == 1:
        return [outcome for job in jobs for outcome in _job(job)]
    with ProcessPoolExecutor(processes) as pool:
        return [outcome for part in pool.map(_job, jobs) for outcome in part]


@dataclass(frozen=True)
class Compared:
    """What the service said of one pair of runs, and the truth; per cent."""

    label: str
    kit: str
    metering: str
    tested: bool
    powers: bool
    change: float
    verdict: str
    changed: bool | None
    efficiency: tuple[float, float, float] | None
    cause: str


def _compared(job: tuple[int, int, str, tuple[float, float], str]) -> list[Compared]:
    count, seed, kind, times, send = job
    found = []
    for pair in field.changed_pairs(count, seed, kind, times):
        answer = compare(ComparisonRequest.model_validate(comparison(pair, send)))
        system = answer["system"]
        change, causes = system["efficiency_change_percent"], system["points_to"]
        band = None
        if change is not None:
            band = (change["band"]["low"], change["value"], change["band"]["high"])
        found.append(
            Compared(
                label=pair.label,
                kit=pair.kit,
                metering=str(pair.plate["metering_device"]),
                tested=field.START_CURRENT in pair.before,
                powers="outdoor_unit_power" in pair.before,
                change=100.0 * math.expm1(pair.ln_eer),
                verdict=system["verdict"],
                changed=system["any_change"]["changed"],
                efficiency=band,
                cause=causes[0]["cause"] if causes else "none",
            )
        )
    return found


def study_of_pairs(pairs_: int, seed: int, times: tuple[float, float], send: str, processes: int) -> list[Compared]:
    """Outcomes of so many pairs of runs, an even share of each change."""
    each = max(pairs_ // len(field.CHANGES), 1)
    jobs = [(each, seed, kind, times, send) for kind in field.CHANGES]
    if processes == 1:
        return [outcome for job in jobs for outcome in _compared(job)]
    with ProcessPoolExecutor(processes) as pool:
        return [outcome for part in pool.map(_compared, jobs) for outcome in part]


# --------------------------------------------------------------------------- scores

Table = tuple[str, list[str], list[list[str]]]


def share(values: Iterable[bool]) -> str:
    """Per cent and number."""
    found = list(values)
    return f"{100.0 * sum(found) / len(found):.1f} % of {len(found)}" if found else "-"


def weight(label: str, number: int) -> float:
    """Weight of a visit of this kind, with which kinds are as frequent as the service's prior has them."""
    if label in field.SEVERE:
        return _SEVERE_SHARE * FAULTS[field.SEVERE[label][0]].prior / number
    if label in (field.NO_FAULT, field.EVERYDAY):
        return 0.5 * FAULTS["no_fault"].prior / number
    if label == "double_fault":
        return _DOUBLES / number
    severe = {row[0] for row in field.SEVERE.values()}
    return FAULTS[label].prior * (1.0 - _SEVERE_SHARE * (label in severe)) / number


def headline(rows: Sequence[Outcome]) -> dict[str, str]:
    """The figures of a study that its targets are about; staged units apart."""
    single = [o for o in rows if o.label not in field.STAGED and not o.mistake]
    faulty = [o for o in single if o.faulty]
    named = [o for o in single if o.verdict == "fault_found"]
    usual = [o for o in faulty if o.label not in field.SEVERE]
    severe = [o for o in rows if o.label in field.SEVERE]
    staged = [o for o in rows if o.label in field.STAGED]
    mistakes = [o for o in rows if o.mistake]
    return {
        "false alarms, of sound units": share(o.claimed for o in single if o.sound),
        "false alarms, of not faulty (under 5 %)": share(o.claimed for o in single if not o.faulty),
        "  of these a small fault rightly named": share(o.claimed and o.right for o in single if not o.faulty),
        "costly faults detected, usual size": share(o.claimed for o in usual),
        "costly faults detected, with severe": share(o.claimed for o in faulty),
        "named rightly, of fault_found": share(o.right for o in named),
        "'healthy', of units that lost 5 % of efficiency": share(
            o.verdict == "healthy" for o in single if o.ln_eer < _COSTLY
        ),
        "'healthy', of those said healthy that lost it": share(
            o.ln_eer < _COSTLY for o in single if o.verdict == "healthy"
        ),
        "sound units said healthy": share(o.verdict == "healthy" for o in single if o.sound),
        "severe faults named rightly": share(o.right for o in severe),
        "severe faults: right at the top": share(o.top in o.names for o in severe),
        "severe faults: not_enough_to_tell": share(o.verdict == "not_enough_to_tell" for o in severe),
        "severe faults: readings_doubted": share(o.verdict == "readings_doubted" for o in severe),
        "severe faults: not usable or refused": share(not o.usable for o in severe),
        "severe faults: named, and wrongly": share(bool(o.found) and not o.right for o in severe),
        "sound staged units condemned": share(o.claimed for o in staged),
        "sound units: readings_doubted": share(o.verdict == "readings_doubted" for o in single if o.sound),
        "mistakes: a fault claimed": share(o.claimed for o in mistakes),
        "mistakes: readings_doubted or refused": share(o.verdict == "readings_doubted" or o.refused for o in mistakes),
        "95 % band of the loss of efficiency holds": share(
            o.efficiency[0] <= 100.0 * math.expm1(o.ln_eer) <= o.efficiency[2]
            for o in rows
            if o.efficiency is not None and not o.mistake
        ),
        "95 % error of the loss of efficiency, usual size": _error(o for o in single if o.label not in field.SEVERE),
    }


def _error(rows: Iterable[Outcome]) -> str:
    errors = [abs(o.efficiency[1] - 100.0 * math.expm1(o.ln_eer)) for o in rows if o.efficiency is not None]
    return f"{float(np.quantile(errors, 0.95)):.1f} %" if errors else "-"


_VERDICTS = (
    "healthy",
    "fault_found",
    "fault_not_told_apart",
    "not_enough_to_tell",
    "readings_doubted",
    "refused",
)


def by_group(rows: Sequence[Outcome], key: Callable[[Outcome], str]) -> list[list[str]]:
    """Rates of each group: visits, claims on sound, on not faulty, on faulty, names, verdicts."""
    found = []
    for name in sorted({key(o) for o in rows}):
        part = [o for o in rows if key(o) == name]
        faulty = [o for o in part if o.faulty]
        claims = [o for o in part if o.verdict == "fault_found" and not o.sound]
        tally = Counter(o.verdict for o in part)
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
            ]
        )
    return found


GROUP_HEADS = [
    "",
    "visits",
    "faulty",
    "alarm, of not faulty",
    "detected, of faulty",
    "right, of fault_found",
    "right at top, of faulty",
    *_VERDICTS,
]


def reliability(stated: FloatArray, there: FloatArray, mix: FloatArray) -> list[list[str]]:
    """Rows of stated probability against the share that is there, raw and weighted by ``mix``; all of shape (N,)."""
    found = []
    for low, high in pairwise(BINS):
        inside = (stated >= low) & (stated < high)
        if not inside.any():
            continue
        found.append(
            [
                f"{low:.1f} to {min(high, 1.0):.1f}",
                str(int(inside.sum())),
                f"{stated[inside].mean():.3f}",
                f"{there[inside].mean():.3f}",
                f"{np.average(stated[inside], weights=mix[inside]):.3f}",
                f"{np.average(there[inside], weights=mix[inside]):.3f}",
            ]
        )
    brier = (stated - there) ** 2
    found.append(
        ["Brier score", str(len(stated)), "", f"{brier.mean():.4f}", "", f"{np.average(brier, weights=mix):.4f}"]
    )
    return found


def calibration(rows: Sequence[Outcome]) -> list[list[str]]:
    """Stated probability against the share that is there: raw, and on the prior's mix of kinds."""
    rows = [o for o in rows if o.label not in field.STAGED and o.usable]
    tally = Counter(o.label for o in rows)
    names = [n for n, row in FAULTS.items() if row.shown != "direct" and n != "none_of_these"]
    stated = np.array([o.chances.get(n, 0.0) for o in rows for n in names])
    there = np.array([float(n in (o.names or {"no_fault"})) for o in rows for n in names])
    mix = np.repeat([weight(o.label, tally[o.label]) for o in rows], len(names))
    return reliability(stated, there, mix)


def coverage(rows: Sequence[Outcome]) -> list[list[str]]:
    """Share of the 95 % bands of derived values that hold the truth, and the mean error over half a band."""
    groups: dict[str, Callable[[Outcome], bool]] = {
        "usual": lambda o: o.label not in (*field.SEVERE, *field.STAGED),
        "severe": lambda o: o.label in field.SEVERE,
        "staged": lambda o: o.label in field.STAGED,
    }
    found = []
    for name in DERIVED:
        cells = [name]
        for belongs in groups.values():
            part = [o.held[name] for o in rows if belongs(o) and not o.mistake and name in o.held]
            cells.append(share(ok for ok, _ in part))
            cells.append(f"{np.mean([e for _, e in part]):+.2f}" if part else "-")
        found.append(cells)
    return found


def markdown(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def tables(outcomes: Sequence[Outcome]) -> list[Table]:
    """All tables of a study of diagnoses."""
    sides = {"no baseline": False, "baseline": True}
    parts = {n: [o for o in outcomes if o.baseline == b] for n, b in sides.items()}
    heads = {n: headline(part) for n, part in parts.items()}
    first = [[k, *(heads[n][k] for n in sides)] for k in heads["baseline"]]
    found: list[Table] = [("Totals", ["", *sides], first)]
    keys: dict[str, Callable[[Outcome], str]] = {
        "kind": lambda o: o.label,
        "device, usual kinds": lambda o: f"{o.refrigerant}, {o.metering}",
        "SEER": lambda o: "to 12" if o.seer < 12 else "12 to 15" if o.seer < 15 else "15 and up",
        "instruments": lambda o: o.kit,
    }
    for name, part in parts.items():
        plain = [o for o in part if o.label not in (*field.SEVERE, *field.STAGED) and not o.mistake]
        for by, key in keys.items():
            chosen = part if by == "kind" else plain
            found.append((f"By {by}, {name}", GROUP_HEADS, by_group(chosen, key)))
        head = ["stated", "number", "mean stated", "there", "mean stated, prior's mix", "there, prior's mix"]
        found.append((f"Calibration, {name}", head, calibration(part)))
    head = ["value", "usual", "bias", "severe", "bias", "staged", "bias"]
    found.append(
        ("95 % bands of derived values that hold the truth (bias in half bands)", head, coverage(parts["no baseline"]))
    )
    return found


def tables_of_pairs(outcomes: Sequence[Compared]) -> list[Table]:
    """The figures of a study of comparisons, by change; power by meter or by current."""
    rows = []
    for kind in field.CHANGES:
        for powers in (True, False):
            part = [o for o in outcomes if o.label == kind and o.powers == powers]
            bands = [(o.efficiency, o.change) for o in part if o.efficiency is not None]
            errors = [abs(b[1] - t) for b, t in bands]
            claims = [o for o in part if o.verdict in ("improved", "worsened")]
            wrong = [o for o in claims if (o.verdict == "improved") != (o.change > 0.0)]
            rows.append(
                [
                    f"{kind}, power by {'meter' if powers else 'current'}",
                    str(len(part)),
                    f"{np.mean([o.change for o in part]):+.1f} %" if part else "-",
                    str(len(claims)),
                    str(len(wrong)),
                    share(o.changed is True for o in part),
                    share(b[0] <= t <= b[2] for b, t in bands),
                    f"{np.quantile(errors, 0.95):.1f} %" if errors else "-",
                ]
            )
    head = [
        "change",
        "pairs",
        "mean true change of efficiency",
        "claims",
        "wrong direction",
        "any change shown",
        "band holds",
        "95 % error",
    ]
    return [("Comparisons", head, rows)]


def main() -> None:
    """Run the study and print it."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0] if __doc__ else "")
    parser.add_argument("visits", nargs="?", type=int, default=600)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--part", choices=("diagnosis", "comparison", "all"), default="diagnosis")
    parser.add_argument("--rated", choices=RATED, default="eer")
    parser.add_argument("--times", nargs=2, type=float, default=(15.0, 30.0))
    parser.add_argument("--processes", type=int, choices=(1, 2), default=2)
    parser.add_argument("--kinds", nargs="+", choices=field.KINDS, default=field.KINDS)
    parser.add_argument("--json", help="file for the tables")
    parser.add_argument("--keep", help="file to keep the outcomes in (pickle)")
    chosen = parser.parse_args()
    start = time.perf_counter()
    times = (chosen.times[0], chosen.times[1])
    how = (chosen.visits, chosen.seed, times, chosen.rated, chosen.processes)
    outcomes = study(*how, chosen.kinds) if chosen.part != "comparison" else []
    compared = study_of_pairs(*how) if chosen.part != "diagnosis" else []
    found = (tables(outcomes) if outcomes else []) + (tables_of_pairs(compared) if compared else [])
    wall = time.perf_counter() - start
    print(
        f"{len(outcomes) // 2} visits, {len(compared)} pairs, seed {chosen.seed}, rated: {chosen.rated}, "
        f"{times[0]:g} to {times[1]:g} min running, wall time {wall:.0f} s"
    )
    for title, head, rows in found:
        print(f"\n**{title}**\n\n{markdown(head, rows)}")
    if chosen.json:
        made = {t: [dict(zip(h, row, strict=False)) for row in rows] for t, h, rows in found}
        Path(chosen.json).write_text(json.dumps({"arguments": vars(chosen), "tables": made}))
    if chosen.keep:
        Path(chosen.keep).write_bytes(pickle.dumps([*map(asdict, outcomes), *map(asdict, compared)]))


if __name__ == "__main__":
    main()
