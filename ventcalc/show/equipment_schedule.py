"""Equipment schedule: one row for each thing to be bought or kept: what it is, where, its duty, its listing.

A row is ``tag``, ``what``, ``where``, ``status`` ("new", "changed", "as drawn"), ``duty`` (by the names of `DUTY`, each
lowest and highest over all states at rest, and what a drive is set up for), ``power`` (most at the shaft in those
states, most at the highest speed that may be commanded, and what the motor must give), both in words as ``told``,
``size``, ``material``, ``wall``, ``listing``, ``drain`` and ``by_maker``. What the library does not know is left to the
maker, by name.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np

from ventcalc.draft import fan_limits, fan_selection, held_pressure, sensor_location
from ventcalc.draft.dampers import Damper
from ventcalc.draft.held_pressure import HEADER, Control
from ventcalc.draft.start_settings import Settings
from ventcalc.flow.materials import Material, sentence
from ventcalc.job import loop_settings, permissions
from ventcalc.job.permissions import Permission
from ventcalc.job.remedy import AS_DRAWN, Remedy
from ventcalc.job.study import Study
from ventcalc.job.vent_findings import objections
from ventcalc.show import finding_records
from ventcalc.show.numbers import NONE_SHOWN, number, setting
from ventcalc.show.spreadsheet import Table, figure, heading, warned
from ventcalc.show.tags import Tags, tags
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import end_of_header
from ventcalc.vent.layout import Section
from ventcalc.vent.network import compile_network
from ventcalc.vent.solution import DROP_AN_HOUR
from ventcalc.words import listed, say

# What a duty may tell, lowest and highest, and the kind of each number: "pressure" of the gas against what is around a
# section, "window" the allowable vent pressure of a burner, "static" pressure of a fan, "taken" away by a damper.
DUTY = {
    "flow": "volume flow",
    "pressure": "draft",
    "window": "draft",
    "static": "draft",
    "taken": "draft",
    "density": "density",
    "gas": "temperature",
    "speed": "ratio",
    "drive": "ratio",
    "position": "ratio",
    "range": "draft",
    "setting": "draft",
    "delay": "time",
}
_POWERS = ("shaft", "highest", "motor")  # what a fan's ``power`` tells, in this order
_NEW, _CHANGED = ("size", "material"), ("height", "junction")  # kinds of `vent_changes.Difference`


def equipment_schedule(study: Study, system: str = "US") -> list[dict[str, Any]]:
    """Every row of the design that is reported on: the vent as drawn where that may be built, else the remedy."""
    design = study.reported
    named = tags(design)
    rows = (
        *_sections(design, named, system),
        *_caps(design, named, system),
        *_burners(design, named, system),
        *_devices(design, named, system),
        *_sensors(design, named, system),
    )
    return list(rows)


def table(study: Study, system: str = "US") -> Table:
    """The schedule for a spreadsheet: a column for each end of a duty, its unit in the heading."""
    rows = equipment_schedule(study, system)
    header = [_word("heads", name) for name in ("tag", "what", "where", "status")]
    for name, kind in DUTY.items():
        header += [heading(_word("heads", end, duty=_word("duty", name)), kind, system) for end in ("least", "most")]
    watts = "W" if system == "SI" else "hp"
    header += [f"{_word('heads', name)}, {watts}" for name in _POWERS]
    header += [_word("heads", n) for n in ("size", "material", "wall", "listing", "drain", "by_maker")]
    found = Table(_word("heads", "title"), tuple(header), tuple(_cells(row, system) for row in rows))
    return warned(found, finding_records.not_to_build(study.reported))


def _cells(row: dict[str, Any], system: str) -> tuple[str | float | None, ...]:
    found: list[str | float | None] = [row[n] for n in ("tag", "what", "where", "status")]
    for name, kind in DUTY.items():
        ends = row["duty"].get(name, ({"value": None, "unit": ""},) * 2)
        found += [None if e["value"] is None else figure(e["value"], kind, system, e["unit"]) for e in ends]
    power = row["power"] or ({"value": None},) * len(_POWERS)
    unit = "W" if system == "SI" else "horsepower"
    found += [None if p["value"] is None else float(Q_(p["value"], "W").m_as(unit)) for p in power]
    return (*found, row["size"], row["material"], row["wall"], "; ".join(row["listing"]), row["drain"], row["by_maker"])


def _word(subject: str, name: str, system: str = "US", /, **figures) -> str:
    return say("show", f"equipment_{subject}", name, system, **figures)


def _proved(code: str, system: str = "US", **figures) -> str:
    """What must be listed or proved, as a phrase."""
    return say("job", "listings", code, system, **figures).removesuffix(".")


def _row(tag: str, kind: str, where: str, system: str, **told) -> dict[str, Any]:
    """A row; what is not told does not belong to such a thing. ``figures`` go into its words."""
    figures, duty = told.pop("figures", {}), told.pop("duty", {})
    usual = {"status": "new", "power": [], "size": NONE_SHOWN, "material": NONE_SHOWN, "wall": NONE_SHOWN}
    usual |= {"listing": [], "drain": _word("drain", "none"), "by_maker": _word("by_maker", kind)}
    row = {"tag": tag, "kind": kind, "what": _word("what", kind, system, **figures), "where": where} | usual | told
    row["status"] = _word("status", row["status"])
    row["duty"] = {name: _shown(ends, DUTY[name], system) for name, ends in duty.items()}
    row["told"] = [_phrase(name, ends) for name, ends in row["duty"].items() if ends[0]["value"] is not None]
    row["told"] += [_word("duty", n, power=p["shown"]) for n, p in zip(_POWERS, row["power"], strict=False)]
    return row


def _shown(ends: Sequence[Quantity | float], kind: str, system: str) -> list[dict[str, Any]]:
    """Two ends of a duty; of a quantity, what something is set to."""
    return [setting(e, system) if isinstance(e, Quantity) else number(e, kind, system) for e in ends]


def _phrase(name: str, ends: Sequence[dict[str, Any]]) -> str:
    """One duty in words."""
    low, high = (end["shown"] for end in ends)
    told = low if low == high else _word("duty", "span", low=low, high=high)
    return _word("duty", "phrase", what=_word("duty", name), told=told)


def _ends(values: np.ndarray) -> tuple[float, float]:
    """Lowest and highest of what is finite; NaN where nothing is."""
    found = values[np.isfinite(values)]
    return (float(found.min()), float(found.max())) if found.size else (np.nan, np.nan)


def _drain(wet: bool) -> str:
    return _word("drain", "yes" if wet else "no")


# --- Vent and appliances ------------------------------------------------------------------------------------


def wet_sections(design: Study) -> tuple[str, ...]:
    """Sections that water settles on or runs down in any state."""
    found = {w.section for w in design.natural.wettings} | {
        m.section for m in design.extremes if m.condensate >= DROP_AN_HOUR
    }
    return tuple(s.name for s in design.job.plant.order if s.name in found)


def _sections(design: Study, named: Tags, system: str) -> Iterator[dict[str, Any]]:
    plant, wet, status = design.job.plant, wet_sections(design), _changes(design.outcome.remedy)
    wanted, objected = permissions.open_permissions(plant, design.job.permissions), objections(design)
    for section, met in zip(plant.order, design.extremes, strict=True):
        asked = [
            p for p in wanted if (p.what, p.of) in (("listing", section.material.name), ("authority", section.into))
        ]
        velocity = np.array(met.velocity)
        duty = {"flow": velocity * section.area, "pressure": met.pressure, "gas": met.gas}
        served = tuple(dict.fromkeys(a.shown_category for a in plant.serves(section.name)))
        against = [_word("listing", "against", why=sentence(o, system)) for o in objected if o.section == section.name]
        listing = _word("listing", "pipe", listing=section.material.listing, categories=served)
        yield _row(
            named.sections[section.name],
            "pipe",
            _where_section(section, system),
            system,
            figures={"section": section.name},
            status=status.get(section.name, "as drawn"),
            duty=duty,
            size=show(section.diameter, system, "diameter"),
            material=section.material.name,
            wall=wall(section.material, system),
            listing=[listing, *against, *_asked(asked)],
            drain=_drain(section.name in wet),
        )


def _changes(remedy: Remedy) -> dict[str, str]:
    """ "new" or "changed" by the name of each section that is not as drawn."""
    found = {name: "changed" for d in remedy.differences if d.kind in _CHANGED for name in d.sections}
    return found | {name: "new" for d in remedy.differences if d.kind in _NEW for name in d.sections}


def _where_section(section: Section, system: str) -> str:
    figures = {"length": section.length, "place": section.place, "into": section.into}
    pieces = (*section.fittings, *((section.junction,) if section.junction else ()))
    told = _word("where", "pipe", system, **figures)
    return _word("where", "with", told=told, pieces=listed(pieces)) if pieces else told


def wall(material: Material, system: str = "US") -> str:
    """The layers of a wall as they usually are, from the inside out."""
    parts = (_word("wall", "layer", system, what=part.what, thickness=part.thickness) for part in material.layers)
    return _word("wall", "usual", layers=", ".join(parts))


def _asked(wanted: Iterable[Permission]) -> list[str]:
    """Permissions that nobody has answered."""
    return [_word("permission", p.what, of=p.of, standards=p.standards) for p in wanted]


def _caps(design: Study, named: Tags, system: str) -> Iterator[dict[str, Any]]:
    """What ends the vent, but for an open end and where a fan stands."""
    plant, remedy = design.job.plant, design.outcome.remedy
    new = {name for d in remedy.differences if d.kind == "cap" for name in d.sections}
    for end in plant.terminations:
        if end.cap == "open end":
            continue
        last = plant.upstream(end.name)[0]
        size = show(last.diameter, system, "diameter")
        status = "new" if end.name in new else "as drawn"
        yield _row(named.ends[end.name], "cap", last.name, system, figures={"cap": end.cap}, status=status, size=size,
                   material=last.material.name, listing=[_word("listing", "cap")])  # fmt: skip


def _burners(design: Study, named: Tags, system: str) -> Iterator[dict[str, Any]]:
    plant = design.job.plant
    wanted = permissions.open_permissions(plant, design.job.permissions)
    for a, feed in zip(plant.appliances, plant.feeds, strict=True):
        listing = [_word("listing", "burner" if a.fuel.kind == "gas" else "burner_oil", category=a.category)]
        if design.outcome.remedy.devices:
            listing.append(_proved("appliances"))
        listing += _asked(p for p in wanted if p.of == a.name and p.what == "common vent")
        gas = [float(level.flue_temperature.m_as("K")) for level in a.levels]
        yield _row(
            named.burners[a.name],
            "burner",
            feed,
            system,
            figures={"name": a.name, "fuel": a.fuel.name},
            status="as drawn",
            duty={"window": tuple(float(w.m_as("Pa")) for w in a.window), "gas": (min(gas), max(gas))},
            size=show(a.outlet_diameter, system, "diameter"),
            listing=listing,
        )


# --- What moves ---------------------------------------------------------------------------------------------


def _devices(design: Study, named: Tags, system: str) -> Iterator[dict[str, Any]]:
    remedy = design.outcome.remedy
    if remedy.away and not remedy.keeps_fan:
        where = _word("where", f"{design.design.job.existing.drive.fan.kind} fan", section=remedy.top)
        yield _row(NONE_SHOWN, "old fan", where, system, figures={"name": remedy.away}, status="taken away")
    if remedy.fan:
        yield _fan(design, named.fan, system)
    if remedy.damper:
        where = _word("where", "damper", section=held_pressure.stack_base(remedy.plant))
        yield _damper(design, 0, named.damper, where, system)
    for k, control in enumerate(remedy.controls):
        if control.sensor != HEADER:
            where = _word("where", "outlet", appliance=control.sensor, section=control.section)
            yield _damper(design, k, named.outlet_dampers[control.sensor], where, system)


def _fan(design: Study, tag: str, system: str) -> dict[str, Any]:
    remedy, duty = design.outcome.remedy, design.outcome.duty
    drive, fan = remedy.fan, remedy.fan.fan
    cold = float(compile_network(remedy.plant, design.job.seasons).outdoor_density.max())
    highest = float(fan_limits.most_power.bare(fan, drive.most_speed, cold))
    motor = float(fan.motor_power.m_as("W")) * fan.abreast * fan.stages
    figures = {"name": fan.name, "status": fan.status, "kind": fan.kind, "rpm": float(fan.rated_speed.m_as("rpm"))}
    stands = {"fan": fan.name, "stands": fan.highest_temperature}
    told = [f.figures for f in design.judgement.findings if f.code == "exhaust_duty"]
    harder = [_word("listing", "exhausts", system, **duty_then) for duty_then in told]
    return _row(
        tag,
        "fan",
        _word("where", f"{fan.kind} fan", section=remedy.top),
        system,
        figures=figures,
        status="as drawn" if remedy.kind == AS_DRAWN else "new drive" if remedy.keeps_fan else "new",
        duty={
            "flow": _ends(duty.flow),
            "static": _ends(duty.static),
            "density": _ends(duty.density),
            "gas": _ends(duty.temperature),
            "speed": _ends(duty.speed),
            "drive": (drive.least_speed, drive.most_speed),
        },
        power=[
            {"value": watts, "unit": "W", "shown": fan_selection.power_text(watts, system)}
            for watts in (float(duty.power.max()), highest, motor)
        ],
        size=show(fan.outlet_diameter, system, "diameter"),
        material=_word("material", "wet" if remedy.wet else "dry"),
        listing=[*harder, _proved("fan", system, **stands)],
        drain=_drain(remedy.wet),
    )


def _damper(design: Study, k: int, tag: str, where: str, system: str) -> dict[str, Any]:
    """The damper of a control: what it lets pass and takes away, where the control acts and has come to rest."""
    held, solution, control = design.outcome.held, design.scan.solution, design.outcome.remedy.controls[k]
    place, taken = (control.second, held.second[k]) if control.second else (control, held.added[k])
    damper: Damper = place.device
    at, row, wet = held.acts[k] & held.settled, solution.row(place.section), place.section in wet_sections(design)
    density = solution.density[row, at]
    duty = {
        "flow": _ends(solution.flow[row, at] / density),
        "taken": _ends(-taken[at]),
        "density": _ends(density),
        "gas": _ends(solution.downstream[row, at]),
    }
    if control.sensor == HEADER:
        duty["position"] = _ends(design.outcome.position)
    rated = {"velocity": damper.leakage.velocity, "pressure": damper.leakage.pressure}
    shape = "round" if damper.round else "rectangular"
    moved = _word("listing", "actuator", step=100.0 * design.outcome.actuator_step)
    switches = [] if control.sensor == HEADER else [_word("listing", "outlet")]
    return _row(
        tag,
        "damper",
        where,
        system,
        figures={"blades": damper.blades, "count": damper.count},
        duty=duty,
        size=_word("size", shape, system, width=damper.width, height=damper.height),
        material=_word("material", "wet" if wet else "dry"),
        listing=[_proved("damper"), _word("listing", "leakage", system, **rated), moved, *switches],
        drain=_drain(wet),
    )


# --- What measures, limits and controls ---------------------------------------------------------------------


def header_settings(design: Study) -> Settings:
    """The settings of the header's sensor, limits and start: those that were proved, where a start was followed."""
    remedy = design.outcome.remedy
    if design.trial is not None:
        return design.trial.settings
    return loop_settings.settings_of(design.design.job, remedy) if remedy.set_point is not None else design.job.sequence


def sensor_range(design: Study, control: Control) -> tuple[Quantity, Quantity]:
    """The ends of the range of a control's sensor."""
    if control.sensor != HEADER:
        low, high = loop_settings.sensor_range(design.design.job, control)
        return Q_(low, "Pa"), Q_(high, "Pa")
    settings = header_settings(design)
    return settings.sensor_least, settings.sensor_most


def _sensors(design: Study, named: Tags, system: str) -> Iterator[dict[str, Any]]:
    for control in design.outcome.remedy.controls:
        ends = sensor_range(design, control)
        if control.sensor == HEADER:
            yield _row(named.sensor, "sensor", _tap(design), system, duty={"range": ends})
        else:
            where = _word("where", "outlet", appliance=control.sensor, section=control.section)
            yield _row(named.outlet_sensors[control.sensor], "sensor", where, system, duty={"range": ends})
    if named.high:
        yield from _switches(design, named, system)
    if named.control:
        listing = [_proved("interlock")]
        yield _row(named.control, "control", _word("where", "control"), system, listing=listing)


def _switches(design: Study, named: Tags, system: str) -> Iterator[dict[str, Any]]:
    settings = header_settings(design)
    for tag, kind, limit, delay in (
        (named.high, "high switch", "high_limit", "high_delay"),
        (named.low, "low switch", "low_limit", "low_delay"),
        (named.proof, "proof switch", "proof", "proof_delay"),
    ):
        duty = {"setting": [getattr(settings, limit)] * 2, "delay": [getattr(settings, delay)] * 2}
        yield _row(tag, kind, _tap(design), system, duty=duty, listing=[_word("listing", "switch")])


def _tap(design: Study) -> str:
    """Where the header's pressure is read."""
    plant = design.job.plant
    tap = sensor_location.taps(plant)[0].name
    return _word("where", "tap", tap=tap, section=end_of_header.far_end(plant))
