"""Writing: a reader writes one formula as a function, and it is tried beside the library.

``data/handbook/<chapter>.toml`` has a table ``[write]``:

- ``task``: what to write;
- ``arguments``: by name, in the order of the reader's function, the unit that each comes in, as a plain number;
- ``unit``: that of the answer;
- ``cases``: for each a list of quantities, one for each argument;
- ``share``: how near is near enough, of the library's answer;
- ``slips``: by the name of its figure, what to say to whoever makes it;
- ``broken``: the name of one of them, shown beside the reader's own as a version broken on purpose.

Any value may be told in two ways, ``{US = ..., SI = ...}``. A function of the chapter's module takes the quantities of
a case by name and returns the library's ``answer`` and the answers that the slips lead to.

Numbers go in and out plain: so a formula is written as on paper, and the slips of paper can be made.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from IPython.display import HTML

from ventcalc.show import chapter_texts
from ventcalc.show.chapter_texts import Work
from ventcalc.show.panels import paragraph, table
from ventcalc.show.unit_switch import UNITS, Units, in_units
from ventcalc.units import SYSTEMS, Quantity, UnitsError, magnitude, unit_text, ureg
from ventcalc.words import one_stop

REQUIRED = {"task", "arguments", "unit", "cases", "share", "slips", "broken"}

_SAME = 1e-3  # relative; answers that are all off by one factor, to what rounding of constants leaves


@dataclass(frozen=True)
class Case:
    """Plain numbers that go into the function, what should come out, and what each slip would bring out."""

    given: tuple[float, ...]
    expected: float
    slips: Mapping[str, float]


@dataclass(frozen=True)
class Writing:
    """What is to be written in one unit system: see the head of this module."""

    task: str
    arguments: Mapping[str, str]
    unit: str
    cases: tuple[Case, ...]
    share: float
    slips: Mapping[str, str]
    broken: str


@dataclass(frozen=True)
class Tried:
    """What a function gave for a case: ``kind`` is "not written", "failed", "wrong" or "right"; ``words`` say why."""

    kind: str
    value: float | None = None
    words: str = ""


def load(chapter: str, work: Work, system: str = "US") -> Writing:
    """What is to be written in a chapter, its cases worked by ``work``.

    Raises ValueError, naming the file, where a key is unknown or lacking, a case has too few or too many quantities, or
    a slip has no figure.
    """
    where, row = f"{chapter}.toml, write", chapter_texts.read(chapter).get("write", {})
    chapter_texts.refuse_keys(where, row, REQUIRED, set())
    row = {name: chapter_texts.told(value, system) for name, value in row.items()}
    arguments = {name: chapter_texts.told(unit, system) for name, unit in row["arguments"].items()}
    if row["broken"] not in row["slips"]:
        raise ValueError(f"{where}: broken is {row['broken']!r}; it must be one of the slips {', '.join(row['slips'])}")
    return Writing(
        task=" ".join(row["task"].split()),
        arguments=arguments,
        unit=row["unit"],
        cases=tuple(_case(where, case, arguments, row, work, system) for case in row["cases"]),
        share=float(row["share"]),
        slips={name: " ".join(chapter_texts.told(reason, system).split()) for name, reason in row["slips"].items()},
        broken=row["broken"],
    )


def _case(where: str, told: list, arguments: Mapping[str, str], row: Mapping, work: Work, system: str) -> Case:
    if len(told) != len(arguments):
        raise ValueError(f"{where}: case {told} has {len(told)} quantities; it must have {len(arguments)}")
    given = dict(zip(arguments, map(chapter_texts.plain, told), strict=True))
    figures = chapter_texts.worked(work, given, system)
    try:
        expected, *slips = (_in(figures[name], row["unit"]) for name in ("answer", *row["slips"]))
    except KeyError as missing:
        raise ValueError(f"{where}: no figure of the name {missing}") from missing
    numbers = tuple(_in(given[name], unit) for name, unit in arguments.items())
    return Case(numbers, expected, dict(zip(row["slips"], slips, strict=True)))


def _in(value: Any, unit: str) -> float:
    return float(value.m_as(unit)) if isinstance(value, Quantity) else float(value)


def tried(writing: Writing, case: Case, function: Callable) -> Tried:
    """What a reader's function gives for a case; whatever goes wrong in it is said in words."""
    try:
        answer = function(*case.given)
    except Exception as error:  # the reader's code may raise anything
        return Tried("failed", words=f"It stopped: {type(error).__name__}: {error}.")
    if answer is ...:
        return Tried("not written", words="Put your formula in place of the three dots.")
    try:
        value = _number(answer, writing.unit)
    except (UnitsError, ValueError) as refused:
        return Tried("failed", words=one_stop(f"{refused}."))
    if abs(value - case.expected) <= writing.share * abs(case.expected):
        return Tried("right", value)
    return Tried("wrong", value, _slip(writing, case, value))


def _number(answer: Any, unit: str) -> float:
    """What a function returned, as a number in the unit asked for."""
    if answer is None:
        raise ValueError("It returns nothing: the last line must begin with return")
    if isinstance(answer, Quantity):
        return float(magnitude(answer, ureg.Unit(unit), "what it returns"))
    try:
        value = float(answer)
    except (TypeError, ValueError):
        raise ValueError(f"It returns {str(answer)[:40]!r}; it must return one number, in {unit_text(unit)}") from None
    if isinstance(answer, str | bool) or not isfinite(value):
        raise ValueError(f"It returns {str(answer)[:40]!r}; it must return a finite number, in {unit_text(unit)}")
    return value


def _slip(writing: Writing, case: Case, value: float) -> str:
    """The slip that a wrong answer comes from, or on which side it lies."""
    near = {name: abs(value - wrong) for name, wrong in case.slips.items() if wrong}
    made = min(near, key=near.get, default="")
    if made and near[made] <= writing.share * abs(case.slips[made]):
        return writing.slips[made]
    return f"Too {'high' if value > case.expected else 'low'}."


def verdict(writing: Writing, found: list[Tried]) -> str:
    """One sentence on all cases."""
    right = sum(one.kind == "right" for one in found)
    if right == len(found):
        return f"✔ Right in all {right} cases."
    if all(one.kind == "not written" for one in found):
        return "✎ Not yet written. Run the cell above again when it is, then this one."
    if any(one.kind in ("failed", "not written") for one in found):
        return f"✘ Not yet: it gives no number in {sum(one.value is None for one in found)} of {len(found)} cases."
    ratios = [one.value / case.expected for one, case in zip(found, writing.cases, strict=True)]
    if max(ratios) - min(ratios) <= _SAME * abs(ratios[0]):
        return f"✘ Wrong by one factor: always {ratios[0]:.4g} times the library's answer. Look at the constant."
    return f"✘ Right in {right} of {len(found)} cases."


def html(writing: Writing, function: Callable) -> str:
    """The task, every case with the reader's answer and the library's, and the version broken on purpose."""
    found = [tried(writing, case, function) for case in writing.cases]
    unit = unit_text(writing.unit)
    header = ("case", f"yours, {unit}", f"the library's, {unit}", "verdict", f"broken on purpose, {unit}")
    rows = [
        (_words(writing, case), _shown(one.value), _shown(case.expected), _verdict(one),
         f"✘ {_shown(case.slips[writing.broken])}")
        for case, one in zip(writing.cases, found, strict=True)
    ]  # fmt: skip
    told = [verdict(writing, found), f"Broken on purpose, last column: {writing.slips[writing.broken]}"]
    return table(header, rows) + "".join(map(paragraph, told))


def _words(writing: Writing, case: Case) -> str:
    told = zip(writing.arguments.items(), case.given, strict=True)
    return ", ".join(f"{name} {value:,.6g} {unit_text(unit)}".rstrip() for (name, unit), value in told)


def _shown(value: float | None) -> str:
    return "–" if value is None else f"{value:.4g}"


def _verdict(one: Tried) -> str:
    mark = {"right": "✔ right", "wrong": "✘ wrong", "failed": "✘ no number", "not written": "✎ not yet written"}
    return f"{mark[one.kind]}: {one.words}" if one.words and one.kind != "not written" else mark[one.kind]


def task(make: Callable[[str], Writing], units: Units = UNITS) -> None:
    """Show what is to be written, with the unit that each number comes in."""

    def words(system: str) -> str:
        writing = make(system)
        told = ", ".join(
            f"{name} in {unit_text(unit)}" if unit else f"{name} without a unit"
            for name, unit in writing.arguments.items()
        )
        return one_stop(f"{writing.task} Numbers come plain: {told}; return {unit_text(writing.unit)}.")

    in_units(words, units)


def check(make: Callable[[str], Writing], function: Callable, units: Units = UNITS) -> None:
    """Try a reader's function on the cases of ``make(system)`` and show what it gives beside the library."""

    def shown(system: str) -> HTML:
        told = html(make(system), function)
        other = next(s for s in SYSTEMS if s != system)
        if not _all_right(make(system), function) and _all_right(make(other), function):
            told += paragraph(f"It is right for {other} units: this page shows {system} units now.")
        return HTML(told)

    in_units(shown, units)


def _all_right(writing: Writing, function: Callable) -> bool:
    return all(tried(writing, case, function).kind == "right" for case in writing.cases)
