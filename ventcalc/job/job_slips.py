"""Job slips: what a job file may say and seldom means, such as a rise in inches for feet; told, and not refused.

What nothing real can be is refused where it is read. Here stand values that some building may have, but that are
mostly a slip of the pen which no sum would show: it would only turn out otherwise. Bounds: common practice, no source.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from ventcalc.gas.appliance import CATEGORIES, OPEN_PRESSURE, Appliance, assumed_leak
from ventcalc.job import job_form
from ventcalc.job.job_fields import as_written
from ventcalc.job.job_form import File
from ventcalc.units import Q_, Quantity
from ventcalc.vent.layout import ROOM, Plant, Section
from ventcalc.words import Remark, spans

WARM, COLD = Q_(15.0, "degC"), Q_(10.0, "degC")  # outdoors; some season of a site is warmer, and some is colder
COLDEST_ROOM = Q_(5.0, "degC")  # where water stands in pipes
INPUTS = Q_(2.0, "kW"), Q_(20.0, "MW")  # of a firing level
WINDOW = Q_(-1.0, "inH2O"), Q_(2.0, "inH2O")
HIGHEST_COLLAR = Q_(6.0, "m")  # above the floor on which the appliance stands
COLDEST_GAS = Q_(25.0, "degC")  # of an appliance that burns: water comes back to no boiler much colder
HOT_TO_CONDENSE = Q_(150.0, "degC")  # far above what a condensing appliance lets out
WET = Q_(50.0, "degC")  # below it flue gas of any usual fuel condenses
WIDEST = Q_(1.5, "m")  # bore of a vent that is sold: up to some 48 in.
COLLAR = 0.5, 1.5  # over the diameter of the section that it leads into
LONG = Q_(2.0, "m")  # a last piece that is longer is mostly upright, and rises by more than half its length
UPRIGHT = 0.5
PURGE = 0.1, 4.0  # of the air that its burner needs at its highest level: one and the same fan moves both
FALL = Q_(0.3, "m")  # more than a pitch to a drain
SAME = 1.02  # what diameters in inches and millimeters differ by

Told = Iterator[tuple[str, str, dict[str, Any]]]  # name, code in words.toml, figures


def slips(form: File, plant: Plant) -> tuple[Remark, ...]:
    """What may be a slip, each with its key and its value; the same of several entries once."""
    found = [
        *_seasons(form),
        *_opening(form, plant),
        *_together(_rooms(form)),
        *_together(t for a in form.appliance for t in _appliance(a, plant)),
        *_together(t for s in form.section for t in _section(s, form, plant)),
        *_set_points(form),
        *_together(_room_openings(form)),
    ]
    return tuple(Remark("job", "slips", code, figures) for code, figures in found)


def of_alternates(own: tuple[Remark, ...], others: Mapping[str, tuple[Remark, ...]]) -> Iterator[Remark]:
    """What may be a slip in another make, by the name of the alternate, and is not told of the job itself."""
    for name, remarks in others.items():
        for remark in remarks:
            if remark not in own and remark.code != "set point":  # that is looked at with all makes together
                yield Remark("job", "slips", "alternate", {"name": name, "told": remark})


def _together(rows: Told) -> Iterator[tuple[str, dict[str, Any]]]:
    """Codes and figures, with the names of all entries of which the same is told."""
    groups: dict[str, tuple[str, dict[str, Any], list[str]]] = {}
    for name, code, figures in rows:
        groups.setdefault(repr((code, figures)), (code, figures, []))[2].append(name)
    for code, figures, names in groups.values():
        yield code, figures | {"names": tuple(f'"{name}"' for name in spans(names))}


def _like(value: Quantity, other: Quantity) -> str:
    """A value in the unit of another."""
    return f"{value.m_as(other.units):,.3g} {other.units:~P}"


def _seasons(form: File) -> Iterator[tuple[str, dict[str, Any]]]:
    outdoors = sorted((s.outdoor for s in form.season), key=lambda t: t.m_as("K"))
    if outdoors[-1] <= WARM:
        yield "no warm season", {"outdoor": as_written(outdoors[-1])}
    if outdoors[0] >= COLD:
        yield "no cold season", {"outdoor": as_written(outdoors[0])}


def _rooms(form: File) -> Told:
    for s in form.season:
        figures = {"room": as_written(s.room), "outdoor": as_written(s.outdoor)}
        if s.room < COLDEST_ROOM:
            yield s.name, "cold room", figures
        elif s.room < s.outdoor <= COLD:
            yield s.name, "room below outdoors", figures


def _room_openings(form: File) -> Told:
    for o in form.room.opening if form.room else ():
        if o.place is None:
            yield o.name, "opening nowhere", {"area": as_written(o.area)}


def _opening(form: File, plant: Plant) -> Iterator[tuple[str, dict[str, Any]]]:
    height, ends = form.site.air_opening_height, {t.name for t in plant.terminations}
    top = Q_(max(plant.heights[s.name][1] for s in plant.sections if s.into in ends), "m")
    if height > top:
        yield "opening above vent", {"height": as_written(height), "top": _like(top, height)}


def _appliance(a: job_form.Appliance, plant: Plant) -> Told:
    made = next(x for x in plant.appliances if x.name == a.name)
    yield from ((a.name, *told) for part in (_collar(a, plant), _window(a, made), _gas(a, made)) for told in part)


def _collar(a: job_form.Appliance, plant: Plant) -> Iterator[tuple[str, dict[str, Any]]]:
    height = {"height": as_written(a.outlet_height)}
    if a.outlet_height.m < 0.0:
        yield "collar below floor", height
    if a.outlet_height > HIGHEST_COLLAR and a.room == ROOM:
        yield "collar high", height
    connector = plant.section(a.into).diameter
    if not COLLAR[0] <= float((a.outlet_diameter / connector).m_as("")) <= COLLAR[1]:
        yield "collar and connector", {"collar": as_written(a.outlet_diameter), "diameter": as_written(connector)}


def _window(a: job_form.Appliance, made: Appliance) -> Iterator[tuple[str, dict[str, Any]]]:
    low, high = a.window
    window = {"low": as_written(low), "high": as_written(high)}
    if low < WINDOW[0] or high > WINDOW[1]:
        yield "wide window", window
    if a.kind != "forced" and high.m > 0.0:
        yield "window under pressure", window | {"kind": a.kind}
    if not CATEGORIES[made.category].positive and low.m >= 0.0:
        yield "window without draft", window | {"category": made.shown_category}


def _gas(a: job_form.Appliance, made: Appliance) -> Iterator[tuple[str, dict[str, Any]]]:
    for level in a.level:
        if not INPUTS[0] <= level.input <= INPUTS[1]:
            yield "input", {"level": level.name, "input": as_written(level.input)}
        yield from _temperature(level, made)
    if a.purge_flow is not None:
        share = float((a.purge_flow / assumed_leak(made.fuel, made.levels).flow).m_as(""))
        if not PURGE[0] <= share <= PURGE[1]:
            yield "purge", {"flow": as_written(a.purge_flow), "share": f"{share:.2g}"}
    if a.leak is not None:
        open_to = a.leak.flow * float((OPEN_PRESSURE / a.leak.pressure).m_as("")) ** 0.5
        fires = assumed_leak(made.fuel, made.levels).flow
        if open_to > fires:
            told = {"flow": as_written(a.leak.flow), "pressure": as_written(a.leak.pressure)}
            yield "leak", told | {"open": open_to, "of": as_written(OPEN_PRESSURE), "fires": fires}


def _temperature(level: job_form.Level, made: Appliance) -> Iterator[tuple[str, dict[str, Any]]]:
    figures = {"level": level.name, "flue": as_written(level.flue_temperature), "category": made.shown_category}
    condensing = CATEGORIES[made.category].condensing
    if level.flue_temperature < COLDEST_GAS:
        yield "cold gas", figures
    elif condensing and level.flue_temperature > HOT_TO_CONDENSE:
        yield "hot to condense", figures
    elif not condensing and level.flue_temperature < WET:
        yield "wet for its category", figures


def _section(s: job_form.Section, form: File, plant: Plant) -> Told:
    figures = {"rise": as_written(s.rise), "length": as_written(s.length), "diameter": as_written(s.diameter)}
    if s.rise < -FALL:
        yield s.name, "falls", figures
    elif _should_rise(plant.section(s.name), plant) and s.rise < UPRIGHT * s.length:
        yield s.name, "hardly rises" if "rise" in s.model_fields_set else "no rise", figures
    if s.diameter > WIDEST:
        yield s.name, "wide", figures
    after = next((x for x in form.section if x.name == s.into), None)
    if after is not None and s.diameter > SAME * after.diameter:
        yield s.name, "narrows", figures | {"after": as_written(after.diameter)}


def _should_rise(section: Section, plant: Plant) -> bool:
    """Whether it is a long last piece, and is not told to end in a wall."""
    end = next((t for t in plant.terminations if t.name == section.into), None)
    return end is not None and end.place != "wall" and end.side is None and section.length > LONG


def _set_points(form: File) -> Iterator[tuple[str, dict[str, Any]]]:
    """Those told that no appliance's window holds, those of alternates among them."""
    makes = [a.appliance for a in form.alternate if a.appliance]
    windows = [x.window for x in (*form.appliance, *form.alternate, *makes) if x.window is not None]
    low, high = min(w[0] for w in windows), max(w[1] for w in windows)
    for key, table in (("control", form.control), ("remedy", form.remedy)):
        if table is None or "set_point" not in table.model_fields_set:
            continue
        at = table.set_point
        if not low <= at <= high:
            yield "set point", {"key": key, "at": as_written(at), "low": _like(low, at), "high": _like(high, at)}
