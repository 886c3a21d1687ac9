"""Surroundings: where a job's vent ends, what its boiler room breathes, and what flue gas would do in it.

Gathers for one job what the modules of `building` say of it: clearances, combustion air, the room's pressure,
re-entrainment and carbon monoxide, as far as the job file tells of roof, room and carbon monoxide. What the file does
not tell of is not judged, and the report says so.

What speaks against the job in it is for `judgement` to say.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.building import (
    air_intakes,
    clearances,
    co_exposure,
    combustion_air_verdicts,
    depressurization,
    makeup_air,
    re_entrainment,
    room_pressure,
    spillage,
    stack_discharge,
)
from ventcalc.building.co_exposure import Exposure
from ventcalc.building.code_rules import PASS
from ventcalc.building.combustion_air_verdicts import Verdict
from ventcalc.building.depressurization import Effect
from ventcalc.building.least_height import Least, least_height
from ventcalc.building.makeup_air import Cure
from ventcalc.building.roof_scene import Scene
from ventcalc.building.sight_line import Sight, Viewpoint, sight
from ventcalc.building.spillage import Spill
from ventcalc.building.terminal import Terminal, with_fan
from ventcalc.draft import held_pressure
from ventcalc.draft.fan_curve import Fan
from ventcalc.draft.held_pressure import Held
from ventcalc.job.job_file import Job
from ventcalc.units import Q_, Quantity
from ventcalc.vent.firing_states import Scan


@dataclass(frozen=True)
class Ending:
    """One terminal: every rule's ``findings``, the ``least`` height that breaks none, and the same ``with_fan``; what
    of it is seen from every view of the roof (``sights``)."""

    terminal: Terminal
    findings: tuple[clearances.Finding, ...]
    least: Least
    with_fan: Least
    sights: tuple[Sight, ...] = ()


@dataclass(frozen=True)
class Spilled:
    """What flue gas that enters the room through one appliance leads to there, if it went on.

    ``exhausting``: with the room's exhaust fans running.
    """

    spill: Spill
    exposure: Exposure
    exhausting: bool = False


@dataclass(frozen=True)
class Surroundings:
    """What was judged; None or empty where the job file tells nothing of it.

    ``air`` are the rules on the room's air, ``enough`` whether one of its ways passes; ``effects`` what its exhaust
    fans do to every outlet, in the scan ``exhausted``, and ``cure`` how much more air would be enough; ``spills`` what
    flue gas that comes back leads to in the room; ``plumes`` what of the exhaust comes to each intake of the roof, or
    ``no_plume`` why that was not estimated; ``plume_states`` the columns of the scan that a plume's states count.
    """

    endings: tuple[Ending, ...] = ()
    air: tuple[Verdict, ...] = ()
    enough: bool = True
    effects: tuple[Effect, ...] = ()
    cure: Cure | None = None
    exhausted: Scan | None = None
    spills: tuple[Spilled, ...] = ()
    plumes: tuple[re_entrainment.Reading, ...] = ()
    no_plume: str = ""
    plume_states: tuple[int, ...] = ()

    @property
    def supplies(self) -> tuple[Quantity, Quantity] | None:
        """Outdoor air by a fan, in all: what holds the room for the vent, and what the code asks of such a supply."""
        rule = next((v for v in self.air if v.key == "mechanical supply"), None)
        if rule is None or self.cure is None or not self.cure.states:
            return None
        return (rule.provided + self.cure.supply).to("m**3/s"), rule.required.to("m**3/s")


def surroundings(job: Job, scan: Scan, fan: Fan | None = None, held: Held | None = None) -> Surroundings:
    """Judge roof, room, exhaust and carbon monoxide as far as the job tells of them.

    With a ``fan`` the terminals count as mechanical draft; a roof fan's outlet is what the exhaust leaves by. With
    controls, ``held`` is what they do in the scan: they hold their sensors while exhaust fans pull at the room too.
    """
    terminals = job.roof.terminals if job.roof else ()
    terminals = [with_fan(t) for t in terminals] if fan else terminals
    endings = tuple(_ending(job.roof.scene, t, job.roof.views) for t in terminals)
    mouth = fan.outlet_diameter if fan and fan.kind == "roof" else None
    air, enough, effects, cure, exhausted, lit = (), True, (), None, None, [scan]
    if job.room:
        air = combustion_air_verdicts.judge(job.plant, job.room)
        enough = not air or any(v.verdict == PASS for v in combustion_air_verdicts.ways(job.plant, job.room))
        if job.room.exhausts:
            effects, cure, exhausted = _with_exhausts(job, scan, held)
            lit.append(exhausted)
    spilled = _worst_spills(job, lit) if job.carbon_monoxide else []
    plumes, no_plume, states = _plumes(job, scan, mouth) if job.roof and job.emissions else ((), "", ())
    return Surroundings(endings, air, enough, effects, cure, exhausted, tuple(spilled), plumes, no_plume, states)


def _plumes(job: Job, scan: Scan, mouth: Quantity | None) -> tuple[tuple, str, tuple[int, ...]]:
    """What reaches every intake of the roof scene, over all states and winds, or why that cannot be said; states."""
    try:
        gas, states = stack_discharge.discharge(scan, job.emissions.nox, job.emissions.co)
    except stack_discharge.NoPlume as error:
        return (), str(error), ()
    scene, terminal = job.roof.scene, job.roof.terminals[0]
    level = air_intakes.level(scene, terminal)
    end = next(s for s in job.plant.order if s.into == terminal.name)
    wide = mouth or end.diameter
    gas = replace(gas, velocity=gas.velocity * float((end.diameter / wide).m_as("")) ** 2)
    # A vent through a wall blows level: like one under a cap it has no rise.
    wall = terminal.through == "wall"
    capped = wall or next(t.cap for t in job.plant.terminations if t.name == terminal.name) != "open end"
    above = max(float(terminal.outlet.m_as("m")) - level, 0.0)
    stack = air_intakes.Stack(terminal.name, Q_(above, "m"), wide, capped, wall)
    # Beside a wall too the roof's: lower down the air is rougher, and a rougher air would dilute by more.
    high = air_intakes.roof_level(scene, terminal) - scene.ground
    roof = air_intakes.Roof(Q_(max(high, _LOWEST_ROOF), "m"))
    intakes = air_intakes.intakes(scene, terminal)
    share = job.emissions.no2_share
    found = tuple(re_entrainment.judge(stack, gas, intake, roof, no2_share=share) for intake in intakes)
    return found, "", tuple(states.tolist())


_LOWEST_ROOF = 2.0  # m; below three times the roughness of the surroundings the wind's profile has no meaning


def _ending(scene: Scene, terminal: Terminal, views: tuple[Viewpoint, ...] = ()) -> Ending:
    return Ending(
        terminal=terminal,
        findings=clearances.judge(scene, terminal),
        least=least_height(scene, terminal),
        with_fan=least_height(scene, with_fan(terminal)),
        sights=tuple(sight(scene, terminal, view) for view in views),
    )


def _worst_spills(job: Job, scans: list[Scan]) -> list[Spilled]:
    """Of every appliance what makes the room worst of what it lets in, without exhaust fans and with; the worst first.

    By the carbon monoxide that it comes to: fans may draw more, and mostly air.
    """
    pressure = Q_(scans[0].solution.barometric, "Pa")
    worst: dict[str, Spilled] = {}
    for exhausting, scan in enumerate(scans):
        for s in spillage.spills(scan):
            exposure = co_exposure.judge(job.carbon_monoxide, s.flow, s.products, pressure, s.burnt)
            known = worst.get(s.appliance)
            if known is None or exposure.co[0].max() > known.exposure.co[0].max():
                worst[s.appliance] = Spilled(s, exposure, bool(exhausting))
    return sorted(worst.values(), key=lambda s: -s.exposure.co[0].max())


def _with_exhausts(job: Job, scan: Scan, held: Held | None) -> tuple[tuple[Effect, ...], Cure, Scan]:
    """What the room's exhaust fans do, burners lit after all stood idle, fans off and on; and the scan with them on."""
    first, total = scan.first, len(scan.conditions)
    twice, shares = np.tile(np.arange(total), 2), np.repeat((0.0, 1.0), total)
    devices = ()
    if held is not None:
        devices = held.controls, held_pressure.before_release(held)[:, twice], held.solution.drawn[:, twice]
    both = room_pressure.from_idle(job.plant, job.seasons, first.states[twice], job.room, shares, *devices)
    without, running = both.part(slice(0, total)), both.part(slice(total, None))
    effects = depressurization.effects(first, without, running)
    floor = max((e.limit for e in effects if e.limit is not None), default=None)
    return effects, makeup_air.cure(first, running, floor=floor), running.scan(first)
