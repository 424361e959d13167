"""Instrument types with default accuracies, and which readings each can make.

The one place to touch for a new instrument type.  Half-widths are limits of error unless the
accuracy says otherwise; SI units (K, Pa, A, V, W, m3/s, fraction).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class DefaultAccuracy:
    """Accuracy of one instrument type for one kind of reading, in SI.

    ``percent_of_reading`` of a temperature applies to the number that the display shows in °F, as in the
    sourced statements; ``placement`` is a standard half-width that belongs to one
    reading (contact of a clamp, spot chosen in a duct), ``repeatability`` a standard deviation.
    """

    fixed: float = 0.0
    percent_of_reading: float = 0.0
    percent_of_span: float = 0.0
    span: float = 0.0
    counts: float = 0.0
    resolution: float = 0.0
    placement: float = 0.0
    repeatability: float = 0.0
    source: str = "instrument_class"


@dataclass(frozen=True, slots=True)
class InstrumentType:
    """One type of instrument.

    ``made_for`` names what it is meant to measure (common practice, no source): the first of ``accuracies`` and
    ``also_made_for``; what else it can measure it measures where nothing in the kit is made for it.
    ``shares_calibration`` is true when one sensor usually makes all the readings of the
    instrument (a clamp meter); false when each reading has a sensor of its own (the two sides of
    a gauge set).
    """

    name: str
    description: str
    shares_calibration: bool
    accuracies: Mapping[str, DefaultAccuracy]
    overrides: Mapping[str, DefaultAccuracy] = field(default_factory=dict)
    also_made_for: tuple[str, ...] = ()

    @property
    def made_for(self) -> tuple[str, ...]:
        """What it was made to measure."""
        return next(iter(self.accuracies)), *self.also_made_for

    def accuracy(self, class_: str, reading: str) -> DefaultAccuracy:
        """Default accuracy for one reading (an override by reading name wins)."""
        return self.overrides.get(reading, self.accuracies[class_])


PSI = 6894.757293168361
DEGF = 5.0 / 9.0
MICRON = 0.133322387415
OUNCE = 0.028349523125

_CLAMP_VOLTS = DefaultAccuracy(percent_of_reading=1.0, counts=3, resolution=0.1, repeatability=0.2)
#: Leads that were zeroed still leave a tenth of an ohm of contact.
_OHMS = DefaultAccuracy(
    percent_of_reading=0.9, counts=2, resolution=0.01, placement=0.05, repeatability=0.01, source="ohmmeter_class"
)
_MICROFARADS = DefaultAccuracy(
    percent_of_reading=2.0, counts=5, resolution=1e-8, repeatability=1e-8, source="capacitance_class"
)
_AIR = DefaultAccuracy(fixed=0.5, resolution=0.1, placement=0.3, repeatability=0.1)

_TYPES = (
    InstrumentType(
        "pressure_transducer",
        "Electronic pressure transducer or digital gauge set, one transducer per port.",
        shares_calibration=False,
        accuracies={
            "pressure": DefaultAccuracy(
                percent_of_span=0.5,
                span=800 * PSI,
                resolution=0.1 * PSI,
                repeatability=0.3 * PSI,
            )
        },
    ),
    InstrumentType(
        "analog_gauge",
        "Bourdon-tube gauge set, one gauge per port, read by eye.",
        shares_calibration=False,
        accuracies={
            "pressure": DefaultAccuracy(
                fixed=7.0 * PSI, resolution=2 * PSI, repeatability=0.5 * PSI, source="ra3_gauges"
            )
        },
        overrides={
            name: DefaultAccuracy(fixed=3.5 * PSI, resolution=1 * PSI, repeatability=0.5 * PSI, source="ra3_gauges")
            for name in ("suction_pressure", "suction_saturation_temperature")
        },
    ),
    InstrumentType(
        "thermistor_pipe_clamp",
        "Thermistor in a spring clamp, one clamp per pipe, insulated from the air.",
        shares_calibration=False,
        accuracies={
            "line_temperature": DefaultAccuracy(fixed=0.2, resolution=0.1 * DEGF, placement=0.75, repeatability=0.1)
        },
    ),
    InstrumentType(
        "thermocouple_pipe_clamp",
        "Type K thermocouple in a clamp, one clamp per pipe.",
        shares_calibration=False,
        accuracies={
            "line_temperature": DefaultAccuracy(
                fixed=2.2,
                resolution=0.1 * DEGF,
                placement=0.75,
                repeatability=0.1,
                source="astm_e230_type_k",
            )
        },
    ),
    InstrumentType(
        "digital_thermometer",
        "Digital thermometer, one probe moved between the places it reads.",
        shares_calibration=True,
        accuracies={
            class_: DefaultAccuracy(
                fixed=1.3 * DEGF,
                percent_of_reading=0.1,
                resolution=0.2 * DEGF,
                placement=placement,
                repeatability=0.1,
                source="ra3_thermometer",
            )
            for class_, placement in (("air_temperature", 0.3), ("line_temperature", 0.75))
        },
    ),
    InstrumentType(
        "psychrometer",
        "Aspirated or sling psychrometer, one instrument moved between the places it reads.",
        shares_calibration=True,
        accuracies={
            "air_temperature": _AIR,
            "wet_bulb": DefaultAccuracy(fixed=0.5, resolution=0.1, placement=0.3, repeatability=0.15),
            "relative_humidity": DefaultAccuracy(fixed=0.03, resolution=0.001, placement=0.01, repeatability=0.005),
        },
        also_made_for=("wet_bulb",),
    ),
    InstrumentType(
        "hygrometer_probe",
        "Capacitive humidity and temperature probe, moved between the places it reads.",
        shares_calibration=True,
        accuracies={
            "air_temperature": _AIR,
            "wet_bulb": DefaultAccuracy(fixed=0.8, resolution=0.1, placement=0.3, repeatability=0.15),
            "relative_humidity": DefaultAccuracy(fixed=0.03, resolution=0.001, placement=0.01, repeatability=0.005),
        },
        also_made_for=("relative_humidity",),
    ),
    InstrumentType(
        "clamp_meter",
        "Clamp-on ammeter with voltage leads.",
        shares_calibration=True,
        accuracies={
            "current": DefaultAccuracy(percent_of_reading=2.0, counts=5, resolution=0.01, repeatability=0.02),
            "voltage": _CLAMP_VOLTS,
        },
    ),
    InstrumentType(
        "multimeter",
        "Digital multimeter: AC voltage, resistance with its leads zeroed, capacitance.",
        shares_calibration=True,
        accuracies={"voltage": _CLAMP_VOLTS, "resistance": _OHMS, "capacitance": _MICROFARADS},
    ),
    InstrumentType(
        "power_meter",
        "Clamp-on power meter: power, voltage, current and power factor.",
        shares_calibration=True,
        accuracies={
            "power": DefaultAccuracy(percent_of_reading=2.0, counts=5, resolution=1.0, repeatability=5),
            "current": DefaultAccuracy(percent_of_reading=1.5, counts=5, resolution=0.01, repeatability=0.02),
            "voltage": DefaultAccuracy(percent_of_reading=0.7, counts=2, resolution=0.1, repeatability=0.2),
            "ratio": DefaultAccuracy(fixed=0.03, resolution=0.01, repeatability=0.005),
        },
        also_made_for=("ratio",),
    ),
    InstrumentType(
        "manometer",
        "Digital manometer with static pressure tips.",
        shares_calibration=True,
        accuracies={
            "static_pressure": DefaultAccuracy(
                fixed=1.2, percent_of_reading=1.0, resolution=0.25, placement=3.0, repeatability=1.0
            )
        },
    ),
    InstrumentType(
        "airflow_hood",
        "Flow hood or flow grid at the return.",
        shares_calibration=True,
        accuracies={
            "airflow": DefaultAccuracy(
                percent_of_reading=10.0,
                resolution=0.0005,
                repeatability=0.003,
                source="field_airflow",
            )
        },
    ),
    InstrumentType(
        "barometer",
        "Barometer at the site.",
        shares_calibration=True,
        accuracies={"absolute_pressure": DefaultAccuracy(fixed=200.0, resolution=10.0)},
    ),
    InstrumentType(
        "measuring_vessel",
        "Measuring vessel and clock, for condensate.",
        shares_calibration=True,
        accuracies={"condensate_rate": DefaultAccuracy(percent_of_reading=5.0, repeatability=1e-6, source="practice")},
    ),
    InstrumentType(
        "gas_meter_and_clock",
        "Gas meter dial and a watch, with the heating value of the gas.",
        shares_calibration=True,
        accuracies={"heat_flow": DefaultAccuracy(percent_of_reading=3.0, repeatability=100.0, source="practice")},
    ),
    InstrumentType(
        "vacuum_gauge",
        "Electronic vacuum gauge (thermistor or thermal conductivity) at the system, not at the pump.",
        shares_calibration=True,
        accuracies={
            "vacuum": DefaultAccuracy(
                fixed=10.0 * MICRON,
                percent_of_reading=10.0,
                resolution=1.0 * MICRON,
                repeatability=5.0 * MICRON,
                source="vacuum_gauge_class",
            )
        },
    ),
    InstrumentType(
        "refrigerant_scale",
        "Electronic scale under the cylinder.",
        shares_calibration=True,
        accuracies={
            "mass": DefaultAccuracy(
                fixed=0.5 * OUNCE,
                percent_of_reading=0.5,
                resolution=0.1 * OUNCE,
                repeatability=0.1 * OUNCE,
                source="scale_class",
            )
        },
    ),
    InstrumentType(
        "insulation_tester",
        "Insulation tester at 500 V DC.",
        shares_calibration=True,
        accuracies={
            "insulation_resistance": DefaultAccuracy(
                percent_of_reading=5.0, fixed=2e5, resolution=1e4, repeatability=1e4, source="insulation_tester_class"
            )
        },
    ),
    InstrumentType(
        "capacitance_meter",
        "Capacitance meter or bridge.",
        shares_calibration=True,
        accuracies={
            "capacitance": DefaultAccuracy(
                percent_of_reading=1.0, counts=3, resolution=1e-8, repeatability=1e-8, source="capacitance_class"
            )
        },
    ),
    InstrumentType(
        "duct_tester",
        "Calibrated fan with its manometer, for duct leakage.",
        shares_calibration=True,
        accuracies={
            "duct_leakage": DefaultAccuracy(
                percent_of_reading=3.0,
                fixed=0.0005,
                resolution=0.0005,
                repeatability=0.0005,
                source="duct_tester_class",
            )
        },
    ),
    InstrumentType(
        "four_wire_ohmmeter",
        "Ohmmeter with four wires: leads and contacts do not count.",
        shares_calibration=True,
        accuracies={
            "resistance": DefaultAccuracy(
                percent_of_reading=0.5, counts=5, resolution=1e-4, repeatability=2e-4, source="four_wire_class"
            )
        },
    ),
)

INSTRUMENT_TYPES: Mapping[str, InstrumentType] = MappingProxyType({t.name: t for t in _TYPES})

#: The type assumed for a reading whose instrument the request does not state: one with a
#: published accuracy where there is one. Each reading then has its own sensor.
ASSUMED_TYPE: Mapping[str, str] = MappingProxyType(
    {
        "pressure": "analog_gauge",
        "line_temperature": "digital_thermometer",
        "air_temperature": "digital_thermometer",
        "wet_bulb": "psychrometer",
        "relative_humidity": "hygrometer_probe",
        "current": "clamp_meter",
        "voltage": "clamp_meter",
        "power": "power_meter",
        "ratio": "power_meter",
        "static_pressure": "manometer",
        "airflow": "airflow_hood",
        "absolute_pressure": "barometer",
        "condensate_rate": "measuring_vessel",
        "heat_flow": "gas_meter_and_clock",
        "vacuum": "vacuum_gauge",
        "mass": "refrigerant_scale",
        "resistance": "multimeter",
        "capacitance": "multimeter",
        "insulation_resistance": "insulation_tester",
        "duct_leakage": "duct_tester",
    }
)
