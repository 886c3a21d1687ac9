"""Job control: from the form to what moves the gas: a fan that stands there, the remedy offered, how burners start."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ventcalc.draft.damper_leakage import leakage_class
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_curve import Fan
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.fan_table import fan
from ventcalc.draft.held_pressure import before_termination
from ventcalc.draft.start_settings import Burner, Settings, beside
from ventcalc.gas.appliance import Appliance
from ventcalc.job import job_form
from ventcalc.job.job_fields import as_written
from ventcalc.job.job_form import SETTINGS
from ventcalc.units import Q_, Quantity
from ventcalc.vent.layout import Plant
from ventcalc.words import listed

# Remedies that a job file may name; `remedies` sizes them. Of the first the file may give devices and set point.
WITH_DEVICES = ("fan", "damper", "fan and damper", "damper at each outlet", "damper at each outlet and a fan")
REMEDIES = (
    *WITH_DEVICES,
    *("larger vent", "larger connectors", "laterals", "taller stack", "better cap", "narrower vent", "liner"),
    *("pipe changes", "pipe changes, more of them", "pipe changes and a damper", "shorter stack with a fan"),
    "liner and a fan",
)
FREE_END = "open end"  # the cap of a vent that a roof fan ends

# Which of them have a fan, or a damper, in the stack.
IN_THE_STACK = {
    "fan": ("fan",),
    "damper": ("damper",),
    "fan and damper": ("fan", "damper"),
    "damper at each outlet and a fan": ("fan",),
    "pipe changes and a damper": ("damper",),
    "shorter stack with a fan": ("fan",),
    "liner and a fan": ("fan",),
}

# Volume of a combustion chamber over its greatest heat input, where the file does not give it (common practice, no
# source); it sets the time of the purge, so measure it.
CHAMBER_PER_INPUT = Q_(0.4, "m**3/MW")


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
class Existing:
    """A fan that stands where the vent ends, at one speed while anything runs.

    ``interlocked``: it is proved, and every burner locked out as soon as it is not.
    """

    drive: Drive
    interlocked: bool


def existing(form: job_form.ExistingFan, plant: Plant) -> Existing:
    """The fan that stands there. Raises ValueError where there is none of that name, it cannot turn so fast or so
    slowly, or it cannot stand there."""
    own, speed = fan(form.name), float(form.speed.m_as(""))
    if not own.least_speed <= speed <= own.most_speed:
        raise ValueError(
            f"speed {speed:.0%} of rated: {own.name} turns at {own.least_speed:.0%} to {own.most_speed:.0%} of it"
        )
    end = next(t for t in plant.terminations if t.name == plant.section(before_termination(plant)).into)
    if own.kind == "roof" and end.cap != FREE_END:
        raise ValueError(f'{own.name} is a roof fan and ends the vent: the cap of "{end.name}" must be {FREE_END}')
    return Existing(Drive(own, speed, speed), form.interlocked)


def offered(form: job_form.Remedy) -> Offered:
    """The remedy that a file names. Raises ValueError where it is none, or has no such device."""
    if form.name not in REMEDIES:
        raise ValueError(f"name {form.name!r}; choose {', '.join(REMEDIES)}")
    for part, given in (("fan", form.fan), ("damper", form.damper)):
        if given is not None and part not in IN_THE_STACK.get(form.name, ()):
            raise ValueError(f"{part}: the remedy {form.name!r} has none in the stack")
    if form.name not in WITH_DEVICES and (form.set_point, form.fan, form.damper) != (None, None, None):
        raise ValueError(f"the remedy {form.name!r} is sized by the study: give neither set_point nor fan nor damper")
    return Offered(form.name, form.set_point, form.fan and fan(form.fan), form.damper and _damper(form.damper))


def _damper(d: job_form.Damper) -> Damper:
    return Damper(d.blades, d.width, d.height or d.width, leakage_class(d.leakage), d.count, d.thickness)


def check_set_points(form: job_form.File, appliances: Sequence[Appliance]) -> None:
    """Raises ValueError for a set point above nought beside an appliance that draws by the vent: it would spill."""
    drawn = [a.name for a in appliances if a.kind != "forced"]
    for key, table in (("control", form.control), ("remedy", form.remedy)):
        at = table.set_point if table else None
        if drawn and at is not None and at.m > 0.0:
            raise ValueError(
                f"{key}.set_point = {as_written(at)} is no draft, without which {listed(tuple(drawn))} spills; "
                "write one, such as -0.03 inH2O"
            )


def sequence(form: job_form.File, appliances: Sequence[Appliance], named: Offered | None) -> Settings:
    """How burners start: usual values, those that belong to the set point in their place, and what the file gives."""
    burners = [_burner(a, f) for a, f in zip(appliances, form.appliance, strict=True)]
    set_point = (named and named.set_point) or form.control.set_point
    usual = Settings(tuple(burners))
    moved = beside(usual, set_point)
    given = {name: value for name in SETTINGS if (value := getattr(form.sequence, name)) is not None}
    return replace(usual, set_point=set_point, **moved | given)


def _burner(a: Appliance, form: job_form.Appliance) -> Burner:
    chamber = form.chamber or (CHAMBER_PER_INPUT * max(level.heat_input for level in a.levels)).to("m**3")
    purge = a.states.index("purge") if a.purge_flow is not None else 0
    return Burner(a.name, chamber, a.purge_flow, (float(purge), purge + 1.0, float(len(a.states) - 1)))
