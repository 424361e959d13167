"""Run capacitors as a technician reads them off the can: `45/5 MFD ±6% 440 VAC`."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple

from pydantic import AfterValidator, BeforeValidator, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError

#: Type of the error of a text that is not a marking.
NOT_A_MARKING = "capacitor_marking"

_SECTION = r"(?:0\.[1-9][0-9]?|[1-9][0-9]?(?:\.[0-9]{1,2})?|[1-4][0-9][0-9](?:\.[0-9]{1,2})?)"
_UNIT = r"(?: ?(?:[uUµμ][fF]|[mM][fF][dD]))?"
_VOLTS = r"(?: ?[0-9]{3}(?:/[0-9]{3})? ?[vV](?: ?[aA][cC])?)?"
_HERTZ = r"(?: ?(?:[0-9]{2}/)?[0-9]{2} ?[hH][zZ])?"


def _tolerance(group: str) -> str:
    """The tolerance as a group that opens so; after a space where its sign is not printed."""
    return rf"(?:(?: ?(?:±|\+/-) ?| ){group}[1-4][0-9]|[1-9]) ?%)?"


def _rest(one: str, other: str) -> str:
    """What may follow the microfarads: tolerance, voltage and frequency as cans have them, in either order."""
    return rf"{_UNIT}(?:{_tolerance(one)}{_VOLTS}{_HERTZ}|{_VOLTS}{_HERTZ}{_tolerance(other)})"


_REST = _rest("(?:", "(?:")
ONE_SECTION = f"^{_SECTION}{_REST}$"
TWO_SECTIONS = f"^{_SECTION} ?[/+] ?{_SECTION}{_REST}$"

_MARKING = re.compile(
    rf"(?P<first>{_SECTION})(?: ?[/+] ?(?P<second>{_SECTION}))?" + _rest("(?P<tolerance>", "(?P<after>")
)


class Marking(NamedTuple):
    """What a capacitor's marking states: microfarads of each section, and the tolerance [%] where it is marked."""

    sections: tuple[float, ...]
    tolerance_percent: float | None


def read_marking(text: str) -> Marking | None:
    """The marking in a text; None where it is none."""
    found = _MARKING.fullmatch(text.strip())
    if found is None:
        return None
    sections = tuple(float(part) for part in (found["first"], found["second"]) if part is not None)
    tolerance = found["tolerance"] or found["after"]
    return Marking(sections, None if tolerance is None else float(tolerance))


class OrMarking:
    """Publishes a text next to the object that it stands for."""

    def __init__(self, pattern: str, example: str, description: str) -> None:
        self.pattern, self.example, self.description = pattern, example, description

    def __get_pydantic_json_schema__(self, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Both forms."""
        text = {
            "type": "string",
            "pattern": self.pattern,
            "maxLength": 60,
            "description": self.description,
            "examples": [self.example],
        }
        return {"anyOf": [handler(core_schema), text]}


def _refused(sections: object) -> PydanticCustomError:
    form = '"45"' if sections == 1 else '"45/5"'
    return PydanticCustomError(
        NOT_A_MARKING, "the marking of a capacitor is expected", {"sections": sections, "form": form}
    )


def _from_marking(sections: int, made: Callable[[Marking], dict[str, Any]]) -> BeforeValidator:
    def read(value: object) -> object:
        if not isinstance(value, str):
            return value
        marking = read_marking(value)
        if marking is None or len(marking.sections) != sections:
            raise _refused(sections)
        return made(marking)

    return BeforeValidator(read)


def _part(microfarads: float, tolerance: float | None) -> dict[str, Any]:
    return {"microfarads": microfarads, "tolerance_percent": tolerance}


def _two_parts(marking: Marking) -> dict[str, Any]:
    """The larger section is the compressor's (HERM), the smaller the fan's (FAN), whichever is printed first."""
    fan, compressor = sorted(marking.sections)
    return {
        "compressor": _part(compressor, marking.tolerance_percent),
        "outdoor_fan": _part(fan, marking.tolerance_percent),
    }


#: For one capacitor: its object, or its marking.
ONE_PART = (
    _from_marking(1, lambda marking: _part(marking.sections[0], marking.tolerance_percent)),
    OrMarking(ONE_SECTION, "45 uF ±6%", "The marking of a capacitor with one section."),
)
#: For the capacitors of a unit: their object, or the marking of a two-section can.
TWO_PARTS = (
    _from_marking(2, _two_parts),
    OrMarking(
        TWO_SECTIONS,
        "45/5",
        "The marking of a two-section capacitor, as on the can: the larger section is the compressor's (HERM), "
        "the smaller the outdoor fan's (FAN).",
    ),
)


def _is_marking(text: str) -> str:
    if read_marking(text) is None:
        raise _refused("1 or 2")
    return text


class _AnyMarking:
    """Publishes the pattern of a text that is the marking of one or of two sections."""

    def __get_pydantic_json_schema__(self, core_schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """With the pattern."""
        pattern = f"^(?:{TWO_SECTIONS[1:-1]}|{ONE_SECTION[1:-1]})$"
        return {**handler(core_schema), "pattern": pattern, "maxLength": 60}


#: For a text that is a marking.
EITHER = (AfterValidator(_is_marking), _AnyMarking())
