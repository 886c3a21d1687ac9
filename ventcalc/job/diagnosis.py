"""Diagnosis: what a survey of a vent that stands comes to: the cause, how sure it is, and what the vent does mended.

Readings that were likely written down wrong are left aside when the vent is fitted; what explains the readings has been
weighed with all of them (`calibration`).
"""

from dataclasses import dataclass, replace

import numpy as np
import scipy

from ventcalc.job import calibration, mended_vent, next_reading, performance_test, survey_dangers, survey_plan
from ventcalc.job.calibration import Calibration, Explanation, Suspect
from ventcalc.job.evidence import Fit
from ventcalc.job.mended_vent import Mended
from ventcalc.job.next_reading import TELLING, Candidate, NextReading
from ventcalc.job.survey import Reading
from ventcalc.job.survey_causes import AS_DRAWN, SOMETHING_ELSE, Cause
from ventcalc.job.survey_dangers import Danger
from ventcalc.job.survey_file import Taken
from ventcalc.job.suspect_readings import read_of

LIKELY_WRONG = 0.5  # chance from which a reading is left aside
NEARLY = 0.8  # of what the most telling reading tells
WITHIN = 0.90  # of the range in which a cause's number is told to lie
POSSIBLE = 0.05  # chance from which another explanation is told of as not ruled out


@dataclass(frozen=True)
class Extent:
    """How much of a ``cause`` there is: its ``value`` [SI] at the best fit, and the ends between which it lies with
    `WITHIN`."""

    cause: Cause
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Line:
    """A ``reading`` with the ``time`` it was taken, what it should be as ``drawn`` and as ``fitted`` [SI, NaN where the
    vent's sums do not tell it or nothing was fitted], and its ``suspect``, None where it is likely right."""

    reading: Reading
    time: str
    drawn: float
    fitted: float
    suspect: Suspect | None

    @property
    def off_drawn(self) -> float:
        """Off the vent as drawn, in standard deviations of the instrument."""
        return (self.reading.value - self.drawn) / self.reading.error

    @property
    def off_fitted(self) -> float:
        """Off the best fit, likewise."""
        return (self.reading.value - self.fitted) / self.reading.error


@dataclass(frozen=True)
class Diagnosis:
    """What a survey comes to.

    ``extents`` of the causes of the `best` explanation, none where that is the vent as drawn or something else.
    ``dangers`` are told by readings alone; in ``unsafe`` conditions the vent lets gas into the room even as drawn.
    ``following`` weighs what could be read next. ``mended`` is what the calibrated vent does in all its firing states,
    None where nobody asked or nothing was fitted.
    """

    taken: Taken
    calibration: Calibration
    lines: tuple[Line, ...]
    extents: tuple[Extent, ...]
    dangers: tuple[Danger, ...]
    unsafe: tuple[performance_test.Condition, ...]
    following: NextReading
    mended: Mended | None

    @property
    def best(self) -> Explanation:
        """The likeliest explanation of the likeliest group."""
        return self.alike[0]

    @property
    def alike(self) -> tuple[Explanation, ...]:
        """All that these readings cannot tell from it, it first."""
        return tuple(sorted(self.calibration.groups[0][0], key=lambda e: -e.chance))

    @property
    def chance(self) -> float:
        """That of all of these together."""
        return self.calibration.groups[0][1]

    @property
    def sound(self) -> bool:
        """Whether nothing was found: the vent as drawn explains the readings best, and none tells of danger."""
        return AS_DRAWN in {e.code for e in self.alike} and not self.dangers

    @property
    def next(self) -> Candidate | None:
        """The reading to take next, None for none: the most telling in a condition in which the vent as drawn is safe,
        and of which no reading told danger.

        Where one told danger, a reading with all off that tells nearly as much goes before.
        """
        bad = [_firing(d.reading.condition.levels) for d in self.dangers]
        unsafe = {c.levels for c in self.unsafe}

        def allowed(levels: tuple[str, ...]) -> bool:
            return levels not in unsafe and not any(own <= _firing(levels) for own in bad)

        safe = [c for c in self.following.candidates if c.information >= TELLING and allowed(c.read.condition.levels)]
        if not safe:
            return None
        enough = NEARLY * safe[0].information
        off = (c for c in safe if not _firing(c.read.condition.levels) and c.information >= enough)
        return next(off, safe[0]) if bad else safe[0]

    @property
    def holds_mended(self) -> bool:
        """Whether nothing speaks against the vent once it is mended, at rest; False where nobody asked.

        A vent that spills as drawn from some past does so mended, too.
        """
        return self.mended is not None and self.mended.mended.holds and not self.unsafe

    @property
    def others(self) -> tuple[tuple[tuple[Explanation, ...], float], ...]:
        """Groups of other explanations that are not ruled out."""
        return tuple(group for group in self.calibration.groups[1:] if group[1] >= POSSIBLE)


def diagnose(taken: Taken, study: bool = False) -> Diagnosis:
    """Weigh all causes for what was read, fit the likeliest; with ``study`` solve all states of the vent so fitted.

    Raises ValueError where no reading is one that the vent's sums can tell.
    """
    found = calibration.calibrate(taken.survey)
    likely = [s for s in found.suspects if s.chance >= LIKELY_WRONG]
    sure = replace(found, unread=tuple(sorted({*found.unread, *(s.slip.number for s in likely)})))
    best = max(found.groups[0][0], key=lambda e: e.chance)
    fits = best.code != SOMETHING_ELSE and len(sure.unread) < len(taken.survey.readings)
    fit = sure.fit(best) if fits else None
    return Diagnosis(
        taken,
        found,
        _lines(taken, found, best, fit, likely),
        _extents(found, best, fit) if fit else (),
        survey_dangers.dangers(taken.survey),
        survey_plan.unsafe(taken.survey.job),
        next_reading.next_reading(found),
        mended_vent.mended(found, best, fit) if fit and study else None,
    )


def _firing(levels: tuple[str, ...]) -> set[tuple[int, str]]:
    """What fires, at which level; whoever fires more brings all of that about too."""
    return {(i, level) for i, level in enumerate(levels) if level != "off"}


def _extents(found: Calibration, best: Explanation, fit: Fit) -> tuple[Extent, ...]:
    many, half = len(found.vent.inputs), float(scipy.special.ndtri(0.5 + 0.5 * WITHIN))
    extents = []
    for k, cause in enumerate(best.causes, many):
        doubt = half * float(np.sqrt(fit.covariance[k, k]))
        ends = scipy.special.ndtr(fit.scores[k] + doubt * np.array([0.0, -1.0, 1.0]))
        extents.append(Extent(cause, *(float(v) for v in cause.value(ends))))
    return tuple(extents)


def _lines(
    taken: Taken, found: Calibration, best: Explanation, fit: Fit | None, likely: list[Suspect]
) -> tuple[Line, ...]:
    """Every reading beside the vent as drawn and as fitted."""
    reads, vent = [read_of(r) for r in taken.survey.readings], found.vent
    drawn = vent.solve(vent.values(np.zeros((len(vent.inputs), 1))), 1)
    fitted = None if fit is None else mended_vent.fitted(vent, best, fit, vent)
    wrong = {s.slip.number: s for s in reversed(likely)}
    return tuple(
        Line(
            reading,
            time,
            float(drawn.read(read)[0]),
            float("nan") if fitted is None else float(fitted.read(read)[0]),
            wrong.get(n),
        )
        for n, (reading, time, read) in enumerate(zip(taken.survey.readings, taken.times, reads, strict=True))
    )
