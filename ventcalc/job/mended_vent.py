"""Mended vent: what a calibrated vent does at rest in every firing state and season, as it stands and put right.

A calibration fits what is uncertain of a vent, and what has happened to it, to what was read on one day. With these the
vent is solved in all its seasons, on a hot and on a cold stack: once as it stands, once with what happened to it taken
away again.
"""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import scipy

from ventcalc.job import margins, performance_test
from ventcalc.job.calibration import Calibration, Explanation
from ventcalc.job.changed_network import joined
from ventcalc.job.evidence import Fit
from ventcalc.job.job_file import Job
from ventcalc.job.performance_test import Weather
from ventcalc.job.survey import Condition
from ventcalc.job.surveyed_vent import Solved, SurveyedVent
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.outlet_envelope import READABLE

MOST_CONDITIONS = 1_500  # at rest, all seasons; of more those of the performance test are solved


@dataclass(frozen=True)
class AtRest:
    """A vent over ``conditions`` [count]: in how many an outlet stands ``outside`` its window, in how many ``gas``
    comes into a room, how many were not ``solved``; the least ``margin`` [Pa] of all and whose ``outlet`` has it."""

    conditions: int
    outside: int
    gas: int
    unsolved: int
    margin: float
    outlet: str

    @property
    def holds(self) -> bool:
        """Whether nothing of it speaks against the vent at rest."""
        return not (self.outside or self.gas or self.unsolved)


@dataclass(frozen=True)
class Mended:
    """The calibrated vent as it ``stands`` and once it is ``mended``."""

    stands: AtRest
    mended: AtRest


def mended(calibration: Calibration, explanation: Explanation, fit: Fit) -> Mended:
    """Both, by the best ``fit`` of an explanation. ValueError for "something else", of which there is no fit."""
    job = calibration.survey.job
    vent = SurveyedVent(job, conditions(job))
    sound = replace(explanation, causes=())
    return Mended(*(_at_rest(fitted(vent, e, fit, calibration.vent)) for e in (explanation, sound)))


def fitted(vent: SurveyedVent, explanation: Explanation, fit: Fit, read: SurveyedVent) -> Solved:
    """A vent in its conditions by the best fit of an explanation to what was read on another, or on itself."""
    points = scipy.special.ndtr(fit.scores[len(read.inputs) :])
    changes = [c.change(vent.job, c.value(points[k : k + 1])) for k, c in enumerate(explanation.causes)]
    return vent.solve(joined(vent.values(_scores(read, vent, fit)[:, None]), *changes), 1)


def _scores(read: SurveyedVent, vent: SurveyedVent, fit: Fit) -> np.ndarray:
    """Scores of the vent's inputs as they were fitted; what the day of the survey does not have is in its middle."""
    fitted = {(i.kind.key, i.subject): z for i, z in zip(read.inputs, fit.scores, strict=False)}
    return np.array([fitted.get((i.kind.key, i.subject), 0.0) for i in vent.inputs])


def conditions(job: Job) -> tuple[Condition, ...]:
    """Every firing state in every season, calm, on a cold and on a hot stack."""
    plant = job.plant
    levels = [("off", *(level.name for level in a.levels)) for a in plant.appliances]
    count = 2 * len(job.seasons) * np.prod([float(len(own)) for own in levels])
    states = product(*levels) if count <= MOST_CONDITIONS else (c.levels for c in performance_test.conditions(plant))
    firing = [own for own in states if any(level != "off" for level in own)]
    days = [Weather(s.outdoor, s.room) for s in job.seasons]
    return tuple(Condition(own, cold, day) for day in days for cold in (False, True) for own in firing)


def _at_rest(solved: Solved) -> AtRest:
    vent = solved.vent
    scan = Scan(vent.plant, vent.network.seasons, solved.solution, len(vent.conditions), False)
    inside = np.nan_to_num(margins.margins(scan), nan=np.inf)
    least = np.nanmin(np.where(solved.settled, inside, np.nan), axis=1)
    gas = np.array([bool(solved.spills(c)[0]) for c in vent.conditions]) & solved.settled
    worst = int(np.nanargmin(least))
    return AtRest(
        conditions=len(vent.conditions),
        outside=int(((inside < -READABLE).any(axis=0) & solved.settled).sum()),
        gas=int(gas.sum()),
        unsolved=int((~solved.settled).sum()),
        margin=float(least[worst]),
        outlet=vent.plant.appliances[worst].name,
    )
