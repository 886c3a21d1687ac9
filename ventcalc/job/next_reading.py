"""Next reading: which reading, of all that could be taken, would tell the leading explanations of a survey apart best.

Each leading explanation foretells a candidate with a normal distribution, given all that has been read. What a reading
is expected to tell is the information that it shares with which explanation holds (nats): entropy of the mixture less
that of its parts. No condition is asked for in which one of the leading explanations lets gas into a room, or in which
the vent was not solved: nobody is sent into flue gas.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ventcalc.gas.appliance import STANDING
from ventcalc.job import evidence, performance_test
from ventcalc.job.calibration import Branch, Calibration
from ventcalc.job.performance_test import (
    FOOT,
    GAUGE,
    OUTLET,
    OXYGEN,
    PRESSURE,
    SURFACE,
    TEMPERATURE,
    VELOCITY,
    instruments,
)
from ventcalc.job.survey import ROOM, TAP, Condition, Place
from ventcalc.job.survey_causes import SOMETHING_ELSE
from ventcalc.job.surveyed_vent import DRAWN_FORMULA, STEP, Drawn, Read, SurveyedVent, batch, drawn_parts
from ventcalc.job.suspect_readings import read_of
from ventcalc.vent.layout import OUTDOORS

LEADING = 12  # explanations that are told apart
LEAST_CHANCE = 0.01  # of an explanation, from which it counts and its spillage forbids a condition
POINTS = 4  # of an explanation's own numbers
OWN_SLOPES = 0.2  # chance from which a leading cause is foretold by slopes of its own, not those of the vent as drawn
GRID = 241  # points of an integral over one reading
TELLING = 0.02  # nats: a reading that tells less is not worth the hole


@dataclass(frozen=True)
class Candidate:
    """A reading that could be taken: what is ``read``, with what ``error`` as one standard deviation [SI], what it is
    expected to tell (``information``, nats), and by its explanation's number what each leading one foretells: ``means``
    and ``deviations`` [SI]."""

    read: Read
    error: float
    information: float
    leading: tuple[int, ...]
    means: tuple[float, ...]
    deviations: tuple[float, ...]


@dataclass(frozen=True)
class NextReading:
    """Candidates, the most telling first; and the conditions that were ``refused``, since gas may come into a room."""

    candidates: tuple[Candidate, ...]
    refused: tuple[Condition, ...]

    @property
    def best(self) -> Candidate | None:
        """The one to take, None where none tells enough."""
        first = next(iter(self.candidates), None)
        return first if first is not None and first.information >= TELLING else None


def conditions(calibration: Calibration) -> tuple[Condition, ...]:
    """Conditions that could be brought about, in the weather of the last reading, and those of the survey."""
    day = calibration.survey.readings[-1].condition.weather
    asked = performance_test.conditions(calibration.survey.job.plant)
    return tuple(
        dict.fromkeys([*calibration.survey.conditions, *(Condition(tuple(c.levels), False, day) for c in asked)])
    )


def places(calibration: Calibration, condition: Condition) -> Iterator[tuple[Place, str]]:
    """Where something could be read in a condition, from within the building."""
    plant = calibration.survey.job.plant
    levels = dict(zip((a.name for a in plant.appliances), condition.levels, strict=True))
    yield Place(ROOM), PRESSURE
    yield Place(GAUGE), PRESSURE
    for a in plant.appliances:
        yield Place(OUTLET, a.name), PRESSURE
        if levels[a.name] not in STANDING:
            yield Place(OUTLET, a.name), TEMPERATURE
            yield Place(OUTLET, a.name), OXYGEN
    if any(level != "off" for level in condition.levels):
        yield Place(FOOT), TEMPERATURE
    for section in plant.order:
        if section.place != OUTDOORS:
            tap = Place(TAP, section=section.name, share=1.0)
            yield tap, PRESSURE
            if any(levels[a.name] not in STANDING for a in plant.serves(section.name)):
                yield tap, TEMPERATURE
                yield tap, OXYGEN
                yield tap, SURFACE
            if len(plant.serves(section.name)) > 1 or len(plant.appliances) == 1:
                yield Place(TAP, section=section.name, share=0.5), VELOCITY


def usual_error(quantity: str, value: float) -> float:
    """One standard deviation of the usual instrument [SI]."""
    return float(instruments()[quantity].deviation(value))


def next_reading(calibration: Calibration) -> NextReading:
    """Weigh every reading that could be taken next."""
    return _Choice(calibration).found()


class _Choice:
    """Leading explanations in every condition that could be brought about."""

    def __init__(self, calibration: Calibration):
        self.calibration, survey = calibration, calibration.survey
        explanations = calibration.explanations
        self.leading = [
            k
            for k, e in enumerate(explanations)
            if e.code != SOMETHING_ELSE and e.chance >= LEAST_CHANCE and len(e.causes) < 2
        ][:LEADING] or [next(k for k, e in enumerate(explanations) if e.code != SOMETHING_ELSE)]
        self.shares = np.array([explanations[k].chance for k in self.leading])
        self.shares /= self.shares.sum()
        self.conditions = conditions(calibration)
        self.vent = SurveyedVent(survey.job, self.conditions)
        taken = [read_of(r) for r in survey.readings]
        every = [Read(c, *what) for c in self.conditions for what in places(calibration, c)]
        self.reads = [r for r in every if r not in taken and self.vent.tells(r)]
        self.keep = [n for n in range(len(survey.readings)) if n not in calibration.unread]
        self.own = [taken[n] for n in self.keep]

    def found(self) -> NextReading:
        drawn, read, slopes, spills = self._read()
        unsafe = np.any([s.any(axis=0) for s in spills], axis=0)
        refused = tuple(c for c, bad in zip(self.conditions, unsafe, strict=True) if bad)
        told = [self._foretold(own + drawn.shift, s) for own, s in zip(read, slopes, strict=True)]
        means, deviations = (np.array([t[n] for t in told]) for n in (0, 1))
        found = [self._candidate(i, means[:, i], deviations[:, i]) for i in self._allowed(refused, means)]
        return NextReading(tuple(sorted(found, key=lambda c: -c.information)), refused)

    def _read(self) -> tuple[Drawn, list, list, list]:
        """The vent as drawn; of every leading explanation what is read at its points, its slopes, and where it spills.

        All in one solution, what has been read first: a slope bends, and both must be taken at one place. A cause that
        is likely has slopes of its own, taken in the middle of its points.
        """
        many, as_drawn = len(self.vent.inputs), drawn_parts(self.vent)
        weighed = [self._thinned(self.calibration.branches[k]) for k in self.leading]
        causes = [self.calibration.branches[k].causes for k in self.leading]
        points = [(of, at, np.zeros((many, len(at))), DRAWN_FORMULA) for of, at in zip(causes, weighed, strict=True)]
        steep = [n for n, s in enumerate(self.shares) if s >= OWN_SLOPES and causes[n]]
        middles = {n: np.tile(weighed[n][POINTS // 2], (many, 1)) for n in steep}
        steps = [(causes[n], middles[n], STEP * np.eye(many), DRAWN_FORMULA) for n in steep]
        parts = [*as_drawn, *points, *steps]
        read, spills = batch(self.vent, [*self.own, *self.reads], parts, self.conditions)
        drawn, of_points = Drawn.of(read[: len(as_drawn)]), slice(len(as_drawn), len(as_drawn) + len(points))
        own, bent = read[of_points], dict(zip(steep, read[of_points.stop :], strict=True))
        slopes = [drawn.slopes_at(r[POINTS // 2], bent[n]) if n in bent else drawn.slopes for n, r in enumerate(own)]
        return drawn, own, slopes, spills[of_points]

    def _allowed(self, refused, means) -> list[int]:
        known = np.isfinite(means).all(axis=0)
        return [i for i, r in enumerate(self.reads) if r.condition not in refused and known[i]]

    def _thinned(self, b: Branch) -> np.ndarray:
        """Few points of an explanation that stand for all, by what the readings left likely."""
        survey, own = self.calibration.survey, self.calibration.own
        covariance = evidence.spread_of(survey.errors[self.keep], b.slopes[own])
        logs = b.weights + evidence.log_normal(survey.values[self.keep] - b.read[:, own], covariance)
        if not b.causes or not np.isfinite(logs).any():
            return b.points[:1]
        share = np.cumsum(evidence.chances(logs))
        at = np.searchsorted(share, (np.arange(POINTS) + 0.5) / POINTS)
        return b.points[np.minimum(at, len(share) - 1)]

    def _foretold(self, read: np.ndarray, slopes: np.ndarray):
        """Mean and standard deviation of every candidate under one explanation, given what has been read.

        ``read`` (points, reads) and ``slopes`` (reads, scores) are of what has been read first, then of the candidates.
        """
        survey, many = self.calibration.survey, len(self.own)
        mine, slopes = slopes[:many], slopes[many:]
        covariance = evidence.spread_of(survey.errors[self.keep], mine)
        gain = slopes @ np.linalg.solve(covariance, mine).T
        means = read[:, many:] + (survey.values[self.keep] - read[:, :many]) @ gain.T
        left = np.maximum((slopes**2).sum(axis=1) - np.einsum("ij,ij->i", gain, slopes @ mine.T), 0.0)
        return means.mean(axis=0), np.sqrt(left + means.var(axis=0))

    def _candidate(self, i: int, means: np.ndarray, deviations: np.ndarray) -> Candidate:
        read = self.reads[i]
        error = usual_error(read.quantity, float(means @ self.shares))
        whole = np.hypot(deviations, error)
        information = shared_information(self.shares, means, whole)
        return Candidate(read, error, information, tuple(self.leading), tuple(means), tuple(whole))


def shared_information(shares: np.ndarray, means: np.ndarray, deviations: np.ndarray) -> float:
    """Information [nats] that a reading shares with which of several normal distributions it comes from.

    I = sum_k s_k integral N_k ln(N_k / sum_j s_j N_j): between nought and the entropy of the shares.
    """
    z = np.linspace(-5.0, 5.0, GRID)
    x = means[:, None] + deviations[:, None] * z
    own = -0.5 * z**2 - np.log(deviations)[:, None]
    gaps = (x[:, :, None] - means) / deviations
    mixed = np.log((shares * np.exp(-0.5 * gaps**2) / deviations).sum(axis=2))
    weight = np.exp(-0.5 * z**2)
    return float(np.maximum((shares[:, None] * (own - mixed) * weight).sum() / weight.sum(), 0.0))
