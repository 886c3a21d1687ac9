"""Job form: the keys that a job file knows, each with what it may be and its usual value.

Those of the building stand in `job_form_building`, those of the year in `job_form_year`. Unknown keys are errors.
"""

from dataclasses import fields

from pydantic import Field, create_model

from ventcalc.draft.start_settings import Settings
from ventcalc.job.job_fields import (
    Altitude,
    Conductivity,
    Density,
    Draft,
    Duration,
    Form,
    HeatingValue,
    HeatInput,
    Leak,
    Length,
    Name,
    Pressure,
    Ratio,
    SpecificHeat,
    Speed,
    Step,
    Temperature,
    Volume,
    VolumeFlow,
    Window,
    quantity,
)
from ventcalc.job.job_form_building import CarbonMonoxide, Emissions, Roof, Room
from ventcalc.job.job_form_year import Year
from ventcalc.units import parse


class About(Form):
    """[job]: its name, a note for whoever reads the file, and what the office files it under."""

    name: Name
    note: str = Field("", max_length=2000)
    project: str = Field("", max_length=60)
    engineer: str = Field("", max_length=60)
    checker: str = Field("", max_length=60)
    revision: str = Field("", max_length=60)


class Site(Form):
    """[site]: where the building stands, and its air opening."""

    altitude: Altitude
    air_opening_height: Length = Field(default_factory=lambda: parse("0.3 m"))
    air_opening_side: str | None = None
    shielding: str = "exposed"


class PlaceAir(Form):
    """A place of a season: what air stands in it."""

    name: Name
    temperature: Temperature
    pressure: Pressure = Field(default_factory=lambda: parse("0 Pa"))


class Place(Form):
    """[[place]]: a part of the building with air of its own."""

    name: Name
    air_opening_height: Length | None = None


class Season(Form):
    """[[season]]: the weather, and the air indoors."""

    name: Name
    outdoor: Temperature
    room: Temperature = Field(default_factory=lambda: parse("20 degC"))
    room_pressure: Pressure = Field(default_factory=lambda: parse("0 Pa"))
    wind: Speed = Field(default_factory=lambda: parse("0 m/s"))
    relative_humidity: Ratio = Field(default_factory=lambda: parse("60 %"))
    place: list[PlaceAir] = Field(default_factory=list)


class Fuel(Form):
    """[[fuel]]: a gas of the file's own, or with its heating value a liquid."""

    name: Name
    composition: dict[str, Ratio]
    higher_heating_value: HeatingValue | None = None


class Level(Form):
    """[[appliance.level]]: one firing level; the excess air told in one of three ways."""

    name: Name
    input: HeatInput
    flue_temperature: Temperature
    co2: Ratio | None = None
    o2: Ratio | None = None
    excess_air: Ratio | None = None


class Layer(Form):
    """[[material.layer]]: one layer of a wall."""

    name: Name
    thickness: Length
    conductivity: Conductivity | None = None
    density: Density | None = None
    specific_heat: SpecificHeat | None = None


class Material(Form):
    """[[material]]: a vent material of the file's own."""

    name: Name
    standards: list[str]
    fuels: list[str]
    categories: list[str]
    places: list[str]
    max_temperature: Temperature
    layer: list[Layer] = Field(min_length=1)
    max_pressure: Pressure = Field(default_factory=lambda: parse("0 Pa"))
    condensate: bool = False
    roughness: Length = Field(default_factory=lambda: parse("1 mm"))


class Permission(Form):
    """[[permission]]: what a maker or an authority has answered."""

    name: Name
    what: str
    granted: bool | str = "open"
    by: str = ""
    standards: list[str] = Field(default_factory=list)


class Make(Form):
    """What an appliance is, wherever it stands."""

    fuel: Name
    category: str | None = None
    outlet_diameter: Length
    outlet_height: Length
    window: Window
    level: list[Level] = Field(min_length=1)
    kind: str = "forced"
    idle: str | None = None
    leak: Leak | None = None
    backflow_flap: bool | None = None
    purge_flow: VolumeFlow | None = None
    purge_pressure: Window | None = None
    chamber: Volume | None = None
    regulator_draft: Draft | None = None
    longest_run: Length | None = None
    named_materials: list[str] = Field(default_factory=list)
    room: str = "room"


class Appliance(Make):
    """[[appliance]]: one that stands on the vent."""

    name: Name
    into: Name


class Section(Form):
    """[[section]]: one section of the vent."""

    name: Name
    into: Name
    length: Length
    diameter: Length
    material: str
    rise: Length = Field(default_factory=lambda: parse("0 m"))
    place: str = "room"
    fittings: list[str] = Field(default_factory=list)
    junction: str | None = None


class Termination(Form):
    """[[termination]]: where the vent ends."""

    name: Name
    cap: str
    place: str | None = None
    side: str | None = None


class Control(Form):
    """[control]: what the header shall be held at."""

    set_point: Draft = Field(default_factory=lambda: parse("-0.05 inH2O"))
    hours: Duration = Field(default_factory=lambda: parse("4000 hour"))
    actuator_step: Step = Field(default_factory=lambda: parse("1 %"))


class ExistingFan(Form):
    """[existing_fan]: a fan that stands where the vent ends and turns at one ``speed``, over the rated one."""

    name: str
    speed: Ratio = Field(default_factory=lambda: parse("100 %"))
    interlocked: bool = False


class Damper(Form):
    """The damper of the remedy offered."""

    blades: str
    width: Length
    height: Length | None = None
    count: int = 1
    thickness: Length = Field(default_factory=lambda: parse("0 mm"))
    leakage: str


class Remedy(Form):
    """[remedy]: the remedy that is offered."""

    name: str
    set_point: Draft | None = None
    fan: str | None = None
    damper: Damper | None = None


# Every setting of the start sequence but the set point, which belongs to the control; what is left out is usual.
SETTINGS = {f.name: f.default for f in fields(Settings) if f.name not in ("burners", "set_point")}
_UNITS_OF_SETTINGS = ("s", "Pa", "m**3", "1/Pa", "")
Sequence = create_model(
    "Sequence",
    __doc__="[sequence]: how burners are started; what is left out is usual.",
    __base__=Form,
    **{
        name: (quantity(next(u for u in _UNITS_OF_SETTINGS if usual.is_compatible_with(u))) | None, None)
        for name, usual in SETTINGS.items()
    },
)


class Alternate(Form):
    """[[alternate]]: what else may stand in place of some appliances."""

    name: Name
    appliances: list[Name] = Field(min_length=1)
    window: Window | None = None
    appliance: Make | None = None
    removed: bool | None = None


class File(Form):
    """A whole job file."""

    job: About
    site: Site
    season: list[Season] = Field(min_length=1)
    appliance: list[Appliance] = Field(min_length=1)
    section: list[Section] = Field(min_length=1)
    termination: list[Termination] = Field(min_length=1)
    place: list[Place] = Field(default_factory=list)
    fuel: list[Fuel] = Field(default_factory=list)
    material: list[Material] = Field(default_factory=list)
    permission: list[Permission] = Field(default_factory=list)
    control: Control = Field(default_factory=Control)
    sequence: Sequence = Field(default_factory=Sequence)
    existing_fan: ExistingFan | None = None
    remedy: Remedy | None = None
    roof: Roof | None = None
    room: Room | None = None
    carbon_monoxide: CarbonMonoxide | None = None
    emissions: Emissions | None = None
    year: Year | None = None
    alternate: list[Alternate] = Field(default_factory=list)
