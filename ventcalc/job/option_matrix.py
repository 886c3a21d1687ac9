"""Option matrix: every remedy against every make accepted, one verdict a cell.

A remedy keeps its pipes, its devices and its set points; only the appliances change. A make that differs in its window
alone meets the pressures that were solved; one with flue gas of its own is solved again, for what cures as specified.
Where appliances are taken away the vent that remains is another one: as drawn it is a study of its own
(`study.Study.exchanged`), and no remedy was sized for it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from ventcalc.draft import outlet_control
from ventcalc.job import remedy_outcome, remedy_reasons
from ventcalc.job.job_file import Alternate, Job
from ventcalc.job.remedy import AS_DRAWN, Remedy
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.vent import firing_states
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant

SPECIFIED = "as specified"

Judged = Callable[[Job, Outcome], Outcome]  # with the one judgement of all designs


@dataclass(frozen=True)
class Cell:
    """A remedy with one ``make``: whether it is ``cured``, the least ``margin`` [Pa] of its outlets.

    ``everywhere``: in every condition, not in those alone that govern or in a sample, where no cure is found.
    ``against``: titles of what speaks against it (`remedy_reasons.against`).
    """

    make: str
    cured: bool
    margin: float
    everywhere: bool = True
    against: tuple[str, ...] = ()


def cell(make: str, o: Outcome) -> Cell:
    """What an outcome comes to with a make."""
    return Cell(make, o.cured and o.proved, o.margin, o.proved, remedy_reasons.against(o))


@dataclass(frozen=True)
class Option:
    """A ``remedy`` by its name, ``offered`` in the job's file or not, with every make; None where it was not judged."""

    remedy: str
    offered: bool
    cells: tuple[Cell | None, ...]

    @property
    def serves_all(self) -> bool:
        """Whether it cures with every make."""
        return all(cell is not None and cell.cured for cell in self.cells)


def matrix(
    job: Job,
    outcomes: Sequence[Outcome],
    offered: Outcome | None,
    exchanged: Sequence[Cell],
    judged: Judged,
) -> tuple[Option, ...]:
    """Every remedy with every make; none where the job accepts one make alone.

    ``offered`` is the outcome of the remedy that the job names; ``exchanged`` are the cells of the vent as drawn with
    what differs in more than its window.
    """
    if not job.alternates:
        return ()
    drawn = {cell.make: cell for cell in exchanged}
    scans: dict[str, Scan] = {}

    def served(o: Outcome, a: Alternate) -> Cell | None:
        if a.name not in drawn:
            return _with_window(o, a, judged)
        if o.remedy.kind == AS_DRAWN:
            return drawn[a.name]
        if a.window is None or not o.cured:
            return None
        if a.name not in scans:
            scans[a.name] = firing_states.scan(a.job.plant, a.job.seasons)
        return _cell(a, remedy_outcome.outcome(a.job, with_make(o.remedy, a), scans[a.name]), judged)

    def option(o: Outcome, named: bool) -> Option:
        return Option(o.remedy.name, named, (cell(SPECIFIED, o), *(served(o, a) for a in job.alternates)))

    rows = [option(o, o is offered) for o in outcomes]
    if offered is not None and not any(row.offered for row in rows):
        rows.insert(0, option(offered, True))
    return tuple(rows)


def with_make(remedy: Remedy, a: Alternate) -> Remedy:
    """A remedy on a vent that serves the make of an alternate."""
    return replace(remedy, plant=_served(remedy, a), start=None)


def _served(remedy: Remedy, a: Alternate) -> Plant:
    """The remedy's vent with the appliances of an alternate, which leak through its outlet dampers as those did."""
    made = {x.name: x for x in a.job.plant.appliances}
    dampers = {c.sensor: c.device for c in remedy.controls if c.sensor in remedy.outlets}
    plant = replace(remedy.plant, appliances=tuple(made[x.name] for x in remedy.plant.appliances))
    return outlet_control.with_shut_dampers(plant, dampers)


def _with_window(o: Outcome, a: Alternate, judged: Judged) -> Cell:
    """The pressures of an outcome against the windows of an alternate.

    What was solved in few conditions, and leaves no fault there with this make, is solved in all.
    """
    remedy = replace(o.remedy, plant=_served(o.remedy, a))
    scan = replace(o.scan, plant=remedy.plant)
    found = remedy_outcome.gathered(a.job, remedy, scan, o.held)
    found = replace(found, everywhere=o.everywhere, sampled=o.sampled)
    if not found.proved and remedy_outcome.serves(found):
        scan = firing_states.scan(a.job.plant, a.job.seasons)
        found = remedy_outcome.outcome(a.job, replace(remedy, start=None), scan)
    return _cell(a, found, judged)


def _cell(a: Alternate, found: Outcome, judged: Judged) -> Cell:
    return cell(a.name, judged(a.job, found) if found.proved and found.holds else found)
