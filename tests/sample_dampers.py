"""Dampers to test: square and round ones, and a season to stand in."""

import numpy as np

from ventcalc import tables
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.dampers import Damper
from ventcalc.units import Q_
from ventcalc.vent.network import Season
from ventcalc.vent.states import States

TIGHT = leakage_class("EN class 3")
LOSSES = [r for r in tables.read("dampers") if r["kind"] == "loss"]


def square(side=0.4, blades="opposed", count=4, leakage=TIGHT, **more):
    return Damper(blades, Q_(side, "m"), Q_(side, "m"), leakage, count, **more)


def disk(diameter=0.4, blades="butterfly", **more):
    return square(diameter, blades, count=1, **more)


KINDS = [square(), square(blades="parallel"), disk(), disk(blades="thin butterfly")]
WINTER = Season("winter", Q_(-20, "degC"), Q_(20, "degC"))


def one_state(plant, *codes):
    return States(np.array([[c] for c in codes]), np.zeros(1, int), np.zeros(1), np.zeros(1))
