"""Study: the whole of one job: the vent as drawn, its remedies and the one it offers, each operated and judged alike.

A study says whether the vent may be built as drawn, what speaks against it, which remedy cures it, and what is left
with the remedy offered. Every design goes the same way: `design`, `operation`, `judgement`. It checks what it
says it checks and no more: codes, instructions and a licensed practitioner decide.
"""

from dataclasses import dataclass, field, fields, replace

from ventcalc import (
    atmosphere,
    combustion,
    condensation,
    firing_states,
    fittings,
    flue_gas,
    friction,
    heat_loss,
    junctions,
    remedies,
    stack_effect,
    wind,
)
from ventcalc.findings import Judgement
from ventcalc.firing_states import Envelope, Scan
from ventcalc.job import Alternate, Job
from ventcalc.judgement import judge
from ventcalc.operation import Operation, operate
from ventcalc.remedies import Outcome, Remedy

CAUTIONS = (
    "Carbon monoxide kills. Flue gas that leaves a vent or an appliance into a room can kill the people in it.",
    "This is a calculation, not an approval. The adopted code, the listing of every part, each appliance's "
    "instructions and the authority having jurisdiction govern; where they differ from this, they are right.",
    "Results rest on the job file. Measure on site, and have a licensed practitioner check and sign the design.",
    "Prove operation after installation: draft and outlet pressure in the worst states, spillage, CO, and every limit.",
)

# Functions of the library whose equations a study rests on; their sources are listed in its report.
_EQUATIONS = (
    atmosphere.standard_pressure,
    atmosphere.saturation_pressure,
    combustion.flue_gas_per_heat,
    flue_gas.specific_heat,
    flue_gas.viscosity,
    flue_gas.conductivity,
    condensation.dew_point,
    condensation.latent_heat,
    friction.friction_factor,
    friction.pressure_loss,
    heat_loss.nusselt,
    heat_loss.outlet_temperature,
    stack_effect.theoretical_draft,
    stack_effect.mean_gas_density,
    fittings.size_change,
    junctions.branch_loss,
)


@dataclass(frozen=True)
class Study(Operation):
    """What a design does and the ``judgement`` of it; of the job as drawn also what else was looked at.

    ``outcomes`` of all remedies, the one to prefer first. ``offered`` is the study of the remedy that the job names,
    None where it names none; ``impossible`` says why that could not be built.
    """

    judgement: Judgement = field(kw_only=True)
    outcomes: tuple[Outcome, ...] = ()
    offered: "Study | None" = None
    impossible: str = ""

    @property
    def buildable(self) -> bool:
        """True where nothing that was checked speaks against building it so."""
        return self.judgement.cured


def assess(job: Job, outcome: Outcome) -> Study:
    """The study of one design, from what was solved of it at rest."""
    found = operate(job, outcome)
    judged = judge(found)
    own = {f.name: getattr(found, f.name) for f in fields(found)}
    return Study(**own | {"outcome": replace(outcome, judgement=judged)}, judgement=judged)


def study(job: Job, compare: bool = True) -> Study:
    """Solve a job in every firing state, judge it as drawn, and judge the remedy that it offers.

    Where something speaks against it as drawn and ``compare`` is left on, all remedies are sized and judged as well.
    """
    scan = firing_states.scan(job.plant, job.seasons)
    drawn = assess(job, remedies.outcome(job, Remedy("as drawn", job.plant), scan))
    assessed = _compared(job, scan, drawn) if compare and not drawn.buildable else ()
    drawn = replace(drawn, outcomes=tuple(sorted((_outcome(s) for s in assessed), key=lambda o: o.order)))
    if job.offered is None:
        return drawn
    named = [s for s in assessed if _outcome(s).remedy.name == job.offered.name]
    if named and job.offered.open:
        best = min(named, key=lambda s: _outcome(s).order)
        return replace(drawn, offered=best if isinstance(best, Study) else assess(job, best))
    outcome = remedies.offered(job, scan)
    if outcome is None:
        why = f"The remedy offered ({job.offered.name}) cannot be built: none of the fans in the table fits."
        return replace(drawn, impossible=why)
    return replace(drawn, offered=assess(job, outcome))


def compare(job: Job, scan: Scan | None = None) -> tuple[Outcome, ...]:
    """Every remedy that applies to a job and the vent as drawn, those that hold judged; the one to prefer first."""
    scan = scan or firing_states.scan(job.plant, job.seasons)
    found = [_outcome(s) for s in _compared(job, scan, None)]
    return tuple(sorted(found, key=lambda o: o.order))


def _compared(job: Job, scan: Scan, drawn: Study | None) -> list[Study | Outcome]:
    """What `remedies.compare` found: studies of what holds and of the vent as drawn, outcomes of what does not."""
    found: list[Study | Outcome] = []
    for o in remedies.compare(job, scan):
        if drawn is not None and o.remedy.plant is job.plant and not o.remedy.controls:
            found.append(drawn)
        elif o.holds:
            # The study of what is offered solves all conditions; a sample of them proves less.
            whole = len(o.scan.conditions) == len(scan.conditions)
            found.append(assess(job, o if whole else remedies.outcome(job, replace(o.remedy, start=None), scan)))
        else:
            found.append(o)
    return found


def _outcome(found: Study | Outcome) -> Outcome:
    return found.outcome if isinstance(found, Study) else found


def alternate_envelopes(study: Operation, alternate: Alternate) -> tuple[Envelope, ...]:
    """The envelopes of the appliances an alternate would replace, against its window instead of theirs.

    Holds only where the alternate makes the same flue gas; its other figures belong in a job file of its own.
    """
    window = tuple(float(w.m_as("Pa")) for w in alternate.window)
    return tuple(
        Envelope(e.appliance, e.low, e.high, e.low_state, e.high_state, window)
        for e in study.envelopes
        if e.appliance in alternate.appliances
    )


def sources(study: Operation) -> tuple[str, ...]:
    """Where the equations and figures of this study come from, each once."""
    plant = study.job.plant
    listed = [f"{f.__module__.removeprefix('ventcalc.')}.{f.__name__}: {f.source}" for f in _EQUATIONS]
    for section in plant.order:
        listed.append(f"material {section.material.name}: {section.material.source} ({section.material.status})")
        for name in section.fittings:
            k = fittings.fitting(name)
            listed.append(f"fitting {name}, K = {k.loss:g}: {k.source} ({k.status})")
        if section.junction:
            listed.append(f"junction {section.junction}: {junctions.junction(section.junction).note}")
    for end in plant.terminations:
        cap = fittings.fitting(end.cap)
        listed.append(f"cap {end.cap}, K = {cap.loss:g}: {cap.source} ({cap.status})")
    if study.scan.states.windy.any():
        listed += wind.sources(plant.exposure, [end.cap for end in plant.terminations])
    listed += [f"fuel {a.fuel.name}: {a.fuel.source}" for a in plant.appliances]
    return tuple(dict.fromkeys(listed))
