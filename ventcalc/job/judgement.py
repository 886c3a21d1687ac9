"""Judgement: what speaks against a design, from what it does; the one place where that is decided.

`judge` reads an `operation` and gives findings as records; what is found of each thing stands in a module of its own.
A design is cured where none of them is of weight people or fault (`findings.Judgement.cured`): the tick in a table,
page one, ``results.json`` and the exit status all ask that. One cause is one finding, however many outlets or sections
it touches. Where it was asked, how likely a design is to fail counts in place of its thin margins, if nothing else
speaks against it.
"""

from ventcalc.job import (
    chance_findings,
    device_findings,
    draft_findings,
    findings,
    outlet_findings,
    spillage_findings,
    start_findings,
    surrounding_findings,
    vent_findings,
)
from ventcalc.job.findings import Judgement
from ventcalc.job.operation import Operation

THIN = "thin_margin"  # the finding in whose place a chance is told

# What is judged, in the order in which findings of one weight are told.
PARTS = (
    surrounding_findings.terminals,
    surrounding_findings.sights,
    spillage_findings.spillage,
    vent_findings.categories,
    outlet_findings.outlets,
    outlet_findings.between_levels,
    outlet_findings.thin_margins,
    outlet_findings.in_time,
    draft_findings.natural,
    surrounding_findings.room_air,
    surrounding_findings.exhausts,
    surrounding_findings.intakes,
    vent_findings.material,
    vent_findings.runs,
    device_findings.devices,
    device_findings.exhaust_duty,
    start_findings.starts,
    start_findings.not_followed,
    vent_findings.sampled,
    vent_findings.two_fuels,
    vent_findings.to_be_permitted,
    spillage_findings.unsettled,
    outlet_findings.header,
    draft_findings.wet,
    draft_findings.acid,
    vent_findings.untested_junctions,
)


def judge(operation: Operation) -> Judgement:
    """Everything that was found of a design, the gravest first."""
    found = findings.judgement(f for part in PARTS for f in part(operation))
    if operation.sure is None or not hangs_on_chance(found):
        return found
    rest = [f for f in found.findings if f.code != THIN]
    return findings.judgement([*rest, *chance_findings.chances(operation)])


def hangs_on_chance(judged: Judgement) -> bool:
    """Whether nothing speaks against a design but margins that are thin: of those a chance tells more."""
    return all(f.code == THIN for f in judged.against)
