"""Exercises: questions that mark themselves.

An exercise knows its answer, how near is near enough, and the slips that people make. `Exercise.check`
takes a quantity, or text such as "0.05 inH2O", in any fitting unit, and tells an answer that was not
attempted from one that cannot be read, one that is wrong (and, where it knows the slip, why) and one that is
right. Wrong answers bring out one hint after another, and then the worked answer.

The questions of each chapter are made by a function of this module in the unit system of the chapter;
their answers are worked by the library. ``tests/test_exercises.py`` works them again by other means.
"""

from dataclasses import dataclass, field, replace
from html import escape
from math import prod
from typing import Any

import numpy as np

from ventcalc import firing_states, job, junctions, stack_effect, tables
from ventcalc.common_vent import States, solve
from ventcalc.layout import Plant
from ventcalc.study import Study, study
from ventcalc.units import Q_, Quantity, UnitsError, magnitude, parse, show, ureg

# A gauge pressure in a vent stays far below this; a barometric one is far above it.
_ABSOLUTE = Q_(20.0, "kPa")

# What answers are quantities of; all are SI base units or made of them.
_UNITS = [ureg.Unit(u) for u in ("Pa", "K", "m", "kg/s", "m**3/s", "W", "")]

KINDS = ("not attempted", "refused", "wrong", "right")


@dataclass(frozen=True)
class Slip:
    """A mistake that people make: the ``answer`` it leads to, and what to say to whoever gives it."""

    answer: Quantity
    reason: str


@dataclass(frozen=True)
class Verdict:
    """What is said to an answer: its ``kind`` (one of `KINDS`), why, and a hint or the worked answer."""

    kind: str
    sentence: str
    more: str = ""

    def html(self) -> str:
        """The verdict as HTML."""
        mark = {"not attempted": "Your turn.", "refused": "Not yet.", "wrong": "No.", "right": "Right."}[self.kind]
        texts = [f"<b>{mark}</b> {escape(self.sentence)}", *([escape(self.more)] if self.more else [])]
        return "".join(f'<p style="line-height: 1.4; margin: 6px 0">{text}</p>' for text in texts)

    def _repr_html_(self) -> str:
        return self.html()

    def __str__(self) -> str:
        return " ".join(t for t in (self.sentence, self.more) if t)


@dataclass
class Exercise:
    """One question with its ``expected`` answer, right within ``tolerance`` (a quantity as well).

    ``hints`` come out one by one with each wrong answer, then ``solution``, the worked answer. ``example`` shows
    the form of an answer. ``tries`` counts the wrong ones; what cannot be read does not count.
    """

    question: str
    expected: Quantity
    tolerance: Quantity
    hints: tuple[str, ...]
    solution: str
    slips: tuple[Slip, ...] = ()
    example: str = "0.05 inH2O"
    tries: int = field(default=0, init=False)

    def __post_init__(self):
        self.question, self.solution = _tidy(self.question), _tidy(self.solution)
        self.hints = tuple(_tidy(h) for h in self.hints)

    def check(self, answer: Any = None) -> Verdict:
        """Mark an answer: a quantity, text with its unit, or None where it was not attempted."""
        verdict = mark(self, answer)
        if verdict.kind != "wrong":
            return verdict
        self.tries += 1
        if self.tries <= len(self.hints):
            return replace(verdict, more=f"Hint: {self.hints[self.tries - 1]}")
        return replace(verdict, more=f"Worked answer: {self.solution}")


def _tidy(text: str) -> str:
    """A unit that ends in a full stop ends the sentence as well."""
    return text.replace("w.c..", "w.c.").replace("in..", "in.")


def mark(exercise: Exercise, answer: Any) -> Verdict:
    """Verdict on one answer, without hints; counts nothing."""
    if answer is None or answer is ... or (isinstance(answer, str) and not answer.strip()):
        return Verdict("not attempted", f"Give an answer such as {exercise.example}.")
    try:
        given, expected, near = _plain(exercise, answer)
    except (UnitsError, ValueError) as error:
        return Verdict("refused", f"{error}. This does not count as a try.")
    if abs(given - expected) <= near:
        return Verdict("right", exercise.solution)
    for slip in exercise.slips:
        if abs(given - _base(slip.answer)) <= near:
            return Verdict("wrong", slip.reason)
    return Verdict("wrong", _reason(exercise, given, expected, near))


def _plain(exercise: Exercise, answer: Any) -> tuple[float, float, float]:
    """Answer, expected and tolerance as plain numbers in SI base units."""
    unit = next(u for u in _UNITS if exercise.expected.is_compatible_with(u))
    if unit.dimensionless and isinstance(answer, str):
        answer = _bare(answer)
    elif isinstance(answer, str):
        answer = parse(answer)
    if not unit.dimensionless and not isinstance(answer, Quantity):
        raise UnitsError(f"{answer!r} is a bare number; say in which unit, such as {exercise.example}")
    given = float(magnitude(answer, unit, "the answer"))
    if not np.isfinite(given):
        raise ValueError("the answer must be a finite number")
    return given, _base(exercise.expected), _base(exercise.tolerance)


def _bare(text: str) -> Any:
    """A ratio may be given as text with or without "%", a count with commas."""
    try:
        return float(text.replace(",", ""))
    except ValueError:
        return parse(text if " " in text else text.replace("%", " %"))


def _base(value: Quantity) -> float:
    return float(value.to_base_units().magnitude)


def _reason(exercise: Exercise, given: float, expected: float, near: float) -> str:
    """What can be said of a wrong answer that is no known slip, without giving the answer away."""
    pressure = exercise.expected.is_compatible_with("Pa")
    if pressure and abs(given) > _base(_ABSOLUTE) > abs(expected):
        return "That is an absolute pressure. Pressures here are gauge, against the room at the same height."
    if abs(given + expected) <= near:
        negative = ": negative is draft" if pressure else ""
        return f"The size is right, the sign is not{negative}."
    if given * expected > 0 and abs(np.log10(given / expected) - round(np.log10(given / expected))) < 0.005:
        return "The digits are right, the decimal point is not."
    if abs(given - expected) <= 4 * near:
        return "Close, but not within the tolerance: carry more digits through."
    return f"Too {'high' if given > expected else 'low'}."


# --- Questions, by chapter ----------------------------------------------------------------------------------


def _swim_hall() -> job.Job:
    return job.load(tables.DATA / "jobs" / "swim_hall.toml")


def _draft_unit(system: str) -> tuple[str, Quantity]:
    """Form of an answer in draft, and a tolerance that forgives rounding to what the trade reads on a gauge."""
    return ("0.050 inH2O", Q_(0.003, "inH2O")) if system == "US" else ("12 Pa", Q_(0.75, "Pa"))


def for_common_vent(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter on the common vent."""
    return (_handbook_draft(system), _branch_of_a_tee(system), _mixed_temperature(system), _laterals(system))


def _handbook_draft(system: str) -> Exercise:
    height, barometer = Q_(40.0, "ft"), Q_(29.92, "inHg")
    outdoor, gas = Q_(20.0, "degF"), Q_(300.0, "degF")
    expected = stack_effect.handbook_draft(height, barometer, outdoor, gas)
    degree, offset, name = ("degF", "460", "Rankine") if system == "US" else ("degC", "273", "kelvin")
    relative = [float(t.m_as(degree)) for t in (outdoor, gas)]
    absolute = [float(t.m_as("K")) for t in (outdoor, gas)]
    # The formula with 1/T of the temperatures as read on the thermometer.
    scale = Q_(1.0, degree.replace("deg", "delta_deg")).m_as("delta_degC")
    forgotten = expected * (1 / relative[0] - 1 / relative[1]) / (1 / absolute[0] - 1 / absolute[1]) / scale
    form, near = _draft_unit(system)
    said = [show(q, system, k) for q, k in ((height, "height"), (barometer, "barometric pressure"))]
    warm = [show(t, system) for t in (outdoor, gas)]
    formula = "0.2554 B H (1/To - 1/Tm)" if system == "US" else "0.03413 B H (1/To - 1/Tm)"
    return Exercise(
        question=(
            f"A stack rises {said[0]}. The barometer reads {said[1]}; outdoors it is {warm[0]} and the gas in the "
            "stack "
            f"{warm[1]} in the mean. What is the theoretical draft by the handbook's formula? Give its size, as a "
            "positive pressure."
        ),
        expected=expected,
        tolerance=near,
        hints=(
            f"Dt = {formula}, temperatures in {name}.",
            f"Add {offset} to both temperatures before you divide.",
        ),
        solution=f"Dt = {formula} with temperatures in {name}: {show(expected, system)}.",
        slips=(
            Slip(forgotten, f"The {offset} was forgotten: 1/T wants absolute temperatures."),
            Slip(
                -expected, "The size is right. As a draft it is asked for as a positive pressure; gauge it is negative."
            ),
        ),
        example=form,
    )


def _branch_of_a_tee(system: str) -> Exercise:
    share, head, right_angle = 0.5, Q_(0.020, "inH2O"), Q_(90.0, "degree")
    connector, header = Q_(12.0, "inch"), Q_(16.0, "inch")
    ratio = float((connector / header).m_as("")) ** 2
    factor = float(junctions.branch_loss(share, ratio, right_angle).m_as(""))
    expected = factor * head
    form, near = _draft_unit(system)
    run = float(junctions.run_loss(share, ratio, right_angle).m_as("")) * head
    said = [show(d, system, "diameter") for d in (connector, header)]
    return Exercise(
        question=(
            f"Two boilers burn alike. The second one's connector, {said[0]}, joins a header of {said[1]} in a sharp "
            "straight "
            f"tee. Behind the tee the velocity head is {show(head, system)} in the header. How much total pressure "
            "does the "
            "second boiler's gas lose in the tee, by Gardel's formula?"
        ),
        expected=expected,
        tolerance=near / 3,
        hints=(
            f"Flow share 0.5, area ratio {ratio:.4f} (diameters squared), angle 90 degrees: junctions.branch_loss "
            "gives K.",
            "The coefficient belongs to the velocity head of the combined stream, the one that is given.",
        ),
        solution=(
            f"K = {factor:.2f} on the combined velocity head: {factor:.2f} x {show(head, system)} = "
            f"{show(expected, system)}."
        ),
        slips=(
            Slip(
                expected * (share / ratio) ** 2,
                "Wrong velocity head: K belongs to the head of the combined stream, not to the connector's own.",
            ),
            Slip(
                run,
                "That is the straight run's loss, or K for the ratio of diameters; the second boiler enters by the "
                "branch, and K goes with areas.",
            ),
        ),
        example=form,
    )


def _mixed_temperature(system: str) -> Exercise:
    flows, temperatures = (Q_(900.0, "lb/hour"), Q_(300.0, "lb/hour")), (Q_(330.0, "degF"), Q_(90.0, "degF"))
    m1, m2 = (float(f.m_as("kg/s")) for f in flows)
    t1, t2 = (float(t.m_as("K")) for t in temperatures)
    expected = Q_((m1 * t1 + m2 * t2) / (m1 + m2), "K")
    said = [show(q, system) for q in (*flows, *temperatures)]
    return Exercise(
        question=(
            f"{said[0]} of flue gas at {said[2]} meets {said[1]} of room air, drawn through an idle boiler, at "
            f"{said[3]}. "
            "What temperature has the mixture, if both have the same specific heat?"
        ),
        expected=expected,
        tolerance=Q_(4.0, "delta_degF"),
        hints=(
            "Enthalpy in equals enthalpy out: weigh each temperature with its mass flow.",
            "The air is a quarter of the whole.",
        ),
        solution=f"(m1 T1 + m2 T2) / (m1 + m2) = {show(expected, system)}.",
        slips=(
            Slip(Q_(0.5 * (t1 + t2), "K"), "That is the plain mean; the streams are not equal."),
            Slip(
                Q_((m2 * t1 + m1 * t2) / (m1 + m2), "K"), "The flows are swapped: the flue gas is the greater stream."
            ),
        ),
        example="250 degF" if system == "US" else "120 degC",
    )


def _all_high_in_summer(plant: Plant, seasons) -> Quantity:
    """Outlet pressure of the first appliance with all at their highest level, last season, cold stack."""
    codes = np.array([[len(a.states) - 1] for a in plant.appliances])
    states = States(codes, np.array([len(seasons) - 1]), np.array([True]), np.array([False]))
    return Q_(float(solve(plant, seasons, states).outlet_pressure[0, 0]), "Pa")


def _laterals(system: str) -> Exercise:
    swim_hall = _swim_hall()
    as_drawn = _all_high_in_summer(swim_hall.plant, swim_hall.seasons)
    sections = tuple(replace(s, junction=s.junction and "lateral") for s in swim_hall.plant.sections)
    expected = _all_high_in_summer(replace(swim_hall.plant, sections=sections), swim_hall.seasons)
    form, near = _draft_unit(system)
    return Exercise(
        question=(
            "In the swimming hall every straight tee is exchanged for a lateral. To what gauge pressure does the "
            "outlet of "
            "Boiler 1 then rise with all three boilers at high, in summer, on a cold stack without wind? (A "
            "challenge: use "
            "the solver as above, or the live controls.)"
        ),
        expected=expected,
        tolerance=near,
        hints=(
            "dataclasses.replace makes a section with another junction, and a plant with other sections; or set "
            "'junctions' to lateral in the live controls of the study chapter.",
            f"As drawn it is {show(as_drawn, system)}; the laterals take a good part of that away.",
        ),
        solution=f"With laterals {show(expected, system)}, as drawn {show(as_drawn, system)}.",
        slips=(Slip(as_drawn, "That is the vent as drawn, with its straight tees."),),
        example=form,
    )


def for_firing_states(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter on firing states."""
    return (_how_many_states(), _swing(system), _through_an_idle_boiler(system), _what_a_sample_finds())


def _how_many_states() -> Exercise:
    boilers, each, weather = 5, 4, (3, 2, 2)
    expected = each**boilers * prod(weather)
    return Exercise(
        question=(
            "Five boilers, each off, purging, at low or at high; three seasons, hot or cold stack, wind or none. "
            "How many "
            "states are there to look at?"
        ),
        expected=Q_(float(expected), ""),
        tolerance=Q_(0.5, ""),
        hints=("What one boiler does leaves the others free: multiply.", "4 x 4 x 4 x 4 x 4 for the boilers alone."),
        solution=f"4^5 x 3 x 2 x 2 = {expected:,}.",
        slips=(
            Slip(
                Q_(float(each * boilers * prod(weather)), ""),
                "Choices that are free of one another multiply: 4^5, not 4 x 5.",
            ),
            Slip(
                Q_(float(2**boilers * prod(weather)), ""), "Off and purging are states too, and not the harmless ones."
            ),
            Slip(Q_(float(each**boilers), ""), "The boilers are right; seasons, stack and wind are missing."),
            Slip(
                Q_(float((each + boilers - 1) * prod(weather)), ""),
                "Equal boilers at different places on a header are not the same: count each for itself.",
            ),
        ),
        example="1000",
    )


def _swing(system: str) -> Exercise:
    low, high, edge = (Q_(p, "inH2O") for p in (-0.18, 0.13, 0.10))
    form, near = _draft_unit(system)
    shown = [show(p, system) for p in (low, high, edge)]
    return Exercise(
        question=(
            f"Over all states an outlet pressure runs from {shown[0]} to {shown[1]}; its window ends at {shown[2]} "
            "above "
            "and as far below zero. What is its swing?"
        ),
        expected=high - low,
        tolerance=near,
        hints=("The swing is highest less lowest, whatever the window.", "Mind the sign of the lowest."),
        solution=(
            f"{shown[1]} less {shown[0]} is {show(high - low, system)}: wider than the window, so no shift of the "
            "whole cures it."
        ),
        slips=(
            Slip(high + low, "The signs were lost: less a negative is plus."),
            Slip(2 * edge, "That is the width of the window."),
            Slip(high - edge, "That is how far it rises above its window."),
            Slip(-edge - low, "That is how far it falls below its window."),
        ),
        example=form,
    )


def _through_an_idle_boiler(system: str) -> Exercise:
    leak, at, now = Q_(25.0, "cfm"), Q_(0.10, "inH2O"), Q_(0.225, "inH2O")
    expected = leak * float((now / at).m_as("")) ** 0.5
    shown = [show(q, system) for q in (leak, at, now)]
    return Exercise(
        question=(
            f"An idle boiler leaks {shown[0]} at {shown[1]}. The others push the pressure at its outlet to "
            f"{shown[2]} above "
            "the room. How much flue gas comes out of it, if flow goes with the root of pressure?"
        ),
        expected=expected,
        tolerance=0.03 * expected,
        hints=("dp = R Q^2, so Q grows with the root of dp.", "The pressure is 2.25 times as high; its root is 1.5."),
        solution=(
            f"{shown[0]} x sqrt({shown[2]} / {shown[1]}) = {show(expected, system)}: into the room, where people are."
        ),
        slips=(
            Slip(
                leak * float((now / at).m_as("")),
                "That is flow in proportion to pressure; through a gap it goes with the root.",
            ),
            Slip(leak, "That is the leak at the pressure of its rating."),
        ),
        example="30 cfm" if system == "US" else "0.014 m**3/s",
    )


def _what_a_sample_finds() -> Exercise:
    possible, bad, sampled = 1_000_000, 50, 40_000
    expected = 1.0 - (1.0 - bad / possible) ** sampled
    return Exercise(
        question=(
            f"A plant has {possible:,} states, of which {bad} are bad. {sampled:,} are drawn at random. How likely "
            "is it that "
            "at least one bad state is among them, in percent?"
        ),
        expected=Q_(expected, "").to("percent"),
        tolerance=Q_(1.0, "percent"),
        hints=(
            "Ask first how likely it is that none is found.",
            f"One draw misses with 1 - {bad}/{possible:,}; {sampled:,} draws miss with that to the power {sampled:,}.",
        ),
        solution=(
            f"1 - (1 - {bad}/{possible:,})^{sampled:,} = {100 * expected:.1f} %. One job in seven would be missed: "
            "hence the directed search after the sample."
        ),
        slips=(
            Slip(Q_(sampled / possible, ""), "That is the chance of one single state; any of the bad ones will do."),
            Slip(Q_(1.0 - expected, ""), "That is the chance to miss them all."),
            Slip(Q_(sampled * bad / possible, ""), "That is how many are found in the mean; a chance ends at 100 %."),
            Slip(Q_(expected, "percent"), "The digits are right; write it with a percent sign, or as a ratio below 1."),
        ),
        example="50 %",
    )


def for_study(system: str = "US") -> tuple[Exercise, ...]:
    """Questions of the chapter on the study of a job, all on the swimming hall."""
    found = study(_swim_hall())
    return (_lacking(found, system), _alternate(found, system), _wider(found, system))


def _lacking(found: Study, system: str) -> Exercise:
    expected = Q_(found.lacking, "Pa")
    form, near = _draft_unit(system)
    set_point = show(found.job.set_point, system)
    return Exercise(
        question=(
            f"The swimming hall's set point at the header's far end is {set_point}. How much draft is lacking there in "
            "the worst state? Read it from the findings."
        ),
        expected=expected,
        tolerance=near,
        hints=(
            "Look for the finding on the header's far end.",
            "Lacking is the highest pressure there less the set point, which is negative.",
        ),
        solution=(
            f"Highest {show(Q_(found.header[1], 'Pa'), system)} less set point {set_point} is "
            f"{show(expected, system)}, with "
            f"{found.scan.describe(found.header_states[1], system)}. A fan must make up at least that."
        ),
        slips=(
            Slip(
                Q_(found.header[1], "Pa"),
                "That is the highest pressure itself, or the draft that is too much; lacking is the way from the "
                "highest "
                "pressure down to the set point.",
            ),
        ),
        example=form,
    )


def _alternate(found: Study, system: str) -> Exercise:
    alternate = next(a for a in found.job.alternates if a.window[1].m_as("inH2O") < 0.1)
    own, other = found.envelopes[0], float(alternate.window[1].m_as("Pa"))
    expected = Q_(own.high - other, "Pa")
    form, near = _draft_unit(system)
    return Exercise(
        question=(
            f"A bidder offers {alternate.name!r} in place of Boiler 1; its window is "
            f"{show(alternate.window[0], system)} to "
            f"{show(alternate.window[1], system)}. With the same flue gas, how far above that window does its outlet "
            "rise at worst?"
        ),
        expected=expected,
        tolerance=near,
        hints=(
            "The pressure is the vent's doing and stays; only the window changes.",
            "study.alternate_envelopes gives it, as `above`.",
        ),
        solution=(
            f"{show(Q_(own.high, 'Pa'), system)} less {show(alternate.window[1], system)} is {show(expected, system)}."
        ),
        slips=(
            Slip(Q_(own.above, "Pa"), "That is against the window of the boiler specified."),
            Slip(Q_(own.high, "Pa"), "That is the pressure itself; its distance to the window is asked."),
            Slip(Q_(own.swing, "Pa"), "That is the swing."),
        ),
        example=form,
    )


def _wider(found: Study, system: str) -> Exercise:
    plant, seasons = found.job.plant, found.job.seasons
    wide = Q_(20.0, "inch")
    sections = tuple(s if s.name in plant.feeds else replace(s, diameter=wide) for s in plant.sections)
    wider = replace(plant, sections=sections)
    scan = firing_states.scan(wider, seasons)
    envelope, all_high = firing_states.envelopes(scan)[0], _all_high_in_summer(wider, seasons)
    expected, as_drawn = Q_(envelope.high, "Pa"), found.envelopes[0]
    form, near = _draft_unit(system)
    return Exercise(
        question=(
            f"Make the swimming hall's whole header and stack {show(wide, system, 'diameter')} wide instead of "
            f"{show(plant.section('stack').diameter, system, 'diameter')}, the connectors as they are. To what "
            "pressure "
            "does Boiler 1's outlet rise in the worst of all states now? (A challenge: use the controls, or the "
            "library.)"
        ),
        expected=expected,
        tolerance=2 * near,
        hints=(
            "The worst state need not be the one that it was. In the wide stack loss counts for less: who blows "
            "without heating?",
            f"As drawn it is {show(Q_(as_drawn.high, 'Pa'), system)}. Most of what is left is lost in the boiler's "
            "own connector.",
        ),
        solution=(
            f"{show(expected, system)} instead of {show(Q_(as_drawn.high, 'Pa'), system)}, now with "
            f"{scan.describe(envelope.high_state, system)}: purge air fills the stack and makes no draft. The window "
            "ends at "
            f"{show(Q_(as_drawn.window[1], 'Pa'), system)}; in winter the outlet falls to "
            f"{show(Q_(envelope.low, 'Pa'), system)}: width takes away loss, not draft."
        ),
        slips=(
            Slip(all_high, "That is with all at high. It was the worst state as drawn; in the wide stack another is."),
            Slip(Q_(as_drawn.high, "Pa"), "That is the vent as drawn."),
            Slip(Q_(envelope.low, "Pa"), "That is the lowest pressure; asked is the highest."),
        ),
        example=form,
    )
