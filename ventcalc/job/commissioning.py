"""Commissioning: a remedy that holds the header, started and failed in every way before it is built.

Starts in every order and season (`starts`), then what can fail (`failures`), and from the same runs the limits of the
job (`derived_limits`). Everything stops being counted when the burners would have been shut. Calm weather; outlet
dampers stand open.
"""

from dataclasses import dataclass
from math import factorial

from ventcalc.job import loop_settings, trial_run
from ventcalc.job.derived_limits import DerivedLimits, derived, with_limits
from ventcalc.job.failures import STILL, Failure, all_failures, failures_of_run
from ventcalc.job.job_file import Job
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.starts import Start, all_starts, start_of_run
from ventcalc.job.trial_run import TrialRun


@dataclass(frozen=True)
class Coverage:
    """What was run of what there is: ``orders`` of ``possible`` in each of ``seasons``; governing ``states`` of all
    ``conditions`` of the remedy's scan; ``failures`` in all."""

    orders: int
    possible: int
    seasons: int
    states: int
    conditions: int
    failures: int


@dataclass(frozen=True)
class Tried:
    """All of it: every `Start`, every `Failure`, the `DerivedLimits`, and the start as called in the worst season, with
    these limits (``trial``)."""

    starts: tuple[Start, ...]
    failures: tuple[Failure, ...]
    limits: DerivedLimits
    trial: TrialRun
    coverage: Coverage

    @property
    def worst_start(self) -> Start:
        """The start that leaves a window farthest."""
        return max(self.starts, key=lambda s: (s.beyond, s.into_room))

    def worst(self, case: str) -> Failure | None:
        """The gravest failure of a kind, by `Failure.gravity`."""
        return max((f for f in self.failures if f.case == case), key=lambda f: f.gravity, default=None)


def tried(job: Job, outcome: Outcome) -> Tried | None:
    """Start and fail a remedy in every way, and derive its limits; None where it does not hold the header."""
    remedy, scan = outcome.remedy, outcome.scan
    if remedy.set_point is None:
        return None
    settings, tuned = loop_settings.tuned_settings(job, remedy)
    plans, starts = all_starts(job, outcome, settings)
    cases, failing = all_failures(job, outcome, settings)
    limits = derived(job, outcome, settings, starts, [i for i, c in enumerate(cases) if c.kind == STILL], failing)
    settings = with_limits(settings, limits)
    seasons = len(job.seasons)
    drawn = (trial_run.of_run(job, settings, tuned, plans[k], starts, k) for k in range(seasons))
    trial = trial_run.followed_on(job, remedy, max(drawn, key=lambda run: run.gravity))
    count = len(job.plant.appliances)
    states = {(c.season, c.cold, c.before) for c in cases}
    return Tried(
        starts=tuple(start_of_run(job, settings, plans[k], starts, k) for k in range(len(plans))),
        failures=tuple(f for k, case in enumerate(cases) for f in failures_of_run(job, settings, case, failing, k)),
        limits=limits,
        trial=trial,
        coverage=Coverage(
            orders=len(plans) // seasons,
            possible=factorial(count),
            seasons=seasons,
            states=len(states),
            conditions=scan.count(scan.any_running),
            failures=len(cases) + sum(c.kind == STILL for c in cases),  # a line that is blocked is the same run
        ),
    )
