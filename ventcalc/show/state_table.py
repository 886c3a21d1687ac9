"""State table: every operating condition that was solved as a row, for people who go on with the figures.

Who does what, season, stack and wind; the pressure at every outlet and at the end of the header; gas that enters the
room; flow and temperature where the vent ends. A condition in which the past decides has a row for each past, named
there: to count conditions, count their numbers and not the rows.
"""

import numpy as np

from ventcalc.show.spreadsheet import Table, heading
from ventcalc.units import Q_, shown_unit
from ventcalc.vent import end_of_header, outlet_envelope, reversal, roots
from ventcalc.vent.firing_states import Scan
from ventcalc.words import say


def states(scan: Scan, system: str, name: str = "states", settled: np.ndarray | None = None) -> Table:
    """The table of a scan; pressures of an appliance that is off stand there as well.

    ``settled``: where the controls came to rest, too, per column.
    """
    plant, solution, which = scan.plant, scan.solution, scan.states
    names = [a.name for a in plant.appliances]
    last = [plant.upstream(end.name)[0].name for end in plant.terminations]
    common = len(names) > 1
    header = end_of_header.header_pressure(scan) if common else None
    entering = reversal.flue_gas_in_room(scan)[0].sum(axis=0)
    outside = outlet_envelope.outside_window(scan).any(axis=0)
    columns: list[tuple[str, list]] = [
        (_head("condition"), [int(k) + 1 for k in scan.condition]),
        (_head("past"), _pasts(scan)),
        *((a.name, [a.states[int(c)] for c in codes]) for a, codes in zip(plant.appliances, which.codes, strict=True)),
        (_head("season"), [scan.seasons[int(k)].name for k in which.season]),
        (_head("stack"), [say("show", "states", "cold" if c else "hot") for c in which.cold]),
        (_head("wind"), [bool(w) for w in which.windy]),
    ]
    for i, appliance in enumerate(names):
        columns.append(_column(f"outlet of {appliance}", solution.outlet_pressure[i], "draft", "Pa", system))
    if common:
        columns.append(_column(_head("header"), header, "draft", "Pa", system))
    for end, section in zip(plant.terminations, last, strict=True):
        row = solution.row(section)
        columns.append(_column(f"{_head('flow')} {end.name}", solution.flow[row], "mass flow", "kg/s", system))
        columns.append(_column(f"{_head('gas')} {end.name}", solution.downstream[row], "temperature", "K", system))
    columns += [
        _column(_head("entering"), entering, "mass flow", "kg/s", system),
        (_head("outside"), [bool(o) for o in outside]),
        (_head("converged"), [bool(c) for c in solution.converged & (True if settled is None else settled)]),
    ]
    rows = zip(*(values for _, values in columns), strict=True)
    return Table(name, tuple(head for head, _ in columns), tuple(rows))


def _pasts(scan: Scan) -> list[str]:
    """What was before, where a condition is told more than once."""
    several = np.bincount(scan.condition)[scan.condition] > 1
    words = [say("vent", "histories", roots.HISTORIES[h]) for h in scan.history]
    return [told if more else "" for told, more in zip(words, several, strict=True)]


def _head(name: str) -> str:
    return say("show", "states", name)


def _column(words: str, values: np.ndarray, kind: str, unit: str, system: str) -> tuple[str, list]:
    """A column with its unit; seven digits say all that a spreadsheet can use, and what is not finite is empty."""
    shown = Q_(np.asarray(values, float), unit).m_as(shown_unit(kind, system))
    return heading(words, kind, system), [float(f"{v:.7g}") if np.isfinite(v) else None for v in shown.tolist()]
