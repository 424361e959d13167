"""Faults: what each does to a unit, its prior probability, what to do about it.  Data, with sources.

A fault's levels are points on a line: at each, the changes of the lumped cycle model's parameters that it
brings with an expansion valve and with a fixed device.  Between two points the changes are interpolated.
The signs are published; the sizes are those of published fits of capacity, power and temperatures, some
40 % uncertain from one unit to the next, which :data:`SIGNATURE_SPREAD` and each fault's own ``spread``
say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import log, log1p
from types import MappingProxyType
from typing import Literal

from service.reference.metering_devices import ELECTRONIC, FIXED_DEVICES, THERMOSTATIC
from service.reference.model_outputs import outputs_of

Shown = Literal["cycle", "direct", "readings"]
#: The trade's order of work: nothing is opened before what can be seen from outside is done.
Stage = Literal["switch_off", "measure", "airflow", "electrical", "outdoor_coil", "charge", "open_circuit"]
STAGES: tuple[Stage, ...] = (
    "switch_off",
    "measure",
    "airflow",
    "electrical",
    "outdoor_coil",
    "charge",
    "open_circuit",
)


@dataclass(frozen=True, slots=True)
class Level:
    """A point on a fault's line: how far it has gone, the changes that come with it, and its weight
    beforehand against the other points (severe faults are rarer)."""

    level: float
    valve: Mapping[str, float]
    fixed: Mapping[str, float]
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Form:
    """One form of a fault: its share, its levels, and what else is uncertain.

    ``usual`` is the level up to which field and laboratory work reaches; :data:`BESIDE` holds there.  ``held`` are
    changes that an expansion valve keeps as they were, but for their ``spread``.
    """

    name: str
    share: float
    levels: tuple[Level, ...]
    spread: Mapping[str, float] = field(default_factory=dict)
    usual: float = 1.0
    held: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, at its place in the order of work, with the cautions that go with it.

    ``devices`` are the metering devices that it is for, None among them for one that is not stated; empty
    for any.  ``chart`` is whether it is for a unit whose own table is given for these conditions; None for either.
    """

    stage: Stage
    text: str
    cautions: tuple[str, ...] = ()
    acts: bool = False
    devices: tuple[str | None, ...] = ()
    chart: bool | None = None

    @property
    def changes(self) -> bool:
        """Whether it changes the unit, not only looks or measures."""
        return self.acts or self.stage == "open_circuit"

    def suits(self, device: str | None, *, chart: bool) -> bool:
        """Whether it is for a unit with this metering device, whose own table is given or not."""
        return (not self.devices or device in self.devices) and self.chart in (None, chart)


@dataclass(frozen=True, slots=True)
class Fault:
    """One hypothesis.

    ``shown`` is how it shows: in the ``cycle``, ``direct`` in one derived value against its limit, or
    in ``readings`` that do not fit each other.  ``prior`` is its prior probability.  ``harm`` is what it
    does to a unit with one of ``harm_devices`` (None among them for one that is not stated; empty for any).
    ``modes`` are those in which it is one of the hypotheses; its forms are of the first of them (see
    :mod:`service.reference.faults_by_mode` for the others).
    """

    id: str
    text: str
    shown: Shown
    prior: float
    level_text: str
    unit: str
    source: str
    forms: tuple[Form, ...] = ()
    limits: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    separate: str = ""
    harm: str = ""
    harm_devices: tuple[str | None, ...] = ()
    only_below: bool = False
    modes: tuple[str, ...] = ("cooling", "heating")

    def harm_with(self, device: str | None) -> str:
        """The harm that it does to a unit with this metering device; empty where it does none."""
        return self.harm if not self.harm_devices or device in self.harm_devices else ""


def _less(share: float) -> float:
    return log(1.0 - share)


_COOLING = ("cooling",)
_HEATING = ("heating",)

#: Prior weight of levels beyond those that field and laboratory work reaches.
_SEVERE = 0.4
_STARVED_VALVE = ((2.0, 0.3), (5.0, 0.8), (8.0, 1.3), (12.0, 1.8), (16.0, 2.2), (24.0, 2.6))
_STARVED_FIXED = ((2.2, 0.4), (4.4, 0.7), (8.0, 1.1), (11.0, 1.4), (15.0, 1.8), (23.0, 2.2))


def _short_of_liquid(superheat: float, subcooling: float) -> dict[str, float]:
    """A coil that is fed too little: more of it only heats gas than a usual superheat would take."""
    return {
        "superheat_change": superheat,
        "subcooling_change": subcooling,
        "evaporator_change": -0.008 * superheat,
    }


def _starved(levels: tuple[float, ...]) -> tuple[Level, ...]:
    """A restricted feed: superheat up, some liquid held back in the condenser."""
    return tuple(
        Level(
            level,
            _short_of_liquid(*valve),
            _short_of_liquid(*fixed),
            _SEVERE if level == levels[-1] else 1.0,
        )
        for level, valve, fixed in zip(levels, _STARVED_VALVE, _STARVED_FIXED, strict=True)
    )


def _of_charge(rows: tuple[tuple[float, tuple[float, ...], tuple[float, ...]], ...], usual: float) -> tuple[Level, ...]:
    """Levels of charge: superheat, subcooling, evaporator, condenser and compressor efficiency as changed
    with a valve and with a fixed device."""
    names = (
        "superheat_change",
        "subcooling_change",
        "evaporator_change",
        "condenser_change",
        "efficiency_change",
    )
    return tuple(
        Level(
            level,
            dict(zip(names, valve, strict=True)),
            dict(zip(names, fixed, strict=True)),
            1.0 if level <= usual else _SEVERE,
        )
        for level, valve, fixed in rows
    )


def _fed(superheat: float, subcooling: float) -> dict[str, float]:
    """A device that feeds too much: a wetter coil gains little, and wet gas costs the compressor."""
    return {
        "superheat_change": superheat,
        "subcooling_change": subcooling,
        "evaporator_change": 0.012 * max(superheat, -7.0),
        "efficiency_change": 0.0035 * superheat,
    }


def _flow(share: float, weight: float = 1.0) -> Level:
    """A compressor that pumps less by this share."""
    pumped = {"flow_change": _less(share), "efficiency_change": 0.75 * _less(share)}
    return Level(
        share,
        pumped | {"subcooling_change": -3.0 * share},
        pumped | {"superheat_change": -25.0 * share, "subcooling_change": -7.0 * share},
        weight,
    )


def _outdoors(share: float, weight: float = 1.0) -> Level:
    """A condenser that has lost this share of its conductance."""
    lost = {"condenser_change": _less(share)}
    return Level(
        share,
        lost | {"subcooling_change": 2.0 * share},
        lost | {"superheat_change": -7.0 * share, "subcooling_change": 0.5 * share},
        weight,
    )


def _indoors(change: str, share: float, weight: float = 1.0) -> Level:
    """Indoor airflow, or the indoor coil's conductance, less by this share."""
    lost = {change: _less(share)}
    return Level(
        share,
        lost | {"subcooling_change": 1.0 * share},
        lost | {"superheat_change": -16.0 * share, "subcooling_change": -1.5 * share},
        weight,
    )


#: A valve holds superheat, and with it subcooling, whatever the coil that evaporates takes up.
_BY_THE_VALVE = ("superheat_change", "subcooling_change")


def _absorbing(change: str, share: float, weight: float = 1.0) -> Level:
    """An outdoor coil in heating with less airflow, or less heat transfer, by this share."""
    lost = {change: _less(share)}
    return Level(share, lost, lost | {"superheat_change": -5.5 * share, "subcooling_change": -3.6 * share}, weight)


def _frosted(share: float, weight: float = 1.0) -> Level:
    """An outdoor coil whose airflow frost has cut by this share; frost also insulates."""
    lost = {"outdoor_airflow_change": _less(share), "outdoor_coil_change": 0.4 * _less(share)}
    return Level(share, lost, lost | {"superheat_change": -5.5 * share, "subcooling_change": -3.6 * share}, weight)


def _giving(change: str, share: float, weight: float = 1.0) -> Level:
    """An indoor coil in heating with less airflow, or less heat transfer, by this share."""
    lost = {change: _less(share)}
    if change == "airflow_change":
        # By published maps capacity and efficiency fall further than the coil alone explains; about half of that.
        lost |= {"flow_change": 0.06 * _less(share), "efficiency_change": 0.15 * _less(share)}
    return Level(share, lost, lost | {"superheat_change": -9.0 * share, "subcooling_change": -5.5 * share}, weight)


def _leaking(share: float, weight: float = 1.0) -> Level:
    """A reversing valve that leaks this share of the pumped gas."""
    leak = {"leak_change": share}
    return Level(share, leak, leak | {"superheat_change": -12.0 * share, "subcooling_change": -8.0 * share}, weight)


_GAUGE = ("refrigerant_under_pressure",)
_OPEN = ("refrigerant_under_pressure", "refrigerant_release")
_VOLTS = ("live_voltage",)
_BULB = (THERMOSTATIC,)
_DRIVEN = (ELECTRONIC,)
_NOT_STATED = (None,)
#: What distinguishes a starved device from a restriction in the line ahead of it.
_AHEAD = "read the liquid line temperature ahead of it, to tell this from a restriction in the line."

_ROWS = (
    Fault(
        "no_fault",
        "no fault in the refrigerant cycle",
        "cycle",
        0.48,
        "",
        "",
        "fault_priors",
        separate="Every reading is where a healthy unit of its kind would show it.",
    ),
    Fault(
        "low_charge",
        "an undercharge (low on refrigerant)",
        "cycle",
        0.12,
        "share of the charge that is missing",
        "1",
        "charge_effects",
        (
            Form(
                "",
                1.0,
                _of_charge(
                    (
                        (0.05, (0.0, -2.4, -0.03, -0.01, 0.0), (2.3, -2.1, -0.03, 0.0, 0.0)),
                        (0.10, (0.1, -4.7, -0.06, -0.02, 0.0), (4.6, -4.0, -0.06, 0.0, 0.0)),
                        (0.15, (0.5, -6.6, -0.10, -0.03, 0.0), (7.4, -5.8, -0.08, 0.0, 0.0)),
                        (0.20, (2.0, -8.2, -0.14, -0.03, 0.0), (10.2, -7.2, -0.10, 0.0, 0.0)),
                        (0.25, (6.0, -10.0, -0.14, -0.02, 0.0), (12.6, -9.0, -0.10, 0.0, 0.0)),
                        (0.30, (10.0, -12.0, -0.14, 0.0, 0.0), (14.5, -11.0, -0.10, 0.0, 0.0)),
                        (0.40, (15.0, -18.0, -0.15, 0.1, 0.0), (18.5, -17.0, -0.12, 0.1, 0.0)),
                        (0.50, (20.0, -25.0, -0.2, 0.25, 0.0), (22.0, -24.0, -0.2, 0.25, 0.0)),
                        (0.65, (26.0, -35.0, -0.3, 0.5, 0.0), (27.0, -34.0, -0.3, 0.5, 0.0)),
                        (0.80, (32.0, -45.0, -0.4, 0.8, 0.0), (32.0, -44.0, -0.4, 0.8, 0.0)),
                        (0.90, (36.0, -52.0, -0.5, 1.0, 0.0), (36.0, -52.0, -0.5, 1.0, 0.0)),
                    ),
                    0.30,
                ),
                {"evaporator_change": 0.04, "condenser_change": 0.03},
                0.30,
            ),
        ),
        steps=(
            Step(
                "measure",
                "Read the liquid line again with a second clamp, on clean pipe and insulated, before "
                "the charge is touched: a clamp that reads warm looks like a low charge.",
            ),
            Step(
                "charge",
                "Find the leak before adding refrigerant (oil stains, detector, soap bubbles); a "
                "sealed system does not use up its charge.",
                _GAUGE,
            ),
            Step("charge", "If airflow was corrected, read superheat and subcooling again first.", _GAUGE),
            Step(
                "open_circuit",
                "Recover the refrigerant, repair the leak, pressure-test, evacuate, and weigh in the nameplate charge.",
                _OPEN,
            ),
        ),
        separate="Subcooling falls, and with a fixed metering device superheat rises; a restriction "
        "raises superheat without lowering subcooling.",
    ),
    Fault(
        "overcharge",
        "an overcharge",
        "cycle",
        0.07,
        "share of charge above the correct one",
        "1",
        "charge_effects",
        (
            Form(
                "",
                1.0,
                _of_charge(
                    (
                        (0.05, (0.0, 2.1, -0.02, 0.0, 0.0), (-2.5, 1.9, -0.03, -0.03, -0.006)),
                        (0.10, (0.0, 4.3, -0.03, 0.0, 0.0), (-4.9, 3.6, -0.05, -0.05, -0.012)),
                        (0.15, (0.0, 6.4, -0.03, -0.03, 0.0), (-7.4, 5.2, -0.06, -0.065, -0.016)),
                        (0.20, (0.0, 8.5, -0.03, -0.055, 0.0), (-9.8, 6.8, -0.07, -0.10, -0.02)),
                        (0.30, (0.0, 12.5, -0.03, -0.085, 0.0), (-13.0, 9.6, -0.08, -0.16, -0.03)),
                    ),
                    0.30,
                ),
                {"evaporator_change": 0.03, "condenser_change": 0.03},
                0.30,
            ),
        ),
        steps=(
            Step(
                "measure",
                "Compare the liquid line temperature with the outdoor air temperature. With the unit "
                "at rest, compare the high-side pressure with saturation at outdoor air temperature: "
                "non-condensable gas looks like an overcharge.",
                _GAUGE,
            ),
            Step(
                "open_circuit",
                "Recover the excess refrigerant into a cylinder, weigh it, and take all "
                "readings again; never vent refrigerant.",
                _OPEN,
            ),
        ),
        harm="With a fixed metering device, an overcharge sends liquid to the compressor.",
        harm_devices=FIXED_DEVICES + _NOT_STATED,
        separate="Subcooling rises three times as much as condensing temperature; non-condensable gas "
        "raises both equally.",
    ),
    Fault(
        "condenser_heat_transfer",
        "an outdoor coil that is not getting rid of enough heat (dirt, fan, recirculated air)",
        "cycle",
        0.10,
        "share of the condenser's conductance that is lost",
        "1",
        "condenser_effects",
        (
            Form(
                "",
                1.0,
                (
                    *(_outdoors(share) for share in (0.10, 0.20, 0.30, 0.40, 0.50)),
                    *(_outdoors(share, _SEVERE) for share in (0.60, 0.68, 0.75)),
                ),
                {"fan_change": 0.10, "superheat_change": 0.5, "subcooling_change": 0.6},
                0.50,
            ),
        ),
        steps=(
            Step(
                "outdoor_coil",
                "Inspect the outdoor coil, the fan, its blade and direction of rotation, and "
                "anything that blocks or recirculates the air.",
                ("work_at_height",),
            ),
            Step(
                "outdoor_coil",
                "Clean the outdoor coil with power off and locked out, then read again under the same conditions.",
                ("coil_cleaner", "live_voltage"),
                acts=True,
            ),
        ),
        separate="Condensing temperature and power rise while subcooling hardly moves.",
        modes=_COOLING,
    ),
    Fault(
        "evaporator_airflow",
        "an indoor coil that is not absorbing enough heat (filter, blower, ducts, coil)",
        "cycle",
        0.11,
        "share of indoor airflow, or of the coil's conductance, that is lost",
        "1",
        "airflow_effects",
        (
            Form(
                "airflow",
                0.75,
                (
                    *(_indoors("airflow_change", share) for share in (0.10, 0.20, 0.30, 0.40, 0.50)),
                    *(_indoors("airflow_change", share, _SEVERE) for share in (0.60, 0.70, 0.80)),
                ),
                {"blower_change": 0.25, "evaporator_change": 0.05, "superheat_change": 0.6, "subcooling_change": 0.5},
                0.50,
            ),
            Form(
                "coil",
                0.25,
                (
                    *(_indoors("evaporator_change", share) for share in (0.15, 0.30, 0.45)),
                    _indoors("evaporator_change", 0.70, _SEVERE),
                ),
                {"airflow_change": 0.05, "superheat_change": 0.6, "subcooling_change": 0.5},
                0.45,
            ),
        ),
        steps=(
            Step(
                "airflow",
                "Check the filter, the blower wheel and its speed, the dampers and the registers; "
                "read the static pressures and correct the airflow before anything else.",
                ("live_voltage",),
            ),
            Step("airflow", "Inspect the face of the indoor coil for dirt and ice.", ("coil_cleaner",)),
        ),
        harm="An iced coil sends liquid to the compressor.",
        separate="Evaporating temperature falls and the supply air is colder; with an undercharge it is warmer.",
        modes=_COOLING,
    ),
    Fault(
        "liquid_line_restriction",
        "a restriction in the liquid line",
        "cycle",
        0.02,
        "increase in the flow resistance of the line",
        "1",
        "restriction_effects",
        (
            Form(
                "",
                1.0,
                _starved((0.1, 0.2, 0.4, 0.6, 0.9, 1.8)),
                {"evaporator_change": 0.06, "condenser_change": 0.04, "subcooling_change": 1.0},
                0.9,
            ),
        ),
        steps=(
            Step(
                "measure",
                "Read the liquid line temperature before and after the filter drier and ahead "
                "of the metering device: a drop of more than 3 °F (1.7 K) locates the restriction.",
                _GAUGE,
            ),
            Step(
                "open_circuit",
                "Recover the refrigerant, replace the filter drier or clear the liquid line, "
                "evacuate, and weigh in the nameplate charge.",
                _OPEN,
            ),
        ),
        separate="Superheat rises and subcooling holds or rises; the liquid line is colder past the restriction.",
    ),
    Fault(
        "non_condensable_gas",
        "non-condensable gas (air or nitrogen)",
        "cycle",
        0.02,
        "its pressure as a share of the refrigerant's own in the condenser",
        "1",
        "non_condensable_effects",
        (
            Form(
                "",
                1.0,
                tuple(
                    Level(
                        share,
                        {"condenser_change": -3.2 * log1p(share), "subcooling_change": 54.0 * log1p(share)},
                        {
                            "condenser_change": -3.5 * log1p(share),
                            "subcooling_change": 41.0 * log1p(share),
                            "superheat_change": -45.0 * log1p(share),
                        },
                    )
                    for share in (0.014, 0.03, 0.05, 0.08, 0.12, 0.18, 0.25)
                ),
                {"condenser_change": 0.02, "subcooling_change": 0.4, "superheat_change": 0.4},
                0.25,
            ),
        ),
        steps=(
            Step(
                "measure",
                "With the unit off and at rest, compare the high-side pressure with "
                "saturation at the outdoor coil temperature: pressure above saturation shows "
                "non-condensable gas.",
                _GAUGE,
            ),
            Step(
                "open_circuit",
                "Recover all the refrigerant, evacuate to a deep vacuum that holds, and weigh in clean refrigerant.",
                _OPEN,
            ),
        ),
        separate="Condensing temperature, as read from pressure, and subcooling rise by the same amount; "
        "air temperatures and the low side do not change.",
    ),
    Fault(
        "compressor_leakage",
        "a worn or internally leaking compressor",
        "cycle",
        0.04,
        "share of the compressor's flow, or of its efficiency, that is lost",
        "1",
        "compressor_effects",
        (
            Form(
                "flow",
                0.7,
                (
                    *(_flow(share) for share in (0.06, 0.12, 0.20, 0.30, 0.40)),
                    *(_flow(share, 2.0 * _SEVERE) for share in (0.50, 0.60, 0.70, 0.80, 0.90)),
                ),
                {"efficiency_change": 0.06, "superheat_change": 0.8, "subcooling_change": 0.5},
                0.40,
            ),
            Form(
                "efficiency",
                0.3,
                tuple(
                    Level(share, {"efficiency_change": _less(share)}, {"efficiency_change": _less(share)})
                    for share in (0.08, 0.16, 0.25, 0.35)
                ),
                {"flow_change": 0.02, "superheat_change": 0.5, "subcooling_change": 0.4},
                0.35,
            ),
        ),
        steps=(
            Step(
                "measure",
                "Compare the compressor's current and power with the nameplate and the "
                "compressor's map, and feel for a leaking reversing valve or bypass.",
                _VOLTS,
            ),
            Step(
                "open_circuit",
                "Condemn a compressor only after charge, airflow and metering are correct "
                "and the readings still point to it.",
                _OPEN,
            ),
        ),
        separate="The low side rises while the high side falls; the discharge line runs hot for the "
        "small amount pumped.",
    ),
    Fault(
        "expansion_overfeeding",
        "a metering device that feeds too much",
        "cycle",
        0.015,
        "superheat lost",
        "K",
        "metering_effects",
        (
            Form(
                "",
                1.0,
                tuple(
                    Level(-rise, _fed(rise, valve), _fed(rise, fixed))
                    for rise, valve, fixed in (
                        (-2.5, -0.4, -1.2),
                        (-5.0, -0.9, -2.4),
                        (-8.0, -1.5, -3.8),
                        (-11.0, -2.2, -5.0),
                    )
                ),
                {"evaporator_change": 0.05, "subcooling_change": 0.8},
                11.0,
            ),
        ),
        steps=(
            Step("measure", "Check the expansion valve's bulb: its location, strap and insulation.", devices=_BULB),
            Step(
                "measure",
                "Check the electronic expansion valve's sensors: their location, mounting and "
                "wiring; and whether the valve closes on command.",
                devices=_DRIVEN,
            ),
            Step(
                "measure",
                "Look up the orifice or tube size that the maker specifies for this unit and "
                "refrigerant: one that is too large, or not seated, feeds too much.",
                devices=FIXED_DEVICES,
            ),
            Step(
                "measure",
                "Find out which metering device the unit has. On an expansion valve check the bulb or "
                "sensors (location, mounting, insulation); on a fixed orifice, the size that the maker "
                "specifies.",
                devices=_NOT_STATED,
            ),
            Step(
                "open_circuit",
                "Adjust or replace the expansion valve once charge and airflow are correct.",
                _OPEN,
                devices=_BULB + _DRIVEN,
            ),
            Step(
                "open_circuit",
                "Reseat the orifice, or fit the correct size for this unit and "
                "refrigerant, once charge and airflow are correct.",
                _OPEN,
                devices=FIXED_DEVICES,
            ),
            Step(
                "open_circuit",
                "Adjust or replace the metering device once charge and airflow are correct.",
                _OPEN,
                devices=_NOT_STATED,
            ),
        ),
        separate="Superheat and subcooling fall together; overcharge lowers one and raises the other.",
        harm="Liquid that reaches the compressor destroys it, even where efficiency looks normal.",
    ),
    Fault(
        "expansion_underfeeding",
        "a metering device that feeds too little",
        "cycle",
        0.02,
        "superheat gained",
        "K",
        "metering_effects",
        (
            Form(
                "",
                1.0,
                _starved((2.0, 5.0, 8.0, 12.0, 16.0, 24.0)),
                {"evaporator_change": 0.06, "condenser_change": 0.04, "subcooling_change": 1.5},
                16.0,
            ),
        ),
        steps=(
            Step(
                "measure",
                "Check the expansion valve's strainer, the bulb's charge and the valve's response to a "
                f"warmed bulb; {_AHEAD}",
                devices=_BULB,
            ),
            Step(
                "measure",
                "Check the electronic expansion valve's strainer, coil, wiring and sensors, and "
                f"whether it opens on command; {_AHEAD}",
                devices=_DRIVEN,
            ),
            Step(
                "measure",
                "Look for frost or a cold spot at the strainer ahead of the fixed orifice or tube, and "
                "look up the size that the maker specifies for this unit and refrigerant. One that is "
                f"too small, or badly seated, feeds too little; {_AHEAD}",
                devices=FIXED_DEVICES,
            ),
            Step(
                "measure",
                "Find out which metering device the unit has, and look for frost or a cold spot at "
                f"its strainer; {_AHEAD}",
                devices=_NOT_STATED,
            ),
            Step(
                "open_circuit",
                "Clean the strainer, or replace the expansion valve, once charge and airflow are correct.",
                _OPEN,
                devices=_BULB + _DRIVEN,
            ),
            Step(
                "open_circuit",
                "Clean the strainer, reseat the orifice, or fit the correct size for "
                "this unit and refrigerant, once charge and airflow are correct.",
                _OPEN,
                devices=FIXED_DEVICES,
            ),
            Step(
                "open_circuit",
                "Clean or replace the metering device once charge and airflow are correct.",
                _OPEN,
                devices=_NOT_STATED,
            ),
        ),
        separate="Like a restriction, but the liquid line does not get colder along its length.",
    ),
    Fault(
        "low_load",
        "a low heat load on the indoor coil",
        "direct",
        0.02,
        "",
        "",
        "ra3_return_minimum",
        steps=(
            Step(
                "measure",
                "Warm the house up first, or come back on a warmer day: refrigerant "
                "charge cannot be judged with return air this cool.",
            ),
        ),
        modes=_COOLING,
    ),
    Fault(
        "weak_run_capacitor",
        "a weak run capacitor",
        "direct",
        0.04,
        "",
        "",
        "capacitor_marking",
        limits=(
            "compressor_run_capacitor_marking",
            "outdoor_fan_run_capacitor_marking",
            "indoor_blower_run_capacitor_marking",
        ),
        steps=(
            Step("electrical", "Measure the run capacitor again under load.", ("live_voltage", "stored_charge")),
            Step(
                "electrical",
                "Replace the run capacitor with one of the marked value, with power off and "
                "locked out and the capacitor discharged.",
                ("live_voltage", "stored_charge"),
                acts=True,
            ),
        ),
        only_below=True,
    ),
    Fault(
        "supply_voltage",
        "a low, high or unbalanced supply voltage, or a lost phase",
        "direct",
        0.02,
        "",
        "",
        "ansi_c84_utilization_a",
        limits=(
            "supply_voltage_motor",
            "supply_voltage_utilization",
            "voltage_imbalance_correct",
            "current_imbalance_lost_phase",
        ),
        steps=(
            Step(
                "electrical",
                "Measure the supply voltage at the disconnect and at the panel under "
                "load, on every phase. Look for a blown fuse and for a hot or loose connection; if there "
                "is none, call the utility. Keep a three-phase motor that lost a phase off until then.",
                _VOLTS,
            ),
        ),
    ),
    Fault(
        "return_air_leak",
        "a return duct that draws in outside, attic or crawl-space air",
        "direct",
        0.05,
        "",
        "",
        "return_leak_practice",
        limits=("return_air_temperature_rise_usual",),
        steps=(
            Step(
                "airflow",
                "Inspect the return duct and its joints between the grille and the unit, "
                "in the attic or crawl space, and seal the leaks.",
            ),
        ),
    ),
    Fault(
        "measurement_mistake",
        "a wrong reading, or a refrigerant other than the one stated",
        "readings",
        0.03,
        "",
        "",
        "gross_error_practice",
        steps=(
            Step(
                "measure",
                "Check the instrument behind the doubtful reading against a second one, or an "
                "ice bath; check where and how its sensor is mounted; read the refrigerant off the "
                "nameplate again.",
                _GAUGE,
            ),
        ),
    ),
    Fault(
        "none_of_these",
        "something that none of these faults explains",
        "readings",
        0.01,
        "",
        "",
        "unknown_fault",
        steps=(Step("measure", "Take all readings again once the unit runs steadily with its panels on."),),
    ),
    Fault(
        "compressor_stalled",
        "a stalled compressor",
        "direct",
        0.005,
        "",
        "",
        "locked_rotor",
        limits=("compressor_current_stalled",),
        steps=(
            Step(
                "switch_off",
                "Switch the unit off now and lock it out: a stalled compressor overheats within minutes.",
                _VOLTS,
            ),
            Step(
                "electrical",
                "With power off and locked out and capacitors discharged, check the "
                "compressor's run capacitor and start relay, its winding resistances, the insulation to "
                "ground, and its terminals.",
                ("live_voltage", "stored_charge"),
            ),
            Step(
                "electrical",
                "Measure the supply voltage at the contactor during one attempt to start the "
                "compressor, then switch off again.",
                _VOLTS,
            ),
            Step(
                "electrical",
                "Condemn the compressor only after the supply, the capacitor and the start "
                "components have tested good.",
                _VOLTS,
            ),
        ),
        separate="It draws locked-rotor current, and the pressures stay equal.",
        harm="Switch it off now: a stalled compressor overheats within minutes.",
    ),
    Fault(
        "compressor_not_pumping",
        "a compressor that runs but does not pump",
        "direct",
        0.005,
        "",
        "",
        "not_pumping_practice",
        steps=(
            Step("switch_off", "Switch the unit off now; do not add refrigerant.", _VOLTS),
            Step(
                "measure",
                "Check that both service valves and both gauge valves are set correctly, "
                "and that the current was read on a compressor wire.",
                _GAUGE,
            ),
            Step(
                "electrical",
                "On a three-phase unit, check the direction of rotation; on a heat pump, check "
                "whether the reversing valve is stuck in mid-position.",
                _VOLTS,
            ),
            Step(
                "electrical",
                "Condemn the compressor only after its supply, its rotation and the valves have tested good.",
                _VOLTS,
            ),
        ),
        separate="The compressor draws current, and the pressures hardly differ.",
        harm="Switch it off now: a compressor that pumps nothing gets no suction gas to cool it.",
    ),
    Fault(
        "circuit_nearly_empty",
        "most of the refrigerant lost, or its flow blocked",
        "direct",
        0.01,
        "",
        "",
        "nearly_empty",
        steps=(
            Step("switch_off", "Switch the compressor off now: so little suction gas cannot cool it.", _VOLTS),
            Step(
                "measure",
                "Check that both service valves are open, and look for a line that is kinked or frosted in one spot.",
                _GAUGE,
            ),
            Step(
                "measure",
                "With the unit off, read both pressures once they have equalized: below saturation at "
                "outdoor air temperature no liquid is left.",
                _GAUGE,
            ),
            Step(
                "charge",
                "Find the leak before adding refrigerant (oil stains, detector, soap bubbles); a "
                "sealed system does not use up its charge.",
                _GAUGE,
            ),
        ),
        separate="Suction and head pressure are both low, superheat is very high, and the air is hardly cooled.",
        harm="Switch the compressor off until the cause is found: so little suction gas cannot cool it.",
    ),
    Fault(
        "outdoor_fan_stopped",
        "an outdoor fan that is not turning",
        "direct",
        0.01,
        "",
        "",
        "outdoor_fan_practice",
        steps=(
            Step(
                "switch_off",
                "See whether the outdoor fan turns. If it does not, switch the unit off "
                "before the pressure trips the high-pressure switch.",
                _VOLTS,
            ),
            Step(
                "electrical",
                "With power off and locked out and the capacitor discharged, turn the outdoor "
                "fan by hand, and check its motor, run capacitor, wiring and contactor.",
                ("live_voltage", "stored_charge"),
            ),
            Step(
                "outdoor_coil",
                "Once the outdoor fan runs, inspect the outdoor coil and anything that blocks its "
                "air; then take all readings again before judging the charge.",
                ("work_at_height",),
            ),
        ),
        separate="The fan motor draws no current, and the condensing temperature is far above the "
        "outdoor air temperature.",
        harm="Switch the unit off until the fan runs: the pressure climbs to the high-pressure cut-out.",
    ),
    Fault(
        "outdoor_coil_airflow",
        "an outdoor coil that is not absorbing enough heat (dirt, fan, blocked air)",
        "cycle",
        0.08,
        "share of outdoor airflow, or of the coil's heat transfer, that is lost",
        "1",
        "heating_fault_signs",
        (
            Form(
                "airflow",
                0.6,
                (
                    *(_absorbing("outdoor_airflow_change", share) for share in (0.10, 0.20, 0.30, 0.40, 0.50)),
                    *(_absorbing("outdoor_airflow_change", share, _SEVERE) for share in (0.60, 0.70, 0.80)),
                ),
                {
                    "outdoor_coil_change": 0.08,
                    "fan_change": 0.10,
                    "superheat_change": 0.8,
                    "subcooling_change": 0.8,
                },
                0.50,
                _BY_THE_VALVE,
            ),
            Form(
                "coil",
                0.4,
                (
                    *(_absorbing("outdoor_coil_change", share) for share in (0.10, 0.20, 0.30, 0.40, 0.50)),
                    *(_absorbing("outdoor_coil_change", share, _SEVERE) for share in (0.60, 0.70)),
                ),
                {
                    "outdoor_airflow_change": 0.08,
                    "fan_change": 0.10,
                    "superheat_change": 0.8,
                    "subcooling_change": 0.8,
                },
                0.50,
                _BY_THE_VALVE,
            ),
        ),
        steps=(
            Step(
                "outdoor_coil",
                "Inspect the outdoor coil, the fan, its blade and direction of rotation, and anything that "
                "blocks the air: snow, leaves, ice on the base pan.",
                ("work_at_height",),
            ),
            Step(
                "outdoor_coil",
                "Clean the outdoor coil with power off and locked out, then read again under the same conditions.",
                ("coil_cleaner", "live_voltage"),
                acts=True,
            ),
        ),
        separate="Evaporating temperature falls further below the outdoor air. Frost does the same but clears in a "
        "defrost; dirt does not.",
        modes=_HEATING,
    ),
    Fault(
        "outdoor_coil_frost",
        "frost or ice on the outdoor coil",
        "cycle",
        0.03,
        "share of outdoor airflow that frost blocks",
        "1",
        "heating_fault_signs",
        (
            Form(
                "",
                1.0,
                (
                    *(_frosted(share) for share in (0.20, 0.35, 0.50)),
                    *(_frosted(share, _SEVERE) for share in (0.65, 0.80)),
                ),
                {
                    "outdoor_coil_change": 0.10,
                    "fan_change": 0.08,
                    "superheat_change": 0.8,
                    "subcooling_change": 0.8,
                },
                0.50,
                _BY_THE_VALVE,
            ),
        ),
        steps=(
            Step(
                "outdoor_coil",
                "Look at the outdoor coil: is it white or iced all over, or only in part? Start a defrost from the "
                "board, wait fifteen minutes after it ends, then read again.",
                ("work_at_height",),
            ),
            Step(
                "electrical",
                "If frost remains after a defrost, check the defrost board, its coil sensor and where that is clipped. "
                "Check that the outdoor fan stops and the reversing valve shifts during a defrost.",
                _VOLTS,
            ),
        ),
        separate="It clears after a defrost, and it comes only where the coil is below freezing.",
        harm="An iced outdoor coil sends liquid to the compressor.",
        modes=_HEATING,
    ),
    Fault(
        "indoor_airflow",
        "an indoor coil that is not giving off enough heat (filter, blower, ducts, coil)",
        "cycle",
        0.10,
        "share of indoor airflow, or of the coil's heat transfer, that is lost",
        "1",
        "heating_tables",
        (
            Form(
                "airflow",
                0.8,
                (
                    *(_giving("airflow_change", share) for share in (0.10, 0.20, 0.30, 0.40, 0.50)),
                    *(_giving("airflow_change", share, _SEVERE) for share in (0.60, 0.70)),
                ),
                {
                    "blower_change": 0.25,
                    "indoor_coil_change": 0.05,
                    "flow_change": 0.02,
                    "efficiency_change": 0.03,
                    "superheat_change": 0.8,
                    "subcooling_change": 0.8,
                },
                0.50,
            ),
            Form(
                "coil",
                0.2,
                (
                    *(_giving("indoor_coil_change", share) for share in (0.15, 0.30, 0.45)),
                    _giving("indoor_coil_change", 0.65, _SEVERE),
                ),
                {"airflow_change": 0.05, "superheat_change": 0.8, "subcooling_change": 0.8},
                0.45,
            ),
        ),
        steps=(
            Step(
                "airflow",
                "Check the filter, the blower wheel and its speed, the dampers and the registers; read the static "
                "pressures and correct the airflow before anything else.",
                ("live_voltage",),
            ),
            Step("airflow", "Inspect the face of the indoor coil for dirt.", ("coil_cleaner",)),
        ),
        harm="Low airflow in heating drives the head pressure up to the high-pressure cut-out.",
        separate="Condensing temperature and the air temperature rise go up together; with an overcharge or "
        "non-condensable gas the air is no warmer.",
        modes=_HEATING,
    ),
    Fault(
        "reversing_valve_leakage",
        "a reversing valve that leaks hot gas into the suction",
        "cycle",
        0.01,
        "share of the pumped gas that leaks",
        "1",
        "reversing_valve_balance",
        (
            Form(
                "",
                1.0,
                (
                    *(_leaking(share) for share in (0.03, 0.06, 0.10, 0.15, 0.20)),
                    *(_leaking(share, _SEVERE) for share in (0.30, 0.40)),
                ),
                {"superheat_change": 1.0, "subcooling_change": 0.8},
                0.20,
            ),
        ),
        steps=(
            Step(
                "measure",
                "After five minutes of steady heating, read the tube from the outdoor coil and the common suction tube "
                "at the reversing valve. Insulate both clamps, and keep them at least 5 inches (13 cm) from the "
                "valve's body. A rise of more than about 5 °F (3 K) points to a leak. First make sure that the "
                "outdoor coil is not flooded.",
                _GAUGE,
            ),
            Step(
                "measure",
                "Run the unit in cooling if the weather allows. A valve that leaks in both modes is worn; one that "
                "leaks only in heating may not shift fully. Check its solenoid.",
                _VOLTS,
            ),
            Step(
                "open_circuit",
                "Replace the reversing valve only after the compressor, charge and airflow have been ruled out.",
                _OPEN,
            ),
        ),
        separate="This looks like a worn compressor, but the suction gas warms across the reversing valve.",
        modes=_HEATING,
    ),
    Fault(
        "auxiliary_heat_on",
        "auxiliary heat that is on (strips left on, or a control that calls for them)",
        "cycle",
        0.025,
        "auxiliary heat over the rated heating capacity",
        "1",
        "definition",
        (
            Form(
                "",
                1.0,
                tuple(
                    Level(share, {"strips_change": share}, {"strips_change": share})
                    for share in (0.2, 0.35, 0.55, 0.8, 1.1, 1.5, 2.0)
                ),
                {},
                2.0,
            ),
        ),
        steps=(
            Step(
                "measure",
                "Measure the current of the auxiliary heat (strips) with the thermostat calling for the heat pump "
                "alone. With the auxiliary heat off, wait ten minutes and read the supply air again.",
                _VOLTS,
            ),
            Step(
                "electrical",
                "If auxiliary heat runs without a call, check the thermostat's settings and wiring, the outdoor "
                "thermostat, the sequencer or relay, and whether a defrost board holds the heat on.",
                _VOLTS,
            ),
        ),
        separate="The supply air is far warmer, and nothing in the refrigerant circuit differs.",
        modes=_HEATING,
    ),
)

FAULTS: Mapping[str, Fault] = MappingProxyType({row.id: row for row in _ROWS})

#: Pairs of faults that are looked for together, with the factor on the product of their probabilities:
#: one where they come independently, more where one brings the other.
PAIRS: Mapping[tuple[str, str], float] = MappingProxyType(
    {
        ("low_charge", "condenser_heat_transfer"): 1.0,
        ("low_charge", "evaporator_airflow"): 1.0,
        ("overcharge", "condenser_heat_transfer"): 1.5,
        ("overcharge", "evaporator_airflow"): 1.0,
        ("condenser_heat_transfer", "evaporator_airflow"): 1.5,
        ("low_charge", "non_condensable_gas"): 3.0,
        ("low_charge", "compressor_leakage"): 1.0,
        ("condenser_heat_transfer", "compressor_leakage"): 1.0,
        ("evaporator_airflow", "compressor_leakage"): 1.0,
        ("evaporator_airflow", "expansion_underfeeding"): 1.0,
        ("condenser_heat_transfer", "expansion_underfeeding"): 1.0,
        ("condenser_heat_transfer", "liquid_line_restriction"): 1.0,
        ("evaporator_airflow", "liquid_line_restriction"): 1.0,
    }
)
#: Hypotheses that the same readings may fit: where only these are left, they are named together.
LOOK_ALIKE: tuple[frozenset[str], ...] = (
    frozenset({"liquid_line_restriction", "expansion_underfeeding"}),
    frozenset({"overcharge", "non_condensable_gas"}),
    frozenset({"outdoor_coil_airflow", "outdoor_coil_frost"}),
    frozenset({"compressor_leakage", "reversing_valve_leakage"}),
)

#: How far a unit's own answer lies from the signature, relative (a standard deviation).
SIGNATURE_SPREAD = 0.30
#: How exactly a signature holds beside its own direction: standard deviations of every change at a form's
#: usual level, going with the square of the level (the further gone, the less alike two units are), up to
#: so many times.
FARTHEST = 1.0
BESIDE: Mapping[str, float] = MappingProxyType(
    {
        "condenser_change": 0.07,
        "airflow_change": 0.03,
        "evaporator_change": 0.09,
        "flow_change": 0.04,
        "efficiency_change": 0.04,
        "superheat_change": 1.6,
        "subcooling_change": 1.2,
    }
)
#: Points between two levels at which a fault is tried, with the two ends.
FINENESS = 3
#: Probability from which a fault is named as found.
FOUND = 0.90
#: Probability from which it is said that something is wrong, without a name.
CLAIMED = 0.80
#: Probability from which a hypothesis is worth a word, and under which it is not listed.
SUSPECTED = 0.10
LISTED = 0.002
#: Probability of no fault from which a unit may be called healthy.
HEALTHY_FROM = 0.5
#: and that of any one fault up to which it may.
STANDS_IN_THE_WAY = 0.25
#: Share of the variance of efficiency's change that readings must take away from what was not known of it
#: before any was made, before a cost is reported.  Some 10 to 16 % go with one pressure in any weather,
#: 19 % and more with the pressures, temperatures and weather of an ordinary visit
#: (``tests/unit/faults/test_diagnosis.py`` holds both sides); a comparison, which shares a unit, asks for more.
TELLS_OF_COST = 0.18
#: Loss of efficiency that counts, and the share of capacity.
COSTLY = 0.05
#: Standard deviation of a reading that nothing known explains [K], and of one in logarithms.
UNKNOWN_KELVINS = 4.0
UNKNOWN_RELATIVE = 0.15
#: What something unknown may take from efficiency or add to it (logarithm), a standard deviation.
UNKNOWN_COST = 0.10
#: Size of a gross mistake by kind of reading, a standard deviation: temperature of a line or of air [K];
#: pressure, electrical readings and airflow relative to the value.
GROSS: Mapping[str, float] = MappingProxyType(
    {
        "temperature": 6.0,
        "pressure": 0.08,
        "power": 0.15,
        "current": 0.15,
        "voltage": 0.08,
        "airflow": 0.30,
        "fraction": 0.20,
    }
)
#: Refrigerants that are taken for one another.
CONFUSED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "R-410A": ("R-22", "R-32", "R-454B"),
        "R-22": ("R-410A", "R-407C"),
        "R-407C": ("R-22", "R-410A"),
        "R-32": ("R-410A", "R-454B"),
        "R-454B": ("R-410A", "R-32"),
    }
)
#: Work that heats the gas, over the ideal: a compressor of 66 % isentropic efficiency whose shell loses 6 %
#: (common practice, no source).
COMPRESSION_WORK = 1.42
#: What is not known of a circuit with another refrigerant, a standard deviation by output [K], and relative of
#: those in logarithms; common practice, no source.
UNLIKE_KELVINS: Mapping[str, float] = MappingProxyType({"discharge_temperature": 5.0, "temperature_split": 1.0})
UNLIKE_RELATIVE = 0.08
#: Shares of the probability of a mistake: another refrigerant; the rest is spread over the readings.
MISTAKEN_REFRIGERANT = 0.3

#: Power of the likelihood with which one hypothesis is set against another, by what a healthy unit is known
#: from (Gruenwald and van Ommen 2017): against a unit's own baseline the model's coarseness is what limits,
#: against its rating or class the spread of units, which the likelihood holds already.
EVIDENCE_POWER: Mapping[str, float] = MappingProxyType({"baseline": 0.9, "rating": 1.0, "class": 1.0})
#: Relative standard deviation of a level, given the signature.
LEVEL_SPREAD = 0.2


@dataclass(frozen=True, slots=True)
class NextReading:
    """A reading that may be made next: its name, the output of the model that it shows, whether that counts
    in logarithms, and its standard uncertainty with a usual instrument (SI)."""

    name: str
    output: str
    logarithmic: bool
    uncertainty: float


def next_readings(mode: str) -> tuple[NextReading, ...]:
    """The readings that may be taken next in a mode."""
    return tuple(
        NextReading(row.reading.name, row.name, row.logarithmic, row.reading.error)
        for row in outputs_of(mode)
        if row.reading is not None
    )


#: Bits of information from which a reading is worth naming.
WORTH_READING = 0.05


@dataclass(frozen=True, slots=True)
class Symptom:
    """A value, derived or as read, that shows a fault by itself: mean and spread usually, and under each
    fault (SI); and the reading that gives it.

    Against a baseline that has it, what is usual is the baseline's value with a spread of ``drift``, and each
    fault moves it by as much as in its class.  Of several rows of one fault the first that was read counts.
    """

    quantity: str
    usual: tuple[float, float]
    under: Mapping[str, tuple[float, float]]
    drift: float
    reading: NextReading
    source: str
    modes: tuple[str, ...] = ("cooling", "heating")


_SYMPTOMS: tuple[Symptom, ...] = (
    Symptom(
        "liquid_line_temperature_drop",
        (0.5, 0.8),
        {"liquid_line_restriction": (4.0, 2.5)},
        0.5,
        NextReading("metering_device_inlet_temperature", "liquid_line_temperature_drop", False, 1.0),
        "practice",
        _COOLING,
    ),
    Symptom(
        "total_external_static_pressure",
        (125.0, 55.0),
        {"evaporator_airflow": (200.0, 80.0)},
        20.0,
        NextReading("total_external_static_pressure", "total_external_static_pressure", False, 10.0),
        "practice",
        _COOLING,
    ),
    Symptom(
        "filter_pressure_drop",
        (35.0, 25.0),
        {"evaporator_airflow": (80.0, 50.0)},
        10.0,
        NextReading("filter_pressure_drop", "filter_pressure_drop", False, 5.0),
        "practice",
        _COOLING,
    ),
    Symptom(
        "coil_pressure_drop",
        (60.0, 25.0),
        {"evaporator_airflow": (105.0, 50.0)},
        10.0,
        NextReading("coil_pressure_drop", "coil_pressure_drop", False, 5.0),
        "practice",
        _COOLING,
    ),
)
SYMPTOMS: tuple[Symptom, ...] = (
    *_SYMPTOMS,
    # The same pressures in heating, where the indoor coil is dry.
    *(
        replace(row, under={"indoor_airflow": row.under["evaporator_airflow"]}, modes=_HEATING)
        for row in _SYMPTOMS
        if "evaporator_airflow" in row.under
    ),
)


#: Probability that a motor which draws no current stands still: where the heat is not rejected, where that
#: is not known, and where it plainly is (then the clamp is around the wrong wire).  And that of a fan whose
#: current was not read, where the condensing temperature lies further over outdoor air than
#: :data:`FAR_OVER_AMBIENT` [K] (45 °F).  Source ``outdoor_fan_practice``.
FAN_WITHOUT_CURRENT = {"hot": 0.97, "not_known": 0.60, "cool": 0.05}
FAN_UNREAD = 0.50
FAR_OVER_AMBIENT = 25.0

#: Probability that the compressor ran, where pressures are equal and its current was not read.  Source
#: ``not_pumping_practice``.
RUNS_UNREAD = 0.60

_CIRCUIT = frozenset(
    {
        "low_charge",
        "overcharge",
        "non_condensable_gas",
        "liquid_line_restriction",
        "compressor_leakage",
        "expansion_overfeeding",
        "expansion_underfeeding",
        "reversing_valve_leakage",
    }
)

_CYCLE = _CIRCUIT | {
    "condenser_heat_transfer",
    "evaporator_airflow",
    "outdoor_coil_airflow",
    "outdoor_coil_frost",
    "indoor_airflow",
}

#: What starves the evaporator and leaves little to condense.
_OF_THE_FEED = frozenset({"low_charge", "liquid_line_restriction", "expansion_underfeeding"})

#: What is settled first: from the probability given, no fault of the set is named as found and none of its
#: steps is proposed.
SETTLED_FIRST: Mapping[str, tuple[float, frozenset[str]]] = MappingProxyType(
    {
        "outdoor_fan_stopped": (SUSPECTED, _CIRCUIT),
        "compressor_stalled": (SUSPECTED, _CYCLE),
        "compressor_not_pumping": (SUSPECTED, _CYCLE),
        "circuit_nearly_empty": (FOUND, _CYCLE - _OF_THE_FEED),
        "low_load": (FOUND, frozenset({"low_charge", "overcharge"})),
    }
)
#: Direct faults that explain readings which nothing else fits.
EXPLAINS_ALL = frozenset(
    {
        "outdoor_fan_stopped",
        "compressor_stalled",
        "compressor_not_pumping",
        "circuit_nearly_empty",
    }
)
#: Probability that a circuit is nearly empty, or its flow shut off, where all signs agree (source
#: ``nearly_empty``): two or more wrong readings that happen to agree are the rest.
ALL_SIGNS_AGREE = 0.96

#: Faults that take efficiency, so that none is there where nothing is lost; too much feed or charge harms
#: the compressor whatever it costs.
TAKES_EFFICIENCY = frozenset(
    {
        "low_charge",
        "condenser_heat_transfer",
        "evaporator_airflow",
        "liquid_line_restriction",
        "non_condensable_gas",
        "compressor_leakage",
        "expansion_underfeeding",
        "outdoor_coil_airflow",
        "outdoor_coil_frost",
        "indoor_airflow",
        "reversing_valve_leakage",
    }
)

#: Size of a mistake, in the deviations of :data:`GROSS`, beyond which no instrument is off: then something
#: else is wrong, and that reading is not named.
LARGEST_MISTAKE = 3.0
