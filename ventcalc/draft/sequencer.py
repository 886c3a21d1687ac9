"""Sequencer: the machine of `start_sequence` run by the clock, with delays of faults, times and turns of release."""

from collections import Counter, deque
from collections.abc import Iterable, Iterator

import numpy as np

from ventcalc.door import door
from ventcalc.draft.start_sequence import DARK_STATES, FAULTS, OF_ONE_APPLIANCE, OUTPUTS, Event, State, commanded, step
from ventcalc.draft.start_settings import Settings
from ventcalc.draft.start_timeline import Change, Cue, Timeline
from ventcalc.units import Quantity

# The delay of every fault, and which of them are looked at only once draft is proved.
DELAYS = {
    Event.HIGH_PRESSURE: "high_delay",
    Event.LOW_PRESSURE: "low_delay",
    Event.PROOF_LOST: "proof_delay",
    Event.SENSOR_FAILED: "sensor_delay",
    Event.FAN_FAILED: "fan_delay",
    Event.DAMPER_FAULT: "damper_delay",
    Event.FLAME_LOST: "flame_response",
}
# How fast a delay that has begun to run is forgotten while its fault is away: a switch that chatters must not begin its
# delay anew each time. At a quarter, what is there more than a fifth of the time comes through (common practice, no
# source: on the safe side of forgetting as fast as counting).
FORGETTING = 0.25
_WITH_THE_FAN = (Event.HIGH_PRESSURE, Event.LOW_PRESSURE, Event.PROOF_LOST, Event.FAN_FAILED, Event.DAMPER_FAULT)
# How long a state lasts at most; that of a purge is `Settings.purge`.
TIMES = {
    State.STARTING: "start_limit",
    State.PROVING: "proof_limit",
    State.PILOT: "pilot_trial",
    State.MAIN: "main_trial",
    State.POST_PURGE: "post_purge",
    State.TRIPPED: "post_purge",
}
_IN_THE_WAY = (Event.HIGH_PRESSURE, Event.PROOF_LOST, Event.DAMPER_FAULT, Event.FAN_FAILED)  # of a proof
_CUES = (Event.CALL, Event.CALL_ENDS, Event.RESET, Event.POWER_BACK, *FAULTS)


@door(until="s", at_least={"until": 0.0})
def timeline(cues: Iterable[Cue], settings: Settings, until: Quantity) -> Timeline:
    """Run all appliances of a vent by the clock, from idle at time 0 to ``until``.

    ``cues`` in any order; everything else follows: the fan runs and draft is proved after their times, flames light
    after theirs unless a cue says there is none, two releases stand ``stagger`` apart, and a fault counts once it
    has lasted for its delay. Raises ValueError for a cue that cannot be (an unknown appliance, a time below 0, an
    event that only the plant brings about).
    """
    world = _World(settings, _checked_cues(cues, settings), float(until.m_as("s")))
    while (found := world.next()) is not None:
        world.happen(*found)
    return Timeline(settings, world.until, tuple(world.changes))


def _checked_cues(cues: Iterable[Cue], settings: Settings) -> list[Cue]:
    names = [b.name for b in settings.burners]
    found = sorted(cues, key=lambda cue: cue.time.m_as("s"))
    for cue in found:
        what = f"cue {cue.event.value!r} at {cue.time:~P}"
        if cue.event not in _CUES:
            raise ValueError(f"{what} follows by itself; cues are: {', '.join(e.value for e in _CUES)}")
        if cue.time.m_as("s") < 0 or (cue.lasts is not None and cue.lasts.m_as("s") < 0):
            raise ValueError(f"{what}: times must be at least 0 s")
        if cue.appliance is not None and cue.appliance not in names:
            raise ValueError(f"{what}: no appliance {cue.appliance!r}; there are {', '.join(names)}")
        if (cue.appliance is None) != (cue.event not in OF_ONE_APPLIANCE) and cue.event is not Event.RESET:
            needs = "needs an appliance" if cue.appliance is None else "befalls the whole vent: name no appliance"
            raise ValueError(f"{what} {needs}")
    return found


class _World:
    """The plant while a timeline is run; it lives no longer than that."""

    def __init__(self, settings: Settings, cues: list[Cue], until: float):
        self.settings, self.until = settings, until
        count = len(settings.burners)
        self.purges = [float(settings.purge(b).m_as("s")) for b in settings.burners]
        self.states, self.since = [State.IDLE] * count, [0.0] * count
        self.calls = [False] * count
        self.fan_since: float | None = None
        self.controlled_since: float | None = None  # since when any appliance is past its proof
        self.released = -np.inf
        self.changes: list[Change] = []
        self.now, self.dark = 0.0, 0  # dark: how many cues say that there is no power
        # Moments at which something outside begins or ends. By (event, appliance): how many cues say that a fault
        # stands, and how much of its delay has run [s].
        self.moments = deque(sorted(_moments(cues, settings), key=lambda m: m[0]))
        self.standing: Counter[tuple[Event, int | None]] = Counter()
        self.lasted: dict[tuple[Event, int | None], float] = {}
        self.cleared = -np.inf  # when the last fault that keeps a draft from being proved was over
        self.noticed: set[tuple[Event, int | None]] = set()

    def next(self) -> tuple[float, Event | None, int | None] | None:
        """The next thing that happens before the end: when, what and to whom; None where nothing does."""
        due = list(self._due())
        if not due:
            return None
        when, event, who = min(due, key=lambda d: d[0])
        return (max(when, self.now), event, who) if when <= self.until else None

    def _due(self) -> Iterator[tuple[float, Event | None, int | None]]:
        if self.moments:
            yield self.moments[0][0], None, None
        yield from self._noticing()
        for i in range(len(self.states)):
            yield from self._of(i)

    def _noticing(self) -> Iterator[tuple[float, Event, int | None]]:
        """Faults that stand and have not been noticed, at the end of their delay."""
        for (event, who), cues in self.standing.items():
            if cues and (event, who) not in self.noticed and self._looked_at(event, who):
                left = self.settings.seconds(DELAYS[event]) - self.lasted.get((event, who), 0.0)
                yield self.now + max(left, 0.0), event, who

    def _looked_at(self, event: Event, who: int | None) -> bool:
        """Whether a fault means anything now: if not, its delay does not run, and what has run of it is forgotten."""
        if all(state in DARK_STATES for state in self.states):
            return False
        if event in _WITH_THE_FAN:
            # Pressure and proof mean nothing before the draft is made; until then PROVING has its own time.
            return self.controlled_since is not None
        # Where no flame is yet to be lost the pilot trial has its own time.
        return who is None or self.states[who] in (State.MAIN, State.RUN)

    def _run_delays(self, seconds: float) -> None:
        """The delays of all faults, so many seconds later with nothing changed between."""
        for fault, cues in self.standing.items():
            delay, lasted = self.settings.seconds(DELAYS[fault[0]]), self.lasted.get(fault, 0.0)
            lasted = min(lasted + seconds, delay) if cues else max(lasted - FORGETTING * seconds, 0.0)
            self.lasted[fault] = lasted if self._looked_at(*fault) else 0.0

    def _of(self, i: int) -> Iterator[tuple[float, Event, int]]:
        """What comes next to one appliance by itself."""
        state, since, s = self.states[i], self.since[i], self.settings
        call = Event.CALL if self.calls[i] else Event.CALL_ENDS
        if (to := step(state, call)) is not state:
            # Out of its post-purge an appliance is released at once: it waits for its turn like any other.
            yield max(since, self.released + s.seconds("stagger")) if to is State.PURGE else since, call, i
        time = self._time_of(i)
        if time is not None:
            yield since + time, Event.TIME_UP, i
        if state is State.STARTING and not self._stands(Event.FAN_FAILED):
            yield max(since, self.fan_since + s.seconds("fan_start")), Event.FAN_RUNNING, i
        if state is State.PROVING and not self._stands(*_IN_THE_WAY):
            moved = self.fan_since + max(s.seconds("damper_travel"), s.seconds("fan_start"))
            ready = max(moved, since, self.cleared)  # the proof must stand without a break
            yield max(ready + s.seconds("proof_time"), self.released + s.seconds("stagger")), Event.PROVED, i
        if state in (State.PILOT, State.MAIN) and not self.standing[Event.FLAME_LOST, i]:
            yield since + s.seconds("pilot_light" if state is State.PILOT else "main_light"), Event.FLAME, i

    def _stands(self, *events: Event) -> bool:
        return any(self.standing[event, None] for event in events)

    def _time_of(self, i: int) -> float | None:
        """Time [s] that the state of an appliance lasts at most; None where it has none."""
        s = self.settings
        if self.states[i] is State.PURGE:
            return self.purges[i]
        if self.states[i] is State.PROVING:
            # Who waits for its turn is not late.
            return max(s.seconds(TIMES[State.PROVING]), self.released + s.seconds("stagger") - self.since[i] + 1.0)
        name = TIMES.get(self.states[i])
        return None if name is None else s.seconds(name)

    def happen(self, when: float, event: Event | None, who: int | None) -> None:
        """Let the next thing happen."""
        self._run_delays(when - self.now)
        self.now = when
        if event is None:
            event, who = self._begin_or_end(*self.moments.popleft()[1:])
            if event is None:
                return
        elif self.standing[event, who]:
            self.noticed.add((event, who))
        for i in range(len(self.states)) if who is None else (who,):
            self._move(i, event)

    def _begin_or_end(self, event: Event, who: int | None, stands: bool) -> tuple[Event | None, int | None]:
        """A cue takes effect: what the machine sees of it at once."""
        if event in (Event.CALL, Event.CALL_ENDS):
            self.calls[who] = event is Event.CALL
            return None, None
        if event is Event.RESET:
            self.noticed.clear()  # what still stands acts anew
            return event, who
        if event is Event.POWER_LOST:
            self.dark += 1 if stands else -1
            return (event, None) if stands else (None, None) if self.dark > 0 else (Event.POWER_BACK, None)
        if event is Event.POWER_BACK:
            self.dark = 0
            return event, None
        self.standing[event, who] += 1 if stands else -1
        if not self.standing[event, who]:
            self.noticed.discard((event, who))
            self.cleared = self.now if event in _IN_THE_WAY else self.cleared
        return None, None

    def _move(self, i: int, event: Event) -> None:
        state = step(self.states[i], event)
        if state is self.states[i]:
            return
        self.states[i], self.since[i] = state, self.now
        self.changes.append(Change(self.now, i, event, state))
        if state is State.PURGE:
            self.released = self.now
        self.fan_since = self._kept(self.fan_since, commanded(self.states).fan)
        proved = any(OUTPUTS[s].damper == "control" for s in self.states)
        self.controlled_since = self._kept(self.controlled_since, proved)

    def _kept(self, since: float | None, holds: bool) -> float | None:
        """Since when something holds without a break: what it was, now where it begins, None where it does not."""
        return (self.now if since is None else since) if holds else None


def _moments(cues: Iterable[Cue], settings: Settings) -> Iterator[tuple[float, Event, int | None, bool]]:
    """When each cue begins and, where it lasts, ends."""
    names = [b.name for b in settings.burners]
    for cue in cues:
        begin, who = float(cue.time.m_as("s")), None if cue.appliance is None else names.index(cue.appliance)
        yield begin, cue.event, who, True
        if cue.lasts is not None and cue.event in FAULTS:
            yield begin + float(cue.lasts.m_as("s")), cue.event, who, False
