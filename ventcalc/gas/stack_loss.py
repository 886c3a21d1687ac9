"""Stack loss: the heat that flue gas takes with it, and the combustion efficiency that is left."""

from ventcalc.gas.combustion import products
from ventcalc.gas.flue_gas import TEMPERATURE_RANGE, Gas, enthalpy
from ventcalc.gas.fuels import Fuel
from ventcalc.units import quantities

_LOSS_SOURCE = "energy balance of complete combustion on the HHV; " + enthalpy.source
_KNOWN = [dict.fromkeys(("flue_temperature", "air_temperature"), end) for end in TEMPERATURE_RANGE]


@quantities(
    "",
    excess_air="",
    flue_temperature="K",
    air_temperature="K",
    air_water_vapor="",
    at_least={"excess_air": 0.0, "air_water_vapor": 0.0, **_KNOWN[0]},
    at_most={"air_water_vapor": 0.5, **_KNOWN[1]},
    source=_LOSS_SOURCE,
)
def stack_loss(fuel: Fuel, excess_air, flue_temperature, air_temperature, air_water_vapor=0.0):
    """Heat that leaves with the flue gas, as a fraction of the HHV; nothing condenses.

    loss = (m h(flue) - ma h(air) + mw L) / HHV per kg of fuel: the flue gas above 25 degC, less what the
    air brought, plus the latent heat of the water that combustion formed. The fuel enters at 25 degC.
    fuel: `Fuel`; excess_air: ratio, at least 0; flue_temperature, air_temperature: K, 200 to 1600 K;
    air_water_vapor: mole fraction; numbers or arrays that broadcast. Sulfur dioxide is given the
    specific heat of the rest.

    Below the dew point the true loss is smaller. Jacket loss and unburned fuel are not in it.
    Raises ValueError outside 200 to 1600 K.
    """
    burned = products.bare(fuel, excess_air, air_water_vapor)
    air = Gas.humid_air(air_water_vapor)
    sensible = burned.mass_per_heat * enthalpy.bare(burned.gas, flue_temperature)
    brought = burned.air_per_heat * enthalpy.bare(air, air_temperature)
    latent = (fuel.hhv - fuel.lhv) / fuel.hhv
    return sensible - brought + latent


@quantities(
    "",
    excess_air="",
    flue_temperature="K",
    air_temperature="K",
    air_water_vapor="",
    at_least={"excess_air": 0.0, "air_water_vapor": 0.0, **_KNOWN[0]},
    at_most={"air_water_vapor": 0.5, **_KNOWN[1]},
    source=_LOSS_SOURCE,
)
def efficiency(fuel: Fuel, excess_air, flue_temperature, air_temperature, air_water_vapor=0.0):
    """Combustion efficiency on the HHV without condensing: 1 - `stack_loss`.

    fuel: `Fuel`; excess_air: ratio, at least 0; flue_temperature, air_temperature: K, 200 to 1600 K;
    air_water_vapor: mole fraction in the combustion air; numbers or arrays that broadcast.

    Jacket loss and unburned fuel are not in it. Raises ValueError outside 200 to 1600 K.
    """
    return 1 - stack_loss.bare(fuel, excess_air, flue_temperature, air_temperature, air_water_vapor)
