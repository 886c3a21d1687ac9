"""Combustion air words: verdicts on a room, what exhaust fans do and what would cure it, as plain sentences."""

import numpy as np

from ventcalc.building.code_rules import FAIL, cited
from ventcalc.building.combustion_air_verdicts import Verdict
from ventcalc.building.depressurization import Effect
from ventcalc.building.makeup_air import Cure
from ventcalc.door import door
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent.reversal import REVERSAL_FLOW
from ventcalc.words import say


def verdict_sentence(verdict: Verdict, system: str = "US") -> str:
    """One rule on a room in a sentence, with where it stands."""
    said = [_figures(verdict, system), *(note.words(system) for note in verdict.notes)]
    told = "; ".join(said).rstrip(".")
    return say("building", "combustion_air", "told", system, said=told, source=verdict.source)


def _figures(v: Verdict, system: str) -> str:
    name, figures = "verdict", {"rule": v.rule, "verdict": v.verdict}
    if v.required is not None:
        short = max(v.required - v.provided, 0.0 * v.required)
        name = "short" if v.verdict == FAIL and short.m > 0.0 else "figures"
        shown = {"required": v.required, "provided": v.provided, "short": short}
        figures |= {key: _shown(value, v.kind, system) for key, value in shown.items()}
    return say("building", "combustion_air", name, system, **figures)


def _shown(quantity: Quantity, kind: str, system: str) -> str:
    if kind == "volume":
        unit, text = {"US": ("ft**3", "ft³"), "SI": ("m**3", "m³")}[system]
        return f"{quantity.m_as(unit):,.{0 if system == 'US' else 1}f} {text}"
    return show(quantity, system, kind)


def sentences(found: tuple[Effect, ...], remedy: Cure | None = None, system: str = "US") -> tuple[str, ...]:
    """What the exhaust fans do to every outlet, and what would cure it, in plain sentences."""
    said = [effect_sentence(e, system) for e in found]
    if remedy is not None:
        said.append(_cure_sentence(remedy, system))
    for rule in dict.fromkeys(e.limit_rule for e in found if e.limit is not None):
        said.append(_fans("limit", system, rule=rule, cited=cited("combustion_air", rule)))
    return (*said, _fans("caution", system))


def _fans(name: str, system: str, **figures) -> str:
    return say("building", "depressurization", name, system, **figures)


def effect_sentence(e: Effect, system: str) -> str:
    """What the exhaust fans do to one outlet."""
    found = [*_comes_back(e, system)]
    if e.beyond > 0.0:
        found.append(_fans("outside_window", system, beyond=Q_(e.beyond, "Pa"), without=Q_(e.beyond_without, "Pa")))
    if not found:
        found.append(_fans("well", system))
    if e.unsettled:
        found.append(_fans("unsettled", system, states=e.unsettled))
    lowest = Q_(e.lowest_room, "Pa")
    if e.limit is None:
        house = _fans("no_limit", system, lowest=lowest, why=e.no_limit)
    else:
        side = "below_limit" if e.below_limit else "above_limit"
        house = _fans(side, system, lowest=lowest, limit=Q_(e.limit, "Pa"))
    whole = {"appliance": e.appliance, "verdict": e.verdict, "found": " and ".join(found), "house": house}
    return _fans("told", system, **whole)


def _comes_back(e: Effect, system: str) -> list[str]:
    """Flue gas, or air alone, that enters the room."""
    if e.dangerous:
        gas = {"flue_gas": Q_(e.flue_gas, "kg/s"), "spill": Q_(e.spill, "kg/s")}
        return [_fans("flue_gas", system, before=_before(e.flue_gas_without, system), **gas)]
    if e.back > REVERSAL_FLOW:
        return [
            _fans(
                "air",
                system,
                air=say("vent", "air_back", e.air),
                before=_before(e.back_without, system),
                back=Q_(e.back, "kg/s"),
            )
        ]
    return []


def _before(flow: float, system: str) -> str:
    return _fans("also_before" if flow > REVERSAL_FLOW else "not_before", system)


@door(vent="m**3/s", code="m**3/s")
def supplies_sentence(vent: Quantity, code: Quantity, system: str) -> str:
    """Outdoor air by a fan: what the vent needs, what the code asks, and that the greater governs."""
    return say("building", "makeup_air", "governs", system, vent=vent, code=code, most=max(vent, code))


def _cure_sentence(remedy: Cure, system: str) -> str:
    def tell(name: str, **figures) -> str:
        return say("building", "makeup_air", name, system, **figures)

    if remedy.states:
        air = tell("either" if np.isfinite(remedy.area.m) else "supply", supply=remedy.supply, area=remedy.area)
        held = {"air": air, "pressure": Q_(remedy.pressure, "Pa"), "states": remedy.states}
        floor = remedy.floor
        said = [tell("holds", **held) if floor is None else tell("holds_limit", **held, limit=Q_(floor, "Pa"))]
    else:
        said = [tell("no_help" if remedy.beyond_air or remedy.too_much else "none_needed")]
    said += [tell("too_much", states=remedy.too_much)] if remedy.too_much else []
    said += [tell("beyond_air", states=remedy.beyond_air)] if remedy.beyond_air else []
    return " ".join(said)
