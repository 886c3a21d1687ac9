"""Job: one vent job as a TOML file, read and checked; what is wrong is said with its place and its remedy.

A file names the site, its seasons, the appliances with their firing levels, the sections of the vent, its
terminations, materials of its own, what makers and authorities have allowed, the set point to hold, how burners are
started, the remedy offered if any, the alternates to be accepted; and, where they are to be judged, the roof that the
vent ends on, the air of the boiler room, and carbon monoxide in it. Quantities are text with their unit written out:
``"40 ft"``, ``"-0.05 inH2O"``. Unknown keys are errors. Every default that was used is listed. Reading never executes
anything.
"""

import difflib
import hashlib
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, create_model

from ventcalc.building import roof_scene, roof_wind, room_air
from ventcalc.building.co_exposure import COCase
from ventcalc.building.code_rules import figure
from ventcalc.building.roof_scene import Scene
from ventcalc.building.room_air import RoomAir
from ventcalc.building.terminal import Terminal
from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_curve import Fan
from ventcalc.draft.fan_table import fan
from ventcalc.draft.start_settings import Burner, Settings, beside
from ventcalc.flow import materials, wall_rings, wind
from ventcalc.flow.materials import Layer, Material, material
from ventcalc.gas import combustion_analysis
from ventcalc.gas.appliance import Appliance, FiringLevel, Leak, assumed_leak
from ventcalc.gas.fuels import Fuel, fuel, gas_fuel
from ventcalc.job import permissions
from ventcalc.job.permissions import Permission
from ventcalc.units import Q_, Quantity, UnitsError, magnitude, parse, ureg
from ventcalc.vent import layout
from ventcalc.vent.layout import Plant, Section, Termination, choose
from ventcalc.vent.network import PlaceAir, Season

MOST_BYTES = 1_000_000

# Remedies that a job file may name; `remedies` sizes them. Of the first the file may give devices and set point.
WITH_DEVICES = ("fan", "damper", "fan and damper", "damper at each outlet", "damper at each outlet and a fan")
REMEDIES = (
    *WITH_DEVICES,
    *("larger vent", "larger connectors", "laterals", "taller stack", "better cap", "narrower vent", "liner"),
    *("pipe changes", "pipe changes, more of them", "pipe changes and a damper", "shorter stack with a fan"),
)

# Volume of a combustion chamber over its greatest heat input, where the file does not give it (common practice, no
# source); it sets the time of the purge, so measure it.
CHAMBER_PER_INPUT = Q_(0.4, "m**3/MW")

_NAME = re.compile(r"[\w][\w .,:()/#+°-]{0,59}")
_NAME_RULE = "a name holds 1 to 60 letters, digits, spaces and . , : - _ ( ) / # + and begins with a letter or digit"


class JobError(ValueError):
    """A job file that cannot be used; ``problems`` holds one sentence a fault, each with its place."""

    def __init__(self, problems: list[str]):
        super().__init__("\n".join(problems))
        self.problems = problems


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
class Offered:
    """The remedy that a job names: one of `REMEDIES`, the header's set point (None: left to it), and the fan and the
    damper where they are not left to be chosen."""

    name: str
    set_point: Quantity | None
    fan: Fan | None
    damper: Damper | None

    @property
    def open(self) -> bool:
        """Whether set point, fan and damper are all left to be chosen."""
        return self.set_point is None and self.fan is None and self.damper is None


@dataclass(frozen=True)
class Roof:
    """Where the vent ends: the ``scene``, and the terminals that stand in it."""

    scene: Scene
    terminals: tuple[Terminal, ...]


@dataclass(frozen=True)
class Emissions:
    """What the burners are said to make, in the dry flue gas at 3 % oxygen: for what reaches an air intake.

    ``no2_share`` of the NOx is NO2 (None: not told).
    """

    nox: Quantity
    co: Quantity
    no2_share: float | None = None

    def __post_init__(self):
        if self.no2_share is not None and not 0.0 <= self.no2_share <= 1.0:
            raise ValueError(f"no2_share {100.0 * self.no2_share:g} % must be 0 to 100 %")


@dataclass(frozen=True)
class Job:
    """A checked job: what to study, and what was taken by default.

    ``set_point`` is what the header shall be held at, ``hours`` how long its control runs in a year; ``sequence`` how
    burners are started on it and ``offered`` the remedy that the file names. ``roof``,
    ``room``, ``carbon_monoxide`` and ``emissions`` are None where the file does not tell of them.
    ``permissions`` are what makers and authorities have answered. ``defaults`` lists "place = value" for every value
    the file left out. ``text`` is the whole file, ``digest`` its SHA-256.
    """

    name: str
    note: str
    plant: Plant
    seasons: tuple[Season, ...]
    set_point: Quantity
    hours: Quantity
    sequence: Settings
    offered: Offered | None
    alternates: tuple[Alternate, ...]
    permissions: tuple[Permission, ...]
    roof: Roof | None
    room: RoomAir | None
    carbon_monoxide: COCase | None
    emissions: Emissions | None
    defaults: tuple[str, ...]
    text: str
    digest: str


def open_permissions(job: Job) -> tuple[Permission, ...]:
    """What the job's vent as drawn needs somebody to allow, and nobody has answered in its file."""
    return permissions.open_permissions(job.plant, job.permissions)


# --- The form of the file -------------------------------------------------------------------------------


def _quantity(unit: str):
    """A field that takes text such as "40 ft" and gives a quantity that fits ``unit``."""
    wanted = ureg.Unit(unit)

    def read(value: Any) -> Quantity:
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise ValueError(f"write a quantity as text, such as {_EXAMPLE[unit]!r}")
        if not isinstance(value, str):
            raise ValueError(f"the unit is missing; write it out, such as {_EXAMPLE[unit]!r}")
        try:
            quantity = parse(value)
            magnitude(quantity, wanted, "it")
        except UnitsError as error:
            raise ValueError(str(error)) from None
        return quantity

    return Annotated[Any, BeforeValidator(read)]


_EXAMPLE = {"m": "40 ft", "K": "20 degF", "Pa": "-0.05 inH2O", "W": "1700 MBH", "m/s": "12 mph",
            "m**3/s": "100 cfm", "": "30 %", "s": "4000 hour", "m**3": "10 ft**3",
            "1/Pa": "100 percent/inH2O", "m**2": "200 inch**2", "1/s": "0.5 1/hour",
            "W/(m*K)": "0.2 W/(m*K)", "kg/m**3": "900 kg/m**3", "J/(kg*K)": "900 J/(kg*K)"}  # fmt: skip


def _name(value: Any) -> str:
    if not isinstance(value, str) or not _NAME.fullmatch(value):
        raise ValueError(_NAME_RULE)
    return value


Name = Annotated[str, BeforeValidator(_name)]
Length, Temperature, Pressure, Power = (_quantity(u) for u in ("m", "K", "Pa", "W"))
Speed, VolumeFlow, Ratio, Duration, Volume = (_quantity(u) for u in ("m/s", "m**3/s", "", "s", "m**3"))
Area, Rate = (_quantity(u) for u in ("m**2", "1/s"))
Conductivity, Density, SpecificHeat = (_quantity(u) for u in ("W/(m*K)", "kg/m**3", "J/(kg*K)"))
Window = Annotated[list[Pressure], Field(min_length=2, max_length=2)]


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, arbitrary_types_allowed=True)


class _About(_Form):
    name: Name
    note: str = Field("", max_length=2000)


class _Site(_Form):
    altitude: Length
    air_opening_height: Length = Field(default_factory=lambda: parse("0.3 m"))
    air_opening_side: str | None = None
    shielding: str = "exposed"


class _PlaceAir(_Form):
    name: Name
    temperature: Temperature
    pressure: Pressure = Field(default_factory=lambda: parse("0 Pa"))


class _Part(_Form):
    name: Name
    air_opening_height: Length | None = None


class _Season(_Form):
    name: Name
    outdoor: Temperature
    room: Temperature = Field(default_factory=lambda: parse("20 degC"))
    room_pressure: Pressure = Field(default_factory=lambda: parse("0 Pa"))
    wind: Speed = Field(default_factory=lambda: parse("0 m/s"))
    relative_humidity: Ratio = Field(default_factory=lambda: parse("60 %"))
    place: list[_PlaceAir] = Field(default_factory=list)


class _Fuel(_Form):
    name: Name
    composition: dict[str, Ratio]


class _Level(_Form):
    name: Name
    input: Power
    flue_temperature: Temperature
    co2: Ratio | None = None
    o2: Ratio | None = None
    excess_air: Ratio | None = None


class _Layer(_Form):
    name: Name
    thickness: Length
    conductivity: Conductivity | None = None
    density: Density | None = None
    specific_heat: SpecificHeat | None = None


class _Material(_Form):
    name: Name
    standards: list[str]
    fuels: list[str]
    categories: list[str]
    places: list[str]
    max_temperature: Temperature
    layer: list[_Layer] = Field(min_length=1)
    max_pressure: Pressure = Field(default_factory=lambda: parse("0 Pa"))
    condensate: bool = False
    roughness: Length = Field(default_factory=lambda: parse("1 mm"))


class _Permission(_Form):
    name: Name
    what: str
    granted: bool | str = "open"
    by: str = ""
    standards: list[str] = Field(default_factory=list)


class _Leak(_Form):
    flow: VolumeFlow
    pressure: Pressure


class _Make(_Form):
    """What an appliance is, wherever it stands."""

    fuel: Name
    category: str
    outlet_diameter: Length
    outlet_height: Length
    window: Window
    level: list[_Level] = Field(min_length=1)
    kind: str = "forced"
    idle: str | None = None
    leak: _Leak | None = None
    backflow_flap: bool | None = None
    purge_flow: VolumeFlow | None = None
    purge_pressure: Window | None = None
    chamber: Volume | None = None
    regulator_draft: Pressure | None = None
    longest_run: Length | None = None
    named_materials: list[str] = Field(default_factory=list)
    room: str = "room"


class _Appliance(_Make):
    name: Name
    into: Name


class _Section(_Form):
    name: Name
    into: Name
    length: Length
    diameter: Length
    material: str
    rise: Length = Field(default_factory=lambda: parse("0 m"))
    place: str = "room"
    fittings: list[str] = Field(default_factory=list)
    junction: str | None = None


class _Termination(_Form):
    name: Name
    cap: str
    place: str | None = None
    side: str | None = None


class _Control(_Form):
    set_point: Pressure = Field(default_factory=lambda: parse("-0.05 inH2O"))
    hours: Duration = Field(default_factory=lambda: parse("4000 hour"))


class _Damper(_Form):
    blades: str
    width: Length
    height: Length | None = None
    count: int = 1
    thickness: Length = Field(default_factory=lambda: parse("0 mm"))
    leakage: str


class _Remedy(_Form):
    name: str
    set_point: Pressure | None = None
    fan: str | None = None
    damper: _Damper | None = None


# Every setting of the start sequence but the set point, which belongs to the control; what is left out is usual.
_SETTINGS = {f.name: f.default for f in fields(Settings) if f.name not in ("burners", "set_point")}
_UNITS_OF_SETTINGS = ("s", "Pa", "m**3", "1/Pa", "")
_Sequence = create_model(
    "_Sequence",
    __base__=_Form,
    **{
        name: (_quantity(next(u for u in _UNITS_OF_SETTINGS if usual.is_compatible_with(u))) | None, None)
        for name, usual in _SETTINGS.items()
    },
)


class _Opening(_Form):
    name: Name
    area: Area
    way: str = "direct"
    louver: str = "none"
    free_share: Ratio | None = None
    smallest: Length | None = None
    place: str | None = None
    level: Length | None = None
    side: str | None = None


class _Exhaust(_Form):
    name: Name
    flow: VolumeFlow


class _Room(_Form):
    volume: Volume
    opening: list[_Opening] = Field(default_factory=list)
    leakage: _Leak | None = None
    exhaust: list[_Exhaust] = Field(default_factory=list)
    supply: VolumeFlow = Field(default_factory=lambda: parse("0 m**3/s"))
    interlocked: bool = False
    infiltration: Rate | None = None
    joined: Volume = Field(default_factory=lambda: parse("0 m**3"))
    sealed: list[Name] = Field(default_factory=list)


class _CarbonMonoxide(_Form):
    air_changes: Rate
    co_air_free: Ratio
    hours: Duration = Field(default_factory=lambda: parse("8 hour"))
    monitor: Ratio | None = None
    monitor_delay: Duration = Field(default_factory=lambda: parse("0 minute"))
    activity: str = "light work"


class _Emissions(_Form):
    nox: Ratio
    co: Ratio
    no2_share: Ratio | None = None


Place = Annotated[list[Length], Field(min_length=2, max_length=2)]
Corner = Annotated[list[Length], Field(min_length=3, max_length=3)]


class _Plane(_Form):
    name: Name
    corners: list[Corner] = Field(min_length=3)


class _Obstacle(_Form):
    name: Name
    kind: str
    outline: list[Place] = Field(min_length=1)
    top: Length
    base: Length = Field(default_factory=lambda: parse("0 m"))


class _RoofOpening(_Form):
    name: Name
    kind: str
    line: list[Place] = Field(min_length=1)
    bottom: Length
    top: Length
    next_door: bool = False


class _Mark(_Form):
    name: Name
    kind: str
    line: list[Place] = Field(min_length=1)
    top: Length | None = None


class _Terminal(_Form):
    name: Name
    x: Length
    y: Length
    outlet: Length | None = None
    kind: str
    cap_bottom: Length | None = None
    diameter: Length | None = None
    through: str = "roof"


class _Roof(_Form):
    grade: Length = Field(default_factory=lambda: parse("0 m"))
    floor: Length = Field(default_factory=lambda: parse("0 m"))
    plane: list[_Plane] = Field(min_length=1)
    obstacle: list[_Obstacle] = Field(default_factory=list)
    opening: list[_RoofOpening] = Field(default_factory=list)
    mark: list[_Mark] = Field(default_factory=list)
    terminal: list[_Terminal] = Field(min_length=1)


class _Alternate(_Form):
    name: Name
    appliances: list[Name] = Field(min_length=1)
    window: Window | None = None
    appliance: _Make | None = None
    removed: bool | None = None


class _File(_Form):
    job: _About
    site: _Site
    season: list[_Season] = Field(min_length=1)
    appliance: list[_Appliance] = Field(min_length=1)
    section: list[_Section] = Field(min_length=1)
    termination: list[_Termination] = Field(min_length=1)
    place: list[_Part] = Field(default_factory=list)
    fuel: list[_Fuel] = Field(default_factory=list)
    material: list[_Material] = Field(default_factory=list)
    permission: list[_Permission] = Field(default_factory=list)
    control: _Control = Field(default_factory=_Control)
    sequence: _Sequence = Field(default_factory=_Sequence)
    remedy: _Remedy | None = None
    roof: _Roof | None = None
    room: _Room | None = None
    carbon_monoxide: _CarbonMonoxide | None = None
    emissions: _Emissions | None = None
    alternate: list[_Alternate] = Field(default_factory=list)


# --- Reading --------------------------------------------------------------------------------------------


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


def read(data: bytes, name: str = "job") -> Job:
    """Check the content of a job file; as `load`, from bytes."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise JobError([f"{name}: byte {error.start} is not UTF-8 text; a job file is plain TOML text"]) from None
    if not text.strip():
        raise JobError([f"{name}: the file is empty; start from one of data/jobs/"])
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError([f"{name}: {error}; see toml.io for the form of a TOML file"]) from None
    except RecursionError:
        raise JobError([f"{name}: brackets are nested too deeply; a job file needs three levels"]) from None
    try:
        form = _File.model_validate(content)
    except ValidationError as error:
        raise JobError([_explain(e, content) for e in error.errors()]) from None
    return _build(form, text, hashlib.sha256(data).hexdigest())


def _explain(error, content) -> str:
    """One pydantic error as a sentence: place, what was found, what is valid."""
    place, kind = _place(error["loc"], content), error["type"]
    if kind == "extra_forbidden":
        known = _known_keys(error["loc"][:-1])
        close = difflib.get_close_matches(str(error["loc"][-1]), known, 1)
        hint = f"did you mean {close[0]!r}?" if close else f"known keys are {', '.join(known)}"
        return f"{place}: unknown key; {hint}"
    if kind == "missing":
        return f"{place}: missing; it is required"
    if kind == "value_error":
        return f"{place}: {error['ctx']['error']}"
    found = "" if isinstance(error["input"], dict | list) else f", found {error['input']!r}"
    return f"{place}: {error['msg'][0].lower()}{error['msg'][1:]}{found}"


def _place(location, content) -> str:
    """A key path such as ``appliance[2] "Boiler 2".level[1].input``, with the names that the file gives."""
    shown, here = "", content
    for key in location:
        if isinstance(key, int):
            here = here[key] if isinstance(here, list) and key < len(here) else None
            label = here.get("name") if isinstance(here, dict) else None
            shown += f"[{key + 1}]" + (f' "{label[:60]}"' if isinstance(label, str) and _NAME.fullmatch(label) else "")
        else:
            here = here.get(key) if isinstance(here, dict) else None
            shown += f".{key}" if shown else str(key)
    return shown


def _known_keys(location) -> list[str]:
    """Keys that the form knows at a place."""
    form = _File
    for key in location:
        if isinstance(key, str) and form is not None and key in form.model_fields:
            form = _form_of(form.model_fields[key].annotation)
    return sorted(form.model_fields) if form else []


def _form_of(annotation) -> type[_Form] | None:
    if get_origin(annotation) in (list, Union, UnionType, Annotated):
        return next((f for a in get_args(annotation) if (f := _form_of(a))), None)
    return annotation if isinstance(annotation, type) and issubclass(annotation, _Form) else None


# --- From the form to the plant ---------------------------------------------------------------------------


class _Faults:
    """Collects what the parts of the library refuse, each with its place."""

    def __init__(self):
        self.problems: list[str] = []

    def guard(self, place: str, make, *arguments):
        """What ``make`` gives, or None after noting why it refused."""
        try:
            return make(*arguments)
        except (ValueError, UnitsError) as error:
            self.problems.append(f"{place}: {error}")
            return None

    def stop_if_any(self) -> None:
        if self.problems:
            raise JobError(list(dict.fromkeys(self.problems)))


def _build(form: _File, text: str, digest: str) -> Job:
    faults = _Faults()
    fuels = {f.name: faults.guard(f'fuel "{f.name}"', _fuel, f) for f in form.fuel}
    own = {m.name: faults.guard(f'material "{m.name}"', _material, m) for m in form.material}
    seasons = [faults.guard(f'season "{s.name}"', _season, s) for s in form.season]
    appliances = [faults.guard(f'appliance "{a.name}"', _appliance, a, fuels, own) for a in form.appliance]
    sections = [faults.guard(f'section "{s.name}"', _section, s, own) for s in form.section]
    terminations = [faults.guard(f'termination "{t.name}"', _termination, t) for t in form.termination]
    for a in form.alternate:
        faults.guard(f'alternate "{a.name}"', _exchanges, a, form)
    places = [faults.guard(f'place "{p.name}"', layout.Place, p.name, p.air_opening_height) for p in form.place]
    faults.problems += _weatherless(form)
    for kind in ("season", "place", "appliance", "section", "termination", "fuel", "material", "alternate"):
        twice = _twice(getattr(form, kind))
        faults.problems += [f'{kind} "{name}": the name stands twice; give each its own' for name in twice]
    faults.stop_if_any()
    feeds = tuple(a.into for a in form.appliance)
    opening = form.site.air_opening_height
    plant = faults.guard("vent", Plant, form.job.name, form.site.altitude, opening, tuple(appliances), feeds,
                         tuple(sections), tuple(terminations), None, tuple(places))  # fmt: skip
    allowed = [faults.guard(f'permission "{p.name}"', _permission, p, plant) for p in form.permission] if plant else []
    faults.problems += _answered_twice(allowed)
    offered = faults.guard("remedy", _offered, form.remedy) if form.remedy else None
    faults.stop_if_any()
    sequence = faults.guard("sequence", _sequence, form, appliances, offered)
    room = faults.guard("room", _room, form.room, form.site.air_opening_side) if form.room else None
    roof = faults.guard("roof", _roof, form.roof, plant) if form.roof else None
    exposure = faults.guard("site", _exposure, form, room, roof)
    emissions = faults.guard("emissions", _emissions, form.emissions) if form.emissions else None
    poison = faults.guard("carbon_monoxide", _carbon_monoxide, form) if form.carbon_monoxide else None
    if not -500.0 <= form.site.altitude.m_as("m") <= 6000.0:
        faults.problems.append(f"site.altitude: {form.site.altitude:~P} must be -500 to 6000 m")
    faults.stop_if_any()
    plant = replace(plant, terminations=tuple(_placed(t, roof) for t in plant.terminations), exposure=exposure)
    plant = replace(plant, appliances=tuple(_idling(a, f, plant) for a, f in zip(plant.appliances, form.appliance,
                                                                                  strict=True)))  # fmt: skip
    made = Job(
        name=form.job.name,
        note=form.job.note,
        plant=plant,
        seasons=tuple(seasons),
        set_point=form.control.set_point,
        hours=form.control.hours,
        sequence=sequence,
        offered=offered,
        alternates=(),
        permissions=tuple(allowed),
        roof=roof,
        room=room,
        carbon_monoxide=poison,
        emissions=emissions,
        defaults=(
            *_defaults(form, ""),
            *_idle_not_told(form, plant),
            *_usual(form, sequence),
            *_not_told(plant, seasons),
            *_untold_share(emissions),
        ),
        text=text,
        digest=digest,
    )
    alternates = [faults.guard(f'alternate "{a.name}"', _alternate, a, form, text, digest) for a in form.alternate]
    faults.stop_if_any()
    return replace(made, alternates=tuple(alternates))


def _twice(listed) -> list[str]:
    names = [entry.name for entry in listed]
    return sorted({n for n in names if names.count(n) > 1})


def _fuel(f: _Fuel) -> Fuel:
    composition = {gas: float(share.m_as("")) for gas, share in f.composition.items()}
    return gas_fuel(f.name, composition, "composition given in the job file")


def _material(m: _Material) -> Material:
    """A material of the file's own, its wall as it is in the bore for which the tables state theirs."""
    if m.name in materials.names():
        raise ValueError("there is a material of that name already; give yours another")
    wall = tuple(_layer(part) for part in m.layer)
    resistance, ratio = wall_rings.wall(_USUAL_BORE, wall)
    return Material(
        name=m.name,
        standards=tuple(m.standards),
        named_only=not m.standards,
        built_to="",
        fuels=tuple(m.fuels),
        places=tuple(m.places),
        roughness=m.roughness,
        wall_resistance=Q_(resistance, "m**2*K/W"),
        diameter_ratio=ratio,
        max_temperature=m.max_temperature,
        max_pressure=m.max_pressure,
        condensate=m.condensate,
        categories=tuple(m.categories),
        layers=wall,
        source="given in the job file",
        status="not checked: the listing of the product governs",
        note="",
    )


_USUAL_BORE = 0.2  # m, as in data/flow/walls.csv


def _layer(part: _Layer) -> Layer:
    known = materials.substance(part.name) or (None, None, None)
    names = ("conductivity", "density", "specific_heat")
    values = [getattr(part, name) or usual for name, usual in zip(names, known, strict=True)]
    missing = [name for name, value in zip(names, values, strict=True) if value is None]
    if missing:
        raise ValueError(f"layer {part.name!r} is no known substance of one make: give its {', '.join(missing)}")
    return Layer(part.name, part.thickness, *values)


def _of(name: str, own: dict[str, Material | None]) -> Material:
    """The material of that name, the file's own first."""
    if name in own:
        if own[name] is None:
            raise ValueError(f"material {name!r} has faults of its own")
        return own[name]
    if name in materials.names():
        return material(name)
    raise ValueError(f"unknown material {name!r}; known are: {', '.join((*own, *materials.names()))}")


def _permission(p: _Permission, plant: Plant) -> Permission:
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


def _idling(a: Appliance, form: _Appliance, plant: Plant) -> Appliance:
    """The appliance as it stands idle; where the file does not say, on a common vent the worse."""
    if a.kind != "forced" or form.idle is not None or form.leak is not None or not _shares(a, plant):
        return a
    return replace(a, idle="leaking", leak=assumed_leak(a.fuel, a.levels, bool(form.backflow_flap)))


def _shares(a: Appliance, plant: Plant) -> bool:
    return any(len(plant.serves(section.name)) > 1 for section in plant.path(a.name))


def _idle_not_told(form: _File, plant: Plant) -> Iterator[str]:
    """How appliances stand idle where the file does not say, in the words of `_defaults`."""
    for a, given in zip(plant.appliances, form.appliance, strict=True):
        if a.kind != "forced" or given.idle is not None:
            continue
        told = f'appliance "{a.name}".idle = {a.idle}'
        if a.idle == "leaking" and given.leak is None:
            flap = "with its flap shut" if given.backflow_flap else "as one without a flap, the worse of both"
            told += f", {a.leak.flow.to('m**3/hour'):.3g~P} at {a.leak.pressure.to('Pa'):.3g~P}: {flap}"
        yield told


def _season(s: _Season) -> Season:
    places = tuple(PlaceAir(p.name, p.temperature, p.pressure) for p in s.place)
    return Season(s.name, s.outdoor, s.room, s.room_pressure, s.wind, float(s.relative_humidity.m_as("")), places)


def _weatherless(form: _File) -> Iterator[str]:
    """Places that a season leaves out, and places of a season that the file does not have."""
    known = [p.name for p in form.place]
    for season in form.season:
        told = [p.name for p in season.place]
        for name in _twice(season.place):
            yield f'season "{season.name}".place "{name}": the name stands twice'
        for name in told:
            if name not in known:
                yield f'season "{season.name}".place "{name}": no place of that name; {choose(name, known)}'
        for name in known:
            if name not in told:
                yield f'season "{season.name}": the temperature of the place "{name}" is missing; give it as its place'


def _termination(t: _Termination) -> Termination:
    return Termination(t.name, t.cap, t.place, t.side)


def _placed(end: Termination, roof: Roof | None) -> Termination:
    """A termination with its place in the wind as the roof scene shows it, where the file does not give it."""
    terminal = next((t for t in roof.terminals if t.name == end.name), None) if roof else None
    if end.place is None and (end.cap == wind.WALL_TERMINAL or (terminal and terminal.through == "wall")):
        return replace(end, place="wall")
    if end.place is not None or terminal is None:
        return end
    return replace(end, place="clear" if roof_wind.clear_of_roof(roof.scene, terminal) else "near roof")


def _exposure(form: _File, room: RoomAir | None, roof: Roof | None) -> wind.Exposure:
    """How the building stands in the wind; where the file tells of no room its one air opening is all there is."""
    side = form.site.air_opening_side
    ways = room_air.wind_ways(room) if room else ()
    ways = ways or ((wind.Way(1.0, side),) if side else ())
    return wind.Exposure(form.site.shielding, roof_wind.roof_pitch(roof.scene) if roof else None, ways)


def _not_told(plant: Plant, seasons) -> Iterator[str]:
    """What the file does not tell of the wind, so that its widest range was taken, in the words of `_defaults`."""
    if not any(s.wind.m > 0.0 for s in seasons):
        return
    if not plant.exposure.told:
        yield "wind: an opening's side is not told, so the room is taken at the lowest and the highest of all walls"
    for end in plant.terminations:
        if end.place == "wall":
            if end.side is None:
                yield f'termination "{end.name}".side = any, windward as well as lee'
        elif end.place is None:
            yield f'termination "{end.name}".place = near roof, where wind blows down on it'


def _untold_share(emissions: Emissions | None) -> Iterator[str]:
    """The share of NO2 in NOx that is taken where the file does not tell it."""
    if emissions is not None and emissions.no2_share is None:
        usual, most = (float(figure("re_entrainment", rule).m) for rule in ("NO2 in NOx", "NO2 in NOx, at most"))
        yield f"emissions.no2_share = {usual:.0%}, up to {most:.0%} for the authority to read"


def _section(s: _Section, own: dict[str, Material | None]) -> Section:
    made = Section(s.name, s.length, s.rise, s.diameter, _of(s.material, own), s.into, s.place, tuple(s.fittings),
                   s.junction)  # fmt: skip
    if s.material not in own:
        return made
    resistance, ratio = wall_rings.wall(float(s.diameter.m_as("m")), made.material.layers)
    wall = replace(made.material, wall_resistance=Q_(resistance, "m**2*K/W"), diameter_ratio=ratio)
    return replace(made, material=wall)


def _appliance(a: _Appliance, fuels: dict[str, Fuel | None], own: dict[str, Material | None]) -> Appliance:
    burnt = fuels[a.fuel] if fuels.get(a.fuel) else fuel(a.fuel)
    names = [lv.name for lv in a.level]
    if len(set(names)) < len(names) or {"off", "purge"} & set(names):
        raise ValueError(f"level names {', '.join(names)} must differ from one another and from off and purge")
    for name in a.named_materials:
        _of(name, own)
    if a.idle == "sealed" and a.leak is not None:
        raise ValueError("idle = sealed, though a leak is told; leave one of the two out")
    if a.backflow_flap is not None and (a.kind != "forced" or a.idle is not None or a.leak is not None):
        raise ValueError("backflow_flap: kind, idle or leak say already how it stands idle; leave one out")
    return Appliance(
        name=a.name,
        fuel=burnt,
        category=a.category,
        levels=tuple(_level(lv, burnt) for lv in a.level),
        outlet_diameter=a.outlet_diameter,
        outlet_height=a.outlet_height,
        window=tuple(a.window),
        kind=a.kind,
        idle=a.idle or ("leaking" if a.leak else "sealed"),
        leak=Leak(a.leak.flow, a.leak.pressure) if a.leak else Leak(),
        purge_flow=a.purge_flow,
        regulator_draft=a.regulator_draft,
        longest_run=a.longest_run,
        named_materials=tuple(a.named_materials),
        room=a.room,
        purge_pressure=None if a.purge_pressure is None else tuple(a.purge_pressure),
    )


def _level(lv: _Level, burnt: Fuel) -> FiringLevel:
    given = [(key, getattr(lv, key)) for key in ("co2", "o2", "excess_air") if getattr(lv, key) is not None]
    if len(given) != 1:
        raise ValueError(f"level {lv.name}: give exactly one of co2, o2 and excess_air, found {len(given)}")
    key, value = given[0]
    ratio = float(value.m_as(""))
    if key == "co2":
        ratio = float(combustion_analysis.excess_air_from_co2.bare(burnt, ratio))
    elif key == "o2":
        ratio = float(combustion_analysis.excess_air_from_o2.bare(burnt, ratio))
    return FiringLevel(lv.name, lv.input, ratio, lv.flue_temperature)


def _offered(form: _Remedy) -> Offered:
    if form.name not in REMEDIES:
        raise ValueError(f"name {form.name!r}; choose {', '.join(REMEDIES)}")
    for part, given in (("fan", form.fan), ("damper", form.damper)):
        if given is not None and part not in form.name.replace("damper at each outlet", ""):
            raise ValueError(f"{part}: the remedy {form.name!r} has none in the stack")
    if form.name not in WITH_DEVICES and (form.set_point, form.fan, form.damper) != (None, None, None):
        raise ValueError(f"the remedy {form.name!r} is sized by the study: give neither set_point nor fan nor damper")
    return Offered(form.name, form.set_point, form.fan and fan(form.fan), form.damper and _damper(form.damper))


def _damper(d: _Damper) -> Damper:
    return Damper(d.blades, d.width, d.height or d.width, leakage_class(d.leakage), d.count, d.thickness)


def _sequence(form: _File, appliances: list[Appliance], offered: Offered | None) -> Settings:
    """How burners start: usual values, those that belong to the set point in their place, and what the file gives."""
    burners = [_burner(a, f) for a, f in zip(appliances, form.appliance, strict=True)]
    set_point = (offered and offered.set_point) or form.control.set_point
    usual = Settings(tuple(burners))
    moved = beside(usual, set_point)
    given = {name: value for name in _SETTINGS if (value := getattr(form.sequence, name)) is not None}
    return replace(usual, set_point=set_point, **moved | given)


def _burner(a: Appliance, form: _Appliance) -> Burner:
    chamber = form.chamber or (CHAMBER_PER_INPUT * max(level.heat_input for level in a.levels)).to("m**3")
    purge = a.states.index("purge") if a.purge_flow is not None else 0
    return Burner(a.name, chamber, a.purge_flow, (float(purge), purge + 1.0, float(len(a.states) - 1)))


def _room(form: _Room, side: str | None) -> RoomAir:
    """The room; an opening stands on the ``side`` of the site's air opening where its own is not given."""
    return RoomAir(
        volume=form.volume,
        openings=tuple(
            room_air.Opening(o.name, o.area, o.way, o.louver, None if o.free_share is None
                                   else float(o.free_share.m_as("")), o.smallest, o.place, o.level,
                                   side=o.side or side)
            for o in form.opening
        ),
        leakage=form.leakage and room_air.Leakage(form.leakage.flow, form.leakage.pressure),
        exhausts=tuple(room_air.Exhaust(e.name, e.flow) for e in form.exhaust),
        supply=form.supply,
        interlocked=form.interlocked,
        infiltration=form.infiltration,
        joined=form.joined,
        sealed=tuple(form.sealed),
    )  # fmt: skip


def _emissions(form: _Emissions) -> Emissions:
    return Emissions(form.nox, form.co, None if form.no2_share is None else float(form.no2_share.m_as("")))


def _carbon_monoxide(form: _File) -> COCase:
    """The case; the room is that of the file, at the temperature of its first season."""
    if form.room is None:
        raise ValueError("tell of the room as well: [room] with its volume")
    c = form.carbon_monoxide
    return COCase(
        room_volume=form.room.volume,
        air_changes=c.air_changes,
        co_air_free=c.co_air_free.to("ppm"),
        hours=c.hours,
        room_temperature=form.season[0].room,
        monitor=None if c.monitor is None else c.monitor.to("ppm"),
        monitor_delay=c.monitor_delay,
        activity=c.activity,
    )


def _roof(form: _Roof, plant: Plant) -> Roof:
    scene = Scene(
        planes=tuple(roof_scene.RoofPlane(p.name, _points(p.corners)) for p in form.plane),
        obstacles=tuple(roof_scene.Obstacle(o.name, o.kind, _points(o.outline), o.top, o.base) for o in form.obstacle),
        openings=tuple(
            roof_scene.Opening(o.name, o.kind, _points(o.line), o.bottom, o.top, o.next_door) for o in form.opening
        ),
        marks=tuple(roof_scene.Mark(m.name, m.kind, _points(m.line), m.top) for m in form.mark),
        grade=form.grade,
    )
    return Roof(scene, tuple(_terminal(t, form, plant) for t in form.terminal))


def _points(listed) -> Quantity:
    return Q_([[float(v.m_as("m")) for v in point] for point in listed], "m")


def _terminal(t: _Terminal, form: _Roof, plant: Plant) -> Terminal:
    """A termination of the vent in its place; height, size, input and hood are the vent's own where not given.

    Heights in the scene are counted from where the file counts them; ``floor`` is the boiler-room floor there.
    """
    ends = [s for s in plant.sections if s.into == t.name]
    if not ends:
        names = ", ".join(e.name for e in plant.terminations)
        raise ValueError(f'terminal "{t.name}": the vent has no termination of that name; it has {names}')
    served = plant.serves(ends[0].name)
    watts = sum(max(level.heat_input.m_as("W") for level in a.levels) for a in served)
    collar = form.floor + max(a.outlet_height for a in served)
    top = form.floor + Q_(plant.heights[ends[0].name][1], "m")
    wide = t.diameter or ends[0].diameter * ends[0].material.diameter_ratio
    categories, hooded = tuple(a.category for a in served), any(a.kind == "draft hood" for a in served)
    return Terminal(t.name, t.x, t.y, t.outlet or top, wide, t.kind, t.cap_bottom, t.through, Q_(watts, "W"),
                    collar, categories, hooded)  # fmt: skip


def _exchanges(a: _Alternate, form: _File) -> None:
    """Raises ValueError where an alternate is for nobody, or says no one thing."""
    known = [x.name for x in form.appliance]
    unknown = [n for n in a.appliances if n not in known]
    if unknown:
        raise ValueError(f"no appliance named {', '.join(unknown)}; appliances are {', '.join(known)}")
    told = [key for key in ("window", "appliance", "removed") if getattr(a, key)]
    if len(told) != 1:
        raise ValueError(f"give exactly one of window, appliance and removed = true, found {', '.join(told) or 'none'}")
    if a.removed and set(a.appliances) == set(known):
        raise ValueError("removed: nothing would be left on the vent")
    if a.window is not None:
        low, high = a.window
        if not low.m_as("Pa") < high.m_as("Pa"):
            raise ValueError(f"window {low:~P} to {high:~P} must run from lower to higher")


def _alternate(a: _Alternate, form: _File, text: str, digest: str) -> Alternate:
    """The alternate with the whole job as it would be with it; the remedy offered and the alternates stay behind."""
    if a.removed:
        appliances = [x for x in form.appliance if x.name not in a.appliances]
    else:
        appliances = [_in_place(a, x) if x.name in a.appliances else x for x in form.appliance]
    changes: dict[str, Any] = {"appliance": appliances, "alternate": [], "remedy": None}
    if a.removed:
        changes |= _left_standing(form, a, appliances)
    changed = _build(form.model_copy(update=changes), text, digest)
    window = a.window or (a.appliance.window if a.appliance else None)
    return Alternate(a.name, tuple(a.appliances), window and tuple(window), replace(changed, name=a.name))


def _in_place(a: _Alternate, old: _Appliance) -> _Appliance:
    """The appliance of an alternate where another stood, under its name."""
    if a.appliance is None:
        return old.model_copy(update={"window": a.window})
    own = {key: getattr(a.appliance, key) for key in type(a.appliance).model_fields}
    return _Appliance.model_construct(
        a.appliance.model_fields_set | {"name", "into"}, name=old.name, into=old.into, **own
    )


def _left_standing(form: _File, a: _Alternate, appliances: list[_Appliance]) -> dict[str, Any]:
    """The sections that still carry something when some appliances are gone, and the room and permissions without them.

    Where their connectors joined the header it is capped.
    """
    into = {s.name: s.into for s in form.section}
    kept: set[str] = set()
    for x in appliances:
        name = x.into
        while name in into and name not in kept:
            kept.add(name)
            name = into[name]
    gone = set(a.appliances)
    found: dict[str, Any] = {
        "section": [s for s in form.section if s.name in kept],
        "permission": [p for p in form.permission if p.name not in gone],
    }
    if form.room is not None:
        found["room"] = form.room.model_copy(update={"sealed": [n for n in form.room.sealed if n not in gone]})
    return found


def _defaults(form: _Form, place: str):
    """ "place = value" for everything that the file left out and that matters to a result."""
    for key in type(form).model_fields:
        value, here = getattr(form, key), f"{place}.{key}" if place else key
        if key not in form.model_fields_set:
            if value is not None and value not in ([], "") and not isinstance(value, _Form):
                yield f"{here} = {value:~P}" if isinstance(value, Quantity) else f"{here} = {value}"
            elif isinstance(value, _Form):
                yield from _defaults(value, here)
        elif isinstance(value, _Form):
            yield from _defaults(value, here)
        elif isinstance(value, list):
            for entry in value:
                if isinstance(entry, _Form):
                    yield from _defaults(entry, f'{here} "{entry.name}"')


def _usual(form: _File, sequence: Settings):
    """What was taken as usual for the start of the burners, in the words of `_defaults`."""
    given = {a.name for a in form.appliance if a.chamber is not None}
    for burner in sequence.burners:
        if burner.name not in given and burner.purge_flow is not None:
            yield f'appliance "{burner.name}".chamber = {burner.chamber:.3g~P}, by its input'
    left = [name for name in _SETTINGS if getattr(form.sequence, name) is None]
    if left:
        yield f"sequence: usual values (data/draft/start_sequence.csv) for {', '.join(left)}"
