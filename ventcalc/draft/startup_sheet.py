"""Start-up sheet: what a commissioning technician sets, measures, verifies and tries on a vent's sequencer."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import fields
from html import escape
from typing import NamedTuple

import numpy as np

from ventcalc.draft.start_sequence import DARK_STATES, FAULTS, LOCKED_STATES, Event, State, step
from ventcalc.draft.start_settings import ROWS, Burner, Settings, usual_setting
from ventcalc.units import Quantity, show
from ventcalc.words import say


class SheetRow(NamedTuple):
    """One line of the start-up sheet; ``kind`` "set" (to be dialled in), "measure" (to be found with a watch) or
    "verify" (part of the listed burner, not to be adjusted)."""

    name: str
    value: Quantity
    kind: str
    why: str
    source: str
    status: str


# Settings of a device, and the fault of it, by the device; a vent may lack one.
_OF_DEVICE = {"fan": ("fan_delay", "start_limit", "fan_start"), "damper": ("damper_delay", "damper_travel")}
_OF_BURNERS = {"blower": ("blower",), "low fire": ("low_fire", "modulation")}
_FAULT_OF = {"fan": Event.FAN_FAILED, "damper": Event.DAMPER_FAULT}


def startup_sheet(
    settings: Settings, system: str = "US", derived: Mapping[str, str] | None = None, lacking: Collection[str] = ()
) -> tuple[SheetRow, ...]:
    """What a commissioning technician sets and measures, with the purge of every burner, one row each.

    A row that stands at its usual value keeps that value's source and status; one that was chosen says so. ``derived``
    says of settings by their names why they are so on this job (`derived_limits.reasons`, `found_gains`). ``lacking``:
    "fan" or "damper", which this vent does not have: their times only pace the program, and nothing is measured.
    ``system`` is for the numbers within the texts.
    """
    rows = [_sheet_row(f.name, getattr(settings, f.name), system) for f in fields(Settings) if f.name in ROWS]
    names = [f.name for f in fields(Settings) if f.name in ROWS]
    rows = [
        row._replace(why=derived[name], source=_word("of_this_job"), status="computed")
        if derived and name in derived
        else row
        for name, row in zip(names, rows, strict=True)
    ]
    idle = {name: _word("lacking", device=device) for device in lacking for name in _OF_DEVICE[device]}
    parts = _lacking_burners(settings)
    idle |= {name: _word("lacking_burner", part=part) for part in parts for name in _OF_BURNERS[part]}
    rows = [
        row._replace(kind="set", why=idle[name]) if name in idle else row for name, row in zip(names, rows, strict=True)
    ]
    after = [r.name for r in rows].index(ROWS["vent_volume"]["label"]) + 1
    return (*rows[:after], *(_purge_row(settings, b, system) for b in settings.burners), *rows[after:])


def _lacking_burners(settings: Settings) -> Iterator[str]:
    """What no burner on the vent has."""
    if not any(b.purges for b in settings.burners):
        yield "blower"
    if not any(b.turns_down for b in settings.burners):
        yield "low fire"


def found_gains() -> dict[str, str]:
    """Why gain and integral time are what they are where both were found on the vent (`loop_settings.tuned`)."""
    return {"gain": _word("gain_found"), "integral_time": _word("integral_found")}


def _sheet_row(name: str, value: Quantity, system: str) -> SheetRow:
    row = ROWS[name]
    if np.isclose(value.m_as(row["unit"]), float(row["value"]), rtol=1e-9):
        return SheetRow(row["label"], value, row["kind"], row["why"], row["source"], row["status"])
    chosen = _word("chosen", usual=shown(usual_setting(name), system), source=row["source"])
    return SheetRow(row["label"], value, row["kind"], row["why"], chosen, row["status"])


def _purge_row(settings: Settings, burner: Burner, system: str) -> SheetRow:
    time = settings.purge(burner)
    if not burner.purges:
        label, why, source = _word("wait", burner=burner.name), _word("no_blower"), _word("shortest_purge")
        return SheetRow(label, time, "set", why, source, "computed")
    figures = {"changes": settings.changes, "chamber": burner.chamber, "vent": settings.vent_volume}
    told = {name: shown(value, system) for name, value in {**figures, "flow": burner.purge_flow}.items()}
    label, why, source = _word("purge", burner=burner.name), _word("volume_changes", **told), _word("volume_over_flow")
    return SheetRow(label, time, "set", why, source, "computed")


def _word(name: str, **figures) -> str:
    return say("draft", "startup_sheet", name, **figures)


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


_KINDS = ("set", "measure", "verify")
_PEN = (None, None)  # cells that stay empty
_LINE = ' style="text-align: left; padding: 3px 10px 3px 4px; line-height: 1.3; border: 1px solid #888"'
_WIDE = ' style="min-width: 5.5em; border: 1px solid #888"'


def trials(lacking: Collection[str] = ()) -> tuple[tuple[str, str], ...]:
    """What is tried at commissioning, one by one with a burner running, and what it must lead to, by the machine.

    ``lacking``: "fan" or "damper", which this vent does not have; without a fan the damper is what keeps draft away.
    """
    cannot = {_FAULT_OF[device] for device in lacking}
    faults = ((fault.value, _leads_to(step(State.RUN, fault))) for fault in FAULTS if fault not in cannot)
    return ((_word("proof_shut" if "fan" in lacking else "proof_at_rest"), _word("not_proved")), *faults)


def _leads_to(state: State) -> str:
    """A state, and what leads out of it."""
    if state in LOCKED_STATES:
        return _word("stays_locked", state=state.value)
    return _word("starts_again", state=state.value) if state in DARK_STATES else state.value


def sheet_html(rows: Sequence[SheetRow], system: str = "US") -> str:
    """The sheet as HTML, to be printed, filled in and signed: what is set, what is measured, which faults are tried.

    The columns "as found" and "as left" stay empty for the pen. What each fault must lead to is found by running the
    machine into it.
    """
    pen, parts = (_word("found"), _word("left")), []
    for kind in _KINDS:
        lines = [
            (r.name, shown(r.value, system), *_PEN, r.why, f"{r.source}; {r.status}") for r in rows if r.kind == kind
        ]
        parts.append(_part(_word(kind), ("", _word("value"), *pen, _word("why"), _word("source")), lines))
    tried = [(*row, *_PEN) for row in trials()]
    parts.append(_part(_word("try"), (_word("what"), _word("leads_to"), *pen), tried))
    parts.append(_part("", (_word("date"), _word("name"), _word("signed")), [(None, None, None)]))
    return "".join(parts)


def _part(head: str, header: Sequence[str], lines: Iterable[Sequence[str | None]]) -> str:
    top = "".join(f"<th{_LINE}>{escape(h)}</th>" for h in header)
    body = "".join("<tr>" + "".join(_sheet_cell(c) for c in line) + "</tr>" for line in lines)
    return f"<p><b>{escape(head)}</b></p><table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def _sheet_cell(text: str | None) -> str:
    return f"<td{_WIDE}>&nbsp;</td>" if text is None else f"<td{_LINE}>{escape(text)}</td>"
