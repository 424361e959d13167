"""What may grow within a version of the contract, and how it says so."""

from __future__ import annotations

from typing import Any

from pydantic import GetJsonSchemaHandler
from pydantic_core import CoreSchema

#: Marks a set of names, in an answer, to which a later release may add.
OPEN_SET = "x-open-set"


def may_get_fields(published: dict[str, Any]) -> None:
    """Publish an answer without a word on other fields: a later release may add some.

    The model itself still forbids them, so that tests find what is not documented.
    """
    if published.get("additionalProperties") is False:
        del published["additionalProperties"]


class MayGrow:
    """Marks a set of names as open (:data:`OPEN_SET`)."""

    def __get_pydantic_json_schema__(self, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Add the mark."""
        return {**handler(core_schema), OPEN_SET: True}
