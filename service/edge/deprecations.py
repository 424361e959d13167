"""What will go with the next major version, and how answers that use it say so (RFC 9745).

"How the contract grows" in DEVELOPERS.md is the policy.  A row here, ``deprecated: true`` in the schema, and
:func:`deprecation_headers` where the answer is made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType

#: The page that lists the rows.
ADDRESS = "/deprecations"


@dataclass(frozen=True, slots=True)
class Deprecation:
    """Something that is withdrawn: what, what to use in its place, and since when."""

    what: str
    instead: str
    since: datetime


_FIRST = datetime(2026, 12, 1, tzinfo=UTC)
DEPRECATIONS: Mapping[str, Deprecation] = MappingProxyType(
    {
        **{
            f"{name}_key": Deprecation(
                f"`{name}` in the answer of `GET /v1/{name}`", "`rows`, as in every list", _FIRST
            )
            for name in ("refrigerants", "instruments", "limits", "cautions", "faults")
        },
        "payback_band": Deprecation(
            "`worth.payback_band` in the answer of `POST /v1/comparisons`",
            "`worth.payback.band`, which has the shape of every other band",
            _FIRST,
        ),
        "crossing_dates": Deprecation(
            "`quantities.*.crossing.earliest` and `latest` in the answer of `POST /v1/trends`",
            "`quantities.*.crossing.band`, which has the shape of every other band",
            _FIRST,
        ),
    }
)


def deprecation_headers(name: str) -> dict[str, str]:
    """Headers of an answer that holds something deprecated; ``name`` is its row."""
    # A date as structured field (RFC 9651, 3.3.7).
    since = int(DEPRECATIONS[name].since.timestamp())
    return {"Deprecation": f"@{since}", "Link": f'<{ADDRESS}>; rel="deprecation"; type="application/json"'}
