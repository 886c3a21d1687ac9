"""COHb: uptake of carbon monoxide by the blood, by the equation of Coburn, Forster and Kane for healthy adults.

It holds for no infant, no unborn child and no sick heart, and this module is no medical instrument. If an alarm sounds,
leave and call the emergency services; nothing here is a reason to stay.
"""

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np

from ventcalc.building.co_limits import facts
from ventcalc.gas import combustion
from ventcalc.units import quantities, ureg

_TORR = ureg.Quantity(1.0, "mmHg").m_as("Pa")
_PER_MINUTE = 1e-6 / 60.0  # m3/s in 1 mL/min
BODY_VAPOUR = 47.0 * _TORR  # Pa, water vapor at 37 °C (any table of steam)
OXYGEN_DROP = 49.0 * _TORR  # Pa, from inspired air to the capillaries of the lung (a public page on the CFK equation)
HALDANE = 218.0  # affinity of hemoglobin for CO over that for O2 (the same page)
BLOOD = 5500e-6  # m3 of blood (Michigan OSHA laboratory's sheet)
CAPACITY = 0.2  # volume of CO that a volume of blood binds (the same sheet: its 2.3 mmHg is 100 / (218 x 0.2))
MADE = 0.007 * _PER_MINUTE  # m3/s of CO that the body makes itself (the same sheet)
BACKGROUND = 0.008  # COHb of someone who does not smoke (the public page; WHO: 0.005 to 0.015)
ALARM_COHB = 0.10  # what UL 2034 is said to rest on ("approximately", as alarm makers print it)
_CFK = (
    "Coburn, Forster & Kane, J. Clin. Invest. 44 (1965) 1899, in the form of a public page on it; "
    "parameters: data/building/carbon_monoxide.csv"
)
_CFK_LEAST = {"times": 0.0, "time": 0.0, "co": 0.0, "initial": 0.0, "oxygen": 0.15, "pressure": 6e4}
# Pure CO, and six atmospheres, the most of a pressure chamber for treatment (from memory).
_CFK_MOST = {"co": 1e6, "initial": 0.99, "oxygen": 1.0, "pressure": 6.1e5}


@dataclass(frozen=True)
class Person:
    """A healthy adult: ``ventilation`` of the alveoli [m3/s, dry at 0 °C], the lung's ``diffusing`` capacity
    [m3/(s Pa)]."""

    activity: str
    ventilation: float
    diffusing: float

    def resistance(self, pressure: float) -> float:
        """B of the CFK equation, Pa s/m3: ``1/DL + (p - 47 mmHg)/VA``."""
        return 1.0 / self.diffusing + (pressure - BODY_VAPOUR) / self.ventilation


@cache
def person(activity: str) -> Person:
    """Someone "resting", "sedentary", at "light work" or "heavy work". Raises ValueError for anything else."""
    found = {row["rule"]: float(row["value"]) for row in facts("uptake") if row["body"] == activity}
    if not found:
        raise ValueError(f"activity {activity!r}: choose one of {', '.join(activities())}")
    diffusing = found["diffusing capacity"] * _PER_MINUTE / _TORR
    return Person(activity, found["alveolar ventilation"] * _PER_MINUTE, diffusing)


def activities() -> tuple[str, ...]:
    """What `person` knows."""
    return tuple(dict.fromkeys(row["body"] for row in facts("uptake")))


def _pressures(co, pressure, oxygen):
    """Of carbon monoxide in the air breathed in, and of oxygen in the lung's capillaries [Pa]."""
    dry = pressure - BODY_VAPOUR
    return co * 1e-6 * dry, oxygen * dry - OXYGEN_DROP


@quantities(
    "",
    times="s",
    co="ppm",
    initial="",
    pressure="Pa",
    oxygen="",
    at_least={k: v for k, v in _CFK_LEAST.items() if k != "time"},
    at_most=_CFK_MOST,
    shapes={"times": "list", "co": "array", "initial": "one", "pressure": "one", "oxygen": "one"},
    source=_CFK,
)
def cohb(times, co, who: Person, initial=BACKGROUND, pressure=101325.0, oxygen=combustion.OXYGEN_IN_AIR):
    """Share of hemoglobin that carries carbon monoxide along a history, by the nonlinear CFK equation.

    ``Vb c dx/dt = VCO + (PCO - x PO2 / (M (1 - x))) / B``: what the body makes and breathes in less what it breathes
    out; integrated numerically. times: s, rising; co: ppm (..., times), a straight line between them; who: a `person`;
    initial: x at the first time; pressure: absolute, Pa, from 60 kPa; oxygen: mole fraction breathed, 0.15 to 1.
    A healthy adult's, ±1.5 percentage points or more from one to the next; not for infants, pregnancy, heart patients.
    It lies below what is printed in 23 of 26 rows of ``data/building/carbon_monoxide_checks.csv``, by 5 % in the
    middle and 11 % in all but one: the unsafe side. `judged_cohb` raises it by `COHB_MARGIN`.
    """
    from scipy.integrate import solve_ivp  # slow to import

    co, times = np.asarray(co, float), np.asarray(times, float)
    if times.size < 2 or np.any(np.diff(times) <= 0.0) or co.shape[-1] != times.size:
        raise ValueError("times must be two or more and rise, with one value of co each")
    rows = co.reshape(-1, co.shape[-1])
    taken, given = _pressures(rows, pressure, oxygen)
    resistance = who.resistance(pressure)

    def slope(now, bound):
        i = min(max(int(np.searchsorted(times, now)) - 1, 0), times.size - 2)
        part = (now - times[i]) / (times[i + 1] - times[i])
        breathed = taken[:, i] + part * (taken[:, i + 1] - taken[:, i])
        free = np.maximum(1.0 - bound, 1e-9)
        return (MADE + (breathed - bound * given / (HALDANE * free)) / resistance) / (BLOOD * CAPACITY)

    bound = np.empty(rows.shape)
    bound[:, 0] = initial
    corners = _corners(times, rows)
    for first, last in pairwise(corners):
        piece = times[first : last + 1]
        solved = solve_ivp(slope, piece[[0, -1]], bound[:, first], "LSODA", piece, rtol=1e-6, atol=1e-8)
        bound[:, first : last + 1] = solved.y
    return bound.reshape(co.shape)


_CORNER = 0.1  # of the steepest slope


def _corners(times, rows) -> np.ndarray:
    """Places where a history bends sharply, and its ends: an integrator that steps over one could miss a pulse."""
    slopes = np.diff(rows, axis=1) / np.diff(times)
    bends = np.abs(np.diff(slopes, axis=1)).max(axis=0)
    return np.r_[0, 1 + np.flatnonzero(bends > _CORNER * np.abs(slopes).max()), times.size - 1]


@quantities(
    "",
    co="ppm",
    pressure="Pa",
    oxygen="",
    at_least={k: _CFK_LEAST[k] for k in ("co", "oxygen", "pressure")},
    at_most={k: v for k, v in _CFK_MOST.items() if k != "initial"},
    source=_CFK,
)
def steady_cohb(co, who: Person, pressure=101325.0, oxygen=combustion.OXYGEN_IN_AIR):
    """Where `cohb` ends after a day or more at one concentration: ``r/(1 + r)``, ``r = M (PCO + B VCO) / PO2``.

    co: ppm, number or array; who: a `person`; pressure: Pa; oxygen: mole fraction breathed. What someone does changes
    how soon it is reached and hardly where it ends.
    """
    taken, given = _pressures(co, pressure, oxygen)
    ratio = HALDANE * (taken + who.resistance(pressure) * MADE) / given
    return ratio / (1.0 + ratio)


@quantities(
    "",
    time="s",
    co="ppm",
    initial="",
    pressure="Pa",
    oxygen="",
    at_least={k: v for k, v in _CFK_LEAST.items() if k != "times"},
    at_most=_CFK_MOST,
    source=_CFK,
)
def cohb_linear(time, co, who: Person, initial=BACKGROUND, pressure=101325.0, oxygen=combustion.OXYGEN_IN_AIR):
    """The linear closed form at one concentration: ``x = xs + (x0 - xs) e^(-kt)``, all hemoglobin counted as free.

    ``xs = M (PCO + B VCO) / PO2`` and ``k = PO2 / (M Vb c B)``. time: s; co: ppm; who: a `person`; initial x0;
    pressure: Pa; oxygen: mole fraction; numbers or arrays that broadcast. Good to a tenth up to 10 % COHb, too high
    above.
    """
    taken, given = _pressures(co, pressure, oxygen)
    resistance = who.resistance(pressure)
    end = HALDANE * (taken + resistance * MADE) / given
    return end + (initial - end) * np.exp(-time * np.log(2.0) / half_life.bare(who, pressure, oxygen))


@quantities(
    "s",
    pressure="Pa",
    oxygen="",
    at_least={k: _CFK_LEAST[k] for k in ("oxygen", "pressure")},
    at_most={k: _CFK_MOST[k] for k in ("oxygen", "pressure")},
    source=_CFK,
)
def half_life(who: Person, pressure=101325.0, oxygen=combustion.OXYGEN_IN_AIR):
    """Time in which little COHb falls by half in clean air, s: ``ln 2 M Vb c B / PO2``.

    who: a `person`; pressure: absolute, Pa; oxygen: mole fraction breathed (1 through a tight mask); numbers or arrays.
    Measured ones differ from person to person by a factor of three.
    """
    given = _pressures(0.0, pressure, oxygen)[1]
    return np.log(2.0) * HALDANE * BLOOD * CAPACITY * who.resistance(pressure) / given


# What judged COHb is raised by: the equation lies below 23 of the 26 printed figures (CM10 to CM35 of the checks); so
# raised, it lies at or above all but CM31, the middle of a printed range of 8 to 10 %, whose lower end it passes.
COHB_MARGIN = 1.12


def judged_cohb(times, co, who: Person, pressure: float):
    """`cohb` of a history raised by `COHB_MARGIN`, all plain SI: what people are judged by."""
    return np.minimum(COHB_MARGIN * cohb.bare(times, co, who, pressure=pressure), 1.0)
