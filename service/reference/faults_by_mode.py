"""The hypotheses of each mode: in heating the coils change places, and faults of both modes look different.

Only signs are published for heating: a maker's tables of pressure by airflow and along a charge line, and the
energy balance of the reversing valve.  Sizes follow from the cycle model and from those of cooling; each fault's
spread and :data:`service.reference.faults.SIGNATURE_SPREAD` say so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import log1p, tanh
from types import MappingProxyType

from service.reference import healthy_units_heating
from service.reference.faults import BESIDE, EVIDENCE_POWER, FAULTS, PAIRS, SIGNATURE_SPREAD, Fault, Form, Level, Step
from service.reference.healthy_units import HEALTHY_DRIFT

#: What a change of the coils in cooling is in heating, where they change places.
_COILS = {"condenser_change": "indoor_coil_change", "evaporator_change": "outdoor_coil_change"}


@dataclass(frozen=True, slots=True)
class InMode:
    """Hypotheses of one mode by name, the pairs looked for together, and how exactly a signature holds: across its
    own direction (``beside``), and along it (relative); ``power`` is that of the likelihood, by what a healthy unit
    is known from.  ``drift`` is how far a healthy unit may be from its own baseline, ``fixed_drift`` with a fixed
    device; ``often_wrong`` how many times more often than others a reading is grossly wrong; ``reads_high`` are those
    that are too high where they are wrong."""

    faults: Mapping[str, Fault]
    pairs: Mapping[tuple[str, str], float]
    beside: Mapping[str, float]
    spread: float
    power: Mapping[str, float]
    drift: Mapping[str, float]
    fixed_drift: Mapping[str, float]
    often_wrong: Mapping[str, float]
    reads_high: frozenset[str] = frozenset()


#: Superheat [K] that a starved outdoor coil approaches: gas is never warmer than the air, and the coil works closer
#: to it than an indoor coil in cooling (common practice, no source).
_ROOM_FOR_SUPERHEAT = 14.0


def _mirrored(changes: Mapping[str, float]) -> dict[str, float]:
    """Changes of the circuit with its coils in their places in heating."""
    found = {_COILS.get(name, name): value for name, value in changes.items()}
    superheat = found.get("superheat_change", 0.0)
    if superheat > 0.0:
        found["superheat_change"] = _ROOM_FOR_SUPERHEAT * tanh(superheat / _ROOM_FOR_SUPERHEAT)
    return found


def _in_heating(form: Form) -> Form:
    """A form of a fault of the circuit with its coils in their places in heating."""
    levels = tuple(replace(one, valve=_mirrored(one.valve), fixed=_mirrored(one.fixed)) for one in form.levels)
    return replace(form, levels=levels, spread=_mirrored(form.spread))


#: Surplus charge waits in an accumulator or elsewhere in heating, so how subcooling follows the charge is less certain
#: than in cooling.
_CHARGE_SPREAD = {"subcooling_change": 1.5, "superheat_change": 1.0}
_WEIGH_IN = (
    Step(
        "charge",
        "Weigh the charge in, or check it in cooling weather. In heating, subcooling varies by 20 °F (11 K) among "
        "healthy units, so a check of the running unit needs its own heating chart.",
        ("refrigerant_under_pressure",),
        chart=False,
    ),
    Step(
        "charge",
        "Weigh the charge in, or set it by the maker's heating chart that was given, with the running unit settled.",
        ("refrigerant_under_pressure",),
        chart=True,
    ),
)
_AT_REST = Step(
    "measure",
    "With the unit off and at rest, compare the high-side pressure with saturation at the outdoor air temperature: "
    "pressure above saturation shows non-condensable gas, and no liquid left shows a low charge.",
    ("refrigerant_under_pressure",),
)

#: Gas in the condenser lifts the indicated condensing temperature and subcooling alike; 20 psi is a share of 0.063 and
#: lifts both by some 4.5 °F (source ``heating_fault_signs``).
_GAS = Form(
    "",
    1.0,
    tuple(
        Level(
            share,
            {"indoor_coil_change": -5.0 * log1p(share), "subcooling_change": 40.0 * log1p(share)},
            {
                "indoor_coil_change": -5.0 * log1p(share),
                "subcooling_change": 34.0 * log1p(share),
                "superheat_change": -25.0 * log1p(share),
            },
        )
        for share in (0.014, 0.03, 0.05, 0.08, 0.12, 0.18)
    ),
    {"indoor_coil_change": 0.04, "subcooling_change": 0.8, "superheat_change": 0.8},
    0.18,
)


def _fault(name: str, source: str, *, steps: tuple[Step, ...] = (), **changes: object) -> Fault:
    row = FAULTS[name]
    forms = tuple(_in_heating(form) for form in row.forms)
    return replace(row, **({"forms": forms, "source": source, "steps": row.steps + steps} | changes))  # type: ignore[arg-type]


def _more_doubtful(fault: Fault) -> Fault:
    """A fault of charge, whose subcooling is less certain in heating."""
    forms = tuple(replace(form, spread={**form.spread, **_CHARGE_SPREAD}) for form in fault.forms)
    return replace(fault, forms=forms)


def _flooded(form: Form) -> Form:
    """An overcharge that floods the indoor coil: by published fits it costs more in heating than subcooling explains
    (source ``charge_effects``)."""

    def more(changes: Mapping[str, float], share: float) -> dict[str, float]:
        return {
            **changes,
            "indoor_coil_change": changes.get("indoor_coil_change", 0.0) - 0.5 * share,
            "efficiency_change": changes.get("efficiency_change", 0.0) - 0.08 * share,
        }

    return replace(
        form,
        levels=tuple(
            replace(one, valve=more(one.valve, one.level), fixed=more(one.fixed, one.level)) for one in form.levels
        ),
    )


_CIRCUIT = (
    _more_doubtful(
        _fault(
            "low_charge",
            "heating_charge_line",
            steps=_WEIGH_IN,
            prior=0.085,
            separate="Liquid and suction pressure fall and, with a fixed metering device, the discharge line gets "
            "hotter; a restriction raises superheat without lowering subcooling.",
        )
    ),
    _more_doubtful(
        _fault(
            "overcharge",
            "heating_charge_line",
            forms=tuple(_flooded(_in_heating(form)) for form in FAULTS["overcharge"].forms),
            steps=(_AT_REST, *_WEIGH_IN),
            separate="Liquid pressure and subcooling rise while the supply air is no warmer; non-condensable gas does "
            "the same, but shows at rest.",
        )
    ),
    _fault("liquid_line_restriction", "heating_fault_signs"),
    _fault(
        "non_condensable_gas",
        "heating_fault_signs",
        forms=(_GAS,),
        separate="Subcooling and the condensing temperature that the pressure indicates rise by the same amount, but "
        "the supply air is no warmer. The pressure at rest shows it.",
    ),
    _fault(
        "compressor_leakage",
        "heating_fault_signs",
        separate="The low side rises while the high side falls, and the suction gas does not warm across the reversing "
        "valve.",
    ),
    _fault("expansion_overfeeding", "heating_fault_signs"),
    _fault("expansion_underfeeding", "heating_fault_signs"),
)

_HEATING: Mapping[str, Fault] = MappingProxyType(
    {
        **{name: row for name, row in FAULTS.items() if "heating" in row.modes},
        **{row.id: row for row in _CIRCUIT},
        "measurement_mistake": replace(FAULTS["measurement_mistake"], prior=0.05),
    }
)

_HEATING_PAIRS: Mapping[tuple[str, str], float] = MappingProxyType(
    {
        ("low_charge", "outdoor_coil_airflow"): 1.0,
        ("low_charge", "indoor_airflow"): 1.0,
        ("overcharge", "indoor_airflow"): 1.0,
        ("outdoor_coil_airflow", "indoor_airflow"): 1.5,
        ("low_charge", "compressor_leakage"): 1.0,
        ("outdoor_coil_airflow", "compressor_leakage"): 1.0,
        ("indoor_airflow", "compressor_leakage"): 1.0,
        ("low_charge", "outdoor_coil_frost"): 2.0,
        ("outdoor_coil_frost", "indoor_airflow"): 1.0,
        ("auxiliary_heat_on", "indoor_airflow"): 1.0,
        ("auxiliary_heat_on", "outdoor_coil_airflow"): 1.0,
        ("auxiliary_heat_on", "outdoor_coil_frost"): 2.0,
        ("auxiliary_heat_on", "low_charge"): 2.0,
        ("auxiliary_heat_on", "compressor_leakage"): 2.0,
    }
)

IN_MODE: Mapping[str, InMode] = MappingProxyType(
    {
        "cooling": InMode(
            MappingProxyType({name: row for name, row in FAULTS.items() if "cooling" in row.modes}),
            PAIRS,
            BESIDE,
            SIGNATURE_SPREAD,
            EVIDENCE_POWER,
            HEALTHY_DRIFT,
            MappingProxyType({}),
            MappingProxyType({}),
        ),
        "heating": InMode(
            _HEATING,
            _HEATING_PAIRS,
            MappingProxyType(
                {
                    "indoor_coil_change": 0.07,
                    "airflow_change": 0.03,
                    "outdoor_coil_change": 0.09,
                    "outdoor_airflow_change": 0.05,
                    "flow_change": 0.04,
                    "efficiency_change": 0.04,
                    "leak_change": 0.004,
                    "superheat_change": 1.6,
                    "subcooling_change": 1.5,
                }
            ),
            # Sizes follow from a model, not from a published table, so they and the likelihood count for less.
            0.36,
            MappingProxyType({"baseline": 0.90, "rating": 0.98, "class": 0.98}),
            healthy_units_heating.HEALTHY_DRIFT,
            healthy_units_heating.FIXED_DEVICE_DRIFT,
            # A probe in the sun shows what a fouled coil shows.
            MappingProxyType({"outdoor_air_dry_bulb": 6.0}),
            frozenset({"outdoor_air_dry_bulb"}),
        ),
    }
)

#: Codes of notices that a hypothesis explains: frost on the coil, and more heat than a heat pump can give.
EXPLAINED = ("frost_on_coil", "more_heat_than_possible", "supply_air_over_condensing")

#: Outdoor air [K] above which no coil frosts, as it evaporates above freezing (50 °F), and the width [K] over which
#: that begins (common practice, no source).
NO_FROST_ABOVE = (50.0 - 32.0) / 1.8 + 273.15
FROST_BEGINS = 2.0
#: Factors on the prior probability of frost: where the coil was seen with frost, and seen without; where a defrost
#: ended less than so many minutes ago (common practice, no source).
FROST_SEEN = 12.0
NO_FROST_SEEN = 0.05
SOON_AFTER_DEFROST = (20.0, 0.4)
#: Factors on the prior probability that auxiliary heat is on without anybody knowing: where it is known to be on,
#: which is a condition of the visit and not a fault, and where it is stated as off (common practice, no source).
KNOWN_ON = 0.02
STATED_OFF = 0.25
