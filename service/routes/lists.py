"""The lists of the service as pages to read: what the reference resources answer, in words and in the reader's units.

They run no script.  Each links to the resource that has the same as JSON.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from schemas.quantities import UnitSystem
from service.assess import catalogues
from service.checks import catalogue as check_catalogue
from service.faults.catalogue import faults
from service.reference.refrigerants import designation_of
from service.reference.units import KINDS, conversion, system_unit
from service.render.wording import decimals, finding_label, of_kind, words
from service.routes.worksheet import error_kind
from service.words.numbers import figure
from service.words.phrases import chance, spoken, unit_word

#: First row of a table to read, in degrees of either unit system; the resource has all.
COLDEST = -40.0
NAMES = ("refrigerants", "instruments", "limits", "faults", "cautions")


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of a list: its heading, a text, and facts by term."""

    id: str
    title: str
    facts: Sequence[tuple[str, Sequence[str]]]
    text: str = ""
    address: str = ""


@cache
def _template() -> Any:  # noqa: ANN401
    text = (files(__package__) / "page" / "list.html").read_text("utf-8")
    return Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True).from_string(text)


def _rendered(navigation: str, **content: object) -> str:
    usual: dict[str, object] = {
        "lead": (),
        "systems": (),
        "units": "",
        "altitude": None,
        "altitude_unit": "",
        "columns": (),
        "caption": "",
        "rows": (),
        "entries": (),
    }
    text: str = _template().render(navigation=Markup(navigation), **{**usual, **content})
    return text


def _systems(address: str, units: str) -> list[tuple[str, str, bool]]:
    return [(system, f"{address}?units={system}", system == units) for system in ("imperial", "metric")]


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _refrigerants(units: str) -> Iterable[Entry]:
    for row in catalogues.refrigerants(units)["refrigerants"]:
        unit = row["temperature_unit"]
        span = row["saturation_range"]
        yield Entry(
            row["designation"],
            row["designation"],
            (
                (
                    "Composition",
                    [
                        ", ".join(
                            f"{one['designation']} {100 * one['mass_fraction']:.4g} %" for one in row["composition"]
                        )
                    ],
                ),
                ("Safety group", [row["safety_group"]]),
                (
                    "Critical point",
                    [
                        f"{_amount(row['critical_temperature'], unit)}, "
                        f"{_amount(row['critical_pressure'], row['critical_pressure_unit'])}"
                    ],
                ),
                (
                    "Glide at the normal boiling point",
                    [_amount(row["glide_at_normal_boiling_point"], row["difference_unit"])],
                ),
                ("Range of the table", [f"{_amount(span['low'], unit)} to {_amount(span['high'], unit)}"]),
                ("Notes", [row["notes"]] if row["notes"] else []),
                ("Sources", list(dict.fromkeys((row["composition_source"], row["safety_group_source"], row["model"])))),
            ),
            address=f"/refrigerants/{row['designation']}?units={units}",
        )


def _amount(value: float, unit: str) -> str:
    return f"{figure(value, decimals(unit))} {unit_word(unit)}".rstrip()


def _accuracy(row: Mapping[str, Any], units: str) -> str:
    kind = error_kind(row["measures"])

    def size(value: float) -> str:
        symbol = system_unit(kind, units)
        found = value / conversion(kind, symbol).scale
        return f"{found:.3g} {unit_word(symbol)}".rstrip()

    parts = [
        f"{row['percent_of_reading']:g} % of the reading" if row["percent_of_reading"] else "",
        f"{row['percent_of_span']:g} % of {size(row['span'])}" if row["percent_of_span"] else "",
        size(row["fixed"]) if row["fixed"] else "",
        f"{row['counts']:g} counts" if row["counts"] else "",
    ]
    stated = " + ".join(part for part in parts if part) or "0"
    more = "".join(
        f"; {word} {size(row[name])}"
        for name, word in (
            ("resolution", "display step"),
            ("placement", "placement"),
            ("repeatability", "repeatability"),
        )
        if row[name]
    )
    return f"{_sentence(words(row['measures']))}: ±({stated}){more}. {row['source']}"


def _instruments(units: str) -> Iterable[Entry]:
    for row in catalogues.instruments()["instruments"]:
        shared = "one sensor takes all its readings" if row["shares_calibration"] else "each reading has its own sensor"
        yield Entry(
            row["type"],
            _sentence(words(row["type"])),
            (("Assumed accuracy", [_accuracy(one, units) for one in row["accuracies"]]), ("Sensors", [shared])),
            row["description"],
        )


#: Bounds that the unit itself sets, by the last part of their path.
_SET_BY = {
    "refrigerant": "what its refrigerant allows",
    "eer": "what its rated efficiency allows",
    "lowest": "the lowest of its marking",
    "highest": "the highest of its marking",
}


def _bound(bound: float | str | None, kind: str, units: str) -> str:
    if bound is None:
        return ""
    if isinstance(bound, str):
        return _SET_BY.get(bound.rpartition(".")[2], "") or spoken(bound)
    return of_kind(kind, bound, units)


_BASES = {"common_practice": "common practice", "published_procedure": "published procedure"}


def _limits(units: str) -> Iterable[Entry]:
    for row in check_catalogue.limits()["limits"]:
        ends = (("at least", row["lower"]), ("at most", row["upper"]))
        permitted = " and ".join(f"{word} {_bound(one, row['kind'], units)}" for word, one in ends if one is not None)
        where = [*row["modes"], *map(words, row["metering_devices"]), *map(words, row["capacity_controls"])]
        phases = [f"{count} phase{'s' if count > 1 else ''}" for count in row["phases"]]
        yield Entry(
            row["id"],
            f"{finding_label({'quantity': row['quantity'], 'limit': row})}: {permitted}",
            (
                ("Applies to", [", ".join([*where, *phases])]),
                ("Kind of limit", [_BASES.get(row["basis"], row["basis"])]),
                ("Source", [row["source"]]),
                ("Name in answers", [row["id"]]),
            ),
        )


def _faults(units: str) -> Iterable[Entry]:
    del units
    texts = {row["id"]: row["text"] for row in faults()["faults"]}
    for row in faults()["faults"]:
        yield Entry(
            row["id"],
            _sentence(row["text"]),
            (
                ("Probability before any reading", [chance(row["prior"], 2)]),
                ("To tell it apart", [row["tells_apart"]] if row["tells_apart"] else []),
                ("Looks like", [", ".join(texts[one] for one in row["look_alikes"])] if row["look_alikes"] else []),
                ("What to do, in order", row["steps"]),
                ("Source", [row["source"]] if row["source"] else []),
            ),
        )


def _cautions(units: str) -> Iterable[Entry]:
    del units
    for row in catalogues.cautions()["cautions"]:
        yield Entry(
            row["id"],
            f"{_sentence(words(row['signal_word']))}: {words(row['id'])}",
            (
                ("Shown when", [row["condition"]]),
                ("Rules that come first", [row["deferral"]]),
                ("Source", [row["source"]]),
            ),
            row["text"],
        )


#: Title, sentences at its head, rows, and whether units play a part.
_LISTS: Mapping[str, tuple[str, Sequence[str], Callable[[str], Iterable[Entry]], bool]] = {
    "refrigerants": (
        "Refrigerants",
        ("Each opens its pressure-temperature table.",),
        _refrigerants,
        True,
    ),
    "instruments": (
        "Instruments",
        (
            "The accuracy that is assumed for each type of instrument. State your own on the worksheet if you know it.",
            "“Placement” is the error from where and how a sensor is placed. A better instrument does not reduce it.",
        ),
        _instruments,
        True,
    ),
    "limits": (
        "Limits",
        ("Each value is judged against these. The source says what a limit is based on.",),
        _limits,
        True,
    ),
    "faults": (
        "Faults",
        ("What a diagnosis weighs, including a healthy unit and a mistaken reading.",),
        _faults,
        False,
    ),
    "cautions": ("Cautions", ("What can hurt someone, and when an answer warns of it.",), _cautions, False),
}


def page(name: str, units: str, navigation: str) -> str:
    """One list as a page, in a unit system."""
    title, lead, rows, in_units = _LISTS[name]
    return _rendered(
        navigation,
        title=title,
        lead=lead,
        entries=list(rows(units)),
        systems=_systems(f"/{name}", units) if in_units else (),
        json=f"/v1/{name}" + (f"?units={units}" if name == "refrigerants" else ""),
    )


def table(designation: str, units: UnitSystem, altitude: float, navigation: str) -> str | None:
    """The pressure-temperature table of a refrigerant; None if the catalogue does not have it.

    Raises
    ------
    service.intake.refusals.RefusedError
        If the altitude is impossible.
    """
    name = designation_of(designation)
    if name is None:
        return None
    step = 2.0 if units == "imperial" else 1.0
    found = catalogues.saturation_table(name, units, COLDEST, None, step, altitude)
    temperature, pressure = unit_word(found["temperature_unit"]), unit_word(found["pressure_unit"])
    places = KINDS["pressure"].decimals.get(found["pressure_unit"], 1)
    length = system_unit("altitude", units)
    rows = [
        (
            figure(row["temperature"], 0),
            figure(row["bubble_pressure_gauge"], places),
            figure(row["dew_pressure_gauge"], places),
        )
        for row in found["rows"]
    ]
    address = f"/refrigerants/{name}"
    return _rendered(
        navigation,
        title=f"{name}: pressure and temperature",
        lead=(
            "Gauge pressures at the altitude of the site. Use dew for superheat and bubble for subcooling.",
            f"Source: {found['source']}",
        ),
        systems=_systems(address, units),
        units=units,
        altitude=f"{altitude:g}",
        altitude_unit=unit_word(length),
        caption=f"{name}, {pressure} gauge at {altitude:g} {length}",
        columns=(f"Temperature, {temperature}", "Bubble", "Dew"),
        rows=rows,
        json=f"/v1/refrigerants/{name}/saturation?units={units}&altitude={altitude:g}&step={step:g}",
    )
