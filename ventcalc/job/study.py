"""Study: the whole of one job: the vent as drawn, its remedies and the one it offers, each operated and judged alike.

A study says whether the vent may be built as drawn, what speaks against it, which remedy cures it, and what is left
with the remedy offered. Every design goes the same way: `design`, `operation`, `judgement`. It checks what it
says it checks and no more: codes, instructions and a licensed practitioner decide.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace

import numpy as np

from ventcalc.building.room_air import Opening
from ventcalc.draft import outlet_control
from ventcalc.flow import fittings, friction, heat_loss, junctions, stack_effect, wind
from ventcalc.gas import atmosphere, combustion, condensation, flue_gas
from ventcalc.job import chance, option_matrix, remedies, remedy_outcome, remedy_words
from ventcalc.job.device_duty import NothingHeld
from ventcalc.job.findings import Judgement
from ventcalc.job.job_file import Alternate, Job
from ventcalc.job.judgement import hangs_on_chance, judge
from ventcalc.job.operation import Operation, operate
from ventcalc.job.option_matrix import Option
from ventcalc.job.remedy import AS_DRAWN, as_drawn
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.steps import Told, nobody, within
from ventcalc.vent import firing_states
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.outlet_envelope import Envelope
from ventcalc.words import say, sentences

# What every report says, whatever it found.
CAUTIONS = tuple(sentences("job")["cautions"].values())

# Functions of the library whose equations a study rests on; their sources are listed in its report.
_EQUATIONS = (
    atmosphere.standard_pressure,
    atmosphere.saturation_pressure,
    combustion.flue_gas_per_heat,
    flue_gas.density,
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
    None where it names none; ``impossible`` says why that could not be built. ``exchanged`` are the studies of the
    alternates that bring an appliance of their own, or take one away; ``set_points`` tells what header serves them all.
    ``best`` is the study of the remedy to prefer among those that cure; ``options`` are all remedies with every make.
    ``aired`` is the study of the vent as drawn with the make-up air that its room lacks, None where it lacks none: no
    remedy of the vent, but a change of the job's room.
    """

    judgement: Judgement = field(kw_only=True)
    outcomes: tuple[Outcome, ...] = ()
    offered: "Study | None" = None
    impossible: str = ""
    exchanged: tuple["Study", ...] = ()
    set_points: "SetPoints | None" = None
    best: "Study | None" = None
    options: tuple[Option, ...] = ()
    aired: "Study | None" = None

    @property
    def proposed(self) -> "Study | None":
        """The remedy to report on: the one offered where it or nothing cures, else the best compared that cures."""
        if self.offered is not None and (self.offered.buildable or self.best is None):
            return self.offered
        return self.best

    @property
    def asked(self) -> "Study | None":
        """The design that the job asks for: with the remedy that it names, else as drawn; None where that cannot be."""
        return None if self.impossible else self.offered or self

    @property
    def to_build(self) -> "Study | None":
        """The design that may be built: as drawn, else the remedy proposed; None where neither may."""
        return next((design for design in (self, self.proposed) if design is not None and design.buildable), None)

    @property
    def reported(self) -> "Study":
        """The design that the report is about: what may be built, else the remedy proposed, else the vent as drawn."""
        return self.to_build or self.proposed or self

    @property
    def option(self) -> Option | None:
        """The design proposed, else the vent as drawn, with every make; None where the job accepts one alone."""
        design = self.reported
        named = (o for o in self.options if o.remedy == design.outcome.remedy.name)
        return next(iter(sorted(named, key=lambda o: o.offered != (design is self.offered))), None)

    @property
    def buildable(self) -> bool:
        """True where nothing that was checked speaks against building it so."""
        return self.judgement.cured


@dataclass(frozen=True)
class SetPoints:
    """Header pressures [Pa], lowest and highest, that keep every outlet in its window, of each make accepted.

    ``makes`` are "as specified" and the alternates, by name, ``ranges`` (makes, 2) the ends of each; where the lower
    end lies above the higher, no set point serves that make.
    """

    makes: tuple[str, ...]
    ranges: np.ndarray

    @property
    def common(self) -> tuple[float, float]:
        """What serves all of them."""
        return float(self.ranges[:, 0].max()), float(self.ranges[:, 1].min())

    @property
    def serves_all(self) -> bool:
        """Whether one set point serves all."""
        low, high = self.common
        return low <= high


def assess(job: Job, outcome: Outcome, briefly: bool = False, draws: int = 0, told: Told = nobody) -> Study:
    """The study of one design, from what was solved of it at rest.

    ``briefly``: where something of the vent speaks against it at rest, its starts and failures are not followed too.
    With ``draws`` what nothing speaks against but thin margins is judged by its chance; ``told`` hears of that.
    """
    found = operate(job, outcome, in_time=not briefly)
    judged = judge(found)
    hangs = bool(draws) and outcome.everywhere and hangs_on_chance(judged)
    if briefly and (judged.cured or judged.only_beside or hangs):
        return assess(job, outcome, draws=draws, told=told)
    if hangs:
        found = replace(found, sure=chance.chance(job, outcome, draws, told=told))
        judged = judge(found)
    own = {f.name: getattr(found, f.name) for f in fields(found)}
    followed = not briefly or not outcome.remedy.controlled or outcome.remedy.set_point is None
    return Study(**own | {"outcome": replace(outcome, judgement=judged, followed=followed)}, judgement=judged)


def study(job: Job, compare: bool = True, told: Told = nobody, draws: int = 0) -> Study:
    """Solve a job in every firing state, judge it as drawn, and judge the remedy that it offers.

    Where something speaks against it as drawn and ``compare`` is left on, all remedies are sized and judged as well.
    With ``draws`` (a power of two) what nothing speaks against but thin margins is judged by its chance, in so many
    draws of all that is uncertain; the chance of the design that is reported on is told in any case.
    ``told`` hears what is worked at and the share that is done.
    """
    found = _studied(job, compare, within(told, 0.0, 0.8) if draws else told, draws)
    found = _sure(job, found, draws, within(told, 0.8, 1.0)) if draws else found
    told("done", 1.0)
    return found


def _studied(job: Job, compare: bool, told: Told, draws: int) -> Study:
    told("every condition", 0.0)
    scan = firing_states.scan(job.plant, job.seasons)
    told("as drawn", 0.1)
    drawn = assess(job, remedy_outcome.outcome(job, as_drawn(job), scan), draws=draws, told=within(told, 0.1, 0.2))
    part = within(told, 0.2, 0.9)
    assessed = _compared(job, scan, drawn, told=part, draws=draws) if compare and not drawn.buildable else ()
    told("alternates and the remedy offered", 0.9)
    drawn = replace(
        drawn,
        outcomes=tuple(sorted((_outcome(s) for s in assessed), key=lambda o: o.order)),
        exchanged=tuple(_studied(a.job, False, nobody, draws) for a in job.alternates if not _same_gas(job, a)),
        set_points=_set_points(job, scan),
        best=_best(assessed),
        aired=_aired(job, scan, drawn, draws) if compare and not drawn.buildable else None,
    )
    found = _with_offered(job, scan, drawn, assessed, draws)
    return replace(found, options=_options(job, found, draws))


def _aired(job: Job, scan: Scan, drawn: Study, draws: int) -> Study | None:
    """The vent as drawn in its room with the opening that it lacks while its exhaust fans run, or the supply."""
    lacks = drawn.around.cure
    if lacks is None or not lacks.states:
        return None
    if np.isfinite(lacks.area.m):
        there = [o.name for o in job.room.openings]
        name = next(n for n in (_MAKE_UP, *(f"{_MAKE_UP} {k + 2}" for k in range(len(there)))) if n not in there)
        room = replace(job.room, openings=(*job.room.openings, Opening(name, lacks.area)))
    else:
        room = replace(job.room, supply=job.room.supply + lacks.supply)
    with_air = replace(job, room=room)
    return assess(with_air, remedy_outcome.outcome(with_air, as_drawn(with_air), scan), draws=draws)


_MAKE_UP = "make-up air opening"


def _sure(job: Job, found: Study, draws: int, told: Told) -> Study:
    """A study with the chance of the design that is reported on, where its judgement did not ask for it."""
    design = found.reported
    if design.sure is not None:
        return found
    sure = chance.chance(job, design.outcome, draws, told=told)
    if design is found:
        return replace(found, sure=sure)
    with_it = replace(design, sure=sure)
    return replace(
        found,
        offered=with_it if found.offered is design else found.offered,
        best=with_it if found.best is design else found.best,
    )


def _options(job: Job, found: Study, draws: int) -> tuple[Option, ...]:
    """Every remedy that was compared, or offered, with every make accepted."""
    differ = [a for a in job.alternates if not _same_gas(job, a)]
    cells = [option_matrix.cell(a.name, s.outcome) for a, s in zip(differ, found.exchanged, strict=True)]
    offered = None if found.offered is None else found.offered.outcome

    def judged(other: Job, outcome: Outcome) -> Outcome:
        return assess(other, outcome, briefly=True, draws=draws).outcome

    return option_matrix.matrix(job, found.outcomes or (found.outcome,), offered, cells, judged)


def _best(assessed: Sequence[Study | Outcome]) -> Study | None:
    """The study of the remedy to prefer among those that cure; None where none does."""
    cures = [s for s in assessed if isinstance(s, Study) and s.buildable]
    return min(cures, key=lambda s: s.outcome.order, default=None)


def _with_offered(job: Job, scan: Scan, drawn: Study, assessed: Sequence[Study | Outcome], draws: int) -> Study:
    """A study with the remedy that its job offers, judged, or why it cannot be built."""
    if job.offered is None:
        return drawn
    if job.offered.open:
        named = _named(job, assessed or _compared(job, scan, drawn, draws=draws))
        if not named:
            told = dict(remedy_words.left_out(job))
            why = told.get(job.offered.name) or say("job", "impossible", "does not apply")
            return replace(drawn, impossible=say("job", "impossible", "remedy", name=job.offered.name, why=why))
        best = min(named, key=lambda s: _outcome(s).order)
        whole = isinstance(best, Study) and (best.tried is not None or not best.outcome.remedy.controls)
        if not whole:
            whole = assess(job, _everywhere(job, _outcome(best), scan), draws=draws)
            return _in_its_row(drawn, whole, _outcome(best))
        return replace(drawn, offered=best)
    try:
        outcome = remedies.offered(job, scan)
    except NothingHeld:
        return replace(drawn, impossible=say("job", "impossible", "nothing held", name=job.offered.name))
    if outcome is None:
        return replace(drawn, impossible=say("job", "impossible", "no fan fits", name=job.offered.name))
    same = next((o for o in drawn.outcomes if o.remedy.alike(outcome.remedy)), None)
    if same is None and any(o.remedy.kind == outcome.remedy.kind for o in drawn.outcomes):
        outcome = replace(outcome, remedy=replace(outcome.remedy, own=True))
    return _in_its_row(drawn, assess(job, outcome, draws=draws), same)


def _named(job: Job, found: Sequence[Study | Outcome]) -> list[Study | Outcome]:
    """What was found of the remedy that the job names: at the job's set point, where it is compared at another too."""
    named = [s for s in found if _outcome(s).remedy.kind == job.offered.name]
    return [s for s in named if not _outcome(s).remedy.moved] or named


def _in_its_row(drawn: Study, offered: Study, row: Outcome | None) -> Study:
    """A study with the remedy offered; among those compared its whole judgement is in place of its ``row``, or one more
    where it is another than all of them."""
    rows = [offered.outcome if o is row else o for o in drawn.outcomes]
    if row is None and rows:
        rows.append(offered.outcome)
    return replace(drawn, offered=offered, outcomes=tuple(sorted(rows, key=lambda o: o.order)))


def _everywhere(job: Job, outcome: Outcome, scan: Scan) -> Outcome:
    """An outcome in all conditions of a scan."""
    if outcome.proved:
        return outcome
    return remedy_outcome.outcome(job, replace(outcome.remedy, start=None), scan)


def _same_gas(job: Job, alternate: Alternate) -> bool:
    """Whether an alternate differs in its window alone, so that the vent does what it does with those specified."""
    plants = (job.plant, alternate.job.plant)
    first, second = ([replace(a, window=job.plant.appliances[0].window) for a in p.appliances] for p in plants)
    return first == second


def _set_points(job: Job, scan: Scan) -> SetPoints | None:
    """The header pressures that serve each make accepted; None where there is one make, or no common vent."""
    others = [a for a in job.alternates if a.window is not None]
    if not others or len(job.plant.appliances) == 1:
        return None
    scans = [scan.first]
    for a in others:
        same = _same_gas(job, a)
        own = replace(scan.first, plant=a.job.plant) if same else firing_states.scan(a.job.plant, a.job.seasons).first
        scans.append(own)
    windows = [outlet_control.held_common_window(s) for s in scans]
    return SetPoints(("as specified", *(a.name for a in others)), np.array([(w.low, w.high) for w in windows]))


def compare(job: Job, scan: Scan | None = None, every: bool = False) -> tuple[Outcome, ...]:
    """Every remedy that applies to a job and the vent as drawn, those that hold judged; the one to prefer first.

    ``every``: each is solved in all conditions, those too that fail in the few that govern (`remedies.compare`).
    """
    scan = scan or firing_states.scan(job.plant, job.seasons)
    found = [_outcome(s) for s in _compared(job, scan, None, every)]
    return tuple(sorted(found, key=lambda o: o.order))


def _compared(
    job: Job, scan: Scan, drawn: Study | None, every: bool = False, told: Told = nobody, draws: int = 0
) -> list[Study | Outcome]:
    """What `remedies.compare` found: studies of what holds and of the vent as drawn, outcomes of what does not.

    Where conditions are so many that a comparison takes a sample of them, the first that hold are studied in all of the
    scan until one cures; of the rest that is not known (the finding "sampled").
    """
    found: list[Study | Outcome] = []
    outcomes = remedies.compare(job, scan, every=every, told=within(told, 0.0, 0.5))
    for k, o in enumerate(outcomes):
        told(o.remedy.name, 0.5 + 0.5 * k / len(outcomes))
        if drawn is not None and o.remedy.kind == AS_DRAWN:
            found.append(drawn)
        elif o.holds:
            found.append(assess(job, o if _best(found) else _everywhere(job, o, scan), briefly=True, draws=draws))
        else:
            found.append(o)
    return found


def _outcome(found: Study | Outcome) -> Outcome:
    return found.outcome if isinstance(found, Study) else found


def alternate_envelopes(study: Operation, alternate: Alternate) -> tuple[Envelope, ...]:
    """The envelopes of the appliances an alternate would replace, against its window instead of theirs.

    Of an alternate with other flue gas, or of one that takes appliances away, there is none: `Study.exchanged` tells.
    """
    if alternate.window is None or not _same_gas(study.design.job, alternate):
        return ()
    window = tuple(float(w.m_as("Pa")) for w in alternate.window)
    return tuple(
        Envelope(e.appliance, e.low, e.high, e.low_state, e.high_state, window)
        for e in study.envelopes
        if e.appliance in alternate.appliances
    )


def sources(study: Operation) -> tuple[str, ...]:
    """Where the equations and figures of this study come from, each once."""
    plant = study.job.plant
    listed = [f"{f.__module__.rpartition('.')[2]}.{f.__name__}: {f.source}" for f in _EQUATIONS]
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
