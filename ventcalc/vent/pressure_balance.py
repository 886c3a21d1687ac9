"""Pressure balance: pressures along a vent for given flows, and by how much every way in from the room misses them.

From the terminations inward: wind and the cap's loss, then loss, acceleration and draft of every section (the equation
of `common_vent`), and the coefficients of every junction (`junctions`).
"""

import numpy as np

from ventcalc.flow import junctions
from ventcalc.units import GRAVITY
from ventcalc.vent.boundary_conditions import Boundary
from ventcalc.vent.heat_balance import HeatBalance
from ventcalc.vent.network import Network

TOLERANCE = 1e-4  # Pa, at every outlet whose flow is solved for

FALLING_AIR_LOSS = 0.5  # sharp entry (losses.csv L051), where outdoor air falls down the vent


class PressureBalance(HeatBalance):
    """What `HeatBalance` finds, and the pressures that go with it; lists hold one array a section."""

    def __init__(self, network: Network, boundary: Boundary, drawn: list, guess: list | None = None):
        super().__init__(network, boundary, drawn, guess)
        self._pressures()

    def _pressures(self) -> None:
        """Pressure at both ends of every section, from the terminations inward."""
        pipes, n = self.network.pipes, len(self.network.pipes)
        self.pressure_up, self.pressure_down, self.legs = [None] * n, [None] * n, [None] * n
        self.outlet_total = [None] * len(self.boundary.prescribed)
        for i in reversed(range(n)):
            pipe, run = pipes[i], self.runs[i]
            if pipe.parent < 0:
                end_loss = self.boundary.of(pipe.end_loss)
                factor = np.where(self.flow[i] >= 0.0, 1.0 + end_loss, FALLING_AIR_LOSS + end_loss)
                volume = run.volume_out
                head = factor * self.flow[i] * np.abs(self.flow[i]) * volume / (2.0 * self.boundary.of(pipe.area) ** 2)
                self.pressure_down[i] = self.boundary.wind_at(i) + head
            ahead = self.pressure_down[i] - self.boundary.added_at(i)
            run.press(self._gauge(i, ahead) / (self.network.pressure * pipe.thin_air))
            run.draft = self._draft(i)
            self.pressure_up[i] = ahead + run.loss + run.acceleration - run.draft
            self._into_legs(i)
            if pipe.appliance >= 0:
                self.outlet_total[pipe.appliance] = self.pressure_up[i]

    def _draft(self, i: int):
        """Draft [Pa] that a section makes by its rise."""
        pipe = self.network.pipes[i]
        return GRAVITY * pipe.rise * (self.boundary.outdoor_density * pipe.thin_air - self.runs[i].density)

    def _gauge(self, i: int, ahead):
        """Mean static pressure [Pa] of a section, gauge, for its total pressure ``ahead`` of it: it presses the gas."""
        run, pipe = self.runs[i], self.network.pipes[i]
        head = 0.5 * (self.flow[i] / self.boundary.of(pipe.area)) ** 2 * run.volume_mean
        return ahead - head + 0.5 * (run.loss + run.acceleration - self._draft(i))

    def _into_legs(self, i: int) -> None:
        """Pressure at the downstream ends of the sections that lead into section i."""
        pipe = self.network.pipes[i]
        if pipe.form is None:
            for c in pipe.children:
                self.pressure_down[c] = self.pressure_up[i]
            return
        combined, pressed = self.runs[i].volume_in, self.runs[i].pressed
        branch, run = pipe.children[-1], pipe.children[0]
        branch_flow, branch_volume = self._at_end(branch, pressed)
        run_flow, run_volume = np.zeros_like(combined), combined
        if len(pipe.children) == 2:
            run_flow, run_volume = self._at_end(run, pressed)
        volumes = branch_volume, run_volume, combined
        form, area = self.boundary.form(i), self.boundary.of(pipe.area)
        self.legs[i] = junctions.leg_pressures(form, volumes, area, branch_flow, run_flow)
        self.pressure_down[branch] = self.pressure_up[i] + self.legs[i][0]
        if len(pipe.children) == 2:
            self.pressure_down[pipe.children[0]] = self.pressure_up[i] + self.legs[i][1]

    def _at_end(self, i: int, pressed):
        """Flow [kg/s] and volume [m3/kg] at a section's downstream end, the gas ``pressed`` as the stream it joins."""
        left = np.where(self.flow[i] > 0.0, 1.0 - self.runs[i].drained, 1.0)
        return self.flow[i] * left, self.runs[i].volume_out / (left * left * pressed)

    @property
    def residual(self):
        """Worst mismatch [Pa] over the ways in from the room, one value a state."""
        worst = np.zeros(self.boundary.outdoor.size)
        self.mismatch, self.entry_slope = {}, {}
        for i in self.boundary.free:
            entry, slope = self.boundary.entry(i, self.drawn[i], self.runs[self.network.fed_by[i]].volume_in)
            self.entry_slope[i] = slope
            gap = self.boundary.room_gauge[i] - self.outlet_total[i] - entry
            self.mismatch[i] = np.where(np.isfinite(slope), gap, 0.0)
            worst = np.maximum(worst, np.abs(self.mismatch[i]))
        return worst

    def greatest_flow(self, i: int, pressure):
        """Flow [kg/s] that a pressure could drive through the way in and the first section of appliance i alone."""
        row = self.network.fed_by[i]
        run, resistance = self.runs[row], self.boundary.resistance[i]
        first = run.factor * run.volume_mean / (2.0 * self.boundary.of(self.network.pipes[row].area) ** 2)
        return np.where(np.isfinite(resistance), np.sqrt(np.abs(pressure) / (resistance + first)), 0.0)
