"""Invented surveys: random plants with a cause planted, all inputs drawn as they are uncertain, read with noise."""

from dataclasses import dataclass

import numpy as np
from sample_plants import row_plant
from sample_remedies import job_of

from ventcalc.job import next_reading, survey_causes
from ventcalc.job.calibration import Calibration, calibrate
from ventcalc.job.performance_test import Weather
from ventcalc.job.survey import Condition, Place, Reading, Survey
from ventcalc.job.survey_causes import Cause
from ventcalc.job.surveyed_vent import Read, SurveyedVent, batch
from ventcalc.units import Q_

KINDS = (
    {"idle": "leaking", "celsius": 150.0},
    {"idle": "sealed", "celsius": 150.0},
    {"idle": "leaking", "celsius": 50.0, "vent": "polypropylene vent"},
    {"kind": "draft hood", "celsius": 180.0, "vent": "Type B gas vent"},
    {"kind": "barometric", "celsius": 180.0, "vent": "Type B gas vent"},
)


def plant_of(seed: int):
    """A random row of one to four equal appliances."""
    rng = np.random.default_rng(seed)
    kind = KINDS[int(rng.integers(len(KINDS)))]
    junction = ("lateral", "straight tee")[int(rng.integers(2))]
    return row_plant(int(rng.integers(1, 5)), stack_height=float(rng.uniform(6.0, 25.0)),
                     kilowatts=float(rng.uniform(150.0, 350.0)), junction=junction, **kind)  # fmt: skip


@dataclass
class Hidden:
    """A vent that stands: its job, the ``cause`` planted (None: as drawn), and by its seed how all else turned out."""

    job: object
    cause: Cause | None
    point: np.ndarray
    seed: int

    def read(self, asked) -> list[float]:
        """What is true of each of several reads, in this vent."""
        conditions = tuple(dict.fromkeys(r.condition for r in asked))
        vent = SurveyedVent(self.job, conditions)
        rng = np.random.default_rng(self.seed + 1)
        scores, formula = rng.standard_normal((len(vent.inputs), 1)), float(rng.integers(3))
        causes = () if self.cause is None else (self.cause,)
        return batch(vent, asked, [(causes, self.point, scores, formula)])[0][0][0].tolist()

    def take(self, asked) -> tuple[Reading, ...]:
        """Readings with honest noise."""
        found = []
        for k, (r, true) in enumerate(zip(asked, self.read(asked), strict=True)):
            error = next_reading.usual_error(r.quantity, true)
            noise = np.random.default_rng((self.seed, k, abs(hash_of(r)))).standard_normal()
            found.append(Reading(r.condition, r.place, r.quantity, true + error * noise, error))
        return tuple(found)


def hash_of(read: Read) -> int:
    """A number of what is read, the same in every process."""
    text = repr((read.condition.levels, read.place, read.quantity))
    return sum((k + 1) * ord(c) for k, c in enumerate(text)) % 1_000_003


def hidden(seed: int, planted: bool = True) -> Hidden:
    """A random plant and cause, by the weights of the table; a weather of any season."""
    job, rng = job_of(plant_of(seed)), np.random.default_rng(seed)
    known = [c for c in survey_causes.causes(job) if c.kind.each != "header sensor"]
    weights = np.array([c.prior for c in known])
    cause = known[int(rng.choice(len(known), p=weights / weights.sum()))] if planted else None
    point = rng.random((1, 1)) if planted else np.zeros((1, 0))
    return Hidden(job, cause, point, seed)


def day_of(seed: int) -> Weather:
    """Weather of the survey of a plant."""
    outdoor = np.random.default_rng(seed + 7).uniform(-10.0, 20.0)
    return Weather(Q_(float(outdoor), "degC"), Q_(20.0, "degC"))


def first_reads(job, seed: int) -> tuple[Read, ...]:
    """What anybody reads first: all at their highest, an outlet, the foot of the stack, and the room."""
    plant = job.plant
    fire = Condition(tuple(a.levels[-1].name for a in plant.appliances), False, day_of(seed))
    outlet = Read(fire, Place("outlet", plant.appliances[0].name), "pressure")
    return outlet, Read(fire, Place("foot"), "gas temperature"), Read(fire, Place("room"), "pressure")


def surveys(of: Hidden, chosen: bool = True):
    """A survey after an outlet's reading, then after each more: the most telling, or any that could be taken."""
    readings = of.take(first_reads(of.job, of.seed)[:1])
    rng = np.random.default_rng(of.seed + 3)
    while True:
        found = calibrate(Survey(of.job, readings))
        yield found, readings
        following = next_reading.next_reading(found).candidates
        if not following:
            return
        best = following[0] if chosen else following[int(rng.integers(len(following)))]
        readings = (*readings, *of.take((best.read,)))


def surveyed(of: Hidden, total: int, chosen: bool = True) -> tuple[Calibration, tuple[Reading, ...]]:
    """A survey of so many readings, or of fewer where no more can be taken."""
    last = next(s := surveys(of, chosen))
    for following in s if len(last[1]) < total else ():
        last = following
        if len(last[1]) >= total:
            break
    return last


def rank(found: Calibration, cause: Cause | None) -> tuple[int, float]:
    """Place of the truth among the groups, from 0, and the chance of the first group."""
    for k, (members, _) in enumerate(found.groups):
        if any(is_it(m, cause) for m in members):
            return k, found.groups[0][1]
    return len(found.groups), found.groups[0][1]


def place_among_causes(found: Calibration, cause: Cause) -> int:
    """Place of a cause among the groups that name one, from 0: "as drawn" and "something else" name none."""
    named = [members for members, _ in found.groups if any(m.causes for m in members)]
    return next((k for k, members in enumerate(named) if any(is_it(m, cause) for m in members)), len(named))


def is_it(explanation, cause: Cause | None) -> bool:
    """Whether an explanation is the one planted."""
    if cause is None:
        return explanation.code == "as_drawn"
    told = [(c.code, c.subject) for c in explanation.causes]
    return told == [(cause.code, cause.subject)]
