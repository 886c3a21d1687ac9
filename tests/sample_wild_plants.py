"""Wild plants: random trees beyond what anybody builds, in any weather, to see that each is solved or refused."""

import time
from dataclasses import dataclass, replace

import numpy as np
from sample_plants import random_tree, some_states

from ventcalc.gas.fuels import FUELS
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season

STATES = 12
REFUSED, RAISED, SOLVED = "refused", "raised", "solved"


@dataclass(frozen=True)
class Told:
    """What came of one plant: ``how`` it went, in ``words`` where it was not solved; of its states how many did not
    come to rest (``open``), whether a number is none (``nan``), the worst error of ``mass`` and ``energy`` (relative to
    what flows), and the ``seconds`` it took."""

    seed: int
    how: str
    words: str = ""
    open: int = 0
    nan: bool = False
    mass: float = 0.0
    energy: float = 0.0
    seconds: float = 0.0


def wild(seed: int) -> tuple[Plant, tuple[Season, ...]]:
    """A random tree with sizes, inputs, fuels and weather drawn far beyond the usual. May raise ValueError in words."""
    plant, rng = random_tree(seed), np.random.default_rng(seed + 1)
    wide, hot = float(rng.uniform(0.45, 2.5)), float(np.exp(rng.uniform(np.log(0.05), np.log(6.0))))
    fuels = list(FUELS.values())

    def other(a):
        levels = tuple(
            replace(lv, heat_input=lv.heat_input * hot, excess_air=float(rng.uniform(0.02, 3.0))) for lv in a.levels
        )
        return replace(a, levels=levels, fuel=fuels[int(rng.integers(len(fuels)))])

    sections = tuple(replace(s, diameter=Q_(round(s.diameter.m * wide), "mm")) for s in plant.sections)
    seasons = tuple(
        Season(
            f"weather {k}",
            Q_(float(rng.uniform(-45.0, 45.0)), "degC"),
            Q_(float(rng.uniform(-5.0, 45.0)), "degC"),
            room_pressure=Q_(float(rng.choice([0.0, rng.uniform(-60.0, 30.0)])), "Pa"),
            wind=Q_(float(rng.uniform(0.0, 25.0)), "m/s"),
            relative_humidity=float(rng.uniform(0.0, 1.0)),
        )
        for k in range(3)
    )
    return replace(plant, appliances=tuple(map(other, plant.appliances)), sections=sections), seasons


def tried(seed: int) -> Told:
    """One wild plant solved, or how it was not."""
    start = time.process_time()
    try:
        plant, seasons = wild(seed)
        states = some_states(plant, STATES, seed, len(seasons))
        found = solve(plant, seasons, states)
    except ValueError as error:
        return Told(seed, REFUSED, str(error), seconds=time.process_time() - start)
    except Exception as error:  # what a reader must never see
        return Told(seed, RAISED, f"{type(error).__name__}: {error}", seconds=time.process_time() - start)
    seconds, done = time.process_time() - start, found.converged
    numbers = np.concatenate([found.outlet_pressure, found.flow, found.downstream])[:, done]
    return Told(
        seed,
        SOLVED,
        open=int((~done).sum()),
        nan=not np.isfinite(numbers).all(),
        mass=_mass(plant, found, done),
        energy=_energy(found, done),
        seconds=seconds,
    )


def _energy(found, done: np.ndarray) -> float:
    """Energy of all streams in less what goes out, through walls and drains too, over the larger of them."""
    if not done.any():
        return 0.0
    gap = found.energy_in - found.energy_out
    most = np.maximum(np.abs(found.energy_in), found.heat.sum(axis=0))
    return float((np.abs(gap) / np.maximum(most, 1.0))[done].max())


def _mass(plant: Plant, found, done: np.ndarray) -> float:
    """What enters each junction less what leaves it, over the largest flow of its state; drained water counts."""
    worst = 0.0
    for section in plant.order:
        above = plant.upstream(section.name)
        if above and done.any():
            rows = [found.row(u.name) for u in above]
            arriving = sum(found.flow[r, done] - found.drained[r, done] for r in rows)
            gap = np.abs(found.flow[found.row(section.name), done] - arriving)
            forward = np.all([found.flow[r, done] > 0.0 for r in rows], axis=0)
            most = np.abs(found.flow[:, done]).max(axis=0)
            worst = max(worst, float((np.where(forward, gap, 0.0) / np.maximum(most, 1e-9)).max()))
    return worst
