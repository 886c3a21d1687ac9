"""Vents followed in time, for the tests."""

from dataclasses import replace

import numpy as np
from sample_plants import GAS, SEASONS, opposed_plant, random_tree, row_plant

from ventcalc.flow import materials
from ventcalc.gas.appliance import Appliance, FiringLevel
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve
from ventcalc.vent.course import Course
from ventcalc.vent.layout import Plant, Section, Termination
from ventcalc.vent.network import Season
from ventcalc.vent.states import States
from ventcalc.vent.time_step import Method
from ventcalc.vent.transient import run

STILL = Season("still", Q_(10, "degC"), Q_(10, "degC"))
WARM = Season("warm", Q_(60, "degC"), Q_(60, "degC"))  # above the dew point of flue gas
COARSE = Method(step=0.1, films=1, walls=5)  # for where it comes to rest
FROZEN, LIGHT, ADIABATIC = replace(COARSE, capacity=np.inf), replace(COARSE, capacity=0.05), Method(adiabatic=True)


def one_pipe(length=15.0, rise=15.0, millimeters=250.0, wall="stainless special gas vent single wall", celsius=200.0,
             kilowatts=300.0, place="room", purge=None):  # fmt: skip
    """One sealed burner under one straight pipe of its outlet's diameter."""
    level = FiringLevel("fire", Q_(kilowatts, "kW"), 0.3, Q_(celsius, "degC"))
    burner = Appliance("B", GAS, "III", (level,), Q_(millimeters, "mm"), Q_(1, "m"), (Q_(-50, "Pa"), Q_(50, "Pa")),
                       purge_flow=purge)  # fmt: skip
    pipe = Section("pipe", Q_(length, "m"), Q_(rise, "m"), Q_(millimeters, "mm"), materials.material(wall), "top",
                   place=place)  # fmt: skip
    return Plant("one pipe", Q_(0, "m"), Q_(0, "m"), (burner,), ("pipe",), (pipe,), (Termination("top", "open end"),))


def course(codes, time, start_codes=None, season=0, cold=1.0, windy=0.0):
    """One run: codes (appliances, knots) at knots of time, from a steady state or, without one, from rest."""
    codes = np.array(codes, float)[..., None]
    start = None
    if start_codes is not None:
        start = States(np.array(start_codes, float)[:, None], np.array([season]), np.array([cold]), np.array([windy]))
    knots = np.full((len(time), 1), windy)
    return Course(np.array(time, float), codes, np.array([season]), knots, start)


def lit(plant, codes, duration, seasons, cold=1.0, windy=0.0):
    """Runs from the idle vent to ``codes`` (appliances, runs) within 2 s."""
    codes, seasons = np.array(codes, float), np.array(seasons)
    runs = seasons.size
    start = States(np.zeros_like(codes), seasons, np.full(runs, cold), np.full(runs, windy))
    knots = np.stack([np.zeros_like(codes), codes, codes], axis=1)
    return Course(np.array([0.0, 2.0, duration]), knots, seasons, np.full((3, runs), windy), start)


def front_arrival(result, row=0):
    """When the gas at the end of a section has half its way to light."""
    light = -1.0 / result.downstream[row, :, 0]
    return np.interp(0.5 * (light[0] + light.max()), light, result.time)


FORCED = row_plant()
PLANTS = {
    "junctions": FORCED,
    "wet": row_plant(celsius=55.0),
    "plastic": row_plant(celsius=55.0, vent="polypropylene vent"),
    "leaking": row_plant(idle="leaking"),
    "hoods": row_plant(kind="draft hood", celsius=180.0, vent="Type B gas vent"),
    "regulators": row_plant(kind="barometric", celsius=180.0, vent="Type B gas vent"),
    "head on": opposed_plant(),
    "tree 1": random_tree(1),
    "tree 7": random_tree(7),
}


def mixed_codes(plant):
    """Far end alone at high fire, near end alone at low, all at high."""
    codes = np.zeros((len(plant.appliances), 3))
    codes[0, 0], codes[-1, 1], codes[:, 2] = 2, 1, 2
    return codes


def end_against_steady(plant, method, duration, cold, seasons=(0, 1, 0), windy=0.0):
    codes = mixed_codes(plant)
    result = run(plant, SEASONS, lit(plant, codes, duration, seasons, windy=windy), stride=1.0, method=method)
    runs = len(seasons)
    states = States(codes, np.array(seasons), np.full(runs, cold), np.full(runs, windy))
    return result, solve(plant, SEASONS, states)
