"""Finding records: the verdict on a job in one sentence, what was found, what was solved, what was not checked."""

from typing import Any

import numpy as np

from ventcalc.job import findings as finding_words
from ventcalc.job.study import Study
from ventcalc.show.numbers import counted, number, of_number, state
from ventcalc.vent import outlet_envelope, reversal
from ventcalc.words import listed, say, sentences

MOST_NAMED = 40  # unsolved states named one by one


def verdict(study: Study) -> dict[str, Any]:
    """Whether it is safe to build as drawn, in one sentence, and what can be said of the remedy offered.

    ``asked`` tells whether nothing speaks against the design that the job asks for, as the exit status does.
    """
    people, faults = _against(study)
    name = "people" if people else "faults" if faults else "none"
    sentence = say("show", "verdict", of_number(name, people + faults), against=_counts(people, faults))
    return {
        "buildable": study.buildable,
        "asked": study.asked is not None and study.asked.buildable,
        "sentence": sentence,
        "people": people,
        "faults": faults,
        "offered": _offered_verdict(study),
        "best": _best_verdict(study),
    }


def remedy_verdicts(told: dict[str, Any]) -> tuple[str, ...]:
    """What a verdict tells of the remedy that the job names, and of the one that cures in its place."""
    return tuple(filter(None, (told["offered"], told["best"])))


def _offered_verdict(study: Study) -> str:
    """Empty where the job names no remedy."""
    if study.impossible:
        return study.impossible
    if study.offered is None:
        return ""
    people, faults = _against(study.offered)
    name = of_number("offered", people + faults) if people + faults else "offered_none"
    remedy = study.offered.outcome.remedy.name
    return say("show", "verdict", name, remedy=remedy, against=_counts(people, faults))


def _best_verdict(study: Study) -> str:
    """Empty where the remedy proposed is the one that the job names, or there is none."""
    if study.proposed is None or study.proposed is study.offered:
        return ""
    return say("show", "verdict", "best", remedy=study.proposed.outcome.remedy.name)


def _against(study: Study) -> tuple[int, ...]:
    """How many findings of each weight speak against a design."""
    return tuple(len(study.judgement.of_weight(weight)) for weight in finding_words.AGAINST)


def _counts(people: int, faults: int) -> tuple[str, ...]:
    """Those numbers in words."""
    return tuple(counted(what, count) for what, count in (("people", people), ("faults", faults)) if count)


def not_to_build(design: Study) -> str:
    """What stands above every paper of a design that something speaks against; empty where nothing does."""
    people, faults = _against(design)
    if design.buildable:
        return ""
    titles = tuple(dict.fromkeys(f.title for f in design.judgement.against))
    return say("show", "verdict", "not_to_build", against=_counts(people, faults), titles=", ".join(titles))


def findings(study: Study, system: str) -> list[dict[str, Any]]:
    """What was found, the gravest first."""
    return [
        {
            "code": f.code,
            "weight": f.weight,
            "title": f.title,
            "subjects": list(f.subjects),
            "sentence": finding_words.sentence(f, system),
            "todo": f.todo,
            "rule": f.rule,
        }
        for f in study.judgement.findings
    ]


def scan(study: Study, system: str) -> dict[str, Any]:
    """How many conditions were solved, in how many of them something is wrong, and which could not be solved."""
    found, unsolved = study.scan, unsolved_columns(study)
    return {
        "solved": len(found.conditions),
        "rows": len(found.states),
        "pasts": int((np.bincount(found.condition) > 1).sum()),
        "possible": found.possible,
        "complete": found.complete,
        "running": found.count(found.any_running),
        "outside": found.count(outlet_envelope.outside_window(found).any(axis=0)),
        "gas_in_room": found.count(reversal.flue_gas_enters(found).any(axis=0)),
        "unsolved_count": int(unsolved.size),
        "restless_count": found.count(found.restless),
        "without_rest": without_rest(study),
        "unsolved": [
            {"state": state(found, s, system), "residual": number(found.solution.residual[s], "draft", system)}
            for s in unsolved[:MOST_NAMED]
        ],
    }


def unsolved_columns(study: Study) -> np.ndarray:
    """Columns of a scan that were not solved, or have no state of rest: one a condition."""
    columns = np.flatnonzero(~(study.scan.solution.converged & study.outcome.settled))
    return columns[np.unique(study.scan.condition[columns], return_index=True)[1]]


def without_rest(study: Study) -> str:
    """How many conditions have no state of rest, and how many were not solved, in words; empty where none."""
    counts = {"restless": study.restless, "unsolved": study.unsolved - study.restless}
    told = tuple(counted(what, count) for what, count in counts.items() if count)
    return listed(told) if told else ""


def not_checked(study: Study) -> list[str]:
    """What was not checked: what the job file tells nothing of, and what is checked of no job."""
    job = study.job
    told = {"roof": job.roof, "room": job.room, "emissions": job.emissions, "carbon_monoxide": job.carbon_monoxide}
    untold = [name for name, part in told.items() if part is None]
    if study.scan.states.windy.any() and not job.plant.exposure.told:
        untold.append("wind")
    return [*(say("show", "untold", name) for name in untold), *sentences("show")["not_checked"].values()]
