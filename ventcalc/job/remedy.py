"""Remedy: one way to change a vent, as a record: the vent as it would be, what moves in it, what it holds."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ventcalc.draft import held_pressure
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.held_pressure import Control
from ventcalc.job import vent_changes
from ventcalc.job.job_file import Job
from ventcalc.job.vent_changes import STILL, Difference
from ventcalc.units import Quantity
from ventcalc.vent.layout import Plant
from ventcalc.words import say

NO_FAN_FITS, FALLS_SHORT = "no fan fits", "fan falls short"  # why the fan of a remedy is unfit


AS_DRAWN = "as drawn"  # the remedy that changes nothing


@dataclass(frozen=True)
class Remedy:
    """One way to change a vent: the ``plant`` as it would be, and its ``controls``.

    ``kind`` is "as drawn" or one of `job_control.REMEDIES`; ``moved``: held at a set point other than the job's;
    ``own``: of the devices that the file names, beside one of its kind that was sized here.
    ``drawn`` is the vent that it is built instead of (None: the same). ``fan`` and ``damper`` are those of the header's
    control, which holds ``set_point``; ``serve`` [Pa] are the least and the greatest set point that keep all outlets in
    their windows, with that device, in the states it was sized for (the first is above the second where none does, None
    where nothing is held). ``outlets`` names the appliances with a damper of their own. ``unfit`` says why the fan does
    not do its duty, `NO_FAN_FITS` or `FALLS_SHORT`, "" where it does: an unfit one is solved all the same, to show what
    is lacking. ``smallest``: no smaller fan of its kind does its duty. ``wet``: water condenses where the fan stands.
    ``away`` names the existing fan that makes way, "" where there is none; the same may come back on a drive of another
    speed (`keeps_fan`). ``tried`` counts the vents of which this was the best. ``start`` is where to begin to solve it
    (`held_pressure.hold`). `remedy_words.words` tells it, `devices` lists what moves.
    """

    kind: str
    plant: Plant
    drawn: Plant | None = None
    controls: tuple[Control, ...] = ()
    fan: Drive | None = None
    damper: Damper | None = None
    set_point: Quantity | None = None
    serve: tuple[float, float] | None = None
    outlets: tuple[str, ...] = ()
    unfit: str = ""
    smallest: bool = False
    wet: bool = False
    away: str = ""
    tried: int = 1
    start: np.ndarray | None = None
    moved: bool = False
    own: bool = False

    @property
    def name(self) -> str:
        """What it is called: its kind, and whether its set point is the job's, or its devices are the job's own."""
        told = "moved" if self.moved else "own" if self.own else ""
        return say("job", "remedy", told, kind=self.kind) if told else self.kind

    def alike(self, other: "Remedy") -> bool:
        """Whether another is the same to build and to set: its name, its vent, its devices and what is held."""
        held = [None if r.set_point is None else float(r.set_point.m_as("Pa")) for r in (self, other)]
        same_held = held[0] == held[1] if None in held else abs(held[0] - held[1]) <= STILL
        devices = [(r.name, r.fan, r.damper, r.outlets) for r in (self, other)]
        return same_held and devices[0] == devices[1] and self.plant == other.plant

    @property
    def keeps_fan(self) -> bool:
        """Whether its fan is the existing one, on a drive of variable speed."""
        return self.fan is not None and self.fan.fan.name == self.away

    @property
    def controlled(self) -> bool:
        """Whether something is moved to hold a pressure; a fan that turns at one speed is not."""
        return any(control.holds for control in self.controls)

    @property
    def devices(self) -> tuple[tuple[str, str], ...]:
        """Everything that moves: its code in ``words.toml``, and the name of the fan, the blades or the outlet."""
        found = [("fan", self.fan.fan.name)] if self.fan else []
        found += [("damper", self.damper.blades)] if self.damper else []
        return (*found, *(("outlet damper", name) for name in self.outlets))

    @cached_property
    def differences(self) -> tuple[Difference, ...]:
        """What of the vent is built otherwise than drawn."""
        return () if self.drawn is None else vent_changes.differences(self.drawn, self.plant)

    @cached_property
    def new_pipe(self) -> float:
        """Area [m2] of pipe that is made anew; the end on which a fan stands in place of a cap does not count."""
        if self.drawn is None:
            return 0.0
        drawn = replace(self.drawn, terminations=self.plant.terminations) if self.fan else self.drawn
        return vent_changes.new_pipe(drawn, self.plant)

    @property
    def rebuilt(self) -> bool:
        """Whether pipe is made anew."""
        return self.new_pipe > 0.0

    @property
    def to_be_listed(self) -> tuple[str, ...]:
        """What must be listed or proved, by its code in ``words.toml``."""
        found = (
            ("vent", self.rebuilt),
            ("fan", self.fan is not None),
            ("damper", bool(self.damper or self.outlets)),
            ("interlock", bool(self.devices)),
            ("appliances", bool(self.devices)),
        )
        return tuple(code for code, applies in found if applies)

    @property
    def top(self) -> str:
        """The section at whose end a fan stands."""
        return held_pressure.before_termination(self.plant)


def as_drawn(job: Job, speed: float | None = None) -> Remedy:
    """The vent as drawn; a fan that stands there already turns at its one speed, or at another over the rated one."""
    if job.existing is None:
        return Remedy(AS_DRAWN, job.plant)
    drive = job.existing.drive
    if speed is not None:
        drive = replace(drive, least_speed=speed, most_speed=speed)
    end = held_pressure.before_termination(job.plant)
    control = Control(end, drive, held_pressure.HEADER, job.set_point, holds=False)
    return Remedy(AS_DRAWN, job.plant, controls=(control,), fan=drive)
