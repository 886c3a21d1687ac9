"""Survey sheet: a diagnosis as plain data, with its sentences: what was found, how sure, what to do, what next."""

from typing import Any

import numpy as np

from ventcalc import __version__
from ventcalc.job import diagnosis, survey_file
from ventcalc.job.calibrated_study import CalibratedStudy
from ventcalc.job.calibration import Explanation
from ventcalc.job.diagnosis import Diagnosis, Extent, Line
from ventcalc.job.job_file import Job
from ventcalc.job.mended_vent import AtRest
from ventcalc.job.performance_test import CARBON_MONOXIDE, KINDS, PRESSURE, UNITS
from ventcalc.job.survey import Condition
from ventcalc.job.survey_causes import AS_DRAWN, SOMETHING_ELSE, Cause
from ventcalc.job.survey_dangers import SPILLS, Danger
from ventcalc.show import as_found_records
from ventcalc.show.numbers import number
from ventcalc.units import Q_, Quantity, show
from ventcalc.words import say, sentences, together

LEAST_SHOWN = 0.005  # chance of an explanation that is told in the table
PER_MILLION = 1e6
SURE = 0.5  # chance below which the vent as drawn is told as no more than the likeliest


def records(found: Diagnosis, system: str, studied: CalibratedStudy | None = None) -> dict[str, Any]:
    """All of it, with what the vent as found was ``studied`` to; numbers as everywhere in results."""
    job = found.calibration.survey.job
    return {
        "ventcalc": __version__,
        "system": system,
        "job": {"name": job.name, "sha256": job.digest},
        "sound": found.sound,
        "verdict": verdict(found, system),
        "dangers": [danger(d, system) for d in found.dangers],
        "causes": causes(found, system),
        "cures": [cure(e) for e in found.alike],
        "explanations": [
            {"chance": chance, "members": [_member(e, system) for e in members]}
            for members, chance in found.calibration.groups
            if chance >= LEAST_SHOWN
        ],
        "next": following(found, system),
        "uncertain": uncertain(found, system),
        "readings": [_line(line, job, system) for line in found.lines],
        "calibrated": _calibrated(found, system),
        "as_found": as_found_records.records(studied, system),
        "cautions": list(sentences("show")["survey_cautions"].values()),
    }


# --- What was found ------------------------------------------------------------------------------------------------


def verdict(found: Diagnosis, system: str) -> str:
    """What came of it, in a sentence or two; danger first."""
    told = _explained(found)
    if not found.dangers:
        return told
    return say("show", "survey_sheet", "danger", sentence=told)


def _explained(found: Diagnosis) -> str:
    codes = {e.code for e in found.alike}
    if AS_DRAWN in codes:
        told = "unsure" if found.chance < SURE else "danger_sound" if found.dangers else "sound"
        return say("show", "survey_sheet", told, chance=found.chance)
    if found.best.code == SOMETHING_ELSE:
        return say("show", "survey_sheet", "something_else", chance=found.chance)
    names = tuple(dict.fromkeys(name(e) for e in found.alike))
    if len(names) == 1:
        return say("show", "survey_sheet", "cause", chance=found.chance, name=names[0])
    return say("show", "survey_sheet", "alike", chance=found.chance, names=names)


def danger(one: Danger, system: str) -> str:
    """A reading that tells of danger."""
    r = one.reading
    value = {"value": Q_(r.value, "Pa")} if one.code == SPILLS else {"ppm": r.value * PER_MILLION}
    return say("show", "survey_sheet", one.code, system, line=r.line, place=survey_file.said(r.place), **value)


def name(explanation: Explanation) -> str:
    """An explanation in few words."""
    if not explanation.causes:
        return say("job", "survey_cause_name", explanation.code)
    names = [say("job", "survey_cause_name", c.code, subject=c.subject) for c in explanation.causes]
    return names[0] if len(names) == 1 else say("show", "survey_sheet", "pair", one=names[0], other=names[1])


def causes(found: Diagnosis, system: str) -> list[str]:
    """The likeliest explanation in whole sentences, each cause with how much of it there is."""
    if not found.extents:
        return [say("job", "survey_cause", found.best.code)]
    told = []
    for e in found.extents:
        figures = {"value": _figure(e.cause, e.value), "subject": e.cause.subject}
        sentence = say("job", "survey_cause", e.cause.code, system, **figures)
        told.append(f"{sentence[0].upper()}{sentence[1:]} {_extent(e, system)}")
    return told


def _extent(e: Extent, system: str) -> str:
    low, high = sorted((e.low, e.high))
    ends = {key: _shown(e.cause, v, system) for key, v in (("value", e.value), ("low", low), ("high", high))}
    sentence = say("show", "survey_sheet", "extent", within=diagnosis.WITHIN, **ends)
    return f"{e.cause.kind.parameter[0].upper()}{e.cause.kind.parameter[1:]}: {sentence}"


def _figure(cause: Cause, value: float) -> Quantity | float:
    return Q_(value, "Pa") if cause.kind.unit == "Pa" else value


def _shown(cause: Cause, value: float, system: str) -> str:
    return show(Q_(value, "Pa"), system, "draft") if cause.kind.unit == "Pa" else f"{value:.1%}"


def cure(explanation: Explanation) -> str:
    """How an explanation is put right."""
    if not explanation.causes:
        return say("job", "survey_cure", explanation.code)
    return " ".join(say("job", "survey_cure", c.code, subject=c.subject) for c in explanation.causes)


def _member(e: Explanation, system: str) -> dict[str, Any]:
    values = zip(e.causes, e.values, strict=True)
    return {
        "code": e.code,
        "name": name(e),
        "chance": e.chance,
        "numbers": [
            {
                "parameter": c.kind.parameter,
                "value": float(v),
                "unit": "Pa" if c.kind.unit == "Pa" else "dimensionless",
                "shown": _shown(c, v, system),
            }
            for c, v in values
        ],
    }


# --- What next, and what is not known --------------------------------------------------------------------------------


def condition_words(condition: Condition, job: Job) -> str:
    """What was going on, in a few words."""
    doing = together(zip((a.name for a in job.plant.appliances), condition.levels, strict=True))
    told = ", ".join(say("show", "survey_sheet", "does", appliance=who, level=level) for who, level in doing)
    return say("show", "survey_sheet", "condition", doing=told, stack="cold" if condition.cold else "hot")


def following(found: Diagnosis, system: str) -> dict[str, Any]:
    """What to read next, as data and as a sentence a technician can follow; what was not asked for."""
    job, best = found.calibration.survey.job, found.next
    refused = [*(condition_words(c, job) for c in found.following.refused), *(c.name for c in found.unsafe)]
    told = {"refused": refused, "sentence": say("show", "survey_sheet", "next_none"), "condition": None}
    if best is None:
        return told
    read, shares = best.read, np.array([found.calibration.explanations[k].chance for k in best.leading])
    shares = shares / shares.sum()
    figures = {
        "quantity": read.quantity,
        "place": survey_file.said(read.place),
        "condition": condition_words(read.condition, job),
    }
    bits = float(best.information / np.log(2.0))
    left = float(-(shares * np.log2(np.maximum(shares, 1e-300))).sum())
    foretold = [
        {
            "name": name(found.calibration.explanations[k]),
            "expected": number(Q_(float(mean), UNITS[read.quantity]), KINDS[read.quantity], system),
        }
        for k, mean in zip(best.leading, best.means, strict=True)
    ]
    sentence = say("show", "survey_sheet", "next", **figures, bits=bits, left=left)
    if found.dangers:
        sentence = say("show", "survey_sheet", "next_safe", sentence=f"{sentence[0].lower()}{sentence[1:]}")
    return told | figures | {"sentence": sentence, "bits": bits, "foretold": foretold}


def uncertain(found: Diagnosis, system: str) -> list[str]:
    """What stays uncertain: other causes, readings that may be wrong, and what the chances stand on."""
    readings = found.calibration.survey.readings
    told = [
        say("show", "survey_sheet", "others", name=" / ".join(name(e) for e in members), chance=chance)
        for members, chance in found.others
    ]
    for line in found.lines:
        if line.suspect:
            told.append(
                say("show", "survey_sheet", "suspect", line=line.reading.line, quantity=line.reading.quantity,
                    place=survey_file.said(line.reading.place), chance=line.suspect.chance,
                    slip=say("job", "survey_slip", line.suspect.slip.code))
            )  # fmt: skip
    for n in found.calibration.unread:
        r = readings[n]
        place = survey_file.said(r.place)
        told.append(say("show", "survey_sheet", "unread", line=r.line, place=place, quantity=r.quantity))
    return [*told, say("show", "survey_sheet", "fitted"), say("show", "survey_sheet", "doubt")]


# --- Measured and reckoned -------------------------------------------------------------------------------------------


def _line(line: Line, job: Job, system: str) -> dict[str, Any]:
    r = line.reading
    return {
        "line": r.line,
        "condition": condition_words(r.condition, job),
        "place": survey_file.said(r.place),
        "quantity": r.quantity,
        "time": line.time,
        "measured": reading_number(r.quantity, r.value, system),
        "drawn": reading_number(r.quantity, line.drawn, system),
        "fitted": reading_number(r.quantity, line.fitted, system),
        "off_drawn": _finite(line.off_drawn),
        "off_fitted": _finite(line.off_fitted),
        "suspect": line.suspect.slip.code if line.suspect else "",
    }


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def reading_number(quantity: str, value: float, system: str) -> dict[str, Any]:
    """A reading's number; carbon monoxide is shown in ppm."""
    told = number(float(value) if quantity != PRESSURE else Q_(float(value), "Pa"), KINDS[quantity], system)
    if quantity == CARBON_MONOXIDE and told["value"] is not None:
        told["shown"] = f"{value * PER_MILLION:,.0f} ppm"
    return told


def _calibrated(found: Diagnosis, system: str) -> dict[str, Any] | None:
    if found.mended is None:
        return None
    holds = say("show", "survey_sheet", "mended_holds" if found.holds_mended else "mended_lacks")
    return {
        "sentence": holds,
        "basis": say("show", "survey_sheet", "mended", conditions=found.mended.stands.conditions),
        "stands": _at_rest(found.mended.stands, system),
        "mended": _at_rest(found.mended.mended, system),
    }


def _at_rest(rest: AtRest, system: str) -> dict[str, Any]:
    return {
        "conditions": rest.conditions,
        "outside": rest.outside,
        "gas": rest.gas,
        "unsolved": rest.unsolved,
        "margin": number(Q_(rest.margin, "Pa"), "draft", system),
        "outlet": rest.outlet,
    }
