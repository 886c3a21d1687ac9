"""Stack discharge: what leaves a vent's end: velocity, temperature, and the NOx, CO and CO2 of the wet gas."""

from dataclasses import dataclass

import numpy as np

from ventcalc.building.code_rules import figure
from ventcalc.door import door
from ventcalc.gas import appliance as appliances
from ventcalc.gas import atmosphere, combustion, combustion_analysis, flue_gas
from ventcalc.gas.fuels import Fuel
from ventcalc.units import GAS_CONSTANT, Q_, Quantity, quantities
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.network import compile_network, room_vapor
from ventcalc.words import say

REFERENCE_OXYGEN = 0.03  # dry, at which NOx and CO of gas burners are stated
NO2_MOLAR_MASS = 0.0460055  # kg/mol


@quantities(
    "",
    excess_air="",
    dry_at_reference="",
    at_least={"excess_air": 0.0, "dry_at_reference": 0.0},
    source="dilution by air of 20.95 % oxygen; stoichiometry",
)
def in_wet_gas(fuel: Fuel, excess_air, dry_at_reference):
    """Mole fraction in the wet flue gas of what is stated dry at 3 % O2 (NOx, CO).

    x = x_3 (0.2095 - O2) / (0.2095 - 0.03) (1 - h2o). fuel: `Fuel`; excess_air: of the gas that leaves, ratio;
    dry_at_reference: stated mole fraction, such as 30 ppm. Numbers or arrays that broadcast.
    """
    burnt = combustion.products.bare(fuel, excess_air)
    air = combustion.OXYGEN_IN_AIR
    return dry_at_reference * (air - burnt.o2_dry) / (air - REFERENCE_OXYGEN) * (1.0 - burnt.gas.h2o)


@quantities(
    "kg/J",
    dry_at_reference="",
    molar_mass="kg/mol",
    at_least={"dry_at_reference": 0.0},
    above={"molar_mass": 0.0},
    source="stoichiometry; 40 CFR 60 App. A-7, Method 19",
)
def mass_per_heat(fuel: Fuel, dry_at_reference, molar_mass=NO2_MOLAR_MASS):
    """Mass emitted per heat input from a mole fraction stated dry at 3 % O2.

    fuel: `Fuel`; dry_at_reference: mole fraction; molar_mass: kg/mol (NOx counts as NO2). Numbers or arrays.
    """
    excess = float(combustion_analysis.excess_air_from_o2.bare(fuel, REFERENCE_OXYGEN))
    dry, _ = combustion.volume_per_heat.bare(fuel, excess)  # m3/MJ at 68 °F and 29.92 inHg
    moles = 1e-6 * dry * Q_(29.92, "inHg").m_as("Pa") / (GAS_CONSTANT * Q_(68.0, "degF").m_as("K"))
    return dry_at_reference * moles * molar_mass


@dataclass(frozen=True, eq=False)
class Discharge:
    """What leaves one stack, plain SI, numbers or one value a state.

    ``velocity`` [m/s], ``temperature`` and ``outdoor`` [K], mole fractions ``co2``, ``nox``, ``co`` of the wet gas.
    """

    velocity: np.ndarray
    temperature: np.ndarray
    outdoor: np.ndarray
    co2: np.ndarray
    nox: np.ndarray
    co: np.ndarray

    def __post_init__(self):
        for name in ("velocity", "temperature", "outdoor"):
            if not np.all(np.asarray(getattr(self, name)) > 0.0):
                raise ValueError(f"discharge: {name} must be above 0 in every state")
        for name in ("co2", "nox", "co"):
            share = np.asarray(getattr(self, name))
            if np.any((share < 0.0) | (share > 1.0)):
                raise ValueError(f"discharge: {name} must be a mole fraction, 0 to 1")

    @property
    def density_ratio(self) -> np.ndarray:
        """Of the gas to outdoor air, by temperature alone."""
        return np.asarray(self.outdoor / self.temperature)


class NoPlume(ValueError):
    """What leaves a vent cannot be told from this scan, and why."""


def _no_plume(name: str, **figures) -> NoPlume:
    return NoPlume(say("building", "no_plume", name, **figures))


@door(nox="", co="", at_least={"nox": 0.0, "co": 0.0})
def discharge(scan: Scan, nox: Quantity, co: Quantity) -> tuple[Discharge, np.ndarray]:
    """What leaves the vent's termination in every state with a burner firing, and which states those are.

    ``nox`` and ``co`` as stated for the burners, dry at 3 % O2; room air drawn by hoods counts as dilution. One
    termination; codes must be whole. Raises `NoPlume` otherwise, and where gas falls down the vent in such a state.
    """
    solution, plant = scan.solution, scan.plant
    if len(plant.terminations) != 1:
        raise _no_plume("terminations", count=len(plant.terminations))
    pick = np.flatnonzero(scan.any_firing)
    row = next(i for i, s in enumerate(plant.order) if s.into == plant.terminations[0].name)
    down = pick[solution.flow[row, pick] <= 0.0]
    if down.size:
        raise _no_plume("air_falls", states=down.size)
    moles, parts = _moles(scan, pick, float(nox.m_as("")), float(co.m_as("")))
    velocity = solution.flow[row, pick] / (solution.density[row, pick] * plant.order[row].area)
    outdoor = np.array([s.outdoor.m_as("K") for s in scan.seasons])[scan.states.season[pick]]
    co2, nox_share, co_share = parts / moles
    return Discharge(velocity, solution.downstream[row, pick], outdoor, co2, nox_share, co_share), pick


def _moles(scan: Scan, pick, nox: float, co: float) -> tuple[np.ndarray, np.ndarray]:
    """Moles per time of all gas in the vent, and of CO2, NOx and CO (3, states)."""
    network = compile_network(scan.plant, scan.seasons)
    total, parts = np.zeros(pick.size), np.zeros((3, pick.size))
    outdoor_co2 = float(figure("re_entrainment", "outdoor CO2").m_as(""))
    for i, a in enumerate(scan.plant.appliances):
        codes, season = scan.states.codes[i, pick], scan.states.season[pick]
        if np.any(codes % 1.0):
            raise _no_plume("modulates", appliance=a.name)
        codes = codes.astype(int)
        table = np.array([[_fractions(a, code, s, network, nox, co) for code in a.states] for s in scan.seasons])
        molar, *shares = np.moveaxis(table, 2, 0)
        own = network.prescribed[i][season, codes] / molar[season, codes]
        drawn = np.maximum(scan.solution.drawn[i, pick], 0.0) / atmosphere.DRY_AIR_MOLAR_MASS
        total += own + drawn
        parts += np.array([own * share[season, codes] for share in shares])
        parts[0] += outdoor_co2 * drawn
    return total, parts


def _fractions(a, code: str, season, network, nox: float, co: float) -> tuple[float, float, float, float]:
    """Molar mass [kg/mol] and mole fractions of CO2, NOx and CO of what an appliance sends."""
    level = next((lv for lv in a.levels if lv.name == code), None)
    air = flue_gas.Gas.humid_air(room_vapor(season, network.pressure, a.room))
    sent = appliances.stream(a, code, float(season.air_of(a.room).temperature.m_as("K")), network.pressure, air).gas
    if level is None:
        return sent.molar_mass, float(figure("re_entrainment", "outdoor CO2").m_as("")), 0.0, 0.0
    stated = in_wet_gas.bare(a.fuel, level.excess_air, np.array([nox, co]))
    return sent.molar_mass, float(sent.co2), *(float(x) for x in stated)
