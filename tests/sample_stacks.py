"""One boiler of methane on a straight stack, worked out by hand for the tests."""

import math

from ventcalc.flow.materials import material
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.gas.fuels import gas_fuel
from ventcalc.units import Q_
from ventcalc.vent.layout import Plant, Section, Termination

G, R = 9.80665, 8.314462618


PRESSURE_1500 = 84556.0  # Pa, US Standard Atmosphere 1976 at 1,500 m


def methane_boiler(celsius):
    """100 kW of methane, 25 % excess air, outlet 125 mm at 1.2 m."""
    return Appliance(
        "B1",
        gas_fuel("methane", {"CH4": 1.0}),
        "IV",
        (FiringLevel("fire", Q_(100, "kW"), 0.25, Q_(celsius, "degC")),),
        outlet_diameter=Q_(125, "mm"),
        outlet_height=Q_(1.2, "m"),
        window=(Q_(-25, "Pa"), Q_(25, "Pa")),
    )


def straight_stack(celsius, place):
    """A connector of 125 mm with two elbows, then 10 m of 150 mm with a rain cap, at 1,500 m."""
    wall = material("insulated chimney")  # roughness 1 mm, wall 0.50 m2 K/W, outer over inner diameter 1.2
    return Plant(
        name="one boiler",
        altitude=Q_(1500, "m"),
        opening_height=Q_(0.3, "m"),
        appliances=(methane_boiler(celsius),),
        feeds=("connector",),
        sections=(
            Section("connector", Q_(2, "m"), Q_(1, "m"), Q_(125, "mm"), wall, "stack", fittings=("elbow 90",) * 2),
            Section("stack", Q_(10, "m"), Q_(10, "m"), Q_(150, "mm"), wall, "top", place=place),
        ),
        terminations=(Termination("top", "rain cap"),),
    )


def methane_products(vapor_ceiling=1.0):
    """Moles from one mole of methane and dry air at 25 % excess, and their mass [kg]."""
    air = 2 * 1.25 / 0.2095
    dry = {"co2": 1 + 0.0004 * air, "o2": 0.25 * 2, "n2": 0.7808 * air, "ar": 0.0093 * air}
    moles = dry | {"h2o": min(2.0, sum(dry.values()) * vapor_ceiling / (1 - vapor_ceiling + 1e-12))}
    mass = {"co2": 0.044009, "o2": 0.031998, "n2": 0.028014, "ar": 0.03995, "h2o": 0.018015}
    return moles, sum(n * mass[s] for s, n in moles.items())


def colebrook(reynolds, relative_roughness):
    root = 7.0
    for _ in range(50):
        root = -2 * math.log10(relative_roughness / 3.7 + 2.51 * root / reynolds)
    return root**-2


FIRED = 100e3 / 890.58e3  # mol/s of methane: ISO 6976, gross 890.58 kJ/mol at 25 degC
CONNECTOR_AREA, STACK_AREA = math.pi * 0.125**2 / 4, math.pi * 0.150**2 / 4
INCREASER = (1 - (0.125 / 0.150) ** 2) ** 2  # Crane, 60 degrees, on the connector's head
ELBOW, RAIN_CAP = 0.75, 2.0  # data/flow/fittings.csv
