"""Plume: how flue gas rises from a stack, is pulled down, spreads over the roof, and by how much it is diluted.

A plume leaves the stack, rises by its momentum, is bent over by the wind and spreads as it travels along the roof. At
an intake at the distance ``x`` along a stretched string its dilution is that of a Gaussian plume over a roof that
throws everything back,

    D = 4 U sigma_y sigma_z / (V d^2) exp( zeta^2 / (2 sigma_z^2) )

with ``zeta`` how far the plume's axis passes above the intake's top. The method is that of the ASHRAE Handbook HVAC
Applications 2019, ch. 46 (read as restated in public programs and held to its worked example).
"""

import numpy as np

from ventcalc.building.code_rules import CHECK_EDITION, figure
from ventcalc.units import quantities

_HANDBOOK = "ASHRAE Handbook HVAC Applications 2019, ch. 46, as restated in a public program; " + CHECK_EDITION
INITIAL_SPREAD = float(figure("re_entrainment", "initial spread").m)
LATERAL, VERTICAL = (float(figure("re_entrainment", f"{way} intensity").m) for way in ("lateral", "vertical"))
NO_DOWNWASH = float(figure("re_entrainment", "no downwash").m)
_PROFILE_HEIGHT = 30.0  # m, in the intensity of turbulence
_SHEAR = 2.5  # of the logarithmic wind, 1 over von Karman's constant
_FINAL_RISE, _GROWING_RISE = 0.9, 3.0


@quantities(
    ("", ""),
    roof_height="m",
    roughness="m",
    above={"roof_height": 0.0, "roughness": 0.0},
    at_most={"roughness": 5.0},
    source=_HANDBOOK,
)
def turbulence(roof_height, roughness):
    """Intensities of turbulence across the wind and upward: i_y = 0.75 i_x and i_z = 0.50 i_x.

    i_x = (0.24 + 0.096 lg z0 + 0.016 lg^2 z0) ln(30/z0) / ln(z/z0), z in m. roof_height: z, m; roughness: of
    the surroundings, z0, m: 0.1 open country, 0.5 to 1 suburbs and cities. Numbers or arrays that broadcast.

    Raises ValueError where the roof is not above three times the roughness: there the wind has no such profile.
    Source: the handbook's eq. (21).
    """
    if np.any(roof_height <= 3.0 * roughness):
        raise ValueError(
            f"roof_height = {np.min(roof_height):.3g} m must be above three times the roughness, "
            f"{np.max(roughness):g} m"
        )
    log = np.log10(roughness)
    along = 0.24 + 0.096 * log + 0.016 * log**2
    along = along * np.log(_PROFILE_HEIGHT / roughness) / np.log(roof_height / roughness)
    return LATERAL * along, VERTICAL * along


_JET = {"wind": "m/s", "velocity": "m/s", "diameter": "m"}
_SOUND_JET = {"above": {"wind": 0.0, "diameter": 0.0}, "at_least": {"velocity": 0.0}}


@quantities(
    "m",
    distance="m",
    roof_height="m",
    roughness="m",
    density_ratio="",
    **_JET,
    above={"wind": 0.0, "diameter": 0.0, "roof_height": 0.0, "roughness": 0.0, "density_ratio": 0.0},
    at_least={"velocity": 0.0, "distance": 0.0},
    source=_HANDBOOK,
)
def jet_rise(distance, wind, velocity, diameter, roof_height, roughness, density_ratio=1.0):
    """Rise of a bent-over momentum jet: the smaller of (3 F x / (b U)^2)^(1/3) and 0.9 sqrt(F U/u*) / (b U).

    F = r V^2 d^2/4, b = 1/3 + U/V, U/u* = 2.5 ln(H/z0). distance: x downwind, m; wind: U at roof height, m/s;
    velocity: V of the discharge upward, m/s; diameter: d, m; roof_height: H, m; roughness: z0, m; density_ratio: r of
    the gas to outdoor air, 1 in the handbook; hot gas has less momentum. Numbers or arrays that broadcast.

    Buoyant rise is left out, which keeps a margin, most of all in little wind. Source: the handbook's eq. (7); the
    density ratio as in Briggs's momentum flux.
    """
    flux = density_ratio * velocity**2 * diameter**2 / 4.0
    bent = wind / 3.0 + wind**2 / np.maximum(velocity, 1e-9)  # b U
    growing = np.cbrt(_GROWING_RISE * flux * distance / bent**2)
    final = _FINAL_RISE * np.sqrt(flux * _SHEAR * np.log(roof_height / roughness)) / bent
    return np.minimum(growing, final)


@quantities("m", **_JET, **_SOUND_JET, source=_HANDBOOK)
def downwash(wind, velocity, diameter):
    """How far the stack's own wake pulls the plume down: d (3 - V/U), none from V = 3 U.

    wind: U, m/s; velocity: V upward, m/s (0 under a cap: three diameters in any wind); diameter: d, m. Numbers or
    arrays that broadcast. Source: the handbook's eq. (8).
    """
    return diameter * np.maximum(NO_DOWNWASH - velocity / wind, 0.0)


@quantities(
    "m",
    distance="m",
    intensity="",
    diameter="m",
    at_least={"distance": 0.0, "intensity": 0.0},
    above={"diameter": 0.0},
    source=_HANDBOOK,
)
def spread(distance, intensity, diameter):
    """Standard deviation of a plume: sqrt((i x)^2 + (0.35 d)^2).

    distance: x, m; intensity: i of turbulence in that direction; diameter: d of the discharge, m. Numbers or arrays
    that broadcast. Source: the handbook's eq. (19) and (20).
    """
    return np.hypot(intensity * distance, INITIAL_SPREAD * diameter)


@quantities(
    "",
    over="m",
    across="m",
    upward="m",
    **_JET,
    above={"across": 0.0, "upward": 0.0, "wind": 0.0, "velocity": 0.0, "diameter": 0.0},
    at_least={"over": 0.0},
    source=_HANDBOOK,
)
def gaussian(over, across, upward, wind, velocity, diameter):
    """Dilution by volume in a plume over a roof that throws everything back: 4 U sy sz / (V d^2) exp(zeta^2/(2 sz^2)).

    over: zeta, how far the plume's axis passes above the intake's top, m; across, upward: spreads sy and sz, m; wind:
    U, m/s; velocity: V of the discharge, m/s; diameter: d, m. No less than 1. Numbers or arrays that broadcast.
    Source: the handbook's eq. (16).
    """
    apart = np.minimum(over**2 / (2.0 * upward**2), 600.0)  # beyond it nothing arrives
    return np.maximum(4.0 * wind * across * upward / (velocity * diameter**2) * np.exp(apart), 1.0)


_PLUME = {
    "distance": "m",
    "stack_height": "m",
    "intake_height": "m",
    "roof_height": "m",
    "roughness": "m",
    "density_ratio": "",
    **_JET,
}
_SOUND_PLUME = {
    "above": {
        "wind": 0.0,
        "diameter": 0.0,
        "velocity": 0.0,
        "roof_height": 0.0,
        "roughness": 0.0,
        "density_ratio": 0.0,
    },
    "at_least": {"distance": 0.0, "stack_height": 0.0},
}


# Nine and ten figures stand in these equations; each is an argument, so that each is checked by its unit and its name.
@quantities("", **_PLUME, **_SOUND_PLUME, source=_HANDBOOK)
def dilution(
    distance,
    stack_height,
    intake_height,
    diameter,
    velocity,
    wind,
    roof_height,
    roughness,
    density_ratio=1.0,
    capped: bool = False,
):
    """Dilution at an intake: concentration by volume in the discharge over that at the intake, both as they are.

    By `gaussian`, with zeta = stack_height + rise - downwash - intake top, no less than 0. distance: along a stretched
    string, m; stack_height, intake_height: tops above the roof, m (an intake below the roof counts as at its level);
    diameter: d, m; velocity: V of the discharge, m/s; wind: U at roof height, m/s; roof_height: above ground, m;
    roughness: z0, m; density_ratio: of the gas to outdoor air; capped: no upward momentum. Numbers or arrays that
    broadcast.

    For one stack on a simple roof without taller neighbors; hourly means. In less than 400 fpm of wind (2 m/s) the
    plume of a capped stack or a flush vent has no such shape. Source: the handbook's eq. (16) to (20).
    """
    axis = axis_height(distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio, capped)
    lateral, vertical = turbulence.bare(roof_height, roughness)
    across, upward = spread.bare(distance, lateral, diameter), spread.bare(distance, vertical, diameter)
    over = np.maximum(axis - np.maximum(intake_height, 0.0), 0.0)
    return gaussian.bare(over, across, upward, wind, velocity, diameter)


def axis_height(distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio, capped):
    """Height of the plume's axis above the roof [m]."""
    upward = np.where(capped, 0.0, velocity)
    rise = jet_rise.bare(distance, wind, upward, diameter, roof_height, roughness, density_ratio)
    return stack_height + rise - downwash.bare(wind, upward, diameter)


@quantities("m", **{k: v for k, v in _PLUME.items() if k != "intake_height"}, **_SOUND_PLUME, source=_HANDBOOK)
def plume_height(
    distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio=1.0, capped: bool = False
):
    """Height of the plume's axis above the roof: stack + rise - downwash.

    distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio, capped: as in `dilution`.
    May fall below the roof's level: then the plume runs along it. Source: the handbook's eq. (17).
    """
    return axis_height(distance, stack_height, diameter, velocity, wind, roof_height, roughness, density_ratio, capped)
