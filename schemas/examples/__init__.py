"""Example requests: invented scenarios, complete, ready to send."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

#: Name of each example and what it shows; the first is the one that a start sends to itself.
TITLES: Mapping[str, str] = MappingProxyType(
    {
        "r410a_expansion_valve": "R-410A with expansion valve: a doubtful capacitor (invented scenario)",
        "r22_fixed_orifice": "R-22 with fixed orifice: superheat over its target (invented scenario)",
        "r410a_capacity": "R-410A with airflow, power and blower table: capacity, efficiency, and "
        "readings that check each other (invented scenario)",
        "r454b_heat_pump_cooling": "R-454B heat pump in cooling, metric, three phases: an unbalanced supply "
        "(invented scenario)",
        "r410a_heat_pump_heating": "R-410A heat pump in heating, a winter visit: capacity, rating in this weather "
        "and balance point (invented scenario)",
        "r410a_logged": "R-410A with readings logged over the first 20 minutes: settled values from a log "
        "(invented scenario)",
    }
)


@cache
def answer_example() -> Any:  # noqa: ANN401
    """An answer, cut down to a few rows of each part, for the docs."""
    return json.loads(files(__name__).joinpath("answer.json").read_text("utf-8"))


@cache
def examples() -> Mapping[str, Any]:
    """The example bodies by name."""
    return MappingProxyType(
        {name: json.loads(files(__name__).joinpath(f"{name}.json").read_text("utf-8")) for name in TITLES}
    )


#: Example comparisons.
COMPARISON_TITLES: Mapping[str, str] = MappingProxyType(
    {
        "coil_cleaned": "A cleaned condenser, two hours apart: a real gain (invented scenario)",
        "nothing_to_tell": "Every reading moved by less than its instrument errs (invented scenario)",
        "far_apart": "The second run 8 K warmer outdoors (invented scenario)",
        "leak_repaired": "Complete repair, 8 of 8: before the leak was found, and after (invented scenario)",
    }
)

#: Example diagnoses.
DIAGNOSIS_TITLES: Mapping[str, str] = MappingProxyType(
    {
        "charge_lost": "Fixed orifice, no baseline: refrigerant lost (invented scenario)",
        "fouled_with_baseline": "Expansion valve, with a baseline: a condenser that has fouled (invented scenario)",
        "sound_unit": "Expansion valve, no baseline: nothing wrong (invented scenario)",
        "stage_not_stated": "Two stages, and nobody noted which ran: nothing wrong (invented scenario)",
    }
)

#: Example plans.
PLAN_TITLES: Mapping[str, str] = MappingProxyType({"cleaning_planned": "Would a gain of 5 % show? (invented scenario)"})

#: Example series.
TREND_TITLES: Mapping[str, str] = MappingProxyType(
    {"five_summers": "A condenser that fouls over five summers (invented scenario)"}
)


#: Example checks: by the check, its examples.
CHECK_TITLES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "pressure-hold": {
            "no_loss_over_an_hour": "An hour at 300 psi while it cooled: no loss seen (invented scenario)",
            "repair_leak_found": "Complete repair, 3 of 8: the pressure falls, a leak (invented scenario)",
            "repair_holds": "Complete repair, 4 of 8: brazed, and no loss seen (invented scenario)",
            "leaks": "The pressure falls though it warms: a leak (invented scenario)",
        },
        "vacuum-rise": {
            "moisture": "A rise that flattens far below saturation: moisture or outgassing (invented scenario)",
            "repair_vacuum": "Complete repair, 5 of 8: evacuated, a small rise that flattens (invented scenario)",
            "cannot_tell_yet": "Eight minutes, in pascals: too early to tell (invented scenario)",
        },
        "pressure-at-rest": {
            "air_in_the_circuit": "R-410A, settled, 18 psi above saturation: air in the circuit (invented scenario)",
        },
        "leak-rate": {
            "topped_up_twice": "Topped up twice within three months (invented scenario)",
        },
        "charge-by-weight": {
            "longer_lines": "Longer lines and a filter-drier: what to add (invented scenario)",
            "what_was_missing": "Recovered before a repair: what was missing (invented scenario)",
            "repair_what_was_missing": "Complete repair, 2 of 8: recovered, a quarter was missing (invented scenario)",
            "repair_weigh_in": "Complete repair, 6 of 8: weighed in (invented scenario)",
            "flammable_in_a_room": "R-32 with a room: what published formulas give (invented scenario)",
        },
        "motor": {
            "compressor_and_dual_capacitor": "A compressor's windings and a weak dual capacitor (invented scenario)",
            "three_phase_460_volts": "A three-phase compressor at 460 V (invented scenario)",
        },
        "air-delivery": {
            "attic_ducts": "Nine registers, ducts in an attic, blower and filter (invented scenario)",
            "furnace_rise": "A furnace's temperature rise and its blower (invented scenario)",
        },
    }
)

#: Example batches.
BATCH_TITLES: Mapping[str, str] = MappingProxyType(
    {"mixed": "Two visits, a comparison and a line that is refused (invented scenario)"}
)


@cache
def batch_examples() -> Mapping[str, str]:
    """The example batches by name: texts of one JSON object a line."""
    folder = files(__name__).joinpath("batches")
    return MappingProxyType({name: folder.joinpath(f"{name}.ndjson").read_text("utf-8") for name in BATCH_TITLES})


@cache
def batch_answer_example() -> str:
    """The answer to a batch of three lines with `detail=grades`, cut down, for the docs."""
    return files(__name__).joinpath("batches/answer.ndjson").read_text("utf-8")


@cache
def _folder(name: str, titles: tuple[str, ...]) -> Mapping[str, Any]:
    folder = files(__name__).joinpath(name)
    return MappingProxyType(
        {title: json.loads(folder.joinpath(f"{title}.json").read_text("utf-8")) for title in titles}
    )


def comparison_examples() -> Mapping[str, Any]:
    """The example comparisons by name."""
    return _folder("comparisons", tuple(COMPARISON_TITLES))


def diagnosis_examples() -> Mapping[str, Any]:
    """The example diagnoses by name."""
    return _folder("diagnoses", tuple(DIAGNOSIS_TITLES))


def plan_examples() -> Mapping[str, Any]:
    """The example plans by name."""
    return _folder("plans", tuple(PLAN_TITLES))


def trend_examples() -> Mapping[str, Any]:
    """The example series by name."""
    return _folder("trends", tuple(TREND_TITLES))


def check_examples(check: str) -> Mapping[str, Any]:
    """The examples of a check by name."""
    return _folder(f"checks/{check}", tuple(CHECK_TITLES[check]))


def every_example() -> Iterator[tuple[str, str, Any]]:
    """Name, title and body of every example that an answer is given to, kind by kind."""
    for titles, bodies in (
        (TITLES, examples()),
        (DIAGNOSIS_TITLES, diagnosis_examples()),
        (COMPARISON_TITLES, comparison_examples()),
        (TREND_TITLES, trend_examples()),
    ):
        for name, body in bodies.items():
            yield name, titles[name], body
