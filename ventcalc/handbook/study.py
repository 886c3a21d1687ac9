"""The study of a job: the chapter's questions, live controls for several jobs, and checks."""

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any

import ipywidgets as widgets

from ventcalc.checked import Check, compare
from ventcalc.flow import fittings, friction, junctions, stack_effect
from ventcalc.handbook import common_vent
from ventcalc.handbook.common_vent import all_high_in_summer, swim_hall
from ventcalc.job import performance_test
from ventcalc.job.job_file import Job
from ventcalc.job.performance_test import GAUGE, OUTLET, PRESSURE, Expected, Place, Weather
from ventcalc.job.site_record import Reading, Record
from ventcalc.job.study import Study, study
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, with_static_text
from ventcalc.show.questions import load
from ventcalc.units import Q_, Quantity
from ventcalc.vent import firing_states, outlet_envelope
from ventcalc.vent.layout import Plant

# --- What the chapter stands on -----------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """What the swimming hall's vent is made of: its cap and elbows, the friction factor, the junction, the draft."""
    right_angle = Q_(90.0, "degree")
    losses = {
        "L002": fittings.fitting("low-resistance cap").loss,
        "L008": fittings.fitting("elbow 90").loss,
        "L009": fittings.fitting("elbow 45").loss,
        "L060": friction.friction_factor(1e5, 1e-4),
        "L061": friction.friction_factor(1e5, 5e-3),
        "L086": junctions.branch_loss(0.5, 1.0, right_angle),
        "L087": junctions.run_loss(0.5, 1.0, right_angle),
    }
    draft = stack_effect.steam_book_draft(Q_(100.0, "ft"), Q_(14.7, "psi"), Q_(521.0, "degR"), Q_(961.0, "degR"))
    return compare("losses_checks", losses) + compare("draft_checks", {"D001": draft})


# --- Live controls ------------------------------------------------------------------------------------------


def explorer(system: str, jobs: Mapping[str, Job]) -> widgets.VBox:
    """The controls of `common_vent.explorer` for one of several jobs by name, in US or SI units, both to be chosen.

    Jobs with a fan that stands there are left out: these controls know of none, and would show the vent without it.
    """
    jobs = {key: j for key, j in jobs.items() if j.existing is None}
    job = choice("Job", [(j.name, key) for key, j in jobs.items()], next(iter(jobs)))
    units = choice("Units", [("US", "US"), ("SI", "SI")], system)
    return _Chooser(jobs, job, units)


class _Chooser(widgets.VBox):
    def __init__(self, jobs: Mapping[str, Job], job: widgets.Dropdown, units: widgets.Dropdown):
        self.jobs, self.job, self.units = dict(jobs), job, units
        super().__init__([widgets.HBox([job, units]), self._panel()])
        job.observe(self._choose, names="value")
        units.observe(self._choose, names="value")

    @property
    def panel(self) -> Panel:
        return self.children[1]

    def _panel(self) -> Panel:
        job = self.jobs[self.job.value]
        return common_vent.explorer(self.units.value, job.plant, job.seasons)

    def _choose(self, change) -> None:
        """Another job starts afresh; other units keep what the controls had."""
        old, new = self.panel, self._panel()
        if change["owner"] is self.units:
            new.take_over(old)
        self.children = [self.children[0], new]
        old.close()

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        return with_static_text(super()._repr_mimebundle_(**kwargs), "live controls", self.panel.numbers.value)


# --- A record from site ---------------------------------------------------------------------------------------

COOL_DAY = Weather(Q_(40.0, "degF"), Q_(70.0, "degF"))
GAUGE_OFF = Q_(-0.02, "inH2O")


def spoilt_record(found: Study, weather: Weather = COOL_DAY) -> Record:
    """An invented record of a study's sheet with three errors planted in what was expected.

    At the last appliance the gauge's tubes are swapped, the gauge at the header reads `GAUGE_OFF` too low, and with all
    at their highest the first appliance stays at its lowest.
    """
    rows = performance_test.expected(found, weather)
    plant = performance_test.design(found).job.plant
    first, last = Place(OUTLET, plant.appliances[0].name), Place(OUTLET, plant.appliances[-1].name)
    at_lowest = {e.asked.quantity: e.value for e in rows if e.asked.place == first and _all_at(e, plant, 0)}

    def read(e: Expected) -> float:
        if e.asked.quantity == PRESSURE:
            off = float(GAUGE_OFF.m_as("Pa")) if e.asked.place == Place(GAUGE) else 0.0
            return -e.value if e.asked.place == last else e.value + off
        return at_lowest[e.asked.quantity] if e.asked.place == first and _all_at(e, plant, -1) else e.value

    return Record(weather, {e.asked.key: Reading(read(e), line) for line, e in enumerate(rows, 2)})


def _all_at(e: Expected, plant: Plant, level: int) -> bool:
    """Whether a line is read with all appliances at a level: 0 their lowest, -1 their highest."""
    return e.asked.condition.levels == tuple(a.levels[level].name for a in plant.appliances)


# --- Questions, all on the swimming hall ----------------------------------------------------------------------


@cache
def _drawn() -> Study:
    """The hall as drawn, without what it offers."""
    return study(replace(swim_hall(), offered=None), compare=False)


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("study", (lacking, alternate, wider, at_rest), system, seed)


def lacking(set_point: Quantity, system: str) -> dict[str, Any]:
    """The draft that is lacking at the end of the header."""
    found = _drawn()
    highest = Q_(found.header[1], "Pa")
    state = found.scan.describe(found.header_states[1], system)
    return {"answer": (highest - set_point).to("Pa"), "highest": highest, "state": state}


def alternate(name: str, boiler: str) -> dict[str, Any]:
    """How far the outlet of a boiler in another's place stands above its window."""
    found = _drawn()
    low, high = next(a for a in found.job.alternates if a.name == name).window
    own = next(e for e in found.envelopes if e.appliance == boiler)
    pressure = Q_(own.high, "Pa")
    told = {
        "low": low,
        "high": high,
        "pressure": pressure,
        "specified": Q_(own.above, "Pa"),
        "swing": Q_(own.swing, "Pa"),
    }
    return {"answer": pressure - high, **told}


def wider(diameter: Quantity, system: str) -> dict[str, Any]:
    """The highest outlet pressure with a wider header and stack."""
    found, as_drawn = _drawn(), _drawn().envelopes[0]
    plant, seasons = found.job.plant, found.job.seasons
    sections = tuple(s if s.name in plant.feeds else replace(s, diameter=diameter) for s in plant.sections)
    wide = replace(plant, sections=sections)
    scan = firing_states.scan(wide, seasons)
    now = outlet_envelope.envelopes(scan)[0]
    return {
        "answer": Q_(now.high, "Pa"),
        "drawn": plant.section("stack").diameter,
        "as_drawn": Q_(as_drawn.high, "Pa"),
        "edge": Q_(as_drawn.window[1], "Pa"),
        "lowest": Q_(now.low, "Pa"),
        "all_high": all_high_in_summer(wide, seasons),
        "state": scan.describe(now.high_state, system),
    }


def at_rest(outdoor: Quantity, room: Quantity) -> dict[str, Any]:
    """What a gauge at the end of the header should show with all boilers off, on a day and on that of the sheet."""
    found = _drawn()
    printed = performance_test.likely_weather(found.job)
    shown, sheet = (
        next(Q_(e.value, "Pa") for e in performance_test.expected(found, day) if e.asked.place == Place(GAUGE))
        for day in (Weather(outdoor, room), printed)
    )
    return {"answer": shown, "printed": printed.outdoor, "sheet": sheet, "pushed": -shown}
