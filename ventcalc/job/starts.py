"""Starts: a remedy that holds the header started in every season and every order in which the burners may be called.

A start is good only if it is good in all of them.
"""

from dataclasses import dataclass, replace
from itertools import permutations, product

import numpy as np

from ventcalc.draft.closed_loop import Runs
from ventcalc.draft.start_settings import Settings
from ventcalc.draft.start_timeline import Timeline
from ventcalc.job import loop_settings, trial_run
from ventcalc.job.job_file import Job
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.run_record import Act, Passed, what_acts, what_outlets_met

ALL_ORDERS = 4  # appliances up to which every order of starting is run


@dataclass(frozen=True)
class Start:
    """A start on cold walls in one ``season`` and one ``order`` of the appliances, with nothing wrong.

    It ``lasts`` [s]; ``header`` is the lowest and highest pressure at its end [Pa] from the first release on;
    ``acts`` are limits that would have stopped it for nothing.
    """

    season: str
    order: tuple[str, ...]
    lasts: float
    header: tuple[float, float]
    outlets: tuple[Passed, ...]
    acts: tuple[Act, ...]

    @property
    def beyond(self) -> float:
        """How far the worst outlet leaves its window [Pa]."""
        return max(o.beyond for o in self.outlets)

    @property
    def into_room(self) -> float:
        """Flue gas that comes into the room at all outlets [kg]."""
        return sum(o.into_room for o in self.outlets)


def orders(outcome: Outcome) -> tuple[tuple[int, ...], ...]:
    """The orders of starting that are run: as drawn first, and all of them up to `ALL_ORDERS` appliances.

    Beyond that those in which the worst is looked for: from the outlet of least margin to the one of most, the other
    way, from the largest input to the smallest, the other way, and each appliance brought to the front and put last.
    """
    count = len(outcome.remedy.plant.appliances)
    drawn = tuple(range(count))
    if count <= ALL_ORDERS:
        return tuple(permutations(drawn))
    margins = np.argsort([e.margin for e in outcome.envelopes], kind="stable").tolist()
    inputs = [float(max(lv.heat_input for lv in a.levels).m_as("W")) for a in outcome.remedy.plant.appliances]
    by_input = np.argsort(inputs, kind="stable").tolist()
    found = [drawn, *(tuple(o) for own in (margins, by_input) for o in (own, own[::-1]))]
    for i in drawn:
        rest = tuple(k for k in margins if k != i)
        found += [(i, *rest), (*rest, i)]
    return tuple(dict.fromkeys(found))


def all_starts(job: Job, outcome: Outcome, settings: Settings) -> tuple[list[Timeline], Runs]:
    """Every order in every season side by side, the order as drawn first: their timelines, and the runs."""
    ordered = (tuple(settings.burners[i] for i in order) for order in orders(outcome))
    plans = [loop_settings.start(replace(settings, burners=burners)) for burners in ordered]
    pairs = list(product(plans, range(len(job.seasons))))
    plans, seasons = [plan for plan, _ in pairs], [season for _, season in pairs]
    return plans, trial_run.started(job, outcome.remedy, settings, plans, seasons)


def start_of_run(job: Job, settings: Settings, plan: Timeline, runs: Runs, k: int) -> Start:
    """What one run of many was as a start."""
    begin = loop_settings.released(plan)
    counts = (runs.time >= begin) & (runs.time <= plan.until)
    pressure = runs.pressure[counts, k]
    return Start(
        season=job.seasons[runs.season[k]].name,
        order=plan.names,
        lasts=plan.until,
        header=(float(pressure.min()), float(pressure.max())),
        outlets=what_outlets_met(runs, k, counts),
        acts=what_acts(settings, runs, k, begin),
    )
