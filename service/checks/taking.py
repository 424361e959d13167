"""From the body of a check to SI: its readings become leaves with the errors of their instruments.

The machinery is that of an assessment (:mod:`service.intake`); only the places of the readings differ, as a check has
readings of its own, in series.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt
from typing import Any, NamedTuple

from schemas.assessments import AssessmentRequest, Notice, Run, Unit
from schemas.checks import CHECKS, CheckRequest
from schemas.quantities import Model
from schemas.readings import Readings
from service.checks.workings import Question, notice
from service.derive.draws import DrawnVisit, draw
from service.intake.entry import Entry
from service.intake.kit import SLOTS, Place, standard_uncertainty
from service.intake.readings import (
    Measured,
    above_zero,
    is_absolute,
    over_site_pressure,
    take_open_to_air,
    taken,
    with_errors,
)
from service.intake.refusals import Refusal, RefusedError
from service.intake.site import take_site
from service.reference.assumptions import ASSUMPTIONS
from service.reference.site import STANDARD_PRESSURE
from service.reference.units import system_unit
from service.reference.usual_inputs import USUAL_INPUTS, UsualRow, meant_unit
from service.uncertainty.error_terms import ErrorTerm, SensorErrors, assumption_dimension, reading_terms
from service.words.phrases import unit_word

#: Places that the readings of a check may take: all of an assessment's, whose readings no check has, but one.
_SLOTS = [slot for name, slot in SLOTS.items() if name != "barometric_pressure"]


class Reading(NamedTuple):
    """A kind of reading of a check: the name that answers show, and its possible range in SI.

    All readings of one ``series`` are one sensor's; one of no series has an assumed sensor of its own.
    """

    name: str
    kind: str
    measured_as: str
    low: float
    high: float
    series: int | None = 0


@dataclass(slots=True)
class CheckEntry(Entry):
    """A check that is being taken in; ``questions`` are about numbers that seem to be in another unit."""

    check: str = ""
    questions: list[Question] = field(default_factory=list)


def begin(request: CheckRequest) -> CheckEntry:
    """The entry of a check: its kit and its site are settled, its readings not yet taken."""
    visit = AssessmentRequest(
        units=request.units,
        unit=Unit(refrigerant=request.unit.refrigerant),
        site=request.site,
        kit=request.kit,
        run=Run(readings=Readings()),
        options=request.options,
    )
    entry = CheckEntry.of(visit, None, compared=False)
    entry.check = next(name for name, body in CHECKS.items() if isinstance(request, body))
    entry.refusals += entry.kit.refusals()
    take_site(entry)
    take_open_to_air(entry)
    return entry


def states_unit(given: Any) -> bool:  # noqa: ANN401
    """Whether a number of the request names its unit."""
    return getattr(given, "unit", None) is not None


def in_both_units(number: float, taken_in: str, meant: str) -> dict[str, str]:
    """A number as it was taken, and as it may have been meant."""
    return {"stated": f"{number:g} {unit_word(taken_in)}", "meant": f"{number:g} {unit_word(meant)}"}


def ask(entry: CheckEntry, path: str, given: Any, bounds: str | None = None) -> None:  # noqa: ANN401
    """Ask for the unit of a number that would be usual in another one.

    Parameters
    ----------
    entry
        What is being taken in.
    path : str
        The number's path in the request.  Rows for parts of a list, or of a group, are found without their places.
    given
        The number of the request.
    bounds : str or None
        The quantity that the number bounds, where it is an end of a limit.
    """
    name = ".".join(part for part in path.split(".") if not part.isdigit())
    row = USUAL_INPUTS.get((entry.check, name))
    if row is not None and (meant := _meant(entry, row, given)) is not None:
        entry.questions.append(Question(_unit_in_doubt(entry, row, path, given, meant), frozenset({path}), _of(bounds)))


def ask_together(entry: CheckEntry, group: str, given: Mapping[str, Any]) -> None:
    """Ask for the unit of several numbers of one kind, if all of them would be usual in the same other one."""
    row = USUAL_INPUTS[entry.check, group]
    meant = {_meant(entry, row, one) for one in given.values()}
    if len(meant) == 1 and (symbol := meant.pop()) is not None:
        first = next(iter(given))
        about = _unit_in_doubt(entry, row, f"{group}.{first}", given[first], symbol)
        entry.questions.append(Question(about, frozenset(f"{group}.{name}" for name in given)))


def _meant(entry: CheckEntry, row: UsualRow, given: Any) -> str | None:  # noqa: ANN401
    """The unit in which a number without one was probably meant; None where its own is usual."""
    if states_unit(given):
        return None
    return meant_unit(row, float(getattr(given, "value", given)), system_unit(row.kind, entry.system))


def _unit_in_doubt(entry: CheckEntry, row: UsualRow, path: str, given: Any, meant: str) -> Notice:  # noqa: ANN401
    number, taken_in = float(getattr(given, "value", given)), system_unit(row.kind, entry.system)
    return notice("unit_in_doubt", (path,), label=row.label, **in_both_units(number, taken_in, meant))


def _of(quantity: str | None) -> frozenset[str]:
    return frozenset() if quantity is None else frozenset({quantity})


def take(entry: CheckEntry, reading: Reading, given: Any, where: str, slot: int, *, asked: bool = True) -> str | None:  # noqa: ANN401
    """One reading as a leaf; returns the leaf's path, None where it was refused.

    Parameters
    ----------
    entry
        What is being taken in.
    reading
        What kind of reading it is.
    given
        The number of the request, with its unit and instrument where these are given.
    where : str
        Its JSON Pointer.
    slot : int
        Which reading of the check it is, counted over all series.  Gauge pressures become absolute.
    asked : bool
        Whether its unit may be in doubt: of a series, only that of the first reading is.
    """
    shown = taken(entry, given, reading.kind, where)
    absolute = is_absolute(entry, reading.kind, given, where)
    if absolute is None:
        return None
    shift = STANDARD_PRESSURE if absolute else 0.0
    if not entry.inside(shown.value, (reading.low + shift, reading.high + shift), reading.kind, where, given):
        return None
    leaf = f"{reading.name}[{slot}]"
    named = getattr(given, "instrument", None)
    place = Place(_SLOTS[slot], reading.series)
    measured = Measured(reading.name, reading.kind, reading.measured_as, shown.value, named, where, None, place)
    with_errors(entry, measured, leaf=leaf, shown=reading.name)
    if leaf not in entry.leaves.uncertain:
        return None
    if reading.kind == "pressure":
        air = 0.0
        if not absolute:
            if "site.pressure" not in entry.leaves.uncertain:
                return None
            air = over_site_pressure(entry, leaf)
        if not above_zero(entry, shown.shown[0], air):
            return None
    if asked:
        ask(entry, reading.name, given)
    return leaf


def bend(entry: Entry, leaf: str, reading: Reading, slot: int, share: float, owner: str) -> None:
    """A reading errs by one part more, a share of it as a standard deviation, new at each: its scale is not straight.

    It stands where the placement of other instruments does; the instrument of ``reading`` must have none.
    """
    half = sqrt(3.0) * share * abs(entry.leaves.uncertain[leaf].value)
    terms = reading_terms(SensorErrors(0.0, 0.0, "normal", half, 0.0, 0.0), _SLOTS[slot], None)
    if terms:
        size = entry.leaves.also_errs(leaf, terms, owner)
        used = entry.instruments[reading.name]
        entry.instruments[reading.name] = used._replace(
            standard_uncertainty=standard_uncertainty(used.standard_uncertainty, size)
        )


def gauge_or_absolute(entry: Entry, given: Any, where: str) -> float | None:  # noqa: ANN401
    """A pressure of a data sheet as an absolute one [Pa]; None where it contradicts itself."""
    absolute = is_absolute(entry, "pressure", given, where)
    if absolute is None or "site.pressure" not in entry.leaves.uncertain:
        return None
    value = entry.to_si(given, "pressure")
    return value if absolute else value + entry.leaves.uncertain["site.pressure"].value


def take_volume(entry: Entry, given: Any, name: str) -> None:  # noqa: ANN401
    """An inside volume as a leaf without errors, if it was given; refused unless it is above zero."""
    if given is not None:
        volume = entry.to_si(given, "volume")
        entry.all_positive((volume,), name)
        entry.constant(name, volume)


def with_spread(entry: Entry, leaf: str, value: float, spread: float | None, assumption: str, owner: str) -> None:
    """A number of the request as a leaf that is not exact.

    Parameters
    ----------
    entry
        What is being taken in.
    leaf : str
        Its path.
    value : float
        The number [SI].
    spread : float or None
        By how much it may be off as stated [SI], in the sense of the assumption's distribution; None where only the
        assumption says so, whose spread is then a share of one of ``value`` if its own value is one.
    assumption : str
        The row of :mod:`service.reference.assumptions` that it is instead of.
    owner : str
        What the answer calls the stated uncertainty.
    """
    row = ASSUMPTIONS[assumption]
    if spread is None:
        spread, owner = row.spread * (value if row.value == 1.0 else 1.0), f"assumption: {row.text}"
    term = ErrorTerm(assumption_dimension(list(ASSUMPTIONS).index(assumption)), row.distribution, spread)
    entry.leaves.register(leaf, value, (term,) if spread > 0.0 else (), owner, (leaf,))


def in_order(entry: Entry, times: Sequence[float]) -> None:
    """Refuse times of a series that do not increase."""
    for place in range(1, len(times)):
        if times[place] <= times[place - 1]:
            entry.refusals.append(
                Refusal(
                    f"/readings/{place}/minutes",
                    times[place],
                    f"more than {times[place - 1]:g}, the time of the reading before",
                    "is not later than the reading before",
                    "List the readings in the order of time, each time once.",
                )
            )


def drawn(entry: Entry, assumed: Sequence[str] = ()) -> DrawnVisit:
    """What was taken in, drawn, with the assumptions named.

    Raises
    ------
    RefusedError
        If anything was refused.
    """
    if entry.refusals:
        raise RefusedError(entry.refusals)
    return draw([entry.visit()], assumed).visits[0]


def instrument_of(given: Any) -> str | None:  # noqa: ANN401
    """The instrument named with a reading."""
    return getattr(given, "instrument", None) if isinstance(given, Model) else None


def one_instrument(entry: Entry, given: Sequence[Any], name: str) -> None:
    """Refuse a series whose readings name more than one instrument: they would not be one series."""
    named = [instrument_of(one) for one in given]
    for place, own in enumerate(named):
        if own != named[0]:
            entry.refusals.append(
                Refusal(
                    f"/readings/{place}/{name}",
                    own,
                    named[0] or "the same instrument as the first reading",
                    "was read with another instrument than the first reading",
                    "Give readings by one instrument: only then does its calibration error cancel.",
                )
            )
            return
