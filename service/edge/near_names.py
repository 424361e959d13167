"""What a caller may have meant by a name or a value that the contract does not know."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from pydantic import TypeAdapter
from rapidfuzz import process

from schemas.assessments import AssessmentRequest
from schemas.batches import BatchLine

#: Least similarity, in percent, at which another name is suggested.
_SIMILAR = 75
#: Characters of a refused name that are compared.
_LONGEST = 80

#: The trade's words for values that the contract spells out.
_TRADE_WORDS = {
    "txv": "thermostatic_expansion_valve",
    "tev": "thermostatic_expansion_valve",
    "eev": "electronic_expansion_valve",
    "exv": "electronic_expansion_valve",
    "piston": "fixed_orifice",
    "orifice": "fixed_orifice",
    "cap tube": "capillary_tube",
    "°f": "degF",
    "f": "degF",
    "°c": "degC",
    "c": "degC",
}


def near_field(location: Sequence[object], model: Any) -> str | None:  # noqa: ANN401
    """The field most like the last name of a location: one that exists there, else one from elsewhere.

    ``model`` is the kind of body, None if unknown.
    """
    *above, last = location
    name = str(last)
    here = [] if model is None else _names_at(model, above[1:])
    elsewhere = [] if name in _field_names() or model is BatchLine else _field_names()
    for names in (here, elsewhere):
        others = [other for other in names if other != name]
        found = process.extractOne(name[:_LONGEST], others, score_cutoff=_SIMILAR)
        if found is not None:
            return str(found[0])
    return None


def near_value(given: object, expected: str) -> str | None:
    """The allowed value most like the one given; ``expected`` holds them in single quotes."""
    values = re.findall(r"'([^']+)'", expected)
    if not isinstance(given, str) or not values:
        return None
    word = _TRADE_WORDS.get(given.strip().lower(), given.strip().lower())
    by_lower = {value.lower(): value for value in values}
    found = process.extractOne(word.lower(), list(by_lower), score_cutoff=_SIMILAR)
    return None if found is None else by_lower[str(found[0])]


@cache
def _field_names() -> tuple[str, ...]:
    """Every field name of an assessment's body."""
    models = AssessmentRequest.model_json_schema()
    parts = [models, *models["$defs"].values()]
    return tuple(sorted({name for part in parts for name in part.get("properties", {})}))


@cache
def _schema(model: Any) -> Mapping[str, Any]:  # noqa: ANN401
    return TypeAdapter(model).json_schema()


def _names_at(model: Any, location: Sequence[object]) -> list[str]:  # noqa: ANN401
    """The fields that a body of that kind may have at a place."""
    schema = _schema(model)
    definitions = schema.get("$defs", {})
    found = list(_objects(schema, definitions))
    for step in location:
        # A step that is not a field is a place in a list, a key of a table, or the name of a branch.
        deeper = [
            one
            for owner in found
            if step in owner["properties"]
            for one in _objects(owner["properties"][step], definitions)
        ]
        found = deeper or found
    return sorted({name for one in found for name in one["properties"]})


def _objects(part: Mapping[str, Any], definitions: Mapping[str, Any]) -> Iterator[Any]:
    """Every object that a part of a schema may be, or hold as a member of a list or a table."""
    if "$ref" in part:
        yield from _objects(definitions[part["$ref"].rsplit("/", 1)[1]], definitions)
    if "properties" in part:
        yield part
    for branch in (*part.get("anyOf", ()), *part.get("oneOf", ()), *part.get("allOf", ())):
        yield from _objects(branch, definitions)
    for within in (part.get("items"), part.get("additionalProperties")):
        if isinstance(within, Mapping):
            yield from _objects(within, definitions)
