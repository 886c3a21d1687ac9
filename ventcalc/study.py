"""Study: the whole of one job, solved in every firing state, and its verdicts.

A study says, in this order, whether the vent may be built as drawn, which outlet leaves its window in which
state and by how much, what draft is lacking or too much at the header's far end, whether flue gas may
enter the room, what speaks against category, material, run and condensation, which remedy cures it, and what is left
with the remedy offered. It checks what it says it checks and no more: codes, instructions and a licensed
practitioner decide. Roof, room and carbon monoxide are judged where the job tells of them (`surroundings`).
"""

from dataclasses import dataclass, field, replace

import numpy as np

from ventcalc import appliance as appliances
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
    load_changes,
    materials,
    remedies,
    stack_effect,
    surroundings,
    trial_run,
    wind,
)
from ventcalc.firing_states import Envelope, Extremes, Reversal, Scan
from ventcalc.job import Alternate, Job
from ventcalc.layout import Plant
from ventcalc.load_changes import Followed, Passage
from ventcalc.remedies import Outcome
from ventcalc.start_sequence import usual_setting
from ventcalc.surroundings import Surroundings
from ventcalc.trial_run import TrialRun
from ventcalc.units import Q_, show

CAUTIONS = (
    "Carbon monoxide kills. Flue gas that leaves a vent or an appliance into a room can kill the people in it.",
    "This is a calculation, not an approval. The adopted code, the listing of every part, each appliance's "
    "instructions and the authority having jurisdiction govern; where they differ from this, they are right.",
    "Results rest on the job file. Measure on site, and have a licensed practitioner check and sign the design.",
    "Prove operation after installation: draft and outlet pressure in the worst states, spillage, CO, and every limit.",
)

# Which categories may share a vent that natural draft serves.
COMMON_VENT_RULE = (
    "IFGC chapter 5 on vent connectors and mechanical draft (from memory; check the adopted edition): a connector "
    "serving a Category I appliance shall not join any part of a vent under positive pressure, such as those of "
    "Category III or IV appliances"
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
class Run:
    """An appliance's whole run at its highest level: equivalent length [m] and what is allowed (or None)."""

    appliance: str
    equivalent: float
    allowed: float | None


@dataclass(frozen=True)
class Objection:
    """What speaks against the material of a section."""

    section: str
    material: str
    reason: str


@dataclass(frozen=True)
class Study:
    """A job with all that was found; plain SI inside, shown in either unit system by `findings`.

    ``outcomes`` of all remedies that were looked at, the one to prefer first. ``offered`` is the study of the remedy
    that the job names, None where it names none; ``outcome`` in such a study is what the remedy is and does.
    ``impossible`` says why the remedy named could not be built, ``trial`` how a start goes on the one offered;
    ``changes`` are starts, turn-downs and stops of the vent as drawn, in time.
    """

    job: Job
    scan: Scan
    envelopes: tuple[Envelope, ...]
    reversals: tuple[Reversal, ...]
    extremes: tuple[Extremes, ...]
    runs: tuple[Run, ...]
    category_refusals: tuple[str, ...]
    header: tuple[float, float]  # static pressure at the header's far end, lowest and highest [Pa]
    header_states: tuple[int, int]
    outcomes: tuple[Outcome, ...] = ()
    offered: "Study | None" = None
    outcome: Outcome | None = None
    impossible: str = ""
    trial: TrialRun | None = None
    around: Surroundings = field(default_factory=Surroundings)
    changes: Followed | None = None

    @property
    def lacking(self) -> float:
        """Draft [Pa] that is lacking at the header's far end in the worst state, against the set point."""
        return max(self.header[1] - float(self.job.set_point.m_as("Pa")), 0.0)

    @property
    def excess(self) -> float:
        """Draft [Pa] that is too much there in the worst state."""
        return max(float(self.job.set_point.m_as("Pa")) - self.header[0], 0.0)

    @property
    def unsolved(self) -> int:
        """How many conditions were not solved, or have no state of rest."""
        settled = self.scan.solution.converged if self.outcome is None else self.outcome.settled
        return self.scan.count(~settled)

    @property
    def restless(self) -> int:
        """How many conditions have no state of rest (`Scan.restless`)."""
        return self.scan.count(self.scan.restless)

    @property
    def passages(self) -> tuple[Passage, ...]:
        """What every outlet met in the load changes; empty where none was followed."""
        return load_changes.passages(self.changes) if self.changes else ()

    @property
    def buildable(self) -> bool:
        """True where nothing that was checked speaks against building it as drawn."""
        return not any(f.kind in ("danger", "fault") for f in findings(self))


@dataclass(frozen=True)
class Finding:
    """One thing found: ``kind`` danger (people), fault (does not work or is not allowed) or note."""

    kind: str
    subject: str
    sentence: str


def study(job: Job, compare: bool = True) -> Study:
    """Solve a job in every firing state and gather its verdicts.

    Where its pressures or categories speak against it as drawn and ``compare`` is left on, all remedies are sized and
    solved as well.
    """
    scan = firing_states.scan(job.plant, job.seasons)
    drawn = replace(_gathered(job, scan), around=surroundings.surroundings(job, scan))
    drawn = replace(drawn, changes=_followed(job, tuple(e.margin for e in drawn.envelopes)))
    wanting = drawn.reversals or drawn.category_refusals or min(e.margin for e in drawn.envelopes) < 0.0
    outcomes = remedies.compare(job, scan) if compare and wanting else ()
    if job.offered is None:
        return replace(drawn, outcomes=outcomes)
    outcome = remedies.offered(job, scan)
    if outcome is None:
        why = f"The remedy offered ({job.offered.name}) cannot be built: none of the fans in the table fits."
        return replace(drawn, outcomes=outcomes, impossible=why)
    changed = replace(job, plant=outcome.remedy.plant, set_point=outcome.remedy.set_point or job.set_point)
    trial = trial_run.trial_run(job, outcome.remedy)
    drive = outcome.remedy.fan
    around = surroundings.surroundings(changed, outcome.scan, drive and drive.fan)
    with_it = replace(_gathered(changed, outcome.scan), outcome=outcome, trial=trial, around=around)
    return replace(drawn, outcomes=outcomes, offered=with_it)


def _followed(job: Job, margins: tuple[float, ...]) -> Followed:
    """The load changes of a job's vent as drawn, with the purges of its start sequence."""
    burners = job.sequence.burners
    purges = {b.name: float(job.sequence.purge(b).m_as("s")) for b in burners}
    only = load_changes.as_many_as_fit(job.plant, job.seasons, margins)
    return load_changes.follow(job.plant, job.seasons, load_changes.usual(job.plant, job.seasons, purges, only))


def _gathered(job: Job, scan: Scan) -> Study:
    pressure = firing_states.header_pressure(scan)
    low, high = int(np.nanargmin(pressure)), int(np.nanargmax(pressure))
    return Study(
        job=job,
        scan=scan,
        envelopes=firing_states.envelopes(scan),
        reversals=firing_states.reversals(scan),
        extremes=firing_states.extremes(scan),
        runs=tuple(_run(scan, i) for i in range(len(job.plant.appliances))),
        category_refusals=category_refusals(scan),
        header=(float(pressure[low]), float(pressure[high])),
        header_states=(low, high),
    )


def category_refusals(scan: Scan) -> tuple[str, ...]:
    """Why appliances may not share a vent by their categories, one sentence; empty where nothing speaks against it.

    An appliance made for negative vent pressure may share with one made for positive only where the shared vent is
    under draft in every state: a fan or a control that holds it so, never nature alone.
    """
    plant, controlled = scan.plant, bool(np.abs(scan.solution.added).max() > 0.0)
    for section, met in zip(plant.order, firing_states.extremes(scan), strict=True):
        served = plant.serves(section.name)
        negative = [a.name for a in served if not appliances.CATEGORIES[a.category].positive]
        positive = [a.name for a in served if appliances.CATEGORIES[a.category].positive]
        if negative and positive and not (controlled and met.pressure[1] <= 0.0):
            why = (
                "share a vent that may come under positive pressure"
                if controlled
                else "may not share a natural-draft vent"
            )
            return (
                f"{', '.join(negative)} (category {_categories(served, False)}) and {', '.join(positive)} (category "
                f"{_categories(served, True)}) lead into {section.name}: an appliance made for negative vent pressure "
                f"and one that may put the vent under positive pressure {why}",
            )
    return ()


def _categories(served, positive: bool) -> str:
    return ", ".join(
        dict.fromkeys(a.category for a in served if appliances.CATEGORIES[a.category].positive == positive)
    )


def _run(scan: Scan, i: int) -> Run:
    """Equivalent length of an appliance's own run, up to the first section it shares, at its highest flow."""
    plant, solution = scan.plant, scan.solution
    a = plant.appliances[i]
    own = [s for s in plant.path(a.name) if len(plant.serves(s.name)) == 1]
    state = int(solution.flow[solution.row(own[0].name)].argmax())
    metres = 0.0
    for section in own:
        row = solution.row(section.name)
        length, diameter = (float(getattr(section, n).m_as("m")) for n in ("length", "diameter"))
        viscosity = flue_gas.viscosity.bare(flue_gas.Gas.dry_air(), solution.upstream[row, state])
        re = friction.reynolds.bare(solution.flow[row, state], diameter, viscosity)
        factor = friction.friction_factor.bare(re, float(section.material.roughness.m_as("m")) / diameter)
        loss = sum(fittings.fitting(f).loss for f in section.fittings)
        loss += _cap_loss(plant, section.into)
        metres += length + float(fittings.equivalent_length.bare(loss, diameter, factor))
    allowed = None if a.longest_run is None else float(a.longest_run.m_as("m"))
    return Run(a.name, metres, allowed)


def _cap_loss(plant: Plant, name: str) -> float:
    return next((fittings.fitting(t.cap).loss for t in plant.terminations if t.name == name), 0.0)


def objections(study: Study, system: str = "US") -> tuple[Objection, ...]:
    """What speaks against the material of each section, over all states."""
    found = []
    for section, met in zip(study.job.plant.order, study.extremes, strict=True):
        served = study.job.plant.serves(section.name)
        named = all(section.material.name in a.named_materials for a in served)
        reasons = materials.objections(
            section.material,
            tuple(a.category for a in served),
            Q_(met.gas[1], "K"),
            Q_(met.pressure[1], "Pa"),
            met.condensing > 0.0,
            system,
        )
        if named:
            reasons = tuple(r for r in reasons if not r.startswith("not a listed vent"))
        found += [Objection(section.name, section.material.name, r) for r in reasons]
    return tuple(found)


def alternate_envelopes(study: Study, alternate: Alternate) -> tuple[Envelope, ...]:
    """The envelopes of the appliances an alternate would replace, against its window instead of theirs.

    Holds only where the alternate makes the same flue gas; its other figures belong in a job file of its own.
    """
    window = tuple(float(w.m_as("Pa")) for w in alternate.window)
    return tuple(
        Envelope(e.appliance, e.low, e.high, e.low_state, e.high_state, window)
        for e in study.envelopes
        if e.appliance in alternate.appliances
    )


# --- Findings in words ------------------------------------------------------------------------------------


def findings(study: Study, system: str = "US") -> tuple[Finding, ...]:
    """Everything found, the gravest first."""
    around = [Finding(*f) for f in surroundings.findings(study.around, system)]
    found = [f for f in around if f.kind == "danger" and f.subject.startswith("Terminal")]
    found += [_reversal(study, r, system) for r in study.reversals]
    found += [Finding("danger", "Categories", f"Refused as a common vent: {r}. {COMMON_VENT_RULE}.")
              for r in study.category_refusals]  # fmt: skip
    found += [f for f in around if f.kind == "danger" and f not in found]
    found += [f for e in study.envelopes for f in _window(study, e, system)]
    found += [f for p, e in zip(study.passages, study.envelopes, strict=False) for f in _passed(study, p, e, system)]
    found += [f for f in around if f.kind == "fault"]
    found += _materials(study, system)
    found += [_too_long(r, system) for r in study.runs if r.allowed is not None and r.equivalent > r.allowed]
    if study.outcome is not None and study.outcome.remedy.unfit:
        found.append(Finding("fault", "Fan", _sentence(study.outcome.remedy.unfit)))
    if study.outcome is not None and study.outcome.pressed:
        what = "under positive pressure in some state, though it serves an appliance of category I or II"
        sentence = f"{', '.join(study.outcome.pressed)}: {what}. {COMMON_VENT_RULE}."
        found.append(Finding("fault", "Categories", sentence))
    found += _unsettled(study, system)
    found.append(_far_end(study, system) if study.outcome is None else _held(study, system))
    found += [f for f in around if f.kind == "note"]
    found += _wet(study, system)
    found += _untested_junctions(study)
    return tuple(found)


def _far_end(study: Study, system: str) -> Finding:
    low, high, set_point, lacking, excess = (
        show(Q_(p, "Pa"), system, "draft")
        for p in (*study.header, float(study.job.set_point.m_as("Pa")), study.lacking, study.excess)
    )
    at_low, at_high = (study.scan.describe(s, system) for s in study.header_states)
    span = f"The vent alone gives {low} ({at_low}) to {high} ({at_high})"
    if len(study.job.plant.appliances) == 1:
        return Finding("note", "Beginning of the run", f"{span}.")
    return Finding(
        "note",
        "Header's far end",
        f"{span}. To hold {set_point} there in every state, {lacking} of draft is lacking at worst and {excess} is too "
        "much at worst.",
    )


def _held(study: Study, system: str) -> Finding:
    """What the controls hold, and where they cannot."""
    low, high = (show(Q_(p, "Pa"), system, "draft") for p in study.header)
    told = [f"The header stands at {low} to {high}."]
    told += [text for text in remedies.reasons(study.outcome, system) if "not held" in text]
    told.append(
        "Without power the vent is what natural draft makes of it, with a fan that stands still in its way: burners "
        "must be locked out as soon as draft is not proved."
    )
    return Finding("note", "Control", " ".join(told).replace("w.c..", "w.c."))


def _materials(study: Study, system: str) -> list[Finding]:
    """One finding a section, with all that speaks against its material."""
    found = objections(study, system)
    told = {o.section: f"{o.material}: " + "; ".join(p.reason for p in found if p.section == o.section) for o in found}
    return [Finding("fault", f"Material of {section}", _sentence(text)) for section, text in told.items()]


def _reversal(study: Study, r: Reversal, system: str) -> Finding:
    how = "flows back through it while it is idle" if r.kind == "idle" else "spills from its hood while it fires"
    return Finding(
        "danger",
        r.appliance,
        f"Flue gas {how} and enters the room: up to {show(Q_(r.flow, 'kg/s'), system)} in {r.states:,} of "
        f"{len(study.scan.conditions):,} states, worst with {study.scan.describe(r.state, system)}."
        f"{_either(r)}",
    )


def _either(r: Reversal) -> str:
    """Where the vent may do one or the other."""
    if not r.either:
        return ""
    where = "all" if r.either == r.states else f"{r.either:,}"
    return (
        f" In {where} of them the vent may draft as well: it drafts if it was hot before, and lets flue gas out if it "
        "is lit from idle or turned over before. The worse counts."
    )


def _unsettled(study: Study, system: str) -> list[Finding]:
    """What has no state of rest, or was not solved."""
    scan, found = study.scan, []
    if study.restless:
        gas = scan.restless & firing_states.gas_in_room(scan).any(axis=0)
        worst = int(np.where(scan.restless, np.maximum(-scan.solution.drawn, 0.0).sum(axis=0), -1.0).argmax())
        found.append(
            Finding(
                "fault",
                "No rest",
                f"In {study.restless:,} of {len(scan.conditions):,} states there is no state of rest: the vent flips "
                f"between drafting and spilling, or stands still and flutters, worst with "
                f"{scan.describe(worst, system)}. Each counts by the most gas it was found to send into the room; "
                f"{scan.count(gas):,} of them spill.",
            )
        )
    others = study.unsolved - study.restless
    if others > 0:
        found.append(Finding("fault", "Solver", f"{others:,} states did not converge; see the list of states."))
    return found


def _window(study: Study, e: Envelope, system: str) -> list[Finding]:
    """Where an outlet leaves its window; positive pressure where none is allowed puts flue gas in the room."""
    found = []
    for beyond, pressure, state, moves, side, limit in (
        (e.above, e.high, e.high_state, "rises", "above", e.window[1]),
        (e.below, e.low, e.low_state, "falls", "below", e.window[0]),
    ):
        if beyond > 0.0:
            shown = [show(Q_(p, "Pa"), system, "draft") for p in (pressure, beyond, limit)]
            seen = shown[1] != show(Q_(0.0, "Pa"), system, "draft")
            told = f"{moves} to {shown[0]}, {shown[1]} {side}" if seen else f"{moves} just {side}"
            found.append(
                Finding(
                    "fault",
                    e.appliance,
                    f"Outlet pressure {told} its limit of {shown[2]}, with {study.scan.describe(state, system)}.",
                )
            )
    return found


def _passed(study: Study, p: Passage, e: Envelope, system: str) -> list[Finding]:
    """What an outlet meets in load changes beyond what its steady states say; all judged against usual delays."""
    found = []
    if p.spilled > 0.0 and p.appliance not in {r.appliance for r in study.reversals}:
        told = f"{show(Q_(p.spilled, 'kg'), system, 'mass')} of flue gas enters the room through it"
        change = study.changes.describe(p.spill_change)
        lasts = (
            f"and still does after {load_changes.AFTER:.0f} s"
            if p.still > 0.0
            else f"for {p.spilling:.0f} s, then it draws"
        )
        found.append(
            Finding("danger" if p.still > 0.0 else "note", p.appliance, f"In time: {told} {lasts} ({change}).")
        )
    for pressure, at, change, lasts, limit, steady, side, delay in (
        (p.high, p.high_at, p.high_change, p.above, e.window[1], e.high, 1.0, "high_delay"),
        (p.low, p.low_at, p.low_change, p.below, e.window[0], e.low, -1.0, "low_delay"),
    ):
        beyond, further = side * (pressure - limit), side * (pressure - steady)
        if beyond <= 0.0 or further < _WORTH_TELLING:
            continue
        at_rest = side * (steady - limit)
        patience = float(usual_setting(delay).m_as("s"))
        shown = [show(Q_(v, "Pa"), system, "draft") for v in (pressure, beyond, limit, further)]
        kept = (
            f"{shown[3]} further than in any steady state" if at_rest > 0.0 else "though every steady state keeps to it"
        )
        found.append(
            Finding(
                "fault" if at_rest <= 0.0 and lasts > patience else "note",
                p.appliance,
                f"In time the outlet {'rises' if side > 0 else 'falls'} to {shown[0]}, {shown[1]} "
                f"{'above' if side > 0 else 'below'} its limit of {shown[2]}, {kept}: "
                f"{study.changes.describe(change)}, {at:.0f} s after the call; up to {lasts:.0f} s on that side.",
            )
        )
    return found


_WORTH_TELLING = 1.0  # Pa


def _too_long(r: Run, system: str) -> Finding:
    run, allowed = (show(Q_(v, "m"), system, "height") for v in (r.equivalent, r.allowed))
    return Finding(
        "fault",
        r.appliance,
        f"Its run is {run} of equivalent length (fittings at K D / f), beyond the {allowed} its instructions allow. "
        "The instructions govern, and so do the equivalent lengths they give for elbows.",
    )


def _sentence(text: str) -> str:
    """Text with one full stop, also behind an abbreviation such as "in. w.c."."""
    return text if text.endswith(".") else f"{text}."


def _wet(study: Study, system: str) -> list[Finding]:
    """Where walls of a hot stack stand below the dew point, in one sentence for all sections."""
    wet = [m for m in study.extremes if m.condensing > 0.0]
    if not wet:
        return []
    told = "; ".join(
        f"{m.section} (wall {show(Q_(m.coldest_wall, 'K'), system)}, dew point {show(Q_(m.dew_point, 'K'), system)}, "
        f"in {m.condensing:.0%} of states)"
        for m in wet
    )
    most = max(study.extremes, key=lambda m: m.condensate)
    rate, a_day = (show(Q_(most.condensate, "kg/s"), system, k) for k in ("condensate", "condensate a day"))
    ice = max(m.ice for m in study.extremes)
    frozen = (
        f" Where the wall is below freezing, {show(Q_(ice, 'kg/s'), system, 'condensate')} settles as ice."
        if ice
        else ""
    )
    return [
        Finding(
            "note",
            "Condensation",
            f"With the stack hot, the wall stands below the dew point in: {told}. Most water runs down {most.section}: "
            f"{rate}, {a_day} if that state lasts.{frozen} Drain it, and keep it from metal and masonry not made for "
            "it.",
        )
    ]


def _untested_junctions(study: Study) -> list[Finding]:
    """Junctions whose branch is narrower than those that the coefficients were measured on."""
    outside = junctions.untested(study.job.plant.sections)
    if not outside:
        return []
    told = ", ".join(f"{name} ({ratio:.2f})" for name, ratio in outside)
    low, high = junctions.TESTED_AREA_RATIO
    sentence = (
        f"The branch-to-header area ratio of {told} lies outside the {low:g} to {high:g} that the junction formulas "
        "were tested for: give their losses a wide margin."
    )
    return [Finding("note", "Junctions", sentence)]


def sources(study: Study) -> tuple[str, ...]:
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
