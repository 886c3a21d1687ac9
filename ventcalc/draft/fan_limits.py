"""Fan limits: where a fan stalls (surges), turns too slowly to be steady, or asks more than its motor gives."""

import numpy as np

from ventcalc.draft.fan_curve import Fan
from ventcalc.draft.fan_laws import LAWS
from ventcalc.units import quantities


@quantities(None, flow="m**3/s", speed="", at_least={"speed": 0.0}, source="common practice, no source")
def stalled(fan: Fan, flow, speed):
    """True where the fan turns and works left of its stall limit: q/n below the stall flow at rated speed.

    fan: `Fan`; flow: q, m3/s; speed: n, over the rated speed, at least 0; numbers or arrays that broadcast. There the
    pressure wavers, and two fans side by side no longer share. Source: common practice, no source.
    """
    flow, speed = np.asarray(flow, float), np.asarray(speed, float)
    return ((speed > 0.0) & (flow < speed * fan.abreast * float(fan.stall_flow.m_as("m**3/s"))))[()]


@quantities(None, speed="", at_least={"speed": 0.0}, source="common practice, no source")
def too_slow(fan: Fan, speed):
    """True where a speed is above zero and below the fan's least steady speed.

    fan: `Fan`; speed: over the rated one, at least 0, number or array. Source: common practice, no source.
    """
    speed = np.asarray(speed, float)
    return ((speed > 0.0) & (speed < fan.least_speed))[()]


@quantities("", density="kg/m**3", above={"density": 0.0}, source=LAWS)
def motor_speed_limit(fan: Fan, density):
    """Speed, over the rated one, up to which the motor carries this gas at any flow: (P_motor rho_curve/(P rho))^(1/3).

    fan: `Fan`, with P the greatest shaft power of its curve; density: of the gas, kg/m3, above 0, number or array; cold
    air at start-up is the densest. At most the fan's most speed. Source: fan laws.
    """
    greatest = fan.most_power * density / fan.curve_density
    return np.minimum((float(fan.motor_power.m_as("W")) / greatest) ** (1.0 / 3.0), fan.most_speed)


@quantities(
    "W",
    speed="",
    density="kg/m**3",
    at_least={"speed": 0.0},
    above={"density": 0.0},
    source=LAWS,
)
def most_power(fan: Fan, speed, density):
    """Power at the shaft that is not exceeded at any flow: rho/rho_curve n^3 P, of all fans that stand together.

    fan: `Fan`, with P the greatest shaft power of its curve; speed: n, over the rated one, at least 0; density: of the
    gas, kg/m3, above 0; numbers or arrays. Source: fan laws.
    """
    return fan.abreast * fan.stages * fan.most_power * density / fan.curve_density * np.asarray(speed, float) ** 3
