"""Transient: the vent in time, from a steady state through what its burners do next.

`common_vent` says where a vent comes to rest; this module how it gets there. At light-off the stack still stands full
of cool air, which the first flue gas has to push out: seconds. Then the walls warm up: minutes. And a column of gas
has mass: what a fan or a burner adds within a second or two accelerates it first.

What burners and weather do is a `course`, one step is that of `time_step`, gas and walls are those of `gas_column`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.door import door
from ventcalc.vent.course import Course, Inputs, Start, course_of
from ventcalc.vent.layout import Plant
from ventcalc.vent.moving_vent import Device, MovingVent, feed_of
from ventcalc.vent.network import Network, Season, compile_network
from ventcalc.vent.time_step import USUAL, Method

CHUNK = 20_000  # runs times steps whose inputs are worked out together


@dataclass(frozen=True)
class Transient:
    """Runs in time, plain SI; the last two axes are times and runs, sections in the order of ``plant.order``.

    Sections: ``flow`` [kg/s] at the upstream end, ``flow_out`` [m3/s] and ``density_out`` at the downstream end, gas
    ``upstream`` and ``downstream`` [K], inner ``wall`` [K] of the last cell, total pressure ``pressure_up`` and
    ``pressure_down`` [Pa] and what a device ``added`` [Pa], as in `solution.Solution`.
    Appliances: ``outlet_pressure`` [Pa] and ``drawn`` [kg/s] as there, ``spilled`` flue gas [kg] that has
    come into the room since the start. ``header_pressure`` [Pa] as `end_of_header.far_end_pressure`. Bookkeeping since
    the start: mass [kg] and energy [J] that ``entered`` at the appliances and ``left`` at the terminations, what the
    gas ``held``, what walls had ``stored``, what was ``lost`` to the surroundings, and the water that ``settled`` on
    walls, less what dried again: ``entered - left - settled`` is the change of held, for energy that of held and
    stored and lost.
    """

    plant: Plant
    seasons: tuple[Season, ...]
    course: Course
    barometric: float
    time: np.ndarray
    flow: np.ndarray
    flow_out: np.ndarray
    density_out: np.ndarray
    upstream: np.ndarray
    downstream: np.ndarray
    wall: np.ndarray
    pressure_up: np.ndarray
    pressure_down: np.ndarray
    added: np.ndarray
    outlet_pressure: np.ndarray
    drawn: np.ndarray
    spilled: np.ndarray
    header_pressure: np.ndarray
    mass_entered: np.ndarray
    mass_left: np.ndarray
    mass_held: np.ndarray
    energy_entered: np.ndarray
    energy_left: np.ndarray
    energy_held: np.ndarray
    energy_stored: np.ndarray
    energy_lost: np.ndarray
    mass_settled: np.ndarray
    energy_settled: np.ndarray

    def row(self, section: str) -> int:
        """Row of a section in the arrays."""
        return self.plant.row(section)


_OF_SECTIONS = (
    "flow",
    "flow_out",
    "density_out",
    "upstream",
    "downstream",
    "wall",
    "pressure_up",
    "pressure_down",
    "added",
)
_OF_APPLIANCES = ("outlet_pressure", "drawn", "spilled")
_OF_RUNS = ("header_pressure", "mass_entered", "mass_left", "mass_held", "energy_entered", "energy_left",
            "energy_held", "energy_stored", "energy_lost", "mass_settled", "energy_settled")  # fmt: skip


@door(plain={"stride": "s"}, above={"stride": 0.0})
def run(
    plant: Plant,
    seasons: tuple[Season, ...],
    course: Course,
    added: Device | np.ndarray | None = None,
    stride: float = 0.2,
    method: Method = USUAL,
) -> Transient:
    """Follow a plant through a course, to the time of its last knot.

    ``added`` [Pa] as in `common_vent.solve`: an array (sections, runs), or a function that is asked for one in every
    step with the `moving_vent.Instant` before it; it may return with it the slope [Pa s/m3] against the flow there,
    which a device that resists much more the more flows (a damper all but shut) must, or a step overshoots. ``stride``
    [s] between the times that are kept. Raises ValueError where the course does not fit the plant, or a stride is no
    whole number of steps.
    """
    return run_network(compile_network(plant, tuple(seasons)), course, added, stride, method)


@door(plain={"stride": "s"}, above={"stride": 0.0})
def run_network(network: Network, course: Course, added=None, stride: float = 0.2, method: Method = USUAL):
    """As `run`, on a plant that is compiled already."""
    every, plant = round(stride / method.step), network.plant
    if every < 1 or abs(every * method.step - stride) > 1e-9:
        raise ValueError(f"stride {stride:g} s must be a whole number of steps of {method.step:g} s")
    if len(course.codes) != len(plant.appliances):
        raise ValueError(f"course has codes of {len(course.codes)} appliances, need {len(plant.appliances)}")
    steps = int(np.ceil(course.time[-1] / method.step - 1e-9))
    steps += -steps % every
    runs, times = course.season.size, steps // every + 1
    vent = MovingVent(network, course, added, method, times)
    chunk = max(CHUNK // runs, 1)
    for begin in range(0, steps + 1, chunk):
        numbers = np.arange(begin, min(begin + chunk, steps + 1))
        feed = Inputs(network, vent.grid, *course.between(method.step * numbers))
        vent.follow(feed_of(feed), numbers, every)
    rows = zip((_OF_SECTIONS, _OF_APPLIANCES, _OF_RUNS), vent.kept, strict=True)
    found = {name: table[row] for names, table in rows for row, name in enumerate(names)}
    time = method.step * every * np.arange(times)
    return Transient(plant, network.seasons, course, network.pressure, time, **found)


@door(plain={"duration": "s", "stride": "s"}, above={"duration": 0.0, "stride": 0.0})
def starts(
    plant: Plant,
    seasons: tuple[Season, ...],
    changes: Sequence[Start],
    duration: float = 60.0,
    added: Device | np.ndarray | None = None,
    stride: float = 0.2,
    method: Method = USUAL,
) -> Transient:
    """Follow many starts, stops and turn-downs side by side for a ``duration`` [s]: one run for each of ``changes``.

    ``plant``, ``seasons``, ``added``, ``stride`` and ``method`` as in `run`. Raises ValueError where a ramp or a fan
    takes no time, or a start is not over within the duration.
    """
    course = course_of(plant, tuple(changes), duration)
    return run(plant, seasons, course, added, stride, method)
