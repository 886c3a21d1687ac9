"""Surveyed vent: what every gauge would show on a vent that stands, for many variants of it at once.

A variant is the vent as drawn with some inputs otherwise (`uncertain_inputs`, by their names) and some things changed
(`survey_causes`). All variants in all conditions of a survey are columns of one solution. Wind acts on the terminals by
their own coefficients: from where it blew nobody wrote down.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
import scipy

from ventcalc.draft import held_pressure
from ventcalc.flow.heat_loss import OUTDOOR_FILM, STILL_ROOM_FILM
from ventcalc.gas import combustion
from ventcalc.gas.streams import CO2, CO2_CONSTANT, GAS_R, VAPOUR_CONSTANT, WATER
from ventcalc.job import input_draws, margins, performance_test, remedy, uncertain_inputs
from ventcalc.job.changed_network import changed, joined, stacked
from ventcalc.job.job_file import Job
from ventcalc.job.performance_test import (
    CARBON_DIOXIDE,
    FAN,
    FOOT,
    GAUGE,
    OUTLET,
    OXYGEN,
    PRESSURE,
    SENSOR,
    SPEED,
    SURFACE,
    TEMPERATURE,
    VELOCITY,
)
from ventcalc.job.survey import ROOM, TAP, Condition, Place
from ventcalc.job.survey_causes import Values
from ventcalc.vent import end_of_header, layout
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.network import Network, compile_network
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.vent.solution import Solution
from ventcalc.vent.states import States
from ventcalc.vent.varied_streams import StreamTable

# Points of added oxygen and temperature between which streams are read: what burners are found at.
OXYGEN_POINTS = np.array([-0.03, -0.015, 0.0, 0.015, 0.03, 0.05, 0.075, 0.105])
HOTTER_POINTS = np.array([-40.0, -15.0, 0.0, 15.0, 40.0])
DRAWN_FORMULA = 0.0  # of those for junctions (`junctions.AUTHORS`), by which every vent as drawn is reckoned


@dataclass(frozen=True)
class Read:
    """One place and quantity in one condition: what is asked of `Solved`; a pressure ``outdoors``: against outdoors."""

    condition: Condition
    place: Place
    quantity: str
    outdoors: bool = False


class SurveyedVent:
    """A job's vent in the ``conditions`` of a survey, with the fan that stands there already."""

    def __init__(self, job: Job, conditions: Sequence[Condition]):
        self.job, self.conditions = job, tuple(conditions)
        days = list(dict.fromkeys(c.weather for c in conditions))
        seasons = tuple(w.season(performance_test.nearest_season(job, w.outdoor)) for w in days)
        # One barometer: the air of one day weighs the same to a few parts in a thousand.
        self.plant = days[0].at(job.plant)
        self.network = compile_network(self.plant, seasons)
        drawn = remedy.as_drawn(job)
        self.controls = tuple(drawn.controls)
        sensors = margins.sensor_errors(job, self.controls)
        here = replace(job, plant=self.plant, seasons=seasons)
        found = uncertain_inputs.of_remedy(here, replace(drawn, plant=self.plant), self.controls, sensors)
        self.inputs = tuple(i for i in found if i.kind.distribution != "choice")
        self.formulas = next((int(i.spread) for i in found if i.kind.distribution == "choice"), 1)
        self.tables = _tables(self.network)
        codes = np.array([c.codes(self.plant) for c in self.conditions]).T
        cold = np.array([c.cold for c in self.conditions])
        season = np.array([days.index(c.weather) for c in self.conditions])
        self.states = States(codes, season, cold, np.ones(season.size, bool))
        self._start = solve_network(self.network, self.states).drawn

    def tells(self, asked: Read) -> bool:
        """Whether the vent's sums tell what is asked."""
        if (asked.quantity == SPEED and not self.controls) or (asked.quantity == SURFACE and asked.condition.cold):
            return False
        return (asked.place.kind, asked.quantity) in _TELL

    def values(self, scores: np.ndarray, formula: float = DRAWN_FORMULA) -> Values:
        """The inputs at standard normal scores (inputs, variants), and by which ``formula`` junctions are reckoned."""
        shares = scipy.special.ndtr(scores)
        found = {(i.kind.key, i.subject): i.values(u) for i, u in zip(self.inputs, shares, strict=True)}
        if self.formulas > 1:
            found["junction_formula", ""] = np.broadcast_to(np.asarray(formula, float), scores.shape[1:])
        return found

    def solve(self, values: Values, count: int) -> "Solved":
        """All variants in all conditions."""
        every = {key: np.broadcast_to(v, (count,)) for key, v in values.items()}
        network, controls = input_draws.with_values(self.network, self.controls, every, count, self.tables)
        network = changed(network, self.network, every, count)
        seasons, conditions = len(self.network.seasons), len(self.conditions)
        which, column = np.repeat(np.arange(count), conditions), np.tile(np.arange(conditions), count)
        states = self.states[column]
        states = replace(states, season=states.season + seasons * which)
        start = self._start[:, column]
        if controls:
            controls = tuple(replace(c, offset=c.offset[states.season]) for c in controls)
            held = held_pressure.hold_network(network, states, controls, None, start)
            solution, settled = held.solution, held.settled
        else:
            solution = solve_network(network, states, None, start)
            settled = solution.converged
        return Solved(self, network, solution, settled, every, count)


def batch(vent: SurveyedVent, reads: Sequence[Read], parts, conditions: Sequence[Condition] = ()):
    """What is read (variants, reads) in each of several batches, solved as one; and where gas comes into a room in some
    ``conditions`` (variants, conditions).

    A batch is its causes, their points (variants, causes), scores of the inputs (inputs, variants), and the formula of
    the junctions.
    """
    blocks = []
    for causes, points, scores, formula in parts:
        changes = [c.change(vent.job, c.value(points[:, k])) for k, c in enumerate(causes)]
        blocks.append((joined(vent.values(scores, formula), *changes), scores.shape[1]))
    values, total = stacked(blocks)
    solved = vent.solve(values, total)
    found = np.array([solved.read(r) for r in reads]).reshape(len(reads), total).T
    spills = np.array([solved.spills(c) for c in conditions]).reshape(len(conditions), total).T
    ends = np.cumsum([count for _, count in blocks])[:-1]
    return np.split(found, ends), np.split(spills, ends)


STEP = 0.5  # of a score, where slopes are taken


def drawn_parts(vent: SurveyedVent) -> list[tuple]:
    """What `Drawn` is read from, as parts of a `batch`: the vent as drawn, with each input a `STEP` off its middle, and
    by each formula of its junctions."""
    many, none = len(vent.inputs), np.zeros((1, 0))
    middle = np.zeros((many, 1))
    return [
        ((), none, middle, DRAWN_FORMULA),
        ((), np.zeros((many, 0)), STEP * np.eye(many), DRAWN_FORMULA),
        *(((), none, middle, float(k)) for k in range(vent.formulas)),
    ]


@dataclass(frozen=True)
class Drawn:
    """What is read of the vent as drawn, and what that hangs on.

    ``read`` (reads) with all inputs in their middle; ``shift`` (reads) from there to the mean of all formulas of the
    junctions, and how far ``apart`` they are (reads, formulas), as slopes on a standard normal score each; ``slopes``
    (reads, scores) on those of the inputs and of the formulas.
    """

    read: np.ndarray
    shift: np.ndarray
    apart: np.ndarray
    slopes: np.ndarray

    @classmethod
    def of(cls, parts: Sequence[np.ndarray]) -> "Drawn":
        """From what was read in the `drawn_parts`."""
        (drawn,), steps, *by_formula = parts
        formulas = np.concatenate(by_formula)
        middle = formulas.mean(axis=0)
        shift = middle - drawn if len(formulas) > 1 else np.zeros(drawn.shape)
        apart = (formulas - middle).T / np.sqrt(len(formulas))
        return cls(drawn, shift, apart, _slopes(drawn, steps, apart))

    def slopes_at(self, read: np.ndarray, steps: np.ndarray) -> np.ndarray:
        """Slopes at another point of the inputs or the causes: what was ``read`` there, and after each of the steps."""
        return _slopes(read, steps, self.apart)


def _slopes(read: np.ndarray, steps: np.ndarray, apart: np.ndarray) -> np.ndarray:
    return np.nan_to_num(np.concatenate([(steps - read).T / STEP, apart], axis=1))


@dataclass(frozen=True)
class _Stream:
    """What an appliance of a network sends, known by all that it hangs on: ``by``."""

    by: str
    network: Network = field(compare=False)
    i: int = field(compare=False)


@lru_cache(maxsize=64)
def _table(of: _Stream) -> StreamTable:
    return StreamTable(of.network, of.i, OXYGEN_POINTS, HOTTER_POINTS)


def _tables(network: Network) -> tuple[StreamTable, ...]:
    """Tables of all appliances; equal ones share theirs, and the last ones are kept for the survey's next reading."""
    found = []
    for i, a in enumerate(network.plant.appliances):
        own = a.fuel, a.levels, a.room, a.outlet_diameter, a.category, a.kind
        found.append(_table(_Stream(repr((own, network.seasons, network.pressure)), network, i)))
    return tuple(found)


class Solved:
    """Variants of a vent, solved; `read` tells what a gauge would show in each."""

    def __init__(self, vent: SurveyedVent, network: Network, solution: Solution, settled, values: Values, count: int):
        self.vent, self.network, self.solution, self.settled = vent, network, solution, settled
        self.values, self.count = values, count

    def columns(self, condition: Condition) -> np.ndarray:
        """Columns of a condition, one a variant."""
        total = len(self.vent.conditions)
        return self.vent.conditions.index(condition) + total * np.arange(self.count)

    def read(self, asked) -> np.ndarray:
        """What is read in every variant [SI]; NaN where it did not come to rest, or the vent's sums do not tell it."""
        pick = self.columns(asked.condition)
        tell = _TELL.get((asked.place.kind, asked.quantity))
        if tell is None:
            return np.full(self.count, np.nan)
        found = np.where(self.settled[pick], tell(self, asked, pick), np.nan)
        return found + self._reference(asked, pick) if asked.outdoors else found

    def spills(self, condition: Condition) -> np.ndarray:
        """Variants in which gas comes into a room while anything fires, whatever gas: the safe side."""
        pick = self.columns(condition)
        fires = any(level != "off" for level in condition.levels)
        back = (self.solution.drawn[:, pick] < -REVERSAL_FLOW).any(axis=0)
        return (back | ~self.settled[pick]) & fires

    def of(self, key: str, subject: str, otherwise: float) -> np.ndarray:
        """What an input or a change is in every variant."""
        return self.values.get((key, subject), np.full(self.count, otherwise))

    def _appliance(self, asked) -> int:
        return [a.name for a in self.vent.plant.appliances].index(asked.place.appliance)

    def outlet_pressure(self, asked, pick):
        """Static, against the room, in the appliance's outlet."""
        return self.solution.outlet_pressure[self._appliance(asked), pick]

    def tap_pressure(self, asked, pick):
        """Static, in line between the section's ends; against its room, outdoors against the open air there."""
        s, name, share = self.solution, asked.place.section, asked.place.share
        row = self.vent.plant.row(name)
        up = s.pressure_up[row, pick] - s.head_up[row, pick]
        down = s.pressure_down[row, pick] - s.added[row, pick] - s.head_down[row, pick]
        return up + share * (down - up) - self._around(name, share, pick)

    def _around(self, name: str, share: float, pick) -> np.ndarray | float:
        row = self.vent.plant.row(name)
        pipe, (low, high) = self.network.pipes[row], self.vent.plant.heights[name]
        if pipe.outdoors:
            return 0.0
        return self.network.room_at(low + share * (high - low), self.solution.states, pipe.around)[pick]

    def _reference(self, asked, pick) -> np.ndarray | float:
        """What a pressure is read against [Pa over outdoors]."""
        kind, plant = asked.place.kind, self.vent.plant
        if kind == OUTLET:
            return self.solution.room_gauge[self._appliance(asked), pick]
        if kind == GAUGE:
            return end_of_header.far_end_room(self.network, self.solution.states)[pick]
        if kind == FOOT:
            return self._around(held_pressure.stack_base(plant), 1.0, pick)
        return self._around(asked.place.section, asked.place.share, pick) if kind == TAP else 0.0

    def foot_pressure(self, asked, pick):
        """As a tap at the end of the section before the stack's rise."""
        base = held_pressure.stack_base(self.vent.plant)
        return self.tap_pressure(Read(asked.condition, Place(TAP, section=base, share=1.0), PRESSURE), pick)

    def header_pressure(self, asked, pick):
        """At the end of the header."""
        return end_of_header.far_end_pressure(self.solution, self.network)[pick]

    def sensor_pressure(self, asked, pick):
        """The same by the control's sensor."""
        return self.header_pressure(asked, pick) + self.of("sensor read", "", 0.0)

    def room_pressure(self, asked, pick):
        """The room against outdoors at the height of its opening."""
        rooms = [layout.ROOM, *(p.name for p in self.vent.plant.places)]
        at = 0
        if asked.place.appliance:
            a = self.vent.plant.appliances[self._appliance(asked)]
            at = rooms.index(a.room)
        return self.network.place_pressure[at, self.solution.states.season[pick]]

    def outlet_temperature(self, asked, pick):
        """Gas in the connector's inlet."""
        return self.solution.upstream[self._feed(asked), pick]

    def _feed(self, asked) -> int:
        return self.vent.plant.row(self.vent.plant.feeds[self._appliance(asked)])

    def tap_temperature(self, asked, pick):
        """In line between the section's ends: it cools by a few degrees there."""
        row, share = self.vent.plant.row(asked.place.section), asked.place.share
        up, down = self.solution.upstream[row, pick], self.solution.downstream[row, pick]
        return up + share * (down - up)

    def tap_surface(self, asked, pick):
        """Outside of a hot wall, in line between the section's ends.

        Wall over air as the outside film is of all that resists outside the gas; the inner wall stays behind the gas by
        the same share of what it is above the air as at the colder end.
        """
        s, name = self.solution, asked.place.section
        row = self.vent.plant.row(name)
        pipe, material, season = self.network.pipes[row], self.vent.plant.order[row].material, s.states.season[pick]
        air = self.network.outdoor[season] if pipe.outdoors else self.network.place_temperature[pipe.around, season]
        key, film = ("outdoor_film", OUTDOOR_FILM) if pipe.outdoors else ("still_film", STILL_ROOM_FILM)
        outside = 1.0 / (material.diameter_ratio * film * self.of(key, "", 1.0)) / pipe.outside_resistance[season]
        gas, end = self.tap_temperature(asked, pick), s.downstream[row, pick]
        behind = (s.wall[row, pick] - air) / np.where(np.abs(end - air) > 1e-6, end - air, 1e-6)
        return air + (gas - air) * behind * outside

    def foot_temperature(self, asked, pick):
        """At the end of the section before the stack's rise."""
        return self.solution.downstream[self.vent.plant.row(held_pressure.stack_base(self.vent.plant)), pick]

    def outlet_dioxide(self, asked, pick):
        """Dry, as the appliance makes it, ahead of any dilution."""
        i, states = self._appliance(asked), self.solution.states
        gas = self.network.gas[i][:, states.season[pick], states.codes[i, pick].astype(int)]
        return gas[CO2] * CO2_CONSTANT / (gas[GAS_R] - gas[WATER] * VAPOUR_CONSTANT)

    def tap_dioxide(self, asked, pick):
        """Dry, of all that flows there."""
        return self.solution.co2_dry[self.vent.plant.row(asked.place.section), pick]

    def outlet_oxygen(self, asked, pick):
        """Dry; of complete combustion oxygen and carbon dioxide lie on one line for a fuel."""
        fuel = self.vent.plant.appliances[self._appliance(asked)].fuel
        return combustion.OXYGEN_IN_AIR * (1.0 - self.outlet_dioxide(asked, pick) / _most_dioxide(fuel))

    def tap_oxygen(self, asked, pick):
        """As at an outlet, by the fuel of the first appliance that the section serves."""
        fuel = self.vent.plant.serves(asked.place.section)[0].fuel
        return combustion.OXYGEN_IN_AIR * (1.0 - self.tap_dioxide(asked, pick) / _most_dioxide(fuel))

    def tap_velocity(self, asked, pick):
        """Mean velocity in the section's bore."""
        row = self.vent.plant.row(asked.place.section)
        return self.solution.velocity[row, pick]

    def fan_speed(self, asked, pick):
        """Speed of the fan that stands there over its rated one: pressure goes by its square."""
        drive = self.vent.controls[0].device
        return drive.most_speed * np.sqrt(self.of("fan", "", 1.0))


def _most_dioxide(fuel) -> float:
    """Carbon dioxide in dry flue gas without excess air."""
    return float(combustion.products.bare(fuel, 0.0, 0.0).co2_dry)


_TELL = {
    (OUTLET, PRESSURE): Solved.outlet_pressure,
    (OUTLET, TEMPERATURE): Solved.outlet_temperature,
    (OUTLET, OXYGEN): Solved.outlet_oxygen,
    (OUTLET, CARBON_DIOXIDE): Solved.outlet_dioxide,
    (TAP, PRESSURE): Solved.tap_pressure,
    (TAP, TEMPERATURE): Solved.tap_temperature,
    (TAP, OXYGEN): Solved.tap_oxygen,
    (TAP, CARBON_DIOXIDE): Solved.tap_dioxide,
    (TAP, VELOCITY): Solved.tap_velocity,
    (TAP, SURFACE): Solved.tap_surface,
    (FOOT, PRESSURE): Solved.foot_pressure,
    (FOOT, TEMPERATURE): Solved.foot_temperature,
    (GAUGE, PRESSURE): Solved.header_pressure,
    (SENSOR, PRESSURE): Solved.sensor_pressure,
    (ROOM, PRESSURE): Solved.room_pressure,
    (FAN, SPEED): Solved.fan_speed,
}
