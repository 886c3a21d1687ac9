"""Chance records: how sure a design is, as plain data: chances with their errors, margins, and what they hang on."""

from typing import Any

from ventcalc.job.chance import QUANTILES, Chance, Share
from ventcalc.job.study import Study
from ventcalc.show.numbers import number
from ventcalc.words import say


def of_study(study: Study, system: str) -> dict[str, Any] | None:
    """That of the design reported on; None where it was not asked for."""
    design = study.reported
    return None if design.sure is None else records(design.sure, design.outcome.remedy.name, system)


def records(found: Chance, design: str, system: str) -> dict[str, Any]:
    """The chance of a ``design`` by its name."""
    words = found.page_one
    return {
        "design": design,
        "draws": found.draws,
        "window": _share(found.window),
        "flue_gas": _share(found.flue_gas),
        "unsolved": _share(found.unsolved),
        "outlets": [
            {
                "appliance": o.appliance,
                "leaves": _share(o.leaves),
                "back": _share(o.back),
                "margin": _quantiles(o.margin, system),
            }
            for o in found.outlets
        ],
        "margin": _quantiles(found.margin, system),
        "words": [words.window, words.flue_gas],
        "first": list(words.first),
        "basis": words.basis,
        "sources": list(found.sources),
    }


def _share(share: Share) -> dict[str, Any]:
    """A chance and where it may lie for so many draws, shares of one."""
    name = "none" if share.failed == 0 else "every" if share.failed == share.draws else "some"
    shown = say("show", "chance", name, chance=share.chance, low=share.low, high=share.high)
    return {"chance": share.chance, "low": share.low, "high": share.high, "shown": shown}


def _quantiles(values, system: str) -> dict[str, Any]:
    return {f"{q:.0%}": number(float(v), "draft", system) for q, v in zip(QUANTILES, values, strict=True)}
