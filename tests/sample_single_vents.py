"""Invented vents of one appliance, one of each kind."""

from dataclasses import replace

from ventcalc.flow.materials import material
from ventcalc.gas import combustion_analysis
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import fuel
from ventcalc.units import Q_
from ventcalc.vent import single_vent
from ventcalc.vent.network import Season

GAS = fuel("natural gas")
WINTER = Season("winter", Q_(20, "degF"), Q_(70, "degF"))
SPRING = Season("spring", Q_(60, "degF"), Q_(70, "degF"))
TWO_ELBOWS = ("elbow 90", "elbow 90")


def heater(kind="draft hood", category="I", window=(-100.0, 0.0), inch=4.0, mbh=100.0, excess=0.4, degf=440.0, **more):
    return Appliance(
        "Heater",
        GAS,
        category,
        (FiringLevel("on", Q_(mbh, "MBH"), excess, Q_(degf, "degF")),),
        outlet_diameter=Q_(inch, "inch"),
        outlet_height=Q_(4, "ft"),
        window=tuple(Q_(p, "Pa") for p in window),
        kind=kind,
        **more,
    )


def on_vent(appliance, height=20.0, inch=5.0, run=5.0, vent="Type B gas vent", **more):
    return single_vent.single_vent(
        appliance, Q_(height, "ft"), Q_(inch, "inch"), material(vent), Q_(run, "ft"), fittings=TWO_ELBOWS, **more
    )


HOOD = on_vent(heater())
FAN = on_vent(heater("forced", excess=0.5, degf=310.0))
ATMOSPHERIC = on_vent(heater("forced", window=(-100.0, -5.0), degf=500.0, excess=0.6), vent="insulated chimney")
PRESSURE = on_vent(
    heater("forced", "IV", (-10.0, 100.0), excess=0.25, degf=140.0), height=6.0, inch=4.0, run=30.0,
    vent="stainless special gas vent single wall",
)  # fmt: skip


CASES = {"draft hood": HOOD, "fan-assisted": FAN, "natural draft": ATMOSPHERIC, "pressurized": PRESSURE}


def drawn_to(plant, **sizes):
    """The plant drawn anew with these sizes."""
    sections = []
    for s in plant.sections:
        if "diameter" in sizes:
            s = replace(s, diameter=sizes["diameter"])
        if s.name == "rise" and "height" in sizes:
            s = replace(s, length=sizes["height"], rise=sizes["height"])
        if s.name == "run" and "run" in sizes:
            s = replace(s, length=sizes["run"])
        sections.append(s)
    plant = replace(plant, sections=tuple(sections))
    if "flue_temperature" in sizes:
        a = plant.appliances[0]
        level = replace(a.levels[0], flue_temperature=sizes["flue_temperature"])
        plant = replace(plant, appliances=(replace(a, levels=(level,)),))
    return single_vent.with_input(plant, sizes["heat_input"]) if "heat_input" in sizes else plant


def of_the_code(row):
    """The draft-hood vent of a row of the code's table, and the season of its design condition."""
    height, run, inch = (float(row[c]) for c in ("height_ft", "lateral_ft", "diameter_in"))
    appliance = heater(
        inch=inch, excess=combustion_analysis.excess_air_from_co2.bare(GAS, 0.08), degf=60.0 + 1.8 * 165 * 1.45
    )
    plant = single_vent.single_vent(
        appliance, Q_(height, "ft"), Q_(inch, "inch"), material("Type B gas vent"), Q_(run, "ft"),
        fittings=TWO_ELBOWS if run else (),
    )  # fmt: skip
    return plant, Season("60 F", Q_(60.0, "degF"), Q_(60.0, "degF"))
