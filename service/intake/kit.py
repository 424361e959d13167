"""Which instrument made a reading, and which errors it contributes.

Everything but the number read depends only on the kit, the kind of reading and the unit system, so it is
settled once per kit and kept: a company's technicians carry the same kits from visit to visit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import NamedTuple

from pydantic import TypeAdapter

from schemas.assessments import Accuracy, Instrument
from schemas.readings import READING_GROUPS, READINGS
from service.intake.refusals import Refusal, pointer
from service.reference.instruments import (
    ASSUMED_TYPE,
    INSTRUMENT_TYPES,
    DefaultAccuracy,
    InstrumentType,
)
from service.reference.units import KINDS, Conversion, conversion, system_unit
from service.uncertainty.error_terms import (
    DIMENSIONS,
    KIT_SLOTS,
    SENSORS_PER_INSTRUMENT,
    Distribution,
    ErrorTerm,
    SensorErrors,
    reading_terms,
    resolution_dimension,
)
from service.uncertainty.propagation import Variable, variable

#: Where the barometer was when it was the last; readings added since come after it.
_BAROMETER = 52
#: The reading's fixed place among the error dimensions.
SLOTS = {
    name: slot
    for slot, name in enumerate((*list(READINGS)[:_BAROMETER], "barometric_pressure", *list(READINGS)[_BAROMETER:]))
}


class Place(NamedTuple):
    """Where a reading outside the table of readings stands among the error dimensions.

    ``slot`` is that of the reading; readings of one ``series`` were made by one sensor, even where the type of
    their instrument has several and where it is assumed.  One of no series has a sensor of its own where its
    instrument is assumed.
    """

    slot: int
    series: int | None


#: Kinds whose accuracy is stated as a difference.
ERROR_KIND = {"temperature": "temperature_difference"}

_COVERAGE: Mapping[str, tuple[float, Distribution]] = {
    "limits": (1.0, "rectangular"),
    "two_standard_deviations": (2.0, "normal"),
    "one_standard_deviation": (1.0, "normal"),
}


@dataclass(frozen=True, slots=True)
class Calibration:
    """The calibration error of a sensor: all its readings share ``variable``.

    At a number read it amounts to ``offset`` plus ``gain`` times the number as the display shows it, in the
    unit of the reading, times ``unit`` as the standard deviation of one such unit.
    """

    dimension: int
    variable: Variable


@dataclass(frozen=True, slots=True)
class Sensor:
    """How one reading is made: all but the number read.

    ``errors`` are those at a number of zero; ``gain`` adds to its calibration error for each unit of the
    number as the ``display`` shows it (None: as it is in SI).  ``own`` is what is new at each reading,
    ``calibration`` what is kept apart from it, where either exists.
    """

    label: str
    type: str
    kind: str
    source: str
    errors: SensorErrors
    gain: float
    display: Conversion | None
    signed: bool
    reading_slot: int
    shared_slot: int | None
    apart: bool
    lasting: int | None
    own: Variable | None
    calibration: Calibration | None

    def gain_at(self, value: float) -> float:
        """Part of the calibration error that grows with the number read."""
        if self.gain == 0.0:
            return 0.0
        shown = value if self.display is None else self.display.from_si(value)
        return self.gain * abs(shown)

    def errors_at(self, value: float) -> SensorErrors:
        """All errors at a number read."""
        rest = self.errors
        return SensorErrors(
            rest.offset,
            self.gain_at(value),
            rest.distribution,
            rest.placement,
            rest.repeatability,
            rest.resolution,
            self.sign_at(value),
        )

    def sign_at(self, value: float) -> float:
        """Minus one where a reading below zero reverses the error.

        A manometer's gain error is negative below zero; a difference of temperatures or of gauge
        pressures has no such point.
        """
        return -1.0 if self.signed and value < 0.0 else 1.0

    def calibration_at(self, value: float) -> float:
        """The calibration error at a number read, as a standard deviation with its sign."""
        assert self.calibration is not None
        size = self.errors.offset + self.gain_at(value)
        return self.sign_at(value) * size * self.calibration.variable.scale

    def terms(self, errors: SensorErrors) -> tuple[ErrorTerm, ...]:
        """The error terms of the mean of repeats with these errors."""
        return reading_terms(errors, self.reading_slot, self.shared_slot, apart=self.apart, scattered=True)

    def settling_term(self, size: float) -> ErrorTerm:
        """What the start had left in a reading from a log, as a standard deviation: its own, and in the place of the
        display's rounding, which is part of its scatter."""
        return ErrorTerm(resolution_dimension(self.reading_slot), "normal", size)


#: Names of the types in the order of their table.
_TYPES = tuple(INSTRUMENT_TYPES)

_KITS: TypeAdapter[dict[str, Instrument]] = TypeAdapter(dict[str, Instrument])


class Kit:
    """The instruments of a request, in its unit system.

    ``compared`` where errors that an instrument carries from visit to visit are kept apart from those that
    are new each time.
    """

    def __init__(self, instruments: Mapping[str, Instrument], system: str, *, compared: bool) -> None:
        self.instruments = {name: (slot, row) for slot, (name, row) in enumerate(instruments.items())}
        self.system = system
        self.compared = compared
        self._sensors: dict[tuple[str, str, str, str | None, str, Place | None], Sensor] = {}

    def __len__(self) -> int:
        """How many sensors are settled."""
        return len(self._sensors)

    def type_of(self, name: str | None) -> InstrumentType | None:
        """The type of an instrument of the kit."""
        found = self.instruments.get(name or "")
        return None if found is None else INSTRUMENT_TYPES[found[1].type]

    def sensor(
        self, name: str, kind: str, measured_as: str, named: str | None, where: str, place: Place | None = None
    ) -> Sensor | Refusal:
        """How a reading is made.

        Parameters
        ----------
        name, kind : str
            The reading, and the kind of its number.
        measured_as : str
            What the instrument measures.
        named : str or None
            The instrument named with the reading.
        where : str
            JSON Pointer of the reading.
        place : Place, optional
            Where it stands, if it is not in the table of readings.
        """
        key = (name, kind, measured_as, named, where, place)
        kept = self._sensors.get(key)
        if kept is not None:
            return kept
        found = self._settled(name, kind, measured_as, named, where, place)
        if isinstance(found, Sensor):  # a refusal may hold any name a caller thinks of
            self._sensors[key] = found
        return found

    def _settled(
        self, name: str, kind: str, measured_as: str, named: str | None, where: str, place: Place | None
    ) -> Sensor | Refusal:
        chosen = self._instrument(measured_as, named, where)
        if isinstance(chosen, Refusal):
            return chosen
        label, slot, type_, instrument = chosen
        if measured_as not in type_.accuracies:
            return Refusal(
                f"{where}/instrument",
                named,
                "an instrument whose type measures " + measured_as.replace("_", " "),
                f"is of type {type_.name.replace('_', ' ')}, which measures only "
                + ", ".join(c.replace("_", " ") for c in type_.accuracies),
                "Name another instrument of the kit, or correct its type.",
            )
        default = type_.accuracy(measured_as, name)
        found = self._errors(default, instrument, measured_as, kind, label)
        if isinstance(found, Refusal):
            return found
        errors, gain, display, source = found
        shares = type_.shares_calibration
        if instrument is not None and instrument.shares_calibration is not None:
            shares = instrument.shares_calibration
        shared_slot = None
        group = name.partition(".")[0]
        if slot is None and group in READING_GROUPS:
            slot = KIT_SLOTS + READING_GROUPS.index(group)
        if shares and slot is not None:
            shared_slot = SENSORS_PER_INSTRUMENT * slot + _element(type_, measured_as)
        elif place is not None and place.series is not None:
            # Beyond the sensors of the kit, where the groups of an assessment's readings stand: none of these is here.
            shared_slot = SENSORS_PER_INSTRUMENT * KIT_SLOTS + place.series
        own_slot = SLOTS[name] if place is None else place.slot
        lasting = _lasting(slot, shared=shared_slot is not None) if instrument is not None else None
        # Any gain will do here: it only decides whether the calibration is kept apart.
        usual = SensorErrors(
            errors.offset,
            gain,
            errors.distribution,
            errors.placement,
            errors.repeatability,
            errors.resolution,
        )
        apart = (self.compared and instrument is not None) or gain != 0.0
        terms = reading_terms(usual, own_slot, shared_slot, apart=apart)
        own = [term for term in terms if not term.shared]
        calibration = None
        for term in terms:
            if term.shared:
                key = None if lasting is None else term.dimension + lasting
                calibration = Calibration(term.dimension, variable([term.unit()], label, key))
        return Sensor(
            label,
            type_.name,
            ERROR_KIND.get(kind, kind),
            source,
            errors,
            gain,
            display,
            kind == "static_pressure",
            own_slot,
            shared_slot,
            apart,
            lasting,
            variable(own, label) if own else None,
            calibration,
        )

    def _instrument(
        self, measured_as: str, named: str | None, where: str
    ) -> tuple[str, int | None, InstrumentType, Instrument | None] | Refusal:
        if named is not None:
            if named not in self.instruments:
                return Refusal(
                    f"{where}/instrument",
                    named,
                    "one of " + ", ".join(self.instruments) if self.instruments else "a name of the kit",
                    "is not in the kit",
                    "Add it to `kit`, or leave `instrument` out.",
                )
            slot, row = self.instruments[named]
            return named, slot, INSTRUMENT_TYPES[row.type], row
        able = [
            (name, slot, INSTRUMENT_TYPES[row.type], row)
            for name, (slot, row) in self.instruments.items()
            if measured_as in INSTRUMENT_TYPES[row.type].accuracies
        ]
        made = [row for row in able if measured_as in row[2].made_for]
        able = made or able
        if len(able) == 1:
            return able[0]
        if able:
            return Refusal(
                where,
                None,
                "a reading that names its instrument",
                "could have been taken with " + " or ".join(name for name, *_ in able),
                'Give the reading as {"value": ..., "instrument": "' + able[0][0] + '"}.',
            )
        # Assumed instruments share no calibration: each reading has its own sensor.
        assumed = ASSUMED_TYPE[measured_as]
        return f"assumed:{assumed}", None, INSTRUMENT_TYPES[assumed], None

    def _errors(
        self,
        default: DefaultAccuracy,
        instrument: Instrument | None,
        measured_as: str,
        kind: str,
        label: str,
    ) -> tuple[SensorErrors, float, Conversion | None, str] | Refusal:
        """Errors at zero, gain for each unit shown, the display (None: shows SI), and the source."""
        stated = self._stated(instrument, measured_as)
        units = KINDS[ERROR_KIND.get(kind, kind)].units
        if stated is not None and stated.unit is not None and stated.unit not in units:
            return Refusal(
                self._stated_at(instrument, label, measured_as) + "/unit",
                stated.unit,
                "one of " + ", ".join(units),
                f"is not a unit for the error of a {measured_as.replace('_', ' ')} reading",
                "Use one of these, or leave the unit out for the declared unit system.",
            )
        repeatability = default.repeatability
        main = next(iter(INSTRUMENT_TYPES[instrument.type].accuracies)) if instrument else ""
        if (
            instrument is not None
            and instrument.repeatability is not None
            and (stated is not None or measured_as == main)
        ):
            chosen = stated.unit if stated is not None else None
            repeatability = instrument.repeatability * self._scale(kind, chosen)
        if stated is None:
            offset = default.fixed + default.percent_of_span / 100 * default.span + default.counts * default.resolution
            gain, display = _gain(kind, default.percent_of_reading, "imperial")
            errors = SensorErrors(offset, 0.0, "rectangular", default.placement, repeatability, default.resolution)
            return errors, gain, display, default.source
        unit = self._scale(kind, stated.unit)
        where = self._stated_at(instrument, label, measured_as)
        if (stated.percent_of_span is None) != (stated.span is None):
            return Refusal(
                where,
                None,
                "percent_of_span together with span",
                "states percent_of_span or span without the other",
                "Give both, or neither.",
            )
        resolution = default.resolution if stated.resolution is None else stated.resolution * unit
        offset = (
            (stated.fixed or 0.0) * unit
            + (stated.percent_of_span or 0.0) / 100 * (stated.span or 0.0) * unit
            + (stated.counts or 0.0) * resolution
        )
        system = {"delta_degF": "imperial", "delta_degC": "metric", "K": "metric"}.get(stated.unit or "", self.system)
        divisor, distribution = _COVERAGE[stated.coverage]
        gain, display = _gain(kind, (stated.percent_of_reading or 0.0) / divisor, system)
        errors = SensorErrors(offset / divisor, 0.0, distribution, default.placement, repeatability, resolution)
        return errors, gain, display, "stated in the request"

    def refusals(self) -> list[Refusal]:
        """Refusals of accuracies for what the type does not measure."""
        found = []
        for name, (_, instrument) in self.instruments.items():
            measured = INSTRUMENT_TYPES[instrument.type].accuracies
            for given in instrument.accuracies or {}:
                if given not in measured:
                    found.append(
                        Refusal(
                            pointer("kit", name, "accuracies", given),
                            given,
                            "one of " + ", ".join(measured),
                            f"is not measured by a {instrument.type.replace('_', ' ')}",
                            "Use one of these names.",
                        )
                    )
        return found

    def open_to_air(self, name: str) -> SensorErrors | Refusal:
        """Errors of a gauge that shows nothing but its zero."""
        instrument = self.instruments[name][1]
        type_ = INSTRUMENT_TYPES[instrument.type]
        if "pressure" not in type_.accuracies:
            return Refusal(
                pointer("kit", name, "open_to_air_reading"),
                None,
                "a pressure instrument",
                f"belongs to a {type_.name.replace('_', ' ')}",
                "Leave it out.",
            )
        found = self._errors(type_.accuracies["pressure"], instrument, "pressure", "pressure", name)
        return found if isinstance(found, Refusal) else found[0]

    def _stated_at(self, instrument: Instrument | None, label: str, measured_as: str) -> str:
        if instrument is not None and measured_as in (instrument.accuracies or {}):
            return pointer("kit", label, "accuracies", measured_as)
        return pointer("kit", label, "accuracy")

    def _stated(self, instrument: Instrument | None, measured_as: str) -> Accuracy | None:
        if instrument is None:
            return None
        own = (instrument.accuracies or {}).get(measured_as)
        if own is not None:
            return own
        main = next(iter(INSTRUMENT_TYPES[instrument.type].accuracies))
        siblings = {"air_temperature", "line_temperature"}
        fits = measured_as == main or {measured_as, main} <= siblings
        return instrument.accuracy if fits else None

    def _scale(self, kind: str, symbol: str | None) -> float:
        """Scale of a unit of accuracy, the declared system's where none is stated."""
        error_kind = ERROR_KIND.get(kind, kind)
        return conversion(error_kind, symbol or system_unit(error_kind, self.system)).scale


@lru_cache(maxsize=256)
def _kept(kit: bytes, system: str, compared: bool) -> Kit:
    return Kit(_KITS.validate_json(kit), system, compared=compared)


def kit_of(instruments: Mapping[str, Instrument], system: str, *, compared: bool) -> Kit:
    """The kit of a request; equal kits are settled once, in whatever order they name their instruments."""
    # An instrument's place decides its row of the sample: by type, then name, never by the order given.
    ordered = dict(sorted(instruments.items(), key=_place))
    # What a gauge shows at rest is a reading of the visit, not a property of the kit.
    key = _KITS.dump_json(ordered, exclude={"__all__": {"open_to_air_reading"}})
    return _kept(key, system, compared)


def _place(item: tuple[str, Instrument]) -> tuple[int, str]:
    name, instrument = item
    return _TYPES.index(instrument.type), name


def standard_uncertainty(*parts: float) -> float:
    """Root sum of squares of the standard deviations of independent errors (JCGM 100, 5.1.2)."""
    return sqrt(sum(part**2 for part in parts))


def _gain(kind: str, percent: float, system: str) -> tuple[float, Conversion | None]:
    """Calibration error per unit of the number shown, and the display that shows it: a temperature scale has
    its own zero."""
    if kind != "temperature":
        return percent / 100, None
    scale = conversion("temperature_difference", system_unit("temperature_difference", system)).scale
    return percent / 100 * scale, conversion(kind, system_unit(kind, system))


def _lasting(slot: int | None, *, shared: bool) -> int:
    """Whose calibration error a reading carries from visit to visit.

    The dimension of a shared sensor identifies it; a sensor of one reading needs its instrument too.
    """
    return 0 if shared or slot is None else DIMENSIONS * (1 + slot)


def _element(type_: InstrumentType, measured_as: str) -> int:
    """Which sensor of the instrument takes the reading; one thermometer serves air and lines."""
    elements = [name for name in type_.accuracies if name != "line_temperature"] or ["line_temperature"]
    wanted = "air_temperature" if measured_as == "line_temperature" else measured_as
    return elements.index(wanted) if wanted in elements else 0
