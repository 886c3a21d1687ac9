"""Page one: the answer, what to build instead in a few sentences, and how far to trust it, as records.

Made of what was judged; it decides nothing. The instruction has at most `MOST_WORDS` words, so that it is read.
"""

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Any

import numpy as np

from ventcalc.building import combustion_air_words
from ventcalc.draft import startup_sheet
from ventcalc.draft.held_pressure import HEADER
from ventcalc.job import remedy_reasons, remedy_words
from ventcalc.job.remedy import AS_DRAWN
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.study import Study
from ventcalc.show import option_records, plots, tags
from ventcalc.show.numbers import number, of_number
from ventcalc.units import Q_
from ventcalc.words import listed, say, spans

MOST_WORDS = 120
_MOST_TOLD = 3  # remedies that fail, each with what speaks against it


def page_one(study: Study, system: str) -> dict[str, Any]:
    """What page one says beside the verdict.

    ``against``: what speaks against the vent as drawn, each title once, with its weight and whom it befalls.
    ``heading`` and ``instruction``: what to build, or why nothing cures it. ``trust``: the least margin of the design,
    and the one that is ``thinnest`` against what is uncertain of it. ``key`` tells what the letters in the drawing are.
    """
    told = tuple(_build(study, system) if study.to_build else _no_cure(study, system))
    return {
        "against": _against(study),
        "heading": say("show", "page_one", _heading(study)),
        "instruction": [*told, *_apart(study, system)],
        "agree": [*_agree(study.to_build, system), *_makes(study)] if study.to_build else [],
        "trust": _trust(study.reported, system),
        "key": key(study.reported),
    }


def _heading(study: Study) -> str:
    if study.to_build is study:
        return "as drawn"
    if study.to_build is not None:
        return "instead"
    if study.aired is not None and study.aired.buildable:
        return "air"
    return "no cure" if study.outcomes else "not compared"


def _against(study: Study) -> list[dict[str, Any]]:
    """Titles of what speaks against the vent as drawn, the gravest first, each once with all it befalls."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for f in study.judgement.against:
        found.setdefault((f.weight, f.title), {}).update(dict.fromkeys(f.subjects))
    return [
        {"weight": weight, "title": title, "subjects": _few(tuple(names))} for (weight, title), names in found.items()
    ]


def _few(names: tuple[str, ...]) -> str:
    """Names in a row: those that only count on by the first and the last, else many as a count."""
    names = spans(names)
    if len(names) > 2 * _MOST_TOLD:
        return say("show", "page_one", "many", first=names[0], others=len(names) - 1)
    return listed(names) if names else ""


def _build(study: Study, system: str) -> Iterator[str]:
    """What to build: pipe, devices with their duty at the gas's temperature, what is held and the limits beside it."""
    design = study.to_build
    if design is study:
        yield say("show", "page_one", "nothing to change")
        return
    o, placed = design.outcome, {t.kind: t for t in reversed(tags.placed(design))}
    changes = remedy_words.built_otherwise(o.remedy, system)
    yield (
        say("show", "page_one", "pipe", system, changes="; ".join(changes))
        if changes
        else say("show", "page_one", "pipe as drawn")
    )
    if o.remedy.away:
        yield say("show", "page_one", "fan kept" if o.remedy.keeps_fan else "taken away", fan=o.remedy.away)
    if o.duty is not None:
        yield say("show", "page_one", "fan", system, **_hardest(o), tag=placed[tags.FAN].tag,
                  fan=o.remedy.fan.fan.name, section=placed[tags.FAN].section)  # fmt: skip
    for f in design.judgement.of_weight("note"):
        if f.code == "exhaust_duty":
            yield say("show", "page_one", "exhaust duty", system, **f.figures)
    if o.remedy.damper is not None:
        damper = remedy_words.damper_words(o.remedy.damper, system)
        yield say("show", "page_one", "damper", system, tag=placed[tags.DAMPER].tag, damper=damper,
                  section=placed[tags.DAMPER].section)  # fmt: skip
    if o.remedy.outlets:
        yield say("show", "page_one", "outlet dampers", outlets=_few(o.remedy.outlets))
    if o.remedy.set_point is not None:
        sensor = remedy_words.sensed(o.remedy.plant, HEADER)
        yield say("show", "page_one", "hold", system, set_point=o.remedy.set_point, sensor=sensor,
                  tag=placed[tags.SENSOR].tag)  # fmt: skip
    if design.trial is not None:
        names = ("low_limit", "low_delay", "high_limit", "high_delay")
        limits = {name: startup_sheet.shown(getattr(design.trial.settings, name), system) for name in names}
        yield say("show", "page_one", "limits", **limits)


def _hardest(o: Outcome) -> dict[str, Any]:
    """What the fan does where it turns fastest."""
    k = int(o.duty.speed.argmax())
    return {
        "flow": Q_(float(o.duty.flow[k]), "m**3/s"),
        "static": Q_(float(o.duty.static[k]), "Pa"),
        "temperature": Q_(float(o.duty.temperature[k]), "K"),
        "hottest": Q_(float(o.duty.temperature.max()), "K"),
    }


def _no_cure(study: Study, system: str) -> Iterator[str]:
    """Why none of the remedies cures it: what speaks against the one offered, and against the first of the others."""
    if study.impossible:
        yield study.impossible
    own = study.offered.outcome if study.offered is not None else None
    others = (o for o in study.outcomes if o is not own and o.remedy.kind != AS_DRAWN)
    told = [*([own] if own is not None else []), *others]
    for o in told[:_MOST_TOLD]:
        name = "against" if o.judgement is None or o.followed else "at rest"
        yield say("show", "page_one", name, remedy=o.remedy.name, titles=_titles(o))
    left = len(told) - _MOST_TOLD
    if left > 0:
        yield say("show", "page_one", of_number("others", left), others=left)
    yield from _beside(study, told)
    yield from _air(study, system)


def _beside(study: Study, told: Sequence[Outcome]) -> Iterator[str]:
    """What is to be mended beside the vent, where nothing else speaks against it as drawn, or against a remedy."""
    if study.judgement.only_beside:
        yield say("show", "page_one", "beside alone", titles=_titles(study.outcome))
        return
    clear = (o for o in told if o.judgement is not None and o.followed and o.judgement.only_beside)
    for o in islice(clear, 1):
        yield say("show", "page_one", "beside", remedy=o.remedy.name, titles=_titles(o))


def _titles(o: Outcome) -> str:
    return listed(tuple(title.lower() for title in remedy_reasons.against(o)))


def _air(study: Study, system: str) -> Iterator[str]:
    """The make-up air that the room lacks, where a study with it finds nothing against the vent as drawn; else whether
    air alone is no cure."""
    lacks, aired = study.around.cure, study.aired
    if aired is not None and aired.buildable:
        opening = bool(np.isfinite(lacks.area.m))
        name, more = ("opening", lacks.area) if opening else ("supply", lacks.supply)
        yield say("show", "page_one", "air cures", air=say("show", "page_one", name, system, air=more))
        if study.around.supplies:
            yield combustion_air_words.supplies_sentence(*study.around.supplies, system)
    elif lacks is not None and lacks.beyond_air:
        yield say("show", "page_one", "air no cure")


def _agree(design: Study, system: str) -> Iterator[str]:
    """Who must still agree, or read a rule: notes of the design that wait for somebody."""
    for f in design.judgement.of_weight("note"):
        if f.code == "permission_open":
            yield say("show", "page_one", "agree", who=_few(f.subjects))
        elif f.code == "terminal_reading":
            yield say("show", "page_one", "reading", terminal=_few(f.subjects))
        elif f.code == "house_limit":
            yield say("show", "page_one", "room", system, **f.figures)


def _makes(study: Study) -> Iterator[str]:
    """The makes that may not stand on it."""
    makes = option_records.not_served(study)
    if makes:
        yield say("show", "page_one", "makes", makes=_few(makes))


def _apart(study: Study, system: str) -> Iterator[str]:
    """The two makes that ask for the most different headers, where no set point serves both and one is to be held."""
    found, built = study.set_points, study.to_build
    if found is None or found.serves_all or (built is not None and built.outcome.remedy.set_point is None):
        return
    above, below = found.makes[found.ranges[:, 0].argmax()], found.makes[found.ranges[:, 1].argmin()]
    low, high = (Q_(float(p), "Pa") for p in found.common)
    name = "apart" if above != below else "apart in itself"
    yield say("show", "page_one", name, system, above=above, low=low, below=below, high=high)


def key(design: Study) -> str:
    """The letters of the drawing with the appliances' names and tags; those of names that only count on as one."""
    burners = tags.tags(design).burners
    names, marks = tuple(burners), tuple(burners.values())
    each = plots.letters(len(names))
    whole = spans(names)
    if len(whole) == 1 and len(names) > 1:
        ends = {"first": each[0], "last": each[-1], "first_tag": marks[0], "last_tag": marks[-1]}
        return say("show", "page_one", "key of many", names=whole[0], **ends)
    told = zip(each, names, marks, strict=True)
    return "; ".join(say("show", "page_one", "key", letter=x, name=name, tag=tag) for x, name, tag in told)


def _trust(design: Study, system: str) -> dict[str, Any]:
    """The least margin of all outlets, and the one of which least is left beyond what is uncertain of it.

    The latter is told beside the former (``tells_thinnest``) where it is another outlet's, or falls short in another
    condition.
    """
    least, thinnest = (_margin(*found, system) for found in (design.outcome.least, design.outcome.thinnest))
    other = any(least[part]["shown"] != thinnest[part]["shown"] for part in ("margin", "doubt"))
    short = thinnest["margin"]["value"] < thinnest["doubt"]["value"]
    tells = thinnest["appliance"] != least["appliance"] or (other and short and least["margin"]["value"] >= 0.0)
    return {**least, "thinnest": thinnest, "tells_thinnest": tells}


def _margin(appliance: str, margin: float, doubt: float, system: str) -> dict[str, Any]:
    figures = {"margin": number(margin, "draft", system), "doubt": number(doubt, "draft", system)}
    return {"appliance": appliance, **figures}
