"""Motors and capacitors read with the power off: rules and what stands behind them.  SI.

Most rules here are common practice or recalled; each row says so through its source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

#: Allowance for the meter and its leads when S-R is compared with C-S + C-R [Ω] and [1]; source
#: ``winding_identity``.
IDENTITY_FIXED, IDENTITY_SHARE = 0.1, 0.01
#: Start winding over run winding [1] as a service procedure has it, and as modern compressors show it; sources
#: ``start_winding_ratio``, ``start_winding_ratio_modern``.
START_OVER_RUN = (3.0, 6.0)
START_OVER_RUN_MODERN = (1.5, 6.0)
#: Largest deviation of three windings from their mean [1]: from the first look closer, from the second suspect;
#: source ``winding_spread``.
WINDING_SPREAD = (0.02, 0.05)
#: Resistance [Ω] of three-phase windings below which the meter's leads decide; source ``winding_spread``.
LEADS_DECIDE = 1.0
#: Resistance [Ω] above which a winding counts as open; common practice, no source.
OPEN = 1000.0
#: Standard uncertainties from which a reading of a winding is told from none; below, leads and contacts decide.
RESOLVED_FROM = 2.0
#: Share [1] by which the sections of a can may differ from each other's marking and still be seen as swapped; common
#: practice, no source.
SWAPPED_WITHIN = 0.25
#: Temperature at which a winding is compared [K] (77 °F); a reference only.
WINDING_REFERENCE = 298.15


@dataclass(frozen=True, slots=True)
class InsulationBand:
    """A range of insulation resistance of small hermetic compressors and what the trade makes of it.

    ``above`` is its lower end [Ω].
    """

    above: float
    name: str
    advice: str


#: Source ``insulation_practice``.
INSULATION_BANDS = (
    InsulationBand(100e6, "usual", "No sign of moisture or damage to the insulation."),
    InsulationBand(
        50e6,
        "some moisture",
        "Readings like this often come from moisture or dirty oil. Watch it, and change the drier at the next opening.",
    ),
    InsulationBand(
        20e6,
        "moist",
        "Readings like this often come from much moisture or contaminated oil. Test the oil for acid and change the "
        "drier.",
    ),
    InsulationBand(
        2e6,
        "poor",
        "Warm the compressor with its heater, read again, and test the oil for acid before you condemn it.",
    ),
    InsulationBand(
        0.0,
        "failing",
        "Some makers accept 0.5 to 1 megohm on scroll compressors whose windings sit in oil and refrigerant. Follow "
        "the maker's limit before you condemn it.",
    ),
)
#: Both readings of a large hermetic motor [Ω], and their ratio after 60 and 10 seconds [1]; source
#: ``insulation_chiller``.
LARGE_MOTOR_LEAST, LARGE_MOTOR_RATIO = 50e6, 1.0
#: Resistance [Ω] to ground up to which a winding counts as grounded; source ``grounded_winding``.
GROUNDED = 1e6
#: Least insulation resistance [Ω] of a small hermetic compressor that trade tables do not call poor; source
#: ``insulation_practice``.
NOT_POOR = 20e6
#: Resistance [Ω] to ground that an ohmmeter cannot tell from none: the top of its range; source ``grounded_winding``.
OPEN_TO_GROUND = 100e6
#: Resistance [Ω] below which a meter cannot tell a winding from a short: about its zero error; source
#: ``winding_shorted``.
SHORTED = 0.1

#: Most makers mark run capacitors ±6 %; source ``capacitor_marking``.
CAPACITOR_TOLERANCE = 6.0

#: Sections of a two-section can by the names printed at their terminals.
SECTIONS: Mapping[str, str] = MappingProxyType({"compressor": "HERM", "outdoor_fan": "FAN"})
