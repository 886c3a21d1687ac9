"""Sensor held: the vent as it stands when a control brings what a wrong sensor reads to the set point."""

from dataclasses import replace

import numpy as np

from ventcalc.door import door
from ventcalc.draft.held_pressure import HEADER, Control, Device, Held, Ideal, before_termination, hold
from ventcalc.draft.sensor_reading import PLAIN, Leg, Reading, Tap, read
from ventcalc.units import Quantity
from ventcalc.vent import outlet_envelope
from ventcalc.vent.firing_states import Scan

ANYTHING = Ideal()  # a device that never comes to a limit
_STEADY = 0.25  # Pa, a thousandth of an inch of water: less than any sensor's own error
_PASSES = 8


@door(set_point="Pa", plain={"doubt": ""}, at_least={"doubt": -1.0}, at_most={"doubt": 1.0})
def held(
    scan: Scan,
    set_point: Quantity,
    tap: Tap | None = None,
    leg: Leg = PLAIN,
    device: Device = ANYTHING,
    doubt: float = 0.0,
) -> Held:
    """The vent when a control at its end brings what this sensor reads to its set point, in every state.

    The end of the header then stands at the set point less the sensor's error. ``tap`` None: a perfect sensor, at the
    end of the header. ``device`` stands before the termination; left out it can do anything. ``doubt`` -1 to 1 moves
    the reading within what is not known of it. The error is read again in the vent as held until it stays; a state in
    which it does not is not ``settled``. Raises ValueError as `read` does.
    """
    place, offset, todo = before_termination(scan.plant), np.zeros(len(scan.states)), np.arange(len(scan.states))
    found, vent = None, scan
    for _ in range(1 if tap is None else _PASSES):
        if tap is not None:
            fresh = _offset(read(vent, tap, leg), doubt)
            todo = np.flatnonzero(np.abs(fresh - offset) >= _STEADY) if found else todo
            offset[todo] = fresh[todo]
        if not todo.size:
            break
        control = Control(place, device, HEADER, set_point, offset[todo])
        part = hold(scan.plant, scan.seasons, scan.states[todo], (control,))
        found = _merged(found, part, todo, replace(control, offset=offset)) if found else part
        vent = found.scan(scan)
    else:
        if tap is not None:  # out of passes: where the error still moves it has not settled
            moves = np.abs(_offset(read(vent, tap, leg), doubt) - offset) >= _STEADY
            found = replace(found, settled=found.settled & ~moves)
    return found


def _merged(whole: Held, part: Held, states: np.ndarray, control: Control) -> Held:
    """The whole with those states as they are in the part."""

    def put(old, new):
        both = old.copy()
        both[..., states] = new
        return both

    def arrays(thing) -> list[str]:
        return [name for name, value in vars(thing).items() if isinstance(value, np.ndarray)]

    solved = {n: put(getattr(whole.solution, n), getattr(part.solution, n)) for n in arrays(whole.solution)}
    solution = replace(whole.solution, **solved)
    return replace(
        whole,
        controls=(control,),
        solution=solution,
        **{n: put(getattr(whole, n), getattr(part, n)) for n in arrays(whole)},
    )


def _offset(found: Reading, doubt: float) -> np.ndarray:
    """What a control takes for its sensor's error; none where nothing runs, for it does not act there."""
    return np.nan_to_num(found.error + doubt * found.doubt)


def set_points(perfect: Held, scan: Scan) -> tuple[float, float]:
    """Lowest and highest pressure [Pa] at the end of the header that keep every outlet in its window in all states.

    ``perfect``: the vent held by a perfect sensor at any set point; each outlet is taken to follow the header one to
    one, as it does where burners force their flow. Where the lowest is above the highest, no set point is right.
    """
    at = float(perfect.controls[0].set_point.m_as("Pa"))
    found = outlet_envelope.envelopes(perfect.scan(scan))
    return max(at + e.window[0] - e.low for e in found), min(at + e.window[1] - e.high for e in found)
