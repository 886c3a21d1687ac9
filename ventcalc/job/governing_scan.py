"""Governing scan: the states that govern a job, and what vents and remedies do in these alone."""

from dataclasses import replace

import numpy as np

from ventcalc.job import governing_states
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import Remedy
from ventcalc.job.remedy_outcome import Outcome, forced, gathered, outcome
from ventcalc.vent import firing_states
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import compile_network
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States


class GoverningScan:
    """The states that govern a job, and what is solved in them; more are added as remedies fail in others."""

    def __init__(self, job: Job, whole: Scan, picked: np.ndarray):
        self.job, self.whole, self.picked = job, whole, picked
        self._solved: dict[Plant, Scan] = {}

    @property
    def scan(self) -> Scan:
        """The vent as drawn in these states."""
        first = self.whole.first
        return self.of(replace(first, solution=first.solution.columns(self.picked)))

    def of(self, scan: Scan) -> Scan:
        """A scan that counts for these states alone."""
        return replace(scan, condition=None, history=None, complete=False)

    def natural(self, plant: Plant, near: Scan | None = None) -> Scan:
        """A vent without devices, solved from hot; ``near`` is that of another one, from which to begin."""
        if plant not in self._solved:
            solution = self._hot(plant, self.whole.conditions[self.picked], near)
            self._solved[plant] = Scan(plant, self.job.seasons, solution, self.whole.possible, False)
        return self._solved[plant]

    def everywhere(self, plant: Plant) -> Scan:
        """A vent without devices, solved from hot in all states."""
        solution = self._hot(plant, self.whole.conditions, self.whole.first)
        return Scan(plant, self.job.seasons, solution, self.whole.possible, self.whole.complete)

    def _hot(self, plant: Plant, states: States, near: Scan | None) -> Solution:
        """Solved from hot; where every burner forces its flow there is one root, and it is sought from a near one."""
        begun = () if near is None else (near.solution.drawn if forced(plant) else None, near.solution.outlets)
        return solve_network(compile_network(plant, self.job.seasons), states, None, *begun)

    def from_every_past(self, plant: Plant) -> Scan:
        """A vent without devices in these states, with every root of each that a past leads to."""
        states = self.whole.conditions[self.picked]
        return firing_states.of_states(plant, self.job.seasons, states, self.whole.possible, False)

    def outcome(self, remedy: Remedy, natural: Scan | None = None) -> Outcome:
        """What a remedy leaves in these states; ``natural`` is its vent, solved, where nothing moves."""
        if not remedy.controls:
            found = gathered(self.job, remedy, natural or self.natural(remedy.plant), None)
        else:
            found = outcome(self.job, remedy, self.scan, rough=True)
        return replace(found, everywhere=False)

    def add(self, scan: Scan) -> bool:
        """Add what governs another vent; whether there was anything new."""
        more = np.union1d(self.picked, governing_states.governing(scan))
        new, self.picked = more.size > self.picked.size, more
        self._solved.clear()
        return new
