"""Job: one vent job as a TOML file, read and checked; what is wrong is said with its place and its remedy.

A file names the site, its seasons, the appliances with their firing levels, the sections of the vent, its
terminations, a fan that stands there already, materials of its own, what makers and authorities have allowed, the set
point to hold, how burners are started, the remedy offered if any, the alternates to be accepted; and, where they are
to be judged, the roof that the vent ends on, the air of the boiler room, and carbon monoxide in it. Quantities are text
with their unit written out: ``"40 ft"``, ``"-0.05 inH2O"``. Equal appliances and sections may be told once, with a
count (`repeated`). Unknown keys are errors. Every default that was used is listed. Reading never executes anything.
"""

import hashlib
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from ventcalc import tables
from ventcalc.building.co_exposure import COCase
from ventcalc.building.room_air import RoomAir
from ventcalc.draft.start_settings import Settings
from ventcalc.flow import wind
from ventcalc.job import (
    job_alternates,
    job_building,
    job_control,
    job_defaults,
    job_form,
    job_plant,
    job_slips,
    job_year,
    permissions,
    repeated,
)
from ventcalc.job.job_building import Emissions, Roof
from ventcalc.job.job_control import Existing, Offered
from ventcalc.job.job_faults import Faults, JobError, explain, sound_part
from ventcalc.job.job_fields import quantities
from ventcalc.job.job_form import File
from ventcalc.job.permissions import Permission
from ventcalc.job.year_hours import YearPlan
from ventcalc.units import Q_, Quantity, system_of
from ventcalc.vent import layout, pieces
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.words import Remark

__all__ = ["Alternate", "Job", "JobError", "load", "open_permissions", "read"]

MOST_BYTES = 1_000_000
# Between the shore of the lowest lake and above the highest town (from memory).
LOWEST, HIGHEST = Q_(-500.0, "m"), Q_(6000.0, "m")


@dataclass(frozen=True)
class Alternate:
    """What else may stand in place of some ``appliances``: the ``job`` with it in their place.

    Another make, of which the file tells the ``window`` alone (its flue gas is theirs) or everything; or nothing, where
    they are taken away and what remains keeps the vent (``window`` is None then).
    """

    name: str
    appliances: tuple[str, ...]
    window: tuple[Quantity, Quantity] | None
    job: "Job"


@dataclass(frozen=True)
class Document:
    """What the office files a job under: number of the ``project``, ``engineer``, ``checker``, ``revision``; "" where
    not told."""

    project: str = ""
    engineer: str = ""
    checker: str = ""
    revision: str = ""


@dataclass(frozen=True)
class Job:
    """A checked job: what to study, and what was taken by default.

    ``set_point`` is what the header shall be held at, ``hours`` how long its control runs in a year; ``sequence`` how
    burners are started on it and ``offered`` the remedy that the file names; ``existing`` is a fan that stands there
    already. ``roof``, ``room``, ``carbon_monoxide`` and ``emissions`` are None where the file does not tell of them.
    ``year`` is what a year of it is worked with, usual where the file does not tell.
    ``permissions`` are what makers and authorities have answered. ``system`` is the unit system that most of the file
    is written in. ``defaults`` lists "place = value" for every value the file left out, ``remarks`` what it says and
    may not mean (`job_slips`). ``text`` is the whole file, ``digest`` its SHA-256, ``document`` what it is filed under.
    """

    name: str
    note: str
    plant: Plant
    seasons: tuple[Season, ...]
    set_point: Quantity
    hours: Quantity
    actuator_step: float
    sequence: Settings
    existing: Existing | None
    offered: Offered | None
    alternates: tuple[Alternate, ...]
    permissions: tuple[Permission, ...]
    roof: Roof | None
    room: RoomAir | None
    carbon_monoxide: COCase | None
    emissions: Emissions | None
    year: YearPlan
    defaults: tuple[str, ...]
    remarks: tuple[Remark, ...]
    system: str
    text: str
    digest: str
    document: Document = Document()


def open_permissions(job: Job) -> tuple[Permission, ...]:
    """What the job's vent as drawn needs somebody to allow, and nobody has answered in its file."""
    return permissions.open_permissions(job.plant, job.permissions)


def load(path: str | Path) -> Job:
    """Read and check a job file.

    Raises `JobError` with every fault found: where (line or key), what was found, what would be valid.
    """
    path = Path(path)
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= MOST_BYTES else b""
    except OSError as error:
        raise JobError([f"{path.name}: cannot be read ({error.strerror}); give the path of a .toml job file"]) from None
    if size > MOST_BYTES:
        raise JobError([f"{path.name}: {size:,} bytes; a job file has at most {MOST_BYTES:,}"])
    return read(data, path.name)


@cache
def demonstration(name: str) -> Job:
    """One of the invented jobs of ``data/jobs`` by its name; read once."""
    return load(tables.DATA / "jobs" / f"{name}.toml")


def read(data: bytes, name: str = "job") -> Job:
    """Check the content of a job file; as `load`, from bytes."""
    try:
        text = data.decode("utf-8-sig")  # some editors begin a file with a mark that says so
    except UnicodeDecodeError as error:
        raise JobError([f"{name}: byte {error.start} is not UTF-8 text; a job file is plain TOML text"]) from None
    if not text.strip():
        raise JobError([f"{name}: the file is empty; start from one of data/jobs/"])
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError([f"{name}: {error}; {_curled(text) or 'see toml.io for the form of a TOML file'}"]) from None
    except RecursionError:
        raise JobError([f"{name}: brackets are nested too deeply; a job file needs three levels"]) from None
    try:
        whole = repeated.repeat(content)
        form = File.model_validate(whole)
    except repeated.RepeatError as error:
        raise JobError(error.problems) from None
    except ValidationError as error:
        # Once for a counted table, with the place where it stands in the file.
        places = [{**e, "loc": repeated.told_at(e["loc"], content)} for e in error.errors()]
        told = [*(explain(e, content) for e in places), *_also_wrong(whole, error.errors())]
        raise JobError(list(dict.fromkeys(told))) from None
    return _build(form, text, hashlib.sha256(data).hexdigest())


def _curled(text: str) -> str:
    """What to do about quotation marks that a word processor has curled, where there are any."""
    for number, line in enumerate(text.splitlines(), start=1):
        if found := next((sign for sign in line.partition("#")[0] if sign in "“”„‘’"), ""):
            return f'line {number} has {found} for a quotation mark; write " around texts'
    return ""


def _also_wrong(content: dict, errors: list) -> list[str]:
    """What is wrong with those parts of a file whose form is sound, so that it need not be read twice.

    What hangs on the parts that are not is left for when they are mended.
    """
    faults = Faults()
    try:
        form = File.model_validate(sound_part(content, errors))
    except ValidationError:  # too little is left to be a job
        return []
    _parts(form, faults, frozenset(_names(content)))
    return faults.problems


def _names(content: dict) -> Iterator[str]:
    """The names of the file's own fuels and materials, sound or not."""
    for kind in ("fuel", "material"):
        entries = content.get(kind)
        for entry in entries if isinstance(entries, list) else ():
            if isinstance(entry, dict) and isinstance(entry.get("name"), str):
                yield entry["name"]


def _build(form: File, text: str, digest: str) -> Job:
    """The job of a form. Raises `JobError` with all that the library refuses of it."""
    faults = Faults()
    plant, seasons = _vent(form, faults)
    allowed = [faults.guard(f'permission "{p.name}"', _permission, p, plant) for p in form.permission] if plant else []
    faults.problems += _answered_twice(allowed)
    offered = faults.guard("remedy", job_control.offered, form.remedy) if form.remedy else None
    existing = None
    if form.existing_fan and plant:
        existing = faults.guard("existing_fan", job_control.existing, form.existing_fan, plant)
    faults.stop_if_any()
    faults.guard("control", job_control.check_set_points, form, plant.appliances)
    sequence = faults.guard("sequence", job_control.sequence, form, plant.appliances, offered)
    building, exposure = _building(form, plant, faults)
    year = faults.guard("year", job_year.plan, plant, tuple(seasons), form.year)
    if not LOWEST <= form.site.altitude <= HIGHEST:
        faults.problems.append(f"site.altitude: {form.site.altitude:~P} must be {LOWEST.m:.0f} to {HIGHEST.m:.0f} m")
    faults.stop_if_any()
    plant, system = _standing(plant, form, building["roof"], exposure), system_of(quantities(form))
    made = Job(
        name=form.job.name,
        note=form.job.note,
        plant=plant,
        seasons=tuple(seasons),
        set_point=form.control.set_point,
        hours=form.control.hours,
        actuator_step=float(form.control.actuator_step.m_as("")),
        sequence=sequence,
        existing=existing,
        offered=offered,
        alternates=(),
        permissions=tuple(allowed),
        year=year,
        defaults=job_defaults.defaults(form, plant, seasons, sequence, building["emissions"], system),
        remarks=job_slips.slips(form, plant),
        system=system,
        text=text,
        digest=digest,
        document=Document(form.job.project, form.job.engineer, form.job.checker, form.job.revision),
        **building,
    )
    return _with_alternates(made, form, faults)


def _building(form: File, plant: Plant, faults: Faults) -> tuple[dict[str, Any], wind.Exposure | None]:
    """What a job tells of its building, by the names that `Job` has for it; and how that stands in the wind."""
    room = faults.guard("room", job_building.room, form.room, form.site.air_opening_side) if form.room else None
    roof = faults.guard("roof", job_building.roof, form.roof, plant) if form.roof else None
    exposure = faults.guard("site", job_building.exposure, form, room, roof)
    emissions = faults.guard("emissions", job_building.emissions, form.emissions) if form.emissions else None
    poison = None
    if form.carbon_monoxide:
        poison = faults.guard("carbon_monoxide", job_building.carbon_monoxide, form)
    return {"roof": roof, "room": room, "carbon_monoxide": poison, "emissions": emissions}, exposure


def _standing(plant: Plant, form: File, roof: Roof | None, exposure: wind.Exposure) -> Plant:
    """The plant in its building: where its ends stand in the wind, and how its appliances stand idle."""
    ends = tuple(job_building.placed(t, roof) for t in plant.terminations)
    plant = replace(plant, terminations=ends, exposure=exposure)
    idle = tuple(job_plant.idling(a, f, plant) for a, f in zip(plant.appliances, form.appliance, strict=True))
    return replace(plant, appliances=idle)


def _with_alternates(made: Job, form: File, faults: Faults) -> Job:
    """The job with its alternates, each a job of its own, and what may be a slip in them."""
    found = [faults.guard(f'alternate "{a.name}"', _alternate, a, form, made.text, made.digest) for a in form.alternate]
    faults.stop_if_any()
    others = job_slips.of_alternates(made.remarks, {a.name: a.job.remarks for a in found if a.window is not None})
    return replace(made, alternates=tuple(found), remarks=(*made.remarks, *others))


def _vent(form: File, faults: Faults) -> tuple[Plant | None, list[Season]]:
    """The vent and its seasons; all faults of its parts come at once."""
    seasons, appliances, sections, terminations, places = _parts(form, faults)
    for a in form.alternate:
        faults.guard(f'alternate "{a.name}"', job_alternates.check, a, form)
    faults.problems += job_plant.weatherless(form)
    faults.stop_if_any()
    feeds = tuple(a.into for a in form.appliance)
    opening = form.site.air_opening_height
    plant = faults.guard("vent", Plant, form.job.name, form.site.altitude, opening, tuple(appliances), feeds,
                         tuple(sections), tuple(terminations), None, tuple(places))  # fmt: skip
    return plant and pieces.with_foot(plant), seasons


def _parts(form: File, faults: Faults, wrong: frozenset[str] = frozenset()) -> tuple[list, ...]:
    """Seasons, appliances, sections, terminations and places, each by itself, None where it is refused.

    ``wrong``: names of own fuels and materials that may be wrong themselves, so that nothing is said of who has them.
    """
    fuels = dict.fromkeys(wrong) | {f.name: faults.guard(f'fuel "{f.name}"', job_plant.own_fuel, f) for f in form.fuel}
    own = dict.fromkeys(wrong) | {
        m.name: faults.guard(f'material "{m.name}"', job_plant.own_material, m) for m in form.material
    }
    seasons = [faults.guard(f'season "{s.name}"', job_plant.season, s) for s in form.season]
    appliances = faults.each("appliance", form.appliance, job_plant.appliance, fuels, own)
    sections = faults.each("section", form.section, job_plant.section, own)
    terminations = [faults.guard(f'termination "{t.name}"', job_plant.termination, t) for t in form.termination]
    places = [faults.guard(f'place "{p.name}"', layout.Place, p.name, p.air_opening_height) for p in form.place]
    for kind in ("season", "place", "appliance", "section", "termination", "fuel", "material", "alternate"):
        twice = job_plant.twice(getattr(form, kind))
        faults.problems += [f'{kind} "{name}": the name stands twice; give each its own' for name in twice]
    return seasons, appliances, sections, terminations, places


def _permission(p: job_form.Permission, plant: Plant) -> Permission:
    if isinstance(p.granted, str) and p.granted != "open":
        raise ValueError(f'granted {p.granted!r}; write true, false or "open"')
    made = Permission(p.what, p.name, None if p.granted == "open" else p.granted, p.by, tuple(p.standards))
    known = {
        "common vent": [a.name for a in plant.appliances],
        "listing": list(dict.fromkeys(s.material.name for s in plant.sections)),
        "authority": [t.name for t in plant.terminations],
    }[p.what]
    if p.name not in known:
        raise ValueError(f"nothing of that name for {p.what!r}; choose {', '.join(known)}")
    return made


def _answered_twice(allowed) -> list[str]:
    told = [(p.what, p.of) for p in allowed if p is not None]
    return [f'permission "{of}": {what} stands twice' for what, of in dict.fromkeys(told) if told.count((what, of)) > 1]


def _alternate(a: job_form.Alternate, form: File, text: str, digest: str) -> Alternate:
    """The alternate with the whole job as it would be with it: the remedy offered is judged on it by the same limits
    (`option_matrix`), and is not studied again."""
    changed = _build(job_alternates.changed(a, form), text, digest)
    window = a.window or (a.appliance.window if a.appliance else None)
    return Alternate(a.name, tuple(a.appliances), window and tuple(window), replace(changed, name=a.name, offered=None))
