"""Remedy words: what a remedy is and why it stands where it does, told from its records.

Nothing is decided here: the sentences stand in ``data/job/words.toml``, one a code, and the record's figures are put
into them in either unit system.
"""

from ventcalc.draft import held_pressure
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import left_out as not_applying
from ventcalc.job import remedy_reasons, vent_changes
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import Remedy
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.remedy_reasons import Reason
from ventcalc.job.vent_changes import Difference
from ventcalc.vent.layout import Plant
from ventcalc.words import say, spans

PART = "job"  # whose words they are


def _sentence(text: str) -> str:
    """A text that begins as sentences do."""
    return f"{text[0].upper()}{text[1:]}"


# --- Why it stands there -------------------------------------------------------------------------------------


def reasons(o: Outcome, system: str = "US") -> tuple[str, ...]:
    """Why an outcome stands where it does, the decisive first; one sentence each."""
    return tuple(sentence(o, reason, system) for reason in remedy_reasons.reasons(o))


def sentence(o: Outcome, reason: Reason, system: str = "US") -> str:
    """One reason of an outcome in words."""
    told = dict(reason.figures)
    if "states" in told:
        told["counted"] = counted(told["states"])
    for code in ("limit", "side"):
        if code in told:
            told[code] = say(PART, code, told[code])
    if "sensor" in told:
        told["sensor"] = sensed(o.scan.plant, told["sensor"])
    if reason.state is not None:
        told["state"] = o.scan.describe(reason.state, system)
    return _sentence(say(PART, "reasons", reason.code, system, subjects=", ".join(spans(reason.subjects)), **told))


def counted(count: int) -> str:
    """A number of states."""
    return say(PART, "states", "one" if count == 1 else "many", count=count)


def sensed(plant: Plant, sensor: str) -> str:
    """What a control's sensor reads, in words."""
    if sensor != HEADER:
        return say(PART, "sensed", "outlet", appliance=sensor)
    return say(PART, "sensed", "header" if len(plant.appliances) > 1 else "vent")


# --- What it is ----------------------------------------------------------------------------------------------


def words(remedy: Remedy, system: str = "US") -> str:
    """What is changed and installed, in one phrase."""
    plant, told = remedy.plant, list(built_otherwise(remedy, system))
    if remedy.tried > 1 and told:
        told[-1] = say(PART, "remedy", "best of", change=told[-1], tried=remedy.tried)
    if remedy.away:
        told.append(say(PART, "remedy", "fan kept" if remedy.keeps_fan else "taken away", fan=remedy.away))
    if remedy.fan:
        told.append(say(PART, "remedy", "at the end", device=fan_words(remedy.fan), section=remedy.top))
    if remedy.damper:
        base, device = held_pressure.stack_base(plant), damper_words(remedy.damper, system)
        told.append(say(PART, "remedy", "at the end", device=device, section=base))
    if remedy.set_point is not None:
        held = {"sensor": sensed(plant, HEADER), "set_point": remedy.set_point}
        told.append(say(PART, "remedy", "held", system, **held))
    if remedy.outlets:
        name = "outlet damper" if len(remedy.outlets) == 1 else "outlet dampers"
        told.append(say(PART, "remedy", name, outlets=", ".join(spans(remedy.outlets))))
    return "; ".join(told) or say(PART, "remedy", "nothing")


def built_otherwise(remedy: Remedy, system: str = "US") -> tuple[str, ...]:
    """What of the vent is built otherwise than drawn, one phrase a change; a cap that a fan replaces is not one."""
    return tuple(
        _difference(d, remedy, system) for d in remedy.differences if not (d.kind == "cap" and remedy.fan is not None)
    )


def _difference(d: Difference, remedy: Remedy, system: str) -> str:
    plant, names, name = remedy.plant, ", ".join(spans(d.sections)), d.kind
    if d.kind == "size":
        if {s.name for s in vent_changes.shared(plant)} == set(d.sections):
            names = say(PART, "changes", "header and stack" if len(plant.appliances) > 1 else "vent")
        if any(x.kind == "material" and x.sections == d.sections for x in remedy.differences):
            name = "size of a liner"
    if d.kind == "junction":
        square = {s.name for s in remedy.drawn.sections if s.junction in vent_changes.SQUARE}
        name = "every junction" if square == set(d.sections) else name
    if d.kind == "height":
        name = ("raised" if d.after > d.before else "cut") + (" each" if len(d.sections) > 1 else "")
    return say(PART, "changes", name, system, sections=names, after=d.after)


def fan_words(drive: Drive) -> str:
    """A fan in a word."""
    return say(PART, "devices", "fan", name=drive.fan.name)


def damper_words(damper: Damper, system: str = "US") -> str:
    """A damper in a word: its blades, its face, where it sits."""
    name = "round damper" if damper.round else "square damper"
    return say(PART, "devices", name, system, blades=damper.blades, size=damper.width)


def devices(remedy: Remedy) -> tuple[str, ...]:
    """Everything that moves, one entry each."""
    return tuple(say(PART, "moves", code, name=name) for code, name in remedy.devices)


def listed(remedy: Remedy, system: str = "US") -> tuple[str, ...]:
    """What must be listed, or proved, for what; one sentence each."""
    fan = {"fan": remedy.fan.fan.name, "stands": remedy.fan.fan.highest_temperature} if remedy.fan else {}
    return tuple(say(PART, "listings", code, system, **fan) for code in remedy.to_be_listed)


# --- What does not apply -------------------------------------------------------------------------------------


def left_out(job: Job) -> tuple[tuple[str, str], ...]:
    """The remedies that do not apply to a job: the kind of each, and why in one sentence."""
    return tuple(
        (left.kind, _sentence(say(PART, "left_out", left.code, refused=left.refused)))
        for left in not_applying.left_out(job)
    )
