"""Job year: from the form to the plan of a year: climate, load and staging, with what is usual where it is not told."""

from dataclasses import replace

from ventcalc.building import climate
from ventcalc.flow import wind
from ventcalc.job import job_form_year, plant_load, staging
from ventcalc.job.plant_load import LoadPlan
from ventcalc.job.staging import StagingPlan
from ventcalc.job.year_hours import YearPlan
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season

# Which invented climate stands for a job that names none: by its altitude and its coldest season (invented bounds).
_HIGH = 1500.0  # m
_COLD, _HOT = 258.15, 275.15  # K


def plan(plant: Plant, seasons: tuple[Season, ...], form: job_form_year.Year | None = None) -> YearPlan:
    """The plan of a job's year; ValueError for a load, an order or a climate that there is not."""
    name = (form.climate if form else None) or usual_climate(plant, seasons)
    if name not in climate.names():
        raise ValueError(f"climate {name!r}; choose {', '.join(climate.names())}")
    terrain = form.terrain if form else "open"
    if terrain not in wind.TERRAINS:
        raise ValueError(f"terrain {terrain!r}; choose {', '.join(wind.TERRAINS)}")
    load, staged = plant_load.usual(plant.appliances, seasons), staging.usual(plant.appliances)
    if form is None:
        return YearPlan(name, terrain, load, staged)
    return YearPlan(name, terrain, _load(form, load), _staging(form, staged, plant))


def usual_climate(plant: Plant, seasons: tuple[Season, ...]) -> str:
    """The invented climate that is likest to a job: high above 1500 m, else by the coldest of its seasons."""
    if plant.altitude.m_as("m") > _HIGH:
        return "high"
    coldest = min(float(s.outdoor.m_as("K")) for s in seasons)
    return "cold" if coldest < _COLD else "hot" if coldest > _HOT else "temperate"


def _load(form: job_form_year.Year, usual: LoadPlan) -> LoadPlan:
    told = {
        name: float(value.m_as(unit))
        for name, value, unit in (
            ("design", form.design_load, "W"),
            ("design_outdoor", form.design_outdoor, "K"),
            ("base", form.base_load, "W"),
        )
        if value is not None
    }
    design = told.get("design", usual.design)
    if "base" not in told:  # its usual share is of the whole plant, which a small design load may fall below
        told["base"] = min(usual.base, design)
    elif "design" not in told:
        told["design"] = max(design, told["base"])
    return replace(
        usual,
        limit=float(form.heating_limit.m_as("K")),
        start=float(form.heated_from.m_as("hour")),
        stop=float(form.heated_to.m_as("hour")),
        setback=float(form.setback.m_as("")),
        workdays=form.workdays_only,
        **told,
    )


def _staging(form: job_form_year.Year, usual: StagingPlan, plant: Plant) -> StagingPlan:
    modulates = usual.modulates
    if form.modulating is not None:
        modulates = tuple(form.modulating and len(a.levels) > 1 for a in plant.appliances)
    rotation, starts = float(form.rotation.m_as("hour")), float(form.most_starts.m_as("1/hour"))
    return StagingPlan(form.firing_order, modulates, rotation, starts)
