"""Walls for the tests of what they conduct and hold."""

from ventcalc.flow.materials import Layer
from ventcalc.units import Q_


def layer(thickness, conductivity, density, specific_heat, what="test wall"):
    units = ("m", "W/(m*K)", "kg/m**3", "J/(kg*K)")
    values = (thickness, conductivity, density, specific_heat)
    return Layer(what, *(Q_(v, u) for v, u in zip(values, units, strict=True)))


STEEL = layer(0.0005, 17.0, 7900.0, 460.0)
BRICK = layer(0.100, 0.72, 1920.0, 835.0)
STREAM = {"mass_flow": 0.1, "specific_heat": 1080.0, "inside_film": 15.0, "outside_film": 23.0}
CASE = {"inlet": 450.0, "surroundings": 270.0, "start": 280.0, "diameter": 0.2, "length": 12.0} | STREAM
WALLS = ("stainless special gas vent single wall", "insulated chimney", "tile-lined masonry chimney")
