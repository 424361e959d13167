"""The trade's words for the fields of a request: what a caller means by a name that the contract does not know.

All rows are common practice, no source.  Fields are paths in the body of an assessment.  Words may be written in
any case and with any separators; abbreviations and units at their end are spelled out before they are looked up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class TradeWord:
    """One meaning.

    ``fields`` are what is meant, the usual one first: any of them, or all of them where ``derived`` names a
    quantity that the service derives from readings.  ``note`` is a sentence that tells them apart.
    """

    words: tuple[str, ...]
    fields: tuple[str, ...]
    note: str = ""
    derived: str = ""


#: Abbreviations, spelled out as the rows are.
SPELLED_OUT: Mapping[str, str] = MappingProxyType(
    {
        "temp": "temperature",
        "temps": "temperature",
        "press": "pressure",
        "pres": "pressure",
        "amp": "current",
        "amps": "current",
        "amperage": "current",
        "volt": "voltage",
        "volts": "voltage",
        "watt": "power",
        "watts": "power",
        "kilowatts": "power",
        "vapour": "vapor",
        "vap": "vapor",
        "liq": "liquid",
        "suct": "suction",
        "disch": "discharge",
        "comp": "compressor",
        "compr": "compressor",
        "cond": "condenser",
        "evap": "evaporator",
        "ret": "return",
        "amb": "ambient",
        "aux": "auxiliary",
        "sat": "saturation",
        "saturated": "saturation",
        "rh": "relative humidity",
        "humidity": "relative humidity",
        "wb": "wet bulb",
        "wetbulb": "wet bulb",
        "db": "dry bulb",
        "drybulb": "dry bulb",
        "lowside": "low side",
        "highside": "high side",
        "hi": "high",
        "subcool": "subcooling",
        "od": "outdoor",
        "outside": "outdoor",
        "inside": "indoor",
        "strips": "strip",
        "lineset": "line set",
    }
)

#: Words that add nothing to a name.
IDLE: frozenset[str] = frozenset({"air", "reading", "measured", "actual", "value", "deg", "degrees"})

#: Units at the end of a name, and what they measure.
MEASURED_IN: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("psi", "psig", "psia", "kpa", "bar", "mpa"), "pressure"),
        **dict.fromkeys(("f", "degf", "c", "degc", "k", "fahrenheit", "celsius"), "temperature"),
        **dict.fromkeys(("inwc", "iwc", "wc", "inh2o", "pa"), "static pressure"),
        **dict.fromkeys(("kw", "w"), "power"),
        "a": "current",
        "v": "voltage",
        "pct": "relative humidity",
        "percent": "relative humidity",
    }
)

#: What each quantity's fields have in their names, which distinguishes a unit from a contradiction.
MARKS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "pressure": ("pressure",),
        "static pressure": ("static_pressure", "pressure_drop"),
        "temperature": ("temperature", "bulb"),
        "current": ("current", "amps"),
        "voltage": ("voltage",),
        "power": ("power",),
        "relative humidity": ("relative_humidity",),
    }
)

_READ = "run.readings."
_RATED = "unit.rated."
_PLATE = "unit.nameplate."


def _readings(*names: str) -> tuple[str, ...]:
    return tuple(_READ + name for name in names)


_HIGH_SIDE = (
    "liquid_pressure is read at the port of the liquid line, discharge_pressure at a port of the discharge line."
)
_LARGE_LINE = "In heating, the port of the large line reads discharge_pressure."
_CAPACITOR = (
    "That is the marking. The capacitance under load is derived from capacitor_voltage and the current in the "
    "capacitor's wire."
)

TRADE_WORDS: tuple[TradeWord, ...] = (
    # Pressures of the refrigerant.
    TradeWord(
        (
            "low side pressure",
            "low side",
            "low pressure",
            "suction pressure",
            "suction",
            "vapor pressure",
            "vapor line pressure",
            "suction line pressure",
            "evaporator pressure",
            "back pressure",
            "blue gauge",
        ),
        _readings("suction_pressure"),
        _LARGE_LINE,
    ),
    TradeWord(
        (
            "high side pressure",
            "high side",
            "high pressure",
            "head pressure",
            "head",
            "condenser pressure",
            "condensing pressure",
            "red gauge",
        ),
        _readings("liquid_pressure", "discharge_pressure"),
        _HIGH_SIDE,
    ),
    TradeWord(
        ("discharge pressure", "discharge line pressure"),
        _readings("discharge_pressure", "liquid_pressure"),
        _HIGH_SIDE,
    ),
    TradeWord(("liquid line pressure",), _readings("liquid_pressure")),
    # Saturation temperatures and line temperatures.
    TradeWord(
        (
            "sst",
            "saturation suction temperature",
            "suction saturation",
            "evaporating temperature",
            "low side saturation",
        ),
        _readings("suction_saturation_temperature"),
    ),
    TradeWord(
        (
            "sct",
            "saturation condensing temperature",
            "saturation liquid temperature",
            "condensing temperature",
            "liquid saturation",
            "high side saturation",
        ),
        _readings("liquid_saturation_temperature"),
    ),
    TradeWord(("slt", "suction temperature", "suction line"), _readings("suction_line_temperature")),
    TradeWord(
        ("vapor line temperature", "vapor temperature", "vapor line", "large line temperature"),
        _readings("suction_line_temperature", "vapour_line_temperature"),
        "In cooling it is suction_line_temperature, in heating vapour_line_temperature.",
    ),
    TradeWord(("llt", "liquid temperature", "liquid line"), _readings("liquid_line_temperature")),
    TradeWord(
        ("dlt", "discharge temperature", "discharge line", "discharge gas temperature", "hot gas temperature"),
        _readings("discharge_line_temperature"),
    ),
    TradeWord(("evaporator outlet", "suction temperature at evaporator"), _readings("evaporator_outlet_temperature")),
    TradeWord(("compressor suction temperature", "compressor inlet"), _readings("compressor_inlet_temperature")),
    # Air.
    TradeWord(
        (
            "ambient",
            "ambient temperature",
            "oat",
            "odt",
            "odb",
            "oadb",
            "outdoor temperature",
            "outdoor dry bulb",
            "outdoor ambient",
            "outdoor",
            "condenser entering temperature",
        ),
        _readings("outdoor_air_dry_bulb"),
    ),
    TradeWord(("outdoor wet bulb", "owb", "ambient wet bulb"), _readings("outdoor_air_wet_bulb")),
    TradeWord(("outdoor relative humidity", "ambient relative humidity"), _readings("outdoor_air_relative_humidity")),
    TradeWord(
        ("condenser leaving temperature", "outdoor leaving temperature"),
        _readings("condenser_leaving_air_dry_bulb", "outdoor_coil_leaving_air_dry_bulb"),
        "In cooling it is condenser_leaving_air_dry_bulb, in heating outdoor_coil_leaving_air_dry_bulb.",
    ),
    TradeWord(("rdb", "radb", "return temperature", "return dry bulb"), _readings("return_air_dry_bulb")),
    TradeWord(
        ("indoor temperature", "indoor dry bulb", "idb"),
        _readings("return_air_dry_bulb", "room_air_dry_bulb"),
        "return_air_dry_bulb is read where the air enters the indoor coil, room_air_dry_bulb at the return grille.",
    ),
    TradeWord(("room temperature",), _readings("room_air_dry_bulb")),
    TradeWord(
        ("return wet bulb", "rwb", "rawb", "indoor wet bulb", "iwb", "ewb", "entering wet bulb"),
        _readings("return_air_wet_bulb"),
    ),
    TradeWord(("return relative humidity", "indoor relative humidity"), _readings("return_air_relative_humidity")),
    TradeWord(("sdb", "sadb", "supply temperature", "supply dry bulb"), _readings("supply_air_dry_bulb")),
    TradeWord(("swb", "sawb", "supply wet bulb", "leaving wet bulb"), _readings("supply_air_wet_bulb")),
    TradeWord(("supply relative humidity",), _readings("supply_air_relative_humidity")),
    TradeWord(
        ("wet bulb",),
        _readings("return_air_wet_bulb", "supply_air_wet_bulb", "outdoor_air_wet_bulb"),
    ),
    TradeWord(
        ("dry bulb",),
        _readings("return_air_dry_bulb", "supply_air_dry_bulb", "outdoor_air_dry_bulb"),
    ),
    TradeWord(
        ("relative humidity",),
        _readings("return_air_relative_humidity", "supply_air_relative_humidity", "outdoor_air_relative_humidity"),
    ),
    TradeWord(
        ("tesp", "esp", "static", "static pressure", "total static", "total static pressure", "external static"),
        (*_readings("total_external_static_pressure"), _PLATE + "maximum_external_static_pressure"),
        "One side alone is return_static_pressure or supply_static_pressure.",
    ),
    TradeWord(("return static",), _readings("return_static_pressure")),
    TradeWord(("supply static",), _readings("supply_static_pressure")),
    TradeWord(("filter drop", "filter dp", "filter static", "filter pressure"), _readings("filter_pressure_drop")),
    TradeWord(("coil drop", "coil dp", "coil static"), _readings("coil_pressure_drop")),
    TradeWord(
        (
            "cfm",
            "airflow",
            "air flow",
            "airflow cfm",
            "indoor airflow",
            "supply airflow",
            "return airflow",
            "system airflow",
        ),
        (*_readings("airflow"), _RATED + "airflow"),
    ),
    TradeWord(("outdoor airflow", "condenser cfm", "outdoor cfm"), _readings("condenser_airflow")),
    TradeWord(("condensate",), _readings("condensate_rate")),
    # Electrical.
    TradeWord(
        (
            "compressor current",
            "compressor common amps",
            "common current",
            "common wire current",
            "compressor draw",
            "compressor amp draw",
        ),
        _readings("compressor_common_current"),
        "On a three-phase unit give compressor_line_currents.",
    ),
    TradeWord(
        ("rla", "rla current", "compressor rla", "compressor rla current", "rated load current"),
        (_READ + "compressor_common_current", _PLATE + "compressor_rated_load_amps"),
        "The plate's RLA is unit.nameplate.compressor_rated_load_amps, the draw compressor_common_current.",
    ),
    TradeWord(
        ("start current", "start winding current", "start wire current", "compressor start current", "herm current"),
        _readings("compressor_start_winding_current"),
        "It is the capacitor's current, not the compressor's draw: that is compressor_common_current.",
    ),
    TradeWord(
        ("run winding current", "compressor run winding"),
        _readings("compressor_run_winding_current"),
    ),
    TradeWord(
        ("run current", "running current", "compressor run current"),
        _readings("compressor_common_current", "compressor_run_winding_current"),
        "The compressor's draw is compressor_common_current.",
    ),
    TradeWord(
        ("fan current", "fan motor current", "motor current"),
        _readings("outdoor_fan_current", "indoor_blower_current"),
    ),
    TradeWord(
        ("condenser fan current", "outdoor fan motor current", "ofm current"),
        _readings("outdoor_fan_current"),
    ),
    TradeWord(
        ("blower current", "indoor fan current", "blower motor current", "indoor motor current"),
        _readings("indoor_blower_current"),
    ),
    TradeWord(
        ("voltage", "supply voltage", "line to line voltage", "unit voltage"),
        (*_readings("line_voltage"), _PLATE + "voltage"),
    ),
    *(
        TradeWord(
            (pair, f"{pair} voltage", f"voltage {pair}", f"line voltage {pair}", pair.replace(" ", "")),
            (f"{_READ}line_voltages.{field}",),
        )
        for pair, field in (("l1 l2", "l1_l2"), ("l2 l3", "l2_l3"), ("l3 l1", "l3_l1"), ("l1 l3", "l3_l1"))
    ),
    *(
        TradeWord((f"{line} current", f"current {line}"), (f"{_READ}compressor_line_currents.{line}",))
        for line in ("l1", "l2", "l3")
    ),
    TradeWord(
        ("power", "input power", "power input", "kw", "wattage"),
        _readings("outdoor_unit_power", "indoor_unit_power"),
    ),
    TradeWord(("outdoor power", "condenser power", "condensing unit power"), _readings("outdoor_unit_power")),
    TradeWord(
        ("indoor power", "blower power", "indoor fan power", "handler power", "indoor blower power"),
        _readings("indoor_unit_power"),
    ),
    TradeWord(("pf",), _readings("power_factor")),
    TradeWord(
        ("cap voltage", "run capacitor voltage", "run cap voltage"),
        _readings("capacitor_voltage"),
    ),
    TradeWord(
        (
            "capacitor uf",
            "capacitor mfd",
            "uf",
            "mfd",
            "microfarads",
            "capacitance",
            "capacitor",
            "run capacitor",
            "run cap",
        ),
        (_PLATE + "capacitors",),
        _CAPACITOR,
    ),
    TradeWord(
        (
            "auxiliary heat power",
            "auxiliary heat kw",
            "auxiliary power",
            "strip power",
            "strip heat power",
            "heat strip power",
            "electric heat power",
            "backup heat power",
        ),
        _readings("auxiliary_heat_power"),
    ),
    TradeWord(
        ("auxiliary current", "strip current", "heat strip current", "strip heat current", "electric heat current"),
        _readings("auxiliary_heat_current"),
    ),
    TradeWord(
        ("auxiliary heat", "strip heat", "heat strip", "electric heat", "backup heat", "emergency heat"),
        ("run.auxiliary_heat_on", *_readings("auxiliary_heat_power")),
    ),
    # What is derived from readings.
    TradeWord(
        ("superheat", "sh", "total superheat", "suction superheat"),
        _readings("suction_pressure", "suction_line_temperature"),
        derived="Superheat",
    ),
    TradeWord(
        ("subcooling", "sc", "sub cooling", "sub cool", "liquid subcooling"),
        _readings("liquid_pressure", "liquid_line_temperature"),
        "A target of the maker is unit.nameplate.subcooling.",
        derived="Subcooling",
    ),
    TradeWord(
        ("delta t", "dt", "split", "temperature split", "temperature drop", "temperature rise", "delta temperature"),
        _readings("return_air_dry_bulb", "supply_air_dry_bulb"),
        derived="The temperature split",
    ),
    TradeWord(
        ("charge", "refrigerant charge", "charge level"),
        _readings("suction_pressure", "suction_line_temperature", "liquid_pressure", "liquid_line_temperature"),
        "They give superheat and subcooling.",
        derived="The state of charge",
    ),
    TradeWord(
        ("approach", "approach temperature"),
        _readings("liquid_line_temperature", "outdoor_air_dry_bulb"),
        derived="The approach",
    ),
    TradeWord(
        ("compression ratio", "pressure ratio"),
        _readings("suction_pressure", "liquid_pressure"),
        derived="The compression ratio",
    ),
    # The unit and its plate.
    TradeWord(("seer", "seer rating"), (_RATED + "seer",)),
    TradeWord(("eer", "eer rating", "energy efficiency ratio"), (_RATED + "eer",)),
    TradeWord(("hspf", "hspf rating"), (_RATED + "hspf",)),
    TradeWord(("cop", "rated cop"), (_RATED + "heating_cop",)),
    TradeWord(
        ("tons", "ton", "tonnage", "nominal tons", "capacity tons"),
        (_RATED + "cooling_capacity",),
        "A ton is 12,000 Btu/h.",
    ),
    TradeWord(
        ("capacity", "rated capacity"),
        (_RATED + "cooling_capacity", _RATED + "heating_capacity"),
        "What the unit delivers is derived from readings.",
    ),
    TradeWord(("rated cfm", "rated airflow", "nominal cfm"), (_RATED + "airflow",)),
    TradeWord(
        ("fla", "fla current", "full load current"),
        (_PLATE + "outdoor_fan_full_load_amps", _PLATE + "indoor_blower_full_load_amps"),
    ),
    TradeWord(("hz", "line frequency"), (_PLATE + "frequency",)),
    TradeWord(("phase",), (_PLATE + "phases",)),
    TradeWord(("target subcooling", "rated subcooling"), (_PLATE + "subcooling",)),
    TradeWord(("refrigerant type", "freon"), ("unit.refrigerant",)),
    TradeWord(("metering", "txv", "expansion device", "metering device type"), ("unit.metering_device",)),
    TradeWord(("line set length", "line length"), ("unit.line_set.length",)),
    TradeWord(("model", "serial", "serial number", "model number"), ("labels.unit",)),
    # The run and the site.
    TradeWord(("stage",), ("run.stage",)),
    TradeWord(("compressor speed",), ("run.speed_percent",)),
    TradeWord(("mode", "operating mode", "heating mode"), ("unit.mode",)),
    TradeWord(
        ("defrost", "in defrost", "defrost mode"),
        ("run.defrosting", "run.minutes_since_defrost"),
    ),
    TradeWord(("runtime", "run time", "minutes", "run minutes"), ("run.minutes_running",)),
    TradeWord(("timestamp", "date", "datetime", "date time"), ("run.taken_at",)),
    TradeWord(
        ("time series", "data log", "logger", "logged readings", "recording", "csv"),
        ("run.log",),
        "As arrays over `seconds`, or as CSV text in `csv`.",
    ),
    TradeWord(("elevation",), ("site.altitude",)),
    TradeWord(("barometer", "barometric", "atmospheric pressure", "baro"), ("site.barometric_pressure",)),
)

#: The trade's words for values that the contract spells out.
VALUE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "txv": "thermostatic_expansion_valve",
        "tev": "thermostatic_expansion_valve",
        "eev": "electronic_expansion_valve",
        "exv": "electronic_expansion_valve",
        "piston": "fixed_orifice",
        "orifice": "fixed_orifice",
        "cap tube": "capillary_tube",
        "inverter": "variable_speed",
        "ac": "cooling",
        "cool": "cooling",
        "heat": "heating",
        "°f": "degF",
        "f": "degF",
        "°c": "degC",
        "c": "degC",
        "micron": "umHg",
        "microns": "umHg",
        "µm": "umHg",
        "mtorr": "umHg",
    }
)

#: The trade's words for the last part of an address.
ADDRESS_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "assess": "assessments",
        "assessment": "assessments",
        "visit": "assessments",
        "visits": "assessments",
        "diagnose": "diagnoses",
        "diagnosis": "diagnoses",
        "diagnostics": "diagnoses",
        "compare": "comparisons",
        "comparison": "comparisons",
        "series": "trends",
        "trend": "trends",
        "batch": "batches",
        "chart": "plots",
        "charts": "plots",
        "picture": "plots",
        "pictures": "plots",
    }
)

#: Usual names of pages, and the address here.
PAGE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "health": "/health/ready",
        "healthz": "/health/ready",
        "readyz": "/health/ready",
        "livez": "/health/live",
        "ping": "/health/live",
        "swagger": "/docs",
        "redoc": "/docs",
    }
)

#: Units as loggers write them, in small letters without spaces and full stops; only what has one meaning.
UNIT_WORDS: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("°f", "f", "degf", "fahrenheit"), "degF"),
        **dict.fromkeys(("°c", "c", "degc", "celsius"), "degC"),
        **dict.fromkeys(("inwc", "inh2o", "iwc"), "inH2O"),
        **dict.fromkeys(("%rh", "percent", "pct"), "%"),
        **dict.fromkeys(("amp", "amps"), "A"),
        **dict.fromkeys(("volt", "volts"), "V"),
        **dict.fromkeys(("watt", "watts"), "W"),
        **{unit.lower(): unit for unit in ("psi", "psig", "psia", "kPa", "bar", "inHg", "kW", "cfm", "L/s")},
    }
)
