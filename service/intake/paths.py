"""Names that the rooms of the assessment share: paths of the request, and leaves made from it."""

from __future__ import annotations

READING = "run.readings."
NAMEPLATE = "unit.nameplate."

#: The refrigerant's saturation curves.
CURVES = "unit.refrigerant"
#: What the property model may be wrong by, in saturation temperature [K].
MODEL = "refrigerant.model"
#: Air pressure at the site [Pa].
SITE_PRESSURE = "site.pressure"

MOTORS = ("compressor", "outdoor_fan", "indoor_blower")

#: Pressures read in pressure units, and saturation temperatures read off a gauge in their place.
GAUGE_PRESSURES = ("suction_pressure", "liquid_pressure", "discharge_pressure")
DIAL_TEMPERATURES = ("suction_saturation_temperature", "liquid_saturation_temperature")

#: What is assumed: rows of ``service/reference/assumptions.py``.
ASSUMED = "assumed."
#: Vapour and liquid of the refrigerant.
PHASES = "refrigerant.single_phase"
RATED = "unit.rated."
#: Efficiencies of the rating, each at ``RATED`` with its name.
EFFICIENCIES = ("eer", "eer2", "seer", "seer2", "hspf", "hspf2")
LINE_SET = "unit.line_set."
#: There where a unit has no ducts.
DUCTLESS = "unit.ductless"
USAGE = "usage."

#: Columns of the maker's table, each at ``TABLE`` with its name where it holds at the conditions of the run.
TABLE = "unit.performance_table."
#: The map of how heating follows the weather.
HEATING_MAP = "unit.heating_map"
DESIGN_LOAD = "unit.design_load."
#: There where auxiliary heat was off, as stated or assumed.
AUXILIARY_OFF = "run.auxiliary_heat_off"
#: Share of the full capacity [1] at which the unit is taken to have run; absent at full capacity.
SHARE_OF_FULL = "run.share_of_full_capacity"
#: The nameplate's target of subcooling [K] where the unit ran in low stage and none for that is stated.
FULL_STAGE_SUBCOOLING = "unit.nameplate.full_stage_subcooling"
#: Rated cooling capacity [W] of the whole season: the full one, whichever stage ran.
SEASON_CAPACITY = "unit.rated.season_capacity"
#: The same in heating; and the season's efficiency there [W/W], from a seasonal rating or estimated.
SEASON_HEATING_CAPACITY = "unit.rated.season_heating_capacity"
SEASON_HEATING_EFFICIENCY = "unit.rated.season_heating_efficiency"
