"""Measured: air, burners, hot rooms, ducts, walls, houses and people as others measured them, beside the library.

What was measured stands in the tables ``measured_*`` of the Parts; each row says what it is worth and why ours is off.
Here the library works the same case, by chapter.
"""

from collections.abc import Callable, Mapping
from html import escape

import numpy as np
from IPython.display import HTML
from scipy.optimize import brentq

from ventcalc import tables
from ventcalc.building import cohb, leakage
from ventcalc.checked import Check, compare
from ventcalc.flow import friction, heat_loss, materials, stack_effect
from ventcalc.gas import atmosphere, combustion, combustion_analysis
from ventcalc.gas.fuels import gas_fuel
from ventcalc.show import contents, evidence_line, sources
from ventcalc.show.panels import folded, table
from ventcalc.units import Q_, Quantity, parse, ureg
from ventcalc.words import one_stop

Row = Mapping[str, str]


def _given(row: Row, unit: str) -> Quantity:
    return Q_(float(row["given"]), unit)


def air_pressure(row: Row) -> Quantity:
    """Pressure of the standard atmosphere at the altitude of a sounding."""
    return atmosphere.standard_pressure(_given(row, "m"))


# The gas of the laboratory's burner, as its program gives it.
LABORATORY_GAS = {"CH4": 0.827, "C2H6": 0.039, "C3H8": 0.012, "CO2": 0.014, "N2": 0.108}


def burnt_carbon(row: Row) -> Quantity:
    """Dry CO2 of the gas, all carbon burnt, at the oxygen that its CO left over is given back to.

    A mole of CO burns with half a mole of the oxygen read.
    """
    gas, half_co = gas_fuel("laboratory gas", LABORATORY_GAS), 0.5e-6 * float(row["also"])
    excess = combustion_analysis.excess_air_from_o2(gas, 0.01 * float(row["given"]) - half_co)
    return Q_(combustion.products(gas, float(excess)).co2_dry, "").to("percent")


def hot_column(row: Row) -> Quantity:
    """Draft of the air of a bedroom from seven thermocouples, layer by layer, against what they read before."""
    room = [r for r in tables.read("hot_rooms") if r["bedroom"] == row["setting"]]
    heights = np.array([float(r["below_ceiling_m"]) for r in room])
    cold, hot = (
        atmosphere.air_density(Q_([float(r[column]) for r in room], "degC"), Q_(1.0, "atm"))
        for column in ("before_C", "after_C")
    )
    layers = Q_(np.diff(heights), "m")
    cold, hot = (0.5 * (rho[1:] + rho[:-1]) for rho in (cold, hot))
    return stack_effect.theoretical_draft(layers, cold, hot).sum()


# Diameter of the duct that was measured, and the test whose Reynolds number is the highest.
DUCT = Q_(8.02, "inch")
HIGHEST = "ME014"


def duct_roughness() -> Quantity:
    """Roughness with which Colebrook's equation meets the duct's test of the highest Reynolds number."""
    row = tables.row("measured_friction", HIGHEST)
    reynolds, factor = float(row["given"]), float(row["value"])
    return DUCT * brentq(lambda r: friction.friction_factor.bare(reynolds, r) - factor, 1e-7, 1e-2)


def friction_factor(row: Row) -> Quantity:
    """Of a smooth pipe; of the duct with its own roughness, and once with that of a metal vent in the library."""
    roughness = {
        "smooth": Q_(0.0, "mm"),
        "roughness fitted": duct_roughness(),
        "roughness of a metal vent": materials.material("single-wall galvanized connector").roughness,
    }[row["setting"]]
    return friction.friction_factor(float(row["given"]), roughness / DUCT)


# What the plate lost naked and under an inch of felt, Btu/(h ft2 F); see the head of the table.
NAKED, UNDER_AN_INCH = 2.9330672, 0.3070554
_PLANE = Q_(1.0, "km")  # a diameter beside which the felt is flat
_STEAM = Q_(1e9, "W/(m**2*K)")  # condensing steam resists next to nothing


def felted_plate(row: Row) -> Quantity:
    """Heat transfer coefficient of a plate under felt, by the resistances of the felt and of the film in series."""
    unit = Q_(1.0, "Btu/(hour*ft**2*delta_degF)")
    conductivity = (Q_(1.0, "inch") / (1.0 / (UNDER_AN_INCH * unit) - 1.0 / (NAKED * unit))).to("W/(m*K)")
    felt = heat_loss.layer_resistance(_PLANE, _given(row, "inch"), conductivity)
    return heat_loss.heat_transfer_coefficient(_STEAM, felt, NAKED * unit)


def leak(row: Row) -> float:
    """Equivalent leakage area of a house [m2] from its air changes at 50 Pa."""
    flow = _given(row, "1/hour") * Q_(float(row["also"]), "m**3")
    area = leakage.leakage_area(flow, Q_(50.0, "Pa"), at=Q_(10.0, "Pa"), coefficient=0.611)
    return float(area.m_as("m**2"))


WARM_AND_WET = 0.826  # volume at 0 °C, dry, of a liter at 37 °C, saturated (from memory)
PAST_DEAD_SPACE = 0.7  # share of a breath at rest that reaches the alveoli (from memory)


def rise_of_cohb(row: Row) -> Quantity | float:
    """Rise of COHb of someone at rest at the altitude set; by the liter where the row asks for that [%/L]."""
    who, seconds, ppm = cohb.person("resting"), float(row["given"]), float(row["also"])
    pressure = atmosphere.standard_pressure(parse(row["setting"]))
    first, last = cohb.cohb(Q_([0.0, seconds], "s"), Q_([ppm, ppm], "ppm"), who, pressure=pressure)
    rise = (last - first).to("percent")
    if row["unit"] != "%/L":
        return rise
    breathed = who.ventilation * seconds * ureg("m**3").to("L").m / WARM_AND_WET / PAST_DEAD_SPACE
    return float(rise.m) / breathed


# By the chapter's module: the table of what was measured, and how the library answers a row of it.
_ANSWERS: Mapping[str, tuple[str, Callable[[Row], Quantity | float]]] = {
    "atmosphere": ("measured_atmosphere", air_pressure),
    "combustion": ("measured_combustion", burnt_carbon),
    "stack_effect": ("measured_draft", hot_column),
    "heat_loss": ("measured_heat_loss", felted_plate),
    "friction": ("measured_friction", friction_factor),
    "combustion_air": ("measured_leakage", leak),
    "carbon_monoxide": ("measured_uptake", rise_of_cohb),
}


def subjects() -> tuple[str, ...]:
    """Modules of the chapters that have something measured to stand beside."""
    return tuple(_ANSWERS)


def checks_of(subject: str) -> tuple[Check, ...]:
    """What was measured for a chapter beside ours, by the name of its module; none where nothing was found."""
    if subject not in _ANSWERS:
        return ()
    name, answer = _ANSWERS[subject]
    return compare(name, {row["id"]: answer(row) for row in tables.read(name)})


def spreads(subject: str) -> dict[tuple[str, str], tuple[float, float]]:
    """Least and most of ours less what was measured, over the latter, by quantity and source."""
    found: dict[tuple[str, str], list[float]] = {}
    for check in checks_of(subject):
        found.setdefault((check.quantity, check.source), []).append(check.difference / check.published)
    return {key: (min(apart), max(apart)) for key, apart in found.items()}


def shown(subject: str) -> HTML:
    """By how much ours is off what was measured for a chapter; folded up the rows, what they are worth, and sources."""
    told = (f"{quantity}: {_span(*span)}" for (quantity, _), span in spreads(subject).items())
    ours = f"<p><b>Ours less what was measured.</b> {'; '.join(told)}.</p>"
    name, _ = _ANSWERS[subject]
    checks, rows = checks_of(subject), {row["id"]: row for row in tables.read(name)}
    body = [(sources.case(rows[c.id]), *c.printed, c.unit, c.tolerance, _verdict(c)) for c in checks]
    header = ("measured on", "ours", "measured", "difference", "unit", "worth", "")
    said = "".join(f"<p>{escape(words)}</p>" for words in dict.fromkeys(_told(c) for c in checks))
    return HTML(ours + folded("Open every measurement, what it is worth, and its source", table(header, body) + said))


def _told(check: Check) -> str:
    """Where a row was read, as a reader is told it, what it is worth and why ours is off."""
    worth = f"{check.remark[0].upper()}{check.remark[1:]}"
    return one_stop(f"{check.quantity}: {check.source} ({evidence_line.status(check)}). {worth}.")


def _verdict(check: Check) -> str:
    return "within" if check.agrees else "outside"


def _span(least: float, most: float) -> str:
    ends = [f"{100.0 * end:+.1f}".replace("-", "\u2212") for end in (least, most)]
    return f"{ends[0]} %" if ends[0] == ends[1] else f"{ends[0]} to {ends[1]} %"


def searches() -> HTML:
    """What was sought in measurements, chapter by chapter, and what came of it."""
    titles = {f"{n}": f"{n:02d} {contents.title(n)}" for n in contents.chapters()}
    rows = [(titles[r["chapter"]], r["sought"], r["words"], r["outcome"]) for r in tables.read("searches")]
    return HTML(table(("chapter", "sought", "words searched", "outcome"), rows))
