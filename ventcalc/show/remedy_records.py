"""Remedy records: every remedy that was looked at, and of the one offered how it works, starts, fails and is set."""

from typing import Any

import numpy as np

from ventcalc.draft import fan_selection, sensor_location, startup_sheet
from ventcalc.job import derived_limits, failures, remedy_reasons, remedy_words
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.run_record import Passed
from ventcalc.job.study import Study
from ventcalc.show import finding_records, outlet_records
from ventcalc.show.numbers import number, numbers
from ventcalc.words import say

ALWAYS_TRIED = ("fan", "damper", "fan and damper")  # devices that `device_remedies.of_devices` tries on every vent
# What is told of a fan's work in a season, lowest to highest: the name in `device_duty.FanDuty`, and its kind.
_DUTY = {"flow": "volume flow", "static": "draft", "temperature": "temperature", "speed": "ratio"}


def compared(study: Study, system: str) -> list[dict[str, Any]]:
    """Every remedy that was looked at, the one to prefer first."""
    return [_remedy(o, system) for o in study.outcomes]


def left_out(study: Study) -> list[dict[str, str]]:
    """The remedies that do not apply, where remedies were looked at at all, and devices that would hold nothing."""
    if not study.outcomes:
        return []
    kinds = {o.remedy.kind for o in study.outcomes}
    idle = [(kind, say("job", "left_out", "nothing held")) for kind in ALWAYS_TRIED if kind not in kinds]
    return [{"name": name, "why": why} for name, why in (*remedy_words.left_out(study.job), *idle)]


def _remedy(o: Outcome, system: str) -> dict[str, Any]:
    return {
        "name": o.remedy.name,
        "words": remedy_words.words(o.remedy, system),
        "cured": o.cured,
        "against": list(remedy_reasons.against(o)),
        "judged": o.judgement is not None,
        "followed": o.followed,
        "margin": number(o.margin, "draft", system),
        "states": len(o.scan.conditions),
        "everywhere": o.everywhere,
        "outside": o.outside,
        "gas_in_room": o.gas_in_room,
        "unheld": o.unheld,
        "unsettled": o.unsettled,
        "devices": list(remedy_words.devices(o.remedy)),
        # A mean over the few states that govern is not that of a year.
        "energy": None if o.duty is None or not o.everywhere else number(o.duty.yearly, "energy", system),
        "reasons": list(remedy_words.reasons(o, system)),
    }


def offered(study: Study, system: str) -> dict[str, Any] | None:
    """The remedy proposed: what it is, what it leaves, how it is set."""
    with_it = study.proposed
    if with_it is None:
        return {"impossible": study.impossible} if study.impossible else None
    o, sheet = with_it.outcome, _sheet(with_it, system)
    return {
        "impossible": "",
        **_remedy(o, system),
        "verdict": finding_records.verdict(with_it),
        "findings": finding_records.findings(with_it, system),
        "outlets": outlet_records.outlets(with_it, system),
        "alternates": outlet_records.alternates(with_it, system),
        "header": outlet_records.header(with_it, system),
        "listed": list(remedy_words.listed(o.remedy, system)),
        "duty": [_duty(o, season, system) for season in range(len(with_it.job.seasons))],
        "sheet": sheet,
        "tries": [{"what": what, "leads_to": end} for what, end in startup_sheet.trials(_lacking(o))] if sheet else [],
        "tap": sensor_location.taps(o.remedy.plant)[0].name,
        "trial": _trial(with_it, system),
        "starts": _starts(with_it, system),
        "failures": _failures(with_it, system),
    }


def _lacking(o: Outcome) -> tuple[str, ...]:
    """Kinds of device that it does without."""
    there = {"fan": o.remedy.fan, "damper": o.remedy.damper or o.remedy.outlets}
    return tuple(device for device, found in there.items() if not found)


def _sheet(study: Study, system: str) -> list[dict[str, str]]:
    """The start-up sheet; empty where no start was followed."""
    if study.tried is None:
        return []
    why = derived_limits.reasons(study.tried.limits, system)
    if study.trial.tuned:
        why |= startup_sheet.found_gains()
    return [
        {
            "kind": row.kind,
            "name": row.name,
            "value": startup_sheet.shown(row.value, system),
            "why": row.why,
            "source": row.source,
            "status": row.status,
        }
        for row in startup_sheet.startup_sheet(study.trial.settings, system, why, _lacking(study.outcome))
    ]


def _duty(o: Outcome, season: int, system: str) -> dict[str, Any]:
    """What fan and damper do over the states of one season, lowest to highest."""
    here = o.scan.states.season == season
    found: dict[str, Any] = {
        "season": o.scan.seasons[season].name,
        "states": o.scan.count(here & o.scan.any_running),
    }
    if o.duty is not None and here[o.duty.states].any():
        pick = here[o.duty.states]
        for name, kind in _DUTY.items():
            values = getattr(o.duty, name)[pick]
            found[name] = numbers((values.min(), values.max()), kind, system)
        most = float(o.duty.power[pick].max())
        found["power"] = {"value": most, "unit": "W", "shown": fan_selection.power_text(most, system)}
    if o.position is not None and np.isfinite(o.position[here]).any():
        values = o.position[here & np.isfinite(o.position)]
        found["position"] = numbers((values.min(), values.max()), "ratio", system)
    return found


def _trial(study: Study, system: str) -> dict[str, Any] | None:
    """A start in time: what the header saw, and what tripped."""
    run = study.trial
    if run is None:
        return None
    low, high = run.span(run.released)
    return {
        "season": run.season,
        "tuned": run.tuned,
        "lasts": number(run.timeline.until, "time", system),
        "low": number(low, "draft", system),
        "high": number(high, "draft", system),
        "runs": run.ends_in_run,
        "outside": [
            {"appliance": name, "lasts": number(lasts, "time", system), "beyond": number(beyond, "draft", system)}
            for name, lasts, beyond in run.outside(study.job.plant)
        ],
        "trips": [
            {"at": number(t.at, "time", system), "where": t.where, "pressure": number(t.pressure, "draft", system)}
            for t in run.trace.trips
        ],
    }


def _starts(study: Study, system: str) -> list[dict[str, Any]]:
    """What every start in every season brings."""
    return [
        {
            "season": s.season,
            "order": list(s.order),
            "lasts": number(s.lasts, "time", system),
            "header": numbers(s.header, "draft", system),
            "outlets": [_met(o, system) for o in s.outlets],
            "stopped_by": [{"event": a.event, "at": number(a.at, "time", system)} for a in s.acts],
        }
        for s in (study.tried.starts if study.tried else ())
    ]


def _failures(study: Study, system: str) -> list[dict[str, Any]]:
    """The worst failure of every kind: what would see it, and what an outlet meets until then."""
    tried = study.tried
    worst = (tried.worst(case) for case in failures.CASES) if tried else ()
    return [
        {
            "case": f.case.replace("_", " "),
            "appliance": f.appliance,
            "season": f.season,
            "before": list(f.before),
            "after": list(f.after),
            "seen_by": [{"event": a.event, "at": number(a.at, "time", system)} for a in f.acts],
            "shutdown": number(f.shutdown, "time", system),
            "own_control": f.own_control,
            "outlets": [_met(o, system) for o in f.outlets],
        }
        for f in worst
        if f is not None
    ]


def _met(o: Passed, system: str) -> dict[str, Any]:
    """What an outlet meets in a start or a failure."""
    return {
        "appliance": o.appliance,
        "lowest": number(o.lowest, "draft", system),
        "highest": number(o.highest, "draft", system),
        "beyond": number(o.beyond, "draft", system),
        "outside_for": number(o.outside, "time", system),
        "into_room": number(o.into_room, "mass", system),
    }
