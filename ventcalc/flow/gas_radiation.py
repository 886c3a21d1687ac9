"""Gas radiation: what carbon dioxide and water vapor in a vent radiate to its wall.

Flue gas radiates and absorbs in the bands of carbon dioxide and water vapor; nitrogen and oxygen do neither. At vent
temperatures that is a tenth of the inside film in a connector and up to half of it in a wide stack of slow gas.

`emissivity` and `absorptivity` are Leckner's, `radiation_film` makes a coefficient of them; `black_film` is a fit to it
on plain arrays, for the solvers.
"""

import numpy as np

from ventcalc.compiled import law
from ventcalc.gas.flue_gas import Gas
from ventcalc.units import quantities

STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), CODATA 2018

# Of the inner wall. Oxidized steel 0.78 to 0.82 from 125 to 525 degC (emissivity table of a thermographer's handbook,
# read); brick, plastic, soot and a wet wall 0.9 and more. New galvanized sheet has 0.28 and bright stainless less: with
# them radiation is overstated by up to 40 %, which errs towards the colder gas.
WALL_EMISSIVITY = 0.8

# Mean path of radiation to the wall of a long cylinder over its diameter: 1 for the thinnest gas (4 volume / surface),
# 0.95 where it absorbs; Hottel, as in heat transfer textbooks.
BEAM_LENGTH = 0.95

# Leckner's polynomials: rows are powers of log10(p L / 1 bar cm), columns powers of T / 1000 K.
_H2O = np.array([[-2.2118, -1.1987, 0.035596], [0.85667, 0.93048, -0.14391], [-0.10838, -0.17156, 0.045915]])
_CO2 = np.array(
    [
        [-3.9893, 2.7669, -2.1081, 0.39163],
        [1.2710, -1.1090, 1.0195, -0.21897],
        [-0.23678, 0.19731, -0.19544, 0.044644],
    ]
)
_BAR, _BAR_CM = 1e5, 1e3  # Pa, Pa m
_THINNEST = 1e-3  # bar cm; below it a gas is thin and emits in proportion to its path

_SOURCE = (
    "Leckner (1972), Combustion and Flame 19 (1), coefficients as in Modest, Radiative Heat Transfer; read in two "
    "public codes"
)


@quantities("m", diameter="m", above={"diameter": 0.0}, source="Hottel; heat transfer textbooks: 0.95 D")
def mean_beam_length(diameter):
    """Mean beam length of a long cylinder to its wall, ``L = 0.95 D``, of its diameter D [m], scalar or array.

    A vanishingly thin gas has ``L = D`` (four times volume over surface); flue gas in a vent absorbs enough for 0.95.
    """
    return BEAM_LENGTH * diameter


def _one(coefficients, temperature, path):
    """Emissivity of one gas at 1 bar and a partial pressure of nil; path in Pa m."""
    t = temperature / 1000.0
    bar_cm = np.maximum(path / _BAR_CM, 0.0)
    x = np.log10(np.maximum(bar_cm, _THINNEST))
    value = 0.0
    for row in coefficients[::-1]:
        value = value * x + np.polynomial.polynomial.polyval(t, row)
    return np.exp(value) * np.minimum(bar_cm / _THINNEST, 1.0)


def _broadened(a, b, c, effective, best, path):
    """Factor for a pressure other than 1 bar: ``effective`` in bar, ``best`` the path [bar cm] where it counts most."""
    distance = np.log10(best / np.maximum(path / _BAR_CM, _THINNEST))
    return 1.0 - (a - 1.0) * (1.0 - effective) / (a + b - 1.0 + effective) * np.exp(-c * distance * distance)


def _of_h2o(temperature, partial, pressure, path):
    t = temperature / 1000.0
    a = np.where(t < 0.75, 2.144, 1.888 - 2.053 * np.log10(t))
    effective = (pressure + 2.56 * partial / np.sqrt(t)) / _BAR
    return _one(_H2O, temperature, path) * _broadened(a, 1.10 * t**-1.4, 0.5, effective, 13.2 * t * t, path)


def _of_co2(temperature, partial, pressure, path):
    t = temperature / 1000.0
    best = np.where(t < 0.7, 0.054 / (t * t), 0.225 * t * t)
    effective = (pressure + 0.28 * partial) / _BAR
    return _one(_CO2, temperature, path) * _broadened(1.0 + 0.1 * t**-1.45, 0.23, 1.47, effective, best, path)


def _overlap(h2o, co2, length):
    """What the two gases would emit twice, where their bands lie over each other; partial pressures in Pa."""
    both = np.maximum(h2o + co2, 1e-9)
    share = h2o / both
    x = np.log10(np.maximum(both * length / _BAR_CM, 1.0))
    return (share / (10.7 + 101.0 * share) - 0.0089 * share**10.4) * x**2.76


def _emitted(h2o, co2, temperature, pressure, length):
    """Emissivity of a gas of these partial pressures [Pa]."""
    wet = _of_h2o(temperature, h2o, pressure, h2o * length)
    return wet + _of_co2(temperature, co2, pressure, co2 * length) - _overlap(h2o, co2, length)


@quantities(
    "",
    temperature="K",
    length="m",
    pressure="Pa",
    above={"length": 0.0, "pressure": 0.0},
    valid={"temperature": (400.0, 2500.0)},
    source=_SOURCE,
)
def emissivity(gas: Gas, temperature, length, pressure):
    """Total emissivity of a gas layer: carbon dioxide and water vapor, less their overlap.

    ``eps = eps_H2O + eps_CO2 - overlap``, each ``exp(sum c_ij t^j log10(p L)^i)`` with its correction for pressure.
    gas: `flue_gas.Gas`; temperature [K]; length L of the path [m] (`mean_beam_length`); pressure, absolute [Pa];
    numbers or arrays that broadcast.

    Made for 400 to 2500 K, within 5 % for water vapor and 10 % for carbon dioxide (Modest, from memory); warns outside.
    Below 400 K the same polynomials go on. There they are within 15 % of Modak (1979), who goes down to 300 K; beside
    what meteorologists measure in air at 296 K, water vapor is 29 % low in the thinnest layers of a vent and right in
    the thickest, carbon dioxide 19 to 28 % low (all tested): what radiates at a cold wall is rather under- than
    overstated. Raises for a length or pressure that is not positive.
    """
    return _emitted(gas.h2o * pressure, gas.co2 * pressure, temperature, pressure, length)


@quantities(
    "",
    temperature="K",
    wall="K",
    length="m",
    pressure="Pa",
    above={"length": 0.0, "pressure": 0.0},
    valid={"temperature": (400.0, 2500.0), "wall": (400.0, 2500.0)},
    source=_SOURCE + "; scaling of the path by Hottel",
)
def absorptivity(gas: Gas, temperature, wall, length, pressure):
    """Share of a black wall's radiation that a gas layer absorbs, ``(Tg/Tw)^(1/2) eps(Tw, p L Tw/Tg)``.

    gas: `flue_gas.Gas`; its temperature Tg and that of the wall Tw [K]; length of the path [m]; pressure, absolute
    [Pa]; numbers or arrays that broadcast. Range as that of `emissivity`: warns outside 400 to 2500 K, raises for a
    length or pressure that is not positive.
    """
    h2o, co2 = gas.h2o * pressure, gas.co2 * pressure
    return np.sqrt(temperature / wall) * _emitted(h2o, co2, wall, pressure, length * wall / temperature)


@quantities(
    "W/(m**2*K)",
    temperature="K",
    wall="K",
    diameter="m",
    pressure="Pa",
    wall_emissivity="",
    above={"diameter": 0.0, "pressure": 0.0},
    at_least={"wall_emissivity": 0.0},
    at_most={"wall_emissivity": 1.0},
    source=_SOURCE + "; grey wall (eps_w + 1)/2 by Hottel, heat transfer textbooks",
)
def radiation_film(gas: Gas, temperature, wall, diameter, pressure, wall_emissivity=WALL_EMISSIVITY):
    """Film coefficient of the radiation between the gas in a round vent and its wall.

    ``h = (eps_w + 1)/2 sigma (eps Tg^4 - alpha Tw^4)/(Tg - Tw)``, with `emissivity` and `absorptivity` over the
    `mean_beam_length`. gas: `flue_gas.Gas`; its temperature Tg and that of the wall Tw [K]; diameter [m]; pressure,
    absolute [Pa]; wall_emissivity eps_w, 0 to 1; numbers or arrays that broadcast. The factor of the grey wall was
    given for eps_w above 0.8; a duller wall takes less than it says. Raises for a diameter or pressure that is not
    positive and for an emissivity outside 0 to 1.
    """
    apart = np.where(np.abs(temperature - wall) < 1.0, temperature - 1.0, wall)  # the limit, where both are alike
    length = mean_beam_length.bare(diameter)
    out = _emitted(gas.h2o * pressure, gas.co2 * pressure, temperature, pressure, length) * temperature**4
    back = absorptivity.bare(gas, temperature, apart, length, pressure) * apart**4
    return grey(wall_emissivity) * STEFAN_BOLTZMANN * (out - back) / (temperature - apart)


@law
def grey(wall_emissivity=WALL_EMISSIVITY):
    """Factor of a grey wall on what a black one would exchange with a gas, ``(eps_w + 1)/2``."""
    return 0.5 * (wall_emissivity + 1.0)


# --- A fit, for the solvers ---------------------------------------------------------------------------------

_APART = 50.0  # K, gas above and wall below the mean temperature for which the fit is made; it hardly matters


def _strength(h2o, co2, temperature, length):
    """Film between a gas and a black wall over ``4 sigma T^3``, around a mean temperature, from the full equations."""
    hot, cold = temperature + _APART, temperature - _APART
    out = _emitted(h2o, co2, hot, 101325.0, length) * hot**4
    back = _emitted(h2o, co2, cold, 101325.0, length * cold / hot) * cold**4 * np.sqrt(hot / cold)
    return (out - back) / (hot - cold) / (4.0 * temperature**3)


def _fitted():
    """Coefficients of `black_film`: of water vapor, of carbon dioxide, and of what both emit twice."""
    kelvin, bore, wet, co2 = (
        a.ravel()
        for a in np.meshgrid(
            np.linspace(260.0, 860.0, 11),
            np.geomspace(0.07, 1.6, 7),
            np.geomspace(0.002, 0.21, 7) * 101325.0,
            np.geomspace(0.0003, 0.14, 7) * 101325.0,
        )
    )
    length, none = BEAM_LENGTH * bore, np.zeros_like(wet)
    t = kelvin / 1000.0
    x, y = np.log(wet * length / _BAR_CM), np.log(co2 * length / _BAR_CM)
    alone = [_strength(wet, none, kelvin, length), _strength(none, co2, kelvin, length)]
    terms = [
        np.stack([x**i * t**j for i in range(3) for j in range(2)] + [wet / _BAR]),
        np.stack([y**i * t**j for i in range(3) for j in range(3)]),
    ]
    solved = [np.linalg.lstsq(a.T, np.log(b), rcond=None)[0] for a, b in zip(terms, alone, strict=True)]
    product = alone[0] * alone[1]
    lost = alone[0] + alone[1] - _strength(wet, co2, kelvin, length)
    return tuple(solved[0].tolist()), tuple(solved[1].tolist()), float(product @ lost / (product @ product))


_FIT_H2O, _FIT_CO2, _FIT_BOTH = _fitted()


@law
def black_film(h2o, co2, temperature, diameter):
    """Film coefficient [W/(m2 K)] between the gas in a round vent and a black wall, on plain arrays.

    As `radiation_film`, at the mean temperature [K] of gas and wall; h2o and co2 are partial pressures [Pa], diameter
    in m. A fit to the full equations from 260 to 860 K, bores of 0.07 to 1.6 m, up to 21 % water vapor and 14 % carbon
    dioxide; how far it is off is tested.
    """
    return film_of_paths(band_paths(h2o, co2, diameter), temperature)


@law
def band_paths(h2o, co2, diameter):
    """What `black_film` takes of a gas and a bore, the same at all temperatures: logarithms of the two paths, and what
    water vapor adds by its own pressure."""
    scale = BEAM_LENGTH * diameter / _BAR_CM
    wet, dry = np.log(np.maximum(h2o * scale, _THINNEST)), np.log(np.maximum(co2 * scale, _THINNEST))
    return wet, dry, _FIT_H2O[-1] / _BAR * h2o


@law
def film_of_paths(paths, temperature):
    """`black_film` of a gas whose `band_paths` are known."""
    t, (x, y, own) = temperature / 1000.0, paths
    a0, a1, b0, b1, c0, c1, _ = _FIT_H2O
    wet = np.exp(a0 + a1 * t + x * (b0 + b1 * t + x * (c0 + c1 * t)) + own)
    a0, a1, a2, b0, b1, b2, c0, c1, c2 = _FIT_CO2
    dry = np.exp(a0 + t * (a1 + t * a2) + y * (b0 + t * (b1 + t * b2) + y * (c0 + t * (c1 + t * c2))))
    return (wet + dry - _FIT_BOTH * wet * dry) * (4.0 * STEFAN_BOLTZMANN * 1e9) * t * t * t
