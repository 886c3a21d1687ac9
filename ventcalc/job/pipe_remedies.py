"""Pipe remedies: other sizes, laterals, a cap, a taller stack, a narrower flue or a liner, alone and together."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ventcalc.draft import common_window, held_pressure
from ventcalc.draft.dampers import Damper
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import job_building, vent_changes
from ventcalc.job.device_choice import LEAKAGE
from ventcalc.job.device_duty import if_held
from ventcalc.job.device_remedies import damper_in_stack, fans_on_liner, serving
from ventcalc.job.governing_scan import GoverningScan
from ventcalc.job.margins import LOSS_DOUBT, loss_between
from ventcalc.job.remedy import Remedy
from ventcalc.job.remedy_outcome import Outcome, serves
from ventcalc.job.vent_changes import STILL, tried
from ventcalc.units import Q_
from ventcalc.vent import end_of_header
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.layout import Plant

SIZES_TRIED = 4  # steps of the series above, or below, what is drawn
HEIGHTS_TRIED = (1.25, 1.5, 2.0)  # of the whole rise behind the header; the last section grows
MOST_CHANGES = 12  # steps from the vent as drawn to one with better pipe
FOLLOWED = 2  # changes that are solved at each of these steps, of those that promise most for their pipe
WORTH = 0.1  # of what the best change promises; what promises less is not looked at
HALF = 0.5  # of what the first of them promises for its pipe; what promises less is not solved


def of_pipe(few: GoverningScan) -> list[Outcome]:
    """Remedies of pipe: one change each, several together, and with one device: a fan too where a liner alone fails."""
    job, plant, drawn = few.job, few.job.plant, few.scan
    found = []
    for name, plants in _single_changes(plant):
        found += _best(few, name, plants, drawn)
    together = _opened(few, drawn)
    for k, (changed, scan) in enumerate(together):
        name = "pipe changes" if k == 0 else "pipe changes, more of them"
        found.append(few.outcome(Remedy(name, changed, plant), scan))
    for changed, scan in together[-1:]:
        floor = end_of_header.header_pressure(scan)
        serve = serving(common_window.common_window(scan), floor=np.where(np.isnan(floor), -np.inf, floor))
        if serve[0] <= serve[1]:
            for made in if_held(damper_in_stack, job, changed, Q_(sum(serve) / 2.0, "Pa"), scan.states):
                with_it = replace(made, kind="pipe changes and a damper", drawn=plant, serve=serve)
                found += if_held(few.outcome, with_it)
    for lined in [o.remedy.plant for o in found if o.remedy.name == "liner" and not serves(o)]:
        for several in if_held(fans_on_liner, few, lined):
            found += [o for made in several for o in if_held(few.outcome, made)]
    return found


def _single_changes(plant: Plant) -> list[tuple[str, list[Plant | None]]]:
    """Every kind of change by its name, with the vents to try; None where one cannot be built."""
    steps = range(1, SIZES_TRIED + 1)
    connectors = vent_changes.connectors(plant)
    lateral, capped = vent_changes.with_laterals(plant), vent_changes.with_cap(plant)
    found = [
        ("larger vent", [tried(vent_changes.wider, plant, k) for k in steps]),
        ("larger connectors", [tried(vent_changes.sized, plant, connectors, k) for k in (1, 2) if connectors]),
        ("laterals", [lateral if lateral != plant else None]),
        ("taller stack", [tried(vent_changes.with_top, plant, factor) for factor in _factors(plant)]),
        ("better cap", [capped if capped != plant else None]),
    ]
    if vent_changes.natural(plant):
        found.append(("narrower vent", [tried(vent_changes.wider, plant, -k) for k in steps]))
        liners = [Q_(float(inches), "inch") for inches in vent_changes.INCHES]
        found.append(("liner", [tried(vent_changes.lined, plant, each) for each in liners]))
    return found


def _factors(plant: Plant) -> list[float]:
    """Factors of the last section's rise that make the whole rise behind the header as in `HEIGHTS_TRIED`."""
    whole, own = vent_changes.rise_behind_header(plant)
    own = max(own, 1e-9)
    return [1.0 + (times - 1.0) * max(whole, own) / own for times in HEIGHTS_TRIED]


def _best(few: GoverningScan, name: str, plants: Sequence[Plant | None], near: Scan) -> list[Outcome]:
    """What the one of those tried leaves that leaves least; nothing where none could be built.

    All are tried: what a further step loses at one outlet the next may win at another. A flue that may be too large is
    looked at from idle and turned over too: that is where it fails.
    """
    built: list[Outcome] = []
    too_large = name in ("narrower vent", "liner")
    for changed in [each for each in plants if each is not None][:SIZES_TRIED]:
        plant = job_building.in_the_wind(few.job.roof, few.job.plant, changed)
        solved = few.from_every_past(plant) if too_large else few.natural(plant, near)
        built.append(few.outcome(Remedy(name, plant, few.job.plant), solved))
    if not built:
        return []
    least = _least(built)
    return [replace(least, remedy=replace(least.remedy, tried=len(built)))]


def _least(built: list[Outcome]) -> Outcome:
    """The one of some vents that leaves least; of those alike the one with gas in the room in fewer states."""
    return min(built, key=lambda o: (*o.failing, o.gas_in_room, *o.cost))


def _opened(few: GoverningScan, drawn: Scan) -> list[tuple[Plant, Scan]]:
    """Vents with better pipe, each with its states: the first in which no outlet stands too high, and the first that
    has to spare what a damper costs wide open and a quarter of the loss to the header; or the best there is.

    Step by step, from the outlet that stands highest in its worst state: of all changes of one size or one kind those
    that promise most for the pipe they take are solved, and the one that brings most for it is kept.
    """
    plant, scan, found = few.job.plant, drawn, []
    for _ in range(MOST_CHANGES):
        excess, spare, states = _excess(scan)
        if not found and excess.max() <= 0.0 and plant is not few.job.plant:
            found.append(plant)
        if (excess + spare).max() <= 0.0:
            if not few.add(few.everywhere(plant)):
                break
            scan = few.natural(plant)  # and on, where it fails in states that did not govern the vent as drawn
            continue
        worst = int((excess + spare).argmax())
        outlet = plant.appliances[worst % len(plant.appliances)].name
        losses = vent_changes.losses(scan.solution, outlet, int(states[worst]))
        better = []
        for changed in _promising(few.job.plant, plant, losses, float((excess + spare)[worst])):
            solved = few.natural(changed, scan)
            after, beside, _ = _excess(solved)
            gain = np.maximum(excess + spare, 0.0).sum() - np.maximum(after + beside, 0.0).sum()
            if gain > STILL:
                better.append((gain / _cost(few.job.plant, plant, changed), changed, solved))
        if not better:
            break
        _, plant, scan = max(better, key=lambda each: each[0])
    if plant is not few.job.plant and plant not in found:
        found.append(plant)
    return [(plant, few.natural(plant)) for plant in found]


def _cost(drawn: Plant, plant: Plant, changed: Plant) -> float:
    """New pipe [m2] that a further change takes."""
    return max(vent_changes.new_pipe(drawn, changed) - vent_changes.new_pipe(drawn, plant), 0.1)


def _promising(drawn: Plant, plant: Plant, losses: vent_changes.Losses, need: float) -> list[Plant]:
    """The changes of a vent that promise most for their pipe to the outlet with these losses; ``need`` [Pa] is what it
    lacks: a part is made two sizes larger at once where one promises less than half of that."""
    made = [vent_changes.with_laterals(plant), vent_changes.with_cap(plant)]
    for names in vent_changes.parts(plant).values():
        one, two = (tried(vent_changes.sized, plant, names, steps) for steps in (1, 2))
        small = two is not None and one is not None and vent_changes.relief(plant, one, losses) < 0.5 * need
        made.append(two if small else one)
    possible = [each for each in made if each is not None and each != plant]
    promised = [vent_changes.relief(plant, each, losses) for each in possible]
    most = max(promised, default=0.0)
    worth = sorted(
        (
            (promise / _cost(drawn, plant, each), k)
            for k, (promise, each) in enumerate(zip(promised, possible, strict=True))
            if promise >= WORTH * most and promise > 0.0
        ),
        reverse=True,
    )
    return [possible[k] for value, k in worth[:FOLLOWED] if value >= HALF * worth[0][0]]


def _excess(scan: Scan) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How far [Pa] every outlet rises above what it may at worst, a quarter of its loss to the header, and the state.

    Two rows an appliance: while it runs, above its window; while it is off and may leak, above the room.
    """
    edges = np.array([float(a.window[1].m_as("Pa")) for a in scan.plant.appliances])[:, None]
    leaks = np.array([a.idle == "leaking" for a in scan.plant.appliances])[:, None]
    runs, pressure = scan.states.codes > 0, scan.solution.outlet_pressure
    above = np.concatenate([
        np.where(runs, pressure - edges, -np.inf),
        np.where(leaks & ~runs & scan.any_firing, pressure, -np.inf),
    ])  # fmt: skip
    doubt = LOSS_DOUBT * np.array([loss_between(scan, a.name, HEADER) for a in scan.plant.appliances] * 2)
    base = scan.plant.section(held_pressure.stack_base(scan.plant))
    open_loss = float(Damper("butterfly", base.diameter, base.diameter, LEAKAGE).loss(1.0))
    spare = doubt + open_loss * scan.solution.head[scan.solution.row(base.name)]
    states = (above + spare).argmax(axis=1)
    return *(np.take_along_axis(v, states[:, None], axis=1)[:, 0] for v in (above, spare)), states
