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
    NoticeRow(
        "pressure_fell",
        "reservation",
        "The pressure fell by {fall} after it was isolated. The pump was still connected, the gauge was cooling down, "
        "or ice is forming. Isolate, wait a minute, and start again.",
        "practice",
    ),
    NoticeRow(
        "few_readings",
        "reservation",
        "{count} readings do not show the shape of a rise. Five or more, evenly spaced, do.",
        "practice",
    ),
    NoticeRow(
        "short_rise_test",
        "note",
        "The test lasted {minutes} min. The usual limits apply after ten minutes.",
        "standing_vacuum_1000",
    ),
    NoticeRow(
        "shallow_vacuum",
        "reservation",
        "The test began at {start}. At such a pressure moisture hardly evaporates, and a rise says little. Evacuate "
        "below 500 µm first.",
        "evacuate_500",
    ),
    NoticeRow(
        "saturation_exceeded",
        "note",
        "The pressure passed {saturation}, the saturation pressure of water at the coldest part. Drying alone cannot "
        "do that.",
        "water_saturation",
    ),
    NoticeRow(
        "rest_not_shown",
        "reservation",
        "How long the unit has been off is not given. It takes about 30 minutes to settle.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "rested_briefly",
        "reservation",
        "The unit has been off for {minutes} min. It takes about 30 minutes to settle; until then the pressure is not "
        "that of one temperature.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "not_settled",
        "reservation",
        "The temperatures differ by {difference}, so the unit has not settled or a probe is wrong. The pressure "
        "follows the coldest place that holds liquid.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "sun_on_coil",
        "reservation",
        "The sun shines on the coil: no single temperature holds for the liquid. Shade it and wait.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "crankcase_heater_on",
        "reservation",
        "The crankcase heater keeps the compressor warm, and refrigerant moves away from it. Readings at the coil then "
        "need more time to settle.",
        "non_condensables_at_rest",
    ),
    NoticeRow(
        "more_than_full",
        "reservation",
        "{added} were added at once, more than the full charge of {full}. Check both numbers and their units.",
        "definition",
    ),
    NoticeRow(
        "short_interval",
        "reservation",
        "Only {days} days lie between the additions, so the annual rate is a wide extrapolation.",
        "practice",
    ),
    NoticeRow(
        "full_charge_assumed",
        "note",
        "The full charge is taken as known to 5 % (standard uncertainty); state your own if you know it better.",
        "practice",
    ),
)

CHECK_NOTICES: Mapping[str, NoticeRow] = MappingProxyType({row.name: row for row in _ROWS})
