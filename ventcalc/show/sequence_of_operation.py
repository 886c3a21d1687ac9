"""Sequence of operation: the start sequence in numbered sentences, for the programmer of the controls.

Every sentence is made from the table of `start_sequence`, the settings it was proved with and the tags of the devices:
what a state commands, which event leads from it where, after which time. A record is ``number``, that of its
``section``, ``heading``, ``sentence``, its ``figures`` by name, and the ``moves`` of the table that it tells: state,
event, state after it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ventcalc.draft import closed_loop, loop_step
from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.sequencer import DELAYS, FORGETTING, TIMES
from ventcalc.draft.start_sequence import DARK_STATES, FAULTS, OUTPUTS, Event, Output, State, step
from ventcalc.draft.start_settings import Burner, Settings
from ventcalc.job import loop_settings
from ventcalc.job.remedy import Remedy
from ventcalc.job.study import Study
from ventcalc.show import finding_records
from ventcalc.show.equipment_schedule import header_settings, sensor_range
from ventcalc.show.numbers import number, setting
from ventcalc.show.spreadsheet import Table, warned
from ventcalc.show.tags import Tags, tags
from ventcalc.words import listed, say, sentences

Move = tuple[State, Event, State]

# Settings that the sentence of a state or a fault tells beside its time or delay.
_OF_STATE = {
    State.PROVING: ("damper_travel",),
    State.PURGE: ("stagger", "blower"),
    State.PILOT: ("pilot_light",),
    State.MAIN: ("main_light",),
    State.RUN: ("low_fire", "modulation"),
}
_OF_EVENT = {
    Event.FAN_RUNNING: ("fan_start",),
    Event.PROVED: ("proof", "proof_time", "stagger"),
    Event.CALL: ("stagger",),
    Event.HIGH_PRESSURE: ("high_limit",),
    Event.LOW_PRESSURE: ("low_limit",),
    Event.PROOF_LOST: ("proof",),
    Event.SENSOR_FAILED: ("sensor_least", "sensor_most", "frozen_after"),
}
_OF_THE_HEADER = ("proof", "high_limit", "low_limit", "sensor_least", "sensor_most")


@dataclass(frozen=True)
class _Program:
    """What the sentences of one design are made from."""

    design: Study
    settings: Settings
    tags: Tags
    system: str

    @property
    def remedy(self) -> Remedy:
        return self.design.outcome.remedy

    @property
    def named(self) -> dict[str, Any]:
        """The tags as sentences call them."""
        t = self.tags
        found = {n: getattr(t, n) for n in ("fan", "damper", "sensor", "high", "low", "control")}
        return found | {"proof_switch": t.proof, "outlet_dampers": tuple(t.outlet_dampers.values())}

    def set_to(self, *names: str) -> dict[str, Any]:
        """Settings by name, as figures."""
        return {name: setting(getattr(self.settings, name), self.system) for name in names}

    def record(self, part: str, name: str, figures: dict[str, Any] | None = None, moves=(), **told) -> dict[str, Any]:
        """A sentence; what it tells beside its ``figures`` are the tags, and ``told``."""
        figures = figures or {}
        shown = {n: f["shown"] for n, f in figures.items()}
        return {
            "sentence": _word(part, name, **self.named | shown | told),
            "figures": figures,
            "moves": [[state.value, event.value, after.value] for state, event, after in moves],
        }


def sequence_of_operation(study: Study, system: str = "US") -> list[dict[str, Any]]:
    """The sentences of the design to be built, numbered; of a vent with nothing to control, the one that says so."""
    design = study.reported
    p = _Program(design, header_settings(design), tags(design), system)
    if not p.remedy.controls:
        return _numbered([("scope", [p.record("scope", "nothing")])])
    parts = [("scope", list(_scope(p))), ("control", list(_control(p)))]
    parts += [(_called(p, state), list(_state(p, state))) for state in State]
    return _numbered([*parts, ("faults", list(_faults(p)))])


def table(study: Study, system: str = "US") -> Table:
    """The sentences for a spreadsheet."""
    rows = tuple((r["number"], r["heading"], r["sentence"]) for r in sequence_of_operation(study, system))
    found = Table(_word("heads", "title"), tuple(_word("heads", n) for n in ("number", "part", "sentence")), rows)
    return warned(found, finding_records.not_to_build(study.reported))


def moves() -> tuple[Move, ...]:
    """Everything in the table that leads from a state to another."""
    return tuple((s, e, after) for s in State for e in Event if (after := step(s, e)) is not s)


def _word(subject: str, name: str, /, **figures) -> str:
    return say("show", f"sequence_{subject}", name, **figures)


def _numbered(parts: list[tuple[str, list[dict[str, Any]]]]) -> list[dict[str, Any]]:
    """Records with their numbers: the part, and the sentence in it."""
    heads = {"scope", "control", "faults"}
    return [
        {"number": f"{i}.{k}", "section": i, "heading": _word("parts", part) if part in heads else part, **record}
        for i, (part, records) in enumerate(parts, 1)
        for k, record in enumerate(records, 1)
    ]


# --- What it is for, and how the draft is held --------------------------------------------------------------


def _scope(p: _Program) -> Iterator[dict[str, Any]]:
    if p.design.trial is None:
        yield p.record("scope", "not followed")
    burners = (f"{tag} ({name})" for name, tag in p.tags.burners.items())
    yield p.record("scope", "burners" if len(p.tags.burners) > 1 else "burner", burners=listed(tuple(burners)))
    yield p.record("scope", "safeguard")
    yield p.record("scope", "chain" if p.tags.high else "chain without switches")
    if p.tags.outlet_dampers:
        yield p.record("scope", "chain of outlets")


def _control(p: _Program) -> Iterator[dict[str, Any]]:
    if p.tags.sensor:
        yield p.record("control", "hold", p.set_to("set_point"))
        sample = loop_settings.run_loop(p.settings, _devices(p)).sensor.sample
        gains = p.set_to("gain", "integral_time", "filter") | {"sample": setting(sample, p.system)}
        tuned = p.design.trial is not None and p.design.trial.tuned
        yield p.record("control", "gains" if tuned else "gains not found", gains)
        yield p.record("control", *_output(p))
    held = {p.tags.outlet_dampers[c.sensor]: c.set_point for c in p.remedy.controls if c.sensor != HEADER}
    if held:
        figures = {f"set_point {tag}": setting(value, p.system) for tag, value in held.items()}
        points = listed(tuple(f"{tag} {setting(value, p.system)['shown']}" for tag, value in held.items()))
        yield p.record("control", "outlets", figures, points=points)


def _devices(p: _Program) -> closed_loop.Devices:
    return loop_settings.devices_of(p.remedy, p.settings)


def _output(p: _Program) -> tuple[str, dict[str, Any]]:
    """Which device moves at which output: the name of the sentence, and its figures."""
    devices = _devices(p)
    start = devices.open
    if p.design.trial is not None:
        start = loop_settings.start_output(p.settings, devices, p.design.job.seasons)
    figures = {"start": number(start, "ratio", p.system)}
    if p.remedy.fan:
        figures["least"] = number(devices.least, "ratio", p.system)
        ends = {"least_speed": p.remedy.fan.least_speed, "most_speed": p.remedy.fan.most_speed}
        figures |= {name: number(speed, "ratio", p.system) for name, speed in ends.items()}
    if p.remedy.damper:
        figures |= p.set_to("damper_travel")
    if p.remedy.fan and p.remedy.damper:
        figures["middle"] = number(loop_step.MIDDLE, "ratio", p.system)
        return "fan and damper", figures
    return "fan" if p.remedy.fan else "damper", figures


# --- The states ---------------------------------------------------------------------------------------------


def _state(p: _Program, state: State) -> Iterator[dict[str, Any]]:
    """What a state commands, and each event but the faults that leads out of it."""
    names, missing = _commands(p, state), _missing(p, state)
    figures = p.set_to(*(n for n in _OF_STATE.get(state, ()) if n not in missing))
    waits = p.set_to(*(["post_purge"] if "outlets rest" in names else []))
    commands = (_word("commands", n, **p.named, **{w: f["shown"] for w, f in waits.items()}) for n in names)
    name = f"{state.name}_none" if missing else state.name
    yield p.record("states", name, figures | waits, commands="; ".join(commands))
    if state is State.PURGE:
        yield from _purges(p)
    for of, event, after in moves():
        if of is state and event not in FAULTS and not _stray(of, event, after):
            figures = p.set_to(*_figures_of(p, event))
            if event is Event.TIME_UP and state in TIMES:
                figures |= p.set_to(TIMES[state])
            yield p.record("moves", _variant(p, state, event), figures, [(of, event, after)], to=_called(p, after))


def _missing(p: _Program, state: State) -> tuple[str, ...]:
    """Settings of a state that no burner of this plant has a use for: the run-up of a blower, the way to high fire."""
    if state is State.PURGE and not any(b.purges for b in p.settings.burners):
        return ("blower",)
    if state is State.RUN and not any(b.turns_down for b in p.settings.burners):
        return ("low_fire", "modulation")
    return ()


def _called(p: _Program, state: State) -> str:
    """What a state is called: one that is named by a fan otherwise, where the vent has none."""
    other = sentences("show")["sequence_without_fan"]
    return state.value if p.tags.fan else str(other.get(state.name, state.value))


def _purges(p: _Program) -> Iterator[dict[str, Any]]:
    """The purge of each burner."""
    for burner in p.settings.burners:
        tag = p.tags.burners[burner.name]
        time = {f"purge {tag}": setting(p.settings.purge(burner), p.system)}
        figures = time | p.set_to("least_purge", *_purged(p, burner))
        name = "purge with vent" if "vent_volume" in figures else "purge" if "changes" in figures else "wait"
        yield p.record("states", name, figures, burner=tag, time=time[f"purge {tag}"]["shown"])


def _purged(p: _Program, burner: Burner) -> tuple[str, ...]:
    """Settings that a burner's purge is worked out with: those of the vent only where it is purged as well."""
    if not burner.purges:
        return ()
    return ("changes", "vent_volume") if p.settings.vent_volume.m else ("changes",)


def _variant(p: _Program, state: State, event: Event) -> str:
    """The name of the sentence of a move: another where the vent has no fan, or its header no sensor."""
    name = f"{state.name}_{event.name}"
    if event is Event.FAN_RUNNING and not p.tags.fan:
        return f"{name}_none"
    return f"{name}_outlets" if event is Event.PROVED and not p.tags.sensor else name


def _commands(p: _Program, state: State) -> tuple[str, ...]:
    """What a state commands, device by device: names of phrases."""
    output, found = OUTPUTS[state], []
    if p.tags.fan:
        found.append(_fan(output))
    if p.tags.damper:
        found.append(f"damper {output.damper}")
    if p.tags.outlet_dampers:
        found.append("outlets dark" if state in DARK_STATES else f"outlets {output.damper}")
    found.append("released" if output.release else "held")
    found += ["pilot"] * output.pilot + ["main"] * output.main + ["alarm"] * output.alarm
    return tuple(found)


def _fan(output: Output) -> str:
    if not output.fan:
        return "fan off"
    return "fan control" if output.damper == "control" else "fan runs on" if output.alarm else "fan start"


# --- Faults and limits --------------------------------------------------------------------------------------


def _stray(state: State, event: Event, after: State) -> bool:
    """Whether it is a flame where none may be."""
    return event is Event.FLAME and OUTPUTS[after].alarm


def _faults(p: _Program) -> Iterator[dict[str, Any]]:
    """Each fault: what it is, how long it must stand, and where it leads from which state."""
    for event in FAULTS:
        figures = p.set_to(*_figures_of(p, event), *([DELAYS[event]] if event in DELAYS else []))
        told = [move for move in moves() if move[1] is event]
        name, extra = _fault(p, event)
        delay = figures[DELAYS[event]]["shown"] if event in DELAYS else ""
        yield p.record("faults", name, figures | extra, told, leads=_leads(p, told), delay=delay, **_outlets(p))
    if p.tags.sensor and p.tags.outlet_sensors:
        ranges = _range_figures(p)
        yield p.record("faults", "outlet sensors", ranges, ranges=_pairs(ranges))
    stray = [move for move in moves() if _stray(*move)]
    yield p.record("faults", "stray flame", {}, stray, leads=_leads(p, stray))
    yield p.record("faults", "looked at", {"forgetting": number(FORGETTING, "ratio", p.system)})


def _figures_of(p: _Program, event: Event) -> tuple[str, ...]:
    """Settings that an event's sentence tells; those of the header where a sensor stands there."""
    names = _OF_EVENT.get(event, ())
    return names if p.tags.sensor else tuple(n for n in names if n not in _OF_THE_HEADER)


def _fault(p: _Program, event: Event) -> tuple[str, dict[str, Any]]:
    """The name of a fault's sentence on this vent, and further figures of it."""
    missing = {
        Event.FAN_FAILED: not p.tags.fan,
        Event.DAMPER_FAULT: not (p.tags.damper or p.tags.outlet_dampers),
    }
    if missing.get(event):
        return f"{event.name}_none", {}
    at_outlets = event in (Event.HIGH_PRESSURE, Event.LOW_PRESSURE, Event.PROOF_LOST, Event.SENSOR_FAILED)
    if not at_outlets or p.tags.sensor:
        return event.name, {}
    return f"{event.name}_outlets", _window_figures(p) if event is not Event.SENSOR_FAILED else _range_figures(p)


def _window_figures(p: _Program) -> dict[str, Any]:
    found = {}
    for a in p.design.job.plant.appliances:
        if a.name in p.tags.outlet_dampers:
            ends = (setting(w, p.system) for w in a.window)
            found |= {f"{end} {p.tags.burners[a.name]}": w for end, w in zip(("low", "high"), ends, strict=True)}
    return found


def _range_figures(p: _Program) -> dict[str, Any]:
    found = {}
    for control in (c for c in p.remedy.controls if c.sensor != HEADER):
        tag = p.tags.outlet_sensors[control.sensor]
        ends = (setting(e, p.system) for e in sensor_range(p.design, control))
        found |= {f"{end} {tag}": e for end, e in zip(("low", "high"), ends, strict=True)}
    return found


def _outlets(p: _Program) -> dict[str, str]:
    """Windows and sensors at the outlets in words, for a vent whose header has no sensor."""
    if p.tags.sensor:
        return {}
    windows, ranges = _window_figures(p), _range_figures(p)
    return {"windows": _pairs(windows), "ranges": _pairs(ranges)}


def _pairs(figures: dict[str, Any]) -> str:
    names = dict.fromkeys(name.partition(" ")[2] for name in figures)
    return listed(tuple(_word("faults", "pair", of=n, low=figures[f"low {n}"]["shown"],
                              high=figures[f"high {n}"]["shown"]) for n in names))  # fmt: skip


def _leads(p: _Program, told: list[Move]) -> str:
    """Where a fault leads, the states from which it leads there together."""
    groups: dict[State, list[str]] = {}
    for state, _, after in told:
        groups.setdefault(after, []).append(_called(p, state))
    return "; ".join(_word("faults", "leads", to=_called(p, to), states=", ".join(of)) for to, of in groups.items())
