"""Writing a job: the chapter's file, slips that no reader of a file can see, and its questions, all on the laundry."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, partial
from typing import Any

from tomlkit import TOMLDocument

from ventcalc import tables
from ventcalc.gas.fuels import fuel as gas
from ventcalc.job import edited_job, job_file, job_keys, job_schema, starting_file
from ventcalc.job.edited_job import Path
from ventcalc.job.job_file import Job
from ventcalc.show import section_drawing
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, no_picture, table
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.svg import Drawing
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import firing_states, outlet_envelope

# --- The file ---------------------------------------------------------------------------------------------------

RISE, RISER_LENGTH = ("section", 0, "rise"), ("section", 0, "length")
UPPER_EDGE = ("appliance", 0, "window", 1)
INPUT = ("appliance", 0, "level", 1, "input")
RUN_LENGTH = ("section", 1, "length")


@cache
def _text() -> str:
    return (tables.DATA / "jobs" / "laundry.toml").read_text(encoding="utf-8")


def laundry() -> TOMLDocument:
    """The demo job of the laundry as a document that can be changed."""
    return edited_job.opened(_text())


def read(document: TOMLDocument) -> Job:
    """The job that a document tells. Raises `JobError` with all that is wrong."""
    return job_file.read(edited_job.text(document).encode())


def changed_lines(before: TOMLDocument, after: TOMLDocument) -> list[str]:
    """The lines of a file that changed: "-" as they were, "+" as they are."""
    texts = [edited_job.text(document).splitlines() for document in (before, after)]
    return [line for line in difflib.ndiff(*texts) if line[0] in "-+"]


def end_above_floor(job: Job) -> Quantity:
    """Height at which the vent of the first appliance ends, above the boiler-room floor."""
    last = job.plant.path(job.plant.appliances[0].name)[-1]
    return Q_(job.plant.heights[last.name][1], "m")


# --- Slips that read well ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Unseen:
    """A slip in one field: what was ``typed`` for what it ``was``, and what the vent is then taken for."""

    path: Path
    was: str
    typed: str
    then: str


_SLIPS = (
    (INPUT, "117 MBH", "less than a third of the flue gas: the plate tells 117 kW"),
    (UPPER_EDGE, "0.40 kPa", "four times the pressure that its outlet is allowed"),
    (RUN_LENGTH, "9.2 ft", "a tenth of the run that was to be judged"),
)


def unseen() -> tuple[Unseen, ...]:
    """Slips of a decimal point and of a unit in the laundry's file."""
    document = laundry()
    there = {field.path: field.text for field in edited_job.fields(document)}
    return tuple(Unseen(path, there[path], typed, then) for path, typed, then in _SLIPS)


def what_if(paths: Sequence[tuple[Path, str]]) -> str:
    """What is said where each of these fields of the laundry's file is typed otherwise, in a table."""
    rows = []
    for path, typed in paths:
        told = edited_job.problems(edited_job.with_field(laundry(), path, typed))
        rows += [(".".join(map(str, path)), typed, problem.sentence) for problem in told]
    return table(("path", "typed", "what is said"), rows)


def unseen_table() -> str:
    """The slips that read well, and that nothing is said of them."""
    rows = []
    for slip in unseen():
        said = edited_job.problems(edited_job.with_field(laundry(), slip.path, slip.typed))
        field = next(key for key in reversed(slip.path) if isinstance(key, str))
        rows.append((field, slip.was, slip.typed, slip.then, "; ".join(p.sentence for p in said) or "nothing"))
    return table(("field", "is", "typed", "the vent is then taken for one with", "what is said"), rows)


# --- What the page shows of the file ----------------------------------------------------------------------------


def beginning() -> str:
    """How the laundry's file begins, and its boiler."""
    lines = _text().splitlines()
    boiler = lines.index("[[appliance]]")
    return "\n".join([*lines[:8], "...", "", *lines[boiler : lines.index("[[section]]")]])


def tables_table() -> str:
    """The tables of a job file, and whether they must be there."""
    rows = [(key.name, key.usual, key.meaning) for key in job_keys.all_keys() if not key.table]
    return table(("table", "", "what it holds"), rows)


def schema_words(names: Sequence[str]) -> str:
    """The first line of a new file, and what its schema says of some fields of an appliance."""
    shape = job_schema.schema()["$defs"]["Appliance"]["properties"]
    told = [f"{name}: {shape[name]['description']}" for name in names]
    return "\n".join([starting_file.text().splitlines()[0], *told])


def change_words(before: TOMLDocument, after: TOMLDocument) -> str:
    """The lines that a change made otherwise, and what is said of the file then."""
    said = [f"at {problem.path}: {problem.sentence}" for problem in edited_job.problems(after)]
    return "\n".join([*changed_lines(before, after), *(said or ["It reads well."])])


# --- What the study is told -------------------------------------------------------------------------------------

AS_IT_IS = "as the plate and the survey say"


def typed_explorer(system: str = "US") -> Panel:
    """The laundry's vent, and what its outlet comes to where one field of its file is typed otherwise."""
    offered = [AS_IT_IS, *(slip.typed for slip in unseen())]
    return Panel(partial(typed_answer, system), {"typed": choice("Typed", offered, AS_IT_IS)})


def typed_answer(system: str, *, typed: str) -> tuple[str, bytes, Drawing]:
    """Highest pressure at the laundry's outlet in all its states, with a slip in one field or none, and that state."""
    slip = next((s for s in unseen() if s.typed == typed), None)
    job = read(edited_job.with_field(laundry(), slip.path, slip.typed) if slip else laundry())
    scan = firing_states.scan(job.plant, job.seasons)
    found = outlet_envelope.envelopes(scan)[0]
    rows = [(typed, show(Q_(found.high, "Pa"), system), show(Q_(found.window[1], "Pa"), system))]
    numbers = table(("typed", "highest at the outlet", "it may have"), rows)
    return numbers, no_picture(), section_drawing.section_drawing(scan, found.high_state, system)


# --- Prediction, and what is to be written ----------------------------------------------------------------------

PLATE = "117 MBH"  # typed for the 117 kW of the plate


def prediction(system: str = "US") -> Prediction:
    """What the reader expects to be said of a unit that was mistaken."""
    return predict("writing_a_job", mistaken_unit, system)


def mistaken_unit() -> dict[str, Any]:
    """What the reader of the file says where the plate's kilowatts are typed as MBH, and what is left of the input.

    Right is "refused", "noted" (something new is told as taken), or "nothing".
    """
    before = laundry()
    after = edited_job.with_field(before, INPUT, PLATE)
    problems = edited_job.problems(after)
    noted = not problems and read(after).defaults != read(before).defaults
    typed, meant = (read(document).plant.appliances[0].levels[-1].heat_input for document in (after, before))
    return {
        "right": 0 if problems else 1 if noted else 2,
        "figure": Q_(float((typed / meant).m_as("")), ""),
        "typed": typed,
        "meant": meant,
    }


def writing(system: str = "US") -> Writing:
    """The input that the field asks for, to be written by the reader."""
    return load_writing("writing_a_job", gross_input, system)


def gross_input(net: Quantity, higher: Quantity, lower: Quantity) -> dict[str, Quantity]:
    """The heat input on the higher heating value, and what it becomes by the slips that are made with it."""
    ratio = float((higher / lower).m_as(""))
    return {"answer": net * ratio, "net": net, "less": net / ratio, "percent_off": net * (2.0 - 1.0 / ratio)}


# --- Questions --------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("writing_a_job", (end_height, other_unit, gross), system, seed)


def end_height(riser: Quantity) -> dict[str, Any]:
    """How high the vent ends where the riser is made longer."""
    document = laundry()
    for path in (RISER_LENGTH, RISE):  # the length first: no section rises more than it is long
        document = edited_job.with_field(document, path, f"{riser.m_as('ft'):g} ft")
    job = read(document)
    outlet = job.plant.appliances[0].outlet_height
    answer = end_above_floor(job)
    return {
        "answer": answer,
        "outlet": outlet,
        "run": job.plant.section("run").rise,
        "from_outlet": answer - outlet,
        "without_run": answer - job.plant.section("run").rise,
        "along": outlet + sum((s.length for s in job.plant.sections), Q_(0.0, "m")),
    }


def other_unit(number: float) -> dict[str, Any]:
    """How far the upper edge of the window stands too high where kPa was typed for inches of water."""
    meant, typed = (
        read(edited_job.with_field(laundry(), UPPER_EDGE, f"{number:g} {unit}")).plant.appliances[0].window[1]
        for unit in ("inH2O", "kPa")
    )
    return {"answer": (typed - meant).to("Pa"), "meant": meant, "typed": typed}


def gross(fuel: str, net: Quantity) -> dict[str, Any]:
    """The heat input on the higher heating value, of one that is told on the lower."""
    ratio = gas(fuel).hhv / gas(fuel).lhv
    return {"answer": net * ratio, "ratio": ratio, "less": net / ratio}
