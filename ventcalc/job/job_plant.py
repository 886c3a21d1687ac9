"""Job plant: from the form to the vent: fuels, materials, seasons, appliances, sections and terminations.

Each function takes a table of the form and raises ValueError where the library refuses it.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from ventcalc.flow import materials, wall_rings
from ventcalc.flow.materials import Layer, Material, material
from ventcalc.gas import combustion_analysis
from ventcalc.gas.appliance import CATEGORIES, KINDS, Appliance, FiringLevel, Leak, assumed_leak
from ventcalc.gas.fuels import Fuel, fuel, gas_fuel, oil_fuel
from ventcalc.job import job_form
from ventcalc.job.job_fields import as_written
from ventcalc.units import Q_
from ventcalc.vent.layout import Plant, Section, Termination, choose
from ventcalc.vent.network import PlaceAir, Season
from ventcalc.words import listed, meant, say


def own_fuel(f: job_form.Fuel) -> Fuel:
    """A gas of the file's own, told by volume; a liquid, told by mass and by its heating value."""
    parts = {part: float(share.m_as("")) for part, share in f.composition.items()}
    source = "composition given in the job file"
    if f.higher_heating_value is not None:
        return oil_fuel(f.name, parts, float(f.higher_heating_value.m_as("J/kg")), source)
    if {"C", "H"} <= parts.keys():
        raise ValueError("a liquid, told by its elements, needs its higher_heating_value too, such as 19500 Btu/lb")
    return gas_fuel(f.name, parts, source)


_USUAL_BORE = 0.2  # m, as in data/flow/walls.csv


def own_material(m: job_form.Material) -> Material:
    """A material of the file's own, its wall as it is in the bore for which the tables state theirs."""
    if m.name in materials.names():
        raise ValueError("there is a material of that name already; give yours another")
    wall = tuple(_layer(part) for part in m.layer)
    resistance, ratio = wall_rings.wall(_USUAL_BORE, wall)
    return Material(
        name=m.name,
        standards=tuple(m.standards),
        named_only=not m.standards,
        built_to="",
        fuels=tuple(m.fuels),
        places=tuple(m.places),
        roughness=m.roughness,
        wall_resistance=Q_(resistance, "m**2*K/W"),
        diameter_ratio=ratio,
        max_temperature=m.max_temperature,
        max_pressure=m.max_pressure,
        condensate=m.condensate,
        categories=tuple(m.categories),
        layers=wall,
        source="given in the job file",
        status="not checked: the listing of the product governs",
        note="",
    )


def _layer(part: job_form.Layer) -> Layer:
    known = materials.substance(part.name) or (None, None, None)
    names = ("conductivity", "density", "specific_heat")
    values = [getattr(part, name) or usual for name, usual in zip(names, known, strict=True)]
    missing = [name for name, value in zip(names, values, strict=True) if value is None]
    if missing:
        raise ValueError(f"layer {part.name!r} is none whose figures are known here: give its {', '.join(missing)}")
    return Layer(part.name, part.thickness, *values)


def _of(name: str, own: dict[str, Material | None]) -> Material:
    """The material of that name, the file's own first."""
    if name in own:
        if own[name] is None:
            raise ValueError(f"material {name!r} has faults of its own")
        return own[name]
    if name in materials.names():
        return material(name)
    raise ValueError(f"unknown material {name!r}; {meant(name, (*own, *materials.names()))}")


def season(s: job_form.Season) -> Season:
    """A season, with the air of its places."""
    places = tuple(PlaceAir(p.name, p.temperature, p.pressure) for p in s.place)
    return Season(s.name, s.outdoor, s.room, s.room_pressure, s.wind, float(s.relative_humidity.m_as("")), places)


def weatherless(form: job_form.File) -> Iterator[str]:
    """Places that a season leaves out, and places of a season that the file does not have."""
    known = [p.name for p in form.place]
    for season in form.season:
        told = [p.name for p in season.place]
        for name in twice(season.place):
            yield f'season "{season.name}".place "{name}": the name stands twice'
        for name in told:
            if name not in known:
                yield f'season "{season.name}".place "{name}": no place of that name; {choose(name, known)}'
        for name in known:
            if name not in told:
                yield f'season "{season.name}": the temperature of the place "{name}" is missing; give it as its place'


def twice(listed) -> list[str]:
    """The names that stand more than once."""
    names = [entry.name for entry in listed]
    return sorted({n for n in names if names.count(n) > 1})


def termination(t: job_form.Termination) -> Termination:
    """Where the vent ends, as the file tells it (`job_building.placed`)."""
    return Termination(t.name, t.cap, t.place, t.side)


def section(s: job_form.Section, own: dict[str, Material | None]) -> Section:
    """A section; of a material of the file's own with its wall in this section's bore."""
    made = Section(s.name, s.length, s.rise, s.diameter, _of(s.material, own), s.into, s.place, tuple(s.fittings),
                   s.junction)  # fmt: skip
    if s.material not in own:
        return made
    resistance, ratio = wall_rings.wall(float(s.diameter.m_as("m")), made.material.layers)
    wall = replace(made.material, wall_resistance=Q_(resistance, "m**2*K/W"), diameter_ratio=ratio)
    return replace(made, material=wall)


def appliance(a: job_form.Appliance, fuels: dict[str, Fuel | None], own: dict[str, Material | None]) -> Appliance:
    """An appliance; how it stands idle follows where the whole vent is known (`idling`)."""
    if a.fuel in fuels and fuels[a.fuel] is None:
        raise ValueError(f"fuel {a.fuel!r} has faults of its own")
    burnt = fuels.get(a.fuel) or fuel(a.fuel)
    if a.kind not in KINDS:
        raise ValueError(say("job", "appliance", "kind", kind=repr(a.kind), kinds=listed(KINDS)))
    names = [lv.name for lv in a.level]
    if len(set(names)) < len(names) or {"off", "purge"} & set(names):
        raise ValueError(f"level names {', '.join(names)} must differ from one another and from off and purge")
    for lower, higher in pairwise(a.level):
        if not lower.input < higher.input:
            raise ValueError(
                f"levels go from the lowest input to the highest: {higher.name} ({higher.input:~P}) stands after "
                f"{lower.name} ({lower.input:~P})"
            )
    for name in a.named_materials:
        _of(name, own)
    if a.idle == "sealed" and a.leak is not None:
        raise ValueError("idle = sealed, though a leak is told; leave one of the two out")
    if a.kind in KINDS[1:] and a.window[0].m >= 0.0:
        raise ValueError(
            f"window {as_written(a.window[0])} to {as_written(a.window[1])} allows no draft, without which a {a.kind} "
            'spills; it must begin below 0, such as ["-0.10 inH2O", "-0.01 inH2O"]'
        )
    if a.backflow_flap is not None and (a.kind != "forced" or a.idle is not None or a.leak is not None):
        raise ValueError("backflow_flap: kind, idle or leak say already how it stands idle; leave one out")
    return Appliance(
        name=a.name,
        fuel=burnt,
        category=_category(a, burnt),
        levels=tuple(_level(lv, burnt) for lv in a.level),
        outlet_diameter=a.outlet_diameter,
        outlet_height=a.outlet_height,
        window=tuple(a.window),
        kind=a.kind,
        idle=a.idle or ("leaking" if a.leak else "sealed"),
        leak=Leak(a.leak.flow, a.leak.pressure) if a.leak else Leak(),
        purge_flow=a.purge_flow,
        regulator_draft=a.regulator_draft,
        longest_run=a.longest_run,
        named_materials=tuple(a.named_materials),
        room=a.room,
        purge_pressure=None if a.purge_pressure is None else tuple(a.purge_pressure),
    )


def _category(a: job_form.Make, burnt: Fuel) -> str:
    """The category of its label. Categories are for gas: oil is held to that of gas alike in outlet pressure."""
    if a.category is None and burnt.kind == "liquid":
        return "III" if a.window[1].m_as("Pa") > 0.0 else "I"
    if a.category is None:
        raise ValueError(f"category: missing; it is required: {', '.join(CATEGORIES)} as the label says")
    if a.category not in CATEGORIES and burnt.kind == "liquid":
        raise ValueError(f"category {a.category!r}: oil has none; leave it out")
    return a.category


def _level(lv: job_form.Level, burnt: Fuel) -> FiringLevel:
    given = [(key, getattr(lv, key)) for key in ("co2", "o2", "excess_air") if getattr(lv, key) is not None]
    if len(given) != 1:
        raise ValueError(f"level {lv.name}: give exactly one of co2, o2 and excess_air, found {len(given)}")
    key, value = given[0]
    ratio = float(value.m_as(""))
    if key == "co2":
        ratio = float(combustion_analysis.excess_air_from_co2.bare(burnt, ratio))
    elif key == "o2":
        ratio = float(combustion_analysis.excess_air_from_o2.bare(burnt, ratio))
    return FiringLevel(lv.name, lv.input, ratio, lv.flue_temperature)


def idling(a: Appliance, form: job_form.Appliance, plant: Plant) -> Appliance:
    """The appliance as it stands idle; where the file does not say, on a common vent the worse."""
    if a.kind != "forced" or form.idle is not None or form.leak is not None or not _shares(a, plant):
        return a
    return replace(a, idle="leaking", leak=assumed_leak(a.fuel, a.levels, bool(form.backflow_flap)))


def _shares(a: Appliance, plant: Plant) -> bool:
    return any(len(plant.serves(section.name)) > 1 for section in plant.path(a.name))
