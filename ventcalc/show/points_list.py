"""Points list: what the control of a vent shows a building system, point by point; only what the design has.

A point is ``name``, ``description``, ``object`` (its kind in the terms of ASHRAE 135, an open standard), ``direction``
as seen from the control, ``range`` (lowest and highest; ``shown_range``), ``unit`` and its ``kind``, ``normal`` state,
``alarm`` in words with its ``limits``, and where it is ``wired``. The limits and the release act by wire; a network may
show them, never move them.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ventcalc.draft.held_pressure import HEADER
from ventcalc.draft.sequencer import DELAYS
from ventcalc.draft.start_sequence import FAULTS, Event
from ventcalc.draft.start_settings import Settings
from ventcalc.job.failures import OFF_POSITION
from ventcalc.job.remedy import Remedy
from ventcalc.job.study import Study
from ventcalc.show import finding_records
from ventcalc.show.equipment_schedule import header_settings, sensor_range
from ventcalc.show.numbers import number, setting
from ventcalc.show.spreadsheet import Cell, Table, figure, warned
from ventcalc.show.tags import Tags, tags
from ventcalc.units import Quantity, shown_unit, unit_text
from ventcalc.words import say

_KINDS = {"pressure": "draft", "share": "ratio"}  # what an analog point tells, and the kind of its numbers


@dataclass(frozen=True)
class _Panel:
    """What the points of one design are made from."""

    design: Study
    settings: Settings
    tags: Tags
    system: str

    @property
    def remedy(self) -> Remedy:
        return self.design.outcome.remedy

    def point(self, tag: str, what: str, kind: str, normal: str, wired: str, **told) -> dict[str, Any]:
        """A point; ``told`` are its ``range``, ``unit``, ``alarm`` and figures of its description."""
        low, high = told.pop("range", (None, None))
        unit, (alarm, limits) = told.pop("unit", None), told.pop("alarm", ("none", {}))
        way = {"input": "in", "output": "out", "value": "inside"}[kind.partition("-")[2]]
        ends = [self.end(e, unit) for e in (low, high)]
        shown = {name: limit["shown"] for name, limit in limits.items()}
        return {
            "name": f"{tag} {what}",
            "description": _word("description", told.pop("words", what), **told),
            "object": kind,
            "direction": _word("direction", way, control=self.tags.control),
            "range": ends,
            "shown_range": _range(ends),
            "kind": unit or "",
            "unit": unit_text(shown_unit(_KINDS[unit], self.system)) if unit else "",
            "normal": _word("normal", normal),
            "alarm": _word("alarm", alarm, **shown),
            "limits": limits,
            "wired": _word("wired", wired, tag=tag, control=self.tags.control),
        }

    def end(self, value: Quantity | float | None, unit: str | None) -> dict[str, Any]:
        """An end of a range; of a quantity what it is set to."""
        if isinstance(value, Quantity):
            return setting(value, self.system)
        return number(value, _KINDS[unit or "share"], self.system)

    def alarm(self, name: str, event: Event, **limits: Quantity) -> tuple[str, dict[str, Any]]:
        """An alarm with its limits and its delay, as set."""
        figures = limits | {"delay": getattr(self.settings, DELAYS[event])}
        return name, {n: setting(value, self.system) for n, value in figures.items()}


def points_list(study: Study, system: str = "US") -> list[dict[str, Any]]:
    """Every point of the design to be built; none where nothing is controlled."""
    design = study.reported
    p = _Panel(design, header_settings(design), tags(design), system)
    if not p.remedy.controls:
        return []
    return [*_header(p), *_fan(p), *_dampers(p), *_burners(p), *_alarms(p)]


def table(study: Study, system: str = "US") -> Table:
    """The points for a spreadsheet."""
    names = ("name", "description", "object", "direction", "low", "high", "unit", "normal", "alarm", "wired")
    rows = tuple(_cells(point, system) for point in points_list(study, system))
    found = Table(_word("heads", "title"), tuple(_word("heads", n) for n in names), rows)
    return warned(found, finding_records.not_to_build(study.reported))


def _cells(point: dict[str, Any], system: str) -> tuple[Cell, ...]:
    ends = [
        None if e["value"] is None else figure(e["value"], _KINDS[point["kind"]], system, e["unit"])
        for e in point["range"]
    ]
    before, after = ("name", "description", "object", "direction"), ("unit", "normal", "alarm", "wired")
    return (*(point[n] for n in before), *ends, *(point[n] for n in after))


def _word(subject: str, name: str, /, **figures) -> str:
    return say("show", f"points_{subject}", name, **figures)


def _range(ends: list[dict[str, Any]]) -> str:
    low, high = (e["shown"] for e in ends)
    return _word("range", "fixed" if low == high else "span", low=low, high=high)


# --- Header: sensor, set point, switches --------------------------------------------------------------------


def _header(p: _Panel) -> Iterator[dict[str, Any]]:
    if not p.tags.sensor:
        return
    s = p.settings
    ends = (s.sensor_least, s.sensor_most)
    failed = p.alarm("beyond", Event.SENSOR_FAILED, low=ends[0], high=ends[1])
    yield p.point(p.tags.sensor, "pressure", "analog-input", "analog", "sensor",
                  range=ends, unit="pressure", alarm=failed)  # fmt: skip
    fixed = (s.set_point,) * 2  # the limits belong to it, and to no other
    yield p.point(p.tags.control, "set point", "analog-value", "held", "program", range=fixed, unit="pressure")
    for tag, what, normal, alarm in (
        (p.tags.high, "switch high", "closed", p.alarm("above", Event.HIGH_PRESSURE, limit=s.high_limit)),
        (p.tags.low, "switch low", "closed", p.alarm("below", Event.LOW_PRESSURE, limit=s.low_limit)),
        (p.tags.proof, "switch proof", "proof", p.alarm("not below", Event.PROOF_LOST, limit=s.proof)),
    ):
        yield p.point(tag, what, "binary-input", normal, "chain", alarm=alarm)


# --- What moves ---------------------------------------------------------------------------------------------


def _fan(p: _Panel) -> Iterator[dict[str, Any]]:
    if not p.remedy.fan:
        return
    speeds = (p.remedy.fan.least_speed, p.remedy.fan.most_speed)
    failed = p.alarm("not proved", Event.FAN_FAILED)
    yield p.point(p.tags.fan, "start", "binary-output", "off", "drive")
    yield p.point(p.tags.fan, "running", "binary-input", "off", "drive", alarm=failed)
    yield p.point(p.tags.fan, "speed", "analog-output", "moves", "drive", range=speeds, unit="share")


def _dampers(p: _Panel) -> Iterator[dict[str, Any]]:
    if p.remedy.damper:
        yield from _damper(p, p.tags.damper)
    for control in p.remedy.controls:
        if control.sensor == HEADER:
            continue
        tag, sensor = p.tags.outlet_dampers[control.sensor], p.tags.outlet_sensors[control.sensor]
        yield from _damper(p, tag)
        yield from _switches(p, tag, control.sensor)
        ends = sensor_range(p.design, control)
        failed = p.alarm("beyond", Event.SENSOR_FAILED, low=ends[0], high=ends[1])
        told = {"name": control.sensor, "unit": "pressure"}
        yield p.point(sensor, "pressure", "analog-input", "analog", "sensor",
                      words="outlet pressure", range=ends, alarm=failed, **told)  # fmt: skip
        yield p.point(tag, "set point", "analog-value", "held", "program",
                      words="outlet set point", range=(control.set_point,) * 2, **told)  # fmt: skip


def _damper(p: _Panel, tag: str) -> Iterator[dict[str, Any]]:
    told = {"range": (0.0, 1.0), "unit": "share"}
    name, limits = p.alarm("off position", Event.DAMPER_FAULT)
    failed = (name, limits | {"share": number(OFF_POSITION, "ratio", p.system)})
    yield p.point(tag, "position command", "analog-output", "moves", "actuator", **told)
    yield p.point(tag, "position", "analog-input", "moves", "actuator", alarm=failed, **told)


def _switches(p: _Panel, tag: str, name: str) -> Iterator[dict[str, Any]]:
    """The two switches of a damper at an outlet; it throttles while its burner fires, so that only shut is a fault."""
    shut = ("none", {}) if p.tags.sensor else p.alarm("shut", Event.PROOF_LOST)
    yield p.point(tag, "open", "binary-input", "open", "switch", name=name)
    yield p.point(tag, "not shut", "binary-input", "not shut", "own chain", name=name, alarm=shut)


# --- Burners and alarms -------------------------------------------------------------------------------------


def _burners(p: _Panel) -> Iterator[dict[str, Any]]:
    for name, tag in p.tags.burners.items():
        lost = p.alarm("lost", Event.FLAME_LOST)
        yield p.point(tag, "call", "binary-input", "off", "burner", name=name)
        yield p.point(tag, "release", "binary-output", "off", "release", name=name)
        yield p.point(tag, "flame", "binary-input", "off", "burner", name=name, alarm=lost)
        yield p.point(tag, "lockout", "binary-value", "quiet", "program", name=name)


def _alarms(p: _Panel) -> Iterator[dict[str, Any]]:
    """An alarm for every fault that this vent can have; without power there is nobody to tell."""
    missing = {
        Event.FAN_FAILED: not p.remedy.fan,
        Event.DAMPER_FAULT: not (p.remedy.damper or p.remedy.outlets),
        Event.POWER_LOST: True,
    }
    for event in FAULTS:
        if not missing.get(event):
            yield p.point(p.tags.control, event.value, "binary-value", "quiet", "program",
                          words="alarm", event=event.value, alarm=("at once", {}))  # fmt: skip
    yield p.point(p.tags.control, "reset", "binary-input", "quiet", "panel")
