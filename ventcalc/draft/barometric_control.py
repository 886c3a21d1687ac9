"""Barometric draft control: a regulator that lets room air in, which cools the stack and takes flow off it.

It does the opposite of a modulating damper (`dampers`): it admits air in place of destroying draft.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.draft.dampers import STILL
from ventcalc.gas.appliance import entry_resistance
from ventcalc.vent.network import compile_network
from ventcalc.vent.solution import Solution


@dataclass(frozen=True)
class Regulated:
    """What a barometric draft control does in the states of a solution; plain arrays.

    ``drawn`` room air [kg/s]; ``dilution``, that over the flue gas (NaN where none flows); ``opening``, the share of
    its open area that would pass as much (a shut one leaks); ``draft`` at it [Pa], positive; ``hot`` and ``mixed`` [K],
    the gas before and behind it.
    """

    drawn: np.ndarray
    dilution: np.ndarray
    opening: np.ndarray
    draft: np.ndarray
    hot: np.ndarray
    mixed: np.ndarray


def regulated(solution: Solution, name: str) -> Regulated:
    """What the regulator of an appliance does; the flows and temperatures are those that `common_vent` solved for.

    Raises ValueError where the plant has no appliance of that name, where it has no regulator, and for an appliance
    between two of its states, which has no one temperature before the regulator.
    """
    appliances = {a.name: i for i, a in enumerate(solution.plant.appliances) if a.kind == "barometric"}
    if name not in appliances:
        raise ValueError(f"{name!r} has no barometric draft control; those with one: {', '.join(appliances) or 'none'}")
    i = appliances[name]
    appliance, network = solution.plant.appliances[i], compile_network(solution.plant, solution.seasons)
    season, row = solution.states.season, network.fed_by[i]
    codes = solution.states.codes[i].astype(int)
    if (codes != solution.states.codes[i]).any():
        raise ValueError(f"{name}: give whole codes; an appliance between two states has no one temperature")
    resistance = entry_resistance(appliance, "off", network.place_density[network.rooms[i]])[season]
    pull = solution.room_gauge[i] - solution.pressure_up[row]
    drawn = solution.drawn[i]
    flue = solution.flow[row] - drawn
    firing = flue > 1e-9
    return Regulated(
        drawn=drawn,
        dilution=np.where(firing, drawn / np.where(firing, flue, 1.0), np.nan),
        opening=np.abs(drawn) * np.sqrt(resistance / np.maximum(np.abs(pull), STILL)),
        draft=pull,
        hot=network.temperature[i][season, codes],
        mixed=solution.upstream[row],
    )
