"""A small example of what belongs at a refused field, from the contract's own examples."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from service.edge.near_names import fields_at, objects_of, takes_numbers

#: Characters of an example beyond which it explains nothing.
_LONGEST = 240


def example_of(model: Any, location: Sequence[object]) -> str | None:  # noqa: ANN401
    """The value of a field, as JSON; None if there is no short one."""
    field = _field(model, location)
    shown = None if field is None else _example(model, field)
    text = None if shown is None else json.dumps(shown, ensure_ascii=False)
    return text if text is not None and len(text) <= _LONGEST else None


def object_with(model: Any, location: Sequence[object], given: object) -> str | None:  # noqa: ANN401
    """An object as JSON that holds the bare number which was given in its place; None if none can."""
    field = _field(model, location)
    if field is None or isinstance(given, bool) or not isinstance(given, int | float):
        return None
    for one in objects_of(model, field):
        required = one.get("required") or list(one["properties"])[:1]
        if len(required) == 1 and takes_numbers(model, one["properties"][required[0]]):
            return json.dumps({required[0]: given})
    return None


def _field(model: Any, location: Sequence[object]) -> Mapping[str, Any] | None:  # noqa: ANN401
    if model is None or not location:
        return None
    *above, last = location
    field = fields_at(model, above).get(str(last))
    return field if isinstance(field, Mapping) else None


def _example(model: Any, field: Mapping[str, Any]) -> Any:  # noqa: ANN401
    """The first example of a field, with its empty objects filled in from theirs."""
    shown = next(iter(field.get("examples", ())), None)
    if not isinstance(shown, Mapping):
        return shown
    # In the order of the contract: before comes before after.
    inner = {name: part for one in objects_of(model, field) for name, part in one["properties"].items()}
    known = {name: _example(model, _exemplified(part, shown[name])) for name, part in inner.items() if name in shown}
    return {**known, **{name: value for name, value in shown.items() if name not in known}}


def _exemplified(field: Mapping[str, Any], value: object) -> Mapping[str, Any]:
    """A field with a value as its example, or with its own where the value is an empty object."""
    return field if value == {} else {**field, "examples": [value]}
