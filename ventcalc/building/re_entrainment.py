"""Re-entrainment: flue gas at an air intake in the worst wind, against limits, and what would be enough.

Little wind lets the jet rise; much wind dilutes it; between them is the worst wind, which is sought. A cap takes the
momentum away, and with it nearly all.

It is an estimate for a simple roof: no approval. The distance in a code, or a wind tunnel, governs. Every figure of a
standard: check what your jurisdiction adopted.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.building.air_intakes import Intake, Roof, Stack
from ventcalc.building.clearance_table import shipped_rules
from ventcalc.building.code_rules import CHECK_EDITION, FAIL, PASS, READING, figure
from ventcalc.building.plume import axis_height, dilution
from ventcalc.building.stack_discharge import Discharge
from ventcalc.door import door
from ventcalc.units import Q_, Quantity
from ventcalc.vent import worst_state

# m/s at roof height. In less wind warm gas rises by its buoyancy, which is left out, and a plume without rise is none.
LEAST_WIND = float(figure("re_entrainment", "critical wind, capped").m_as("m/s"))
MOST_WIND = 20.0
_SPEEDS = 121


def winds() -> np.ndarray:
    """Wind speeds [m/s] among which the worst is sought: 400 fpm to 20 m/s."""
    return np.geomspace(LEAST_WIND, MOST_WIND, _SPEEDS)


def dilutions(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, speeds: np.ndarray) -> np.ndarray:
    """Dilution at the intake (states, winds), by volume as `dilution`."""
    column = [np.atleast_1d(np.asarray(v, float))[:, None] for v in (gas.velocity, gas.density_ratio)]
    return dilution.bare(
        float(intake.distance.m_as("m")),
        float(stack.height.m_as("m")),
        float(intake.height.m_as("m")),
        float(stack.diameter.m_as("m")),
        column[0],
        speeds,
        float(roof.height.m_as("m")),
        float(roof.roughness.m_as("m")),
        column[1],
        stack.capped,
    )


def in_moles(diluted: np.ndarray, gas: Discharge) -> np.ndarray:
    """Dilution (states, winds) of mole fractions: hot gas shrinks as it mixes, so that it is diluted by more."""
    return diluted / np.atleast_1d(gas.density_ratio)[:, None]


@dataclass(frozen=True)
class Part:
    """One gas at the intake: ``added`` by the flue gas and ``limit`` in ppm, ``rule`` of the limit, ``verdict``.

    ``wind`` [m/s] and ``state`` are those of its worst, ``dilution`` by moles in them. ``harm`` is the level [ppm] of
    ``harm_rule`` at which people come to harm. Of NO2, ``share`` of the NOx is counted as it, and ``at_most`` [ppm]
    would be added by the greatest share it may have; of other gases that is what is added. ``perhaps``: that alone is
    beyond the limit.
    """

    gas: str
    added: float
    limit: float
    rule: str
    verdict: str
    at_most: float
    harm: float
    harm_rule: str
    harmful: bool
    wind: float
    state: int
    dilution: float
    share: float | None = None
    perhaps: bool = False


@dataclass(frozen=True)
class Reading:
    """An intake at its worst: wind and state, ``dilution`` by moles, ``plume`` axis above the intake's top [m].

    ``distance`` and ``asked`` [m] of the ventilation standard's rule, ``distance_verdict``; ``parts`` each gas.
    ``wall``: the vent leaves through a wall; then the estimate, which is one for roofs, passes nothing.
    """

    intake: str
    wind: float
    state: int
    dilution: float
    plume: float
    distance: float
    asked: float
    distance_verdict: str
    distance_source: str
    parts: tuple[Part, ...]
    wall: bool = False

    @property
    def verdict(self) -> str:
        """The worst of its verdicts."""
        every = [self.distance_verdict, *(p.verdict for p in self.parts)]
        return next(v for v in (FAIL, READING, PASS) if v in every)


# What is judged: the gas of the discharge that it comes from, the limit of air for everyone, the level that harms.
LIMITS = {"no2": "NO2, 1 h", "co": "CO, 8 h", "co2": "CO2, 8 h"}
HARM = {"no2": "NO2, harm, 1 h", "co": "CO, harm, 8 h", "co2": "CO2, harm"}
_COMES_FROM = {"no2": "nox", "co": "co", "co2": "co2"}
_STANDARD = "outdoor-air intake, ventilation standard"


def judge(
    stack: Stack,
    gas: Discharge,
    intake: Intake,
    roof: Roof,
    background: dict[str, float] | None = None,
    no2_share: float | None = None,
) -> Reading:
    """One intake over all states and winds: the worst dilution of each gas against its limit, and the code's distance.

    ``background`` of each gas in outdoor air [ppm], added to what the flue gas brings; left out: 420 ppm of CO2, else
    none. ``no2_share`` of the NOx is NO2, 0 to 1; left out: the share of common practice, and where only the greatest
    share it may have is beyond the limit that is for the authority to read. The wind and state shown are those of the
    gas nearest to its limit. Raises ValueError for another share.
    """
    if no2_share is not None and not 0.0 <= no2_share <= 1.0:
        raise ValueError(f"no2_share = {no2_share:g} must be 0 to 1")
    speeds = winds()
    moles = in_moles(dilutions(stack, gas, intake, roof, speeds), gas)
    behind = {"co2": float(figure("re_entrainment", "outdoor CO2").m_as("ppm"))} | (background or {})
    parts = tuple(_part(name, gas, moles, behind.get(name, 0.0), no2_share, speeds) for name in LIMITS)
    if stack.wall:
        parts = tuple(replace(p, verdict=READING) if p.verdict == PASS else p for p in parts)
    nearest = max(parts, key=lambda p: p.added / p.limit)
    ask = next(r for r in shipped_rules() if r.rule == _STANDARD)
    distance = float(intake.distance.m_as("m"))
    return Reading(
        intake=intake.name,
        wind=nearest.wind,
        state=nearest.state,
        dilution=nearest.dilution,
        plume=_over(stack, gas, intake, roof, nearest.state, nearest.wind),
        distance=distance,
        asked=ask.value,
        distance_verdict=PASS if distance >= ask.value else ask.broken,
        distance_source=f"{ask.section} ({ask.edition}; {CHECK_EDITION})",
        parts=parts,
        wall=stack.wall,
    )


def _part(name: str, gas: Discharge, moles: np.ndarray, behind: float, told: float | None, speeds) -> Part:
    """One gas at its worst over all states and winds ``moles`` (states, winds) of dilution."""
    brought = 1e6 * np.atleast_1d(np.asarray(getattr(gas, _COMES_FROM[name]), float))[:, None] / moles
    state, at = np.unravel_index(worst_state.worst(brought.ravel()), brought.shape)
    share = most = 1.0
    if name == "no2":
        share, most = (
            float(figure("re_entrainment", rule).m) if told is None else told
            for rule in ("NO2 in NOx", "NO2 in NOx, at most")
        )
    added, at_most = share * float(brought.max()), most * float(brought.max())
    limit, harm = (float(figure("re_entrainment", rules[name]).m_as("ppm")) for rules in (LIMITS, HARM))
    return Part(
        gas=name,
        added=added,
        limit=limit,
        rule=LIMITS[name],
        verdict=FAIL if added + behind > limit else READING if at_most + behind > limit else PASS,
        perhaps=added + behind <= limit < at_most + behind,
        at_most=at_most,
        harm=harm,
        harm_rule=HARM[name],
        harmful=added + behind > harm,
        wind=float(speeds[at]),
        state=int(state),
        dilution=float(moles[state, at]),
        share=share if name == "no2" else None,
    )


def _over(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, state: int, wind: float) -> float:
    """The plume's axis above the intake's top [m]."""
    velocity, ratio = (float(np.atleast_1d(v)[state]) for v in (gas.velocity, gas.density_ratio))
    sizes = (float(q.m_as("m")) for q in (intake.distance, stack.height, stack.diameter))
    far, high, wide = sizes
    around = float(roof.height.m_as("m")), float(roof.roughness.m_as("m"))
    axis = axis_height(far, high, wide, velocity, wind, *around, ratio, stack.capped)
    return float(axis) - max(float(intake.height.m_as("m")), 0.0)


def least_dilution(stack: Stack, gas: Discharge, intake: Intake, roof: Roof) -> float:
    """Least dilution of mole fractions over all states and winds."""
    return float(in_moles(dilutions(stack, gas, intake, roof, winds()), gas).min())


_HIGHEST, _FASTEST, _FARTHEST = 30.0, 25.0, 200.0  # m, m/s, m, to which an answer is sought
_HALVINGS, _STEPS = 30, 200


@door(velocity="m/s", above={"velocity": 0.0})
def nozzled(stack: Stack, gas: Discharge, velocity: Quantity) -> tuple[Stack, Discharge]:
    """The same flow through a narrower top, so that the slowest state leaves at ``velocity``; a cap comes off.

    The pressure that it takes is not counted here: the vent must be solved with it.
    """
    slowest = float(np.min(gas.velocity))
    ratio = float(velocity.m_as("m/s")) / slowest
    return replace(stack, diameter=stack.diameter / np.sqrt(ratio), capped=False), replace(
        gas, velocity=gas.velocity * ratio
    )


@door(plain={"target": ""}, above={"target": 0.0})
def enough_height(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, target: float) -> Quantity | None:
    """Least height of the stack above the roof for a dilution at the worst wind; None where 30 m are not enough."""

    def holds(meters: float) -> bool:
        return least_dilution(replace(stack, height=Q_(meters, "m")), gas, intake, roof) >= target

    return _least(holds, 0.0, _HIGHEST, "m")


@door(plain={"target": ""}, above={"target": 0.0})
def enough_velocity(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, target: float) -> Quantity | None:
    """Least velocity of the same flow (slowest state), without a cap, for a dilution; None where 25 m/s are too few.

    No less than what it leaves at now.
    """

    def holds(speed: float) -> bool:
        return least_dilution(*nozzled(stack, gas, Q_(speed, "m/s")), intake, roof) >= target

    return _least(holds, float(np.min(gas.velocity)), _FASTEST, "m/s")


def _least(holds, low: float, high: float, unit: str) -> Quantity | None:
    """The least value that holds; what holds at one holds at every greater one."""
    if holds(low):
        return Q_(low, unit)
    if not holds(high):
        return None
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if holds(middle) else (middle, high)
    return Q_(high, unit)


@door(plain={"target": ""}, above={"target": 0.0})
def enough_distance(stack: Stack, gas: Discharge, intake: Intake, roof: Roof, target: float) -> Quantity | None:
    """Distance from which on the dilution is enough at the worst wind; None where 200 m are not.

    Nearer to a tall stack it may be enough as well: the plume passes over before it has spread down.
    """
    far = np.linspace(0.0, _FARTHEST, _STEPS + 1)
    found = [least_dilution(stack, gas, replace(intake, distance=Q_(x, "m")), roof) >= target for x in far]
    short = np.flatnonzero(~np.array(found))
    if short.size == 0:
        return Q_(0.0, "m")
    if short[-1] == _STEPS:
        return None

    def holds(meters: float) -> bool:
        return least_dilution(stack, gas, replace(intake, distance=Q_(meters, "m")), roof) >= target

    return _least(holds, float(far[short[-1]]), float(far[short[-1] + 1]), "m")
