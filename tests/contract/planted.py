"""A small contract, and changes to it of which it is known whether they break a client."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

Document = dict[str, Any]

_NUMBER = {"type": "number", "minimum": 0, "maximum": 100}

OLD: Document = {
    "openapi": "3.1.0",
    "info": {"title": "Planted", "version": "1.0.0"},
    "paths": {
        "/v1/answers": {
            "post": {
                "operationId": "answer",
                "parameters": [
                    {
                        "name": "form",
                        "in": "query",
                        "required": False,
                        "schema": {"anyOf": [{"type": "string", "enum": ["json", "csv"]}, {"type": "null"}]},
                    },
                    {
                        "name": "most",
                        "in": "query",
                        "required": False,
                        "schema": {"type": "integer", "minimum": 1, "maximum": 10, "default": 5},
                    },
                ],
                "requestBody": {
                    "required": True,
                    "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Asked"}}},
                },
                "responses": {
                    "200": {
                        "description": "The answer.",
                        "content": {
                            "application/json": {"schema": {"$ref": "#/components/schemas/Answer"}},
                            "text/csv": {"schema": {"type": "string"}},
                        },
                    },
                    "422": {
                        "description": "Refused.",
                        "content": {"application/problem+json": {"schema": {"type": "object"}}},
                    },
                },
            }
        },
        "/v1/list": {
            "get": {
                "operationId": "list",
                "responses": {
                    "200": {
                        "description": "The list.",
                        "content": {
                            "application/json": {
                                "schema": {"type": "array", "items": {"$ref": "#/components/schemas/Row"}}
                            }
                        },
                    }
                },
            }
        },
    },
    "components": {
        "schemas": {
            "Asked": {
                "type": "object",
                "additionalProperties": False,
                "required": ["system"],
                "properties": {
                    "system": {"type": "string", "enum": ["imperial", "metric"]},
                    "reading": {
                        "anyOf": [
                            _NUMBER,
                            {"$ref": "#/components/schemas/WithUnit"},
                            {"type": "array", "items": _NUMBER, "minItems": 2, "maxItems": 9},
                            {"type": "null"},
                        ]
                    },
                    "note": {"type": "string", "maxLength": 80, "pattern": "^[^\\x00]+$"},
                    "kit": {
                        "type": "object",
                        "maxProperties": 4,
                        "propertyNames": {"maxLength": 20},
                        "additionalProperties": {"$ref": "#/components/schemas/WithUnit"},
                    },
                    "mode": {"type": "string", "default": "cooling", "enum": ["cooling", "heating"]},
                },
            },
            "WithUnit": {
                "type": "object",
                "additionalProperties": False,
                "required": ["value"],
                "properties": {
                    "value": _NUMBER,
                    "unit": {"anyOf": [{"type": "string", "enum": ["psi", "kPa"]}, {"type": "null"}]},
                },
            },
            "Answer": {
                "type": "object",
                "required": ["grade", "value", "rows"],
                "properties": {
                    "grade": {"type": "string", "enum": ["good", "poor"]},
                    "fault": {"type": "string", "enum": ["leak"], "x-open-set": True},
                    "value": {"anyOf": [{"type": "number"}, {"type": "null"}]},
                    "count": {"type": "integer", "minimum": 0},
                    "rows": {"type": "object", "additionalProperties": {"$ref": "#/components/schemas/Row"}},
                    "within": {"oneOf": [{"$ref": "#/components/schemas/Row"}, {"type": "null"}]},
                },
            },
            "Row": {
                "title": "Row",
                "type": "object",
                "required": ["low", "high"],
                "properties": {
                    "low": {"type": "number"},
                    "high": {"type": "number"},
                    "inner": {"type": "array", "items": {"$ref": "#/components/schemas/Row"}},
                },
            },
        }
    },
}


def _at(*path: str | int) -> Callable[[Document], Any]:
    def found(document: Document) -> Any:  # noqa: ANN401
        part: Any = document
        for step in path:
            part = part[step]
        return part

    return found


_schemas = _at("components", "schemas")
_asked = _at("components", "schemas", "Asked")
_fields = _at("components", "schemas", "Asked", "properties")
_unit = _at("components", "schemas", "WithUnit")
_answer = _at("components", "schemas", "Answer")
_shown = _at("components", "schemas", "Answer", "properties")
_row = _at("components", "schemas", "Row")
_post = _at("paths", "/v1/answers", "post")
_responses = _at("paths", "/v1/answers", "post", "responses")
_parameters = _at("paths", "/v1/answers", "post", "parameters")

_HEADER = {"name": "x-key", "in": "header", "schema": {"type": "string"}}

Change = Callable[[Document], object]

#: Each breaks some client that did nothing wrong.
BREAKING: Mapping[str, Change] = MappingProxyType(
    {
        "an address is gone": lambda d: d["paths"].pop("/v1/list"),
        "a method is gone": lambda d: d["paths"]["/v1/list"].update(put=d["paths"]["/v1/list"].pop("get")),
        "an operation has another id": lambda d: _post(d).update(operationId="reply"),
        "an operation asks for a key": lambda d: _post(d).update(security=[{"key": []}]),
        "a parameter is gone": lambda d: _parameters(d).pop(),
        "a new parameter is required": lambda d: _parameters(d).append({**_HEADER, "required": True}),
        "a parameter becomes required": lambda d: _parameters(d)[0].update(required=True),
        "a parameter takes fewer names": lambda d: _parameters(d)[0]["schema"]["anyOf"][0]["enum"].remove("csv"),
        "a parameter takes a smaller range": lambda d: _parameters(d)[1]["schema"].update(maximum=9),
        "a default changes": lambda d: _parameters(d)[1]["schema"].update(default=6),
        "a body's media type is gone": lambda d: _post(d)["requestBody"].update(
            content={"application/xml": {"schema": {"type": "string"}}}
        ),
        "a field of a request is gone": lambda d: _fields(d).pop("note"),
        "a new field of a request is required": lambda d: (
            _fields(d).update(site={"type": "string"}),
            _asked(d)["required"].append("site"),
        ),
        "a field of a request becomes required": lambda d: _asked(d)["required"].append("note"),
        "a field of a request has another name": lambda d: _fields(d).update(text=_fields(d).pop("note")),
        "a field takes fewer names": lambda d: _fields(d)["system"]["enum"].remove("metric"),
        "a field takes one name only": lambda d: _fields(d).update(system={"const": "metric"}),
        "a field takes a smaller range": lambda d: _unit(d)["properties"].update(value={**_NUMBER, "maximum": 99}),
        "a field gets a bound": lambda d: _unit(d)["properties"].update(value={**_NUMBER, "exclusiveMinimum": 0}),
        "a field takes whole numbers only": lambda d: _unit(d)["properties"].update(
            value={**_NUMBER, "type": "integer"}
        ),
        "a field takes shorter texts": lambda d: _fields(d)["note"].update(maxLength=79),
        "a field gets a pattern": lambda d: _fields(d)["system"].update(pattern="^i"),
        "a field has another pattern": lambda d: _fields(d)["note"].update(pattern="^[a-z]+$"),
        "a field gets a format": lambda d: _fields(d)["note"].update(format="date-time"),
        "a bare number is not taken any more": lambda d: _fields(d)["reading"]["anyOf"].pop(0),
        "null is not taken any more": lambda d: _fields(d)["reading"]["anyOf"].pop(),
        "a list needs more items": lambda d: _fields(d)["reading"]["anyOf"].__setitem__(
            2, {"type": "array", "items": _NUMBER, "minItems": 3, "maxItems": 9}
        ),
        "a list takes fewer items": lambda d: _fields(d)["reading"]["anyOf"].__setitem__(
            2, {"type": "array", "items": _NUMBER, "minItems": 2, "maxItems": 8}
        ),
        "a list's items are narrower": lambda d: _fields(d)["reading"]["anyOf"].__setitem__(
            2, {"type": "array", "items": {**_NUMBER, "minimum": 1}, "minItems": 2, "maxItems": 9}
        ),
        "a branch loses a unit": lambda d: _unit(d)["properties"]["unit"]["anyOf"][0]["enum"].remove("kPa"),
        "a branch needs more": lambda d: _unit(d)["required"].append("unit"),
        "fewer entries are taken": lambda d: _fields(d)["kit"].update(maxProperties=3),
        "shorter names of entries are taken": lambda d: _fields(d)["kit"]["propertyNames"].update(maxLength=19),
        "entries are of another kind": lambda d: _fields(d)["kit"].update(additionalProperties={"type": "string"}),
        "a default of a field changes": lambda d: _fields(d)["mode"].update(default="heating"),
        "a status is gone": lambda d: _responses(d).pop("422"),
        "a new success": lambda d: _responses(d).update({"202": {"description": "Later."}}),
        "a form of an answer is gone": lambda d: _responses(d)["200"]["content"].pop("text/csv"),
        "a field of an answer is gone": lambda d: (_shown(d).pop("value"), _answer(d)["required"].remove("value")),
        "a field of an answer has another name": lambda d: (
            _shown(d).update(amount=_shown(d).pop("value")),
            _answer(d).update(required=["grade", "amount", "rows"]),
        ),
        "an optional field of an answer is gone": lambda d: _shown(d).pop("count"),
        "a field of an answer becomes optional": lambda d: _answer(d)["required"].remove("value"),
        "a field of an answer may be null": lambda d: _shown(d).update(
            count={"anyOf": [{"type": "integer", "minimum": 0}, {"type": "null"}]}
        ),
        "a field of an answer has another type": lambda d: _shown(d).update(count={"type": "string"}),
        "a field of an answer is any number": lambda d: _shown(d)["count"].update(type="number"),
        "a field of an answer loses a bound": lambda d: _shown(d)["count"].pop("minimum"),
        "a field of an answer may be anything": lambda d: _shown(d).update(count={}),
        "a closed set of an answer grows": lambda d: _shown(d)["grade"]["enum"].append("fair"),
        "a set of an answer is no set any more": lambda d: _shown(d)["grade"].pop("enum"),
        "an open set changes its type": lambda d: _shown(d).update(fault={"type": "integer", "x-open-set": True}),
        "a row deep in an answer loses a field": lambda d: (
            _row(d)["properties"].pop("low"),
            _row(d)["required"].pop(0),
        ),
        "a row deep in an answer may lack a field": lambda d: _row(d)["required"].pop(),
        "entries of an answer are of another kind": lambda d: _shown(d)["rows"].update(
            additionalProperties={"type": "number"}
        ),
        "an answer has a new form": lambda d: _shown(d)["within"]["oneOf"].append({"type": "string"}),
        "a form of an answer is marked and changed": lambda d: (
            _row(d).update({"x-only-if-asked": True}),
            _row(d)["properties"].pop("low"),
            _row(d)["required"].pop(0),
        ),
        "an answer is a list": lambda d: _schemas(d).update(Answer={"type": "array", "items": _answer(d)}),
    }
)

#: None breaks a client that ignores what it does not know.
KEPT: Mapping[str, Change] = MappingProxyType(
    {
        "nothing": lambda _: None,
        "a new address": lambda d: d["paths"].update({"/v1/more": copy.deepcopy(d["paths"]["/v1/list"])}),
        "a new method": lambda d: d["paths"]["/v1/list"].update(post=copy.deepcopy(_post(d))),
        "a new parameter": lambda d: _parameters(d).append({**_HEADER, "required": False}),
        "a parameter takes more names": lambda d: _parameters(d)[0]["schema"]["anyOf"][0]["enum"].append("xlsx"),
        "a parameter takes a larger range": lambda d: _parameters(d)[1]["schema"].update(maximum=20),
        "another media type of a body": lambda d: _post(d)["requestBody"]["content"].update(
            {"application/cbor": {"schema": {"type": "string"}}}
        ),
        "a body may be left out": lambda d: _post(d)["requestBody"].update(required=False),
        "a new field of a request": lambda d: _fields(d).update(site={"type": "string"}),
        "a field of a request may be left out": lambda d: _asked(d).update(required=[]),
        "a field of a request is deprecated": lambda d: _fields(d)["note"].update(deprecated=True),
        "a field takes more names": lambda d: _fields(d)["system"]["enum"].append("si"),
        "a field takes a larger range": lambda d: _unit(d)["properties"].update(value={**_NUMBER, "maximum": 101}),
        "a field loses a bound": lambda d: _unit(d)["properties"].update(value={"type": "number", "minimum": 0}),
        "a field takes null too": lambda d: _fields(d).update(note={"anyOf": [_fields(d)["note"], {"type": "null"}]}),
        "a field takes another form": lambda d: _fields(d)["reading"]["anyOf"].append({"type": "string"}),
        "branches stand in another order": lambda d: _fields(d)["reading"]["anyOf"].reverse(),
        "a union is written otherwise": lambda d: _fields(d)["reading"].update(
            oneOf=_fields(d)["reading"].pop("anyOf")
        ),
        "a component has another name": lambda d: (
            _schemas(d).update(Unit=_unit(d)),
            _fields(d)["reading"]["anyOf"].__setitem__(1, {"$ref": "#/components/schemas/Unit"}),
        ),
        "a unit more": lambda d: _unit(d)["properties"]["unit"]["anyOf"][0]["enum"].append("bar"),
        "more entries are taken": lambda d: _fields(d)["kit"].update(maxProperties=5),
        "texts and examples": lambda d: _fields(d)["note"].update(description="Other words.", examples=["x"]),
        "a link": lambda d: _responses(d)["200"].update(links={"list": {"operationId": "list"}}),
        "a new kind of error": lambda d: _responses(d).update({"503": {"description": "Busy."}}),
        "a new form of an answer": lambda d: _responses(d)["200"]["content"].update(
            {"text/html": {"schema": {"type": "string"}}}
        ),
        "a new form of an answer that only those get who ask": lambda d: _shown(d)["within"]["oneOf"].append(
            {"type": "string", "title": "Short", "x-only-if-asked": True}
        ),
        "a new field of an answer": lambda d: _shown(d).update(more={"type": "number"}),
        "a field of an answer is always there": lambda d: _answer(d)["required"].append("count"),
        "a field of an answer is never null": lambda d: _shown(d).update(value={"type": "number"}),
        "a field of an answer gets a bound": lambda d: _shown(d)["count"].update(maximum=10),
        "a closed set of an answer shrinks": lambda d: _shown(d)["grade"]["enum"].remove("poor"),
        "an open set of an answer grows": lambda d: _shown(d)["fault"]["enum"].append("other"),
        "a number of an answer is whole": lambda d: _row(d)["properties"].update(low={"type": "integer"}),
    }
)


def changed(change: Change) -> Document:
    """The contract after a change."""
    document = copy.deepcopy(OLD)
    change(document)
    return document
