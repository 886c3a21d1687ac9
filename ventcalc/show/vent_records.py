"""Vent records: sections, appliances, runs and terminations of the vent as drawn, its site and its seasons."""

from typing import Any

import numpy as np

from ventcalc.flow import materials
from ventcalc.gas import combustion
from ventcalc.gas.appliance import CATEGORIES, Appliance, FiringLevel
from ventcalc.job.study import Study
from ventcalc.job.vent_findings import objections
from ventcalc.show import plots
from ventcalc.show.numbers import number, numbers, state
from ventcalc.vent import network
from ventcalc.vent.layout import Section
from ventcalc.vent.section_extremes import Extremes
from ventcalc.words import say


def sections(study: Study, system: str) -> list[dict[str, Any]]:
    """Every section in the order of the drawing: its dimensions, what flows in it, its wall and its material."""
    against = objections(study)
    found = []
    for order, (section, met) in enumerate(zip(study.job.plant.order, study.extremes, strict=True), 1):
        reasons = [materials.sentence(o, system) for o in against if o.section == section.name]
        found.append(
            {
                "number": order,
                **_drawn(section, system),
                **_met(study, met, system),
                **_material(section, system),
                "objections": reasons,
                "verdict": "; ".join(reasons) or say("show", "section", "nothing"),
            }
        )
    return found


def _drawn(s: Section, system: str) -> dict[str, Any]:
    return {
        "name": s.name,
        "into": s.into,
        "length": number(s.length, "height", system),
        "rise": number(s.rise, "height", system),
        "diameter": number(s.diameter, "diameter", system),
        "place": s.place,
        "fittings": list(s.fittings),
        "junction": s.junction,
    }


def _met(study: Study, met: Extremes, system: str) -> dict[str, Any]:
    """What a section meets over all states."""
    return {
        "velocity": numbers(met.velocity, "velocity", system),
        "gas": numbers(met.gas, "temperature", system),
        "pressure": numbers(met.pressure, "draft", system),
        "pressure_state": state(study.scan, met.pressure_state, system),
        "wall": number(met.nearest_wall, "temperature", system),
        "dew_point": number(met.dew_point, "temperature", system),
        "wall_state": state(study.scan, met.wall_state, system),
        "wet_share": number(met.condensing, "ratio", system),
        "condensate": number(met.condensate, "condensate", system),
        "condensate_a_day": number(met.condensate, "condensate a day", system),
        "ice": number(met.ice, "condensate", system),
    }


def _material(s: Section, system: str) -> dict[str, Any]:
    return {
        "material": s.material.name,
        "listing": s.material.listing,
        "max_temperature": number(s.material.max_temperature, "temperature", system),
        "max_pressure": number(s.material.max_pressure, "draft", system),
        "made_for_condensate": s.material.condensate,
    }


def appliances(study: Study, system: str) -> list[dict[str, Any]]:
    """Every appliance: what it is, and its flue gas at each level."""
    plant = study.job.plant
    flows = network.compile_network(plant, study.job.seasons).prescribed
    letters = plots.letters(len(plant.appliances))
    return [
        {"letter": letter, "name": a.name, "into": feed, **_appliance(a, system), "levels": _levels(a, flow, system)}
        for letter, a, feed, flow in zip(letters, plant.appliances, plant.feeds, flows, strict=True)
    ]


def _appliance(a: Appliance, system: str) -> dict[str, Any]:
    category = CATEGORIES[a.category]
    pressure, water = "positive" if category.positive else "negative", "condensing" if category.condensing else "dry"
    leak = a.leak if a.kind == "forced" and a.idle == "leaking" else None
    return {
        "fuel": a.fuel.name,
        "category": a.shown_category,
        "category_words": say("show", "category", f"{pressure}_{water}"),
        "kind": a.kind,
        "idle": say("show", "idle", a.idle if a.kind == "forced" else a.kind),
        "leak_flow": leak and number(leak.flow, "volume flow", system),
        "leak_pressure": leak and number(leak.pressure, "draft", system),
        "purge_flow": None if a.purge_flow is None else number(a.purge_flow, "volume flow", system),
        "outlet_height": number(a.outlet_height, "height", system),
        "outlet_diameter": number(a.outlet_diameter, "diameter", system),
    }


def _levels(a: Appliance, flows: np.ndarray, system: str) -> list[dict[str, Any]]:
    """Each level of an appliance; ``flows`` (seasons, states) [kg/s] of its flue gas."""
    return [_level(a, level, flows[:, a.states.index(level.name)], system) for level in a.levels]


def _level(a: Appliance, level: FiringLevel, flows: np.ndarray, system: str) -> dict[str, Any]:
    burnt = combustion.products(a.fuel, level.excess_air)
    return {
        "name": level.name,
        "heat_input": number(level.heat_input, "heat rate", system),
        "flow": numbers((flows.min(), flows.max()), "mass flow", system),
        "co2_dry": number(float(burnt.co2_dry), "ratio", system),
        "o2_dry": number(float(burnt.o2_dry), "ratio", system),
        "excess_air": number(level.excess_air, "ratio", system),
        "flue_temperature": number(level.flue_temperature, "temperature", system),
    }


def runs(study: Study, system: str) -> list[dict[str, Any]]:
    """The equivalent length of each appliance's own run against what its instructions allow."""
    return [
        {
            "appliance": r.appliance,
            "equivalent": number(r.equivalent, "height", system),
            "allowed": number(r.allowed, "height", system),
            "verdict": say("show", "run", _run_verdict(r.equivalent, r.allowed)),
        }
        for r in study.runs
    ]


def _run_verdict(equivalent: float, allowed: float | None) -> str:
    if allowed is None:
        return "not_stated"
    return "too_long" if equivalent > allowed else "within"


def terminations(study: Study) -> list[dict[str, str]]:
    """Where the vent ends, and the cap there."""
    return [{"name": t.name, "cap": t.cap} for t in study.job.plant.terminations]


def site(study: Study, system: str) -> dict[str, Any]:
    """Altitude, the air's pressure there, and where combustion air comes in."""
    plant = study.job.plant
    return {
        "altitude": number(plant.altitude, "altitude", system),
        "barometric_pressure": number(study.scan.solution.barometric, "barometric pressure", system),
        "air_opening_height": number(plant.opening_height, "height", system),
    }


def seasons(study: Study, system: str) -> list[dict[str, Any]]:
    """Weather and room of each season."""
    return [
        {
            "name": s.name,
            "outdoor": number(s.outdoor, "temperature", system),
            "room": number(s.room, "temperature", system),
            "room_pressure": number(s.room_pressure, "draft", system),
            "wind": number(s.wind, "wind", system),
            "relative_humidity": number(s.relative_humidity, "ratio", system),
        }
        for s in study.job.seasons
    ]
