"""Answers against the contract."""

from __future__ import annotations

from collections.abc import Hashable
from functools import cache
from typing import Any, TypeVar, cast

from pydantic import TypeAdapter

T = TypeVar("T")
_adapter = cache(TypeAdapter[Any])


def conforms(model: type[T], answer: object) -> T:
    """The answer as pydantic reads it; it raises where a field is missing, unknown or of another type."""
    found: T = _adapter(cast(Hashable, model)).validate_python(answer)
    return found
