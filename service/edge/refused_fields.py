"""What validation refused, worded: one row of a table for each type of error.

Pydantic names the type of an error, its place and what was allowed; the caller gets what is allowed, what is
wrong, and what to do.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from string import Template
from typing import Any

from schemas.batches import (
    BARE_BODY,
    ID_RANGE,
    NO_ID,
    NOT_ONE_BODY,
    NOT_ONE_CHECK,
    OTHER_BODY,
    SEVERAL_BODIES,
    SEVERAL_CHECKS,
    BatchLine,
)
from schemas.capacitors import NOT_A_MARKING
from schemas.pictures import BODY_TAGS, NO_KIND
from schemas.problems import FieldProblem, Problem
from schemas.quantities import (
    FEWEST_REPEATS,
    LOCATION_TAGS,
    MOST_REPEATS,
    REPEAT_TAGS,
    VALUE_AND_VALUES,
)
from schemas.readings import IMPERIAL_UNITS, READINGS
from service.edge.near_names import fields_at, meant_by, near_value
from service.edge.problems import field_problem, refused_fields
from service.edge.shown_examples import example_of, object_with
from service.reference.units import KINDS

#: The largest `offset` of a batch.
LARGEST_OFFSET = 2**53 - 1

_REPEATS = f"{FEWEST_REPEATS} to {MOST_REPEATS} repeats"


@dataclass(frozen=True, slots=True)
class _Wording:
    """What is allowed, what is wrong, what to do; ``$name`` stands for a value of the error's context."""

    allowed: str
    detail: str
    hint: str


def _range(allowed: str) -> _Wording:
    return _Wording(allowed, "is out of range", "Check the number and its unit.")


_WHOLE_NUMBER = _Wording("a whole number", "is not a whole number", "Give a whole number, without quotes.")
_NUMBER = _Wording(
    "a number",
    "is not a number",
    'Give a JSON number (no quotes), or {"value": ..., "unit": ...} for a reading.',
)
_OBJECT = _Wording("an object", "is not an object", "Give a JSON object, {...}.")
_DATE = _Wording(
    "a date and time with its offset from UTC",
    "is not a date and time",
    "Write it as in 2026-07-14T14:05:00-05:00.",
)
_NO_BODY = _Wording("a JSON object", "is empty", "Send a request body.")

_BY_TYPE: Mapping[str, _Wording] = {
    NO_KIND: _Wording(
        "run (one visit), or runs with before and after (a comparison), or runs as a list (a series)",
        "does not hold exactly one of run and runs",
        "Give the body of an assessment, a diagnosis, a comparison or a series; a plan has no picture.",
    ),
    NOT_ONE_BODY: _Wording(
        "one of assessment, comparison, diagnosis, trend and check",
        "does not hold exactly one of assessment, comparison, diagnosis, trend and check",
        'Give {"assessment": {...}} with the body of POST /v1/assessments, a comparison, diagnosis or trend in the '
        'same way, or {"check": {"leak-rate": {...}}} with that of a check; each on a line of its own.',
    ),
    NOT_ONE_CHECK: _Wording(
        "one check, under its name",
        "does not hold exactly one check",
        'Give {"check": {"<name>": {...}}} with the name of one check, as in POST /v1/checks/<name>.',
    ),
    SEVERAL_BODIES: _Wording(
        "one of assessment, comparison, diagnosis, trend and check",
        "holds $names on one line",
        "Send each on a line of its own: $lines.",
    ),
    SEVERAL_CHECKS: _Wording(
        "one check, under its name",
        "holds $names on one line",
        "Send each on a line of its own: $lines.",
    ),
    BARE_BODY: _Wording(
        "one of assessment, comparison, diagnosis, trend and check, next to id",
        "is the body of POST $address without its envelope",
        'Wrap it: {"$kind": {...}}, with your own "id" next to "$kind" if you like.',
    ),
    OTHER_BODY: _Wording(
        "one of assessment, comparison, diagnosis, trend and check",
        "is $kind, which a batch does not accept",
        'Send it to POST $address; or have its visit assessed: {"assessment": {...}} with the body of '
        "POST /v1/assessments.",
    ),
    NO_ID: _Wording(ID_RANGE, "is not an id", "Give a short key of your own for the line, or leave it out."),
    VALUE_AND_VALUES: _Wording(
        "either value or values",
        "has both value and values",
        f"Give one number as `value`, or {_REPEATS} as `values`.",
    ),
    NOT_A_MARKING: _Wording(
        "a marking such as $form",
        "is not the marking of a capacitor with $sections section(s)",
        "Write microfarads as on the can.",
    ),
    "missing": _Wording("a value", "is missing", "Add the field."),
    "extra_forbidden": _Wording(
        "a field of the schema",
        "is not a field of the schema",
        "Check the spelling; /docs lists every field.",
    ),
    "literal_error": _Wording(
        "$expected",
        "is not one of the allowed values",
        "Use one of the allowed values, spelled as shown.",
    ),
    "less_than_equal": _range("at most $le"),
    "less_than": _range("less than $lt"),
    "greater_than_equal": _range("at least $ge"),
    "greater_than": _range("more than $gt"),
    "finite_number": _Wording("a finite number", "is not finite", "Leave out a reading that you do not have."),
    "int_type": _WHOLE_NUMBER,
    "int_parsing": _WHOLE_NUMBER,
    "int_from_float": _WHOLE_NUMBER,
    "float_type": _NUMBER,
    "float_parsing": _NUMBER,
    "bool_type": _Wording("true or false", "is not true or false", "Give true or false, without quotes."),
    "string_type": _Wording("text", "is not text", "Give a JSON string."),
    "model_attributes_type": _OBJECT,
    "model_type": _OBJECT,
    "dict_type": _OBJECT,
    "list_type": _Wording("a list", "is not a list", "Give a JSON list, [...]."),
    "too_short": _Wording("$min_length or more; $actual_length given", "holds too few", "Add what is missing."),
    "too_long": _Wording(
        "at most $max_length; $actual_length given",
        "holds too many",
        "Send the rest in another request.",
    ),
    "string_too_long": _Wording("a length of at most $max_length", "is too long", "Shorten it."),
    "string_too_short": _Wording("a length of at least $min_length", "is too short", "Fill it in."),
    "string_pattern_mismatch": _Wording("printable text", "holds a character that is not allowed", "Use plain text."),
}

#: What to write in place of a text that is not a marking, by the sections that its field takes.
_MARKINGS: Mapping[str, str] = {
    "1": 'Write microfarads as on the can, "45 uF ±6%", or give {"microfarads": 45, "tolerance_percent": 6}. A can '
    'with two sections is a text in place of all motors: "capacitors": "45/5".',
    "2": 'Write microfarads as on the can: "45/5" for both sections as `capacitors`. For a can with one section name '
    'its motor: {"compressor": "45 uF ±6%"}.',
    "1 or 2": 'Write microfarads as on the can in `marking`: "45/5 MFD ±6% 440 VAC" for two sections, "45 uF" for one.',
}

#: The same within a list of repeats, where it differs.
_EACH_REPEAT = _Wording(
    "a number",
    "is not a number",
    "Each repeat is a JSON number (no quotes); leave out what was not read.",
)
_OF_REPEATS: Mapping[str, _Wording] = {
    "too_short": _Wording(_REPEATS, "holds too few", "Give a single reading as a plain number."),
    "too_long": _Wording(_REPEATS, "holds too many", "Leave some out, or give their mean."),
    "list_type": _Wording(
        f"a list of {_REPEATS}",
        "is not a list",
        "Give a list of numbers, or a single number as `value`.",
    ),
    "float_type": _EACH_REPEAT,
    "float_parsing": _EACH_REPEAT,
}

#: What is allowed and what to do at places that deserve more than the table says.
_BY_PLACE: Mapping[str, tuple[str, str]] = {
    "/units": (
        "imperial or metric",
        'State the units of bare numbers: "units": "imperial" or "units": "metric". There is no default.',
    ),
    "query/units": ("imperial or metric", "Add ?units=imperial or ?units=metric."),
    "query/offset": (
        f"a whole number from 0 to {LARGEST_OFFSET}",
        "Give the last `line` received + 1, or the `resume_offset` of the summary, in plain digits.",
    ),
}

_TAGS = LOCATION_TAGS | BODY_TAGS


def invalid_request(
    rows: Sequence[Mapping[str, Any]],
    field: Callable[[Mapping[str, Any]], FieldProblem] | None = None,
) -> Problem:
    """The problem of pydantic's errors, each worded by ``field`` (:func:`refused_field` if left out)."""
    return refused_fields("invalid-request", map(field or refused_field, rows), len(rows))


def refused_field(error: Mapping[str, Any], model: Any = None) -> FieldProblem:  # noqa: ANN401
    """One of pydantic's errors, worded; ``model`` is the kind of body that it was found in, if known."""
    where, kind = _pointer(error["loc"]), str(error["type"])
    wording = _NO_BODY if (where, kind) == ("", "missing") else _worded(error, kind)
    allowed, hint = wording.allowed, wording.hint
    if where in _BY_PLACE and kind != "extra_forbidden":
        allowed, hint = _BY_PLACE[where]
    elif where.startswith("query/") and kind in ("int_parsing", "float_parsing"):
        hint = "Give a plain number."
    if kind in ("less_than_equal", "greater_than_equal"):
        allowed = _possible_range(where) or allowed
    value = None if kind == "missing" else error.get("input")
    return field_problem(where, value, allowed, wording.detail, _hinted(error, where, model, hint))


def _pointer(location: Sequence[object]) -> str:
    """A JSON Pointer into the body; `query/` or `path/` and the name of a parameter."""
    head, *rest = location
    if head != "body":
        return "/".join(str(part) for part in location)
    return "".join(
        "/" + str(part).replace("~", "~0").replace("/", "~1") for part in rest if part not in _TAGS and part != "[key]"
    )


def _worded(error: Mapping[str, Any], kind: str) -> _Wording:
    """The row of the table for an error, filled in."""
    found = _BY_TYPE.get(kind)
    if not REPEAT_TAGS.isdisjoint(error["loc"]):
        found = _OF_REPEATS.get(kind, found)
    if kind.startswith(("datetime", "timezone")):
        found = _DATE
    if found is None:
        message = str(error.get("msg", "is not valid")).removeprefix("Value error, ")
        return _Wording(message, "is not valid", "See the field in /docs.")
    context = {name: _written(value) for name, value in (error.get("ctx") or {}).items()}
    texts = (found.allowed, found.detail, found.hint)
    return _Wording(*(Template(text).safe_substitute(context) for text in texts))


def _written(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _hinted(error: Mapping[str, Any], where: str, model: Any, hint: str) -> str:  # noqa: ANN401
    """What to do: what is known of this very case, else the usual hint."""
    given = error.get("input")
    context = error.get("ctx") or {}
    place = [part for part in error["loc"][1:] if part not in _TAGS]
    found = None
    match error["type"]:
        case "extra_forbidden":
            found = _of_another_resource(where, given, model) or meant_by(place, model)
        case "missing" if where.startswith("/") and where not in _BY_PLACE:
            example = example_of(model, place)
            found = example and f'Add it, for example "{place[-1]}": {example}.'
        case "model_attributes_type" | "model_type" | "dict_type" | "list_type" as shape if where.startswith(
            "/"
        ) and REPEAT_TAGS.isdisjoint(error["loc"]):
            example = object_with(model, place, given) or example_of(model, place)
            found = example and f"Give {_SHAPES[shape]}, for example {example}."
            found = (where == "/runs" and _of_other_runs(given)) or found
        case "capacitor_marking":
            found = _MARKINGS[str(context["sections"])]
        case "less_than_equal" if isinstance(given, int | float) and context.get("le") == 1 and given <= 100:
            found = f"Give a share, not a percentage: {given:g} % is {given / 100:g}."
        case "greater_than_equal" if _OF_VACUUM.match(where) and isinstance(given, int | float) and given < 0:
            found = _NO_GAUGE_VACUUM
        case "literal_error" if (
            isinstance(given, str) and given in _OTHER_VACUUM_UNITS and "umHg" in str(context.get("expected"))
        ):
            found = _OTHER_VACUUM_UNITS[given]
        case "literal_error":
            found = _of_allowed_values(given, where, str(context.get("expected")), hint)
        case "float_type" if isinstance(given, list) and where.startswith("/run/readings/"):
            found = f"Give {_REPEATS} as `values` in place of `value`."
    return found or hint


#: A reading of a standing vacuum, which counts from zero.
_OF_VACUUM = re.compile(r"^/readings/[0-9]+/pressure")
_NO_GAUGE_VACUUM = (
    "A vacuum counts from zero, so it is never negative. A gauge that counts from the air (psi, inHg) cannot show one "
    "of a few hundred microns: read it with a vacuum gauge, in umHg (microns), Pa or mbar."
)
#: What to do with a vacuum in a unit that the contract does not take.
_OTHER_VACUUM_UNITS: Mapping[str, str] = {
    "inHg": _NO_GAUGE_VACUUM,
    "psi": _NO_GAUGE_VACUUM,
    "Torr": "1 Torr is 1,000 microns: give umHg.",
    "mmHg": "1 mmHg is 1,000 microns: give umHg.",
    "mTorr": "1 mTorr is 1 micron: give umHg.",
    "micron": "A micron is 1 umHg.",
    "microns": "A micron is 1 umHg.",
    "kPa": "1 kPa is 1,000 Pa: give Pa.",
}


def _of_allowed_values(given: object, where: str, expected: str, hint: str) -> str | None:
    measured = _measured_in(given) if where.endswith("/unit") else None
    if measured is not None:
        return f"{given} is a unit of {measured}: check the reading's field and its unit."
    near = near_value(given, expected)
    return None if near is None else f"Did you mean {near}? {hint}"


#: What a field must be, as a hint calls it.
_SHAPES = {
    "list_type": "a list",
    "dict_type": "an object",
    "model_type": "an object",
    "model_attributes_type": "an object",
}


_KINDS_OF_LINES = BatchLine.model_fields.keys() - {"id"}
_COMPARISON = (
    "A body with runs.before and runs.after is a comparison: POST /v1/comparisons, or `comparison` in a batch."
)
_SERIES = "A body with a list of runs is a series: POST /v1/trends."
_VISIT = "A body with one run is a visit: POST /v1/assessments or POST /v1/diagnoses, or `assessment` in a batch."
_ENVELOPE = "Only a line of a batch has `$kind` around it: send what is inside by itself."


def _of_another_resource(where: str, given: object, model: Any) -> str | None:  # noqa: ANN401
    """Where to send a body whose runs belong to another resource."""
    takes = () if model is None else fields_at(model, ())
    kind = where.removeprefix("/")
    if kind in _KINDS_OF_LINES and kind not in takes and isinstance(given, Mapping):
        return Template(_ENVELOPE).substitute(kind=kind)
    if where == "/run" and "run" not in takes:
        return f"Did you mean runs? {_VISIT}" if "runs" in takes else _VISIT
    if where in {"/before", "/after"} and "runs" not in takes:
        return _COMPARISON
    if where == "/runs":
        return _of_other_runs(given)
    return None


def _of_other_runs(given: object) -> str | None:
    """What a body is whose runs are not those of this resource; its own are of another shape, or one run."""
    if isinstance(given, list):
        return _SERIES
    return _COMPARISON if isinstance(given, Mapping) and ("before" in given or "after" in given) else None


#: The kinds of readings, as an error names them.
_MEASURED = {
    "temperature": "temperature",
    "temperature_difference": "temperature difference",
    "pressure": "pressure",
    "current": "current",
    "voltage": "voltage",
    "power": "power",
    "airflow": "airflow",
}


def _measured_in(given: object) -> str | None:
    """What a unit measures; None for a unit that the service does not know."""
    for name, kind in KINDS.items():
        if isinstance(given, str) and given in kind.units and name in _MEASURED:
            return _MEASURED[name]
    return None


#: What may follow a reading's name in a pointer to one of its numbers.
_WITHIN_READING = re.compile(r"(/value|(/values)?/\d+)$")


def _possible_range(where: str) -> str | None:
    """The range of a reading, for numbers beyond any unit's envelope."""
    name = _WITHIN_READING.sub("", where.removeprefix("/run/readings/")).replace("/", ".")
    spec = READINGS.get(name)
    if spec is None:
        return None
    low, high = spec.imperial
    return f"{low:g} to {high:g} {IMPERIAL_UNITS[spec.kind]}, or the same in another unit"
