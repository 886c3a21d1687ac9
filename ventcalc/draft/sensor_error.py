"""Sensor error: formulas of what a hole, a narrow piece, a tube, the wind and a transducer's span do to a reading."""

import numpy as np

from ventcalc.flow import friction
from ventcalc.units import GRAVITY, quantities

# Straight pipe, in diameters, that test methods want between a disturbance and a place of measurement.
STRAIGHT_BEHIND = 8.0  # behind an elbow, reducer or junction: US EPA, 40 CFR 60, method 1 (published)
STRAIGHT_BEFORE = 2.0  # ahead of one: the same
# How far the pressure on a wall may lie from that of the whole section close behind a disturbance, in velocity heads
# either way, and up to where it is taken to stay so before it fades (no source; measured far less and far more).
CLOSE_BEHIND = 0.25
STILL_CLOSE = 2.0  # diameters


@quantities(
    "Pa",
    density="kg/m**3",
    velocity="m/s",
    diameter="m",
    narrow_diameter="m",
    loss_coefficient="",
    above={"density": 0.0, "diameter": 0.0, "narrow_diameter": 0.0},
    at_least={"loss_coefficient": 0.0},
    source="Bernoulli and continuity; any fluid mechanics textbook",
)
def narrowing_error(density, velocity, diameter, narrow_diameter, loss_coefficient=0.0):
    """What a wall tap behind a reducer reads above static pressure ahead of it: ``h (1 - (1 + K) (D/d)^4)``.

    With ``h = rho v^2 / 2``, density [kg/m3] and velocity [m/s] ahead, diameter D ahead and narrow_diameter d behind
    [m]; loss_coefficient K of the reducer on the head behind it; scalars or arrays. Negative where the pipe narrows:
    gas that speeds up has paid for it with pressure. Raises for a density or diameter that is not positive or a
    negative K.
    """
    return friction.velocity_head.bare(density, velocity) * (
        1.0 - (1.0 + loss_coefficient) * (diameter / narrow_diameter) ** 4
    )


@quantities(
    "Pa",
    height="m",
    tube_density="kg/m**3",
    air_density="kg/m**3",
    above={"tube_density": 0.0, "air_density": 0.0},
    source="Hydrostatics",
)
def leg_error(height, tube_density, air_density):
    """What a tube's column adds at its lower end that the air beside it does not: ``g h (rho_tube - rho_air)``.

    height h [m] of the tube's other end above the sensor (negative below it), tube_density of what stands in the tube
    and air_density of the air beside it [kg/m3]; scalars or arrays. On the side of the tap it adds to the reading, on
    that of the reference it is taken off. Nil where both are as warm. Raises for a density that is not positive.
    """
    return GRAVITY * height * (tube_density - air_density)


@quantities(
    "Pa",
    density="kg/m**3",
    velocity="m/s",
    darcy_factor="",
    stresses="",
    above={"density": 0.0},
    at_least={"darcy_factor": 0.0, "stresses": 0.0},
    source="Wall stress of a pipe f/4 rho v^2/2; that a hole reads high: Shaw, J. Fluid Mech. 7 (1960) 550",
)
def hole_error(density, velocity, darcy_factor, stresses=3.0):
    """What a clean hole of finite size reads above static pressure: ``n f/4 rho v^2 / 2``, n wall stresses.

    density [kg/m3] and velocity [m/s] of the stream, darcy_factor f [-] of the pipe, stresses n [-]: about 3 (from
    memory; larger holes at higher speed read more); scalars or arrays. Always positive, about a hundredth of a
    head. Raises for a density that is not positive or a negative factor.
    """
    return stresses * darcy_factor / 4.0 * friction.velocity_head.bare(density, velocity)


@quantities(
    "",
    straight="",
    at_least={"straight": 0.0},
    source="no source: a quarter of a head close behind a disturbance, none where method 1 would measure",
)
def disturbance(straight):
    """How far a wall's pressure may be off behind a disturbance, in velocity heads either way.

    A quarter up to two diameters behind it, from there falling evenly to nothing at eight. straight pipe between the
    disturbance and the hole, in diameters [-]; scalar or array. A guess for a warning, not for a correction: the sign
    depends on the side of the bend. Raises for a negative length.
    """
    return CLOSE_BEHIND * np.clip((STRAIGHT_BEHIND - straight) / (STRAIGHT_BEHIND - STILL_CLOSE), 0.0, 1.0)


WIND_COEFFICIENT_AHEAD = 0.6  # of a low building's wall that the wind meets square on: Swami and Chandra's mean


@quantities(
    "",
    angle="degree",
    at_least={"angle": 0.0},
    at_most={"angle": 180.0},
    source="Swami and Chandra (1987), low buildings, square on plan; as read in three open building-airflow codes",
)
def wall_wind_coefficient(angle):
    """Mean wind pressure on a wall over the wind's velocity head, of a low building that is square on plan.

    ``0.6 ln(1.248 - 0.703 sin(t/2) - 1.175 sin^2 t + 0.769 cos(t/2) + 0.717 cos^2(t/2))``, angle t [degree] of the wind
    from square on the wall (0) to behind it (180); scalar or array. The terms for long and short walls are left out:
    the codes differ in the sign of one. Raises for an angle outside 0 to 180.
    """
    t = np.radians(angle)
    s, c = np.sin(t / 2.0), np.cos(t / 2.0)
    return WIND_COEFFICIENT_AHEAD * np.log(1.248 - 0.703 * s - 1.175 * np.sin(t) ** 2 + 0.769 * c + 0.717 * c**2)


@quantities(
    "Pa",
    low="Pa",
    high="Pa",
    accuracy="",
    at_least={"accuracy": 0.0},
    at_most={"accuracy": 1.0},
    source="Definition: accuracy as a share of full span",
)
def span_error(low, high, accuracy):
    """How far a transducer may be off anywhere in its range, either way: ``accuracy (high - low)``.

    low and high ends of its range [Pa] and accuracy as a share of the span [-], such as 1 percent; scalars or arrays.
    The same at a small pressure as at a large one, so a wide range is paid for near zero. Raises where the range is
    empty.
    """
    if np.any(np.asarray(high) <= low):
        raise ValueError("span_error: the range must end, at high, above where it begins, at low")
    return accuracy * (high - low)


def seen(pressure: np.ndarray, low: float, high: float) -> np.ndarray:
    """What a transducer of that range tells of a pressure [Pa]: beyond an end of it, that end. Plain arrays."""
    return np.clip(pressure, low, high)
