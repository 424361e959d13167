"""What may grow within a version of the contract, and how it says so."""

from __future__ import annotations

from typing import Any

from pydantic import ConfigDict, GetJsonSchemaHandler
from pydantic_core import CoreSchema

#: Marks a set of names, in an answer, to which a later release may add.
OPEN_SET = "x-open-set"
#: Marks a form of an answer, one of several, that only those requests get which ask for it by a parameter or a
#: kind of line that was added together with it.
ONLY_IF_ASKED = "x-only-if-asked"


def may_get_fields(published: dict[str, Any]) -> None:
    """Publish an answer without a word on other fields: a later release may add some.

    The model itself still forbids them, so that tests find what is not documented.
    """
    if published.get("additionalProperties") is False:
        del published["additionalProperties"]


def _marked(published: dict[str, Any]) -> None:
    may_get_fields(published)
    published[ONLY_IF_ASKED] = True


#: Configuration of a form of an answer that only requests get which use something that was added with it.
only_if_asked = ConfigDict(extra="forbid", json_schema_extra=_marked)


class MayGrow:
    """Marks a set of names as open (:data:`OPEN_SET`)."""

    def __get_pydantic_json_schema__(self, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Add the mark."""
        return {**handler(core_schema), OPEN_SET: True}
