"""CO words: a judged exposure to carbon monoxide as plain sentences, with the caution."""

import numpy as np

from ventcalc.building.co_alarms import AlarmBand
from ventcalc.building.co_exposure import ROOM, Exposure
from ventcalc.building.co_limits import clock, facts
from ventcalc.building.code_rules import FAIL, READING
from ventcalc.building.cohb import COHB_MARGIN
from ventcalc.units import Q_
from ventcalc.words import say


def _say(name: str, system: str = "US", **figures) -> str:
    return say("building", "carbon_monoxide", name, system, **figures)


CAUTION = _say("caution")


def sentences(found: Exposure, system: str = "US") -> tuple[str, ...]:
    """A judged case in plain sentences, in "US" or "SI" units: the source, what stops it, each room, the caution."""
    case, end = found.case, clock(found.times[-1])
    carried = {"air_free": float(case.co_air_free.m_as("ppm")), "carries": found.flow_co}
    words = [_say("spill", system, spill=Q_(found.spill, "kg/s"), room=ROOM, **carried)]
    if np.isfinite(found.stopped):
        level = float(case.monitor.m_as("ppm"))
        words.append(_say("monitor", after=clock(found.stopped), level=level, room=ROOM))
    for k, room in enumerate(case.rooms):
        words += _room_sentences(found, k, room, end)
    return (*words, CAUTION)


def _room_sentences(found: Exposure, k: int, room: str, end: str) -> list[str]:
    judged = [j for j in found.judged if j.room == room]
    failed = sorted((j for j in judged if j.verdict == FAIL), key=lambda j: j.over)
    undecided = [j.limit.name for j in judged if j.verdict == READING]
    words = [_say("highest", room=room, highest=float(found.co[k].max()), end=end)]
    if failed:
        first, worst = failed[0], max(failed, key=lambda j: j.worst / j.limit.level)
        by = {"first": first.limit.cited, "after": clock(first.over), "worst": worst.limit.cited, "by": worst.by}
        words.append(_say("failed", failed=len(failed), judged=len(judged), **by))
    else:
        words.append(_say("none_failed", end=end))
    if undecided:
        words.append(_say("undecided", end=end, limits="; ".join(undecided)))
    words += [_alarm_sentence(band, end) for band in found.alarms[k]]
    blood = {"cohb": float(found.blood[k].max()), "margin": COHB_MARGIN - 1.0}
    return [*words, _say("blood", activity=found.case.activity, **blood)]


def _alarm_sentence(band: AlarmBand, end: str) -> str:
    row = next(row for row in facts("alarm") if row["body"] == band.standard)
    named = {"source": row["source"], "edition": row["edition"]}
    if np.isinf(band.earliest):
        return _say("silent_alarm", end=end, **named)
    name = "alarm_may" if np.isinf(band.latest) else "alarm_must"
    latest = "" if np.isinf(band.latest) else clock(band.latest)
    return _say(name, earliest=clock(band.earliest), latest=latest, **named)
