"""Starts to test: two boilers at the usual settings, one of them by the clock."""

from ventcalc.draft.sequencer import timeline
from ventcalc.draft.start_sequence import TRANSITIONS, Event, State, step
from ventcalc.draft.start_settings import Burner, Settings
from ventcalc.draft.start_timeline import Cue
from ventcalc.units import Q_

S = State
E = Event


def seconds(value):
    return Q_(float(value), "s")


def run(*events, table=TRANSITIONS, state=S.IDLE):
    for event in events:
        state = step(state, event, table)
    return state


LIGHT_OFF = (E.CALL, E.FAN_RUNNING, E.PROVED, E.TIME_UP, E.FLAME, E.FLAME)
BOILERS = tuple(
    Burner(name, Q_(volume, "ft**3"), Q_(flow, "cfm"))
    for name, volume, flow in (("Boiler 1", 40, 400), ("Boiler 2", 40, 400), ("Boiler 3", 20, 200))
)
USUAL = Settings(BOILERS)


def one(*cues, until=600.0, settings=None):
    found = [c if isinstance(c, Cue) else Cue(seconds(c[0]), c[1], *c[2:]) for c in cues]
    return timeline(found, settings or Settings(BOILERS[:1]), seconds(until))


CALL = (0, E.CALL, "Boiler 1")
