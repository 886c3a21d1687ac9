"""Nominal sizes: the diameters that vents are sold in."""

from ventcalc.door import door
from ventcalc.units import Q_, Quantity, magnitude, ureg

# Sizes that vents are sold in. Common practice, no source.
SIZES = {
    "US": ("inch", (3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 36, 40, 44, 48)),
    "SI": ("mm", (80, 100, 110, 125, 130, 150, 160, 180, 200, 225, 250, 300, 350, 400, 450, 500, 550, 600, 700, 800,
                  900, 1000, 1200)),
}  # fmt: skip


@door(diameter="m", above={"diameter": 0.0})
def next_size(diameter: Quantity, system: str = "US") -> Quantity:
    """The smallest size of `SIZES` that is no smaller; ValueError beyond the largest."""
    unit, sizes = SIZES[system]
    wanted = float(magnitude(diameter, ureg.Unit("m"), "diameter"))
    for size in sizes:
        if Q_(size, unit).m_as("m") >= wanted * (1.0 - 1e-9):
            return Q_(float(size), unit)
    raise ValueError(f"diameter {diameter:.4g~P} is beyond the largest size sold, {sizes[-1]} {unit}")
