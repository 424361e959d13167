"""Answers as CSV (RFC 4180) for spreadsheets: one row for each value, units in columns of their own."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

from schemas.assessments import Assessment, Finding
from schemas.catalogues import SaturationTable
from schemas.checks import CheckAnswer
from schemas.comparisons import Change, Comparison, PercentChange, System
from schemas.trends import Trend

#: What a spreadsheet may take for the start of a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def written(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV.  A text that a spreadsheet would take for a formula is put behind an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def _cell(value: object) -> object:
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    if isinstance(value, bool):
        return str(value).lower()
    return "" if value is None else value


_DERIVED = (
    "quantity",
    "value",
    "unit",
    "standard_uncertainty",
    "low",
    "high",
    "coverage",
    "grade",
    "probability_conforming",
    "limit",
    "limit_lower",
    "limit_upper",
    "from",
    "method",
    "source",
    "condition_not_met",
)


def of_assessment(answer: Assessment | CheckAnswer) -> str:
    """Each derived value with its uncertainty and band, and the most pressing finding about it."""
    pressing: dict[str, Finding] = {}
    for finding in answer["findings"]:
        pressing.setdefault(finding["quantity"], finding)
    return written(
        _DERIVED,
        (
            (
                name,
                row["value"],
                row["unit"],
                row["standard_uncertainty"],
                row["band"]["low"],
                row["band"]["high"],
                row["band"]["coverage"],
                *_finding(pressing.get(name)),
                "; ".join(row["from"]),
                row["method"],
                row["source"],
                pressing[name]["condition_not_met"] if name in pressing else None,
            )
            for name, row in answer["derived"].items()
        ),
    )


def _finding(finding: Finding | None) -> tuple[object, ...]:
    if finding is None:
        return (None,) * 5
    limit = finding["limit"] or {"id": None, "lower": None, "upper": None}
    return (
        finding["grade"],
        finding["probability_conforming"],
        limit["id"],
        limit["lower"],
        limit["upper"],
    )


_CHANGED = (
    "quantity",
    "unit",
    "before",
    "after",
    "difference_unit",
    "change_as_read",
    "change_as_read_low",
    "change_as_read_high",
    "change_in_like_weather",
    "change_in_like_weather_low",
    "change_in_like_weather_high",
    "verdict",
    "judged_by",
    "smallest_detectable",
    "smallest_that_matters",
    "method",
)


def of_comparison(answer: Comparison) -> str:
    """The system's changes in percent, then each value before and after with its change and verdict."""
    rows: list[Sequence[object]] = [*_of_system(answer["system"])]
    rows += [
        (
            name,
            row["unit"],
            row["before"],
            row["after"],
            row["difference_unit"],
            *_change(row["as_read"]),
            *_change(row["at_common_conditions"]),
            row["verdict"],
            row["judged_by"],
            row["smallest_detectable"],
            row["smallest_that_matters"],
            row["method"],
        )
        for name, row in answer["changes"].items()
    ]
    return written(_CHANGED, rows)


def _of_system(system: System) -> Iterator[Sequence[object]]:
    """Efficiency, with the verdict on the system; capacity and power; each in percent."""
    for name, change in (
        ("efficiency", system["efficiency_change_percent"]),
        ("capacity", system["capacity_change_percent"]),
        ("power", system["power_change_percent"]),
    ):
        about = name == "efficiency"
        yield (
            f"system: {name}",
            None,
            None,
            None,
            "%",
            None,
            None,
            None,
            *_change(change),
            system["verdict"] if about else None,
            "higher" if about else None,
            system["smallest_detectable_percent"] if about else None,
            system["smallest_that_matters_percent"] if about else None,
            "all readings together",
        )


def _change(change: Change | PercentChange | None) -> tuple[float | None, float | None, float | None]:
    if change is None:
        return None, None, None
    return change["value"], change["band"]["low"], change["band"]["high"]


_SERIES = (
    "quantity",
    "unit",
    "taken_at",
    "value",
    "low",
    "high",
    "weight",
    "at_common_conditions",
    "shape",
    "difference_unit",
    "drift_per_year",
    "drift_per_year_low",
    "drift_per_year_high",
)


def of_trend(answer: Trend) -> str:
    """Each value of each run, with the drift of its series."""
    return written(_SERIES, _points(answer))


def _points(answer: Trend) -> Iterator[Sequence[object]]:
    for name, row in answer["quantities"].items():
        for point in row["points"]:
            band = point["band"]
            yield (
                name,
                row["unit"],
                point["taken_at"],
                point["value"],
                band["low"],
                band["high"],
                point["weight"],
                row["at_common_conditions"],
                row["shape"],
                row["difference_unit"],
                *_change(row["drift_per_year"]),
            )


def of_saturation(table: SaturationTable) -> str:
    """A saturation table, with units in the heads."""
    gauge = table["pressure_unit"]
    absolute = "psia" if gauge == "psi" else f"{gauge} absolute"

    def unit(name: str) -> str:
        if name == "temperature":
            return f" [{table['temperature_unit']}]"
        if name == "bridged":
            return ""
        return f" [{absolute if name.endswith('absolute') else gauge}]"

    names = list(table["rows"][0]) if table["rows"] else []
    return written(
        [name + unit(name) for name in names],
        (list(row.values()) for row in table["rows"]),
    )
