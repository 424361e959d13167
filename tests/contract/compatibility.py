"""Whether a later contract keeps what an earlier one promised: OpenAPI 3.1, offline.

A request that the earlier contract allows must be allowed by the later one; an answer that the later one
describes must be one that the earlier described, save for what may grow: fields of answers, sets of
names marked ``x-open-set``, new kinds of error.  ``planted.py`` holds changes of either kind.

Weighed before: four checkers from the package index, on those planted changes (2026-11).  They missed 29
to 50 of 54 breaking ones (bounds, unions, defaults, what lies in lists and tables), and called up to
seven of 32 harmless ones breaking; the well-known ones are no packages of an index at hand.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal

import jsonschema_rs

from schemas.growth import ONLY_IF_ASKED, OPEN_SET

Schema = Mapping[str, Any]
Direction = Literal["request", "answer"]

_TYPES = frozenset({"null", "boolean", "integer", "number", "string", "array", "object"})
#: Keywords that say nothing of what is valid.
_WORDS = frozenset(
    {
        "title",
        "description",
        "examples",
        "example",
        "deprecated",
        "readOnly",
        "writeOnly",
        "$comment",
        "externalDocs",
        "default",
        "discriminator",
    }
)
#: Keywords that are compared.
_COMPARED = frozenset(
    {
        "$ref",
        "anyOf",
        "oneOf",
        "type",
        "enum",
        "const",
        "minimum",
        "maximum",
        "exclusiveMinimum",
        "exclusiveMaximum",
        "minLength",
        "maxLength",
        "pattern",
        "format",
        "contentMediaType",
        "contentSchema",
        "contentEncoding",
        "items",
        "minItems",
        "maxItems",
        "properties",
        "required",
        "additionalProperties",
        "propertyNames",
        "minProperties",
        "maxProperties",
    }
)

#: (keyword, whether more of it is stricter, types that it speaks of)
_BOUNDS = (
    ("minLength", True, {"string"}),
    ("maxLength", False, {"string"}),
    ("minItems", True, {"array"}),
    ("maxItems", False, {"array"}),
    ("minProperties", True, {"object"}),
    ("maxProperties", False, {"object"}),
)


def broken(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[str]:
    """What of the old contract the new one breaks, a line each; empty where it keeps all.

    Raises
    ------
    ValueError
        For a keyword of JSON Schema that is not compared.
    """
    for document in (old, new):
        for schema in _every_schema(document):
            unknown = {key for key in schema if not key.startswith("x-")} - _WORDS - _COMPARED
            if unknown:
                raise ValueError(f"keywords that are not compared: {sorted(unknown)}")
    comparison = _Comparison(old, new)
    found = []
    for path, operations in old["paths"].items():
        for method, operation in operations.items():
            where = f"{method.upper()} {path}"
            later = new["paths"].get(path, {}).get(method)
            if later is None:
                found.append(f"{where}: is gone")
            else:
                found += comparison.operation(where, operation, later)
    return list(dict.fromkeys(found))


class _Comparison:
    """Two contracts, and which of their parts were compared already."""

    def __init__(self, old: Mapping[str, Any], new: Mapping[str, Any]) -> None:
        self.old, self.new = old, new
        self.alike = _alike(old, new)
        self.seen: set[str] = set()

    # ------------------------------------------------------------ operations

    def operation(self, where: str, old: Schema, new: Schema) -> Iterator[str]:
        if old.get("operationId") != new.get("operationId"):
            yield f"{where}: has another operationId"
        if new.get("security", self.new.get("security")) != old.get("security", self.old.get("security")):
            yield f"{where}: asks for other credentials"
        yield from self._parameters(where, old, new)
        yield from self._body(f"{where}, body", old.get("requestBody"), new.get("requestBody"))
        yield from self._responses(where, old["responses"], new["responses"])

    def _parameters(self, where: str, old: Schema, new: Schema) -> Iterator[str]:
        before, after = (
            {(row["in"], row["name"]): row for row in operation.get("parameters", ())} for operation in (old, new)
        )
        for key, row in after.items():
            if row.get("required", False) and not before.get(key, {}).get("required", False):
                yield f"{where}, {' '.join(key)}: is required"
        for key, row in before.items():
            place = f"{where}, {' '.join(key)}"
            if key not in after:
                yield f"{place}: is gone"
                continue
            yield from _default(place, row["schema"], after[key]["schema"])
            yield from self.within("request", place, row["schema"], after[key]["schema"])

    def _body(self, where: str, old: Schema | None, new: Schema | None) -> Iterator[str]:
        if old is None or new is None:
            if old is not None:
                yield f"{where}: is not taken"
            elif new is not None and new.get("required", False):
                yield f"{where}: is required"
            return
        if new.get("required", False) and not old.get("required", False):
            yield f"{where}: is required"
        yield from self._content("request", where, old["content"], new["content"])

    def _responses(self, where: str, old: Schema, new: Schema) -> Iterator[str]:
        for status in new:
            if status not in old and status[0] in "23":
                yield f"{where}, {status}: is another success"
        for status, response in old.items():
            place = f"{where}, {status}"
            if status not in new:
                yield f"{place}: is gone"
                continue
            for header in response.get("headers", {}):
                if header not in new[status].get("headers", {}):
                    yield f"{place}, header {header}: is gone"
            yield from self._content("answer", place, response.get("content", {}), new[status].get("content", {}))

    def _content(self, direction: Direction, where: str, old: Schema, new: Schema) -> Iterator[str]:
        for media_type, row in old.items():
            if media_type not in new:
                yield f"{where}: {media_type} is gone"
                continue
            yield from self.within(
                direction, f"{where} {media_type}", row.get("schema", {}), new[media_type].get("schema", {})
            )

    # ------------------------------------------------------------ schemas

    def within(self, direction: Direction, where: str, old: Any, new: Any) -> list[str]:  # noqa: ANN401
        """Why a value that the one allows is none of the other: old in new of requests, new in old of answers."""
        inner, outer = (old, new) if direction == "request" else (new, old)
        inside, outside = (self.old, self.new) if direction == "request" else (self.new, self.old)
        if inner == outer and _references(inner) <= self.alike:
            return []
        key = json.dumps([direction, inner, outer], sort_keys=True)
        if key in self.seen:
            return []  # compared above, or being compared: a schema may hold itself
        self.seen.add(key)
        found: list[str] = []
        wide = list(_branches(outer, outside))
        for branch in _branches(inner, inside):
            if direction == "answer" and _added_on_request(branch, wide):
                continue
            tried: list[list[str]] = []
            for one in wide:
                complaints, seen = self._tried(direction, where, branch, one)
                if not complaints:
                    self.seen = seen
                    break
                tried.append(complaints)
            else:
                # The nearest tells best what is wrong: of the same type, then with the least to say.
                nearest = min(tried, key=_distance)
                found += nearest
        if found:
            # Another way to this pair of schemas has the same to complain of.
            self.seen.discard(key)
        return found

    def _tried(self, direction: Direction, where: str, inner: Schema, outer: Schema) -> tuple[list[str], set[str]]:
        """Complaints of one branch against one other, and what was compared on the way."""
        above = set(self.seen)
        complaints = list(self._fits(direction, where, inner, outer))
        on_the_way, self.seen = self.seen, above
        return complaints, on_the_way

    def _fits(self, direction: Direction, where: str, inner: Schema, outer: Schema) -> Iterator[str]:
        if inner is _NOTHING:
            return
        types, allowed = _types(inner), _types(outer)
        if not types <= allowed:
            yield f"{where}: is of another kind ({_told(types - allowed)})"
            return
        values = _values(inner)
        names = None if direction == "answer" and outer.get(OPEN_SET) else _values(outer)
        if values is not None and names is not None:
            more = [value for value in values if value not in names]
            if more:
                yield f"{where}: {_told(map(json.dumps, more))} " + (
                    "is not taken" if direction == "request" else "is new in a closed set"
                )
        elif names is not None:
            yield (
                f"{where}: is {_told(map(json.dumps, names))} alone"
                if direction == "request"
                else (f"{where}: is no closed set any more")
            )
        if values is not None:
            yield from self._values_fit(where, values, outer)
        yield from self._bounds(where, types, values, inner, outer)
        if "contentSchema" in outer:
            yield from self._turned(
                direction, f"{where}, its text", inner.get("contentSchema", {}), outer["contentSchema"]
            )
        if "array" in types:
            yield from self._turned(direction, f"{where}/*", inner.get("items", {}), outer.get("items", {}))
        if "object" in types:
            yield from self._object(direction, where, inner, outer)

    @staticmethod
    def _values_fit(where: str, values: Sequence[Any], outer: Schema) -> Iterator[str]:
        bare = {
            key: outer[key]
            for key in ("pattern", "format", "minLength", "maxLength", "minimum", "maximum")
            if key in outer
        }
        for value in values:
            if not jsonschema_rs.Draft202012Validator(bare).is_valid(value):
                yield f"{where}: {json.dumps(value)} does not fit {_told(bare)}"

    @staticmethod
    def _bounds(
        where: str,
        types: frozenset[str],
        values: Sequence[Any] | None,
        inner: Schema,
        outer: Schema,
    ) -> Iterator[str]:
        if values is None:
            if types & {"number", "integer"}:
                for keyword, upper in (("minimum", False), ("maximum", True)):
                    if _end(outer, upper=upper) < _end(inner, upper=upper):
                        yield f"{where}: {keyword} is stricter"
            for keyword in ("pattern", "format", "contentMediaType", "contentEncoding"):
                if keyword in outer and outer[keyword] != inner.get(keyword):
                    yield f"{where}: {keyword} is another"
        for keyword, more, of in _BOUNDS:
            if values is not None or not of & types or keyword not in outer:
                continue
            mine = inner.get(keyword, 0 if more else float("inf"))
            if mine < outer[keyword] if more else mine > outer[keyword]:
                yield f"{where}: {keyword} is stricter"

    def _object(self, direction: Direction, where: str, inner: Schema, outer: Schema) -> Iterator[str]:
        for name in outer.get("required", ()):
            if name not in inner.get("required", ()):
                yield f"{where}/{name}: " + ("is required" if direction == "request" else "may be left out")
        yield from self._fields_of_outer(direction, where, inner, outer)
        yield from self._fields_of_inner(direction, where, inner, outer)
        yield from self._other_fields(direction, where, inner, outer)

    def _fields_of_outer(self, direction: Direction, where: str, inner: Schema, outer: Schema) -> Iterator[str]:
        mine, rest = inner.get("properties", {}), inner.get("additionalProperties", {})
        for name, schema in outer.get("properties", {}).items():
            if name in mine:
                if direction == "request":
                    yield from _default(f"{where}/{name}", mine[name], schema)
                yield from self._turned(direction, f"{where}/{name}", mine[name], schema)
            elif direction == "answer":
                yield f"{where}/{name}: is gone"
            elif rest is not False:
                yield from self._turned(direction, f"{where}/{name}", rest, schema)

    def _fields_of_inner(self, direction: Direction, where: str, inner: Schema, outer: Schema) -> Iterator[str]:
        others, rest = outer.get("properties", {}), outer.get("additionalProperties", {})
        for name, schema in inner.get("properties", {}).items():
            if name in others:
                continue
            if rest is False:
                yield f"{where}/{name}: " + ("is gone" if direction == "request" else "is forbidden")
            else:
                yield from self._turned(direction, f"{where}/{name}", schema, rest)

    def _other_fields(self, direction: Direction, where: str, inner: Schema, outer: Schema) -> Iterator[str]:
        rest, others_rest = (part.get("additionalProperties", {}) for part in (inner, outer))
        if others_rest is False and rest is not False:
            yield f"{where}: takes no other fields"
        elif rest is not False:
            yield from self._turned(direction, f"{where}/*", rest, others_rest)
        if "propertyNames" in outer and rest is not False:
            text = {"type": "string"}
            yield from self._turned(
                direction,
                f"{where}, its names",
                text | inner.get("propertyNames", {}),
                text | outer["propertyNames"],
            )

    def _turned(self, direction: Direction, where: str, inner: Any, outer: Any) -> list[str]:  # noqa: ANN401
        old, new = (inner, outer) if direction == "request" else (outer, inner)
        return self.within(direction, where, old, new)


def _added_on_request(branch: Schema, old: Sequence[Schema]) -> bool:
    """Whether a form of an answer is new and comes only where a request asks for it."""
    return bool(branch.get(ONLY_IF_ASKED)) and branch.get("title") not in {one.get("title") for one in old}


_NOTHING: Schema = {"not": {}}


def _branches(schema: Any, document: Mapping[str, Any]) -> Iterator[Schema]:  # noqa: ANN401
    """What a value may be: each way by itself, of one type, references followed.

    ``oneOf`` is taken as ``anyOf``: branches of this contract exclude each other.
    """
    if schema is True:
        schema = {}
    if schema is False:
        yield _NOTHING
        return
    own = {key: value for key, value in schema.items() if key not in ("$ref", "anyOf", "oneOf")}
    parts: list[Any] = []
    if "$ref" in schema:
        name = schema["$ref"].removeprefix("#/components/schemas/")
        parts.append([document["components"]["schemas"][name]])
    parts += [schema[key] for key in ("anyOf", "oneOf") if key in schema]
    if not parts:
        types = own.get("type")
        for one in types if isinstance(types, list) else [types]:
            yield own if one is None else {**own, "type": one}
        return
    if len(parts) > 1:
        raise ValueError("more than one of $ref, anyOf and oneOf next to each other")
    for part in parts[0]:
        for branch in _branches(part, document):
            yield _joined(branch, own)


def _joined(branch: Schema, own: Schema) -> Schema:
    """A branch of a union with what the union itself says."""
    limits = {key for key in own if key in _COMPARED}
    both = limits & branch.keys()
    if both - {"required"}:
        raise ValueError(f"a union and its branch both say {sorted(both)}")
    whole = {**branch, **{key: own[key] for key in own if key in limits or key == OPEN_SET}}
    if both:
        whole["required"] = [*branch["required"], *own["required"]]
    return whole


def _references(schema: Any) -> set[str]:  # noqa: ANN401
    return set(re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(schema)))


def _alike(old: Mapping[str, Any], new: Mapping[str, Any]) -> set[str]:
    """Components that are the same in both, with all that they refer to."""
    before, after = (document["components"]["schemas"] for document in (old, new))
    found = {name for name in before if before[name] == after.get(name)}
    references = {name: _references(before[name]) for name in found}
    while changed := {name for name in found if not references[name] <= found}:
        found -= changed
    return found


def _every_schema(document: Mapping[str, Any]) -> Iterator[Schema]:
    """Every schema of a contract, and every one within another."""
    waiting: list[Any] = list(document["components"]["schemas"].values())
    for operations in document["paths"].values():
        for operation in operations.values():
            waiting += [row["schema"] for row in operation.get("parameters", ())]
            bodies = [operation.get("requestBody", {}), *operation["responses"].values()]
            waiting += [row.get("schema", {}) for body in bodies for row in body.get("content", {}).values()]
    while waiting:
        schema = waiting.pop()
        if not isinstance(schema, dict):
            continue
        yield schema
        waiting += [
            schema[key] for key in ("items", "additionalProperties", "propertyNames", "contentSchema") if key in schema
        ]
        waiting += [
            *schema.get("anyOf", ()),
            *schema.get("oneOf", ()),
            *schema.get("properties", {}).values(),
        ]


def _types(schema: Schema) -> frozenset[str]:
    """JSON types that a value may have; a whole number is a number."""
    if "type" in schema:
        found = {schema["type"]}
    elif _values(schema) is not None:
        names = {
            str: "string",
            bool: "boolean",
            int: "integer",
            float: "number",
            type(None): "null",
        }
        found = {names[type(value)] for value in _values(schema) or ()}
    else:
        found = set(_TYPES)
    return frozenset(found | {"integer"} if "number" in found else found)


def _values(schema: Schema) -> list[Any] | None:
    return [schema["const"]] if "const" in schema else schema.get("enum")


def _end(schema: Schema, *, upper: bool) -> tuple[float, int]:
    """How far a number may go: a larger pair is laxer, at either end."""
    plain, open_ = ("maximum", "exclusiveMaximum") if upper else ("minimum", "exclusiveMinimum")
    sign = 1.0 if upper else -1.0
    ends = [(sign * schema[plain], 1)] if plain in schema else []
    ends += [(sign * schema[open_], 0)] if open_ in schema else []
    return min(ends, default=(float("inf"), 1))


def _default(where: str, old: Any, new: Any) -> Iterator[str]:  # noqa: ANN401
    """A default that changes gives requests that leave the field out another meaning."""
    if isinstance(old, dict) and "default" in old and old["default"] != new.get("default"):
        yield f"{where}: has another default"


def _distance(complaints: Sequence[str]) -> tuple[bool, int]:
    return "is of another kind" in complaints[0], len(complaints)


def _told(things: Any) -> str:  # noqa: ANN401
    return ", ".join(sorted(map(str, things)))
