"""Flue gas: density, specific heat, enthalpy, viscosity and conductivity of a mixture.

A `Gas` is an ideal mixture of carbon dioxide, water vapor, nitrogen, oxygen and argon. Pure-gas
properties come from data/gas/flue_gas.csv (200 to 1600 K) through one polynomial per property and
species; outside that range every function refuses. Sulfur dioxide, a few hundred ppm of oil's flue
gas at most, is not a species here; `combustion` counts it separately.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.polynomial import Polynomial

from ventcalc import tables
from ventcalc.gas.atmosphere import DRY_AIR, MOLAR_MASS
from ventcalc.units import GAS_CONSTANT, quantities

SPECIES = ("co2", "h2o", "n2", "o2", "ar")
REFERENCE_TEMPERATURE = 298.15  # K, where sensible enthalpy is zero
TEMPERATURE_RANGE = (200.0, 1600.0)  # K
_SUM_TOLERANCE = 1e-6

_SOURCE = "pure gases: data/gas/flue_gas.csv (CoolProp)"
_WILKE = _SOURCE + "; viscosity by Wilke, J. Chem. Phys. 18 (1950) 517"
_MASON_SAXENA = _SOURCE + "; conductivity by Mason & Saxena, Phys. Fluids 1 (1958) 361"


@dataclass(frozen=True, eq=False)  # arrays do not compare as one value
class Gas:
    """A gas by its mole fractions, numbers or arrays of one shape; they must sum to 1.

    Raises ValueError for a negative fraction or a sum off 1 by more than 1e-6.
    """

    co2: Any
    h2o: Any
    n2: Any
    o2: Any
    ar: Any = 0.0

    def __post_init__(self):
        parts = np.broadcast_arrays(*(np.asarray(getattr(self, s), float) for s in SPECIES))
        for species, part in zip(SPECIES, parts, strict=True):
            if np.any(part < -_SUM_TOLERANCE):
                raise ValueError(f"{species} = {np.min(part):.6g}: a mole fraction must be at least 0")
            object.__setattr__(self, species, part[()])
        total = sum(parts)
        if np.any(np.abs(total - 1) > _SUM_TOLERANCE):
            worst = np.ravel(total)[np.argmax(np.abs(np.ravel(total) - 1))]
            raise ValueError(f"mole fractions of the gas sum to {worst:.8g}; they must sum to 1")

    @classmethod
    def dry_air(cls) -> "Gas":
        """Dry air: 78.08 % nitrogen, 20.95 % oxygen, 0.93 % argon, 0.04 % carbon dioxide."""
        return cls(h2o=0.0, **DRY_AIR)

    @classmethod
    def humid_air(cls, water_vapor_fraction: Any) -> "Gas":
        """Air with this mole fraction of water vapor, number or array, 0 to 1."""
        dry = 1 - np.asarray(water_vapor_fraction, float)
        return cls(h2o=water_vapor_fraction, **{s: x * dry for s, x in DRY_AIR.items()})

    @cached_property
    def mole_fractions(self) -> np.ndarray:
        """Mole fractions, first axis in the order of `SPECIES`."""
        return np.stack([np.asarray(getattr(self, s), float) for s in SPECIES])

    @cached_property
    def molar_mass(self) -> Any:
        """Molar mass, kg/mol: M = sum x_i M_i."""
        return sum(getattr(self, s) * MOLAR_MASS[s] for s in SPECIES)

    @property
    def gas_constant(self) -> Any:
        """Gas constant of this gas, J/(kg K): R / M."""
        return GAS_CONSTANT / self.molar_mass

    @property
    def mass_fractions(self) -> dict[str, Any]:
        """Mass fraction of each species: x_i M_i / M."""
        return {s: getattr(self, s) * MOLAR_MASS[s] / self.molar_mass for s in SPECIES}


def mix(gases: Iterable[Gas], mole_amounts: Iterable[Any]) -> Gas:
    """The mixture of gases in these amounts (any one unit of moles; numbers or arrays that broadcast).

    Raises ValueError where an amount is negative or all are zero.
    """
    gases, amounts = list(gases), [np.asarray(n, float) for n in mole_amounts]
    total = sum(amounts)
    if any(np.any(n < 0) for n in amounts) or not np.all(total > 0):
        raise ValueError("mole_amounts must be at least 0, and one of them above 0")
    flows = list(zip(gases, amounts, strict=True))
    return Gas(*(sum(getattr(gas, species) * n for gas, n in flows) / total for species in SPECIES))


# One polynomial in (T - 900 K) / 700 K for each species and property; degree 11 meets every point of the
# table within 0.011 %, water vapor's transport within 0.18 % (tested). Transport is fitted after division
# by the root of T, which alone would hold for hard spheres.
_CENTRE, _HALF = np.mean(TEMPERATURE_RANGE), np.ptp(TEMPERATURE_RANGE) / 2
_DEGREE = 11


def _fit(column: str, power: float) -> np.ndarray:
    """Coefficients (degree, species) of the table's column divided by T**power."""
    coefficients = []
    for species in SPECIES:
        rows = [row for row in tables.read("flue_gas") if row["species"] == species]
        temperature = np.array([float(row["temperature_K"]) for row in rows])
        value = np.array([float(row[column]) for row in rows]) / temperature**power
        series = Polynomial.fit(temperature, value, _DEGREE, domain=TEMPERATURE_RANGE)
        coefficients.append(series.coef)
    return np.array(coefficients).T


_SPECIFIC_HEAT = _fit("cp0_J_per_mol_K", 0.0)
# Integral of the specific heat over temperature, zero at the reference temperature.
_ENTHALPY = np.vstack([np.zeros(len(SPECIES)), _SPECIFIC_HEAT * _HALF / np.arange(1, _DEGREE + 2)[:, None]])
_VISCOSITY = _fit("viscosity_Pa_s", 0.5)
_CONDUCTIVITY = _fit("conductivity_W_per_m_K", 0.5)


def _scaled(temperature):
    """Temperature on -1 to 1; raises ValueError outside 200 to 1600 K."""
    scaled = (np.asarray(temperature, float) - _CENTRE) / _HALF
    if np.any(np.abs(scaled) > 1):
        low, high = np.min(temperature), np.max(temperature)
        raise ValueError(f"temperature = {low:.6g} to {high:.6g} K: gas properties are known from 200 to 1600 K")
    return scaled


def _polynomial(coefficients, scaled):
    """Values of all species at once, by Horner's rule; first axis in the order of `SPECIES`."""
    columns = coefficients.reshape(*coefficients.shape, *([1] * scaled.ndim))
    value = np.broadcast_to(columns[-1], (len(SPECIES), *scaled.shape))
    for column in columns[-2::-1]:
        value = value * scaled + column
    return value


_ENTHALPY[0] = -_polynomial(_ENTHALPY, _scaled(REFERENCE_TEMPERATURE))


def _mixed(coefficients, gas, scaled):
    """Mole-fraction mean of a molar property: the polynomial of the mixture, then one Horner pass."""
    fractions = gas.mole_fractions
    weights = np.tensordot(coefficients, fractions, axes=1)
    value = weights[-1]
    for weight in weights[-2::-1]:
        value = value * scaled + weight
    return value


@quantities("kg/m**3", temperature="K", pressure="Pa", above={"pressure": 0.0}, source="ideal-gas law")
def density(gas: Gas, temperature, pressure):
    """Density of the gas: rho = p M / (R T).

    gas: `Gas`; temperature: K; pressure: absolute, Pa; numbers or arrays that broadcast.

    Flue gas above its dew point and near 1 atm departs from the ideal gas by less than 0.05 %.
    Source: ideal-gas law.
    """
    return pressure * gas.molar_mass / (GAS_CONSTANT * temperature)


@quantities("J/(kg*K)", temperature="K", source=_SOURCE)
def specific_heat(gas: Gas, temperature):
    """Specific heat at constant pressure of the ideal mixture: cp = sum x_i cp0_i(T) / M.

    gas: `Gas`; temperature: K, 200 to 1600 K; numbers or arrays that broadcast.

    Raises ValueError outside the range, also from the bare function.
    """
    return _mixed(_SPECIFIC_HEAT, gas, _scaled(temperature)) / gas.molar_mass


@quantities("J/kg", temperature="K", source=_SOURCE)
def enthalpy(gas: Gas, temperature):
    """Sensible enthalpy above 298.15 K, water as vapor: h = integral of cp dT.

    gas: `Gas`; temperature: K, 200 to 1600 K; numbers or arrays that broadcast. Exactly the integral of
    `specific_heat`.

    Raises ValueError outside the range, also from the bare function.
    """
    return _mixed(_ENTHALPY, gas, _scaled(temperature)) / gas.molar_mass


_MASS = np.array([MOLAR_MASS[s] for s in SPECIES])


def mixing_rule(fractions, viscosity, conductivity):
    """Viscosity and conductivity of a mixture from those of its pure gases, for plain arrays.

    mu = sum x_i mu_i / S_i, S_i = sum x_j phi_ij,
    phi_ij = (1 + (mu_i/mu_j)^1/2 (M_j/M_i)^1/4)^2 / (8 (1 + M_i/M_j))^1/2; k likewise, since both share S_i.
    fractions: mole fractions; viscosity: of the pure gases, Pa s; conductivity: W/(m K); first axis in the order of
    `SPECIES`, the others broadcast.
    """
    axes = np.broadcast(fractions[0], viscosity[0]).ndim
    speed = np.sqrt(viscosity) * _MASS.reshape(-1, *[1] * axes) ** -0.25
    mixed_viscosity = mixed_conductivity = 0.0
    for i in range(len(SPECIES)):
        weight = (1 / np.sqrt(8 * (1 + _MASS[i] / _MASS))).reshape(-1, *[1] * axes)
        interaction = (fractions * weight * (1 + speed[i] / speed) ** 2).sum(axis=0)
        mixed_viscosity = mixed_viscosity + fractions[i] * viscosity[i] / interaction
        mixed_conductivity = mixed_conductivity + fractions[i] * conductivity[i] / interaction
    return mixed_viscosity, mixed_conductivity


def _transport(gas, temperature):
    """Viscosity and conductivity together, since they share the interaction sums."""
    scaled = _scaled(temperature)
    root = np.sqrt(np.asarray(temperature, float))
    viscosity = _polynomial(_VISCOSITY, scaled) * root
    conductivity = _polynomial(_CONDUCTIVITY, scaled) * root
    fractions = gas.mole_fractions
    axes = max(fractions.ndim, viscosity.ndim) - 1
    # Align species on the first axis and let the states broadcast behind it.
    fractions = fractions.reshape(len(SPECIES), *([1] * (axes + 1 - fractions.ndim)), *fractions.shape[1:])
    viscosity = viscosity.reshape(len(SPECIES), *([1] * (axes + 1 - viscosity.ndim)), *viscosity.shape[1:])
    return mixing_rule(fractions, viscosity, conductivity.reshape(viscosity.shape))


@quantities("Pa*s", temperature="K", source=_WILKE)
def viscosity(gas: Gas, temperature):
    """Dynamic viscosity of the mixture by Wilke's rule from the pure dilute values.

    mu = sum x_i mu_i / sum_j x_j phi_ij,
    phi_ij = (1 + (mu_i/mu_j)^1/2 (M_j/M_i)^1/4)^2 / (8 (1 + M_i/M_j))^1/2.
    gas: `Gas`; temperature: K, 200 to 1600 K; numbers or arrays that broadcast.

    Raises ValueError outside the range, also from the bare function.
    Source: Wilke, J. Chem. Phys. 18 (1950) 517.
    """
    return _transport(gas, temperature)[0]


@quantities("W/(m*K)", temperature="K", source=_MASON_SAXENA)
def conductivity(gas: Gas, temperature):
    """Thermal conductivity of the mixture by Mason and Saxena's rule from the pure dilute values.

    k = sum x_i k_i / sum_j x_j phi_ij with the phi_ij of Wilke's viscosity rule, to which theirs reduces
    for the translational part of conductivity, with their numerical factor (1.065) taken as 1: with 1.065 dry air
    would be 3.6 % below its own correlation instead of 1.5 %. Wet flue gas is 3 to 8 % below Cantera's gri30, whose
    water vapor conducts 22 to 42 % better than the steam tables say.
    gas: `Gas`; temperature: K, 200 to 1600 K; numbers or arrays that broadcast.

    Raises ValueError outside the range, also from the bare function.
    Source: Mason & Saxena, Phys. Fluids 1 (1958) 361; Poling et al., Properties of Gases and Liquids,
    5th ed., section 10-6 (factor 1).
    """
    return _transport(gas, temperature)[1]


@quantities(("Pa*s", "W/(m*K)"), temperature="K", source=_WILKE + "; " + _MASON_SAXENA)
def transport(gas: Gas, temperature):
    """`viscosity` and `conductivity` in one pass, for loops that need both.

    gas: `Gas`; temperature: K, 200 to 1600 K; numbers or arrays that broadcast.

    Raises ValueError outside the range, also from the bare function.
    """
    return _transport(gas, temperature)


@quantities("", temperature="K", source=_WILKE + "; " + _MASON_SAXENA)
def prandtl(gas: Gas, temperature):
    """Prandtl number of the mixture: Pr = cp mu / k.

    gas: `Gas`; temperature: K, 200 to 1600 K; numbers or arrays that broadcast.

    Raises ValueError outside the range, also from the bare function.
    """
    mu, k = _transport(gas, temperature)
    return specific_heat.bare(gas, temperature) * mu / k
