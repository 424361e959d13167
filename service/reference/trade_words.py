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
    quantity that the service derives from readings.  ``note`` is a sentence that tells them apart.  ``instead``
    is a sentence that says what takes it where a visit has no such field.
    """

    words: tuple[str, ...]
    fields: tuple[str, ...] = ()
    note: str = ""
    derived: str = ""
    instead: str = ""


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

#: Units at the end of a name that do not decide what it measures.
ENDINGS: frozenset[str] = frozenset(
    {"pct", "percent", "ft", "feet", "m", "oz", "lb", "kg", "cfm", "min", "mins", "hours", "btuh", "hz"}
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
            "lp",
            "lp gauge",
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
            "hp gauge",
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
            "oddb",
        ),
        _readings("outdoor_air_dry_bulb"),
    ),
    TradeWord(("outdoor wet bulb", "owb", "odwb", "ambient wet bulb"), _readings("outdoor_air_wet_bulb")),
    TradeWord(("outdoor relative humidity", "ambient relative humidity"), _readings("outdoor_air_relative_humidity")),
    TradeWord(
        ("condenser leaving temperature", "outdoor leaving temperature"),
        _readings("condenser_leaving_air_dry_bulb", "outdoor_coil_leaving_air_dry_bulb"),
        "In cooling it is condenser_leaving_air_dry_bulb, in heating outdoor_coil_leaving_air_dry_bulb.",
    ),
    TradeWord(
        ("rdb", "radb", "edb", "entering dry bulb", "return temperature", "return dry bulb"),
        _readings("return_air_dry_bulb"),
    ),
    TradeWord(
        ("indoor temperature", "indoor dry bulb", "idb", "iddb"),
        _readings("return_air_dry_bulb", "room_air_dry_bulb"),
        "return_air_dry_bulb is read where the air enters the indoor coil, room_air_dry_bulb at the return grille.",
    ),
    TradeWord(("room temperature",), _readings("room_air_dry_bulb")),
    TradeWord(
        ("return wet bulb", "rwb", "rawb", "indoor wet bulb", "iwb", "idwb", "ewb", "entering wet bulb"),
        _readings("return_air_wet_bulb"),
    ),
    TradeWord(("return relative humidity", "indoor relative humidity"), _readings("return_air_relative_humidity")),
    TradeWord(
        ("sdb", "sadb", "ldb", "leaving dry bulb", "supply temperature", "supply dry bulb"),
        _readings("supply_air_dry_bulb"),
    ),
    TradeWord(("swb", "sawb", "lwb", "supply wet bulb", "leaving wet bulb"), _readings("supply_air_wet_bulb")),
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
        (
            "tesp",
            "esp",
            "static",
            "static pressure",
            "total static",
            "total static pressure",
            "external static",
            "external static pressure",
        ),
        (*_readings("total_external_static_pressure"), _PLATE + "maximum_external_static_pressure"),
        "One side alone is return_static_pressure or supply_static_pressure.",
    ),
    TradeWord(("return static", "return sp"), _readings("return_static_pressure")),
    TradeWord(("supply static", "supply sp"), _readings("supply_static_pressure")),
    TradeWord(
        ("max static", "maximum static", "max esp", "maximum esp", "max external static", "rated esp"),
        (_PLATE + "maximum_external_static_pressure",),
    ),
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
            "blower cfm",
            "indoor cfm",
            "supply cfm",
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
        (*_readings("compressor_common_current"), _PLATE + "compressor_rated_load_amps"),
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
    TradeWord(("fan fla", "condenser fan fla", "outdoor fan fla"), (_PLATE + "outdoor_fan_full_load_amps",)),
    TradeWord(("blower fla", "indoor blower fla", "indoor fan fla"), (_PLATE + "indoor_blower_full_load_amps",)),
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
            "cap uf",
            "cap mfd",
            "herm uf",
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
    TradeWord(
        ("discharge superheat",),
        _readings("discharge_pressure", "discharge_line_temperature"),
        derived="Discharge superheat",
    ),
    TradeWord(
        ("condenser td", "condenser split", "condensing over ambient"),
        _readings("liquid_pressure", "outdoor_air_dry_bulb"),
        derived="Condensing over ambient",
    ),
    TradeWord(
        ("evaporator td", "coil td", "evaporator split"),
        _readings("suction_pressure", "return_air_dry_bulb"),
        derived="The evaporator split",
    ),
    TradeWord(
        ("target superheat", "superheat target", "required superheat"),
        _readings("return_air_wet_bulb", "outdoor_air_dry_bulb"),
        "It is for a fixed orifice or a capillary tube.",
        derived="Target superheat",
    ),
    # What a check takes.
    TradeWord(
        ("vacuum", "micron", "microns", "evacuation", "vacuum microns", "vacuum level", "decay"),
        instead="A vacuum is read in a check: POST /v1/checks/vacuum-rise.",
    ),
    TradeWord(
        ("pressure test", "nitrogen pressure", "nitrogen", "test pressure", "standing pressure test"),
        instead="A test with nitrogen is a check: POST /v1/checks/pressure-hold.",
    ),
    TradeWord(
        (
            "factory charge",
            "nameplate charge",
            "unit charge",
            "charge weight",
            "refrigerant weight",
            "charge added",
            "refrigerant added",
        ),
        instead="A charge in pounds or kilograms belongs to a check: POST /v1/checks/charge-by-weight.",
    ),
    TradeWord(
        ("winding resistance", "ohms", "megohms", "insulation resistance"),
        instead="Resistances of a motor belong to a check: POST /v1/checks/motor.",
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
        ("capacity", "rated capacity", "btu", "btuh"),
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
    TradeWord(("target subcooling", "subcooling target", "rated subcooling"), (_PLATE + "subcooling",)),
    TradeWord(("refrigerant type", "freon"), ("unit.refrigerant",)),
    TradeWord(("metering", "txv", "expansion device", "metering device type"), ("unit.metering_device",)),
    TradeWord(("line set length", "line length"), ("unit.line_set.length",)),
    TradeWord(("model", "serial", "serial number", "model number", "unit id", "unit name"), ("labels.unit",)),
    TradeWord(("tech", "technician name", "mechanic"), ("labels.technician",)),
    TradeWord(("customer name", "client", "owner"), ("labels.customer",)),
    TradeWord(("job", "work order", "job number", "ticket"), ("labels.visit",)),
    TradeWord(
        ("two stage", "stages", "number of stages", "inverter", "variable speed", "modulating"),
        ("unit.capacity_control",),
    ),
    TradeWord(("afue", "furnace afue"), ("unit.furnace_efficiency",), "As a share: 80 % is 0.8."),
    TradeWord(("unit system", "measurement system", "system of units"), ("units",)),
    TradeWord(("instruments", "tools", "meters", "gauges"), ("kit",)),
    TradeWord(("measurements", "readings list", "data"), ("run.readings",)),
    TradeWord(("equipment", "system"), ("unit",)),
    # The run and the site.
    TradeWord(("stage",), ("run.stage",)),
    TradeWord(("compressor speed", "speed"), ("run.speed_percent",), "Of the compressor, in percent of full speed."),
    TradeWord(("mode", "operating mode", "heating mode"), ("unit.mode",)),
    TradeWord(
        ("defrost", "in defrost", "defrost mode"),
        ("run.defrosting", "run.minutes_since_defrost"),
    ),
    TradeWord(("runtime", "run time", "minutes", "run minutes"), ("run.minutes_running",)),
    TradeWord(
        ("time",),
        ("run.taken_at", "run.minutes_running"),
        "The first is a date and time, the second how long the unit had run.",
    ),
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
VALUE_WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        **dict.fromkeys(("txv", "tev"), ("thermostatic_expansion_valve",)),
        **dict.fromkeys(("eev", "exv"), ("electronic_expansion_valve",)),
        **dict.fromkeys(("piston", "orifice"), ("fixed_orifice",)),
        **dict.fromkeys(("cap tube", "capillary"), ("capillary_tube",)),
        **dict.fromkeys(("2 stage", "dual stage"), ("two_stage",)),
        **dict.fromkeys(("1 stage", "one stage", "single stage", "fixed speed"), ("single_speed",)),
        **dict.fromkeys(("inverter", "modulating"), ("variable_speed",)),
        **dict.fromkeys(("first", "1st", "1"), ("low",)),
        **dict.fromkeys(("second", "2nd", "2", "full"), ("high",)),
        **dict.fromkeys(("ac", "cool"), ("cooling",)),
        "heat": ("heating",),
        **dict.fromkeys(("°f", "f"), ("degF",)),
        **dict.fromkeys(("°c", "c"), ("degC",)),
        **dict.fromkeys(("micron", "microns", "µm", "mtorr"), ("umHg",)),
        **dict.fromkeys(("manifold", "gauges", "gauge", "pressure gauge"), ("pressure_transducer", "analog_gauge")),
        **dict.fromkeys(("digital manifold", "digital gauge", "pressure probe"), ("pressure_transducer",)),
        **dict.fromkeys(("wattmeter", "watt meter"), ("power_meter",)),
        **dict.fromkeys(("micron gauge", "micron meter"), ("vacuum_gauge",)),
        **dict.fromkeys(("megohmmeter", "megger"), ("insulation_tester",)),
        **dict.fromkeys(("dmm", "volt meter", "voltmeter"), ("multimeter",)),
        **dict.fromkeys(("ammeter", "amp clamp"), ("clamp_meter",)),
        **dict.fromkeys(("flow hood", "capture hood"), ("airflow_hood",)),
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

#: The trade's words for the checks, as the last part of an address.
CHECK_WORDS: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("vacuum", "evacuation", "decay", "micron", "microns"), "vacuum-rise"),
        **dict.fromkeys(("leak", "leaks", "leakage"), "leak-rate"),
        **dict.fromkeys(("pressure-test", "nitrogen", "leak-test"), "pressure-hold"),
        **dict.fromkeys(("weigh-in", "charge", "charging", "line-charge"), "charge-by-weight"),
        **dict.fromkeys(("airflow", "duct", "ducts"), "air-delivery"),
        **dict.fromkeys(("windings", "winding", "megohm"), "motor"),
        **dict.fromkeys(("standing-pressure", "static-pressure", "rest"), "pressure-at-rest"),
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
        **dict.fromkeys(("openapi", "openapi.yaml", "swagger.json", "schema", "schema.json"), "/openapi.json"),
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
