"""Starting file: a commented job file for one to many appliances on one vent, to be filled in with a job's own figures.

Its text is ``data/job/starting_job.txt``; the figures put into it are invented and said to be.
"""

from string import Template

from ventcalc import tables
from ventcalc.job.job_schema import FILE_NAME
from ventcalc.units import SYSTEMS

KINDS = ("forced", "draft hood", "barometric")
MOST = 60
_NOTHING = "#-"  # a line that this file does not need

# (US, SI) of every figure; the vent and the appliances are invented.
_FIGURES = {
    "altitude": ("500 ft", "150 m"),
    "cold": ("5 degF", "-15 degC"),
    "mild": ("50 degF", "10 degC"),
    "warm": ("90 degF", "32 degC"),
    "room": ("70 degF", "21 degC"),
    "warm_room": ("95 degF", "35 degC"),
    "wind": ("15 mph", "7 m/s"),
    "set_point": ("-0.05 inH2O", "-12.5 Pa"),
    "least_input": ("300 MBH", "90 kW"),
    "input": ("1000 MBH", "300 kW"),
    "outlet": ("10 inch", "250 mm"),
    "outlet_height": ("5 ft", "1.5 m"),
    "connector_length": ("4 ft", "1.2 m"),
    "connector_rise": ("2 ft", "0.6 m"),
    "header_length": ("6 ft", "1.8 m"),
    "regulator": ("-0.03 inH2O", "-7.5 Pa"),
    "stack": ("30 ft", "9 m"),
    "forced_least_flue": ("260 degF", "125 degC"),
    "forced_flue": ("340 degF", "170 degC"),
    "natural_least_flue": ("280 degF", "140 degC"),
    "natural_flue": ("380 degF", "195 degC"),
}
_WINDOWS = {"forced": (("-0.10 inH2O", "0.05 inH2O"), ("-25 Pa", "12 Pa"))}
_NATURAL = (("-0.10 inH2O", "-0.01 inH2O"), ("-25 Pa", "-2.5 Pa"))
_BY_KIND = {
    "forced": {"category": "III", "material": "stainless special gas vent double wall", "least_o2": "7 %", "o2": "5 %"},
    "draft hood": {"category": "I", "material": "Type B gas vent", "least_o2": "9 %", "o2": "7 %"},
    "barometric": {"category": "I", "material": "Type B gas vent", "least_o2": "9 %", "o2": "7 %"},
}


def text(count: int = 1, kind: str = "forced", system: str = "US") -> str:
    """The text of a file. Raises ValueError for a count beyond 1 to `MOST`, and for an unknown kind or system."""
    if not 1 <= count <= MOST:
        raise ValueError(f"{count} appliances: choose 1 to {MOST}")
    if kind not in KINDS:
        raise ValueError(f"kind {kind!r}: choose one of {', '.join(KINDS)}")
    if system not in SYSTEMS:
        raise ValueError(f"unit system {system!r}: choose US or SI")
    own = {name: values[SYSTEMS.index(system)] for name, values in _FIGURES.items()}
    gas = "forced" if kind == "forced" else "natural"
    low, high = _WINDOWS.get(kind, _NATURAL)[SYSTEMS.index(system)]
    figures = own | _BY_KIND[kind] | {"kind": kind, "count": str(count), "schema": FILE_NAME, "low": low, "high": high}
    figures |= {"least_flue": own[f"{gas}_least_flue"], "flue": own[f"{gas}_flue"]}
    figures["regulator"] = f'regulator_draft = "{own["regulator"]}"' if kind == "barometric" else _NOTHING
    figures |= _common(count, own, figures["material"], system)
    filled = Template((tables.DATA / "job" / "starting_job.txt").read_text(encoding="utf-8")).substitute(figures)
    return "\n".join(line for line in filled.split("\n") if line != _NOTHING)


def _common(count: int, own: dict[str, str], material: str, system: str) -> dict[str, str]:
    """What depends on the number: one leads into the stack itself; several each into their piece of a header."""
    wide, unit = own["outlet"].split(" ")
    diameter = f"{round(float(wide) * count**0.5 / 2) * 2:g} {unit}"
    if count == 1:
        nothing = dict.fromkeys(("appliance_count", "connector_count", "junction", "header"), _NOTHING)
        return {**nothing, "connector_into": "stack", "header_diameter": own["outlet"]}
    header = [
        "",
        "[[section]]",
        'name = "header"',
        f"count = {count}",
        'into = "header"',
        'then = "stack"',
        f'length = "{own["header_length"]}"',
        f'diameter = "{diameter}"',
        f'material = "{material}"',
        "",
    ]
    return {
        "appliance_count": f"count = {count}    # Boiler 1 to Boiler {count}, each into the connector of its number",
        "connector_count": f"count = {count}",
        "connector_into": "header",
        "junction": 'junction = "straight tee"',
        "header": "\n".join(header),
        "header_diameter": diameter,
    }
