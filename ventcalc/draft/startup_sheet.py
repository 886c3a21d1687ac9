"""Start-up sheet: what a commissioning technician sets, measures, verifies and tries on a vent's sequencer."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from html import escape
from typing import NamedTuple

import numpy as np

from ventcalc.draft.start_sequence import DARK_STATES, FAULTS, LOCKED_STATES, State, step
from ventcalc.draft.start_settings import ROWS, Burner, Settings, usual_setting
from ventcalc.units import Quantity, show


class SheetRow(NamedTuple):
    """One line of the start-up sheet; ``kind`` "set" (to be dialled in), "measure" (to be found with a watch) or
    "verify" (part of the listed burner, not to be adjusted)."""

    name: str
    value: Quantity
    kind: str
    why: str
    source: str
    status: str


def startup_sheet(
    settings: Settings, system: str = "US", derived: Mapping[str, str] | None = None
) -> tuple[SheetRow, ...]:
    """What a commissioning technician sets and measures, with the purge of every burner, one row each.

    A row that stands at its usual value keeps that value's source and status; one that was chosen says so. ``derived``
    says of settings by their names why they are so on this job (`failures.reasons`). ``system`` is for the numbers
    within the texts.
    """
    rows = [_sheet_row(f.name, getattr(settings, f.name), system) for f in fields(Settings) if f.name in ROWS]
    names = [f.name for f in fields(Settings) if f.name in ROWS]
    rows = [
        row._replace(why=derived[name], source="the states, starts and failures of this job", status="computed")
        if derived and name in derived
        else row
        for name, row in zip(names, rows, strict=True)
    ]
    after = [r.name for r in rows].index(ROWS["vent_volume"]["label"]) + 1
    return (*rows[:after], *(_purge_row(settings, b, system) for b in settings.burners), *rows[after:])


def _sheet_row(name: str, value: Quantity, system: str) -> SheetRow:
    row = ROWS[name]
    if np.isclose(value.m_as(row["unit"]), float(row["value"]), rtol=1e-9):
        return SheetRow(row["label"], value, row["kind"], row["why"], row["source"], row["status"])
    chosen = f"chosen for this job; usual: {shown(usual_setting(name), system)} ({row['source']})"
    return SheetRow(row["label"], value, row["kind"], row["why"], chosen, row["status"])


def _purge_row(settings: Settings, burner: Burner, system: str) -> SheetRow:
    if burner.purge_flow is None:
        why = "it has no blower: it waits so long with draft proved"
        return SheetRow(f"wait of {burner.name}", settings.purge(burner), "set", why, "the shortest purge", "computed")
    chamber, vent = shown(burner.chamber, system), shown(settings.vent_volume, system)
    changes, flow = shown(settings.changes, system), shown(burner.purge_flow, system)
    why = f"{changes} x ({chamber} + {vent}) / {flow}, not below the shortest purge"
    return SheetRow(f"purge of {burner.name}", settings.purge(burner), "set", why, "volume over flow", "computed")


def shown(value: Quantity, system: str = "US") -> str:
    """A value of the sheet as text in "US" or "SI" units."""
    us = system == "US"
    for unit, text in (
        ("percent/Pa", ("percent/inH2O", "% per in. w.c.") if us else ("percent/Pa", "% per Pa")),
        ("m**3", ("ft**3", "ft³") if us else ("m**3", "m³")),
        ("s", ("s", "s")),
    ):
        if value.is_compatible_with(unit):
            return f"{float(value.m_as(text[0])):.3g} {text[1]}"
    return f"{float(value.m):g}" if value.dimensionless else show(value, system)


_PEN = ("as found", "as left")  # columns that stay empty
_KINDS = {
    "set": "To be set",
    "measure": "To be measured",
    "verify": "To be verified, not adjusted: it belongs to the listed burner",
}
_LINE = ' style="text-align: left; padding: 3px 10px 3px 4px; line-height: 1.3; border: 1px solid #888"'
_WIDE = ' style="min-width: 5.5em; border: 1px solid #888"'


def trials() -> tuple[tuple[str, str], ...]:
    """What is tried at commissioning, one by one with a burner running, and what it must lead to, by the machine."""
    faults = ((fault.value, _leads_to(step(State.RUN, fault))) for fault in FAULTS)
    return (("proof, with the fan at rest", "not proved: the switch is open"), *faults)


def _leads_to(state: State) -> str:
    """A state, and what leads out of it."""
    if state in LOCKED_STATES:
        return f"{state.value}; a manual reset ends it, never the fault's own end"
    return f"{state.value}: every valve shut; a full start when it is back" if state in DARK_STATES else state.value


def sheet_html(rows: Sequence[SheetRow], system: str = "US") -> str:
    """The sheet as HTML, to be printed, filled in and signed: what is set, what is measured, which faults are tried.

    The columns "as found" and "as left" stay empty for the pen. What each fault must lead to is found by running the
    machine into it.
    """
    parts = []
    for kind, head in _KINDS.items():
        lines = [
            (r.name, shown(r.value, system), *_PEN, r.why, f"{r.source}; {r.status}") for r in rows if r.kind == kind
        ]
        parts.append(_part(head, ("", "value", *_PEN, "why", "source; status"), lines))
    tried = [(*row, *_PEN) for row in trials()]
    parts.append(_part("To be tried, one by one; faults with a burner running", ("what", "must lead to", *_PEN), tried))
    parts.append(_part("", ("date", "name", "signed"), [_PEN[:1] * 3]))
    return "".join(parts)


def _part(head: str, header: Sequence[str], lines: Iterable[Sequence[str]]) -> str:
    top = "".join(f"<th{_LINE}>{escape(h)}</th>" for h in header)
    body = "".join("<tr>" + "".join(_sheet_cell(c) for c in line) + "</tr>" for line in lines)
    return f"<p><b>{escape(head)}</b></p><table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def _sheet_cell(text: str) -> str:
    return f"<td{_WIDE}>&nbsp;</td>" if text in _PEN else f"<td{_LINE}>{escape(text)}</td>"
