"""Start timeline: what every appliance of a vent did over a start, and what it sent into the vent meanwhile.

How a timeline comes about is `sequencer`.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ventcalc.draft.start_sequence import FUEL_STATES, OUTPUTS, Event, Output, State, commanded
from ventcalc.draft.start_settings import Burner, Settings
from ventcalc.units import Quantity


@dataclass(frozen=True)
class Cue:
    """Something that happens at a ``time``: an event of the vent, or of the ``appliance`` named.

    A fault ``lasts`` so long, or for good where None; one that is soon over goes unnoticed, and one that comes and goes
    adds up (`FORGETTING`). Where several of a kind overlap, it stands until the last is over. `CALL` lasts until
    `CALL_ENDS`. `RESET` without an appliance resets all. `FLAME_LOST`: there is no flame at that burner meanwhile.
    """

    time: Quantity
    event: Event
    appliance: str | None = None
    lasts: Quantity | None = None


class Change(NamedTuple):
    """At ``time`` [s] an ``event`` led an appliance (its index) to a ``state``."""

    time: float
    appliance: int
    event: Event
    state: State


@dataclass(frozen=True)
class Timeline:
    """What every appliance did, from idle at 0 s to ``until`` [s]: plain seconds, the ``changes`` in order."""

    settings: Settings
    until: float
    changes: tuple[Change, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the appliances."""
        return tuple(b.name for b in self.settings.burners)

    @property
    def times(self) -> np.ndarray:
        """The instants at which anything changes, 0 first [s]."""
        return np.unique([0.0, *(c.time for c in self.changes)])

    def _index(self, appliance: int | str) -> int:
        return self.names.index(appliance) if isinstance(appliance, str) else appliance

    def spans(self, appliance: int | str) -> tuple[tuple[float, float, State], ...]:
        """Start, end [s] and state, one after the other, of an appliance by its index or name."""
        at = self._index(appliance)
        marks = [(0.0, State.IDLE), *((c.time, c.state) for c in self.changes if c.appliance == at)]
        ends = [t for t, _ in marks[1:]] + [self.until]
        return tuple((t, end, s) for (t, s), end in zip(marks, ends, strict=True) if end > t or end == self.until)

    def state(self, appliance: int | str, time: float) -> State:
        """The state of an appliance at a time [s]; at the instant of a change the new one."""
        return next(s for begin, _, s in reversed(self.spans(appliance)) if begin <= time)

    def outputs(self, time: float) -> Output:
        """What the vent's sequencer commands at a time [s]."""
        return commanded(self.state(i, time) for i in range(len(self.names)))

    @property
    def ends(self) -> tuple[State, ...]:
        """The state of every appliance at the end."""
        return tuple(self.spans(i)[-1][2] for i in range(len(self.names)))

    def codes(self, times: np.ndarray, appliance: int | str, load: float = 1.0) -> np.ndarray:
        """What an appliance sends into the vent at ``times`` [s], as codes of `states.States`, with ramps.

        Off 0, purge, low and high as its `Burner` says: 1.4 lies 40 % of the way from code 1 to code 2. The blower runs
        up and down in its time; the main trial leads from purge to low; after its hold at low the burner goes to
        ``load``, the share of the way from low to high. When fuel shuts, the flue gas gives way to purge air at once.
        """
        return np.interp(np.asarray(times, float), *self.corners(appliance, load))

    def corners(self, appliance: int | str, load: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
        """The corners of `codes`, straight between them: times [s] and codes; two at one time are a step."""
        at = self._index(appliance)
        marks = _code_marks(self.spans(at), self.settings, self.settings.burners[at], load)
        times, codes = np.array(marks).T
        return times, codes


def _code_marks(spans, settings: Settings, burner: Burner, load: float) -> list[tuple[float, float]]:
    """Corners (time, code) of what an appliance sends into the vent; two at one time are a step."""
    purge, low, high = burner.codes
    marks = [(0.0, 0.0)]
    for begin, end, state in spans:
        value = marks[-1][1]
        if value > purge and state not in FUEL_STATES:
            value = purge
            marks.append((begin, value))
        corners = [(begin, value)]
        if state is State.RUN:
            hold = begin + settings.seconds("low_fire")
            ready = begin + max(settings.seconds("main_light"), 1e-3)
            corners += [(ready, low), (max(hold, ready), low)]
            corners += [(corners[-1][0] + max(settings.seconds("modulation"), 1e-3), low + load * (high - low))]
        elif state is State.MAIN:
            corners += [(begin + max(settings.seconds("main_light"), 1e-3), low)]
        else:
            target = purge if OUTPUTS[state].release or state in (State.POST_PURGE, State.TRIPPED) else 0.0
            corners += [(begin + max(settings.seconds("blower"), 1e-3) * abs(target - value) / (purge or 1.0), target)]
        instants = [t for t, _ in corners if t < end]
        marks += [(t, float(np.interp(t, *np.array(corners).T))) for t in (*instants, end)]
    return marks
