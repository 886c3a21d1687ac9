"""Surrounding records: the terminals on their roof, the room's air, and what flue gas does where people are."""

from typing import Any

from ventcalc.building import (
    clearance_words,
    clearances,
    co_words,
    code_rules,
    combustion_air_words,
    least_height,
    re_entrainment_words,
)
from ventcalc.job.study import Study
from ventcalc.job.surroundings import Ending, Surroundings
from ventcalc.show.numbers import number, state
from ventcalc.words import say


def around(study: Study, system: str) -> dict[str, Any]:
    """Roof, room and carbon monoxide, as far as the job tells of them."""
    found = study.around
    return {
        "terminals": [_terminal(e, system) for e in found.endings],
        "enough_air": found.enough,
        "air": [
            {"rule": v.rule, "verdict": v.verdict, "sentence": combustion_air_words.verdict_sentence(v, system)}
            for v in found.air
        ],
        "exhausts": _exhausts(found, system),
        "exhausts_proposed": _exhausts_proposed(study.proposed, system),
        "make_up_air": _make_up_air(study, system),
        "plumes": [
            {"intake": p.intake, "sentences": list(re_entrainment_words.sentences(p, system))} for p in found.plumes
        ],
        "no_plume": found.no_plume,
        "spills": [
            {
                "appliance": s.spill.appliance,
                "state": state(found.exhausted if s.exhausting else study.scan, s.spill.state, system),
                "sentences": list(co_words.sentences(s.exposure, system)),
            }
            for s in found.spills
        ],
    }


def _exhausts(found: Surroundings, system: str) -> list[str]:
    """What exhaust fans do to the outlets, how much more air would do, and whether vent or code asks for more."""
    if not found.effects:
        return []
    told = list(combustion_air_words.sentences(found.effects, found.cure, system))
    return [*told, combustion_air_words.supplies_sentence(*found.supplies, system)] if found.supplies else told


def _exhausts_proposed(proposed: Study | None, system: str) -> dict[str, Any] | None:
    """What exhaust fans do to the outlets once the remedy proposed is built."""
    told = _exhausts(proposed.around, system) if proposed else []
    return {"remedy": proposed.outcome.remedy.name, "sentences": told} if told else None


def _make_up_air(study: Study, system: str) -> dict[str, Any] | None:
    """The air that the room lacks while its exhaust fans run, and what speaks against the vent as drawn with it."""
    lacks, aired = study.around.cure, study.aired
    if lacks is None or aired is None:
        return None
    return {
        "area": number(lacks.area, "area", system),
        "supply": number(lacks.supply, "volume flow", system),
        "cures": aired.buildable,
        "against": list(dict.fromkeys(f.code for f in aired.judgement.against)),
    }


def _terminal(ending: Ending, system: str) -> dict[str, Any]:
    """A terminal with every rule that says something of it, the one that fails first."""
    telling = [f for f in ending.findings if f.verdict != code_rules.NONE]
    return {
        "name": ending.terminal.name,
        "kind": ending.terminal.kind,
        "outlet": number(ending.terminal.outlet, "height", system),
        "verdict": clearances.overall(ending.findings),
        "findings": [
            {"rule": f.rule, "verdict": f.verdict, "sentence": clearance_words.sentence(f, system)}
            for f in sorted(telling, key=lambda f: code_rules.VERDICTS.index(f.verdict))
        ],
        "least": _least(ending.least, system),
        "with_fan": _least(ending.with_fan, system),
        "sights": [
            {
                "view": s.view,
                "seen": s.seen,
                "shows": number(s.shows, "height", system),
                "hidden_below": number(s.hidden_below, "height", system),
                "behind": s.behind,
            }
            for s in ending.sights
        ],
    }


def _least(at: least_height.Least, system: str) -> dict[str, Any]:
    """The least height that breaks no rule, and which rule it is that asks for it."""
    return {
        "height": number(at.height, "height", system),
        "above_roof": number(at.above_roof, "height", system),
        "governed_by": say("show", "terminal", "no_height") if at.finding is None else at.finding.rule,
    }
