"""Surroundings: where a job's vent ends, what its boiler room breathes, and what flue gas would do in it.

Gathers for one job what `clearances`, `combustion_air` and `carbon_monoxide` say of it, as far as the job file tells of
roof, room and carbon monoxide. What the file does not tell of is not judged, and the report says so.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc import carbon_monoxide, clearances, combustion_air, firing_states, re_entrainment
from ventcalc.carbon_monoxide import Exposure, Spill
from ventcalc.clearances import Least, Terminal
from ventcalc.combustion_air import Cure, Effect, Verdict
from ventcalc.fans import Fan
from ventcalc.firing_states import Scan
from ventcalc.held_pressure import Held
from ventcalc.job import Job
from ventcalc.units import Q_, Quantity, show


@dataclass(frozen=True)
class Ending:
    """One terminal: every rule's ``findings``, the ``least`` height that breaks none, and the same ``with_fan``."""

    terminal: Terminal
    findings: tuple[clearances.Finding, ...]
    least: Least
    with_fan: Least


@dataclass(frozen=True)
class Spilled:
    """What flue gas that enters the room through one appliance leads to there, if it went on."""

    spill: Spill
    exposure: Exposure


@dataclass(frozen=True)
class Surroundings:
    """What was judged; None or empty where the job file tells nothing of it.

    ``air`` are the rules on the room's air, ``enough`` whether one of its ways passes; ``effects`` what its exhaust
    fans do to every outlet, in the scan ``exhausted``, and ``cure`` how much more air would be enough; ``spills`` what
    flue gas that comes back leads to in the room; ``plumes`` what of the exhaust comes to each intake of the roof, or
    ``no_plume`` why that was not estimated.
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


def surroundings(job: Job, scan: Scan, fan: Fan | None = None, held: Held | None = None) -> Surroundings:
    """Judge roof, room, exhaust and carbon monoxide as far as the job tells of them.

    With a ``fan`` the terminals count as mechanical draft; a roof fan's outlet is what the exhaust leaves by. With
    controls, ``held`` is what they do in the scan: they hold their sensors while exhaust fans pull at the room too.
    """
    terminals = job.roof.terminals if job.roof else ()
    terminals = [clearances.with_fan(t) for t in terminals] if fan else terminals
    endings = tuple(_ending(job.roof.scene, t) for t in terminals)
    mouth = fan.outlet_diameter if fan and fan.kind == "roof" else None
    air, enough, effects, cure, exhausted, lit = (), True, (), None, None, [scan]
    if job.room:
        air = combustion_air.judge(job.plant, job.room)
        enough = not air or any(v.verdict == "pass" for v in combustion_air.ways(job.plant, job.room))
        if job.room.exhausts:
            effects, cure, exhausted = _with_exhausts(job, scan, held)
            lit.append(exhausted)
    spilled = tuple(_spilled(job, scan, s) for s in _worst_spills(lit)) if job.carbon_monoxide else ()
    plumes, no_plume = _plumes(job, scan, mouth) if job.roof and job.emissions else ((), "")
    return Surroundings(endings, air, enough, effects, cure, exhausted, spilled, plumes, no_plume)


def _plumes(job: Job, scan: Scan, mouth: Quantity | None) -> tuple[tuple[re_entrainment.Reading, ...], str]:
    """What reaches every intake of the roof scene, over all states and winds; or why that cannot be said."""
    try:
        gas, _ = re_entrainment.discharge(scan, job.emissions.nox, job.emissions.co)
    except re_entrainment.NoPlume as error:
        return (), str(error)
    scene, terminal = job.roof.scene, job.roof.terminals[0]
    level = re_entrainment.roof_level(scene, terminal)
    end = next(s for s in job.plant.order if s.into == terminal.name)
    wide = mouth or end.diameter
    gas = replace(gas, velocity=gas.velocity * float((end.diameter / wide).m_as("")) ** 2)
    # A vent through a wall blows level: like one under a cap it has no rise.
    capped = (
        terminal.through == "wall"
        or next(t.cap for t in job.plant.terminations if t.name == terminal.name) != "open end"
    )
    above = max(float(terminal.outlet.m_as("m")) - level, 0.0)
    stack = re_entrainment.Stack(terminal.name, Q_(above, "m"), wide, capped)
    roof = re_entrainment.Roof(Q_(max(level - scene.ground, _LOWEST_ROOF), "m"))
    intakes = re_entrainment.intakes(scene, terminal)
    return tuple(re_entrainment.judge(stack, gas, intake, roof) for intake in intakes), ""


_LOWEST_ROOF = 2.0  # m; below three times the roughness of the surroundings the wind's profile has no meaning


def _spilled(job: Job, scan: Scan, s: Spill) -> Spilled:
    pressure = Q_(scan.solution.barometric, "Pa")
    return Spilled(s, carbon_monoxide.judge(job.carbon_monoxide, s.flow, s.products, pressure, s.burnt))


def _ending(scene: clearances.Scene, terminal: Terminal) -> Ending:
    return Ending(
        terminal=terminal,
        findings=clearances.judge(scene, terminal),
        least=clearances.least_height(scene, terminal),
        with_fan=clearances.least_height(scene, clearances.with_fan(terminal)),
    )


def _worst_spills(scans: list[Scan]) -> list[Spill]:
    """For every appliance the worst of what it lets into the room in any scan: without exhaust fans, and with."""
    worst: dict[str, Spill] = {}
    for s in (s for scan in scans for s in carbon_monoxide.spills(scan)):
        if s.appliance not in worst or s.flow.m * s.burnt > worst[s.appliance].flow.m * worst[s.appliance].burnt:
            worst[s.appliance] = s
    return list(worst.values())


def _with_exhausts(job: Job, scan: Scan, held: Held | None) -> tuple[tuple[Effect, ...], Cure, Scan]:
    """What the room's exhaust fans do, burners lit after all stood idle, fans off and on; and the scan with them on."""
    first, total = scan.first, len(scan.conditions)
    twice, shares = np.tile(np.arange(total), 2), np.repeat((0.0, 1.0), total)
    devices = () if held is None else (held.controls, held.solution.added[:, twice])
    both = combustion_air.from_idle(job.plant, job.seasons, first.states[twice], job.room, shares, *devices)
    without, running = both.part(slice(0, total)), both.part(slice(total, None))
    return combustion_air.effects(first, without, running), combustion_air.cure(first, running), running.scan(first)


# --- In words -------------------------------------------------------------------------------------------------


def findings(found: Surroundings, system: str = "US") -> tuple[tuple[str, str, str], ...]:
    """(kind, subject, sentence) of everything that speaks against the job, as `study.Finding` takes them."""
    told = [f for ending in found.endings for f in _against(ending, system)]
    if not found.enough:
        told.append(("fault", "Combustion air", _no_air(found.air, system)))
    told += [
        ("fault", "Combustion air", v.sentence(system))
        for v in found.air
        if v.verdict == clearances.FAIL and v.rule.startswith(("smallest dimension", "interlock"))
    ]
    told += [_exhausted(e, system) for e in found.effects if e.verdict != clearances.PASS]
    told += [_drawn_in(p, system) for p in found.plumes if clearances.FAIL in {part.verdict for part in p.parts}]
    told += [_poisoned(s, system) for s in found.spills if s.exposure.failed]
    return tuple(told)


# Flue gas before an opening is a danger to people; a terminal too low over a roof is a fault of the vent.
_LETS_GAS_IN = (*clearances.OPENINGS, *(f"{o} {clearances.NEXT_DOOR}" for o in clearances.OPENINGS))


def _against(ending: Ending, system: str) -> list[tuple[str, str, str]]:
    """What fails at a terminal, and what needs the authority's reading."""
    kinds = {clearances.FAIL: "fault", clearances.READING: "note"}
    told = []
    for f in ending.findings:
        if f.verdict in kinds:
            opening = f.row is not None and set(f.row.objects) & set(_LETS_GAS_IN)
            kind = "danger" if f.verdict == clearances.FAIL and opening else kinds[f.verdict]
            told.append((kind, f"Terminal {ending.terminal.name}", clearances.sentence(f, system)))
    return told


def _no_air(air: tuple[Verdict, ...], system: str) -> str:
    tried = " ".join(v.sentence(system) for v in air if v.verdict == "fail")
    return f"By none of the ways does the room get air enough for its burners. {tried}"


def _exhausted(e: Effect, system: str) -> tuple[str, str, str]:
    failed = "fault" if e.verdict == clearances.FAIL else "note"
    kind = "danger" if e.spill > firing_states.REVERSAL_FLOW else failed
    said = combustion_air.effect_sentence(e, system).partition(". ")[2]  # without name and verdict
    return kind, e.appliance, said


def _drawn_in(p: re_entrainment.Reading, system: str) -> tuple[str, str, str]:
    failing = {part.gas for part in p.parts if part.verdict == clearances.FAIL}
    said = [
        text
        for text in re_entrainment.sentences(p, system)
        if "worst wind" in text or "fail by the estimate" in text or text == re_entrainment.CAUTION
    ]
    return "danger" if "co" in failing else "fault", f"Exhaust at {p.intake}", " ".join(said)


def _poisoned(s: Spilled, system: str) -> tuple[str, str, str]:
    e = s.exposure
    first = min(e.failed, key=lambda j: j.over)
    after = "at once" if first.over <= 0.0 else f"after {carbon_monoxide.clock(first.over)}"
    flow = show(Q_(e.spill, "kg/s"), system, "mass flow")
    return (
        "danger",
        "Carbon monoxide",
        f"If {flow} of flue gas kept entering the room through {s.spill.appliance}, the room would hold "
        f"{e.co[0].max():,.0f} ppm within {carbon_monoxide.clock(e.times[-1])}: {len(e.failed)} of {len(e.judged)} "
        f"limits would fail, the first {after} ({first.limit.cited}). {carbon_monoxide.CAUTION}",
    )
