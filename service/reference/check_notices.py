"""Notices of the checks: what is odd about their readings.  The one place to touch for a new one."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from service.reference.notices import NoticeRow

_ROWS = (
    NoticeRow(
        "pressure_rose",
        "reservation",
        "The pressure rose by more than the temperature explains, which no leak does. The probe did not follow the gas "
        "(sun on the coil, a probe in the air), or gas was added. Start again.",
        "gas_laws",
    ),
    NoticeRow(
        "large_temperature_swing",
        "reservation",
        "The gas temperature changed by {change}. One probe does not show the mean temperature of coils and lines in "
        "such a swing, so its error may be larger than stated. A shorter test in steady shade says more.",
        "pressure_test_hour",
    ),
    NoticeRow(
        "gas_still_settling",
        "note",
        "The test lasted {minutes} min. Filling warms the gas, and it takes minutes to settle. Read again later: a "
        "longer test sees a smaller leak.",
        "practice",
    ),
)

CHECK_NOTICES: Mapping[str, NoticeRow] = MappingProxyType({row.name: row for row in _ROWS})
