"""The spot-the-mistake sheets: every planted mistake is one, and every other line is right.

Each line is worked again here from what the sheet prints above it, by hand formulas in SI units (textbooks: gas law,
continuity, Bernoulli, Darcy-Weisbach, Borda-Carnot) or from the row of the table that it rests on, not by the functions
that made it. A line that is right must be met, one with a mistake must be missed by far.
"""

import math

import pytest

from ventcalc import tables
from ventcalc.handbook import mistakes
from ventcalc.show import contents, worked_sheet
from ventcalc.units import Q_, SYSTEMS

G, R_AIR, R = 9.80665, 287.05, 8.31446  # m/s2, J/(kg K) of dry air, J/(mol K)
NEAR = 0.004  # gas law of dry air and rounded constants: a third of a percent
FAR = 0.02  # a mistake that changes less than this would teach nothing


def si(value, unit):
    return float(value.m_as(unit))


def excess_by_hand(p):
    return 0.898 * 0.05 / (0.2095 - 0.05)  # natural gas, the factor of chapter 02: dry gas over theoretical air


def flow_by_hand(p):
    # 0.77 lb of flue gas per 1000 Btu without excess air and 0.72 lb more for as much air again, as in chapter 05.
    return si(p["heat_input"], "Btu/s") * (0.77 + 0.72 * p["excess"]) / 1000.0 * 0.45359237


def burnt_by_hand(p):
    # 8.1 % CO2, 15.4 % H2O, 4.2 % O2 wet at 28 % excess air (atom balance of methane-like gas): 28.0 g/mol.
    return si(p["barometer"], "Pa") * 0.0280 / (R * si(p["flue"], "K"))


def barometer_by_hand(p):
    # US Standard Atmosphere 1976 by its own exponent, geopotential taken for geometric height.
    return 101325.0 * (1.0 - 0.0065 * si(p["altitude"], "m") / 288.15) ** 5.2559


def dew_by_hand(p):
    # Magnus's formula with the constants of Sonntag (1990); 15.9 % water vapor at 28 % excess air.
    x = 2.0 / (1.0 + 2.0 + 2 * 3.773 + 2 * 4.773 * p["excess"])  # methane
    ln = math.log(x * si(p["barometer"], "Pa") / 611.2)
    return 273.15 + 243.12 * ln / (17.62 - ln)


def air(temperature):
    return 101325.0 / (R_AIR * si(temperature, "K"))


def head_by_hand(p):
    return 0.5 * si(p["air_density"], "kg/m**3") * si(p["velocity"], "m/s") ** 2


def velocity_by_hand(p, bore="narrow"):
    return si(p["flow"], "kg/s") / (si(p["air_density"], "kg/m**3") * math.pi / 4 * si(p[bore], "m") ** 2)


def friction_by_hand(p):
    return p["factor"] * si(p["length"], "m") / si(p["narrow"], "m") * si(p["head"], "Pa")


def k_of(name):
    return float(tables.row("fittings", name, "name")["loss"])


RUN = {
    "air_density": lambda p: air(p["gas"]),
    "velocity": velocity_by_hand,
    "head": head_by_hand,
    "straight": friction_by_hand,
    "elbows": lambda p: p["count"] * k_of(p["elbow"]) * si(p["head"], "Pa"),
}

# What each line should say, from what is printed above it.
RIGHT = {
    "mountain": {
        "excess": excess_by_hand,
        "flow": flow_by_hand,
        "barometer": barometer_by_hand,
        "burnt_density": burnt_by_hand,
        "volume": lambda p: si(p["flow"], "kg/s") / si(p["burnt_density"], "kg/m**3"),
        "dew_point": dew_by_hand,
        # The line of chapter 05: 9.8 % latent, 0.0205 % a degree Fahrenheit of warmth at no excess air.
        "loss": lambda p: (9.8 + 0.0205 * (1 + 0.855 * p["excess"]) * (300.0 - 70.0)) / 100,
        "left": lambda p: si(p["carries"], "m**3/s") - si(p["volume"], "m**3/s"),
    },
    "connector": RUN
    | {
        "wide_head": lambda p: si(p["head"], "Pa") * (8.0 / 12.0) ** 4,
        "cone": lambda p: (1.0 - (8.0 / 12.0) ** 2) ** 2 * si(p["head"], "Pa"),  # Borda and Carnot, beyond 45 degrees
        "left": lambda p: si(p["to_spend"], "Pa") - sum(si(p[k], "Pa") for k in ("straight", "elbows", "cone")),
    },
    "draft": {
        "outdoor_density": lambda p: air(p["outdoor"]),
        "room_density": lambda p: air(p["room"]),
        "hot_density": lambda p: air(p["gas"]),
        "draft": lambda p: (
            G * si(p["height"], "m") * (si(p["outdoor_density"], "kg/m**3") - si(p["hot_density"], "kg/m**3"))
        ),
        "left": lambda p: si(p["draft"], "Pa") - si(p["wanted"], "Pa"),
    },
    "vent": RUN
    | {
        "outdoor_density": lambda p: air(p["outdoor"]),
        "draft": lambda p: (
            G * si(p["height"], "m") * (si(p["outdoor_density"], "kg/m**3") - si(p["air_density"], "kg/m**3"))
        ),
        "top": lambda p: (1.0 + k_of(p["cap"])) * si(p["head"], "Pa"),
        "left": lambda p: si(p["draft"], "Pa") - sum(si(p[k], "Pa") for k in ("straight", "elbows", "top", "wanted")),
    },
    "set_point": {
        "from_a": lambda p: si(p["a_low"], "Pa") - si(p["a_least"], "Pa"),
        "to_a": lambda p: si(p["a_high"], "Pa") - si(p["a_most"], "Pa"),
        "low": lambda p: max(si(p[f"{b}_low"], "Pa") - si(p[f"{b}_least"], "Pa") for b in "ab"),
        "high": lambda p: min(si(p[f"{b}_high"], "Pa") - si(p[f"{b}_most"], "Pa") for b in "ab"),
        "set_point": lambda p: (si(p["low"], "Pa") + si(p["high"], "Pa")) / 2,
        "outdoor_density": lambda p: air(p["outdoor"]),
        "worst": lambda p: si(p["calm"], "Pa") + 0.65 * 0.5 * si(p["outdoor_density"], "kg/m**3") * (15 * 0.44704) ** 2,
        "add": lambda p: si(p["worst"], "Pa") - si(p["set_point"], "Pa"),
        "air_density": lambda p: air(p["gas"]),
        "look_up": lambda p: si(p["add"], "Pa") * 1.2014 / si(p["air_density"], "kg/m**3"),
        "left": lambda p: si(p["fan_makes"], "Pa") - si(p["look_up"], "Pa"),
    },
    "office": {
        "level": lambda p: 600.0 * 4.0 / 50.0,
        "limit": lambda p: 9.0,  # EPA, 40 CFR 50.8: 9 ppm, eight-hour mean
        "mean": lambda p: si(p["level"], "ppm") * 3.0 / 8.0,
        "left": lambda p: si(p["limit"], "ppm") - si(p["mean"], "ppm"),
    },
    "louver": {
        "needed": lambda p: 800000.0 / 4000.0 * 0.0254**2,  # 1 in2 for 4000 Btu/h, NFPA 54 9.3.3.1
        "gross": lambda p: 14.0 * 16.0 * 0.0254**2,
        "free": lambda p: 0.75 * si(p["gross"], "m**2"),  # 75 % of metal, NFPA 54 9.3.7
        "left": lambda p: si(p["free"], "m**2") - si(p["needed"], "m**2"),
    },
    "file": {
        "typed_input": lambda p: 117000.0,  # W, the plate
        "edge": lambda p: 0.40 * 249.089,  # the window of data/jobs/laundry.toml
        "left": lambda p: si(p["edge"], "Pa") - si(p["highest"], "Pa"),
    },
}
BASE = {"kg/m**3", "Pa", "m/s", "kg/s", "m**3/s", "K", "m**2", "W", "ppm", ""}
# Rounded constants of a hand formula: chapter 02 to 05 round to a percent.
LOOSE = {"flow": 0.02, "loss": 0.02, "dew_point": 0.005, "burnt_density": 0.01, "excess": 0.005}

SHEETS = {sheet.name: sheet for sheet in mistakes.sheets()}
# One line may tell two figures.
FIGURES = {"of_a": ("from_a", "to_a"), "both": ("low", "high")}


def plain(value):
    """A figure as a plain number in the SI unit of its kind."""
    if not hasattr(value, "units"):
        return float(value)
    unit = (
        "ppm" if value.units == Q_(1, "ppm").units else next(u for u in BASE - {"ppm"} if value.is_compatible_with(u))
    )
    return float(value.m_as(unit))


def off(sheet, figure, printed):
    """How far a printed figure is off the right one, over the larger figure of its sum."""
    right, said = RIGHT[sheet.name][figure](printed), plain(printed[figure])
    scale = abs(right)
    if figure in ("left", "set_point", "add"):  # differences: over what they are differences of
        scale = max(scale, max(abs(plain(v)) for v in printed.values() if _alike(v, printed[figure])))
    return abs(said - right) / scale


def _alike(value, other):
    return hasattr(value, "units") and value.is_compatible_with(other) and not (value.check("[temperature]"))


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", SHEETS)
def test_every_other_line_is_right(name, system):
    sheet = SHEETS[name]
    printed = worked_sheet.worked(sheet, system)
    worked = 0
    for line in sheet.lines:
        for figure in FIGURES.get(line.name, (line.name,)):
            if line.name in sheet.planted or figure not in RIGHT[name]:
                continue
            assert off(sheet, figure, printed) < LOOSE.get(figure, NEAR), figure
            worked += 1
    assert worked >= len(sheet.lines) - len(sheet.planted) - 1  # category by words, and what the solver finds: below


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", SHEETS)
def test_every_planted_mistake_is_there(name, system):
    sheet = SHEETS[name]
    printed = worked_sheet.worked(sheet, system)
    for line in sheet.lines:
        if line.name not in sheet.planted or line.name == "pipe":  # a pipe is no number: below
            continue
        figures = FIGURES.get(line.name, (line.name,))
        assert max(off(sheet, figure, printed) for figure in figures) > FAR, line.name
        # and the key has what is right there
        right = worked_sheet.one_line(line, printed, system)
        for figure in figures:
            assert plain(right[figure]) == pytest.approx(RIGHT[name][figure](printed), rel=0.005), figure


def test_the_pipe_of_the_lodge_is_none_for_its_boiler():
    sheet = SHEETS["mountain"]
    printed, right = (worked_sheet.worked(sheet, "US", planted) for planted in (None, frozenset()))
    assert printed["category"] == "IV"  # it pushes, and 15.6 % is below 17 %
    rows = {row["name"]: row for row in tables.read("materials")}
    typed, mended = rows[printed["pipe"]], rows[right["pipe"]]
    assert (typed["condensate"], typed["categories"]) == ("no", "I") and float(typed["max_pressure_Pa"]) == 0.0
    assert mended["condensate"] == "yes" and "IV" in mended["categories"].split()
    assert float(mended["max_pressure_Pa"]) > si(printed["pressure"], "Pa")
    assert "condensate" in printed["against"] and "category" in printed["against"]


def test_the_outlet_of_the_file_is_that_of_a_sum_by_hand():
    # 0.964 lb of flue gas per 1000 Btu at 27 % excess air (chapter 05), 28 g/mol at 140 F; f by Blasius, smooth pipe.
    # What the sum leaves out, wind on the wall and fans in the room, presses a fifth more at most.
    right, printed = (si(worked_sheet.worked(SHEETS["file"], "SI", p)["highest"], "Pa") for p in (frozenset(), None))
    bore, length = 4 * 0.0254, 97 * 0.3048
    k = 3 * k_of("elbow 90") + 2 * k_of("elbow 45") + k_of("wall terminal")
    for inputs, outlet in ((117.0 * 3.41214, right), (117.0, printed)):
        flow, density = inputs * 0.964 * 0.45359237 / 3600, 101325.0 * 0.0280 / (R * 333.0)
        velocity = flow / (density * math.pi / 4 * bore**2)
        factor = 0.316 / (4 * flow / (math.pi * bore * 2.0e-5)) ** 0.25
        by_hand = 0.5 * density * velocity**2 * (factor * length / bore + k)
        assert 0.0 < outlet - by_hand < 45.0, (outlet, by_hand)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", SHEETS)
def test_a_mistake_turns_the_conclusion(name, system):
    sheet = SHEETS[name]
    printed, right = (worked_sheet.worked(sheet, system, planted) for planted in (None, frozenset()))
    assert printed["left"] >= 0 > right["left"]
    assert worked_sheet.verdict(sheet, printed, system) != worked_sheet.verdict(sheet, right, system)


def test_there_is_one_for_each_part():
    assert {sheet.part for sheet in SHEETS.values()} == {part.number for part in contents.parts()}


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_key_tells_all_and_the_sheets_nothing(system):
    sheets, key = (worked_sheet.html(mistakes.sheets(), system, key) for key in (False, True))
    count = sum(len(sheet.planted) for sheet in SHEETS.values())
    assert count >= 10 and key.count("It says") == count and "It says" not in sheets
    for sheet in SHEETS.values():
        for found in worked_sheet.found(sheet, system):
            assert found.printed != found.right
