"""Plant load: heat that the burners are asked for, hour by hour, from outdoor temperature, a base load and the clock.

    load = base + design (limit - T) / (limit - T design) where T is below the limit, times the setback at night.

All as heat input of the burners on the higher heating value, so that no efficiency enters.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.building.weather import HOURS_A_DAY, HOURS_A_YEAR, Weather
from ventcalc.gas.appliance import Appliance
from ventcalc.vent.network import Season

# What is taken where nobody says (common practice, no source): plants are larger than what they heat; some heat for hot
# water, reheat or a pool goes all year; the outdoor temperature from which a building needs no heat, 65 °F.
USUAL_DESIGN_SHARE = 0.8  # of the installed heat input, base load included
USUAL_BASE_SHARE = 0.1  # of the installed heat input
USUAL_LIMIT = 291.48  # K
WORKDAYS = 5  # of a week; the first day of a weather year counts as a Monday


@dataclass(frozen=True)
class LoadPlan:
    """What a plant is asked for; plain SI.

    ``design`` [W] at the outdoor temperature ``design_outdoor`` [K] and ``base`` [W] of it in any weather; no heating
    from ``limit`` [K] up. Heating is asked for in full from hour ``start`` to hour ``stop`` of the day, else
    ``setback`` of it; ``workdays``: on weekends the setback holds all day.
    """

    design: float
    design_outdoor: float
    base: float
    limit: float = USUAL_LIMIT
    start: float = 0.0
    stop: float = 24.0
    setback: float = 1.0
    workdays: bool = False

    def __post_init__(self):
        if not self.design_outdoor < self.limit:
            raise ValueError(
                f"design outdoor temperature {self.design_outdoor:.2f} K must be below that from which no heat is "
                f"asked for, {self.limit:.2f} K"
            )
        if not 0.0 <= self.base <= self.design:
            raise ValueError(f"base load {self.base:.4g} W must be 0 to the design load, {self.design:.4g} W")
        if not 0.0 <= self.start < self.stop <= HOURS_A_DAY:
            raise ValueError(f"heating from hour {self.start:g} to {self.stop:g}: need 0 <= from < to <= 24")
        if not 0.0 <= self.setback <= 1.0:
            raise ValueError(f"setback {self.setback:g} must be 0 to 1")


def installed(appliances: Sequence[Appliance]) -> float:
    """Heat input [W] of all appliances at their highest levels."""
    return sum(max(float(level.heat_input.m_as("W")) for level in a.levels) for a in appliances)


def usual(appliances: Sequence[Appliance], seasons: Sequence[Season]) -> LoadPlan:
    """What is taken where nobody says: shares of the installed heat input, designed for the coldest season.

    Where no season is colder than the limit there is nothing to heat by: then the base load alone is asked for.
    """
    most, coldest = installed(appliances), min(float(s.outdoor.m_as("K")) for s in seasons)
    base = USUAL_BASE_SHARE * most
    if coldest >= USUAL_LIMIT:
        return LoadPlan(base, USUAL_LIMIT - 1.0, base)
    return LoadPlan(USUAL_DESIGN_SHARE * most, coldest, base)


def occupied(plan: LoadPlan, hours: np.ndarray, weekday: np.ndarray) -> np.ndarray:
    """Whether heating is asked for in full in hours of the day that begin at ``hours``, of days 0 to 6 of the week."""
    open_ = (hours + 0.5 >= plan.start) & (hours + 0.5 < plan.stop)
    return open_ & ((weekday < WORKDAYS) | (not plan.workdays))


def load(plan: LoadPlan, outdoor: np.ndarray, in_full: np.ndarray) -> np.ndarray:
    """Load [W] at outdoor temperatures [K], heating asked for in full or set back."""
    share = np.maximum(plan.limit - outdoor, 0.0) / (plan.limit - plan.design_outdoor)
    return plan.base + (plan.design - plan.base) * share * np.where(in_full, 1.0, plan.setback)


def in_full(plan: LoadPlan, weather: Weather) -> np.ndarray:
    """Whether heating is asked for in full in every hour of a weather; its days of the week run on from a Monday."""
    days = np.arange(len(weather)) // HOURS_A_DAY
    if len(weather) < HOURS_A_YEAR:  # a few days out of a year: taken as workdays
        days = np.zeros(len(weather), int)
    return occupied(plan, weather.hour, days % 7)
