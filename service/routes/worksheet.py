"""What the worksheet asks for, read from the contract: fields with their units, bounds and descriptions.

The published schema is half a megabyte; a phone gets this part of it, made once when it is first asked for.  A field
that is added to a request appears here, and on the page, by itself.  Small tables choose what the page shows first in
each mode, which entry settles a doubt, which readings stand for each other, and under which heading a class of reading
is listed; a name that no table knows is listed under the last heading.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any

import orjson
from pydantic.json_schema import models_json_schema

from schemas.comparisons import ComparisonRequest
from schemas.diagnoses import DiagnosisRequest
from schemas.readings import READINGS
from service.assess import catalogues
from service.derive.derivations import DERIVATIONS, QUANTITIES
from service.edge.keys import HEADER
from service.intake.paths import TABLE
from service.reference.instruments import INSTRUMENT_TYPES
from service.reference.limits import LIMITS
from service.reference.notices import SETTLED_BY
from service.reference.refrigerants import REFRIGERANTS
from service.reference.units import KINDS, conversions
from service.reference.versions import SERVICE_VERSION
from service.words.phrases import unit_word

#: Asked first in each mode, in this order; the rest of each part is behind "More".
FIRST: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "cooling": {
        "unit": (
            "refrigerant",
            "metering_device",
            "mode",
            "capacity_control",
            "nameplate.subcooling",
            "rated.cooling_capacity",
            "rated.eer",
        ),
        "run": ("minutes_running", "taken_at"),
    },
    "heating": {
        "unit": (
            "refrigerant",
            "metering_device",
            "mode",
            "capacity_control",
            "rated.heating_capacity",
            "rated.heating_cop",
        ),
        "run": (
            "minutes_running",
            "minutes_since_defrost",
            "frost_on_outdoor_coil",
            "auxiliary_heat_on",
            "taken_at",
        ),
    },
}
#: The same where the mode makes no difference.
ALWAYS: Mapping[str, tuple[str, ...]] = {"site": ("altitude",), "labels": ("visit", "unit")}
#: Asked first of a run, ahead of the rest, by how the unit sets its capacity.
STAGED: Mapping[str, tuple[str, ...]] = {"two_stage": ("stage",), "variable_speed": ("speed_percent",)}
#: The readings that most visits start with, by mode.
USUAL: Mapping[str, tuple[str, ...]] = {
    "cooling": (
        "suction_pressure",
        "suction_saturation_temperature",
        "suction_line_temperature",
        "liquid_pressure",
        "liquid_saturation_temperature",
        "liquid_line_temperature",
        "outdoor_air_dry_bulb",
        "return_air_dry_bulb",
        "return_air_wet_bulb",
        "return_air_relative_humidity",
        "supply_air_dry_bulb",
        "supply_air_wet_bulb",
        "supply_air_relative_humidity",
    ),
    "heating": (
        "suction_pressure",
        "suction_saturation_temperature",
        "suction_line_temperature",
        "discharge_line_temperature",
        "vapour_line_temperature",
        "liquid_pressure",
        "liquid_saturation_temperature",
        "liquid_line_temperature",
        "outdoor_air_dry_bulb",
        "return_air_dry_bulb",
        "supply_air_dry_bulb",
    ),
}
#: Two ways to give one thing: the page shows one and offers the other.
INSTEAD = (
    ("suction_pressure", "suction_saturation_temperature"),
    ("liquid_pressure", "liquid_saturation_temperature"),
    ("return_air_wet_bulb", "return_air_relative_humidity"),
    ("supply_air_wet_bulb", "supply_air_relative_humidity"),
)
#: Headings of the readings by class; a name that begins with one of the last column goes there first.
_HEADINGS: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("Heat test, compressor off", (), ("heat_test",)),
    ("Refrigerant pressures", ("pressure",), ()),
    ("Line temperatures", ("line_temperature",), ()),
    ("Air temperature and humidity", ("air_temperature", "wet_bulb", "relative_humidity"), ()),
    ("Airflow and static pressure", ("airflow", "static_pressure", "condensate_rate"), ()),
    ("Current", ("current",), ()),
    ("Voltage and power", ("voltage", "power", "ratio"), ()),
)
_OTHER = "Other readings"
#: Paths of a run in the registry of derivations.
_READING = "run.readings."


#: Names of fields in a description, and hints at resources, which the page links to by itself.
_CODE, _SEE = re.compile("`([^`]*)`"), re.compile(r",? see `GET [^`]*`")


def _spoken(code: re.Match[str]) -> str:
    """A field's name as a person says it."""
    return code[1].rpartition(".")[2].replace("_", " ")


# ------------------------------------------------------------ a schema's node as a field


def _resolved(schema: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, Any]:
    """A node without its reference and without null, its own words before those of what it refers to."""
    found = dict(schema)
    while True:
        forms = [one for one in found.get("anyOf", found.get("oneOf", ())) if one.get("type") != "null"]
        if "$ref" in found:
            name = found.pop("$ref").rpartition("/")[2]
            found = {**parts[name], **found}
        elif len(forms) == 1 and ("anyOf" in found or "oneOf" in found):
            found.pop("anyOf", None)
            found.pop("oneOf", None)
            found = {**forms[0], **found}
        else:
            return found


def _metric(imperial: str, units: Iterable[str]) -> str:
    """The metric unit of the kind of quantity whose imperial unit this is."""
    kinds = (kind for kind in KINDS.values() if kind.imperial == imperial and kind.metric in units)
    return next((kind.metric for kind in kinds), imperial)


def _amount(node: Mapping[str, Any], forms: list[dict[str, Any]]) -> dict[str, Any] | None:
    """A number with a unit that may be chosen; None if the node is not one."""
    objects = [form for form in forms if "value" in form.get("properties", ())]
    if not objects:
        return None
    properties = objects[0]["properties"]
    unit = properties["unit"]
    imperial = str(node["x-unit"]).removesuffix(" gauge")
    units = unit.get("enum") or [unit.get("const", imperial)]
    # ``psig`` and ``psia`` would say twice what the reference says.
    units = [one for one in units if "reference" not in properties or one not in ("psig", "psia")]
    found: dict[str, Any] = {"kind": "amount", "units": [imperial, _metric(imperial, units)], "choices": units}
    if "reference" in properties:
        found["references"] = properties["reference"]["enum"]
    if "instrument" in properties:
        found["instrument"] = True
    if any(form.get("type") == "array" for form in forms):
        found["repeats"] = True
    if "x-range" in node:
        found["range"] = node["x-range"]
    return found


def _plain(node: Mapping[str, Any]) -> dict[str, Any]:
    """A number, a text, a choice or a flag."""
    if "enum" in node:
        return {"kind": "choice", "of": node["enum"]}
    kind = {"boolean": "flag", "number": "number", "integer": "number"}.get(node.get("type", ""), "text")
    if node.get("format") == "date-time":
        kind = "moment"
    found: dict[str, Any] = {"kind": kind}
    if kind == "text" and "maxLength" in node:
        found["longest"] = node["maxLength"]
    if kind == "number":
        low = node.get("minimum", node.get("exclusiveMinimum"))
        if low is not None and "maximum" in node:
            found["range"] = [low, node["maximum"]]
        if node.get("x-unit", "none") not in ("none", "1", "unit"):
            found["units"] = [node["x-unit"]] * 2
    return found


def _list(items: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, Any]:
    if "enum" in items:
        return {"kind": "several", "of": items["enum"]}
    if "properties" in items:
        return {"kind": "rows", **_group(items, parts)}
    return {"kind": "numbers"}


def _group(node: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, Any]:
    return {"fields": {name: _field(one, parts) for name, one in node["properties"].items()}}


def _field(schema: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, Any]:
    """One node of the contract as the page needs it."""
    node = {**_resolved(schema, parts)}
    unit = node.get("properties", {}).get("unit")
    if unit is not None:
        node["properties"] = {**node["properties"], "unit": _resolved(unit, parts)}
    forms = [_amount_form(form, parts) for form in node.get("anyOf", node.get("oneOf", ()))]
    found = _amount(node, forms)
    if found is None:
        # Of an object and the text that stands for it, the page asks for the object.
        node = next(({**form, **node} for form in forms if "properties" in form), node)
    if found is None:
        if node.get("type") == "array":
            found = _list(_resolved(node["items"], parts), parts)
        elif "properties" in node:
            found = {"kind": "group", **_group(node, parts)}
        elif isinstance(node.get("additionalProperties"), Mapping):
            found = {"kind": "named", **_group(_resolved(node["additionalProperties"], parts), parts)}
            found = found if "fields" in found else {"kind": "named"}
        else:
            found = _plain(node)
    if "default" in node and node["default"] is not None:
        found["default"] = node["default"]
    text = node.get("description", "").partition(" Possible range: ")[0]
    if text:
        found["about"] = _CODE.sub(_spoken, _SEE.sub("", text))
    return found


def _as_file(log: Mapping[str, Any]) -> dict[str, Any]:
    """A log as a person gives it: a file, and what its times count from.  The page has words for both."""
    start = {part: one for part, one in log["fields"]["start"].items() if part != "about"}
    return {"kind": "group", "fields": {"csv": {"kind": "file"}, "start": start}}


def _amount_form(form: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, Any]:
    """One form of a value, with the names of its units in place of references."""
    found = _resolved(form, parts)
    if "properties" in found:
        found["properties"] = {name: _resolved(one, parts) for name, one in found["properties"].items()}
    return found


# ------------------------------------------------------------ the whole


def _unlocked(reading: str, mode: str) -> list[str]:
    """The values graded in a mode nearest to a reading, at most three: what it is read for, the charge before the rest.

    What needs a maker's table is left out.
    """
    groups = {limit.quantity: limit.group for limit in LIMITS.values() if mode in limit.modes}
    users: dict[str, list[str]] = {}
    for row in DERIVATIONS:
        by_table = any(need.startswith((TABLE, "table_")) for need in row.needs)
        for need in () if by_table or mode not in QUANTITIES[row.quantity].modes else row.needs:
            users.setdefault(need, []).append(row.quantity)
    seen: dict[str, None] = {}
    front = list(dict.fromkeys(users.get(_READING + reading, ())))
    while front:
        seen.update(dict.fromkeys(front))
        front = list(dict.fromkeys(user for name in front for user in users.get(name, ()) if user not in seen))
    graded = [name for name in seen if name in groups and not QUANTITIES[name].internal]
    graded.sort(key=lambda name: groups[name] != "charge")
    return list(
        dict.fromkeys(QUANTITIES[name].label.partition(" minus target")[0].partition(",")[0] for name in graded)
    )[:3]


def _gives() -> dict[str, Any]:
    """What each reading is read for, by mode: places in a list of labels, which are sent once."""
    found = {mode: {name: _unlocked(name, mode) for name in READINGS} for mode in FIRST}
    labels = list(dict.fromkeys(one for rows in found.values() for given in rows.values() for one in given))
    places = {
        mode: {name: [labels.index(one) for one in given] for name, given in rows.items() if given}
        for mode, rows in found.items()
    }
    return {"labels": labels, **places}


def _headings() -> list[dict[str, Any]]:
    """Readings of the contract by heading, in the contract's order; each in one place."""
    places: dict[str, list[str]] = {title: [] for title, _, _ in _HEADINGS[1:]}
    places[_HEADINGS[0][0]] = []
    places[_OTHER] = []
    for name, spec in READINGS.items():
        group = name.partition(".")[0]
        title = next(
            (
                title
                for title, classes, beginnings in _HEADINGS
                if name.startswith(beginnings or "\0") or spec.measured_as in classes
            ),
            _OTHER,
        )
        if group not in places[title]:
            places[title].append(group)
    return [{"title": title, "readings": names} for title, names in places.items() if names]


def error_kind(measured: str) -> str:
    """Kind of quantity of an error: of a class of reading, or of one reading that has an accuracy of its own."""
    spec = READINGS.get(measured)
    class_ = measured if spec is None else spec.measured_as
    kinds = {spec.measured_as: spec.kind for spec in READINGS.values()}
    kind = class_ if class_ in KINDS else kinds[class_]
    return "temperature_difference" if kind == "temperature" else kind


def _error_units(measured: str) -> list[str]:
    kind = KINDS[error_kind(measured)]
    return [kind.imperial, kind.metric]


def _decimals(symbol: str) -> int:
    return next((kind.decimals[symbol] for kind in KINDS.values() if symbol in kind.decimals), 1)


#: What readings of one kind share, and is sent once.
_SHARED = ("kind", "units", "choices", "references", "instrument", "repeats")


def _shared_once(fields: Mapping[str, Any], kinds: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """Fields that name (``like``) what they share with others: the parts of a group, or the units of an amount.

    ``kinds`` gets what is shared, by that name.
    """
    found = {}
    for name, field in fields.items():
        shared: dict[str, Any] = {}
        if "fields" in field:
            shared = {"fields": _shared_once(field["fields"], kinds)}
        elif field["kind"] == "amount":
            shared = {part: field[part] for part in _SHARED if part in field}
        if not shared:
            found[name] = field
            continue
        like = next((known for known, one in kinds.items() if one == shared), str(len(kinds)))
        kinds[like] = shared
        found[name] = {"like": like, **{part: one for part, one in field.items() if part not in shared}}
    return found


def _texts(part: Any) -> Iterable[str]:  # noqa: ANN401
    """Every text in a part of the description."""
    if isinstance(part, str):
        yield part
    elif isinstance(part, Mapping | list):
        for one in part.values() if isinstance(part, Mapping) else part:
            yield from _texts(one)


def _instruments() -> list[dict[str, Any]]:
    """Each type with its accuracies, without what is zero and without sources."""
    return [
        {
            "type": row["type"],
            "description": row["description"],
            "accuracies": [
                {part: one for part, one in accuracy.items() if one and part != "source"}
                for accuracy in row["accuracies"]
            ],
        }
        for row in catalogues.instruments()["rows"]
    ]


@cache
def description() -> bytes:
    """Everything that the page knows of the contract, as JSON."""
    _, published = models_json_schema(
        [(DiagnosisRequest, "validation"), (ComparisonRequest, "validation")],
        ref_template="#/components/schemas/{model}",
    )
    parts = published["$defs"]
    visit, comparison = (
        _field(parts[model.__name__], parts)["fields"] for model in (DiagnosisRequest, ComparisonRequest)
    )
    visit["run"]["fields"]["log"] = _as_file(visit["run"]["fields"]["log"])
    # A baseline and both runs of a comparison are runs like that of a visit, which is sent once.
    del visit["baseline"], comparison["runs"]
    classes = list(dict.fromkeys(spec.measured_as for spec in READINGS.values()))
    measured = dict.fromkeys(name for row in INSTRUMENT_TYPES.values() for name in (*row.accuracies, *row.overrides))
    kinds: dict[str, dict[str, Any]] = {}
    fields = _shared_once({**visit, **comparison}, kinds)
    errors = {name: _error_units(name) for name in (*classes, *measured)}
    asked = {name for part in (fields, kinds) for name in _texts(part)} | {
        unit for row in errors.values() for unit in row
    }
    shown = {row.kind for row in QUANTITIES.values()} | {spec.kind for spec in READINGS.values()}
    symbols = {
        symbol: one
        for kind, rows in conversions().items()
        for symbol, one in rows.items()
        if kind in shown or symbol in asked
    }
    return orjson.dumps(
        {
            "version": SERVICE_VERSION,
            "header": HEADER,
            "fields": fields,
            "kinds": kinds,
            "first": FIRST,
            "always": ALWAYS,
            "staged": STAGED,
            "settled": dict(SETTLED_BY),
            "usual": USUAL,
            "instead": INSTEAD,
            "headings": _headings(),
            "gives": _gives(),
            "refrigerants": list(REFRIGERANTS),
            "instruments": _instruments(),
            "classes": classes,
            "errors": errors,
            "units": {
                symbol: [one.scale, one.offset, unit_word(symbol), _decimals(symbol)] for symbol, one in symbols.items()
            },
            # A label that is the name with spaces needs no entry.
            "quantities": {
                name: row.label
                for name, row in QUANTITIES.items()
                if not row.internal and row.label != name.replace("_", " ").capitalize()
            },
        }
    )
