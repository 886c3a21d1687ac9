"""Outlet records: what every outlet and the header see at rest and in time, of the appliances drawn and of others."""

from dataclasses import replace
from typing import Any

from ventcalc.draft.load_changes import Passage
from ventcalc.job import study as studies
from ventcalc.job.job_file import Alternate
from ventcalc.job.study import Study
from ventcalc.show import finding_records
from ventcalc.show.numbers import number, numbers, state
from ventcalc.units import Q_
from ventcalc.vent import end_of_header, outlet_envelope
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.outlet_envelope import Envelope
from ventcalc.words import listed, say


def outlets(study: Study, system: str) -> list[dict[str, Any]]:
    """Every outlet over all states, against its window."""
    return [_outlet(study, study.scan, e, system) for e in study.envelopes]


def _outlet(study: Study, scan: Scan, e: Envelope, system: str) -> dict[str, Any]:
    i = [a.name for a in scan.plant.appliances].index(e.appliance)
    inside, spills = not (e.below > 0.0 or e.above > 0.0), _spills(study, e.appliance)
    return {
        "appliance": e.appliance,
        "window": numbers(e.window, "draft", system),
        "low": number(e.low, "draft", system),
        "low_state": state(scan, e.low_state, system),
        "high": number(e.high, "draft", system),
        "high_state": state(scan, e.high_state, system),
        "swing": number(e.swing, "draft", system),
        "margin": number(e.margin, "draft", system),
        "below": number(e.below, "draft", system),
        "above": number(e.above, "draft", system),
        "running": scan.count(scan.running(i)),
        "outside": scan.count(outlet_envelope.outside_window(scan)[i]),
        "inside": inside,
        "spills": spills,
        "verdict": _outlet_verdict(e, spills, system),
    }


def _spills(study: Study, appliance: str) -> bool:
    """Whether flue gas comes into the room through an appliance, with exhaust fans or without."""
    return any(r.dangerous and r.appliance == appliance for r in (*study.reversals, *study.around.effects))


def _outlet_verdict(e: Envelope, spills: bool, system: str) -> str:
    low, high = e.below > 0.0, e.above > 0.0
    name = "both" if low and high else "below" if low else "above" if high else "inside"
    found = say("show", "outlet", name, system, below=Q_(e.below, "Pa"), above=Q_(e.above, "Pa"))
    return say("show", "outlet", "spills", pressure=found) if spills else found


def reversals(study: Study, system: str) -> list[dict[str, Any]]:
    """Gas that flows back into the room."""
    kinds = {a.name: a.kind for a in study.job.plant.appliances}
    return [
        {
            "appliance": r.appliance,
            "kind": r.kind,
            "how": say("show", "gas_back", r.kind if r.kind == "idle" else kinds[r.appliance]),
            "flow": number(r.flow, "mass flow", system),
            "flue_gas": number(r.flue_gas, "mass flow", system),
            "state": state(study.scan, r.state, system),
            "states": r.states if r.dangerous else r.most_states,
            "air": "" if r.dangerous else listed(tuple(say("vent", "air_back", air.source) for air in r.airs)),
        }
        for r in study.reversals
    ]


def load_changes(study: Study, system: str) -> list[dict[str, Any]]:
    """What every outlet meets in starts, turn-downs and stops, in time."""
    return [_passage(study, p, e, system) for p, e in zip(study.passages, study.envelopes, strict=False)]


def _passage(study: Study, p: Passage, e: Envelope, system: str) -> dict[str, Any]:
    change = study.changes.describe
    return {
        "appliance": p.appliance,
        "low": number(p.low, "draft", system),
        "low_at": number(p.low_at, "time", system),
        "low_change": change(p.low_change),
        "high": number(p.high, "draft", system),
        "high_at": number(p.high_at, "time", system),
        "high_change": change(p.high_change),
        "low_at_rest": number(e.low, "draft", system),
        "high_at_rest": number(e.high, "draft", system),
        "below_for": number(p.below, "time", system),
        "above_for": number(p.above, "time", system),
        "spilled": number(p.spilled, "mass", system),
        "spilling_for": number(p.spilling, "time", system),
        "still_spilling": p.still > 0.0,
        "spill_change": change(p.spill_change),
    }


def header(study: Study, system: str) -> dict[str, Any]:
    """What the vent gives where the appliances have joined, or where the run of the only one begins."""
    common = len(study.job.plant.appliances) > 1
    moved_by = "fan" if study.outcome.remedy.fan and not study.outcome.remedy.controlled else "alone"
    found = {
        "moved_by": say("show", "moved_by", moved_by),
        "place": say("show", "far_end", "common" if common else "single"),
        "section": end_of_header.far_end(study.job.plant),
        "common": common,
        "low": number(study.header[0], "draft", system),
        "low_state": state(study.scan, study.header_states[0], system),
        "high": number(study.header[1], "draft", system),
        "high_state": state(study.scan, study.header_states[1], system),
    }
    if common:  # a set point belongs to a header that is held at a pressure
        found |= {
            "set_point": number(study.job.set_point, "draft", system),
            "lacking": number(study.lacking, "draft", system),
            "excess": number(study.excess, "draft", system),
        }
    return found


# --- Other appliances on the same vent ---------------------------------------------------------------------


def alternates(study: Study, system: str) -> list[dict[str, Any]]:
    """The same pressures against the windows of the makes that are accepted as well."""
    return [
        {
            "name": alternate.name,
            "outlets": [
                _outlet(study, _with_windows(study.scan, alternate), e, system)
                for e in studies.alternate_envelopes(study, alternate)
            ],
        }
        for alternate in study.job.alternates
    ]


def _with_windows(scan: Scan, alternate: Alternate) -> Scan:
    """The scan judged by the windows of an alternate with the same flue gas."""
    made = {a.name: a for a in alternate.job.plant.appliances}
    windows = ((a, made[a.name]) for a in scan.plant.appliances)
    appliances = tuple(replace(a, window=m.window, purge_pressure=m.purge_pressure) for a, m in windows)
    return replace(scan, plant=replace(scan.plant, appliances=appliances))


def exchanged(study: Study, system: str) -> list[dict[str, Any]]:
    """The job with each alternate that is more than another window."""
    return [
        {
            "name": other.job.name,
            "verdict": finding_records.verdict(other),
            "findings": finding_records.findings(other, system),
            "outlets": outlets(other, system),
        }
        for other in study.exchanged
    ]


def set_points(study: Study, system: str) -> dict[str, Any] | None:
    """Header pressures that serve every make accepted, or the proof that none does."""
    found = study.set_points
    if found is None:
        return None
    low, high = found.common
    return {
        "makes": [
            {"name": name, "low": number(ends[0], "draft", system), "high": number(ends[1], "draft", system)}
            for name, ends in zip(found.makes, found.ranges, strict=True)
        ],
        "low": number(low, "draft", system),
        "high": number(high, "draft", system),
        "serves_all": found.serves_all,
    }
