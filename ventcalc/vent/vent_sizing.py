"""Vent sizing: one appliance, one vent; what size, how far may it run, how much does it take.

Each question sets the `draft_margin` to zero and solves for one thing: `capacity`, `smallest_diameter`,
`least_height`, `least_flue_temperature`, `longest_run`. Every one takes a `Plant` of a single appliance
(`single_vent`), and arrays of sizes that stand in for those of its drawing.
"""

from collections.abc import Callable

import numpy as np

from ventcalc.door import door
from ventcalc.units import Q_, Quantity
from ventcalc.vent.draft_margin import HOOD_CO2, HOTTEST, Vent, coolest_flue, plain_sizes
from ventcalc.vent.false_position import zero_between
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.vent.single_vent import run_section

# Ends of what is searched [m, K]; a vent beyond them is not one vent of one appliance.
_WIDEST = 6.0  # times the outlet
_HEIGHTS = (0.3, 150.0)
_RUNS = (0.05, 300.0)


_VELOCITIES = (0.02, 60.0)  # m/s, between which the capacity is looked for

_STEPS = 48  # cases looked at between the ends, to find where the margin changes sign


class NoAnswer(ValueError):
    """No value within the range searched lets the vent work, or all of them do."""


@door(plain={"hood_co2": ""}, above={"hood_co2": 0.0}, at_most={"hood_co2": 1.0})
def capacity(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Greatest heat input that the vent takes; `margin` names the arguments.

    With little input the gas cools and draws badly, so that there is a least input as well: this is the upper
    end. One case without an answer raises `NoAnswer`; among many it is NaN.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "heat_input")
    diameter = np.asarray(plain.get("diameter", vent.drawn_sizes["diameter"]))
    per_velocity = np.pi * diameter**2 / 4.0 / (vent.flue_per_watt * (1.0 + vent.dilution))  # at 1 kg/m3
    ends = tuple(v * per_velocity for v in _VELOCITIES)
    words = "no heat input makes it draw", "it draws at every heat input"
    return Q_(_solve(vent, plain, "heat_input", ends, falling=True, words=words), "W")


@door(plain={"hood_co2": ""}, above={"hood_co2": 0.0}, at_most={"hood_co2": 1.0})
def smallest_diameter(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Smallest diameter at which the vent works, no smaller than the outlet; `margin` names the arguments.

    One case without an answer raises `NoAnswer`; among many it is NaN.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "diameter")
    outlet = float(vent.appliance.outlet_diameter.m_as("m"))
    words = f"no diameter up to {_WIDEST:g} times the outlet makes it work", ""
    return Q_(_solve(vent, plain, "diameter", (outlet, _WIDEST * outlet), falling=False, words=words), "m")


@door(plain={"hood_co2": ""}, above={"hood_co2": 0.0}, at_most={"hood_co2": 1.0})
def least_height(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Least height of the rise at which the vent works; `margin` names the arguments.

    One case without an answer raises `NoAnswer`; among many it is NaN. A vent that works at 0.3 m needs no more.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "height")
    words = f"no height up to {_HEIGHTS[1]:g} m makes it work", ""
    return Q_(_solve(vent, plain, "height", _HEIGHTS, falling=False, words=words), "m")


@door(plain={"hood_co2": ""}, above={"hood_co2": 0.0}, at_most={"hood_co2": 1.0})
def least_flue_temperature(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Least flue temperature at the appliance at which the vent works; `margin` names the arguments.

    Looked for between the dew point of the flue gas (or the room, where warmer) and 800 K. One case without an
    answer raises `NoAnswer`; among many it is NaN.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "flue_temperature")
    words = f"no flue temperature up to {HOTTEST:g} K makes it work", ""
    ends = coolest_flue(vent), HOTTEST
    return Q_(_solve(vent, plain, "flue_temperature", ends, falling=False, words=words), "K")


@door(plain={"hood_co2": ""}, above={"hood_co2": 0.0}, at_most={"hood_co2": 1.0})
def longest_run(
    plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity
) -> Quantity:
    """Greatest length of `run_section` at which the vent still works; `margin` names the arguments.

    That is what the physics allows. The appliance's instructions govern: a longer run voids its listing, whatever
    stands here. One case without an answer raises `NoAnswer`; among many it is NaN.
    """
    vent, plain = _asked(plant, season, hood_co2, cold, sizes, "run")
    least = max(_RUNS[0], abs(float(run_section(plant).rise.m_as("m"))))
    words = "no run makes it work", f"it works with any run up to {_RUNS[1]:g} m"
    return Q_(_solve(vent, plain, "run", (least, _RUNS[1]), falling=True, words=words), "m")


def _asked(plant: Plant, season: Season, hood_co2: float, cold: bool, sizes: dict, name: str) -> tuple[Vent, dict]:
    if sizes.get(name) is not None:
        raise TypeError(f"{name} is what is asked for; leave it out")
    vent = Vent(plant, season, hood_co2, cold)
    return vent, plain_sizes(vent, sizes)


def _solve(vent: Vent, plain: dict, name: str, ends: tuple, falling: bool, words: tuple[str, str]) -> np.ndarray:
    """The size ``name`` at which the margin is zero.

    ``falling``: the largest value up to which it works; else the smallest from which it works, which is the lower end
    where it works there already.
    """
    shape = np.broadcast_shapes(*(np.shape(v) for v in (*plain.values(), *ends)))
    fixed = {n: np.broadcast_to(v, shape).ravel().astype(float) for n, v in plain.items()}
    low, high = (np.broadcast_to(e, shape).ravel().astype(float) for e in ends)

    def margin(value):
        return vent.margin(**fixed, **{name: value})

    grid = np.geomspace(low, high, _STEPS)
    spare = margin(grid)
    for _ in range(3):  # it may work in a narrow range that the grid stepped over: look closer about the best
        lacking = (spare < 0.0).all(axis=0)
        if not lacking.any():
            break
        grid, spare = _about_the_best(margin, grid, spare, lacking)
    works = spare >= 0.0
    if falling:  # last step that works
        at = _STEPS - 1 - np.argmax(works[::-1], axis=0)
        found, ends_at = works.any(axis=0) & ~works[-1], np.full(low.shape, np.nan)
    else:  # step before the first that works
        at = np.argmax(works, axis=0) - 1
        found, ends_at = works.any(axis=0) & ~works[0], np.where(works[0], low, np.nan)
    at, cases = np.clip(at, 0, _STEPS - 2), np.arange(low.size)
    root = zero_between(margin, grid[at, cases], grid[at + 1, cases])
    answer = np.where(found, root, ends_at)
    if not shape and np.isnan(answer[0]):
        raise NoAnswer(f"{vent.plant.name}: {words[1] if works.any() else words[0]}")
    return answer.reshape(shape)[()]


def _about_the_best(margin: Callable, grid: np.ndarray, spare: np.ndarray, where: np.ndarray):
    """The grid and its margins, ``where`` nothing works replaced by a grid between the neighbors of the best."""
    best, cases = np.argmax(spare, axis=0), np.arange(grid.shape[1])
    low, high = grid[np.maximum(best - 1, 0), cases], grid[np.minimum(best + 1, _STEPS - 1), cases]
    finer = np.where(where, np.geomspace(low, high, _STEPS), grid)
    return finer, margin(finer)
