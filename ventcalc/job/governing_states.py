"""Governing states: the few of all firing states that decide whether a vent serves.

A vent that fails does so in a state at the end of some range: the highest and the lowest pressure of an outlet, its
greatest and least distance from the header, the most gas in the room, the most that a fan has to move. To try many
vents they are solved in these states first, and in all only where these leave nothing to find.
"""

import numpy as np

from ventcalc.draft.held_pressure import before_termination
from ventcalc.gas.appliance import CATEGORIES
from ventcalc.vent.end_of_header import header_pressure
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.section_extremes import static_below_cap

AT_EACH_END = 1  # states of each range


def governing(scan: Scan, each: int = AT_EACH_END) -> np.ndarray:
    """Indices of the conditions at both ends of every range that can decide about a vent, rising."""
    solution, plant = scan.solution, scan.plant
    runs = scan.states.codes > 0
    outlets = np.where(runs, solution.outlet_pressure, np.nan)
    header = header_pressure(scan)
    top = solution.row(before_termination(plant))
    going = np.where(scan.any_running, 1.0, np.nan)
    both = [*outlets, *(outlets - header), header, going * solution.flow[top] / solution.density[top]]
    # A burner that forces its flow draws nothing; of all else what comes nearest to letting flue gas out, or does.
    entering = np.where(scan.any_firing & (solution.drawn != 0.0), -solution.drawn, np.nan)
    upper = [*entering, going * solution.downstream[top]]
    negative = {a.name for a in plant.appliances if not CATEGORIES[a.category].positive}
    for row, section in enumerate(plant.order):
        if negative & {a.name for a in plant.serves(section.name)}:
            upper.append(going * np.maximum(*static_below_cap(scan, row)))
    picked = [np.flatnonzero(~solution.converged)[:each]]
    for values, signs in [(v, (1.0, -1.0)) for v in both] + [(v, (1.0,)) for v in upper]:
        known = np.flatnonzero(~np.isnan(values))
        picked += [known[np.argsort(-sign * values[known], kind="stable")[:each]] for sign in signs]
    return np.unique(scan.condition[np.concatenate(picked).astype(int)])
