"""Cautions: the one place to touch for a new one.  Each names what raises it and its source.

``raised_by`` is the name of a condition that :mod:`service.assess.cautions` evaluates on the
content of a request; ``always`` needs none.  Signal words in the sense of ANSI Z535.6.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

SignalWord = Literal["danger", "warning", "caution", "notice"]

DEFERRAL = (
    "Local code, the maker's instructions and the law come first. Where they require a licence, leave the "
    "work to people who hold it."
)


@dataclass(frozen=True, slots=True)
class CautionRow:
    """One caution; ``hazard`` names it in a word or two, for those who do not do the work.

    One that is ``for_everyone`` remains after the work is done, and is shown to them in full.
    """

    id: str
    signal_word: SignalWord
    raised_by: str
    condition: str
    text: str
    source: str
    hazard: str = ""
    for_everyone: bool = False
    deferral: str = DEFERRAL


_ROWS = (
    CautionRow(
        "live_voltage",
        "danger",
        "electrical_readings",
        "Electrical readings were given.",
        "Live parts can kill. De-energise, lock out and verify dead before you touch anything. Where a "
        "reading needs power, use rated instruments and protective equipment, and have someone nearby "
        "who can help.",
        "osha_1910_333",
        hazard="live voltage",
    ),
    CautionRow(
        "stored_charge",
        "danger",
        "capacitor",
        "A capacitor was read or is to be replaced, or a motor is tested.",
        "A capacitor can hold a lethal charge after the power is off. Isolate, wait, discharge it through a "
        "resistor and verify with a meter. Treat it as live until then.",
        "nec_460_6",
        hazard="capacitors that hold a charge",
    ),
    CautionRow(
        "over_test_pressure",
        "danger",
        "over_test_pressure",
        "The pressure is above the highest test pressure that was stated.",
        "Parts can burst. Keep clear, keep others away, and lower the pressure slowly from a distance. Have the parts "
        "inspected before they are used: they may be damaged even if they held.",
        "safety_practice",
        hazard="a pressure above what the parts are made for",
    ),
    CautionRow(
        "nitrogen_under_pressure",
        "danger",
        "pressure_testing",
        "The circuit is pressurised with nitrogen.",
        "A full cylinder holds over 2,000 psi and can burst a circuit. Use a pressure regulator with a relief valve "
        "set for the test, raise the pressure in steps, never exceed the test pressure of the nameplate, keep clear, "
        "and never leave an open cylinder connected.",
        "safety_practice",
        hazard="compressed nitrogen",
    ),
    CautionRow(
        "oxygen_never",
        "danger",
        "nitrogen_in_use",
        "The circuit is pressurised or purged.",
        "Use dry nitrogen only. Oxygen explodes with oil, compressed air with oil or refrigerant can too, and "
        "acetylene can explode on its own. Read the label of the cylinder each time.",
        "safety_practice",
        hazard="oxygen or air in a circuit with oil",
    ),
    CautionRow(
        "hot_work",
        "danger",
        "brazing",
        "The circuit is brazed.",
        "Flames start fires inside walls and roofs, and refrigerant in a flame turns into toxic, corrosive gases. "
        "Recover all refrigerant first, flow nitrogen through the joint, ventilate, shield anything that can burn, "
        "keep an extinguisher at hand, and watch the place after the work. With a flammable refrigerant, test the air "
        "and the circuit before any flame.",
        "safety_practice",
        hazard="open flame",
    ),
    CautionRow(
        "flammable_a3",
        "danger",
        "refrigerant_a3",
        "The refrigerant is in safety group A3 (higher flammability).",
        "This refrigerant is highly flammable. No ignition sources, no open flame, no unlisted electrical tools. "
        "Ventilate, use a detector made for it, and work only on equipment listed for it.",
        "iec_60335_2_40",
        hazard="a highly flammable refrigerant",
        for_everyone=True,
    ),
    CautionRow(
        "arc_flash",
        "danger",
        "volts_400_or_more",
        "Electrical parts at 400 V or more were read or are to be worked on.",
        "At this voltage a short circuit can explode into an arc that burns and kills at arm's length. Work on it "
        "de-energised. Measure live only if you are qualified, with arc-rated clothing, face protection and a meter "
        "of category III or IV rated for the voltage.",
        "nfpa_70e_arc",
        hazard="arc flash",
    ),
    CautionRow(
        "carbon_monoxide",
        "danger",
        "gas_heat",
        "A gas furnace was read, or work on one was stated.",
        "Leave the building first, with everyone in it, if you smell gas or if an alarm or an analyser shows carbon "
        "monoxide; then call for help. Carbon monoxide has no smell and kills. Check the air of the room and the flue "
        "with a calibrated analyser, look for a cracked heat exchanger and a blocked vent, and keep a furnace that "
        "makes carbon monoxide off.",
        "gas_appliance_practice",
        hazard="carbon monoxide",
        for_everyone=True,
    ),
    CautionRow(
        "flammable_a2l",
        "warning",
        "refrigerant_a2l",
        "The refrigerant is in safety group A2L (lower flammability).",
        "This refrigerant can burn. Keep ignition sources away, ventilate, use tools and detectors rated for A2L, "
        "and never put it into equipment not listed for it.",
        "iec_60335_2_40",
        hazard="a refrigerant that can burn",
        for_everyone=True,
    ),
    CautionRow(
        "work_at_height",
        "warning",
        "roof",
        "The outdoor unit is on a roof.",
        "Falls kill. Use fall protection and a secured ladder, keep off wet or windy roofs, and do not work alone.",
        "osha_falls",
        hazard="work at height",
    ),
    CautionRow(
        "refrigerant_under_pressure",
        "warning",
        "pressure_readings",
        "Refrigerant pressures were read.",
        "Escaping refrigerant freezes skin and eyes and displaces air. Wear eye protection and "
        "gloves, and purge hoses safely. Never exceed the rating of hoses and gauges, and never use oxygen "
        "to pressurise.",
        "safety_practice",
        hazard="refrigerant under pressure",
    ),
    CautionRow(
        "displaced_air",
        "warning",
        "gas_let_out",
        "Nitrogen or refrigerant may escape.",
        "Nitrogen and refrigerant displace air without any smell. In a cellar, a pit or a small room they can "
        "suffocate. Ventilate, release nitrogen outdoors, and leave at once if you feel dizzy.",
        "safety_practice",
        hazard="gas that displaces air",
    ),
    CautionRow(
        "high_pressure",
        "warning",
        "high_pressure",
        "The high side is above 500 psi gauge.",
        "This pressure is near the working limit of common hoses and near relief settings. Use hoses and "
        "gauges rated for it. If the weather does not explain it, stop and find the cause.",
        "safety_practice",
        hazard="unusually high pressure",
    ),
    CautionRow(
        "hot_surface",
        "warning",
        "hot_discharge",
        "The discharge line is above 140 °F (60 °C).",
        "This line burns on contact. Let it cool, or wear heat-resistant gloves.",
        "safety_practice",
        hazard="hot surfaces",
    ),
    CautionRow(
        "burner_heat",
        "warning",
        "gas_heat",
        "A gas furnace was read, or work on one was stated.",
        "Burners, heat exchanger and vent are hot enough to burn skin and to ignite what is near. Close the gas "
        "valve and let them cool before you reach in, keep away from open flames, and test every gas joint you "
        "opened for leaks.",
        "gas_appliance_practice",
        hazard="burner heat",
    ),
    CautionRow(
        "heat_stress",
        "warning",
        "hot_day",
        "Outdoor air is at or above 90 °F (32 °C).",
        "Heat illness comes quickly on roofs and in attics. Drink water, rest in the shade, and have a second "
        "person check on you.",
        "osha_heat",
        hazard="heat",
    ),
    CautionRow(
        "starved_compressor",
        "caution",
        "starved_compressor",
        "Suction pressure, superheat and head pressure show that almost no refrigerant reaches the compressor.",
        "Stop the compressor. It overheats without suction gas, and in a vacuum it draws in air. Do not bypass "
        "a pressure switch to keep it running, and do not add refrigerant before you find the leak.",
        "safety_practice",
        hazard="a compressor that runs without refrigerant",
    ),
    CautionRow(
        "motor_in_vacuum",
        "caution",
        "evacuation",
        "The circuit is evacuated.",
        "Never start a compressor in a vacuum, and never test its insulation with high voltage there: the current "
        "flashes over inside and destroys the motor. Lock the power out until the charge is in.",
        "safety_practice",
        hazard="a compressor in a vacuum",
    ),
    CautionRow(
        "coil_cleaner",
        "caution",
        "coil_cleaning",
        "A coil was or is to be cleaned.",
        "Cleaners burn skin and eyes, and fins cut. Turn the power off and lock it out. Wear gloves and eye "
        "protection, follow the cleaner's safety data sheet, and keep water out of electrical parts.",
        "safety_practice",
        hazard="cleaning chemicals",
    ),
    CautionRow(
        "refrigerant_release",
        "notice",
        "refrigerant_known_or_opened",
        "The refrigerant circuit was accessed or is to be opened.",
        "Knowingly venting refrigerant is unlawful in many places. Recover it, weigh it and keep "
        "records. The law may require certification (in the United States, 40 CFR 82 Subpart F).",
        "epa_608",
        hazard="refrigerant that must not escape",
    ),
    CautionRow(
        "general",
        "notice",
        "always",
        "Every answer carries this.",
        "These are calculations from readings, not permission to work. A reading can be wrong: verify "
        "before you open, cut, charge or replace anything. Keep guards on. Fans start without warning.",
        "safety_practice",
    ),
)

CAUTIONS: Mapping[str, CautionRow] = MappingProxyType({row.id: row for row in _ROWS})
