"""Calibration: which cause explains what was read on a vent that stands, and how likely.

Every cause that the job can have, alone, pairs of the likeliest, the vent as drawn, and "something else" (readings off
by much more than their instruments) are weighed by their evidence (`evidence`), each with no reading written down wrong
and with every slip that one may have (`suspect_readings`). All of them are solved from the vent as drawn in one batch;
the likeliest are then solved anew about their own best fit. Causes that the readings cannot tell apart are told
together.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

import numpy as np
import scipy

from ventcalc.job import evidence, survey_causes
from ventcalc.job.performance_test import SENSOR
from ventcalc.job.survey import Survey
from ventcalc.job.survey_causes import AS_DRAWN, SOMETHING_ELSE, Cause
from ventcalc.job.surveyed_vent import DRAWN_FORMULA, STEP, Drawn, Read, SurveyedVent, batch, drawn_parts
from ventcalc.job.suspect_readings import Slip, read_of, slips

NODES = 9  # points of a cause's spread that are solved
BETWEEN = 16  # as many between each two are read off a smooth line through them
REFINED = 8  # explanations solved anew about their best fit
PAIRED, PAIR_NODES, PAIR_BETWEEN = 4, 5, 6  # causes of which pairs are made, and points of each
PAIR = 0.03  # how likely a second fault is where there is one (common practice, no source)
INFLATED = (10.0, 30.0, 100.0)  # times its error that a reading is off where something else is the matter
ALIKE = 0.5  # standard deviations within which two causes foretell the same
LOOKED_AT = 1e-3  # chance below which nobody asks what a cause could be mistaken for
SURE = 0.5  # least chance that no reading is wrong
FARTHEST = 3.0  # standard deviations that an input is taken off its middle
TOLD = 0.2  # chance from which a reading is told as likely wrong


@dataclass(frozen=True)
class Explanation:
    """Something that may explain the readings: its ``code``, its ``causes`` (none of the vent as drawn and of something
    else), its ``chance``, and the ``values`` of the causes' numbers at their likeliest point, SI.

    ``told`` is what the readings should be then. ``alike``: others, by their place in `Calibration.explanations`, that
    these readings cannot tell from it.
    """

    code: str
    causes: tuple[Cause, ...]
    chance: float
    values: tuple[float, ...]
    told: np.ndarray
    alike: tuple[int, ...] = ()


@dataclass(frozen=True)
class Suspect:
    """A reading that was likely written down wrong: its ``slip`` and the ``chance`` of that."""

    slip: Slip
    chance: float


@dataclass(frozen=True)
class Branch:
    """An explanation at ``points`` (points, causes) of its numbers' spread, with log ``weights``: what is ``read``
    there (points, reads) with all inputs in their middle, and the ``slopes`` (reads, scores) on these.

    ``prior``: its chance against the others before anything is read. ``inflated``: its readings are off by more than
    their instruments.
    """

    causes: tuple[Cause, ...]
    prior: float
    points: np.ndarray
    weights: np.ndarray
    read: np.ndarray
    slopes: np.ndarray
    inflated: bool = False


@dataclass(frozen=True)
class Calibration:
    """What a survey comes to: ``explanations``, the likeliest first, and ``suspects``, readings likely wrong.

    ``unread``: numbers of readings that the vent's sums do not tell and that were left aside (carbon monoxide).
    ``branches`` are what the explanations were weighed by, in their order, and ``own`` the places of the readings among
    what they read.
    """

    survey: Survey
    vent: SurveyedVent
    explanations: tuple[Explanation, ...]
    suspects: tuple[Suspect, ...]
    unread: tuple[int, ...]
    branches: tuple[Branch, ...] = field(repr=False)
    own: np.ndarray = field(repr=False)

    @property
    def groups(self) -> tuple[tuple[tuple[Explanation, ...], float], ...]:
        """Explanations that the readings cannot tell apart, together with their chance, the likeliest group first."""
        left, found = list(range(len(self.explanations))), []
        while left:
            first = left[0]
            group = [first, *(k for k in self.explanations[first].alike if k in left)]
            left = [k for k in left if k not in group]
            members = tuple(self.explanations[k] for k in group)
            found.append((members, sum(m.chance for m in members)))
        return tuple(sorted(found, key=lambda g: -g[1]))

    def fit(self, explanation: Explanation) -> evidence.Fit:
        """The best fit of an explanation, nuisance inputs and its own numbers together; its last scores are the latter.

        Raises ValueError for "something else", which has no vent.
        """
        if explanation.code == SOMETHING_ELSE:
            raise ValueError("something else: no vent is known that it would be; fit another explanation")
        keep = [n for n in range(len(self.survey.readings)) if n not in self.unread]
        reads = [read_of(self.survey.readings[n]) for n in keep]
        many = len(self.vent.inputs)

        def told(scores: np.ndarray) -> np.ndarray:
            points = scipy.special.ndtr(scores[many:]).T
            return _read(self.vent, reads, explanation.causes, points, scores[:many])

        spans = zip(explanation.causes, explanation.values, strict=True)
        at = [(v - c.kind.least) / (c.kind.most - c.kind.least) for c, v in spans]
        start = np.concatenate([np.zeros(many), scipy.special.ndtri(np.clip(at, 0.02, 0.98))])
        return evidence.fit(told, self.survey.values[keep], self.survey.errors[keep], start)


def calibrate(survey: Survey, more: Sequence[Read] = ()) -> Calibration:
    """Weigh every explanation of a survey's readings; ``more`` is read in the same solutions (`next_reading`).

    Raises ValueError where no reading is one that the vent's sums can tell.
    """
    return _Weighing(survey, more).calibration()


def _read(vent: SurveyedVent, reads, causes: Sequence[Cause], points: np.ndarray, scores: np.ndarray) -> np.ndarray:
    """What is read (variants, reads) where causes stand at ``points`` (variants, causes) and inputs at ``scores``."""
    return batch(vent, reads, [(causes, points, scores, DRAWN_FORMULA)])[0][0]


class _Weighing:
    """All explanations of a survey, and what they are weighed by."""

    def __init__(self, survey: Survey, more: Sequence[Read]):
        self.vent = SurveyedVent(survey.job, survey.conditions)
        self.many = len(self.vent.inputs)
        own = [read_of(r) for r in survey.readings]
        tellable = [n for n, r in enumerate(own) if self.vent.tells(r)]
        if not tellable:
            raise ValueError("no reading is one that the vent's sums tell; take pressures or gas temperatures")
        self.survey, self.keep = survey, tellable
        self.unread = tuple(n for n in range(len(own)) if n not in tellable)
        kept = tuple(survey.readings[n] for n in tellable)
        self.values, self.errors = survey.values[tellable], survey.errors[tellable]
        self.slips = slips(kept, self.vent.plant)
        self.reads = list(dict.fromkeys([*(own[n] for n in tellable), *(s.read for s in self.slips), *more]))
        at = {read: k for k, read in enumerate(self.reads)}
        self.own = np.array([at[own[n]] for n in tellable])
        self.slip_at = [at[s.read] for s in self.slips]
        self.slip_logs = np.log([max(1.0 - sum(s.weight for s in self.slips), SURE), *(s.weight for s in self.slips)])

    def calibration(self) -> Calibration:
        branches = self._drawn_and_single()
        logs = np.array([self.weigh(b) for b in branches])
        branches = self._anew(branches, logs)
        logs = np.array([self.weigh(b) for b in branches])
        pairs = self._pairs(branches, logs)
        branches = [*branches, *pairs]
        logs = np.concatenate([logs, np.array([self.weigh(b) for b in pairs]).reshape(len(pairs), logs.shape[1])])
        return self._told(branches, logs)

    def weigh(self, b: Branch) -> np.ndarray:
        """Logarithm of prior and evidence of a branch with no slip, then with each."""
        return (
            np.log(b.prior) + self.slip_logs + np.array([evidence.log_sum(self._of_points(b, k)) for k in self._which])
        )

    @property
    def _which(self) -> range:
        return range(-1, len(self.slips))

    def _foretold(self, b: Branch, slip: int) -> tuple[np.ndarray, np.ndarray]:
        """What is written (points, readings) and its slopes, with a slip or none (-1)."""
        read, slopes = b.read[:, self.own].copy(), b.slopes[self.own].copy()
        if slip >= 0:
            s, at = self.slips[slip], self.slip_at[slip]
            read[:, s.number], slopes[s.number] = s.factor * b.read[:, at], s.factor * b.slopes[at]
        return read, slopes

    def _of_points(self, b: Branch, slip: int) -> np.ndarray:
        """Logarithm of weight and density of the readings at every point of a branch."""
        read, slopes = self._foretold(b, slip)
        if not b.inflated:
            return b.weights + evidence.log_normal(self.values - read, evidence.spread_of(self.errors, slopes))
        covariances = [evidence.spread_of(np.hypot(1.0, k) * self.errors, slopes) for k in INFLATED]
        found = [evidence.log_normal(self.values - read, c) for c in covariances]
        return b.weights + evidence.log_sum(np.array(found), axis=0) - np.log(len(INFLATED))

    def _drawn_and_single(self) -> list[Branch]:
        """The vent as drawn, something else, and every single cause, all by the slopes of the vent as drawn."""
        causes = [c for c in survey_causes.causes(self.survey.job) if self._concerns(c)]
        nodes, as_drawn = np.linspace(0.0, 1.0, NODES)[:, None], drawn_parts(self.vent)
        single = [((c,), nodes, np.zeros((self.many, NODES)), DRAWN_FORMULA) for c in causes]
        read = batch(self.vent, self.reads, [*as_drawn, *single])[0]
        self.drawn = Drawn.of(read[: len(as_drawn)])
        one = np.zeros((1, 0)), np.zeros(1), (self.drawn.read + self.drawn.shift)[None], self.drawn.slopes
        found = [
            Branch((), survey_causes.prior(AS_DRAWN), *one),
            Branch((), survey_causes.prior(SOMETHING_ELSE), *one, inflated=True),
        ]
        for c, own in zip(causes, read[len(as_drawn) :], strict=True):
            points, weights, between = _between(nodes[:, 0], own + self.drawn.shift)
            found.append(Branch((c,), c.prior, points[:, None], weights, between, self.drawn.slopes))
        return found

    def _concerns(self, cause: Cause) -> bool:
        """A control's sensor is asked about where it was read."""
        return cause.kind.each != "header sensor" or any(r.place.kind == SENSOR for r in self.survey.readings)

    def _anew(self, branches: list[Branch], logs: np.ndarray) -> list[Branch]:
        """The likeliest branches solved anew about their own best fit, by their own slopes there."""
        order = [k for k in np.argsort(-logs.max(axis=1)) if not branches[k].inflated][:REFINED]
        nodes = np.linspace(0.0, 1.0, NODES)[:, None]
        parts, bests = [], []
        for k in order:
            b, slip = branches[k], int(logs[k].argmax()) - 1
            point, scores = self._best(b, slip)
            bests.append(scores)
            here = np.tile(point, (self.many, 1))
            parts.append((b.causes, point[None], scores[:, None], DRAWN_FORMULA))
            parts.append((b.causes, here, scores[:, None] + STEP * np.eye(self.many), DRAWN_FORMULA))
            own = nodes if b.causes else np.zeros((1, 0))
            parts.append((b.causes, own, np.tile(scores[:, None], len(own)), DRAWN_FORMULA))
        read = batch(self.vent, self.reads, parts)[0]
        found = list(branches)
        for n, k in enumerate(order):
            at, steps, along = read[3 * n : 3 * n + 3]
            slopes = self.drawn.slopes_at(at, steps)
            # In the middle of all inputs, had the slopes been these all the way.
            own = along + self.drawn.shift - slopes[:, : self.many] @ bests[n]
            b = branches[k]
            if not b.causes:
                found[k] = replace(b, read=own, slopes=slopes)
                continue
            points, weights, between = _between(nodes[:, 0], own)
            found[k] = replace(b, points=points[:, None], weights=weights, read=between, slopes=slopes)
        return found

    def _best(self, b: Branch, slip: int) -> tuple[np.ndarray, np.ndarray]:
        """The likeliest point of a branch and the scores of the inputs there."""
        k = int(self._of_points(b, slip).argmax())
        read, slopes = self._foretold(b, slip)
        covariance = evidence.spread_of(self.errors, slopes)
        scores = slopes.T @ np.linalg.solve(covariance, self.values - read[k])
        return b.points[k], np.clip(scores[: self.many], -FARTHEST, FARTHEST)

    def _pairs(self, branches: list[Branch], logs: np.ndarray) -> list[Branch]:
        """Pairs of the likeliest single causes, by the mean of both slopes."""
        single = [k for k in np.argsort(-logs.max(axis=1)) if branches[k].causes][:PAIRED]
        nodes = np.linspace(0.0, 1.0, PAIR_NODES)
        grid = np.array([(a, b) for a in nodes for b in nodes])
        total = sum(b.prior for b in branches if b.causes)
        parts, both = [], []
        for i, j in combinations(single, 2):
            one, other = branches[i], branches[j]
            parts.append(((*one.causes, *other.causes), grid, np.zeros((self.many, len(grid))), DRAWN_FORMULA))
            both.append((one, other))
        found = []
        for part, (one, other), read in zip(parts, both, batch(self.vent, self.reads, parts)[0], strict=True):
            points, weights, between = _between_both(nodes, read + self.drawn.shift)
            prior = 2.0 * PAIR * one.prior * other.prior / total
            found.append(Branch(part[0], prior, points, weights, between, 0.5 * (one.slopes + other.slopes)))
        return found

    def _told(self, branches: list[Branch], logs: np.ndarray) -> Calibration:
        joint = evidence.chances(logs)
        own = joint.sum(axis=1)
        order = np.argsort(-own)
        branches = [branches[k] for k in order]
        logs, own = logs[order], own[order]
        bests = [self._of_points(b, int(logs[k].argmax()) - 1).argmax() for k, b in enumerate(branches)]
        found = []
        for k, b in enumerate(branches):
            numbers = tuple(float(c.value(b.points[bests[k], n])) for n, c in enumerate(b.causes))
            told = b.read[bests[k], self.own]
            alike = self._alike(branches, bests, k) if own[k] >= LOOKED_AT else ()
            found.append(Explanation(_code(b), b.causes, float(own[k]), numbers, told, alike))
        wrong = joint.sum(axis=0)[1:]
        suspects = [
            Suspect(replace(s, number=self.keep[s.number]), float(c))
            for s, c in zip(self.slips, wrong, strict=True)
            if c >= TOLD
        ]
        suspects.sort(key=lambda s: -s.chance)
        return Calibration(
            self.survey, self.vent, tuple(found), tuple(suspects), self.unread, tuple(branches), self.own
        )

    def _alike(self, branches: list[Branch], bests: list, k: int) -> tuple[int, ...]:
        """Single causes that foretell the same readings as one does at its best, within what can be told apart."""
        b = branches[k]
        if len(b.causes) != 1 or not self._seen(b, bests[k]):
            return ()
        root = np.linalg.cholesky(evidence.spread_of(self.errors, b.slopes[self.own]))
        found = []
        for j, other in enumerate(branches):
            if j != k and len(other.causes) == 1:
                gaps = np.linalg.solve(root, (other.read[:, self.own] - b.read[bests[k], self.own]).T).T
                if _nearest(gaps) < ALIKE:
                    found.append(j)
        return tuple(found)

    def _seen(self, b: Branch, best: int) -> bool:
        """Whether a cause changes the readings of the vent as drawn by more than cannot be told."""
        inverse = np.linalg.inv(evidence.spread_of(self.errors, b.slopes[self.own]))
        gap = b.read[best, self.own] - (self.drawn.read + self.drawn.shift)[self.own]
        return bool(gap @ inverse @ gap >= ALIKE**2)


def _nearest(points: np.ndarray) -> float:
    """Distance from nought to a line through points (points, readings)."""
    begin, along = points[:-1], np.diff(points, axis=0)
    square = np.maximum((along**2).sum(axis=1), 1e-300)
    share = np.clip(-(begin * along).sum(axis=1) / square, 0.0, 1.0)
    gaps = np.linalg.norm(begin + share[:, None] * along, axis=1)
    return float(np.nanmin(gaps)) if np.isfinite(gaps).any() else np.inf


def _code(b: Branch) -> str:
    if not b.causes:
        return SOMETHING_ELSE if b.inflated else AS_DRAWN
    return "+".join(c.code for c in b.causes)


def _between(nodes: np.ndarray, read: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points alike over a spread, their log weights, and what is read there by a smooth line through the nodes.

    Where the vent came to no rest at a node nothing is read beyond its neighbors.
    """
    count = BETWEEN * (len(nodes) - 1)
    points = (np.arange(count) + 0.5) / count
    known = np.isfinite(read).all(axis=1)
    found = np.full((count, read.shape[1]), np.nan)
    if known.sum() >= 2:
        found = scipy.interpolate.PchipInterpolator(nodes[known], read[known], extrapolate=False)(points)
    return points, np.full(count, -np.log(count)), found


def _between_both(nodes: np.ndarray, read: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """As `_between`, over a square of two spreads."""
    count = PAIR_BETWEEN * (len(nodes) - 1)
    points = (np.arange(count) + 0.5) / count
    square = np.array([(a, b) for a in points for b in points])
    weights = np.full(count**2, -2.0 * np.log(count))
    values = read.reshape(len(nodes), len(nodes), -1)
    if not np.isfinite(values).all():
        return np.array([(a, b) for a in nodes for b in nodes]), np.full(len(read), -np.log(len(read))), read
    along = scipy.interpolate.PchipInterpolator(nodes, values, axis=0)(points)
    return square, weights, scipy.interpolate.PchipInterpolator(nodes, along, axis=1)(points).reshape(count**2, -1)
