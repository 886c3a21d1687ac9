"""Writing a job: the chapter's file, slips that no reader of a file can see, and its questions, all on the laundry."""

import difflib
from dataclasses import dataclass
from functools import cache
from typing import Any

from tomlkit import TOMLDocument

from ventcalc import tables
from ventcalc.gas.fuels import fuel as gas
from ventcalc.job import edited_job, job_file
from ventcalc.job.edited_job import Path
from ventcalc.job.job_file import Job
from ventcalc.show.exercises import Exercise
from ventcalc.show.questions import load
from ventcalc.units import Q_, Quantity

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
