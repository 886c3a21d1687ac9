"""Remedy words: what a remedy is and why it stands where it does, in sentences made from its records.

Nothing is decided here. Every reason is a record (`remedies.Reason`) with a code; `SENTENCES` has one sentence a code,
and the record's figures are put into it in either unit system.
"""

from ventcalc.draft import held_pressure
from ventcalc.draft.dampers import Damper
from ventcalc.draft.fan_drive import Drive
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import vent_changes
from ventcalc.units import show
from ventcalc.vent.layout import Plant

SENTENCES = {
    "gas in room": "Flue gas enters the room in {states} of {total} states.",
    "outside window": "{states} of {total} states leave an outlet outside its window; at worst {subjects} by {beyond} "
    "{side} it, with {state}.",
    "outside window too": "{subjects} leaves its window by {beyond} {side} it at worst, with {state}.",
    "positive pressure": "Positive pressure in some state, though it serves category I or II: {subjects}.",
    "unsolved": "{counted} not solved.",
    "no fan fits": "No {kind} fan in the table does this duty; {subjects} comes nearest.",
    "fan falls short": "{subjects} does not do its duty.",
    "inside windows": "Every outlet stays inside its window in all {total} states, by at least {margin}.",
    "margin within doubt": "The margin of {subjects}, {margin}, is less than what is uncertain there, {uncertain}: "
    "sensor, actuator and a quarter of the loss between sensor and outlet.",
    "governing states": "Solved in the {total} states that govern, not in all {possible}.",
    "sample": "These states are a sample of {possible}.",
    "set points": "Any set point from {low} to {high} keeps all outlets in their windows.",
    "no set point": "No set point keeps all outlets in their windows: those of two miss each other by {lacking}.",
    "set point outside": "The set point stands outside what serves all outlets, {low} to {high}.",
    "not held": "In {counted} {sensor} is not held: at worst {off} {side} the set point, {limit}, with {state}.",
    "left to outlets": "What is too much there is left to the outlets' dampers.",
    "fan works": "The fan runs at {slowest} to {fastest} of its rated speed, hardest at {flow} and {static}; about "
    "{yearly} a year.",
    "fan at least speed": "In {counted} it stands at its least speed.",
    "fan too large": "In most states it stands at its least speed, and it is the smallest {kind} fan in the table that "
    "does the duty.",
    "fan stalled": "In {counted} it works left of its stall limit: its pressure wavers.",
    "fan too hot": "Gas of {hottest} reaches it, and it stands {stands}.",
    "fan wet": "Water condenses from the gas that reaches it, and it is not made to be wet.",
    "damper idle": "The damper has nothing to do: it stands wide open in every state.",
    "damper works": "The damper works between {least} and {most} open.",
    "damper coarse": "One step of its actuator, {stroke} of the stroke, moves up to {step}, more than the {allowed} "
    "that is tolerated: a finer actuator is needed.",
    "run too long": "{subjects}: its own run is {run} long, elbows not counted; its instructions allow {allowed}.",
    "new pipe": "{area} of pipe is new.",
    "area rule": "The stack is {times} times as large as the smallest outlet, more than the {allowed} that the area "
    "rule allows.",
}

# How the quantities of a record are shown, by their names; the others by their dimension alone.
_KINDS = {
    **dict.fromkeys(
        ("beyond", "margin", "uncertain", "low", "high", "lacking", "off", "static", "step", "allowed"), "draft"
    ),
    "flow": "volume flow",
    "run": "height",
}

# Where a control's device stands, by its code.
LIMITS = {
    "between": "its search not at rest",
    "damper open": "the damper wide open",
    "damper shut": "the damper shut",
    "fan fastest": "the fan at its highest speed",
    "fan slowest": "the fan at its least speed",
    "fan slowest, damper shut": "the fan at its least speed and the damper shut",
}


def reasons(o, system: str = "US") -> tuple[str, ...]:
    """Why an outcome stands where it does, the decisive first; one sentence each."""
    return tuple(sentence(o, reason, system) for reason in o.reasons)


def sentence(o, reason, system: str = "US") -> str:
    """One reason of an outcome in words."""
    told = {name: _shown(name, value, reason.code, system) for name, value in reason.figures.items()}
    if "states" in reason.figures:
        told["counted"] = counted(reason.figures["states"])
    if "limit" in told:
        told["limit"] = LIMITS[told["limit"]]
    if "sensor" in told:
        told["sensor"] = sensed(o.scan.plant, told["sensor"])
    if reason.state is not None:
        told["state"] = o.scan.describe(reason.state, system)
    text = SENTENCES[reason.code].format(subjects=", ".join(reason.subjects), **told)
    return f"{text[0].upper()}{text[1:]}".replace("w.c..", "w.c.")


def _shown(name: str, value, code: str, system: str) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, int):
        return f"{value:,}"
    if isinstance(value, float):
        return f"{value:.0%}"
    if name == "yearly":
        return f"{float(value.m_as('kWh')):,.0f} kWh"
    kind = "height" if code == "run too long" else _KINDS.get(name)
    if name == "area":
        unit, sign = ("ft**2", "ft²") if system == "US" else ("m**2", "m²")
        return f"{float(value.m_as(unit)):,.0f} {sign}" if system == "US" else f"{float(value.m_as(unit)):,.1f} {sign}"
    if name == "times" or code == "area rule":
        return f"{float(value.m_as('')):.1f}"
    return show(value, system, kind) if kind else show(value, system)


def counted(count: int) -> str:
    """A number of states."""
    return f"{count:,} state{'' if count == 1 else 's'}"


def sensed(plant: Plant, sensor: str) -> str:
    """What a control's sensor reads, in words."""
    if sensor != HEADER:
        return f"the outlet of {sensor}"
    return "the header" if len(plant.appliances) > 1 else "the beginning of the vent"


def words(remedy, system: str = "US") -> str:
    """What is changed and installed, in one phrase."""
    plant, told = remedy.plant, list(built_otherwise(remedy, system))
    if remedy.tried > 1 and told:
        told[-1] += f", the best of {remedy.tried} tried"
    if remedy.fan:
        told.append(f"{fan_words(remedy.fan)} at the end of {remedy.top}")
    if remedy.damper:
        base = held_pressure.stack_base(plant)
        told.append(f"{damper_words(remedy.damper, system)} at the end of {base}")
    if remedy.set_point is not None:
        told.append(f"{sensed(plant, HEADER)} held at {show(remedy.set_point, system, 'draft')}")
    if remedy.outlets:
        told.append(
            f"a butterfly damper and a sensor at the outlets of {', '.join(remedy.outlets)}, each set to the middle of "
            "its window"
        )
    return "; ".join(told) or "nothing is changed"


def built_otherwise(remedy, system: str = "US") -> tuple[str, ...]:
    """What of the vent is built otherwise than drawn, one phrase a change; a cap that a fan replaces is not one."""
    return tuple(
        _difference(d, remedy, system) for d in remedy.differences if not (d.kind == "cap" and remedy.fan is not None)
    )


def _difference(d, remedy, system: str) -> str:
    plant, names = remedy.plant, ", ".join(d.sections)
    if d.kind == "size":
        if {s.name for s in vent_changes.shared(plant)} == set(d.sections):
            names = "header and stack" if len(plant.appliances) > 1 else "the vent"
        liner = (
            " as a liner" if any(x.kind == "material" and x.sections == d.sections for x in remedy.differences) else ""
        )
        return f"{names} at {show(d.after, system, 'diameter')}{liner}"
    if d.kind == "junction":
        square = {s.name for s in remedy.drawn.sections if s.junction in vent_changes.SQUARE}
        return "every square branch joins as a lateral" if square == set(d.sections) else f"{names} by a {d.after}"
    if d.kind == "height":
        return f"{names} {'raised' if d.after > d.before else 'cut'} to {show(d.after, system, 'height')}"
    return f"{names} of {d.after}" if d.kind == "material" else f"a {d.after} at {names}"


def fan_words(drive: Drive) -> str:
    """A fan in a word."""
    return f"fan {drive.fan.name}"


def damper_words(damper: Damper, system: str = "US") -> str:
    """A damper in a word: its blades, its face, where it sits."""
    size = show(damper.width, system, "diameter")
    return f"{damper.blades} damper of {size}{'' if damper.round else ' square'}"


LISTINGS = {
    "vent": "Every new piece of vent for the category of all appliances whose flue gas passes it.",
    "fan": "The fan ({subjects}) for the flue gas of these appliances and their fuel; it stands {stands}.",
    "damper": "Each damper for the flue gas of its appliances, their temperature and condensate; without power it must "
    "open.",
    "interlock": "The interlock that proves draft, or the damper open, before any burner is released, and stops every "
    "burner when that is lost.",
    "appliances": "The appliances: the instructions of each must allow the device on its vent.",
}


def listed(remedy, system: str = "US") -> tuple[str, ...]:
    """What must be listed, or proved, for what; one sentence each."""
    found = []
    for code in remedy.to_be_listed:
        stands = show(remedy.fan.fan.highest_temperature, system) if remedy.fan else ""
        found.append(LISTINGS[code].format(subjects=remedy.fan.fan.name if remedy.fan else "", stands=stands))
    return tuple(found)
