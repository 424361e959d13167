"""Where every number comes from.  Rows elsewhere name a key of this table.

``standing`` says how the project knows the value: ``published`` (the document, or a public copy
of the part used, was read), ``memory`` (recalled, to be checked against the named document before
anyone relies on it) or ``practice`` (common practice in the trade, no document).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Literal

Standing = Literal["published", "memory", "practice", "definition"]


@dataclass(frozen=True, slots=True)
class Source:
    """A citation and how it is known."""

    citation: str
    standing: Standing

    def __str__(self) -> str:
        note = {
            "published": "",
            "definition": "",
            "memory": " (value from memory)",
            "practice": " (common practice, no source)",
        }[self.standing]
        return f"{self.citation}{note}"


_RA3_2008 = "California Energy Commission, 2008 Residential Appendices, Appendix RA3"
_RA3_2013 = "California Energy Commission, 2013 Residential Appendices, Appendix RA3"

SOURCES: Mapping[str, Source] = MappingProxyType(
    {
        "definition": Source("Definition of the quantity", "definition"),
        "nameplate": Source("The unit's own nameplate, as given in the request", "definition"),
        "practice": Source("Common practice in the trade", "practice"),
        "clamp_contact": Source(
            "An insulated clamp reads up to 2 % of the temperature difference towards the surrounding air, up "
            "to 6 % (about 2.5 K) low on a discharge line",
            "practice",
        ),
        "spot_in_air": Source(
            "Air leaving a coil is not mixed: one spot differs from the mean by about 5 % of the change across the "
            "indoor coil, and by 13 % in the discharge of the outdoor fan",
            "practice",
        ),
        "change_that_matters": Source(
            "A fault is usually worth acting on from a loss of 5 % in capacity or efficiency",
            "memory",
        ),
        "change_sizes": Source(
            "Sizes of faults and of repairs as published studies list them: coil fouling to 40 %, airflow "
            "and charge to 30 %, compressor flow to 30 %",
            "memory",
        ),
        "heating_tables": Source(
            "Heating performance and charging tables of three makers' R-410A heat pumps of 2.5 to 3.5 tons: pressures, "
            "subcooling, capacity and power at -10 to 65 °F outdoors, 60 to 80 °F indoors and airflow of 75 to 125 %",
            "published",
        ),
        "heating_charge_line": Source(
            "A maker's heating charge tables of R-410A heat pumps of 2 and 2.5 tons: at one outdoor temperature, "
            "more charge raises suction and liquid pressure and lowers the discharge temperature; sizes by a cycle "
            "model and by the published effects of charge in cooling, about 50 % uncertain",
            "published",
        ),
        "heating_fault_signs": Source(
            "No table of fault signs in heating was available: signs and sizes by a cycle model, about 50 % uncertain",
            "practice",
        ),
        "heating_airflow_effects": Source(
            "Cutler et al. (2013) map of single-speed heat pumps by airflow (at 0.8 of the airflow 0.966 of capacity "
            "at 1.116 times the power over capacity, at 0.6 0.918 at 1.292) and a maker's pressures at 75 and 125 % "
            "airflow",
            "published",
        ),
        "reversing_valve_balance": Source(
            "Energy balance of hot gas mixed into the suction gas; a rise across the valve of more than 2 to 5 °F "
            "counts as a leak in the trade (common practice, no source)",
            "definition",
        ),
        "heating_of_cooling": Source(
            "Rated heating capacity is about 0.98 of the rated cooling capacity plus 180 Btu/h (defaults of public "
            "simulation software, fitted to a directory of single-speed heat pumps)",
            "published",
        ),
        "fault_signatures": Source(
            "Signs: Rossi and Braun (1997) and Li, Fault Detection and Diagnostics for Rooftop Air "
            "Conditioners, Table 1-1; sizes by a cycle model, about 40 % uncertain",
            "published",
        ),
        "fault_priors": Source(
            "About half of the visits are to a unit with a fault; each fault's share follows what field studies of "
            "airflow and charge and repair practice suggest, low enough that a finding needs evidence",
            "practice",
        ),
        "charge_effects": Source(
            "Charge on capacity, power and efficiency: fits of Domanski and others (NIST TN 1848) as open "
            "codes carry them; on superheat and subcooling: signs of Li, Table 1-1, sizes by a cycle model, "
            "an expansion valve holding superheat down to about 20 % undercharge",
            "published",
        ),
        "condenser_effects": Source(
            "Condenser airflow on capacity and power: open fits of NREL and Purdue for split units; heat "
            "transfer of fouled coils -4 to -12 % in laboratory tests (Pak and others 2003); temperatures by "
            "a cycle model",
            "published",
        ),
        "airflow_effects": Source(
            "Indoor airflow on capacity and power: Cutler and others (NREL/TP-5500-56354); signs of "
            "evaporator fouling of Li, Table 1-1; sizes by a cycle model",
            "published",
        ),
        "restriction_effects": Source(
            "Liquid-line restriction: signs of Li, Table 1-1; loss of capacity of the open NREL and Purdue "
            "fits; hidden by an expansion valve until it is wide open (cycle model)",
            "published",
        ),
        "non_condensable_effects": Source(
            "Non-condensable gas adds its pressure to the condenser's: power of the open NREL and "
            "Purdue fits; condensing temperature as read and subcooling rise equally (cycle model)",
            "published",
        ),
        "compressor_effects": Source(
            "Leaking compressor valves: signs of Li, Table 1-1; sizes by a cycle model, part of the work still spent",
            "published",
        ),
        "metering_effects": Source(
            "A device that overfeeds or underfeeds moves liquid between the coils; signs and sizes by a cycle model",
            "practice",
        ),
        "return_leak_practice": Source("Air entering the coil within 3 °F of the room at the grille", "practice"),
        "gross_error_practice": Source(
            "One grossly wrong reading in about thirty visits (a clamp off the pipe, a closed hose, a sensor in "
            "the sun, a misread refrigerant)",
            "practice",
        ),
        "unknown_fault": Source(
            "A fault that is not on the list, in one visit of fifty, with about 4 K of added scatter",
            "practice",
        ),
        "gap_of_conditions": Source(
            "Two visits compare well with outdoor air within 5 K and return wet bulb within 2 K",
            "practice",
        ),
        "ra3_outdoor_limit": Source(f"{_RA3_2008}, p. RA3-9: outdoor air 55 °F or above", "published"),
        "ra3_running_time": Source(f"{_RA3_2008}, pp. RA3-13 to RA3-15: run 15 minutes", "published"),
        "ra3_return_minimum": Source(
            f"{_RA3_2008}: return dry bulb of at least 70 °F, where the target tables begin",
            "memory",
        ),
        "ra3_superheat_tolerance": Source(
            f"{_RA3_2008}, p. RA3-14: fixed orifice, installer tolerance ±5 °F of target",
            "published",
        ),
        "ra3_superheat_range": Source(
            f"{_RA3_2008}, p. RA3-15: superheat 4 to 25 °F at a metering device that regulates "
            "superheat, where the maker states no range",
            "published",
        ),
        "ra3_subcooling_tolerance": Source(
            f"{_RA3_2008}, p. RA3-15: subcooling within ±3 °F of target (only the instruction to add "
            "below -3 was read)",
            "memory",
        ),
        "ra3_split_tolerance": Source(
            f"{_RA3_2008}, p. RA3-16: temperature split within ±3 °F of target (above it low airflow; "
            "below it measure again)",
            "published",
        ),
        "ra3_target_superheat": Source(
            f"{_RA3_2008}, Table RA3.2-2, closed form fitted to the table within 0.1 °F", "memory"
        ),
        "ra3_target_split": Source(
            f"{_RA3_2008}, Table RA3.2-3, closed form fitted to the table within 0.07 °F", "memory"
        ),
        "ra3_saturation_reread": Source(
            "US EPA, ENERGY STAR HVAC quality-installation rater checklist Rev. 07, items "
            "1.2.11-1.2.12: saturation temperature read again from the pressure within ±3 °F",
            "published",
        ),
        "ra3_gauges": Source(f"{_RA3_2013}, RA3.2.2.2.2: gauges ±3.5 psi suction, ±7.0 psi liquid", "published"),
        "ra3_thermometer": Source(
            f"{_RA3_2008}, p. RA3-10: digital thermometer ±(0.1 % of reading + 1.3 °F), resolution 0.2 °F",
            "published",
        ),
        "astm_e230_type_k": Source("ASTM E230/E230M-12: type K standard tolerance ±2.2 °C or 0.75 %", "published"),
        "instrument_class": Source("Usual accuracy of this class of instrument", "memory"),
        "field_airflow": Source(
            "Residential return-airflow devices err by 5 % or less up to 25 % "
            "(Lawrence Berkeley National Laboratory report to the California Energy Commission, 2014); "
            "10 % is this service's choice",
            "published",
        ),
        "coolprop": Source(
            "CoolProp equations of state, sampled into cubic splines (Bell et al. 2014, "
            "doi 10.1021/ie4033999); dew curve for superheat, bubble curve for subcooling",
            "published",
        ),
        "ashrae_psychrometrics": Source(
            "ASHRAE Handbook Fundamentals 2017, chapter 1, perfect-gas relations", "published"
        ),
        "standard_atmosphere": Source(
            "ASHRAE Handbook Fundamentals 2017, chapter 1, equation 3 (standard atmosphere)",
            "published",
        ),
        "weather_pressure": Source(
            "Day-to-day weather moves station pressure by about 0.7 kPa (standard deviation)",
            "memory",
        ),
        "circuit_theory": Source("Alternating-current circuit theory: I = 2πfCV, S = V·I", "definition"),
        "nema_unbalance": Source(
            "NEMA MG 1, 14.36: unbalance is the largest deviation from the mean over the mean; full rating up to 1 %",
            "memory",
        ),
        "voltage_imbalance_practice": Source(
            "Voltage unbalance above 2 % is corrected: a motor's derating factor has fallen to 0.95 there "
            "(a public copy of the NEMA MG 1 derating curve); 2 % as the limit is usual advice",
            "practice",
        ),
        "nema_unbalance_stop": Source(
            "NEMA MG 1, 14.36: operation above 5 % voltage unbalance is not recommended", "memory"
        ),
        "mg1_voltage": Source(
            "NEMA MG 1, 12.44: motors run within ±10 % of nameplate voltage at rated frequency, unless "
            "the nameplate gives its own range; a plate of 208/230 V reaches down to 197 V",
            "memory",
        ),
        "dual_voltage": Source(
            "Units for 208 V and 240 V systems are marked 208/230 V, usually with a range of 197 to 253 V; "
            "Range A of ANSI C84.1 reaches from 191 (187 in later editions) to 218 V on a 208 V system",
            "memory",
        ),
        "ansi_c84_utilization_a": Source(
            "ANSI C84.1, utilization voltage Range A: 90 to 105 % of nominal system voltage",
            "memory",
        ),
        "imbalance_practice": Source("Current imbalance calculated like NEMA MG 1 voltage unbalance", "practice"),
        "locked_rotor": Source("A stalled motor draws four to seven times its rated-load amps", "memory"),
        "floodback": Source(
            "Superheat of at least 3 °F at the outdoor unit, whatever the metering device",
            "practice",
        ),
        "capacitor_voltage_practice": Source(
            "The voltage across a run capacitor under load is well above the line voltage",
            "practice",
        ),
        "split_at_altitude": Source(
            "The split table is for air of sea-level density; thinner air raises a healthy split",
            "practice",
        ),
        "current_imbalance": Source("Current imbalance up to 10 %", "practice"),
        "lost_phase": Source(
            "Current unbalance is 6 to 10 times the voltage unbalance (note to NEMA MG 1, from memory), so "
            "the 5 % at which motors are stopped gives up to 50 %; two lines that carry all the current give "
            "100 %",
            "practice",
        ),
        "capacitor_marking": Source(
            "Tolerance marked on the capacitor; ±6 % is the usual marking for motor-run parts where none was given",
            "practice",
        ),
        "discharge_limit": Source("Discharge line of 225 °F or less, measured close to the compressor", "practice"),
        "condensing_over_ambient": Source(
            "Condensing temperature above outdoor air for air-cooled units: at least 5 °F; at most about 30 °F "
            "for units of usual efficiency, about 20 °F from SEER 13 up, 35 °F for any unit",
            "practice",
        ),
        "nearly_empty": Source(
            "With almost no liquid left, suction and head pressure are both low, the suction gas arrives at room "
            "temperature, and the air is hardly cooled; the thresholds are this service's choice",
            "practice",
        ),
        "high_pressure_cut_out": Source(
            "High-pressure switches open at 600 to 660 psig with R-410A (148 to 156 °F) and 400 to 450 psig "
            "with R-22 (154 to 164 °F)",
            "practice",
        ),
        "low_pressure_cut_out": Source(
            "Low-pressure switches of air conditioners open at about 50 psig with R-410A and 25 psig with "
            "R-22 (0 to 4 °F); comfort cooling never evaporates below 20 °F",
            "practice",
        ),
        "coil_freezing": Source(
            "A coil that evaporates below 32 °F collects ice: 101.6 psig with R-410A, 57.7 psig with R-22",
            "practice",
        ),
        "flooding": Source(
            "With discharge gas less than 20 to 25 °F above its saturation temperature, liquid passes through the "
            "compressor",
            "memory",
        ),
        "isentropic_usual": Source(
            "Isentropic efficiency of healthy hermetic compressors in comfort cooling of 0.6 to 0.75",
            "practice",
        ),
        "motor_running": Source("A motor that runs draws current", "definition"),
        "field_share_of_rating": Source(
            "90 % of the rating: this service counts a loss of 5 % as one that matters, and units of one rating "
            "differ by 5 % (two standard deviations)",
            "practice",
        ),
        "rated_static_pressure": Source(
            "Residential blowers are usually rated at a total external static pressure of 0.5 in. w.c.",
            "memory",
        ),
        "dry_coil": Source(
            "AHRI 210/240, tests C and D: at 80 °F dry bulb the coil is dry at a wet bulb of 57 °F or less; the "
            "slope with the dry bulb is common practice",
            "memory",
        ),
        "compression_ratio": Source("Compression ratio of at most 4 in comfort cooling", "practice"),
        "rated_load_amps": Source("Nameplate rated-load amps; a rating, not a running target", "practice"),
        "loaded_current": Source(
            "Rated-load amps are 64 to 71 % of the largest current that the compressor may draw (maximum "
            "continuous current over 1.40 to 1.56, from memory); at the load of the rating point a single-speed "
            "compressor draws 60 to 90 % of them, one that leaks internally less; 45 % is taken as the least possible",
            "practice",
        ),
        "motor_currents": Source(
            "The common wire carries the currents of the start and run windings, which are up to a quarter of a "
            "cycle apart: their sum is larger than either",
            "definition",
        ),
        "signs_of_mode": Source(
            "Heating warms the supply air and makes the vapour line the hot line; cooling does the opposite; "
            "the thresholds between them are usual ones",
            "practice",
        ),
        "plausible_windows": Source("Windows of plausible operation in comfort cooling", "practice"),
        "ashrae_37": Source(
            "ANSI/ASHRAE Standard 37, indoor air enthalpy and refrigerant enthalpy methods",
            "memory",
        ),
        "ahri_540": Source(
            "AHRI 540 ten-coefficient polynomial; suction density followed by 75 % (Dabiri and Rice, "
            "ASHRAE Transactions 1981)",
            "memory",
        ),
        "ahri_540_tolerance": Source("AHRI 540: mass flow within 5 % of the map", "memory"),
        "ahri_210": Source("AHRI 210/240: a unit tested from stock reaches at least 95 % of its rating", "memory"),
        "cutler_2013": Source(
            "Cutler et al. 2013, NREL/TP-5500-56354, tables 9 and 14 to 19, as kept in an open "
            "building simulation data set; divided by their value at the rating point",
            "published",
        ),
        "seer_to_eer": Source(
            "EER = 1.12 SEER - 0.02 SEER² of single-speed units: Building America House Simulation "
            "Protocols (Hendron and Engebrecht 2010), equation 3, after Wassmer 2003, as open codes carry "
            "it; the spread about it is this service's choice",
            "published",
        ),
        "appendix_m1": Source(
            "10 CFR 430.32(c): minimum ratings of ducted split units by the test procedures before and "
            "since 2023 (14 and 15 SEER are 13.4 and 14.3 SEER2; 11.7 and 12.2 EER are 11.2 and 11.7 EER2)",
            "memory",
        ),
        "map_spread": Source(
            "Spread among four maps of Cutler et al. 2013, doubled (this service's choice)",
            "published",
        ),
        "default_blower_power": Source(
            "AHRI 210/240 and Appendix M1 default of 441 W per 1,000 cfm for a unit without its own "
            "blower, as in open building simulation code; the spread is common practice",
            "published",
        ),
        "power_factor_practice": Source(
            "Power factor of a loaded outdoor unit 0.88 to 1.00 single-phase, 0.76 to 0.94 three-phase",
            "practice",
        ),
        "fan_laws": Source("Fan laws: same volume, pressure in proportion to density", "definition"),
        "square_root_law": Source(
            "ASHRAE Handbook Fundamentals, Duct Design: pressure loss grows with the square of the "
            "flow; a wet coil and a pleated filter depart from it",
            "memory",
        ),
        "temperature_rise_method": Source(
            "Temperature-rise method for airflow: heat over specific heat times rise", "practice"
        ),
        "nominal_airflow": Source("350 to 450 cfm per ton is usual; installed systems vary more widely", "practice"),
        "airflow_gate": Source(
            f"{_RA3_2008}, p. RA3-15: more than 300 cfm per ton for a valid charge test",
            "published",
        ),
        "energy_balance": Source("Steady-flow energy balance", "definition"),
        "rating_cycle": Source(
            "Makers' published cooling tables at 95/80/67 °F, second-hand: units of 10 SEER evaporate near "
            "46 °F and condense near 19 °F above outdoor air, of 13 to 14 SEER near 49 to 52 °F and 15 to "
            "16 °F above, packaged and wall-mounted ones up to 31 °F; about 10 °F of superheat and subcooling",
            "practice",
        ),
        "cycling_loss": Source("AHRI 210/240: SEER = (1 - 0.5 CD) EER at 82 °F; CD up to 0.25", "published"),
        "static_pressure_shares": Source(
            "Of the rated external static pressure, up to 20 % at the filter and 40 % at the coil",
            "practice",
        ),
        "scatter_of_repeats": Source(
            "JCGM 100:2008, 4.2 (type A evaluation); the 99.9 % point of chi-square as the bound of "
            "what an instrument explains is this service's choice",
            "practice",
        ),
        "jcgm_106": Source(
            "JCGM 106:2012 (probability of conformity); 0.95 and 0.05 are this service's choice",
            "memory",
        ),
        "ashrae_34": Source("ANSI/ASHRAE Standard 34 safety group", "memory"),
        "osha_1910_333": Source(
            "29 CFR 1910.333(b)(2), read in state text parallel to it (clause number from memory): "
            "de-energise, lock out, verify; discharge capacitors, treat them as energised meanwhile",
            "published",
        ),
        "osha_1910_147": Source("29 CFR 1910.147(d): order of lockout steps", "published"),
        "nec_460_6": Source("NFPA 70 (NEC) 460.6: residual voltage to 50 V or less within one minute", "memory"),
        "epa_608": Source(
            "40 CFR Part 82 Subpart F (Clean Air Act section 608): no knowing venting, recovery, certified technicians",
            "memory",
        ),
        "iec_60335_2_40": Source(
            "UL/IEC 60335-2-40 and ASHRAE 15.2: flammable refrigerants per the maker's "
            "instructions and listed equipment",
            "memory",
        ),
        "osha_falls": Source("29 CFR 1910 Subpart D and 1926 Subpart M: work at height", "memory"),
        "osha_heat": Source("OSHA/NIOSH guidance on work in heat: water, rest, shade", "memory"),
        "safety_practice": Source("Usual safe-work practice of the trade", "practice"),
        "likelihood_words": Source(
            "Mastrandrea and others (2010). Guidance Note for Lead Authors of the IPCC Fifth Assessment "
            "Report on Consistent Treatment of Uncertainties, table 1",
            "memory",
        ),
        "outdoor_fan_practice": Source(
            "A motor that draws no current is not turning, or the clamp is around the wrong wire; without its "
            "outdoor fan a unit condenses 45 °F or more above outdoor air and soon trips",
            "practice",
        ),
        "not_pumping_practice": Source(
            "Pressures that stay equal while the compressor draws current mean that it does not pump",
            "practice",
        ),
        "stage_ratios": Source(
            "RESNET's model of two-stage equipment, as in the public code of resdx (tabular data): low stage "
            "0.728 of the net cooling capacity at 0.869 of the power per unit of capacity, and 0.712 of the heating "
            "capacity at 0.850; variable-speed units at their minimum 0.787 of the power per unit of capacity, and at "
            "full speed 0.940 of their capacity at 82 °F outdoors when it is 95 °F",
            "published",
        ),
        "cutler_heating": Source(
            "Cutler et al. 2013, NREL/TP-5500-56354, heating curves of single-speed heat pumps, as published in open "
            "building simulation data sets; divided by their value at 47 °F outdoors and 70 °F indoors. The spread "
            "about it (0.03 of capacity and 0.07 of power over 30 °F) is how far one maker's table departs",
            "published",
        ),
        "heating_ratings": Source("AHRI 210/240 heating tests H1 (47 °F) and H3 (17 °F), 70 °F indoors", "memory"),
        "performance_table": Source("The maker's table for this unit, as given in the request", "definition"),
        "defrost_loss": Source(
            "Capacity and power lost to defrost against outdoor air: RESNET's model as in the public code of resdx; "
            "NIST TN 1848, as given in the same code, gives 0.6 to 1.8 times as much",
            "published",
        ),
        "defrost_recovery": Source(
            "10 CFR 430 subpart B appendix M (older edition), tolerances of the heating tests: the first 5 minutes "
            "after a defrost count as defrost",
            "published",
        ),
        "defrost_settling": Source("Steady heating for 10 to 15 minutes after a defrost", "practice"),
        "frost_practice": Source(
            "No heating readings are judged while frost covers the outdoor coil; frost forms below about 40 °F "
            "outdoors",
            "practice",
        ),
        "auxiliary_heat_practice": Source(
            "The heat pump is judged with auxiliary heat off: the difference of two large heat flows is uncertain, "
            "and strips warm the supply probe by radiation",
            "practice",
        ),
        "heating_efficiency_limit": Source(
            "Heat pumps reach 20 to 40 % of the ideal efficiency between outdoor and supply air (a maker's table of "
            "a residential 2.5-ton heat pump: 22 to 33 %); above 50 % some of the heat comes from elsewhere",
            "practice",
        ),
        "condensing_over_return": Source(
            "Makers' heating tables of two R-410A units: 12 to 47 °F above return air in all conditions and airflows "
            "printed, varying as airflow to the power -0.75; the range of 10 to 50 °F is common practice",
            "practice",
        ),
        "evaporating_under_outdoor": Source(
            "Makers' heating tables of three R-410A units: 5 to 22 °F below outdoor air without frost; the range of 4 "
            "to 25 °F is common practice",
            "practice",
        ),
        "reversing_valve_rise": Source(
            "Usual advice is 2 to 5 °F between the tubes ahead of and after the reversing valve; a valve that conducts "
            "2 % of the capacity warms the suction gas by about 8 °F without any leak, so 8 °F is the limit here",
            "practice",
        ),
        "heating_charge_check": Source(
            "A maker's installation guide of an R-410A heat pump: in heating, discharge line within 2 °F and "
            "pressure within 2 % of the unit's table, coil free of frost, not in defrost",
            "published",
        ),
        "heating_subcooling": Source(
            "Makers' heating charts of healthy R-410A units show subcooling from 12 to 36 °F, by coil and position",
            "published",
        ),
        "heating_airflow": Source(
            "350 to 450 cfm per ton is usual in heating too; low airflow over the indoor coil raises the head pressure",
            "practice",
        ),
        "high_pressure_cut_out_heating": Source(
            "High-pressure switches open at 600 to 660 psig with R-410A (148 to 156 °F), in heating too",
            "memory",
        ),
        "cold_discharge": Source(
            "A maker's heating charge table of an R-410A heat pump shows discharge gas less than 20 °F above its "
            "saturation temperature for a correct charge below about 30 °F outdoors",
            "published",
        ),
        "balance_point": Source(
            "Heat loss in proportion to how far outdoor air is below the temperature at which no heat is needed",
            "definition",
        ),
        "start_up_fast": Source(
            "After a start the refrigerant of a split R-410A unit redistributes for about 300 seconds, then slowly "
            "(Applied Thermal Engineering 2018, abstract); capacity follows as two exponentials (International Journal "
            "of Refrigeration 2001, abstract); building simulation takes 60 seconds, at most 500",
            "published",
        ),
        "start_up_slow": Source(
            "The slow part of a start, in which coils, lines and shell take their temperatures: about 0.3 of the step, "
            "with a time constant of 3 to 6 minutes",
            "practice",
        ),
        "start_up_steps": Source(
            "A start moves superheat by up to 20 °F or more, saturation temperatures and air by about 10 °F, the "
            "discharge line by about 45 °F, power by a fifth; starts of one unit are more alike than units are",
            "practice",
        ),
        "usual_running_time": Source(
            "Technicians usually read 5 to 20 minutes after the start",
            "practice",
        ),
        "nfpa_70e_arc": Source(
            "NFPA 70E, article 130: arc-flash risk assessment, arc-rated clothing and qualified persons for work on "
            "energised parts",
            "memory",
        ),
        "gas_appliance_practice": Source(
            "Work on gas appliances: check for carbon monoxide and leaks, follow the fuel-gas code and the maker",
            "practice",
        ),
        "vacuum_gauge_class": Source(
            "Data sheets of electronic vacuum gauges state about ±10 % of reading and ±10 microns", "practice"
        ),
        "scale_class": Source("Data sheets of refrigerant scales state about ±0.5 % of reading or ±0.5 oz", "practice"),
        "nitrogen_equation": Source(
            "Span et al. (2000) reference equation of state for nitrogen, as CoolProp implements it: constant density "
            "between the two temperatures",
            "published",
        ),
        "pressure_test_hour": Source(
            "ASHRAE Journal, January 2021, p. 40: a pressure test of about one hour with a bubble test of every joint; "
            "swings of temperature spoil a test over 24 hours",
            "published",
        ),
        "no_loss_is_not_tight": Source(
            "A loss is shown where no loss has a probability of 0.05 or less; a test in which none is shown is "
            "reported with the smallest loss that it would have shown four times in five",
            "definition",
        ),
        "test_pressure_stated": Source("The test pressure stated in the request, from the nameplate", "definition"),
        "gas_laws": Source("Equation of state of a gas in a closed volume", "definition"),
        "tube_sizes": Source(
            "Outside and inside diameters of copper refrigeration tube (ASTM B280); walls differ by about 0.005 in. "
            "between kinds of tube",
            "memory",
        ),
        "line_content_state": Source(
            "Lines in cooling: liquid at 100 °F, vapour of 45 °F with 10 °F of superheat. With vapour lines of 5/8 and "
            "3/4 in. this brackets the R-410A allowances that a maker prints for liquid lines of 1/4, 5/16 and 3/8 in.",
            "practice",
        ),
        "line_content": Source(
            "Volume of the lines times the density of the refrigerant in them (liquid at 100 °F from CoolProp 8, "
            "vapour of 45 °F with 10 °F of superheat)",
            "definition",
        ),
        "line_length": Source("A paced or estimated line length is good to about 2 ft", "practice"),
        "hose_residue": Source(
            "Five feet of 1/4 in. hose hold about an ounce of liquid; how much reaches the circuit is not known",
            "practice",
        ),
        "circuit_volume": Source(
            "Coils, compressor and receiver of a split system of 2 to 5 tons hold 4 to 16 litres", "practice"
        ),
        "vapour_left": Source(
            "Vapour that stays at the final pressure of a recovery, by the ideal-gas law", "definition"
        ),
        "charge_adjustment": Source(
            "A maker's installation manual of R-410A split systems: charge for each length times the length, less what "
            "the factory charge holds for lines",
            "published",
        ),
        "charge_share_practice": Source(
            "A difference of 5 % of the charge hardly changes a unit; two or three ounces are within scale and hoses",
            "practice",
        ),
        "long_line_practice": Source(
            "Makers' long-line guides usually start at 50 to 80 ft of line or 20 ft of lift", "practice"
        ),
        "room_charge_formula": Source(
            "IEC 60335-2-40, annex GG, equipment without mitigation, as a maker's installation manual prints it: "
            "largest charge = 2.5 LFL^(5/4) h0 A^(1/2)",
            "published",
        ),
        "room_charge_formula_2018": Source(
            "IEC 60335-2-40:2018, GG.2, inferred from the tables of a maker's R-32 manual, which it reproduces: "
            "largest charge = min(0.75 LFL h0 A, 2.5 LFL^(5/4) h0 A^(1/2))",
            "published",
        ),
        "room_charge_free": Source(
            "IEC 60335-2-40: no room limit up to 6 m3 times the lower flammability limit (A2L, newer editions) or 4 m3 "
            "(A3, and all in older editions)",
            "memory",
        ),
        "flammability_limit_tables": Source(
            "Lower flammability limits as a maker's tables of room sizes take them: R-32 0.306, R-290 0.038 kg/m3",
            "published",
        ),
        "flammability_limit_listing": Source(
            "Lower flammability limits of ANSI/ASHRAE Standard 34 and UL 60335-2-40", "memory"
        ),
        "ohmmeter_class": Source(
            "Data sheets of digital multimeters state about ±0.9 % and a few counts for resistance; contacts leave "
            "0.05 Ω",
            "practice",
        ),
        "capacitance_class": Source(
            "Data sheets state about ±2 % and 5 counts for capacitance by a multimeter, ±1 % by a meter made for it",
            "practice",
        ),
        "insulation_tester_class": Source("Data sheets of insulation testers state about ±5 %", "practice"),
        "winding_identity": Source("Two windings in series: S-R = C-S + C-R, within 0.1 Ω and 1 %", "practice"),
        "copper_temperature": Source(
            "Copper: R2 = R1 (234.5 + t2)/(234.5 + t1) with t in °C (IEC 60034-1, IEEE 118)", "memory"
        ),
        "start_winding_ratio": Source(
            "A service procedure expects the start winding at 3 to 6 times the run winding; modern compressors often "
            "show 1.5 to 4 times. A rule of thumb: the maker's table decides",
            "practice",
        ),
        "winding_spread": Source(
            "Windings of a three-phase motor are alike; a spread of more than 2 to 5 % of their mean is suspicious",
            "practice",
        ),
        "grounded_winding": Source(
            "A refrigeration textbook (2022): any reading from a winding to ground by an ohmmeter shows a grounded "
            "winding",
            "published",
        ),
        "insulation_practice": Source(
            "Trade tables of insulation resistance of small hermetic compressors; makers accept 0.5 to 1 MΩ on scrolls "
            "whose windings sit in oil and refrigerant",
            "memory",
        ),
        "insulation_simple_rule": Source(
            "IEEE 43, older edition: 1 MΩ and another for each kilovolt of rated voltage", "memory"
        ),
        "insulation_chiller": Source(
            "A maker's chiller manual: readings after 10 and 60 seconds each at least 50 MΩ, the second not below the "
            "first",
            "published",
        ),
        "insulation_maker": Source(
            "The least insulation resistance stated in the request, from the maker", "definition"
        ),
        "series_capacitors": Source("Circuit theory: two capacitors in series, C1 C2/(C1 + C2)", "definition"),
        "delivered_heat": Source(
            "Heat carried by the air of all registers to the state of the rooms: mass flow times the difference of "
            "enthalpy (ASHRAE Fundamentals 2017, chapter 1)",
            "definition",
        ),
        "delivery_practice": Source(
            "Ducts in an attic often lose 10 to 30 % of the capacity; below four fifths delivered they deserve work "
            "first",
            "practice",
        ),
        "ashrae_152": Source(
            "ANSI/ASHRAE Standard 152, delivery effectiveness, as coded in a public residential simulation library",
            "published",
        ),
        "ashrae_152_spread": Source(
            "Losses of ducts computed from their surface, insulation and leakage differ from measured ones by 10 to "
            "20 %",
            "practice",
        ),
        "duct_test_pressure": Source(
            "Duct leakage at 25 Pa; at another pressure by the power 0.60 (RESNET/ICC 380, ASTM E1554)", "memory"
        ),
        "duct_leakage_six": Source(
            "California Title 24, nonresidential: no more than 6 % of fan flow; other editions allow 5 % for new ducts "
            "and 10 or 15 % for altered ones (those from memory)",
            "published",
        ),
        "fan_power_058": Source(
            "Fan watt draw of 0.58 W/cfm in rater procedures of California Title 24; newer editions allow 0.45 W/cfm "
            "for gas-furnace air handlers (that one from memory)",
            "published",
        ),
        "fan_power_model": Source(
            "A public rating model at 0.50 in. w.c.: 0.414 W/cfm with a permanent-split-capacitor motor, 0.281 W/cfm "
            "with an electronically commutated one",
            "published",
        ),
        "duct_tester_class": Source(
            "Data sheets of calibrated fans for duct leakage state about ±3 % and 1 cfm", "practice"
        ),
        "filter_face": Source("A contractor's page: 2 cfm for each square inch of filter face at most", "practice"),
        "furnace_rise": Source(
            "The temperature rise on the furnace's nameplate, as stated in the request", "definition"
        ),
        "moisture_removed": Source(
            "Mass flow of dry air times the fall of its humidity ratio (ASHRAE Fundamentals 2017, chapter 1)",
            "definition",
        ),
        "vacuum_rise_practice": Source(
            "A leak raises a vacuum in a straight line; moisture and outgassing come to a plateau, at the saturation "
            "pressure of water at the coldest part where water is free. Spreads are wide, as no public data are known",
            "practice",
        ),
        "evacuate_500": Source("A maker's installation guide: evacuate to 350 to 500 microns", "published"),
        "standing_vacuum_1000": Source(
            "An isolated vacuum that stays under about 1,000 microns for ten minutes is usually accepted (second-hand, "
            "as glossaries of the trade quote it)",
            "memory",
        ),
        "standing_vacuum_2500": Source(
            "ASHRAE Guideline 3 as training material quotes it (second-hand): a leak check is called for if the "
            "pressure rises from 1 to above 2.5 mm of mercury",
            "memory",
        ),
        "water_saturation": Source(
            "Saturation pressure of water (ASHRAE Handbook Fundamentals 2017, chapter 1)", "published"
        ),
        "gas_throughput": Source("Throughput of gas into a closed volume: volume times rate of rise", "definition"),
        "non_condensables_at_rest": Source(
            "With the unit off and at one temperature, pressure above the saturation pressure of the refrigerant is "
            "that of non-condensable gas; 20 to 30 minutes to settle",
            "practice",
        ),
        "leak_rate_methods": Source(
            "40 CFR 82.152 and 84.102, the annualizing and the rolling-average method (second-hand, as quoted in a "
            "public study guide for the EPA section 608 examination, June 2026)",
            "memory",
        ),
        "leak_thresholds": Source(
            "40 CFR 84.106(c)(2), from 1 January 2026, and 82.157: 10 % comfort cooling, 20 % commercial, 30 % "
            "industrial process refrigeration; from 15 lb of a regulated substance, or a substitute with a warming "
            "potential above 53, and from 50 lb of an ozone-depleting one; residential and light commercial air "
            "conditioning is left out",
            "memory",
        ),
        "gwp_ar4": Source(
            "IPCC Fourth Assessment Report (2007), as in the exchange values of the AIM Act, 42 U.S.C. 7675", "memory"
        ),
        "gwp_ar5": Source("IPCC Fifth Assessment Report (2013), table 8.A.1", "memory"),
        "gwp_ar6": Source("IPCC Sixth Assessment Report (2021), table 7.SM.7", "memory"),
        "steadiness_practice": Source(
            "Steady within five minutes: saturation, line and return temperatures to 1 °F, superheat, subcooling and "
            "outdoor air to 2 °F, power to 2 %",
            "practice",
        ),
        "hunting_valve": Source(
            "A hunting expansion valve swings superheat by 5 to 10 °F either way, with a period of one to five "
            "minutes; its mean is taken over at least three whole periods",
            "memory",
        ),
        "short_cycle": Source("A run of less than five minutes is a short cycle", "practice"),
        "log_practice": Source(
            "What a log shows is judged by the size and length of changes: sudden steps, values that repeat, regular "
            "swings, and changes within five minutes against what counts as steady",
            "practice",
        ),
        "hspf_to_cop": Source(
            "Coefficient of performance at 47 °F = 0.3225 HSPF + 0.9099: rules for California's residential energy "
            "code, as open codes carry them; the spread about it is this service's choice",
            "published",
        ),
        "little_subcooling": Source(
            "Liquid with little subcooling may carry vapour; in 125 simulated repairs with under 4 °F in one run, the "
            "band of the change of efficiency held in 68 % and its direction was right in all but one",
            "practice",
        ),
        "winding_shorted": Source(
            "A winding that reads no more than the zero error of the meter and its leads, about 0.1 Ω, may be shorted",
            "practice",
        ),
        "room_charge_cap": Source(
            "IEC 60335-2-40: the formula ends at m2, 26 m3 (A3) or 52 m3 (A2L) times the lower flammability limit; "
            "0.988 kg for R-290 is seen in print",
            "memory",
        ),
        "usual_inputs": Source(
            "Where readings and nameplate numbers of split systems usually lie, wide enough for all seasons, so that "
            "another unit shows",
            "practice",
        ),
        "charge_plausible": Source(
            "Split systems have a liquid line smaller than the vapour line and up to 5/8 in., hold about 1.5 to 5 lb "
            "of refrigerant for each ton, and less in the lines than in the unit",
            "practice",
        ),
        "four_wire_class": Source(
            "Four-wire ohmmeters resolve 0.1 mΩ or better and err by a few tenths of a percent; 0.5 % and five counts "
            "are taken",
            "practice",
        ),
        "credible_readings": Source(
            "What readings can be on a comfort system of its rating that runs, in bad condition too",
            "practice",
        ),
        "second_law": Source(
            "Second law of thermodynamics: adiabatic compression takes at least the isentropic work", "definition"
        ),
    }
)


@cache
def source(key: str) -> str:
    """The citation behind a key, with its standing.

    Raises
    ------
    KeyError
        If a row names a source that is not in the table (a test walks every row).
    """
    return str(SOURCES[key])
