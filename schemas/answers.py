"""The parts that every answer is made of.

Answers are typed dictionaries: the service builds them as they leave, mypy checks each field where it is
built, and pydantic documents the same types and checks them in the tests.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, TypeVar, cast

from pydantic import ConfigDict, Field, WithJsonSchema, with_config
from typing_extensions import TypedDict

from schemas.growth import may_get_fields


@with_config(ConfigDict(extra="forbid", json_schema_extra=may_get_fields))
class Answer(TypedDict):
    """Base of every answer. Fields, codes and names may be added: accept those you do not know."""


_Base = TypeVar("_Base", bound=Mapping[str, Any])


def base_form(form: type[_Base], answer: Mapping[str, Any]) -> _Base:
    """The fields of an answer that its base has too, in their order: an answer without what the rest adds."""
    fields: frozenset[str] = form.__required_keys__  # type: ignore[attr-defined]
    return cast("_Base", {name: value for name, value in answer.items() if name in fields})


#: A date and time of an answer: ISO 8601, as text.
Moment = Annotated[str, WithJsonSchema({"type": "string", "format": "date-time"})]


def fact(description: str, example: Any, unit: str | None = None, **bounds: Any) -> Any:  # noqa: ANN401
    """The documentation of a field of an answer."""
    extra: Any = {"x-unit": unit} if unit else None
    return Field(description=description, examples=[example], json_schema_extra=extra, **bounds)
