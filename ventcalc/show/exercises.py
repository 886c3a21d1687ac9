"""Exercises: questions that mark themselves.

An exercise knows its answer, how near is near enough, and the slips that people make. `Exercise.check`
takes a quantity, or text such as "0.05 inH2O", in any fitting unit, and tells an answer that was not
attempted from one that cannot be read, one that is wrong (and, where it knows the slip, why) and one that is
right. Wrong answers bring out one hint after another, and then the worked answer; so do `Exercise.hint` and
`Exercise.tell`, for those who ask. The same wrong answer given again is noticed and does not count.

The questions of a chapter are made in its own module of `handbook`, in the unit system of the chapter; their
answers are worked by the library. The tests of that module work them again by other means.
"""

from dataclasses import dataclass, field, replace
from html import escape
from typing import Any

import numpy as np

from ventcalc.show import typed_answer
from ventcalc.units import Q_, Quantity, UnitsError, magnitude, ureg
from ventcalc.words import one_stop

# A gauge pressure in a vent stays far below this; a barometric one is far above it.
_ABSOLUTE = Q_(20.0, "kPa")

# What answers are quantities of; all are SI base units or made of them.
_UNITS = [ureg.Unit(u) for u in ("Pa", "K", "m", "m**2", "kg/s", "m**3/s", "W", "m/s", "s", "1/s", "J", "kg/m**3", "")]

# Right and wrong are told apart by a sign and a word, not by a color.
_MARKS = {
    "not attempted": "✎ Your turn.",
    "refused": "✎ Not yet.",
    "repeated": "✘ No, as before.",
    "wrong": "✘ No.",
    "hint": "☞ Hint.",
    "told": "☞ Worked answer.",
    "right": "✔ Right.",
}
KINDS = tuple(_MARKS)


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
        texts = [f"<b>{_MARKS[self.kind]}</b> {escape(self.sentence)}", *([escape(self.more)] if self.more else [])]
        return "".join(f'<p style="line-height: 1.4; margin: 6px 0">{text}</p>' for text in texts)

    def _repr_html_(self) -> str:
        return self.html()

    def __str__(self) -> str:
        return " ".join(t for t in (self.sentence, self.more) if t)


@dataclass
class Exercise:
    """One question with its ``expected`` answer, right within ``tolerance`` (a quantity as well).

    ``hints`` come out one by one with each wrong answer, then ``solution``, the worked answer. ``example`` shows
    the form of an answer; ``unit`` is the one that the question names, so that a number may go without. ``tries``
    counts the wrong ones; what cannot be read does not count. ``hinted`` counts the hints that are out.
    """

    question: str
    expected: Quantity
    tolerance: Quantity
    hints: tuple[str, ...]
    solution: str
    slips: tuple[Slip, ...] = ()
    example: str = "0.05 inH2O"
    unit: str = ""
    tries: int = field(default=0, init=False)
    hinted: int = field(default=0, init=False)
    wrong: list[float] = field(default_factory=list, init=False, repr=False)

    def __post_init__(self):
        self.question, self.solution = one_stop(self.question), one_stop(self.solution)
        self.hints = tuple(one_stop(h) for h in self.hints)

    def check(self, answer: Any = None) -> Verdict:
        """Mark an answer: a quantity, text with its unit, or None where it was not attempted."""
        verdict = mark(self, answer)
        if verdict.kind != "wrong":
            return verdict
        given, _, near = _plain(self, answer)
        if any(abs(given - before) <= 0.01 * near for before in self.wrong):
            return replace(verdict, kind="repeated", more="You gave this answer before; it does not count again.")
        self.wrong.append(given)
        self.tries += 1
        hint = self._next_hint()
        return replace(verdict, more=f"Hint: {hint}" if hint else f"Worked answer: {self.solution}")

    def hint(self) -> Verdict:
        """The next hint, for whoever asks before trying."""
        hint = self._next_hint()
        return Verdict("hint", hint or "There are no more hints; you may ask for the worked answer.")

    def tell(self) -> Verdict:
        """The worked answer, for whoever asks."""
        return Verdict("told", self.solution)

    def _next_hint(self) -> str:
        self.hinted += 1
        return self.hints[self.hinted - 1] if self.hinted <= len(self.hints) else ""


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
    slips = sorted(exercise.slips, key=lambda slip: abs(given - _base(slip.answer)))
    if slips and abs(given - _base(slips[0].answer)) <= near:  # the nearest, where two lie close together
        return Verdict("wrong", slips[0].reason)
    return Verdict("wrong", _reason(exercise, given, expected, near))


def _plain(exercise: Exercise, answer: Any) -> tuple[float, float, float]:
    """Answer, expected and tolerance as plain numbers in SI base units."""
    unit = next(u for u in _UNITS if exercise.expected.is_compatible_with(u))
    if isinstance(answer, str):
        answer = typed_answer.quantity(answer, exercise.expected, exercise.unit)
    elif exercise.unit and isinstance(answer, int | float) and not isinstance(answer, bool):
        answer = Q_(answer, exercise.unit)
    if not unit.dimensionless and not isinstance(answer, Quantity):
        raise UnitsError(f"{answer!r} is a bare number; say in which unit, such as {exercise.example}")
    given = float(magnitude(answer, unit, "the answer"))
    if not np.isfinite(given):
        raise ValueError("the answer must be a finite number")
    return given, _base(exercise.expected), _base(exercise.tolerance)


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
