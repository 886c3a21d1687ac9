"""Margins: how far every outlet stays inside its window, and how much of that is uncertain."""

from collections.abc import Sequence

import numpy as np

from ventcalc.door import door
from ventcalc.draft import damper_sizing, sensor_error
from ventcalc.draft.damper_sizing import Duties
from ventcalc.draft.dampers import Damper
from ventcalc.draft.held_pressure import HEADER, Control, Held
from ventcalc.job import loop_settings
from ventcalc.job.device_duty import DAMPER_TOLERANCE
from ventcalc.job.job_file import Job
from ventcalc.vent import end_of_header, outlet_envelope
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant

# Accuracy of a pressure sensor for draft control (common practice, no source).
SENSOR_ACCURACY = 0.01  # of its span
# How much of the loss between a sensor and an outlet is uncertain (common practice, no source).
LOSS_DOUBT = 0.25


def margins(scan: Scan) -> np.ndarray:
    """Distance [Pa] of every outlet to the nearer edge of what it may (`outlet_envelope.limits`; appliances, states);
    NaN while it is off."""
    found = []
    for i, pressure in enumerate(scan.solution.outlet_pressure):
        low, high = outlet_envelope.limits(scan, i)
        found.append(np.where(scan.running(i), np.minimum(pressure - low, high - pressure), np.nan))
    return np.array(found)


def governing(controls: Sequence[Control]) -> dict[str, int]:
    """Which control holds what: its place among all, by its sensor; what holds nothing governs nothing."""
    return {c.sensor: k for k, c in enumerate(controls) if c.holds}


def sensor_errors(job: Job, controls: Sequence[Control]) -> tuple[float, ...]:
    """How far [Pa] the sensor of each control may be off, by the range that its set point asks for."""
    ranges = (loop_settings.sensor_range(job, control) for control in controls)
    return tuple(float(sensor_error.span_error.bare(*ends, SENSOR_ACCURACY)) for ends in ranges)


@door(plain={"actuator_step": ""}, at_least={"actuator_step": 0.0})
def uncertainty(
    scan: Scan, held: Held | None, sensors: Sequence[float], actuator_step: float = damper_sizing.ACTUATOR_STEP
) -> np.ndarray:
    """What counts against a margin [Pa] (appliances, states): sensor, actuator, and a quarter of the loss between.

    The sensor is the one that governs an outlet: its own, else the header's, each off by its own of the ``sensors``
    (`sensor_errors`, in the order of the controls), with one step of the damper's actuator that it moves
    (``actuator_step`` of its stroke). Where nothing is held, the loss is that of the whole way to the open, where
    pressure is known.
    """
    holding = governing(held.controls) if held else {}
    found = []
    for a in scan.plant.appliances:
        k = holding.get(a.name, holding.get(HEADER))
        known = sensors[k] + steps(scan, held, k, actuator_step) if k is not None else 0.0
        between = 0.0 if a.name in holding else loss_between(scan, a.name, HEADER if k is not None else None)
        found.append(np.broadcast_to(known + LOSS_DOUBT * between, len(scan.states)))
    return np.array(found)


def at_worst(margin: np.ndarray, doubt: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each outlet, in the state where least is left of one beyond the other: its margin and what is uncertain of it
    [Pa]."""
    worst = np.nanargmin(margin - doubt, axis=1)[:, None]
    return tuple(np.take_along_axis(values, worst, axis=1)[:, 0] for values in (margin, doubt))


@door(plain={"actuator_step": ""}, at_least={"actuator_step": 0.0})
def steps(scan: Scan, held: Held, k: int, actuator_step: float = damper_sizing.ACTUATOR_STEP) -> np.ndarray:
    """What one step of its damper's actuator moves [Pa] in every state; 0 where a control has no damper."""
    control = held.controls[k]
    by_second = control.second is not None
    device = control.second.device if by_second else control.device
    found = np.zeros(len(scan.states))
    if isinstance(device, Damper):
        section = control.second.section if by_second else control.section
        taken = -(held.second if by_second else held.added)[k]
        acts = np.flatnonzero(held.acts[k] & held.settled)
        if acts.size:
            density = scan.solution.density[scan.solution.row(section), acts]
            flow = scan.solution.flow[scan.solution.row(section), acts] / density
            duties = Duties(flow, density, taken[acts], acts)
            found[acts] = damper_sizing.size(duties, [device], DAMPER_TOLERANCE, actuator_step=actuator_step)[0].step
    return found


@door(plain={"actuator_step": ""}, at_least={"actuator_step": 0.0})
def header_uncertainty(
    scan: Scan, held: Held | None, sensors: Sequence[float], actuator_step: float = damper_sizing.ACTUATOR_STEP
) -> np.ndarray:
    """What is uncertain of the pressure at the end of the header [Pa], per state; arguments as of `uncertainty`.

    Where a control holds it that is its sensor and one step of its actuator; else a quarter of the loss from there to
    the open.
    """
    k = governing(held.controls).get(HEADER) if held else None
    if k is not None:
        return sensors[k] + steps(scan, held, k, actuator_step)
    return LOSS_DOUBT * _lost(scan, _from_header(scan.plant))


def loss_between(scan: Scan, appliance: str, sensor: str | None) -> np.ndarray:
    """Loss [Pa] between an outlet and the end of the header, or (None) the open, per state; all parts as sizes."""
    way = [s.name for s in scan.plant.path(appliance)]
    other = [] if sensor is None else _from_header(scan.plant)
    return _lost(scan, [n for n in (*way, *other) if (n in way) != (n in other)])


def _from_header(plant: Plant) -> list[str]:
    """The sections from the end of the header to the open."""
    ends, name, found = {t.name for t in plant.terminations}, end_of_header.far_end(plant), []
    while name not in ends:
        found.append(name)
        name = plant.section(name).into
    return found


def _lost(scan: Scan, sections: Sequence[str]) -> np.ndarray:
    """Loss [Pa] in sections and where each leads into the next, per state; all parts as sizes."""
    plant, solution = scan.plant, scan.solution
    ends, total = {t.name for t in plant.terminations}, np.zeros(len(scan.states))
    for name in sections:
        row, into = plant.row(name), plant.section(name).into
        total += np.abs(solution.loss[row])
        if into not in ends:
            total += np.abs(solution.pressure_down[row] - solution.added[row] - solution.pressure_up[plant.row(into)])
        else:
            total += np.abs(solution.pressure_down[row] - solution.added[row])
    return total
