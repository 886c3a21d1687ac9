"""The papers of a submittal, for designs of every kind: their records by name, and each as a page."""

from dataclasses import replace
from functools import cache

from sample_remedies import KINDS, designed

from ventcalc.job.findings import Judgement
from ventcalc.show import equipment_schedule, finding_records, page, points_list, sequence_of_operation

EVERY = ("as drawn", *KINDS)
HELD = ("fan", "damper", "fan and damper", "damper at each outlet and a fan")  # the header, by a control
SYSTEMS = ("US", "SI")
PAPERS = {
    "equipment_schedule": equipment_schedule,
    "sequence_of_operation": sequence_of_operation,
    "points_list": points_list,
}


@cache
def proposing(kind):
    """A study that proposes the design of a kind."""
    one = designed(kind)
    return one if kind == "as drawn" else replace(one, offered=one)


def faultless(study):
    """A study against which nothing speaks."""
    return replace(study, judgement=Judgement(()), offered=None)


@cache
def records(name, kind, system):
    """A paper's records."""
    return getattr(PAPERS[name], name)(proposing(kind), system)


def told(study, system):
    """What templates are given."""
    papers = {name: getattr(module, name)(study, system) for name, module in PAPERS.items()}
    return {"not_to_build": finding_records.not_to_build(study.reported), **papers}


def paper(name, study, system):
    """A paper as HTML, with the pieces of the report around it."""
    return page.TEMPLATES.get_template(f"{name}.html").render(r={"submittal": told(study, system)})
