"""Answers against the contract."""

from __future__ import annotations

from collections.abc import Hashable
from functools import cache
from typing import Any, TypeAlias, TypeVar, cast, get_type_hints

from pydantic import TypeAdapter

T = TypeVar("T")
#: An answer that a test takes apart, or plants something in.
Loose: TypeAlias = Any
_adapter = cache(TypeAdapter[Any])


def conforms(model: type[T], answer: object) -> T:
    """The answer as pydantic reads it; it raises where a field is missing, unknown or of another type."""
    found: T = _adapter(cast(Hashable, model)).validate_python(answer)
    return found


def untyped(answer: object) -> dict[str, Any]:
    """The same answer without its types, as a client that parses JSON has it."""
    return cast(dict[str, Any], answer)


def annotation(model: Any, field: str) -> Any:  # noqa: ANN401
    """The type of a field, of a request's model or of an answer."""
    return get_type_hints(model, include_extras=True)[field]
